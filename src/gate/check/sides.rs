//! Arguments on the unsafe side: a function that errs to the safe side is asked with the best of a list where only the
//! worst is safe, or with less air than people can draw.

use super::super::functions::{self, Form, Function, Lean, Takes};
use super::super::tree::{Arithmetic, Kind, Node};
use super::Checker;
use crate::gate::Direction;
use crate::tongue::{say, to_say, word};
use crate::units::Dimension;

/// Which values of an argument are on the safe side.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Safe {
    Small,
    Large,
}

impl Safe {
    fn turned(self) -> Safe {
        match self {
            Safe::Small => Safe::Large,
            Safe::Large => Safe::Small,
        }
    }
}

/// Functions that take the largest, and the smallest.
const LARGEST: [&str; 3] = ["most", "warmer", "longer"];
const SMALLEST: [&str; 2] = ["least", "colder"];
/// Flows of a wearer that are less than what the wearer can draw.
const LESS_THAN_MOST: [&str; 2] = ["planned", "least"];
/// What all draw from one reserve together, as the table of functions calls it.
const DRAWN: &str = to_say!("the flow drawn");

impl Checker<'_> {
    pub(super) fn sides(&mut self, function: &'static Function, takes: &[Takes], arguments: &[Node]) {
        let Some(lean) = functions::lean(function.name) else { return };
        for (argument, t) in arguments.iter().zip(takes) {
            let safe = match (lean, t.way) {
                (Lean::Down, Direction::Up) | (Lean::Up, Direction::Down) => Safe::Small,
                (Lean::Down, Direction::Down) | (Lean::Up, Direction::Up) => Safe::Large,
                (_, Direction::Nothing | Direction::Unclear) => continue,
            };
            self.side(function, t, argument, safe);
            if t.dimension == Dimension::Flow && safe == Safe::Large {
                self.flow(function, argument);
                self.of_one(function, t, argument);
            }
        }
    }

    fn side(&mut self, function: &'static Function, t: &Takes, node: &Node, safe: Safe) {
        match &node.kind {
            Kind::Call(inner, arguments) => {
                let wrong = match safe {
                    Safe::Small => LARGEST.contains(&inner.name),
                    Safe::Large => SMALLEST.contains(&inner.name),
                };
                if wrong {
                    let (name, what, taken) = (function.name, word(t.words), inner.name);
                    let message = match safe {
                        Safe::Small => say!(
                            "{function} is safe only with the smallest that {what} can be; `{inner}` takes a larger one",
                            function = name,
                            what,
                            inner = taken
                        ),
                        Safe::Large => say!(
                            "{function} is safe only with the largest that {what} can be; `{inner}` takes a smaller one",
                            function = name,
                            what,
                            inner = taken
                        ),
                    };
                    let instead = match inner.name {
                        "most" => "least",
                        "least" => "most",
                        "warmer" => "colder",
                        "colder" => "warmer",
                        _ => say!("the shorter of them"),
                    };
                    self.problem(
                        "unsafe-side",
                        node.at,
                        message,
                        Some(say!("write {instead}(...)", instead)),
                    );
                    return;
                }
                if let Form::Plain { takes, .. } = inner.form {
                    for (argument, of) in arguments.iter().zip(takes) {
                        match of.way {
                            Direction::Up => self.side(function, t, argument, safe),
                            Direction::Down => self.side(function, t, argument, safe.turned()),
                            Direction::Nothing | Direction::Unclear => {}
                        }
                    }
                }
            }
            Kind::Negate(inner) => self.side(function, t, inner, safe.turned()),
            Kind::Arithmetic(Arithmetic::Plus, left, right) => {
                self.side(function, t, left, safe);
                self.side(function, t, right, safe);
            }
            Kind::Arithmetic(Arithmetic::Minus, left, right) => {
                self.side(function, t, left, safe);
                self.side(function, t, right, safe.turned());
            }
            // What a factor does depends on its sign.
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
            | Kind::Wrong(_) => {}
        }
    }

    fn flow(&mut self, function: &'static Function, node: &Node) {
        if let Some([root @ ("wearers" | "wearer"), member]) =
            node.name().map(Vec::as_slice).and_then(|n| match n {
                [a, b] => Some([a.as_str(), b.as_str()]),
                _ => None,
            })
            && LESS_THAN_MOST.contains(&member)
        {
            let message = say!(
                "{function} is worked out with `{root}.{member}`: on the way out people breathe hard and draw all they can",
                function = function.name,
                root,
                member
            );
            self.problem("flow-not-most", node.at, message, Some(say!("write {root}.most", root)));
        }
        for child in node.children() {
            self.flow(function, child);
        }
    }

    /// All draw at once: the most that one of them draws is not what is drawn.
    fn of_one(&mut self, function: &'static Function, t: &Takes, node: &Node) {
        if t.words == DRAWN
            && let Some((fold, [list])) = node.call()
            && matches!(fold.form, Form::Most)
            && let Some([root, member]) = list.name().map(Vec::as_slice)
            && root == "wearers"
        {
            let message = say!(
                "{function} is worked out with the flow of one wearer; all draw at once",
                function = function.name
            );
            self.problem("flow-of-one", node.at, message, Some(say!("write sum(wearers.{member})", member)));
        }
    }
}
