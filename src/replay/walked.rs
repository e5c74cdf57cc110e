//! Which steps of a form are done, kept from one answer of a permit to the next, so that each line does not walk the whole
//! form again.
//!
//! Always: a step counts as done only where walking the whole form now would find it done. What may have changed since is
//! looked at again: a step that was answered, and every step that rests on its answer, directly or through what is worked
//! out or asked only sometimes; steps that ask for the people of the set's other permits, and for the time a permit has
//! left, but for those that less time never shuts; after a reading of a gauge that was out of its bounds, steps that such
//! a reading may end; where a permit is declared or issued or its set started, steps that ask what was done to the set last
//! and for its end; everything, at another date, once time ends an answer, where time went back, after any other line on
//! the set but plain answers, readings and people on and off air, after an item was taken out of service or back.
//! Tests replay without this and compare (`replay_whole`), and work every step out anew after every line (`strays`).

use crate::checklist::{Checklist, GoodForScope, Limit, Step, StepKind};
use crate::gate::{Direction, Expression};
use crate::permit::bench::{Bench, Memo, Texts};
use crate::permit::decide::Known;
use crate::permit::ends;
use crate::permit::state::Answer;
use crate::permit::valid;
use crate::permit::walk::{self, Stand};

use crate::record::line::Line;
use crate::tongue::Tongue;
use crate::view::StateWord;
use foldhash::{HashMap, HashSet};
use jiff::civil::Date;
use std::rc::Rc;

/// Places of steps in their form.
#[derive(Clone, Default)]
struct Places(Vec<u64>);

impl Places {
    fn insert(&mut self, place: usize) {
        let word = place / 64;
        if self.0.len() <= word {
            self.0.resize(word + 1, 0);
        }
        if let Some(bits) = self.0.get_mut(word) {
            *bits |= 1 << (place % 64);
        }
    }

    fn contains(&self, place: usize) -> bool {
        self.0.get(place / 64).is_some_and(|bits| bits >> (place % 64) & 1 == 1)
    }

    /// In ascending order.
    fn iter(&self) -> impl Iterator<Item = usize> {
        (0..).step_by(64).zip(&self.0).flat_map(|(first, bits)| {
            let mut left = *bits;
            std::iter::from_fn(move || {
                let next = (left != 0).then(|| first + left.trailing_zeros() as usize);
                left &= left.wrapping_sub(1);
                next
            })
        })
    }
}

impl Extend<usize> for Places {
    fn extend<I: IntoIterator<Item = usize>>(&mut self, places: I) {
        places.into_iter().for_each(|p| self.insert(p));
    }
}

impl FromIterator<usize> for Places {
    fn from_iter<I: IntoIterator<Item = usize>>(places: I) -> Places {
        let mut all = Places::default();
        all.extend(places);
        all
    }
}

/// What the steps of a form rest on.
struct Rests {
    /// By place of a step: the places of the steps that name it, directly or through others.
    dependents: Vec<Places>,
    /// Steps that ask for the time that the permit has left, which changes without a line.
    always: Places,
    /// Steps that ask for it, and stay open when it becomes less.
    less: Places,
    /// Steps that ask for its end, which changes without one where it is counted from now.
    end: Places,
    /// Steps that ask for the people of the set: only where another permit of it is open, or somebody is on its air on none
    /// or another, can that change without a line of the permit.
    people: Places,
    /// Steps that a reading of a gauge may end, and those that name them.
    read: Places,
    /// Steps that ask what was done to the set last or for the test of its air, which is another one once a permit is
    /// issued, and those that name any of them.
    last: Places,
    /// Steps that end with its start, and those that name them.
    start: Places,
    /// Places by id.
    places: HashMap<String, usize>,
    /// Ids by place.
    ids: Vec<String>,
    /// Names under `permit`, `wearers` and `last` that the form asks for.
    of_permit: Vec<String>,
    of_wearers: Vec<String>,
    of_last: Vec<String>,
}

