//! Who was looked for: missing at a roll call, or not seen outside where somebody looked; where they were last, when they were
//! found, how long that took, and the line that tells each.
//!
//! Always: whoever was missing is found by the next roll call that does not miss them, and whoever was not seen by somebody who
//! saw them outside; neither settles the other, and off air by the tally finds nobody. How
//! long it took is counted from the earlier of what was told and what was entered to the later of the two, so that no told
//! time makes it shorter. Not here: whether they are looked for still (`permit::decide::crew`).

use super::At;
use super::clocks::Clocks;
use super::permits::at;
use crate::permit::decide::crew::SEEN;
use crate::permit::state::{Happened, Permit, Stamp};
use crate::record::json::SmolStr;
use crate::time::{clock, for_people, seconds};
use crate::tongue::say;
use serde::Serialize;

/// One person, looked for once.
#[derive(Clone, Debug, Serialize)]
pub struct Sought {
    /// Id.
    pub person: String,
    /// Their name, where something tells it.
    pub name: String,
    /// `missing` at a roll call, or `not_seen` outside.
    pub how: &'static str,
    /// The line that told it.
    pub from: At,
    /// At the site, when that was told for another time than it was entered.
    pub from_told: Option<String>,
    /// Where they were last, by the lines before.
    pub last: String,
    /// The line of that; none where no line tells of them.
    pub last_at: Option<At>,
    /// The line that found them; `None` while none did.
    pub found: Option<At>,
    /// At the site, when that was told for another time than it was entered.
    pub found_told: Option<String>,
    /// Of one not found so: the line by which they were found in the other way, which settles nothing here.
    pub otherwise: Option<At>,
    /// Seconds until that was entered.
    pub seconds: Option<i64>,
    /// The same by the times that were told, where they are others.
    pub told: Option<i64>,
}

impl Sought {
    /// Name, or id.
    pub fn called(&self) -> &str {
        if self.name.is_empty() { &self.person } else { &self.name }
    }

    /// In words.
    pub fn words(&self) -> String {
        let told = |at: &At, told: &Option<String>| match told {
            Some(told) => say!("{entered} (as told {told})", entered = at.site, told),
            None => at.site.clone(),
        };
        let (name, time, last) = (self.called(), told(&self.from, &self.from_told), &self.last);
        let lost = match self.how {
            "missing" => say!("{name} was MISSING at the roll call of {time} ({last})", name, time, last),
            _ => say!("{name} was NOT SEEN OUTSIDE at {time} ({last})", name, time, last),
        };
        let (Some(found), Some(seconds)) = (&self.found, self.seconds) else {
            let lost = match self.how {
                "missing" => say!("{lost}, and no roll call after it found them", lost),
                _ => say!("{lost}, and nobody tells that they saw them after it", lost),
            };
            let Some(At { site: time, line, .. }) = &self.otherwise else { return lost };
            return match self.how {
                "missing" => say!(
                    "{lost}; told seen outside at {time} (line {line}), which is no answer at a roll call",
                    lost,
                    time,
                    line
                ),
                _ => say!(
                    "{lost}; answered the roll call of {time} (line {line}), which nobody outside saw",
                    lost,
                    time,
                    line
                ),
            };
        };
        let (time, after) = (told(found, &self.found_told), super::lasted(seconds));
        match self.told {
            None => say!("{lost}, and found at {time}, after {after}", lost, time, after),
            Some(told) => say!(
                "{lost}, and found at {time}, after {after} as it was entered, which counts; by the times told after {told}",
                lost,
                time,
                after,
                told = super::lasted(told)
            ),
        }
    }
}

/// What found somebody: its stamp, and the time that was told for it.
type Found<'p> = (&'p Stamp, &'p str);

