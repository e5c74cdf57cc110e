//! The opening table, row by row and at every crash point of an append.

use crate::support::disk::{Disk, LOSSES, Loss};
use crate::support::{Station, key_of};
use airwrit::record::json::{Json, object};
use airwrit::record::line::{Draft, Line, What};
use airwrit::record::store::{self, Opened, Problem, VOLUME};
use airwrit::trust::Signer;
use airwrit::view::LineNo;

fn moved(s: &Station) -> Draft {
    s.station_draft(
        None,
        "moved",
        object([("date", "2026-11-25".into()), ("place", "pump-house".into()), ("set", "mobile-1".into())]),
    )
}

fn ready(s: &mut Station) -> Vec<Line> {
    s.reopen().unwrap();
    s.open.as_ref().unwrap().lines.clone()
}

/// A newer program wrote the last line: it is not cut off, not called broken, and nothing is written,
/// whether the seal key has moved on behind it or the machine stopped before that.
#[test]
fn a_line_of_another_version_is_left_alone() {
    let mut s = Station::twelve_lines();
    let key_before = s.seal.clone();
    let start = s.bytes().len();
    let draft = moved(&s);
    s.add(draft);
    let mut bytes = s.bytes();
    let v = bytes.windows(7).rposition(|w| w == b",\"v\":1,").unwrap();
    assert!(v > start);
    bytes[v + 5] = b'2';
    s.register.set(VOLUME, bytes.clone());
    for seal in [s.seal.clone(), key_before] {
        let mut s = Station { register: s.register.clone(), seal, ..Station::new() };
        let calls = (s.register.calls, s.seal.calls);
        match s.reopen() {
            Err(Problem::CouldNot(why)) => assert!(why.contains("version 2"), "{why}"),
            other => panic!("{other:?}"),
        }
        assert_eq!((s.register.calls, s.seal.calls), calls);
        assert_eq!(s.bytes(), bytes);
    }
}

/// The note of tried seals spares nothing but the seals of the very bytes it names; what a person signed, the chain and every
/// rule are tried whatever it says, and verifying does not read it.
#[test]
fn the_note_of_tried_seals_spares_seals_of_the_same_bytes_and_nothing_else() {
    use airwrit::audit::{Verdict, verify};
    use airwrit::record::known::NOTE;
    let mut s = Station::twelve_lines();
    let (bytes, note) = (s.bytes(), s.seal.content(NOTE).unwrap());
    let raw = |lines: Vec<Line>| lines.into_iter().map(|l| l.raw.clone()).collect::<Vec<_>>();
    let lines = raw(ready(&mut s));
    assert_eq!(s.seal.content(NOTE).unwrap(), note, "opening leaves none");
    let opened = |bytes: &[u8], note: Option<&[u8]>| {
        // A thread of its own remembers no bytes that were checked before.
        std::thread::scope(|scope| {
            let seal = s.seal.clone();
            let opening = scope.spawn(move || {
                let mut t = Station { seal, second: 1_900_000_000, ..Station::new() };
                t.register.set(VOLUME, bytes.to_vec());
                match note {
                    Some(note) => t.seal.set(NOTE, note.to_vec()),
                    None => airwrit::world::Storage::remove(&mut t.seal, NOTE).unwrap(),
                }
                t.reopen().map(|()| t.open.unwrap().lines)
            });
            opening.join().unwrap()
        })
    };
    // Missing, torn anywhere, of another version, or strange: the same lines.
    let notes = (0..=note.len()).step_by(7).map(|cut| note[..cut].to_vec());
    let strange = [
        "",
        "\n",
        "seals tried here, 2\n0001.jsonl 5 00\n",
        "seals tried here, 1\n0001.jsonl 99999999999999999999 x",
    ];
    for other in notes.chain(strange.map(|n| n.as_bytes().to_vec())).chain([note.clone(), vec![0xff; 90]]) {
        assert_eq!(raw(opened(&bytes, Some(&other)).unwrap()), lines);
    }
    assert_eq!(raw(opened(&bytes, None).unwrap()), lines);
    // A seal that is wrong, its line and all that follow otherwise whole: the note is of other bytes.
    let forged = |seq: usize, change: &dyn Fn(&mut Vec<u8>)| {
        let mut rows: Vec<Vec<u8>> = bytes.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
        change(&mut rows[seq]);
        for at in seq + 1..rows.len() {
            let before = |row: &[u8]| airwrit::record::line::hash(row.strip_suffix(b"\n").unwrap());
            let old: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
            let mut row = String::from_utf8(rows[at].clone()).unwrap();
            for earlier in seq..at {
                row = row.replace(&before(old[earlier]), &before(&rows[earlier]));
            }
            rows[at] = row.into_bytes();
        }
        rows.concat()
    };
    let noted = |bytes: &[u8]| {
        let hash = airwrit::record::line::hash(bytes);
        format!("seals tried here, 1\n{VOLUME} {} {hash}\n", bytes.len()).into_bytes()
    };
    let broken = |bytes: &[u8], note: &[u8]| match opened(bytes, Some(note)) {
        Err(Problem::Broken { at, broken }) => (at.line, broken.rule),
        other => panic!("{other:?}"),
    };
    // Line 10 is of the station; nobody signed anything that cites it.
    let seal = forged(10, &|row| {
        let at = row.len() - 60;
        row[at] = if row[at] == b'A' { b'B' } else { b'A' };
    });
    assert_eq!(broken(&seal, &note), (10, "seal"));
    // Who can write the seal's folder can make this station go on. Verifying it says what it is.
    assert!(opened(&seal, Some(&noted(&seal))).is_ok());
    let report = verify(&seal, None).report;
    assert_eq!((report.verdict, report.said[0].rule), (Verdict::Broken, "seal"));
    // What a person signed is tried even so: line 8 is the declaration.
    let act = forged(8, &|row| {
        let at = row.windows(12).position(|w| w == b"\"act_sign\":\"").unwrap() + 20;
        row[at] = if row[at] == b'A' { b'B' } else { b'A' };
    });
    assert_eq!(broken(&act, &noted(&act)), (8, "signature"));
    // And so is the chain.
    let mut prev = bytes.clone();
    let at = prev.windows(8).rposition(|w| w == b"\"prev\":\"").unwrap() + 8;
    prev[at] = if prev[at] == b'0' { b'1' } else { b'0' };
    assert_eq!(broken(&prev, &noted(&prev)).1, "prev");
}

