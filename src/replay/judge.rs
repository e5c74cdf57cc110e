//! One line judged on what stood before it.
//!
//! In: what was known before the line, at the line's own time. Out: what the rules say otherwise. Every kind of line
//! is named here: a new one makes the compiler's place (`kinds`) and this list learn it together (`tests/replay.rs`).

use super::recalled::Recalled;
use super::{Class, Found, Replayed, Why, against, between, compare, denied, entry, hold, late};
use crate::checklist::{StepKind, missing_subjects};
use crate::finding::any_error;
use crate::permit::bench::{Texts, checklist, raw_of};
use crate::permit::copies;
use crate::permit::decide::air::{self, Move, Told};
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::open::{self, Opening};
use crate::permit::decide::take_in::as_prepared;
use crate::permit::decide::{Known, Refusal, carry, crew, sign, witness};
use crate::permit::state::Permit;
use crate::permit::watch;
use crate::record::chain::{RULES, TextInForce};
use crate::record::json::Json;
use crate::record::line::{Draft, Line};
use crate::site::Raw;
use crate::time::Moment;
use crate::tongue::{Tongue, say, say_n};
use crate::view::StateWord;
use jiff::tz::TimeZone;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// What is kept from line to line.
pub struct Judge {
    pub(super) recalled: Rc<Recalled>,
    zone: Option<TimeZone>,
    /// The site's offset, and from which second until before which it holds.
    offset: Option<(std::ops::Range<i64>, String)>,
    /// Holds that are not cleared, by permit, form, step and item: their place among all.
    open_holds: hold::Open,
    between: BTreeMap<String, between::Left>,
    /// What was told once: permit, gauge or spell, and when it was due.
    told: BTreeSet<(String, &'static str, i64)>,
    /// Refusals of which the record does not keep what was typed.
    pub refusals_not_judged: u64,
    /// The language of the last line that said anything, and whether it was asked for.
    tongue: (Tongue, bool),
    /// The reader's.
    reader: (Tongue, bool),
}

fn contradicts(rule: &'static str, why: Vec<Why>) -> Vec<Found> {
    if why.is_empty() { Vec::new() } else { vec![Found::new(Class::Contradicts, rule, why)] }
}

/// What a decision says of a line: it would have been refused, or it would read otherwise.
fn decided(line: &Line, decision: Result<Draft, Refusal>) -> Vec<Found> {
    match decision {
        Ok(draft) => contradicts("differs", compare::line(line, &draft)),
        Err(refusal) => contradicts("refused", Why::all(refusal.why)),
    }
}

/// Why nothing that rests on the texts of a permit can be judged here, where the volumes that they stand in are missing.
fn texts_missing(known: &Known<'_>, permit: &Permit) -> Option<String> {
    if known.state.missing { known.texts_of(permit).err() } else { None }
}

/// Whom a roll call says nothing of. Somebody who went on air while it was called need not be among them.
fn unasked(known: &Known<'_>, permit: Option<&Permit>, line: &Line) -> Option<Found> {
    let data = &line.data;
    let told = [data.texts("found"), data.texts("missing")].concat();
    let set = data.text("set").filter(|_| permit.is_none());
    let late = |id: &str| {
        let on = known.state.on_air.iter().find(|p| p.person == id);
        on.is_some_and(|p| known.now.seconds() - crate::time::seconds(&p.since.time) < 120)
    };
    let left: Vec<String> = crew::everyone(known, permit, set)
        .into_iter()
        .filter(|id| !told.contains(&id.as_str()) && !late(id))
        .map(|id| crew::who(known, &id))
        .collect();
    (!left.is_empty()).then(|| {
        let names = left.join(", ");
        let why = Why::said(move || say!("the roll call says nothing of: {names}", names));
        Found::new(Class::Gap, "not_called", vec![why])
    })
}

/// What is measured out of its limits suspends what is live on that air, in one go with its entry: later by the lines of the
/// set or later by more than this, seconds, others went on breathing it.
const AT_ONCE: i64 = 60;
/// So many lines are looked through for what should have followed at once.
const FOLLOWS: usize = 400;

/// In words, that people were on an air that is out of its limits, and that nobody told of calling them out or of what
/// happened before the last of them was off it; `None` where somebody did, or nobody was on it.
fn not_called_out(known: &Known<'_>, set: &str, rest: &[Line]) -> Option<String> {
    let mut on: BTreeSet<&str> =
        known.state.on_air.iter().filter(|p| p.set == set).map(|p| p.person.as_str()).collect();
    let many = on.len();
    let of_permit = |l: &Line| {
        l.permit.as_ref().and_then(|n| known.state.permits.get(n)).is_some_and(|p| p.set.id == set)
    };
    for l in rest.iter().take(FOLLOWS) {
        if on.is_empty() {
            break;
        }
        match l.kind.name {
            "call_out" | "event" if l.data.text("set") == Some(set) || of_permit(l) => return None,
            "off_air" => on.retain(|p| l.data.text("person") != Some(p)),
            _ => {}
        }
    }
    (many > 0).then(|| {
        say_n!(
            many,
            "{n} was on this air, and no call-out is told",
            "{n} were on this air, and no call-out is told"
        )
    })
}

/// In words, that nothing stopped the work on a set's air at once after a line; `None` if it did.
fn stopped_late(known: &Known<'_>, set: &str, line: &Line, rest: &[Line]) -> Option<String> {
    let of_permit = |l: &Line| {
        l.permit.as_ref().and_then(|n| known.state.permits.get(n)).is_some_and(|p| p.set.id == set)
    };
    let of_set = |l: &&Line| l.data.text("set") == Some(set) || of_permit(l);
    let stops = |l: &Line| matches!(l.kind.name, "suspend" | "call_out" | "event");
    let mut those = rest.iter().take(FOLLOWS).filter(of_set).peekable();
    let next = those.peek().copied().is_some_and(stops);
    let Some(stop) = those.find(|l| stops(l)) else {
        return Some(say!("the work on this air was live, and no suspension follows at once").into());
    };
    let after = crate::time::seconds(&stop.time) - crate::time::seconds(&line.time);
    if next && after <= AT_ONCE {
        return None;
    }
    let time = crate::time::clock(&stop.time, &stop.zone);
    Some(say!(
        "the work on this air was live, and what stops it follows only at {time}, {seconds} s later (line {line})",
        time,
        seconds = after,
        line = known.state.at(stop)
    ))
}

fn told(data: &Json) -> Told {
    let text = |name: &str| data.text(name).map(str::to_owned);
    Told { at: text("at"), by: text("told_by") }
}

impl Judge {
    pub(super) fn new() -> Judge {
        Judge {
            recalled: Rc::default(),
            zone: None,
            offset: None,
            open_holds: hold::Open::default(),
            between: BTreeMap::new(),
            told: BTreeSet::new(),
            refusals_not_judged: 0,
            tongue: (Tongue::English, false),
            reader: (Tongue::now(), Tongue::asked().is_some()),
        }
    }

