//! What changed in the texts that a permit rests on (checklist, set file, site file, roster) since the last
//! permit that was closed on the same set: who put the new text in force, when, and what is different in it.
//!
//! In: state, chain and lines. Out: final words. Decides nothing; an excerpt does not hold what this needs.
//! Differences are told by name of step or field, not as lines of a file: a file laid out anew but saying the
//! same has not changed in what it says, and that is said.

use super::decide::Known;
use super::state::{Cited, Permit};
use crate::record::line::Line;
use crate::text::safe_line;
use crate::time::for_people;
use crate::tongue::say;
use crate::trust::{Roster, changes};
use crate::view::StateWord;
use serde_yaml::Value;
use std::collections::BTreeMap;

/// So many names of steps and fields are told of one text.
const MOST: usize = 24;

/// What changed, in words; the first line says since when.
pub fn since_last_closed(known: &Known<'_>, lines: &[Line], permit: &Permit) -> Vec<String> {
    let closed = known
        .state
        .permits
        .values()
        .filter(|p| p.set.id == permit.set.id && p.number != permit.number && p.life == StateWord::Closed)
        // A shutdown alone goes by another form: it hides what changed since the last permit to work.
        .filter(|p| !p.for_shutdown || permit.for_shutdown)
        .filter_map(|p| Some((p, &p.last_signed("close")?.stamp)))
        .filter(|(_, close)| close.seq < permit.opened.seq)
        .max_by_key(|(_, close)| close.seq);
    let Some((last, close)) = closed else {
        return vec![
            say!("no permit was closed on this set before, in this register: nothing to compare with").into(),
        ];
    };
    let mut out = Vec::new();
    for (what, kind, old, new) in [
        (say!("checklist"), "form", &last.form, &permit.form),
        (say!("set file"), "set", &last.set, &permit.set),
        (say!("site file"), "site", &last.site, &permit.site),
    ] {
        if old.hash != new.hash {
            out.push(text_changed(known, lines, (what, kind), old, new));
        }
    }
    out.extend(roster_changed(known, lines, &close.hash));
    let when = for_people(&close.time, &close.zone);
    let head = if out.is_empty() {
        say!(
            "set, site, checklist and roster are as they were on {permit}, closed {when}",
            permit = last.number,
            when
        )
    } else {
        say!(
            "CHANGED since {permit}, the last permit closed on this set, {when}:",
            permit = last.number,
            when
        )
    };
    out.insert(0, head);
    out
}

/// Texts put in force after a permit was opened, which it does not go by; in words. Nothing if there are none.
pub fn since_opened(known: &Known<'_>, lines: &[Line], permit: &Permit) -> Vec<String> {
    let mut out = Vec::new();
    for (what, kind, old) in [
        (say!("checklist"), "form", &permit.form),
        (say!("set file"), "set", &permit.set),
        (say!("site file"), "site", &permit.site),
    ] {
        let key = (kind.to_owned(), old.id.clone());
        if let Some(now) = known.chain.texts.get(&key).filter(|t| t.text_hash != old.hash) {
            let new = Cited { id: old.id.clone(), hash: now.text_hash.clone() };
            out.push(text_changed(known, lines, (what, kind), old, &new));
        }
    }
    if !out.is_empty() {
        let head = say!(
            "CHANGED AFTER THIS PERMIT WAS OPENED. It still goes by what was in force then; to go by what \
             follows, cancel it and open another:"
        );
        out.insert(0, head.to_owned());
    }
    out
}

