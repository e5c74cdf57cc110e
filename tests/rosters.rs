//! One version of a roster after another, in a register and from outside; and hostile versions.

use crate::audit::trust;
use crate::support::{PEOPLE, Station, key_of, roster_text, same_where_little_is_kept};
use airwrit::audit::{Later, Trust, Verdict, Verified, verify, verify_volumes};
use airwrit::record::json::{Json, object};
use airwrit::record::line::{Draft, What};
use airwrit::trust::roster::RosterSign;
use airwrit::trust::sshsig::{self, HashName};
use airwrit::trust::succession::{self, succeeds};
use airwrit::trust::{Role, Roster, Signer, allowed, changes};

fn verify_with(bytes: &[u8], trust: Option<&Trust>, later: &[Later]) -> Verified {
    let verified = verify_volumes(&[bytes], trust, later);
    same_where_little_is_kept(&verified.report, &[bytes], trust, later);
    verified
}

/// A roster as its parts, so that a test says only what it changes.
#[derive(Clone)]
struct Parts {
    version: u32,
    before: String,
    threshold: usize,
    custodians: Vec<String>,
    persons: Vec<(String, String, String, Vec<Key>)>,
}

#[derive(Clone)]
struct Key {
    of: String,
    from: String,
    to: String,
    revoked: Option<(String, String)>,
}

const FROM: &str = "2026-01-01T00:00:00Z";
const TO: &str = "2027-12-31T23:59:59Z";

fn key(of: &str) -> Key {
    Key { of: of.into(), from: FROM.into(), to: TO.into(), revoked: None }
}

/// The second version of the roster that the station in memory begins with.
fn second() -> Parts {
    Parts {
        version: 2,
        before: Roster::read(&roster_text()).unwrap().hash().to_owned(),
        threshold: 2,
        custodians: ["custodian-a", "custodian-b", "custodian-c"].map(String::from).to_vec(),
        persons: PEOPLE
            .iter()
            .map(|(id, name, roles)| ((*id).into(), (*name).into(), (*roles).into(), vec![key(id)]))
            .collect(),
    }
}

impl Parts {
    fn text(&self) -> String {
        let mut s = format!(
            "roster: {}\nbefore: \"{}\"\nthreshold: {}\ncustodians:\n",
            self.version, self.before, self.threshold
        );
        for c in &self.custodians {
            s += &format!("  - {}\n", key_of(c).public().to_ssh());
        }
        s += "persons:\n";
        for (id, name, roles, keys) in &self.persons {
            s += &format!("  - id: {id}\n    name: {name}\n    roles: [{roles}]\n    keys:\n");
            for k in keys {
                let ssh = key_of(&k.of).public().to_ssh();
                s += &format!("      - key: {ssh}\n        from: {}\n        to: {}\n", k.from, k.to);
                if let Some((at, how)) = &k.revoked {
                    s += &format!("        revoked: {{at: \"{at}\", as: {how}}}\n");
                }
            }
        }
        s
    }

    fn person(&mut self, id: &str) -> &mut (String, String, String, Vec<Key>) {
        self.persons.iter_mut().find(|p| p.0 == id).unwrap()
    }
}

fn signs(text: &str, by: &[&str]) -> Vec<RosterSign> {
    let mut signs: Vec<RosterSign> = by
        .iter()
        .map(|c| {
            let key = key_of(c);
            let sign = key.sign(&sshsig::tbs(sshsig::ROSTER, HashName::Sha512, text.as_bytes())).unwrap();
            RosterSign { hash: HashName::Sha512, key: key.public(), sign }
        })
        .collect();
    signs.sort_by_key(|s| s.key.to_ssh());
    signs
}

fn line(text: &str, by: &[&str]) -> Draft {
    let list = signs(text, by)
        .iter()
        .map(|s| {
            object([
                ("hash", s.hash.word().into()),
                ("key", s.key.to_ssh().into()),
                ("sign", sshsig::signature_to_base64(&s.sign).into()),
            ])
        })
        .collect();
    let data = object([("signs", Json::Arr(list)), ("text", text.into())]);
    Draft { kind: "roster", permit: None, by: None, what: What::Data(data) }
}

const TWO: &[&str] = &["custodian-a", "custodian-b"];