    /// The line, before it is taken in; with the lines before and after it.
    pub(super) fn line(
        &mut self,
        known: &Known<'_>,
        (before, rest): (&[Line], &[Line]),
        line: &Line,
    ) -> Vec<Found> {
        let recalled = Rc::clone(&self.recalled);
        let known = &Known { recall: Some(&*recalled), ..*known };
        let permit = line.permit.as_ref().and_then(|n| known.state.permits.get(n));
        let overdue = permit.map(|p| self.overdue(known, p, line, rest)).unwrap_or_default();
        let mut found = self.in_its_language(&|judge| judge.judged(known, (before, rest), line));
        found.extend(overdue);
        found
    }

    /// The line is going to be taken in: what was worked out before it may not hold any more.
    pub(super) fn came(&mut self, known: &Known<'_>, line: &Line) {
        let permit = line.permit.as_ref().and_then(|n| known.state.permits.get(n));
        let opens = line.data.get("set").and_then(|s| s.text("id"));
        let set = permit.map(|p| p.set.id.as_str()).or(line.data.text("set")).or(opens);
        // A text is of every permit; only lines of one set leave the others alone.
        let set = set.filter(|_| !matches!(line.kind.name, "set" | "site" | "form"));
        self.recalled.walked.borrow_mut().came(known, line, set);
    }

