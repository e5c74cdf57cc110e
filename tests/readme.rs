//! README.md works as it is typed: every line of its `sh` blocks is run, in order, in a folder of its
//! own, with a clock that stands where the test puts it. Passphrases are typed by the test. Where the
//! README walks through a form, the crew of `examples/` gives the answers.

use crate::support::Fixed;
use crate::support::day::{answers, typed};
use airwrit::actions::{Desk, Loaded};
use airwrit::checklist::{Before, StepKind};
use airwrit::cli::Outside;
use airwrit::disk::Folder;
use airwrit::permit::decide::air;
use airwrit::permit::decide::answer::{self, Typed};
use airwrit::permit::decide::sign;
use airwrit::permit::walk;
use airwrit::view::{Standing, StateWord};
use std::cell::Cell;
use std::path::{Path, PathBuf};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
/// 06:10 at the site, the morning after the demo's day.
const NOW: &str = "2026-11-26T05:10:00Z";

struct Newcomer {
    folder: PathBuf,
    second: Cell<i64>,
    random: Fixed,
    permit: String,
}

/// Lines of the `sh` blocks that call the program, without comments.
fn lines() -> Vec<String> {
    let text = std::fs::read_to_string(Path::new(ROOT).join("README.md")).unwrap();
    let mut out = Vec::new();
    let mut inside = false;
    for l in text.lines() {
        if l.starts_with("```") {
            inside = l == "```sh";
        } else if inside && !l.starts_with('#') && !l.is_empty() {
            assert!(
                l.starts_with("airwrit ") || l.starts_with("P=$(airwrit ") || l == "cd demo",
                "not run by this test, so it belongs in a `text` block: {l}"
            );
            out.push(l.to_owned());
        }
    }
    out
}

/// Words of a line as a shell splits them: spaces and double quotes only.
fn words(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => out.push(String::new()),
            c => out.last_mut().unwrap().push(c),
        }
    }
    out
}

/// How long a walk is, is told before it is begun.
#[test]
fn the_readme_says_how_long_a_walk_is() {
    let mut s = crate::support::shell::Shell::station();
    let n = s.open();
    let left = |ran: &str| -> usize {
        let (before, _) = ran.split_once(" left\n").unwrap();
        before.rsplit(' ').next().unwrap().parse().unwrap()
    };
    let work = left(&s.run(&["walk", &n], "").code(0).err);
    let shutdown = left(&s.run(&["walk", &n, "--shutdown"], "").code(0).err);
    let text = std::fs::read_to_string(Path::new(ROOT).join("README.md")).unwrap();
    for (first, n) in [("The first walk below asks about ", work), ("the shutdown asks about ", shutdown)] {
        let told = text.split_once(first).unwrap().1.split([' ', '.']).next().unwrap();
        assert!(told.parse::<usize>().unwrap().abs_diff(n) <= 5, "{first}{told}, and it asks {n}");
    }
    // Line by line from the input, and where it ends the walk goes on later.
    let ran = s.run(&["walk", &n], "yes\nyes\n").code(0).says("goes on here");
    assert!(ran.err.contains(&format!("{} left", work - 2)), "{}", ran.err);
}

impl Newcomer {
    /// A path as the line means it: `../` is this repository, everything else is in the demo's folder.
    fn place(&self, word: &str) -> String {
        let is_file = word.contains('/')
            || ["register", "seal"].contains(&word)
            || [".pdf", ".jsonl", ".yaml", ".sig", ".act", ".png"].iter().any(|e| word.ends_with(e));
        match word.strip_prefix("../") {
            _ if !is_file || word.contains(' ') || word.starts_with("SHA256:") => word.to_owned(),
            Some(rest) => Path::new(ROOT).join(rest).display().to_string(),
            None => self.folder.join(word).display().to_string(),
        }
    }

