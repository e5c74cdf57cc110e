//! What a step is asked for each of, and how long an answer stays good.

use std::fmt;

/// A step is asked once for each of these.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Each {
    /// The items of a list of the set file that are in service.
    Set(String),
    /// The items of a list of the site file.
    Site(String),
    /// The items of a list of the job.
    Job(String),
    /// The wearers of the job; asked before that wearer's first time on air.
    Wearer,
}

impl Each {
    /// The list's name alone: `cylinders`; `wearers` for [`Each::Wearer`].
    pub fn list(&self) -> &str {
        match self {
            Each::Set(l) | Each::Site(l) | Each::Job(l) => l,
            Each::Wearer => "wearers",
        }
    }

    /// The word that names one of them in gates and texts: `item` or `wearer`.
    pub fn one(&self) -> &'static str {
        match self {
            Each::Set(_) | Each::Site(_) | Each::Job(_) => "item",
            Each::Wearer => "wearer",
        }
    }
}

impl fmt::Display for Each {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Each::Set(l) => write!(f, "set.{l}"),
            Each::Site(l) => write!(f, "site.{l}"),
            Each::Job(l) => write!(f, "job.{l}"),
            Each::Wearer => f.write_str("wearer"),
        }
    }
}

/// One condition under which an accepted answer stays good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct GoodFor {
    /// While this is the same.
    pub scope: Scope,
    /// True: for the whole site (`site:` was written); false: for this set.
    pub site_wide: bool,
}

/// What must be the same for an answer to stay good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scope {
    /// This permit.
    Permit,
    /// This shift.
    Shift,
    /// This start of the set.
    Start,
    /// This set.
    Set,
    /// This place.
    Place,
    /// This supply point.
    SupplyPoint,
    /// This wind.
    Wind,
    /// This filter.
    Filter,
    /// This fill of the reserve.
    Fill,
    /// This hose.
    Hose,
    /// This respirator.
    Respirator,
    /// This wearer.
    Wearer,
    /// So many hours.
    Hours(u32),
    /// So many months.
    Months(u32),
}

impl Scope {
    /// The scopes that are words of their own.
    pub const WORDS: [(&'static str, Scope); 12] = [
        ("permit", Scope::Permit),
        ("shift", Scope::Shift),
        ("start", Scope::Start),
        ("set", Scope::Set),
        ("place", Scope::Place),
        ("supply_point", Scope::SupplyPoint),
        ("wind", Scope::Wind),
        ("filter", Scope::Filter),
        ("fill", Scope::Fill),
        ("hose", Scope::Hose),
        ("respirator", Scope::Respirator),
        ("wearer", Scope::Wearer),
    ];
}
