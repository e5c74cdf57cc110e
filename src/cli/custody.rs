//! Keys, beginning a register, putting texts in force.

use super::args::{Enrol, KeyCommand, Who};
use super::rosters::{read_roster, read_signs, roster_at};
use super::{End, Outcome, Outside, Place, could_not, demo, open_key, secret};
use crate::actions::enrol::Enrolment;
use crate::finding::any_error;
use crate::lint::{Kind, kind_of, lint};
use crate::permit::decide::Refusal;
use crate::record::store::new_key;
use crate::site;
use crate::tongue::{say, say_n};
use crate::trust::{PublicKey, Signer};
use std::path::{Path, PathBuf};

/// `airwrit key`.
pub fn key(place: &Place, k: &KeyCommand, outside: &mut Outside<'_>) -> Outcome {
    match k {
        KeyCommand::New { file } => {
            if crate::disk::exists(file) {
                return Err(could_not(say!(
                    "{file} exists; keys are never overwritten",
                    file = file.display()
                )));
            }
            let first = secret(&format!("{}: ", say!("new passphrase")), outside)?;
            if first.chars().count() < 8 {
                return Err(End::from(
                    Refusal::because(say_n!(
                        first.chars().count(),
                        "the passphrase has {n} character, wanted at least 8",
                        "the passphrase has {n} characters, wanted at least 8"
                    ))
                    .instead(say!("four or five words that only you would put together")),
                ));
            }
            if *secret(&format!("{}: ", say!("the same again")), outside)? != *first {
                return Err(End::from(Refusal::because(say!("the two passphrases differ"))));
            }
            let key = new_key(outside.random).map_err(crate::actions::Trouble::from)?;
            let pem = key.to_encrypted_pem(first.as_bytes()).map_err(could_not)?;
            crate::disk::write_file(file, pem.as_bytes(), false, true)?;
            show_key(&key.public(), outside)
        }
        KeyCommand::Show { file } => {
            let key = open_key(file, outside)?;
            show_key(&key.public(), outside)
        }
        KeyCommand::AllowedSigners { roster, to } => {
            let roster = roster_at(roster.as_deref().unwrap_or(&place.register))?;
            // Custodians have no names on a roster; one principal for all lets `-I custodian` find any of them.
            let text = crate::trust::allowed::allowed_signers(&roster, &|_| "custodian".to_owned());
            match to {
                None => write!(outside.out, "{text}")?,
                Some(file) => {
                    crate::disk::write_file(file, text.as_bytes(), false, false)?;
                    writeln!(outside.out, "{}", say!("{file} written", file = super::shell_word(file)))?;
                }
            }
            Ok(())
        }
    }
}

fn show_key(key: &PublicKey, outside: &mut Outside<'_>) -> Outcome {
    writeln!(outside.out, "{}\n{}", key.to_ssh(), key.fingerprint())?;
    Ok(())
}

/// `airwrit enrol`.
pub fn enrol(place: &Place, e: &Enrol, outside: &mut Outside<'_>) -> Outcome {
    if !crate::record::kinds::is_station(&e.station) {
        return Err(End::Usage(say!(
            "got the station code `{got}`, wanted 2 to 8 capitals and digits, like KW7",
            got = crate::text::safe_line(&e.station)
        )));
    }
    let roster = read_roster(&e.roster)?;
    let signs = read_signs(&roster, &e.signatures)?;
    if demo::is_demo_roster(&roster) {
        return Err(End::from(
            Refusal::because(say!("this roster holds keys of the demo, whose passphrases everybody knows"))
                .instead(say!("make your own keys: `airwrit key new FILE`")),
        ));
    }
    let key = open_key(&e.who.key, outside)?;
    super::signing::theirs(&roster, &e.who.by, &key)?;
    let mut log = [0u8; 16];
    outside.random.fill(&mut log).map_err(could_not)?;
    let log = data_encoding::HEXLOWER.encode(&log);
    if e.next_volume && place.at_desk(outside, None, |desk| desk.can_write())? {
        return Err(End::from(
            Refusal::because(say!("this machine can go on with the register that stands here")).instead(
                say!("nothing is to be done; for another register choose another folder with --register"),
            ),
        ));
    }
    let enrolment = Enrolment {
        station: &e.station,
        roster: &roster,
        signs: &signs,
        next_volume: e.next_volume,
        lost: e.lost.as_deref(),
    };
    let line = place.at_desk(outside, Some(&log), |desk| desk.enrol(&enrolment, &log, &e.who.by, &key))?;
    if e.next_volume || e.lost.is_some() {
        after_loss(e.lost.is_some(), outside)?;
    }
    writeln!(
        outside.out,
        "{}",
        say!("register of station {station} begun, log {log}", station = e.station, log)
    )?;
    writeln!(outside.out, "{}", say!("line 0, {hash}", hash = line.hash))?;
    writeln!(
        outside.err,
        "{}",
        say!("write the custodians' fingerprints down somewhere else: an auditor needs them to verify")
    )?;
    let next =
        say!("next, an approver puts the texts in force: `airwrit approve FILE... --by ID --key FILE`");
    writeln!(outside.err, "{}", say!("hint: {hint}", hint = place.typed(next)))?;
    Ok(())
}

