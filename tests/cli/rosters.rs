//! The next version of a roster from first draft to in force; a newer one given to the verifier; tokens.

use crate::support::shell::{PASSPHRASE, Shell};
use airwrit::trust::Roster;

/// The next version with one change, signed by both custodians; its file.
fn next(s: &mut Shell, name: &str, old: &str, from: &str, to: &str) -> String {
    let (old, file) = (s.at(old), s.at(name));
    s.bare(&["roster", "next", &old, "--to", &file], "").code(0).says("written: version");
    let text = String::from_utf8(s.read(name)).unwrap();
    assert!(text.contains(from), "{text}");
    s.write(name, text.replacen(from, to, 1));
    for c in ["cust-a", "cust-b"] {
        let (key, sig) = (s.at(&format!("{c}.pem")), s.at(&format!("{name}.{c}.sig")));
        s.bare(&["roster", "sign", &file, "--key", &key, "--to", &sig], PASSPHRASE).code(0);
    }
    file
}

/// The key of a person ends at a time, in a roster's text: what to replace, and with what.
fn revoked(s: &mut Shell, id: &str, at: &str, how: &str) -> (String, String) {
    let public = s.bare(&["key", "show", &s.at(&format!("{id}.pem"))], PASSPHRASE).code(0).out;
    let key = public.lines().next().unwrap();
    let window = "\n        from: 2026-01-01T00:00:00Z\n        to: 2027-12-31T23:59:59Z\n";
    (format!("{key}{window}"), format!("{key}{window}        revoked: {{at: \"{at}\", as: {how}}}\n"))
}

#[test]
fn a_later_roster_is_compared_signed_and_put_in_force_once() {
    let mut s = Shell::station();
    let (old, new) = revoked(&mut s, "lukasz", "2026-11-25T04:00:00Z", "retired");
    let two = next(&mut s, "two.yaml", "roster.yaml", &old, &new);
    let register = s.at("register");
    s.bare(&["roster", "compare", &register, &two], "")
        .code(0)
        .says("roster version 2 after version 1")
        .says("`lukasz`: key SHA256:")
        .says("retired at 2026-11-25T04:00:00Z")
        .says("enough custodians of both versions have signed it");
    let sig = s.at("two.yaml.cust-a.sig");
    s.run(&["roster", "adopt", &two, "--sig", &sig], "").code(1).says("their threshold is 2");
    let before = s.read("register/0001.jsonl");
    s.run(&["roster", "adopt", &two, "--by", "Lukasz B"], "").code(1).says("no person id");
    assert_eq!(s.read("register/0001.jsonl"), before);
    s.run(&["roster", "adopt", &two, "--by", "tuula"], "")
        .code(0)
        .says("retired at 2026-11-25T04:00:00Z")
        .says("roster version 2 in force after line");
    let before = s.read("register/0001.jsonl");
    s.run(&["roster", "adopt", &two], "").code(1).says("version 2 is in force here already");
    let first = s.at("roster.yaml");
    let (a, b) = (s.at("roster.cust-a.sig"), s.at("roster.cust-b.sig"));
    s.run(&["roster", "adopt", &first, "--sig", &a, "--sig", &b], "")
        .code(1)
        .says("this is an older version");
    assert_eq!(s.read("register/0001.jsonl"), before);

    // The old key signs no more, and the register still verifies.
    let number = s.open();
    s.signed(&["declare", &number], "lukasz").code(1).says("");
    s.bare(&["verify", &register], "").code(5).says("roster version 2").says("in force from line");
    // What OpenSSH is told of it.
    s.run(&["key", "allowed-signers"], "").code(0).says("valid-before=\"20261125035959Z\"");
    let to = s.at("allowed");
    s.run(&["key", "allowed-signers", "--roster", &first, "--to", &to], "").code(0);
    assert!(!String::from_utf8(s.read("allowed")).unwrap().contains("20261125035959Z"));
}

#[test]
fn what_a_version_may_not_change_is_told_before_anybody_signs() {
    let mut s = Shell::station();
    let first = s.at("roster.yaml");
    let text = String::from_utf8(s.read("roster.yaml")).unwrap();
    let roster = Roster::read(&text).unwrap();
    let gone = text[..text.rfind("  - id:").unwrap()]
        .replace("roster: 1", "roster: 3")
        .replace(&"0".repeat(64), &"1".repeat(64))
        .replace("2027-12-31", "2029-12-31");
    let new = s.write("three.yaml", gone);
    let ran = s.bare(&["roster", "compare", &first, &new], "").code(1);
    for wanted in [
        "FORBIDDEN: roster version 3 follows version 1, wanted 2; the versions between are missing"
            .to_owned(),
        format!("wanted {}, the SHA-256 of version 1", roster.hash()),
        "is gone; take the roles away instead".to_owned(),
        "later than before".to_owned(),
        "not yet enough".to_owned(),
    ] {
        assert!(ran.out.contains(&wanted), "{wanted}\n{}", ran.out);
    }
    s.run(&["roster", "adopt", &new], "").code(1).says("the versions between are missing");
    let ran = s.bare(&["roster", "compare", &first, &new, "--json"], "").code(1);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert!(json["forbidden"].as_array().unwrap().len() >= 4, "{json}");
    s.bare(&["roster", "next", &first, "--to", &first], "").code(3);
}

