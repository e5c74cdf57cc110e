//! The fields of set, site and job files as Markdown: what stands in DEVELOPERS.md, made from the
//! tables that files are read by.
//!
//! Always: nothing is said here that the tables do not say; a test compares the document with it.

use super::{JOB, LAST, SET, SITE, WEARER};
use crate::site::{Field, Holds, Need, is_worked_out};

/// All tables, each under its heading of level three, with a line feed at the end of every line.
pub fn tables() -> String {
    let mut s = String::new();
    for (title, fields) in [
        ("Set file", SET),
        ("Site file", SITE),
        ("Job file", JOB),
        (
            "One wearer of a job (`job.wearers`; in gates `wearers.*`, and `wearer.*` inside `each: wearer`)",
            WEARER,
        ),
    ] {
        s += &format!("### {title}\n\n{}\n", table(fields));
    }
    s += "### `last.KIND.FIELD`: the latest line of a kind for this set\n\n";
    let rows: Vec<String> =
        LAST.iter().flat_map(|(kind, fields)| rows(&format!("{kind}."), fields)).collect();
    s += HEAD;
    s += &rows.concat();
    s
}

const HEAD: &str = "| field | holds | need | what it is | source | read by |\n|---|---|---|---|---|---|\n";

fn table(fields: &[Field]) -> String {
    let mut s = String::from(HEAD);
    s += &rows("", fields).concat();
    s
}

fn rows(before: &str, fields: &[Field]) -> Vec<String> {
    let mut out = Vec::new();
    for f in fields {
        let name = format!("{before}{}", f.name);
        out.push(format!(
            "| `{name}` | {} | {} | {} | {} | {} |\n",
            holds(f.holds),
            need(f),
            f.doc,
            f.source,
            f.read_by
        ));
        match f.holds {
            // A wearer has a table of their own.
            Holds::Items(inner) if inner != WEARER => out.extend(rows(&format!("{name}."), inner)),
            Holds::Map(inner) => out.extend(rows(&format!("{name}."), inner)),
            Holds::Items(_)
            | Holds::Id
            | Holds::Words
            | Holds::Text
            | Holds::Bool
            | Holds::Choice(_)
            | Holds::Number(..)
            | Holds::Quantity(..)
            | Holds::Date
            | Holds::Span
            | Holds::TimeOfDay
            | Holds::Texts => {}
        }
    }
    out
}

fn holds(h: Holds) -> String {
    match h {
        Holds::Id => "id".into(),
        Holds::Words => "words".into(),
        Holds::Text => "text".into(),
        Holds::Bool => "true or false".into(),
        Holds::Choice(words) => format!("one of {}", words.join(" ")),
        Holds::Number(from, to) => format!("number, {from} to {to}"),
        Holds::Quantity(_, from, to) => format!("quantity, {from} to {to}"),
        Holds::Date => "date".into(),
        Holds::Span => "span".into(),
        Holds::TimeOfDay => "time of day".into(),
        Holds::Items(_) => "list of items".into(),
        Holds::Map(_) => "map".into(),
        Holds::Texts => "list of texts".into(),
    }
}

fn need(f: &Field) -> String {
    if is_worked_out(f) {
        return "worked out".into();
    }
    match f.need {
        Need::Required => "must".into(),
        Need::Optional => "may".into(),
        Need::Default(text) => format!("if left out: {text}"),
    }
}
