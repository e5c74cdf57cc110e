//! One function per thing a person can do, used by every face. An action reads everything, decides
//! once with pure functions, and writes one line.
//!
//! Always: a refused request of weight leaves a `denied` line; a report is written whatever the state.
//! Not here: arguments, prompts, layout (`cli`), files (`disk`).

pub mod aside;
pub mod at_hand;
pub mod enrol;

use crate::permit::decide::sign::{self, Hand, Prepared, Signing};
use crate::permit::decide::take_in::take_in;
use crate::permit::decide::{Known, Refusal};
use crate::permit::state::{State, fold};
use crate::record::carried::Carried;
use crate::record::chain::Chain;
use crate::record::json::{Json, object};
use crate::record::line::{ActDraft, Broken, Draft, FORGOTTEN, Line};
use crate::record::store::{self, Opened, Problem, Register};
use crate::record::volumes::Volume;
use crate::time::Moment;
use crate::tongue::{Tongue, say};
use crate::trust::sshsig::{self, HashName};
use crate::trust::{Roster, Signer};
use crate::view::LineNo;
use crate::world::{Random, Storage};
use jiff::tz::TimeZone;

/// Why something was not done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// A rule said no.
    Refused(Refusal),
    /// Nothing is done until somebody says what day it is.
    WhatDay(Refusal),
    /// The register is broken at this line.
    Broken {
        /// Line.
        at: LineNo,
        /// Rule.
        broken: Broken,
    },
    /// It could not be done here and now.
    CouldNot(String),
}

impl From<Refusal> for Trouble {
    fn from(r: Refusal) -> Trouble {
        Trouble::Refused(r)
    }
}

impl From<Problem> for Trouble {
    fn from(p: Problem) -> Trouble {
        match p {
            Problem::Broken { at, broken } => Trouble::Broken { at, broken },
            Problem::CouldNot(why) => Trouble::CouldNot(why),
        }
    }
}

impl From<String> for Trouble {
    fn from(why: String) -> Trouble {
        Trouble::CouldNot(why)
    }
}

/// A station with its storage, at one moment. Whoever makes it holds the register's lock.
pub struct Desk<'a> {
    /// The register's folder.
    pub register: &'a mut dyn Storage,
    /// The seal's folder.
    pub seal: &'a mut dyn Storage,
    /// Randomness.
    pub random: &'a mut dyn Random,
    /// UTC second.
    pub second: i64,
    /// The date that somebody said it is, for a clock that jumped.
    pub today: Option<String>,
}

/// A register read, checked and folded.
pub struct Loaded {
    /// The register.
    pub register: Register,
    /// What it says.
    pub state: State,
    /// Now, at the site.
    pub now: Moment,
    /// So many lines there were when what is at hand was kept last; none where it was not.
    since: Option<u64>,
    /// A line began to be written.
    began: bool,
}

impl Loaded {
    /// A register that was read whole, or was just begun.
    pub fn new(register: Register, state: State, now: Moment) -> Loaded {
        Loaded { register, state, now, since: None, began: false }
    }

    /// For deciding.
    pub fn known(&self) -> Known<'_> {
        Known::new(&self.register.chain, &self.state, &self.now)
    }

    /// Goes on with a line that was kept meanwhile, at that moment; false where others came between.
    pub fn goes_on(&mut self, line: &Line, now: Moment) -> bool {
        let came = self.register.came(line) && self.state.take(line).is_ok();
        self.now = now;
        came
    }
}

/// A register read to look at it only: no lock, no key, nothing mended. It may be a copy on another
/// machine, or one that somebody is writing to.
pub struct Looked {
    /// What the whole good lines say of the chain.
    pub chain: Chain,
    /// The lines that check.
    pub lines: Vec<Line>,
    /// What they say.
    pub state: State,
    /// Now, at the site.
    pub now: Moment,
    /// The first line that does not check, if one stands there.
    pub broken: Option<(LineNo, Broken)>,
    /// Bytes stand after the last whole line: an entry was cut short, or is being written.
    pub torn: bool,
    /// So many reports are counted that stand aside and not in the register yet.
    pub aside: usize,
    /// So many of these cannot be read, or are missing by their numbers.
    pub unread: usize,
    /// The seal key at hand is of neither the next line nor the one after: newer lines may exist.
    pub older: bool,
}