    /// Runs a line; returns what it answered.
    fn run(&mut self, line: &str) -> String {
        let (line, code) = match line.split_once("   # exits ") {
            Some((l, code)) => (l, code.trim().parse().unwrap()),
            None => (line, 0),
        };
        let keeps_number = line.strip_prefix("P=$(").and_then(|l| l.strip_suffix(')'));
        let mut args = words(keeps_number.unwrap_or(line));
        for a in args.iter_mut().skip(2) {
            *a = match a.as_str() {
                "demo" => self.folder.display().to_string(),
                "$P" => self.permit.clone(),
                other => self.place(other),
            };
        }
        if args[1] == "walk" {
            self.crew(args.contains(&"--shutdown".to_owned()));
        }
        args.extend(["--register".into(), self.folder.join("register").display().to_string()]);
        let own = "four kestrels over slate\n";
        let input = match (args[1].as_str(), line.contains("keys/mine.pem")) {
            ("key", true) => own.repeat(2),
            (_, true) => own.to_owned(),
            (_, false) => "demo\n".to_owned(),
        };
        let input = if args[1] == "countersign" { self.read_again() + &input } else { input };
        let (mut out, mut err) = (Vec::new(), Vec::new());
        self.second.set(self.second.get() + 60);
        let second = &self.second;
        let got = airwrit::cli::run(
            &args,
            &mut Outside {
                input: &mut input.as_bytes(),
                out: &mut out,
                err: &mut err,
                terminal: false,
                second: &|| second.get(),
                random: &mut self.random,
                state_folder: None,
                page: airwrit::page::serve,
                aside: airwrit::cli::Aside::default(),
                face: airwrit::cli::Face::default(),
            },
        );
        let out = String::from_utf8(out).unwrap();
        assert_eq!(got, code, "{line}\n{out}\n{}", String::from_utf8_lossy(&err));
        if keeps_number.is_some() {
            self.permit = out.trim().to_owned();
        }
        out
    }

