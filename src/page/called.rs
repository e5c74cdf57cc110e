//! What the engine calls by the words of the terminal, called as the page calls it: keys, fields, screens.
//!
//! In: a sentence that may name commands (`airwrit walk`), options (--until), and people, sets and places by their ids. Out:
//! the same in the words of the page, where nobody types an id. Not here: what the sentence says.

use super::job;
use crate::permit::bench::file;
use crate::permit::decide::{Known, crew};
use crate::site::fields::{JOB, SUMMED};
use crate::text::{listed, safe_line};
use crate::tongue::{Tongue, say, word};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, OnceLock, PoisonError};

/// What people call somebody or something that has an id. Every screen asks: the texts are read again once one of them, or
/// the roster, is another.
pub fn names(known: &Known<'_>) -> BTreeMap<String, String> {
    type Read = (Vec<String>, BTreeMap<String, String>);
    static LAST: Mutex<Option<Read>> = Mutex::new(None);
    let texts = known.chain.texts.iter().map(|((kind, id), t)| format!("{kind} {id} {}", t.text_hash));
    let people = known.chain.origin.roster.persons.iter().map(|p| format!("{} {}", p.id, p.name));
    let of: Vec<String> = texts.chain(people).collect();
    let mut last = LAST.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, names)) = last.as_ref().filter(|(before, _)| *before == of) {
        return names.clone();
    }
    let names = read(known);
    *last = Some((of, names.clone()));
    names
}

fn read(known: &Known<'_>) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    let mut put = |id: &str, name: &str| {
        // An id that the program has for a word of its own would be taken for it in the middle of a sentence.
        if id != name && !own_words().contains(id) {
            out.insert(id.to_owned(), safe_line(name).into_owned());
        }
    };
    for ((kind, id), text) in &known.chain.texts {
        let Ok(values) = file(kind, &text.text) else { continue };
        let own = |v: &crate::site::Values| v.words("name").map(|w| w.own().to_owned());
        match kind.as_str() {
            "set" => own(&values).into_iter().for_each(|name| put(id, &name)),
            "site" => {
                for v in ["places", "supply_points"].iter().flat_map(|list| values.items(list)) {
                    own(v).into_iter().for_each(|name| put(v.id(), &name));
                }
                for p in values.items("people") {
                    put(p.id(), &crew::named(known, p.id()));
                }
            }
            _ => {}
        }
    }
    for p in &known.chain.origin.roster.persons {
        put(&p.id, &crew::named(known, &p.id));
    }
    out
}

/// Every word of the program, in all its languages.
fn own_words() -> &'static BTreeSet<String> {
    static READ: OnceLock<BTreeSet<String>> = OnceLock::new();
    READ.get_or_init(|| {
        let tables = [Tongue::Polish, Tongue::Ukrainian].map(Tongue::table);
        let texts = tables.iter().flat_map(|t| t.iter().flat_map(|(english, own)| [english, own]));
        let words = texts.flat_map(|t| t.split(|c: char| !is_of_id(c)));
        words.map(str::to_lowercase).collect()
    })
}

const fn is_of_id(c: char) -> bool {
    c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'
}

/// A sentence in which people, sets and places are called by their names: `Name (id)` too.
fn by_name(text: &str, name_of: &dyn Fn(&str) -> Option<String>) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(is_of_id) {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let end = from.find(|c| !is_of_id(c)).unwrap_or(from.len());
        let (word, after) = from.split_at(end);
        rest = after;
        // Part of a longer word, of a figure, of an address.
        let joins = |c: char| c.is_alphanumeric() || "_./:@#".contains(c);
        let ends = |after: &str| {
            let mut next = after.chars();
            let (first, second) = (next.next(), next.next());
            first.is_none_or(|c| !joins(c) || ".:".contains(c) && second.is_none_or(char::is_whitespace))
        };
        let apart = out.chars().next_back().is_none_or(|c| !joins(c)) && ends(after);
        let Some(name) = Some(word).filter(|_| apart).and_then(name_of) else {
            out.push_str(word);
            continue;
        };
        // Its name stands before it already; with the id, where that tells two of one name apart.
        if format!("{out}{word})").ends_with(&name) {
            out.push_str(word);
            continue;
        }
        let told = out.strip_suffix(" (").is_some_and(|o| o.ends_with(&name));
        match after.strip_prefix(')').filter(|_| told) {
            Some(after) => {
                out.truncate(out.len() - " (".len());
                rest = after;
            }
            None => out.push_str(&name),
        }
    }
    out.push_str(rest);
    out
}

