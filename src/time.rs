//! Times as the record keeps them: UTC text to the second, and the site's offset beside it.
//!
//! Always: arguments in, values out; nothing here asks for the time. Site dates are what people count
//! in; UTC stands in the record and in verification.

use crate::tongue::say;
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;

/// What is told for a time of day is told within so many seconds of it: farther back, an hour that has not come yet was
/// typed.
pub const TOLD_WITHIN: i64 = 12 * 3600;

/// The station's clock at one moment: UTC and the site's offset.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moment {
    /// `YYYY-MM-DDThh:mm:ssZ`.
    pub time: String,
    /// `+hh:mm`.
    pub zone: String,
}

impl Moment {
    /// The moment of a UTC second in a time zone.
    pub fn new(second: i64, zone: &TimeZone) -> Moment {
        let t = Timestamp::from_second(second).unwrap_or(Timestamp::UNIX_EPOCH);
        let offset = zone.to_offset(t).seconds();
        let sign = if offset < 0 { '-' } else { '+' };
        let minutes = offset.abs() / 60;
        Moment { time: utc(second), zone: format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60) }
    }

    /// Seconds since 1970.
    pub fn seconds(&self) -> i64 {
        seconds(&self.time)
    }

    /// Site time.
    pub fn local(&self) -> DateTime {
        local(&self.time, &self.zone)
    }

    /// Site date.
    pub fn date(&self) -> Date {
        self.local().date()
    }
}

/// `YYYY-MM-DDThh:mm:ssZ` of a UTC second.
pub fn utc(second: i64) -> String {
    let t = Timestamp::from_second(second).unwrap_or(Timestamp::UNIX_EPOCH);
    TimeZone::UTC.to_datetime(t).strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// Seconds since 1970 of a checked UTC text, up to the end of the year 9999.
pub fn seconds(time: &str) -> i64 {
    // Every line is asked for it: what has the form is counted without a reader of calendars.
    if is_time(time) {
        let n = |r: std::ops::Range<usize>| digits(time.as_bytes().get(r).unwrap_or_default());
        let days = days_since_1970(n(0..4), n(5..7), n(8..10));
        return days * 86_400 + n(11..13) * 3600 + n(14..16) * 60 + n(17..19);
    }
    let civil = time.strip_suffix('Z').and_then(|t| t.parse::<DateTime>().ok());
    civil.map_or(0, |t| t.duration_since(DateTime::constant(1970, 1, 1, 0, 0, 0, 0)).as_secs())
}

/// Site time of a checked UTC text and offset.
pub fn local(time: &str, zone: &str) -> DateTime {
    let second = jiff::SignedDuration::from_secs(seconds(time) + offset_seconds(zone));
    DateTime::constant(1970, 1, 1, 0, 0, 0, 0).saturating_add(second)
}

/// Seconds of an offset `+hh:mm`.
pub fn offset_seconds(zone: &str) -> i64 {
    let sign = if zone.starts_with('-') { -1 } else { 1 };
    let part = |r: std::ops::Range<usize>| zone.get(r).and_then(|s| s.parse::<i64>().ok()).unwrap_or(0);
    sign * (part(1..3) * 3600 + part(4..6) * 60)
}

/// A time to come for people, by the offset that the site will have then: over a change of the clocks that
/// is another one than now.
pub fn at_site(utc: &str, zone: &TimeZone) -> String {
    for_people(utc, &Moment::new(seconds(utc), zone).zone)
}

/// `25 Nov 2026 06:10 (+01:00)`, for people.
pub fn for_people(time: &str, zone: &str) -> String {
    let at = local(time, zone);
    let (day, year, clock) = (at.day(), at.strftime("%Y"), at.strftime("%H:%M"));
    format!("{day} {} {year} {clock} ({zone})", month(at.month()))
}

/// A month in short: `Nov`.
fn month(number: i8) -> &'static str {
    match number {
        1 => say!("Jan"),
        2 => say!("Feb"),
        3 => say!("Mar"),
        4 => say!("Apr"),
        5 => say!("May"),
        6 => say!("Jun"),
        7 => say!("Jul"),
        8 => say!("Aug"),
        9 => say!("Sep"),
        10 => say!("Oct"),
        11 => say!("Nov"),
        _ => say!("Dec"),
    }
}

/// `06:10`, for people, where the day is plain.
pub fn clock(time: &str, zone: &str) -> String {
    local(time, zone).strftime("%H:%M").to_string()
}

/// `yymmdd` at the site.
pub fn short_date(time: &str, zone: &str) -> String {
    local(time, zone).strftime("%y%m%d").to_string()
}

/// A number of decimal digits.
fn digits(text: &[u8]) -> i64 {
    text.iter().fold(0, |n, c| n * 10 + i64::from(c.wrapping_sub(b'0')))
}

const fn is_leap(year: i64) -> bool {
    (year % 4 == 0 && year % 100 != 0) || year % 400 == 0
}

