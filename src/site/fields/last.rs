//! What `last.KIND.FIELD` offers: fields of the latest line of that kind for this set, unknown if
//! there is none. Each kind has `date`, the site's date of what happened (not of when it was typed).

use super::{may, must};
use crate::site::Field;
use crate::site::Holds::{Bool, Choice, Date, Id, Quantity, Text};
use crate::units::Dimension::{Concentration, Duration, Fraction, Pressure, Temperature};

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
    must("date", Date, to_say!("when the reserve was last filled"), LINE, "later: order at a CO alarm"),
    must(
        "from",
        Choice(&["this_set", "other_tested", "certificate", "not_known"]),
        to_say!("where the air came from"),
        LINE,
        "later: order at a CO alarm",
    ),
    may("machine", Text, to_say!("which machine or supplier"), LINE, "paper"),
];

const SERVICED: &[Field] = &[
    must("date", Date, to_say!("when it was last worked on"), LINE, "paper"),
    must("what", Choice(&["filter", "oil", "air_side", "other"]), to_say!("what was done"), LINE, "engine"),
    may(
        "hours",
        Quantity(Duration, "0 h", "200000 h"),
        to_say!("hour meter then"),
        LINE,
        "later: filter hours",
    ),
];

const STARTED: &[Field] = &[
    must("date", Date, to_say!("when it was last started"), LINE, "gate"),
    may("hours", Quantity(Duration, "0 h", "200000 h"), to_say!("hour meter then"), LINE, "gate"),
];

const MOVED: &[Field] = &[
    must("date", Date, to_say!("when it was last moved, even by metres"), LINE, "paper"),
    may("place", Id, to_say!("where to"), LINE, "paper"),
];

/// Readings as the limits take them: the worst that a reading may stand for, its uncertainty and the instrument's
/// lowest mark allowed for. Asked for on a permit, `here` and `unbroken` are of its place and of now.
const AIR_TEST: &[Field] = &[
    must("date", Date, to_say!("when the sample was taken"), LINE, "gate"),
    must("here", Bool, to_say!("taken where this permit says that the set stands"), LINE, "gate"),
    must(
        "unbroken",
        Bool,
        to_say!(
            "the set ran",
            "; not moved since, no filter, oil or air side worked on, no alarm for carbon monoxide, temperature, oil or fire, no hazard released, not in another register"
        ),
        LINE,
        "gate",
    ),
    may("sampler", Text, to_say!("who took it"), LINE, "paper"),
    may("certificate", Text, to_say!("number of the laboratory's certificate"), LINE, "gate"),
    may("instrument", Text, to_say!("which instrument or tubes"), LINE, "paper"),
    may("instrument_good", Date, to_say!("last good day of its calibration, or of the tubes"), LINE, "gate"),
    may(
        "sample_point",
        Choice(&["mask_end", "outlet", "cylinder"]),
        to_say!("where it was taken"),
        LINE,
        "gate",
    ),
    may("smell", Choice(&["none", "something"]), to_say!("smell, taste, mist or drops"), LINE, "gate"),
    may("line_pressure", Quantity(Pressure, "0 bar", "350 bar"), to_say!("pressure there"), LINE, "gate"),
    may(
        "line_temperature",
        Quantity(Temperature, "-60 °C", "100 °C"),
        to_say!("temperature there"),
        LINE,
        "paper",
    ),
    may(
        "o2_least",
        Quantity(Fraction, "-100 %", "200 %"),
        to_say!("oxygen, the least it may be"),
        LINE,
        "gate",
    ),
    may(
        "o2_most",
        Quantity(Fraction, "-100 %", "200 %"),
        to_say!("oxygen, the most it may be"),
        LINE,
        "gate",
    ),
    may(
        "co",
        Quantity(Fraction, "-100000 ppm", "1000000 ppm"),
        to_say!("carbon monoxide, the most it may be"),
        LINE,
        "gate",
    ),
    may(
        "co2",
        Quantity(Fraction, "-100000 ppm", "1000000 ppm"),
        to_say!("carbon dioxide, the most it may be"),
        LINE,
        "gate",
    ),
    may(
        "oil",
        Quantity(Concentration, "-1000 mg/m3", "100000 mg/m3"),
        to_say!("oil, the most it may be"),
        LINE,
        "gate",
    ),
    may(
        "water",
        Quantity(Concentration, "-1000 mg/m3", "100000 mg/m3"),
        to_say!("water, the most it may be"),
        LINE,
        "gate",
    ),
    may(
        "dew_point",
        Quantity(Temperature, "-120 °C", "100 °C"),
        to_say!("pressure dew point, the highest it may be"),
        LINE,
        "gate",
    ),
];
