//! The units: symbol, dimension, exact factor to the base unit, source.
//!
//! Always: one symbol per unit in what we write; a factor is an exact fraction, never a rounded
//! decimal. Spellings that are often typed but carry a trap are refused with the reason.
//!
//! Sources. "definition" is the unit itself or a decimal multiple (SI prefix). SP 811 is NIST
//! Special Publication 811 (2008), appendix B, from memory: it marks in bold the factors that are
//! exact, and the exact ones used here are the inch 0.0254 m, the pound 0.453 592 37 kg, the
//! standard acceleration 9.806 65 m/s2, the nautical mile 1852 m, and 5/9 for °F. Every derived factor is
//! worked out from those in its comment.
//!
//! What the sources of the trade measure in, and the row that reads it: gauge pressure bar, kPa, MPa, psi; breathing
//! resistance mmH2O, inH2O (EN 136 and NIOSH tables); barometer mbar_abs, bar_abs; free air L/min, L/s, m3/h, m3/min,
//! ft3/min; water capacity L, ft3; temperatures and dew points °C, °F; oil and water mg/m3; gases %, ppm, ml/m3; wind
//! m/s, km/h, kn, mph; where it comes from deg; hoses m, ft, bores mm, in; cables mm2; supply V, A, mA, Hz; motors
//! kW, hp. Sound levels, resistances and apparent power are refused by name: nothing here reckons with them.

use super::decimal::{lowest, small};
use super::{Dimension, Refused, near, span};
use crate::tongue::say;
use num_bigint::BigInt;
use num_rational::BigRational;
use std::fmt;

struct Row {
    symbol: &'static str,
    dimension: Dimension,
    /// Times this (numerator, denominator) gives base units ...
    factor: (i64, i64),
    /// ... plus this. Only temperatures have one.
    offset: (i64, i64),
    source: &'static str,
}

const NO_OFFSET: (i64, i64) = (0, 1);
const DEFINITION: &str = "definition";
const SP811: &str = "NIST SP 811 appendix B, from memory";

const fn row(symbol: &'static str, dimension: Dimension, factor: (i64, i64), source: &'static str) -> Row {
    Row { symbol, dimension, factor, offset: NO_OFFSET, source }
}

static ROWS: &[Row] = &[
    row("bar", Dimension::Pressure, (1, 1), DEFINITION),
    row("kPa", Dimension::Pressure, (1, 100), DEFINITION),
    row("MPa", Dimension::Pressure, (10, 1), DEFINITION),
    // lbf/in2 = 0.45359237 * 9.80665 N / (0.0254 m)^2 = 4.4482216152605 / 0.00064516 Pa
    row("psi", Dimension::Pressure, (44_482_216_152_605, 645_160_000_000_000), SP811),
    // Conventional: 1000 kg/m3 * 9.80665 m/s2 * 0.001 m = 9.80665 Pa
    row("mmH2O", Dimension::Pressure, (980_665, 10_000_000_000), SP811),
    // 25.4 of these = 249.08891 Pa
    row("inH2O", Dimension::Pressure, (24_908_891, 10_000_000_000), SP811),
    row("bar_abs", Dimension::AbsolutePressure, (1, 1), DEFINITION),
    row("mbar_abs", Dimension::AbsolutePressure, (1, 1000), DEFINITION),
    row("m", Dimension::Length, (1, 1), DEFINITION),
    row("mm", Dimension::Length, (1, 1000), DEFINITION),
    row("cm", Dimension::Length, (1, 100), DEFINITION),
    row("km", Dimension::Length, (1000, 1), DEFINITION),
    // 12 * 0.0254 m
    row("ft", Dimension::Length, (3048, 10_000), SP811),
    row("in", Dimension::Length, (254, 10_000), SP811),
    row("m2", Dimension::Area, (1, 1), DEFINITION),
    row("mm2", Dimension::Area, (1, 1_000_000), DEFINITION),
    row("m3", Dimension::Volume, (1, 1), DEFINITION),
    row("L", Dimension::Volume, (1, 1000), DEFINITION),
    // (0.3048 m)^3
    row("ft3", Dimension::Volume, (28_316_846_592, 1_000_000_000_000), SP811),
    row("m3/h", Dimension::Flow, (1, 3600), DEFINITION),
    row("m3/min", Dimension::Flow, (1, 60), DEFINITION),
    row("L/min", Dimension::Flow, (1, 60_000), DEFINITION),
    row("L/s", Dimension::Flow, (1, 1000), DEFINITION),
    row("ft3/min", Dimension::Flow, (28_316_846_592, 60_000_000_000_000), SP811),
    row("°C", Dimension::Temperature, (1, 1), DEFINITION),
    // t/°C = (t/°F - 32) * 5/9
    Row {
        symbol: "°F", dimension: Dimension::Temperature, factor: (5, 9), offset: (-160, 9), source: SP811
    },
    row("K", Dimension::TemperatureDifference, (1, 1), DEFINITION),
    row("dF", Dimension::TemperatureDifference, (5, 9), SP811),
    row("s", Dimension::Duration, (1, 1), DEFINITION),
    row("min", Dimension::Duration, (60, 1), DEFINITION),
    row("h", Dimension::Duration, (3600, 1), DEFINITION),
    row("A", Dimension::Current, (1, 1), DEFINITION),
    row("mA", Dimension::Current, (1, 1000), DEFINITION),
    row("V", Dimension::Voltage, (1, 1), DEFINITION),
    row("Hz", Dimension::Frequency, (1, 1), DEFINITION),
    row("W", Dimension::Power, (1, 1), DEFINITION),
    row("kW", Dimension::Power, (1000, 1), DEFINITION),
    // 550 ft lbf/s = 550 * 0.3048 * 4.4482216152605 W
    row("hp", Dimension::Power, (74_569_987_158_227_022, 100_000_000_000_000), SP811),
    row("ppm", Dimension::Fraction, (1, 1_000_000), DEFINITION),
    row("ml/m3", Dimension::Fraction, (1, 1_000_000), DEFINITION),
    row("%", Dimension::Fraction, (1, 100), DEFINITION),
    row("mg/m3", Dimension::Concentration, (1, 1), DEFINITION),
    row("m/s", Dimension::Speed, (1, 1), DEFINITION),
    row("km/h", Dimension::Speed, (1000, 3600), DEFINITION),
    // 5280 * 0.3048 m = 1609.344 m
    row("mph", Dimension::Speed, (1_609_344, 3_600_000), SP811),
    row("kn", Dimension::Speed, (1852, 3600), SP811),
    row("deg", Dimension::Angle, (1, 1), DEFINITION),
];

