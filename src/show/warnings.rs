//! What speaks against a permit, or must be seen before anything else of it: final words, on page one and the board.
//!
//! In: everything that is known, and how each step stands. Decides nothing.

use super::alarm::{alarm, ended};
use super::{named, page_one, wearer, words};
use crate::checklist::Each;
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::{Known, crew};
use crate::permit::state::{OnAir, Permit};
use crate::permit::walk::Stand;
use crate::permit::{called, copies, due, ends, watch};
use crate::time::{at_site, clock, for_people};
use crate::tongue::{say, say_n};
use crate::view::{Standing, StateWord};
use num_rational::BigRational;
use std::collections::BTreeMap;

pub(super) fn warned_too_late() -> &'static str {
    say!(
        "When the low-reserve warning sounds, the reserve no longer lasts for the way out. Never wait for it"
    )
}

/// What readings say against the air.
pub(super) fn out_of_limits(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    watch::against(known, permit, texts).into_iter().map(|why| say!("OUT OF LIMITS: {why}", why)).collect()
}

/// What the supervisor narrowed, but for the end, which is that of the permit.
pub(super) fn limited(permit: &Permit) -> Vec<String> {
    let Some(limits) = permit.last_signed("countersign").and_then(|s| s.data.get("limits")) else {
        return Vec::new();
    };
    let most =
        limits.int("wearers").map(|n| say!("Limited by the supervisor: at most {n} on air at once", n));
    let words = limits.text("words").map(|words| say!("Limited by the supervisor: {words}", words));
    most.into_iter().chain(words).collect()
}

/// The time of a permit is over, and people are on its air: in words.
pub fn over_with_people(known: &Known<'_>, permit: &Permit) -> Option<String> {
    let end = permit.valid_to.as_deref().filter(|v| *v < known.time())?;
    let on: Vec<String> = known
        .state
        .on_air
        .iter()
        .filter(|p| p.permit.as_deref() == Some(&permit.number))
        .map(|p| crew::who(known, &p.person))
        .collect();
    (!on.is_empty()).then(|| {
        say!(
            "ITS TIME WAS OVER AT {time}, STILL ON ITS AIR: {names}. Everyone out: the signal, then `airwrit call-out {permit}`",
            time = clock(end, &known.now.zone),
            names = on.join(", "),
            permit = permit.number
        )
    })
}

/// Who breathes from this set without standing on this permit: they come out at its alarms too.
pub(super) fn others(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let here = known.perhaps_on_air_from(&permit.set.id);
    let others = here.filter(|p| p.permit.as_deref() != Some(&permit.number)).map(|p| {
        say!(
            "ON THIS AIR TOO, BY {permit}: {name}, {tally}",
            permit = p.permit.as_deref().unwrap_or(say!("NO PERMIT")),
            name = wearer(known, texts, &p.person),
            tally = p.whereabouts.words()
        )
    });
    others.collect()
}

/// A live permit whose air nobody may go on hangs somewhere and reads live.
fn hang(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let stale = copies::stale(known, permit);
    let up = copies::up(permit).into_iter().filter(|c| !stale.contains(c));
    up.map(|c| {
        say!(
            "Copy {number} ({sheet}) hangs: “{place}”. Nobody goes on air by it now",
            number = c.number,
            sheet = copies::sheet_word(&c.sheet),
            place = c.hangs
        )
    })
    .collect()
}

/// What time ends soon: answers, and the permit itself.
fn ends_soon(known: &Known<'_>, permit: &Permit, texts: &Texts, every: &[Stand<'_>]) -> Vec<String> {
    let now = known.now.seconds();
    let soon = |second: i64| second >= now && second <= now + ends::SOON;
    let at = |second: i64| at_site(&crate::time::utc(second), &texts.zone);
    let mut out = Vec::new();
    if let Some(v) = permit.valid_to.as_deref().filter(|v| soon(crate::time::seconds(v))) {
        out.push(say!("ENDS AT {time}: everyone is off this air by then", time = at_site(v, &texts.zone)));
    }
    let mut ending: BTreeMap<i64, Vec<(String, String)>> = BTreeMap::new();
    for s in every.iter().filter(|s| s.standing == Standing::Open) {
        let end = s.answers.last().and_then(|a| ends::of(s.step, a, permit, texts));
        if let Some(end) = end.filter(|e| soon(e.second)) {
            ending.entry(end.second).or_default().push((s.label(), end.because));
        }
    }
    // The end of a shift ends most of a form at once: its lines must not bury what else is told here.
    out.extend(ending.into_iter().map(|(second, all)| match all.as_slice() {
        [(label, because)] => {
            say!("Asked again after {time}: {step}; {because}", time = at(second), step = label, because)
        }
        [] => String::new(),
        [(first, _), ..] => {
            let (n, time) = (all.len(), at(second));
            say_n!(
                n,
                "Asked again after {time}: {n} answer, from {first} on",
                "Asked again after {time}: {n} answers, from {first} on",
                time,
                first
            )
        }
    }));
    out
}

