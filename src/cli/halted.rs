//! What a line that stops the work did to the permits of its set, in words.
//!
//! Always: only what was live before the line and is suspended after it is said to be suspended by it.

use crate::permit::decide::Known;
use crate::tongue::say;
use crate::view::StateWord;
use std::collections::BTreeMap;

/// How every permit that had not ended stood before the line.
#[derive(Default)]
pub struct Before(BTreeMap<String, (String, StateWord)>);

impl Before {
    /// As things stand.
    pub fn of(known: &Known<'_>) -> Before {
        let open = known.state.not_ended(known.time());
        Before(open.map(|p| (p.number.clone(), (p.set.id.clone(), known.life(p)))).collect())
    }

    /// What came of it by how they stand now: of the permit or set that the line names, and of every other permit of
    /// that set that no line of `own` tells of. And whether anything is suspended by now.
    pub fn came_of(
        &self,
        known: &Known<'_>,
        permit: Option<&str>,
        set: Option<&str>,
        own: &[&str],
    ) -> (bool, String) {
        let named = permit.and_then(|n| known.state.permits.get(n));
        let set = named.map(|p| p.set.id.as_str()).or(set).unwrap_or_default();
        let (mut halted, mut already, mut drafts) = (Vec::new(), Vec::new(), Vec::new());
        for (number, (of, before)) in &self.0 {
            if of != set || permit == Some(number) || own.contains(&number.as_str()) {
                continue;
            }
            let now = known.state.permits.get(number).map(|p| known.life(p));
            match (before, now) {
                (StateWord::Live, Some(StateWord::Suspended)) => halted.push(number.as_str()),
                (StateWord::Suspended, Some(StateWord::Suspended)) => already.push(number.as_str()),
                (StateWord::Declared, Some(StateWord::Draft)) => drafts.push(number.as_str()),
                (_, _) => {}
            }
        }
        let stands = named.is_some_and(|p| known.life(p) == StateWord::Suspended);
        let suspended = stands || !halted.is_empty() || !already.is_empty();
        let mut words: Vec<String> =
            named.map(|p| self.of_one(&p.number, known.life(p))).into_iter().collect();
        if !halted.is_empty() {
            let permits = halted.join(", ");
            words.push(if named.is_some() {
                say!("suspended too: {permits}", permits)
            } else {
                say!("suspended: {permits}", permits)
            });
        }
        if !drafts.is_empty() {
            words.push(say!("no longer declared, a draft again: {permits}", permits = drafts.join(", ")));
        }
        if named.is_none() && !already.is_empty() {
            words.push(say!("suspended as before: {permits}", permits = already.join(", ")));
        }
        if words.is_empty() {
            words.push(say!("no permit on it was live, so none was suspended").to_owned());
        }
        (suspended, words.join("; "))
    }

    fn of_one(&self, number: &str, now: StateWord) -> String {
        let before = self.0.get(number).map(|(_, state)| *state);
        match (before, now) {
            (_, StateWord::Suspended) if before == Some(StateWord::Suspended) => {
                say!("suspended as before").to_owned()
            }
            (_, StateWord::Suspended) => say!("suspended").to_owned(),
            (Some(StateWord::Declared), StateWord::Draft) => {
                say!("it was declared, not live: it is a draft again, to be declared anew").to_owned()
            }
            (_, ended) if ended.ended() => say!("it is {state} and stays so", state = ended.word()),
            (_, other) => {
                say!("it was not live but {state}, so it was not suspended", state = other.word())
            }
        }
    }
}
