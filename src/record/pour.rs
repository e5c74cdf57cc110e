//! A register's lines, read by several at once and handed on one by one.
//!
//! In: pieces of whole lines, in order. Out: each line, or why it is none, in the order of the bytes: what one reader alone
//! would say, whoever read it. Signatures are tried ahead with the keys that are most likely asked for ([`Line::prove`]);
//! whoever takes the lines asks for the right ones. Always: only so many pieces are at hand at once, however long the
//! register is. Not here: what one line means to the next (`chain`), files (`disk`).

use super::line::{Broken, LONGEST, Line, too_long};
use crate::tongue::Tongue;
use crate::trust::{PublicKey, Roster};
use std::borrow::Cow;
use std::collections::{HashMap, VecDeque};
use std::io::Read;
use std::ops::ControlFlow;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, RwLock};

/// Bytes that one reader gets at a time, and the rest of their last line.
pub const PIECE: usize = 64 * 1024;
/// Bytes of pieces that may be at hand at once, but for one piece: read, they are several times as much.
const AT_HAND: usize = 2 * 1024 * 1024;

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

/// What stands where a line should.
pub enum Else {
    /// No line, and why it is none.
    Broken(Broken),
    /// So many bytes after the last line of a volume.
    Rest(u64),
    /// Nothing can be said of what follows.
    Failed(String),
}

/// As many as can read at once.
pub fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// What comes of a piece, line by line.
pub type Came = Result<Line, Else>;

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
                    return Some(counted(&mut volume, &mut held));
                }
            }
            let rest = std::mem::take(&mut held).len() as u64;
            (rest > 0).then_some(Piece::Rest(rest))
        })
    })
}

/// A line that is too long is counted and not kept; what stands after it is never asked for.
fn counted<'a>(volume: &mut impl Read, held: &mut Vec<u8>) -> Piece<'a> {
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
    /// Seals are not tried ahead: whoever takes the lines knows of them.
    no_seals: bool,
}

impl Persons {
    /// The same where seals are not to be tried ahead.
    pub fn without_seals() -> Persons {
        Persons { no_seals: true, ..Persons::default() }
    }

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

/// A line with its LF.
fn one(raw: &[u8]) -> Result<Line, Broken> {
    Line::read(raw.strip_suffix(b"\n").unwrap_or(raw))
}

struct Job<'a> {
    bytes: Arc<Cow<'a, [u8]>>,
    before: Option<String>,
    done: SyncSender<Vec<Result<Line, Broken>>>,
}

/// Reads the lines of a piece, up to the first that is none, and tries their signatures.
fn read(bytes: &[u8], before: Option<&str>, persons: &Persons) -> Vec<Result<Line, Broken>> {
    let mut out = Vec::new();
    let mut seal = before.filter(|_| !persons.no_seals).and_then(|hex| PublicKey::from_hex(hex).ok());
    for raw in bytes.split_inclusive(|b| *b == b'\n') {
        let read = one(raw).map(|mut line| {
            let person = line.act.as_ref().and_then(|a| persons.key(&a.key));
            line.prove(seal.as_ref(), person.as_ref());
            line
        });
        let bad = read.is_err();
        seal = read.as_ref().ok().filter(|_| !persons.no_seals).map(|line| line.next.clone());
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
        return pieces.try_for_each(|piece| match lines_of(piece) {
            Ok(bytes) => {
                let mut lines = bytes.split_inclusive(|b| *b == b'\n');
                lines.try_for_each(|raw| take(one(raw).map_err(Else::Broken)))
            }
            Err(other) => take(Err(other)),
        });
    }
    std::thread::scope(|scope| {
        let (give, get) = sync_channel::<Job<'a>>(threads);
        let get = Arc::new(Mutex::new(get));
        for _ in 0..threads {
            let get = Arc::clone(&get);
            // Why a line is none is said in the language of whoever asked.
            let tongue = Tongue::now();
            scope.spawn(move || {
                tongue.within(|| {
                    while let Some(job) = next_job(&get) {
                        let _ = job.done.send(read(&job.bytes, job.before.as_deref(), persons));
                    }
                });
            });
        }
        drop(get);
        in_order(&mut pieces, &give, 2 * threads + 1, persons, take)
    })
}

fn next_job<'a>(get: &Mutex<Receiver<Job<'a>>>) -> Option<Job<'a>> {
    get.lock().ok()?.recv().ok()
}

