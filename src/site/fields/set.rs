//! Fields of a set file: what the plate and the maker's papers of one compressor set say.
//!
//! Always: nothing here is measured on the day; what is measured is an answer to a step. No field is
//! the total of a list. Not here: limits a site chooses (site file).

use super::{may, must, or};
use crate::site::Field;
use crate::site::Holds::{Bool, Choice, Date, Id, Items, Map, Number, Quantity, Span, Text, Words};
use crate::units::Dimension::{
    Current, Duration, Flow, Frequency, Length, Power, Pressure, Temperature, Voltage, Volume,
};

/// Fields of a set file.
pub static SET: &[Field] = &[
    must("set", Id, "id of the set, first key of the file", "the owner", "engine"),
    must("name", Words, "name people use", "the owner", "paper"),
    must("serial", Text, "serial number on the plate", "the plate", "paper"),
    may("owner", Words, "who owns it and answers for its examination", "the owner", "paper"),
    must(
        "rated_flow",
        Quantity(Flow, "1 L/min", "20000 L/min"),
        to_say!("free air delivered at working pressure", "; swept volume is not this"),
        "the plate",
        "gate",
    ),
    must(
        "rated_pressure",
        Quantity(Pressure, "0.5 bar", "40 bar"),
        "highest working pressure of the supply side",
        "the plate",
        "paper",
    ),
    must(
        "supply_pressure_from",
        Quantity(Pressure, "0.5 bar", "40 bar"),
        to_say!("lowest reading of the supply gauge with everyone breathing"),
        "the maker",
        "gate",
    ),
    must(
        "supply_pressure_to",
        Quantity(Pressure, "0.5 bar", "40 bar"),
        to_say!("highest reading of the supply gauge"),
        "the maker",
        "gate",
    ),
    must("outlets", Items(OUTLETS), "where hoses are plugged in", "the maker", "gate"),
    may("motor", Map(MOTOR), to_say!("the electric motor, where there is one"), "the plate", "gate"),
    may(
        "socket",
        Quantity(Current, "1 A", "125 A"),
        to_say!("rating of the plug on the set's cable: the supply point must have at least this"),
        "the plate",
        "gate",
    ),
    must(
        "driven_by",
        Choice(&["mains", "generator", "own_engine"]),
        to_say!("what turns it"),
        "the plate",
        "gate",
    ),
    must(
        "stops_by",
        Choice(&["stop_button", "unload_then_stop", "idle_then_stop"]),
        to_say!("the maker's normal way of stopping", "; the emergency stop is never one of them"),
        "the maker",
        "gate",
    ),
    or(
        "idle_time",
        Quantity(Duration, "0 s", "60 min"),
        "3 min",
        to_say!("how long it runs without load before it is stopped, where it stops so"),
        "common practice, no source",
        "gate",
    ),
    must(
        "reserve",
        Choice(&["none", "cylinders"]),
        to_say!("what feeds the outlets when the compressor does not"),
        "the maker",
        "gate",
    ),
    may("cylinders", Items(CYLINDERS), "the reserve cylinders", "the plate", "gate"),
    may(
        "reserve_minimum",
        Quantity(Pressure, "1 bar", "350 bar"),
        to_say!("nobody goes on air with any cylinder below this"),
        "the owner's assessment",
        "gate",
    ),
    may(
        "reserve_floor",
        Quantity(Pressure, "1 bar", "350 bar"),
        to_say!("lowest cylinder pressure at which the outlets still hold their range", "; no default"),
        "the maker",
        "gate",
    ),
    may(
        "reserve_low_warning",
        Quantity(Pressure, "1 bar", "350 bar"),
        to_say!("cylinder pressure at which the low-reserve warning sounds"),
        "the maker",
        "gate",
    ),
    may(
        "change_over_lowest",
        Quantity(Pressure, "0.1 bar", "40 bar"),
        to_say!("the supply pressure must not have fallen below this when the reserve took over"),
        "the maker",
        "gate",
    ),
    or(
        "drop_per_hour",
        Quantity(Pressure, "0 bar", "50 bar"),
        "5 bar",
        "fall of the reserve in an hour that is still no leak, temperature allowed for",
        "common practice, no source",
        "engine",
    ),
    or(
        "read_every",
        Quantity(Duration, "1 min", "4 h"),
        "15 min",
        "how often supply, reserve (each cylinder, or one gauge of them all) and carbon monoxide are read at work",
        "common practice, no source",
        "engine",
    ),
    or(
        "zone",
        Choice(&["none", "zone_2", "zone_1"]),
        "none",
        to_say!("hazardous zone the set is certified for"),
        "the certificate",
        "gate",
    ),
    or(
        "gas_group",
        Choice(&["none", "iia", "iib", "iic"]),
        "none",
        to_say!("gas group on the certificate"),
        "the certificate",
        "gate",
    ),
    or(
        "temperature_class",
        Choice(&["none", "t1", "t2", "t3", "t4", "t5", "t6"]),
        "none",
        to_say!("temperature class on the certificate"),
        "the certificate",
        "gate",
    ),
    must(
        "ambient_from",
        Quantity(Temperature, "-60 °C", "60 °C"),
        to_say!("coldest surroundings it may run in"),
        "the maker",
        "gate",
    ),
    must(
        "ambient_to",
        Quantity(Temperature, "-60 °C", "60 °C"),
        to_say!("warmest surroundings it may run in"),
        "the maker",
        "gate",
    ),
    must("oil_grade", Text, to_say!("the oil it takes, as on the filler"), "the maker", "gate"),
    or(
        "intake_height",
        Quantity(Length, "0 m", "20 m"),
        "1.5 m",
        to_say!("lowest height of the intake above the ground or deck"),
        "common practice, no source",
        "gate",
    ),
    or(
        "warm_up",
        Quantity(Duration, "1 min", "120 min"),
        "15 min",
        to_say!("running under load before the air is judged"),
        "common practice, no source",
        "gate",
    ),
    must("filters", Items(FILTERS), "the stages that clean and dry the air", "the maker", "gate"),
    or(
        "converter",
        Choice(&["none", "fitted"]),
        "none",
        to_say!("a stage that turns CO into CO2", "; it never replaces siting"),
        "the maker",
        "gate",
    ),
    must("warnings", Items(WARNINGS), "each warning of the set, seen and heard", "the maker", "gate"),
    may(
        "hoses",
        Items(SET_HOSES),
        "flexible hoses of the machine itself, not those to the wearers",
        "the maker",
        "gate",
    ),
    must(
        "examination_due",
        Date,
        to_say!("last good day of the examination of its pressure system"),
        "the examiner's report; UK: PSSR 2000 reg 8, from memory",
        "gate",
    ),
];

