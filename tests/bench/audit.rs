//! How long `audit` takes beside `verify`, over the same register, in the same run. `cargo bench --bench audit`; prints a table
//! and one line of JSON. `AIRWRIT_BENCH_REGISTER=FILE` takes a volume that stands already, as `airwrit demo` leaves it; else
//! `AIRWRIT_BENCH_DAYS` days of the examples are played here.
//!
//! Machines are noisy: the least of several runs counts, and the ratio.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs, dead_code)]

#[path = "../support/mod.rs"]
mod support;

use airwrit::audit::verify;
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::sign::Limits;
use airwrit::replay::{Class, replay};
use std::time::Instant;
use support::day::{Day, Plan, answers};

/// Wanted at most: `audit` over `verify`.
const RATIO: f64 = 2.0;
const RUNS: usize = 3;
const PRE_START: &str = include_str!("../../examples/answers-pre-start.yaml");
const SHUTDOWN: &str = include_str!("../../examples/answers-shutdown.yaml");

/// One permit: the whole form, both wearers in four times with gauges read, the shutdown.
fn permit(d: &mut Day) {
    let job = d.plan.job.clone();
    let n = d.open(&job);
    d.play(&n, &answers(PRE_START), false);
    d.wait(60);
    d.declare(&n, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    d.wait(60);
    d.countersign(&n, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    for _ in 0..4 {
        d.read_gauges(&n);
        for p in ["zaneta", "nikos"] {
            d.wait(30);
            d.request(&n, p, Move::OnAir).unwrap_or_else(|r| panic!("{r:?}"));
            d.request(&n, p, Move::In).unwrap_or_else(|r| panic!("{r:?}"));
        }
        d.wait(600);
        for p in ["zaneta", "nikos"] {
            d.report(Some(&n), p, Move::Out);
            d.report(Some(&n), p, Move::OffAir);
        }
        d.wait(60);
    }
    d.play(&n, &answers(SHUTDOWN), true);
    d.wait(60);
    d.hand_back(&n, "lukasz", None).unwrap_or_else(|r| panic!("{r:?}"));
    d.close(&n, "eleni").unwrap_or_else(|r| panic!("{r:?}"));
}

fn played(days: i64) -> Vec<u8> {
    let mut d = Day::enrolled(Plan::shipped());
    let begin = d.second;
    for day in 0..days {
        d.second = begin + day * 86_400 + 60;
        permit(&mut d);
    }
    d.bytes()
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
    let file = std::env::var("AIRWRIT_BENCH_REGISTER").ok();
    let days = std::env::var("AIRWRIT_BENCH_DAYS").ok().and_then(|d| d.parse().ok()).unwrap_or(5);
    let bytes = file.map_or_else(|| played(days), |f| std::fs::read(f).unwrap());
    let (verified, v) = least(|| verify(&bytes, None));
    let (again, r) = least(|| replay(&v.lines));
    let lines = v.report.lines;
    let per = |s: f64| s * 1e6 / lines as f64;
    let ratio = (verified + again) / verified;
    let found = r.of(Class::Contradicts).count();
    println!("{lines} lines, {} bytes; least of {RUNS} runs; {found} contradictions", bytes.len());
    println!("{:<28} {:>9} {:>12}", "", "s", "µs a line");
    println!("{:<28} {:>9.3} {:>12.1}", "verify", verified, per(verified));
    println!("{:<28} {:>9.3} {:>12.1}", "replay, after it", again, per(again));
    println!("{:<28} {:>9.3} {:>12.1}", "audit, both", verified + again, per(verified + again));
    let good = if ratio <= RATIO { "within" } else { "OVER" };
    println!("audit over verify {ratio:.2}, wanted at most {RATIO}: {good}");
    println!(
        "{}",
        serde_json::json!({ "bench": "audit", "lines": lines, "bytes": bytes.len(), "verify_s": verified, "replay_s": again,
            "ratio": ratio, "limit": RATIO, "contradictions": found })
    );
    assert_eq!(found, 0, "{:?}", r.findings);
}
