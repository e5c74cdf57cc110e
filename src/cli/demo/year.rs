//! A register to measure with: many days of the invented station, several permits on each, in volumes.
//!
//! Every line is decided and kept by the functions that the station uses, on what is held in memory; only that nothing is
//! flushed to disk line by line, and that a form is not walked whole for every answer. In: days, permits on each. Out: the
//! volumes, with the seal key of the last. Not here: the people and texts (`people`, `day`).

use super::day::{
    Answers, EVENING, Given, JOB, LOG, MORNING, NotRandom, PRE_START, SET, SHUTDOWN, SITE, air_tested, id_of,
};
use super::{Cast, secret_key};
use crate::actions::enrol::Enrolment;
use crate::actions::{Desk, Loaded};
use crate::checklist::StepKind;
use crate::cli::{End, could_not};
use crate::disk::Folder;
use crate::permit::bench::Texts;
use crate::permit::decide::air::{self, Move, Told};
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::open::{self, Opening};
use crate::permit::decide::sign::{self, Hand, Limits, Seen, Signing};
use crate::permit::decide::{Known, Refusal, carry, crew};
use crate::permit::walk;
use crate::record::json::{Json, object, sorted};
use crate::record::line::{Draft, Line};
use crate::replay::recalled::Recalled;
use crate::site::Raw;
use crate::time::{Moment, seconds};
use crate::trust::token;
use crate::world::{Storage, StorageError};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::path::Path;
use std::rc::Rc;

/// 06:02 at the site on the first day.
const BEGIN: &str = "2026-01-05T05:02:00Z";
const DAY: i64 = 86_400;
/// Seconds between two answers.
const PACE: i64 = 15;
/// Days of a volume.
const VOLUME: u32 = 92;
/// A test of the air is entered every so many days.
const TESTED: u32 = 28;
const PEOPLE: [&str; 2] = ["zaneta", "nikos"];
/// No form is gone through more often: its answers would come to no end.
const MOST: usize = 60;

/// A folder whose writes are not flushed one by one: nobody works by what is made here.
struct Unflushed(Folder);

impl Storage for Unflushed {
    fn list(&self) -> Result<Vec<String>, StorageError> {
        self.0.list()
    }
    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        self.0.read(name)
    }
    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        self.0.write(name, bytes)
    }
    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError> {
        self.0.append(name, bytes)
    }
    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError> {
        self.0.write_at(name, offset, bytes)
    }
    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError> {
        self.0.truncate(name, length)
    }
    fn flush(&mut self, _: &str) -> Result<(), StorageError> {
        Ok(())
    }
    fn flush_folder(&mut self) -> Result<(), StorageError> {
        Ok(())
    }
    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError> {
        self.0.rename(from, to)
    }
    fn remove(&mut self, name: &str) -> Result<(), StorageError> {
        self.0.remove(name)
    }
}

/// The seal's folder, in memory until all is made.
#[derive(Default)]
struct Held(BTreeMap<String, Vec<u8>>);

impl Storage for Held {
    fn list(&self) -> Result<Vec<String>, StorageError> {
        Ok(self.0.keys().cloned().collect())
    }
    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        Ok(self.0.get(name).cloned())
    }
    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        self.0.insert(name.to_owned(), bytes.to_vec());
        Ok(())
    }
    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError> {
        self.0.entry(name.to_owned()).or_default().extend_from_slice(bytes);
        Ok(bytes.len())
    }
    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError> {
        let file = self.0.entry(name.to_owned()).or_default();
        let at = usize::try_from(offset).unwrap_or(usize::MAX).min(file.len());
        file.truncate(at);
        file.extend_from_slice(bytes);
        Ok(())
    }
    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError> {
        let file = self.0.entry(name.to_owned()).or_default();
        file.truncate(usize::try_from(length).unwrap_or(usize::MAX));
        Ok(())
    }
    fn flush(&mut self, _: &str) -> Result<(), StorageError> {
        Ok(())
    }
    fn flush_folder(&mut self) -> Result<(), StorageError> {
        Ok(())
    }
    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError> {
        let file = self.0.remove(from).unwrap_or_default();
        self.0.insert(to.to_owned(), file);
        Ok(())
    }
    fn remove(&mut self, name: &str) -> Result<(), StorageError> {
        self.0.remove(name);
        Ok(())
    }
}

