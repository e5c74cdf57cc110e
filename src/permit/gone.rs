//! When the air is gone: after an event, on the reserve alone.
//!
//! In: the last reading of the reserve, everybody on air from the set or looked for who may be, what their respirators can
//! draw at the most, or a cut hose gives.
//! Out: a time, counted from the event or from a later reading, never from the clock; it is worked out anew only from a
//! new reading. Always: real gas, the set's whole range of temperature, to the floor, rounded down; unknown where one
//! of them is unknown. Not here: a time until the leave-by pressure is reached, which nobody is shown.

use super::bench::{Texts, quantity};
use super::decide::{Known, crew};
use super::state::{Permit, SetState, Stamp};
use super::watch;
use crate::checklist::Each;
use crate::gate::endurance;
use crate::record::json::Json;
use crate::site::Values;
use crate::time::{clock, seconds};
use crate::tongue::{say, say_n};
use crate::units::{Dimension, Quantity, Rounding, unit};
use crate::view::StateWord;
use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};
use std::rc::Rc;

/// The step at which the reserve is read after the change-over was proved.
const RESERVE_AGAIN: &str = "reserve_again";

/// When the air is gone, or why nobody can say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Gone {
    /// UTC second, and what that rests on.
    At(i64, String),
    /// In words.
    NotKnown(String),
}

/// Since when people may be breathing the reserve of a set: an event after which it was neither filled nor was anybody
/// let on this air again; or a gauge that tells the same as such an event, and stands.
pub fn on_reserve_since(known: &Known<'_>, set: &str) -> Option<i64> {
    let told = known.state.sets.get(set)?.feeding.as_ref().map(|f| seconds(&f.from));
    let read = by_gauges(known, set, &["co", "supply_low", "reserve_low"]);
    told.into_iter().chain(read).min()
}

/// Since when a gauge of a suspended permit of the set tells one of these events, by a reading after the last fill.
fn by_gauges(known: &Known<'_>, set: &str, events: &[&str]) -> Option<i64> {
    let filled = known.state.sets.get(set).and_then(|s| s.last.get("filled")).map_or(0, |h| h.stamp.seq);
    let stopped = known.state.in_use(known.time());
    let stopped = stopped.filter(|p| p.set.id == set && known.life(p) == StateWord::Suspended);
    let read = stopped
        .flat_map(|p| known.texts_of(p).map_or_else(|_| Vec::new(), |t| watch::gauges_against(known, p, &t)));
    let read = read.filter(|of| events.contains(&of.event) && of.at.seq > filled);
    read.map(|of| seconds(&of.at.time)).min()
}

/// Whether the reserve feeds by something else than a carbon monoxide alarm: at that the order stands that was given first.
pub fn on_reserve_but_for_co(known: &Known<'_>, set: &str) -> bool {
    let Some(state) = known.state.sets.get(set) else { return false };
    if by_gauges(known, set, &["supply_low", "reserve_low"]).is_some() {
        return true;
    }
    let Some(feeding) = &state.feeding else { return false };
    let since = |time: &str| time >= feeding.from.as_str();
    let others = ["change_over", "supply_low", "reserve_low", "temperature", "oil"];
    others.iter().any(|e| state.events.get(*e).is_some_and(|at| since(&at.time)))
        || state.last.get("stopped").is_some_and(|h| since(&h.stamp.time))
}

/// Why nobody leaves on the reserve of a permit's set: by the last that is known nothing is left in it. `None` where something
/// is, where that is not known, and where there is none.
pub fn spent(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    if texts.set.choice("reserve") == Some("none") {
        return None;
    }
    let set = permit.set.id.as_str();
    if permit.shutdown_begun && !known.state.sets.get(set).is_some_and(SetState::running) {
        // Its valves may be shut by now, or it vented.
        return Some(say!("NOBODY KNOWS WHETHER THE RESERVE IS OPEN").to_owned());
    }
    let floor = texts.set.quantity("reserve_floor").or_else(|| texts.set.quantity("reserve_minimum"));
    if let (Some((read, (time, zone))), Some(floor)) = (least_read(known, set, permit, texts), floor)
        && read.dimension == floor.dimension
        && read.value <= floor.value
    {
        let (read, time) = (read.words(unit("bar"), Rounding::Down), clock(&time, &zone));
        return Some(say!("NOTHING IS LEFT IN THE RESERVE, read as {read} at {time}", read, time));
    }
    if went_on_while_still(known, set) {
        return Some(say!("NOBODY KNOWS WHETHER THE RESERVE IS OPEN").to_owned());
    }
    let from = on_reserve_since(known, set)?;
    let gone = match air_gone(known, set, from)? {
        // Of those whose draw is known it may be gone already: whoever else draws on it makes it no longer.
        Gone::NotKnown(_) => at_the_latest(known, set, from)?,
        gone @ Gone::At(..) => gone,
    };
    match gone {
        Gone::At(second, _) if second <= known.now.seconds() => {
            let time = clock(&crate::time::utc(second), &known.now.zone);
            Some(say!("THE RESERVE MAY BE GONE SINCE {time}", time))
        }
        Gone::At(..) | Gone::NotKnown(_) => None,
    }
}

