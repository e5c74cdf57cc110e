//! The auditor's side: verifying a register or an excerpt from its bytes, trusting neither crew nor
//! program. Walks read → know again from the bytes.
//!
//! Verdicts: `broken` (where, which rule, in words) beats `unproven` beats `sound`. Whom to trust comes
//! from outside ([`Trust`]); without it nothing is better than unproven.
//! Not here: writing, mending, judging gates again.
//!
//! What can be wrong, one word each; the independent verifier (`examples/verify.py`) says the same words:
//!
//! | word | broken |
//! |---|---|
//! | `frame` | the fixed ends of a line, or its length |
//! | `tail` | bytes after the last line, or no line at all: an append was cut short or bytes were lost |
//! | `base64` | a seal or a signature of an act is not the one writing of 64 bytes |
//! | `profile` | the body is not JSON in the narrow form of the record |
//! | `version` | `v` is missing or no integer (another integer: could not be read, not broken) |
//! | `before` | line 0 of a later volume does not go on where the volume before it ends, or calls lost what is here |
//! | `log` | `log` is not in its form, or of another register |
//! | `seq` | `seq` is not the next number |
//! | `prev` | `prev` is not the hash of the line before |
//! | `time` | a line's time or offset is not in its form or earlier than the line before; an act signed too long before, or after, its line or the line it was shown |
//! | `roster` | `roster` is not the hash of the roster in force; its text is no good roster, or may not follow the one in force |
//! | `custodian` | the signatures under the roster: order, a stranger's, a bad one, too few |
//! | `seal` | the seal is not by the key that the line before names, or a key named for sealing is weak |
//! | `kind` | a kind, or members of body or data, that the table of kinds does not have so |
//! | `act` | the members of the act, or one that is not the line's |
//! | `person` | nobody of the roster, not in that role, or not who may sign this: the one who declared countersigns, another than the holder asks for a later end |
//! | `key` | no key of that person |
//! | `window` | the key's time is over, not begun, or it was revoked |
//! | `signature` | the signature under the act |
//! | `number` | a permit's number: its form, station or day; used before; never opened |
//! | `pprev` | the line before of the permit, or the permit moved on after what the signer was shown |
//! | `after` | not the last line of that kind and subject when it was signed |
//! | `target` | not the line that this one must answer |
//! | `token` | the token of a countersignature, or of a later end |
//! | `citation` | a text whose hash is another, a text cited that is not in force, a line cited that is not there, or an answer carried that may not be |
//! | `again` | a step answered again without a word on what was done since |
//! | `deviation` | a deviation without an answer before it or where none may be, or a countersignature that does not name exactly those left, or names some and narrows nothing |
//! | `state` | a line that the state of its permit, or somebody on air, does not allow |
//!
//! | word | unproven |
//! |---|---|
//! | `custodian` | nobody outside vouches for the custodians, or too few whom the reader trusts signed |
//! | `compromised` | signed with a key that is compromised since; nothing outside shows that it was before |
//! | `retired` | signed with a key at a time when, as a later roster says, it could sign no more |
//! | `roster` | a roster given from outside is another one than the register's, or does not follow it |
//! | `volume` | an earlier volume is missing, or the first file is not named as the first |
//! | `rules` | a permit under rules not known here: its states are not judged, its bytes and signatures are |
//! | `excerpt` | lines of an excerpt that no signature reaches |

pub mod anchors;
pub mod bounded;
pub mod compare;
pub mod rosters;
pub mod slip;

use crate::permit::state::State;
use crate::record::chain::Chain;
use crate::record::line::{Broken, LONGEST, Line, OTHER_VERSION};
use crate::record::pour::{self, Else, Persons, Piece};
use crate::tongue::{say, say_n};
use crate::trust::Roster;
use crate::trust::roster::RosterSign;
use crate::view::LineNo;
use rosters::Gathered;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashSet};
use std::ops::ControlFlow;

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_zero(n: &u64) -> bool {
    *n == 0
}

