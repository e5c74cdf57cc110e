//! Each permit: who answered for it, what held and was carried, what happened on it, who signed what with which key.

use super::ends::Ends;
use super::inquiry::{self, Asked};
use super::names::Names;
use super::sought::{self, Sought};
use super::tally::{Alarm, Spell, Tally};
use super::wrote::{self, Wrote};
use super::{At, Input, names, tested};
use crate::audit::numbered;
use crate::permit::bench::{Texts, file};
use crate::permit::decide::{Known, crew};
use crate::permit::state::{Permit, Stamp};
use crate::permit::{copies, flags};
use crate::record::chain::RULES;
use crate::record::json::Json;
use crate::time::{Moment, for_people, seconds};
use crate::tongue::{say, say_n};
use crate::view::StateWord;
use jiff::civil::Date;
use num_traits::ToPrimitive;
use serde::Serialize;
use std::collections::BTreeMap;

/// A signature.
#[derive(Clone, Debug, Serialize)]
pub struct SignOff {
    /// Kind, and which half.
    pub kind: String,
    /// Id.
    pub by: String,
    /// Name by the last roster.
    pub name: String,
    /// Role.
    pub role: String,
    /// Fingerprint.
    pub key: String,
    /// `station` or `own`.
    pub machine: String,
    /// The signer's clock, UTC.
    pub signed: String,
    /// The same at the site.
    pub signed_site: String,
    /// Seconds from the signer's clock to the line's; less than 0: the line is of an earlier time.
    pub kept_after: i64,
    /// The line.
    pub at: At,
    /// H.
    pub hash: String,
    /// What a supervisor looked at, narrowed, or why not.
    pub notes: Vec<String>,
}

/// An answer that was carried.
#[derive(Clone, Debug, Serialize)]
pub struct Carried {
    /// Step and item.
    pub step: String,
    /// The permit it was given on.
    pub from: String,
    /// Where it was given.
    pub given: At,
    /// Where it was carried.
    pub carried: At,
    /// Its age then, hours, rounded up.
    pub hours: i64,
}

/// A reading of the watch.
#[derive(Clone, Debug, Serialize)]
pub struct Read {
    /// What.
    pub what: String,
    /// Item.
    pub item: String,
    /// Decimal text.
    pub value: String,
    /// Unit.
    pub unit: String,
    /// Line.
    pub at: At,
}

/// A refusal.
#[derive(Clone, Debug, Serialize)]
pub struct Denied {
    /// What was asked.
    pub request: String,
    /// Why not.
    pub why: Vec<String>,
    /// Line.
    pub at: At,
    /// The rules were asked again; else what was typed is not in the record.
    pub judged: bool,
}

/// The test of the air that counted when the permit was issued.
#[derive(Clone, Debug, Serialize)]
pub struct Tested {
    /// The day of it.
    pub day: String,
    /// The last day it is good for, by the site's interval.
    pub due: String,
    /// Days left at the issue; less than 0: it was over.
    pub days_left: i64,
    /// Line.
    pub at: At,
    /// What in it is outside the site's limits.
    pub against: Vec<String>,
    /// What ended it before the issue, and the line.
    pub ended: Option<(String, At)>,
}

/// Who stood as attendant or entry watch, and from which line on.
#[derive(Clone, Debug, Serialize)]
pub struct Stood {
    /// `attendant`, `entry_watch`.
    pub role: &'static str,
    /// Id.
    pub person: String,
    /// Their name, where something tells it.
    pub name: String,
    /// The line that named them.
    pub from: At,
    /// The line that named another.
    pub to: Option<At>,
}

/// A change of state.
#[derive(Clone, Debug, Serialize)]
pub struct Change {
    /// UTC.
    pub utc: String,
    /// State from then on.
    pub state: &'static str,
    /// Volume and line of it; after all lines where no line says it.
    #[serde(skip)]
    pub place: (u32, u64),
}

