//! What a row is made of: styles, columns, cells of pieces, and how a row is dressed.
//!
//! Always holds: a cell's lines are no wider than its column; no piece is taller than a few lines.
//! Not here: where rows stand on sheets (`flow`).

use super::face::{Cut, Faces};
use super::shape::Sign;
use super::sheet::{Ink, Mark, Weight};

/// Nothing is scaled below this size, in points.
const SMALLEST: f32 = 6.5;

/// Where a line of text stands in its column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// At the left edge.
    Left,
    /// At the right edge.
    Right,
}

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Size and weight.
    pub cut: Cut,
    /// Ink.
    pub ink: Ink,
    /// Alignment.
    pub align: Align,
    /// From line to line, in points.
    pub lead: f32,
}

impl Style {
    /// Left, with a lead of 1.25 times the size.
    pub const fn new(size: f32, weight: Weight, ink: Ink) -> Style {
        Style { cut: Cut { size, weight }, ink, align: Align::Left, lead: size * 1.25 }
    }

    /// The same, larger or smaller, but never smaller than can be read on a printed sheet.
    #[must_use]
    pub fn times(self, scale: f32) -> Style {
        let size = (self.cut.size * scale).max(SMALLEST.min(self.cut.size));
        Style { cut: Cut { size, ..self.cut }, lead: self.lead * size / self.cut.size, ..self }
    }

    /// The same at the right edge.
    pub const fn right(self) -> Style {
        Style { align: Align::Right, ..self }
    }

    /// The same in another ink.
    pub const fn ink(self, ink: Ink) -> Style {
        Style { ink, ..self }
    }
}

/// A column: left edge and width in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Col {
    /// Left edge.
    pub x: f32,
    /// Width.
    pub w: f32,
}

/// Columns side by side from `x`, with a gutter between them.
pub fn columns(x: f32, gutter: f32, widths: &[f32]) -> Vec<Col> {
    let mut at = x;
    widths
        .iter()
        .map(|w| {
            let col = Col { x: at, w: *w };
            at += w + gutter;
            col
        })
        .collect()
}

/// `n` equal columns over a width.
pub fn equal(x: f32, width: f32, gutter: f32, n: usize) -> Vec<Col> {
    let w = (width - gutter * (n as f32 - 1.0)) / n as f32;
    columns(x, gutter, &vec![w; n])
}

/// One thing in a cell; never split.
#[derive(Clone, Debug)]
pub enum Piece {
    Line { text: String, style: Style },
    Sign { sign: Sign, side: f32, ink: Ink, ground: Ink, lead: f32 },
    Space(f32),
}

impl Piece {
    /// Height in points.
    pub fn height(&self) -> f32 {
        match self {
            Piece::Line { style, .. } => style.lead,
            Piece::Sign { lead, .. } => *lead,
            Piece::Space(h) => *h,
        }
    }
}

/// Pieces one under the other.
#[derive(Clone, Debug, Default)]
pub struct Cell {
    /// From top to bottom.
    pub pieces: Vec<Piece>,
    width: f32,
}

impl Cell {
    /// An empty cell for a column.
    pub fn of(col: Col) -> Cell {
        Cell { pieces: Vec::new(), width: col.w }
    }

    /// Adds a text, wrapped, with real signs; nothing if it is empty.
    #[must_use]
    pub fn say(self, faces: &Faces, text: &str, style: Style) -> Cell {
        self.exactly(faces, &real_signs(text), style)
    }

    /// The same, letter for letter: what was signed, what is compared.
    #[must_use]
    pub fn exactly(mut self, faces: &Faces, text: &str, style: Style) -> Cell {
        for text in faces.wrap(text, style.cut, self.width) {
            self.pieces.push(Piece::Line { text, style });
        }
        self
    }

    /// Adds a sign of this side, centred on a line of this height.
    #[must_use]
    pub fn sign(mut self, sign: Sign, side: f32, lead: f32, ink: Ink, ground: Ink) -> Cell {
        self.pieces.push(Piece::Sign { sign, side, ink, ground, lead });
        self
    }

    /// Adds space.
    #[must_use]
    pub fn space(mut self, h: f32) -> Cell {
        if h > 0.0 {
            self.pieces.push(Piece::Space(h));
        }
        self
    }

