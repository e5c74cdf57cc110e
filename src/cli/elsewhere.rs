//! Signing elsewhere: on the signer's own machine, from an excerpt; and taking the act in at the station.
//!
//! Always: what is signed was verified from its bytes before, and decided as at the station. Not here: whether
//! an act is taken in (`permit::decide::take_in`), pictures (`picture`).

use super::args::{ActCommand, SignElsewhere};
use super::looking::{trusted, volumes_at};
use super::signing::{agreed, taken_in, theirs};
use super::{End, Outcome, Outside, Place, could_not, open_key, picture, shell_word};
use crate::audit::{self, Verdict, Verified};
use crate::paper::qr::{MOST_BYTES, Matrix};
use crate::permit::decide::sign::{self, Hand, Limits, Prepared, Signing};
use crate::permit::decide::{Known, Refusal};
use crate::record::carried::Carried;
use crate::record::line::{LONGEST, Line};
use crate::time::Moment;
use crate::tongue::{Tongue, say, say_n};
use crate::trust::Signer;
use crate::trust::roster::KeyStanding;
use std::io::{BufRead, Read};
use std::path::{Path, PathBuf};

/// An excerpt as it was verified, or a whole register.
struct Seen {
    verified: Verified,
    whole: bool,
}

/// Whether no line is missing: each is the next one of its volume, or begins a volume.
fn is_whole(bytes: &[u8]) -> bool {
    let mut next = 0;
    bytes.split(|b| *b == b'\n').filter(|raw| !raw.is_empty()).all(|raw| match Line::read(raw) {
        Ok(l) => {
            let follows = l.seq == next || l.seq == 0;
            next = l.seq + 1;
            follows
        }
        Err(_) => true,
    })
}

fn see(s: &SignElsewhere, outside: &mut Outside<'_>) -> Result<Seen, End> {
    let trust = trusted(&s.trust)?;
    let volumes = volumes_at(&s.what)?;
    let volumes: Vec<&[u8]> = volumes.iter().map(|v| v.bytes.as_slice()).collect();
    let whole = is_whole(&volumes.concat());
    let verified = if whole {
        audit::verify_volumes(&volumes, trust.as_ref(), &[])
    } else {
        audit::verify_excerpt(&volumes.concat(), trust.as_ref())
    };
    match verified.report.verdict {
        Verdict::Sound => {
            let lines = verified.report.lines;
            let words = if whole {
                say_n!(lines, "the register is sound: {n} lines", "the register is sound: {n} lines")
            } else {
                say_n!(lines, "the excerpt is sound: {n} lines", "the excerpt is sound: {n} lines")
            };
            writeln!(outside.err, "{words}")?;
        }
        // Lines after the last signature are the station's word, here as at its own screen; the act binds
        // them, and is not taken in where the register holds others.
        Verdict::Unproven if verified.report.said.iter().all(|said| said.rule == "excerpt") => {
            let lines = verified.report.lines;
            let words = if whole {
                say!(
                    "nothing in the register is wrong: {lines} lines; what stands after the last signature is the station's \
                     word, and your act is taken in only where it stands so in the register",
                    lines
                )
            } else {
                say!(
                    "nothing in the excerpt is wrong: {lines} lines; what stands after the last signature is the station's \
                     word, and your act is taken in only where it stands so in the register",
                    lines
                )
            };
            writeln!(outside.err, "{words}")?;
        }
        Verdict::Unproven => {
            let words = if whole {
                say!("UNPROVEN: nothing in the register is wrong, but not everything is shown to be right")
            } else {
                say!("UNPROVEN: nothing in the excerpt is wrong, but not everything is shown to be right")
            };
            writeln!(outside.err, "{words}")?;
            for said in &verified.report.said {
                let why = crate::text::safe_line(&said.why);
                writeln!(outside.err, "  {}", say!("rule `{rule}`: {why}", rule = said.rule, why))?;
            }
            if !s.unproven {
                return Err(Refusal::because(say!("what you would sign on is not proven"))
                    .instead(say!(
                        "name the custodians you trust (--custodian, --threshold or --trust); if you know why it \
                         cannot be proven and sign all the same: --unproven"
                    ))
                    .into());
            }
        }
        other @ (Verdict::Broken | Verdict::CouldNot) => {
            write!(outside.err, "{}", crate::text::safe(&audit::words(&verified.report)))?;
            return Err(End::Code(audit::exit_code(other)));
        }
    }
    Ok(Seen { verified, whole })
}

