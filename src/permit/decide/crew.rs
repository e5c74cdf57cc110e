//! The people around a permit while it runs: attendant and entry watch relieved.
//!
//! Always: unsigned, both named; whoever stands in is judged as the job's own would be when it is opened. Not here:
//! the permit passing to another holder.

use super::air::Told;
use super::{Known, Refusal, open, unless};
use crate::permit::bench::Texts;
use crate::permit::called;
use crate::permit::state::{Answer, Happened, OnAir, Permit, Stamp};
use crate::permit::texts::read_job;
use crate::record::json::{Json, sorted};
use crate::record::line::Draft;
use crate::tongue::say;
use crate::view::{StateWord, recorded};
use std::collections::BTreeMap;

/// Everyone whom a roll call of a permit, or of a set's permits, asks for: wearers, rescuers, attendant, entry watch,
/// and whoever else is on its air.
pub fn everyone(known: &Known<'_>, permit: Option<&Permit>, set: Option<&str>) -> Vec<String> {
    let of_set = |p: &&Permit| Some(p.set.id.as_str()) == set;
    let permits: Vec<&Permit> = match permit {
        Some(p) => vec![p],
        None => known.state.not_ended(known.time()).filter(of_set).collect(),
    };
    let mut out = Vec::new();
    let mut add = |person: &str| {
        if !person.is_empty() && !out.iter().any(|p| p == person) {
            out.push(person.to_owned());
        }
    };
    for p in &permits {
        for list in ["wearers", "rescuers"] {
            if let Some(Json::Arr(items)) = p.job.get(list) {
                items.iter().filter_map(|i| i.text("person")).for_each(&mut add);
            }
        }
        for role in ["attendant", "entry_watch"] {
            p.job.text(role).into_iter().for_each(&mut add);
        }
    }
    let sets: Vec<&str> = permits.iter().map(|p| p.set.id.as_str()).chain(set).collect();
    for p in known.state.on_air.iter().filter(|p| sets.contains(&p.set.as_str())) {
        add(&p.person);
    }
    out
}

/// Whom a roll call is to ask for: everyone, and whoever was on this air since the last one that found everyone and is told off
/// since: they were only told. Earlier versions did not ask for these, and no record is held against that.
pub fn to_call(known: &Known<'_>, permit: Option<&Permit>, set: Option<&str>) -> Vec<String> {
    let mut out = everyone(known, permit, set);
    let of_set = |p: &&Permit| Some(p.set.id.as_str()) == set;
    let (set, opened) = match permit {
        Some(p) => (p.set.id.as_str(), Some(p.opened.seq)),
        None => {
            let all = known.state.not_ended(known.time()).filter(of_set);
            (set.unwrap_or_default(), all.map(|p| p.opened.seq).min())
        }
    };
    // Where every permit has ended, whoever was on this air in the last day.
    let from = if opened.is_some() { i64::MIN } else { known.now.seconds() - called::A_DAY };
    let rolled = known.state.sets.get(set).and_then(|s| s.rolled.as_ref()).map_or(0, |r| r.seq);
    let days = known.state.permits.days_of_set(set, rolled.max(opened.unwrap_or(0)), from);
    for h in days.filter(|h| matches!(h.kind, "on_air" | "in" | "out" | "off_air")) {
        let person = h.data.text("person").filter(|p| !out.iter().any(|o| o == p));
        out.extend(person.map(str::to_owned));
    }
    out
}

/// Whom the last roll call of a permit did not find, and when it was called: each asks for everyone, so the last one tells.
pub fn missing(permit: &Permit) -> Option<(&Happened, Vec<&str>)> {
    let last = permit.day.iter().rev().find(|h| h.kind == "roll_call")?;
    let names = last.data.texts("missing");
    (!names.is_empty()).then_some((last, names))
}

/// The same in words, with the time.
pub fn missing_in_words(known: &Known<'_>, permit: &Permit) -> Option<String> {
    let (last, names) = missing(permit)?;
    let time = crate::time::clock(last.data.text("at").unwrap_or(&last.stamp.time), &last.stamp.zone);
    let names: Vec<String> = names.into_iter().map(|id| who(known, id)).collect();
    Some(say!("MISSING at the roll call of {time}: {names}", time, names = names.join(", ")))
}

/// The step of a shutdown that asks of each wearer whether they were seen outside.
pub const SEEN: &str = "wearer_seen";

