//! How long verifying a station-year takes beside the bare signatures in it, in the same run: `VerifyingKey::from_bytes` and
//! `verify_strict` over the same keys, messages and signatures, on as many threads, persons' keys decoded once. And beside
//! `examples/verify.py`, whose signatures are plain Python, on the first lines only. `cargo bench --bench verify`; prints a
//! table and one line of JSON. `AIRWRIT_BENCH_REGISTER=DIR` takes a register's folder that stands already; else
//! `AIRWRIT_BENCH_DAYS` days of `airwrit demo --days` are made here.
//!
//! Machines are noisy: the least of several runs counts, in turns, and the ratio.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs)]

use airwrit::audit::bounded::{InMemory, Means, verdict};
use airwrit::audit::{Verdict, verify_volumes};
use airwrit::record::line::Line;
use airwrit::record::pour::PIECE;
use airwrit::trust::Roster;
use airwrit::trust::sshsig::{self, HashName};
use ed25519_dalek::{Signature, VerifyingKey};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// Wanted at least: the bare signatures over verifying.
const RATIO: f64 = 0.85;
const RUNS: usize = 3;
const DAYS: u32 = 250;
const PYTHON_LINES: usize = 300;

/// What one line has to be checked: who sealed it, what, and so for a person's act.
struct Triple {
    /// A station's key is new on every line: its bytes. A person's: which one.
    key: Result<[u8; 32], usize>,
    signed: Vec<u8>,
    sign: [u8; 64],
}

fn volumes(dir: &Path) -> Vec<PathBuf> {
    let all = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path());
    let mut all: Vec<PathBuf> = all.filter(|p| p.extension().is_some_and(|e| e == "jsonl")).collect();
    all.sort();
    all
}

fn triples(volumes: &[Vec<u8>]) -> (Vec<Triple>, Vec<VerifyingKey>, usize) {
    let (mut out, mut persons, mut lines) = (Vec::new(), Vec::new(), 0);
    let mut by_name: BTreeMap<String, usize> = BTreeMap::new();
    let mut next: Vec<u8> = Vec::new();
    let hex = |s: &str| data_encoding::HEXLOWER.decode(s.as_bytes()).unwrap();
    for bytes in volumes {
        for raw in bytes.split(|b| *b == b'\n').filter(|r| !r.is_empty()) {
            let line = Line::read(raw).unwrap();
            lines += 1;
            if let Some(seal) = line.data.text("seal").filter(|_| line.kind.name == "enrol") {
                next = hex(seal);
                let text = line.data.get("roster").and_then(|r| r.text("text")).unwrap();
                for key in Roster::read(text).unwrap().persons.iter().flat_map(|p| &p.keys) {
                    by_name.entry(key.key.fingerprint()).or_insert_with(|| {
                        let raw: [u8; 32] = hex(&key.key.to_hex()).try_into().unwrap();
                        persons.push(VerifyingKey::from_bytes(&raw).unwrap());
                        persons.len() - 1
                    });
                }
            }
            out.push(Triple {
                key: Ok(next.as_slice().try_into().unwrap()),
                signed: sshsig::tbs(sshsig::SEAL, HashName::Sha256, line.body()),
                sign: *line.seal(),
            });
            if let Some(act) = &line.act {
                let signed = sshsig::tbs(sshsig::SIGN, HashName::Sha256, &act.bytes);
                out.push(Triple { key: Err(by_name[&act.key]), signed, sign: act.sign });
            }
            next = hex(&line.next.to_hex());
        }
    }
    (out, persons, lines)
}

fn bare(triples: &[Triple], persons: &[VerifyingKey], threads: usize) -> f64 {
    let begun = Instant::now();
    std::thread::scope(|s| {
        for part in triples.chunks(triples.len().div_ceil(threads)) {
            s.spawn(move || {
                for t in part {
                    let sign = Signature::from_bytes(&t.sign);
                    let good = match t.key {
                        Ok(raw) => VerifyingKey::from_bytes(&raw).unwrap().verify_strict(&t.signed, &sign),
                        Err(person) => persons[person].verify_strict(&t.signed, &sign),
                    };
                    assert!(good.is_ok());
                }
            });
        }
    });
    begun.elapsed().as_secs_f64()
}

