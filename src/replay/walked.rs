//! Which steps of a form are done, kept from one answer of a permit to the next, so that each line does not walk the whole
//! form again.
//!
//! Always: a step counts as done only where walking the whole form now would find it done. What may have changed since is
//! looked at again: a step that was answered, every step that names it, and what these name in turn; steps that ask for
//! the time a permit has left or for the people of the set's other permits; everything, at another date, once time
//! ends an answer, after any line on the set but plain answers, after an item was taken out of service or back.
//! Tests replay without this and compare (`replay_whole`).

use crate::checklist::{Checklist, GoodForScope, Limit, Step, StepKind};
use crate::gate::Expression;
use crate::permit::bench::{Bench, Memo, Texts};
use crate::permit::ends;
use crate::permit::walk::{self, Stand};
use crate::record::line::Line;
use crate::tongue::Tongue;
use jiff::civil::Date;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

/// What the steps of a form rest on.
struct Rests {
    /// By place of a step: the places of the steps that name it, directly or through others.
    dependents: Vec<Vec<usize>>,
    /// Steps that ask for the time that the permit has left, which changes without a line.
    always: HashSet<usize>,
    /// Steps that ask for the people of the set: only where another permit of it is open, or somebody is on its air on none
    /// or another, can that change without a line of the permit.
    people: HashSet<usize>,
    /// Steps that ask for the set's last lines: of its air tests another one may count, as the permit stands.
    last: HashSet<usize>,
    /// Places by id.
    places: HashMap<String, usize>,
}

/// The step that works out the leave-by pressure: a reading below it ends what rests on the reserve.
const LEAVE_BY: &str = "leave_by";

impl Rests {
    fn of(form: &Checklist) -> Rests {
        let steps: Vec<(&crate::checklist::Stage, &Step)> = form.steps().collect();
        let places: HashMap<String, usize> =
            steps.iter().enumerate().map(|(i, (_, s))| (s.id().to_owned(), i)).collect();
        let mut named: Vec<HashSet<usize>> = Vec::new();
        let mut always: HashSet<usize> = HashSet::new();
        let mut people: HashSet<usize> = HashSet::new();
        let mut last: HashSet<usize> = HashSet::new();
        for (i, (stage, step)) in steps.iter().enumerate() {
            let mut own = HashSet::new();
            let named_limit = |limit: &'_ Limit| match limit {
                Limit::Named(e) => Some(e.clone()),
                Limit::Given(_) => None,
            };
            let limits: Vec<Expression> = match step.kind() {
                StepKind::Timed(limit) => vec![limit.clone()],
                StepKind::Reading(i) => [i.from(), i.to()].into_iter().filter_map(named_limit).collect(),
                StepKind::Confirm
                | StepKind::Choice(_)
                | StepKind::Date
                | StepKind::Text
                | StepKind::Derived(_) => Vec::new(),
            };
            let gates =
                [stage.when(), step.when(), step.gate()].into_iter().flatten().flat_map(|g| g.names());
            let worked_out = step.expression().into_iter().flat_map(|e| e.names());
            for used in gates.chain(worked_out).chain(limits.iter().flat_map(Expression::names)) {
                match used.name.as_slice() {
                    [id] => own.extend(places.get(id)),
                    [root, ..] if root == "permit" => {
                        always.insert(i);
                    }
                    [root, ..] if root == "wearers" => {
                        people.insert(i);
                    }
                    [root, ..] if root == "last" => {
                        last.insert(i);
                    }
                    _ => {}
                }
            }
            named.push(own);
        }
        // Steps name only steps that stand before them: one pass in order closes it.
        let mut closed: Vec<HashSet<usize>> = Vec::new();
        for (i, own) in named.iter().enumerate() {
            let mut all = own.clone();
            for n in own {
                all.extend(closed.get(*n).into_iter().flatten());
            }
            for volatile in [&mut always, &mut people, &mut last] {
                if all.iter().any(|n| volatile.contains(n)) {
                    volatile.insert(i);
                }
            }
            closed.push(all);
        }
        let mut dependents = vec![Vec::new(); steps.len()];
        for (i, all) in closed.iter().enumerate() {
            for n in all {
                if let Some(d) = dependents.get_mut(*n) {
                    d.push(i);
                }
            }
        }
        // No name says so, and it may stand behind them.
        let of_reserve = |(_, s): &(&_, &Step)| s.good_for().iter().any(|g| g.scope == GoodForScope::Fill);
        if let Some(n) = places.get(LEAVE_BY).copied() {
            let mut more: Vec<usize> =
                (0..).zip(&steps).filter(|(_, s)| of_reserve(s)).map(|(i, _)| i).collect();
            let theirs = more.iter().filter_map(|i| dependents.get(*i)).flatten().copied();
            more.extend(theirs.collect::<Vec<_>>());
            if let Some(d) = dependents.get_mut(n) {
                d.extend(more);
            }
        }
        Rests { dependents, always, people, last, places }
    }
}

