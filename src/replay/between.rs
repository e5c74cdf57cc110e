//! Between one permit's end and the next one's beginning on a set: what changed that no line tells of.
//!
//! Always: only what two lines show to differ; that somebody forgot to enter a line accuses nobody. What is compared:
//! where the set stands and what feeds it, by the jobs; the hour meter, by the answers that read hours on it; the
//! reserve, by its readings; starts while it was said to run; and time in another register.
//! Not here: what a permit itself rests on (`decide`).

use super::{Class, Found, Why};
use crate::permit::decide::Known;
use crate::permit::state::Permit;
use crate::record::line::Line;
use crate::tongue::say;
use crate::units::Decimal;
use crate::view::LineNo;
use num_rational::BigRational;
use std::collections::BTreeMap;

/// The steps of the forms that ship which read the hour meter, and those which read the reserve at the end of a permit
/// and at the beginning. A site that calls them otherwise is not compared.
const HOUR_METER: &str = "hour_meter";
const LEFT: &str = "reserve_left";
const FOUND: &str = "reserve_pressure";
/// So much a needle may stand higher the next day with nothing filled: warmth of 30 K on a cylinder of 300 bar at 15 °C
/// (300 × 30 / 288, the pressure of a gas that is kept in its volume).
const WARMTH: i64 = 31;

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
        }
        ("moved", _) => left.told("place", line, here),
        ("plugged", _) => left.told("supply_point", line, here),
        ("filled", _) => left.filled = true,
        // Nobody here knows what was done to it elsewhere.
        ("taken", _) => *left = Left::default(),
        ("answer", Some(p)) => out.extend(left.answered(p, line, here)),
        (_, _) => {}
    }
    out
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
