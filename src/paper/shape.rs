//! Signs drawn as vectors, because the typeface has no ticks or boxes, and so that a state has a
//! shape and not only a colour or a word.
//!
//! Always holds: no two states and no two standings share a shape, and what is held looks like none of them.

use super::sheet::{Ink, Mark, Spot};
use crate::view::{Standing, StateWord};

/// A sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// How a step stands.
    Standing(Standing),
    /// State of the permit.
    State(StateWord),
    /// A live permit on whose air nobody may be put for now.
    Held,
    /// Look here: triangle with a bar and a dot.
    Warning,
}

/// Draws a sign into the square at `x`, `y` with this side. `ink` is the sign, `ground` what it
/// stands on (for the parts cut out of it).
pub fn draw(sign: Sign, x: f32, y: f32, side: f32, ink: Ink, ground: Ink) -> Vec<Mark> {
    let at = |u: f32, v: f32| (x + u * side, y + v * side);
    let fill = |spots: &[(f32, f32)], ink: Ink| Mark::Fill {
        rings: vec![spots.iter().map(|s| at(s.0, s.1)).collect::<Vec<Spot>>()],
        ink,
    };
    let stroke = |spots: &[(f32, f32)], closed: bool, width: f32, ink: Ink, dashed: bool| Mark::Stroke {
        points: spots.iter().map(|s| at(s.0, s.1)).collect(),
        closed,
        width: width * side,
        ink,
        dashed,
    };
    let square = [(0.06, 0.06), (0.94, 0.06), (0.94, 0.94), (0.06, 0.94)];
    let tick = [(0.2, 0.53), (0.42, 0.75), (0.81, 0.27)];
    let one = [(0.26, 0.26), (0.74, 0.74)];
    let two = [(0.74, 0.26), (0.26, 0.74)];
    // Regular octagon: corners at 1/(2+√2) of the side.
    let octagon = [
        (0.293, 0.0),
        (0.707, 0.0),
        (1.0, 0.293),
        (1.0, 0.707),
        (0.707, 1.0),
        (0.293, 1.0),
        (0.0, 0.707),
        (0.0, 0.293),
    ];
    match sign {
        Sign::Standing(Standing::Open) => vec![stroke(&tick, false, 0.15, ink, false)],
        Sign::Standing(Standing::Hold) => vec![
            fill(&square, ink),
            stroke(&one, false, 0.15, ground, false),
            stroke(&two, false, 0.15, ground, false),
        ],
        Sign::Standing(Standing::Waiting) => vec![stroke(&square, true, 0.1, ink, false)],
        Sign::Standing(Standing::NotApplicable) => {
            vec![stroke(&[(0.2, 0.5), (0.8, 0.5)], false, 0.12, ink, false)]
        }
        Sign::Standing(Standing::OutOfService) => vec![
            stroke(&square, true, 0.1, ink, false),
            stroke(&[(0.94, 0.06), (0.06, 0.94)], false, 0.1, ink, false),
        ],
        Sign::Standing(Standing::Deviation) => vec![
            stroke(&square, true, 0.1, ink, false),
            stroke(&[(0.22, 0.6), (0.4, 0.4), (0.6, 0.6), (0.78, 0.4)], false, 0.1, ink, false),
        ],
        Sign::State(StateWord::Live) => vec![fill(&square, ink), stroke(&tick, false, 0.14, ground, false)],
        Sign::State(StateWord::Draft) => vec![stroke(&square, true, 0.08, ink, true)],
        Sign::State(StateWord::Declared) => vec![
            stroke(&square, true, 0.08, ink, false),
            fill(&[(0.06, 0.5), (0.94, 0.5), (0.94, 0.94), (0.06, 0.94)], ink),
        ],
        Sign::State(StateWord::Suspended) => vec![
            fill(&octagon, ink),
            fill(&[(0.3, 0.22), (0.43, 0.22), (0.43, 0.78), (0.3, 0.78)], ground),
            fill(&[(0.57, 0.22), (0.7, 0.22), (0.7, 0.78), (0.57, 0.78)], ground),
        ],
        Sign::State(StateWord::HandedBack) => vec![
            stroke(&square, true, 0.08, ink, false),
            fill(&[(0.2, 0.43), (0.8, 0.43), (0.8, 0.57), (0.2, 0.57)], ink),
        ],
        Sign::State(StateWord::Closed) => {
            vec![fill(&square, ink), fill(&[(0.2, 0.43), (0.8, 0.43), (0.8, 0.57), (0.2, 0.57)], ground)]
        }
        Sign::State(StateWord::Refused) => {
            vec![fill(&octagon, ink), fill(&[(0.15, 0.4), (0.85, 0.4), (0.85, 0.6), (0.15, 0.6)], ground)]
        }
        Sign::State(StateWord::Cancelled) => vec![
            fill(&octagon, ink),
            stroke(&one, false, 0.14, ground, false),
            stroke(&two, false, 0.14, ground, false),
        ],
        Sign::State(StateWord::Lapsed) => vec![
            fill(&[(0.1, 0.02), (0.9, 0.02), (0.5, 0.5)], ink),
            fill(&[(0.5, 0.5), (0.9, 0.98), (0.1, 0.98)], ink),
        ],
        Sign::Held => vec![
            fill(&[(0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5)], ink),
            fill(&[(0.43, 0.2), (0.57, 0.2), (0.55, 0.6), (0.45, 0.6)], ground),
            fill(&[(0.44, 0.67), (0.56, 0.67), (0.56, 0.79), (0.44, 0.79)], ground),
        ],
        Sign::Warning => vec![
            fill(&[(0.5, 0.04), (1.0, 0.94), (0.0, 0.94)], ink),
            fill(&[(0.44, 0.34), (0.56, 0.34), (0.54, 0.68), (0.46, 0.68)], ground),
            fill(&[(0.44, 0.74), (0.56, 0.74), (0.56, 0.86), (0.44, 0.86)], ground),
        ],
    }
}
