//! Fields of a job: what opening a permit asks, and one wearer of it.
//!
//! Always: a job is replaced whole, never in part. Persons are ids of the roster or of the site's
//! people. Not here: what is measured (answers), what the set can do (set file).

use super::{may, must, perhaps, worked_out};
use crate::site::Field;
use crate::site::Holds::{Bool, Choice, Date, Id, Items, Number, Quantity, Text, TimeOfDay, Words};
use crate::units::Dimension::{Duration, Flow, Length, Pressure};

const OPEN: &str = "whoever opens the permit";

/// Fields of a job. In a file the first key is `job: <short words>`; it is the field `what`.
pub static JOB: &[Field] = &[
    must("what", Words, "the work, in a few words; written as the first key `job:`", OPEN, "paper"),
    must("place", Id, "where the set stands, an id of site.places", OPEN, "engine"),
    must("supply_point", Id, "what feeds the set, an id of site.supply_points", OPEN, "engine"),
    must("until", TimeOfDay, "when the work ends: the next time the site's clock shows this", OPEN, "engine"),
    may("entry_permits", Items(ENTRY_PERMITS), "entry and work permits this work rests on", OPEN, "engine"),
    may("why_no_entry_permit", Words, "why there is none; one of the two must be given", OPEN, "engine"),
    must(
        "atmosphere",
        Choice(&["dangerous", "could_be", "unknown", "not"]),
        to_say!(
            "the air where they work, as the job has it",
            "; at once dangerous to life or health, could become so, not known, neither: all but `not` count as dangerous"
        ),
        "the entry permit",
        "gate",
    ),
    must(
        "zone",
        Choice(&["none", "zone_2", "zone_1", "zone_0", "zone_22", "zone_21", "zone_20", "unknown"]),
        to_say!("hazardous zone where the set stands"),
        "the site's zone drawing",
        "gate",
    ),
    may(
        "gas_group",
        Choice(&["iia", "iib", "iic", "unknown"]),
        to_say!("gas group there, in a gas zone"),
        "the site's zone drawing",
        "gate",
    ),
    may(
        "temperature_class",
        Choice(&["t1", "t2", "t3", "t4", "t5", "t6", "unknown"]),
        to_say!("temperature class there, in a gas zone"),
        "the site's zone drawing",
        "gate",
    ),
    must(
        "notice",
        Quantity(Duration, "0 s", "60 min"),
        "from the signal until every wearer has noticed",
        OPEN,
        "engine",
    ),
    must("make_safe", Quantity(Duration, "0 s", "60 min"), "to make the work safe to leave", OPEN, "engine"),
    must(
        "walk",
        Quantity(Duration, "0 s", "120 min"),
        "from the farthest point to clean air, slowest wearer",
        OPEN,
        "engine",
    ),
    must(
        "wash_down",
        Quantity(Duration, "0 s", "60 min"),
        "wash-down until the mask may come off",
        OPEN,
        "engine",
    ),
    worked_out(
        "way_out",
        Quantity(Duration, "0 s", "300 min"),
        to_say!("notice, make_safe, walk and wash_down together"),
        "gate",
    ),
    must("measured_how", Words, "how the way out was measured, by whom", OPEN, "paper"),
    must(
        "rescue_minutes",
        Quantity(Duration, "0 min", "120 min"),
        "from the call until rescuers reach a wearer",
        OPEN,
        "paper",
    ),
    must(
        "longest_spell",
        Quantity(Duration, "1 min", "12 h"),
        "longest time one wearer stays on air",
        OPEN,
        "later: watch over time on air",
    ),
    must("recall_signal", Words, "the signal that calls everyone out", OPEN, "paper"),
    must("rescue_number", Text, "whom to call, and how", OPEN, "paper"),
    must("assembly", Words, "where people gather", OPEN, "paper"),
    must("channel", Words, "radio channel or line between attendant, entry watch and wearers", OPEN, "paper"),
    must("holder", Id, "the operator who answers for the air", OPEN, "engine"),
    must("attendant", Id, "who stands at the set", OPEN, "engine"),
    must("entry_watch", Id, "who stands at the way in", OPEN, "engine"),
    must("rescuers", Items(RESCUERS), "who is ready to go in for somebody", OPEN, "engine"),
    must("wearers", Items(WEARER), "who goes on this air", OPEN, "engine"),
    may("consumers", Items(CONSUMERS), "tools, pots and pumps on the same air", OPEN, "engine"),
];

