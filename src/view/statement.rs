//! What page one, the board and the card state of a permit, row by row.
//!
//! Always: a row is found by what it is about, never by its words: they change with the language.

use crate::tongue::say;
use serde::Serialize;

/// What a statement of page one is about: found by this, never by its words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// The order at any alarm.
    AnyAlarm,
    /// The recall signal.
    Recall,
    /// Whom to call.
    Rescue,
    /// Where everyone goes.
    Assembly,
    /// The channel.
    Radio,
    /// The attendant.
    Attendant,
    /// The entry watch.
    EntryWatch,
    /// Between which pressures the supply must be.
    SupplyGauge,
    /// There is no reserve.
    NoReserve,
    /// The leave-by pressure.
    LeaveBy,
    /// Instead of it until it is worked out.
    ReserveAtLeast,
    /// The order at a carbon monoxide alarm.
    OnCo,
    /// From which carbon monoxide on everyone comes out.
    CoLimit,
    /// So many at once.
    MostOnAir,
    /// The longest spell on air.
    Spell,
    /// How often the gauges are read.
    ReadEvery,
    /// The atmosphere.
    Atmosphere,
    /// The way out.
    WayOut,
    /// Other permits.
    OtherPermits,
    /// Who answers for the air.
    Holder,
    /// Who let people on it.
    Issued,
    /// When the air was tested.
    AirTested,
    /// Its carbon monoxide then.
    CoTested,
    /// When it is to be tested again.
    NextAirTest,
    /// Answers of earlier permits.
    Carried,
}

impl About {
    /// The label.
    pub fn label(self) -> &'static str {
        match self {
            About::AnyAlarm => say!("Any alarm or change-over"),
            About::Recall => say!("Recall signal"),
            About::Rescue => say!("Rescue"),
            About::Assembly => say!("Assembly point"),
            About::Radio => say!("Radio"),
            About::Attendant => say!("Attendant at the set"),
            About::EntryWatch => say!("Entry watch"),
            About::SupplyGauge => say!("Supply gauge of the set"),
            About::NoReserve => say!("NO RESERVE"),
            About::LeaveBy => say!("Leave by: reserve gauge at"),
            About::ReserveAtLeast => say!("Reserve gauge, at least"),
            About::OnCo => say!("On a carbon monoxide alarm"),
            About::CoLimit => say!("Carbon monoxide, everyone out at"),
            About::MostOnAir => say!("Most on air at once"),
            About::Spell => say!("Longest spell on air"),
            About::ReadEvery => say!("Gauges read every"),
            About::Atmosphere => say!("Atmosphere where they work"),
            About::WayOut => say!("Way out"),
            About::OtherPermits => say!("Entry and work permits"),
            About::Holder => say!("Holder, answers for this air"),
            About::Issued => say!("Issued by"),
            About::AirTested => say!("Air tested on"),
            About::CoTested => say!("CO in the air test"),
            About::NextAirTest => say!("Next air test by"),
            About::Carried => say!("Not answered here but carried"),
        }
    }
}

/// A labelled statement of page one: `Leave by` / `168 bar` / `at the set's reserve gauge`.
#[derive(Clone, Debug, Serialize)]
pub struct Statement {
    /// What it is about.
    #[serde(skip)]
    pub about: About,
    /// What it is.
    pub label: String,
    /// The value, with unit.
    pub value: String,
    /// A short qualification, or empty.
    pub note: String,
}

impl Statement {
    /// A statement under its label.
    pub fn new(about: About, value: impl Into<String>, note: impl Into<String>) -> Statement {
        Statement { about, label: about.label().to_owned(), value: value.into(), note: note.into() }
    }
}