fn text_changed(
    known: &Known<'_>,
    lines: &[Line],
    (what, kind): (&str, &str),
    old: &Cited,
    new: &Cited,
) -> String {
    let name = if old.id == new.id {
        format!("{what} {}", new.id)
    } else {
        say!("{what} {id} instead of {before}", what, id = new.id, before = old.id)
    };
    let put = lines
        .iter()
        .rfind(|l| l.kind.name == kind && l.data.text("hash") == Some(new.hash.as_str()))
        .and_then(|l| Some((l, l.act.as_ref()?)))
        .map_or_else(
            || say!("nobody here approved it").to_owned(),
            |(l, act)| {
                let by = safe_line(known.chain.origin.roster.name_of(&act.by)).into_owned();
                say!(
                    "approved by {by} at {time}, line {line}",
                    by,
                    time = for_people(&l.time, &l.zone),
                    line = l.seq
                )
            },
        );
    let text = |c: &Cited| known.chain.by_hash.get(&c.hash).map_or("", String::as_str);
    let mut names = differences(text(old), text(new));
    let more = names.len().saturating_sub(MOST);
    names.truncate(MOST);
    if more > 0 {
        names.push(say!("and {more} more", more));
    }
    let names =
        if names.is_empty() { say!("written otherwise, and says the same").into() } else { names.join("; ") };
    format!("{name}, {put}: {names}")
}

fn roster_changed(known: &Known<'_>, lines: &[Line], close: &str) -> Option<String> {
    let then = &lines.iter().find(|l| l.hash == close)?.roster;
    let now = &known.chain.origin.roster;
    if then == now.hash() {
        return None;
    }
    let brought = |l: &&Line| {
        match l.kind.name {
            "enrol" => l.data.get("roster").and_then(|r| r.text("text")),
            "roster" => l.data.text("text"),
            _ => None,
        }
        .and_then(|t| Roster::read(t).ok())
    };
    let all: Vec<(&Line, Roster)> = lines.iter().filter_map(|l| Some((l, brought(&l)?))).collect();
    let old = all.iter().find(|(_, r)| r.hash() == then);
    let put = all.iter().find(|(_, r)| r.hash() == now.hash());
    let told = old.map_or_else(Vec::new, |(_, old)| changes::changes(old, now));
    let at = put.map_or(String::new(), |(l, _)| {
        say!(
            ", signed by its custodians and taken in at {time}, line {line}",
            time = for_people(&l.time, &l.zone),
            line = l.seq
        )
    });
    Some(say!(
        "roster version {version}{at}: {changes}",
        version = now.version,
        at,
        changes = told.join("; ")
    ))
}

/// Names of what two texts of the same kind say differently.
pub fn differences(old: &str, new: &str) -> Vec<String> {
    let (Ok(old), Ok(new)) = (serde_yaml::from_str(old), serde_yaml::from_str(new)) else {
        return vec![say!("one of the texts cannot be read").into()];
    };
    let (old, new) = (flat(&old), flat(&new));
    let mut out = Vec::new();
    let owners: Vec<&String> = new.keys().chain(old.keys().filter(|k| !new.contains_key(*k))).collect();
    for owner in owners {
        match (old.get(owner), new.get(owner)) {
            (Some(a), Some(b)) if a != b => {
                let fields: Vec<&str> = b
                    .iter()
                    .filter(|(k, v)| a.get(*k) != Some(v))
                    .map(|(k, _)| k.as_str())
                    .chain(a.keys().filter(|k| !b.contains_key(*k)).map(String::as_str))
                    .collect();
                if owner.is_empty() {
                    out.extend(fields.iter().map(|f| change(f, a.get(*f), b.get(*f))));
                } else {
                    let what: Vec<String> = fields.iter().map(|f| change(f, a.get(*f), b.get(*f))).collect();
                    out.push(format!("{owner}: {}", what.join(", ")));
                }
            }
            (None, Some(_)) => out.push(say!("{owner} is new", owner)),
            (Some(_), None) => out.push(say!("{owner} is gone", owner)),
            (Some(_), Some(_)) | (None, None) => {}
        }
    }
    out
}

/// A short value is told, old and new; of a long one that it changed.
fn change(field: &str, old: Option<&String>, new: Option<&String>) -> String {
    let short = |v: &String| v.len() <= 60;
    match (old, new) {
        (Some(a), Some(b)) if short(a) && short(b) => {
            say!("{field} {value} instead of {before}", field, value = safe_line(b), before = safe_line(a))
        }
        (None, Some(b)) if short(b) => say!("{field} {value} (new)", field, value = safe_line(b)),
        (Some(a), None) if short(a) => say!("{field} gone ({value})", field, value = safe_line(a)),
        (Some(_), None) => say!("{field} gone", field),
        (Some(_) | None, Some(_)) | (None, None) => say!("{field} changed", field),
    }
}

