//! What is refused whatever is read on the day: rules on a job, the set's own ranges, zone, respirators and escape sets.
//!
//! Always: what opening a permit refuses of the job is brought in ([`super::Assumed`]) and not written twice; the others
//! are gates of the pre-use checks in which files alone decide. Not here: figures (`flow`, `reserve`), the supply
//! (`supply`), roster and register.

use super::Basis;
use super::figure::{Figure, Sense};
use crate::site::{Values, Written};
use crate::tongue::say;
use crate::units::{Quantity, Rounding};
use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};

/// What is to be changed where opening a permit refuses the job, as it is said of a job file.
pub(super) fn of_job(why: &str) -> String {
    say!("mend the job file: {why}", why)
}

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    for why in &b.assumed.refused {
        changes.push(of_job(why));
        out.push(Figure::refused("job", say!("opening a permit refuses the job"), why.clone()));
    }
    if b.job.choice("atmosphere") != Some("not") {
        gear(b, out, changes);
    }
    zone(b, out, changes);
    ambient(b, out, changes);
    if b.set.choice("reserve") == Some("cylinders") {
        reserve(b, out, changes);
    }
}

/// Respirator and escape set of each wearer, where the air is or could be dangerous.
fn gear(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    for w in b.wearers() {
        let who = b.name(w);
        if w.truth("positive_pressure") != Some(true) {
            let why =
                say!("inside not always above outside, and the air is or could be dangerous").to_owned();
            out.push(Figure::refused("respirator", say!("the respirator"), why).of(&who));
            changes.push(say!("{who}: a full face respirator with positive pressure", who));
        }
        if w.text("escape_set").is_none() {
            continue;
        }
        if w.choice("escape_face") != Some("full_face") || w.truth("escape_positive") != Some(true) {
            let why =
                say!("not full face with positive pressure, and the air is or could be dangerous").to_owned();
            out.push(Figure::refused("escape_kind", say!("the escape set"), why).of(&who));
            changes.push(say!("{who}: an escape set with full face and positive pressure", who));
        }
    }
}

/// The zone where the set stands against its certificate.
fn zone(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    let zone = b.job.choice("zone").unwrap_or("unknown");
    if zone == "none" {
        return;
    }
    let gas = matches!(zone, "zone_1" | "zone_2");
    let certified = match zone {
        "zone_1" => b.set.choice("zone") == Some("zone_1"),
        "zone_2" => matches!(b.set.choice("zone"), Some("zone_1" | "zone_2")),
        _ => false,
    };
    let mut why = Vec::new();
    if !certified {
        why.push(say!(
            "certified for {own}, and it would stand in {there}",
            own = said(b.set, "zone"),
            there = said(b.job, "zone")
        ));
    }
    for (field, ranks) in [
        ("gas_group", &["iia", "iib", "iic"][..]),
        ("temperature_class", &["t1", "t2", "t3", "t4", "t5", "t6"][..]),
    ] {
        let rank = |values: &Values| values.choice(field).and_then(|c| ranks.iter().position(|r| *r == c));
        let suits = rank(b.job).is_some_and(|there| rank(b.set).is_some_and(|own| own >= there));
        if gas && !suits {
            let (own, there) = (said(b.set, field), said(b.job, field));
            why.push(match field {
                "gas_group" => say!("gas group {own}, and there it is {there}", own, there),
                _ => say!("temperature class {own}, and there it is {there}", own, there),
            });
        }
    }
    if !why.is_empty() {
        changes.push(say!("the set outside the zone, the hoses led in within the maker's hose table").into());
    }
    out.extend(why.into_iter().map(|w| Figure::refused("zone", say!("the set's certificate"), w)));
}

fn said(values: &Values, field: &str) -> String {
    values.choice(field).map_or_else(|| say!("not said").to_owned(), crate::tongue::choice)
}

/// The temperatures that were typed against the set's range.
fn ambient(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    let (Some((low, high)), Some(from), Some(to)) =
        (&b.assumed.temperatures, b.set.quantity("ambient_from"), b.set.quantity("ambient_to"))
    else {
        return;
    };
    let wide = &to.value - &from.value;
    let note = say!("the range of the set");
    let mut put = |id: &'static str, label: &str, have: &Written, sense: Sense, limit: &Quantity| {
        let mut figure = Figure::limited(b.units, id, label, have, (sense, limit), 0, note);
        // A share of a temperature means nothing; one of the range does.
        let gap = match sense {
            Sense::AtLeast => &have.quantity.value - &limit.value,
            Sense::AtMost => &limit.value - &have.quantity.value,
        };
        figure.share = (!wide.is_zero()).then(|| (gap / &wide).to_f64()).flatten();
        let met = figure.met;
        out.push(figure);
        met == Some(true)
    };
    if !put("ambient_low", say!("lowest temperature"), low, Sense::AtLeast, from) {
        let from = b.units.quantity(from, 0, Rounding::Up);
        changes.push(say!("the set where it is never colder than {from}, or another day", from));
    }
    if !put("ambient_high", say!("highest temperature"), high, Sense::AtMost, to) {
        let to = b.units.quantity(to, 0, Rounding::Down);
        changes
            .push(say!("the set shaded and aired, where it is never hotter than {to}, or another day", to));
    }
}

/// The reading that was typed against the set's minimum, and against what a fill can be.
fn reserve(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    let Some(reading) = &b.assumed.reserve else { return };
    match b.set.quantity("reserve_minimum") {
        Some(least) => {
            let (id, label) = ("reserve_minimum", say!("reading of the reserve against the set's minimum"));
            let note = say!("nobody goes on air with less");
            let figure = Figure::limited(b.units, id, label, reading, (Sense::AtLeast, least), 0, note);
            if figure.met == Some(false) {
                let least = b.units.quantity(least, 0, Rounding::Up);
                changes.push(say!("the reserve filled to {least} at least", least));
            }
            out.push(figure);
        }
        None => out.push(Figure::lacking(
            "reserve_minimum",
            say!("the set's minimum of the reserve"),
            say!("the set file does not say it").into(),
        )),
    }
    // Every cylinder reads at least the lowest reading, that with the least fill pressure too.
    let fills = b.set.items("cylinders").iter().filter_map(|c| c.quantity("fill_pressure"));
    if let Some(fill) = fills.min_by(|x, y| x.value.cmp(&y.value)) {
        let allowance = BigRational::new(6.into(), 5.into());
        let most = Quantity { value: &fill.value * allowance, dimension: fill.dimension };
        let label = say!("reading of the reserve against the fill pressure");
        let note = say!("fill pressure and a fifth more: above it the gauge or the fill is wrong");
        let limit = (Sense::AtMost, &most);
        let figure = Figure::limited(b.units, "reserve_fill", label, reading, limit, 0, note);
        if figure.met == Some(false) {
            let most = b.units.quantity(&most, 0, Rounding::Down);
            changes.push(say!("a reading of the reserve of {most} at most", most));
            out.push(figure);
        }
    }
}
