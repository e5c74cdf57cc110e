//! Readings of the watch over a running set: what the last of each says against people being on its air.
//!
//! Always: of every permit of the set; a reading out of its limits stands until a later one, told in time, is within
//! them. Limits: CO by the site's rule; the reserve by the leave-by pressure of the permit, or the set's minimum
//! until that is worked out; the supply by the set's range. Other words are kept and compared with nothing.
//! Not here: when a reading is due.

use super::bench::{Bench, Texts, quantity};
use super::decide::Known;
use super::state::{Happened, Permit};
use crate::time;
use crate::units::{Dimension, Quantity, Rounding, unit};
use std::collections::BTreeMap;

/// Told later than this is late and opens nothing.
const LATE: i64 = 5 * 60;
/// The step that works out the leave-by pressure.
const LEAVE_BY: &str = "leave_by";

/// What is watched, and what it is measured as.
pub const WATCHED: [(&str, Dimension); 3] =
    [("co", Dimension::Fraction), ("reserve", Dimension::Pressure), ("supply", Dimension::Pressure)];

/// What the last readings of a set say against it, in words.
pub fn against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let mut last: BTreeMap<(String, String), (u64, Option<String>)> = BTreeMap::new();
    let of_set = known.state.permits.values().filter(|p| p.set.id == permit.set.id);
    // What was read before this permit was opened belongs to another day's air.
    let since = |h: &&Happened| h.kind == "reading" && h.stamp.seq > permit.opened.seq;
    for h in of_set.flat_map(|p| &p.day).filter(since) {
        let word = |name: &str| h.data.text(name).unwrap_or_default().to_owned();
        let against = judged(known, permit, texts, h);
        let late =
            h.data.text("at").is_some_and(|at| time::seconds(&h.stamp.time) - time::seconds(at) > LATE);
        if against.is_none() && late {
            continue;
        }
        let entry = last.entry((word("what"), word("item"))).or_insert((h.stamp.seq, None));
        if h.stamp.seq >= entry.0 {
            *entry = (h.stamp.seq, against);
        }
    }
    last.into_values().filter_map(|(_, against)| against).collect()
}

/// What one reading says against the set; `None` if it is within its limits, or has none.
pub fn judged(known: &Known<'_>, permit: &Permit, texts: &Texts, reading: &Happened) -> Option<String> {
    let what = reading.data.text("what")?;
    let (_, dimension) = WATCHED.iter().find(|(w, _)| *w == what)?;
    let read = quantity(reading.data.text("value")?, reading.data.text("unit").and_then(unit));
    let item = reading.data.text("item").map(|i| format!(" {i}")).unwrap_or_default();
    let at = time::clock(reading.data.text("at").unwrap_or(&reading.stamp.time), &reading.stamp.zone);
    let head = |shown: String| format!("{what}{item} was read at {at} as {shown}");
    let Some(read) = read.filter(|q| q.dimension == *dimension) else {
        return Some(format!("{}, which is {}", head("something else".into()), "not what it is measured in"));
    };
    let shown = |q: &Quantity| q.words(reading.data.text("unit").and_then(unit), Rounding::Nearest);
    let least = |limit: Option<Quantity>, why: &str| match limit {
        Some(l) if l.dimension == read.dimension && read.value >= l.value => None,
        Some(l) => Some(format!("{}, wanted at least {} ({why})", head(shown(&read)), shown(&l))),
        None => Some(format!("{}, and {why} is not known", head(shown(&read)))),
    };
    let most = |limit: Option<Quantity>, why: &str| match limit {
        Some(l) if l.dimension == read.dimension && read.value <= l.value => None,
        Some(l) => Some(format!("{}, wanted at most {} ({why})", head(shown(&read)), shown(&l))),
        None => Some(format!("{}, and {why} is not known", head(shown(&read)))),
    };
    match what {
        "co" => most(texts.site.quantity("limits.co_most").cloned(), "the site's limit"),
        "reserve" => {
            let bench = Bench::new(known.state, permit, texts, known.now);
            let answers = bench.answers(LEAVE_BY, None);
            let of = bench.unit_worked_out(LEAVE_BY);
            let leave_by = answers.last().and_then(|a| quantity(a.value.as_deref()?, of));
            match leave_by {
                Some(l) => least(Some(l), "the leave-by pressure"),
                None => least(texts.set.quantity("reserve_minimum").cloned(), "the set's minimum"),
            }
        }
        _ => least(texts.set.quantity("supply_pressure_from").cloned(), "the set's range")
            .or_else(|| most(texts.set.quantity("supply_pressure_to").cloned(), "the set's range")),
    }
}
