//! `airwrit set ...`: what happens to a set, asked for or reported.
//!
//! Always: what happens to it under people gives its order before anything is kept.

use super::args::{SetCommand, SetThing, Stops};
use super::calling;
use super::gauges::{speaks_against, stop_if_out, suspend_aside};
use super::station::{kept, known_by, not_kept, only, time_not_kept, well_typed};
use super::{End, Outcome, Outside, Place};
use crate::actions::Trouble;
use crate::permit::decide::air;
use crate::permit::decide::answer::clean;
use crate::permit::decide::{Known, Refusal};
use crate::record::json::Json;
use crate::tongue::say;

/// The one set in force, where another word was typed for it: what ends answers is not lost to a slip of the finger.
fn the_only_set(place: &Place, typed: &str, outside: &mut Outside<'_>) -> Result<Option<String>, End> {
    let Ok(looked) = place.look_for(None, outside) else { return Ok(None) };
    let known = looked.known();
    if known.has_set(typed) {
        return Ok(None);
    }
    let Ok(one) = only(&known, "set", None) else { return Ok(None) };
    writeln!(
        outside.err,
        "{}",
        say!(
            "NOTE: no set `{got}` is in force here: it is kept for {set}, the only one",
            got = crate::text::safe_line(typed),
            set = one
        )
    )?;
    Ok(Some(one))
}

/// Where a set was moved to is kept as it is told; that the site knows no such place is said.
fn no_such_place(place: &Place, to: &str, outside: &mut Outside<'_>) -> Outcome {
    let looked = place.look_for(None, outside)?;
    let known = looked.known();
    let mut places: Vec<String> = Vec::new();
    for ((kind, _), text) in &known.chain.texts {
        if kind == "site"
            && let Ok(site) = crate::permit::bench::file("site", &text.text)
        {
            places.extend(site.items("places").iter().map(|p| p.id().to_owned()));
        }
    }
    if places.is_empty() || places.iter().any(|p| p == to) {
        return Ok(());
    }
    writeln!(
        outside.err,
        "{}",
        say!(
            "NOTE: no site file here knows a place `{got}` (known: {known}); it is kept as told",
            got = crate::text::safe_line(to),
            known = places.join(", ")
        )
    )?;
    Ok(())
}

/// Why work stops at something that happened to a set and could not be kept.
fn not_kept_words(kind: &str) -> &'static str {
    match kind {
        "moved" => say!("the set was moved, and that is not kept"),
        "plugged" => say!("the set was plugged, and that is not kept"),
        "serviced" => say!("the set was serviced, and that is not kept"),
        _ => say!("the set was stopped, and that is not kept"),
    }
}

/// What happened to a set, once it is kept.
fn happened_words(kind: &str, set: &str) -> String {
    match kind {
        "started" => say!("{set} started", set),
        "stopped" => say!("{set} stopped", set),
        "moved" => say!("{set} moved", set),
        "plugged" => say!("{set} plugged", set),
        "filled" => say!("{set} filled", set),
        "serviced" => say!("{set} serviced", set),
        _ => say!("{set} air test", set),
    }
}