const OUTLETS: &[Field] = &[
    must("id", Id, "id of the outlet", "the owner", "engine"),
    must("name", Words, "what is painted beside it", "the owner", "paper"),
    must(
        "kind",
        Choice(&["limited", "open", "not_stated"]),
        to_say!("limited: it has its own limiter or reducer as the maker states"),
        "the maker",
        "gate",
    ),
    may(
        "flow_limit",
        Quantity(Flow, "1 L/min", "5000 L/min"),
        to_say!("most it gives when run open"),
        "the maker",
        "gate",
    ),
    may(
        "relief",
        Quantity(Pressure, "0.5 bar", "40 bar"),
        "where its relief valve lifts",
        "the maker",
        "later: alarm orders",
    ),
];

const MOTOR: &[Field] = &[
    must("power", Quantity(Power, "0.1 kW", "250 kW"), "shaft power", "the plate", "paper"),
    must("voltage", Quantity(Voltage, "12 V", "1000 V"), "rated voltage", "the plate", "paper"),
    must(
        "voltage_from",
        Quantity(Voltage, "12 V", "1000 V"),
        to_say!("lowest voltage while it starts and runs"),
        "the maker",
        "gate",
    ),
    must("voltage_to", Quantity(Voltage, "12 V", "1000 V"), to_say!("highest voltage"), "the maker", "gate"),
    must("frequency", Quantity(Frequency, "16 Hz", "400 Hz"), "rated frequency", "the plate", "paper"),
    must(
        "frequency_from",
        Quantity(Frequency, "16 Hz", "400 Hz"),
        to_say!("lowest frequency"),
        "the maker",
        "gate",
    ),
    must(
        "frequency_to",
        Quantity(Frequency, "16 Hz", "400 Hz"),
        to_say!("highest frequency"),
        "the maker",
        "gate",
    ),
    must("current", Quantity(Current, "0.1 A", "500 A"), to_say!("full-load current"), "the plate", "gate"),
    must(
        "phases",
        Choice(&["one", "three"]),
        to_say!("phases", "; three have a direction of rotation"),
        "the plate",
        "gate",
    ),
    must(
        "starting",
        Choice(&["direct", "star_delta", "soft", "converter"]),
        "how it starts",
        "the plate",
        "paper",
    ),
    or(
        "start_ratio",
        Number("1", "12"),
        "8.5",
        to_say!(
            "starting current over full-load current, as it is started here",
            "; without a figure that of a direct start"
        ),
        "the plate; direct on line 5 to 8.5, from memory, the larger",
        "gate",
    ),
    or(
        "power_factor",
        Number("0.3", "1"),
        "1",
        to_say!("power factor under full load", "; 1, the worst for thin cables, where the plate says none"),
        "the plate",
        "gate",
    ),
    or(
        "start_power_factor",
        Number("0.1", "1"),
        "0.4",
        to_say!("power factor while starting"),
        "0.3 to 0.4, from memory; the worse for thin cables",
        "gate",
    ),
];

