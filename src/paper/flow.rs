//! The layout layer: rows of cells set down the sheets.
//!
//! Always holds: nothing is set below the bottom of the body or beyond its columns; a row that does
//! not fit goes to the next sheet, or is split there if it is tall; heads of tables come again after
//! every break; a title keeps with what follows it.
//! Not here: what is written (`permit`), and how marks become PDF (`finish`).

use super::cell::{Col, Piece, Row, set};
use super::face::Faces;
use super::shape;
use super::sheet::{Ink, Mark, Sheet};

/// A row is not split to leave less than this above the break, in points.
const LEAST: f32 = 40.0;

/// Edges of the body on a sheet, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Left edge.
    pub left: f32,
    /// Right edge.
    pub right: f32,
    /// Top of the first sheet.
    pub first_top: f32,
    /// Top of the other sheets, below the running head.
    pub top: f32,
    /// Bottom.
    pub bottom: f32,
}

impl Body {
    /// Width.
    pub fn width(&self) -> f32 {
        self.right - self.left
    }
}

/// Sheets being filled from top to bottom.
pub struct Flow<'a> {
    faces: &'a Faces,
    /// Edges of the body.
    pub body: Body,
    backdrop: Vec<Mark>,
    head: Vec<Mark>,
    sheets: Vec<Sheet>,
    /// How far down the sheet is filled.
    pub y: f32,
}

