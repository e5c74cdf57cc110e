//! The auditor's report: everything that was worked out of one or several registers, as facts (`--json`), as words, and as
//! one page that stands by itself.
//!
//! In: registers that were verified and replayed, what is anchored outside. Always: the verdict first; every figure names
//! the lines it is from; the auditor's questions are questions and change no verdict. Nothing is judged here that `audit`
//! or `replay` has not judged, and nothing is asked of the outside.
//! Not here: reading files, exit codes (`cli`).

mod across;
mod after;
mod breathed;
mod called;
mod clocks;
mod copies;
mod ends;
mod inquiry;
mod lines;
mod names;
mod page;
mod people;
mod permits;
mod plain;
mod plots;
mod questions;
mod sets;
mod sought;
mod tally;
mod tested;
mod texts;
mod waiting;
mod wrote;

pub use across::Shared;
pub use copies::Copy;
pub use ends::Ends;
pub use page::page;
pub use plain::Plain;
pub use waiting::Waiting;

use crate::audit::anchors::Anchored;
use crate::audit::{Said, Verdict, Verified, numbered};
use crate::record::aside::Standing;
use crate::replay::{Class, Finding, Hold, Replayed};
use crate::time::for_people;
use crate::tongue::{say, say_n};
use crate::view::LineNo;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// A line and its time, for people and for links.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct At {
    /// The line as people write it: `231`, in a later volume `2:14`.
    pub line: String,
    /// Volume.
    pub volume: u32,
    /// Line.
    pub seq: u64,
    /// UTC.
    pub utc: String,
    /// At the site.
    pub site: String,
}

impl At {
    /// Where it stands: volume and line.
    pub fn place(&self) -> (u32, u64) {
        (self.volume, self.seq)
    }

    /// Of a line's place, its time and offset.
    pub fn new(line: LineNo, utc: &str, zone: &str) -> At {
        At {
            line: line.to_string(),
            volume: line.volume,
            seq: line.line,
            utc: utc.to_owned(),
            site: for_people(utc, zone),
        }
    }

    /// The offset of the site then.
    pub fn zone(&self) -> &str {
        self.site.split(['(', ')']).nth(1).unwrap_or("+00:00")
    }
}

/// One register, and what was made of it.
pub struct Input<'a> {
    /// What the auditor called it: the folder.
    pub name: String,
    /// Verified.
    pub verified: &'a Verified,
    /// Replayed; as far as it checks.
    pub replayed: &'a Replayed,
    /// What stands outside.
    pub anchored: Anchored,
    /// Copies of it that were given beside it.
    pub copies: Vec<Copy>,
    /// Reports beside it that were written aside, without those that a line of it has entered.
    pub aside: Vec<Standing>,
    /// Names of its volumes that hold nothing.
    pub empty: Vec<String>,
    /// Whole lines behind the first that does not check.
    pub behind: usize,
    /// When it is audited, UTC.
    pub now: String,
}

/// The answer, first of all.
#[derive(Clone, Debug, Serialize)]
pub struct Overall {
    /// `kept_by_its_rules` `with_reports` `with_gaps` `known_against` `unproven` `not_kept_by_its_rules` `broken_beside` `longer_elsewhere`
    /// `another_history` `broken`
    /// `could_not`.
    pub word: &'static str,
    /// In words.
    pub words: String,
    /// What it rests on, a sentence each.
    pub because: Vec<String>,
    /// The lines that each of them speaks of, not all where there are many.
    pub because_lines: Vec<Vec<LineNo>>,
    /// The exit code.
    pub code: i32,
}

/// Findings of replay, by class.
#[derive(Clone, Debug, Serialize)]
pub struct Found {
    /// Lines that contradict the rules they were written under.
    pub contradicts: Vec<Finding>,
    /// Reports of what the rules forbid.
    pub forbidden: Vec<Finding>,
    /// What nothing tells of.
    pub gaps: Vec<Finding>,
    /// What could not be judged.
    pub not_judged: Vec<Finding>,
    /// Lines judged, by kind.
    pub judged: BTreeMap<&'static str, u64>,
    /// The first and the last few of them.
    pub judged_lines: BTreeMap<&'static str, Ends>,
    /// Refusals of which the record does not keep what was typed.
    pub refusals_not_judged: u64,
    /// Their lines.
    pub refusals_not_judged_lines: Vec<LineNo>,
}

