//! The words that people sign, filled in, and the cautions on every paper. Templates stand in `said/`, a folder for each
//! language, and are taken in the language that is bound; a template that is missing in one is an error of the compiler, a
//! name that is missing an error, never an empty place. What is shown is what is signed: the whole of it is in the act, so
//! that a later [`VERSION`] of them changes nothing of what was signed.

use crate::tongue::{Tongue, say};
use minijinja::{Environment, UndefinedBehavior};
use std::collections::BTreeMap;

macro_rules! texts {
    ($($name:literal),* $(,)?) => {
        /// The templates of a language by name.
        fn texts(tongue: Tongue) -> &'static [(&'static str, &'static str)] {
            match tongue {
                Tongue::English => &[$(($name, include_str!(concat!("said/en/", $name, ".txt")))),*],
                Tongue::Polish => &[$(($name, include_str!(concat!("said/pl/", $name, ".txt")))),*],
                Tongue::Ukrainian => &[$(($name, include_str!(concat!("said/uk/", $name, ".txt")))),*],
            }
        }
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
    "not_an_entry_permit",
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
    let source = texts(Tongue::now()).iter().find(|(n, _)| *n == name).map(|(_, t)| *t);
    let source = source.ok_or("there are no such words")?;
    let env = environment();
    let context: BTreeMap<String, String> =
        values.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
    env.render_str(source.trim_end(), context)
        .map_err(|e| say!("the words to sign cannot be made: {why}", why = e))
}

fn environment() -> Environment<'static> {
    let mut env = Environment::new();
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.set_fuel(Some(10_000));
    env
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever changes a word raises the version, and writes the new sum here.
    #[test]
    fn a_changed_word_is_another_version() {
        use sha2::{Digest, Sha256};
        let sum = |tongue: Tongue| {
            let mut hash = Sha256::new();
            for (name, text) in texts(tongue) {
                hash.update(format!("{name} {}\n{text}", text.len()));
            }
            data_encoding::HEXLOWER.encode(&hash.finalize())[..16].to_owned()
        };
        let sums = ["17cbe65f1b8cd56f", "e9b58815e931adbe", "f282c3580ca1077a"];
        assert_eq!((VERSION, Tongue::ALL.map(sum)), (1, sums.map(str::to_owned)));
        assert_eq!((cautions().len(), not_an_entry_permit().starts_with("Air permit.")), (3, true));
    }

    /// What stands between the braces of a text, as the template engine reads it.
    fn names(text: &str) -> Vec<String> {
        let env = environment();
        let mut names: Vec<String> =
            env.template_from_str(text).unwrap().undeclared_variables(true).into_iter().collect();
        names.sort();
        names
    }

    /// Nothing that one language says of a permit is left out in another, and each value stands in the words as it is.
    #[test]
    fn every_language_fills_in_the_same_names_line_by_line() {
        for tongue in Tongue::ALL {
            for ((name, own), (_, english)) in texts(tongue).iter().zip(texts(Tongue::English)) {
                let (lines, wanted) = (own.lines(), english.lines());
                assert_eq!(
                    lines.map(names).collect::<Vec<_>>(),
                    wanted.map(names).collect::<Vec<_>>(),
                    "{tongue:?} {name}"
                );
                assert!(own.ends_with('\n') && !own.ends_with("\n\n"), "{tongue:?} {name}");
                let values: Vec<(String, String)> =
                    names(own).into_iter().map(|n| (n.clone(), format!("<{n}>"))).collect();
                let values: Vec<(&str, String)> =
                    values.iter().map(|(n, v)| (n.as_str(), v.clone())).collect();
                let words = tongue.within(|| said(name, &values)).unwrap();
                assert!(values.iter().all(|(_, v)| words.contains(v)) && !words.contains("{{"), "{words}");
                // One value the less, and nothing is signed.
                if let Some((_, less)) = values.split_last() {
                    assert!(tongue.within(|| said(name, less)).is_err(), "{tongue:?} {name}");
                }
            }
        }
    }

    #[test]
    fn no_language_is_signed_in_the_words_of_another() {
        for (i, (name, english)) in texts(Tongue::English).iter().enumerate() {
            let (polish, ukrainian) = (texts(Tongue::Polish)[i].1, texts(Tongue::Ukrainian)[i].1);
            assert!(english.is_ascii(), "{name}");
            let own = |text: &str, letters: &str| text.chars().any(|c| letters.contains(c));
            assert!(own(polish, "ąćęłńóśźż") && polish != *english, "{name}");
            assert!(own(ukrainian, "єіїґабвд") && !own(ukrainian, "ыэъё"), "{name}");
        }
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
