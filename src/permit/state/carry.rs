//! Answers that count on another permit than the one they were given on.
//!
//! Always: a line that carries cites the answers and copies nothing; the latest answer of a step on the set, or none.
//! Not here: whether what an answer rests on still holds (`decide::carry`, `bench`).

use super::{Answer, Carry, Permit, Stamp, State, answer_of};
use crate::record::line::{Broken, FORGOTTEN, Line, broken};
use crate::tongue::say;
use crate::view::StateWord;

/// Between two answers that are carried stand so many that are not.
const NEAR: usize = 32;

impl State {
    /// The answer that a line gave, and the permit on which.
    pub fn answer_by_hash(&self, hash: &str) -> Option<(&str, &Answer)> {
        self.answers_by_hash(&[hash]).pop().flatten()
    }

    fn answer_at_hand(&self, hash: &str) -> Option<(&str, &Answer)> {
        // What is cited is seldom old: from the newest back.
        let own = self.permits.at_hand().rev().find_map(|p| {
            let given = |a: &&Answer| a.carry.is_none() && a.stamp.hash == hash;
            Some((p.number.as_str(), p.answers.iter().rev().find(given)?))
        });
        own.or_else(|| self.beside.get(hash).map(|(number, answer)| (number.as_str(), answer)))
    }

