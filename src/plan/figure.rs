//! One figure of a plan: its value, what is wanted of it, the margin, all rounded to the safe side, in the units asked for.
//!
//! Always: a value that is compared with a limit is rounded against itself, the limit the other way; what is to spare or
//! lacks is the difference of the two as they are shown, which errs to the same side. What is worked out is rounded
//! first and judged then, as a step of the day does.

use crate::air::Refused;
use crate::site::Written;
use crate::tongue::say;
use crate::units::{Decimal, Dimension, Quantity, Rounding, unit};
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};
use serde::Serialize;

/// The units people see.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Units {
    /// Metric.
    Metric,
    /// As used in the United States.
    Us,
    /// Metric, then the other in brackets.
    Both,
}

/// What is wanted of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sense {
    /// At least.
    AtLeast,
    /// At most.
    AtMost,
}

/// One figure.
#[derive(Clone, Debug, Serialize)]
pub struct Figure {
    /// Stable name.
    pub id: &'static str,
    /// Of whom or which, where there are several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of: Option<String>,
    /// What it is.
    pub label: String,
    /// The value in words with its unit; what is not known says why.
    pub value: String,
    /// What is wanted: at least or at most, and how much.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted: Option<(Sense, String)>,
    /// To spare, or lacking, with its unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<String>,
    /// Met; absent: nothing is wanted of it, or it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub met: Option<bool>,
    /// What it rests on.
    pub note: String,
    /// Margin as a share of the limit, for the order of what limits.
    #[serde(skip)]
    pub(super) share: Option<f64>,
    /// It could not be worked out, though something is wanted of it.
    #[serde(skip)]
    pub(super) lacks: bool,
}

impl Figure {
    /// Whether it could not be worked out.
    pub fn unknown(&self) -> bool {
        self.lacks
    }

    /// A figure of which nothing is wanted.
    pub(super) fn shown(id: &'static str, label: &str, value: String, note: &str) -> Figure {
        Figure {
            id,
            of: None,
            label: label.into(),
            value,
            wanted: None,
            margin: None,
            met: None,
            note: note.into(),
            share: None,
            lacks: false,
        }
    }

    /// A figure that could not be worked out.
    pub(super) fn lacking(id: &'static str, label: &str, why: String) -> Figure {
        Figure { lacks: true, ..Figure::shown(id, label, say!("not known: {why}", why), "") }
    }

    /// A value and its limit.
    pub(super) fn limited<'q>(
        units: Units,
        id: &'static str,
        label: &str,
        value: impl Into<Told<'q>>,
        (sense, limit): (Sense, &Quantity),
        decimals: u8,
        note: &str,
    ) -> Figure {
        let told = value.into();
        // Met or not is decided on the exact values; words are rounded against the value.
        let gap = match sense {
            Sense::AtLeast => &told.quantity.value - &limit.value,
            Sense::AtMost => &limit.value - &told.quantity.value,
        };
        let met = !gap.is_negative();
        let words = units.compared(&told, sense, limit, decimals);
        let margin = words.margin;
        Figure {
            wanted: Some((sense, words.limit)),
            margin: Some(if met {
                say!("{margin} to spare", margin)
            } else {
                say!("short by {margin}", margin)
            }),
            met: Some(met),
            share: Some(ratio(&gap, &limit.value)),
            ..Figure::shown(id, label, words.value, note)
        }
    }

    /// Something that a rule forbids, in words.
    pub(super) fn refused(id: &'static str, label: &str, why: String) -> Figure {
        Figure { met: Some(false), share: Some(-1.0), ..Figure::shown(id, label, why, "") }
    }

    /// Counted, or one rating against another: met exactly is as good as met by far, so that it limits nothing.
    pub(super) fn counted(mut self) -> Figure {
        if self.met == Some(true) {
            self.share = None;
        }
        self
    }

    /// The same, of one of several.
    pub(super) fn of(mut self, whom: &str) -> Figure {
        self.of = Some(whom.to_owned());
        self
    }
}

