//! The board: every permit that matters now, in the order in which it is looked at.
//!
//! In: everything that is known, and now. Out: final words. First who is on air, then what sends them out, then whom to
//! call. Never a time until the leave-by pressure is reached. Decides nothing.

use super::{Much, of_permit, view_of};
use crate::permit::bench::Texts;
use crate::permit::decide::{Known, crew};
use crate::permit::state::{Happened, Permit};
use crate::permit::{called, copies};
use crate::record::line::Line;
use crate::time::{clock, seconds};
use crate::tongue::{Tongue, say};
use crate::view::{About, StateWord, recorded};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

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
    /// The orders that stand now, while people may be on its air: first of what is to be seen.
    pub urgent: Vec<String>,
    /// What speaks against it, these among it.
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
    let mut shown: Vec<&Permit> = known.state.in_use(known.time()).collect();
    let lost = known.state.permits.open().filter(|p| crew::is_looked_for(known, p));
    let lost: Vec<&Permit> = lost.filter(|p| shown.iter().all(|s| s.number != p.number)).collect();
    shown.extend(lost);
    shown.sort_by_key(|p| (on(p) == 0, known.life(p) != StateWord::Live, p.opened.seq));
    let one = |p: &Permit| of_permit(known, &p.number, asked, |p, texts| row(known, lines, p, texts));
    shown.into_iter().map(one).collect()
}

pub(super) fn row(known: &Known<'_>, lines: &[Line], permit: &Permit, texts: &Texts) -> Result<Row, String> {
    let view = view_of(known, lines, permit, texts, None, Much::First)?;
    // As things stand, where somebody may breathe it: what was decided on paper may be overtaken.
    let now = known.perhaps_on_air_from(&permit.set.id).next();
    let at_co = now.map(|_| super::alarm::at_co(known, permit, texts));
    let order = |about: &About| {
        let s = view.page_one.iter().find(|s| s.about == *about)?;
        if let Some(order) = at_co.as_ref().filter(|o| *about == About::OnCo && **o != s.value) {
            return Some(format!("{}: {order}", s.label));
        }
        let note = if s.note.is_empty() { String::new() } else { format!(" ({})", s.note) };
        Some(format!("{}: {}{note}", s.label, s.value))
    };
    let here = known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number));
    let on_air = here.map(|p| {
        let name =
            view.wearers.iter().find(|w| w.person == p.person).map_or(p.person.as_str(), |w| w.name.as_str());
        let outlet = crew::outlet_of(known, p);
        let since = say!("since {time}", time = clock(&p.since.time, &p.since.zone));
        format!("{name}: {}, {outlet}, {since}, {}", p.whereabouts.words(), ago(known, &p.since.time))
    });
    let valid =
        if view.valid_because.is_empty() { String::new() } else { format!(" ({})", view.valid_because) };
    let (ends, valid_to) = if view.state == StateWord::Suspended {
        // Nobody takes the time on it for one until which anybody may be on air.
        (false, say!("SUSPENDED: valid for nobody now; its time ends {time}", time = view.valid_to))
    } else {
        (super::has_end(permit, view.state), format!("{}{valid}", view.valid_to))
    };
    Ok(Row {
        number: view.number.clone(),
        state: view.state_words.clone(),
        means: view.state_means.clone(),
        valid_to,
        ends,
        check_word: view.check_word.clone(),
        place: format!("{}, {}, {}", view.site, view.set, view.place),
        on_air: on_air.collect(),
        urgent: super::alarm::urgent(known, permit, texts),
        warnings: view.warnings.clone(),
        orders: ORDERS.iter().filter_map(order).collect(),
        readings: readings(known, permit),
    })
}

/// What no row says: people on air whose gauges nothing times, sets that run without a permit, copies of permits that have
/// ended and hang still.
pub fn apart(known: &Known<'_>) -> Vec<String> {
    let strays = known.state.on_air.iter().filter(|p| p.permit.is_none());
    let untimed: BTreeSet<&str> = strays.map(|p| p.set.as_str()).collect();
    let untimed = untimed.into_iter().map(|set| {
        say!(
            "{set} feeds somebody who is on no permit: nothing here asks for its readings or says how long they may be on \
             air. Read every gauge of it now, and go on reading; get them out, or onto a permit",
            set
        )
    });
    let mut out: Vec<String> = untimed.collect();
    out.extend(called::unrolled(known).into_iter().map(|(set, at)| {
        say!(
            "{set}: A CALL OR AN ALARM at {time}, and no roll call that found everyone came after it: call the roll now \
             (`airwrit roll-call --set {set}`)",
            set,
            time = clock(&at.time, &at.zone)
        )
    }));
    for (id, set) in known.state.sets.iter().filter(|(_, s)| s.running()) {
        let answered = known.state.not_ended(known.time()).any(|p| p.set.id == *id);
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

/// The last reading of a gauge of the set since the permit was opened, when, and how long ago.
pub fn last_read(known: &Known<'_>, permit: &Permit, what: &str) -> Option<String> {
    let since = known.state.permits.days_of_set(&permit.set.id, permit.opened.seq, i64::MIN);
    let of_it = since.filter(|h| h.kind == "reading" && h.data.text("what") == Some(what));
    let h = of_it.max_by_key(|h| h.stamp.seq)?;
    let text = |name: &str| h.data.text(name).unwrap_or_default();
    let at = h.data.text("at").unwrap_or(&h.stamp.time);
    let value = format!("{} {}", text("value"), text("unit"));
    let (time, ago) = (clock(at, &h.stamp.zone), ago(known, at));
    Some(say!("last {value} at {time}, {ago} ago", value, time, ago))
}

/// The last reading of each gauge of the set since the permit was opened.
fn readings(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let since = known.state.permits.days_of_set(&permit.set.id, permit.opened.seq, i64::MIN);
    let mut last: BTreeMap<(String, String), &Happened> = BTreeMap::new();
    for h in since.filter(|h| h.kind == "reading") {
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
