//! The chain: each line checked against those before it.
//!
//! In: lines in order, volume after volume: all volumes are one history. Out: `Ok`, or the rule that a
//! line breaks. Holds what the next line must match: log, seq, H of the head, time, seal key, roster,
//! and per permit the lines that may be cited. Always: a line reaches the fold (`permit`) only through here.
//! Not here: states of permits and tallies (`permit::state`), reading files (`store`).

mod acts;
mod volume;

use volume::{Before, Begun, before, begun, by_its_own, follows};

use super::aside::entered;
use super::kinds::HARMLESS;
use super::line::{Broken, Line, NONE, broken, digest_of, hash};
use crate::time::{seconds, short_date};
use crate::trust::roster::RosterSign;
use crate::trust::sshsig::{self, HashName};
use crate::trust::{PublicKey, Roster};
use std::collections::{BTreeMap, HashSet};

/// A register's station code, log and roster, known from line 0 of the volume at hand.
#[derive(Clone, Debug)]
pub struct Origin {
    /// Station code.
    pub station: String,
    /// Log id.
    pub log: String,
    /// The volume at hand, counted from 1 as they were read.
    pub volume: u32,
    /// The roster in force after the last line; line 0 carried the first.
    pub roster: Roster,
    /// Custodians who signed the first roster, checked.
    pub vouched: Vec<PublicKey>,
}

