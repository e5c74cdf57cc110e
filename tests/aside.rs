//! Reports written aside, on a disk that is full; and what must not pass for such a report.

use crate::support::disk::Disk;
use crate::support::{Station, shell::Shell};
use airwrit::audit::verify;
use airwrit::record::aside::{
    Entry, ROOM_SIZE, TOLD, forget, keep_room, list, next_number, recovery, standing, write,
};
use airwrit::record::json::{Json, object};
use airwrit::record::line::{Draft, What};
use airwrit::world::Storage;

/// The reports that stand aside and can be read.
fn read(disks: &[&dyn Storage]) -> Vec<Entry> {
    let all = standing(disks, "2026-11-25T06:00:00Z", &|_| false);
    all.into_iter().filter(|s| !s.unread).map(|s| s.entry).collect()
}

fn entry(id: u8) -> Entry {
    Entry {
        at: "2026-11-25T06:00:00Z".into(),
        by: Some("ola-brzoza".into()),
        data: object([("person", "ada-nowak".into())]),
        id: format!("{id:032x}"),
        kind: "off_air".into(),
        permit: Some("KW2-261125-01".into()),
    }
}

/// The room kept is given up for it; without room there is an error and no half file.
#[test]
fn a_full_disk_still_takes_a_report() {
    let mut disk = Disk::default();
    keep_room(&mut disk).unwrap();
    disk.set("0001.jsonl", vec![b'x'; 1000]);
    disk.holds = Some(ROOM_SIZE + 1000);
    write(&mut disk, &entry(1), 1).unwrap();
    assert_eq!(disk.list().unwrap().iter().filter(|n| *n == "room").count(), 0);
    write(&mut disk, &entry(2), 2).unwrap();
    let ids: Vec<String> = read(&[&disk]).into_iter().map(|e| e.id).collect();
    assert_eq!(ids, [entry(1).id, entry(2).id]);
    assert_eq!(disk.content("0001.jsonl").unwrap().len(), 1000);

    let mut full = Disk::default();
    full.holds = Some(10);
    assert!(keep_room(&mut full).is_err());
    assert!(write(&mut full, &entry(1), 1).is_err());
    assert!(full.list().unwrap().is_empty());
}

/// Seconds hold more than one report, clocks go back, and ids are random: the count keeps the order.
#[test]
fn reports_come_back_in_the_order_in_which_they_were_told() {
    let (mut disk, mut other) = (Disk::default(), Disk::default());
    let told: Vec<u8> = vec![9, 1, 250, 7, 8, 3, 200, 2, 11, 10, 5];
    for (i, id) in told.iter().enumerate() {
        let number = next_number(&[&disk, &other]);
        assert_eq!(number as usize, i + 1);
        let folder = if i % 3 == 2 { &mut other } else { &mut disk };
        write(folder, &entry(*id), number).unwrap();
    }
    let ids: Vec<String> = read(&[&disk, &other]).into_iter().map(|e| e.id).collect();
    assert_eq!(ids, told.iter().map(|id| entry(*id).id).collect::<Vec<_>>());
}

/// What stands in such a file and is no report says nothing for itself: in its place everything is held.
#[test]
fn only_reports_are_read() {
    let good = entry(1).to_json();
    let mut disk = Disk::default();
    for (i, bad) in [
        good.clone().with("kind", "countersign"),
        good.clone().with("kind", "answer"),
        good.clone().with("id", "12"),
        good.clone().with("at", "yesterday"),
        good.clone().with("more", "x"),
        good.clone().with("permit", "..."),
        object([("kind", "off_air".into())]),
        Json::Int(7),
    ]
    .iter()
    .enumerate()
    {
        let mut bytes = airwrit::record::json::write(bad).unwrap();
        bytes.push(b'\n');
        disk.set(&format!("aside-{i}.json"), bytes);
    }
    disk.set("aside-8.json", b"\xff\xfe\n".to_vec());
    disk.set("aside-9.json", Vec::new());
    assert!(read(&[&disk]).is_empty());
    let all = standing(&[&disk], "2026-11-25T06:00:00Z", &|_| false);
    let ids: std::collections::BTreeSet<_> = all.iter().map(|s| s.entry.id.clone()).collect();
    assert_eq!((all.len(), ids.len()), (10, 10));
    assert!(
        all.iter().all(|s| s.unread && s.entry.kind == "suspend" && s.entry.data.text("reason").is_some())
    );
}

