//! A condition in words for people: what a step wants, before it is answered.
//!
//! In the language in force, like the reasons of a verdict. Labels of steps and fields come from the caller.

use super::check::is_today;
use super::functions::Form;
use super::judge::yes_or_no;
use super::tree::{Arithmetic, Compare, Kind, Node};
use super::{Expression, Gate, Name, Type};
use crate::tongue::say;
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

/// A value in words.
pub(super) fn spoken(node: &Node, labels: &Labels<'_>) -> String {
    Speaker { labels }.value(node)
}

struct Speaker<'a> {
    labels: &'a Labels<'a>,
}

impl Speaker<'_> {
    fn label(&self, name: &Name) -> String {
        if is_today(name) {
            return say!("today").to_owned();
        }
        (self.labels)(name).unwrap_or_else(|| name.join("."))
    }

    fn condition(&self, node: &Node, holds: bool) -> String {
        match &node.kind {
            Kind::Bool(value) => if *value == holds { say!("always") } else { say!("never") }.to_owned(),
            Kind::Name(name) => {
                format!("{}: {}", self.label(name), yes_or_no(holds))
            }
            Kind::Not(inner) => self.condition(inner, !holds),
            Kind::And(all) => self.joined(all, holds, holds),
            Kind::Or(all) => self.joined(all, holds, !holds),
            Kind::Compare(compare, left, right) => self.compare(*compare, left, right, holds),
            Kind::Between(what, low, high) => {
                let (what, low, high) = (self.value(what), self.value(low), self.value(high));
                if holds {
                    say!("{what} from {low} to {high}", what, low, high)
                } else {
                    say!("{what} not from {low} to {high}", what, low, high)
                }
            }
            Kind::Call(function, arguments) => match function.form {
                Form::All | Form::Any => {
                    let all = matches!(function.form, Form::All) == holds;
                    let inner = arguments.first().map_or_else(String::new, |one| self.condition(one, holds));
                    if all {
                        say!("for each: {condition}", condition = inner)
                    } else {
                        say!("for at least one: {condition}", condition = inner)
                    }
                }
                Form::Given if arguments.len() == 1 => {
                    let what = arguments.first().map_or_else(String::new, |one| self.value(one));
                    if holds { say!("{what} given", what) } else { say!("{what} not given", what) }
                }
                Form::Given | Form::Least | Form::Most | Form::Sum | Form::Count | Form::Plain { .. } => {
                    format!("{}: {}", self.value(node), yes_or_no(holds))
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
        parts.join(&format!(", {} ", if together { say!("and") } else { say!("or") }))
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
                    if compare == Compare::Same {
                        say!("({a}) just when ({b})", a, b)
                    } else {
                        say!("({a}) just when not ({b})", a, b)
                    }
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
        let choice = match (left.name(), &right.kind) {
            (Some(name), Kind::Id(id)) => {
                let mut name = name.clone();
                name.push(id.clone());
                (self.labels)(&name)
            }
            (_, _) => None,
        };
        let limit = choice.unwrap_or_else(|| self.value(right));
        let what = self.value(left);
        match (compare, date) {
            (Compare::AtLeast, false) => say!("{what} at least {limit}", what, limit),
            (Compare::More, false) => say!("{what} more than {limit}", what, limit),
            (Compare::AtMost, false) => say!("{what} at most {limit}", what, limit),
            (Compare::Less, false) => say!("{what} less than {limit}", what, limit),
            (Compare::AtLeast, true) => say!("{what}: {limit} or later", what, limit),
            (Compare::More, true) => say!("{what} later than {limit}", what, limit),
            (Compare::AtMost, true) => say!("{what}: {limit} or earlier", what, limit),
            (Compare::Less, true) => say!("{what} earlier than {limit}", what, limit),
            (Compare::Same, _) => say!("{what} is {limit}", what, limit),
            (Compare::Differs, _) => say!("{what} is not {limit}", what, limit),
        }
    }

    fn value(&self, node: &Node) -> String {
        match &node.kind {
            Kind::Quantity(quantity) => quantity.words(node.unit, Rounding::Nearest),
            Kind::Date(date) => date.to_string(),
            Kind::Span(months, days) => span_text(*months, *days),
            Kind::Id(id) => crate::tongue::choice(id),
            Kind::Name(name) => self.label(name),
            Kind::Negate(inner) => say!("minus {value}", value = self.part(inner)),
            Kind::Arithmetic(sign, left, right) => {
                let (first, second) = (self.part(left), self.part(right));
                match sign {
                    Arithmetic::Plus => say!("{first} plus {second}", first, second),
                    Arithmetic::Minus => say!("{first} less {second}", first, second),
                    Arithmetic::Times => say!("{first} times {second}", first, second),
                    Arithmetic::Over => say!("{first} divided by {second}", first, second),
                }
            }
            Kind::Call(function, arguments) => {
                let all: Vec<String> = arguments.iter().map(|one| self.value(one)).collect();
                match (function.form, all.as_slice()) {
                    (Form::Least, [list]) => say!("least of {list}", list),
                    (Form::Most, [list]) => say!("most of {list}", list),
                    (Form::Sum, [list]) => say!("sum of {list}", list),
                    (Form::Count, [list]) => say!("number of {list}", list),
                    (Form::Given, [what, instead]) => say!("{what} ({instead} if not given)", what, instead),
                    (Form::All | Form::Any | Form::Given, _) => self.condition(node, true),
                    (Form::Least | Form::Most | Form::Sum | Form::Count | Form::Plain { .. }, _) => {
                        say!("{function} of {values}", function = function.name, values = all.join(", "))
                    }
                }
            }
            Kind::Bool(value) => yes_or_no(*value).to_owned(),
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
