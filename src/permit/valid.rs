//! Valid to: the earliest of everything that ends a permit, and which that is.
//!
//! Job's end, entry permits (or the later ends that were given), the end of the shift, the site's most hours, what ends
//! of the answers carried, the air test, the holder's competence, and what the supervisor narrowed. Always: a limit that cannot be worked out ends the permit at once.

use super::bench::Texts;
use super::ends;
use super::state::{Permit, State};
use crate::site::Held;
use crate::time::{Moment, seconds, utc};
use crate::tongue::say;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use num_traits::ToPrimitive;

/// What sets a limit, where that decides what can be done about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// The job says so; a job that says otherwise ends it elsewhere.
    Job,
    /// The shift ends then; the next one may take it over.
    Shift,
    /// Anything else.
    Other,
}

/// A limit: when, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// UTC second.
    pub second: i64,
    /// What ends then, in words.
    pub because: String,
    /// What sets it.
    pub of: Of,
}

impl Limit {
    /// UTC text.
    pub fn utc(&self) -> String {
        utc(self.second)
    }

    /// The date at the site.
    pub fn local_date(&self, zone: &TimeZone) -> Date {
        date_of(self.second, zone)
    }
}

/// The date at the site at a second.
pub fn date_of(second: i64, zone: &TimeZone) -> Date {
    zone.to_datetime(Timestamp::from_second(second).unwrap_or(Timestamp::UNIX_EPOCH)).date()
}

/// The next time after `from` that the site's clock shows a time of day. Where the clock is set back
/// and shows it twice, the first of the two that is after `from`; where it is set forward past it, the
/// earlier of what may be meant: the time of day by the offset that follows.
pub fn next(time: Time, from: i64, zone: &TimeZone) -> Option<i64> {
    let start = zone.to_datetime(Timestamp::from_second(from).ok()?);
    let mut date = start.date();
    for _ in 0..3 {
        let both = zone.to_ambiguous_timestamp(date.to_datetime(time));
        for at in [both.earlier().ok()?.as_second(), both.later().ok()?.as_second()] {
            if at > from {
                return Some(at);
            }
        }
        date = date.tomorrow().ok()?;
    }
    None
}

/// The end of a day at the site, inclusive.
pub(super) fn end_of(date: Date, zone: &TimeZone) -> Option<i64> {
    let next = date.tomorrow().ok()?;
    Some(zone.to_ambiguous_timestamp(next.to_datetime(Time::midnight())).earlier().ok()?.as_second() - 1)
}

/// What sets a limit, in words.
type Words<'a> = Box<dyn Fn() -> String + 'a>;

/// Of a limit that cannot be worked out: the permit ends at once.
const AT_ONCE: i64 = 0;

/// Since when the longest that a permit may run is counted; `None` where it is counted from now.
fn runs_from(permit: &Permit) -> Option<i64> {
    permit.last_signed("countersign").map(|s| seconds(&s.stamp.time))
}

/// The longest that a permit may run at the site, in seconds.
fn longest(texts: &Texts) -> Option<i64> {
    texts.site.quantity("most_hours").and_then(|q| q.value.to_integer().to_i64())
}

/// The second of [`working`] but for what is counted from now: while no line changes permit and set, it stays as it is.
pub fn fixed(state: &State, permit: &Permit, texts: &Texts) -> i64 {
    let all = limits(state, permit, texts, None);
    all.into_iter().map(|(at, _, _)| at.unwrap_or(AT_ONCE)).min().unwrap_or(AT_ONCE)
}

/// The second of [`working`], of what is fixed and of now.
pub fn second(fixed: i64, permit: &Permit, texts: &Texts, now: &Moment) -> i64 {
    match runs_from(permit) {
        Some(_) => fixed,
        None => fixed.min(longest(texts).map_or(AT_ONCE, |most| now.seconds() + most)),
    }
}

