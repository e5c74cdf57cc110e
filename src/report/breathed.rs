//! Whether anybody was on air while a reading or a test of it was out of its limits, whatever else was going on.
//!
//! Always: on air counts from the earlier to the later of told and entered, and so does the reading. Somebody whose mask is
//! never told off breathes on. Not here: what is out of limits (`replay::against`), what is not read (`questions`).

use super::plain::Plain;
use super::tally::{Spell, Tally};
use super::{At, Input, names};
use crate::audit::numbered;
use crate::replay::Against;
use crate::text::safe_line;
use crate::tongue::{say, say_n};

/// So many are told in words.
const TOLD: usize = 3;

/// Whether somebody breathed a set's air at what a line tells of.
fn breathed(a: &Against, s: &Spell) -> bool {
    let from = s.told.as_ref().unwrap_or(&s.from.utc).min(&s.from.utc);
    let off = s.to.as_ref().map(|to| s.told_off.as_ref().unwrap_or(&to.utc).max(&to.utc));
    s.set == a.set && *from <= a.time && off.is_none_or(|off| *off > *(&a.told).min(&a.time))
}

/// The plain answer.
pub(super) fn air(input: &Input<'_>, tally: &Tally) -> Plain {
    let known = names::of(input);
    let (mut all, mut unknown) = (Vec::new(), Vec::new());
    for a in &input.replayed.against {
        let who: Vec<&Spell> = tally.spells.iter().filter(|s| breathed(a, s)).collect();
        if !who.is_empty() {
            let at = At::new(a.line, &a.time, &a.zone);
            if a.judged {
                all.push((a, who, at));
            } else {
                unknown.push((a, at));
            }
        }
    }
    let mut told: Vec<String> = Vec::new();
    for (a, who, at) in all.iter().take(TOLD) {
        let mut names: Vec<String> =
            who.iter().map(|s| safe_line(known.name(&s.person).unwrap_or(&s.person)).into_owned()).collect();
        names.sort();
        names.dedup();
        told.push(say!(
            "line {line}, {time}: {why}; on this air then: {names}",
            line = at.line,
            time = at.site,
            why = a.why.iter().map(|w| safe_line(w)).collect::<Vec<_>>().join("; "),
            names = names.join(", ")
        ));
    }
    if let Some(more @ 1..) = all.len().checked_sub(TOLD) {
        told.push(say!("{n} more", n = more));
    }
    // The first and the last of them: where to look.
    let mut read = numbered(&input.verified.lines).filter(|(_, l)| l.kind.name == "reading");
    let (first, last) = (read.next(), read.last());
    let looked: Vec<At> =
        first.into_iter().chain(last).map(|(place, l)| At::new(place, &l.time, &l.zone)).collect();
    let (answer, words) = if !all.is_empty() {
        let words = say_n!(
            all.len(),
            "{n} reading or test was out of its limits with somebody on that air: {what}",
            "{n} readings or tests were out of their limits with somebody on that air: {what}",
            what = told.join("; ")
        );
        ("no", words)
    } else if let Some((a, _)) = unknown.first() {
        let words = say_n!(
            unknown.len(),
            "{n} reading or test with somebody on that air cannot be judged: {why}",
            "{n} readings or tests with somebody on that air cannot be judged: {why}",
            why = a.why.iter().map(|w| safe_line(w)).collect::<Vec<_>>().join("; ")
        );
        ("not_known", words)
    } else if tally.spells.is_empty() {
        ("yes", say!("nobody was on air").to_owned())
    } else if looked.is_empty() {
        ("not_known", say!("no gauge was read").to_owned())
    } else {
        ("yes", say!("by what was read and tested").to_owned())
    };
    Plain {
        about: "breathed",
        ask: say!("Was the air within its limits whenever somebody was on it?").into(),
        answer,
        headline: (answer == "no").then(|| words.clone()),
        words,
        lines: match (all.is_empty(), unknown.is_empty()) {
            (false, _) => all.into_iter().map(|(_, _, at)| at).collect(),
            (true, false) => unknown.into_iter().map(|(_, at)| at).collect(),
            (true, true) => looked,
        },
        more: 0,
    }
}
