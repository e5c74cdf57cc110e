//! What is wrong with a command line, in the language of the run: what was typed, what was wanted, what to type instead.
//!
//! In: the parser's error, its kind and what it is about. Out: our own sentences, in another language than English;
//! English is as the parser words it. Always: the exit code and the stream are the parser's; what was typed is quoted.

use super::help::tongue_of;
use crate::tongue::{Tongue, say};
use clap::error::{ContextKind, ContextValue, ErrorKind};
use std::error::Error as _;
use std::ffi::OsString;

/// The error in the language of this command line, if it is another than English and this is one that is told here.
pub fn in_tongue(error: &clap::Error, typed: &[OsString]) -> Option<String> {
    tongue_of(typed).filter(|t| *t != Tongue::English)?.within(|| told(error))
}

/// The whole message, as the parser lays it out: what is wrong, tips, usage, where to read on.
fn told(error: &clap::Error) -> Option<String> {
    let why = wrong(error)?;
    let mut out = say!("error: {why}", why);
    let tips = tips(error);
    if !tips.is_empty() {
        out += "\n";
    }
    for tip in tips {
        out += &format!("\n  {}", say!("hint: {hint}", hint = tip));
    }
    if let Some(ContextValue::StyledStr(usage)) = error.get(ContextKind::Usage) {
        let usage = usage.to_string();
        let usage = usage.strip_prefix("Usage:").unwrap_or(&usage).trim_start();
        out += &format!("\n\n{}: {usage}", say!("Usage"));
    }
    out += &format!("\n\n{}\n", say!("`--help` tells more"));
    Some(out)
}

pub(super) fn texts(value: Option<&ContextValue>) -> Vec<String> {
    match value {
        Some(ContextValue::String(one)) => vec![one.clone()],
        Some(ContextValue::Strings(all)) => all.clone(),
        Some(ContextValue::StyledStrs(all)) => all.iter().map(ToString::to_string).collect(),
        // The parser's kinds of value may grow: what is not known is not told.
        Some(_) | None => Vec::new(),
    }
}

fn quoted(all: &[String]) -> String {
    let all: Vec<String> = all.iter().map(|t| format!("`{}`", crate::text::safe_line(t))).collect();
    all.join(", ")
}

/// What is wrong, in one sentence; none for what is no fault of what was typed.
fn wrong(error: &clap::Error) -> Option<String> {
    let all = |kind| texts(error.get(kind));
    let one = |kind| all(kind).first().map(|t| crate::text::safe_line(t).into_owned());
    let number = |kind| match error.get(kind) {
        Some(ContextValue::Number(n)) => Some(*n),
        Some(_) | None => None,
    };
    let arg = one(ContextKind::InvalidArg);
    let got = one(ContextKind::InvalidValue);
    Some(match error.kind() {
        ErrorKind::UnknownArgument => say!("`{got}` is not known here", got = arg?),
        ErrorKind::InvalidSubcommand => {
            say!("there is no command `{got}`", got = one(ContextKind::InvalidSubcommand)?)
        }
        ErrorKind::MissingRequiredArgument => {
            say!("this is missing: {args}", args = quoted(&all(ContextKind::InvalidArg)))
        }
        ErrorKind::MissingSubcommand => say!(
            "`{command}` wants one of these commands: {commands}",
            command = one(ContextKind::InvalidSubcommand)?,
            commands = quoted(&all(ContextKind::ValidSubcommand))
        ),
        ErrorKind::InvalidValue => value(&arg?, &got?, &all(ContextKind::ValidValue)),
        ErrorKind::ValueValidation => number_wanted(&arg?, &got?, error),
        ErrorKind::ArgumentConflict => conflict(error, arg)?,
        ErrorKind::NoEquals => say!("`{arg}` wants its value behind a `=`", arg = arg?),
        ErrorKind::TooManyValues => {
            say!("got `{got}` for `{arg}`, which takes no more values", got = got?, arg = arg?)
        }
        ErrorKind::TooFewValues | ErrorKind::WrongNumberOfValues => say!(
            "`{arg}` wants {wanted} values, got {got}",
            arg = arg?,
            wanted = number(ContextKind::ExpectedNumValues).or(number(ContextKind::MinValues))?,
            got = number(ContextKind::ActualNumValues)?
        ),
        ErrorKind::InvalidUtf8 => say!("something that was typed is not UTF-8 text").into(),
        // Help, version, a terminal that fails; and whatever the parser learns to say.
        ErrorKind::DisplayHelp
        | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand
        | ErrorKind::DisplayVersion
        | ErrorKind::Io
        | ErrorKind::Format
        | _ => return None,
    })
}

