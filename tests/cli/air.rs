//! People on air, the set, events, calling out.

use crate::support::shell::Shell;

#[test]
fn nobody_goes_on_air_before_it_is_live_and_the_refusal_is_kept() {
    let mut s = Shell::station();
    let n = s.open();
    let ran = s.run(&["on", "zaneta"], "").code(1).says("is draft, not live");
    // A refusal does not tell how to get round it.
    assert!(!ran.err.contains("--report"), "{}", ran.err);
    // Every step of the form lacks; nobody reads 150 lines.
    assert!(ran.err.lines().count() <= 24 && ran.err.contains(" more; `airwrit show"), "{ran:?}");
    s.run(&["on", "somebody"], "").code(1).says("planned on no open permit");
    s.run(&["show", &n], "").code(0).says("Refused by the program: on air: zaneta");
}

#[test]
fn what_has_happened_is_written_with_its_breach() {
    let mut s = Shell::station();
    let n = s.open();
    let ran = s.run(&["on", "zaneta", "--report", "--at", "05:58", "--told-by", "oksana"], "").code(0);
    assert!(ran.err.contains("BREACH: ") && ran.err.contains("is draft, not live"), "{ran:?}");
    s.run(&["show", &n], "").code(0).says("BREACH").says("at 05:58, told by oksana");
    s.run(&["show"], "").code(0).says("ON AIR  Żaneta Brzęczyk (zaneta)");
    s.run(&["off", "zaneta"], "").code(0);
    s.run(&["on", "a diver nobody planned", "--report", "--set", "heron"], "")
        .code(0)
        .says("BREACH: there is no permit");
    s.run(&["off", "a diver nobody planned"], "").code(0);
    s.run(&["off", "a diver nobody planned"], "").code(0);
    s.run(&["on", "zaneta", "--at", "25:00"], "").code(2).says("wanted a time like 14:05");
    // Asked for, it is asked for now: a time told with it is not dropped without a word.
    s.run(&["on", "zaneta", "--at", "05:58"], "").code(2).says("add --report to write it as told");
    s.run(&["set", "started", "heron", "--told-by", "oksana"], "").code(2).says("add --report");
    s.run(&["in", "zaneta\u{202e}"], "").code(1).says("U+202E");
}

/// By id or by name, on a permit that is known or not: the same person, on the tally once, and off it.
#[test]
fn a_report_finds_its_person() {
    let (mut s, _) = Shell::live();
    s.run(&["on", "Żaneta Brzęczyk"], "").code(0).says("Żaneta Brzęczyk (zaneta) on air");
    s.run(&["in", "zaneta"], "").code(0);
    s.run(&["out", "Żaneta Brzęczyk", "--permit", "KW7-261125-77"], "").code(0);
    s.run(&["show"], "").code(0).says("Żaneta Brzęczyk (zaneta)  out, still on air");
    let shown = s.run(&["show", "--json"], "").code(0).out;
    let json: serde_json::Value = serde_json::from_str(&shown).unwrap();
    assert_eq!(
        (&json["on_air"][0]["person"], json["on_air"].as_array().map(Vec::len)),
        (&"zaneta".into(), Some(1))
    );
    s.run(&["off", "Żaneta Brzęczyk"], "").code(0);
    let shown = s.run(&["show"], "").code(0);
    assert!(!shown.out.contains("ON AIR"), "{}", shown.out);
    s.run(&["off", "somebody\u{202e}"], "").code(0);
}

