//! How fast the page answers on a large register. `cargo bench --bench page`; prints a table and one line of JSON, and fails
//! where the slowest hundredth of any screen's answers is over its limit.
//!
//! The register is played here: many permits with the small checklists, then one with the shipped ones, live, a wearer on air.
//! `AIRWRIT_BENCH_LINES` says how long it is; `AIRWRIT_BENCH_REGISTER=FOLDER` takes one that stands already. The page is another
//! process (`AIRWRIT` names another program), the load comes from this one. Memory is the page's own, as the kernel tells it.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic, missing_docs, dead_code)]

#[path = "../support/mod.rs"]
mod support;

use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::sign::Limits;
use airwrit::time::seconds;
use serde_json::json;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use support::day::{Day, Plan, answers};

/// Wanted at most, at the 99th percentile.
const LIMIT_MS: f64 = 50.0;
const TIMES: usize = 200;
/// Screens that remember what they were judged from.
const JUDGED: [&str; 5] = ["/?later=1", "/board/live", "/alarm", "/p/NUMBER", "/p/NUMBER/record"];
const JUDGED_TIMES: usize = 20;
const DAY: i64 = 86_400;
const VOLUME: &str = "0001.jsonl";
const PRE_START: &str = include_str!("../../examples/answers-pre-start.yaml");

/// A permit with the small checklists, gauges read; where `air`, both wearers in and out once, rested before.
fn small(d: &mut Day, air: bool) {
    let job = d.plan.job.clone();
    let n = d.open(&job);
    d.live(&n);
    for p in ["zaneta", "nikos"] {
        d.own(&n, p);
    }
    for _ in 0..8 {
        d.read_gauges(&n);
    }
    if air {
        d.wait(660);
        d.read_gauges(&n);
        for p in ["zaneta", "nikos"] {
            d.request(&n, p, Move::OnAir).unwrap_or_else(|r| panic!("{r:?}"));
            d.request(&n, p, Move::In).unwrap_or_else(|r| panic!("{r:?}"));
        }
        d.wait(10);
        for p in ["zaneta", "nikos"] {
            d.report(Some(&n), p, Move::Out);
            d.report(Some(&n), p, Move::OffAir);
        }
    }
    d.cancel(&n, "eleni").unwrap_or_else(|r| panic!("{r:?}"));
}

