//! A test of the air, as a value: with what, where, under which conditions, and what was read.
//!
//! In: texts as typed or kept (`4.5 ppm`, `< 2 ppm`). Always: exact; a reading keeps the unit it was read in.
//! What is not known is `None` and never a default. Names are those of the record's `air_test` and of the form's
//! choices. Not here: whether it passes (`judge`).

use super::At;
use crate::air::calendar::Due;
use crate::air::measure::{Absolute, Content, Gauge};
use crate::air::moisture;
use crate::tongue::say;
use crate::units::{Decimal, Dimension, Quantity, Refused, Unit, unit};
use jiff::civil::Date;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive, Zero};

/// Where and in which state of the set the sample was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SamplePoint {
    /// At the respirator end of the longest hose, set warm and under load.
    MaskEnd,
    /// At an outlet of the line, without the hose, set warm.
    Outlet,
    /// At the outlet of a cylinder.
    Cylinder,
    /// At the outlet that fills cylinders, set warm.
    Charging,
    /// Anywhere, but before the set was warm: nothing that is read there counts.
    Cold,
}

/// How far what was read may be from what is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Uncertainty {
    /// A share of what was read, 0 to 1.
    Share(BigRational),
    /// So much to either side, in base units of the reading's dimension (of temperatures: kelvins).
    Of(BigRational),
}

impl Uncertainty {
    /// A share of what was read, as a plain number: `0.15`, not more than 1.
    ///
    /// # Errors
    /// No number, negative, or over 1.
    pub fn share(text: &str) -> Result<Uncertainty, Refused> {
        let share = Decimal::read(text)?.to_exact();
        if share.is_negative() || share > BigRational::one() {
            return Err(refused(
                say!("got {got}, wanted a share from 0 to 1", got = format!("{text:?}")),
                say!("write 0.15 for 15 %"),
            ));
        }
        Ok(Uncertainty::Share(share))
    }

    /// So much to either side: `0.2 %` of oxygen, `0.5 ppm`, `2 K`.
    ///
    /// # Errors
    /// No quantity, a plain number, or negative.
    pub fn of(text: &str) -> Result<Uncertainty, Refused> {
        let (quantity, _, unit) = Quantity::read_with_unit(text)?;
        if unit.is_none() || quantity.value.is_negative() || quantity.dimension == Dimension::Temperature {
            return Err(refused(
                say!("got {got}, wanted a quantity to either side", got = format!("{text:?}")),
                say!("write it with its unit, such as 0.5 ppm; of temperatures K or dF"),
            ));
        }
        Ok(Uncertainty::Of(quantity.value))
    }
}

/// What an instrument or a tube showed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    value: Decimal,
    unit: Unit,
    below: bool,
    tube: bool,
    uncertainty: Option<Uncertainty>,
}

impl Reading {
    /// An instrument's reading: `3 ppm`, or `< 2 ppm` where it shows less than its lowest mark. Without an
    /// uncertainty it counts as it is.
    ///
    /// # Errors
    /// No quantity, no unit, a content that is negative, an uncertainty that does not suit.
    pub fn instrument(text: &str, uncertainty: Option<Uncertainty>) -> Result<Reading, Refused> {
        Reading::read(text, uncertainty, false)
    }

    /// A detector tube's reading, as [`Reading::instrument`]. Without its uncertainty it is read, but cannot pass.
    ///
    /// # Errors
    /// As [`Reading::instrument`].
    pub fn tube(text: &str, uncertainty: Option<Uncertainty>) -> Result<Reading, Refused> {
        Reading::read(text, uncertainty, true)
    }

    fn read(text: &str, uncertainty: Option<Uncertainty>, tube: bool) -> Result<Reading, Refused> {
        let got = text.trim_matches(' ');
        let (below, rest) = match got.strip_prefix('<') {
            Some(rest) => (true, rest),
            None => (false, got),
        };
        let (quantity, value, unit) = Quantity::read_with_unit(rest)?;
        let Some(unit) = unit else {
            return Err(refused(
                say!("got {got}, wanted a reading with its unit", got = format!("{text:?}")),
                say!("write it as 3 ppm"),
            ));
        };
        let point = quantity.dimension == Dimension::Temperature;
        if !point && quantity.value.is_negative() {
            return Err(refused(
                say!("got {got}, wanted nought or more", got = format!("{text:?}")),
                say!("zero the instrument and read again"),
            ));
        }
        if point && (below || matches!(uncertainty, Some(Uncertainty::Share(_)))) {
            return Err(refused(
                say!("got {got}, wanted a temperature with an uncertainty in K", got = format!("{text:?}")),
                say!("a share of a temperature, or one below a mark, says nothing"),
            ));
        }
        Ok(Reading { value, unit, below, tube, uncertainty })
    }

    /// As it was read: `< 2 ppm`.
    pub fn words(&self) -> String {
        format!("{}{} {}", if self.below { "< " } else { "" }, self.value, self.unit)
    }

    /// What it measures.
    pub fn dimension(&self) -> Dimension {
        self.unit.dimension()
    }

    /// A detector tube without the uncertainty that tubes have.
    pub(super) fn unsure(&self) -> bool {
        self.tube && self.uncertainty.is_none()
    }

