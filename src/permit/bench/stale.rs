//! What makes an answer stale: what it rested on was moved, stopped, filled, changed or is too old.
//!
//! Always: what ends an answer is a later line, or time; nothing is stored. Not here: whether its gate is open.

use super::{Bench, quantity};
use crate::checklist::{Each, GoodForScope, Purpose, Step};
use crate::permit::ends;
use crate::permit::state::{Answer, FOUL, Happened, Stamp};
use crate::record::json::Json;
use crate::time;
use crate::tongue::say;
use crate::units::{self, Quantity, Unit};
use crate::view::recorded;
use num_traits::ToPrimitive;

/// Members of a job that steps of one shift rest on: who stands by, and how they are called.
const PEOPLE_AND_SIGNALS: &[&str] = &[
    "holder",
    "attendant",
    "entry_watch",
    "rescuers",
    "recall_signal",
    "rescue_number",
    "assembly",
    "channel",
];

/// The step that works out the leave-by pressure.
const LEAVE_BY: &str = "leave_by";

impl<'a> Bench<'a> {
    /// Why an answer has to be asked again, if something ended what it was good for.
    pub(super) fn gone_stale(&self, step: &Step, answer: &Answer) -> Option<String> {
        let set = self.state.sets.get(&self.permit.set.id);
        let again = |ended: Option<&Stamp>, what: &str| {
            let stamp = ended.filter(|s| s.seq > answer.stamp.seq)?;
            Some(say!("asked again: {what} at {time}", what, time = time::clock(&stamp.time, &stamp.zone)))
        };
        let last = |kind: &str| set.and_then(|s| s.last.get(kind)).map(|h| &h.stamp);
        if self.form.purpose() == Purpose::Shutdown {
            // What was shut and vented is not any more once it runs again or a permit is issued on it, and
            // who was seen off air is not once somebody was on air again.
            let issued = self.permit.last_signed("countersign").map(|s| &s.stamp);
            return again(last("started"), say!("the set was started"))
                .or_else(|| again(issued, say!("the permit was issued")))
                .or_else(|| again(set.and_then(|s| s.breathed.as_ref()), say!("somebody was on air")));
        }
        if let Some((stamp, what)) = self.job_changed(step, answer) {
            return again(Some(stamp), &what);
        }
        // Worked out and confirmed on one test of the air: another that counts since makes another answer.
        let of_test = |name: &[String]| matches!(name, [l, t, ..] if l == "last" && t == "air_test");
        let gated = || step.gate().is_some_and(|g| g.names().any(|u| of_test(u.name)));
        let worked_out = || step.expression().is_some_and(|e| e.names().any(|u| of_test(u.name)));
        let test = self.air_test().map(|t| &t.stamp);
        if let Some(stale) = again(test, say!("another test of the air was entered"))
            && (gated() || worked_out())
        {
            return Some(stale);
        }
        let over = ends::second_of(step, answer, self.permit, self.texts)
            .is_some_and(|second| second < self.now.seconds());
        if over && let Some(end) = ends::of(step, answer, self.permit, self.texts) {
            return Some(say!("asked again: {because}", because = end.because));
        }
        let event = |kinds: &[&str]| {
            let of_kind = |k: &&str| set.and_then(|s| s.events.get(*k));
            kinds.iter().filter_map(of_kind).max_by_key(|s| s.seq)
        };
        let serviced = |what: &str| set.and_then(|s| s.serviced.get(what));
        let read = |what: &'static str| {
            let (at, words) = self.read_against(what, answer.stamp.seq)?;
            Some(say!("asked again: {words} at {time}", words, time = time::clock(&at.time, &at.zone)))
        };
        step.good_for().iter().find_map(|good| match good.scope {
            GoodForScope::Place => again(last("moved"), say!("the set was moved")),
            GoodForScope::SupplyPoint => again(last("moved"), say!("the set was moved"))
                .or_else(|| again(last("plugged"), say!("the set was plugged in elsewhere")))
                // What was lost once may come back otherwise: a phase swapped, a fuse of another size.
                .or_else(|| again(event(&["supply_low", "change_over"]), say!("the supply was lost")))
                .or_else(|| read("supply")),
            GoodForScope::Start => again(last("stopped"), say!("the set was stopped"))
                .or_else(|| again(set.and_then(|s| s.stop_untold.as_ref()), say!("the set was started anew")))
                .or_else(|| again(set.and_then(|s| s.shut_down.as_ref()), say!("a shutdown was begun"))),
            GoodForScope::Fill => again(last("filled"), say!("the reserve was filled"))
                .or_else(|| again(set.and_then(|s| s.reserve_used.as_ref()), say!("the reserve was used")))
                .or_else(|| read("reserve")),
            // Filters, and the air that comes through them: an air test does not outlast work on the
            // machine, nor an alarm that says the air was foul.
            GoodForScope::Filter => again(serviced("filter"), say!("a filter was changed"))
                .or_else(|| again(serviced("oil"), say!("the oil was changed")))
                .or_else(|| again(serviced("air_side"), say!("the air side was worked on")))
                .or_else(|| again(event(FOUL), say!("an alarm spoke against the air")))
                .or_else(|| read("co")),
            GoodForScope::Wind => again(event(&["wind_turned"]), say!("the wind turned")),
            GoodForScope::Hose => again(event(&["hose"]), say!("something happened to a hose")),
            GoodForScope::Respirator => {
                again(event(&["respirator"]), say!("something happened to a respirator"))
            }
            GoodForScope::Shift => again(self.permit.shifts.last(), say!("the next shift took over")),
            // Time ends these, and the job; both are looked at above. A permit is one set's.
            GoodForScope::Hours(_)
            | GoodForScope::Months(_)
            | GoodForScope::Permit
            | GoodForScope::Set
            | GoodForScope::Wearer => None,
        })
    }

    /// The last reading of a gauge of the set since a line that was out of what it may be, in words: what it says an
    /// event would have said. One good reading after it does not make the answers before it good again.
    fn read_against(&self, what: &'static str, since: u64) -> Option<(Stamp, String)> {
        let found = self.memo.latest(what, since, || self.read_since(what, since));
        found.filter(|(at, _)| at.seq > since)
    }

    /// Whether a line that reads a gauge ends answers: what it read is out of what it may be now.
    pub fn reading_is_out(&self, data: &Json) -> bool {
        data.text("what").is_some_and(|what| out(data, &self.bounds(what)).is_some())
    }

    /// From what to what a gauge may read.
    fn bounds(&self, what: &str) -> (Option<Quantity>, Option<Quantity>) {
        let (set, site) = (&self.texts.set, &self.texts.site);
        let worked_out = || {
            let a = self.answers(LEAVE_BY, None).last().copied()?;
            quantity(a.value.as_deref()?, self.unit_worked_out(LEAVE_BY))
        };
        match what {
            "co" => (None, site.quantity("limits.co_most").cloned()),
            "supply" => {
                (set.quantity("supply_pressure_from").cloned(), set.quantity("supply_pressure_to").cloned())
            }
            _ => (worked_out().or_else(|| set.quantity("reserve_minimum").cloned()), None),
        }
    }

    fn read_since(&self, what: &str, since: u64) -> Option<(Stamp, String)> {
        let bounds = self.bounds(what);
        let bad = |h: &Happened| {
            let (read, unit) = out(&h.data, &bounds)?;
            let shown = read.words(unit, units::Rounding::Nearest);
            Some((h.stamp.clone(), say!("{what} was read as {shown}", what = recorded(what), shown)))
        };
        let read = self.state.permits.readings_of_set((&self.permit.set.id, what), since, i64::MIN);
        read.filter_map(bad).max_by_key(|(at, _)| at.seq)
    }

    fn clock_of(&self, answer: &Answer) -> String {
        time::clock(&answer.stamp.time, &answer.stamp.zone)
    }

    /// Why an answer that must be fresh when the permit is issued is too old: at that issue, or by now. It still
    /// counts: gates see it, and the steps after it go on. Only the start, declaring and issuing wait for it.
    pub fn too_old(&self, step: &Step, answer: &Answer) -> Option<String> {
        if !step.fresh() {
            return None;
        }
        let issued = self.permit.last_signed("countersign").map(|s| &s.stamp);
        let at = match issued.filter(|s| s.seq > answer.stamp.seq) {
            Some(issued) => time::seconds(&issued.time),
            // Taken while it was live: there is no other issue for it to be fresh at.
            None if issued.is_some() => return None,
            None => self.now.seconds(),
        };
        let given = time::seconds(answer.at.as_deref().unwrap_or(&answer.stamp.time));
        let most = self.texts.site.quantity("freshness");
        let fresh = most.and_then(|q| q.value.to_integer().to_i64()).is_some_and(|most| at - given <= most);
        (!fresh).then(|| {
            let most = self.texts.site.get("freshness").and_then(|h| h.shown(&self.texts.language));
            let most = most.unwrap_or_else(|| say!("a time that the site does not give").into());
            say!(
                "asked again: it is fresh for {most} and was answered at {time}",
                most,
                time = self.clock_of(answer)
            )
        })
    }

    /// The line that changed the job since an answer, if the answer rested on what it changed.
    fn job_changed(&self, step: &Step, answer: &Answer) -> Option<(&'a Stamp, String)> {
        let jobs = &self.permit.jobs;
        let (stamp, new) = jobs.last().filter(|(s, _)| s.seq > answer.here_since())?;
        let (_, old) = jobs.iter().rev().find(|(s, _)| s.seq <= answer.here_since())?;
        job_differs(step, answer.item.as_deref(), old, new).map(|why| (stamp, why))
    }
}

