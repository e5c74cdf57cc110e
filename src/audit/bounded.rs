//! The verdict on a whole register, however long it is: what is at hand does not grow with it, but for a few bytes a permit.
//!
//! Always: the verdict, the rule, the line and the words are those of reading it with everything kept. What is not at hand
//! is looked for in the bytes once more: a line cited from far back, the lines signed with a key that a newer roster speaks
//! against. The bytes must then be those of the first time. Where a rule asks for more than that (answers carried that may
//! hardly be; a register whose earlier volume is missing), everything is read again and kept. Not here: excerpts, and
//! whatever is done with the lines themselves.

use super::{Broken, Gathered, Later, LineNo, OTHER_VERSION, Report, Said, Trust, Walk, rosters, walked};
use crate::permit::state::State;
use crate::record::line::{FORGOTTEN, Line};
use crate::record::pour::Piece;
use crate::tongue::say;
use crate::trust::Roster;
use sha2::{Digest, Sha256};
use std::collections::HashMap;

/// A register's bytes, to be read from the first on as often as needed.
pub trait Source {
    /// Its pieces.
    fn pieces(&self) -> Box<dyn Iterator<Item = Piece<'_>> + '_>;
}

/// Volumes in memory.
pub struct InMemory<'a> {
    /// Their bytes.
    pub volumes: &'a [&'a [u8]],
    /// Bytes read at a time.
    pub piece: usize,
}

impl Source for InMemory<'_> {
    fn pieces(&self) -> Box<dyn Iterator<Item = Piece<'_>> + '_> {
        Box::new(crate::record::pour::of_bytes(self.volumes, self.piece))
    }
}

/// With what it is done. Nothing of the verdict rests on it.
#[derive(Clone, Copy, Debug)]
pub struct Means {
    /// So many read ahead; none: one line after the other.
    pub threads: usize,
    /// H of so many last lines are kept.
    pub near: usize,
}

impl Means {
    /// What this machine has.
    pub fn here() -> Means {
        Means { threads: crate::record::pour::threads(), near: 8192 }
    }

    /// The same, but for one core: somebody works at this machine meanwhile.
    pub fn beside() -> Means {
        // Who takes the lines, one after the other, has a core too.
        Means { threads: crate::record::pour::threads().saturating_sub(2), ..Means::here() }
    }
}

/// Verifies a register.
pub fn verdict(source: &dyn Source, trust: Option<&Trust>, later: &[Later], means: Means) -> Report {
    let came = match once(source, trust, later, means, None) {
        Came::Nowhere(digest) => once(source, trust, later, means, Some(digest)),
        other @ (Came::Report(_) | Came::Forgotten) => other,
    };
    match came {
        Came::Report(report) => *report,
        Came::Nowhere(_) | Came::Forgotten => keeping_all(source, trust, later, means),
    }
}

enum Came {
    Report(Box<Report>),
    /// A line cites this H, and no line before has it.
    Nowhere([u8; 32]),
    /// A rule asks for something that was not kept.
    Forgotten,
}

/// The bytes that were read: how many lines, and a hash over all of theirs.
#[derive(Clone, Default)]
struct Trail {
    lines: u64,
    all: Sha256,
}

impl Trail {
    fn take(&mut self, digest: &[u8; 32]) {
        self.lines += 1;
        self.all.update(digest);
    }
}

fn changed() -> String {
    say!("the register changed while it was read; verify it again").into()
}