/// A reading out of its limits is told at once, keeps everyone from going on air, and stands until it is read again.
#[test]
fn a_reading_out_of_its_limits_holds() {
    let (mut s, n) = Shell::live();
    let read = |s: &mut Shell, what: &str, value: &str, more: &[&str]| {
        let args = [&["reading", &n, "--what", what, "--value", value], more].concat();
        s.run(&args, "").code(0)
    };
    let shown = s.run(&["show", &n], "").code(0).out;
    let leave = shown.lines().find(|l| l.contains("Leave by")).unwrap_or_default();
    assert!(leave.contains(" bar"), "{leave}\n{shown}");
    let good = read(&mut s, "co", "2 ppm", &[]);
    assert!(!good.out.contains("OUT OF LIMITS"), "{good:?}");
    read(&mut s, "co", "900 ppm", &[])
        .says("OUT OF LIMITS: co was read")
        .says("wanted at most 5 ppm")
        .says("EVERYONE OUT");
    s.run(&["on", "zaneta"], "").code(1).says("co was read at");
    s.run(&["show", &n], "").code(0).says("OUT OF LIMITS: co");
    // Told late it opens nothing.
    s.wait(1800);
    read(&mut s, "co", "1 ppm", &["--at", "06:50"]).says("OUT OF LIMITS");
    read(&mut s, "co", "1 ppm", &[]);
    read(&mut s, "reserve", "90 bar", &["--item", "a"])
        .says("OUT OF LIMITS: reserve a was read")
        .says("leave-by");
    s.run(&["on", "zaneta"], "").code(1).says("reserve a was read");
    read(&mut s, "reserve", "3000 psi", &["--item", "a"]);
    read(&mut s, "supply", "-5 bar", &[]).says("OUT OF LIMITS");
    read(&mut s, "supply", "6 bar", &[]);
    read(&mut s, "mood", "20 °C", &[]).says("compared with no limit");
    // A good reading makes what was answered before a bad one not good again: that is answered anew on a suspended permit.
    s.run(&["on", "zaneta"], "").code(1).says("asked again: co was read as 900 ppm");
    s.run(&["reading", &n, "--what", "co", "--value", "5 bar"], "").code(2).says("wanted a share by volume");
}

/// What is read or tested out of its limits suspends what is live on that air, once.
#[test]
fn what_is_out_of_its_limits_suspends() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    for (args, reason) in [
        (&["reading", &n, "--what", "co", "--value", "900 ppm", "--by", "oksana"][..], "co was read"),
        (
            &["set", "air-test", "heron", "--place", "quay3", "--sampler", "maelle", "--co", "900 ppm"],
            "the air test of 2026-11-25",
        ),
    ] {
        let (mut s, n) = Shell::live();
        s.run(&["on", "zaneta"], "").code(0);
        s.run(args, "").code(0).says("heron: suspended").says("EVERYONE OUT");
        let shown = s.run(&["show", &n], "").code(0).says("SUSPENDED").out;
        assert!(shown.contains("Suspended: out of limits: ") && shown.contains(reason), "{shown}");
        s.run(args, "").code(0).says("EVERYONE OUT");
        let lines = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
        assert_eq!(lines.matches("\"kind\":\"suspend\"").count(), 1);
    }
    s.run(&["reading", &n, "--what", "co", "--value", "2 ppm"], "").code(0);
    s.run(&["show", &n], "").code(0).says("LIVE");
}

/// Whatever happens to a set under people is a call first.
#[test]
fn a_set_that_is_moved_under_people_calls_them_out() {
    for args in [
        &["set", "moved", "heron", "--place", "slip"][..],
        &["set", "plugged", "heron", "--supply-point", "q3b"],
        &["set", "stopped", "heron", "--report"],
    ] {
        let (mut s, n) = Shell::live();
        s.run(&["on", "zaneta"], "").code(0);
        let ran = s.run(args, "").code(0).says("ON AIR: Żaneta Brzęczyk (zaneta)").says("SIGNAL: ");
        assert!(ran.err.starts_with("OUT NOW"), "{}", ran.err);
        s.run(&["show", &n], "").code(0).says("SUSPENDED");
        s.run(&["off", "zaneta"], "").code(0);
        assert!(!s.run(args, "").err.contains("OUT NOW"));
    }
}

/// A time of day that has not come is no time of yesterday; what has happened is kept all the same.
#[test]
fn an_hour_that_has_not_come_yet() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let soon = airwrit::time::clock(&airwrit::time::utc(s.second.get() + 600), "+01:00");
    s.run(&["reading", &n, "--what", "co", "--value", "2 ppm", "--at", &soon], "")
        .code(2)
        .says("has not come yet here");
    s.run(&["off", "zaneta", "--at", &soon], "").code(0).says("kept as of now");
    assert!(!s.run(&["show"], "").code(0).out.contains("ON AIR"));
}