impl Looked {
    /// For showing; nothing may be decided on it.
    pub fn known(&self) -> Known<'_> {
        Known::new(&self.chain, &self.state, &self.now)
    }

    /// Whether lines or reports of the volumes at hand are missing, or may be: nobody goes on air by what is left. A volume
    /// that was lost before these is another matter: what was open in it counts for nothing, and the work goes on.
    pub fn in_part(&self) -> bool {
        self.torn || self.older || self.unread > 0
    }

    /// The same, or a line does not check: nobody is off air because nothing here says that they are on.
    pub fn is_damaged(&self) -> bool {
        self.in_part() || self.broken.is_some()
    }

    /// The same, or trouble if a line does not check.
    pub fn whole(self) -> Result<Looked, Trouble> {
        match self.broken {
            Some((at, broken)) => Err(Trouble::Broken { at, broken }),
            None => Ok(self),
        }
    }
}

/// Reads a register's volumes as far as they check.
pub fn look(volumes: &[Volume], second: i64) -> Result<Looked, Trouble> {
    let mut chain = None;
    let mut lines: Vec<Line> = Vec::new();
    let mut broken = None;
    let mut torn = false;
    for (n, volume) in (1..).zip(volumes) {
        let mut scan = store::scan_after(chain.take(), &volume.bytes);
        let at = LineNo { volume: n, line: scan.lines.len() as u64 };
        chain = scan.chain;
        lines.append(&mut scan.lines);
        broken = scan.bad.map(|b| (at, b));
        torn = broken.is_none() && scan.end < volume.bytes.len();
        if torn && (n as usize) < volumes.len() {
            let why = say!("{file} ends in bytes that are no line", file = volume.name);
            broken = Some((at, Broken { rule: "tail", why }));
        }
        if broken.is_some() {
            break;
        }
    }
    let Some(chain) = chain else {
        return Err(match broken {
            Some((at, broken)) => Trouble::Broken { at, broken },
            None => Trouble::CouldNot(say!("no whole line stands in this register").into()),
        });
    };
    let mut state = State::default();
    for line in &lines {
        if let Err(b) = state.take(line) {
            broken = Some((state.at(line), b));
            break;
        }
    }
    let now = Moment::new(second, &zone(&chain));
    Ok(Looked { chain, lines, state, now, broken, torn, aside: 0, unread: 0, older: false })
}

/// The time zone of the site in force; UTC before there is one.
pub fn zone(chain: &Chain) -> TimeZone {
    let site = chain.texts.iter().find(|((kind, _), _)| kind == "site");
    site.and_then(|(_, t)| crate::permit::bench::file("site", &t.text).ok())
        .and_then(|v| v.text("zone").and_then(|z| TimeZone::get(z).ok()))
        .unwrap_or(TimeZone::UTC)
}

