//! The chain: each line checked against those before it.
//!
//! In: lines in order, volume after volume: all volumes are one history. Out: `Ok`, or the rule that a
//! line breaks. Holds what the next line must match: log, seq, H of the head, time, seal key, roster,
//! and per permit the lines that may be cited. Always: a line reaches the fold (`permit`) only through here.
//! Not here: states of permits and tallies (`permit::state`), reading files (`store`).

mod acts;
mod at_hand;
mod number;
mod stood;
mod volume;

pub use at_hand::AtHand;
pub use number::Number;
use stood::Stood;
use volume::{Before, Begun, before, begun, by_its_own, follows};

use super::aside::entered;
use super::kinds::HARMLESS;
use super::line::{Broken, FORGOTTEN, Line, NONE, broken, digest_of, hash, in_hex};
use crate::time::{seconds, short_date};
use crate::tongue::say;
use crate::trust::roster::RosterSign;
use crate::trust::sshsig::{self, HashName};
use crate::trust::{PublicKey, Roster};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, HashSet, VecDeque};

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

/// A line of a permit, on few bytes: a register holds many permits.
#[derive(Clone, Copy, Debug)]
struct Link {
    hash: [u8; 32],
    time: i64,
    seq: u64,
}

impl Link {
    fn seen(&self) -> Seen {
        Seen { hash: in_hex(&self.hash), time: self.time, seq: self.seq }
    }
}

#[derive(Clone, Debug)]
struct PermitChain {
    /// The last line.
    last: Link,
    /// Those before it from the last on that changes state, where it is harmless; no more than may be asked for.
    before: VecDeque<Link>,
    declared: Option<([u8; 32], Box<str>)>,
    handed_back: Option<[u8; 32]>,
}

impl PermitChain {
    fn take(&mut self, link: Link, harmless: bool) {
        if !harmless {
            self.before = VecDeque::new();
        } else {
            if self.before.len() == MOST_HARMLESS {
                self.before.pop_front();
            }
            self.before.push_back(self.last);
        }
        self.last = link;
    }