/// Everything of one permit.
#[derive(Clone, Debug, Serialize)]
pub struct PermitFacts {
    /// Number.
    pub number: String,
    /// Set.
    pub set: String,
    /// Site.
    pub place: String,
    /// The work.
    pub job: String,
    /// For a shutdown alone.
    pub for_shutdown: bool,
    /// State now.
    pub state: &'static str,
    /// Opened.
    pub opened: At,
    /// First issued.
    pub issued: Option<At>,
    /// Its last end, at the site.
    pub valid_to: Option<String>,
    /// Its last line.
    pub last: At,
    /// Holder, wearers, rescuers, as the job names them last.
    pub people: Vec<(String, String)>,
    /// Everyone who stood as attendant or entry watch, one after another.
    pub stood: Vec<Stood>,
    /// What a supervisor should look at: quick answers, late ones, read wrong, the same again; each with its line.
    pub flags: Vec<(String, At)>,
    /// The job's way out, seconds.
    pub way_out: Option<i64>,
    /// Answers, carried ones left out.
    pub answers: usize,
    /// The first and the last few of them.
    pub answer_lines: Ends,
    /// Of them, entered late: steps and lines.
    pub late: Vec<(String, At)>,
    /// Holds: their lines and labels stand in the table of holds; here how many, and how many never cleared.
    pub holds: usize,
    /// Never cleared.
    pub holds_open: usize,
    /// Answers carried.
    pub carried: Vec<Carried>,
    /// Deviations and what was left out of service.
    pub left: Vec<(String, At)>,
    /// Why its gates cannot be judged here: a text of it that this program does not read, rules that it does not know.
    pub unread: Option<String>,
    /// The air test it was issued on.
    pub tested: Option<Tested>,
    /// Whom the last roll call did not find, or whoever looked outside did not see: in words, and the line.
    pub lost: Vec<(String, At)>,
    /// Everybody who was looked for, found or not.
    pub sought: Vec<Sought>,
    /// What an inquiry asks first.
    pub inquiry: Vec<Asked>,
    /// What people wrote and told.
    pub wrote: Vec<Wrote>,
    /// Alarms.
    pub alarms: Vec<Alarm>,
    /// Refusals.
    pub denied: Vec<Denied>,
    /// Reports that say what they break.
    pub breaches: Vec<(String, At)>,
    /// Readings.
    pub readings: Vec<Read>,
    /// Time on air.
    pub spells: Vec<Spell>,
    /// States, for the picture of the day.
    pub states: Vec<Change>,
    /// Signatures.
    pub signed: Vec<SignOff>,
    /// Copies that no line says were taken down.
    pub hanging: Vec<String>,
    /// Most CO that the site allows, ppm as it writes it.
    pub co_most: Option<String>,
    /// CO at which everyone is out, as the site writes it.
    pub co_alarm: Option<String>,
}

pub(super) fn at(s: &Stamp) -> At {
    At::new(s.line, &s.time, &s.zone)
}

fn words(job: &Json, field: &str, language: &str) -> String {
    match job.get(field) {
        Some(Json::Str(s)) => s.to_string(),
        Some(Json::Obj(m)) => {
            let own = m.iter().find(|(k, _)| k == language).or_else(|| m.first());
            own.and_then(|(_, v)| v.as_str()).unwrap_or_default().to_owned()
        }
        Some(Json::Arr(_) | Json::Int(_) | Json::Bool(_)) | None => String::new(),
    }
}

/// Every permit, in the order of their opening.
pub fn of(input: &Input<'_>, tally: &Tally) -> Vec<PermitFacts> {
    let (state, Some(chain)) = (&input.replayed.state, &input.replayed.chain) else { return Vec::new() };
    let zone = input.verified.lines.last().map(|l| l.zone.clone()).unwrap_or_default();
    let now = Moment { time: chain.time.clone(), zone: zone.to_string() };
    let known = Known::new(chain, state, &now);
    let mut all: Vec<&Permit> = state.permits.values().collect();
    all.sort_by_key(|p| p.opened.seq);
    let names = names::of(input);
    let mut stood = stood(input, &names);
    let lines = wrote::Lines::new(&input.verified.lines);
    all.into_iter()
        .map(|p| {
            let mut of = one(input, &known, p, (tally, &names));
            of.stood = stood.remove(&p.number).unwrap_or_default();
            of.wrote = wrote::of(&lines, &of, p, &names);
            for s in &mut of.stood {
                names.at(&p.site.hash, &s.person).clone_into(&mut s.name);
            }
            of
        })
        .collect()
}

