//! Which lines stand before: what a line may cite by its H.
//!
//! Either every H is kept, or, where only a verdict is wanted, those near: so many last lines, and half as many that say
//! something of a set: what an answer rests on. What is cited from farther back is noted, and whoever reads the lines looks for it in their bytes.

use super::super::line::{Line, digest_of};
use std::collections::{HashMap, HashSet, VecDeque};

/// So many are asked for before it is time to look for them.
const MOST_ASKED: usize = 8192;

#[derive(Clone, Debug)]
pub(super) enum Stood {
    All(HashSet<[u8; 32]>),
    Near(Box<Near>),
}

#[derive(Clone, Debug)]
pub(super) struct Near {
    lines: Window,
    of_sets: Window,
    /// Lines taken in.
    count: u64,
    /// Cited and not near: the place before which each must stand.
    asked: HashMap<[u8; 32], u64>,
    /// Known to stand nowhere.
    nowhere: Option<[u8; 32]>,
}

/// The last of them.
#[derive(Clone, Debug)]
struct Window {
    most: usize,
    order: VecDeque<[u8; 32]>,
    all: HashSet<[u8; 32]>,
}

impl Window {
    fn of(most: usize) -> Window {
        Window { most, order: VecDeque::with_capacity(most), all: HashSet::with_capacity(most) }
    }

    fn take(&mut self, digest: [u8; 32]) {
        if self.order.len() == self.most
            && let Some(oldest) = self.order.pop_front()
        {
            self.all.remove(&oldest);
        }
        self.order.push_back(digest);
        self.all.insert(digest);
    }
}

impl Stood {
    pub(super) fn all(first: [u8; 32]) -> Stood {
        Stood::All(HashSet::from([first]))
    }

    pub(super) fn near(most: usize, first: [u8; 32], nowhere: Option<[u8; 32]>) -> Stood {
        let mut lines = Window::of(most);
        lines.take(first);
        let of_sets = Window::of(most / 2);
        Stood::Near(Box::new(Near { lines, of_sets, count: 1, asked: HashMap::new(), nowhere }))
    }

    pub(super) fn is_all(&self) -> bool {
        match self {
            Stood::All(_) => true,
            Stood::Near(_) => false,
        }
    }

    /// Whether a line of this H stands before, or has to be looked for.
    pub(super) fn has(&self, digest: &[u8; 32]) -> bool {
        match self {
            Stood::All(all) => all.contains(digest),
            Stood::Near(near) => near.nowhere.as_ref() != Some(digest),
        }
    }

    /// Takes in a line that was checked; what it cites in a history that is whole must stand.
    pub(super) fn take(&mut self, line: &Line, digest: [u8; 32], missing: bool) {
        let near = match self {
            Stood::All(all) => {
                all.insert(digest);
                return;
            }
            Stood::Near(near) => near,
        };
        if !missing {
            for cited in cited(line).filter_map(digest_of) {
                if !near.lines.all.contains(&cited) && !near.of_sets.all.contains(&cited) {
                    near.asked.entry(cited).or_insert(near.count);
                }
            }
        }
        near.count += 1;
        near.lines.take(digest);
        if OF_SET.contains(&line.kind.name) {
            near.of_sets.take(digest);
        }
    }

    pub(super) fn asked(&mut self) -> Vec<([u8; 32], u64)> {
        match self {
            Stood::All(_) => Vec::new(),
            Stood::Near(near) => near.asked.drain().collect(),
        }
    }

    pub(super) fn asks_for_many(&self) -> bool {
        match self {
            Stood::All(_) => false,
            Stood::Near(near) => near.asked.len() >= MOST_ASKED,
        }
    }
}

/// Lines that say something of a set.
const OF_SET: &[&str] = &[
    "air_test", "call_out", "event", "filled", "moved", "plugged", "serviced", "started", "stopped", "taken",
];

/// H of every line that a line cites and that may be any earlier one.
fn cited(line: &Line) -> impl Iterator<Item = &str> {
    let data = &line.data;
    let (target, rests_on, witness) = match line.kind.name {
        "note" | "stopped" => (data.text("target"), Vec::new(), None),
        "answer" => (None, data.texts("rests_on"), None),
        "air_test" => (None, Vec::new(), data.get("witness").and_then(|w| w.text("line"))),
        _ => (None, Vec::new(), None),
    };
    target.into_iter().chain(rests_on).chain(witness)
}
