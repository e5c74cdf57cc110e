//! What goes on over permits, shifts and stations: answers carried, later ends, handing over, another station's register.

use super::args::Who;
use super::args::shift::{Carry, Comes, Extend, HandOver, HandingArgs, LaterArgs, Witness};
use super::looking::{trusted, volumes_at};
use super::{End, Outcome, Outside, Place, could_not, signing, station};
use crate::audit::Trust;
use crate::audit::{self, Verdict};
use crate::permit::bench::{Texts, found};
use crate::permit::decide::air::Told;
use crate::permit::decide::answer::clean;
use crate::permit::decide::sign::{Handing, Later, Signing};
use crate::permit::decide::{Known, Refusal, carry, witness};
use crate::permit::ends;
use crate::record::json::Json;
use crate::record::line::What;
use crate::text::safe_line;
use crate::time::{Moment, at_site, clock, for_people, seconds};
use crate::tongue::{say, say_n};

/// How long ago, in words.
pub fn ago(utc: &str, now: &Moment) -> String {
    let minutes = (now.seconds() - seconds(utc)).max(0) / 60;
    match minutes {
        0..=119 => say!("{minutes} min ago", minutes),
        120..=2879 => say!("{hours} h ago", hours = minutes / 60),
        _ => say!("{days} days ago", days = minutes / 1440),
    }
}

/// A line for each answer that could be carried.
pub fn carried_in_words(known: &Known<'_>, texts: &Texts, all: &[carry::Carried]) -> Vec<String> {
    let zone = crate::actions::zone(known.chain);
    let one = |c: &carry::Carried| {
        let answer = c.last()?;
        let (_, step) = texts.form.step(&c.step)?;
        let time = c.end.as_ref().map(|e| at_site(&crate::time::utc(e.second), &zone));
        let until = Some(ends::holds_until(step)).filter(|w| !w.is_empty());
        let end = match (time, until) {
            (Some(time), Some(until)) => say!(", ends {time}, or when {until}", time, until),
            (Some(time), None) => say!(", ends {time}", time),
            (None, Some(until)) => say!(", until {until}", until),
            (None, None) => String::new(),
        };
        Some(say!(
            "{label}: {answer}, {time} ({ago}) on {permit}{end}",
            label = c.label,
            answer = found(step, answer, &texts.language),
            time = for_people(&answer.stamp.time, &answer.stamp.zone),
            ago = ago(&answer.stamp.time, known.now),
            permit = c.from,
            end
        ))
    };
    all.iter().filter_map(one).collect()
}

/// `airwrit carry`.
pub fn carry(place: &Place, c: &Carry, outside: &mut Outside<'_>) -> Outcome {
    if c.show {
        let looked = place.look(outside)?;
        let known = looked.known();
        let permit = known.permit(&c.permit)?;
        let texts = known.texts(permit)?;
        let mut all = carry::candidates(&known, permit, &texts);
        all.retain(|found| {
            c.step.as_ref().is_none_or(|s| *s == found.step) && (c.item.is_none() || c.item == found.item)
        });
        for l in carried_in_words(&known, &texts, &all) {
            writeln!(outside.out, "{}", safe_line(&l))?;
        }
        if all.is_empty() {
            writeln!(
                outside.out,
                "{}",
                say!("nothing of another permit still holds here that is not answered yet")
            )?;
        }
        return Ok(());
    }
    let only = c.step.as_deref().map(|s| (s, c.item.as_deref()));
    let mut total = 0;
    loop {
        let mut what = Vec::new();
        let kept = place.at_desk(outside, None, |desk| {
            desk.request(
                |known| {
                    let permit = known.permit(&c.permit)?;
                    let texts = known.texts(permit)?;
                    let by = c.by.as_deref().or(texts.job.text("holder")).unwrap_or_default();
                    let draft = carry::carry(known, permit, &texts, only, by)?;
                    let taken: Vec<String> = match &draft.what {
                        What::Data(data) => data.texts("answers").into_iter().map(str::to_owned).collect(),
                        What::Act { .. } => Vec::new(),
                    };
                    what = carried_in_words(
                        known,
                        &texts,
                        &carry::candidates(known, permit, &texts)
                            .into_iter()
                            .filter(|c| c.last().is_some_and(|a| taken.iter().any(|t| *t == a.stamp.hash)))
                            .collect::<Vec<_>>(),
                    );
                    Ok(draft)
                },
                None,
            )
        });
        match kept {
            Ok((line, _)) => {
                total += what.len();
                for l in &what {
                    writeln!(outside.err, "  {}", safe_line(l))?;
                }
                let words = say_n!(
                    what.len(),
                    "{n} answer carried to {permit}",
                    "{n} answers carried to {permit}",
                    permit = c.permit
                );
                station::kept(&line, &words, outside)?;
            }
            // One line holds so many; when the rest is carried too, there is nothing left.
            Err(End::Trouble(crate::actions::Trouble::Refused(_))) if total > 0 => return Ok(()),
            Err(end) => return Err(end),
        }
    }
}

