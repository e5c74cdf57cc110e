//! Types: every node gets its type, or a problem says why it has none.
//!
//! Always: an expression without problems cannot meet a kind of value at judging time that its
//! operators do not know; what is compared is of one kind, by the table of the language.

mod arithmetic;
mod calls;

use super::tree::{Compare, Kind, Node};
use super::{Missed, Name, Problem, Scope, Type};
use crate::units::Dimension;

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
    checker.bool(node, "a gate");
}

/// A value of its own, for `derived` and `timed`.
pub(super) fn value(node: &mut Node, scope: &dyn Scope, problems: &mut Vec<Problem>) {
    let mut checker = Checker::new(scope, problems);
    checker.node(node);
}

impl<'a> Checker<'a> {
    fn new(scope: &'a dyn Scope, problems: &'a mut Vec<Problem>) -> Self {
        Checker {
            scope,
            problems,
            shelter: Shelter::None,
            each: Vec::new(),
        }
    }

    fn problem(
        &mut self,
        code: &'static str,
        at: usize,
        message: impl Into<String>,
        hint: Option<String>,
    ) {
        self.problems.push(Problem {
            code,
            at,
            message: message.into(),
            hint,
        });
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
                let message = format!("the choice \"{id}\" stands alone");
                let hint = "a choice is compared by == or != with the step or field that offers it";
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
                    Some(format!("compare it: {} >= ...", name.join(".")))
                }
                (Type::Choice { offered, .. }, Some(name)) => Some(format!(
                    "compare it: {} == \"{}\"",
                    name.join("."),
                    offered.first().map_or("...", String::as_str)
                )),
                (Type::Quantity(_) | Type::Choice { .. } | Type::Date | Type::Span, _) => {
                    Some("compare it with a limit".to_owned())
                }
                (Type::Bool | Type::Text | Type::List(_), _) => None,
            };
            self.problem(
                "not-a-condition",
                at,
                format!("{whose} takes conditions, got {}", words(&ty)),
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
                    Type::Bool => format!("write all({written}) or any({written})"),
                    Type::Choice { ref offered, .. } => {
                        let id = offered.first().map_or("...", String::as_str);
                        format!("write all({written} == \"{id}\")")
                    }
                    Type::Quantity(_) | Type::Date => {
                        format!("write least({written}) or most({written})")
                    }
                    Type::Span | Type::Text | Type::List(_) => format!("write count({written})"),
                };
                self.problem(
                    "list-outside-fold",
                    at,
                    format!("{written} is a list, wanted one value"),
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
                    Type::Quantity(dimension) => dimension
                        .usual_unit()
                        .map_or("0".to_owned(), |unit| format!("0 {unit}")),
                    Type::Text | Type::List(_) => "...".to_owned(),
                };
                let hint = format!(
                    "put this under the same `when`, or write given({written}) or given({written}, {instead})"
                );
                self.problem(
                    "may-not-apply",
                    at,
                    format!("{written} may be not applicable here"),
                    Some(hint),
                );
                None
            }
            (ty, _) => Some(ty),
        }
    }

    fn text(&mut self, written: &str, at: usize) {
        let hint = Some(format!(
            "write given({written}) to ask whether it was answered"
        ));
        self.problem(
            "text-compared",
            at,
            format!("{written} is text, and text opens no gate"),
            hint,
        );
    }

    fn missed(&mut self, name: &Name, at: usize, missed: Missed) {
        let written = name.join(".");
        match missed {
            Missed::NotHere(why) => self.problem("name-not-here", at, why, None),
            Missed::NoSuchName { nearest } => {
                let hint = match (written.as_str(), nearest) {
                    ("yes" | "no" | "none" | "null" | "nan" | "on" | "off", _) => {
                        Some("the only bare words that are values are true and false".to_owned())
                    }
                    (_, Some(near)) => Some(format!("did you mean {near}?")),
                    (_, None) if name.len() == 1 => {
                        Some(format!("a choice stands in quotation marks: \"{written}\""))
                    }
                    (_, None) => None,
                };
                self.problem(
                    "unknown-name",
                    at,
                    format!("nothing is called {written}"),
                    hint,
                );
            }
        }
    }

    /// A comparison of two sides.
    fn compare(&mut self, compare: Compare, left: &mut Node, right: &mut Node) {
        let id = |node: &Node| matches!(node.kind, Kind::Id(_));
        match (id(left), id(right)) {
            (true, true) => {
                let message = "two choices are compared with each other";
                let hint = "compare a step or field with one of the choices it offers";
                self.problem("lone-choice", left.at, message, Some(hint.to_owned()));
            }
            (true, false) => self.with_choice(compare, right, left),
            (false, true) => self.with_choice(compare, left, right),
            (false, false) if self.bare(left, right) || self.bare(right, left) => {}
            (false, false) => {
                let (l, r) = (self.node(left), self.node(right));
                if let (Some(l), Some(r)) = (l, r) {
                    let days = left.days_only && right.days_only;
                    self.comparable(compare, &l, &r, days, left.at);
                }
            }
        }
    }

    /// A bare word where a choice in quotation marks is meant; true if that has been told.
    fn bare(&mut self, word: &Node, other: &mut Node) -> bool {
        let Some([id]) = word.name().map(Vec::as_slice) else {
            return false;
        };
        let Some(named) = other.name().filter(|name| !is_today(name)) else {
            return false;
        };
        let unknown = id != "today"
            && matches!(
                self.scope.look_up(&vec![id.clone()]),
                Err(Missed::NoSuchName { .. })
            );
        if !unknown {
            return false;
        }
        let offered = match self.scope.look_up(named).map(|known| known.ty) {
            Ok(Type::Choice { offered, .. }) => offered,
            Ok(Type::List(item)) => match *item {
                Type::Choice { offered, .. } => offered,
                Type::Bool
                | Type::Date
                | Type::Span
                | Type::Quantity(_)
                | Type::Text
                | Type::List(_) => return false,
            },
            Ok(Type::Bool | Type::Date | Type::Span | Type::Quantity(_) | Type::Text) | Err(_) => {
                return false;
            }
        };
        if !offered.contains(id) {
            return false;
        }
        self.problem(
            "bare-choice",
            word.at,
            format!("{id} is a choice and stands without quotation marks"),
            Some(format!("write \"{id}\"")),
        );
        self.node(other);
        true
    }

    fn with_choice(&mut self, compare: Compare, other: &mut Node, choice: &mut Node) {
        let Kind::Id(id) = &choice.kind else { return };
        let (id, at) = (id.clone(), choice.at);
        let Some(ty) = self.node(other) else { return };
        let Type::Choice { of, offered } = &ty else {
            self.problem(
                "wrong-type",
                at,
                format!("\"{id}\" is a choice, and beside it stands {}", words(&ty)),
                None,
            );
            return;
        };
        if compare.ordered() {
            self.unordered(compare, &ty, other.at);
        } else if !offered.contains(&id) {
            let near = crate::units::nearest(&id, offered.iter().map(String::as_str));
            let hint = match near {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("it offers {}", offered.join(", ")),
            };
            self.problem(
                "unknown-choice",
                at,
                format!("{of} does not offer \"{id}\""),
                Some(hint),
            );
        }
        choice.ty = Some(ty);
    }

    fn unordered(&mut self, compare: Compare, ty: &Type, at: usize) {
        let message = format!(
            "{} has no order, so {} says nothing",
            words(ty),
            compare.sign()
        );
        self.problem("wrong-type", at, message, Some("write == or !=".to_owned()));
    }

    /// Refuses what must not be compared.
    fn comparable(
        &mut self,
        compare: Compare,
        left: &Type,
        right: &Type,
        days_only: bool,
        at: usize,
    ) {
        match (left, right) {
            (Type::Bool, Type::Bool) if compare.ordered() => self.unordered(compare, left, at),
            (Type::Choice { of: a, .. }, Type::Choice { of: b, .. }) => {
                if compare.ordered() {
                    self.unordered(compare, left, at);
                } else if a != b {
                    let message = format!("the choices of {a} and of {b} are not the same choices");
                    self.problem("wrong-type", at, message, None);
                }
            }
            (Type::Bool, Type::Bool) | (Type::Date, Type::Date) => {}
            (Type::Span, Type::Span) => {
                if !days_only {
                    let hint = "add the span to a date and compare dates: last.air_test.taken + 3 months >= today";
                    let message =
                        "only spans that are days are compared; months have no fixed length";
                    self.problem("wrong-type", at, message, Some(hint.to_owned()));
                }
            }
            (Type::Quantity(a), Type::Quantity(b)) if a == b => {}
            (Type::Quantity(a), Type::Quantity(b)) => self.differing(*a, *b, "compared", at),
            (Type::Span, Type::Quantity(Dimension::Duration))
            | (Type::Quantity(Dimension::Duration), Type::Span) => {
                self.span_with_duration(at);
            }
            (
                Type::Bool
                | Type::Choice { .. }
                | Type::Date
                | Type::Span
                | Type::Quantity(_)
                | Type::Text
                | Type::List(_),
                Type::Bool
                | Type::Choice { .. }
                | Type::Date
                | Type::Span
                | Type::Quantity(_)
                | Type::Text
                | Type::List(_),
            ) => {
                self.problem(
                    "wrong-type",
                    at,
                    format!("{} is compared with {}", words(left), words(right)),
                    None,
                );
            }
        }
    }

    fn span_with_duration(&mut self, at: usize) {
        let hint = "days and months count on the calendar; min and h on the clock";
        self.problem(
            "wrong-type",
            at,
            "a span of days or months does not go with a duration",
            Some(hint.to_owned()),
        );
    }

    fn differing(&mut self, a: Dimension, b: Dimension, done: &str, at: usize) {
        use Dimension::{
            AbsolutePressure, Concentration, Fraction, Number, Pressure, Temperature,
            TemperatureDifference,
        };
        let hint = match (a, b) {
            (Pressure, AbsolutePressure) | (AbsolutePressure, Pressure) => {
                Some("write absolute(gauge, site.ambient_pressure) for the gauge pressure")
            }
            (Fraction, Concentration) | (Concentration, Fraction) => {
                Some("ppm is by volume, mg/m3 by mass; use one, as the standard gives it")
            }
            (Temperature, TemperatureDifference) | (TemperatureDifference, Temperature) => {
                Some("°C and °F are points; a difference is K or dF")
            }
            (Number, _) | (_, Number) => Some("give the number its unit"),
            _ => None,
        };
        let message = format!("{} is {done} with {}", a.words(), b.words());
        self.problem("wrong-dimension", at, message, hint.map(str::to_owned));
    }

    fn between(&mut self, what: &mut Node, low: &mut Node, high: &mut Node) {
        for choice in [&*what, &*low, &*high] {
            if let Kind::Id(_) = choice.kind {
                self.problem(
                    "wrong-type",
                    choice.at,
                    "choices have no order",
                    Some("write x == \"a\" or x == \"b\"".to_owned()),
                );
                return;
            }
        }
        let at = what.at;
        let (x, l, h) = (self.node(what), self.node(low), self.node(high));
        let Some(x) = x else { return };
        if let Some(l) = l {
            self.comparable(
                Compare::AtLeast,
                &x,
                &l,
                what.days_only && low.days_only,
                at,
            );
        }
        if let Some(h) = h {
            self.comparable(
                Compare::AtMost,
                &x,
                &h,
                what.days_only && high.days_only,
                at,
            );
        }
        if let (Kind::Quantity(l), Kind::Quantity(h)) = (&low.kind, &high.kind)
            && l.dimension == h.dimension
            && l.value > h.value
        {
            self.problem(
                "empty-range",
                low.at,
                "nothing lies between these two: the first is the larger",
                Some("put the lower end first".to_owned()),
            );
        }
    }
}

pub(super) fn is_today(name: &Name) -> bool {
    matches!(name.as_slice(), [only] if only == "today")
}

/// A type in words.
pub(super) fn words(ty: &Type) -> String {
    match ty {
        Type::Bool => "a yes or no".to_owned(),
        Type::Choice { of, .. } => format!("a choice of {of}"),
        Type::Date => "a date".to_owned(),
        Type::Span => "a span of days or months".to_owned(),
        Type::Quantity(dimension) => dimension.words().to_owned(),
        Type::Text => "text".to_owned(),
        Type::List(item) => format!("a list, each {}", words(item)),
    }
}
