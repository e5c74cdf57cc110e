//! A permit on sheets: page one in this file, the record that follows in `record`.
//!
//! Always holds: check word and QR code are drawn on a live permit only; every sheet of another one
//! has a striped border, its state across the sheet and in head and foot.
//! Not here: words (view, `labels`), layout (`flow`), what every sheet carries (`frame`).

mod pictures;
mod record;

use super::cell::{Cell, Col, Dress, Part, Row, Style, columns, equal};
use super::face::Faces;
use super::flow::Flow;
use super::frame::{self, Frame};
use super::labels;
use super::qr::Matrix;
use super::shape::Sign;
use super::sheet::{Ink, Sheet, Weight};
use super::tree::Tree;
use super::{PaperProblem, PaperSize};
use crate::tongue::say;
use crate::view::{PermitView, WearerView};

pub(super) const LABEL: Style = Style::new(7.0, Weight::Regular, Ink::Grey);
pub(super) const SMALL: Style = Style::new(7.5, Weight::Regular, Ink::Black);
const BODY: Style = Style::new(8.5, Weight::Regular, Ink::Black);
pub(super) const STRONG: Style = Style::new(8.5, Weight::Bold, Ink::Black);
const VALUE: Style = Style::new(11.0, Weight::Bold, Ink::Black);
const TITLE: Style = Style::new(11.5, Weight::Bold, Ink::Black);
pub(super) const HEAD: Style = Style::new(7.0, Weight::Bold, Ink::Black);

const RULED: Dress = Dress { under: Some((0.4, Ink::Line)), pad: 2.5, ..PLAIN };
pub(super) const PLAIN: Dress =
    Dress { fill: None, under: None, frame: None, bar: None, between: false, pad: 0.0, side: 0.0 };
pub(super) const HEADED: Dress =
    Dress { fill: Some(Ink::Pale), under: Some((0.8, Ink::Black)), pad: 1.5, ..PLAIN };

/// Scales of page one, largest first.
const SCALES: [f32; 6] = [1.3, 1.2, 1.1, 1.0, 0.92, 0.84];

/// Side of the QR code with its quiet zone: 0.7 mm a module for the usual token.
const QR_SIDE: f32 = 122.0;

/// Draws a permit onto sheets.
pub fn compose(
    view: &PermitView,
    size: PaperSize,
    faces: &Faces,
) -> Result<(Vec<Sheet>, Tree), PaperProblem> {
    let body = frame::body(size);
    let mut page = Page {
        view,
        faces,
        live: false,
        sign: Sign::Warning,
        ink: Ink::Black,
        scale: 1.0,
        goes_on: false,
        code: None,
    };
    let as_of = labels::as_of(&view.as_of.to_string(), "");
    let framed = Frame {
        faces,
        state: Some(view.state),
        held: view.held,
        state_words: &view.state_words,
        number: &view.number,
        kind: "",
        not: &view.not_an_entry_permit,
        as_of: &as_of,
    };
    (page.ink, page.live) = (framed.ink(), framed.live());
    if page.live && !view.token.is_empty() {
        page.code = Some(Matrix::of(&view.token)?);
    }
    page.sign = framed.sign().unwrap_or(Sign::Warning);
    let around = frame::around(&framed, size, body);
    let mut flow = page_one(&mut page, &|| Flow::new(faces, body, around.clone()));
    page.scale = 1.0;
    record::record(&page, &mut flow);
    let (mut sheets, tree) = flow.done();
    frame::feet(&framed, size, body, &mut sheets);
    Ok((sheets, tree))
}

