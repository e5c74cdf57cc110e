//! A job worked out before anyone travels: is this set enough for these wearers and this way out, what is the
//! least of the margins, and what would change the answer.
//!
//! In: set, site and job files, and what is assumed of the day. Out: a [`Plan`] of figures, each with what is
//! wanted of it, its margin, and what it rests on. The figures are those that the gates work out on the day, by
//! the same functions of `air`; on the day they are worked out again from readings.
//! What a rule forbids whatever is read on the day is a figure too, and not met.
//! Always: everything is rounded to the safe side; what a file does not say is unknown, never guessed. Never a time
//! until the leave-by pressure is reached, nor spare minutes. Not here: words on a screen (`show`), deciding anything.

mod dates;
mod figure;
mod flow;
mod hoses;
mod moisture;
mod reserve;
mod rules;
mod supply;

pub use figure::{Figure, Sense, Units};
pub use reserve::{Leave, Row};

use crate::air::Refused;
use crate::air::measure::{Celsius, Gauge};
use crate::site::{Values, Written};
use crate::tongue::say;
use crate::units::Rounding;
use jiff::civil::Date;
use serde::Serialize;

/// What is assumed of the day.
#[derive(Clone, Debug)]
pub struct Assumed {
    /// Lowest and highest temperature around set and hoses; the set's whole range where nobody says.
    pub temperatures: Option<(Written, Written)>,
    /// Reading of the lowest cylinder; the set's minimum where nobody says.
    pub reserve: Option<Written>,
    /// Length and section of the supply cable.
    pub cable: Option<(Written, Written)>,
    /// The day, for what runs out.
    pub today: Date,
    /// What opening a permit refuses of the job, in its words (`permit::decide::open`, which this room does not know).
    pub refused: Vec<String>,
    /// The language of names; the site's where nobody says.
    pub language: Option<String>,
}

/// A job worked out.
#[derive(Clone, Debug, Serialize)]
pub struct Plan {
    /// Set, place and site by name.
    pub set: String,
    /// Place.
    pub place: String,
    /// Wearers by name.
    pub wearers: Vec<String>,
    /// What was assumed and what was not looked at, in words.
    pub assumed: Vec<String>,
    /// Every figure.
    pub figures: Vec<Figure>,
    /// Who and what draws on this air beside the wearers, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beside: Option<String>,
    /// Leave-by pressure and endurance over the reserve and the number of wearers; empty without a reserve.
    pub table: Vec<Row>,
    /// The leave-by pressure for every number of wearers from 1, as far as the reserve goes.
    pub leaves: Vec<Leave>,
    /// The figures that limit, the tightest first, in words; those not met come before all others.
    pub limits: Vec<String>,
    /// What would change the answer, in words.
    pub changes: Vec<String>,
    /// Those of them that are said of the job file, each with why alone: a job may stand elsewhere than in a file.
    #[serde(skip)]
    pub of_job: Vec<(String, String)>,
    /// Whether every figure is met: none short, none unknown.
    pub fits: bool,
}

/// Set, site and job, and what holds of all figures.
struct Basis<'a> {
    set: &'a Values,
    site: &'a Values,
    job: &'a Values,
    assumed: &'a Assumed,
    units: Units,
    language: String,
}

