//! What came after the last line: somebody on air, a permit in force or a set that runs by it, on the day of the audit; a
//! volume with nothing in it.
//!
//! Always: a register that is read in the middle of the work is nothing against anybody; once the end of a permit is past, an
//! hour with somebody on air or a day is over, what came after is not known, whether nothing was entered or the end of the file is not here. Not here:
//! what the lines themselves tell (`tally`, `plain`).

use super::permits::PermitFacts;
use super::plain::Plain;
use super::{At, Input, names};
use crate::audit::numbered;
use crate::permit::state::AHEAD;
use crate::time::{for_people, seconds};
use crate::tongue::say;
use crate::view::StateWord;

/// Of a set, seconds after the last line until it is asked what came after. Common
/// practice, no source: a set is looked after every day.
const DAY: i64 = 86_400;

/// The same with somebody on air. Common practice, no source: within the hour something is read.
const HOUR: i64 = 3600;

/// What is at work by the last line.
#[derive(Default)]
struct AtWork {
    /// And should have come to an end since.
    over: Vec<String>,
    /// And may be so still.
    yet: Vec<String>,
}

impl AtWork {
    fn take(&mut self, over: bool, words: String) {
        if over { &mut self.over } else { &mut self.yet }.push(words);
    }
}

/// Whether the register tells how all of it ended.
pub fn ended(input: &Input<'_>, permits: &[PermitFacts]) -> Option<Plain> {
    let (place, last) = numbered(&input.verified.lines).last()?;
    let here = At::new(place, &last.time, &last.zone);
    let (now, then) = (seconds(&input.now), seconds(&last.time));
    let state = &input.replayed.state;
    let ends = |number: &str| state.permits.get(number).and_then(|p| p.valid_to.as_deref());
    let is_over = |number: &str| ends(number).map_or(now > then + DAY, |e| seconds(e) < now);
    let mut all = AtWork::default();
    let in_force = |p: &&PermitFacts| {
        let is = |s: StateWord| p.state == s.english();
        is(StateWord::Live) || is(StateWord::Suspended)
    };
    let mut of_sets = Vec::new();
    for p in permits.iter().filter(in_force) {
        let to = ends(&p.number).map_or_else(String::new, |e| for_people(e, &last.zone));
        let over = is_over(&p.number);
        if !over {
            of_sets.push(p.set.as_str());
        }
        let number = &p.number;
        all.take(
            over,
            if p.state == StateWord::Live.english() {
                say!("{permit} is live, to {to}", permit = number, to)
            } else {
                say!("{permit} is suspended, to {to}", permit = number, to)
            },
        );
    }
    let known = names::of(input);
    for o in &state.on_air {
        let name = crate::text::safe_line(known.name(&o.person).unwrap_or(&o.person)).into_owned();
        let over = o.permit.as_deref().is_some_and(is_over) || now > then + HOUR;
        all.take(over, say!("{name} is on air", name));
    }
    for (id, _) in state.sets.iter().filter(|(_, s)| s.running()) {
        let over = now > then + DAY && !of_sets.contains(&id.as_str());
        all.take(over, say!("the set {set} runs", set = id));
    }
    for name in &input.empty {
        let name = crate::text::safe_line(name);
        all.over.push(say!("the volume {name} is empty: begun and nothing written, or emptied", name));
    }
    let ask = say!("Does it tell how everything ended?").to_owned();
    let plain = |answer, words: String, headline| Plain {
        about: "ended",
        ask,
        answer,
        words,
        headline,
        lines: vec![here.clone()],
        more: 0,
    };
    let by = |what: &[String]| {
        say!("by the last line, of {time}: {what}", time = here.site, what = what.join("; "))
    };
    Some(if then > now + AHEAD {
        let words = say!(
            "the last line is of {time}, and this audit of {now}: one of the two clocks is wrong",
            time = here.site,
            now = for_people(&input.now, &last.zone)
        );
        plain("not_known", words.clone(), Some(words))
    } else if !all.over.is_empty() {
        all.over.extend(all.yet);
        let words = say!(
            "{what}. This audit is of {now}: what came after it?",
            what = by(&all.over),
            now = for_people(&input.now, &last.zone)
        );
        plain("not_known", words.clone(), Some(words))
    } else if all.yet.is_empty() {
        let words =
            say!("by the last line nobody is on air, no permit is in force and no set runs").to_owned();
        plain("yes", words, None)
    } else {
        let words = say!("{what}: it was read in the middle of the work", what = by(&all.yet));
        plain("not_known", words, None)
    })
}
