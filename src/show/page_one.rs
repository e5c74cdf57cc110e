//! Page one: what everyone must find at once, on paper, board and screen.
//!
//! Always: orders before figures; the leave-by pressure once it is worked out, never a time until it is
//! reached; whole minutes rounded against those who walk. Not here: the steps and the record.

use super::{answer_text, hides, named, named_by_gate, orders, words};
use crate::permit::bench::{Bench, Texts, quantity};
use crate::permit::decide::Known;
use crate::permit::decide::sign::limit_of_wearers;
use crate::permit::due;
use crate::permit::gone;
use crate::permit::state::{Answer, Happened, Permit, Signed};
use crate::permit::walk::{self, Stand};
use crate::permit::watch;
use crate::site::Values;
use crate::tongue::{say, say_n};
use crate::units::{self, Decimal, Rounding};
use crate::view::{About, Standing, StateWord, Statement, recorded};
use jiff::civil::Date;
use num_rational::BigRational;

/// What a step worked out, with the unit that the form gives it.
fn worked_out(bench: &Bench<'_>, step: &str, answer: &Answer) -> String {
    let unit = bench.unit_worked_out(step).map(|u| format!(" {u}")).unwrap_or_default();
    format!("{}{unit}", answer.value.as_deref().unwrap_or_default())
}

/// The air test that the permit rests on: its CO, its day, the day it is due again.
fn air_test(bench: &Bench<'_>, texts: &Texts) -> Vec<Statement> {
    let mut out = Vec::new();
    let answered = |step: &str| bench.answers(step, None).last().copied();
    let carried = answered(CARRIED_CO);
    let tested: Option<Date> = match carried {
        Some(_) => bench.air_test().map(Happened::day),
        None => answered("air_test_date").and_then(|a| a.value.as_deref()?.parse().ok()),
    };
    if let Some(day) = tested {
        let by = match carried {
            Some(_) => bench.air_test().and_then(|t| t.data.text("sampler")),
            None => answered("air_sampler").and_then(|a| a.value.as_deref()),
        };
        let by = by.map(|name| say!("by {name}", name));
        let from = carried.map(|_| say!("carried from the register").to_owned());
        let note = by.into_iter().chain(from).collect::<Vec<_>>().join("; ");
        out.push(Statement::new(About::AirTested, day.to_string(), note));
    }
    if let Some(a) = carried {
        let co = worked_out(bench, CARRIED_CO, a);
        out.push(Statement::new(About::CoTested, co, say!("as read, and what the instrument may be off")));
    } else if let Some(a) = answered("air_co") {
        let off = answered("air_off").and_then(|o| o.value.as_deref());
        let most = a.value.as_deref().zip(a.unit.as_deref()).zip(off);
        out.push(match most.and_then(|((value, unit), off)| worst(value, unit, a.below, off)) {
            Some(co) => {
                Statement::new(About::CoTested, co, say!("as read, and what the instrument may be off"))
            }
            None => Statement::new(About::CoTested, answer_text(a), ""),
        });
    }
    if let (Some(tested), Some((months, days))) = (tested, texts.site.span("air_test_months"))
        && let Some(due) = units::moved(tested, months, days, false)
    {
        let note = say!("or at a move, a repair, a filter or oil change");
        out.push(Statement::new(About::NextAirTest, due.to_string(), note));
    }
    out
}

/// A reading as the worst that it may stand for, rounded up; below the lowest mark it may be that mark. `off` is how far it
/// may be off, in percent of it.
fn worst(value: &str, unit: &str, below: bool, off: &str) -> Option<String> {
    let unit = units::unit(unit)?;
    let mut most = quantity(value, Some(unit))?;
    let off = Decimal::kept(off).ok()?.to_exact();
    most.value *= BigRational::from_integer(1.into()) + off / BigRational::from_integer(100.into());
    let below = if below { "< " } else { "" };
    Some(format!("{below}{}", most.words(Some(unit), Rounding::Up)))
}