/// The last day of a permit, as a form asks for it.
const LAST_DAY: &str = "permit.valid_to";
/// What a permit has left, as a form asks for it.
const LEFT: [&str; 2] = ["permit", "hours"];
/// The step that works out the leave-by pressure: a reading below it ends what rests on the reserve.
const LEAVE_BY: &str = "leave_by";

/// What something rests on, by name.
#[derive(Clone, Default)]
struct Named {
    steps: Places,
    time_left: bool,
    last_day: bool,
    people: bool,
    last: bool,
    of_permit: Vec<String>,
    of_wearers: Vec<String>,
    of_last: Vec<String>,
}

impl Named {
    fn name(&mut self, name: &[String], places: &HashMap<String, usize>) {
        match name {
            [id] => self.steps.extend(places.get(id).copied()),
            [root, what] if root == "permit" => match what.as_str() {
                // Its first day is today.
                "valid_from" => {}
                "valid_to" => self.last_day = true,
                _ => {
                    self.time_left = true;
                    self.of_permit.push(name.join("."));
                }
            },
            [root, ..] if root == "wearers" => {
                self.people = true;
                self.of_wearers.push(name.join("."));
            }
            [root, ..] if root == "last" => {
                self.last = true;
                self.of_last.push(name.join("."));
            }
            _ => {}
        }
    }

    fn take(&mut self, other: &Named) {
        self.steps.extend(other.steps.iter());
        self.time_left |= other.time_left;
        self.last_day |= other.last_day;
        self.people |= other.people;
        self.last |= other.last;
    }

    /// With what the answers of the steps that it names rest on.
    fn with_theirs(mut self, of_answer: &[Named]) -> Named {
        for step in self.steps.clone().iter() {
            if let Some(theirs) = of_answer.get(step) {
                self.take(theirs);
            }
        }
        self
    }
}

