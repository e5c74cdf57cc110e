//! The command line: arguments in, words out. Holds no rules; every command calls one action.
//!
//! `stdout` is the answer, `stderr` the conversation. Exit codes: 0 yes or done · 1 the answer is no ·
//! 2 wrong command line · 3 could not · 4 broken · 5 unproven.

pub mod args;
mod custody;
pub mod demo;
mod looking;
mod signing;
mod station;
mod walk;

use crate::actions::{Desk, Trouble};
use crate::disk::{Folder, Lock};
use crate::trust::SecretKey;
use crate::world::Random;
use args::{Args, Command};
use clap::Parser;
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
}

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
        End::Trouble(Trouble::CouldNot(format!("the terminal cannot be written to: {e}")))
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
    let args = match Args::try_parse_from(args) {
        Ok(a) => a,
        Err(e) => {
            let to_out = !e.use_stderr();
            let text = e.render().to_string();
            let stream: &mut dyn Write = if to_out { outside.out } else { outside.err };
            let _ = stream.write_all(text.as_bytes());
            return if to_out { 0 } else { 2 };
        }
    };
    match command(&args, outside) {
        Ok(()) => 0,
        Err(end) => tell(end, outside.err),
    }
}

fn tell(end: End, err: &mut dyn Write) -> i32 {
    // Nothing can be told if the terminal is gone; the exit code still says it.
    let mut say = |line: String| {
        let _ = writeln!(err, "{line}");
    };
    match end {
        End::No => 1,
        End::Code(code) => code,
        End::Usage(why) => {
            say(format!("error: {why}"));
            2
        }
        End::Trouble(Trouble::Refused(r)) => {
            say("refused:".into());
            for why in r.why {
                say(format!("  {}", crate::text::safe_line(&why)));
            }
            if let Some(h) = r.instead {
                say(format!("hint: {h}"));
            }
            1
        }
        End::Trouble(Trouble::Broken { seq, broken }) => {
            say(format!("error: the register is broken at line {seq}, rule `{}`: {}", broken.rule, broken.why));
            say("hint: write nothing to it; `airwrit verify` tells more; call people out by the agreed signal".into());
            4
        }
        End::Trouble(Trouble::CouldNot(why)) => {
            say(format!("error: {}", crate::text::safe_line(&why)));
            3
        }
    }
}

fn command(args: &Args, outside: &mut Outside<'_>) -> Outcome {
    let place = Place { register: args.register.clone(), seal: args.seal.clone() };
    match &args.command {
        Command::Lint { files, json } => looking::lint(files, *json, outside),
        Command::Verify(v) => looking::verify(v, outside),
        Command::Show { permit, json } => looking::show(&place, permit.as_deref(), *json, outside),
        Command::Print { permit, to, hangs, letter } => {
            looking::print(&place, permit, to, hangs.as_deref(), *letter, outside)
        }
        Command::Excerpt { permit, to } => looking::excerpt(&place, permit, to, outside),
        Command::Key(k) => custody::key(k, outside),
        Command::Roster(r) => custody::roster(r, outside),
        Command::Enrol(e) => custody::enrol(&place, e, outside),
        Command::Approve { files, who } => custody::approve(&place, files, who, outside),
        Command::Open(o) => station::open(&place, o, outside),
        Command::Job { permit, file, by } => station::job(&place, permit, file, by.as_deref(), outside),
        Command::Answer(a) => station::answer(&place, a, outside),
        Command::Walk { permit, shutdown, by } => {
            walk::walk(&place, permit.as_deref(), *shutdown, by.as_deref(), outside)
        }
        Command::Declare { permit, who } => signing::declare(&place, permit, who, outside),
        Command::Countersign(c) => signing::countersign(&place, c, outside),
        Command::Refuse { permit, reason, who } => signing::refuse(&place, permit, reason, who, outside),
        Command::HandBack { permit, left_running, reason, who } => {
            signing::hand_back(&place, permit, left_running.as_deref(), reason.as_deref(), who, outside)
        }
        Command::Close { permit, who } => signing::close(&place, permit, who, outside),
        Command::Cancel { permit, reason, who } => signing::cancel(&place, permit, reason, who, outside),
        Command::On(t) => station::tally(&place, crate::permit::decide::air::Move::OnAir, t, outside),
        Command::In(t) => station::tally(&place, crate::permit::decide::air::Move::In, t, outside),
        Command::Out(t) => station::tally(&place, crate::permit::decide::air::Move::Out, t, outside),
        Command::Off(t) => station::tally(&place, crate::permit::decide::air::Move::OffAir, t, outside),
        Command::CallOut { on, words, told } => station::call_out(&place, on, words.as_deref(), told, outside),
        Command::Suspend { on, reason, told } => station::suspend(&place, on, reason, told, outside),
        Command::Event { on, what, words, told } => {
            station::event(&place, on, what, words.as_deref(), told, outside)
        }
        Command::Set(s) => station::of_set(&place, s, outside),
        Command::Reading(r) => station::reading(&place, r, outside),
        Command::Note { on, words } => station::note(&place, on, words, outside),
        Command::TakenDown { permit, copy } => station::taken_down(&place, permit, *copy, outside),
        Command::Demo { into } => demo::command(into.as_deref(), outside),
    }
}

