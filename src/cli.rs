//! The command line: arguments in, words out. Holds no rules; every command calls one action.
//!
//! `stdout` is the answer, `stderr` the conversation. Exit codes: 0 yes or done · 1 the answer is no ·
//! 2 wrong command line · 3 could not · 4 broken · 5 unproven.

mod air_test;
pub mod args;
mod auditing;
pub(crate) mod calling;
mod crew;
mod custody;
pub mod demo;
mod doctor;
mod elsewhere;
pub mod files;
mod freezing;
pub(crate) mod gauges;
mod halted;
mod heard;
mod help;
pub(crate) mod looking;
mod machine;
mod mistyped;
pub mod picture;
pub(crate) mod planning;
pub(crate) mod printing;
mod rereading;
mod rosters;
pub(crate) mod screen;
pub(crate) mod sheet;
pub(crate) mod shift;
pub(crate) mod signing;
mod slip;
pub mod spoken;
pub(crate) mod station;
mod walk;

use crate::actions::aside::with_aside;
use crate::actions::{Desk, Looked, Trouble};
use crate::disk::{Folder, Lock};
use crate::permit::decide::{Known, crew as people};
use crate::record::aside::{self, Entry};
use crate::record::store;
use crate::record::volumes::{self, Volume};
use crate::tongue::{say, say_n};
use crate::trust::SecretKey;
use crate::world::{Random, Storage};
use args::{Args, Command};
use clap::{CommandFactory, Parser};
use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

/// Everything the command line asks of the world.
pub struct Outside<'a> {
    /// What is typed.
    pub input: &'a mut dyn BufRead,
    /// The answer.
    pub out: &'a mut dyn Write,
    /// The conversation.
    pub err: &'a mut dyn Write,
    /// True if a person types at a terminal: passphrases are then read without being shown.
    pub terminal: bool,
    /// The clock, UTC seconds.
    pub second: &'a dyn Fn() -> i64,
    /// Randomness.
    pub random: &'a mut dyn Random,
    /// Where seal keys stand unless told otherwise.
    pub state_folder: Option<PathBuf>,
    /// Opens the page: it stands above the command line, which knows nothing of it.
    pub page: Page,
    /// What became of reports that the register did not take.
    pub aside: Aside,
    /// Who reads what is said, and what they are told of single lines.
    pub face: Face,
}

impl Outside<'_> {
    /// A line of the answer, of which whoever shows it is told what it tells.
    pub fn tell(&mut self, tells: Tells, line: String) -> std::io::Result<()> {
        writeln!(self.out, "{line}")?;
        self.face.told.push((tells, line));
        Ok(())
    }

    /// The same of a line of the conversation.
    pub fn tell_beside(&mut self, tells: Tells, line: String) -> std::io::Result<()> {
        writeln!(self.err, "{line}")?;
        self.face.told.push((tells, line));
        Ok(())
    }
}

/// What a line tells that is shown otherwise than as a line: nobody finds it by its words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tells {
    /// Something is outside its limits.
    OutOfLimits,
    /// Until when there is air.
    AirGone,
    /// A test of the air fails by its rule.
    TestFails,
    /// Nobody can tell by this test whether the air is good.
    TestTellsNothing,
    /// What follows a test for whoever is on this air.
    AfterTest,
    /// A permit is opened.
    Opened,
    /// The command that comes next.
    Hint,
}

/// Who reads what is said.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Face {
    /// Nothing is typed there: people are called by their names, with no id beside them that a command would want.
    pub keys: bool,
    /// Lines that were said, and what they tell.
    pub told: Vec<(Tells, String)>,
}

impl Face {
    /// Somebody, as they are called there: with the id where it may have to be typed.
    pub fn person(&self, known: &Known<'_>, id: &str) -> String {
        if self.keys { people::named(known, id) } else { people::who(known, id) }
    }
}

/// Reports that the register did not take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Aside {
    /// So many were written beside it.
    pub written: usize,
    /// So many could not be.
    pub lost: usize,
}

impl Aside {
    /// Whether there were any, and each was written.
    pub const fn is_whole(self) -> bool {
        self.written > 0 && self.lost == 0
    }
}

