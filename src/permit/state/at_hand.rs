//! What is at hand of a register for its next line: the state without permits that are over and bear on nothing more.
//!
//! Always: with the lines that follow it becomes what the whole state becomes, reduced again; or somebody asked for a
//! permit that is not here, and that is noted ([`Permits::lack`]): then everything is read. Kept of what is over are
//! permits with people on their air, those of the last days, and those in whose day something stands that came after
//! whatever the permits at work rest on: a gauge of a set is read under any of its permits.

use super::marks::Marks;
use super::{Permit, State};
use crate::record::chain::RULES;
use crate::time::seconds;

/// What is over stays at hand for so long, seconds: more than anything may look back by the clock (a roll call, a gauge
/// that is still fresh: 12 h; a pause between spells on air: 4 h).
pub(super) const STAYS: i64 = 2 * 86_400;

impl State {
    /// Reduced to what is at hand; `None` where it is of a part of a register, rests on too little, or is only for a verdict.
    pub fn at_hand(&self) -> Option<State> {
        let whole = !self.of_one && !self.missing && self.beside.is_empty() && self.keeps_all();
        if !whole || self.permits.lack() {
            return None;
        }
        let at_work = self.permits.values().filter(|p| !self.is_over(p));
        let since = at_work.map(rests_on).min().unwrap_or(u64::MAX);
        let breathed = |p: &Permit| {
            let of = |number: &Option<String>| number.as_ref() == Some(&p.number);
            let feeding = self.sets.values().filter_map(|s| s.feeding.as_ref()).flat_map(|f| &f.on);
            self.on_air.iter().any(|o| of(&o.permit)) || feeding.into_iter().any(|(o, _)| of(&o.permit))
        };
        let stays = |p: &Permit| {
            self.is_recent(p) || breathed(p) || p.day.last().is_some_and(|h| h.stamp.seq >= since)
        };
        let mut permits = self.permits.clone();
        permits.retain(stays);
        let spells = self.spells_since(seconds(&self.time));
        Some(State { permits: permits.in_part(), spells, marks: Marks::default(), ..self.clone() })
    }

    fn is_over(&self, p: &Permit) -> bool {
        p.rules == RULES && self.life(p, &self.time).over()
    }

    /// Whether a permit is not over, or something of it happened in the last days.
    pub fn is_recent(&self, p: &Permit) -> bool {
        !self.is_over(p) || seconds(&self.time) - last_time(p) <= STAYS
    }

    /// H of the lines that it speaks of: what a line may cite.
    pub fn lines(&self) -> impl Iterator<Item = &str> {
        let of_permits = self.permits.values().flat_map(|p| {
            let answers = p.answers.iter().flat_map(|a| {
                let carried = a.carry.as_ref().map(|c| &c.stamp);
                std::iter::once(&a.stamp).chain(carried).chain(a.deviation.as_ref().map(|d| &d.stamp))
            });
            let acts = p.signed.iter().map(|s| &s.stamp);
            let day = p.day.iter().map(|h| &h.stamp);
            let jobs = p.jobs.iter().map(|(stamp, _)| stamp);
            std::iter::once(&p.opened).chain(answers).chain(acts).chain(day).chain(jobs)
        });
        let of_sets = self.sets.values().flat_map(|s| {
            let last = s.last.values().chain(&s.air_tests).map(|h| &h.stamp);
            let words = s.serviced.values().chain(s.events.values());
            let once = [
                &s.reserve_used,
                &s.roll_void,
                &s.shut_down,
                &s.breathed,
                &s.rolled,
                &s.stop_untold,
                &s.released,
                &s.taken,
            ];
            last.chain(words).chain(once.into_iter().flatten())
        });
        let on_air = self.on_air.iter().map(|p| &p.since);
        of_permits.chain(of_sets).chain(on_air).map(|s| s.hash.as_str())
    }
}

/// The earliest place in the history that something of a permit rests on.
fn rests_on(p: &Permit) -> u64 {
    p.answers.iter().map(|a| a.stamp.seq).min().unwrap_or(u64::MAX).min(p.opened.seq)
}

/// The time of the last thing known of a permit.
fn last_time(p: &Permit) -> i64 {
    let answered = p.answers.last().map(|a| a.carry.as_ref().map_or(&a.stamp, |c| &c.stamp));
    let signed = p.signed.last().map(|s| &s.stamp);
    let day = p.day.last().map(|h| &h.stamp);
    let all = [Some(&p.opened), Some(&p.since), answered, signed, day];
    all.into_iter().flatten().map(|s| seconds(&s.time)).max().unwrap_or(0)
}