/// Who stood where, by permit: the job's own, and whoever a relief or another job named.
fn stood(input: &Input<'_>, names: &Names) -> BTreeMap<String, Vec<Stood>> {
    let mut out: BTreeMap<String, Vec<Stood>> = BTreeMap::new();
    for (place, l) in numbered(&input.verified.lines) {
        let Some(number) = l.permit.as_deref() else { continue };
        let job = matches!(l.kind.name, "open" | "job").then(|| l.data.get("job")).flatten();
        for role in ["attendant", "entry_watch"] {
            let relieved = l.kind.name == "relieve" && l.data.text("role") == Some(role);
            let to = if relieved { l.data.text("to") } else { job.and_then(|j| j.text(role)) };
            let Some(person) = to else { continue };
            let all = out.entry(number.to_owned()).or_default();
            let here = At::new(place, &l.time, &l.zone);
            if let Some(before) = all.iter_mut().rfind(|s| s.role == role) {
                if before.person == person {
                    continue;
                }
                before.to = Some(here.clone());
            }
            all.push(Stood {
                role,
                person: person.to_owned(),
                name: names.name(person).unwrap_or_default().to_owned(),
                from: here,
                to: None,
            });
        }
    }
    out
}

/// The flags that a supervisor was shown, or would be: with the texts of the permit, in the order of the lines.
fn flagged(known: &Known<'_>, p: &Permit, texts: &Texts) -> Vec<(String, At)> {
    let bench = known.bench(p, texts);
    let of = |line| p.answers.iter().map(|a| &a.stamp).find(|s| s.line == line).map(at);
    flags::of(&bench).into_iter().filter_map(|f| Some((f.whole, of(f.line)?))).collect()
}

/// The way out of the job in whole seconds, rounded down: what took longer took longer.
fn way_out(texts: &Texts) -> Option<i64> {
    texts.job.quantity("way_out")?.value.floor().to_integer().to_i64()
}