/// Whom somebody looked for outside and did not see, when: by the last answer; off air by the tally, which is only told.
pub fn unseen<'p>(known: &Known<'_>, permit: &'p Permit) -> Vec<(&'p str, &'p Stamp)> {
    let mut last: BTreeMap<&str, &Answer> = BTreeMap::new();
    for a in permit.answers.iter().filter(|a| a.step == SEEN) {
        let entry = last.entry(a.item.as_deref().unwrap_or_default()).or_insert(a);
        if a.stamp.seq >= entry.stamp.seq {
            *entry = a;
        }
    }
    let on = |person: &str| known.state.on_air.iter().any(|p| p.person == person);
    let lost = last.into_iter().filter(|(person, a)| a.value.as_deref() == Some("no") && !on(person));
    lost.map(|(person, a)| (person, &a.stamp)).collect()
}

/// The same in words.
pub fn unseen_in_words(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let one = |(id, at): (&str, &Stamp)| {
        let time = crate::time::clock(&at.time, &at.zone);
        say!(
            "NOT SEEN OUTSIDE at {time}, off air by the tally alone: {name}. Look for them",
            time,
            name = who(known, id)
        )
    };
    unseen(known, permit).into_iter().map(one).collect()
}

/// Whether somebody of a permit is looked for, whose time may be over: nobody is found by a clock. One that a signature ended
/// says that everybody was.
pub fn is_looked_for(known: &Known<'_>, permit: &Permit) -> bool {
    let open = !permit.life.ended() || permit.life == StateWord::Lapsed;
    open && (missing(permit).is_some() || !unseen(known, permit).is_empty())
}

/// Ids of everybody who is to be looked for.
pub fn lost<'p>(known: &Known<'_>, permit: &'p Permit) -> Vec<&'p str> {
    let mut out: Vec<&str> = missing(permit).map_or_else(Vec::new, |(_, ids)| ids);
    out.extend(unseen(known, permit).into_iter().map(|(id, _)| id));
    out.sort_unstable();
    out.dedup();
    out
}

/// Where a person was last, by what was told: where the search begins. Proves nothing.
pub fn last_known(known: &Known<'_>, permit: Option<&Permit>, id: &str) -> String {
    if let Some(on) = known.state.on_air.iter().find(|p| p.person == id) {
        return say!(
            "last known: {place}, {outlet}, since {time}",
            place = on.whereabouts.words(),
            outlet = outlet_of(known, on),
            time = crate::time::clock(&on.since.time, &on.since.zone)
        );
    }
    let Some(permit) = permit else { return say!("last known: nothing is told of them here").into() };
    let told = |h: &&Happened| {
        matches!(h.kind, "on_air" | "in" | "out" | "off_air") && h.data.text("person") == Some(id)
    };
    match permit.day.iter().rev().find(told) {
        Some(last) => say!(
            "last known: off air by the tally at {time}",
            time = crate::time::clock(last.data.text("at").unwrap_or(&last.stamp.time), &last.stamp.zone)
        ),
        None => match ["attendant", "entry_watch"].iter().find(|r| permit.job.text(r) == Some(id)) {
            Some(role) => say!("last known: {role}, never on air by the tally", role = recorded(role)),
            None => say!("last known: never on air by the tally").into(),
        },
    }
}

/// The outlet of somebody on the tally: by its name where the set has one.
pub fn outlet_of(known: &Known<'_>, on: &OnAir) -> String {
    let Some(id) = on.outlet.as_deref() else { return say!("outlet not known").into() };
    let permit = on.permit.as_deref().and_then(|n| known.state.permits.get(n));
    let name = permit.and_then(|p| known.texts_of(p).ok()).and_then(|t| outlet_name(&t, id));
    name.unwrap_or_else(|| say!("outlet {outlet}", outlet = id))
}

/// What a set calls an outlet.
pub fn outlet_name(texts: &Texts, id: &str) -> Option<String> {
    Some(texts.set.item("outlets", id)?.words("name")?.own().to_owned())
}

/// Everybody who is to be looked for: missing at the last roll call, or not seen outside.
pub fn lost_in_words(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let mut out: Vec<String> = missing_in_words(known, permit).into_iter().collect();
    out.extend(unseen_in_words(known, permit));
    out
}

/// A person's name as the roster has it, else as the site in force has it; the id where neither knows it.
pub fn name_of(known: &Known<'_>, id: &str) -> String {
    if let Some(person) = known.chain.origin.roster.person(id) {
        return person.name.clone();
    }
    let site = known.chain.texts.iter().find(|((kind, _), _)| kind == "site");
    let site = site.and_then(|(_, t)| crate::permit::bench::file("site", &t.text).ok());
    let named = site.as_ref().and_then(|s| s.item("people", id)?.words("name"));
    named.map_or_else(|| id.to_owned(), |w| w.own().to_owned())
}

