//! What people wrote on a permit and told: notes, the words of calls, events and stops, who told what was entered for them, and
//! what a supervisor read again at the gauge.
//!
//! Always: as it stands in the lines, of the permit and of its set while the permit lasted, in their order; what was written
//! aside stands at the line that entered it. Not here: answers and their words (`inquiry`), what was signed (`permits`).

use super::names::Names;
use super::permits::PermitFacts;
use super::{At, said};
use crate::audit::numbered;
use crate::permit::state::Permit;
use crate::record::aside::entered;
use crate::record::json::Json;
use crate::record::line::Line;
use crate::text::safe_line;
use crate::time::for_people;
use crate::tongue::say;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeMap;

/// One thing that somebody wrote or told.
#[derive(Clone, Debug, Serialize)]
pub struct Wrote {
    /// Kind of line; of an event, what it was.
    pub what: String,
    /// Who entered or signed it: a name, else the id; empty where nobody is named.
    pub by: String,
    /// Who told it.
    pub told_by: String,
    /// At the site, when it was told for another time than it was entered.
    pub told: Option<String>,
    /// In their words.
    pub words: String,
    /// Line.
    pub at: At,
}

impl Wrote {
    /// In one line.
    pub fn in_words(&self) -> String {
        let who = [&self.by, &self.told_by].map(String::as_str).into_iter().filter(|w| !w.is_empty());
        let who: Vec<&str> = who.collect();
        let time = self.told.as_ref().unwrap_or(&self.at.site);
        if who.is_empty() {
            return say!(
                "line {line}, {time}, {what}: {words}",
                line = self.at.line,
                time,
                what = self.what,
                words = self.words
            );
        }
        say!(
            "line {line}, {time}, {what} ({who}): {words}",
            line = self.at.line,
            time,
            what = self.what,
            who = who.join(", "),
            words = self.words
        )
    }
}

/// All lines, to find those of a permit without going through the others.
pub struct Lines<'a> {
    of: BTreeMap<&'a str, Vec<(LineNo, &'a Line)>>,
    /// Of no permit.
    apart: Vec<(LineNo, &'a Line)>,
    /// Those that entered what was written aside, of any.
    recoveries: Vec<(LineNo, &'a Line)>,
}

impl<'a> Lines<'a> {
    /// All there are.
    pub fn new(lines: &'a [Line]) -> Lines<'a> {
        let mut out = Lines { of: BTreeMap::new(), apart: Vec::new(), recoveries: Vec::new() };
        for (place, l) in numbered(lines) {
            match (l.kind.name, l.permit.as_deref()) {
                ("recovery", _) => out.recoveries.push((place, l)),
                (_, Some(number)) => out.of.entry(number).or_default().push((place, l)),
                (_, None) => out.apart.push((place, l)),
            }
        }
        out
    }

    /// Those that may tell of a permit, in their order; of no permit only between two lines.
    fn about(&self, number: &str, (from, to): (LineNo, LineNo)) -> Vec<(LineNo, &'a Line)> {
        let upto = |end: &dyn Fn(&LineNo) -> bool| self.apart.partition_point(|(place, _)| end(place));
        let apart = self.apart.get(upto(&|p| *p < from)..upto(&|p| *p <= to)).unwrap_or_default();
        let own = self.of.get(number).map_or(&[][..], Vec::as_slice);
        let mut all = [own, apart, &self.recoveries].concat();
        all.sort_by_key(|(place, _)| *place);
        all
    }
}

/// Of one permit.
pub fn of(lines: &Lines<'_>, of: &PermitFacts, p: &Permit, names: &Names) -> Vec<Wrote> {
    let place = |at: &At| LineNo { volume: at.volume, line: at.seq };
    let from_to = place(&of.opened)..=place(&of.last);
    let mut out = Vec::new();
    for (place, l) in lines.about(&p.number, (*from_to.start(), *from_to.end())) {
        let here = |permit: Option<&str>, data: &Json| match permit {
            Some(number) => number == p.number,
            None => from_to.contains(&place) && data.text("set") == Some(&*p.set.id),
        };
        let recovery = l.kind.name == "recovery";
        if !recovery && !here(l.permit.as_deref(), &l.data) {
            continue;
        }
        let at = At::new(place, &l.time, &l.zone);
        let by = l.act.as_ref().map(|a| a.by.as_str()).or(l.by.as_deref()).unwrap_or_default();
        if here(l.permit.as_deref(), &l.data) {
            out.extend(one(p, names, (l.kind.name, &l.data, by), &at));
        }
        let reports = if recovery { entered(&l.data) } else { Vec::new() };
        for e in reports.iter().filter(|e| here(e.permit.as_deref(), &e.data)) {
            out.extend(one(p, names, (&e.kind, &e.data, e.by.as_deref().unwrap_or_default()), &at));
        }
    }
    out
}

fn one(p: &Permit, names: &Names, (kind, data, by): (&str, &Json, &str), at: &At) -> Option<Wrote> {
    let words = match kind {
        "suspend" => data.text("reason").map(str::to_owned),
        "countersign" => seen(p, data, at),
        "answer" | "reading" | "on_air" | "in" | "out" | "off_air" => {
            let name = data.text("person").map(|id| names.at(&p.site.hash, id));
            let step = data.text("step").map(|s| s.replace('_', " "));
            let all = [
                name,
                step.as_deref(),
                data.text("item"),
                data.text("value"),
                data.text("unit"),
                data.text("words"),
            ];
            Some(all.into_iter().flatten().collect::<Vec<_>>().join(" "))
        }
        _ => data.text("words").map(str::to_owned),
    };
    let told_by = data.text("told_by");
    // They stand elsewhere: here it is who told it.
    let elsewhere = matches!(kind, "answer" | "reading" | "on_air" | "in" | "out" | "off_air");
    if told_by.is_none() && (words.is_none() || elsewhere) {
        return None;
    }
    let name = |id: &str| safe_line(names.at(&p.site.hash, id)).into_owned();
    Some(Wrote {
        what: said(data.text("what").unwrap_or(kind)),
        by: name(by),
        told_by: told_by.map(name).unwrap_or_default(),
        told: data.text("at").map(|told| for_people(told, at.zone())),
        words: safe_line(&words.unwrap_or_default()).into_owned(),
        at: at.clone(),
    })
}

/// What was read again at the gauge, beside what was answered.
fn seen(p: &Permit, data: &Json, at: &At) -> Option<String> {
    let Some(Json::Arr(all)) = data.get("seen") else { return None };
    let one = |s: &Json| {
        let (step, item) = (s.text("step").unwrap_or_default(), s.text("item"));
        let value = format!("{} {}", s.text("value").unwrap_or_default(), s.text("unit").unwrap_or_default());
        let of_it = |a: &&crate::permit::state::Answer| a.step == step && a.item.as_deref() == item;
        let before =
            p.answers.iter().filter(of_it).rfind(|a| super::permits::at(&a.stamp).place() < at.place());
        let gauge = item.map_or_else(|| said(step), |item| format!("{}, {item}", said(step)));
        match before.and_then(|a| a.value.as_deref().zip(a.unit.as_deref())) {
            Some((first, unit)) => say!(
                "{gauge}: read again {value}, answered {first}",
                gauge,
                value,
                first = format!("{first} {unit}")
            ),
            None => say!("{gauge}: read again {value}", gauge, value),
        }
    };
    Some(all.iter().map(one).collect::<Vec<_>>().join("; "))
}
