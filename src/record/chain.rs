//! The chain: each line checked against those before it.
//!
//! In: lines in order. Out: `Ok`, or the rule that a line breaks. Holds what the next line must
//! match: log, seq, H of the head, time, seal key, roster, and per permit the lines that may be
//! cited. Always: a line reaches the fold (`permit`) only through here.
//! Not here: states of permits and tallies (`permit::state`), reading files (`store`).

use super::kinds::HARMLESS;
use super::line::{Act, Broken, Line, NONE, broken, hash};
use crate::time::{seconds, short_date};
use crate::trust::roster::{KeyStanding, RosterSign};
use crate::trust::sshsig::{self, HashName};
use crate::trust::succession::succeeds;
use crate::trust::{PublicKey, Roster, token};
use std::collections::{BTreeMap, HashSet};

/// A register's station code, log and roster, known from line 0.
#[derive(Clone, Debug)]
pub struct Origin {
    /// Station code.
    pub station: String,
    /// Log id.
    pub log: String,
    /// The roster in force after the last line; line 0 carried the first.
    pub roster: Roster,
    /// Custodians who signed the first roster, checked.
    pub vouched: Vec<PublicKey>,
}

/// Something that keeps a good line from being proven.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// Line.
    pub seq: u64,
    /// `rules`.
    pub rule: &'static str,
    /// In words.
    pub why: String,
}

/// A text in force: a set, site, limit profile or form.
#[derive(Clone, Debug)]
pub struct TextInForce {
    /// SHA-256 of the text.
    pub text_hash: String,
    /// The text.
    pub text: String,
    /// H of the line that brought it.
    pub line: String,
    /// seq of that line.
    pub seq: u64,
}

/// A line of a permit, as a signer was shown it.
#[derive(Clone, Debug)]
pub struct Seen {
    /// H.
    pub hash: String,
    /// UTC second.
    pub time: i64,
    /// seq.
    pub seq: u64,
}

#[derive(Clone, Debug, Default)]
struct PermitChain {
    /// The last line that changes state and the harmless ones after it.
    tail: Vec<Seen>,
    declared: Option<(String, String)>,
    handed_back: Option<String>,
}

/// What the next line must match.
#[derive(Clone, Debug)]
pub struct Chain {
    /// From line 0.
    pub origin: Origin,
    /// seq of the last line.
    pub seq: u64,
    /// H of the last line.
    pub head: String,
    /// Time of the last line.
    pub time: String,
    /// Key that seals the next line.
    pub next: PublicKey,
    /// Key that sealed the last line.
    pub last_key: PublicKey,
    /// Texts in force by kind and subject (`set`, `mobile-1`).
    pub texts: BTreeMap<(String, String), TextInForce>,
    /// Every text that was ever in force, by its SHA-256.
    pub by_hash: BTreeMap<String, String>,
    /// Doubts so far.
    pub doubts: Vec<Doubt>,
    permits: BTreeMap<String, PermitChain>,
    forms: HashSet<String>,
    hashes: HashSet<String>,
    /// Lines may be missing: this is an excerpt of that permit.
    excerpt_of: Option<String>,
}

/// So many harmless lines may stand between what a signer was shown and the act.
const MOST_HARMLESS: usize = 64;
/// The rules under which permits are opened now.
pub const RULES: u64 = 1;

/// `(kind, subject)` of a signed line that belongs to no permit.
pub fn subject(line: &Line) -> Option<(String, String)> {
    subject_of(line.kind.name, &line.data)
}

/// The same from kind and data.
pub fn subject_of(kind: &str, data: &super::json::Json) -> Option<(String, String)> {
    let id = match kind {
        "set" => data.text("set")?.to_owned(),
        "form" => data.text("form")?.to_owned(),
        "site" => data.text("site")?.to_owned(),
        _ => return None,
    };
    let kind = match data.text("what") {
        Some("limits") => "limits",
        Some(_) | None => kind,
    };
    Some((kind.to_owned(), id))
}

