//! The functions of the gate language that reckon with air: exact quantities in, `air` at work, exact quantities
//! out.
//!
//! Always: what each argument does to the result is said (`way`), so that a range of answers is judged by its ends;
//! tests hold the functions to it. What `air` refuses is unknown to the gate, in its words.
//! A float is exact as a fraction; it is leaned to the safe side by a part in a thousand million ([`GUARD`]) before the
//! step rounds it, so that no last digit of a float decides.
//! Not here: the arithmetic.

use super::{Form, Function, Takes, Work};
use crate::air::measure::{
    Absolute, Amps, Celsius, Content, Degrees, Flow, Gauge, Litres, Metres, MetresPerSecond, Millimetres,
    Minutes, Ratio, SquareMillimetres, Volts,
};
use crate::air::reserve::Reserve;
use crate::air::supply::{Phases, cable};
use crate::air::{hose, moisture, siting};
use crate::gate::Direction;
use crate::tongue::{say, to_say};
use crate::units::{Dimension, Quantity, unit};
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};

/// All of them.
pub(in crate::gate) static AIR: &[Function] = &[
    Function {
        name: "endurance",
        form: plain(ENDURANCE, Dimension::Duration, endurance),
        written: "endurance(least(reserve), sum(set.cylinders.volume), warm, cold, set.reserve_floor, \
                  site.ambient_pressure, sum(wearers.most))",
    },
    Function {
        name: "leave_by_pressure",
        form: plain(LEAVE_BY, Dimension::Pressure, leave_by),
        written: "leave_by_pressure(sum(set.cylinders.volume), warm, cold, set.reserve_floor, site.ambient_pressure, \
                  sum(wearers.most), job.way_out)",
    },
    Function {
        name: "hose_pressure",
        form: plain(HOSE, Dimension::Pressure, hose_pressure),
        written: "hose_pressure(all_flowing, wearer.hose_bore, wearer.hose_length, wearer.most, ambient_high, \
                  site.coupling_loss * wearer.hose_sections, site.ambient_pressure)",
    },
    Function {
        name: "dew_point_at",
        form: plain(DEW_POINT, Dimension::Temperature, dew_point_at),
        written: "dew_point_at(air_water, set.supply_pressure_to, site.ambient_pressure)",
    },
    Function {
        name: "water_at",
        form: plain(WATER, Dimension::Concentration, water_at),
        written: "water_at(air_dew_point, set.supply_pressure_to, site.ambient_pressure)",
    },
    Function {
        name: "voltage_lost",
        form: plain(CABLE, Dimension::Fraction, voltage_lost),
        written: "voltage_lost(set.motor.current, set.motor.power_factor, set.motor.voltage, cable_length, \
                  cable_section, site.conductor_temperature)",
    },
    Function {
        name: "voltage_lost_single",
        form: plain(CABLE, Dimension::Fraction, voltage_lost_single),
        written: "voltage_lost_single(set.motor.current, set.motor.power_factor, set.motor.voltage, cable_length, \
                  cable_section, site.conductor_temperature)",
    },
    Function {
        name: "wind_clearance",
        form: plain(WIND, Dimension::Angle, wind_clearance),
        written: "wind_clearance(exhaust_bearing, wind_from, wind_speed, site.wind_sector, site.light_wind)",
    },
    Function {
        name: "warmer",
        form: plain(TWO_TEMPERATURES, Dimension::Temperature, warmer),
        written: "warmer(ambient_high, reserve_temperature)",
    },
    Function {
        name: "colder",
        form: plain(TWO_TEMPERATURES, Dimension::Temperature, colder),
        written: "colder(ambient_low, reserve_temperature)",
    },
    Function {
        name: "longer",
        form: plain(TWO_DURATIONS, Dimension::Duration, warmer),
        written: "longer(job.way_out * site.way_out_factor, site.way_out_floor)",
    },
    Function {
        name: "smaller_flow",
        form: plain(TWO_FLOWS, Dimension::Flow, colder),
        written: "smaller_flow(set.rated_flow, least(set.outlets.flow_limit))",
    },
];

const fn plain(takes: &'static [Takes], gives: Dimension, work: Work) -> Form {
    Form::Plain { takes, gives, work }
}

const fn takes(dimension: Dimension, words: &'static str, way: Direction) -> Takes {
    Takes { dimension, words, way }
}

use Direction::{Down, Unclear, Up};

