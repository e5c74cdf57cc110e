//! The cable between socket and motor: how much voltage it takes, how long it may be, which section would do.
//!
//! In: what flows ([`Load`]), the cable ([`Cable`]), what may be lost. Out: the voltage drop by the usual
//! formula and by the exact one, and a verdict by the larger. Always: longer never drops less, thicker never
//! more, a colder conductor never more; what drops over half the voltage is refused, no motor runs on that.
//! **The usual formula says too little**: about 14 % at a start with a power factor of 0.35 over a thin
//! cable, because it leaves out the part of the drop that stands across the voltage. The exact one is never
//! the smaller, and is the verdict.
//! Not here: whether the section carries the current without getting hot (cable and fuse are matched by
//! whoever owns the supply; a section found here is thick enough for the voltage and no more is said), that
//! the current of a running motor rises as its voltage falls, the impedance of the supply ahead of the
//! socket or of a small generator.
//! Formulas: Kirchhoff; the usual one as in IEC 60364-5-52 Annex G. Resistances: IEC 60228 class 5.

use super::super::Refused;
use super::super::measure::{Amps, Celsius, Metres, OhmsPerKilometre, Ratio, SquareMillimetres, Volts};
use super::{Phases, line_current, supply_voltage};
use crate::tongue::say;

/// Standard sections of flexible cable, mm2, each with the largest resistance of a conductor at 20 °C, ohm/km:
/// IEC 60228 class 5, plain copper, from memory for 1.5 to 10; all read at
/// mycableengineering.com/knowledge-base/iec-60228-dc-resistance and uecables.com, which agree.
pub const SIZES: [(f64, f64); 11] = [
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.780),
    (35.0, 0.554),
    (50.0, 0.386),
    (70.0, 0.272),
    (95.0, 0.206),
];

/// How much the resistance of copper rises for each kelvin over 20 °C, as a share of that at 20 °C (IEC 60228,
/// from memory).
pub const COPPER_PER_KELVIN: f64 = 0.00393;

/// Reactance of each conductor of a cable, ohm/km: 0.08 mΩ/m (IEC 60364-5-52 Annex G).
pub const REACTANCE: f64 = 0.08;

/// Temperature of the conductor in a cable that carries what it may, °C, where nobody states another: 70, the
/// most that common insulation stands (from memory). A trailing cable on a drum may reach it.
pub const WORKING_TEMPERATURE: f64 = 70.0;

/// Share of the voltage that may be lost while the motor runs, where nobody states another: 5 %, public supply,
/// other than lighting (IEC 60364-5-52 Annex G). Its allowance for what is longer than 100 m is not taken.
/// There is no such figure for the start: the maker's lowest voltage says it.
pub const RUNNING_LIMIT: f64 = 0.05;

/// The longest cable that is worked out, m.
pub const LONGEST: f64 = 1000.0;

/// The largest share of the voltage that is worked out as a drop, or taken as a limit.
const MOST_SHARE: f64 = 0.5;

/// What flows through the cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// How many phases.
    pub phases: Phases,
    /// Voltage at the socket: between two phases, or of one phase between its two conductors; 12 to 1000 V.
    pub voltage: Volts,
    /// Current in each conductor; to 5000 A.
    pub current: Amps,
    /// Power factor at the motor, lagging; 0.1 to 1.
    pub power_factor: Ratio,
}

/// A flexible copper cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cable {
    /// One of [`SIZES`].
    pub section: SquareMillimetres,
    /// Its whole length, one way, also what lies on the drum; to 1000 m.
    pub length: Metres,
    /// Temperature of its conductors at work; -20 to 90 °C.
    pub conductor: Celsius,
}

/// Shares of the voltage that may be lost; each above 0, to 0.5.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// While the motor runs.
    pub running: Ratio,
    /// While it starts.
    pub starting: Ratio,
}

