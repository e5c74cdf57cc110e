//! What befell a permit that is suspended, in words: what happened since, the orders while people are on its air, when the
//! air is gone; and why it was refused or withdrawn. On paper, on the board and on every screen alike.
//!
//! Not here: what each order is (`orders`), what else stands against the air (`warnings`).

use super::orders::{self, By, Given, Orders};
use super::out_now::out_now;
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::{Known, crew};
use crate::permit::gone::{self, Gone, air_gone};
use crate::permit::state::{ENDINGS, Permit, Stamp};
use crate::permit::watch;
use crate::time::clock;
use crate::tongue::say;
use crate::view::{StateWord, recorded, typed};

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

/// Who was not seen outside, who is missing; on a suspended permit what happened since, and with people on air the orders and when the air is
/// gone. A drill or a false alarm hides nothing that happened beside it.
pub(super) fn alarm(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let mut out = crew::unseen_in_words(known, permit);
    out.extend(crew::missing_in_words(known, permit));
    if known.life(permit) != StateWord::Suspended {
        return out;
    }
    let Some(set) = known.state.sets.get(&permit.set.id) else { return out };
    // Whoever breathes this air by another permit or none is under the same alarm.
    let on_tally = under_it(known, permit);
    let lost = looked_for(known, permit);
    let on_air = on_tally || lost;
    // The order that stands, then until when there is air, then everything else, and why it was stopped. All leave on one air:
    // what else happened is told without an order, unless it is to one of them.
    let first = out.len();
    let events = orders_of(known, permit, texts);
    let standing = standing(&events);
    let mut ordered = false;
    let mut told = Vec::new();
    for e in events.iter().filter(|e| on_air || e.at.is_some()) {
        let stands = !ordered && e.stands && Some(e.orders.by) == standing.as_ref().map(|o| o.by);
        let order = if on_air && e.stands && (stands || orders::to_one(&e.what)) {
            format!(": {}", e.orders.wearers)
        } else {
            String::new()
        };
        let event = recorded(&e.what).to_uppercase();
        let words = match &e.at {
            Some(at) => say!("{event} at {time}", event, time = clock(&at.time, &at.zone)) + &order,
            None => event + &order,
        };
        if stands {
            told.insert(0, words);
        } else {
            told.push(words);
        }
        ordered |= stands;
    }
    // Stopped for whatever else: the order all the same.
    if on_tally && !ordered && out_now(known, &permit.set.id).is_empty() {
        let time = clock(&permit.since.time, &permit.since.zone);
        told.insert(0, say!("SUSPENDED at {time} WITH PEOPLE ON AIR: everyone out", time));
    }
    out.extend(told);
    if on_air && let Some(gone) = air_is_gone(known, &permit.set.id) {
        out.insert(out.len().min(first + 1), gone);
    }
    if lost {
        let spent = gone::spent(known, permit, texts);
        let given = Given {
            no_reserve: texts.set.choice("reserve") == Some("none"),
            spent: spent.as_deref(),
            co_told: orders::co_told(known, permit),
            others: orders::to_others(standing.as_ref()),
            ..Given::default()
        };
        let order = orders::of("wearer_silent", given);
        out.push(format!("{}. {}", order.wearers, order.set));
    }
    let called = permit.day.iter().rev().find(|h| h.kind == "call_out" && h.stamp.seq >= permit.since.seq);
    out.extend(
        called.map(|h| say!("EVERYONE WAS CALLED OUT at {time}", time = clock(&h.stamp.time, &h.stamp.zone))),
    );
    for kind in ["moved", "plugged", "stopped"] {
        if let Some(h) = set.last.get(kind).filter(|h| h.stamp.seq >= permit.since.seq) {
            let time = clock(h.data.text("at").unwrap_or(&h.stamp.time), &h.stamp.zone);
            out.push(match kind {
                "moved" => say!("THE SET WAS MOVED at {time}", time),
                "plugged" => say!("THE SET WAS PLUGGED IN ELSEWHERE at {time}", time),
                _ => say!("THE SET STOPPED at {time}", time),
            });
        }
    }
    let stopped = permit.day.iter().filter(|h| h.kind == "suspend" && h.stamp.seq >= permit.since.seq);
    out.extend(stopped.map(|h| {
        say!(
            "THE WORK WAS STOPPED at {time}: {reason}",
            time = clock(&h.stamp.time, &h.stamp.zone),
            reason = typed(h.data.text("reason").unwrap_or_default())
        )
    }));
    // By the tally they are told of by name.
    if on_air && !set.running() && out_now(known, &permit.set.id).is_empty() {
        out.push(say!("THE SET IS SAID TO BE STOPPED").into());
    }
    out
}

