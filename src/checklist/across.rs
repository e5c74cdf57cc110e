//! What only the whole form shows of one step: values whose rounding is unsafe for a gate further down, gates that
//! hold nobody because a step before them must be open anyway.

use super::rules::{round_unsafe, rounding, safe_rounding};
use super::subjects::is_subject;
use super::{Before, Checklist, Derived, Purpose, Stage, Step, StepKind};
use crate::gate::{Direction, Gate};
use crate::source::{Findings, Node, Tree};
use crate::text::listed;
use crate::tongue::say;
use crate::units::Rounding;
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(c: &Checklist, root: &Node, out: &mut Findings) {
    let steps: Vec<(&Stage, &Step)> = c.steps().collect();
    roundings(&steps, root, out);
    idle_gates(c, &steps, root, out);
}

/// The node of a step.
fn node<'n>(root: &'n Node, step: &Step) -> Option<&'n Node> {
    let list = |n: &'n Node| match &n.tree {
        Tree::Seq(all) => all.as_slice(),
        Tree::Map(_) | Tree::Scalar(..) => &[],
    };
    let stages = root.get("stages").map(list)?;
    let mut all = stages.iter().filter_map(|s| s.get("steps")).flat_map(list);
    all.find(|n| (n.line, n.column) == (step.place.line, step.place.column))
}

/// Which steps name a step, in their gate or in what is worked out; each once.
fn users<'s>(steps: &[(&'s Stage, &'s Step)]) -> BTreeMap<&'s str, Vec<&'s Step>> {
    let mut users: BTreeMap<&str, Vec<&Step>> = BTreeMap::new();
    for (_, step) in steps {
        let mut named: Vec<&str> = Vec::new();
        let mut note = |name: &'s [String]| {
            if let [one] = name {
                named.push(one);
            }
        };
        if let Some(gate) = &step.gate {
            gate.names().for_each(|u| note(u.name));
        }
        if let StepKind::Derived(d) = &step.kind {
            d.expression.names().for_each(|u| note(u.name));
        }
        named.sort_unstable();
        named.dedup();
        for name in named {
            users.entry(name).or_default().push(step);
        }
    }
    users
}

/// A value must be rounded so that no gate that looks at it, by itself or through another value, is helped.
fn roundings(steps: &[(&Stage, &Step)], root: &Node, out: &mut Findings) {
    let users = users(steps);
    // From the last on: what a value does to the gates is known before what goes into it.
    let mut does: BTreeMap<&str, (Direction, Vec<&str>)> = BTreeMap::new();
    for (_, step) in steps.iter().rev() {
        let StepKind::Derived(d) = &step.kind else { continue };
        let name = vec![step.id.clone()];
        let (mut all, mut gates) = (Direction::Nothing, Vec::new());
        for user in users.get(step.id.as_str()).into_iter().flatten() {
            let own = user.gate.as_ref().map_or(Direction::Nothing, |g| g.direction(&name));
            if own != Direction::Nothing {
                gates.push(user.id.as_str());
            }
            all = all.with(own);
            if let (StepKind::Derived(further), Some((outer, of))) = (&user.kind, does.get(user.id.as_str()))
            {
                let through = further.expression.direction(&name).through(*outer);
                if through != Direction::Nothing {
                    gates.extend(of);
                }
                all = all.with(through);
            }
        }
        rounded(step, d, all, &gates, root, out);
        gates.sort_unstable();
        gates.dedup();
        does.insert(&step.id, (all, gates));
    }
}

