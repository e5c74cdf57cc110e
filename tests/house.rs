//! House-keeping: who may import whom, where the outside is touched, what may stand in the tree.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Rooms from the bottom up, and what each may import. A room imports only rooms above it in this
/// table; an entry no longer used may stand.
const ROOMS: &[(&str, &[&str])] = &[
    ("tongue", &[]),
    ("finding", &["tongue"]),
    ("text", &[]),
    ("units", &["tongue"]),
    ("time", &["tongue"]),
    ("view", &["tongue"]),
    ("air", &["tongue", "units"]),
    ("world", &[]),
    ("source", &["tongue", "finding", "text", "units"]),
    ("words", &["tongue", "finding", "text", "source"]),
    ("gate", &["tongue", "units", "text", "air"]),
    ("site", &["tongue", "finding", "text", "units", "source", "words", "gate", "air"]),
    ("checklist", &["tongue", "finding", "text", "units", "source", "words", "gate", "site"]),
    ("lint", &["tongue", "finding", "source", "site", "checklist"]),
    ("trust", &["tongue", "finding", "text", "time", "source"]),
    ("record", &["tongue", "text", "time", "view", "world", "trust"]),
    (
        "permit",
        &[
            "tongue",
            "finding",
            "text",
            "units",
            "time",
            "view",
            "words",
            "gate",
            "site",
            "checklist",
            "trust",
            "record",
        ],
    ),
    ("plan", &["tongue", "text", "units", "air", "site"]),
    (
        "show",
        &[
            "tongue",
            "text",
            "time",
            "view",
            "units",
            "words",
            "gate",
            "site",
            "checklist",
            "record",
            "permit",
            "plan",
        ],
    ),
    ("audit", &["tongue", "text", "time", "trust", "record", "view", "permit"]),
    (
        "replay",
        &[
            "finding",
            "tongue",
            "text",
            "units",
            "time",
            "view",
            "gate",
            "site",
            "checklist",
            "trust",
            "record",
            "permit",
        ],
    ),
    ("report", &["tongue", "text", "units", "time", "view", "site", "record", "permit", "audit", "replay"]),
    ("paper", &["tongue", "view", "text"]),
    ("disk", &["tongue", "world"]),
    ("actions", &["tongue", "text", "time", "world", "trust", "record", "view", "permit"]),
    (
        "cli",
        &[
            "tongue",
            "finding",
            "text",
            "units",
            "air",
            "time",
            "view",
            "world",
            "words",
            "gate",
            "site",
            "checklist",
            "lint",
            "trust",
            "record",
            "permit",
            "plan",
            "show",
            "audit",
            "replay",
            "report",
            "paper",
            "disk",
            "actions",
        ],
    ),
    (
        "page",
        &[
            "finding",
            "text",
            "units",
            "time",
            "view",
            "world",
            "checklist",
            "gate",
            "site",
            "trust",
            "record",
            "permit",
            "plan",
            "show",
            "audit",
            "paper",
            "disk",
            "actions",
            "tongue",
            "cli",
        ],
    ),
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &Path, out: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for entry in entries {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            if !["target", ".git", "__pycache__", "demo"].contains(&name.as_str()) {
                files(&path, out);
            }
        } else {
            out.push(path);
        }
    }
}

/// Every file of the tree under `folder`, by its path from the root.
fn tree(folder: &str) -> Vec<(String, PathBuf)> {
    let mut out = Vec::new();
    files(&root().join(folder), &mut out);
    let mut named: Vec<(String, PathBuf)> = out
        .into_iter()
        .map(|p| (p.strip_prefix(root()).unwrap().to_string_lossy().replace('\\', "/"), p))
        .collect();
    named.sort();
    named
}

/// The code of the library: comments, unit tests and their files left out.
pub fn code() -> Vec<(String, String)> {
    tree("src")
        .into_iter()
        .filter(|(name, _)| {
            name.ends_with(".rs") && !name.ends_with("/tests.rs") && !name.contains("/tests/")
        })
        .map(|(name, path)| {
            let text = std::fs::read_to_string(path).unwrap();
            let text = text.split("#[cfg(test)]\nmod tests {").next().unwrap().to_owned();
            let lines = text.lines().filter(|l| !l.trim_start().starts_with("//"));
            (name, lines.collect::<Vec<_>>().join("\n"))
        })
        .collect()
}

