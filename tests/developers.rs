//! DEVELOPERS.md says what the code says: tables made from code stand in it word for word.
//!
//! After a change of the tables, write them anew: `AIRWRIT_REWRITE=1 cargo test developers`.

use airwrit::record::kinds;
use airwrit::site::fields;
use sha2::{Digest, Sha256};
use std::path::Path;

fn document() -> (std::path::PathBuf, String) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let text = std::fs::read_to_string(&path).unwrap();
    (path, text)
}

/// What stands between `<!-- NAME -->` and `<!-- end of NAME -->` is this table and nothing else.
fn holds(name: &str, table: &str) {
    let (path, text) = document();
    let (begin, end) = (format!("<!-- {name} -->\n\n"), format!("\n<!-- end of {name} -->\n"));
    let (before, rest) = text.split_once(&begin).unwrap_or_else(|| panic!("no place for {name}"));
    let (between, after) = rest.split_once(&end).unwrap_or_else(|| panic!("no end of {name}"));
    if between != table && std::env::var_os("AIRWRIT_REWRITE").is_some() {
        let new = path.with_extension("new");
        std::fs::write(&new, format!("{before}{begin}{table}{end}{after}")).unwrap();
        std::fs::rename(new, path).unwrap();
        return;
    }
    assert!(between == table, "{name} is out of date: AIRWRIT_REWRITE=1 cargo test developers");
}

/// One test, because rewriting must not happen twice at once.
#[test]
fn tables_are_those_of_the_code() {
    holds("line kinds", &kinds::table());
    holds("fields", &fields::tables());
    holds("rules", &rules());
    holds("imports", &imports());
}

/// What decides how a paper looks, beside the fonts: the second part of what stands in a paper's last comment.
const DRAWS: [&str; 8] = [
    "src/paper",
    "src/paper.rs",
    "src/permit/said",
    "src/show",
    "src/show.rs",
    "src/tongue",
    "src/units",
    "src/view",
];

/// What goes into what is at hand of a register.
const FOLDS: [&str; 12] = [
    "src/actions/at_hand.rs",
    "src/permit/state",
    "src/permit/state.rs",
    "src/record/aside.rs",
    "src/record/chain",
    "src/record/chain.rs",
    "src/record/json",
    "src/record/json.rs",
    "src/record/kinds",
    "src/record/kinds.rs",
    "src/record/line.rs",
    "src/trust",
];

fn paths(path: &Path, out: &mut Vec<std::path::PathBuf>) {
    if path.is_dir() {
        for entry in std::fs::read_dir(path).unwrap() {
            paths(&entry.unwrap().path(), out);
        }
    } else if path.file_stem().is_some_and(|n| n != "drawing" && n != "tests") {
        out.push(path.to_owned());
    }
}

/// A paper that another drawing made is not compared, so that a true one is never called broken.
#[test]
fn the_drawing_has_the_name_of_what_it_is_made_of() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = Vec::new();
    DRAWS.iter().for_each(|p| paths(&root.join(p), &mut all));
    all.retain(|p| !p.starts_with(root.join("src/paper/tests")));
    all.sort();
    assert!(all.len() > 50, "{} files", all.len());
    named_after(&all, "src/paper/drawing.txt", "another drawing: AIRWRIT_REWRITE=1 cargo test developers");
}

/// The file holds the beginning of the SHA-256 of names and bytes of these.
fn named_after(all: &[std::path::PathBuf], file: &str, otherwise: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut sum = Sha256::new();
    for path in all {
        let name = path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
        sum.update(name.as_bytes());
        sum.update(std::fs::read(path).unwrap());
    }
    let name = &data_encoding::HEXLOWER.encode(&sum.finalize())[..8];
    let file = root.join(file);
    if std::env::var_os("AIRWRIT_REWRITE").is_some() {
        std::fs::write(&file, name).unwrap();
    }
    let kept = std::fs::read_to_string(&file).unwrap();
    assert_eq!(kept, name, "{otherwise}");
}

/// What is at hand of a register was folded by this very program: another way of folding has another name, and what it kept
/// is not read.
#[test]
fn the_fold_has_the_name_of_what_it_is_made_of() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = Vec::new();
    FOLDS.iter().for_each(|p| paths(&root.join(p), &mut all));
    all.sort();
    assert!(all.len() > 25, "{} files", all.len());
    named_after(&all, "src/actions/folded.txt", "another fold: AIRWRIT_REWRITE=1 cargo test developers");
}

