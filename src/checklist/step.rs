//! One step: its keys, how it is answered, and what each key allows of the others.

use super::read::Reader;
use super::scope::{Here, StepName};
use super::{
    Before, Derived, Each, Form, GoodFor, GoodForScope, Instrument, Limit, Step, StepKind,
};
use crate::gate::{Expression, Gate, Type};
use crate::source::{Findings, Key, Node, Tree, typed};
use crate::text::{listed, nearest, quoted};
use crate::units::{Dimension, Rounding, Unit};
use crate::words::{Template, Words};

/// The answer kinds.
const KINDS: [&str; 7] = [
    "confirm", "choice", "reading", "date", "text", "derived", "timed",
];
/// Keys that will come, and are refused until they are enforced.
const LATER: [&str; 3] = ["takes", "fresh", "deviation"];
/// All other keys.
const KEYS: [&str; 18] = [
    "step",
    "ask",
    "unit",
    "decimals",
    "round",
    "each",
    "when",
    "gate",
    "because",
    "fix",
    "how",
    "source",
    "good_for",
    "blind",
    "below",
    "may_leave_out",
    "critical",
    "before",
];
/// Keys of a `reading`.
const READING: [&str; 4] = ["unit", "from", "to", "decimals"];
/// Words of the gate language and roots of names: no step is called so.
const RESERVED: [&str; 30] = [
    "and",
    "or",
    "not",
    "between",
    "true",
    "false",
    "least",
    "most",
    "sum",
    "all",
    "any",
    "count",
    "given",
    "absolute",
    "endurance",
    "day",
    "days",
    "month",
    "months",
    "today",
    "set",
    "site",
    "job",
    "item",
    "wearer",
    "wearers",
    "permit",
    "last",
    "step",
    "min",
];

/// Reads a step and makes it known to those after it, also where it has mistakes.
pub(super) fn read(node: &Node, stage_when: &[Option<Gate>], r: &mut Reader) -> Option<Step> {
    let known: Vec<&str> = KEYS.into_iter().chain(KINDS).chain(LATER).collect();
    let node = typed::known_keys(node, "a step", &known, &mut r.out)?;
    let errors = r.out.error_count();
    let id_node = typed::wanted(node, "step", "the step", &mut r.out);
    let id = id_node.and_then(|n| step_id(n, r));
    for key in LATER {
        if let Some((k, _)) = node.entry(key) {
            r.out.hinted(
                "not-supported",
                k,
                format!("`{key}` is not enforced yet, so it is not accepted"),
                format!("remove `{key}`"),
            );
        }
    }
    let each = node.get("each").and_then(|n| each(n, r));
    let mut whens = stage_when.to_vec();
    let when = node.get("when").and_then(|n| {
        let when = r.gate(n, None, each.as_ref(), stage_when);
        whens.push(when.clone());
        when
    });
    let what = id
        .as_ref()
        .map_or_else(|| "the step".to_owned(), |i| format!("the step `{i}`"));
    let kind_key = kind_key(node, &what, &mut r.out);
    let kind = kind_key.and_then(|(k, n)| {
        kind(
            k,
            n,
            node,
            id.as_deref().unwrap_or("step"),
            each.as_ref(),
            &whens,
            r,
        )
    });
    let ty = kind
        .as_ref()
        .map(|k| type_of(k, id.as_deref().unwrap_or_default()));
    let name = StepName {
        id: id.clone().unwrap_or_default(),
        line: node.line,
        ty,
        each: each.clone(),
        whens: whens.clone(),
    };
    let gate = node.get("gate").and_then(|n| {
        // The type of a step with mistakes is not known: judging its gate would only repeat them.
        name.ty.as_ref()?;
        r.gate(n, Some(&name), each.as_ref(), &whens)
    });
    let step = words_and_flags(node, &what, each.as_ref(), &whens, r);
    if id.is_some() {
        r.before.push(name);
    }
    let mut step = step?;
    step.id = id?;
    step.kind = kind?;
    (step.when, step.gate, step.each) = (when, gate, each);
    super::rules::step(&step, node, &mut r.out);
    (r.out.error_count() == errors).then_some(step)
}