/// An event since a permit was suspended, or a gauge that speaks against it, with its orders as things stand.
struct Ordered {
    what: String,
    at: Option<Stamp>,
    /// Nothing on this air was reinstated since.
    stands: bool,
    orders: Orders,
}

/// Of what stands the strictest order.
fn standing(all: &[Ordered]) -> Option<Orders> {
    orders::strictest(all.iter().filter(|e| e.stands).map(|e| e.orders.clone()))
}

/// Where something was reinstated last on a permit's air: what was told before is over for whoever went on since.
fn reinstated(known: &Known<'_>, permit: &Permit) -> u64 {
    let of_set = known.state.permits.open().filter(|p| p.set.id == permit.set.id);
    of_set.filter_map(|p| p.last_signed("reinstate")).map(|s| s.stamp.seq).max().unwrap_or_default()
}

/// Whether somebody may be on the air of a suspended permit's set under what suspended it: by this permit, another or none, but
/// not by one that was reinstated since and is live.
fn under_it(known: &Known<'_>, permit: &Permit) -> bool {
    known.perhaps_on_air_from(&permit.set.id).any(|on| {
        let own = on.permit.as_deref().and_then(|n| known.state.permits.get(n));
        let since = own.and_then(|p| p.last_signed("reinstate")).map_or(0, |s| s.stamp.seq);
        let live = own.is_some_and(|p| known.life(p) == StateWord::Live);
        !(live && since > permit.since.seq && on.since.seq > since)
    })
}

