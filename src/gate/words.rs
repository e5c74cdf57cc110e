//! A condition in words for people: what a step wants, before it is answered.
//!
//! English, like the reasons of a verdict. Labels of steps and fields come from the caller.

use super::check::is_today;
use super::functions::Form;
use super::tree::{Arithmetic, Compare, Kind, Node};
use super::{Expression, Gate, Name, Type};
use crate::units::{Rounding, span_text};

/// What a name is called for people; `None`: its own spelling is used. A choice that a name is compared
/// with is asked for as that name with the choice behind it.
pub type Labels<'a> = dyn Fn(&Name) -> Option<String> + 'a;

impl Gate {
    /// The condition in words: `Gauge of cylinder B at least 150 bar, and set earthed: yes`.
    pub fn words(&self, labels: &Labels<'_>) -> String {
        Speaker { labels }.condition(self.node(), true)
    }
}

impl Expression {
    /// How the value is worked out, in words.
    pub fn words(&self, labels: &Labels<'_>) -> String {
        Speaker { labels }.value(self.node())
    }
}

struct Speaker<'a> {
    labels: &'a Labels<'a>,
}

impl Speaker<'_> {
    fn label(&self, name: &Name) -> String {
        if is_today(name) {
            return "today".to_owned();
        }
        (self.labels)(name).unwrap_or_else(|| name.join("."))
    }

    fn condition(&self, node: &Node, holds: bool) -> String {
        match &node.kind {
            Kind::Bool(value) => if *value == holds { "always" } else { "never" }.to_owned(),
            Kind::Name(name) => {
                format!("{}: {}", self.label(name), if holds { "yes" } else { "no" })
            }
            Kind::Not(inner) => self.condition(inner, !holds),
            Kind::And(all) => self.joined(all, holds, holds),
            Kind::Or(all) => self.joined(all, holds, !holds),
            Kind::Compare(compare, left, right) => self.compare(*compare, left, right, holds),
            Kind::Between(what, low, high) => {
                let (what, low, high) = (self.value(what), self.value(low), self.value(high));
                let not = if holds { "" } else { "not " };
                format!("{what} {not}from {low} to {high}")
            }
            Kind::Call(function, arguments) => match function.form {
                Form::All | Form::Any => {
                    let all = matches!(function.form, Form::All) == holds;
                    let inner = arguments.first().map_or_else(String::new, |one| self.condition(one, holds));
                    format!("{}: {inner}", if all { "for each" } else { "for at least one" })
                }
                Form::Given if arguments.len() == 1 => {
                    let what = arguments.first().map_or_else(String::new, |one| self.value(one));
                    format!("{what} {}", if holds { "given" } else { "not given" })
                }
                Form::Given | Form::Least | Form::Most | Form::Sum | Form::Count | Form::Plain { .. } => {
                    format!("{}: {}", self.value(node), if holds { "yes" } else { "no" })
                }
            },
            Kind::Quantity(_)
            | Kind::Date(_)
            | Kind::Span(..)
            | Kind::Id(_)
            | Kind::Negate(_)
            | Kind::Arithmetic(..)
            | Kind::Wrong(_) => self.value(node),
        }
    }

    fn joined(&self, all: &[Node], holds: bool, together: bool) -> String {
        let parts: Vec<String> = all
            .iter()
            .map(|one| {
                let words = self.condition(one, holds);
                if matches!(one.kind, Kind::And(_) | Kind::Or(_)) { format!("({words})") } else { words }
            })
            .collect();
        parts.join(if together { ", and " } else { ", or " })
    }

    fn compare(&self, compare: Compare, left: &Node, right: &Node, holds: bool) -> String {
        let compare = if holds { compare } else { compare.opposite() };
        let truth = |node: &Node| node.ty == Some(Type::Bool);
        if truth(left) && truth(right) {
            return match (&left.kind, &right.kind) {
                (_, Kind::Bool(value)) => self.condition(left, *value == (compare == Compare::Same)),
                (Kind::Bool(value), _) => self.condition(right, *value == (compare == Compare::Same)),
                (_, _) => {
                    let (a, b) = (self.condition(left, true), self.condition(right, true));
                    let sign = if compare == Compare::Same { "just when" } else { "just when not" };
                    format!("({a}) {sign} ({b})")
                }
            };
        }
        // The constant is said last.
        let constant = |node: &Node| node.depth == 0 && node.name().is_none_or(is_today);
        let (compare, left, right) = if constant(left) && !constant(right) {
            (compare.turned(), right, left)
        } else {
            (compare, left, right)
        };
        let date = left.ty == Some(Type::Date);
        let (before, after) = match (compare, date) {
            (Compare::AtLeast, false) => ("at least ", ""),
            (Compare::More, false) => ("more than ", ""),
            (Compare::AtMost, false) => ("at most ", ""),
            (Compare::Less, false) => ("less than ", ""),
            (Compare::AtLeast, true) => ("", " or later"),
            (Compare::More, true) => ("later than ", ""),
            (Compare::AtMost, true) => ("", " or earlier"),
            (Compare::Less, true) => ("earlier than ", ""),
            (Compare::Same, _) => ("is ", ""),
            (Compare::Differs, _) => ("is not ", ""),
        };
        let choice = match (left.name(), &right.kind) {
            (Some(name), Kind::Id(id)) => {
                let mut name = name.clone();
                name.push(id.clone());
                (self.labels)(&name)
            }
            (_, _) => None,
        };
        let right = choice.unwrap_or_else(|| self.value(right));
        format!("{} {before}{right}{after}", self.value(left))
    }

    fn value(&self, node: &Node) -> String {
        match &node.kind {
            Kind::Quantity(quantity) => quantity.words(node.unit, Rounding::Nearest),
            Kind::Date(date) => date.to_string(),
            Kind::Span(months, days) => span_text(*months, *days),
            Kind::Id(id) => id.replace('_', " "),
            Kind::Name(name) => self.label(name),
            Kind::Negate(inner) => format!("minus {}", self.part(inner)),
            Kind::Arithmetic(sign, left, right) => {
                let sign = match sign {
                    Arithmetic::Plus => "plus",
                    Arithmetic::Minus => "less",
                    Arithmetic::Times => "times",
                    Arithmetic::Over => "divided by",
                };
                format!("{} {sign} {}", self.part(left), self.part(right))
            }
            Kind::Call(function, arguments) => {
                let all: Vec<String> = arguments.iter().map(|one| self.value(one)).collect();
                match (function.form, all.as_slice()) {
                    (Form::Least, [list]) => format!("least of {list}"),
                    (Form::Most, [list]) => format!("most of {list}"),
                    (Form::Sum, [list]) => format!("sum of {list}"),
                    (Form::Count, [list]) => format!("number of {list}"),
                    (Form::Given, [what, instead]) => format!("{what} ({instead} if not given)"),
                    (Form::All | Form::Any | Form::Given, _) => self.condition(node, true),
                    (Form::Least | Form::Most | Form::Sum | Form::Count | Form::Plain { .. }, _) => {
                        format!("{} of {}", function.name, all.join(", "))
                    }
                }
            }
            Kind::Bool(value) => if *value { "yes" } else { "no" }.to_owned(),
            Kind::Not(_) | Kind::And(_) | Kind::Or(_) | Kind::Compare(..) | Kind::Between(..) => {
                self.condition(node, true)
            }
            Kind::Wrong(_) => String::new(),
        }
    }

    /// A part of arithmetic, in brackets where the words could be read another way.
    fn part(&self, node: &Node) -> String {
        let words = self.value(node);
        if matches!(node.kind, Kind::Arithmetic(..) | Kind::Negate(_)) { format!("({words})") } else { words }
    }
}