impl Desk<'_> {
    /// Opens the register, mending what a crash left.
    pub fn load(&mut self) -> Result<Loaded, Trouble> {
        let utc = Moment::new(self.second, &TimeZone::UTC);
        match store::open(self.register, self.seal, &utc, self.random)? {
            Opened::Empty(None) => Err(Trouble::CouldNot(
                say!("there is no register here yet; an enroller begins one with `airwrit enrol`").into(),
            )),
            Opened::Empty(Some(_)) => Err(Trouble::CouldNot(
                say!(
                    "a next volume was begun here and has no line yet; an enroller begins it again with \
                      `airwrit enrol --next-volume`"
                )
                .into(),
            )),
            Opened::Elsewhere(register) => Err(store::elsewhere(&register).into()),
            Opened::Ready(register) => {
                let state = fold(&register.lines).map_err(|(at, broken)| Trouble::Broken { at, broken })?;
                let now = Moment::new(self.second, &zone(&register.chain));
                let mut loaded = Loaded::new(*register, state, now);
                self.enter_aside(&mut loaded)?;
                Ok(loaded)
            }
        }
    }

    /// Keeps one line: on disk before anyone is told.
    pub fn keep(&mut self, loaded: &mut Loaded, draft: &Draft) -> Result<Line, Trouble> {
        let mut taken = false;
        let Loaded { register, state, now, began, .. } = loaded;
        let kept = register.append_if(self.register, self.seal, draft, now, self.random, &mut |line| {
            taken = true;
            state.take(line)?;
            if state.permits.lack() {
                return Err(Broken { rule: FORGOTTEN, why: String::new() });
            }
            *began = true;
            Ok(())
        });
        match kept {
            Ok(line) => {
                let line = line.clone();
                self.leave_at_hand(loaded);
                Ok(line)
            }
            Err(problem) => {
                // It was taken in, or a part of it, and is not on disk: what is known is what the lines say.
                let whole = !loaded.state.permits.are_in_part();
                if taken
                    && whole
                    && let Ok(known) = fold(&loaded.register.lines)
                {
                    loaded.state = known;
                }
                Err(problem.into())
            }
        }
    }

    /// Decides a request and keeps its line. A refusal of weight is kept as `denied`.
    pub fn request(
        &mut self,
        mut decide: impl FnMut(&Known<'_>) -> Result<Draft, Refusal>,
        denied: Option<(&str, Option<&str>, &str)>,
    ) -> Result<(Line, Loaded), Trouble> {
        // What is at hand may say yes; no is said with everything read.
        if let Some(mut loaded) = self.at_hand()
            && self.sure_of_the_day(&loaded).is_ok()
            && let Ok(draft) = decide(&loaded.known())
        {
            let kept = self.keep(&mut loaded, &draft);
            if loaded.began {
                return kept.map(|line| (line, loaded));
            }
        }
        let mut loaded = self.load()?;
        self.sure_of_the_day(&loaded)?;
        match decide(&loaded.known()) {
            Ok(draft) => {
                let line = self.keep(&mut loaded, &draft)?;
                Ok((line, loaded))
            }
            Err(refusal) => {
                if let Some((request, permit, set)) = denied {
                    self.deny(&mut loaded, request, permit, set, &refusal)?;
                }
                Err(Trouble::Refused(refusal))
            }
        }
    }

    fn sure_of_the_day(&self, loaded: &Loaded) -> Result<(), Trouble> {
        loaded.known().jumped(self.today.as_deref()).map_err(Trouble::WhatDay)
    }

    fn deny(
        &mut self,
        loaded: &mut Loaded,
        request: &str,
        permit: Option<&str>,
        set: &str,
        refusal: &Refusal,
    ) -> Result<(), Trouble> {
        let cut = |s: &String| -> Json {
            let mut end = s.len().min(1900);
            while !s.is_char_boundary(end) {
                end -= 1;
            }
            s.get(..end).unwrap_or_default().into()
        };
        let why = Json::Arr(refusal.why.iter().take(64).map(cut).collect());
        let data = object([("request", request.into()), ("why", why)]);
        let known = loaded.known();
        let draft = match permit.and_then(|p| known.state.permits.get(p)) {
            Some(p) => known.line(p, "denied", "", data),
            None if !set.is_empty() => Known::line_apart("denied", "", data.with("set", set)),
            None => return Ok(()),
        };
        self.keep(loaded, &draft).map(|_| ())
    }
}

