//! The people around a permit: the roll called, attendant and entry watch relieved.

use super::args::{OnWhat, Stops, ToldArgs};
use super::halted::Before;
use super::{End, Outcome, Outside, Place, calling, printing, station};
use crate::actions::Trouble;
use crate::permit::decide::air::{self, kept_or};
use crate::permit::decide::crew;
use crate::permit::state::Permit;
use crate::record::json::Json;
use crate::text::safe_line;
use crate::tongue::say;

/// `airwrit roll-call`.
pub fn roll_call(
    place: &Place,
    on: &OnWhat,
    found: &[String],
    missing: &[String],
    t: &ToldArgs,
    outside: &mut Outside<'_>,
) -> Outcome {
    let looked = place.look_for(on.permit.as_deref(), outside)?;
    let known = looked.known();
    let permit = on.permit.as_deref().and_then(|n| known.state.permits.get(n));
    let as_known = |typed: &String| air::known_as(&known, permit, typed);
    let mut missing: Vec<String> = missing.iter().map(as_known).collect();
    let mut found: Vec<String> = found.iter().map(as_known).collect();
    // Each is called; nobody is found by being left out.
    let mut untold = Vec::new();
    for person in crew::to_call(&known, permit, on.set.as_deref()) {
        if found.contains(&person) || missing.contains(&person) {
            continue;
        }
        match answered(&person, &crew::name_of(&known, &person), outside)? {
            Some(true) => found.push(person),
            Some(false) => missing.push(person),
            None => untold.push(safe_line(&person).into_owned()),
        }
    }
    if !untold.is_empty() {
        return Err(End::Usage(say!(
            "nobody says whether these answered: {names}. Nothing is kept; type it, or give --found or --missing for each",
            names = untold.join(", ")
        )));
    }
    let list =
        |names: &[String]| Json::Arr(names.iter().map(|n| Json::from(kept_or(n, "somebody"))).collect());
    let mut members = Vec::new();
    if !found.is_empty() {
        members.push(("found".to_owned(), list(&found)));
    }
    if !missing.is_empty() {
        members.push(("missing".to_owned(), list(&missing)));
    }
    let face = outside.face.clone();
    let words = |ids: &[String]| {
        let names = ids.iter().map(|id| safe_line(&face.person(&known, id)).into_owned());
        names.collect::<Vec<_>>().join(", ")
    };
    let what = match (found.is_empty(), missing.is_empty()) {
        (_, false) => say!("roll called; MISSING: {names}", names = words(&missing)),
        (false, true) => say!("roll called, everyone found: {names}", names = words(&found)),
        (true, true) => say!("roll called, nobody to call").to_owned(),
    };
    let stops = Stops { permit: on.permit.clone(), set: on.set.clone() };
    // Whom to look for, from where, and what is called: on the screen before anything is kept.
    for id in &missing {
        let _ =
            writeln!(outside.err, "{}", say!("MISSING: {name}", name = safe_line(&face.person(&known, id))));
        let _ = writeln!(outside.err, "  {}", safe_line(&crew::last_known(&known, permit, id)));
    }
    if !missing.is_empty() {
        calling::orders(place, "wearer_silent", &stops, outside);
    }
    let before = Before::of(&known);
    let kept = station::kept_line(place, on, "roll_call", &members, t, outside);
    if let (false, Err(End::Trouble(Trouble::Broken { .. } | Trouble::CouldNot(_)))) =
        (missing.is_empty(), &kept)
    {
        let why = say!("roll call, not kept: MISSING: {names}", names = words(&missing));
        super::gauges::suspend_aside(place, &stops, &why, t, outside);
    }
    let line = station::not_kept(kept, outside)?;
    let what = match place.look_for(on.permit.as_deref(), outside) {
        Ok(l) if !missing.is_empty() => {
            let (_, came) = before.came_of(&l.known(), on.permit.as_deref(), on.set.as_deref(), &[]);
            format!("{what}; {came}")
        }
        Ok(_) | Err(_) => what,
    };
    station::kept(&line, &what, outside)?;
    station::known_by(place, t.by.as_deref(), outside);
    let about = |p: &Permit| on.permit.as_ref() == Some(&p.number) || on.set.as_ref() == Some(&p.set.id);
    let told = if missing.is_empty() { Ok(()) } else { calling::air_gone(place, &stops, outside) };
    printing::take_down(place, about, outside);
    told
}

/// Whether somebody who was called by name answered; `None` where nobody types it.
fn answered(person: &str, name: &str, outside: &mut Outside<'_>) -> Result<Option<bool>, End> {
    loop {
        // What is typed is the same word in every language.
        let (yes, no) = ("yes", "no");
        let question = say!(
            "{name} ({person}): answered, by voice?  {yes} or {no} >",
            name = safe_line(name),
            person = safe_line(person),
            yes,
            no
        );
        write!(outside.err, "{question} ")?;
        outside.err.flush()?;
        let mut typed = String::new();
        if outside.input.read_line(&mut typed)? == 0 {
            writeln!(outside.err)?;
            return Ok(None);
        }
        match typed.trim() {
            "yes" | "y" => return Ok(Some(true)),
            "no" | "n" => return Ok(Some(false)),
            other => {
                let got = safe_line(other);
                writeln!(outside.err, "{}", say!("got `{got}`, wanted {yes} or {no}", got, yes, no))?;
            }
        }
    }
}

/// `airwrit relieve`.
pub fn relieve(
    place: &Place,
    number: &str,
    role: &str,
    to: &str,
    report: bool,
    t: &ToldArgs,
    outside: &mut Outside<'_>,
) -> Outcome {
    let by = t.by.clone().unwrap_or_default();
    let line = place.at_work(outside, |desk, loaded| {
        let known = loaded.known();
        let permit = known.permit(number)?;
        let told = super::calling::told(t, &known);
        let to = air::known_as(&known, Some(permit), to);
        let draft = crew::relieve(&known, permit, role, &to, report, &told, &by)?;
        desk.keep(loaded, &draft)
    });
    let line = station::not_kept(line, outside)?;
    let now = line.data.text("to").unwrap_or_default();
    // The tally that is read back.
    if let Ok(looked) = place.look_for(Some(number), outside) {
        let known = looked.known();
        let on: Vec<String> = known
            .state
            .on_air
            .iter()
            .filter(|p| {
                let set = known.state.permits.get(number).map(|p| p.set.id.as_str());
                p.permit.as_deref() == Some(number) || set == Some(p.set.as_str()) || !known.has_set(&p.set)
            })
            .map(|p| format!("{} {}", p.person, p.whereabouts.words()))
            .collect();
        let on = if on.is_empty() { say!("nobody").to_owned() } else { on.join(", ") };
        writeln!(outside.err, "{}", say!("READ BACK, who is on air: {names}", names = safe_line(&on)))?;
        let rescuers = known.state.permits.get(number).and_then(|p| p.job.get("rescuers")).cloned();
        if let Some(Json::Arr(all)) = rescuers
            && all.iter().any(|r| r.text("person") == Some(now))
        {
            writeln!(
                outside.err,
                "{}",
                say!(
                    "NOTE: {person} was one of the rescuers, and is bound to this place now",
                    person = safe_line(now)
                )
            )?;
        }
    }
    let person = safe_line(now);
    let words = match role {
        "attendant" => say!("{permit}: attendant is {person}", permit = number, person),
        _ => say!("{permit}: entry watch is {person}", permit = number, person),
    };
    station::kept(&line, &words, outside)?;
    printing::take_down(place, |p| p.number == number, outside);
    Ok(())
}
