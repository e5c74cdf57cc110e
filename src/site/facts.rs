//! Values as facts for a gate: what `set.reserve_minimum` or `set.cylinders.volume` is when it is judged.
//!
//! Always: a field that the file leaves out is unknown, with the reason in words, and never zero; items
//! out of service are left out of every list. Not here: answers to steps, dates of the register.

use super::values::{Held, Values};
use super::{Field, Holds};
use crate::gate::Fact;
use crate::tongue::say;

/// How values are told, and which items do not count.
pub struct Telling<'a> {
    /// What a gate calls the values: `set`, `site`, `job`, `item`, `last.filled`.
    pub root: &'a str,
    /// Language of texts.
    pub language: &'a str,
    /// True for an item (list, id) that is out of service.
    pub left_out: &'a dyn Fn(&str, &str) -> bool,
}

impl Values {
    /// The fact at a path below these values, `["cylinders", "volume"]`. `table` is their table.
    pub fn fact(&self, path: &[String], table: &'static [Field], telling: &Telling<'_>) -> Fact {
        self.at(path, 0, table, telling)
    }

    /// `path` from the root; what is before `from` was gone through.
    fn at(&self, path: &[String], from: usize, table: &'static [Field], telling: &Telling<'_>) -> Fact {
        let whole = || format!("{}.{}", telling.root, path.join("."));
        let Some(name) = path.get(from) else {
            return Fact::Unknown(say!("{name} is no single value", name = whole()));
        };
        let Some(field) = table.iter().find(|f| f.name == name) else {
            return Fact::Unknown(say!("there is no field {name}", name = whole()));
        };
        let last = from + 1 == path.len();
        match (self.get(name), field.holds) {
            (Some(Held::Items(items)), Holds::Items(inner)) => Fact::List(
                items
                    .iter()
                    .filter(|i| !(telling.left_out)(name, i.id()))
                    .map(|i| {
                        let called = i.named(telling.language);
                        // The list itself: its items are counted by what they are called.
                        let fact = if last {
                            Fact::Is {
                                value: crate::gate::Value::Text(i.id().to_owned()),
                                shown: called.clone(),
                                label: called.clone(),
                            }
                        } else {
                            i.at(path, from + 1, inner, telling)
                        };
                        (called, fact)
                    })
                    .collect(),
            ),
            (None, Holds::Items(_)) => Fact::List(Vec::new()),
            (Some(Held::Map(inner)), Holds::Map(fields)) => inner.at(path, from + 1, fields, telling),
            (Some(Held::Texts(texts)), _) => {
                let is = |t: &String| Fact::Is {
                    value: crate::gate::Value::Text(t.clone()),
                    shown: t.clone(),
                    label: t.clone(),
                };
                Fact::List(texts.iter().map(|t| (t.clone(), is(t))).collect())
            }
            (Some(Held::Choice(id)), _) => Fact::Is {
                value: crate::gate::Value::Choice(id.clone()),
                shown: crate::tongue::choice(id),
                label: label(field),
            },
            (Some(held), _) => match (held.value(), held.shown(telling.language)) {
                (Some(value), Some(shown)) => Fact::Is { value, shown, label: label(field) },
                (_, _) => Fact::Unknown(say!("{name} is no single value", name = whole())),
            },
            (None, _) => {
                let field = field_at(table, path.get(from..).unwrap_or_default()).unwrap_or(field);
                Fact::Unknown(say!("{label} is not given ({name})", label = label(field), name = whole()))
            }
        }
    }

    /// What people call an item: its name, else its id.
    pub fn named(&self, language: &str) -> String {
        self.words("name").map_or_else(|| self.id().to_owned(), |w| w.get(language).to_owned())
    }
}

/// What a field is, short: its description up to the first semicolon, in the language in force.
pub fn label(field: &Field) -> String {
    crate::tongue::word(field.doc.split(';').next().unwrap_or(field.doc).trim()).to_owned()
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
