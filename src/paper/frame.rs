//! What stands on every sheet of a permit or of its card: border and word across it when the permit is not live, running
//! head, foot.
//!
//! Always holds: the border is a shape (stripes), so it says the same in grey; the word across the
//! sheet comes from the state, not from a text.

use super::PaperSize;
use super::cell::{Col, Style, set};
use super::face::Faces;
use super::flow::Body;
use super::labels;
use super::shape::{self, Sign};
use super::sheet::{Ink, Mark, Sheet, Weight};
use crate::tongue::say;
use crate::view::StateWord;

/// From the edge of the paper to the striped border: inside what printers can print.
const EDGE: f32 = 14.0;
/// Width of the striped border.
const BAND: f32 = 9.0;
const MARGIN: f32 = 36.0;
const FOOT: Style = Style::new(7.0, Weight::Regular, Ink::Black);
const FOOT_STRONG: Style = Style::new(7.0, Weight::Bold, Ink::Black);

/// What every sheet says of itself.
#[derive(Clone, Copy)]
pub struct Frame<'a> {
    /// The typeface.
    pub faces: &'a Faces,
    /// State; none where there is no permit.
    pub state: Option<StateWord>,
    /// Live, and nobody may be put on this air for now.
    pub held: bool,
    /// State in large words.
    pub state_words: &'a str,
    /// Which permit, or what it is where there is none.
    pub number: &'a str,
    /// What kind of sheet, after the number; or empty.
    pub kind: &'a str,
    /// What the permit is not.
    pub not: &'a str,
    /// The last line known and its time in words, or empty.
    pub as_of: &'a str,
}

impl Frame<'_> {
    /// True while people may be put on this air.
    pub fn live(&self) -> bool {
        self.state == Some(StateWord::Live) && !self.held
    }

    /// The shape of the state.
    pub fn sign(&self) -> Option<Sign> {
        self.state.map(|state| if self.held { Sign::Held } else { Sign::State(state) })
    }

    /// The one word for the state.
    pub fn word(&self) -> &'static str {
        match self.state {
            Some(_) if self.held => labels::held(),
            Some(state) => labels::state(state),
            None => "",
        }
    }

    /// The ink of the state.
    pub fn ink(&self) -> Ink {
        match self.state {
            Some(StateWord::Live) if !self.held => Ink::Green,
            Some(StateWord::Live) => Ink::Red,
            Some(StateWord::Suspended | StateWord::Refused | StateWord::Cancelled) => Ink::Red,
            Some(
                StateWord::Draft
                | StateWord::Declared
                | StateWord::HandedBack
                | StateWord::Closed
                | StateWord::Lapsed,
            )
            | None => Ink::Black,
        }
    }
}

/// Edges of the body.
pub fn body(size: PaperSize) -> Body {
    let (w, h) = size.points();
    Body { left: MARGIN, right: w - MARGIN, first_top: 32.0, top: 58.0, bottom: h - 56.0 }
}

/// Backdrop of every sheet, and running head of all but the first.
pub fn around(frame: &Frame<'_>, size: PaperSize, body: Body) -> (Vec<Mark>, Vec<Mark>) {
    let mut backdrop = Vec::new();
    if frame.state.is_some() && !frame.live() {
        backdrop.extend(across(frame, size));
        backdrop.extend(border(frame.ink(), size));
    }
    let mut head = Vec::new();
    let top = 33.0;
    let ground = Ink::White;
    if let Some(sign) = frame.sign() {
        head.extend(shape::draw(sign, body.left, top, 13.0, frame.ink(), ground));
    }
    let style = Style::new(11.0, Weight::Bold, frame.ink());
    let half = body.width() / 2.0;
    let left = Col { x: body.left + 19.0, w: half - 19.0 };
    let right = Col { x: body.left + half, w: half };
    let words = frame.faces.clip(frame.state_words, style.cut, left.w - 8.0);
    let number = frame.faces.clip(frame.number, style.cut, right.w);
    head.extend(set(frame.faces, &words, style, left, top - 0.3));
    head.extend(set(frame.faces, &number, style.ink(Ink::Black).right(), right, top - 0.3));
    head.push(Mark::line((body.left, top + 17.0), (body.right, top + 17.0), 1.2, Ink::Black));
    (backdrop, head)
}

