//! Pictures: drawn as lines and areas, labelled where they are, told apart by shape and not by colour.
//!
//! Always holds: nothing beyond the body; words that do not fit in a picture are cut there, and stand whole in the words of
//! the paper and in the alternative text. Not here: what is shown (`show`).

use super::{LABEL, Page, SMALL, STRONG};
use crate::paper::cell::{Col, Dress, Part, Row, Style, real_signs, set};
use crate::paper::face::Faces;
use crate::paper::flow::Flow;
use crate::paper::sheet::{Ink, Mark, Weight};
use crate::tongue::say;
use crate::view::{Bar, Fall, Lane, Moment, Picture, Shows};

const PLAIN: Dress = super::PLAIN;
/// Words over the day.
const WORD: Style = Style::new(7.0, Weight::Bold, Ink::Black);
/// High of a row of bars.
const ROW: f32 = 20.0;
/// High of a lane of the day.
const LANE: f32 = 13.0;
/// Rows for words over the day, at most.
const ROWS: usize = 6;
const COLUMNS: f32 = 110.0;
const ROUND: f32 = 52.0;

/// Their title.
pub fn title() -> &'static str {
    say!("In pictures")
}

/// All pictures under their title.
pub fn pictures(page: &Page<'_>, flow: &mut Flow<'_>) {
    if page.view.pictures.is_empty() {
        return;
    }
    let all = Page::whole(flow);
    let first = page.view.pictures.first().map_or(0.0, |p| high(page, p, all));
    flow.keep(first + 60.0);
    flow.row(&[all], &page.title(all, title()), &[]);
    for p in &page.view.pictures {
        let title = page.cell(all, &p.title, STRONG);
        let title = Row::new(vec![title], Dress { pad: 3.0, ..PLAIN }).part(Part::Heading(3));
        let high = high(page, p, all);
        flow.keep(title.height() + high);
        flow.row(&[all], &title, &[]);
        let draw = Draw { faces: page.faces, x: all.x, w: all.w, y: flow.y };
        let marks = match &p.shows {
            Shows::Bars(bars) => draw.bars(bars),
            Shows::Columns { each, planned, there } => {
                draw.columns(each, *planned, there, say!("wearers on this air"))
            }
            Shows::Times { from, to, ticks, lanes, moments } => {
                draw.times((*from, *to), ticks, lanes, moments, say!("readings"))
            }
            Shows::Around { wind, wind_words, exhaust, exhaust_words, words } => {
                draw.around((*wind, wind_words), (*exhaust, exhaust_words), words)
            }
            Shows::Falls(falls) => draw.falls(falls),
        };
        flow.figure(&p.alt, (all.x, flow.y, all.x + all.w, flow.y + high), marks);
        flow.y += high;
        flow.gap(8.0);
    }
    flow.gap(4.0);
}

fn high(page: &Page<'_>, p: &Picture, all: Col) -> f32 {
    match &p.shows {
        Shows::Bars(bars) => bars.len() as f32 * ROW + 4.0,
        Shows::Columns { .. } => COLUMNS + 30.0,
        Shows::Times { from, to, lanes, moments, .. } => {
            let draw = Draw { faces: page.faces, x: all.x, w: all.w, y: 0.0 };
            let (rows, _) = draw.placed((*from, *to), moments);
            rows as f32 * 9.0 + (lanes.len() + 1) as f32 * LANE + 24.0
        }
        Shows::Around { .. } => 2.0 * ROUND + 24.0,
        Shows::Falls(falls) => falls.len() as f32 * ROW + 14.0,
    }
}

/// Where a picture is drawn.
struct Draw<'a> {
    faces: &'a Faces,
    x: f32,
    w: f32,
    y: f32,
}

/// How wide the names at the left are.
const NAMES: f32 = 118.0;
/// How wide the figures at the right are.
const FIGURES: f32 = 176.0;