#[test]
fn a_rotated_key_signs_from_then_on_and_the_old_one_no_more() {
    let mut s = Station::twelve_lines();
    let mut r = second();
    let person = r.person("ola-brzoza");
    person.3[0].revoked = Some(("2026-11-25T05:24:00Z".into(), "retired".into()));
    person.3.push(key("ola's new key"));
    s.add(line(&r.text(), TWO));
    assert_eq!(s.chain().origin.roster.version, 2);
    let n = "KW2-261125-01";
    let old = s.act(n, "hand_back", "ola-brzoza", Role::Operator, vec![]);
    assert!(s.try_add(old).is_err(), "the old key was retired");
    let new = s.act_with(n, "hand_back", "ola-brzoza", "ola's new key", Role::Operator, vec![]);
    s.add(new);
    let v = verify(&s.bytes(), Some(&trust(&["custodian-a", "custodian-c"], 2)));
    assert_eq!(v.report.verdict, Verdict::Sound, "{:?}", v.report);
    // Lines before the change name the old roster, lines after it the new one.
    s.reopen().unwrap();
}

#[test]
fn a_compromised_key_leaves_what_it_signed_unproven_also_when_only_the_auditor_knows() {
    let s = Station::twelve_lines();
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut r = second();
    r.person("per-lind").3[0].revoked = Some(("2026-11-25T12:00:00Z".into(), "compromised".into()));
    let text = r.text();

    let later = Later { roster: Roster::read(&text).unwrap(), signs: signs(&text, TWO) };
    let v = verify_with(&s.bytes(), Some(&t), &[later]);
    let said: Vec<_> = v.report.said.iter().map(|s| (s.rule, s.line.map(|l| l.line))).collect();
    assert_eq!((v.report.verdict, said), (Verdict::Unproven, vec![("compromised", Some(9))]));

    // The same once the station has it.
    let mut s = s;
    s.add(line(&text, TWO));
    let v = verify(&s.bytes(), Some(&t));
    assert_eq!((v.report.verdict, v.report.said[0].rule), (Verdict::Unproven, "compromised"));

    // A retired key leaves everything as it was.
    let mut r = second();
    r.person("per-lind").3[0].revoked = Some(("2026-11-25T12:00:00Z".into(), "retired".into()));
    let text = r.text();
    let later = Later { roster: Roster::read(&text).unwrap(), signs: signs(&text, TWO) };
    let v = verify_with(&Station::twelve_lines().bytes(), Some(&t), &[later]);
    assert_eq!(v.report.verdict, Verdict::Sound);
}

/// A head copied by hand before the key was lost shows that what was signed by then is older. A head that cannot be of that
/// time shows nothing.
#[test]
fn a_head_copied_before_shows_that_a_key_was_good_when_it_signed() {
    use airwrit::audit::anchors::{heads, held, words};
    let s = Station::twelve_lines();
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut r = second();
    r.person("per-lind").3[0].revoked = Some(("2026-11-25T12:00:00Z".into(), "compromised".into()));
    let v = || verify_with(&s.bytes(), Some(&t), &[version(&r)]);
    let after = |line: usize, copied: &str| {
        let mut v = v();
        let text = format!("{copied} {}\n", v.lines[line].hash);
        let mut anchored = held(&v.lines, heads("heads", &text).unwrap());
        anchored.shows_before(&mut v.report);
        (v.report.verdict, words(&anchored))
    };
    let (verdict, said) = after(9, "2026-11-25T11:00:00Z");
    assert_eq!(verdict, Verdict::Sound);
    assert!(
        said.contains("line 9: signed with a key compromised at 2026-11-25T12:00:00Z, and it stood outside"),
        "{said}"
    );
    // A line before it; after the key was lost, or too near to it for two clocks; before the line says it was written.
    for (line, copied) in [
        (8, "2026-11-25T11:00:00Z"),
        (9, "2026-11-25T12:30:00Z"),
        (9, "2026-11-25T11:57:00Z"),
        (9, "2026-11-25T04:00:00Z"),
    ] {
        let (verdict, said) = after(line, copied);
        assert_eq!(verdict, Verdict::Unproven, "{line} {copied}");
        assert!(!said.contains("stood outside at 2026-11-25T11"), "{said}");
    }
}

#[test]
fn a_roster_from_outside_that_does_not_follow_is_told() {
    let s = Station::twelve_lines();
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut r = second();
    r.before = "1".repeat(64);
    let text = r.text();
    let later = Later { roster: Roster::read(&text).unwrap(), signs: signs(&text, TWO) };
    let v = verify_with(&s.bytes(), Some(&t), &[later]);
    assert_eq!((v.report.verdict, v.report.said[0].rule), (Verdict::Unproven, "roster"));
}