/// Where a register and its seal stand.
#[derive(Clone, Debug)]
pub struct Place {
    /// The register's folder.
    pub register: PathBuf,
    /// The seal's folder, if told.
    pub seal: Option<PathBuf>,
}

impl Place {
    /// The log id that line 0 names, if there is one.
    fn log(&self) -> Option<String> {
        use crate::world::Storage;
        let bytes = Folder::at(&self.register).read(crate::record::store::VOLUME).ok()??;
        let first = bytes.split(|b| *b == b'\n').next()?;
        crate::record::line::Line::read(first).ok().map(|l| l.log)
    }

    /// The seal's folder: as told, or under the user's state folder by log.
    fn seal_folder(&self, outside: &Outside<'_>, log: Option<&str>) -> Result<PathBuf, End> {
        if let Some(s) = &self.seal {
            return Ok(s.clone());
        }
        let log = log.map(str::to_owned).or_else(|| self.log()).unwrap_or_else(|| "none".into());
        let state = outside.state_folder.as_ref().ok_or_else(|| {
            could_not("no folder for the seal key is known: name one with --seal, outside the register's folder")
        })?;
        Ok(state.join("seal").join(log))
    }

    /// Does something at the station, under the register's lock.
    pub fn at_desk<T>(
        &self,
        outside: &mut Outside<'_>,
        log: Option<&str>,
        work: impl FnOnce(&mut Desk<'_>) -> Result<T, Trouble>,
    ) -> Result<T, End> {
        if log.is_none() && !self.register.join(crate::record::store::VOLUME).exists() {
            return Err(could_not(format!(
                "there is no register in {}; name its folder with --register, or begin one with `airwrit enrol`",
                self.register.display()
            )));
        }
        let seal = self.seal_folder(outside, log)?;
        let mut register = Folder::make(&self.register)?;
        let mut seal = Folder::make_private(&seal)?;
        let _lock = Lock::take(&self.register)?;
        let mut desk = Desk {
            register: &mut register,
            seal: &mut seal,
            random: outside.random,
            second: (outside.second)(),
        };
        Ok(work(&mut desk)?)
    }
}

/// Reads a secret without showing it; from the input where no terminal is.
pub fn secret(prompt: &str, outside: &mut Outside<'_>) -> Result<Zeroizing<String>, End> {
    if outside.terminal {
        return rpassword::prompt_password(prompt)
            .map(Zeroizing::new)
            .map_err(|e| could_not(format!("no passphrase could be read: {e}")));
    }
    write!(outside.err, "{prompt}")?;
    let mut line = Zeroizing::new(String::new());
    outside.input.read_line(&mut line)?;
    writeln!(outside.err)?;
    if line.is_empty() {
        return Err(could_not("no passphrase was given: nothing stands on the input"));
    }
    Ok(Zeroizing::new(line.trim_end_matches(['\r', '\n']).to_owned()))
}

/// Opens a private key file with its passphrase.
pub fn open_key(path: &Path, outside: &mut Outside<'_>) -> Result<SecretKey, End> {
    let pem = Zeroizing::new(crate::disk::read_file(path)?);
    let pem = std::str::from_utf8(&pem).map_err(|_| could_not(format!("{} is no key file", path.display())))?;
    let passphrase = secret(&format!("passphrase of {}: ", path.display()), outside)?;
    SecretKey::from_encrypted_pem(pem, passphrase.as_bytes())
        .map_err(|why| could_not(format!("{}: {why}", path.display())))
}

/// Prints a value as JSON with a line end.
pub fn print_json(value: &impl serde::Serialize, out: &mut dyn Write) -> Outcome {
    let text = serde_json::to_string_pretty(value).map_err(|e| could_not(format!("JSON: {e}")))?;
    writeln!(out, "{text}")?;
    Ok(())
}
