//! Linting and judging a checklist of 10, 100, 1,000 and 3,000 steps: what each step costs must not grow with their number.
//! And one gate by itself. `cargo bench --bench judging`; prints a table and one line of JSON.
//!
//! Machines are noisy: the least of several runs counts, and how the largest form compares with the one of a hundred
//! steps, in the same run. Ten steps are shown, not compared: there, what a form costs once weighs most.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs, dead_code)]

#[path = "../support/mod.rs"]
mod support;

use airwrit::checklist::Checklist;
use airwrit::gate::{Fact, Facts, Name, Value, Verdict};
use airwrit::lint::lint;
use airwrit::permit::bench::Bench;
use airwrit::permit::walk;
use airwrit::units::Quantity;
use airwrit::view::Standing;
use std::fmt::Write;
use std::hint::black_box;
use std::time::Instant;
use support::day::{Day, Plan};

const SIZES: [usize; 4] = [10, 100, 1000, 3000];
/// Wanted at most: a step of the largest form over one of a hundred.
const RATIO: f64 = 1.5;
/// Wanted at most, for one gate.
const GATE_NS: f64 = 1000.0;
const RUNS: usize = 5;
/// A stage holds so many steps.
const STAGE: usize = 50;

/// A form of so many readings, each held against a limit and the reading before it.
fn form(steps: usize) -> String {
    let mut out = String::from("checklist: large\nrevision: 1\ntitle: Large\nfor: work\nstages:\n");
    for n in 0..steps {
        if n % STAGE == 0 {
            write!(
                out,
                "  - stage: part_{0}\n    title: Part {0}\n    any_order: true\n    steps:\n",
                n / STAGE
            )
            .unwrap();
        }
        let before = if n % STAGE == 0 { String::new() } else { format!(" and r{n} <= r{} + 30 bar", n - 1) };
        writeln!(
            out,
            "      - {{step: r{n}, ask: G{n}, because: W, fix: F, source: S, reading: {{unit: bar, from: 0, to: 350, \
             decimals: 0}}, gate: r{n} >= 150 bar{before}}}"
        )
        .unwrap();
    }
    out
}

fn least(mut run: impl FnMut()) -> f64 {
    (0..RUNS)
        .map(|_| {
            let begun = Instant::now();
            run();
            begun.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Seconds to lint it, and to judge it whole once every step is answered.
fn measured(steps: usize) -> (f64, f64) {
    let text = form(steps);
    let linted = least(|| {
        let (_, findings) = lint("large.yaml", black_box(text.as_bytes()));
        // Nothing is wrong with its steps; what every form of ours must be about is not in it.
        assert!(findings.iter().all(|f| f.code == "missing-subject"), "{findings:?}");
    });
    let read = Checklist::read("large.yaml", text.as_bytes());
    let sha = read.checklist.unwrap().sha256().to_owned();
    let mut day = Day::opened(Plan { work: text, ..Plan::small() });
    let n = day.number.clone();
    for step in 0..steps {
        let (name, asked) = (format!("r{step}"), format!("G{step}"));
        let said =
            [("form", sha.as_str()), ("shown", &asked), ("step", &name), ("unit", "bar"), ("value", "207")];
        day.on_permit(&n, "answer", &said);
    }
    let judged = day.on(&n, |k, p, t| {
        least(|| {
            let stands = walk::walk(&Bench::new(k.state, p, t, k.now));
            assert!(stands.len() == steps && stands.iter().all(|s| s.standing == Standing::Open));
        })
    });
    (linted, judged)
}

/// One reading, as a bench has it at hand.
struct One(Fact);

impl Facts for One {
    fn fact(&self, _: &Name) -> Fact {
        self.0.clone()
    }
    fn today(&self) -> jiff::civil::Date {
        jiff::civil::date(2026, 11, 25)
    }
}

fn main() {
    println!("{:>6} {:>12} {:>12} {:>12} {:>12}", "steps", "lint, ms", "µs a step", "judge, ms", "µs a step");
    let mut each = Vec::new();
    for steps in SIZES {
        let (linted, judged) = measured(steps);
        let per = |s: f64| s * 1e6 / steps as f64;
        println!(
            "{steps:>6} {:>12.3} {:>12.2} {:>12.3} {:>12.2}",
            linted * 1e3,
            per(linted),
            judged * 1e3,
            per(judged)
        );
        each.push((steps, per(linted), per(judged)));
    }
    let (hundred, most) = (each[1], each[3]);
    let (lint_ratio, judge_ratio) = (most.1 / hundred.1, most.2 / hundred.2);
    let read = Checklist::read("one.yaml", form(1).as_bytes());
    let form = read.checklist.unwrap();
    let gate = form.step("r0").unwrap().1.gate().unwrap();
    let facts = One(Fact::Is {
        value: Value::Quantity(Quantity::read("207 bar").unwrap()),
        shown: "207 bar".into(),
        label: "Gauge 0".into(),
    });
    let times = 100_000;
    let with = least(|| {
        for _ in 0..times {
            assert!(black_box(gate.judge(black_box(&facts))) == Verdict::Open);
        }
    });
    // Making the fact is the bench's work, not the gate's.
    let without = least(|| {
        for _ in 0..times {
            black_box(facts.fact(black_box(&Vec::new())));
        }
    });
    let gate_ns = (with - without) * 1e9 / f64::from(times);
    let good = |yes: bool| if yes { "within" } else { "OVER" };
    println!("lint, 3,000 over 100: {lint_ratio:.2}, wanted at most {RATIO}: {}", good(lint_ratio <= RATIO));
    println!(
        "judge, 3,000 over 100: {judge_ratio:.2}, wanted at most {RATIO}: {}",
        good(judge_ratio <= RATIO)
    );
    println!("one gate: {gate_ns:.0} ns, wanted under {GATE_NS}: {}", good(gate_ns < GATE_NS));
    println!(
        "{}",
        serde_json::json!({ "bench": "judging", "us_a_step": each.iter().map(|(n, l, j)| serde_json::json!({ "steps": n, "lint": l,
            "judge": j })).collect::<Vec<_>>(), "lint_ratio": lint_ratio, "judge_ratio": judge_ratio, "limit": RATIO,
            "gate_ns": gate_ns, "gate_limit_ns": GATE_NS })
    );
}