fn ratio(gap: &BigRational, limit: &BigRational) -> f64 {
    let by = if limit.is_zero() { BigRational::from_integer(1.into()) } else { limit.abs() };
    (gap / by).to_f64().unwrap_or(0.0)
}

fn difference(dimension: Dimension) -> Dimension {
    if dimension == Dimension::Temperature { Dimension::TemperatureDifference } else { dimension }
}

/// Most figures that are met and told as limiting.
const MOST_MET: usize = 5;

/// What limits, tightest first: unknown, then short, then met by the smallest share of its limit: five of them, of
/// several of a kind (two wearers with like hoses) the tightest.
pub(super) fn tightest(figures: &[Figure]) -> Vec<String> {
    let mut out: Vec<String> =
        figures.iter().filter(|f| f.lacks).map(|f| format!("{}: {}", f.name(), f.value)).collect();
    let mut judged: Vec<&Figure> = figures.iter().filter(|f| f.share.is_some()).collect();
    judged.sort_by(|a, b| a.share.partial_cmp(&b.share).unwrap_or(std::cmp::Ordering::Equal));
    let (short, met): (Vec<&Figure>, Vec<&Figure>) = judged.into_iter().partition(|f| f.met == Some(false));
    let mut kinds: Vec<&'static str> = Vec::new();
    let tightest = met.into_iter().filter(|f| {
        let first = !kinds.contains(&f.id);
        kinds.push(f.id);
        first
    });
    out.extend(short.into_iter().chain(tightest.take(MOST_MET)).map(|f| {
        let margin = f.margin.as_ref().map(|m| format!(", {m}")).unwrap_or_default();
        format!("{}: {}{margin}", f.name(), f.value)
    }));
    out
}

impl Figure {
    fn name(&self) -> String {
        match &self.of {
            Some(of) => format!("{}, {of}", self.label),
            None => self.label.clone(),
        }
    }
}

impl Units {
    /// The unit used for a dimension, metric and US; `None` where there is but one.
    fn pair(dimension: Dimension) -> (&'static str, Option<&'static str>) {
        match dimension {
            Dimension::Number => ("", None),
            Dimension::Pressure => ("bar", Some("psi")),
            Dimension::AbsolutePressure => ("bar_abs", None),
            Dimension::Length => ("m", Some("ft")),
            Dimension::Area => ("mm2", None),
            Dimension::Volume => ("L", Some("ft3")),
            Dimension::Flow => ("L/min", Some("ft3/min")),
            Dimension::Temperature => ("°C", Some("°F")),
            Dimension::TemperatureDifference => ("K", Some("dF")),
            Dimension::Duration => ("min", None),
            Dimension::Current => ("A", None),
            Dimension::Voltage => ("V", None),
            Dimension::Frequency => ("Hz", None),
            Dimension::Power => ("kW", Some("hp")),
            Dimension::Fraction => ("%", None),
            Dimension::Concentration => ("mg/m3", None),
            Dimension::Speed => ("m/s", Some("mph")),
            Dimension::Angle => ("deg", None),
        }
    }

    /// The symbols shown for a dimension, each with its decimals.
    fn symbols(self, dimension: Dimension, decimals: u8) -> Vec<(&'static str, u8)> {
        let (metric, us) = Units::pair(dimension);
        // A pound per square inch is a fifteenth of a bar, a cubic foot 28 litres: as fine as the metric figure.
        let finer = |symbol: &str| match symbol {
            "psi" => decimals.saturating_sub(1),
            "ft3/min" | "ft3" => decimals + 1,
            _ => decimals,
        };
        match (self, us) {
            (Units::Metric, _) | (_, None) => vec![(metric, decimals)],
            (Units::Us, Some(us)) => vec![(us, finer(us))],
            (Units::Both, Some(us)) => vec![(metric, decimals), (us, finer(us))],
        }
    }