impl Chain {
    /// Begins with line 0.
    pub fn first(line: &Line) -> Result<Chain, Broken> {
        if line.seq != 0 {
            return broken("seq", format!("the first line has seq {}, wanted 0", line.seq));
        }
        if line.prev != NONE {
            return broken("prev", "line 0 names a line before it, wanted 64 zeros");
        }
        let data = &line.data;
        let text = data.get("roster").and_then(|r| r.text("text")).unwrap_or_default();
        let carried = hash(text.as_bytes());
        if line.roster != carried {
            return broken(
                "roster",
                format!("`roster` is {}, wanted {carried}, the one carried", line.roster),
            );
        }
        let seal =
            PublicKey::from_hex(data.text("seal").unwrap_or_default()).or_else(|why| broken("seal", why))?;
        if !line.sealed_by(&seal) {
            return broken("seal", "the seal is not by the key that line 0 names");
        }
        let roster = Roster::read(text).or_else(|why| broken("roster", why))?;
        let vouched = roster
            .signed_by(&read_signs(data.get("roster").unwrap_or(data))?)
            .or_else(|why| broken("custodian", why))?;
        let chain = Chain {
            origin: Origin {
                station: data.text("station").unwrap_or_default().to_owned(),
                log: line.log.clone(),
                roster,
                vouched,
            },
            seq: 0,
            head: line.hash.clone(),
            time: line.time.clone(),
            next: line.next.clone(),
            last_key: seal,
            texts: BTreeMap::new(),
            by_hash: BTreeMap::new(),
            doubts: Vec::new(),
            permits: BTreeMap::new(),
            forms: HashSet::new(),
            hashes: HashSet::from([line.hash.clone()]),
            excerpt_of: None,
        };
        chain.check_act(line)?;
        if line.act.as_ref().is_some_and(|a| a.shown != NONE) {
            return broken("after", "nothing stands before the first line");
        }
        Ok(chain)
    }

    /// From here on lines may be missing: this is an excerpt of a permit.
    pub fn becomes_excerpt_of(&mut self, permit: &str) {
        self.excerpt_of = Some(permit.to_owned());
    }

    /// Checks the next line and takes it in. On a broken line the chain stays as it was.
    pub fn next(&mut self, line: &Line) -> Result<(), Broken> {
        self.check(line)?;
        self.take_in(line);
        Ok(())
    }

    /// Checks a line as the next one, without taking it in.
    pub fn check(&self, line: &Line) -> Result<(), Broken> {
        let follows = self.check_place(line)?;
        if follows && !line.sealed_by(&self.next) {
            return broken("seal", "the seal is not by the key that the line before names");
        }
        self.check_said(line)
    }

    /// Checks everything of a next line but its place and seal: what it says, and who says it.
    pub fn check_said(&self, line: &Line) -> Result<(), Broken> {
        self.check_act(line)?;
        // Of another permit's lines in an excerpt nothing is here that they could be held against.
        if !self.is_beside(line) {
            self.check_number(line)?;
            self.check_pprev(line)?;
            self.check_target(line)?;
            self.check_shown(line)?;
            self.check_citations(line)?;
        }
        if line.kind.name == "roster" {
            self.following_roster(line)?;
        }
        Ok(())
    }

    /// The roster that a `roster` line puts in force, if it may follow the one in force.
    fn following_roster(&self, line: &Line) -> Result<Roster, Broken> {
        let roster =
            Roster::read(line.data.text("text").unwrap_or_default()).or_else(|why| broken("roster", why))?;
        succeeds(&self.origin.roster, &roster, &read_signs(&line.data)?)
            .or_else(|why| broken("custodian", why))?;
        Ok(roster)
    }