/// What came of verifying.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Everything checks and is vouched for from outside.
    Sound,
    /// Nothing is wrong, but something is not proven.
    Unproven,
    /// A line breaks a rule.
    Broken,
    /// It could not be read here: a version this program does not know.
    CouldNot,
}

/// Whom the auditor trusts: fingerprints of custodians, and how many of them must have signed.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trust {
    /// `SHA256:...`.
    pub custodians: Vec<String>,
    /// At least this many.
    pub threshold: usize,
}

impl Trust {
    /// Reads a trust file: YAML with `custodians` and `threshold`.
    pub fn read(text: &str) -> Result<Trust, String> {
        let trust: Trust =
            serde_yaml::from_str(text).map_err(|e| say!("the trust file cannot be read: {why}", why = e))?;
        trust.check()
    }

    /// Refuses what could not mean anything: none, doubled, or a threshold out of reach.
    pub fn check(mut self) -> Result<Trust, String> {
        for c in &self.custodians {
            if !c.starts_with("SHA256:") || c.len() != 50 {
                return Err(say!(
                    "`{got}` is no key fingerprint (SHA256: and 43 characters, as `ssh-keygen -l` prints)",
                    got = crate::text::safe_line(c)
                ));
            }
        }
        self.custodians.sort();
        self.custodians.dedup();
        if self.threshold == 0 || self.threshold > self.custodians.len() {
            return Err(say!(
                "the threshold is {got}, wanted 1 to {most} (the number of custodians named)",
                got = self.threshold,
                most = self.custodians.len()
            ));
        }
        Ok(self)
    }
}

/// One thing the report says of a line.
#[derive(Clone, Debug, Serialize)]
pub struct Said {
    /// The line; 0:0 for what is said of the whole.
    #[serde(flatten)]
    pub line: Option<LineNo>,
    /// The rule's word.
    pub rule: &'static str,
    /// In words.
    pub why: String,
    /// UTC: since when something is held against what was signed. What is shown to be older is not meant.
    #[serde(skip)]
    pub since: Option<String>,
}

impl Said {
    fn new(line: Option<LineNo>, rule: &'static str, why: String) -> Said {
        Said { line, rule, why, since: None }
    }

    /// In one line, with the place and the rule.
    pub fn words(&self) -> String {
        match self.line {
            Some(line) => {
                say!("line {line}, rule `{rule}`: {why}", line, rule = self.rule, why = self.why)
            }
            None => say!("rule `{rule}`: {why}", rule = self.rule, why = self.why),
        }
    }
}

