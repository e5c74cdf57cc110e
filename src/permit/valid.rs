//! Valid to: the earliest of everything that ends a permit, and which that is.
//!
//! Job's end, entry permits, the end of the shift, the site's most hours, the holder's competence, and
//! what the supervisor narrowed. Always: a limit that cannot be worked out ends the permit at once.

use super::bench::Texts;
use super::state::Permit;
use crate::site::Held;
use crate::time::{Moment, seconds, utc};
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use num_traits::ToPrimitive;

/// A limit: when, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// UTC second.
    pub second: i64,
    /// What ends then, in words.
    pub because: String,
    /// The job says so; a job that says otherwise ends it elsewhere.
    pub of_the_job: bool,
}

impl Limit {
    /// UTC text.
    pub fn utc(&self) -> String {
        utc(self.second)
    }

    /// The date at the site.
    pub fn local_date(&self, zone: &TimeZone) -> Date {
        zone.to_datetime(Timestamp::from_second(self.second).unwrap_or(Timestamp::UNIX_EPOCH)).date()
    }
}

/// The next time after `from` that the site's clock shows a time of day. Where the clock is set back
/// and shows it twice, the first of the two that is after `from`; where it is set forward past it, the
/// time that the clock would have shown it at.
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
fn end_of(date: Date, zone: &TimeZone) -> Option<i64> {
    let next = date.tomorrow().ok()?;
    Some(zone.to_ambiguous_timestamp(next.to_datetime(Time::midnight())).earlier().ok()?.as_second() - 1)
}

/// Valid to as it would be now, before anyone narrows it.
pub fn working(permit: &Permit, texts: &Texts, now: &Moment) -> Limit {
    let zone = &texts.zone;
    let opened = seconds(&permit.opened.time);
    let mut limits: Vec<(Option<i64>, String, bool)> = Vec::new();
    let time = |held: Option<&Held>| match held {
        Some(Held::TimeOfDay(t)) => Some(*t),
        Some(_) | None => None,
    };
    let until = time(texts.job.get("until")).and_then(|t| next(t, opened, zone));
    limits.push((until, "the end of the work".into(), true));
    for p in texts.job.items("entry_permits") {
        let name = p.words("name").map_or(p.id(), |w| w.get(&texts.language)).to_owned();
        limits.push((time(p.get("until")).and_then(|t| next(t, opened, zone)), name, true));
    }
    let shift = texts
        .site
        .items("shift_ends")
        .iter()
        .map(|s| {
            let name = s.words("name").map_or(s.id(), |w| w.get(&texts.language)).to_owned();
            (
                time(s.get("at")).and_then(|t| next(t, opened, zone)),
                format!("the end of the shift ({name})"),
                false,
            )
        })
        .min_by_key(|(at, ..)| at.unwrap_or(i64::MIN));
    limits.push(shift.unwrap_or((None, "the end of the shift".into(), false)));
    let hours = texts.site.quantity("most_hours").and_then(|q| q.value.to_integer().to_i64());
    let from = permit.last_signed("countersign").map_or(now.seconds(), |s| seconds(&s.stamp.time));
    limits.push((hours.map(|h| from + h), "the longest a permit may run at this site".into(), false));
    limits
        .into_iter()
        .map(|(at, because, of_the_job)| match at {
            Some(second) => Limit { second, because, of_the_job },
            None => {
                Limit { second: 0, because: format!("{because}, which cannot be worked out"), of_the_job }
            }
        })
        .min_by_key(|l| l.second)
        .unwrap_or(Limit { second: 0, because: "nothing is known of its end".into(), of_the_job: false })
}

/// With the holder's competence and what the supervisor narrows.
pub fn narrowed(mut limit: Limit, competence: Option<Date>, until: Option<&str>, zone: &TimeZone) -> Limit {
    if let Some(end) = competence.and_then(|d| end_of(d, zone))
        && end < limit.second
    {
        limit = Limit { second: end, because: "the holder's shown competence".into(), of_the_job: false };
    }
    if let Some(until) = until
        && seconds(until) < limit.second
    {
        limit = Limit { second: seconds(until), because: "the supervisor's limit".into(), of_the_job: false };
    }
    limit
}