#[test]
fn the_demo_roster_is_not_adopted_by_a_real_register() {
    let mut s = Shell::station();
    let into = s.at("demo");
    s.bare(&["demo", "--into", &into], "").code(0);
    let file = s.at("demo/roster.yaml");
    s.run(&["roster", "adopt", &file], "").code(1).says("keys of the demo");
}

#[test]
fn late_revocations_reach_the_verifier_from_outside() {
    let (mut s, _) = Shell::live();
    let (old, new) = revoked(&mut s, "eleni", "2026-11-25T20:00:00Z", "compromised");
    let two = next(&mut s, "two.yaml", "roster.yaml", &old, &new);
    let (old, new) = revoked(&mut s, "eleni", "2026-11-25T20:00:00Z", "retired");
    let other = next(&mut s, "other.yaml", "roster.yaml", &old, &new);
    let register = s.at("register");
    let custodians: Vec<String> = ["cust-a", "cust-b"]
        .iter()
        .map(|c| s.bare(&["key", "show", &s.at(&format!("{c}.pem"))], PASSPHRASE).out)
        .map(|out| out.lines().nth(1).unwrap().to_owned())
        .collect();
    let mut args = vec!["verify", &register, "--custodian", &custodians[0], "--custodian", &custodians[1]];
    s.bare(&args, "").code(0);
    args.extend(["--roster", &two]);
    s.bare(&args, "").code(5).says("compromised at 2026-11-25T20:00:00Z").says("given from outside");
    *args.last_mut().unwrap() = &other;
    s.bare(&args, "").code(0).says("roster version 2").says("never took it in");
    // A signature of another file is told by name.
    let sig = s.at("two.yaml.cust-a.sig");
    args.extend(["--sig", &sig]);
    s.bare(&args, "").code(3).says("two.yaml.cust-a.sig is no signature of a roster that you gave");
    // Two rosters of one number.
    let (a, b) = (s.at("roster.cust-a.sig"), s.at("roster.cust-b.sig"));
    let first = s.at("roster.yaml");
    let adopt = s.run(&["roster", "adopt", &two], "");
    adopt.code(0);
    let n = args.len() - 2;
    s.bare(&args[..n], "").code(5).says("two rosters of one number");
    let mut args = args[..n - 2].to_vec();
    args.extend(["--roster", &first, "--sig", &a, "--sig", &b]);
    s.bare(&args, "").code(5).says("compromised");
}

/// Nobody goes on air on a permit issued with a key that was in other hands.
#[test]
fn a_live_permit_does_not_outlive_the_key_that_issued_it() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let (old, new) = revoked(&mut s, "eleni", "2026-11-20T20:00:00Z", "compromised");
    let two = next(&mut s, "two.yaml", "roster.yaml", &old, &new);
    s.run(&["roster", "adopt", &two], "")
        .code(0)
        .says(&format!("NOTE: countersign of {n}"))
        .says("open another");
    s.run(&["in", "zaneta"], "").code(1).says("countersign of");
    s.run(&["off", "zaneta"], "").code(0);
    s.run(&["on", "zaneta"], "").code(1).says("countersign of");
    s.run(&["show", &n], "").code(0).says("countersign of");
}

/// A permit lapses once the last one is off, and its token says so.
#[test]
fn a_token_of_a_permit_whose_time_is_over_tells_who_is_on_it_still() {
    let (mut s, number) = Shell::live();
    let view = s.run(&["show", &number, "--json"], "").code(0).out;
    let view: serde_json::Value = serde_json::from_str(&view).unwrap();
    let token = view["token"].as_str().unwrap().to_owned();
    s.run(&["on", "zaneta"], "").code(0);
    s.wait(24 * 3600);
    let ran = s.run(&["check-token", &token], "").code(1).says("people are still on its air");
    assert!(ran.out.contains("still on air on it: zaneta") && !ran.out.contains("is lapsed"), "{}", ran.out);
    s.run(&["--today", "2026-11-26", "off", "zaneta"], "").code(0);
    s.run(&["check-token", &token], "").code(1).says("is lapsed now");
}

