//! The roster: who may sign as what, with which key, from when to when; signed by custodians.
//!
//! YAML, cited by the SHA-256 of its bytes. Always: a `Roster` is whole and consistent (custodians
//! distinct, a key stands once, no weak key, threshold within reach). Signatures by custodians are
//! checked by [`Roster::signed_by`]; whom to trust among them is said from outside.
//! Not here: what a later version may change (`succession`).

use super::sshsig::{self, HashName};
use super::{PublicKey, Role};
use crate::source::{Node, Source, Style, Tree};
use crate::text::{forbidden_in_line, is_id};
use crate::time::{is_date, is_time};
use crate::tongue::say;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    roster: u32,
    before: String,
    threshold: usize,
    custodians: Vec<String>,
    persons: Vec<FilePerson>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FilePerson {
    id: String,
    name: String,
    roles: Vec<String>,
    competence: Option<String>,
    keys: Vec<FileKey>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileKey {
    key: String,
    from: String,
    to: String,
    revoked: Option<FileRevoked>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileRevoked {
    at: String,
    #[serde(rename = "as")]
    how: String,
}

/// How a key ended before its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RevokedAs {
    /// Put away; what it signed before stays good.
    Retired,
    /// In other hands since that time at the latest; what it signed before is unproven without an anchor.
    Compromised,
}

/// A person's key and its window, UTC, inclusive.
#[derive(Clone, Debug)]
pub struct PersonKey {
    /// The key.
    pub key: PublicKey,
    /// First second it may sign.
    pub from: String,
    /// Last second it may sign.
    pub to: String,
    /// Since when it may not, and how.
    pub revoked: Option<(String, RevokedAs)>,
}

/// A person of the roster.
#[derive(Clone, Debug)]
pub struct Person {
    /// Id.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Roles.
    pub roles: BTreeSet<Role>,
    /// Last day of shown competence, if stated.
    pub competence: Option<jiff::civil::Date>,
    /// Keys.
    pub keys: Vec<PersonKey>,
}

/// A consistent roster.
#[derive(Clone, Debug)]
pub struct Roster {
    /// Version, from 1.
    pub version: u32,
    /// Custodians of whom `threshold` must sign.
    pub threshold: usize,
    /// Their keys.
    pub custodians: Vec<PublicKey>,
    /// Persons.
    pub persons: Vec<Person>,
    before: String,
    text: String,
    hash: String,
}

/// A custodian's signature as a register carries it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RosterSign {
    /// Hash inside the signed blob.
    pub hash: HashName,
    /// `ssh-ed25519 AAAA...`.
    pub key: PublicKey,
    /// The signature.
    pub sign: [u8; 64],
}

/// Whether a person's key may sign at a time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyStanding {
    /// It may.
    Good,
    /// It may, but it was compromised later: unproven without an older anchor.
    CompromisedLater(String),
    /// It may not; in words.
    No(String),
}

/// Refuses what YAML readers disagree on: anchors, aliases, tags, keys given twice, a word without
/// quotes that is no text, a number written in another way than in plain digits.
fn plain_yaml(text: &str) -> Result<(), String> {
    let (source, findings) = Source::read("roster", text.as_bytes());
    let Some(source) = source else {
        let why = findings.first().map_or_else(String::new, |f| f.message.clone());
        return Err(say!("the roster cannot be read: {why}", why));
    };
    let root = source.root();
    for name in ["roster", "threshold"] {
        let good = root.get(name).is_some_and(|n| match &n.tree {
            Tree::Scalar(t, Style::Plain) => {
                (1..=4).contains(&t.len()) && !t.starts_with('0') && t.bytes().all(|b| b.is_ascii_digit())
            }
            Tree::Scalar(_, Style::Quoted | Style::Block) | Tree::Map(_) | Tree::Seq(_) => false,
        });
        if !good {
            return Err(say!("`{name}` of the roster is no number in plain digits", name));
        }
    }
    if let Tree::Map(entries) = &root.tree {
        for (key, node) in entries {
            if !matches!(key.text.as_str(), "roster" | "before" | "threshold") {
                all_text(node)?;
            }
        }
    }
    Ok(())
}

fn all_text(node: &Node) -> Result<(), String> {
    match &node.tree {
        Tree::Scalar(t, Style::Plain) if no_text(t) => Err(say!(
            "`{got}` on line {line} of the roster is read as no text; put it in quotes",
            got = crate::text::safe_line(t),
            line = node.line
        )),
        Tree::Scalar(..) => Ok(()),
        Tree::Seq(items) => items.iter().try_for_each(all_text),
        Tree::Map(entries) => entries.iter().try_for_each(|(_, n)| all_text(n)),
    }
}