/// Everybody who was looked for on a permit, in the order of the lines.
pub fn of(p: &Permit, clocks: &Clocks, named: &dyn Fn(&str) -> String) -> Vec<Sought> {
    let mut out = Vec::new();
    let calls: Vec<&Happened> = p.day.iter().filter(|h| h.kind == "roll_call").collect();
    for (i, call) in calls.iter().enumerate() {
        let missing = call.data.texts("missing");
        let before = i.checked_sub(1).and_then(|i| calls.get(i));
        let before = before.map_or_else(Vec::new, |c| c.data.texts("missing"));
        for person in missing.iter().filter(|id| !before.contains(id)) {
            let next = calls.iter().skip(i + 1).find(|c| finds(c, person));
            let found = next.map(|c| (&c.stamp, told(c)));
            out.push((call.stamp.seq, one(p, clocks, (person, "missing"), (&call.stamp, told(call)), found)));
        }
    }
    let seen: Vec<_> = p.answers.iter().filter(|a| a.step == SEEN && a.carry.is_none()).collect();
    let no = |value: &Option<SmolStr>| value.as_deref() == Some("no");
    for (i, a) in seen.iter().enumerate().filter(|(_, a)| no(&a.value)) {
        let of_them = |o: &&&crate::permit::state::Answer| o.item == a.item;
        if seen.iter().take(i).rfind(of_them).is_some_and(|before| no(&before.value)) {
            continue;
        }
        let next = seen.iter().skip(i + 1).filter(of_them).find(|o| !no(&o.value));
        let when =
            |a: &'_ crate::permit::state::Answer| a.at.clone().unwrap_or_else(|| a.stamp.time.to_string());
        let (from, to) = (when(a), next.map(|o| (&o.stamp, when(o))));
        let found = to.as_ref().map(|(stamp, at)| (*stamp, at.as_str()));
        let person = a.item.as_deref().unwrap_or_default();
        out.push((a.stamp.seq, one(p, clocks, (person, "not_seen"), (&a.stamp, &from), found)));
    }
    for (seq, s) in out.iter_mut().filter(|(_, s)| s.found.is_none()) {
        let of_them = |a: &&&crate::permit::state::Answer| {
            a.stamp.seq > *seq && a.item.as_deref() == Some(&s.person) && a.value.as_deref() == Some("yes")
        };
        s.otherwise = match s.how {
            "missing" => seen.iter().rfind(of_them).map(|a| at(&a.stamp)),
            _ => calls.iter().rfind(|c| c.stamp.seq > *seq && finds(c, &s.person)).map(|c| at(&c.stamp)),
        };
    }
    out.sort_by_key(|(seq, _)| *seq);
    let name = |(_, mut s): (u64, Sought)| {
        s.name = named(&s.person);
        s
    };
    out.into_iter().map(name).collect()
}

/// Whether a roll call found somebody: it asks for everyone, and names who was found where it names anybody.
fn finds(call: &Happened, person: &str) -> bool {
    let found = call.data.texts("found");
    !call.data.texts("missing").contains(&person) && (found.is_empty() || found.contains(&person))
}

fn told(h: &Happened) -> &str {
    h.data.text("at").unwrap_or(&h.stamp.time)
}

fn one(
    p: &Permit,
    clocks: &Clocks,
    (person, how): (&str, &'static str),
    (from, from_told): Found<'_>,
    found: Option<Found<'_>>,
) -> Sought {
    let second = |stamp: &Stamp, time: &str| seconds(time) + clocks.shift(at(stamp).place());
    let took = found.map(|(to, to_told)| {
        let begun = second(from, from_told).min(second(from, &from.time));
        let counts = second(to, to_told).max(second(to, &to.time)) - begun;
        let told = second(to, to_told) - second(from, from_told);
        (counts.max(0), told.max(0))
    });
    let (last, last_at) = whereabouts(p, person, from.seq);
    Sought {
        person: person.to_owned(),
        name: String::new(),
        how,
        from: at(from),
        from_told: other(from, from_told),
        last,
        last_at,
        found: found.map(|(to, _)| at(to)),
        otherwise: None,
        found_told: found.and_then(|(to, told)| other(to, told)),
        seconds: took.map(|t| t.0),
        told: took.filter(|(counts, told)| counts != told).map(|t| t.1),
    }
}

/// A told time at the site, where it is another than the line's.
fn other(stamp: &Stamp, told: &str) -> Option<String> {
    (told != stamp.time.as_str()).then(|| for_people(told, &stamp.zone))
}

/// Where somebody was by the last line that told of them before.
fn whereabouts(p: &Permit, person: &str, before: u64) -> (String, Option<At>) {
    let of = |h: &&Happened| h.stamp.seq < before && h.data.text("person") == Some(person);
    let moves = ["on_air", "in", "out", "off_air"];
    let Some(h) = p.day.iter().filter(of).rfind(|h| moves.contains(&h.kind)) else {
        return (say!("never on air by the lines").into(), None);
    };
    let time = clock(told(h), &h.stamp.zone);
    let words = match h.kind {
        "on_air" => say!("on air, outside, since {time}", time),
        "in" => say!("in since {time}", time),
        "out" => say!("out, on air, since {time}", time),
        _ => say!("off air by the tally at {time}", time),
    };
    (words, Some(at(&h.stamp)))
}
