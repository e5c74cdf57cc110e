//! The first things an auditor wants to know, answered plainly: yes, no, or not known, and the lines.
//!
//! Always: what the lines do not show is not known, and never yes; of a register that does not check to its end, or of which
//! a volume is missing, nothing good is said. Not here: questions for people (`questions`).

use super::clocks::Clocks;
use super::permits::{Change, PermitFacts};
use super::{At, Input};
use crate::audit::{Verdict, numbered};
use crate::record::json::Json;
use crate::replay::Class;
use crate::time::seconds;
use crate::tongue::{say, say_n};
use crate::view::StateWord;
use serde::Serialize;

/// A question and its answer.
#[derive(Clone, Debug, Serialize)]
pub struct Plain {
    /// A stable word.
    pub about: &'static str,
    /// The question.
    pub ask: String,
    /// `yes` `no` `not_known`.
    pub answer: &'static str,
    /// In words.
    pub words: String,
    /// Lines, not all where there are many.
    pub lines: Vec<At>,
}

impl Plain {
    /// The answer, as people say it.
    pub fn answered(&self) -> &'static str {
        match self.answer {
            "yes" => say!("YES"),
            "no" => say!("NO"),
            _ => say!("NOT KNOWN"),
        }
    }
}

/// So many lines are named.
const NAMED: usize = 12;

/// Every plain answer.
pub fn of(input: &Input<'_>, permits: &[PermitFacts]) -> Vec<Plain> {
    let whole = matches!(input.verified.report.verdict, Verdict::Sound | Verdict::Unproven)
        && !input.replayed.state.missing;
    let mut out = vec![
        live(input, permits),
        gates(input, permits),
        air(permits),
        out_after_alarms(permits),
        off(input, permits),
        looked(input),
    ];
    for p in &mut out {
        p.lines.truncate(NAMED);
        // Only lines that are there can be seen; what is missing may say otherwise.
        let good = if p.about == "on_air_not_live" { "no" } else { "yes" };
        if !whole && p.answer == good {
            p.answer = "not_known";
            p.words =
                say!("not all of its lines are here or check; by those that do: {words}", words = p.words);
        }
    }
    out
}

/// Whether anybody was on air while the permit was not live.
fn live(input: &Input<'_>, permits: &[PermitFacts]) -> Plain {
    let (mut went_on, mut still_on, mut longest, mut lines) = (0, 0, 0, Vec::new());
    let clocks = Clocks::of(&input.verified.lines);
    let last = numbered(&input.verified.lines).last();
    let last = last.map_or(0, |(place, l)| clocks.second(&At::new(place, &l.time, &l.zone)));
    for p in permits {
        let end = input.replayed.state.permits.get(&p.number).and_then(|p| p.valid_to.clone());
        // By their places: a clock may have been set back between them.
        let mut not_live = Vec::new();
        let next = |i: usize| p.states.get(i + 1).map_or((u32::MAX, u64::MAX), |n| n.place);
        let not = |c: &&Change| c.state != StateWord::Live.english() && c.place.0 != u32::MAX;
        for (i, c) in p.states.iter().enumerate().filter(|(_, c)| not(c)) {
            not_live.push((c.place..next(i), seconds(&c.utc) + clocks.shift(c.place)));
        }
        let end = end.map(|e| seconds(&e));
        let first_live = p.states.iter().find(|c| c.state == StateWord::Live.english());
        for s in &p.spells {
            let from = clocks.second(&s.from);
            let to = s.to.as_ref().map_or(last, |t| clocks.second(t));
            let on = s.from.place();
            let off = s.to.as_ref().map_or((u32::MAX, u64::MAX), At::place);
            let ended = end.map(|e| e + clocks.shift(off));
            let told_before = first_live.is_some_and(|f| s.told.as_deref().is_some_and(|t| *t < *f.utc));
            let stops =
                not_live.iter().filter(|(n, _)| on < n.start && n.start < off).map(|(_, since)| *since);
            if told_before
                || not_live.iter().any(|(n, _)| n.contains(&on))
                || end.is_some_and(|e| e + clocks.shift(on) <= from)
            {
                went_on += 1;
                lines.push(s.from.clone());
            } else if let Some(since) = stops.chain(ended.filter(|e| from < *e && *e < to)).min() {
                still_on += 1;
                longest = longest.max((to - since).max(0));
                lines.push(s.to.clone().unwrap_or_else(|| s.from.clone()));
            }
        }
    }
    let mut none = Vec::new();
    for (at, l) in numbered(&input.verified.lines) {
        if matches!(l.kind.name, "on_air" | "in") && l.permit.is_none() {
            none.push(At::new(at, &l.time, &l.zone));
        }
    }
    let mut words = Vec::new();
    words.push(if went_on == 0 {
        say!("nobody went on air on a permit that was not live").to_owned()
    } else {
        say_n!(
            went_on,
            "{n} time somebody went on air while it was not live",
            "{n} times somebody went on air while it was not live"
        )
    });
    if still_on > 0 {
        let time = super::lasted(longest);
        words.push(say_n!(
            still_on,
            "{n} was on air when it stopped being live, and off {time} after it",
            "{n} were on air when it stopped being live, the last off {time} after it",
            time
        ));
    }
    if !none.is_empty() {
        words.push(say_n!(
            none.len(),
            "{n} line tells of somebody on air on no permit",
            "{n} lines tell of somebody on air on no permit"
        ));
    }
    let yes = went_on + still_on > 0 || !none.is_empty();
    lines.extend(none);
    Plain {
        about: "on_air_not_live",
        ask: say!("Was anyone on air while the permit was not live?").into(),
        answer: if yes { "yes" } else { "no" },
        words: words.join("; "),
        lines,
    }
}