fn one(input: &Input<'_>, known: &Known<'_>, p: &Permit, (tally, names): (&Tally, &Names)) -> PermitFacts {
    let name = |id: &str| names.at(&p.site.hash, id).to_owned();
    let named = |id: &str| Some(name(id)).filter(|n| n != id).unwrap_or_default();
    let site = known.chain.by_hash.get(&p.site.hash).and_then(|t| file("site", t).ok());
    let language = site.as_ref().and_then(|s| s.text("language")).unwrap_or("en").to_owned();
    let mut people: Vec<(String, String)> = [(say!("holder"), "holder")]
        .into_iter()
        .filter_map(|(label, field)| Some((label.to_owned(), name(p.job.text(field)?))))
        .collect();
    for (label, list) in [(say!("wearers"), "wearers"), (say!("rescuers"), "rescuers")] {
        if let Some(Json::Arr(items)) = p.job.get(list) {
            let all: Vec<String> = items.iter().filter_map(|w| w.text("person")).map(name).collect();
            people.push((label.to_owned(), all.join(", ")));
        }
    }
    let issued = p.signed.iter().find(|s| s.kind == "countersign");
    let stamps = p.signed.iter().map(|s| &s.stamp).chain(p.answers.iter().map(|a| &a.stamp));
    let stamps = stamps.chain(p.day.iter().map(|h| &h.stamp)).chain([&p.opened]);
    let last = stamps.max_by_key(|s| s.seq).unwrap_or(&p.opened);
    let own = |a: &&crate::permit::state::Answer| a.carry.is_none();
    let late = |a: &&crate::permit::state::Answer| {
        a.at.as_deref()
            .is_some_and(|at| seconds(&a.stamp.time) - seconds(at) > crate::permit::bench::LATE_AFTER)
    };
    let holds: Vec<_> = input.replayed.holds.iter().filter(|h| h.permit == p.number).collect();
    let from_to = at(&p.opened).place()..=at(last).place();
    let of_set = |a: &&Alarm| a.set == p.set.id && from_to.contains(&a.at.place());
    let mut alarms: Vec<Alarm> = tally.alarms.iter().filter(of_set).cloned().collect();
    for o in alarms.iter_mut().flat_map(|a| a.out.iter_mut().chain(&mut a.beside)) {
        o.name = named(&o.person);
    }
    let mut spells: Vec<Spell> =
        tally.spells.iter().filter(|s| s.permit.as_deref() == Some(&p.number)).cloned().collect();
    for s in &mut spells {
        s.name = named(&s.person);
    }
    let these = known.texts_of(p);
    let rules = say!("it was opened under rules {rules}, which are not known here", rules = p.rules);
    let unread = (p.rules != RULES).then_some(rules).or_else(|| these.as_ref().err().cloned());
    let texts = these.ok();
    let readings: Vec<Read> = p.day.iter().filter(|h| h.kind == "reading").map(read).collect();
    let mut inquiry = inquiry::of(p, texts.as_deref(), &name);
    inquiry.extend(inquiry::reserve(&alarms, &readings));
    let of_site = |field: &str| site.as_ref().and_then(|s| s.get(field)).and_then(|h| h.shown("en"));
    PermitFacts {
        number: p.number.clone(),
        set: p.set.id.clone(),
        place: p.job.text("place").unwrap_or_default().to_owned(),
        job: words(&p.job, "what", &language),
        for_shutdown: p.for_shutdown,
        state: known.life(p).english(),
        opened: at(&p.opened),
        issued: issued.map(|s| at(&s.stamp)),
        valid_to: p.valid_to.as_ref().map(|v| for_people(v, &p.opened.zone)),
        last: at(last),
        people,
        stood: Vec::new(),
        flags: texts.as_ref().map(|t| flagged(known, p, t)).unwrap_or_default(),
        way_out: texts.as_ref().and_then(|t| way_out(t)),
        answers: p.answers.iter().filter(own).count(),
        answer_lines: {
            let mut all: Vec<At> = p.answers.iter().filter(own).map(|a| at(&a.stamp)).collect();
            all.sort_by_key(At::place);
            all.into_iter().collect()
        },
        late: p.answers.iter().filter(own).filter(late).map(|a| (a.key(), at(&a.stamp))).collect(),
        holds: holds.len(),
        holds_open: holds.iter().filter(|h| h.cleared.is_none()).count(),
        carried: p.answers.iter().filter_map(carried).collect(),
        left: left(p),
        unread,
        tested: issued.and_then(|s| tested::of(input, known, p, &s.stamp, site.as_deref())),
        lost: lost(known, p),
        sought: sought::of(p, &tally.clocks, &named),
        inquiry,
        wrote: Vec::new(),
        alarms,
        denied: p.day.iter().filter(|h| h.kind == "denied").map(|h| denied(input, h)).collect(),
        breaches: p
            .day
            .iter()
            .filter(|h| h.data.has("breach"))
            .map(|h| (h.data.texts("breach").join("; "), at(&h.stamp)))
            .collect(),
        readings,
        spells,
        states: states(input, p, known.life(p)),
        signed: p.signed.iter().map(|s| sign_off(s, name(&s.stamp.by))).collect(),
        hanging: hanging(known, p),
        co_most: of_site("limits.co_most"),
        co_alarm: of_site("co_alarm"),
    }
}

fn carried(a: &crate::permit::state::Answer) -> Option<Carried> {
    let carry = a.carry.as_ref()?;
    let age = seconds(&carry.stamp.time) - seconds(&a.stamp.time);
    Some(Carried {
        step: a.key(),
        from: carry.from.clone(),
        given: at(&a.stamp),
        carried: at(&carry.stamp),
        hours: (age + 3599).div_euclid(3600),
    })
}

fn lost(known: &Known<'_>, p: &Permit) -> Vec<(String, At)> {
    let called = crew::missing(p).map(|(call, _)| at(&call.stamp));
    let missing = crew::missing_in_words(known, p).zip(called);
    let unseen = crew::unseen(known, p);
    let unseen = (!unseen.is_empty())
        .then(|| crew::unseen_in_words(known, p).join("; "))
        .zip(unseen.first().map(|(_, stamp)| at(stamp)));
    missing.into_iter().chain(unseen).collect()
}

