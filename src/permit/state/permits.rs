//! Every permit by its number; a copy of all of them shares those that do not change.
//!
//! Always: like a map in the order of the numbers. Copied is only a permit that is changed while somebody else holds it.
//! Those that a line of their set may still change, those something came to since some line, the readings of one gauge, and
//! the latest answer to a step are found without going through all there ever were.
//! Where only those at hand are here (`at_hand`), whoever asks for one that is not, for all of them, or for days that went
//! with those that are not, is noted: what was worked out then rests on too little. What asks for neither says why not.

use super::{Answer, Happened, Permit, StateWord};
use crate::record::json::SmolStr;
use crate::time::seconds;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

/// Permits.
#[derive(Clone, Debug, Default)]
pub struct Permits {
    all: BTreeMap<SmolStr, Arc<Permit>>,
    /// Those of them that lines of their set may still change.
    open: BTreeSet<SmolStr>,
    /// By place in the history of the last entry of a permit's day: its number.
    days: BTreeSet<(u64, SmolStr)>,
    /// By number and gauge: places of its readings in the permit's day.
    read: BTreeMap<SmolStr, Arc<Read>>,
    /// The latest answer that was given on them, by set, form, step and item.
    latest: BTreeMap<SmolStr, BTreeMap<SmolStr, Latest>>,
    /// Others are over and not here.
    lacks: Option<Lacks>,
}

#[derive(Clone, Debug, Default)]
struct Lacks {
    /// Full once one of them may have been asked for.
    asked: OnceLock<()>,
    gone: Gone,
}

/// By set: how far the days of permits that are not here go: place in the history, and UTC second.
type Gone = BTreeMap<String, (u64, i64)>;

/// By step and item: place in the history, permit, which of its answers.
type Latest = BTreeMap<(SmolStr, Option<SmolStr>), (u64, SmolStr, usize)>;

/// By gauge: places in a permit's day.
type Read = BTreeMap<SmolStr, Vec<usize>>;

impl Permits {
    /// Those of which something is true, as those at hand of all there are.
    pub(super) fn in_part(&self, which: impl Fn(&Permit) -> bool) -> Permits {
        let mut gone = self.lacks.as_ref().map(|l| l.gone.clone()).unwrap_or_default();
        for p in self.at_hand().filter(|p| !which(p)) {
            if let Some(last) = p.day.last() {
                let (seq, second) = gone.entry(p.set.id.clone()).or_insert((0, i64::MIN));
                *seq = last.stamp.seq.max(*seq);
                *second = seconds(&last.stamp.time).max(*second);
            }
        }
        let mut part = self.clone();
        part.all.retain(|_, p| which(p));
        part.open.retain(|number| part.all.contains_key(number));
        part.days.retain(|(_, number)| part.all.contains_key(number.as_str()));
        part.read.retain(|number, _| part.all.contains_key(number.as_str()));
        part.latest = BTreeMap::new();
        for p in part.all.values() {
            note_latest(&mut part.latest, p, 0);
        }
        part.lacks = Some(Lacks { asked: OnceLock::new(), gone });
        part
    }

    /// Whether others are not here.
    pub fn are_in_part(&self) -> bool {
        self.lacks.is_some()
    }

    /// Whether one was asked for that is not here, or all of them were.
    pub fn lack(&self) -> bool {
        self.lacks.as_ref().is_some_and(|l| l.asked.get().is_some())
    }

    /// What follows rests on every permit there ever was.
    pub fn all_of_them(&self) -> &Permits {
        if let Some(lacks) = &self.lacks {
            let _ = lacks.asked.set(());
        }
        self
    }

    fn noted<T>(&self, found: Option<T>) -> Option<T> {
        if found.is_none() {
            self.all_of_them();
        }
        found
    }

    /// One of them.
    pub fn get(&self, number: &str) -> Option<&Permit> {
        self.noted(self.all.get(number).map(AsRef::as_ref))
    }

    /// Changes one of them.
    pub fn change(&mut self, number: &str, change: impl FnOnce(&mut Permit)) {
        if !self.contains_key(number) {
            return;
        }
        let Some(p) = self.all.get_mut(number).map(Arc::make_mut) else { return };
        let (was, last, answers, day) = (is_open(p), last_of_day(p), p.answers.len(), p.day.len());
        change(p);
        note_latest(&mut self.latest, p, answers);
        note_read(&mut self.read, p, day);
        let now = last_of_day(p);
        if now != last {
            let number = SmolStr::new(number);
            if let Some(seq) = last {
                self.days.remove(&(seq, number.clone()));
            }
            self.days.extend(now.map(|seq| (seq, number)));
        }
        match (was, is_open(p)) {
            (false, true) => {
                self.open.insert(SmolStr::new(number));
            }
            (true, false) => {
                self.open.remove(number);
                // Few lines come to it any more.
                p.answers.shrink_to_fit();
                p.day.shrink_to_fit();
            }
            (true, true) | (false, false) => {}
        }
    }

