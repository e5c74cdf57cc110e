//! What is left of the pressure at the mask end of a hose.
//!
//! Isothermal compressible flow with friction: P1² - P2² = (m/A)² (P1/ρ1)(f L/D + 2 ln(P1/P2)), Darcy friction by
//! Colebrook, solved; 64/Re where that is more. Air is ideal here: below 20 bar
//! the density is right to 1 %. Roughness 5 µm is assumed for lined rubber, no source.
//! Always: what is said is never more than what comes out; choked flow is refused. Not here: the maker's table,
//! which rules; a pinched hose, which only the flow at the mask shows.
//! Sources: the flow equation as in textbooks of gas pipes; checked against `fluids` 1.3.1. Viscosity: Sutherland,
//! 1.716e-5 Pa s at 273.15 K and 110.4 K, from memory, right to 2 %.

use super::Refused;
use super::measure::{Absolute, Celsius, Flow, Gauge, Metres, Millimetres};
use super::reserve::absolute;
use crate::tongue::say;

/// Roughness, m.
const ROUGHNESS: f64 = 5e-6;
/// Specific gas constant of dry air, J/(kg K): 8.314462618 / 0.02896546.
const R_AIR: f64 = 287.050;
/// Density of free air, kg/m3 (CoolProp 8.0.0, 20 °C, 1.01325 bar).
const FREE_DENSITY: f64 = 1.204_58;
const ZERO_CELSIUS: f64 = 273.15;
/// Pa in a bar.
const BAR: f64 = 1e5;

/// A hose and what flows through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Inside diameter of the narrowest section; 3 to 50 mm.
    pub bore: Millimetres,
    /// Whole length; to 300 m.
    pub length: Metres,
    /// Lost in all its couplings together at this flow.
    pub couplings: Gauge,
    /// Free air; to 2000 L/min.
    pub flow: Flow,
    /// Temperature of the air in it; -40 to 60 °C. Warm air loses more.
    pub temperature: Celsius,
}

/// Viscosity of air, Pa s.
fn viscosity(kelvin: f64) -> f64 {
    1.716e-5 * libm::pow(kelvin / ZERO_CELSIUS, 1.5) * (ZERO_CELSIUS + 110.4) / (kelvin + 110.4)
}

/// Darcy friction factor, the larger of laminar and turbulent at every Reynolds number: never less friction than there
/// is, and no step where the one goes over into the other.
fn friction(reynolds: f64, relative: f64) -> f64 {
    let laminar = 64.0 / reynolds;
    // Colebrook for 1/sqrt(f); the iteration contracts quickly from here.
    let mut x = 6.0;
    for _ in 0..60 {
        x = -2.0 * libm::log10(relative / 3.7 + 2.51 * x / reynolds);
    }
    let turbulent = 1.0 / (x * x);
    if turbulent > laminar { turbulent } else { laminar }
}

/// Pressure at the end of the hose, above its surroundings.
///
/// Range: inlet to 40 bar; that of [`Line`]. Error: 1 % of the loss against `fluids`, and what is assumed of the
/// roughness. Source: see the head.
///
/// # Errors
/// Outside the range; the flow chokes, or so much does not go through at all.
pub fn end_pressure(line: &Line, inlet: Gauge, ambient: Absolute) -> Result<Gauge, Refused> {
    let bore = line.bore.within(say!("the bore of the hose"), 3.0, 50.0)?.get() / 1000.0;
    let length = line.length.within(say!("the length of the hose"), 0.0, 300.0)?.get();
    let kelvin =
        line.temperature.within(say!("the temperature of the hose"), -40.0, 60.0)?.get() + ZERO_CELSIUS;
    let flow = line.flow.within(say!("the flow through the hose"), 0.0, 2000.0)?.get();
    let couplings = line.couplings.within(say!("the loss in the couplings"), 0.0, 40.0)?.get();
    inlet.within(say!("the pressure at the outlet"), 0.0, 40.0)?;
    let p1 = absolute(inlet, ambient)?.get() * BAR;
    let mass = flow / 60_000.0 * FREE_DENSITY;
    let area = core::f64::consts::PI * bore * bore / 4.0;
    let end = if mass > 0.0 && length > 0.0 {
        let reynolds = mass * bore / (area * viscosity(kelvin));
        let f = friction(reynolds, ROUGHNESS / bore);
        let flux = mass / area;
        let rt = R_AIR * kelvin;
        let squares = |p2: f64| p1 * p1 - flux * flux * rt * (f * length / bore + 2.0 * libm::log(p1 / p2));
        // The lowest end pressure that this flow can have: where it would move at the isothermal speed of sound.
        let lowest = flux * libm::sqrt(rt);
        let choked = || {
            let got = format!("{flow:.0} L/min");
            Refused::new(say!("the flow through the hose"), got, say!("where the hose lets so much through"))
        };
        if lowest >= p1 || squares(lowest) < lowest * lowest {
            return Err(choked());
        }
        // squares(p) - p² is positive at the choke and negative at p1: the end lies between.
        let (mut low, mut high) = (lowest, p1);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if squares(middle) > middle * middle { low = middle } else { high = middle }
        }
        low
    } else {
        p1
    };
    let left = end / BAR - ambient.get() - couplings;
    if left < 0.0 {
        let got = format!("{flow:.0} L/min");
        return Err(Refused::new(
            say!("the flow through the hose"),
            got,
            say!("where pressure is left at its end"),
        ));
    }
    Gauge::new(say!("the pressure at the mask end"), left)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn end(bore: f64, length: f64, flow: f64, inlet: f64) -> Result<Gauge, Refused> {
        let line = Line {
            bore: Millimetres::new("b", bore).unwrap(),
            length: Metres::new("l", length).unwrap(),
            couplings: Gauge::new("c", 0.0).unwrap(),
            flow: Flow::new("q", flow).unwrap(),
            temperature: Celsius::new("t", 20.0).unwrap(),
        };
        end_pressure(&line, Gauge::new("p", inlet).unwrap(), Absolute::new("a", 1.01325).unwrap())
    }

    /// fluids 1.3.1, isothermal_gas with density at the inlet and friction_factor: bore mm, length m, L/min, bar, bar.
    #[test]
    fn end_pressures_of_fluids() {
        for (bore, length, flow, inlet, lost) in [
            (8.0, 10.0, 100.0, 5.0, 0.0391),
            (8.0, 30.0, 200.0, 6.0, 0.3589),
            (8.0, 30.0, 340.0, 6.0, 0.9991),
            (9.5, 60.0, 300.0, 6.0, 0.6636),
            (13.0, 90.0, 600.0, 8.0, 0.5832),
            (8.0, 90.0, 340.0, 8.6, 2.3027),
        ] {
            let got = inlet - end(bore, length, flow, inlet).unwrap().get();
            assert!((got / lost - 1.0).abs() < 0.01, "{bore} {length} {flow}: {got} {lost}");
        }
    }

    #[test]
    fn a_hose_that_chokes_is_refused() {
        assert!(end(4.0, 90.0, 600.0, 6.0).is_err());
        assert!(end(8.0, 90.0, 340.0, 1.5).is_err());
        assert_eq!(end(8.0, 90.0, 0.0, 6.0).unwrap().get(), 6.0);
    }
}