/// The report.
#[derive(Clone, Debug, Serialize)]
pub struct Report {
    /// The verdict.
    pub verdict: Verdict,
    /// `register` or `excerpt`.
    pub scope: &'static str,
    /// Lines that check, in all volumes.
    pub lines: u64,
    /// In an excerpt: so many lines stood between those that are here. What they said of the set, its other
    /// permits and the people on air by them cannot be seen.
    #[serde(skip_serializing_if = "is_zero")]
    pub between: u64,
    /// Volumes read.
    pub volumes: u32,
    /// The first line that does not check, or the next one to come.
    pub at: LineNo,
    /// Station code.
    pub station: Option<String>,
    /// Log id.
    pub log: Option<String>,
    /// H of the last line that checks.
    pub head: Option<String>,
    /// Its time, UTC.
    pub until: Option<String>,
    /// Fingerprints of the custodians who signed the roster.
    pub custodians: Vec<String>,
    /// Versions of the roster: those in force here, and those given from outside.
    pub rosters: Vec<rosters::Version>,
    /// Permits and the state they are in.
    pub permits: Vec<(String, &'static str)>,
    /// What is broken (one) or not proven (any number).
    pub said: Vec<Said>,
    /// Read as a register it breaks where its numbers do, and read as an excerpt of this permit it checks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub excerpt: Option<String>,
}

/// A register that was verified, for showing.
pub struct Verified {
    /// The report.
    pub report: Report,
    /// The chain as far as it goes.
    pub chain: Option<Chain>,
    /// The lines that check.
    pub lines: Vec<Line>,
    /// What they say.
    pub state: State,
}

/// Verifies a register of one volume, or the bytes of its volumes one after another.
pub fn verify(bytes: &[u8], trust: Option<&Trust>) -> Verified {
    walk(&[bytes], trust, None, &[], &|_| {})
}

/// A later version of the roster, given from outside: what it says of keys counts, whether or not the
/// register has it.
pub struct Later {
    /// The roster.
    pub roster: Roster,
    /// The custodians' signatures under it.
    pub signs: Vec<RosterSign>,
}

/// Verifies a register's volumes, with later versions of its roster, in order.
pub fn verify_volumes(volumes: &[&[u8]], trust: Option<&Trust>, later: &[Later]) -> Verified {
    walk(volumes, trust, None, later, &|_| {})
}

/// The same, read in pieces of so many bytes by so many at once (none: one after the other). Nothing of the verdict
/// rests on either.
pub fn verify_in_pieces(volumes: &[&[u8]], trust: Option<&Trust>, piece: usize, threads: usize) -> Verified {
    walk_pieces(pour::of_bytes(volumes, piece), threads, trust, None, &[], &|_| {})
}

/// The same, telling after each line how many there were: a screen shows how far it is.
pub fn verify_watched(
    volumes: &[&[u8]],
    trust: Option<&Trust>,
    later: &[Later],
    watch: &dyn Fn(u64),
) -> Verified {
    walk(volumes, trust, None, later, watch)
}

/// Verifies a register, or an excerpt, with later versions of its roster, in order.
pub fn verify_with(bytes: &[u8], trust: Option<&Trust>, later: &[Later], excerpt: bool) -> Verified {
    walk(&[bytes], trust, excerpt.then(|| permit_of(bytes)), later, &|_| {})
}

/// Verifies an excerpt of one permit: the one whose `open` stands in it.
pub fn verify_excerpt(bytes: &[u8], trust: Option<&Trust>) -> Verified {
    walk(&[bytes], trust, Some(permit_of(bytes)), &[], &|_| {})
}

fn permit_of(bytes: &[u8]) -> String {
    bytes
        .split(|b| *b == b'\n')
        .filter_map(|raw| Line::read(raw).ok())
        .rfind(|l| l.kind.name == "open")
        .and_then(|l| l.permit.clone())
        .unwrap_or_default()
        .to_string()
}

fn walk(
    volumes: &[&[u8]],
    trust: Option<&Trust>,
    excerpt_of: Option<String>,
    later: &[Later],
    watch: &dyn Fn(u64),
) -> Verified {
    let pieces = pour::of_bytes(volumes, pour::PIECE);
    // An excerpt is short.
    let threads = if excerpt_of.is_some() { 0 } else { pour::threads() };
    walk_pieces(pieces, threads, trust, excerpt_of, later, watch)
}

fn walk_pieces<'a>(
    pieces: impl Iterator<Item = Piece<'a>>,
    threads: usize,
    trust: Option<&Trust>,
    excerpt_of: Option<String>,
    later: &[Later],
    watch: &dyn Fn(u64),
) -> Verified {
    let mut walk = Walk::of(excerpt_of);
    let mut lines = Vec::new();
    let wrong = walked(&mut walk, pieces, threads, &mut |walk, line| {
        walk.take(&line)?;
        lines.push(line);
        watch(lines.len() as u64);
        Ok(())
    });
    let ended = |_: &Gathered, roster: &Roster| {
        Ok(numbered(&lines).filter_map(|(at, l)| rosters::ended_key(at, l, roster)).collect())
    };
    let report = walk.finish(trust, wrong, &lines, later, &ended);
    Verified { report, chain: walk.chain, lines, state: walk.state }
}

/// Says which of all lines a newer roster speaks against, or why they cannot be read.
type Ended<'a> = &'a dyn Fn(&Gathered, &Roster) -> Result<Vec<Said>, String>;

/// A register or an excerpt as far as it was walked.
struct Walk {
    chain: Option<Chain>,
    state: State,
    /// The next line to come.
    at: LineNo,
    lines: u64,
    excerpt_of: Option<String>,
    gathered: Gathered,
}