/// Second spellings that mean the same and are taken.
const ALSO: &[(&str, &str)] = &[("degC", "°C"), ("degF", "°F")];

/// Words in the language in force.
type Words = fn() -> &'static str;

fn no_state() -> &'static str {
    say!("does not say at which temperature and pressure the air is counted")
}

fn no_unit() -> &'static str {
    say!("is not a unit here")
}

/// Spellings that are refused, why, and what to write.
const TRAPS: &[(&[&str], Words, Words)] = &[
    (&["scfm", "acfm", "cfm", "scfh", "icfm", "fad"], no_state, || {
        say!("convert it to free air at 20 °C, 1.01325 bar, dry, and write ft3/min")
    }),
    (
        &["nm3/h", "nm³/h", "nm3/min", "sm3/h", "nl/min", "sl/min", "slpm", "nlpm", "lpm", "l(n)/min"],
        no_state,
        || say!("convert it to free air at 20 °C, 1.01325 bar, dry, and write L/min or m3/h"),
    ),
    (
        &["barg", "bar(g)", "bar_g", "psig", "psi(g)"],
        || say!("says gauge twice"),
        || say!("bar and psi are gauge here: write bar or psi"),
    ),
    (
        &["bara", "bar(a)", "bar_a", "barabs", "psia", "psi(a)", "atm", "torr", "mmhg", "hpa", "mbar"],
        || say!("is an absolute pressure, or may be meant as one"),
        || say!("write bar_abs or mbar_abs for absolute pressure, bar or kPa for gauge"),
    ),
    (
        &["db", "dba", "db(a)", "db(c)"],
        || say!("is a level, and levels do not add up or multiply"),
        || say!("ask for a plain number and say dB(A) in its words"),
    ),
    (
        &["ohm", "ohms", "Ω", "ω", "kohm", "mohm"],
        || say!("is not read by any step"),
        || say!("ask whether the test passed"),
    ),
    (&["mmwc", "mmws", "mm_h2o", "mmwg", "cmh2o"], no_unit, || say!("write mmH2O")),
    (&["inwc", "inwg", "in_h2o"], no_unit, || say!("write inH2O")),
    (&["pa"], || say!("is too small to read on these gauges"), || say!("write kPa or bar")),
    (&["va", "kva"], || say!("is apparent power, not W"), || say!("write the power on the plate in kW")),
    (&["ps", "cv", "bhp"], || say!("is another horsepower than hp (550 ft lbf/s)"), || say!("write kW")),
    (&["c", "celsius", "ºc", "f", "fahrenheit", "ºf", "°"], no_unit, || {
        say!("write °C, °F, degC or degF; an angle is deg")
    }),
    (&["m³", "m^3", "cum"], no_unit, || say!("write m3")),
    (&["mm²", "mm^2", "sqmm"], no_unit, || say!("write mm2")),
    (&["m³/h", "m³/min", "m^3/h"], no_unit, || say!("write m3/h or m3/min")),
    (&["mg/m³", "mg/m^3"], no_unit, || say!("write mg/m3")),
    (&["litre", "litres", "liter", "liters", "lt", "ltr"], no_unit, || say!("write L")),
    (&["sec", "secs", "second", "seconds"], no_unit, || say!("write s")),
    (&["mins", "minute", "minutes"], no_unit, || say!("write min")),
    (&["hr", "hrs", "hour", "hours"], no_unit, || say!("write h")),
    (&["meter", "meters", "metre", "metres"], no_unit, || say!("write m")),
    (&["feet", "foot"], no_unit, || say!("write ft")),
    (&["inch", "inches"], no_unit, || say!("write in")),
    (&["knot", "knots", "kt", "kts"], no_unit, || say!("write kn")),
    (&["percent", "vol%", "%vol", "pct"], no_unit, || say!("write %, which is by volume")),
    (&["ppmv", "vpm"], no_unit, || say!("write ppm, which is by volume")),
    (&["degree", "degrees"], no_unit, || say!("write deg")),
];

