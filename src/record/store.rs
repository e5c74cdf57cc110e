//! The register on a storage: opening after any crash, and appending so that no acknowledged line is
//! ever lost or altered.
//!
//! Two folders: the register (`0001.jsonl`, `0002.jsonl` ...: its volumes) and the seal (`key`, the seed of
//! the key that seals the next line; `next`, the one after, while an append is under way). Only the last
//! volume is ever written. The caller holds the lock.
//!
//! Append: 1 the caller has read, folded and decided · 2 write `next`, flush it and its folder ·
//! 3 append with one write, check the count, flush (new file: its folder) · 4 rename `next` to `key`,
//! flush the folder · 5 only now is it done; the note of seals that were tried (`known`) follows. A seal key never stands under two texts with a whole seal.
//! The opening table is [`look`]; what it says is done by [`open`].

use super::aside::with_room;
use super::chain::Chain;
use super::json::{Json, object};
use super::known::{Note, Sums};
use super::line::{self, Broken, Draft, Line, Slot, What};
use super::pour::{self, Else, Persons};
use super::volumes::{self, Volume};
use crate::time::Moment;
use crate::tongue::say;
use crate::trust::{PublicKey, SecretKey, Signer};
use crate::view::LineNo;
use crate::world::{Random, Storage, StorageError};
use serde::{Deserialize, Serialize};
use std::cell::RefCell;
use std::ops::ControlFlow;
use zeroize::Zeroizing;

/// The first volume of a register.
pub const VOLUME: &str = "0001.jsonl";
const KEY: &str = "key";
const NEXT: &str = "next";

/// Why a register could not be opened or written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Problem {
    /// A line breaks a rule: nothing is written to such a register.
    Broken {
        /// The line.
        at: LineNo,
        /// The rule.
        broken: Broken,
    },
    /// It cannot be done here and now; in words, with what to do.
    CouldNot(String),
}

impl From<StorageError> for Problem {
    fn from(e: StorageError) -> Problem {
        Problem::CouldNot(e.why)
    }
}

/// An open register: every line checked.
#[derive(Clone, Debug)]
pub struct Register {
    /// What the next line must match.
    pub chain: Chain,
    /// Every line of every volume; where it was gone on with, those since.
    pub lines: Vec<Line>,
    file: String,
    length: u64,
    /// None where it was gone on with: the bytes before were not read.
    sums: Option<Sums>,
}

/// Where the last line of a register stood when its chain was kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// Files of its volumes; the last is the one that is written.
    pub volumes: Vec<String>,
    /// Offset of the last line in it.
    pub begins: u64,
    /// Offset of its end.
    pub ends: u64,
}

/// What opening found.
#[derive(Debug)]
pub enum Opened {
    /// The last volume has no line 0 yet: it waits for `enrol`. The volumes before it, if there are any.
    Empty(Option<Box<Register>>),
    /// Ready.
    Ready(Box<Register>),
    /// Whole, but this machine does not hold the key of the next line: an older folder, or another
    /// machine's. Only a new volume goes on from here.
    Elsewhere(Box<Register>),
}

/// The keys in the seal folder.
#[derive(Debug)]
struct Keys {
    key: Option<SecretKey>,
    next: Option<SecretKey>,
}

impl Keys {
    fn read(seal: &dyn Storage) -> Result<Keys, Problem> {
        let one = |name: &str| -> Result<Option<SecretKey>, Problem> {
            let bytes = seal.read(name)?.map(Zeroizing::new);
            Ok(bytes.and_then(|b| seed(&b)).map(|s| SecretKey::from_seed(&s)))
        };
        Ok(Keys { key: one(KEY)?, next: one(NEXT)? })
    }

    fn any(&self) -> bool {
        self.key.is_some() || self.next.is_some()
    }

    fn is_key(&self, public: &PublicKey) -> bool {
        self.key.as_ref().is_some_and(|k| k.public() == *public)
    }

    fn is_next(&self, public: &PublicKey) -> bool {
        self.next.as_ref().is_some_and(|k| k.public() == *public)
    }
}

fn seed(bytes: &[u8]) -> Option<Zeroizing<[u8; 32]>> {
    let hex = bytes.strip_suffix(b"\n")?;
    let raw = Zeroizing::new(data_encoding::HEXLOWER.decode(hex).ok()?);
    Some(Zeroizing::new(raw.as_slice().try_into().ok()?))
}

