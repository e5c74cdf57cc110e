//! One version of a roster after another, in a register and from outside; and hostile versions.

use crate::audit::trust;
use crate::support::{PEOPLE, Station, key_of, roster_text};
use airwrit::audit::{Later, Verdict, verify, verify_with};
use airwrit::record::json::{Json, object};
use airwrit::record::line::{Draft, What};
use airwrit::trust::roster::RosterSign;
use airwrit::trust::sshsig::{self, HashName};
use airwrit::trust::succession::succeeds;
use airwrit::trust::{Role, Roster, Signer};

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
    person.3[0].revoked = Some(("2026-11-25T05:15:00Z".into(), "retired".into()));
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
    let v = verify_with(&s.bytes(), Some(&t), &[later], false);
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
    let v = verify_with(&Station::twelve_lines().bytes(), Some(&t), &[later], false);
    assert_eq!(v.report.verdict, Verdict::Sound);
}

#[test]
fn a_roster_from_outside_that_does_not_follow_is_told() {
    let s = Station::twelve_lines();
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let mut r = second();
    r.before = "1".repeat(64);
    let text = r.text();
    let later = Later { roster: Roster::read(&text).unwrap(), signs: signs(&text, TWO) };
    let v = verify_with(&s.bytes(), Some(&t), &[later], false);
    assert_eq!((v.report.verdict, v.report.said[0].rule), (Verdict::Unproven, "roster"));
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