impl Rests {
    fn of(form: &Checklist) -> Rests {
        let steps: Vec<(&crate::checklist::Stage, &Step)> = form.steps().collect();
        let places: HashMap<String, usize> =
            steps.iter().enumerate().map(|(i, (_, s))| (s.id().to_owned(), i)).collect();
        let ids = steps.iter().map(|(_, s)| s.id().to_owned()).collect();
        let mut of_permit = Vec::new();
        let mut of_wearers = Vec::new();
        let mut of_last = Vec::new();
        // Of each step: the steps and the other things that how it stands rests on, and of these what its answer rests on,
        // when it counts and as what. Its gate makes no other answer of it.
        let mut of_stand: Vec<Named> = Vec::new();
        let mut of_answer: Vec<Named> = Vec::new();
        let mut less = Places::default();
        for (i, (stage, step)) in steps.iter().enumerate() {
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
            let asked = [stage.when(), step.when()].into_iter().flatten().flat_map(|g| g.names());
            let worked_out = step.expression().into_iter().flat_map(|e| e.names());
            let mut answer = Named::default();
            for used in asked.chain(worked_out).chain(limits.iter().flat_map(Expression::names)) {
                answer.name(used.name, &places);
            }
            let mut gated = Named::default();
            for used in step.gate().into_iter().flat_map(|g| g.names()) {
                gated.name(used.name, &places);
            }
            let left = LEFT.map(str::to_owned).to_vec();
            let alone = gated.of_permit.iter().all(|n| *n == left.join("."));
            let never_shuts = |d: Direction| matches!(d, Direction::Nothing | Direction::Down);
            if alone && gated.time_left && step.gate().is_some_and(|g| never_shuts(g.direction(&left))) {
                gated.time_left = false;
                less.insert(i);
            }
            of_permit.extend(answer.of_permit.iter().chain(&gated.of_permit).cloned());
            of_wearers.extend(answer.of_wearers.iter().chain(&gated.of_wearers).cloned());
            of_last.extend(answer.of_last.iter().chain(&gated.of_last).cloned());
            // Steps name only steps that stand before them: one pass in order closes it.
            let answer = answer.with_theirs(&of_answer);
            let mut stand = gated.with_theirs(&of_answer);
            stand.take(&answer);
            of_answer.push(answer);
            of_stand.push(stand);
        }
        let which = |is: fn(&Named) -> bool| -> Places {
            of_stand.iter().enumerate().filter(|(_, n)| is(n)).map(|(i, _)| i).collect()
        };
        let (always, end, people) = (which(|n| n.time_left), which(|n| n.last_day), which(|n| n.people));
        let mut dependents = vec![Places::default(); steps.len()];
        for (i, all) in of_stand.iter().enumerate() {
            for n in all.steps.iter() {
                if let Some(d) = dependents.get_mut(n) {
                    d.insert(i);
                }
            }
        }
        let with_theirs = |scopes: &[GoodForScope], dependents: &[Places]| -> Places {
            let ends = |s: &Step| s.good_for().iter().any(|g| scopes.contains(&g.scope));
            let own = (0..).zip(&steps).filter(|(_, (_, s))| ends(s)).map(|(i, _)| i);
            own.flat_map(|i| dependents.get(i).into_iter().flat_map(Places::iter).chain([i])).collect()
        };
        use GoodForScope::{Fill, Filter, Start, SupplyPoint};
        let read = with_theirs(&[Fill, Filter, SupplyPoint], &dependents);
        let mut last = which(|n| n.last);
        // An answer is worked out on the test that its gate asks for, too.
        let of_gate = last.clone();
        last.extend(of_gate.iter().filter_map(|i| dependents.get(i)).flat_map(Places::iter));
        let start = with_theirs(&[Start], &dependents);
        // No name says so, and it may stand behind them.
        let of_reserve = with_theirs(&[Fill], &dependents);
        if let Some(d) = places.get(LEAVE_BY).and_then(|n| dependents.get_mut(*n)) {
            d.extend(of_reserve.iter());
        }
        Rests {
            dependents,
            always,
            less,
            end,
            people,
            read,
            last,
            start,
            places,
            ids,
            of_permit,
            of_wearers,
            of_last,
        }
    }
}

/// The steps of one permit's form, and which are known to be done for every item.
struct Kept {
    form: String,
    set: String,
    shutdown: bool,
    rests: Rc<Rests>,
    done: Vec<bool>,
    date: Date,
    /// The permit's state: as it stands, one test of the air counts or another.
    life: StateWord,
    /// Whether this permit's own job alone said who is to be fed.
    alone: bool,
    /// The permit's last day as worked out last.
    last_day: Option<Date>,
    /// The second at which it was asked for last.
    at: i64,
    /// After how many lines it was asked for last, for the permit as these made it.
    after: Option<u64>,
    /// The last second for which this holds.
    until: i64,
    /// Answers were carried since: time may end them sooner.
    carried: bool,
    /// What was worked out for it, in one language and by these texts.
    memo: Rc<Memo>,
    texts: Rc<Texts>,
    tongue: (Tongue, Option<Tongue>),
}

impl Kept {
    /// These steps may stand otherwise now.
    fn changed(&mut self, steps: &Places) {
        for i in steps.iter() {
            if let Some(done) = self.done.get_mut(i) {
                *done = false;
            }
        }
        self.memo.forget(steps.iter().filter_map(|i| self.rests.ids.get(i)));
    }

    /// Whether a change of the permit's state leaves most of what is kept: it is declared, and issued.
    fn goes_on_as(&self, life: StateWord) -> bool {
        let declared = self.life == StateWord::Draft && life == StateWord::Declared;
        let issued = self.life == StateWord::Declared && life == StateWord::Live;
        self.life == life || (!self.shutdown && (declared || issued))
    }

