//! A day at a station: enrolled with a roster made from the example people, texts in force, one permit
//! or several, and a clock that only moves when it is told to. Everything goes through `permit::decide`
//! and is appended; each line must be accepted by the fold.

use super::{Station, before, key_of, sign_roster};
use airwrit::actions::{Desk, Trouble};
use airwrit::permit::bench::Texts;
use airwrit::permit::decide::air::{self, Move, Told};
use airwrit::permit::decide::answer::{self, Typed};
use airwrit::permit::decide::carry;
use airwrit::permit::decide::open::{self, Opening};
use airwrit::permit::decide::sign::{self, Hand, Limits, Prepared, Seen, Signing};
use airwrit::permit::decide::take_in::take_in;
use airwrit::permit::decide::{Known, Refusal};
use airwrit::permit::state::{self, Permit, State};
use airwrit::permit::walk;
use airwrit::record::carried::Carried;
use airwrit::record::json::Json;
use airwrit::record::line::{self, ActDraft, Draft, Line, NONE, What};
use airwrit::record::store::{self, Register};
use airwrit::site::Raw;
use airwrit::time::Moment;
use airwrit::trust::{Role, Signer};
use airwrit::view::{Standing, StateWord};
use jiff::tz::TimeZone;
use serde::Deserialize;

/// A checklist small enough to be played often: one step before the start, one on the running set that
/// rests on the place, the flow for everybody, one of each wearer before air.
pub const SMALL: &str = r#"checklist: small
revision: 1
title: Small
for: work
stages:
  - stage: all
    title: All
    any_order: true
    steps:
      - step: ready
        ask: Ready to start?
        confirm: true
        before: start
        good_for: start
      - step: siting
        ask: Metres to the nearest exhaust
        reading: { unit: m, from: 0, to: 300, decimals: 0 }
        gate: siting >= 10 m
        good_for: place
      - step: spare
        ask: Flow left
        derived: set.rated_flow - sum(wearers.most)
        unit: L/min
        decimals: 0
        round: down
        gate: spare >= 0 L/min
      - step: outlet_ok
        each: set.outlets
        ask: "{{ item.name }}: good?"
        confirm: true
        may_leave_out: true
        good_for: shift
      - step: own
        each: wearer
        ask: "{{ wearer.name }}: ready?"
        confirm: true
        before: air
        good_for: wearer
"#;

/// Its shutdown.
pub const SMALL_SHUTDOWN: &str = r#"checklist: small-off
revision: 1
title: Small shutdown
for: shutdown
stages:
  - stage: people
    title: People
    steps:
      - step: seen
        ask: Everyone seen?
        confirm: true
        good_for: start
  - stage: stop
    title: Stop
    steps:
      - step: stopped_now
        ask: Stopped?
        confirm: true
        good_for: start
"#;

/// What a day is made of.
#[derive(Clone)]
pub struct Plan {
    /// UTC of line 0.
    pub start: String,
    pub job: String,
    pub set: String,
    pub site: String,
    pub work: String,
    pub shutdown: String,
    /// Shown competence by person.
    pub competence: Vec<(String, String)>,
    /// Texts of the roster replaced.
    pub roster: Vec<(String, String)>,
}

impl Plan {
    /// The shipped checklists and the examples.
    pub fn shipped() -> Plan {
        Plan {
            start: super::START.into(),
            job: include_str!("../../examples/job.yaml").into(),
            set: include_str!("../../examples/set.yaml").into(),
            site: include_str!("../../examples/site.yaml").into(),
            work: include_str!("../../checklists/pre-start.yaml").into(),
            shutdown: include_str!("../../checklists/shutdown.yaml").into(),
            competence: Vec::new(),
            roster: Vec::new(),
        }
    }

    /// The small checklists on the example set, site and job.
    pub fn small() -> Plan {
        Plan { work: SMALL.into(), shutdown: SMALL_SHUTDOWN.into(), ..Plan::shipped() }
    }

    /// With a text of the job replaced; panics if it is not there.
    #[must_use]
    pub fn job(mut self, from: &str, to: &str) -> Plan {
        self.job = replaced(&self.job, from, to);
        self
    }

