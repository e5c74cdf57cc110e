//! Signing at the station: show the words, ask for the passphrase, take the act in.

use super::args::{Countersign, HandingBack, Narrowing, Who};
use super::{End, Outcome, Outside, Place, could_not, open_key};
use crate::actions::Loaded;
use crate::permit::decide::sign::{Limits, Signing};
use crate::permit::decide::{Known, Refusal};
use crate::record::line::{ActDraft, Line};
use crate::tongue::{Tongue, say, say_n};
use crate::trust::{Roster, SecretKey, Signer};

pub(super) fn sign(
    place: &Place,
    number: &str,
    what: &Signing,
    who: &Who,
    outside: &mut Outside<'_>,
) -> Outcome {
    // What is signed is shown before a passphrase is asked.
    let (mut prepared, loaded) = place.at_desk(outside, None, |desk| desk.prepare(number, what, &who.by))?;
    if let Signing::Countersign(_) = what {
        let found =
            crate::show::before_signing(&loaded.known(), &loaded.register.lines, number, Tongue::asked());
        show_found(&found.map_err(could_not)?, outside)?;
    }
    if let Signing::Declare = what {
        let found = crate::show::before_declaring(&loaded.known(), number, Tongue::asked());
        show_found(&found.map_err(could_not)?, outside)?;
    }
    if let Signing::Reinstate { .. } = what {
        let found =
            crate::show::before_reinstating(&loaded.known(), &loaded.register.lines, number, Tongue::asked());
        show_found(&found.map_err(could_not)?, outside)?;
    }
    agreed(Some(place), &prepared.act, outside)?;
    let key = open_key(&who.key, outside)?;
    theirs(&loaded.register.chain.origin.roster, &who.by, &key)?;
    drop(loaded);
    prepared.act.time = crate::time::utc((outside.second)());
    let carried = prepared.sign(&key).map_err(could_not)?;
    let (line, loaded) = place.at_desk(outside, None, |desk| desk.take_in(&carried, false))?;
    taken_in(place, &line, &loaded, outside)
}

/// What came of an act: the state of its permit, or the text in force; copies that it made untrue.
pub fn taken_in(place: &Place, line: &Line, loaded: &Loaded, outside: &mut Outside<'_>) -> Outcome {
    let (by, key) = line.act.as_ref().map_or(("", ""), |a| (a.by.as_str(), a.key.as_str()));
    let Some(number) = line.permit.as_deref() else {
        let (kind, id) = crate::record::chain::subject(line).unwrap_or_default();
        let hash = line.data.text("hash").unwrap_or_default();
        writeln!(
            outside.out,
            "{}",
            say!("{kind} {id} in force, line {line}, SHA-256 {hash}", kind, id, line = line.seq, hash)
        )?;
        return Ok(());
    };
    let permit =
        loaded.state.permits.get(number).ok_or_else(|| could_not(say!("the permit is gone from memory")))?;
    let life = loaded.state.life(permit, &loaded.now.time).word();
    writeln!(
        outside.out,
        "{}",
        if outside.face.keys {
            // The key stands beside the signature, in the record of the permit.
            let by = crate::permit::decide::crew::named(&loaded.known(), by);
            say!("{number} is {life}; line {line}, signed by {by}", number, life, line = line.seq, by)
        } else {
            say!(
                "{number} is {life}; line {line}, signed by {by} with {key}",
                number,
                life,
                line = line.seq,
                by,
                key
            )
        }
    )?;
    if line.kind.name == "hand_over"
        && let Some(holder) = permit.job.text("holder")
    {
        let holder = crate::permit::decide::crew::named(&loaded.known(), holder);
        writeln!(
            outside.out,
            "{}",
            if permit.pending.is_some() {
                say!("handed over, and not yet taken: {holder} holds it until it is", holder)
            } else {
                say!("{holder} holds it now", holder)
            }
        )?;
    }
    if let (crate::view::StateWord::Live, Some(word)) = (permit.life, crate::show::check_word(permit)) {
        let to = permit.valid_to.as_deref().unwrap_or_default();
        writeln!(
            outside.out,
            "{}",
            say!(
                "valid to {time}; check word {word}",
                time = crate::time::at_site(to, &crate::actions::zone(&loaded.register.chain)),
                word
            )
        )?;
    }
    let known = loaded.known();
    let again = known.texts(permit).ok().and_then(|texts| crate::show::asked_again(&known, permit, &texts));
    if let Some(n) = again {
        let words = say_n!(
            n,
            "NOBODY GOES ON AIR YET: {n} check is to be in order first, {hint}",
            "NOBODY GOES ON AIR YET: {n} checks are to be in order first, {hint}",
            hint = place.typed(&format!("`airwrit walk {number}`"))
        );
        writeln!(outside.out, "{words}")?;
    }
    super::printing::take_down_of(place, &known, |p| p.number == number, outside);
    Ok(())
}

/// What a supervisor must see before signing, here as elsewhere.
pub fn show_found(found: &[crate::view::Found], outside: &mut Outside<'_>) -> Outcome {
    for part in found {
        writeln!(outside.err, "{}", part.heading)?;
        for line in &part.lines {
            writeln!(outside.err, "  {}", crate::text::safe_line(line))?;
        }
    }
    Ok(())
}