fn put_seed(seal: &mut dyn Storage, name: &str, key: &SecretKey) -> Result<(), Problem> {
    let hex = Zeroizing::new(format!("{}\n", data_encoding::HEXLOWER.encode(key.seed().as_slice())));
    seal.write(name, hex.as_bytes())?;
    seal.flush(name)?;
    seal.flush_folder()?;
    Ok(())
}

/// A new random key.
pub fn new_key(random: &mut dyn Random) -> Result<SecretKey, Problem> {
    let mut seed = Zeroizing::new([0u8; 32]);
    random.fill(seed.as_mut_slice()).map_err(Problem::CouldNot)?;
    Ok(SecretKey::from_seed(&seed))
}

/// The lines of a volume as far as they are whole and check, and what stands after them.
#[derive(Debug)]
pub struct Scan {
    /// The chain after the last good line; `None` if no good line stands here or before.
    pub chain: Option<Chain>,
    /// The good lines of this volume.
    pub lines: Vec<Line>,
    /// Offset of the end of the last good line.
    pub end: usize,
    /// Why the first bad whole line is bad, if a whole line stands there.
    pub bad: Option<Broken>,
    /// A well-formed line stands after the bad one.
    pub good_after_bad: bool,
}

/// Reads the bytes of a first volume line by line through the chain.
pub fn scan(bytes: &[u8]) -> Scan {
    scan_after(None, bytes)
}

/// A first volume as far as it was checked: its lines, which hold its bytes.
struct Checked {
    chain: Chain,
    lines: Vec<Line>,
}

impl Checked {
    /// How many bytes, if these begin with the very same.
    fn begins(&self, bytes: &[u8]) -> Option<usize> {
        let mut end = 0;
        for line in &self.lines {
            let rest = bytes.get(end..)?.strip_prefix(line.raw.as_slice())?;
            if rest.first() != Some(&b'\n') {
                return None;
            }
            end += line.raw.len() + 1;
        }
        Some(end)
    }
}

thread_local! {
    /// The last first volume that was checked here, so that a walk does not check every line anew at each step. Only the
    /// very same bytes count as checked.
    static CHECKED: RefCell<Option<Checked>> = const { RefCell::new(None) };
}

/// The same, going on after lines already checked.
pub fn scan_after(chain: Option<Chain>, bytes: &[u8]) -> Scan {
    scan_known(chain, bytes, 0)
}

/// The same, where the seals of the first so many bytes were tried already and were good.
fn scan_known(chain: Option<Chain>, bytes: &[u8], sealed: usize) -> Scan {
    let first = chain.is_none();
    let mut out = Scan { chain, lines: Vec::new(), end: 0, bad: None, good_after_bad: false };
    if first {
        CHECKED.with_borrow(|checked| {
            if let Some((c, end)) = checked.as_ref().and_then(|c| Some((c, c.begins(bytes)?))) {
                (out.chain, out.lines, out.end) = (Some(c.chain.clone()), c.lines.clone(), end);
            }
        });
    }
    let known = out.end;
    if sealed > out.end {
        scan_on(&mut out, bytes.get(..sealed).unwrap_or_default(), true);
    }
    if out.bad.is_none() {
        scan_on(&mut out, bytes, false);
    }
    // What follows the first bad line is only looked at.
    let rest = bytes.get(out.end..).unwrap_or_default().split_inclusive(|b| *b == b'\n').skip(1);
    let good = |raw: &[u8]| raw.strip_suffix(b"\n").is_some_and(|raw| Line::read(raw).is_ok());
    out.good_after_bad = out.bad.is_some() && rest.into_iter().any(good);
    if let Some(chain) = out.chain.as_ref().filter(|_| first && out.end > known) {
        CHECKED.set(Some(Checked { chain: chain.clone(), lines: out.lines.clone() }));
    }
    out
}