/// What opens the page.
pub type Page = fn(&Place, &args::serve::Serve, &mut Outside<'_>) -> Outcome;

/// Why a command ends without success.
#[derive(Debug)]
pub enum End {
    /// The answer is no; already told.
    No,
    /// The words are wrong: exit 2.
    Usage(String),
    /// A refusal, a broken register, or something that could not be done.
    Trouble(Trouble),
    /// A verdict's own exit code; already told.
    Code(i32),
}

impl From<Trouble> for End {
    fn from(t: Trouble) -> End {
        End::Trouble(t)
    }
}

impl From<crate::world::StorageError> for End {
    fn from(e: crate::world::StorageError) -> End {
        End::Trouble(Trouble::CouldNot(e.why))
    }
}

impl From<crate::permit::decide::Refusal> for End {
    fn from(r: crate::permit::decide::Refusal) -> End {
        End::Trouble(Trouble::Refused(r))
    }
}

impl From<std::io::Error> for End {
    fn from(e: std::io::Error) -> End {
        // Whoever reads has read enough (`| head`): nothing to tell.
        if e.kind() == std::io::ErrorKind::BrokenPipe {
            return End::Code(3);
        }
        End::Trouble(Trouble::CouldNot(say!("the terminal cannot be written to: {why}", why = e)))
    }
}

/// What commands return.
pub type Outcome = Result<(), End>;

/// Something that could not be done, in words.
pub fn could_not(why: impl Into<String>) -> End {
    End::Trouble(Trouble::CouldNot(why.into()))
}

/// Runs a command line; returns the exit code.
pub fn run<I>(args: I, outside: &mut Outside<'_>) -> i32
where
    I: IntoIterator,
    I::Item: Into<std::ffi::OsString> + Clone,
{
    // A report is never lost to bytes that are no text; what names files is left as it is.
    let args: Vec<std::ffi::OsString> = args.into_iter().map(Into::into).collect();
    let reports = [
        "call-out",
        "callout",
        "call_out",
        "event",
        "suspend",
        "on",
        "in",
        "out",
        "off",
        "reading",
        "roll-call",
        "relieve",
    ];
    let is_report = args.iter().any(|a| a.to_str().is_some_and(|a| reports.contains(&a)));
    let text = |a: &std::ffi::OsString| std::ffi::OsString::from(a.to_string_lossy().into_owned());
    let args: Vec<std::ffi::OsString> = if is_report { args.iter().map(text).collect() } else { args };
    let parsed = Args::try_parse_from(&args).map(|a| (a, Vec::new()));
    let typed = args.clone();
    let (mut args, odd) = match parsed.or_else(|e| heard::heard(&args, e)) {
        Ok(read) => read,
        Err(e) => {
            let to_out = !e.use_stderr();
            // What was typed is quoted in it.
            let own = help::in_tongue(&e, &args).or_else(|| mistyped::in_tongue(&e, &args));
            let text = own.unwrap_or_else(|| e.render().to_string());
            let stream: &mut dyn Write = if to_out { outside.out } else { outside.err };
            let _ = stream.write_all(crate::text::safe(&text).as_bytes());
            if is_report && !to_out {
                let tongue = help::tongue_of(&args).unwrap_or(crate::tongue::Tongue::English);
                let not_kept = || say!("NOT KEPT: nothing of this line is in the register").to_owned();
                let _ = writeln!(outside.err, "{}", tongue.within(not_kept));
            }
            return if to_out { 0 } else { 2 };
        }
    };
    if let Command::CheckToken(c) = &mut args.command {
        let mut words = typed.iter().filter_map(|a| a.to_str()).take_while(|a| *a != "--");
        c.register_named = words.any(|a| a == "--register" || a.starts_with("--register="));
    }
    let place = Place { register: args.register.clone(), seal: args.seal.clone(), today: args.today.clone() };
    let unknown = match args.language.as_deref().map(spoken::asked) {
        Some(Ok(asked)) => return asked.within_asked(|| finished(&args, place, &odd, outside)),
        Some(Err(unknown)) if !is_report => return tell(unknown, &place, outside.err),
        Some(Err(End::Usage(unknown))) => Some(unknown),
        Some(Err(_)) | None => None,
    };
    spoken::of_run(&args, &place).within(|| {
        if let Some(unknown) = unknown {
            let _ = writeln!(outside.err, "{}", say!("NOTE: {note}", note = unknown));
        }
        finished(&args, place, &odd, outside)
    })
}

/// Does what is asked, and tells how it ended.
fn finished(args: &Args, mut place: Place, odd: &[String], outside: &mut Outside<'_>) -> i32 {
    let mut done = command(args, &place, outside);
    if !odd.is_empty() {
        // Behind the signal and the orders, which wait for nothing.
        let words = crate::text::safe_line(&odd.join(" ")).into_owned();
        let _ = writeln!(
            outside.err,
            "{}",
            say!("NOTE: this was not understood and is left out: {words}", words)
        );
    }
    if outside.terminal
        && let Err(End::Trouble(Trouble::WhatDay(why))) = &done
    {
        match what_day(&why.clone(), outside) {
            Ok(Some(today)) => {
                place.today = Some(today);
                done = command(args, &place, outside);
            }
            Ok(None) => {}
            Err(end) => done = Err(end),
        }
    }
    match done {
        Ok(()) => 0,
        Err(end) => tell(end, &place, outside.err),
    }
}

/// Reasons that a screen shows: what the rules say stands first, the steps of the form after it.
pub const REASONS: usize = 20;

/// Asks a person at a terminal what day it is.
fn what_day(why: &crate::permit::decide::Refusal, outside: &mut Outside<'_>) -> Result<Option<String>, End> {
    for w in &why.why {
        writeln!(outside.err, "{}", crate::text::safe_line(w))?;
    }
    write!(outside.err, "{} ", say!("what day is it (YYYY-MM-DD; empty: I do not know)?"))?;
    outside.err.flush()?;
    let mut day = String::new();
    outside.input.read_line(&mut day)?;
    Ok(Some(day.trim().to_owned()).filter(|d| crate::time::is_date(d)))
}

fn tell(end: End, place: &Place, err: &mut dyn Write) -> i32 {
    // Nothing can be told if the terminal is gone; the exit code still says it.
    let mut line = |words: String| {
        let _ = writeln!(err, "{}", crate::text::safe_line(&words));
    };
    match end {
        End::No => 1,
        End::Code(code) => code,
        End::Usage(why) => {
            line(say!("error: {why}", why));
            2
        }
        End::Trouble(Trouble::Refused(r) | Trouble::WhatDay(r)) => {
            line(say!("refused:").into());
            for why in r.why.iter().take(REASONS) {
                line(format!("  {why}"));
            }
            if let Some(more @ 1..) = r.why.len().checked_sub(REASONS) {
                let more = say_n!(
                    more,
                    "and {n} more; `airwrit show PERMIT` lists every step",
                    "and {n} more; `airwrit show PERMIT` lists every step"
                );
                line(format!("  {more}"));
            }
            if let Some(h) = r.instead {
                line(say!("hint: {hint}", hint = place.typed(&h)));
            }
            1
        }
        End::Trouble(Trouble::Broken { at, broken }) => {
            line(say!(
                "error: the register is broken at line {at}, rule `{rule}`: {why}",
                at,
                rule = broken.rule,
                why = broken.why
            ));
            line(say!(
                "hint: nothing is written to it any more; `airwrit verify {register}` tells more; people are called out by \
                 the agreed signal",
                register = shell_word(&place.register)
            ));
            4
        }
        End::Trouble(Trouble::CouldNot(why)) => {
            line(say!("error: {why}", why = place.typed(&why)));
            3
        }
    }
}

pub(crate) fn command(args: &Args, place: &Place, outside: &mut Outside<'_>) -> Outcome {
    match &args.command {
        Command::Plan(p) => planning::plan(p, outside),
        Command::Lint { files, json } => looking::lint(files, *json, outside),
        Command::Verify(v) => looking::verify(v, outside),
        Command::Audit(a) => auditing::audit(a, outside),
        Command::Freeze { into } => freezing::freeze(place, into, outside),
        Command::Board { json } => looking::board(place, *json, outside),
        Command::Show { permit, json } => looking::show(place, permit.as_deref(), *json, outside),
        Command::Print { permit, to, hangs, letter } => {
            printing::print(place, permit, to, hangs.as_deref(), *letter, outside)
        }
        Command::Card { permit, blank: _, to, hangs, letter } => {
            printing::card(place, permit.as_deref(), to, hangs.as_deref(), *letter, outside)
        }
        Command::Excerpt { permit, to } => looking::excerpt(place, permit, to, outside),
        Command::CheckToken(c) => slip::check_token(place, c, outside),
        Command::Key(k) => custody::key(place, k, outside),
        Command::Roster(r) => rosters::roster(place, r, outside),
        Command::Enrol(e) => custody::enrol(place, e, outside),
        Command::Approve { files, who } => custody::approve(place, files, who, outside),
        Command::Open(o) => station::open(place, o, outside),
        Command::Job { permit, file, by } => station::job(place, permit, file, by.as_deref(), outside),
        Command::Answer(a) => station::answer(place, a, outside),
        Command::Walk { permit, shutdown, by } => {
            walk::walk(place, permit.as_deref(), *shutdown, by.as_deref(), outside)
        }
        Command::Declare { permit, who } => signing::declare(place, permit, who, outside),
        Command::Countersign(c) => signing::countersign(place, c, outside),
        Command::Refuse { permit, reason, who } => signing::refuse(place, permit, reason, who, outside),
        Command::HandBack { permit, how, who } => signing::hand_back(place, permit, how, who, outside),
        Command::Close { permit, who } => signing::close(place, permit, who, outside),
        Command::Reinstate { permit, cause, who } => signing::reinstate(place, permit, cause, who, outside),
        Command::RollCall { on, found, missing, told } => {
            crew::roll_call(place, on, found, missing, told, outside)
        }
        Command::Relieve { permit, role, to, report, told } => {
            crew::relieve(place, permit, role, to, *report, told, outside)
        }
        Command::Carry(c) => shift::carry(place, c, outside),
        Command::Extend(e) => shift::extend(place, e, outside),
        Command::HandOver(h) => shift::hand_over(place, h, outside),
        Command::TakeOver { permit, who } => shift::take_over(place, permit, who, outside),
        Command::Witness(w) => shift::witness(place, w, outside),
        Command::Cancel { permit, reason, who } => signing::cancel(place, permit, reason, who, outside),
        Command::Sign(s) => elsewhere::sign(s, outside),
        Command::TakeIn { file } => elsewhere::take_in(place, file, outside),
        Command::Clock { reason, who } => signing::clock(place, reason, who, outside),
        Command::On(t) => station::tally(place, crate::permit::decide::air::Move::OnAir, t, outside),
        Command::In(t) => station::tally(place, crate::permit::decide::air::Move::In, t, outside),
        Command::Out(t) => station::tally(place, crate::permit::decide::air::Move::Out, t, outside),
        Command::Off(t) => station::tally(place, crate::permit::decide::air::Move::OffAir, t, outside),
        Command::CallOut(c) => calling::call_out(place, c, outside),
        Command::Suspend { on, reason, told } => {
            station::suspend(place, on, reason.as_deref(), told, outside)
        }
        Command::Event { on, what, words, told } => {
            station::event(place, on, what, words.as_deref(), told, outside)
        }
        Command::Set(s) => machine::of_set(place, s, outside),
        Command::Reading(r) => gauges::reading(place, r, outside),
        Command::Note { on, words } => station::note(place, on, words, outside),
        Command::TakenDown { permit, copy } => station::taken_down(place, permit, *copy, outside),
        Command::Doctor { keys, json } => doctor::doctor(place, keys, *json, outside),
        Command::Man { into } => man(into, outside),
        Command::Completions { shell } => {
            // In memory first: it takes a failing terminal for a fault of the program.
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Args::command(), "airwrit", &mut script);
            Ok(outside.out.write_all(&script)?)
        }
        Command::Serve(s) => (outside.page)(place, s, outside),
        Command::Demo { into, days: None, .. } => demo::command(into.as_deref(), outside),
        Command::Demo { into, days: Some(days), permits_per_day } => {
            demo::year(into.as_deref(), (*days, *permits_per_day), outside)
        }
    }
}

/// One page for the program and one for each command, `airwrit.1`, `airwrit-open.1` and so on.
fn man(into: &Path, outside: &mut Outside<'_>) -> Outcome {
    fn page(command: clap::Command, into: &Path, written: &mut usize) -> Outcome {
        let name = command.get_display_name().unwrap_or(command.get_name()).to_owned();
        let mut bytes = Vec::new();
        clap_mangen::Man::new(command.clone()).render(&mut bytes)?;
        crate::disk::write_file(&into.join(format!("{name}.1")), &bytes, true, false)?;
        *written += 1;
        for sub in command.get_subcommands().filter(|s| !s.is_hide_set() && s.get_name() != "help") {
            page(sub.clone(), into, written)?;
        }
        Ok(())
    }
    Folder::make(into)?;
    let mut command = Args::command();
    command.build();
    let mut written = 0;
    page(command, into, &mut written)?;
    let words = say_n!(
        written,
        "{n} page written to {folder}",
        "{n} pages written to {folder}",
        folder = shell_word(into)
    );
    writeln!(outside.out, "{words}")?;
    Ok(())
}

/// Where a register and its seal stand.
#[derive(Clone, Debug)]
pub struct Place {
    /// The register's folder.
    pub register: PathBuf,
    /// The seal's folder, if told.
    pub seal: Option<PathBuf>,
    /// The date that the person at the station says it is.
    pub today: Option<String>,
}

/// The folder of the register unless told otherwise.
const REGISTER: &str = "register";

/// Commands that know no register.
const WITHOUT_REGISTER: [&str; 8] = ["completions", "demo", "key", "lint", "man", "roster", "sign", "verify"];

/// A path as a word that can be typed.
pub fn shell_word(path: &Path) -> String {
    let text = path.display().to_string();
    let plain =
        |c: char| c.is_alphanumeric() || matches!(c, '/' | '.' | '-' | '_' | '+' | ',' | ':' | '@' | '%');
    if !text.is_empty() && text.chars().all(plain) {
        text
    } else {
        format!("'{}'", text.replace('\'', "'\\''"))
    }
}

impl Place {
    /// A hint as it must be typed here: every command in it names the register, where it is not the
    /// default one.
    pub fn typed(&self, hint: &str) -> String {
        let mut names = String::new();
        if self.register != Path::new(REGISTER) {
            names = format!(" --register {}", shell_word(&self.register));
        }
        if let Some(seal) = &self.seal {
            names += &format!(" --seal {}", shell_word(seal));
        }
        let mut out = String::new();
        for (i, part) in hint.split('`').enumerate() {
            if i > 0 {
                out.push('`');
            }
            out.push_str(part);
            let verb = part.strip_prefix("airwrit ").and_then(|p| p.split_whitespace().next());
            if i % 2 == 1 && verb.is_some_and(|v| !WITHOUT_REGISTER.contains(&v)) {
                out.push_str(&names);
            }
        }
        out
    }

    /// The log id that line 0 of the last volume names, if there is one.
    fn log(&self) -> Option<String> {
        let of = |name: &String| {
            let first =
                crate::disk::first_line(&self.register.join(name), crate::record::line::LONGEST).ok()?;
            crate::record::line::Line::read(&first).ok().map(|l| l.log.to_string())
        };
        volumes::names(&Folder::at(&self.register)).ok()?.iter().rev().find_map(of)
    }

    /// The seal's folder: as told, or under the user's state folder by log.
    pub(crate) fn seal_folder(&self, outside: &Outside<'_>, log: Option<&str>) -> Result<PathBuf, End> {
        if let Some(s) = &self.seal {
            return Ok(s.clone());
        }
        let log = log.map(str::to_owned).or_else(|| self.log()).unwrap_or_else(|| "none".into());
        let state = outside.state_folder.as_ref().ok_or_else(|| {
            could_not(say!(
                "no folder for the seal key is known: name one with --seal, outside the register's folder"
            ))
        })?;
        Ok(state.join("seal").join(log))
    }

    /// The register's volumes.
    pub fn volumes(&self) -> Result<Vec<Volume>, End> {
        let volumes = volumes::read(&Folder::at(&self.register))?;
        if volumes.is_empty() { Err(self.no_register()) } else { Ok(volumes) }
    }

    /// Where its volumes are.
    pub fn files(&self) -> Result<Vec<PathBuf>, End> {
        let names = volumes::names(&Folder::at(&self.register))?;
        let all: Vec<PathBuf> = names.iter().map(|name| self.register.join(name)).collect();
        if all.is_empty() { Err(self.no_register()) } else { Ok(all) }
    }

    /// The register read to look at it, with the reports that stand aside.
    pub fn look(&self, outside: &Outside<'_>) -> Result<Looked, End> {
        let mut looked = crate::actions::look(&self.volumes()?, (outside.second)())?;
        let register = Folder::at(&self.register);
        let seal = self.seal_folder(outside, None).ok().map(|s| Folder::at(&s));
        if let Some(seal) = &seal {
            let older = |l: &Looked| l.broken.is_none() && store::is_older(seal, &l.chain);
            // An entry written between the two looks moves the key on: look again before saying so.
            for _ in 0..3 {
                looked.older = older(&looked);
                if !looked.older {
                    break;
                }
                looked = crate::actions::look(&self.volumes()?, (outside.second)())?;
            }
            looked.older = older(&looked);
        }
        let folders: Vec<&dyn Storage> =
            std::iter::once(&register).chain(seal.as_ref()).map(|f| f as &dyn Storage).collect();
        with_aside(&mut looked, &folders);
        Ok(looked)
    }

    /// The same, to look at what is at work, and at a permit that is named: what is over need not be among it. For a permit
    /// that has ended all is read: days may be asked for since it was opened.
    pub fn look_for(&self, permit: Option<&str>, outside: &Outside<'_>) -> Result<Looked, End> {
        let at_hand = self.seal_folder(outside, None).ok().and_then(|seal| {
            let (register, seal) = (Folder::at(&self.register), Folder::at(&seal));
            crate::actions::at_hand::look(&register, &seal, (outside.second)())
        });
        let enough = |l: &Looked| permit.is_none_or(|n| l.state.in_use(&l.now.time).any(|p| p.number == n));
        match at_hand.filter(enough) {
            Some(looked) => Ok(looked),
            None => self.look(outside),
        }
    }

    /// What stands aside, a line each.
    pub fn aside_in_words(&self, outside: &Outside<'_>) -> Vec<String> {
        let register = Folder::at(&self.register);
        let seal = self.seal_folder(outside, None).ok().map(|s| Folder::at(&s));
        let folders: Vec<&dyn Storage> =
            std::iter::once(&register).chain(seal.as_ref()).map(|f| f as &dyn Storage).collect();
        let all = aside::standing(&folders, &crate::time::utc((outside.second)()), &|_| false);
        let one = |e: &Entry| {
            let said = ["what", "person", "reason", "words"].into_iter().filter_map(|m| e.data.text(m));
            let said = said.collect::<Vec<_>>().join(", ");
            let on = e.permit.as_deref().or_else(|| e.data.text("set")).unwrap_or_default();
            format!("{} {} {on} {said}", e.at, crate::view::recorded(&e.kind))
        };
        all.iter().map(|s| one(&s.entry)).collect()
    }

    /// Writes a report aside: beside the register, or else where the seal stands. Returns where.
    pub fn write_aside(&self, entry: &Entry, outside: &Outside<'_>) -> Option<PathBuf> {
        let seal = self.seal_folder(outside, None).ok();
        let paths: Vec<PathBuf> = [Some(self.register.clone()), seal].into_iter().flatten().collect();
        let folders: Vec<Folder> = paths.iter().map(|p| Folder::at(p)).collect();
        let number = aside::next_number(&folders.iter().map(|f| f as &dyn Storage).collect::<Vec<_>>());
        let file = paths.iter().find_map(|path| {
            let name = aside::write(&mut Folder::at(path), entry, number).ok()?;
            Some(path.join(name))
        })?;
        let mut folders = folders;
        let mut folders: Vec<&mut dyn Storage> = folders.iter_mut().map(|f| f as &mut dyn Storage).collect();
        aside::list(&mut folders, entry, number);
        Some(file)
    }

    fn no_register(&self) -> End {
        could_not(say!(
            "there is no register in {folder}; name its folder with --register DIR (a file {file} stands in it); \
             `airwrit enrol` begins a new one",
            folder = self.register.display(),
            file = crate::record::store::VOLUME
        ))
    }

    /// Does something at the station, under the register's lock.
    pub fn at_desk<T>(
        &self,
        outside: &mut Outside<'_>,
        log: Option<&str>,
        work: impl FnOnce(&mut Desk<'_>) -> Result<T, Trouble>,
    ) -> Result<T, End> {
        if log.is_none() && volumes::names(&Folder::at(&self.register))?.is_empty() {
            return Err(self.no_register());
        }
        let seal = self.seal_folder(outside, log)?;
        let mut register = Folder::make(&self.register)?;
        // Only a new log gets a new folder; where one is gone, an empty one would stand in the way of the real one.
        let mut seal = if log.is_some() { Folder::make_private(&seal)? } else { Folder::at_private(&seal) };
        let _lock = Lock::take(&self.register)?;
        // Best effort: a disk without room for it can still take a line.
        let _ = aside::keep_room(&mut register);
        let mut desk = Desk {
            register: &mut register,
            seal: &mut seal,
            random: outside.random,
            second: (outside.second)(),
            today: self.today.clone(),
        };
        Ok(work(&mut desk)?)
    }
}

impl Place {
    /// Does something at the station that rests on the work at hand; see [`Desk::at_work`].
    pub fn at_work<T>(
        &self,
        outside: &mut Outside<'_>,
        work: impl FnMut(&mut Desk<'_>, &mut crate::actions::Loaded) -> Result<T, Trouble>,
    ) -> Result<T, End> {
        self.at_desk(outside, None, |desk| desk.at_work(work))
    }
}

/// Reads a secret without showing it; from the input where no terminal is.
pub fn secret(prompt: &str, outside: &mut Outside<'_>) -> Result<Zeroizing<String>, End> {
    if outside.terminal {
        return rpassword::prompt_password(prompt)
            .map(Zeroizing::new)
            .map_err(|e| could_not(say!("no passphrase could be read: {why}", why = e)));
    }
    write!(outside.err, "{prompt}")?;
    let mut line = Zeroizing::new(String::new());
    outside.input.read_line(&mut line)?;
    writeln!(outside.err)?;
    if line.is_empty() {
        return Err(could_not(say!("no passphrase was given: nothing stands on the input")));
    }
    Ok(Zeroizing::new(line.trim_end_matches(['\r', '\n']).to_owned()))
}

/// Opens a private key file with its passphrase.
pub fn open_key(path: &Path, outside: &mut Outside<'_>) -> Result<SecretKey, End> {
    let pem = Zeroizing::new(crate::disk::read_file(path)?);
    let pem = std::str::from_utf8(&pem)
        .map_err(|_| could_not(say!("{file} is no key file", file = path.display())))?;
    let prompt = say!("passphrase of {file}", file = path.display());
    let passphrase = secret(&format!("{prompt}: "), outside)?;
    SecretKey::from_encrypted_pem(pem, passphrase.as_bytes())
        .map_err(|why| could_not(format!("{}: {why}", path.display())))
}

/// Prints a value as JSON with a line end.
pub fn print_json(value: &impl serde::Serialize, out: &mut dyn Write) -> Outcome {
    let text = serde_json::to_string_pretty(value).map_err(|e| could_not(format!("JSON: {e}")))?;
    // What JSON lets through and a terminal obeys (direction marks and their like) is written as its code.
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        if crate::text::forbidden_char(c) {
            let mut units = [0u16; 2];
            for u in c.encode_utf16(&mut units) {
                safe += &format!("\\u{u:04x}");
            }
        } else {
            safe.push(c);
        }
    }
    writeln!(out, "{safe}")?;
    Ok(())
}
