//! The state as it was after every so many lines, so that a look back does not begin at the first line.
//!
//! Always: there are few of them, however long the register is: the more lines, the farther apart they stand.

use super::State;
use super::at_hand::STAYS;
use crate::record::json::SmolStr;
use crate::time::seconds;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Lines between two marks, at first.
const APART: u64 = 512;
/// The longest pause that a site may say does not end a spell on air, seconds.
pub(super) const PAUSE: i64 = 4 * 3600;
/// Marks at most.
pub(super) const MOST: usize = 128;

/// Marks, oldest first.
#[derive(Clone, Debug)]
pub(super) struct Marks {
    all: Vec<Arc<State>>,
    apart: u64,
}

impl Default for Marks {
    fn default() -> Marks {
        Marks { all: Vec::new(), apart: APART }
    }
}

#[cfg(test)]
impl Marks {
    /// Marks that stand so many lines apart at first.
    pub(super) fn every(apart: u64) -> Marks {
        Marks { all: Vec::new(), apart }
    }
}

impl State {
    /// Leaves a mark, if one is due.
    pub(super) fn mark(&mut self) {
        if !self.count.is_multiple_of(self.marks.apart) || self.permits.are_in_part() {
            return;
        }
        let spells = self.spells_since(seconds(&self.time));
        let mark = State { marks: Marks::default(), spells, ..self.clone() };
        self.marks.all.push(Arc::new(mark));
        if self.marks.all.len() > MOST {
            let apart = 2 * self.marks.apart;
            self.marks.all.retain(|m| m.count.is_multiple_of(apart));
            self.marks.apart = apart;
        }
    }

    /// The last state kept that is not later than a place in the history, and how many lines it has taken in. Of spells on
    /// air it has those that may still bear on one.
    pub fn before(&self, seq: u64) -> (State, usize) {
        self.permits.all_of_them();
        let mark = self.marks.all.iter().rev().find(|m| m.count <= seq);
        mark.map_or_else(|| (State::default(), 0), |m| (State::clone(m), m.count as usize))
    }

    /// Spells on air that may still bear on what is decided from a time on: the latest, and those that one which goes on may go
    /// on from.
    pub(super) fn spells_since(&self, now: i64) -> BTreeMap<String, Vec<(SmolStr, SmolStr)>> {
        let recent = |(person, all): (&String, &Vec<(SmolStr, SmolStr)>)| {
            let on = self.on_air.iter().filter(|o| o.person == *person).map(|o| seconds(&o.since.time));
            let mut from = on.min().unwrap_or(now);
            let mut stays = |(began, ended): &&(SmolStr, SmolStr)| {
                let ended = seconds(ended);
                let one = from - ended <= PAUSE || now - ended <= STAYS;
                from = from.min(seconds(began));
                one
            };
            let mut last: Vec<_> = all.iter().rev().take_while(&mut stays).cloned().collect();
            last.reverse();
            (!last.is_empty()).then(|| (person.clone(), last))
        };
        self.spells.iter().filter_map(recent).collect()
    }
}
