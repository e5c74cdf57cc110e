//! How a step is answered: choices, instruments, waits, values worked out.

use super::read::Reader;
use super::scope::Here;
use super::{Derived, Each, Form, Instrument, Limit, StepKind};
use crate::gate::{Expression, Gate, Type};
use crate::source::{Node, Tree, typed};
use crate::text::quoted;
use crate::tongue::say;
use crate::units::{Decimal, Dimension, Quantity, Rounding, Unit};
use crate::words::Words;
use num_rational::BigRational;

/// Keys of a `reading`.
const READING: [&str; 4] = ["unit", "from", "to", "decimals"];

/// Reads what stands at the key of an answer kind.
pub(super) fn kind(
    key: &'static str,
    n: &Node,
    step: &Node,
    id: &str,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<StepKind> {
    let bare = |r: &mut Reader, kind: StepKind| {
        let yes = typed::truth(n, &mut r.out)?;
        if !yes {
            r.out.hinted(
                "no-answer-kind",
                n,
                say!("`{key}: false` says nothing", key),
                say!("write `{key}: true`", key),
            );
        }
        yes.then_some(kind)
    };
    match key {
        "confirm" => bare(r, StepKind::Confirm),
        "date" => bare(r, StepKind::Date),
        "text" => bare(r, StepKind::Text),
        "choice" => choice(n, r).map(StepKind::Choice),
        "reading" => reading(n, each, whens, r).map(StepKind::Reading),
        "derived" => derived(n, step, id, each, whens, r).map(StepKind::Derived),
        _ => duration(n, each, whens, r).map(StepKind::Timed),
    }
}

/// A duration: what a wait lasts, or how long it takes to answer.
pub(super) fn duration(
    n: &Node,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Expression> {
    let e = expression(n, each, whens, r)?;
    if *e.ty() != Type::Quantity(Dimension::Duration) {
        r.out.hinted(
            "wrong-dimension",
            n,
            say!("a wait must be a duration"),
            say!("write 10 min, or a name such as site.warm_up"),
        );
        return None;
    }
    Some(e)
}

fn expression(n: &Node, each: Option<&Each>, whens: &[Option<Gate>], r: &mut Reader) -> Option<Expression> {
    let text = crate::words::one_text(n, &mut r.out)?;
    match Expression::parse(&text, &r.here(None, each, whens)) {
        Ok(e) => Some(e),
        Err(problems) => {
            r.problems(n, problems);
            None
        }
    }
}

fn choice(n: &Node, r: &mut Reader) -> Option<Vec<(String, Words)>> {
    let Tree::Map(entries) = &n.tree else {
        r.out.hinted(
            "wrong-type",
            n,
            say!("{got}; wanted: choices", got = n.described()),
            say!("write `id: words`, one on a line"),
        );
        return None;
    };
    if entries.len() < 2 {
        r.out.error("too-few-choices", n, say!("a choice needs at least two to choose from"));
        return None;
    }
    let language = r.language.clone();
    let mut good = true;
    let mut choices = Vec::new();
    for (key, value) in entries {
        let id = typed::checked_name(&key.text, say!("choice id"), key, &mut r.out);
        match (id, Words::read(value, &language, &mut r.out)) {
            (Some(id), Some(words)) => choices.push((id, words)),
            (Some(_) | None, _) => good = false,
        }
    }
    good.then_some(choices)
}

/// A unit; without one a plain number is meant: `Some(None)`.
#[expect(clippy::option_option, reason = "the outer one says whether the reading went well")]
fn unit(n: Option<&Node>, r: &mut Reader) -> Option<Option<Unit>> {
    let Some(n) = n else { return Some(None) };
    let text = typed::scalar(n, say!("a unit"), &mut r.out)?;
    match Unit::find(text) {
        Ok(u) => Some(Some(u)),
        Err(e) => {
            r.out.error("unknown-unit", n, crate::text::safe_line(&e.message).into_owned()).hint = e.hint;
            None
        }
    }
}

fn reading(n: &Node, each: Option<&Each>, whens: &[Option<Gate>], r: &mut Reader) -> Option<Instrument> {
    let n = typed::known_keys(n, say!("a reading"), &READING, &mut r.out)?;
    let unit = unit(n.get("unit"), r);
    let decimals = typed::wanted(n, "decimals", say!("the reading"), &mut r.out)
        .and_then(|d| typed::whole(d, 0, 6, &mut r.out));
    let from_node = typed::wanted(n, "from", say!("the reading"), &mut r.out);
    let to_node = typed::wanted(n, "to", say!("the reading"), &mut r.out);
    let unit = unit?;
    let dimension = unit.map_or(Dimension::Number, Unit::dimension);
    let from = from_node.and_then(|l| limit(l, dimension, decimals, each, whens, r));
    let to = to_node.and_then(|l| limit(l, dimension, decimals, each, whens, r));
    let (from, to) = (from?, to?);
    if let (Limit::Given(a), Limit::Given(b)) = (&from, &to)
        && a.to_exact() >= b.to_exact()
    {
        r.out.error("empty-range", n, say!("from {a} to {b} leaves nothing to read", a, b));
        return None;
    }
    Some(Instrument { unit, from, to, decimals: u8::try_from(decimals?).ok()? })
}

fn limit(
    n: &Node,
    dimension: Dimension,
    decimals: Option<u32>,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Limit> {
    let text = typed::scalar(n, say!("a number or a name"), &mut r.out)?;
    let is_path = text.contains('.') && text.split('.').all(typed::is_name);
    if is_path {
        let e = expression(n, each, whens, r)?;
        if *e.ty() != Type::Quantity(dimension) {
            r.out.error("wrong-dimension", n, say!("`{text}` is not what the instrument measures", text));
            return None;
        }
        return Some(Limit::Named(e));
    }
    if typed::is_name(text) {
        r.out.hinted(
            "bad-number",
            n,
            say!("`{text}` is neither a number nor a name with a dot", text),
            say!("write a number, or set.NAME, site.NAME, item.NAME"),
        );
        return None;
    }
    let d = typed::number(n, &mut r.out)?;
    if let Some(most) = decimals
        && u32::from(d.places()) > most
    {
        r.out.error(
            "too-many-decimals",
            n,
            say!("{d} has more decimals than the {most} that are read", d, most),
        );
        return None;
    }
    Some(Limit::Given(d))
}

fn derived(
    n: &Node,
    step: &Node,
    id: &str,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Derived> {
    let expression = expression(n, each, whens, r);
    let what = say!("the step `{id}`", id);
    if expression.as_ref().is_some_and(|e| *e.ty() == Type::Date) {
        for key in ["unit", "decimals", "round"] {
            if let Some((k, _)) = step.entry(key) {
                let message = say!("`{key}` says nothing of a date, and {what} works out a date", key, what);
                r.out.hinted("key-not-here", k, message, say!("remove it"));
            }
        }
        return expression.map(|expression| Derived { expression, form: None });
    }
    let decimals =
        typed::wanted(step, "decimals", &what, &mut r.out).and_then(|d| typed::whole(d, 0, 6, &mut r.out));
    let round = typed::wanted(step, "round", &what, &mut r.out).and_then(|d| {
        match typed::scalar(d, say!("up or down"), &mut r.out)? {
            "up" => Some(Rounding::Up),
            "down" => Some(Rounding::Down),
            other => {
                r.out.error("unknown-choice", d, say!("{got}; wanted: up or down", got = quoted(other, 24)));
                None
            }
        }
    });
    let unit = unit(step.get("unit"), r);
    let (expression, unit) = (expression?, unit?);
    let dimension = unit.map_or(Dimension::Number, Unit::dimension);
    match expression.ty() {
        Type::Quantity(d) if *d == dimension => {}
        Type::Quantity(d) => {
            let at = step.get("unit").unwrap_or(n);
            let measured = say!(
                "the unit measures {unit}, and what is worked out is {what}",
                unit = dimension.words(),
                what = d.words()
            );
            r.out.error("wrong-dimension", at, measured).hint =
                d.usual_unit().map(|u| say!("write `unit: {unit}`", unit = u.symbol()));
            return None;
        }
        Type::Bool | Type::Choice { .. } | Type::Date | Type::Span | Type::Text | Type::List(_) => {
            r.out.error(
                "wrong-type",
                n,
                say!("only a quantity, a number or a date can be worked out by a step"),
            );
            return None;
        }
    }
    let form = Form { unit, decimals: u8::try_from(decimals?).ok()?, round: round? };
    Some(Derived { expression, form: Some(form) })
}

/// The type a step's name has in gates.
pub(super) fn type_of(kind: &StepKind, id: &str) -> Type {
    match kind {
        StepKind::Confirm => Type::Bool,
        StepKind::Choice(c) => {
            Type::Choice { of: id.to_owned(), offered: c.iter().map(|(i, _)| i.clone()).collect() }
        }
        StepKind::Reading(i) => Type::Quantity(i.dimension()),
        StepKind::Date => Type::Date,
        StepKind::Text => Type::Text,
        StepKind::Derived(d) => d.form.as_ref().map_or(Type::Date, |f| Type::Quantity(f.dimension())),
        StepKind::Timed(_) => Type::Quantity(Dimension::Duration),
    }
}

/// A value of more than nine digits before the point is refused when it is worked out, and opens nothing.
fn within(value: BigRational, decimals: u8) -> BigRational {
    let power = |n: u8| BigRational::from_integer(num_bigint::BigInt::from(10).pow(u32::from(n)));
    let most = power(9) - power(decimals).recip();
    value.clamp(-most.clone(), most)
}

/// The least and the largest value worked out, rounded as the step rounds: rounding keeps their order.
fn derived_range(d: &Derived, here: &Here) -> Option<(Quantity, Quantity)> {
    let form = d.form.as_ref()?;
    let (low, high) = d.expression.range(&|name| here.range(name))?;
    let rounded = |q: &Quantity| {
        let exact = match &form.unit {
            Some(u) => q.in_unit(*u)?,
            None => q.value.clone(),
        };
        let number = Decimal::round(&within(exact, form.decimals), form.decimals, form.round).ok()?;
        Some(form.unit.map_or_else(|| Quantity::number(number.to_exact()), |u| Quantity::new(&number, &u)))
    };
    Some((rounded(&low)?, rounded(&high)?))
}

/// The least and the largest answer, where both ends are known when the file is read: given, or names
/// of fields that have a range.
pub(super) fn range_of(kind: &StepKind, here: &Here) -> Option<(Quantity, Quantity)> {
    let i = match kind {
        StepKind::Reading(i) => i,
        StepKind::Derived(d) => return derived_range(d, here),
        StepKind::Confirm | StepKind::Choice(_) | StepKind::Date | StepKind::Text | StepKind::Timed(_) => {
            return None;
        }
    };
    let end = |limit: &Limit| match limit {
        Limit::Given(d) => {
            let q = i.unit.map_or_else(|| Quantity::number(d.to_exact()), |u| Quantity::new(d, &u));
            Some((q.clone(), q))
        }
        Limit::Named(e) => here.range(e.names().next()?.name),
    };
    Some((end(&i.from)?.0, end(&i.to)?.1))
}