    /// A line is in the language that was asked for at the station then, or in the site's; which it was, no line says. Where one
    /// language makes it as it stands, it is; what stands otherwise in all of them is told in English, or to a reader of
    /// another language in theirs, where that does not come farther from the line than another one.
    fn in_its_language(&mut self, judged: &dyn Fn(&mut Judge) -> Vec<Found>) -> Vec<Found> {
        let contradicts = |found: &[Found]| found.iter().any(|f| f.class == Class::Contradicts);
        let within = |judge: &mut Judge, (tongue, asked): (Tongue, bool)| {
            let work = || judged(judge);
            if asked { tongue.within_asked(work) } else { tongue.within(work) }
        };
        let last = self.tongue;
        let all = Tongue::ALL.into_iter().flat_map(|t| [(t, false), (t, true)]).filter(|t| *t != last);
        for tongue in [last].into_iter().chain(all) {
            let found = within(self, tongue);
            if !contradicts(&found) {
                self.tongue = tongue;
                return found;
            }
        }
        if self.reader.0 == Tongue::English {
            return within(self, (Tongue::English, false));
        }
        let far = |found: &[Found]| found.iter().map(|f| f.why.len()).sum::<usize>();
        let mut nearest = within(self, self.reader);
        if nearest.iter().all(|f| f.rule == "refused") {
            return nearest;
        }
        for tongue in Tongue::ALL.into_iter().flat_map(|t| [(t, false), (t, true)]) {
            let found = within(self, tongue);
            if far(&found) < far(&nearest) {
                nearest = found;
            }
        }
        nearest
    }

    fn judged(&mut self, known: &Known<'_>, (before, rest): (&[Line], &[Line]), line: &Line) -> Vec<Found> {
        let mut out = self.offset(line);
        let permit = line.permit.as_ref().and_then(|n| known.state.permits.get(n));
        if let Some(p) = permit.filter(|p| p.rules != RULES) {
            let first = line.pprev.as_deref() == Some(p.opened.hash.as_str());
            let (permit, rules) = (p.number.clone(), p.rules);
            let why = Why::said(move || {
                say!(
                    "{permit} was opened under rules {rules}, which are not known here: none of its lines is judged",
                    permit,
                    rules
                )
            });
            return if first { vec![Found::new(Class::NotJudged, "rules", vec![why])] } else { Vec::new() };
        }
        // Of a permit that was opened where nothing is kept any more.
        if line.permit.is_some() && permit.is_none() && line.kind.name != "open" {
            return Vec::new();
        }
        out.extend(entry::judged(known, permit, line));
        let data = &line.data;
        if let Some((p, why)) = permit.and_then(|p| Some((p, texts_missing(known, p)?))) {
            // Once, behind its opening.
            if line.pprev.as_deref() == Some(p.opened.hash.as_str()) {
                let permit = p.number.clone();
                let why = Why::said(move || {
                    say!(
                        "none of the lines of {permit} is judged: {why}, and volumes before are missing",
                        permit,
                        why
                    )
                });
                out.push(Found::new(Class::NotJudged, "unknown", vec![why]));
            }
            return out;
        }
        out.extend(match (line.kind.name, permit) {
            ("open", _) => Self::opened(known, line),
            ("answer", Some(p)) => self.answered(known, p, line),
            ("job", Some(p)) => self.job(known, p, line),
            ("carried", Some(p)) => self.carried(known, p, line),
            ("relieve", Some(p)) => Self::relieved(known, p, line),
            ("copy", Some(p)) => Self::copied(p, line),
            ("on_air" | "in" | "out" | "off_air", p) => tally(known, p, line),
            ("started" | "stopped" | "moved" | "plugged" | "filled" | "serviced" | "air_test", _) => {
                of_set(known, line, rest)
            }
            ("taken", _) => Self::comes(known, "taken", line),
            ("released", _) => Self::comes(known, "released", line),
            ("denied", p) => match denied::judge(known, p, data) {
                denied::Judged::Found(why) => contradicts("denial", why),
                denied::Judged::CannotBe => {
                    self.refusals_not_judged += 1;
                    Vec::new()
                }
                denied::Judged::NoRequest(why) => {
                    self.refusals_not_judged += 1;
                    vec![Found::new(Class::Gap, "no_request", vec![why])]
                }
            },
            ("clock", _) => Self::clock(known, line),
            ("recovery", _) => recovered(known, line),
            ("set" | "site", _) => match as_prepared(known, before, line) {
                Ok(()) => Vec::new(),
                Err(refusal) => contradicts("refused", Why::all(refusal.why)),
            },
            ("form", _) => self.form(known, before, line),
            (_, Some(_)) if line.act.is_some() => match as_prepared(known, before, line) {
                Ok(()) => Vec::new(),
                Err(refusal) => contradicts("refused", Why::all(refusal.why)),
            },
            // What has happened or was said: any of it stands. Roster and first line are the chain's.
            (_, _) => Vec::new(),
        });
        out
    }

