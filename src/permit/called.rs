//! Calls and events on the air of a permit that was not issued then, so that they suspended nothing of it.
//!
//! Always: they stand until a roll call finds everyone or something is reinstated on that air, and until then nobody is let
//! on it. Not here: what suspended a permit (`state`), what each order is (`show::orders`).

use super::decide::Known;
use super::state::Permit;
use super::state::Stamp;
use crate::time::{clock, seconds};
use crate::tongue::say;
use crate::view::{StateWord, recorded};
use std::collections::BTreeMap;

/// Calls and events on this air since a permit was opened that suspended nothing of it, for it was not issued: until a roll call
/// finds everyone, or something is reinstated on it.
pub fn before_issue(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    match known.life(permit) {
        StateWord::Draft | StateWord::Declared | StateWord::Live => {}
        StateWord::Suspended
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled
        | StateWord::Lapsed => return Vec::new(),
    }
    let id = permit.set.id.as_str();
    let Some(set) = known.state.sets.get(id) else { return Vec::new() };
    let reinstated = known.state.permits.at_hand().filter(|p| p.set.id == id);
    let reinstated = reinstated.filter_map(|p| p.last_signed("reinstate")).map(|s| s.stamp.seq);
    let ended = reinstated.chain(set.rolled.as_ref().map(|r| r.seq));
    let since = ended.fold(permit.opened.seq, u64::max);
    let told = known.state.permits.days_of_set(id, since, i64::MIN);
    // By their place: an event is told once, of a permit or of the set alone.
    let mut all: BTreeMap<u64, String> = BTreeMap::new();
    let called = |at: &str, zone: &str| say!("EVERYONE WAS CALLED OUT at {time}", time = clock(at, zone));
    let event = |what: &str, at: &str, zone: &str| {
        say!("{event} at {time}", event = recorded(what).to_uppercase(), time = clock(at, zone))
    };
    for (what, at) in set.events.iter().filter(|(_, at)| at.seq > since) {
        all.insert(at.seq, event(what, &at.time, &at.zone));
    }
    if let Some(at) = set.roll_void.as_ref().filter(|at| at.seq > since) {
        all.entry(at.seq).or_insert_with(|| called(&at.time, &at.zone));
    }
    for h in told {
        let at = h.data.text("at").unwrap_or(&h.stamp.time);
        let words = match h.kind {
            "call_out" => called(at, &h.stamp.zone),
            "event" => event(h.data.text("what").unwrap_or_default(), at, &h.stamp.zone),
            // Whoever is missing is told of by name.
            "roll_call" => {
                all.remove(&h.stamp.seq);
                continue;
            }
            _ => continue,
        };
        all.insert(h.stamp.seq, words);
    }
    let ends = |words| {
        say!("{words}, and no roll call that found everyone came after it: call the roll first", words)
    };
    all.into_values().map(ends).collect()
}

/// For so long a call that no roll call followed is asked for where no permit is left to tell it, seconds: it is of this day's work.
pub const A_DAY: i64 = 86_400;

/// Sets of which the last call or event of the last day was followed by no roll call that found everyone, though every permit
/// that it concerned has ended without its wearers being seen off.
pub fn unrolled<'a>(known: &'a Known<'_>) -> Vec<(&'a str, &'a Stamp)> {
    let of = |(id, set): (&'a String, &'a super::state::SetState)| {
        let called = set.roll_void.as_ref().filter(|c| known.now.seconds() - seconds(&c.time) <= A_DAY)?;
        let rolled = set.rolled.as_ref().is_some_and(|r| r.seq > called.seq);
        let told = known.state.not_ended(known.time()).any(|p| p.set.id == *id && p.opened.seq < called.seq);
        // What has ended since is asked for last: it may have to be read.
        let ended = |p: &Permit| {
            let mut signed = ["hand_back", "close"].iter().filter_map(|kind| p.last_signed(kind));
            p.set.id == *id && signed.any(|s| s.stamp.seq > called.seq)
        };
        let asked = !rolled && !told && !known.state.permits.values().any(ended);
        asked.then_some((id.as_str(), called))
    };
    known.state.sets.iter().filter_map(of).collect()
}