/// The voltage lost between socket and motor, between the same conductors as the voltage it is lost of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VoltageDrop {
    /// k I L (R cos φ + X sin φ), k = 2 for one phase, √3 for three.
    pub usual: Volts,
    /// The difference of the two voltages' magnitudes, the current and its power factor being those at the
    /// motor and the voltage at the socket being the nominal one.
    pub exact: Volts,
    /// The larger, as a share of the voltage at the socket.
    pub share: Ratio,
}

impl VoltageDrop {
    /// The larger of the two: what is judged by.
    pub fn worst(&self) -> Volts {
        if self.usual > self.exact { self.usual } else { self.exact }
    }
}

/// Whether a cable does, and if not, what would.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// The drop while the motor runs; refused if over half the voltage.
    pub running: Result<VoltageDrop, Refused>,
    /// The drop while it starts, where that was asked.
    pub starting: Option<Result<VoltageDrop, Refused>>,
    /// Both within their limits; a limit met exactly is met.
    pub does: bool,
    /// The longest this section may be under both limits, at most [`LONGEST`].
    pub longest: Metres,
    /// The thinnest section from this one up that would do at this length; refused if none does.
    pub would_do: Result<SquareMillimetres, Refused>,
}

/// The share of the voltage that may be lost until the lowest voltage that the motor's maker allows: the limit for
/// the start, and for running where it is the smaller.
///
/// Range: voltage at the socket 12 to 1000 V, the lowest at least half of it and under it. Exact. Source: definition.
///
/// # Errors
/// Something outside its range.
pub fn share_to(lowest: Volts, at_socket: Volts) -> Result<Ratio, Refused> {
    let at_socket = supply_voltage(at_socket)?.get();
    let share = 1.0 - lowest.get() / at_socket;
    if share > 0.0 && share <= MOST_SHARE {
        return Ratio::new(say!("the share of the voltage that may be lost"), share);
    }
    let wanted = say!("under the {at_socket} V at the socket and at least half of it", at_socket);
    Err(Refused::new(say!("the motor's lowest voltage"), format!("{} V", lowest.get()), wanted))
}

/// Resistance of one conductor at its working temperature: R20 (1 + 0.00393 (t - 20)).
///
/// Range: the sections of [`SIZES`], -20 to 90 °C. Error: the largest resistance the standard allows a new
/// conductor, so a real one has less; the coefficient holds to 1 % in this range. Source: IEC 60228.
///
/// # Errors
/// No standard section, or a temperature outside the range.
pub fn resistance(section: SquareMillimetres, conductor: Celsius) -> Result<OhmsPerKilometre, Refused> {
    let at_20 = SIZES.iter().find(|(mm2, _)| *mm2 == section.get()).map(|(_, ohms)| *ohms);
    let at_20 = at_20.ok_or_else(|| {
        let sizes = SIZES.map(|(mm2, _)| mm2.to_string()).join(", ");
        Refused::new(
            say!("the section of the cable"),
            format!("{} mm2", section.get()),
            say!("for one of {sizes} mm2", sizes),
        )
    })?;
    let over = conductor.within(say!("the temperature of the conductor"), -20.0, 90.0)?.get() - 20.0;
    OhmsPerKilometre::new(say!("the resistance of the conductor"), at_20 * (1.0 + COPPER_PER_KELVIN * over))
}

/// The voltage lost over cables one after the other, all with the same current.
///
/// Range: see [`Load`] and [`Cable`]; at most half the voltage. Error: both formulas are worked out to 1e-12;
/// the reactance is typical to ±20 %, which is under 2 % of the drop up to 16 mm2. Source: see the head.
///
/// # Errors
/// Something outside its range, or a drop over half the voltage.
pub fn voltage_drop(load: &Load, cables: &[Cable]) -> Result<VoltageDrop, Refused> {
    let flow = Flowing::new(load)?;
    let (mut along, mut across) = (0.0, 0.0);
    for cable in cables {
        let length = cable.length.within(say!("the length of the cable"), 0.0, LONGEST)?.get();
        let (a, b) = flow.per_metre(cable.section, cable.conductor)?;
        along += a * length;
        across += b * length;
    }
    flow.lost(along, across)
}

