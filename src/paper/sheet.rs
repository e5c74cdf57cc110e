//! A sheet: a list of marks with positions in points, the origin at the upper left, y downwards.
//!
//! Always holds: marks are drawn in order, later ones on top; text in a mark holds only characters
//! the typeface has (the one way to make text is [`crate::paper::face::Faces::safe`]).
//! Not here: how marks become PDF (`finish`).

/// The inks used. Few on purpose: the sheet must work on a grey printer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Text, frames.
    Black,
    /// Labels and secondary text: 4.5:1 on white and more.
    Grey,
    /// Hairlines.
    Line,
    /// Grounds of table heads.
    Pale,
    /// The word across a sheet that is not live.
    Ghost,
    /// Text on a dark ground.
    White,
    /// Live.
    Green,
    /// Stopped or refused.
    Red,
}

impl Ink {
    /// Red, green and blue, each 0 to 1, sRGB.
    pub fn rgb(self) -> (f32, f32, f32) {
        match self {
            Ink::Black => (0.0, 0.0, 0.0),
            Ink::Grey => (0.33, 0.33, 0.33),
            Ink::Line => (0.62, 0.62, 0.62),
            Ink::Pale => (0.92, 0.92, 0.92),
            Ink::Ghost => (0.86, 0.86, 0.86),
            Ink::White => (1.0, 1.0, 1.0),
            Ink::Green => (0.0, 0.36, 0.2),
            Ink::Red => (0.7, 0.04, 0.07),
        }
    }
}

/// The two weights that are embedded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Noto Sans Regular.
    Regular,
    /// Noto Sans Bold.
    Bold,
}

/// A point on the sheet, in points from the upper left corner.
pub type Spot = (f32, f32);

/// One thing drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// One line of text from its left end on the baseline.
    Text {
        /// Left end of the baseline.
        at: Spot,
        /// Size in points.
        size: f32,
        /// Weight.
        weight: Weight,
        /// Ink.
        ink: Ink,
        /// The text, safe.
        text: String,
        /// Width in points as set.
        width: f32,
        /// Direction of the baseline as (cosine, sine), counter-clockwise; (1, 0) is level.
        turn: (f32, f32),
    },
    /// A filled shape of one or more rings, non-zero winding.
    Fill {
        /// The rings, closed by themselves.
        rings: Vec<Vec<Spot>>,
        /// Ink.
        ink: Ink,
    },
    /// A stroked line.
    Stroke {
        /// The corners.
        points: Vec<Spot>,
        /// Whether the last corner joins the first.
        closed: bool,
        /// Width in points.
        width: f32,
        /// Ink.
        ink: Ink,
        /// Dashed instead of solid.
        dashed: bool,
    },
    /// What follows, until [`Mark::End`], is content of a node of the tree: its role, its number on this sheet.
    Begin {
        /// Role of the node.
        role: super::tree::Role,
        /// Number of the content on this sheet, from 0.
        number: usize,
    },
    /// End of such content.
    End,
}

impl Mark {
    /// A filled rectangle.
    pub fn rect(x: f32, y: f32, w: f32, h: f32, ink: Ink) -> Mark {
        Mark::Fill { rings: vec![vec![(x, y), (x + w, y), (x + w, y + h), (x, y + h)]], ink }
    }

    /// A straight solid line.
    pub fn line(from: Spot, to: Spot, width: f32, ink: Ink) -> Mark {
        Mark::Stroke { points: vec![from, to], closed: false, width, ink, dashed: false }
    }

    /// A stroked frame.
    pub fn frame(x: f32, y: f32, w: f32, h: f32, width: f32, ink: Ink) -> Mark {
        Mark::Stroke {
            points: vec![(x, y), (x + w, y), (x + w, y + h), (x, y + h)],
            closed: true,
            width,
            ink,
            dashed: false,
        }
    }
}

/// One page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// What is drawn, in order.
    pub marks: Vec<Mark>,
    /// The node of each content on it, by number.
    pub marked: Vec<usize>,
}
