//! Rosters: check, compare, sign, make the next version, put it in force.
//!
//! Signatures stand beside a roster as stock OpenSSH armours: `FILE.sig`, as `ssh-keygen -Y sign` names it,
//! or `FILE.NAME.sig` where several custodians sign the same file.

use super::args::{RosterArgs, RosterCommand};
use super::{End, Outcome, Outside, Place, could_not, demo, open_key, print_json, shell_word};
use crate::actions::{roster_sign, sign_roster};
use crate::audit::Later;
use crate::permit::decide::Refusal;
use crate::tongue::say;
use crate::trust::changes::{changes, next_text};
use crate::trust::roster::RosterSign;
use crate::trust::succession::{forbidden, signed};
use crate::trust::{Roster, Signer};
use std::path::{Path, PathBuf};

fn text_of(path: &Path) -> Result<String, End> {
    let bytes = crate::disk::read_file(path)?;
    String::from_utf8(bytes).map_err(|_| could_not(say!("{file} is not UTF-8 text", file = path.display())))
}

/// A roster from its file.
pub fn read_roster(path: &Path) -> Result<Roster, End> {
    Roster::read(&text_of(path)?).map_err(|why| could_not(format!("{}: {why}", path.display())))
}

/// A roster from its file, or the one in force in a register's folder.
pub fn roster_at(path: &Path) -> Result<Roster, End> {
    if !crate::disk::is_folder(path) {
        return read_roster(path);
    }
    let place = Place { register: path.to_owned(), seal: None, today: None };
    Ok(crate::actions::look(&place.volumes()?, 0)?.whole()?.chain.origin.roster)
}

/// Signatures of a roster from their files, ascending by key.
pub fn read_signs(roster: &Roster, files: &[PathBuf]) -> Result<Vec<RosterSign>, End> {
    let mut signs = files
        .iter()
        .map(|f| {
            roster_sign(roster, &text_of(f)?).map_err(|why| could_not(format!("{}: {why}", f.display())))
        })
        .collect::<Result<Vec<_>, _>>()?;
    signs.sort_by_key(|s| s.key.to_ssh());
    // The same file named twice is one signature.
    signs.dedup();
    Ok(signs)
}

/// The signature files that stand beside a roster.
fn beside(path: &Path) -> Result<Vec<PathBuf>, End> {
    use crate::world::Storage;
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let Some(name) = path.file_name().map(|n| n.to_string_lossy().into_owned()) else {
        return Ok(Vec::new());
    };
    let mut names = crate::disk::Folder::at(folder).list()?;
    names.retain(|n| n.strip_prefix(&name).is_some_and(|r| r.starts_with('.') && r.ends_with(".sig")));
    names.sort();
    Ok(names.into_iter().map(|n| folder.join(n)).collect())
}

/// The signatures named, or else those beside the file. One key that signed twice, as where a custodian's
/// file was sent in two ways, counts once.
fn signs_of(roster: &Roster, path: &Path, named: &[PathBuf]) -> Result<Vec<RosterSign>, End> {
    let mut signs =
        if named.is_empty() { read_signs(roster, &beside(path)?)? } else { read_signs(roster, named)? };
    signs.dedup_by(|a, b| a.key == b.key);
    Ok(signs)
}

/// Rosters given from outside, with their signatures, in the order of their versions.
pub fn later(args: &RosterArgs) -> Result<Vec<Later>, End> {
    let mut out = Vec::new();
    let mut used = vec![false; args.signatures.len()];
    for path in &args.rosters {
        let roster = read_roster(path)?;
        let signs = if args.signatures.is_empty() {
            signs_of(&roster, path, &[])?
        } else {
            let mut signs: Vec<RosterSign> = Vec::new();
            for (file, used) in args.signatures.iter().zip(&mut used) {
                if let Ok(s) = roster_sign(&roster, &text_of(file)?) {
                    *used = true;
                    signs.push(s);
                }
            }
            signs.sort_by_key(|s| s.key.to_ssh());
            signs.dedup_by(|a, b| a.key == b.key);
            signs
        };
        out.push(Later { roster, signs });
    }
    if let Some((file, _)) = args.signatures.iter().zip(used).find(|(_, used)| !used) {
        return Err(could_not(say!(
            "{file} is no signature of a roster that you gave",
            file = file.display()
        )));
    }
    out.sort_by_key(|l| l.roster.version);
    Ok(out)
}

