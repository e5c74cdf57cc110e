//! What is kept of permits that are over, where only the verdict of a whole register is wanted: what later lines may ask
//! of them, on few bytes, so that what is at hand does not grow with the register.
//!
//! Kept are of every permit its set, its site, its last state and whether it was issued; of answers the latest of each
//! step on a set, and the beginning of a wait before its end: no other may be carried. Always: either the rules come out
//! as with everything kept, or `FORGOTTEN` is said, and whoever asks reads the register again keeping everything. A
//! permit under rules not known here is never reduced: of it anything may still come.

use super::{Answer, Permit, State};
use crate::record::chain::{Number, RULES};
use crate::record::json::SmolStr;
use crate::record::kinds::ANY;
use crate::record::line::{Broken, Line, broken};
use crate::tongue::say;
use crate::view::StateWord;
use foldhash::{HashMap, HashSet};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::Arc;

/// What is kept of permits that are over.
#[derive(Clone, Debug, Default)]
pub(super) struct Past {
    permits: BTreeMap<Number, Settled>,
    /// Sets, sites and forms by what stands for them in [`Settled`] and [`Step`].
    names: Vec<String>,
    /// The latest answer of a step on a set.
    latest: BTreeMap<Step, Latest>,
    /// Ended since it was last asked which.
    ended: Vec<String>,
}

/// Set and form as in [`Settled`], step and item.
type Step = (u32, u32, SmolStr, Option<SmolStr>);

#[derive(Clone, Debug)]
struct Latest {
    /// The permit it was given on.
    number: SmolStr,
    answer: Answer,
    /// The beginning of a wait that it ends, on the same permit.
    begun: Option<Answer>,
}

#[derive(Clone, Copy, Debug)]
struct Settled {
    set: u32,
    site: u32,
    life: StateWord,
    issued: bool,
}

/// What a line may ask of another permit than its own, or of its own once that is over.
pub(super) struct Brief<'a> {
    pub set: &'a str,
    pub site: &'a str,
    /// Countersigned once.
    pub issued: bool,
    pub known_rules: bool,
    pub life: StateWord,
}

impl Past {
    fn name(&mut self, name: &str) -> u32 {
        let at = self.names.iter().position(|n| n == name).unwrap_or_else(|| {
            self.names.push(name.to_owned());
            self.names.len() - 1
        });
        u32::try_from(at).unwrap_or(u32::MAX)
    }

    fn named(&self, name: u32) -> &str {
        self.names.get(name as usize).map_or("", String::as_str)
    }

    fn brief(&self, number: &str) -> Option<Brief<'_>> {
        let s = self.permits.get(&Number::of(number)?)?;
        let (set, site) = (self.named(s.set), self.named(s.site));
        Some(Brief { set, site, issued: s.issued, known_rules: true, life: s.life })
    }

    /// The answers that these lines gave, and the permits on which.
    pub(super) fn answers(&self, hashes: &HashSet<&str>) -> HashMap<&str, (&str, &Answer)> {
        // A few for each step: none is looked for often enough to be kept by H too.
        let all = self.latest.values().flat_map(|l| {
            let both = std::iter::once(&l.answer).chain(&l.begun);
            both.map(|a| (a.stamp.hash.as_str(), (l.number.as_str(), a)))
        });
        all.filter(|(hash, _)| hashes.contains(hash)).collect()
    }

    /// The place of the latest answer to a step on a set.
    pub(super) fn latest(&self, set: &str, answer: &Answer) -> Option<u64> {
        let named =
            |name: &str| self.names.iter().position(|n| n == name).and_then(|at| u32::try_from(at).ok());
        let step = step(named(set)?, named(&answer.form)?, answer);
        self.latest.get(&step).map(|l| l.answer.stamp.seq)
    }

    fn settle(&mut self, permit: Permit, life: StateWord) {
        let Some(number) = Number::of(&permit.number) else { return };
        let (set, site) = (self.name(&permit.set.id), self.name(&permit.site.id));
        let issued = permit.last_signed("countersign").is_some();
        self.permits.insert(number, Settled { set, site, life, issued });
        if life.ended() {
            self.ended.push(permit.number.clone());
        }
        let number = SmolStr::from(permit.number);
        for answer in permit.answers.into_iter().filter(|a| a.carry.is_none()) {
            self.remember(set, &number, answer);
        }
    }

    fn remember(&mut self, set: u32, number: &SmolStr, answer: Answer) {
        let new = |answer, begun| Latest { number: number.clone(), answer, begun };
        let step = step(set, self.name(&answer.form), &answer);
        match self.latest.entry(step) {
            Entry::Vacant(none) => {
                none.insert(new(answer, None));
            }
            Entry::Occupied(before) if before.get().answer.stamp.seq > answer.stamp.seq => {}
            Entry::Occupied(mut before) => {
                let before = before.get_mut();
                // It is carried with its end, and from the same permit only.
                let old = std::mem::replace(before, new(answer, None));
                if old.number == *number {
                    let begun = old.answer.value.as_deref() == Some("begun");
                    before.begun = if begun { Some(old.answer) } else { old.begun };
                }
            }
        }
    }
}

