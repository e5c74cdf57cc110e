//! A test of the air judged by a limit profile: one verdict for each thing that is asked, each with its margin.
//!
//! Always: only [`Answer::Pass`] passes, and the whole passes only if all do. What is missing, in another unit, taken
//! cold, or nearer to the limit than its uncertainty cannot be told, and does not pass. What was read outside
//! the limit fails, however uncertain it is. Exact fractions: a limit met exactly is met.
//! Not here: how old the test may be, what ends it early.

use super::{
    AirTest, At, Calibration, DewRule, Figure, Known, Limit, Profile, Reading, SamplePoint, Source, Water,
};
use crate::air::calendar::Standing;
use crate::tongue::say;
use crate::units::{Dimension, Quantity, Rounding, Unit};
use num_rational::BigRational;
use num_traits::Signed;

/// What is asked of the air and of its test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Component {
    /// The instrument: named, calibrated, in date on the day of the test.
    Instrument,
    /// The sample: set warm, pressure and temperature of the line stated.
    Sample,
    /// Oxygen.
    O2,
    /// Carbon monoxide.
    Co,
    /// Carbon dioxide.
    Co2,
    /// Oil.
    Oil,
    /// Water content.
    Water,
    /// Dew point.
    DewPoint,
    /// Smell and taste.
    Odour,
    /// Liquid water.
    LiquidWater,
}

impl Component {
    /// As members of the record are called.
    pub fn id(self) -> &'static str {
        match self {
            Component::Instrument => "instrument",
            Component::Sample => "sample",
            Component::O2 => "o2",
            Component::Co => "co",
            Component::Co2 => "co2",
            Component::Oil => "oil",
            Component::Water => "water",
            Component::DewPoint => "dew_point",
            Component::Odour => "odour",
            Component::LiquidWater => "liquid_water",
        }
    }

    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Component::Instrument => say!("the instrument"),
            Component::Sample => say!("the sample"),
            Component::O2 => say!("oxygen"),
            Component::Co => say!("carbon monoxide"),
            Component::Co2 => say!("carbon dioxide"),
            Component::Oil => say!("oil"),
            Component::Water => say!("water"),
            Component::DewPoint => say!("the dew point"),
            Component::Odour => say!("smell"),
            Component::LiquidWater => say!("liquid water"),
        }
    }
}

/// Whether one thing is as it should be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Within its limit, with the uncertainty of the reading.
    Pass,
    /// Read outside its limit.
    Fail,
    /// Missing, or not sure: counts as not passed.
    CannotTell,
}

/// How much is left between the limit and the most (or least) that may be there; negative: how much it lacks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Margin {
    /// Exact, in `unit`.
    pub left: BigRational,
    /// The limit's unit; of temperatures that of their differences.
    pub unit: Unit,
}

impl Margin {
    /// With its unit, never more than it is: `1.55 ppm`.
    pub fn words(&self) -> String {
        self.rounded(Rounding::Down)
    }

    fn rounded(&self, rounding: Rounding) -> String {
        let base = self.unit.to_base(&self.left);
        Quantity { value: base, dimension: self.unit.dimension() }.words(Some(self.unit), rounding)
    }
}

/// What is to be said of one component.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// Of what.
    pub component: Component,
    /// Whether it is as it should be.
    pub answer: Answer,
    /// Where there is a reading and a limit in one dimension.
    pub margin: Option<Margin>,
    /// Where the limit comes from, where there is one.
    pub source: Option<Source>,
    /// For people: what was read, what is wanted, by how much.
    pub words: String,
}

/// All verdicts on one test.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judged {
    /// In the order of [`Component`].
    pub verdicts: Vec<Verdict>,
}

impl Judged {
    /// Every one of them passes.
    pub fn passes(&self) -> bool {
        !self.verdicts.is_empty() && self.verdicts.iter().all(|v| v.answer == Answer::Pass)
    }

    /// The verdict on one component, if it is asked.
    pub fn of(&self, component: Component) -> Option<&Verdict> {
        self.verdicts.iter().find(|v| v.component == component)
    }

