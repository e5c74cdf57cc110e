//! `airwrit reading`: what the watch reads while people are on air, judged as soon as it is told.
//!
//! Always: out of its limits it gives its order before anything else, suspends what is live on that air, and does both
//! where the register cannot take it too.

use super::args::{OnWhat, Reading, Stops, ToldArgs};
use super::calling::{self, Report};
use super::station::{not_kept, report, suspend};
use super::{End, Outcome, Outside, Place, Tells};
use crate::actions::Trouble;
use crate::permit::decide::air;
use crate::permit::decide::answer::clean;
use crate::permit::state::{Happened, Permit, Stamp};
use crate::permit::{due, watch};
use crate::record::json::{Json, sorted};
use crate::text::safe_line;
use crate::tongue::say;
use crate::units::Dimension;
use crate::view::{StateWord, recorded};

/// A cylinder by its id, or by what it is called: a slip of the finger would stand as one that nobody can read again.
fn the_cylinder(place: &Place, permit: &str, typed: &str, outside: &mut Outside<'_>) -> Result<String, End> {
    let looked = place.look_for(Some(permit), outside)?;
    let known = looked.known();
    let Some(texts) = known.state.permits.get(permit).and_then(|p| known.texts(p).ok()) else {
        return Ok(typed.to_owned());
    };
    let all = texts.set.items("cylinders");
    let ids: Vec<&str> = all.iter().map(|c| c.id()).collect();
    if ids.is_empty() || ids.contains(&typed) {
        return Ok(typed.to_owned());
    }
    let plain = typed.trim().to_lowercase();
    let called = |c: &&crate::site::Values| {
        let names = c.words("name").map(|w| [w.own().to_lowercase(), w.get(&texts.language).to_lowercase()]);
        c.id().to_lowercase() == plain || names.is_some_and(|n| n.contains(&plain))
    };
    // Of two that are called so, none is meant.
    if let [one] = all.iter().filter(called).collect::<Vec<_>>().as_slice() {
        return Ok(one.id().to_owned());
    }
    Err(End::Usage(say!(
        "the set has no cylinder `{got}`, wanted one of: {known}",
        got = crate::text::safe_line(typed),
        known = ids.join(", ")
    )))
}

/// Whether anything that was read, tested or filled speaks against people being on a set's air.
pub(super) fn speaks_against(place: &Place, set: &str, outside: &Outside<'_>) -> bool {
    place.look_for(None, outside).is_ok_and(|looked| {
        let known = looked.known();
        let at_work =
            |p: &&Permit| p.set.id == set && matches!(known.life(p), StateWord::Live | StateWord::Suspended);
        known.state.not_ended(known.time()).filter(at_work).any(|p| {
            // What cannot be judged does not speak for it.
            known.texts(p).map_or(true, |texts| !watch::against(&known, p, &texts).is_empty())
        })
    })
}

/// A reading that the register does not take is judged all the same: out of its limits it gives its order, and what is
/// written aside suspends.
fn unkept_reading(place: &Place, r: &Reading, members: Vec<(String, Json)>, outside: &mut Outside<'_>) {
    let Ok(looked) = place.look_for(Some(&r.permit), outside) else { return };
    let known = looked.known();
    let Some(permit) = known.state.permits.get(&r.permit) else { return };
    let Ok(texts) = known.texts(permit) else { return };
    let stamp = Stamp {
        seq: u64::MAX,
        time: known.time().to_owned().into(),
        zone: known.now.zone.clone().into(),
        ..permit.opened.clone()
    };
    let read = Happened { stamp, kind: "reading", data: sorted(members) };
    let Some(why) = watch::judged(&known, permit, &texts, &read) else { return };
    let _ = outside.tell(Tells::OutOfLimits, out_of_limits(&why));
    let on = Stops { permit: Some(r.permit.clone()), set: None };
    calling::orders(place, watch::event_of(&texts, &read.data), &on, outside);
    suspend_aside(place, &on, &say!("out of limits, and not kept: {why}", why), &r.told, outside);
}

fn out_of_limits(why: &str) -> String {
    say!("OUT OF LIMITS: {why}", why = crate::text::safe_line(why))
}

/// What a report that the register does not take would have suspended is suspended by what is written aside.
pub(super) fn suspend_aside(place: &Place, on: &Stops, why: &str, t: &ToldArgs, outside: &mut Outside<'_>) {
    for (permit, set) in calling::each_concerned(place, on.permit.as_deref(), on.set.as_deref(), outside) {
        let mut aside = Report::new("suspend", permit.as_deref(), set.as_deref(), t, place, outside);
        aside.members.push(("reason".to_owned(), air::kept_or(why, say!("no reason given")).into()));
        calling::aside(place, aside, outside);
    }
}

