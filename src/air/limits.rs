//! What breathing air may hold: named limit profiles, and a test of the air judged by one.
//!
//! In: a profile file (YAML; those that ship stand in `limits/`), each limit with its source and whether that
//! source was read or is remembered. Out: a [`Profile`], which exists only if every figure has its dimension and
//! none is looser than the loosest rule known here; then [`judge`].
//! Always: exact decimals, so a limit met exactly is met; what is missing, in another unit or nearer to the
//! limit than the instrument can tell does not pass.
//! Not here: how often air is tested (`calendar`), dew points worked out from content (`moisture`), what a site
//! sets for itself, which may be stricter (site file, `limits`; [`Profile::figures`] has its names).
//! Sources: in the profile files, on each limit.

mod air_test;
mod judge;
mod read;

pub use air_test::{AirTest, Calibration, DewPoint, Reading, SamplePoint, Uncertainty};
pub use judge::{Answer, Component, Judged, Margin, Verdict, judge};

use super::Refused;
use crate::units::{Quantity, Rounding, Unit};

/// The profiles that ship: name and text of the file.
pub const SHIPPED: [(&str, &str); 2] = [
    ("en-12021-2014", include_str!("limits/en-12021-2014.yaml")),
    ("cfr-1910-134-grade-d", include_str!("limits/cfr-1910-134-grade-d.yaml")),
];

/// How sure a figure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// Read in the text named as its source.
    Read,
    /// Remembered; to be compared with a bought copy.
    Memory,
}

/// Where a limit comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// The text it stands in.
    pub text: String,
    /// Whether that was read.
    pub known: Known,
}

/// A figure of a limit, exact, in the unit it was written in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// Exact.
    pub quantity: Quantity,
    /// As written in the profile.
    pub unit: Unit,
}

impl Figure {
    /// With its unit: `0.5 mg/m3`.
    pub fn words(&self) -> String {
        self.quantity.words(Some(self.unit), Rounding::Nearest)
    }
}

/// At least, at most, or both; the ends are within.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// At least.
    pub from: Option<Figure>,
    /// At most.
    pub most: Option<Figure>,
    /// Where it comes from.
    pub source: Source,
}

/// A limit of water content for pressures to one, that pressure included.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// From this pressure; `None`: from none at all.
    pub from: Option<Figure>,
    /// To this pressure, gauge.
    pub to: Figure,
    /// The limit.
    pub limit: Limit,
}

/// At which pressure a dew point is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// At the pressure of the line: pressure dew point.
    Line,
    /// At one atmosphere: atmospheric dew point.
    OneAtmosphere,
}

/// A limit of the dew point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DewRule {
    /// Which dew point.
    pub at: At,
    /// This far under the lowest temperature that is likely.
    pub below_lowest: Option<Figure>,
    /// At most this, where nobody knows the lowest temperature.
    pub lowest_unknown: Option<Figure>,
    /// At most this, whatever the temperature.
    pub most: Option<Figure>,
    /// Where it comes from.
    pub source: Source,
}

/// What is asked of water, by where the air is taken.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Water {
    /// Content, rows by rising pressure; empty: not limited by content.
    pub rows: Vec<Row>,
    /// Dew point.
    pub dew_point: Option<DewRule>,
}

/// A named set of limits. It exists only if every figure is good.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Profile {
    /// Its name: `en-12021-2014`.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// Temperature and pressure at which its volumes are counted, in words.
    pub state: String,
    /// Oxygen, both ends.
    pub o2: Limit,
    /// Carbon monoxide.
    pub co: Limit,
    /// Carbon dioxide.
    pub co2: Limit,
    /// Oil, mist and droplets.
    pub oil: Limit,
    /// No smell that means anything; `None`: not asked.
    pub odour: Option<Source>,
    /// No water that is liquid; `None`: not asked.
    pub liquid_water: Option<Source>,
    /// Water in the supply line.
    pub line: Water,
    /// Water at the outlet of a cylinder.
    pub cylinder: Water,
    /// Water at the outlet that fills cylinders.
    pub charging: Water,
}

impl Profile {
    /// Reads a profile file. Bytes from anywhere; at most 64 KiB.
    ///
    /// # Errors
    /// The first thing that is wrong, by its name in the file: an unknown or missing key, a figure that is none,
    /// of another dimension, or looser than any rule known here.
    pub fn read(text: &str) -> Result<Profile, Refused> {
        read::profile(text)
    }

    /// One of [`SHIPPED`], by name.
    ///
    /// # Errors
    /// No profile of that name ships; those that do are named.
    pub fn shipped(id: &str) -> Result<Profile, Refused> {
        match SHIPPED.iter().find(|(name, _)| *name == id) {
            Some((_, text)) => Profile::read(text),
            None => {
                let names = SHIPPED.map(|(name, _)| name).join(" and ");
                Err(Refused::new("the limit profile", format!("{id:?}"), format!("by {names}")))
            }
        }
    }

    /// Its figures for air in the line at a supply pressure (gauge), under the names of a site file's `limits`: what
    /// a site may set only stricter. `water_most` lacks where the profile has no row for that pressure.
    pub fn figures(&self, supply: &Quantity) -> Vec<(&'static str, Quantity)> {
        let ends = [
            ("o2_from", &self.o2.from),
            ("o2_to", &self.o2.most),
            ("co_most", &self.co.most),
            ("co2_most", &self.co2.most),
            ("oil_most", &self.oil.most),
        ];
        let water = self.line.row(supply).and_then(|row| row.limit.most.as_ref());
        ends.into_iter()
            .filter_map(|(name, figure)| Some((name, figure.as_ref()?)))
            .chain(water.map(|figure| ("water_most", figure)))
            .map(|(name, figure)| (name, figure.quantity.clone()))
            .collect()
    }
}

impl Water {
    /// The row for a pressure: the first that reaches as high. Between two rows that is the stricter.
    pub fn row(&self, pressure: &Quantity) -> Option<&Row> {
        self.rows.iter().find(|row| {
            let above = row.from.as_ref().is_none_or(|from| pressure.value >= from.quantity.value);
            pressure.dimension == row.to.quantity.dimension
                && above
                && pressure.value <= row.to.quantity.value
        })
    }
}

#[cfg(test)]
mod tests;