fn step_id(n: &Node, r: &mut Reader) -> Option<String> {
    let id = typed::name(n, "step id", &mut r.out)?;
    if RESERVED.contains(&id.as_str()) {
        r.out.hinted(
            "reserved-id",
            n,
            format!("`{id}` is a word of the gate language"),
            "call the step otherwise",
        );
        return None;
    }
    if let Some(first) = r.before.iter().find(|s| s.id == id) {
        r.out.error(
            "duplicate-id",
            n,
            format!("the step `{id}` stands twice; first in line {}", first.line),
        );
    }
    Some(id)
}

fn kind_key<'a>(
    node: &'a Node,
    what: &str,
    out: &mut Findings,
) -> Option<(&'static str, &'a Node)> {
    let found: Vec<(&'static str, &Key, &Node)> = KINDS
        .into_iter()
        .filter_map(|k| node.entry(k).map(|(key, n)| (k, key, n)))
        .collect();
    match found.as_slice() {
        [(k, _, n)] => Some((k, n)),
        [] => {
            out.hinted(
                "no-answer-kind",
                node,
                format!("{what} does not say how it is answered"),
                format!("add one of {}", listed(&KINDS, "or")),
            );
            None
        }
        [_, (second, key, _), ..] => {
            out.hinted(
                "two-answer-kinds",
                *key,
                format!("{what} is answered in two ways; `{second}` is the second"),
                "keep one",
            );
            None
        }
    }
}

fn each(n: &Node, r: &mut Reader) -> Option<Each> {
    let text = typed::scalar(n, "set.LIST, site.LIST, job.LIST or wearer", &mut r.out)?;
    let (made, table) = match text.split_once('.') {
        None if text == "wearer" => return Some(Each::Wearer),
        Some(("set", l)) => (Each::Set(l.to_owned()), r.tables.set),
        Some(("site", l)) => (Each::Site(l.to_owned()), r.tables.site),
        Some(("job", l)) => (Each::Job(l.to_owned()), r.tables.job),
        Some(_) | None => {
            r.out.hinted(
                "bad-each",
                n,
                format!(
                    "{} is nothing a step can be asked for each of",
                    quoted(text, 60)
                ),
                "write set.LIST, site.LIST, job.LIST or wearer",
            );
            return None;
        }
    };
    if r.tables.items(&made).is_none() {
        let lists = table
            .iter()
            .filter(|f| matches!(f.holds, crate::site::Holds::Items(_)))
            .map(|f| f.name);
        let hint = nearest(made.list(), lists).map(|m| {
            format!(
                "did you mean `{}.{m}`?",
                text.split('.').next().unwrap_or_default()
            )
        });
        r.out
            .error("bad-each", n, format!("there is no list `{text}`"))
            .hint = hint;
        return None;
    }
    Some(made)
}

fn kind(
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
                format!("`{key}: false` says nothing"),
                format!("write `{key}: true`"),
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
        _ => {
            let e = expression(n, each, whens, r)?;
            if *e.ty() != Type::Quantity(Dimension::Duration) {
                r.out.hinted(
                    "wrong-dimension",
                    n,
                    "a wait must be a duration",
                    "write 10 min, or a name such as site.warm_up",
                );
                return None;
            }
            Some(StepKind::Timed(e))
        }
    }
}

fn expression(
    n: &Node,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Expression> {
    let text = crate::words::one_text(n, &mut r.out)?;
    let here = Here {
        tables: r.tables,
        before: &r.before,
        all: &r.all,
        own: None,
        each,
        whens,
    };
    match Expression::parse(&text, &here) {
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
            format!("{}; wanted: choices", n.described()),
            "write `id: words`, one on a line",
        );
        return None;
    };
    if entries.len() < 2 {
        r.out.error(
            "too-few-choices",
            n,
            "a choice needs at least two to choose from",
        );
        return None;
    }
    let language = r.language.clone();
    let mut good = true;
    let mut choices = Vec::new();
    for (key, value) in entries {
        let id = typed::checked_name(&key.text, "choice id", key, &mut r.out);
        match (id, Words::read(value, &language, &mut r.out)) {
            (Some(id), Some(words)) => choices.push((id, words)),
            (Some(_) | None, _) => good = false,
        }
    }
    good.then_some(choices)
}

/// A unit; without one a plain number is meant: `Some(None)`.
#[expect(
    clippy::option_option,
    reason = "the outer one says whether the reading went well"
)]
fn unit(n: Option<&Node>, r: &mut Reader) -> Option<Option<Unit>> {
    let Some(n) = n else { return Some(None) };
    let text = typed::scalar(n, "a unit", &mut r.out)?;
    match Unit::find(text) {
        Ok(u) => Some(Some(u)),
        Err(e) => {
            r.out
                .error(
                    "unknown-unit",
                    n,
                    crate::text::safe_line(&e.message).into_owned(),
                )
                .hint = e.hint;
            None
        }
    }
}

