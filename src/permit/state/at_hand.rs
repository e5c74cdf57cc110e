//! What is at hand of a register for its next line: the state without permits that are over and bear on nothing more.
//!
//! Always: with the lines that follow it becomes what the whole state becomes, reduced again; or somebody asked for a
//! permit that is not here, and that is noted ([`Permits::lack`]): then everything is read. Kept is every permit that has
//! not ended, and of those that have: with people on their air; of the last days; with a copy that hangs while lines of the
//! set still come to its day; and those in whose day something stands that came after whatever the work of the set rests
//! on: a gauge of a set is read under any of its permits.

use super::marks::Marks;
use super::permits::is_open;
use super::{Permit, SetState, State};
use crate::permit::copies;
use crate::record::chain::RULES;
use crate::time::seconds;
use std::collections::{BTreeMap, BTreeSet};

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
        let since = self.asked_since();
        let asked = |p: &Permit| {
            let first = since.get(p.set.id.as_str()).copied().unwrap_or(u64::MAX);
            p.day.last().is_some_and(|h| h.stamp.seq >= first)
        };
        let stays = |p: &Permit| self.is_recent(p) || self.feeds(p) || hangs(p) || asked(p);
        let spells = self.spells_since(seconds(&self.time));
        Some(State { permits: self.permits.in_part(stays), spells, marks: Marks::default(), ..self.clone() })
    }

    /// Whether people are on a permit's air, or may have breathed the reserve on it.
    fn feeds(&self, p: &Permit) -> bool {
        let of = |number: &Option<String>| number.as_ref() == Some(&p.number);
        let feeding = self.sets.values().filter_map(|s| s.feeding.as_ref()).flat_map(|f| &f.on);
        self.on_air.iter().any(|o| of(&o.permit)) || feeding.into_iter().any(|(o, _)| of(&o.permit))
    }

    /// From where on the days of a set's permits may be asked for, where work goes on on its air: since something that a permit
    /// rests on, and since the reserve began to be watched.
    fn asked_since(&self) -> BTreeMap<&str, u64> {
        let mut since: BTreeMap<&str, u64> = BTreeMap::new();
        let of_permits = self.permits.at_hand().filter(|p| !self.has_ended(p) || self.feeds(p));
        for p in of_permits {
            let set = p.set.id.as_str();
            let seq = rests_on(p).min(self.sets.get(set).map_or(0, SetState::watched_since));
            let first = since.entry(set).or_insert(seq);
            *first = seq.min(*first);
        }
        since
    }

    /// Whether what is at hand is enough to say of the work what everything would say: lines since it was kept may have put
    /// somebody on the air of a permit that had ended then.
    pub fn is_enough(&self) -> bool {
        !self.permits.lack()
            && self.asked_since().into_iter().all(|(set, since)| self.permits.go_back_to(set, since))
    }

    /// Whether its last line is later than a time: what was over then need not be over yet.
    pub fn is_ahead_of(&self, time: &str) -> bool {
        self.time.as_str() > time
    }

    fn has_ended(&self, p: &Permit) -> bool {
        p.rules == RULES && self.life(p, &self.time).ended()
    }

    /// Whether a permit has not ended, or something of it happened in the last days.
    pub fn is_recent(&self, p: &Permit) -> bool {
        !self.has_ended(p) || seconds(&self.time) - last_time(p) <= STAYS
    }

    /// Whether at a time, not before that of the last line, a permit has not ended, has people on its air, or came into its
    /// state within the last days.
    pub fn is_of_late(&self, p: &Permit, time: &str) -> bool {
        let late = seconds(time) - seconds(&p.since.time) <= STAYS;
        late || !self.life(p, time).ended() || self.tally_of_permit(&p.number) > 0
    }

    /// Permits that have not ended at a time, not before that of the last line.
    pub fn not_ended<'a>(&'a self, time: &'a str) -> impl Iterator<Item = &'a Permit> {
        // Of those that a line has ended none need be asked.
        self.permits.open().filter(move |p| !self.life(p, time).ended())
    }

    /// The same, and those with people on their air.
    pub fn in_use<'a>(&'a self, time: &'a str) -> impl Iterator<Item = &'a Permit> {
        let open = self.not_ended(time).map(|p| p.number.as_str());
        let on = self.on_air.iter().filter_map(|o| o.permit.as_deref());
        let numbers: BTreeSet<&str> = open.chain(on).collect();
        numbers.into_iter().filter_map(|number| self.permits.one_at_hand(number))
    }

    /// H of the lines that it speaks of: what a line may cite.
    pub fn lines(&self) -> impl Iterator<Item = &str> {
        let of_permits = self.permits.at_hand().flat_map(|p| {
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

/// Whether a copy hangs of which somebody may still be told: closed permits are of the past.
fn hangs(p: &Permit) -> bool {
    is_open(p) && p.day.iter().any(|h| h.kind == "copy") && !copies::up(p).is_empty()
}

/// The time of the last thing known of a permit.
fn last_time(p: &Permit) -> i64 {
    let answered = p.answers.last().map(|a| a.carry.as_ref().map_or(&a.stamp, |c| &c.stamp));
    let signed = p.signed.last().map(|s| &s.stamp);
    let day = p.day.last().map(|h| &h.stamp);
    let all = [Some(&p.opened), Some(&p.since), answered, signed, day];
    all.into_iter().flatten().map(|s| seconds(&s.time)).max().unwrap_or(0)
}