/// The permit that is looked at.
fn shipped(d: &mut Day) -> String {
    let job = d.plan.job.clone();
    let n = d.open(&job);
    d.play(&n, &answers(PRE_START), false);
    d.declare(&n, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    d.countersign(&n, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    d.read_gauges(&n);
    d.request(&n, "zaneta", Move::OnAir).unwrap_or_else(|r| panic!("{r:?}"));
    n
}

/// Days of small permits until there are so many lines, or so many days; how many days it took.
fn days(d: &mut Day, lines: usize, most: i64) -> i64 {
    let begin = d.second;
    let (mut day, mut permits) = (0, 0);
    while d.lines().len() < lines {
        // A shift is long; so many short permits fit into it.
        if d.second > begin + day * DAY + 5 * 3600 {
            stop(d);
            day += 1;
            d.second = begin + day * DAY + 60;
            if day == most {
                break;
            }
        }
        small(d, permits % 6 == 0);
        permits += 1;
        // What stands on the disk in memory is copied at every flush.
        d.station.register.set(VOLUME, Vec::new());
    }
    stop(d);
    d.second = begin + (day + 1) * DAY + 60;
    day + 1
}

/// No set runs through the night.
fn stop(d: &mut Day) {
    d.of_set("stopped", &[]);
}

fn played(lines: usize, into: &Path) {
    // The example answers are of one day; so many days before it are played as the lines take.
    let mut one = Day::enrolled(Plan::small());
    days(&mut one, lines, 1);
    let before = i64::try_from(lines / one.lines().len()).unwrap() + 1;
    let begin = airwrit::time::utc(seconds(&Plan::small().start) - before * DAY);
    let mut d = Day::enrolled(Plan::small().start(&begin));
    days(&mut d, lines, before);
    // The lines may have taken fewer days: the day that the answers are of comes all the same.
    d.second = d.second.max(seconds(&Plan::small().start));
    let whole = Plan::shipped();
    d.approve("form", &whole.work);
    d.approve("form", &whole.shutdown);
    d.plan = whole;
    shipped(&mut d);
    let mut out = Vec::new();
    for line in d.lines() {
        out.extend_from_slice(&line.raw);
        out.push(b'\n');
    }
    std::fs::create_dir_all(into).unwrap();
    std::fs::write(into.join(VOLUME), out).unwrap();
}

/// A page that was begun, and one connection to it.
struct Page {
    child: Child,
    host: String,
    cookie: String,
    reader: BufReader<TcpStream>,
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

struct Came {
    status: u16,
    cookie: String,
    body: String,
}

impl Page {
    fn begin(register: &Path, seal: &Path) -> Page {
        let program = std::env::var("AIRWRIT").unwrap_or_else(|_| env!("CARGO_BIN_EXE_airwrit").to_owned());
        let mut child = Command::new(program)
            .args(["serve", "--port", "0", "--register"])
            .arg(register)
            .arg("--seal")
            .arg(seal)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut address = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut address).unwrap();
        let (host, path) = address.trim().strip_prefix("http://").unwrap().split_once('/').unwrap();
        let reader = BufReader::new(TcpStream::connect(host).unwrap());
        reader.get_ref().set_nodelay(true).unwrap();
        let mut page = Page { child, host: host.to_owned(), cookie: String::new(), reader };
        page.cookie = page.get(&format!("/{path}")).cookie;
        // Whoever was not let in yet gets one answer on a connection.
        page.reader = BufReader::new(TcpStream::connect(&page.host).unwrap());
        page.reader.get_ref().set_nodelay(true).unwrap();
        page
    }

    fn send(&mut self, head: &str, body: &str) -> Came {
        let (host, cookie) = (&self.host, &self.cookie);
        let request = format!(
            "{head} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nOrigin: http://{host}\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        );
        self.reader.get_mut().write_all(request.as_bytes()).unwrap();
        let (mut came, mut length) = (Came { status: 0, cookie: String::new(), body: String::new() }, 0);
        loop {
            let mut line = String::new();
            assert!(self.reader.read_line(&mut line).unwrap() > 0, "the page hung up on `{head}`");
            if let Some(rest) = line.strip_prefix("HTTP/1.1 ") {
                came.status = rest[..3].parse().unwrap();
            }
            match line.trim_end().split_once(": ") {
                Some(("content-length", n)) => length = n.parse().unwrap(),
                Some(("set-cookie", c)) => came.cookie = c.split(';').next().unwrap().to_owned(),
                Some(_) => {}
                None if line == "\r\n" => break,
                None => {}
            }
        }
        let mut bytes = vec![0; length];
        self.reader.read_exact(&mut bytes).unwrap();
        came.body = String::from_utf8(bytes).unwrap();
        came
    }

    fn get(&mut self, path: &str) -> Came {
        self.send(&format!("GET {path}"), "")
    }

    /// As many as the page lets in; a person asks for one.
    fn timed(&mut self, path: &str, times: usize) -> Vec<f64> {
        self.asked(path, times, Duration::from_millis(6))
    }

    fn asked(&mut self, path: &str, times: usize, apart: Duration) -> Vec<f64> {
        (0..times)
            .map(|_| {
                std::thread::sleep(apart);
                let before = Instant::now();
                let came = self.get(path);
                let took = before.elapsed().as_secs_f64() * 1000.0;
                assert_eq!(came.status, 200, "{path}");
                took
            })
            .collect()
    }

    /// Memory now and at most, MiB.
    fn memory(&self) -> (u64, u64) {
        let text = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let of = |name: &str| {
            let line = text.lines().find_map(|l| l.strip_prefix(name)).unwrap();
            line.trim().trim_end_matches(" kB").parse::<u64>().unwrap() / 1024
        };
        (of("VmRSS:"), of("VmHWM:"))
    }
}

/// The rows of the table.
#[derive(Default)]
struct Table {
    rows: Vec<serde_json::Value>,
    over: Vec<String>,
}

impl Table {
    fn row(&mut self, name: &str, mut ms: Vec<f64>) {
        ms.sort_by(f64::total_cmp);
        let at = |share: f64| ms[((ms.len() as f64 * share) as usize).min(ms.len() - 1)];
        let (median, p99, most) = (at(0.5), at(0.99), ms[ms.len() - 1]);
        println!(
            "{name:<34}{median:>10.2}{p99:>10.2}{most:>10.2}{}",
            if p99 > LIMIT_MS { "  OVER" } else { "" }
        );
        self.rows.push(json!({ "screen": name, "median_ms": median, "p99_ms": p99, "most_ms": most }));
        if p99 > LIMIT_MS {
            self.over.push(name.to_owned());
        }
    }
}

fn main() {
    let work = tempfile::tempdir().unwrap();
    let wanted = std::env::var("AIRWRIT_BENCH_LINES").ok().and_then(|n| n.parse().ok()).unwrap_or(100_000);
    let register = std::env::var("AIRWRIT_BENCH_REGISTER").map_or_else(
        |_| {
            let into = std::env::var("AIRWRIT_BENCH_KEEP")
                .map_or_else(|_| work.path().join("register"), PathBuf::from);
            let begun = Instant::now();
            played(wanted, &into);
            println!("played in {:.0} s", begun.elapsed().as_secs_f64());
            into
        },
        PathBuf::from,
    );
    let volumes = std::fs::read_dir(&register).unwrap().map(|e| e.unwrap().path());
    let bytes: Vec<Vec<u8>> = volumes
        .filter(|p| p.extension().is_some_and(|e| e == "jsonl"))
        .map(|p| std::fs::read(p).unwrap())
        .collect();
    let lines: usize = bytes.iter().flatten().filter(|b| **b == b'\n').count();
    drop(bytes);
    let begun = Instant::now();
    let mut page = Page::begin(&register, &work.path().join("seal"));
    let opened = begun.elapsed().as_secs_f64();
    let site = page.get("/?later=1").body;
    let number =
        site.split("href=\"/p/").nth(1).and_then(|t| t.split(['"', '/', '?']).next()).unwrap().to_owned();
    let mut screens: Vec<(String, String)> = [
        "/?later=1",
        "/?later=1&find=tank",
        "/open",
        "/board",
        "/board/live",
        "/alarm",
        "/roll-call",
        "/call-out",
        "/set/heron",
        "/audit",
        "/audit?from=0",
        "/audit?find=countersign",
        "/audit?find=nothing-like-this",
    ]
    .map(|p| (p.to_owned(), p.to_owned()))
    .into();
    for part in ["", "/record", "/walk", "/carry", "/sign/hand-back", "/sign/close", "/sign/extend"] {
        screens.push((format!("/p/NUMBER{part}"), format!("/p/{number}{part}")));
    }
    println!(
        "{lines} lines; opened after {opened:.1} s\n{:<34}{:>10}{:>10}{:>10}",
        "screen", "median ms", "p99 ms", "most ms"
    );
    let mut table = Table::default();
    for (name, path) in screens {
        let status = page.get(&path).status;
        if status == 200 {
            let ms = page.timed(&path, TIMES);
            table.row(&name, ms);
            if JUDGED.contains(&name.as_str()) {
                // What was judged is remembered for a second: each of these is judged anew.
                let ms = page.asked(&path, JUDGED_TIMES, Duration::from_millis(1001));
                table.row(&format!("{name}, judged anew"), ms);
            }
        } else {
            println!("{name:<34}{status:>10}");
            table.over.push(format!("{name}: {status}"));
        }
    }
    // The auditor's verdict runs beside the page; how far it is, is told meanwhile.
    let token =
        site.split("name=\"t\" value=\"").nth(1).and_then(|t| t.split('"').next()).unwrap().to_owned();
    let before = Instant::now();
    assert_eq!(page.send("POST /audit", &format!("t={token}")).status, 303);
    table.row("POST /audit", vec![before.elapsed().as_secs_f64() * 1000.0]);
    let (mut board, mut told) = (Vec::new(), Vec::new());
    loop {
        let asked = Instant::now();
        let came = page.get("/audit/live");
        told.push(asked.elapsed().as_secs_f64() * 1000.0);
        if !came.body.contains("<progress") {
            break;
        }
        board.extend(page.timed("/board/live", 10));
    }
    let verdict = before.elapsed().as_secs_f64();
    table.row("/audit/live while verifying", told);
    if !board.is_empty() {
        table.row("/board/live while verifying", board);
    }
    let (now, most) = page.memory();
    println!("whole verdict after {verdict:.1} s; memory of the page now {now} MiB, at most {most} MiB");
    println!(
        "{}",
        json!({ "bench": "page", "lines": lines, "opened_s": opened, "screens": table.rows, "verdict_s": verdict,
            "memory_mib": now, "memory_most_mib": most, "limit_ms": LIMIT_MS, "over": table.over })
    );
    drop(page);
    assert!(table.over.is_empty(), "over {LIMIT_MS} ms: {:?}", table.over);
}