    /// The line was taken in.
    pub(super) fn took(&mut self, known: &Known<'_>, line: &Line) {
        if matches!(line.kind.name, "set" | "site" | "form") {
            self.recalled.shelf.borrow_mut().epoch += 1;
            self.offset = None;
            self.zone =
                known.chain.texts.iter().find(|((k, _), _)| k == "site").and_then(|(_, t)| zone_of(t));
        }
    }

    /// What changed between two permits of a set untold, as the line shows.
    pub(super) fn between(&mut self, known: &Known<'_>, line: &Line) -> Vec<Found> {
        let recalled = Rc::clone(&self.recalled);
        let known = &Known { recall: Some(&*recalled), ..*known };
        between::after(&mut self.between, known, line)
    }

    /// What follows from the line once it is taken in, and what should.
    pub(super) fn after(
        &mut self,
        known: &Known<'_>,
        line: &Line,
        rest: &[Line],
        out: &mut Replayed,
    ) -> Vec<Found> {
        let recalled = Rc::clone(&self.recalled);
        let known = &Known { recall: Some(&*recalled), ..*known };
        let kind = line.kind.name;
        let permit = line.permit.as_ref().and_then(|n| known.state.permits.get(n));
        if let (Some(p), true) = (permit, matches!(kind, "answer" | "carried"))
            && let Ok(t) = known.texts_of(p)
        {
            self.open_holds.answered(known, p, &t, line, (&recalled.walked, out));
        }
        against::note(known, permit, line, out);
        let mut found = Vec::new();
        let set = permit.map(|p| p.set.id.as_str()).or(line.data.text("set"));
        // An answer on a live permit may say what stops the work too.
        let on_live = kind == "answer" && permit.is_some_and(|p| known.life(p) == StateWord::Live);
        let measured = matches!(kind, "reading" | "air_test" | "filled") || on_live;
        // Where its limits are missing nobody can say that anything had to stop.
        let limits_missing = |set: &str| {
            known.state.missing
                && known.state.not_ended(known.time()).any(|p| p.set.id == set && known.texts_of(p).is_err())
        };
        if let (Some(set), true) = (set, measured)
            && !limits_missing(set)
            && let Some(why) = watch::stops(known, set)
        {
            let words = stopped_late(known, set, line, rest);
            let on = not_called_out(known, set, rest);
            let called = on.map(|w| Found::new(Class::Gap, "not_called_out", Why::all(vec![why.clone(), w])));
            found.extend(words.map(|w| Found::new(Class::Gap, "not_stopped", Why::all(vec![why, w]))));
            found.extend(called);
        }
        if kind == "roll_call" {
            found.extend(unasked(known, permit, line));
        }
        found
    }