    /// The same of several: those that one line cites mostly stand on one permit, in their order.
    pub fn answers_by_hash<'s>(&'s self, hashes: &[&str]) -> Vec<Option<(&'s str, &'s Answer)>> {
        let mut near: Option<(&Permit, usize)> = None;
        let one = |hash: &&str| {
            let follows = near.and_then(|(p, last)| {
                let mut next = p.answers.iter().enumerate().skip(last + 1).take(NEAR);
                let (at, a) = next.find(|(_, a)| a.carry.is_none() && a.stamp.hash == *hash)?;
                Some((p, at, a))
            });
            if let Some((p, at, a)) = follows {
                near = Some((p, at));
                return Some((p.number.as_str(), a));
            }
            let found = self.answer_at_hand(hash);
            near = found.and_then(|(number, answer)| {
                // Asked for by its number, one that is not at hand would be noted as lacking.
                let p = self.permits.at_hand().find(|p| p.number == number)?;
                Some((p, p.answers.iter().rposition(|a| std::ptr::eq(a, answer))?))
            });
            found
        };
        let mut found: Vec<Option<(&str, &Answer)>> = hashes.iter().map(one).collect();
        if found.iter().any(Option::is_none) {
            self.permits.all_of_them();
            let lacking = hashes.iter().zip(&found).filter(|(_, f)| f.is_none()).map(|(h, _)| *h).collect();
            let past = self.past.as_ref().map(|p| p.answers(&lacking)).unwrap_or_default();
            for (hash, lacks) in hashes.iter().zip(&mut found).filter(|(_, f)| f.is_none()) {
                *lacks = past.get(hash).copied();
            }
        }
        found
    }

    /// The latest answer to a step on any permit of a set, and the permit on which it was given.
    pub fn latest_answer(
        &self,
        set: &str,
        form: &str,
        step: &str,
        item: Option<&str>,
    ) -> Option<(&Permit, &Answer)> {
        self.permits.latest_answer(set, form, (step, item))
    }

    /// An answer of another permit, in an excerpt: kept for a line that carries it.
    pub(super) fn keep_beside(&mut self, line: &Line, stamp: Stamp) {
        let number = line.permit.clone().unwrap_or_default();
        self.beside.insert(line.hash.to_string(), (number.to_string(), answer_of(line, stamp)));
    }

    pub(super) fn check_carried(&self, permit: &Permit, line: &Line) -> Result<(), Broken> {
        if line.data.text("form") != Some(permit.form.hash.as_str()) || permit.for_shutdown {
            return broken("citation", say!("`carried` names another form than the permit was opened on"));
        }
        let mut after = permit.clone();
        let mut carried = Vec::new();
        let hashes = line.data.texts("answers");
        for (hash, found) in hashes.iter().zip(self.answers_by_hash(&hashes)) {
            match found {
                Some((from, answer)) => {
                    self.check_one_carried(&after, from, answer, &line.time)?;
                    let carry = Carry { stamp: permit.opened.clone(), from: from.to_owned() };
                    after.answers.push(Answer { carry: Some(Box::new(carry)), ..answer.clone() });
                    carried.push((from, answer));
                }
                None if !self.keeps_all() => return broken(FORGOTTEN, say!("an answer that is not kept")),
                None if self.missing => {}
                None => return broken("citation", say!("`answers` names no answer, {hash}", hash)),
            }
        }
        // Of a wait whose end is carried with it the beginning need not be the latest.
        let counts = |a: &Answer| {
            let last = after.last_answer(&a.form, &a.step, a.item.as_deref());
            last.is_some_and(|l| l.stamp.seq == a.stamp.seq)
        };
        carried
            .iter()
            .filter(|(_, a)| counts(a))
            .try_for_each(|(from, a)| self.check_latest(from, a, &line.time))
    }

    fn check_latest(&self, from: &str, answer: &Answer, time: &str) -> Result<(), Broken> {
        let Some(other) = self.brief(from, time) else { return Ok(()) };
        let latest = self.latest_answer(other.set, &answer.form, &answer.step, answer.item.as_deref());
        let past = self.past.as_ref().and_then(|p| p.latest(other.set, answer));
        if latest.map(|(_, a)| a.stamp.seq).max(past).is_some_and(|seq| seq != answer.stamp.seq) {
            return broken(
                "citation",
                say!("`{step}` is carried, and was answered again since", step = answer.key()),
            );
        }
        Ok(())
    }

    fn check_one_carried(
        &self,
        permit: &Permit,
        from: &str,
        answer: &Answer,
        time: &str,
    ) -> Result<(), Broken> {
        let key = answer.key();
        if from == permit.number || answer.form != permit.form.hash {
            return broken(
                "citation",
                say!("`{step}` is carried, and was answered here or to another form", step = key),
            );
        }
        if answer.value.is_none() || answer.deviation.is_some() {
            return broken(
                "citation",
                say!("`{step}` is carried, and was left out or left as a deviation", step = key),
            );
        }
        // A wait is carried with its beginning, which is here already when its end comes from the same permit.
        let begun = |a: &Answer| a.value.as_deref() == Some("begun");
        let ends = |b: &Answer| {
            b.carry.as_ref().is_some_and(|c| c.from == from) && begun(b) && b.stamp.seq < answer.stamp.seq
        };
        let last = permit.last_answer(&answer.form, &answer.step, answer.item.as_deref());
        if last.is_some_and(|l| !ends(l) || begun(answer)) {
            return broken(
                "citation",
                say!("`{step}` is carried, and was answered on this permit before", step = key),
            );
        }
        let Some(other) = self.brief(from, time) else { return Ok(()) };
        if other.site != permit.site.id {
            return broken("citation", say!("`{step}` is carried from another site", step = key));
        }
        if !other.issued {
            return broken(
                "citation",
                say!("`{step}` is carried from {from}, which was never issued", step = key, from),
            );
        }
        Ok(())
    }

    pub(super) fn take_carried(&mut self, number: &str, line: &Line, stamp: &Stamp) {
        let carried = self.answers_by_hash(&line.data.texts("answers"));
        let carried: Vec<Answer> = carried
            .into_iter()
            .flatten()
            .map(|(from, answer)| {
                let carry = Carry { stamp: stamp.clone(), from: from.to_owned() };
                Answer { carry: Some(Box::new(carry)), again: None, ..answer.clone() }
            })
            .collect();
        self.with(number, |p| p.answers.extend(carried));
        if self.permits.get(number).is_some_and(|p| p.life == StateWord::Declared) {
            self.change(number, stamp, StateWord::Draft);
        }
    }
}