/// Walks through every piece until a line breaks a rule; that rule.
fn walked<'a>(
    walk: &mut Walk,
    pieces: impl Iterator<Item = Piece<'a>>,
    threads: usize,
    take: &mut dyn FnMut(&mut Walk, Line) -> Result<(), Broken>,
) -> Option<Broken> {
    let mut wrong = None;
    let persons = Persons::default();
    let _ = pour::pour(pieces, threads, &persons, &mut |came| {
        let checked = match came {
            Ok(line) => take(walk, line),
            Err(Else::Broken(broken)) => Err(broken),
            Err(Else::Rest(length)) => Err(Broken {
                rule: if length > LONGEST as u64 { "frame" } else { "tail" },
                why: say!(
                    "{length} bytes stand after the last line: an append was cut short or bytes were lost; open the \
                     register at its station",
                    length
                ),
            }),
            Err(Else::Failed(why)) => Err(Broken { rule: OTHER_VERSION, why }),
        };
        if let Err(broken) = checked {
            wrong = Some(broken);
            return ControlFlow::Break(());
        }
        if let Some(chain) = &walk.chain {
            persons.are(&chain.origin.roster);
        }
        ControlFlow::Continue(())
    });
    wrong
}

impl Walk {
    fn of(excerpt_of: Option<String>) -> Walk {
        Walk {
            chain: None,
            state: State::default(),
            at: LineNo { volume: 1, line: 0 },
            lines: 0,
            excerpt_of,
            gathered: Gathered::default(),
        }
    }

    fn take(&mut self, line: &Line) -> Result<(), Broken> {
        if self.chain.is_some() && line.kind.name == "enrol" {
            self.at = LineNo { volume: self.at.volume + 1, line: 0 };
        }
        match &mut self.chain {
            None => {
                let mut chain = Chain::first(line)?;
                if let Some(permit) = &self.excerpt_of {
                    chain.becomes_excerpt_of(permit);
                    self.state.of_one = true;
                }
                self.chain = Some(chain);
            }
            Some(chain) => chain.next(line)?,
        }
        let beside = self.chain.as_ref().is_some_and(|c| c.is_beside(line));
        // In a register a line of a permit opened in a volume that is missing is of no known set.
        if beside && self.excerpt_of.is_some() {
            self.state.take_beside(line);
        } else {
            self.state.take(line)?;
        }
        self.gathered.take(LineNo { volume: self.at.volume, line: line.seq }, line);
        self.lines += 1;
        self.at.line += 1;
        Ok(())
    }

