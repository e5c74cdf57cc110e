//! Two copies of one history held against each other: the same, one longer, forked, or one of them broken.
//!
//! In: lines that check, of both; and what stands behind a line that does not. Always: no rule chooses between two lines
//! that stand in the same place; both are named. A copy that does not check is never an older one, and a line that is
//! damaged hides nothing that stands behind it. A register's own bytes cannot show that a tail was cut off and the
//! machine set back; only another copy can.

use super::{Verdict, Verified};
use crate::record::line::{Line, hash};
use crate::tongue::{say, say_n};
use crate::view::LineNo;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// How the second copy stands to the first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "copies")]
pub enum Compared {
    /// They end in the same line.
    Same,
    /// The first goes on after the last line of the second.
    FirstLonger {
        /// By so many lines.
        by: usize,
    },
    /// The second goes on after the last line of the first: the first is an older copy, or was cut off.
    SecondLonger {
        /// By so many lines.
        by: usize,
    },
    /// One of them does not check to its end: what is the matter stands beside this.
    Broken {
        /// So many lines check in both and are the same.
        shared: usize,
    },
    /// After lines they share, each goes on in its own way.
    Forked {
        /// The first line of the first copy that is not in the second.
        first: LineNo,
        /// Its H.
        first_hash: String,
        /// The first line of the second copy that is not in the first.
        second: LineNo,
        /// Its H.
        second_hash: String,
    },
    /// They share no line: two registers.
    Apart {
        /// Sets on which both opened permits: who is on air by the one is not on the other's tally.
        sets: Vec<String>,
        /// The station, where both are of one and neither goes on from the other: two histories.
        #[serde(skip_serializing_if = "Option::is_none")]
        station: Option<String>,
    },
}

/// A line that does not check, and how it stands to what the other copy has in its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Damage {
    /// Where.
    #[serde(flatten)]
    pub at: LineNo,
    /// The rule that it breaks.
    pub rule: &'static str,
    /// In words.
    pub why: String,
    /// H of what stands there; `None`: nothing, or bytes without an end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hash: Option<String>,
    /// H of what the other copy has in this place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub other: Option<String>,
    /// Where the two differ: what stands around the first byte that does, here and in the other copy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub differ: Option<(String, String)>,
    /// So many whole lines stand behind it, of which nothing is proven.
    pub behind: usize,
    /// So many of those are other ones than the other copy has in their places.
    pub others: usize,
    /// The first of these: its number, its H, H of the line in the other copy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first: Option<(u64, String, String)>,
}

/// Two copies, both read to their ends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Against {
    /// How the lines compare that check.
    #[serde(flatten)]
    pub compared: Compared,
    /// What is wrong with the first copy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub here: Option<Damage>,
    /// What is wrong with the second copy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub there: Option<Damage>,
    /// So many lines of the first copy are missing in the second one, which has lines after them: a volume is not there.
    #[serde(skip_serializing_if = "is_none")]
    pub missing_there: usize,
    /// The other way round.
    #[serde(skip_serializing_if = "is_none")]
    pub missing_here: usize,
}

fn is_none(n: &usize) -> bool {
    *n == 0
}

/// Lines of one copy before the last that both have, that the other one has not.
fn missing(of: &[Line], from: &[Line]) -> usize {
    let there: std::collections::HashSet<&str> = from.iter().map(|l| l.hash.as_str()).collect();
    let shared = of.iter().filter(|l| there.contains(l.hash.as_str())).count();
    let last = of.iter().rposition(|l| there.contains(l.hash.as_str()));
    last.map_or(0, |last| (last + 1).saturating_sub(shared))
}

impl Against {
    /// Whether it is another register that keeps a set at the same time as this one.
    pub fn keeps_too(&self) -> bool {
        match &self.compared {
            Compared::Apart { sets, station: None } => !sets.is_empty(),
            Compared::Apart { station: Some(_), .. }
            | Compared::Forked { .. }
            | Compared::Same
            | Compared::FirstLonger { .. }
            | Compared::SecondLonger { .. }
            | Compared::Broken { .. } => false,
        }
    }