    /// It is in that state now: its end and the test of the air that counts may be others.
    fn issued(&mut self, life: StateWord) {
        let rests = Rc::clone(&self.rests);
        for steps in [&rests.less, &rests.end] {
            self.changed(steps);
        }
        self.memo.forget(rests.of_permit.iter());
        // While it is not issued, the test of the air that counts is the one that counts now, declared or not.
        if life != StateWord::Declared {
            self.changed(&rests.last);
            self.memo.forget(rests.of_last.iter());
        }
        self.memo.forget_end();
        self.life = life;
    }

    /// Something was done to the set.
    fn done_to_set(&mut self) {
        let rests = Rc::clone(&self.rests);
        self.changed(&rests.last);
        self.changed(&rests.start);
        self.memo.forget(rests.of_last.iter());
    }

    /// Whether a reading of a gauge may end an answer of this permit.
    fn may_end(&self, known: &Known<'_>, permit: &str, line: &Line) -> bool {
        let Some(permit) = known.state.permits.get(permit).filter(|_| !self.shutdown) else { return true };
        let bench = Bench::new(known.state, permit, &self.texts, known.now).going_on(Rc::clone(&self.memo));
        bench.reading_is_out(&line.data)
    }
}

fn tongue() -> (Tongue, Option<Tongue>) {
    (Tongue::now(), Tongue::asked())
}

/// Whether a permit is only tried, with something in it that no line tells.
fn tried(bench: &Bench<'_>) -> bool {
    !bench.state.permits.get(&bench.permit.number).is_some_and(|p| std::ptr::eq(p, bench.permit))
}

/// By permit, of each of its forms.
#[derive(Default)]
struct Shelf(HashMap<String, Vec<Kept>>);

impl Shelf {
    fn get(&self, permit: &str, form: &str) -> Option<&Kept> {
        self.0.get(permit)?.iter().find(|k| k.form == form)
    }

    fn get_mut(&mut self, permit: &str, form: &str) -> Option<&mut Kept> {
        self.0.get_mut(permit)?.iter_mut().find(|k| k.form == form)
    }

    fn of(&self, bench: &Bench<'_>) -> Option<&Kept> {
        self.get(&bench.permit.number, bench.form.sha256())
    }

    fn of_mut(&mut self, bench: &Bench<'_>) -> Option<&mut Kept> {
        self.get_mut(&bench.permit.number, bench.form.sha256())
    }

    fn put(&mut self, permit: &str, kept: Kept) {
        let of_permit = self.0.entry(permit.to_owned()).or_default();
        of_permit.retain(|k| k.form != kept.form);
        of_permit.push(kept);
    }

    /// By number, those of a set.
    fn of_set<'k>(&'k mut self, set: &'k str) -> impl Iterator<Item = (&'k str, &'k mut Kept)> {
        let all = self.0.iter_mut().flat_map(|(number, of)| of.iter_mut().map(|k| (number.as_str(), k)));
        all.filter(move |(_, k)| k.set == set)
    }

    fn retain(&mut self, stays: impl Fn(&str, &Kept) -> bool) {
        self.0.retain(|number, of| {
            of.retain(|k| stays(number, k));
            !of.is_empty()
        });
    }
}

/// By permit and form.
#[derive(Default)]
pub struct Walked {
    kept: Shelf,
    forms: HashMap<String, Rc<Rests>>,
    /// Permits by set that no line has ended yet.
    open: HashMap<String, HashSet<String>>,
    /// Lines that came.
    lines: u64,
    /// Walk the whole form for every line, to compare with.
    pub whole: bool,
}

/// It holds nobody up: done, or only to be read again because it is not fresh.
fn passes(stand: &Stand<'_>) -> bool {
    stand.done() || stand.aged
}

/// When time ends the next of these answers. What it ended already stays so.
fn ends<'s>(bench: &Bench<'_>, answers: impl Iterator<Item = (&'s Step, &'s Answer)>) -> i64 {
    let end = |(step, a)| ends::second_of(step, a, bench.permit, bench.texts);
    answers.filter_map(end).filter(|end| *end >= bench.now.seconds()).min().unwrap_or(i64::MAX)
}

