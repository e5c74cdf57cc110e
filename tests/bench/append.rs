//! How long adding one line takes in a process of its own, by how long the register is: with what is at hand
//! (`actions/at_hand.rs`), with everything read and the note of tried seals (`record/known.rs`), and without either; how often
//! it flushes, and the time beside the flushes. `cargo bench --bench append`; prints a table and one line of JSON.
//! `AIRWRIT_BENCH_LINES=A,B` asks for other lengths.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs)]

mod long;

use airwrit::actions::Desk;
use airwrit::actions::at_hand;
use airwrit::disk::{Folder, SystemRandom};
use airwrit::record::json::object;
use airwrit::record::known::NOTE;
use airwrit::record::line::{Draft, Line, What};
use airwrit::time::seconds;
use airwrit::world::{Storage, StorageError};
use std::io::{BufWriter, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::process::Command;
use std::time::Instant;

const LINES: [u64; 3] = [1_000, 10_000, 100_000];
const DAYS: u32 = 10;
const RUNS: usize = 2;
/// Of more lines than this everything is read once only.
const LONG: u64 = 200_000;
/// As many entries as there may be since what is at hand was kept, and the one that keeps it anew.
const QUICK: usize = 40;
/// Wanted at most: the longest over the shortest.
const APART: f64 = 1.5;

/// A folder whose flushes are counted.
struct Counted {
    folder: Folder,
    flushes: u32,
    seconds: f64,
}

impl Counted {
    fn of(folder: Folder) -> Counted {
        Counted { folder, flushes: 0, seconds: 0.0 }
    }

    fn count(
        &mut self,
        flush: impl FnOnce(&mut Folder) -> Result<(), StorageError>,
    ) -> Result<(), StorageError> {
        let begun = Instant::now();
        let done = flush(&mut self.folder);
        self.seconds += begun.elapsed().as_secs_f64();
        self.flushes += 1;
        done
    }
}

impl Storage for Counted {
    fn list(&self) -> Result<Vec<String>, StorageError> {
        self.folder.list()
    }
    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        self.folder.read(name)
    }
    fn read_from(&self, name: &str, offset: u64) -> Result<Option<Vec<u8>>, StorageError> {
        self.folder.read_from(name, offset)
    }
    fn stamp(&self, name: &str) -> Option<String> {
        self.folder.stamp(name)
    }
    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        self.folder.write(name, bytes)
    }
    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError> {
        self.folder.append(name, bytes)
    }
    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError> {
        self.folder.write_at(name, offset, bytes)
    }
    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError> {
        self.folder.truncate(name, length)
    }
    fn flush(&mut self, name: &str) -> Result<(), StorageError> {
        self.count(|f| f.flush(name))
    }
    fn flush_folder(&mut self) -> Result<(), StorageError> {
        self.count(Storage::flush_folder)
    }
    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError> {
        self.folder.rename(from, to)
    }
    fn remove(&mut self, name: &str) -> Result<(), StorageError> {
        self.folder.remove(name)
    }
}

/// In a process of its own: one line is added.
fn child(place: &Path, second: i64) {
    let mut register = Counted::of(Folder::at(&place.join("register")));
    let mut seal = Counted::of(Folder::at_private(&place.join("seal")));
    let mut random = SystemRandom;
    let mut desk =
        Desk { register: &mut register, seal: &mut seal, random: &mut random, second, today: None };
    let data = object([("date", "2028-01-01".into()), ("place", "quay-3".into()), ("set", "heron".into())]);
    let draft = Draft { kind: "moved", permit: None, by: Some("lukasz".into()), what: What::Data(data) };
    let kept = desk.at_work(|desk, loaded| desk.keep(loaded, &draft));
    if let Err(why) = kept {
        panic!("it is not kept: {why:?}");
    }
    println!("{} {}", register.flushes + seal.flushes, register.seconds + seal.seconds);
}

#[derive(Clone, Copy)]
struct Measured {
    seconds: f64,
    flushes: u32,
    flushing: f64,
}

impl Measured {
    fn beside(&self) -> f64 {
        self.seconds - self.flushing
    }
}

/// The time of the last line.
fn last_second(place: &Path) -> i64 {
    let mut file = std::fs::File::open(place.join("register/0001.jsonl")).unwrap();
    let length = file.metadata().unwrap().len();
    file.seek(SeekFrom::Start(length.saturating_sub(1 << 20))).unwrap();
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).unwrap();
    let last = bytes.split(|b| *b == b'\n').rfind(|raw| !raw.is_empty()).unwrap();
    seconds(&Line::read(last).unwrap().time)
}