    /// Whether the line follows the last one at once; in an excerpt it need not.
    fn check_place(&self, line: &Line) -> Result<bool, Broken> {
        if line.log != self.origin.log {
            return broken("log", format!("`log` is {}, wanted {}", line.log, self.origin.log));
        }
        let follows = line.seq == self.seq + 1;
        if !follows && (self.excerpt_of.is_none() || line.seq <= self.seq) {
            return broken("seq", format!("`seq` is {}, wanted {}", line.seq, self.seq + 1));
        }
        if follows && line.prev != self.head {
            return broken(
                "prev",
                format!("`prev` is {}, wanted {}, the hash of the line before", line.prev, self.head),
            );
        }
        if line.time < self.time {
            return broken(
                "time",
                format!("the line is of {}, earlier than the line before, {}", line.time, self.time),
            );
        }
        if line.roster != self.origin.roster.hash() {
            return broken(
                "roster",
                format!("`roster` is {}, wanted {}", line.roster, self.origin.roster.hash()),
            );
        }
        Ok(follows)
    }

    /// True for a line of another permit than the one this is an excerpt of: what it rests on is
    /// not here, so that only its frame, its order and its act can be checked.
    pub fn is_beside(&self, line: &Line) -> bool {
        match (&self.excerpt_of, &line.permit) {
            (Some(own), Some(permit)) => own != permit,
            (None, _) | (Some(_), None) => false,
        }
    }

    fn check_number(&self, line: &Line) -> Result<(), Broken> {
        let Some(permit) = &line.permit else {
            return Ok(());
        };
        let known = self.permits.contains_key(permit);
        if line.kind.name != "open" {
            return if known { Ok(()) } else { broken("number", format!("{permit} was never opened")) };
        }
        if known {
            return broken("number", format!("{permit} was opened before"));
        }
        let wanted = format!("{}-{}-", self.origin.station, short_date(&line.time, &line.zone));
        if permit.starts_with(&wanted) {
            Ok(())
        } else {
            broken("number", format!("the permit is numbered {permit}, wanted {wanted}NN"))
        }
    }

    fn check_pprev(&self, line: &Line) -> Result<(), Broken> {
        let Some(permit) = &line.permit else {
            return Ok(());
        };
        let wanted = self.permit_head(permit);
        if line.pprev.as_deref() == Some(wanted) {
            Ok(())
        } else {
            broken("pprev", format!("`pprev` is not the hash of the line before of {permit}, {wanted}"))
        }
    }

    /// H of the last line of a permit; `NONE` if there is none.
    pub fn permit_head(&self, permit: &str) -> &str {
        self.permits.get(permit).and_then(|p| p.tail.last()).map_or(NONE, |s| s.hash.as_str())
    }

    /// seq of the last line of a permit.
    pub fn permit_seq(&self, permit: &str) -> Option<u64> {
        self.permits.get(permit).and_then(|p| p.tail.last()).map(|s| s.seq)
    }

    /// H of the last declaration of a permit and who made it.
    pub fn declared(&self, permit: &str) -> Option<&(String, String)> {
        self.permits.get(permit).and_then(|p| p.declared.as_ref())
    }

    /// H of the hand-back of a permit.
    pub fn handed_back(&self, permit: &str) -> Option<&str> {
        self.permits.get(permit).and_then(|p| p.handed_back.as_deref())
    }

    /// The line of a permit that a signer was shown: its last one, or the one with this H, if only harmless
    /// lines came after it.
    pub fn shown(&self, permit: &str, hash: Option<&str>) -> Option<&Seen> {
        let tail = self.permits.get(permit)?.tail.as_slice();
        match hash {
            None => tail.last(),
            Some(h) => tail.iter().rev().take(MOST_HARMLESS + 1).find(|s| s.hash == h),
        }
    }

