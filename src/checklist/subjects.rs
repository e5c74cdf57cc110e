//! The subjects that a form must not leave out, whatever a site changes in it.

use super::{Checklist, Purpose, Step, StepKind};
use crate::finding::{Finding, Place};

/// A subject a life may rest on, and the ids of steps that are about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Subject {
    /// The form it belongs in.
    pub purpose: Purpose,
    /// What it is, for messages: `the siting of the set away from exhaust`.
    pub title: &'static str,
    /// A form is about it if it has all of these steps.
    pub steps: &'static [&'static str],
}

/// The program's own list.
///
/// Common practice, no source, but for what each step names beside itself. A site may write its own
/// words, gates and further steps; these ids must be there and must be able to hold people up.
pub static SUBJECTS: &[Subject] = &[
    work("what the air where people work is like", &["atmosphere"]),
    work("the siting of the set away from exhaust and vents", &["siting_exhaust", "siting_vents"]),
    work("the oil level", &["oil_level"]),
    work("the hours left in the filters", &["filter_hours"]),
    work("the rating of the supply", &["supply_rating"]),
    work("the direction of rotation", &["rotation"]),
    work("the warnings, each seen and heard", &["warning_on"]),
    work("the carbon monoxide monitor, tried with gas", &["co_bump"]),
    work(
        "the pressure of the reserve, read again after the change-over was proved",
        &["reserve_pressure", "reserve_again"],
    ),
    work("where the reserve air came from", &["reserve_air_from"]),
    work("the hoses, inspected and traced by hand", &["hose_inspection", "hose_traced"]),
    work("the escape sets", &["escape_fits", "escape_gauge"]),
    work("everyone breathing at once within the pressure the respirators need", &["all_flowing"]),
    work("the change-over to the reserve under flow", &["changeover_lowest"]),
    work(
        "the air test: its date, oxygen, carbon monoxide and carbon dioxide",
        &["air_test_date", "air_o2", "air_co", "air_co2"],
    ),
    work("the recall signal, tried", &["recall_tried"]),
    work("the seal of each mask", &["seal_check"]),
    shutdown("nobody being on air", &["nobody_on_air"]),
    shutdown("each hose, vented before it is taken off", &["hose_vented"]),
    shutdown("the stop, by the means the set is stopped with", &["stop_set"]),
    shutdown("the gauges at nought, read again after a wait", &["gauges_zero", "zero_again"]),
    shutdown("the supply, isolated and locked", &["isolated"]),
];

const fn work(title: &'static str, steps: &'static [&'static str]) -> Subject {
    Subject { purpose: Purpose::Work, title, steps }
}

const fn shutdown(title: &'static str, steps: &'static [&'static str]) -> Subject {
    Subject { purpose: Purpose::Shutdown, title, steps }
}

/// The subjects that a form leaves out: an error each. A form with any is not to be taken into use;
/// `lint` reports them, and taking a form into a register refuses them.
pub fn missing_subjects(file: &str, c: &Checklist) -> Vec<Finding> {
    let place = Place { file: file.to_owned(), line: 0, column: 0 };
    let mut out = Vec::new();
    for s in SUBJECTS.iter().filter(|s| s.purpose == c.purpose()) {
        for id in s.steps {
            match c.step(id) {
                None => {
                    let message = format!(
                        "a form for {} must be about {}; the step `{id}` is missing",
                        c.purpose().as_str(),
                        s.title
                    );
                    out.push(
                        Finding::error("missing-subject", place.clone(), message)
                            .hint(format!("add a step `{id}`")),
                    );
                }
                Some((_, step)) if !holds(c, step) => {
                    let message = format!(
                        "the step `{id}` is about {} and no answer to it would hold anyone up",
                        s.title
                    );
                    out.push(
                        Finding::error("subject-never-holds", step.place().clone(), message)
                            .hint("give it a gate"),
                    );
                }
                Some((_, step)) if !step.critical() => {
                    let message = format!("the step `{id}` is about {}, and is not critical", s.title);
                    out.push(
                        Finding::error("subject-not-critical", step.place().clone(), message)
                            .hint("write `critical: true`"),
                    );
                }
                Some(_) => {}
            }
        }
    }
    out
}

/// Whether an answer can be refused: by its own gate, or by one that rests on it.
fn holds(c: &Checklist, step: &Step) -> bool {
    let named_by_a_gate = |(_, other): (_, &Step)| {
        other.gate().is_some_and(|g| g.names().any(|u| u.name.first().is_some_and(|n| n == step.id())))
    };
    step.gate().is_some()
        || matches!(step.kind(), StepKind::Confirm | StepKind::Timed(_))
        || c.steps().any(named_by_a_gate)
}