/// Goes on to the end of these bytes or to the first line that is bad; `sealed`: their seals were tried and were good.
fn scan_on(out: &mut Scan, bytes: &[u8], sealed: bool) {
    let rest = bytes.get(out.end..).unwrap_or_default();
    let persons = if sealed { Persons::without_seals() } else { Persons::default() };
    if let Some(chain) = &out.chain {
        persons.are(&chain.origin.roster);
    }
    let _ = pour::pour(pour::of_bytes(&[rest], pour::PIECE), pour::threads(), &persons, &mut |came| {
        let checked = match came {
            Ok(line) => take(out, line, sealed),
            Err(Else::Broken(broken)) => Err(broken),
            // Bytes after the last line are the opening table's.
            Err(Else::Rest(_)) => return ControlFlow::Break(()),
            Err(Else::Failed(why)) => line::broken(line::OTHER_VERSION, why),
        };
        if let Err(broken) = checked {
            out.bad = Some(broken);
            return ControlFlow::Break(());
        }
        if let Some(chain) = &out.chain {
            persons.are(&chain.origin.roster);
        }
        ControlFlow::Continue(())
    });
}

fn take(out: &mut Scan, mut line: Line, sealed: bool) -> Result<(), Broken> {
    let begins = line.kind.name == "enrol";
    if out.lines.is_empty() != begins {
        return line::broken("seq", say!("a volume's file begins with its line 0 and holds no other"));
    }
    match &mut out.chain {
        None => out.chain = Some(Chain::first(&line)?),
        Some(chain) => {
            if sealed && !begins {
                line.was_sealed_by(&chain.next);
            }
            chain.next(&line)?;
        }
    }
    out.end += line.raw.len() + 1;
    out.lines.push(line);
    Ok(())
}

/// What has to be done to open.
#[derive(Debug, PartialEq, Eq)]
enum Row {
    Idle,
    Complete { missing: Vec<u8> },
    NeverAcknowledged,
    Written,
    WaitsForEnrol { cut: bool },
    Broken,
    OlderOrElsewhere,
}

/// The opening table.
fn look(scan: &Scan, rest: &[u8], keys: &Keys) -> Row {
    if scan.good_after_bad {
        return Row::Broken;
    }
    let Some(chain) = scan.chain.as_ref().filter(|_| !scan.lines.is_empty()) else {
        return match complete(scan, rest, keys) {
            Some(missing) => Row::Complete { missing },
            None => Row::WaitsForEnrol { cut: !rest.is_empty() },
        };
    };
    match (keys.is_key(&chain.next), keys.is_next(&chain.next), rest.is_empty()) {
        (true, _, true) => Row::Idle,
        (true, _, false) => match complete(scan, rest, keys) {
            Some(missing) => Row::Complete { missing },
            None => Row::NeverAcknowledged,
        },
        (false, true, true) => Row::Written,
        (false, true, false) | (false, false, false) => Row::Broken,
        (false, false, true) => Row::OlderOrElsewhere,
    }
}

/// The bytes that make `rest` a whole good line sealed by `key` and naming `next`, if at most the
/// last three are missing.
fn complete(scan: &Scan, rest: &[u8], keys: &Keys) -> Option<Vec<u8>> {
    const END: &[u8] = b"\"}\n";
    if rest.is_empty() || rest.contains(&b'\n') {
        return None;
    }
    (0..=2).find_map(|have| {
        let missing = &END[have..];
        let mut whole = rest.to_vec();
        whole.extend_from_slice(missing.strip_suffix(b"\n")?);
        let line = Line::read(&whole).ok()?;
        let checks = match &scan.chain {
            Some(chain) => chain.check(&line),
            None => Chain::first(&line).map(|_| ()),
        };
        // A line that is not the first of its volume is sealed by the key that the line before names: ours.
        let ours = !scan.lines.is_empty() || names_our_seal(&line, keys);
        let good = checks.is_ok() && ours;
        (good && keys.is_next(&line.next)).then(|| missing.to_vec())
    })
}

fn names_our_seal(line: &Line, keys: &Keys) -> bool {
    PublicKey::from_hex(line.data.text("seal").unwrap_or_default()).is_ok_and(|k| keys.is_key(&k))
}

/// Lines and chain of volumes that are not written any more: each must be whole.
fn earlier(volumes: &[Volume], note: &Note) -> Result<(Option<Chain>, Vec<Line>, Sums), Problem> {
    let mut chain = None;
    let mut lines = Vec::new();
    let mut sums = Sums::default();
    for (n, volume) in (1..).zip(volumes) {
        let sealed = sums.begin_noted(volume, note);
        let mut scan = scan_known(chain.take(), &volume.bytes, sealed);
        sums.end(&volume.bytes, scan.end);
        let at = LineNo { volume: n, line: scan.lines.len() as u64 };
        let rest = scan.end < volume.bytes.len() || scan.lines.is_empty();
        let tail = || Broken {
            rule: "tail",
            why: say!("{file} ends in bytes that are no line", file = volume.name),
        };
        if let Some(broken) = scan.bad.take().or_else(|| rest.then(tail)) {
            return Err(not_read(at, broken));
        }
        chain = scan.chain;
        lines.append(&mut scan.lines);
    }
    Ok((chain, lines, sums))
}