/// As `airwrit verify` does it: no line is kept.
fn checked(volumes: &[Vec<u8>]) -> f64 {
    let parts: Vec<&[u8]> = volumes.iter().map(Vec::as_slice).collect();
    let source = InMemory { volumes: &parts, piece: PIECE };
    let begun = Instant::now();
    let report = verdict(&source, None, &[], Means::here());
    let took = begun.elapsed().as_secs_f64();
    assert_eq!(report.verdict, Verdict::Unproven, "{:?}", report.said);
    took
}

/// As `airwrit audit` begins: every line is kept, for what is done with them after it.
fn kept(volumes: &[Vec<u8>]) -> f64 {
    let parts: Vec<&[u8]> = volumes.iter().map(Vec::as_slice).collect();
    let begun = Instant::now();
    let verified = verify_volumes(&parts, None, &[]);
    let took = begun.elapsed().as_secs_f64();
    assert_eq!(verified.report.verdict, Verdict::Unproven, "{:?}", verified.report.said);
    took
}

/// Seconds a line of `examples/verify.py`, over the first lines; without Python, nothing.
fn python(volumes: &[Vec<u8>]) -> Option<f64> {
    let first =
        volumes.first()?.split_inclusive(|b| *b == b'\n').take(PYTHON_LINES).collect::<Vec<_>>().concat();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("0001.jsonl");
    std::fs::write(&file, first).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/verify.py");
    let begun = Instant::now();
    let out = Command::new("python3").arg(script).arg(&file).output().ok()?;
    let took = begun.elapsed().as_secs_f64();
    (out.status.code() == Some(5)).then_some(took / PYTHON_LINES as f64)
}

fn main() {
    let made = tempfile::tempdir().unwrap();
    let days = std::env::var("AIRWRIT_BENCH_DAYS").ok().and_then(|d| d.parse().ok()).unwrap_or(DAYS);
    let dir = std::env::var("AIRWRIT_BENCH_REGISTER").map(PathBuf::from).unwrap_or_else(|_| {
        let into = made.path().join("year");
        let begun = Instant::now();
        let lines = airwrit::cli::demo::made(&into, days, 2).unwrap_or_else(|_| panic!("the year"));
        println!("{lines} lines made in {:.1} s", begun.elapsed().as_secs_f64());
        into.join("register")
    });
    let volumes: Vec<Vec<u8>> = volumes(&dir).iter().map(|p| std::fs::read(p).unwrap()).collect();
    let bytes: usize = volumes.iter().map(Vec::len).sum();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let (triples, persons, lines) = triples(&volumes);
    let (mut bare_s, mut verify_s, mut kept_s) = (f64::INFINITY, f64::INFINITY, f64::INFINITY);
    for _ in 0..RUNS {
        bare_s = bare_s.min(bare(&triples, &persons, threads));
        verify_s = verify_s.min(checked(&volumes));
        kept_s = kept_s.min(kept(&volumes));
    }
    let python_line = python(&volumes);
    let per = |s: f64| s * 1e6 / lines as f64;
    let ratio = bare_s / verify_s;
    println!(
        "{lines} lines, {bytes} bytes, {} signatures; {threads} threads; least of {RUNS} runs",
        triples.len()
    );
    println!("{:<28} {:>9} {:>12}", "", "s", "µs a line");
    println!("{:<28} {:>9.3} {:>12.1}", "bare signatures", bare_s, per(bare_s));
    println!("{:<28} {:>9.3} {:>12.1}", "verify", verify_s, per(verify_s));
    println!("{:<28} {:>9.3} {:>12.1}", "the same, every line kept", kept_s, per(kept_s));
    if let Some(p) = python_line {
        println!(
            "{:<28} {:>9} {:>12.1}   (the first {PYTHON_LINES} lines)",
            "examples/verify.py",
            "",
            p * 1e6
        );
    }
    let good = if ratio >= RATIO { "within" } else { "UNDER" };
    println!("bare over verify {ratio:.3}, wanted at least {RATIO}: {good}");
    println!(
        "{}",
        serde_json::json!({ "bench": "verify", "lines": lines, "bytes": bytes, "signatures": triples.len(),
            "threads": threads, "bare_s": bare_s, "verify_s": verify_s, "kept_s": kept_s, "ratio": ratio, "wanted": RATIO,
            "python_us_a_line": python_line.map(|p| p * 1e6) })
    );
}