    /// Its words in one line.
    pub fn words(&self) -> String {
        let lines = self.pieces.iter().filter_map(|p| match p {
            Piece::Line { text, .. } => Some(text.as_str()),
            Piece::Sign { .. } | Piece::Space(_) => None,
        });
        lines.collect::<Vec<_>>().join(" ")
    }

    /// The first sign in it.
    pub fn first_sign(&self) -> Option<Sign> {
        self.pieces.iter().find_map(|p| match p {
            Piece::Sign { sign, .. } => Some(*sign),
            Piece::Line { .. } | Piece::Space(_) => None,
        })
    }

    /// Height of everything in it.
    pub fn height(&self) -> f32 {
        self.pieces.iter().map(Piece::height).sum()
    }
}

/// Units and minus signs as they are written by hand: `mg/m³`, `−2 °C`.
pub fn real_signs(text: &str) -> String {
    let word = |w: &str| -> String {
        let bare = w.trim_end_matches([',', ';', '.', ':', ')']);
        let rest = w.get(bare.len()..).unwrap_or_default();
        let sign = match bare {
            "mg/m3" => "mg/m³",
            "ml/m3" => "ml/m³",
            "m3/h" => "m³/h",
            "m3/min" => "m³/min",
            "ft3/min" => "ft³/min",
            "m3" => "m³",
            "ft3" => "ft³",
            "mm2" => "mm²",
            "m2" => "m²",
            "deg" => "°",
            ">=" => "≥",
            "<=" => "≤",
            other => match other.strip_prefix('-') {
                Some(n) if n.starts_with(|c: char| c.is_ascii_digit()) => return format!("−{n}{rest}"),
                _ => return w.to_owned(),
            },
        };
        format!("{sign}{rest}")
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// Brings cells to the same height, so that what is added next stands on one line.
pub fn level(cells: &mut [&mut Cell]) {
    let tallest = cells.iter().map(|c| c.height()).fold(0.0, f32::max);
    for cell in cells {
        // In small pieces, so that a row can be split inside them.
        let mut short = tallest - cell.height();
        while short > 0.01 {
            let step = short.min(8.0);
            cell.pieces.push(Piece::Space(step));
            short -= step;
        }
    }
}

/// What a row is for those who do not see it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Part {
    /// Each cell is a paragraph.
    #[default]
    Words,
    /// The first cell is a heading of this level, and what follows is its section.
    Heading(u8),
    /// A row of the table that is open.
    Row,
    /// Heads of its columns.
    Heads,
}

/// What a row has besides its cells.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dress {
    /// Ground under the row.
    pub fill: Option<Ink>,
    /// Line under the row: width and ink.
    pub under: Option<(f32, Ink)>,
    /// Frame around the row: width and ink.
    pub frame: Option<(f32, Ink)>,
    /// Thick line down its left side.
    pub bar: Option<Ink>,
    /// Hairlines between the columns.
    pub between: bool,
    /// Space above and below the cells.
    pub pad: f32,
    /// Space at the left of the first and the right of the last column inside ground and frame.
    pub side: f32,
}

/// Cells side by side.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// One for each column.
    pub cells: Vec<Cell>,
    /// Ground, lines, space.
    pub dress: Dress,
    /// What it is.
    pub part: Part,
}

impl Row {
    /// A row.
    pub fn new(cells: Vec<Cell>, dress: Dress) -> Row {
        Row { cells, dress, part: Part::Words }
    }

    /// The same as another part.
    #[must_use]
    pub fn part(self, part: Part) -> Row {
        Row { part, ..self }
    }

    /// Height when it is not split.
    pub fn height(&self) -> f32 {
        self.cells.iter().map(Cell::height).fold(0.0, f32::max) + 2.0 * self.dress.pad
    }
}

/// One line of safe text in a column, its line box starting at `y`.
pub fn set(faces: &Faces, text: &str, style: Style, col: Col, y: f32) -> Option<Mark> {
    if text.is_empty() {
        return None;
    }
    let width = faces.width(text, style.cut);
    let x = match style.align {
        Align::Left => col.x,
        Align::Right => col.x + col.w - width,
    };
    // Capitals of this typeface are 0.714 of the size high: they stand in the middle of the line.
    let baseline = y + style.lead / 2.0 + style.cut.size * 0.357;
    Some(Mark::Text {
        at: (x, baseline),
        size: style.cut.size,
        weight: style.cut.weight,
        ink: style.ink,
        text: text.to_string(),
        width,
        turn: (1.0, 0.0),
    })
}
