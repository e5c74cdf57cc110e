//! Registers written by another hand, each damaged in one named way or still good, with the verdict
//! expected: the two verifiers must say the same of every one.
//!
//! `tests/corpus/` holds a few of them and is always walked. The whole corpus is made by
//! `python3 tests/python/corpus.py OUT`; with `AIRWRIT_CORPUS=OUT` it is walked too, and an empty or
//! missing folder fails. A line that stands in `expected.json` must be named by the first thing said. Beside an excerpt
//! the register may stand that it is cut out of, as `whole.lines`: our own excerpt must be the same bytes.

use crate::support::same_where_little_is_kept;
use airwrit::actions::roster_sign;
use airwrit::audit::{Later, Trust, Verdict, verify_excerpt, verify_volumes};
use airwrit::record::excerpt;
use airwrit::record::line::Line;
use airwrit::trust::Roster;
use serde_json::Value;
use std::path::Path;

const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Sound => "sound",
        Verdict::Unproven => "unproven",
        Verdict::Broken => "broken",
        Verdict::CouldNot => "could not",
    }
}

/// Rosters given from outside: `later-N.yaml` with their signatures beside them.
fn later(folder: &Path) -> Vec<Later> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n.starts_with("later-"))
        .collect();
    names.sort();
    let text = |name: &String| std::fs::read_to_string(folder.join(name)).unwrap();
    let mut out: Vec<Later> = names
        .iter()
        .filter(|n| n.ends_with(".yaml"))
        .map(|file| {
            let roster = Roster::read(&text(file)).unwrap();
            let mut signs: Vec<_> = names
                .iter()
                .filter(|n| n.starts_with(file.as_str()) && n.ends_with(".sig"))
                .map(|n| roster_sign(&roster, &text(n)).unwrap())
                .collect();
            signs.sort_by_key(|s| s.key.to_ssh());
            Later { roster, signs }
        })
        .collect();
    out.sort_by_key(|l| l.roster.version);
    out
}

/// What is wrong with our verdict on one register, if anything.
fn differs(folder: &Path) -> Option<String> {
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "jsonl"))
        .collect();
    files.sort();
    let volumes: Vec<Vec<u8>> = files.iter().map(|f| std::fs::read(f).unwrap()).collect();
    let volumes: Vec<&[u8]> = volumes.iter().map(Vec::as_slice).collect();
    let expected: Value =
        serde_json::from_slice(&std::fs::read(folder.join("expected.json")).unwrap()).unwrap();
    let custodians: Vec<String> =
        expected["custodians"].as_array().unwrap().iter().map(|c| c.as_str().unwrap().to_owned()).collect();
    let threshold = expected["threshold"].as_u64().map_or(custodians.len(), |n| n as usize);
    let trust = (!custodians.is_empty()).then_some(Trust { custodians, threshold });
    let of_one = expected["excerpt"].as_bool() == Some(true);
    let verified = match volumes.as_slice() {
        [bytes] if of_one => verify_excerpt(bytes, trust.as_ref()),
        volumes => {
            let later = later(folder);
            let verified = verify_volumes(volumes, trust.as_ref(), &later);
            same_where_little_is_kept(&verified.report, volumes, trust.as_ref(), &later);
            verified
        }
    };
    let cut = std::fs::read(folder.join("whole.lines")).ok().map(|whole| cut_out(&whole, &volumes));
    if let Some(Err(why)) = cut {
        return Some(format!("{}: {why}", folder.file_name().unwrap().display()));
    }
    let report = verified.report;
    let said = report.said.first();
    let got =
        (word(report.verdict), said.map(|s| s.rule), said.and_then(|s| s.line).map(|l| (l.volume, l.line)));
    let volume = expected["volume"].as_u64().unwrap_or(1) as u32;
    let line = expected["line"].as_u64().map(|l| (volume, l));
    let wanted = (expected["verdict"].as_str().unwrap(), expected["rule"].as_str(), line);
    (got != wanted).then(|| {
        format!(
            "{}: got {got:?}, wanted {wanted:?}: {}",
            folder.file_name().unwrap().display(),
            said.map_or("", |s| s.why.as_str())
        )
    })
}

/// Whether our excerpt of a register is the one that stands here: of the permit that is opened in it last.
fn cut_out(whole: &[u8], here: &[&[u8]]) -> Result<(), String> {
    let lines = |bytes: &[u8]| -> Vec<Line> {
        bytes.split(|b| *b == b'\n').filter(|l| !l.is_empty()).map(|l| Line::read(l).unwrap()).collect()
    };
    let opened =
        lines(here[0]).into_iter().rfind(|l| l.kind.name == "open").and_then(|l| l.permit.clone()).unwrap();
    let ours = excerpt::of(&lines(whole), &opened).unwrap();
    if ours == here[0] {
        return Ok(());
    }
    let seqs = |bytes: &[u8]| lines(bytes).iter().map(|l| l.seq.to_string()).collect::<Vec<_>>().join(" ");
    Err(format!("our excerpt of {opened} has the lines {}, wanted {}", seqs(&ours), seqs(here[0])))
}

/// Walks every folder of a corpus; the number of registers.
fn walk(corpus: &Path) -> usize {
    let mut folders: Vec<_> = std::fs::read_dir(corpus)
        .unwrap_or_else(|e| panic!("the corpus {} cannot be read: {e}", corpus.display()))
        .map(|e| e.unwrap().path())
        .filter(|p| p.is_dir())
        .collect();
    folders.sort();
    assert!(!folders.is_empty(), "the corpus {} holds no register", corpus.display());
    let wrong: Vec<String> = folders.iter().filter_map(|f| differs(f)).collect();
    assert!(wrong.is_empty(), "{} of {} differ:\n{}", wrong.len(), folders.len(), wrong.join("\n"));
    folders.len()
}

#[test]
fn the_registers_kept_here_get_their_verdicts() {
    let n = walk(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/corpus")));
    assert!(n >= 25, "{n} registers are kept here");
}

#[test]
fn the_whole_corpus_gets_its_verdicts_where_it_is_given() {
    if let Some(corpus) = std::env::var_os("AIRWRIT_CORPUS") {
        println!("{} registers", walk(Path::new(&corpus)));
    }
}
