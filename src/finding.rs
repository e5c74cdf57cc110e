//! One shape for everything the program has to say about an input: a checklist, a set file, a
//! roster. Findings are collected, all of them, before anything is refused.
//!
//! Not here: refusals of requests (`permit`) and verdicts on registers (`audit`).

use crate::tongue::say;
use serde::Serialize;
use std::fmt;

/// How serious a finding is. Only an [`Level::Error`] refuses the input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// The input is refused.
    Error,
    /// The input is taken; somebody should look.
    Warning,
}

/// Where in an input: file as the user named it, line and column from 1 (column in characters).
/// Line 0 means the file as a whole.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Place {
    /// The file as the user named it.
    pub file: String,
    /// Line, from 1; 0 for the whole file.
    pub line: u32,
    /// Column in characters, from 1; 0 for the whole line or file.
    pub column: u32,
}

/// One thing found in an input.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Stable code, lower case with hyphens, such as `unknown-name`. Each has a test that provokes it.
    pub code: &'static str,
    /// Error or warning.
    pub level: Level,
    /// Where.
    pub place: Place,
    /// What was got and what was wanted, one sentence, lower case, no final stop.
    pub message: String,
    /// What to type or change, if that can be said.
    pub hint: Option<String>,
}

impl Finding {
    /// An error with a code, a place and a message.
    pub fn error(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Finding { code, level: Level::Error, place, message: message.into(), hint: None }
    }

    /// A warning with a code, a place and a message.
    pub fn warning(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Finding { code, level: Level::Warning, place, message: message.into(), hint: None }
    }

    /// The same finding with a hint.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, self.column) {
            (0, _) => write!(f, "{}", self.file),
            (l, 0) => write!(f, "{}:{l}", self.file),
            (l, c) => write!(f, "{}:{l}:{c}", self.file),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let level = match self.level {
            Level::Error => say!("error"),
            Level::Warning => say!("warning"),
        };
        write!(f, "{}: {level}[{}]: {}", self.place, self.code, self.message)?;
        if let Some(h) = &self.hint {
            write!(f, "\n  {}", say!("hint: {hint}", hint = h))?;
        }
        Ok(())
    }
}

/// True if any finding refuses the input.
pub fn any_error(findings: &[Finding]) -> bool {
    findings.iter().any(|f| f.level == Level::Error)
}

/// What is found, in English; in every other language the same is found at the same places, in other words. A word that is
/// the same in all of them was left in English.
#[cfg(test)]
#[track_caller]
pub(crate) fn in_every_tongue(find: impl Fn() -> Vec<Finding>) -> Vec<Finding> {
    use crate::tongue::Tongue;
    let english = Tongue::English.within(&find);
    for tongue in Tongue::ALL.into_iter().filter(|t| *t != Tongue::English) {
        let own = tongue.within(&find);
        let bare = |all: &[Finding]| -> Vec<_> {
            all.iter().map(|f| (f.code, f.level, f.place.clone(), f.hint.is_some())).collect()
        };
        assert_eq!(bare(&own), bare(&english), "{tongue:?}");
        for (own, english) in own.iter().zip(&english) {
            assert_ne!(own.message, english.message, "{tongue:?}: {english}");
            assert!(own.hint.is_none() || own.hint != english.hint, "{tongue:?}: {english}");
        }
    }
    english
}
