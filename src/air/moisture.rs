//! Water in the air: content, pressure dew point, dew point at one atmosphere, and what each may be.
//!
//! Vapour pressure over ice below 0 °C and over water from 0 °C up (Sonntag 1990). Air is taken as ideal in this one
//! respect (enhancement factor 1): from a content the true dew point lies a little lower than said here, and the
//! content allowed for a dew point is a little less than the true one, so both err to the safe side (about
//! 0.4 K at 8 bar).
//! Always: from -95 to 75 °C; outside it is refused. Not here: which temperature is the coldest along the hose
//! (asked), the limits of a rule (`limits`).

use super::Refused;
use super::measure::{Absolute, Celsius, Content, Gauge, Kelvins};
use super::reserve::absolute;
use crate::tongue::say;

/// Coefficients over water and over ice: a/T + b + cT + dT² + g ln T, T in K, result in Pa. Sonntag 1990, as read in
/// atmlab 2.4 (arts.mi.uni-hamburg.de), e_eq_water and e_eq_ice; they pass the checks against psychrolib.
const WATER: [f64; 5] = [-6096.9385, 21.2409642, -2.711193e-2, 1.673952e-5, 2.433502];
const ICE: [f64; 5] = [-6024.5282, 29.32707, 1.0613868e-2, -1.3198825e-5, -0.49382577];
const ZERO_CELSIUS: f64 = 273.15;
/// Pa in a bar.
const BAR: f64 = 1e5;
/// mg/m3 at 20 °C and 1013.25 mbar of pure vapour as a share of 1: 101325 · 0.01801528 / (8.314462618 · 293.15) · 1e6.
const PURE: f64 = 748_917.0;
/// Range of dew points.
pub const DEW_POINTS: (f64, f64) = (-95.0, 75.0);
/// One atmosphere, bar.
const ATMOSPHERE: f64 = 1.013_25;
/// Highest pressure dew point where nobody knows the lowest temperature (EN 12021:2014, from memory).
pub const UNKNOWN_TEMPERATURE: f64 = -11.0;

/// Vapour pressure in Pa over the phase that is there at this temperature.
fn saturation(celsius: f64) -> f64 {
    let [a, b, c, d, g] = if celsius < 0.0 { ICE } else { WATER };
    let t = celsius + ZERO_CELSIUS;
    libm::exp(a / t + b + c * t + d * t * t + g * libm::log(t))
}

/// Content of air that is saturated at a dew point, under a total pressure. Range: dew points -95 to 75 °C, pressures
/// from 0.5 bar absolute up, the vapour below half of it. Error: 0.2 % of psychrolib at f = 1.
///
/// # Errors
/// Outside the range.
pub fn content(dew_point: Celsius, pressure: Absolute) -> Result<Content, Refused> {
    let t = dew_point.within(say!("the dew point"), DEW_POINTS.0, DEW_POINTS.1)?.get();
    let p = pressure.within(say!("the total pressure"), 0.5, 400.0)?.get() * BAR;
    let share = saturation(t) / p;
    if share > 0.5 {
        return Err(Refused::new(
            say!("the share of vapour"),
            say!("above one half"),
            say!("up to one half of the air"),
        ));
    }
    Content::new(say!("the water content"), PURE * share)
}

/// Dew point of air with a content under a total pressure; above saturation at 75 °C it is refused. Below what can be
/// told (-95 °C) it is -95 °C: drier still is no warmer. Error: 0.02 K of psychrolib.
///
/// # Errors
/// Outside the range.
pub fn dew_point(content: Content, pressure: Absolute) -> Result<Celsius, Refused> {
    let p = pressure.within(say!("the total pressure"), 0.5, 400.0)?.get() * BAR;
    let vapour = content.get() / PURE * p;
    let (mut low, mut high) = DEW_POINTS;
    if vapour > saturation(high) {
        let got = format!("{:.0} mg/m3", content.get());
        return Err(Refused::new(say!("the water content"), got, say!("for dew points up to 75 °C")));
    }
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if saturation(middle) < vapour { low = middle } else { high = middle }
    }
    // The upper end: never drier than it is.
    Celsius::new(say!("the dew point"), high)
}

