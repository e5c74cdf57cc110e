//! One figure of a plan: its value, what is wanted of it, the margin, all rounded to the safe side, in the units asked for.
//!
//! Always: a value that is compared with a limit is rounded against itself; the margin of what is met is rounded
//! down, what lacks is rounded up.

use crate::air::Refused;
use crate::units::{Decimal, Dimension, Quantity, Rounding, unit};
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};
use serde::Serialize;

/// The units people see.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Units {
    /// Metric.
    Metric,
    /// As used in the United States.
    Us,
    /// Metric, then the other in brackets.
    Both,
}

/// What is wanted of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sense {
    /// At least.
    AtLeast,
    /// At most.
    AtMost,
}

/// One figure.
#[derive(Clone, Debug, Serialize)]
pub struct Figure {
    /// Stable name.
    pub id: &'static str,
    /// Of whom or which, where there are several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of: Option<String>,
    /// What it is.
    pub label: String,
    /// The value in words with its unit; what is not known says why.
    pub value: String,
    /// What is wanted: at least or at most, and how much.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted: Option<(Sense, String)>,
    /// To spare, or lacking, with its unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<String>,
    /// Met; absent: nothing is wanted of it, or it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub met: Option<bool>,
    /// What it rests on.
    pub note: String,
    /// Margin as a share of the limit, for the order of what limits.
    #[serde(skip)]
    pub(super) share: Option<f64>,
    /// It could not be worked out, though something is wanted of it.
    #[serde(skip)]
    pub(super) lacks: bool,
}

impl Figure {
    /// Whether it could not be worked out.
    pub fn unknown(&self) -> bool {
        self.lacks
    }

    /// A figure of which nothing is wanted.
    pub(super) fn shown(id: &'static str, label: &str, value: String, note: &str) -> Figure {
        Figure {
            id,
            of: None,
            label: label.into(),
            value,
            wanted: None,
            margin: None,
            met: None,
            note: note.into(),
            share: None,
            lacks: false,
        }
    }

    /// A figure that could not be worked out.
    pub(super) fn lacking(id: &'static str, label: &str, why: String) -> Figure {
        Figure { lacks: true, ..Figure::shown(id, label, format!("not known: {why}"), "") }
    }

    /// A value and its limit.
    pub(super) fn limited(
        units: Units,
        id: &'static str,
        label: &str,
        value: &Quantity,
        (sense, limit): (Sense, &Quantity),
        decimals: u8,
        note: &str,
    ) -> Figure {
        // Met or not is decided on the exact values; words are rounded against the value.
        let gap = match sense {
            Sense::AtLeast => &value.value - &limit.value,
            Sense::AtMost => &limit.value - &value.value,
        };
        let met = !gap.is_negative();
        let away = if sense == Sense::AtLeast { Rounding::Down } else { Rounding::Up };
        let towards = if sense == Sense::AtLeast { Rounding::Up } else { Rounding::Down };
        let gap_of = Quantity { value: gap.abs(), dimension: difference(value.dimension) };
        let gap_words = units.quantity(&gap_of, decimals, if met { Rounding::Down } else { Rounding::Up });
        let share = ratio(&gap, &limit.value);
        Figure {
            wanted: Some((sense, units.quantity(limit, decimals, towards))),
            margin: Some(if met { format!("{gap_words} to spare") } else { format!("short by {gap_words}") }),
            met: Some(met),
            share: Some(share),
            ..Figure::shown(id, label, units.quantity(value, decimals, away), note)
        }
    }

    /// The same, of one of several.
    pub(super) fn of(mut self, whom: &str) -> Figure {
        self.of = Some(whom.to_owned());
        self
    }
}

fn ratio(gap: &BigRational, limit: &BigRational) -> f64 {
    let by = if limit.is_zero() { BigRational::from_integer(1.into()) } else { limit.abs() };
    (gap / by).to_f64().unwrap_or(0.0)
}

fn difference(dimension: Dimension) -> Dimension {
    if dimension == Dimension::Temperature { Dimension::TemperatureDifference } else { dimension }
}

