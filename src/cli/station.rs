//! What happens at the station: opening, answering, the tally, the set, events.

use super::args::{Answer, OnWhat, Open, Stops, Tally, ToldArgs};
use super::calling::{self, Report};
use super::halted::Before;
use super::{End, Outcome, Outside, Place, REASONS, Tells, could_not, print_json, shell_word};
use crate::actions::{Loaded, Trouble};
use crate::checklist::Purpose;
use crate::finding::any_error;
use crate::permit::bench::in_force_for;
use crate::permit::copies;
use crate::permit::decide::air::{self, Move, Told};
use crate::permit::decide::answer::{self, Typed, clean};
use crate::permit::decide::open::{self, Opening};
use crate::permit::decide::{Known, Refusal};
use crate::permit::state::Permit;
use crate::permit::walk;
use crate::record::json::{Json, sorted};
use crate::record::line::Line;
use crate::site::Raw;
use crate::time::{Moment, TOLD_WITHIN};
use crate::tongue::say;
use crate::view::{Standing, recorded};
use jiff::civil::Time;
use jiff::tz::TimeZone;
use std::path::Path;

/// A time of day `HH:MM` as it is typed.
fn time_of_day(text: &str) -> Result<Time, End> {
    let wrong =
        || End::Usage(say!("got `{got}`, wanted a time like 14:05", got = crate::text::safe_line(text)));
    let (h, m) = text.split_once(':').ok_or_else(wrong)?;
    let number = |s: &str| {
        (s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit())).then(|| s.parse::<i8>().ok()).flatten()
    };
    let (h, m) = (number(h).ok_or_else(wrong)?, number(m).ok_or_else(wrong)?);
    Time::new(h, m, 0, 0).map_err(|_| wrong())
}

/// The last time, until now, that the site's clock showed this, as UTC; by the offset of now.
pub fn last_time(text: &str, now: &Moment) -> Result<String, End> {
    let time = time_of_day(text)?;
    let offset = crate::time::offset_seconds(&now.zone);
    let local = now.seconds() + offset;
    let midnight = local - local.rem_euclid(86_400);
    let at = midnight + i64::from(time.hour()) * 3600 + i64::from(time.minute()) * 60;
    let at = if at > local { at - 86_400 } else { at };
    if local - at > TOLD_WITHIN {
        return Err(End::Usage(say!(
            "{time} has not come yet here, where it is {now}, and is too long ago as yesterday's",
            time = text,
            now = crate::time::clock(&now.time, &now.zone)
        )));
    }
    Ok(crate::time::utc(at - offset))
}

/// The next time that the site's clock shows this, as UTC. By the zone, not by the offset of now: over a
/// change of the clocks a permit would else end an hour later than was meant.
pub fn next_time(text: &str, now: &Moment, zone: &TimeZone) -> Result<String, End> {
    let next = crate::permit::valid::next(time_of_day(text)?, now.seconds(), zone);
    next.map(crate::time::utc).ok_or_else(|| could_not(say!("{time} cannot be worked out here", time = text)))
}

fn told(t: &ToldArgs, now: &Moment) -> Result<Told, End> {
    let at = t.at.as_deref().map(|a| last_time(a, now)).transpose()?;
    let by = t.told_by.as_deref().map(clean).transpose()?;
    Ok(Told { at, by })
}

/// A time typed wrongly is told before anything is read.
pub(super) fn well_typed(place: &Place, t: &ToldArgs, outside: &Outside<'_>) -> Outcome {
    if let Some(at) = &t.at {
        time_of_day(at)?;
    }
    // Site time; where no register can be read, only the form of it can be wrong.
    place.look_for(None, outside).map_or(Ok(()), |looked| told(t, &looked.now).map(|_| ()))
}

pub(super) fn kept(line: &Line, what: &str, outside: &mut Outside<'_>) -> Outcome {
    writeln!(outside.out, "{}", say!("{what}; line {line}", what, line = line.seq))?;
    let breaches: Vec<&str> = line.data.texts("breach");
    for b in breaches.iter().take(REASONS) {
        writeln!(outside.err, "{}", say!("BREACH: {breach}", breach = crate::text::safe_line(b)))?;
    }
    if let Some(more @ 1..) = breaches.len().checked_sub(REASONS) {
        writeln!(outside.err, "{}", say!("BREACH: and {more} more; they stand in the line", more))?;
    }
    Ok(())
}

/// Who entered something, as they said: a name that nobody here has is kept, and said.
pub(super) fn known_by(place: &Place, by: Option<&str>, outside: &mut Outside<'_>) {
    let (Some(by), Ok(looked)) = (by.filter(|b| !b.is_empty()), place.look_for(None, outside)) else {
        return;
    };
    let known = looked.known();
    if air::known_as(&known, None, by) != by || known.chain.origin.roster.person(by).is_some() {
        return;
    }
    let mut ids: Vec<String> = known.chain.origin.roster.persons.iter().map(|p| p.id.clone()).collect();
    for permit in known.state.not_ended(known.time()) {
        let Ok(texts) = known.texts(permit) else { return };
        let people = [texts.site.items("people"), texts.job.items("wearers"), texts.job.items("rescuers")];
        ids.extend(people.into_iter().flatten().map(|v| v.id().to_owned()));
    }
    if ids.iter().any(|id| id == by) {
        return;
    }
    let near = air::almost_called(&known, by)
        .or_else(|| crate::text::nearest(by, ids.iter().map(String::as_str)).map(str::to_owned));
    let near = near.map(|n| say!("; was {name} meant?", name = n)).unwrap_or_default();
    let _ = writeln!(
        outside.err,
        "{}",
        say!(
            "NOTE: nobody here is called `{name}`: kept as entered by them{near}",
            name = crate::text::safe_line(by),
            near
        )
    );
}