#[test]
fn a_token_is_checked_from_register_or_roster() {
    let (mut s, number) = Shell::live();
    let view = s.run(&["show", &number, "--json"], "").code(0).out;
    let view: serde_json::Value = serde_json::from_str(&view).unwrap();
    let token = view["token"].as_str().unwrap().to_owned();
    let custodians: Vec<String> = ["cust-a", "cust-b"]
        .iter()
        .map(|c| s.bare(&["key", "show", &s.at(&format!("{c}.pem"))], PASSPHRASE).out)
        .map(|out| out.lines().nth(1).unwrap().to_owned())
        .collect();
    let trust = format!("custodians: [\"{}\", \"{}\"]\nthreshold: 2\n", custodians[0], custodians[1]);
    let trust = s.write("trust.yaml", trust);

    s.run(&["check-token", &token, "--trust", &trust], "")
        .code(0)
        .says("issued, and its time runs")
        .says(&format!("permit {number}, valid to 2026-11-25T"))
        .says("at the site 25 Nov 2026")
        .says("of this register carries it")
        .says("the permit is live now")
        .says("It does not prove that the sheet is the only copy");
    s.run(&["check-token", "-", "--trust", &trust], &token).code(0);
    let code = airwrit::paper::qr::Matrix::of_bytes(token.as_bytes()).unwrap();
    let seen = s.write("seen.png", airwrit::cli::picture::png(&code).unwrap());
    let typed = s.write("typed.txt", format!("{token}\n"));
    // Whoever types it types it in small letters too.
    for file in [seen, typed, token.to_lowercase()] {
        s.run(&["check-token", &file, "--trust", &trust], "").code(0).says("issued, and its time runs");
    }
    s.run(&["check-token", &token], "").code(5).says("nobody outside this register vouches");
    let json = s.run(&["check-token", &token, "--trust", &trust, "--json"], "").code(0).out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((json["answer"].as_str(), json["state"].as_str()), (Some("yes"), Some("live")));

    // With the roster alone: who and until when, and that nobody looked the permit up.
    let (roster, a, b) = (s.at("roster.yaml"), s.at("roster.cust-a.sig"), s.at("roster.cust-b.sig"));
    let mut alone = vec!["check-token", &token, "--trust", &trust, "--roster", &roster];
    alone.extend(["--sig", &a, "--sig", &b]);
    s.bare(&alone, "").code(0).says("was not looked up in a register");

    // With both, the register that was named is looked up too.
    let mut both = alone.clone();
    let register = s.at("register");
    both.extend(["--register", &register]);
    s.bare(&both, "").says("of this register carries it").says("now, as this register says");

    // Every letter changed, cut or added is found out.
    for i in 0..token.len() {
        let mut bad = token.clone().into_bytes();
        bad[i] = if bad[i] == b'A' { b'B' } else { b'A' };
        let bad = String::from_utf8(bad).unwrap();
        let ran = s.bare(
            &["check-token", &bad, "--trust", &trust, "--roster", &roster, "--sig", &a, "--sig", &b],
            "",
        );
        assert!(ran.code == 4 || ran.code == 1, "{i}: {ran:?}");
        assert!(!ran.out.contains("issued, and"), "{i}");
    }
    for none in ["", "hello", "no-such-file.png"] {
        s.run(&["check-token", none, "--trust", &trust], "").code(3).says("neither a token");
    }
    for bad in ["AW1", &token[..token.len() - 1], &format!("{token}A")] {
        s.run(&["check-token", bad, "--trust", &trust], "").code(4).says("broken");
    }
    // The last letter of the signature holds a spare bit.
    let letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
    let last = letters.find(&token[token.len() - 1..]).unwrap();
    let spare = format!("{}{}", &token[..token.len() - 1], &letters[last | 1..=last | 1]);
    s.run(&["check-token", &spare, "--trust", &trust], "").code(4).says("spare bits");

    // A person who is no supervisor on the roster given; a key in other hands.
    let (old, new) = revoked(&mut s, "eleni", "2026-11-25T00:00:00Z", "compromised");
    let two = next(&mut s, "two.yaml", "roster.yaml", &old, &new);
    let three = next(&mut s, "three.yaml", "roster.yaml", "roles: [supervisor", "roles: [auditor");
    s.bare(&["check-token", &token, "--trust", &trust, "--roster", &two], "")
        .code(1)
        .says("is compromised since");
    s.bare(&["check-token", &token, "--trust", &trust, "--roster", &three], "")
        .code(1)
        .says("is no supervisor on roster version 2");
    s.run(&["suspend", &number, "--reason", "wind"], "").code(0);
    s.run(&["check-token", &token, "--trust", &trust], "").code(1).says("is suspended now");
    s.bare(&both, "").code(1).says("is suspended now");
    s.wait(24 * 3600);
    s.bare(&alone, "").code(1).says("its time has run out");
}
