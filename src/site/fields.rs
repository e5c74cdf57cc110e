//! The fields of set, site and job files and of a wearer, and what `last.KIND.FIELD` offers:
//! tables, no code. The reader of these files walks the tables; nothing else says what a file may hold.
//!
//! What always holds:
//! - The first key of a file says what it is: `set: <id>`, `site: <id>`, `job: <short words>`.
//!   The words after `job:` are the field `what`; there is no second key of that name in the file.
//! - A field of a nested map has a further dot in a gate (`set.motor.voltage_from`); a field of an
//!   item of a list is a list over the items in service (`set.cylinders.volume`).
//! - Every item of a list has `id` and `name`. Two lists are the exception: an item of `wearers` and
//!   of `rescuers` in a job is a person, its id is `person` and its `name` is looked up.
//! - Quantities are texts with a unit (`150 bar`), spans `3 months`, times of day `18:00`.
//! - Members whose value is worked out ([`LOOKED_UP`], [`SUMMED`]) stand in the tables as well, so
//!   that a gate can name them; a file that gives one is refused.
//! - `read_by` is honest: `gate` a shipped checklist names it, `engine` a rule in code rests on it,
//!   `paper` it is only shown, `later: ...` nothing reads it yet and what will.
//!
//! Sources: "common practice, no source" and "from memory" are said where they are true. Defaults
//! err to the safe side. Not here: reading, defaults filled in, cross-checks between files.

/// What a field is, where people at work read it in the reason of a gate; what follows a semicolon is for authors of files.
macro_rules! to_say {
    ($label:literal $(, $rest:literal)?) => {
        concat!($label $(, $rest)?)
    };
}

mod gear;
mod job;
mod last;
mod set;
mod site_file;
mod table;

pub use job::{JOB, WEARER};
pub use last::LAST;
pub use set::SET;
pub use site_file::SITE;
pub use table::tables;

use super::{Field, Holds, Need};

/// The `source` of a member that no file gives and that is nevertheless always there, so that a text
/// may show it although its `need` says that a file may leave it out.
pub const ALWAYS_WORKED_OUT: &str = "worked out, always there, never given in a file";

/// A member that no file gives: it is copied from the item of a site list that another member names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LookUp {
    /// The member that is filled, of a wearer or (where it exists there) a rescuer.
    pub member: &'static str,
    /// The member of the same item that holds the id to look for.
    pub by: &'static str,
    /// The list of the site file that holds the item.
    pub list: &'static str,
    /// The field of that item which is copied.
    pub field: &'static str,
}

/// A member of the job that is the sum of others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sum {
    /// The member that is filled.
    pub member: &'static str,
    /// Those added up.
    pub of: &'static [&'static str],
}

const fn up(member: &'static str, by: &'static str, list: &'static str, field: &'static str) -> LookUp {
    LookUp { member, by, list, field }
}

/// Members of a wearer that are looked up in the site file. A wearer without an escape set has no
/// `escape_*`: they are unknown, never zero. `name` of a person with a key comes from the roster
/// when the site's list of people does not have it.
pub static LOOKED_UP: &[LookUp] = &[
    up("name", "person", "people", "name"),
    up("respirator_name", "respirator", "respirators", "name"),
    up("least", "respirator", "respirators", "least"),
    up("planned", "respirator", "respirators", "planned"),
    up("most", "respirator", "respirators", "most"),
    up("pressure_from", "respirator", "respirators", "pressure_from"),
    up("pressure_to", "respirator", "respirators", "pressure_to"),
    up("length_most", "respirator", "respirators", "length_most"),
    up("sections_most", "respirator", "respirators", "sections_most"),
    up("face", "respirator", "respirators", "face"),
    up("positive_pressure", "respirator", "respirators", "positive_pressure"),
    up("hose_name", "hose", "hoses", "name"),
    up("hose_length", "hose", "hoses", "length"),
    up("hose_sections", "hose", "hoses", "sections"),
    up("hose_bore", "hose", "hoses", "bore"),
    up("feeds", "respirator", "respirators", "feeds"),
    up("inlet_from", "respirator", "respirators", "inlet_from"),
    up("hose_replace_by", "hose", "hoses", "replace_by"),
    up("escape_name", "escape_set", "escape_sets", "name"),
    up("escape_minutes", "escape_set", "escape_sets", "minutes"),
    up("escape_least", "escape_set", "escape_sets", "gauge_least"),
    up("escape_face", "escape_set", "escape_sets", "face"),
    up("escape_positive", "escape_set", "escape_sets", "positive_pressure"),
];

/// Members of a job that are sums. The way out is the four parts added, of the slowest wearer from
/// the farthest point.
pub static SUMMED: &[Sum] = &[Sum { member: "way_out", of: &["notice", "make_safe", "walk", "wash_down"] }];

/// A field that must be given.
const fn must(
    name: &'static str,
    holds: Holds,
    doc: &'static str,
    source: &'static str,
    read_by: &'static str,
) -> Field {
    Field { name, holds, need: Need::Required, doc, source, read_by }
}

/// A field that may be absent; what names it is then unknown.
const fn may(
    name: &'static str,
    holds: Holds,
    doc: &'static str,
    source: &'static str,
    read_by: &'static str,
) -> Field {
    Field { name, holds, need: Need::Optional, doc, source, read_by }
}

/// A field with a shown default.
const fn or(
    name: &'static str,
    holds: Holds,
    default: &'static str,
    doc: &'static str,
    source: &'static str,
    read_by: &'static str,
) -> Field {
    Field { name, holds, need: Need::Default(default), doc, source, read_by }
}

/// A member that is worked out, and is always there once the job has been; no file gives it.
const fn worked_out(name: &'static str, holds: Holds, doc: &'static str, read_by: &'static str) -> Field {
    Field { name, holds, need: Need::Optional, doc, source: ALWAYS_WORKED_OUT, read_by }
}

/// A member that is worked out where there is something to work it out from (an escape set).
const fn perhaps(name: &'static str, holds: Holds, doc: &'static str, read_by: &'static str) -> Field {
    Field {
        name,
        holds,
        need: Need::Optional,
        doc,
        source: "worked out where it is carried, never given in a file",
        read_by,
    }
}