/// Valid to as it would be now, before anyone narrows it.
pub fn working(state: &State, permit: &Permit, texts: &Texts, now: &Moment) -> Limit {
    let limits = limits(state, permit, texts, Some(now));
    match limits.into_iter().min_by_key(|(at, _, _)| at.unwrap_or(AT_ONCE)) {
        Some((Some(second), because, of)) => Limit { second, because: because(), of },
        Some((None, because, of)) => {
            let because = say!("{because}, which cannot be worked out", because = because());
            Limit { second: AT_ONCE, because, of }
        }
        None => Limit { second: AT_ONCE, because: say!("nothing is known of its end").into(), of: Of::Other },
    }
}

/// Everything that ends a permit; without a now, but for what is counted from it.
fn limits<'a>(
    state: &'a State,
    permit: &'a Permit,
    texts: &'a Texts,
    now: Option<&Moment>,
) -> Vec<(Option<i64>, Words<'a>, Of)> {
    let zone = &texts.zone;
    let opened = seconds(&permit.opened.time);
    let later = permit.extended.last();
    // In words is only the one that ends it.
    let mut limits: Vec<(Option<i64>, Words<'_>, Of)> = Vec::new();
    let time = |held: Option<&Held>| match held {
        Some(Held::TimeOfDay(t)) => Some(*t),
        Some(_) | None => None,
    };
    let until = match later {
        Some(l) => Some(seconds(&l.until)),
        None => time(texts.job.get("until")).and_then(|t| next(t, opened, zone)),
    };
    limits.push((until, Box::new(|| say!("the end of the work").into()), Of::Job));
    for p in texts.job.items("entry_permits") {
        let name = || p.words("name").map_or(p.id(), |w| w.get(&texts.language)).to_owned();
        let end = match later.and_then(|l| l.entry_permits.get(p.id())) {
            Some(utc) => Some(seconds(utc)),
            None => time(p.get("until")).and_then(|t| next(t, opened, zone)),
        };
        limits.push((end, Box::new(name), Of::Job));
    }
    let shift = ends::shift_end(permit, texts, None);
    let name = move || shift.map(|at| ends::shift_name(at, texts)).unwrap_or_default();
    limits.push((shift, Box::new(move || say!("the end of the shift ({name})", name = name())), Of::Shift));
    if let Some(from) = runs_from(permit).or(now.map(Moment::seconds)) {
        let words = || say!("the longest a permit may run at this site").into();
        limits.push((longest(texts).map(|most| from + most), Box::new(words), Of::Other));
    }
    if let Some(ending) = ends::carried(permit, texts) {
        let second = ending.second;
        let words = move || {
            let (label, because) = ending.words(permit, texts);
            say!("{label}, carried: {because}", label, because)
        };
        limits.push((Some(second), Box::new(words), Of::Other));
    }
    if let Some((day, due)) = air_test_due(state, permit, texts) {
        limits.push((due, Box::new(move || say!("the air test of {day}", day)), Of::Other));
    }
    limits
}

/// The day of the air test that counts, and the end of the last day on which it is good.
fn air_test_due(state: &State, permit: &Permit, texts: &Texts) -> Option<(Date, Option<i64>)> {
    let test = state.sets.get(&permit.set.id)?.air_test(None)?;
    let day = test.day();
    let months = match texts.site.get("air_test_months") {
        Some(Held::Span { months, days }) => Some((*months, *days)),
        Some(_) | None => None,
    };
    let last = months.and_then(|(m, d)| crate::units::moved(day, m, d, false));
    Some((day, last.and_then(|d| end_of(d, &texts.zone))))
}

/// With the holder's competence and what the supervisor narrows.
pub fn narrowed(mut limit: Limit, competence: Option<Date>, until: Option<&str>, zone: &TimeZone) -> Limit {
    if let Some(end) = competence.and_then(|d| end_of(d, zone))
        && end < limit.second
    {
        limit = Limit { second: end, because: say!("the holder's shown competence").into(), of: Of::Other };
    }
    if let Some(until) = until
        && seconds(until) < limit.second
    {
        limit =
            Limit { second: seconds(until), because: say!("the supervisor's limit").into(), of: Of::Other };
    }
    limit
}