    /// What was overdue with people on a permit's air when a line came that ends it: a reading of it, or somebody's coming out.
    fn overdue(&mut self, known: &Known<'_>, permit: &Permit, line: &Line, rest: &[Line]) -> Vec<Found> {
        let kind = line.kind.name;
        if !matches!(kind, "reading" | "out" | "off_air") || known.state.tally_of_permit(&permit.number) == 0
        {
            return Vec::new();
        }
        let Ok(texts) = known.texts_of(permit) else { return Vec::new() };
        let mut found = Vec::new();
        let now = known.now.seconds();
        for d in crate::permit::due::due(known, permit, &texts) {
            let once = (permit.number.clone(), d.what, d.due);
            if now <= d.holds || self.told.contains(&once) {
                continue;
            }
            if let Some(words) = d.words(now, &known.now.zone) {
                self.told.insert(once);
                if let Some(late) = late::unread(known, permit, &d, line, rest) {
                    found.push(Found::new(Class::Gap, "read_late", vec![Why::As(late)]));
                    continue;
                }
                let on = say!("people were on air on {permit}", permit = permit.number);
                found.push(Found::new(Class::Gap, "unread", Why::all(vec![words, on])));
            }
        }
        let person = line.data.text("person").unwrap_or_default();
        let most = texts.job.quantity("longest_spell").filter(|_| kind == "off_air");
        let most = most.and_then(|m| i64::try_from(m.value.to_integer()).ok());
        let on = air::spell(known, &texts, person);
        if let Some(most) = most.filter(|most| on > *most) {
            let name = crew::who(known, person);
            let words = late::spell(line, &name, (on, most)).unwrap_or_else(|| {
                say!(
                    "{name} was on air for {minutes} min, the longest spell is {most} min",
                    name,
                    minutes = (on + 59) / 60,
                    most = most / 60
                )
            });
            found.push(Found::new(Class::Gap, "long_spell", Why::all(vec![words])));
        }
        found
    }

    /// The offset is that of the site's zone then. Before a site is in force nobody can say.
    fn offset(&mut self, line: &Line) -> Vec<Found> {
        let Some(zone) = self.zone.as_ref().filter(|_| line.kind.name != "enrol") else { return Vec::new() };
        let second = crate::time::seconds(&line.time);
        let known = self.offset.take_if(|(holds, _)| holds.contains(&second));
        let found = || (second..until(second, zone), Moment::new(second, zone).zone);
        let (_, wanted) = self.offset.insert(known.unwrap_or_else(found));
        if *wanted == line.zone {
            return Vec::new();
        }
        let wanted = wanted.clone();
        let got = line.zone.clone();
        let why = Why::said(move || say!("its offset is {got}, the site's was {wanted} then", got, wanted));
        contradicts("zone", vec![why])
    }

    fn opened(known: &Known<'_>, line: &Line) -> Vec<Found> {
        let data = &line.data;
        if data.int("rules") != Some(RULES) {
            let rules = data.int("rules").unwrap_or_default();
            let why = Why::said(move || {
                say!(
                    "it is opened under rules {rules}, which are not known here: none of its lines is judged",
                    rules
                )
            });
            return vec![Found::new(Class::NotJudged, "rules", vec![why])];
        }
        let id = |kind: &str| data.get(kind).and_then(|c| c.text("id")).unwrap_or_default().to_owned();
        // It stands in a volume that is missing: that is said once, behind the opening.
        let in_force = |kind: &&str| known.chain.texts.contains_key(&((*kind).to_owned(), id(kind)));
        if known.state.missing && !["form", "set", "site"].iter().all(in_force) {
            return Vec::new();
        }
        let asked = Opening {
            form: id("form"),
            set: id("set"),
            site: id("site"),
            for_shutdown: data.text("for") == Some("shutdown"),
            follows: data.text("follows").map(str::to_owned),
            job: job_of(data),
            by: line.by.clone().unwrap_or_default().to_string(),
        };
        decided(line, open::open(known, &asked))
    }

    fn texts(known: &Known<'_>, permit: &Permit) -> Result<Rc<Texts>, Vec<Found>> {
        known.texts_of(permit).map_err(|why| contradicts("refused", vec![Why::As(why)]))
    }

