//! What a well-formed step or checklist must still not be: keys that contradict each other, answers that
//! nothing judges, rounding to the unsafe side, gates no answer can open.

use super::{Before, Checklist, Each, Purpose, Step, StepKind};
use crate::gate::{Direction, Gate, Used};
use crate::source::{Findings, Key, Node};
use crate::tongue::say;
use crate::units::Rounding;
use std::collections::BTreeSet;

/// Checks one step against itself.
pub(super) fn step(s: &Step, purpose: Option<Purpose>, node: &Node, out: &mut Findings) {
    let id = &s.id;
    let at = |key: &str| node.entry(key).map(|(k, _)| k.clone());
    let refuse = |key: &str, code, message: String, hint: &str, out: &mut Findings| {
        if let Some(k) = at(key) {
            out.hinted(code, &k, message, hint);
        }
    };
    let derived = matches!(s.kind, StepKind::Derived(_));
    let reading = matches!(s.kind, StepKind::Reading(_));
    for key in ["unit", "decimals", "round"] {
        if !derived {
            refuse(
                key,
                "key-not-here",
                say!("`{key}` belongs to a `derived` step, or inside `reading`", key),
                say!("move or remove it"),
                out,
            );
        }
    }
    if s.below && !reading {
        refuse(
            "below",
            "key-not-here",
            say!("`below` belongs to a reading; `{id}` is a {kind}", id, kind = s.kind.key()),
            say!("remove it"),
            out,
        );
    }
    if s.may_leave_out && !matches!(s.each, Some(Each::Set(_) | Each::Site(_) | Each::Job(_))) {
        refuse(
            "may_leave_out",
            "key-not-here",
            say!("only one of a list of items can be taken out of service").into(),
            say!("remove it, or add `each: set.LIST`"),
            out,
        );
    }
    if s.critical && s.may_leave_out {
        refuse(
            "may_leave_out",
            "critical-left-out",
            say!("`{id}` is critical; nothing critical may be left out", id),
            say!("remove one of the two"),
            out,
        );
    }
    if s.blind && s.gate.is_none() {
        refuse(
            "blind",
            "key-not-here",
            say!("there is no limit to hide: the step has no gate").into(),
            say!("remove it"),
            out,
        );
    }
    if s.takes.is_some() && matches!(s.kind, StepKind::Derived(_) | StepKind::Timed(_)) {
        refuse(
            "takes",
            "key-not-here",
            say!("nobody can be too quick at `{id}`: it is a {kind} step", id, kind = s.kind.key()),
            say!("remove it"),
            out,
        );
    }
    let issued =
        purpose != Some(Purpose::Shutdown) && !(s.each == Some(Each::Wearer) && s.before == Before::Air);
    let looked_at = matches!(s.kind, StepKind::Reading(_) | StepKind::Choice(_) | StepKind::Confirm);
    if s.fresh && !(issued && looked_at) {
        refuse(
            "fresh",
            "key-not-here",
            say!(
                "`{id}` is not read off anything before a permit is issued, so that it cannot be too old then",
                id
            ),
            say!("remove it"),
            out,
        );
    }
    if s.deviation && s.critical {
        refuse(
            "deviation",
            "critical-deviation",
            say!("`{id}` is critical; nobody accepts a deviation from it", id),
            say!("remove one of the two"),
            out,
        );
    }
    if s.deviation && !holds(s) {
        refuse(
            "deviation",
            "key-not-here",
            say!("`{id}` never holds, so that there is nothing to deviate from", id),
            say!("remove it"),
            out,
        );
    }
    // The set is started before a supervisor signs, and a wearer's own step is asked after: neither could be
    // accepted by name. A shutdown has no countersignature.
    if s.deviation && (s.before != Before::Declare || purpose == Some(Purpose::Shutdown)) {
        refuse(
            "deviation",
            "deviation-unsafe",
            say!("no countersignature could accept a deviation from `{id}` in time", id),
            say!("remove it, or `before`"),
            out,
        );
    }
    gate(s, node, out);
    blind(s, node, out);
    wanted_words(s, node, out);
}

fn gate(s: &Step, node: &Node, out: &mut Findings) {
    let (Some(gate), Some((_, at))) = (&s.gate, node.entry("gate")) else {
        return;
    };
    let id = &s.id;
    match &s.kind {
        StepKind::Text => out.hinted(
            "gate-on-text",
            at,
            say!("no gate can judge words"),
            say!("ask for a choice or a confirmation"),
        ),
        StepKind::Timed(_) => out.hinted(
            "gate-on-timed",
            at,
            say!("a wait is its own gate: it opens when the time is over"),
            say!("remove the gate"),
        ),
        StepKind::Confirm
        | StepKind::Choice(_)
        | StepKind::Reading(_)
        | StepKind::Date
        | StepKind::Derived(_) => {
            if !names(gate).any(|n| n == *id) {
                let message =
                    say!("the gate of `{id}` does not look at its answer, so any answer would do", id);
                out.hinted(
                    "gate-ignores-answer",
                    at,
                    message,
                    say!("name `{id}` in it, or move the condition to a `when`", id),
                );
            }
        }
    }
    if let StepKind::Derived(d) = &s.kind
        && let Some(form) = &d.form
        && let Some(safe) = safe_rounding(gate.direction(&vec![id.clone()]))
        && form.round != safe
    {
        let message = if safe == Rounding::Down {
            say!("`{id}` must be at least something, and is rounded towards it", id)
        } else {
            say!("`{id}` must be at most something, and is rounded towards it", id)
        };
        round_unsafe(node.get("round").unwrap_or(at), message, safe, out);
    }
}

