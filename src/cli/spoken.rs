//! Which language a run speaks: the one that is asked for, else that of the site file last entered in the register, else
//! English.
//!
//! Always: looking for it decides nothing and proves nothing; whatever cannot be read speaks English, and calling out waits
//! for it no longer than [`WAIT`]. Not here: the words (`tongue`), languages of checklists and sites (`words`).

use super::args::{Args, Command};
use super::looking::volumes_at;
use super::{End, Place};
use crate::record::line::Line;
use crate::record::volumes::{self, Volume};
use crate::tongue::{Tongue, say};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::time::Duration;

/// The longest that calling out waits for its language: a disk that does not answer holds nobody back.
const WAIT: Duration = Duration::from_millis(500);
/// What every line has that puts a site file in force: the members of a line have one order and no spaces.
const SITE: &str = "\"kind\":\"site\"";

/// The language of a tag that was typed.
///
/// # Errors
/// Says which are known.
pub fn asked(tag: &str) -> Result<Tongue, End> {
    let known: Vec<String> = Tongue::ALL.iter().map(|t| format!("{} ({})", t.tag(), t.name())).collect();
    Tongue::of(tag).ok_or_else(|| {
        End::Usage(say!(
            "got the language `{got}`, wanted one of: {known}",
            got = crate::text::safe_line(tag),
            known = known.join(", ")
        ))
    })
}

/// The language of what a command works on, where none is asked for.
pub fn of_run(args: &Args, place: &Place) -> Tongue {
    // The demo's site is its own, whatever register stands beside it; the others are read by authors and auditors.
    let apart = matches!(
        args.command,
        Command::Demo { .. }
            | Command::Lint { .. }
            | Command::Verify(_)
            | Command::Man { .. }
            | Command::Completions { .. }
    );
    let spoken = if let Command::Sign(s) = &args.command {
        volumes_at(&s.what).ok().and_then(|all| last_entered(&all))
    } else if let Command::CallOut(_) = args.command {
        in_time(place.register.clone())
    } else if apart {
        None
    } else {
        of_register(&place.register)
    };
    spoken.unwrap_or(Tongue::English)
}

/// The same of a register, unless it takes too long.
fn in_time(register: PathBuf) -> Option<Tongue> {
    let (tell, told) = mpsc::channel();
    let look = move || {
        // Nobody listens any more once it took too long.
        let _ = tell.send(of_register(&register));
    };
    std::thread::Builder::new().spawn(look).ok()?;
    told.recv_timeout(WAIT).ok().flatten()
}

/// From its last volume back, none kept in memory that is not needed.
pub fn of_register(register: &Path) -> Option<Tongue> {
    let folder = crate::disk::Folder::at(register);
    volumes::names(&folder).ok()?.iter().rev().find_map(|name| last_of_volume(&register.join(name)))?
}

/// The language of the last site file in a volume's file; `Some(None)` where it is not spoken here.
fn last_of_volume(file: &Path) -> Option<Option<Tongue>> {
    crate::disk::read_file(file).ok().and_then(|bytes| last_in(&bytes))
}

fn last_entered(all: &[Volume]) -> Option<Tongue> {
    all.iter().rev().find_map(|v| last_in(&v.bytes))?
}

fn last_in(bytes: &[u8]) -> Option<Option<Tongue>> {
    // Damaged bytes are no part of any line that reads.
    let text = String::from_utf8_lossy(bytes);
    let found: Vec<usize> = text.match_indices(SITE).map(|(at, _)| at).collect();
    let around = |at: usize| {
        let (before, after) = text.split_at_checked(at)?;
        let begins = before.rfind('\n').map_or(0, |lf| lf + 1);
        let ends = at + after.find('\n').unwrap_or(after.len());
        Line::read(text.get(begins..ends)?.as_bytes()).ok()
    };
    let line = found.into_iter().rev().filter_map(around).find(|l| l.kind.name == "site")?;
    let site = line.data.text("text").and_then(|t| crate::permit::bench::file("site", t).ok());
    Some(site.as_ref().and_then(|s| s.text("language")).and_then(Tongue::of))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_language_is_told_with_those_known() {
        assert_eq!(asked("pl-PL").ok(), Some(Tongue::Polish));
        let told = "got the language `xU+202Ex`, wanted one of: en (English), pl (polski), uk (українська)";
        assert!(matches!(asked("x\u{202e}x"), Err(End::Usage(why)) if why == told));
    }

    #[test]
    fn what_cannot_be_read_says_nothing() {
        assert_eq!(last_in(b""), None);
        assert_eq!(last_in(b"{\"body\":{\"kind\":\"site\"}}\n\xff\n"), None);
        let nowhere = PathBuf::from("no such folder");
        assert_eq!((of_register(&nowhere), in_time(nowhere)), (None, None));
    }
}