const ENTRY_PERMITS: &[Field] = &[
    must("id", Id, "id within this job", OPEN, "engine"),
    must("name", Words, "kind and number of the permit", OPEN, "paper"),
    must("until", TimeOfDay, "when it ends; this permit ends no later", OPEN, "engine"),
];

const RESCUERS: &[Field] = &[
    must("person", Id, "who", OPEN, "engine"),
    worked_out("name", Words, "their name", "paper"),
    may(
        "respirator",
        Id,
        "respirator kind, where they would come on this air: then they are counted in the demand",
        OPEN,
        "engine",
    ),
];

const CONSUMERS: &[Field] = &[
    must("id", Id, "id within this job", OPEN, "engine"),
    must("name", Words, "what it is", OPEN, "paper"),
    must(
        "flow",
        Quantity(Flow, "0 L/min", "20000 L/min"),
        "most free air it takes",
        "the maker of the tool",
        "engine",
    ),
];

/// Fields of one wearer of a job (`wearers.*` lists, `wearer.*` inside `each: wearer`).
pub static WEARER: &[Field] = &[
    must("person", Id, "who", OPEN, "engine"),
    must("respirator", Id, "an id of site.respirators", OPEN, "engine"),
    may("escape_set", Id, "an id of site.escape_sets", OPEN, "engine"),
    must("hose", Id, "an id of site.hoses", OPEN, "engine"),
    must("outlet", Id, "an id of set.outlets", OPEN, "engine"),
    worked_out("name", Words, "their name", "paper"),
    worked_out("respirator_name", Words, "name of the respirator", "paper"),
    worked_out("least", Quantity(Flow, "0 L/min", "1000 L/min"), to_say!("least flow it must get"), "gate"),
    worked_out("planned", Quantity(Flow, "0 L/min", "1000 L/min"), "flow at this work, shown only", "paper"),
    worked_out("most", Quantity(Flow, "0 L/min", "20000 L/min"), to_say!("most it can draw"), "gate"),
    worked_out(
        "pressure_from",
        Quantity(Pressure, "0.5 bar", "15 bar"),
        to_say!("lowest supply pressure"),
        "gate",
    ),
    worked_out(
        "pressure_to",
        Quantity(Pressure, "0.5 bar", "15 bar"),
        to_say!("highest supply pressure"),
        "gate",
    ),
    worked_out(
        "length_most",
        Quantity(Length, "1 m", "300 m"),
        to_say!("longest hose of the respirator"),
        "gate",
    ),
    worked_out("sections_most", Number("1", "20"), to_say!("most sections of the respirator"), "gate"),
    worked_out("face", Choice(&["full_face", "half_mask", "hood"]), to_say!("what covers the face"), "gate"),
    worked_out("positive_pressure", Bool, to_say!("inside always above outside"), "gate"),
    worked_out("hose_name", Words, "name of the hose", "paper"),
    worked_out("hose_length", Quantity(Length, "0.5 m", "300 m"), to_say!("length of the hose"), "gate"),
    worked_out("hose_sections", Number("1", "20"), to_say!("sections of the hose"), "gate"),
    worked_out("hose_bore", Quantity(Length, "3 mm", "50 mm"), to_say!("bore of the hose"), "gate"),
    worked_out("feeds", Choice(&["demand", "steady"]), "how the respirator is fed", "paper"),
    worked_out(
        "inlet_from",
        Quantity(Pressure, "0.2 bar", "15 bar"),
        to_say!("lowest pressure at its mask end"),
        "gate",
    ),
    worked_out("hose_replace_by", Date, to_say!("last good day of the hose"), "gate"),
    perhaps("escape_name", Words, "name of the escape set", "paper"),
    perhaps(
        "escape_minutes",
        Quantity(Duration, "1 min", "60 min"),
        to_say!("rated minutes of the escape set"),
        "gate",
    ),
    perhaps(
        "escape_least",
        Quantity(Pressure, "50 bar", "350 bar"),
        to_say!("reading at which the escape set counts as full"),
        "gate",
    ),
    perhaps(
        "escape_face",
        Choice(&["full_face", "half_mask", "hood"]),
        to_say!("what the escape set covers"),
        "gate",
    ),
    perhaps("escape_positive", Bool, to_say!("escape set: inside always above outside"), "gate"),
];
