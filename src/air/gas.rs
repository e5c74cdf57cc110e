//! Real dry air in cylinders: how much of it there is, what it reads warm and cold, how long filling takes.
//!
//! The equation of state of Lemmon, Jacobsen, Penoncello and Friend (J. Phys. Chem. Ref. Data 29, 331, 2000), air as
//! a pseudo-pure fluid, residual part; coefficients as CoolProp 8.0.0 prints them for `Air`. Its own uncertainty in
//! density is 0.1 % in this range (its authors, from memory).
//! Always: from -40 to 60 °C and from 0.5 to 351 bar absolute; outside it is refused, never extrapolated. In this
//! range pressure rises with density everywhere, so that each has one value of the other.
//! Not here: what the reserve is good for (`reserve`), humid air (the water in dry breathing air is below 0.1 %).
//! Free air: 20 °C, 1.01325 bar absolute, dry.

use super::Refused;
use super::measure::{Absolute, Celsius, Flow, FreeLitres, Litres, Minutes};
use crate::tongue::say;
use std::sync::OnceLock;

/// n, power of density, power of reduced temperature, power in the exponential (0: none).
const TERMS: [(f64, f64, f64, f64); 19] = [
    (0.118160747229, 1.0, 0.0, 0.0),
    (0.713116392079, 1.0, 0.33, 0.0),
    (-1.61824192067, 1.0, 1.01, 0.0),
    (0.0714140178971, 2.0, 0.0, 0.0),
    (-0.0865421396646, 3.0, 0.0, 0.0),
    (0.134211176704, 3.0, 0.15, 0.0),
    (0.0112626704218, 4.0, 0.0, 0.0),
    (-0.0420533228842, 4.0, 0.2, 0.0),
    (0.0349008431982, 4.0, 0.35, 0.0),
    (0.000164957183186, 6.0, 1.35, 0.0),
    (-0.101365037912, 1.0, 1.6, 1.0),
    (-0.17381369097, 3.0, 0.8, 1.0),
    (-0.0472103183731, 5.0, 0.95, 1.0),
    (-0.0122523554253, 6.0, 1.25, 1.0),
    (-0.146629609713, 1.0, 3.6, 2.0),
    (-0.0316055879821, 3.0, 6.0, 2.0),
    (0.000233594806142, 11.0, 3.25, 2.0),
    (0.0148287891978, 1.0, 3.5, 3.0),
    (-0.00938782884667, 3.0, 15.0, 3.0),
];
/// Reducing density, mol/m3.
const REDUCING_DENSITY: f64 = 10_447.7;
/// Reducing temperature, K.
const REDUCING_TEMPERATURE: f64 = 132.6312;
/// Gas constant of this equation, J/(mol K).
const R: f64 = 8.314_510;
const ZERO_CELSIUS: f64 = 273.15;
/// Pa in a bar.
const BAR: f64 = 1e5;
/// Above every density in the range (351 bar at -40 °C: about 17,000 mol/m3), mol/m3.
const DENSEST: f64 = 20_000.0;
/// Range of the functions here, bar absolute and °C.
pub const PRESSURES: (f64, f64) = (0.5, 351.1);
/// Range of the functions here, °C.
pub const TEMPERATURES: (f64, f64) = (-40.0, 60.0);

/// Compressibility at a density (mol/m3) and a temperature (K).
fn z_of(density: f64, warm: &Warm) -> f64 {
    let d = density / REDUCING_DENSITY;
    TERMS.iter().zip(&warm.terms).fold(1.0, |z, ((n, i, _, l), tau_j)| {
        let exponent = if *l > 0.0 { libm::pow(d, *l) } else { 0.0 };
        let fades = if *l > 0.0 { libm::exp(-exponent) } else { 1.0 };
        z + n * libm::pow(d, *i) * tau_j * fades * (i - l * exponent)
    })
}

/// What of the equation depends on the temperature alone: worked out once, where a density is looked for.
struct Warm {
    kelvin: f64,
    terms: [f64; TERMS.len()],
}

impl Warm {
    fn new(kelvin: f64) -> Warm {
        let tau = REDUCING_TEMPERATURE / kelvin;
        Warm { kelvin, terms: TERMS.map(|(_, _, j, _)| libm::pow(tau, j)) }
    }
}

/// Pressure in Pa.
fn pressure_of(density: f64, warm: &Warm) -> f64 {
    density * R * warm.kelvin * z_of(density, warm)
}

fn kelvin(temperature: Celsius) -> Result<f64, Refused> {
    let t = temperature.within(say!("the gas temperature"), TEMPERATURES.0, TEMPERATURES.1)?;
    Ok(t.get() + ZERO_CELSIUS)
}

/// Density in mol/m3; to the last digits of a float.
fn density(pressure: Absolute, kelvin: f64) -> Result<f64, Refused> {
    let wanted = pressure.within(say!("the gas pressure"), PRESSURES.0, PRESSURES.1)?.get() * BAR;
    let (mut low, mut high) = (0.0, DENSEST);
    let warm = Warm::new(kelvin);
    loop {
        let middle = 0.5 * (low + high);
        // Between two neighbours there is no other float.
        if middle <= low || middle >= high {
            return Ok(middle);
        }
        if pressure_of(middle, &warm) < wanted { low = middle } else { high = middle }
    }
}

/// Density of free air, mol/m3.
fn free() -> Result<f64, Refused> {
    static FREE: OnceLock<f64> = OnceLock::new();
    if let Some(known) = FREE.get() {
        return Ok(*known);
    }
    let worked_out =
        density(Absolute::new(say!("the pressure of free air"), 1.013_25)?, 20.0 + ZERO_CELSIUS)?;
    Ok(*FREE.get_or_init(|| worked_out))
}

