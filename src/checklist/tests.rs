//! Models of checklists that are read, and what is refused in them.
#![allow(clippy::unwrap_used, clippy::panic)]

mod examples;
mod model;
mod never;

use super::{Checklist, Reading, Tables};
use crate::site::{Field, Holds, Need};
use crate::units::Dimension;

const fn field(name: &'static str, holds: Holds, need: Need) -> Field {
    Field { name, holds, need, doc: "for tests", source: "invented", read_by: "gate" }
}

const ID: Field = field("id", Holds::Id, Need::Required);
const NAME: Field = field("name", Holds::Words, Need::Required);

/// Small tables, so that the tests say all there is.
pub(super) static SMALL: Tables = Tables {
    set: &[
        field("set", Holds::Id, Need::Required),
        NAME,
        field("serial", Holds::Text, Need::Required),
        field("reserve", Holds::Choice(&["none", "cylinders"]), Need::Required),
        field("driven_by", Holds::Choice(&["mains", "own_engine"]), Need::Required),
        field("reserve_minimum", Holds::Quantity(Dimension::Pressure, "1 bar", "400 bar"), Need::Required),
        field("gauge_to", Holds::Quantity(Dimension::Pressure, "1 bar", "400 bar"), Need::Required),
        field("has_hour_meter", Holds::Bool, Need::Optional),
        field(
            "motor",
            Holds::Map(&[field(
                "voltage_from",
                Holds::Quantity(Dimension::Voltage, "1 V", "1000 V"),
                Need::Required,
            )]),
            Need::Optional,
        ),
        field(
            "cylinders",
            Holds::Items(&[
                ID,
                NAME,
                field("volume", Holds::Quantity(Dimension::Volume, "1 L", "100 L"), Need::Required),
                field("tested", Holds::Date, Need::Optional),
            ]),
            Need::Optional,
        ),
    ],
    site: &[
        field("site", Holds::Id, Need::Required),
        NAME,
        field("recall", Holds::Words, Need::Required),
        field("note", Holds::Text, Need::Optional),
        field("warm_up", Holds::Quantity(Dimension::Duration, "1 min", "60 min"), Need::Default("15 min")),
        field("hose_age", Holds::Span, Need::Default("24 months")),
    ],
    job: &[
        field("what", Holds::Words, Need::Required),
        field("way_out", Holds::Quantity(Dimension::Duration, "0 s", "300 min"), Need::Required),
        field("consumers", Holds::Items(&[ID, NAME]), Need::Optional),
    ],
    wearer: &[
        field("person", Holds::Id, Need::Required),
        field("name", Holds::Words, Need::Required),
        field("most", Holds::Quantity(Dimension::Flow, "0 L/min", "1000 L/min"), Need::Required),
    ],
    last: &[("filled", &[field("date", Holds::Date, Need::Required)])],
};

pub(super) fn read(text: &str) -> Reading {
    Checklist::read_with("f.yaml", text.as_bytes(), &SMALL)
}

/// A whole checklist around some steps, which begin in line 8.
pub(super) fn with_steps(steps: &str) -> String {
    format!(
        "checklist: trial\nrevision: 1\ntitle: Trial\nfor: work\nstages:\n  - stage: one\n    title: One\n    steps:\n{steps}"
    )
}

/// Code, line and column of every error; warnings are left aside.
pub(super) fn errors(text: &str) -> Vec<(&'static str, u32, u32)> {
    let r = read(text);
    crate::finding::in_every_tongue(|| read(text).findings);
    let errors: Vec<_> = r
        .findings
        .iter()
        .filter(|f| f.level == crate::finding::Level::Error)
        .map(|f| (f.code, f.place.line, f.place.column))
        .collect();
    assert_eq!(r.checklist.is_none(), !errors.is_empty(), "{:#?}", r.findings);
    errors
}