/// Findings of one cause: the first of them, and the lines that say the same after it.
#[derive(Clone, Debug, Serialize)]
pub struct Told {
    /// The first.
    pub first: Finding,
    /// Reasons that no finding before it has given.
    pub why: Vec<String>,
    /// Lines after it with no other reason.
    pub again: Vec<LineNo>,
}

/// Permit, set, class and a reason.
type Reason<'a> = (Option<&'a str>, Option<&'a str>, Class, &'a str);

/// Findings as people read them: a line whose every reason stood at a line of its permit before is counted there. All of
/// them stay in the facts.
pub fn told(all: &[Finding]) -> Vec<Told> {
    let mut out: Vec<Told> = Vec::new();
    let mut said: BTreeMap<Reason<'_>, usize> = BTreeMap::new();
    for f in all {
        let key = |why| (f.permit.as_deref(), f.set.as_deref(), f.class, why);
        let known: Vec<usize> = f.why.iter().filter_map(|w| said.get(&key(w.as_str())).copied()).collect();
        if let (true, Some(told)) = (known.len() == f.why.len(), known.first().and_then(|n| out.get_mut(*n)))
        {
            // A line with several findings is one.
            if told.first.line != f.line && told.again.last() != Some(&f.line) {
                told.again.push(f.line);
            }
            continue;
        }
        let new = f.why.iter().filter(|w| !said.contains_key(&key(w.as_str())));
        let why: Vec<String> = new.cloned().collect();
        for w in &f.why {
            said.entry(key(w.as_str())).or_insert(out.len());
        }
        out.push(Told {
            first: f.clone(),
            why: if why.is_empty() { f.why.clone() } else { why },
            again: Vec::new(),
        });
    }
    out
}

/// The lines of a cause after the first, in words; empty if there are none.
fn again(lines: &[LineNo]) -> String {
    let (Some(first), Some(last)) = (lines.first(), lines.last()) else { return String::new() };
    say_n!(
        lines.len(),
        "{n} more line says no more than that: {from}",
        "{n} more lines say no more than that, from {from} to {to}",
        from = first,
        to = last
    )
}

/// One register in the report.
#[derive(Clone, Debug, Serialize)]
pub struct Register {
    /// What the auditor called it.
    pub name: String,
    /// Station code.
    pub station: String,
    /// Log of its last volume.
    pub log: String,
    /// Volumes.
    pub volumes: u32,
    /// Lines that check.
    pub lines_checked: u64,
    /// The first.
    pub first: Option<At>,
    /// The last that checks.
    pub last: Option<At>,
    /// H of it.
    pub head: String,
    /// The answer.
    pub overall: Overall,
    /// What verification said.
    pub said: Vec<Said>,
    /// Fingerprints of the custodians who signed its roster.
    pub custodians: Vec<String>,
    /// What is outside.
    pub anchored: Anchored,
    /// Copies.
    pub copies: Vec<Copy>,
    /// Findings of replay.
    pub found: Found,
    /// Reports beside it that no line of it has entered.
    pub aside: Vec<waiting::Waiting>,
    /// Plain answers to what is asked first.
    pub plain: Vec<plain::Plain>,
    /// The auditor's questions.
    pub questions: Vec<questions::Question>,
    /// Answers that held.
    pub holds: Vec<Hold>,
    /// Per permit.
    pub permits: Vec<permits::PermitFacts>,
    /// Per set.
    pub sets: Vec<sets::SetFacts>,
    /// Every text that was in force, and what changed in it.
    pub texts: Vec<texts::Version>,
    /// Per person.
    pub people: Vec<people::PersonFacts>,
    /// The lines that are named above, or all.
    pub lines: Vec<lines::Row>,
    /// Whether these are all.
    pub lines_all: bool,
}