/// What is told for a time before they went on air was another time: nobody is lost from the tally over it.
#[test]
fn leaving_told_for_a_time_before_they_went_on_takes_nobody_off() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.wait(600);
    s.run(&["in", "zaneta"], "").code(0);
    let shown = |s: &mut Shell| s.run(&["show"], "").code(0).out;
    assert!(shown(&mut s).contains("Żaneta Brzęczyk (zaneta)  in"));
    s.run(&["out", "zaneta", "--at", "05:30"], "").code(0).says("STILL ON THE TALLY");
    assert!(shown(&mut s).contains("Żaneta Brzęczyk (zaneta)  in"));
    s.run(&["off", "zaneta", "--at", "05:30"], "").code(0).says("STILL ON THE TALLY");
    // A time that is still to come is yesterday's.
    s.run(&["off", "zaneta", "--at", "23:59"], "")
        .code(0)
        .says("told for 24 Nov 2026")
        .says("STILL ON THE TALLY");
    assert!(shown(&mut s).contains("Żaneta Brzęczyk (zaneta)  in"));
    s.signed(&["cancel", &n, "--reason", "no more work"], "eleni").code(1).says("zaneta is on air");
    s.run(&["off", "zaneta"], "").code(0);
    assert!(!shown(&mut s).contains("ON AIR"));
    s.signed(&["cancel", &n, "--reason", "no more work"], "eleni").code(0);
    let v = s.at("register");
    s.bare(&["verify", &v], "").code(5);
}

#[test]
fn on_in_out_off_and_the_set_is_not_stopped_under_them() {
    let (mut s, n) = Shell::live();
    s.run(&["in", "zaneta"], "").code(1).says("is not on air");
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["on", "zaneta"], "").code(1).says("already");
    s.run(&["in", "zaneta"], "").code(0);
    s.run(&["set", "stopped", "heron"], "").code(1).says("zaneta is on air from it").says("--report");
    s.run(&["walk", &n, "--shutdown"], "yes").says("zaneta is on air");
    s.signed(&["cancel", &n, "--reason", "rain"], "eleni").code(1);
    s.run(&["reading", &n, "--what", "supply", "--value", "207 bar"], "").code(0);
    s.run(&["reading", &n, "--what", "supply", "--value", "207"], "").code(2).says("has a unit");
    s.run(&["reading", &n, "--what", "rack", "--value", "-7 °C"], "").code(0).says("read: rack -7 °C; line");
    s.run(&["reading", &n, "--what", "supply", "--value", "much"], "").code(2).says("got \"much\", wanted");
    s.run(&["note", &n, "--words", "the lamp at the manhole was changed"], "").code(0);
    s.run(&["event", &n, "--what", "wind_turned", "--words", "turned to south"], "")
        .code(0)
        .says("suspended");
    s.run(&["on", "nikos"], "").code(1).says("is suspended, not live");
    s.run(&["out", "zaneta"], "").code(0);
    s.run(&["off", "zaneta"], "").code(0);
    s.run(&["show", &n], "").code(0).says("turned to south").says("Set").says("207 bar");
}

#[test]
fn a_name_mistyped_going_off_air_is_told() {
    let (mut s, _) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["off", "zanetta"], "").code(0).says("IF zaneta WAS MEANT").says("on air: zaneta");
    let ran = s.run(&["off", "zaneta"], "").code(0);
    assert!(!ran.err.contains("not on the tally"), "{ran:?}");
}

#[test]
fn a_reading_in_a_unit_of_something_else_is_not_taken() {
    let (mut s, n) = Shell::live();
    s.run(&["reading", &n, "--what", "reserve", "--value", "207 L/min"], "").code(2).says("wanted a gauge");
    s.run(&["reading", &n, "--what", "co", "--value", "3 ppm"], "").code(0);
}

#[test]
fn a_damaged_register_never_says_that_nobody_is_on_air() {
    let (mut s, n) = Shell::live();
    let whole = s.read("register/0001.jsonl");
    s.run(&["on", "zaneta"], "").code(0);
    let mut damaged = whole;
    damaged.extend_from_slice(b"{\"body\":\n");
    std::fs::write(s.path("register/0001.jsonl"), &damaged).unwrap();
    let ran = s.run(&["call-out", &n], "").code(4);
    assert!(ran.err.contains("ON AIR: perhaps others") && !ran.err.contains("nobody on"), "{ran:?}");
    std::fs::write(s.path("register/0001.jsonl"), b"no register\n").unwrap();
    let ran = s.run(&["call-out", &n], "");
    assert!(ran.err.contains("ON AIR: not known"), "{ran:?}");
}