fn once(
    source: &dyn Source,
    trust: Option<&Trust>,
    later: &[Later],
    means: Means,
    nowhere: Option<[u8; 32]>,
) -> Came {
    let mut walk = Walk { state: State::for_a_verdict(), ..Walk::of(None) };
    let mut trail = Trail::default();
    let mut looked = None;
    let mut wrong = walked(&mut walk, source.pieces(), means.threads, &mut |walk, line| {
        let first = walk.chain.is_none();
        let taken = walk.take(&line);
        let Some(chain) = &mut walk.chain else { return taken };
        if first {
            chain.for_a_verdict(means.near, nowhere);
        }
        taken?;
        for permit in walk.state.have_ended() {
            chain.has_ended(&permit);
        }
        trail.take(&line.digest());
        if nowhere.is_none() && chain.asks_for_many() {
            looked = look_for(source, chain.asked(), &trail).transpose();
            if looked.is_some() {
                return Err(Broken { rule: FORGOTTEN, why: String::new() });
            }
        }
        Ok(())
    });
    // What is asked for on the second way stood before the line that cites what stands nowhere.
    if looked.is_none() && nowhere.is_none() {
        let asked = walk.chain.as_mut().map(|c| c.asked()).unwrap_or_default();
        looked = look_for(source, asked, &trail).transpose();
    }
    match looked {
        Some(Ok(digest)) => return Came::Nowhere(digest),
        Some(Err(why)) => wrong = Some(Broken { rule: OTHER_VERSION, why }),
        None if wrong.as_ref().is_some_and(|b| b.rule == FORGOTTEN) => return Came::Forgotten,
        None => {}
    }
    let ended = |gathered: &Gathered, roster: &Roster| ended(source, gathered, roster, &trail);
    Came::Report(Box::new(walk.finish(trust, wrong, &[], later, &ended)))
}

/// Everything kept but the lines.
fn keeping_all(source: &dyn Source, trust: Option<&Trust>, later: &[Later], means: Means) -> Report {
    let mut walk = Walk::of(None);
    let mut trail = Trail::default();
    let wrong = walked(&mut walk, source.pieces(), means.threads, &mut |walk, line| {
        walk.take(&line)?;
        trail.take(&line.digest());
        Ok(())
    });
    let ended = |gathered: &Gathered, roster: &Roster| ended(source, gathered, roster, &trail);
    walk.finish(trust, wrong, &[], later, &ended)
}

/// Hands on the lines that were read, from the bytes, with the H of each. Nothing is said of them that was not checked.
fn again(source: &dyn Source, trail: &Trail, line: &mut dyn FnMut(&[u8], [u8; 32])) -> Result<(), String> {
    let mut second = Trail::default();
    'all: for piece in source.pieces() {
        let bytes = match piece {
            Piece::Lines(bytes) => bytes,
            Piece::Failed(why) => return Err(why),
            Piece::Long(_) | Piece::Rest(_) => break,
        };
        for raw in bytes.split_inclusive(|b| *b == b'\n') {
            if second.lines == trail.lines {
                break 'all;
            }
            let raw = raw.strip_suffix(b"\n").unwrap_or(raw);
            let digest: [u8; 32] = Sha256::digest(raw).into();
            second.take(&digest);
            line(raw, digest);
        }
    }
    let same = second.lines == trail.lines && second.all.finalize() == trail.all.clone().finalize();
    if same { Ok(()) } else { Err(changed()) }
}

/// Of what is cited and was not at hand: the H that the first line cites which cites one that does not stand before it.
fn look_for(
    source: &dyn Source,
    asked: Vec<([u8; 32], u64)>,
    trail: &Trail,
) -> Result<Option<[u8; 32]>, String> {
    if asked.is_empty() {
        return Ok(None);
    }
    let mut open: HashMap<[u8; 32], u64> = asked.into_iter().collect();
    let mut at = 0;
    again(source, trail, &mut |_, digest| {
        if open.get(&digest).is_some_and(|before| at < *before) {
            open.remove(&digest);
        }
        at += 1;
    })?;
    Ok(open.into_iter().min_by_key(|(_, before)| *before).map(|(digest, _)| digest))
}

/// Lines signed with a key that a roster speaks against.
fn ended(
    source: &dyn Source,
    gathered: &Gathered,
    roster: &Roster,
    trail: &Trail,
) -> Result<Vec<Said>, String> {
    let mut said = Vec::new();
    if !gathered.speaks_against(roster) {
        return Ok(said);
    }
    let mut volume = 0;
    again(source, trail, &mut |raw, _| {
        // An act is the first member of the body of a line that carries one.
        if !raw.starts_with(b"{\"body\":{\"act\":") {
            return;
        }
        if let Ok(line) = Line::read(raw) {
            volume += u32::from(line.kind.name == "enrol");
            said.extend(rosters::ended_key(LineNo { volume, line: line.seq }, &line, roster));
        }
    })?;
    Ok(said)
}
