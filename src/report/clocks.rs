//! Time across a clock that was set back.
//!
//! Always: seconds that grow with the lines. How long it was between the last line by the wrong clock and the first by the
//! right one is in no line: it is taken as none, so that what lies across is told as at least as long.

use super::At;
use crate::audit::numbered;
use crate::record::line::Line;
use crate::time::seconds;

/// A clock that was set back.
#[derive(Clone, Debug)]
pub struct Back {
    /// The line that tells it.
    pub at: At,
    /// By so many seconds.
    pub by: i64,
}

/// Those of a register, in order.
#[derive(Clone, Debug, Default)]
pub struct Clocks(pub Vec<Back>);

impl Clocks {
    /// By the lines.
    pub fn of(lines: &[Line]) -> Clocks {
        let all = numbered(lines).filter(|(_, l)| l.kind.name == "clock");
        let back = all.filter_map(|(place, l)| {
            let by = seconds(l.data.text("last")?) - seconds(&l.time);
            (by > 0).then(|| Back { at: At::new(place, &l.time, &l.zone), by })
        });
        Clocks(back.collect())
    }

    /// How many seconds the clocks were set back up to a line.
    pub fn shift(&self, place: (u32, u64)) -> i64 {
        self.0.iter().filter(|b| b.at.place() <= place).map(|b| b.by).sum()
    }

    /// A second that grows with the lines.
    pub fn second(&self, at: &At) -> i64 {
        seconds(&at.utc) + self.shift(at.place())
    }
}
