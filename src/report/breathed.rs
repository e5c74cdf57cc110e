//! Whether anybody was on air while a reading or a test of it was out of its limits, whatever else was going on.
//!
//! Always: on air counts from the earlier to the later of told and entered, and so does the reading. Somebody whose mask is
//! never told off breathes on. An alarm that speaks against the air or may, the set stopped, moved or plugged in under them, or
//! a test that fails after they came off, is no yes. Not here: what is out of limits (`replay::against`), what is not read
//! (`questions`).

use super::names::{self, Names};
use super::plain::Plain;
use super::tally::{Spell, Tally};
use super::{At, Input};
use crate::audit::numbered;
use crate::permit::state::FOUL;
use crate::record::aside::entered;
use crate::record::json::Json;
use crate::record::line::Line;
use crate::replay::Against;
use crate::text::safe_line;
use crate::time::for_people;
use crate::tongue::{say, say_n};
use std::collections::{HashMap, HashSet};

/// So many are told in words.
const TOLD: usize = 3;

/// Whether somebody breathed a set's air at what a line tells of.
fn breathed(a: &Against, s: &Spell) -> bool {
    s.set == a.set && over(s, (&a.told).min(&a.time), &a.time)
}

/// Whether somebody was on air at a time that may be the earlier or the later of two.
fn over(s: &Spell, from: &str, to: &str) -> bool {
    let on = s.told.as_ref().unwrap_or(&s.from.utc).min(&s.from.utc);
    let off = s.to.as_ref().map(|to| s.told_off.as_ref().unwrap_or(&to.utc).max(&to.utc));
    on.as_str() <= to && off.is_none_or(|off| off.as_str() > from)
}

/// Where something was read or tested of a set's air that is not out of its limits, and of which set.
fn looks<'a>(input: &'a Input<'_>) -> Vec<((u32, u64), &'a str)> {
    let bad: HashSet<(u32, u64)> =
        input.replayed.against.iter().map(|a| (a.line.volume, a.line.line)).collect();
    let of = |l: &'a Line| {
        let co = l.kind.name == "reading" && l.data.text("what") == Some("co");
        (co || l.kind.name == "air_test").then(|| set_of(input, l.permit.as_deref(), &l.data))?
    };
    let all = numbered(&input.verified.lines).filter(|(place, _)| !bad.contains(&(place.volume, place.line)));
    all.filter_map(|(place, l)| Some(((place.volume, place.line), of(l)?))).collect()
}

fn set_of<'a>(input: &'a Input<'_>, permit: Option<&str>, data: &'a Json) -> Option<&'a str> {
    match permit {
        Some(number) => input.replayed.state.permits.get(number).map(|p| p.set.id.as_str()),
        None => data.text("set"),
    }
}

/// Alarms of air that ran short: no word of theirs tells how much of it came. After a change-over the reserve fed.
const SHORT: [&str; 2] = ["supply_low", "reserve_low"];

/// Alarms that may speak against what came to a mask: a hose that is cut, a respirator that leaks and a pressure that opened
/// the relief valve let in or out what no gauge reads; a wind that turned may bring the exhaust to the intake; of another
/// kind nobody knows what it was. The rest say nothing of the air by themselves: people (`contact_lost`, `wearer_silent`,
/// `attendant_unable`, `unknown_person`, `called`), what was none (`drill`, `false_alarm`), a change-over to a reserve that
/// is tested too, and `ventilation_lost`: the intake draws from outside the space.
const MAY: [&str; 5] = ["hose", "other", "over_pressure", "respirator", "wind_turned"];

/// What a line tells that speaks against the air of a set, or may; in words.
fn against(kind: &str, data: &Json) -> Option<String> {
    match kind {
        "event" => {
            let what = data.text("what")?;
            let counts = FOUL.contains(&what) || SHORT.contains(&what) || MAY.contains(&what);
            counts.then(|| say!("the alarm {what}", what = super::said(what)))
        }
        // Whatever the reserve gave then, no line of the compressor tells it.
        "stopped" => Some(say!("the set was stopped").to_owned()),
        // Another intake, or another supply: what was tested was tested before it.
        "moved" => Some(say!("the set was moved").to_owned()),
        "plugged" => Some(say!("the set was plugged in").to_owned()),
        _ => None,
    }
}