/// Every call of an append as the last one, with every kind of loss: what was acknowledged is there,
/// unaltered; what was not is whole or cut with a `recovery` line; and the register goes on.
#[test]
fn no_acknowledged_line_is_lost_at_any_crash_point() {
    let mut cases = 0;
    for loss in LOSSES {
        for crash_in_register in [true, false] {
            for left in 0.. {
                let mut s = Station::enrolled();
                s.texts();
                let before = s.bytes();
                let target = if crash_in_register { &mut s.register } else { &mut s.seal };
                target.left = Some(left);
                let draft = moved(&s);
                let done = s.try_add(draft).is_ok();
                let acknowledged = if done { s.bytes() } else { before.clone() };
                s.register = s.register.after_crash(loss);
                s.seal = s.seal.after_crash(loss);
                let lines = ready(&mut s);
                let after = s.bytes();
                assert!(
                    after.starts_with(&acknowledged),
                    "{loss:?} register {crash_in_register} after {left}"
                );
                assert!((5..=7).contains(&lines.len()));
                assert_eq!(s.open.as_ref().unwrap().chain.seq + 1, lines.len() as u64);
                // The register goes on, and opens again with nothing to mend.
                let draft = moved(&s);
                s.add(draft);
                let kept = s.bytes();
                ready(&mut s);
                assert_eq!(s.bytes(), kept);
                assert!(s.seal.content("next").is_none());
                cases += 1;
                if done {
                    break;
                }
            }
        }
    }
    println!("{cases} crash cases, 0 acknowledged lines lost");
    assert!(cases > 40, "{cases}");
}

/// The same for line 0.
#[test]
fn enrolment_interrupted_anywhere_can_be_done_again_or_is_whole() {
    for loss in LOSSES {
        for crash_in_register in [true, false] {
            for left in 0.. {
                let mut s = Station::new();
                let target = if crash_in_register { &mut s.register } else { &mut s.seal };
                target.left = Some(left);
                let done = s.enrol().is_ok();
                s.register = s.register.after_crash(loss);
                s.seal = s.seal.after_crash(loss);
                s.open = None;
                s.reopen().unwrap();
                assert!(!done || s.open.is_some(), "{loss:?} {crash_in_register} {left}");
                if s.open.is_none() {
                    s.enrol().unwrap();
                }
                let draft = moved(&s);
                s.add(draft);
                if done {
                    break;
                }
            }
        }
    }
}