    /// The report. Of an excerpt the lines are given.
    fn finish(
        &mut self,
        trust: Option<&Trust>,
        broken: Option<Broken>,
        lines: &[Line],
        later: &[Later],
        ended: Ended<'_>,
    ) -> Report {
        let of_one = self.excerpt_of.is_some();
        let gathered = std::mem::take(&mut self.gathered);
        let mut report = Report {
            verdict: Verdict::Sound,
            scope: if of_one { "excerpt" } else { "register" },
            lines: self.lines,
            between: 0,
            volumes: 0,
            at: self.at,
            station: None,
            log: None,
            head: None,
            until: None,
            custodians: Vec::new(),
            rosters: gathered.versions.clone(),
            permits: Vec::new(),
            said: Vec::new(),
            excerpt: None,
        };
        let r = &mut report;
        if of_one {
            let gap = |w: &[Line]| match w {
                [a, b] if a.log == b.log => b.seq.saturating_sub(a.seq + 1),
                _ => 0,
            };
            r.between = lines.windows(2).map(gap).sum();
        }
        // In an excerpt lines are missing: there it is the place in the file.
        let at = if of_one { LineNo { volume: 1, line: r.lines } } else { r.at };
        let mut unread = None;
        if let Some(chain) = &self.chain {
            r.volumes = chain.origin.volume;
            r.station = Some(chain.origin.station.clone());
            r.log = Some(chain.origin.log.clone());
            r.head = Some(chain.head.clone());
            r.until = Some(chain.time.clone());
            r.custodians = chain.origin.vouched.iter().map(|k| k.fingerprint()).collect();
            r.permits = self.state.lives(&chain.time);
            r.said.extend(
                chain.doubts.iter().map(|d| {
                    Said::new(Some(LineNo { volume: d.volume, line: d.seq }), d.rule, d.why.clone())
                }),
            );
            let (newest, out_of_line) = rosters::newest(&chain.origin.roster, later, &mut r.rosters);
            match ended(&gathered, newest) {
                Ok(said) => r.said.extend(said),
                Err(why) => unread = Some(Broken { rule: OTHER_VERSION, why }),
            }
            r.said.extend(out_of_line);
            r.said.sort_by_key(|s| s.line);
        }
        // Of what cannot be read nobody could vouch for anything.
        if let Some(why) = not_vouched(&r.custodians, trust).filter(|_| self.chain.is_some()) {
            r.said.insert(0, Said::new(Some(LineNo { volume: 1, line: 0 }), "custodian", why));
        }
        if of_one {
            r.said.extend(unproven_lines(lines));
        }
        let nothing_opened = of_one && self.state.permits.is_empty();
        let broken = broken.or_else(|| {
            let why = say!("no permit is opened in this excerpt: its first lines are missing").into();
            nothing_opened.then_some(Broken { rule: "state", why })
        });
        let broken = broken.or_else(|| {
            (self.lines == 0).then(|| Broken { rule: "tail", why: say!("there is no line in it").into() })
        });
        r.verdict = match broken.or(unread) {
            Some(b) => {
                let (verdict, rule) = match b.rule {
                    OTHER_VERSION => (Verdict::CouldNot, "version"),
                    rule => (Verdict::Broken, rule),
                };
                r.said.insert(0, Said::new(Some(at), rule, b.why));
                verdict
            }
            None if r.said.is_empty() => Verdict::Sound,
            None => Verdict::Unproven,
        };
        report
    }
}

/// The files of a register begin with this one, which is not the first by its name: said where no line says it.
pub fn begins_late(report: &mut Report, name: &str) {
    let told = report.said.iter().any(|s| s.rule == "volume");
    if told || !matches!(report.verdict, Verdict::Sound | Verdict::Unproven) {
        return;
    }
    let why = say!(
        "the first file here is {name}, which by its line 0 begins a history: 0001.jsonl is missing, or this one was \
         named anew",
        name = crate::text::safe_line(name)
    );
    report.said.insert(0, Said::new(Some(LineNo { volume: 1, line: 0 }), "volume", why));
    report.verdict = Verdict::Unproven;
}

/// Lines with the place where each stands.
pub(crate) fn numbered(lines: &[Line]) -> impl Iterator<Item = (LineNo, &Line)> {
    let mut volume = 0;
    lines.iter().map(move |l| {
        volume += u32::from(l.kind.name == "enrol");
        (LineNo { volume, line: l.seq }, l)
    })
}

/// What keeps a roster's signers from being vouched for, if anything.
pub fn not_vouched(signed: &[String], trust: Option<&Trust>) -> Option<String> {
    let Some(trust) = trust else {
        return Some(
            say!(
                "nobody outside this register vouches for its custodians: name those you trust with --custodian and \
                 --threshold, or --trust")
                .into(),
        );
    };
    let good = signed.iter().filter(|s| trust.custodians.contains(s)).count();
    (good < trust.threshold).then(|| {
        say!(
            "{good} of the custodians you trust signed the roster, wanted at least {least}",
            good,
            least = trust.threshold
        )
    })
}

