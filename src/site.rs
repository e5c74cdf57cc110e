//! Set, site and job files: tables of fields, one reader that walks them, typed values.
//!
//! In: the bytes of a file, or a job as the register keeps it. Out: [`Values`], or every finding at once.
//! Always: what a file may hold stands in the tables of [`fields`] and nowhere else; a default is marked
//! as one. Not here: what the values mean (`checklist`, `permit`), items out of service (answers).

mod cross;
mod facts;
pub mod fields;
mod plate;
mod read;
#[cfg(test)]
mod tests;
pub mod together;
mod unseen;
mod values;
mod work_out;

pub use facts::{Telling, field_at, label};
pub use read::{read_job, read_set, read_site};
pub use values::{Entry, Held, Raw, Values, Written};

use crate::finding::Finding;
use crate::source::Source;
use crate::units::Dimension;
use crate::words::Words;

/// Which of the three kinds of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// What the plate and the maker say of one set.
    Set,
    /// What one site decides.
    Site,
    /// What a permit is opened for.
    Job,
}

impl Kind {
    /// The first key of such a file: `set`, `site`, `job`.
    pub fn as_str(self) -> &'static str {
        match self {
            Kind::Set => "set",
            Kind::Site => "site",
            Kind::Job => "job",
        }
    }
}

/// A file that was read and found good.
#[derive(Clone, Debug, PartialEq)]
pub struct File {
    kind: Kind,
    values: Values,
    text: String,
    sha256: String,
}

impl File {
    fn new(kind: Kind, values: Values, source: &Source) -> Self {
        File { kind, values, text: source.text().to_owned(), sha256: source.sha256().to_owned() }
    }

    /// Which kind.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Its values.
    pub fn values(&self) -> &Values {
        &self.values
    }

    /// The id of the set or site; empty for a job, which has none.
    pub fn id(&self) -> &str {
        match self.kind {
            Kind::Set | Kind::Site => self.values.text(self.kind.as_str()).unwrap_or_default(),
            Kind::Job => "",
        }
    }

    /// The name of the set or site; of a job what the work is.
    pub fn name(&self) -> Option<&Words> {
        self.values.words(match self.kind {
            Kind::Set | Kind::Site => "name",
            Kind::Job => "what",
        })
    }

    /// The text of the file, byte for byte.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the file, 64 lower-case hex digits.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }
}

/// What came of reading a file.
#[derive(Clone, Debug)]
pub struct Read {
    /// The file; `None` if and only if an error is among the findings.
    pub file: Option<File>,
    /// Everything found, by place.
    pub findings: Vec<Finding>,
}

/// True for a field that is worked out from others: gates may name it, no file gives it.
pub fn is_worked_out(field: &Field) -> bool {
    field.source.starts_with("worked out")
}

/// What a field holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// `[a-z][a-z0-9-]{0,31}`
    Id,
    /// Words for people: a string or a map of languages.
    Words,
    /// Free text, one line (serial numbers, phone numbers).
    Text,
    /// true or false (YAML `true`/`false` only).
    Bool,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A plain number, at most 6 decimals: from, to inclusive as decimal text.
    Number(&'static str, &'static str),
    /// A quantity written as text with unit, `150 bar`; dimension; from and to inclusive, written the same way.
    Quantity(Dimension, &'static str, &'static str),
    /// A date `2026-11-25`.
    Date,
    /// A span `3 months`, `10 days`.
    Span,
    /// A time of day `18:00`.
    TimeOfDay,
    /// A list of items, each with these fields; each item has at least `id` and `name`.
    Items(&'static [Field]),
    /// A nested map with these fields (named in gates with further dots).
    Map(&'static [Field]),
    /// A list of plain texts.
    Texts,
}

impl Holds {
    /// The fields of an item, where it is a list of items.
    pub fn items(self) -> Option<&'static [Field]> {
        match self {
            Holds::Items(fields) => Some(fields),
            Holds::Id
            | Holds::Words
            | Holds::Text
            | Holds::Bool
            | Holds::Choice(_)
            | Holds::Number(..)
            | Holds::Quantity(..)
            | Holds::Date
            | Holds::Span
            | Holds::TimeOfDay
            | Holds::Map(_)
            | Holds::Texts => None,
        }
    }
}

/// Whether a field must be given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Must stand in the file.
    Required,
    /// May be absent; gates that name it are then unknown.
    Optional,
    /// Absent means this text (parsed like the file's own), shown as a default.
    Default(&'static str),
}

/// One field of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// Key, `[a-z][a-z0-9_]{0,47}`.
    pub name: &'static str,
    /// What it holds.
    pub holds: Holds,
    /// Required, optional or defaulted.
    pub need: Need,
    /// What it is, for people and for DEVELOPERS.md: one phrase.
    pub doc: &'static str,
    /// Where the default or the range comes from; `common practice, no source`, `the plate`, `the maker`, a regulation.
    pub source: &'static str,
    /// Who reads it: `gate` (a shipped checklist names it), `engine`, `paper`, or `later` with what for.
    pub read_by: &'static str,
}