/// Events first that no drill ends.
fn orders_of(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Ordered> {
    let Some(set) = known.state.sets.get(&permit.set.id) else { return Vec::new() };
    let ending = |what: &str| ENDINGS.contains(&what);
    let mut events: Vec<_> = set.events.iter().filter(|(_, at)| at.seq >= permit.since.seq).collect();
    events.sort_by_key(|(what, at)| (ending(what), at.seq));
    let bench = Bench::new(known.state, permit, texts, known.now);
    let decided = orders::decided(&bench).and_then(|answer| answer.value.as_deref());
    let spent = gone::spent(known, permit, texts);
    let given = |on_reserve| Given {
        co: decided,
        no_reserve: texts.set.choice("reserve") == Some("none"),
        on_reserve,
        spent: spent.as_deref(),
        grave: orders::grave(known, permit),
        co_told: orders::co_told(known, permit),
        others: None,
    };
    // For whoever is on it since before, nothing is over.
    let over = reinstated(known, permit);
    let first_on = known.perhaps_on_air_from(&permit.set.id).map(|p| p.since.seq).min();
    let over = if looked_for(known, permit) { 0 } else { first_on.map_or(over, |on| over.min(on)) };
    let before = |what: &str, at: &Stamp| gone::on_reserve_before(known, &permit.set.id, what, at);
    let of_event = |what: &str, at: &Stamp| Ordered {
        what: what.to_owned(),
        stands: at.seq > over,
        orders: orders::of(what, given(before(what, at))),
        at: Some(at.clone()),
    };
    let mut out: Vec<Ordered> = events.iter().map(|(what, at)| of_event(what, at)).collect();
    // A gauge that was never told as an event: its order all the same.
    let against = watch::gauges_against(known, permit, texts).into_iter();
    let untold = against.filter(|of| !events.iter().any(|(what, _)| *what == of.event));
    out.extend(untold.map(|of| Ordered {
        stands: true,
        orders: orders::of(of.event, given(before(of.event, &of.at))),
        what: of.gauge,
        at: None,
    }));
    // To one of them first: the others leave as it stands for all.
    let others_leave = orders::to_others(standing(&out).as_ref()).map(str::to_owned);
    for e in out.iter_mut().filter(|e| orders::to_one(&e.what)) {
        if let Some(at) = &e.at {
            let given = Given { others: others_leave.as_deref(), ..given(before(&e.what, at)) };
            e.orders = orders::of(&e.what, given);
        }
    }
    out
}

/// The order at a carbon monoxide alarm as things stand: as it was decided, unless something stricter stands or overtook it.
pub(super) fn at_co(known: &Known<'_>, permit: &Permit, texts: &Texts) -> String {
    let bench = Bench::new(known.state, permit, texts, known.now);
    let spent = gone::spent(known, permit, texts);
    let given = Given {
        co: orders::decided(&bench).and_then(|answer| answer.value.as_deref()),
        no_reserve: texts.set.choice("reserve") == Some("none"),
        on_reserve: gone::on_reserve_but_for_co(known, &permit.set.id),
        spent: spent.as_deref(),
        ..Given::default()
    };
    let own = orders::of("co", given);
    // Whom no permit lets be there may be told more strictly: one air, one order.
    let strays = super::out_now::stands(known, &permit.set.id);
    let all = std::iter::once(own.clone()).chain(stands(known, permit, texts)).chain(strays);
    orders::strictest(all).unwrap_or(own).wearers
}

/// The order by which people leave a suspended permit's air as things stand; `None` where it is not suspended, or by nothing that
/// has an order.
pub fn stands(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<Orders> {
    if known.life(permit) != StateWord::Suspended {
        return None;
    }
    standing(&orders_of(known, permit, texts))
}

/// The same of a set's air: the strictest of its suspended permits.
fn stands_on(known: &Known<'_>, set: &str) -> Option<Orders> {
    let of_set = known.state.in_use(known.time()).filter(|p| p.set.id == set);
    orders::strictest(of_set.filter_map(|p| stands(known, p, &*known.texts_of(p).ok()?)))
}

/// By what whoever is on a set's air leaves as things stand, in words; `None` where nothing orders them out.
pub fn leave_by_order(known: &Known<'_>, set: &str) -> Option<String> {
    let all = stands_on(known, set).into_iter().chain(super::out_now::stands(known, set));
    orders::strictest(all).map(|order| order.wearers)
}

/// Until when there is air on the reserve, in words; where the order that stands is not to breathe it, for whoever does.
pub fn of_the_reserve(known: &Known<'_>, set: &str, gone: String) -> String {
    match stands_on(known, set) {
        Some(order) if order.by == By::Escape => say!("WHO BREATHES THE RESERVE ALL THE SAME: {gone}", gone),
        Some(_) | None => gone,
    }
}

/// Whether somebody of a permit's set is looked for: they may breathe its air, whatever the tally says.
fn looked_for(known: &Known<'_>, permit: &Permit) -> bool {
    let mut of_set = known.state.permits.open().filter(|p| p.set.id == permit.set.id);
    of_set.any(|p| crew::is_looked_for(known, p))
}

/// What of it is to be done now: whom nothing lets be on this air; on a suspended permit while people may be on it, the rest.
/// Who is lost is told apart.
pub(super) fn urgent(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let mut out = out_now(known, &permit.set.id);
    if known.life(permit) == StateWord::Suspended && (under_it(known, permit) || looked_for(known, permit)) {
        let lost = crew::lost_in_words(known, permit);
        out.extend(alarm(known, permit, texts).into_iter().filter(|line| !lost.contains(line)));
    }
    out
}

/// Until when there is air on the reserve of a set, while people may be breathing it.
pub(super) fn air_is_gone(known: &Known<'_>, set: &str) -> Option<String> {
    let from = gone::on_reserve_since(known, set)?;
    let words = match air_gone(known, set, from)? {
        Gone::At(at, why) => {
            let passed = (known.now.seconds() - at) / 60;
            let time = clock(&crate::time::utc(at), &known.now.zone);
            if passed >= 0 {
                say!("AIR MAY BE GONE SINCE {time}, {passed} min ago: {why}", time, passed, why)
            } else {
                say!("AIR MAY BE GONE FROM {time} ON: {why}", time, why)
            }
        }
        Gone::NotKnown(why) => say!("AIR GONE AT ANY MOMENT: {why}", why),
    };
    Some(of_the_reserve(known, set, words))
}