/// Foot of every sheet, once their number is known.
pub fn feet(frame: &Frame<'_>, size: PaperSize, body: Body, sheets: &mut [Sheet]) {
    let (_, h) = size.points();
    let top = h - 50.0;
    let of = sheets.len();
    let third = body.width() / 3.0;
    for (n, sheet) in sheets.iter_mut().enumerate() {
        let marks = &mut sheet.marks;
        marks.push(Mark::line((body.left, top), (body.right, top), 0.8, Ink::Black));
        let parts = [frame.number, frame.word(), frame.kind];
        let state = parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(" · ");
        let wide = Col { x: body.left, w: 2.0 * third };
        let side = Col { x: body.left + 2.0 * third, w: third };
        let state = frame.faces.clip(&state, FOOT_STRONG.cut, wide.w);
        // It gets what room the last line known leaves: in some languages it is long, and none of it may be cut off.
        let room = body.width() - frame.faces.width(frame.as_of, FOOT.cut) - 12.0;
        let not = frame.faces.clip(frame.not, FOOT.cut, room);
        let mut line = |text: &str, style: Style, col: Col, y: f32| {
            marks.extend(set(frame.faces, text, style, col, y));
        };
        line(&state, FOOT_STRONG, wide, top + 3.0);
        line(&not, FOOT, Col { w: room, ..wide }, top + 12.5);
        line(&say!("page {n} of {pages}", n = n + 1, pages = of), FOOT_STRONG.right(), side, top + 3.0);
        line(frame.as_of, FOOT.right(), side, top + 12.5);
    }
}

/// The state along the rising diagonal, pale enough to read over.
fn across(frame: &Frame<'_>, size: PaperSize) -> Option<Mark> {
    let (w, h) = size.points();
    let diagonal = (w * w + h * h).sqrt();
    let (c, s) = (w / diagonal, h / diagonal);
    let text = frame.word();
    let at_one = frame.faces.width(text, Style::new(1.0, Weight::Bold, Ink::Ghost).cut);
    let size = (diagonal * 0.72 / at_one).min(130.0);
    let width = at_one * size;
    // Back half the width along the baseline, down half the height of capitals across it.
    let (along, down) = (width / 2.0, size * 0.357);
    let at = (w / 2.0 - c * along + s * down, h / 2.0 + s * along + c * down);
    Some(Mark::Text {
        at,
        size,
        weight: Weight::Bold,
        ink: Ink::Ghost,
        text: text.to_string(),
        width,
        turn: (c, s),
    })
}

/// Slanted stripes around the sheet.
fn border(ink: Ink, size: PaperSize) -> Vec<Mark> {
    let (w, h) = size.points();
    let (x0, y0, x1, y1) = (EDGE, EDGE, w - EDGE, h - EDGE);
    let mut rings = Vec::new();
    for (start, end, flat) in [(x0, x1, true), (y0 + BAND, y1 - BAND, false)] {
        // A whole number of stripes, so that the corners are alike.
        let pairs = ((end - start - BAND) / (2.0 * BAND)).floor().max(1.0);
        let step = (end - start - BAND) / (2.0 * pairs);
        for n in 0..=(pairs as usize) {
            let a = start + 2.0 * step * n as f32;
            let b = (a + step).min(end - BAND);
            if b - a < 0.5 {
                continue;
            }
            for (near, far) in
                if flat { [(y0, y0 + BAND), (y1 - BAND, y1)] } else { [(x0, x0 + BAND), (x1 - BAND, x1)] }
            {
                let ring = [(a, far), (b, far), (b + BAND, near), (a + BAND, near)];
                rings.push(if flat { ring.to_vec() } else { ring.iter().map(|p| (p.1, p.0)).collect() });
            }
        }
    }
    // One winding for all rings: the mirrored ones run the other way, which non-zero allows.
    let inner = EDGE + BAND;
    vec![
        Mark::Fill { rings, ink },
        Mark::frame(x0, y0, x1 - x0, y1 - y0, 0.8, ink),
        Mark::frame(inner, inner, w - 2.0 * inner, h - 2.0 * inner, 0.8, ink),
    ]
}
