//! What the register could not take: reports written aside, one small file each, until a later opening
//! enters them. And the room kept free for that on a disk that fills up.
//!
//! Always: an entry is a report, never a request or a signature; it is whole or it is not there; it stays
//! until the line that carries it is on disk, and is entered once, by its `id`. Not here: which permit or
//! set an entry concerns (`actions`), what it does to the state (`permit`).

use super::json::{Json, object, sorted};
use super::kinds::{self, ASIDE};
use crate::text::is_id;
use crate::time::is_time;
use crate::tongue::say;
use crate::world::{Storage, StorageError};

/// One report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// When it was written aside, UTC.
    pub at: String,
    /// Who was at the station, as they said.
    pub by: Option<String>,
    /// Members of its kind; without `set` where neither set nor permit was known.
    pub data: Json,
    /// 32 hex digits, random: it is entered once.
    pub id: String,
    /// Its kind, one of [`ASIDE`].
    pub kind: String,
    /// Permit, if it was known.
    pub permit: Option<String>,
}

impl Entry {
    /// As an object: in its file, and in `recovery.data.aside`.
    pub fn to_json(&self) -> Json {
        let mut members = vec![
            ("at".to_owned(), Json::from(self.at.as_str())),
            ("data".to_owned(), self.data.clone()),
            ("id".to_owned(), self.id.as_str().into()),
            ("kind".to_owned(), self.kind.as_str().into()),
        ];
        members.extend(self.by.as_deref().map(|by| ("by".to_owned(), by.into())));
        members.extend(self.permit.as_deref().map(|p| ("permit".to_owned(), p.into())));
        sorted(members)
    }

    /// From such an object, if its members are in their form; `data` is not checked yet.
    pub fn read(value: &Json) -> Option<Entry> {
        let text = |name: &str| value.text(name).map(str::to_owned);
        let entry = Entry {
            at: text("at").filter(|t| is_time(t))?,
            by: text("by").filter(|b| is_id(b)),
            data: value.get("data")?.clone(),
            id: text("id").filter(|i| kinds::is_hex(i, 32))?,
            kind: text("kind").filter(|k| ASIDE.contains(&k.as_str()))?,
            permit: text("permit").filter(|p| kinds::is_permit(p)),
        };
        // Nothing else stands in it.
        (entry.to_json() == *value).then_some(entry)
    }

    fn name(&self, number: u32) -> String {
        format!("{PREFIX}{number:06}-{}{SUFFIX}", self.id)
    }
}

const PREFIX: &str = "aside-";
const SUFFIX: &str = ".json";
/// At most so many are entered by one line.
pub const MOST: usize = 64;

/// The number for the next entry, after those that stand or stood in these folders. Clocks go back and seconds hold
/// more than one report: only a count keeps them in the order in which they were told.
pub fn next_number(folders: &[&dyn Storage]) -> u32 {
    let names = folders.iter().flat_map(|f| f.list().unwrap_or_default());
    let number = |n: String| n.strip_prefix(PREFIX)?.split('-').next()?.parse::<u32>().ok();
    let listed = folders.iter().flat_map(|f| told(*f)).map(|t| t.number);
    names.filter_map(number).chain(listed).max().map_or(1, |n| n.saturating_add(1))
}

/// The list of what was written aside: it stands beside the register and beside the seal, so that a file that is taken
/// away or changed is missed.
pub const TOLD: &str = "told";

/// A row of that list.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Told {
    number: u32,
    id: String,
    hash: String,
}

impl Told {
    fn row(&self) -> String {
        format!("{:06} {} {}\n", self.number, self.id, self.hash)
    }

    fn read(row: &str) -> Option<Told> {
        let mut words = row.split(' ');
        let number = words.next()?.parse().ok()?;
        let id = words.next().filter(|i| kinds::is_hex(i, 32))?.to_owned();
        let hash = words.next().filter(|h| kinds::is_hex(h, 64))?.to_owned();
        words.next().is_none().then_some(Told { number, id, hash })
    }
}

/// The rows of a folder's list. What is no row was cut short while it was written: its file stands.
fn told(folder: &dyn Storage) -> Vec<Told> {
    let bytes = folder.read(TOLD).ok().flatten().unwrap_or_default();
    String::from_utf8_lossy(&bytes).lines().filter_map(Told::read).collect()
}

/// Notes in every folder that takes it that an entry was written aside. Best effort: the entry itself stands already.
pub fn list(folders: &mut [&mut dyn Storage], entry: &Entry, number: u32) {
    let Ok(bytes) = bytes_of(entry) else { return };
    let row = Told { number, id: entry.id.clone(), hash: super::line::hash(&bytes) }.row();
    for folder in folders {
        let before = folder.read(TOLD).ok().flatten().unwrap_or_default();
        // A row that was cut short does not swallow the next.
        let row = if before.is_empty() || before.ends_with(b"\n") { row.clone() } else { format!("\n{row}") };
        let _ = folder.append(TOLD, row.as_bytes()).and_then(|_| folder.flush(TOLD));
        let _ = folder.flush_folder();
    }
}

