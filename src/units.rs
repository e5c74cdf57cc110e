//! Quantities: decimal text, units, exact values.
//!
//! In: text such as `138.5` or `150 bar`. Out: exact rational values in the base unit of their
//! dimension, and decimal text again, rounded only where the caller says which way.
//! Always: no float, no hidden rounding; every factor is exact and names its source (`table`); a
//! limit met exactly in one unit is met exactly in every other.
//! Pressure is GAUGE unless the unit says `abs`; flows are FREE AIR (20 °C, 1.01325 bar, dry);
//! ppm and % are by volume.
//! Not here: what may be compared with what (`gate`), the arithmetic of air (`air`).

mod decimal;
mod near;
mod products;
mod quantity;
mod span;
mod table;

pub use decimal::{Decimal, Rounding};
pub use near::nearest;
pub use products::{product, quotient};
pub use quantity::examples;
pub use span::{SpanUnit, moved, read_span, span_text, span_unit};
pub use table::{Unit, all_units, unit};

use crate::tongue::say;
use num_rational::BigRational;
use std::fmt;

/// What a quantity measures. Only quantities of one dimension are added or compared.
///
/// The base unit, in which [`Quantity::value`] is kept, is the first one named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A pure number, no unit.
    Number,
    /// Gauge pressure: bar, kPa, MPa, psi, mmH2O, inH2O.
    Pressure,
    /// Absolute pressure: bar_abs, mbar_abs.
    AbsolutePressure,
    /// m, mm, cm, km, ft, in.
    Length,
    /// m2, mm2.
    Area,
    /// Water capacity: m3, L, ft3.
    Volume,
    /// Free air (20 °C, 1.01325 bar, dry): base m3/s; L/min, L/s, m3/min, m3/h, ft3/min.
    Flow,
    /// A point on a temperature scale: °C, °F.
    Temperature,
    /// A difference of temperatures: K, dF.
    TemperatureDifference,
    /// s, min, h.
    Duration,
    /// A.
    Current,
    /// V.
    Voltage,
    /// Hz.
    Frequency,
    /// W, kW, hp.
    Power,
    /// Parts by volume: base 1; ppm, ml/m3, %.
    Fraction,
    /// mg/m3.
    Concentration,
    /// m/s, km/h, mph, kn.
    Speed,
    /// deg.
    Angle,
}

/// An exact value in the base unit of its dimension.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quantity {
    /// Exact, in the base unit of the dimension.
    pub value: BigRational,
    /// The dimension.
    pub dimension: Dimension,
}

/// Why a text is not a number, a unit or a quantity: what was got and wanted, and what to type.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// Got and wanted, lower case, no final stop.
    pub message: String,
    /// What to type instead.
    pub hint: Option<String>,
}

impl Refused {
    fn new(message: impl Into<String>) -> Self {
        Refused { message: message.into(), hint: None }
    }

    /// The same with what was typed before it, where it does not quote that already.
    pub fn of_typed(&self, typed: &str) -> String {
        let typed = typed.trim();
        if self.message.contains(&format!("{typed:?}")) {
            return self.to_string();
        }
        say!("got `{got}`: {why}", got = typed, why = self)
    }

    fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        if let Some(hint) = &self.hint {
            write!(f, " {}", say!("(hint: {hint})", hint))?;
        }
        Ok(())
    }
}

impl std::error::Error for Refused {}

impl Dimension {
    /// Every dimension.
    pub const ALL: [Dimension; 18] = [
        Dimension::Number,
        Dimension::Pressure,
        Dimension::AbsolutePressure,
        Dimension::Length,
        Dimension::Area,
        Dimension::Volume,
        Dimension::Flow,
        Dimension::Temperature,
        Dimension::TemperatureDifference,
        Dimension::Duration,
        Dimension::Current,
        Dimension::Voltage,
        Dimension::Frequency,
        Dimension::Power,
        Dimension::Fraction,
        Dimension::Concentration,
        Dimension::Speed,
        Dimension::Angle,
    ];

    /// In words for people: `a gauge pressure`.
    pub fn words(self) -> &'static str {
        match self {
            Dimension::Number => say!("a plain number"),
            Dimension::Pressure => say!("a gauge pressure"),
            Dimension::AbsolutePressure => say!("an absolute pressure"),
            Dimension::Length => say!("a length"),
            Dimension::Area => say!("an area"),
            Dimension::Volume => say!("a volume"),
            Dimension::Flow => say!("a flow of free air"),
            Dimension::Temperature => say!("a temperature"),
            Dimension::TemperatureDifference => say!("a difference of temperatures"),
            Dimension::Duration => say!("a duration"),
            Dimension::Current => say!("a current"),
            Dimension::Voltage => say!("a voltage"),
            Dimension::Frequency => say!("a frequency"),
            Dimension::Power => say!("a power"),
            Dimension::Fraction => say!("a share by volume"),
            Dimension::Concentration => say!("a mass per volume of air"),
            Dimension::Speed => say!("a speed"),
            Dimension::Angle => say!("an angle"),
        }
    }

    /// The unit shown where nothing says otherwise. A plain number has none.
    pub fn usual_unit(self) -> Option<Unit> {
        let symbol = match self {
            Dimension::Number => return None,
            Dimension::Pressure => "bar",
            Dimension::AbsolutePressure => "bar_abs",
            Dimension::Length => "m",
            Dimension::Area => "mm2",
            Dimension::Volume => "L",
            Dimension::Flow => "L/min",
            Dimension::Temperature => "°C",
            Dimension::TemperatureDifference => "K",
            Dimension::Duration => "min",
            Dimension::Current => "A",
            Dimension::Voltage => "V",
            Dimension::Frequency => "Hz",
            Dimension::Power => "kW",
            Dimension::Fraction => "ppm",
            Dimension::Concentration => "mg/m3",
            Dimension::Speed => "m/s",
            Dimension::Angle => "deg",
        };
        unit(symbol)
    }
}

#[cfg(test)]
mod tests;