/// What a gauge read, where it is out of its bounds.
fn out(data: &Json, (from, to): &(Option<Quantity>, Option<Quantity>)) -> Option<(Quantity, Option<Unit>)> {
    let unit = data.text("unit").and_then(units::unit);
    let read = quantity(data.text("value")?, unit)?;
    let of = |l: &&Quantity| l.dimension == read.dimension;
    let below = from.as_ref().filter(of).is_some_and(|l| read.value < l.value);
    let above = to.as_ref().filter(of).is_some_and(|l| read.value > l.value);
    (below || above).then_some((read, unit))
}

/// How a job says otherwise of what an answer to a step rests on than another one, in words; `None` if it does not.
pub fn job_differs(step: &Step, item: Option<&str>, old: &Json, new: &Json) -> Option<String> {
    let differs = |members: &[&str]| members.iter().any(|m| old.get(m) != new.get(m));
    let item_differs = |list: &str| {
        let entry = |job: &Json| -> Option<Json> {
            let Some(Json::Arr(items)) = job.get(list) else { return None };
            items.iter().find(|i| i.text("person").or(i.text("id")) == item).cloned()
        };
        entry(old) != entry(new)
    };
    let own = match step.each() {
        Some(Each::Wearer) => item_differs("wearers"),
        Some(Each::Job(list)) => item_differs(list),
        Some(Each::Set(_) | Each::Site(_)) | None => false,
    };
    if own {
        return Some(say!("the job says otherwise of it since").into());
    }
    let only_shift =
        step.good_for().iter().all(|g| matches!(g.scope, GoodForScope::Shift | GoodForScope::Wearer));
    let rests = step.good_for().iter().any(|g| match g.scope {
        GoodForScope::Permit => old != new,
        GoodForScope::Place => differs(&["place"]),
        GoodForScope::SupplyPoint => differs(&["place", "supply_point"]),
        GoodForScope::Hose | GoodForScope::Respirator | GoodForScope::Wearer => {
            step.each().is_none() && differs(&["wearers"])
        }
        GoodForScope::Shift => only_shift && differs(PEOPLE_AND_SIGNALS),
        GoodForScope::Start
        | GoodForScope::Set
        | GoodForScope::Wind
        | GoodForScope::Filter
        | GoodForScope::Fill
        | GoodForScope::Hours(_)
        | GoodForScope::Months(_) => false,
    });
    rests.then(|| say!("the job was changed").into())
}
