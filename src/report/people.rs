//! Each person: what they signed with which key and from whose machine, and how long they were on air.

use super::ends::Ends;
use super::tally::Tally;
use super::{At, Input, names};
use crate::audit::numbered;
use crate::record::json::Json;
use serde::Serialize;
use std::collections::BTreeMap;

/// What one person signed of a kind, with one key, from one machine.
#[derive(Clone, Debug, Serialize)]
pub struct Signed {
    /// Kind.
    pub kind: String,
    /// Fingerprint.
    pub key: String,
    /// `station`, `own`.
    pub machine: String,
    /// How often.
    pub times: u64,
    /// The first of them.
    pub first: At,
    /// The last.
    pub last: At,
}

/// Everything of one person.
#[derive(Clone, Debug, Serialize)]
pub struct PersonFacts {
    /// Id, or the name as it was told.
    pub id: String,
    /// Name by the roster, else by the site's texts that were in force.
    pub name: String,
    /// Roles by the roster in force last.
    pub roles: Vec<String>,
    /// What they signed.
    pub signed: Vec<Signed>,
    /// Lines that were entered as them, which counts for no rule.
    pub entered: u64,
    /// The first and the last few of them.
    pub entered_lines: Ends,
    /// Spells on air.
    pub spells: usize,
    /// Seconds on air together.
    pub seconds: i64,
    /// The same by the times that were told, where they are others than entered.
    pub told_seconds: i64,
    /// The seconds as entered in minutes, rounded up once.
    pub minutes: i64,
    /// Seconds of the longest.
    pub longest_seconds: i64,
    /// The same in minutes, rounded up.
    pub longest: i64,
    /// The line at which the longest began.
    pub longest_at: Option<At>,
    /// Never reported off air.
    pub still_on: bool,
    /// Permits issued, refused; of those issued: narrowed, read again at a gauge.
    pub issued: u64,
    /// Refused.
    pub refused: u64,
    /// Narrowed.
    pub narrowed: u64,
    /// Looked.
    pub looked: u64,
}

/// Everybody of the roster, and whoever else the lines name.
pub fn of(input: &Input<'_>, tally: &Tally) -> Vec<PersonFacts> {
    let Some(chain) = &input.replayed.chain else { return Vec::new() };
    let roster = &chain.origin.roster;
    let mut all: BTreeMap<String, PersonFacts> = BTreeMap::new();
    for p in &roster.persons {
        let of = all.entry(p.id.clone()).or_insert_with(|| nobody(&p.id));
        of.name.clone_from(&p.name);
        of.roles = p.roles.iter().map(|r| r.word().to_owned()).collect();
    }
    for (place, l) in numbered(&input.verified.lines) {
        let here = || At::new(place, &l.time, &l.zone);
        let Some(act) = &l.act else {
            if let Some(by) = &l.by {
                let of = all.entry(by.to_string()).or_insert_with(|| nobody(by));
                of.entered += 1;
                of.entered_lines.push(here());
            }
            continue;
        };
        let of = all.entry(act.by.clone()).or_insert_with(|| nobody(&act.by));
        if l.kind.name == "countersign" {
            of.issued += 1;
            of.narrowed += u64::from(l.data.has("limits"));
            of.looked += u64::from(matches!(l.data.get("seen"), Some(Json::Arr(_))));
        }
        of.refused += u64::from(l.kind.name == "refuse");
        let machine = l.data.text("where").unwrap_or_default();
        let kind = l.kind.name.replace('_', " ");
        let same = |s: &&mut Signed| s.kind == kind && s.key == act.key && s.machine == machine;
        match of.signed.iter_mut().find(same) {
            Some(s) => {
                s.times += 1;
                s.last = here();
            }
            None => of.signed.push(Signed {
                kind,
                key: act.key.clone(),
                machine: machine.to_owned(),
                times: 1,
                first: here(),
                last: here(),
            }),
        }
    }
    for s in &tally.spells {
        let of = all.entry(s.person.clone()).or_insert_with(|| nobody(&s.person));
        of.spells += 1;
        let Some(to) = &s.to else {
            of.still_on = true;
            continue;
        };
        let lasted = (tally.clocks.second(to) - tally.clocks.second(&s.from)).max(0);
        of.seconds += lasted;
        let told = |told: &Option<String>, entered: &At| {
            let shift = tally.clocks.shift(entered.place());
            told.as_deref().map_or_else(|| tally.clocks.second(entered), |t| crate::time::seconds(t) + shift)
        };
        of.told_seconds += (told(&s.told_off, to) - told(&s.told, &s.from)).max(0);
        if lasted > of.longest_seconds {
            of.longest_seconds = lasted;
            of.longest_at = Some(s.from.clone());
        }
    }
    let known = names::of(input);
    for of in all.values_mut() {
        // Rounded once: every spell rounded up by itself would add a minute that nobody breathed.
        of.minutes = (of.seconds + 59).div_euclid(60);
        of.longest = (of.longest_seconds + 59).div_euclid(60);
        if of.name.is_empty() {
            of.name = known.name(&of.id).unwrap_or_default().to_owned();
        }
    }
    all.into_values().collect()
}

fn nobody(id: &str) -> PersonFacts {
    PersonFacts {
        id: id.to_owned(),
        name: String::new(),
        roles: Vec::new(),
        signed: Vec::new(),
        entered: 0,
        entered_lines: Ends::default(),
        spells: 0,
        seconds: 0,
        told_seconds: 0,
        minutes: 0,
        longest_seconds: 0,
        longest: 0,
        longest_at: None,
        still_on: false,
        issued: 0,
        refused: 0,
        narrowed: 0,
        looked: 0,
    }
}
