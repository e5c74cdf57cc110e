//! A day of an invented site, played through the real engine: checklist, holds, signatures, people on
//! air, shutdown, paper, verification, and damaged copies that fail.
//!
//! Everything in it is invented. Its keys come from seeds that everybody knows and sign nothing real:
//! `airwrit enrol` refuses a roster that holds one of them. Its clock and randomness are fixed, so that
//! every run leaves the same register.

mod damage;
mod day;
mod people;
mod year;

use super::{End, Outcome, Outside, could_not};
use crate::audit::{self, Trust, Verdict};
use crate::disk::Folder;
use crate::record::store::VOLUME;
use crate::tongue::{Tongue, say};
use crate::trust::Roster;
use std::io::Write;
use std::path::{Path, PathBuf};

pub use people::{is_demo_roster, secret_key};

/// Passphrase of every demo key file.
pub const PASSPHRASE: &str = "demo";

/// What the demo leaves behind.
#[derive(Debug)]
pub struct Left {
    /// Its folder.
    pub folder: PathBuf,
    /// The permit's number.
    pub permit: String,
    /// Lines in the register.
    pub lines: usize,
}

/// `airwrit demo`.
pub fn command(into: Option<&Path>, outside: &mut Outside<'_>) -> Outcome {
    let folder = into.map_or_else(|| PathBuf::from("demo"), Path::to_path_buf);
    let left = play(&folder, outside.out)?;
    let hint = say!(
        "look round: `airwrit show {permit} --register {register} --seal {seal}`; keys in {keys} open with the passphrase \
         \"{passphrase}\"",
        permit = left.permit,
        register = super::shell_word(&left.folder.join("register")),
        seal = super::shell_word(&left.folder.join("seal")),
        keys = super::shell_word(&left.folder.join("keys")),
        passphrase = PASSPHRASE
    );
    writeln!(outside.err, "{}", say!("hint: {hint}", hint))?;
    Ok(())
}

/// `airwrit demo --days N`: a register of many days, to measure with; so many permits on each.
pub fn year(into: Option<&Path>, (days, permits): (u32, u32), outside: &mut Outside<'_>) -> Outcome {
    let folder = into.map_or_else(|| PathBuf::from("demo"), Path::to_path_buf);
    let lines = Tongue::English.within(|| made(&folder, days, permits))?;
    writeln!(
        outside.out,
        "{}",
        say!(
            "{lines} lines of {days} invented days, {permits} permits on each: {register}",
            lines,
            days,
            permits,
            register = folder.join("register").display()
        )
    )?;
    Ok(())
}

/// Makes such a register in a folder that does not exist yet or is empty; how many lines it has.
pub fn made(folder: &Path, days: u32, permits: u32) -> Result<u64, End> {
    if crate::disk::holds_something(folder) {
        return Err(could_not(say!(
            "{folder} is not empty; nothing in it is touched. Name another folder with --into",
            folder = folder.display()
        )));
    }
    let cast = people::cast().map_err(could_not)?;
    people::write(&cast, folder)?;
    year::make(&cast, folder, days, permits)
}

/// An invented station in a folder, its texts in force and nothing opened: for whoever tries it themselves.
pub fn enrolled(folder: &Path, out: &mut dyn Write) -> Outcome {
    let cast = people::cast().map_err(could_not)?;
    people::write(&cast, folder)?;
    day::begun(&cast, folder, out)
}

/// The same with its permit opened, answered and declared; its number.
#[cfg(test)]
pub fn declared(folder: &Path) -> Result<String, End> {
    let cast = people::cast().map_err(could_not)?;
    people::write(&cast, folder)?;
    day::declared(&cast, folder, &mut std::io::sink())
}

/// Plays the day into a folder that does not exist yet or is empty, telling what happens.
pub fn play(folder: &Path, out: &mut dyn Write) -> Result<Left, End> {
    if crate::disk::holds_something(folder) {
        return Err(could_not(say!(
            "{folder} is not empty; nothing in it is touched. Name another folder with --into",
            folder = folder.display()
        )));
    }
    let register_folder = folder.join("register");
    Folder::make(&register_folder)?;
    let cast = people::cast().map_err(could_not)?;
    people::write(&cast, folder)?;
    writeln!(out, "{}\n", say!("A day at an invented yard. Nothing in it is real; the engine is."))?;
    // What is kept of it, and its story, are the same in whatever language it is told.
    let (permit, lines) = Tongue::English.within(|| day::play(&cast, folder, out))?;
    let bytes = crate::disk::read_file(&register_folder.join(VOLUME))?;
    verify(&bytes, &cast.trust, folder, out)?;
    Ok(Left { folder: folder.to_owned(), permit, lines })
}

fn verify(bytes: &[u8], trust: &Trust, folder: &Path, out: &mut dyn Write) -> Outcome {
    let report = audit::verify(bytes, Some(trust)).report;
    writeln!(out, "\n{}", say!("Verification, with the custodians' fingerprints from outside (trust.yaml)"))?;
    for line in audit::words(&report).lines().take(1) {
        writeln!(out, "  {line}")?;
    }
    let alone = audit::verify(bytes, None).report;
    writeln!(out, "  {}", say!("without them: {verdict}", verdict = word(alone.verdict)))?;
    if report.verdict != Verdict::Sound {
        return Err(could_not(say!(
            "the demo's own register does not verify: {report}",
            report = audit::words(&report)
        )));
    }
    writeln!(out, "\n{}", say!("Damaged copies"))?;
    for (name, what, damaged) in damage::copies(bytes) {
        let report = audit::verify(&damaged, Some(trust)).report;
        let dir = folder.join("damaged").join(name);
        Folder::make(&dir)?;
        crate::disk::write_file(&dir.join(VOLUME), &damaged, true, false)?;
        let said = report.said.first();
        let why = said.map_or(String::new(), |s| format!("rule `{}`: {}", s.rule, s.why));
        let verdict = word(report.verdict);
        let words = match said.and_then(|s| s.line) {
            Some(line) => say!("{copy}: {verdict} at line {line}", copy = what, verdict, line),
            None => say!("{copy}: {verdict}", copy = what, verdict),
        };
        writeln!(out, "  {words}")?;
        writeln!(out, "      {}", crate::text::safe_line(&why))?;
        if report.verdict != Verdict::Broken {
            return Err(could_not(say!("the damaged copy {name} was not found out", name)));
        }
    }
    Ok(())
}

fn word(v: Verdict) -> &'static str {
    match v {
        Verdict::Sound => say!("sound"),
        Verdict::Unproven => say!("unproven"),
        Verdict::Broken => say!("BROKEN"),
        Verdict::CouldNot => say!("could not be read"),
    }
}

/// The cast: keys by person, the roster and who signed it.
pub struct Cast {
    roster: Roster,
    signs: Vec<crate::trust::roster::RosterSign>,
    custodians: Vec<&'static str>,
    trust: Trust,
}
