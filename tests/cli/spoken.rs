//! Which language a run speaks: asked for, or that of the site file last entered; never a reason not to call people out.

use crate::support::shell::{Shell, shipped};
use airwrit::cli::Place;
use airwrit::cli::args::Args;
use airwrit::cli::spoken;
use airwrit::tongue::Tongue;
use clap::Parser;

const KNOWN: &str = "wanted one of: en (English), pl (polski), uk (українська)";

/// What a command on the station's register speaks where nothing is asked for.
fn spoken_at(s: &Shell, command: &[&str]) -> Tongue {
    let (register, seal) = (s.at("register"), s.at("seal"));
    let words = ["airwrit", "--register", &register, "--seal", &seal];
    let args = Args::try_parse_from(words.iter().chain(command)).unwrap();
    let place = Place { register: args.register.clone(), seal: args.seal.clone(), today: None };
    spoken::of_run(&args, &place)
}

/// Puts the example site in force again, in another language.
fn enter_site(s: &mut Shell, language: &str) {
    let site = std::fs::read_to_string(shipped("examples/site.yaml")).unwrap();
    let site = site.replace("\nlanguage: en\n", &format!("\nlanguage: {language}\n"));
    let file = s.write(&format!("site-{language}.yaml"), site);
    s.signed(&["approve", &file], "tuula").code(0).says("kormoran");
}

#[test]
fn an_unknown_language_is_refused_and_those_known_are_named() {
    let mut s = Shell::station();
    for args in
        [["board", "--language", "xx"], ["--language", "", "show"], ["--language", "p\u{202e}l", "board"]]
    {
        let ran = s.run(&args, "").code(2).says(KNOWN);
        assert!(ran.out.is_empty() && ran.err.starts_with("error: got the language `"), "{ran:?}");
    }
}

#[test]
fn a_known_language_is_taken_before_and_behind_the_command() {
    let mut s = Shell::station();
    let n = s.open();
    for tag in ["en", "pl", "uk", "pl-PL", "UK"] {
        s.run(&["--language", tag, "board"], "").code(0);
        s.run(&["show", &n, "--language", tag], "").code(0).says(&n);
        let to = s.at(&format!("{tag}.pdf"));
        s.run(&["print", &n, "--language", tag, "--to", &to], "");
    }
    // Not without a register either.
    let ran = s.bare(&["--register", &s.at("nowhere"), "--language", "pl", "board"], "").code(3);
    assert!(ran.err.contains("nowhere"), "{ran:?}");
}

#[test]
fn a_report_is_never_refused_for_its_language() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta", "--language", "xx"], "").code(0).says(KNOWN);
    s.run(&["call-out", &n, "--language", "xx"], "")
        .code(0)
        .says(KNOWN)
        .says("I AM CALLING EVERYONE OUT")
        .says(&n);
}

/// Signal first, spelling second: a slip of the finger keeps no report back.
#[test]
fn a_report_is_heard_whatever_is_typed_beside_it() {
    let (mut s, n) = Shell::live();
    for who in ["zaneta", "nikos"] {
        s.run(&["on", who], "").code(0);
    }
    let lines = |s: &Shell| s.read("register/0001.jsonl").iter().filter(|b| **b == b'\n').count();
    let calls: [&[&str]; 7] = [
        &["call-out", &n, "--wrods", "x"],
        &["call-out", &n, "--words", "x", "y"],
        &["callout", &n],
        &["call-out", &n, "--set", "kormoran-3"],
        &["call-out", &n, "--words"],
        &["call-out", "--nope"],
        &["--language", "call-out"],
    ];
    for call in calls {
        let before = lines(&s);
        let ran = s.run(call, "").code(0).says("I AM CALLING EVERYONE OUT").says("SIGNAL");
        assert_eq!(lines(&s), before + 1, "{call:?}: {ran:?}");
    }
    let odd: [(&[&str], &str); 3] = [
        (&["event", &n, "--waht", "co"], "--waht co"),
        (&["out", "zaneta", "--bye", "oksana"], "--bye oksana"),
        (&["off", "zaneta", "--at-once=1"], "--at-once=1"),
    ];
    for (report, left_out) in odd {
        let before = lines(&s);
        let ran = s.run(report, "").code(0).says(left_out);
        assert!(lines(&s) > before, "{report:?}: {ran:?}");
    }
    assert!(String::from_utf8(s.read("register/0001.jsonl")).unwrap().contains("\"what\":\"co\""));
    // Without a name nobody can be off; it says that nothing was kept.
    s.run(&["off"], "").code(2).says("NOT KEPT");
    // What is no report is read as it stands or not at all, whatever words are in it.
    let others: [&[&str]; 3] = [
        &["note", "out", "--nope"],
        &["cancel", &n, "--reason", "off", "--nope"],
        &["countersign", &n, "--untill", "12:00", "--reason", "call-out"],
    ];
    for other in others {
        let before = lines(&s);
        s.run(other, "").code(2);
        assert_eq!(lines(&s), before, "{other:?}");
    }
}

#[test]
fn the_site_file_last_entered_says_which_language() {
    let mut s = Shell::station();
    assert_eq!(spoken_at(&s, &["board"]), Tongue::English);
    let before = s.read("register/0001.jsonl");
    enter_site(&mut s, "pl");
    for command in [&["board"][..], &["call-out"], &["print", "P", "--to", "x"]] {
        assert_eq!(spoken_at(&s, command), Tongue::Polish, "{command:?}");
    }
    // What authors and auditors read, and the invented day.
    for command in [&["demo"][..], &["lint", "x"], &["verify", "x"]] {
        assert_eq!(spoken_at(&s, command), Tongue::English, "{command:?}");
    }
    // Other lines, and bytes that are none, behind it.
    s.open();
    let mut bytes = s.read("register/0001.jsonl");
    bytes.extend(b"\xff\x00 half a line");
    s.write("register/0001.jsonl", &bytes);
    assert_eq!(spoken_at(&s, &["board"]), Tongue::Polish);
    let copy = s.write("copy.jsonl", &bytes);
    s.write("register/0001.jsonl", &before);
    assert_eq!(spoken_at(&s, &["board"]), Tongue::English);
    // Signing elsewhere speaks as the site of what is signed on.
    let sign = ["sign", &copy, "--as", "eleni", "--key", "k", "declare"];
    assert_eq!(spoken_at(&s, &sign), Tongue::Polish);
}

#[test]
fn a_language_not_spoken_here_or_no_register_is_english() {
    let mut s = Shell::station();
    enter_site(&mut s, "pl");
    enter_site(&mut s, "el");
    assert_eq!(spoken_at(&s, &["board"]), Tongue::English);
    s.run(&["board"], "").code(0);
    std::fs::remove_dir_all(s.path("register")).unwrap();
    for command in [["board"], ["call-out"]] {
        assert_eq!(spoken_at(&s, &command), Tongue::English);
    }
    // A stray volume: nobody could say which is the last.
    std::fs::create_dir(s.path("register")).unwrap();
    s.write("register/copy.jsonl", "x");
    assert_eq!(spoken_at(&s, &["call-out"]), Tongue::English);
}