/// Lines of an excerpt that no signature reaches: what a person signed cites lines by their hash, and
/// these cite those before them.
fn unproven_lines(lines: &[Line]) -> Vec<Said> {
    let by_hash: BTreeMap<&str, &Line> = lines.iter().map(|l| (l.hash.as_str(), l)).collect();
    let mut todo: Vec<&str> = Vec::new();
    let mut proven: HashSet<&str> = HashSet::new();
    // A roster is signed by custodians instead of by a person.
    proven.extend(lines.iter().filter(|l| l.kind.name == "roster").map(|l| l.hash.as_str()));
    for l in lines.iter().filter(|l| l.act.is_some()) {
        proven.insert(&l.hash);
        todo.extend(l.act.as_ref().map(|a| a.shown.as_str()));
        todo.extend(l.data.text("target"));
        todo.extend(l.data.get("before").and_then(|b| b.text("head")));
    }
    let mut seen: HashSet<&str> = HashSet::new();
    while let Some(hash) = todo.pop() {
        if seen.insert(hash)
            && let Some(l) = by_hash.get(hash)
        {
            proven.insert(&l.hash);
            todo.push(&l.prev);
            todo.extend(l.pprev.as_deref());
            todo.extend(l.data.text("target"));
            todo.extend(l.data.texts("rests_on"));
            todo.extend(l.data.texts("answers"));
            todo.extend(l.data.get("witness").and_then(|w| w.text("line")));
        }
    }
    let open: Vec<_> = numbered(lines).filter(|(_, l)| !proven.contains(l.hash.as_str())).collect();
    let Some((first, _)) = open.first() else { return Vec::new() };
    // What they say: the print of a copy is one thing, people on air another.
    let mut kinds: Vec<&str> = Vec::new();
    for (_, l) in &open {
        if !kinds.contains(&l.kind.name) {
            kinds.push(l.kind.name);
        }
    }
    vec![Said::new(
        Some(*first),
        "excerpt",
        say!(
            "{after} of {lines} lines stand after the last signature that reaches them ({kinds}): the station's seal \
             speaks for them, and no person's signature does yet",
            after = open.len(),
            lines = lines.len(),
            kinds = kinds.join(", ")
        ),
    )]
}

/// The exit code of a verdict: 0 sound, 3 could not, 4 broken, 5 unproven.
pub const fn exit_code(verdict: Verdict) -> i32 {
    match verdict {
        Verdict::Sound => 0,
        Verdict::CouldNot => 3,
        Verdict::Broken => 4,
        Verdict::Unproven => 5,
    }
}

/// The report in words.
pub fn words(report: &Report) -> String {
    let at = report.said.first().and_then(|s| s.line).unwrap_or(report.at);
    let mut s = match report.verdict {
        Verdict::Sound => {
            say!("sound: all {lines} lines check and are vouched for", lines = report.lines) + "\n"
        }
        Verdict::Unproven => {
            say!("unproven: all {lines} lines check, but not everything is proven", lines = report.lines)
                + "\n"
        }
        Verdict::Broken => say!("broken at line {at}", at) + "\n",
        Verdict::CouldNot => say!("could not read line {at}", at) + "\n",
    };
    s += &(match report.scope {
        "excerpt" => say_n!(report.volumes, "scope: excerpt, {n} volume", "scope: excerpt, {n} volumes"),
        _ => say_n!(report.volumes, "scope: register, {n} volume", "scope: register, {n} volumes"),
    } + "\n");
    if report.between > 0 {
        s += &(say_n!(
            report.between,
            "{n} line of the register between them is not here: what befell the set, its other permits and the people \
             on air by them can be seen in the whole register only",
            "{n} lines of the register between them are not here: what befell the set, its other permits and the \
             people on air by them can be seen in the whole register only"
        ) + "\n");
    }
    for said in &report.said {
        s += &format!("  {}\n", said.words());
    }
    if let (Some(station), Some(log), Some(head), Some(until)) =
        (&report.station, &report.log, &report.head, &report.until)
    {
        s += &format!(
            "{}\n{}\n",
            say!("station {station}, log {log}", station, log),
            say!("head {hash}, {time}", hash = head, time = until)
        );
    }
    for c in &report.custodians {
        s += &(say!("roster signed by {key}", key = c) + "\n");
    }
    for v in &report.rosters {
        s += &format!("{}\n", v.words());
    }
    for (number, state) in &report.permits {
        s += &(say!("permit {permit}: {state}", permit = number, state = crate::tongue::word(state)) + "\n");
    }
    s
}
