//! The attendant's card on one sheet: what is called and whom to call, the orders, and grids to go on by hand.
//!
//! Always holds: a check word on a card of a live permit only; a card of another one has its state large and everything
//! else that such sheets carry (`frame`). Nothing is left out for room: text gets smaller, then goes over to a second sheet.
//! Blank rows only fill what room is left. Not here: words (view, `labels`), layout (`flow`).

use super::PaperSize;
use super::cell::{Cell, Col, Dress, Part, Row, Style, columns, equal};
use super::face::Faces;
use super::flow::Flow;
use super::frame::{self, Frame};
use super::labels;
use super::permit::{HEAD, HEADED, LABEL, PLAIN, SMALL, STRONG, or_dash};
use super::shape::Sign;
use super::sheet::{Ink, Sheet, Weight};
use super::tree::Tree;
use crate::tongue::say;
use crate::view::{CardView, OrderView, Statement, WearerView};

const NUMBER: Style = Style::new(19.0, Weight::Bold, Ink::Black);
const WORD: Style = Style::new(21.0, Weight::Bold, Ink::Black);
const VALID: Style = Style::new(12.5, Weight::Bold, Ink::Black);
const VALUE: Style = Style::new(11.0, Weight::Bold, Ink::Black);
const GAUGE: Style = Style::new(15.0, Weight::Bold, Ink::Black);
const ALARM: Style = Style::new(8.0, Weight::Regular, Ink::Black);
const ORDER: Style = Style::new(12.0, Weight::Bold, Ink::Black);
const GEAR: Style = Style::new(7.5, Weight::Regular, Ink::Black);

/// Scales tried, largest first, with how many rows of readings and how many for whoever nobody planned there are at
/// least; if none fits one sheet, the last flows over.
const TRIES: [(f32, usize, usize); 9] = [
    (1.18, 5, 2),
    (1.1, 5, 2),
    (1.0, 5, 2),
    (0.93, 4, 2),
    (0.86, 3, 2),
    (0.86, 2, 2),
    (0.8, 2, 2),
    (0.74, 1, 1),
    (0.65, 1, 1),
];
/// Orders are not scaled below this: they are read at arm's length.
const ORDERS: f32 = 0.86;
/// High enough to write in, in points: 6.3 mm. Not scaled: hands do not get smaller.
const BY_HAND: f32 = 18.0;
/// Rows for wearers on a card without a permit.
const BLANK_WEARERS: usize = 6;
/// So many columns of readings stand beside each other twice.
const BESIDE: usize = 6;
/// Rows for rescuers, at least.
const RESCUERS: usize = 2;

/// Draws a card.
pub fn compose(view: &CardView, size: PaperSize, faces: &Faces) -> (Vec<Sheet>, Tree) {
    let as_of = view.as_of.map(|n| labels::as_of(&n.to_string(), "")).unwrap_or_default();
    let blank = view.state.is_none();
    let framed = Frame {
        faces,
        state: view.state,
        held: view.held,
        state_words: &view.state_words,
        number: if blank { say!("BLANK CARD") } else { &view.number },
        kind: say!("attendant's card"),
        not: &view.not_an_entry_permit,
        as_of: &as_of,
    };
    let body = frame::body(size);
    let around = frame::around(&framed, size, body);
    let mut card = Card {
        view,
        faces,
        ink: framed.ink(),
        live: framed.live(),
        sign: framed.sign().unwrap_or(Sign::Warning),
        scale: 1.0,
        others: 0,
    };
    let mut flow = Flow::new(faces, body, around.clone());
    for (scale, readings, others) in TRIES {
        (card.scale, card.others) = (scale, others);
        flow = Flow::new(faces, body, around.clone());
        card.draw(&mut flow, readings);
        if flow.number() == 1 {
            break;
        }
    }
    let (mut sheets, tree) = flow.done();
    frame::feet(&framed, size, body, &mut sheets);
    (sheets, tree)
}

struct Card<'a> {
    view: &'a CardView,
    faces: &'a Faces,
    ink: Ink,
    live: bool,
    sign: Sign,
    /// Scale of the text: as large as lets one sheet hold everything.
    scale: f32,
    /// Rows for whoever nobody planned.
    others: usize,
}

