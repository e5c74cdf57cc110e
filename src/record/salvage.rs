//! What the lines of a damaged register say of people, from the first bad line on. Their bytes may be anybody's: nothing
//! is proved, folded or decided by them. It is read to get people out, and for nothing else.
//!
//! Always: whatever still reads as a line counts, whoever sealed it; somebody whom the last such line takes off air is
//! still named. Not here: the lines before the damage (`actions::look`).

use super::aside;
use super::json::Json;
use super::line::Line;
use super::volumes::Volume;
use std::collections::{BTreeMap, BTreeSet};

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Salvaged {
    /// By person: the kind of the last line that tells of them, and the outlet, if it was told.
    pub people: BTreeMap<String, (String, Option<String>)>,
    /// Members of jobs, by name: `recall_signal`, `rescue_number`, `assembly`.
    pub jobs: BTreeMap<&'static str, BTreeSet<String>>,
}

/// Members of a job that are read.
pub const OF_JOBS: [&str; 3] = ["recall_signal", "rescue_number", "assembly"];
const TALLY: [&str; 4] = ["on_air", "in", "out", "off_air"];

/// Reads what stands after so many lines.
pub fn after(volumes: &[Volume], lines: usize) -> Salvaged {
    let mut out = Salvaged::default();
    let all = volumes.iter().flat_map(|v| v.bytes.split(|b| *b == b'\n')).filter(|l| !l.is_empty());
    for line in all.skip(lines).filter_map(|raw| Line::read(raw).ok()) {
        out.take(line.kind.name, &line.data);
        for entry in aside::entered(&line.data) {
            out.take(&entry.kind, &entry.data);
        }
    }
    out
}

impl Salvaged {
    fn take(&mut self, kind: &str, data: &Json) {
        if let Some(job) = data.get("job") {
            for name in OF_JOBS {
                if let Some(words) = job.text(name).filter(|w| !w.is_empty()) {
                    self.jobs.entry(name).or_default().insert(words.to_owned());
                }
            }
        }
        let Some(person) = data.text("person").filter(|_| TALLY.contains(&kind)) else { return };
        let before = self.people.get(person).and_then(|(_, outlet)| outlet.clone());
        let outlet = data.text("outlet").map(str::to_owned).or(before);
        self.people.insert(person.to_owned(), (kind.to_owned(), outlet));
    }
}