impl Register {
    /// Its station, where its lines tell it.
    fn called(&self) -> &str {
        if self.station.is_empty() { say!("not known") } else { &self.station }
    }

    /// What it may be called beside another one; see [`across::shared`].
    fn names(&self) -> [String; 2] {
        [self.station.clone(), format!("{} ({})", self.station, self.name)]
    }
}

/// The report.
#[derive(Clone, Debug, Serialize)]
pub struct Report {
    /// Which airwrit made it.
    pub made_by: String,
    /// The answer over all.
    pub overall: Overall,
    /// Registers.
    pub registers: Vec<Register>,
    /// Sets and people that stand in two of them.
    pub shared: Vec<Shared>,
}

/// Makes the report of one or several registers.
pub fn of(inputs: &[Input<'_>]) -> Report {
    let mut registers: Vec<Register> = inputs.iter().map(register).collect();
    let shared = across::shared(inputs);
    // What two of them say leads to the lines of each.
    for (r, input) in registers.iter_mut().zip(inputs) {
        let names = r.names();
        let all = shared.iter().flat_map(|s| &s.lines).filter(|(name, _)| names.contains(name));
        lines::also(&mut r.lines, input, all.map(|(_, at)| at.place()).collect());
    }
    let worst = registers.iter().rev().max_by_key(|r| rank(r.overall.word));
    let mut overall = worst.map(|r| r.overall.clone()).unwrap_or_else(|| Overall {
        word: "could_not",
        words: say!("no register was read").into(),
        because: Vec::new(),
        because_lines: Vec::new(),
        code: 3,
    });
    if registers.len() > 1 {
        overall.because =
            registers.iter().map(|r| format!("{} ({}): {}", r.called(), r.name, r.overall.words)).collect();
        overall.because_lines = vec![Vec::new(); registers.len()];
        if let Some(r) = worst {
            overall.words = format!("{} ({}): {}", r.called(), r.name, overall.words);
        }
    }
    let apart: Vec<&Shared> = shared.iter().filter(|s| s.against).collect();
    if let Some(first) = apart.first() {
        overall.words = if apart.len() > 1 {
            let n = apart.len() - 1;
            say_n!(
                n,
                "{first} (and {n} thing more of two registers that do not go together); {words}",
                "{first} (and {n} things more of two registers that do not go together); {words}",
                first = first.words,
                words = overall.words
            )
        } else {
            format!("{}; {}", first.words, overall.words)
        };
        overall.because.splice(0..0, apart.iter().map(|s| s.words.clone()));
        overall.because_lines.splice(0..0, apart.iter().map(|_| Vec::new()));
        if rank(overall.word) < rank("known_against") {
            (overall.word, overall.code) = ("known_against", 1);
        }
    }
    Report { made_by: format!("airwrit {}", env!("CARGO_PKG_VERSION")), overall, registers, shared }
}

/// A word of the record as the reader says it: `call_out`, `handed back`.
fn said(word: &str) -> String {
    let english = word.replace('_', " ");
    crate::tongue::translated(&english).map_or(english, str::to_owned)
}

/// Words that a line keeps in English, as the reader says them; as they stand where nothing here says them so.
fn stored(words: &str) -> String {
    crate::tongue::said_again(words).unwrap_or_else(|| words.to_owned())
}

/// Words that may have several lines, like what is wrong with a text, in one.
fn in_one(words: &str) -> String {
    let lines: Vec<&str> = words.lines().map(str::trim).filter(|l| !l.is_empty()).collect();
    crate::text::safe_line(&lines.join("; ")).into_owned()
}

/// So much of what people wrote on a permit stands in the words; all of it in the page.
const WROTE: usize = 20;

/// Seconds as people say them.
fn lasted(seconds: i64) -> String {
    match seconds {
        s if s < 120 => say!("{seconds} s", seconds = s),
        s if s < 2 * 3600 => say!("{minutes} min {seconds} s", minutes = s / 60, seconds = s % 60),
        s if s < 48 * 3600 => say!("{hours} h {minutes} min", hours = s / 3600, minutes = s % 3600 / 60),
        s => say!("{days} days {hours} h", days = s / 86_400, hours = s % 86_400 / 3600),
    }
}

fn rank(word: &str) -> usize {
    let order = [
        "kept_by_its_rules",
        "with_reports",
        "with_gaps",
        "unproven",
        "known_against",
        "not_kept_by_its_rules",
        "broken_beside",
        "longer_elsewhere",
        "another_history",
        "could_not",
        "broken",
    ];
    order.iter().position(|w| *w == word).unwrap_or(order.len())
}

fn register(input: &Input<'_>) -> Register {
    let report = &input.verified.report;
    let lines = &input.verified.lines;
    let mut tally = tally::of(lines);
    let names = names::of(input);
    for o in tally.alarms.iter_mut().flat_map(|a| a.out.iter_mut().chain(&mut a.beside)) {
        o.name = names.called(&o.person);
    }
    let permits = permits::of(input, &tally);
    let sets = sets::of(input, &tally);
    let people = people::of(input, &tally);
    let questions = questions::of(input, &permits, &people, &tally);
    let aside = waiting::of(input);
    let plain = plain::of(input, &permits, &tally, &aside);
    let of = |class: Class| input.replayed.of(class).cloned().collect();
    let at = |l: &crate::record::line::Line, volume: u32| {
        At::new(LineNo { volume, line: l.seq }, &l.time, &l.zone)
    };
    let mut out = Register {
        name: input.name.clone(),
        station: report.station.clone().unwrap_or_default(),
        log: report.log.clone().unwrap_or_default(),
        volumes: report.volumes,
        lines_checked: report.lines,
        first: lines
            .first()
            .map(|l| At::new(LineNo { volume: 1, line: l.seq }, &l.time, zone_of_first(lines))),
        last: lines.last().map(|l| at(l, report.volumes)),
        head: report.head.clone().unwrap_or_default(),
        overall: overall(input, &plain, (&permits, &tally)),
        said: report.said.clone(),
        custodians: report.custodians.clone(),
        anchored: input.anchored.clone(),
        copies: input.copies.clone(),
        found: Found {
            contradicts: of(Class::Contradicts),
            forbidden: of(Class::Forbidden),
            gaps: of(Class::Gap),
            not_judged: of(Class::NotJudged),
            judged: input.replayed.judged.clone(),
            judged_lines: judged_lines(input),
            refusals_not_judged: input.replayed.refusals_not_judged,
            refusals_not_judged_lines: input.replayed.unjudged.clone(),
        },
        aside,
        plain,
        questions,
        holds: input.replayed.holds.clone(),
        permits,
        sets,
        texts: texts::of(input),
        people,
        lines: Vec::new(),
        lines_all: true,
    };
    (out.lines, out.lines_all) = lines::of(input, &out);
    out
}

/// The zone that the first line is shown in: before a site is in force its own is UTC, and the last line stands beside it.
fn zone_of_first(lines: &[crate::record::line::Line]) -> &str {
    let mut zones = lines.iter().map(|l| &*l.zone);
    let own = zones.next().unwrap_or("+00:00");
    if own == "+00:00" { zones.find(|z| *z != own).unwrap_or(own) } else { own }
}

/// Where the lines stand that were judged: in order, but the first line, as many of each kind as replay counted.
fn judged_lines(input: &Input<'_>) -> BTreeMap<&'static str, Ends> {
    let mut out: BTreeMap<&'static str, Ends> = BTreeMap::new();
    let mut left = input.replayed.judged.clone();
    let judged = |at: &LineNo| input.replayed.unjudged.binary_search(at).is_err();
    for (at, l) in numbered(&input.verified.lines).skip(1).filter(|(at, _)| judged(at)) {
        if let Some(n @ 1..) = left.get_mut(l.kind.name) {
            *n -= 1;
            out.entry(l.kind.name).or_default().push(At::new(at, &l.time, &l.zone));
        }
    }
    out
}

/// So many lines of a sentence of the verdict lead to the tables.
const LED: usize = 6;
/// So many alarms with people inside stand in the verdict.
const ALARMS: usize = 4;

fn overall(
    input: &Input<'_>,
    plain: &[plain::Plain],
    (permits, tally): (&[permits::PermitFacts], &tally::Tally),
) -> Overall {
    let report = &input.verified.report;
    let forked = input.copies.iter().any(|c| c.forked());
    let longer = input.copies.iter().any(|c| c.goes_on());
    let copy_broken = input.copies.iter().any(|c| c.broken());
    let broken = copy_broken || input.anchored.broken();
    let lines_of = |class: Class| {
        input.replayed.of(class).map(|f| (f.line.volume, f.line.line)).collect::<BTreeSet<_>>().len()
    };
    let contradicts = lines_of(Class::Contradicts);
    let mut badly: Vec<String> = plain.iter().filter_map(|p| p.headline.clone()).collect();
    let twice = kept_twice(input);
    badly.extend(twice.iter().map(|(words, _)| words.clone()));
    let unfit = input.anchored.unfit();
    let against =
        unfit > 0 || !twice.is_empty() || plain.iter().any(|p| p.answer == "no" && p.headline.is_some());
    // That somebody is on air, on a live permit, is nothing against anybody.
    let open = |p: &plain::Plain| p.about != "off" && p.answer == "not_known" && p.headline.is_some();
    let unproved = plain.iter().any(open);
    let excerpt = report.excerpt.iter().map(|_| {
        say!(
            "a whole register is audited; of an excerpt: `airwrit verify --excerpt`, or give it with --paper beside the \
             register; if it was given to you as a register, lines of it are missing"
        )
        .to_owned()
    });
    let mut because: Vec<(String, Vec<LineNo>)> = excerpt.map(|words| (words, Vec::new())).collect();
    let said = report.said.iter().map(|s| match s.line {
        Some(line) => {
            (say!("line {line}: rule `{rule}`: {why}", line, rule = s.rule, why = s.why), vec![line])
        }
        None => (say!("rule `{rule}`: {why}", rule = s.rule, why = s.why), Vec::new()),
    });
    because.extend(said);
    if input.behind > 0 {
        let words = say_n!(
            input.behind,
            "{n} line stands behind the one that does not check; nothing below is of it",
            "{n} lines stand behind the one that does not check; nothing below is of them"
        );
        because.push((words, Vec::new()));
    }
    let found = |class: Class| input.replayed.of(class).map(|f| f.line).take(LED).collect::<Vec<_>>();
    if contradicts > 0 {
        let words = say_n!(
            contradicts,
            "{n} line is not as the rules would have let it be written",
            "{n} lines are not as the rules would have let them be written"
        );
        because.push((words, found(Class::Contradicts)));
    }
    let place = |at: &At| LineNo { volume: at.volume, line: at.seq };
    because.extend(
        plain
            .iter()
            .filter_map(|p| Some((p.headline.clone()?, p.lines.iter().take(LED).map(place).collect()))),
    );
    because.extend(twice);
    because.extend(inside(permits, tally));
    let forbidden = lines_of(Class::Forbidden);
    if forbidden > 0 {
        let words = say_n!(
            forbidden,
            "{n} line reports what the rules forbid, and is named below",
            "{n} lines report what the rules forbid, and are named below"
        );
        because.push((words, found(Class::Forbidden)));
    }
    // As they are named below: what is said again of later lines is one thing.
    let gaps = told(&input.replayed.of(Class::Gap).cloned().collect::<Vec<_>>()).len();
    if gaps > 0 {
        let words = say_n!(
            gaps,
            "{n} thing is not told of by its lines, and is named below: ask",
            "{n} things are not told of by its lines, and are named below: ask"
        );
        because.push((words, found(Class::Gap)));
    }
    let mut bare: Vec<String> = Vec::new();
    if input.anchored.against() {
        bare.push(say!("something outside holds another history of it, or a longer one").into());
    }
    if forked {
        bare.push(
            say!(
                "two copies of it go on differently; what is said below of its content is of this one alone: audit \
                 the other one by itself too")
            .into(),
        );
    } else if longer {
        bare.push(say!("another copy goes on after the last line here").into());
    }
    if input.anchored.broken() {
        let why =
            say!("something that was given to speak for it is broken, is named below and counts for nothing");
        bare.push(why.into());
    }
    if copy_broken {
        bare.push(say!("a copy of it does not check: where, and how it differs there, stands below").into());
    }
    bare.extend(input.anchored.unfit_in_words());
    bare.push(match (&input.anchored.upto, input.anchored.after) {
        (Some(upto), 0) => say!("something outside speaks for every line, up to line {line}", line = upto),
        (Some(upto), n) => say_n!(
            n,
            "something outside speaks for it up to line {line}; nothing for the {n} line after it",
            "something outside speaks for it up to line {line}; nothing for the {n} lines after it",
            line = upto
        ),
        (None, _) if input.anchored.given => {
            say!("of what was given nothing speaks for any of its lines").into()
        }
        (None, _) => say!(
            "nothing outside speaks for any of its lines: no token, paper, head or other register was given"
        )
        .into(),
    });
    because.extend(bare.into_iter().map(|words| (words, Vec::new())));
    let (because, because_lines): (Vec<String>, Vec<Vec<LineNo>>) = because.into_iter().unzip();
    // The worst first.
    let mut above = badly;
    above.extend((unfit > 0).then(|| {
        say_n!(
            unfit,
            "{n} thing of what was given beside it cannot be as it is there: copied wrong, made by nobody's key, or a time does \
             not fit",
            "{n} things of what was given beside it cannot be as they are there: copied wrong, made by nobody's key, or a time \
             does not fit"
        )
    }));
    above.extend((gaps > 0).then(|| say_n!(gaps, "{n} thing is not told of", "{n} things are not told of")));
    above.extend((forbidden > 0).then(|| {
        say_n!(forbidden, "{n} line reports what the rules forbid", "{n} lines report what the rules forbid")
    }));
    let of = |word, words: String, code| {
        let (because, because_lines) = (because.clone(), because_lines.clone());
        Overall { word, words, because, because_lines, code }
    };
    match report.verdict {
        Verdict::Broken if report.excerpt.is_some() => of(
            "broken",
            say!(
                "AN EXCERPT of {permit}, and no whole register: read as one it checks; read as a register it is BROKEN at line \
                 {line}",
                permit = report.excerpt.as_deref().unwrap_or_default(),
                line = report.at
            ),
            4,
        ),
        Verdict::Broken if report.lines == 0 && report.log.is_none() => {
            of("broken", say!("BROKEN: no line of a register can be read in it").into(), 4)
        }
        Verdict::Broken => of(
            "broken",
            say!("BROKEN at line {line}: what stands from there on proves nothing", line = report.at),
            4,
        ),
        Verdict::CouldNot => of("could_not", say!("line {line} could not be read here", line = report.at), 3),
        Verdict::Sound | Verdict::Unproven if !forked && input.anchored.only_longer() => of(
            "longer_elsewhere",
            say!(
                "THE END OF THIS REGISTER IS NOT HERE: something outside names a later line; this copy is older, or its end was \
                 cut off"
            )
            .into(),
            4,
        ),
        Verdict::Sound | Verdict::Unproven if forked || input.anchored.against() => {
            of("another_history", say!("ANOTHER HISTORY of this register stands elsewhere").into(), 4)
        }
        Verdict::Sound | Verdict::Unproven if broken => of(
            "broken_beside",
            say!("SOMETHING GIVEN BESIDE IT IS BROKEN; this register by itself checks").into(),
            4,
        ),
        Verdict::Sound | Verdict::Unproven if contradicts > 0 => of(
            "not_kept_by_its_rules",
            say_n!(
                contradicts,
                "NOT KEPT BY ITS RULES: {n} line is not as an honest program would have written",
                "NOT KEPT BY ITS RULES: {n} lines are not as an honest program would have written"
            ),
            1,
        ),
        Verdict::Unproven if above.is_empty() => of(
            "unproven",
            say!(
                "kept by its rules, as far as can be seen; not everything is proven: {why}",
                why = not_proven(&report.said)
            ),
            5,
        ),
        Verdict::Unproven => {
            // What is known against what happened is worse than a proof that is missing.
            let (word, code) = if against { ("known_against", 1) } else { ("unproven", 5) };
            let words = say!(
                "{words}; no line contradicts its rules, as far as can be seen, and not everything is proven: {why}",
                words = above.join("; "),
                why = not_proven(&report.said)
            );
            of(word, words, code)
        }
        Verdict::Sound if above.is_empty() => {
            of("kept_by_its_rules", say!("sound, and kept by its rules in every line").into(), 0)
        }
        // Nothing is said of every line above what is known against what happened.
        Verdict::Sound => {
            let word = match (against, gaps > 0 || unproved, forbidden > 0) {
                (true, _, _) => "known_against",
                (_, true, _) => "with_gaps",
                (_, _, true) => "with_reports",
                (false, false, false) => "kept_by_its_rules",
            };
            let words = say!(
                "{words}; the record is sound, and no line contradicts its rules",
                words = above.join("; ")
            );
            of(word, words, i32::from(word != "kept_by_its_rules"))
        }
    }
}

/// Sets that this register keeps still, and another one too, as a witness line of this one says.
fn kept_twice(input: &Input<'_>) -> Vec<(String, Vec<LineNo>)> {
    let sets = input.replayed.state.sets.iter().filter(|(_, s)| s.released.is_none());
    let of = |(set, s): (&String, &crate::permit::state::SetState)| {
        let all = s.held_by.values().map(|(station, stamp)| {
            let words = say!(
                "line {line}: the register of {station} keeps the set {set} too: who is on air by it is on no tally here",
                line = stamp.line,
                station = crate::text::safe_line(station),
                set
            );
            (words, vec![stamp.line])
        });
        all.collect::<Vec<_>>()
    };
    sets.flat_map(of).collect()
}

/// What is not proven, the first of it in words: what a key that is compromised signed before a list of who is trusted.
fn not_proven(said: &[Said]) -> String {
    let of_register = |s: &&Said| s.rule == "custodian";
    let first = said.iter().find(|s| !of_register(s)).or(said.first());
    let why = first.map_or_else(String::new, |s| match s.line {
        Some(line) if !of_register(&s) => say!("line {line}, {why}", line, why = s.why),
        Some(_) | None => s.why.clone(),
    });
    match said.len() {
        0 | 1 => why,
        n => say_n!(n - 1, "{why}; and {n} thing more, below", "{why}; and {n} things more, below", why),
    }
}

/// Alarms with people inside, as they stand in the verdict: the last ones first, and how many more there are.
fn inside(permits: &[permits::PermitFacts], tally: &tally::Tally) -> Vec<(String, Vec<LineNo>)> {
    let mut all = called::everywhere(permits, tally);
    all.retain(|a| !a.out.is_empty());
    all.sort_by_key(|a| std::cmp::Reverse(a.at.place()));
    let place = |a: &&tally::Alarm| LineNo { volume: a.at.volume, line: a.at.seq };
    let mut out: Vec<_> = all.iter().take(ALARMS).map(|a| (called::told(a), vec![place(a)])).collect();
    if let Some(rest @ [_, ..]) = all.get(ALARMS..) {
        let words = say_n!(
            rest.len(),
            "{n} more alarm with people inside stands below, with its permit",
            "{n} more alarms with people inside stand below, with their permits"
        );
        out.push((words, rest.iter().map(place).take(LED).collect()));
    }
    out
}

/// Lines that stand in a list: the first few, and how many more up to which.
fn listed(lines: &[At], more: u64) -> String {
    let named: Vec<&str> = lines.iter().take(LED).map(|a| a.line.as_str()).collect();
    let rest = lines.len().saturating_sub(named.len()) as u64 + more;
    let named = named.join(", ");
    match lines.last() {
        Some(last) if rest > 0 => {
            say!(" (lines {lines}, and {n} more, the last {last})", lines = named, n = rest, last = last.line)
        }
        Some(_) => format!(" {}", say!("(lines {lines})", lines = named)),
        None => String::new(),
    }
}

/// The report in words: the verdict, what was found, the questions.
pub fn words(report: &Report) -> String {
    let mut s = format!("{}\n", report.overall.words);
    for r in &report.registers {
        let of = say_n!(
            r.lines_checked,
            "station {station}, {name}: {n} line",
            "station {station}, {name}: {n} lines",
            station = r.called(),
            name = r.name
        );
        // What stands above already is not said again.
        let verdict = &r.overall.words;
        let verdict = if report.overall.words == *verdict { String::new() } else { format!("; {verdict}") };
        let upto =
            r.last.as_ref().map(|last| say!(", the last of {time}", time = last.site)).unwrap_or_default();
        s += &format!("\n{of}{upto}{verdict}\n");
        for b in r.overall.because.iter().filter(|b| !r.overall.words.contains(b.as_str())) {
            s += &format!("  {b}\n");
        }
        for p in &r.plain {
            let at = listed(&p.lines, p.more);
            s += &format!("  {} {}: {}{at}\n", p.ask, p.answered(), p.words);
        }
        for c in &r.copies {
            for line in c.words.lines() {
                s += &format!("  {line}\n");
            }
        }
        for l in crate::audit::anchors::words(&r.anchored).lines() {
            s += &format!("  {l}\n");
        }
        let classes = [&r.found.contradicts, &r.found.gaps, &r.found.forbidden, &r.found.not_judged];
        for t in classes.into_iter().flat_map(|c| told(c)) {
            let what = say!(
                "line {line}, {class}: {why}",
                line = t.first.line,
                class = t.first.class.words(),
                why = t.why.iter().map(|w| stored(w)).collect::<Vec<_>>().join("; ")
            );
            s += &format!("  {what}\n");
            if !t.again.is_empty() {
                s += &format!("    {}\n", again(&t.again));
            }
        }
        for t in &r.texts {
            let Some(d) = &t.differs else { continue };
            let what = say!(
                "line {line}: {what} {id} is another text than by line {before}; lines put in: {put_in}, taken out: {taken_out}",
                line = t.at.line,
                what = said(&t.what),
                id = t.id,
                before = d.before.line,
                put_in = d.put_in,
                taken_out = d.taken_out
            );
            s += &format!("  {what}\n");
        }
        let (held, open) = (r.holds.len(), r.holds.iter().filter(|h| h.cleared.is_none()).count());
        let at: Vec<At> = r.holds.iter().map(|h| At::new(h.line, &h.time, &h.zone)).collect();
        let at = listed(&at, 0);
        s += &format!("  {}{at}\n", say!("held {held} times, {open} never cleared", held, open));
        for q in &r.questions {
            let at = listed(&q.lines, q.more);
            s += &format!("  {}\n", say!("ASK: {question}{at}", question = q.ask, at));
        }
    }
    for p in report.registers.iter().flat_map(|r| &r.permits).filter(|p| !p.wrote.is_empty()) {
        s += &format!("\n{}\n", say!("{permit}, what people wrote and told:", permit = p.number));
        for w in p.wrote.iter().take(WROTE) {
            s += &format!("  {}\n", w.in_words());
        }
        if let Some(more @ 1..) = p.wrote.len().checked_sub(WROTE) {
            s += &format!("  {}\n", say!("{n} more; all of them stand in the report of --html", n = more));
        }
    }
    for shared in &report.shared {
        s += &format!("\n{}\n", shared.words);
    }
    s
}
