//! The page's clock: the machine's, or the demo's, which can be moved on.

use std::sync::atomic::{AtomicI64, Ordering};

/// A clock.
pub struct Clock {
    machine: fn() -> i64,
    /// Seconds that the demo's clock is ahead; 0 elsewhere.
    ahead: AtomicI64,
}

impl Clock {
    /// The machine's clock.
    pub const fn of(machine: fn() -> i64) -> Clock {
        Clock { machine, ahead: AtomicI64::new(0) }
    }

    /// Now, UTC second.
    pub fn second(&self) -> i64 {
        (self.machine)() + self.ahead.load(Ordering::Relaxed)
    }

    /// The machine's own second: for rates, which no demo moves.
    pub fn machine(&self) -> i64 {
        (self.machine)()
    }

    /// Sets the demo's clock.
    pub fn set(&self, second: i64) {
        self.ahead.store(second - (self.machine)(), Ordering::Relaxed);
    }

    /// Moves the demo's clock on.
    pub fn forward(&self, seconds: i64) {
        self.ahead.fetch_add(seconds, Ordering::Relaxed);
    }
}
