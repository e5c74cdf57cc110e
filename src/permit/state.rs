//! The fold: what the lines of a register say of its permits, sets and the people on air.
//!
//! Always: only lines that the chain accepted come here; a line that the lifecycle does not allow is
//! refused with the rule `state` and leaves the state as it was. What follows from a line (suspended,
//! back to draft, lapsed) is worked out here, never written.

use crate::record::aside::{Entry, entered};
use crate::record::chain::RULES;
use crate::record::json::Json;
use crate::record::line::{Broken, Line, broken};
use crate::view::{LineNo, StateWord};
use std::collections::{BTreeMap, BTreeSet};

/// Line, time and offset of something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Place in the history, over all volumes, from 0: what came later has the higher one.
    pub seq: u64,
    /// Volume and line.
    pub line: LineNo,
    /// H of the line.
    pub hash: String,
    /// UTC.
    pub time: String,
    /// Offset of the site.
    pub zone: String,
    /// Who entered it, as the station says, or who signed.
    pub by: String,
}

/// A text cited by its hash.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cited {
    /// Id.
    pub id: String,
    /// SHA-256 of the text.
    pub hash: String,
}

/// An answer as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Where it stands.
    pub stamp: Stamp,
    /// SHA-256 of the form it answers.
    pub form: String,
    /// Step.
    pub step: String,
    /// Item of `each`.
    pub item: Option<String>,
    /// The value as text; `None` if the item was left out.
    pub value: Option<String>,
    /// Unit of a reading.
    pub unit: Option<String>,
    /// The reading was below the instrument's lowest mark, `value`.
    pub below: bool,
    /// Reason for leaving the item out.
    pub left_out: Option<String>,
    /// What was done before answering again.
    pub again: Option<String>,
    /// Words beside it.
    pub words: Option<String>,
    /// When it really happened, if told later.
    pub at: Option<String>,
    /// It was left as a deviation, for a supervisor to accept.
    pub deviation: Option<Deviation>,
}

impl Answer {
    /// How an act names it: `step` or `step/item`.
    pub fn key(&self) -> String {
        key(&self.step, self.item.as_deref())
    }
}

/// `step`, or `step/item`.
pub fn key(step: &str, item: Option<&str>) -> String {
    item.map_or_else(|| step.to_owned(), |i| format!("{step}/{i}"))
}

/// A held answer that the operator leaves as it is: the limit is not met, something else is done instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deviation {
    /// Where it stands.
    pub stamp: Stamp,
    /// Why.
    pub reason: String,
    /// What is done instead.
    pub instead: String,
}

/// A signature on a permit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signed {
    /// Kind of line.
    pub kind: &'static str,
    /// Where; `by` is the signer.
    pub stamp: Stamp,
    /// When, by the signer's clock, UTC; the stamp has when the station took it in.
    pub time: String,
    /// Role.
    pub role: &'static str,
    /// Key.
    pub key: String,
    /// The words signed.
    pub said: String,
    /// The act's data.
    pub data: Json,
}

/// Something of the day, for the record of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Happened {
    /// Where.
    pub stamp: Stamp,
    /// Kind of line.
    pub kind: &'static str,
    /// Its data.
    pub data: Json,
}

/// Where somebody on the tally is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whereabouts {
    /// Connected, on air, outside.
    Outside,
    /// In.
    In,
    /// Out, still on air.
    OutOnAir,
}

impl Whereabouts {
    /// For people.
    pub const fn words(self) -> &'static str {
        match self {
            Whereabouts::Outside => "on air outside",
            Whereabouts::In => "in",
            Whereabouts::OutOnAir => "out, still on air",
        }
    }
}

/// Somebody on air.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OnAir {
    /// Person id or name as told.
    pub person: String,
    /// Set.
    pub set: String,
    /// Permit, if on one.
    pub permit: Option<String>,
    /// Outlet, if told.
    pub outlet: Option<String>,
    /// Where.
    pub whereabouts: Whereabouts,
    /// Since when on air.
    pub since: Stamp,
}