/// What spoke against the air or its supply with somebody on it: whether a limit was passed no word of it tells.
fn alarms(input: &Input<'_>, tally: &Tally, known: &Names) -> Vec<(String, At)> {
    let mut out = Vec::new();
    for (place, l) in numbered(&input.verified.lines) {
        let reports = if l.kind.name == "recovery" { entered(&l.data) } else { Vec::new() };
        let own = std::iter::once((l.kind.name, l.permit.as_deref(), &l.data, &*l.time));
        // Written aside it has a time of its own.
        let later = reports.iter().map(|e| (&*e.kind, e.permit.as_deref(), &e.data, e.at.as_str()));
        for (kind, permit, data, at) in own.chain(later) {
            let Some((what, set)) = against(kind, data).zip(set_of(input, permit, data)) else { continue };
            // Of another day, with no time, nobody says that it was under them.
            let date = data.text("date").filter(|_| !data.has("at"));
            if date.is_some_and(|d| crate::time::local(at, &l.zone).date().to_string() != d) {
                continue;
            }
            let told = data.text("at").unwrap_or(at);
            let (from, to) = (told.min(&l.time), told.max(&l.time));
            let on = |s: &&Spell| s.set == set && over(s, from, to);
            let names = super::names::few(tally.spells.iter().filter(on).map(|s| known.called(&s.person)));
            if !names.is_empty() {
                let at = At::new(place, &l.time, &l.zone);
                let line = &at.line;
                let words = if told == &*l.time {
                    say!(
                        "line {line}, {time}: {what}; on this air then: {names}",
                        line,
                        time = at.site,
                        what,
                        names
                    )
                } else {
                    say!(
                        "line {line}, {time}: {what}, told for {told}; on this air then or until it was entered: \
                         {names}",
                        line,
                        time = at.site,
                        what,
                        told = for_people(told, &l.zone),
                        names
                    )
                };
                out.push((words, at));
            }
        }
    }
    out
}

/// A spell so long, in seconds, with nothing read or tested meanwhile is not known. Common practice, no source.
const UNREAD: i64 = 30 * 60;

/// Whoever was on air that long with no reading of that set meanwhile.
fn unread(input: &Input<'_>, tally: &Tally, known: &Names) -> Option<(String, Vec<At>)> {
    let mut read: HashMap<&str, Vec<(u32, u64)>> = HashMap::new();
    let mut last = None;
    for (place, l) in numbered(&input.verified.lines) {
        last = Some((place, l));
        if matches!(l.kind.name, "reading" | "air_test")
            && let Some(set) = set_of(input, l.permit.as_deref(), &l.data)
        {
            read.entry(set).or_default().push((place.volume, place.line));
        }
    }
    let last = last.map(|(place, l)| At::new(place, &l.time, &l.zone))?;
    let without = |s: &&Spell| {
        let to = s.to.as_ref().unwrap_or(&last);
        let long = tally.clocks.second(to) - tally.clocks.second(&s.from) > UNREAD;
        let of_set = read.get(s.set.as_str()).map(Vec::as_slice).unwrap_or_default();
        let next = of_set.get(of_set.partition_point(|at| *at <= s.from.place()));
        long && next.is_none_or(|at| *at >= to.place())
    };
    let all: Vec<&Spell> = tally.spells.iter().filter(without).collect();
    (!all.is_empty()).then(|| {
        let who = super::names::few(all.iter().map(|s| known.called(&s.person)));
        let people: HashSet<&str> = all.iter().map(|s| s.person.as_str()).collect();
        let words = say_n!(
            people.len(),
            "{n} was on air for more than {minutes} min with nothing read meanwhile: {who}",
            "{n} were on air for more than {minutes} min with nothing read meanwhile: {who}",
            minutes = UNREAD / 60,
            who
        );
        (words, all.iter().map(|s| s.from.clone()).collect())
    })
}

