//! What the page remembers is never older than the register or the clock: a line of another process, a gauge that falls
//! due, an end that passes show in the very next answer. Peer: a page begun that moment, which remembers nothing.

use super::*;
use crate::permit::due::{Due, due};
use crate::time::seconds;
use std::sync::OnceLock;

static SECOND: AtomicI64 = AtomicI64::new(0);

fn second() -> i64 {
    SECOND.load(Ordering::Relaxed)
}

/// The lines of a day played whole.
pub(super) fn played() -> &'static [Vec<u8>] {
    static DAY: OnceLock<Vec<Vec<u8>>> = OnceLock::new();
    DAY.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        crate::cli::demo::play(&folder.path().join("site"), &mut std::io::sink()).unwrap();
        let all = std::fs::read(folder.path().join("site/register/0001.jsonl")).unwrap();
        all.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect()
    })
}

pub(super) fn time(line: &[u8]) -> i64 {
    let line: serde_json::Value = serde_json::from_slice(line).unwrap();
    seconds(line["body"]["time"].as_str().unwrap())
}

/// A page before a register that is written by others.
fn page(register: &std::path::Path) -> Site {
    page_at(register, second)
}

/// The same by a clock of its own.
pub(super) fn page_at(register: &std::path::Path, second: fn() -> i64) -> Site {
    let folder = tempfile::tempdir().unwrap();
    let place = Place { register: register.to_owned(), seal: Some(folder.path().join("seal")), today: None };
    let hands = Hands::start(place, None, Arc::new(Clock::of(second)));
    let keys = folder.path().to_owned();
    let made = Made { hands, guard: Guard::new(PORT, SESSION.into()), keys, trust: None, demo: None };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
    Site { folder, app: Arc::new(App::new(made).unwrap()), runtime }
}

/// A screen without what differs on each: the word that tells two forms apart.
fn screen(site: &Site, path: &str) -> String {
    let came = site.get(path);
    assert_eq!(came.status, StatusCode::OK, "{path}: {}", came.text);
    let mut parts = came.text.split("name=\"once\" value=\"");
    let first = parts.next().unwrap().to_owned();
    parts.fold(first, |all, part| all + part.split_once('"').unwrap().1)
}

pub(super) const NUMBER: &str = "KM3-261125-01";

fn screens() -> [String; 6] {
    let of = |part: &str| format!("/p/{NUMBER}{part}");
    ["/board".into(), "/board/live".into(), "/?later=1".into(), of(""), of("/record"), "/alarm".into()]
}

/// The page and one begun this moment say the same on every screen.
#[track_caller]
fn as_if_begun_now(site: &Site, register: &std::path::Path) {
    let fresh = page(register);
    for path in screens() {
        // Twice: judged, and remembered.
        let (first, again) = (screen(site, &path), screen(site, &path));
        assert!(first == screen(&fresh, &path), "{path} is not as a page begun now shows it");
        assert!(again == first, "{path} is otherwise when it is looked at again");
    }
}

#[test]
fn what_is_remembered_is_what_would_be_judged_now() {
    let day = played();
    let register = tempfile::tempdir().unwrap();
    let file = register.path().join("0001.jsonl");
    // Two wearers are in, the gauges were just read; the next line is of one who came out.
    let upto = day.iter().position(|l| time(l) == seconds("2026-11-25T09:24:58Z")).unwrap();
    std::fs::write(&file, day[..upto].concat()).unwrap();
    let last = time(&day[upto - 1]);
    SECOND.store(last, Ordering::Relaxed);
    let site = page(register.path());
    let board = screen(&site, "/board/live");
    assert_eq!(board.matches("IN since").count() + board.matches(">IN<").count(), 2, "{board}");

    // What falls due, and when: as the rules say it.
    let volumes = crate::record::volumes::read(&crate::disk::Folder::at(register.path())).unwrap();
    let looked = crate::actions::look(&volumes, last).unwrap();
    let known = looked.known();
    let permit = known.permit(NUMBER).unwrap();
    let dues: Vec<Due> = due(&known, permit, &known.texts(permit).unwrap());
    let end = seconds(permit.valid_to.as_deref().unwrap());
    let mut probes: Vec<i64> = dues.iter().flat_map(|d| [d.due, d.holds]).chain([end + 1]).collect();
    probes.sort_unstable();
    assert!(probes.len() > 5 && probes[0] > last, "{probes:?}");
    for at in probes {
        SECOND.store(at - 1, Ordering::Relaxed);
        let before = screens().map(|path| screen(&site, &path));
        SECOND.store(at, Ordering::Relaxed);
        let board = screen(&site, "/board/live");
        assert!(board != before[1], "a second later something is due, or over");
        let (now, overdue) =
            (dues.iter().filter(|d| d.due == at).count(), dues.iter().filter(|d| d.holds == at).count());
        let more = |words: &str| board.matches(words).count() > before[1].matches(words).count();
        assert_eq!(more("read it now"), now > 0, "{board}");
        assert_eq!(more("OVERDUE"), overdue > 0, "{board}");
        assert_eq!(more("ITS TIME WAS OVER"), at == end + 1, "{board}");
        // On every screen, from the first: a bar that came later would push away what a finger is on.
        let none = dues.iter().all(|d| d.words(at, &known.now.zone).is_none()) && at <= end;
        let whole = screen(&site, "/board");
        assert_eq!(whole.contains("role=\"status\" hidden><b>▲ Overdue."), none, "{whole}");
        as_if_begun_now(&site, register.path());
    }

    // A line that another process writes, with the clock standing still.
    SECOND.store(last, Ordering::Relaxed);
    let before = screens().map(|path| screen(&site, &path));
    for line in &day[upto..upto + 4] {
        use std::io::Write;
        let mut file = std::fs::File::options().append(true).open(&file).unwrap();
        file.write_all(line).unwrap();
        as_if_begun_now(&site, register.path());
    }
    let after = screens().map(|path| screen(&site, &path));
    for ((path, before), after) in screens().iter().zip(before).zip(after) {
        assert!(before != after, "{path}: both are off air now");
    }
    assert_eq!(screen(&site, "/board/live").matches("off air").count(), 2);

    // Read again by a later line, nothing is due: seen at once.
    let whole = &day[..day.len() - 1];
    std::fs::write(&file, whole.concat()).unwrap();
    as_if_begun_now(&site, register.path());
}
