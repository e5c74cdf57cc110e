//! What a line says beside what its own entry takes: days and times that are told, gauges and units, who answers.
//!
//! Always: whoever types at a station is refused these, or they are written by the program itself, so that no honest line
//! has them; but for a clock that is behind, of which no line says more than that its time is the last one again. What
//! the entry takes and nobody should do is asked about. Not here: what a line says of the rules (`judge`).

use super::{Class, Found, Why};
use crate::permit::decide::Known;
use crate::permit::state::Permit;
use crate::permit::watch::WATCHED;
use crate::record::json::Json;
use crate::record::line::Line;
use crate::time::{TOLD_WITHIN, for_people, seconds};
use crate::tongue::say;
use crate::trust::Role;
use crate::units::unit;
use crate::view::recorded;
use jiff::civil::Date;

/// Nobody types the day of these: it is that of the entry.
const OF_THE_DAY: &[&str] =
    &["started", "stopped", "moved", "plugged", "filled", "serviced", "taken", "released"];
/// Who may answer for the air of others, by the roster.
const ANSWER: &[Role] = &[Role::Operator, Role::Supervisor, Role::Attendant, Role::Tester];

/// Everything of a line that its entry would not have taken.
pub(super) fn judged(known: &Known<'_>, permit: Option<&Permit>, line: &Line) -> Vec<Found> {
    let mut out = Vec::new();
    out.extend(dated(known, line));
    out.extend(told(known, line));
    match (line.kind.name, permit) {
        ("reading", Some(p)) => out.extend(read(known, p, &line.data)),
        ("answer", Some(p)) => out.extend(by_wearer(known, p, line)),
        (_, _) => {}
    }
    out
}

/// The clock may have been behind: then a line has the time of the one before again.
fn behind(known: &Known<'_>) -> bool {
    known.chain.time == known.now.time
}

fn dated(known: &Known<'_>, line: &Line) -> Option<Found> {
    let told: Date = line.data.text("date")?.parse().ok()?;
    let entered = known.now.date();
    let tested = line.kind.name == "air_test";
    // Brought from another register it has the day of that one's clock.
    if tested && line.data.has("witness") {
        return None;
    }
    if told == entered || (tested && told < entered) || (!tested && !OF_THE_DAY.contains(&line.kind.name)) {
        return None;
    }
    let unsure = told < entered && behind(known);
    let why = Why::said(move || {
        if tested {
            say!("it is dated {date}, after {entered}, the day it was entered", date = told, entered)
        } else if unsure {
            say!(
                "it is dated {date} and was entered on {entered}: was the clock behind that day?",
                date = told,
                entered
            )
        } else {
            say!(
                "it is dated {date} and was entered on {entered}: nobody types this day, its entry writes it",
                date = told,
                entered
            )
        }
    });
    let class = if unsure { Class::Gap } else { Class::Contradicts };
    Some(Found::new(class, "date", vec![why]))
}

fn told(known: &Known<'_>, line: &Line) -> Option<Found> {
    let at = line.data.text("at")?;
    let late = known.now.seconds() - seconds(at);
    if late >= 0 && (late <= TOLD_WITHIN || behind(known)) {
        return None;
    }
    let show = |time: &str| for_people(time, &known.now.zone);
    let (at, entered) = (show(at), show(&known.now.time));
    let why = Why::said(move || {
        if late < 0 {
            say!("it is told for {at}, after it was entered, at {entered}", at, entered)
        } else {
            say!(
                "it is told for {at} and was entered at {entered}: its entry takes no time more than {hours} h before",
                at,
                entered,
                hours = TOLD_WITHIN / 3600
            )
        }
    });
    Some(Found::new(Class::Contradicts, "told", vec![why]))
}

fn read(known: &Known<'_>, permit: &Permit, data: &Json) -> Vec<Found> {
    let what = data.text("what").unwrap_or_default().to_owned();
    let typed = data.text("unit").unwrap_or_default().to_owned();
    let watched = WATCHED.iter().find(|(w, _)| *w == what);
    let mut why = Vec::new();
    match (unit(&typed), watched) {
        (None, _) => {
            why.push(Why::said(move || say!("`{unit}` is no unit: its entry takes none such", unit = typed)));
        }
        (Some(u), Some((w, dimension))) if u.dimension() != *dimension => {
            let w = *w;
            why.push(Why::said(move || {
                say!(
                    "{what} is not measured in {unit}: its entry takes none such",
                    what = recorded(w),
                    unit = typed
                )
            }));
        }
        (Some(_), Some(_)) => {}
        (Some(_), None) => {
            let words = WATCHED.map(|(w, _)| w);
            let near = crate::text::nearest(&what, words.into_iter().filter(|w| w.len() > 3));
            if let Some(near) = near.map(str::to_owned) {
                let got = what.clone();
                why.push(Why::said(move || {
                    say!("`{got}` is no gauge: its entry asks whether {near} was meant", got, near)
                }));
            }
        }
    }
    let mut out = Vec::new();
    if let (Ok(texts), "reserve") = (known.texts_of(permit), what.as_str()) {
        let ids: Vec<String> = texts.set.items("cylinders").iter().map(|c| c.id().to_owned()).collect();
        let item = data.text("item").filter(|i| !ids.is_empty() && !ids.iter().any(|id| id == i));
        if let Some(got) = item.map(str::to_owned) {
            let known = ids.join(", ");
            why.push(Why::said(move || {
                say!("the set has no cylinder `{got}`, wanted one of: {known}", got, known)
            }));
        }
        if texts.set.choice("reserve") == Some("none") {
            let why = Why::said(|| say!("a reserve was read, and the set has none").into());
            out.push(Found::new(Class::Gap, "no_reserve", vec![why]));
        }
    }
    if !why.is_empty() {
        out.push(Found::new(Class::Contradicts, "refused", why));
    }
    out
}

/// Whoever breathes it answers their own steps; for the air of everybody others do.
fn by_wearer(known: &Known<'_>, permit: &Permit, line: &Line) -> Option<Found> {
    let by = line.by.as_deref()?;
    let own = line.data.text("item") == Some(by);
    let wears = match permit.job.get("wearers") {
        Some(Json::Arr(all)) => all.iter().any(|w| w.text("person") == Some(by)),
        Some(_) | None => false,
    };
    let roster = &known.chain.origin.roster;
    let may = roster.person(by).is_some_and(|p| p.roles.iter().any(|r| ANSWER.contains(r)));
    if own || !wears || may {
        return None;
    }
    let name = roster.name_of(by).to_owned();
    let why = Why::said(move || {
        say!(
            "{name} is entered as who answered: a wearer of this air, with no role on the roster that answers for it",
            name
        )
    });
    Some(Found::new(Class::Gap, "by_wearer", vec![why]))
}
