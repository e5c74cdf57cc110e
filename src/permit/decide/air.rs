//! The tally and the set: putting people on air, letting them in, and everything that is reported.
//!
//! `on_air` and `in` as requests are judged alike. Reports are always written; what a rule forbade
//! stands with them as `breach`.

use super::{Known, Refusal, answer, crew, open, sign};
use crate::checklist::Each;
use crate::permit::bench::Texts;
use crate::permit::called;
use crate::permit::due;
use crate::permit::state::{Permit, Whereabouts};
use crate::permit::walk;
use crate::permit::watch;
use crate::record::json::{Json, sorted};
use crate::record::line::Draft;
use crate::tongue::say;
use crate::view::{StateWord, recorded};
use num_traits::ToPrimitive;

/// A move of somebody on the tally.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Move {
    /// Connected, on air, outside.
    OnAir,
    /// In.
    In,
    /// Out, still on air.
    Out,
    /// Mask off in clean air.
    OffAir,
}

impl Move {
    /// The kind of line.
    pub const fn kind(self) -> &'static str {
        match self {
            Move::OnAir => "on_air",
            Move::In => "in",
            Move::Out => "out",
            Move::OffAir => "off_air",
        }
    }
}

/// Told later than it happened, and by whom.
#[derive(Clone, Debug, Default)]
pub struct Told {
    /// UTC time it happened.
    pub at: Option<String>,
    /// Who told it.
    pub by: Option<String>,
}

impl Told {
    /// The members for a line.
    pub fn members(&self) -> Vec<(String, Json)> {
        let at = self.at.iter().map(|a| ("at".to_owned(), Json::from(a.as_str())));
        at.chain(self.by.iter().map(|b| ("told_by".to_owned(), Json::from(kept(b))))).collect()
    }
}

/// Text as the record keeps it, whatever was typed: a report is never refused for its characters. Who is named by
/// nothing is called the same in every language: the tally finds them again by it.
fn kept(text: &str) -> String {
    kept_or(text, "somebody")
}

/// The same, with words for nothing at all.
pub fn kept_or(text: &str, nothing: &str) -> String {
    let text = crate::text::nfc(text.trim());
    let text = crate::text::safe_line(&text);
    let mut end = text.len().min(1900);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    match text.get(..end) {
        Some("") | None => nothing.to_owned(),
        Some(t) => t.to_owned(),
    }
}

/// The id of a person who was named by id or by name, on this permit or (none) on any that has not ended;
/// what was typed, where nobody is called so. The same person must not stand on the tally twice.
pub fn known_as(known: &Known<'_>, permit: Option<&Permit>, typed: &str) -> String {
    let typed = kept(typed);
    let roster = &known.chain.origin.roster;
    if known.state.on_air.iter().any(|p| p.person == typed) || roster.person(&typed).is_some() {
        return typed;
    }
    // Letters large or small make no other person.
    let same = |name: &str| name.to_lowercase() == typed.to_lowercase();
    let permits: Vec<&Permit> = match permit {
        Some(p) => vec![p],
        None => known.state.not_ended(known.time()).collect(),
    };
    let mut called: Vec<String> = Vec::new();
    for t in permits.into_iter().filter_map(|p| known.texts_of(p).ok()) {
        let people = [t.job.items("wearers"), t.job.items("rescuers"), t.site.items("people")];
        for v in people.into_iter().flatten() {
            if v.id() == typed {
                return typed;
            }
            if same(v.id()) || v.words("name").is_some_and(|n| n.texts().iter().any(|(_, name)| same(name))) {
                called.push(v.id().to_owned());
            }
        }
    }
    called.extend(roster.persons.iter().filter(|p| same(&p.name) || same(&p.id)).map(|p| p.id.clone()));
    called.sort();
    called.dedup();
    match called.as_slice() {
        [one] => one.clone(),
        _ => typed,
    }
}

