//! The walk: every step of a form, for every item, and how it stands now.
//!
//! Always: order is that of the form; a step stands open only if its gate is open now, with all that is
//! known now. Not here: whether an answer may be given (`decide`).

use super::bench::{Asker, Bench, Given, Item};
use super::state::{Answer, Deviation};
use crate::checklist::{Before, Each, Purpose, Stage, Step, StepKind};
use crate::gate::{Fact, Value, Verdict};
use crate::tongue::say;
use crate::view::Standing;

/// A step for an item, and how it stands.
#[derive(Debug)]
pub struct Stand<'a> {
    /// Stage.
    pub stage: &'a Stage,
    /// Step.
    pub step: &'a Step,
    /// Item.
    pub item: Option<Item>,
    /// Language of its words.
    pub language: &'a str,
    /// How it stands.
    pub standing: Standing,
    /// Why, where it is not open.
    pub why: Vec<String>,
    /// Every answer, oldest first.
    pub answers: Vec<&'a Answer>,
    /// It was open, and must be read again because it is not fresh any more; nothing after it waits for that.
    pub aged: bool,
    /// It was left as a deviation, and the countersignature in force accepts that.
    pub accepted: bool,
}

impl<'a> Stand<'a> {
    /// Nothing is left to do on it: steps after it may be taken, and it may be declared.
    pub fn done(&self) -> bool {
        match self.standing {
            Standing::Open | Standing::NotApplicable | Standing::OutOfService => true,
            Standing::Deviation => self.step.before() == Before::Declare,
            Standing::Hold | Standing::Waiting => false,
        }
    }

    /// Nobody breathes on what no supervisor accepted.
    fn breathable(&self) -> bool {
        self.done() && (self.standing != Standing::Deviation || self.accepted)
    }

    /// The answer left as a deviation, where it is one now.
    pub fn deviation(&self) -> Option<&'a Deviation> {
        let answer: &'a Answer = self.answers.last().copied()?;
        answer.deviation.as_deref().filter(|_| self.standing == Standing::Deviation)
    }

    /// Asked before that wearer's first time on air, not before declaring.
    pub fn of_wearer(&self) -> bool {
        self.step.each() == Some(&Each::Wearer) && self.step.before() == Before::Air
    }

    /// The item's id.
    pub fn item_id(&self) -> Option<&str> {
        self.item.as_ref().map(|i| i.id.as_str())
    }

    /// `pressure, Cylinder B`.
    pub fn label(&self) -> String {
        Bench::label(self.step, self.item.as_ref().map(|i| i.name.as_str()), self.language)
    }

    /// Whether it is called so in some language of its form and of its item.
    pub fn is_called(&self, label: &str) -> bool {
        let step = self.step.called().map_or(&[][..], |w| w.texts()).iter().map(|(tag, _)| tag.as_str());
        let names = self.item.as_ref().map(|i| i.values.words("name").map_or(&[][..], |w| w.texts()));
        let languages: Vec<&str> = step.chain([self.language]).collect();
        languages.iter().any(|language| match (&self.item, names) {
            (Some(item), Some(names)) => {
                let own = [item.name.as_str(), item.id.as_str()];
                let all = names.iter().map(|(_, name)| name.as_str()).chain(own);
                all.into_iter().any(|name| Bench::label(self.step, Some(name), language) == label)
            }
            _ => Bench::label(self.step, None, language) == label,
        })
    }
}

/// Every step of the form in hand.
pub fn walk<'a>(bench: &Bench<'a>) -> Vec<Stand<'a>> {
    let form: &'a _ = bench.form;
    let mut out = Vec::new();
    for (stage, step) in form.steps() {
        stands(bench, stage, step, &mut out);
    }
    out
}

/// The steps before which the set is not started, in the form's order.
pub fn to_start<'a>(bench: &Bench<'a>) -> Vec<Stand<'a>> {
    let form: &'a _ = bench.form;
    let mut out = Vec::new();
    for (stage, step) in form.steps().filter(|(_, s)| s.before() == Before::Start) {
        stands(bench, stage, step, &mut out);
    }
    out
}

/// One step, for each of its items.
pub fn of_step<'a>(bench: &Bench<'a>, step: &str) -> Vec<Stand<'a>> {
    let form: &'a _ = bench.form;
    let mut out = Vec::new();
    if let Some((stage, step)) = form.step(step) {
        stands(bench, stage, step, &mut out);
    }
    out
}