    /// Those that lines of their set may still change: all that have not ended, or ended by time alone.
    pub fn open(&self) -> impl Iterator<Item = &Permit> {
        self.open.iter().filter_map(|number| self.all.get(number)).map(AsRef::as_ref)
    }

    /// Numbers of the open ones of which something is true.
    pub fn open_where(&self, which: impl Fn(&Permit) -> bool) -> Vec<String> {
        self.open().filter(|p| which(p)).map(|p| p.number.clone()).collect()
    }

    /// Takes one in.
    pub fn insert(&mut self, number: SmolStr, permit: Permit) {
        if is_open(&permit) {
            self.open.insert(number.clone());
        }
        note_latest(&mut self.latest, &permit, 0);
        note_read(&mut self.read, &permit, 0);
        self.days.extend(last_of_day(&permit).map(|seq| (seq, number.clone())));
        self.all.insert(number, Arc::new(permit));
    }

    /// Takes one out.
    pub fn remove(&mut self, number: &str) -> Option<Arc<Permit>> {
        self.open.remove(number);
        let gone = self.all.remove(number)?;
        if let Some(seq) = last_of_day(&gone) {
            self.days.remove(&(seq, SmolStr::new(number)));
        }
        self.read.remove(number);
        Some(gone)
    }

    /// Whether there is one.
    pub fn contains_key(&self, number: &str) -> bool {
        self.noted(self.all.get(number)).is_some()
    }

    /// All there ever were, by number.
    pub fn values(&self) -> impl DoubleEndedIterator<Item = &Permit> + ExactSizeIterator + Clone {
        self.all_of_them().at_hand()
    }

    /// One of those that are here: for whoever asks only for what is kept at hand.
    pub(super) fn one_at_hand(&self, number: &str) -> Option<&Permit> {
        self.all.get(number).map(AsRef::as_ref)
    }

    /// Those that are here, by number: for whoever asks only for what is kept at hand ([`super::State::at_hand`] says what).
    pub fn at_hand(&self) -> impl DoubleEndedIterator<Item = &Permit> + ExactSizeIterator + Clone {
        self.all.values().map(AsRef::as_ref)
    }

    /// Whether the days of a set's permits are here since a place in the history.
    pub(super) fn go_back_to(&self, set: &str, since: u64) -> bool {
        let gone = self.lacks.as_ref().and_then(|l| l.gone.get(set));
        gone.is_none_or(|(seq, _)| *seq < since)
    }

    /// What stands in the day of a set's permits after a place in the history; of what was entered before a UTC second
    /// nothing need be among it.
    pub fn days_of_set<'a>(
        &'a self,
        set: &'a str,
        after: u64,
        from: i64,
    ) -> impl Iterator<Item = &'a Happened> + use<'a> {
        self.at_work_since(set, after, from).flat_map(move |p| p.day_after(after))
    }

    /// The readings of one gauge among them.
    pub fn readings_of_set<'a>(
        &'a self,
        (set, gauge): (&'a str, &'a str),
        after: u64,
        from: i64,
    ) -> impl Iterator<Item = &'a Happened> + use<'a> {
        self.at_work_since(set, after, from).flat_map(move |p| {
            let places = self.read.get(p.number.as_str()).and_then(|r| r.get(gauge));
            let read = places.into_iter().flatten().filter_map(|at| p.day.get(*at));
            read.filter(move |h| h.stamp.seq > after)
        })
    }

    /// Permits of a set, by number, to whose day something came after a place in the history.
    fn at_work_since<'a>(
        &'a self,
        set: &'a str,
        after: u64,
        from: i64,
    ) -> impl Iterator<Item = &'a Permit> + use<'a> {
        let gone = self.lacks.as_ref().and_then(|l| l.gone.get(set));
        if gone.is_some_and(|(seq, second)| *seq > after && *second >= from) {
            self.all_of_them();
        }
        let later = self.days.range((after.saturating_add(1), SmolStr::default())..);
        let mut numbers: Vec<&SmolStr> = later.map(|(_, number)| number).collect();
        numbers.sort_unstable();
        numbers
            .into_iter()
            .filter_map(|n| self.all.get(n.as_str()))
            .map(AsRef::as_ref)
            .filter(move |p| p.set.id == set)
    }

    /// The latest answer to a step that was given on a permit of a set, and that permit.
    pub(super) fn latest_answer(
        &self,
        set: &str,
        form: &str,
        (step, item): (&str, Option<&str>),
    ) -> Option<(&Permit, &Answer)> {
        let of_form = self.all_of_them().latest.get(set)?.get(form)?;
        let (_, number, at) = of_form.get(&(step.into(), item.map(SmolStr::new)))?;
        let permit = self.all.get(number.as_str())?;
        Some((permit, permit.answers.get(*at)?))
    }

    /// Sets on whose permits anything was answered.
    pub fn answered_sets(&self) -> impl Iterator<Item = &str> {
        self.all_of_them().latest.keys().map(SmolStr::as_str)
    }

    /// Numbers that begin so.
    pub fn numbers<'a>(&'a self, head: &'a str) -> impl Iterator<Item = &'a str> {
        let from = self.all_of_them().all.range(SmolStr::new(head)..);
        from.map(|(number, _)| number.as_str()).take_while(move |number| number.starts_with(head))
    }

    /// Their numbers.
    pub fn keys(&self) -> impl DoubleEndedIterator<Item = &str> + ExactSizeIterator + Clone {
        self.all.keys().map(SmolStr::as_str)
    }

    /// Forgets all of them.
    pub fn clear(&mut self) {
        self.all.clear();
        self.open.clear();
        self.days.clear();
        self.read.clear();
        self.latest.clear();
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// True if there is none.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }
}

