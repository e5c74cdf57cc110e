//! Signing at the station: show the words, ask for the passphrase, take the act in.

use super::args::{Countersign, Who};
use super::{End, Outcome, Outside, Place, could_not, open_key};
use crate::actions::Signing;
use crate::permit::decide::Refusal;
use crate::permit::decide::sign::Limits;
use crate::record::line::ActDraft;
use crate::trust::{Roster, SecretKey, Signer};

fn sign(place: &Place, number: &str, what: &Signing, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    // What is signed is shown before a passphrase is asked; only the token in it needs the real key.
    let nobody = SecretKey::from_seed(&[7; 32]);
    let (shown, loaded) =
        place.at_desk(outside, None, |desk| desk.prepare(number, what, &who.by, &nobody))?;
    let said = shown.data.text("said").unwrap_or_default();
    agreed(place, &shown, Some(number), outside)?;
    let key = open_key(&who.key, outside)?;
    theirs(&loaded.register.chain.origin.roster, &who.by, &key)?;
    let (act, _) = place.at_desk(outside, None, |desk| desk.prepare(number, what, &who.by, &key))?;
    if act.data.text("said") != Some(said) {
        return Err(could_not("what would be signed has changed since it was shown; begin again"));
    }
    drop(loaded);
    let (line, loaded) = place.at_desk(outside, None, |desk| desk.take_in(number, what, &act, &key))?;
    let permit =
        loaded.state.permits.get(number).ok_or_else(|| could_not("the permit is gone from memory"))?;
    let life = loaded.state.life(permit, &loaded.now.time).word();
    writeln!(
        outside.out,
        "{number} is {life}; line {}, signed by {} with {}",
        line.seq,
        who.by,
        key.public().fingerprint()
    )?;
    if let (crate::view::StateWord::Live, Some(word)) = (permit.life, crate::show::check_word(permit)) {
        let to = permit.valid_to.as_deref().unwrap_or_default();
        writeln!(
            outside.out,
            "valid to {}; check word {word}",
            crate::time::at_site(to, &crate::actions::zone(&loaded.register.chain))
        )?;
    }
    Ok(())
}

/// Shows the words that are about to be signed; at a terminal, asks whether to go on.
fn agreed(place: &Place, shown: &ActDraft, permit: Option<&str>, outside: &mut Outside<'_>) -> Outcome {
    writeln!(outside.err, "you sign as {}:", shown.role.word())?;
    for line in shown.data.text("said").unwrap_or_default().lines() {
        writeln!(outside.err, "  {}", crate::text::safe_line(line))?;
    }
    if !outside.terminal {
        return Ok(());
    }
    write!(outside.err, "type yes to sign (! everyone out): ")?;
    outside.err.flush()?;
    let mut answer = String::new();
    outside.input.read_line(&mut answer)?;
    if answer.trim() == "!" {
        let c = super::args::CallOut { permit: permit.map(str::to_owned), ..super::args::CallOut::default() };
        super::calling::call_out(place, &c, outside)?;
    }
    if answer.trim() != "yes" {
        writeln!(outside.err, "not signed; nothing was kept")?;
        return Err(End::No);
    }
    Ok(())
}

/// `airwrit clock`.
pub fn clock(place: &Place, reason: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    let nobody = SecretKey::from_seed(&[7; 32]);
    let (shown, loaded) =
        place.at_desk(outside, None, |desk| desk.prepare_clock(&who.by, &nobody, reason))?;
    agreed(place, &shown, None, outside)?;
    let key = open_key(&who.key, outside)?;
    theirs(&loaded.register.chain.origin.roster, &who.by, &key)?;
    let line = place.at_desk(outside, None, |desk| desk.set_clock(&who.by, &key, reason))?;
    writeln!(outside.out, "the clock is right; line {}; live permits are suspended", line.seq)?;
    Ok(())
}

/// A key that is not on the roster under this person is told before anything is made with it.
pub fn theirs(roster: &Roster, by: &str, key: &SecretKey) -> Outcome {
    let public = key.public();
    if roster.person(by).is_some_and(|p| p.keys.iter().any(|k| k.key == public)) {
        return Ok(());
    }
    let whose = roster.persons.iter().find(|p| p.keys.iter().any(|k| k.key == public));
    let whose = whose.map_or(String::new(), |p| format!("; it is a key of `{}`", p.id));
    Err(Refusal::because(format!(
        "{} is no key of `{}`{whose}",
        public.fingerprint(),
        crate::text::safe_line(by)
    ))
    .instead("name the person with --by and their own key file with --key")
    .into())
}

/// `airwrit declare`.
pub fn declare(place: &Place, number: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Declare, who, outside)
}

/// `airwrit countersign`.
pub fn countersign(place: &Place, c: &Countersign, outside: &mut Outside<'_>) -> Outcome {
    let until = match &c.until {
        None => None,
        Some(at) => {
            let loaded = place.at_desk(outside, None, |desk| desk.load())?;
            let zone = crate::actions::zone(&loaded.register.chain);
            Some(super::station::next_time(at, &loaded.now, &zone)?)
        }
    };
    let limits = Limits { until, wearers: c.wearers, words: c.limits.clone() };
    sign(place, &c.permit, &Signing::Countersign(limits), &c.who, outside)
}

/// `airwrit refuse`.
pub fn refuse(place: &Place, number: &str, reason: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Refuse { reason: reason.to_owned() }, who, outside)
}

/// `airwrit hand-back`.
pub fn hand_back(
    place: &Place,
    number: &str,
    left_running: Option<&str>,
    reason: Option<&str>,
    who: &Who,
    outside: &mut Outside<'_>,
) -> Outcome {
    let what = Signing::HandBack {
        left_running: left_running.map(str::to_owned),
        reason: reason.map(str::to_owned),
    };
    sign(place, number, &what, who, outside)
}

/// `airwrit close`.
pub fn close(place: &Place, number: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Close, who, outside)
}

/// `airwrit cancel`.
pub fn cancel(place: &Place, number: &str, reason: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    sign(place, number, &Signing::Cancel { reason: reason.to_owned() }, who, outside)
}
