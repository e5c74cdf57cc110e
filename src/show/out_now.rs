//! Whom nothing lets be on air where they are: the order to each, by name, until they are off; who was called out and is not
//! off when the way out is over. First of what is to be seen, on the board, on every screen and on paper alike.
//!
//! In: the tally, the permits and readings of the set, whether it runs. Not here: the order at an alarm of a suspended permit
//! (`alarm`), the end of a permit with people on its air (`warnings`).

use super::alarm;
use super::orders::{self, Given, Orders};
use crate::permit::bench::{Texts, file};
use crate::permit::decide::{Known, crew};
use crate::permit::gone;
use crate::permit::state::{Happened, OnAir, Permit, SetState, Whereabouts};
use crate::permit::walk;
use crate::time::seconds;
use crate::tongue::say;
use crate::view::{Standing, StateWord};
use num_rational::BigRational;
use std::collections::BTreeSet;

/// Alarms that speak against the air itself: their order goes before that of a set that stands still.
const FOUL_AIR: [&str; 3] = ["co", "temperature", "oil"];

/// The orders to everybody on a set's air whom no live permit of theirs lets be there, and to everybody on it while it
/// stands still; then whoever was called out for longer than the way out takes.
pub fn out_now(known: &Known<'_>, set: &str) -> Vec<String> {
    let mut out = ordered(known, set);
    let on = known.state.on_air.iter().filter(|p| p.set == set);
    out.extend(on.filter_map(|p| still_on(known, p)));
    out
}

/// Whether a set stands still, and who is on its air and nothing lets be there.
fn nobody_lets<'a>(known: &Known<'a>, set: &str) -> (bool, Vec<&'a OnAir>) {
    let on: Vec<&OnAir> = known.state.on_air.iter().filter(|p| p.set == set).collect();
    // Whether one runs that nobody knows here, nobody says.
    let still = known.has_set(set) && !known.state.sets.get(set).is_some_and(SetState::running);
    (still, on.into_iter().filter(|p| still || !let_be(known, p)).collect())
}

fn ordered(known: &Known<'_>, set: &str) -> Vec<String> {
    let (still, out) = nobody_lets(known, set);
    if out.is_empty() {
        return Vec::new();
    }
    let names: Vec<String> = out.iter().map(|p| crew::who(known, &p.person)).collect();
    let (order, names) = (order(known, set, still, &out).wearers, names.join(", "));
    vec![if still {
        say!("{order}: {names}. THE SET STANDS STILL ({set})", order, names, set)
    } else {
        say!("{order}: {names}. No permit lets them be on the air of {set}", order, names, set)
    }]
}

/// The same over all sets, but for those of which a row of the board tells it.
pub fn out_of_no_row(known: &Known<'_>) -> Vec<String> {
    let told: BTreeSet<&str> = known.state.in_use(known.time()).map(|p| p.set.id.as_str()).collect();
    sets(known).into_iter().filter(|set| !told.contains(set)).flat_map(|set| out_now(known, set)).collect()
}

/// The same over all sets: for what stands on every screen.
pub fn out_everywhere(known: &Known<'_>) -> Vec<String> {
    let mut out: Vec<String> = sets(known).into_iter().flat_map(|set| out_now(known, set)).collect();
    out.extend(known.state.on_air.iter().flat_map(|on| comes_out(known, on)));
    out
}

/// Somebody on air of whom an answer that their life hangs on was given since they went on, and holds.
fn comes_out(known: &Known<'_>, on: &OnAir) -> Vec<String> {
    let own = on.permit.as_deref().and_then(|n| known.state.permits.get(n));
    let Some((permit, texts)) = own.and_then(|p| Some((p, known.texts_of(p).ok()?))) else {
        return Vec::new();
    };
    let since = permit.answers.iter().rev().take_while(|a| a.here_since() > on.since.seq);
    let theirs = since.filter(|a| a.form == permit.form.hash && a.item.as_deref() == Some(&on.person));
    let steps: BTreeSet<&str> = theirs.map(|a| a.step.as_str()).collect();
    let critical = steps.into_iter().filter(|id| texts.form.step(id).is_some_and(|(_, s)| s.critical()));
    let bench = known.bench(permit, &texts);
    let holds = critical
        .flat_map(|id| walk::of_step(&bench, id))
        .filter(|s| s.standing == Standing::Hold && s.of_wearer() && s.item_id() == Some(&on.person));
    holds.map(|s| comes_out_now(&super::wearer(known, &texts, &on.person), on, &s.label())).collect()
}

