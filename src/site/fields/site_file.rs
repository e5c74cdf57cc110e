//! Fields of a site file: what one site decides for all its sets, and the kinds of gear it keeps.
//!
//! Always: whatever is a habit and not a fact of a machine is a field here with a shown default, never
//! a constant in code. Air limits have no default: a site names the rule it works under and copies its
//! figures. Not here: plate data (set file), today's people and places (job
//! file), the kinds of gear (`gear.rs`).

use super::gear::{ESCAPE_SETS, HOSES, RESPIRATORS};
use super::{may, must, or};
use crate::site::Field;
use crate::site::Holds::{Choice, Id, Items, Map, Number, Quantity, Span, Text, TimeOfDay, Words};
use crate::units::Dimension::{
    AbsolutePressure, Angle, Concentration, Current, Duration, Fraction, Frequency, Length, Pressure, Speed,
    Temperature, TemperatureDifference, Voltage,
};

const HABIT: &str = "common practice, no source";

/// Fields of a site file.
pub static SITE: &[Field] = &[
    must("site", Id, "id of the site, first key of the file", "the site", "engine"),
    must("name", Words, "name people use", "the site", "paper"),
    must(
        "zone",
        Text,
        "IANA time zone, such as Europe/Lisbon; dates and times of day are meant in it",
        "IANA time zone database",
        "engine",
    ),
    or("language", Text, "en", "language of screens and paper", "BCP 47", "paper"),
    or(
        "units",
        Choice(&["metric", "us", "both"]),
        "metric",
        "units people see in a plan: metric, US, or metric with US beside it",
        "the site",
        "engine",
    ),
    must("places", Items(PLACES), "where a set may stand", "the site", "engine"),
    must(
        "supply_points",
        Items(SUPPLY_POINTS),
        "sockets and generators a set may be plugged into",
        "the site",
        "engine",
    ),
    // Siting.
    or(
        "clearance_exhaust",
        Quantity(Length, "1 m", "500 m"),
        "10 m",
        to_say!("least distance from the intake to anything that burns fuel, in any wind"),
        HABIT,
        "gate",
    ),
    or(
        "clearance_downwind",
        Quantity(Length, "1 m", "500 m"),
        "30 m",
        to_say!("least distance when the intake is downwind of it, or the wind is light"),
        HABIT,
        "gate",
    ),
    or(
        "clearance_vent",
        Quantity(Length, "1 m", "500 m"),
        "15 m",
        to_say!("least distance from the intake to vents, extracts, inert gas and solvent stores"),
        HABIT,
        "gate",
    ),
    or(
        "light_wind",
        Quantity(Speed, "0 m/s", "10 m/s"),
        "2 m/s",
        to_say!("below this the wind counts as coming from everywhere"),
        HABIT,
        "gate",
    ),
    or(
        "wind_sector",
        Quantity(Angle, "10 deg", "180 deg"),
        "45 deg",
        to_say!("to each side of straight downwind that still counts as downwind"),
        HABIT,
        "gate",
    ),
    // Air.
    or(
        "air_test_months",
        Span,
        "3 months",
        to_say!("longest time between air tests"),
        "HSE HSG53 4th ed., from memory: at least every three months",
        "gate",
    ),
    must(
        "limits",
        Map(LIMITS),
        to_say!("the air limits this site works under"),
        "the rule named in limits.rule",
        "gate",
    ),
    or(
        "co_alarm",
        Quantity(Fraction, "1 ppm", "10 ppm"),
        "5 ppm",
        to_say!("where the CO monitor must sound"),
        "EN 12021:2014 limit, from memory",
        "gate",
    ),
    or(
        "co_zero",
        Quantity(Fraction, "0 ppm", "5 ppm"),
        "1 ppm",
        to_say!("most the CO monitor may show in clean air"),
        HABIT,
        "gate",
    ),
    or(
        "co_calibration",
        Span,
        "6 months",
        to_say!("longest time between calibrations of the CO monitor"),
        HABIT,
        "gate",
    ),
    or(
        "ambient_pressure",
        Quantity(AbsolutePressure, "0.7 bar_abs", "1.1 bar_abs"),
        "1.01325 bar_abs",
        to_say!("pressure of the air around the set"),
        "standard atmosphere, ISO 2533, from memory",
        "gate",
    ),
    // The way out and the reserve.
    or(
        "way_out_factor",
        Number("1", "5"),
        "1.5",
        to_say!("air for the way out is this many times what the way out takes"),
        HABIT,
        "gate",
    ),
    or(
        "way_out_floor",
        Quantity(Duration, "1 min", "120 min"),
        "10 min",
        to_say!("and never less than this"),
        HABIT,
        "gate",
    ),
    or(
        "settle",
        Quantity(Duration, "30 s", "30 min"),
        "2 min",
        to_say!("how long a needle must stand still before it is read"),
        HABIT,
        "gate",
    ),
    or("fill_age", Span, "12 months", to_say!("oldest fill that may serve as reserve"), HABIT, "gate"),
    or(
        "change_over_time",
        Quantity(Duration, "1 s", "60 s"),
        "5 s",
        to_say!("longest time from cutting the feed to steady flow from the reserve"),
        HABIT,
        "gate",
    ),
    // Time.
    or(
        "most_hours",
        Quantity(Duration, "1 h", "24 h"),
        "12 h",
        "longest validity of a permit",
        HABIT,
        "engine",
    ),
    or(
        "freshness",
        Quantity(Duration, "5 min", "12 h"),
        "60 min",
        "a declaration, a reading marked `fresh`, a roll call or a gauge older than this does not count for issuing, a later end or a hand-over",
        HABIT,
        "engine",
    ),
    or(
        "read_grace",
        Quantity(Duration, "0 s", "60 min"),
        "5 min",
        "a gauge not read by so long after it was due: nobody goes on air until it is",
        HABIT,
        "engine",
    ),
    or(
        "shift_overlap",
        Quantity(Duration, "5 min", "4 h"),
        "60 min",
        "so long before its shift ends a permit can be handed over to the next shift",
        HABIT,
        "engine",
    ),
    or(
        "spell_pause",
        Quantity(Duration, "1 min", "4 h"),
        "10 min",
        "a mask that is off for less does not end a spell on air",
        HABIT,
        "engine",
    ),
    must("shift_ends", Items(SHIFT_ENDS), "when shifts end; a permit ends no later", "the site", "engine"),
    or(
        "filter_margin",
        Quantity(Duration, "0 h", "100 h"),
        "4 h",
        to_say!("filter hours that must remain beyond the permit"),
        HABIT,
        "gate",
    ),
    or(
        "fuel_margin",
        Quantity(Duration, "0 h", "100 h"),
        "2 h",
        to_say!("fuel and battery hours that must remain beyond the permit"),
        HABIT,
        "gate",
    ),
    or(
        "clock_most",
        Quantity(Duration, "0 s", "120 s"),
        "60 s",
        to_say!("most the laptop's clock may differ from a watch"),
        "below the 120 s at which the record refuses requests",
        "gate",
    ),
    or(
        "vent_wait",
        Quantity(Duration, "1 min", "60 min"),
        "5 min",
        to_say!("wait between reading zero and reading it again"),
        HABIT,
        "gate",
    ),
    // Supply.
    or(
        "rcd",
        Quantity(Current, "0.005 A", "0.5 A"),
        "30 mA",
        to_say!("largest residual current that still trips the device ahead of the set"),
        "IEC 60364-4-41 socket outlets, from memory",
        "gate",
    ),
    or(
        "cable_drop",
        Quantity(Fraction, "0.5 %", "10 %"),
        "5 %",
        to_say!("most voltage the cable may lose while the motor runs under full load"),
        "IEC 60364-5-52 Annex G, public supply, other uses than lighting: 5 % (read)",
        "gate",
    ),
    or(
        "cable_drop_start",
        Quantity(Fraction, "1 %", "30 %"),
        "12 %",
        to_say!("most voltage the cable may lose while the motor starts"),
        HABIT,
        "gate",
    ),
    or(
        "conductor_temperature",
        Quantity(Temperature, "20 °C", "90 °C"),
        "70 °C",
        to_say!("temperature of the conductors under load", "; warmer copper loses more"),
        "IEC 60364-5-52, PVC insulation, from memory",
        "gate",
    ),
    or(
        "coupling_loss",
        Quantity(Pressure, "0 bar", "2 bar"),
        "0.3 bar",
        to_say!("pressure lost in each coupling of a hose with the wearer drawing all they can"),
        "common practice, no source: 0.1 to 0.3 bar; the larger",
        "gate",
    ),
    // People.
    or(
        "fit_test_months",
        Span,
        "12 months",
        to_say!("longest time between fit tests of one person for one model"),
        "29 CFR 1910.134(f)(2), from memory",
        "gate",
    ),
    or(
        "breathe_outside",
        Quantity(Duration, "30 s", "15 min"),
        "2 min",
        to_say!("time on the mask outside before going in"),
        HABIT,
        "gate",
    ),
    or(
        "recall_time",
        Quantity(Duration, "5 s", "120 s"),
        "20 s",
        to_say!("longest time from the recall signal to the last wearer's answer in the trial"),
        HABIT,
        "gate",
    ),
    or(
        "rescuers_least",
        Number("1", "10"),
        "2",
        "rescuers who must be named",
        "29 CFR 1910.134(g)(3) at least one, WAC 296-842-19005 two; the stricter",
        "engine",
    ),
    or(
        "reread_tolerance",
        Quantity(Fraction, "0 %", "20 %"),
        "5 %",
        "most a supervisor's re-reading may differ from the operator's, of the reading",
        HABIT,
        "engine",
    ),
    may("people", Items(PEOPLE), "people without a key who may be named in a job", "the site", "engine"),
    // Gear.
    must(
        "respirators",
        Items(RESPIRATORS),
        "kinds of respirator with their maker's hose table",
        "the maker",
        "engine",
    ),
    must("hoses", Items(HOSES), "breathing-air hoses from an outlet to a mask", "the site", "engine"),
    may("escape_sets", Items(ESCAPE_SETS), "kinds of escape set a wearer carries", "the maker", "engine"),
];