/// The longest cable of a section that loses no more than a share of the voltage.
///
/// Range: see [`Load`]; limit above 0, to 0.5. At most 1000 m is said. Error: short by at most 1e-8 of the
/// length, never long. Source: the exact formula of [`voltage_drop`] solved for the length.
///
/// # Errors
/// Something outside its range.
pub fn longest(
    load: &Load,
    section: SquareMillimetres,
    conductor: Celsius,
    limit: Ratio,
) -> Result<Metres, Refused> {
    let flow = Flowing::new(load)?;
    let (a, b) = flow.per_metre(section, conductor)?;
    let full = flow.voltage;
    let limit = limit_share(limit)?;
    let lost = limit * full;
    let left = full - lost;
    let below = left * a + libm::sqrt(left * left * a * a + (a * a + b * b) * (full + left) * lost);
    let solved = (full + left) * lost / below;
    // Nothing flows: any length does.
    let mut length = if solved < LONGEST { solved } else { LONGEST };
    // The last digit of a float may stand on the wrong side.
    for _ in 0..8 {
        if flow.lost(a * length, b * length).is_ok_and(|drop| drop.share.get() <= limit) {
            return Metres::new(say!("the longest cable"), length);
        }
        length *= 1.0 - 1e-9;
    }
    Err(Refused::new(
        say!("the longest cable"),
        say!("not found"),
        say!("for a limit that some length keeps"),
    ))
}

/// The thinnest standard section, from one up, that loses no more than a share of the voltage.
///
/// `from` is the thinnest that carries the current without getting hot: the section in use, or what the owner
/// of the supply names for the fuse ahead; this arithmetic knows nothing of heat. Range and error: as
/// [`voltage_drop`].
///
/// # Errors
/// Something outside its range, or no section of [`SIZES`] does.
pub fn smallest_section(
    load: &Load,
    length: Metres,
    conductor: Celsius,
    limit: Ratio,
    from: SquareMillimetres,
) -> Result<SquareMillimetres, Refused> {
    thinnest(&[(*load, limit)], length, conductor, from)
}

/// Judges a cable, running and at the start, by the larger drop of the two formulas.
///
/// Range, error and source: as [`voltage_drop`].
///
/// # Errors
/// Something outside its range. A drop over half the voltage is no error here: the cable does not do.
pub fn judge(
    running: &Load,
    starting: Option<&Load>,
    cable: &Cable,
    limits: &Limits,
) -> Result<Judged, Refused> {
    let mut asked = vec![(*running, limits.running)];
    asked.extend(starting.map(|load| (*load, limits.starting)));
    let mut longest_of_all = Metres::new(say!("the longest cable"), LONGEST)?;
    for (load, limit) in &asked {
        let here = longest(load, cable.section, cable.conductor, *limit)?;
        if here < longest_of_all {
            longest_of_all = here;
        }
    }
    // Everything is within its range by here, or this says so; what is left to refuse is too much lost.
    cable.length.within(say!("the length of the cable"), 0.0, LONGEST)?;
    let within = |drop: &Result<VoltageDrop, Refused>, limit: Ratio| {
        drop.as_ref().is_ok_and(|drop| drop.share <= limit)
    };
    let runs = voltage_drop(running, &[*cable]);
    let starts = starting.map(|load| voltage_drop(load, &[*cable]));
    Ok(Judged {
        does: within(&runs, limits.running) && starts.as_ref().is_none_or(|s| within(s, limits.starting)),
        running: runs,
        starting: starts,
        longest: longest_of_all,
        would_do: thinnest(&asked, cable.length, cable.conductor, cable.section),
    })
}