    fn answered(&mut self, known: &Known<'_>, permit: &Permit, line: &Line) -> Vec<Found> {
        let texts = match Self::texts(known, permit) {
            Ok(texts) => texts,
            Err(found) => return found,
        };
        let data = &line.data;
        let form = data.text("form").unwrap_or_default();
        let shutdown = form != permit.form.hash;
        let text = |name: &str| data.text(name).map(str::to_owned);
        let step = data.text("step").unwrap_or_default();
        let in_hand = if shutdown { texts.shutdown.as_ref() } else { Some(&texts.form) };
        let derived =
            in_hand.and_then(|f| f.step(step)).is_some_and(|(_, s)| matches!(s.kind(), StepKind::Derived(_)));
        let deviation = data.get("deviation");
        let typed = Typed {
            step: step.to_owned(),
            item: text("item"),
            value: if derived { None } else { text("value") },
            below: data.has("below"),
            left_out: text("left_out"),
            again: text("again"),
            deviation: deviation
                .and_then(|d| Some((d.text("reason")?.to_owned(), d.text("instead")?.to_owned()))),
            words: text("words"),
            shutdown,
            by: line.by.clone().unwrap_or_default().to_string(),
            at: text("at"),
            told_by: text("told_by"),
        };
        let bench = match answer::bench(known, permit, &texts, shutdown) {
            Ok(bench) => bench,
            Err(refusal) => return contradicts("refused", Why::all(refusal.why)),
        };
        let before = || self.recalled.walked.borrow_mut().before(&bench, &texts, step);
        decided(line, answer::answer_among(known, &bench, &typed, &before))
    }

    fn job(&mut self, known: &Known<'_>, permit: &Permit, line: &Line) -> Vec<Found> {
        match Self::texts(known, permit) {
            Ok(texts) => decided(line, open::job(known, permit, &texts, &job_of(&line.data), "")),
            Err(found) => found,
        }
    }

    fn carried(&mut self, known: &Known<'_>, permit: &Permit, line: &Line) -> Vec<Found> {
        let texts = match Self::texts(known, permit) {
            Ok(texts) => texts,
            Err(found) => return found,
        };
        let all = carry::candidates(known, permit, &texts);
        let good: Vec<&str> =
            all.iter().flat_map(|c| c.answers.iter().map(|a| a.stamp.hash.as_str())).collect();
        let not = line.data.texts("answers").into_iter().filter(|h| !good.contains(h));
        let why: Vec<Why> = not
            .map(|h| {
                let hash = h.to_owned();
                Why::said(move || {
                    say!(
                        "the answer {hash} does not hold any more, or not here: it could not be carried",
                        hash
                    )
                })
            })
            .collect();
        contradicts("refused", why)
    }

    fn relieved(known: &Known<'_>, permit: &Permit, line: &Line) -> Vec<Found> {
        let data = &line.data;
        let (role, to) = (data.text("role").unwrap_or_default(), data.text("to").unwrap_or_default());
        let reported = data.has("breach");
        let decision = crew::relieve(known, permit, role, to, reported, &told(data), "");
        let mut out = decided(line, decision);
        if reported && out.is_empty() {
            out = forbidden(data);
        }
        out
    }

    /// Prints are numbered one after another, and only what hangs is taken down.
    fn copied(permit: &Permit, line: &Line) -> Vec<Found> {
        let number = line.data.int("number").unwrap_or_default();
        let next = copies::next(permit);
        let why = match (line.data.has("taken_down"), copies::hung(permit, number)) {
            (true, None) => Why::said(move || say!("copy {number} is taken down, which never hung", number)),
            (false, _) if number != next => {
                Why::said(move || say!("it is copy {number}, the next one was {next}", number, next))
            }
            (_, _) => return Vec::new(),
        };
        contradicts("differs", vec![why])
    }

    fn comes(known: &Known<'_>, kind: &'static str, line: &Line) -> Vec<Found> {
        let data = &line.data;
        let set = data.text("set").unwrap_or_default();
        let mut decision = witness::comes(known, kind, set, data.text("words"), &told(data), "");
        if let (Ok(Draft { what: crate::record::line::What::Data(ours), .. }), Some(date)) =
            (&mut decision, data.text("date"))
        {
            *ours = ours.clone().with("date", date);
        }
        decided(line, decision)
    }