/// Who on this air comes out now, for a reason of their own: something of life holds for them, or they are on air for too
/// long.
fn people_to_bring_out(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    every: &[Stand<'_>],
) -> Vec<String> {
    let mut out = Vec::new();
    for p in known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number)) {
        let name = wearer(known, texts, &p.person);
        let own = every.iter().filter(|s| s.of_wearer() && s.item_id() == Some(&p.person));
        let holds = own.filter(|s| s.step.critical() && s.standing == Standing::Hold);
        out.extend(holds.map(|s| super::out_now::comes_out_now(&name, p, &s.label())));
        out.extend(over_long(known, texts, &p.person).map(|minutes| {
            let most = words(&texts.job, "longest_spell", &texts.language);
            say!(
                "{name} is on air since {minutes} min, the longest spell is {most}: bring them out",
                name,
                minutes,
                most
            )
        }));
    }
    out
}

/// Minutes that somebody is on air, where that is more than the longest spell.
fn over_long(known: &Known<'_>, texts: &Texts, person: &str) -> Option<i64> {
    let most = texts.job.quantity("longest_spell")?;
    let on = crate::permit::decide::air::spell(known, texts, person);
    (BigRational::from_integer(on.into()) > most.value).then_some(on / 60)
}

/// The same for a permit, in few words: for what stands on every screen.
pub fn too_long_on_air(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let on = known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number));
    let late = on.filter_map(|p| Some((p, over_long(known, texts, &p.person)?)));
    let one = |(p, minutes): (&OnAir, i64)| {
        let name = wearer(known, texts, &p.person);
        say!("{name} is on air since {minutes} min: bring them out", name, minutes)
    };
    late.map(one).collect()
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

pub(super) fn warnings(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    every: &[Stand<'_>],
    held: bool,
) -> Vec<String> {
    let mut out = super::out_now::out_now(known, &permit.set.id);
    out.extend(over_with_people(known, permit));
    out.extend(alarm(known, permit, texts));
    out.extend(called::before_issue(known, permit));
    if !known.life(permit).ended() {
        out.extend(people_to_bring_out(known, permit, texts, every));
        out.extend(out_of_limits(known, permit, texts));
    }
    out.extend(ended(permit));
    out.extend(known.keys_lost(permit));
    if !known.life(permit).ended()
        && let Err(refused) = known.clock()
    {
        let why = refused.why.join("; ");
        out.push(say!(
            "NOBODY KNOWS THE TIME: {why}. Every age and time shown here may be wrong; nothing is timed",
            why
        ));
    }
    out.extend(others(known, permit, texts));
    if held {
        out.extend(hang(known, permit));
    }
    let outlets = Bench::new(known.state, permit, texts, known.now).items(&Each::Set("outlets".into()));
    for w in texts.job.items("wearers") {
        let outlet = w.text("outlet").unwrap_or_default();
        if !known.life(permit).ended() && !outlets.iter().any(|o| o.id == outlet) {
            let name = named(w, &texts.language);
            out.push(say!(
                "{name} cannot go on air: the outlet {outlet}, planned for them, is out of service",
                name,
                outlet
            ));
        }
    }
    out.extend(copies::stale(known, permit).iter().map(|c| capital(&c.words())));
    if let Some(state) = known.state.sets.get(&permit.set.id) {
        out.extend(state.held_by.values().map(|(station, read)| {
            let time = for_people(&read.time, &read.zone);
            say!(
                "THIS SET STANDS IN THE REGISTER OF {station} TOO (read {time}): nobody may stop it for the other",
                station,
                time
            )
        }));
    }
    let now = known.now.seconds();
    out.extend(due::due(known, permit, texts).iter().filter_map(|d| d.words(now, &known.now.zone)));
    if !known.life(permit).ended() {
        out.extend(due::unsafe_reserve(known, permit, texts));
        if !due::rose(known, permit, texts).is_empty() {
            out.push(
                say!(
                    "Why the reserve rose nobody has said. If it was filled: say so, and from where. If not, nobody knows \
                     what is in it: vent it, fill it from tested air, say so"
                )
                .into(),
            );
        }
    }
    if known.life(permit) == StateWord::Live {
        out.extend(ends_soon(known, permit, texts, every));
    }
    if let Some(first) = &permit.pending {
        let time = clock(&first.stamp.time, &first.stamp.zone);
        out.push(if first.kind == "extend" {
            say!("A later end is asked for; no supervisor has given it: since {time}", time)
        } else {
            say!("It is handed over; the new holder has not taken it: since {time}", time)
        });
    }
    if texts.set.choice("reserve") == Some("none") {
        out.push(say!("NO RESERVE: WHEN IT STOPS, THE AIR IS GONE").into());
    }
    if page_one::warned_too_late(texts, every) {
        out.push(warned_too_late().into());
    }
    let mut left: Vec<String> = every
        .iter()
        .filter(|s| s.standing == Standing::OutOfService)
        .filter_map(|s| {
            let item = &s.item.as_ref()?.name;
            Some(say!("Out of service: {item}: {why}", item, why = s.why.join("; ")))
        })
        .collect();
    left.dedup();
    left.sort();
    left.dedup();
    out.extend(left);
    for (s, d) in every.iter().filter_map(|s| s.deviation().map(|d| (s, d))) {
        let (step, why, instead) = (s.label(), s.why.join("; "), &d.instead);
        out.push(if s.accepted {
            say!(
                "Deviation, accepted by the supervisor: {step}: {why}. Instead: {instead}",
                step,
                why,
                instead
            )
        } else {
            say!("Deviation, accepted by nobody: {step}: {why}. Instead: {instead}", step, why, instead)
        });
    }
    out.extend(limited(permit));
    for s in every.iter().filter(|s| s.step.critical() && s.standing == Standing::Hold) {
        out.push(say!("Holds: {step}", step = s.label()));
    }
    out
}
