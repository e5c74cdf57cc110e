//! Each set: its permits, tests of its air against their due dates, what was done to it.

use super::tally::Tally;
use super::{At, Input, permits};
use crate::permit::bench::{air_test, file};
use crate::permit::state::{Drill, Happened, SetState};
use crate::record::chain::Chain;
use crate::tongue::say;
use serde::Serialize;

/// A test of the air.
#[derive(Clone, Debug, Serialize)]
pub struct Test {
    /// The day.
    pub day: String,
    /// Where.
    pub place: String,
    /// Who took it.
    pub sampler: String,
    /// In words: each reading and how far it may be off.
    pub words: String,
    /// The last day it is good for, by the site in force last.
    pub due: Option<String>,
    /// What in it is outside the limits of the site in force last; empty: it passed.
    pub against: Vec<String>,
    /// Line.
    pub at: At,
}

/// A drill.
#[derive(Clone, Debug, Serialize)]
pub struct Drilled {
    /// Where.
    pub place: String,
    /// Seconds from its signal until it was entered that the last mask was off.
    pub seconds: Option<i64>,
    /// The same by the times that were told, where they are others.
    pub told: Option<i64>,
    /// Line.
    pub at: At,
}

/// Everything of one set.
#[derive(Clone, Debug, Serialize)]
pub struct SetFacts {
    /// Id.
    pub id: String,
    /// Name and serial number, by the file in force last.
    pub name: String,
    /// Numbers of its permits.
    pub permits: Vec<String>,
    /// Tests.
    pub tests: Vec<Test>,
    /// The latest line of each kind: what, in short, and where.
    pub last: Vec<(String, String, At)>,
    /// The latest event of each kind.
    pub events: Vec<(String, At)>,
    /// Drills.
    pub drills: Vec<Drilled>,
    /// Other registers that hold it too, by our lines.
    pub held_by: Vec<(String, At)>,
}

/// Every set that has a file or a line.
pub fn of(input: &Input<'_>, tally: &Tally) -> Vec<SetFacts> {
    let Some(chain) = &input.replayed.chain else { return Vec::new() };
    let state = &input.replayed.state;
    let mut ids: Vec<&str> = state.sets.keys().map(String::as_str).collect();
    ids.extend(chain.texts.keys().filter(|(kind, _)| kind == "set").map(|(_, id)| id.as_str()));
    ids.sort_unstable();
    ids.dedup();
    let nothing = SetState::default();
    ids.into_iter()
        .map(|id| {
            let set = state.sets.get(id).unwrap_or(&nothing);
            let mut own: Vec<_> = state.permits.values().filter(|p| p.set.id == id).collect();
            own.sort_by_key(|p| p.opened.seq);
            SetFacts {
                id: id.to_owned(),
                name: named(chain, id),
                permits: own.iter().map(|p| p.number.clone()).collect(),
                tests: set.air_tests.iter().map(|t| test(chain, t)).collect(),
                last: set
                    .last
                    .iter()
                    .map(|(kind, h)| ((*kind).to_owned(), short(h), permits::at(&h.stamp)))
                    .collect(),
                events: set.events.iter().map(|(what, s)| (what.clone(), permits::at(s))).collect(),
                drills: set.drills.iter().map(|d| drilled(d, tally)).collect(),
                held_by: set.held_by.values().map(|(station, s)| (station.clone(), permits::at(s))).collect(),
            }
        })
        .collect()
}

/// As it was entered, whatever was told for another time.
fn drilled(d: &Drill, tally: &Tally) -> Drilled {
    let at = permits::at(&d.stamp);
    let entered = tally.alarms.iter().find(|a| a.at == at && !a.out.is_empty());
    let seconds = entered.map_or_else(|| d.seconds(), |a| a.off);
    let told = entered.and_then(|a| a.told_off);
    Drilled { place: d.place.clone(), seconds, told, at }
}

fn named(chain: &Chain, id: &str) -> String {
    let text = chain.texts.get(&("set".to_owned(), id.to_owned()));
    let Some(values) = text.and_then(|t| file("set", &t.text).ok()) else { return String::new() };
    let name = values.words("name").map(|w| w.get("en").to_owned()).unwrap_or_default();
    say!("{name}, serial number {serial}", name, serial = values.text("serial").unwrap_or(say!("not known")))
}

fn short(h: &Happened) -> String {
    let names = ["place", "supply_point", "from", "machine", "what", "hours", "words"];
    let said: Vec<&str> = names.into_iter().filter_map(|n| h.data.text(n)).collect();
    said.join(", ")
}

fn test(chain: &Chain, t: &Happened) -> Test {
    let site = chain.texts.iter().find(|((kind, _), _)| kind == "site");
    let site = site.and_then(|(_, t)| file("site", &t.text).ok());
    let text = |name: &str| t.data.text(name).unwrap_or_default().to_owned();
    Test {
        day: t.day().to_string(),
        place: text("place"),
        sampler: text("sampler"),
        words: air_test::in_words(t),
        due: site.as_ref().and_then(|s| permits::due(t.day(), s)).map(|d| d.to_string()),
        against: site.map(|s| air_test::against(t, &s)).unwrap_or_default(),
        at: permits::at(&t.stamp),
    }
}
