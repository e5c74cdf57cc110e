//! What the readings of a set's reserve come to since it is watched for falling, so that whoever asks need not go through
//! weeks of them.
//!
//! Always: where this says that nothing fell too fast, going through every reading says so too; the other way round it only
//! says that somebody must go through them. Rounding and readings that cannot be compared lean that way.
//! Not here: what too fast is, and its words (`due`).

use super::Happened;
use crate::record::json::SmolStr;
use crate::units::{Decimal, Dimension, Quantity, unit};
use num_traits::ToPrimitive;
use serde::{Deserialize, Serialize};

/// Readings since a place in the history.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Watched {
    /// Place in the history.
    since: u64,
    /// One of them is not told as a pressure, or the place went back.
    unclear: bool,
    items: Vec<Fall>,
}

/// Readings of one cylinder, or of none by name.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Fall {
    item: Option<SmolStr>,
    /// Later and later, lower and lower: UTC second, Pa. Whichever is not among them has a higher one after it, of which
    /// less would be too fast.
    peaks: Vec<(i64, f64)>,
    /// The latest: UTC second, place in the history, Pa.
    last: (i64, u64, f64),
}

/// Pa, if it is told as a pressure.
fn pascal(h: &Happened) -> Option<f64> {
    let value = Decimal::kept(h.data.text("value")?).ok()?;
    let read = Quantity::new(&value, &unit(h.data.text("unit")?)?);
    let pascal = read.value.to_f64().filter(|v| v.is_finite());
    pascal.filter(|_| read.dimension == Dimension::Pressure)
}

impl Watched {
    /// Takes in a reading; of another gauge it is none of these. `since`: where the set is watched from now.
    pub(super) fn note(&mut self, h: &Happened, since: u64) {
        if h.kind != "reading" || h.data.text("what") != Some("reserve") {
            return;
        }
        if since != self.since {
            *self = Watched { since, unclear: since < self.since, items: Vec::new() };
        }
        let Some(at) = h.told_in_time() else { return };
        let Some(read) = pascal(h) else {
            self.unclear = true;
            return;
        };
        let here = (at, h.stamp.seq, read);
        let item = h.data.text("item");
        match self.items.iter_mut().find(|f| f.item.as_deref() == item) {
            Some(of) => of.note(here),
            None => {
                self.items.push(Fall { item: item.map(SmolStr::new), peaks: vec![(at, read)], last: here })
            }
        }
    }

    /// Whether the last reading of a cylinder may be lower than one before it by more than so much in an hour, the first
    /// hour counted whole. `since`: where the set is watched from now.
    pub fn may_fall(&self, most: &Quantity, since: u64) -> bool {
        // Of a set that was never started nor filled nothing is noted, it may not be known at all yet.
        if since == 0 {
            return true;
        }
        if since > self.since {
            // None came after it.
            return false;
        }
        let most = most.value.to_f64().filter(|_| most.dimension == Dimension::Pressure);
        let Some(most) = most.filter(|m| m.is_finite() && *m >= 0.0) else { return true };
        self.unclear || since != self.since || self.items.iter().any(|of| of.may_fall(most))
    }
}

impl Fall {
    fn note(&mut self, here: (i64, u64, f64)) {
        let (at, seq, read) = here;
        if (at, seq) >= (self.last.0, self.last.1) {
            self.last = here;
        }
        let mut place = self.peaks.partition_point(|p| p.0 <= at);
        if self.peaks.get(place).is_some_and(|later| later.1 >= read) {
            return;
        }
        while place > 0 && self.peaks.get(place - 1).is_some_and(|before| before.1 <= read) {
            place -= 1;
            self.peaks.remove(place);
        }
        self.peaks.insert(place, (at, read));
    }

    fn may_fall(&self, most: f64) -> bool {
        /// Far more than rounding comes to.
        const NEARLY: f64 = 1.0 - 1e-9;
        let (last_at, _, now) = self.last;
        self.peaks.iter().any(|(at, then)| {
            let hours = (last_at - at).max(3600) as f64 / 3600.0;
            then - now > most * hours * NEARLY - then.abs() * (1.0 - NEARLY)
        })
    }
}
