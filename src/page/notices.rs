//! What came of the last requests, to be shown once on the screen that follows; and of forms that may be sent twice.
//!
//! Kept in memory only: what was done stands in the register.

use super::form::{ENTERED, Form};
use super::hand::Told;
use super::once::Onces;
use crate::cli::printing::Undrawn;
use std::collections::{BTreeMap, VecDeque};
use std::sync::Mutex;

/// So many are remembered.
const MOST: usize = 200;
/// So many copies: some 100 kB each.
const MOST_COPIES: usize = 16;

/// Notices.
pub struct Notices {
    all: Mutex<VecDeque<(u64, Told, Form)>>,
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
        self.keep_typed(told, &Form::default())
    }

    /// The same with what was typed, to stand again where it was refused; no secret of it.
    pub fn keep_typed(&self, told: Told, form: &Form) -> u64 {
        let typed =
            form.pairs().iter().filter(|(n, _)| !["t", "once", "passphrase", ENTERED].contains(&n.as_str()));
        let typed = Form::of(typed.cloned().collect());
        let (Ok(mut all), Ok(mut next)) = (self.all.lock(), self.next.lock()) else { return 0 };
        *next += 1;
        all.push_back((*next, told, typed));
        if all.len() > MOST {
            all.pop_front();
        }
        *next
    }

    /// The one of a number, as it was typed in an address.
    pub fn of(&self, number: &str) -> Option<Told> {
        let number: u64 = number.parse().ok()?;
        self.all.lock().ok()?.iter().find(|(n, ..)| *n == number).map(|(_, t, _)| t.clone())
    }

    /// What was typed with it, by name.
    pub fn typed(&self, number: &str) -> BTreeMap<String, String> {
        let Ok(number) = number.parse::<u64>() else { return BTreeMap::new() };
        let Ok(all) = self.all.lock() else { return BTreeMap::new() };
        let found = all.iter().find(|(n, ..)| *n == number);
        found.map_or_else(BTreeMap::new, |(_, _, form)| form.pairs().iter().cloned().collect())
    }
}
