//! The demo leaves the same bytes every time, and what it shows is true.

use crate::support::shell::{Shell, shipped};
use serde_json::Value;

/// A copy of the demo's folder.
fn demo() -> Shell {
    let (s, told) = Shell::demo();
    assert!(told.contains("HOLD at reserve_pressure b") && told.contains("REFUSED"), "{told}");
    s
}

#[test]
fn it_leaves_a_register_keys_paper_and_damaged_copies() {
    let s = demo();
    for name in [
        "demo/register/0001.jsonl",
        "demo/seal/key",
        "demo/keys/lukasz.pem",
        "demo/roster.yaml",
        "demo/trust.yaml",
        "demo/allowed_signers",
        "demo/permits/KM3-261125-01-live.pdf",
        "demo/permits/KM3-261125-01-card.pdf",
        "demo/permits/KM3-261125-01-closed.pdf",
        "demo/KM3-261125-01.excerpt.jsonl",
    ] {
        assert!(s.path(name).is_file(), "{name}");
    }
    assert!(s.read("demo/permits/KM3-261125-01-live.pdf").starts_with(b"%PDF-"));
}

#[test]
fn a_second_run_leaves_the_same_register_and_touches_no_first_one() {
    let mut s = demo();
    let into = s.at("demo");
    s.bare(&["demo", "--into", &into], "").code(3).says("is not empty");
    let again = s.at("again");
    s.bare(&["demo", "--into", &again], "").code(0);
    for name in [
        "register/0001.jsonl",
        "roster.yaml",
        "permits/KM3-261125-01-live.pdf",
        "permits/KM3-261125-01-card.pdf",
        "permits/KM3-261125-01-closed.pdf",
    ] {
        assert!(s.read(&format!("demo/{name}")) == s.read(&format!("again/{name}")), "{name} differs");
    }
}

#[test]
fn it_verifies_with_trust_from_outside_and_its_damaged_copies_do_not() {
    let mut s = demo();
    let (register, trust, excerpt) =
        (s.at("demo/register"), s.at("demo/trust.yaml"), s.at("demo/KM3-261125-01.excerpt.jsonl"));
    s.bare(&["verify", &register, "--trust", &trust], "").code(0).says("sound");
    s.bare(&["verify", &register], "").code(5).says("unproven");
    s.bare(&["verify", &excerpt, "--excerpt", "--trust", &trust], "").code(0).says("sound");
    let ran = s.bare(&["verify", &register, "--trust", &trust, "--json"], "").code(0);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((json["verdict"].as_str(), json["scope"].as_str()), (Some("sound"), Some("register")));
    let text = String::from_utf8(s.read("demo/trust.yaml")).unwrap();
    let prints: Vec<String> =
        text.lines().filter_map(|l| l.trim().strip_prefix("- ")).map(str::to_owned).collect();
    let mut args = vec!["verify", register.as_str()];
    for p in &prints {
        args.extend(["--custodian", p]);
    }
    // Two of the three signed.
    s.bare(&args, "").code(5);
    args.extend(["--threshold", "2"]);
    s.bare(&args, "").code(0);
    s.bare(&["verify", &register, "--custodian", "SHA256:short"], "").code(2).says("no key fingerprint");
    s.bare(&["verify", &register, "--threshold", "2"], "").code(2);
    s.bare(&["verify", &register, "--custodian", &prints[0], "--threshold", "2"], "")
        .code(2)
        .says("threshold");
    let mut damaged = 0;
    for entry in std::fs::read_dir(s.path("demo/damaged")).unwrap() {
        let at = entry.unwrap().path();
        s.bare(&["verify", at.to_str().unwrap(), "--trust", &trust], "").code(4).says("broken");
        damaged += 1;
    }
    assert!(damaged >= 5, "{damaged}");
}

#[test]
fn its_permit_is_shown_and_the_hint_can_be_typed() {
    let mut s = demo();
    let again = s.at("again");
    let ran = s.bare(&["demo", "--into", &again], "").code(0);
    let hint = ran.err.split('`').nth(1).unwrap().to_owned();
    let args: Vec<&str> = hint.split_whitespace().skip(1).collect();
    s.bare(&args, "").code(0).says("KM3-261125-01").says("CLOSED");
}

