//! Reports written aside while the register could not be written: entered at the next opening, before
//! anything else is decided; and counted on the screen until then.
//!
//! Always: an entry is entered once, and stays in its file until the line that carries it is on disk. Where
//! nobody knows which set an entry concerns it counts for every set: rather one too many on air than one
//! too few.

use super::{Desk, Loaded, Looked, Trouble};
use crate::permit::bench::Texts;
use crate::permit::decide::Known;
use crate::permit::decide::air::{known_as, planned_on, planned_outlet, with_breach};
use crate::record::aside::{self, Entry, MOST, Standing};
use crate::record::kinds::{check_data, kind};
use crate::record::line::{Draft, Line, What};
use crate::world::Storage;
use std::collections::HashSet;

impl Desk<'_> {
    /// Enters what stands aside, if anything does.
    pub(super) fn enter_aside(&mut self, loaded: &mut Loaded) -> Result<(), Trouble> {
        let known_ids = ids(&loaded.register.lines);
        let folders: [&dyn Storage; 2] = [&*self.register, &*self.seal];
        let mut waiting = aside::standing(&folders, &loaded.now.time, &|id| known_ids.contains(id));
        if waiting.is_empty() {
            // All of it was entered, and the machine stopped before the lists went.
            return self.forget_aside();
        }
        // An entry stands whole in one line: its id says that all of it was entered.
        let mut lines: Vec<Vec<Entry>> = vec![Vec::new()];
        // Where a report belongs may hang on the one before it, as on the screen: they count one by one.
        let mut state = loaded.state.clone();
        let last = loaded.register.lines.last().cloned();
        for w in waiting.iter_mut().filter(|w| !known_ids.contains(&w.entry.id)) {
            let known = Known::new(&loaded.register.chain, &state, &loaded.now);
            let of_it = counted(&known, w);
            for one in &of_it {
                // A report: no rule refuses it.
                let _ = last.as_ref().map(|l| state.take_entry(l, one));
            }
            match lines.last_mut().filter(|l| l.len() + of_it.len() <= MOST) {
                Some(line) => line.extend(of_it),
                None => lines.push(of_it),
            }
        }
        for some in lines.iter().filter(|l| !l.is_empty()) {
            let data = aside::recovery(some);
            let draft = Draft { kind: "recovery", permit: None, by: None, what: What::Data(data) };
            self.keep(loaded, &draft)?;
        }
        for Standing { folder, file, unread, .. } in waiting {
            let Some(name) = file else { continue };
            let folder = if folder == 1 { &mut *self.seal } else { &mut *self.register };
            // What could not be read is kept for whoever can.
            let gone =
                if unread { folder.rename(&name, &aside::kept_as(&name)) } else { folder.remove(&name) };
            gone.and_then(|()| folder.flush_folder()).map_err(|e| Trouble::CouldNot(e.why))?;
        }
        self.forget_aside()
    }

    fn forget_aside(&mut self) -> Result<(), Trouble> {
        for folder in [&mut *self.register, &mut *self.seal] {
            aside::forget(folder).map_err(|e| Trouble::CouldNot(e.why))?;
        }
        Ok(())
    }
}

/// Ids of what was entered already: a machine that stopped between the line and the removal of the file.
fn ids(lines: &[Line]) -> HashSet<String> {
    let entered = lines.iter().filter(|l| l.kind.name == "recovery").flat_map(|l| aside::entered(&l.data));
    entered.map(|e| e.id).collect()
}

/// What an entry counts as. What is no report of its kind is held for like what cannot be read: it may have been
/// damaged, and have been an alarm.
fn counted(known: &Known<'_>, w: &mut Standing) -> Vec<Entry> {
    let of_it = resolved(known, &w.entry);
    if !of_it.is_empty() || w.unread {
        return of_it;
    }
    w.unread = true;
    resolved(known, &aside::held_for(&w.entry, &known.now.time))
}

/// An entry with the permit or the sets that it concerns. What is no report of its kind is left out: it
/// must not keep everything else from being written.
fn resolved(known: &Known<'_>, entry: &Entry) -> Vec<Entry> {
    let whole = |e: &Entry| kind(&e.kind).is_some_and(|k| check_data(k, &e.data).is_ok());
    let judged = |mut e: Entry| {
        let permit = e.permit.as_ref().and_then(|p| known.state.permits.get(p));
        e.data = with_breach(known, permit, &e.kind, e.data);
        e
    };
    placed(known, entry).into_iter().map(judged).filter(whole).collect()
}

fn placed(known: &Known<'_>, entry: &Entry) -> Vec<Entry> {
    let mut entry = entry.clone();
    let permit = entry.permit.as_ref().and_then(|p| known.state.permits.get(p));
    if let Some(person) = entry.data.text("person") {
        let person = known_as(known, permit, person);
        entry.data = entry.data.clone().with("person", person.as_str());
    }
    if permit.is_some() {
        entry.data = entry.data.without("set");
        return vec![entry];
    }
    let named = entry.permit.take().is_some();
    if entry.data.has("set") {
        return vec![entry];
    }
    let on = |known: &Known<'_>| {
        let person = entry.data.text("person")?;
        known.state.on_air.iter().find(|p| p.person == person).cloned()
    };
    if let Some(p) = on(known) {
        return match p.permit {
            Some(number) => vec![Entry { permit: Some(number), ..entry }],
            None => vec![Entry { data: entry.data.clone().with("set", p.set.as_str()), ..entry }],
        };
    }
    // As where the register can be written: whoever is planned on one permit counts on it, so that nobody
    // ends it over their head.
    let planned = entry.data.text("person").map(|p| planned_on(known, p)).unwrap_or_default();
    if let ([permit], false) = (planned.as_slice(), named) {
        let person = entry.data.text("person").unwrap_or_default();
        let outlet = Texts::of(known.chain, permit).ok().and_then(|t| planned_outlet(&t, person));
        if let Some(o) = outlet.filter(|_| entry.kind == "on_air" || entry.kind == "in") {
            entry.data = entry.data.clone().with("outlet", o.as_str());
        }
        return vec![Entry { permit: Some(permit.number.clone()), ..entry }];
    }
    let sets = known.chain.texts.keys().filter(|(kind, _)| kind == "set").map(|(_, id)| id.clone());
    sets.take(MOST)
        .map(|set| Entry { data: entry.data.clone().with("set", set.as_str()), ..entry.clone() })
        .collect()
}

/// Takes what stands aside in these folders into a register that is only looked at.
pub fn with_aside(looked: &mut Looked, folders: &[&dyn Storage]) {
    let known_ids = ids(&looked.lines);
    let mut waiting = aside::standing(folders, &looked.now.time, &|id| known_ids.contains(id));
    let Some(last) = looked.lines.last().cloned() else { return };
    for w in waiting.iter_mut().filter(|w| !known_ids.contains(&w.entry.id)) {
        let of_it = counted(&looked.known(), w);
        for one in &of_it {
            // A report: no rule refuses it.
            let _ = looked.state.take_entry(&last, one);
        }
        looked.aside += 1;
        looked.unread += usize::from(w.unread);
    }
}