/// The one text in force of a kind, if its id is not given.
pub(super) fn only(known: &Known<'_>, kind: &str, given: Option<&str>) -> Result<String, Refusal> {
    if let Some(id) = given {
        return Ok(id.to_owned());
    }
    let ids: Vec<&str> =
        known.chain.texts.keys().filter(|(k, _)| k == kind).map(|(_, id)| id.as_str()).collect();
    match ids.as_slice() {
        [one] => Ok((*one).to_owned()),
        [] => Err(Refusal::because(say!("no {kind} file is in force here", kind))
            .instead(say!("an approver puts one in force: `airwrit approve FILE`"))),
        many => Err(Refusal::because(say!(
            "{count} {kind} files are in force here: {names}",
            count = many.len(),
            kind,
            names = many.join(", ")
        ))
        .instead(say!("say which with --{kind}", kind))),
    }
}

/// Reads a job file into what the register keeps.
pub fn read_job(path: &Path, outside: &mut Outside<'_>) -> Result<Vec<(String, Raw)>, End> {
    let bytes = crate::disk::read_file(path)?;
    let name = path.display().to_string();
    if !super::custody::is_job(&bytes) {
        return Err(End::Usage(say!("{file} is no job file: its first key is not `job:`", file = name)));
    }
    let read = crate::site::read_job(&name, &bytes);
    for f in &read.findings {
        writeln!(outside.err, "{}", crate::text::safe(&f.to_string()))?;
    }
    match read.file {
        Some(f) if !any_error(&read.findings) => Ok(f.values().to_raw()),
        Some(_) | None => Err(End::from(
            Refusal::because(say!("{file} has errors", file = name)).instead(say!("mend it first")),
        )),
    }
}

fn text_in(raw: &[(String, Raw)], name: &str) -> String {
    raw.iter()
        .find_map(|(k, v)| match v {
            Raw::Text(t) if k == name => Some(t.clone()),
            Raw::Text(_) | Raw::Bool(_) | Raw::Int(_) | Raw::List(_) | Raw::Map(_) => None,
        })
        .unwrap_or_default()
}

/// `airwrit open`.
pub fn open(place: &Place, o: &Open, outside: &mut Outside<'_>) -> Outcome {
    let job = read_job(&o.job, outside)?;
    open_job(place, o, &job, outside)
}

/// Opens a permit for a job that was read already.
pub fn open_job(place: &Place, o: &Open, job: &[(String, Raw)], outside: &mut Outside<'_>) -> Outcome {
    let job = job.to_vec();
    let by = o.by.clone().unwrap_or_else(|| text_in(&job, "holder"));
    let decide = |known: &Known<'_>| {
        let purpose = if o.shutdown { Purpose::Shutdown } else { Purpose::Work };
        let form = match &o.form {
            Some(f) => f.clone(),
            None => in_force_for(known.chain, purpose).map(|c| c.id().to_owned()).ok_or_else(|| {
                Refusal::because(match purpose {
                    Purpose::Work => say!("no checklist for work is in force here"),
                    Purpose::Shutdown => say!("no checklist for shutdown is in force here"),
                })
                .instead(say!("an approver puts one in force: `airwrit approve FILE`"))
            })?,
        };
        open::open(
            known,
            &Opening {
                form,
                set: only(known, "set", o.set.as_deref())?,
                site: only(known, "site", o.site.as_deref())?,
                for_shutdown: o.shutdown,
                follows: o.follows.clone(),
                job: job.clone(),
                by: by.clone(),
            },
        )
    };
    let (line, loaded) = place.at_desk(outside, None, |desk| desk.request(decide, None))?;
    let number = line.permit.clone().unwrap_or_default();
    let zone = crate::actions::zone(&loaded.register.chain);
    let until = next_time(&text_in(&job, "until"), &loaded.now, &zone).ok();
    writeln!(outside.out, "{number}")?;
    let hint = place.typed(&format!("`airwrit walk {number}`"));
    let opened = say!("permit {number} opened, line {line}", number, line = line.seq);
    outside.tell_beside(Tells::Opened, opened)?;
    // A time of day that is past means tomorrow's: whoever typed it may have meant today's.
    if let Some(utc) = until
        && its_end(crate::time::seconds(&utc), &loaded.now, &zone, outside)?
    {
        let words = say!(
            "NOTE: THAT IS TOMORROW. If today's was meant, it is past: `airwrit cancel` this permit, open \
             another"
        );
        writeln!(outside.err, "{words}")?;
    }
    outside.tell_beside(Tells::Hint, say!("hint: {hint}", hint))?;
    Ok(())
}

/// `airwrit job`.
pub fn job(place: &Place, number: &str, file: &Path, by: Option<&str>, outside: &mut Outside<'_>) -> Outcome {
    let job = read_job(file, outside)?;
    job_of(place, number, &job, by, outside)
}