fn version(r: &Parts) -> Later {
    let text = r.text();
    Later { roster: Roster::read(&text).unwrap(), signs: signs(&text, TWO) }
}

/// The version after this one, with nothing else changed.
fn after(r: &Parts) -> Parts {
    let mut next = r.clone();
    next.version += 1;
    next.before = Roster::read(&r.text()).unwrap().hash().to_owned();
    next
}

#[test]
fn a_key_that_was_retired_before_it_signed_is_told_when_the_register_learns_it_too_late() {
    let s = Station::twelve_lines();
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut r = second();
    // The countersignature stands on line 9; this ends the key a second before it.
    let signed = s.open.as_ref().unwrap().lines[9].act.as_ref().unwrap().time.clone();
    r.person("per-lind").3[0].revoked = Some((signed.clone(), "retired".into()));
    let v = verify_with(&s.bytes(), Some(&t), &[version(&r)]);
    let said: Vec<_> = v.report.said.iter().map(|s| (s.rule, s.line.map(|l| l.line))).collect();
    assert_eq!((v.report.verdict, said), (Verdict::Unproven, vec![("retired", Some(9))]), "{:?}", v.report);
    assert!(v.report.said[0].why.contains(&signed), "{}", v.report.said[0].why);
    // A window that is cut short says the same.
    let mut r = second();
    r.person("per-lind").3[0].to = "2026-11-24T00:00:00Z".into();
    let v = verify_with(&s.bytes(), Some(&t), &[version(&r)]);
    assert_eq!(v.report.said[0].rule, "retired");
}

#[test]
fn versions_in_force_and_from_outside_are_named() {
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut s = Station::twelve_lines();
    let two = second();
    s.add(line(&two.text(), TWO));
    let three = after(&two);
    let v = verify_with(&s.bytes(), Some(&t), &[version(&two), version(&three)]);
    assert_eq!(v.report.verdict, Verdict::Sound, "{:?}", v.report);
    let named: Vec<_> = v.report.rosters.iter().map(|r| (r.version, r.brought_by.map(|l| l.line))).collect();
    assert_eq!(named, [(1, Some(0)), (2, Some(12)), (3, None)]);
    let words = airwrit::audit::words(&v.report);
    assert!(words.contains("in force from line 0"), "{words}");
    assert!(words.contains("taken in at line 12, in force from line 13"), "{words}");
    assert!(words.contains("given from outside; this register never took it in"), "{words}");
    // What it says of keys counts, though the register never had it.
    let mut bad = three.clone();
    bad.person("per-lind").3[0].revoked = Some(("2027-01-01T00:00:00Z".into(), "compromised".into()));
    let v = verify_with(&s.bytes(), Some(&t), &[version(&bad)]);
    assert_eq!(v.report.said[0].rule, "compromised");
}

/// What an auditor may be given, by mistake or on purpose: each is told in words, and none makes anything
/// better.
#[test]
fn downgraded_forked_and_gapped_rosters_are_told() {
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut s = Station::twelve_lines();
    let two = second();
    s.add(line(&two.text(), TWO));
    let said = |given: &[Later]| {
        let r = verify_with(&s.bytes(), Some(&t), given).report;
        (r.verdict, r.said.first().map_or(String::new(), |s| format!("{}: {}", s.rule, s.why)))
    };
    // The first version again: it is the one that was in force, and says nothing new.
    let text = roster_text();
    let first = Later { roster: Roster::read(&text).unwrap(), signs: signs(&text, TWO) };
    assert_eq!(said(&[first]).0, Verdict::Sound);
    // Another roster of the number that is in force here.
    let mut fork = second();
    fork.person("jan-kos").1 = "Jan Kos the other".into();
    let (verdict, why) = said(&[version(&fork)]);
    assert_eq!(verdict, Verdict::Unproven);
    assert!(why.contains("two rosters of one number"), "{why}");
    // A version between is missing.
    let (verdict, why) = said(&[version(&after(&after(&two)))]);
    assert_eq!(verdict, Verdict::Unproven);
    assert!(why.contains("the versions between are missing"), "{why}");
    // Signed by too few.
    let three = after(&two).text();
    let alone = Later { roster: Roster::read(&three).unwrap(), signs: signs(&three, &["custodian-a"]) };
    let (verdict, why) = said(&[alone]);
    assert_eq!(verdict, Verdict::Unproven);
    assert!(why.contains("1 of the custodians before signed it") && why.contains("is not counted"), "{why}");
}

