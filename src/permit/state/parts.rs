//! What is known of a permit, a set and the people on air. Values only; how lines change them is the fold's.

use super::fixed::{self, Word};
use super::watched::Watched;
use crate::record::json::{Json, SmolStr};
use crate::time::seconds;
use crate::tongue::say;
use crate::view::{LineNo, StateWord};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Line, time and offset of something.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    /// Place in the history, over all volumes, from 0: what came later has the higher one.
    pub seq: u64,
    /// Volume and line.
    pub line: LineNo,
    /// H of the line.
    pub hash: SmolStr,
    /// UTC.
    pub time: SmolStr,
    /// Offset of the site.
    pub zone: SmolStr,
    /// Who entered it, as the station says, or who signed.
    pub by: SmolStr,
}

/// A text cited by its hash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cited {
    /// Id.
    pub id: String,
    /// SHA-256 of the text.
    pub hash: String,
}

/// An answer as recorded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// Where it stands.
    pub stamp: Stamp,
    /// SHA-256 of the form it answers.
    pub form: SmolStr,
    /// Step.
    pub step: SmolStr,
    /// Item of `each`.
    pub item: Option<SmolStr>,
    /// The value as text; `None` if the item was left out.
    pub value: Option<SmolStr>,
    /// Unit of a reading.
    pub unit: Option<SmolStr>,
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
    /// Who told it then.
    pub told_by: Option<String>,
    /// It was left as a deviation, for a supervisor to accept.
    pub deviation: Option<Box<Deviation>>,
    /// It was given on another permit and carried here.
    pub carry: Option<Box<Carry>>,
}

/// How an answer came to a permit on which it was not given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Carry {
    /// The line that carried it.
    pub stamp: Stamp,
    /// The permit on which it was given.
    pub from: String,
}

impl Answer {
    /// A value and nothing beside it: an answer that is only tried, and not given yet.
    pub fn tried(stamp: Stamp, form: &str, step: &str, item: Option<&str>, value: Option<String>) -> Answer {
        Answer {
            stamp,
            form: form.into(),
            step: step.into(),
            item: item.map(Into::into),
            value: value.map(Into::into),
            unit: None,
            below: false,
            left_out: None,
            again: None,
            words: None,
            at: None,
            told_by: None,
            deviation: None,
            carry: None,
        }
    }

    /// Place in the history from which it stands on its permit.
    pub fn here_since(&self) -> u64 {
        self.carry.as_ref().map_or(self.stamp.seq, |c| c.stamp.seq)
    }

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
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Deviation {
    /// Where it stands.
    pub stamp: Stamp,
    /// Why.
    pub reason: String,
    /// What is done instead.
    pub instead: String,
}

/// A signature on a permit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signed {
    /// Kind of line.
    #[serde(with = "fixed::kind")]
    pub kind: Word,
    /// Where; `by` is the signer.
    pub stamp: Stamp,
    /// When, by the signer's clock, UTC; the stamp has when the station took it in.
    pub time: String,
    /// Role.
    #[serde(with = "fixed::role")]
    pub role: Word,
    /// Key.
    pub key: String,
    /// The words signed.
    pub said: String,
    /// The act's data.
    pub data: Json,
}

/// Something of the day, for the record of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Happened {
    /// Where.
    pub stamp: Stamp,
    /// Kind of line.
    #[serde(with = "fixed::kind")]
    pub kind: Word,
    /// Its data.
    pub data: Json,
}

/// Where somebody on the tally is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
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
    pub fn words(self) -> &'static str {
        match self {
            Whereabouts::Outside => say!("on air outside"),
            Whereabouts::In => say!("in"),
            Whereabouts::OutOnAir => say!("out, still on air"),
        }
    }
}

/// Somebody on air.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
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
    /// UTC: the latest time at which they went on air or in, as told. What is told for earlier than this was before.
    pub went_on: String,
}

/// A permit as its lines make it.
#[derive(Clone, Debug, Serialize, Deserialize)]
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
    /// The permit whose work it goes on with.
    pub follows: Option<String>,
    /// The first half of an act in two lines: asked for, or handed over by the outgoing holder. Falls with any later
    /// change of state.
    pub pending: Option<Signed>,
    /// Later ends that were given, oldest first.
    pub extended: Vec<Extended>,
    /// When another shift took it over, oldest first.
    pub shifts: Vec<Stamp>,
}