fn which(s: &SignElsewhere, seen: &Seen) -> Result<String, End> {
    let permits: Vec<&str> = seen.verified.state.permits.keys().collect();
    match (&s.permit, permits.as_slice()) {
        (Some(number), _) => Ok(number.clone()),
        (None, [one]) => Ok((*one).to_owned()),
        (None, many) => Err(End::Usage(say_n!(
            many.len(),
            "{n} permits stand in it: {permits}; say which with --permit",
            "{n} permits stand in it: {permits}; say which with --permit",
            permits = many.join(", ")
        ))),
    }
}

/// How old what is shown is; the station may have gone on.
fn age(known: &Known<'_>, outside: &mut Outside<'_>) -> Outcome {
    let last = crate::time::for_people(&known.chain.time, &known.now.zone);
    let minutes = (known.now.seconds() - crate::time::seconds(&known.chain.time)).div_euclid(60);
    let ago = match minutes {
        ..0 => say!(
            "{minutes} min AHEAD of this machine's clock: one of the two clocks is wrong",
            minutes = -minutes
        ),
        0 => say!("less than a minute ago").to_owned(),
        1..=119 => say!("{minutes} min ago", minutes),
        _ => say!("{hours} h {minutes} min ago", hours = minutes / 60, minutes = minutes % 60),
    };
    let words = say!("as of line {line}, {time}, {ago}", line = known.chain.seq, time = last, ago);
    writeln!(outside.err, "{words}")?;
    writeln!(
        outside.err,
        "{}",
        say!(
            "the station may have gone on since; if the permit did, the act is refused there and a new excerpt is needed"
        )
    )?;
    Ok(())
}

/// What is to be signed.
enum Asked<'a> {
    OnPermit(Signing),
    Text(&'a Path),
}

fn asked<'a>(act: &'a ActCommand, known: &Known<'_>) -> Result<Asked<'a>, End> {
    Ok(Asked::OnPermit(match act {
        ActCommand::Countersign(n) => {
            let zone = crate::actions::zone(known.chain);
            let until =
                n.until.as_deref().map(|at| super::station::next_time(at, known.now, &zone)).transpose()?;
            Signing::Countersign(Limits {
                until,
                wearers: n.wearers,
                words: n.limits.clone(),
                accept: n.accept.clone(),
                ..Limits::default()
            })
        }
        ActCommand::Refuse { reason } => Signing::Refuse { reason: reason.clone() },
        ActCommand::Declare => Signing::Declare,
        ActCommand::HandBack(how) => how.signing(),
        ActCommand::Close => Signing::Close,
        ActCommand::Reinstate { cause } => Signing::Reinstate { cause: cause.clone() },
        ActCommand::Extend(later) => later.signing(known)?,
        ActCommand::HandOver(handing) => handing.signing()?,
        ActCommand::TakeOver => Signing::TakeOver,
        ActCommand::Cancel { reason } => Signing::Cancel { reason: reason.clone() },
        ActCommand::Approve { file } => return Ok(Asked::Text(file)),
    }))
}