fn ends_of(bench: &Bench<'_>, stands: &[Stand<'_>]) -> i64 {
    ends(bench, stands.iter().filter_map(|s| Some((s.step, *s.answers.last()?))))
}

/// Whether this permit's own job alone says who is to be fed: no other one of the set is open, and nobody is on its air
/// but those it names, on this one.
fn alone(bench: &Bench<'_>, open: Option<&HashSet<String>>) -> bool {
    let (permit, state) = (bench.permit, bench.state);
    let others = open.into_iter().flatten().filter(|n| **n != permit.number);
    let may_breathe =
        |n: &String| state.permits.get(n).is_none_or(|p| !state.life(p, &bench.now.time).over());
    // Somebody may be reported on its air who is not on its list.
    let listed = |person: &str| bench.texts.job.items("wearers").iter().any(|w| w.id() == person);
    let own =
        |p: &crate::permit::state::OnAir| p.permit.as_deref() == Some(&permit.number) && listed(&p.person);
    !others.into_iter().any(may_breathe) && state.on_air.iter().filter(|p| p.set == permit.set.id).all(own)
}

impl Walked {
    fn rests(&mut self, form: &Checklist) -> Rc<Rests> {
        if let Some(own) = self.forms.get(form.sha256()) {
            return Rc::clone(own);
        }
        let own = Rc::new(Rests::of(form));
        self.forms.insert(form.sha256().to_owned(), Rc::clone(&own));
        own
    }

    /// What is kept of a permit and form is made to fit what is now.
    fn fit(&mut self, bench: &Bench<'_>, texts: &Rc<Texts>) {
        let (date, now) = (bench.today(), bench.now.seconds());
        let rests = self.rests(bench.form);
        let alone = alone(bench, self.open.get(&bench.permit.set.id));
        let until = || {
            let of_form = bench.permit.answers.iter().filter(|a| a.form == bench.form.sha256());
            ends(bench, of_form.filter_map(|a| Some((bench.form.step(&a.step)?.1, a))))
        };
        let fresh = || Kept {
            form: bench.form.sha256().to_owned(),
            set: bench.permit.set.id.clone(),
            shutdown: bench.form.sha256() != bench.permit.form.hash,
            done: vec![false; rests.ids.len()],
            rests: Rc::clone(&rests),
            date,
            life: bench.permit.life,
            alone,
            last_day: None,
            at: now,
            after: None,
            until: until(),
            carried: false,
            memo: Rc::default(),
            texts: Rc::clone(texts),
            tongue: tongue(),
        };
        let Some(kept) = self.kept.of_mut(bench) else {
            self.kept.put(&bench.permit.number, fresh());
            return;
        };
        if std::mem::take(&mut kept.carried) {
            kept.until = kept.until.min(until());
        }
        let life = bench.permit.life;
        if kept.date != date || !kept.goes_on_as(life) || now > kept.until || now < kept.at {
            *kept = fresh();
        }
        if kept.life != life {
            kept.issued(life);
        }
        // What was worked out with others there holds no more without them.
        if alone && !kept.alone {
            let rests = Rc::clone(&kept.rests);
            kept.changed(&rests.people);
            kept.memo.forget(rests.of_wearers.iter());
        }
        (kept.at, kept.alone) = (now, alone);
    }

    /// What is kept for a bench, where no line came and no second went by since it was asked for.
    fn settled(&self, bench: &Bench<'_>) -> Option<&Kept> {
        let kept = self.kept.of(bench)?;
        (kept.after == Some(self.lines) && kept.at == bench.now.seconds() && !tried(bench)).then_some(kept)
    }