const ENDURANCE: &[Takes] = &[
    takes(Dimension::Pressure, "the reading of the reserve", Up),
    takes(Dimension::Volume, "the water capacity of the reserve", Up),
    takes(Dimension::Temperature, to_say!("the temperature of the cylinders at the reading"), Down),
    takes(Dimension::Temperature, "the lowest temperature of the cylinders", Up),
    takes(Dimension::Pressure, "the floor of the reserve", Down),
    // More all around is more in the cylinders, at the reading as at the floor.
    takes(Dimension::AbsolutePressure, "the ambient pressure", Unclear),
    takes(Dimension::Flow, "the flow drawn", Down),
];
const LEAVE_BY: &[Takes] = &[
    takes(Dimension::Volume, "the water capacity of the reserve", Down),
    takes(Dimension::Temperature, "the highest temperature of the cylinders", Up),
    takes(Dimension::Temperature, "the lowest temperature of the cylinders", Down),
    takes(Dimension::Pressure, "the floor of the reserve", Up),
    takes(Dimension::AbsolutePressure, "the ambient pressure", Unclear),
    takes(Dimension::Flow, "the flow drawn", Up),
    takes(Dimension::Duration, "how long it must last", Up),
];
const HOSE: &[Takes] = &[
    takes(Dimension::Pressure, "the supply pressure", Up),
    takes(Dimension::Length, "the bore of the hose", Up),
    takes(Dimension::Length, "the length of the hose", Down),
    takes(Dimension::Flow, "the flow through it", Down),
    takes(Dimension::Temperature, "the temperature of the hose", Down),
    takes(Dimension::Pressure, "what its couplings lose", Down),
    takes(Dimension::AbsolutePressure, "the ambient pressure", Unclear),
];
const DEW_POINT: &[Takes] = &[
    takes(Dimension::Concentration, "the water content", Up),
    takes(Dimension::Pressure, "the pressure in the line", Up),
    takes(Dimension::AbsolutePressure, "the ambient pressure", Up),
];
const WATER: &[Takes] = &[
    takes(Dimension::Temperature, "the dew point in the line", Up),
    takes(Dimension::Pressure, "the pressure in the line", Down),
    takes(Dimension::AbsolutePressure, "the ambient pressure", Down),
];
const CABLE: &[Takes] = &[
    takes(Dimension::Current, "the current", Up),
    takes(Dimension::Number, "the power factor", Unclear),
    takes(Dimension::Voltage, "the voltage", Down),
    takes(Dimension::Length, "the length of the cable", Up),
    takes(Dimension::Area, "the section of a conductor", Unclear),
    takes(Dimension::Temperature, "the temperature of the conductor", Up),
];
const WIND: &[Takes] = &[
    takes(Dimension::Angle, "the bearing to the exhaust", Unclear),
    takes(Dimension::Angle, "where the wind comes from", Unclear),
    takes(Dimension::Speed, "the wind speed", Up),
    takes(Dimension::Angle, "half the sector of the wind", Down),
    takes(Dimension::Speed, "the speed below which wind is light", Down),
];
const TWO_TEMPERATURES: &[Takes] = &[
    takes(Dimension::Temperature, to_say!("a temperature"), Up),
    takes(Dimension::Temperature, to_say!("another temperature"), Up),
];
const TWO_FLOWS: &[Takes] =
    &[takes(Dimension::Flow, to_say!("a flow"), Up), takes(Dimension::Flow, to_say!("another flow"), Up)];
const TWO_DURATIONS: &[Takes] = &[
    takes(Dimension::Duration, to_say!("a duration"), Up),
    takes(Dimension::Duration, to_say!("another duration"), Up),
];

/// Which way a result errs to be safe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::gate) enum Lean {
    /// Less is safer: time, pressure that is left, clearance.
    Down,
    /// More is safer: what is needed, what is lost, what is in the air.
    Up,
}

impl Lean {
    /// The other way: of a value that is taken away.
    pub(in crate::gate) fn turned(self) -> Lean {
        match self {
            Lean::Down => Lean::Up,
            Lean::Up => Lean::Down,
        }
    }
}

/// Results and which way they err, but for `water_at`, which serves both ways: the one table, from which the functions and its test are made.
pub(in crate::gate) static LEANS: &[(&str, Lean)] = &[
    ("endurance", Lean::Down),
    ("leave_by_pressure", Lean::Up),
    ("hose_pressure", Lean::Down),
    ("dew_point_at", Lean::Up),
    ("voltage_lost", Lean::Up),
    ("voltage_lost_single", Lean::Up),
    ("wind_clearance", Lean::Down),
];

/// Results that are never below nought: times, pressures that are left or needed, shares lost, clearances, contents.
pub(in crate::gate) static NEVER_BELOW_NOUGHT: &[&str] =
    &["endurance", "hose_pressure", "water_at", "voltage_lost", "voltage_lost_single", "wind_clearance"];

