//! The latest air test of a set as gates see it: each reading as the worst it may stand for, and whether anything
//! since speaks against it.
//!
//! Always: a reading whose uncertainty cannot be read is not known, never taken bare. Not here: the limits, which
//! are the site's; whether it is recent enough, which is a gate's.

use crate::permit::state::{Happened, SetState, Stamp};
use crate::record::json::Json;
use crate::site::Raw;
use crate::time;
use crate::units::{Decimal, Quantity, Rounding, Unit};

/// Readings that have an upper limit.
const MOST: [&str; 5] = ["co", "co2", "oil", "water", "dew_point"];
/// Members that are taken as they stand.
const AS_KEPT: [&str; 8] = [
    "date",
    "sampler",
    "certificate",
    "instrument",
    "instrument_good",
    "sample_point",
    "smell",
    "line_pressure",
];

/// The members that `last.air_test` offers, for a permit whose set stands at `place`.
pub(super) fn members(test: &Happened, set: &SetState, place: &str) -> Vec<(String, Raw)> {
    let data = &test.data;
    let mut out = vec![
        ("here".to_owned(), Raw::Bool(data.text("place") == Some(place))),
        ("unbroken".to_owned(), Raw::Bool(broken(test, set).is_none())),
    ];
    let mut put =
        |name: &str, value: Option<String>| out.extend(value.map(|v| (name.to_owned(), Raw::Text(v))));
    for name in AS_KEPT.into_iter().chain(["line_temperature"]) {
        put(name, data.text(name).map(str::to_owned));
    }
    for name in MOST {
        put(name, worst(data, name, Rounding::Up));
    }
    put("o2_least", worst(data, "o2", Rounding::Down));
    put("o2_most", worst(data, "o2", Rounding::Up));
    out
}

/// A reading with all that it may be off, upwards or downwards; `None` where it lacks or cannot be read.
pub(super) fn worst(data: &Json, name: &str, way: Rounding) -> Option<String> {
    let (value, number, unit) = Quantity::read_with_unit(data.text(name)?).ok()?;
    let Some(within) = data.get("within").and_then(|w| w.get(name)) else {
        return Some(format!("{number} {}", unit?.symbol()));
    };
    let Json::Str(within) = within else { return None };
    let within = Quantity::read(within).ok()?;
    if !off_by(value.dimension, within.dimension) || within.value < num_traits::Zero::zero() {
        return None;
    }
    let base = if way == Rounding::Down { value.value - within.value } else { value.value + within.value };
    text(&Quantity { value: base, dimension: value.dimension }, unit?, way)
}

/// Whether an uncertainty of the one dimension belongs to a reading of the other.
fn off_by(reading: crate::units::Dimension, within: crate::units::Dimension) -> bool {
    use crate::units::Dimension::{Temperature, TemperatureDifference};
    within == if reading == Temperature { TemperatureDifference } else { reading }
}

fn text(quantity: &Quantity, unit: Unit, way: Rounding) -> Option<String> {
    let value = quantity.in_unit(unit)?;
    let number = Decimal::exactly(&value).or_else(|| Decimal::round(&value, 6, way).ok())?;
    Some(format!("{number} {}", unit.symbol()))
}

/// What happened to the set since the sample was taken that an air test does not outlast.
pub fn broken(test: &Happened, set: &SetState) -> Option<&'static str> {
    let after = |stamp: Option<&Stamp>| stamp.is_some_and(|s| since(test, s));
    let moved = set.last.get("moved").map(|h| &h.stamp);
    let work = ["filter", "oil", "air_side"].map(|w| set.serviced.get(w));
    let alarm = ["co", "temperature", "oil"].map(|e| set.events.get(e));
    if after(moved) {
        Some("the set was moved")
    } else if work.into_iter().any(after) {
        Some("a filter, the oil or the air side was worked on")
    } else if alarm.into_iter().any(after) {
        Some("an alarm spoke against the air")
    } else {
        None
    }
}

/// Entered after the test, or, where the test was entered late, of a later time. A day stands for its beginning.
fn since(test: &Happened, stamp: &Stamp) -> bool {
    if stamp.seq > test.stamp.seq {
        return true;
    }
    let day = time::local(&stamp.time, &stamp.zone).date().to_string();
    match (test.data.text("date"), test.data.text("at")) {
        (Some(date), _) if day.as_str() > date => true,
        (Some(date), Some(at)) => day == date && stamp.time.as_str() > at,
        (Some(_), None) => false,
        (None, _) => true,
    }
}
