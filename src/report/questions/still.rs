//! Gauges of the watch that never moved, with people on air.
//!
//! Always: only what was read while somebody was on air by the lines; a value that is the same in every one of them. Not
//! here: what a reading should be (`permit::watch`).

use super::{At, PermitFacts, Question, ask};
use crate::report::tally::Tally;
use crate::tongue::say;
use std::collections::BTreeMap;

/// So many readings over so many seconds before it is asked. Common practice, no source: a gauge that is read moves in
/// its last digit.
const STILL: (usize, i64) = (8, 2 * 3600);

/// Of one permit.
pub fn of(p: &PermitFacts, tally: &Tally) -> Option<Question> {
    let with_people = |at: &At| {
        let over = |s: &crate::report::tally::Spell| {
            s.from.place() < at.place() && s.to.as_ref().is_none_or(|t| t.place() > at.place())
        };
        p.spells.iter().any(over)
    };
    let mut by: BTreeMap<(&str, &str), Vec<&crate::report::permits::Read>> = BTreeMap::new();
    for r in p.readings.iter().filter(|r| with_people(&r.at)) {
        by.entry((&r.what, &r.item)).or_default().push(r);
    }
    let (mut words, mut lines) = (Vec::new(), Vec::new());
    for ((what, item), all) in &by {
        let Some((first, last)) = all.first().zip(all.last()) else { continue };
        let took = tally.clocks.second(&last.at) - tally.clocks.second(&first.at);
        let same = all.iter().all(|r| r.value == first.value && r.unit == first.unit);
        if !same || all.len() < STILL.0 || took < STILL.1 {
            continue;
        }
        let gauge = format!("{} {item}", crate::report::said(what));
        words.push(say!(
            "{gauge}: {value} in all of {n} readings over {time}",
            gauge = gauge.trim_end(),
            value = format!("{} {}", first.value, first.unit),
            n = all.len(),
            time = crate::report::lasted(took)
        ));
        lines.extend([first.at.clone(), last.at.clone()]);
    }
    (!words.is_empty()).then(|| {
        ask(
            "never_moved",
            say!(
                "readings of {permit} never moved while people were on air: {gauges}: did somebody read them each time, and does \
                 the gauge work?",
                permit = p.number,
                gauges = words.join("; ")
            ),
            say!(
                "{n} readings or more over {hours} h, a limit of this program: common practice, no source",
                n = STILL.0,
                hours = STILL.1 / 3600
            ),
            lines,
        )
    })
}
