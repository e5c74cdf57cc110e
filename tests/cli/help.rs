//! The whole help is one file, so that no word or flag of it changes unseen.
//! `AIRWRIT_REWRITE=1 cargo test help` writes it anew.

use crate::support::shell::{Shell, shipped};
use airwrit::cli::args::Args;
use clap::CommandFactory;

fn whole(command: &mut clap::Command, path: &str, out: &mut String) {
    let name = if path.is_empty() {
        command.get_name().to_owned()
    } else {
        format!("{path} {}", command.get_name())
    };
    out.push_str(&format!("===== {name}\n\n{}\n", command.render_long_help()));
    let children: Vec<String> =
        command.get_subcommands().map(|c| c.get_name().to_owned()).filter(|n| n != "help").collect();
    for child in children {
        whole(command.find_subcommand_mut(&child).unwrap(), &name, out);
    }
}

#[test]
fn help_is_as_kept() {
    let mut command = Args::command().term_width(100);
    command.build();
    let mut text = String::new();
    whole(&mut command, "", &mut text);
    let text: String = text.lines().map(|l| format!("{}\n", l.trim_end())).collect();
    let file = shipped("tests/snapshots/help.txt");
    if std::env::var_os("AIRWRIT_REWRITE").is_some() {
        std::fs::write(&file, &text).unwrap();
    }
    let kept = std::fs::read_to_string(&file).unwrap_or_default();
    if let Some((n, (a, b))) = kept.lines().zip(text.lines()).enumerate().find(|(_, (a, b))| a != b) {
        panic!("{file}:{}: kept `{a}`, now `{b}`; AIRWRIT_REWRITE=1 writes it anew", n + 1);
    }
    assert_eq!(kept.lines().count(), text.lines().count(), "AIRWRIT_REWRITE=1 writes it anew");
}

#[test]
fn help_is_the_answer_and_goes_to_stdout() {
    let mut s = Shell::new();
    let ran = s.bare(&["--help"], "").code(0);
    assert!(ran.err.is_empty() && ran.out.contains("Exit codes: 0 yes or done"), "{ran:?}");
    let ran = s.bare(&["--version"], "").code(0);
    assert!(ran.out.starts_with("airwrit "), "{ran:?}");
}

#[test]
fn a_wrong_command_line_is_2_and_says_what_was_meant() {
    let mut s = Shell::new();
    let ran = s.bare(&["walkk"], "").code(2);
    assert!(ran.out.is_empty() && ran.err.contains("'walk'"), "{ran:?}");
    s.bare(&[], "").code(2);
    s.bare(&["set", "filled", "heron", "--from", "a-friend"], "").code(2).says("other_tested");
    s.bare(&["note", "--words", "wind"], "").code(2);
    s.bare(&["verify", "x", "--trust", "t", "--custodian", "c"], "").code(2);
}

#[test]
fn what_was_typed_reaches_the_terminal_only_as_harmless_text() {
    let mut s = Shell::new();
    for evil in ["\u{1b}[31mred", "a\u{202e}b", "\u{7}"] {
        for args in [
            vec![evil],
            vec!["show", "--register", evil],
            vec!["lint", evil],
            vec!["verify", evil],
            vec!["key", "show", evil],
            vec!["open", "--job", evil],
            vec!["roster", "check", evil],
        ] {
            let ran = s.bare(&args, "");
            assert!(ran.code == 2 || ran.code == 3, "{args:?}: {ran:?}");
            let bad = ran.out.chars().chain(ran.err.chars()).find(|c| airwrit::text::forbidden_char(*c));
            assert_eq!(bad, None, "{args:?}: {ran:?}");
        }
    }
}