#[test]
fn what_changes_is_told_in_words_and_the_next_version_is_ready_to_edit() {
    let first = Roster::read(&roster_text()).unwrap();
    let next = changes::next_text(&first).unwrap();
    let same = Roster::read(&next).unwrap();
    assert_eq!((same.version, same.before(), changes::changes(&first, &same).len()), (2, first.hash(), 0));
    let mut r = second();
    r.threshold = 1;
    r.custodians[2] = "custodian-d".into();
    r.person("jan-kos").2 = "auditor".into();
    r.person("jan-kos").1 = "Jan Kos-Lind".into();
    r.person("ola-brzoza").3[0].revoked = Some(("2026-11-25T05:15:00Z".into(), "retired".into()));
    r.person("ola-brzoza").3.push(key("ola's new key"));
    r.person("per-lind").3[0].to = "2026-12-31T23:59:59Z".into();
    r.persons.push(("new-one".into(), "New One".into(), "operator".into(), vec![key("new one")]));
    let new = Roster::read(&r.text()).unwrap();
    let told = changes::changes(&first, &new).join("\n");
    let print = |of: &str| key_of(of).public().fingerprint();
    for wanted in [
        "threshold: 1 instead of 2".to_owned(),
        format!("new custodian {}", print("custodian-d")),
        format!("no longer a custodian: {}", print("custodian-c")),
        "`jan-kos`: name Jan Kos-Lind instead of".to_owned(),
        "may also sign as auditor".to_owned(),
        "may no longer sign as".to_owned(),
        format!("`ola-brzoza`: key {} retired at 2026-11-25T05:15:00Z", print("ola-brzoza")),
        format!("`ola-brzoza`: new key {}", print("ola's new key")),
        format!("`per-lind`: key {} may sign from", print("per-lind")),
        "new person `new-one`, New One: operator".to_owned(),
    ] {
        assert!(told.contains(&wanted), "{wanted}\n{told}");
    }
    // The line that changes nothing is not there.
    assert_eq!(told.lines().count(), 11, "{told}");
    // Everything that forbids is told at once.
    r.version = 4;
    r.persons.truncate(2);
    let why = succession::forbidden(&first, &Roster::read(&r.text()).unwrap());
    assert!(why.len() >= 3, "{why:?}");
}

#[test]
fn allowed_signers_hold_windows_that_end_before_a_revocation() {
    let mut r = second();
    r.person("ola-brzoza").3[0].revoked = Some(("2026-11-25T05:15:00Z".into(), "retired".into()));
    r.person("per-lind").3[0].revoked = Some(("2026-11-25T12:00:00Z".into(), "compromised".into()));
    r.person("jan-kos").3[0].revoked = Some((FROM.into(), "retired".into()));
    let roster = Roster::read(&r.text()).unwrap();
    let text = allowed::allowed_signers(&roster, &|_| "custodian".into());
    let row = |id: &str| text.lines().filter(|l| l.starts_with(&format!("{id} "))).collect::<Vec<_>>();
    let ola = row("ola-brzoza");
    assert!(
        ola.len() == 1
            && ola[0].contains("namespaces=\"airwrit-sign-v1\",valid-after=\"20260101000000Z\"")
            && ola[0].contains("valid-before=\"20261125051459Z\""),
        "{ola:?}"
    );
    let per = row("per-lind");
    assert!(
        per[0].contains("\"airwrit-sign-v1,airwrit-token-v1\"")
            && per[0].contains("valid-before=\"20261125115959Z\""),
        "{per:?}"
    );
    assert!(text.contains("# The next key of per-lind was compromised at 2026-11-25T12:00:00Z"), "{text}");
    assert!(row("jan-kos").is_empty() && text.contains("# A key of jan-kos never could sign"), "{text}");
    assert_eq!(row("custodian").len(), 3);
    assert!(!text.contains("airwrit-seal-v1"));
}