/// A later end that a supervisor gave.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Extended {
    /// The line that gave it.
    pub stamp: Stamp,
    /// The end of the work, UTC.
    pub until: String,
    /// Ends of entry and work permits by their id, UTC, where they are others now.
    pub entry_permits: BTreeMap<String, String>,
}

/// Events after which only a supervisor reinstates, whatever came of them.
pub const GRAVE: &[&str] =
    &["co", "temperature", "oil", "supply_low", "change_over", "reserve_low", "wearer_silent"];
/// Events that speak against the air of a set: a test of it does not outlast them. Smoke and what the work released may
/// have been drawn in.
pub const FOUL: &[&str] = &["co", "temperature", "oil", "fire", "hazard_released"];
/// Ends of an alarm after which the operator may reinstate.
pub const ENDINGS: &[&str] = &["drill", "false_alarm"];

impl Permit {
    /// SHA-256 of every text that it or an answer of it was given by.
    pub fn texts(&self) -> impl Iterator<Item = &str> {
        let own = [&self.form.hash, &self.set.hash, &self.site.hash];
        let answered = self.answers.iter().map(|a| a.form.as_str());
        own.into_iter().chain(&self.shutdown_form).map(String::as_str).chain(answered)
    }

    /// The last act that gave it an end and a token: a countersignature, or a later end given.
    pub fn issued(&self) -> Option<&Signed> {
        let gives = |s: &&Signed| {
            s.kind == "countersign" || (s.kind == "extend" && s.data.text("part") == Some("given"))
        };
        self.signed.iter().rev().find(gives)
    }

    /// Whether a person ever issued it or gave it a later end: who did never holds it or stands at it.
    pub fn issued_by(&self, person: &str) -> bool {
        let gives = |s: &&Signed| {
            s.kind == "countersign" || (s.kind == "extend" && s.data.text("part") == Some("given"))
        };
        self.signed.iter().filter(gives).any(|s| s.stamp.by == person)
    }

    /// The last signature of a kind.
    pub fn last_signed(&self, kind: &str) -> Option<&Signed> {
        self.signed.iter().rev().find(|s| s.kind == kind)
    }

    /// The day after a line. It is in the order of the lines, so that a long history costs nothing.
    pub fn day_after(&self, seq: u64) -> &[Happened] {
        let upto = self.day.partition_point(|h| h.stamp.seq <= seq);
        self.day.get(upto..).unwrap_or_default()
    }

    /// The last answer of a step of a form for an item.
    pub fn last_answer(&self, form: &str, step: &str, item: Option<&str>) -> Option<&Answer> {
        let of = |a: &&Answer| a.step == step && a.item.as_deref() == item && a.form == form;
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

/// Told later than this is late: it opens nothing.
pub const LATE: i64 = 5 * 60;

/// What the lines say of a set apart from permits.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct SetState {
    /// The latest line of each kind: `moved`, `plugged`, `started`, `stopped`, `filled`, `serviced`.
    #[serde(with = "fixed::by_kind")]
    pub last: BTreeMap<&'static str, Happened>,
    /// Every test of its air, as entered.
    pub air_tests: Vec<Happened>,
    /// For each of them, which of those up to it counts: its place.
    counts: Vec<usize>,
    /// The latest `serviced` per what was serviced.
    pub serviced: BTreeMap<String, Stamp>,
    /// The latest event that may have used the reserve.
    pub reserve_used: Option<Stamp>,
    /// Since the first such event after it was filled, or after a permit was issued or reinstated.
    pub feeding: Option<Feeding>,
    /// The latest line that makes a roll call before it count no more: an event, a call, somebody missing.
    pub roll_void: Option<Stamp>,
    /// The latest event of each kind.
    pub events: BTreeMap<String, Stamp>,
    /// The latest answer to a shutdown form on any of its permits: valves may be shut, hoses off.
    pub shut_down: Option<Stamp>,
    /// The latest line that puts or shows somebody on air.
    pub breathed: Option<Stamp>,
    /// The latest roll call that found everyone.
    pub rolled: Option<Stamp>,
    /// The latest start while it was said to run: it had stopped, and nobody reported that.
    pub stop_untold: Option<Stamp>,
    /// It was released and not taken again since.
    pub released: Option<Stamp>,
    /// When it last came back to this register.
    pub taken: Option<Stamp>,
    /// Tests of its air entered as taken that day, while it stood still by this register: H of their lines.
    pub stood_still: BTreeSet<SmolStr>,
    /// The others, by H of their lines: H of the start after which it ran then, where this register has it.
    pub ran: BTreeMap<SmolStr, SmolStr>,
    /// Another register that holds it too, by its log: its station, and our line that says so.
    pub held_by: BTreeMap<String, (String, Stamp)>,
    /// Drills, oldest first.
    pub drills: Vec<Drill>,
    /// What the readings of its reserve come to.
    pub watched: Watched,
}

/// A drill: the way out, measured from its signal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Drill {
    /// The line of the drill.
    pub stamp: Stamp,
    /// UTC, when it began.
    pub began: String,
    /// Where the set stood, as its permit says or as it was moved since.
    pub place: String,
    /// Who was in then, on which permit, and after how many seconds the mask was off.
    pub out: BTreeMap<String, Option<i64>>,
}

