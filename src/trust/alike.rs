//! Names that look alike: letters of two scripts in one word, and two persons whose names are told apart by the eye
//! only with luck.
//!
//! In: a roster. Out: words for whoever signs it. Refuses nothing: people are called what they are called.
//! Source: pairs of letters from Unicode's confusables (UTS #39), Latin, Greek and Cyrillic, from memory.

use super::Roster;
use crate::tongue::say;
use std::collections::BTreeMap;

/// Cyrillic and Greek letters, each with the Latin one that it is taken for.
const PAIRS: &[(char, char)] = &[
    ('а', 'a'),
    ('в', 'b'),
    ('е', 'e'),
    ('к', 'k'),
    ('м', 'm'),
    ('н', 'h'),
    ('о', 'o'),
    ('р', 'p'),
    ('с', 'c'),
    ('т', 't'),
    ('у', 'y'),
    ('х', 'x'),
    ('і', 'i'),
    ('ј', 'j'),
    ('ѕ', 's'),
    ('ԁ', 'd'),
    ('ԛ', 'q'),
    ('ԝ', 'w'),
    ('α', 'a'),
    ('β', 'b'),
    ('ε', 'e'),
    ('ζ', 'z'),
    ('η', 'h'),
    ('ι', 'i'),
    ('κ', 'k'),
    ('μ', 'm'),
    ('ν', 'v'),
    ('ο', 'o'),
    ('ρ', 'p'),
    ('τ', 't'),
    ('υ', 'y'),
    ('χ', 'x'),
];

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Script {
    Latin,
    Greek,
    Cyrillic,
}

fn script(c: char) -> Option<Script> {
    match c {
        'A'..='Z' | 'a'..='z' | '\u{c0}'..='\u{24f}' | '\u{1e00}'..='\u{1eff}' => Some(Script::Latin),
        '\u{370}'..='\u{3ff}' | '\u{1f00}'..='\u{1fff}' => Some(Script::Greek),
        '\u{400}'..='\u{52f}' => Some(Script::Cyrillic),
        _ => None,
    }
}

fn word(script: Script) -> &'static str {
    match script {
        Script::Latin => say!("Latin"),
        Script::Greek => say!("Greek"),
        Script::Cyrillic => say!("Cyrillic"),
    }
}

/// The name as a tired eye reads it.
fn skeleton(name: &str) -> String {
    let lower = name.chars().flat_map(char::to_lowercase).filter(|c| !c.is_whitespace());
    lower.map(|c| PAIRS.iter().find(|(from, _)| *from == c).map_or(c, |(_, to)| *to)).collect()
}

/// What to look at twice among the names and ids of a roster.
pub fn look_twice(roster: &Roster) -> Vec<String> {
    let mut out = Vec::new();
    let mut seen: BTreeMap<String, (&str, &str)> = BTreeMap::new();
    for p in &roster.persons {
        for part in p.name.split_whitespace() {
            let mut scripts: Vec<Script> = part.chars().filter_map(script).collect();
            scripts.dedup();
            if let [first, second, ..] = scripts.as_slice() {
                out.push(say!(
                    "LOOK TWICE: the name of `{id}`, {name}, mixes letters of {first} and \
                               {second} in one word",
                    id = p.id,
                    name = crate::text::safe_line(&p.name),
                    first = word(*first),
                    second = word(*second)
                ));
                break;
            }
        }
        if let Some((id, name)) = seen.insert(skeleton(&p.name), (&p.id, &p.name)) {
            out.push(say!(
                "LOOK TWICE: `{id}`, {name}, and `{other}`, {other_name}, look alike",
                id,
                name = crate::text::safe_line(name),
                other = p.id,
                other_name = crate::text::safe_line(&p.name)
            ));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_looks_alike_has_one_skeleton() {
        // The second has a Cyrillic o, the third is Greek throughout.
        assert_eq!(skeleton("Olga Wrona"), skeleton("Olga Wr\u{43e}na"));
        assert_eq!(skeleton("ANNA"), skeleton("\u{391}NN\u{391}"));
        assert_ne!(skeleton("Ines"), skeleton("Olga"));
    }
}
