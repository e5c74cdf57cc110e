//! The words that people sign, filled in, and the cautions on every paper. Templates stand in `said/`; a name that is
//! missing is an error, never an empty place. What is shown is what is signed: the whole of it is in the act, so that a later
//! [`VERSION`] of them changes nothing of what was signed.

use minijinja::{Environment, UndefinedBehavior};
use std::collections::BTreeMap;

macro_rules! texts {
    ($($name:literal),*) => {
        /// The templates by name.
        pub const TEXTS: &[(&str, &str)] = &[$(($name, include_str!(concat!("said/", $name, ".txt")))),*];
    };
}
texts!(
    "declare",
    "countersign",
    "refuse",
    "hand_back",
    "close",
    "cancel",
    "reinstate",
    "extend_asked",
    "extend_given",
    "hand_over_outgoing",
    "hand_over_incoming",
    "form",
    "file",
    "enrol",
    "clock",
    "cautions",
    "not_an_entry_permit"
);

/// The version of all of these together: one more whenever a word of them changes. Paper says which it was drawn with.
pub const VERSION: u32 = 1;

/// The usual cautions, one under the other; README carries the same.
pub fn cautions() -> Vec<String> {
    // A template without a name to fill in cannot fail to be filled in; a test renders it.
    said("cautions", &[]).unwrap_or_default().lines().map(str::to_owned).collect()
}

/// What an air permit is not, said on every page.
pub fn not_an_entry_permit() -> String {
    said("not_an_entry_permit", &[]).unwrap_or_default()
}

/// The words of a template with these values.
pub fn said(name: &str, values: &[(&str, String)]) -> Result<String, String> {
    let source = TEXTS.iter().find(|(n, _)| *n == name).map(|(_, t)| *t).ok_or("there are no such words")?;
    let mut env = Environment::new();
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.set_fuel(Some(10_000));
    let context: BTreeMap<String, String> =
        values.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
    env.render_str(source.trim_end(), context).map_err(|e| format!("the words to sign cannot be made: {e}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever changes a word raises the version, and writes the new sum here.
    #[test]
    fn a_changed_word_is_another_version() {
        use sha2::{Digest, Sha256};
        let mut hash = Sha256::new();
        for (name, text) in TEXTS {
            hash.update(format!("{name} {}\n{text}", text.len()));
        }
        let sum = data_encoding::HEXLOWER.encode(&hash.finalize());
        assert_eq!((VERSION, &sum[..16]), (1, "17cbe65f1b8cd56f"));
        assert_eq!((cautions().len(), not_an_entry_permit().starts_with("Air permit.")), (3, true));
    }

    #[test]
    fn a_missing_name_is_an_error_and_values_are_no_templates() {
        assert!(said("close", &[("permit", "A".into())]).is_err());
        let v = |s: &str| s.to_owned();
        let words = said("close", &[("permit", v("{{ set }}")), ("set", v("S")), ("place", v("P"))]);
        assert_eq!(
            words.as_deref(),
            Ok("I accept the hand-back of permit {{ set }} for S at P and end it. It cannot be used again.")
        );
    }
}
