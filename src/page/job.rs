//! A job as a form: fields from the table that job files are read by, lists from the texts in force, and back to a job file.
//!
//! Always: what comes back is read by the reader of job files, which finds what is wrong and says where. Decides nothing.

use super::form::Form;
use crate::permit::bench::file;
use crate::permit::decide::Known;
use crate::record::json::Json;
use crate::site::fields::JOB;
use crate::site::{Field, Holds, Need, Values, is_worked_out};
use crate::tongue::{say, translated};
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
    /// It stands here from a permit before, and nobody has looked at it yet.
    pub carried: bool,
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
    /// Each item.
    pub items: Vec<Item>,
}

/// One item of a list.
#[derive(Clone, Debug, Serialize)]
pub struct Item {
    /// Its fields.
    pub rows: Vec<Row>,
    /// Something stands in it.
    pub begun: bool,
    /// It may stay empty, and is folded away until something stands in it.
    pub spare: bool,
}

/// The form.
#[derive(Clone, Debug, Serialize)]
pub struct Sheet {
    /// Fields that stand alone, before the lists.
    pub rows: Vec<Row>,
    /// Lists.
    pub groups: Vec<Group>,
}

/// A job, in words.
#[derive(Clone, Debug, Serialize)]
pub struct Job {
    /// Its lists, by title: of each item what stands in it, by label.
    pub lists: Vec<(String, Vec<Labelled>)>,
    /// What stands alone, by label.
    pub rows: Labelled,
}

/// Labels and words.
type Labelled = Vec<(String, String)>;

