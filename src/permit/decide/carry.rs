//! Carrying: answers given on another permit of the set that still hold, cited instead of asked again.
//!
//! Always: only from a permit that was issued, to the same form, set and site file, the latest answer of its step; only
//! while every scope it names holds; only where its gate is open on this permit now. What is worked out is worked out
//! again and never carried. Not here: what a line that carries does (`state`).

use super::{Known, Refusal, in_states};
use crate::checklist::{GoodForScope, Step, StepKind};
use crate::permit::bench::{Bench, Texts, job_differs};
use crate::permit::ends::{self, End};
use crate::permit::state::{Answer, Carry, Permit, Stamp};
use crate::permit::walk::{self, Stand};
use crate::record::json::{Json, object};
use crate::record::line::Draft;
use crate::tongue::say;
use crate::view::{Standing, StateWord};

/// A line carries so many answers at most; a list of the record holds no more.
const MOST: usize = 64;

/// An answer that can be carried.
#[derive(Clone, Debug)]
pub struct Carried {
    /// Step.
    pub step: String,
    /// Item.
    pub item: Option<String>,
    /// What it is called.
    pub label: String,
    /// The answer, and before the end of a wait its beginning.
    pub answers: Vec<Answer>,
    /// The permit on which it was given.
    pub from: String,
    /// When it ends by itself.
    pub end: Option<End>,
}

impl Carried {
    /// The answer that counts.
    pub fn last(&self) -> Option<&Answer> {
        self.answers.last()
    }
}