/// A step that is to be answered.
struct Due {
    step: String,
    item: Option<String>,
    timed: bool,
    derived: bool,
    before: bool,
}

struct Year {
    register: Unflushed,
    seal: Held,
    random: NotRandom,
    second: i64,
    day: u32,
    zone: TimeZone,
    loaded: Loaded,
    recalled: Recalled,
    number: String,
    job: Vec<(String, Raw)>,
    morning: Answers,
    evening: Answers,
    lines: u64,
}

/// Makes the register of so many days, so many permits on each; returns how many lines it has.
pub fn make(cast: &Cast, folder: &Path, days: u32, permits: u32) -> Result<u64, End> {
    let mut year = begun(cast, folder)?;
    for day in 0..days {
        year.day = day;
        if day > 0 && day % VOLUME == 0 {
            year.next_volume(cast)?;
        }
        year.second = year.second.max(year.morning_of(day));
        if day % TESTED == 0 {
            // Taken on a round of its own, the day before.
            let date = Moment::new(year.second - DAY, &year.zone).date().to_string();
            year.wait(40);
            let test = air_tested(&date, i64::from(day / TESTED));
            year.keep(|k| Ok(air::of_set(k, "air_test", test, &Told::default(), "maelle")))?;
        }
        for nth in 0..permits {
            year.permit(nth)?;
        }
    }
    let mut seal = Folder::make_private(&folder.join("seal"))?;
    for (name, bytes) in &year.seal.0 {
        seal.write(name, bytes)?;
        seal.flush(name)?;
    }
    Ok(year.lines)
}

fn answers(text: &str) -> Result<Answers, End> {
    serde_yaml::from_str(text).map_err(|e| could_not(format!("the demo's answers: {e}")))
}

fn begun(cast: &Cast, folder: &Path) -> Result<Year, End> {
    let mut register = Unflushed(Folder::make(&folder.join("register"))?);
    let mut seal = Held::default();
    let mut random = NotRandom(0);
    let mut second = seconds(BEGIN);
    let texts = [
        ("site", "kormoran", None, SITE),
        ("set", id_of(SET, "set"), None, SET),
        ("form", "pre-start", Some(1), PRE_START),
        ("form", "shutdown", Some(1), SHUTDOWN),
    ];
    let mut desk =
        Desk { register: &mut register, seal: &mut seal, random: &mut random, second, today: None };
    desk.enrol(&enrolment(cast, false), LOG, "tuula", &secret_key("tuula"))?;
    for (kind, id, revision, text) in texts {
        second += 40;
        desk.second = second;
        desk.approve("jiri", &secret_key("jiri"), kind, id, revision, text)?;
    }
    let loaded = desk.load()?;
    let read = crate::site::read_job("examples/job.yaml", JOB.as_bytes());
    let job = read.file.ok_or_else(|| could_not("the demo's job cannot be read"))?.values().to_raw();
    let mut year = Year {
        register,
        seal,
        random,
        second: second + 60,
        day: 0,
        zone: crate::actions::zone(&loaded.register.chain),
        lines: loaded.register.lines.len() as u64,
        recalled: Recalled::default(),
        number: String::new(),
        job,
        morning: answers(MORNING)?,
        evening: answers(EVENING)?,
        loaded,
    };
    year.loaded.register.lines.clear();
    year.wait(0);
    Ok(year)
}

fn enrolment(cast: &Cast, next_volume: bool) -> Enrolment<'_> {
    Enrolment { station: "KM3", roster: &cast.roster, signs: &cast.signs, next_volume, lost: None }
}

impl Year {
    /// The same hour at the site on every day: its people keep to its clock, summer and winter.
    fn morning_of(&self, day: u32) -> i64 {
        let even = seconds(BEGIN) + i64::from(day) * DAY;
        let offset = |second| crate::time::offset_seconds(&Moment::new(second, &self.zone).zone);
        even + offset(seconds(BEGIN)) - offset(even)
    }

    fn wait(&mut self, seconds: i64) {
        self.second += seconds;
        self.loaded.now = Moment::new(self.second, &self.zone);
    }

    fn texts(&self) -> Result<Rc<Texts>, End> {
        let known = self.known();
        Ok(known.texts(known.permit(&self.number)?)?)
    }

