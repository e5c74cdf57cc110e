//! The help in the language of a run: the texts of `args`, looked up like all other fixed words.
//!
//! Always: what is shown in another language is the command line that is read, with other texts; what is read does not
//! depend on it. Errors in a command line are told elsewhere (`mistyped`).

use super::args::Args;
use super::spoken;
use crate::tongue::{Tongue, say, translated};
use clap::builder::StyledStr;
use clap::{Arg, Command, CommandFactory};
use std::ffi::OsString;
use std::path::Path;

/// The same help in the language of this command line, if it is another than English and was to be shown.
pub fn in_tongue(error: &clap::Error, typed: &[OsString]) -> Option<String> {
    use clap::error::ErrorKind::{DisplayHelp, DisplayHelpOnMissingArgumentOrSubcommand as Bare};
    if !matches!(error.kind(), DisplayHelp | Bare) {
        return None;
    }
    tongue_of(typed).filter(|t| *t != Tongue::English)?.within(|| {
        let mut command = Args::command();
        command.build();
        own(command).try_get_matches_from(typed).err().map(|e| e.render().to_string())
    })
}

/// The language of a command line that is not read yet, or cannot be: as asked for, or that of the register's site.
pub fn tongue_of(typed: &[OsString]) -> Option<Tongue> {
    let asked = after("--language", typed).map(|tag| Tongue::of(&tag).unwrap_or(Tongue::English));
    let register = after("--register", typed).unwrap_or_else(|| super::REGISTER.to_owned());
    asked.or_else(|| spoken::of_register(Path::new(&register)))
}

/// What stands behind an option; the command line is not read yet.
fn after(option: &str, typed: &[OsString]) -> Option<String> {
    typed.iter().enumerate().find_map(|(n, arg)| {
        let rest = arg.to_str()?.strip_prefix(option)?;
        match rest.strip_prefix('=') {
            Some(value) => Some(value.to_owned()),
            None if rest.is_empty() => typed.get(n + 1)?.to_str().map(str::to_owned),
            None => None,
        }
    })
}

/// A command and those below it with their own texts.
fn own(mut command: Command) -> Command {
    let text = |english: Option<&StyledStr>| english.and_then(|e| translated(&e.to_string()));
    let heads = (say!("Arguments"), say!("Options"));
    if let Some(own) = text(command.get_about()) {
        command = command.about(own);
    }
    if let Some(own) = text(command.get_long_about()) {
        command = command.long_about(own);
    }
    if let Some(own) = text(command.get_after_help()) {
        command = command.after_help(own);
    }
    if command.has_subcommands() {
        command = command.subcommand_help_heading(say!("Commands"));
    }
    let usage = say!("Usage");
    let of_arg = |mut arg: Arg| {
        if let Some(own) = text(arg.get_help()) {
            arg = arg.help(own);
        }
        if let Some(own) = text(arg.get_long_help()) {
            arg = arg.long_help(own);
        }
        let head = if arg.is_positional() { heads.0 } else { heads.1 };
        arg.help_heading(head)
    };
    command
        .help_template(format!(
            "{{before-help}}{{about-with-newline}}\n{usage}: {{usage}}\n\n{{all-args}}{{after-help}}"
        ))
        .mut_args(of_arg)
        .mut_subcommands(own)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn shown(typed: &[&str]) -> Option<String> {
        let typed: Vec<OsString> = typed.iter().map(OsString::from).collect();
        let error = Args::command().try_get_matches_from(&typed).unwrap_err();
        in_tongue(&error, &typed)
    }

    #[test]
    fn help_is_shown_in_the_language_asked_for() {
        for typed in [
            ["airwrit", "--language", "pl", "--help"].as_slice(),
            &["airwrit", "on", "--language=uk", "--help"],
            &["airwrit", "on", "-h", "--language", "uk"],
        ] {
            let own = shown(typed).unwrap();
            assert!(
                !own.contains("Usage:") && !own.contains("Options:") && !own.contains("Print help"),
                "{own}"
            );
            // No option is lost.
            let typed: Vec<&str> = typed
                .iter()
                .copied()
                .filter(|a| !a.starts_with("--language") && !["pl", "uk"].contains(a))
                .collect();
            let english = Args::command().try_get_matches_from(&typed).unwrap_err().render().to_string();
            let options = |text: &str| -> Vec<String> {
                text.split_whitespace()
                    .filter(|w| w.starts_with("--") && w.len() > 2)
                    .map(str::to_owned)
                    .collect()
            };
            let named: Vec<String> = options(&english)
                .into_iter()
                .filter(|o| o.ends_with(|c: char| c.is_ascii_lowercase()))
                .collect();
            assert!(named.iter().all(|o| options(&own).contains(o)), "{english}\n{own}");
        }
    }

    #[test]
    fn english_help_and_errors_are_not_of_here() {
        assert_eq!(shown(&["airwrit", "--language", "en", "--help"]), None);
        assert_eq!(shown(&["airwrit", "--language", "xx", "--help"]), None);
        assert_eq!(shown(&["airwrit", "--language", "pl", "no such command"]), None);
        assert_eq!(shown(&["airwrit", "--register", "no such folder", "--help"]), None);
    }
}
