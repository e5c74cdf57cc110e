//! How long the reserve lasts, and how low it may be while people are in.
//!
//! Two temperatures: the gauge was or will be read with the cylinders at the one, warmest; what can no longer be
//! drawn at the floor is counted with them at the other, coldest. A warm reading looks better than it is, and cold gas leaves
//! more behind at the floor; so both err to the safe side, and where only one temperature is known it stands
//! for both.
//! Always: endurance is to the floor, never to empty; flows are the most that respirators can draw (`demand`),
//! so the reserve lasts at least so long. The leave-by pressure is never below the floor.
//! Not here: what has to be reached in that time (way out, factor, least minutes: [`needed`] takes them); gas cooling
//! below its surroundings while it is drawn fast, which the factor on the way out has to cover.
//! Sources: real-gas content from `gas`; that endurance is content over flow, arithmetic. Checked
//! against worked examples made with CoolProp 8.0.0.

use super::Refused;
use super::gas;
use super::measure::{Absolute, Celsius, Flow, FreeLitres, Gauge, Litres, Minutes, Ratio};
use crate::tongue::say;

/// Cylinders in service that feed together, taken as one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reserve {
    /// Water capacity of all of them, above nought.
    pub volume: Litres,
    /// Pressure of the air around them.
    pub ambient: Absolute,
    /// Their temperature when the gauge is read.
    pub warmest: Celsius,
    /// The lowest they may come to before everyone is out.
    pub coldest: Celsius,
    /// Lowest pressure at which the outlets still hold their range.
    pub floor: Gauge,
}

impl Reserve {
    /// # Errors
    /// No volume; coldest above warmest; a temperature, pressure or floor outside the range of `gas`.
    pub fn new(
        volume: Litres,
        ambient: Absolute,
        warmest: Celsius,
        coldest: Celsius,
        floor: Gauge,
    ) -> Result<Reserve, Refused> {
        if volume.get() <= 0.0 {
            return Err(Refused::new(say!("the water capacity of the reserve"), "0 L", say!("above 0 L")));
        }
        if coldest > warmest {
            let got = format!("{} °C", coldest.get());
            return Err(Refused::new(
                say!("the lowest temperature of the cylinders"),
                got,
                say!("not above that of the reading"),
            ));
        }
        floor.within(say!("the floor of the reserve"), 0.0, 350.0)?;
        let reserve = Reserve { volume, ambient, warmest, coldest, floor };
        reserve.left()?;
        Ok(reserve)
    }

    /// What stays behind at the floor, with the cylinders as cold as they may come to be.
    pub fn left(&self) -> Result<FreeLitres, Refused> {
        gas::content(self.volume, absolute(self.floor, self.ambient)?, self.coldest)
    }

    /// Free air that can be drawn from a gauge reading down to the floor; none if the reading is not above it.
    ///
    /// # Errors
    /// The reading is outside the range of `gas`.
    pub fn usable(&self, reading: Gauge) -> Result<FreeLitres, Refused> {
        reading.within(say!("the reading of the reserve"), 0.0, 350.0)?;
        let full = gas::content(self.volume, absolute(reading, self.ambient)?, self.warmest)?;
        FreeLitres::new(say!("the usable air"), (full.get() - self.left()?.get()).max(0.0))
    }

    /// How long that lasts at a flow. Shown only with everybody on their way out.
    ///
    /// # Errors
    /// No flow; as [`Reserve::usable`].
    pub fn endurance(&self, reading: Gauge, flow: Flow) -> Result<Minutes, Refused> {
        let flow = some(flow)?;
        Minutes::new(say!("the endurance"), self.usable(reading)?.get() / flow)
    }

    /// The gauge reading from which the reserve lasts just so long at a flow: the lowest at which people may be in
    /// while the compressor feeds.
    ///
    /// # Errors
    /// No flow; no pressure within the range of `gas` holds so much.
    pub fn leave_by(&self, flow: Flow, minutes: Minutes) -> Result<Gauge, Refused> {
        let content = self.left()?.get() + some(flow)? * minutes.get();
        let content = FreeLitres::new(say!("the air that is needed"), content)?;
        let pressure = gas::pressure(self.volume, content, self.warmest).map_err(|_| {
            let got = say!("{litres} L of free air", litres = format!("{:.0}", content.get()));
            Refused::new(
                say!("the air that is needed"),
                got,
                say!("where cylinders of this size can hold it"),
            )
        })?;
        Gauge::new(
            say!("the leave-by pressure"),
            (pressure.get() - self.ambient.get()).max(self.floor.get()),
        )?
        .within(say!("the leave-by pressure"), 0.0, 350.0)
    }
}

/// Minutes that the reserve must last: the way out times its factor, and never less than the floor.
///
/// # Errors
/// The factor is below 1.
pub fn needed(way_out: Minutes, factor: Ratio, floor: Minutes) -> Result<Minutes, Refused> {
    if factor.get() < 1.0 {
        return Err(Refused::new(
            say!("the factor on the way out"),
            format!("{}", factor.get()),
            say!("from 1 up"),
        ));
    }
    Minutes::new(say!("the time the reserve must last"), (way_out.get() * factor.get()).max(floor.get()))
}

/// A gauge pressure as absolute.
///
/// # Errors
/// It comes out below nought.
pub fn absolute(gauge: Gauge, ambient: Absolute) -> Result<Absolute, Refused> {
    Absolute::new(say!("the absolute pressure"), gauge.get() + ambient.get())
}

fn some(flow: Flow) -> Result<f64, Refused> {
    if flow.get() > 0.0 {
        Ok(flow.get())
    } else {
        Err(Refused::new(say!("the flow drawn"), "0 L/min", say!("above 0 L/min")))
    }
}