/// `airwrit roster`.
pub fn roster(place: &Place, r: &RosterCommand, outside: &mut Outside<'_>) -> Outcome {
    match r {
        RosterCommand::Check { file, signatures } => {
            let roster = read_roster(file)?;
            let signs = signs_of(&roster, file, signatures)?;
            let who = roster.signed_by(&signs).map_err(|why| End::from(Refusal::because(why)))?;
            writeln!(
                outside.out,
                "{}",
                say!(
                    "roster version {version}, SHA-256 {hash}",
                    version = roster.version,
                    hash = roster.hash()
                )
            )?;
            for key in who {
                writeln!(outside.out, "{}", say!("signed by {key}", key = key.fingerprint()))?;
            }
            for p in &roster.persons {
                let roles: Vec<&str> = p.roles.iter().map(|r| r.word()).collect();
                writeln!(outside.out, "{}: {}, {}", p.id, crate::text::safe_line(&p.name), roles.join(" "))?;
            }
            Ok(())
        }
        RosterCommand::Compare { old, new, signatures, json } => {
            compare(old, new, signatures, *json, outside)
        }
        RosterCommand::Next { old, to } => {
            let old = roster_at(old)?;
            let text = next_text(&old).map_err(could_not)?;
            crate::disk::write_file(to, text.as_bytes(), false, false)?;
            writeln!(
                outside.out,
                "{}",
                say!(
                    "{file} written: version {version}, after {hash}",
                    file = shell_word(to),
                    version = old.version + 1,
                    hash = old.hash()
                )
            )?;
            let edit = say!(
                "edit it: nobody and no key is taken out; a key that ends gets `{ended}` or `compromised`",
                ended = "revoked: {at: TIME, as: retired}"
            );
            let then = say!(
                "hint: then `airwrit roster compare OLD {file}`, and the custodians sign",
                file = shell_word(to)
            );
            writeln!(outside.err, "{edit}\n{then}")?;
            Ok(())
        }
        RosterCommand::Adopt { file, signatures, by } => {
            adopt(place, file, signatures, by.as_deref(), outside)
        }
        RosterCommand::Sign { file, key, to } => {
            let roster = read_roster(file)?;
            let key = open_key(key, outside)?;
            if !roster.custodians.contains(&key.public()) {
                // A custodian who leaves with this version signs it as one of the version before.
                writeln!(
                    outside.err,
                    "{}",
                    say!(
                        "{key} is no custodian of this version; the signature counts only if it is one of the version \
                         before",
                        key = key.public().fingerprint()
                    )
                )?;
                if roster.version == 1 {
                    return Err(End::from(Refusal::because(say!(
                        "{key} is no custodian of this roster",
                        key = key.public().fingerprint()
                    ))));
                }
            }
            let armoured = sign_roster(roster.text(), &key).map_err(could_not)?;
            crate::disk::write_file(to, armoured.as_bytes(), false, false)?;
            writeln!(
                outside.out,
                "{}",
                say!("{file} signed by {key}", file = shell_word(file), key = key.public().fingerprint())
            )?;
            Ok(())
        }
    }
}

/// What changes, one line each, for a screen.
fn told(old: &Roster, new: &Roster) -> Vec<String> {
    let mut out =
        vec![say!("roster version {new} after version {old}:", new = new.version, old = old.version)];
    let changes = changes(old, new);
    if changes.is_empty() {
        out.push(format!("  {}", say!("nothing but its number")));
    }
    out.extend(changes.into_iter().map(|c| format!("  {c}")));
    out.extend(crate::trust::alike::look_twice(new).into_iter().map(|w| format!("  {w}")));
    out
}