    /// Whether any limit that decided is only remembered.
    pub fn from_memory(&self) -> bool {
        self.verdicts.iter().filter_map(|v| v.source.as_ref()).any(|s| s.known == Known::Memory)
    }
}

/// Judges a test of the air by a profile.
///
/// Units: any of the limit's dimension; ppm and mg/m3 are never compared. Range: every test, every profile.
/// Error: none, exact fractions. Source: the profile's, handed on in each verdict.
pub fn judge(profile: &Profile, test: &AirTest) -> Judged {
    let mut verdicts = vec![instrument(test), sample(test)];
    let components = [
        (Component::O2, &test.o2, &profile.o2),
        (Component::Co, &test.co, &profile.co),
        (Component::Co2, &test.co2, &profile.co2),
        (Component::Oil, &test.oil, &profile.oil),
    ];
    verdicts
        .extend(components.map(|(component, reading, limit)| against(component, reading.as_ref(), limit)));
    match test.sample_point {
        SamplePoint::MaskEnd | SamplePoint::Outlet => water(&mut verdicts, &profile.line, test),
        SamplePoint::Cylinder => water(&mut verdicts, &profile.cylinder, test),
        SamplePoint::Charging => water(&mut verdicts, &profile.charging, test),
        // The sample has not passed already; nothing is missed by taking the line's limits.
        SamplePoint::Cold => water(&mut verdicts, &profile.line, test),
    }
    let seen = [
        (Component::Odour, &profile.odour, test.odour),
        (Component::LiquidWater, &profile.liquid_water, test.liquid_water),
    ];
    for (component, source, found) in seen {
        if let Some(source) = source {
            let name = component.words();
            let (answer, words) = match found {
                Some(false) => (Answer::Pass, say!("{name}: none", name)),
                Some(true) => (Answer::Fail, say!("{name}: there is some, wanted none", name)),
                None => (Answer::CannotTell, say!("{name}: not stated, wanted none", name)),
            };
            verdicts.push(Verdict { component, answer, margin: None, source: Some(source.clone()), words });
        }
    }
    Judged { verdicts }
}

fn plain(component: Component, answer: Answer, words: impl Into<String>) -> Verdict {
    Verdict { component, answer, margin: None, source: None, words: words.into() }
}

fn instrument(test: &AirTest) -> Verdict {
    let tell = |answer, words: String| plain(Component::Instrument, answer, words);
    let name = test.instrument.trim();
    if name.is_empty() {
        return tell(Answer::CannotTell, say!("the instrument is not named").to_owned());
    }
    let due = match &test.calibration {
        Some(Calibration::Counted(due)) => due,
        Some(Calibration::Certificate) => {
            return tell(Answer::Pass, say!("{name}: a laboratory's certificate", name));
        }
        Some(Calibration::GoodUntil(day)) if test.date <= *day => {
            return tell(Answer::Pass, say!("{name}: its calibration is good until {day}", name, day));
        }
        Some(Calibration::GoodUntil(day)) => {
            let days = crate::units::span_text(0, (test.date - *day).get_days());
            let words = say!(
                "{name}: its calibration was good until {day}, {days} over on {date}",
                name,
                day,
                days,
                date = test.date
            );
            return tell(Answer::CannotTell, words);
        }
        None => {
            return tell(
                Answer::CannotTell,
                say!("{name}: nobody says how long its calibration is good", name),
            );
        }
    };
    match due.standing(test.date) {
        Standing::Good(_) => tell(
            Answer::Pass,
            say!(
                "{name}: calibrated {done}, good until {last_good}",
                name,
                done = due.done(),
                last_good = due.last_good()
            ),
        ),
        Standing::Overdue(days) => tell(
            Answer::CannotTell,
            say!(
                "{name}: calibrated {done}, good until {last_good}, {days} over on {date}",
                name,
                done = due.done(),
                last_good = due.last_good(),
                days = crate::units::span_text(0, days),
                date = test.date
            ),
        ),
        Standing::Ahead(_) => tell(
            Answer::CannotTell,
            say!(
                "{name}: calibrated {done}, after the test of {date}",
                name,
                done = due.done(),
                date = test.date
            ),
        ),
    }
}

