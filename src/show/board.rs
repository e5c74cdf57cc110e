//! The board: every permit that matters now, in the order in which it is looked at.
//!
//! In: everything that is known, and now. Out: final words. First who is on air, then what sends them out, then whom to
//! call. Never a time until the leave-by pressure is reached. Decides nothing.

use super::orders::{self, Given};
use super::{page_one, permit as view_of};
use crate::permit::bench::{Bench, Texts};
use crate::permit::copies;
use crate::permit::decide::Known;
use crate::permit::gone::{self, Gone, air_gone};
use crate::permit::state::{ENDINGS, Happened, Permit};
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
    page_one::CO_LIMIT,
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

/// On a suspended permit: who is missing, what happened since, and with people on air the orders and when the air is
/// gone. A drill or a false alarm hides nothing that happened beside it.
fn alarm(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    if known.life(permit) != StateWord::Suspended {
        return Vec::new();
    }
    let Some(set) = known.state.sets.get(&permit.set.id) else { return Vec::new() };
    // Whoever breathes this air by another permit or none is under the same alarm.
    let on_air = known.perhaps_on_air_from(&permit.set.id).next().is_some();
    let mut out: Vec<String> = missing(permit).into_iter().collect();
    let stopped = permit.day.iter().filter(|h| h.kind == "suspend" && h.stamp.seq >= permit.since.seq);
    out.extend(stopped.map(|h| {
        format!(
            "STOPPED BY A PERSON at {}: {}",
            clock(&h.stamp.time, &h.stamp.zone),
            h.data.text("reason").unwrap_or_default()
        )
    }));
    for p in known.perhaps_on_air_from(&permit.set.id).filter(|p| p.permit.as_deref() != Some(&permit.number))
    {
        out.push(format!(
            "ON THIS AIR TOO, BY {}: {}, {}",
            p.permit.as_deref().unwrap_or("NO PERMIT"),
            p.person,
            p.whereabouts.words()
        ));
    }
    let ending = |what: &str| ENDINGS.contains(&what);
    let mut events: Vec<_> = set.events.iter().filter(|(_, at)| at.seq >= permit.since.seq).collect();
    events.sort_by_key(|(what, at)| (ending(what), at.seq));
    let texts = Texts::of(known.chain, permit).ok();
    let decided = texts.as_ref().and_then(|t| {
        let answer = orders::decided(&Bench::new(known.state, permit, t, known.now))?;
        answer.value.clone()
    });
    for (what, at) in events {
        let given = Given {
            co: decided.as_deref(),
            no_reserve: texts.as_ref().is_some_and(|t| t.set.choice("reserve") == Some("none")),
            // Only what came before this made the reserve feed.
            on_reserve: set.feeding.as_ref().is_some_and(|f| f.from.as_str() < at.time.as_str())
                && (what != "co" || gone::on_reserve_but_for_co(known, &permit.set.id)),
            grave: orders::grave(known, permit),
        };
        let order = if on_air { format!(": {}", orders::of(what, given).wearers) } else { String::new() };
        let words = what.replace('_', " ").to_uppercase();
        out.push(format!("{words} at {}{order}", clock(&at.time, &at.zone)));
    }
    for (kind, words) in [
        ("moved", "THE SET WAS MOVED"),
        ("plugged", "THE SET WAS PLUGGED IN ELSEWHERE"),
        ("stopped", "STOPPED"),
    ] {
        if let Some(h) = set.last.get(kind).filter(|h| h.stamp.seq >= permit.since.seq) {
            let at = clock(h.data.text("at").unwrap_or(&h.stamp.time), &h.stamp.zone);
            out.push(format!("{words} at {at}"));
        }
    }
    if !on_air {
        return out;
    }
    if out.is_empty() {
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

/// Whom the last roll call since the permit was suspended did not find.
fn missing(permit: &Permit) -> Option<String> {
    let called = permit.day.iter().filter(|h| h.kind == "roll_call" && h.stamp.seq >= permit.since.seq);
    let last = called.max_by_key(|h| h.stamp.seq)?;
    let names = last.data.texts("missing");
    let at = clock(last.data.text("at").unwrap_or(&last.stamp.time), &last.stamp.zone);
    (!names.is_empty()).then(|| format!("MISSING at the roll call of {at}: {}", names.join(", ")))
}

/// What no row says: sets that run without a permit, copies of permits that have ended and hang still.
pub fn apart(known: &Known<'_>) -> Vec<String> {
    let mut out = Vec::new();
    for (id, set) in known.state.sets.iter().filter(|(_, s)| s.running()) {
        let answered = known.state.permits.values().any(|p| p.set.id == *id && !known.life(p).ended());
        if let Some(start) = set.last.get("started").filter(|_| !answered) {
            out.push(format!(
                "{id} RUNS since {} and no permit of it is open: shut it down (`airwrit open --shutdown`), or report that \
                 it stopped",
                clock(&start.stamp.time, &start.stamp.zone)
            ));
        }
    }
    for permit in known.state.permits.values().filter(|p| known.life(p).ended()) {
        let word = known.life(permit).word();
        let hang = copies::stale(known, permit).into_iter();
        out.extend(hang.map(|c| format!("{} is {word}: {}", permit.number, c.words())));
    }
    out
}

pub(super) fn ago(known: &Known<'_>, time: &str) -> String {
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
