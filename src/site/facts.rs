//! Values as facts for a gate: what `set.reserve_minimum` or `set.cylinders.volume` is when it is judged.
//!
//! Always: a field that the file leaves out is unknown, with the reason in words, and never zero; items
//! out of service are left out of every list. Not here: answers to steps, dates of the register.

use super::values::{Held, Values};
use super::{Field, Holds};
use crate::gate::Fact;

/// How values are told, and which items do not count.
pub struct Telling<'a> {
    /// What holds the values, for reasons: `the set file`.
    pub holder: &'a str,
    /// Language of texts.
    pub language: &'a str,
    /// True for an item (list, id) that is out of service.
    pub left_out: &'a dyn Fn(&str, &str) -> bool,
}

impl Values {
    /// The fact at a path below these values, `["cylinders", "volume"]`. `table` is their table.
    pub fn fact(&self, path: &[String], table: &'static [Field], telling: &Telling<'_>) -> Fact {
        let Some((name, rest)) = path.split_first() else {
            return Fact::Unknown("no field is named".to_owned());
        };
        let Some(field) = table.iter().find(|f| f.name == name) else {
            return Fact::Unknown(format!("{} has no field {name}", telling.holder));
        };
        match (self.get(name), field.holds) {
            (Some(Held::Items(items)), Holds::Items(inner)) => Fact::List(
                items
                    .iter()
                    .filter(|i| !(telling.left_out)(name, i.id()))
                    .map(|i| (i.named(telling.language), i.item_fact(rest, inner, telling)))
                    .collect(),
            ),
            (None, Holds::Items(_)) => Fact::List(Vec::new()),
            (Some(Held::Map(inner)), Holds::Map(fields)) => inner.fact(rest, fields, telling),
            (Some(Held::Texts(texts)), _) => Fact::List(
                texts.iter().map(|t| (t.clone(), is(&Held::Text(t.clone()), field, telling))).collect(),
            ),
            (Some(held), _) => is(held, field, telling),
            (None, _) => Fact::Unknown(format!("{} does not give {name} ({})", telling.holder, label(field))),
        }
    }

    fn item_fact(&self, path: &[String], table: &'static [Field], telling: &Telling<'_>) -> Fact {
        if path.is_empty() {
            // The list itself: its items are counted by what they are called.
            let shown = self.named(telling.language);
            return Fact::Is {
                value: crate::gate::Value::Text(self.id().to_owned()),
                shown: shown.clone(),
                label: shown,
            };
        }
        self.fact(path, table, telling)
    }

    /// What people call an item: its name, else its id.
    pub fn named(&self, language: &str) -> String {
        self.words("name").map_or_else(|| self.id().to_owned(), |w| w.get(language).to_owned())
    }
}

fn is(held: &Held, field: &Field, telling: &Telling<'_>) -> Fact {
    match (held.value(), held.shown(telling.language)) {
        (Some(value), Some(shown)) => Fact::Is { value, shown, label: label(field) },
        (_, _) => Fact::Unknown(format!("{} is no single value", field.name)),
    }
}

/// What a field is, short: its description up to the first semicolon.
pub fn label(field: &Field) -> String {
    field.doc.split(';').next().unwrap_or(field.doc).trim().to_owned()
}

/// The field at a path below a table, through groups and lists; for labels.
pub fn field_at(table: &'static [Field], path: &[String]) -> Option<&'static Field> {
    let (name, rest) = path.split_first()?;
    let field = table.iter().find(|f| f.name == name)?;
    match field.holds {
        _ if rest.is_empty() => Some(field),
        Holds::Map(inner) | Holds::Items(inner) => field_at(inner, rest),
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
        | Holds::Texts => None,
    }
}