    /// Two histories: nothing tells which one is true.
    pub fn is_another_history(&self) -> bool {
        match &self.compared {
            Compared::Forked { .. } | Compared::Apart { station: Some(_), .. } => true,
            Compared::Same
            | Compared::FirstLonger { .. }
            | Compared::SecondLonger { .. }
            | Compared::Broken { .. }
            | Compared::Apart { station: None, .. } => false,
        }
    }
}

struct Seen<'a> {
    place: Option<(&'a str, u64)>,
    hash: &'a str,
    raw: &'a [u8],
}

impl<'a> From<&'a Line> for Seen<'a> {
    fn from(l: &'a Line) -> Seen<'a> {
        Seen { place: Some((&l.log, l.seq)), hash: &l.hash, raw: &l.raw }
    }
}

/// A whole line behind the last one that checks.
struct Behind<'a> {
    line: Option<Line>,
    hash: String,
    raw: &'a [u8],
}

/// A copy as it was read, to its end.
pub struct Side<'a> {
    lines: &'a [Line],
    /// Where it breaks, the rule, why.
    wrong: Option<(LineNo, &'static str, String)>,
    behind: Vec<Behind<'a>>,
    /// Bytes without an end, where the first that do not check are such.
    torn: Option<&'a [u8]>,
    in_order: bool,
}

impl<'a> Side<'a> {
    /// Of what was verified, and its bytes.
    pub fn of(verified: &'a Verified, volumes: &[&'a [u8]]) -> Side<'a> {
        let wrong = match verified.report.verdict {
            Verdict::Broken | Verdict::CouldNot => {
                let said = verified.report.said.first();
                said.map(|s| (s.line.unwrap_or(verified.report.at), s.rule, s.why.clone()))
            }
            Verdict::Sound | Verdict::Unproven => None,
        };
        let mut side = Side {
            lines: &verified.lines,
            wrong,
            behind: Vec::new(),
            torn: None,
            in_order: verified.report.scope == "register",
        };
        if side.wrong.is_some() {
            let all = volumes.iter().flat_map(|v| v.split_inclusive(|b| *b == b'\n'));
            for raw in all.skip(verified.lines.len()) {
                match raw.strip_suffix(b"\n") {
                    Some(raw) => {
                        // Copied as text it is damaged, and says still which line it was.
                        let line = Line::read(raw.strip_suffix(b"\r").unwrap_or(raw)).ok();
                        side.behind.push(Behind { line, hash: hash(raw), raw });
                    }
                    None if side.behind.is_empty() => side.torn = Some(raw),
                    None => {}
                }
            }
        }
        side
    }

    fn all(&'a self) -> impl Iterator<Item = Seen<'a>> {
        let behind = self.behind.iter().map(|b| Seen {
            place: b.line.as_ref().map(|l| (l.log.as_str(), l.seq)),
            hash: &b.hash,
            raw: b.raw,
        });
        self.lines.iter().map(Seen::from).chain(behind)
    }

    /// The lines that check.
    pub fn lines(&self) -> &'a [Line] {
        self.lines
    }

    /// The logs whose lines stand in it, those behind a damaged one too.
    pub fn logs(&self) -> Vec<&str> {
        let mut logs: Vec<&str> = Vec::new();
        for (log, _) in self.all().filter_map(|s| s.place) {
            if logs.last() != Some(&log) && !logs.contains(&log) {
                logs.push(log);
            }
        }
        logs
    }

    /// What is wrong with it, beside another copy.
    fn damage(&self, other: &Side<'_>) -> Option<Damage> {
        let (at, rule, why) = self.wrong.clone()?;
        let first = self.behind.first();
        let place = first.and_then(|b| b.line.as_ref()).map(|l| (l.log.as_str(), l.seq));
        let last = self.lines.last();
        // In a register what stands next is known from what stands before; in an excerpt a line says where it stands.
        let there = match last {
            _ if !self.in_order => place.and_then(|p| other.all().find(|s| s.place == Some(p))),
            None => other.all().next(),
            Some(last) => other.all().skip_while(|s| s.hash != last.hash).nth(1),
        };
        let raw = first.map(|b| b.raw).or(self.torn);
        let differ = raw.zip(there.as_ref()).and_then(|(ours, theirs)| around(ours, theirs.raw));
        let places: HashMap<(&str, u64), &str> = if self.behind.len() > 1 {
            other.all().filter_map(|s| Some((s.place?, s.hash))).collect()
        } else {
            HashMap::new()
        };
        let mut others = self.behind.iter().skip(1).filter_map(|b| {
            let l = b.line.as_ref()?;
            let theirs = places.get(&(l.log.as_str(), l.seq)).filter(|h| **h != b.hash)?;
            Some((l.seq, b.hash.clone(), (*theirs).to_owned()))
        });
        let one = others.next();
        Some(Damage {
            at,
            rule,
            why,
            hash: first.map(|b| b.hash.clone()),
            other: there.map(|s| s.hash.to_owned()),
            differ,
            behind: self.behind.len().saturating_sub(1),
            others: others.count() + usize::from(one.is_some()),
            first: one,
        })
    }
}