/// A line of another version is not broken: this program cannot read it.
fn not_read(at: LineNo, broken: Broken) -> Problem {
    if broken.rule == line::OTHER_VERSION {
        Problem::CouldNot(say!("line {at}: {why}", at, why = broken.why))
    } else {
        Problem::Broken { at, broken }
    }
}

/// Opens the register, completing or cutting what a crash left. Writes nothing to a broken one.
pub fn open(
    register: &mut dyn Storage,
    seal: &mut dyn Storage,
    now: &Moment,
    random: &mut dyn Random,
) -> Result<Opened, Problem> {
    let mut volumes = volumes::read(register)?;
    let last = volumes.pop().unwrap_or_else(|| Volume { name: VOLUME.to_owned(), bytes: Vec::new() });
    let note = Note::read(seal);
    let (chain, lines, mut sums) = earlier(&volumes, &note)?;
    let number = volumes.len() as u32 + 1;
    let sealed = sums.begin_noted(&last, &note);
    let Volume { name: file, bytes } = last;
    let scan = scan_known(chain, &bytes, sealed);
    sums.end(&bytes, scan.end);
    let at = LineNo { volume: number, line: scan.lines.len() as u64 };
    if let Some(bad) = scan.bad.as_ref().filter(|b| b.rule == line::OTHER_VERSION) {
        return Err(not_read(at, bad.clone()));
    }
    let rest = bytes.get(scan.end..).unwrap_or_default().to_vec();
    let keys = Keys::read(seal)?;
    match look(&scan, &rest, &keys) {
        Row::Idle => {
            drop_next(seal)?;
            ready(scan, lines, file, sums)
        }
        Row::Written => {
            if let Some(last) = scan.lines.last() {
                let start = scan.end - last.raw.len() - 1;
                let mut whole = last.raw.clone();
                whole.push(b'\n');
                register.write_at(&file, start as u64, &whole)?;
                register.flush(&file)?;
                register.flush_folder()?;
            }
            move_key_on(seal)?;
            ready(scan, lines, file, sums)
        }
        Row::Complete { missing } => {
            let went_in = register.append(&file, &missing)?;
            if went_in != missing.len() {
                return Err(Problem::CouldNot(
                    say!("the end of the last line could not be written; try again").into(),
                ));
            }
            register.flush(&file)?;
            register.flush_folder()?;
            open(register, seal, now, random)
        }
        Row::NeverAcknowledged => {
            set_aside(register, &file, &rest, scan.end)?;
            drop_next(seal)?;
            let Opened::Ready(mut opened) = ready(scan, lines, file, sums)? else {
                return Ok(Opened::Empty(None));
            };
            let draft = Draft {
                kind: "recovery",
                permit: None,
                by: None,
                what: What::Data(object([
                    ("hash", line::hash(&rest).into()),
                    ("length", Json::Int(rest.len() as u64)),
                ])),
            };
            opened.append(register, seal, &draft, now, random)?;
            Ok(Opened::Ready(opened))
        }
        Row::WaitsForEnrol { cut } => {
            if cut {
                set_aside(register, &file, &rest, 0)?;
            }
            drop_next(seal)?;
            Ok(Opened::Empty(match ready(scan, lines, file, sums)? {
                Opened::Ready(before) | Opened::Elsewhere(before) => Some(before),
                Opened::Empty(_) => None,
            }))
        }
        Row::Broken => {
            let broken = scan.bad.unwrap_or(Broken {
                rule: "tail",
                why: say!("bytes stand after the last whole line that no interrupted append here explains")
                    .into(),
            });
            Err(Problem::Broken { at, broken })
        }
        Row::OlderOrElsewhere => match ready(scan, lines, file, sums)? {
            Opened::Ready(register) => Ok(Opened::Elsewhere(register)),
            other @ (Opened::Empty(_) | Opened::Elsewhere(_)) => Ok(other),
        },
    }
}