/// A value as people say it: `barg` and `psig` are the gauge pressures that bar and psi are here; true where it is below
/// an instrument's lowest mark.
fn as_said(value: &str) -> (String, bool) {
    let value = value.trim();
    let (value, below) = value.strip_prefix('<').map_or((value, false), |v| (v.trim_start(), true));
    let gauge = |ending: &str| {
        let at = value.len().checked_sub(ending.len())?;
        let (head, tail) = (value.get(..at)?, value.get(at..)?);
        tail.eq_ignore_ascii_case(ending).then(|| format!("{head}{}", ending.trim_end_matches('g')))
    };
    (gauge("barg").or_else(|| gauge("psig")).unwrap_or_else(|| value.to_owned()), below)
}

/// The one permit at work, where another number was typed: a reading is not lost to a slip of the finger.
fn the_only_permit(place: &Place, typed: &str, outside: &mut Outside<'_>) -> Result<Option<String>, End> {
    let Ok(looked) = place.look_for(Some(typed), outside) else { return Ok(None) };
    let known = looked.known();
    if known.state.permits.contains_key(typed) {
        return Ok(None);
    }
    let at_work = |p: &&Permit| {
        matches!(known.life(p), StateWord::Live | StateWord::Suspended)
            || known.state.tally_of_permit(&p.number) > 0
    };
    let all: Vec<&str> =
        known.state.in_use(known.time()).filter(at_work).map(|p| p.number.as_str()).collect();
    let typed = crate::text::safe_line(typed);
    match all.as_slice() {
        [one] => {
            writeln!(
                outside.err,
                "{}",
                say!(
                    "NOTE: no permit `{got}` is known here: it is kept for {permit}, the only one at work",
                    got = typed,
                    permit = one
                )
            )?;
            Ok(Some((*one).to_owned()))
        }
        [] => Ok(None),
        many => Err(End::Usage(say!(
            "no permit `{got}` is known here; at work are {permits}. Out of limits, everybody comes out first: `airwrit \
             call-out`",
            got = typed,
            permits = many.join(", ")
        ))),
    }
}

/// `airwrit reading`.
pub fn reading(place: &Place, r: &Reading, outside: &mut Outside<'_>) -> Outcome {
    let typed = r;
    let (read, below) = as_said(&r.value);
    let (_, number, unit) = crate::units::Quantity::read_with_unit(&read)
        .map_err(|e| End::Usage(e.of_typed(&safe_line(&r.value))))?;
    let unit = unit.ok_or_else(|| End::Usage(say!("a reading has a unit, like \"207 bar\"").into()))?;
    let plain = r.what.trim().to_lowercase().replace([' ', '-'], "_");
    let what = match plain.as_str() {
        "carbon_monoxide" => "co",
        "carbon_dioxide" => "co2",
        "oxygen" => "o2",
        "supply_pressure" => "supply",
        "reserve_pressure" => "reserve",
        other => other,
    };
    let permit = the_only_permit(place, &r.permit, outside)?.unwrap_or_else(|| r.permit.clone());
    let r = &Reading { what: what.to_owned(), permit, ..r.clone() };
    if below {
        if !["co", "co2"].contains(&what) {
            return Err(End::Usage(say!(
                "got `{got}` for {what}: below a mark says nothing of what is wanted at least; write what the needle shows",
                got = crate::text::safe_line(&typed.value),
                what
            )));
        }
        writeln!(
            outside.err,
            "{}",
            say!("NOTE: below the lowest mark is kept as the mark itself, {number}", number)
        )?;
    }
    if !crate::text::is_ident(&r.what) {
        let got = crate::text::safe_line(&r.what);
        return Err(End::Usage(say!("got `{got}`, wanted a word like reserve, in small letters", got)));
    }
    let words = watch::WATCHED.map(|(what, _)| what);
    let near = crate::text::nearest(what, words.into_iter().filter(|w| w.len() > 3));
    if let (Some(near), false) = (near, words.contains(&what)) {
        return Err(End::Usage(say!(
            "got `{got}`, was {near} meant? Nothing was kept; a reading of something else wants another word",
            got = crate::text::safe_line(what),
            near
        )));
    }
    // What is watched is measured in one thing; other words may be measured in anything.
    let watched = watch::WATCHED.iter().find(|(what, _)| *what == r.what);
    if let Some((what, dimension)) = watched
        && unit.dimension() != *dimension
    {
        let got = crate::text::safe_line(&r.value);
        return Err(End::Usage(if *dimension == Dimension::Pressure {
            say!("got `{got}` for {what}, wanted a gauge pressure in bar, kPa, MPa or psi", got, what)
        } else {
            say!("got `{got}` for {what}, wanted a share by volume in ppm, ml/m3 or %", got, what)
        }));
    }
    let mut members = vec![
        ("unit".to_owned(), Json::from(unit.symbol())),
        ("value".to_owned(), number.to_string().into()),
        ("what".to_owned(), r.what.as_str().into()),
    ];
    let item = match (&r.item, r.what.as_str()) {
        (Some(item), "reserve") => Some(the_cylinder(place, &r.permit, item, outside)?),
        (item, _) => item.clone(),
    };
    let r = &Reading { item, ..r.clone() };
    if let Some(i) = &r.item {
        members.push(("item".into(), clean(i)?.into()));
    }
    let on = OnWhat { permit: Some(r.permit.clone()), set: None };
    // What was kept is said as it was understood: the wrong gauge or a slip is seen at once.
    let of = r.item.as_deref().map(|i| format!(" {}", safe_line(i))).unwrap_or_default();
    let read = say!(
        "read: {what} {value}",
        what = format!("{}{of}", recorded(&safe_line(&r.what))),
        value = format!("{number} {}", unit.symbol())
    );
    let kept = report(place, &on, "reading", members.clone(), &r.told, &read, outside);
    if let Err(End::Trouble(Trouble::Broken { .. } | Trouble::CouldNot(_))) = &kept {
        unkept_reading(place, r, members, outside);
    }
    not_kept(kept, outside)?;
    if watched.is_none() {
        let words: Vec<&str> = watch::WATCHED.iter().map(|(what, _)| *what).collect();
        writeln!(
            outside.err,
            "{}",
            say!("kept; compared with no limit, as {words} would be", words = words.join(", "))
        )?;
        return Ok(());
    }
    if r.what == "reserve" {
        calling::air_gone(place, &Stops { permit: Some(r.permit.clone()), set: None }, outside)?;
    }
    out_of_its_limits(place, &r.permit, Some(&r.what), &r.told, outside).map(|_| ())
}

