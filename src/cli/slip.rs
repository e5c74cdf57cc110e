//! `airwrit check-token`: the token of a printed permit.

use super::args::CheckToken;
use super::{End, Outcome, Outside, Place, could_not, picture, print_json};
use crate::audit::slip::{self, Answer, Judged};
use crate::audit::{self, Trust, Verdict};
use crate::permit::decide::Known;
use crate::time::{Moment, at_site, utc};
use crate::tongue::say;
use crate::trust::token::Token;
use std::io::Read;
use std::path::Path;

/// The token in a text file or picture of this name; `None` where no file of this name can be read.
pub(super) fn token_of_file(name: &str) -> Result<Option<String>, End> {
    let Ok(bytes) = crate::disk::read_at_most(Path::new(name), picture::MOST_FILE as u64 + 1) else {
        return Ok(None);
    };
    if picture::is_picture(&bytes) {
        return picture::token(&bytes).map(Some).map_err(|why| could_not(format!("{name}: {why}")));
    }
    let text = String::from_utf8(bytes).map_err(|_| could_not(say!("{file} holds no token", file = name)))?;
    Ok(Some(text))
}

/// `airwrit check-token`.
pub fn check_token(place: &Place, c: &CheckToken, outside: &mut Outside<'_>) -> Outcome {
    let typed = if c.token == "-" {
        let mut text = String::new();
        // More than any token; whatever else stands there is no token.
        outside.input.take(4096).read_to_string(&mut text)?;
        text
    } else {
        match token_of_file(&c.token)? {
            Some(text) => text,
            // What looks like one and names no file is judged as it was typed: a torn token is told as one.
            None if c.token.trim().to_ascii_uppercase().starts_with("AW1")
                || c.token.split('.').count() == 7 =>
            {
                c.token.clone()
            }
            None => return Err(super::auditing::no_token(&c.token)),
        }
    };
    // It is base32, and people type it in small letters too.
    let typed = typed.trim().to_ascii_uppercase();
    let text = typed.as_str();
    let trust = super::looking::trusted(&c.trust)?;
    let token = match Token::read(text) {
        Ok(t) => t,
        Err(why) => {
            writeln!(outside.err, "{}", say!("broken: {why}", why = crate::text::safe_line(&why)))?;
            return Err(End::Code(slip::exit_code(Answer::Broken)));
        }
    };
    let now = utc((outside.second)());
    let mut given = super::rosters::later(&c.rosters)?;
    // A register that was named is looked up, whatever roster is given beside it.
    let (judged, zone) = if given.is_empty() || c.register_named {
        let volumes = place.volumes()?;
        let bytes: Vec<&[u8]> = volumes.iter().map(|v| v.bytes.as_slice()).collect();
        let verified = audit::verify_volumes(&bytes, trust.as_ref(), &given);
        let Some(chain) = &verified.chain else {
            return Err(could_not(say!("no whole line stands in this register")));
        };
        let newest = given.pop().filter(|g| g.roster.version > chain.origin.roster.version);
        let roster = newest.as_ref().map_or(&chain.origin.roster, |g| &g.roster);
        let mut judged = slip::judge(&token, roster, &now);
        if let Some(newest) = &newest {
            vouched(&mut judged, newest, trust.as_ref())?;
        }
        slip::look_up(&mut judged, text, &verified.lines, &verified.state, &now);
        let moment = Moment {
            time: now.clone(),
            zone: verified.lines.last().map(|l| l.zone.clone()).unwrap_or_default().to_string(),
        };
        let known = Known::new(chain, &verified.state, &moment);
        if judged.state.is_some()
            && let Ok(Some(why)) = crate::show::held_now(&known, &judged.permit)
        {
            judged.held(why);
        }
        let report = &verified.report;
        for said in &report.said {
            // What is not proven of other lines says nothing of this one.
            let whole = matches!(said.rule, "custodian" | "volume");
            let own = judged.line.is_some() && said.line.map(|l| l.line) == judged.line;
            if report.verdict != Verdict::Unproven || whole || own {
                let why = say!("the register, rule `{rule}`: {why}", rule = said.rule, why = said.why);
                judged.rests_on(report.verdict, why);
            }
        }
        (judged, Some(crate::actions::zone(chain)))
    } else {
        let Some(newest) = given.pop() else { return Err(could_not(say!("no roster was given"))) };
        let mut judged = slip::judge(&token, &newest.roster, &now);
        vouched(&mut judged, &newest, trust.as_ref())?;
        (judged, None)
    };
    if c.json {
        print_json(&judged, outside.out)?;
    } else {
        tell(&judged, zone.as_ref(), outside)?;
    }
    match judged.answer {
        Answer::Yes => Ok(()),
        other @ (Answer::No | Answer::Broken | Answer::Unproven) => Err(End::Code(slip::exit_code(other))),
    }
}

