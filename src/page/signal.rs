//! What stands on the screen the moment everyone is called out: the agreed signal, the outlets to watch, whom to call.
//!
//! Always: kept beside the register's memory, so that it is shown without lock, key or disk; from a broken register too, as
//! far as its lines tell. Not here: what is recorded.

use crate::actions::Looked;
use crate::cli::calling::{Concerned, called_out, salvaged, signal};
use crate::cli::{Face, Outside, Place};
use crate::time::{Moment, for_people};
use crate::tongue::{Tongue, say};
use serde::Serialize;

/// The signal.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Signal {
    /// What to do, in order: label and words.
    pub rows: Vec<(String, String)>,
    /// Everyone on air, or perhaps on air, is among the rows.
    pub on_air: usize,
    /// A reading says so; without one nobody is named.
    pub read: bool,
}

/// The signal in every language: whoever reads the register anew, everybody has it in their own at once.
#[derive(Clone, Debug, Default)]
pub struct Signals {
    all: [Signal; Tongue::ALL.len()],
}

impl Signals {
    /// Made in each language.
    pub fn of(make: impl Fn() -> Signal) -> Signals {
        Signals { all: Tongue::ALL.map(|tongue| tongue.within(&make)) }
    }

    /// With what the last whole reading said: names that are gone from the bytes may be all that leads to somebody.
    pub fn with_last(&self, last: &Signals, when: &Moment) -> Signals {
        let mut all = last.all.clone();
        for ((signal, now), tongue) in all.iter_mut().zip(&self.all).zip(Tongue::ALL) {
            let as_of = || {
                let words = say!(
                    "{time}: so it was read then; now the register cannot be read, or is damaged: look along every hose",
                    time = for_people(&when.time, &when.zone)
                );
                (say!("AS OF").to_owned(), words)
            };
            let as_of = tongue.within(as_of);
            // What is read now stands first; where nothing is, what was.
            let (first, then) = if now.read { (now, &*signal) } else { (&*signal, now) };
            // The same words are told once, proved or not.
            let told = |words: &String| first.rows.iter().any(|(_, w)| w == words);
            let more: Vec<_> = then.rows.iter().filter(|(_, w)| !told(w)).cloned().collect();
            let mut rows = first.rows.clone();
            // People before whom to call.
            let at = tongue.within(|| after_people(&rows));
            if !now.read {
                // Its first row says that nothing is known, in place of this one.
                rows.splice(at..at, more.into_iter().skip(1)).count();
                rows.insert(0, as_of);
            } else if !more.is_empty() {
                rows.splice(at..at, std::iter::once(as_of).chain(more)).count();
            }
            *signal = Signal { rows, on_air: now.on_air.max(signal.on_air), read: true };
        }
        Signals { all }
    }

    /// The one in the language bound here.
    pub fn spoken(&self) -> Signal {
        let of = Tongue::ALL.iter().zip(&self.all).find(|(tongue, _)| **tongue == Tongue::now());
        of.map(|(_, signal)| signal.clone()).unwrap_or_default()
    }
}

/// `  LABEL: words` in two.
fn row(line: &str) -> (String, String) {
    let line = line.trim();
    let (label, words) = line.split_once(": ").unwrap_or(("", line));
    (label.to_owned(), words.to_owned())
}

/// Where the rows of people end: whom to call, and where to, stand after them.
fn after_people(rows: &[(String, String)]) -> usize {
    let (rescue, assembly) = (say!("RESCUE"), say!("ASSEMBLY"));
    let whom = |(label, _): &(String, String)| label.starts_with(rescue) || label.starts_with(assembly);
    rows.iter().position(whom).unwrap_or(rows.len())
}

/// What was proved and what was only found in damaged bytes, in one order: the signal, people, whom to call, where to.
fn in_order(proved: Vec<(String, String)>, found: Vec<(String, String)>) -> Vec<(String, String)> {
    let labels = [say!("SIGNAL"), say!("RESCUE"), say!("ASSEMBLY")];
    let unproved = labels.map(|label| {
        let (label, _) = row(&say!("{label}, NOT PROVED: {words}", label, words = "-"));
        label
    });
    let mut out = Vec::new();
    let of = |label: &str, unproved: &String| -> Vec<(String, String)> {
        let own: Vec<_> = proved.iter().filter(|(l, _)| l == label).cloned().collect();
        let more = found.iter().filter(|(l, w)| l == unproved && !own.iter().any(|(_, words)| words == w));
        own.iter().cloned().chain(more.cloned()).collect()
    };
    let [signal, rescue, assembly] = labels;
    let [signal_found, rescue_found, assembly_found] = &unproved;
    out.extend(of(signal, signal_found));
    out.extend(proved.iter().filter(|(l, _)| l == say!("ORDER")).cloned());
    let (rescue, assembly) = (of(rescue, rescue_found), of(assembly, assembly_found));
    let people = |(l, _): &&(String, String)| {
        !labels.contains(&l.as_str()) && !unproved.contains(l) && l != say!("ORDER")
    };
    let (on, rest): (Vec<_>, Vec<_>) =
        proved.iter().filter(people).cloned().partition(|(l, _)| l == say!("ON AIR"));
    // The last of them says that there may be others: after those who are named.
    let (named, others) = on.split_at(on.len().saturating_sub(usize::from(!found.is_empty())));
    out.extend(named.iter().cloned().chain(found.iter().filter(people).cloned()).chain(rest));
    out.extend(others.iter().cloned().chain(rescue).chain(assembly));
    out
}

impl Signal {
    /// Of everybody at work.
    pub fn of(place: &Place, looked: &Looked, outside: &mut Outside<'_>) -> Signal {
        let known = looked.known();
        let concerned = called_out(&known, None, None);
        Signal {
            on_air: looked.state.on_air.len(),
            read: true,
            ..Signal::read(place, Some((looked, &concerned)), outside)
        }
    }

    /// Of a register that cannot be read.
    pub fn unreadable(place: &Place, outside: &mut Outside<'_>) -> Signal {
        Signal::read(place, None, outside)
    }

    fn read(place: &Place, looked: Option<(&Looked, &Concerned)>, outside: &mut Outside<'_>) -> Signal {
        let mut told = |work: &dyn Fn(&mut Outside<'_>)| -> Vec<(String, String)> {
            let mut said = Vec::new();
            work(&mut Outside {
                input: &mut &b""[..],
                out: &mut std::io::sink(),
                err: &mut said,
                terminal: false,
                second: outside.second,
                random: &mut *outside.random,
                state_folder: outside.state_folder.clone(),
                page: outside.page,
                aside: outside.aside,
                face: Face { keys: outside.face.keys, ..Face::default() },
            });
            String::from_utf8_lossy(&said).lines().map(row).collect()
        };
        let proved = looked.map_or_else(Vec::new, |(looked, concerned)| {
            told(&|there| {
                let _ = signal(looked, concerned, true, there);
            })
        });
        let found = told(&|there| {
            let _ = salvaged(place, looked.map(|(l, _)| l), there);
        });
        let mut rows = in_order(proved, found);
        if looked.is_none() {
            let words =
                say!("not known, the register cannot be read; use the agreed signal, look along every hose");
            rows.insert(0, (say!("ON AIR").into(), words.into()));
        }
        Signal { rows, on_air: 0, read: false }
    }
}
