//! Paper: a permit or its attendant's card as a PDF, made from its view and nothing else.
//!
//! In: a [`PermitView`] (final words in one language, which is that of the paper's own words too; English where it is not
//! spoken here), a paper size, and optionally the record to attach. Out: the bytes of a PDF 1.7. The same input gives the same bytes: no clock, no
//! randomness, no file is read, `/ID` and dates come from the view. A character the typeface lacks
//! is printed as its code, never dropped. A permit that is not live is drawn so that it cannot be
//! taken for a live one, in colour or in grey.
//!
//! Not here: what a permit says (`view`), and who may print it.

mod card;
mod cell;
mod content;
mod face;
mod finish;
mod flow;
mod frame;
mod icc;
mod labels;
mod permit;
pub mod qr;
mod shape;
mod sheet;
mod structure;
mod tree;

#[cfg(test)]
mod tests;

use crate::tongue::{Tongue, say};
use crate::view::{CardView, PermitView};
use std::fmt;

/// The sizes of paper that can be asked for, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperSize {
    /// ISO 216 A4, 210 by 297 mm.
    A4,
    /// ANSI A, 8.5 by 11 inches.
    Letter,
}

impl PaperSize {
    /// Width and height in points (1/72 inch).
    pub fn points(self) -> (f32, f32) {
        match self {
            PaperSize::A4 => (595.276, 841.89),
            PaperSize::Letter => (612.0, 792.0),
        }
    }

    /// The name as it is written in `/ID` and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            PaperSize::A4 => "a4",
            PaperSize::Letter => "letter",
        }
    }
}

/// Why a paper could not be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PaperProblem {
    /// The typeface inside the program could not be used: a bug of ours.
    Typeface(String),
    /// The token of a live permit cannot be drawn as a QR code.
    Token {
        /// What was found: its length or the character.
        got: String,
        /// What was wanted.
        wanted: &'static str,
    },
    /// The PDF could not be put together: a bug of ours.
    Pdf(String),
}

impl fmt::Display for PaperProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PaperProblem::Typeface(what) => {
                write!(f, "the built-in typeface could not be used: {what} (a bug)")
            }
            PaperProblem::Token { got, wanted } => f.write_str(&say!(
                "the token cannot be drawn as a QR code: got {got}, wanted {wanted}",
                got,
                wanted
            )),
            PaperProblem::Pdf(what) => {
                write!(f, "the PDF could not be put together: {what} (a bug)")
            }
        }
    }
}

impl std::error::Error for PaperProblem {}

/// Draws a permit.
///
/// # Errors
/// [`PaperProblem::Token`] if the permit is live and its token does not fit a QR code; the others
/// are bugs.
pub fn render(view: &PermitView, size: PaperSize) -> Result<Vec<u8>, PaperProblem> {
    render_with_record(view, size, None)
}

pub use finish::{COMMENT, DRAWN_BY};

/// Draws a permit and attaches its record, byte for byte, as `record.jsonl`; with one line on what else it is drawn from,
/// which stands with the place of the record in the last comment of the file ([`COMMENT`]).
///
/// # Errors
/// As [`render`].
pub fn render_with_record(
    view: &PermitView,
    size: PaperSize,
    record: Option<(&[u8], &str)>,
) -> Result<Vec<u8>, PaperProblem> {
    in_words_of(&view.language, || {
        let faces = face::Faces::built_in()?;
        let (sheets, tree) = permit::compose(view, size, faces)?;
        let meta = finish::Meta {
            title: say!("Air permit {permit} – {state}", permit = view.number, state = view.state_words),
            language: &view.language,
            as_of_utc: &view.as_of_utc,
            as_of_hash: &view.as_of_hash,
            about: record.map(|(_, about)| about.to_owned()).unwrap_or_default(),
            content: serde_json::to_vec(view),
        };
        finish::finish(&meta, size, faces, (&sheets, &tree), record.map(|(bytes, _)| bytes))
    })
}

/// Binds the language of a view for the drawing of it, whatever is bound where it is asked for.
fn in_words_of<T>(language: &str, draw: impl FnOnce() -> T) -> T {
    Tongue::of(language).unwrap_or(Tongue::English).within(draw)
}

/// Draws the attendant's card.
///
/// # Errors
/// Bugs only.
pub fn render_card(view: &CardView, size: PaperSize) -> Result<Vec<u8>, PaperProblem> {
    in_words_of(&view.language, || {
        let faces = face::Faces::built_in()?;
        let (sheets, tree) = card::compose(view, size, faces);
        let title = match view.number.as_str() {
            "" => say!("Attendant's card – {state}", state = view.state_words),
            permit => say!("Attendant's card {permit} – {state}", permit, state = view.state_words),
        };
        let meta = finish::Meta {
            title,
            language: &view.language,
            as_of_utc: &view.as_of_utc,
            as_of_hash: &view.as_of_hash,
            about: String::new(),
            content: serde_json::to_vec(view),
        };
        finish::finish(&meta, size, faces, (&sheets, &tree), None)
    })
}