    /// Who signed an act, with which key, when, and whether the signature is theirs.
    pub fn check_act(&self, line: &Line) -> Result<(), Broken> {
        let Some(act) = &line.act else {
            return Ok(());
        };
        let roster = &self.origin.roster;
        let Some(person) = roster.person(&act.by) else {
            return broken("person", format!("`{}` is not on the roster", crate::text::safe_line(&act.by)));
        };
        let Some(key) = person.keys.iter().find(|k| k.key.fingerprint() == act.key) else {
            return broken("key", format!("{} is no key of `{}`", crate::text::safe_line(&act.key), act.by));
        };
        if !person.roles.contains(&act.role) {
            return broken("person", format!("`{}` may not sign as {}", act.by, act.role.word()));
        }
        for time in [&act.time, &line.time] {
            match roster.standing(person, &key.key, time) {
                // What a later version of the roster says of the key is judged at the end (`audit`).
                KeyStanding::Good | KeyStanding::CompromisedLater(_) => {}
                KeyStanding::No(why) => return broken("window", why),
            }
        }
        check_times(line, act)?;
        if !key.key.verifies(&sshsig::tbs(sshsig::SIGN, HashName::Sha256, &act.bytes), &act.sign) {
            return broken("signature", format!("the signature of `{}` under the act is wrong", act.by));
        }
        Ok(())
    }

    /// What the signer was shown: the last line but for harmless ones, not signed long before it, and
    /// in the token of a countersignature. Outside a permit: the last line of that kind and subject.
    fn check_shown(&self, line: &Line) -> Result<(), Broken> {
        let Some(act) = &line.act else {
            return Ok(());
        };
        let Some(permit) = &line.permit else {
            if self.excerpt_of.is_some() {
                return Ok(());
            }
            let before = subject(line).and_then(|s| self.texts.get(&s)).map_or(NONE, |t| t.line.as_str());
            if act.shown != before {
                return broken(
                    "after",
                    format!("the act was signed after {}, the last such line is {before}", act.shown),
                );
            }
            return Ok(());
        };
        let Some(shown) = self.shown(permit, Some(&act.shown)) else {
            return broken("pprev", format!("the permit moved on after what `{}` was shown", act.by));
        };
        if seconds(&act.time) < shown.time - 300 {
            return broken(
                "time",
                format!("signed at {}, more than 5 min before the line that was shown", act.time),
            );
        }
        if line.kind.name == "countersign" {
            self.check_token(line, act, shown)?;
        }
        Ok(())
    }

    fn check_token(&self, line: &Line, act: &Act, shown: &Seen) -> Result<(), Broken> {
        let person = self.origin.roster.person(&act.by);
        let Some(key) = person.and_then(|p| p.keys.iter().find(|k| k.key.fingerprint() == act.key)) else {
            return broken("key", format!("{} is no key of `{}`", crate::text::safe_line(&act.key), act.by));
        };
        let wanted = token::Claim {
            permit: line.permit.clone().unwrap_or_default(),
            valid_to: line.data.text("valid_to").unwrap_or_default().to_owned(),
            seq: shown.seq,
            hash: shown.hash.clone(),
        };
        let text = line.data.text("token").unwrap_or_default();
        token::check(text, &wanted, &key.key).or_else(|why| broken("token", why))
    }

    /// The line that a line answers, and that another person does so.
    fn check_target(&self, line: &Line) -> Result<(), Broken> {
        let permit = line.permit.as_deref().unwrap_or_default();
        let target = line.data.text("target");
        match line.kind.name {
            "countersign" | "refuse" => {
                let declared = self.declared(permit);
                if declared.map(|d| d.0.as_str()) != target {
                    return broken("target", format!("`target` is not the last declaration of {permit}"));
                }
                let by = line.act.as_ref().map(|a| a.by.as_str());
                if line.kind.name == "countersign" && declared.map(|d| d.1.as_str()) == by {
                    return broken("person", "the person who declared may not countersign");
                }
                Ok(())
            }
            "close" if self.handed_back(permit) != target => {
                broken("target", format!("`target` is not the hand-back of {permit}"))
            }
            "note" | "stopped" if target.is_some_and(|t| !self.hashes.contains(t)) => {
                broken("target", "`target` names no earlier line of this register")
            }
            _ => Ok(()),
        }
    }