/// What stands around the first byte in which two lines differ; none where they are the same.
fn around(ours: &[u8], theirs: &[u8]) -> Option<(String, String)> {
    let same = ours.iter().zip(theirs).take_while(|(a, b)| a == b).count();
    if same == ours.len() && same == theirs.len() {
        return None;
    }
    let part = |raw: &[u8]| {
        let bytes = raw.get(same.saturating_sub(24)..).unwrap_or_default();
        let bytes = bytes.get(..56.min(bytes.len())).unwrap_or_default();
        crate::text::safe_line(&String::from_utf8_lossy(bytes)).into_owned()
    };
    Some((part(ours), part(theirs)))
}

/// Compares two copies, or a copy and an excerpt, both read to their ends.
pub fn against(first: &Side<'_>, second: &Side<'_>) -> Against {
    let (here, there) = (first.damage(second), second.damage(first));
    let compared = compare(first.lines, second.lines);
    let compared = match compared {
        Compared::Forked { .. } => compared,
        Compared::Apart { .. } if !first.logs().iter().any(|l| second.logs().contains(l)) => compared,
        Compared::Same
        | Compared::FirstLonger { .. }
        | Compared::SecondLonger { .. }
        | Compared::Broken { .. }
        | Compared::Apart { .. }
            if here.is_some() || there.is_some() =>
        {
            let ours: std::collections::HashSet<&str> = first.lines.iter().map(|l| l.hash.as_str()).collect();
            Compared::Broken {
                shared: second.lines.iter().filter(|l| ours.contains(l.hash.as_str())).count(),
            }
        }
        Compared::Same
        | Compared::FirstLonger { .. }
        | Compared::SecondLonger { .. }
        | Compared::Broken { .. }
        | Compared::Apart { .. } => compared,
    };
    // An excerpt has gaps.
    let registers = first.in_order && second.in_order;
    let (missing_there, missing_here) = match compared {
        Compared::Same | Compared::FirstLonger { .. } | Compared::SecondLonger { .. } if registers => {
            (missing(first.lines, second.lines), missing(second.lines, first.lines))
        }
        Compared::Same
        | Compared::FirstLonger { .. }
        | Compared::SecondLonger { .. }
        | Compared::Broken { .. }
        | Compared::Forked { .. }
        | Compared::Apart { .. } => (0, 0),
    };
    Against { compared, here, there, missing_there, missing_here }
}