/// Whether a set stands still, and somebody is on its air for whom the reserve never took over: its valves may be shut.
fn went_on_while_still(known: &Known<'_>, set: &str) -> bool {
    let Some(state) = known.state.sets.get(set).filter(|s| !s.running()) else { return false };
    let stopped = state.last.get("stopped").map_or("", |h| &*h.stamp.time);
    let fed = state.feeding.as_ref().is_some_and(|f| f.from.as_str() <= stopped);
    !fed && known.state.on_air.iter().any(|p| p.set == set)
}

/// Whether the reserve fed already when an event came: only what came before it made it feed.
pub fn on_reserve_before(known: &Known<'_>, set: &str, what: &str, at: &Stamp) -> bool {
    on_reserve_since(known, set).is_some_and(|from| from < seconds(&at.time))
        && (what != "co" || on_reserve_but_for_co(known, set))
}

/// Somebody who draws on the reserve, or may.
struct Breather<'a> {
    person: &'a str,
    permit: Option<&'a str>,
    /// Off the tally, and looked for.
    lost: bool,
}

/// Everybody on air from a set by the tally, and whoever is looked for and may have its mask on: a tally that says that they
/// are off was only told.
fn breathers<'a>(known: &Known<'a>, set: &str) -> Vec<Breather<'a>> {
    let on = known.state.on_air.iter().filter(|p| p.set == set || !known.has_set(&p.set));
    let mut out: Vec<Breather<'a>> =
        on.map(|p| Breather { person: &p.person, permit: p.permit.as_deref(), lost: false }).collect();
    for p in known.state.permits.open().filter(|p| p.set.id == set && crew::is_looked_for(known, p)) {
        for person in crew::lost(known, p) {
            let there = known.state.on_air.iter().any(|o| o.person == person)
                || out.iter().any(|b| b.person == person);
            if !there && was_to_wear(p, person) {
                out.push(Breather { person, permit: Some(&p.number), lost: true });
            }
        }
    }
    out
}

/// Whether somebody is a wearer of a permit, or was told to be on its air.
fn was_to_wear(p: &Permit, person: &str) -> bool {
    let planned = matches!(p.job.get("wearers"), Some(Json::Arr(all)) if all.iter().any(|w| w.text("person") == Some(person)));
    planned || p.day.iter().any(|h| h.kind == "on_air" && h.data.text("person") == Some(person))
}

/// For a set that lives on its reserve since `from` (UTC second). `None` where nobody is on its air, by the tally or looked for.
pub fn air_gone(known: &Known<'_>, set: &str, from: i64) -> Option<Gone> {
    let on = breathers(known, set);
    let texts = the_texts(known, set, &on);
    if on.is_empty() {
        return None;
    }
    let Some((permit, texts)) = texts else {
        return Some(Gone::NotKnown(say!("nobody on this air is on a permit").into()));
    };
    if texts.set.choice("reserve") == Some("none") {
        return Some(Gone::At(from, say!("there is no reserve").into()));
    }
    Some(worked_out(known, set, (from, true), &on, permit, &texts).unwrap_or_else(Gone::NotKnown))
}

/// The same with those left out of whom nobody knows what they draw: then it is gone at the latest.
fn at_the_latest(known: &Known<'_>, set: &str, from: i64) -> Option<Gone> {
    let on = breathers(known, set);
    let (permit, texts) = the_texts(known, set, &on)?;
    worked_out(known, set, (from, false), &on, permit, &texts).ok()
}

fn the_texts<'a>(known: &Known<'a>, set: &str, on: &[Breather<'_>]) -> Option<(&'a Permit, Rc<Texts>)> {
    let of = |number: &str| known.state.permits.get(number);
    let permits = on.iter().filter_map(|p| of(p.permit?)).filter(|p| p.set.id == set);
    permits.max_by_key(|p| p.opened.seq).and_then(|p| Some((p, known.texts_of(p).ok()?)))
}

