//! Readings and tests of the air that were out of their limits, in whatever state the permit was.
//!
//! Always: judged as the watch judges them, by the limits of the permit that they are of, or of each at work on the set; what
//! cannot be judged is noted as such. Not here: who was on that air then (`report`).

use super::Replayed;
use crate::permit::bench::air_test;
use crate::permit::decide::Known;
use crate::permit::state::{Happened, Permit};
use crate::permit::watch;
use crate::record::line::Line;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeSet;

/// A line that tells of air, supply or reserve out of limits.
#[derive(Clone, Debug, Serialize)]
pub struct Against {
    /// Line.
    #[serde(flatten)]
    pub line: LineNo,
    /// Set.
    pub set: String,
    /// UTC, when it was entered.
    pub time: String,
    /// Offset of the site then.
    pub zone: String,
    /// UTC, when it was read, as told.
    pub told: String,
    /// A test of the air, or CO in it: it speaks of what was breathed before too.
    pub air: bool,
    /// It was judged; else why says why it could not be.
    pub judged: bool,
    /// What it says, in words.
    pub why: Vec<String>,
}

/// Notes a line that says something against the air, after it was taken in.
pub(super) fn note(known: &Known<'_>, permit: Option<&Permit>, line: &Line, out: &mut Replayed) {
    let kind = line.kind.name;
    if !matches!(kind, "reading" | "air_test") {
        return;
    }
    let Some(set) = permit.map(|p| p.set.id.as_str()).or(line.data.text("set")) else { return };
    let own = permit.into_iter();
    let at_work = known.state.in_use(known.time()).filter(|p| permit.is_none() && p.set.id == set);
    let (mut why, mut unknown) = (BTreeSet::new(), BTreeSet::new());
    for p in own.chain(at_work) {
        let texts = match known.texts_of(p) {
            Ok(texts) => texts,
            Err(e) => {
                unknown.insert(e);
                continue;
            }
        };
        let here = |h: &&Happened| h.stamp.hash == line.hash;
        if kind == "reading" {
            why.extend(p.day.iter().rev().find(here).and_then(|h| watch::judged(known, p, &texts, h)));
        } else if let Some(test) = known.state.sets.get(set).and_then(|s| s.air_tests.iter().rev().find(here))
        {
            why.extend(air_test::against(test, &texts.site));
        }
    }
    let judged = !why.is_empty();
    let why = if judged { why } else { unknown };
    if !why.is_empty() {
        out.against.push(Against {
            line: known.state.at(line),
            set: set.to_owned(),
            time: line.time.to_string(),
            zone: line.zone.to_string(),
            told: line.data.text("at").unwrap_or(&line.time).to_owned(),
            air: kind == "air_test" || line.data.text("what") == Some("co"),
            judged,
            why: why.into_iter().collect(),
        });
    }
}
