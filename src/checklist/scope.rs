//! The names a gate, a `when`, a `derived` or a text may use where it stands, with their types.
//!
//! In: the field tables (`site::fields`) and the steps read so far. Always: a step is known only to
//! itself and to what stands after it, so that no step waits for itself; a step that may be not
//! applicable where another applies is marked conditional.

use super::each::Each;
use crate::gate::{Gate, Known, Missed, Name, Scope, Type};
use crate::site::{Field, Holds, Need, fields};
use crate::text::{listed, nearest};
use crate::tongue::say;
use crate::units::{Decimal, Dimension, Quantity};
use crate::words::Names;
use std::collections::HashMap;

/// The tables names are looked up in.
#[derive(Clone, Copy, Debug)]
pub struct Tables {
    /// `set.*`
    pub set: &'static [Field],
    /// `site.*`
    pub site: &'static [Field],
    /// `job.*`
    pub job: &'static [Field],
    /// `wearer.*`, `wearers.*`
    pub wearer: &'static [Field],
    /// `last.KIND.*`
    pub last: &'static [(&'static str, &'static [Field])],
}

/// The program's own tables.
pub static TABLES: Tables = Tables {
    set: fields::SET,
    site: fields::SITE,
    job: fields::JOB,
    wearer: fields::WEARER,
    last: fields::LAST,
};

impl Tables {
    /// The fields of one item of a list that a step can be asked for each of.
    pub fn items(&self, each: &Each) -> Option<&'static [Field]> {
        let table = match each {
            Each::Set(_) => self.set,
            Each::Site(_) => self.site,
            Each::Job(_) => self.job,
            Each::Wearer => return Some(self.wearer),
        };
        field(table, each.list())?.holds.items()
    }

    fn root(&self, word: &str) -> Option<&'static [Field]> {
        match word {
            "set" => Some(self.set),
            "site" => Some(self.site),
            "job" => Some(self.job),
            _ => None,
        }
    }
}

fn field(table: &'static [Field], name: &str) -> Option<&'static Field> {
    table.iter().find(|f| f.name == name)
}

/// A step as others see it.
#[derive(Clone, Debug)]
pub(super) struct StepName {
    pub id: String,
    pub line: u32,
    /// `None`: it has mistakes of its own.
    pub ty: Option<Type>,
    /// The least and the largest answer, where they are known.
    pub range: Option<(Quantity, Quantity)>,
    pub each: Option<Each>,
    /// The conditions of its stage and its own; `None` where one has mistakes.
    pub whens: Vec<Option<Gate>>,
}

/// Steps in their order, found by their ids.
#[derive(Default)]
pub(super) struct Before {
    steps: Vec<StepName>,
    places: HashMap<String, usize>,
}

impl Before {
    /// Adds one; of two with one id the first is found.
    pub fn push(&mut self, step: StepName) {
        self.places.entry(step.id.clone()).or_insert(self.steps.len());
        self.steps.push(step);
    }

    /// The step with this id.
    pub fn find(&self, id: &str) -> Option<&StepName> {
        self.steps.get(*self.places.get(id)?)
    }

    /// All of them.
    pub fn iter(&self) -> std::slice::Iter<'_, StepName> {
        self.steps.iter()
    }
}

/// What is in sight where an expression stands.
pub(super) struct Here<'a> {
    pub tables: &'a Tables,
    /// Steps before this one.
    pub before: &'a Before,
    /// Ids of all steps of the file, with their lines.
    pub all: &'a [(String, u32)],
    /// The step itself, where its gate may name it.
    pub own: Option<&'a StepName>,
    /// Where this step is asked for each of something.
    pub each: Option<&'a Each>,
    /// The conditions under which this expression is judged.
    pub whens: &'a [Option<Gate>],
}

const ROOTS: [&str; 8] = ["set", "site", "job", "item", "wearer", "wearers", "permit", "last"];

