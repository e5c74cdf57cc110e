//! What came of the last requests, to be shown once on the screen that follows; and of forms that may be sent twice.
//!
//! Kept in memory only: what was done stands in the register.

use super::form::Form;
use super::hand::Told;
use super::once::Onces;
use crate::cli::printing::Undrawn;
use std::collections::{BTreeMap, VecDeque};
use std::sync::Mutex;

/// So many are remembered.
const MOST: usize = 200;
/// So many copies: some 100 kB each.
const MOST_COPIES: usize = 16;

/// One of them.
struct Notice {
    number: u64,
    /// The screen that it was typed on, where it stands again on no other.
    screen: String,
    told: Option<Told>,
    typed: Form,
}

/// Notices.
pub struct Notices {
    all: Mutex<VecDeque<Notice>>,
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
        self.put(String::new(), Some(told), Form::default())
    }

    /// The same with what was typed, to stand again where it was refused; no secret of it.
    pub fn keep_typed(&self, told: Told, form: &Form) -> u64 {
        self.put(String::new(), Some(told), form.typed())
    }

    /// What was typed on a screen, to stand again there and nowhere else, with what was said of it if anything was.
    pub fn keep_for(&self, screen: &str, told: Option<Told>, form: &Form) -> u64 {
        self.put(screen.to_owned(), told, form.typed())
    }

    fn put(&self, screen: String, told: Option<Told>, typed: Form) -> u64 {
        let (Ok(mut all), Ok(mut next)) = (self.all.lock(), self.next.lock()) else { return 0 };
        *next += 1;
        all.push_back(Notice { number: *next, screen, told, typed });
        if all.len() > MOST {
            all.pop_front();
        }
        *next
    }

    fn look<T>(&self, number: &str, take: impl FnOnce(&Notice) -> Option<T>) -> Option<T> {
        let number: u64 = number.parse().ok()?;
        take(self.all.lock().ok()?.iter().find(|n| n.number == number)?)
    }

    /// The one of a number, as it was typed in an address.
    pub fn of(&self, number: &str) -> Option<Told> {
        self.look(number, |n| n.told.clone())
    }

    /// What was typed with it, by name.
    pub fn typed(&self, number: &str) -> BTreeMap<String, String> {
        let typed = self.look(number, |n| Some(n.typed.pairs().iter().cloned().collect()));
        typed.unwrap_or_default()
    }

    /// What was typed on this screen, and what was said of it.
    pub fn typed_for(&self, screen: &str, number: &str) -> Option<(Form, Option<Told>)> {
        self.look(number, |n| (n.screen == screen).then(|| (n.typed.clone(), n.told.clone())))
    }
}
