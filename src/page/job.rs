//! A job as a form: fields from the table that job files are read by, lists from the texts in force, and back to a job file.
//!
//! Always: what comes back is read by the reader of job files, which finds what is wrong and says where. Decides nothing.

use super::form::Form;
use crate::permit::bench::file;
use crate::permit::decide::Known;
use crate::record::json::Json;
use crate::site::fields::JOB;
use crate::site::{Field, Holds, Need, Values, is_worked_out};
use crate::tongue::translated;
use crate::trust::Role;
use serde::Serialize;
use std::rc::Rc;

/// One field of the form.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Name in the form.
    pub name: String,
    /// What it is called.
    pub label: String,
    /// What it is, in a phrase.
    pub doc: String,
    /// As it stands.
    pub value: String,
    /// It must be given.
    pub must: bool,
    /// What may be chosen; empty where it is typed.
    pub options: Vec<(String, String)>,
    /// What is typed there, like `4 min`.
    pub like: String,
    /// What was found wrong with it.
    pub wrong: String,
}

/// A list of the form: wearers, rescuers, permits, consumers.
#[derive(Clone, Debug, Serialize)]
pub struct Group {
    /// Title.
    pub title: String,
    /// What it is.
    pub doc: String,
    /// Each item's fields.
    pub items: Vec<Vec<Row>>,
}

/// The form.
#[derive(Clone, Debug, Serialize)]
pub struct Sheet {
    /// Fields that stand alone, before the lists.
    pub rows: Vec<Row>,
    /// Lists.
    pub groups: Vec<Group>,
}

/// So many empty items are offered of each list.
const OFFERED: &[(&str, usize)] = &[("wearers", 4), ("rescuers", 3), ("entry_permits", 3), ("consumers", 1)];

/// What a set and a site offer.
pub struct Offers<'a> {
    known: &'a Known<'a>,
    set: Option<Rc<Values>>,
    site: Option<Rc<Values>>,
}

