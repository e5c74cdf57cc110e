//! The test of the air that a permit was issued on: the one that its own answers name, and whether it counted still.
//!
//! Always: taken for the permit, it is the day among its answers; carried, it is the line of the set that counted then; what
//! ends a test (a move, work on the air side, foul air, time in another register) is looked for between it and the issue.
//! Where no answer says which, it is the last line before the issue. Not here: gates (`replay`).

use super::permits::{Tested, at, due};
use super::{At, Input};
use crate::audit::numbered;
use crate::permit::bench::air_test;
use crate::permit::decide::Known;
use crate::permit::state::{Answer, FOUL, Happened, Permit, Stamp};
use crate::record::line::Line;
use crate::site::Values;
use crate::tongue::say;
use jiff::civil::Date;

/// The steps of the forms that ship: which test it rests on, and the day of one that was taken for it.
const BASIS: &str = "air_test_basis";
const DAY: &str = "air_test_date";

/// What a permit was issued on.
pub fn of(
    input: &Input<'_>,
    known: &Known<'_>,
    p: &Permit,
    issued: &Stamp,
    site: Option<&Values>,
) -> Option<Tested> {
    let set = known.state.sets.get(&p.set.id);
    let site = site?;
    let then = crate::time::local(&issued.time, &issued.zone).date();
    let made = |day: Date, at: At, against, ended| {
        let due = due(day, site)?;
        let left = then.until(due).ok()?.get_days();
        let (day, due) = (day.to_string(), due.to_string());
        Some(Tested { day, due, days_left: i64::from(left), at, against, ended })
    };
    if answered(p, BASIS, issued).is_some_and(|a| a.value.as_deref() == Some("today")) {
        let a = answered(p, DAY, issued)?;
        let day = a.value.as_deref()?.parse().ok()?;
        let since = |at: &At, _: &Line| at.place() > (a.stamp.line.volume, a.stamp.line.line);
        return made(day, at(&a.stamp), Vec::new(), ended(input, p, issued, &since));
    }
    let test: &Happened = set?.air_test(Some(issued.seq))?;
    let still = set.is_some_and(|s| s.stood_still.contains(&test.stamp.hash));
    let still = still.then(|| (say!("the set stood still when it was taken").to_owned(), at(&test.stamp)));
    let since = |at: &At, l: &Line| {
        air_test::since(test, at.place() > (test.stamp.line.volume, test.stamp.line.line), &l.time, &l.zone)
    };
    let ended = ended(input, p, issued, &since).or(still);
    made(test.day(), at(&test.stamp), air_test::against(test, site), ended)
}

/// The last answer to a step before the issue, given on the permit or carried to it.
fn answered<'p>(p: &'p Permit, step: &str, issued: &Stamp) -> Option<&'p Answer> {
    let seq = |a: &Answer| a.carry.as_ref().map_or(a.stamp.seq, |c| c.stamp.seq);
    let of = |a: &&Answer| a.step == step && a.form == p.form.hash && seq(a) < issued.seq;
    p.answers.iter().filter(of).max_by_key(|a| seq(a))
}

/// The first line before the issue that ends a test of the set.
fn ended(
    input: &Input<'_>,
    p: &Permit,
    issued: &Stamp,
    since: &dyn Fn(&At, &Line) -> bool,
) -> Option<(String, At)> {
    let own = |l: &Line| match l.permit.as_deref() {
        Some(number) => input.replayed.state.permits.get(number).is_some_and(|o| o.set.id == p.set.id),
        None => l.data.text("set") == Some(&*p.set.id),
    };
    let what = |l: &Line| l.data.text("what").unwrap_or_default().to_owned();
    let why = |l: &Line| match l.kind.name {
        "moved" => Some(say!("the set was moved")),
        "taken" => Some(say!("the set was in another register")),
        "serviced" if matches!(&*what(l), "filter" | "oil" | "air_side") => {
            Some(say!("a filter, the oil or the air side was worked on"))
        }
        "event" if FOUL.contains(&&*what(l)) => Some(say!("an alarm spoke against the air")),
        _ => None,
    };
    let before = numbered(&input.verified.lines).take_while(|(place, _)| *place < issued.line);
    let kinds = before.filter(|(_, l)| matches!(l.kind.name, "moved" | "taken" | "serviced" | "event"));
    let mut all = kinds.filter(|(_, l)| own(l)).filter_map(|(place, l)| {
        let at = At::new(place, &l.time, &l.zone);
        let why = why(l).filter(|_| since(&at, l))?;
        Some((why.to_owned(), at))
    });
    all.next()
}