/// Something that keeps a good line from being proven.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// Volume.
    pub volume: u32,
    /// Line.
    pub seq: u64,
    /// `rules`, `volume`.
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
    /// The log it stands in.
    pub log: String,
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
    hashes: HashSet<[u8; 32]>,
    /// Lines may be missing: this is an excerpt of that permit.
    excerpt_of: Option<String>,
    /// H of the last `clock` line of the volume at hand.
    clock: Option<String>,
    /// The logs of the volumes before.
    logs: Vec<String>,
    /// A volume before the first one here is missing: what began in it is not known.
    missing: bool,
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
    /// Begins with line 0 of the first volume at hand.
    pub fn first(line: &Line) -> Result<Chain, Broken> {
        let begun = begun(line)?;
        let before = before(line)?;
        let signs = if before.is_some() { by_its_own(&begun) } else { begun.signs.clone() };
        let Begun { seal, roster, .. } = begun;
        let vouched = roster.signed_by(&signs).or_else(|why| broken("custodian", why))?;
        let mut chain = Chain {
            origin: Origin {
                station: line.data.text("station").unwrap_or_default().to_owned(),
                log: line.log.clone(),
                volume: 1,
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
            hashes: HashSet::from([line.digest()]),
            excerpt_of: None,
            clock: None,
            logs: Vec::new(),
            missing: false,
        };
        chain.check_act(line)?;
        if let Some(before) = before {
            chain.missing = true;
            let why = match before {
                Before::Line { log, seq, .. } => {
                    format!("the volume before, log {log}, {} lines, is not here", seq + 1)
                }
                Before::Lost(words) => {
                    format!("the volume before is said to be lost: {}", crate::text::safe_line(words))
                }
            };
            chain.doubts.push(Doubt { volume: 1, seq: 0, rule: "volume", why });
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

    /// Takes in the next line of a register that was verified: for walking through it once more.
    pub fn again(&mut self, line: &Line) {
        self.take_in(line);
    }

    /// Checks a line as the next one, without taking it in.
    pub fn check(&self, line: &Line) -> Result<(), Broken> {
        if line.kind.name == "enrol" {
            return self.check_volume(line).map(|_| ());
        }
        let follows = self.check_place(line)?;
        if follows && !line.sealed_by(&self.next) {
            return broken("seal", "the seal is not by the key that the line before names");
        }
        self.check_said(line)
    }

    /// Permits that reports written aside name must be here.
    fn check_entered(&self, line: &Line) -> Result<(), Broken> {
        if self.missing || self.excerpt_of.is_some() {
            return Ok(());
        }
        match entered(&line.data)
            .iter()
            .filter_map(|e| e.permit.as_ref())
            .find(|p| !self.permits.contains_key(*p))
        {
            Some(permit) => broken("number", format!("{permit} was never opened")),
            None => Ok(()),
        }
    }

    /// The roster that a `roster` line puts in force, if it may follow the one in force.
    fn following_roster(&self, line: &Line) -> Result<Roster, Broken> {
        let roster =
            Roster::read(line.data.text("text").unwrap_or_default()).or_else(|why| broken("roster", why))?;
        follows(&self.origin.roster, &roster, &read_signs(&line.data)?)?;
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
        let sets_back = line.kind.name == "clock";
        if line.time < self.time && !sets_back {
            return broken(
                "time",
                format!("the line is of {}, earlier than the line before, {}", line.time, self.time),
            );
        }
        if sets_back && follows && line.data.text("last") != Some(self.time.as_str()) {
            return broken("time", format!("`last` is not the time of the line before, {}", self.time));
        }
        if line.roster != self.origin.roster.hash() {
            return broken(
                "roster",
                format!("`roster` is {}, wanted {}", line.roster, self.origin.roster.hash()),
            );
        }
        Ok(follows)
    }

    /// H of the last `clock` line of the volume at hand; `NONE` if there is none.
    pub fn last_clock(&self) -> &str {
        self.clock.as_deref().unwrap_or(NONE)
    }

    /// True for a line of another permit than the one this is an excerpt of, or of one opened in a volume
    /// that is missing: what it rests on is not here, so that only its frame, its order and its act can
    /// be checked.
    pub fn is_beside(&self, line: &Line) -> bool {
        match (&self.excerpt_of, &line.permit) {
            (Some(own), Some(permit)) => own != permit,
            (None, Some(permit)) => {
                self.missing && line.kind.name != "open" && !self.permits.contains_key(permit)
            }
            (_, None) => false,
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

    /// Whether a line of this H stands before.
    fn stands(&self, hash: &str) -> bool {
        digest_of(hash).is_some_and(|d| self.hashes.contains(&d))
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

    /// H of the last signed line of a kind and subject in the volume at hand; `NONE` if there is none.
    pub fn last_of(&self, subject: &(String, String)) -> &str {
        let text = self.texts.get(subject).filter(|t| t.log == self.origin.log);
        text.map_or(NONE, |t| t.line.as_str())
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
            "note" | "stopped" if !self.missing && target.is_some_and(|t| !self.stands(t)) => {
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
                    // It may have been put in force in the volume that is missing.
                    if self.missing && in_force.is_none() {
                        continue;
                    }
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
                if !self.missing && !self.forms.contains(form) {
                    return broken(
                        "citation",
                        format!("the answer names a form that does not stand before it, {form}"),
                    );
                }
                if !self.missing && data.texts("rests_on").into_iter().any(|h| !self.stands(h)) {
                    return broken("citation", "`rests_on` names no earlier line of this register");
                }
            }
            "air_test" => {
                let line = data.get("witness").and_then(|w| w.text("line"));
                if !self.missing && line.is_some_and(|l| !self.stands(l)) {
                    return broken("citation", "`witness` names no earlier line of this register");
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn take_in(&mut self, line: &Line) {
        if line.kind.name == "enrol"
            && let Ok(begun) = self.check_volume(line)
        {
            self.take_volume(line, begun);
        }
        if line.kind.name == "open" && line.data.int("rules") != Some(RULES) {
            self.doubts.push(Doubt {
                volume: self.origin.volume,
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
            let (hash, log) = (line.hash.clone(), line.log.clone());
            self.texts.insert(key, TextInForce { text_hash, text, line: hash, seq: line.seq, log });
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
        if line.kind.name == "clock" {
            self.clock = Some(line.hash.clone());
        }
        self.hashes.insert(line.digest());
        self.seq = line.seq;
        self.head = line.hash.clone();
        self.time = line.time.clone();
        self.last_key = std::mem::replace(&mut self.next, line.next.clone());
    }
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