/// The same, of a job that was read already.
pub fn job_of(
    place: &Place,
    number: &str,
    job: &[(String, Raw)],
    by: Option<&str>,
    outside: &mut Outside<'_>,
) -> Outcome {
    let (line, loaded) = place.at_desk(outside, None, |desk| {
        desk.request(
            |known| {
                let permit = known.permit(number)?;
                let texts = known.texts(permit)?;
                open::job(known, permit, &texts, job, by.unwrap_or_default())
            },
            Some(("change the job", Some(number), "")),
        )
    })?;
    kept(&line, &say!("the job of {number} is replaced", number), outside)?;
    // Its end is the next time of that name after the permit was opened.
    let opened = crate::time::seconds(&loaded.known().permit(number)?.opened.time);
    let zone = crate::actions::zone(&loaded.register.chain);
    let until = time_of_day(&text_in(job, "until")).ok();
    let until = until.and_then(|t| crate::permit::valid::next(t, opened, &zone));
    if let Some(second) = until
        && its_end(second, &loaded.now, &zone, outside)?
    {
        let words = say!("NOTE: THAT IS TOMORROW. If today's was meant, it is past: change the job again");
        writeln!(outside.err, "{words}")?;
    }
    Ok(())
}

/// When the work is to end; whether that is on another day.
fn its_end(second: i64, now: &Moment, zone: &TimeZone, outside: &mut Outside<'_>) -> Result<bool, End> {
    let time = crate::time::at_site(&crate::time::utc(second), zone);
    writeln!(outside.err, "{}", say!("the work is to end {time}", time))?;
    Ok(Moment::new(second, zone).date() != now.date())
}

/// How a step stands after an answer.
pub struct After {
    /// Standing.
    pub standing: Standing,
    /// Why, where it is not open.
    pub why: Vec<String>,
    /// What to do.
    pub fix: String,
}

/// That an answer was kept, and how its step stands with it.
pub(crate) fn kept_in_words(standing: Standing, line: u64) -> String {
    match standing {
        Standing::Hold => say!("kept; it HOLDS; line {line}", line),
        Standing::Open | Standing::Waiting | Standing::NotApplicable => say!("kept; line {line}", line),
        Standing::OutOfService => say!("kept: out of service; line {line}", line),
        Standing::Deviation => say!("kept: a deviation, for the supervisor to accept; line {line}", line),
    }
}

/// How the step of an answer stands now.
pub fn after(loaded: &Loaded, number: &str, typed: &Typed) -> Result<After, End> {
    let known = loaded.known();
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let bench = answer::bench(&known, permit, &texts, typed.shutdown)?;
    let stands = walk::of_step(&bench, &typed.step);
    let stand = stands
        .iter()
        .find(|s| {
            let item = s.item.as_ref();
            let wanted = typed.item.as_deref();
            item.map(|i| i.id.as_str()) == wanted || item.map(|i| i.name.as_str()) == wanted
        })
        .ok_or_else(|| could_not(say!("the step just answered is not in the form")))?;
    let words = |t: Option<&crate::words::Template>| {
        t.map(|t| bench.words(t, stand.item.as_ref())).unwrap_or_default()
    };
    Ok(After { standing: stand.standing, why: stand.why.clone(), fix: words(stand.step.fix()) })
}

/// Gives an answer; returns its line, how the step stands, and the register as it is now.
pub fn give(
    place: &Place,
    number: &str,
    typed: &Typed,
    outside: &mut Outside<'_>,
) -> Result<(Line, After, Loaded), End> {
    let (line, loaded) = place.at_desk(outside, None, |desk| {
        desk.request(
            |known| {
                let permit = known.permit(number)?;
                let texts = known.texts(permit)?;
                let mut typed = typed.clone();
                if typed.by.is_empty() {
                    typed.by = texts.job.text("holder").unwrap_or_default().to_owned();
                }
                answer::answer(known, permit, &texts, &typed)
            },
            None,
        )
    })?;
    let after = after(&loaded, number, typed)?;
    Ok((line, after, loaded))
}

/// `airwrit answer`.
pub fn answer(place: &Place, a: &Answer, outside: &mut Outside<'_>) -> Outcome {
    let (value, below) = crate::actions::below(a.value.as_deref());
    let at = match &a.at {
        Some(at) => Some(last_time(at, &place.look_for(None, outside)?.now)?),
        None => None,
    };
    let typed = Typed {
        step: a.step.clone(),
        item: a.item.clone(),
        value,
        below: below || a.below,
        left_out: a.leave_out.clone(),
        again: a.again.clone(),
        deviation: a.deviation.clone().zip(a.instead.clone()),
        words: a.words.clone(),
        shutdown: a.shutdown,
        by: a.by.clone().unwrap_or_default(),
        at,
        told_by: a.told_by.clone(),
    };
    let (line, after, _) = give(place, &a.permit, &typed, outside)?;
    known_by(place, a.by.as_deref(), outside);
    if a.json {
        let value = serde_json::json!({
            "line": line.seq, "step": a.step, "item": a.item, "standing": after.standing, "why": after.why,
        });
        print_json(&value, outside.out)?;
    } else {
        let sign = super::looking::sign(after.standing);
        writeln!(
            outside.out,
            "{}",
            say!("{sign} {step}; line {line}", sign, step = a.step, line = line.seq)
        )?;
        for w in &after.why {
            writeln!(outside.err, "  {}", crate::text::safe_line(w))?;
        }
        if after.standing == Standing::Hold && !after.fix.is_empty() {
            writeln!(outside.err, "{}", say!("do: {what}", what = crate::text::safe_line(&after.fix)))?;
        }
    }
    if after.standing == Standing::Hold {
        super::gauges::after_an_answer(place, &a.permit, a.by.as_deref(), outside)?;
    }
    // The answer is kept either way; a script must not take a hold for a pass.
    if after.standing == Standing::Hold { Err(End::No) } else { Ok(()) }
}

