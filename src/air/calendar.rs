//! Due dates: what was done on a day, how long it is good for, until when, and how it stands today.
//!
//! In: dates (the site's, local) and whole months and days. Out: [`Due`], which keeps the day it was done and
//! the rule beside the last good day. Always: the last good day is good to its end, and the next day is not; a
//! day that the month lacks becomes the month's last, never the next month's first; each due date is counted
//! from what was done, not from the due date before (chained, it would creep earlier).
//! Not here: how spans are added to dates (`units`, the one place), today (an argument), whose calendar (the
//! caller makes the site's date of a time).
//! Rule: corresponding date with clipping, last day inclusive; laws differ, this is on the early side.

use super::Refused;
use crate::tongue::say;
use crate::units;
use jiff::civil::Date;

/// How long something is good for: whole months, then whole days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    months: i32,
    days: i32,
}

/// Something done on a day and good for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Due {
    done: Date,
    rule: Rule,
    last_good: Date,
}

/// How something due stands on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Good, with this many days left after today; 0 on the last good day.
    Good(i32),
    /// Over since this many days, 1 on the day after the last good one.
    Overdue(i32),
    /// Dated this many days after today: nothing has been done yet, so it is not good.
    Ahead(i32),
}

impl Rule {
    /// Months and days, as `units::read_span` reads them; 1 to 36525 of one, 0 to 36525 of the other.
    ///
    /// # Errors
    /// Less than nothing, or nothing at all, or more than a century of days.
    pub fn new(months: i32, days: i32) -> Result<Rule, Refused> {
        let range = 0..=36_525;
        if range.contains(&months) && range.contains(&days) && (months, days) != (0, 0) {
            return Ok(Rule { months, days });
        }
        Err(Refused::new(
            say!("how long it is good for"),
            units::span_text(months, days),
            say!("for 1 day to 36525 months"),
        ))
    }

    /// Whole months.
    pub fn months(self) -> i32 {
        self.months
    }

    /// Whole days after the months.
    pub fn days(self) -> i32 {
        self.days
    }
}

impl Due {
    /// Counts from the day it was done.
    ///
    /// Range: dates of the years 1 to 9999. Exact. Source: the head of this file.
    ///
    /// # Errors
    /// The last good day would lie after the year 9999.
    pub fn new(done: Date, rule: Rule) -> Result<Due, Refused> {
        let last_good = units::moved(done, rule.months, rule.days, false).ok_or_else(|| {
            Refused::new(
                say!("the due date"),
                say!("more than can be counted from {done}", done),
                say!("to the year 9999"),
            )
        })?;
        Ok(Due { done, rule, last_good })
    }

    /// The day it was done.
    pub fn done(&self) -> Date {
        self.done
    }

    /// How long it is good for.
    pub fn rule(&self) -> Rule {
        self.rule
    }

    /// The last day on which it is good, to that day's end.
    pub fn last_good(&self) -> Date {
        self.last_good
    }

    /// How it stands on a day.
    pub fn standing(&self, today: Date) -> Standing {
        // Spans between dates count whole days exactly.
        let days = |from: Date, to: Date| (to - from).get_days();
        if today < self.done {
            return Standing::Ahead(days(today, self.done));
        }
        match days(today, self.last_good) {
            left if left >= 0 => Standing::Good(left),
            over => Standing::Overdue(-over),
        }
    }

    /// Good on that day: done, and not over.
    pub fn good(&self, today: Date) -> bool {
        match self.standing(today) {
            Standing::Good(_) => true,
            Standing::Overdue(_) | Standing::Ahead(_) => false,
        }
    }
}

/// The one whose last good day comes first, with its name; of several on one day, the first named. `None` of
/// none.
pub fn earliest<N>(all: impl IntoIterator<Item = (N, Due)>) -> Option<(N, Due)> {
    all.into_iter().reduce(|a, b| if b.1.last_good < a.1.last_good { b } else { a })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use jiff::civil::date;

    fn three_months(year: i16, month: i8, day: i8) -> Due {
        Due::new(date(year, month, day), Rule::new(3, 0).unwrap()).unwrap()
    }

    #[test]
    fn the_last_day_is_good_and_the_next_is_not() {
        let due = three_months(2025, 11, 30);
        assert_eq!(due.last_good(), date(2026, 2, 28));
        assert_eq!(due.standing(date(2025, 11, 30)), Standing::Good(90));
        assert_eq!(due.standing(date(2026, 2, 28)), Standing::Good(0));
        assert_eq!(due.standing(date(2026, 3, 1)), Standing::Overdue(1));
        assert!(due.good(date(2026, 2, 28)) && !due.good(date(2026, 3, 1)));
        assert_eq!((due.done(), due.rule().months()), (date(2025, 11, 30), 3));
    }

    #[test]
    fn what_is_dated_ahead_is_not_good() {
        let due = three_months(2025, 11, 30);
        assert_eq!(due.standing(date(2025, 11, 28)), Standing::Ahead(2));
        assert!(!due.good(date(2025, 11, 29)));
    }

    #[test]
    fn the_earliest_names_itself() {
        let all = [("the air test", three_months(2026, 1, 31)), ("the cylinder", three_months(2025, 12, 1))];
        assert_eq!(earliest(all).unwrap().0, "the cylinder");
        assert!(earliest::<()>([]).is_none());
    }

    #[test]
    fn no_rule_of_nothing_and_none_backwards() {
        for (months, days) in [(0, 0), (-1, 0), (0, -1), (36_526, 0), (i32::MIN, i32::MAX)] {
            assert!(Rule::new(months, days).is_err(), "{months} {days}");
        }
        assert!(Due::new(Date::MAX, Rule::new(0, 1).unwrap()).is_err());
    }
}
