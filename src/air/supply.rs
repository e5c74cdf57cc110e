//! The electrical supply of the set's motor: full-load and starting current, and the socket that carries it.
//! The cable between socket and motor is [`cable`].
//!
//! In: what stands on the plate, or power, voltage, efficiency and power factor. Out: amperes, a socket of
//! the standard series, or a refusal by name. Always: a socket that is chosen carries the current; a current
//! that no socket carries is refused.
//! The plate rules where it states a current: tables of typical motors stand up to 10 % above what the
//! formula gives for a good motor (`tests/supply/motors.csv`).
//! Not here: whether the fuse ahead lets the motor start, the fault current of the loop, protection against shock,
//! direction of rotation (the checklists ask for what they need of these).
//! Formulas: power of alternating current, any textbook.

pub mod cable;

use super::Refused;
use super::measure::{Amps, KilovoltAmperes, Kilowatts, Ratio, Volts};
use crate::tongue::say;

/// Least power factor a running motor is worked out with; under it the plate is read wrongly.
pub const LEAST_POWER_FACTOR: f64 = 0.3;

/// Least efficiency a motor is worked out with.
pub const LEAST_EFFICIENCY: f64 = 0.3;

/// Current of a direct start, as a multiple of full load, where the plate states none: 8.5, the top of the
/// range 5 to 8.5 of motors today (from memory, IEC 60034-12 and IE3 motors); the top drops most voltage.
pub const START_RATIO: f64 = 8.5;

/// Line current of a star-delta start, as a share of the direct one: a third (the circuit itself; textbook,
/// from memory).
pub const STAR_SHARE: f64 = 1.0 / 3.0;

/// Power factor while a motor starts, where nobody states one: 0.4, the top of the range 0.3 to 0.4 (from
/// memory). On every section of [`cable::SIZES`] up to 50 mm2 the top of that range drops most voltage.
pub const START_POWER_FACTOR: f64 = 0.4;

/// How many phases the motor takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phases {
    /// One phase: two conductors, the voltage is between them.
    One,
    /// Three phases: the voltage is between two of them.
    Three,
}

impl Phases {
    /// What voltage times current is multiplied by to give apparent power.
    fn factor(self) -> f64 {
        match self {
            Phases::One => 1.0,
            Phases::Three => root_three(),
        }
    }
}

/// How the motor starts: the choices of a set file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// Straight onto the line.
    Direct,
    /// In star, then in delta. The ratio is that of the direct start.
    StarDelta,
    /// By a soft starter. The ratio is what the starter is set to; there is no default.
    Soft,
    /// By a frequency converter. The ratio is what it is set to; there is no default.
    Converter,
}

/// A socket of the standard series: IEC 60309-2, series I (from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Socket {
    /// 16 A
    A16,
    /// 32 A
    A32,
    /// 63 A
    A63,
    /// 125 A
    A125,
}

impl Socket {
    /// The series, smallest first.
    pub const SERIES: [Socket; 4] = [Socket::A16, Socket::A32, Socket::A63, Socket::A125];

    /// What it is rated for, A.
    pub fn rating(self) -> u16 {
        match self {
            Socket::A16 => 16,
            Socket::A32 => 32,
            Socket::A63 => 63,
            Socket::A125 => 125,
        }
    }
}

/// Full-load current of a motor: I = P / (k U η cos φ), k = 1 for one phase, √3 for three.
///
/// Range: shaft power 0.05 to 250 kW, voltage 12 to 1000 V (between phases; of one phase, between its two
/// conductors), efficiency and power factor 0.3 to 1. Error: the formula is exact; against tables of typical
/// motors it gives up to 10 % less (IEC 60947-4-1, from memory; myelectrical.com/notes/entryid/156), against
/// NEC table 430.250 up to 20 % less, so the current on the plate goes before it. A motor at its lowest voltage
/// takes more: give that voltage to learn the most.
/// Source: definition of efficiency and power factor.
///
/// # Errors
/// Something outside its range.
pub fn full_load_current(
    phases: Phases,
    power: Kilowatts,
    voltage: Volts,
    efficiency: Ratio,
    power_factor: Ratio,
) -> Result<Amps, Refused> {
    let watts = power.within(say!("the motor's power"), 0.05, 250.0)?.get() * 1000.0;
    let efficiency = efficiency.within(say!("the motor's efficiency"), LEAST_EFFICIENCY, 1.0)?.get();
    let power_factor = running_power_factor(power_factor)?.get();
    let voltage = supply_voltage(voltage)?.get();
    Amps::new(say!("the full-load current"), watts / (phases.factor() * voltage * efficiency * power_factor))
}

