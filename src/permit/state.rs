//! The fold: what the lines of a register say of its permits, sets and the people on air.
//!
//! Always: only lines that the chain accepted come here; a line that the lifecycle does not allow is
//! refused with the rule `state` and leaves the state as it was. What follows from a line (suspended,
//! back to draft, lapsed) is worked out here, never written. Here: lines of permits and sets. In `state/`:
//! what there is to know (`parts`), rules that the table of states does not hold (`rules`), lines that
//! concern the whole history (`history`), where a look back begins (`marks`), what is kept where only a verdict is wanted
//! (`past`), what is at hand of it for the next line (`at_hand`), what weeks of readings come to (`watched`).

mod at_hand;
mod carry;
mod fixed;
mod halves;
mod history;
mod marks;
mod parts;
mod past;
mod permits;
mod rules;
#[cfg(test)]
mod tests;
mod watched;

use marks::Marks;
pub use parts::*;
use past::{Past, does_not_stand, may_stand};
pub use permits::Permits;
pub use rules::MayNot;

use crate::record::chain::RULES;
use crate::record::json::{Json, SmolStr};
use crate::record::line::{Act, Broken, Line, broken};
use crate::time::{local, seconds};
use crate::tongue::say;
use crate::view::{LineNo, StateWord};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Everything folded.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct State {
    /// By number.
    pub permits: Permits,
    /// By set.
    pub sets: BTreeMap<String, SetState>,
    /// Everyone on air.
    pub on_air: Vec<OnAir>,
    /// Spells on air that ended, by person: from and to, UTC, oldest first.
    pub spells: BTreeMap<String, Vec<(SmolStr, SmolStr)>>,
    /// Only one permit is opened here (an excerpt): what is said of another one cannot be held against it.
    pub of_one: bool,
    /// A volume before the first one here is missing: permits may have been opened in it.
    pub missing: bool,
    /// Answers of other permits that an excerpt of one holds, because its own lines carry them.
    beside: BTreeMap<String, (String, Answer)>,
    /// Since a time the lines jumped by more than a day with nothing but reports after it, which are never asked what
    /// day it is: that time, UTC.
    pub day_unsure: Option<String>,
    /// Time of the last line taken in.
    time: String,
    /// Lines taken in.
    count: u64,
    /// Volume at hand, from 1; 0 before any line.
    volume: u32,
    /// Their logs.
    logs: Vec<String>,
    /// Where a look back begins.
    #[serde(skip)]
    marks: Marks,
    /// Only the verdict is wanted: what is kept of permits that are over.
    #[serde(skip)]
    past: Option<Box<Past>>,
}

/// Farthest that the clock may be ahead of the last line without anybody being asked what day it is. Seconds.
pub const AHEAD: i64 = 86_400;
/// Kinds of line beside signed acts that are only written where that was asked, if it had to be.
const ASKED_THE_DAY: &[&str] = &["open", "answer", "carried", "job", "denied", "witness", "roster"];

fn stamp(line: &Line, (seq, volume): (u64, u32)) -> Stamp {
    Stamp {
        seq,
        line: LineNo { volume, line: line.seq },
        hash: line.hash.clone(),
        time: line.time.clone(),
        zone: line.zone.clone(),
        by: match (&line.act, &line.by) {
            (Some(act), _) => act.by.as_str().into(),
            (None, by) => by.clone().unwrap_or_default(),
        },
    }
}

fn signed(line: &Line, act: &Act, stamp: &Stamp) -> Signed {
    Signed {
        kind: line.kind.name,
        stamp: stamp.clone(),
        time: act.time.clone(),
        role: act.role.word(),
        key: act.key.clone(),
        said: line.data.text("said").unwrap_or_default().to_owned(),
        data: line.data.clone(),
    }
}

