//! The tables of languages against the words that stand in the code: none missing, none left over, every place to fill in
//! there and no other, and the paper's font has a glyph for every letter.

use airwrit::site::fields;
use airwrit::site::{Field, Holds, Need};
use airwrit::tongue::Tongue;
use clap::CommandFactory;
use std::collections::{BTreeMap, BTreeSet};

/// The words of one call, from behind its bracket: its leading string literals.
fn literals(mut code: &str, most: usize) -> Vec<String> {
    let mut out = Vec::new();
    while out.len() < most {
        code = code.trim_start();
        let Some(inside) = code.strip_prefix('"') else { break };
        let mut text = String::new();
        let mut chars = inside.char_indices();
        loop {
            let Some((at, c)) = chars.next() else { return out };
            match c {
                '"' => {
                    code = &inside[at + 1..];
                    break;
                }
                '\\' => match chars.next().map(|(_, c)| c) {
                    Some('\n') => {
                        let rest = chars.as_str();
                        let skip = rest.len() - rest.trim_start().len();
                        for _ in 0..rest[..skip].chars().count() {
                            chars.next();
                        }
                    }
                    Some('n') => text.push('\n'),
                    Some('t') => text.push('\t'),
                    Some('r') => text.push('\r'),
                    Some('0') => text.push('\0'),
                    Some(other @ ('"' | '\\')) => text.push(other),
                    other => panic!("an escape that is not read here: {other:?}"),
                },
                c => text.push(c),
            }
        }
        out.push(text);
        code = code.trim_start().strip_prefix(',').unwrap_or("");
    }
    out
}

/// Every fixed word of the code, with the file it stands in.
fn keys() -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for (name, text) in crate::house::code() {
        if name == "src/tongue.rs" {
            continue;
        }
        for (at, _) in text.match_indices("say!(") {
            let found = literals(&text[at + "say!(".len()..], 1);
            let words = found.first().unwrap_or_else(|| panic!("{name}: say! without words"));
            out.insert(words.clone(), name.clone());
        }
        for (at, _) in text.match_indices("say_n!(") {
            let behind = &text[at + "say_n!(".len()..];
            let quote = behind.find('"').unwrap();
            let found = literals(&behind[quote..], 2);
            assert_eq!(found.len(), 2, "{name}: say_n! wants two forms");
            out.insert(found.join("|"), name.clone());
        }
    }
    templates(&mut out);
    for words in airwrit::page::job_words() {
        out.entry(words).or_insert_with(|| "src/page/job.rs".into());
    }
    for fields in [fields::SET, fields::SITE, fields::JOB, fields::WEARER] {
        of_fields(fields, &mut out);
    }
    let mut command = airwrit::cli::args::Args::command();
    command.build();
    help(&command, &mut out);
    out
}

/// The words of the page's templates: `say("…")` and `say_n(n, "…", "…")` stand there as in code.
fn templates(out: &mut BTreeMap<String, String>) {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/page/templates");
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_none_or(|e| e != "html") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let name = format!("src/page/templates/{}", path.file_name().unwrap().to_str().unwrap());
        for (at, call) in text.match_indices("say(") {
            let found = literals(&text[at + call.len()..], 1);
            let words = found.first().unwrap_or_else(|| panic!("{name}: say without words"));
            out.entry(words.clone()).or_insert_with(|| name.clone());
        }
        for (at, call) in text.match_indices("say_n(") {
            let behind = &text[at + call.len()..];
            let found = literals(&behind[behind.find('"').unwrap()..], 2);
            assert_eq!(found.len(), 2, "{name}: say_n wants two forms");
            out.entry(found.join("|")).or_insert_with(|| name.clone());
        }
    }
}

/// Of fields of set, site and job what each is that must be given, told where it is missing; and the choices they offer, as
/// people read them.
fn of_fields(fields: &[Field], out: &mut BTreeMap<String, String>) {
    for field in fields {
        if field.need == Need::Required {
            out.entry(field.doc.to_owned()).or_insert_with(|| "src/site/fields.rs".into());
        }
        match field.holds {
            Holds::Choice(offered) => {
                let words = offered.iter().map(|id| airwrit::tongue::choice(id));
                // The signs of standards have no language.
                for words in words.filter(|w| !w.chars().any(char::is_uppercase)) {
                    out.entry(words).or_insert_with(|| "src/site/fields.rs".into());
                }
            }
            Holds::Items(inner) | Holds::Map(inner) if inner != fields => of_fields(inner, out),
            Holds::Id
            | Holds::Words
            | Holds::Text
            | Holds::Bool
            | Holds::Number(..)
            | Holds::Quantity(..)
            | Holds::Date
            | Holds::Span
            | Holds::TimeOfDay
            | Holds::Items(_)
            | Holds::Map(_)
            | Holds::Texts => {}
        }
    }
}

