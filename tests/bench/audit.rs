//! How long `audit` takes beside `verify`, over the same register, in the same run: verifying, and replaying after it, each on
//! as many threads as there are cores. `cargo bench --bench audit`; prints a table and one line of JSON.
//! `AIRWRIT_BENCH_REGISTER=DIR` takes a register's folder that stands already; else `AIRWRIT_BENCH_DAYS` days of
//! `airwrit demo --days` are made here.
//!
//! Machines are noisy: the least of several runs counts, and the ratio.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs)]

use airwrit::audit::verify_volumes;
use airwrit::replay::{Class, replay};
use std::path::PathBuf;
use std::time::Instant;

/// Wanted at most: `audit` over `verify`.
const RATIO: f64 = 2.0;
const RUNS: usize = 5;
const DAYS: u32 = 20;

fn volumes(dir: &std::path::Path) -> Vec<Vec<u8>> {
    let all = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path());
    let mut all: Vec<PathBuf> = all.filter(|p| p.extension().is_some_and(|e| e == "jsonl")).collect();
    all.sort();
    all.iter().map(|p| std::fs::read(p).unwrap()).collect()
}

fn least<T>(mut run: impl FnMut() -> T) -> (f64, T) {
    let mut best = None;
    for _ in 0..RUNS {
        let begun = Instant::now();
        let out = run();
        let took = begun.elapsed().as_secs_f64();
        best = match best {
            Some((t, o)) if t <= took => Some((t, o)),
            Some(_) | None => Some((took, out)),
        };
    }
    best.unwrap()
}

fn main() {
    let made = tempfile::tempdir().unwrap();
    let dir = std::env::var("AIRWRIT_BENCH_REGISTER").map(PathBuf::from).unwrap_or_else(|_| {
        let days = std::env::var("AIRWRIT_BENCH_DAYS").ok().and_then(|d| d.parse().ok()).unwrap_or(DAYS);
        let into = made.path().join("days");
        airwrit::cli::demo::made(&into, days, 2).unwrap_or_else(|_| panic!("the days"));
        into.join("register")
    });
    let volumes = volumes(&dir);
    let parts: Vec<&[u8]> = volumes.iter().map(Vec::as_slice).collect();
    let bytes: usize = parts.iter().map(|p| p.len()).sum();
    let (verified, v) = least(|| verify_volumes(&parts, None, &[]));
    let (again, r) = least(|| replay(&v.lines));
    let lines = v.report.lines;
    let per = |s: f64| s * 1e6 / lines as f64;
    let ratio = (verified + again) / verified;
    let found = r.of(Class::Contradicts).count();
    println!("{lines} lines, {bytes} bytes; least of {RUNS} runs; {found} contradictions");
    println!("{:<28} {:>9} {:>12}", "", "s", "µs a line");
    println!("{:<28} {:>9.3} {:>12.1}", "verify", verified, per(verified));
    println!("{:<28} {:>9.3} {:>12.1}", "replay, after it", again, per(again));
    println!("{:<28} {:>9.3} {:>12.1}", "audit, both", verified + again, per(verified + again));
    let good = if ratio <= RATIO { "within" } else { "OVER" };
    println!("audit over verify {ratio:.2}, wanted at most {RATIO}: {good}");
    println!(
        "{}",
        serde_json::json!({ "bench": "audit", "lines": lines, "bytes": bytes, "verify_s": verified, "replay_s": again,
            "ratio": ratio, "limit": RATIO, "contradictions": found })
    );
    assert_eq!(found, 0, "{:?}", r.findings);
}
