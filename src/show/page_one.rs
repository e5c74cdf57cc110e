//! Page one: what everyone must find at once, on paper, board and screen.
//!
//! Always: orders before figures; the leave-by pressure once it is worked out, never a time until it is
//! reached; whole minutes rounded against those who walk. Not here: the steps and the record.

use super::{answer_text, hides, named, named_by_gate, orders, words};
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::Known;
use crate::permit::decide::sign::limit_of_wearers;
use crate::permit::due;
use crate::permit::state::{Answer, Happened, Permit, Signed};
use crate::permit::walk::{self, Stand};
use crate::permit::watch;
use crate::site::Values;
use crate::units::{self, Decimal, Rounding};
use crate::view::{StateWord, Statement};
use jiff::civil::Date;

/// What a step worked out, with the unit that the form gives it.
fn worked_out(bench: &Bench<'_>, step: &str, answer: &Answer) -> String {
    let unit = bench.unit_worked_out(step).map(|u| format!(" {u}")).unwrap_or_default();
    format!("{}{unit}", answer.value.as_deref().unwrap_or_default())
}

/// The air test that the permit rests on: its CO, its day, the day it is due again.
fn air_test(bench: &Bench<'_>, texts: &Texts) -> Vec<Statement> {
    let mut out = Vec::new();
    let mut say = |label: &str, value: String, note: &str| {
        out.push(Statement { label: label.into(), value, note: note.into() });
    };
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
        let by = by.map(|b| format!("by {b}"));
        let from = carried.map(|_| "carried from the register".to_owned());
        say("Air tested on", day.to_string(), &by.into_iter().chain(from).collect::<Vec<_>>().join("; "));
    }
    if let Some(a) = carried {
        say("CO in the air test", worked_out(bench, CARRIED_CO, a), "the most it may be");
    } else if let Some(a) = answered("air_co") {
        say("CO in the air test", answer_text(a), "");
    }
    if let (Some(tested), Some((months, days))) = (tested, texts.site.span("air_test_months"))
        && let Some(due) = units::moved(tested, months, days, false)
    {
        say("Next air test by", due.to_string(), "or at a move, a repair, a filter or oil change");
    }
    out
}