impl Card<'_> {
    fn draw(&self, flow: &mut Flow<'_>, readings: usize) {
        self.top(flow);
        self.banner(flow);
        self.statements(flow, std::slice::from_ref(&self.view.signal), VALUE);
        self.statements(flow, &self.view.calls, VALUE);
        self.statements(flow, &self.view.gauges, GAUGE);
        self.statements(flow, &self.view.limits, VALUE);
        self.warnings(flow);
        flow.gap(4.0 * self.scale);
        self.rules(flow);
        self.orders(flow);
        flow.gap(5.0 * self.scale);
        self.tally(flow);
        flow.gap(5.0 * self.scale);
        self.readings(flow, readings);
    }

    fn z(&self, style: Style) -> Style {
        style.times(self.scale)
    }

    fn cell(&self, col: Col, text: &str, style: Style) -> Cell {
        Cell::of(col).say(self.faces, text, self.z(style))
    }

    /// A label over a value over a note; without a value, room to write it.
    fn pair(&self, col: Col, label: &str, value: &str, style: Style, note: &str) -> Cell {
        let cell = self.cell(col, label, LABEL);
        let cell = if value.is_empty() && self.view.state.is_none() {
            cell.space(BY_HAND)
        } else {
            cell.say(self.faces, or_dash(value), self.z(style))
        };
        cell.say(self.faces, note, self.z(LABEL))
    }

    fn ruled(&self) -> Dress {
        Dress { under: Some((0.5, Ink::Grey)), between: true, pad: 2.0 * self.scale, side: 4.0, ..PLAIN }
    }

    fn grid(&self) -> Dress {
        Dress { frame: Some((0.5, Ink::Grey)), ..self.ruled() }
    }

    /// Columns inside the side of ruled rows.
    fn inner(flow: &Flow<'_>) -> (f32, f32) {
        (flow.body.left + 4.0, flow.body.width() - 8.0)
    }

    fn title(&self, flow: &Flow<'_>, text: &str) -> Row {
        let col = Col { x: flow.body.left, w: flow.body.width() };
        Row::new(vec![self.cell(col, text, STRONG)], Dress { pad: 1.5, ..PLAIN }).part(Part::Heading(2))
    }

    fn heads(&self, cols: &[Col], labels: &[&str]) -> Row {
        let cells = cols.iter().zip(labels).map(|(c, l)| self.cell(*c, l, HEAD)).collect();
        Row::new(cells, Dress { side: 4.0, between: true, ..HEADED })
    }

    /// Which permit, until when, of what word; which set, where.
    fn top(&self, flow: &mut Flow<'_>) {
        let view = self.view;
        let (x, w) = Self::inner(flow);
        let cols = columns(x, 10.0, &[w * 0.42 - 10.0, w * 0.36 - 10.0, w * 0.22]);
        let as_of = view.as_of.map(|n| labels::as_of(&n.to_string(), &view.as_of_at)).unwrap_or_default();
        let number = self
            .pair(cols[0], say!("ATTENDANT'S CARD, AIR PERMIT NUMBER"), &view.number, NUMBER, "")
            .say(self.faces, &view.copy, self.z(SMALL));
        let valid =
            if view.held { labels::off_by() } else { labels::valid_to(self.live || view.state.is_none()) };
        let valid = self.pair(cols[1], valid, &view.valid_to, VALID, &view.valid_because);
        let word = if self.live || view.state.is_none() { view.check_word.as_str() } else { "" };
        let word = self.pair(cols[2], labels::check_word(), word, WORD, &as_of);
        flow.row(&cols, &Row::new(vec![number, valid, word], self.ruled()).part(Part::Heading(1)), &[]);
        let cols = equal(x, w, 10.0, 3);
        let cells =
            [(labels::set(), &view.set), (labels::place(), &view.place), (labels::site(), &view.site)]
                .into_iter()
                .zip(&cols)
                .map(|((label, value), col)| self.pair(*col, label, value, STRONG, ""));
        flow.row(&cols, &Row::new(cells.collect(), self.ruled()), &[]);
    }

    /// The state: one line on dark while live, large in a heavy frame otherwise.
    fn banner(&self, flow: &mut Flow<'_>) {
        flow.gap(4.0 * self.scale);
        let (ink, ground) = if self.live { (Ink::White, self.ink) } else { (self.ink, Ink::White) };
        let side = if self.live { 12.0 } else { 34.0 } * self.scale;
        let width = flow.body.width() - 20.0;
        let cols = columns(flow.body.left + 10.0, 10.0, &[side, width - side - 10.0]);
        let large = Style::new(if self.live { 11.0 } else { 24.0 }, Weight::Bold, ink);
        let means = Style::new(if self.live { 9.0 } else { 11.0 }, Weight::Bold, ink);
        let words = self.cell(cols[1], &self.view.state_words, large).say(
            self.faces,
            &self.view.state_means,
            self.z(means),
        );
        let lead = words.height().clamp(side, 60.0);
        let mark = Cell::of(cols[0]).sign(self.sign, side, lead, ink, ground);
        let dress = Dress {
            fill: Some(ground),
            frame: Some((if self.live { 1.0 } else { 3.0 }, self.ink)),
            pad: if self.live { 3.0 } else { 6.0 } * self.scale,
            side: 10.0,
            ..PLAIN
        };
        flow.row(&cols, &Row::new(vec![mark, words], dress), &[]);
        flow.gap(2.0 * self.scale);
    }

    fn statements(&self, flow: &mut Flow<'_>, all: &[Statement], style: Style) {
        let (x, w) = Self::inner(flow);
        let cols = equal(x, w, 10.0, all.len().max(1));
        let cells = all
            .iter()
            .zip(&cols)
            .map(|(s, col)| self.pair(*col, &s.label, &s.value, style, &s.note))
            .collect();
        flow.row(&cols, &Row::new(cells, self.ruled()), &[]);
    }

    fn warnings(&self, flow: &mut Flow<'_>) {
        let cols = columns(flow.body.left + 8.0, 7.0, &[11.0, flow.body.width() - 30.0]);
        for warning in &self.view.warnings {
            flow.gap(2.0 * self.scale);
            let sign = Cell::of(cols[0]).sign(Sign::Warning, 10.5, 11.0, Ink::Black, Ink::White);
            let dress = Dress { bar: Some(Ink::Black), pad: 2.0, side: 8.0, ..PLAIN };
            flow.row(&cols, &Row::new(vec![sign, self.cell(cols[1], warning, STRONG)], dress), &[]);
        }
    }

    /// What holds at every alarm: white on black, what the attendant does below it.
    fn rules(&self, flow: &mut Flow<'_>) {
        let col = [Col { x: flow.body.left + 10.0, w: flow.body.width() - 20.0 }];
        let [order, rule, rest @ ..] = self.view.rules.as_slice() else { return };
        let white = |size| Style::new(size, Weight::Bold, Ink::White);
        let cell = self.cell(col[0], order, white(14.5)).say(self.faces, rule, self.z(white(10.5)));
        let dress = Dress { fill: Some(Ink::Black), pad: 4.0 * self.scale, side: 10.0, ..PLAIN };
        flow.row(&col, &Row::new(vec![cell], dress), &[]);
        for more in rest {
            let dress = Dress { pad: 2.0, ..PLAIN };
            flow.row(&col, &Row::new(vec![self.cell(col[0], more, SMALL)], dress), &[]);
        }
    }

    /// Two beside each other, from left to right and down.
    fn orders(&self, flow: &mut Flow<'_>) {
        let (x, w) = Self::inner(flow);
        let cols = equal(x, w, 10.0, 2);
        let one = |o: &OrderView, col: Col| {
            self.cell(col, &o.alarm, ALARM)
                .say(self.faces, &o.order, ORDER.times(self.scale.max(ORDERS)))
                .say(self.faces, &o.set, self.z(LABEL))
        };
        for pair in self.view.orders.chunks(2) {
            let cells = pair.iter().zip(&cols).map(|(o, col)| one(o, *col)).collect();
            flow.row(&cols, &Row::new(cells, self.grid()), &[]);
        }
    }

    fn tally(&self, flow: &mut Flow<'_>) {
        let (x, w) = Self::inner(flow);
        let (gutter, time) = (6.0, 37.0);
        let spare = w - 4.0 * time - 7.0 * gutter;
        let mut widths = [0.13, 0.33, 0.25, 0.29].map(|share| spare * share).to_vec();
        widths.extend([time; 4]);
        let cols = columns(x, gutter, &widths);
        let mut rows: Vec<Row> = self.view.wearers.iter().map(|p| self.wearer(&cols, p)).collect();
        if self.view.state.is_none() {
            rows.extend((0..BLANK_WEARERS).map(|_| self.by_hand(&cols, "", "")));
        }
        let (other, rescuer) = (say!("other"), say!("rescuer"));
        rows.extend((0..self.others).map(|_| self.by_hand(&cols, "", other)));
        rows.extend(self.view.rescuers.iter().map(|name| self.by_hand(&cols, name, rescuer)));
        let unnamed = RESCUERS.saturating_sub(self.view.rescuers.len());
        rows.extend((0..unnamed).map(|_| self.by_hand(&cols, "", rescuer)));
        let title = say!("Tally: write each time by hand; readings below");
        let again = self.title(flow, &labels::again(title));
        let title = self.title(flow, title);
        let heads = [
            say!("Outlet"),
            say!("Wearer"),
            say!("Hose, escape set"),
            say!("Respirator"),
            say!("on air"),
            say!("in"),
            say!("out"),
            say!("off air"),
        ];
        let head = self.heads(&cols, &heads);
        flow.table(&cols, &[title], &[again], &[head], &rows);
    }

    fn wearer(&self, cols: &[Col], p: &WearerView) -> Row {
        // Who is on air is seen at once: bold, and since when.
        let (who, style) = if p.since.is_empty() {
            (p.person.clone(), LABEL)
        } else {
            (format!("{} · {} {}", p.person, p.tally, labels::since(&p.since)), HEAD)
        };
        let name = self.cell(cols[1], or_dash(&p.name), STRONG).say(self.faces, &who, self.z(style));
        let gear = |col: Col, text: &str| self.cell(col, or_dash(text), GEAR);
        let mut cells = vec![
            self.cell(cols[0], or_dash(&p.outlet), STRONG),
            name,
            gear(cols[2], &p.hose).say(self.faces, or_dash(&p.escape_set), self.z(GEAR)),
            gear(cols[3], &p.respirator),
        ];
        cells.extend(cols.iter().skip(4).map(|c| Cell::of(*c).space(BY_HAND)));
        Row::new(cells, self.grid())
    }

    /// A row to write in, with what is known of it.
    fn by_hand(&self, cols: &[Col], name: &str, what: &str) -> Row {
        let mut cells: Vec<Cell> = cols.iter().map(|c| Cell::of(*c)).collect();
        if let (Some(cell), Some(col)) = (cells.get_mut(1), cols.get(1)) {
            *cell = match name {
                "" => self.cell(*col, what, LABEL),
                name => self.cell(*col, &format!("{name} ({what})"), STRONG),
            };
        }
        if let Some(cell) = cells.last_mut() {
            *cell = std::mem::take(cell).space(BY_HAND - 2.0);
        }
        Row::new(cells, Dress { pad: 1.0, ..self.grid() })
    }

    /// Where the time is written at which the air is gone: nothing printed can know it.
    fn air_gone(&self, flow: &mut Flow<'_>) {
        let (x, w) = Self::inner(flow);
        let shares = [0.15, 0.15, 0.13, 0.15, 0.42].map(|share| (w - 4.0 * 6.0) * share);
        let cols = columns(x, 6.0, &shares);
        let note = say!("as the screen says; write it again after each reading. Nobody waits for it");
        let by_hand = |col: Col| Cell::of(col).space(BY_HAND - 2.0);
        let cells = vec![
            self.cell(cols[0], say!("SUPPLY LOST AT"), HEAD),
            by_hand(cols[1]),
            self.cell(cols[2], say!("AIR GONE AT"), HEAD),
            by_hand(cols[3]),
            self.cell(cols[4], note, LABEL),
        ];
        flow.row(&cols, &Row::new(cells, Dress { pad: 1.0, ..self.grid() }), &[]);
    }

    fn readings(&self, flow: &mut Flow<'_>, least: usize) {
        let (x, w) = Self::inner(flow);
        let reserve = say!("Reserve");
        // Each cylinder is read by itself.
        let mut once = vec![say!("Time").to_owned(), say!("Supply").to_owned()];
        match self.view.cylinders.as_slice() {
            [] => once.push(reserve.to_owned()),
            all => once.extend(all.iter().map(|name| format!("{reserve} {name}"))),
        }
        once.extend([say!("CO").to_owned(), say!("By").to_owned()]);
        // So many beside each other that a hand can still write in them.
        let beside = if once.len() <= BESIDE { 2 } else { 1 };
        let labels: Vec<&str> = once.iter().map(String::as_str).cycle().take(beside * once.len()).collect();
        let cols = equal(x, w, 6.0, labels.len());
        self.air_gone(flow);
        let row = || {
            let cells = cols.iter().map(|c| Cell::of(*c).space(BY_HAND)).collect();
            Row::new(cells, Dress { pad: 0.0, ..self.grid() })
        };
        let head = self.heads(&cols, &labels);
        let rows: Vec<Row> = (0..least).map(|_| row()).collect();
        flow.table(&cols, &[], &[], &[head], &rows);
        // What room is left is for more of them.
        while flow.y + row().height() <= flow.body.bottom {
            flow.row(&cols, &row(), &[]);
        }
    }
}