/// Compares the lines of two copies that check.
pub fn compare(first: &[Line], second: &[Line]) -> Compared {
    let ours: HashMap<&str, usize> = first.iter().enumerate().map(|(i, l)| (l.hash.as_str(), i)).collect();
    let theirs: HashMap<(&str, u64), usize> =
        second.iter().enumerate().map(|(i, l)| ((l.log.as_str(), l.seq), i)).collect();
    let numbers = |lines: &[Line]| super::numbered(lines).map(|(at, _)| at).collect::<Vec<_>>();
    let forked = |i: usize, j: usize| -> Option<Compared> {
        let (a, b) = (first.get(i)?, second.get(j)?);
        Some(Compared::Forked {
            first: *numbers(first).get(i)?,
            first_hash: a.hash.to_string(),
            second: *numbers(second).get(j)?,
            second_hash: b.hash.to_string(),
        })
    };
    // Same place, two texts.
    for (i, line) in first.iter().enumerate() {
        if let Some(j) = theirs.get(&(line.log.as_str(), line.seq))
            && second.get(*j).is_some_and(|l| l.hash != line.hash)
            && let Some(forked) = forked(i, *j)
        {
            return forked;
        }
    }
    let Some((j, i)) =
        second.iter().enumerate().rev().find_map(|(j, l)| ours.get(l.hash.as_str()).map(|i| (j, *i)))
    else {
        return apart(first, second);
    };
    // What stands after the last line they share; two next volumes may both go on from it.
    match (first.len() - 1 - i, second.len() - 1 - j) {
        (0, 0) => Compared::Same,
        (by, 0) => Compared::FirstLonger { by },
        (0, by) => Compared::SecondLonger { by },
        _ => forked(i + 1, j + 1).unwrap_or_else(|| apart(first, second)),
    }
}

/// How a history stands to another one with which it shares no log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kin {
    /// Of different stations.
    Strangers,
    /// The second is of a volume before those of the first.
    Before,
    /// The second is of a volume after those of the first.
    After,
    /// Of one station, and what would link them is not here.
    Unknown,
    /// Of one station, and one cannot go on from the other.
    Another {
        /// Permits that both opened.
        permits: Vec<String>,
    },
}

fn begins(lines: &[Line]) -> Vec<Line> {
    lines.iter().filter(|l| l.kind.name == "enrol").cloned().collect()
}

/// How lines stand to those of another log. A station has one history: volumes that go on from one another.
pub fn kin(first: &[Line], second: &[Line]) -> Kin {
    let (ours, theirs) = (begins(first), begins(second));
    let of = |begun: &[Line]| -> BTreeSet<String> {
        begun.iter().filter_map(|l| l.data.text("station").map(str::to_owned)).collect()
    };
    if of(&ours).is_disjoint(&of(&theirs)) {
        return Kin::Strangers;
    }
    let opened = |lines: &[Line]| -> BTreeSet<String> {
        let open = lines.iter().filter(|l| l.kind.name == "open");
        open.filter_map(|l| l.permit.as_ref().map(ToString::to_string)).collect()
    };
    let permits: Vec<String> = opened(first).intersection(&opened(second)).cloned().collect();
    if !permits.is_empty() {
        return Kin::Another { permits };
    }
    match (goes_on(&ours, second), goes_on(&theirs, first)) {
        (Link::Fits, _) => Kin::Before,
        (_, Link::Fits) => Kin::After,
        (Link::Not, _) | (_, Link::Not) | (Link::First, Link::First) => Kin::Another { permits },
        (Link::First | Link::Unseen, Link::First | Link::Unseen) => Kin::Unknown,
    }
}

enum Link {
    /// It begins a history.
    First,
    /// It goes on from what the other one has, or had after its last line.
    Fits,
    /// It goes on from a line that the other one has otherwise.
    Not,
    /// What it goes on from is in neither.
    Unseen,
}

fn goes_on(begun: &[Line], from: &[Line]) -> Link {
    let Some(first) = begun.first() else { return Link::Unseen };
    let Some(before) = first.data.get("before") else { return Link::First };
    let (Some(log), Some(seq), Some(head)) = (before.text("log"), before.int("seq"), before.text("head"))
    else {
        return Link::Unseen;
    };
    let last = from.iter().rfind(|l| l.log == log).map(|l| l.seq);
    match (last, from.iter().find(|l| l.log == log && l.seq == seq)) {
        (None, _) => Link::Unseen,
        (Some(_), Some(l)) if l.hash == head => Link::Fits,
        (Some(_), Some(_)) => Link::Not,
        // An excerpt has gaps, and an older copy an earlier end.
        (Some(_), None) => Link::Fits,
    }
}

/// The log of the volume before the first one here, as its line 0 names it.
pub fn log_before(lines: &[Line]) -> Option<&str> {
    lines.first().and_then(|l| l.data.get("before")).and_then(|b| b.text("log"))
}

