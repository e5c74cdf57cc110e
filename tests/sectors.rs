//! A disk that loses sectors: every call of an append as the last one, with every subset of the 512-byte
//! sectors that were not flushed, and with the file's length flushed or not. And a disk that fails once
//! at every call. What was acknowledged is always there, unaltered.

use crate::support::Station;
use crate::support::disk::Disk;
use airwrit::record::json::object;
use airwrit::record::line::Draft;
use airwrit::record::store::VOLUME;

/// A line that spans six or seven sectors.
fn long(s: &Station) -> Draft {
    let data =
        object([("set", "mobile-1".into()), ("words", "a line of several sectors; ".repeat(74).into())]);
    s.station_draft(None, "note", data)
}

fn moved(s: &Station) -> Draft {
    let data =
        object([("date", "2026-11-25".into()), ("place", "pump-house".into()), ("set", "mobile-1".into())]);
    s.station_draft(None, "moved", data)
}

fn like(s: &Station, register: Disk, seal: Disk) -> Station {
    Station { register, seal, random: s.random.clone(), second: s.second, open: None }
}

/// A station with two lines, so that each case is quick.
fn small() -> Station {
    let mut s = Station::enrolled();
    let draft = moved(&s);
    s.add(draft);
    s
}

#[test]
fn every_subset_of_unflushed_sectors_at_every_crash_point() {
    let base = small();
    let (mut cases, mut twice) = (0, 0);
    for crash_in_register in [true, false] {
        for left in 0.. {
            let mut s = like(&base, base.register.clone(), base.seal.clone());
            s.open = base.open.clone();
            let target = if crash_in_register { &mut s.register } else { &mut s.seal };
            target.left = Some(left);
            let draft = long(&s);
            let done = s.try_add(draft).is_ok();
            let acknowledged = if done { s.bytes() } else { base.bytes() };
            for seal in s.seal.after_sector_loss() {
                for register in s.register.after_sector_loss() {
                    cases += 1;
                    let mut t = like(&s, register.clone(), seal.clone());
                    t.reopen().unwrap_or_else(|e| panic!("{crash_in_register} {left}: {e:?}"));
                    assert!(t.bytes().starts_with(&acknowledged), "{crash_in_register} {left}");
                    // It goes on from there, and what it keeps then is read again.
                    let draft = moved(&t);
                    t.add(draft);
                    let kept = t.bytes();
                    t.reopen().unwrap();
                    assert_eq!(t.bytes(), kept);
                    // The power goes again while the first loss is being mended: a sample of these.
                    if cases % 3 == 0 {
                        twice += mended_twice(&s, &register, &seal, &acknowledged);
                    }
                }
            }
            if done {
                break;
            }
        }
    }
    println!("{cases} cases of lost sectors, {twice} of them twice, 0 acknowledged lines lost");
    assert!(cases > 70 && twice > 1000, "{cases} {twice}");
}

fn mended_twice(s: &Station, register: &Disk, seal: &Disk, acknowledged: &[u8]) -> usize {
    let mut cases = 0;
    for in_register in [true, false] {
        for left in 0.. {
            let mut t = like(s, register.clone(), seal.clone());
            let target = if in_register { &mut t.register } else { &mut t.seal };
            target.left = Some(left);
            let done = t.reopen().is_ok();
            for seal in t.seal.after_sector_loss() {
                for register in t.register.after_sector_loss() {
                    cases += 1;
                    let mut u = like(&t, register, seal.clone());
                    u.reopen().unwrap_or_else(|e| panic!("{in_register} {left}: {e:?}"));
                    assert!(u.bytes().starts_with(acknowledged), "{in_register} {left}");
                }
            }
            if done {
                break;
            }
        }
    }
    cases
}

/// One call fails and the machine goes on: the append is refused or done, never half done.
#[test]
fn an_error_at_any_call_loses_nothing() {
    let base = small();
    let mut cases = 0;
    for in_register in [true, false] {
        for at in 0..12 {
            let mut s = like(&base, base.register.clone(), base.seal.clone());
            s.open = base.open.clone();
            let target = if in_register { &mut s.register } else { &mut s.seal };
            target.fails_at = Some(target.calls + at);
            let draft = moved(&s);
            let done = s.try_add(draft).is_ok();
            s.register.fails_at = None;
            s.seal.fails_at = None;
            let acknowledged = if done { s.bytes() } else { base.bytes() };
            s.reopen().unwrap();
            assert!(s.bytes().starts_with(&acknowledged), "{in_register} {at}");
            let draft = moved(&s);
            s.add(draft);
            cases += 1;
        }
    }
    println!("{cases} errors, 0 acknowledged lines lost");
}

/// A full disk takes so many bytes and no more, for every number of bytes.
#[test]
fn a_disk_that_fills_up_at_any_byte_keeps_what_was_acknowledged() {
    let base = small();
    let whole = {
        let mut t = like(&base, base.register.clone(), base.seal.clone());
        t.open = base.open.clone();
        let draft = moved(&t);
        t.add(draft).raw.len() + 1
    };
    let mut cases = 0;
    for room in (0..whole).step_by(7).chain(whole - 5..whole) {
        let mut s = like(&base, base.register.clone(), base.seal.clone());
        s.open = base.open.clone();
        s.register.short = Some(room);
        let draft = moved(&s);
        assert!(s.try_add(draft).is_err(), "{room}");
        assert!(s.bytes().starts_with(&base.bytes()));
        s.reopen().unwrap();
        assert!(s.register.content(VOLUME).unwrap().starts_with(&base.bytes()));
        cases += 1;
    }
    println!("{cases} full disks, 0 acknowledged lines lost");
}