/// Goes on with a register whose chain was kept: reads the line at that place, which must be the chain's last one, and those
/// after it. `None` where anything is otherwise than after an entry that went well: then everything is read.
pub fn go_on(register: &dyn Storage, seal: &dyn Storage, place: &Place, chain: Chain) -> Option<Register> {
    let out = after(register, place, chain)?;
    let keys = Keys::read(seal).ok()?;
    (keys.is_key(&out.chain.next) && keys.next.is_none()).then_some(out)
}

/// The same for looking: whoever holds the key.
pub fn after(register: &dyn Storage, place: &Place, chain: Chain) -> Option<Register> {
    if volumes::names(register).ok()? != place.volumes {
        return None;
    }
    let file = place.volumes.last()?.clone();
    let bytes = register.read_from(&file, place.begins).ok()??;
    let (last, mut rest) = bytes.split_at_checked(usize::try_from(place.ends - place.begins).ok()?)?;
    if line::hash(last.strip_suffix(b"\n")?) != chain.head {
        return None;
    }
    let mut out = Register { chain, lines: Vec::new(), file, length: place.ends, sums: None };
    while let Some(length) = rest.iter().position(|b| *b == b'\n') {
        let (raw, tail) = rest.split_at(length);
        let line = Line::read(raw).ok().filter(|l| l.kind.name != "enrol")?;
        out.chain.next(&line).ok()?;
        out.lines.push(line);
        out.length += length as u64 + 1;
        rest = tail.get(1..)?;
    }
    rest.is_empty().then_some(out)
}

/// Why a register that is [`Opened::Elsewhere`] cannot be written.
pub fn elsewhere(register: &Register) -> Problem {
    Problem::CouldNot(say!(
        "this machine does not hold the key for the next line: the seal folder is missing, older than the last line \
         ({line}, {hash}), or another machine's (is --seal right?). The register can be read and verified, but not \
         continued; where the newest copy of it stands, an enroller begins its next volume with `airwrit enrol \
         --next-volume`",
        line = register.chain.seq,
        hash = register.chain.time
    ))
}

fn ready(mut scan: Scan, mut lines: Vec<Line>, file: String, sums: Sums) -> Result<Opened, Problem> {
    match scan.chain {
        None => Ok(Opened::Empty(None)),
        Some(chain) => {
            lines.append(&mut scan.lines);
            let (length, sums) = (scan.end as u64, Some(sums));
            Ok(Opened::Ready(Box::new(Register { chain, lines, file, length, sums })))
        }
    }
}

fn drop_next(seal: &mut dyn Storage) -> Result<(), Problem> {
    if seal.read(NEXT)?.is_some() {
        seal.remove(NEXT)?;
        seal.flush_folder()?;
    }
    Ok(())
}

/// Copies bytes that were never acknowledged aside, durably, and only then cuts them off.
fn set_aside(register: &mut dyn Storage, file: &str, rest: &[u8], end: usize) -> Result<(), Problem> {
    let digest = line::hash(rest);
    let name = format!("cut-{}.bin", &digest[..16]);
    with_room(register, &mut |register| {
        register.write(&name, rest)?;
        register.flush(&name)?;
        register.flush_folder()
    })?;
    register.truncate(file, end as u64)?;
    register.flush(file)?;
    Ok(())
}

/// Whether the seal keys at hand fit neither the next line nor, where a step was not ended, the one after: this is an older
/// copy of the register, or its end is cut off. Without any key it cannot be told.
pub fn is_older(seal: &dyn Storage, chain: &Chain) -> bool {
    match Keys::read(seal) {
        Ok(keys) if keys.any() => !keys.is_key(&chain.next) && !keys.is_next(&chain.next),
        Ok(_) | Err(_) => false,
    }
}

/// True if a key stands in the seal's folder. Where no interrupted beginning of a volume explains it, it
/// may be that of another register, which could never be written again without it.
pub fn holds_a_key(seal: &dyn Storage) -> Result<bool, Problem> {
    Ok(seal.list()?.iter().any(|n| n == KEY || n == NEXT))
}

/// Makes the seal key that line 0 will name and keeps it; returns its public key.
pub fn prepare_enrol(seal: &mut dyn Storage, random: &mut dyn Random) -> Result<PublicKey, Problem> {
    let key = new_key(random)?;
    put_seed(seal, KEY, &key)?;
    Ok(key.public())
}

