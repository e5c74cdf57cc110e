//! The board: every permit that matters now, in the order in which it is looked at.
//!
//! In: everything that is known, and now. Out: final words. First who is on air, then what sends them out, then whom to
//! call. Never a time until the leave-by pressure is reached. Decides nothing.

use super::permit as view_of;
use crate::permit::decide::Known;
use crate::permit::gone::{self, Gone, air_gone};
use crate::permit::state::{Happened, Permit};
use crate::record::line::Line;
use crate::time::{clock, seconds};
use crate::view::StateWord;
use serde::Serialize;
use std::collections::BTreeMap;

/// One permit on the board.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Number.
    pub number: String,
    /// State, large.
    pub state: String,
    /// What it means for the people.
    pub means: String,
    /// Valid to, and what ends it.
    pub valid_to: String,
    /// The word that tells a stale sheet; empty while there is none.
    pub check_word: String,
    /// Site, set, place.
    pub place: String,
    /// Everyone on its air: name, where, outlet, since when, so many minutes.
    pub on_air: Vec<String>,
    /// What speaks against it.
    pub warnings: Vec<String>,
    /// What page one says of orders and limits, in its order.
    pub orders: Vec<String>,
    /// The last reading of each gauge, and how long ago.
    pub readings: Vec<String>,
}

/// What of page one stands on the board, in this order.
const ORDERS: &[&str] = &[
    "Any alarm or change-over",
    "NO RESERVE",
    "Leave by: reserve gauge at",
    "Reserve gauge, at least",
    "Supply gauge of the set",
    "On a carbon monoxide alarm",
    "Recall signal",
    "Rescue",
    "Assembly point",
    "Radio",
    "Attendant at the set",
    "Entry watch",
    "Most on air at once",
    "CO in the air test",
];

/// Every permit that has not ended, and every one with somebody on its air; people on air first, then live ones.
pub fn board(known: &Known<'_>, lines: &[Line]) -> Result<Vec<Row>, String> {
    let on = |p: &Permit| known.state.tally_of_permit(&p.number);
    let mut shown: Vec<&Permit> =
        known.state.permits.values().filter(|p| !known.life(p).ended() || on(p) > 0).collect();
    shown.sort_by_key(|p| (on(p) == 0, known.life(p) != StateWord::Live, p.opened.seq));
    shown.into_iter().map(|p| row(known, lines, p)).collect()
}

fn row(known: &Known<'_>, lines: &[Line], permit: &Permit) -> Result<Row, String> {
    let view = view_of(known, lines, &permit.number, "")?;
    let order = |label: &&str| {
        let s = view.page_one.iter().find(|s| s.label == *label)?;
        let note = if s.note.is_empty() { String::new() } else { format!(" ({})", s.note) };
        Some(format!("{}: {}{note}", s.label, s.value))
    };
    let here = known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number));
    let on_air = here.map(|p| {
        let name =
            view.wearers.iter().find(|w| w.person == p.person).map_or(p.person.as_str(), |w| w.name.as_str());
        let outlet = p.outlet.as_deref().map_or("outlet not known".to_owned(), |o| format!("outlet {o}"));
        let since = clock(&p.since.time, &p.since.zone);
        format!("{name}: {}, {outlet}, since {since}, {}", p.whereabouts.words(), ago(known, &p.since.time))
    });
    let valid =
        if view.valid_because.is_empty() { String::new() } else { format!(" ({})", view.valid_because) };
    Ok(Row {
        number: view.number.clone(),
        state: view.state_words.clone(),
        means: view.state_means.clone(),
        valid_to: format!("{}{valid}", view.valid_to),
        check_word: view.check_word.clone(),
        place: format!("{}, {}, {}", view.site, view.set, view.place),
        on_air: on_air.collect(),
        warnings: alarm(known, permit).into_iter().chain(view.warnings.iter().cloned()).collect(),
        orders: ORDERS.iter().filter_map(order).collect(),
        readings: readings(known, permit),
    })
}

/// With people on air on a suspended permit: what suspended it, the order, and when the air is gone.
fn alarm(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    if known.life(permit) != StateWord::Suspended || known.state.tally_of_permit(&permit.number) == 0 {
        return Vec::new();
    }
    let Some(set) = known.state.sets.get(&permit.set.id) else { return Vec::new() };
    let mut out = Vec::new();
    let event = set.events.iter().filter(|(_, at)| at.seq >= permit.since.seq).max_by_key(|(_, at)| at.seq);
    if let Some((what, at)) = event {
        let order = super::orders::of(what, super::orders::Given::default()).wearers;
        let order = if what == "co" { "as it was ordered" } else { order.as_str() };
        out.push(format!(
            "{} at {}: {order}",
            what.replace('_', " ").to_uppercase(),
            clock(&at.time, &at.zone)
        ));
    } else {
        let since = clock(&permit.since.time, &permit.since.zone);
        out.push(format!("SUSPENDED at {since} WITH PEOPLE ON AIR: everyone out"));
    }
    if !set.running() {
        out.push("THE SET IS SAID TO BE STOPPED".into());
    }
    match gone::on_reserve_since(known, &permit.set.id).and_then(|u| air_gone(known, &permit.set.id, u)) {
        Some(Gone::At(at, why)) => {
            let passed = (known.now.seconds() - at) / 60;
            let when = clock(&crate::time::utc(at), &known.now.zone);
            let when = if passed >= 0 { format!("{when}, PASSED {passed} min ago") } else { when };
            out.push(format!("AIR GONE AT {when}: {why}"));
        }
        Some(Gone::NotKnown(why)) => out.push(format!("AIR GONE AT ANY MOMENT: {why}")),
        None => {}
    }
    out
}

fn ago(known: &Known<'_>, time: &str) -> String {
    format!("{} min", (known.now.seconds() - seconds(time)).max(0) / 60)
}

/// The last reading of each gauge of the set since the permit was opened.
fn readings(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let of_set = known.state.permits.values().filter(|p| p.set.id == permit.set.id).flat_map(|p| &p.day);
    let mut last: BTreeMap<(String, String), &Happened> = BTreeMap::new();
    for h in of_set.filter(|h| h.kind == "reading" && h.stamp.seq > permit.opened.seq) {
        let word = |name: &str| h.data.text(name).unwrap_or_default().to_owned();
        let entry = last.entry((word("what"), word("item"))).or_insert(h);
        if h.stamp.seq >= entry.stamp.seq {
            *entry = h;
        }
    }
    last.into_iter()
        .map(|((what, item), h)| {
            let text = |name: &str| h.data.text(name).unwrap_or_default();
            let at = h.data.text("at").unwrap_or(&h.stamp.time);
            let item = if item.is_empty() { String::new() } else { format!(" {item}") };
            let when = format!("{}, {} ago", clock(at, &h.stamp.zone), ago(known, at));
            format!("{}{item}: {} {} at {when}", what.replace('_', " "), text("value"), text("unit"))
        })
        .collect()
}
