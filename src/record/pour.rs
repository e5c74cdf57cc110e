//! A register's lines, read by several at once and handed on one by one.
//!
//! In: pieces of whole lines, in order. Out: each line, or why it is none, in the order of the bytes: what one reader alone
//! would say, whoever read it. Signatures are tried ahead with the keys that are most likely asked for ([`Line::prove`]);
//! whoever takes the lines asks for the right ones. Always: only so many pieces are at hand at once, however long the
//! register is. Not here: what one line means to the next (`chain`), files (`disk`).

use super::line::{Broken, LONGEST, Line, broken};
use crate::trust::{PublicKey, Roster};
use std::borrow::Cow;
use std::collections::{HashMap, VecDeque};
use std::io::Read;
use std::ops::ControlFlow;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, RwLock};

/// Bytes that one reader gets at a time, and the rest of their last line.
pub const PIECE: usize = 128 * 1024;

/// A piece of a volume.
pub enum Piece<'a> {
    /// Whole lines, each with its LF.
    Lines(Cow<'a, [u8]>),
    /// A line of so many bytes without its LF, too long to be kept at hand.
    Long(u64),
    /// So many bytes after the last line of a volume.
    Rest(u64),
    /// The volume could be read no further, and why.
    Failed(String),
}

/// What comes of a piece, line by line.
pub enum Came {
    /// A line, or why it is none.
    Line(Result<Line, Broken>),
    /// So many bytes after the last line of a volume.
    Rest(u64),
    /// Nothing can be said of what follows.
    Failed(String),
}

/// The pieces of volumes that are in memory.
pub fn of_bytes<'a>(volumes: &'a [&'a [u8]], piece: usize) -> impl Iterator<Item = Piece<'a>> {
    volumes.iter().flat_map(move |bytes| {
        let mut rest = *bytes;
        std::iter::from_fn(move || {
            if rest.is_empty() {
                return None;
            }
            let (head, tail) = rest.split_at(rest.len().min(piece));
            let end = match head.iter().rposition(|b| *b == b'\n') {
                Some(last) => last + 1,
                None => match tail.iter().position(|b| *b == b'\n') {
                    Some(more) => head.len() + more + 1,
                    None => return Some(Piece::Rest(std::mem::take(&mut rest).len() as u64)),
                },
            };
            let (lines, left) = rest.split_at(end);
            rest = left;
            Some(Piece::Lines(Cow::Borrowed(lines)))
        })
    })
}

/// The pieces of volumes that are read one after another; none is ever whole in memory.
pub fn of_readers<'a, R: Read + 'a>(
    volumes: impl Iterator<Item = R> + 'a,
    piece: usize,
) -> impl Iterator<Item = Piece<'a>> {
    volumes.flat_map(move |mut volume| {
        let mut held: Vec<u8> = Vec::new();
        let mut ended = false;
        std::iter::from_fn(move || {
            while !ended {
                let had = held.len();
                match volume.by_ref().take(piece as u64).read_to_end(&mut held) {
                    Ok(0) => ended = true,
                    Ok(_) => {}
                    Err(e) => {
                        ended = true;
                        held.clear();
                        return Some(Piece::Failed(e.to_string()));
                    }
                }
                let new = held.get(had..).unwrap_or_default();
                if let Some(last) = new.iter().rposition(|b| *b == b'\n') {
                    let left = held.split_off(had + last + 1);
                    return Some(Piece::Lines(Cow::Owned(std::mem::replace(&mut held, left))));
                }
                if held.len() > LONGEST {
                    return Some(too_long(&mut volume, &mut held));
                }
            }
            let rest = std::mem::take(&mut held).len() as u64;
            (rest > 0).then_some(Piece::Rest(rest))
        })
    })
}

/// A line that is too long is counted and not kept; what stands after it is never asked for.
fn too_long<'a>(volume: &mut impl Read, held: &mut Vec<u8>) -> Piece<'a> {
    let mut length = held.len() as u64;
    loop {
        held.clear();
        match volume.by_ref().take(PIECE as u64).read_to_end(held) {
            Err(e) => return Piece::Failed(e.to_string()),
            Ok(0) => return Piece::Rest(length),
            Ok(_) => match held.iter().position(|b| *b == b'\n') {
                Some(end) => return Piece::Long(length + end as u64),
                None => length += held.len() as u64,
            },
        }
    }
}

/// The keys that acts are most likely signed with: those of the roster in force, as far as the lines were taken.
#[derive(Default)]
pub struct Persons {
    by_name: RwLock<(String, HashMap<String, PublicKey>)>,
}

impl Persons {
    /// From here on these are the people.
    pub fn are(&self, roster: &Roster) {
        if self.by_name.read().is_ok_and(|k| k.0 == roster.hash()) {
            return;
        }
        let keys = roster.persons.iter().flat_map(|p| &p.keys).map(|k| (k.key.fingerprint(), k.key.clone()));
        if let Ok(mut by_name) = self.by_name.write() {
            *by_name = (roster.hash().to_owned(), keys.collect());
        }
    }

    fn key(&self, name: &str) -> Option<PublicKey> {
        self.by_name.read().ok().and_then(|k| k.1.get(name).cloned())
    }
}