fn worked_out(
    known: &Known<'_>,
    set: &str,
    (from, all): (i64, bool),
    on: &[Breather<'_>],
    permit: &Permit,
    texts: &Texts,
) -> Result<Gone, String> {
    let (read, at) = least_read(known, set, permit, texts)
        .ok_or(say!("the reserve was not read, or not since it was filled"))?;
    let warned = known.state.sets.get(set).and_then(|s| s.events.get("reserve_low"));
    // What the warning leaves nobody has read: at the latest, it is gone by what was read before.
    if let Some(warned) = warned.filter(|w| all && w.time > at.0) {
        return Err(say!(
            "the low-reserve alarm of {warned} came after the last reading, of {read}",
            warned = clock(&warned.time, &warned.zone),
            read = clock(&at.0, &known.now.zone)
        ));
    }
    let field = |values: &Values, field: &'static str| -> Result<Quantity, String> {
        let found = values.quantity(field).cloned();
        found.ok_or_else(|| say!("{field} is not known", field = field.replace('_', " ")))
    };
    let mut draw = none(Dimension::Flow);
    // Whoever was on it after that reading has drawn from it, though they are off by now: a time is never told later for
    // somebody's leaving, only for a new reading.
    let feeding = known.state.sets.get(set).and_then(|s| s.feeding.as_ref());
    let left = feeding.into_iter().flat_map(|f| &f.on).filter(|(p, off)| {
        let still = on.iter().any(|o| o.person == p.person);
        !still && off.as_ref().is_some_and(|off| *off > at.0)
    });
    let mut left: Vec<(&str, Option<&str>)> =
        left.map(|(p, _)| (p.person.as_str(), p.permit.as_deref())).collect();
    // A gauge that tells it keeps no list of them.
    if feeding.is_none() {
        for h in known.state.permits.days_of_set(set, permit.opened.seq, i64::MIN) {
            let off = h.kind == "off_air" && h.data.text("at").unwrap_or(&h.stamp.time) > at.0.as_str();
            let Some(person) = h.data.text("person").filter(|_| off) else { continue };
            if !on.iter().any(|o| o.person == person) && !left.iter().any(|(p, _)| *p == person) {
                let theirs = known.state.permits.open().filter(|p| p.set.id == set);
                left.push((person, theirs.filter(|p| was_to_wear(p, person)).map(|p| &*p.number).next()));
            }
        }
    }
    let on_it = on.iter().map(|b| (b.person, b.permit));
    for (person, permit) in on_it.chain(left.iter().copied()) {
        match most(known, person, permit) {
            Ok(one) => draw.value += one.value,
            Err(why) if all => return Err(why),
            Err(_) => {}
        }
    }
    for p in known.state.not_ended(known.time()).filter(|p| p.set.id == set && at_work(known.life(p))) {
        for c in known.texts_of(p)?.job.items("consumers") {
            draw.value += field(c, "flow")?.value;
        }
    }
    let bench = known.bench(permit, texts);
    let mut volume = none(Dimension::Volume);
    for c in bench.items(&Each::Set("cylinders".into())) {
        volume.value += field(&c.values, "volume")?.value;
    }
    let flow = draw.words(unit("L/min"), Rounding::Up);
    let lasts = endurance(&[
        read.clone(),
        volume,
        field(&texts.set, "ambient_to")?,
        field(&texts.set, "ambient_from")?,
        field(&texts.set, "reserve_floor")?,
        field(&texts.site, "ambient_pressure")?,
        draw,
    ])?;
    // Counted from the change to the reserve, or from a reading after it. A duration's base is the second.
    let begins = from.max(seconds(&at.0));
    let lasts = lasts.value.floor().to_integer().to_i64().unwrap_or(0);
    let shown = read.words(unit("bar"), Rounding::Down);
    let mut rests_on = say_n!(
        on.len() + left.len(),
        "by the reserve read as {shown} at {time}, {n} person on it drawing {flow}, all they can",
        "by the reserve read as {shown} at {time}, {n} persons on it drawing {flow}, all they can",
        shown,
        flow,
        time = clock(&at.0, &at.1),
    );
    if !left.is_empty() {
        rests_on = say_n!(
            left.len(),
            "{why}; {n} who is off it since that reading counted among them",
            "{why}; {n} who are off it since that reading counted among them",
            why = rests_on
        );
    }
    let lost: Vec<String> = on.iter().filter(|b| b.lost).map(|b| crew::who(known, b.person)).collect();
    if !lost.is_empty() {
        rests_on = say!(
            "{why}; counted among them, and looked for: {names}",
            why = rests_on,
            names = lost.join(", ")
        );
    }
    Ok(Gone::At(begins + lasts, rests_on))
}