fn room_of(name: &str) -> String {
    let inside = name.strip_prefix("src/").unwrap();
    inside.split('/').next().unwrap().trim_end_matches(".rs").to_owned()
}

/// Names after every `crate::`; of a group, all of them.
fn imported(text: &str) -> Vec<String> {
    let name = |s: &str| s.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect::<String>();
    let mut out = Vec::new();
    for (at, _) in text.match_indices("crate::") {
        let rest = &text[at + "crate::".len()..];
        match rest.strip_prefix('{') {
            Some(group) => {
                let mut depth = 0;
                let mut fresh = true;
                for (i, c) in group.char_indices() {
                    match c {
                        '{' => depth += 1,
                        '}' if depth == 0 => break,
                        '}' => depth -= 1,
                        ',' if depth == 0 => fresh = true,
                        c if fresh && c.is_ascii_alphabetic() => {
                            out.push(name(&group[i..]));
                            fresh = false;
                        }
                        _ => {}
                    }
                }
            }
            None => out.push(name(rest)),
        }
    }
    out
}

#[test]
fn rooms_import_only_rooms_below_them() {
    for (i, (room, may)) in ROOMS.iter().enumerate() {
        for m in *may {
            let at = ROOMS.iter().position(|(r, _)| r == m).unwrap_or_else(|| panic!("{m} is no room"));
            assert!(at < i, "the table lets {room} import {m}, which stands above it");
        }
    }
    let mut wrong = BTreeSet::new();
    let mut seen = BTreeSet::new();
    for (name, text) in code() {
        let room = room_of(&name);
        if room == "lib" || room == "main" {
            continue;
        }
        let Some((_, may)) = ROOMS.iter().find(|(r, _)| *r == room) else {
            wrong.insert(format!("{name}: `{room}` stands in no line of the table"));
            continue;
        };
        seen.insert(room.clone());
        for other in imported(&text) {
            if other != room && !may.contains(&other.as_str()) {
                wrong.insert(format!("{name}: {room} imports {other}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let all: BTreeSet<String> = ROOMS.iter().map(|(r, _)| (*r).to_owned()).collect();
    assert_eq!(seen, all, "the table and src/ name other rooms");
}

#[test]
fn the_import_reader_reads_groups() {
    let text = "use crate::{text, units::{Decimal, table}, view::Standing};\nlet x = crate::time::utc(0);";
    assert_eq!(imported(text), ["text", "units", "view", "time"]);
}

#[test]
fn the_outside_is_touched_in_one_place() {
    const OUTSIDE: &[&str] = &[
        "Instant::now",
        "SystemTime",
        "Timestamp::now",
        "Zoned::now",
        "std::env::",
        "std::fs::",
        "fs::File",
        "std::net",
        "std::process::Command",
        "getrandom::",
        "thread_rng",
        "io::stdin",
        "io::stdout",
        "io::stderr",
    ];
    let mut wrong = Vec::new();
    for (name, text) in code() {
        if ["src/disk.rs", "src/main.rs"].contains(&name.as_str()) {
            continue;
        }
        wrong.extend(OUTSIDE.iter().filter(|o| text.contains(**o)).map(|o| format!("{name}: {o}")));
        for print in ["println!", "eprintln!", "dbg!"] {
            if text.contains(print) {
                wrong.push(format!("{name}: {print}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_lints_that_hold_the_rules_are_on() {
    let cargo = std::fs::read_to_string(root().join("Cargo.toml")).unwrap();
    for lint in [
        "unsafe_code = \"forbid\"",
        "unwrap_used = \"deny\"",
        "panic = \"deny\"",
        "disallowed_methods = \"deny\"",
    ] {
        assert!(cargo.contains(lint), "{lint}");
    }
    let clippy = std::fs::read_to_string(root().join(".clippy.toml")).unwrap();
    for method in ["std::time::SystemTime::now", "jiff::Timestamp::now", "std::env::var", "std::fs::read"] {
        assert!(clippy.contains(&format!("path = \"{method}\"")), "{method}");
    }
    let allowed: Vec<String> = code()
        .into_iter()
        .filter(|(_, text)| text.contains("clippy::disallowed_methods"))
        .map(|(name, _)| name)
        .collect();
    assert_eq!(allowed, ["src/disk.rs", "src/main.rs"]);
    for (name, text) in code() {
        for (at, _) in text.match_indices(".expect(") {
            let words: String = text[at..].chars().skip(".expect(".len()).take_while(|c| *c != ')').collect();
            let said = words.trim().trim_matches('"');
            assert!(said.split_whitespace().count() >= 3, "{name}: an expect without its invariant: {words}");
        }
    }
}

#[test]
fn every_file_says_what_it_is() {
    let mut wrong = Vec::new();
    for folder in ["src", "tests"] {
        for (name, path) in tree(folder) {
            if name.ends_with(".rs") && !std::fs::read_to_string(path).unwrap().starts_with("//! ") {
                wrong.push(name);
            }
        }
    }
    assert!(wrong.is_empty(), "without a header: {wrong:?}");
}

/// Quoted codes given to `Finding::error`, `Finding::warning` and their like: `"gate-type"`.
fn codes() -> BTreeMap<String, BTreeSet<String>> {
    let mut out: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (name, text) in code() {
        for call in ["Finding::error(", "Finding::warning("] {
            for (at, _) in text.match_indices(call) {
                let rest = text[at + call.len()..].trim_start();
                if let Some(quoted) = rest.strip_prefix('"') {
                    let code: String = quoted.chars().take_while(|c| *c != '"').collect();
                    out.entry(code).or_default().insert(name.clone());
                }
            }
        }
    }
    out
}

#[test]
fn finding_codes_are_words_of_one_shape() {
    let codes = codes();
    assert!(codes.len() > 5, "{codes:?}");
    for code in codes.keys() {
        let good = code.len() <= 40
            && code
                .split('-')
                .all(|w| !w.is_empty() && w.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit()));
        assert!(good, "`{code}` in {:?}", codes[code]);
    }
}

#[test]
fn a_code_belongs_to_one_room() {
    for (code, at) in codes() {
        let rooms: BTreeSet<String> = at.iter().map(|n| room_of(n)).collect();
        assert!(rooms.len() == 1, "`{code}` is said in {rooms:?}; one code has one meaning");
    }
}

#[test]
fn step_ids_are_unique_over_the_shipped_forms_unless_they_mean_the_same() {
    let mut seen: BTreeMap<String, String> = BTreeMap::new();
    for (name, path) in tree("checklists") {
        let bytes = std::fs::read(path).unwrap();
        let list =
            airwrit::checklist::Checklist::read(&name, &bytes).checklist.unwrap_or_else(|| panic!("{name}"));
        let mut here = BTreeSet::new();
        for (_, step) in list.steps() {
            assert!(here.insert(step.id().to_owned()), "{name}: `{}` twice", step.id());
            if let Some(before) = seen.insert(step.id().to_owned(), name.clone()) {
                assert_eq!(before, name, "`{}` stands in two forms", step.id());
            }
        }
    }
    assert!(seen.len() > 60, "{}", seen.len());
}

#[test]
fn the_top_level_is_a_table_of_contents() {
    const MAY: &[&str] = &[
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "src",
        "checklists",
        "tests",
        "examples",
        "keys",
        "target",
        "demo",
    ];
    for entry in std::fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        let good = MAY.contains(&name.as_str()) || name.starts_with('.') || name.starts_with("LICENSE");
        assert!(good, "`{name}` stands at the top level");
    }
}

#[test]
fn nothing_unfinished_and_no_path_of_a_machine_stands_in_the_tree() {
    // Put together, so that this file does not hold them.
    let words: Vec<String> =
        [("TO", "DO"), ("FIX", "ME"), ("XX", "X:"), ("/ro", "ot/"), ("/wo", "rk/"), ("/ho", "me/")]
            .iter()
            .map(|(a, b)| format!("{a}{b}"))
            .collect();
    let mut wrong = Vec::new();
    for folder in ["src", "tests", "checklists", "examples", "keys"] {
        for (name, path) in tree(folder) {
            let text = String::from_utf8_lossy(&std::fs::read(path).unwrap()).into_owned();
            for (n, line) in text.lines().enumerate() {
                wrong.extend(
                    words.iter().filter(|w| line.contains(*w)).map(|w| format!("{name}:{}: {w}", n + 1)),
                );
            }
        }
    }
    for name in ["Cargo.toml", "README.md", "DEVELOPERS.md", ".ci/run"] {
        let text = std::fs::read_to_string(root().join(name)).unwrap_or_default();
        wrong.extend(words.iter().filter(|w| text.contains(*w)).map(|w| format!("{name}: {w}")));
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