/// The id of the one person here who is called as was typed but for marks on letters, large or small. A hint: nobody is
/// taken for another by it.
pub fn almost_called(known: &Known<'_>, typed: &str) -> Option<String> {
    let typed = crate::text::bare(typed);
    let same = |name: &str| crate::text::bare(name) == typed;
    let roster = known.chain.origin.roster.persons.iter();
    let mut called: Vec<String> =
        roster.filter(|p| same(&p.name) || same(&p.id)).map(|p| p.id.clone()).collect();
    for t in known.state.not_ended(known.time()).filter_map(|p| known.texts_of(p).ok()) {
        for v in
            [t.job.items("wearers"), t.job.items("rescuers"), t.site.items("people")].into_iter().flatten()
        {
            if same(v.id()) || v.words("name").is_some_and(|n| n.texts().iter().any(|(_, name)| same(name))) {
                called.push(v.id().to_owned());
            }
        }
    }
    called.sort();
    called.dedup();
    if called.len() == 1 { called.pop() } else { None }
}

/// Everything that forbids putting somebody on air, or letting them in. Empty: they may.
pub fn forbidden(known: &Known<'_>, permit: &Permit, person: &str, to: Move) -> Vec<String> {
    let mut why = called::before_issue(known, permit);
    let person = &known_as(known, Some(permit), person);
    if let Err(r) = known.clock() {
        why.extend(r.why);
    }
    let life = known.life(permit);
    if life != StateWord::Live {
        why.push(say!("{permit} is {state}, not live", permit = permit.number, state = life.word()));
    }
    match permit.valid_to.as_deref() {
        Some(v) if v < known.time() => {
            why.push(say!(
                "{permit} was valid to {time}",
                permit = permit.number,
                time = crate::time::for_people(v, &known.now.zone)
            ));
        }
        Some(_) => {}
        None => why.push(say!("{permit} was never countersigned", permit = permit.number)),
    }
    if permit.called_out {
        why.push(say!("everyone was called out on it").into());
    }
    why.extend(known.keys_lost(permit));
    let texts = match known.texts_of(permit) {
        Ok(t) => t,
        Err(e) => {
            why.push(e);
            return why;
        }
    };
    if texts.job.item("wearers", person).is_none() {
        why.push(say!("{person} is not a wearer of {permit}", person, permit = permit.number));
    }
    let limit = sign::valid_to(known, permit, &texts, None);
    if limit.second < crate::time::seconds(known.time()) {
        why.push(say!(
            "worked out again, {permit} has ended: {because}",
            permit = permit.number,
            because = limit.because
        ));
    }
    why.extend(watch::against(known, permit, &texts));
    why.extend(watch::too_low_elsewhere(known, permit, &texts));
    why.extend(due::holds(known, permit, &texts));
    why.extend(due::unsafe_reserve(known, permit, &texts));
    why.extend(tally_forbids(known, permit, &texts, person, to));
    why.extend(open::job_problems(known, &texts.job, &texts.set, &texts.site, Some(&permit.number)));
    why.extend(open::elsewhere(known, &permit.set.id, &texts.job));
    if !answer::running(known, &permit.set.id) {
        why.push(say!("no start of the set is recorded, or it was stopped since").into());
    }
    let bench = known.bench(permit, &texts);
    let stands = walk::walk(&bench);
    why.extend(walk::in_words(&walk::before_air(&stands, person)));
    why.dedup();
    why
}

/// Seconds since somebody's spell on air began: mask off for less than the site's pause does not end it. 0 for whoever
/// begins a new one.
pub fn spell(known: &Known<'_>, texts: &Texts, person: &str) -> i64 {
    let pause = texts.site.quantity("spell_pause").and_then(|q| q.value.to_integer().to_i64());
    let pause = pause.unwrap_or(i64::MAX);
    let on = known.state.on_air.iter().find(|p| p.person == person);
    let mut from = on.map_or_else(|| known.now.seconds(), |p| crate::time::seconds(&p.since.time));
    for (began, ended) in known.state.spells.get(person).into_iter().flatten().rev() {
        if from - crate::time::seconds(ended) >= pause {
            break;
        }
        from = from.min(crate::time::seconds(began));
    }
    known.now.seconds() - from
}

fn pause_in_words(texts: &Texts) -> String {
    texts.site.get("spell_pause").and_then(|h| h.shown(&texts.language)).unwrap_or_default()
}

