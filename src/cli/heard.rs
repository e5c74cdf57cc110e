//! Reports that are heard whatever is typed beside them: signal first, spelling second.
//!
//! In: a line that the parser refuses. Out: the report in it, and what was left out, for the person to see. Always: nothing
//! but a report is read so; a call-out is read from any line. Not here: what is wrong with a line (`mistyped`).

use super::args::Args;
use super::mistyped::texts;
use clap::Parser as _;
use clap::error::{ContextKind, ErrorKind};
use std::ffi::OsString;

/// Reports that are heard whatever is typed beside them.
const HEARD: [&str; 6] = ["call-out", "callout", "call_out", "out", "off", "event"];
/// Options that may stand before a command, with their value behind them.
const BEFORE: [&str; 4] = ["--register", "--seal", "--today", "--language"];
/// More odd words than this nobody types by mistake.
const MOST: usize = 32;

/// A report whose line holds something that is not known: read without it, and what was left out. A call-out is read from any
/// line, another report as far as it says whom or what it is about.
pub fn heard(typed: &[OsString], first: clap::Error) -> Result<(Args, Vec<String>), clap::Error> {
    let (Some(command), true) = (command(typed), first.use_stderr()) else { return Err(first) };
    let mut line = typed.to_vec();
    let mut odd: Vec<String> = Vec::new();
    let mut error = None;
    while odd.len() < MOST {
        match Args::try_parse_from(&line) {
            Ok(args) => return Ok((args, odd)),
            Err(e) => {
                let missing = e.kind() == ErrorKind::MissingRequiredArgument;
                if missing && command == "event" && !line.iter().any(|t| t == "--what") {
                    // Which alarm it was may stand among what was not known; else it is one nobody has a word for.
                    let what = odd.iter().find(|o| !o.starts_with('-')).map_or("other", String::as_str);
                    line.extend(["--what".into(), what.into()]);
                    continue;
                }
                let Some(at) = strange(&e, &line) else {
                    error = Some(e);
                    break;
                };
                odd.push(line.remove(at).to_string_lossy().into_owned());
            }
        }
    }
    if command.starts_with("call") {
        let mut least: Vec<OsString> = vec!["airwrit".into(), "call-out".into()];
        for pair in typed.windows(2).filter(|p| p[0] == "--seal" || p[0] == "--register" || p[0] == "--by") {
            least.extend(pair.iter().cloned());
        }
        let rest = typed.iter().skip(1).filter(|t| !least.contains(t));
        let odd = rest.map(|t| t.to_string_lossy().into_owned()).collect();
        if let Ok(args) = Args::try_parse_from(&least) {
            return Ok((args, odd));
        }
    }
    Err(error.unwrap_or(first))
}

/// The command of a line, if it is one that is heard: the first word that is no option and no option's value. A word that is
/// such a command is no value: who forgets the value calls all the same.
fn command(typed: &[OsString]) -> Option<&str> {
    let mut words = typed.iter().skip(1).map(|t| t.to_str().unwrap_or_default()).peekable();
    while let Some(word) = words.next() {
        if !word.starts_with('-') {
            return Some(word).filter(|w| HEARD.contains(w));
        }
        if BEFORE.contains(&word) {
            words.next_if(|value| !HEARD.contains(value));
        }
    }
    None
}

/// Where the word stands that the parser does not know.
fn strange(error: &clap::Error, line: &[OsString]) -> Option<usize> {
    let of = if error.kind() == ErrorKind::UnknownArgument {
        texts(error.get(ContextKind::InvalidArg))
    } else if error.kind() == ErrorKind::TooManyValues {
        texts(error.get(ContextKind::InvalidValue))
    } else {
        return None;
    };
    let word = of.first()?;
    // An option may stand with its value behind a sign of equality.
    let is = |t: &OsString| {
        t.to_str().is_some_and(|t| t == word || t.split_once('=').is_some_and(|(name, _)| name == word))
    };
    line.iter().skip(1).position(is).map(|at| at + 1)
}