impl<'a> Flow<'a> {
    /// Starts with the first sheet. `backdrop` is drawn first on every sheet, `head` on all but
    /// the first.
    pub fn new(faces: &'a Faces, body: Body, backdrop: Vec<Mark>, head: Vec<Mark>) -> Flow<'a> {
        let first = Sheet { marks: backdrop.clone() };
        Flow { faces, body, backdrop, head, sheets: vec![first], y: body.first_top }
    }

    /// The sheets, done.
    pub fn sheets(self) -> Vec<Sheet> {
        self.sheets
    }

    /// Number of the sheet being filled, from 1.
    pub fn number(&self) -> usize {
        self.sheets.len()
    }

    /// Goes to a new sheet.
    pub fn turn(&mut self) {
        let mut marks = self.backdrop.clone();
        marks.extend(self.head.iter().cloned());
        self.sheets.push(Sheet { marks });
        self.y = self.body.top;
    }

    /// Draws onto the sheet being filled.
    pub fn put(&mut self, marks: impl IntoIterator<Item = Mark>) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.marks.extend(marks);
        }
    }

    /// Goes to a new sheet unless this height fits.
    pub fn keep(&mut self, height: f32) {
        if self.y + height > self.body.bottom && self.y > self.body.first_top {
            self.turn();
        }
    }

    /// Leaves space, none at the top of a sheet.
    pub fn gap(&mut self, h: f32) {
        if self.y > self.body.top {
            self.y += h;
        }
    }

    /// Sets rows under a head that comes again on every sheet. `title` stands once above the head
    /// and keeps with it and the first row; `again` stands above the head after a break.
    pub fn table(&mut self, cols: &[Col], title: &[Row], again: &[Row], head: &[Row], rows: &[Row]) {
        let repeat = [again, head].concat();
        let first = rows.first().map_or(0.0, Row::height);
        let lead: f32 = title.iter().chain(head).map(Row::height).sum();
        self.keep(lead + first.min(self.split_above()));
        for row in title.iter().chain(head) {
            self.row(cols, row, &[]);
        }
        for row in rows {
            self.row(cols, row, &repeat);
        }
    }

    /// Rows up to this height are kept whole.
    fn split_above(&self) -> f32 {
        (self.body.bottom - self.body.top) / 3.0
    }

    /// Sets a row; where it must be split, `head` comes first on the new sheet.
    pub fn row(&mut self, cols: &[Col], row: &Row, head: &[Row]) {
        let pad = row.dress.pad;
        let room = |flow: &Flow<'_>| flow.body.bottom - flow.y - 2.0 * pad;
        let whole = row.height() - 2.0 * pad;
        let here = room(self);
        if whole > here + 0.01 && (whole <= self.split_above() || here < LEAST) {
            self.turn_with(cols, head);
        }
        let mut done = vec![0_usize; row.cells.len()];
        let mut fresh = false;
        loop {
            let fits = room(self) + 0.01;
            let mut until = done.clone();
            let mut height: f32 = 0.0;
            for (n, cell) in row.cells.iter().enumerate() {
                let mut used = 0.0;
                for piece in cell.pieces.iter().skip(done[n]) {
                    if used + piece.height() > fits {
                        break;
                    }
                    used += piece.height();
                    until[n] += 1;
                }
                height = height.max(used);
            }
            let left_over = row.cells.iter().zip(&until).any(|(cell, n)| *n < cell.pieces.len());
            if left_over && until == done {
                if !fresh {
                    self.turn_with(cols, head);
                    fresh = true;
                    continue;
                }
                // A single piece taller than a sheet: `permit` sets none. Rather beyond the body
                // than lost or without end.
                for (n, cell) in row.cells.iter().enumerate() {
                    if let Some(piece) = cell.pieces.get(done[n]) {
                        until[n] += 1;
                        height = height.max(piece.height());
                    }
                }
            }
            self.slice(cols, row, &done, &until, height);
            done = until;
            if row.cells.iter().zip(&done).all(|(cell, n)| *n >= cell.pieces.len()) {
                return;
            }
            self.turn_with(cols, head);
            fresh = true;
        }
    }

    fn turn_with(&mut self, cols: &[Col], head: &[Row]) {
        self.turn();
        for row in head {
            let until: Vec<usize> = row.cells.iter().map(|c| c.pieces.len()).collect();
            let height = row.height() - 2.0 * row.dress.pad;
            self.slice(cols, row, &vec![0; until.len()], &until, height);
        }
    }

    fn slice(&mut self, cols: &[Col], row: &Row, from: &[usize], until: &[usize], height: f32) {
        let dress = row.dress;
        let (Some(first), Some(last)) = (cols.first(), cols.last()) else {
            return;
        };
        let (x, w) = (first.x - dress.side, last.x + last.w - first.x + 2.0 * dress.side);
        let top = self.y;
        let full = height + 2.0 * dress.pad;
        let mut marks = Vec::new();
        if let Some(ink) = dress.fill {
            marks.push(Mark::rect(x, top, w, full, ink));
        }
        if let Some(ink) = dress.bar {
            marks.push(Mark::rect(x, top, 2.5, full, ink));
        }
        if let Some((width, ink)) = dress.frame {
            let half = width / 2.0;
            marks.push(Mark::frame(x + half, top + half, w - width, full - width, width, ink));
        }
        if dress.between {
            for pair in cols.windows(2) {
                let mid = (pair[0].x + pair[0].w + pair[1].x) / 2.0;
                marks.push(Mark::line((mid, top), (mid, top + full), 0.4, Ink::Line));
            }
        }
        for (n, cell) in row.cells.iter().enumerate() {
            let (Some(col), Some(a), Some(b)) = (cols.get(n), from.get(n), until.get(n)) else {
                continue;
            };
            let mut y = top + dress.pad;
            for piece in cell.pieces.get(*a..*b).unwrap_or_default() {
                self.piece(piece, *col, y, &mut marks);
                y += piece.height();
            }
        }
        if let Some((width, ink)) = dress.under {
            marks.push(Mark::line((x, top + full), (x + w, top + full), width, ink));
        }
        self.put(marks);
        self.y = top + full;
    }

    fn piece(&self, piece: &Piece, col: Col, y: f32, marks: &mut Vec<Mark>) {
        match piece {
            Piece::Space(_) => {}
            Piece::Sign { sign, side, ink, ground, lead } => {
                let y = y + (lead - side) / 2.0;
                marks.extend(shape::draw(*sign, col.x, y, *side, *ink, *ground));
            }
            Piece::Line { text, style } => {
                marks.extend(set(self.faces, text, *style, col, y));
            }
        }
    }
}