    /// What was worked out for a bench's permit and form, as far as no line and no time since can have changed it.
    pub fn memo(&mut self, bench: &Bench<'_>, texts: &Rc<Texts>) -> Option<Rc<Memo>> {
        if self.whole {
            return None;
        }
        let lines = Some(self.lines);
        if let Some(kept) = self.settled(bench)
            && kept.tongue == tongue()
            && Rc::ptr_eq(&kept.texts, texts)
        {
            return Some(Rc::clone(&kept.memo));
        }
        self.fit(bench, texts);
        let kept = self.kept.of_mut(bench)?;
        kept.after = lines.filter(|_| !tried(bench));
        let alone = kept.alone;
        if !Rc::ptr_eq(&kept.texts, texts) || kept.tongue != tongue() {
            (kept.memo, kept.texts, kept.tongue) = (Rc::default(), Rc::clone(texts), tongue());
        }
        let fixed = kept.memo.end(|| valid::fixed(bench.state, bench.permit, bench.texts));
        let end = valid::second(fixed, bench.permit, bench.texts, bench.now);
        let last_day = valid::date_of(end, &bench.texts.zone);
        if kept.last_day != Some(last_day) {
            kept.last_day = Some(last_day);
            let rests = Rc::clone(&kept.rests);
            kept.changed(&rests.end);
            kept.memo.forget([LAST_DAY.to_owned()].iter());
        }
        let rests = &kept.rests;
        kept.memo.forget_unless_open(rests.less.iter().filter_map(|i| rests.ids.get(i)));
        let people = || if alone { None } else { Some((&rests.people, &rests.of_wearers)) };
        for (steps, names) in [(&rests.always, &rests.of_permit)].into_iter().chain(people()) {
            kept.memo.forget(steps.iter().filter_map(|i| rests.ids.get(i)).chain(names));
        }
        Some(Rc::clone(&kept.memo))
    }