/// The steps of one permit's form, and which are known to be done for every item.
struct Kept {
    set: String,
    shutdown: bool,
    rests: Rc<Rests>,
    done: Vec<bool>,
    date: Date,
    /// The last second for which this holds.
    until: i64,
    /// What was worked out for it, in one language and by these texts.
    memo: Rc<Memo>,
    texts: Rc<Texts>,
    tongue: (Tongue, Option<Tongue>),
}

fn tongue() -> (Tongue, Option<Tongue>) {
    (Tongue::now(), Tongue::asked())
}

/// By permit and form.
#[derive(Default)]
pub struct Walked {
    kept: HashMap<(String, String), Kept>,
    forms: HashMap<String, Rc<Rests>>,
    /// Permits by set that no line has ended yet.
    open: HashMap<String, HashSet<String>>,
    /// Walk the whole form for every line, to compare with.
    pub whole: bool,
}

/// It holds nobody up: done, or only to be read again because it is not fresh.
fn passes(stand: &Stand<'_>) -> bool {
    stand.done() || stand.aged
}

fn ends(bench: &Bench<'_>, stands: &[Stand<'_>]) -> i64 {
    let last =
        |s: &Stand<'_>| ends::of(s.step, s.answers.last()?, bench.permit, bench.texts).map(|e| e.second);
    stands.iter().filter_map(last).min().unwrap_or(i64::MAX)
}

/// Whether this permit's own job alone says who is to be fed: no other one of the set is open, and nobody is on its air
/// but on this one.
fn alone(bench: &Bench<'_>, open: Option<&HashSet<String>>) -> bool {
    let (permit, state) = (bench.permit, bench.state);
    let others = open.into_iter().flatten().filter(|n| **n != permit.number);
    let may_breathe =
        |n: &String| state.permits.get(n).is_none_or(|p| !state.life(p, &bench.now.time).over());
    let own = |p: &crate::permit::state::OnAir| p.permit.as_deref() == Some(&permit.number);
    !others.into_iter().any(may_breathe) && state.on_air.iter().filter(|p| p.set == permit.set.id).all(own)
}

impl Walked {
    fn rests(&mut self, form: &Checklist) -> Rc<Rests> {
        let own = self.forms.entry(form.sha256().to_owned()).or_insert_with(|| Rc::new(Rests::of(form)));
        Rc::clone(own)
    }

