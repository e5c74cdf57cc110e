//! What a set, site or job file holds, typed.
//!
//! Always: values stand in the order of the table; a value is of the kind its field says and within the
//! field's range; a default is marked as one. Not here: reading (`read`), looking up one file's ids in
//! another (`work_out`).

use super::Field;
use crate::gate::Value;
use crate::text::nfc;
use crate::tongue::say;
use crate::units::{Decimal, Quantity, Unit, span_text};
use crate::words::Words;
use jiff::civil::{Date, Time};
use std::sync::Arc;

/// A typed value.
#[derive(Clone, Debug, PartialEq)]
pub enum Held {
    /// An id.
    Id(String),
    /// Words for people.
    Words(Words),
    /// Free text.
    Text(String),
    /// true or false
    Bool(bool),
    /// One of the field's words.
    Choice(String),
    /// A plain number.
    Number(Decimal),
    /// A quantity, as written and exact.
    Quantity(Written),
    /// A date.
    Date(Date),
    /// Whole months and days.
    Span {
        /// whole months
        months: i32,
        /// whole days
        days: i32,
    },
    /// A time of day, to the minute.
    TimeOfDay(Time),
    /// Items, in the order of the file, no id twice.
    Items(Vec<Values>),
    /// A nested group.
    Map(Values),
    /// Plain texts.
    Texts(Vec<String>),
}

/// A quantity with the number and unit it was written in.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// Exact, in the base unit.
    pub quantity: Quantity,
    /// As written.
    pub number: Decimal,
    /// As written.
    pub unit: Unit,
}

impl std::fmt::Display for Written {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.number, self.unit.symbol())
    }
}

/// One field with its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    pub(super) field: &'static Field,
    pub(super) held: Held,
    pub(super) default: bool,
}

impl Entry {
    /// The field.
    pub fn field(&self) -> &'static Field {
        self.field
    }

    /// The value.
    pub fn held(&self) -> &Held {
        &self.held
    }

    /// True if the file does not give it and the table's default stands for it.
    pub fn is_default(&self) -> bool {
        self.default
    }
}

/// The values of a file, a group or an item, in the order of the table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Values {
    /// Shared: they are handed on far more often than they change.
    pub(super) entries: Arc<Vec<Entry>>,
}

impl Values {
    /// Every field that has a value.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The field at a dotted path: `motor.voltage_from`. Paths do not go into lists; see
    /// [`Values::items`].
    pub fn entry(&self, path: &str) -> Option<&Entry> {
        let (first, rest) = match path.split_once('.') {
            Some((f, r)) => (f, Some(r)),
            None => (path, None),
        };
        let e = self.entries.iter().find(|e| e.field.name == first)?;
        match (rest, &e.held) {
            (None, _) => Some(e),
            (Some(rest), Held::Map(m)) => m.entry(rest),
            (Some(_), _) => None,
        }
    }

    /// The value at a dotted path.
    pub fn get(&self, path: &str) -> Option<&Held> {
        self.entry(path).map(|e| &e.held)
    }

    /// True if the value at a path is the table's default.
    pub fn is_default(&self, path: &str) -> bool {
        self.entry(path).is_some_and(|e| e.default)
    }

    /// A quantity.
    pub fn quantity(&self, path: &str) -> Option<&Quantity> {
        if let Held::Quantity(w) = self.get(path)? { Some(&w.quantity) } else { None }
    }

    /// A plain number.
    pub fn number(&self, path: &str) -> Option<&Decimal> {
        if let Held::Number(d) = self.get(path)? { Some(d) } else { None }
    }

    /// A date.
    pub fn date(&self, path: &str) -> Option<Date> {
        if let Held::Date(d) = self.get(path)? { Some(*d) } else { None }
    }

    /// A span, months and days.
    pub fn span(&self, path: &str) -> Option<(i32, i32)> {
        if let Held::Span { months, days } = self.get(path)? { Some((*months, *days)) } else { None }
    }

    /// A time of day.
    pub fn time(&self, path: &str) -> Option<Time> {
        if let Held::TimeOfDay(t) = self.get(path)? { Some(*t) } else { None }
    }

    /// A choice.
    pub fn choice(&self, path: &str) -> Option<&str> {
        if let Held::Choice(c) = self.get(path)? { Some(c) } else { None }
    }

    /// A text or an id; words in the file's own language.
    pub fn text(&self, path: &str) -> Option<&str> {
        match self.get(path)? {
            Held::Text(t) | Held::Id(t) => Some(t),
            Held::Words(w) => Some(w.own()),
            Held::Bool(_)
            | Held::Choice(_)
            | Held::Number(_)
            | Held::Quantity(_)
            | Held::Date(_)
            | Held::Span { .. }
            | Held::TimeOfDay(_)
            | Held::Items(_)
            | Held::Map(_)
            | Held::Texts(_) => None,
        }
    }

    /// Words.
    pub fn words(&self, path: &str) -> Option<&Words> {
        if let Held::Words(w) = self.get(path)? { Some(w) } else { None }
    }