    #[must_use]
    pub fn site(mut self, from: &str, to: &str) -> Plan {
        self.site = replaced(&self.site, from, to);
        self
    }

    #[must_use]
    pub fn set(mut self, from: &str, to: &str) -> Plan {
        self.set = replaced(&self.set, from, to);
        self
    }

    #[must_use]
    pub fn roster(mut self, from: &str, to: &str) -> Plan {
        self.roster.push((from.into(), to.into()));
        self
    }

    #[must_use]
    pub fn start(mut self, utc: &str) -> Plan {
        self.start = utc.into();
        self
    }
}

fn replaced(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "`{from}` is not in the text");
    text.replace(from, to)
}

#[derive(Deserialize)]
struct People {
    people: Vec<Person>,
}

#[derive(Deserialize)]
struct Person {
    id: String,
    name: String,
    roles: Vec<String>,
}

/// An entry of a file of answers.
#[derive(Clone, Debug, Deserialize)]
pub struct Entry {
    pub step: String,
    pub item: Option<String>,
    pub value: Option<String>,
    pub again: Option<String>,
}

#[derive(Deserialize)]
struct Answers {
    answers: Vec<Entry>,
}

pub fn answers(text: &str) -> Vec<Entry> {
    serde_yaml::from_str::<Answers>(text).unwrap().answers
}

/// A job from YAML as opening takes it.
pub fn raw_job(text: &str) -> Vec<(String, Raw)> {
    let read = airwrit::site::read_job("job", text.as_bytes());
    let file = read.file.unwrap_or_else(|| panic!("{:?}", read.findings));
    file.values().to_raw()
}

fn roster(competence: &[(String, String)]) -> String {
    let people: People = serde_yaml::from_str(include_str!("../../examples/people.yaml")).unwrap();
    let mut s = format!("roster: 1\nbefore: \"{}\"\nthreshold: 2\ncustodians:\n", "0".repeat(64));
    for c in ["custodian-a", "custodian-b", "custodian-c"] {
        s += &format!("  - {}\n", key_of(c).public().to_ssh());
    }
    s += "persons:\n";
    for p in people.people {
        s += &format!("  - id: {}\n    name: {}\n    roles: [{}]\n", p.id, p.name, p.roles.join(", "));
        if let Some((_, until)) = competence.iter().find(|(id, _)| *id == p.id) {
            s += &format!("    competence: {until}\n");
        }
        s += &format!(
            "    keys:\n      - key: {}\n        from: 2026-01-01T00:00:00Z\n        to: 2027-12-31T23:59:59Z\n",
            key_of(&p.id).public().to_ssh()
        );
    }
    s
}

/// A step and item that was held, and why.
pub type Held = (String, Option<String>, Vec<String>);

pub struct Day {
    pub station: Station,
    pub state: State,
    pub plan: Plan,
    /// The permit opened last.
    pub number: String,
    /// UTC second of the laptop's clock.
    pub second: i64,
    pub zone: TimeZone,
}

impl Clone for Day {
    fn clone(&self) -> Day {
        Day {
            station: Station {
                register: self.station.register.clone(),
                seal: self.station.seal.clone(),
                random: self.station.random.clone(),
                second: self.station.second,
                open: self.station.open.clone(),
            },
            state: self.state.clone(),
            plan: self.plan.clone(),
            number: self.number.clone(),
            second: self.second,
            zone: self.zone.clone(),
        }
    }
}

impl Day {
    /// Enrolled, texts in force, nothing opened.
    pub fn enrolled(plan: Plan) -> Day {
        Day::enrolled_as(plan, "KW2", "00112233445566778899aabbccddeeff")
    }

    /// Of another station, with another log.
    pub fn enrolled_as(plan: Plan, station: &str, log: &str) -> Day {
        let mut day = Day {
            station: Station::new(),
            state: State::default(),
            number: String::new(),
            second: airwrit::time::seconds(&plan.start),
            zone: TimeZone::get("Europe/Warsaw").unwrap(),
            plan,
        };
        day.enrol(station, log, None);
        let p = day.plan.clone();
        for (kind, text) in [("set", &p.set), ("site", &p.site), ("form", &p.work), ("form", &p.shutdown)] {
            day.approve(kind, text);
        }
        day
    }