    fn check_citations(&self, line: &Line) -> Result<(), Broken> {
        let data = &line.data;
        match line.kind.name {
            "set" | "site" | "form" => {
                let text = data.text("text").unwrap_or_default();
                let got = hash(text.as_bytes());
                if data.text("hash") != Some(got.as_str()) {
                    return broken("citation", format!("`hash` is not the SHA-256 of `text`, {got}"));
                }
            }
            "open" => {
                for kind in ["form", "set", "site"] {
                    let cited = data.get(kind);
                    let id = cited.and_then(|c| c.text("id")).unwrap_or_default();
                    let key = (kind.to_owned(), id.to_owned());
                    let in_force = self.texts.get(&key).map(|t| t.text_hash.as_str());
                    if in_force.is_none() || in_force != cited.and_then(|c| c.text("hash")) {
                        return broken(
                            "citation",
                            format!("the {kind} `{id}` is not cited as it is in force"),
                        );
                    }
                }
            }
            "answer" => {
                let form = data.text("form").unwrap_or_default();
                if !self.forms.contains(form) {
                    return broken(
                        "citation",
                        format!("the answer names a form that does not stand before it, {form}"),
                    );
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn take_in(&mut self, line: &Line) {
        if line.kind.name == "open" && line.data.int("rules") != Some(RULES) {
            self.doubts.push(Doubt {
                seq: line.seq,
                rule: "rules",
                why: "this permit was opened under rules that are not known here".into(),
            });
        }
        if let (Some(key), Some(text), Some(text_hash)) =
            (subject(line), line.data.text("text"), line.data.text("hash"))
        {
            if key.0 == "form" {
                self.forms.insert(text_hash.to_owned());
            }
            let (text, text_hash) = (text.to_owned(), text_hash.to_owned());
            self.by_hash.insert(text_hash.clone(), text.clone());
            self.texts.insert(key, TextInForce { text_hash, text, line: line.hash.clone(), seq: line.seq });
        }
        if line.kind.name == "roster"
            && let Ok(roster) = self.following_roster(line)
        {
            self.origin.roster = roster;
        }
        if let Some(permit) = &line.permit {
            let p = self.permits.entry(permit.clone()).or_default();
            if !HARMLESS.contains(&line.kind.name) {
                p.tail.clear();
            }
            p.tail.push(Seen { hash: line.hash.clone(), time: seconds(&line.time), seq: line.seq });
            match (line.kind.name, &line.act) {
                ("declare", Some(act)) => p.declared = Some((line.hash.clone(), act.by.clone())),
                ("hand_back", _) => p.handed_back = Some(line.hash.clone()),
                _ => {}
            }
        }
        self.hashes.insert(line.hash.clone());
        self.seq = line.seq;
        self.head = line.hash.clone();
        self.time = line.time.clone();
        self.last_key = std::mem::replace(&mut self.next, line.next.clone());
    }
}

/// Limits on times that hold for every act: 5 min after its line at most, 12 h (on a permit) or 7 days
/// before it at most.
fn check_times(line: &Line, act: &Act) -> Result<(), Broken> {
    let (signed, kept) = (seconds(&act.time), seconds(&line.time));
    if signed > kept + 300 {
        return broken(
            "time",
            format!("signed at {}, more than 5 min after the line, {}", act.time, line.time),
        );
    }
    let longest = if line.permit.is_some() { 12 } else { 7 * 24 };
    if kept - signed > longest * 3600 {
        return broken(
            "time",
            format!("signed at {}, more than {longest} h before the line, {}", act.time, line.time),
        );
    }
    Ok(())
}

fn read_signs(data: &super::json::Json) -> Result<Vec<RosterSign>, Broken> {
    use super::json::Json;
    let mut signs = Vec::new();
    if let Some(Json::Arr(list)) = data.get("signs") {
        for s in list {
            let key =
                PublicKey::read(s.text("key").unwrap_or_default()).or_else(|why| broken("custodian", why))?;
            let hash = s.text("hash").and_then(HashName::read);
            let sign = s.text("sign").and_then(sshsig::signature_from_base64);
            let (Some(hash), Some(sign)) = (hash, sign) else {
                return broken("custodian", "a custodian's signature is not in its form");
            };
            signs.push(RosterSign { hash, key, sign });
        }
    }
    Ok(signs)
}