/// The permit a person is on air or planned on.
fn permit_of<'a>(
    known: &Known<'a>,
    person: &str,
    given: Option<&str>,
) -> Result<Option<&'a Permit>, Refusal> {
    if let Some(number) = given {
        return known.permit(number).map(Some);
    }
    let on = known.state.on_air.iter().find(|p| p.person == person).and_then(|p| p.permit.as_deref());
    if let Some(number) = on {
        return known.permit(number).map(Some);
    }
    let planned = air::planned_on(known, person);
    match planned.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some(one)),
        many => Err(Refusal::because(say!(
            "{person} is planned on {numbers}",
            person,
            numbers = many
                .iter()
                .map(|p| p.number.as_str())
                .collect::<Vec<_>>()
                .join(&format!(" {} ", say!("and")))
        ))
        .instead(say!("say which with --permit"))),
    }
}

/// What came of somebody's going on, in, out or off.
enum Came {
    /// Reported: kept.
    Told(Box<Line>),
    /// To be asked of the permit, for the person.
    Asks(String, String),
}

/// `airwrit on`, `in`, `out`, `off`.
pub fn tally(place: &Place, to: Move, t: &Tally, outside: &mut Outside<'_>) -> Outcome {
    let reported = t.report || matches!(to, Move::Out | Move::OffAir);
    // What has happened is kept however the name is written; the engine cleans it.
    let person = if reported { t.person.clone() } else { clean(&t.person)? };
    if !reported {
        well_typed(place, &t.told, outside)?;
        asked_now(&t.told)?;
    }
    let word = to.kind().replace('_', " ");
    let moved = |person: &str| match to {
        Move::OnAir => say!("{person} on air", person),
        Move::In => say!("{person} in", person),
        Move::Out => say!("{person} out", person),
        Move::OffAir => say!("{person} off air", person),
    };
    let mut notes = Vec::new();
    let came = place.at_work(outside, |desk, loaded| {
        notes.clear();
        let by = t.told.by.as_deref().unwrap_or_default();
        let known = loaded.known();
        let told = calling::told(&t.told, &known);
        let given = t.permit.as_deref().and_then(|n| known.state.permits.get(n));
        let person = air::known_as(&known, given, &person);
        let permit = match (&t.set, permit_of(&known, &person, t.permit.as_deref())) {
            (Some(_), _) => None,
            (None, Ok(permit)) => permit,
            // A permit that is not known, or more than one: the report is kept on the set.
            (None, Err(_)) if reported => None,
            (None, Err(refusal)) => return Err(refusal.into()),
        };
        let set = match (permit, &t.set) {
            (Some(p), _) => p.set.id.clone(),
            // An id that no line may hold is no reason to lose a report.
            (None, Some(s)) if reported && !crate::text::is_id(s) => NO_SET.to_owned(),
            (None, Some(s)) => s.clone(),
            (None, None) => match known.state.on_air.iter().find(|p| p.person == person) {
                Some(p) => p.set.clone(),
                // A report is kept although nobody knows of which set: it counts for every one.
                None => match only(&known, "set", None) {
                    Ok(set) => set,
                    Err(_) if reported => NO_SET.to_owned(),
                    Err(refusal) => return Err(refusal.into()),
                },
            },
        };
        if reported && !known.has_set(&set) {
            notes.push(no_such_set(&known, &set));
        }
        if !reported {
            let Some(p) = permit else {
                return Err(planned_nowhere(&known, &person).into());
            };
            return Ok(Came::Asks(p.number.clone(), person));
        }
        if matches!(to, Move::Out | Move::OffAir) {
            notes.extend(not_on_tally(&known, permit, &set, &person));
            notes.extend(told_for_before(&known, &set, &person, &told));
        }
        let named = known.chain.origin.roster.person(&person).is_some()
            || known.state.on_air.iter().any(|p| p.person == person);
        if let Some(near) = air::almost_called(&known, &person).filter(|near| *near != person && !named) {
            notes.push(say!(
                "NOTE: {person} is kept as somebody of that name. IF {name} WAS MEANT, {name} STANDS WHERE THEY STOOD: report {name}",
                person,
                name = crate::permit::decide::crew::named(&known, &near)
            ));
        }
        let breach = air::breach(&known, permit, &person, to);
        let draft = air::report(&known, permit, &set, &person, to, breach, &told, by);
        desk.keep(loaded, &draft).map(|line| Came::Told(Box::new(line)))
    });
    let line = match came {
        Ok(Came::Told(line)) => Ok(*line),
        Ok(Came::Asks(number, person)) => place.at_desk(outside, None, |desk| {
            let by = t.told.by.as_deref().unwrap_or_default();
            let denied = format!("{word}: {person}");
            let decide = |known: &Known<'_>| air::request(known, known.permit(&number)?, &person, to, by);
            desk.request(decide, Some((&denied, Some(&number), ""))).map(|(line, _)| line)
        }),
        Err(end) => Err(end),
    };
    let line = match line {
        Err(end) if reported => {
            let mut report =
                Report::new(to.kind(), t.permit.as_deref(), t.set.as_deref(), &t.told, place, outside);
            report.members.push(("person".to_owned(), air::kept_or(&person, "somebody").into()));
            return or_aside(Err::<Line, _>(end), place, report, outside).map(|_| ());
        }
        done => done?,
    };
    let person = line.data.text("person").unwrap_or(&person);
    for words in notes {
        writeln!(outside.err, "{}", crate::text::safe_line(&words))?;
    }
    time_not_kept(place, &t.told, outside)?;
    let name = place
        .look_for(None, outside)
        .map_or_else(|_| person.to_owned(), |looked| outside.face.person(&looked.known(), person));
    kept(&line, &moved(&crate::text::safe_line(&name)), outside)?;
    if matches!(to, Move::OnAir | Move::In) {
        spell_left(place, person, outside);
    }
    known_by(place, t.told.by.as_deref(), outside);
    over_with_people(place, outside);
    Ok(())
}

