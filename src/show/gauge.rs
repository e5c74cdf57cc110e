//! The reserve as a picture beside the pressure by which everyone leaves.
//!
//! In: the last reading of each cylinder since the reserve was filled. Out: pressures and final words. Never a time: nobody
//! works on reserve. Decides nothing.

use super::board::ago;
use crate::permit::bench::{Texts, quantity};
use crate::permit::decide::Known;
use crate::permit::state::{Happened, Permit};
use crate::permit::watch;
use crate::time::clock;
use crate::tongue::say;
use crate::units::{Quantity, Rounding, unit};
use num_traits::ToPrimitive;
use serde::Serialize;
use std::collections::BTreeMap;

/// The reserve and the leave-by pressure. Bar, for drawing; words, for people.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gauge {
    /// The lowest cylinder as it was last read.
    pub there: f32,
    /// The same in words.
    pub there_words: String,
    /// When, and how long ago.
    pub when: String,
    /// Leave-by pressure.
    pub leave: f32,
    /// The same in words.
    pub leave_words: String,
    /// The end of the scale.
    pub full: f32,
    /// At or below the leave-by pressure.
    pub below: bool,
}

fn bar(q: &Quantity) -> Option<f32> {
    q.in_unit(unit("bar")?)?.to_f32()
}

/// Of a permit whose leave-by pressure was worked out and whose reserve was read.
pub fn gauge(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<Gauge> {
    let (leave, _) = watch::leave_by(known, permit, texts)?;
    let filled =
        known.state.sets.get(&permit.set.id).and_then(|s| s.last.get("filled")).map_or(0, |h| h.stamp.seq);
    let since = known.state.permits.days_of_set(&permit.set.id, filled.max(permit.opened.seq), i64::MIN);
    let mut last: BTreeMap<String, &Happened> = BTreeMap::new();
    let reserve = |h: &&Happened| h.kind == "reading" && h.data.text("what") == Some("reserve");
    for h in since.filter(reserve) {
        let entry = last.entry(h.data.text("item").unwrap_or_default().to_owned()).or_insert(h);
        if h.stamp.seq >= entry.stamp.seq {
            *entry = h;
        }
    }
    let read = |h: &Happened| quantity(h.data.text("value")?, h.data.text("unit").and_then(unit));
    let (h, lowest) = last
        .into_values()
        .filter_map(|h| Some((h, read(h)?)))
        .min_by(|(_, a), (_, b)| a.value.cmp(&b.value))?;
    let at = h.data.text("at").unwrap_or(&h.stamp.time);
    let item = h.data.text("item").map(|i| say!(", cylinder {cylinder}", cylinder = i)).unwrap_or_default();
    let below = lowest.value <= leave.value;
    let (there, leave_bar) = (bar(&lowest)?, bar(&leave)?);
    Some(Gauge {
        there,
        there_words: format!("{}{item}", lowest.words(h.data.text("unit").and_then(unit), Rounding::Down)),
        when: say!("{time}, {ago} ago", time = clock(at, &h.stamp.zone), ago = ago(known, at)),
        leave: leave_bar,
        leave_words: leave.words(unit("bar"), Rounding::Up),
        full: there.max(leave_bar).max(200.0).mul_add(1.1, 0.0).ceil(),
        below,
    })
}
