//! What stands on every sheet: border and word across it when the permit is not live, running head,
//! foot.
//!
//! Always holds: the border is a shape (stripes), so it says the same in grey; the word across the
//! sheet comes from the state, not from a text.

use super::Page;
use crate::paper::PaperSize;
use crate::paper::cell::{Col, Style, set};
use crate::paper::flow::Body;
use crate::paper::shape::{self, Sign};
use crate::paper::sheet::{Ink, Mark, Sheet, Weight};

/// From the edge of the paper to the striped border: inside what printers can print.
const EDGE: f32 = 14.0;
/// Width of the striped border.
const BAND: f32 = 9.0;
const MARGIN: f32 = 36.0;
const FOOT: Style = Style::new(7.0, Weight::Regular, Ink::Black);
const FOOT_STRONG: Style = Style::new(7.0, Weight::Bold, Ink::Black);

/// Edges of the body.
pub fn body(size: PaperSize) -> Body {
    let (w, h) = size.points();
    Body { left: MARGIN, right: w - MARGIN, first_top: 32.0, top: 58.0, bottom: h - 56.0 }
}

/// Backdrop of every sheet, and running head of all but the first.
pub fn around(page: &Page<'_>, size: PaperSize, body: Body) -> (Vec<Mark>, Vec<Mark>) {
    let mut backdrop = Vec::new();
    if !page.live {
        backdrop.extend(across(page, size));
        backdrop.extend(border(page.ink(), size));
    }
    let mut head = Vec::new();
    let top = 33.0;
    let ground = Ink::White;
    head.extend(shape::draw(Sign::State(page.view.state), body.left, top, 13.0, page.ink(), ground));
    let style = Style::new(11.0, Weight::Bold, page.ink());
    let half = body.width() / 2.0;
    let left = Col { x: body.left + 19.0, w: half - 19.0 };
    let right = Col { x: body.left + half, w: half };
    let words = page.faces.clip(&page.view.state_words, style.cut, left.w - 8.0);
    let number = page.faces.clip(&page.view.number, style.cut, right.w);
    head.extend(set(page.faces, &words, style, left, top - 0.3));
    head.extend(set(page.faces, &number, style.ink(Ink::Black).right(), right, top - 0.3));
    head.push(Mark::line((body.left, top + 17.0), (body.right, top + 17.0), 1.2, Ink::Black));
    (backdrop, head)
}

/// Foot of every sheet, once their number is known.
pub fn feet(page: &Page<'_>, size: PaperSize, body: Body, sheets: &mut [Sheet]) {
    let (_, h) = size.points();
    let top = h - 50.0;
    let of = sheets.len();
    let third = body.width() / 3.0;
    for (n, sheet) in sheets.iter_mut().enumerate() {
        let marks = &mut sheet.marks;
        marks.push(Mark::line((body.left, top), (body.right, top), 0.8, Ink::Black));
        let state = format!("{} · {}", page.view.number, page.words.state(page.view.state));
        let wide = Col { x: body.left, w: 2.0 * third };
        let side = Col { x: body.left + 2.0 * third, w: third };
        let state = page.faces.clip(&state, FOOT_STRONG.cut, wide.w);
        let not = page.faces.clip(&page.view.not_an_entry_permit, FOOT.cut, wide.w);
        let mut line = |text: &str, style: Style, col: Col, y: f32| {
            marks.extend(set(page.faces, text, style, col, y));
        };
        line(&state, FOOT_STRONG, wide, top + 3.0);
        line(&not, FOOT, wide, top + 12.5);
        line(
            &format!("{} {} {} {of}", page.words.page[0], n + 1, page.words.page[1]),
            FOOT_STRONG.right(),
            side,
            top + 3.0,
        );
        line(&format!("{} {}", page.words.as_of, page.view.as_of), FOOT.right(), side, top + 12.5);
    }
}

/// The state along the rising diagonal, pale enough to read over.
fn across(page: &Page<'_>, size: PaperSize) -> Option<Mark> {
    let (w, h) = size.points();
    let diagonal = (w * w + h * h).sqrt();
    let (c, s) = (w / diagonal, h / diagonal);
    let text = page.words.state(page.view.state);
    let at_one = page.faces.width(text, Style::new(1.0, Weight::Bold, Ink::Ghost).cut);
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
