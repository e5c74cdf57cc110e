//! Spans of the calendar: whole months and whole days. `3 months`, `10 days`.
//!
//! A span is no duration: a month has no fixed length, and neither has a day at a site's change of
//! clock. Durations (`min`, `h`) are quantities. The one place where a span meets a date is [`moved`].

use super::{Refused, near};
use crate::tongue::{say, say_n};
use jiff::civil::Date;

/// The two words a span is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpanUnit {
    /// `month`, `months`.
    Month,
    /// `day`, `days`.
    Day,
}

/// The longest span, in either unit: enough for a century of days.
pub const LONGEST: i32 = 36_525;

/// The span unit of a word, singular or plural.
pub fn span_unit(word: &str) -> Option<SpanUnit> {
    match word {
        "month" | "months" => Some(SpanUnit::Month),
        "day" | "days" => Some(SpanUnit::Day),
        _ => None,
    }
}

/// Reads `3 months` or `10 days` as (months, days), 0 to 36525 of either.
///
/// # Errors
/// Says what was got, what was wanted and what to type.
pub fn read_span(text: &str) -> Result<(i32, i32), Refused> {
    let got = text.trim_matches(' ');
    let wrong = || {
        Refused::new(say!("got {got}, wanted a span of whole months or days", got = format!("{got:?}")))
            .hint(say!("write it as 3 months or 10 days"))
    };
    let (number, word) = got.split_once(' ').ok_or_else(wrong)?;
    let count = whole(number).ok_or_else(wrong)?;
    match span_unit(word) {
        Some(SpanUnit::Month) => Ok((count, 0)),
        Some(SpanUnit::Day) => Ok((0, count)),
        None => Err(match other_word(word) {
            Some(hint) => wrong().hint(hint),
            None => match near::nearest(word, ["months", "days", "month", "day"]) {
                Some(near) => wrong().hint(say!("did you mean {number} {near}?", number, near)),
                None => wrong(),
            },
        }),
    }
}

/// What to write instead of a calendar word that is no span unit here.
pub(super) fn other_word(word: &str) -> Option<&'static str> {
    match word {
        "year" | "years" => Some(say!("write 12 months for a year")),
        "week" | "weeks" => Some(say!("write 7 days for a week")),
        _ => None,
    }
}

/// A whole number of a span, without sign or leading noughts.
pub(crate) fn whole(text: &str) -> Option<i32> {
    let plain = text.bytes().all(|b| b.is_ascii_digit()) && (text == "0" || !text.starts_with('0'));
    text.parse::<i32>().ok().filter(|n| plain && (0..=LONGEST).contains(n))
}

/// A date some months and days on, or back. A day that the month lacks becomes its last: 31 January and one
/// month is 28 February (or 29). Months first, then days. `None` before the year -9999 or after 9999.
///
/// The corresponding day, clipped: the same as `relativedelta` of python-dateutil (`tests/supply/dates.csv`).
/// Laws differ (some hold that the last day of a month answers to the last day); this is the earliest of the
/// common readings that do not end on the day before.
pub fn moved(date: Date, months: i32, days: i32, back: bool) -> Option<Date> {
    let span = |months: i32, days: i32| jiff::Span::new().try_months(months).ok()?.try_days(days).ok();
    let step = |date: Date, span: jiff::Span| {
        if back { date.checked_sub(span) } else { date.checked_add(span) }.ok()
    };
    if months.signum() * days.signum() < 0 {
        // A span of jiff has one sign; ours may be a month less a day.
        return step(step(date, span(months, 0)?)?, span(0, days)?);
    }
    step(date, span(months, days)?)
}

/// A span for people: `3 months`, `1 day`, `1 month and 2 days`.
pub fn span_text(months: i32, days: i32) -> String {
    let of_days = |n: i32| say_n!(n.unsigned_abs(), "{count} day", "{count} days", count = n);
    let of_months = |n: i32| say_n!(n.unsigned_abs(), "{count} month", "{count} months", count = n);
    match (months, days) {
        (0, days) => of_days(days),
        (months, 0) => of_months(months),
        (months, days) => {
            say!("{months} and {days}", months = of_months(months), days = of_days(days))
        }
    }
}