/// A test that a row of the threats names is a function of the tests, or a register of the corpus.
#[test]
fn the_tests_that_threats_name_exist() {
    let (_, text) = document();
    let rows =
        text.split_once("<!-- threats -->").unwrap().1.split_once("<!-- end of threats -->").unwrap().0;
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut code = String::new();
    for folder in ["src", "tests"] {
        files(&root.join(folder), &mut |t| code += t);
    }
    let mut named = 0;
    for row in rows.lines().filter(|l| l.starts_with("| ")).skip(1) {
        let tests = row.split('|').nth(3).unwrap();
        for test in tests.split_whitespace() {
            let name = test.trim_matches('`');
            let there =
                code.contains(&format!("fn {name}(")) || root.join("tests/corpus").join(name).is_dir();
            assert!(there, "no test {name}, named in: {row}");
            named += 1;
        }
    }
    assert!(named > 40, "{named}");
}

/// What a rule of the engine is said to read, the engine names somewhere outside the tables of fields, as a
/// text of its own or at the end of a path. A field that only says so is accepted and enforced by nobody.
#[test]
fn what_the_engine_is_said_to_read_it_names() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut code = String::new();
    for e in std::fs::read_dir(&src).unwrap() {
        let path = e.unwrap().path();
        files(&path, &mut |t| {
            if !t.contains("use crate::site::Field;") {
                code += t;
            }
        });
    }
    let table = fields::tables();
    let claimed = table.lines().filter(|l| l.ends_with("| engine |"));
    let names = claimed.filter_map(|l| l.strip_prefix("| `")?.split_once('`').map(|(n, _)| n));
    let unread: Vec<&str> = names
        .filter(|n| {
            let last = n.rsplit('.').next().unwrap_or(n);
            !code.contains(&format!("\"{last}\"")) && !code.contains(&format!(".{last}\""))
        })
        .collect();
    assert!(unread.is_empty(), "said to be read by the engine, and named nowhere: {unread:?}");
}

/// The tables in the head of `src/audit.rs`.
fn rules() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/audit.rs");
    let head = std::fs::read_to_string(path).unwrap();
    let lines = head.lines().map_while(|l| l.strip_prefix("//!")).map(str::trim);
    let mut table: String =
        lines.skip_while(|l| *l != "| word | broken |").map(|l| format!("{l}\n")).collect();
    while table.ends_with("\n\n") {
        table.pop();
    }
    table
}

/// Every room of `src/` has its line in the map, and the map names nothing that is not there.
#[test]
fn the_map_names_every_room() {
    let (_, text) = document();
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut rooms: Vec<String> = std::fs::read_dir(&src)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n.ends_with(".rs"))
        .map(|n| n.trim_end_matches(".rs").to_owned())
        .collect();
    rooms.sort();
    let map = text.split("## Where things are").nth(1).unwrap().split("\n## ").next().unwrap();
    let mut named: Vec<String> = map
        .lines()
        .filter_map(|l| l.strip_prefix("| `")?.split_once('`').map(|(n, _)| n.to_owned()))
        .collect();
    named.sort();
    assert_eq!(named, rooms);
}

/// Every dependency has its line of why.
#[test]
fn every_dependency_has_its_why() {
    let (_, text) = document();
    let cargo = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml")).unwrap();
    let mut in_list = false;
    for l in cargo.lines() {
        if l.starts_with('[') {
            in_list = l.ends_with("dependencies]");
        } else if in_list && let Some((name, _)) = l.split_once(" = ") {
            assert!(text.contains(&format!("| `{name}` |")), "{name} has no line of why");
        }
    }
}

/// What each room uses, by the `crate::` paths in its files outside their tests, in the order of the map.
fn imports() -> String {
    let (_, text) = document();
    let map = text.split("## Where things are").nth(1).unwrap().split("\n## ").next().unwrap();
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut table = String::from("| room | uses |\n|---|---|\n");
    for room in map.lines().filter_map(|l| Some(l.strip_prefix("| `")?.split_once('`')?.0)) {
        if room == "lib" || room == "main" {
            continue;
        }
        let mut used = std::collections::BTreeSet::new();
        files(&src.join(format!("{room}.rs")), &mut |t| uses(t, room, &mut used));
        files(&src.join(room), &mut |t| uses(t, room, &mut used));
        let used: Vec<String> = used.into_iter().collect();
        let words = if used.is_empty() { "-".to_owned() } else { used.join(" ") };
        table += &format!("| `{room}` | {words} |\n");
    }
    table
}

fn uses(text: &str, room: &str, used: &mut std::collections::BTreeSet<String>) {
    let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
    for path in code.split("crate::").skip(1) {
        let name: String = path.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect();
        if name != room && !name.is_empty() {
            used.insert(name);
        }
    }
}

/// Reads a file, or every file below a folder but those of tests.
fn files(at: &Path, see: &mut impl FnMut(&str)) {
    if at.is_file() {
        see(&std::fs::read_to_string(at).unwrap());
    } else if at.is_dir() {
        for e in std::fs::read_dir(at).unwrap() {
            let path = e.unwrap().path();
            if path.file_stem().is_none_or(|n| n != "tests") {
                files(&path, see);
            }
        }
    }
}