/// Whom to look for: the name, and the id that is typed for them where it is another word.
pub fn who(known: &Known<'_>, id: &str) -> String {
    let name = name_of(known, id);
    if name == id { name } else { format!("{name} ({id})") }
}

/// Somebody in words that nobody types from: the name, and the id only where another of the roster or the site has the same one.
pub fn named(known: &Known<'_>, id: &str) -> String {
    let name = name_of(known, id);
    let roster = known.chain.origin.roster.persons.iter().map(|p| (p.id.as_str(), p.name.as_str()));
    if roster.clone().any(|(other, same)| other != id && same == name) {
        return who(known, id);
    }
    let site = known.chain.texts.iter().find(|((kind, _), _)| kind == "site");
    let site = site.and_then(|(_, t)| crate::permit::bench::file("site", &t.text).ok());
    let mut people = site.iter().flat_map(|s| s.items("people"));
    let same = |p: &crate::site::Values| p.id() != id && p.words("name").is_some_and(|w| w.own() == name);
    if people.any(same) { who(known, id) } else { name }
}

/// Whether two permits are for one job: the same work at one site, or on the same entry or work permit. Where in doubt
/// they are: more are called out, never fewer.
pub fn same_job(a: &Permit, b: &Permit) -> bool {
    let named = |p: &Permit| -> Vec<Json> {
        let Some(Json::Arr(all)) = p.job.get("entry_permits") else { return Vec::new() };
        all.iter().filter_map(|e| e.get("name")).cloned().collect()
    };
    let (of_a, of_b) = (named(a), named(b));
    a.site.id == b.site.id
        && (a.job.get("what") == b.job.get("what") || of_a.iter().any(|name| of_b.contains(name)))
}

/// Another person stands in as attendant or entry watch.
pub fn relieve(
    known: &Known<'_>,
    permit: &Permit,
    role: &str,
    to: &str,
    report: bool,
    told: &Told,
    by: &str,
) -> Result<Draft, Refusal> {
    let from = permit.job.text(role).unwrap_or_default();
    let mut why = Vec::new();
    if from == to {
        why.push(say!("{to} is the {role} already", to, role = recorded(role)));
    }
    let life = known.life(permit);
    if life.over() && known.state.tally_of_permit(&permit.number) == 0 {
        why.push(say!(
            "{permit} is {state}: nobody stands at it any more",
            permit = permit.number,
            state = life.word()
        ));
    }
    let roster = &known.chain.origin.roster;
    let at_site = known.texts_of(permit).is_ok_and(|t| t.site.item("people", to).is_some());
    if roster.person(to).is_none() && !at_site {
        why.push(say!("nobody here is called `{name}`", name = crate::text::safe_line(to)));
    }
    if permit.issued_by(to) {
        why.push(say!("{to} issued it, and who issues does not stand at it", to));
    }
    if known.state.on_air.iter().any(|p| p.person == to) {
        why.push(say!("{to} is on air", to));
    }
    why.extend(against(known, permit, role, to));
    if !report {
        unless(
            why.clone(),
            &say!(
                "somebody else stands in; if it has happened all the same, report it: `airwrit relieve {permit} --role {role} \
                 --to {to} --report`",
                permit = permit.number,
                role,
                to = crate::text::safe_line(to)
            ),
        )?;
    }
    let mut members = vec![
        ("from".to_owned(), Json::from(from)),
        ("role".to_owned(), role.into()),
        ("to".to_owned(), to.into()),
    ];
    if !why.is_empty() {
        members.push(("breach".into(), super::air::breaches(why)));
    }
    members.extend(told.members());
    Ok(known.line(permit, "relieve", by, sorted(members)))
}

/// What would be wrong with the job if it named this person, and is not without.
pub(super) fn against(known: &Known<'_>, permit: &Permit, role: &str, to: &str) -> Vec<String> {
    let Ok(texts) = known.texts_of(permit) else { return Vec::new() };
    let problems = |job| open::job_problems(known, job, &texts.set, &texts.site, Some(&permit.number));
    let before = problems(&texts.job);
    match read_job(&permit.job.clone().with(role, to), &texts.site, &known.chain.origin.roster) {
        Ok(job) => problems(&job).into_iter().filter(|p| !before.contains(p)).collect(),
        Err(why) => why,
    }
}
