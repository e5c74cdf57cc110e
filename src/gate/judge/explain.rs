//! Why a comparison is shut, in plain words with numbers: what was read, what was wanted, by how
//! much it fails. A limit is shown in the unit of the reading; what does not end in that unit is
//! rounded so that no shortfall is hidden or made smaller.

use super::super::check::is_today;
use super::super::functions::Form;
use super::super::tree::{Arithmetic, Compare, Kind, Node};
use super::super::words::spoken;
use super::super::{Fact, Type};
use super::fold::named;
use super::values::days_from;
use super::{Got, Judge, holds, is_step};
use crate::tongue::say;
use crate::units::{Dimension, Quantity, Rounding, Unit, span_text, unit};
use num_rational::BigRational;
use num_traits::{Signed, Zero};

/// What a sentence is about.
pub(super) struct Subject {
    /// `Gauge of cylinder B reads 138 bar`
    pub(super) said: String,
    got: Got,
    pub(super) unit: Option<Unit>,
}

impl Judge<'_> {
    /// Reasons for a comparison that is shut.
    pub(super) fn why_shut(
        &self,
        compare: Compare,
        left: &Node,
        l: &Got,
        right: &Node,
        r: &Got,
    ) -> Vec<String> {
        let (compare, node, got, limit, bound) = turned(compare, left, l, right, r);
        let subjects = self.subjects(compare, node, got, limit, bound);
        subjects.iter().map(|subject| self.sentence(compare, node, subject, limit, bound)).collect()
    }

    /// Why a comparison of known values cannot be decided: one of them is a range.
    pub(super) fn why_unknown(
        &self,
        compare: Compare,
        left: &Node,
        l: &Got,
        right: &Node,
        r: &Got,
    ) -> String {
        let (compare, node, got, limit, bound) = turned(compare, left, l, right, r);
        let unit = self.unit_of(node).or_else(|| self.unit_of(limit));
        let wanted = self.wanted(compare, node, limit, bound, unit);
        say!(
            "{said}: that does not tell whether it is {wanted}",
            said = self.subject(node, got, unit).said,
            wanted
        )
    }

    fn sentence(
        &self,
        compare: Compare,
        node: &Node,
        subject: &Subject,
        limit: &Node,
        bound: &Got,
    ) -> String {
        if let (Got::Date(got), Got::Date(bound)) = (&subject.got, bound) {
            return self.date_sentence(compare, node, (*got, *bound), subject, limit);
        }
        let wanted = self.wanted(compare, node, limit, bound, subject.unit);
        let said = &subject.said;
        let plain = || say!("{said}, wanted {wanted}", said, wanted);
        match (&subject.got, bound) {
            (Got::Range(got), Got::Range(bound)) => {
                let over = &got.low.value - &bound.high.value;
                let short = &bound.low.value - &got.high.value;
                let far = match compare {
                    Compare::AtLeast | Compare::More => short,
                    Compare::AtMost | Compare::Less => over,
                    Compare::Same if over.is_positive() => over,
                    Compare::Same => short,
                    Compare::Differs => return plain(),
                };
                match difference(far, got.dimension, subject.unit) {
                    Some(gap) => off_by(compare, said, &wanted, &gap),
                    None => plain(),
                }
            }
            (Got::Span(0, got), Got::Span(0, bound)) => {
                let days = span_text(0, got.saturating_sub(*bound).saturating_abs());
                if got == bound { plain() } else { off_by(compare, said, &wanted, &days) }
            }
            (Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) | Got::Range(_), _) => plain(),
        }
    }

    /// `Air test taken 2026-08-01, good until 2026-11-01, today is 2026-11-25: 24 days over`
    fn date_sentence(
        &self,
        compare: Compare,
        node: &Node,
        (got, bound): (jiff::civil::Date, jiff::civil::Date),
        subject: &Subject,
        limit: &Node,
    ) -> String {
        let today = limit.name().is_some_and(is_today);
        let apart = days_from(got, bound);
        let days = span_text(0, apart.saturating_abs());
        let late = matches!(compare, Compare::AtLeast | Compare::More);
        if today && late {
            let over = apart > 0;
            if let Kind::Arithmetic(Arithmetic::Plus, base, _) = &node.kind
                && let Some(Fact::Is { shown, label, .. }) = base.name().map(|name| self.fact(name))
            {
                return if over {
                    say!(
                        "{label} {shown}, good until {got}, today is {bound}: {days} over",
                        label,
                        shown,
                        got,
                        bound,
                        days
                    )
                } else {
                    say!("{label} {shown}, good until {got}, today is {bound}", label, shown, got, bound)
                };
            }
            let said = &subject.said;
            return if over {
                say!("{said}, today is {bound}: {days} over", said, bound, days)
            } else {
                say!("{said}, today is {bound}", said, bound)
            };
        }
        let whose = match self.limit_label(limit) {
            Some(label) => format!(" ({label})"),
            None => String::new(),
        };
        let wanted = match compare {
            Compare::AtLeast => say!("{bound}{whose} or later", bound, whose),
            Compare::More => say!("later than {bound}{whose}", bound, whose),
            Compare::AtMost => say!("{bound}{whose} or earlier", bound, whose),
            Compare::Less => say!("earlier than {bound}{whose}", bound, whose),
            Compare::Same => format!("{bound}{whose}"),
            Compare::Differs => say!("another day than {bound}{whose}", bound, whose),
        };
        let said = &subject.said;
        match compare {
            _ if apart == 0 => say!("{said}, wanted {wanted}", said, wanted),
            Compare::AtLeast | Compare::More => {
                say!("{said}, wanted {wanted}, {days} too early", said, wanted, days)
            }
            Compare::AtMost | Compare::Less => {
                say!("{said}, wanted {wanted}, {days} too late", said, wanted, days)
            }
            Compare::Same => say!("{said}, wanted {wanted}, {days} off", said, wanted, days),
            Compare::Differs => say!("{said}, wanted {wanted}", said, wanted),
        }
    }

    /// What failed: for the least (or most) of a list every item that fails, else the side itself.
    fn subjects(&self, compare: Compare, node: &Node, got: &Got, limit: &Node, bound: &Got) -> Vec<Subject> {
        let unit = self.unit_of(node).or_else(|| self.unit_of(limit));
        if let Kind::Call(function, arguments) = &node.kind
            && matches!(function.form, Form::Least | Form::Most)
            && let Some((list, name)) =
                arguments.first().and_then(|list| list.name().map(|name| (list, name)))
            && let Ok(items) = self.items(name)
        {
            let mut failing = Vec::new();
            for (item, fact) in items {
                let fact = named(&item, &fact);
                if let Ok(value) = self.fact_value(name, fact.clone(), list.ty.as_ref())
                    && holds(compare, &value, bound) == Some(false)
                    && let Some((label, shown)) = told(&fact)
                {
                    let unit = Quantity::unit_shown(&shown).or(unit);
                    failing.push(Subject {
                        said: says(is_step(name), &label, &shown, &value),
                        got: value,
                        unit,
                    });
                }
            }
            let by_each = matches!(
                (function.form, compare),
                (Form::Least, Compare::AtLeast | Compare::More)
                    | (Form::Most, Compare::AtMost | Compare::Less)
            );
            if by_each && !failing.is_empty() {
                return failing;
            }
        }
        vec![self.subject(node, got, unit)]
    }

    pub(super) fn subject(&self, node: &Node, got: &Got, unit: Option<Unit>) -> Subject {
        let mut of_fact = node.name();
        if let Kind::Call(function, arguments) = &node.kind
            && matches!(function.form, Form::Given)
        {
            of_fact = arguments.first().and_then(Node::name);
        }
        let fact = of_fact.and_then(|name| told(&self.fact(name)).map(|told| (name, told)));
        let said = match fact {
            Some((name, (label, shown))) => says(is_step(name) && !is_today(name), &label, &shown, got),
            None => match of_fact {
                Some(name) => {
                    say!(
                        "{name} is not given and counts as {value}",
                        name = name.join("."),
                        value = value_text(got, unit)
                    )
                }
                None => says(false, &self.called(node), &value_text(got, unit), got),
            },
        };
        Subject { said, got: got.clone(), unit }
    }

    /// `at least 150 bar (Least reserve)`
    pub(super) fn wanted(
        &self,
        compare: Compare,
        node: &Node,
        limit: &Node,
        bound: &Got,
        unit: Option<Unit>,
    ) -> String {
        let whose = self.limit_label(limit).map_or_else(String::new, |label| format!(" ({label})"));
        let rounding = match compare {
            Compare::AtLeast | Compare::More => Rounding::Up,
            Compare::AtMost | Compare::Less => Rounding::Down,
            Compare::Same | Compare::Differs => Rounding::Nearest,
        };
        let value = match bound {
            Got::Range(range) => match range.single() {
                Some(quantity) => quantity.words(unit, rounding),
                None => value_text(bound, unit),
            },
            Got::Choice(_) if limit.name().is_some() => {
                match limit.name().and_then(|name| told(&self.fact(name))) {
                    Some((_, shown)) => shown,
                    None => value_text(bound, unit),
                }
            }
            // A choice that is written out is worded as the step that offers it words it.
            Got::Choice(id) => node
                .name()
                .and_then(|name| self.facts.choice(name, id))
                .unwrap_or_else(|| value_text(bound, unit)),
            Got::Bool(_) | Got::Date(_) | Got::Span(..) => value_text(bound, unit),
        };
        match compare {
            Compare::Same => format!("{value}{whose}"),
            Compare::Differs => say!("anything but {value}{whose}", value, whose),
            Compare::AtLeast => say!("at least {value}{whose}", value, whose),
            Compare::More => say!("more than {value}{whose}", value, whose),
            Compare::AtMost => say!("at most {value}{whose}", value, whose),
            Compare::Less => say!("less than {value}{whose}", value, whose),
        }
    }

    /// What a limit is, where it is not written out: its label, or its source.
    fn limit_label(&self, limit: &Node) -> Option<String> {
        if let Some(name) = limit.name() {
            return Some(told(&self.fact(name)).map_or_else(|| self.name_of(name), |(label, _)| label));
        }
        (limit.depth > 0).then(|| self.called(limit))
    }

    /// An expression as people say it, by what its steps and fields are called; where it is to be found in its file, as it
    /// stands there.
    pub(super) fn called(&self, node: &Node) -> String {
        if !self.spoken {
            return self.text(node);
        }
        spoken(node, &|name| {
            let known = || told(&self.fact(name)).map(|(label, _)| label);
            self.labels.and_then(|labels| labels(name)).or_else(known)
        })
    }

    /// The unit in which people see a node's value: as entered, or as written.
    pub(super) fn unit_of(&self, node: &Node) -> Option<Unit> {
        let item = if let Some(Type::List(item)) = &node.ty { Some(&**item) } else { node.ty.as_ref() };
        let Some(Type::Quantity(of)) = item else {
            return None;
        };
        let unit = match (&node.kind, node.name()) {
            (Kind::Quantity(_), _) => node.unit,
            (_, Some(name)) => {
                let fact = self.fact(name);
                let told = match &fact {
                    Fact::List(items) => items.iter().find_map(|(_, fact)| told(fact)),
                    Fact::Is { .. } | Fact::Below { .. } | Fact::Unknown(_) | Fact::NotApplicable => {
                        told(&fact)
                    }
                };
                told.and_then(|(_, shown)| Quantity::unit_shown(&shown))
            }
            (_, None) => node
                .children()
                .into_iter()
                .find_map(|child| self.unit_of(child).filter(|unit| unit.dimension() == *of)),
        };
        unit.filter(|unit| unit.dimension() == *of)
    }
}