const CYLINDERS: &[Field] = &[
    must("id", Id, "id of the cylinder", "the owner", "engine"),
    must("name", Words, "what is painted on it", "the owner", "paper"),
    must("serial", Text, "serial number stamped on it", "the shoulder of the cylinder", "paper"),
    must(
        "volume",
        Quantity(Volume, "0.5 L", "150 L"),
        to_say!("water capacity"),
        "the shoulder of the cylinder",
        "gate",
    ),
    must(
        "fill_pressure",
        Quantity(Pressure, "50 bar", "350 bar"),
        to_say!("working pressure at 15 °C"),
        "the shoulder of the cylinder",
        "gate",
    ),
    must(
        "test_due",
        Date,
        to_say!("last good day of the periodic test"),
        "the shoulder of the cylinder",
        "gate",
    ),
    must(
        "composite",
        Bool,
        "wrapped with fibre: shorter interval, a life that ends",
        "the shoulder of the cylinder",
        "paper",
    ),
];

const FILTERS: &[Field] = &[
    must("id", Id, "id of the filter", "the owner", "engine"),
    must("name", Words, "what is written beside it", "the owner", "paper"),
    must(
        "kind",
        Choice(&["water_oil", "carbon", "dryer", "converter", "particles"]),
        "what it takes out",
        "the maker",
        "paper",
    ),
    must("life", Quantity(Duration, "1 h", "5000 h"), to_say!("running hours it lasts"), "the maker", "gate"),
    must("shelf", Span, to_say!("months it lasts once opened, whatever the hours"), "the maker", "gate"),
];

const WARNINGS: &[Field] = &[
    must("id", Id, "id of the warning", "the owner", "engine"),
    must("name", Words, "what it warns of, as people say it", "the owner", "paper"),
    must(
        "kind",
        Choice(&["low_supply", "low_reserve", "co", "temperature", "other"]),
        "what it warns of",
        "the maker",
        "later: alarm orders",
    ),
    must("trial", Words, to_say!("how it is made to sound for a trial"), "the maker", "gate"),
];

const SET_HOSES: &[Field] = &[
    must("id", Id, "id of the hose", "the owner", "engine"),
    must("name", Words, "where it runs", "the owner", "paper"),
    must("replace_by", Date, to_say!("last good day"), "the maker", "gate"),
];
