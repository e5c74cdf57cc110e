//! The layout layer: rows of cells set down the sheets.
//!
//! Always holds: nothing is set below the bottom of the body or beyond its columns; a row that does
//! not fit goes to the next sheet, or is split there if it is tall; heads of tables come again after
//! every break; a title keeps with what follows it.
//! Not here: what is written (`permit`), and how marks become PDF (`finish`).

use super::cell::{Cell, Col, Part, Piece, Row, Style, set};
use super::face::{Cut, Faces};
use super::labels;
use super::shape::{self, Sign};
use super::sheet::{Ink, Mark, Sheet};
use super::tree::{Kid, Link, Role, Section, Tree};

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
    tree: Tree,
    /// The table that is open.
    table: Option<usize>,
}

impl<'a> Flow<'a> {
    /// Starts with the first sheet. `backdrop` is drawn first on every sheet, `head` on all but
    /// the first.
    pub fn new(faces: &'a Faces, body: Body, (backdrop, head): (Vec<Mark>, Vec<Mark>)) -> Flow<'a> {
        let first = Sheet { marks: backdrop.clone(), marked: Vec::new() };
        let tree = Tree::default();
        Flow { faces, body, backdrop, head, sheets: vec![first], y: body.first_top, tree, table: None }
    }

    /// The sheets and what they are made of, done: by now it is known on which page each section begins.
    pub fn done(mut self) -> (Vec<Sheet>, Tree) {
        for link in &mut self.tree.links {
            let to = self.tree.sections.iter().position(|s| s.level == 1 && s.title == link.words);
            link.to = to.unwrap_or(0);
            let page = self.tree.sections.get(link.to).map_or(0, |s| s.sheet + 1).to_string();
            let mark = self.sheets.get_mut(link.sheet).and_then(|s| s.marks.get_mut(link.mark));
            if let Some(Mark::Text { text, width, at, size, weight, .. }) = mark {
                let wide = self.faces.width(&page, Cut { size: *size, weight: *weight });
                at.0 += *width - wide;
                (*text, *width) = (page, wide);
            }
        }
        (self.sheets, self.tree)
    }

    /// A line that leads to a section that comes later, with the number of its page.
    pub fn leads_to(&mut self, col: Col, y: f32, title: &str, style: Style) {
        let paragraph = self.tree.add(Role::Paragraph, 0);
        let node = self.tree.add(Role::Link, paragraph);
        let number = self.content(node);
        let sheet = self.sheets.len().saturating_sub(1);
        let room = self.faces.width("0000", style.cut);
        let text = self.faces.clip(title, style.cut, col.w - room);
        let mut marks = vec![Mark::Begin { role: Role::Link, number }];
        marks.extend(set(self.faces, &text, style, col, y));
        let mark = self.sheets.last().map_or(0, |s| s.marks.len()) + marks.len();
        marks.extend(set(self.faces, "0", style.right(), col, y));
        marks.push(Mark::End);
        self.put(marks);
        let rect = (col.x, y, col.x + col.w, y + style.lead);
        self.tree.hang(node, Kid::Link(self.tree.links.len()));
        self.tree.links.push(Link { sheet, rect, to: 0, mark, node, words: title.to_owned() });
    }

    /// Draws a picture onto the sheet being filled, with what it shows in words.
    pub fn figure(&mut self, alt: &str, frame: (f32, f32, f32, f32), marks: impl IntoIterator<Item = Mark>) {
        let node = self.tree.add(Role::Figure, 0);
        if let Some(n) = self.tree.nodes.get_mut(node) {
            alt.clone_into(&mut n.alt);
            n.frame = Some(frame);
        }
        let mut all = Vec::new();
        let number = self.content(node);
        all.push(Mark::Begin { role: Role::Figure, number });
        all.extend(marks);
        all.push(Mark::End);
        self.put(all);
    }

    /// The number of new content of a node on the sheet being filled.
    fn content(&mut self, node: usize) -> usize {
        let on = self.sheets.len().saturating_sub(1);
        let number = self.sheets.last().map_or(0, |s| s.marked.len());
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.marked.push(node);
        }
        self.tree.hang(node, Kid::Marked(on, number));
        number
    }