/// Told on the set and on no permit, somebody is still on air from it: nobody signs that nobody is.
#[test]
fn a_permit_is_not_cancelled_over_somebody_told_on_its_set_alone() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "nikos", "--report", "--set", "heron"], "").code(0);
    let cancel = ["cancel", &n, "--reason", "the ferry sails early"];
    s.signed(&cancel, "eleni").code(1).says("nikos is on air");
    s.run(&["off", "nikos"], "").code(0);
    s.signed(&cancel, "eleni").code(0).says("is cancelled");
}

/// An alarm whose word is not known here is still an alarm.
#[test]
fn any_word_for_an_alarm_is_kept_and_suspends() {
    let (mut s, n) = Shell::live();
    s.run(&["event", &n, "--what", "squeal", "--words", "from the motor"], "").code(0).says("suspended");
    s.run(&["show", &n], "").code(0).says("SUSPENDED").says("Event: other: squeal from the motor");
    // What the trade calls by other words is what it is.
    for (typed, what) in [
        ("Loss of supply", "supply_low"),
        ("compressor stopped", "supply_low"),
        ("power cut", "supply_low"),
        ("smoke", "fire"),
        ("wearer collapsed", "wearer_silent"),
        ("high temperature", "temperature"),
    ] {
        s.run(&["event", &n, "--what", typed], "").code(0).says(&format!("event {what}; suspended"));
    }
}

#[test]
fn anyone_suspends() {
    let (mut s, n) = Shell::live();
    s.run(&["suspend", &n, "--reason", "a smell"], "").code(0).says("suspended");
    s.run(&["on", "zaneta"], "").code(1);
    s.run(&["suspend", "--set", "heron", "--reason", "a smell"], "").code(0);
    // Without a reason, with one that no record may hold, with a number that nobody knows.
    s.run(&["suspend", &n], "").code(0);
    s.run(&["suspend", &n, "--reason", "a\u{202e}smell"], "").code(0);
    let (mut s, _) = Shell::live();
    s.run(&["suspend", "KW7-261125-77"], "").code(0).says("it is kept for");
    s.run(&["on", "zaneta"], "").code(1).says("is suspended, not live");
}

/// A second set in force beside `heron`.
fn second_set(s: &mut Shell) {
    let second = include_str!("../../examples/set.yaml")
        .replace("set: heron", "set: gannet")
        .replace("HN-26", "GN-26");
    let file = s.write("gannet.yaml", second);
    s.signed(&["approve", &file], "tuula").code(0);
}

#[test]
fn nothing_that_is_typed_wrongly_keeps_the_work_going() {
    let wrong: &[&[&str]] = &[
        &["suspend"],
        &["suspend", "KW7-261125-77"],
        &["suspend", "--set", "gannett"],
        &["suspend", "--at", "9:5", "--told-by", "\u{1b}[31m"],
        &["event", "--what", "fire"],
        &["event", "--what", "fire", "--set", "no such\u{202e}", "--by", "somebody else"],
        &["event", "--what", "fire", "KW7-261125-77", "--at", "25:00"],
    ];
    for args in wrong {
        let (mut s, _) = Shell::live();
        second_set(&mut s);
        s.run(args, "").code(0).says("suspended; line");
        s.run(&["on", "zaneta"], "").code(1).says("is suspended, not live");
    }
}

