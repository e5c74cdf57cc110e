//! Alarms with people inside, and the roll calls after them.
//!
//! Always: a roll call speaks for an alarm that came before it, and only until the permit goes on; one of another day or for
//! another set says nothing. Not here: whom a call missed (`sought`), whom it did not ask for (`replay`).

use super::permits::PermitFacts;
use super::tally::{self, Alarm, Out, Tally};
use super::{At, Input, names};
use crate::audit::numbered;
use crate::time::seconds;
use crate::tongue::say;
use crate::view::StateWord;

/// Every alarm once: as a permit tells of it, and those of a set while none was open on it.
pub fn everywhere<'a>(permits: &'a [PermitFacts], tally: &'a Tally) -> Vec<&'a Alarm> {
    tally::once(permits.iter().flat_map(|p| &p.alarms).chain(&tally.alarms))
}

/// Alarms with people inside after which no roll call was called before the permit went on; on no permit, at any time.
pub fn not_called<'a>(input: &Input<'_>, permits: &'a [PermitFacts], tally: &'a Tally) -> Vec<&'a Alarm> {
    let calls: Vec<_> = numbered(&input.verified.lines).filter(|(_, l)| l.kind.name == "roll_call").collect();
    let mut out: Vec<&Alarm> = Vec::new();
    for p in permits {
        let called = |a: &Alarm| {
            let came = seconds(&a.when) + tally.clocks.shift(a.at.place());
            let live =
                |s: &&super::permits::Change| s.state == StateWord::Live.english() && s.place > a.at.place();
            let goes_on = p.states.iter().find(live).map_or((u32::MAX, u64::MAX), |s| s.place);
            calls.iter().any(|(place, l)| {
                let place = (place.volume, place.line);
                let own = l.permit.as_deref() == Some(&*p.number)
                    || (l.permit.is_none() && l.data.text("set") == Some(&*p.set));
                let told = l.data.text("at").map_or(i64::MAX, seconds);
                let then = told.min(seconds(&l.time)) + tally.clocks.shift(place);
                // Entered before the alarm was, it may have been after it came; of one second the lines say.
                let after = if place < a.at.place() { then > came } else { then >= came };
                own && after && place < goes_on
            })
        };
        let all =
            p.alarms.iter().filter(|a| (!a.out.is_empty() || a.perhaps_in().next().is_some()) && !called(a));
        let new: Vec<&Alarm> = all.filter(|a| !out.iter().any(|o| o.at == a.at)).collect();
        out.extend(new);
    }
    let with_people = |a: &&Alarm| !a.out.is_empty() || a.perhaps_in().next().is_some();
    let of_none = |a: &&Alarm| !permits.iter().flat_map(|p| &p.alarms).any(|o| o.at == a.at);
    let called = |a: &Alarm| {
        let set_of = |number: &str| permits.iter().find(|p| p.number == number).map(|p| p.set.as_str());
        calls.iter().any(|(place, l)| {
            let set = l.data.text("set").or_else(|| set_of(l.permit.as_deref()?));
            // Told for a time before the alarm, it says nothing of it.
            let told = l.data.text("at").map_or(i64::MAX, seconds).min(seconds(&l.time));
            let then = told + tally.clocks.shift((place.volume, place.line));
            set == Some(a.set.as_str())
                && (place.volume, place.line) > a.at.place()
                && then >= seconds(&a.when) + tally.clocks.shift(a.at.place())
        })
    };
    out.extend(tally.alarms.iter().filter(with_people).filter(of_none).filter(|a| !called(a)));
    out
}

/// Whether a permit went on, or ended, after an alarm; on no permit nothing goes on.
pub fn went_further(permits: &[PermitFacts], a: &Alarm) -> bool {
    let suspended = StateWord::Suspended.english();
    let of = permits.iter().filter(|p| p.alarms.iter().any(|o| o.at == a.at));
    // Of an alarm that is told later it stood so when it was entered.
    of.flat_map(|p| &p.states).any(|s| s.place > a.at.place() && s.state != suspended)
}

/// An alarm and who was inside, in words.
pub fn with_people(a: &Alarm) -> String {
    if a.out.is_empty() {
        return say!(
            "{alarm} (line {line}), with {who} on air and never told in",
            alarm = a.kind(),
            line = a.at.line,
            who = names::few(a.perhaps_in().map(Out::called))
        );
    }
    say!(
        "{alarm} (line {line}), with {who} inside",
        alarm = a.kind(),
        line = a.at.line,
        who = names::few(a.out.iter().map(Out::called))
    )
}

/// The same with how long it took until they were out, as it stands above everything.
pub fn told(a: &Alarm) -> String {
    let (alarm, time) = (with_people(a), &a.when_site);
    match a.seconds {
        Some(s) => {
            say!("{time}: {alarm}, the last one told out after {took}", time, alarm, took = super::lasted(s))
        }
        None => say!("{time}: {alarm}, not everyone told out", time, alarm),
    }
}

/// Whoever went on air with an alarm standing that nobody had ended; what the rules refused says so by itself.
pub fn went_on<'a>(p: &'a PermitFacts, tally: &Tally) -> Vec<(&'a Alarm, String, At)> {
    let mut out = Vec::new();
    for a in p.alarms.iter().filter(|a| a.what != "drill") {
        let came = seconds(&a.when) + tally.clocks.shift(a.at.place());
        let ends = p.signed.iter().find(|s| s.kind == "reinstate" && s.at.place() > a.at.place());
        let end = ends.map_or((u32::MAX, u64::MAX), |s| s.at.place());
        for s in p.spells.iter().filter(|s| !s.never_on) {
            let on = s.from.place();
            let then = s.told.as_deref().map_or(i64::MAX, seconds).min(seconds(&s.from.utc));
            let then = then + tally.clocks.shift(on);
            let after = if on > a.at.place() { on < end } else { a.told_earlier() && then > came };
            if after && !p.breaches.iter().any(|(_, at)| *at == s.from) {
                let name = if s.name.is_empty() { &s.person } else { &s.name };
                out.push((a, crate::text::safe_line(name).into_owned(), s.from.clone()));
            }
        }
    }
    out
}