fn compare(old: &Path, new: &Path, signatures: &[PathBuf], json: bool, outside: &mut Outside<'_>) -> Outcome {
    let (old, path, new) = (roster_at(old)?, new, read_roster(new)?);
    let signs = signs_of(&new, path, signatures)?;
    let why = forbidden(&old, &new);
    let by = signed(&old, &new, &signs);
    if json {
        let by: Vec<String> = signs.iter().map(|s| s.key.fingerprint()).collect();
        let lacks = signed(&old, &new, &signs).err();
        print_json(
            &serde_json::json!({
                "old": { "version": old.version, "hash": old.hash() },
                "new": { "version": new.version, "hash": new.hash() },
                "changes": changes(&old, &new), "forbidden": why, "signed_by": by, "signatures_lack": lacks,
            }),
            outside.out,
        )?;
    } else {
        for line in told(&old, &new) {
            writeln!(outside.out, "{line}")?;
        }
        for w in &why {
            writeln!(outside.out, "{}", say!("FORBIDDEN: {why}", why = w))?;
        }
        for s in &signs {
            writeln!(outside.out, "{}", say!("signed by {key}", key = s.key.fingerprint()))?;
        }
        match &by {
            Ok(_) => writeln!(outside.out, "{}", say!("enough custodians of both versions have signed it"))?,
            Err(lacks) => writeln!(outside.out, "{}", say!("not yet enough: {why}", why = lacks))?,
        }
    }
    if why.is_empty() { Ok(()) } else { Err(End::No) }
}

fn adopt(
    place: &Place,
    path: &Path,
    signatures: &[PathBuf],
    by: Option<&str>,
    outside: &mut Outside<'_>,
) -> Outcome {
    let roster = read_roster(path)?;
    let signs = signs_of(&roster, path, signatures)?;
    let looked = super::looking::look(place, outside)?;
    let old = &looked.chain.origin.roster;
    if demo::is_demo_roster(&roster) && !demo::is_demo_roster(old) {
        return Err(End::from(
            Refusal::because(say!("this roster holds keys of the demo, whose passphrases everybody knows"))
                .instead(say!("make your own keys: `airwrit key new FILE`")),
        ));
    }
    if old.version + 1 == roster.version {
        for line in told(old, &roster) {
            writeln!(outside.err, "{line}")?;
        }
    }
    crate::actions::enrol::may_follow(old, &roster, &signs)?;
    if outside.terminal {
        write!(outside.err, "{} ", say!("type {yes} to put it in force:", yes = "yes"))?;
        outside.err.flush()?;
        let mut answer = String::new();
        outside.input.read_line(&mut answer)?;
        if answer.trim() != "yes" {
            writeln!(outside.err, "{}", say!("not put in force; nothing was kept"))?;
            return Err(End::No);
        }
    }
    let line = place.at_desk(outside, None, |desk| desk.adopt(&roster, &signs, by))?;
    writeln!(
        outside.out,
        "{}",
        say!(
            "roster version {version} in force after line {line}, SHA-256 {hash}",
            version = roster.version,
            line = line.seq,
            hash = roster.hash()
        )
    )?;
    // Permits that rest on a key the new roster speaks against: nobody goes on air on them any more.
    let looked = super::looking::look(place, outside)?;
    let known = looked.known();
    let open = known.state.not_ended(known.time());
    for why in open.flat_map(|p| known.keys_lost(p)) {
        writeln!(outside.out, "{}", say!("NOTE: {why}", why = crate::text::safe_line(&why)))?;
        writeln!(
            outside.out,
            "  {}",
            say!("nobody goes on air on it; get them out, cancel it and open another")
        )?;
    }
    Ok(())
}
