//! What is kept: lines removed or changed in a register or an excerpt are found.

use super::day::whole;
use super::table::in_state;
use crate::support::day::trust;
use airwrit::audit::{Verdict, Verified, verify, verify_excerpt};
use airwrit::record::excerpt;
use airwrit::record::line::Line;
use airwrit::view::StateWord;

fn split(bytes: &[u8]) -> Vec<Vec<u8>> {
    bytes.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect()
}

/// For each line: without it, twice, swapped with the next, with one byte of its middle changed.
///
/// The last line removed leaves an earlier state of the same record, which only a copy of its head held
/// elsewhere can show. `may_lack` says which lines more may be missing unseen.
fn each_is_found(bytes: &[u8], check: &dyn Fn(&[u8]) -> Verified, may_lack: &dyn Fn(&Line) -> bool) {
    assert_eq!(check(bytes).report.verdict, Verdict::Sound, "{:?}", check(bytes).report.said);
    let lines = split(bytes);
    for at in 0..lines.len() {
        let found = |what: &str, lines: &[Vec<u8>]| {
            let v = check(&lines.concat());
            assert_ne!(v.report.verdict, Verdict::Sound, "line {at} {what}");
        };
        let mut without = lines.clone();
        without.remove(at);
        let line = Line::read(lines[at].strip_suffix(b"\n").unwrap()).unwrap();
        if at + 1 < lines.len() && !may_lack(&line) {
            found("removed", &without);
        }
        let mut twice = lines.clone();
        twice.insert(at, lines[at].clone());
        found("twice", &twice);
        if at + 1 < lines.len() {
            let mut swapped = lines.clone();
            swapped.swap(at, at + 1);
            found("swapped", &swapped);
        }
        for place in [lines[at].len() / 2, lines[at].len() - 60] {
            let mut changed = lines.clone();
            let byte = changed[at].get_mut(place).unwrap();
            *byte = if *byte == b'a' { b'b' } else { b'a' };
            found("changed", &changed);
        }
    }
}

#[test]
fn in_a_register_each_line_removed_or_changed_is_found() {
    let (day, _) = in_state(StateWord::Closed);
    let trust = trust();
    each_is_found(&day.bytes(), &|b| verify(b, Some(&trust)), &|_| false);
}

/// An excerpt has gaps, so that a station's line that belongs to no permit (a start, a move, an alarm of
/// the set) can be left out of it unseen; in the register it cannot. Everything else cannot here either.
#[test]
fn in_an_excerpt_each_line_removed_or_changed_is_found() {
    let (day, n) = in_state(StateWord::Closed);
    let excerpt = excerpt::of(day.lines(), &n).unwrap();
    let trust = trust();
    each_is_found(&excerpt, &|b| verify_excerpt(b, Some(&trust)), &|l| l.permit.is_none() && l.act.is_none());
}

/// The whole day: each line of the permit itself removed is found, and so is the excerpt of another day.
#[test]
fn in_the_excerpt_of_the_whole_day_each_line_of_the_permit_removed_is_found() {
    let day = whole();
    let excerpt = excerpt::of(day.lines(), &day.number).unwrap();
    let lines = split(&excerpt);
    assert!(lines.len() > 180, "{}", lines.len());
    let trust = trust();
    for at in (1..lines.len() - 1).step_by(12) {
        let line = Line::read(lines[at].strip_suffix(b"\n").unwrap()).unwrap();
        if line.permit.is_none() && line.act.is_none() {
            continue;
        }
        let mut without = lines.clone();
        without.remove(at);
        let v = verify_excerpt(&without.concat(), Some(&trust));
        assert_eq!(v.report.verdict, Verdict::Broken, "line {at}");
    }
}
