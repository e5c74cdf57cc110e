//! Refusals judged again: what was refused, would the rules refuse it?
//!
//! A `denied` keeps what was asked and why it was refused, not everything that was typed. What can be worked out from
//! that is: who may go on air or in, what may be started and stopped. Of the others it is said that they cannot be.

use super::{Why, compare};
use crate::permit::decide::Known;
use crate::permit::decide::air::{self, Move};
use crate::permit::state::Permit;
use crate::record::json::Json;
use crate::tongue::say;

/// What came of a refusal.
pub(super) enum Judged {
    /// What the rules say otherwise; empty if they say the same.
    Found(Vec<Why>),
    /// What was typed is not in the record.
    CannotBe,
}

/// Judges a refusal on what was known before it.
pub(super) fn judge(known: &Known<'_>, permit: Option<&Permit>, data: &Json) -> Judged {
    let request = data.text("request").unwrap_or_default();
    let again = match (request.split_once(": "), request.split_once(' '), permit) {
        (Some(("on air", person)), _, Some(p)) => air::forbidden(known, p, person, Move::OnAir),
        (Some(("in", person)), _, Some(p)) => air::forbidden(known, p, person, Move::In),
        (_, Some(("start", set)), None) => air::start_forbidden(known, set),
        (_, Some(("stop", set)), None) => air::stop_forbidden(known, set),
        (_, _, _) => return Judged::CannotBe,
    };
    let stands = data.texts("why");
    // That the clock is behind the last line no line can show.
    let by_clock = compare::judgeable(stands.iter().copied()).len() < stands.len();
    let again = compare::judgeable(again.iter().take(64).map(String::as_str));
    if again.is_empty() && !by_clock {
        let (request, why) = (request.to_owned(), stands.join("; "));
        return Judged::Found(vec![Why::said(move || {
            say!("`{request}` was refused, and the rules allow it: {why}", request, why)
        })]);
    }
    Judged::Found(compare::reasons(&compare::judgeable(stands), &again))
}