/// The plain answer.
pub(super) fn air(input: &Input<'_>, tally: &Tally) -> Plain {
    let known = names::of(input);
    let (mut all, mut unknown) = (Vec::new(), Vec::new());
    for a in &input.replayed.against {
        let who: Vec<&Spell> = tally.spells.iter().filter(|s| breathed(a, s)).collect();
        if !who.is_empty() {
            let at = At::new(a.line, &a.time, &a.zone);
            if a.judged {
                all.push((a, who, at));
            } else {
                unknown.push((a, at));
            }
        }
    }
    let mut doubts = alarms(input, tally, &known);
    let looked_well: Vec<((u32, u64), &str)> = looks(input);
    for a in input.replayed.against.iter().filter(|a| a.judged && a.air) {
        let place = (a.line.volume, a.line.line);
        if all.iter().any(|(b, ..)| b.line == a.line) {
            continue;
        }
        // Whoever came off it before, and nothing good was read or tested of it since.
        let off = |s: &&Spell| {
            let Some(to) = s.to.as_ref().filter(|to| s.set == a.set && to.place() < place) else {
                return false;
            };
            let good = |(at, set): &((u32, u64), &str)| *set == a.set && to.place() < *at && *at < place;
            !looked_well.iter().any(good)
        };
        let names = super::names::few(tally.spells.iter().filter(off).map(|s| known.called(&s.person)));
        if !names.is_empty() {
            let at = At::new(a.line, &a.time, &a.zone);
            let why = a.why.iter().map(|w| super::in_one(w)).collect::<Vec<_>>().join("; ");
            let words = say!(
                "line {line}, {time}: {why}; came off this air before, with nothing good read of it since: {names}",
                line = at.line,
                time = at.site,
                why,
                names
            );
            doubts.push((words, at));
        }
    }
    let unread = unread(input, tally, &known);
    let mut told: Vec<String> = Vec::new();
    for (a, who, at) in all.iter().take(TOLD) {
        let mut names: Vec<String> =
            who.iter().map(|s| safe_line(known.name(&s.person).unwrap_or(&s.person)).into_owned()).collect();
        names.sort();
        names.dedup();
        told.push(say!(
            "line {line}, {time}: {why}; on this air then: {names}",
            line = at.line,
            time = at.site,
            why = a.why.iter().map(|w| super::in_one(w)).collect::<Vec<_>>().join("; "),
            names = names.join(", ")
        ));
    }
    if let Some(more @ 1..) = all.len().checked_sub(TOLD) {
        told.push(say!("{n} more", n = more));
    }
    // The first and the last of them: where to look.
    let mut read = numbered(&input.verified.lines).filter(|(_, l)| l.kind.name == "reading");
    let (first, last) = (read.next(), read.last());
    let looked: Vec<At> =
        first.into_iter().chain(last).map(|(place, l)| At::new(place, &l.time, &l.zone)).collect();
    let (answer, words) = if !all.is_empty() {
        let words = say_n!(
            all.len(),
            "{n} reading or test was out of its limits with somebody on that air: {what}",
            "{n} readings or tests were out of their limits with somebody on that air: {what}",
            what = told.join("; ")
        );
        ("no", words)
    } else if !doubts.is_empty() {
        let mut words: Vec<String> = doubts.iter().take(TOLD).map(|(words, _)| words.clone()).collect();
        if let Some(more @ 1..) = doubts.len().checked_sub(TOLD) {
            words.push(say!("{n} more", n = more));
        }
        ("not_known", say!("what was breathed is not known: {what}", what = words.join("; ")))
    } else if let Some((a, _)) = unknown.first() {
        let words = say_n!(
            unknown.len(),
            "{n} reading or test with somebody on that air cannot be judged: {why}",
            "{n} readings or tests with somebody on that air cannot be judged: {why}",
            why = a.why.iter().map(|w| super::in_one(w)).collect::<Vec<_>>().join("; ")
        );
        ("not_known", words)
    } else if tally.spells.is_empty() {
        ("yes", say!("nobody was on air").to_owned())
    } else if looked.is_empty() {
        ("not_known", say!("no gauge was read").to_owned())
    } else if let Some((words, _)) = &unread {
        ("not_known", words.clone())
    } else {
        ("yes", say!("by what was read and tested").to_owned())
    };
    Plain {
        about: "breathed",
        ask: say!("Was the air within its limits whenever somebody was on it?").into(),
        answer,
        headline: (answer == "no" || (all.is_empty() && !doubts.is_empty())).then(|| words.clone()),
        words,
        lines: match (all.is_empty(), unknown.is_empty()) {
            (true, _) if !doubts.is_empty() => doubts.into_iter().map(|(_, at)| at).collect(),
            (false, _) => all.into_iter().map(|(_, _, at)| at).collect(),
            (true, false) => unknown.into_iter().map(|(_, at)| at).collect(),
            (true, true) => unread.map_or(looked, |(_, at)| at),
        },
        more: 0,
    }
}