/// Where a permit says something, as DEVELOPERS.md names it: true if it is there and not empty.
fn stands(place: &str, hung: &Value, closed: &Value) -> bool {
    let full = |v: &Value| v.as_str().is_some_and(|t| !t.is_empty() && t != "not given");
    let list = |view: &Value, of: &str| view[of].as_array().unwrap().clone();
    let (of, what) = place.split_once(' ').unwrap_or((place, ""));
    match of {
        "page_one" => list(hung, of).iter().any(|s| s["label"] == what && full(&s["value"])),
        "wearers" => {
            let all = list(hung, of);
            !all.is_empty() && all.iter().all(|w| full(&w[what]))
        }
        "steps" => list(closed, "stages")
            .iter()
            .flat_map(|s| s["steps"].as_array().unwrap())
            .any(|s| s["step"] == what && s["answers"].as_array().unwrap().iter().any(|a| full(&a["value"]))),
        "day" => {
            let said = |d: &Value| format!("{} ", d["words"].as_str().unwrap());
            list(closed, of).iter().any(|d| said(d).contains(&format!("{what} ")) && full(&d["by"]))
        }
        "sign_offs" => list(closed, of).iter().any(|s| s["what"] == what && full(&s["name"])),
        // The number of a sheet is put in where it is printed.
        "copy" => hung["copy"].is_string(),
        member => what.is_empty() && full(&hung[member]),
    }
}

#[test]
fn the_permit_says_what_the_table_of_its_items_promises() {
    let text = std::fs::read_to_string(shipped("DEVELOPERS.md")).unwrap();
    let table = text.split_once("<!-- permit items -->").unwrap().1;
    let table = table.split_once("<!-- end of permit items -->").unwrap().0;
    // As it was hung, and at its end.
    let (hung, closed) = (Shell::demo_after(181), Shell::demo_after(385));
    assert_eq!((hung["state"].as_str(), closed["state"].as_str()), (Some("live"), Some("closed")));
    let (mut places, mut left) = (0, 0);
    for row in table.lines().filter(|l| l.starts_with("| ")).skip(1) {
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        let [_, item, named, how, _] = cells[..] else { panic!("not three columns: {row}") };
        if named == "-" {
            assert!(how.contains("permit"), "{item}: nowhere, and left to nobody");
            left += 1;
        }
        for place in named.split('`').skip(1).step_by(2) {
            assert!(stands(place, &hung, &closed), "{item}: {place} is not on the demo's permit");
            places += 1;
        }
    }
    assert!(places > 60 && left == 1, "{places} {left}");
    for none in ["page_one Colour", "wearers shoe", "steps job_sung", "day sings", "sign_offs Sung", "colour"]
    {
        assert!(!stands(none, &hung, &closed), "{none}");
    }
    let row = |label: &str| {
        let all = hung["page_one"].as_array().unwrap();
        all.iter().find(|s| s["label"] == label).map(|s| format!("{} | {}", s["value"], s["note"])).unwrap()
    };
    assert_eq!(row("Air tested on"), r#""2026-11-20" | "by Maëlle Grandclère; carried from the register""#);
    assert_eq!(
        row("Holder, answers for this air"),
        r#""Łukasz Gżegżółka" | "declared 25 Nov 2026 07:47 (+01:00)""#
    );
    assert_eq!(row("Issued by"), r#""Ελένη Κυματοθραύστη" | "25 Nov 2026 07:49 (+01:00)""#);
    assert!(
        row("Rescue").ends_with(r#"| "goes in: Παύλος Ανεμώνης, Inês Valongueiro""#),
        "{}",
        row("Rescue")
    );
}

#[test]
fn a_register_of_many_days_is_sound_and_everybody_came_out() {
    let mut s = Shell::new();
    let into = s.at("many");
    s.bare(&["demo", "--into", &into, "--days", "4", "--permits-per-day", "1"], "")
        .code(0)
        .says("4 invented days");
    s.bare(&["demo", "--into", &into, "--days", "1"], "").code(3).says("is not empty");
    s.bare(&["demo", "--into", &into, "--days", "367"], "").code(2);
    let (register, trust) = (s.at("many/register"), s.at("many/trust.yaml"));
    let ran = s.bare(&["verify", &register, "--trust", &trust, "--json"], "").code(0);
    let json: Value = serde_json::from_str(&ran.out).unwrap();
    let permits = json["permits"].as_array().unwrap();
    assert_eq!(permits.len(), 4, "{json}");
    assert!(permits.iter().all(|p| p[1] == "closed"), "{json}");
    // The supply fails on the fourth of these days.
    let lines = String::from_utf8(s.read("many/register/0001.jsonl")).unwrap();
    for kind in ["roll_call", "reinstate", "air_test", "reading", "close"] {
        assert!(lines.contains(&format!("\"kind\":\"{kind}\"")), "{kind}");
    }
}

/// What cannot be issued is refused at once: nobody is sent to a gauge first.
#[test]
fn a_closed_permit_sends_nobody_to_a_gauge() {
    let mut s = demo();
    let (register, seal, key) = (s.at("demo/register"), s.at("demo/seal"), s.at("demo/keys/eleni.pem"));
    let place = ["--register", &register, "--seal", &seal, "--today", "2026-11-25"];
    let ran =
        s.bare(&[&["countersign", "KM3-261125-01", "--by", "eleni", "--key", &key][..], &place].concat(), "");
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(!ran.err.contains("read this gauge yourself") && ran.err.contains("refused:"), "{}", ran.err);
}
