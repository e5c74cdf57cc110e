//! The few words paper adds to a view: headings of columns and sections, and the one word across a
//! sheet that is not live. Everything else on the sheet comes from the view.
//!
//! Not here: other languages than English yet; an unknown language gets English.

use crate::view::{PermitView, Standing, StateWord};

/// The word across the sheet and in the running head, from the state alone, so that a wrong text in
/// the view cannot hide that a permit is not live.
pub fn state(state: StateWord) -> &'static str {
    match state {
        StateWord::Draft => "DRAFT",
        StateWord::Declared => "NOT YET LIVE",
        StateWord::Live => "LIVE",
        StateWord::Suspended => "SUSPENDED",
        StateWord::HandedBack => "HANDED BACK",
        StateWord::Closed => "CLOSED",
        StateWord::Refused => "REFUSED",
        StateWord::Cancelled => "CANCELLED",
        StateWord::Lapsed => "LAPSED",
    }
}

/// How a step stands, as a word beside its sign.
pub fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Open => "met",
        Standing::Hold => "HOLD",
        Standing::Waiting => "waiting",
        Standing::NotApplicable => "not applicable",
        Standing::OutOfService => "out of service",
    }
}

/// "page n of m".
pub fn page(n: usize, of: usize) -> String {
    format!("page {n} of {of}")
}

/// "as of line n".
pub fn as_of(line: u64) -> String {
    format!("as of line {line}")
}

/// How many steps stand how, in one sentence.
pub fn counts(view: &PermitView) -> String {
    let steps = || view.stages.iter().flat_map(|s| &s.steps);
    let count = |s: Standing| steps().filter(|step| step.standing == s).count();
    let held = steps()
        .filter(|s| s.answers.iter().any(|a| a.standing == Standing::Hold))
        .count();
    format!(
        "{} steps: {} met, {} on hold, {} waiting, {} not applicable, {} out of service. {} had a hold at some time.",
        steps().count(),
        count(Standing::Open),
        count(Standing::Hold),
        count(Standing::Waiting),
        count(Standing::NotApplicable),
        count(Standing::OutOfService),
        held
    )
}

/// Over the number.
pub const PERMIT: &str = "AIR PERMIT";
/// Under the check word.
pub const CHECK_WORD_USE: &str =
    "Ask by radio for the word. If it differs, this sheet is out of date: take it down.";
/// Under the QR code.
pub const TOKEN_USE: &str = "Proves that this permit was issued. It does not prove that this sheet is the only copy, nor that the permit is still live.";
/// After a title that comes again.
pub const CONTINUED: &str = "continued";