/// A reserve that people may breathe.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Feeding {
    /// UTC, since when, as told.
    pub from: String,
    /// Who was on this air then or since, and when they were off.
    pub on: Vec<(OnAir, Option<String>)>,
}

impl Drill {
    /// Seconds until the last of them had the mask off; `None` while one has not.
    pub fn seconds(&self) -> Option<i64> {
        let all: Option<Vec<i64>> = self.out.values().copied().collect();
        all?.into_iter().max()
    }
}

impl Happened {
    /// When it happened, UTC second, as told; `None` if it was told late.
    pub fn told_in_time(&self) -> Option<i64> {
        let entered = seconds(&self.stamp.time);
        let at = self.data.text("at").map_or(entered, seconds);
        (entered - at <= LATE).then(|| at.min(entered))
    }

    /// The day it happened: as told, but never after the day it was entered.
    pub fn day(&self) -> Date {
        let entered = crate::time::local(&self.stamp.time, &self.stamp.zone).date();
        self.data.text("date").and_then(|d| d.parse().ok()).map_or(entered, |told: Date| told.min(entered))
    }
}

impl SetState {
    /// The test of its air that counts, of those entered before a line: the one of the latest day, of several on one
    /// day the one entered last. A good one of another day, entered late, hides no other.
    pub fn air_test(&self, before: Option<u64>) -> Option<&Happened> {
        let entered = |b| self.air_tests.partition_point(|t| t.stamp.seq < b);
        let upto = before.map_or(self.air_tests.len(), entered);
        self.air_tests.get(*self.counts.get(upto.checked_sub(1)?)?)
    }

    /// A test of its air was entered.
    pub(super) fn tested(&mut self, test: Happened) {
        let later = |i: &usize| self.air_tests.get(*i).is_some_and(|best| best.day() > test.day());
        let best = self.counts.last().copied().filter(later).unwrap_or(self.air_tests.len());
        self.counts.push(best);
        self.air_tests.push(test);
    }

    /// Whether the last start was not followed by a stop.
    pub fn running(&self) -> bool {
        let seq = |kind: &str| self.last.get(kind).map(|h| h.stamp.seq);
        match (seq("started"), seq("stopped")) {
            (Some(started), Some(stopped)) => started > stopped,
            (started, None) => started.is_some(),
            (None, Some(_)) => false,
        }
    }

    /// Place in the history since which its reserve is watched for falling while the compressor feeds.
    pub fn watched_since(&self) -> u64 {
        let last = |kind: &str| self.last.get(kind).map_or(0, |h| h.stamp.seq);
        let used = self.reserve_used.as_ref().map_or(0, |s| s.seq);
        last("filled").max(last("started")).max(used)
    }

    /// Whether it ran at a time, UTC, as its last start and its last stop say.
    pub fn ran_at(&self, at: &str) -> bool {
        let told = |kind: &str| {
            self.last.get(kind).map(|h| h.data.text("at").unwrap_or(&h.stamp.time)).map(str::to_owned)
        };
        let since = told("started").is_some_and(|started| started.as_str() <= at);
        since && (self.running() || told("stopped").is_none_or(|stopped| stopped.as_str() > at))
    }
}