fn left(p: &Permit) -> Vec<(String, At)> {
    let out = p.answers.iter().filter_map(|a| match (&a.left_out, &a.deviation) {
        (Some(why), _) => Some((say!("{step} out of service: {why}", step = a.key(), why), at(&a.stamp))),
        (None, Some(d)) => Some((
            say!(
                "{step} left so: {reason}; instead: {instead}",
                step = a.key(),
                reason = d.reason,
                instead = d.instead
            ),
            at(&d.stamp),
        )),
        (None, None) => None,
    });
    out.collect()
}

/// The last day that a test is good for at a site.
pub(super) fn due(day: Date, site: &crate::site::Values) -> Option<Date> {
    let (months, days) = site.span("air_test_months")?;
    crate::units::moved(day, months, days, false)
}

fn denied(input: &Input<'_>, h: &crate::permit::state::Happened) -> Denied {
    Denied {
        request: h.data.text("request").unwrap_or_default().to_owned(),
        why: h.data.texts("why").into_iter().map(str::to_owned).collect(),
        at: at(&h.stamp),
        judged: !input.replayed.unjudged.contains(&h.stamp.line),
    }
}

fn read(h: &crate::permit::state::Happened) -> Read {
    let text = |name: &str| h.data.text(name).unwrap_or_default().to_owned();
    Read {
        what: text("what"),
        item: text("item"),
        value: text("value"),
        unit: text("unit"),
        at: at(&h.stamp),
    }
}

fn hanging(known: &Known<'_>, p: &Permit) -> Vec<String> {
    copies::stale(known, p).iter().map(|c| c.words().trim_start_matches("take down ").to_owned()).collect()
}

/// The states as the lines changed them: the fold once more, over this permit's lines and those of its set.
fn states(input: &Input<'_>, p: &Permit, now: StateWord) -> Vec<Change> {
    let opened = at(&p.opened).place();
    let draft = StateWord::Draft.english();
    let mut out = vec![Change { utc: p.opened.time.to_string(), state: draft, place: opened }];
    out.extend(input.replayed.states.iter().filter(|(number, _, _)| *number == p.number).map(
        |(_, (line, utc), state)| Change {
            utc: utc.clone(),
            state: state.english(),
            place: (line.volume, line.line),
        },
    ));
    if now == StateWord::Lapsed
        && let Some(v) = &p.valid_to
    {
        out.push(Change { utc: v.clone(), state: now.english(), place: (u32::MAX, u64::MAX) });
    }
    out
}

fn sign_off(s: &crate::permit::state::Signed, name: String) -> SignOff {
    let data = &s.data;
    let part = data.text("part").map(|p| format!(", {p}")).unwrap_or_default();
    let mut notes = Vec::new();
    if let Some(Json::Arr(seen)) = data.get("seen") {
        notes.push(say_n!(
            seen.len(),
            "{n} reading read again at the gauge",
            "{n} readings read again at the gauge"
        ));
    }
    notes.extend(data.text("not_seen").map(|w| say!("read nothing again: {words}", words = w)));
    if let Some(l) = data.get("limits") {
        let bits = [
            l.text("until").map(|u| say!("until {time}", time = u)),
            l.int("wearers").map(|n| say!("at most {on} on air", on = n)),
            l.text("words").map(str::to_owned),
        ];
        notes.push(say!(
            "narrowed: {words}",
            words = bits.into_iter().flatten().collect::<Vec<_>>().join(", ")
        ));
    }
    notes.extend(data.text("reason").map(|r| say!("reason: {words}", words = r)));
    notes.extend(data.text("cause").map(|c| say!("cause: {words}", words = c)));
    SignOff {
        kind: format!("{}{part}", s.kind.replace('_', " ")),
        by: s.stamp.by.to_string(),
        name,
        role: s.role.to_owned(),
        key: s.key.clone(),
        machine: data.text("where").unwrap_or_default().to_owned(),
        signed: s.time.clone(),
        signed_site: for_people(&s.time, &s.stamp.zone),
        kept_after: seconds(&s.stamp.time) - seconds(&s.time),
        at: at(&s.stamp),
        hash: s.stamp.hash.to_string(),
        notes,
    }
}