/// What page one and the board say, in their order.
pub(super) fn statements(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    bench: &Bench<'_>,
    language: &str,
    life: StateWord,
) -> Vec<Statement> {
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
            "told when it has been read".to_owned()
        } else {
            fields.iter().map(|f| words(&texts.set, f, language)).collect::<Vec<_>>().join(" to ")
        }
    };
    let say = |label: &str, value: String, note: &str| Statement {
        label: label.into(),
        value: if value.is_empty() { "not given".into() } else { value },
        note: note.into(),
    };
    let mut out = vec![
        say("Any alarm or change-over", "EVERYONE OUT".into(), "whatever a gauge says"),
        say("Recall signal", job("recall_signal"), ""),
        say("Rescue", job("rescue_number"), &rescuers(known, texts)),
        say("Assembly point", job("assembly"), ""),
        say("Radio", job("channel"), ""),
        say("Attendant at the set", person(known, texts, &job("attendant")), ""),
        say("Entry watch", person(known, texts, &job("entry_watch")), ""),
        say(
            "Supply gauge of the set",
            limit(&["supply_pressure_from", "supply_pressure_to"]),
            "outside this: everyone out",
        ),
    ];
    if texts.set.choice("reserve") == Some("none") {
        out.push(say("NO RESERVE", "WHEN IT STOPS, THE AIR IS GONE".into(), ""));
    } else {
        // Until it is worked out, the higher minimum at which nobody goes on air. Of two permits on one air the
        // higher counts.
        let own = bench.answers(LEAVE_BY, None).last().map(|a| worked_out(bench, LEAVE_BY, a));
        let of_another =
            watch::leave_by(known, permit, texts).filter(|(_, of)| own.is_some() && *of != permit.number);
        let leave_by = match of_another {
            Some((l, of)) => Some(format!(
                "{}, by {of} on this air too",
                l.words(bench.unit_worked_out(LEAVE_BY), Rounding::Up)
            )),
            None => own,
        };
        out.push(say(
            if leave_by.is_some() { "Leave by: reserve gauge at" } else { "Reserve gauge, at least" },
            leave_by.unwrap_or_else(|| limit(&["reserve_minimum"])),
            "below this, with the compressor feeding: everyone out. Nobody works on reserve",
        ));
    }
    let counts = orders::decided(bench).is_some() || life.over();
    for id in orders::CO_ORDERS {
        if let (Some(a), Some((_, step))) = (bench.answers(id, None).last(), bench.form.step(id)) {
            let order = step.choices().iter().find(|(c, _)| Some(c) == a.value.as_ref());
            let order = order.map_or_else(|| answer_text(a), |(_, words)| words.get(language).to_owned());
            let (order, note) = if counts {
                (order, "masks stay on until clean air")
            } else {
                let no_reserve = texts.set.choice("reserve") == Some("none");
                let order =
                    orders::of("co", orders::Given { no_reserve, ..orders::Given::default() }).wearers;
                (order, "until it is decided again; masks stay on until clean air")
            };
            out.push(say("On a carbon monoxide alarm", order, note));
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
    out.push(say(CO_LIMIT, co, &note));
    out.push(say("Most on air at once", most.to_string(), ""));
    out.push(say(SPELL, words(&texts.job, "longest_spell", language), "then off this air"));
    let gauges = due::gauges(texts).iter().map(|g| g.replace("co", "CO")).collect::<Vec<_>>();
    let watched = crate::text::listed(&gauges.iter().map(String::as_str).collect::<Vec<_>>(), "and");
    out.push(say(EVERY, words(&texts.set, "read_every", language), &watched));
    out.push(say("Atmosphere where they work", atmosphere(texts.job.choice("atmosphere")).into(), ""));
    out.push(say(WAY_OUT, minutes_up(&texts.job, "way_out"), "notice, make safe, walk, wash-down"));
    let permits: Vec<String> = texts
        .job
        .items("entry_permits")
        .iter()
        .map(|p| {
            let later = permit.extended.last().and_then(|l| l.entry_permits.get(p.id()));
            let until = later.map(|utc| crate::time::at_site(utc, &texts.zone));
            let until = until.unwrap_or_else(|| words(p, "until", language));
            format!("{} until {until}", words(p, "name", language))
        })
        .collect();
    let why_none = job("why_no_entry_permit");
    out.push(say(
        "Entry and work permits",
        if permits.is_empty() { why_none } else { permits.join("; ") },
        "",
    ));
    out.extend(answers_for_it(known, permit, texts, life));
    out.extend(air_test(bench, texts));
    out.extend(carried(permit));
    out
}

/// From which reading of carbon monoxide on everyone comes out.
pub(super) const CO_LIMIT: &str = "Carbon monoxide, everyone out at";
/// The longest spell on air.
pub(super) const SPELL: &str = "Longest spell on air";
/// How often the gauges are read.
pub(super) const EVERY: &str = "Gauges read every";
/// The way out.
pub(super) const WAY_OUT: &str = "Way out";

/// At its alarm point the monitor sounds and everyone comes out, below the limit too.
fn co_limit(texts: &Texts) -> (String, String) {
    let (limit, alarm) = (texts.site.quantity("limits.co_most"), texts.site.quantity("co_alarm"));
    let shown = |name: &str| words(&texts.site, name, &texts.language);
    match (limit, alarm) {
        (Some(most), Some(at)) if at.value <= most.value => (
            format!("{} or more", shown("co_alarm")),
            format!("there the monitor sounds; the limit is {}", shown("limits.co_most")),
        ),
        _ => (format!("more than {}", shown("limits.co_most")), String::new()),
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
    (n > 0).then(|| Statement {
        label: "Not answered here but carried".into(),
        value: format!("{} of {}", crate::text::counted(n, "answer", "answers"), from.join(", ")),
        note: "each with its time in the checks behind".into(),
    })
}

/// Who goes in for a wearer who does not answer, by name.
fn rescuers(known: &Known<'_>, texts: &Texts) -> String {
    let free = crate::permit::decide::open::rescuers_free(&texts.job);
    let all = texts.job.items("rescuers").iter().filter_map(|r| r.text("person"));
    let all: Vec<String> = all.filter(|r| free.contains(*r)).map(|r| person(known, texts, r)).collect();
    if all.is_empty() { String::new() } else { format!("goes in: {}", all.join(", ")) }
}

/// Who holds the permit now, and who let people on this air.
fn answers_for_it(known: &Known<'_>, permit: &Permit, texts: &Texts, life: StateWord) -> Vec<Statement> {
    let at = |s: &Signed| crate::time::for_people(&s.stamp.time, &s.stamp.zone);
    let name = |s: &Signed| person(known, texts, &s.stamp.by);
    let say = |label: &str, value: String, note: String| Statement { label: label.into(), value, note };
    let holder = texts.job.text("holder").unwrap_or_default();
    let took = permit.signed.iter().rev().find(|s| {
        s.stamp.by == holder
            && (s.kind == "declare" || (s.kind == "hand_over" && s.data.text("part") == Some("incoming")))
    });
    let accepted = match took {
        _ if life == StateWord::Draft => "has not declared".into(),
        Some(s) if s.kind == "declare" => format!("declared {}", at(s)),
        Some(s) => format!("took it over {}", at(s)),
        None => "has not declared".into(),
    };
    let holder = say("Holder, answers for this air", person(known, texts, holder), accepted);
    let issued = match permit.last_signed("countersign") {
        Some(s) => {
            let again = permit.last_signed("reinstate").filter(|r| r.stamp.seq > s.stamp.seq);
            let again = again.map_or_else(String::new, |r| format!("; again {} by {}", at(r), name(r)));
            say("Issued by", name(s), at(s) + &again)
        }
        None => say("Issued by", "nobody".into(), String::new()),
    };
    vec![holder, issued]
}

pub(super) const fn atmosphere(choice: Option<&str>) -> &'static str {
    match choice {
        Some(c) => match c.as_bytes() {
            b"not" => "not dangerous",
            b"could_be" => "could become dangerous",
            b"dangerous" => "dangerous at once",
            _ => "unknown, taken as dangerous",
        },
        None => "unknown, taken as dangerous",
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
