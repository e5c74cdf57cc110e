//! The board: every permit that matters now, in the order in which it is looked at.
//!
//! In: everything that is known, and now. Out: final words. First who is on air, then what sends them out, then whom to
//! call. Never a time until the leave-by pressure is reached. Decides nothing.

use super::orders::{self, Given};
use super::{of_permit, view_of};
use crate::permit::bench::{Bench, Texts};
use crate::permit::copies;
use crate::permit::decide::Known;
use crate::permit::gone::{self, Gone, air_gone};
use crate::permit::state::{ENDINGS, Happened, Permit};
use crate::record::line::Line;
use crate::time::{clock, seconds};
use crate::tongue::{Tongue, say};
use crate::view::{About, StateWord, recorded};
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
    /// False where it has no end, since it is not valid.
    #[serde(skip)]
    pub ends: bool,
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
const ORDERS: [About; 15] = [
    About::AnyAlarm,
    About::NoReserve,
    About::LeaveBy,
    About::ReserveAtLeast,
    About::SupplyGauge,
    About::OnCo,
    About::Recall,
    About::Rescue,
    About::Assembly,
    About::Radio,
    About::Attendant,
    About::EntryWatch,
    About::MostOnAir,
    About::CoLimit,
    About::CoTested,
];

/// Every permit that has not ended, and every one with somebody on its air; people on air first, then live ones. In the
/// language asked for, else each in its site's.
pub fn board(known: &Known<'_>, lines: &[Line], asked: Option<Tongue>) -> Result<Vec<Row>, String> {
    let on = |p: &Permit| known.state.tally_of_permit(&p.number);
    let mut shown: Vec<&Permit> =
        known.state.permits.values().filter(|p| !known.life(p).ended() || on(p) > 0).collect();
    shown.sort_by_key(|p| (on(p) == 0, known.life(p) != StateWord::Live, p.opened.seq));
    let one = |p: &Permit| of_permit(known, &p.number, asked, |p, texts| row(known, lines, p, texts));
    shown.into_iter().map(one).collect()
}

fn row(known: &Known<'_>, lines: &[Line], permit: &Permit, texts: &Texts) -> Result<Row, String> {
    let view = view_of(known, lines, permit, texts, None)?;
    let order = |about: &About| {
        let s = view.page_one.iter().find(|s| s.about == *about)?;
        let note = if s.note.is_empty() { String::new() } else { format!(" ({})", s.note) };
        Some(format!("{}: {}{note}", s.label, s.value))
    };
    let here = known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number));
    let on_air = here.map(|p| {
        let name =
            view.wearers.iter().find(|w| w.person == p.person).map_or(p.person.as_str(), |w| w.name.as_str());
        let outlet = match p.outlet.as_deref() {
            Some(outlet) => say!("outlet {outlet}", outlet),
            None => say!("outlet not known").to_owned(),
        };
        let since = say!("since {time}", time = clock(&p.since.time, &p.since.zone));
        format!("{name}: {}, {outlet}, {since}, {}", p.whereabouts.words(), ago(known, &p.since.time))
    });
    let valid =
        if view.valid_because.is_empty() { String::new() } else { format!(" ({})", view.valid_because) };
    Ok(Row {
        number: view.number.clone(),
        state: view.state_words.clone(),
        means: view.state_means.clone(),
        valid_to: format!("{}{valid}", view.valid_to),
        ends: super::has_end(permit, view.state),
        check_word: view.check_word.clone(),
        place: format!("{}, {}, {}", view.site, view.set, view.place),
        on_air: on_air.collect(),
        warnings: alarm(known, permit, texts).into_iter().chain(view.warnings.iter().cloned()).collect(),
        orders: ORDERS.iter().filter_map(order).collect(),
        readings: readings(known, permit),
    })
}