/// A number that is missing below the highest is told; those before what was entered already are not.
#[test]
fn a_missing_number_is_told() {
    let mut disk = Disk::default();
    for n in [2, 4, 5] {
        write(&mut disk, &entry(n), u32::from(n)).unwrap();
    }
    let missing = |entered: &[u8]| -> Vec<bool> {
        let ids: Vec<String> = entered.iter().map(|n| entry(*n).id).collect();
        let all = standing(&[&disk], "2026-11-25T06:00:00Z", &|id| ids.iter().any(|i| i == id));
        all.iter().map(|s| s.unread).collect()
    };
    assert_eq!(missing(&[]), [true, false, true, false, false]);
    assert_eq!(missing(&[2]), [false, true, false, false]);
    assert_eq!(missing(&[4]), [false, false, false]);
}

/// What was listed and is gone, or says something else now, is missed: by either list, whatever else stands in it.
#[test]
fn what_was_listed_is_missed() {
    let (mut disk, mut seal) = (Disk::default(), Disk::default());
    let name = write(&mut disk, &entry(1), 1).unwrap();
    list(&mut [&mut disk, &mut seal], &entry(1), 1);
    let stand = |disk: &Disk, seal: &Disk, entered: bool| -> Vec<bool> {
        let all = standing(&[disk, seal], "2026-11-25T06:00:00Z", &|_| entered);
        all.iter().map(|s| s.unread).collect()
    };
    assert_eq!(stand(&disk, &seal, false), [false]);
    let mut gone = disk.clone();
    gone.remove(&name).unwrap();
    gone.remove(TOLD).unwrap();
    assert_eq!(stand(&gone, &seal, false), [true], "the list beside the seal");
    assert_eq!(next_number(&[&gone, &seal]), 2, "its number is not given again");
    assert_eq!(stand(&gone, &seal, true), Vec::<bool>::new(), "it was entered");
    assert_eq!(stand(&gone, &Disk::default(), false), Vec::<bool>::new());
    let mut changed = disk.clone();
    let bytes = String::from_utf8(disk.content(&name).unwrap().to_vec()).unwrap();
    changed.set(&name, bytes.replace("ada-nowak", "ada-nowac").into_bytes());
    assert_eq!(stand(&changed, &seal, false), [true]);
    // A row cut short is no row, and does not swallow the next.
    let mut torn = gone.clone();
    torn.set(TOLD, b"000001 00".to_vec());
    list(&mut [&mut torn], &entry(2), 2);
    assert_eq!(stand(&torn, &Disk::default(), false), [true, true]);
    forget(&mut torn).unwrap();
    assert_eq!(torn.content(TOLD), None);
}

/// A line that enters what no report may say is not written, and is broken where it stands.
#[test]
fn a_line_that_enters_something_else_is_refused() {
    let refused = |entries: &[Entry], more: &[(&str, Json)]| {
        let mut s = Station::twelve_lines();
        let mut data = recovery(entries);
        for (name, value) in more {
            data = data.with(name, value.clone());
        }
        let draft = Draft { kind: "recovery", permit: None, by: None, what: What::Data(data) };
        s.try_add(draft).is_err()
    };
    assert!(!refused(&[entry(1)], &[]));
    assert!(refused(&[], &[]));
    assert!(refused(&[entry(1)], &[("length", Json::Int(3))]));
    let with = |change: &dyn Fn(&mut Entry)| {
        let mut e = entry(1);
        change(&mut e);
        e
    };
    for e in [
        with(&|e| e.permit = None),
        with(&|e| e.permit = Some("KW2-261125-77".into())),
        with(&|e| e.data = e.data.clone().with("set", "mobile-1")),
        with(&|e| e.data = object([("outlet", "2".into())])),
        with(&|e| e.data = e.data.clone().with("target", "0".repeat(64).as_str())),
        with(&|e| e.kind = "hand_back".into()),
        with(&|e| e.kind = "started".into()),
    ] {
        assert!(refused(std::slice::from_ref(&e), &[]), "{e:?}");
    }
    let mut s = Station::twelve_lines();
    let draft = Draft { kind: "recovery", permit: None, by: None, what: What::Data(recovery(&[entry(1)])) };
    s.add(draft);
    assert_eq!(verify(&s.bytes(), None).report.lines, 13);
}

/// The room is there before it is needed.
#[test]
fn a_station_keeps_room() {
    let mut s = Shell::station();
    s.open();
    assert_eq!(s.read("register/room").len(), ROOM_SIZE);
}
