//! Proof of `walked`: whether what is kept from line to line is what would be worked out anew.
//!
//! After every line every step of every permit of its set, on each of its forms, is worked out twice. That is far slower than
//! replay without anything kept: it is asked by tests alone.

use super::judge::Judge;
use super::place;
use crate::permit::bench::Bench;
use crate::permit::decide::answer;
use crate::permit::decide::{Known, Recall};
use crate::permit::state::{Permit, State};
use crate::permit::walk;
use crate::record::chain::Chain;
use crate::record::line::Line;
use crate::time::Moment;
use crate::view::LineNo;
use std::collections::HashSet;
use std::rc::Rc;

/// What is kept of a step is not what would be worked out anew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stray {
    /// After which line.
    pub line: LineNo,
    /// Of which permit.
    pub permit: String,
    /// Step, item and how it stands by what is kept; `None` where it was taken as done without looking.
    pub kept: Option<String>,
    /// The same, worked out anew.
    pub anew: String,
}

/// Every stray there is, and how many standings were compared.
pub fn strays(lines: &[Line]) -> (Vec<Stray>, u64) {
    let (mut out, mut compared) = (Vec::new(), 0);
    let Some(Ok(mut chain)) = lines.first().map(Chain::first) else { return (out, compared) };
    let mut state = State::default();
    let mut judge = Judge::new();
    for (i, line) in lines.iter().enumerate() {
        let now = Moment { time: line.time.to_string(), zone: line.zone.to_string() };
        let at = place(&chain, &state, line);
        if i > 0 {
            judge.came(&Known::new(&chain, &state, &now), line);
            chain.again(line);
        }
        if state.take(line).is_err() {
            break;
        }
        let known = Known::new(&chain, &state, &now);
        judge.took(&known, line);
        let own = line.permit.as_ref().and_then(|n| state.permits.get(n)).map(|p| p.set.id.as_str());
        let set = own.or(line.data.text("set"));
        for permit in state.permits.values().filter(|p| Some(p.set.id.as_str()) == set) {
            for shutdown in [false, true] {
                let (of_form, standings) = of_permit(&judge, &known, permit, shutdown);
                compared += standings;
                let stray = |(kept, anew)| Stray { line: at, permit: permit.number.clone(), kept, anew };
                out.extend(of_form.into_iter().map(stray));
            }
        }
    }
    (out, compared)
}

/// Step, whether it holds nobody up, and all that is said of how it stands.
fn told(bench: &Bench<'_>) -> Vec<(String, bool, String)> {
    let one = |s: walk::Stand<'_>| {
        let words = format!("{} {:?} {:?} {:?} {}", s.step.id(), s.item_id(), s.standing, s.why, s.aged);
        (s.step.id().to_owned(), s.done() || s.aged, words)
    };
    walk::walk(bench).into_iter().map(one).collect()
}

/// What is kept of a form that is not what is worked out anew, both; and of how many standings.
fn of_permit(
    judge: &Judge,
    known: &Known<'_>,
    permit: &Permit,
    shutdown: bool,
) -> (Vec<(Option<String>, String)>, u64) {
    let recalled = Rc::clone(&judge.recalled);
    let with = Known { recall: Some(&*recalled), ..*known };
    let Ok(texts) = recalled.texts(&with, permit) else { return (Vec::new(), 0) };
    let kept = answer::bench(&with, permit, &texts, shutdown);
    let anew = answer::bench(known, permit, &texts, shutdown);
    let (Ok(kept), Ok(anew)) = (kept, anew) else { return (Vec::new(), 0) };
    let anew = told(&anew);
    // Asked first: what it finds done without looking must be so.
    let looked_at = recalled.walked.borrow_mut().before(&kept, &texts, "");
    let looked_at: HashSet<&str> = looked_at.iter().map(|s| s.step.id()).collect();
    let held_up = anew.iter().filter(|(step, passes, _)| !passes && !looked_at.contains(step.as_str()));
    let mut out: Vec<(Option<String>, String)> = held_up.map(|(_, _, words)| (None, words.clone())).collect();
    let kept = told(&kept);
    for i in 0..kept.len().max(anew.len()) {
        let words = |all: &[(String, bool, String)]| all.get(i).map(|(_, _, words)| words.clone());
        let (kept, anew) = (words(&kept), words(&anew));
        if kept != anew {
            out.push((kept, anew.unwrap_or_default()));
        }
    }
    (out, anew.len() as u64)
}