    /// The bench going on with what was worked out for its permit and form, as far as no line and no time since can have
    /// changed it.
    pub fn going_on<'a>(&mut self, bench: Bench<'a>, texts: &Rc<Texts>) -> Bench<'a> {
        let key = (bench.permit.number.clone(), bench.form.sha256().to_owned());
        let (date, now) = (bench.today(), bench.now.seconds());
        let fits = |k: &&mut Kept| k.date == date && now <= k.until;
        let others = self.open.get(&bench.permit.set.id);
        let Some(kept) = self.kept.get_mut(&key).filter(fits) else { return bench };
        if !Rc::ptr_eq(&kept.texts, texts) || kept.tongue != tongue() {
            (kept.memo, kept.texts, kept.tongue) = (Rc::default(), Rc::clone(texts), tongue());
        }
        let alone = alone(&bench, others);
        let Rests { always, people, places, .. } = &*kept.rests;
        kept.memo.forget(&|name| match places.get(name) {
            Some(i) => always.contains(i) || (!alone && people.contains(i)),
            None => name.starts_with("permit.") || (!alone && name.starts_with("wearers.")),
        });
        bench.going_on(Rc::clone(&kept.memo))
    }

    /// The standings of a step, and before them all that are not done, in the form's order.
    pub fn before<'a>(&mut self, bench: &Bench<'a>, texts: &Rc<Texts>, step: &str) -> Vec<Stand<'a>> {
        if self.whole {
            return walk::walk(bench);
        }
        let key = (bench.permit.number.clone(), bench.form.sha256().to_owned());
        let (date, now) = (bench.today(), bench.now.seconds());
        let rests = self.rests(bench.form);
        let fits = self.kept.get(&key).is_some_and(|k| k.date == date && now <= k.until);
        if !fits {
            let all = walk::walk(bench);
            let mut done = vec![true; bench.form.steps().count()];
            for s in &all {
                if let Some(d) = rests.places.get(s.step.id()).and_then(|i| done.get_mut(*i)) {
                    *d &= passes(s);
                }
            }
            let until = ends(bench, &all);
            let shutdown = bench.form.sha256() != bench.permit.form.hash;
            let set = bench.permit.set.id.clone();
            let (memo, texts) = (bench.memo(), Rc::clone(texts));
            let kept = Kept { set, shutdown, rests, done, date, until, memo, texts, tongue: tongue() };
            self.kept.insert(key, kept);
            return all;
        }
        let Some(kept) = self.kept.get_mut(&key) else { return walk::walk(bench) };
        let alone = alone(bench, self.open.get(&bench.permit.set.id));
        let mut out = Vec::new();
        for (i, (_, other)) in bench.form.steps().enumerate() {
            let own = other.id() == step;
            let known = kept.done.get(i).copied().unwrap_or(false)
                && !kept.rests.always.contains(&i)
                && (alone || !kept.rests.people.contains(&i));
            if own || !known {
                let stands = walk::of_step(bench, other.id());
                kept.until = kept.until.min(ends(bench, &stands));
                if let Some(done) = kept.done.get_mut(i) {
                    *done = stands.iter().all(passes);
                }
                out.extend(stands);
            }
            if own {
                break;
            }
        }
        out
    }

    /// How a step stands was worked out anyway.
    pub fn seen(&mut self, bench: &Bench<'_>, step: &str, stands: &[Stand<'_>]) {
        let key = (bench.permit.number.clone(), bench.form.sha256().to_owned());
        let Some(kept) = self.kept.get_mut(&key).filter(|k| k.date == bench.today()) else { return };
        if let Some(done) = kept.rests.places.get(step).and_then(|i| kept.done.get_mut(*i)) {
            *done = stands.iter().all(passes);
            kept.until = kept.until.min(ends(bench, stands));
        }
    }

    /// A line came: what it may have changed is looked at again. `took_back`: the item was out of service before it.
    pub fn came(&mut self, line: &Line, set: Option<&str>, took_back: bool) {
        let kind = line.kind.name;
        if let (Some(number), Some(set)) = (&line.permit, set) {
            let of_set = self.open.entry(set.to_owned()).or_default();
            match kind {
                "open" => {
                    of_set.insert(number.clone());
                }
                "close" | "refuse" | "cancel" => {
                    of_set.remove(number);
                }
                _ => {}
            }
        }
        if matches!(kind, "copy" | "denied" | "note" | "witness") {
            return;
        }
        let Some(set) = set else {
            self.kept.clear();
            return;
        };
        let plain = kind == "answer" && !line.data.has("left_out") && !took_back;
        let (Some(number), Some(form), true) = (&line.permit, line.data.text("form"), plain) else {
            self.kept.retain(|_, k| k.set != set);
            return;
        };
        let key = (number.clone(), form.to_owned());
        // A shutdown that was begun ends what was good for the start.
        if self.kept.get(&key).is_none_or(|k| k.shutdown) {
            self.kept.retain(|k, kept| kept.set != set || *k == key);
        }
        let Some(kept) = self.kept.get_mut(&key) else { return };
        let Some(place) = line.data.text("step").and_then(|s| kept.rests.places.get(s)).copied() else {
            return;
        };
        let mut changed: HashSet<usize> =
            kept.rests.dependents.get(place).into_iter().flatten().copied().collect();
        changed.insert(place);
        if kept.shutdown {
            // It suspends a permit that is live, and then another test of the air may count.
            changed.extend(&kept.rests.last);
        }
        for i in &changed {
            if let Some(done) = kept.done.get_mut(*i) {
                *done = false;
            }
        }
        let (places, shutdown) = (&kept.rests.places, kept.shutdown);
        kept.memo.forget(&|name| match places.get(name) {
            Some(i) => changed.contains(i),
            None => shutdown && name.starts_with("last."),
        });
    }
}
