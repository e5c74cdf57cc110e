//! What an auditor asks the people about. Questions, and no verdicts: each can have a good answer.
//!
//! Always: a figure and the lines it is from; what is asked after so many times or so long says the number it goes by.

mod entered;
mod still;

use super::clocks::Back;
use super::people::PersonFacts;
use super::permits::PermitFacts;
use super::plain::shortened;
use super::tally::{Odd, Spell, Tally};
use super::{At, Input, called, names};
use crate::audit::numbered;
use crate::permit::bench::LATE_AFTER;
use crate::permit::state::Signed;
use crate::record::line::Line;
use crate::time::{for_people, seconds};
use crate::tongue::{say, say_n};
use crate::view::{LineNo, recorded};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A question.
#[derive(Clone, Debug, Serialize)]
pub struct Question {
    /// A stable word.
    pub about: &'static str,
    /// The question.
    pub ask: String,
    /// What it is from.
    pub because: String,
    /// Lines, not all where there are many: the first and the last.
    pub lines: Vec<At>,
    /// So many more.
    pub more: u64,
}

/// From so many answers on it is asked why a step never held. Common practice, no source.
const OFTEN: u64 = 20;
/// From so many permits on it is asked of a supervisor why none was narrowed, refused, or looked at. Common practice, no
/// source.
const ISSUED: u64 = 10;
/// So long somebody watches without relief before it is asked, seconds. Common practice, no source: 4 h.
const WATCH: i64 = 4 * 3600;
/// So many seconds between a signature at the station and its line before it is asked. Common practice, no source: the
/// program signs and keeps in one go, with time to type a passphrase.
const KEPT: i64 = 10 * 60;
/// So many answers within so many seconds before it is asked. Common practice, no source.
const AT_ONCE: (usize, i64) = (20, 60);
/// So soon after what it stands on an act is asked about that says that somebody looked again, seconds. Common practice, no
/// source: to walk to a gauge and read it.
const LOOKED: i64 = 60;
/// Days without a hold before it is asked.
const YEAR: i64 = 365;
fn ask(about: &'static str, ask: String, because: String, mut lines: Vec<At>) -> Question {
    let more = shortened(&mut lines);
    Question { about, ask, because, lines, more }
}

/// Every question that the lines give reason for.
pub fn of(
    input: &Input<'_>,
    permits: &[PermitFacts],
    people: &[PersonFacts],
    tally: &Tally,
) -> Vec<Question> {
    let mut out = Vec::new();
    out.extend(never_held(input));
    out.extend(read_wrong(input));
    out.extend(a_year(input));
    out.extend(late(input));
    out.extend(watches(input, permits, tally));
    out.extend(stopped_under(input, tally));
    out.extend(never_drilled(input, permits));
    out.extend(people.iter().flat_map(supervisor));
    out.extend(two_registers(input));
    out.extend(hanging(permits));
    out.extend(not_out(permits, tally));
    out.extend(permits.iter().flat_map(looked_for));
    out.extend(kept_late(input));
    let given = given(input);
    out.extend(permits.iter().filter_map(|p| at_once(given.get(p.number.as_str())?, p)));
    out.extend(longer_than_the_way_out(permits));
    out.extend(odd(input, tally));
    out.extend(clock_stood(tally));
    out.extend(tally.clocks.0.iter().map(|back| set_back(back, tally)));
    out.extend(by_another(permits, input));
    out.extend(soon(input, permits, tally));
    out.extend(permits.iter().filter_map(|p| still::of(p, tally)));
    out.extend(entered::of(input, permits, tally));
    out.extend(not_called(input, permits, tally));
    out.extend(permits.iter().filter_map(|p| went_on(p, tally)));
    // Of a long register it has the most, and the least that waits.
    out.extend(flagged(permits));
    out
}