    fn with<T>(
        &mut self,
        work: impl FnOnce(&mut Desk<'_>, &mut Option<Loaded>) -> T,
        kept: &mut Option<Loaded>,
    ) -> T {
        let mut register = Folder::make(&self.folder.join("register")).unwrap();
        let mut seal = Folder::make_private(&self.folder.join("seal")).unwrap();
        let mut desk = Desk {
            register: &mut register,
            seal: &mut seal,
            random: &mut self.random,
            second: self.second.get(),
            today: None,
        };
        work(&mut desk, kept)
    }

    /// The crew answers: what stands before declaring on a draft, the wearers' own steps on a live permit,
    /// all of the shutdown.
    fn crew(&mut self, shutdown: bool) {
        let file =
            if shutdown { "examples/answers-shutdown.yaml" } else { "examples/answers-pre-start.yaml" };
        let given = answers(&std::fs::read_to_string(Path::new(ROOT).join(file)).unwrap());
        let number = self.permit.clone();
        let mut kept = None;
        self.with(|desk, kept| *kept = Some(desk.load().unwrap()), &mut kept);
        let texts = {
            let known = kept.as_ref().unwrap().known();
            known.texts(known.permit(&number).unwrap()).unwrap()
        };
        let live = kept.as_ref().unwrap().state.permits[&number].life == StateWord::Live;
        for e in given {
            let own = texts.form.step(&e.step).is_some_and(|(_, s)| s.before() == Before::Air);
            if !shutdown && own != live {
                continue;
            }
            self.by_itself(&number, shutdown, &mut kept);
            // What was carried is not asked again.
            let carried = {
                let known = kept.as_ref().unwrap().known();
                let permit = known.permit(&number).unwrap();
                let of = |a: &&airwrit::permit::state::Answer| {
                    a.step == e.step && a.item.as_deref() == e.item.as_deref()
                };
                permit.answers.iter().rfind(of).is_some_and(|a| a.carry.is_some())
            };
            if carried && !shutdown {
                continue;
            }
            let wait = if e.value.as_deref() == Some("done") { 16 * 60 } else { 12 };
            // The crew tests the air on the day of the permit.
            let zone = jiff::tz::TimeZone::get("Europe/Warsaw").unwrap();
            let today = airwrit::time::Moment::new(self.second.get(), &zone).date().to_string();
            let value = if e.step == "air_test_date" { Some(today) } else { e.value.clone() };
            let (value, below) = airwrit::actions::below(value.as_deref());
            let t = Typed { value, below, again: e.again, shutdown, ..typed(&e.step, e.item.as_deref(), "") };
            self.answer(&number, &t, wait, &mut kept);
        }
        self.by_itself(&number, shutdown, &mut kept);
    }

    fn answer(&mut self, number: &str, t: &Typed, wait: i64, kept: &mut Option<Loaded>) {
        self.keep(wait, kept, |k| {
            let permit = k.permit(number).unwrap();
            answer::answer(k, permit, &k.texts(permit).unwrap(), t).unwrap_or_else(|r| panic!("{t:?}: {r:?}"))
        });
    }

    fn keep(
        &mut self,
        wait: i64,
        kept: &mut Option<Loaded>,
        decide: impl FnOnce(&airwrit::permit::decide::Known<'_>) -> airwrit::record::line::Draft,
    ) {
        self.second.set(self.second.get() + wait);
        let zone = jiff::tz::TimeZone::get("Europe/Warsaw").unwrap();
        let now = airwrit::time::Moment::new(self.second.get(), &zone);
        self.with(
            |desk, kept| {
                let loaded = kept.as_mut().unwrap();
                loaded.now = now;
                let draft = decide(&loaded.known());
                desk.keep(loaded, &draft).unwrap();
            },
            kept,
        );
    }

    /// What the supervisor types at the gauges that are drawn: what the operator read.
    fn read_again(&mut self) -> String {
        let mut kept = None;
        self.with(|desk, kept| *kept = Some(desk.load().unwrap()), &mut kept);
        let known = kept.as_ref().unwrap().known();
        let permit = known.permit(&self.permit).unwrap();
        let drawn = sign::drawn(&known, permit, &known.texts(permit).unwrap());
        assert_eq!(drawn.len(), 2);
        let read = |d: &sign::Drawn| {
            let last = permit.last_answer(&permit.form.hash, &d.step, d.item.as_deref()).unwrap();
            format!("{}\n", last.value.clone().unwrap())
        };
        drawn.iter().map(read).collect()
    }

    /// Values that are worked out, the start and the stop.
    fn by_itself(&mut self, number: &str, shutdown: bool, kept: &mut Option<Loaded>) {
        loop {
            let known = kept.as_ref().unwrap().known();
            let permit = known.permit(number).unwrap();
            let texts = known.texts(permit).unwrap();
            let bench = answer::bench(&known, permit, &texts, shutdown).unwrap();
            let stands = walk::walk(&bench);
            let next = if shutdown { stands.iter().position(|s| !s.done()) } else { walk::next(&stands) };
            let due = next.and_then(|i| stands.get(i));
            let running = answer::running(&known, &permit.set.id);
            let change = match (shutdown, running) {
                (false, false) if walk::before_start(&stands).is_empty() => Some("started"),
                (true, true) if due.is_some_and(|s| s.stage.id() == walk::STOP) => Some("stopped"),
                _ => None,
            };
            let derived = due
                .filter(|s| matches!(s.step.kind(), StepKind::Derived(_)) && s.standing == Standing::Waiting)
                .map(|s| (s.step.id().to_owned(), s.item_id().map(str::to_owned)));
            let set = permit.set.id.clone();
            if let Some(kind) = change {
                let members = vec![("set".to_owned(), set.as_str().into())];
                self.keep(30, kept, |k| air::request_of_set(k, kind, &set, members, "lukasz").unwrap());
            } else if let Some((step, item)) = derived {
                let t = Typed { step, item, shutdown, by: "lukasz".into(), ..Typed::default() };
                self.answer(number, &t, 5, kept);
            } else {
                return;
            }
        }
    }
}

#[test]
fn every_line_works_as_it_is_typed() {
    let dir = tempfile::tempdir().unwrap();
    let mut n = Newcomer {
        folder: dir.path().join("demo"),
        second: Cell::new(airwrit::time::seconds(NOW)),
        random: Fixed(4000),
        permit: String::new(),
    };
    let all = lines();
    assert!(all.len() > 20, "{} lines", all.len());
    for line in all.iter().filter(|l| *l != "cd demo") {
        n.run(line);
    }
    let out = n.run("airwrit show --seal seal");
    for state in ["closed", "cancelled"] {
        assert!(out.contains(state), "{out}");
    }
}