/// A permit as its lines make it.
#[derive(Clone, Debug)]
pub struct Permit {
    /// Number.
    pub number: String,
    /// For work, or for a shutdown only.
    pub for_shutdown: bool,
    /// The form it was opened on.
    pub form: Cited,
    /// Set.
    pub set: Cited,
    /// Site.
    pub site: Cited,
    /// Rules it was opened under.
    pub rules: u64,
    /// The job as it stands.
    pub job: Json,
    /// Every job it had, with the line that brought it; the last is the one that stands.
    pub jobs: Vec<(Stamp, Json)>,
    /// State without lapsing that no line of the permit has met yet; see [`State::life`].
    pub life: StateWord,
    /// When and why it came into this state.
    pub since: Stamp,
    /// Its first line.
    pub opened: Stamp,
    /// Every answer.
    pub answers: Vec<Answer>,
    /// Signatures in order.
    pub signed: Vec<Signed>,
    /// Valid to, UTC, once countersigned.
    pub valid_to: Option<String>,
    /// The day: everything that is neither answer nor signature.
    pub day: Vec<Happened>,
    /// An answer of a shutdown form has been given.
    pub shutdown_begun: bool,
    /// SHA-256 of the shutdown form answered.
    pub shutdown_form: Option<String>,
    /// Everyone was called out since the permit went live.
    pub called_out: bool,
    /// Persons who have been on air on it.
    pub been_on_air: BTreeSet<String>,
}

impl Permit {
    /// The last signature of a kind.
    pub fn last_signed(&self, kind: &str) -> Option<&Signed> {
        self.signed.iter().rev().find(|s| s.kind == kind)
    }

    /// The last answer of a step of a form for an item.
    pub fn last_answer(&self, form: &str, step: &str, item: Option<&str>) -> Option<&Answer> {
        let of = |a: &&Answer| a.form == form && a.step == step && a.item.as_deref() == item;
        self.answers.iter().rev().find(of)
    }

    /// Deviations left: last answers to its own form that the operator left as they are.
    pub fn deviations(&self) -> Vec<&Answer> {
        let last = |a: &&Answer| {
            let newest = self.last_answer(&a.form, &a.step, a.item.as_deref());
            newest.is_some_and(|n| n.stamp.seq == a.stamp.seq)
        };
        let own = self.answers.iter().filter(|a| a.form == self.form.hash);
        let mut all: Vec<&Answer> = own.filter(|a| a.deviation.is_some()).filter(last).collect();
        all.sort_by_key(|a| a.key());
        all
    }

    /// Whether the last countersignature accepts this deviation, and not one left before it was answered again.
    pub fn accepted(&self, answer: &Answer) -> bool {
        let Some(deviation) = &answer.deviation else { return false };
        self.last_signed("countersign").is_some_and(|s| {
            s.stamp.seq > deviation.stamp.seq && s.data.texts("deviations").contains(&answer.key().as_str())
        })
    }
}

/// What the lines say of a set apart from permits.
#[derive(Clone, Debug, Default)]
pub struct SetState {
    /// The latest line of each kind: `moved`, `plugged`, `started`, `stopped`, `filled`, `serviced`, `air_test`.
    pub last: BTreeMap<&'static str, Happened>,
    /// The latest `serviced` per what was serviced.
    pub serviced: BTreeMap<String, Stamp>,
    /// The latest event that may have used the reserve: change-over, supply or reserve low.
    pub reserve_used: Option<Stamp>,
    /// The latest event of each kind.
    pub events: BTreeMap<String, Stamp>,
    /// The latest answer to a shutdown form on any of its permits: valves may be shut, hoses off.
    pub shut_down: Option<Stamp>,
    /// The latest line that puts or shows somebody on air.
    pub breathed: Option<Stamp>,
    /// The latest start while it was said to run: it had stopped, and nobody reported that.
    pub stop_untold: Option<Stamp>,
}

impl SetState {
    /// Whether the last start was not followed by a stop.
    pub fn running(&self) -> bool {
        let seq = |kind: &str| self.last.get(kind).map(|h| h.stamp.seq);
        match (seq("started"), seq("stopped")) {
            (Some(started), Some(stopped)) => started > stopped,
            (started, None) => started.is_some(),
            (None, Some(_)) => false,
        }
    }
}