impl LaterArgs {
    /// What is signed.
    pub fn signing(&self, known: &Known<'_>) -> Result<Signing, End> {
        let (Some(until), Some(reason)) = (&self.until, &self.reason) else {
            return Ok(Signing::GiveLater);
        };
        let zone = crate::actions::zone(known.chain);
        let next = |text: &str| station::next_time(text, known.now, &zone);
        let mut entry_permits = Vec::new();
        for typed in &self.entry_permit {
            let Some((id, at)) = typed.split_once('=') else {
                let got = safe_line(typed).into_owned();
                return Err(End::Usage(say!("got `{got}`, wanted ID=HH:MM, like e1=18:00", got)));
            };
            if !crate::text::is_id(id) {
                return Err(End::Usage(say!("`{id}` is no id of an entry permit", id = safe_line(id))));
            }
            entry_permits.push((id.to_owned(), next(at)?));
        }
        Ok(Signing::AskLater(Later { until: next(until)?, entry_permits, reason: clean(reason)? }))
    }
}

impl HandingArgs {
    /// What is signed.
    pub fn signing(&self) -> Result<Signing, End> {
        Ok(Signing::HandOver(Handing {
            to: self.to.clone(),
            shift: self.shift,
            checked: self.checked.clone(),
            unusual: clean(&self.unusual)?,
            staying: self.staying.as_deref().map(clean).transpose()?,
        }))
    }
}

/// `airwrit extend`.
pub fn extend(place: &Place, e: &Extend, outside: &mut Outside<'_>) -> Outcome {
    let looked = place.look(outside)?;
    let what = e.later.signing(&looked.known())?;
    signing::sign(place, &e.permit, &what, &e.who, outside)?;
    if !e.later.give {
        let hint = place.typed(&format!("`airwrit extend {} --give`", e.permit));
        writeln!(
            outside.err,
            "{}",
            say!("nothing has changed yet: a supervisor gives it with {hint}", hint)
        )?;
    }
    Ok(())
}

/// `airwrit hand-over`.
pub fn hand_over(place: &Place, h: &HandOver, outside: &mut Outside<'_>) -> Outcome {
    signing::sign(place, &h.permit, &h.handing.signing()?, &h.who, outside)?;
    let hint = place.typed(&format!("`airwrit take-over {}`", h.permit));
    writeln!(
        outside.err,
        "{}",
        say!(
            "you hold it until {name} has signed as well, with {hint}",
            name = safe_line(&h.handing.to),
            hint
        )
    )?;
    Ok(())
}

/// `airwrit take-over`.
pub fn take_over(place: &Place, number: &str, who: &Who, outside: &mut Outside<'_>) -> Outcome {
    signing::sign(place, number, &Signing::TakeOver, who, outside)
}

/// `airwrit set taken`, `airwrit set released`.
pub fn comes(place: &Place, kind: &'static str, c: &Comes, outside: &mut Outside<'_>) -> Outcome {
    let words = c.words.as_deref().map(clean).transpose()?;
    let (line, _) = place.at_desk(outside, None, |desk| {
        desk.request(
            |known| {
                let told = super::calling::told(&c.told, known);
                let by = c.told.by.as_deref().unwrap_or_default();
                witness::comes(known, kind, &c.set, words.as_deref(), &told, by)
            },
            Some((kind, None, &c.set)),
        )
    })?;
    station::kept(&line, &format!("{} {kind}", c.set), outside)
}

/// `airwrit witness`.
pub fn witness(place: &Place, w: &Witness, outside: &mut Outside<'_>) -> Outcome {
    let looked = place.look(outside)?;
    let given = trusted(&w.trust)?;
    let ours = &looked.chain.origin.roster;
    let trust = given.unwrap_or_else(|| Trust {
        custodians: ours.custodians.iter().map(crate::trust::PublicKey::fingerprint).collect(),
        threshold: ours.threshold,
    });
    let volumes = volumes_at(&w.other)?;
    let bytes: Vec<&[u8]> = volumes.iter().map(|v| v.bytes.as_slice()).collect();
    let verified = audit::verify_volumes(&bytes, Some(&trust), &[]);
    if verified.report.verdict != Verdict::Sound {
        write!(outside.err, "{}", crate::text::safe(&audit::words(&verified.report)))?;
        return Err(Refusal::because(say!("the other register is not sound: nothing of it is relied on"))
            .instead(say!("name its custodians (--custodian, --threshold or --trust); test the air here"))
            .into());
    }
    let Some(other) = &verified.chain else {
        return Err(could_not(say!("the other register holds no line")));
    };
    let theirs = witness::Other { chain: other, state: &verified.state };
    let by = w.by.clone().unwrap_or_default();
    let (line, loaded) = place.at_desk(outside, None, |desk| {
        desk.request(|known| witness::witness(known, &theirs, &w.set, &by), Some(("witness", None, &w.set)))
    })?;
    let held = if line.data.has("held") {
        say!("; IT HOLDS {set} TOO, and has not released it", set = w.set)
    } else {
        String::new()
    };
    let at = clock(&other.time, &loaded.now.zone);
    let station = &other.origin.station;
    station::kept(
        &line,
        &say!("{station} read as of its line {line}, {at}{held}", station, line = other.seq, at, held),
        outside,
    )?;
    if !w.air_test {
        return Ok(());
    }
    let (test, _) = place.at_desk(outside, None, |desk| {
        desk.request(
            |known| witness::air_test(known, &theirs, &w.set, &line.hash, &Told::default(), &by),
            Some(("bring an air test", None, &w.set)),
        )
    })?;
    let day = test.data.get("date").map_or("", |d| match d {
        Json::Str(s) => s.as_str(),
        Json::Int(_) | Json::Bool(_) | Json::Arr(_) | Json::Obj(_) => "",
    });
    station::kept(&test, &say!("air test of {day} brought from {station}", day, station), outside)
}