/// A crash while a crash is being mended.
#[test]
fn mending_interrupted_anywhere_is_mended_at_the_next_opening() {
    for append_left in 0..3 {
        for loss in LOSSES {
            for in_register in [true, false] {
                for left in 0..12 {
                    let mut s = Station::enrolled();
                    s.texts();
                    let acknowledged = s.bytes();
                    s.register.left = Some(append_left);
                    let draft = moved(&s);
                    assert!(s.try_add(draft).is_err() || append_left > 1);
                    s.register = s.register.after_crash(loss);
                    s.seal = s.seal.after_crash(loss);
                    let target = if in_register { &mut s.register } else { &mut s.seal };
                    target.left = Some(left);
                    let _ = s.reopen();
                    s.register = s.register.after_crash(loss);
                    s.seal = s.seal.after_crash(loss);
                    ready(&mut s);
                    assert!(
                        s.bytes().starts_with(&acknowledged),
                        "{append_left} {loss:?} {in_register} {left}"
                    );
                    let draft = moved(&s);
                    s.add(draft);
                }
            }
        }
    }
}

#[test]
fn a_line_that_lacks_its_last_bytes_is_completed() {
    for missing in 1..=3 {
        let mut s = Station::enrolled();
        s.texts();
        let keys = s.seal.clone();
        let mut with_next = s.clone_disks();
        let draft = moved(&s);
        with_next.0.short = Some(usize::MAX);
        let line = s.add(draft);
        // The state after the append and before the rename: `key` sealed the line, `next` is named by it.
        s.seal = keys.clone();
        let next = next_seed_after(&keys, &mut with_next.1, &line);
        s.seal.set("next", next);
        let mut cut = s.bytes();
        cut.truncate(cut.len() - missing);
        s.register.set(VOLUME, cut);
        let lines = ready(&mut s);
        assert_eq!(lines.last().unwrap().raw, line.raw);
        assert_eq!(s.seal.content("next"), None);
    }
}

impl Station {
    fn clone_disks(&self) -> (Disk, Disk) {
        (self.register.clone(), self.seal.clone())
    }
}

/// The seed that `next` held: fixed randomness gives it again.
fn next_seed_after(_keys: &Disk, _seal: &mut Disk, line: &Line) -> Vec<u8> {
    let mut random = crate::support::Fixed(0);
    for _ in 0..200 {
        let key = store::new_key(&mut random).unwrap();
        if key.public() == line.next {
            return format!("{}\n", data_encoding::HEXLOWER.encode(key.seed().as_slice())).into_bytes();
        }
    }
    panic!("the seed of the next key was not found");
}

#[test]
fn a_tail_that_was_never_acknowledged_is_set_aside_and_told() {
    let mut s = Station::enrolled();
    s.texts();
    let good = s.bytes();
    for tail in [b"x".as_slice(), b"{\"body\":{\"act\"", b"\n", b"garbage\n", &good[..50]] {
        let mut t = Station {
            register: s.register.clone(),
            seal: s.seal.clone(),
            random: s.random.clone(),
            second: s.second,
            open: None,
        };
        let mut bytes = good.clone();
        bytes.extend_from_slice(tail);
        t.register.set(VOLUME, bytes);
        let lines = ready(&mut t);
        let last = lines.last().unwrap();
        assert_eq!(last.kind.name, "recovery");
        assert_eq!(last.data.int("length"), Some(tail.len() as u64));
        let hash = airwrit::record::line::hash(tail);
        assert_eq!(last.data.text("hash"), Some(hash.as_str()));
        assert_eq!(t.register.content(&format!("cut-{}.bin", &hash[..16])).unwrap(), tail);
    }
}

#[test]
fn a_tail_without_line_0_waits_for_enrolment() {
    let mut s = Station::new();
    s.register.set(VOLUME, b"{\"body\":{\"act\":{\"af".to_vec());
    s.reopen().unwrap();
    assert!(s.open.is_none());
    assert_eq!(s.bytes(), b"");
    s.enrol().unwrap();
}

#[test]
fn an_older_folder_and_a_foreign_machine_cannot_be_continued() {
    let mut s = Station::enrolled();
    let older = s.register.clone();
    s.texts();
    let newest = s.register.clone();
    for (register, seal) in [(older, s.seal.clone()), (newest, Disk::default())] {
        let before = register.content(VOLUME);
        let mut t = Station { register, seal, random: s.random.clone(), second: s.second, open: None };
        match t.reopen() {
            Err(Problem::CouldNot(why)) => assert!(why.contains("does not hold the key"), "{why}"),
            other => panic!("{other:?}"),
        }
        assert_eq!(t.register.content(VOLUME), before);
    }
}