    fn known(&self) -> Known<'_> {
        Known { recall: Some(&self.recalled), ..self.loaded.known() }
    }

    /// Decides on what is known and keeps the line.
    fn keep(&mut self, decide: impl FnOnce(&Known<'_>) -> Result<Draft, Refusal>) -> Result<Line, End> {
        let draft = decide(&self.known())?;
        self.kept(&draft)
    }

    fn kept(&mut self, draft: &Draft) -> Result<Line, End> {
        let mut desk = Desk {
            register: &mut self.register,
            seal: &mut self.seal,
            random: &mut self.random,
            second: self.second,
            today: None,
        };
        let line = desk.keep(&mut self.loaded, draft)?;
        self.recalled.walked.borrow_mut().came(&self.known(), &line, Some(id_of(SET, "set")));
        // What they say is folded; by the end of a year they would not fit into memory.
        self.loaded.register.lines.clear();
        self.lines += 1;
        Ok(line)
    }

    /// The machine is another one: a next volume begins, on a seal of its own.
    fn next_volume(&mut self, cast: &Cast) -> Result<(), End> {
        for name in self.seal.list()? {
            self.seal.remove(&name)?;
        }
        let number = self.loaded.register.chain.origin.volume;
        let log = format!("{}{number:02x}", LOG.get(..30).unwrap_or_default());
        self.wait(60);
        let mut desk = Desk {
            register: &mut self.register,
            seal: &mut self.seal,
            random: &mut self.random,
            second: self.second,
            today: None,
        };
        desk.enrol(&enrolment(cast, true), &log, "tuula", &secret_key("tuula"))?;
        self.loaded = desk.load()?;
        self.lines = self.loaded.register.lines.len() as u64;
        self.loaded.register.lines.clear();
        self.recalled = Recalled::default();
        Ok(())
    }

    fn permit(&mut self, nth: u32) -> Result<(), End> {
        self.wait(60);
        let job = self.job.clone();
        let line = self.keep(|known| {
            open::open(
                known,
                &Opening {
                    form: "pre-start".into(),
                    set: id_of(SET, "set").to_owned(),
                    site: "kormoran".into(),
                    for_shutdown: false,
                    follows: None,
                    job,
                    by: "lukasz".into(),
                },
            )
        })?;
        self.number = line.permit.as_deref().unwrap_or_default().to_owned();
        self.carry()?;
        self.fill(false, false)?;
        self.sign(&Signing::Declare, "lukasz")?;
        let seen = self.seen()?;
        self.sign(&Signing::Countersign(Limits { seen, ..Limits::default() }), "eleni")?;
        self.told(
            "copy",
            vec![("hangs".into(), "at the manhole of tank 4 port".into()), ("number".into(), Json::Int(1))],
        )?;
        self.fill(false, true)?;
        for time in 0..2 {
            // What time ended is answered again first.
            self.fill(false, false)?;
            self.fill(false, true)?;
            // Off air long enough that it is a spell of its own.
            self.wait(11 * 60);
            self.gauges("207")?;
            self.all_in()?;
            for _ in 0..4 {
                self.wait(240);
                self.gauges("207")?;
            }
            if time == 1 && nth == 0 && self.day % 7 == 3 {
                self.alarm()?;
            } else {
                self.all_out()?;
            }
        }
        self.wait(120);
        self.fill(true, false)?;
        self.sign(&Signing::HandBack { left_running: None, reason: None }, "lukasz")?;
        self.sign(&Signing::Close, "eleni")
    }

    /// Cites what still holds from a permit before, as long as there is any.
    fn carry(&mut self) -> Result<(), End> {
        for _ in 0..4 {
            self.wait(PACE);
            let (texts, known) = (self.texts()?, self.known());
            match carry::carry(&known, known.permit(&self.number)?, &texts, None, "lukasz") {
                Ok(draft) => self.kept(&draft)?,
                Err(_) => break,
            };
        }
        Ok(())
    }

    /// What is to be answered now, in order; and whether the set is to be started or stopped before.
    fn due(&self, shutdown: bool, own: bool) -> Result<(Vec<Due>, Option<&'static str>), End> {
        let known = self.known();
        let permit = known.permit(&self.number)?;
        let texts = self.texts()?;
        let bench = answer::bench(&known, permit, &texts, shutdown)?;
        let stands = walk::walk(&bench);
        let running = answer::running(&known, &permit.set.id);
        let first = stands.iter().find(|s| !s.done());
        let change = match (shutdown, running) {
            (false, false) if walk::before_start(&stands).is_empty() => Some("started"),
            (true, true) if first.is_some_and(|s| s.stage.id() == walk::STOP) => Some("stopped"),
            (_, _) => None,
        };
        let due = |s: &&walk::Stand<'_>| !s.done() && s.of_wearer() == own;
        let one = |s: &walk::Stand<'_>| Due {
            step: s.step.id().to_owned(),
            item: s.item_id().map(str::to_owned),
            timed: matches!(s.step.kind(), StepKind::Timed(_)),
            derived: matches!(s.step.kind(), StepKind::Derived(_)),
            before: !s.answers.is_empty(),
        };
        Ok((stands.iter().filter(due).map(one).collect(), change))
    }

    /// Answers a form until nothing of it is left: what is everybody's, or each wearer's own.
    fn fill(&mut self, shutdown: bool, own: bool) -> Result<(), End> {
        for _ in 0..MOST {
            let (due, change) = self.due(shutdown, own)?;
            if let Some(kind) = change {
                self.wait(45);
                let set = id_of(SET, "set");
                self.keep(|k| air::request_of_set(k, kind, set, Vec::new(), "lukasz"))?;
                continue;
            }
            if due.is_empty() {
                return Ok(());
            }
            let mut refused = Vec::new();
            let mut went = false;
            for d in &due {
                match self.give(d, shutdown)? {
                    None => went = true,
                    Some(refusal) => refused.push(refusal),
                }
                if refused.len() > 2 {
                    break;
                }
            }
            if !went {
                return Err(refused.pop().map_or_else(|| could_not("nothing was answered"), End::from));
            }
        }
        Err(could_not("the demo's answers come to no end"))
    }

    /// One step; what it was refused for, if it was.
    fn give(&mut self, due: &Due, shutdown: bool) -> Result<Option<Refusal>, End> {
        if due.timed {
            let begun = self.say(due, Some("begun"), None, shutdown)?;
            return match begun {
                None => {
                    self.wait(15 * 60);
                    self.say(due, Some("done"), None, shutdown)
                }
                refused @ Some(_) => Ok(refused),
            };
        }
        let value = if due.derived { None } else { Some(self.value(due, shutdown)) };
        if due.step == "oil_level" && self.day % 5 == 2 && !due.before {
            let low = self.say(due, Some("low"), None, shutdown)?;
            self.wait(240);
            return match low {
                None => self.say(due, value.as_deref(), Some("refilled"), shutdown),
                refused @ Some(_) => Ok(refused),
            };
        }
        self.say(due, value.as_deref(), None, shutdown)
    }

    /// What is typed: as in the file of answers, but for days, which lie where they may on any day.
    fn value(&self, due: &Due, shutdown: bool) -> String {
        let today = || self.loaded.now.date().to_string();
        let days_ago = |n: i64| Moment::new(self.second - n * DAY, &self.zone).date().to_string();
        match due.step.as_str() {
            "air_test_basis" => return "carried".into(),
            "carried_test" => return "yes".into(),
            "reserve_filled" | "air_test_date" => return today(),
            "filter_opened" | "co_calibrated" | "fit_test" => return days_ago(20),
            _ => {}
        }
        let all = if shutdown { &self.evening } else { &self.morning };
        let of = |g: &&Given| g.step == due.step && g.item == due.item;
        all.answers.iter().rev().find(of).and_then(|g| g.value.clone()).unwrap_or_else(|| "yes".into())
    }

    fn say(
        &mut self,
        due: &Due,
        value: Option<&str>,
        again: Option<&str>,
        shutdown: bool,
    ) -> Result<Option<Refusal>, End> {
        self.wait(PACE);
        let (value, below) = crate::actions::below(value);
        let typed = Typed {
            step: due.step.clone(),
            item: due.item.clone(),
            value,
            below,
            again: again.map(str::to_owned),
            shutdown,
            by: "lukasz".into(),
            ..Typed::default()
        };
        let texts = self.texts()?;
        let decided = {
            let known = self.known();
            let bench = answer::bench(&known, known.permit(&self.number)?, &texts, shutdown)?;
            let before = || self.recalled.walked.borrow_mut().before(&bench, &texts, &due.step);
            answer::answer_among(&known, &bench, &typed, &before)
        };
        match decided {
            Ok(draft) => self.kept(&draft).map(|_| None),
            Err(refusal) => Ok(Some(refusal)),
        }
    }

    fn sign(&mut self, what: &Signing, by: &str) -> Result<(), End> {
        self.wait(120);
        let key = secret_key(by);
        let prepared = sign::prepare(&self.known(), &self.number, what, &Hand::here(by))?;
        let mut act = prepared.act;
        if let Some(claim) = &prepared.claim {
            act.data = act.data.with("token", token::make(claim, &key).map_err(could_not)?);
        }
        let permit = act.permit.clone().map(|number| (number, act.shown.clone()));
        let what = act.sign(&key).map_err(could_not)?;
        self.kept(&Draft { kind: act.kind, permit, by: None, what })?;
        Ok(())
    }

    /// The supervisor reads the gauges that are drawn: as the operator did.
    fn seen(&self) -> Result<Vec<Seen>, End> {
        let known = self.known();
        let permit = known.permit(&self.number)?;
        let read = |d: sign::Drawn| {
            let last = permit.last_answer(&permit.form.hash, &d.step, d.item.as_deref());
            let value = last.and_then(|a| a.value.clone()).unwrap_or_default().to_string();
            Seen { step: d.step, item: d.item, value, unit: d.unit }
        };
        Ok(sign::drawn(&known, permit, &*self.texts()?).into_iter().map(read).collect())
    }

    /// A line of the station on the permit.
    fn told(&mut self, kind: &'static str, members: Vec<(String, Json)>) -> Result<(), End> {
        let number = self.number.clone();
        self.keep(|known| Ok(known.line(known.permit(&number)?, kind, "oksana", sorted(members))))?;
        Ok(())
    }

    fn gauges(&mut self, reserve: &str) -> Result<(), End> {
        for (what, value, unit) in [("supply", "6", "bar"), ("reserve", reserve, "bar"), ("co", "1", "ppm")] {
            self.wait(20);
            let members = [("unit", unit), ("value", value), ("what", what)];
            self.told("reading", members.map(|(k, v)| (k.to_owned(), v.into())).to_vec())?;
        }
        Ok(())
    }

    fn moves(&mut self, person: &str, to: Move) -> Result<(), End> {
        self.wait(60);
        let number = self.number.clone();
        self.keep(|known| {
            let permit = known.permit(&number)?;
            match to {
                Move::OnAir | Move::In => air::request(known, permit, person, to, "oksana"),
                Move::Out | Move::OffAir => {
                    let (set, told) = (&permit.set.id, Told::default());
                    Ok(air::report(known, Some(permit), set, person, to, Vec::new(), &told, "oksana"))
                }
            }
        })?;
        Ok(())
    }

    fn all_in(&mut self) -> Result<(), End> {
        for person in PEOPLE {
            self.moves(person, Move::OnAir)?;
            self.moves(person, Move::In)?;
        }
        Ok(())
    }

    fn all_out(&mut self) -> Result<(), End> {
        for person in PEOPLE {
            self.moves(person, Move::Out)?;
            self.moves(person, Move::OffAir)?;
        }
        Ok(())
    }

    /// The supply fails: everyone out on the reserve, which is filled again; what that ended is answered again.
    fn alarm(&mut self) -> Result<(), End> {
        let words = "change-over, horn sounded";
        self.told("call_out", vec![("words".into(), words.into())])?;
        self.wait(20);
        self.told("event", vec![("what".into(), "change_over".into()), ("words".into(), words.into())])?;
        self.all_out()?;
        self.wait(25 * 60);
        let members =
            [("from", "other_tested"), ("machine", "filling bank FB-2"), ("set", id_of(SET, "set"))];
        let members = members.map(|(k, v)| (k.to_owned(), v.into())).to_vec();
        self.keep(|k| Ok(air::of_set(k, "filled", members, &Told::default(), "lukasz")))?;
        self.fill(false, false)?;
        self.fill(false, true)?;
        self.wait(90);
        let number = self.number.clone();
        self.keep(|known| {
            let permit = known.permit(&number)?;
            let found = crew::everyone(known, Some(permit), None);
            let found = Json::Arr(found.iter().map(|p| Json::from(p.as_str())).collect());
            Ok(known.line(permit, "roll_call", "oksana", object([("found", found)])))
        })?;
        self.gauges("216")?;
        let cause = "the drain of the separator had stuck open; shut by hand and tagged";
        self.sign(&Signing::Reinstate { cause: cause.into() }, "eleni")
    }
}