/// Apparent power that a current takes: S = k U I, k = 1 for one phase, √3 for three.
///
/// Range: voltage 12 to 1000 V, current to 5000 A. Exact. Source: definition.
///
/// # Errors
/// Something outside its range.
pub fn apparent_power(phases: Phases, voltage: Volts, current: Amps) -> Result<KilovoltAmperes, Refused> {
    let voltage = supply_voltage(voltage)?.get();
    let current = line_current(current)?.get();
    KilovoltAmperes::new(say!("the apparent power"), phases.factor() * voltage * current / 1000.0)
}

/// Steady current in the line while the motor starts; its first half cycle may peak at up to 2.8 times this
/// (IEC 60034-12, scope).
///
/// In: full-load current, to 500 A; `ratio` of starting to full-load current as the plate states it, 1 to 15
/// (`None`: [`START_RATIO`], for direct and star-delta starts only). Error: with a ratio from the plate,
/// ±20 % (IEC 60034-1, tolerance of locked-rotor current, from memory). Source: see the constants.
///
/// # Errors
/// Something outside its range; a soft starter or converter without a stated ratio.
pub fn starting_current(full_load: Amps, ratio: Option<Ratio>, start: Start) -> Result<Amps, Refused> {
    let full_load = full_load.within(say!("the full-load current"), 0.0, 500.0)?.get();
    let ratio = match ratio {
        Some(ratio) => Some(ratio.within(say!("the starting ratio"), 1.0, 15.0)?.get()),
        None => None,
    };
    let times = match start {
        Start::Direct => ratio.unwrap_or(START_RATIO),
        Start::StarDelta => ratio.unwrap_or(START_RATIO) * STAR_SHARE,
        Start::Soft | Start::Converter => ratio.ok_or_else(|| {
            Refused::new(
                say!("the starting ratio"),
                say!("not stated"),
                say!("with what the starter or converter is set to, from 1 to 15"),
            )
        })?,
    };
    // Once in delta, or up to speed, the motor takes its full load: the line never carries less.
    Amps::new(say!("the starting current"), full_load * times.max(1.0))
}

/// The smallest socket of the series that carries a lasting current.
///
/// Range: above 0 to 125 A. A current of exactly the rating is carried. The current of a start is not asked
/// here: it lasts seconds, and the fuse decides on it. Source: IEC 60309-2, series I (from memory).
///
/// # Errors
/// No current at all, or more than the largest socket carries.
pub fn socket(current: Amps) -> Result<Socket, Refused> {
    let amps = current.get();
    let refused = || {
        Refused::new(
            say!("the full-load current"),
            said(amps, "A"),
            say!("above 0 A to 125 A, which is the largest socket"),
        )
    };
    if amps <= 0.0 {
        return Err(refused());
    }
    Socket::SERIES.into_iter().find(|s| f64::from(s.rating()) >= amps).ok_or_else(refused)
}

/// A current to three decimals, upwards: what is shown in a refusal is never under what was refused.
fn said(value: f64, unit: &str) -> String {
    let shown = libm::ceil(value * 1000.0) / 1000.0;
    format!("{shown} {unit}")
}

fn root_three() -> f64 {
    libm::sqrt(3.0)
}

fn supply_voltage(voltage: Volts) -> Result<Volts, Refused> {
    voltage.within(say!("the supply voltage"), 12.0, 1000.0)
}

fn line_current(current: Amps) -> Result<Amps, Refused> {
    current.within(say!("the current"), 0.0, 5000.0)
}

fn running_power_factor(power_factor: Ratio) -> Result<Ratio, Refused> {
    power_factor.within(say!("the power factor"), LEAST_POWER_FACTOR, 1.0)
}

#[cfg(test)]
mod tests;
