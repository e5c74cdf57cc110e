//! What was overdue by the lines as they were entered, and was told in time: nothing proves when it was, and nobody is
//! accused flatly.
//!
//! Always: a told time makes nothing better than not known; both times are said. Not here: what is overdue (`permit::due`).

use crate::permit::decide::{Known, crew};
use crate::permit::due::Due;
use crate::permit::state::Permit;
use crate::record::line::Line;
use crate::time::{for_people, seconds, utc};
use crate::tongue::say;
use crate::view::recorded;
use std::collections::BTreeSet;

/// So many lines after it are looked through for what is told late.
const FOLLOWS: usize = 400;

/// What a line is told for, where that is earlier than it was entered.
fn told(line: &Line) -> Option<i64> {
    let told = seconds(line.data.text("at")?);
    (told < seconds(&line.time)).then_some(told)
}

/// How late it was entered, in whole minutes, begun ones counted.
fn minutes(line: &Line, told: i64) -> i64 {
    (seconds(&line.time) - told + 59) / 60
}

/// In words, that a gauge was not read in time by the lines as they were entered, where later ones tell that it was, or that
/// nobody was on this air any more; `None` where nothing tells so.
pub fn unread(known: &Known<'_>, permit: &Permit, due: &Due, line: &Line, rest: &[Line]) -> Option<String> {
    let here = || [line].into_iter().chain(rest.iter().take(FOLLOWS));
    let of_set = |l: &Line| {
        let of = l.permit.as_ref().and_then(|n| known.state.permits.get(n));
        of.is_some_and(|p| p.set.id == permit.set.id)
    };
    let show = |second: i64| for_people(&utc(second), &line.zone);
    let (what, by) = (recorded(due.what), due.holds);
    let at = show(due.due);
    let read = |l: &&Line| l.kind.name == "reading" && l.data.text("what") == Some(due.what) && of_set(l);
    let in_time = |l: &Line| told(l).filter(|t| due.since < *t && *t <= by);
    if let Some((l, told)) = here().filter(read).find_map(|l| Some((l, in_time(l)?))) {
        return Some(say!(
            "{what} was due at {at}, with people on air on {permit}; line {line} tells that it was read at {told}, entered \
             {minutes} min late: only the entered time is proved",
            what,
            at,
            permit = permit.number,
            line = known.state.at(l),
            told = show(told),
            minutes = minutes(l, told)
        ));
    }
    let of_permit = known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(permit.number.as_str()));
    let mut on: BTreeSet<&str> = of_permit.map(|p| p.person.as_str()).collect();
    let names: Vec<String> = on.iter().map(|id| crew::who(known, id)).collect();
    let mut last: Option<(i64, &Line)> = None;
    for l in here().filter(|l| l.kind.name == "off_air") {
        let person = l.data.text("person").unwrap_or_default();
        if let Some(told) = told(l).filter(|t| *t <= by)
            && on.remove(person)
        {
            last = last.filter(|(before, _)| *before >= told).or(Some((told, l)));
        }
    }
    let (told, l) = last.filter(|_| on.is_empty())?;
    Some(say!(
        "{what} was due at {at}; of {names} it is told that they were off air by {told}, entered up to {minutes} min late \
         (line {line}): only the entered time is proved",
        what,
        at,
        names = names.join(", "),
        told = show(told),
        minutes = minutes(l, told),
        line = known.state.at(l)
    ))
}

/// How long somebody was on air, in words, where the line that ends it is told for an earlier time.
pub fn spell(line: &Line, name: &str, (on, most): (i64, i64)) -> Option<String> {
    let told = told(line)?;
    let by_told = (on - (seconds(&line.time) - told)).max(0);
    Some(say!(
        "{name} was on air for {minutes} min as it was entered, the longest spell is {most} min; by the time told it was \
         {told} min: only the entered time is proved",
        name,
        minutes = (on + 59) / 60,
        most = most / 60,
        told = (by_told + 59) / 60
    ))
}