fn value(arg: &str, got: &str, valid: &[String]) -> String {
    match (got.is_empty(), valid.is_empty()) {
        (true, true) => say!("`{arg}` wants a value", arg),
        (true, false) => say!("`{arg}` wants a value, one of: {values}", arg, values = quoted(valid)),
        (false, true) => say!("got `{got}` for `{arg}`, which it cannot be", got, arg),
        (false, false) => {
            say!("got `{got}` for `{arg}`, wanted one of: {values}", got, arg, values = quoted(valid))
        }
    }
}

/// All values that are checked one by one here are whole numbers, some within a range.
fn number_wanted(arg: &str, got: &str, error: &clap::Error) -> String {
    let why = error.source().map(ToString::to_string).unwrap_or_default();
    let range = why.split_once(" is not in ").and_then(|(_, range)| range.split_once("..="));
    match range {
        Some((least, most)) => {
            say!(
                "got `{got}` for `{arg}`, wanted a whole number from {least} to {most}",
                got,
                arg,
                least,
                most
            )
        }
        None => say!("got `{got}` for `{arg}`, wanted a whole number", got, arg),
    }
}

fn conflict(error: &clap::Error, arg: Option<String>) -> Option<String> {
    let what = arg.or_else(|| texts(error.get(ContextKind::InvalidSubcommand)).into_iter().next())?;
    let others = texts(error.get(ContextKind::PriorArg));
    Some(match others.as_slice() {
        [same] if *same == what => say!("`{arg}` may be given only once", arg = what),
        [] => say!("`{arg}` does not go together with what else was typed", arg = what),
        others => say!("`{arg}` does not go together with {others}", arg = what, others = quoted(others)),
    })
}

/// What may have been meant.
fn tips(error: &clap::Error) -> Vec<String> {
    let mut out = Vec::new();
    for kind in [ContextKind::SuggestedSubcommand, ContextKind::SuggestedArg, ContextKind::SuggestedValue] {
        let near = texts(error.get(kind));
        if !near.is_empty() {
            out.push(say!("was {near} meant?", near = quoted(&near)));
        }
    }
    for tip in texts(error.get(ContextKind::Suggested)) {
        // As the parser has them: to pass 'X' as a value, use 'Y'; 'X' exists.
        let quoted: Vec<&str> = tip.split('\'').collect();
        match quoted.as_slice() {
            ["to pass ", what, _, typed, ""] => {
                out.push(say!("to give `{what}` as a value, type `{typed}`", what, typed));
            }
            ["", what, " exists"] => out.push(say!("`{what}` exists", what)),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::cli::args::Args;
    use clap::CommandFactory;

    /// Command lines that are wrong, each in another way.
    const WRONG: &[&[&str]] = &[
        &["no-such-command"],
        &["opne"],
        &["show", "--no-such-option"],
        &["board", "--jsn"],
        &["board", "extra"],
        &["answer"],
        &["verify"],
        &["verify", "x", "--threshold", "many"],
        &["verify", "x", "--threshold", "1", "--threshold", "2"],
        &["demo", "--days", "400"],
        &["relieve", "AB-261125-01", "--role", "cook", "--to", "ola"],
        &["relieve", "AB-261125-01", "--role", "attendnat", "--to", "ola"],
        &["relieve", "AB-261125-01", "--role"],
        &["card", "AB-261125-01", "--blank", "x.pdf"],
        &["taken-down", "AB-261125-01", "--copy", "-1"],
        &["verify", "x", "--", "y", "z"],
    ];

    #[test]
    fn errors_are_in_the_language_asked_for_and_name_what_was_typed() {
        for wrong in WRONG {
            let typed = |tag: &str| -> Vec<OsString> {
                ["airwrit", "--language", tag].iter().chain(*wrong).map(OsString::from).collect()
            };
            let error = |tag: &str| Args::command().try_get_matches_from(typed(tag)).unwrap_err();
            assert_eq!(in_tongue(&error("en"), &typed("en")), None, "{wrong:?}");
            let english = error("pl").render().to_string();
            for tag in ["pl", "uk"] {
                let own = in_tongue(&error(tag), &typed(tag));
                assert!(own.is_some(), "{english}");
                let own = own.unwrap();
                for word in ["error", "Usage", "tip:", "argument", " found", "value", "For more"] {
                    assert!(!own.replace("--", "").contains(word), "{word}: {own}\n{english}");
                }
                // What the parser quotes of what was typed, we quote.
                let first = english.lines().next().unwrap();
                let quoted = first.split('\'').nth(1).unwrap_or_default();
                assert!(own.contains(quoted), "{quoted}: {own}");
                // The same form to type it in.
                let form =
                    |text: &str| text.lines().find(|l| l.contains("airwrit")).unwrap_or_default().to_owned();
                let form = (form(&english), form(&own));
                assert_eq!(
                    form.0.split_once(": ").map(|f| f.1),
                    form.1.split_once(": ").map(|f| f.1),
                    "{own}"
                );
            }
        }
    }
}
