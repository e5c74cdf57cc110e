//! Each alarm by itself: who was on air then, who was told off after it, and what a roll call says of them.

use super::known::{called, plain};
use super::{Day, Move, in_an_alarm, outside, page, report, told};

/// Somebody whom no line tells off did not come off in time, however soon the register ends.
#[test]
fn whoever_is_never_told_off_after_an_alarm_is_named_and_no_good_answer() {
    let mut d = in_an_alarm();
    d.wait(60);
    let n = d.number.clone();
    d.on_permit(&n, "note", &[("words", "the lorry is gone")]);
    let r = report(&d);
    let p = plain(&r, "on_air_live");
    let alarm = &r.registers[0].permits[0].alarms[0].at;
    let never = format!("and is never told off after it: Żaneta Brzęczyk (line {})", alarm.line);
    assert!(p.answer == "not_known" && p.words.contains(&never), "{} {}", p.answer, p.words);
    assert!(p.lines.contains(alarm), "{:?}", p.lines);
    // It is no time off.
    assert!(!p.words.contains(" after it;") && !p.words.contains("and off "), "{}", p.words);
    assert!(r.overall.words.contains(&never), "{}", r.overall.words);
    // Longer than the way out by the last line, they stayed; and no time is told of when they came off.
    d.wait(18 * 3600);
    d.on_permit(&n, "note", &[("words", "the next morning")]);
    let r = report(&d);
    let p = plain(&r, "on_air_live");
    assert!(p.answer == "no" && p.words.contains(&never), "{} {}", p.answer, p.words);
    assert!(p.words.contains("was not live: Żaneta Brzęczyk") && !p.words.contains("18 h"), "{}", p.words);
    // Nobody has yet to come off of a permit that is over, or that an alarm stopped.
    assert!(plain(&r, "off").answer == "no" && !r.overall.words.contains("have yet to come off"));
    let mut d = outside();
    d.wait(20 * 3600);
    let n = d.number.clone();
    d.on_permit(&n, "note", &[("words", "the next morning")]);
    let r = report(&d);
    let p = plain(&r, "on_air_live");
    assert!(p.answer == "no" && p.words.contains("never told off after it: Żaneta Brzęczyk (its end, "));
    assert!(!r.overall.words.contains("have yet to come off"), "{}", r.overall.words);
    assert!(r.overall.words.contains("1 is on air by the last line: Żaneta Brzęczyk"), "{}", r.overall.words);
}

/// Told off and missing: one of the two lines is untrue, and nobody here knows which.
#[test]
fn what_a_roll_call_contradicts_is_no_evidence_of_who_came_out() {
    let both = |d: &Day, told: u64, call: u64| {
        let r = report(d);
        let words = format!("is told out or off by line {told} and MISSING at the roll call of line {call}");
        for about in ["out", "on_air_live"] {
            let p = plain(&r, about);
            assert_eq!(p.answer, "not_known", "{about}: {}", p.words);
            assert!(p.words.contains(&words), "{about}: {words}: {}", p.words);
            let named: Vec<u64> = p.lines.iter().map(|at| at.seq).collect();
            assert!(named.contains(&told) && named.contains(&call), "{about}: {named:?}");
            assert!(r.overall.words.contains(&words), "{}", r.overall.words);
        }
        assert!(page(&r).unwrap().contains(&words));
    };
    // Missing, and then told off.
    let mut d = in_an_alarm();
    d.wait(60);
    let call = called(&mut d, "missing", "zaneta", None);
    d.wait(30);
    let off = told(&mut d, "zaneta", Move::OffAir, None);
    both(&d, off.seq, call.seq);
    // Told off, and then missing; found later, it is not known since when they were out.
    let mut d = in_an_alarm();
    d.wait(60);
    let off = told(&mut d, "zaneta", Move::OffAir, None);
    d.wait(60);
    let call = called(&mut d, "missing", "zaneta", None);
    both(&d, off.seq, call.seq);
    d.wait(60);
    called(&mut d, "found", "zaneta", None);
    both(&d, off.seq, call.seq);
    // Found before they were told off, nothing contradicts it; nor where a call found them and a later one did not.
    let good = |order: &[&str]| {
        let mut d = in_an_alarm();
        for what in order {
            d.wait(20);
            match *what {
                "off" => drop(told(&mut d, "zaneta", Move::OffAir, None)),
                "missing" => drop(called(&mut d, "missing", "zaneta", None)),
                _ => drop(called(&mut d, "found", "zaneta", None)),
            }
        }
        let r = report(&d);
        (plain(&r, "out").answer, plain(&r, "on_air_live").answer)
    };
    assert_eq!(good(&["missing", "found", "off"]), ("yes", "yes"));
    assert_eq!(good(&["off", "found", "missing"]), ("yes", "yes"));
    assert_eq!(good(&["off", "missing"]), ("not_known", "not_known"));
}
