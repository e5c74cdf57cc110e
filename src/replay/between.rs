//! Between one permit's end and the next one's beginning on a set: what changed that no line tells of.
//!
//! Always: only what two lines show to differ; that somebody forgot to enter a line accuses nobody. What is compared:
//! where the set stands and what feeds it, by the jobs; the hour meter, by the answers that read hours on it; the
//! reserve, by its readings; starts while it was said to run; and time in another register. And what a told time moves back
//! under people who were on its air by the lines: its stop, the end of somebody's time on it.
//! Not here: what a permit itself rests on (`decide`).

use super::{Class, Found, Why};
use crate::permit::decide::{Known, crew};
use crate::permit::state::Permit;
use crate::record::line::Line;
use crate::time::{for_people, seconds, utc};
use crate::tongue::say;
use crate::units::{Decimal, Quantity, Rounding, unit};
use crate::view::LineNo;
use num_rational::BigRational;
use std::collections::{BTreeMap, BTreeSet};

/// The steps of the forms that ship which read the hour meter, and those which read the reserve at the end of a permit
/// and at the beginning. A site that calls them otherwise is not compared.
const HOUR_METER: &str = "hour_meter";
const LEFT: &str = "reserve_left";
const FOUND: &str = "reserve_pressure";
/// So much a needle may stand higher the next day with nothing filled: warmth of 30 K on a cylinder of 300 bar at 15 °C
/// (300 × 30 / 288, the pressure of a gas that is kept in its volume).
const WARMTH: i64 = 31;
/// The steps that read the reserve before work, and after the change-over was proved.
const RESERVE: [&str; 2] = [FOUND, "reserve_again"];
/// Readings of one cylinder within so many seconds are of about one temperature. Common practice, no source.
const ONE_TIME: i64 = 2 * 3600;

/// How a set was left.
#[derive(Clone, Debug, Default)]
pub struct Left {
    /// Where it stands and what feeds it, as the last line that says so: a permit that was issued, or a move.
    stands: BTreeMap<&'static str, (String, String, LineNo)>,
    /// The latest reading of the hour meter, hours, and its line.
    hours: Option<(BigRational, String, LineNo)>,
    /// By cylinder: the pressure left, and its line.
    reserve: BTreeMap<String, (BigRational, String, LineNo)>,
    /// Since these were read: it was started, it was filled.
    started: bool,
    filled: bool,
    /// Who came off its air since it was last started.
    off: Vec<Spell>,
    /// Alarms and calls since somebody is on its air: when, as told, and the line.
    alarms: Vec<(i64, LineNo)>,
    /// By cylinder: the latest reading of it on a permit, watched or answered.
    needle: BTreeMap<String, Needle>,
    /// The latest fill, and the cylinders read since.
    fill: Option<(i64, LineNo)>,
    read_since: BTreeSet<String>,
    /// By person: the latest line that tells that they are out, still on air, and for when.
    out: BTreeMap<String, (i64, LineNo)>,
}

/// What a reserve gauge read.
#[derive(Clone, Debug)]
struct Needle {
    value: Quantity,
    shown: String,
    line: LineNo,
    /// UTC second.
    at: i64,
}

/// A time on air, as it was entered: UTC seconds.
#[derive(Clone, Debug)]
struct Spell {
    person: String,
    on: i64,
    off: i64,
}

fn gap(rule: &'static str, why: String) -> Found {
    Found::new(Class::Gap, rule, vec![Why::As(why)])
}

/// Takes a line in and tells what it shows to have happened untold.
pub(super) fn after(all: &mut BTreeMap<String, Left>, known: &Known<'_>, line: &Line) -> Vec<Found> {
    let permit = line.permit.as_ref().and_then(|n| known.state.permits.get(n));
    let Some(set) = permit.map(|p| p.set.id.as_str()).or(line.data.text("set")) else { return Vec::new() };
    let here = known.state.at(line);
    let left = all.entry(set.to_owned()).or_default();
    let mut out = Vec::new();
    match (line.kind.name, permit) {
        ("countersign", Some(p)) => out.extend(left.issued(p, here)),
        ("started", _) => {
            let untold = known.state.sets.get(set).and_then(|s| s.stop_untold.as_ref());
            if untold.is_some_and(|u| u.hash == line.hash) {
                out.push(gap(
                    "untold_stop",
                    say!("{set} starts, and by the lines before it never stopped", set),
                ));
            }
            if let (Some(h), Some(hours)) = (line.data.text("hours"), left.hours.as_ref()) {
                let (number, _) = h.split_once(' ').unwrap_or((h, ""));
                out.extend(later_hours(hours, number, left.started));
            }
            left.started = true;
            left.off.clear();
        }
        ("stopped", _) => out.extend(left.stopped(known, set, line)),
        ("event" | "call_out", _) if known.state.tally_of_set(set) > 0 => {
            left.alarms.push((told_for(line).min(seconds(&line.time)), here));
        }
        ("out" | "off_air", _) => out.extend(left.went(known, set, line, here)),
        ("moved", _) => left.told("place", line, here),
        ("plugged", _) => left.told("supply_point", line, here),
        ("filled", _) => {
            left.filled = true;
            left.fill = Some((told_for(line), here));
            left.read_since.clear();
        }
        ("reading", Some(p)) if line.data.text("what") == Some("reserve") => {
            out.extend(left.needle(known, p, line, here));
        }
        // Nobody here knows what was done to it elsewhere.
        ("taken", _) => *left = Left::default(),
        ("answer", Some(p)) => {
            if line.data.text("step").is_some_and(|s| RESERVE.contains(&s)) {
                out.extend(left.needle(known, p, line, here));
            }
            out.extend(left.answered(p, line, here));
        }
        (_, _) => {}
    }
    out
}