fn sample(test: &AirTest) -> Verdict {
    let tell = |answer, words: &str| plain(Component::Sample, answer, words);
    let is = |q: &Option<Quantity>, d: Dimension| q.as_ref().is_some_and(|q| q.dimension == d);
    match test.sample_point {
        SamplePoint::Cold => tell(
            Answer::CannotTell,
            say!("the sample was taken before the set was warm: a cold machine makes no carbon monoxide yet"),
        ),
        SamplePoint::MaskEnd | SamplePoint::Outlet | SamplePoint::Cylinder | SamplePoint::Charging => {
            let pressure = is(&test.line_pressure, Dimension::Pressure);
            let temperature = is(&test.line_temperature, Dimension::Temperature);
            match (pressure, temperature) {
                (true, true) => tell(Answer::Pass, say!("the sample was taken as it should be")),
                (false, true) => {
                    tell(Answer::CannotTell, say!("the pressure while the sample was taken is not stated"))
                }
                (true, false) => {
                    tell(Answer::CannotTell, say!("the temperature while the sample was taken is not stated"))
                }
                (false, false) => tell(
                    Answer::CannotTell,
                    say!("neither pressure nor temperature while the sample was taken is stated"),
                ),
            }
        }
    }
}

fn water(verdicts: &mut Vec<Verdict>, asked: &Water, test: &AirTest) {
    if asked.rows.is_empty() && asked.dew_point.is_none() {
        let words = say!("water: the profile has no limit for air taken there");
        verdicts.push(plain(Component::Water, Answer::CannotTell, words));
    }
    if !asked.rows.is_empty() {
        verdicts.push(match test.table_pressure() {
            None => plain(
                Component::Water,
                Answer::CannotTell,
                say!("water: no pressure is stated to take a limit for"),
            ),
            Some(pressure) => match asked.row(pressure) {
                Some(row) => against(Component::Water, test.water.as_ref(), &row.limit),
                None => plain(
                    Component::Water,
                    Answer::CannotTell,
                    say!(
                        "water: the profile has no limit at {pressure}",
                        pressure = pressure.words(None, Rounding::Up)
                    ),
                ),
            },
        });
    }
    if let Some(rule) = &asked.dew_point {
        verdicts.push(dew_point(rule, test));
    }
}

fn dew_point(rule: &DewRule, test: &AirTest) -> Verdict {
    let tell = |words: &str| Verdict {
        source: Some(rule.source.clone()),
        ..plain(Component::DewPoint, Answer::CannotTell, words)
    };
    let lowest = test.lowest_temperature.as_ref().filter(|t| t.dimension == Dimension::Temperature);
    let most = match (&rule.most, &rule.below_lowest, lowest, &rule.lowest_unknown) {
        (Some(most), _, _, _) => most.clone(),
        (None, Some(below), Some(lowest), _) => {
            let value = &lowest.value - &below.quantity.value;
            let quantity = Quantity { value, dimension: Dimension::Temperature };
            match (below.unit.symbol(), crate::units::unit("°C"), crate::units::unit("°F")) {
                ("dF", _, Some(unit)) | (_, Some(unit), _) => Figure { quantity, unit },
                (_, None, _) => return tell(say!("the dew point: no unit to say its limit in")),
            }
        }
        (None, Some(_), None, Some(unknown)) => unknown.clone(),
        (None, Some(_), None, None) => {
            return tell(say!("the dew point: the lowest temperature is not stated"));
        }
        (None, None, _, _) => return tell(say!("the dew point: the profile has no limit for it")),
    };
    match &test.dew_point {
        Some(read) if read.at == rule.at => {
            let limit = Limit { from: None, most: Some(most), source: rule.source.clone() };
            against(Component::DewPoint, Some(&read.reading), &limit)
        }
        Some(_) | None => tell(&match rule.at {
            At::Line => say!(
                "the dew point at the pressure of the line is not stated, wanted at most {most}",
                most = most.words()
            ),
            At::OneAtmosphere => say!(
                "the dew point at one atmosphere is not stated, wanted at most {most}",
                most = most.words()
            ),
        }),
    }
}

