//! What came of the last requests, to be shown once on the screen that follows; and of forms that may be sent twice.
//!
//! Kept in memory only: what was done stands in the register.

use super::hand::Told;
use super::once::Onces;
use crate::cli::printing::Undrawn;
use std::collections::VecDeque;
use std::sync::Mutex;

/// So many are remembered.
const MOST: usize = 200;
/// So many copies: some 100 kB each.
const MOST_COPIES: usize = 16;

/// Notices.
pub struct Notices {
    all: Mutex<VecDeque<(u64, Told)>>,
    /// What came of each form.
    pub once: Onces<Told>,
    /// Numbered copies, as each is drawn.
    pub copies: Onces<Undrawn>,
    next: Mutex<u64>,
}

impl Default for Notices {
    fn default() -> Notices {
        Notices {
            all: Mutex::default(),
            once: Onces::new(MOST),
            copies: Onces::new(MOST_COPIES),
            next: Mutex::default(),
        }
    }
}

impl Notices {
    /// Keeps one; returns its number.
    pub fn keep(&self, told: Told) -> u64 {
        let (Ok(mut all), Ok(mut next)) = (self.all.lock(), self.next.lock()) else { return 0 };
        *next += 1;
        all.push_back((*next, told));
        if all.len() > MOST {
            all.pop_front();
        }
        *next
    }

    /// The one of a number, as it was typed in an address.
    pub fn of(&self, number: &str) -> Option<Told> {
        let number: u64 = number.parse().ok()?;
        self.all.lock().ok()?.iter().find(|(n, _)| *n == number).map(|(_, t)| t.clone())
    }
}