/// When it happened, as told.
fn told_for(line: &Line) -> i64 {
    seconds(line.data.text("at").unwrap_or(&line.time))
}

fn later_hours(
    (before, shown, at): &(BigRational, String, LineNo),
    now: &str,
    started: bool,
) -> Option<Found> {
    let read = Decimal::kept(now).ok()?.to_exact();
    if read < *before {
        return Some(gap(
            "hours_back",
            say!(
                "the hour meter reads {now} h, and read {before} h before (line {line})",
                now,
                before = shown,
                line = at
            ),
        ));
    }
    (read > *before && !started).then(|| {
        gap(
            "untold_hours",
            say!(
                "the hour meter reads {now} h, and read {before} h at line {line}: it ran between, and no start is \
                 told of", now, before = shown, line = at),
        )
    })
}

impl Left {
    /// The first reading of a cylinder after a fill that does not go with it: less than before it, or more than the cylinder
    /// is ever filled to.
    fn needle(&mut self, known: &Known<'_>, permit: &Permit, line: &Line, here: LineNo) -> Option<Found> {
        let data = &line.data;
        let item = data.text("item").unwrap_or_default().to_owned();
        let u = data.text("unit").and_then(unit);
        let value = crate::permit::bench::quantity(data.text("value")?, u)?;
        let shown = value.words(u, Rounding::Nearest);
        let now = Needle { value, shown, line: here, at: told_for(line) };
        let before = self.needle.insert(item.clone(), now.clone());
        let (filled, fill) = self.fill.filter(|_| self.read_since.insert(item.clone()))?;
        let texts = known.texts_of(permit).ok()?;
        let cylinders = texts.set.items("cylinders").iter().filter(|c| item.is_empty() || c.id() == item);
        let most = cylinders.filter_map(|c| c.quantity("fill_pressure")).max_by(|a, b| a.value.cmp(&b.value));
        let fifth = BigRational::new(6.into(), 5.into());
        let tenth = BigRational::new(9.into(), 10.into());
        // What 300 bar at 15 °C reads at 50 °C is a fifth more.
        let over = most.filter(|m| m.dimension == now.value.dimension && now.value.value > &m.value * fifth);
        if let Some(most) = over {
            return Some(gap(
                "overfilled",
                say!(
                    "cylinder {item} reads {value} after the fill of line {fill}, and is filled to {most}: read wrong, or \
                     overfilled",
                    item,
                    value = now.shown,
                    fill,
                    most = most.words(u, Rounding::Nearest)
                ),
            ));
        }
        let before = before.filter(|b| b.at <= filled && now.at - b.at <= ONE_TIME)?;
        let less =
            before.value.dimension == now.value.dimension && now.value.value < &before.value.value * tenth;
        less.then(|| {
            gap(
                "filled_less",
                say!(
                    "cylinder {item} reads {value} after the fill of line {fill}, and read {before} before it (line \
                     {line}): what was filled?",
                    item,
                    value = now.shown,
                    fill,
                    before = before.shown,
                    line = before.line
                ),
            )
        })
    }

    /// A stop that is told for a time at which people were on its air, by the lines as they were entered.
    fn stopped(&self, known: &Known<'_>, set: &str, line: &Line) -> Option<Found> {
        let (told, entered) = (told_for(line), seconds(&line.time));
        let were = self.off.iter().filter(|s| s.on <= told && told < s.off).map(|s| &s.person);
        let still = known.state.on_air.iter().filter(|p| p.set == set && seconds(&p.since.time) <= told);
        let mut names: Vec<String> =
            were.chain(still.map(|p| &p.person)).map(|id| crew::who(known, id)).collect();
        names.sort();
        names.dedup();
        (told < entered && !names.is_empty()).then(|| {
            let show = |second: i64| for_people(&utc(second), &line.zone);
            gap(
                "told_stop",
                say!(
                    "{set} is told to have stopped at {told}, entered at {entered}; by the lines as they were entered \
                     these were on its air then: {names}",
                    set,
                    told = show(told),
                    entered = show(entered),
                    names = names.join(", ")
                ),
            )
        })
    }