/// What limits, tightest first: unknown, then short, then met by the smallest share; at most five that are met.
pub(super) fn tightest(figures: &[Figure]) -> Vec<String> {
    let mut out: Vec<String> =
        figures.iter().filter(|f| f.lacks).map(|f| format!("{}: {}", f.name(), f.value)).collect();
    let mut judged: Vec<&Figure> = figures.iter().filter(|f| f.share.is_some()).collect();
    judged.sort_by(|a, b| a.share.partial_cmp(&b.share).unwrap_or(std::cmp::Ordering::Equal));
    let short = judged.iter().filter(|f| f.met == Some(false)).count();
    out.extend(judged.iter().take(short.max(3)).map(|f| {
        let margin = f.margin.as_ref().map(|m| format!(", {m}")).unwrap_or_default();
        format!("{}: {}{margin}", f.name(), f.value)
    }));
    out
}

impl Figure {
    fn name(&self) -> String {
        match &self.of {
            Some(of) => format!("{}, {of}", self.label),
            None => self.label.clone(),
        }
    }
}

impl Units {
    /// The unit used for a dimension, metric and US; `None` where there is but one.
    fn pair(dimension: Dimension) -> (&'static str, Option<&'static str>) {
        match dimension {
            Dimension::Number => ("", None),
            Dimension::Pressure => ("bar", Some("psi")),
            Dimension::AbsolutePressure => ("bar_abs", None),
            Dimension::Length => ("m", Some("ft")),
            Dimension::Area => ("mm2", None),
            Dimension::Volume => ("L", Some("ft3")),
            Dimension::Flow => ("L/min", Some("ft3/min")),
            Dimension::Temperature => ("°C", Some("°F")),
            Dimension::TemperatureDifference => ("K", Some("dF")),
            Dimension::Duration => ("min", None),
            Dimension::Current => ("A", None),
            Dimension::Voltage => ("V", None),
            Dimension::Frequency => ("Hz", None),
            Dimension::Power => ("kW", Some("hp")),
            Dimension::Fraction => ("%", None),
            Dimension::Concentration => ("mg/m3", None),
            Dimension::Speed => ("m/s", Some("mph")),
            Dimension::Angle => ("deg", None),
        }
    }

    /// A quantity in words, rounded the way given in each unit.
    pub fn quantity(self, quantity: &Quantity, decimals: u8, rounding: Rounding) -> String {
        let (metric, us) = Units::pair(quantity.dimension);
        let one = |symbol: &str, decimals: u8| -> String {
            let value = match unit(symbol) {
                Some(unit) => quantity.in_unit(unit),
                None => Some(quantity.value.clone()),
            };
            let text = value.and_then(|v| Decimal::round(&v, decimals, rounding).ok());
            let text = text.map_or_else(|| "too large to write".to_owned(), |d| d.to_string());
            if symbol.is_empty() { text } else { format!("{text} {symbol}") }
        };
        // A pound per square inch is a fifteenth of a bar, a cubic foot 28 litres: as fine as the metric figure.
        let finer = |symbol: &str| match symbol {
            "psi" => decimals.saturating_sub(1),
            "ft3/min" | "ft3" => decimals + 1,
            _ => decimals,
        };
        match (self, us) {
            (Units::Metric, _) | (_, None) => one(metric, decimals),
            (Units::Us, Some(us)) => one(us, finer(us)),
            (Units::Both, Some(us)) => format!("{} ({})", one(metric, decimals), one(us, finer(us))),
        }
    }

    /// A temperature in °C, to a tenth.
    pub(super) fn temperature(self, celsius: f64) -> String {
        match from_float(celsius, "°C") {
            Ok(q) => self.quantity(&q, 0, Rounding::Nearest),
            Err(why) => why.to_string(),
        }
    }
}

/// A quantity in a unit as a float; NaN where it is absent, which every measure refuses by name.
pub(super) fn in_unit(quantity: Option<&Quantity>, symbol: &str) -> f64 {
    let value = quantity.and_then(|q| match unit(symbol) {
        Some(unit) => q.in_unit(unit),
        None => Some(q.value.clone()),
    });
    value.and_then(|v| v.to_f64()).unwrap_or(f64::NAN)
}

/// A float in a unit as a quantity, to the ninth decimal: what floats lose beyond it must not carry a whole figure
/// over when it is rounded.
pub(super) fn from_float(value: f64, symbol: &str) -> Result<Quantity, Refused> {
    let refused = || Refused::new("a figure", "no number", "with finite figures");
    let exact = BigRational::from_float(value).ok_or_else(refused)?;
    let fine = BigRational::from_integer(1_000_000_000.into());
    let exact = (exact * &fine).round() / fine;
    match unit(symbol) {
        Some(unit) => Ok(Quantity { value: unit.to_base(&exact), dimension: unit.dimension() }),
        None => Ok(Quantity::number(exact)),
    }
}
