//! Fields of the gear a site keeps: kinds of respirator, breathing-air hoses, kinds of escape set.
//!
//! Always: a respirator kind carries its maker's hose table as one row, the longest length and most
//! sections within one range of supply pressure; a kind approved with two tables is two kinds.
//! The table rules; a pressure worked out from bore and length may only shut what the table leaves open.
//! Three flows: `least` decides whether there is enough, `planned` is shown, `most` decides how long
//! the reserve lasts. Gates name these through `wearer.*` (see `LOOKED_UP`), so the engine reads
//! them. Not here: which piece of gear is used by whom (job file).

use super::must;
use crate::site::Field;
use crate::site::Holds::{Bool, Choice, Date, Id, Number, Quantity, Text, Texts, Words};
use crate::units::Dimension::{Duration, Flow, Length, Pressure};

pub(super) const RESPIRATORS: &[Field] = &[
    must("id", Id, "id of the kind", "the site", "engine"),
    must("name", Words, "name people use", "the site", "paper"),
    must("face", Choice(&["full_face", "half_mask", "hood"]), "what covers the face", "the maker", "engine"),
    must("positive_pressure", Bool, "inside always above outside", "the maker", "engine"),
    must(
        "least",
        Quantity(Flow, "20 L/min", "1000 L/min"),
        "least flow it must get",
        "the maker; 42 CFR 84: 115 L/min tight-fitting, 170 L/min loose-fitting",
        "engine",
    ),
    must(
        "planned",
        Quantity(Flow, "20 L/min", "1000 L/min"),
        "flow at this work, shown only; for demand valves that of hard work",
        "the maker",
        "paper",
    ),
    must(
        "most",
        Quantity(Flow, "20 L/min", "1500 L/min"),
        "most it can draw with every valve open; never guessed",
        "the maker",
        "engine",
    ),
    must(
        "feeds",
        Choice(&["demand", "steady"]),
        "demand: a valve gives what each breath draws; steady: air flows all the time",
        "the maker",
        "engine",
    ),
    must(
        "inlet_from",
        Quantity(Pressure, "0.2 bar", "15 bar"),
        "lowest pressure at the mask end of the hose at which it still gets `least`",
        "the maker",
        "engine",
    ),
    must(
        "length_most",
        Quantity(Length, "1 m", "300 m"),
        "longest hose in the maker's table",
        "the maker; 42 CFR 84: at most 91 m",
        "engine",
    ),
    must("sections_most", Number("1", "20"), "most sections joined", "the maker", "engine"),
    must(
        "pressure_from",
        Quantity(Pressure, "0.5 bar", "15 bar"),
        "lowest supply pressure in the maker's table",
        "the maker",
        "engine",
    ),
    must(
        "pressure_to",
        Quantity(Pressure, "0.5 bar", "15 bar"),
        "highest supply pressure in the maker's table",
        "the maker",
        "engine",
    ),
];

pub(super) const HOSES: &[Field] = &[
    must("id", Id, "id of the hose", "the site", "engine"),
    must("name", Words, "what is written on it", "the site", "paper"),
    must("serial", Text, "serial number", "the sleeve of the hose", "paper"),
    must("length", Quantity(Length, "0.5 m", "300 m"), "whole length laid", "the site", "engine"),
    must("sections", Number("1", "20"), "sections joined", "the site", "engine"),
    must(
        "bore",
        Quantity(Length, "3 mm", "50 mm"),
        "inside diameter of its narrowest section",
        "the maker",
        "engine",
    ),
    must("replace_by", Date, "last good day", "the maker", "engine"),
];

pub(super) const ESCAPE_SETS: &[Field] = &[
    must("id", Id, "id of the kind", "the site", "engine"),
    must("name", Words, "name people use", "the site", "paper"),
    must("minutes", Quantity(Duration, "1 min", "60 min"), "rated minutes", "the maker", "engine"),
    must(
        "gauge_least",
        Quantity(Pressure, "50 bar", "350 bar"),
        "reading at which it counts as full",
        "the maker",
        "engine",
    ),
    must("face", Choice(&["full_face", "half_mask", "hood"]), "what covers the face", "the maker", "engine"),
    must("positive_pressure", Bool, "inside always above outside", "the maker", "engine"),
    must("approved_with", Texts, "ids of the respirators it is approved with", "the maker", "engine"),
];