fn tally_forbids(known: &Known<'_>, permit: &Permit, texts: &Texts, person: &str, to: Move) -> Vec<String> {
    let mut why = Vec::new();
    let here = known.state.on_air.iter().find(|p| p.person == person);
    match (to, here.map(|p| p.whereabouts)) {
        (Move::OnAir, Some(w)) => why.push(say!("{person} is {state} already", person, state = w.words())),
        (Move::In, None) => why.push(say!("{person} is not on air: connect first, breathe outside", person)),
        (Move::In, Some(Whereabouts::In)) => why.push(say!("{person} is in already", person)),
        (Move::In, Some(_)) if here.is_some_and(|p| p.set != permit.set.id) => {
            why.push(say!("{person} is on air from another set", person));
        }
        (Move::In, Some(_)) if here.is_some_and(|p| p.permit.as_deref() != Some(&permit.number)) => {
            why.push(say!(
                "{person} is on air, but not on {permit}: mask off, connect on this permit",
                person,
                permit = permit.number
            ));
        }
        (Move::In, Some(Whereabouts::Outside | Whereabouts::OutOnAir)) => {
            let longest = texts.job.quantity("longest_spell").and_then(|q| q.value.to_integer().to_i64());
            let on = here.map_or(0, |p| known.now.seconds() - crate::time::seconds(&p.since.time));
            let on = on.max(spell(known, texts, person));
            if longest.is_none_or(|most| on > most) {
                why.push(say!(
                    "{person} is on air since {min} min, longer than the longest spell",
                    person,
                    min = on / 60
                ));
            }
        }
        (Move::OnAir, None) => {
            let longest = texts.job.quantity("longest_spell").and_then(|q| q.value.to_integer().to_i64());
            let on = spell(known, texts, person);
            if longest.is_none_or(|most| on > most) {
                why.push(say!(
                    "{person} was on air for {min} min, longer than the longest spell, and off it \
                               for less than {pause}",
                    person,
                    min = on / 60,
                    pause = pause_in_words(texts)
                ));
            }
        }
        (Move::Out | Move::OffAir, _) => {}
    }
    let outlet = planned_outlet(texts, person);
    let others = || known.perhaps_on_air_from(&permit.set.id).filter(|p| p.person != person);
    if let Some(o) = &outlet
        && let Some(p) = others().find(|p| p.outlet.as_ref() == Some(o))
    {
        why.push(say!("the outlet `{o}` is taken by {person}", o, person = p.person));
    }
    for p in others().filter(|p| p.outlet.is_none()) {
        why.push(say!("nobody knows on which outlet {person} is", person = p.person));
    }
    let on_air = |who: &str| known.state.on_air.iter().any(|p| p.person == who);
    for role in ["attendant", "entry_watch"] {
        let who = texts.job.text(role).unwrap_or_default();
        if on_air(who) {
            why.push(say!("the {role}, {who}, is on air", role = recorded(role), who));
        }
    }
    let least = open::rescuers_least(&texts.site);
    let ready = open::rescuers_free(&texts.job).iter().filter(|r| !on_air(r)).count();
    if ready < least {
        why.push(say!(
            "{ready} rescuers of this job are free to go in and not on air themselves, wanted at \
                       least {least}",
            ready,
            least
        ));
    }
    let bench = known.bench(permit, texts);
    let in_service = bench.items(&Each::Set("outlets".into()));
    if let Some(o) = &outlet
        && !in_service.iter().any(|i| i.id == *o)
    {
        why.push(say!("the outlet `{o}` is not in service", o));
    }
    let on = others().count() + 1;
    if on > in_service.len() {
        why.push(say!(
            "{on} would be on air from this set, which has {outlets} outlets in service",
            on,
            outlets = in_service.len()
        ));
    }
    let on_permit = others().filter(|p| p.permit.as_deref() == Some(&permit.number)).count() + 1;
    if let Some(most) = sign::limit_of_wearers(permit)
        && on_permit as u64 > most
    {
        why.push(say!(
            "{on_permit} would be on air on {permit}, the supervisor allowed {most}",
            on_permit,
            permit = permit.number,
            most
        ));
    }
    why
}

/// The permits not ended whose job names the person as a wearer.
pub fn planned_on<'a>(known: &Known<'a>, person: &str) -> Vec<&'a Permit> {
    known
        .state
        .not_ended(&known.now.time)
        .filter(|p| match p.job.get("wearers") {
            Some(Json::Arr(w)) => w.iter().any(|w| w.text("person") == Some(person)),
            Some(_) | None => false,
        })
        .collect()
}