/// The order to one of them, for a reason of their own.
pub(super) fn comes_out_now(name: &str, on: &OnAir, step: &str) -> String {
    let tally = on.whereabouts.words();
    say!("{name} ({tally}) COMES OUT NOW: {step} holds", name, tally, step)
}

/// The order to everybody who is on a suspended permit's air by name, and when that air is gone: for every screen but the board,
/// whose rows tell it.
pub fn out_of_suspended(known: &Known<'_>) -> Vec<String> {
    let mut out = Vec::new();
    for permit in known.state.in_use(known.time()).filter(|p| known.life(p) == StateWord::Suspended) {
        let set = permit.set.id.as_str();
        let still = known.has_set(set) && !known.state.sets.get(set).is_some_and(SetState::running);
        let on = known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&*permit.number));
        let names: Vec<String> = on.map(|p| crew::who(known, &p.person)).collect();
        let Some(texts) = known.texts_of(permit).ok().filter(|_| !still && !names.is_empty()) else {
            continue;
        };
        let order =
            alarm::stands(known, permit, &texts).map_or_else(|| orders::out().to_owned(), |o| o.wearers);
        out.push(say!(
            "{order}: {names}. {permit} is suspended",
            order,
            names = names.join(", "),
            permit = permit.number
        ));
        out.extend(alarm::air_is_gone(known, set));
    }
    out
}

/// Sets with somebody on their air.
fn sets<'a>(known: &Known<'a>) -> BTreeSet<&'a str> {
    known.state.on_air.iter().map(|p| p.set.as_str()).collect()
}

/// Somebody who was called out, and is on air for longer than the way out since.
fn still_on(known: &Known<'_>, on: &OnAir) -> Option<String> {
    let been = known.now.seconds() - called_at(known, on)?;
    let of = |p: &Permit| {
        let texts = known.texts_of(p).ok()?;
        let way_out = texts.job.quantity("way_out")?.value.clone();
        Some((way_out, super::page_one::minutes_up(&texts.job, "way_out")))
    };
    let way_out = match on.permit.as_deref().and_then(|n| known.state.permits.get(n)) {
        Some(own) => of(own),
        // On no permit: by the longest that is known of this air.
        None => {
            let of_set = known.state.in_use(known.time()).filter(|p| p.set.id == on.set);
            of_set.filter_map(of).max_by(|(a, _), (b, _)| a.cmp(b))
        }
    };
    if way_out.as_ref().is_some_and(|(takes, _)| BigRational::from_integer(been.into()) <= *takes) {
        return None;
    }
    let (name, minutes) = (crew::who(known, &on.person), been / 60);
    let Some((_, way_out)) = way_out else {
        return Some(match on.whereabouts {
            Whereabouts::In => say!("{name}: CALLED OUT {minutes} min ago: STILL IN", name, minutes),
            Whereabouts::Outside | Whereabouts::OutOnAir => {
                say!("{name}: CALLED OUT {minutes} min ago: STILL ON AIR", name, minutes)
            }
        });
    };
    Some(match on.whereabouts {
        Whereabouts::In => {
            say!(
                "{name}: CALLED OUT {minutes} min ago, the way out is {way_out}: STILL IN",
                name,
                minutes,
                way_out
            )
        }
        Whereabouts::Outside | Whereabouts::OutOnAir => {
            say!(
                "{name}: CALLED OUT {minutes} min ago, the way out is {way_out}: STILL ON AIR",
                name,
                minutes,
                way_out
            )
        }
    })
}

