//! The program: hands the world to the library and returns its exit code.

#![allow(clippy::disallowed_methods, reason = "arguments are handed in here")]

use std::io::IsTerminal;

fn main() -> std::process::ExitCode {
    let mut outside = airwrit::cli::Outside {
        terminal: std::io::stdin().is_terminal(),
        input: &mut std::io::stdin().lock(),
        out: &mut std::io::stdout().lock(),
        // Not locked: whatever thread fails can say so.
        err: &mut std::io::stderr(),
        second: &airwrit::disk::second,
        random: &mut airwrit::disk::SystemRandom,
        state_folder: airwrit::disk::state_folder(),
        page: airwrit::page::serve,
        aside: airwrit::cli::Aside::default(),
        face: airwrit::cli::Face::default(),
    };
    let code = airwrit::cli::run(std::env::args_os(), &mut outside);
    std::process::ExitCode::from(u8::try_from(code).unwrap_or(3))
}