/// A step, for each of its items.
fn stands<'a>(bench: &Bench<'a>, stage: &'a Stage, step: &'a Step, out: &mut Vec<Stand<'a>>) {
    let items: Vec<Option<Item>> = match step.each() {
        None => vec![None],
        Some(each) => bench.all_items(each).into_iter().map(Some).collect(),
    };
    for item in items {
        let id = item.as_ref().map(|i| i.id.as_str());
        let answers = bench.answers(step.id(), id);
        let (mut standing, mut why) = bench.stand(step, id, || {
            stand(bench, step, item.as_ref(), &bench.applies_to(stage, step, item.as_ref()))
        });
        let old = answers.last().filter(|_| matches!(standing, Standing::Open | Standing::Deviation));
        let old = old.and_then(|a| bench.too_old(step, a));
        let aged = old.is_some();
        if let Some(old) = old {
            (standing, why) = (Standing::Waiting, vec![old]);
        }
        let accepted = answers.last().is_some_and(|a| bench.permit.accepted(a));
        let language = bench.texts.language.as_str();
        out.push(Stand { stage, step, item, language, standing, why, answers, aged, accepted });
    }
}

fn stand(bench: &Bench<'_>, step: &Step, item: Option<&Item>, applies: &Verdict) -> (Standing, Vec<String>) {
    match applies {
        Verdict::Open => {}
        Verdict::Shut(why) => return (Standing::NotApplicable, why.clone()),
        Verdict::Unknown(why) => return (Standing::Waiting, why.clone()),
    }
    if let (Some(each), Some(i)) = (step.each(), item)
        && let Some(a) = bench.out_of_service(each, &i.id)
    {
        return (Standing::OutOfService, vec![a.left_out.clone().unwrap_or_default()]);
    }
    match bench.given(step, item.map(|i| i.id.as_str())) {
        Given::Nothing(why) => (Standing::Waiting, vec![why]),
        Given::LeftOut(a) => (Standing::OutOfService, vec![a.left_out.clone().unwrap_or_default()]),
        Given::Answer(a) => {
            if matches!(step.kind(), StepKind::Timed(_)) && a.value.as_deref() == Some("begun") {
                return (Standing::Waiting, vec![say!("begun, not done yet").into()]);
            }
            let fact = bench.fact_of_answer(step, item, a);
            match judge_fact(bench, step, item, fact, &bench.asker(step, item)) {
                Verdict::Open => (Standing::Open, Vec::new()),
                // What nobody knows is no deviation from anything: only a shut gate can be left so.
                Verdict::Shut(why) if a.deviation.is_some() && step.deviation() => (Standing::Deviation, why),
                Verdict::Shut(why) | Verdict::Unknown(why) => (Standing::Hold, why),
            }
        }
    }
}

/// The gate of an answered step as it is now; where it has none, what its kind asks.
pub fn judge(bench: &Bench<'_>, step: &Step, item: Option<&Item>) -> Verdict {
    judge_fact(bench, step, item, bench.fact_of(step, item), &bench.asker(step, item))
}

/// The gate as it is for this answer, whether or not the answer still counts.
pub fn judge_answer(bench: &Bench<'_>, step: &Step, item: Option<&Item>, answer: &Answer) -> Verdict {
    let fact = bench.fact_of_answer(step, item, answer);
    judge_fact(bench, step, item, fact, &bench.asker_of(step, item, answer))
}

fn judge_fact(bench: &Bench<'_>, step: &Step, item: Option<&Item>, fact: Fact, asker: &Asker<'_>) -> Verdict {
    let own = match (fact, step.kind()) {
        (Fact::Unknown(why), _) => return Verdict::Unknown(vec![why]),
        (Fact::Is { value: Value::Quantity(waited), shown, label }, StepKind::Timed(limit)) => {
            match limit.compute(&bench.asker(step, item)) {
                Ok(Value::Quantity(wanted))
                    if waited.compare(&wanted).is_some_and(std::cmp::Ordering::is_ge) =>
                {
                    Verdict::Open
                }
                Ok(Value::Quantity(wanted)) => Verdict::Shut(vec![say!(
                    "{label} took {shown}, wanted at least {wanted}",
                    label,
                    shown,
                    wanted = wanted.words(None, crate::units::Rounding::Up)
                )]),
                Ok(_) => Verdict::Unknown(vec![say!("{label}: the time to wait is no time", label)]),
                Err(why) => Verdict::Unknown(why),
            }
        }
        (Fact::Is { value: Value::Bool(false), label, .. }, StepKind::Confirm) if step.gate().is_none() => {
            Verdict::Shut(vec![say!("{label}: the answer is no", label)])
        }
        (_, _) => Verdict::Open,
    };
    match (own, step.gate()) {
        (Verdict::Open, Some(gate)) => gate.judge(asker),
        (own, _) => own,
    }
}