/// One reading against one limit.
fn against(component: Component, reading: Option<&Reading>, limit: &Limit) -> Verdict {
    let name = component.words();
    let wanted = match (&limit.from, &limit.most) {
        (Some(from), Some(most)) => say!("from {least} to {most}", least = from.words(), most = most.words()),
        (Some(from), None) => say!("at least {least}", least = from.words()),
        (None, Some(most)) => say!("at most {most}", most = most.words()),
        (None, None) => say!("nothing").to_owned(),
    };
    let verdict = |answer, margin, words| Verdict {
        component,
        answer,
        margin,
        source: Some(limit.source.clone()),
        words,
    };
    let Some(reading) = reading else {
        return verdict(
            Answer::CannotTell,
            None,
            say!("{name} is not stated, wanted {wanted}", name, wanted),
        );
    };
    let read = reading.words();
    let ends = || limit.from.iter().chain(&limit.most);
    if ends().any(|end| end.quantity.dimension != reading.dimension()) || ends().next().is_none() {
        let words = say!("{name} reads {read}, which cannot be compared with {wanted}", name, read, wanted);
        return verdict(Answer::CannotTell, None, words);
    }
    let margin = smallest_margin(limit, &reading.may_be());
    let outside = smallest_margin(limit, &reverse(reading.read_as()));
    let left = |margin: &Option<Margin>| margin.as_ref().is_some_and(|m| !m.left.is_negative());
    let said =
        |margin: &Option<Margin>, rounding| margin.as_ref().map_or_else(String::new, |m| m.rounded(rounding));
    if !left(&outside) {
        let over = outside.map(|m| Margin { left: -m.left, unit: m.unit });
        let words = say!(
            "{name} reads {read}, wanted {wanted}: out by {over}",
            name,
            read,
            wanted,
            over = said(&over, Rounding::Up)
        );
        return verdict(Answer::Fail, margin, words);
    }
    if reading.unsure() {
        let words = say!(
            "{name} reads {read}, and how far that may be off is not stated, wanted {wanted}",
            name,
            read,
            wanted
        );
        return verdict(Answer::CannotTell, margin, words);
    }
    if !left(&margin) {
        let words = say!(
            "{name} reads {read}, wanted {wanted}: nearer to the limit than the reading is sure",
            name,
            read,
            wanted
        );
        return verdict(Answer::CannotTell, margin, words);
    }
    let words = say!(
        "{name} reads {read}, wanted {wanted}: {margin} to spare",
        name,
        read,
        wanted,
        margin = said(&margin, Rounding::Down)
    );
    verdict(Answer::Pass, margin, words)
}

/// A reading below a mark may mean anything from nought to the mark: it is outside for certain only if all of that is.
fn reverse((least, most): (BigRational, BigRational)) -> (BigRational, BigRational) {
    (most, least)
}

/// What is left of a limit for something between two values: under the upper end for the most, over the lower
/// end for the least; the smaller of the two.
fn smallest_margin(limit: &Limit, (least, most): &(BigRational, BigRational)) -> Option<Margin> {
    let under = limit.most.as_ref().map(|end| margin_of(&end.quantity.value - most, end));
    let over = limit.from.as_ref().map(|end| margin_of(least - &end.quantity.value, end));
    match (under, over) {
        (Some(a), Some(b)) => {
            let smaller = b.unit.to_base(&b.left) < a.unit.to_base(&a.left);
            Some(if smaller { b } else { a })
        }
        (one, None) | (None, one) => one,
    }
}

fn margin_of(base: BigRational, end: &Figure) -> Margin {
    let unit = AirTest::difference(end.unit);
    Margin { left: unit.from_base(&base), unit }
}