fn last_of_day(p: &Permit) -> Option<u64> {
    p.day.last().map(|h| h.stamp.seq)
}

/// Takes in the answers of a permit after the first so many. Names are copied only where they are new: they are long, and
/// answers many.
fn note_latest(latest: &mut BTreeMap<SmolStr, BTreeMap<SmolStr, Latest>>, p: &Permit, after: usize) {
    let own = p.answers.iter().enumerate().skip(after).filter(|(_, a)| a.carry.is_none());
    for (at, a) in own {
        if !latest.contains_key(p.set.id.as_str()) {
            latest.insert(p.set.id.as_str().into(), BTreeMap::new());
        }
        let Some(of_set) = latest.get_mut(p.set.id.as_str()) else { continue };
        if !of_set.contains_key(&a.form) {
            of_set.insert(a.form.clone(), BTreeMap::new());
        }
        let Some(of_form) = of_set.get_mut(&a.form) else { continue };
        let of = (a.step.clone(), a.item.clone());
        let here = (a.stamp.seq, SmolStr::new(&p.number), at);
        let kept = of_form.entry(of).or_insert_with(|| here.clone());
        if kept.0 <= here.0 {
            *kept = here;
        }
    }
}

/// Takes in the readings among what stands in a permit's day after the first so many.
fn note_read(read: &mut BTreeMap<SmolStr, Arc<Read>>, p: &Permit, after: usize) {
    let came = p.day.iter().enumerate().skip(after).filter(|(_, h)| h.kind == "reading");
    for (at, what) in came.filter_map(|(at, h)| Some((at, h.data.text("what")?))) {
        let of_permit = Arc::make_mut(read.entry(SmolStr::new(&p.number)).or_default());
        match of_permit.get_mut(what) {
            Some(places) => places.push(at),
            None => {
                of_permit.insert(SmolStr::new(what), vec![at]);
            }
        }
    }
}

pub(super) fn is_open(p: &Permit) -> bool {
    !p.life.ended() || p.life == StateWord::Lapsed
}

impl<Q: ?Sized + AsRef<str>> std::ops::Index<&Q> for Permits {
    type Output = Permit;

    fn index(&self, number: &Q) -> &Permit {
        &self.all[number.as_ref()]
    }
}

impl Serialize for Permits {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let gone = self.lacks.as_ref().map(|l| &l.gone);
        (gone, self.at_hand().collect::<Vec<_>>()).serialize(to)
    }
}

/// What was written is those at hand: others may be missing.
impl<'de> Deserialize<'de> for Permits {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Permits, D::Error> {
        let (gone, all) = <(Option<Gone>, Vec<Permit>)>::deserialize(from)?;
        let lacks = Lacks { asked: OnceLock::new(), gone: gone.unwrap_or_default() };
        let mut permits = Permits { lacks: Some(lacks), ..Permits::default() };
        all.into_iter().for_each(|p| permits.insert(p.number.as_str().into(), p));
        Ok(permits)
    }
}
