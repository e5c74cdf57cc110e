//! Types of comparisons: what may be held against what.

use super::super::tree::{Compare, Kind, Node};
use super::super::{Missed, Type};
use super::{Checker, is_today, words};
use crate::tongue::say;
use crate::units::Dimension;

impl Checker<'_> {
    /// A comparison of two sides.
    pub(super) fn compare(&mut self, compare: Compare, left: &mut Node, right: &mut Node) {
        let id = |node: &Node| matches!(node.kind, Kind::Id(_));
        match (id(left), id(right)) {
            (true, true) => {
                let message = say!("two choices are compared with each other");
                let hint = say!("compare a step or field with one of the choices it offers");
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
        let unknown =
            id != "today" && matches!(self.scope.look_up(&vec![id.clone()]), Err(Missed::NoSuchName { .. }));
        if !unknown {
            return false;
        }
        let offered = match self.scope.look_up(named).map(|known| known.ty) {
            Ok(Type::Choice { offered, .. }) => offered,
            Ok(Type::List(item)) => match *item {
                Type::Choice { offered, .. } => offered,
                Type::Bool | Type::Date | Type::Span | Type::Quantity(_) | Type::Text | Type::List(_) => {
                    return false;
                }
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
            say!("{id} is a choice and stands without quotation marks", id),
            Some(say!("write \"{id}\"", id)),
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
                say!("\"{id}\" is a choice, and beside it stands {what}", id, what = words(&ty)),
                None,
            );
            return;
        };
        if compare.ordered() {
            self.unordered(compare, &ty, other.at);
        } else if !offered.contains(&id) {
            let near = crate::units::nearest(&id, offered.iter().map(String::as_str));
            let hint = match near {
                Some(near) => say!("did you mean \"{near}\"?", near),
                None => say!("it offers {choices}", choices = offered.join(", ")),
            };
            self.problem("unknown-choice", at, say!("{of} does not offer \"{id}\"", of, id), Some(hint));
        }
        choice.ty = Some(ty);
    }

    fn unordered(&mut self, compare: Compare, ty: &Type, at: usize) {
        let message =
            say!("{what} has no order, so {sign} says nothing", what = words(ty), sign = compare.sign());
        self.problem("wrong-type", at, message, Some(say!("write == or !=").to_owned()));
    }

    /// Refuses what must not be compared.
    fn comparable(&mut self, compare: Compare, left: &Type, right: &Type, days_only: bool, at: usize) {
        match (left, right) {
            (Type::Bool, Type::Bool) if compare.ordered() => self.unordered(compare, left, at),
            (Type::Choice { of: a, offered: of_a }, Type::Choice { of: b, offered: of_b }) => {
                let same = |x: &[String], y: &[String]| x.iter().all(|id| y.contains(id));
                if compare.ordered() {
                    self.unordered(compare, left, at);
                } else if a != b && !(same(of_a, of_b) && same(of_b, of_a)) {
                    let message = say!("the choices of {a} and of {b} are not the same choices", a, b);
                    self.problem("wrong-type", at, message, None);
                }
            }
            (Type::Bool, Type::Bool) | (Type::Date, Type::Date) => {}
            (Type::Span, Type::Span) => {
                if !days_only {
                    let hint = say!(
                        "add the span to a date and compare dates: last.air_test.taken + 3 months >= today"
                    );
                    let message = say!("only spans that are days are compared; months have no fixed length");
                    self.problem("wrong-type", at, message, Some(hint.to_owned()));
                }
            }
            (Type::Quantity(a), Type::Quantity(b)) if a == b => {}
            (Type::Quantity(a), Type::Quantity(b)) => {
                let message = say!("{a} is compared with {b}", a = a.words(), b = b.words());
                self.differing(*a, *b, message, at);
            }
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
                    say!("{a} is compared with {b}", a = words(left), b = words(right)),
                    None,
                );
            }
        }
    }

    pub(super) fn span_with_duration(&mut self, at: usize) {
        let hint = say!("days and months count on the calendar; min and h on the clock");
        self.problem(
            "wrong-type",
            at,
            say!("a span of days or months does not go with a duration"),
            Some(hint.to_owned()),
        );
    }

    pub(super) fn differing(&mut self, a: Dimension, b: Dimension, message: String, at: usize) {
        use Dimension::{
            AbsolutePressure, Concentration, Fraction, Number, Pressure, Temperature, TemperatureDifference,
        };
        let hint = match (a, b) {
            (Pressure, AbsolutePressure) | (AbsolutePressure, Pressure) => {
                Some(say!("write absolute(gauge, site.ambient_pressure) for the gauge pressure"))
            }
            (Fraction, Concentration) | (Concentration, Fraction) => {
                Some(say!("ppm is by volume, mg/m3 by mass; use one, as the standard gives it"))
            }
            (Temperature, TemperatureDifference) | (TemperatureDifference, Temperature) => {
                Some(say!("°C and °F are points; a difference is K or dF"))
            }
            (Number, _) | (_, Number) => Some(say!("give the number its unit")),
            _ => None,
        };
        self.problem("wrong-dimension", at, message, hint.map(str::to_owned));
    }

    pub(super) fn between(&mut self, what: &mut Node, low: &mut Node, high: &mut Node) {
        for choice in [&*what, &*low, &*high] {
            if let Kind::Id(_) = choice.kind {
                self.problem(
                    "wrong-type",
                    choice.at,
                    say!("choices have no order"),
                    Some(say!("write x == \"a\" or x == \"b\"").to_owned()),
                );
                return;
            }
        }
        let at = what.at;
        let (x, l, h) = (self.node(what), self.node(low), self.node(high));
        let Some(x) = x else { return };
        if let Some(l) = l {
            self.comparable(Compare::AtLeast, &x, &l, what.days_only && low.days_only, at);
        }
        if let Some(h) = h {
            self.comparable(Compare::AtMost, &x, &h, what.days_only && high.days_only, at);
        }
        if let (Kind::Quantity(l), Kind::Quantity(h)) = (&low.kind, &high.kind)
            && l.dimension == h.dimension
            && l.value > h.value
        {
            self.problem(
                "empty-range",
                low.at,
                say!("nothing lies between these two: the first is the larger"),
                Some(say!("put the lower end first").to_owned()),
            );
        }
    }
}