/// Holds never met.
fn never_held(input: &Input<'_>) -> Option<Question> {
    let asked = &input.replayed.asked;
    let never: Vec<_> = asked.iter().filter(|(_, a)| a.gated && a.held == 0 && a.answers >= OFTEN).collect();
    let most = never.iter().max_by_key(|(_, a)| a.answers)?;
    let answered = |l: &crate::record::line::Line| {
        l.kind.name == "answer" && l.data.text("step") == Some(most.0.1.as_str())
    };
    let all: Vec<At> = numbered(&input.verified.lines)
        .filter(|(_, l)| answered(l))
        .map(|(at, l)| At::new(at, &l.time, &l.zone))
        .collect();
    let names = names::few(never.iter().map(|((_, step), a)| format!("{step} ({})", a.answers)));
    Some(ask(
        "never_held",
        say_n!(
            never.len(),
            "{n} step was answered {often} times or more and never held: is the gate wide enough to mean nothing, or \
             is nobody looking?",
            "{n} steps were answered {often} times or more and never held: is the gate wide enough to mean nothing, \
             or is nobody looking?",
            often = OFTEN
        ),
        say!(
            "most often {step}: {answers} answers; {names}",
            step = most.0.1,
            answers = most.1.answers,
            names
        ),
        all.first().into_iter().chain(all.last()).cloned().collect(),
    ))
}

/// How often an answer was said to be read wrong.
fn read_wrong(input: &Input<'_>) -> Option<Question> {
    let lines: Vec<At> = numbered(&input.verified.lines)
        .filter(|(_, l)| l.kind.name == "answer" && l.data.text("again") == Some("read_wrong"))
        .map(|(at, l)| At::new(at, &l.time, &l.zone))
        .collect();
    let answers: u64 = input.replayed.asked.values().map(|a| a.answers).sum();
    let held = input.replayed.holds.len();
    let cleared = input.replayed.holds.iter().filter_map(|h| h.cleared.as_ref());
    let by_reading = cleared.filter(|c| c.how == "read_wrong").count();
    (!lines.is_empty()).then(|| {
        ask(
            "read_wrong",
            say_n!(
                lines.len(),
                "{n} answer was said to be read wrong, {after} of them after a hold: what was read the second time, \
                 and by whom?",
                "{n} answers were said to be read wrong, {after} of them after a hold: what was read the second time, \
                 and by whom?",
                after = by_reading
            ),
            say!("of {answers} answers, {held} of which held", answers, held),
            lines,
        )
    })
}

/// A year without a hold.
fn a_year(input: &Input<'_>) -> Option<Question> {
    let lines = &input.verified.lines;
    let (first, last) = (lines.first()?, lines.last()?);
    let mut at: Vec<i64> = vec![seconds(&first.time)];
    at.extend(input.replayed.holds.iter().map(|h| seconds(&h.time)));
    at.push(seconds(&last.time));
    at.sort_unstable();
    let longest = at.windows(2).max_by_key(|w| w.last().zip(w.first()).map_or(0, |(b, a)| b - a))?;
    let (from, to) = (*longest.first()?, *longest.last()?);
    let days = (to - from) / 86_400;
    (days >= YEAR).then(|| {
        let show = |s: i64| for_people(&crate::time::utc(s), &last.zone);
        ask(
            "a_year",
            say!("{days} days without a single hold: did nothing ever need mending?", days),
            say!("from {from} to {to}", from = show(from), to = show(to)),
            around(input, from, to),
        )
    })
}

/// The lines at a stretch's ends.
fn around(input: &Input<'_>, from: i64, to: i64) -> Vec<At> {
    let at = |second: i64| {
        let here = numbered(&input.verified.lines).find(|(_, l)| seconds(&l.time) == second);
        here.map(|(place, l)| At::new(place, &l.time, &l.zone))
    };
    [at(from), at(to)].into_iter().flatten().collect()
}

