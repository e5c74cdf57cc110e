//! What `last.KIND.FIELD` offers: fields of the latest line of that kind for this set, unknown if
//! there is none. Each kind has `date`, the site's date of what happened (not of when it was typed).

use super::{may, must};
use crate::site::Field;
use crate::site::Holds::{Choice, Date, Id, Quantity, Text};
use crate::units::Dimension::{Concentration, Duration, Fraction};

/// What `last.KIND.FIELD` offers, per line kind.
pub static LAST: &[(&str, &[Field])] = &[
    ("filled", FILLED),
    ("serviced", SERVICED),
    ("started", STARTED),
    ("moved", MOVED),
    ("air_test", AIR_TEST),
];

const LINE: &str = "the register";

const FILLED: &[Field] = &[
    must("date", Date, "when the reserve was last filled", LINE, "later: order at a CO alarm"),
    must(
        "from",
        Choice(&["this_set", "other_tested", "certificate", "not_known"]),
        "where the air came from",
        LINE,
        "later: order at a CO alarm",
    ),
    may("machine", Text, "which machine or supplier", LINE, "paper"),
];

const SERVICED: &[Field] = &[
    must("date", Date, "when it was last worked on", LINE, "gate"),
    must(
        "what",
        Choice(&["filter", "oil", "air_side", "other"]),
        "what was done",
        LINE,
        "later: which work voids an air test",
    ),
    may("hours", Quantity(Duration, "0 h", "200000 h"), "hour meter then", LINE, "later: filter hours"),
];

const STARTED: &[Field] = &[
    must("date", Date, "when it was last started", LINE, "gate"),
    may("hours", Quantity(Duration, "0 h", "200000 h"), "hour meter then", LINE, "gate"),
];

const MOVED: &[Field] = &[
    must("date", Date, "when it was last moved, even by metres", LINE, "gate"),
    may("place", Id, "where to", LINE, "paper"),
];

const AIR_TEST: &[Field] = &[
    must("date", Date, "when the sample was taken", LINE, "later: carried tests"),
    may("place", Id, "where the set stood", LINE, "later: carried tests"),
    may("o2", Quantity(Fraction, "0 %", "100 %"), "oxygen", LINE, "later: carried tests"),
    may("co", Quantity(Fraction, "0 ppm", "1000 ppm"), "carbon monoxide", LINE, "later: carried tests"),
    may("co2", Quantity(Fraction, "0 ppm", "10000 ppm"), "carbon dioxide", LINE, "later: carried tests"),
    may("oil", Quantity(Concentration, "0 mg/m3", "100 mg/m3"), "oil", LINE, "later: carried tests"),
    may("water", Quantity(Concentration, "0 mg/m3", "30000 mg/m3"), "water", LINE, "later: carried tests"),
];
