//! The subjects that a form must not leave out, whatever a site changes in it.

use super::{Checklist, Purpose};
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
pub static SUBJECTS: &[Subject] = &[];

/// The subjects that a form leaves out: an error each. A form with any is not to be taken into use;
/// `lint` reports them, and taking a form into a register refuses them.
pub fn missing_subjects(file: &str, c: &Checklist) -> Vec<Finding> {
    let place = Place { file: file.to_owned(), line: 0, column: 0 };
    let mut out = Vec::new();
    for s in SUBJECTS.iter().filter(|s| s.purpose == c.purpose()) {
        for id in s.steps.iter().filter(|id| c.step(id).is_none()) {
            let message = format!("a form for {} must be about {}; the step `{id}` is missing", c.purpose().as_str(), s.title);
            out.push(Finding::error("missing-subject", place.clone(), message).hint(format!("add a step `{id}`")));
        }
    }
    out
}