#[test]
fn a_report_is_kept_whatever_is_typed_beside_it() {
    let (mut s, n) = Shell::live();
    second_set(&mut s);
    s.run(&["on", "zaneta"], "").code(0);
    // A time that is none: kept as of now, and said.
    s.run(&["in", "zaneta", "--report", "--at", "9:5"], "").code(0).says("kept as of now").says("9:5");
    // Of another set: she stays on the tally, and it is said.
    for set in ["gannet", "gannett"] {
        s.run(&["off", "zaneta", "--set", set], "").code(0).says("is on air from heron, not from");
        s.run(&["show"], "").code(0).says("ON AIR  Żaneta Brzęczyk (zaneta)");
    }
    s.run(&["out", "zaneta", "--at", "25:00"], "").code(0).says("kept as of now");
    s.run(&["off", "zaneta", "--told-by", "\u{1b}[31m"], "").code(0);
    assert!(!s.run(&["show"], "").code(0).out.contains("ON AIR"));
    // Two sets, and nobody says of which: kept, and it counts for both.
    for set in [None, Some("gannett"), Some("no such\u{202e}")] {
        let on = ["on", "a stranger", "--report", "--set"];
        let args: Vec<&str> = set.map_or(on[..3].to_vec(), |set| [&on[..], &[set]].concat());
        s.run(&args, "").code(0).says("counts for every set");
        for stopped in ["heron", "gannet"] {
            s.run(&["set", "stopped", stopped], "").code(1).says("a stranger is on air from it");
        }
        s.run(&["walk", &n, "--shutdown"], "yes").says("a stranger is on air");
        s.run(&["on", "zaneta"], "").code(1).says("nobody knows on which outlet a stranger is");
        s.run(&["off", "a stranger"], "").code(0);
        assert!(!s.run(&["show"], "").code(0).out.contains("ON AIR"));
    }
    s.run(&["off", "somebody else"], "").code(0).says("was not on the tally");
    s.run(&["set", "stopped", "heron", "--report", "--at", "9:5"], "").code(0).says("kept as of now");
}

#[test]
fn calling_out_shows_the_signal_before_it_writes() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let ran = s.run(&["call-out", &n, "--words", "supply low"], "").code(0);
    let at = |t: &str| ran.err.find(t).unwrap_or_else(|| panic!("{t}: {ran:?}"));
    assert_eq!(at("I AM CALLING EVERYONE OUT"), 0);
    assert!(at("SIGNAL: Three long blasts") < at("RESCUE: 555 0142"));
    assert!(at("RESCUE") < at("ASSEMBLY: Bollard 31"));
    assert!(ran.err.contains("ON AIR: Żaneta Brzęczyk (zaneta) on air outside, Red outlet"), "{ran:?}");
    assert!(ran.out.contains("everyone called out; line"), "{ran:?}");
    s.run(&["in", "zaneta"], "").code(1).says("called out");
    s.run(&["show", &n], "").code(0).says("EVERYONE CALLED OUT: supply low");
}

#[test]
fn calling_out_asks_nothing_and_is_never_refused() {
    let (mut s, n) = Shell::live();
    s.run(&["call-out"], "")
        .code(0)
        .says("SIGNAL: Three long blasts")
        .says(&format!("{n}: everyone called out"));
    s.run(&["call-out", "NO-SUCH-PERMIT", "--at", "99:99", "--words", "a\u{202e}b"], "")
        .code(0)
        .says("SIGNAL");
    s.run(&["show", &n], "").code(0).says("[NO-SUCH-PERMIT]").says("[99:99]").says("aU+202Eb");
    let mut s = Shell::station();
    s.run(&["call-out"], "").code(0).says("heron: everyone called out");
}