/// What YAML 1.2 (core schema, 10.3.2) reads as null, truth or number where it stands without quotes.
fn no_text(s: &str) -> bool {
    const WORDS: &[&str] = &["", "~", "null", "true", "false", ".inf", ".nan"];
    let body = s.strip_prefix(['-', '+']).unwrap_or(s);
    let lower = body.to_ascii_lowercase();
    let based = |mark: &str, base: u32| {
        lower.strip_prefix(mark).is_some_and(|d| !d.is_empty() && d.chars().all(|c| c.is_digit(base)))
    };
    let (mantissa, exponent) = match lower.split_once('e') {
        Some((m, e)) => (m, Some(e.strip_prefix(['-', '+']).unwrap_or(e))),
        None => (lower.as_str(), None),
    };
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let number = match mantissa.split_once('.') {
        Some((whole, part)) => {
            (digits(whole) && (part.is_empty() || digits(part))) || (whole.is_empty() && digits(part))
        }
        None => digits(mantissa),
    };
    WORDS.contains(&lower.as_str())
        || based("0x", 16)
        || based("0o", 8)
        || based("0b", 2)
        || (number && exponent.is_none_or(digits))
}

fn is_hash(s: &str) -> bool {
    s.len() == 64 && s.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}

impl Roster {
    /// Reads and checks a roster; in words what is wrong.
    pub fn read(text: &str) -> Result<Roster, String> {
        if let Some(c) = text.chars().find(|c| *c != '\n' && crate::text::forbidden_char(*c)) {
            return Err(say!(
                "the roster holds the character U+{code}, which no record may hold",
                code = format!("{:04X}", u32::from(c))
            ));
        }
        plain_yaml(text)?;
        let file: File =
            serde_yaml::from_str(text).map_err(|e| say!("the roster cannot be read: {why}", why = e))?;
        let first = file.before == "0".repeat(64);
        if file.roster == 0 || first != (file.roster == 1) || !is_hash(&file.before) {
            return Err(say!(
                "version {version} has `before` {before}; version 1 has 64 zeros there, a later one the SHA-256 of \
                 the version before it",
                version = file.roster,
                before = crate::text::short(&file.before)
            ));
        }
        let mut seen = BTreeSet::new();
        let mut new_key = |text: &str, whose: &str| -> Result<PublicKey, String> {
            let key = PublicKey::read(text).map_err(|e| say!("key of {whose}: {why}", whose, why = e))?;
            if !seen.insert(key.to_hex()) {
                return Err(say!("the key {key} stands twice (at {whose})", key = key.fingerprint(), whose));
            }
            Ok(key)
        };
        let custodians =
            file.custodians.iter().map(|k| new_key(k, say!("a custodian"))).collect::<Result<Vec<_>, _>>()?;
        if file.threshold == 0 || file.threshold > custodians.len() {
            return Err(say!(
                "the threshold is {got}, wanted 1 to {most} (the number of custodians)",
                got = file.threshold,
                most = custodians.len()
            ));
        }
        let mut persons: Vec<Person> = Vec::new();
        for p in file.persons {
            if !is_id(&p.id) {
                return Err(say!(
                    "`{got}` is no person id ({form})",
                    got = crate::text::safe_line(&p.id),
                    form = "[a-z][a-z0-9-]{0,31}"
                ));
            }
            if persons.iter().any(|q| q.id == p.id) {
                return Err(say!("the person `{person}` stands twice", person = p.id));
            }
            // Escapes in quotes could bring in what the text itself may not hold.
            if p.name.trim().is_empty() || p.name.len() > 2000 || p.name.chars().any(forbidden_in_line) {
                return Err(say!("`{person}` has no name of one line, 1 to 2000 bytes", person = p.id));
            }
            let roles = p
                .roles
                .iter()
                .map(|r| {
                    Role::read(r).ok_or_else(|| {
                        say!(
                            "`{person}` has the unknown role `{role}`",
                            person = p.id,
                            role = crate::text::safe_line(r)
                        )
                    })
                })
                .collect::<Result<BTreeSet<_>, _>>()?;
            let competence = p
                .competence
                .map(|d| d.parse().ok().filter(|_| is_date(&d)))
                .map(|d| {
                    d.ok_or_else(|| {
                        say!("competence of `{person}` is no date like 2027-03-31", person = p.id)
                    })
                })
                .transpose()?;
            let mut keys = Vec::new();
            for k in p.keys {
                let key = new_key(&k.key, &format!("`{}`", p.id))?;
                for t in [&k.from, &k.to].into_iter().chain(k.revoked.as_ref().map(|r| &r.at)) {
                    if !is_time(t) {
                        return Err(say!(
                            "a key of `{person}` has the time `{got}`, wanted one like 2026-01-31T00:00:00Z",
                            person = p.id,
                            got = crate::text::safe_line(t)
                        ));
                    }
                }
                if k.from > k.to {
                    return Err(say!("a key of `{person}` ends before it begins", person = p.id));
                }
                let revoked = match k.revoked {
                    None => None,
                    Some(r) => Some((
                        r.at,
                        match r.how.as_str() {
                            "retired" => RevokedAs::Retired,
                            "compromised" => RevokedAs::Compromised,
                            other => {
                                return Err(say!(
                                    "a key of `{person}` is revoked as `{got}`, wanted retired or compromised",
                                    person = p.id,
                                    got = crate::text::safe_line(other)
                                ));
                            }
                        },
                    )),
                };
                keys.push(PersonKey { key, from: k.from, to: k.to, revoked });
            }
            persons.push(Person { id: p.id, name: p.name, roles, competence, keys });
        }
        Ok(Roster {
            version: file.roster,
            threshold: file.threshold,
            custodians,
            persons,
            hash: data_encoding::HEXLOWER.encode(&Sha256::digest(text)),
            before: file.before,
            text: text.to_owned(),
        })
    }