/// Whether whoever is trusted signed the roster that was given.
fn vouched(judged: &mut Judged, newest: &audit::Later, trust: Option<&Trust>) -> Result<(), End> {
    let signers = newest.roster.signed_by(&own(newest)).map_err(could_not)?;
    if let Some(why) = not_vouched(&signers, trust) {
        judged.rests_on(Verdict::Unproven, why);
    }
    Ok(())
}

/// The signatures of the roster's own custodians; those of the version before may stand beside them.
fn own(given: &audit::Later) -> Vec<crate::trust::roster::RosterSign> {
    given.signs.iter().filter(|s| given.roster.custodians.contains(&s.key)).cloned().collect()
}

fn not_vouched(signers: &[crate::trust::PublicKey], trust: Option<&Trust>) -> Option<String> {
    let signers: Vec<String> = signers.iter().map(|k| k.fingerprint()).collect();
    audit::not_vouched(&signers, trust)
}

fn tell(j: &Judged, zone: Option<&jiff::tz::TimeZone>, outside: &mut Outside<'_>) -> Outcome {
    let word = match j.answer {
        Answer::Yes => say!("issued, and its time runs"),
        Answer::No => say!("NO"),
        Answer::Broken => say!("BROKEN: do not rely on it"),
        Answer::Unproven => say!("not proven"),
    };
    writeln!(outside.out, "{word}")?;
    let site = zone.map_or(String::new(), |z| say!(", at the site {time}", time = at_site(&j.valid_to, z)));
    writeln!(
        outside.out,
        "{}",
        say!("permit {permit}, valid to {time}{site}", permit = j.permit, time = j.valid_to, site)
    )?;
    if let Some((id, name, key)) = &j.by {
        writeln!(
            outside.out,
            "{}",
            say!("by {name} ({id}), {key}", name = crate::text::safe_line(name), id, key)
        )?;
    }
    writeln!(
        outside.out,
        "{}",
        say!("issued on what stood up to line {line}, {hash}", line = j.issued_on, hash = j.issued_on_hash)
    )?;
    if let Some(line) = j.line {
        writeln!(outside.out, "{}", say!("the issue itself: line {line} of this register carries it", line))?;
    }
    match j.state {
        Some(_) if j.still_on => writeln!(
            outside.out,
            "{}",
            say!(
                "the permit's time is over, and people are still on its air, as this register says: it lapses when the last \
                  one is off"
            )
        )?,
        Some(state) => {
            let state = if state == "held" { say!("held") } else { crate::tongue::word(state) };
            writeln!(outside.out, "{}", say!("the permit is {state} now, as this register says", state))?
        }
        None => writeln!(outside.out, "{}", say!("the permit was not looked up in a register"))?,
    }
    for why in &j.why {
        writeln!(outside.out, "  {}", crate::text::safe_line(why))?;
    }
    writeln!(outside.err, "{}", slip::proves_issue())?;
    Ok(())
}