/// Everything a hostile custodian or station might try. Each is refused, and by the register too.
#[test]
fn hostile_versions_are_refused() {
    type Change = fn(&mut Parts);
    let old = Roster::read(&roster_text()).unwrap();
    let cases: &[(&str, Change, &[&str])] = &[
        ("a version left out", |r| r.version = 3, TWO),
        ("the same version again", |r| r.version = 1, TWO),
        ("another version before it", |r| r.before = "a".repeat(64), TWO),
        ("a person gone", |r| r.persons.truncate(4), TWO),
        ("a key gone", |r| r.person("per-lind").3[0] = key("another"), TWO),
        (
            "a key with another person",
            |r| {
                r.person("per-lind").3[0] = key("x");
                r.person("jan-kos").3.push(key("per-lind"));
            },
            TWO,
        ),
        (
            "a window that begins earlier",
            |r| r.person("per-lind").3[0].from = "2025-01-01T00:00:00Z".into(),
            TWO,
        ),
        (
            "a window that begins later",
            |r| r.person("per-lind").3[0].from = "2026-02-01T00:00:00Z".into(),
            TWO,
        ),
        ("a window that ends later", |r| r.person("per-lind").3[0].to = "2029-01-01T00:00:00Z".into(), TWO),
        (
            "a custodian's key as a person's",
            |r| {
                r.custodians.pop();
                r.person("per-lind").3.push(key("custodian-c"));
            },
            TWO,
        ),
        ("a person's key as a custodian's", |r| r.custodians.push("per-lind".into()), TWO),
        (
            "a new person's key as a custodian's",
            |r| {
                r.person("jan-kos").3.push(key("n"));
                r.custodians.push("n".into());
            },
            TWO,
        ),
        ("a key twice", |r| r.person("jan-kos").3.push(key("per-lind")), TWO),
        ("a custodian twice", |r| r.custodians.push("custodian-a".into()), TWO),
        ("a threshold of none", |r| r.threshold = 0, TWO),
        ("a threshold out of reach", |r| r.threshold = 4, TWO),
        ("one signature of two", |_| (), &["custodian-a"]),
        ("a stranger's signature", |_| (), &["custodian-a", "mallory"]),
        (
            "only new custodians sign",
            |r| r.custodians = vec!["new-a".into(), "new-b".into()],
            &["new-a", "new-b"],
        ),
        ("only old custodians sign", |r| r.custodians = vec!["new-a".into(), "new-b".into()], TWO),
        ("a name with a hidden character", |r| r.person("jan-kos").1 = "Jan\u{202e} Kos".into(), TWO),
        ("an id of look-alike letters", |r| r.person("jan-kos").0 = "j\u{430}n-kos".into(), TWO),
        ("a role nobody knows", |r| r.person("jan-kos").2 = "operator, owner".into(), TWO),
    ];
    for (what, change, by) in cases {
        let mut r = second();
        change(&mut r);
        let text = r.text();
        let refused = match Roster::read(&text) {
            Err(_) => true,
            Ok(new) => succeeds(&old, &new, &signs(&text, by)).is_err(),
        };
        assert!(refused, "{what}");
        let mut s = Station::enrolled();
        assert!(s.try_add(line(&text, by)).is_err(), "{what}");
    }
    // Signed, but for another text; and signatures out of order.
    let text = second().text();
    let mut s = Station::enrolled();
    assert!(succeeds(&old, &Roster::read(&text).unwrap(), &signs("other", TWO)).is_err());
    let mut turned = signs(&text, TWO);
    turned.reverse();
    assert!(succeeds(&old, &Roster::read(&text).unwrap(), &turned).is_err());
    // And the good one is taken, once.
    s.add(line(&text, TWO));
    assert!(s.try_add(line(&text, TWO)).is_err(), "the same version a second time");
}

#[test]
fn a_revocation_is_never_taken_back_or_softened() {
    let mut first = second();
    first.person("per-lind").3[0].revoked = Some(("2026-10-01T00:00:00Z".into(), "compromised".into()));
    let text = first.text();
    let old = Roster::read(&text).unwrap();
    let next = |revoked: Option<(&str, &str)>| {
        let mut r = first.clone();
        r.version = 3;
        r.before = old.hash().to_owned();
        r.person("per-lind").3[0].revoked = revoked.map(|(a, h)| (a.to_owned(), h.to_owned()));
        let text = r.text();
        succeeds(&old, &Roster::read(&text).unwrap(), &signs(&text, TWO))
    };
    assert!(next(None).is_err());
    assert!(next(Some(("2026-11-01T00:00:00Z", "compromised"))).is_err());
    assert!(next(Some(("2026-10-01T00:00:00Z", "retired"))).is_err());
    assert!(next(Some(("2026-09-01T00:00:00Z", "compromised"))).is_ok());
    assert!(next(Some(("2026-10-01T00:00:00Z", "compromised"))).is_ok());
}