/// Page one, as large as lets it stand on one sheet. Found by halving: what does not fit at one scale does not at a larger
/// one. Where nothing lets it, the sheet says so: nobody takes half of it for all.
fn page_one<'a>(page: &mut Page<'_>, blank: &dyn Fn() -> Flow<'a>) -> Flow<'a> {
    let (mut from, mut to) = (0, SCALES.len());
    let mut fits = None;
    while from < to {
        let at = from.midpoint(to);
        page.scale = SCALES[at];
        let mut flow = blank();
        page.front(&mut flow);
        if flow.number() == 1 {
            (fits, to) = (Some(flow), at);
        } else {
            from = at + 1;
        }
    }
    if let Some(flow) = fits {
        return flow;
    }
    (page.scale, page.goes_on) = (SCALES[SCALES.len() - 1], true);
    let mut flow = blank();
    page.front(&mut flow);
    flow
}

/// What every part of the composition needs.
struct Page<'a> {
    view: &'a PermitView,
    faces: &'a Faces,
    live: bool,
    /// The shape of the state.
    sign: Sign,
    /// The ink of the state.
    ink: Ink,
    /// Scale of the text on page one: as large as lets page one hold everything.
    scale: f32,
    /// Page one does not hold everything.
    goes_on: bool,
    /// The code of the token, while it is live.
    code: Option<Matrix>,
}

