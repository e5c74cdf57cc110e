//! The command line without a terminal: fixed clock, fixed randomness, typed input, what was written.
//! Everything stands in a temporary folder; keys are made by `airwrit key new`.

use super::{Fixed, key_of};
use airwrit::cli::{Outside, run};
use airwrit::record::kinds::AGAIN;
use airwrit::trust::Signer;
use airwrit::world::Random;
use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::io::{BufRead, Read, Write};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::OnceLock;
use tempfile::TempDir;

pub const PASSPHRASE: &str = "four words of mine";

/// What a command left behind.
#[derive(Debug)]
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// Panics unless the exit code is this.
    #[track_caller]
    pub fn code(self, wanted: i32) -> Ran {
        assert_eq!(self.code, wanted, "out:\n{}\nerr:\n{}", self.out, self.err);
        self
    }

    /// Panics unless both streams together hold this.
    #[track_caller]
    pub fn says(self, wanted: &str) -> Ran {
        let holds = self.out.contains(wanted) || self.err.contains(wanted);
        assert!(holds, "`{wanted}` is said nowhere\nout:\n{}\nerr:\n{}", self.out, self.err);
        self
    }
}

/// Answers what is asked on the screen: given what was written since the last line, the next line.
pub type Typing<'a> = dyn FnMut(&str) -> Option<String> + 'a;

struct Typist<'a, 'b> {
    screen: Rc<RefCell<Vec<u8>>>,
    seen: usize,
    line: Vec<u8>,
    at: usize,
    next: &'a mut Typing<'b>,
}

impl Read for Typist<'_, '_> {
    fn read(&mut self, buf: &mut [u8]) -> std::io::Result<usize> {
        let n = self.fill_buf()?.read(buf)?;
        self.consume(n);
        Ok(n)
    }
}

impl BufRead for Typist<'_, '_> {
    fn fill_buf(&mut self) -> std::io::Result<&[u8]> {
        if self.at >= self.line.len() {
            let screen = self.screen.borrow();
            let text = String::from_utf8_lossy(&screen[self.seen..]).into_owned();
            self.seen = screen.len();
            self.at = 0;
            self.line = (self.next)(&text).map_or_else(Vec::new, |l| format!("{l}\n").into_bytes());
        }
        Ok(&self.line[self.at..])
    }

    fn consume(&mut self, n: usize) {
        self.at += n;
    }
}

struct Screen(Rc<RefCell<Vec<u8>>>);

