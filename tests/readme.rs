//! The README is run. Every fenced block marked `sh` is read; its lines that begin with `airwrit ` or
//! `cargo run --release -- ` are run, in order, by the real program in an empty folder that holds copies of
//! `checklists`, `examples` and `keys`. Blocks marked otherwise are not run.
//!
//! A line is expected to end with exit code 0 unless it ends with a comment `# exit N`. A line that asks for
//! a passphrase is given the demo's. A line may go on after a backslash. Everything else in a block marked
//! `sh` must be a comment, empty, or one of the lines that build or test ([`SKIPPED`]).

use crate::support::shell::{copy, shipped};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// Beginnings of lines that are read over.
const SKIPPED: &[&str] = &[
    "cargo build",
    "cargo test",
    "cargo install",
    "git clone",
    "cd ",
    "ls",
    "cat ",
    "sh ",
    "./.ci",
    "python3 ",
];

/// A command of the README: its line, its words, the exit code wanted.
#[derive(Debug, PartialEq)]
struct Step {
    line: usize,
    words: Vec<String>,
    code: i32,
}

/// Words as a shell splits them: spaces, quotes, a backslash before a character.
fn split(text: &str) -> Result<Vec<String>, String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote = None;
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        match (quote, c) {
            (Some(q), c) if q == c => quote = None,
            (Some(_), c) => word.get_or_insert_default().push(c),
            (None, '"' | '\'') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, '\\') => word.get_or_insert_default().push(chars.next().ok_or("a backslash at the end")?),
            (None, '#') if word.is_none() => break,
            (None, '|' | '>' | '<' | ';' | '&' | '$' | '`' | '*') => {
                return Err(format!("`{c}` needs a shell; mark the block text, or write it without"));
            }
            (None, c) if c.is_whitespace() => words.extend(word.take()),
            (None, c) => word.get_or_insert_default().push(c),
        }
    }
    if quote.is_some() {
        return Err("a quote is not closed".into());
    }
    words.extend(word);
    Ok(words)
}

fn steps(readme: &str) -> Result<Vec<Step>, String> {
    let mut out = Vec::new();
    let mut inside: Option<bool> = None;
    let mut lines = readme.lines().enumerate();
    while let Some((n, line)) = lines.next() {
        if let Some(mark) = line.trim_start().strip_prefix("```") {
            inside = if inside.is_some() { None } else { Some(mark.trim() == "sh") };
            continue;
        }
        if inside != Some(true) {
            continue;
        }
        let mut text = line.trim().trim_start_matches("$ ").to_owned();
        while let Some(head) = text.strip_suffix('\\') {
            let (_, next) = lines.next().ok_or(format!("line {}: nothing after the backslash", n + 1))?;
            text = format!("{head} {}", next.trim());
        }
        if text.is_empty() || text.starts_with('#') || SKIPPED.iter().any(|s| text.starts_with(s)) {
            continue;
        }
        let rest = ["airwrit ", "cargo run --release -- "].iter().find_map(|p| text.strip_prefix(p));
        let rest = rest.ok_or(format!("line {}: `{text}` is not a line that can be run here", n + 1))?;
        let code = match text.rsplit_once("# exit ") {
            Some((_, code)) => {
                code.trim().parse().map_err(|_| format!("line {}: `{code}` is no exit code", n + 1))?
            }
            None => 0,
        };
        let words = split(rest).map_err(|why| format!("line {}: {why}", n + 1))?;
        out.push(Step { line: n + 1, words, code });
    }
    if inside.is_some() {
        return Err("a fenced block is not closed".into());
    }
    Ok(out)
}

/// Runs the steps in a folder; in words what went wrong.
fn run(readme: &str, folder: &Path) -> Result<usize, String> {
    let steps = steps(readme)?;
    for step in &steps {
        let mut child = Command::new(env!("CARGO_BIN_EXE_airwrit"))
            .args(&step.words)
            .current_dir(folder)
            .env("XDG_STATE_HOME", folder.join("state"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|e| e.to_string())?;
        if let Some(mut input) = child.stdin.take() {
            // A program that asks nothing closes its input early.
            let _ = input.write_all(format!("{0}\n{0}\n", airwrit::cli::demo::PASSPHRASE).as_bytes());
        }
        let done = child.wait_with_output().map_err(|e| e.to_string())?;
        if done.status.code() != Some(step.code) {
            return Err(format!(
                "line {}: `airwrit {}` ended with {:?}, wanted {}\n{}{}",
                step.line,
                step.words.join(" "),
                done.status.code(),
                step.code,
                String::from_utf8_lossy(&done.stdout),
                String::from_utf8_lossy(&done.stderr)
            ));
        }
    }
    Ok(steps.len())
}

fn prepared() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in ["checklists", "examples", "keys"] {
        if Path::new(&shipped(name)).is_dir() {
            copy(Path::new(&shipped(name)), &folder.path().join(name));
        }
    }
    folder
}

#[test]
fn every_command_of_the_readme_runs() {
    let readme = std::fs::read_to_string(shipped("README.md")).unwrap_or_default();
    let folder = prepared();
    if let Err(why) = run(&readme, folder.path()) {
        panic!("README.md: {why}");
    }
}

const SAMPLE: &str = "
```sh
cargo build --release
# find everything wrong with a file
airwrit lint checklists/pre-start.yaml \\
    examples/site.yaml
$ airwrit demo --into 'my demo'
cargo run --release -- show --register \"my demo/register\"   # a comment
airwrit verify 'my demo/register' # exit 5
```
```text
airwrit not-run
```
```
airwrit not-run either
```
";

#[test]
fn the_runner_runs_what_it_should() {
    let folder = prepared();
    assert_eq!(run(SAMPLE, folder.path()), Ok(4));
    assert!(folder.path().join("my demo/register/0001.jsonl").is_file());
}

#[test]
fn the_runner_finds_what_is_wrong() {
    let folder = prepared();
    let block = |line: &str| format!("```sh\n{line}\n```\n");
    let why = run(&block("airwrit verify nothing-here"), folder.path()).unwrap_err();
    assert!(why.contains("line 2") && why.contains("ended with Some(3), wanted 0"), "{why}");
    assert!(run(&block("airwrit verify nothing-here # exit 3"), folder.path()).is_ok());
    for bad in ["rm -rf .", "airwrit show | head", "airwrit show 'open", "airwrit show # exit soon"] {
        assert!(steps(&block(bad)).is_err(), "{bad}");
    }
    assert!(steps("```sh\nairwrit show\n").is_err());
}
