//! What came of the last requests, to be shown once on the screen that follows; and of forms that may be sent twice.
//!
//! Kept in memory only: what was done stands in the register.

use super::hand::Told;
use super::once::Onces;
use crate::cli::printing::Undrawn;
use std::collections::{BTreeSet, VecDeque};
use std::sync::Mutex;
use std::time::Duration;

/// So many are remembered.
const MOST: usize = 200;
/// So many copies: some 100 kB each.
const MOST_COPIES: usize = 16;

/// Somebody who was moved so lately is not moved again by a key of the page: the second press of two was meant for the key that
/// stood there before.
pub const LATELY: Duration = Duration::from_millis(700);

/// Notices.
pub struct Notices {
    all: Mutex<VecDeque<(u64, Told)>>,
    /// What came of each form.
    pub once: Onces<Told>,
    /// Numbered copies, as each is drawn.
    pub copies: Onces<Undrawn>,
    next: Mutex<u64>,
    moved: Mutex<BTreeSet<String>>,
}

impl Default for Notices {
    fn default() -> Notices {
        Notices {
            all: Mutex::default(),
            once: Onces::new(MOST),
            copies: Onces::new(MOST_COPIES),
            next: Mutex::default(),
            moved: Mutex::default(),
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

    /// Somebody was moved on the tally just now, and is not moved again before this is taken back after [`LATELY`].
    pub fn moved(&self, person: &str) {
        if let Ok(mut all) = self.moved.lock() {
            all.insert(person.to_owned());
        }
    }

    /// That was long enough ago.
    pub fn settled(&self, person: &str) {
        if let Ok(mut all) = self.moved.lock() {
            all.remove(person);
        }
    }

    /// Whether that was only a moment ago.
    pub fn moved_lately(&self, person: &str) -> bool {
        self.moved.lock().is_ok_and(|all| all.contains(person))
    }

    /// The one of a number, as it was typed in an address.
    pub fn of(&self, number: &str) -> Option<Told> {
        let number: u64 = number.parse().ok()?;
        self.all.lock().ok()?.iter().find(|(n, _)| *n == number).map(|(_, t)| t.clone())
    }
}