/// The outlet a person is planned on.
pub fn planned_outlet(texts: &Texts, person: &str) -> Option<String> {
    texts
        .job
        .items("wearers")
        .iter()
        .find(|w| w.id() == person)
        .and_then(|w| w.text("outlet"))
        .map(str::to_owned)
}

/// Asks to put somebody on air or let them in.
pub fn request(
    known: &Known<'_>,
    permit: &Permit,
    person: &str,
    to: Move,
    by: &str,
) -> Result<Draft, Refusal> {
    let why = forbidden(known, permit, person, to);
    super::unless(why, say!("nobody goes on air until all of this is true"))?;
    Ok(report(known, Some(permit), &permit.set.id, person, to, Vec::new(), &Told::default(), by))
}

/// Somebody went on air, in, out or off: always written. `breach` is worked out by [`breach`].
#[expect(clippy::too_many_arguments, reason = "each is a member of the line")]
pub fn report(
    known: &Known<'_>,
    permit: Option<&Permit>,
    set: &str,
    person: &str,
    to: Move,
    breach: Vec<String>,
    told: &Told,
    by: &str,
) -> Draft {
    let person = known_as(known, permit, person);
    let mut members = vec![("person".to_owned(), Json::from(person.as_str()))];
    // Whoever is on the tally already keeps the outlet that stands there.
    let placed = known.state.on_air.iter().any(|p| p.person == person && p.set == set && p.outlet.is_some());
    let outlet = permit
        .filter(|_| to == Move::OnAir || (to != Move::OffAir && !placed))
        .and_then(|p| known.texts_of(p).ok())
        .and_then(|t| planned_outlet(&t, &person));
    if let Some(o) = outlet {
        members.push(("outlet".into(), o.into()));
    }
    if !breach.is_empty() {
        members.push(("breach".into(), breaches(breach)));
    }
    members.extend(told.members());
    match permit {
        Some(p) => known.line(p, to.kind(), by, sorted(members)),
        None => {
            members.push(("set".into(), set.into()));
            Known::line_apart(to.kind(), by, sorted(members))
        }
    }
}

/// What a report of going on air or in breaks; nothing for coming out and off.
pub fn breach(known: &Known<'_>, permit: Option<&Permit>, person: &str, to: Move) -> Vec<String> {
    match (to, permit) {
        (Move::Out | Move::OffAir, _) => Vec::new(),
        (Move::OnAir | Move::In, Some(p)) => forbidden(known, p, person, to),
        (Move::OnAir | Move::In, None) => vec![say!("there is no permit").into()],
    }
}

/// Data of a report with what a rule forbade of it, judged on what is known now.
pub fn with_breach(known: &Known<'_>, permit: Option<&Permit>, kind: &str, data: Json) -> Json {
    let to = match kind {
        "on_air" => Move::OnAir,
        "in" => Move::In,
        _ => return data,
    };
    match breach(known, permit, data.text("person").unwrap_or_default(), to) {
        why if why.is_empty() => data,
        why => data.with("breach", breaches(why)),
    }
}

/// As the record keeps them: at most 64, each of at most 2000 bytes.
pub(super) fn breaches(why: Vec<String>) -> Json {
    Json::Arr(why.into_iter().take(64).map(|w| Json::from(kept(&w))).collect())
}

/// Something that happened to a set: `started`, `stopped`, `moved`, `plugged`, `filled`, `serviced`,
/// `air_test`. Members as typed; `date` is put in where it lacks.
pub fn of_set(
    known: &Known<'_>,
    kind: &'static str,
    mut members: Vec<(String, Json)>,
    told: &Told,
    by: &str,
) -> Draft {
    if !members.iter().any(|(k, _)| k == "date") {
        members.push(("date".into(), known.now.date().to_string().into()));
    }
    members.extend(told.members());
    Known::line_apart(kind, by, sorted(members))
}

/// Neither ended nor handed back: somebody answers for it.
fn in_hand(known: &Known<'_>, permit: &Permit) -> bool {
    let life = known.life(permit);
    !life.ended() && life != StateWord::HandedBack
}