/// Begins a volume with line 0: the first one, or the one after those that stand here.
#[allow(clippy::too_many_arguments, reason = "the outside is four of them")]
pub fn enrol(
    register: &mut dyn Storage,
    seal: &mut dyn Storage,
    before: Option<Register>,
    log: &str,
    act: What,
    roster_hash: &str,
    now: &Moment,
    random: &mut dyn Random,
) -> Result<Register, Problem> {
    let draft = Draft { kind: "enrol", permit: None, by: None, what: act };
    let earliest = before.as_ref().map(|b| b.chain.time.clone()).unwrap_or_default();
    let slot = Slot {
        log: log.to_owned(),
        seq: 0,
        prev: line::NONE.to_owned(),
        time: now.time.clone().max(earliest),
        zone: now.zone.clone(),
        next: String::new(),
        roster: roster_hash.to_owned(),
    };
    let file = match volumes::names(register)?.pop() {
        None => VOLUME.to_owned(),
        // A volume was begun and has no whole line: it is begun again.
        Some(last) if register.read(&last)?.is_some_and(|b| b.is_empty()) => last,
        Some(last) => volumes::name(volumes::number(&last).unwrap_or(0) + 1),
    };
    let check = &mut |line: &Line| match &before {
        Some(b) => b.chain.check(line),
        None => Chain::first(line).map(|_| ()),
    };
    let line = write_line(register, seal, &draft, slot, (&file, 0), random, check).inspect_err(|_| {
        // Nothing was begun: the key made for it is good for nothing, and would only be in the way.
        if register.list().is_ok_and(|names| !names.contains(&file)) {
            let _ = seal.remove(NEXT).and_then(|()| seal.remove(KEY)).and_then(|()| seal.flush_folder());
        }
    })?;
    let (chain, mut lines, mut sums) = match before {
        Some(Register { mut chain, lines, sums, .. }) => {
            let sums = sums.unwrap_or_default();
            let volume = chain.origin.volume + 1;
            chain.next(&line).map_err(|broken| Problem::Broken { at: LineNo { volume, line: 0 }, broken })?;
            (chain, lines, sums)
        }
        None => {
            let first = Chain::first(&line);
            let at = LineNo { volume: 1, line: 0 };
            (first.map_err(|broken| Problem::Broken { at, broken })?, Vec::new(), Sums::default())
        }
    };
    let length = line.raw.len() as u64 + 1;
    sums.begin(&file);
    sums.grow(&line.raw);
    sums.grow(b"\n");
    lines.push(line);
    Ok(Register { chain, lines, file, length, sums: Some(sums) })
}

/// Steps 2 to 4. The line is checked as the next one before anything is written.
fn write_line(
    register: &mut dyn Storage,
    seal: &mut dyn Storage,
    draft: &Draft,
    mut slot: Slot,
    (file, length): (&str, u64),
    random: &mut dyn Random,
    check: &mut dyn FnMut(&Line) -> Result<(), Broken>,
) -> Result<Line, Problem> {
    let keys = Keys::read(seal)?;
    let Some(key) = keys.key else {
        return Err(Problem::CouldNot(
            say!("the seal key is missing: this machine cannot write this register").into(),
        ));
    };
    let next = new_key(random)?;
    slot.next = next.public().to_hex();
    let raw = line::make(draft, &slot, &key).map_err(Problem::CouldNot)?;
    let line = Line::read(&raw).and_then(|line| check(&line).map(|()| line)).map_err(|b| {
        Problem::CouldNot(say!("the line would break the rule `{rule}`: {why}", rule = b.rule, why = b.why))
    })?;
    put_seed(seal, NEXT, &next)?;
    let mut bytes = raw;
    bytes.push(b'\n');
    let went_in = register.append(file, &bytes);
    if went_in != Ok(bytes.len()) {
        return Err(short_write(register, seal, (file, length), bytes.len()));
    }
    register.flush(file)?;
    if slot.seq == 0 {
        register.flush_folder()?;
    }
    move_key_on(seal)?;
    Ok(line)
}

/// Step 4: the old key is overwritten (best effort on flash: see README) and `next` takes its name.
fn move_key_on(seal: &mut dyn Storage) -> Result<(), Problem> {
    if let Some(old) = seal.read(KEY)?.map(Zeroizing::new) {
        seal.write_at(KEY, 0, &vec![b'0'; old.len()])?;
        seal.flush(KEY)?;
    }
    seal.rename(NEXT, KEY)?;
    seal.flush_folder()?;
    Ok(())
}