    fn clock(known: &Known<'_>, line: &Line) -> Vec<Found> {
        let Some(act) = &line.act else { return Vec::new() };
        let own = line.data.text("where") == Some("own");
        let hand = sign::Hand { by: &act.by, own, shown: Some(&act.shown) };
        // The words name the signer's own time.
        let signed_at = Moment { time: act.time.clone(), zone: line.zone.to_string() };
        let at = known.at(if own { known.now } else { &signed_at });
        match sign::clock(&at, &hand, line.data.text("reason").unwrap_or_default()) {
            Ok(ours) => contradicts("differs", compare::members(&line.data, &ours.data)),
            Err(refusal) => contradicts("refused", Why::all(refusal.why)),
        }
    }

    fn form(&mut self, known: &Known<'_>, before: &[Line], line: &Line) -> Vec<Found> {
        if let Err(refusal) = as_prepared(known, before, line) {
            return contradicts("refused", Why::all(refusal.why));
        }
        let (id, text) =
            (line.data.text("form").unwrap_or_default(), line.data.text("text").unwrap_or_default());
        let Ok(form) = checklist(id, text) else { return Vec::new() };
        let missing = missing_subjects(id, &form);
        if !any_error(&missing) {
            return Vec::new();
        }
        let of = Rc::new((id.to_owned(), form));
        let why = (0..missing.len()).map(|i| {
            let of = Rc::clone(&of);
            Why::said(move || {
                missing_subjects(&of.0, &of.1).into_iter().nth(i).map_or_else(String::new, |f| f.message)
            })
        });
        let why = why.collect();
        vec![Found::new(Class::Forbidden, "form", why)]
    }
}

/// The second at which a zone's offset changes next.
fn until(second: i64, zone: &TimeZone) -> i64 {
    let next = jiff::Timestamp::from_second(second).ok().and_then(|t| zone.following(t).next());
    next.map_or(i64::MAX, |t| t.timestamp().as_second())
}

fn zone_of(text: &TextInForce) -> Option<TimeZone> {
    let site = crate::permit::bench::file("site", &text.text).ok()?;
    TimeZone::get(site.text("zone")?).ok()
}

fn job_of(data: &Json) -> Vec<(String, Raw)> {
    match data.get("job").map(raw_of) {
        Some(Raw::Map(members)) => members,
        Some(Raw::Text(_) | Raw::Bool(_) | Raw::Int(_) | Raw::List(_)) | None => Vec::new(),
    }
}

/// A report of what the rules forbid, in its own words; they were worked out again and are the same.
fn forbidden(data: &Json) -> Vec<Found> {
    let why = data.texts("breach").into_iter().map(|w| Why::As(w.to_owned())).collect();
    vec![Found::new(Class::Forbidden, "forbidden", why)]
}

/// What is said of a line that breaks a rule and does not say so.
fn unsaid() -> Why {
    Why::said(|| say!("asked for, it would have been refused; told, it would say what it breaks").into())
}

/// The breach that stands in a line beside the one that the rules say.
fn breach(stands: &[&str], again: &[String]) -> Vec<Why> {
    let stands = compare::judgeable(stands.iter().copied());
    let again = compare::judgeable(again.iter().take(64).map(String::as_str));
    compare::reasons(&stands, &again)
}

/// Somebody goes on air, in, out or off: asked for, or told.
fn tally(known: &Known<'_>, permit: Option<&Permit>, line: &Line) -> Vec<Found> {
    let to = match line.kind.name {
        "on_air" => Move::OnAir,
        "in" => Move::In,
        "out" => Move::Out,
        _ => Move::OffAir,
    };
    let data = &line.data;
    let person = data.text("person").unwrap_or_default();
    let stands = data.texts("breach");
    let again = air::breach(known, permit, person, to);
    let again = match permit {
        Some(p) => compare::since_held(known, p, &stands, again),
        None => again,
    };
    let why = breach(&stands, &again);
    if !why.is_empty() {
        let asked = stands.is_empty() && !data.has("at");
        let head = if asked {
            unsaid()
        } else {
            Why::said(|| say!("what it says that it breaks is not what the rules say").into())
        };
        return contradicts("breach", [head].into_iter().chain(why).collect());
    }
    let set = permit.map_or_else(|| data.text("set").unwrap_or_default(), |p| p.set.id.as_str());
    let draft = air::report(known, permit, set, person, to, Vec::new(), &Told::default(), "");
    let strip = |d: Json| d.without("breach").without("at").without("told_by");
    let ours = match draft.what {
        crate::record::line::What::Data(d) => strip(d),
        crate::record::line::What::Act { .. } => return Vec::new(),
    };
    let differs = compare::members(&strip(data.clone()), &ours);
    let mut out = contradicts("differs", differs);
    if !stands.is_empty() && out.is_empty() {
        out = forbidden(data);
    }
    out
}

/// What happened to a set: asked for, or told.
fn of_set(known: &Known<'_>, line: &Line, rest: &[Line]) -> Vec<Found> {
    let data = &line.data;
    let set = data.text("set").unwrap_or_default();
    if !known.has_set(set) {
        let set = set.to_owned();
        return contradicts("refused", vec![Why::said(move || say!("no set `{set}` is in force here", set))]);
    }
    let kind = line.kind.name;
    let ordered = data
        .text("target")
        .is_some_and(|t| known.state.sets.get(set).is_some_and(|s| s.events.values().any(|e| e.hash == t)));
    let again = match air::breach_of_set(known, kind, set, ordered) {
        Some((_, Json::Arr(all))) => all.iter().filter_map(Json::as_str).map(str::to_owned).collect(),
        Some((_, Json::Obj(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_))) | None => Vec::new(),
    };
    let stands = data.texts("breach");
    let why = breach(&stands, &again);
    if !why.is_empty() {
        return contradicts("breach", [unsaid()].into_iter().chain(why).collect());
    }
    let mut out = Vec::new();
    // Nobody forbids a machine to fail: that it stopped under people is an alarm, and what stopped it is asked.
    let by_itself = kind == "stopped" && failed(known, set, line, rest);
    if !stands.is_empty() && !by_itself {
        out.extend(forbidden(data));
    }
    if let Some(theirs) = data.get("witness").and_then(|w| w.text("hash")) {
        let hash = theirs.to_owned();
        let why = Why::said(move || {
            say!("the test was brought from another register, its line {hash}: that register shows it", hash)
        });
        out.push(Found::new(Class::NotJudged, "elsewhere", vec![why]));
    }
    out
}

/// Whether a set that stopped with people on its air is told to have failed them: the loss of its supply stands as an event
/// within a minute of it, before or after.
fn failed(known: &Known<'_>, set: &str, line: &Line, rest: &[Line]) -> bool {
    let of_permit = |l: &Line| {
        l.permit.as_ref().and_then(|n| known.state.permits.get(n)).is_some_and(|p| p.set.id == set)
    };
    let second = |l: &Line| crate::time::seconds(&l.time);
    let near = |l: &&Line| (second(l) - second(line)).abs() <= AT_ONCE;
    let lost = |l: &Line| {
        l.kind.name == "event"
            && l.data.text("what") == Some("supply_low")
            && (l.data.text("set") == Some(set) || of_permit(l))
    };
    let told_before = known.state.sets.get(set).and_then(|s| s.events.get("supply_low"));
    known.state.tally_of_set(set) > 0
        && (told_before.is_some_and(|e| second(line) - crate::time::seconds(&e.time) <= AT_ONCE)
            || rest.iter().take(FOLLOWS).take_while(near).any(lost))
}

/// Reports that were written aside: each on what the ones before it say.
fn recovered(known: &Known<'_>, line: &Line) -> Vec<Found> {
    let mut state = known.state.clone();
    let mut out = Vec::new();
    for entry in crate::record::aside::entered(&line.data) {
        let now = Known::new(known.chain, &state, known.now);
        let permit = entry.permit.as_ref().and_then(|n| state.permits.get(n));
        if matches!(entry.kind.as_str(), "on_air" | "in") {
            let bare = entry.data.clone().without("breach");
            let ours = air::with_breach(&now, permit, &entry.kind, bare);
            let again: Vec<String> = ours.texts("breach").into_iter().map(str::to_owned).collect();
            let why = breach(&entry.data.texts("breach"), &again);
            if why.is_empty() && !again.is_empty() {
                out.extend(forbidden(&entry.data));
            }
            out.extend(contradicts("breach", why));
        }
        if state.take_entry(line, &entry).is_err() {
            break;
        }
    }
    out
}