    /// A truth value.
    pub fn truth(&self, path: &str) -> Option<bool> {
        if let Held::Bool(b) = self.get(path)? { Some(*b) } else { None }
    }

    /// The items of a list; none if the list is absent.
    pub fn items(&self, path: &str) -> &[Values] {
        if let Some(Held::Items(items)) = self.get(path) { items } else { &[] }
    }

    /// The item of a list with an id.
    pub fn item(&self, path: &str, id: &str) -> Option<&Values> {
        self.items(path).iter().find(|i| i.id() == id)
    }

    /// A nested group.
    pub fn map(&self, path: &str) -> Option<&Values> {
        if let Held::Map(m) = self.get(path)? { Some(m) } else { None }
    }

    /// Plain texts.
    pub fn texts(&self, path: &str) -> &[String] {
        if let Some(Held::Texts(t)) = self.get(path) { t } else { &[] }
    }

    /// The id of an item: its `id`, or its `person`; empty if it has neither.
    pub fn id(&self) -> &str {
        self.text("id").or_else(|| self.text("person")).unwrap_or_default()
    }

    /// The value at a path as a gate judges it, and as people see it. `None`: absent, or nothing that
    /// one value can stand for (a list, a group).
    pub fn judged(&self, path: &str, language: &str) -> Option<(Value, String)> {
        let held = self.get(path)?;
        Some((held.value()?, held.shown(language)?))
    }
}

impl Held {
    /// The value as a gate judges it; `None` for lists and groups.
    pub fn value(&self) -> Option<Value> {
        Some(match self {
            Held::Id(t) | Held::Text(t) => Value::Text(t.clone()),
            Held::Words(w) => Value::Text(w.own().to_owned()),
            Held::Bool(b) => Value::Bool(*b),
            Held::Choice(c) => Value::Choice(c.clone()),
            Held::Number(d) => Value::Quantity(Quantity::number(d.to_exact())),
            Held::Quantity(w) => Value::Quantity(w.quantity.clone()),
            Held::Date(d) => Value::Date(*d),
            Held::Span { months, days } => Value::Span { months: *months, days: *days },
            Held::TimeOfDay(_) => Value::Text(self.shown("")?),
            Held::Items(_) | Held::Map(_) | Held::Texts(_) => return None,
        })
    }

    /// The value as people see it, in the form it was written; `None` for lists and groups.
    pub fn shown(&self, language: &str) -> Option<String> {
        Some(match self {
            Held::Id(t) | Held::Text(t) | Held::Choice(t) => t.clone(),
            Held::Words(w) => w.get(language).to_owned(),
            Held::Bool(b) => if *b { say!("true") } else { say!("false") }.to_owned(),
            Held::Number(d) => d.to_string(),
            Held::Quantity(w) => w.to_string(),
            Held::Date(d) => d.to_string(),
            Held::Span { months, days } => span_text(*months, *days),
            Held::TimeOfDay(t) => format!("{:02}:{:02}", t.hour(), t.minute()),
            Held::Items(_) | Held::Map(_) | Held::Texts(_) => return None,
        })
    }
}

/// A value without its type, as the register keeps a job: texts, numbers as text with their unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Raw {
    /// A text: also numbers, dates, spans, quantities (`150 bar`).
    Text(String),
    /// true or false
    Bool(bool),
    /// A whole number.
    Int(i64),
    /// A list.
    List(Vec<Raw>),
    /// Names and values.
    Map(Vec<(String, Raw)>),
}

impl Values {
    /// The values as the register keeps them; defaults and what is worked out are left out, so that
    /// reading them again gives the same values.
    pub fn to_raw(&self) -> Vec<(String, Raw)> {
        let own = self.entries.iter().filter(|e| !e.default && !super::is_worked_out(e.field));
        own.map(|e| (e.field.name.to_owned(), raw(&e.held))).collect()
    }
}

fn raw(held: &Held) -> Raw {
    match held {
        Held::Bool(b) => Raw::Bool(*b),
        Held::Items(items) => Raw::List(items.iter().map(|i| Raw::Map(i.to_raw())).collect()),
        Held::Map(m) => Raw::Map(m.to_raw()),
        Held::Texts(t) => Raw::List(t.iter().map(|t| Raw::Text(nfc(t).into_owned())).collect()),
        Held::Words(w) => match w.texts() {
            [(language, text)] if language == crate::words::DEFAULT_LANGUAGE => Raw::Text(text.clone()),
            texts => Raw::Map(texts.iter().map(|(l, t)| (l.clone(), Raw::Text(t.clone()))).collect()),
        },
        Held::Id(_)
        | Held::Text(_)
        | Held::Choice(_)
        | Held::Number(_)
        | Held::Quantity(_)
        | Held::Date(_)
        | Held::Span { .. }
        | Held::TimeOfDay(_) => Raw::Text(held.shown("").unwrap_or_default()),
    }
}