const PLACES: &[Field] = &[
    must("id", Id, "id of the place", "the site", "engine"),
    must("name", Words, "name people use", "the site", "paper"),
    may("note", Words, "what to look out for here", "the site", "paper"),
];

const SUPPLY_POINTS: &[Field] = &[
    must("id", Id, "id of the supply point", "the site", "engine"),
    must("name", Words, "name people use", "the site", "paper"),
    must("kind", Choice(&["mains", "generator", "own_engine"]), "what it is", "the site", "engine"),
    may(
        "socket",
        Quantity(Current, "1 A", "125 A"),
        "rating of the socket",
        "the site's drawing",
        "later: cable and socket",
    ),
    may(
        "rcd",
        Quantity(Current, "0.005 A", "0.5 A"),
        "rating of the residual-current device ahead of it",
        "the site's drawing",
        "later: cable and socket",
    ),
    may(
        "voltage",
        Quantity(Voltage, "12 V", "1000 V"),
        "nominal voltage",
        "the site's drawing",
        "later: cable and socket",
    ),
    may(
        "frequency",
        Quantity(Frequency, "16 Hz", "400 Hz"),
        "nominal frequency",
        "the site's drawing",
        "later: cable and socket",
    ),
    may("owner", Words, "who can switch it off, and must be told", "the site", "paper"),
];

