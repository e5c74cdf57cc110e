//! Demand against supply: everyone drawing all they can, and beside outlets that run open.

use super::Basis;
use super::figure::{Figure, Sense, from_float, in_unit};
use crate::air::Refused;
use crate::air::demand::{Outlet, beside_open, peak_inhalation, spare};
use crate::air::measure::Flow;
use crate::site::Values;
use crate::units::Rounding;

/// A flow of a file.
pub(super) fn flow(values: &Values, field: &'static str) -> Result<Flow, Refused> {
    Flow::new(field, in_unit(values.quantity(field), "L/min"))
}

/// What everybody on this air can draw: wearers and rescuers, each with all valves open.
pub(super) fn drawn(b: &Basis<'_>) -> Result<Vec<Flow>, Refused> {
    let rescuers = b.job.items("rescuers").iter().filter_map(|r| r.text("respirator"));
    let of_rescuers = rescuers.map(|id| match b.site.item("respirators", id) {
        Some(kind) => flow(kind, "most"),
        None => Err(Refused::new("a rescuer's respirator", id, "of a kind that the site keeps")),
    });
    b.wearers().iter().map(|w| flow(w, "most")).chain(of_rescuers).collect()
}

pub(super) fn consumers(b: &Basis<'_>) -> Result<Vec<Flow>, Refused> {
    b.job.items("consumers").iter().map(|c| flow(c, "flow")).collect()
}

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    if let Err(why) = spared(b, out, changes) {
        out.push(Figure::lacking("flow_spare", "flow left over", why.to_string()));
    }
    if let Err(why) = beside(b, out) {
        out.push(Figure::lacking("flow_beside", "flow beside outlets run open", why.to_string()));
    }
    for w in b.wearers().iter().filter(|w| w.choice("feeds") == Some("demand")) {
        let peak = flow(w, "planned").and_then(peak_inhalation).and_then(|p| from_float(p.get(), "L/min"));
        if let Ok(peak) = peak {
            let value = b.units.quantity(&peak, 0, Rounding::Up);
            let note = "highest flow within a breath at the planned work, pi times its minute volume";
            out.push(Figure::shown("peak_inhalation", "peak inhalation", value, note).of(&b.name(w)));
        }
    }
}

fn spared(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) -> Result<(), Refused> {
    let (rated, most, consumers) = (flow(b.set, "rated_flow")?, drawn(b)?, consumers(b)?);
    let all: f64 = most.iter().chain(&consumers).map(|f| f.get()).sum();
    let wanted = from_float(all, "L/min")?;
    let have = from_float(rated.get(), "L/min")?;
    let note = "free air at working pressure; wearers, rescuers on this air and consumers, each drawing all they can";
    let rated_for =
        Figure::limited(b.units, "rated_flow", "rated flow", &have, (Sense::AtLeast, &wanted), 0, note);
    out.push(rated_for);
    // One more of the hungriest kind.
    if let Some(one) = most.iter().copied().reduce(|a, c| if c > a { c } else { a }) {
        let more: Vec<Flow> = most.iter().copied().chain([one]).collect();
        let n = b.wearers().len() + 1;
        let (left, lacks) = spare(rated, &more, &consumers)?;
        let outlets = b.set.items("outlets").len();
        let who = ordinal(n);
        if outlets < n {
            changes.push(format!("{who} wearer does not fit: the set has {outlets} outlets"));
        } else if lacks.get() > 0.0 {
            let short = b.units.quantity(&from_float(lacks.get(), "L/min")?, 0, Rounding::Up);
            changes.push(format!("{who} wearer does not fit: supply short by {short}"));
        } else {
            let left = b.units.quantity(&from_float(left.get(), "L/min")?, 0, Rounding::Down);
            changes.push(format!("{who} wearer would fit the supply, with {left} left over"));
        }
    }
    Ok(())
}

/// `a third`, `a 4th`.
fn ordinal(n: usize) -> String {
    match n {
        1 => "a first".to_owned(),
        2 => "a second".to_owned(),
        3 => "a third".to_owned(),
        4 => "a fourth".to_owned(),
        n => format!("wearer {n}, one more"),
    }
}

fn beside(b: &Basis<'_>, out: &mut Vec<Figure>) -> Result<(), Refused> {
    let mut outlets = Vec::new();
    for w in b.wearers() {
        let id = w.text("outlet").unwrap_or_default();
        let outlet = b.set.item("outlets", id).ok_or_else(|| {
            Refused::new("the outlet of a wearer", format!("`{id}`"), "for outlets of this set")
        })?;
        let limit = match outlet.choice("kind") {
            Some("limited") => Some(flow(outlet, "flow_limit")?),
            Some(_) | None => None,
        };
        outlets.push(Outlet { limit, least: flow(w, "least")?, most: flow(w, "most")? });
    }
    let rated = flow(b.set, "rated_flow")?;
    let fed = beside_open(rated, &outlets, &consumers(b)?)?;
    for ((w, o), fed) in b.wearers().iter().zip(&outlets).zip(fed) {
        let (gets, least) = (from_float(fed.gets.get(), "L/min")?, from_float(o.least.get(), "L/min")?);
        let note = "what is left with every other outlet of the job run open, its hose cut";
        let figure = Figure::limited(
            b.units,
            "flow_beside",
            "flow beside outlets run open",
            &gets,
            (Sense::AtLeast, &least),
            0,
            note,
        );
        out.push(figure.of(&b.name(w)));
    }
    Ok(())
}
