//! A bundle that is kept as it is after an event: the register byte for byte, both verifiers that trust nothing of this
//! program, sums of all files, and the head to copy by hand into another book at once.
//!
//! Always: into a folder that is new or empty; a register that is broken or older is copied all the same, and said so.
//! Never the seal key. Not here: verifying (`verify`).

use super::{End, Outcome, Outside, Place, could_not, shell_word};
use crate::actions::Looked;
use crate::disk::{self, Folder};
use crate::record::line::hash;
use crate::time::for_people;
use crate::tongue::{Tongue, say};
use crate::world::Storage;
use std::path::Path;

const PYTHON: &[u8] = include_bytes!("../../examples/verify.py");
const SHELL: &[u8] = include_bytes!("../../examples/verify.sh");
/// Files of the register's folder that are no record: the lock, and the room kept for reports written aside.
const NOT_KEPT: [&str; 2] = ["lock", "room"];

/// `airwrit freeze`.
pub fn freeze(place: &Place, into: &Path, outside: &mut Outside<'_>) -> Outcome {
    if disk::holds_something(into) {
        return Err(could_not(say!(
            "{folder} is not empty; nothing in it is touched",
            folder = shell_word(into)
        )));
    }
    let from = Folder::at(&place.register);
    let names: Vec<String> = from.list()?.into_iter().filter(|n| !NOT_KEPT.contains(&n.as_str())).collect();
    if names.is_empty() {
        return Err(could_not(say!("no register stands in {folder}", folder = shell_word(&place.register))));
    }
    let mut bundle = Folder::make(into)?;
    let mut register = Folder::make(&into.join("register"))?;
    let mut sums = String::new();
    let mut of_register: Vec<String> = Vec::new();
    for name in &names {
        // Folders in it are nobody's record.
        if disk::is_folder(&place.register.join(name)) {
            continue;
        }
        let Some(bytes) = from.read(name)? else { continue };
        kept(&mut register, name, &bytes)?;
        of_register.push(format!("register/{name}, SHA-256 {}", hash(&bytes)));
        sums.push_str(&format!("{}  register/{name}\n", hash(&bytes)));
    }
    for (name, bytes) in [("verify.py", PYTHON), ("verify.sh", SHELL)] {
        kept(&mut bundle, name, bytes)?;
        sums.push_str(&format!("{}  {name}\n", hash(bytes)));
    }
    let looked = place.look(outside).ok();
    // The bundle is for whoever inquires later; the screen is for whoever copies it now.
    let kept_head = Tongue::English.within(|| head(looked.as_ref(), &of_register));
    let words = format!(
        "{kept_head}\n\nCopy the lines above into another book at once, by hand, with the time and your name: what stands there \
         cannot be changed here.\n\nsha256sum -c SHA256SUMS\npython3 verify.py --trust TRUST register\nbash verify.sh register\n\n\
         TRUST names the custodians; it comes from outside, not from this folder.\n"
    );
    kept(&mut bundle, "READ-ME.txt", words.as_bytes())?;
    sums.push_str(&format!("{}  READ-ME.txt\n", hash(words.as_bytes())));
    kept(&mut bundle, "SHA256SUMS", sums.as_bytes())?;
    register.flush_folder()?;
    bundle.flush_folder()?;
    let not = disk::read_only(into).err();
    writeln!(outside.out, "{}", head(looked.as_ref(), &of_register))?;
    writeln!(
        outside.out,
        "{}",
        say!(
            "frozen into {folder}; copy these lines into another book at once, by hand",
            folder = shell_word(into)
        )
    )?;
    if let Some(e) = not {
        writeln!(outside.err, "{}", say!("it could not be made read-only: {why}", why = e.why))?;
    }
    Ok(())
}

fn kept(folder: &mut Folder, name: &str, bytes: &[u8]) -> Result<(), End> {
    folder.write(name, bytes)?;
    folder.flush(name)?;
    Ok(())
}

/// What is copied by hand: of which register, up to which line; where none can be read, the sums of its files.
fn head(looked: Option<&Looked>, files: &[String]) -> String {
    let Some(looked) = looked else {
        let none = say!("the register cannot be read; its bytes are kept as they are");
        return format!("{none}\n{}", files.join("\n"));
    };
    let origin = &looked.chain.origin;
    let damaged = match (&looked.broken, looked.torn) {
        (Some((at, broken)), _) => {
            format!("\n{}", say!("BROKEN from line {line}: {why}", line = at, why = broken.why))
        }
        (None, true) => format!("\n{}", say!("bytes stand after the last whole line")),
        (None, false) => String::new(),
    };
    let on: Vec<String> = looked.state.on_air.iter().map(|p| p.person.clone()).collect();
    let on = if on.is_empty() { say!("nobody").to_owned() } else { on.join(", ") };
    let last = looked.lines.last();
    let lines = [
        say!("station {station}, log {log}", station = origin.station, log = origin.log),
        say!(
            "line {line}, head {hash}",
            line = last.map_or(0, |l| l.seq),
            hash = last.map(|l| l.hash.as_str()).unwrap_or_default()
        ),
        say!(
            "frozen {time}, last line of {last}",
            time = for_people(&looked.now.time, &looked.now.zone),
            last = last.map(|l| for_people(&l.time, &l.zone)).unwrap_or_default()
        ),
        say!("on air: {names}", names = crate::text::safe_line(&on)),
    ];
    format!("{}{damaged}", lines.join("\n"))
}