/// Days from 1970-01-01 to a day of the years 1970 to 9999.
const fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    // Counted from March: the day that comes and goes is then the last of its year.
    let (y, m) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    y * 365 + y / 4 - y / 100 + y / 400 + (m * 153 + 2) / 5 + day - 1 - 719_468
}

/// `YYYY-MM-DD`, a day that exists, from 1970 on.
pub fn is_date(s: &str) -> bool {
    let b = s.as_bytes();
    let [y1, y2, y3, y4, b'-', m1, m2, b'-', d1, d2] = *b else { return false };
    if ![y1, y2, y3, y4, m1, m2, d1, d2].iter().all(u8::is_ascii_digit) {
        return false;
    }
    let (year, month, day) = (digits(&[y1, y2, y3, y4]), digits(&[m1, m2]), digits(&[d1, d2]));
    let longest = match month {
        4 | 6 | 9 | 11 => 30,
        2 if is_leap(year) => 29,
        2 => 28,
        _ => 31,
    };
    year >= 1970 && (1..=12).contains(&month) && (1..=longest).contains(&day)
}

/// `YYYY-MM-DDThh:mm:ssZ`, a time that exists.
pub fn is_time(s: &str) -> bool {
    let b = s.as_bytes();
    b.len() == 20
        && s.is_ascii()
        && b[10] == b'T'
        && b[13] == b':'
        && b[16] == b':'
        && b[19] == b'Z'
        && is_date(&s[..10])
        && [(11, 23), (14, 59), (17, 59)].iter().all(|&(i, most)| {
            b[i].is_ascii_digit()
                && b[i + 1].is_ascii_digit()
                && (b[i] - b'0') * 10 + (b[i + 1] - b'0') <= most
        })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Peer: jiff, on every day of the calendar and on what is none.
    #[test]
    fn days_are_those_of_the_calendar() {
        let mut day: Date = "1970-01-01".parse().unwrap();
        for n in 0..2_932_897 {
            let text = day.to_string();
            assert!(is_date(&text), "{text}");
            assert_eq!(seconds(&format!("{text}T00:00:01Z")), n * 86_400 + 1, "{text}");
            day = match day.tomorrow() {
                Ok(next) => next,
                Err(_) => break,
            };
        }
        for year in ["1969", "1970", "1999", "2000", "2023", "2024", "2100", "9999"] {
            for month in 0..=13 {
                for day in 0..=32 {
                    let text = format!("{year}-{month:02}-{day:02}");
                    let peer = text.parse::<Date>().is_ok_and(|d| d.year() >= 1970 && d.to_string() == text);
                    assert_eq!(is_date(&text), peer, "{text}");
                }
            }
        }
        for bad in ["", "2026-1-01", "2026-11-25 ", "+026-11-25", "2026/11/25", "2026-11-2a", "２０２6-11"]
        {
            assert!(!is_date(bad), "{bad}");
        }
    }

    #[test]
    fn warsaw_in_winter_and_summer() {
        let zone = TimeZone::get("Europe/Warsaw").unwrap();
        let winter = Moment::new(seconds("2026-11-25T05:10:00Z"), &zone);
        assert_eq!(
            (winter.zone.as_str(), winter.local().to_string().as_str()),
            ("+01:00", "2026-11-25T06:10:00")
        );
        let summer = Moment::new(seconds("2026-07-01T22:30:00Z"), &zone);
        assert_eq!((summer.zone.as_str(), summer.date().to_string().as_str()), ("+02:00", "2026-07-02"));
        assert_eq!(short_date(&summer.time, &summer.zone), "260702");
        assert_eq!(for_people(&winter.time, &winter.zone), "25 Nov 2026 06:10 (+01:00)");
        // IANA: the clocks of Warsaw go forward on 29 March 2026 at 01:00 UTC.
        let warsaw = TimeZone::get("Europe/Warsaw").unwrap();
        assert_eq!(at_site("2026-03-29T00:59:00Z", &warsaw), "29 Mar 2026 01:59 (+01:00)");
        assert_eq!(at_site("2026-03-29T04:00:00Z", &warsaw), "29 Mar 2026 06:00 (+02:00)");
    }

    #[test]
    fn the_last_second_that_can_be_written() {
        // 9999-12-31T23:59:59Z is second 253402300799 (Python: calendar.timegm).
        assert_eq!(seconds("9999-12-31T23:59:59Z"), 253_402_300_799);
        assert_eq!(short_date("9999-12-31T23:59:59Z", "-01:00"), "991231");
        assert_eq!(short_date("9999-12-31T23:59:59Z", "+14:00"), "991231", "held at the last day");
    }

    #[test]
    fn west_of_greenwich() {
        assert_eq!(local("2026-01-01T02:00:00Z", "-03:30").to_string(), "2025-12-31T22:30:00");
    }
}