fn thinnest(
    asked: &[(Load, Ratio)],
    length: Metres,
    conductor: Celsius,
    from: SquareMillimetres,
) -> Result<SquareMillimetres, Refused> {
    resistance(from, conductor)?;
    length.within(say!("the length of the cable"), 0.0, LONGEST)?;
    for (load, limit) in asked {
        Flowing::new(load)?;
        limit_share(*limit)?;
    }
    for (mm2, _) in SIZES.into_iter().filter(|(mm2, _)| *mm2 >= from.get()) {
        let section = SquareMillimetres::new(say!("the section of the cable"), mm2)?;
        let cable = Cable { section, length, conductor };
        let keeps = |(load, limit): &(Load, Ratio)| {
            voltage_drop(load, &[cable]).is_ok_and(|drop| drop.share <= *limit)
        };
        if asked.iter().all(keeps) {
            return Ok(section);
        }
    }
    let thickest = SIZES[SIZES.len() - 1].0;
    Err(Refused::new(
        say!("the cable"),
        say!("{length} m long, too long for any section to {thickest} mm2", length = length.get(), thickest),
        say!("for a shorter cable or a socket nearer by"),
    ))
}

fn limit_share(limit: Ratio) -> Result<f64, Refused> {
    let share = limit.within(say!("the share of the voltage that may be lost"), 0.0, MOST_SHARE)?.get();
    if share <= 0.0 {
        return Err(Refused::new(
            say!("the share of the voltage that may be lost"),
            "0",
            say!("above 0, to 0.5"),
        ));
    }
    Ok(share)
}

/// A load in the terms of the formulas.
struct Flowing {
    /// Of the loop in which the drop is worked out: phase to neutral, or the two conductors of one phase.
    voltage: f64,
    /// Current times the conductors of that loop.
    current: f64,
    cosine: f64,
    sine: f64,
    /// From the loop to what is between the conductors.
    factor: f64,
    nominal: f64,
}

impl Flowing {
    fn new(load: &Load) -> Result<Flowing, Refused> {
        let nominal = supply_voltage(load.voltage)?.get();
        let amps = line_current(load.current)?.get();
        let cosine = load.power_factor.within(say!("the power factor"), 0.1, 1.0)?.get();
        let sine = libm::sqrt((1.0 - cosine) * (1.0 + cosine));
        let (factor, conductors) = match load.phases {
            Phases::One => (1.0, 2.0),
            Phases::Three => (super::root_three(), 1.0),
        };
        Ok(Flowing { voltage: nominal / factor, current: amps * conductors, cosine, sine, factor, nominal })
    }

    /// Volts lost for each metre, along the voltage at the motor and across it.
    fn per_metre(&self, section: SquareMillimetres, conductor: Celsius) -> Result<(f64, f64), Refused> {
        let r = resistance(section, conductor)?.get() / 1000.0;
        let x = REACTANCE / 1000.0;
        let along = self.current * (r * self.cosine + x * self.sine);
        let across = self.current * (r * self.sine - x * self.cosine);
        Ok((along, across))
    }

    /// The voltage at the motor is V with (V + along)² + across² = voltage²; what is lost is written so that
    /// nothing cancels and the exact loss is never under the usual one.
    fn lost(&self, along: f64, across: f64) -> Result<VoltageDrop, Refused> {
        let square = self.voltage * self.voltage - across * across;
        let too_much = || {
            Refused::new(
                say!("the voltage drop"),
                say!("more than half the voltage"),
                say!("to half of it: take a shorter or thicker cable"),
            )
        };
        if square < 0.0 {
            return Err(too_much());
        }
        let exact = along + across * across / (self.voltage + libm::sqrt(square));
        if exact > MOST_SHARE * self.voltage {
            return Err(too_much());
        }
        Ok(VoltageDrop {
            usual: Volts::new(say!("the voltage drop"), along * self.factor)?,
            exact: Volts::new(say!("the voltage drop"), exact * self.factor)?,
            share: Ratio::new(say!("the voltage drop"), exact * self.factor / self.nominal)?,
        })
    }
}