    /// The nodes of a row's cells; none where a cell has nothing to say.
    fn nodes(&mut self, row: &Row) -> Vec<Option<usize>> {
        let says = |c: &Cell| c.pieces.iter().any(|p| matches!(p, Piece::Line { .. }));
        let in_table = self.table.filter(|_| matches!(row.part, Part::Row | Part::Heads));
        if let Some(table) = in_table {
            let tr = self.tree.add(Role::Row, table);
            let role = if row.part == Part::Heads { Role::Head } else { Role::Cell };
            let one = |c: &Cell| {
                let node = self.tree.add(role, tr);
                let sign = c.first_sign().filter(|_| !says(c));
                if let (Some(sign), Some(n)) = (sign, self.tree.nodes.get_mut(node)) {
                    n.alt = match sign {
                        Sign::Standing(s) => labels::standing(s).to_owned(),
                        Sign::State(s) => labels::state(s).to_owned(),
                        Sign::Held => labels::held().to_owned(),
                        Sign::Warning => "!".to_owned(),
                    };
                }
                Some(node)
            };
            return row.cells.iter().map(one).collect();
        }
        let mut out = Vec::new();
        for (n, cell) in row.cells.iter().enumerate() {
            let role = match row.part {
                Part::Heading(level) if n == 0 => Role::Heading(level),
                Part::Heading(_) | Part::Words | Part::Row | Part::Heads => Role::Paragraph,
            };
            out.push(says(cell).then(|| self.tree.add(role, 0)));
        }
        out
    }

    /// Number of the sheet being filled, from 1.
    pub fn number(&self) -> usize {
        self.sheets.len()
    }

    /// Goes to a new sheet.
    pub fn turn(&mut self) {
        let mut marks = self.backdrop.clone();
        marks.extend(self.head.iter().cloned());
        self.sheets.push(Sheet { marks, marked: Vec::new() });
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
        for row in title {
            self.row(cols, row, &[]);
        }
        // Without heads it is no table but paragraphs one under the other.
        let outer = self.table.take();
        self.table = (!head.is_empty()).then(|| self.tree.add(Role::Table, 0));
        for row in head {
            self.row(cols, &row.clone().part(Part::Heads), &[]);
        }
        for row in rows {
            self.row(cols, &row.clone().part(Part::Row), &repeat);
        }
        self.table = outer;
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
        if let (Part::Heading(level @ 2..), Some(title)) = (row.part, row.cells.first().map(Cell::words)) {
            let sheet = self.sheets.len().saturating_sub(1);
            self.tree.sections.push(Section { title, level: level - 1, sheet, y: self.y });
        }
        let nodes = self.nodes(row);
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
            self.slice(cols, row, &done, &until, (height, &nodes));
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
            // What comes again was read before.
            self.slice(cols, row, &vec![0; until.len()], &until, (height, &[]));
        }
    }

    fn slice(
        &mut self,
        cols: &[Col],
        row: &Row,
        from: &[usize],
        until: &[usize],
        (height, nodes): (f32, &[Option<usize>]),
    ) {
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
            let pieces = cell.pieces.get(*a..*b).unwrap_or_default();
            let node = nodes.get(n).copied().flatten();
            let node = node.filter(|_| pieces.iter().any(|p| !matches!(p, Piece::Space(_))));
            if let Some(node) = node {
                let role = self.tree.nodes.get(node).map_or(Role::Paragraph, |n| n.role);
                let number = self.content(node);
                marks.push(Mark::Begin { role, number });
            }
            for piece in pieces {
                self.piece(piece, *col, y, &mut marks);
                y += piece.height();
            }
            if node.is_some() {
                marks.push(Mark::End);
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
