//! The cache for opening: what is at hand of a register, kept in the seal's folder, so that adding a line does not read a
//! year's lines.
//!
//! In it: the chain and the state after some line, without what is over and bears on nothing more, and where that line
//! stands. Always: it is used for adding lines and for looking at the work, never for verifying or auditing; only if it is
//! whole, made by this very way of folding, no file of the register was written since but by this station ([`MARK`]), the
//! line at that place has that H, and the clock is not behind it; the lines after it are read and checked as ever. Whatever
//! it lacks for a decision, or holds against one, is decided anew with everything read. The lines before it are not read
//! again: this station checked them when it took them in; what an altered file hides behind its old length and time,
//! verifying finds. Whoever could alter the cache holds the seal's key. On a disk that is nearly full there is none. Not
//! here: what is at hand (`permit::state`, `record::chain`).

use super::{Desk, Loaded, Looked, Trouble, zone};
use crate::permit::state::State;
use crate::record::aside;
use crate::record::chain::{AtHand, Chain};
use crate::record::line::hash;
use crate::record::store::{self, Place};
use crate::time::Moment;
use crate::world::Storage;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;

/// The cache's file.
pub const FILE: &str = "at-hand";
/// Length and time of every volume, as the last entry left them.
pub const MARK: &str = "at-hand-of";
/// Its form, the rules and the program by which it was folded: another one is not read.
const HEAD: &str =
    concat!("at hand 1, airwrit ", env!("CARGO_PKG_VERSION"), ", folded by ", include_str!("folded.txt"));
/// After so many lines it is kept anew; those since are read at each opening.
const OFTEN: u64 = 32;
/// A disk with less room than this is for lines alone, bytes. A day is about a megabyte; copies and prints come to it.
pub const ROOM: u64 = 64 * 1024 * 1024;

#[derive(Serialize)]
struct Kept<'a> {
    place: Place,
    chain: AtHand,
    state: &'a State,
}

#[derive(Deserialize)]
struct Read {
    place: Place,
    chain: AtHand,
    state: State,
}

/// Length and time of every volume.
fn mark(register: &dyn Storage) -> Option<String> {
    let names = crate::record::volumes::names(register).ok()?;
    names.iter().map(|name| Some(format!("{name} {}\n", register.stamp(name)?))).collect()
}

/// Whether nobody but this station wrote to the register since.
fn untouched(register: &dyn Storage, seal: &dyn Storage) -> bool {
    let left = seal.read(MARK).ok().flatten();
    left.is_some_and(|left| mark(register).is_some_and(|now| now.into_bytes() == left))
}

/// The cache's bytes for a register that was just written; `None` where it cannot be kept so.
fn bytes(register: &dyn Storage, loaded: &Loaded) -> Option<Vec<u8>> {
    let last = loaded.register.lines.last()?;
    let state = loaded.state.at_hand()?;
    let numbers: HashSet<&str> = state.permits.keys().collect();
    let texts: HashSet<&str> = state.permits.at_hand().flat_map(|p| p.texts()).collect();
    let chain = loaded.register.chain.at_hand(&|n| numbers.contains(n), &|h| texts.contains(h))?;
    let place = loaded.register.place(register, last.raw.len())?;
    let body = serde_json::to_vec(&Kept { place, chain, state: &state }).ok()?;
    let mut all = format!("{HEAD}, {}\n", hash(&body)).into_bytes();
    all.extend(body);
    Some(all)
}

/// What the cache says, if it is one.
fn read(seal: &dyn Storage) -> Option<(Place, Chain, State)> {
    let bytes = seal.read(FILE).ok()??;
    let end = bytes.iter().position(|b| *b == b'\n')?;
    let (head, body) = (bytes.get(..end)?, bytes.get(end + 1..)?);
    let sum = std::str::from_utf8(head).ok()?.strip_prefix(HEAD)?.strip_prefix(", ")?;
    if hash(body) != sum {
        return None;
    }
    let Read { place, chain, state } = serde_json::from_slice(body).ok()?;
    let chain = Chain::of_hand(chain, state.lines()).ok()?;
    Some((place, chain, state))
}