fn lines_of(piece: Piece<'_>) -> Result<Cow<'_, [u8]>, Else> {
    match piece {
        Piece::Lines(bytes) => Ok(bytes),
        Piece::Long(length) => Err(Else::Broken(too_long(length + 1))),
        Piece::Rest(length) => Err(Else::Rest(length)),
        Piece::Failed(why) => Err(Else::Failed(why)),
    }
}

enum Waiting<'a> {
    Lines(Arc<Cow<'a, [u8]>>, Receiver<Vec<Result<Line, Broken>>>),
    Other(Else),
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
    let mut at_hand = 0;
    loop {
        while more && waiting.len() < most && (at_hand < AT_HAND || waiting.is_empty()) {
            match pieces.next().map(lines_of) {
                None => more = false,
                Some(Ok(bytes)) => {
                    at_hand += bytes.len();
                    let bytes = Arc::new(bytes);
                    let (done, lines) = sync_channel(1);
                    let follows = named(&bytes);
                    let job = Job { bytes: Arc::clone(&bytes), before: before.take(), done };
                    before = follows;
                    // Where nobody takes it, it is read here when its turn comes.
                    let _ = give.send(job);
                    waiting.push_back(Waiting::Lines(bytes, lines));
                }
                Some(Err(other)) => waiting.push_back(Waiting::Other(other)),
            }
        }
        match waiting.pop_front() {
            None => return ControlFlow::Continue(()),
            Some(Waiting::Other(other)) => take(Err(other))?,
            Some(Waiting::Lines(bytes, lines)) => {
                at_hand = at_hand.saturating_sub(bytes.len());
                let lines = lines.recv().unwrap_or_else(|_| read(&bytes, None, persons));
                lines.into_iter().try_for_each(|line| take(line.map_err(Else::Broken)))?;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A file that gives a few bytes at a time.
    struct Slow<'a>(&'a [u8], usize);

    impl Read for Slow<'_> {
        fn read(&mut self, buf: &mut [u8]) -> std::io::Result<usize> {
            let n = self.1.min(buf.len()).min(self.0.len());
            buf[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    /// What is handed on until something is no line: here nothing is one, so that every reason tells its bytes.
    fn said<'a>(pieces: impl Iterator<Item = Piece<'a>>) -> Vec<String> {
        let mut out = Vec::new();
        for piece in pieces {
            match piece {
                Piece::Lines(bytes) => {
                    assert_eq!(bytes.last(), Some(&b'\n'));
                    out.extend(bytes.split_inclusive(|b| *b == b'\n').map(|l| match l.len() {
                        n if n > LONGEST => format!("long {}", n - 1),
                        _ => String::from_utf8(l.to_vec()).unwrap(),
                    }));
                }
                Piece::Long(n) => {
                    out.push(format!("long {n}"));
                    return out;
                }
                Piece::Rest(n) => out.push(format!("rest {n}")),
                Piece::Failed(why) => out.push(why),
            }
        }
        out
    }

    /// Peer: the same bytes in memory.
    #[test]
    fn files_in_pieces_are_their_bytes() {
        let first = "a\nbb\n\nccc\n".as_bytes();
        let whole: Vec<u8> =
            (0..200).flat_map(|n| format!("{}\n", "x".repeat(n % 37)).into_bytes()).collect();
        let tail = [whole.as_slice(), b"cut short"].concat();
        for volumes in [vec![], vec![first], vec![b"".as_slice()], vec![first, &whole], vec![&whole, &tail]] {
            for (piece, at_once) in [(1, 1), (7, 3), (64, 5), (64, 1000), (PIECE, 4096)] {
                let readers = of_readers(volumes.iter().map(|v| Slow(v, at_once)), piece);
                assert_eq!(said(readers), said(of_bytes(&volumes, piece)), "{piece} {at_once}");
            }
        }
    }

    #[test]
    fn a_line_that_is_too_long_is_counted_and_not_kept() {
        let mut long = vec![b'x'; LONGEST + 3 * PIECE + 17];
        let pieces = |bytes: &[u8]| said(of_readers(std::iter::once(Slow(bytes, PIECE)), PIECE));
        assert_eq!(pieces(&long), [format!("rest {}", long.len())]);
        let length = long.len();
        long.extend_from_slice(b"\nafter\n");
        assert_eq!(pieces(&long), [format!("long {length}")]);
        assert_eq!(said(of_bytes(&[&long], PIECE))[0], format!("long {length}"));
    }

    #[test]
    fn a_file_that_can_be_read_no_further_says_so_after_its_lines() {
        struct Fails(bool);
        impl Read for Fails {
            fn read(&mut self, buf: &mut [u8]) -> std::io::Result<usize> {
                if std::mem::replace(&mut self.0, true) {
                    return Err(std::io::Error::other("the card is gone"));
                }
                buf[..5].copy_from_slice(b"one\nt");
                Ok(5)
            }
        }
        assert_eq!(said(of_readers(std::iter::once(Fails(false)), 5)), ["one\n", "the card is gone"]);
    }
}