/// The name of a field as a label, in English: the key to it in other languages.
fn plain(name: &str) -> String {
    let words = if name == "what" { "the work".to_owned() } else { name.replace('_', " ") };
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// What a field is, without what only a file needs to be told; in English.
fn for_people(doc: &str) -> String {
    let end = ["; written as", "an id of "].iter().filter_map(|w| doc.find(w)).min().unwrap_or(doc.len());
    doc.get(..end).unwrap_or(doc).trim_end_matches([' ', ',']).to_owned()
}

fn spoken(english: String) -> String {
    translated(&english).map_or(english, str::to_owned)
}

/// Labels of the form and what stands beside them, in English, for the tables of the languages.
pub fn words() -> Vec<String> {
    let lists = JOB.iter().filter_map(|f| f.holds.items());
    let of_lists = lists.flatten().filter(|f| f.name != "id");
    let asked = JOB.iter().chain(of_lists).filter(|f| !is_worked_out(f));
    let both = asked.flat_map(|f| [plain(f.name), for_people(f.doc)]);
    both.filter(|words| !words.is_empty()).collect()
}

/// What a field of the form is called where something is said of it: `wearers.0.hose` as "Wearers 1, Hose".
pub fn called(name: &str) -> String {
    let parts = name.split('.').filter(|p| !p.is_empty());
    let mut out = String::new();
    for part in parts {
        match part.parse::<usize>() {
            Ok(n) => out += &format!(" {}", n + 1),
            Err(_) if out.is_empty() => out = spoken(plain(part)),
            Err(_) => out += &format!(", {}", spoken(plain(part))),
        }
    }
    out
}

/// The text in force of a kind: of this id, or the only one.
pub fn in_force(known: &Known<'_>, kind: &str, id: &str) -> Option<(String, String)> {
    let all = known.chain.texts.iter().filter(|((k, i), _)| k == kind && (id.is_empty() || i == id));
    let mut all = all.map(|((_, i), t)| (i.clone(), t.text.clone()));
    all.next()
}

impl<'a> Offers<'a> {
    /// Of a set; the site is the one in force.
    pub fn of(known: &'a Known<'a>, set: &str) -> Offers<'a> {
        let values = |kind: &str, id: &str| file(kind, &in_force(known, kind, id)?.1).ok();
        Offers { known, set: values("set", set), site: values("site", "") }
    }

    fn listed(values: Option<&Values>, list: &str) -> Vec<(String, String)> {
        let Some(values) = values else { return Vec::new() };
        let name = |v: &Values| v.words("name").map_or_else(|| v.id().to_owned(), |w| w.own().to_owned());
        values.items(list).iter().map(|v| (v.id().to_owned(), name(v))).collect()
    }

    /// People of the roster in a role; in any, those of the site too.
    pub fn people(&self, role: Option<Role>) -> Vec<(String, String)> {
        let of_roster = self.known.chain.origin.roster.persons.iter();
        let of_roster = of_roster.filter(|p| role.is_none_or(|r| p.roles.contains(&r)));
        let mut out: Vec<(String, String)> = of_roster.map(|p| (p.id.clone(), p.name.clone())).collect();
        if role.is_none() {
            let known: Vec<String> = out.iter().map(|(id, _)| id.clone()).collect();
            let more = Offers::listed(self.site.as_deref(), "people").into_iter();
            out.extend(more.filter(|(id, _)| !known.contains(id)));
        }
        out
    }

    fn options(&self, name: &str) -> Vec<(String, String)> {
        match name {
            "place" => Offers::listed(self.site.as_deref(), "places"),
            "supply_point" => Offers::listed(self.site.as_deref(), "supply_points"),
            "respirator" => Offers::listed(self.site.as_deref(), "respirators"),
            "hose" => Offers::listed(self.site.as_deref(), "hoses"),
            "escape_set" => Offers::listed(self.site.as_deref(), "escape_sets"),
            "outlet" => Offers::listed(self.set.as_deref(), "outlets"),
            "holder" => self.people(Some(Role::Operator)),
            "attendant" | "entry_watch" | "person" => self.people(None),
            _ => Vec::new(),
        }
    }

    fn row(&self, field: &Field, before: &str, value: String) -> Row {
        let (options, like) = match field.holds {
            Holds::Choice(words) => {
                (words.iter().map(|w| ((*w).to_owned(), crate::tongue::choice(w))).collect(), "")
            }
            Holds::Id => (self.options(field.name), ""),
            Holds::Quantity(crate::units::Dimension::Duration, _, _) => (Vec::new(), "4 min"),
            Holds::Quantity(crate::units::Dimension::Flow, _, _) => (Vec::new(), "300 L/min"),
            Holds::TimeOfDay => (Vec::new(), "16:20"),
            Holds::Date => (Vec::new(), "2026-11-25"),
            Holds::Quantity(_, _, _)
            | Holds::Words
            | Holds::Text
            | Holds::Bool
            | Holds::Number(_, _)
            | Holds::Span
            | Holds::Items(_)
            | Holds::Map(_)
            | Holds::Texts => (Vec::new(), ""),
        };
        Row {
            name: format!("{before}{}", field.name),
            label: spoken(plain(field.name)),
            doc: spoken(for_people(field.doc)),
            value,
            must: field.need == Need::Required,
            options,
            like: like.to_owned(),
            wrong: String::new(),
        }
    }

    /// The form, filled from what was typed.
    pub fn sheet(&self, typed: &Form, wrong: &[(String, String)]) -> Sheet {
        let mut rows = Vec::new();
        let mut groups = Vec::new();
        for field in JOB.iter().filter(|f| !is_worked_out(f)) {
            match field.holds {
                Holds::Items(inner) => {
                    let offered = OFFERED.iter().find(|(n, _)| *n == field.name).map_or(2, |(_, n)| *n);
                    let items = (0..offered).map(|i| {
                        let before = format!("{}.{i}.", field.name);
                        let given = inner.iter().filter(|f| !is_worked_out(f));
                        let own = given.filter(|f| f.name != "id");
                        own.map(|f| {
                            self.row(f, &before, typed.text(&format!("{before}{}", f.name)).to_owned())
                        })
                        .collect()
                    });
                    groups.push(Group {
                        title: spoken(plain(field.name)),
                        doc: spoken(for_people(field.doc)),
                        items: items.collect(),
                    });
                }
                Holds::Id
                | Holds::Words
                | Holds::Text
                | Holds::Bool
                | Holds::Choice(_)
                | Holds::Number(_, _)
                | Holds::Quantity(_, _, _)
                | Holds::Date
                | Holds::Span
                | Holds::TimeOfDay
                | Holds::Map(_)
                | Holds::Texts => rows.push(self.row(field, "", typed.text(field.name).to_owned())),
            }
        }
        for row in rows.iter_mut().chain(groups.iter_mut().flat_map(|g| g.items.iter_mut().flatten())) {
            if let Some((_, why)) = wrong.iter().find(|(name, _)| *name == row.name) {
                row.wrong.clone_from(why);
            }
        }
        Sheet { rows, groups }
    }
}

