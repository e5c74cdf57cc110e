//! Steps found by what they ask, whatever a site calls them: for whoever reads what was answered.
//!
//! Not here: what a form must ask (`subjects`).

use super::{Checklist, Step, StepKind};

/// How a language is asked for, in the languages that forms are written in here. The bare Polish word is a tongue too.
const LANGUAGE: [&[&str]; 3] = [&["language"], &["jakim", "języku"], &["якою", "мовою"]];

impl Checklist {
    /// The steps of the stage of this step whose answers tell something, in the form's order.
    pub fn told_beside(&self, id: &str) -> Vec<&str> {
        let of_stage = self.step(id).map(|(stage, _)| stage.steps()).unwrap_or_default();
        of_stage.iter().filter(|s| is_told(s)).map(Step::id).collect()
    }

    /// The steps that ask for a language.
    pub fn asking_language(&self) -> Vec<&str> {
        let asks = |s: &&Step| {
            let called = s.called().into_iter().flat_map(|w| w.texts());
            let mut words = s.ask().words().texts().iter().chain(called).map(|(_, w)| w.to_lowercase());
            words.any(|w| LANGUAGE.iter().any(|l| l.iter().all(|part| w.contains(part))))
        };
        self.steps().map(|(_, s)| s).filter(|s| is_told(s)).filter(asks).map(Step::id).collect()
    }
}

/// A reading, a choice, words. That something was done tells no figure.
fn is_told(step: &Step) -> bool {
    match step.kind() {
        StepKind::Reading(_) | StepKind::Choice(_) | StepKind::Text => true,
        StepKind::Confirm | StepKind::Date | StepKind::Derived(_) | StepKind::Timed(_) => false,
    }
}
