//! The texts that a set, a site or a checklist went by: who put each in force, when, and what it changed.
//!
//! For whoever asks afterwards. In: chain and lines. Out: final words. Decides nothing.

use crate::permit::decide::Known;
use crate::permit::since::differences;
use crate::record::line::Line;
use crate::text::safe_line;
use crate::time::{clock, for_people};
use crate::tongue::say;
use std::collections::BTreeMap;

/// Every text of this id in force so far, oldest first; `None` if there was none. A set, a site and a checklist may
/// have the same id.
pub fn texts(known: &Known<'_>, lines: &[Line], id: &str) -> Option<Vec<String>> {
    let mut last: BTreeMap<&str, &str> = BTreeMap::new();
    let mut out = Vec::new();
    for line in lines {
        let kind = line.kind.name;
        if !matches!(kind, "set" | "site" | "form") || line.data.text(kind) != Some(id) {
            continue;
        }
        let (Some(act), Some(text)) = (&line.act, line.data.text("text")) else { continue };
        let what = match last.insert(kind, text) {
            None => say!("the first one").to_owned(),
            Some(before) => match differences(before, text) {
                same if same.is_empty() => say!("written otherwise, and says the same").to_owned(),
                changed => changed.join("; "),
            },
        };
        let by = safe_line(known.chain.origin.roster.name_of(&act.by)).into_owned();
        let file = match kind {
            "form" => say!("checklist file"),
            "site" => say!("site file"),
            _ => say!("set file"),
        };
        let (time, line_no) = (for_people(&line.time, &line.zone), line.seq);
        out.push(if act.time == line.time {
            say!(
                "{file} in force from {time}, approved by {name} (line {line}): {what}",
                file,
                time,
                name = by,
                line = line_no,
                what
            )
        } else {
            say!(
                "{file} in force from {time}, approved by {name}, signed at {signed} by their own clock (line {line}): {what}",
                file,
                time,
                name = by,
                signed = clock(&act.time, &line.zone),
                line = line_no,
                what
            )
        });
    }
    (!out.is_empty()).then_some(out)
}