/// What a command of the terminal is called on the page.
fn called(command: &str) -> Option<&'static str> {
    Some(match command {
        "walk" | "answer" => say!("the steps"),
        "reading" => say!("the gauges on the board"),
        "board" | "on" | "in" | "out" | "off" => say!("the board"),
        "roll-call" => say!("the roll call"),
        "call-out" => say!("the red key below"),
        "event" => say!("an alarm"),
        "suspend" => say!("stop the work"),
        "declare" => say!("declare"),
        "countersign" => say!("countersign"),
        "refuse" => say!("refuse"),
        "reinstate" => say!("reinstate"),
        "extend" => say!("a later end"),
        "hand-over" => say!("hand over"),
        "take-over" => say!("take over"),
        "hand-back" => say!("hand back"),
        "close" => say!("close"),
        "cancel" => say!("cancel"),
        "open" => say!("open a permit"),
        "set" => say!("what happens to the set"),
        "relieve" => say!("the tick beside who stands in, on the board"),
        "taken-down" => say!("tick it on the permit's screen"),
        "clock" => say!("the laptop's clock, from the site"),
        "witness" => say!("another station's register, from the set"),
        "excerpt" => say!("signed elsewhere, from the permit"),
        "take-in" => say!("signed elsewhere, from the permit or the site"),
        "note" => say!("words for the record"),
        "show" => say!("the permit's screen"),
        _ => return None,
    })
}

/// A command that is called otherwise with an option, or with the word after it.
fn called_with(command: &str, option: &str) -> Option<&'static str> {
    Some(match (command, option) {
        ("walk", "--shutdown") => say!("Shut the set down, on the permit's screen"),
        ("open", "--shutdown") => say!("open a permit, to shut the set down alone"),
        ("on", "--report") => say!("Somebody went on air all the same, or is not planned: report it"),
        ("set", "filled") => say!("Reserve filled from, on the set's screen"),
        ("set", "--report") => say!("It has stopped, on the set's screen"),
        _ => return None,
    })
}

/// What an option of the terminal is called on the page: the words that stand at its field.
fn field(option: &str) -> Option<&'static str> {
    Some(match option {
        "--accept" => say!("the tick at each deviation"),
        "--again" => say!("what was done since"),
        "--checked" => say!("what was looked at together"),
        "--entry-permit" => say!("the later end of the entry permit"),
        "--limits" => say!("the words that narrow it"),
        "--not-seen" => say!("Or: why no gauge was read again"),
        "--seen" => say!("the fields of the gauges to be read again"),
        "--shift" => say!("The next shift takes it"),
        "--staying" => say!("Why people stay on air meanwhile; else everyone is off"),
        "--today" => say!("the day of today, from the laptop's clock"),
        "--until" => say!("Let it end earlier, at"),
        "--wearers" => say!("At most so many on air at once"),
        _ => return None,
    })
}

/// Words outside of commands: options are called as their fields, without what stands for their value.
fn fields(text: &str, out: &mut String) {
    let mut rest = text;
    while let Some(at) = rest.find("--") {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let end = from.find(|c: char| !(c.is_ascii_lowercase() || c == '-')).unwrap_or(from.len());
        let (option, after) = from.split_at(end);
        rest = after;
        let Some(words) = field(option) else {
            out.push_str(option);
            continue;
        };
        out.push_str(&say!("“{field}”", field = words));
        // `STEP=VALUE`: what is typed there stands beside the field.
        if let Some(value) = after.strip_prefix(' ') {
            let end =
                value.find(|c: char| !(c.is_ascii_uppercase() || "=:".contains(c))).unwrap_or(value.len());
            if value.get(..end).is_some_and(|v| v.len() > 1 && !v.ends_with(':')) {
                rest = value.get(end..).unwrap_or_default();
            }
        }
    }
    out.push_str(rest);
}

/// What is worked out from several fields of a job file, by what the form calls them.
fn sums(text: &str) -> String {
    SUMMED.iter().fold(text.to_owned(), |text, sum| {
        let Some(field) = JOB.iter().find(|f| f.name == sum.member) else { return text };
        let said = word(field.doc);
        if !text.contains(said) {
            return text;
        }
        let parts: Vec<String> = sum.of.iter().map(|name| job::called(name)).collect();
        let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
        text.replace(said, &listed(&parts, say!("and")))
    })
}

