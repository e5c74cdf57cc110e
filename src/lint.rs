//! Looking at any file of ours: what kind it is, and everything wrong with it.
//!
//! The first key says the kind: `checklist:`, `set:`, `site:`, `job:`. Not here: rosters and registers,
//! which are verified, not linted.

#[cfg(test)]
mod tests;

use crate::checklist::{Checklist, missing_subjects};
use crate::finding::{Finding, Place};
use crate::site::{self, read_job, read_set, read_site};
use crate::tongue::say;

/// What a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A checklist.
    Checklist,
    /// A set, site or job file.
    Site(site::Kind),
    /// None of them.
    Unknown,
}

/// The kind of a file by its first key, without judging it.
pub fn kind_of(bytes: &[u8]) -> Kind {
    let text = String::from_utf8_lossy(bytes);
    // Also where the file has faults that stop it from being read, the first key is plain to see.
    let first = text
        .lines()
        .map(|l| l.trim_start_matches('\u{feff}').trim())
        .find(|l| !l.is_empty() && !l.starts_with(['#', '%']) && *l != "---");
    match first.and_then(|l| l.split_once(':')).map(|(k, _)| k.trim_matches(['"', '\''])) {
        Some("checklist") => Kind::Checklist,
        Some("set") => Kind::Site(site::Kind::Set),
        Some("site") => Kind::Site(site::Kind::Site),
        Some("job") => Kind::Site(site::Kind::Job),
        Some(_) | None => Kind::Unknown,
    }
}

/// Last good days in a file of ours that are over on a day: a warning each. A line whose day cannot be found is none.
pub fn overdue(file: &str, bytes: &[u8], today: jiff::civil::Date) -> Vec<Finding> {
    let text = String::from_utf8_lossy(bytes);
    let mut out = Vec::new();
    for (n, line) in (1..).zip(text.lines()) {
        let line = line.split(" #").next().unwrap_or_default();
        for field in LAST_GOOD {
            let key = format!("{field}:");
            for (at, _) in line.match_indices(&key) {
                let day = line
                    .get(at + key.len()..)
                    .unwrap_or_default()
                    .trim_start()
                    .trim_start_matches(['"', '\'']);
                if let Some(day) = day.get(..10).and_then(|d| d.parse::<jiff::civil::Date>().ok())
                    && day < today
                {
                    let before = line.get(..at).unwrap_or_default().chars().count();
                    let column = u32::try_from(before + 1).unwrap_or(0);
                    let place = Place { file: file.to_owned(), line: n, column };
                    let message = say!("`{field}` was {day}: overdue on {today}", field, day, today);
                    out.push(
                        Finding::warning("overdue", place, message)
                            .hint(say!("examine, test or replace it, then write the new day")),
                    );
                }
            }
        }
    }
    out
}

/// Fields that hold a last good day.
const LAST_GOOD: [&str; 3] = ["examination_due", "test_due", "replace_by"];

/// Everything found in a file, by place. For a form also the life-critical subjects it leaves out.
pub fn lint(file: &str, bytes: &[u8]) -> (Kind, Vec<Finding>) {
    let kind = kind_of(bytes);
    let findings = match kind {
        Kind::Checklist => {
            let mut reading = Checklist::read(file, bytes);
            if let Some(c) = &reading.checklist {
                reading.findings.extend(missing_subjects(file, c));
            }
            reading.findings
        }
        Kind::Site(site::Kind::Set) => read_set(file, bytes).findings,
        Kind::Site(site::Kind::Site) => read_site(file, bytes).findings,
        Kind::Site(site::Kind::Job) => read_job(file, bytes).findings,
        Kind::Unknown => {
            let place = Place { file: file.to_owned(), line: 0, column: 0 };
            let message = say!("it cannot be told what this file is");
            let mut found = crate::source::Source::read(file, bytes).1;
            found.push(
                Finding::error("unknown-kind", place, message)
                    .hint(say!("the first key must be checklist, set, site or job")),
            );
            found
        }
    };
    (kind, findings)
}