impl Draw<'_> {
    fn say(&self, text: &str, style: Style, x: f32, w: f32, y: f32) -> Option<Mark> {
        let text = self.faces.clip(&real_signs(text), style.cut, w);
        set(self.faces, &text, style, Col { x, w }, y)
    }

    /// How wide a text is as [`Draw::say`] sets it.
    fn long(&self, text: &str, style: Style, w: f32) -> f32 {
        self.faces.width(&self.faces.clip(&real_signs(text), style.cut, w), style.cut)
    }

    /// The area between names and figures.
    fn area(&self) -> (f32, f32) {
        (self.x + NAMES + 8.0, self.w - NAMES - FIGURES - 16.0)
    }

    fn bars(&self, bars: &[Bar]) -> Vec<Mark> {
        let (left, wide) = self.area();
        // The limit stands at four fifths, so that what is beyond it is seen.
        let full = wide * 0.8;
        let mut out = Vec::new();
        for (n, b) in bars.iter().enumerate() {
            let top = self.y + n as f32 * ROW;
            let share = if b.share.is_finite() { b.share.clamp(0.0, 1.25) } else { 1.25 };
            out.extend(self.say(&b.label, STRONG, self.x, NAMES, top + 2.0));
            if b.within {
                let mid = top + 7.5;
                out.push(Mark::line((left, mid), (left + full, mid), 0.6, Ink::Black));
                out.push(Mark::line((left, top + 2.0), (left, top + 13.0), 1.2, Ink::Black));
                let at = left + full * share;
                out.push(Mark::Fill {
                    rings: vec![vec![(at, mid - 4.5), (at + 4.5, mid), (at, mid + 4.5), (at - 4.5, mid)]],
                    ink: Ink::Black,
                });
            } else {
                out.push(Mark::rect(
                    left,
                    top + 3.0,
                    (full * share).max(0.6),
                    9.0,
                    if b.met { Ink::Line } else { Ink::Black },
                ));
                out.push(Mark::line((left, top + 1.0), (left, top + 14.0), 0.6, Ink::Black));
            }
            out.push(Mark::line((left + full, top + 1.0), (left + full, top + 14.0), 1.2, Ink::Black));
            let x = left + wide + 8.0;
            out.extend(self.say(&b.value, STRONG, x, FIGURES, top));
            out.extend(self.say(&b.wanted, LABEL, x, FIGURES, top + 9.0));
        }
        out
    }

    fn columns(
        &self,
        each: &[(f32, String)],
        planned: usize,
        there: &(f32, String),
        axis: &str,
    ) -> Vec<Mark> {
        let mut out = Vec::new();
        let bar = |v: f32| if v.is_finite() { v.clamp(0.0, 1000.0) } else { 0.0 };
        let there = &(bar(there.0), &there.1);
        let most = each.iter().map(|e| bar(e.0)).fold(there.0, f32::max).max(1.0) * 1.12;
        let base = self.y + COLUMNS + 10.0;
        let scale = COLUMNS / most;
        let step = ((self.w - 150.0) / each.len().max(1) as f32).min(70.0);
        let wide = step * 0.5;
        let left = self.x + 8.0;
        let right = left + step * each.len() as f32 + 8.0;
        for (n, (high, words)) in each.iter().enumerate() {
            let x = left + n as f32 * step + (step - wide) / 2.0;
            let tall = (bar(*high) * scale).max(0.6);
            let own = Some(n) == planned.checked_sub(1);
            out.push(Mark::rect(x, base - tall, wide, tall, if own { Ink::Line } else { Ink::White }));
            out.push(Mark::frame(x, base - tall, wide, tall, if own { 1.4 } else { 0.6 }, Ink::Black));
            let style = if own { STRONG } else { SMALL };
            let middle = |text: &str| (step - self.faces.width(text, style.cut)).max(0.0) / 2.0;
            let word = self.faces.clip(words, style.cut, step);
            // Inside the column where the line of what is there would cross the words.
            let over = base - tall - 11.0;
            let line = base - there.0 * scale;
            let y = if (over - 2.0..over + 12.0).contains(&line) && tall > 14.0 {
                base - tall + 2.0
            } else {
                over
            };
            out.extend(set(
                self.faces,
                &word,
                style,
                Col { x: left + n as f32 * step + middle(&word), w: step },
                y,
            ));
            let count = (n + 1).to_string();
            out.extend(set(
                self.faces,
                &count,
                style,
                Col { x: left + n as f32 * step + middle(&count), w: step },
                base + 2.0,
            ));
        }
        out.push(Mark::line((left, base), (right, base), 1.0, Ink::Black));
        let at = base - there.0 * scale;
        out.push(Mark::Stroke {
            points: vec![(left, at), (right + 4.0, at)],
            closed: false,
            width: 1.2,
            ink: Ink::Black,
            dashed: true,
        });
        // Above the axis and its words, however little is there.
        let y = (at - 6.0).min(base - 14.0);
        out.extend(self.say(there.1, STRONG, right + 8.0, self.x + self.w - right - 8.0, y));
        out.extend(self.say(axis, LABEL, right + 8.0, self.x + self.w - right - 8.0, base + 2.0));
        out
    }

    fn falls(&self, falls: &[Fall]) -> Vec<Mark> {
        let (left, wide) = self.area();
        let bar = |v: f32| if v.is_finite() { v.clamp(0.0, 1000.0) } else { 0.0 };
        let most = falls.iter().map(|f| bar(f.set.0).max(bar(f.least.0))).fold(0.1, f32::max) * 1.05;
        let at = |v: f32| left + wide * (bar(v) / most).clamp(0.0, 1.0);
        let mut out = Vec::new();
        for (n, f) in falls.iter().enumerate() {
            let top = self.y + n as f32 * ROW;
            out.extend(self.say(&f.label, STRONG, self.x, NAMES, top + 2.0));
            // From the set down to the mask; the least as a line that it must not reach.
            out.push(Mark::Fill {
                rings: vec![vec![
                    (at(f.mask.0), top + 7.5),
                    (at(f.set.0), top + 2.5),
                    (at(f.set.0), top + 12.5),
                ]],
                ink: Ink::Line,
            });
            out.push(Mark::line((at(f.set.0), top + 1.0), (at(f.set.0), top + 14.0), 1.2, Ink::Black));
            out.push(Mark::Fill {
                rings: vec![vec![
                    (at(f.mask.0), top + 3.0),
                    (at(f.mask.0) + 4.5, top + 7.5),
                    (at(f.mask.0), top + 12.0),
                    (at(f.mask.0) - 4.5, top + 7.5),
                ]],
                ink: Ink::Black,
            });
            out.push(Mark::Stroke {
                points: vec![(at(f.least.0), top + 1.0), (at(f.least.0), top + 14.0)],
                closed: false,
                width: 1.2,
                ink: Ink::Black,
                dashed: true,
            });
            out.push(Mark::line((left, top + 7.5), (left + wide, top + 7.5), 0.3, Ink::Grey));
            let x = left + wide + 8.0;
            let mask = say!("mask {pressure}", pressure = f.mask.1);
            out.extend(self.say(&mask, STRONG, x, FIGURES, top));
            let rest = say!("least {least}, set {pressure}", least = f.least.1, pressure = f.set.1);
            out.extend(self.say(&rest, LABEL, x, FIGURES, top + 9.0));
        }
        out
    }

    fn around(
        &self,
        (wind, wind_words): (f32, &String),
        (exhaust, exhaust_words): (f32, &String),
        words: &[String],
    ) -> Vec<Mark> {
        let compass = [say!("N"), say!("E"), say!("S"), say!("W")];
        let (cx, cy) = (self.x + ROUND + 24.0, self.y + ROUND + 12.0);
        let spot = |degrees: f32, r: f32| {
            let a = if degrees.is_finite() { degrees.rem_euclid(360.0).to_radians() } else { 0.0 };
            (cx + r * a.sin(), cy - r * a.cos())
        };
        let ring = (0..72).map(|n| spot(n as f32 * 5.0, ROUND)).collect();
        let mut out =
            vec![Mark::Stroke { points: ring, closed: true, width: 0.6, ink: Ink::Grey, dashed: false }];
        for (n, letter) in compass.into_iter().enumerate() {
            let (x, y) = spot(n as f32 * 90.0, ROUND + 7.0);
            let wide = self.faces.width(letter, LABEL.cut);
            out.extend(set(self.faces, letter, LABEL, Col { x: x - wide / 2.0, w: 20.0 }, y - 4.4));
        }
        // The intake.
        out.push(Mark::frame(cx - 5.0, cy - 5.0, 10.0, 10.0, 1.4, Ink::Black));
        out.push(Mark::line((cx - 5.0, cy), (cx + 5.0, cy), 0.8, Ink::Black));
        out.push(Mark::line((cx, cy - 5.0), (cx, cy + 5.0), 0.8, Ink::Black));
        // The wind blows from the rim over the intake.
        let arrow = |from: (f32, f32), to: (f32, f32)| {
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let long = dx.hypot(dy).max(0.1);
            let (ux, uy) = (dx / long, dy / long);
            let back = (to.0 - 8.0 * ux, to.1 - 8.0 * uy);
            [
                Mark::line(from, back, 1.6, Ink::Black),
                Mark::Fill {
                    rings: vec![vec![
                        to,
                        (back.0 - 4.0 * uy, back.1 + 4.0 * ux),
                        (back.0 + 4.0 * uy, back.1 - 4.0 * ux),
                    ]],
                    ink: Ink::Black,
                },
            ]
        };
        out.extend(arrow(spot(wind, ROUND - 2.0), spot(wind, 12.0)));
        // The exhaust: a square, with a dashed line to the intake.
        let at = spot(exhaust, ROUND * 0.72);
        out.push(Mark::Stroke {
            points: vec![spot(exhaust, 8.0), at],
            closed: false,
            width: 0.8,
            ink: Ink::Black,
            dashed: true,
        });
        out.push(Mark::rect(at.0 - 4.0, at.1 - 4.0, 8.0, 8.0, Ink::Black));
        // What the signs are, beside it.
        let x = cx + ROUND + 40.0;
        let w = self.x + self.w - x - 24.0;
        let mut y = self.y + 14.0;
        out.extend(arrow((x, y + 5.5), (x + 18.0, y + 5.5)));
        out.extend(self.say(wind_words, STRONG, x + 24.0, w, y));
        y += 16.0;
        out.push(Mark::rect(x + 5.0, y + 1.5, 8.0, 8.0, Ink::Black));
        out.extend(self.say(exhaust_words, STRONG, x + 24.0, w, y));
        y += 16.0;
        out.push(Mark::frame(x + 4.0, y + 0.5, 10.0, 10.0, 1.4, Ink::Black));
        for more in words {
            out.extend(self.say(more, SMALL, x + 24.0, w, y));
            y += 11.0;
        }
        out
    }

    /// The area of the day.
    fn span(&self) -> (f32, f32) {
        (self.x + NAMES + 8.0, self.w - NAMES - 12.0)
    }

    fn at(&self, (from, to): (i64, i64), t: i64) -> f32 {
        let (left, wide) = self.span();
        let (since, whole) = (i128::from(t) - i128::from(from), i128::from(to) - i128::from(from));
        left + wide * (since as f32 / whole.max(1) as f32).clamp(0.0, 1.0)
    }

    /// In which row the words of each moment stand, and where; `None` where there is no room, or nothing to say.
    fn placed(&self, span: (i64, i64), moments: &[Moment]) -> (usize, Vec<Option<(usize, f32)>>) {
        let (left, wide) = self.span();
        let mut ends: Vec<f32> = Vec::new();
        let place = |m: &Moment| {
            if m.words.is_empty() {
                return None;
            }
            let long = self.long(&m.words, WORD, wide);
            let x = self.at(span, m.at).min(left + wide - long).max(left);
            let row = ends.iter().position(|end| *end + 4.0 <= x);
            let row = match row {
                Some(row) => row,
                None if ends.len() < ROWS => {
                    ends.push(f32::NEG_INFINITY);
                    ends.len() - 1
                }
                None => return None,
            };
            if let Some(end) = ends.get_mut(row) {
                *end = x + long;
            }
            Some((row, x))
        };
        let all: Vec<Option<(usize, f32)>> = moments.iter().map(place).collect();
        (ends.len(), all)
    }

    fn times(
        &self,
        span: (i64, i64),
        ticks: &[(i64, String)],
        lanes: &[Lane],
        moments: &[Moment],
        readings: &str,
    ) -> Vec<Mark> {
        let (rows, placed) = self.placed(span, moments);
        let (left, wide) = self.span();
        let top = self.y + rows as f32 * 9.0 + 2.0;
        let bottom = top + (lanes.len() + 1) as f32 * LANE;
        let mut out = Vec::new();
        let mut taken: Vec<(f32, f32)> = Vec::new();
        for (t, words) in ticks {
            let x = self.at(span, *t);
            out.push(Mark::line((x, top), (x, bottom + 3.0), 0.3, Ink::Line));
            let half = self.long(words, LABEL, wide) / 2.0;
            let x = (x - half).min(left + wide - 2.0 * half).max(left);
            let free = taken.iter().all(|(a, b)| x > b + 3.0 || x + 2.0 * half + 3.0 < *a);
            if free {
                taken.push((x, x + 2.0 * half));
                out.extend(self.say(words, LABEL, x, left + wide - x + 0.01, bottom + 4.0));
            }
        }
        for (n, lane) in lanes.iter().enumerate() {
            let y = top + n as f32 * LANE;
            out.extend(self.say(&lane.label, SMALL, self.x, NAMES, y + 1.5));
            for s in &lane.spans {
                let (a, b) = (self.at(span, s.from), self.at(span, s.to));
                // Inside is full and black; outside on air is a frame.
                if s.inside {
                    out.push(Mark::rect(a, y + 2.0, (b - a).max(0.8), LANE - 4.0, Ink::Black));
                } else {
                    out.push(Mark::frame(a, y + 2.4, (b - a).max(0.8), LANE - 4.8, 0.8, Ink::Black));
                }
            }
        }
        let y = top + lanes.len() as f32 * LANE;
        out.extend(self.say(readings, LABEL, self.x, NAMES, y + 2.0));
        for (m, place) in moments.iter().zip(&placed) {
            let x = self.at(span, m.at);
            if m.words.is_empty() {
                out.push(Mark::line((x, y + 2.5), (x, y + LANE - 2.0), 0.8, Ink::Black));
                continue;
            }
            out.push(Mark::Stroke {
                points: vec![(x, top - 1.0), (x, bottom)],
                closed: false,
                width: 0.6,
                ink: Ink::Black,
                dashed: true,
            });
            if let Some((row, at)) = place {
                let room = left + wide - *at;
                out.extend(self.say(&m.words, WORD, *at, room + 0.01, self.y + *row as f32 * 9.0));
            }
        }
        out.push(Mark::line((left, bottom), (left + wide, bottom), 0.8, Ink::Black));
        out
    }
}