fn step(set: u32, form: u32, a: &Answer) -> Step {
    (set, form, a.step.as_str().into(), a.item.as_deref().map(SmolStr::new))
}

impl State {
    /// A state from which only the verdict on a whole register is wanted.
    pub fn for_a_verdict() -> State {
        State { past: Some(Box::default()), ..State::default() }
    }

    /// Whether all is kept that is shown to people, and not only what later lines are judged by.
    pub(super) fn keeps_all(&self) -> bool {
        self.past.is_none()
    }

    /// Whether a permit was opened.
    pub(super) fn knows(&self, number: &str) -> bool {
        self.permits.contains_key(number) || self.settled(number).is_some()
    }

    fn settled(&self, number: &str) -> Option<Brief<'_>> {
        self.past.as_ref().and_then(|p| p.brief(number))
    }

    /// What may be asked of a permit at a time.
    pub(super) fn brief(&self, number: &str, time: &str) -> Option<Brief<'_>> {
        let Some(p) = self.permits.get(number) else { return self.settled(number) };
        Some(Brief {
            set: &p.set.id,
            site: &p.site.id,
            issued: p.last_signed("countersign").is_some(),
            known_rules: p.rules == RULES,
            life: self.life(p, time),
        })
    }

    /// Checks a line of a permit that is over, of which only little is kept; the permit's set.
    pub(super) fn check_settled(&self, number: &str, line: &Line) -> Option<Result<String, Broken>> {
        let s = self.settled(number)?;
        let set = s.set.to_owned();
        if !may_stand(line, s.life) {
            return Some(does_not_stand(line, s.life));
        }
        // Of the rules that the table of states does not hold no other asks for a permit that is over.
        let nobody = if line.kind.name == "close" { self.check_nobody(number, "close") } else { Ok(()) };
        Some(nobody.map(|()| set))
    }

    /// A permit that is over comes into another state: it is closed.
    pub(super) fn change_settled(&mut self, number: &str, to: StateWord) {
        let Some((past, n)) = self.past.as_mut().zip(Number::of(number)) else { return };
        if let Some(s) = past.permits.get_mut(&n) {
            s.life = to;
            if to.ended() {
                past.ended.push(number.to_owned());
            }
        }
    }

    /// After a line: what is over is reduced to what later lines may ask of it.
    pub(super) fn settle(&mut self, line: &Line) {
        let Some(mut past) = self.past.take() else { return };
        let mut over: Vec<(String, StateWord)> = Vec::new();
        if line.kind.name == "open" {
            // Time alone ended others: nothing leads out of that either.
            let all = self.permits.values().filter(|p| p.rules == RULES);
            over.extend(all.map(|p| (p.number.clone(), self.life(p, &line.time))).filter(|(_, l)| l.over()));
        } else if let Some(p) = line.permit.as_ref().and_then(|n| self.permits.get(n))
            && p.rules == RULES
            && p.life.over()
        {
            over.push((p.number.clone(), p.life));
        }
        for (number, life) in over {
            if let Some(permit) = self.permits.remove(&number) {
                past.settle(Arc::unwrap_or_clone(permit), life);
            }
        }
        self.past = Some(past);
    }

    /// A volume before is missing: whatever was known of permits may be otherwise.
    pub(super) fn forget_the_past(&mut self) {
        if self.past.is_some() {
            self.past = Some(Box::default());
        }
    }

    /// Permits that have ended since this was last asked, where only the verdict is wanted.
    pub fn have_ended(&mut self) -> Vec<String> {
        self.past.as_mut().map(|p| std::mem::take(&mut p.ended)).unwrap_or_default()
    }

    /// Every permit and its state at a time, by number.
    pub fn lives(&self, time: &str) -> Vec<(String, &'static str)> {
        let now = self.permits.values().map(|p| (p.number.clone(), self.life(p, time).english()));
        let past = self.past.as_ref().map(|p| &p.permits);
        // Of exactly so many there is room: they may be thousands.
        let mut all = Vec::with_capacity(now.len() + past.map_or(0, BTreeMap::len));
        all.extend(past.into_iter().flatten().map(|(n, s)| (n.as_str().to_owned(), s.life.english())));
        all.extend(now);
        all.sort_unstable();
        all
    }
}

/// Whether a line's kind may stand on a permit in a state.
pub(super) fn may_stand(line: &Line, life: StateWord) -> bool {
    let any = line.kind.states.len() == ANY.len();
    any || line.kind.states.contains(&life)
}

/// A line of a kind that the state of its permit does not allow.
pub(super) fn does_not_stand<T>(line: &Line, life: StateWord) -> Result<T, Broken> {
    broken(
        "state",
        say!(
            "`{kind}` does not stand on a permit that is {state}",
            kind = line.kind.name,
            state = life.word()
        ),
    )
}
