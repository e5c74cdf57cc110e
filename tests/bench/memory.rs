//! How much memory verifying takes at its peak, in a process of its own, for a register of 100,000 lines and one of 1,000,000:
//! the days of a true one again and again (`long.rs`). `cargo bench --bench memory`; prints a table and one line of JSON.
//! `AIRWRIT_BENCH_REGISTER=DIR` takes the days from a register that stands already, `AIRWRIT_BENCH_KEEP=DIR` leaves the long
//! ones there and takes those that it left before, `AIRWRIT_BENCH_LINES=A,B` asks for other lengths.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs)]

#[allow(dead_code, reason = "seeds are asked for where lines are added")]
mod long;

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

const LINES: [u64; 2] = [100_000, 1_000_000];
const DAYS: u32 = 40;
/// MiB at most, and between the longest and the shortest.
const MOST: f64 = 64.0;
const APART: f64 = 2.0;

/// In a process of its own: `airwrit verify`, then the peak in KiB.
fn child(register: &str) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut outside = airwrit::cli::Outside {
        terminal: false,
        input: &mut std::io::empty(),
        out: &mut out,
        err: &mut err,
        second: &airwrit::disk::second,
        random: &mut airwrit::disk::SystemRandom,
        state_folder: None,
        page: airwrit::page::serve,
        aside: airwrit::cli::Aside::default(),
        face: airwrit::cli::Face::default(),
    };
    let code = airwrit::cli::run(["airwrit", "verify", register].map(std::ffi::OsString::from), &mut outside);
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or("0 kB").trim().to_owned();
    println!("{code}\n{}\n{}", peak.trim_end_matches(" kB"), String::from_utf8_lossy(&out));
}

struct Measured {
    lines: u64,
    bytes: u64,
    seconds: f64,
    peak: f64,
}

fn measure(register: &Path, lines: u64) -> Measured {
    let file = register.join("0001.jsonl");
    let begun = Instant::now();
    let me = std::env::current_exe().unwrap();
    let came = Command::new(me).arg("child").arg(register).output().unwrap();
    let seconds = begun.elapsed().as_secs_f64();
    let said = String::from_utf8(came.stdout).unwrap();
    let mut rows = said.lines();
    let code = rows.next().unwrap();
    let peak = rows.next().unwrap().parse::<f64>().unwrap() / 1024.0;
    // Nobody vouches for its custodians here: unproven, and every line checks.
    let whole = format!("all {lines} lines check");
    assert!(code == "5" && said.contains(&whole), "{said}");
    Measured { lines, bytes: std::fs::metadata(file).unwrap().len(), seconds, peak }
}

fn days(into: &Path) -> Vec<u8> {
    let dir = std::env::var("AIRWRIT_BENCH_REGISTER").map(PathBuf::from).unwrap_or_else(|_| {
        airwrit::cli::demo::made(&into.join("days"), DAYS, 2).unwrap_or_else(|_| panic!("the days"));
        into.join("days/register")
    });
    std::fs::read(dir.join("0001.jsonl")).unwrap()
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, what, register] = args.as_slice()
        && what == "child"
    {
        return child(register);
    }
    let made = tempfile::tempdir().unwrap();
    let into = std::env::var("AIRWRIT_BENCH_KEEP").map_or_else(|_| made.path().to_owned(), PathBuf::from);
    let asked = std::env::var("AIRWRIT_BENCH_LINES").ok();
    let lines: Vec<u64> =
        asked.map_or(LINES.to_vec(), |l| l.split(',').map(|n| n.parse().unwrap()).collect());
    let mut volume = Vec::new();
    let mut all = Vec::new();
    for n in lines {
        let register = into.join(n.to_string());
        if !register.is_dir() {
            if volume.is_empty() {
                volume = days(made.path());
            }
            std::fs::create_dir_all(&register).unwrap();
            let mut out = BufWriter::new(std::fs::File::create(register.join("0001.jsonl")).unwrap());
            let covers = long::write(&volume, n, &mut out);
            out.flush().unwrap();
            println!("{n} lines made, of {covers} days");
        }
        all.push(measure(&register, n));
    }
    println!("{:>10} {:>14} {:>9} {:>11} {:>9}", "lines", "bytes", "s", "µs a line", "peak MiB");
    for m in &all {
        let each = m.seconds * 1e6 / m.lines as f64;
        println!("{:>10} {:>14} {:>9.1} {:>11.1} {:>9.1}", m.lines, m.bytes, m.seconds, each, m.peak);
    }
    let most = all.iter().map(|m| m.peak).fold(0.0, f64::max);
    let least = all.iter().map(|m| m.peak).fold(f64::INFINITY, f64::min);
    let good = if most < MOST && most - least <= APART { "within" } else { "OVER" };
    println!(
        "peak {most:.1} MiB, wanted under {MOST}; {:.2} apart, wanted at most {APART}: {good}",
        most - least
    );
    let rows: Vec<_> = all
        .iter()
        .map(|m| serde_json::json!({ "lines": m.lines, "bytes": m.bytes, "seconds": m.seconds, "peak_mib": m.peak }))
        .collect();
    println!(
        "{}",
        serde_json::json!({ "bench": "memory", "most_mib": MOST, "apart_mib": APART, "registers": rows })
    );
}
