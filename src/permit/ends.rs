//! When time alone ends an answer: the end of its shift, its hours, its months.
//!
//! Always: an end that cannot be worked out is over already. Not here: events that end an answer (`bench/stale`), the
//! end of the permit (`valid`).

use super::bench::Texts;
use super::state::{Answer, Permit};
use super::valid::{end_of, next};
use crate::checklist::{GoodForScope, Step};
use crate::site::Held;
use crate::time::{self, seconds};
use crate::tongue::{say, say_n};
use crate::units;
use jiff::civil::Date;

/// An answer is asked again so long before its time is over at the earliest, and told that it ends. Seconds. Common
/// practice, no source.
pub const SOON: i64 = 30 * 60;

/// When an answer ends by itself, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct End {
    /// UTC second, the last at which it still counts.
    pub second: i64,
    /// `it is good for 4 h and was answered at 06:12`.
    pub because: String,
}

/// What of time ends an answer.
#[derive(Clone, Copy)]
enum By {
    Hours(u32),
    Months(u32),
    Shift,
}

impl By {
    fn of(scope: GoodForScope) -> Option<By> {
        match scope {
            GoodForScope::Hours(n) => Some(By::Hours(n)),
            GoodForScope::Months(n) => Some(By::Months(n)),
            GoodForScope::Shift => Some(By::Shift),
            GoodForScope::Permit
            | GoodForScope::Start
            | GoodForScope::Set
            | GoodForScope::Place
            | GoodForScope::SupplyPoint
            | GoodForScope::Wind
            | GoodForScope::Filter
            | GoodForScope::Fill
            | GoodForScope::Hose
            | GoodForScope::Respirator
            | GoodForScope::Wearer => None,
        }
    }
}

/// The earliest end of an answer to a step; `None` if time alone does not end it.
pub fn of(step: &Step, answer: &Answer, permit: &Permit, texts: &Texts) -> Option<End> {
    let (second, by) = earliest(step, answer, permit, texts)?;
    let clock = || time::clock(&answer.stamp.time, &answer.stamp.zone);
    let because = match by {
        By::Hours(n) => say!("it is good for {n} h and was answered at {clock}", n, clock = clock()),
        By::Months(n) => say_n!(
            n,
            "it is good for {n} months and was answered on {day}",
            "it is good for {n} months and was answered on {day}",
            day = given_on(answer)
        ),
        By::Shift => say!("it is good for the shift and was answered at {clock}", clock = clock()),
    };
    Some(End { second, because })
}

/// The second alone: as [`of`], for whoever needs no words.
pub fn second_of(step: &Step, answer: &Answer, permit: &Permit, texts: &Texts) -> Option<i64> {
    earliest(step, answer, permit, texts).map(|(second, _)| second)
}

fn given_on(answer: &Answer) -> Date {
    time::local(&answer.stamp.time, &answer.stamp.zone).date()
}

/// An end that cannot be worked out is over already.
fn earliest(step: &Step, answer: &Answer, permit: &Permit, texts: &Texts) -> Option<(i64, By)> {
    let given = || seconds(answer.at.as_deref().unwrap_or(&answer.stamp.time));
    let second = |by: By| match by {
        By::Hours(n) => given() + i64::from(n) * 3600,
        By::Months(n) => {
            let last = i32::try_from(n).ok().and_then(|n| units::moved(given_on(answer), n, 0, false));
            last.and_then(|d| end_of(d, &texts.zone)).unwrap_or(0)
        }
        By::Shift => shift_of(answer, given(), permit, texts).unwrap_or(0),
    };
    let all = step.good_for().iter().filter_map(|good| By::of(good.scope));
    all.map(|by| (second(by), by)).min_by_key(|(second, _)| *second)
}