/// The sides in the order of speech: first what was answered, then what it is held against.
pub(super) fn turned<'n>(
    compare: Compare,
    left: &'n Node,
    l: &'n Got,
    right: &'n Node,
    r: &'n Got,
) -> (Compare, &'n Node, &'n Got, &'n Node, &'n Got) {
    if rank(right) > rank(left) {
        (compare.turned(), right, r, left, l)
    } else {
        (compare, left, l, right, r)
    }
}

/// How much a side is an answer: a step, then what rests on one, then a field, then a literal.
fn rank(node: &Node) -> u8 {
    match node.name() {
        Some(name) if is_today(name) => 1,
        Some(name) if is_step(name) => 5,
        Some(name) => match name.first().map(String::as_str) {
            Some("set" | "site" | "permit") => 2,
            Some(_) | None => 4,
        },
        None => match node.children().into_iter().map(rank).max() {
            Some(best) if best > 2 => 3,
            Some(best) => best.max(2),
            None => 0,
        },
    }
}

/// Label and shown value of a fact that has them.
fn told(fact: &Fact) -> Option<(String, String)> {
    match fact {
        Fact::Is { shown, label, .. } | Fact::Below { shown, label, .. } => {
            Some((label.clone(), shown.clone()))
        }
        Fact::Unknown(_) | Fact::NotApplicable | Fact::List(_) => None,
    }
}