fn measure(place: &Path) -> Measured {
    let second = last_second(place) + 60;
    let begun = Instant::now();
    let me = std::env::current_exe().unwrap();
    let came = Command::new(me).arg("child").arg(place).arg(second.to_string()).output().unwrap();
    let seconds = begun.elapsed().as_secs_f64();
    let said = String::from_utf8(came.stdout).unwrap();
    let Some((flushes, flushing)) = said.trim().split_once(' ') else {
        panic!("{said} {}", String::from_utf8_lossy(&came.stderr))
    };
    Measured { seconds, flushes: flushes.parse().unwrap(), flushing: flushing.parse().unwrap() }
}

/// What an entry may open with.
#[derive(Clone, Copy, PartialEq, Eq)]
enum With {
    Nothing,
    Note,
    AtHand,
}

fn least(place: &Path, lines: u64, with: With) -> Measured {
    let mut runs: Vec<Measured> = Vec::new();
    let whole = if lines > LONG { 1 } else { RUNS };
    for _ in 0..if with == With::AtHand { QUICK } else { whole } {
        let gone: &[&str] = match with {
            With::Nothing => &[NOTE, at_hand::FILE],
            With::Note => &[at_hand::FILE],
            With::AtHand => &[],
        };
        for name in gone {
            let _ = std::fs::remove_file(place.join("seal").join(name));
        }
        runs.push(measure(place));
    }
    runs.into_iter().min_by(|a, b| a.beside().total_cmp(&b.beside())).unwrap()
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, what, place, second] = args.as_slice()
        && what == "child"
    {
        return child(Path::new(place), second.parse().unwrap());
    }
    let made = tempfile::tempdir().unwrap();
    airwrit::cli::demo::made(&made.path().join("days"), DAYS, 2).unwrap_or_else(|_| panic!("the days"));
    let volume = std::fs::read(made.path().join("days/register/0001.jsonl")).unwrap();
    let asked = std::env::var("AIRWRIT_BENCH_LINES").ok();
    let lines: Vec<u64> =
        asked.map_or(LINES.to_vec(), |l| l.split(',').map(|n| n.parse().unwrap()).collect());
    println!(
        "{:>10} {:>8} {:>10} {:>14} {:>14} {:>16} {:>12}",
        "lines", "flushes", "in them s", "beside them s", "all read s", "and no note s", "at hand, B"
    );
    let mut all = Vec::new();
    for n in lines {
        let place = made.path().join(n.to_string());
        for folder in ["register", "seal"] {
            std::fs::create_dir_all(place.join(folder)).unwrap();
        }
        let mut out = BufWriter::new(std::fs::File::create(place.join("register/0001.jsonl")).unwrap());
        long::write(&volume, n, &mut out);
        out.flush().unwrap();
        let key = data_encoding::HEXLOWER.encode(&long::seed_of(n));
        std::fs::write(place.join("seal/key"), key + "\n").unwrap();
        let without = least(&place, n, With::Nothing);
        let noted = least(&place, n, With::Note);
        let with = least(&place, n, With::AtHand);
        let size = std::fs::metadata(place.join("seal").join(at_hand::FILE)).map_or(0, |m| m.len());
        println!(
            "{n:>10} {:>8} {:>10.3} {:>14.4} {:>14.3} {:>16.3} {size:>12}",
            with.flushes,
            with.flushing,
            with.beside(),
            noted.beside(),
            without.beside()
        );
        all.push((n, with, noted, without));
        std::fs::remove_dir_all(&place).unwrap();
    }
    let beside =
        |at: Option<&(u64, Measured, Measured, Measured)>| at.map_or(0.0, |(_, with, _, _)| with.beside());
    let apart = beside(all.last()) / beside(all.first());
    let good = if apart <= APART { "within" } else { "OVER" };
    println!("the longest over the shortest, beside flushes: {apart:.1}, wanted at most {APART}: {good}");
    let rows: Vec<_> = all
        .iter()
        .map(|(n, with, noted, without)| {
            serde_json::json!({ "lines": n, "flushes": with.flushes, "flushing_s": with.flushing,
                "beside_s": with.beside(), "all_read_s": noted.beside(), "without_note_s": without.beside() })
        })
        .collect();
    println!(
        "{}",
        serde_json::json!({ "bench": "append", "apart": apart, "wanted": APART, "registers": rows })
    );
}
