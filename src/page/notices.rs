//! What came of the last requests, to be shown once on the screen that follows; and forms that were sent twice.
//!
//! Kept in memory only: what was done stands in the register.

use super::hand::Told;
use std::collections::VecDeque;
use std::sync::Mutex;

/// So many are remembered.
const MOST: usize = 200;

/// Notices.
#[derive(Default)]
pub struct Notices {
    all: Mutex<VecDeque<(u64, Told)>>,
    once: Mutex<VecDeque<(String, Told)>>,
    next: Mutex<u64>,
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

    /// What came of this very form when it was sent before.
    pub fn before(&self, once: &str) -> Option<Told> {
        let all = self.once.lock().ok()?;
        all.iter().find(|(o, _)| o == once && !once.is_empty()).map(|(_, t)| t.clone())
    }

    /// Remembers what came of a form.
    pub fn sent(&self, once: &str, told: &Told) {
        if let Ok(mut all) = self.once.lock() {
            all.push_back((once.to_owned(), told.clone()));
            if all.len() > MOST {
                all.pop_front();
            }
        }
    }
}
