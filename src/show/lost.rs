//! Who is looked for, where each was last, and what is done until everybody is found: after a roll call that did not find
//! them, on the board and in an alarm.
//!
//! What is done is common practice, no source. Decides nothing.

use crate::permit::decide::{Known, crew};
use crate::permit::state::Permit;
use crate::time::clock;
use crate::tongue::say;
use serde::Serialize;

/// Somebody who is looked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Lost {
    /// Id.
    pub id: String,
    /// Name, and the id that is typed for it.
    pub name: String,
    /// Where the tally has them, since when, on which outlet: in words.
    pub last: String,
}

/// Kinds of lines that say where somebody is.
const TALLY: [&str; 4] = ["on_air", "in", "out", "off_air"];

/// Everybody of a permit who is looked for: missing at the last roll call, or not seen outside; each once.
pub fn lost(known: &Known<'_>, permit: &Permit) -> Vec<Lost> {
    let missing = crew::missing(permit).map_or_else(Vec::new, |(_, names)| names);
    let unseen = crew::unseen(known, permit).into_iter().map(|(id, _)| id);
    let mut ids: Vec<&str> = Vec::new();
    for id in missing.into_iter().chain(unseen) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    let one =
        |id: &str| Lost { id: id.to_owned(), name: crew::who(known, id), last: last(known, permit, id) };
    ids.into_iter().map(one).collect()
}

fn last(known: &Known<'_>, permit: &Permit, id: &str) -> String {
    if let Some(p) = known.state.on_air.iter().find(|p| p.person == id) {
        let (place, time) = (p.whereabouts.words(), clock(&p.since.time, &p.since.zone));
        return match &p.outlet {
            Some(outlet) => {
                say!("by the tally {place} since {time}, outlet {outlet}", place, time, outlet)
            }
            None => say!("by the tally {place} since {time}, outlet not known", place, time),
        };
    }
    let own =
        |h: &&crate::permit::state::Happened| TALLY.contains(&&*h.kind) && h.data.text("person") == Some(id);
    match permit.day.iter().rev().find(own) {
        Some(h) => {
            let time = clock(h.data.text("at").unwrap_or(&h.stamp.time), &h.stamp.zone);
            say!("off air since {time} by the tally, which is only what somebody entered", time)
        }
        None => say!("never on this air by the tally, which is only what somebody entered").into(),
    }
}

/// What holds of the set while somebody is looked for.
pub fn set_runs_on() -> &'static str {
    say!(
        "DO NOT STOP THE SET: whoever is looked for may breathe its air, whatever the tally says; at once only on smoke or fire"
    )
}

/// What is done while somebody is looked for, in this order; whom the permits name for a rescue.
pub fn search(rescue: &[String]) -> Vec<String> {
    let rescue = if rescue.is_empty() { say!("the one agreed").to_owned() } else { rescue.join("; ") };
    vec![
        say!("Call the rescue now: {rescue}", rescue),
        say!("Nobody goes in but the rescuers named, and none of them without air").into(),
        say!("Call them again, by name, by voice and by radio, at every way out; follow each hose from its outlet").into(),
        set_runs_on().into(),
        say!("Found: call the roll again. Only a roll call that finds everybody ends this").into(),
    ]
}