type Flat = BTreeMap<String, BTreeMap<String, String>>;

/// A text as owner (a step, an item of a list, or nothing) and field to value. An item is named by its id.
fn flat(value: &Value) -> Flat {
    let mut out = Flat::new();
    fill(value, "", "", &mut out);
    out
}

fn fill(value: &Value, owner: &str, field: &str, out: &mut Flat) {
    let below = |name: &str| if field.is_empty() { name.to_owned() } else { format!("{field}.{name}") };
    match value {
        Value::Mapping(map) => {
            for (k, v) in map {
                fill(v, owner, &below(&plain(k)), out);
            }
        }
        Value::Sequence(items) if !items.is_empty() && items.iter().all(|i| named(i).is_some()) => {
            let mut order = Vec::new();
            for item in items {
                let Some((key, id)) = named(item) else { continue };
                // A step is known by its own name, wherever it stands.
                let name = match key {
                    "step" | "stage" => format!("{key} `{id}`"),
                    _ => format!(
                        "{}{} `{id}`",
                        if owner.is_empty() { String::new() } else { format!("{owner}, ") },
                        below("").trim_end_matches('.')
                    ),
                };
                order.push(id);
                fill(item, &name, "", out);
            }
            let place = out.entry(owner.to_owned()).or_default();
            place.insert(below("order"), order.join(" "));
        }
        Value::Sequence(items) => {
            let all: Vec<String> = items.iter().map(plain).collect();
            out.entry(owner.to_owned()).or_default().insert(field.to_owned(), all.join(", "));
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) | Value::Tagged(_) => {
            out.entry(owner.to_owned()).or_default().insert(field.to_owned(), plain(value));
        }
    }
}

/// The key that names an item of a list, and its id.
fn named(item: &Value) -> Option<(&'static str, String)> {
    ["step", "stage", "id", "person"].into_iter().find_map(|k| Some((k, plain(item.as_mapping()?.get(k)?))))
}

fn plain(value: &Value) -> String {
    match value {
        Value::Null => say!("nothing").into(),
        Value::Bool(b) => b.to_string(),
        Value::Number(n) => n.to_string(),
        Value::String(s) => s.trim().to_owned(),
        Value::Sequence(items) => items.iter().map(plain).collect::<Vec<_>>().join(", "),
        Value::Mapping(m) => {
            m.iter().map(|(k, v)| format!("{} {}", plain(k), plain(v))).collect::<Vec<_>>().join(", ")
        }
        Value::Tagged(_) => say!("1 tagged value").into(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const OLD: &str = "checklist: c\nrevision: 1\nstages:\n  - stage: a\n    title: A\n    steps:\n      - step: one\n        \
                       ask: Is it?\n        gate: one == true\n      - step: two\n        ask: And this?\n";

    #[test]
    fn the_same_laid_out_anew_says_the_same() {
        let new = OLD.replace("ask: Is it?", "# asked first\n        ask: \"Is it?\"");
        assert!(differences(OLD, OLD).is_empty() && differences(OLD, &new).is_empty());
    }

    #[test]
    fn steps_and_fields_are_named() {
        let new = OLD
            .replace("revision: 1", "revision: 2")
            .replace("gate: one == true", "gate: one == true or two == true")
            .replace(
                "      - step: two\n        ask: And this?\n",
                "      - step: three\n        ask: Or that?\n",
            );
        assert_eq!(
            differences(OLD, &new),
            [
                "revision 2 instead of 1",
                "stage `a`: steps.order one three instead of one two",
                "step `one`: gate one == true or two == true instead of one == true",
                "step `three` is new",
                "step `two` is gone"
            ]
        );
        let set = "set: s\nreserve_minimum: 150 bar\ncylinders:\n  - id: a\n    volume: 50 L\n";
        let other = set.replace("150", "140").replace("50 L", "40 L");
        assert_eq!(
            differences(set, &other),
            ["reserve_minimum 140 bar instead of 150 bar", "cylinders `a`: volume 40 L instead of 50 L"]
        );
    }
}