/// Since when a register keeps a set, from the first line that tells of it to the one that releases it.
pub struct Keeps<'a> {
    /// The first.
    pub from: (LineNo, &'a Line),
    /// The one that releases it.
    pub released: Option<(LineNo, &'a Line)>,
}

impl Keeps<'_> {
    /// Whether both keep it at one time.
    pub fn with(&self, other: &Keeps<'_>) -> bool {
        let to = |k: &Keeps<'_>| k.released.map(|(_, l)| l.time.to_string());
        let from = |k: &Keeps<'_>| k.from.1.time.to_string();
        overlap((&from(self), to(self).as_deref()), (&from(other), to(other).as_deref()))
    }
}

/// Whether two times that each run from one UTC time to another overlap; without an end they run on.
pub fn overlap((a, a_to): (&str, Option<&str>), (b, b_to): (&str, Option<&str>)) -> bool {
    a_to.is_none_or(|end| b < end) && b_to.is_none_or(|end| a < end)
}

/// When a register keeps each set. A text alone keeps none.
pub fn kept(all: &[Line]) -> BTreeMap<String, Vec<Keeps<'_>>> {
    let mut out: BTreeMap<String, Vec<Keeps<'_>>> = BTreeMap::new();
    for (place, l) in super::numbered(all) {
        let set = match l.kind.name {
            "open" => l.data.get("set").and_then(|s| s.text("id")),
            // Also with no permit of its own there: somebody stood at it.
            "started" | "stopped" | "moved" | "plugged" | "filled" | "serviced" | "air_test" | "taken"
            | "released" | "on_air" | "in" | "out" | "off_air" | "reading" | "event" | "roll_call" => {
                l.data.text("set")
            }
            _ => None,
        };
        let Some(set) = set else { continue };
        let of_it = out.entry(set.to_owned()).or_default();
        match of_it.last_mut().filter(|k| k.released.is_none()) {
            Some(k) if l.kind.name == "released" => k.released = Some((place, l)),
            Some(_) => {}
            None if l.kind.name == "released" => {}
            None => of_it.push(Keeps { from: (place, l), released: None }),
        }
    }
    out
}

fn apart(first: &[Line], second: &[Line]) -> Compared {
    let kin = kin(first, second);
    // One history: a set goes on in the other volume.
    let one = matches!(kin, Kin::Before | Kin::After);
    let (ours, theirs) = (kept(first), kept(second));
    let both = |(set, of_a): (&String, &Vec<Keeps<'_>>)| {
        let of_b = theirs.get(set).filter(|_| !one)?;
        of_a.iter().any(|x| of_b.iter().any(|y| x.with(y))).then(|| set.clone())
    };
    let sets = ours.iter().filter_map(both).collect();
    let station = match kin {
        Kin::Another { .. } => begins(second).first().and_then(|l| l.data.text("station")).map(str::to_owned),
        Kin::Strangers | Kin::Before | Kin::After | Kin::Unknown => None,
    };
    Compared::Apart { sets, station }
}

/// In words: first what is broken, then how the lines compare.
pub fn in_words(against: &Against) -> String {
    let mut s = String::new();
    for (damage, head) in
        [(&against.there, say!("THE OTHER COPY IS BROKEN")), (&against.here, say!("THIS COPY IS BROKEN"))]
    {
        if let Some(d) = damage {
            s += &damaged(head, d);
        }
    }
    s += &words(&against.compared, against.there.as_ref());
    let mut lacks = |words: Option<String>| s.extend(words.map(|w| w + "\n"));
    lacks((against.missing_there > 0).then(|| {
        say_n!(
            against.missing_there,
            "{n} LINE OF THIS COPY IS NOT IN THE OTHER ONE, which has lines after it: a volume is missing there",
            "{n} LINES OF THIS COPY ARE NOT IN THE OTHER ONE, which has lines after them: a volume is missing there"
        )
    }));
    lacks((against.missing_here > 0).then(|| {
        say_n!(
            against.missing_here,
            "{n} LINE OF THE OTHER COPY IS NOT IN THIS ONE, which has lines after it: a volume is missing here",
            "{n} LINES OF THE OTHER COPY ARE NOT IN THIS ONE, which has lines after them: a volume is missing here"
        )
    }));
    s
}

