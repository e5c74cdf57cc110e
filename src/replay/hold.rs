//! Answers that held, and when they were cleared.

use super::Replayed;
use super::walked::Walked;
use crate::checklist::StepKind;
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::Known;
use crate::permit::state::Permit;
use crate::permit::walk;
use crate::record::line::Line;
use crate::time::seconds;
use crate::view::{LineNo, Standing};
use foldhash::HashMap;
use serde::Serialize;
use std::cell::RefCell;
use std::collections::hash_map::Entry;

/// An answer whose gate was not open when it was given.
#[derive(Clone, Debug, Serialize)]
pub struct Hold {
    /// The answer's line.
    #[serde(flatten)]
    pub line: LineNo,
    /// Permit.
    pub permit: String,
    /// Set.
    pub set: String,
    /// Id of the form.
    pub form: String,
    /// Step.
    pub step: String,
    /// Item.
    pub item: Option<String>,
    /// What it is called.
    pub label: String,
    /// Why it held.
    pub why: Vec<String>,
    /// UTC.
    pub time: String,
    /// Offset of the site then.
    pub zone: String,
    /// The line that cleared it, UTC, and what was done by its own words.
    pub cleared: Option<Cleared>,
}

/// What cleared a hold.
#[derive(Clone, Debug, Serialize)]
pub struct Cleared {
    /// Line.
    #[serde(flatten)]
    pub line: LineNo,
    /// UTC.
    pub time: String,
    /// Seconds since it held.
    pub seconds: i64,
    /// `refilled`, `read_wrong`, ..., `left_out`, `deviation`.
    pub how: String,
}

/// How often a step was answered.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct Asked {
    /// Answers that were given, but for carried ones and ends of waits.
    pub answers: u64,
    /// Of them, so many held.
    pub held: u64,
    /// Of them, so many replaced one that was "read wrong".
    pub read_wrong: u64,
    /// It has a gate that an answer can shut.
    pub gated: bool,
}

impl Asked {
    /// Together with others.
    pub(super) fn add(&mut self, other: &Asked) {
        self.answers += other.answers;
        self.held += other.held;
        self.read_wrong += other.read_wrong;
        self.gated |= other.gated;
    }
}

/// Permit, form, step and item.
type Key = (String, String, String, Option<String>);

/// Holds that are not cleared yet, by their place among all.
#[derive(Default)]
pub struct Open(HashMap<Key, usize>);

impl Open {
    /// Judges an answer's gate as it is with the answer, and opens or clears its hold.
    pub(super) fn answered(
        &mut self,
        known: &Known<'_>,
        permit: &Permit,
        texts: &Texts,
        line: &Line,
        (walked, out): (&RefCell<Walked>, &mut Replayed),
    ) {
        let data = &line.data;
        let Some(step_id) = data.text("step") else { return };
        let hash = data.text("form").unwrap_or_default();
        let bench = if hash == permit.form.hash {
            Some(known.bench(permit, texts))
        } else {
            let own = Bench::new(known.state, permit, texts, known.now);
            own.shutdown().map(|b| known.recalled(b))
        };
        let Some(bench) = bench else { return };
        let item = data.text("item");
        let stands = walk::of_step(&bench, step_id);
        walked.borrow_mut().seen(&bench, step_id, &stands);
        let Some(stand) = stands.iter().find(|s| s.item_id() == item) else { return };
        let begins = matches!(stand.step.kind(), StepKind::Timed(_)) && data.text("value") == Some("begun");
        if begins {
            return;
        }
        let held = stand.standing == Standing::Hold;
        let form = bench.form.id().to_owned();
        let asked = out.asked.entry((form.clone(), step_id.to_owned())).or_default();
        asked.gated |= stand.step.gate().is_some() || matches!(stand.step.kind(), StepKind::Confirm);
        if !data.has("deviation") {
            asked.answers += 1;
            asked.held += u64::from(held);
            asked.read_wrong += u64::from(data.text("again") == Some("read_wrong"));
        }
        if !held && self.0.is_empty() {
            return;
        }
        let key = (permit.number.clone(), hash.to_owned(), step_id.to_owned(), item.map(str::to_owned));
        if held {
            if let Entry::Vacant(first) = self.0.entry(key) {
                first.insert(out.holds.len());
                out.holds.push(Hold {
                    line: known.state.at(line),
                    permit: permit.number.clone(),
                    set: permit.set.id.clone(),
                    form,
                    step: step_id.to_owned(),
                    item: item.map(str::to_owned),
                    label: stand.label(),
                    why: stand.why.clone(),
                    time: line.time.to_string(),
                    zone: line.zone.to_string(),
                    cleared: None,
                });
            }
            return;
        }
        if let Some(hold) = self.0.remove(&key).and_then(|i| out.holds.get_mut(i)) {
            let how = match (data.has("deviation"), data.has("left_out"), data.text("again")) {
                (true, _, _) => "deviation",
                (_, true, _) => "left_out",
                (_, _, again) => again.unwrap_or_default(),
            };
            hold.cleared = Some(Cleared {
                line: known.state.at(line),
                time: line.time.to_string(),
                seconds: seconds(&line.time) - seconds(&hold.time),
                how: how.to_owned(),
            });
        }
    }
}