/// Shows the words that are about to be signed; at a terminal, asks whether to go on. At a station people can
/// be called out from here.
pub fn agreed(station: Option<&Place>, shown: &ActDraft, outside: &mut Outside<'_>) -> Outcome {
    writeln!(outside.err, "{}", say!("you sign as {role}:", role = shown.role.word()))?;
    for line in shown.data.text("said").unwrap_or_default().lines() {
        writeln!(outside.err, "  {}", crate::text::safe_line(line))?;
    }
    if !outside.terminal {
        return Ok(());
    }
    let out = if station.is_some() { format!(" {}", say!("(! everyone out)")) } else { String::new() };
    write!(outside.err, "{} ", say!("type {yes} to sign{out}:", yes = "yes", out))?;
    outside.err.flush()?;
    let mut answer = String::new();
    outside.input.read_line(&mut answer)?;
    if let (Some(place), "!") = (station, answer.trim()) {
        let c = super::args::CallOut { permit: shown.permit.clone(), ..super::args::CallOut::default() };
        super::calling::call_out(place, &c, outside)?;
    }
    if answer.trim() != "yes" {
        writeln!(outside.err, "{}", say!("not signed; nothing was kept"))?;
        return Err(End::No);
    }
    Ok(())
}

/// `airwrit clock`.
pub fn clock(place: &Place, reason: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    let (shown, loaded) = place.at_desk(outside, None, |desk| desk.prepare_clock(&who.by, reason))?;
    agreed(Some(place), &shown, outside)?;
    let key = open_key(&who.key, outside)?;
    theirs(&loaded.register.chain.origin.roster, &who.by, &key)?;
    let line = place.at_desk(outside, None, |desk| desk.set_clock(&who.by, &key, reason))?;
    writeln!(
        outside.out,
        "{}",
        say!("the clock is right; line {line}; live permits are suspended", line = line.seq)
    )?;
    super::printing::take_down(place, |_| true, outside);
    Ok(())
}

/// A key that is not on the roster under this person is told before anything is made with it.
pub fn theirs(roster: &Roster, by: &str, key: &SecretKey) -> Outcome {
    let public = key.public();
    if roster.person(by).is_some_and(|p| p.keys.iter().any(|k| k.key == public)) {
        return Ok(());
    }
    let whose = roster.persons.iter().find(|p| p.keys.iter().any(|k| k.key == public));
    let whose = whose.map_or(String::new(), |p| say!("; it is a key of `{name}`", name = p.id));
    Err(Refusal::because(say!(
        "{key} is no key of `{name}`{whose}",
        key = public.fingerprint(),
        name = crate::text::safe_line(by),
        whose
    ))
    .instead(say!("name the person with --by and their own key file with --key"))
    .into())
}

/// `airwrit declare`.
pub fn declare(place: &Place, number: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Declare, who, outside)
}

/// `airwrit countersign`.
pub fn countersign(place: &Place, c: &Countersign, outside: &mut Outside<'_>) -> Outcome {
    let loaded = place.at_desk(outside, None, |desk| desk.load())?;
    let limits = limits(Some(place), &loaded.known(), &c.permit, &c.narrowing, outside)?;
    drop(loaded);
    sign(place, &c.permit, &Signing::Countersign(limits), &c.who, outside)
}

/// What a supervisor narrows, accepts and read again, from what was typed; what was not is asked for.
pub fn limits(
    station: Option<&Place>,
    known: &Known<'_>,
    number: &str,
    n: &Narrowing,
    outside: &mut Outside<'_>,
) -> Result<Limits, super::End> {
    let until = match &n.until {
        None => None,
        Some(at) => {
            let zone = crate::actions::zone(known.chain);
            let until = super::station::next_time(at, known.now, &zone)?;
            crate::permit::decide::sign::narrows_nothing(known, number, &until)?;
            Some(until)
        }
    };
    let mut limits = Limits {
        until,
        wearers: n.wearers,
        words: n.limits.clone(),
        accept: n.accept.clone(),
        ..Limits::default()
    };
    super::rereading::read_again(station, known, number, n, &mut limits, outside)?;
    Ok(limits)
}

/// `airwrit refuse`.
pub fn refuse(place: &Place, number: &str, reason: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Refuse { reason: reason.to_owned() }, who, outside)
}

impl HandingBack {
    /// What is signed.
    pub fn signing(&self) -> Signing {
        Signing::HandBack { left_running: self.left_running.clone(), reason: self.reason.clone() }
    }
}

/// `airwrit hand-back`.
pub fn hand_back(
    place: &Place,
    number: &str,
    how: &HandingBack,
    who: &Who,
    outside: &mut Outside<'_>,
) -> Outcome {
    sign(place, number, &how.signing(), who, outside)
}

/// `airwrit close`.
pub fn close(place: &Place, number: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Close, who, outside)
}

/// `airwrit reinstate`.
pub fn reinstate(place: &Place, number: &str, cause: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Reinstate { cause: cause.to_owned() }, who, outside)
}

/// `airwrit cancel`.
pub fn cancel(place: &Place, number: &str, reason: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Cancel { reason: reason.to_owned() }, who, outside)
}