/// A gauge as people write it; in other languages the word has an own meaning, and the engine writes it so itself.
fn own(word: &str) -> Option<&'static str> {
    match (word, Tongue::now()) {
        ("co", Tongue::English) => Some("CO"),
        (_, Tongue::English | Tongue::Polish | Tongue::Ukrainian) => None,
    }
}

/// Words that name a command of the terminal, an option of one, or somebody or something by an id, as the page calls it; a
/// command that has no key here stays as it is.
pub fn here(text: &str, name_of: &dyn Fn(&str) -> Option<String>) -> String {
    let name_of = &|word: &str| own(word).map(str::to_owned).or_else(|| name_of(word));
    let text = &sums(text);
    let mut out = String::with_capacity(text.len());
    for (i, part) in text.split('`').enumerate() {
        let verb =
            part.strip_prefix("airwrit ").and_then(|p| p.split_whitespace().next()).filter(|_| i % 2 == 1);
        let with = verb.and_then(|v| part.split_whitespace().find_map(|option| called_with(v, option)));
        match with.or_else(|| verb.and_then(called)) {
            // A name as it stands is no part of a sentence in languages that bend their words.
            Some(called) => out += &say!("{called}", called),
            None if i % 2 == 1 && verb.is_some() => {
                out += &say!("{command} at a terminal", command = format!("`{part}`"))
            }
            None => fields(&by_name(part, name_of), &mut out),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    fn here(text: &str) -> String {
        super::here(text, &|_| None)
    }

    #[test]
    fn people_sets_and_places_are_called_by_their_names() {
        let names = [("zaneta", "Żaneta Brzęczyk"), ("heron", "Heron"), ("two", "Łukasz (two)")];
        let here = |text: &str| {
            super::here(text, &|id| names.iter().find(|(i, _)| *i == id).map(|(_, n)| (*n).to_owned()))
        };
        for (engine, page) in [
            ("zaneta is on air (in)", "Żaneta Brzęczyk is on air (in)"),
            ("MISSING: Żaneta Brzęczyk (zaneta), Nikos", "MISSING: Żaneta Brzęczyk, Nikos"),
            ("no key of `zaneta`", "no key of Żaneta Brzęczyk"),
            ("Łukasz (two) and Łukasz (three)", "Łukasz (two) and Łukasz (three)"),
            ("heron: line 7. heron", "Heron: line 7. Heron"),
            ("heron.yaml heron-2 xheron heron_a /set/heron", "heron.yaml heron-2 xheron heron_a /set/heron"),
            (
                "no fill of it is told: `airwrit set filled heron --from WHERE`",
                "no fill of it is told: Reserve filled from, on the set's screen",
            ),
            ("`airwrit doctor heron` tells", "`airwrit doctor heron` at a terminal tells"),
        ] {
            assert_eq!(here(engine), page);
        }
    }

    #[test]
    fn what_is_worked_out_from_fields_is_told_by_what_the_form_calls_them() {
        assert_eq!(
            here("30 min, wanted at most 8 min (notice, make_safe, walk and wash_down together)"),
            "30 min, wanted at most 8 min (Notice, Make safe, Walk and Wash down)"
        );
    }

    #[test]
    fn commands_and_options_are_called_by_what_stands_on_the_page() {
        assert_eq!(here("co was not read: `airwrit reading`"), "CO was not read: the gauges on the board");
        assert_eq!(here("`airwrit doctor` tells"), "`airwrit doctor` at a terminal tells");
        assert_eq!(
            here("no command -- and -no option --none NONE"),
            "no command -- and -no option --none NONE"
        );
        let told = here("give it with --seen STEP=VALUE; say why with --not-seen");
        assert!(told.ends_with("say why with “Or: why no gauge was read again”"), "{told}");
        assert!(told.starts_with("give it with “the fields of the gauges to be read again”; say"), "{told}");
        assert_eq!(here("leave --until and I"), "leave “Let it end earlier, at” and I");
    }

    #[test]
    fn a_name_is_told_as_a_name_in_languages_that_bend_their_words() {
        use crate::tongue::Tongue;
        let told = |tongue: Tongue| tongue.within(|| here("co: `airwrit reading`"));
        assert_eq!(told(Tongue::Polish), "co: „przyrządy na tablicy”");
        assert_eq!(told(Tongue::Ukrainian), "co: «прилади на табло»");
    }
}