fn rounded(step: &Step, d: &Derived, does: Direction, gates: &[&str], root: &Node, out: &mut Findings) {
    let (Some(form), Some(node)) = (&d.form, node(root, step)) else { return };
    let (id, at) = (&step.id, node.get("round").unwrap_or(node));
    let lean = d.expression.leans();
    match (safe_rounding(does), lean) {
        (Some(safe), _) if form.round != safe => {
            let gates: Vec<String> = gates.iter().map(|g| format!("`{g}`")).collect();
            let gates = listed(&gates, say!("and"));
            let message = if safe == Rounding::Down {
                say!(
                    "`{id}` must be at least something in the gate of {gates}, and is rounded towards it",
                    id,
                    gates
                )
            } else {
                say!(
                    "`{id}` must be at most something in the gate of {gates}, and is rounded towards it",
                    id,
                    gates
                )
            };
            round_unsafe(at, message, safe, out);
        }
        (None, Some(lean)) if form.round != lean => {
            let message = say!(
                "what works out `{id}` is safe rounded {safe}, and it is rounded {own}",
                id,
                safe = rounding(lean),
                own = rounding(form.round)
            );
            round_unsafe(at, message, lean, out);
        }
        (Some(_), Some(lean)) if form.round != lean => {
            let message = say!(
                "the gate asks of `{id}` the opposite of what it is worked out for: it errs {safe}, and is rounded {own}",
                id,
                safe = rounding(lean),
                own = rounding(form.round)
            );
            out.warning("gate-against-lean", at, message).hint =
                Some(say!("look at the comparison: is it the right way round?").into());
        }
        (_, _) => {}
    }
}

/// So many steps are looked at for one name of a gate; only what is proved is said.
const MOST_LOOKED_AT: usize = 64;

/// Gates that an answer cannot shut: an arm of their `or` is what a step before them already holds everyone up for, or
/// what stands in their own `when`.
fn idle_gates(c: &Checklist, steps: &[(&Stage, &Step)], root: &Node, out: &mut Findings) {
    // Which steps could say something of a name: the step of that id, and those whose gate looks at it.
    let mut about: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (n, (_, step)) in steps.iter().enumerate() {
        let mut names: BTreeSet<String> =
            step.gate.iter().flat_map(Gate::names).map(|u| u.name.join(".")).collect();
        names.insert(step.id.clone());
        for name in names {
            about.entry(name).or_default().push(n);
        }
    }
    for (n, (stage, step)) in steps.iter().enumerate() {
        let Some(gate) = step.gate.as_ref().filter(|g| g.has_or()) else { continue };
        let mine: Vec<&Gate> = [&stage.when, &step.when].into_iter().flatten().collect();
        let names: BTreeSet<String> = gate.names().map(|u| u.name.join(".")).collect();
        let before: BTreeSet<usize> = names
            .iter()
            .filter_map(|name| about.get(name))
            .flat_map(|all| all.iter().take(MOST_LOOKED_AT))
            .copied()
            .filter(|at| *at < n)
            .collect();
        let (mut open, mut yes) = (mine.clone(), Vec::new());
        for (of, before) in before.into_iter().filter_map(|at| steps.get(at)) {
            if !holds_first(c, (of, before), step, &mine) {
                continue;
            }
            match &before.gate {
                Some(gate) => open.push(gate),
                None if matches!(before.kind, StepKind::Confirm) => yes.push(before.id.as_str()),
                None => {}
            }
        }
        if !gate.idle(&vec![step.id.clone()], &open, &yes) {
            continue;
        }
        let place = node(root, step).and_then(|n| n.get("gate"));
        let place = place.map_or_else(|| step.place.clone(), |n| crate::source::At::place(&n, out.file()));
        let message = say!(
            "no answer to `{step}` can shut this gate: the other side of its `or` must be open before it is asked",
            step = step.id
        );
        let hint = say!("remove that side of the `or`");
        if step.critical || is_subject(&step.id) {
            out.hinted("always-opens", place, message, hint);
        } else {
            out.warning("always-opens", place, message).hint = Some(hint.into());
        }
    }
}

/// Whether nothing that rests on `step` goes on while this earlier step is not open: it applies wherever `step` does, is
/// one answer, nobody may deviate from it, and it is wanted no later.
fn holds_first(c: &Checklist, (stage, before): (&Stage, &Step), step: &Step, mine: &[&Gate]) -> bool {
    let applies = [&stage.when, &before.when].into_iter().flatten().all(|w| w.follows_from(mine));
    let in_time = match before.before {
        Before::Start => true,
        Before::Declare => step.before != Before::Start,
        Before::Air => false,
    };
    // A stage of a shutdown may be left out by what comes after it.
    c.purpose() == Purpose::Work
        && applies
        && before.each.is_none()
        && !before.deviation
        && !before.may_leave_out
        && in_time
}