impl Scope for Here<'_> {
    fn look_up(&self, name: &Name) -> Result<Known, Missed> {
        let parts: Vec<&str> = name.iter().map(String::as_str).collect();
        match parts.as_slice() {
            ["today"] => Ok(known(Type::Date)),
            [one] if ROOTS.contains(one) => {
                Err(Missed::NotHere(say!("`{one}` alone is no value; name a field of it, `{one}.NAME`", one)))
            }
            [id] => self.step(id),
            ["permit", rest @ ..] => match rest {
                ["valid_from" | "valid_to"] => Ok(known(Type::Date)),
                ["hours"] => Ok(known(Type::Quantity(Dimension::Duration))),
                _ => Err(missed("permit.", &rest.join("."), ["valid_from", "valid_to", "hours"])),
            },
            ["item", rest @ ..] => match self.each {
                Some(each @ (Each::Set(_) | Each::Site(_) | Each::Job(_))) => {
                    let fields = self.tables.items(each).unwrap_or_default();
                    in_fields(&each.to_string(), "item.", fields, rest)
                }
                Some(Each::Wearer) => Err(Missed::NotHere(
                    say!("inside `each: wearer` the name is `wearer`, not `item`").into(),
                )),
                None => Err(Missed::NotHere(say!("`item` stands only in a step with `each`").into())),
            },
            ["wearer", rest @ ..] => match self.each {
                Some(Each::Wearer) => in_fields("wearers", "wearer.", self.tables.wearer, rest),
                Some(Each::Set(_) | Each::Site(_) | Each::Job(_)) | None => Err(Missed::NotHere(
                    say!("`wearer` stands only in a step with `each: wearer`; `wearers` names all of them")
                        .into(),
                )),
            },
            ["wearers", rest @ ..] => {
                let one = in_fields("wearers", "wearers.", self.tables.wearer, rest)?;
                Ok(as_list(one, "wearers"))
            }
            ["last", rest @ ..] => {
                let kinds = self.tables.last;
                match rest {
                    [kind, rest @ ..] => match kinds.iter().find(|(k, _)| k == kind) {
                        Some((_, fields)) => {
                            in_fields(&format!("last.{kind}"), &format!("last.{kind}."), fields, rest)
                        }
                        None => Err(missed("last.", kind, kinds.iter().map(|(k, _)| *k))),
                    },
                    [] => Err(Missed::NotHere(say!("write last.KIND.FIELD").into())),
                }
            }
            [root, rest @ ..] => match self.tables.root(root) {
                Some(table) => in_fields(root, &format!("{root}."), table, rest),
                None => {
                    let roots = ROOTS.iter().copied().chain(self.all.iter().map(|(id, _)| id.as_str()));
                    Err(Missed::NoSuchName { nearest: nearest(root, roots).map(str::to_owned) })
                }
            },
            [] => Err(Missed::NoSuchName { nearest: None }),
        }
    }
}

impl Here<'_> {
    /// The least and the largest value a name may have: an instrument's limits, a field's range. For
    /// the name of a list those of one item.
    pub fn range(&self, name: &Name) -> Option<(Quantity, Quantity)> {
        let parts: Vec<&str> = name.iter().map(String::as_str).collect();
        let (table, path) = match parts.as_slice() {
            [id] => {
                let own = self.own.filter(|o| o.id == *id);
                return own.or_else(|| self.before.find(id))?.range.clone();
            }
            ["item", rest @ ..] => (self.tables.items(self.each?)?, rest),
            // Tools on the same air stand in these lists with their flow.
            ["wearers", member @ ("least" | "planned" | "most")] => {
                let own = range(self.tables.wearer, &[*member]);
                return match range(self.tables.job, &["consumers", "flow"]) {
                    Some(tool) => own.and_then(|o| hull(&o, &tool)),
                    None => own,
                };
            }
            ["wearer" | "wearers", rest @ ..] => (self.tables.wearer, rest),
            ["last", kind, rest @ ..] => {
                let (_, t) = self.tables.last.iter().find(|(k, _)| k == kind)?;
                (*t, rest)
            }
            [root, rest @ ..] => (self.tables.root(root)?, rest),
            [] => return None,
        };
        range(table, path)
    }

    fn step(&self, id: &str) -> Result<Known, Missed> {
        if let Some(own) = self.own.filter(|o| o.id == id) {
            return typed(own).map(known);
        }
        if let Some(s) = self.before.find(id) {
            let mut k = known(typed(s)?);
            // A condition with mistakes is told where it stands; nothing more is made of it here.
            let mine: Vec<&Gate> = self.whens.iter().flatten().collect();
            k.conditional = self.whens.iter().all(Option::is_some)
                && !s.whens.iter().flatten().all(|w| w.follows_from(&mine));
            if let Some(each) = &s.each {
                k = as_list(k, each.list());
            }
            return Ok(k);
        }
        if let Some((_, line)) = self.all.iter().find(|(a, _)| a == id) {
            return Err(Missed::NotHere(say!(
                "the step `{id}` (line {line}) is not answered before this is judged; only earlier steps can be named here",
                id,
                line
            )));
        }
        let names =
            self.before.iter().map(|s| s.id.as_str()).chain(self.own.map(|o| o.id.as_str())).chain(["today"]);
        // A field written without its file is the likeliest slip.
        let meant = nearest(id, names).map(str::to_owned).or_else(|| {
            [("set", self.tables.set), ("site", self.tables.site), ("job", self.tables.job)]
                .into_iter()
                .find(|(_, t)| field(t, id).is_some())
                .map(|(root, _)| format!("{root}.{id}"))
        });
        Err(Missed::NoSuchName { nearest: meant })
    }
}