fn says(read: bool, label: &str, shown: &str, got: &Got) -> String {
    match got {
        Got::Range(_) if read => say!("{label} reads {shown}", label, shown),
        Got::Range(_) | Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) => {
            say!("{label} is {shown}", label, shown)
        }
    }
}

fn value_text(got: &Got, unit: Option<Unit>) -> String {
    match got {
        Got::Bool(value) => super::yes_or_no(*value).to_owned(),
        Got::Choice(id) => crate::tongue::choice(id),
        Got::Date(date) => date.to_string(),
        Got::Span(months, days) => span_text(*months, *days),
        Got::Range(range) => match range.single() {
            Some(quantity) => quantity.words(unit, Rounding::Nearest),
            None => {
                let end = |value: &BigRational, rounding| {
                    Quantity { value: value.clone(), dimension: range.dimension }.words(unit, rounding)
                };
                say!(
                    "somewhere from {least} to {most}",
                    least = end(&range.low.value, Rounding::Down),
                    most = end(&range.high.value, Rounding::Up)
                )
            }
        },
    }
}

/// What was read, what is wanted, and by how much it fails.
fn off_by(compare: Compare, said: &str, wanted: &str, gap: &str) -> String {
    match compare {
        Compare::AtLeast | Compare::More => {
            say!("{said}, wanted {wanted}, short by {gap}", said, wanted, gap)
        }
        Compare::AtMost | Compare::Less => say!("{said}, wanted {wanted}, over by {gap}", said, wanted, gap),
        Compare::Same => say!("{said}, wanted {wanted}, off by {gap}", said, wanted, gap),
        Compare::Differs => say!("{said}, wanted {wanted}", said, wanted),
    }
}

/// A gap in words, in the unit of the reading, rounded up; `None` if there is none.
fn difference(far: BigRational, dimension: Dimension, shown: Option<Unit>) -> Option<String> {
    if far.is_zero() || far.is_negative() {
        return None;
    }
    if dimension != Dimension::Temperature {
        return Some(Quantity { value: far, dimension }.words(shown, Rounding::Up));
    }
    let symbol = if shown.is_some_and(|unit| unit.symbol() == "°F") { "dF" } else { "K" };
    let gap = Quantity { value: far, dimension: Dimension::TemperatureDifference };
    Some(gap.words(unit(symbol), Rounding::Up))
}