/// What page one and the board say, in their order.
pub(super) fn statements(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    bench: &Bench<'_>,
    every: &[Stand<'_>],
    life: StateWord,
) -> Vec<Statement> {
    let language = texts.language.as_str();
    let job = |f: &str| words(&texts.job, f, language);
    // In a draft the limits of blind steps are told once they are answered, here as in the walk.
    let kept_back: Vec<String> = match life {
        StateWord::Draft => walk::walk(bench).iter().filter(|s| hides(s)).flat_map(named_by_gate).collect(),
        StateWord::Declared
        | StateWord::Live
        | StateWord::Suspended
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled
        | StateWord::Lapsed => Vec::new(),
    };
    let limit = |fields: &[&str]| {
        if fields.iter().any(|f| kept_back.contains(&format!("set.{f}"))) {
            say!("held back until every gauge that it limits has been read").to_owned()
        } else {
            match fields {
                [from, to] => say!(
                    "{from} to {to}",
                    from = words(&texts.set, from, language),
                    to = words(&texts.set, to, language)
                ),
                fields => fields.iter().map(|f| words(&texts.set, f, language)).collect(),
            }
        }
    };
    let state = |about: About, value: String, note: &str| {
        Statement::new(about, if value.is_empty() { say!("not given").into() } else { value }, note)
    };
    let mut out = vec![
        state(About::AnyAlarm, say!("EVERYONE OUT").into(), say!("whatever a gauge says")),
        state(About::Recall, job("recall_signal"), ""),
        state(About::Rescue, job("rescue_number"), &rescuers(known, texts)),
        state(About::Assembly, job("assembly"), ""),
        state(About::Radio, job("channel"), ""),
        state(About::Attendant, person(known, texts, &job("attendant")), ""),
        state(About::EntryWatch, person(known, texts, &job("entry_watch")), ""),
        state(
            About::SupplyGauge,
            limit(&["supply_pressure_from", "supply_pressure_to"]),
            say!("outside this: everyone out"),
        ),
    ];
    if texts.set.choice("reserve") == Some("none") {
        out.push(state(About::NoReserve, say!("WHEN IT STOPS, THE AIR IS GONE").into(), ""));
    } else {
        // Until it is worked out, the higher minimum at which nobody goes on air. Of two permits on one air the
        // higher counts.
        let own = bench.answers(LEAVE_BY, None).last().map(|a| worked_out(bench, LEAVE_BY, a));
        let of_another =
            watch::leave_by(known, permit, texts).filter(|(_, of)| own.is_some() && *of != permit.number);
        let leave_by = match of_another {
            Some((l, of)) => Some(say!(
                "{pressure}, by {permit} on this air too",
                pressure = l.words(bench.unit_worked_out(LEAVE_BY), Rounding::Up),
                permit = of
            )),
            None => own,
        };
        out.push(state(
            if leave_by.is_some() { About::LeaveBy } else { About::ReserveAtLeast },
            leave_by.unwrap_or_else(|| limit(&["reserve_minimum"])),
            if every.iter().any(|s| s.step.id() == LEAVE_BY && s.standing == Standing::Hold) {
                say!("HOLDS: nobody goes on this air by it. Below it, with the compressor feeding: everyone out")
            } else {
                say!("below this, with the compressor feeding: everyone out. Nobody works on reserve")
            },
        ));
    }
    let counts = orders::decided(bench).is_some() || life.over();
    let spent = gone::spent(known, permit, texts);
    for id in orders::CO_ORDERS {
        if let (Some(a), Some((_, step))) = (bench.answers(id, None).last(), bench.form.step(id)) {
            let order = step.choices().iter().find(|(c, _)| Some(c.as_str()) == a.value.as_deref());
            let order = order.map_or_else(|| answer_text(a), |(_, words)| words.get(language).to_owned());
            let spent = spent.as_deref().filter(|_| a.value.as_deref() == Some("change_to_reserve"));
            let (order, note) = if let Some(why) = spent.filter(|_| !life.over()) {
                let given = orders::Given { co: a.value.as_deref(), spent: Some(why), ..Default::default() };
                (orders::of("co", given).wearers, say!("masks stay on until clean air"))
            } else if counts {
                (order, say!("masks stay on until clean air"))
            } else {
                let no_reserve = texts.set.choice("reserve") == Some("none");
                let order =
                    orders::of("co", orders::Given { no_reserve, ..orders::Given::default() }).wearers;
                (order, say!("until it is decided again; masks stay on until clean air"))
            };
            out.push(state(About::OnCo, order, note));
        }
    }
    let most = [
        Some(bench.items(&crate::checklist::Each::Set("outlets".into())).len() as u64),
        limit_of_wearers(permit),
    ]
    .into_iter()
    .flatten()
    .chain([texts.job.items("wearers").len() as u64])
    .min()
    .unwrap_or(0);
    let (co, note) = co_limit(texts);
    out.push(state(About::CoLimit, co, &note));
    out.push(state(About::MostOnAir, most.to_string(), ""));
    out.push(state(About::Spell, words(&texts.job, "longest_spell", language), say!("then off this air")));
    let gauges = due::gauges(texts).into_iter().map(|g| if g == "co" { "CO".into() } else { recorded(g) });
    let gauges: Vec<String> = gauges.collect();
    let watched = crate::text::listed(&gauges.iter().map(String::as_str).collect::<Vec<_>>(), say!("and"));
    out.push(state(About::ReadEvery, words(&texts.set, "read_every", language), &watched));
    out.push(state(About::Atmosphere, atmosphere(texts.job.choice("atmosphere")).into(), ""));
    let way_out = minutes_up(&texts.job, "way_out");
    out.push(state(About::WayOut, way_out, say!("notice, make safe, walk, wash-down")));
    let permits: Vec<String> = texts
        .job
        .items("entry_permits")
        .iter()
        .map(|p| {
            let later = permit.extended.last().and_then(|l| l.entry_permits.get(p.id()));
            let until = later.map(|utc| crate::time::at_site(utc, &texts.zone));
            let until = until.unwrap_or_else(|| words(p, "until", language));
            say!("{permit} until {until}", permit = words(p, "name", language), until)
        })
        .collect();
    let why_none = job("why_no_entry_permit");
    let permits = if permits.is_empty() { why_none } else { permits.join("; ") };
    out.push(state(About::OtherPermits, permits, ""));
    out.extend(answers_for_it(known, permit, texts, life));
    out.extend(air_test(bench, texts));
    out.extend(carried(permit));
    out
}

/// At its alarm point the monitor sounds and everyone comes out, below the limit too.
fn co_limit(texts: &Texts) -> (String, String) {
    let (limit, alarm) = (texts.site.quantity("limits.co_most"), texts.site.quantity("co_alarm"));
    let shown = |name: &str| words(&texts.site, name, &texts.language);
    match (limit, alarm) {
        (Some(most), Some(at)) if at.value <= most.value => (
            say!("{limit} or more", limit = shown("co_alarm")),
            say!("there the monitor sounds; the limit is {limit}", limit = shown("limits.co_most")),
        ),
        _ => (say!("more than {limit}", limit = shown("limits.co_most")), String::new()),
    }
}

/// That answers were not given here but carried: how many, from where.
fn carried(permit: &Permit) -> Option<Statement> {
    let form = &permit.form.hash;
    let own = permit.answers.iter().filter(|a| a.form == *form);
    let counts = own.filter(|a| {
        let last = permit.last_answer(form, &a.step, a.item.as_deref());
        last.is_some_and(|l| l.stamp.seq == a.stamp.seq)
    });
    let mut n = 0;
    let mut from: Vec<&str> = Vec::new();
    for carry in counts.filter_map(|a| a.carry.as_ref()) {
        n += 1;
        if !from.contains(&carry.from.as_str()) {
            from.push(&carry.from);
        }
    }
    let from = from.join(", ");
    let value = say_n!(n, "{n} answer of {permits}", "{n} answers of {permits}", permits = from);
    (n > 0).then(|| Statement::new(About::Carried, value, say!("each with its time in the checks behind")))
}

/// Who goes in for a wearer who does not answer, by name.
fn rescuers(known: &Known<'_>, texts: &Texts) -> String {
    let free = crate::permit::decide::open::rescuers_free(&texts.job);
    let all = texts.job.items("rescuers").iter().filter_map(|r| r.text("person"));
    let all: Vec<String> = all.filter(|r| free.contains(*r)).map(|r| person(known, texts, r)).collect();
    if all.is_empty() { String::new() } else { say!("goes in: {names}", names = all.join(", ")) }
}

/// Who holds the permit now, and who let people on this air.
fn answers_for_it(known: &Known<'_>, permit: &Permit, texts: &Texts, life: StateWord) -> Vec<Statement> {
    let at = |s: &Signed| crate::time::for_people(&s.stamp.time, &s.stamp.zone);
    let name = |s: &Signed| person(known, texts, &s.stamp.by);
    let holder = texts.job.text("holder").unwrap_or_default();
    let took = permit.signed.iter().rev().find(|s| {
        s.stamp.by == holder
            && (s.kind == "declare" || (s.kind == "hand_over" && s.data.text("part") == Some("incoming")))
    });
    let accepted = match took {
        _ if life == StateWord::Draft => say!("has not declared").into(),
        Some(s) if s.kind == "declare" => say!("declared {time}", time = at(s)),
        Some(s) => say!("took it over {time}", time = at(s)),
        None => say!("has not declared").into(),
    };
    let holder = Statement::new(About::Holder, person(known, texts, holder), accepted);
    let issued = match permit.last_signed("countersign") {
        Some(s) => {
            let again = permit.last_signed("reinstate").filter(|r| r.stamp.seq > s.stamp.seq);
            let note = match again {
                Some(r) => {
                    say!("{time}; again {again} by {name}", time = at(s), again = at(r), name = name(r))
                }
                None => at(s),
            };
            Statement::new(About::Issued, name(s), note)
        }
        None => Statement::new(About::Issued, say!("nobody"), ""),
    };
    vec![holder, issued]
}

/// The atmosphere where they work, in words.
pub fn atmosphere(choice: Option<&str>) -> &'static str {
    match choice {
        Some("not") => say!("not dangerous"),
        Some("could_be") => say!("could become dangerous"),
        Some("dangerous") => say!("dangerous at once"),
        Some(_) | None => say!("unknown, taken as dangerous"),
    }
}

