//! The demo leaves the same bytes every time, and what it shows is true.

use crate::support::shell::{Shell, copy};

fn played() -> &'static std::path::Path {
    static AT: std::sync::OnceLock<(tempfile::TempDir, String)> = std::sync::OnceLock::new();
    let (folder, told) = AT.get_or_init(|| {
        let mut s = Shell::new();
        let into = s.at("demo");
        let ran = s.bare(&["demo", "--into", &into], "").code(0);
        (s.folder, ran.out)
    });
    assert!(told.contains("HOLD at reserve_pressure b") && told.contains("REFUSED"), "{told}");
    folder.path()
}

/// A copy of the demo's folder.
fn demo() -> Shell {
    let s = Shell::new();
    copy(played(), s.folder.path());
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