impl Write for Screen {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.borrow_mut().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// A station of its own.
pub struct Shell {
    pub folder: TempDir,
    /// UTC second; every look at the clock moves it by `tick`.
    pub second: Rc<Cell<i64>>,
    pub tick: i64,
    random: Fixed,
}

impl Shell {
    pub fn new() -> Shell {
        Shell {
            folder: tempfile::tempdir().unwrap(),
            second: Rc::new(Cell::new(airwrit::time::seconds("2026-11-25T05:02:00Z"))),
            tick: 7,
            random: Fixed(40),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The path as an argument.
    pub fn at(&self, name: &str) -> String {
        self.path(name).to_str().unwrap().to_owned()
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> String {
        std::fs::write(self.path(name), text).unwrap();
        self.at(name)
    }

    pub fn read(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).unwrap()
    }

    pub fn wait(&self, seconds: i64) {
        self.second.set(self.second.get() + seconds);
    }

    /// Runs a command line as it is; lines typed on the input.
    pub fn bare(&mut self, args: &[&str], input: &str) -> Ran {
        let mut lines: VecDeque<String> = input.lines().map(str::to_owned).collect();
        self.typing(args, &mut |screen| reread(screen).or_else(|| lines.pop_front()))
    }

    /// The same with somebody who reads the screen and types.
    pub fn typing(&mut self, args: &[&str], next: &mut Typing<'_>) -> Ran {
        let screen = Rc::new(RefCell::new(Vec::new()));
        let mut input = Typist { screen: screen.clone(), seen: 0, line: Vec::new(), at: 0, next };
        let (mut out, mut err) = (Vec::new(), Screen(screen.clone()));
        let (second, tick) = (self.second.clone(), self.tick);
        let clock = move || {
            second.set(second.get() + tick);
            second.get()
        };
        let mut outside = Outside {
            input: &mut input,
            out: &mut out,
            err: &mut err,
            terminal: false,
            second: &clock,
            random: &mut self.random as &mut dyn Random,
            state_folder: Some(self.folder.path().join("state")),
            page: airwrit::page::serve,
            aside: airwrit::cli::Aside::default(),
            face: airwrit::cli::Face::default(),
        };
        let code = run(std::iter::once("airwrit").chain(args.iter().copied()), &mut outside);
        let err = String::from_utf8(screen.borrow().clone()).unwrap();
        Ran { code, out: String::from_utf8(out).unwrap(), err }
    }

    /// Runs a command on the station's register.
    pub fn run(&mut self, args: &[&str], input: &str) -> Ran {
        let (register, seal) = (self.at("register"), self.at("seal"));
        let mut all = vec!["--register", &register, "--seal", &seal];
        all.extend(args);
        self.bare(&all, input)
    }

    /// Signs: person and key file put in, the passphrase typed.
    pub fn signed(&mut self, args: &[&str], by: &str) -> Ran {
        let key = self.at(&format!("{by}.pem"));
        let mut all = args.to_vec();
        all.extend(["--by", by, "--key", &key]);
        self.run(&all, PASSPHRASE)
    }

    /// A new key file; returns the public key.
    pub fn key(&mut self, name: &str) -> String {
        let file = self.at(&format!("{name}.pem"));
        let ran = self.bare(&["key", "new", &file], &format!("{PASSPHRASE}\n{PASSPHRASE}")).code(0);
        ran.out.lines().next().unwrap().to_owned()
    }

    /// Roster with keys of its own, signed by two of three custodians; a register; texts in force.
    fn enrolled() -> Shell {
        let mut s = Shell::new();
        let custodians: Vec<String> = ["cust-a", "cust-b"].iter().map(|c| s.key(c)).collect();
        let mut roster = format!("roster: 1\nbefore: \"{}\"\nthreshold: 2\ncustodians:\n", "0".repeat(64));
        for c in custodians.iter().chain([&ssh("cust-c")]) {
            roster += &format!("  - {c}\n");
        }
        roster += "persons:\n";
        let people: serde_yaml::Value =
            serde_yaml::from_str(include_str!("../../examples/people.yaml")).unwrap();
        for p in people["people"].as_sequence().unwrap() {
            let id = p["id"].as_str().unwrap();
            let signs = ["lukasz", "eleni", "tuula"].contains(&id);
            let key = if signs { s.key(id) } else { ssh(id) };
            let roles: Vec<&str> =
                p["roles"].as_sequence().unwrap().iter().map(|r| r.as_str().unwrap()).collect();
            roster += &format!(
                "  - id: {id}\n    name: {}\n    roles: [{}]\n    keys:\n      - key: {key}\n        \
                 from: 2026-01-01T00:00:00Z\n        to: 2027-12-31T23:59:59Z\n",
                p["name"].as_str().unwrap(),
                roles.join(", ")
            );
        }
        let roster = s.write("roster.yaml", roster);
        let mut signatures = Vec::new();
        for c in ["cust-a", "cust-b"] {
            let (key, to) = (s.at(&format!("{c}.pem")), s.at(&format!("roster.{c}.sig")));
            s.bare(&["roster", "sign", &roster, "--key", &key, "--to", &to], PASSPHRASE).code(0);
            signatures.push(to);
        }
        let mut args = vec!["enrol", "--station", "KW7", "--roster", &roster];
        for sig in &signatures {
            args.extend(["--sig", sig]);
        }
        s.signed(&args, "tuula").code(0).says("register of station KW7 begun");
        let texts: Vec<String> = [
            "examples/site.yaml",
            "examples/set.yaml",
            "checklists/pre-start.yaml",
            "checklists/shutdown.yaml",
        ]
        .iter()
        .map(|f| shipped(f))
        .collect();
        let mut args = vec!["approve"];
        args.extend(texts.iter().map(String::as_str));
        s.signed(&args, "tuula").code(0).says("form shutdown in force");
        s
    }

    /// A copy of the folder `demo/` that the demo leaves, played once, and what it told.
    pub fn demo() -> (Shell, &'static str) {
        static AT: OnceLock<(TempDir, String)> = OnceLock::new();
        let (folder, told) = AT.get_or_init(|| {
            let mut s = Shell::new();
            let into = s.at("demo");
            let ran = s.bare(&["demo", "--into", &into], "").code(0);
            (s.folder, ran.out)
        });
        let s = Shell::new();
        copy(folder.path(), s.folder.path());
        (s, told)
    }

    /// The demo's permit as its register shows it after this line, at the time of that line.
    pub fn demo_after(line: usize) -> serde_json::Value {
        let (mut s, _) = Shell::demo();
        let text = String::from_utf8(s.read("demo/register/0001.jsonl")).unwrap();
        let cut: Vec<&str> = text.lines().take(line + 1).collect();
        let last: serde_json::Value = serde_json::from_str(cut[line]).unwrap();
        s.second.set(airwrit::time::seconds(last["body"]["time"].as_str().unwrap()));
        std::fs::create_dir(s.path("cut")).unwrap();
        s.write("cut/0001.jsonl", cut.join("\n") + "\n");
        let register = s.at("cut");
        let ran = s.bare(&["show", "KM3-261125-01", "--json", "--register", &register], "").code(0);
        serde_json::from_str(&ran.out).unwrap()
    }

    /// A copy of a station with the texts in force.
    pub fn station() -> Shell {
        static AT: OnceLock<(TempDir, i64)> = OnceLock::new();
        let (folder, second) = AT.get_or_init(|| {
            let s = Shell::enrolled();
            let second = s.second.get();
            (s.folder, second)
        });
        Shell::copy_of(folder.path(), *second)
    }

    /// A copy of a station with a permit that was walked and declared.
    pub fn declared() -> (Shell, String) {
        static AT: OnceLock<(TempDir, i64, String)> = OnceLock::new();
        let (folder, second, number) = AT.get_or_init(|| {
            let mut s = Shell::station();
            let number = s.open();
            let mut morning = Morning::new(include_str!("../../examples/answers-pre-start.yaml"), false);
            morning.walk(&mut s, &number).code(0).says("everything before declaring is done");
            assert_eq!(morning.left(), 0);
            s.signed(&["declare", &number], "lukasz").code(0).says("is declared");
            let second = s.second.get();
            (s.folder, second, number)
        });
        (Shell::copy_of(folder.path(), *second), number.clone())
    }

    /// A copy of a station with a permit that was walked, declared and countersigned.
    pub fn live() -> (Shell, String) {
        static AT: OnceLock<(TempDir, i64, String)> = OnceLock::new();
        let (folder, second, number) = AT.get_or_init(|| {
            let (mut s, number) = Shell::declared();
            s.signed(&["countersign", &number], "eleni").code(0).says("is live");
            let mut morning = Morning::new(include_str!("../../examples/answers-pre-start.yaml"), false);
            morning.own();
            morning.walk(&mut s, &number).code(0).says("every step is done");
            s.read_gauges(&number);
            let second = s.second.get();
            (s.folder, second, number)
        });
        (Shell::copy_of(folder.path(), *second), number.clone())
    }

    /// Supply, reserve and carbon monoxide, all well.
    pub fn read_gauges(&mut self, number: &str) {
        for (what, value) in [("co", "1 ppm"), ("supply", "6 bar"), ("reserve", "207 bar")] {
            self.run(&["reading", number, "--what", what, "--value", value], "").code(0);
        }
    }

    fn copy_of(folder: &Path, second: i64) -> Shell {
        let s = Shell::new();
        copy(folder, s.folder.path());
        s.second.set(second);
        s
    }

    /// Opens the example job; returns the permit's number.
    pub fn open(&mut self) -> String {
        let ran = self.run(&["open", "--job", &shipped("examples/job.yaml")], "").code(0);
        ran.out.trim().to_owned()
    }
}

/// Whoever is asked to read a gauge of the example day again reads what was read in the morning.
fn reread(screen: &str) -> Option<String> {
    let prompt = screen.lines().last()?;
    let (_, rest) = prompt.strip_suffix("> ")?.split_once(" [")?;
    let (key, _) = rest.split_once("] in ")?;
    let (step, item) = key.split_once('/').map_or((key, None), |(s, i)| (s, Some(i)));
    let all = super::day::answers(include_str!("../../examples/answers-pre-start.yaml"));
    let last = all.iter().rev().find(|e| e.step == step && e.item.as_deref() == item)?;
    last.value.clone()
}

fn ssh(id: &str) -> String {
    key_of(id).public().to_ssh()
}

/// A file of the repository.
pub fn shipped(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name).to_str().unwrap().to_owned()
}

/// Copies a folder with all that is in it.
pub fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Somebody who types the answers of a file as the walk asks for them.
pub struct Morning {
    now: VecDeque<Entry>,
    own: VecDeque<Entry>,
    shutdown: bool,
    /// Everything that was on the screen.
    pub screens: Vec<String>,
}

#[derive(Clone, Debug, serde::Deserialize)]
struct Entry {
    step: String,
    value: Option<String>,
    again: Option<String>,
    left_out: Option<String>,
}

#[derive(serde::Deserialize)]
struct Answers {
    answers: Vec<Entry>,
}

impl Morning {
    pub fn new(answers: &str, shutdown: bool) -> Morning {
        let all: Answers = serde_yaml::from_str(answers).unwrap();
        let form = std::fs::read(shipped("checklists/pre-start.yaml")).unwrap();
        let form = airwrit::checklist::Checklist::read("pre-start", &form).checklist.unwrap();
        let own = |e: &Entry| {
            form.step(&e.step).is_some_and(|(_, s)| s.before() == airwrit::checklist::Before::Air)
        };
        let (own, now) = all.answers.into_iter().partition(|e| !shutdown && own(e));
        Morning { now, own, shutdown, screens: Vec::new() }
    }