/// So many items of a list are read.
const MOST: usize = 20;
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
    let words = match name {
        "what" => "the work".to_owned(),
        "rescue_minutes" => "rescue reaches a wearer in".to_owned(),
        _ => name.replace('_', " "),
    };
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// What a field is, without what only a file needs to be told; in English.
fn for_people(doc: &str) -> String {
    // Its keys say the rest in their own words.
    if doc.starts_with("the air where they work") {
        return "where they work, as the entry permit says it".to_owned();
    }
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

/// So much of a permit before may stand in a new form, to be looked at. Nothing that is measured, timed, or of a day: no
/// people or what was chosen for each of them, no way out, no atmosphere or zone, no entry permits, no place to gather, which
/// hangs on the wind. In doubt it is asked anew.
const CARRIED: [&str; 6] = ["what", "place", "supply_point", "recall_signal", "rescue_number", "channel"];

/// What of a job may stand in a new form.
pub fn carried(job: &Json) -> Vec<(String, String)> {
    let may =
        |name: &str| CARRIED.contains(&name) || name.starts_with("consumers.") && !name.ends_with(".id");
    typed(job).pairs().iter().filter(|(n, _)| may(n)).cloned().collect()
}

/// What must be given, each by its name.
pub fn musts() -> Vec<String> {
    JOB.iter().filter(|f| f.need == Need::Required).map(|f| f.name.to_owned()).collect()
}

const fn is_duration(field: &Field) -> bool {
    matches!(field.holds, Holds::Quantity(crate::units::Dimension::Duration, _, _))
}

/// A value as the job file has it: how long something takes is in minutes unless its unit is typed, as its field says.
fn with_unit(field: &Field, value: String) -> String {
    let bare = is_duration(field) && crate::units::Decimal::read(&value).is_ok();
    if bare { format!("{value} min") } else { value }
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

/// Whether the form has a field of this name, alone or in a list.
pub fn is_field(name: &str) -> bool {
    let lists = JOB.iter().filter_map(|f| f.holds.items()).flatten();
    JOB.iter().chain(lists).any(|f| f.name == name)
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
                let shown = |w: &str| match field.name {
                    "atmosphere" => crate::show::atmosphere(Some(w)).to_owned(),
                    _ => crate::tongue::choice(w),
                };
                (words.iter().map(|w| ((*w).to_owned(), shown(w))).collect(), "")
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
            doc: if is_duration(field) {
                say!("{what}; in minutes, or like 40 s", what = spoken(for_people(field.doc)))
            } else {
                spoken(for_people(field.doc))
            },
            value,
            must: field.need == Need::Required,
            carried: false,
            options,
            like: like.to_owned(),
            wrong: String::new(),
        }
    }

    /// A job as it is read aloud: people first, each by name, then the rest of what stands in it.
    pub fn told(&self, job: &Form) -> Job {
        let sheet = self.sheet(job, &[], &[]);
        let words = |row: Row| {
            let shown = row.options.iter().find(|(id, _)| *id == row.value).map(|(_, name)| name.clone());
            (row.label, shown.unwrap_or(row.value))
        };
        let told = |rows: Vec<Row>| -> Vec<(String, String)> {
            rows.into_iter().filter(|r| !r.value.is_empty()).map(words).collect()
        };
        let list = |g: Group| {
            let items: Vec<_> = g.items.into_iter().map(|i| told(i.rows)).filter(|i| !i.is_empty()).collect();
            (g.title, items)
        };
        let lists = sheet.groups.into_iter().map(list).filter(|(_, items)| !items.is_empty()).collect();
        Job { lists, rows: told(sheet.rows) }
    }

    /// So many empty items of a list are offered: of wearers as many as can be plugged in, and never fewer than stand there.
    fn offered(&self, list: &str, typed: &Form) -> usize {
        let few = OFFERED.iter().find(|(n, _)| *n == list).map_or(2, |(_, n)| *n);
        let outlets =
            self.set.as_deref().filter(|_| list == "wearers").map_or(0, |set| set.items("outlets").len());
        let before = format!("{list}.");
        let places = typed
            .pairs()
            .iter()
            .filter_map(|(name, _)| name.strip_prefix(&before)?.split('.').next()?.parse().ok());
        let there = places.max().map_or(0, |last: usize| last + 1);
        // Without outlets the set is none that is known: as before.
        if outlets > 0 { outlets.max(there) } else { few.max(there) }.min(MOST)
    }

    /// The form, filled from what was typed.
    pub fn sheet(&self, typed: &Form, wrong: &[(String, String)], carried: &[(String, String)]) -> Sheet {
        let mut rows = Vec::new();
        let mut groups = Vec::new();
        for field in JOB.iter().filter(|f| !is_worked_out(f)) {
            match field.holds {
                Holds::Items(inner) => {
                    let offered = self.offered(field.name, typed);
                    let items = (0..offered).map(|i| {
                        let before = format!("{}.{i}.", field.name);
                        let given = inner.iter().filter(|f| !is_worked_out(f));
                        let own = given.filter(|f| f.name != "id");
                        let mut rows: Vec<Row> = own
                            .map(|f| {
                                self.row(f, &before, typed.text(&format!("{before}{}", f.name)).to_owned())
                            })
                            .collect();
                        let begun = rows.iter().any(|r| !r.value.is_empty());
                        // An entry permit, or why there is none: one of the two is looked for.
                        let spare = i > 0 || field.name == "consumers";
                        // Of what may stay empty nothing must be given until something is.
                        let asked = i == 0 && field.need == Need::Required;
                        rows.iter_mut().for_each(|r| r.must &= begun || asked);
                        Item { rows, begun, spare }
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
        let of_groups = groups.iter_mut().flat_map(|g| g.items.iter_mut().flat_map(|i| &mut i.rows));
        for row in rows.iter_mut().chain(of_groups) {
            // Not where the list it was chosen from has it no more: nothing of it stands there.
            let there = row.options.is_empty() || row.options.iter().any(|(id, _)| *id == row.value);
            row.carried = there
                && !row.value.is_empty()
                && carried.iter().any(|(name, v)| *name == row.name && *v == row.value);
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
            for i in 0..MOST {
                let before = format!("{}.{i}.", field.name);
                let own = inner.iter().filter(|f| !is_worked_out(f) && f.name != "id");
                let mut members: Vec<(String, String)> = own
                    .filter_map(|f| {
                        let value = form.some(&format!("{before}{}", f.name))?;
                        Some((f.name.to_owned(), with_unit(f, value)))
                    })
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
            out.push(format!("{key}: {}", quoted(&with_unit(field, value))));
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