    /// With a permit opened.
    pub fn opened(plan: Plan) -> Day {
        let mut day = Day::enrolled(plan);
        let job = day.plan.job.clone();
        day.open(&job);
        day
    }

    /// Another machine goes on with the register's folder: its next volume.
    pub fn next_volume(&mut self, station: &str, log: &str) {
        let (moved, history) = self.station.moved_elsewhere();
        self.station = moved;
        self.enrol(station, log, Some(history));
    }

    fn enrol(&mut self, station: &str, log: &str, history: Option<Register>) {
        let now = self.moment();
        let s = &mut self.station;
        let seal = store::prepare_enrol(&mut s.seal, &mut s.random).unwrap();
        let mut text = roster(&self.plan.competence);
        for (from, to) in &self.plan.roster {
            text = replaced(&text, from, to);
        }
        let mut data = vec![
            ("roster".to_owned(), sign_roster(&text, &["custodian-a", "custodian-c"])),
            ("said".to_owned(), "A register begins here.".into()),
            ("seal".to_owned(), seal.to_hex().into()),
            ("station".to_owned(), station.into()),
            ("where".to_owned(), "station".into()),
        ];
        let of = |r: &Register| before(&r.chain.origin.log, r.chain.seq, &r.chain.head);
        data.extend(history.as_ref().map(|r| ("before".to_owned(), of(r))));
        let act = ActDraft {
            kind: "enrol",
            log: log.into(),
            permit: None,
            shown: NONE.into(),
            by: "tuula".into(),
            role: Role::Enroller,
            time: now.time.clone(),
            data: airwrit::record::json::sorted(data),
        }
        .sign(&key_of("tuula"))
        .unwrap();
        let hash = line::hash(text.as_bytes());
        let r = store::enrol(&mut s.register, &mut s.seal, history, log, act, &hash, &now, &mut s.random)
            .unwrap();
        self.state = state::fold(&r.lines).unwrap();
        s.open = Some(r);
    }

    pub fn approve(&mut self, kind: &'static str, text: &str) -> Line {
        let first = text.lines().find(|l| !l.starts_with('#')).unwrap();
        let id = first.split_once(": ").unwrap().1.to_owned();
        let hand = Hand::here("tuula");
        let revision = (kind == "form").then_some(1);
        let act = self.ask(|k| sign::approve(k, &hand, kind, &id, revision, text)).unwrap();
        self.signed(&act)
    }

    pub fn moment(&self) -> Moment {
        Moment::new(self.second, &self.zone)
    }

    pub fn wait(&mut self, seconds: i64) {
        self.second += seconds;
    }

    /// Sets the clock.
    pub fn clock(&mut self, utc: &str) {
        self.second = airwrit::time::seconds(utc);
    }