    /// What was read, in base units: least and most it may mean if the instrument were exact.
    pub(super) fn read_as(&self) -> (BigRational, BigRational) {
        let value = Quantity::new(&self.value, &self.unit).value;
        (if self.below { BigRational::zero() } else { value.clone() }, value)
    }

    /// Least and most that may be there, with the uncertainty to either side.
    pub(super) fn may_be(&self) -> (BigRational, BigRational) {
        let (least, most) = self.read_as();
        match &self.uncertainty {
            None => (least, most),
            Some(Uncertainty::Share(share)) => {
                let one = BigRational::one();
                (least * (&one - share), most * (&one + share))
            }
            Some(Uncertainty::Of(much)) => (least - much, most + much),
        }
    }
}

/// How long an instrument's calibration is good, or how long tubes keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Calibration {
    /// Counted from the day it was done, or made.
    Counted(Due),
    /// The last good day, where nobody says from which day it was counted.
    GoodUntil(Date),
    /// A laboratory's certificate says the figures, and answers for its instruments.
    Certificate,
}

/// A dew point, and at which pressure it is meant. One worked out from a content is worked out from the most
/// that content may be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DewPoint {
    /// At which pressure.
    pub at: At,
    /// What was read.
    pub reading: Reading,
}

impl DewPoint {
    /// In a line at its highest pressure, of the most that a reading of its water content may stand for.
    ///
    /// Units: the content's and pressures' own. Range and error as [`moisture::dew_point`]; rounded up to 0.01 °C.
    /// `None` where the reading is no content, or lies outside that range.
    pub fn of_water(water: &Reading, line: &Quantity, ambient: &Quantity) -> Option<DewPoint> {
        let content = Quantity { value: water.may_be().1, dimension: water.dimension() };
        let number = |q: &Quantity, symbol: &str| q.in_unit(unit(symbol)?)?.to_f64();
        let content = Content::new(say!("the water content"), number(&content, "mg/m3")?).ok()?;
        let line = Gauge::new(say!("the pressure of the line"), number(line, "bar")?).ok()?;
        let ambient = Absolute::new(say!("the ambient pressure"), number(ambient, "bar_abs")?).ok()?;
        let celsius = moisture::pressure_dew_point(content, line, ambient).ok()?.get();
        let text = format!("{:.2} °C", libm::ceil(celsius * 100.0) / 100.0);
        Some(DewPoint { at: At::Line, reading: Reading::instrument(&text, None).ok()? })
    }
}

/// A test of the air.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AirTest {
    /// The site's date when the sample was taken.
    pub date: Date,
    /// Id of the instrument, or kind and batch of the tubes; empty: not stated.
    pub instrument: String,
    /// How long its calibration is good; of tubes, how long they keep.
    pub calibration: Option<Calibration>,
    /// Where the sample was taken.
    pub sample_point: SamplePoint,
    /// Gauge pressure of the line, or of the cylinder, while it was taken.
    pub line_pressure: Option<Quantity>,
    /// Temperature of the air there.
    pub line_temperature: Option<Quantity>,
    /// The highest gauge pressure that the line, or the cylinder, is meant for.
    pub supply_pressure: Option<Quantity>,
    /// The lowest temperature that is likely where the air is used, until the permit ends.
    pub lowest_temperature: Option<Quantity>,
    /// Oxygen.
    pub o2: Option<Reading>,
    /// Carbon monoxide.
    pub co: Option<Reading>,
    /// Carbon dioxide.
    pub co2: Option<Reading>,
    /// Oil, mist and droplets.
    pub oil: Option<Reading>,
    /// Water content.
    pub water: Option<Reading>,
    /// Dew point, read or worked out.
    pub dew_point: Option<DewPoint>,
    /// Whether it smells or tastes of anything.
    pub odour: Option<bool>,
    /// Whether liquid water was seen.
    pub liquid_water: Option<bool>,
}

impl AirTest {
    /// A test of which nothing has been read yet.
    pub fn new(date: Date, instrument: impl Into<String>, sample_point: SamplePoint) -> AirTest {
        AirTest {
            date,
            instrument: instrument.into(),
            calibration: None,
            sample_point,
            line_pressure: None,
            line_temperature: None,
            supply_pressure: None,
            lowest_temperature: None,
            o2: None,
            co: None,
            co2: None,
            oil: None,
            water: None,
            dew_point: None,
            odour: None,
            liquid_water: None,
        }
    }

    /// The pressure that a table of water is entered with: the higher of the two that are stated.
    pub fn table_pressure(&self) -> Option<&Quantity> {
        match (&self.line_pressure, &self.supply_pressure) {
            (Some(a), Some(b)) => Some(if b.value > a.value { b } else { a }),
            (Some(one), None) | (None, Some(one)) => Some(one),
            (None, None) => None,
        }
    }

    /// The unit of differences that goes with a unit: `K` with `°C`.
    pub(super) fn difference(of: Unit) -> Unit {
        let other = match of.symbol() {
            "°C" => unit("K"),
            "°F" => unit("dF"),
            _ => None,
        };
        other.unwrap_or(of)
    }
}

fn refused(message: String, hint: &str) -> Refused {
    Refused { message, hint: Some(hint.to_owned()) }
}