/// What ends an answer to a step beside time, in words; empty if nothing does.
pub fn holds_until(step: &Step) -> String {
    let words = step.good_for().iter().filter_map(|good| match good.scope {
        GoodForScope::Start => Some(say!("the set is stopped")),
        GoodForScope::Place => Some(say!("the set is moved")),
        GoodForScope::SupplyPoint => Some(say!("it is moved or plugged in elsewhere, or the supply is lost")),
        GoodForScope::Wind => Some(say!("the wind turns")),
        GoodForScope::Filter => {
            Some(say!("filter, oil or air side are worked on, or an alarm speaks against the air"))
        }
        GoodForScope::Fill => Some(say!("the reserve is filled or used")),
        GoodForScope::Hose => Some(say!("something happens to a hose")),
        GoodForScope::Respirator => Some(say!("something happens to a respirator")),
        GoodForScope::Permit
        | GoodForScope::Set
        | GoodForScope::Wearer
        | GoodForScope::Shift
        | GoodForScope::Hours(_)
        | GoodForScope::Months(_) => None,
    });
    words.collect::<Vec<_>>().join(&format!(", {} ", say!("or")))
}

/// The end of the shift in which an answer was given.
fn shift_of(answer: &Answer, given: i64, permit: &Permit, texts: &Texts) -> Option<i64> {
    // On another permit the shift may have been handed over; the first end of any is the safe one.
    let end = match &answer.carry {
        Some(_) => return after(given, texts),
        None => shift_end(permit, texts, Some(answer.stamp.seq))?,
    };
    if end < given { after(given, texts) } else { Some(end) }
}

/// The end of the shift that holds a permit, as its lines before a place in the history say.
pub fn shift_end(permit: &Permit, texts: &Texts, before: Option<u64>) -> Option<i64> {
    let mut end = after(seconds(&permit.opened.time), texts)?;
    for taken in permit.shifts.iter().filter(|s| before.is_none_or(|b| s.seq < b)) {
        end = after(end.max(seconds(&taken.time)), texts)?;
    }
    Some(end)
}

/// The first end of a shift of the site after a time; `None` if one of them cannot be worked out.
fn after(from: i64, texts: &Texts) -> Option<i64> {
    if let Some(known) = texts.shift_ends.borrow().get(&from) {
        return *known;
    }
    let end = worked_out(from, texts);
    texts.shift_ends.borrow_mut().insert(from, end);
    end
}

fn worked_out(from: i64, texts: &Texts) -> Option<i64> {
    let ends: Option<Vec<i64>> = texts
        .site
        .items("shift_ends")
        .iter()
        .map(|s| match s.get("at") {
            Some(Held::TimeOfDay(t)) => next(*t, from, &texts.zone),
            Some(_) | None => None,
        })
        .collect();
    ends?.into_iter().min()
}

/// What the shift is called that ends at a time.
pub fn shift_name(end: i64, texts: &Texts) -> String {
    let at = |s: &&crate::site::Values| match s.get("at") {
        Some(Held::TimeOfDay(t)) => next(*t, end - 1, &texts.zone) == Some(end),
        Some(_) | None => false,
    };
    let name =
        |s: &crate::site::Values| s.words("name").map_or(s.id(), |w| w.get(&texts.language)).to_owned();
    texts.site.items("shift_ends").iter().find(at).map_or_else(String::new, name)
}

/// An answer and when time ends it.
pub struct Ending<'a> {
    /// UTC second, the last at which it still counts.
    pub second: i64,
    step: &'a Step,
    answer: &'a Answer,
}

impl Ending<'_> {
    /// What it is called, and why it ends then.
    pub fn words(&self, permit: &Permit, texts: &Texts) -> (String, String) {
        let label = super::bench::Bench::label(self.step, self.answer.item.as_deref(), &texts.language);
        let because = of(self.step, self.answer, permit, texts).map(|e| e.because);
        (label, because.unwrap_or_default())
    }
}

/// Of the answers that a permit carries the one that ends first.
pub fn carried<'a>(permit: &'a Permit, texts: &'a Texts) -> Option<Ending<'a>> {
    let own = permit.answers.iter().filter(|a| a.carry.is_some() && a.form == permit.form.hash);
    let ending = |answer: &'a Answer| {
        let (_, step) = texts.form.step(&answer.step)?;
        Some(Ending { second: second_of(step, answer, permit, texts)?, step, answer })
    };
    let mut ending: Vec<Ending<'a>> = own.filter_map(ending).collect();
    ending.sort_by_key(|e| e.second);
    let is_last = |a: &Answer| {
        let last = permit.last_answer(&a.form, &a.step, a.item.as_deref());
        last.is_some_and(|l| l.stamp.seq == a.stamp.seq)
    };
    ending.into_iter().find(|e| is_last(e.answer))
}
