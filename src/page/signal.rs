//! What stands on the screen the moment everyone is called out: the agreed signal, the outlets to watch, whom to call.
//!
//! Always: kept beside the register's memory, so that it is shown without lock, key or disk; from a broken register too, as
//! far as its lines tell. Not here: what is recorded.

use crate::actions::Looked;
use crate::cli::calling::{Concerned, called_out, salvaged, signal};
use crate::cli::{Outside, Place};
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
            let more: Vec<_> = then.rows.iter().filter(|r| !first.rows.contains(r)).cloned().collect();
            let mut rows = first.rows.clone();
            if !now.read {
                rows.insert(0, as_of);
                // Its first row says that nothing is known, in place of this one.
                rows.extend(more.into_iter().skip(1));
            } else if !more.is_empty() {
                rows.push(as_of);
                rows.extend(more);
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
        let mut said = Vec::new();
        let mut there = Outside {
            input: &mut &b""[..],
            out: &mut std::io::sink(),
            err: &mut said,
            terminal: false,
            second: outside.second,
            random: &mut *outside.random,
            state_folder: outside.state_folder.clone(),
            page: outside.page,
            aside: outside.aside,
        };
        if let Some((looked, concerned)) = looked {
            let _ = signal(looked, concerned, &mut there);
        }
        let _ = salvaged(place, looked.map(|(l, _)| l), &mut there);
        let text = String::from_utf8_lossy(&said).into_owned();
        let mut rows: Vec<(String, String)> = text.lines().map(row).collect();
        if looked.is_none() {
            let words =
                say!("not known, the register cannot be read; use the agreed signal, look along every hose");
            rows.insert(0, (say!("ON AIR").into(), words.into()));
        }
        Signal { rows, on_air: 0, read: false }
    }
}