#[test]
fn a_damaged_line_is_broken_and_nothing_is_written() {
    let s = Station::twelve_lines();
    let good = s.bytes();
    for at in [good.len() - 1, good.len() - 40, good.len() / 2, 20] {
        let mut bytes = good.clone();
        bytes[at] ^= 1;
        let mut t = Station {
            register: Disk::default(),
            seal: s.seal.clone(),
            random: s.random.clone(),
            second: s.second,
            open: None,
        };
        t.register.set(VOLUME, bytes.clone());
        assert!(matches!(t.reopen(), Err(Problem::Broken { .. })), "{at}");
        assert_eq!(t.bytes(), bytes);
    }
}

#[test]
fn a_bad_line_before_a_good_one_is_broken_whatever_the_keys_say() {
    let mut s = Station::enrolled();
    let keys = s.seal.clone();
    s.texts();
    // The seal folder is put back to an older state, and the line after it is damaged.
    let mut bytes = s.bytes();
    let second = bytes.iter().position(|b| *b == b'\n').unwrap() + 60;
    bytes[second] ^= 1;
    s.register.set(VOLUME, bytes);
    s.seal = keys;
    assert!(matches!(s.reopen(), Err(Problem::Broken { at: LineNo { line: 1, .. }, .. })));
}

#[test]
fn every_truncation_opens_as_the_table_says() {
    let s = Station::twelve_lines();
    let good = s.bytes();
    let ends: Vec<usize> =
        good.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i + 1).collect();
    for cut in 0..good.len() {
        let mut t = Station {
            register: Disk::default(),
            seal: s.seal.clone(),
            random: s.random.clone(),
            second: s.second,
            open: None,
        };
        t.register.set(VOLUME, good[..cut].to_vec());
        let whole = ends.contains(&cut);
        let got = t.reopen();
        // Acknowledged bytes are missing. The machine's key is the one after the last line, so that no
        // row but these fits: nothing stands after a whole line; something does; or not even line 0 does.
        match (whole, cut < ends[0]) {
            (_, true) => assert!(got.is_ok() && t.open.is_none(), "{cut}"),
            (true, false) => assert!(matches!(got, Err(Problem::CouldNot(_))), "{cut} {got:?}"),
            (false, false) => assert!(matches!(got, Err(Problem::Broken { .. })), "{cut} {got:?}"),
        }
    }
}

#[test]
fn a_short_write_is_cut_back_unless_the_seal_is_whole() {
    let mut s = Station::enrolled();
    s.texts();
    let before = s.bytes();
    let whole = {
        let mut t = Station {
            register: s.register.clone(),
            seal: s.seal.clone(),
            random: s.random.clone(),
            second: s.second,
            open: s.open.clone(),
        };
        let draft = moved(&t);
        t.add(draft).raw.len() + 1
    };
    for short in 0..whole {
        let mut t = Station {
            register: s.register.clone(),
            seal: s.seal.clone(),
            random: s.random.clone(),
            second: s.second,
            open: s.open.clone(),
        };
        t.register.short = Some(short);
        let draft = moved(&t);
        let Err(Problem::CouldNot(_)) = t.try_add(draft) else { panic!("{short}") };
        if short + 3 >= whole {
            assert_eq!(t.bytes().len(), before.len() + short);
            assert!(t.seal.content("next").is_some());
            assert_eq!(ready(&mut t).len(), 6, "{short}");
        } else {
            assert_eq!(t.bytes(), before, "{short}");
            assert!(t.seal.content("next").is_none());
            assert_eq!(ready(&mut t).len(), 5);
        }
    }
}

#[test]
fn the_key_of_a_kept_line_is_gone() {
    let mut s = Station::enrolled();
    let old = s.seal.content("key").unwrap();
    let draft = moved(&s);
    s.add(draft);
    let new = s.seal.content("key").unwrap();
    assert_ne!(old, new);
    assert_eq!(s.seal.after_crash(Loss::All).content("key").unwrap(), new);
    let next = &s.chain().next;
    assert_ne!(*next, key_of("ola-brzoza").public());
}

#[test]
fn what_cannot_stand_in_a_register_is_refused_before_anything_is_written() {
    let mut s = Station::enrolled();
    let before = s.bytes();
    let bad = Draft {
        kind: "moved",
        permit: None,
        by: None,
        what: What::Data(object([
            ("date", "2026-11-25".into()),
            ("place", "a\u{202e}b".into()),
            ("set", Json::Int(3)),
        ])),
    };
    assert!(matches!(s.try_add(bad), Err(Problem::CouldNot(_))));
    assert_eq!(s.bytes(), before);
    assert!(matches!(
        store::open(
            &mut s.register,
            &mut s.seal,
            &airwrit::time::Moment { time: "2026-11-25T09:00:00Z".into(), zone: "+01:00".into() },
            &mut s.random
        ),
        Ok(Opened::Ready(_))
    ));
}