/// What is asked for is asked for now: a time told with it would be dropped without a word.
pub fn asked_now(told: &super::args::ToldArgs) -> Result<(), End> {
    if told.at.is_none() && told.told_by.is_none() {
        return Ok(());
    }
    Err(End::Usage(
        say!(
            "--at and --told-by tell of what has happened already: add --report to write it as told; leave them out to ask for it \
             now"
        )
        .into(),
    ))
}

/// Whoever goes on or in with part of the longest spell behind them is told how much is left.
fn spell_left(place: &Place, person: &str, outside: &mut Outside<'_>) {
    let Ok(looked) = place.look_for(None, outside) else { return };
    let known = looked.known();
    let on = known.state.on_air.iter().find(|p| p.person == person).and_then(|p| p.permit.as_deref());
    let Some(texts) = on.and_then(|n| known.state.permits.get(n)).and_then(|p| known.texts(p).ok()) else {
        return;
    };
    let whole = |field: &str| -> Option<i64> {
        let value = texts.job.quantity(field)?.value.to_integer();
        value.to_string().parse().ok()
    };
    let (Some(longest), been) = (whole("longest_spell"), air::spell(&known, &texts, person)) else { return };
    let left = (longest - been).max(0);
    if been >= 60 && left < whole("way_out").unwrap_or(0).max(longest / 2) {
        let _ = writeln!(
            outside.err,
            "{}",
            say!(
                "NOTE: {person} has {minutes} min left of the longest spell, the way out among it",
                person = crate::text::safe_line(person),
                minutes = left / 60
            )
        );
    }
}

/// Whatever is told of anybody: that the time of a permit is over while people breathe on it.
pub(super) fn over_with_people(place: &Place, outside: &mut Outside<'_>) {
    let Ok(looked) = place.look_for(None, outside) else { return };
    let known = looked.known();
    for permit in known.state.in_use(known.time()) {
        if let Some(words) = crate::show::over_with_people(&known, permit) {
            let words = format!("{}: {words}", permit.number);
            let _ = writeln!(outside.err, "!! {}", crate::text::safe_line(&words));
        }
    }
}

/// Nobody plans this name; somebody else may be meant. Rescuers on air of their own stand on no tally of this air.
fn planned_nowhere(known: &Known<'_>, person: &str) -> Refusal {
    let mut planned: Vec<String> = Vec::new();
    let mut rescuer = false;
    for permit in known.state.not_ended(known.time()) {
        let Ok(texts) = known.texts(permit) else { continue };
        planned.extend(texts.job.items("wearers").iter().map(|w| w.id().to_owned()));
        rescuer |= texts.job.item("rescuers", person).is_some();
    }
    planned.sort();
    planned.dedup();
    let name = crate::text::safe_line(person);
    if rescuer {
        return Refusal::because(say!(
            "{name} is planned on no open permit as a wearer; they are one of the \
             rescuers",
            name
        ))
        .instead(say!(
            "on the air of this set, report it: `airwrit on {name} --set SET --report`; on air \
                 of their own, `airwrit note` keeps it",
            name = shell_word(Path::new(&*name))
        ));
    }
    let near = air::almost_called(known, person)
        .or_else(|| crate::text::nearest(person, planned.iter().map(String::as_str)).map(str::to_owned));
    let near = near.map(|n| format!("{} ", say!("was {name} meant?", name = n))).unwrap_or_default();
    let planned = if planned.is_empty() { say!("nobody").to_owned() } else { planned.join(", ") };
    let instead = say!(
        "Only if somebody of this name has gone on air all the same, report it: `airwrit on {name} --set SET --report`",
        name = shell_word(Path::new(&*name))
    );
    Refusal::because(say!("{name} is planned on no open permit; planned are: {planned}", name, planned))
        .instead(format!("{near}{instead}"))
}

