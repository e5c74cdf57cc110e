//! DEVELOPERS.md says what the code says: tables made from code stand in it word for word.
//!
//! After a change of the tables, write them anew: `AIRWRIT_REWRITE=1 cargo test developers`.

use airwrit::record::kinds;
use airwrit::site::fields;
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
        std::fs::write(path, format!("{before}{begin}{table}{end}{after}")).unwrap();
        return;
    }
    assert!(between == table, "{name} is out of date: AIRWRIT_REWRITE=1 cargo test developers");
}

/// One test, because rewriting must not happen twice at once.
#[test]
fn tables_are_those_of_the_code() {
    holds("line kinds", &kinds::table());
    holds("fields", &fields::tables());
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
    let mut named: Vec<String> =
        map.lines().filter_map(|l| l.strip_prefix("| `")?.split_once('`').map(|(n, _)| n.to_owned())).collect();
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