/// On a suspended permit: who is missing, what happened since, and with people on air the orders and when the air is
/// gone. A drill or a false alarm hides nothing that happened beside it.
fn alarm(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    if known.life(permit) != StateWord::Suspended {
        return Vec::new();
    }
    let Some(set) = known.state.sets.get(&permit.set.id) else { return Vec::new() };
    // Whoever breathes this air by another permit or none is under the same alarm.
    let on_air = known.perhaps_on_air_from(&permit.set.id).next().is_some();
    let mut out: Vec<String> = missing(permit).into_iter().collect();
    let stopped = permit.day.iter().filter(|h| h.kind == "suspend" && h.stamp.seq >= permit.since.seq);
    out.extend(stopped.map(|h| {
        say!(
            "STOPPED BY A PERSON at {time}: {reason}",
            time = clock(&h.stamp.time, &h.stamp.zone),
            reason = h.data.text("reason").unwrap_or_default()
        )
    }));
    for p in known.perhaps_on_air_from(&permit.set.id).filter(|p| p.permit.as_deref() != Some(&permit.number))
    {
        out.push(say!(
            "ON THIS AIR TOO, BY {permit}: {name}, {tally}",
            permit = p.permit.as_deref().unwrap_or(say!("NO PERMIT")),
            name = p.person,
            tally = p.whereabouts.words()
        ));
    }
    let ending = |what: &str| ENDINGS.contains(&what);
    let mut events: Vec<_> = set.events.iter().filter(|(_, at)| at.seq >= permit.since.seq).collect();
    events.sort_by_key(|(what, at)| (ending(what), at.seq));
    let bench = Bench::new(known.state, permit, texts, known.now);
    let decided = orders::decided(&bench).and_then(|answer| answer.value.as_deref());
    for (what, at) in events {
        let given = Given {
            co: decided,
            no_reserve: texts.set.choice("reserve") == Some("none"),
            // Only what came before this made the reserve feed.
            on_reserve: set.feeding.as_ref().is_some_and(|f| f.from.as_str() < at.time.as_str())
                && (what != "co" || gone::on_reserve_but_for_co(known, &permit.set.id)),
            grave: orders::grave(known, permit),
        };
        let order = if on_air { format!(": {}", orders::of(what, given).wearers) } else { String::new() };
        let (event, time) = (recorded(what).to_uppercase(), clock(&at.time, &at.zone));
        out.push(say!("{event} at {time}", event, time) + &order);
    }
    for kind in ["moved", "plugged", "stopped"] {
        if let Some(h) = set.last.get(kind).filter(|h| h.stamp.seq >= permit.since.seq) {
            let time = clock(h.data.text("at").unwrap_or(&h.stamp.time), &h.stamp.zone);
            out.push(match kind {
                "moved" => say!("THE SET WAS MOVED at {time}", time),
                "plugged" => say!("THE SET WAS PLUGGED IN ELSEWHERE at {time}", time),
                _ => say!("STOPPED at {time}", time),
            });
        }
    }
    if !on_air {
        return out;
    }
    if out.is_empty() {
        let time = clock(&permit.since.time, &permit.since.zone);
        out.push(say!("SUSPENDED at {time} WITH PEOPLE ON AIR: everyone out", time));
    }
    if !set.running() {
        out.push(say!("THE SET IS SAID TO BE STOPPED").into());
    }
    match gone::on_reserve_since(known, &permit.set.id).and_then(|u| air_gone(known, &permit.set.id, u)) {
        Some(Gone::At(at, why)) => {
            let passed = (known.now.seconds() - at) / 60;
            let time = clock(&crate::time::utc(at), &known.now.zone);
            out.push(if passed >= 0 {
                say!("AIR GONE AT {time}, PASSED {passed} min ago: {why}", time, passed, why)
            } else {
                say!("AIR GONE AT {time}: {why}", time, why)
            });
        }
        Some(Gone::NotKnown(why)) => out.push(say!("AIR GONE AT ANY MOMENT: {why}", why)),
        None => {}
    }
    out
}

/// Whom the last roll call since the permit was suspended did not find.
fn missing(permit: &Permit) -> Option<String> {
    let called = permit.day.iter().filter(|h| h.kind == "roll_call" && h.stamp.seq >= permit.since.seq);
    let last = called.max_by_key(|h| h.stamp.seq)?;
    let names = last.data.texts("missing");
    let time = clock(last.data.text("at").unwrap_or(&last.stamp.time), &last.stamp.zone);
    let names = names.join(", ");
    (!names.is_empty()).then(|| say!("MISSING at the roll call of {time}: {names}", time, names))
}

/// What no row says: sets that run without a permit, copies of permits that have ended and hang still.
pub fn apart(known: &Known<'_>) -> Vec<String> {
    let mut out = Vec::new();
    for (id, set) in known.state.sets.iter().filter(|(_, s)| s.running()) {
        let answered = known.state.permits.values().any(|p| p.set.id == *id && !known.life(p).ended());
        if let Some(start) = set.last.get("started").filter(|_| !answered) {
            out.push(say!(
                "{set} RUNS since {time} and no permit of it is open: shut it down (`airwrit open --shutdown`), or report \
                 that it stopped",
                set = id,
                time = clock(&start.stamp.time, &start.stamp.zone)
            ));
        }
    }
    for permit in known.state.permits.values().filter(|p| known.life(p).ended()) {
        let word = known.life(permit).word();
        let hang = copies::stale(known, permit).into_iter();
        out.extend(hang.map(|c| {
            let permit = &permit.number;
            say!("{permit} is {state}: {copy}", permit, state = word, copy = c.words())
        }));
    }
    out
}

pub(super) fn ago(known: &Known<'_>, time: &str) -> String {
    say!("{n} min", n = (known.now.seconds() - seconds(time)).max(0) / 60)
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
            let value = format!("{} {}", text("value"), text("unit"));
            let (time, ago) = (clock(at, &h.stamp.zone), ago(known, at));
            let gauge = recorded(&what) + &item;
            say!("{gauge}: {value} at {time}, {ago} ago", gauge, value, time, ago)
        })
        .collect()
}