    /// The standings of a step, and before them all that are not done, in the form's order.
    pub fn before<'a>(&mut self, bench: &Bench<'a>, texts: &Rc<Texts>, step: &str) -> Vec<Stand<'a>> {
        if self.whole {
            return walk::walk(bench);
        }
        if self.settled(bench).is_none() {
            self.fit(bench, texts);
        }
        let Some(kept) = self.kept.of_mut(bench) else { return walk::walk(bench) };
        let alone = kept.alone;
        let mut out = Vec::new();
        let place = kept.rests.places.get(step).copied();
        for (i, (_, other)) in bench.form.steps().enumerate() {
            let own = Some(i) == place;
            let known = kept.done.get(i).copied().unwrap_or(false)
                && !kept.rests.always.contains(i)
                && (alone || !kept.rests.people.contains(i));
            if own || !known {
                let stands = walk::of_step(bench, other.id());
                kept.until = kept.until.min(ends_of(bench, &stands));
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
        let Some(kept) = self.kept.of_mut(bench).filter(|k| k.date == bench.today()) else { return };
        if let Some(done) = kept.rests.places.get(step).and_then(|i| kept.done.get_mut(*i)) {
            *done = stands.iter().all(passes);
            kept.until = kept.until.min(ends_of(bench, stands));
        }
    }

    /// A line carries answers to steps of a permit's form that nobody answered there: of what is kept these are looked at
    /// again, and what rests on them. False where it carries anything else.
    fn carried(&mut self, known: &Known<'_>, line: &Line) -> bool {
        let (Some(number), Some(form)) = (&line.permit, line.data.text("form")) else { return false };
        let Some(permit) = known.state.permits.get(number).filter(|p| p.form.hash == form) else {
            return false;
        };
        let Some(kept) = self.kept.get_mut(number, form) else { return true };
        let rests = Rc::clone(&kept.rests);
        let mut changed = Places::default();
        for found in known.state.answers_by_hash(&line.data.texts("answers")) {
            let Some((_, a)) = found else { return false };
            let new = permit.last_answer(form, &a.step, a.item.as_deref()).is_none();
            let Some(place) = rests.places.get(a.step.as_str()).filter(|_| new) else { return false };
            changed.insert(*place);
            changed.extend(rests.dependents.get(*place).into_iter().flat_map(Places::iter));
        }
        // What is carried may end the permit.
        changed.extend(rests.less.iter());
        kept.changed(&changed);
        kept.memo.forget_end();
        kept.carried = true;
        true
    }

    fn forget_shutdowns(&mut self, set: &str) {
        self.kept.retain(|_, k| k.set != set || !k.shutdown);
    }

    /// A line came, after what is in the state: what it may have changed is looked at again.
    pub fn came(&mut self, known: &Known<'_>, line: &Line, set: Option<&str>) {
        self.lines += 1;
        let permit = line.permit.as_ref().and_then(|n| known.state.permits.get(n));
        let kind = line.kind.name;
        if let (Some(number), Some(set)) = (&line.permit, set) {
            let of_set = self.open.entry(set.to_owned()).or_default();
            match kind {
                "open" => {
                    of_set.insert(number.to_string());
                }
                "close" | "refuse" | "cancel" => {
                    of_set.remove(number.as_str());
                }
                _ => {}
            }
        }
        if matches!(kind, "copy" | "denied" | "note" | "witness") {
            return;
        }
        let Some(set) = set else {
            self.kept = Shelf::default();
            return;
        };
        match kind {
            // Of what is asked before the work only who is to be fed rests on who is on air; that is looked at each time.
            // Of declaring and issuing it is known what rests on them (`Kept::issued`).
            "on_air" | "in" | "out" | "off_air" | "declare" | "countersign" => {
                self.forget_shutdowns(set);
                return;
            }
            "started" => {
                self.forget_shutdowns(set);
                self.kept.of_set(set).for_each(|(_, kept)| kept.done_to_set());
                return;
            }
            "reading" => {
                for (number, kept) in self.kept.of_set(set) {
                    if kept.may_end(known, number, line) {
                        let rests = Rc::clone(&kept.rests);
                        kept.changed(&rests.read);
                    }
                }
                return;
            }
            _ => {}
        }
        if kind == "carried" && self.carried(known, line) {
            return;
        }
        // The item was out of service before it.
        let took_back = || {
            let text = |name: &str| line.data.text(name).unwrap_or_default();
            let last = permit.and_then(|p| p.last_answer(text("form"), text("step"), line.data.text("item")));
            last.is_some_and(|a| a.left_out.is_some())
        };
        if self.kept.of_set(set).next().is_none() {
            return;
        }
        let plain = kind == "answer" && !line.data.has("left_out") && !took_back();
        let (Some(number), Some(form), true) = (&line.permit, line.data.text("form"), plain) else {
            self.kept.retain(|_, k| k.set != set);
            return;
        };
        // A shutdown that was begun ends what was good for the start.
        if self.kept.get(number, form).is_none_or(|k| k.shutdown) {
            self.kept.retain(|n, kept| kept.set != set || (n == number.as_str() && kept.form == form));
        }
        let Some(kept) = self.kept.get_mut(number, form) else { return };
        let step = line.data.text("step").unwrap_or_default();
        // Of what is carried only the last answer counts for the end of the permit.
        if permit.is_some_and(|p| p.answers.iter().any(|a| a.carry.is_some() && a.step == step)) {
            kept.memo.forget_end();
            let rests = Rc::clone(&kept.rests);
            kept.changed(&rests.less);
        }
        let Some(place) = kept.rests.places.get(step).copied() else {
            return;
        };
        let mut changed = kept.rests.dependents.get(place).cloned().unwrap_or_default();
        match line.data.text("item") {
            // Of a step with items the others stand as they stood.
            Some(item) => {
                kept.changed(&changed);
                kept.memo.forget_item(step, item);
                if let Some(done) = kept.done.get_mut(place) {
                    *done = false;
                }
            }
            None => {
                changed.insert(place);
                kept.changed(&changed);
            }
        }
    }
}
