//! Types: every node gets its type, or a problem says why it has none.
//!
//! Always: an expression without problems cannot meet a kind of value at judging time that its
//! operators do not know; what is compared is of one kind, by the table of the language.

mod arithmetic;
mod calls;
mod compare;
mod sides;

use super::tree::{Kind, Node};
use super::{Missed, Name, Problem, Scope, Type};
use crate::tongue::say;

/// Where a name stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Shelter {
    /// In the open: one value, that always applies.
    None,
    /// The condition of `all` or `any`: a list stands for its item's value.
    Each,
}

/// Fills in the types.
pub(super) struct Checker<'a> {
    scope: &'a dyn Scope,
    problems: &'a mut Vec<Problem>,
    shelter: Shelter,
    /// Lists met inside the condition of `all` or `any`, with what they run over.
    each: Vec<(Name, Option<String>)>,
}

/// A gate: the expression must be a condition.
pub(super) fn condition(node: &mut Node, scope: &dyn Scope, problems: &mut Vec<Problem>) {
    let mut checker = Checker::new(scope, problems);
    checker.bool(node, say!("a gate"));
}

/// A value of its own, for `derived` and `timed`.
pub(super) fn value(node: &mut Node, scope: &dyn Scope, problems: &mut Vec<Problem>) {
    let mut checker = Checker::new(scope, problems);
    checker.node(node);
}

impl<'a> Checker<'a> {
    fn new(scope: &'a dyn Scope, problems: &'a mut Vec<Problem>) -> Self {
        Checker { scope, problems, shelter: Shelter::None, each: Vec::new() }
    }

    fn problem(&mut self, code: &'static str, at: usize, message: impl Into<String>, hint: Option<String>) {
        self.problems.push(Problem { code, at, message: message.into(), hint });
    }

    /// Works out a node's type and keeps it in the node. `None`: told already.
    fn node(&mut self, node: &mut Node) -> Option<Type> {
        let (at, mut days_only) = (node.at, false);
        let mut over = None;
        let ty = match &mut node.kind {
            Kind::Bool(_) => Some(Type::Bool),
            Kind::Quantity(quantity) => Some(Type::Quantity(quantity.dimension)),
            Kind::Date(_) => Some(Type::Date),
            Kind::Span(months, _) => {
                days_only = *months == 0;
                Some(Type::Span)
            }
            Kind::Id(id) => {
                let message = say!("the choice \"{id}\" stands alone", id);
                let hint = say!("a choice is compared by == or != with the step or field that offers it");
                self.problem("lone-choice", at, message, Some(hint.to_owned()));
                None
            }
            Kind::Name(name) => {
                let name = name.clone();
                let ty = self.name(&name, at);
                over = self
                    .each
                    .iter()
                    .find(|(list, _)| *list == name)
                    .map(|(_, over)| over.clone().unwrap_or_default());
                ty
            }
            Kind::Not(inner) => {
                self.bool(inner, "not");
                Some(Type::Bool)
            }
            Kind::And(all) => {
                for one in all {
                    self.bool(one, "and");
                }
                Some(Type::Bool)
            }
            Kind::Or(all) => {
                for one in all {
                    self.bool(one, "or");
                }
                Some(Type::Bool)
            }
            Kind::Compare(compare, left, right) => {
                self.compare(*compare, left, right);
                Some(Type::Bool)
            }
            Kind::Between(what, low, high) => {
                self.between(what, low, high);
                Some(Type::Bool)
            }
            Kind::Negate(inner) => {
                let ty = self.node(inner);
                days_only = inner.days_only;
                self.negate(ty, at)
            }
            Kind::Arithmetic(sign, left, right) => {
                let (sign, l, r) = (*sign, self.node(left), self.node(right));
                let days = left.days_only && right.days_only;
                l.zip(r).and_then(|(l, r)| {
                    let dates = l == Type::Date && r == Type::Date;
                    days_only = days || dates;
                    self.arithmetic(sign, l, r, at)
                })
            }
            Kind::Call(function, arguments) => {
                let function = *function;
                self.call(function, arguments, at)
            }
            Kind::Wrong(inner) => {
                for one in inner {
                    self.node(one);
                }
                None
            }
        };
        node.days_only = days_only && ty == Some(Type::Span);
        node.ty.clone_from(&ty);
        node.over = over;
        ty
    }