/// A report of somebody who is not on the tally is kept like any other, but a name mistyped would leave
/// the person meant on air with everybody believing otherwise: it is said, with who is on air.
fn not_on_tally(known: &Known<'_>, permit: Option<&Permit>, set: &str, person: &str) -> Option<String> {
    let person = air::known_as(known, permit, person);
    let here = known.state.on_air.iter().filter(|p| p.person == person);
    let sets: Vec<&str> = here.map(|p| p.set.as_str()).collect();
    if sets.contains(&set) {
        return None;
    }
    if let Some(other) = sets.first() {
        return Some(say!(
            "NOTE: {person} is on air from {other}, not from {set}: that stands unchanged",
            person,
            other,
            set
        ));
    }
    let on: Vec<&str> = known.state.on_air.iter().map(|p| p.person.as_str()).collect();
    let who = if on.is_empty() { say!("nobody").to_owned() } else { on.join(", ") };
    let near = crate::text::nearest(&person, on.iter().copied());
    let near =
        near.map(|n| say!(". IF {name} WAS MEANT, {name} STANDS ON AIR STILL: report {name}", name = n));
    let near = near.unwrap_or_default();
    Some(say!(
        "NOTE: {person} was not on the tally; before this entry on air: {who}{near}",
        person,
        who,
        near
    ))
}

/// A report of leaving that is told for a time before the person went on air changes nothing of where they are now.
fn told_for_before(known: &Known<'_>, set: &str, person: &str, told: &Told) -> Option<String> {
    let at = told.at.as_deref()?;
    let p =
        known.state.on_air.iter().find(|p| p.person == person && p.set == set && at < p.went_on.as_str())?;
    let zone = &known.now.zone;
    Some(say!(
        "NOTE: told for {time}, but {person} went on air at {on_since}, after that: STILL ON THE TALLY. \
         If they are off now, report it without --at",
        time = crate::time::for_people(at, zone),
        person,
        on_since = crate::time::for_people(&p.went_on, zone)
    ))
}

/// What stands for the set in a report where it is not known which one it was.
const NO_SET: &str = "not-known";

fn no_such_set(known: &Known<'_>, set: &str) -> String {
    let sets: Vec<&str> =
        known.chain.texts.keys().filter(|(kind, _)| kind == "set").map(|(_, id)| id.as_str()).collect();
    let sets = if sets.is_empty() { say!("none").to_owned() } else { sets.join(", ") };
    say!(
        "NOTE: kept for the set `{set}`, which is none of those here ({sets}); somebody on air from it counts for every \
         set; say which with --set",
        set,
        sets
    )
}

fn as_trouble(end: End) -> Trouble {
    match end {
        End::Trouble(t) => t,
        End::Usage(why) => Trouble::CouldNot(why),
        End::No | End::Code(_) => Trouble::CouldNot(say!("nothing was done").into()),
    }
}

/// A report on a permit or a set.
pub(super) fn report(
    place: &Place,
    on: &OnWhat,
    kind: &'static str,
    members: Vec<(String, Json)>,
    t: &ToldArgs,
    what: &str,
    outside: &mut Outside<'_>,
) -> Outcome {
    let line = kept_line(place, on, kind, &members, t, outside)?;
    kept(&line, what, outside)?;
    known_by(place, t.by.as_deref(), outside);
    Ok(())
}

/// The same, and nothing is said of it yet.
pub(super) fn kept_line(
    place: &Place,
    on: &OnWhat,
    kind: &'static str,
    members: &[(String, Json)],
    t: &ToldArgs,
    outside: &mut Outside<'_>,
) -> Result<Line, End> {
    well_typed(place, t, outside)?;
    place.at_work(outside, |desk, loaded| {
        let mut members = members.to_vec();
        members.extend(told(t, &loaded.now).map_err(as_trouble)?.members());
        let by = t.by.as_deref().unwrap_or_default();
        let known = loaded.known();
        let apart = |set: &str, mut members: Vec<(String, Json)>| {
            members.push(("set".into(), set.into()));
            Known::line_apart(kind, by, sorted(members))
        };
        let draft = match (&on.permit, &on.set) {
            (Some(number), _) => known.line(known.permit(number)?, kind, by, sorted(members)),
            (None, set) => apart(set.as_deref().unwrap_or_default(), members),
        };
        desk.keep(loaded, &draft)
    })
}

