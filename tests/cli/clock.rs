//! A clock that goes back, a clock that jumps ahead.

use crate::support::shell::{Shell, shipped};

#[test]
fn while_the_clock_is_behind_reports_are_kept_and_requests_wait_for_a_supervisor() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    // Two minutes are let pass; the line gets the last time again.
    s.wait(-100);
    s.run(&["in", "zaneta"], "").code(0);
    s.wait(-2 * 3600);
    s.run(&["on", "nikos"], "").code(1).says("clock is 1").says("min behind the last line");
    s.run(&["open", "--job", &shipped("examples/job.yaml")], "").code(1).says("airwrit clock");
    s.run(&["out", "zaneta"], "").code(0);
    s.run(&["off", "zaneta"], "").code(0);
    s.run(&["event", &n, "--what", "co"], "").code(0);
    s.run(&["call-out"], "").code(0);
    s.run(&["suspend", &n], "").code(0);
    let clock =
        ["clock", "--reason", "it was two hours ahead since the battery was changed; read off a watch"];
    s.signed(&clock, "lukasz").code(1).says("is no supervisor on the roster");
    let ran = s.signed(&clock, "eleni").code(0).says("I looked at another clock").says("the clock is right");
    assert!(ran.err.contains("was written by a wrong clock"), "{ran:?}");
    s.run(&["show"], "").code(0).says("suspended");
    s.signed(&clock, "eleni").code(1).says("there is nothing to set right");
    s.run(&["open", "--job", &shipped("examples/job.yaml")], "").code(0).says("KW7-261125-02");
    let register = s.at("register");
    s.bare(&["verify", &register], "").code(5).says("custodian");
    // An excerpt holds the setting of the clock, or its times would run backwards.
    let to = s.at("excerpt");
    s.run(&["excerpt", &n, "--to", &to], "").code(0);
    s.bare(&["verify", "--excerpt", &to], "").code(5);
}

/// How long it was across a clock that was set back no line says: at least as long as what the lines add up to; and what was
/// before it stays before it.
#[test]
fn a_clock_set_back_makes_nothing_shorter_in_the_report() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.wait(130);
    s.run(&["in", "zaneta"], "").code(0);
    s.wait(60);
    s.run(&["event", &n, "--what", "wind_turned"], "").code(0);
    s.wait(60);
    s.run(&["note", &n, "--words", "still inside"], "").code(0);
    s.wait(-1500);
    s.signed(&["clock", "--reason", "read off a watch"], "eleni").code(0);
    s.wait(120);
    s.run(&["out", "zaneta"], "").code(0);
    s.run(&["off", "zaneta"], "").code(0);
    let told = s.run(&["audit", &s.at("register")], "").out;
    for words in [
        "1 alarm with people inside, the last one out after 4 min",
        "nobody went on air on a permit that was not live",
        "the clock was set back by 24 min",
        "with 1 on air",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
}

#[test]
fn what_had_lapsed_by_a_wrong_clock_stays_so() {
    let (mut s, n) = Shell::live();
    s.wait(20 * 3600);
    s.run(&["note", &n, "--words", "a line by the wrong clock"], "").code(0);
    s.run(&["show"], "").code(0).says("lapsed");
    s.wait(-20 * 3600);
    s.signed(&["clock", "--reason", "set to the wrong zone"], "eleni").code(0);
    s.run(&["show"], "").code(0).says("lapsed");
    s.run(&["on", "zaneta", "--permit", &n], "").code(1).says("is lapsed");
}

/// A report after a jump is kept without a question, and answers none.
#[test]
fn a_report_does_not_make_the_day_sure() {
    let mut s = Shell::station();
    let job = shipped("examples/job.yaml");
    s.wait(3 * 86_400);
    s.run(&["set", "moved", "heron", "--place", "slip"], "").code(0);
    s.run(&["open", "--job", &job], "")
        .code(1)
        .says("before the reports that were just made is of 25 Nov 2026")
        .says("is today 2026-11-28?");
    s.run(&["open", "--job", &job, "--today", "2026-11-28"], "").code(0);
    s.run(&["open", "--job", &job], "").code(0);
}

#[test]
fn a_jump_of_more_than_a_day_asks_what_day_it_is() {
    let mut s = Shell::station();
    let job = shipped("examples/job.yaml");
    s.wait(3 * 86_400);
    let ran =
        s.run(&["open", "--job", &job], "").code(1).says("is today 2026-11-28?").says("3 days before now");
    assert!(ran.err.contains("add --today 2026-11-28"), "{ran:?}");
    s.run(&["open", "--job", &job, "--today", "2026-11-25"], "").code(1).says("clock says 2026-11-28");
    // What has happened is kept without being asked.
    s.run(&["set", "moved", "heron", "--place", "slip"], "").code(0);
    s.wait(2 * 86_400);
    s.run(&["open", "--job", &job, "--today", "2026-11-30"], "").code(0).says("KW7-261130-01");
    s.run(&["open", "--job", &job], "").code(0);
}

/// From the paper card, after the laptop was dead: kept, told, and opening nothing; a report counts.
#[test]
fn what_is_told_late_counts_for_the_tally_and_opens_nothing() {
    let mut s = Shell::station();
    let n = s.open();
    let late = ["answer", &n, "job_read", "yes", "--at", "05:20", "--told-by", "ines, from the card"];
    s.run(&late, "").code(1).says("a late answer opens nothing");
    s.run(&["show", &n], "").code(0).says("min late: of 05:20, told by ines, from the card");
    s.run(&["answer", &n, "job_read", "yes", "--again", "asked_again", "--at", "25:00"], "").code(2);
    s.run(&["answer", &n, "job_read", "yes", "--again", "asked_again"], "").code(0);
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta", "--report", "--at", "06:01", "--told-by", "oksana"], "").code(0);
    s.run(&["show"], "").code(0).says("ON AIR  Żaneta Brzęczyk (zaneta)");
    s.run(&["show", &n], "").code(0).says("at 06:01, told by oksana), entered late");
}