struct Job<'a> {
    bytes: Arc<Cow<'a, [u8]>>,
    before: Option<String>,
    done: SyncSender<Vec<Result<Line, Broken>>>,
}

/// Reads the lines of a piece, up to the first that is none, and tries their signatures.
fn read(bytes: &[u8], before: Option<&str>, persons: &Persons) -> Vec<Result<Line, Broken>> {
    let mut out = Vec::new();
    let mut seal = before.and_then(|hex| PublicKey::from_hex(hex).ok());
    for raw in bytes.split_inclusive(|b| *b == b'\n') {
        let read = Line::read(raw.strip_suffix(b"\n").unwrap_or(raw)).map(|mut line| {
            let person = line.act.as_ref().and_then(|a| persons.key(&a.key));
            line.prove(seal.as_ref(), person.as_ref());
            line
        });
        let good = read.as_ref().ok().map(|line| line.next.clone());
        let bad = good.is_none();
        seal = good;
        out.push(read);
        if bad {
            break;
        }
    }
    out
}

/// The key that the last line of a piece names for the next, as it stands there.
fn named(bytes: &[u8]) -> Option<String> {
    const NEXT: &[u8] = b",\"next\":\"";
    let whole = bytes.strip_suffix(b"\n")?;
    let start = whole.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
    let last = whole.get(start..)?;
    let at = last.windows(NEXT.len()).position(|w| w == NEXT)? + NEXT.len();
    std::str::from_utf8(last.get(at..at + 64)?).ok().map(str::to_owned)
}

/// Hands on every line in order, until told to stop. With threads they are read ahead; without, one by one.
pub fn pour<'a>(
    mut pieces: impl Iterator<Item = Piece<'a>>,
    threads: usize,
    persons: &Persons,
    take: &mut dyn FnMut(Came) -> ControlFlow<()>,
) -> ControlFlow<()> {
    let first: Vec<Piece<'a>> = pieces.by_ref().take(2).collect();
    // What fits into one piece is read sooner than anybody is called.
    let alone = first.iter().filter(|p| matches!(p, Piece::Lines(_))).count() < 2;
    let mut pieces = first.into_iter().chain(pieces);
    if alone || threads == 0 {
        return pieces.try_for_each(|piece| match piece {
            Piece::Lines(bytes) => {
                let mut lines = bytes.split_inclusive(|b| *b == b'\n');
                lines.try_for_each(|raw| take(Came::Line(Line::read(raw.strip_suffix(b"\n").unwrap_or(raw)))))
            }
            other => take(came(other)),
        });
    }
    std::thread::scope(|scope| {
        let (give, get) = sync_channel::<Job<'a>>(threads);
        let get = Arc::new(Mutex::new(get));
        for _ in 0..threads {
            let get = Arc::clone(&get);
            scope.spawn(move || {
                while let Some(job) = next_job(&get) {
                    let _ = job.done.send(read(&job.bytes, job.before.as_deref(), persons));
                }
            });
        }
        drop(get);
        in_order(&mut pieces, &give, 2 * threads + 1, persons, take)
    })
}

fn next_job<'a>(get: &Mutex<Receiver<Job<'a>>>) -> Option<Job<'a>> {
    get.lock().ok()?.recv().ok()
}

fn came(piece: Piece<'_>) -> Came {
    match piece {
        Piece::Long(length) => Came::Line(broken(
            "frame",
            format!("the line is {} bytes long, at most {LONGEST} are allowed", length + 1),
        )),
        Piece::Rest(length) => Came::Rest(length),
        Piece::Failed(why) => Came::Failed(why),
        Piece::Lines(_) => Came::Failed("lines are handed on one by one".into()),
    }
}

enum Waiting<'a> {
    Lines(Arc<Cow<'a, [u8]>>, Receiver<Vec<Result<Line, Broken>>>),
    Other(Came),
}

fn in_order<'a>(
    pieces: &mut dyn Iterator<Item = Piece<'a>>,
    give: &SyncSender<Job<'a>>,
    most: usize,
    persons: &Persons,
    take: &mut dyn FnMut(Came) -> ControlFlow<()>,
) -> ControlFlow<()> {
    let mut waiting: VecDeque<Waiting<'a>> = VecDeque::new();
    let mut before = None;
    let mut more = true;
    loop {
        while more && waiting.len() < most {
            match pieces.next() {
                None => more = false,
                Some(Piece::Lines(bytes)) => {
                    let bytes = Arc::new(bytes);
                    let (done, lines) = sync_channel(1);
                    let follows = named(&bytes);
                    let job = Job { bytes: Arc::clone(&bytes), before: before.take(), done };
                    before = follows;
                    // Where nobody takes it, it is read here when its turn comes.
                    let _ = give.send(job);
                    waiting.push_back(Waiting::Lines(bytes, lines));
                }
                Some(other) => waiting.push_back(Waiting::Other(came(other))),
            }
        }
        match waiting.pop_front() {
            None => return ControlFlow::Continue(()),
            Some(Waiting::Other(came)) => take(came)?,
            Some(Waiting::Lines(bytes, lines)) => {
                let lines = lines.recv().unwrap_or_else(|_| read(&bytes, None, persons));
                lines.into_iter().try_for_each(|line| take(Came::Line(line)))?;
            }
        }
    }
}