/// How a value must be rounded that helps a gate, or hurts it, by being larger.
pub(super) fn safe_rounding(direction: Direction) -> Option<Rounding> {
    match direction {
        Direction::Up => Some(Rounding::Down),
        Direction::Down => Some(Rounding::Up),
        Direction::Nothing | Direction::Unclear => None,
    }
}

pub(super) fn round_unsafe(at: &Node, message: String, safe: Rounding, out: &mut Findings) {
    out.hinted("round-unsafe", at, message, say!("write `round: {safe}`", safe = rounding(safe)));
}

pub(super) fn rounding(way: Rounding) -> &'static str {
    match way {
        Rounding::Down => "down",
        Rounding::Up => "up",
        Rounding::Nearest => "nearest",
    }
}

fn names(gate: &Gate) -> impl Iterator<Item = String> {
    gate.names().map(|u| u.name.join("."))
}

/// A blind step must not tell its limit before the answer.
fn blind(s: &Step, node: &Node, out: &mut Findings) {
    let Some(gate) = s.gate.as_ref().filter(|_| s.blind) else {
        return;
    };
    let limits: BTreeSet<String> = names(gate).collect();
    for (key, words) in [("ask", Some(&s.ask)), ("how", s.how.as_ref())] {
        let told = words.and_then(|w| w.names().iter().find(|n| limits.contains(*n)));
        if let (Some(name), Some(at)) = (told, node.get(key)) {
            let message = say!("`{step}` is blind, and its words tell the limit `{name}`", step = s.id, name);
            out.hinted(
                "blind-shown",
                at,
                message,
                say!("tell it in `because` or `fix`, which are shown afterwards"),
            );
        }
    }
}

/// Whether an answer can hold people up; a wait that is not over is no answer.
fn holds(s: &Step) -> bool {
    s.gate.is_some() || matches!(s.kind, StepKind::Confirm)
}

/// Why, what to do and on whose word: wanted wherever a step can hold people up.
fn wanted_words(s: &Step, node: &Node, out: &mut Findings) {
    if !holds(s) {
        return;
    }
    for (key, there) in
        [("because", s.because.is_some()), ("fix", s.fix.is_some()), ("source", s.source.is_some())]
    {
        if there || node.get(key).is_some() {
            continue;
        }
        let message = say!("`{step}` can hold people up and has no `{key}`", step = s.id, key);
        if s.critical && key != "source" {
            out.hinted("unexplained", node, message, say!("add `{key}: ...`", key));
        } else {
            out.warning("unexplained", node, message).hint = Some(say!("add `{key}: ...`", key));
        }
    }
}

/// Checks the checklist as a whole; `root` gives the places.
pub(super) fn whole(c: &Checklist, root: &Node, out: &mut Findings) {
    super::across::check(c, root, out);
    let mut named: BTreeSet<String> = BTreeSet::new();
    let mut note =
        |used: Vec<Used<'_>>| named.extend(used.into_iter().filter_map(|u| u.name.first().cloned()));
    for s in &c.stages {
        if let Some(w) = &s.when {
            note(w.names().collect());
        }
    }
    for (_, s) in c.steps() {
        [&s.when, &s.gate].into_iter().flatten().for_each(|g| note(g.names().collect()));
        match &s.kind {
            StepKind::Derived(d) => note(d.expression.names().collect()),
            StepKind::Timed(e) => note(e.names().collect()),
            StepKind::Confirm
            | StepKind::Choice(_)
            | StepKind::Reading(_)
            | StepKind::Date
            | StepKind::Text => {}
        }
    }
    for (_, s) in c.steps() {
        let judged = s.gate.is_some()
            || named.contains(&s.id)
            || matches!(s.kind, StepKind::Confirm | StepKind::Text | StepKind::Timed(_));
        if !judged {
            let key = Key { text: String::new(), line: s.place.line, column: s.place.column };
            out.warning(
                "never-judged",
                &key,
                say!("nothing ever looks at the answer to `{step}`", step = s.id),
            )
            .hint = Some(say!("give it a gate, or name it in a later one").into());
        }
    }
}