/// Late entries.
fn late(input: &Input<'_>) -> Option<Question> {
    let mut by: BTreeMap<&str, u64> = BTreeMap::new();
    let mut longest = 0;
    let mut lines = Vec::new();
    for (place, l) in numbered(&input.verified.lines) {
        let Some(told) = l.data.text("at") else { continue };
        let late = seconds(&l.time) - seconds(told);
        if late > LATE_AFTER {
            longest = longest.max(late);
            *by.entry(l.kind.name).or_default() += 1;
            lines.push(At::new(place, &l.time, &l.zone));
        }
    }
    let kinds: Vec<String> = by.iter().map(|(kind, n)| format!("{kind} {n}")).collect();
    (!lines.is_empty()).then(|| {
        ask(
            "late",
            say_n!(
                lines.len(),
                "{n} line was entered more than 5 min after it happened, the latest {minutes} min: who told it, and \
                 what stood on paper meanwhile?",
                "{n} lines were entered more than 5 min after it happened, the latest {minutes} min: who told it, and \
                 what stood on paper meanwhile?",
                minutes = longest / 60
            ),
            kinds.join(", "),
            lines,
        )
    })
}

/// Seconds of a stretch in which at least one of the spells lasted.
fn overlapped(spells: &[(i64, i64)], from: i64, to: i64) -> i64 {
    let mut these: Vec<(i64, i64)> =
        spells.iter().map(|(a, b)| (*a.max(&from), *b.min(&to))).filter(|(a, b)| a < b).collect();
    these.sort_unstable();
    let (mut sum, mut upto) = (0, i64::MIN);
    for (a, b) in these {
        sum += (b - a.max(upto)).max(0);
        upto = upto.max(b);
    }
    sum
}