const LIMITS: &[Field] = &[
    may(
        "profile",
        Choice(&["en_12021_2014", "cfr_1910_134_grade_d"]),
        "the named rule these figures may only be stricter than",
        "the files in src/air/limits, each limit with its source",
        "engine",
    ),
    must("rule", Text, "the rule these figures are from", "the site", "paper"),
    must(
        "o2_from",
        Quantity(Fraction, "19.5 %", "21 %"),
        to_say!("least oxygen"),
        "EN 12021:2014: 20 % (from memory); 29 CFR 1910.134(i)(1)(ii): 19.5 %",
        "gate",
    ),
    must(
        "o2_to",
        Quantity(Fraction, "21 %", "23.5 %"),
        to_say!("most oxygen"),
        "EN 12021:2014: 22 % (from memory); 29 CFR 1910.134(i)(1)(ii): 23.5 %",
        "gate",
    ),
    must(
        "co_most",
        Quantity(Fraction, "0.1 ppm", "10 ppm"),
        to_say!("most carbon monoxide"),
        "EN 12021:2014: 5 ppm (from memory); 29 CFR 1910.134(i)(1)(ii): 10 ppm",
        "gate",
    ),
    must(
        "co2_most",
        Quantity(Fraction, "300 ppm", "1000 ppm"),
        to_say!("most carbon dioxide"),
        "EN 12021:2014: 500 ppm (from memory); 29 CFR 1910.134(i)(1)(ii): 1000 ppm",
        "gate",
    ),
    must(
        "oil_most",
        Quantity(Concentration, "0.01 mg/m3", "5 mg/m3"),
        to_say!("most oil, mist and droplets"),
        "EN 12021:2014: 0.5 mg/m3 (from memory); 29 CFR 1910.134(i)(1)(ii): 5 mg/m3",
        "gate",
    ),
    must(
        "water_most",
        Quantity(Concentration, "10 mg/m3", "1000 mg/m3"),
        to_say!("most water, of air expanded to the open, at this site's supply pressure"),
        "EN 12021:2014 table by supply pressure, next higher row (from memory)",
        "gate",
    ),
    or(
        "dew_margin",
        Quantity(TemperatureDifference, "1 K", "30 K"),
        "5 K",
        to_say!("how far below the coldest spot the pressure dew point must lie"),
        "EN 12021:2014, from memory",
        "gate",
    ),
];

const SHIFT_ENDS: &[Field] = &[
    must("id", Id, "id of the shift", "the site", "engine"),
    must("name", Words, "name people use", "the site", "paper"),
    must("at", TimeOfDay, "when it ends", "the site", "engine"),
];

const PEOPLE: &[Field] = &[
    must("id", Id, "id of the person", "the site", "engine"),
    must("name", Words, "the person's name", "the site", "paper"),
];
