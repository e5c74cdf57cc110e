//! The words that people sign, filled in. Templates stand in `said/`; a name that is missing is an
//! error, never an empty place. What is shown is what is signed: the whole of it is in the act.

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
    "clock"
);

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
