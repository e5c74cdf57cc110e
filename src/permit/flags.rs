//! What a supervisor should look at before signing: quick answers, late ones, readings "read wrong", the same
//! value again where it must have moved. Flags ask questions; they refuse nothing.
//!
//! Always: worked out from the lines, never kept. The time for an answer runs from the line after which it
//! could first be given: the permit's answer before it, on this permit, else its opening; where the step is judged on the
//! running set, also the last start. What was told later (`at`) is not timed, nor what was given on another permit and
//! carried to this one.

use super::bench::{Bench, LATE_AFTER, with_unit};
use super::state::Answer;
use super::walk::{Stand, walk};
use crate::checklist::{Before, GoodForScope, StepKind};
use crate::gate::Value;
use crate::time::seconds;
use crate::tongue::say;
use crate::units::{Quantity, Rounding};
use crate::view::{LineNo, recorded};

/// After one of these the same reading again says that nothing was done, or nothing was read.
const MOVES: [&str; 4] = ["refilled", "changed", "tightened", "moved"];

/// Something to look at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flag {
    /// The answer's line.
    pub line: LineNo,
    /// In words, without the step.
    pub words: String,
    /// With the step and item.
    pub whole: String,
}

/// The flags of every answer of a permit, also to its shutdown, in the order of the register.
pub fn of(bench: &Bench<'_>) -> Vec<Flag> {
    let mut out = flags(bench, &walk(bench));
    if let Some(b) = bench.shutdown().filter(|b| b.form.sha256() != bench.form.sha256()) {
        out.extend(flags(&b, &walk(&b)));
    }
    out.sort_by_key(|f| f.line);
    out
}

fn flags(bench: &Bench<'_>, stands: &[Stand<'_>]) -> Vec<Flag> {
    let mut out = Vec::new();
    for s in stands {
        let mut add = |a: &Answer, words: String| {
            out.push(Flag { line: a.stamp.line, whole: format!("{}: {words}", s.label()), words });
        };
        let mut before: Option<&Answer> = None;
        for a in s.answers.iter().copied() {
            if let Some(words) = quick(bench, s, a).or_else(|| late(a)) {
                add(a, words);
            }
            if let Some(words) = running(bench, s, a) {
                add(a, words);
            }
            if let Some(b) = before {
                if a.again.as_deref() == Some("read_wrong") {
                    add(
                        a,
                        say!(
                            "said to be read wrong: {first}, then {second}",
                            first = value(b),
                            second = value(a)
                        ),
                    );
                }
                if let Some(words) = same_again(bench, s, b, a) {
                    add(a, words);
                }
            }
            before = Some(a);
        }
    }
    out
}

/// What is good for one start alone is looked at while the set stands still: by the register it ran, and runs.
fn running(bench: &Bench<'_>, s: &Stand<'_>, a: &Answer) -> Option<String> {
    let for_a_start = s.step.good_for().iter().all(|g| g.scope == GoodForScope::Start);
    if s.step.before() != Before::Start || s.step.good_for().is_empty() || !for_a_start || a.carry.is_some() {
        return None;
    }
    let set = bench.state.sets.get(&bench.permit.set.id).filter(|set| set.running())?;
    let start = set.last.get("started").filter(|start| start.stamp.seq < a.stamp.seq)?;
    let time = crate::time::clock(&start.stamp.time, &start.stamp.zone);
    Some(say!("looked at with the set standing still; by the register it runs since {time}", time))
}

/// What was entered more than 5 min after it happened, and who told it.
fn late(a: &Answer) -> Option<String> {
    let at = a.at.as_deref()?;
    let minutes = (seconds(&a.stamp.time) - seconds(at)) / 60;
    let who = a.told_by.as_deref().map(|w| say!(", told by {who}", who = w)).unwrap_or_default();
    let of = crate::time::clock(at, &a.stamp.zone);
    (seconds(&a.stamp.time) - seconds(at) > LATE_AFTER)
        .then(|| say!("entered {minutes} min late: of {of}{who}; it opens nothing", minutes, of, who))
}

fn value(a: &Answer) -> String {
    let below = if a.below { "< " } else { "" };
    let unit = a.unit.as_deref().map(|u| format!(" {u}")).unwrap_or_default();
    match &a.left_out {
        Some(_) => say!("out of service").into(),
        None => format!("{below}{}{unit}", a.value.as_deref().unwrap_or_default()),
    }
}

fn quick(bench: &Bench<'_>, s: &Stand<'_>, a: &Answer) -> Option<String> {
    let takes = s.step.takes()?;
    if a.at.is_some() || a.left_out.is_some() || a.carry.is_some() {
        return None;
    }
    let Ok(Value::Quantity(wanted)) = takes.compute(&bench.asker(s.step, s.item.as_ref())) else {
        return None;
    };
    let since = could_first(bench, s, a);
    let took = seconds(&a.stamp.time) - since;
    let have = Quantity { value: num_rational::BigRational::from_integer(took.into()), ..wanted.clone() };
    have.compare(&wanted).is_some_and(std::cmp::Ordering::is_lt).then(|| {
        let wanted = wanted.words(crate::units::unit("s"), Rounding::Up);
        say!("answered {took} s after it could first be, which takes {wanted}", took, wanted)
    })
}

/// The second at which an answer could first be given.
fn could_first(bench: &Bench<'_>, s: &Stand<'_>, a: &Answer) -> i64 {
    let permit = bench.permit;
    let lines = permit.answers.iter().flat_map(|o| [Some(&o.stamp), o.deviation.as_ref().map(|d| &d.stamp)]);
    let on_running = s.step.good_for().iter().any(|g| g.scope == GoodForScope::Start);
    let started = permit.day.iter().filter(|h| on_running && h.kind == "started").map(|h| &h.stamp);
    lines
        .flatten()
        .chain(started)
        .filter(|t| t.seq < a.stamp.seq)
        .map(|t| seconds(&t.time))
        .chain([seconds(&permit.opened.time)])
        .max()
        .unwrap_or_default()
}

/// The same reading to the last digit, although something was done that moves it, or the reserve was filled
/// between the two.
fn same_again(bench: &Bench<'_>, s: &Stand<'_>, before: &Answer, a: &Answer) -> Option<String> {
    let StepKind::Reading(i) = s.step.kind() else { return None };
    if a.value.is_none() || before.value != a.value || before.below != a.below {
        return None;
    }
    let same = with_unit(a.value.as_deref().unwrap_or_default(), i.unit());
    if let Some(done) = a.again.as_deref().filter(|d| MOVES.contains(d)) {
        return Some(say!("reads {same} again after \"{done}\"", same, done = recorded(done)));
    }
    let rests_on_fill = s.step.good_for().iter().any(|g| g.scope == GoodForScope::Fill);
    let between = |seq: u64| before.stamp.seq < seq && seq < a.stamp.seq;
    let filled = bench.permit.day.iter().any(|h| h.kind == "filled" && between(h.stamp.seq));
    (rests_on_fill && filled).then(|| say!("reads {same} again after the reserve was filled", same))
}
