//! The texts that a set, a site or a checklist went by: who put each in force, when, and what it changed.
//!
//! For whoever asks afterwards. In: chain and lines. Out: final words. Decides nothing.

use crate::permit::decide::Known;
use crate::permit::since::differences;
use crate::record::line::Line;
use crate::text::safe_line;
use crate::time::{clock, for_people};
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
            None => "the first one".to_owned(),
            Some(before) => match differences(before, text) {
                same if same.is_empty() => "written otherwise, and says the same".to_owned(),
                changed => changed.join("; "),
            },
        };
        let by = safe_line(known.chain.origin.roster.name_of(&act.by)).into_owned();
        let own = if act.time == line.time {
            String::new()
        } else {
            format!(", signed at {} by their own clock", clock(&act.time, &line.zone))
        };
        let called = if kind == "form" { "checklist" } else { kind };
        out.push(format!(
            "{called} file in force from {}, approved by {by}{own} (line {}): {what}",
            for_people(&line.time, &line.zone),
            line.seq
        ));
    }
    (!out.is_empty()).then_some(out)
}