#[test]
fn calling_out_works_where_nothing_can_be_kept() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    // A line in the middle is damaged: the register takes nothing any more.
    let whole = s.read("register/0001.jsonl");
    let mut bytes = whole.clone();
    let at = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').nth(60).unwrap().0;
    bytes[at + 40] ^= 1;
    std::fs::write(s.path("register/0001.jsonl"), &bytes).unwrap();
    let ran = s.run(&["call-out", &n, "--words", "supply low"], "").code(4);
    assert!(ran.err.starts_with("I AM CALLING EVERYONE OUT\n  SIGNAL: Three long blasts"), "{ran:?}");
    assert!(ran.err.contains("NOT KEPT IN THE REGISTER") && ran.err.contains("aside-"), "{ran:?}");
    let ran = s.run(&["off", "zaneta"], "").code(4);
    assert!(ran.err.contains("NOT KEPT IN THE REGISTER"), "{ran:?}");
    let aside = super::trouble::aside(&s);
    assert!(aside.contains("supply low") && aside.contains("off_air") && aside.contains("zaneta"), "{aside}");
    // The key is gone: the lines stand, nothing can be added.
    std::fs::write(s.path("register/0001.jsonl"), &whole).unwrap();
    let key = s.read("seal/key");
    std::fs::remove_file(s.path("seal/key")).unwrap();
    let ran = s.run(&["call-out", &n], "").code(3);
    // What stands aside counts on the screen.
    assert!(
        ran.err.contains("SIGNAL: Three long blasts")
            && !ran.err.contains("ON AIR: Żaneta Brzęczyk (zaneta)"),
        "{ran:?}"
    );
    s.run(&["on", "nikos", "--report", "--told-by", "oksana", "--at", "07:30"], "").code(3);
    s.run(&["suspend", &n], "").code(3);
    s.run(&["event", "--set", "heron", "--what", "co"], "").code(3);
    let shown =
        s.run(&["show"], "").code(0).says("6 reports written aside").says("ON AIR  Νίκος Θαλασσινός (nikos)");
    assert!(
        !shown.out.contains("ON AIR  Żaneta Brzęczyk (zaneta)") && shown.out.contains("suspended"),
        "{shown:?}"
    );
    // The key is back: they are entered before anything else, once.
    std::fs::write(s.path("seal/key"), key).unwrap();
    let names: Vec<_> = std::fs::read_dir(s.path("register")).unwrap().map(|e| e.unwrap().path()).collect();
    let files: Vec<_> = names.iter().filter(|p| p.to_str().unwrap().contains("aside-")).collect();
    let kept: Vec<_> = files.iter().map(|p| (p, std::fs::read(p).unwrap())).collect();
    s.run(&["out", "nikos"], "").code(0);
    assert!(super::trouble::aside(&s).is_empty());
    // A machine that stopped between the line and the removal of the files.
    for (path, bytes) in kept {
        std::fs::write(path, bytes).unwrap();
    }
    s.run(&["off", "nikos"], "").code(0);
    let text = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
    assert_eq!(text.matches("\"kind\":\"recovery\"").count(), 1);
    let shown = s.run(&["show", &n], "").code(0);
    // What no rule would have let pass is entered with its breach, judged after what was told before it.
    assert!(text.contains(r#""everyone was called out on it""#), "no such breach");
    for words in ["Event: co", "oksana, at 07:30 site time", "EVERYONE CALLED OUT: supply low", "nikos"] {
        assert!(shown.out.contains(words), "{words}: {}", shown.out);
    }
    assert!(!s.run(&["show"], "").code(0).out.contains("ON AIR"));
    s.bare(&["verify", &s.at("register")], "").code(5).says("unproven: all");
    let to = s.at("excerpt");
    s.run(&["excerpt", &n, "--to", &to], "").code(0);
    s.bare(&["verify", "--excerpt", &to], "").code(5);
    // No register at all.
    let nowhere = s.at("nowhere");
    let ran = s.bare(&["call-out", "--register", &nowhere], "").code(3);
    assert!(ran.err.starts_with("I AM CALLING EVERYONE OUT\n"), "{ran:?}");
    assert!(ran.err.contains("write it on paper"), "{ran:?}");
}

#[test]
fn an_exclamation_mark_calls_out_at_every_prompt() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["off", "zaneta"], "").code(0);
    let ran = s.run(&["walk", &n, "--shutdown"], "!\nq").code(0);
    assert!(ran.err.contains("I AM CALLING EVERYONE OUT\n  SIGNAL: "), "{}", ran.err);
    assert!(ran.out.contains("everyone called out; line"), "{}", ran.out);
    let mut s = Shell::station();
    let n = s.open();
    // At the prompt for what was done, and while a reason is asked for.
    let ran = s.run(&["walk", &n], "no\n!\nq").code(0);
    assert!(
        ran.err.contains("what was done since?") && ran.err.contains("I AM CALLING EVERYONE OUT"),
        "{}",
        ran.err
    );
}