/// `airwrit set ...`.
pub fn of_set(place: &Place, s: &SetCommand, outside: &mut Outside<'_>) -> Outcome {
    let text = |name: &str, value: &str| (name.to_owned(), Json::from(value));
    let (kind, thing, mut members): (&'static str, &SetThing, Vec<(String, Json)>) = match s {
        SetCommand::Started(t) => ("started", t, Vec::new()),
        SetCommand::Stopped { thing, ordered_by } => {
            ("stopped", thing, ordered_by.iter().map(|h| text("target", h)).collect())
        }
        SetCommand::Moved { thing, place } => ("moved", thing, vec![text("place", &clean(place)?)]),
        SetCommand::Plugged { thing, supply_point } => {
            ("plugged", thing, vec![text("supply_point", &clean(supply_point)?)])
        }
        SetCommand::Filled { thing, from, machine } => {
            let mut m = vec![text("from", from)];
            if let Some(machine) = machine {
                m.push(text("machine", &clean(machine)?));
            }
            ("filled", thing, m)
        }
        SetCommand::Serviced { thing, what, words } => {
            let mut m = vec![text("what", what)];
            if let Some(w) = words {
                m.push(text("words", &clean(w)?));
            }
            ("serviced", thing, m)
        }
        SetCommand::Released(c) => return super::shift::comes(place, "released", c, outside),
        SetCommand::Taken(c) => return super::shift::comes(place, "taken", c, outside),
        SetCommand::AirTest(t) => {
            super::air_test::fits(place, t, outside)?;
            ("air_test", &t.thing, super::air_test::members(t)?)
        }
    };
    if let Some(h) = &thing.hours {
        if !matches!(kind, "started" | "serviced") {
            return Err(End::Usage(say!("`{kind}` keeps no hour meter", kind)));
        }
        let h = h.strip_suffix('h').unwrap_or(h).trim();
        members.extend(super::air_test::quantity_member("hours", Some(&format!("{h} h")))?);
    }
    let by = thing.told.by.clone().unwrap_or_default();
    let ends = matches!(kind, "moved" | "plugged") || kind == "stopped" && thing.report;
    let meant = if ends { the_only_set(place, &thing.set, outside)? } else { None };
    let thing = &SetThing { set: meant.unwrap_or_else(|| thing.set.clone()), ..thing.clone() };
    members.retain(|(name, _)| name != "set");
    members.push(text("set", &thing.set));
    // A set that has stopped under somebody is a loss of supply: the orders come before anything is kept.
    let order = match kind {
        "stopped" if thing.report => Some("supply_low"),
        "moved" | "plugged" => Some(kind),
        // Whatever was opened on it, its air is not what was proved.
        "serviced" => Some("other"),
        _ => None,
    };
    let under = |outside: &Outside<'_>| {
        place
            .look_for(None, outside)
            .is_ok_and(|l| l.known().perhaps_on_air_from(&thing.set).next().is_some())
    };
    if let Some(what) = order.filter(|_| under(outside)) {
        calling::orders(place, what, &Stops { permit: None, set: Some(thing.set.clone()) }, outside);
    }
    // Ordered by an event of this set that is in the register; anything else named so is a request like any other.
    let ordered = if let SetCommand::Stopped { ordered_by: Some(by), .. } = s {
        place.look_for(None, outside).is_ok_and(|l| {
            l.state.sets.get(&thing.set).is_some_and(|s| s.events.values().any(|e| e.hash == *by))
        })
    } else {
        false
    };
    let asks = matches!(kind, "started" | "stopped") && !thing.report && !ordered;
    if asks {
        super::station::asked_now(&thing.told)?;
    }
    // When it was filled, serviced or tested opens gates and is asked again; a start or stop has happened.
    let happened = thing.report || ordered;
    if !happened {
        well_typed(place, &thing.told, outside)?;
    }
    let in_force = |known: &Known<'_>| {
        let set = crate::text::safe_line(&thing.set);
        let none = Refusal::because(say!("no set `{set}` is in force here", set));
        if known.has_set(&thing.set) { Ok(()) } else { Err(none) }
    };
    let line = if asks {
        let request = if kind == "started" {
            say!("start {set}", set = thing.set)
        } else {
            say!("stop {set}", set = thing.set)
        };
        let denied = Some((request.as_str(), None, thing.set.as_str()));
        place.at_desk(outside, None, |desk| {
            desk.at_work(|_, loaded| Ok(in_force(&loaded.known())?))?;
            let decide =
                |known: &Known<'_>| air::request_of_set(known, kind, &thing.set, members.clone(), &by);
            desk.request(decide, denied).map(|(line, _)| line)
        })
    } else {
        place.at_work(outside, |desk, loaded| {
            let mut members = members.clone();
            let known = loaded.known();
            in_force(&known)?;
            members.extend(air::breach_of_set(&known, kind, &thing.set, ordered));
            let told = calling::told(&thing.told, &known);
            let draft = air::of_set(&known, kind, members, &told, &by);
            desk.keep(loaded, &draft)
        })
    };
    let stops = ends || kind == "serviced" && under(outside);
    if let (true, Err(End::Trouble(Trouble::Broken { .. } | Trouble::CouldNot(_)))) = (stops, &line) {
        let on = Stops { permit: None, set: Some(thing.set.clone()) };
        suspend_aside(place, &on, not_kept_words(kind), &thing.told, outside);
    }
    let line = if asks { line } else { not_kept(line, outside) }?;
    if let SetCommand::Moved { place: to, .. } = s {
        no_such_place(place, to, outside)?;
    }
    if happened {
        time_not_kept(place, &thing.told, outside)?;
    }
    kept(&line, &happened_words(kind, &thing.set), outside)?;
    known_by(place, thing.told.by.as_deref(), outside);
    if kind == "filled" {
        let on = Stops { permit: None, set: Some(thing.set.clone()) };
        if under(outside) && speaks_against(place, &thing.set, outside) {
            calling::orders(place, "other", &on, outside);
        }
        stop_if_out(place, &thing.set, &thing.told, outside)?;
    }
    if kind == "serviced" && under(outside) {
        let on = Stops { permit: None, set: Some(thing.set.clone()) };
        let reason = say!("the set was serviced under people on its air");
        super::station::suspend(place, &on, Some(reason), &thing.told, outside)?;
    }
    if kind == "stopped" {
        calling::air_gone(place, &Stops { permit: None, set: Some(thing.set.clone()) }, outside)?;
    }
    match s {
        SetCommand::AirTest(t) => {
            super::air_test::told(place, t, outside)?;
            stop_if_out(place, &t.thing.set, &t.thing.told, outside)
        }
        SetCommand::Started(_)
        | SetCommand::Stopped { .. }
        | SetCommand::Moved { .. }
        | SetCommand::Plugged { .. }
        | SetCommand::Filled { .. }
        | SetCommand::Serviced { .. }
        | SetCommand::Released(_)
        | SetCommand::Taken(_) => Ok(()),
    }
}