fn prepare(
    s: &SignElsewhere,
    seen: &Seen,
    known: &Known<'_>,
    outside: &mut Outside<'_>,
) -> Result<Prepared, End> {
    let hand = Hand::elsewhere(&s.by);
    let mut what = match asked(&s.act, known)? {
        Asked::OnPermit(what) => what,
        Asked::Text(file) => return approve(seen, known, &hand, file, outside),
    };
    let number = which(s, seen)?;
    known.permit(&number)?;
    if let Signing::Countersign(Limits { until: Some(until), .. }) = &what {
        sign::narrows_nothing(known, &number, until)?;
    }
    age(known, outside)?;
    if let (Signing::Countersign(limits), ActCommand::Countersign(n)) = (&mut what, &s.act) {
        super::rereading::read_again(None, known, &number, n, limits, outside)?;
    }
    let prepared = sign::prepare(known, &number, &what, &hand).map_err(|mut r| {
        if !seen.whole {
            r.why.push(
                say!(
                    "(decided on an excerpt, which of the set before the permit was opened holds only what answers rest on)"
                )
                .into(),
            );
            let more = say!("where that is why, sign on a copy of the register's folder instead");
            r.instead = Some(r.instead.map_or(more.to_owned(), |i| format!("{i}; {more}")));
        }
        r
    })?;
    if let Signing::Countersign(_) = what {
        let screen = crate::show::before_signing(known, &seen.verified.lines, &number, Tongue::asked())
            .map_err(could_not)?;
        super::signing::show_found(&screen, outside)?;
    }
    if let Signing::Declare = what {
        let screen = crate::show::before_declaring(known, &number, Tongue::asked()).map_err(could_not)?;
        super::signing::show_found(&screen, outside)?;
    }
    if let Signing::Reinstate { .. } = what {
        let screen = crate::show::before_reinstating(known, &seen.verified.lines, &number, Tongue::asked())
            .map_err(could_not)?;
        super::signing::show_found(&screen, outside)?;
    }
    Ok(prepared)
}

fn approve(
    seen: &Seen,
    known: &Known<'_>,
    hand: &Hand<'_>,
    file: &Path,
    outside: &mut Outside<'_>,
) -> Result<Prepared, End> {
    if !seen.whole {
        return Err(Refusal::because(say!(
            "an excerpt does not show which text of its kind was put in force last"
        ))
        .instead(say!("sign on a copy of the register's folder"))
        .into());
    }
    age(known, outside)?;
    let (kind, id, revision, text) = super::custody::text_to_approve(file, outside)?;
    writeln!(outside.err, "{} {id}:", kind)?;
    for l in text.lines() {
        writeln!(outside.err, "| {}", crate::text::safe_line(l))?;
    }
    Ok(sign::approve(known, hand, kind, &id, revision, &text)?)
}

/// `airwrit sign`.
pub fn sign(s: &SignElsewhere, outside: &mut Outside<'_>) -> Outcome {
    let seen = see(s, outside)?;
    let chain =
        seen.verified.chain.as_ref().ok_or_else(|| could_not(say!("no line stands in what you sign on")))?;
    let now = Moment::new((outside.second)(), &crate::actions::zone(chain));
    let known = Known::new(chain, &seen.verified.state, &now);
    let mut prepared = prepare(s, &seen, &known, outside)?;
    let to = s.to.clone().unwrap_or_else(|| {
        let what = prepared.act.permit.as_deref().unwrap_or("text");
        PathBuf::from(format!("{what}.{}.act", prepared.act.kind.replace('_', "-")))
    });
    // Before anything is read aloud and a passphrase asked for: no file is written over.
    let named = [Some(&to), s.picture.as_ref()];
    if let Some(taken) = named.into_iter().flatten().find(|f| crate::disk::exists(f)) {
        return Err(could_not(say!("{file} is there already: name another file", file = taken.display())));
    }
    agreed(None, &prepared.act, outside)?;
    let key = open_key(&s.key, outside)?;
    theirs(&chain.origin.roster, &s.by, &key)?;
    prepared.act.time = crate::time::utc((outside.second)());
    if let Some(person) = chain.origin.roster.person(&s.by)
        && let KeyStanding::No(why) = chain.origin.roster.standing(person, &key.public(), &prepared.act.time)
    {
        return Err(Refusal::because(why).instead(say!("sign with a key that is good today")).into());
    }
    let raw = prepared.sign(&key).map_err(could_not)?.write();
    crate::disk::write_file(&to, &raw, false, false)?;
    writeln!(
        outside.out,
        "{}",
        say!(
            "{file} written, {bytes} bytes, signed by {person} with {key}",
            file = shell_word(&to),
            bytes = raw.len(),
            person = s.by,
            key = key.public().fingerprint()
        )
    )?;
    give_back(s, &to, &raw, outside)
}