fn reading(
    n: &Node,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Instrument> {
    let n = typed::known_keys(n, "a reading", &READING, &mut r.out)?;
    let unit = unit(n.get("unit"), r);
    let decimals = typed::wanted(n, "decimals", "the reading", &mut r.out)
        .and_then(|d| typed::whole(d, 0, 6, &mut r.out));
    let from_node = typed::wanted(n, "from", "the reading", &mut r.out);
    let to_node = typed::wanted(n, "to", "the reading", &mut r.out);
    let unit = unit?;
    let dimension = unit.map_or(Dimension::Number, Unit::dimension);
    let from = from_node.and_then(|l| limit(l, dimension, decimals, each, whens, r));
    let to = to_node.and_then(|l| limit(l, dimension, decimals, each, whens, r));
    let (from, to) = (from?, to?);
    if let (Limit::Given(a), Limit::Given(b)) = (&from, &to)
        && a.to_exact() >= b.to_exact()
    {
        r.out.error(
            "empty-range",
            n,
            format!("from {a} to {b} leaves nothing to read"),
        );
        return None;
    }
    Some(Instrument {
        unit,
        from,
        to,
        decimals: u8::try_from(decimals?).ok()?,
    })
}

fn limit(
    n: &Node,
    dimension: Dimension,
    decimals: Option<u32>,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Limit> {
    let text = typed::scalar(n, "a number or a name", &mut r.out)?;
    let is_path = text.contains('.') && text.split('.').all(typed::is_name);
    if is_path {
        let e = expression(n, each, whens, r)?;
        if *e.ty() != Type::Quantity(dimension) {
            r.out.error(
                "wrong-dimension",
                n,
                format!("`{text}` is not what the instrument measures"),
            );
            return None;
        }
        return Some(Limit::Named(e));
    }
    if typed::is_name(text) {
        r.out.hinted(
            "bad-number",
            n,
            format!("`{text}` is neither a number nor a name with a dot"),
            "write a number, or set.NAME, site.NAME, item.NAME",
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
            format!("{d} has more decimals than the {most} that are read"),
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
    let what = format!("the step `{id}`");
    if expression.as_ref().is_some_and(|e| *e.ty() == Type::Date) {
        return expression.map(|expression| Derived {
            expression,
            form: None,
        });
    }
    let decimals = typed::wanted(step, "decimals", &what, &mut r.out)
        .and_then(|d| typed::whole(d, 0, 6, &mut r.out));
    let round =
        typed::wanted(step, "round", &what, &mut r.out).and_then(|d| {
            match typed::scalar(d, "up or down", &mut r.out)? {
                "up" => Some(Rounding::Up),
                "down" => Some(Rounding::Down),
                other => {
                    r.out.error(
                        "unknown-choice",
                        d,
                        format!("{}; wanted: up or down", quoted(other, 24)),
                    );
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
            let measured = format!(
                "the unit measures {}, and what is worked out is {}",
                dimension.words(),
                d.words()
            );
            r.out.error("wrong-dimension", at, measured).hint = d
                .usual_unit()
                .map(|u| format!("write `unit: {}`", u.symbol()));
            return None;
        }
        Type::Bool | Type::Choice { .. } | Type::Date | Type::Span | Type::Text | Type::List(_) => {
            r.out.error(
                "wrong-type",
                n,
                "only a quantity, a number or a date can be worked out by a step",
            );
            return None;
        }
    }
    let form = Form {
        unit,
        decimals: u8::try_from(decimals?).ok()?,
        round: round?,
    };
    Some(Derived {
        expression,
        form: Some(form),
    })
}

fn type_of(kind: &StepKind, id: &str) -> Type {
    match kind {
        StepKind::Confirm => Type::Bool,
        StepKind::Choice(c) => Type::Choice {
            of: id.to_owned(),
            offered: c.iter().map(|(i, _)| i.clone()).collect(),
        },
        StepKind::Reading(i) => Type::Quantity(i.dimension()),
        StepKind::Date => Type::Date,
        StepKind::Text => Type::Text,
        StepKind::Derived(d) => d
            .form
            .as_ref()
            .map_or(Type::Date, |f| Type::Quantity(f.dimension())),
        StepKind::Timed(_) => Type::Quantity(Dimension::Duration),
    }
}

/// A step with everything but id, kind and conditions.
fn words_and_flags(
    node: &Node,
    what: &str,
    each: Option<&Each>,
    whens: &[Option<Gate>],
    r: &mut Reader,
) -> Option<Step> {
    let language = r.language.clone();
    let template = |r: &mut Reader, n: &Node| {
        let here = Here {
            tables: r.tables,
            before: &r.before,
            all: &r.all,
            own: None,
            each,
            whens,
        };
        Template::read(n, &language, r.source, &here, &mut r.out)
    };
    let ask = typed::wanted(node, "ask", what, &mut r.out).and_then(|n| template(r, n));
    let because = node.get("because").and_then(|n| template(r, n));
    let fix = node.get("fix").and_then(|n| template(r, n));
    let how = node.get("how").and_then(|n| template(r, n));
    let source = node
        .get("source")
        .and_then(|n| Words::read(n, &language, &mut r.out));
    let good_for = node
        .get("good_for")
        .map_or(Vec::new(), |n| good_for(n, &mut r.out));
    let mut flag = |key: &str| {
        node.get(key)
            .and_then(|n| typed::truth(n, &mut r.out))
            .unwrap_or(false)
    };
    let (blind, below, may_leave_out, critical) = (
        flag("blind"),
        flag("below"),
        flag("may_leave_out"),
        flag("critical"),
    );
    let before = node.get("before").map_or(Some(Before::Declare), |n| {
        match typed::scalar(n, "start, air or declare", &mut r.out)? {
            "start" => Some(Before::Start),
            "air" => Some(Before::Air),
            "declare" => Some(Before::Declare),
            other => {
                r.out.error(
                    "unknown-choice",
                    n,
                    format!("{}; wanted: start, air or declare", quoted(other, 24)),
                );
                None
            }
        }
    });
    Some(Step {
        id: String::new(),
        ask: ask?,
        kind: StepKind::Confirm,
        each: None,
        when: None,
        gate: None,
        because,
        fix,
        how,
        source,
        good_for,
        blind,
        below,
        may_leave_out,
        critical,
        before: before?,
        place: r.source.place(node),
    })
}

fn good_for(n: &Node, out: &mut Findings) -> Vec<GoodFor> {
    match &n.tree {
        Tree::Seq(items) if !items.is_empty() => items
            .iter()
            .filter_map(|i| one_good_for(i, false, out))
            .collect(),
        Tree::Seq(_) => {
            out.error(
                "bad-good-for",
                n,
                "an empty list; wanted: at least one scope",
            );
            Vec::new()
        }
        Tree::Scalar(..) | Tree::Map(_) => one_good_for(n, false, out).into_iter().collect(),
    }
}

fn one_good_for(n: &Node, site_wide: bool, out: &mut Findings) -> Option<GoodFor> {
    let words: Vec<&str> = GoodForScope::WORDS.iter().map(|(w, _)| *w).collect();
    match &n.tree {
        Tree::Scalar(t, _) => {
            if let Some((_, scope)) = GoodForScope::WORDS.iter().find(|(w, _)| w == t) {
                return Some(GoodFor {
                    scope: *scope,
                    site_wide,
                });
            }
            let hint = nearest(t, words.iter().copied()).map_or_else(
                || format!("known: {}", listed(&words, "and")),
                |m| format!("did you mean `{m}`?"),
            );
            out.hinted(
                "bad-good-for",
                n,
                format!("{} is nothing an answer can stay good for", quoted(t, 40)),
                hint,
            );
            None
        }
        Tree::Map(entries) => match entries.as_slice() {
            [(k, v)] if k.text == "hours" => typed::whole(v, 1, 8784, out).map(|n| GoodFor {
                scope: GoodForScope::Hours(n),
                site_wide,
            }),
            [(k, v)] if k.text == "months" => typed::whole(v, 1, 120, out).map(|n| GoodFor {
                scope: GoodForScope::Months(n),
                site_wide,
            }),
            [(k, v)] if k.text == "site" && !site_wide => one_good_for(v, true, out),
            _ => {
                out.hinted(
                    "bad-good-for",
                    n,
                    "wanted: one of `hours`, `months`, `site` with its value",
                    "write good_for: [place, {hours: 12}]",
                );
                None
            }
        },
        Tree::Seq(_) => {
            out.error("bad-good-for", n, "a list inside a list");
            None
        }
    }
}
