//! People on air by the lines: spells, and how long after an alarm the last of those inside was out.
//!
//! Always: what was told later counts for the time it was told for; somebody not reported out is not out. Reports
//! written aside and entered later are taken as the lines they are. Not here: whether they were allowed (`replay`).

use super::At;
use crate::audit::numbered;
use crate::record::aside::entered;
use crate::record::json::Json;
use crate::record::line::Line;
use crate::time::{for_people, seconds};
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeMap;

/// One time on air.
#[derive(Clone, Debug, Serialize)]
pub struct Spell {
    /// Person.
    pub person: String,
    /// Their name, where something tells it.
    pub name: String,
    /// Set.
    pub set: String,
    /// Permit, if on one.
    pub permit: Option<String>,
    /// Mask on.
    pub from: At,
    /// Mask off; `None` while nobody told it.
    pub to: Option<At>,
    /// UTC, first time in; and out the last time.
    pub inside: Vec<(String, Option<String>)>,
}

/// One who was inside at an alarm.
#[derive(Clone, Debug, Serialize)]
pub struct Out {
    /// Person.
    pub person: String,
    /// Their name, where something tells it.
    pub name: String,
    /// Seconds from the alarm until out; `None` if nobody told it.
    pub seconds: Option<i64>,
    /// The line that tells it.
    pub at: Option<At>,
    /// Seconds from the alarm until the mask was off.
    pub off: Option<i64>,
}

/// An alarm or a call, and everyone inside then.
#[derive(Clone, Debug, Serialize)]
pub struct Alarm {
    /// `co`, `drill`, ..., `call_out`.
    pub what: String,
    /// Line.
    pub at: At,
    /// UTC: when it was, as told.
    pub when: String,
    /// The same at the site.
    pub when_site: String,
    /// Set.
    pub set: String,
    /// Who was inside.
    pub out: Vec<Out>,
    /// Who was on air, outside.
    pub outside: usize,
    /// Seconds until the last of them was out; `None` if nobody was in, or one was never reported out.
    pub seconds: Option<i64>,
    /// Seconds until the last of them had the mask off.
    pub off: Option<i64>,
}

/// What the lines tell of people on air.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Spells, by their beginning.
    pub spells: Vec<Spell>,
    /// Alarms.
    pub alarms: Vec<Alarm>,
}

/// Who is on air now: their spell, and whether inside.
type On = BTreeMap<(String, String), (usize, bool)>;

struct Told<'a> {
    kind: &'a str,
    data: &'a Json,
    permit: Option<&'a str>,
    set: &'a str,
    when: String,
    zone: &'a str,
    at: At,
}

/// Follows the lines.
pub fn of(lines: &[Line]) -> Tally {
    let mut sets: BTreeMap<String, String> = BTreeMap::new();
    let mut out = Tally::default();
    let mut on = On::new();
    for (place, l) in numbered(lines) {
        if let (Some(number), Some(set)) = (&l.permit, l.data.get("set").and_then(|s| s.text("id"))) {
            sets.insert(number.to_string(), set.to_owned());
        }
        one(&mut out, &mut on, &sets, place, l, (l.kind.name, &l.data, l.permit.as_deref()));
        if l.kind.name == "recovery" {
            for e in entered(&l.data) {
                one(&mut out, &mut on, &sets, place, l, (&e.kind, &e.data, e.permit.as_deref()));
            }
        }
    }
    for alarm in &mut out.alarms {
        let all: Option<Vec<i64>> = alarm.out.iter().map(|o| o.seconds).collect();
        alarm.seconds = all.and_then(|all| all.into_iter().max());
        let off: Option<Vec<i64>> = alarm.out.iter().map(|o| o.off).collect();
        alarm.off = off.and_then(|all| all.into_iter().max());
    }
    out
}

fn one(
    out: &mut Tally,
    on: &mut On,
    sets: &BTreeMap<String, String>,
    place: LineNo,
    l: &Line,
    (kind, data, permit): (&str, &Json, Option<&str>),
) {
    let set = permit.and_then(|n| sets.get(n)).map(String::as_str).or(data.text("set")).unwrap_or_default();
    let told = Told {
        kind,
        data,
        permit,
        set,
        when: data.text("at").unwrap_or(&l.time).to_owned(),
        zone: &l.zone,
        at: At::new(place, &l.time, &l.zone),
    };
    match kind {
        "on_air" | "in" | "out" | "off_air" => moved(out, on, &told),
        "event" | "call_out" => alarm(out, on, &told),
        _ => {}
    }
}

fn moved(out: &mut Tally, on: &mut On, t: &Told<'_>) {
    let person = t.data.text("person").unwrap_or_default();
    let key = (t.set.to_owned(), person.to_owned());
    if matches!(t.kind, "on_air" | "in") && !on.contains_key(&key) {
        on.insert(key.clone(), (out.spells.len(), false));
        out.spells.push(Spell {
            person: person.to_owned(),
            name: String::new(),
            set: t.set.to_owned(),
            permit: t.permit.map(str::to_owned),
            from: t.at.clone(),
            to: None,
            inside: Vec::new(),
        });
    }
    let Some((spell, inside)) = on.get_mut(&key) else { return };
    let Some(spell) = out.spells.get_mut(*spell) else { return };
    match t.kind {
        "in" if !*inside => {
            spell.inside.push((t.when.clone(), None));
            *inside = true;
        }
        "out" | "off_air" => {
            if *inside {
                if let Some(last) = spell.inside.last_mut() {
                    last.1 = Some(t.when.clone());
                }
                *inside = false;
            }
            for a in out.alarms.iter_mut().filter(|a| a.set == t.set) {
                for o in a.out.iter_mut().filter(|o| o.person == person && o.seconds.is_none()) {
                    o.seconds = Some((seconds(&t.when) - seconds(&a.when)).max(0));
                    o.at = Some(t.at.clone());
                }
            }
            if t.kind == "off_air" {
                for a in out.alarms.iter_mut().filter(|a| a.set == t.set) {
                    for o in a.out.iter_mut().filter(|o| o.person == person && o.off.is_none()) {
                        o.off = Some((seconds(&t.when) - seconds(&a.when)).max(0));
                    }
                }
                spell.to = Some(t.at.clone());
                on.remove(&key);
            }
        }
        _ => {}
    }
}

fn alarm(out: &mut Tally, on: &On, t: &Told<'_>) {
    let here = || on.iter().filter(|((set, _), _)| set == t.set);
    let inside = here().filter(|(_, (_, inside))| *inside);
    let who = inside
        .map(|((_, person), _)| Out {
            person: person.clone(),
            name: String::new(),
            seconds: None,
            at: None,
            off: None,
        })
        .collect();
    out.alarms.push(Alarm {
        what: t.data.text("what").unwrap_or("call_out").to_owned(),
        at: t.at.clone(),
        when: t.when.clone(),
        when_site: for_people(&t.when, t.zone),
        set: t.set.to_owned(),
        out: who,
        outside: here().filter(|(_, (_, inside))| !*inside).count(),
        seconds: None,
        off: None,
    });
}