    /// SHA-256 of the version before; 64 zeros for version 1.
    pub fn before(&self) -> &str {
        &self.before
    }

    /// The bytes it was read from.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of its bytes, hex.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    /// The person of an id.
    pub fn person(&self, id: &str) -> Option<&Person> {
        self.persons.iter().find(|p| p.id == id)
    }

    /// A person's name, or the id where the roster does not know it.
    pub fn name_of<'a>(&'a self, id: &'a str) -> &'a str {
        self.person(id).map_or(id, |p| p.name.as_str())
    }

    /// The custodians' keys that signed, each signature checked; in words what is wrong. Ascending
    /// by key, no key twice, each a custodian's, at least the roster's own threshold.
    pub fn signed_by(&self, signs: &[RosterSign]) -> Result<Vec<PublicKey>, String> {
        if !signs.windows(2).all(|w| w[0].key.to_ssh() < w[1].key.to_ssh()) {
            return Err(
                say!("the custodians' signatures are not ascending by key, or a key stands twice").into()
            );
        }
        for s in signs {
            if !self.custodians.contains(&s.key) {
                return Err(say!(
                    "{key} signed the roster but is no custodian of it",
                    key = s.key.fingerprint()
                ));
            }
            if !s.key.verifies(&sshsig::tbs(sshsig::ROSTER, s.hash, self.text.as_bytes()), &s.sign) {
                return Err(say!("the roster signature of {key} is wrong", key = s.key.fingerprint()));
            }
        }
        if signs.len() < self.threshold {
            return Err(say!(
                "{have} of the roster's custodians signed it, its threshold is {wanted}",
                have = signs.len(),
                wanted = self.threshold
            ));
        }
        Ok(signs.iter().map(|s| s.key.clone()).collect())
    }

    /// Whether a key of a person may sign at a UTC time.
    pub fn standing(&self, person: &Person, key: &PublicKey, time: &str) -> KeyStanding {
        let Some(k) = person.keys.iter().find(|k| k.key == *key) else {
            return KeyStanding::No(say!(
                "{key} is no key of `{person}`",
                key = key.fingerprint(),
                person = person.id
            ));
        };
        if time < k.from.as_str() || time > k.to.as_str() {
            return KeyStanding::No(say!(
                "the key of `{person}` may sign from {from} to {to}, not at {time}",
                person = person.id,
                from = k.from,
                to = k.to,
                time
            ));
        }
        match &k.revoked {
            None => KeyStanding::Good,
            Some((at, _)) if time >= at.as_str() => KeyStanding::No(say!(
                "the key of `{person}` was revoked at {at}; this is {time}",
                person = person.id,
                at,
                time
            )),
            Some((_, RevokedAs::Retired)) => KeyStanding::Good,
            Some((at, RevokedAs::Compromised)) => KeyStanding::CompromisedLater(at.clone()),
        }
    }
}