/// Works a job out. The job is worked out with its site already (names, respirators, hoses).
///
/// # Errors
/// A file lacks what nothing can be worked out without; in words.
pub fn plan(
    set: &Values,
    site: &Values,
    job: &Values,
    assumed: &Assumed,
    units: Units,
) -> Result<Plan, String> {
    let own = || site.text("language").unwrap_or("en").to_owned();
    let language = assumed.language.clone().unwrap_or_else(own);
    let b = Basis { set, site, job, assumed, units, language };
    let (mut figures, mut changes, mut others) = (Vec::new(), Vec::new(), Vec::new());
    rules::figures(&b, &mut figures, &mut others);
    flow::figures(&b, &mut figures, &mut others);
    hoses::figures(&b, &mut figures, &mut others);
    let (table, leaves) = reserve::figures(&b, &mut figures, &mut changes);
    supply::figures(&b, &mut figures, &mut others);
    // First the pressure at which everyone leaves.
    changes.append(&mut others);
    moisture::figures(&b, &mut figures);
    dates::figures(&b, &mut figures);
    let fits = figures.iter().all(|f| f.met != Some(false) && !f.unknown());
    Ok(Plan {
        set: b.name(set),
        place: site
            .item("places", job.text("place").unwrap_or_default())
            .map_or_else(|| job.text("place").unwrap_or_default().to_owned(), |p| b.name(p)),
        wearers: b.wearers().iter().map(|w| b.name(w)).collect(),
        assumed: b.assumptions(),
        beside: flow::beside_words(&b),
        limits: figure::tightest(&figures),
        table,
        leaves,
        figures,
        changes,
        of_job: b.assumed.refused.iter().map(|why| (rules::of_job(why), why.clone())).collect(),
        fits,
    })
}

impl Basis<'_> {
    fn name(&self, values: &Values) -> String {
        values.words("name").map_or_else(|| values.id().to_owned(), |w| w.get(&self.language).to_owned())
    }

    fn wearers(&self) -> &[Values] {
        self.job.items("wearers")
    }

    /// Lowest and highest temperature of the day.
    fn temperatures(&self) -> Result<(Celsius, Celsius), Refused> {
        let (low, high) = match &self.assumed.temperatures {
            Some((low, high)) => (Some(&low.quantity), Some(&high.quantity)),
            None => (self.set.quantity("ambient_from"), self.set.quantity("ambient_to")),
        };
        let (low, high) = (figure::in_unit(low, "°C"), figure::in_unit(high, "°C"));
        Ok((
            Celsius::new(say!("the lowest temperature"), low)?,
            Celsius::new(say!("the highest temperature"), high)?,
        ))
    }

    /// A gauge pressure of a file.
    fn gauge(&self, values: &Values, field: &'static str) -> Result<Gauge, Refused> {
        Gauge::new(field, figure::in_unit(values.quantity(field), "bar"))
    }

    fn assumptions(&self) -> Vec<String> {
        let mut out = Vec::new();
        if let Some((low, high)) = &self.assumed.temperatures {
            let show = |t: &Written| self.units.quantity(t, 0, Rounding::Nearest);
            out.push(say!(
                "from {low} to {high} around the set and along the whole hose until the end",
                low = show(low),
                high = show(high)
            ));
        } else if let Ok((low, high)) = self.temperatures() {
            let show = |c: Celsius| self.units.temperature(c.get());
            out.push(say!(
                "from {low} to {high} around the set and along the whole hose until the end, the whole range of the set",
                low = show(low),
                high = show(high)
            ));
        }
        if self.set.choice("reserve") == Some("cylinders") {
            let show = |told: figure::Told<'_>| self.units.quantity(told, 0, Rounding::Down);
            match (&self.assumed.reserve, self.set.quantity("reserve_minimum")) {
                (Some(typed), _) => out.push(say!("reserve read at {reading}", reading = show(typed.into()))),
                (None, Some(least)) => {
                    out.push(say!(
                        "reserve read at {reading}, the set's minimum",
                        reading = show(least.into())
                    ));
                }
                (None, None) => {}
            }
        }
        if let Some(beside) = flow::beside_words(self) {
            out.push(say!(
                "{beside}: on this air all the time beside the wearers, drawing all they can",
                beside
            ));
        }
        match &self.assumed.cable {
            Some((length, section)) => out.push(say!("supply cable of {length}, {section}", length, section)),
            None if self.set.map("motor").is_some() => {
                out.push(say!("length and section of the supply cable not given").to_owned());
            }
            None => {}
        }
        out.push(say!(
            "last good days judged by {day}, today at the site; the permit may end a day later",
            day = self.assumed.today
        ));
        out.push(
            say!("nobody on this set by another permit; roster and register are not looked at").to_owned(),
        );
        out
    }
}