    /// A node that must be open or shut.
    fn bool(&mut self, node: &mut Node, whose: &str) {
        let at = node.at;
        if let Some(ty) = self.node(node).filter(|ty| *ty != Type::Bool) {
            let hint = match (&ty, node.name()) {
                (Type::Quantity(_), Some(name)) => {
                    Some(say!("compare it: {name} >= ...", name = name.join(".")))
                }
                (Type::Choice { offered, .. }, Some(name)) => Some(say!(
                    "compare it: {name} == \"{id}\"",
                    name = name.join("."),
                    id = offered.first().map_or("...", String::as_str)
                )),
                (Type::Quantity(_) | Type::Choice { .. } | Type::Date | Type::Span, _) => {
                    Some(say!("compare it with a limit").to_owned())
                }
                (Type::Bool | Type::Text | Type::List(_), _) => None,
            };
            self.problem(
                "not-a-condition",
                at,
                say!("{whose} takes conditions, got {got}", whose, got = words(&ty)),
                hint,
            );
        }
    }

    fn name(&mut self, name: &Name, at: usize) -> Option<Type> {
        if is_today(name) {
            return Some(Type::Date);
        }
        let known = match self.scope.look_up(name) {
            Ok(known) => known,
            Err(missed) => {
                self.missed(name, at, missed);
                return None;
            }
        };
        let written = name.join(".");
        match (known.ty, self.shelter) {
            (Type::List(item), Shelter::Each) => {
                if *item == Type::Text {
                    self.text(&written, at);
                    return None;
                }
                if !self.each.iter().any(|(seen, _)| seen == name) {
                    self.each.push((name.clone(), known.over));
                }
                Some(*item)
            }
            (Type::List(item), Shelter::None) => {
                let hint = match *item {
                    Type::Bool => say!("write all({written}) or any({written})", written),
                    Type::Choice { ref offered, .. } => {
                        let id = offered.first().map_or("...", String::as_str);
                        say!("write all({written} == \"{id}\")", written, id)
                    }
                    Type::Quantity(_) | Type::Date => {
                        say!("write least({written}) or most({written})", written)
                    }
                    Type::Span | Type::Text | Type::List(_) => say!("write count({written})", written),
                };
                self.problem(
                    "list-outside-fold",
                    at,
                    say!("{written} is a list, wanted one value", written),
                    Some(hint),
                );
                None
            }
            (Type::Text, _) => {
                self.text(&written, at);
                None
            }
            (ty, _) if known.conditional => {
                let instead = match ty {
                    Type::Bool => "false".to_owned(),
                    Type::Choice { ref offered, .. } => {
                        format!("\"{}\"", offered.first().map_or("...", String::as_str))
                    }
                    Type::Date => "2026-01-31".to_owned(),
                    Type::Span => "0 days".to_owned(),
                    Type::Quantity(dimension) => {
                        dimension.usual_unit().map_or("0".to_owned(), |unit| format!("0 {unit}"))
                    }
                    Type::Text | Type::List(_) => "...".to_owned(),
                };
                let hint = say!(
                    "put this under the same `when`, or write given({written}) or given({written}, {instead})",
                    written,
                    instead
                );
                self.problem(
                    "may-not-apply",
                    at,
                    say!("{written} may be not applicable here", written),
                    Some(hint),
                );
                None
            }
            (ty, _) => Some(ty),
        }
    }

    fn text(&mut self, written: &str, at: usize) {
        let hint = Some(say!("write given({written}) to ask whether it was answered", written));
        self.problem("text-compared", at, say!("{written} is text, and text opens no gate", written), hint);
    }

    fn missed(&mut self, name: &Name, at: usize, missed: Missed) {
        let written = name.join(".");
        match missed {
            Missed::NotHere(why) => self.problem("name-not-here", at, why, None),
            Missed::NoSuchName { nearest } => {
                let hint = match (written.as_str(), nearest) {
                    ("yes" | "no" | "none" | "null" | "nan" | "on" | "off", _) => {
                        Some(say!("the only bare words that are values are true and false").to_owned())
                    }
                    (_, Some(near)) => Some(say!("did you mean {near}?", near)),
                    (_, None) if name.len() == 1 => {
                        Some(say!("a choice stands in quotation marks: \"{written}\"", written))
                    }
                    (_, None) => None,
                };
                self.problem("unknown-name", at, say!("nothing is called {written}", written), hint);
            }
        }
    }
}

pub(super) fn is_today(name: &Name) -> bool {
    matches!(name.as_slice(), [only] if only == "today")
}

/// A type in words.
pub(super) fn words(ty: &Type) -> String {
    match ty {
        Type::Bool => say!("a yes or no").to_owned(),
        Type::Choice { of, .. } => say!("a choice of {of}", of),
        Type::Date => say!("a date").to_owned(),
        Type::Span => say!("a span of days or months").to_owned(),
        Type::Quantity(dimension) => dimension.words().to_owned(),
        Type::Text => say!("text").to_owned(),
        Type::List(item) => say!("a list, each {item}", item = words(item)),
    }
}