/// Compressibility of dry air. Range: that of the module. Error: 1e-8 of CoolProp's.
///
/// # Errors
/// Outside the range.
pub fn compressibility(pressure: Absolute, temperature: Celsius) -> Result<f64, Refused> {
    let kelvin = kelvin(temperature)?;
    Ok(pressure.get() * BAR / (density(pressure, kelvin)? * R * kelvin))
}

/// Free air in a vessel of this water capacity. Range: that of the module. Error: 0.1 %, the equation's.
///
/// # Errors
/// Outside the range.
pub fn content(volume: Litres, pressure: Absolute, temperature: Celsius) -> Result<FreeLitres, Refused> {
    let share = density(pressure, kelvin(temperature)?)? / free()?;
    FreeLitres::new(say!("the free air in the cylinders"), volume.get() * share)
}

/// Pressure of so much free air in a vessel: the inverse of [`content`]. Range, error: the same.
///
/// # Errors
/// No volume; a pressure outside the range.
pub fn pressure(volume: Litres, content: FreeLitres, temperature: Celsius) -> Result<Absolute, Refused> {
    if volume.get() <= 0.0 {
        return Err(Refused::new(say!("the water capacity of the cylinders"), "0 L", say!("above 0 L")));
    }
    let kelvin = kelvin(temperature)?;
    let density = free()? * content.get() / volume.get();
    if density > DENSEST {
        let most = PRESSURES.1;
        return Err(Refused::new(
            say!("the gas pressure"),
            say!("above {most} bar", most),
            say!("to {most} bar absolute", most),
        ));
    }
    Absolute::new(say!("the gas pressure"), pressure_of(density, &Warm::new(kelvin)) / BAR)?.within(
        say!("the gas pressure"),
        PRESSURES.0,
        PRESSURES.1,
    )
}

/// What a closed vessel reads at another temperature: the same gas in the same volume. Range, error: those of
/// the module.
///
/// # Errors
/// Outside the range.
pub fn settled(pressure: Absolute, from: Celsius, to: Celsius) -> Result<Absolute, Refused> {
    let density = density(pressure, kelvin(from)?)?;
    Absolute::new(say!("the settled pressure"), pressure_of(density, &Warm::new(kelvin(to)?)) / BAR)?.within(
        say!("the settled pressure"),
        PRESSURES.0,
        PRESSURES.1,
    )
}

/// How long filling takes at a flow of free air, the cylinders kept at one temperature; hot from filling they take
/// longer. Range, error: those of the module.
///
/// # Errors
/// No flow; outside the range. Filling downwards takes no time.
pub fn refill(
    volume: Litres,
    from: Absolute,
    to: Absolute,
    temperature: Celsius,
    flow: Flow,
) -> Result<Minutes, Refused> {
    if flow.get() <= 0.0 {
        return Err(Refused::new(say!("the flow that fills"), "0 L/min", say!("above 0 L/min")));
    }
    let missing = content(volume, to, temperature)?.get() - content(volume, from, temperature)?.get();
    Minutes::new(say!("the time of filling"), missing.max(0.0) / flow.get())
}

/// What a vessel lost between two readings at their temperatures, in free litres; none if it gained.
///
/// # Errors
/// Outside the range.
pub fn lost(
    volume: Litres,
    before: (Absolute, Celsius),
    after: (Absolute, Celsius),
) -> Result<FreeLitres, Refused> {
    let had = content(volume, before.0, before.1)?.get();
    let has = content(volume, after.0, after.1)?.get();
    FreeLitres::new(say!("the air lost"), (had - has).max(0.0))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn near(got: f64, want: f64, relative: f64) {
        assert!((got / want - 1.0).abs() <= relative, "{got} {want}");
    }

    fn a(bar: f64) -> Absolute {
        Absolute::new("p", bar).unwrap()
    }

    fn c(t: f64) -> Celsius {
        Celsius::new("t", t).unwrap()
    }

    /// CoolProp 8.0.0, PropsSI('Z','T',T,'P',p,'Air'), five decimals.
    #[test]
    fn compressibility_of_coolprop() {
        for (bar, t, z) in [
            (1.0, -20.0, 0.99911),
            (100.0, -20.0, 0.94584),
            (100.0, 15.0, 0.98420),
            (200.0, 20.0, 1.02602),
            (300.0, 15.0, 1.10105),
            (330.0, 50.0, 1.14513),
            (330.0, -20.0, 1.10868),
            (50.0, 40.0, 0.99549),
        ] {
            near(compressibility(a(bar), c(t)).unwrap(), z, 6e-6);
        }
    }

    /// 20 L, 300 bar gauge, 15 °C: 5483.0 L of free air (CoolProp 8.0.0); 300 bar at 40 °C reads 257.4 at 10 °C.
    #[test]
    fn content_and_settled_pressure_of_coolprop() {
        let v = Litres::new("v", 20.0).unwrap();
        near(content(v, a(301.01325), c(15.0)).unwrap().get(), 5483.0, 2e-5);
        near(settled(a(301.01325), c(40.0), c(10.0)).unwrap().get() - 1.01325, 257.4, 2e-4);
        let back = pressure(v, content(v, a(240.0), c(5.0)).unwrap(), c(5.0)).unwrap();
        near(back.get(), 240.0, 1e-9);
    }

    #[test]
    fn nothing_is_extrapolated() {
        for (bar, t) in [(0.4, 15.0), (352.0, 15.0), (100.0, -41.0), (100.0, 61.0)] {
            assert!(compressibility(a(bar), c(t)).is_err(), "{bar} {t}");
        }
        let v = Litres::new("v", 1.0).unwrap();
        assert!(pressure(v, FreeLitres::new("n", 1e8).unwrap(), c(15.0)).is_err());
    }
}
