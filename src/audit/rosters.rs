//! Which roster was in force from which line; versions given from outside; and what the newest version says
//! of keys that signed before it was known here.
//!
//! Always: a version from outside never makes anything better, it can only say that something is not proven.

use super::{Later, Said};
use crate::record::line::Line;
use crate::tongue::say;
use crate::trust::Roster;
use crate::trust::roster::{KeyStanding, PersonKey, RevokedAs};
use crate::trust::succession::succeeds;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeMap;

/// A version of the roster.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Version {
    /// Its number.
    pub version: u32,
    /// SHA-256 of its bytes.
    pub hash: String,
    /// The line that brought it, and from which on it counts (line 0: for itself; a `roster` line: for the
    /// lines after it). `None`: it was given from outside and never taken into this register.
    #[serde(flatten)]
    pub brought_by: Option<LineNo>,
    #[serde(skip)]
    before: String,
}

impl Version {
    /// In words.
    pub fn words(&self) -> String {
        let short = self.hash.get(..12).unwrap_or_default();
        match self.brought_by {
            Some(l) if l.line == 0 => {
                say!(
                    "roster version {version} ({short}...) in force from line {line}",
                    version = self.version,
                    short,
                    line = l
                )
            }
            Some(l) => {
                let next = LineNo { line: l.line + 1, ..l };
                say!(
                    "roster version {version} ({short}...) taken in at line {line}, in force from line {next}",
                    version = self.version,
                    short,
                    line = l,
                    next
                )
            }
            None => say!(
                "roster version {version} ({short}...) given from outside; this register never took it in",
                version = self.version,
                short
            ),
        }
    }
}

/// Who brought a roster, and who signed with which key between which times: gathered line by line.
#[derive(Default)]
pub struct Gathered {
    /// The versions that lines brought, in order.
    pub versions: Vec<Version>,
    /// By person and key: the first and the last of the times of acts and of the lines that carry them.
    signers: BTreeMap<(String, String), (String, String)>,
}

impl Gathered {
    /// Takes in the next line.
    pub fn take(&mut self, at: LineNo, line: &Line) {
        let text = match line.kind.name {
            "enrol" => line.data.get("roster").and_then(|r| r.text("text")),
            "roster" => line.data.text("text"),
            _ => None,
        };
        if let Some(roster) = text.and_then(|t| Roster::read(t).ok())
            && self.versions.last().is_none_or(|v| v.hash != roster.hash())
        {
            self.versions.push(Version {
                version: roster.version,
                hash: roster.hash().to_owned(),
                brought_by: Some(at),
                before: roster.before().to_owned(),
            });
        }
        let Some(act) = &line.act else { return };
        let key = (act.by.clone(), act.key.clone());
        let between = self.signers.entry(key).or_insert_with(|| (act.time.clone(), act.time.clone()));
        for time in [act.time.as_str(), line.time.as_str()] {
            if time < between.0.as_str() {
                time.clone_into(&mut between.0);
            }
            if time > between.1.as_str() {
                time.clone_into(&mut between.1);
            }
        }
    }

    /// Whether a roster says of any of these keys that it could not sign at all times at which it did.
    pub fn speaks_against(&self, roster: &Roster) -> bool {
        self.signers.iter().any(|((by, key), (first, last))| {
            let person = roster.person(by);
            let known = person.and_then(|p| Some((p, p.keys.iter().find(|k| k.key.fingerprint() == *key)?)));
            // A key is good from one time to another: if it was so at both ends, then between them.
            known.is_some_and(|(person, key)| {
                compromised(key).is_some()
                    || [first, last].into_iter().any(|t| after_end(roster, person, key, t).is_some())
            })
        })
    }
}

/// The newest roster that follows the register's, and what is said of those that do not.
pub fn newest<'a>(
    in_force: &'a Roster,
    later: &'a [Later],
    known: &mut Vec<Version>,
) -> (&'a Roster, Vec<Said>) {
    let mut newest = in_force;
    let mut said = Vec::new();
    let mut say = |why: String| said.push(Said::new(None, "roster", why));
    for l in later {
        let (version, hash) = (l.roster.version, l.roster.hash());
        if known.iter().any(|k| k.hash == hash) {
            continue;
        }
        let same = known.iter().find(|k| k.version == version);
        let first = known.first().map_or((0, ""), |k| (k.version, k.before.as_str()));
        if let Some(k) = same {
            say(say!(
                "the roster version {version} you gave is {hash}, the one here is {ours}: two rosters of one number; \
                 one of them is not your custodians', or they signed both",
                version,
                hash,
                ours = k.hash
            ));
        } else if version + 1 == first.0 && hash != first.1 {
            say(say!(
                "the roster here, version {ours}, follows {before}, not the version {version} you gave, {hash}",
                ours = first.0,
                before = first.1,
                version,
                hash
            ));
        } else if version > newest.version {
            match succeeds(newest, &l.roster, &l.signs) {
                Ok(_) => {
                    newest = &l.roster;
                    known.push(Version {
                        version,
                        hash: hash.to_owned(),
                        brought_by: None,
                        before: l.roster.before().to_owned(),
                    });
                }
                Err(why) => say(say!(
                    "the roster version {version} you gave does not follow version {ours}: {why}; what it says of \
                     keys is not counted",
                    version,
                    ours = newest.version,
                    why
                )),
            }
        }
    }
    (newest, said)
}

/// A sign-off by a key that the newest roster calls compromised, or that had ended before: nothing outside
/// shows that the first was made before, and the second should not have been made.
pub fn ended_key(at: LineNo, line: &Line, roster: &Roster) -> Option<Said> {
    let act = line.act.as_ref()?;
    let person = roster.person(&act.by)?;
    let key = person.keys.iter().find(|k| k.key.fingerprint() == act.key)?;
    if let Some(since) = compromised(key) {
        let why = say!(
            "signed by `{person}` with a key compromised at {since}; nothing outside shows that it was signed before",
            person = act.by,
            since
        );
        let since = Some(since.to_owned());
        return Some(Said { since, ..Said::new(Some(at), "compromised", why) });
    }
    // Where the roster in force then already said so, the chain refused the line.
    let end = [act.time.as_str(), line.time.as_str()]
        .into_iter()
        .find_map(|time| after_end(roster, person, key, time))?;
    let why = say!(
        "signed by `{person}`; roster version {version} says: {end}, and was not known here when it was signed",
        person = act.by,
        version = roster.version,
        end
    );
    Some(Said::new(Some(at), "retired", why))
}

/// Since when a key is compromised.
fn compromised(key: &PersonKey) -> Option<&str> {
    match &key.revoked {
        Some((since, RevokedAs::Compromised)) => Some(since),
        Some((_, RevokedAs::Retired)) | None => None,
    }
}

fn after_end(
    roster: &Roster,
    person: &crate::trust::roster::Person,
    key: &PersonKey,
    time: &str,
) -> Option<String> {
    match roster.standing(person, &key.key, time) {
        KeyStanding::No(why) => Some(why),
        KeyStanding::Good | KeyStanding::CompromisedLater(_) => None,
    }
}