/// What forbids starting a set: no permit of it is open, or steps that come before the start are not done.
pub fn start_forbidden(known: &Known<'_>, set: &str) -> Vec<String> {
    let mut why: Vec<String> = known.clock().err().map(|r| r.why).unwrap_or_default();
    let mut open_permits = known
        .state
        .not_ended(known.time())
        .filter(|p| p.set.id == set && !p.for_shutdown && in_hand(known, p))
        .peekable();
    if answer::running(known, set) {
        why.push(say!(
            "the register says that {set} runs already; if it had stopped, report that first",
            set
        ));
    }
    if open_permits.peek().is_none() {
        why.push(say!("no permit for {set} is open, so that nothing was checked before the start", set));
        return why;
    }
    let mut least: Option<Vec<String>> = None;
    for p in open_permits {
        let lacks = match known.texts_of(p) {
            Ok(texts) => {
                let bench = known.bench(p, &texts);
                walk::in_words(&walk::before_start(&walk::to_start(&bench)))
            }
            Err(e) => vec![e],
        };
        if least.as_ref().is_none_or(|l| lacks.len() < l.len()) {
            least = Some(lacks);
        }
    }
    why.extend(least.unwrap_or_default());
    why
}

/// Whom the last roll call of a set's permits did not find: they may be breathing its air, whatever the tally says.
pub fn not_found(known: &Known<'_>, set: &str) -> Vec<String> {
    let here = known.state.permits.open().filter(|p| p.set.id == set);
    let mut out: Vec<String> = here.filter_map(|p| crew::missing_in_words(known, p)).collect();
    out.dedup();
    out
}

/// What forbids stopping a set: somebody on air; or the steps of the shutdown before it are not done.
pub fn stop_forbidden(known: &Known<'_>, set: &str) -> Vec<String> {
    let mut why: Vec<String> = known.clock().err().map(|r| r.why).unwrap_or_default();
    for p in known.perhaps_on_air_from(set) {
        why.push(say!(
            "{person} is on air from it ({whereabouts})",
            person = p.person,
            whereabouts = p.whereabouts.words()
        ));
    }
    why.extend(not_found(known, set));
    let begun = known
        .state
        .not_ended(known.time())
        .filter(|p| p.set.id == set && p.shutdown_begun && in_hand(known, p))
        .max_by_key(|p| p.opened.seq);
    match begun {
        None => why.push(say!("no shutdown has been begun: `airwrit walk --shutdown`").into()),
        Some(p) => match known.texts_of(p) {
            Ok(texts) => {
                let bench = known.bench(p, &texts);
                if let Some(b) = bench.shutdown().map(|b| known.recalled(b)) {
                    why.extend(walk::in_words(&walk::before_stop(&walk::walk(&b))));
                }
            }
            Err(e) => why.push(e),
        },
    }
    why
}

/// Starting or stopping as a request.
pub fn request_of_set(
    known: &Known<'_>,
    kind: &'static str,
    set: &str,
    mut members: Vec<(String, Json)>,
    by: &str,
) -> Result<Draft, Refusal> {
    // The line is about the set that was judged, whatever else was typed.
    members.retain(|(k, _)| k != "set");
    members.push(("set".into(), set.into()));
    let (why, instead) = match kind {
        "started" => (
            start_forbidden(known, set),
            say!("take the steps before the start first: `airwrit walk`").to_owned(),
        ),
        _ => (
            stop_forbidden(known, set),
            say!("if it has stopped all the same, report it: `airwrit set stopped {set} --report`", set),
        ),
    };
    super::unless(why, &instead)?;
    Ok(of_set(known, kind, members, &Told::default(), by))
}

/// The breach of a start or stop that is reported.
pub fn breach_of_set(known: &Known<'_>, kind: &str, set: &str, ordered: bool) -> Option<(String, Json)> {
    let why = match kind {
        "started" => start_forbidden(known, set),
        // The stop that an alarm screen orders at once carries no breach.
        "stopped" if !ordered => stop_forbidden(known, set),
        _ => Vec::new(),
    };
    (!why.is_empty()).then(|| ("breach".to_owned(), breaches(why)))
}