/// Relief: who watched for how long while people were on air, and hand-overs that do not fit together.
fn watches(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Vec<Question> {
    let clocks = &tally.clocks;
    let end = numbered(&input.verified.lines).last();
    let end = end.map_or(0, |(place, l)| clocks.second(&At::new(place, &l.time, &l.zone)));
    let mut out = Vec::new();
    for p in permits {
        let on: Vec<(i64, i64)> = p
            .spells
            .iter()
            .map(|s| (clocks.second(&s.from), s.to.as_ref().map_or(end, |t| clocks.second(t))))
            .collect();
        for s in &p.stood {
            let (from, to) = (clocks.second(&s.from), s.to.as_ref().map_or(end, |t| clocks.second(t)));
            let stood = overlapped(&on, from, to);
            if stood <= WATCH {
                continue;
            }
            out.push(ask(
                "relief",
                say!(
                    "the {role} of {permit}, {name}, stood {hours} h {minutes} min with people on air and no relief in the \
                     record, pauses with nobody on air left out: who stood in meanwhile?",
                    role = recorded(s.role),
                    permit = p.number,
                    name = if s.name.is_empty() { &s.person } else { &s.name },
                    hours = stood / 3600,
                    minutes = stood % 3600 / 60
                ),
                say!("longer than {hours} h, common practice, no source", hours = WATCH / 3600),
                p.spells.first().map(|s| s.from.clone()).into_iter().chain([s.from.clone()]).chain(s.to.clone()).collect(),
            ));
        }
    }
    out
}

/// A set that stopped with people on its air, and not by an order: what stopped it.
fn stopped_under(input: &Input<'_>, tally: &Tally) -> Vec<Question> {
    let mut out = Vec::new();
    for (place, l) in numbered(&input.verified.lines) {
        let set = l.data.text("set").unwrap_or_default();
        if l.kind.name != "stopped" || l.data.has("target") {
            continue;
        }
        let at = At::new(place, &l.time, &l.zone);
        let over = |s: &&Spell| {
            s.set == set
                && s.from.place() < at.place()
                && s.to.as_ref().is_none_or(|t| t.place() > at.place())
        };
        let on = tally.spells.iter().filter(over).count();
        if on == 0 {
            continue;
        }
        out.push(ask(
            "stopped_under",
            say_n!(
                on,
                "{set} stopped with {n} on its air: what stopped it, and what did they breathe until they were out?",
                "{set} stopped with {n} on its air: what stopped it, and what did they breathe until they were out?",
                set
            ),
            l.data.texts("breach").into_iter().map(super::stored).collect::<Vec<_>>().join("; "),
            vec![at],
        ));
    }
    out
}

/// The way out was never drilled at a place where people worked.
fn never_drilled(input: &Input<'_>, permits: &[PermitFacts]) -> Option<Question> {
    let drilled: BTreeSet<&str> = input
        .replayed
        .state
        .sets
        .values()
        .flat_map(|s| &s.drills)
        .filter(|d| d.seconds().is_some() && !d.out.is_empty())
        .map(|d| d.place.as_str())
        .collect();
    let never: Vec<&PermitFacts> =
        permits.iter().filter(|p| p.issued.is_some() && !drilled.contains(p.place.as_str())).collect();
    let places: BTreeSet<&str> = never.iter().map(|p| p.place.as_str()).collect();
    (!places.is_empty()).then(|| {
        ask(
            "never_drilled",
            say!(
                "no drill with people inside was ever timed at {places}: how is it known that the way out is as short \
                 as the job says?", places = places.iter().copied().collect::<Vec<_>>().join(", ")),
            say_n!(never.len(), "{n} permit was issued there", "{n} permits were issued there"),
            never.iter().filter_map(|p| p.issued.clone()).collect(),
        )
    })
}

/// Supervisors who never narrowed, refused or looked.
fn supervisor(p: &PersonFacts) -> Vec<Question> {
    if p.issued < ISSUED {
        return Vec::new();
    }
    let name = if p.name.is_empty() { &p.id } else { &p.name };
    let mut never = Vec::new();
    never.extend((p.narrowed == 0).then(|| say!("never narrowed one")));
    never.extend((p.refused == 0).then(|| say!("never refused one")));
    never.extend((p.looked == 0).then(|| say!("never read a gauge again")));
    let signed = p.signed.iter().filter(|s| s.kind == "countersign");
    let lines = signed.flat_map(|s| [s.first.clone(), s.last.clone()]).collect();
    if never.is_empty() {
        return Vec::new();
    }
    vec![ask(
        "supervisor",
        say!(
            "{name} issued {permits} permits and {never}: what is looked at?",
            name,
            permits = p.issued,
            never = never.join(", ")
        ),
        say!(
            "refused {refused}, narrowed {narrowed}, read again {looked}",
            refused = p.refused,
            narrowed = p.narrowed,
            looked = p.looked
        ),
        lines,
    )]
}

/// Acts signed at the station whose line is of another hour: there one is signed and kept in one go.
fn kept_late(input: &Input<'_>) -> Option<Question> {
    let mut longest = (0, String::new());
    let mut lines = Vec::new();
    for (place, l) in numbered(&input.verified.lines) {
        let Some(act) = l.act.as_ref().filter(|_| l.data.text("where") == Some("station")) else { continue };
        let apart = (seconds(&l.time) - seconds(&act.time)).abs();
        if apart <= KEPT {
            continue;
        }
        if apart > longest.0 {
            let (kind, signed, kept) =
                (l.kind.name, for_people(&act.time, &l.zone), for_people(&l.time, &l.zone));
            longest = (
                apart,
                say!("{kind} {line}: signed {signed}, kept {kept}", kind, line = place, signed, kept),
            );
        }
        lines.push(At::new(place, &l.time, &l.zone));
    }
    (!lines.is_empty()).then(|| {
        ask(
            "kept_late",
            say_n!(
                lines.len(),
                "{n} act was signed at the station and stands in the register at another time, farthest {minutes} min \
                 apart: who held it back, or which clock was wrong?",
                "{n} acts were signed at the station and stand in the register at another time, farthest {minutes} min \
                 apart: who held them back, or which clock was wrong?",
                minutes = longest.0 / 60
            ),
            longest.1,
            lines,
        )
    })
}

/// What a supervisor should have looked at, of every permit in one.
fn flagged(permits: &[PermitFacts]) -> Option<Question> {
    let of: Vec<&PermitFacts> = permits.iter().filter(|p| !p.flags.is_empty()).collect();
    // A carried answer stands on several permits, and is one.
    let n = of.iter().flat_map(|p| &p.flags).map(|f| f.1.place()).collect::<BTreeSet<_>>().len();
    // Most first: a year has hundreds.
    let mut most = of.clone();
    most.sort_by_key(|p| std::cmp::Reverse(p.flags.len()));
    (n > 0).then(|| {
        ask(
            "flags",
            say_n!(
                n,
                "{n} answer stands out (too quick, late, read wrong, or the same again): did whoever issued the permit ask \
                 about it? By permit: {permits}",
                "{n} answers stand out (too quick, late, read wrong, or the same again): did whoever issued each permit ask \
                 about them? By permit: {permits}",
                permits = names::few(most.iter().map(|p| format!("{} ({})", p.number, p.flags.len())))
            ),
            of.iter().flat_map(|p| &p.flags).take(3).map(|f| f.0.as_str()).collect::<Vec<_>>().join("; "),
            of.iter().flat_map(|p| &p.flags).map(|f| f.1.clone()).collect(),
        )
    })
}

/// Nobody called the roll after an alarm that found people inside.
fn not_called(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Option<Question> {
    let all = called::not_called(input, permits, tally);
    let further = all.iter().any(|a| called::went_further(permits, a));
    (!all.is_empty()).then(|| {
        ask(
            "not_called",
            if !further {
                say_n!(
                    all.len(),
                    "after {n} alarm with people inside no roll was called by the last line: who saw that everybody was out?",
                    "after {n} alarms with people inside no roll was called by the last line: who saw that everybody was out?"
                )
            } else {
                say_n!(
                all.len(),
                "after {n} alarm with people inside no roll was called before the permit went on: who saw that everybody was \
                 out?",
                "after {n} alarms with people inside no roll was called before the permit went on: who saw that everybody \
                 was out?"
                )
            },
            names::few(all.iter().map(|a| called::with_people(a))),
            all.iter().map(|a| a.at.clone()).collect(),
        )
    })
}

/// An alarm stood, nobody reinstated the permit, and somebody went on air.
fn went_on(p: &PermitFacts, tally: &Tally) -> Option<Question> {
    let all = called::went_on(p, tally);
    let lines = all.iter().flat_map(|(a, _, at)| [a.at.clone(), at.clone()]).collect();
    (!all.is_empty()).then(|| {
        ask(
            "alarm_stood",
            say!(
                "on {permit} an alarm stood when these went on air: {who}; who knew of it, and who let them go on?",
                permit = p.number,
                who = names::few(all.iter().map(|(_, who, _)| who.clone()))
            ),
            names::few(all.iter().map(|(a, ..)| say!("{alarm} (line {line})", alarm = a.kind(), line = a.at.line))),
            lines,
        )
    })
}

/// Answers by the permit that they were given on, for which somebody looked then: second, place, line.
type GivenOn<'a> = HashMap<&'a str, Vec<(i64, LineNo, &'a Line)>>;

fn given<'a>(input: &'a Input<'_>) -> GivenOn<'a> {
    let mut out = GivenOn::new();
    for (place, l) in numbered(&input.verified.lines) {
        let Some(permit) = l.permit.as_deref().filter(|_| l.kind.name == "answer") else { continue };
        // One that was told later, left out or left as it is was not looked at then.
        if ["at", "left_out", "deviation"].iter().all(|name| !l.data.has(name)) {
            out.entry(permit).or_default().push((seconds(&l.time), place, l));
        }
    }
    out
}

/// So many answers of a permit within so few seconds that nobody can have looked at each thing.
fn at_once(given: &[(i64, LineNo, &Line)], p: &PermitFacts) -> Option<Question> {
    let mut most: &[(i64, LineNo, &Line)] = &[];
    let mut from = 0;
    for to in 0..given.len() {
        while given.get(to).zip(given.get(from)).is_some_and(|(b, a)| b.0 - a.0 > AT_ONCE.1) {
            from += 1;
        }
        let these = given.get(from..=to).unwrap_or_default();
        if these.len() > most.len() {
            most = these;
        }
    }
    let took = most.last()?.0 - most.first()?.0;
    (most.len() >= AT_ONCE.0).then(|| {
        ask(
            "at_once",
            say!(
                "{answers} answers of {permit} were entered within {seconds} s: was each thing looked at, or was a list \
                 filled in?",
                answers = most.len(),
                permit = p.number,
                seconds = took
            ),
            say!(
                "{answers} or more within {seconds} s, common practice, no source",
                answers = AT_ONCE.0,
                seconds = AT_ONCE.1
            ),
            most.first()
                .into_iter()
                .chain(most.last())
                .map(|(_, place, l)| At::new(*place, &l.time, &l.zone))
                .collect(),
        )
    })
}

/// The way out took longer than the job says.
fn longer_than_the_way_out(permits: &[PermitFacts]) -> Vec<Question> {
    let mut out = Vec::new();
    for p in permits {
        let Some(way_out) = p.way_out else { continue };
        let over = |a: &&super::tally::Alarm| a.last_off().is_some_and(|s| s > way_out);
        let all: Vec<_> = p.alarms.iter().filter(over).collect();
        let Some(longest) = all.iter().filter_map(|a| a.last_off()).max() else { continue };
        out.push(ask(
            "way_out",
            say_n!(
                all.len(),
                "after {n} alarm on {permit} the last one in had the mask off {took} after it, and the way out of the job \
                 is {way_out}: is the way out in the job long enough for its leave-by pressure?",
                "after {n} alarms on {permit} the last one in had the mask off up to {took} after it, and the way out of \
                 the job is {way_out}: is the way out in the job long enough for its leave-by pressure?",
                permit = p.number,
                took = super::lasted(longest),
                way_out = super::lasted(way_out)
            ),
            because(&all),
            all.iter().map(|a| a.at.clone()).collect(),
        ));
    }
    out
}

/// What alarms were; and how long they took by the times told, where these are others.
fn because(alarms: &[&super::tally::Alarm]) -> String {
    let mut what = alarms.iter().map(|a| a.kind()).collect::<Vec<_>>().join(", ");
    if let Some(earlier) = super::tally::earlier(alarms.iter().copied()) {
        what = format!("{what}; {earlier}");
    }
    if alarms.iter().all(|a| a.told.is_none() && a.last_off_told() == a.last_off()) {
        return what;
    }
    let longest = alarms.iter().filter_map(|a| a.last_off_told()).max().unwrap_or_default();
    say!(
        "{what}; counted to when it was entered, and by the times told it took {took}: whoever told them later, how did \
         they know?",
        what,
        took = super::lasted(longest)
    )
}

/// A clock that was set back: what lies across is longer than it looks.
fn set_back(back: &Back, tally: &Tally) -> Question {
    let at = back.at.place();
    let over = |s: &&Spell| s.from.place() < at && s.to.as_ref().is_none_or(|t| t.place() > at);
    let on = tally.spells.iter().filter(over).count();
    ask(
        "clock",
        say!(
            "the clock was set back by {time}, with {on} on air: how long was it from the line before to this one?",
            time = super::lasted(back.by),
            on
        ),
        say!("every time across it is counted as if that were none: it was at least as long").into(),
        vec![back.at.clone()],
    )
}

/// Lines that take somebody from where they were not: the program keeps each, since it may have happened. Where a volume is
/// missing, what would explain it may have stood there.
fn odd(input: &Input<'_>, tally: &Tally) -> Option<Question> {
    let odd: Vec<_> = if input.replayed.state.missing { Vec::new() } else { tally.odd.iter().collect() };
    let words = |odd: Odd| match odd {
        Odd::OutNotOnAir => say!("out, and not on air"),
        Odd::OutNotIn => say!("out, and not in"),
        Odd::OffNotOnAir => say!("off air, and not on air"),
        Odd::OffWhileIn => say!("off air, and never out"),
        Odd::OffBeforeOn => say!("off air at a time before they went on, and on the tally still"),
    };
    let mut by: BTreeMap<Odd, BTreeSet<&str>> = BTreeMap::new();
    for (odd, person, _) in &odd {
        by.entry(*odd).or_default().insert(person);
    }
    let of = |(odd, who): (&Odd, &BTreeSet<&str>)| {
        let names = names::few(who.iter().map(|w| crate::text::safe_line(w).into_owned()));
        format!("{}: {names}", words(*odd))
    };
    (!odd.is_empty()).then(|| {
        ask(
            "odd",
            say_n!(
                odd.len(),
                "{n} line takes somebody from where they were not, by the lines before: which line was left out, and when \
                 was it?",
                "{n} lines take somebody from where they were not, by the lines before: which lines were left out, and \
                 when was it?"
            ),
            by.iter().map(of).collect::<Vec<_>>().join("; "),
            odd.iter().map(|(_, _, at)| at.clone()).collect(),
        )
    })
}

/// Lines of people at the second of the line before: a clock behind the last line gives them its time.
fn clock_stood(tally: &Tally) -> Option<Question> {
    let longest = tally.stood.iter().map(|(_, gap)| *gap).max()?;
    Some(ask(
        "clock_stood",
        say_n!(
            tally.stood.len(),
            "{n} line of people on air has the very second of the line before it: when was it written, and did the \
             laptop's clock stand behind?",
            "{n} lines of people on air have the very second of the line before them: when were they written, and did \
             the laptop's clock stand behind?"
        ),
        say!("the next second of the register comes up to {time} after them", time = super::lasted(longest)),
        tally.stood.iter().map(|(at, _)| at.clone()).collect(),
    ))
}

/// Handed back by another operator than the one who held it then. The program lets any operator do it: a holder may be
/// gone; but nobody handed it over to them.
fn by_another(permits: &[PermitFacts], input: &Input<'_>) -> Vec<Question> {
    let mut out = Vec::new();
    for p in permits {
        let Some(of) = input.replayed.state.permits.get(&p.number) else { continue };
        let Some(holder) = of.job.text("holder") else { continue };
        let signed = of.signed.iter().zip(&p.signed);
        for (by, s) in signed.filter(|(by, _)| by.kind == "hand_back" && by.stamp.by != holder) {
            let handed = |o: &&Signed| o.kind == "hand_over" && o.data.text("part") == Some("outgoing");
            let held = of.signed.iter().filter(handed).any(|o| o.stamp.by == by.stamp.by);
            let because = if held {
                say!("{name} had handed it over before", name = s.name)
            } else {
                say!("no line hands it over to {name}", name = s.name)
            };
            out.push(ask(
                "handed_back",
                say!(
                    "{permit} was handed back by {name}, and its holder was {holder}: who saw that the set was left as was \
                     signed, and where was the holder?",
                    permit = p.number,
                    name = s.name,
                    holder
                ),
                because,
                vec![s.at.clone()],
            ));
        }
    }
    out
}

/// Issued with gauges read again, or closed, within seconds of what it stands on: when was that looked at?
fn soon(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Vec<Question> {
    let mut out = Vec::new();
    for p in permits {
        let Some(of) = input.replayed.state.permits.get(&p.number) else { continue };
        let mut before: Option<(&str, At)> = None;
        for (by, s) in of.signed.iter().zip(&p.signed) {
            let stands = before.replace((by.kind, s.at.clone()));
            let on = match by.kind {
                "countersign" if by.data.has("seen") => "declare",
                "close" => "hand_back",
                _ => continue,
            };
            let Some((_, at)) = stands.filter(|(kind, _)| *kind == on) else { continue };
            let after = (tally.clocks.second(&s.at) - tally.clocks.second(&at)).max(0);
            if after >= LOOKED {
                continue;
            }
            let ask_of = if on == "declare" {
                say!(
                    "{permit} was issued by {name} {seconds} s after it was declared, with gauges said to be read again: how \
                     was that done in the time?",
                    permit = p.number,
                    name = s.name,
                    seconds = after
                )
            } else {
                say!(
                    "{permit} was closed by {name} {seconds} s after it was handed back: who looked at the set in the time?",
                    permit = p.number,
                    name = s.name,
                    seconds = after
                )
            };
            let because = say!(
                "sooner than {seconds} s, a limit of this program: common practice, no source",
                seconds = LOOKED
            );
            out.push(ask("signed_soon", ask_of, because, vec![at, s.at.clone()]));
        }
    }
    out
}

/// Two registers for one set, as this one tells it.
fn two_registers(input: &Input<'_>) -> Vec<Question> {
    let sets = input.replayed.state.sets.iter();
    sets.flat_map(|(set, s)| s.held_by.values().map(move |(station, stamp)| (set, station, stamp)))
        .map(|(set, station, stamp)| {
            ask(
                "two_registers",
                say!(
                    "station {station} holds the set {set} in its register too: whose tally counts its wearers?", station, set),
                say!("a witness line says that it had not released it").into(),
                vec![super::permits::at(stamp)],
            )
        })
        .collect()
}

/// Copies that no line says were taken down.
fn hanging(permits: &[PermitFacts]) -> Option<Question> {
    let all: Vec<&PermitFacts> = permits.iter().filter(|p| !p.hanging.is_empty()).collect();
    let copies: usize = all.iter().map(|p| p.hanging.len()).sum();
    let numbers = names::few(all.iter().map(|p| p.number.clone()));
    (copies > 0).then(|| {
        ask(
            "hanging",
            say_n!(
                copies,
                "{n} copy was printed before a change, and no line tells that it was taken down: does it hang still?",
                "{n} copies were printed before a change, and no line tells that it was taken down: does it hang \
                 still?"
            ),
            numbers,
            all.iter().map(|p| p.last.clone()).collect(),
        )
    })
}

/// Somebody was looked for, whether found or not: it is asked of each.
fn looked_for(p: &PermitFacts) -> Vec<Question> {
    let of = |s: &super::sought::Sought| {
        let (name, time) = (s.called(), &s.from.site);
        let words = match (s.how, &s.found) {
            (_, None) => say!(
                "{name} was looked for from {time} on, and no such line after it found them: where are they?",
                name,
                time
            ),
            ("missing", Some(_)) => say!(
                "{name} was missing at the roll call of {time}: where were they, on what air, and who found them?",
                name,
                time
            ),
            (_, Some(_)) => say!(
                "{name} was not seen outside at {time}: where were they, on what air, and who found them?",
                name,
                time
            ),
        };
        let lines = [s.last_at.as_ref(), Some(&s.from), s.found.as_ref()];
        ask(
            "looked_for",
            words,
            format!("{}: {}", p.number, s.words()),
            lines.into_iter().flatten().cloned().collect(),
        )
    };
    p.sought.iter().map(of).collect()
}

/// Somebody inside at an alarm was never reported out.
fn not_out(permits: &[PermitFacts], tally: &Tally) -> Option<Question> {
    let alarms = called::everywhere(permits, tally).into_iter();
    let left: Vec<_> = alarms.filter(|a| a.out.iter().any(|o| o.seconds.is_none())).collect();
    (!left.is_empty()).then(|| {
        ask(
            "not_out",
            say_n!(
                left.len(),
                "after {n} alarm somebody who was in was never reported out: when were they?",
                "after {n} alarms somebody who was in was never reported out: when were they?"
            ),
            left.iter()
                .flat_map(|a| {
                    a.out
                        .iter()
                        .filter(|o| o.seconds.is_none())
                        .map(|o| if o.name.is_empty() { o.person.clone() } else { o.name.clone() })
                })
                .collect::<Vec<_>>()
                .join(", "),
            left.iter().map(|a| a.at.clone()).collect(),
        )
    })
}