impl Page<'_> {
    /// The style at the scale of page one.
    fn z(&self, style: Style) -> Style {
        style.times(self.scale)
    }

    /// A ruled row, tighter where the text is smaller.
    fn ruled(&self) -> Dress {
        Dress { pad: RULED.pad * self.scale * self.scale, ..RULED }
    }

    /// The largest of these sizes in which the text stands on one line, else the smallest.
    fn fit(&self, text: &str, sizes: [f32; 4], width: f32) -> f32 {
        let sizes = sizes.map(|s| s * self.scale);
        let fits = |size: &f32| {
            let cut = Style::new(*size, Weight::Bold, Ink::Black).cut;
            self.faces.wrap(text, cut, width).len() <= 1
        };
        sizes.into_iter().find(fits).unwrap_or(sizes[3])
    }

    fn cell(&self, col: Col, text: &str, style: Style) -> Cell {
        Cell::of(col).say(self.faces, text, style)
    }

    /// A label over a value over a note; an empty value is shown as a dash, not as nothing.
    fn pair(&self, col: Col, label: &str, value: &str, style: Style, note: &str) -> Cell {
        self.cell(col, label, self.z(LABEL)).say(self.faces, or_dash(value), self.z(style)).say(
            self.faces,
            note,
            self.z(SMALL),
        )
    }

    fn title(&self, col: Col, text: &str) -> Row {
        let dress = Dress { pad: 2.0, under: Some((1.2, Ink::Black)), ..PLAIN };
        Row::new(vec![self.cell(col, text, TITLE)], dress).part(Part::Heading(2))
    }

    /// The title once more, after a break: one line.
    fn again(&self, col: Col, text: &str) -> Row {
        let text = self.faces.clip(text, STRONG.cut, col.w - 70.0);
        Row::new(vec![self.cell(col, &labels::again(&text), STRONG)], Dress { pad: 2.0, ..PLAIN })
    }

    fn head(&self, cols: &[Col], labels: &[&str]) -> Row {
        let cells = cols.iter().zip(labels).map(|(c, l)| self.cell(*c, l, HEAD));
        Row::new(cells.collect(), HEADED)
    }

    fn whole(flow: &Flow<'_>) -> Col {
        Col { x: flow.body.left, w: flow.body.width() }
    }

    fn front(&self, flow: &mut Flow<'_>) {
        self.top(flow);
        self.banner(flow);
        if self.goes_on {
            self.goes_on(flow);
        }
        flow.gap(4.0);
        self.key(flow);
        self.statements(flow);
        self.warnings(flow);
        self.wearers(flow);
        self.cautions(flow);
        self.contents(flow);
    }

    /// That page one does not hold everything.
    fn goes_on(&self, flow: &mut Flow<'_>) {
        let cols = columns(flow.body.left + 8.0, 7.0, &[11.0, flow.body.width() - 30.0]);
        let words = say!("THIS PAGE GOES ON ON THE NEXT: read both before anyone goes on this air");
        let sign = Cell::of(cols[0]).sign(Sign::Warning, 10.5, 11.0, Ink::Black, Ink::White);
        let dress = Dress { bar: Some(Ink::Black), pad: 2.0, side: 8.0, ..PLAIN };
        flow.row(&cols, &Row::new(vec![sign, self.cell(cols[1], words, STRONG)], dress), &[]);
    }

    /// What stands behind page one, and on which page.
    fn contents(&self, flow: &mut Flow<'_>) {
        let titles = record::titles(self);
        let all = Self::whole(flow);
        let style = self.z(LABEL.ink(Ink::Black));
        // Three beside each other where each title and its page have room, else two.
        let widest =
            titles.iter().map(|t| self.faces.width(&self.faces.safe(t), style.cut)).fold(0.0, f32::max);
        let three = equal(all.x, all.w, 14.0, 3);
        let room = three.first().map_or(0.0, |c| c.w) - self.faces.width("00000", style.cut);
        let cols = if widest <= room { three } else { equal(all.x, all.w, 14.0, 2) };
        flow.gap(2.0);
        flow.keep(style.lead * (1 + titles.len().div_ceil(cols.len())) as f32);
        flow.row(&[all], &Row::new(vec![self.cell(all, say!("Behind this page:"), style)], PLAIN), &[]);
        for some in titles.chunks(cols.len()) {
            for (title, col) in some.iter().zip(&cols) {
                flow.leads_to(*col, flow.y, title, style);
            }
            flow.y += style.lead;
        }
    }

    /// Number on the left, what the permit is not on the right.
    fn top(&self, flow: &mut Flow<'_>) {
        let cols = columns(flow.body.left, 12.0, &[210.0, flow.body.width() - 222.0]);
        let number = self.cell(cols[0], say!("AIR PERMIT"), HEAD.ink(Ink::Grey)).say(
            self.faces,
            &self.view.number,
            Style::new(19.0, Weight::Bold, Ink::Black),
        );
        let as_of = labels::as_of(&self.view.as_of.to_string(), &self.view.as_of_at);
        let number = number.say(self.faces, &as_of, self.z(SMALL));
        let not = Cell::of(cols[1])
            .space(6.0)
            .say(
                self.faces,
                &self.view.not_an_entry_permit,
                Style::new(9.0, Weight::Bold, Ink::Black).right(),
            )
            .say(self.faces, &self.view.copy, self.z(SMALL.right()));
        flow.row(&cols, &Row::new(vec![number, not], PLAIN).part(Part::Heading(1)), &[]);
        flow.gap(2.0);
    }

    /// The state: white on dark while live, dark on white in a heavy frame otherwise.
    fn banner(&self, flow: &mut Flow<'_>) {
        let (ink, ground) = if self.live { (Ink::White, self.ink) } else { (self.ink, Ink::White) };
        let inset = 12.0;
        let sign = 50.0 * self.scale;
        let width = flow.body.width() - 2.0 * inset;
        let cols = columns(flow.body.left + inset, 16.0, &[sign, width - sign - 16.0]);
        let size = self.fit(&self.view.state_words, [34.0, 26.0, 20.0, 15.0], cols[1].w);
        let means = self.fit(&self.view.state_means, [13.0, 12.0, 11.0, 10.0], cols[1].w);
        let words = |above: f32| {
            Cell::of(cols[1])
                .space(above)
                .say(self.faces, &self.view.state_words, Style::new(size, Weight::Bold, ink))
                .say(self.faces, &self.view.state_means, Style::new(means, Weight::Bold, ink))
        };
        let high = words(0.0).height();
        let lead = high.clamp(sign, 80.0);
        let words = words((sign - high).max(0.0) / 2.0);
        let mark = Cell::of(cols[0]).sign(self.sign, sign, lead, ink, ground);
        let dress = Dress {
            fill: Some(ground),
            frame: Some((if self.live { 1.0 } else { 4.0 }, self.ink)),
            pad: 7.0 * self.scale,
            side: inset,
            ..PLAIN
        };
        flow.row(&cols, &Row::new(vec![mark, words], dress), &[]);
    }

    /// Valid to, check word, where and what; the QR code beside it.
    fn key(&self, flow: &mut Flow<'_>) {
        let view = self.view;
        let code = self.code.as_ref();
        let full = flow.body.width();
        let width = if code.is_some() { full - QR_SIDE - 12.0 } else { full };
        let (sheet, start) = (flow.number(), flow.y);

        let word = self.live && !view.check_word.is_empty();
        let cols = if word {
            columns(flow.body.left, 12.0, &[width - 136.0, 124.0])
        } else {
            columns(flow.body.left, 0.0, &[width])
        };
        let label = if view.held { labels::off_by() } else { labels::valid_to(self.live) };
        let size = if self.live || view.held {
            self.fit(&view.valid_to, [18.0, 16.0, 14.0, 12.0], cols[0].w)
        } else {
            12.0 * self.scale
        };
        let big = Style::new(size, Weight::Bold, Ink::Black);
        let mut cells =
            vec![self.cell(cols[0], label, self.z(LABEL)).say(self.faces, or_dash(&view.valid_to), big).say(
                self.faces,
                &view.valid_because,
                self.z(SMALL),
            )];
        if let Some(col) = cols.get(1) {
            let word_size = self.fit(&view.check_word, [29.0, 25.0, 20.0, 15.0], col.w);
            cells.push(
                self.cell(*col, labels::check_word(), self.z(LABEL))
                    .say(self.faces, &view.check_word, Style::new(word_size, Weight::Bold, Ink::Black))
                    .say(
                        self.faces,
                        say!(
                            "Ask by radio for the word. If it differs, this sheet is out of date: take it down."
                        ),
                        self.z(LABEL),
                    ),
            );
        }
        flow.row(&cols, &Row::new(cells, self.ruled()), &[]);
        let half = equal(flow.body.left, width, 12.0, 2);
        let first = [(labels::site(), &view.site), (labels::place(), &view.place)];
        for [a, b] in [first, [(labels::set(), &view.set), (say!("Job"), &view.job)]] {
            let cells = [a, b]
                .into_iter()
                .zip(&half)
                .map(|((label, value), col)| self.pair(*col, label, value, STRONG, ""));
            flow.row(&half, &Row::new(cells.collect(), self.ruled()), &[]);
        }
        if let Some(code) = code {
            // The quiet zone may stand in the margin, so that dark modules end where the text ends.
            let quiet = code.quiet(QR_SIDE);
            let x = flow.body.right - QR_SIDE + quiet;
            let under = Col { x: x + quiet, w: QR_SIDE - 2.0 * quiet };
            let caption = say!(
                "Proves that this permit was issued. It does not prove that this sheet is the only copy, nor that the permit \
                 is still live."
            );
            let caption = self.cell(under, caption, LABEL);
            let caption = Row::new(vec![caption], PLAIN);
            let deep = QR_SIDE + caption.height();
            if flow.number() != sheet || start + deep > flow.body.bottom {
                flow.turn();
            }
            let top = if flow.number() == sheet { start } else { flow.y };
            let below = flow.y;
            let frame = (x, top - 3.0, x + QR_SIDE, top - 3.0 + QR_SIDE);
            let alt = say!("QR code of the token, which stands in words in the last block of this paper");
            flow.figure(alt, frame, code.draw(x, top - 3.0, QR_SIDE));
            flow.y = top + QR_SIDE - quiet;
            flow.row(&[under], &caption, &[]);
            flow.y = flow.y.max(below);
        }
        flow.gap(4.0);
    }

    /// The numbers people work by, four beside each other.
    fn statements(&self, flow: &mut Flow<'_>) {
        let cols = equal(flow.body.left + 4.0, flow.body.width() - 8.0, 12.0, 4);
        let rows = self.view.page_one.chunks(cols.len()).map(|chunk| {
            let cells =
                chunk.iter().zip(&cols).map(|(s, col)| self.pair(*col, &s.label, &s.value, VALUE, &s.note));
            Row::new(cells.collect(), Dress { between: true, side: 4.0, ..self.ruled() })
        });
        let rows: Vec<Row> = rows.collect();
        flow.put([super::sheet::Mark::line(
            (flow.body.left, flow.y),
            (flow.body.right, flow.y),
            if rows.is_empty() { 0.0 } else { 1.2 },
            Ink::Black,
        )]);
        for row in &rows {
            flow.row(&cols, row, &[]);
        }
        flow.gap(6.0);
    }

    fn warnings(&self, flow: &mut Flow<'_>) {
        let cols = columns(flow.body.left + 8.0, 7.0, &[11.0, flow.body.width() - 30.0]);
        for warning in &self.view.warnings {
            let row = Row::new(
                vec![
                    Cell::of(cols[0]).sign(Sign::Warning, 10.5, 11.0, Ink::Black, Ink::White),
                    self.cell(cols[1], warning, self.z(STRONG)),
                ],
                Dress { bar: Some(Ink::Black), pad: 2.0, side: 8.0, ..PLAIN },
            );
            flow.row(&cols, &row, &[]);
            flow.gap(1.5);
        }
        if !self.view.warnings.is_empty() {
            flow.gap(5.0);
        }
    }

    fn wearers(&self, flow: &mut Flow<'_>) {
        let all = Self::whole(flow);
        let spare = all.w - 5.0 * 8.0 - 36.0 - 66.0;
        let shares = [0.28, 0.24, 0.2, 0.28].map(|share| spare * share);
        let widths = [36.0, shares[0], shares[1], shares[2], shares[3], 66.0];
        let cols = columns(all.x, 8.0, &widths);
        let title = if self.live {
            say!("Who may be put on this air")
        } else if self.view.held {
            say!("Wearers named (nobody is put on this air now)")
        } else {
            say!("Wearers named (this permit is not live)")
        };
        let heads = [
            say!("Outlet"),
            say!("Wearer"),
            say!("Respirator"),
            say!("Escape set"),
            say!("Hose"),
            say!("Tally"),
        ];
        let head = self.head(&cols, &heads);
        let mut rows: Vec<Row> = self.view.wearers.iter().map(|w| self.wearer(&cols, w)).collect();
        if rows.is_empty() {
            rows.push(Row::new(
                vec![self.cell(all, say!("Nobody is named on this permit."), self.z(STRONG))],
                RULED,
            ));
        }
        flow.table(&cols, &[self.title(all, title)], &[self.again(all, title)], &[head], &rows);
        flow.gap(6.0);
    }

    fn wearer(&self, cols: &[Col], w: &WearerView) -> Row {
        let since = if w.since.is_empty() { String::new() } else { labels::since(&w.since) };
        Row::new(
            vec![
                self.cell(cols[0], or_dash(&w.outlet), self.z(STRONG)),
                self.cell(cols[1], or_dash(&w.name), self.z(STRONG)).say(
                    self.faces,
                    &w.person,
                    self.z(LABEL),
                ),
                self.cell(cols[2], or_dash(&w.respirator), self.z(BODY)),
                self.cell(cols[3], or_dash(&w.escape_set), self.z(BODY)),
                self.cell(cols[4], or_dash(&w.hose), self.z(BODY)).say(
                    self.faces,
                    &w.hose_marks,
                    self.z(LABEL),
                ),
                self.cell(cols[5], or_dash(&w.tally), self.z(BODY)).say(self.faces, &since, self.z(LABEL)),
            ],
            self.ruled(),
        )
    }

    fn cautions(&self, flow: &mut Flow<'_>) {
        let all = Self::whole(flow);
        for caution in &self.view.cautions {
            flow.row(&[all], &Row::new(vec![self.cell(all, caution, self.z(SMALL))], PLAIN), &[]);
            flow.gap(1.5);
        }
    }
}

/// What is empty is shown as a dash: the reader sees that nothing was left out by the paper.
pub(super) fn or_dash(text: &str) -> &str {
    if text.is_empty() { "–" } else { text }
}
