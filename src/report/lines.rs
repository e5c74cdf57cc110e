//! The table of lines that every figure of the report leads to.

use super::{At, Input, Register};
use crate::audit::numbered;
use crate::record::json;
use crate::record::line::Line;
use crate::tongue::say;
use crate::view::recorded;
use serde::Serialize;
use std::collections::BTreeSet;

/// One line in short.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Line and time.
    pub at: At,
    /// Kind.
    pub kind: &'static str,
    /// Permit.
    pub permit: String,
    /// `signed by per-lind`, `entered as ola`.
    pub who: String,
    /// Its data in short, as it stands.
    pub says: String,
    /// H.
    pub hash: String,
}

/// So many lines are tabled whole; of a longer register those that are named.
const WHOLE: usize = 3000;
/// So many characters of a line's data.
const SHORT: usize = 220;

/// The rows, and whether they are all lines.
pub fn of(input: &Input<'_>, register: &Register) -> (Vec<Row>, bool) {
    let lines = &input.verified.lines;
    let all = lines.len() <= WHOLE;
    let named = if all { BTreeSet::new() } else { named(register) };
    let rows = numbered(lines)
        .filter(|(at, _)| all || named.contains(&(at.volume, at.line)))
        .map(|(at, l)| row(At::new(at, &l.time, &l.zone), l))
        .collect();
    (rows, all)
}

/// A line in short.
pub fn row(at: At, l: &Line) -> Row {
    let who = match (&l.act, &l.by) {
        (Some(a), _) => say!("signed by {person} as {role}", person = a.by, role = recorded(a.role.word())),
        (None, Some(by)) => say!("entered as {person}", person = by),
        (None, None) => String::new(),
    };
    // Words that were signed and whole texts are long, and stand in the register.
    let data = l.data.clone().without("said").without("text").without("token").without("roster");
    let says = json::write(&data).map_or_else(|why| why, |b| String::from_utf8_lossy(&b).into_owned());
    let mut short: String = says.chars().take(SHORT).collect();
    if says.chars().nth(SHORT).is_some() {
        short.push('…');
    }
    Row {
        at,
        kind: l.kind.name,
        permit: l.permit.clone().unwrap_or_default().to_string(),
        who,
        says: crate::text::safe_line(&short).into_owned(),
        hash: l.hash.to_string(),
    }
}

/// Every line that the report names, wherever: what is not tabled could not be traced.
/// With these lines too, where they are not there yet.
pub fn also(rows: &mut Vec<Row>, input: &Input<'_>, mut places: BTreeSet<(u32, u64)>) {
    for r in rows.iter() {
        places.remove(&r.at.place());
    }
    if !places.is_empty() {
        let of = numbered(&input.verified.lines).filter(|(at, _)| places.contains(&(at.volume, at.line)));
        rows.extend(of.map(|(at, l)| row(At::new(at, &l.time, &l.zone), l)));
        rows.sort_by_key(|r| r.at.place());
    }
}

fn named(register: &Register) -> BTreeSet<(u32, u64)> {
    let mut out = BTreeSet::new();
    if let Ok(value) = serde_json::to_value(register) {
        collect(&value, &mut out);
    }
    out
}

fn collect(value: &serde_json::Value, out: &mut BTreeSet<(u32, u64)>) {
    match value {
        serde_json::Value::Object(members) => {
            let number = |name: &str| members.get(name).and_then(serde_json::Value::as_u64);
            if let (Some(volume), Some(line)) = (number("volume"), number("seq").or_else(|| number("line")))
                && let Ok(volume) = u32::try_from(volume)
            {
                out.insert((volume, line));
            }
            members.values().for_each(|v| collect(v, out));
        }
        serde_json::Value::Array(all) => all.iter().for_each(|v| collect(v, out)),
        serde_json::Value::Null
        | serde_json::Value::Bool(_)
        | serde_json::Value::Number(_)
        | serde_json::Value::String(_) => {}
    }
}
