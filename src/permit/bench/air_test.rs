//! The latest air test of a set as gates see it: each reading as the worst it may stand for, and whether anything
//! since speaks against it.
//!
//! Always: a reading whose uncertainty cannot be read is not known, never taken bare. Not here: the limits, which
//! are the site's; whether it is recent enough, which is a gate's.

use super::Bench;
use crate::permit::state::{FOUL, Happened, SetState, Stamp};
use crate::record::json::Json;
use crate::site::{Raw, Values};
use crate::time;
use crate::tongue::say;
use crate::units::{Decimal, Quantity, Rounding, Unit};
use crate::view::StateWord;

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

impl<'a> Bench<'a> {
    /// The test of the set's air that counts for this permit: the one that counted when it was issued or reinstated;
    /// until then, the one that counts now.
    pub fn air_test(&self) -> Option<&'a Happened> {
        let signed = self.permit.signed.iter().filter(|s| matches!(s.kind, "countersign" | "reinstate"));
        // What is judged anew is judged by what counts now.
        let anew = matches!(self.permit.life, StateWord::Draft | StateWord::Declared | StateWord::Suspended);
        let issued = signed.map(|s| s.stamp.seq).max().filter(|_| !anew);
        self.state.sets.get(&self.permit.set.id)?.air_test(issued)
    }
}

/// Why nobody can say what the worst is that a reading may stand for: it is there, and how far it may be off is not.
/// One below the lowest mark is taken as that mark.
pub(super) fn unsure(test: &Happened, name: &str) -> Option<String> {
    let name = if matches!(name, "o2_least" | "o2_most") { "o2" } else { name };
    let read = (MOST.contains(&name) || name == "o2") && test.data.has(name);
    let sure =
        test.data.get("within").is_some_and(|w| w.has(name)) || test.data.texts("below").contains(&name);
    (read && !sure).then(|| {
        say!(
            "{what} was read, and the register does not say how far that reading may be off: enter the \
              test again with `--within {name}=...`, as the instrument's or laboratory's paper says",
            what = called(name),
            name
        )
    })
}

/// For people.
fn called(name: &str) -> &'static str {
    match name {
        "co" => say!("carbon monoxide"),
        "co2" => say!("carbon dioxide"),
        "dew_point" => say!("the dew point"),
        "o2" => say!("oxygen"),
        "oil" => say!("oil"),
        _ => say!("water"),
    }
}

/// A test in words: when, where, by whom, with what, every reading as it was read and how far it may be off.
pub fn in_words(test: &Happened) -> String {
    let text = |name: &str| test.data.text(name);
    let mut head = say!(
        "taken {day} at {place} by {sampler}",
        day = test.day(),
        place = text("place").unwrap_or("?"),
        sampler = text("sampler").unwrap_or("?")
    );
    if let Some(i) = text("instrument") {
        head.push_str(&format!(" {}", say!("with {instrument}", instrument = i)));
    }
    if let Some(d) = text("instrument_good") {
        head.push_str(&say!(", good until {day}", day = d));
    }
    if let Some(c) = text("certificate") {
        head.push_str(&say!(", certificate {certificate}", certificate = c));
    }
    let point = text("sample_point").map(|p| match p {
        "mask_end" => say!("at the mask end"),
        "outlet" => say!("at an outlet"),
        _ => say!("at a cylinder"),
    });
    let taken = point.into_iter().chain(text("line_pressure")).chain(text("line_temperature"));
    let taken: Vec<&str> = taken.collect();
    let below = test.data.texts("below");
    let readings = ["o2"].into_iter().chain(MOST).filter_map(|name| {
        let read = text(name)?;
        let mark = if below.contains(&name) { "< " } else { "" };
        let off = test
            .data
            .get("within")
            .and_then(|w| w.text(name))
            .map(|w| format!(" {}", say!("within {within}", within = w)));
        Some(format!("{} {mark}{read}{}", called(name), off.unwrap_or_default()))
    });
    let mut readings: Vec<String> = readings.collect();
    if let Some(smell) = text("smell") {
        readings.push(match smell {
            "none" => say!("smell, taste, mist or drops: none").to_owned(),
            "something" => say!("smell, taste, mist or drops: something").to_owned(),
            other => say!("smell, taste, mist or drops: {smell}", smell = other),
        });
    }
    let place = if taken.is_empty() { String::new() } else { format!("; {}", taken.join(", ")) };
    say!(
        "{head}{place}: {readings} (line {line})",
        head,
        place,
        readings = readings.join(", "),
        line = test.stamp.line
    )
}