/// A write that went in only in part. If the whole seal is in the file, the line stands (the next
/// opening completes it) and both keys are kept; else it is cut back.
fn short_write(
    register: &mut dyn Storage,
    seal: &mut dyn Storage,
    (file, length): (&str, u64),
    wanted: usize,
) -> Problem {
    let could_not = |why: &str| Problem::CouldNot(say!("the register could not be written: {why}", why));
    let Ok(have) = register.read(file) else {
        return could_not(say!("and it cannot be read either; nothing more is tried"));
    };
    let extra = (have.map_or(0, |b| b.len() as u64)).saturating_sub(length);
    if extra + 3 >= wanted as u64 {
        return could_not(say!("the line is in it but for its end; open the register again to complete it"));
    }
    let cut = register.truncate(file, length).and_then(|()| register.flush(file));
    match cut {
        Ok(()) => {
            // If `next` stays behind, the next opening drops it.
            let _ = seal.remove(NEXT).and_then(|()| seal.flush_folder());
            could_not(say!("is the disk full? Nothing was kept of this entry"))
        }
        Err(e) => could_not(&say!("and the part that went in could not be cut off: {why}", why = e)),
    }
}

impl Register {
    /// Appends one line. When this returns `Ok`, the line is on disk and its seal key is gone.
    pub fn append(
        &mut self,
        register: &mut dyn Storage,
        seal: &mut dyn Storage,
        draft: &Draft,
        now: &Moment,
        random: &mut dyn Random,
    ) -> Result<&Line, Problem> {
        self.append_if(register, seal, draft, now, random, &mut |_| Ok(()))
    }

    /// The same, if the fold accepts the line too: nothing is written that could not be read again.
    pub fn append_if(
        &mut self,
        register: &mut dyn Storage,
        seal: &mut dyn Storage,
        draft: &Draft,
        now: &Moment,
        random: &mut dyn Random,
        accepts: &mut dyn FnMut(&Line) -> Result<(), Broken>,
    ) -> Result<&Line, Problem> {
        let (chain, slot) = (&self.chain, self.slot(draft, now));
        let place = (self.file.as_str(), self.length);
        let line = write_line(register, seal, draft, slot, place, random, &mut |line| {
            chain.check(line).and_then(|_| accepts(line))
        })?;
        self.length += line.raw.len() as u64 + 1;
        if let Err(broken) = self.chain.next(&line) {
            let at = LineNo { volume: self.chain.origin.volume, line: line.seq };
            return Err(Problem::Broken { at, broken });
        }
        if let Some(sums) = &mut self.sums {
            sums.grow(&line.raw);
            sums.grow(b"\n");
            sums.leave(seal);
        }
        self.lines.push(line);
        self.lines
            .last()
            .ok_or_else(|| Problem::CouldNot(say!("the line just kept is gone from memory").into()))
    }

    /// Takes in the next line, which another hand of this station wrote; false where it is not the next one.
    pub fn came(&mut self, line: &Line) -> bool {
        if self.chain.next(line).is_err() {
            return false;
        }
        self.length += line.raw.len() as u64 + 1;
        self.sums = None;
        self.lines.push(line.clone());
        true
    }

    /// Where the last line stands, of so many bytes without its LF.
    pub fn place(&self, register: &dyn Storage, bytes: usize) -> Option<Place> {
        let volumes = volumes::names(register).ok()?;
        let begins = self.length.checked_sub(bytes as u64 + 1)?;
        (volumes.last() == Some(&self.file)).then_some(Place { volumes, begins, ends: self.length })
    }

    /// The place of the next line; the key that it names comes later.
    fn slot(&self, draft: &Draft, now: &Moment) -> Slot {
        // Only a `clock` line says that an earlier time is right.
        let earliest = if draft.kind == "clock" { "" } else { &self.chain.time };
        Slot {
            log: self.chain.origin.log.clone(),
            seq: self.chain.seq + 1,
            prev: self.chain.head.clone(),
            time: now.time.clone().max(earliest.to_owned()),
            zone: now.zone.clone(),
            next: String::new(),
            roster: self.chain.origin.roster.hash().to_owned(),
        }
    }
}