#[test]
fn what_happens_to_the_set_is_kept() {
    let mut s = Shell::station();
    s.run(&["set", "started", "heron"], "").code(1).says("no permit for heron is open");
    s.run(&["set", "started", "heron", "--report", "--hours", "412"], "").code(0).says("BREACH");
    s.run(&["set", "started", "crane"], "").code(1).says("no set `crane` is in force");
    s.run(&["set", "moved", "heron", "--place", "quay3"], "").code(0);
    s.run(&["set", "plugged", "heron", "--supply-point", "q3b"], "").code(0);
    s.run(&["set", "filled", "heron", "--from", "this_set"], "").code(0);
    s.run(&["set", "filled", "heron", "--from", "thin_air"], "").code(2);
    s.run(
        &["set", "serviced", "heron", "--what", "filter", "--hours", "413 h", "--words", "coal changed"],
        "",
    )
    .code(0);
    s.run(&["set", "moved", "heron", "--place", "quay3", "--hours", "1"], "")
        .code(2)
        .says("keeps no hour meter");
    let air = [
        "set",
        "air-test",
        "heron",
        "--place",
        "quay3",
        "--sampler",
        "maelle",
        "--co",
        "1 ppm",
        "--o2",
        "20.9 %",
    ];
    s.run(&air, "").code(0);
    let air = ["set", "air-test", "heron", "--place", "quay3", "--sampler", "maelle", "--co", "1"];
    s.run(&air, "").code(2).says("has a unit");
    s.run(&["set", "stopped", "heron", "--report"], "").code(0);
}

/// Where nothing can be kept, what stops the work is written aside for everything that it concerns.
#[test]
fn a_stop_that_cannot_be_kept_names_what_it_stops() {
    for args in [&["suspend"][..], &["event", "--what", "fire", "KW7-261125-77"], &["call-out"]] {
        let (mut s, _) = Shell::live();
        let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
        s.run(args, "").code(3).says("NOT KEPT IN THE REGISTER");
        drop(lock);
        s.run(&["on", "zaneta"], "").code(1).says("is suspended, not live");
    }
}

/// Suspended is said of what was live, and of nothing else.
#[test]
fn what_was_not_live_is_not_said_to_be_suspended() {
    let mut s = Shell::station();
    let none = "no permit on it was live, so none was suspended; line";
    s.run(&["event", "--what", "co"], "").code(0).says(&format!("heron: event co; {none}"));
    s.run(&["suspend"], "").code(0).says(&format!("heron: kept; {none}"));
    let n = s.open();
    let draft = "it was not live but draft, so it was not suspended; line";
    s.run(&["event", &n, "--what", "co"], "").code(0).says(&format!("{n}: event co; {draft}"));
    s.run(&["suspend", &n], "").code(0).says(&format!("{n}: kept; {draft}"));
    s.run(&["roll-call", &n, "--missing", "zaneta", "--found", "nikos"], "yes\nyes\nyes\nyes\n")
        .says(&format!("MISSING: Żaneta Brzęczyk (zaneta); {}", draft.trim_end_matches("; line")));
    let (mut s, n) = Shell::declared();
    s.run(&["suspend", &n], "").code(0).says("it was declared, not live: it is a draft again");
    let (mut s, n) = Shell::declared();
    s.run(&["event", "--what", "co"], "").code(0).says(&format!("no longer declared, a draft again: {n}"));
    let (mut s, n) = Shell::live();
    s.run(&["event", "--set", "heron", "--what", "co"], "").code(0).says(&format!("; suspended: {n}; line"));
    s.run(&["event", "--set", "heron", "--what", "co"], "")
        .code(0)
        .says(&format!("; suspended as before: {n}"));
    s.run(&["event", &n, "--what", "co"], "").code(0).says("event co; suspended as before; line");
}

/// What has ended is not said to be suspended.
#[test]
fn what_has_ended_stays_ended() {
    let (mut s, n) = Shell::live();
    s.signed(&["cancel", &n, "--reason", "rain"], "eleni").code(0);
    for args in [&["suspend", &n][..], &["event", &n, "--what", "co"]] {
        let ran = s.run(args, "").code(0).says("; it is cancelled and stays so");
        assert!(!ran.out.contains(": ;"), "{ran:?}");
        assert!(!ran.out.contains("suspended"), "{ran:?}");
    }
}