/// What stops the work. Nothing typed here can be wrong enough to keep the work going: where permit or set
/// is not known or not named, everything at work is stopped; where a time cannot be read, it is now. `what` is what it
/// is called, given whether anything is suspended and what came of it.
fn stop(
    place: &Place,
    on: &Stops,
    kind: &'static str,
    members: &[(String, Json)],
    t: &ToldArgs,
    what: &dyn Fn(bool, &str) -> String,
    outside: &mut Outside<'_>,
) -> Result<Vec<Line>, End> {
    let named = on.permit.as_deref().or(on.set.as_deref());
    let mut strange = false;
    let mut before = Before::default();
    let lines = place.at_work(outside, |desk, loaded| {
        let known = loaded.known();
        before = Before::of(&known);
        let concerned = calling::concerned(&known, on.permit.as_deref(), on.set.as_deref());
        strange = named.is_some_and(|n| !concerned.is_meant(n));
        let mut members = members.to_vec();
        members.extend(calling::told(t, &known).members());
        let mut lines = Vec::new();
        for draft in concerned.drafts(&known, kind, t.by.as_deref().unwrap_or_default(), &members) {
            lines.push(desk.keep(loaded, &draft)?);
        }
        match lines.is_empty() {
            true => Err(Trouble::CouldNot(
                say!("neither permit nor set is known here that it could be kept for").into(),
            )),
            false => Ok(lines),
        }
    });
    let lines = match lines {
        Ok(lines) => lines,
        Err(end) => {
            // Written aside for each that it concerns: one that names nothing known would stop nothing.
            for (permit, set) in
                calling::each_concerned(place, on.permit.as_deref(), on.set.as_deref(), outside)
            {
                let mut aside = Report::new(kind, permit.as_deref(), set.as_deref(), t, place, outside);
                aside.members.extend(members.iter().cloned());
                if let End::Trouble(Trouble::Broken { .. } | Trouble::CouldNot(_)) = &end {
                    calling::aside(place, aside, outside);
                }
            }
            return Err(end);
        }
    };
    if let (true, Some(n)) = (strange, named) {
        let kept: Vec<&str> = lines.iter().map(stopped).collect();
        writeln!(
            outside.err,
            "{}",
            say!(
                "there is no permit or set {name} here: it is kept for {kept}",
                name = crate::text::safe_line(n),
                kept = crate::text::listed(&kept, say!("and"))
            )
        )?;
    }
    time_not_kept(place, t, outside)?;
    let looked = place.look_for(on.permit.as_deref(), outside).ok();
    let own: Vec<&str> = lines.iter().filter_map(|l| l.permit.as_deref()).collect();
    for line in &lines {
        let (suspended, came) = match &looked {
            Some(l) => before.came_of(&l.known(), line.permit.as_deref(), line.data.text("set"), &own),
            None => (false, say!("what came of it cannot be read now").to_owned()),
        };
        kept(line, &format!("{}: {}", stopped(line), what(suspended, &came)), outside)?;
    }
    Ok(lines)
}

/// Copies of what was stopped, last of all.
fn take_down(place: &Place, lines: &[Line], outside: &mut Outside<'_>) {
    let about = |id: &str| lines.iter().any(|l| stopped(l) == id);
    // What stops one permit of a set stops every other one of it.
    let permit = lines.iter().find_map(|l| l.permit.as_deref());
    let sets: Vec<String> = place.look_for(permit, outside).map_or_else(
        |_| Vec::new(),
        // Its lines were kept just now, so that it is at hand.
        |l| l.state.permits.at_hand().filter(|p| about(&p.number)).map(|p| p.set.id.clone()).collect(),
    );
    super::printing::take_down(place, |p| about(&p.set.id) || sets.contains(&p.set.id), outside);
}

/// The permit or set that a line is about.
fn stopped(line: &Line) -> &str {
    line.permit.as_deref().or_else(|| line.data.text("set")).unwrap_or_default()
}

/// A report is kept, whatever was typed for its time; that it is kept as of now is said.
pub(super) fn time_not_kept(place: &Place, t: &ToldArgs, outside: &mut Outside<'_>) -> Outcome {
    if let (Some(at), Err(End::Usage(why))) = (&t.at, well_typed(place, t, outside)) {
        let at = crate::text::safe_line(at);
        writeln!(
            outside.err,
            "{}",
            say!("NOTE: {why}; kept as of now. `airwrit note` can say what `{at}` meant", why, at)
        )?;
    }
    Ok(())
}

/// A report that only the register takes: what was typed is told to be written down.
pub(super) fn not_kept<T>(done: Result<T, End>, outside: &mut Outside<'_>) -> Result<T, End> {
    if let Err(End::Trouble(Trouble::Broken { .. } | Trouble::CouldNot(_))) = &done {
        let _ = writeln!(
            outside.err,
            "{}",
            say!(
                "NOT KEPT: write it on paper, with the time and who told it; enter it \
                     with --at once the register can be written"
            )
        );
    }
    done
}

/// A report that the register cannot take is written beside it: what happened is not lost.
fn or_aside<T>(
    line: Result<T, End>,
    place: &Place,
    report: Report,
    outside: &mut Outside<'_>,
) -> Result<T, End> {
    if let Err(End::Trouble(Trouble::Broken { .. } | Trouble::CouldNot(_))) = &line {
        super::calling::aside(place, report, outside);
    }
    line
}

/// `airwrit suspend`.
pub fn suspend(
    place: &Place,
    on: &Stops,
    reason: Option<&str>,
    t: &ToldArgs,
    outside: &mut Outside<'_>,
) -> Outcome {
    let reason = air::kept_or(reason.unwrap_or_default(), say!("no reason given"));
    let members = vec![("reason".to_owned(), reason.into())];
    let what = |suspended: bool, came: &str| {
        if suspended { came.to_owned() } else { say!("kept; {outcome}", outcome = came) }
    };
    if calling::people_on(place, on, outside) {
        calling::orders(place, "other", on, outside);
    }
    let lines = stop(place, on, "suspend", &members, t, &what, outside)?;
    take_down(place, &lines, outside);
    Ok(())
}

