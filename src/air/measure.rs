//! Quantities of one kind each, in the unit their name says.
//!
//! Always: a value is finite and within what its kind can be at all; a narrower range is each function's
//! own. Not here: exact values and decimal text (`units`).

use super::Refused;
use crate::tongue::say;

macro_rules! measures {
    ($($(#[$doc:meta])* $name:ident, $unit:literal, $from:expr, $to:expr;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// The unit.
            pub const UNIT: &'static str = $unit;
            /// Least and most this kind of quantity can be.
            pub const RANGE: (f64, f64) = ($from, $to);

            /// The value, named for the refusal.
            ///
            /// # Errors
            /// Not a finite number, or outside [`Self::RANGE`].
            pub fn new(what: &'static str, value: f64) -> Result<Self, Refused> {
                let (from, to) = Self::RANGE;
                if value >= from && value <= to {
                    return Ok($name(value));
                }
                Err(Refused::new(what, shown(value, Self::UNIT), range(from, to, Self::UNIT)))
            }

            /// The value, within a narrower range, named for the refusal.
            ///
            /// # Errors
            /// Outside `from..=to`.
            pub fn within(self, what: &'static str, from: f64, to: f64) -> Result<Self, Refused> {
                if self.0 >= from && self.0 <= to {
                    return Ok(self);
                }
                Err(Refused::new(what, shown(self.0, Self::UNIT), range(from, to, Self::UNIT)))
            }

            /// The value in its unit.
            pub fn get(self) -> f64 {
                self.0
            }
        }
    )*};
}

/// A float for people in a refusal: at most three decimals.
fn shown(value: f64, unit: &'static str) -> String {
    if !value.is_finite() {
        return say!("no number").to_owned();
    }
    let mut text = format!("{value:.3}");
    while text.contains('.') && (text.ends_with('0') || text.ends_with('.')) {
        text.pop();
    }
    format!("{text} {}", spoken(unit))
}

fn range(from: f64, to: f64, unit: &'static str) -> String {
    let unit = spoken(unit);
    say!("from {from} {unit} to {to} {unit}", from, to, unit)
}

/// A unit that is more than a symbol, in words.
fn spoken(unit: &'static str) -> &'static str {
    match unit {
        "bar absolute" => say!("bar absolute"),
        "L of free air" => say!("L of free air"),
        "L/min of free air" => say!("L/min of free air"),
        _ => unit,
    }
}

measures! {
    /// Pressure above the surroundings, bar.
    Gauge, "bar", -1.1, 1100.0;
    /// Absolute pressure, bar.
    Absolute, "bar absolute", 1e-9, 1101.0;
    /// A point on the Celsius scale.
    Celsius, "°C", -150.0, 200.0;
    /// A difference of temperatures.
    Kelvins, "K", -350.0, 350.0;
    /// Water capacity of a vessel, litres.
    Litres, "L", 0.0, 1e6;
    /// An amount of air, as litres of free air: 20 °C, 1.01325 bar, dry.
    FreeLitres, "L of free air", 0.0, 1e9;
    /// A flow of free air.
    Flow, "L/min of free air", 0.0, 1e6;
    /// A length of time.
    Minutes, "min", 0.0, 1e7;
    /// Mass of water per volume of air, that volume at 20 °C and 1.01325 bar.
    Content, "mg/m3", 0.0, 1e6;
    /// A length.
    Metres, "m", 0.0, 1e5;
    /// A small length: a bore.
    Millimetres, "mm", 0.0, 1e5;
    /// A cross-section of a conductor.
    SquareMillimetres, "mm2", 0.0, 1e5;
    /// Current.
    Amps, "A", 0.0, 1e5;
    /// Voltage.
    Volts, "V", 0.0, 1e5;
    /// Power.
    Kilowatts, "kW", 0.0, 1e5;
    /// A pure number: an efficiency, a power factor, a safety factor.
    Ratio, "", 0.0, 1e3;
    /// A bearing or an angle.
    Degrees, "deg", -360.0, 360.0;
    /// A speed.
    MetresPerSecond, "m/s", 0.0, 1e4;
    /// A share by volume, parts per million.
    Ppm, "ppm", 0.0, 1e6;
    /// Resistance of one conductor per length of cable.
    OhmsPerKilometre, "ohm/km", 0.0, 1e3;
    /// Apparent power.
    KilovoltAmperes, "kVA", 0.0, 1e6;
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn only_finite_values_within_what_the_kind_can_be() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.2, 1101.0] {
            assert!(Gauge::new("the reading", bad).is_err(), "{bad}");
        }
        assert_eq!(Gauge::new("the reading", -1.0).unwrap().get(), -1.0);
    }

    #[test]
    fn a_refusal_names_the_quantity_what_it_was_and_what_is_wanted() {
        let cold = Celsius::new("the gas temperature", -31.25).unwrap();
        let refused = cold.within("the gas temperature", -20.0, 50.0).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "the gas temperature is -31.25 °C; this can be worked out only from -20 °C to 50 °C"
        );
        let none = Ratio::new("the factor", f64::NAN).unwrap_err();
        assert_eq!(none.got, "no number");
    }
}