/// The first step to be answered next; `None` when nothing is left. What is only to be fresh is read again
/// when nothing else is left, and wearers' own steps come after that.
pub fn next(walk: &[Stand<'_>]) -> Option<usize> {
    let first = |which: &dyn Fn(&Stand<'_>) -> bool| walk.iter().position(|s| !s.done() && which(s));
    first(&|s| !s.of_wearer() && !s.aged).or_else(|| first(&|s| s.aged)).or_else(|| first(&|_| true))
}

/// Steps from this one on that ask nothing of anybody: each is worked out, and would be in order as it comes out now. What each
/// comes out as, as it is shown.
pub fn worked_out<'s, 'a>(
    bench: &Bench<'a>,
    walk: &'s [Stand<'a>],
    from: &Stand<'_>,
) -> Vec<(&'s Stand<'a>, String)> {
    let same = |s: &&Stand<'_>| s.step.id() == from.step.id() && s.item_id() == from.item_id();
    let rest = walk.iter().skip_while(|s| !same(s)).filter(|s| !s.done());
    let kind = |s: &&Stand<'_>| s.of_wearer() == from.of_wearer() && s.aged == from.aged;
    rest.filter(kind).map_while(|s| Some((s, in_order(bench, s)?))).collect()
}

/// What a worked-out step comes out as, where it would be in order with it.
fn in_order(bench: &Bench<'_>, s: &Stand<'_>) -> Option<String> {
    if !matches!(s.step.kind(), StepKind::Derived(_)) {
        return None;
    }
    if !matches!(bench.applies_to(s.stage, s.step, s.item.as_ref()), Verdict::Open) {
        return None;
    }
    let (value, shown) = bench.derive(s.step, s.item.as_ref()).ok()?;
    let stamp = bench.permit.opened.clone();
    let answer = Answer::tried(stamp, bench.form.sha256(), s.step.id(), s.item_id(), Some(value));
    let verdict = judge_answer(bench, s.step, s.item.as_ref(), &answer);
    matches!(verdict, Verdict::Open).then_some(shown)
}

/// What must be answered before this step may be: labels of the steps that hold it.
pub fn held_by(bench: &Bench<'_>, walk: &[Stand<'_>], at: &Stand<'_>) -> Vec<String> {
    let needed = bench.form.needed_by(at.stage.id());
    let wearers_count = bench.form.purpose() == Purpose::Shutdown;
    walk.iter()
        .take_while(|s| s.step.id() != at.step.id())
        .filter(|s| !s.done() && !s.aged && (wearers_count || !s.of_wearer()))
        .filter(|s| {
            let same_stage = s.stage.id() == at.stage.id();
            (same_stage && !at.stage.any_order()) || (!same_stage && needed.contains(&s.stage.id()))
        })
        .map(Stand::label)
        .collect()
}

/// Everything not done that starting the set needs.
pub fn before_start<'s>(walk: &'s [Stand<'_>]) -> Vec<&'s Stand<'s>> {
    lacking(walk, |s| s.step.before() == Before::Start && !s.of_wearer())
}

/// Everything not done that declaring needs.
pub fn before_declare<'s>(walk: &'s [Stand<'_>]) -> Vec<&'s Stand<'s>> {
    lacking(walk, |s| s.step.before() != Before::Air && !s.of_wearer())
}

/// Everything not done that putting this person on air needs: all of the form, and their own steps.
pub fn before_air<'s>(walk: &'s [Stand<'_>], person: &str) -> Vec<&'s Stand<'s>> {
    let asked = |s: &Stand<'_>| !s.of_wearer() || s.item_id() == Some(person);
    walk.iter().filter(|s| asked(s) && !s.breathable()).map(shorten).collect()
}

/// What keeps everybody off this air: not done, and nobody's own.
pub fn common_before_air<'s>(walk: &'s [Stand<'_>]) -> Vec<&'s Stand<'s>> {
    walk.iter().filter(|s| !s.of_wearer() && !s.breathable()).map(shorten).collect()
}

/// Everything not done in the stages before `stop`; the whole form if it has no such stage.
pub fn before_stop<'s>(walk: &'s [Stand<'_>]) -> Vec<&'s Stand<'s>> {
    let upto = walk.iter().position(|s| s.stage.id() == STOP).unwrap_or(walk.len());
    walk.iter().take(upto).filter(|s| !s.done()).map(shorten).collect()
}

pub use crate::checklist::STOP;

fn lacking<'s>(walk: &'s [Stand<'_>], which: impl Fn(&Stand<'_>) -> bool) -> Vec<&'s Stand<'s>> {
    walk.iter().filter(|s| !s.done() && which(s)).map(shorten).collect()
}

fn shorten<'s>(s: &'s Stand<'_>) -> &'s Stand<'s> {
    s
}

/// What lacks, in words: `reserve pressure, Cylinder B: reads 138 bar, ...`.
pub fn in_words(lacks: &[&Stand<'_>]) -> Vec<String> {
    lacks
        .iter()
        .map(|s| match s.standing {
            Standing::Hold => say!("{label} holds: {why}", label = s.label(), why = s.why.join("; ")),
            Standing::Deviation => {
                say!(
                    "{label} is left as a deviation that no supervisor has accepted: {why}",
                    label = s.label(),
                    why = s.why.join("; ")
                )
            }
            Standing::Waiting | Standing::Open | Standing::NotApplicable | Standing::OutOfService => {
                format!("{}: {}", s.label(), s.why.join("; "))
            }
        })
        .collect()
}