/// The texts of the help, from the command line's own definition.
fn help(command: &clap::Command, out: &mut BTreeMap<String, String>) {
    let mut texts = vec![command.get_about(), command.get_long_about(), command.get_after_help()];
    texts.extend(command.get_arguments().flat_map(|a| [a.get_help(), a.get_long_help()]));
    for text in texts.into_iter().flatten() {
        out.insert(text.to_string(), "src/cli/args.rs".into());
    }
    command.get_subcommands().for_each(|c| help(c, out));
}

/// The names of the places in a text.
fn places(text: &str) -> BTreeSet<String> {
    let parts = text.split('{').skip(1).filter_map(|p| p.split_once('}'));
    parts.map(|(name, _)| name.split(':').next().unwrap().to_owned()).collect()
}

#[test]
fn every_language_has_every_word_and_no_other() {
    let keys = keys();
    let mut wrong = Vec::new();
    for tongue in Tongue::ALL.into_iter().filter(|t| *t != Tongue::English) {
        let table = tongue.table();
        let tag = tongue.tag();
        for (english, file) in &keys {
            match table.get(english) {
                None => wrong.push(format!("{tag}: missing: {english:?} ({file})")),
                Some(own) if own.trim().is_empty() => wrong.push(format!("{tag}: blank: {english:?}")),
                Some(own) => {
                    for form in own.split('|') {
                        if places(form) != places(english) && !(english.contains('|') && form.contains('{')) {
                            wrong.push(format!("{tag}: other places: {english:?}: {form:?}"));
                        }
                    }
                    if english.contains('|') && own.split('|').count() != 3 {
                        wrong.push(format!("{tag}: wants three plural forms: {english:?}: {own:?}"));
                    }
                }
            }
        }
        wrong.extend(
            table.keys().filter(|k| !keys.contains_key(*k)).map(|k| format!("{tag}: left over: {k:?}")),
        );
    }
    if let Ok(file) = std::env::var("AIRWRIT_MISSING") {
        let all: BTreeMap<&String, &String> = keys.iter().collect();
        std::fs::write(file, serde_json::to_string_pretty(&all).unwrap()).unwrap();
    }
    assert!(wrong.is_empty(), "{} findings:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn words_are_read_from_code_as_the_compiler_reads_them() {
    assert_eq!(literals("\"a \\\n     b\", x)", 1), ["a b"]);
    assert_eq!(literals("\n \"one {n}\", \"many \\\"{n}\\\"\", x)", 2), ["one {n}", "many \"{n}\""]);
    assert_eq!(places("{a} and {b:02}"), ["a", "b"].map(str::to_owned).into());
}

/// Rooms whose words are read by people who write files and by auditors: every sentence in them is a fixed word. Foreign text, examples of
/// the gate language and what stands between two values are none.
const SAID: [&str; 11] =
    ["audit", "checklist", "disk", "finding", "gate", "lint", "replay", "report", "site", "source", "words"];
/// Texts of those rooms that nobody reads as a sentence, or that are looked for in what was said.
const NO_WORDS: [&str; 8] = [
    "worked out",
    "not known from the files alone",
    "{} {} \"{}\"",
    "this laptop's clock is {min} min behind the last line of the register",
    "on air",
    "take down ",
    "jakim języku",
    "якою мовою",
];

#[test]
fn every_sentence_about_a_file_is_a_fixed_word() {
    let mut wrong = Vec::new();
    for (name, text) in crate::house::code() {
        let room = name.trim_start_matches("src/").split(['/', '.']).next().unwrap();
        // Descriptions of fields, and examples of calls, are tables.
        if !SAID.contains(&room)
            || name.starts_with("src/site/fields")
            || name.starts_with("src/gate/functions")
        {
            continue;
        }
        let mut rest = text.as_str();
        let mut before = String::new();
        while let Some(at) = rest.find('"') {
            before.push_str(&rest[..at]);
            if before.ends_with('\'') {
                // A quotation mark as a character.
                rest = &rest[at + 1..];
                before.push('"');
                continue;
            }
            let found = literals(&rest[at..], 1);
            let words = found.first().unwrap_or_else(|| panic!("{name}: a text that does not end"));
            let end = at + 1 + closing(&rest[at + 1..]);
            let call = before.trim_end();
            let said = ["say!(", "reason ="].iter().any(|c| call.ends_with(c))
                || call.rsplit_once("say_n!(").is_some_and(|(_, since)| !since.contains(';'));
            let sentence =
                words.split(' ').filter(|w| w.len() > 1 && w.chars().all(char::is_alphabetic)).count() > 1;
            if sentence && !said && !NO_WORDS.contains(&words.as_str()) {
                wrong.push(format!("{name}: {words:?}"));
            }
            before.push('"');
            rest = &rest[end + 1..];
        }
    }
    assert!(wrong.is_empty(), "{} texts that are no fixed words:\n{}", wrong.len(), wrong.join("\n"));
}

/// Where the quotation mark stands that ends a text.
fn closing(inside: &str) -> usize {
    let mut escaped = false;
    for (at, c) in inside.char_indices() {
        match c {
            '"' if !escaped => return at,
            '\\' => escaped = !escaped,
            _ => escaped = false,
        }
    }
    inside.len()
}