/// Since when somebody is called out: by the first call, event or stop of the work on their set after they went on air, and
/// after a roll call that found them. UTC second.
fn called_at(known: &Known<'_>, on: &OnAir) -> Option<i64> {
    let state = known.state.sets.get(&on.set);
    let days: Vec<&Happened> = known.state.permits.days_of_set(&on.set, on.since.seq, i64::MIN).collect();
    let found =
        days.iter().filter(|h| h.kind == "roll_call" && h.data.texts("found").contains(&on.person.as_str()));
    let rolled = state.and_then(|s| s.rolled.as_ref()).map(|r| r.seq);
    let after = found.map(|h| h.stamp.seq).chain(rolled).fold(on.since.seq, u64::max);
    let told = days.iter().filter(|h| matches!(h.kind, "call_out" | "event" | "suspend"));
    let told = told.filter(|h| h.stamp.seq > after);
    let told = told.map(|h| h.data.text("at").unwrap_or(&h.stamp.time));
    let apart = state.into_iter().flat_map(|s| s.events.values().chain(&s.roll_void));
    let own = on.permit.as_deref().and_then(|n| known.state.permits.get(n));
    let suspended = own.filter(|p| known.life(p) == StateWord::Suspended).map(|p| &p.since);
    let apart = apart.chain(suspended).filter(|at| at.seq > after).map(|at| at.time.as_str());
    let first = told.chain(apart).map(seconds).min()?;
    Some(first.max(seconds(&on.since.time)))
}

fn at_work(known: &Known<'_>, permit: &Permit) -> bool {
    matches!(known.life(permit), StateWord::Live | StateWord::Suspended)
}

/// Whether somebody's permit is one by which they were let on air. At a suspended one the order is that of its alarm.
fn let_be(known: &Known<'_>, on: &OnAir) -> bool {
    let permit = on.permit.as_deref().and_then(|n| known.state.permits.get(n));
    permit.is_some_and(|p| at_work(known, p))
}

/// The order to whoever is on a set's air and nothing lets be there; `None` where there is nobody.
pub(super) fn stands(known: &Known<'_>, set: &str) -> Option<Orders> {
    let (still, out) = nobody_lets(known, set);
    (!out.is_empty()).then(|| order(known, set, still, &out))
}

/// By what they leave: the strictest order that stands on this air; where the set stands still, as at its loss.
fn order(known: &Known<'_>, set: &str, still: bool, on: &[&OnAir]) -> Orders {
    let of_set = known.state.permits.open().filter(|p| p.set.id == set);
    let permit = of_set.filter(|p| at_work(known, p)).max_by_key(|p| p.opened.seq);
    if let Some((p, texts)) = permit.and_then(|p| Some((p, known.texts_of(p).ok()?))) {
        let loss = still.then(|| loss(known, p, &texts));
        let all = alarm::stands(known, p, &texts).into_iter().chain(loss);
        return orders::strictest(all).unwrap_or_else(no_more_than_out);
    }
    let state = known.state.sets.get(set);
    let went_on = on.iter().map(|p| p.since.seq).min().unwrap_or_default();
    let stands = |what: &&str| state.and_then(|s| s.events.get(*what)).is_some_and(|at| at.seq > went_on);
    let what = match FOUL_AIR.into_iter().find(stands) {
        Some(what) => what,
        None if still => "supply_low",
        None => return no_more_than_out(),
    };
    let text = known.chain.texts.get(&("set".to_owned(), set.to_owned()));
    let values = text.and_then(|t| file("set", &t.text).ok());
    let given = Given {
        no_reserve: values.is_some_and(|v| v.choice("reserve") == Some("none")),
        // Nobody proved it for this start: its valves may be shut.
        spent: Some(orders::unproved()),
        ..Given::default()
    };
    orders::of(what, given)
}

/// Where nothing else is told.
fn no_more_than_out() -> Orders {
    Orders { wearers: orders::out().to_owned(), ..orders::of("other", Given::default()) }
}

/// The order where a permit's set stands still.
fn loss(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Orders {
    let spent = gone::spent(known, permit, texts);
    let given = Given {
        no_reserve: texts.set.choice("reserve") == Some("none"),
        spent: spent.as_deref(),
        ..Given::default()
    };
    orders::of("supply_low", given)
}
