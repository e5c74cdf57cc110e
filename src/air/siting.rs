//! Siting: is the intake downwind of an exhaust.
//!
//! In: the bearing from the intake to the exhaust, where the wind comes from, its speed, how wide downwind is
//! taken, and under which speed wind counts as coming from everywhere. Out: downwind, clear by so many
//! degrees, or every direction. Always: bearings wrap at 360; the edge of the sector counts as downwind.
//! Not here: how far an exhaust must stand (site file), which way the wind will turn (ask of each forecast
//! wind and take the worst, [`worst`]), buildings and hills that turn it.
//! Formulas: plane angles. Sector of 45° to each side and light wind under 2 m/s: common practice, no source.

use super::Refused;
use super::measure::{Degrees, MetresPerSecond};
use crate::tongue::say;

/// Half the width of the sector that counts as downwind, degrees, where nobody states another: common
/// practice, no source.
pub const HALF_WIDTH: f64 = 45.0;

/// Under this wind speed every direction counts as downwind, m/s, where nobody states another: common practice,
/// no source.
pub const LIGHT_WIND: f64 = 2.0;

/// How an intake stands to one exhaust in one wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standing {
    /// The wind is light: what the exhaust gives may come from any direction.
    EveryDirection,
    /// The exhaust lies in the sector the wind comes from.
    Downwind,
    /// It lies outside, by this many degrees.
    Clear(Degrees),
}

impl Standing {
    /// Whether the intake counts as downwind.
    pub fn downwind(self) -> bool {
        match self {
            Standing::EveryDirection | Standing::Downwind => true,
            Standing::Clear(_) => false,
        }
    }

    /// Degrees outside the sector; 0 when downwind or in light wind.
    ///
    /// # Errors
    /// None that can be met; a measure is made.
    pub fn clearance(self) -> Result<Degrees, Refused> {
        match self {
            Standing::EveryDirection | Standing::Downwind => Degrees::new(say!("the clearance"), 0.0),
            Standing::Clear(degrees) => Ok(degrees),
        }
    }
}

/// Is the intake downwind of the exhaust?
///
/// `to_exhaust`: bearing from the intake to the exhaust, 0 to 360° from north, clockwise; 360 is 0.
/// `wind_from`: bearing the wind comes from, the same way, as forecasts say it. `speed`: 0 to 75 m/s.
/// `half_width`: to each side of straight downwind, 10 to 180°; 180 is every direction. `light`: 0 to 10 m/s; a
/// speed under it counts as every direction, a speed of just that much does not.
/// Error: 1e-12 degrees; a bearing taken by compass is good to 5° at best, so the sector must hold that too.
/// Source: see the head.
///
/// # Errors
/// Something outside its range.
pub fn intake(
    to_exhaust: Degrees,
    wind_from: Degrees,
    speed: MetresPerSecond,
    half_width: Degrees,
    light: MetresPerSecond,
) -> Result<Standing, Refused> {
    let to_exhaust = to_exhaust.within(say!("the bearing to the exhaust"), 0.0, 360.0)?.get();
    let wind_from = wind_from.within(say!("the bearing of the wind"), 0.0, 360.0)?.get();
    let half_width = half_width.within(say!("half the sector of the wind"), 10.0, 180.0)?.get();
    let light = light.within(say!("the speed under which wind is light"), 0.0, 10.0)?.get();
    let speed = speed.within(say!("the wind speed"), 0.0, 75.0)?.get();
    if speed < light {
        return Ok(Standing::EveryDirection);
    }
    // Between 0 and 360; the short way round is what counts.
    let apart = libm::fabs(to_exhaust - wind_from);
    let apart = if apart > 180.0 { 360.0 - apart } else { apart };
    if apart <= half_width {
        return Ok(Standing::Downwind);
    }
    Ok(Standing::Clear(Degrees::new(say!("the clearance"), apart - half_width)?))
}

/// The worst of several: every direction before downwind before the smallest clearance. `None` of none.
pub fn worst(all: impl IntoIterator<Item = Standing>) -> Option<Standing> {
    all.into_iter().reduce(|a, b| match (a, b) {
        (Standing::EveryDirection, _) | (_, Standing::EveryDirection) => Standing::EveryDirection,
        (Standing::Downwind, _) | (_, Standing::Downwind) => Standing::Downwind,
        (Standing::Clear(x), Standing::Clear(y)) => Standing::Clear(if y < x { y } else { x }),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn at(to: f64, from: f64, speed: f64) -> Result<Standing, Refused> {
        let d = |v| Degrees::new("a bearing", v).unwrap();
        let s = |v| MetresPerSecond::new("a speed", v).unwrap();
        intake(d(to), d(from), s(speed), d(HALF_WIDTH), s(LIGHT_WIND))
    }

    #[test]
    fn wind_over_the_exhaust_is_downwind_and_the_edge_counts() {
        // The exhaust lies north-west, the wind comes from there.
        assert_eq!(at(315.0, 315.0, 4.0).unwrap(), Standing::Downwind);
        assert_eq!(at(0.0, 315.0, 4.0).unwrap(), Standing::Downwind);
        assert_eq!(at(360.0, 315.0, 4.0).unwrap(), Standing::Downwind);
        assert_eq!(at(350.0, 20.0, 4.0).unwrap(), Standing::Downwind);
        assert_eq!(at(0.5, 315.0, 4.0).unwrap().clearance().unwrap().get(), 0.5);
        assert_eq!(at(135.0, 315.0, 4.0).unwrap().clearance().unwrap().get(), 135.0);
        assert_eq!(at(10.0, 300.0, 4.0).unwrap().clearance().unwrap().get(), 25.0);
    }

    #[test]
    fn light_wind_is_every_direction_and_its_limit_is_not() {
        let light = at(135.0, 315.0, 1.9).unwrap();
        assert_eq!(light, Standing::EveryDirection);
        assert!(light.downwind());
        assert_eq!(light.clearance().unwrap().get(), 0.0);
        assert!(!at(135.0, 315.0, 2.0).unwrap().downwind());
    }

    #[test]
    fn nonsense_is_refused_by_name() {
        assert_eq!(at(-1.0, 0.0, 4.0).unwrap_err().what, "the bearing to the exhaust");
        assert_eq!(at(0.0, -90.0, 4.0).unwrap_err().what, "the bearing of the wind");
        assert_eq!(at(0.0, 0.0, 76.0).unwrap_err().what, "the wind speed");
        let d = |v| Degrees::new("a bearing", v).unwrap();
        let s = |v| MetresPerSecond::new("a speed", v).unwrap();
        assert!(intake(d(0.0), d(0.0), s(4.0), d(9.0), s(2.0)).is_err());
        assert!(intake(d(0.0), d(0.0), s(4.0), d(-45.0), s(2.0)).is_err());
        assert!(intake(d(0.0), d(0.0), s(4.0), d(45.0), s(10.5)).is_err());
    }

    #[test]
    fn the_worst_of_several_winds() {
        let clear = |v| Standing::Clear(Degrees::new("a clearance", v).unwrap());
        assert_eq!(worst([clear(40.0), clear(3.0)]), Some(clear(3.0)));
        assert_eq!(worst([clear(40.0), Standing::Downwind]), Some(Standing::Downwind));
        assert_eq!(worst([Standing::EveryDirection, Standing::Downwind]), Some(Standing::EveryDirection));
        assert_eq!(worst([]), None);
    }
}
