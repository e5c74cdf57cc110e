//! Refusals judged again: what was refused, would the rules refuse it, and for these reasons?
//!
//! A `denied` keeps what was asked and why it was refused, not everything that was typed, nor who would have signed. What
//! can be worked out from that is: who may go on air or in, what may be started and stopped, whether a set may come or go,
//! and acts that rest on nothing typed but words, for whoever of the roster they come out as they stand. Of the others it
//! is said that they cannot be.

use super::{Why, compare};
use crate::permit::decide::air::{self, Move, Told};
use crate::permit::decide::sign::{self, Hand, Handing, Later, Limits, Signing};
use crate::permit::decide::{Known, witness};
use crate::permit::state::Permit;
use crate::record::json::Json;
use crate::tongue::{Tongue, say};
use crate::view::StateWord;

/// What came of a refusal.
pub(super) enum Judged {
    /// What the rules say otherwise; empty if they say the same.
    Found(Vec<Why>),
    /// What was typed is not in the record.
    CannotBe,
    /// Nothing is asked by this name.
    NoRequest(Why),
}

/// What else is asked for and rests on what was typed, by its first word.
const TYPED: [&str; 4] = ["change", "witness", "bring", "begin"];

/// Judges a refusal on what was known before it.
pub(super) fn judge(known: &Known<'_>, permit: Option<&Permit>, data: &Json) -> Judged {
    let request = data.text("request").unwrap_or_default();
    let set = data.text("set").unwrap_or_default();
    let stands = data.texts("why");
    // That the clock is behind the last line no line can show.
    let by_clock = compare::judgeable(stands.iter().copied()).len() < stands.len();
    let again = match (request.split_once(": "), permit) {
        (Some(("on air", person)), Some(p)) => {
            compare::since_held(known, p, &stands, air::forbidden(known, p, person, Move::OnAir))
        }
        (Some(("in", person)), Some(p)) => {
            compare::since_held(known, p, &stands, air::forbidden(known, p, person, Move::In))
        }
        (_, None) if request == "started" || asks(request, &|| say!("start {set}", set)) => {
            air::start_forbidden(known, set)
        }
        (_, None) if request == "stopped" || asks(request, &|| say!("stop {set}", set)) => {
            air::stop_forbidden(known, set)
        }
        (_, None) if matches!(request, "taken" | "released") => {
            let kind = if request == "taken" { "taken" } else { "released" };
            let comes = witness::comes(known, kind, set, None, &Told::default(), "");
            comes.err().map(|r| r.why).unwrap_or_default()
        }
        // Asked for on a permit, as the demo's crew does.
        (_, Some(p)) if request.starts_with("stop ") => air::stop_forbidden(known, &p.set.id),
        (_, Some(p)) if !acts(known, p, request).is_empty() => {
            return if by_clock { Judged::Found(Vec::new()) } else { signed(known, p, request, &stands) };
        }
        (_, _) if is_asked(request) => return Judged::CannotBe,
        (_, _) => {
            let request = request.to_owned();
            return Judged::NoRequest(Why::said(move || {
                say!("nothing that is asked of a register is called `{request}`: who refused it?", request)
            }));
        }
    };
    let again = compare::judgeable(again.iter().take(64).map(String::as_str));
    if again.is_empty() && !by_clock {
        return Judged::Found(vec![allowed(request, &stands)]);
    }
    Judged::Found(compare::reasons(&compare::judgeable(stands), &again))
}

/// Whether anything is asked by this name of which no line keeps what was typed.
fn is_asked(request: &str) -> bool {
    let signed = [
        Signing::Countersign(Limits::default()),
        Signing::AskLater(Later::default()),
        Signing::HandOver(Handing::default()),
    ];
    let first = request.split(' ').next().unwrap_or_default();
    TYPED.contains(&first) || signed.iter().any(|s| s.word() == request)
}

/// Whether a request is called so in any language: it is kept in that of whoever asked.
fn asks(request: &str, words: &dyn Fn() -> String) -> bool {
    Tongue::ALL.into_iter().any(|t| t.within(words) == request)
}

fn allowed(request: &str, stands: &[&str]) -> Why {
    let (request, why) = (request.to_owned(), stands.join("; "));
    Why::said(move || say!("`{request}` was refused, and the rules allow it: {why}", request, why))
}

/// The acts that a request may have been, where nothing typed but words is in them.
fn acts(known: &Known<'_>, permit: &Permit, request: &str) -> Vec<Signing> {
    let words = || "x".to_owned();
    let back = |left_running| Signing::HandBack { left_running, reason: None };
    let mut out = vec![
        Signing::Declare,
        Signing::Close,
        Signing::GiveLater,
        Signing::TakeOver,
        Signing::Refuse { reason: words() },
        Signing::Cancel { reason: words() },
        Signing::Reinstate { cause: words() },
        back(None),
    ];
    out.retain(|act| act.word() == request);
    if out.contains(&back(None)) {
        let of_set = |p: &&Permit| {
            p.set.id == permit.set.id && p.number != permit.number && known.life(p) == StateWord::Live
        };
        let others = known.state.in_use(known.time()).filter(of_set);
        out.extend(others.map(|p| back(Some(p.number.clone()))));
    }
    out
}

/// Who may have asked: the holder, everybody of the roster, and whoever a reason names.
fn askers(known: &Known<'_>, permit: &Permit, stands: &[&str]) -> Vec<String> {
    let holder = permit.job.text("holder").map(str::to_owned);
    let roster = known.chain.origin.roster.persons.iter().map(|p| p.id.clone());
    let named = stands.iter().filter_map(|w| w.split('`').nth(1)).map(str::to_owned);
    let mut out: Vec<String> = Vec::new();
    for id in holder.into_iter().chain(roster).chain(named) {
        if !out.contains(&id) {
            out.push(id);
        }
    }
    out
}

/// A refusal of an act: right if it comes out as it stands for anybody; else what is nearest to it is told.
fn signed(known: &Known<'_>, permit: &Permit, request: &str, stands: &[&str]) -> Judged {
    let acts = acts(known, permit, request);
    let mut nearest: Option<Vec<Why>> = None;
    for by in askers(known, permit, stands) {
        for act in &acts {
            let prepared = sign::prepare(known, &permit.number, act, &Hand::here(&by));
            let again = prepared.err().map(|r| r.why).unwrap_or_default();
            let typed =
                matches!(act, Signing::Refuse { .. } | Signing::Cancel { .. } | Signing::Reinstate { .. });
            if again.is_empty() && typed {
                // What is left is the words, which no line keeps.
                return Judged::CannotBe;
            }
            let again: Vec<&str> = again.iter().take(64).map(String::as_str).collect();
            let differs = if again.is_empty() {
                vec![allowed(request, stands)]
            } else {
                compare::reasons(stands, &again)
            };
            if differs.is_empty() {
                return Judged::Found(differs);
            }
            if nearest.as_ref().is_none_or(|n| differs.len() < n.len()) {
                nearest = Some(differs);
            }
        }
    }
    // For which other permit the set would have been left running was typed.
    let back = |act: &Signing| matches!(act, Signing::HandBack { .. });
    let nearest = nearest.filter(|_| !acts.iter().any(back));
    nearest.map_or(Judged::CannotBe, Judged::Found)
}