/// Share of a result by which it is leaned: above what floats lose here, below what anyone reads.
pub(in crate::gate) const GUARD: f64 = 1e-9;

/// A float in a unit to an exact quantity, leaned.
fn lean(name: &str, value: f64, symbol: &str) -> Result<Quantity, String> {
    let lean = super::lean(name);
    let by = libm::fabs(value) * GUARD;
    let value = match lean {
        Some(Lean::Down) => value - by,
        Some(Lean::Up) => value + by,
        None => value,
    };
    let unit = unit(symbol).ok_or_else(|| say!("there is no unit {symbol}", symbol))?;
    let exact = BigRational::from_float(value).ok_or_else(|| say!("{name} comes out as no number", name))?;
    Ok(Quantity { value: unit.to_base(&exact), dimension: unit.dimension() })
}

/// The arguments of one call, taken one after the other in the unit that `air` reckons in.
struct Given<'a>(std::slice::Iter<'a, Quantity>);

impl Given<'_> {
    fn next(&mut self, symbol: &str) -> Result<f64, String> {
        let quantity = self.0.next().ok_or_else(|| say!("an argument lacks").to_owned())?;
        let value = match unit(symbol) {
            Some(unit) => {
                quantity.in_unit(unit).ok_or_else(|| say!("an argument is not in {symbol}", symbol))?
            }
            None => quantity.value.clone(),
        };
        value.to_f64().ok_or_else(|| say!("an argument is no number").to_owned())
    }
}

/// A measure of the next argument, named for a refusal.
macro_rules! next {
    ($given:ident, $measure:ident, $symbol:literal, $what:expr) => {
        $measure::new($what, $given.next($symbol)?).map_err(|e| e.to_string())?
    };
}

/// How long a reserve lasts: reading, water capacity, warmest, coldest, floor, ambient pressure, flow drawn; as gates
/// call it. Units: any of their dimensions. Range and error as `air::reserve`; leans to less.
///
/// # Errors
/// An argument lacks, or lies outside the range.
pub fn endurance(arguments: &[Quantity]) -> Result<Quantity, String> {
    let mut g = Given(arguments.iter());
    let reading = next!(g, Gauge, "bar", say!("the reading of the reserve"));
    let volume = next!(g, Litres, "L", say!("the water capacity of the reserve"));
    let warm = next!(g, Celsius, "°C", say!("the temperature of the cylinders"));
    let cold = next!(g, Celsius, "°C", say!("the lowest temperature of the cylinders"));
    let floor = next!(g, Gauge, "bar", say!("the floor of the reserve"));
    let ambient = next!(g, Absolute, "bar_abs", say!("the ambient pressure"));
    let flow = next!(g, Flow, "L/min", say!("the flow drawn"));
    let minutes = Reserve::new(volume, ambient, warm, cold, floor).and_then(|r| r.endurance(reading, flow));
    lean("endurance", minutes.map_err(|e| e.to_string())?.get(), "min")
}

fn leave_by(arguments: &[Quantity]) -> Result<Quantity, String> {
    let mut g = Given(arguments.iter());
    let volume = next!(g, Litres, "L", say!("the water capacity of the reserve"));
    let warm = next!(g, Celsius, "°C", say!("the highest temperature of the cylinders"));
    let cold = next!(g, Celsius, "°C", say!("the lowest temperature of the cylinders"));
    let floor = next!(g, Gauge, "bar", say!("the floor of the reserve"));
    let ambient = next!(g, Absolute, "bar_abs", say!("the ambient pressure"));
    let flow = next!(g, Flow, "L/min", say!("the flow drawn"));
    let minutes = next!(g, Minutes, "min", say!("how long it must last"));
    let pressure = Reserve::new(volume, ambient, warm, cold, floor).and_then(|r| r.leave_by(flow, minutes));
    lean("leave_by_pressure", pressure.map_err(|e| e.to_string())?.get(), "bar")
}

fn hose_pressure(arguments: &[Quantity]) -> Result<Quantity, String> {
    let mut g = Given(arguments.iter());
    let inlet = next!(g, Gauge, "bar", say!("the supply pressure"));
    let line = hose::Line {
        bore: next!(g, Millimetres, "mm", say!("the bore of the hose")),
        length: next!(g, Metres, "m", say!("the length of the hose")),
        flow: next!(g, Flow, "L/min", say!("the flow through it")),
        temperature: next!(g, Celsius, "°C", say!("the temperature of the hose")),
        couplings: next!(g, Gauge, "bar", say!("what its couplings lose")),
    };
    let ambient = next!(g, Absolute, "bar_abs", say!("the ambient pressure"));
    let left = hose::end_pressure(&line, inlet, ambient).map_err(|e| e.to_string())?;
    lean("hose_pressure", left.get(), "bar")
}