fn none(dimension: Dimension) -> Quantity {
    Quantity { value: BigRational::zero(), dimension }
}

const fn at_work(life: StateWord) -> bool {
    matches!(life, StateWord::Live | StateWord::Suspended)
}

/// The most that somebody's respirator can draw; while a hose is told to be off or cut, and nobody knows whose, what their outlet
/// gives if that is more.
fn most(known: &Known<'_>, person: &str, permit: Option<&str>) -> Result<Quantity, String> {
    let nobody_says = || say!("what {person} draws is not known", person);
    let permit = permit.and_then(|n| known.state.permits.get(n)).ok_or_else(nobody_says)?;
    let texts = known.texts_of(permit)?;
    let wearer = texts.job.item("wearers", person).ok_or_else(nobody_says)?;
    let most = wearer.quantity("most").cloned().ok_or_else(nobody_says)?;
    let hose = known.state.sets.get(&permit.set.id).and_then(|s| s.events.get("hose"));
    if !hose.is_some_and(|at| known.life(permit) == StateWord::Suspended && at.seq >= permit.since.seq) {
        return Ok(most);
    }
    let on = known.state.on_air.iter().find(|p| p.person == person).and_then(|p| p.outlet.as_deref());
    let outlet = texts.set.item("outlets", on.or(wearer.text("outlet")).unwrap_or_default());
    let limited = outlet.filter(|o| o.choice("kind") == Some("limited"));
    let gives = limited.and_then(|o| o.quantity("flow_limit")).filter(|q| q.dimension == most.dimension);
    let gives = gives.ok_or_else(|| say!("what a cut hose of {person} gives is not known", person))?;
    Ok(if gives.value > most.value { gives.clone() } else { most })
}

/// The least of the last readings of the set's cylinders, and when it was read: time and zone.
fn least_read(
    known: &Known<'_>,
    set: &str,
    permit: &Permit,
    texts: &Texts,
) -> Option<(Quantity, (String, String))> {
    let bench = known.bench(permit, texts);
    let mut readings: Vec<Read> = Vec::new();
    for c in bench.items(&Each::Set("cylinders".into())) {
        if let Some(a) = bench.answers(RESERVE_AGAIN, Some(&c.id)).last()
            && let Some(q) = a.value.as_deref().and_then(|v| quantity(v, a.unit.as_deref().and_then(unit)))
        {
            let at = a.at.clone().unwrap_or_else(|| a.stamp.time.to_string());
            readings.push(Read {
                of: Some(c.id.clone()),
                seq: a.stamp.seq,
                value: q,
                at: (at, a.stamp.zone.to_string()),
            });
        }
    }
    let since = known.state.permits.days_of_set(set, permit.opened.seq, i64::MIN);
    for h in since.filter(|h| h.kind == "reading") {
        if h.data.text("what") != Some("reserve") {
            continue;
        }
        let read = h.data.text("value").and_then(|v| quantity(v, h.data.text("unit").and_then(unit)));
        let at = h.data.text("at").unwrap_or(&h.stamp.time).to_owned();
        if let Some(value) = read {
            let of = h.data.text("item").map(str::to_owned);
            readings.push(Read { of, seq: h.stamp.seq, value, at: (at, h.stamp.zone.to_string()) });
        }
    }
    // What was read before the last fill says nothing of what is in the cylinders now.
    let filled = known.state.sets.get(set).and_then(|s| s.last.get("filled")).map_or(0, |h| h.stamp.seq);
    readings.retain(|r| r.seq > filled);
    // One without its cylinder's name speaks of all of them.
    let last = |r: &&Read| {
        !readings.iter().any(|o| (&o.at.0, o.seq) > (&r.at.0, r.seq) && (o.of == r.of || o.of.is_none()))
    };
    let least = readings.iter().filter(last).min_by(|a, b| a.value.value.cmp(&b.value.value))?;
    Some((least.value.clone(), least.at.clone()))
}

/// A reading of the reserve.
struct Read {
    /// Cylinder, where one was named.
    of: Option<String>,
    seq: u64,
    value: Quantity,
    /// Time and zone.
    at: (String, String),
}