fn typed(s: &StepName) -> Result<Type, Missed> {
    s.ty.clone().ok_or_else(|| {
        Missed::NotHere(say!(
            "the step `{step}` (line {line}) has mistakes of its own",
            step = s.id,
            line = s.line
        ))
    })
}

fn known(ty: Type) -> Known {
    Known { ty, conditional: false, over: None }
}

fn as_list(mut k: Known, over: &str) -> Known {
    k.ty = Type::List(Box::new(k.ty));
    k.over = Some(over.to_owned());
    k
}

fn missed<'a>(prefix: &str, written: &str, names: impl IntoIterator<Item = &'a str>) -> Missed {
    Missed::NoSuchName { nearest: nearest(written, names).map(|n| format!("{prefix}{n}")) }
}

/// Looks a path up in a table; `of` names what holds the choices, `prefix` is what was written before.
fn in_fields(of: &str, prefix: &str, table: &'static [Field], path: &[&str]) -> Result<Known, Missed> {
    let [name, rest @ ..] = path else {
        return Err(Missed::NotHere(say!(
            "`{group}` is a group; name one of its fields",
            group = prefix.trim_end_matches('.')
        )));
    };
    let Some(f) = field(table, name) else {
        return Err(missed(prefix, name, table.iter().map(|f| f.name)));
    };
    let of = format!("{of}.{name}");
    let dotted = format!("{prefix}{name}.");
    match (f.holds, rest) {
        (Holds::Map(fields), rest) => {
            if rest.is_empty() {
                let names: Vec<&str> = fields.iter().map(|f| f.name).collect();
                return Err(Missed::NotHere(say!(
                    "`{prefix}{name}` is a group; name one of {names}",
                    prefix,
                    name,
                    names = listed(&names, say!("or"))
                )));
            }
            in_fields(&of, &dotted, fields, rest)
        }
        (Holds::Items(_), []) => Ok(as_list(known(Type::Text), name)),
        (Holds::Items(fields), rest) => Ok(as_list(in_fields(&of, &dotted, fields, rest)?, name)),
        (_, [_, ..]) => Err(Missed::NotHere(say!("`{prefix}{name}` has no fields", prefix, name))),
        (Holds::Texts, []) => Ok(as_list(known(Type::Text), name)),
        (Holds::Id | Holds::Words | Holds::Text | Holds::TimeOfDay, []) => Ok(known(Type::Text)),
        (Holds::Bool, []) => Ok(known(Type::Bool)),
        (Holds::Choice(offered), []) => {
            Ok(known(Type::Choice { of, offered: offered.iter().map(|c| (*c).to_owned()).collect() }))
        }
        (Holds::Number(..), []) => Ok(known(Type::Quantity(Dimension::Number))),
        (Holds::Quantity(d, ..), []) => Ok(known(Type::Quantity(d))),
        (Holds::Date, []) => Ok(known(Type::Date)),
        (Holds::Span, []) => Ok(known(Type::Span)),
    }
}

/// From the lesser of the least to the greater of the largest; `None`: not of one kind.
fn hull(a: &(Quantity, Quantity), b: &(Quantity, Quantity)) -> Option<(Quantity, Quantity)> {
    let low = if b.0.compare(&a.0)?.is_lt() { &b.0 } else { &a.0 };
    let high = if b.1.compare(&a.1)?.is_gt() { &b.1 } else { &a.1 };
    Some((low.clone(), high.clone()))
}

