//! What befell a permit that is suspended, in words: what happened since, the orders while people are on its air, when the
//! air is gone; and why it was refused or withdrawn. On paper, on the board and on every screen alike.
//!
//! Not here: what each order is (`orders`), what else stands against the air (`warnings`).

use super::orders::{self, Given};
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::Known;
use crate::permit::gone::{self, Gone, air_gone};
use crate::permit::state::{ENDINGS, Permit};
use crate::time::clock;
use crate::tongue::say;
use crate::view::{StateWord, recorded};

/// Why it was refused or withdrawn.
pub(super) fn ended(permit: &Permit) -> Option<String> {
    let of = |kind: &str| {
        let signed = permit.last_signed(kind)?;
        Some((clock(&signed.stamp.time, &signed.stamp.zone), signed.data.text("reason")?))
    };
    match permit.life {
        StateWord::Refused => {
            of("refuse").map(|(time, reason)| say!("REFUSED at {time}: {reason}", time, reason))
        }
        StateWord::Cancelled => {
            of("cancel").map(|(time, reason)| say!("WITHDRAWN at {time}: {reason}", time, reason))
        }
        StateWord::Draft
        | StateWord::Declared
        | StateWord::Live
        | StateWord::Suspended
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Lapsed => None,
    }
}

/// On a suspended permit: who is missing, what happened since, and with people on air the orders and when the air is
/// gone. A drill or a false alarm hides nothing that happened beside it.
pub(super) fn alarm(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    if known.life(permit) != StateWord::Suspended {
        return Vec::new();
    }
    let Some(set) = known.state.sets.get(&permit.set.id) else { return Vec::new() };
    // Whoever breathes this air by another permit or none is under the same alarm.
    let on_air = known.perhaps_on_air_from(&permit.set.id).next().is_some();
    let mut out: Vec<String> = missing(permit).into_iter().collect();
    let stopped = permit.day.iter().filter(|h| h.kind == "suspend" && h.stamp.seq >= permit.since.seq);
    out.extend(stopped.map(|h| {
        say!(
            "STOPPED at {time}: {reason}",
            time = clock(&h.stamp.time, &h.stamp.zone),
            reason = h.data.text("reason").unwrap_or_default()
        )
    }));
    let ending = |what: &str| ENDINGS.contains(&what);
    let mut events: Vec<_> = set.events.iter().filter(|(_, at)| at.seq >= permit.since.seq).collect();
    events.sort_by_key(|(what, at)| (ending(what), at.seq));
    let bench = Bench::new(known.state, permit, texts, known.now);
    let decided = orders::decided(&bench).and_then(|answer| answer.value.as_deref());
    for (what, at) in events {
        let given = Given {
            co: decided,
            no_reserve: texts.set.choice("reserve") == Some("none"),
            // Only what came before this made the reserve feed.
            on_reserve: set.feeding.as_ref().is_some_and(|f| f.from.as_str() < at.time.as_str())
                && (what != "co" || gone::on_reserve_but_for_co(known, &permit.set.id)),
            grave: orders::grave(known, permit),
        };
        let order = if on_air { format!(": {}", orders::of(what, given).wearers) } else { String::new() };
        let (event, time) = (recorded(what).to_uppercase(), clock(&at.time, &at.zone));
        out.push(say!("{event} at {time}", event, time) + &order);
    }
    for kind in ["moved", "plugged", "stopped"] {
        if let Some(h) = set.last.get(kind).filter(|h| h.stamp.seq >= permit.since.seq) {
            let time = clock(h.data.text("at").unwrap_or(&h.stamp.time), &h.stamp.zone);
            out.push(match kind {
                "moved" => say!("THE SET WAS MOVED at {time}", time),
                "plugged" => say!("THE SET WAS PLUGGED IN ELSEWHERE at {time}", time),
                _ => say!("STOPPED at {time}", time),
            });
        }
    }
    if !on_air {
        return out;
    }
    if out.is_empty() {
        let time = clock(&permit.since.time, &permit.since.zone);
        out.push(say!("SUSPENDED at {time} WITH PEOPLE ON AIR: everyone out", time));
    }
    if !set.running() {
        out.push(say!("THE SET IS SAID TO BE STOPPED").into());
    }
    match gone::on_reserve_since(known, &permit.set.id).and_then(|u| air_gone(known, &permit.set.id, u)) {
        Some(Gone::At(at, why)) => {
            let passed = (known.now.seconds() - at) / 60;
            let time = clock(&crate::time::utc(at), &known.now.zone);
            out.push(if passed >= 0 {
                say!("AIR GONE AT {time}, PASSED {passed} min ago: {why}", time, passed, why)
            } else {
                say!("AIR GONE AT {time}: {why}", time, why)
            });
        }
        Some(Gone::NotKnown(why)) => out.push(say!("AIR GONE AT ANY MOMENT: {why}", why)),
        None => {}
    }
    out
}

/// Whom the last roll call since the permit was suspended did not find.
fn missing(permit: &Permit) -> Option<String> {
    let called = permit.day.iter().filter(|h| h.kind == "roll_call" && h.stamp.seq >= permit.since.seq);
    let last = called.max_by_key(|h| h.stamp.seq)?;
    let names = last.data.texts("missing");
    let time = clock(last.data.text("at").unwrap_or(&last.stamp.time), &last.stamp.zone);
    let names = names.join(", ");
    (!names.is_empty()).then(|| say!("MISSING at the roll call of {time}: {names}", time, names))
}
