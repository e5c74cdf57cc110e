//! The gate language: a small typed language of conditions and of values worked out from answers.
//!
//! In: source text and a [`Scope`] when a file is read; [`Facts`] when it is judged. Out: problems
//! with their place, all at once; then [`Verdict`]s in words with numbers.
//! Always: what parses is fully typed, so judging cannot fail on a kind of value; numbers are exact;
//! judging is three-valued and tells everything that failed or lacks; only [`Verdict::Open`] passes.
//! Not here: where names come from (`checklist`), the arithmetic of air, who may act on a verdict.
//!
//! Grammar, loosest first:
//!
//! ```text
//! or      and { "or" and }
//! and     not { "and" not }
//! not     "not" not | compare
//! compare sum [ ("==" | "!=" | "<" | "<=" | ">" | ">=") sum | "between" sum "and" sum ]
//! sum     product { ("+" | "-") product }
//! product signed { ("*" | "/") signed }
//! signed  "-" signed | value
//! value   150 bar | 3 | 2026-11-25 | 3 months | "with_arrow" | true | false | name | function "(" ... ")" | "(" or ")"
//! ```
//!
//! Functions: `least most sum count` of a list by its name; `all any` of a condition in which lists
//! stand for each item's value, so that `all(guards_on)` reads a list of yes/no answers and
//! `all(valve == "open" and reserve >= 150 bar)` asks it of each item; `given(x)`;
//! `given(x, LITERAL)`; `absolute(gauge, site.ambient_pressure)`.
//!
//! `given(x)`: yes if x has a value, no if it is not applicable or is a field that the file in force
//! leaves out. A *step* that is not answered yet is unknown in both forms of `given`: a default
//! must not stand in for a reading that somebody is about to take.

mod api;
mod check;
mod contradict;
mod direction;
mod functions;
mod idle;
mod judge;
mod lean;
mod parse;
mod possible;
mod range;
mod token;
mod tree;
mod vocabulary;
mod words;

pub use api::{Expression, Gate, Margin, Used};
pub use direction::Direction;
pub use functions::endurance;
pub use idle::Chosen;
pub use possible::{Possible, Ranges};
pub use vocabulary::{CODES, reserved};
pub use words::Labels;

use crate::units::{Dimension, Quantity};
use jiff::civil::Date;

/// The type of an expression.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Type {
    /// open or shut
    Bool,
    /// One of these choices (ids), belonging to one step or field named by `of`.
    Choice {
        /// The step or field the choices belong to, e.g. `rotation` or `set.reserve`.
        of: String,
        /// The ids offered.
        offered: Vec<String>,
    },
    /// A calendar date.
    Date,
    /// Whole months and days.
    Span,
    /// A quantity; `Dimension::Number` is a plain number.
    Quantity(Dimension),
    /// Text: stands only in `given(x)`.
    Text,
    /// A list.
    List(Box<Type>),
}

/// A dotted name as written: `["set","reserve_minimum"]`.
pub type Name = Vec<String>;

/// What a scope knows of a name when a file is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Known {
    /// Its type.
    pub ty: Type,
    /// True: it may be not applicable where this expression stands (other `when`), so it may only
    /// stand in a fold or in `given`.
    pub conditional: bool,
    /// What a list of items runs over (`cylinders`), for messages such as "there is no cylinder".
    pub over: Option<String>,
}

/// Why a name cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Missed {
    /// Nothing has this name; the nearest that exists.
    NoSuchName {
        /// The nearest name that exists.
        nearest: Option<String>,
    },
    /// It exists, but not here: forward reference, `item.` outside `each`. In words.
    NotHere(String),
}

/// Names and types, asked when a file is read.
pub trait Scope {
    /// Type of a name or why it cannot be used.
    fn look_up(&self, name: &Name) -> Result<Known, Missed>;
}

/// A value at judging time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// true or false
    Bool(bool),
    /// A choice's id.
    Choice(String),
    /// A date.
    Date(Date),
    /// Months and days.
    Span {
        /// whole months
        months: i32,
        /// whole days
        days: i32,
    },
    /// A quantity or number.
    Quantity(Quantity),
    /// Text.
    Text(String),
}

/// What is known of a name when a gate is judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fact {
    /// A value.
    Is {
        /// The value.
        value: Value,
        /// As people see it, with the unit it was entered in: `138 bar`.
        shown: String,
        /// What it is, in words for explanations: `Gauge of cylinder B`.
        label: String,
    },
    /// A reading below the instrument's lowest mark: anything from `from` up to (not including) `mark`.
    Below {
        /// Least possible value (inclusive).
        from: Quantity,
        /// The mark (exclusive).
        mark: Quantity,
        /// As shown: `< 2 ppm`.
        shown: String,
        /// What it is, in words.
        label: String,
    },
    /// Not known; why, in words ("not answered yet: Gauge of cylinder B").
    Unknown(String),
    /// Not applicable.
    NotApplicable,
    /// A list; each entry with its item's name. Items out of service have been left out already.
    List(Vec<(String, Fact)>),
}

/// Facts, asked when a gate is judged.
pub trait Facts {
    /// What is known of a name.
    fn fact(&self, name: &Name) -> Fact;
    /// The site's date.
    fn today(&self) -> Date;
    /// How a choice of a name is worded for people; `None`: its id in words.
    fn choice(&self, _name: &Name, _id: &str) -> Option<String> {
        None
    }
}

/// What came of judging. Only `Open` passes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The condition holds.
    Open,
    /// It does not; every reason, in words with numbers.
    Shut(Vec<String>),
    /// It cannot be said; everything that lacks.
    Unknown(Vec<String>),
}

/// Something wrong with the source of an expression: code, byte range in the source, words, hint.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Stable code (as in `Finding::code`).
    pub code: &'static str,
    /// Byte offset in the source where it starts.
    pub at: usize,
    /// In words.
    pub message: String,
    /// What to write instead.
    pub hint: Option<String>,
}

#[cfg(test)]
mod tests;