/// `airwrit event`.
pub fn event(
    place: &Place,
    on: &Stops,
    what: &str,
    words: Option<&str>,
    t: &ToldArgs,
    outside: &mut Outside<'_>,
) -> Outcome {
    // An alarm whose word is not known here is still an alarm; capitals, blanks and the word alarm mean nothing.
    let plain = what.trim().to_lowercase().replace([' ', '-'], "_");
    let plain = plain.strip_suffix("_alarm").unwrap_or(&plain).to_owned();
    let plain = match plain.as_str() {
        "carbon_monoxide" => "co",
        "changeover" => "change_over",
        "supply" | "low_supply" | "supply_loss" | "supply_lost" | "loss_of_supply" | "supply_failure"
        | "supply_failed" | "no_air" | "low_air" | "power_cut" | "power_lost" | "loss_of_power"
        | "stopped" | "set_stopped" | "compressor_stopped" | "tripped" | "set_tripped" => "supply_low",
        "reserve" | "low_reserve" | "reserve_lost" | "loss_of_reserve" => "reserve_low",
        "smoke" | "evacuation" | "site_evacuation" => "fire",
        "collapsed" | "wearer_collapsed" | "no_answer" | "silent" => "wearer_silent",
        "overheat" | "overheating" | "high_temperature" | "hot" => "temperature",
        "hose_cut" | "hose_off" | "hose_burst" => "hose",
        "radio_lost" | "lost_contact" | "loss_of_contact" => "contact_lost",
        "wind" | "wind_turning" => "wind_turned",
        other => other,
    };
    let typed = what;
    let what = if crate::record::kinds::EVENTS.contains(&plain) { plain } else { what };
    if !crate::record::kinds::EVENTS.contains(&what) {
        let words = crate::record::kinds::EVENTS.join(", ");
        let _ = writeln!(
            outside.err,
            "{}",
            say!(
                "`{word}` IS NO WORD KNOWN HERE: these are the orders of any event. Known: {words}",
                word = crate::text::safe_line(typed),
                words
            )
        );
    }
    let known = crate::record::kinds::EVENTS.contains(&what);
    let said =
        if known { words.map(str::to_owned) } else { Some(format!("{what} {}", words.unwrap_or_default())) };
    let what = if known { what } else { "other" };
    let mut members = vec![("what".to_owned(), Json::from(what))];
    if let Some(w) = said {
        members.push(("words".into(), air::kept_or(&w, say!("no words given")).into()));
    }
    calling::orders(place, what, on, outside);
    // Where nothing is typed it is called as on its key.
    let name = if outside.face.keys { recorded(what) } else { what.to_owned() };
    let called = |_: bool, came: &str| say!("event {what}; {outcome}", what = name, outcome = came);
    let lines = stop(place, on, "event", &members, t, &called, outside);
    // Also where it could only be written aside.
    let told = calling::air_gone(place, on, outside);
    let lines = lines?;
    take_down(place, &lines, outside);
    told
}

/// `airwrit note`.
pub fn note(place: &Place, on: &OnWhat, words: &str, outside: &mut Outside<'_>) -> Outcome {
    let members = vec![("words".to_owned(), clean(words)?.into())];
    report(place, on, "note", members, &ToldArgs::default(), say!("noted"), outside)
}

/// `airwrit taken-down`.
pub fn taken_down(place: &Place, number: &str, copy: u64, outside: &mut Outside<'_>) -> Outcome {
    let line = place.at_work(outside, |desk, loaded| {
        let known = loaded.known();
        let permit = known.permit(number)?;
        let (hung, sheet) = copies::hung(permit, copy)
            .ok_or_else(|| Refusal::because(say!("{number} has no copy {copy}", number, copy)))?;
        let mut members = vec![
            ("hangs".to_owned(), Json::from(hung)),
            ("number".to_owned(), Json::Int(copy)),
            ("taken_down".to_owned(), Json::Bool(true)),
        ];
        if sheet != "permit" {
            members.push(("sheet".to_owned(), sheet.into()));
        }
        let data = sorted(members);
        let draft = known.line(permit, "copy", "", data);
        desk.keep(loaded, &draft)
    })?;
    kept(&line, &say!("copy {copy} taken down", copy), outside)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Warsaw, the night of 29 March 2026: from 02:00 (+01:00) the clock goes to 03:00 (+02:00), IANA.
    #[test]
    fn the_next_time_knows_a_change_of_the_clocks() {
        let zone = TimeZone::get("Europe/Warsaw").unwrap();
        let now = Moment::new(crate::time::seconds("2026-03-28T21:00:00Z"), &zone);
        assert_eq!(next_time("23:30", &now, &zone).unwrap(), "2026-03-28T22:30:00Z");
        assert_eq!(next_time("06:00", &now, &zone).unwrap(), "2026-03-29T04:00:00Z");
        assert_eq!(last_time("21:59", &now).unwrap(), "2026-03-28T20:59:00Z");
        assert_eq!(last_time("10:00", &now).unwrap(), "2026-03-28T09:00:00Z");
        let early = Moment::new(crate::time::seconds("2026-03-28T23:10:00Z"), &zone);
        assert_eq!(last_time("23:50", &early).unwrap(), "2026-03-28T22:50:00Z");
        for not_yet in ["22:01", "23:59", "09:59"] {
            assert!(matches!(last_time(not_yet, &now), Err(End::Usage(_))), "{not_yet}");
        }
        for wrong in ["24:00", "6:00", "06:60", "0600", "+6:00", ""] {
            assert!(matches!(next_time(wrong, &now, &zone), Err(End::Usage(_))), "{wrong}");
        }
    }
}