    /// Only the first answers.
    pub fn first(mut self, n: usize) -> Morning {
        self.now.truncate(n);
        self
    }

    pub fn left(&self) -> usize {
        self.now.len()
    }

    /// The wearers' own steps come now.
    pub fn own(&mut self) {
        self.now = std::mem::take(&mut self.own);
    }

    /// Walks until nothing is asked, or nothing is left to type.
    pub fn walk(&mut self, s: &mut Shell, number: &str) -> Ran {
        let clock = s.second.clone();
        let (register, seal) = (s.at("register"), s.at("seal"));
        let mut args = vec!["--register", &register, "--seal", &seal, "walk", number];
        if self.shutdown {
            args.push("--shutdown");
        }
        let mut reason = None;
        s.typing(&args, &mut |screen| {
            self.screens.push(screen.to_owned());
            let prompt = screen.lines().last().unwrap_or_default();
            if let Some(r) = Option::take(&mut reason) {
                return Some(r);
            }
            if prompt.starts_with("Enter to keep it") {
                // A figure worked out that holds comes out the same until something else is answered.
                return (!screen.contains("HOLD")).then(String::new);
            }
            if prompt.starts_with("type started") {
                return Some("started".into());
            }
            if prompt.starts_with("type stopped") {
                return Some("stopped".into());
            }
            if prompt.starts_with("number  (") {
                let again = self.now.front().and_then(|e| e.again.clone())?;
                return AGAIN.iter().position(|a| *a == again).map(|i| (i + 1).to_string());
            }
            let entry = self.now.pop_front()?;
            if entry.value.as_deref() == Some("done") {
                clock.set(clock.get() + 15 * 60);
            }
            if let Some(r) = entry.left_out {
                reason = Some(r);
                return Some("x".into());
            }
            entry.value
        })
    }
}
