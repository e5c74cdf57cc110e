//! Which way a value that is worked out errs to be safe, by the functions in it.

use super::Expression;
use super::functions::{self, Lean};
use super::tree::{Arithmetic, Kind, Node};
use crate::units::Rounding;

impl Expression {
    /// Which way it must be rounded so that it is never better than the truth, where a function in it says so and
    /// none says otherwise.
    pub fn leans(&self) -> Option<Rounding> {
        lean(self.node()).map(|lean| match lean {
            Lean::Down => Rounding::Down,
            Lean::Up => Rounding::Up,
        })
    }
}

fn lean(node: &Node) -> Option<Lean> {
    match &node.kind {
        Kind::Call(function, _) => functions::lean(function.name),
        Kind::Negate(inner) => lean(inner).map(Lean::turned),
        Kind::Arithmetic(Arithmetic::Plus, left, right) => both(lean(left), lean(right)),
        Kind::Arithmetic(Arithmetic::Minus, left, right) => both(lean(left), lean(right).map(Lean::turned)),
        Kind::Bool(_)
        | Kind::Quantity(_)
        | Kind::Date(_)
        | Kind::Span(..)
        | Kind::Id(_)
        | Kind::Name(_)
        | Kind::Not(_)
        | Kind::And(_)
        | Kind::Or(_)
        | Kind::Compare(..)
        | Kind::Between(..)
        | Kind::Arithmetic(..)
        | Kind::Wrong(_) => None,
    }
}

fn both(one: Option<Lean>, other: Option<Lean>) -> Option<Lean> {
    match (one, other) {
        (Some(a), Some(b)) => (a == b).then_some(a),
        (one, other) => one.or(other),
    }
}