    /// A quantity in words, rounded the way given in each unit; as it was written where that is its unit.
    pub fn quantity<'q>(self, quantity: impl Into<Told<'q>>, decimals: u8, rounding: Rounding) -> String {
        let told = quantity.into();
        let each = self.symbols(told.quantity.dimension, decimals).into_iter();
        bracketed(&each.map(|(symbol, d)| with(told.number(symbol, d, rounding), symbol)).collect::<Vec<_>>())
    }

    /// A value, its limit and what is between them. What is shown of the last is the difference of what is shown of
    /// the first two, so that whoever subtracts finds it; value and limit are rounded against the value.
    fn compared(self, value: &Told<'_>, sense: Sense, limit: &Quantity, decimals: u8) -> Compared {
        let (away, towards) = match sense {
            Sense::AtLeast => (Rounding::Down, Rounding::Up),
            Sense::AtMost => (Rounding::Up, Rounding::Down),
        };
        let limit = Told { quantity: limit, written: None };
        let gaps = self.symbols(difference(value.quantity.dimension), decimals);
        let (mut values, mut limits, mut margins) = (Vec::new(), Vec::new(), Vec::new());
        for ((symbol, d), (gap_symbol, _)) in
            self.symbols(value.quantity.dimension, decimals).into_iter().zip(gaps)
        {
            let at = |d: u8| {
                let (v, l) = (value.number(symbol, d, away)?, limit.number(symbol, d, towards)?);
                let gap = match sense {
                    Sense::AtLeast => v.to_exact() - l.to_exact(),
                    Sense::AtMost => l.to_exact() - v.to_exact(),
                };
                Some((v, l, gap))
            };
            let met = value.quantity.value == limit.quantity.value
                || (value.quantity.value > limit.quantity.value) == (sense == Sense::AtLeast);
            // What is met is shown as met: by a decimal or two more, where rounding would make it look short.
            let shown = (d..=d + FINER).filter_map(at).find(|(_, _, gap)| !met || !gap.is_negative());
            let Some((v, l, gap)) = shown.or_else(|| at(d)) else {
                values.push(too_large());
                limits.push(too_large());
                margins.push(too_large());
                continue;
            };
            let gap = if met && gap.is_negative() { BigRational::zero() } else { gap.abs() };
            values.push(with(Some(v), symbol));
            limits.push(with(Some(l), symbol));
            let places = v.places().max(l.places());
            margins.push(with(Decimal::round(&gap, places, Rounding::Nearest).ok(), gap_symbol));
        }
        Compared { value: bracketed(&values), limit: bracketed(&limits), margin: bracketed(&margins) }
    }

    /// A temperature in °C, to a whole degree.
    pub(super) fn temperature(self, celsius: f64) -> String {
        match from_float(celsius, "°C") {
            Ok(q) => self.quantity(&q, 0, Rounding::Nearest),
            Err(why) => why.to_string(),
        }
    }
}

/// How many decimals more a figure may get, so that what is met does not look short.
const FINER: u8 = 3;

fn too_large() -> String {
    say!("too large to write").to_owned()
}

/// A value, its limit and what is between them, in words.
struct Compared {
    value: String,
    limit: String,
    margin: String,
}

/// A quantity, and as it was written where somebody wrote it: what is typed is shown as typed.
#[derive(Clone, Copy, Debug)]
pub struct Told<'q> {
    quantity: &'q Quantity,
    written: Option<&'q Written>,
}

impl<'q> From<&'q Quantity> for Told<'q> {
    fn from(quantity: &'q Quantity) -> Told<'q> {
        Told { quantity, written: None }
    }
}

impl<'q> From<&'q Written> for Told<'q> {
    fn from(written: &'q Written) -> Told<'q> {
        Told { quantity: &written.quantity, written: Some(written) }
    }
}