/// How the act gets to the station.
fn give_back(s: &SignElsewhere, to: &Path, raw: &[u8], outside: &mut Outside<'_>) -> Outcome {
    let Some(code) = Matrix::of_bytes(raw) else {
        writeln!(
            outside.err,
            "{}",
            say!(
                "it is too long for a QR code (at most {most} bytes): carry the file to the station",
                most = MOST_BYTES
            )
        )?;
        return if s.picture.is_some() { Err(End::No) } else { hint(to, outside) };
    };
    if let Some(file) = &s.picture {
        crate::disk::write_file(file, &picture::png(&code).map_err(could_not)?, false, false)?;
        writeln!(outside.out, "{}", say!("{file} written", file = shell_word(file)))?;
    }
    writeln!(
        outside.err,
        "{}",
        say!(
            "the same as a QR code; the window must be {columns} columns wide, or the picture is of no use",
            columns = picture::columns(&code)
        )
    )?;
    write!(outside.err, "{}", picture::in_terminal(&code))?;
    hint(to, outside)
}

fn hint(to: &Path, outside: &mut Outside<'_>) -> Outcome {
    let file = shell_word(Path::new(to.file_name().unwrap_or(to.as_os_str())));
    writeln!(
        outside.err,
        "{}",
        say!(
            "nothing is done yet: at the station, `airwrit take-in {file}`, or scan it: `airwrit take-in -`",
            file
        )
    )?;
    Ok(())
}

/// What came back: a file, a picture, or what a scanner types.
fn came_back(file: &Path, outside: &mut Outside<'_>) -> Result<Vec<u8>, End> {
    if file != Path::new("-") {
        // One more than is opened: what is too long is told, and not read to its end.
        let bytes = crate::disk::read_at_most(file, picture::MOST_FILE as u64 + 1)?;
        return if picture::is_picture(&bytes) {
            picture::read(&bytes).map_err(no_act)
        } else {
            Ok(one_line(bytes))
        };
    }
    let mut bytes = Vec::new();
    let most = LONGEST as u64 + 1;
    if outside.terminal {
        writeln!(outside.err, "{}", say!("scan the code, or paste the act and press Enter"))?;
        (&mut *outside.input).take(most).read_until(b'\n', &mut bytes)?;
    } else {
        (&mut *outside.input).take(most).read_to_end(&mut bytes)?;
    }
    Ok(one_line(bytes))
}

/// A scanner, a letter or an editor ends a line as its makers think a line ends; what was signed ends before it.
fn one_line(mut bytes: Vec<u8>) -> Vec<u8> {
    while bytes.last().is_some_and(|b| matches!(b, b'\r' | b'\n')) {
        bytes.pop();
    }
    bytes.push(b'\n');
    bytes
}

fn no_act(why: String) -> End {
    Refusal::because(why).instead(say!("bring the file, or the code again")).into()
}

/// `airwrit take-in`.
pub fn take_in(place: &Place, file: &Path, outside: &mut Outside<'_>) -> Outcome {
    let raw = came_back(file, outside)?;
    let carried = Carried::read(&raw).map_err(no_act)?;
    let (line, loaded) = place.at_desk(outside, None, |desk| desk.take_in(&carried, true))?;
    if let Some(act) = &line.act {
        let name = loaded.register.chain.origin.roster.name_of(&act.by);
        let at = crate::time::clock(&act.time, &line.zone);
        writeln!(
            outside.err,
            "{}",
            say!(
                "{name} signed as {role} at {time} by their own clock:",
                name = crate::text::safe_line(name),
                role = act.role.word(),
                time = at
            )
        )?;
        for l in line.data.text("said").unwrap_or_default().lines() {
            writeln!(outside.err, "  {}", crate::text::safe_line(l))?;
        }
    }
    taken_in(place, &line, &loaded, outside)
}
