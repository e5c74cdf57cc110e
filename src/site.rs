//! Set, site and job files. CONTRACT: the field tables in `site/fields.rs` are data; the reader walks them.

pub mod fields;

use crate::units::Dimension;

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