/// Whether every gate was true when a permit was issued.
fn gates(input: &Input<'_>, permits: &[PermitFacts]) -> Plain {
    let ask = say!("Were all gates true when each permit was issued?").to_owned();
    let issued: Vec<&PermitFacts> = permits.iter().filter(|p| p.issued.is_some()).collect();
    let (mut not, mut unknown, mut unread) = (Vec::new(), Vec::new(), Vec::new());
    for p in &issued {
        let Some(issue) = &p.issued else { continue };
        if let Some(why) = &p.unread {
            unread.push(format!("{}: {why}", p.number));
            unknown.push(issue.clone());
            continue;
        }
        let before = |volume: u32, line: u64| (volume, line) <= (issue.volume, issue.seq);
        let of = input.replayed.findings.iter().filter(|f| f.permit.as_deref() == Some(p.number.as_str()));
        for f in of.filter(|f| before(f.line.volume, f.line.line)) {
            let here = || {
                let found = numbered(&input.verified.lines).find(|(at, _)| *at == f.line);
                found.map_or_else(|| issue.clone(), |(at, l)| At::new(at, &l.time, &l.zone))
            };
            match f.class {
                Class::Contradicts => not.push(here()),
                Class::NotJudged => unknown.push(here()),
                Class::Forbidden | Class::Gap => {}
            }
        }
    }
    let left: Vec<At> = issued.iter().flat_map(|p| p.left.iter().map(|l| l.1.clone())).collect();
    let (answer, words, lines) = if issued.is_empty() {
        ("not_known", say!("no permit was issued").to_owned(), Vec::new())
    } else if !not.is_empty() {
        (
            "no",
            say!("lines before the issue are not as the rules would have let them be written").to_owned(),
            not,
        )
    } else if !unread.is_empty() {
        let why = unread.iter().take(3).map(String::as_str).collect::<Vec<_>>().join("; ");
        ("not_known", say!("the gates of some cannot be judged here: {why}", why), unknown)
    } else if !unknown.is_empty() {
        ("not_known", say!("lines before the issue could not be judged").to_owned(), unknown)
    } else if left.is_empty() {
        (
            "yes",
            say!("judged again from the answers; whether these were so, people say").to_owned(),
            issued.iter().filter_map(|p| p.issued.clone()).collect(),
        )
    } else {
        (
            "yes",
            say_n!(
                left.len(),
                "judged again from the answers, but for {n} deviation or item out of service",
                "judged again from the answers, but for {n} deviations or items out of service"
            ),
            left,
        )
    };
    Plain { about: "gates", ask, answer, words, lines }
}