    /// Somebody is out or off air: told for a time before an alarm that found them in, or before they were said to be out
    /// and on air, a line has made it better afterwards.
    fn went(&mut self, known: &Known<'_>, set: &str, line: &Line, here: LineNo) -> Option<Found> {
        let person = line.data.text("person").unwrap_or_default();
        let (told, entered) = (told_for(line), seconds(&line.time));
        let on = known.state.on_air.iter().find(|p| p.set == set && p.person == person);
        let ended = known.state.spells.get(person).and_then(|all| all.last());
        let ended = ended.filter(|(_, to)| line.kind.name == "off_air" && on.is_none() && *to == line.time);
        let since = on.map(|p| seconds(&p.since.time)).or(ended.map(|(from, _)| seconds(from)));
        let alarm = self
            .alarms
            .iter()
            .find(|(at, _)| told < *at && *at <= entered && since.is_some_and(|s| s <= *at));
        let out = self.out.get(person).filter(|(at, _)| ended.is_some() && told < *at);
        let later = alarm.or(out).copied().filter(|_| line.data.has("at"));
        if line.kind.name == "out" {
            self.out.insert(person.to_owned(), (told, here));
        } else if let (Some((from, _)), None) = (ended, on) {
            self.off.push(Spell { person: person.to_owned(), on: seconds(from), off: entered });
            self.out.remove(person);
        }
        if known.state.tally_of_set(set) == 0 {
            self.alarms.clear();
        }
        let (at, before) = later?;
        let show = |second: i64| for_people(&utc(second), &line.zone);
        Some(gap(
            "told_back",
            say!(
                "{name} is told to have been out or off air at {told}, entered at {entered}; by line {line} they were on \
                 this air at {time}",
                name = crew::who(known, person),
                told = show(told),
                entered = show(entered),
                line = before,
                time = show(at)
            ),
        ))
    }

    fn told(&mut self, field: &'static str, line: &Line, here: LineNo) {
        if let Some(to) = line.data.text(field) {
            self.stands.insert(field, (to.to_owned(), say!("a line").to_owned(), here));
        }
    }

    fn issued(&mut self, permit: &Permit, here: LineNo) -> Vec<Found> {
        let mut out = Vec::new();
        for (field, rule) in [("place", "untold_move"), ("supply_point", "untold_plug")] {
            let now = permit.job.text(field).unwrap_or_default();
            if let Some((then, by, at)) = self.stands.get(field).filter(|(then, _, _)| then != now) {
                let number = &permit.number;
                let why = if field == "place" {
                    say!(
                        "by {by} (line {line}) the set stood at {then}, on {permit} it is {now}; no line tells that \
                         this changed",
                        by,
                        line = at,
                        then,
                        permit = number,
                        now
                    )
                } else {
                    say!(
                        "by {by} (line {line}) the set was fed from {then}, on {permit} it is {now}; no line tells \
                         that this changed",
                        by,
                        line = at,
                        then,
                        permit = number,
                        now
                    )
                };
                out.push(gap(rule, why));
            }
            self.stands.insert(field, (now.to_owned(), permit.number.clone(), here));
        }
        out
    }

    fn answered(&mut self, permit: &Permit, line: &Line, here: LineNo) -> Option<Found> {
        let data = &line.data;
        let (step, value) = (data.text("step")?, data.text("value")?);
        let number = Decimal::kept(value).ok();
        let item = data.text("item").unwrap_or_default();
        match step {
            HOUR_METER => {
                let found = self.hours.as_ref().and_then(|before| later_hours(before, value, self.started));
                self.hours = number.map(|n| (n.to_exact(), value.to_owned(), here));
                // What ran up to here is told of; the next start is to be told as well.
                self.started = false;
                found
            }
            LEFT => {
                self.reserve.insert(item.to_owned(), (number?.to_exact(), value.to_owned(), here));
                self.filled = false;
                None
            }
            FOUND => {
                let (left, shown, at) = self.reserve.get(item)?;
                let most = left + BigRational::from_integer(WARMTH.into());
                let untold = number?.to_exact() > most && !self.filled;
                let words = || {
                    say!(
                        "cylinder {item} reads {value} on {permit}, and was left at {left} (line {line}): more than \
                         warmth makes of it, and no fill is told of",
                        item,
                        value,
                        permit = permit.number,
                        left = shown,
                        line = at
                    )
                };
                untold.then(|| gap("untold_fill", words()))
            }
            _ => None,
        }
    }
}
