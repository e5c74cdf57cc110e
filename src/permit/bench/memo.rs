//! What was worked out on a bench already: nothing changes under it, and a gate asks the same again and again.
//!
//! Always: what is found here is what would be worked out once more. Not here: working out.

use crate::gate::{Fact, Verdict};
use crate::permit::state::Permit;
use std::cell::{OnceCell, RefCell};
use std::collections::HashMap;

/// By step or name, then by item.
type Table<T> = HashMap<String, Vec<(Option<String>, T)>>;

fn find<'t, T>(table: &'t Table<T>, name: &str, item: Option<&str>) -> Option<&'t T> {
    table.get(name)?.iter().find(|(i, _)| i.as_deref() == item).map(|(_, t)| t)
}

fn put<T>(table: &mut Table<T>, name: &str, item: Option<&str>, what: T) {
    table.entry(name.to_owned()).or_default().push((item.map(str::to_owned), what));
}

/// Memory of one bench.
#[derive(Default)]
pub struct Memo {
    /// Places of a form's answers among those of the permit, oldest first.
    answers: OnceCell<Table<Vec<usize>>>,
    facts: RefCell<Table<Fact>>,
    applies: RefCell<Table<Verdict>>,
}

impl Memo {
    /// Where the answers of a step of this form stand among those of the permit.
    pub fn answers(&self, permit: &Permit, form: &str, step: &str, item: Option<&str>) -> &[usize] {
        let all = self.answers.get_or_init(|| {
            let mut all: Table<Vec<usize>> = Table::new();
            for (i, a) in permit.answers.iter().enumerate().filter(|(_, a)| a.form == form) {
                let of_step = all.entry(a.step.clone()).or_default();
                match of_step.iter_mut().find(|(item, _)| *item == a.item) {
                    Some((_, places)) => places.push(i),
                    None => of_step.push((a.item.clone(), vec![i])),
                }
            }
            all
        });
        find(all, step, item).map_or(&[], Vec::as_slice)
    }

    /// A fact, worked out once.
    pub fn fact(&self, name: &str, item: Option<&str>, work_out: impl FnOnce() -> Fact) -> Fact {
        if let Some(known) = find(&self.facts.borrow(), name, item) {
            return known.clone();
        }
        let fact = work_out();
        put(&mut self.facts.borrow_mut(), name, item, fact.clone());
        fact
    }

    /// Whether a step applies, worked out once.
    pub fn applies(&self, step: &str, item: Option<&str>, work_out: impl FnOnce() -> Verdict) -> Verdict {
        if let Some(known) = find(&self.applies.borrow(), step, item) {
            return known.clone();
        }
        let verdict = work_out();
        put(&mut self.applies.borrow_mut(), step, item, verdict.clone());
        verdict
    }
}