    /// Asks with what is known now.
    pub fn ask<R>(&self, f: impl FnOnce(&Known<'_>) -> R) -> R {
        let now = self.moment();
        f(&Known::new(self.station.chain(), &self.state, &now))
    }

    /// The same with a permit and its texts.
    pub fn on<R>(&self, number: &str, f: impl FnOnce(&Known<'_>, &Permit, &Texts) -> R) -> R {
        self.ask(|k| {
            let permit = k.permit(number).unwrap();
            let texts = k.texts(permit).unwrap();
            f(k, permit, &texts)
        })
    }

    /// Appends a line; chain and fold must accept what was decided.
    pub fn add(&mut self, draft: &Draft) -> Line {
        let now = self.moment();
        let s = &mut self.station;
        let r = s.open.as_mut().unwrap();
        let line = r.append(&mut s.register, &mut s.seal, draft, &now, &mut s.random).unwrap().clone();
        self.state.take(&line).unwrap_or_else(|b| panic!("the fold refuses `{}`: {}", line.kind.name, b.why));
        line
    }

    /// Signs an act with its person's key and appends it.
    pub fn signed(&mut self, act: &Prepared) -> Line {
        let carried = act.sign(&key_of(&act.act.by)).unwrap();
        let draft =
            self.ask(|k| take_in(k, self.lines(), &carried, false)).unwrap_or_else(|r| panic!("{r:?}"));
        self.add(&draft)
    }

    /// Takes an act in at the desk, as the command line does: through the store, from the bytes.
    pub fn take_in(&mut self, raw: &[u8]) -> Result<Line, Trouble> {
        let carried = Carried::read(raw).map_err(Refusal::because)?;
        let s = &mut self.station;
        let mut desk = Desk {
            register: &mut s.register,
            seal: &mut s.seal,
            random: &mut s.random,
            second: self.second,
            today: None,
        };
        let (line, loaded) = desk.take_in(&carried, true)?;
        (s.open, self.state) = (Some(loaded.register), loaded.state);
        Ok(line)
    }

    /// Prepares an act at the desk, as the command line does: a refusal is kept.
    pub fn prepare(&mut self, number: &str, what: &Signing, by: &str) -> Result<Prepared, Trouble> {
        let s = &mut self.station;
        let mut desk = Desk {
            register: &mut s.register,
            seal: &mut s.seal,
            random: &mut s.random,
            second: self.second,
            today: None,
        };
        let prepared = desk.prepare(number, what, by).map(|(act, _)| act);
        let loaded = desk.load()?;
        (s.open, self.state) = (Some(loaded.register), loaded.state);
        prepared
    }

    /// What a decision made, appended, or the refusal.
    pub fn take(&mut self, decided: Result<Draft, Refusal>) -> Result<Line, Refusal> {
        decided.map(|d| self.add(&d))
    }

    pub fn try_open(&mut self, job: &str, for_shutdown: bool) -> Result<Line, Refusal> {
        self.open_after(job, for_shutdown, None)
    }

    /// Opened to go on with another.
    pub fn open_after(
        &mut self,
        job: &str,
        for_shutdown: bool,
        follows: Option<&str>,
    ) -> Result<Line, Refusal> {
        let id = |text: &str, key: &str| {
            let l = text.lines().find_map(|l| l.strip_prefix(key)).unwrap();
            l.to_owned()
        };
        let form = if for_shutdown { &self.plan.shutdown } else { &self.plan.work };
        let opening = Opening {
            form: id(form, "checklist: "),
            set: id(&self.plan.set, "set: "),
            site: id(&self.plan.site, "site: "),
            for_shutdown,
            follows: follows.map(str::to_owned),
            job: raw_job(job),
            by: "lukasz".into(),
        };
        let decided = self.ask(|k| open::open(k, &opening));
        self.take(decided)
    }

    pub fn open(&mut self, job: &str) -> String {
        let line = self.try_open(job, false).unwrap_or_else(|r| panic!("{r:?}"));
        self.number = line.permit.as_ref().unwrap().to_string();
        self.number.clone()
    }

    pub fn life(&self, number: &str) -> StateWord {
        self.state.life(&self.state.permits[number], &self.moment().time)
    }

    /// Every step and item of the form with its standing and why.
    pub fn stands(
        &self,
        number: &str,
        shutdown: bool,
    ) -> Vec<(String, Option<String>, Standing, Vec<String>)> {
        self.on(number, |k, p, t| {
            let bench = answer::bench(k, p, t, shutdown).unwrap();
            walk::walk(&bench)
                .iter()
                .map(|s| (s.step.id().to_owned(), s.item_id().map(str::to_owned), s.standing, s.why.clone()))
                .collect()
        })
    }

    pub fn standing(&self, number: &str, step: &str, item: Option<&str>) -> Standing {
        let all = self.stands(number, false);
        all.iter().find(|s| s.0 == step && s.1.as_deref() == item).unwrap().2
    }

    pub fn answer(&mut self, number: &str, typed: &Typed) -> Result<Line, Refusal> {
        let decided = self.on(number, |k, p, t| answer::answer(k, p, t, typed));
        self.take(decided)
    }

    /// Answers one step plainly.
    pub fn say(
        &mut self,
        number: &str,
        step: &str,
        item: Option<&str>,
        value: &str,
    ) -> Result<Line, Refusal> {
        self.answer(number, &typed(step, item, value))
    }

    /// Works out every derived step that comes next, until one holds.
    pub fn derived(&mut self, number: &str, shutdown: bool) {
        let mut last = None;
        loop {
            let next = self.on(number, |k, p, t| {
                let bench = answer::bench(k, p, t, shutdown).unwrap();
                let stands = walk::walk(&bench);
                walk::next(&stands).and_then(|i| stands.get(i)).and_then(|s| {
                    matches!(s.step.kind(), airwrit::checklist::StepKind::Derived(_))
                        .then(|| (s.step.id().to_owned(), s.item_id().map(str::to_owned)))
                })
            });
            let Some((step, item)) = next.filter(|n| last.as_ref() != Some(n)) else { return };
            last = Some((step.clone(), item.clone()));
            self.wait(10);
            let t = Typed { step, item, shutdown, by: "lukasz".into(), ..Typed::default() };
            self.answer(number, &t).unwrap();
        }
    }

    /// Plays a file of answers; the set is started as soon as everything before the start is done, and
    /// stopped as soon as everything before the stop is. Returns what was held at its answer.
    pub fn play(&mut self, number: &str, entries: &[Entry], shutdown: bool) -> Vec<Held> {
        let mut held = Vec::new();
        for e in entries {
            self.derived(number, shutdown);
            self.start_or_stop(number, shutdown);
            self.wait(if e.value.as_deref() == Some("done") { 15 * 60 } else { 15 });
            let value = e.value.as_deref().unwrap_or_default();
            let below = value.strip_prefix("< ");
            let t = Typed {
                value: Some(below.unwrap_or(value).to_owned()),
                below: below.is_some(),
                again: e.again.clone(),
                shutdown,
                ..typed(&e.step, e.item.as_deref(), value)
            };
            let line = self.answer(number, &t).unwrap_or_else(|r| panic!("{e:?}: {r:?}"));
            let stands = self.stands(number, shutdown);
            let s = stands.into_iter().find(|s| s.0 == e.step && s.1 == e.item).unwrap();
            assert_eq!(line.data.text("step"), Some(e.step.as_str()));
            if s.2 == Standing::Hold {
                held.push((s.0, s.1, s.3));
            }
        }
        self.derived(number, shutdown);
        self.read_again(number);
        held
    }

    /// What was to be fresh and is not any more reads the same again.
    fn read_again(&mut self, number: &str) {
        let aged: Vec<Typed> = self.on(number, |k, p, t| {
            let stands = walk::walk(&airwrit::permit::bench::Bench::new(k.state, p, t, k.now));
            let again = |s: &walk::Stand<'_>| {
                typed(s.step.id(), s.item_id(), s.answers.last().unwrap().value.as_deref().unwrap())
            };
            stands.iter().filter(|s| s.aged).map(again).collect()
        });
        for t in aged {
            self.wait(15);
            self.answer(number, &t).unwrap_or_else(|r| panic!("{t:?}: {r:?}"));
        }
    }

    fn start_or_stop(&mut self, number: &str, shutdown: bool) {
        let set = self.state.permits[number].set.id.clone();
        let running = self.ask(|k| answer::running(k, &set));
        if running != shutdown {
            return;
        }
        let kind = if shutdown { "stopped" } else { "started" };
        if let Ok(d) = self.ask(|k| air::request_of_set(k, kind, &set, Vec::new(), "lukasz")) {
            self.wait(15);
            self.add(&d);
        }
    }

    pub fn declare(&mut self, number: &str, by: &str) -> Result<Line, Refusal> {
        let hand = Hand::here(by);
        let act = self.on(number, |k, p, t| sign::declare(k, p, t, &hand))?;
        Ok(self.signed(&act))
    }

    /// What the supervisor reads again at the gauges that are drawn: what the operator read.
    pub fn seen_again(&self, number: &str) -> Vec<Seen> {
        self.on(number, |k, p, t| {
            let read = |d: &sign::Drawn| {
                let last = p.last_answer(&p.form.hash, &d.step, d.item.as_deref()).unwrap();
                Seen {
                    step: d.step.clone(),
                    item: d.item.clone(),
                    value: last.value.clone().unwrap().to_string(),
                    unit: d.unit.clone(),
                }
            };
            sign::drawn(k, p, t).iter().map(read).collect()
        })
    }

    pub fn countersign(&mut self, number: &str, by: &str, limits: &Limits) -> Result<Line, Refusal> {
        let hand = Hand::here(by);
        let given = limits.not_seen.is_some() || !limits.seen.is_empty();
        let seen = if given { limits.seen.clone() } else { self.seen_again(number) };
        let limits = &Limits { seen, ..limits.clone() };
        let act = self.on(number, |k, p, t| sign::countersign(k, p, t, &hand, limits))?;
        Ok(self.signed(&act))
    }

    pub fn refuse(&mut self, number: &str, by: &str) -> Result<Line, Refusal> {
        let hand = Hand::here(by);
        let act = self.on(number, |k, p, t| sign::refuse(k, p, t, &hand, "not today"))?;
        Ok(self.signed(&act))
    }

    pub fn hand_back(&mut self, number: &str, by: &str, left_running: Option<&str>) -> Result<Line, Refusal> {
        let hand = Hand::here(by);
        let act = self.on(number, |k, p, t| sign::hand_back(k, p, t, &hand, left_running, None))?;
        Ok(self.signed(&act))
    }

    pub fn close(&mut self, number: &str, by: &str) -> Result<Line, Refusal> {
        let hand = Hand::here(by);
        let act = self.on(number, |k, p, t| sign::close(k, p, t, &hand))?;
        Ok(self.signed(&act))
    }

    pub fn cancel(&mut self, number: &str, by: &str) -> Result<Line, Refusal> {
        let hand = Hand::here(by);
        let act = self.on(number, |k, p, t| sign::cancel(k, p, t, &hand, "no longer needed"))?;
        Ok(self.signed(&act))
    }

    /// Supply, reserve and carbon monoxide, all well.
    pub fn read_gauges(&mut self, number: &str) {
        for (what, value, unit) in [("co", "1", "ppm"), ("supply", "6", "bar"), ("reserve", "260", "bar")] {
            self.on_permit(number, "reading", &[("what", what), ("value", value), ("unit", unit)]);
        }
    }

    /// The roll called, the gauges read, then asked to reinstate.
    pub fn reinstate(&mut self, number: &str, by: &str) -> Result<Line, Refusal> {
        self.read_gauges(number);
        self.on_permit(number, "roll_call", &[]);
        let hand = Hand::here(by);
        let act = self.on(number, |k, p, t| sign::reinstate(k, p, t, &hand, "the fog lifted"))?;
        Ok(self.signed(&act))
    }

    /// Why somebody may not be put on air or let in; empty if they may.
    pub fn forbidden(&self, number: &str, person: &str, to: Move) -> Vec<String> {
        self.on(number, |k, p, _| air::forbidden(k, p, person, to))
    }

    pub fn request(&mut self, number: &str, person: &str, to: Move) -> Result<Line, Refusal> {
        let decided = self.on(number, |k, p, _| air::request(k, p, person, to, "lukasz"));
        self.take(decided)
    }

    /// A report, with its breach, on a permit or (no number) on the set.
    pub fn report(&mut self, number: Option<&str>, person: &str, to: Move) -> Line {
        let set = self.set_id();
        let draft = self.ask(|k| {
            let permit = number.map(|n| k.permit(n).unwrap());
            let breach = air::breach(k, permit, person, to);
            air::report(k, permit, &set, person, to, breach, &Told::default(), "lukasz")
        });
        self.add(&draft)
    }

    pub fn set_id(&self) -> String {
        self.plan.set.lines().find_map(|l| l.strip_prefix("set: ")).unwrap().to_owned()
    }

    /// A line about the set.
    pub fn of_set(&mut self, kind: &'static str, members: &[(&str, &str)]) -> Line {
        let mut m = vec![("set".to_owned(), Json::from(self.set_id()))];
        m.extend(members.iter().map(|(k, v)| ((*k).to_owned(), Json::from(*v))));
        let draft = if matches!(kind, "event" | "call_out" | "suspend" | "note" | "denied") {
            Known::line_apart(kind, "lukasz", airwrit::record::json::sorted(m))
        } else {
            self.ask(|k| air::of_set(k, kind, m, &Told::default(), "lukasz"))
        };
        self.add(&draft)
    }

    /// A line of the station on a permit.
    pub fn on_permit(&mut self, number: &str, kind: &'static str, members: &[(&str, &str)]) -> Line {
        let m = members.iter().map(|(k, v)| ((*k).to_owned(), Json::from(*v))).collect();
        let data = airwrit::record::json::sorted(m);
        let draft = self.on(number, |k, p, _| k.line(p, kind, "lukasz", data));
        self.add(&draft)
    }

    pub fn request_of_set(&mut self, kind: &'static str) -> Result<Line, Refusal> {
        let set = self.set_id();
        let m = vec![("set".to_owned(), Json::from(set.as_str()))];
        let decided = self.ask(|k| air::request_of_set(k, kind, &set, m, "lukasz"));
        self.take(decided)
    }

    /// The small form answered, the set started.
    pub fn ready(&mut self, number: &str) {
        self.say(number, "ready", None, "yes").unwrap();
        self.ready_again(number);
    }

    /// The rest of the small form, once its first step is answered.
    pub fn ready_again(&mut self, number: &str) {
        if !self.ask(|k| answer::running(k, &k.state.permits[number].set.id)) {
            self.request_of_set("started").unwrap();
        }
        self.say(number, "siting", None, "40").unwrap();
        for o in ["red", "white", "green"] {
            self.say(number, "outlet_ok", Some(o), "yes").unwrap();
        }
        self.derived(number, false);
    }

    /// Ready, declared, countersigned.
    pub fn live(&mut self, number: &str) {
        self.ready(number);
        self.wait(30);
        self.declare(number, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
        self.wait(30);
        self.countersign(number, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    }

    /// Anything that people sign on a permit.
    pub fn sign(&mut self, number: &str, what: &Signing, by: &str) -> Result<Line, Refusal> {
        let act = self.ask(|k| sign::prepare(k, number, what, &Hand::here(by)))?;
        Ok(self.signed(&act))
    }

    /// What could be carried, by step and item.
    pub fn candidates(&self, number: &str) -> Vec<String> {
        self.on(number, carry::candidates)
            .iter()
            .map(|c| airwrit::permit::state::key(&c.step, c.item.as_deref()))
            .collect()
    }

    pub fn carry(&mut self, number: &str) -> Result<Line, Refusal> {
        let decided = self.on(number, |k, p, t| carry::carry(k, p, t, None, "lukasz"));
        self.take(decided)
    }

    /// A roll call that found everyone, and the gauges.
    pub fn called_and_read(&mut self, number: &str) {
        self.on_permit(number, "roll_call", &[]);
        self.read_gauges(number);
    }

    /// Their own steps, for the small form.
    pub fn own(&mut self, number: &str, person: &str) {
        self.say(number, "own", Some(person), "yes").unwrap_or_else(|r| panic!("{r:?}"));
    }

    pub fn bytes(&self) -> Vec<u8> {
        self.station.bytes()
    }

    pub fn lines(&self) -> &[Line] {
        &self.station.open.as_ref().unwrap().lines
    }

    /// Folding the kept lines again gives what we have.
    pub fn assert_replays(&self) {
        let again = state::fold(self.lines()).unwrap();
        assert_eq!(format!("{again:?}"), format!("{:?}", self.state));
    }

    /// Verifies from its bytes, with the custodians trusted.
    pub fn verify(&self) -> airwrit::audit::Verified {
        let (bytes, trust) = (self.bytes(), trust());
        let verified = airwrit::audit::verify(&bytes, Some(&trust));
        crate::support::same_where_little_is_kept(&verified.report, &[&bytes], Some(&trust), &[]);
        verified
    }
}

pub fn trust() -> airwrit::audit::Trust {
    let fingerprint = |c: &str| key_of(c).public().fingerprint();
    airwrit::audit::Trust {
        custodians: vec![fingerprint("custodian-a"), fingerprint("custodian-c")],
        threshold: 2,
    }
}

pub fn typed(step: &str, item: Option<&str>, value: &str) -> Typed {
    Typed {
        step: step.into(),
        item: item.map(str::to_owned),
        value: Some(value.into()),
        by: "lukasz".into(),
        ..Typed::default()
    }
}

/// What a station's draft carries.
pub fn data_of(draft: &Draft) -> &Json {
    match &draft.what {
        What::Data(d) => d,
        What::Act { .. } => panic!("a signed line"),
    }
}
