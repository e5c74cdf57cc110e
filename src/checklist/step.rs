//! One step: its keys, how it is answered, and what each key allows of the others.

use super::each::good_for;
use super::kinds::{kind, range_of, type_of};
use super::read::Reader;
use super::scope::StepName;
use super::{Before, Each, Step, StepKind};
use crate::gate::{Gate, Possible, reserved};
use crate::source::{Findings, Key, Node, typed};
use crate::text::{listed, nearest, quoted};
use crate::tongue::say;
use crate::units;
use crate::words::{Template, Words};

/// The answer kinds.
const KINDS: [&str; 7] = ["confirm", "choice", "reading", "date", "text", "derived", "timed"];
/// All other keys.
const KEYS: [&str; 22] = [
    "step",
    "ask",
    "called",
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
    "takes",
    "fresh",
    "below",
    "deviation",
    "may_leave_out",
    "critical",
    "before",
];

/// Reads a step and makes it known to those after it, also where it has mistakes.
pub(super) fn read(node: &Node, stage_when: &[Option<Gate>], r: &mut Reader) -> Option<Step> {
    let known: Vec<&str> = KEYS.into_iter().chain(KINDS).collect();
    let node = typed::known_keys(node, say!("a step"), &known, &mut r.out)?;
    let errors = r.out.error_count();
    let id_node = typed::wanted(node, "step", say!("the step"), &mut r.out);
    let id = id_node.and_then(|n| step_id(n, r));
    let each = node.get("each").and_then(|n| each(n, r));
    if each.is_none() && node.get("each").is_some() {
        // Over what it is asked is not known: every `item.` in it would only seem to be wrong.
        if let Some(id) = id {
            r.before.push(StepName { id, line: node.line, ty: None, range: None, each, whens: Vec::new() });
        }
        return None;
    }
    let mut whens = stage_when.to_vec();
    let when = node.get("when").and_then(|n| {
        let when = r.gate(n, None, each.as_ref(), stage_when);
        whens.push(when.clone());
        when
    });
    let what = id.as_ref().map_or_else(|| say!("the step").to_owned(), |i| say!("the step `{i}`", i));
    let kind_key = kind_key(node, &what, &mut r.out);
    let kind = kind_key
        .and_then(|(k, n)| kind(k, n, node, id.as_deref().unwrap_or("step"), each.as_ref(), &whens, r));
    let ty = kind.as_ref().map(|k| type_of(k, id.as_deref().unwrap_or_default()));
    let mut name = StepName {
        id: id.clone().unwrap_or_default(),
        line: node.line,
        ty,
        range: None,
        each: each.clone(),
        whens: whens.clone(),
    };
    name.range = kind.as_ref().and_then(|k| range_of(k, &r.here(None, each.as_ref(), &whens)));
    let gate = node.get("gate").and_then(|n| {
        // The type of a step with mistakes is not known: judging its gate would only repeat them.
        name.ty.as_ref()?;
        let gate = r.gate(n, Some(&name), each.as_ref(), &whens)?;
        let marked = matches!(node.get("critical").map(|n| &n.tree), Some(crate::source::Tree::Scalar(t, _)) if t == "true");
        let subject = id.as_deref().is_some_and(super::subjects::is_subject);
        can_open(&gate, n, &name, &whens, marked || subject, r);
        Some(gate)
    });
    let takes = node.get("takes").and_then(|n| super::kinds::duration(n, each.as_ref(), &whens, r));
    let step = words_and_flags(node, &what, each.as_ref(), &whens, r);
    if id.is_some() {
        r.before.push(name);
    }
    let mut step = step?;
    step.id = id?;
    step.kind = kind?;
    (step.when, step.gate, step.each, step.takes) = (when, gate, each, takes);
    super::rules::step(&step, r.purpose, node, &mut r.out);
    (r.out.error_count() == errors).then_some(step)
}

/// A gate that no answer opens would hold everybody up for ever; one that every answer opens is none.
/// Only what is proved over the ranges of instruments and fields is said.
fn can_open(gate: &Gate, n: &Node, own: &StepName, whens: &[Option<Gate>], critical: bool, r: &mut Reader) {
    let possible = {
        let here = r.here(Some(own), own.each.as_ref(), whens);
        gate.possible(&|name| here.range(name))
    };
    let id = &own.id;
    match possible {
        Possible::NeverOpen => r.out.hinted(
            "never-opens",
            n,
            say!("no answer to `{id}` can open this gate", id),
            say!("compare the limit with what the instrument and the files allow"),
        ),
        Possible::AlwaysOpen => {
            let message = say!("every answer to `{id}` opens this gate", id);
            let hint = say!("compare the limit with what the instrument shows");
            // A step that a life may rest on and that holds nobody is worse than none.
            if critical {
                r.out.hinted("always-opens", n, message, hint);
            } else {
                r.out.warning("always-opens", n, message).hint = Some(hint.into());
            }
        }
        Possible::Either => {}
    }
}

