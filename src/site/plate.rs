//! What a set file must say so that a life may rest on it, and figures of a plate that cannot be.

use super::values::Values;
use crate::source::{Findings, Node};
use crate::tongue::say;
use crate::units::{Quantity, Rounding, unit};
use num_rational::BigRational;
use num_traits::Zero;

/// Adds what does not fit. `root` gives the places.
pub(super) fn check(values: &Values, root: &Node, out: &mut Findings) {
    // A set file has a rated flow; a table without one is not concerned.
    if values.quantity("rated_flow").is_none() {
        return;
    }
    lists(values, root, out);
    ratings(values, root, out);
    current(values, root, out);
    reliefs(values, root, out);
}

/// An empty list of filters or warnings would be asked about, and tried, in no step at all.
fn lists(values: &Values, root: &Node, out: &mut Findings) {
    let at = |field: &str| root.get(field).unwrap_or(root).clone();
    if values.items("filters").is_empty() {
        let message = say!("no filter is listed: nobody would be asked for its hours");
        out.hinted(
            "no-filter",
            &at("filters"),
            message,
            say!("list every stage that cleans or dries the air"),
        );
    }
    let cylinders = values.choice("reserve") == Some("cylinders");
    for (kind, what) in [
        ("low_supply", say!("low supply")),
        ("low_reserve", say!("a low reserve")),
        ("co", say!("carbon monoxide")),
    ] {
        let wanted = kind != "low_reserve" || cylinders;
        let there = values.items("warnings").iter().any(|w| w.choice("kind") == Some(kind));
        if wanted && !there {
            let message = say!("no warning of {what} is listed: nobody would try it", what);
            let hint = say!("add one with `kind: {kind}`", kind);
            out.hinted("no-warning", &at("warnings"), message, hint);
        }
    }
}

/// What stands on the plate lies within what the motor may run on.
fn ratings(values: &Values, root: &Node, out: &mut Findings) {
    let Some(motor) = root.get("motor") else { return };
    for field in ["voltage", "frequency"] {
        let get = |name: &str| values.quantity(&format!("motor.{name}"));
        let (Some(rated), Some(from), Some(to)) =
            (get(field), get(&format!("{field}_from")), get(&format!("{field}_to")))
        else {
            continue;
        };
        // Ends the wrong way round are told as such.
        if from.value <= to.value && (rated.value < from.value || rated.value > to.value) {
            let words = |q: &Quantity| q.words(None, Rounding::Nearest);
            let message = say!(
                "`motor.{field}` is {rated}, outside {from} to {to}, in which it may run",
                field,
                rated = words(rated),
                from = words(from),
                to = words(to)
            );
            let place = motor.get(field).unwrap_or(motor);
            out.hinted(
                "rating-outside",
                place,
                message,
                say!("compare the three with the plate and the maker's papers"),
            );
        }
    }
}

/// No motor gives more at its shaft than it takes: P <= U I cos(phi), with the root of three on three phases.
fn current(values: &Values, root: &Node, out: &mut Findings) {
    let base = |field: &str, symbol: &str| -> Option<BigRational> {
        values.quantity(&format!("motor.{field}"))?.in_unit(unit(symbol)?)
    };
    let (Some(power), Some(voltage), Some(current)) =
        (base("power", "kW"), base("voltage", "V"), base("current", "A"))
    else {
        return;
    };
    let factor = values.number("motor.power_factor").map_or_else(|| whole(1), |d| d.to_exact());
    let phases = if values.choice("motor.phases") == Some("three") { whole(3) } else { whole(1) };
    let watts = power * whole(1000);
    let apparent = &voltage * &current * &factor;
    // Squares, so that the root of three is exact.
    if &apparent * &apparent * &phases >= &watts * &watts || (&voltage * &factor).is_zero() {
        return;
    }
    let needs = num_traits::ToPrimitive::to_f64(&(watts / (voltage * factor))).unwrap_or(0.0)
        / if phases == whole(3) { libm::sqrt(3.0) } else { 1.0 };
    let shown = values.judged("motor.current", "").map_or_else(String::new, |(_, shown)| shown);
    let place = root.get("motor").and_then(|m| m.get("current")).unwrap_or(root);
    let message = say!(
        "`motor.current` is {shown}: a motor that loses nothing takes {needs} A for this power at this voltage",
        shown,
        needs = format!("{needs:.1}")
    );
    out.hinted(
        "current-impossible",
        place,
        message,
        say!("compare power, voltage, phases and current with the plate"),
    );
}

fn whole(n: i64) -> BigRational {
    BigRational::from_integer(n.into())
}

/// A relief valve that lifts within the working range blows off the air people breathe.
fn reliefs(values: &Values, root: &Node, out: &mut Findings) {
    let Some(to) = values.quantity("supply_pressure_to") else { return };
    for (n, outlet) in values.items("outlets").iter().enumerate() {
        let Some(relief) = outlet.quantity("relief").filter(|r| r.value <= to.value) else { continue };
        let message = say!(
            "the relief valve of the outlet `{outlet}` lifts at {lifts}, not above `supply_pressure_to`, {to}",
            outlet = outlet.id(),
            lifts = relief.words(None, Rounding::Nearest),
            to = to.words(None, Rounding::Nearest)
        );
        let place = super::cross::nth(root, "outlets", n, "relief");
        out.hinted("pressures-disagree", place, message, say!("compare both with the maker's papers"));
    }
}