/// What an answer that holds says on a permit at work, or with people on its air. Whether it says anything.
pub(crate) fn after_an_answer(
    place: &Place,
    number: &str,
    by: Option<&str>,
    outside: &mut Outside<'_>,
) -> Result<bool, End> {
    let looked = place.look_for(Some(number), outside)?;
    let known = looked.known();
    let at_work = known.life(known.permit(number)?) == StateWord::Live;
    if !at_work && known.state.tally_of_permit(number) == 0 {
        return Ok(false);
    }
    let told = ToldArgs { at: None, told_by: None, by: by.map(str::to_owned) };
    out_of_its_limits(place, number, None, &told, outside)
}

/// What a reading, or an answer on a permit at work, says against its air: the order, why, and the suspension that follows.
/// Whether it says anything.
fn out_of_its_limits(
    place: &Place,
    number: &str,
    gauge: Option<&str>,
    told: &ToldArgs,
    outside: &mut Outside<'_>,
) -> Result<bool, End> {
    let looked = place.look_for(Some(number), outside)?;
    let known = looked.known();
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let against = watch::against(&known, permit, &texts);
    let on_air = known.perhaps_on_air_from(&permit.set.id).next().is_some();
    if !against.is_empty() && on_air {
        // An alarm that nobody has called yet: its order, before the figures.
        let own = gauge.and_then(|what| watch::gauge_against(&known, permit, &texts, what));
        let what = own.unwrap_or("other");
        calling::orders(place, what, &Stops { permit: Some(number.to_owned()), set: None }, outside);
    }
    if !known.life(permit).ended() && gauge == Some("reserve") {
        for why in due::unsafe_reserve(&known, permit, &texts) {
            writeln!(outside.out, "{}", crate::text::safe_line(&why))?;
        }
    }
    for why in &against {
        outside.tell(Tells::OutOfLimits, out_of_limits(why))?;
    }
    if !against.is_empty() {
        let hint = place.typed(&format!("`airwrit call-out {number}`"));
        writeln!(
            outside.out,
            "{}",
            say!(
                "EVERYONE OUT: the signal first, then {command}. Nobody goes on air until the cause is mended, what this \
                 reading ended is answered again and the permit is reinstated",
                command = hint
            )
        )?;
    }
    super::station::over_with_people(place, outside);
    let set = permit.set.id.clone();
    stop_if_out(place, &set, told, outside)?;
    Ok(!against.is_empty())
}

/// What was read or tested out of its limits suspends what is live on that air.
pub(super) fn stop_if_out(place: &Place, set: &str, t: &ToldArgs, outside: &mut Outside<'_>) -> Outcome {
    match watch::stops(&place.look_for(None, outside)?.known(), set) {
        Some(reason) => {
            let on = Stops { permit: None, set: Some(set.to_owned()) };
            suspend(place, &on, Some(&reason), t, outside)
        }
        None => Ok(()),
    }
}