    /// The last line and those before it, newest first.
    fn tail(&self) -> impl Iterator<Item = &Link> {
        std::iter::once(&self.last).chain(self.before.iter().rev())
    }
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
    permits: BTreeMap<Number, Box<PermitChain>>,
    /// Permits that have ended, where only the verdict is wanted: H of the last line of each, by number.
    ended: Vec<(Number, [u8; 32])>,
    forms: HashSet<String>,
    stood: Stood,
    /// Lines may be missing: this is an excerpt of that permit.
    excerpt_of: Option<String>,
    /// H of the last `clock` line of the volume at hand.
    clock: Option<String>,
    /// The logs of the volumes before.
    logs: Vec<String>,
    /// A volume before the first one here is missing: what began in it is not known.
    missing: bool,
    /// Permits that are over are not here: nothing is said of one that is not.
    in_part: bool,
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
                log: line.log.to_string(),
                volume: 1,
                roster,
                vouched,
            },
            seq: 0,
            head: line.hash.to_string(),
            time: line.time.to_string(),
            next: line.next.clone(),
            last_key: seal,
            texts: BTreeMap::new(),
            by_hash: BTreeMap::new(),
            doubts: Vec::new(),
            permits: BTreeMap::new(),
            ended: Vec::new(),
            forms: HashSet::new(),
            stood: Stood::all(line.digest()),
            excerpt_of: None,
            clock: None,
            logs: Vec::new(),
            missing: false,
            in_part: false,
        };
        chain.check_act(line)?;
        if let Some(before) = before {
            chain.missing = true;
            let why = match before {
                Before::Line { log, seq, .. } => {
                    say!("the volume before, log {log}, {lines} lines, is not here", log, lines = seq + 1)
                }
                Before::Lost(words) => {
                    say!(
                        "the volume before is said to be lost: {words}",
                        words = crate::text::safe_line(words)
                    )
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

    /// From here on only the verdict is wanted: neither texts nor every H are kept, only that of so many last lines, so that what is at hand does not grow
    /// with the register. What is cited from far back counts as standing and is asked for ([`Chain::asked`]), but for one H
    /// that is known to stand nowhere.
    pub fn for_a_verdict(&mut self, near: usize, nowhere: Option<[u8; 32]>) {
        self.stood = Stood::near(near, digest_of(&self.head).unwrap_or_default(), nowhere);
    }

    /// A permit has ended, and only the verdict is wanted: no act may stand on it any more, and for other lines its last
    /// one is enough.
    pub fn has_ended(&mut self, permit: &str) {
        let Some(number) = Number::of(permit).filter(|_| !self.stood.is_all()) else { return };
        if let (Some(p), Err(at)) = (self.permits.remove(&number), self.place_ended(&number)) {
            self.ended.insert(at, (number, p.last.hash));
        }
    }

    fn place_ended(&self, number: &Number) -> Result<usize, usize> {
        self.ended.binary_search_by_key(number, |(n, _)| *n)
    }

    /// H of the last line of a permit.
    fn last_of_permit(&self, permit: &str) -> Option<&[u8; 32]> {
        let number = Number::of(permit)?;
        if let Some(p) = self.permits.get(&number) {
            return Some(&p.last.hash);
        }
        self.place_ended(&number).ok().and_then(|at| self.ended.get(at)).map(|(_, hash)| hash)
    }

    /// H of lines that are cited, stand nowhere near, and have to be looked for; with the place, counted over all lines,
    /// before which each must stand. They are asked for once.
    pub fn asked(&mut self) -> Vec<([u8; 32], u64)> {
        self.stood.asked()
    }

    /// Whether so many are asked for that it is time to look.
    pub fn asks_for_many(&self) -> bool {
        self.stood.asks_for_many()
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
            return broken("seal", say!("the seal is not by the key that the line before names"));
        }
        self.check_said(line)
    }

    /// Permits that reports written aside name must be here.
    fn check_entered(&self, line: &Line) -> Result<(), Broken> {
        if self.missing || self.excerpt_of.is_some() {
            return Ok(());
        }
        match entered(&line.data).iter().filter_map(|e| e.permit.as_ref()).find(|p| !self.knows(p)) {
            Some(permit) => broken("number", say!("{permit} was never opened", permit)),
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
            return broken(
                "log",
                say!("`log` is {got}, wanted {wanted}", got = line.log, wanted = self.origin.log),
            );
        }
        let follows = line.seq == self.seq + 1;
        if !follows && (self.excerpt_of.is_none() || line.seq <= self.seq) {
            return broken(
                "seq",
                say!("`seq` is {got}, wanted {wanted}", got = line.seq, wanted = self.seq + 1),
            );
        }
        if follows && line.prev != self.head {
            return broken(
                "prev",
                say!(
                    "`prev` is {got}, wanted {wanted}, the hash of the line before",
                    got = line.prev,
                    wanted = self.head
                ),
            );
        }
        let sets_back = line.kind.name == "clock";
        if line.time < self.time && !sets_back {
            return broken(
                "time",
                say!(
                    "the line is of {time}, earlier than the line before, {before}",
                    time = line.time,
                    before = self.time
                ),
            );
        }
        if sets_back && follows && line.data.text("last") != Some(self.time.as_str()) {
            return broken(
                "time",
                say!("`last` is not the time of the line before, {time}", time = self.time),
            );
        }
        if line.roster != self.origin.roster.hash() {
            return broken(
                "roster",
                say!(
                    "`roster` is {got}, wanted {wanted}",
                    got = line.roster,
                    wanted = self.origin.roster.hash()
                ),
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
            (None, Some(permit)) => self.missing && line.kind.name != "open" && !self.knows(permit),
            (_, None) => false,
        }
    }

    fn check_number(&self, line: &Line) -> Result<(), Broken> {
        let Some(permit) = &line.permit else {
            return Ok(());
        };
        let known = self.knows(permit);
        if self.in_part && !known {
            return broken(FORGOTTEN, String::new());
        }
        if line.kind.name != "open" {
            return if known { Ok(()) } else { broken("number", say!("{permit} was never opened", permit)) };
        }
        if known {
            return broken("number", say!("{permit} was opened before", permit));
        }
        let wanted = format!("{}-{}-", self.origin.station, short_date(&line.time, &line.zone));
        if permit.starts_with(&wanted) {
            Ok(())
        } else {
            broken("number", say!("the permit is numbered {permit}, wanted {wanted}NN", permit, wanted))
        }
    }

    fn check_pprev(&self, line: &Line) -> Result<(), Broken> {
        let Some(permit) = &line.permit else {
            return Ok(());
        };
        let wanted = self.last_of_permit(permit).copied().unwrap_or_default();
        if line.pprev.as_deref().and_then(digest_of) == Some(wanted) {
            Ok(())
        } else {
            let wanted = in_hex(&wanted);
            broken(
                "pprev",
                say!("`pprev` is not the hash of the line before of {permit}, {wanted}", permit, wanted),
            )
        }
    }

    /// Whether a line of this H stands before.
    fn stands(&self, hash: &str) -> bool {
        digest_of(hash).is_some_and(|d| self.stood.has(&d))
    }

    fn of(&self, permit: &str) -> Option<&PermitChain> {
        self.permits.get(&Number::of(permit)?).map(AsRef::as_ref)
    }

    fn knows(&self, permit: &str) -> bool {
        self.last_of_permit(permit).is_some()
    }

    /// H of the last line of a permit; `NONE` if there is none.
    pub fn permit_head(&self, permit: &str) -> String {
        self.last_of_permit(permit).map_or_else(|| NONE.to_owned(), in_hex)
    }

    /// seq of the last line of a permit.
    pub fn permit_seq(&self, permit: &str) -> Option<u64> {
        self.of(permit).map(|p| p.last.seq)
    }

    /// H of the last declaration of a permit and who made it.
    pub fn declared(&self, permit: &str) -> Option<(String, &str)> {
        self.of(permit).and_then(|p| p.declared.as_ref()).map(|(hash, by)| (in_hex(hash), by.as_ref()))
    }

    /// H of the hand-back of a permit.
    pub fn handed_back(&self, permit: &str) -> Option<String> {
        self.of(permit).and_then(|p| p.handed_back.as_ref()).map(in_hex)
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
                if declared.as_ref().map(|d| d.0.as_str()) != target {
                    return broken(
                        "target",
                        say!("`target` is not the last declaration of {permit}", permit),
                    );
                }
                let by = line.act.as_ref().map(|a| a.by.as_str());
                if line.kind.name == "countersign" && declared.map(|d| d.1) == by {
                    return broken("person", say!("the person who declared may not countersign"));
                }
                Ok(())
            }
            "close" if self.handed_back(permit).as_deref() != target => {
                broken("target", say!("`target` is not the hand-back of {permit}", permit))
            }
            "note" | "stopped" if !self.missing && target.is_some_and(|t| !self.stands(t)) => {
                broken("target", say!("`target` names no earlier line of this register"))
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
                    return broken("citation", say!("`hash` is not the SHA-256 of `text`, {got}", got));
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
                            say!("the {kind} `{id}` is not cited as it is in force", kind, id),
                        );
                    }
                }
            }
            "answer" => {
                let form = data.text("form").unwrap_or_default();
                if !self.missing && !self.forms.contains(form) {
                    return broken(
                        "citation",
                        say!("the answer names a form that does not stand before it, {form}", form),
                    );
                }
                if !self.missing && data.texts("rests_on").into_iter().any(|h| !self.stands(h)) {
                    return broken("citation", say!("`rests_on` names no earlier line of this register"));
                }
            }
            "air_test" => {
                let line = data.get("witness").and_then(|w| w.text("line"));
                if !self.missing && line.is_some_and(|l| !self.stands(l)) {
                    return broken("citation", say!("`witness` names no earlier line of this register"));
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
                why: say!("this permit was opened under rules that are not known here").into(),
            });
        }
        if let (Some(key), Some(text), Some(text_hash)) =
            (subject(line), line.data.text("text"), line.data.text("hash"))
        {
            if key.0 == "form" {
                self.forms.insert(text_hash.to_owned());
            }
            let mut text = text.to_owned();
            if self.stood.is_all() {
                self.by_hash.insert(text_hash.to_owned(), text.clone());
            } else {
                text = String::new();
            }
            let text_hash = text_hash.to_owned();
            let (hash, log) = (line.hash.clone(), line.log.clone());
            self.texts.insert(
                key,
                TextInForce { text_hash, text, line: hash.to_string(), seq: line.seq, log: log.to_string() },
            );
        }
        if line.kind.name == "roster"
            && let Ok(roster) = self.following_roster(line)
        {
            self.origin.roster = roster;
        }
        let digest = line.digest();
        if let Some(number) = line.permit.as_deref().and_then(Number::of) {
            self.take_permit_line(number, line, digest);
        }
        if line.kind.name == "clock" {
            self.clock = Some(line.hash.to_string());
        }
        self.stood.take(line, digest, self.missing);
        self.seq = line.seq;
        self.head = line.hash.to_string();
        self.time = line.time.to_string();
        self.last_key = std::mem::replace(&mut self.next, line.next.clone());
    }
    fn take_permit_line(&mut self, number: Number, line: &Line, digest: [u8; 32]) {
        if let Ok(at) = self.place_ended(&number) {
            if let Some((_, last)) = self.ended.get_mut(at) {
                *last = digest;
            }
            return;
        }
        let link = Link { hash: digest, time: seconds(&line.time), seq: line.seq };
        let p = match self.permits.entry(number) {
            Entry::Occupied(known) => {
                let p = known.into_mut();
                p.take(link, HARMLESS.contains(&line.kind.name));
                p
            }
            Entry::Vacant(new) => new.insert(Box::new(PermitChain {
                last: link,
                before: VecDeque::new(),
                declared: None,
                handed_back: None,
            })),
        };
        match (line.kind.name, &line.act) {
            ("declare", Some(act)) => p.declared = Some((digest, act.by.as_str().into())),
            ("hand_back", _) => p.handed_back = Some(digest),
            _ => {}
        }
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
                return broken("custodian", say!("a custodian's signature is not in its form"));
            };
            signs.push(RosterSign { hash, key, sign });
        }
    }
    Ok(signs)
}
