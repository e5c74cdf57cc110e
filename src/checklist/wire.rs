//! The file as `serde_yaml` reads it into types: the second reading of a checklist that the first one
//! found good. The closed lists of keys stand here once more, written down apart.

use crate::gate::Gate;
use crate::source::Source;
use crate::tongue::say;
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "what is not compared is read for its shape alone")]
pub(super) struct File {
    checklist: String,
    revision: String,
    title: Words,
    language: Option<String>,
    r#for: String,
    must: Option<Vec<String>>,
    pub stages: Vec<Stage>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "what is not compared is read for its shape alone")]
pub(super) struct Stage {
    pub stage: String,
    title: Words,
    pub when: Option<String>,
    needs: Option<Vec<String>>,
    any_order: Option<bool>,
    pub steps: Vec<Step>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "what is not compared is read for its shape alone")]
pub(super) struct Step {
    pub step: String,
    ask: Words,
    called: Option<Words>,
    confirm: Option<bool>,
    choice: Option<BTreeMap<String, Words>>,
    reading: Option<Instrument>,
    date: Option<bool>,
    text: Option<bool>,
    derived: Option<String>,
    timed: Option<String>,
    unit: Option<String>,
    decimals: Option<String>,
    round: Option<String>,
    each: Option<String>,
    pub when: Option<String>,
    pub gate: Option<String>,
    because: Option<Words>,
    fix: Option<Words>,
    how: Option<Words>,
    source: Option<Words>,
    good_for: Option<serde_yaml::Value>,
    blind: Option<bool>,
    takes: Option<String>,
    fresh: Option<bool>,
    below: Option<bool>,
    deviation: Option<String>,
    may_leave_out: Option<bool>,
    critical: Option<bool>,
    before: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "what is not compared is read for its shape alone")]
struct Instrument {
    unit: Option<String>,
    from: String,
    to: String,
    decimals: String,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
#[expect(dead_code, reason = "what is not compared is read for its shape alone")]
enum Words {
    One(String),
    Many(BTreeMap<String, String>),
}

/// Reads the file again and compares the ids and conditions with what the first reading made of it.
/// In words what differs, with line and column where the parser says them.
pub(super) fn differs(source: &Source, stages: &[super::Stage]) -> Option<((u32, u32), String)> {
    let file: File = match serde_yaml::from_str(source.text()) {
        Ok(f) => f,
        Err(e) => {
            return Some((
                e.location().map_or((0, 0), |l| (l.line() as u32, l.column() as u32)),
                say!("the second parser: {e}", e),
            ));
        }
    };
    let text = |g: Option<&Gate>| g.map(|g| g.source().to_owned());
    let trimmed = |t: &Option<String>| t.as_ref().map(|t| t.trim_end_matches('\n').to_owned());
    let ours: Vec<_> = stages
        .iter()
        .flat_map(|s| {
            s.steps().iter().map(|p| {
                (s.id().to_owned(), text(s.when()), p.id().to_owned(), text(p.when()), text(p.gate()))
            })
        })
        .collect();
    let theirs: Vec<_> = file
        .stages
        .iter()
        .flat_map(|s| {
            s.steps.iter().map(|p| {
                (s.stage.clone(), trimmed(&s.when), p.step.clone(), trimmed(&p.when), trimmed(&p.gate))
            })
        })
        .collect();
    if ours == theirs {
        return None;
    }
    let step = ours.iter().zip(&theirs).find(|(a, b)| a != b).map_or("", |(a, _)| a.2.as_str());
    Some(((0, 0), say!("two YAML parsers read the step `{step}` differently", step)))
}
