//! Reports that were written aside while the register could not be written, and that no line of it has entered since.
//!
//! Always: what they tell of is in none of the answers, so that where one lies beside a register nothing good is said of
//! what it may change; one that cannot be read, or is missing, may have been an alarm. Not here: finding them
//! (`record::aside`), entering them (`actions`).

use super::names::Names;
use super::plain::Plain;
use super::{At, Input, said};
use crate::audit::numbered;
use crate::record::aside::Standing;
use crate::text::safe_line;
use crate::time::for_people;
use crate::tongue::{say, say_n};
use serde::Serialize;

/// One of them.
#[derive(Clone, Debug, Serialize)]
pub struct Waiting {
    /// Its file; `None`: it is missing, and only its number tells of it.
    pub file: Option<String>,
    /// Kind of line that it would be.
    pub kind: String,
    /// UTC: when it was written aside, by the clock of then, which nothing seals.
    pub written: String,
    /// It cannot be read, or is missing.
    pub unread: bool,
    /// In words.
    pub words: String,
}

/// Those of a register, in the order in which they were told.
pub fn of(input: &Input<'_>) -> Vec<Waiting> {
    let names = super::names::of(input);
    let zone = input.verified.lines.last().map_or("+00:00", |l| &*l.zone);
    input.aside.iter().map(|s| one(s, &names, zone)).collect()
}

fn one(s: &Standing, names: &Names, zone: &str) -> Waiting {
    let data = &s.entry.data;
    let words = if s.unread {
        data.text("reason").unwrap_or_default().to_owned()
    } else {
        let person = data.text("person").map(|id| names.name(id).unwrap_or(id));
        let told = for_people(data.text("at").unwrap_or(&s.entry.at), zone);
        let what = said(data.text("what").unwrap_or(&s.entry.kind));
        let more = data.text("words").or(data.text("reason"));
        let what = [Some(what.as_str()), person, more].into_iter().flatten().collect::<Vec<_>>().join(" ");
        say!("{what}, told for {told}", what, told)
    };
    Waiting {
        file: s.file.clone(),
        kind: s.entry.kind.clone(),
        written: s.entry.at.clone(),
        unread: s.unread,
        words: safe_line(&words).into_owned(),
    }
}

/// So many are told in the answer.
const TOLD: usize = 12;

/// Whether every report was entered; nothing where none lies beside it.
pub fn entered(input: &Input<'_>, waiting: &[Waiting]) -> Option<Plain> {
    let mut all: Vec<String> = waiting.iter().take(TOLD).map(|w| w.words.clone()).collect();
    if let Some(n @ 1..) = waiting.len().checked_sub(TOLD) {
        all.push(say!("{n} more", n));
    }
    let words = say_n!(
        waiting.len(),
        "{n} report lies beside it that no line of it has entered, and that is in no other answer: {reports}",
        "{n} reports lie beside it that no line of it has entered, and that are in no other answer: {reports}",
        reports = all.join("; ")
    );
    let last = numbered(&input.verified.lines).last();
    (!waiting.is_empty()).then(|| Plain {
        about: "entered",
        ask: say!("Did every report reach the register?").into(),
        answer: "no",
        headline: Some(words.clone()),
        words,
        lines: last.map(|(place, l)| At::new(place, &l.time, &l.zone)).into_iter().collect(),
        more: 0,
    })
}