/// What a test says against the air by the site's own limits, in words: each reading as the worst that it may stand
/// for, one whose uncertainty nobody states as it was read. A dew point is judged where the coldest spot is known.
pub fn against(test: &Happened, site: &Values) -> Vec<String> {
    let limits = [
        ("o2", "limits.o2_from", Rounding::Down),
        ("o2", "limits.o2_to", Rounding::Up),
        ("co", "limits.co_most", Rounding::Up),
        ("co2", "limits.co2_most", Rounding::Up),
        ("oil", "limits.oil_most", Rounding::Up),
        ("water", "limits.water_most", Rounding::Up),
    ];
    let mut out = Vec::new();
    for (name, limit, way) in limits {
        let Some(read) = test.data.text(name) else { continue };
        let least = way == Rounding::Down;
        let below = if test.data.texts("below").contains(&name) { "< " } else { "" };
        let head = format!("{} {below}{read}", called(name));
        let (Some(worst), Some(limit)) = (worst(&test.data, name, way), site.quantity(limit)) else {
            out.push(say!("{head}, which cannot be judged", head));
            continue;
        };
        let Ok((worst, _, unit)) = Quantity::read_with_unit(&worst) else { continue };
        let outside = match worst.compare(limit) {
            Some(order) => {
                if least {
                    order.is_lt()
                } else {
                    order.is_gt()
                }
            }
            None => true,
        };
        if outside {
            let may = worst.words(unit, way);
            let limit = limit.words(unit, way);
            out.push(if least {
                say!(
                    "{head}, which may stand for {may}, wanted at least {limit} (the site's limit)",
                    head,
                    may,
                    limit
                )
            } else {
                say!(
                    "{head}, which may stand for {may}, wanted at most {limit} (the site's limit)",
                    head,
                    may,
                    limit
                )
            });
        }
    }
    if test.data.text("smell") == Some("something") {
        out.push(say!("smell, taste, mist or drops in it").to_owned());
    }
    out
}

/// The worst that a reading of a test may stand for, with its unit; `None` where it lacks or nobody says how far it may be
/// off.
pub fn worst_in_words(test: &Happened, name: &str, way: Rounding) -> Option<String> {
    worst(&test.data, name, way)
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

/// What happened to the set since the sample was taken that an air test does not outlast; or that it stood still then.
pub fn broken(test: &Happened, set: &SetState) -> Option<&'static str> {
    let later = |s: &Stamp| since(test, s.seq > test.stamp.seq, &s.time, &s.zone);
    let after = |stamp: Option<&Stamp>| stamp.is_some_and(later);
    let moved = set.last.get("moved").map(|h| &h.stamp);
    let work = ["filter", "oil", "air_side"].map(|w| set.serviced.get(w));
    let mut alarm = FOUL.iter().map(|e| set.events.get(*e));
    if after(moved) {
        Some(say!("the set was moved"))
    } else if set.stood_still.contains(&test.stamp.hash) {
        Some(say!("the set stood still when it was taken"))
    } else if after(set.taken.as_ref()) {
        Some(say!("the set was in another register"))
    } else if work.into_iter().any(after) {
        Some(say!("a filter, the oil or the air side was worked on"))
    } else if alarm.any(after) {
        Some(say!("an alarm spoke against the air"))
    } else {
        None
    }
}

/// Entered after the test, or, where the test was entered late, of a later time. A day stands for its beginning.
pub fn since(test: &Happened, after_it: bool, then: &str, zone: &str) -> bool {
    if after_it {
        return true;
    }
    let day = time::local(then, zone).date();
    let sampled = test.day();
    match test.data.text("at") {
        _ if day != sampled => day > sampled,
        Some(at) => then > at,
        // Entered on a later day: nobody says at which hour it was taken.
        None => time::local(&test.stamp.time, &test.stamp.zone).date() != sampled,
    }
}