/// A unit of the table.
#[derive(Clone, Copy)]
pub struct Unit(&'static Row);

/// The unit with this symbol, exactly as written (`L/min`), or the ASCII spellings `degC`, `degF`.
pub fn unit(symbol: &str) -> Option<Unit> {
    let symbol = ALSO.iter().find(|(also, _)| *also == symbol).map_or(symbol, |(_, it)| *it);
    ROWS.iter().find(|row| row.symbol == symbol).map(Unit)
}

/// Every unit, by dimension.
pub fn all_units() -> impl Iterator<Item = Unit> {
    ROWS.iter().map(Unit)
}

impl Unit {
    /// The unit with this symbol.
    ///
    /// # Errors
    /// Says why a spelling is refused and what to write, or names the nearest unit.
    pub fn find(symbol: &str) -> Result<Unit, Refused> {
        if let Some(unit) = unit(symbol) {
            return Ok(unit);
        }
        if symbol.is_empty() {
            return Err(Refused::new(say!("got no unit, wanted one such as bar")));
        }
        if let Some(row) = ROWS.iter().find(|row| row.symbol.to_lowercase() == symbol.to_lowercase()) {
            return Err(Refused::new(say!(
                "got the unit {symbol}, wanted {wanted}",
                symbol = format!("{symbol:?}"),
                wanted = row.symbol
            ))
            .hint(say!("write {wanted}: small and capital letters count", wanted = row.symbol)));
        }
        if let Some(hint) = span::other_word(symbol) {
            return Err(
                Refused::new(say!("there is no unit {symbol}", symbol = format!("{symbol:?}"))).hint(hint)
            );
        }
        let small = symbol.to_lowercase();
        if let Some((_, why, hint)) =
            TRAPS.iter().find(|(spellings, _, _)| spellings.contains(&small.as_str()))
        {
            return Err(Refused::new(say!(
                "the unit {symbol} {why}",
                symbol = format!("{symbol:?}"),
                why = why()
            ))
            .hint(hint()));
        }
        let refused = Refused::new(say!("there is no unit {symbol}", symbol = format!("{symbol:?}")));
        Err(match near::nearest(symbol, ROWS.iter().map(|row| row.symbol)) {
            Some(near) => refused.hint(say!("did you mean {near}?", near)),
            None => refused,
        })
    }

    /// The symbol, as we write it.
    pub fn symbol(self) -> &'static str {
        self.0.symbol
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.0.dimension
    }

    /// Where the factor comes from.
    pub fn source(self) -> &'static str {
        self.0.source
    }

    /// A value in this unit, in base units.
    pub fn to_base(self, value: &BigRational) -> BigRational {
        let ((a, b), (c, e)) = (self.0.factor, self.0.offset);
        // n/d · a/b + c/e
        let short = |n: i128, d: i128| {
            let (n, moved) = (mul(mul(n, a)?, e)?, mul(mul(d, b)?, c)?);
            Some((n.checked_add(moved)?, mul(mul(d, b)?, e)?))
        };
        let found = small(value).and_then(|(n, d)| short(n, d)).and_then(|(n, d)| lowest(n, d));
        found.unwrap_or_else(|| value * fraction(self.0.factor) + fraction(self.0.offset))
    }

    /// A value in base units, in this unit.
    pub fn from_base(self, value: &BigRational) -> BigRational {
        let ((a, b), (c, e)) = (self.0.factor, self.0.offset);
        // (n/d − c/e) · b/a
        let short = |n: i128, d: i128| {
            let n = mul(n, e)?.checked_sub(mul(d, c)?)?;
            Some((mul(n, b)?, mul(mul(d, e)?, a)?))
        };
        let found = small(value).and_then(|(n, d)| short(n, d)).and_then(|(n, d)| lowest(n, d));
        found.unwrap_or_else(|| (value - fraction(self.0.offset)) / fraction(self.0.factor))
    }
}

impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.0.symbol == other.0.symbol
    }
}

impl Eq for Unit {}

impl fmt::Debug for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Unit({})", self.0.symbol)
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.symbol)
    }
}

fn mul(a: i128, b: impl Into<i128>) -> Option<i128> {
    a.checked_mul(b.into())
}

/// Denominators and factors of the table are never nought (a test walks it).
fn fraction((above, below): (i64, i64)) -> BigRational {
    BigRational::new(BigInt::from(above), BigInt::from(below))
}