fn dew_point_at(arguments: &[Quantity]) -> Result<Quantity, String> {
    let mut g = Given(arguments.iter());
    let content = next!(g, Content, "mg/m3", say!("the water content"));
    let line = next!(g, Gauge, "bar", say!("the pressure in the line"));
    let ambient = next!(g, Absolute, "bar_abs", say!("the ambient pressure"));
    let dew = moisture::pressure_dew_point(content, line, ambient).map_err(|e| e.to_string())?;
    lean("dew_point_at", dew.get(), "°C")
}

fn water_at(arguments: &[Quantity]) -> Result<Quantity, String> {
    let mut g = Given(arguments.iter());
    let dew = next!(g, Celsius, "°C", say!("the dew point in the line"));
    let line = next!(g, Gauge, "bar", say!("the pressure in the line"));
    let ambient = next!(g, Absolute, "bar_abs", say!("the ambient pressure"));
    let content = crate::air::reserve::absolute(line, ambient).and_then(|p| moisture::content(dew, p));
    lean("water_at", content.map_err(|e| e.to_string())?.get(), "mg/m3")
}

fn voltage_lost(arguments: &[Quantity]) -> Result<Quantity, String> {
    lean("voltage_lost", drop_share(arguments, Phases::Three)? * 100.0, "%")
}

fn voltage_lost_single(arguments: &[Quantity]) -> Result<Quantity, String> {
    lean("voltage_lost_single", drop_share(arguments, Phases::One)? * 100.0, "%")
}

fn drop_share(arguments: &[Quantity], phases: Phases) -> Result<f64, String> {
    let mut g = Given(arguments.iter());
    let current = next!(g, Amps, "A", say!("the current"));
    let power_factor = next!(g, Ratio, "", say!("the power factor"));
    let voltage = next!(g, Volts, "V", say!("the voltage"));
    let length = next!(g, Metres, "m", say!("the length of the cable"));
    let section = next!(g, SquareMillimetres, "mm2", say!("the section of a conductor"));
    let conductor = next!(g, Celsius, "°C", say!("the temperature of the conductor"));
    let load = cable::Load { phases, voltage, current, power_factor };
    let cable = cable::Cable { section, length, conductor };
    cable::voltage_drop(&load, &[cable]).map(|drop| drop.share.get()).map_err(|e| e.to_string())
}

/// Exactly: a clearance of 120° is not to be shown as 119.
fn wind_clearance(arguments: &[Quantity]) -> Result<Quantity, String> {
    let mut g = Given(arguments.iter());
    let exhaust = next!(g, Degrees, "deg", say!("the bearing to the exhaust"));
    let wind = next!(g, Degrees, "deg", say!("where the wind comes from"));
    let speed = next!(g, MetresPerSecond, "m/s", say!("the wind speed"));
    let sector = next!(g, Degrees, "deg", say!("half the sector of the wind"));
    let light = next!(g, MetresPerSecond, "m/s", say!("the speed below which wind is light"));
    let standing = siting::intake(exhaust, wind, speed, sector, light).map_err(|e| e.to_string())?;
    let none = Quantity { value: BigRational::zero(), dimension: Dimension::Angle };
    let (siting::Standing::Clear(_), [exhaust, wind, _, sector, _]) = (standing, arguments) else {
        return Ok(none);
    };
    let round = unit("deg").map(|u| u.to_base(&BigRational::from_integer(360.into())));
    let round = round.ok_or_else(|| say!("there is no unit deg").to_owned())?;
    let apart = (&exhaust.value - &wind.value).abs();
    let apart = std::cmp::min(&round - &apart, apart.clone());
    Ok(Quantity { value: std::cmp::max(apart - &sector.value, none.value), dimension: Dimension::Angle })
}

/// The larger of two, exactly.
fn warmer(arguments: &[Quantity]) -> Result<Quantity, String> {
    arguments
        .iter()
        .max_by(|a, b| a.value.cmp(&b.value))
        .cloned()
        .ok_or_else(|| say!("nothing to compare").to_owned())
}

/// The smaller of two, exactly.
fn colder(arguments: &[Quantity]) -> Result<Quantity, String> {
    arguments
        .iter()
        .min_by(|a, b| a.value.cmp(&b.value))
        .cloned()
        .ok_or_else(|| say!("nothing to compare").to_owned())
}

#[cfg(test)]
mod tests;