pub(super) fn person(known: &Known<'_>, texts: &Texts, id: &str) -> String {
    texts
        .site
        .item("people", id)
        .map_or_else(|| known.chain.origin.roster.name_of(id).to_owned(), |p| named(p, &texts.language))
}

/// A duration in minutes, rounded up: a way out is never shown shorter than it is.
pub(super) fn minutes_up(values: &Values, path: &str) -> String {
    match values.quantity(path) {
        Some(q) => crate::units::unit("min")
            .and_then(|unit| Decimal::round(&q.in_unit(unit)?, 0, crate::units::Rounding::Up).ok())
            .map_or_else(String::new, |whole| format!("{whole} min")),
        None => String::new(),
    }
}

/// The step that works out the leave-by pressure.
const LEAVE_BY: &str = "leave_by";
/// The step that works out the CO of a carried air test.
const CARRIED_CO: &str = "carried_co";
/// The step that works out how long the reserve lasts once the low-reserve warning sounds.
const WARNING_LASTS: &str = "warning_lasts";

/// Whether the low-reserve warning sounds when the reserve no longer lasts for the way out.
pub(super) fn warned_too_late(texts: &Texts, every: &[Stand<'_>]) -> bool {
    let lasts = every
        .iter()
        .find(|s| s.step.id() == WARNING_LASTS)
        .and_then(|s| s.answers.last())
        .and_then(|a| crate::permit::bench::quantity(a.value.as_deref()?, crate::units::unit("min")));
    match (lasts, texts.job.quantity("way_out")) {
        (Some(lasts), Some(way_out)) => lasts.compare(way_out) == Some(std::cmp::Ordering::Less),
        (_, _) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_that_a_reading_may_stand_for() {
        assert_eq!(worst("1.5", "ppm", false, "20").as_deref(), Some("1.8 ppm"));
        assert_eq!(worst("2", "ppm", true, "20").as_deref(), Some("< 2.4 ppm"));
        assert_eq!(worst("1.5", "ppm", false, "a fifth"), None);
    }
}