fn answer_of(line: &Line, stamp: Stamp) -> Answer {
    let data = &line.data;
    Answer {
        stamp,
        form: small(data, "form").unwrap_or_default(),
        step: small(data, "step").unwrap_or_default(),
        item: small(data, "item"),
        value: small(data, "value"),
        unit: small(data, "unit"),
        below: data.has("below"),
        left_out: text(data, "left_out"),
        again: text(data, "again"),
        words: text(data, "words"),
        at: text(data, "at"),
        told_by: text(data, "told_by"),
        deviation: None,
        carry: None,
    }
}

fn small(data: &Json, name: &str) -> Option<SmolStr> {
    match data.get(name) {
        Some(Json::Str(s)) => Some(s.clone()),
        Some(Json::Obj(_) | Json::Arr(_) | Json::Int(_) | Json::Bool(_)) | None => None,
    }
}

fn text(data: &Json, name: &str) -> Option<String> {
    data.text(name).map(str::to_owned)
}

fn cited(data: &Json, name: &str) -> Cited {
    let get = |m: &str| data.get(name).and_then(|c| c.text(m)).unwrap_or_default().to_owned();
    Cited { id: get("id"), hash: get("hash") }
}

impl State {
    /// The state of a permit at a time: as its lines say, or lapsed.
    pub fn life(&self, permit: &Permit, time: &str) -> StateWord {
        let over = permit.valid_to.as_deref().is_some_and(|v| v < time);
        let live = matches!(permit.life, StateWord::Live | StateWord::Suspended);
        if live && over && !permit.shutdown_begun && self.tally_of_permit(&permit.number) == 0 {
            StateWord::Lapsed
        } else {
            permit.life
        }
    }

    /// People on air on a permit.
    pub fn tally_of_permit(&self, number: &str) -> usize {
        self.on_air.iter().filter(|p| p.permit.as_deref() == Some(number)).count()
    }

    /// People on air on a set, over all permits and none.
    pub fn tally_of_set(&self, set: &str) -> usize {
        self.on_air.iter().filter(|p| p.set == set).count()
    }

    /// Takes in the next line.
    pub fn take(&mut self, line: &Line) -> Result<(), Broken> {
        match line.kind.name {
            "open" => self.take_open(line)?,
            "enrol" => self.take_volume(line),
            "clock" => self.set_clock(line),
            "recovery" => self.take_entered(line)?,
            "set" | "site" | "form" => {}
            _ => match &line.permit {
                Some(number) if self.missing && !self.knows(number) => self.take_unknown(line),
                Some(number) => self.take_permit_line(&number.clone(), line)?,
                None => self.take_set_line(line),
            },
        }
        let asked = line.act.is_some() || ASKED_THE_DAY.contains(&line.kind.name);
        if asked {
            self.day_unsure = None;
        } else if self.day_unsure.is_none()
            && self.count > 0
            && seconds(&line.time) - seconds(&self.time) > AHEAD
        {
            self.day_unsure = Some(self.time.clone());
        }
        self.count += 1;
        line.time.as_str().clone_into(&mut self.time);
        if !self.keeps_all() {
            self.settle(line);
        } else {
            self.mark();
        }
        Ok(())
    }

    /// So many lines were taken in.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Where a line at hand stands that was not taken in.
    pub fn at(&self, line: &Line) -> LineNo {
        LineNo { volume: self.volume, line: line.seq }
    }

    /// Place in the history and volume of the line at hand.
    fn place(&self) -> (u64, u32) {
        (self.count, self.volume)
    }

    fn take_open(&mut self, line: &Line) -> Result<(), Broken> {
        let Some(number) = line.permit.clone() else {
            return broken("state", say!("`open` without a permit number"));
        };
        let data = &line.data;
        let stamp = stamp(line, self.place());
        let job = data.get("job").cloned().unwrap_or(Json::Bool(false));
        let permit = Permit {
            number: number.to_string(),
            for_shutdown: data.text("for") == Some("shutdown"),
            form: cited(data, "form"),
            set: cited(data, "set"),
            site: cited(data, "site"),
            rules: data.int("rules").unwrap_or_default(),
            job: job.clone(),
            jobs: vec![(stamp.clone(), job)],
            life: StateWord::Draft,
            since: stamp.clone(),
            opened: stamp,
            answers: Vec::new(),
            signed: Vec::new(),
            valid_to: None,
            day: Vec::new(),
            shutdown_begun: false,
            shutdown_form: None,
            called_out: false,
            been_on_air: BTreeSet::new(),
            follows: text(data, "follows"),
            pending: None,
            extended: Vec::new(),
            shifts: Vec::new(),
        };
        self.check_open(&permit)?;
        self.permits.insert(number, permit);
        Ok(())
    }