/// Everything folded.
#[derive(Clone, Debug, Default)]
pub struct State {
    /// By number.
    pub permits: BTreeMap<String, Permit>,
    /// By set.
    pub sets: BTreeMap<String, SetState>,
    /// Everyone on air.
    pub on_air: Vec<OnAir>,
    /// Only one permit is opened here (an excerpt): what is said of another one cannot be held against it.
    pub of_one: bool,
    /// A volume before the first one here is missing: permits may have been opened in it.
    pub missing: bool,
    /// Time of the last line taken in.
    time: String,
    /// Lines taken in.
    count: u64,
    /// Volume at hand, from 1; 0 before any line.
    volume: u32,
    /// Their logs.
    logs: Vec<String>,
}

fn stamp(line: &Line, (seq, volume): (u64, u32)) -> Stamp {
    Stamp {
        seq,
        line: LineNo { volume, line: line.seq },
        hash: line.hash.clone(),
        time: line.time.clone(),
        zone: line.zone.clone(),
        by: line.act.as_ref().map(|a| a.by.clone()).or_else(|| line.by.clone()).unwrap_or_default(),
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
                Some(number) if self.missing && !self.permits.contains_key(number) => self.take_unknown(line),
                Some(number) => self.take_permit_line(&number.clone(), line)?,
                None => self.take_set_line(line),
            },
        }
        self.count += 1;
        self.time.clone_from(&line.time);
        Ok(())
    }

    /// Reports that were written aside: each does what a line of its kind does.
    fn take_entered(&mut self, line: &Line) -> Result<(), Broken> {
        for entry in entered(&line.data) {
            self.take_entry(line, &entry)?;
        }
        Ok(())
    }

    /// One such report, told by a line, or still written aside after it.
    pub fn take_entry(&mut self, line: &Line, entry: &Entry) -> Result<(), Broken> {
        let Some(kind) = crate::record::kinds::kind(&entry.kind) else { return Ok(()) };
        let at = entry.data.text("at").unwrap_or(&entry.at).to_owned();
        let data = entry.data.clone();
        let data = if data.has("at") { data } else { data.with("at", at.as_str()) };
        let report = line.reporting(kind, data, entry.by.clone(), entry.permit.clone());
        match &report.permit {
            Some(number) if self.permits.contains_key(number) => {
                self.take_permit_line(&number.clone(), &report)?;
            }
            Some(_) if self.of_one => self.take_beside(&report),
            Some(_) => self.take_unknown(&report),
            None => self.take_set_line(&report),
        }
        Ok(())
    }

    /// The clock is set back: what had lapsed by the wrong one stays so, what was live is suspended.
    fn set_clock(&mut self, line: &Line) {
        let stamp = stamp(line, self.place());
        let lapsed: Vec<String> = self
            .permits
            .values()
            .filter(|p| self.life(p, &self.time) == StateWord::Lapsed)
            .map(|p| p.number.clone())
            .collect();
        for number in lapsed {
            self.change(&number, &stamp, StateWord::Lapsed);
        }
        self.hold_back_all(&stamp);
    }

    fn hold_back_all(&mut self, stamp: &Stamp) {
        let numbers: Vec<String> = self.permits.keys().cloned().collect();
        for number in numbers {
            self.hold_back(&number, stamp);
        }
    }

    /// Where a line at hand stands that was not taken in.
    pub fn at(&self, line: &Line) -> LineNo {
        LineNo { volume: self.volume, line: line.seq }
    }

    /// Place in the history and volume of the line at hand.
    fn place(&self) -> (u64, u32) {
        (self.count, self.volume)
    }

    /// A later volume: what was live is suspended, and who is on air stays on air.
    fn take_volume(&mut self, line: &Line) {
        let before = line.data.get("before").map(|b| b.text("log").unwrap_or_default());
        if before.is_some_and(|log| !self.logs.iter().any(|l| l == log)) {
            // Whatever happened in the volume that is missing, it may have changed everything.
            self.missing = true;
            self.permits.clear();
            self.sets.clear();
        }
        self.logs.push(line.log.clone());
        self.volume += 1;
        let stamp = stamp(line, self.place());
        self.hold_back_all(&stamp);
    }

    /// A line of a permit opened in a volume that is missing. Of which set is not known, so that it
    /// counts for no rule; but people it puts on air are shown.
    fn take_unknown(&mut self, line: &Line) {
        if matches!(line.kind.name, "on_air" | "in" | "out" | "off_air") {
            let stamp = stamp(line, self.place());
            self.take_tally("", line.permit.as_deref(), line, stamp);
        }
    }

    /// Takes in a line of another permit of the same set, in an excerpt of one: what it does to the set.
    pub fn take_beside(&mut self, line: &Line) {
        self.count += 1;
        self.time.clone_from(&line.time);
        let Some(set) = self.permits.values().next().map(|p| p.set.id.clone()) else { return };
        let stamp = stamp(line, self.place());
        match line.kind.name {
            "event" => {
                self.note_event(&set, line, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "call_out" => {
                self.call_out(&set);
                self.hold_back_set(&set, &stamp);
            }
            // An answer of another permit stands in an excerpt only where it is one of a shutdown.
            "answer" => {
                self.sets.entry(set.clone()).or_default().shut_down = Some(stamp.clone());
                self.hold_back_set(&set, &stamp);
            }
            "on_air" | "in" | "out" | "off_air" => {
                self.take_tally(&set, line.permit.as_deref(), line, stamp);
            }
            _ => {}
        }
    }

    fn take_open(&mut self, line: &Line) -> Result<(), Broken> {
        let Some(number) = line.permit.clone() else {
            return broken("state", "`open` without a permit number");
        };
        let data = &line.data;
        let stamp = stamp(line, self.place());
        let job = data.get("job").cloned().unwrap_or(Json::Bool(false));
        let permit = Permit {
            number: number.clone(),
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
        };
        self.permits.insert(number, permit);
        Ok(())
    }

    fn check_permit_line(&self, number: &str, line: &Line) -> Result<&Permit, Broken> {
        let Some(permit) = self.permits.get(number) else {
            return broken("state", format!("{number} was never opened"));
        };
        let life = self.life(permit, &line.time);
        // Under rules that are not known here nobody can say what a line may do to its permit; what
        // the lines do to the set (suspended, on air) is taken as under the rules known, to be safe.
        if permit.rules == RULES {
            let any = line.kind.states.len() == crate::record::kinds::ANY.len();
            if !any && !line.kind.states.contains(&life) {
                return broken(
                    "state",
                    format!("`{}` does not stand on a permit that is {}", line.kind.name, life.word()),
                );
            }
            self.check_rules(permit, life, line)?;
        }
        Ok(permit)
    }

    fn take_permit_line(&mut self, number: &str, line: &Line) -> Result<(), Broken> {
        let permit = self.check_permit_line(number, line)?;
        let set = permit.set.id.clone();
        // Once lapsed it stays so, also when somebody is reported on air under it afterwards.
        if permit.rules == RULES && self.life(permit, &line.time) == StateWord::Lapsed {
            self.with(number, |p| p.life = StateWord::Lapsed);
        }
        let stamp = stamp(line, self.place());
        if let Some(act) = &line.act {
            let signed = Signed {
                kind: line.kind.name,
                stamp: stamp.clone(),
                time: act.time.clone(),
                role: act.role.word(),
                key: act.key.clone(),
                said: line.data.text("said").unwrap_or_default().to_owned(),
                data: line.data.clone(),
            };
            self.with(number, |p| p.signed.push(signed));
        } else if line.kind.name != "answer" {
            let happened = Happened { stamp: stamp.clone(), kind: line.kind.name, data: line.data.clone() };
            self.with(number, |p| p.day.push(happened));
        }
        match line.kind.name {
            "answer" => self.take_answer(number, &set, line, stamp),
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
                let valid_to = text(&line.data, "valid_to");
                self.with(number, |p| {
                    p.valid_to = valid_to;
                    p.called_out = false;
                    // A shutdown begun on the draft was given up: its time runs like that of any other.
                    p.shutdown_begun = false;
                    p.shutdown_form = None;
                });
                self.change(number, &stamp, StateWord::Live);
            }
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
                self.call_out(&set);
                self.hold_back_set(&set, &stamp);
            }
            "on_air" | "in" | "out" | "off_air" => self.take_tally(&set, Some(number), line, stamp),
            _ => {}
        }
        Ok(())
    }

    /// Rules of the lifecycle that the table of states does not hold.
    fn check_rules(&self, permit: &Permit, life: StateWord, line: &Line) -> Result<(), Broken> {
        let number = &permit.number;
        match line.kind.name {
            "declare" if permit.for_shutdown => {
                broken("state", format!("{number} was opened for a shutdown and cannot be declared"))
            }
            "answer" => {
                let own = line.data.text("form") == Some(permit.form.hash.as_str()) && !permit.for_shutdown;
                let on = self.known_tally_of_set(&permit.set.id);
                if !own && on > 0 {
                    return broken(
                        "state",
                        format!("a shutdown answer stands while {on} are on air from {}", permit.set.id),
                    );
                }
                check_again(permit, line)?;
                check_deviation(permit, line, own, life)
            }
            "countersign" => check_deviations(permit, line),
            "hand_back" => {
                if life == StateWord::Draft && !permit.for_shutdown {
                    return broken(
                        "state",
                        format!("{number} is a draft: it is declared or cancelled, not handed back"),
                    );
                }
                self.check_nobody(number, "hand_back")?;
                match line.data.text("left_running") {
                    Some(other) => match self.permits.get(other) {
                        Some(o)
                            if other != number
                                && o.set.id == permit.set.id
                                && (self.life(o, &line.time) == StateWord::Live || o.rules != RULES) =>
                        {
                            Ok(())
                        }
                        None if self.of_one || self.missing => Ok(()),
                        Some(_) | None => broken(
                            "state",
                            format!(
                                "`left_running` names {other}, which is no other live permit of {}",
                                permit.set.id
                            ),
                        ),
                    },
                    None if self.known_tally_of_set(&permit.set.id) > 0 => broken(
                        "state",
                        format!("`hand_back` stands while people are on air from {}", permit.set.id),
                    ),
                    None => Ok(()),
                }
            }
            "cancel" => self.check_nobody(number, "cancel"),
            "close" => self.check_nobody(number, "close"),
            _ => Ok(()),
        }
    }

    /// For rules: after a volume that is missing nobody can say who is still on air.
    fn known_tally_of_set(&self, set: &str) -> usize {
        if self.missing { 0 } else { self.tally_of_set(set) }
    }

    fn check_nobody(&self, number: &str, what: &str) -> Result<(), Broken> {
        match self.tally_of_permit(number) {
            0 => Ok(()),
            n => broken("state", format!("`{what}` stands while {n} are on air on {number}")),
        }
    }

    fn with(&mut self, number: &str, change: impl FnOnce(&mut Permit)) {
        if let Some(p) = self.permits.get_mut(number) {
            change(p);
        }
    }

    fn change(&mut self, number: &str, stamp: &Stamp, to: StateWord) {
        self.with(number, |p| {
            if p.life != to {
                p.life = to;
                p.since = stamp.clone();
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
        let of_set: Vec<String> =
            self.permits.values().filter(|p| p.set.id == set).map(|p| p.number.clone()).collect();
        for number in of_set {
            self.hold_back(&number, stamp);
        }
    }

    fn call_out(&mut self, set: &str) {
        for p in self.permits.values_mut().filter(|p| p.set.id == set) {
            p.called_out |= matches!(p.life, StateWord::Live | StateWord::Suspended | StateWord::Lapsed);
        }
    }

    fn note_event(&mut self, set: &str, line: &Line, stamp: &Stamp) {
        let Some(what) = line.data.text("what") else { return };
        let s = self.sets.entry(set.to_owned()).or_default();
        s.events.insert(what.to_owned(), stamp.clone());
        if matches!(what, "change_over" | "supply_low" | "reserve_low") {
            s.reserve_used = Some(stamp.clone());
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
                let of = |a: &&mut Answer| a.form == form && a.step == step && a.item.as_deref() == item;
                if let Some(a) = p.answers.iter_mut().rev().find(of) {
                    a.deviation = Some(deviation);
                }
            });
            if self.permits.get(number).is_some_and(|p| p.life == StateWord::Declared) {
                self.change(number, &stamp, StateWord::Draft);
            }
            return;
        }
        let answer = Answer {
            stamp: stamp.clone(),
            form: form.clone(),
            step: data.text("step").unwrap_or_default().to_owned(),
            item: text(data, "item"),
            value: text(data, "value"),
            unit: text(data, "unit"),
            below: data.has("below"),
            left_out: text(data, "left_out"),
            again: text(data, "again"),
            words: text(data, "words"),
            at: text(data, "at"),
            deviation: None,
        };
        let mut shutdown = false;
        self.with(number, |p| {
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
                if let Some(i) = at {
                    self.on_air.remove(i);
                }
                return;
            }
        };
        self.sets.entry(set.to_owned()).or_default().breathed = Some(stamp.clone());
        if let Some(number) = permit {
            self.with(number, |p| {
                p.been_on_air.insert(person.to_owned());
            });
        }
        let outlet = text(&line.data, "outlet");
        match at.and_then(|i| self.on_air.get_mut(i)) {
            Some(p) => {
                p.whereabouts = to;
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
            }),
        }
    }

    fn take_set_line(&mut self, line: &Line) {
        let Some(set) = text(&line.data, "set") else { return };
        let stamp = stamp(line, self.place());
        let happened = Happened { stamp: stamp.clone(), kind: line.kind.name, data: line.data.clone() };
        match line.kind.name {
            "moved" | "plugged" | "started" | "stopped" | "filled" | "serviced" | "air_test" => {
                let s = self.sets.entry(set.clone()).or_default();
                if let Some(what) = line.data.text("what") {
                    s.serviced.insert(what.to_owned(), stamp.clone());
                }
                if line.kind.name == "started" && s.running() {
                    s.stop_untold = Some(stamp.clone());
                }
                s.last.insert(line.kind.name, happened.clone());
                if matches!(line.kind.name, "moved" | "plugged" | "stopped") {
                    self.hold_back_set(&set, &stamp);
                }
            }
            "event" => {
                self.note_event(&set, line, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "suspend" => self.hold_back_set(&set, &stamp),
            "call_out" => {
                self.call_out(&set);
                self.hold_back_set(&set, &stamp);
            }
            "on_air" | "in" | "out" | "off_air" => self.take_tally(&set, None, line, stamp),
            _ => {}
        }
        // What bears on a set bears on the day of its permits that have not ended, or ended by time alone.
        let has_day = |p: &Permit| !p.life.ended() || p.life == StateWord::Lapsed;
        for p in self.permits.values_mut().filter(|p| p.set.id == set && has_day(p)) {
            p.day.push(happened.clone());
        }
    }
}

/// Whoever answers a step again says what was done since: every answer stays, and so does its why. That a
/// wait is over (`done` after `begun`) is no new answer.
fn check_again(permit: &Permit, line: &Line) -> Result<(), Broken> {
    let data = &line.data;
    let (form, step) = (data.text("form").unwrap_or_default(), data.text("step").unwrap_or_default());
    let Some(last) = permit.last_answer(form, step, data.text("item")) else { return Ok(()) };
    let over = last.value.as_deref() == Some("begun") && data.text("value") == Some("done");
    if over || data.has("again") || data.has("deviation") {
        return Ok(());
    }
    broken("again", format!("`{step}` is answered again, and nothing says what was done since"))
}

/// A deviation leaves an answer of the permit's own form as it is, before the permit is issued.
fn check_deviation(permit: &Permit, line: &Line, own: bool, life: StateWord) -> Result<(), Broken> {
    let data = &line.data;
    if !data.has("deviation") {
        return Ok(());
    }
    if !own || !matches!(life, StateWord::Draft | StateWord::Declared) {
        return broken(
            "deviation",
            format!("a deviation does not stand here: {} is {}", permit.number, life.word()),
        );
    }
    let (form, step) = (data.text("form").unwrap_or_default(), data.text("step").unwrap_or_default());
    match permit.last_answer(form, step, data.text("item")) {
        Some(a) if a.value.is_some() && a.deviation.is_none() => Ok(()),
        Some(_) => broken("deviation", format!("`{step}` was left out, or left as a deviation before")),
        None => broken("deviation", format!("`{step}` was not answered; there is nothing to leave as it is")),
    }
}

/// A countersignature names exactly the deviations left, and narrows the permit where there are any.
fn check_deviations(permit: &Permit, line: &Line) -> Result<(), Broken> {
    let left: Vec<String> = permit.deviations().iter().map(|a| a.key()).collect();
    let named: Vec<String> = line.data.texts("deviations").into_iter().map(str::to_owned).collect();
    if left != named {
        let all = |k: &[String]| if k.is_empty() { "none".to_owned() } else { k.join(", ") };
        return broken("deviation", format!("names {}, left are {}", all(&named), all(&left)));
    }
    let narrows = matches!(line.data.get("limits"), Some(Json::Obj(m)) if !m.is_empty());
    if !left.is_empty() && !narrows {
        return broken("deviation", "accepts deviations and narrows nothing");
    }
    Ok(())
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
