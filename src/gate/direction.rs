//! Whether larger values of a name help a condition or hurt it. Only what can be proved is said.

use super::functions::Form;
use super::tree::{Arithmetic, Compare, Kind, Node};
use super::{Expression, Gate, Name};
use num_traits::Signed;

/// What larger values of a name do to a condition or to a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// The name makes no difference.
    Nothing,
    /// Larger never hurts a condition, never makes a value smaller.
    Up,
    /// Larger never helps a condition, never makes a value larger.
    Down,
    /// Cannot be said, or both.
    Unclear,
}

impl Gate {
    /// What larger values of a name (a quantity, number or date) do to this condition.
    pub fn direction(&self, name: &Name) -> Direction {
        direction(self.node(), name)
    }
}

impl Expression {
    /// What larger values of a name do to this value.
    pub fn direction(&self, name: &Name) -> Direction {
        direction(self.node(), name)
    }
}

impl Direction {
    /// What larger values do to something that rests on a value which rests on them: `self` is what they do to that
    /// value, `outer` what larger values of it do.
    #[must_use]
    pub fn through(self, outer: Direction) -> Direction {
        match self {
            Direction::Nothing => Direction::Nothing,
            Direction::Up => outer,
            Direction::Down => outer.turned(),
            Direction::Unclear => both_ways(outer),
        }
    }

    fn turned(self) -> Direction {
        match self {
            Direction::Nothing => Direction::Nothing,
            Direction::Up => Direction::Down,
            Direction::Down => Direction::Up,
            Direction::Unclear => Direction::Unclear,
        }
    }

    /// Both at once.
    #[must_use]
    pub fn with(self, other: Direction) -> Direction {
        match (self, other) {
            (Direction::Nothing, one) | (one, Direction::Nothing) => one,
            (Direction::Up, Direction::Up) => Direction::Up,
            (Direction::Down, Direction::Down) => Direction::Down,
            (
                Direction::Up | Direction::Down | Direction::Unclear,
                Direction::Up | Direction::Down | Direction::Unclear,
            ) => Direction::Unclear,
        }
    }
}

fn direction(node: &Node, name: &Name) -> Direction {
    let of = |node: &Node| direction(node, name);
    match &node.kind {
        Kind::Bool(_) | Kind::Quantity(_) | Kind::Date(_) | Kind::Span(..) | Kind::Id(_) => {
            Direction::Nothing
        }
        Kind::Name(it) => {
            if it == name {
                Direction::Up
            } else {
                Direction::Nothing
            }
        }
        Kind::Not(inner) | Kind::Negate(inner) => of(inner).turned(),
        Kind::And(all) | Kind::Or(all) => all.iter().map(of).fold(Direction::Nothing, Direction::with),
        Kind::Compare(compare, left, right) => {
            let (l, r) = (of(left), of(right));
            match compare {
                Compare::AtLeast | Compare::More => l.with(r.turned()),
                Compare::AtMost | Compare::Less => l.turned().with(r),
                Compare::Same | Compare::Differs => both_ways(l.with(r)),
            }
        }
        Kind::Between(what, low, high) => both_ways(of(what)).with(of(low).turned()).with(of(high)),
        Kind::Arithmetic(sign, left, right) => {
            let (l, r) = (of(left), of(right));
            match sign {
                Arithmetic::Plus => l.with(r),
                Arithmetic::Minus => l.with(r.turned()),
                Arithmetic::Times => match (l, r) {
                    (Direction::Nothing, r) => scaled(r, left),
                    (l, Direction::Nothing) => scaled(l, right),
                    (_, _) => Direction::Unclear,
                },
                Arithmetic::Over => match (l, r) {
                    (l, Direction::Nothing) => scaled(l, right),
                    (_, _) => Direction::Unclear,
                },
            }
        }
        Kind::Call(function, arguments) => {
            let all = arguments.iter().map(of).fold(Direction::Nothing, Direction::with);
            match function.form {
                Form::Least | Form::Most | Form::Sum | Form::All | Form::Any => all,
                // Its second argument is a literal; without one it asks only whether there is a value.
                Form::Given if arguments.len() == 2 => all,
                Form::Count | Form::Given => Direction::Nothing,
                Form::Plain { takes, .. } => arguments
                    .iter()
                    .map(of)
                    .zip(takes)
                    .map(|(direction, t)| match t.way {
                        Direction::Up => direction,
                        Direction::Down => direction.turned(),
                        Direction::Nothing | Direction::Unclear => both_ways(direction),
                    })
                    .fold(Direction::Nothing, Direction::with),
            }
        }
        Kind::Wrong(_) => Direction::Unclear,
    }
}

/// Either way may matter.
fn both_ways(direction: Direction) -> Direction {
    match direction {
        Direction::Nothing => Direction::Nothing,
        Direction::Up | Direction::Down | Direction::Unclear => Direction::Unclear,
    }
}

/// Multiplied or divided by something else, whose sign must be known.
fn scaled(direction: Direction, by: &Node) -> Direction {
    match (direction, &by.kind) {
        (Direction::Nothing, _) => Direction::Nothing,
        (direction, Kind::Quantity(q)) if q.value.is_positive() => direction,
        (direction, Kind::Quantity(q)) if q.value.is_negative() => direction.turned(),
        (_, _) => Direction::Unclear,
    }
}
