//! QR codes: the matrix of a token or of a signed act, and the drawing of one as one shape.
//!
//! Always holds: the smallest version that fits (ISO/IEC 18004). A token: alphanumeric mode, error level M, for
//! print. An act: byte mode, error level L, for a screen.
//! Not here: what they say, and whether it is true; pictures and terminals (`cli`).

use super::PaperProblem;
use super::sheet::{Ink, Mark};
use crate::tongue::say;
use qrcode::bits::Bits;
use qrcode::{Color, EcLevel, QrCode, Version};

/// Light modules on each side, as the standard wants.
pub const QUIET: usize = 4;
/// Longest token drawn: beyond it the modules get too small for a laser printer and a telephone.
const LONGEST: usize = 512;
/// Most bytes of an act that are put into a code; version 40 at level L holds 2953 (ISO/IEC 18004).
pub const MOST_BYTES: usize = 2900;

/// A QR code as dark and light modules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matrix {
    /// Modules on a side, without the quiet zone.
    pub width: usize,
    dark: Vec<bool>,
}

impl Matrix {
    /// The matrix of a token.
    ///
    /// # Errors
    /// [`PaperProblem::Token`] if a character is outside the alphanumeric set or it is too long.
    pub fn of(token: &str) -> Result<Matrix, PaperProblem> {
        let allowed = |c: char| c.is_ascii_digit() || c.is_ascii_uppercase() || " $%*+-./:".contains(c);
        if let Some(c) = token.chars().find(|c| !allowed(*c)) {
            return Err(PaperProblem::Token {
                got: say!("the character {code}", code = format!("U+{:04X}", u32::from(c))),
                wanted: say!("digits, capitals A to Z, space and $ % * + - . / :"),
            });
        }
        if token.is_empty() || token.len() > LONGEST {
            return Err(PaperProblem::Token {
                got: say!("{n} characters", n = token.len()),
                wanted: say!("1 to 512"),
            });
        }
        for version in 1..=40 {
            let mut bits = Bits::new(Version::Normal(version));
            let fits =
                bits.push_alphanumeric_data(token.as_bytes()).and_then(|()| bits.push_terminator(EcLevel::M));
            if fits.is_ok()
                && let Ok(code) = QrCode::with_bits(bits, EcLevel::M)
            {
                return Ok(Matrix {
                    width: code.width(),
                    dark: code.to_colors().iter().map(|c| *c == Color::Dark).collect(),
                });
            }
        }
        Err(PaperProblem::Token {
            got: say!("{n} characters", n = token.len()),
            wanted: say!("what a QR code holds"),
        })
    }

    /// The matrix of any bytes; `None` if they are too many, or none.
    pub fn of_bytes(bytes: &[u8]) -> Option<Matrix> {
        if bytes.is_empty() || bytes.len() > MOST_BYTES {
            return None;
        }
        (1..=40).find_map(|version| {
            let mut bits = Bits::new(Version::Normal(version));
            bits.push_byte_data(bytes).ok()?;
            bits.push_terminator(EcLevel::L).ok()?;
            let code = QrCode::with_bits(bits, EcLevel::L).ok()?;
            let dark = code.to_colors().iter().map(|c| *c == Color::Dark).collect();
            Some(Matrix { width: code.width(), dark })
        })
    }

    /// Whether the module in this column and row is dark; outside, it is not.
    pub fn dark(&self, x: usize, y: usize) -> bool {
        x < self.width && self.dark.get(y * self.width + x).copied().unwrap_or(false)
    }

    /// Width of the quiet zone when drawn with this side.
    pub fn quiet(&self, side: f32) -> f32 {
        QUIET as f32 * side / (self.width + 2 * QUIET) as f32
    }

    /// The code in a square of this side, quiet zone included: white ground, then one shape with a
    /// ring for each run of dark modules in a row, so that no hairlines show between modules.
    pub fn draw(&self, x: f32, y: f32, side: f32) -> Vec<Mark> {
        let module = side / (self.width + 2 * QUIET) as f32;
        let spot = |n: usize| (n + QUIET) as f32 * module;
        let mut rings = Vec::new();
        for row in 0..self.width {
            let mut column = 0;
            while column < self.width {
                if !self.dark(column, row) {
                    column += 1;
                    continue;
                }
                let start = column;
                while self.dark(column, row) {
                    column += 1;
                }
                let (l, r) = (x + spot(start), x + spot(column));
                let (t, b) = (y + spot(row), y + spot(row + 1));
                rings.push(vec![(l, t), (r, t), (r, b), (l, b)]);
            }
        }
        vec![Mark::rect(x, y, side, side, Ink::White), Mark::Fill { rings, ink: Ink::Black }]
    }
}