    fn check_permit_line(&self, number: &str, line: &Line) -> Result<&Permit, Broken> {
        let Some(permit) = self.permits.get(number) else {
            return broken("state", say!("{permit} was never opened", permit = number));
        };
        let life = self.life(permit, &line.time);
        // Under rules that are not known here nobody can say what a line may do to its permit; what
        // the lines do to the set (suspended, on air) is taken as under the rules known, to be safe.
        if permit.rules == RULES {
            if !may_stand(line, life) {
                return does_not_stand(line, life);
            }
            self.check_rules(permit, life, line)?;
        }
        Ok(permit)
    }

    fn take_permit_line(&mut self, number: &str, line: &Line) -> Result<(), Broken> {
        let set = match self.check_settled(number, line) {
            Some(set) => set?,
            None => {
                let permit = self.check_permit_line(number, line)?;
                let set = permit.set.id.clone();
                // Once lapsed it stays so, also when somebody is reported on air under it afterwards.
                if permit.rules == RULES && self.life(permit, &line.time) == StateWord::Lapsed {
                    self.with(number, |p| p.life = StateWord::Lapsed);
                }
                set
            }
        };
        let stamp = stamp(line, self.place());
        if let Some(act) = &line.act {
            let signed = signed(line, act, &stamp);
            self.with(number, |p| p.signed.push(signed));
        } else if line.kind.name != "answer" && self.keeps_all() {
            let happened = Happened { stamp: stamp.clone(), kind: line.kind.name, data: line.data.clone() };
            self.note_reading(&set, &happened);
            self.with(number, |p| p.day.push(happened));
        }
        match line.kind.name {
            "answer" => self.take_answer(number, &set, line, stamp),
            "carried" => self.take_carried(number, line, &stamp),
            "job" => {
                let job = line.data.get("job").cloned().unwrap_or(Json::Bool(false));
                self.with(number, |p| {
                    p.job = job.clone();
                    p.jobs.push((stamp.clone(), job));
                });
                self.change(number, &stamp, StateWord::Draft);
            }
            "declare" => self.change(number, &stamp, StateWord::Declared),
            "countersign" => {
                self.sets.entry(set.clone()).or_default().feeding = None;
                let valid_to = text(&line.data, "valid_to");
                self.with(number, |p| {
                    p.valid_to = valid_to;
                    p.pending = None;
                    p.called_out = false;
                    // A shutdown begun on the draft was given up: its time runs like that of any other.
                    p.shutdown_begun = false;
                    p.shutdown_form = None;
                });
                self.change(number, &stamp, StateWord::Live);
            }
            "reinstate" => {
                self.sets.entry(set.clone()).or_default().feeding = None;
                self.with(number, |p| {
                    p.called_out = false;
                    p.shutdown_begun = false;
                    p.shutdown_form = None;
                });
                self.change(number, &stamp, StateWord::Live);
            }
            "extend" | "hand_over" => self.take_half(number, line, &stamp),
            "witness" => self.witness(&set, line, &stamp),
            "relieve" => self.relieve(number, line),
            "roll_call" => self.roll_call(&set, line, &stamp),
            "refuse" => self.change(number, &stamp, StateWord::Refused),
            "hand_back" => self.change(number, &stamp, StateWord::HandedBack),
            "close" => self.change(number, &stamp, StateWord::Closed),
            "cancel" => self.change(number, &stamp, StateWord::Cancelled),
            "suspend" => self.hold_back(number, &stamp),
            "event" => {
                self.note_event(&set, line, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "call_out" => {
                self.call_out(&set, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "on_air" | "in" | "out" | "off_air" => self.take_tally(&set, Some(number), line, stamp),
            _ => {}
        }
        Ok(())
    }

    fn with(&mut self, number: &str, change: impl FnOnce(&mut Permit)) {
        self.permits.change(number, change);
    }

    fn change(&mut self, number: &str, stamp: &Stamp, to: StateWord) {
        self.change_settled(number, to);
        self.with(number, |p| {
            if p.life != to {
                p.life = to;
                p.since = stamp.clone();
                p.pending = None;
            }
        });
    }

    /// Live becomes suspended; what was declared must be declared again.
    fn hold_back(&mut self, number: &str, stamp: &Stamp) {
        let to = match self.permits.get(number).map(|p| p.life) {
            Some(StateWord::Live) => StateWord::Suspended,
            Some(StateWord::Declared) => StateWord::Draft,
            Some(_) | None => return,
        };
        self.change(number, stamp, to);
    }

    fn hold_back_set(&mut self, set: &str, stamp: &Stamp) {
        for number in self.permits.open_where(|p| p.set.id == set) {
            self.hold_back(&number, stamp);
        }
    }

    fn call_out(&mut self, set: &str, stamp: &Stamp) {
        let concerned = |p: &Permit| {
            !p.called_out
                && p.set.id == set
                && matches!(p.life, StateWord::Live | StateWord::Suspended | StateWord::Lapsed)
        };
        for number in self.permits.open_where(concerned) {
            self.with(&number, |p| p.called_out = true);
        }
        self.sets.entry(set.to_owned()).or_default().roll_void = Some(stamp.clone());
    }

    fn note_event(&mut self, set: &str, line: &Line, stamp: &Stamp) {
        let Some(what) = line.data.text("what") else { return };
        let s = self.sets.entry(set.to_owned()).or_default();
        s.events.insert(what.to_owned(), stamp.clone());
        if what == "drill" && self.keeps_all() {
            self.begin_drill(set, line, stamp);
        }
        let s = self.sets.entry(set.to_owned()).or_default();
        // At the last three the reserve is changed to by hand, or may be.
        if matches!(what, "change_over" | "supply_low" | "reserve_low" | "co" | "temperature" | "oil") {
            s.reserve_used = Some(stamp.clone());
            self.reserve_feeds(set, line, stamp);
        }
        self.sets.entry(set.to_owned()).or_default().roll_void = Some(stamp.clone());
    }

    /// People may breathe the reserve from now on, or did already: the earliest time counts.
    fn reserve_feeds(&mut self, set: &str, line: &Line, stamp: &Stamp) {
        if !self.keeps_all() {
            return;
        }
        let from = line.data.text("at").unwrap_or(&stamp.time).min(stamp.time.as_str()).to_owned();
        let on = self.on_air.iter().filter(|p| p.set == set).map(|p| (p.clone(), None)).collect();
        let s = self.sets.entry(set.to_owned()).or_default();
        match &mut s.feeding {
            Some(feeding) => feeding.from = from.min(std::mem::take(&mut feeding.from)),
            None => s.feeding = Some(Feeding { from, on }),
        }
    }

    /// Everyone was found; or somebody is missing, and nobody goes in but to find them.
    fn roll_call(&mut self, set: &str, line: &Line, stamp: &Stamp) {
        if line.data.texts("missing").is_empty() {
            let s = self.sets.entry(set.to_owned()).or_default();
            s.rolled = Some(stamp.clone());
            // Called at another time than now, it says nothing of now.
            let late = line.data.text("at").is_some_and(|at| seconds(&stamp.time) - seconds(at) > 300);
            if late {
                s.roll_void = Some(stamp.clone());
            }
        } else {
            self.sets.entry(set.to_owned()).or_default().roll_void = Some(stamp.clone());
            self.hold_back_set(set, stamp);
        }
    }

    /// Somebody else stands there now; what the job says otherwise stays as it was issued.
    fn relieve(&mut self, number: &str, line: &Line) {
        if let (Some(role), Some(to)) = (line.data.text("role"), line.data.text("to")) {
            self.with(number, |p| p.job = p.job.clone().with(role, to));
        }
    }

    fn take_answer(&mut self, number: &str, set: &str, line: &Line, stamp: Stamp) {
        let data = &line.data;
        let form = data.text("form").unwrap_or_default().to_owned();
        if let Some(deviation) = data.get("deviation") {
            let (step, item) = (data.text("step").unwrap_or_default(), data.text("item"));
            let deviation = Deviation {
                stamp: stamp.clone(),
                reason: text(deviation, "reason").unwrap_or_default(),
                instead: text(deviation, "instead").unwrap_or_default(),
            };
            self.with(number, |p| {
                let of = |a: &&mut Answer| a.step == step && a.item.as_deref() == item && a.form == form;
                if let Some(a) = p.answers.iter_mut().rev().find(of) {
                    a.deviation = Some(Box::new(deviation));
                }
            });
            if self.permits.get(number).is_some_and(|p| p.life == StateWord::Declared) {
                self.change(number, &stamp, StateWord::Draft);
            }
            return;
        }
        let mut answer = answer_of(line, stamp.clone());
        let mut shutdown = false;
        self.with(number, |p| {
            // One text for all of them.
            let same = p.answers.last().filter(|last| last.form == answer.form).map(|last| last.form.clone());
            answer.form = same.unwrap_or_else(|| SmolStr::new(&form));
            shutdown = p.for_shutdown || form != p.form.hash;
            p.answers.push(answer);
            if shutdown {
                p.shutdown_begun = true;
                p.shutdown_form = Some(form);
            }
        });
        if shutdown {
            self.sets.entry(set.to_owned()).or_default().shut_down = Some(stamp.clone());
            self.hold_back_set(set, &stamp);
        } else if self.permits.get(number).is_some_and(|p| p.life == StateWord::Declared) {
            self.change(number, &stamp, StateWord::Draft);
        }
    }

    fn take_tally(&mut self, set: &str, permit: Option<&str>, line: &Line, stamp: Stamp) {
        let person = line.data.text("person").unwrap_or_default();
        let at = self.on_air.iter().position(|p| p.set == set && p.person == person);
        let to = match line.kind.name {
            "on_air" => Whereabouts::Outside,
            "in" => Whereabouts::In,
            "out" => Whereabouts::OutOnAir,
            _ => {
                // Told for a time before they went on air: that was another time, and they stay on it.
                let before = |p: &OnAir| line.data.text("at").is_some_and(|told| told < p.went_on.as_str());
                if let Some(i) = at
                    && !self.on_air.get(i).is_some_and(before)
                {
                    let gone = self.on_air.remove(i);
                    if !self.keeps_all() {
                        return;
                    }
                    // Told late or not, they were off no earlier than somebody could say so.
                    let spell = (gone.since.time.clone(), stamp.time.clone());
                    self.spells.entry(person.to_owned()).or_default().push(spell);
                    let off = line.data.text("at").unwrap_or(&stamp.time).to_owned();
                    if let Some(f) = self.sets.get_mut(set).and_then(|s| s.feeding.as_mut()) {
                        f.on.retain(|(p, off)| p.person != gone.person || off.is_some());
                        f.on.push((gone, Some(off)));
                    }
                    self.off_in_drill(set, person, line.data.text("at").unwrap_or(&stamp.time));
                }
                return;
            }
        };
        let when = line.data.text("at").unwrap_or(&stamp.time).to_owned();
        self.sets.entry(set.to_owned()).or_default().breathed = Some(stamp.clone());
        if let Some(number) = permit {
            self.with(number, |p| {
                p.been_on_air.insert(person.to_owned());
            });
        }
        let outlet = text(&line.data, "outlet");
        match at.and_then(|i| self.on_air.get_mut(i)) {
            Some(p) => {
                if to != Whereabouts::OutOnAir {
                    p.went_on = when.max(std::mem::take(&mut p.went_on));
                    p.whereabouts = to;
                } else if when >= p.went_on || !line.data.has("at") {
                    p.whereabouts = to;
                }
                p.permit = permit.map(str::to_owned).or_else(|| p.permit.take());
                p.outlet = outlet.or_else(|| p.outlet.take());
            }
            None => self.on_air.push(OnAir {
                person: person.to_owned(),
                set: set.to_owned(),
                permit: permit.map(str::to_owned),
                outlet,
                whereabouts: to,
                since: stamp,
                went_on: when,
            }),
        }
    }

    fn take_set_line(&mut self, line: &Line) {
        let Some(set) = text(&line.data, "set") else { return };
        let stamp = stamp(line, self.place());
        let happened = Happened { stamp: stamp.clone(), kind: line.kind.name, data: line.data.clone() };
        let all = self.keeps_all();
        match line.kind.name {
            "released" => self.sets.entry(set.clone()).or_default().released = Some(stamp.clone()),
            "taken" => {
                let s = self.sets.entry(set.clone()).or_default();
                s.released = None;
                s.taken = Some(stamp.clone());
            }
            "witness" => self.witness(&set, line, &stamp),
            "moved" | "plugged" | "started" | "stopped" | "filled" | "serviced" | "air_test" => {
                let s = self.sets.entry(set.clone()).or_default();
                if let Some(what) = line.data.text("what") {
                    s.serviced.insert(what.to_owned(), stamp.clone());
                }
                if line.kind.name == "started" && s.running() {
                    s.stop_untold = Some(stamp.clone());
                }
                if line.kind.name == "filled" {
                    s.feeding = None;
                }
                if line.kind.name == "air_test" && !all {
                    // No later line is judged by it.
                } else if line.kind.name == "air_test" {
                    let today = happened.day() == local(&stamp.time, &stamp.zone).date();
                    let at = line.data.text("at").unwrap_or(&stamp.time);
                    let start = s.last.get("started").map(|h| h.stamp.hash.clone());
                    match start.filter(|_| s.ran_at(at)) {
                        Some(start) => s.ran.extend([(stamp.hash.clone(), start)]),
                        None if today && !line.data.has("witness") => {
                            s.stood_still.insert(stamp.hash.clone());
                        }
                        None => {}
                    }
                    s.tested(happened.clone());
                } else {
                    s.last.insert(line.kind.name, happened.clone());
                }
                if line.kind.name == "stopped" && self.tally_of_set(&set) > 0 {
                    self.sets.entry(set.clone()).or_default().reserve_used = Some(stamp.clone());
                    self.reserve_feeds(&set, line, &stamp);
                }
                if matches!(line.kind.name, "moved" | "plugged" | "stopped") {
                    self.hold_back_set(&set, &stamp);
                }
            }
            "event" => {
                self.note_event(&set, line, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "suspend" => self.hold_back_set(&set, &stamp),
            "roll_call" => self.roll_call(&set, line, &stamp),
            "call_out" => {
                self.call_out(&set, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "on_air" | "in" | "out" | "off_air" => self.take_tally(&set, None, line, stamp),
            _ => {}
        }
        if !all {
            return;
        }
        // What bears on a set bears on the day of its permits that have not ended, or ended by time alone.
        for number in self.permits.open_where(|p| p.set.id == set) {
            self.with(&number, |p| p.day.push(happened.clone()));
        }
        self.note_reading(&set, &happened);
    }

    fn note_reading(&mut self, set: &str, happened: &Happened) {
        if let Some(s) = self.sets.get_mut(set) {
            s.watched.note(happened, s.watched_since());
        }
    }
}

/// Folds all lines; the first that the lifecycle does not allow stops it.
pub fn fold(lines: &[Line]) -> Result<State, (LineNo, Broken)> {
    let mut state = State::default();
    for line in lines {
        let taken = state.take(line);
        taken.map_err(|b| (state.at(line), b))?;
    }
    Ok(state)
}