fn step_id(n: &Node, r: &mut Reader) -> Option<String> {
    let id = typed::name(n, say!("step id"), &mut r.out)?;
    if reserved(&id) || units::unit(&id).is_some() {
        r.out.hinted(
            "reserved-id",
            n,
            say!("`{id}` is a word of the gate language or a unit", id),
            say!("call the step otherwise"),
        );
        return None;
    }
    if let Some(first) = r.before.find(&id) {
        r.out.error(
            "duplicate-id",
            n,
            say!("the step `{id}` stands twice; first in line {line}", id, line = first.line),
        );
    }
    Some(id)
}

fn kind_key<'a>(node: &'a Node, what: &str, out: &mut Findings) -> Option<(&'static str, &'a Node)> {
    let found: Vec<(&'static str, &Key, &Node)> =
        KINDS.into_iter().filter_map(|k| node.entry(k).map(|(key, n)| (k, key, n))).collect();
    match found.as_slice() {
        [(k, _, n)] => Some((k, n)),
        [] => {
            out.hinted(
                "no-answer-kind",
                node,
                say!("{what} does not say how it is answered", what),
                say!("add one of {kinds}", kinds = listed(&KINDS, say!("or"))),
            );
            None
        }
        [_, (second, key, _), ..] => {
            out.hinted(
                "two-answer-kinds",
                *key,
                say!("{what} is answered in two ways; `{second}` is the second", what, second),
                say!("keep one"),
            );
            None
        }
    }
}

fn each(n: &Node, r: &mut Reader) -> Option<Each> {
    let text = typed::scalar(n, say!("set.LIST, site.LIST, job.LIST or wearer"), &mut r.out)?;
    let (made, table) = match text.split_once('.') {
        None if text == "wearer" => return Some(Each::Wearer),
        Some(("set", l)) => (Each::Set(l.to_owned()), r.tables.set),
        Some(("site", l)) => (Each::Site(l.to_owned()), r.tables.site),
        Some(("job", l)) => (Each::Job(l.to_owned()), r.tables.job),
        Some(_) | None => {
            r.out.hinted(
                "bad-each",
                n,
                say!("{got} is nothing a step can be asked for each of", got = quoted(text, 60)),
                say!("write set.LIST, site.LIST, job.LIST or wearer"),
            );
            return None;
        }
    };
    if made == Each::Job(Each::Wearer.list().to_owned()) {
        r.out.hinted(
            "bad-each",
            n,
            say!("a step for every wearer is asked before that wearer's first time on air"),
            say!("write `each: wearer`"),
        );
        return None;
    }
    if r.tables.items(&made).is_none() {
        let lists = table.iter().filter(|f| matches!(f.holds, crate::site::Holds::Items(_))).map(|f| f.name);
        let hint = nearest(made.list(), lists).map(|m| {
            say!("did you mean `{file}.{near}`?", file = text.split('.').next().unwrap_or_default(), near = m)
        });
        r.out.error("bad-each", n, say!("there is no list `{text}`", text)).hint = hint;
        return None;
    }
    Some(made)
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
        let mut found = Findings::new(r.out.file());
        let read = Template::read(n, &language, r.source, &r.here(None, each, whens), &mut found);
        r.out.take(found);
        read
    };
    let ask = typed::wanted(node, "ask", what, &mut r.out).and_then(|n| template(r, n));
    let because = node.get("because").and_then(|n| template(r, n));
    let fix = node.get("fix").and_then(|n| template(r, n));
    let how = node.get("how").and_then(|n| template(r, n));
    let called = node.get("called").and_then(|n| Words::read(n, &language, &mut r.out));
    let source = node.get("source").and_then(|n| Words::read(n, &language, &mut r.out));
    let good_for = node.get("good_for").map_or(Vec::new(), |n| good_for(n, &mut r.out));
    let mut flag = |key: &str| node.get(key).and_then(|n| typed::truth(n, &mut r.out)).unwrap_or(false);
    let (blind, below, may_leave_out, critical, fresh) =
        (flag("blind"), flag("below"), flag("may_leave_out"), flag("critical"), flag("fresh"));
    let deviation = node.get("deviation").and_then(|n| {
        let who = typed::scalar(n, "supervisor", &mut r.out)?;
        if who != "supervisor" {
            let message = say!("{got}; a deviation is accepted by a supervisor", got = quoted(who, 24));
            r.out.hinted("unknown-choice", n, message, say!("write `deviation: supervisor`"));
        }
        Some(())
    });
    let before = node.get("before").map_or(Some(Before::Declare), |n| {
        match typed::scalar(n, say!("start, air or declare"), &mut r.out)? {
            "start" => Some(Before::Start),
            "air" => Some(Before::Air),
            "declare" => Some(Before::Declare),
            other => {
                r.out.error(
                    "unknown-choice",
                    n,
                    say!("{got}; wanted: start, air or declare", got = quoted(other, 24)),
                );
                None
            }
        }
    });
    Some(Step {
        id: String::new(),
        ask: ask?,
        called,
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
        takes: None,
        fresh,
        below,
        deviation: deviation.is_some(),
        may_leave_out,
        critical,
        before: before?,
        place: r.source.place(node),
    })
}