/// Dew point in the line, of a content measured in air let out of it.
///
/// # Errors
/// As [`dew_point`].
pub fn pressure_dew_point(content: Content, line: Gauge, ambient: Absolute) -> Result<Celsius, Refused> {
    dew_point(content, absolute(line, ambient)?)
}

/// Dew point at one atmosphere.
///
/// # Errors
/// As [`dew_point`].
pub fn atmospheric_dew_point(content: Content) -> Result<Celsius, Refused> {
    dew_point(content, Absolute::new(say!("one atmosphere"), ATMOSPHERE)?)
}

/// Highest dew point in the line: so far below the lowest temperature that is likely along it, and without one the
/// default for a temperature nobody knows. Source: EN 12021:2014, 5 K, from memory.
///
/// # Errors
/// It comes out below the range.
pub fn limit(coldest: Option<Celsius>, margin: Kelvins) -> Result<Celsius, Refused> {
    let Some(coldest) = coldest else {
        return Celsius::new(say!("the dew point allowed"), UNKNOWN_TEMPERATURE);
    };
    Celsius::new(say!("the dew point allowed"), coldest.get() - margin.get())?.within(
        say!("the dew point allowed"),
        DEW_POINTS.0,
        DEW_POINTS.1,
    )
}

/// Which of rule and table is the stricter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decides {
    /// The dew point below the lowest temperature.
    Rule,
    /// The table by supply pressure.
    Table,
}

/// The most water the air in a line may hold, by both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowed {
    /// Highest pressure dew point.
    pub dew_point: Celsius,
    /// The content that makes it at the line's pressure.
    pub by_rule: Content,
    /// The table's content, where it has a row.
    pub by_table: Option<Content>,
    /// The stricter: what counts.
    pub most: Content,
    /// Which that is; the rule where both say the same.
    pub decides: Decides,
}

/// How much water the air may hold in a line at its highest pressure: by the dew point under the coldest spot, and by a
/// table's row. Both are kept, so the stricter counts. Range and error as [`content`] and [`limit`].
///
/// # Errors
/// Outside the range.
pub fn allowed(
    line: Absolute,
    coldest: Option<Celsius>,
    margin: Kelvins,
    table: Option<Content>,
) -> Result<Allowed, Refused> {
    let dew_point = limit(coldest, margin)?;
    let by_rule = content(dew_point, line)?;
    let (most, decides) = match table {
        Some(table) if table < by_rule => (table, Decides::Table),
        Some(_) | None => (by_rule, Decides::Rule),
    };
    Ok(Allowed { dew_point, by_rule, by_table: table, most, decides })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// psychrolib 2.5.0, GetSatVapPres, Pa. Over ice below nought.
    #[test]
    fn saturation_of_psychrolib() {
        for (t, pa) in [
            (-60.0, 1.0817),
            (-45.6, 6.7112),
            (-11.0, 237.743),
            (0.0, 611.154),
            (5.0, 872.487),
            (50.0, 12349.86),
        ] {
            assert!((saturation(t) / pa - 1.0).abs() < 1.2e-3, "{t}");
        }
    }

    /// Worked with psychrolib 2.5.0: 350 mg/m3 at 8 bar gauge has its dew point at -4.445 °C in the line and at
    /// -27.87 °C at one atmosphere; at -3 °C 395.6 mg/m3 are allowed.
    #[test]
    fn a_line_verdict() {
        let m = Content::new("c", 350.0).unwrap();
        let (line, ambient) = (Gauge::new("p", 8.0).unwrap(), Absolute::new("p", 1.01325).unwrap());
        assert!((pressure_dew_point(m, line, ambient).unwrap().get() + 4.445).abs() < 0.01);
        assert!((atmospheric_dew_point(m).unwrap().get() + 27.87).abs() < 0.02);
        let at = content(Celsius::new("t", -3.0).unwrap(), Absolute::new("p", 9.01325).unwrap()).unwrap();
        assert!((at.get() - 395.6).abs() < 0.3);
        let limit = limit(Some(Celsius::new("t", 2.0).unwrap()), Kelvins::new("k", 5.0).unwrap()).unwrap();
        assert_eq!(limit.get(), -3.0);
    }
}
