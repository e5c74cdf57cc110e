//! The first things an auditor wants to know, answered plainly: yes, no, or not known, and the lines.
//!
//! Always: yes is as it should be, of every question; the worst comes first, and stands in the headline; what the lines
//! do not show is not known, and never yes; of a register that does not check to its end, or of which a volume is missing,
//! nothing good is said. Not here: questions for people (`questions`).

use super::clocks::Clocks;
use super::permits::{Change, PermitFacts};
use super::sought::Sought;
use super::tally::{self, Alarm, Odd, Out, Tally};
use super::waiting::{self, Waiting};
use super::{At, Input, after, breathed, called, names};
use crate::audit::{Verdict, numbered};
use crate::permit::decide::crew::SEEN;
use crate::record::json::Json;
use crate::replay::Class;
use crate::time::seconds;
use crate::tongue::{say, say_n};
use crate::view::{LineNo, StateWord};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// A question and its answer.
#[derive(Clone, Debug, Serialize)]
pub struct Plain {
    /// A stable word.
    pub about: &'static str,
    /// The question.
    pub ask: String,
    /// `yes` `no` `not_known`; yes is as it should be.
    pub answer: &'static str,
    /// In words.
    pub words: String,
    /// What is told of it above everything else; `None` where nothing is to be.
    pub headline: Option<String>,
    /// Lines, not all where there are many: the first and the last.
    pub lines: Vec<At>,
    /// So many more.
    pub more: u64,
}