/// What a file is called until it is whole.
fn new_of(name: &str) -> String {
    format!("{name}.new")
}

/// Puts a whole new file in the place of an old one, or leaves the old one and nothing else.
fn replace(seal: &mut dyn Storage, name: &str, bytes: &[u8]) {
    let new = new_of(name);
    if seal.write(&new, bytes).and_then(|()| seal.rename(&new, name)).is_err() {
        let _ = seal.remove(&new);
    }
}

/// Takes the lines since into the state; `None` where it is not enough for them, or with them.
fn with(mut state: State, lines: &[crate::record::line::Line]) -> Option<State> {
    lines.iter().try_for_each(|line| state.take(line)).ok()?;
    state.is_enough().then_some(state)
}

/// Whether reports stand aside, or may.
fn aside(folders: &[&dyn Storage], now: &Moment) -> bool {
    !aside::standing(folders, &now.time, &|_| false).is_empty()
        || folders.iter().any(|f| f.list().is_ok_and(|names| names.iter().any(|n| n == aside::TOLD)))
}

/// A look at the work of a register: no line of what is over. `None` where everything has to be looked at.
pub fn look(register: &dyn Storage, seal: &dyn Storage, second: i64) -> Option<Looked> {
    let (place, chain, state) = read(seal).filter(|_| untouched(register, seal))?;
    let known = store::after(register, &place, chain)?;
    if store::is_older(seal, &known.chain) {
        return None;
    }
    let state = with(state, &known.lines)?;
    let now = Moment::new(second, &zone(&known.chain));
    if state.is_ahead_of(&now.time) || aside(&[register, seal], &now) {
        return None;
    }
    let (chain, lines) = (known.chain, known.lines);
    Some(Looked { chain, lines, state, now, broken: None, torn: false, aside: 0, unread: 0, older: false })
}

impl Desk<'_> {
    /// Opens what is at hand; `None` where everything has to be read.
    pub(super) fn at_hand(&self) -> Option<Loaded> {
        let (place, chain, state) = read(self.seal).filter(|_| untouched(self.register, self.seal))?;
        let since = Some(state.count());
        let register = store::go_on(self.register, self.seal, &place, chain)?;
        let state = with(state, &register.lines)?;
        let now = Moment::new(self.second, &zone(&register.chain));
        if state.is_ahead_of(&now.time) || aside(&[&*self.register, &*self.seal], &now) {
            return None;
        }
        Some(Loaded { register, state, now, since, began: false })
    }

    /// Keeps what is at hand after an entry, if it is time to. Where it cannot be written, opening takes longer, and that
    /// is all.
    pub(super) fn leave_at_hand(&mut self, loaded: &mut Loaded) {
        let count = loaded.state.count();
        let Some(mark) = mark(self.register) else { return };
        if self.seal.room().is_some_and(|room| room < ROOM) {
            for name in [FILE, MARK] {
                let _ = self.seal.remove(name).and_then(|()| self.seal.remove(&new_of(name)));
            }
            return;
        }
        if loaded.since.is_none_or(|since| count >= since + OFTEN) {
            loaded.since = Some(count);
            let Some(bytes) = bytes(self.register, loaded) else { return };
            replace(self.seal, FILE, &bytes);
        }
        replace(self.seal, MARK, mark.as_bytes());
    }

    /// Does something that rests on the work at hand. Where that is not enough, or says no, it is done anew with everything
    /// read, unless a line began to be written: so `work` may be called twice, and decides before it keeps.
    pub fn at_work<T>(
        &mut self,
        mut work: impl FnMut(&mut Desk<'_>, &mut Loaded) -> Result<T, Trouble>,
    ) -> Result<T, Trouble> {
        if let Some(mut loaded) = self.at_hand() {
            let done = work(self, &mut loaded);
            if loaded.began || (done.is_ok() && !loaded.state.permits.lack()) {
                return done;
            }
        }
        let mut loaded = self.load()?;
        work(self, &mut loaded)
    }
}