fn bytes_of(entry: &Entry) -> Result<Vec<u8>, StorageError> {
    let mut bytes = super::json::write(&entry.to_json()).map_err(|why| StorageError { why })?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// Writes an entry, durably; returns the name of its file. On a full disk the room kept free is given up.
pub fn write(folder: &mut dyn Storage, entry: &Entry, number: u32) -> Result<String, StorageError> {
    let name = entry.name(number);
    let bytes = bytes_of(entry)?;
    with_room(folder, &mut |folder| {
        folder.write(&name, &bytes)?;
        folder.flush(&name)?;
        folder.flush_folder()
    })?;
    Ok(name)
}

/// What stands aside in one of the folders.
#[derive(Clone, Debug)]
pub struct Standing {
    /// Which of the folders.
    pub folder: usize,
    /// Its file; `None`: it is missing, only its number tells of it.
    pub file: Option<String>,
    /// The report; of one that cannot be read, everything at work held in its place.
    pub entry: Entry,
    /// It cannot be read, or is missing.
    pub unread: bool,
}

/// How many files of a folder are named as reports written aside are.
pub fn named(folder: &dyn Storage) -> usize {
    let names = folder.list().unwrap_or_default();
    names.iter().filter(|n| n.starts_with(PREFIX) && n.ends_with(SUFFIX)).count()
}

/// Everything that stands aside in these folders, in the order in which it was told. A file that cannot be read, and a number
/// that is missing, may have been a call-out: in their place stands that work is suspended, on every set. `now`
/// dates only those; `entered` says which were entered already, whose files went first.
pub fn standing(folders: &[&dyn Storage], now: &str, entered: &dyn Fn(&str) -> bool) -> Vec<Standing> {
    let mut out: Vec<(u32, Standing)> = Vec::new();
    let listed = listed(folders);
    for (folder, storage) in folders.iter().enumerate() {
        let names = storage.list().unwrap_or_default();
        for name in names.into_iter().filter(|n| n.starts_with(PREFIX) && n.ends_with(SUFFIX)) {
            let bytes = storage.read(&name).ok().flatten().unwrap_or_default();
            let entry = bytes
                .strip_suffix(b"\n")
                .and_then(|b| super::json::read(b).ok())
                .and_then(|value| Entry::read(&value))
                // What was changed since it was listed is read no more than what was damaged.
                .filter(|e| listed.iter().all(|t| t.id != e.id || t.hash == super::line::hash(&bytes)));
            let unread = entry.is_none();
            let entry = entry.unwrap_or_else(|| {
                let hash = super::line::hash(&bytes);
                let length = bytes.len();
                // The id is the same in every language.
                let id = format!(
                    "a report written aside as {name} cannot be read ({length} bytes, SHA-256 {hash}): it may have \
                     been an alarm"
                );
                let why = say!(
                    "a report written aside as {name} cannot be read ({length} bytes, SHA-256 {hash}): it may have \
                     been an alarm",
                    name,
                    length,
                    hash
                );
                Entry { id: id_of(&id), ..held(&why, now) }
            });
            out.push((number_of(&name), Standing { folder, file: Some(name), entry, unread }));
        }
    }
    out.sort_by(|a, b| (a.0, &a.1.file).cmp(&(b.0, &b.1.file)));
    let highest = listed.iter().filter(|t| !entered(&t.id)).map(|t| t.number).max().unwrap_or(0);
    let missing = gaps(&out, highest, entered);
    let missing: Vec<(u32, Standing)> = missing
        .into_iter()
        .map(|number| {
            let id =
                format!("the report written aside as number {number} is missing: it may have been an alarm");
            let why = say!(
                "the report written aside as number {number} is missing: it may have been an alarm",
                number
            );
            // Numbers begin again once all is entered: the files that stand tell this gap from one on another day.
            let names: Vec<&str> =
                out.iter().filter(|(n, _)| *n > number).filter_map(|(_, s)| s.file.as_deref()).collect();
            let next = names.first().copied().unwrap_or_default();
            let next = listed.iter().find(|t| t.number == number).map_or(next, |t| t.id.as_str());
            let entry = Entry { id: id_of(&format!("{id} {next}")), ..held(&why, now) };
            (number, Standing { folder: 0, file: None, entry, unread: true })
        })
        .collect();
    out.extend(missing);
    out.sort_by_key(|(number, _)| *number);
    out.into_iter().map(|(_, standing)| standing).collect()
}

/// What these folders' lists say, each once.
fn listed(folders: &[&dyn Storage]) -> Vec<Told> {
    let mut all: Vec<Told> = folders.iter().flat_map(|f| told(*f)).collect();
    all.sort_by(|a, b| (a.number, &a.id, &a.hash).cmp(&(b.number, &b.id, &b.hash)));
    all.dedup();
    all
}

/// Takes the lists away: everything on them is entered.
pub fn forget(folder: &mut dyn Storage) -> Result<(), StorageError> {
    if folder.list()?.iter().any(|n| n == TOLD) {
        folder.remove(TOLD)?;
        folder.flush_folder()?;
    }
    Ok(())
}

fn number_of(name: &str) -> u32 {
    name.strip_prefix(PREFIX).and_then(|n| n.split('-').next()?.parse().ok()).unwrap_or(0)
}

/// Numbers that are missing up to the highest that stands or is listed. They are counted from 1; where some were entered and their files are
/// being taken away, from the first of those that is left.
fn gaps(all: &[(u32, Standing)], listed: u32, entered: &dyn Fn(&str) -> bool) -> Vec<u32> {
    let from = all.iter().filter(|(_, s)| entered(&s.entry.id)).map(|(n, _)| *n).min().unwrap_or(1);
    let most =
        all.iter().map(|(n, _)| *n).max().unwrap_or(0).max(listed).min(from.saturating_add(MOST_NUMBERS));
    (from..=most).filter(|n| *n > 0 && !all.iter().any(|(m, _)| m == n)).collect()
}

/// So many numbers are looked for; a file named by hand must not stand for a million.
const MOST_NUMBERS: u32 = 1000;

/// In place of what is not known: everything at work is suspended. Its id hangs on the reason, so that it is
/// entered once.
fn held(why: &str, now: &str) -> Entry {
    let data = object([("at", now.into()), ("reason", why.into())]);
    Entry { at: now.to_owned(), by: None, data, id: id_of(why), kind: "suspend".to_owned(), permit: None }
}

fn id_of(words: &str) -> String {
    super::line::hash(words.as_bytes()).chars().take(32).collect()
}

/// In place of an entry that can be read, and is no report of its kind.
pub fn held_for(entry: &Entry, now: &str) -> Entry {
    let why = say!(
        "a report written aside cannot be read as what it says it is ({kind}, {id}): it may have been an alarm",
        kind = entry.kind,
        id = entry.id
    );
    Entry { id: entry.id.clone(), ..held(&why, now) }
}

/// Where the bytes of a file that could not be read are kept once that is entered.
pub fn kept_as(name: &str) -> String {
    format!("unread-{}", name.strip_prefix(PREFIX).unwrap_or(name))
}

/// The data of the line that enters them.
pub fn recovery(entries: &[Entry]) -> Json {
    object([("aside", Json::Arr(entries.iter().map(Entry::to_json).collect()))])
}

/// The entries that a `recovery` line carries.
pub fn entered(data: &Json) -> Vec<Entry> {
    match data.get("aside") {
        Some(Json::Arr(list)) => list.iter().filter_map(Entry::read).collect(),
        Some(_) | None => Vec::new(),
    }
}

const ROOM: &str = "room";
/// Bytes kept free beside the register.
pub const ROOM_SIZE: usize = 4 * 1024 * 1024;

/// Keeps room on the disk, if it is not kept yet: a file that can be given up when the disk is full.
pub fn keep_room(folder: &mut dyn Storage) -> Result<(), StorageError> {
    if folder.list()?.iter().any(|n| n == ROOM) {
        return Ok(());
    }
    // Not zeros: a file system may keep those without taking room for them.
    let mut x = 0x9e37_79b9_7f4a_7c15_u64;
    let mut bytes = Vec::with_capacity(ROOM_SIZE);
    while bytes.len() < ROOM_SIZE {
        x ^= x << 13;
        x ^= x >> 7;
        x ^= x << 17;
        bytes.extend_from_slice(&x.to_le_bytes());
    }
    let kept = folder.write(ROOM, &bytes).and_then(|()| folder.flush(ROOM));
    if kept.is_err() {
        // Half of it only takes what is left.
        folder.remove(ROOM)?;
    }
    kept
}

/// Does something that must not fail for want of room: where it fails, the room kept is given up and it is
/// tried once more.
pub fn with_room(
    folder: &mut dyn Storage,
    work: &mut dyn FnMut(&mut dyn Storage) -> Result<(), StorageError>,
) -> Result<(), StorageError> {
    let Err(first) = work(folder) else { return Ok(()) };
    let held = folder.list().is_ok_and(|names| names.iter().any(|n| n == ROOM));
    if !held || folder.remove(ROOM).is_err() {
        return Err(first);
    }
    work(folder)
}