/// Every answer that could be carried to a permit now, in the order of its form.
pub fn candidates(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Carried> {
    let issued_elsewhere = known.state.permits.values().rev().any(|p| {
        p.number != permit.number
            && p.form.hash == permit.form.hash
            && p.site.hash == permit.site.hash
            && p.last_signed("countersign").is_some()
    });
    if permit.for_shutdown || known.life(permit).over() || !issued_elsewhere {
        return Vec::new();
    }
    let bench = known.bench(permit, texts);
    let live = matches!(known.life(permit), StateWord::Live | StateWord::Suspended);
    let open =
        |s: &&Stand<'_>| s.answers.is_empty() && s.standing == Standing::Waiting && (!live || s.of_wearer());
    let found = |s: &Stand<'_>| candidate(known, permit, texts, s);
    let ids = bench.form.steps().map(|(_, s)| s).filter(|s| may_carry(s)).map(Step::id);
    let stands = ids.flat_map(|id| walk::of_step(&bench, id));
    let mut all: Vec<Carried> = stands.filter(|s| open(&s)).filter_map(|s| found(&s)).collect();
    // Judged as if they stood here, all together: what does not come out open is asked again, and so is what rests on it.
    loop {
        let mut with = permit.clone();
        for c in &all {
            for answer in &c.answers {
                let carry = Carry { stamp: here(known, permit), from: c.from.clone() };
                with.answers.push(Answer { carry: Some(Box::new(carry)), again: None, ..answer.clone() });
            }
        }
        let bench = Bench::new(known.state, &with, texts, known.now);
        let mut ids: Vec<&str> = all.iter().map(|c| c.step.as_str()).collect();
        ids.dedup();
        let stands: Vec<Stand<'_>> = ids.into_iter().flat_map(|id| walk::of_step(&bench, id)).collect();
        let held = |c: &Carried| {
            let of = |s: &&Stand<'_>| s.step.id() == c.step && s.item_id() == c.item.as_deref();
            stands.iter().find(of).is_some_and(|s| s.standing == Standing::Open)
        };
        let before = all.len();
        all.retain(held);
        if all.len() == before {
            return all;
        }
    }
}

/// A line that is not written yet: after everything there is.
fn here(known: &Known<'_>, permit: &Permit) -> Stamp {
    Stamp {
        seq: u64::MAX,
        time: known.time().to_owned().into(),
        zone: known.now.zone.clone().into(),
        ..permit.opened.clone()
    }
}

/// What is worked out is never carried, nor what is good for its permit alone.
fn may_carry(step: &Step) -> bool {
    let scopes = step.good_for();
    let worked_out = matches!(step.kind(), StepKind::Derived(_));
    !worked_out && !scopes.is_empty() && !scopes.iter().any(|g| g.scope == GoodForScope::Permit)
}

fn candidate(known: &Known<'_>, permit: &Permit, texts: &Texts, stand: &Stand<'_>) -> Option<Carried> {
    let step = stand.step;
    let scopes = step.good_for();
    if !may_carry(step) {
        return None;
    }
    // What is good for any set of the site is looked for on all of them; else on this one alone.
    let any_set = scopes.iter().all(|g| g.site_wide);
    let sets: Vec<&str> =
        if any_set { known.state.permits.answered_sets().collect() } else { vec![permit.set.id.as_str()] };
    let latest = sets
        .into_iter()
        .filter_map(|set| known.state.latest_answer(set, &permit.form.hash, step.id(), stand.item_id()))
        .max_by_key(|(_, a)| a.stamp.seq)?;
    let (other, answer) = latest;
    let same_texts = other.site.hash == permit.site.hash && (any_set || other.set.hash == permit.set.hash);
    let issued = other.last_signed("countersign").is_some();
    let usable = answer.value.is_some() && answer.deviation.is_none() && answer.left_out.is_none();
    if other.number == permit.number || !same_texts || !issued || !usable {
        return None;
    }
    // While it was in another register nobody here knows what was done to it.
    let taken = known.state.sets.get(&permit.set.id).and_then(|s| s.taken.as_ref());
    let of_set = scopes.iter().any(|g| !g.site_wide && g.scope != GoodForScope::Wearer);
    if of_set && taken.is_some_and(|t| t.seq > answer.stamp.seq) {
        return None;
    }
    // Of a permit taken over by another shift, what was good for the shift before is not.
    let shift = scopes.iter().any(|g| g.scope == GoodForScope::Shift);
    if shift && other.shifts.iter().any(|s| s.seq > answer.stamp.seq) {
        return None;
    }
    let (_, then) = other.jobs.iter().rev().find(|(s, _)| s.seq <= answer.stamp.seq)?;
    if job_differs(step, stand.item_id(), then, &permit.job).is_some() {
        return None;
    }
    let mut answers = Vec::new();
    if let StepKind::Timed(_) = step.kind() {
        if answer.value.as_deref() != Some("done") {
            return None;
        }
        let of = |a: &&Answer| {
            a.step == answer.step && a.item == answer.item && a.form == answer.form && a.carry.is_none()
        };
        let begun = other.answers.iter().filter(of).rfind(|a| a.value.as_deref() == Some("begun"))?;
        answers.push(begun.clone());
    }
    answers.push(answer.clone());
    Some(Carried {
        step: step.id().to_owned(),
        item: stand.item_id().map(str::to_owned),
        label: stand.label(),
        end: ends::of(step, answer, other, texts),
        answers,
        from: other.number.clone(),
    })
}

/// Carries what holds, or of it one step: at most [`MOST`] answers in one line, so that it may have to be asked again.
pub fn carry(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    only: Option<(&str, Option<&str>)>,
    by: &str,
) -> Result<Draft, Refusal> {
    known.clock()?;
    in_states(
        known,
        permit,
        say!("nothing can be carried"),
        &[StateWord::Draft, StateWord::Declared, StateWord::Live, StateWord::Suspended],
    )?;
    let mut all = candidates(known, permit, texts);
    if let Some((step, item)) = only {
        all.retain(|c| c.step == step && (item.is_none() || c.item.as_deref() == item));
    }
    let mut hashes: Vec<Json> = Vec::new();
    for c in &all {
        if hashes.len() + c.answers.len() > MOST {
            break;
        }
        hashes.extend(c.answers.iter().map(|a| Json::from(a.stamp.hash.as_str())));
    }
    if hashes.is_empty() {
        return Err(Refusal::because(say!(
            "no answer of another permit still holds here and is not answered yet"
        ))
        .instead(say!("take the steps: `airwrit walk`")));
    }
    let data = object([("answers", Json::Arr(hashes)), ("form", permit.form.hash.as_str().into())]);
    Ok(known.line(permit, "carried", by, data))
}
