//! What was worked out on a bench already: nothing changes under it, and a gate asks the same again and again.
//!
//! Always: what is found here is what would be worked out once more. Whoever goes on with it on a later bench has it forget
//! what may have changed since. Not here: working out; which that is (`replay::walked`).

use crate::gate::{Fact, Verdict};
use crate::permit::state::{Permit, Stamp};
use crate::site::Values;
use crate::view::Standing;
use foldhash::{HashMap, fast::FixedState};
use std::cell::{Cell, RefCell};
use std::hash::BuildHasher;
use std::rc::Rc;

/// By step or name, then by item.
type Table<T> = HashMap<String, Vec<(Option<String>, T)>>;

fn find<'t, T>(table: &'t Table<T>, name: &str, item: Option<&str>) -> Option<&'t T> {
    table.get(name)?.iter().find(|(i, _)| i.as_deref() == item).map(|(_, t)| t)
}

fn put<T>(table: &mut Table<T>, name: &str, item: Option<&str>, what: T) {
    table.entry(name.to_owned()).or_default().push((item.map(str::to_owned), what));
}

/// Places of answers, oldest first, by the hash of step and item; which these are, the answers themselves say.
type Places = HashMap<u64, Vec<Vec<usize>>>;

/// Those of the first so many answers of the permit.
#[derive(Default)]
struct Indexed {
    upto: usize,
    /// One of them left its item out.
    left_out: bool,
    places: Places,
}

/// A reading, if there is one, in words.
type Found = Option<(Stamp, String)>;

/// Memory of one bench.
#[derive(Default)]
pub struct Memo {
    /// Places of a form's answers among those of the permit.
    answers: RefCell<Indexed>,
    facts: RefCell<Table<Fact>>,
    /// What was done to the set last, by kind, read; none where it cannot be read.
    last: RefCell<HashMap<String, Option<Rc<Values>>>>,
    applies: RefCell<Table<Verdict>>,
    stands: RefCell<Table<(Standing, Vec<String>)>>,
    /// By gauge: since which line its readings were looked through, and the latest of them that was out.
    read: RefCell<HashMap<&'static str, (u64, Found)>>,
    /// The end of the permit, but for what is counted from now.
    end: Cell<Option<i64>>,
}

fn key(step: &str, item: Option<&str>) -> u64 {
    FixedState::default().hash_one((step, item))
}

/// Whether the answers at these places are of this step and item.
fn is_of(permit: &Permit, places: &[usize], step: &str, item: Option<&str>) -> bool {
    let first = places.first().and_then(|i| permit.answers.get(*i));
    first.is_some_and(|a| a.step == step && a.item.as_deref() == item)
}

impl Memo {
    /// Where the answers of a step of this form stand among those of the permit.
    pub fn answers<T>(
        &self,
        permit: &Permit,
        (form, step, item): (&str, &str, Option<&str>),
        made: impl FnOnce(&[usize]) -> T,
    ) -> T {
        self.index(permit, form);
        let known = self.answers.borrow();
        let of_key = known.places.get(&key(step, item));
        let places = of_key.and_then(|all| all.iter().find(|p| is_of(permit, p, step, item)));
        made(places.map_or(&[], Vec::as_slice))
    }

    /// Takes in the answers that came.
    fn index(&self, permit: &Permit, form: &str) {
        let mut known = self.answers.borrow_mut();
        for (i, a) in permit.answers.iter().enumerate().skip(known.upto).filter(|(_, a)| a.form == form) {
            known.left_out |= a.left_out.is_some();
            let of_key = known.places.entry(key(&a.step, a.item.as_deref())).or_default();
            match of_key.iter_mut().find(|p| is_of(permit, p, &a.step, a.item.as_deref())) {
                Some(places) => places.push(i),
                None => of_key.push(vec![i]),
            }
        }
        known.upto = permit.answers.len();
    }

    /// Whether any answer of this form left its item out.
    pub fn left_out(&self, permit: &Permit, form: &str) -> bool {
        self.index(permit, form);
        self.answers.borrow().left_out
    }

    /// Forgets what is told of these steps and names, and of gauges; what is known of the answers goes on with those that
    /// come.
    pub fn forget<'n>(&self, names: impl Iterator<Item = &'n String>) {
        let (mut facts, mut applies) = (self.facts.borrow_mut(), self.applies.borrow_mut());
        let mut stands = self.stands.borrow_mut();
        for name in names {
            facts.remove(name);
            applies.remove(name);
            stands.remove(name);
            if name.starts_with("last.") {
                self.last.borrow_mut().clear();
            }
        }
        self.read.borrow_mut().clear();
    }

    /// Forgets what is told of a step for one of its items, and of all its items together; whether it applies rests on no
    /// answer of its own.
    pub fn forget_item(&self, step: &str, item: &str) {
        let other = |of: &Option<String>| of.as_deref().is_some_and(|i| i != item);
        if let Some(all) = self.facts.borrow_mut().get_mut(step) {
            all.retain(|(of, _)| other(of));
        }
        if let Some(all) = self.stands.borrow_mut().get_mut(step) {
            all.retain(|(of, _)| other(of));
        }
        self.read.borrow_mut().clear();
    }

    /// Forgets how these steps stand where they do not stand open.
    pub fn forget_unless_open<'n>(&self, steps: impl Iterator<Item = &'n String>) {
        let mut stands = self.stands.borrow_mut();
        for step in steps {
            if let Some(all) = stands.get_mut(step) {
                all.retain(|(_, (standing, _))| *standing == Standing::Open);
            }
        }
    }

    /// The end of the permit but for what is counted from now, worked out once.
    pub fn end(&self, work_out: impl FnOnce() -> i64) -> i64 {
        let end = self.end.get().unwrap_or_else(work_out);
        self.end.set(Some(end));
        end
    }

    /// The permit may end at another time.
    pub fn forget_end(&self) {
        self.end.set(None);
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

    /// What was done to the set last, read once: a gate asks for one member after another.
    pub fn last(&self, kind: &str, read: impl FnOnce() -> Option<Values>) -> Option<Rc<Values>> {
        if let Some(known) = self.last.borrow().get(kind) {
            return known.clone();
        }
        let values = read().map(Rc::new);
        self.last.borrow_mut().insert(kind.to_owned(), values.clone());
        values
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

    /// How a step stands but for its freshness, worked out once.
    pub fn stand(
        &self,
        step: &str,
        item: Option<&str>,
        work_out: impl FnOnce() -> (Standing, Vec<String>),
    ) -> (Standing, Vec<String>) {
        if let Some(known) = find(&self.stands.borrow(), step, item) {
            return known.clone();
        }
        let stand = work_out();
        put(&mut self.stands.borrow_mut(), step, item, stand.clone());
        stand
    }

    /// The latest reading of a gauge that was out, looked for at least back to a line; `look` looks.
    pub fn latest(&self, what: &'static str, since: u64, look: impl FnOnce() -> Found) -> Found {
        if let Some((back_to, found)) = self.read.borrow().get(what)
            && *back_to <= since
        {
            return found.clone();
        }
        let found = look();
        self.read.borrow_mut().insert(what, (since, found.clone()));
        found
    }
}