/// The first lines of many and the last one; and how many more there are.
pub fn shortened(lines: &mut Vec<At>) -> u64 {
    let mut named = BTreeSet::new();
    lines.retain(|at| named.insert(at.place()));
    let all = lines.len();
    if let Some(last) = lines.last().cloned().filter(|_| all > NAMED) {
        lines.truncate(NAMED - 1);
        lines.push(last);
    }
    (all - lines.len()) as u64
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
/// What a report that was not entered may change.
const OF_REPORTS: [&str; 6] = ["off", "out", "breathed", "sought", "on_air_live", "ended"];

/// What lines after the last one that checks may tell otherwise, as far as it goes against anybody.
const OF_THE_END: [&str; 4] = ["off", "out", "on_air_live", "ended"];

/// Whether lines stand behind the last one that was read, or may.
fn is_cut(input: &Input<'_>) -> bool {
    matches!(input.verified.report.verdict, Verdict::Broken | Verdict::CouldNot)
}

/// Every plain answer.
pub fn of(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally, waiting: &[Waiting]) -> Vec<Plain> {
    let verdict = input.verified.report.verdict;
    let cut = is_cut(input);
    let whole = !cut && !input.replayed.state.missing;
    // Who is not accounted for comes before all else.
    let mut out = vec![
        off(input, permits, tally),
        out_after_alarms(permits, tally),
        breathed::air(input, tally),
        sought(input, permits, tally),
        live(input, permits, tally),
        gates(input, permits),
        air(permits),
        looked(input),
    ];
    out.extend(after::ended(input, permits));
    out.extend(waiting::entered(input, waiting));
    for p in &mut out {
        p.more = shortened(&mut p.lines);
        // What is told behind the line that does not check may tell people out, off or found.
        if cut && p.answer != "yes" && OF_THE_END.contains(&p.about) {
            if p.answer == "no" {
                p.answer = "not_known";
            }
            let read = |words: &str| {
                say!("not all of its lines are here or check; by those that do: {words}", words)
            };
            p.headline = p.headline.as_deref().map(read);
            p.words = read(&p.words);
        }
        // Only lines that are there can be seen; what is missing may say otherwise.
        if !whole && p.answer == "yes" {
            p.answer = "not_known";
            p.words =
                say!("not all of its lines are here or check; by those that do: {words}", words = p.words);
        } else if !waiting.is_empty() && p.answer == "yes" && OF_REPORTS.contains(&p.about) {
            p.answer = "not_known";
            p.words = say!(
                "reports lie beside it that no line has entered; by its lines: {words}",
                words = p.words
            );
        } else if verdict == Verdict::Unproven && p.answer == "yes" {
            p.answer = "not_known";
            p.words = say!("not everything is proven; if its lines are true: {words}", words = p.words);
        }
    }
    let order = |p: &Plain| ["no", "not_known", "yes"].iter().position(|a| *a == p.answer);
    out.sort_by_key(order);
    out
}

/// Since when a permit was not live, and for which lines.
struct NotLive {
    lines: Range<(u32, u64)>,
    /// The earlier of told and entered.
    since: i64,
    /// As told.
    told: i64,
}

/// Whoever was on air when a permit stopped being live.
#[derive(Default)]
struct Stayed {
    /// Who was told off after it; each once, however often.
    all: BTreeSet<String>,
    /// Longer than its way out, or past the end that was known to all.
    over: Vec<String>,
    /// The same as it was entered, and not by the times told.
    unproved: Vec<String>,
    /// Never told off after it: who, and after what.
    never: Vec<(String, String)>,
    /// Told off, and missing at a roll call.
    doubted: Vec<String>,
    /// After it, and the way out of their job cannot be worked out.
    unmeasured: Vec<String>,
    /// The longest of those told off: to when it was entered, and by the times told.
    longest: i64,
    told: i64,
}

/// Somebody is told out or off by a line, and missing at a roll call.
fn doubted(name: &str, told: &At, call: &At) -> String {
    say!(
        "{name} is told out or off by line {line} and MISSING at the roll call of line {call}",
        name,
        line = told.line,
        call = call.line
    )
}

/// Whether everybody went on air while the permit was live, and came off it in time once it was not.
fn live(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Plain {
    let (mut went_on, mut stayed, mut lines) = (Vec::new(), Stayed::default(), Vec::new());
    let clocks = Clocks::of(&input.verified.lines);
    let known = names::of(input);
    let last = numbered(&input.verified.lines).last();
    let last = last.map_or(0, |(place, l)| clocks.second(&At::new(place, &l.time, &l.zone)));
    let mut earlier: Vec<&Alarm> = Vec::new();
    let told: BTreeMap<(u32, u64), i64> = numbered(&input.verified.lines)
        .filter_map(|(place, l)| Some(((place.volume, place.line), seconds(l.data.text("at")?))))
        .collect();
    for p in permits {
        let end = input.replayed.state.permits.get(&p.number).and_then(|p| p.valid_to.clone());
        // By their places: a clock may have been set back between them.
        let mut not_live = Vec::new();
        let next = |i: usize| p.states.get(i + 1).map_or((u32::MAX, u64::MAX), |n| n.place);
        let not = |c: &&Change| c.state != StateWord::Live.english() && c.place.0 != u32::MAX;
        for (i, c) in p.states.iter().enumerate().filter(|(_, c)| not(c)) {
            let (entered, shift) = (seconds(&c.utc), clocks.shift(c.place));
            let told = told.get(&c.place).copied().unwrap_or(entered);
            let lines = c.place..next(i);
            not_live.push(NotLive { lines, since: told.min(entered) + shift, told: told + shift });
        }
        let alarm = |a: &'_ &Alarm| seconds(&a.when) + clocks.shift(a.at.place());
        let end = end.map(|e| seconds(&e));
        let first_live = p.states.iter().find(|c| c.state == StateWord::Live.english());
        for s in &p.spells {
            let name = known.called(&s.person);
            let from = clocks.second(&s.from);
            let on = s.from.place();
            let off = s.to.as_ref().map_or((u32::MAX, u64::MAX), At::place);
            let entered = s.to.as_ref().map_or(last, |t| clocks.second(t));
            let told = s.told_off.as_deref().map_or(entered, |t| seconds(t) + clocks.shift(off));
            let to = entered.max(told);
            let ended = end.map(|e| e + clocks.shift(off)).filter(|e| from < *e && *e < to);
            let told_before = first_live.is_some_and(|f| s.told.as_deref().is_some_and(|t| *t < *f.utc));
            let stops = not_live.iter().filter(|n| on < n.lines.start && n.lines.start < off);
            let stops = stops.map(|n| (n.since, n.told, false, Some(n.lines.start)));
            let stops = stops.chain(ended.map(|e| (e, e, true, None)));
            let on_told = s.told.as_deref().map_or(from, |t| seconds(t) + clocks.shift(on)).min(from);
            // One that is told later than it came takes no state of then, and counts from when it came all the same.
            let over = |a: &&&Alarm| {
                let then = a.told_earlier() || (on < a.at.place() && a.at.place() < off);
                // Nobody is told off after it: the clock's last second is no end.
                then && on_told <= alarm(a) && (alarm(a) < to || s.to.is_none())
            };
            let alarms: Vec<&Alarm> = p.alarms.iter().collect();
            let came = alarms.iter().filter(over).map(|a| (alarm(a), alarm(a), false, Some(a.at.place())));
            let stops = stops.chain(came);
            let not_then = told_before
                || not_live.iter().any(|n| n.lines.contains(&on))
                || end.is_some_and(|e| e + clocks.shift(on) <= from);
            if not_then && !s.never_on {
                went_on.push(name);
                lines.push(s.from.clone());
            } else if let Some((since, since_told, by_its_end, place)) = stops.min() {
                let after = (to - since).max(0);
                let by_told = (told - since_told).max(0);
                // By a clock that stood it may have been that much later.
                let stood =
                    tally.stood.iter().find(|(at, _)| Some(at) == s.to.as_ref()).map_or(0, |(_, gap)| *gap);
                // Not told off by the last line that checks, they may be by the next one.
                let may_be = s.to.is_none() && is_cut(input);
                let too_long = |after: i64| {
                    !may_be && if by_its_end { after > 0 } else { p.way_out.is_some_and(|most| after > most) }
                };
                // In a volume that is missing it may stand.
                if !by_its_end && p.way_out.is_none() && after > 0 && !input.replayed.state.missing {
                    stayed.unmeasured.push(name.clone());
                }
                if let Some(to) = &s.to {
                    stayed.all.insert(s.person.clone());
                    stayed.longest = stayed.longest.max(after);
                    stayed.told = stayed.told.max(by_told);
                    let doubt = s.doubt.as_ref();
                    stayed.doubted.extend(doubt.map(|call| doubted(&name, to, call)));
                    lines.extend(doubt.cloned());
                } else {
                    let line = place.map(|(volume, line)| LineNo { volume, line });
                    let mut all = numbered(&input.verified.lines);
                    let here = line.and_then(|line| all.find(|(at, _)| *at == line));
                    lines.extend(here.map(|(at, l)| At::new(at, &l.time, &l.zone)));
                    let words = match (line, &p.valid_to) {
                        (Some(line), _) => say!("{name} (line {line})", name, line),
                        (None, Some(end)) => say!("{name} (its end, {time})", name, time = end),
                        (None, None) => name.clone(),
                    };
                    stayed.never.push((s.person.clone(), words));
                }
                if too_long(by_told) {
                    stayed.over.push(name);
                } else if too_long(after + stood) {
                    stayed.unproved.push(name);
                }
                let counted =
                    |a: &&Alarm| a.told_earlier() && over(&a) && !earlier.iter().any(|e| e.at == a.at);
                earlier.extend(alarms.iter().copied().filter(counted).collect::<Vec<_>>());
                lines.push(s.to.clone().unwrap_or_else(|| s.from.clone()));
            }
        }
    }
    let (mut none, mut on_none, mut rescue) = (Vec::new(), Vec::new(), BTreeMap::new());
    for (at, l) in numbered(&input.verified.lines) {
        if matches!(l.kind.name, "on_air" | "in") && l.permit.is_none() {
            let (here, person) = (At::new(at, &l.time, &l.zone), l.data.text("person").unwrap_or_default());
            let on = permits.iter().find(|p| rescues(input, p, l.data.text("set"), person, here.place()));
            match on {
                Some(p) => rescue.entry((person, p.number.as_str())).or_insert_with(Vec::new).push(here),
                None => {
                    on_none.push(known.called(person));
                    none.push(here);
                }
            }
        }
    }
    let mut against = Vec::new();
    if !went_on.is_empty() {
        against.push(say_n!(
            went_on.len(),
            "{n} time somebody went on air while it was not live: {who}",
            "{n} times somebody went on air while it was not live: {who}",
            who = names::few(went_on.iter().cloned())
        ));
    }
    if !stayed.over.is_empty() {
        against.push(say_n!(
            each(&stayed.over),
            "{n} stayed on air past the end of a permit, or longer than its way out once it was not live: {who}",
            "{n} stayed on air past the end of a permit, or longer than its way out once it was not live: {who}",
            who = names::few(stayed.over.iter().cloned())
        ));
    }
    if !none.is_empty() {
        against.push(say_n!(
            none.len(),
            "{n} line tells of somebody on air on no permit: {who}",
            "{n} lines tell of somebody on air on no permit: {who}",
            who = names::few(on_none)
        ));
    }
    let broke = !against.is_empty();
    if !stayed.never.is_empty() {
        against.push(say_n!(
            each(stayed.never.iter().map(|(person, _)| person)),
            "{n} was on air when it stopped being live or an alarm came, and is never told off after it: {who}",
            "{n} were on air when it stopped being live or an alarm came, and are never told off after it: {who}",
            who = names::few(stayed.never.iter().map(|(_, words)| words.clone()))
        ));
    }
    if !stayed.unmeasured.is_empty() {
        against.push(say_n!(
            each(&stayed.unmeasured),
            "the way out of the job is not known, so that nobody can say whether {n} came off in time: {who}",
            "the way out of the job is not known, so that nobody can say whether {n} came off in time: {who}",
            who = names::few(stayed.unmeasured.iter().cloned())
        ));
    }
    if !stayed.doubted.is_empty() {
        against.push(names::few(stayed.doubted.iter().cloned()));
    }
    let mut words = against.clone();
    let unknown = never_on(input, tally);
    if went_on.is_empty() && unknown.is_none() {
        words.insert(0, say!("nobody went on air on a permit that was not live").to_owned());
    }
    if !stayed.all.is_empty() {
        let time = super::lasted(stayed.longest);
        let mut how = say_n!(
            stayed.all.len(),
            "{n} was on air when it stopped being live or an alarm came, and off {time} after it",
            "{n} were on air when it stopped being live or an alarm came, the last off {time} after it",
            time
        );
        if stayed.told != stayed.longest {
            let told = super::lasted(stayed.told);
            how =
                say!("{words} as it was entered, which counts; by the times told {told}", words = how, told);
        }
        words.push(how);
    }
    words.extend(tally::earlier(earlier.iter().copied()));
    for ((person, permit), at) in rescue {
        let name = crate::text::safe_line(known.name(person).unwrap_or(person)).into_owned();
        let places = at.iter().map(|a| a.line.as_str()).collect::<Vec<_>>().join(", ");
        words.push(say!(
            "{name}, named as a rescuer by the job of {permit}, was on its air (lines {lines})",
            name,
            permit,
            lines = places
        ));
        lines.extend(at);
    }
    lines.extend(earlier.iter().map(|a| a.at.clone()));
    lines.extend(none);
    if let Some((asked, at)) = unknown {
        words.push(asked.clone());
        against.push(asked);
        lines.extend(at);
    }
    let answer = match (broke, stayed.unproved.len()) {
        (true, _) => "no",
        (false, 0) if against.is_empty() => "yes",
        (false, 0) => "not_known",
        (false, _) => {
            against.push(say_n!(
                each(&stayed.unproved),
                "{n} is told to have come off in time, and was entered later: only the entered time is proved: {who}",
                "{n} are told to have come off in time, and were entered later: only the entered time is proved: {who}",
                who = names::few(stayed.unproved.iter().cloned())
            ));
            words.extend(against.last().cloned());
            "not_known"
        }
    };
    let headline = Some(against.join("; ")).filter(|_| !against.is_empty());
    Plain {
        about: "on_air_live",
        ask: say!(
            "Did everyone go on air while the permit was live, and come off within the way out once it was not?"
        )
        .into(),
        answer,
        words: words.join("; "),
        headline,
        lines,
        more: 0,
    }
}

/// How many different ones.
fn each<'a>(all: impl IntoIterator<Item = &'a String>) -> usize {
    all.into_iter().collect::<BTreeSet<_>>().len()
}

/// Whether the job of a permit names somebody as a rescuer, and as no wearer; and it was live or suspended at a line.
fn rescues(input: &Input<'_>, p: &PermitFacts, set: Option<&str>, person: &str, at: (u32, u64)) -> bool {
    let Some(of) = input.replayed.state.permits.get(&p.number) else { return false };
    let names = |list| match of.job.get(list) {
        Some(Json::Arr(all)) => all.iter().any(|w| w.text("person") == Some(person)),
        Some(_) | None => false,
    };
    let then = p.states.iter().rfind(|c| c.place < at).map(|c| c.state);
    let in_hand = [StateWord::Live, StateWord::Suspended].iter().any(|s| then == Some(s.english()));
    set == Some(p.set.as_str()) && in_hand && names("rescuers") && !names("wearers")
}

/// Whom a line tells out or off air whom none before it told on; each with its line, and all lines. Where a volume is
/// missing, it may have stood there.
fn never_on(input: &Input<'_>, tally: &Tally) -> Option<(String, Vec<At>)> {
    let of = |odd: &Odd| matches!(odd, Odd::OutNotOnAir | Odd::OffNotOnAir);
    let odd: Vec<_> = tally.odd.iter().filter(|(odd, ..)| of(odd)).collect();
    if odd.is_empty() || input.replayed.state.missing {
        return None;
    }
    let known = names::of(input);
    let in_words = |(odd, person, at): &&(Odd, String, At)| {
        let name = crate::text::safe_line(known.name(person).unwrap_or(person)).into_owned();
        if *odd == Odd::OutNotOnAir {
            say!("{name} out (line {line})", name, line = at.seq)
        } else {
            say!("{name} off air (line {line})", name, line = at.seq)
        }
    };
    let mut who: Vec<String> = odd.iter().take(NAMED).map(in_words).collect();
    if let Some(more @ 1..) = odd.len().checked_sub(NAMED) {
        who.push(say!("{n} more", n = more));
    }
    let words = say_n!(
        odd.len(),
        "{n} line tells out or off air whom no line before it told on, {who}: when did they go on air, and on which permit?",
        "{n} lines tell out or off air whom no line before them told on, {who}: when did they go on air, and on which permit?",
        who = who.join(", ")
    );
    Some((words, odd.iter().map(|(.., at)| at.clone()).collect()))
}

/// Whether every gate was true when a permit was issued.
fn gates(input: &Input<'_>, permits: &[PermitFacts]) -> Plain {
    let ask = say!("Were all gates true when each permit was issued?").to_owned();
    let issued: Vec<&PermitFacts> = permits.iter().filter(|p| p.issued.is_some()).collect();
    let (mut not, mut unknown, mut unread) = (Vec::new(), Vec::new(), Vec::new());
    for p in &issued {
        let Some(issue) = &p.issued else { continue };
        if let Some(why) = &p.unread {
            unread.push(format!("{}: {}", p.number, super::in_one(why)));
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
    // What contradicts the rules stands in the headline by itself.
    Plain { about: "gates", ask, answer, words, headline: None, lines, more: 0 }
}

/// Whether the test of the air was good when a permit was issued.
fn air(permits: &[PermitFacts]) -> Plain {
    let issued: Vec<&PermitFacts> =
        permits.iter().filter(|p| p.issued.is_some() && !p.for_shutdown).collect();
    let bad = |p: &&&PermitFacts| {
        p.tested.as_ref().is_some_and(|t| t.days_left < 0 || !t.against.is_empty() || t.ended.is_some())
    };
    let not: Vec<&PermitFacts> = issued.iter().copied().filter(|p| bad(&p)).collect();
    let which = names::few(not.iter().map(|p| p.number.clone()));
    let ended = not.iter().filter_map(|p| p.tested.as_ref()?.ended.as_ref());
    let ended: Vec<&At> = ended.map(|(_, at)| at).collect();
    let not: Vec<At> = not.iter().filter_map(|p| p.issued.clone()).collect();
    let none: Vec<At> =
        issued.iter().filter(|p| p.tested.is_none()).filter_map(|p| p.issued.clone()).collect();
    let (answer, words, lines) = if !not.is_empty() {
        (
            "no",
            say_n!(
                not.len(),
                "{n} permit was issued on a test that was over, ended or outside the limits: {which}",
                "{n} permits were issued on a test that was over, ended or outside the limits: {which}",
                which
            ),
            not.into_iter().chain(ended.into_iter().cloned()).collect(),
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
        headline: (answer == "no").then(|| words.clone()),
        words,
        lines,
        more: 0,
    }
}

/// Whether everyone who was in at an alarm was told out.
fn out_after_alarms(permits: &[PermitFacts], tally: &Tally) -> Plain {
    let alarms = called::everywhere(permits, tally);
    let all: Vec<&Alarm> = alarms.iter().copied().filter(|a| !a.out.is_empty()).collect();
    let perhaps: Vec<&Alarm> = alarms.into_iter().filter(|a| a.perhaps_in().next().is_some()).collect();
    let never: Vec<At> = all.iter().filter(|a| a.seconds.is_none()).map(|a| a.at.clone()).collect();
    let left = all.iter().flat_map(|a| &a.out).filter(|o| o.seconds.is_none()).map(Out::called);
    let (answer, words, lines) = if never.is_empty() {
        let longest = all.iter().filter_map(|a| a.seconds).max().unwrap_or_default();
        let words = if all.is_empty() && !perhaps.is_empty() {
            say!("no alarm found anybody inside whom a line told in").to_owned()
        } else if all.is_empty() {
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
        let words = [words].into_iter().chain(tally::earlier(all.iter().copied()));
        ("yes", words.collect::<Vec<_>>().join("; "), all.iter().map(|a| a.at.clone()).collect())
    } else {
        (
            "no",
            say_n!(
                never.len(),
                "after {n} alarm somebody who was in was never told out: {who}",
                "after {n} alarms somebody who was in was never told out: {who}",
                who = names::few(left)
            ),
            never,
        )
    };
    let (answer, words, lines) = match by_a_clock_that_stood(&all, tally) {
        Some((why, at)) if answer == "yes" => ("not_known", format!("{words}; {why}"), at),
        Some(_) | None => (answer, words, lines),
    };
    // A line that tells somebody out tells nothing where a roll call missed them.
    let of =
        all.iter().flat_map(|a| a.out.iter().filter_map(|o| Some((o, o.at.as_ref()?, o.doubt.as_ref()?))));
    let of: Vec<_> = of.collect();
    let by_lines = (answer != "yes").then(|| words.clone());
    let why = names::few(of.iter().map(|(o, at, call)| doubted(&o.called(), at, call)));
    let (answer, words, lines) = if of.is_empty() {
        (answer, words, lines)
    } else {
        let at = of.iter().flat_map(|(_, at, call)| [(*at).clone(), (*call).clone()]);
        let answer = if answer == "yes" { "not_known" } else { answer };
        (answer, format!("{why}; {words}"), at.chain(lines).collect())
    };
    let above: Vec<String> = by_lines.into_iter().chain(Some(why).filter(|why| !why.is_empty())).collect();
    let mut headline = Some(above.join("; ")).filter(|words| !words.is_empty());
    let (answer, words, lines) = match perhaps_in(&perhaps) {
        None => (answer, words, lines),
        Some((why, at)) => {
            // A mask that is told off in clean air leaves nobody inside: that is nothing against anybody.
            let never = perhaps.iter().flat_map(|a| a.perhaps_in()).any(|o| o.off.is_none());
            if never {
                headline = Some(headline.into_iter().chain([why.clone()]).collect::<Vec<_>>().join("; "));
            }
            let answer = if answer == "yes" { "not_known" } else { answer };
            (answer, format!("{words}; {why}"), lines.into_iter().chain(at).collect())
        }
    };
    Plain {
        about: "out",
        ask: say!("Was everyone who was inside at an alarm told out?").into(),
        answer,
        headline,
        words,
        lines,
        more: 0,
    }
}

/// Who was on air at an alarm, told in neither before nor after it; counted until their masks were off.
fn perhaps_in(alarms: &[&Alarm]) -> Option<(String, Vec<At>)> {
    let all: Vec<(&Alarm, &Out)> = alarms.iter().flat_map(|a| a.perhaps_in().map(|o| (*a, o))).collect();
    let in_words = |(a, o): &(&Alarm, &Out)| {
        let (name, line) = (o.called(), &a.at.line);
        match (o.off.map(super::lasted), o.told_off.map(super::lasted)) {
            (None, _) => say!("{name} (alarm of line {line}), mask never told off", name, line),
            (Some(time), None) => {
                say!("{name} (alarm of line {line}), mask off after {time}", name, line, time)
            }
            (Some(time), Some(told)) => say!(
                "{name} (alarm of line {line}), mask off after {time} as it was entered, which counts; by the times told \
                 after {told}",
                name,
                line,
                time,
                told
            ),
        }
    };
    let mut who: Vec<String> = all.iter().take(NAMED).map(in_words).collect();
    if let Some(more @ 1..) = all.len().checked_sub(NAMED) {
        who.push(say!("{n} more", n = more));
    }
    who.extend(tally::earlier(alarms.iter().copied().filter(|a| a.out.is_empty())));
    (!all.is_empty()).then(|| {
        let words = say_n!(
            each(all.iter().map(|(_, o)| &o.person)),
            "whether {n} who was on air then and never told in was inside is not known: {who}",
            "whether {n} who were on air then and never told in were inside is not known: {who}",
            who = who.join("; ")
        );
        (words, all.iter().flat_map(|(a, o)| [Some(&a.at), o.at_off.as_ref()]).flatten().cloned().collect())
    })
}

/// What says who was out, where it stands at the second of the line before and the next one comes long after.
fn by_a_clock_that_stood(alarms: &[&Alarm], tally: &Tally) -> Option<(String, Vec<At>)> {
    let told: Vec<&At> = alarms.iter().flat_map(|a| &a.out).filter_map(|o| o.at.as_ref()).collect();
    let stood: Vec<&(At, i64)> = tally.stood.iter().filter(|(at, _)| told.contains(&at)).collect();
    let longest = stood.iter().map(|(_, gap)| *gap).max()?;
    let why = say_n!(
        stood.len(),
        "{n} line of who was out has the second of the line before it, and may have been written up to {time} later",
        "{n} lines of who was out have the second of the line before them, and may have been written up to {time} later",
        time = super::lasted(longest)
    );
    Some((why, stood.into_iter().map(|(at, _)| at.clone()).collect()))
}

/// The longest by the times that were told, where they make any of these shorter or longer than it was entered.
fn by_told(alarms: &[&Alarm]) -> Option<i64> {
    let others = alarms.iter().any(|a| a.told.is_some());
    others.then(|| alarms.iter().filter_map(|a| a.told.or(a.seconds)).max()).flatten()
}

/// Whether everyone who went on air was told off, and was found where somebody looked for them.
fn off(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Plain {
    let ask = say!("Was everyone who went on air told off, and is nobody missing?").to_owned();
    let lost: Vec<_> = permits.iter().flat_map(|p| &p.lost).collect();
    let never =
        || permits.iter().flat_map(|p| p.spells.iter().map(move |s| (p, s))).filter(|(_, s)| s.to.is_none());
    let mut lines: Vec<At> = lost.iter().map(|(_, at)| at.clone()).collect();
    let on = input.replayed.state.on_air.len().max(never().count());
    lines.extend(never().map(|(_, s)| s.from.clone()));
    let apart = tally.spells.iter().filter(|s| s.permit.is_none() && s.to.is_none());
    lines.extend(apart.clone().map(|s| s.from.clone()));
    let mut words: Vec<String> = lost.iter().map(|(words, _)| words.clone()).collect();
    if on > 0 {
        let known = names::of(input);
        let apart = apart.map(|s| &s.person);
        let who = never().map(|(_, s)| &s.person).chain(apart).map(|id| known.called(id));
        words.push(say_n!(
            on,
            "{n} is on air by the last line: {who}",
            "{n} are on air by the last line: {who}",
            who = names::few(who)
        ));
    }
    let live = |p: &PermitFacts, s: &super::tally::Spell| {
        let waits =
            |a: &Alarm| a.out.iter().chain(&a.beside).any(|o| o.person == s.person && o.off.is_none());
        // Once it stopped being live they had to come off, whatever came after.
        let stopped = |c: &Change| c.state != StateWord::Live.english() && c.place > s.from.place();
        let end = input.replayed.state.permits.get(&p.number).and_then(|p| p.valid_to.as_deref());
        let over = end.zip(input.verified.lines.last()).is_some_and(|(end, last)| *end < *last.time);
        let live = p.state == StateWord::Live.english() && !over;
        live && !p.alarms.iter().any(waits) && !p.states.iter().any(stopped)
    };
    let at_work = never().count() >= on && never().all(|(p, s)| live(p, s));
    let (answer, words) = if words.is_empty() {
        let last = numbered(&input.verified.lines).last();
        lines.extend(last.map(|(place, l)| At::new(place, &l.time, &l.zone)));
        ("yes", say!("nobody is on air by the last line").to_owned())
    } else if lost.is_empty() && at_work {
        // A register that is read in the middle of the work.
        (
            "not_known",
            say!(
                "{words}, on a permit that is live then: they have yet to come off",
                words = words.join("; ")
            ),
        )
    } else {
        ("no", words.join("; "))
    };
    let headline = (answer != "yes").then(|| words.clone());
    Plain { about: "off", ask, answer, words, headline, lines, more: 0 }
}

/// Whether nobody had to be looked for: one who was found after all was lost that long.
fn sought(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Plain {
    let all: Vec<&Sought> = permits.iter().flat_map(|p| &p.sought).collect();
    let looked = |kind: &str, step: Option<&str>| {
        let of = numbered(&input.verified.lines).filter(move |(_, l)| {
            l.kind.name == kind && step.is_none_or(|step| l.data.text("step") == Some(step))
        });
        of.map(|(place, l)| At::new(place, &l.time, &l.zone)).collect::<Vec<_>>()
    };
    let (calls, seen) = (looked("roll_call", None), looked("answer", Some(SEEN)));
    let not_called = input.replayed.findings.iter().filter(|f| f.rule == "not_called");
    let places: Vec<_> = not_called.map(|f| f.line.to_string()).collect();
    let unasked: Vec<At> = calls.iter().filter(|c| places.contains(&c.line)).cloned().collect();
    let not_called = called::not_called(input, permits, tally);
    let (answer, words, lines) = if !all.is_empty() {
        let lines = all.iter().flat_map(|s| [Some(&s.from), s.found.as_ref()]).flatten().cloned().collect();
        ("no", all.iter().map(|s| s.words()).collect::<Vec<_>>().join("; "), lines)
    } else if !not_called.is_empty() {
        // A call of another day, or before it, says nothing of them.
        let (further, still): (Vec<&Alarm>, Vec<&Alarm>) =
            not_called.iter().copied().partition(|a| called::went_further(permits, a));
        let mut words = Vec::new();
        if !further.is_empty() {
            words.push(say_n!(
                further.len(),
                "after {n} alarm no roll call was called before the permit went on or ended: {what}",
                "after {n} alarms no roll call was called before the permit went on or ended: {what}",
                what = names::few(further.iter().map(|a| called::with_people(a)))
            ));
        }
        if !still.is_empty() {
            words.push(say_n!(
                still.len(),
                "after {n} alarm no roll call was called by the last line: {what}",
                "after {n} alarms no roll call was called by the last line: {what}",
                what = names::few(still.iter().map(|a| called::with_people(a)))
            ));
        }
        let words = words.join("; ");
        ("not_known", words, not_called.iter().map(|a| a.at.clone()).collect())
    } else if !unasked.is_empty() {
        let n = unasked.len();
        let words = say_n!(
            n,
            "{n} roll call says nothing of somebody it had to ask for",
            "{n} roll calls say nothing of somebody they had to ask for"
        );
        ("not_known", words, unasked)
    } else if calls.is_empty() && seen.is_empty() {
        (
            "not_known",
            say!("no roll call was held, and nobody looked for anybody outside").to_owned(),
            Vec::new(),
        )
    } else {
        let calls_held = say_n!(calls.len(), "{n} roll call missed nobody", "{n} roll calls missed nobody");
        let outside = say_n!(
            seen.len(),
            "{n} wearer was looked for outside and seen",
            "{n} wearers were looked for outside and seen"
        );
        ("yes", format!("{calls_held}; {outside}"), calls.into_iter().chain(seen).collect())
    };
    // Whoever is looked for still is told of among those who are not accounted for.
    let found: Vec<String> = all.iter().filter(|s| s.found.is_some()).map(|s| s.words()).collect();
    let unanswered = (all.is_empty() && !not_called.is_empty()).then(|| words.clone());
    let headline = Some(found.join("; ")).filter(|words| !words.is_empty()).or(unanswered);
    Plain {
        about: "sought",
        ask: say!("Was everyone there at every roll call, and seen wherever somebody looked for them?")
            .into(),
        answer,
        headline,
        words,
        lines,
        more: 0,
    }
}

/// Whether whoever issued read a gauge again.
fn looked(input: &Input<'_>) -> Plain {
    let (mut looked, mut nothing, mut not) = (Vec::new(), 0, Vec::new());
    for (at, l) in numbered(&input.verified.lines).filter(|(_, l)| l.kind.name == "countersign") {
        if matches!(l.data.get("seen"), Some(Json::Arr(_))) {
            looked.push(At::new(at, &l.time, &l.zone));
        } else if l.data.has("not_seen") {
            not.push(At::new(at, &l.time, &l.zone));
        } else {
            nothing += 1;
        }
    }
    let (answer, words) = if !not.is_empty() {
        (
            "no",
            say_n!(
                not.len(),
                "{n} permit was issued with nothing read again",
                "{n} permits were issued with nothing read again"
            ),
        )
    } else if !looked.is_empty() {
        ("yes", say!("before each issue, by what they signed").to_owned())
    } else if nothing > 0 {
        ("not_known", say!("none of the readings was one to be read again").to_owned())
    } else {
        ("not_known", say!("no permit was issued").to_owned())
    };
    Plain {
        about: "looked",
        ask: say!("Did whoever issued read gauges again?").into(),
        answer,
        headline: (answer == "no").then(|| words.clone()),
        words,
        lines: if answer == "no" { not } else { looked },
        more: 0,
    }
}