/// What has to be done first at a station that goes on after a loss.
fn after_loss(lost: bool, outside: &mut Outside<'_>) -> Outcome {
    let words = if lost {
        say!(
            "live permits are suspended, and who is on air is NOT known here: call the roll now, by voice; report who is on \
             air (`airwrit on NAME --set SET --report`) and who is off (`airwrit off NAME`)"
        )
    } else {
        say!(
            "live permits are suspended, and who was on air before still counts as on air: call the roll now, by voice; \
             report who is on air (`airwrit on NAME --set SET --report`) and who is off (`airwrit off NAME`)"
        )
    };
    writeln!(outside.err, "{words}")?;
    Ok(())
}

/// A text to put in force: its kind, id, revision and itself.
pub type Text = (&'static str, String, Option<u32>, String);

/// Reads a file that is to be put in force; everything wrong with it is told.
pub fn text_to_approve(path: &Path, outside: &mut Outside<'_>) -> Result<Text, End> {
    let bytes = crate::disk::read_file(path)?;
    let name = path.display().to_string();
    let (kind, mut findings) = lint(&name, &bytes);
    if matches!(kind, Kind::Site(_)) {
        let now = crate::time::Moment::new((outside.second)(), &jiff::tz::TimeZone::UTC);
        findings.extend(crate::lint::overdue(&name, &bytes, now.date()));
    }
    for f in &findings {
        writeln!(outside.err, "{}", crate::text::safe(&f.to_string()))?;
    }
    if any_error(&findings) {
        return Err(End::from(
            Refusal::because(say!("{file} has errors; nothing was put in force", file = name))
                .instead(say!("mend it first")),
        ));
    }
    let text = String::from_utf8(bytes).map_err(|_| could_not(say!("{file} is not UTF-8", file = name)))?;
    let (kind, id, revision) = match kind {
        Kind::Checklist => {
            let c = crate::permit::bench::checklist(&name, &text).map_err(could_not)?;
            ("form", c.id().to_owned(), Some(c.revision()))
        }
        Kind::Site(site::Kind::Set) => ("set", id_of("set", &text)?, None),
        Kind::Site(site::Kind::Site) => ("site", id_of("site", &text)?, None),
        Kind::Site(site::Kind::Job) => {
            return Err(End::Usage(say!(
                "{file} is a job: it belongs to a permit (`airwrit open --job`)",
                file = name
            )));
        }
        Kind::Unknown => {
            return Err(End::Usage(say!("{file} is neither checklist nor set nor site file", file = name)));
        }
    };
    Ok((kind, id, revision, text))
}

/// `airwrit approve`.
pub fn approve(place: &Place, files: &[PathBuf], who: &Who, outside: &mut Outside<'_>) -> Outcome {
    let texts = files.iter().map(|f| text_to_approve(f, outside)).collect::<Result<Vec<_>, _>>()?;
    let key = open_key(&who.key, outside)?;
    let looked = super::looking::look(place, outside)?;
    super::signing::theirs(&looked.chain.origin.roster, &who.by, &key)?;
    for (kind, id, revision, text) in texts {
        let line =
            place.at_desk(outside, None, |desk| desk.approve(&who.by, &key, kind, &id, revision, &text))?;
        let (line, hash) = (line.seq, crate::record::line::hash(text.as_bytes()));
        let words = match kind {
            "form" => say!("form {id} in force, line {line}, SHA-256 {hash}", id, line, hash),
            "set" => say!("set {id} in force, line {line}, SHA-256 {hash}", id, line, hash),
            _ => say!("site {id} in force, line {line}, SHA-256 {hash}", id, line, hash),
        };
        writeln!(outside.out, "{words}")?;
    }
    Ok(())
}

fn id_of(kind: &str, text: &str) -> Result<String, End> {
    let values = crate::permit::bench::file(kind, text).map_err(could_not)?;
    Ok(values.text(kind).unwrap_or_default().to_owned())
}

/// What the first key of a file says it is, for messages.
pub fn is_job(bytes: &[u8]) -> bool {
    kind_of(bytes) == Kind::Site(site::Kind::Job)
}