impl Told<'_> {
    /// The number in a unit.
    fn number(&self, symbol: &str, decimals: u8, rounding: Rounding) -> Option<Decimal> {
        if let Some(w) = self.written.filter(|w| w.unit.symbol() == symbol) {
            return Some(w.number);
        }
        let value = match unit(symbol) {
            Some(unit) => self.quantity.in_unit(unit),
            None => Some(self.quantity.value.clone()),
        };
        value.and_then(|v| Decimal::round(&v, decimals, rounding).ok())
    }
}

fn with(number: Option<Decimal>, symbol: &str) -> String {
    match number {
        None => too_large(),
        Some(n) if symbol.is_empty() => n.to_string(),
        Some(n) => format!("{n} {symbol}"),
    }
}

/// The first, and the second in brackets.
fn bracketed(each: &[String]) -> String {
    match each {
        [] => String::new(),
        [one] => one.clone(),
        [one, rest @ ..] => format!("{one} ({})", rest.join(", ")),
    }
}

/// Share by which what is worked out is leaned to the safe side before it is rounded, as the gates do: above what
/// floats lose, below what anyone reads.
const GUARD: f64 = 1e-9;

/// A figure that is worked out, leaned to its safe side and not rounded yet.
pub(super) fn leaned(value: f64, symbol: &str, safe: Rounding) -> Result<Quantity, Refused> {
    let by = value.abs() * GUARD;
    let leaned = match safe {
        Rounding::Down => value - by,
        Rounding::Up => value + by,
        Rounding::Nearest => value,
    };
    let exact = BigRational::from_float(leaned).ok_or_else(not_kept)?;
    Ok(match unit(symbol) {
        Some(unit) => Quantity { value: unit.to_base(&exact), dimension: unit.dimension() },
        None => Quantity::number(exact),
    })
}

/// A figure that is worked out, as a step of the day keeps it: rounded so, and judged so.
pub(super) fn worked(
    value: f64,
    symbol: &str,
    decimals: u8,
    rounding: Rounding,
) -> Result<Quantity, Refused> {
    kept(&leaned(value, symbol, rounding)?, symbol, decimals, rounding)
}

/// A quantity as a step of the day keeps it: in a unit, rounded.
pub(super) fn kept(
    quantity: &Quantity,
    symbol: &str,
    decimals: u8,
    rounding: Rounding,
) -> Result<Quantity, Refused> {
    let number = Told::from(quantity).number(symbol, decimals, rounding).ok_or_else(not_kept)?;
    Ok(match unit(symbol) {
        Some(unit) => Quantity::new(&number, &unit),
        None => Quantity::number(number.to_exact()),
    })
}

fn not_kept() -> Refused {
    Refused::new(say!("a figure"), say!("no number that can be kept"), say!("with smaller figures"))
}

/// A quantity in a unit as a float; NaN where it is absent, which every measure refuses by name.
pub(super) fn in_unit(quantity: Option<&Quantity>, symbol: &str) -> f64 {
    let value = quantity.and_then(|q| match unit(symbol) {
        Some(unit) => q.in_unit(unit),
        None => Some(q.value.clone()),
    });
    value.and_then(|v| v.to_f64()).unwrap_or(f64::NAN)
}

/// A float in a unit as a quantity, to the ninth decimal: what floats lose beyond it must not carry a whole figure
/// over when it is rounded.
pub(super) fn from_float(value: f64, symbol: &str) -> Result<Quantity, Refused> {
    let refused = || Refused::new(say!("a figure"), say!("no number"), say!("with finite figures"));
    let exact = BigRational::from_float(value).ok_or_else(refused)?;
    let fine = BigRational::from_integer(1_000_000_000.into());
    let exact = (exact * &fine).round() / fine;
    match unit(symbol) {
        Some(unit) => Ok(Quantity { value: unit.to_base(&exact), dimension: unit.dimension() }),
        None => Ok(Quantity::number(exact)),
    }
}