/// Whether the test of the air was good when a permit was issued.
fn air(permits: &[PermitFacts]) -> Plain {
    let issued: Vec<&PermitFacts> =
        permits.iter().filter(|p| p.issued.is_some() && !p.for_shutdown).collect();
    let bad = |p: &&&PermitFacts| p.tested.as_ref().is_some_and(|t| t.days_left < 0 || !t.against.is_empty());
    let not: Vec<At> = issued.iter().filter(bad).filter_map(|p| p.issued.clone()).collect();
    let none: Vec<At> =
        issued.iter().filter(|p| p.tested.is_none()).filter_map(|p| p.issued.clone()).collect();
    let (answer, words, lines) = if !not.is_empty() {
        (
            "no",
            say_n!(
                not.len(),
                "{n} permit was issued on a test that was over or outside the limits",
                "{n} permits were issued on a test that was over or outside the limits"
            ),
            not,
        )
    } else if !none.is_empty() {
        (
            "not_known",
            say_n!(
                none.len(),
                "before {n} permit no test was entered as a line of the set",
                "before {n} permits no test was entered as a line of the set"
            ),
            none,
        )
    } else if issued.is_empty() {
        ("not_known", say!("no permit was issued").to_owned(), Vec::new())
    } else {
        (
            "yes",
            say!("by the lines of the tests").to_owned(),
            issued.iter().filter_map(|p| p.tested.as_ref().map(|t| t.at.clone())).collect(),
        )
    };
    Plain {
        about: "air",
        ask: say!("Was the air tested, in date and within its limits, when each permit was issued?").into(),
        answer,
        words,
        lines,
    }
}

/// Whether everyone who was in at an alarm was told out.
fn out_after_alarms(permits: &[PermitFacts]) -> Plain {
    let all: Vec<_> = permits.iter().flat_map(|p| &p.alarms).filter(|a| !a.out.is_empty()).collect();
    let never: Vec<At> = all.iter().filter(|a| a.seconds.is_none()).map(|a| a.at.clone()).collect();
    let (answer, words, lines) = if never.is_empty() {
        let longest = all.iter().filter_map(|a| a.seconds).max().unwrap_or_default();
        let words = if all.is_empty() {
            say!("no alarm found anybody inside").to_owned()
        } else if let Some(told) = by_told(&all) {
            let time = super::lasted(longest);
            say_n!(
                all.len(),
                "{n} alarm with people inside, the last one out after {time} as it was entered, which counts; by the \
                 times told after {told}",
                "{n} alarms with people inside, the last one out after at most {time} as it was entered, which counts; by \
                 the times told after at most {told}",
                time,
                told = super::lasted(told)
            )
        } else {
            let time = super::lasted(longest);
            say_n!(
                all.len(),
                "{n} alarm with people inside, the last one out after {time}",
                "{n} alarms with people inside, the last one out after at most {time}",
                time
            )
        };
        ("yes", words, all.iter().map(|a| a.at.clone()).collect())
    } else {
        (
            "no",
            say_n!(
                never.len(),
                "after {n} alarm somebody who was in was never told out",
                "after {n} alarms somebody who was in was never told out"
            ),
            never,
        )
    };
    Plain {
        about: "out",
        ask: say!("Was everyone who was inside at an alarm told out?").into(),
        answer,
        words,
        lines,
    }
}

/// The longest by the times that were told, where they make any of these shorter or longer than it was entered.
fn by_told(alarms: &[&super::tally::Alarm]) -> Option<i64> {
    let others = alarms.iter().any(|a| a.told.is_some());
    others.then(|| alarms.iter().filter_map(|a| a.told.or(a.seconds)).max()).flatten()
}

/// Whether everyone who went on air was told off.
fn off(input: &Input<'_>, permits: &[PermitFacts]) -> Plain {
    let never = permits.iter().flat_map(|p| &p.spells).filter(|s| s.to.is_none());
    let lines: Vec<At> = never.map(|s| s.from.clone()).collect();
    let on = input.replayed.state.on_air.len();
    let (answer, words) = if lines.is_empty() && on == 0 {
        ("yes", say!("nobody is on air by the last line").to_owned())
    } else {
        let n = lines.len().max(on);
        ("no", say_n!(n, "{n} is on air by the last line", "{n} are on air by the last line"))
    };
    Plain { about: "off", ask: say!("Was everyone who went on air told off?").into(), answer, words, lines }
}

/// Whether whoever issued read a gauge again.
fn looked(input: &Input<'_>) -> Plain {
    let (mut issued, mut not) = (0, Vec::new());
    for (at, l) in numbered(&input.verified.lines).filter(|(_, l)| l.kind.name == "countersign") {
        issued += 1;
        if !matches!(l.data.get("seen"), Some(Json::Arr(_))) {
            not.push(At::new(at, &l.time, &l.zone));
        }
    }
    let (answer, words) = if issued == 0 {
        ("not_known", say!("no permit was issued").to_owned())
    } else if not.is_empty() {
        ("yes", say!("before each issue, by what they signed").to_owned())
    } else {
        (
            "no",
            say_n!(
                not.len(),
                "{n} permit was issued with nothing read again",
                "{n} permits were issued with nothing read again"
            ),
        )
    };
    Plain {
        about: "looked",
        ask: say!("Did whoever issued read gauges again?").into(),
        answer,
        words,
        lines: not,
    }
}