impl Desk<'_> {
    /// Prepares an act: what the person is shown before they sign. Nothing is written but a `denied`.
    pub fn prepare(&mut self, number: &str, what: &Signing, by: &str) -> Result<(Prepared, Loaded), Trouble> {
        let mut loaded = self.load()?;
        self.sure_of_the_day(&loaded)?;
        match sign::prepare(&loaded.known(), number, what, &Hand::here(by)) {
            Ok(act) => Ok((act, loaded)),
            Err(refusal) => {
                let again = || sign::prepare(&loaded.known(), number, what, &Hand::here(by)).err();
                let kept = to_keep(&refusal, Tongue::English.within(again));
                self.deny(&mut loaded, what.word(), Some(number), "", &kept)?;
                Err(refusal.into())
            }
        }
    }

    /// Takes a signed act in, signed here or (`own`) on the signer's machine: decided again on everything as it
    /// stands now, then one line around it. What is refused leaves nothing behind.
    pub fn take_in(&mut self, carried: &Carried, own: bool) -> Result<(Line, Loaded), Trouble> {
        let mut loaded = self.load()?;
        self.sure_of_the_day(&loaded)?;
        let draft = take_in(&loaded.known(), &loaded.register.lines, carried, own)?;
        let line = self.keep(&mut loaded, &draft)?;
        Ok((line, loaded))
    }

    /// Prepares the act that the clock is right, to be shown before it is signed.
    pub fn prepare_clock(&mut self, by: &str, reason: &str) -> Result<(ActDraft, Loaded), Trouble> {
        let loaded = self.load()?;
        let act = sign::clock(&loaded.known(), &Hand::here(by), reason)?;
        Ok((act, loaded))
    }

    /// Signs it and keeps it; the only line whose time may be earlier than that of the line before.
    pub fn set_clock(&mut self, by: &str, key: &dyn Signer, reason: &str) -> Result<Line, Trouble> {
        let (act, mut loaded) = self.prepare_clock(by, reason)?;
        let draft = Draft { kind: "clock", permit: None, by: None, what: act.sign(key)? };
        self.keep(&mut loaded, &draft)
    }

    /// Puts a text in force, signed by an approver.
    pub fn approve(
        &mut self,
        by: &str,
        key: &dyn Signer,
        kind: &'static str,
        id: &str,
        revision: Option<u32>,
        text: &str,
    ) -> Result<Line, Trouble> {
        let loaded = self.load()?;
        let act = sign::approve(&loaded.known(), &Hand::here(by), kind, id, revision, text)?.sign(key)?;
        self.take_in(&act, false).map(|(line, _)| line)
    }
}

/// A refusal as it is kept: in the language in which it is told, but that two readings did not agree in English: it is
/// looked for later. `english` is the same refusal.
fn to_keep(told: &Refusal, english: Option<Refusal>) -> Refusal {
    let Some(english) = english.filter(|e| e.why.iter().any(|w| sign::says_disagreed(w))) else {
        return told.clone();
    };
    if english.why.len() != told.why.len() {
        return english;
    }
    let one = |(told, english): (&String, &String)| {
        if sign::says_disagreed(english) { english.clone() } else { told.clone() }
    };
    Refusal { why: told.why.iter().zip(&english.why).map(one).collect(), instead: told.instead.clone() }
}

/// A roster's signature file, checked against the roster.
pub fn roster_sign(roster: &Roster, armoured: &str) -> Result<crate::trust::roster::RosterSign, String> {
    let d = sshsig::Detached::read(armoured)?;
    if d.namespace != sshsig::ROSTER {
        return Err(say!(
            "the signature is of the namespace `{got}`, wanted `{wanted}`",
            got = crate::text::safe_line(&d.namespace),
            wanted = sshsig::ROSTER
        ));
    }
    let signed = sshsig::tbs(sshsig::ROSTER, d.hash, roster.text().as_bytes());
    if !d.key.verifies(&signed, &d.signature) {
        return Err(say!("the signature is not of this roster's bytes").into());
    }
    Ok(crate::trust::roster::RosterSign { hash: d.hash, key: d.key, sign: d.signature })
}

/// A custodian's detached signature of a roster, armoured.
pub fn sign_roster(text: &str, key: &dyn Signer) -> Result<String, String> {
    let sign = key.sign(&sshsig::tbs(sshsig::ROSTER, HashName::Sha512, text.as_bytes()))?;
    Ok(sshsig::armour(&key.public(), sshsig::ROSTER, HashName::Sha512, &sign))
}

/// A reading as it is typed: `< 0.1` is below the instrument's lowest mark, 0.1.
pub fn below(value: Option<&str>) -> (Option<String>, bool) {
    match value.map(str::trim).map(|v| (v, v.strip_prefix('<'))) {
        Some((_, Some(mark))) => (Some(mark.trim().to_owned()), true),
        Some((v, None)) => (Some(v.to_owned()), false),
        None => (None, false),
    }
}