fn range(table: &'static [Field], path: &[&str]) -> Option<(Quantity, Quantity)> {
    let [name, rest @ ..] = path else {
        return None;
    };
    match field(table, name)?.holds {
        Holds::Quantity(_, from, to) if rest.is_empty() => {
            Some((Quantity::read(from).ok()?, Quantity::read(to).ok()?))
        }
        Holds::Number(from, to) if rest.is_empty() => {
            let number = |t| Decimal::kept(t).ok().map(|d| Quantity::number(d.to_exact()));
            Some((number(from)?, number(to)?))
        }
        Holds::Map(t) | Holds::Items(t) => range(t, rest),
        Holds::Quantity(..)
        | Holds::Number(..)
        | Holds::Id
        | Holds::Words
        | Holds::Text
        | Holds::Bool
        | Holds::Choice(_)
        | Holds::Date
        | Holds::Span
        | Holds::TimeOfDay
        | Holds::Texts => None,
    }
}

/// The names of texts: fields that always have a value where the text is shown, and no answers.
impl Names for Here<'_> {
    fn can_show(&self, name: &str) -> Result<(), (String, Option<String>)> {
        let path: Vec<&str> = name.split('.').collect();
        let (table, rest) = match path.as_slice() {
            ["permit", "valid_from" | "valid_to" | "hours"] | ["today"] => return Ok(()),
            ["item", rest @ ..] => match self.each {
                Some(each @ (Each::Set(_) | Each::Site(_) | Each::Job(_))) => {
                    (self.tables.items(each).unwrap_or_default(), rest)
                }
                Some(Each::Wearer) | None => {
                    return Err((
                        say!("`item` can be shown only in a step with `each` over a list").into(),
                        None,
                    ));
                }
            },
            ["wearer", rest @ ..] => match self.each {
                Some(Each::Wearer) => (self.tables.wearer, rest),
                Some(Each::Set(_) | Each::Site(_) | Each::Job(_)) | None => {
                    return Err((
                        say!("`wearer` can be shown only in a step with `each: wearer`").into(),
                        None,
                    ));
                }
            },
            [root, rest @ ..] => match self.tables.root(root) {
                Some(t) => (t, rest),
                None => {
                    let meant = nearest(root, ["item", "wearer", "set", "site", "job", "permit", "today"]);
                    let what = if self.all.iter().any(|(id, _)| id == root) {
                        say!("an answer is not shown in words: `{name}`", name)
                    } else {
                        say!("nothing of this name can be shown: `{name}`", name)
                    };
                    return Err((what, meant.map(str::to_owned)));
                }
            },
            [] => return Err((say!("a name is missing").into(), None)),
        };
        showable(table, name, rest)
    }
}

fn showable(table: &'static [Field], name: &str, path: &[&str]) -> Result<(), (String, Option<String>)> {
    let [first, rest @ ..] = path else {
        return Err((say!("`{name}` is a group; name one of its fields", name), None));
    };
    let Some(f) = field(table, first) else {
        let before = name.strip_suffix(&path.join(".")).unwrap_or_default();
        let meant = nearest(first, table.iter().map(|f| f.name)).map(|n| format!("{before}{n}"));
        return Err((say!("there is no `{name}`", name), meant));
    };
    if f.need == Need::Optional && f.source != fields::ALWAYS_WORKED_OUT {
        return Err((say!("`{name}` may be absent, and then the text could not be shown", name), None));
    }
    match f.holds {
        Holds::Map(fields) => showable(fields, name, rest),
        Holds::Items(_) | Holds::Texts => {
            Err((say!("`{name}` is a list; a text shows one value", name), None))
        }
        Holds::Id
        | Holds::Words
        | Holds::Text
        | Holds::Bool
        | Holds::Choice(_)
        | Holds::Number(..)
        | Holds::Quantity(..)
        | Holds::Date
        | Holds::Span
        | Holds::TimeOfDay => {
            if rest.is_empty() {
                Ok(())
            } else {
                Err((say!("there is no `{name}`", name), None))
            }
        }
    }
}