/// A text as YAML holds it whatever stands in it: JSON's own way of writing.
fn quoted(text: &str) -> String {
    serde_json::to_string(text).unwrap_or_else(|_| "\"\"".to_owned())
}

/// The job file of a form, and on which line each field stands.
pub fn text(form: &Form) -> (String, Vec<(u32, String)>) {
    let mut out = Vec::new();
    let mut places = Vec::new();
    for field in JOB.iter().filter(|f| !is_worked_out(f)) {
        let key = if field.name == "what" { "job" } else { field.name };
        if let Holds::Items(inner) = field.holds {
            let mut items = Vec::new();
            for i in 0..20 {
                let before = format!("{}.{i}.", field.name);
                let own = inner.iter().filter(|f| !is_worked_out(f) && f.name != "id");
                let mut members: Vec<(String, String)> = own
                    .filter_map(|f| Some((f.name.to_owned(), form.some(&format!("{before}{}", f.name))?)))
                    .collect();
                if members.is_empty() {
                    continue;
                }
                if inner.iter().any(|f| f.name == "id") {
                    let id = form.some(&format!("{before}id"));
                    members.insert(
                        0,
                        ("id".to_owned(), id.unwrap_or_else(|| format!("{}{}", &field.name[..1], i + 1))),
                    );
                }
                let members: Vec<String> =
                    members.iter().map(|(k, v)| format!("{k}: {}", quoted(v))).collect();
                items.push((format!("  - {{ {} }}", members.join(", ")), before));
            }
            if !items.is_empty() {
                out.push(format!("{key}:"));
                for (line, before) in items {
                    out.push(line);
                    places.push((out.len() as u32, before));
                }
            }
        } else if let Some(value) = form.some(field.name) {
            out.push(format!("{key}: {}", quoted(&value)));
            places.push((out.len() as u32, field.name.to_owned()));
        }
    }
    (out.join("\n") + "\n", places)
}

/// A job as the register keeps it, as a form.
pub fn typed(job: &Json) -> Form {
    let mut out = Vec::new();
    let one = |j: &Json| match j {
        Json::Str(s) => Some(s.to_string()),
        Json::Int(n) => Some(n.to_string()),
        Json::Bool(b) => Some(b.to_string()),
        Json::Obj(languages) => languages.iter().find_map(|(_, v)| match v {
            Json::Str(s) => Some(s.to_string()),
            Json::Int(_) | Json::Bool(_) | Json::Arr(_) | Json::Obj(_) => None,
        }),
        Json::Arr(_) => None,
    };
    let Json::Obj(members) = job else { return Form::default() };
    for (name, value) in members {
        if let Json::Arr(items) = value {
            for (i, item) in items.iter().enumerate() {
                let Json::Obj(fields) = item else { continue };
                let all = fields.iter().filter_map(|(k, v)| Some((format!("{name}.{i}.{k}"), one(v)?)));
                out.extend(all);
            }
        } else if let Some(text) = one(value) {
            out.push((name.to_string(), text));
        }
    }
    Form::of(out)
}