fn damaged(head: &str, d: &Damage) -> String {
    let mut s =
        say!("{head} at line {at}, rule `{rule}`: {why}", head, at = d.at, rule = d.rule, why = d.why) + "\n";
    s += &match (&d.hash, &d.other, &d.differ) {
        (_, None, _) => say!("  nothing stands in this place in the one beside it").to_owned(),
        (Some(_), Some(other), None) => {
            say!("  the same line, {other}, stands there in the one beside it", other)
        }
        (None, Some(other), None) => {
            say!("  the one beside it has {other} there, of the same bytes with an end", other)
        }
        (Some(hash), Some(other), Some((a, b))) => say!(
            "  it differs there: {hash} (...{a}...), in the one beside it {other} (...{b}...)",
            hash,
            a,
            other,
            b
        ),
        (None, Some(other), Some(_)) => say!("  it ends there, where the one beside it has {other}", other),
    };
    s += "\n";
    if d.behind > 0 {
        s += "  ";
        s += &say_n!(
            d.behind,
            "{n} line stands behind it that proves nothing by itself",
            "{n} lines stand behind it that prove nothing by themselves"
        );
        s += &match &d.first {
            None => say!("; none of them is another one than in the copy beside it").to_owned(),
            Some((line, ours, theirs)) => say_n!(
                d.others,
                "; {n} of them is another one than in the copy beside it: line {line}, {ours}, there {theirs}",
                "; {n} of them are other ones than in the copy beside it, the first line {line}, {ours}, there {theirs}",
                line,
                ours,
                theirs
            ),
        };
        s += "\n";
    }
    s
}

/// How lines compare, in words; and what is wrong with the second copy.
pub fn words(compared: &Compared, there: Option<&Damage>) -> String {
    match compared {
        Compared::Broken { shared } => {
            say_n!(
                *shared,
                "before that {n} line checks and is the same in both",
                "before that {n} lines check and are the same in both"
            ) + "\n"
        }
        Compared::Same => format!("{}\n", say!("both copies end in the same line")),
        Compared::FirstLonger { by } => {
            say_n!(
                *by,
                "the other copy is older: {n} line come after its last",
                "the other copy is older: {n} lines come after its last"
            ) + "\n"
        }
        Compared::SecondLonger { by } => {
            say_n!(
                *by,
                "THE OTHER COPY GOES ON: {n} line come after the last one here. This copy is older, or its end was \
                 cut off",
                "THE OTHER COPY GOES ON: {n} lines come after the last one here. This copy is older, or its end was \
                 cut off"
            ) + "\n"
        }
        // Line 0 of both: there is nothing before it that they could share.
        Compared::Forked { first, first_hash, second, second_hash }
            if first.volume == 1 && first.line == 0 =>
        {
            say!(
                "FORKED: of one log, and no line is shared: here stands line {first}, {first_hash}, and in the other \
                 copy line {second}, {second_hash}. Both check. No rule of the record tells which one is true",
                first,
                first_hash,
                second,
                second_hash
            ) + "\n"
        }
        Compared::Forked { first, first_hash, second, second_hash } => {
            say!(
                "FORKED: after lines that both copies share, here stands line {first}, {first_hash}, and in the other \
                 copy line {second}, {second_hash}. Both check; somebody went on from an earlier point. No rule of \
                 the record tells which one is true",
                first,
                first_hash,
                second,
                second_hash
            ) + "\n"
        }
        Compared::Apart { sets, station } => {
            let mut s = match station {
                Some(station) => say!(
                    "ANOTHER HISTORY: the other one is of station {station} too, and shares no line with this one. \
                     Nothing tells which one is true",
                    station
                ),
                None if there.is_some_and(|d| d.at.line == 0 && d.at.volume <= 1) => {
                    say!("no line of the other one can be read: of which register it is is not known")
                        .to_owned()
                }
                None => say!("the other one shares no line with this one: it is another register").to_owned(),
            } + "\n";
            for set in sets {
                s += &(say!(
                    "BOTH REGISTERS KEEP THE SET {set}: who is on air by the one is not on the tally of the other",
                    set
                ) + "\n");
            }
            s
        }
    }
}
