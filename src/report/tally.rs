//! People on air by the lines: spells, and how long after an alarm the last of those inside was out.
//!
//! Always: how long it took is counted from the earlier of what was told and what was entered of the alarm to the later of
//! the two of whoever was out, so that no told time makes it shorter; the times told stand beside it. Somebody not
//! reported out is not out. Reports written aside and entered later are taken as the lines they are. Not here: whether
//! they were allowed (`replay`).

use super::At;
use super::clocks::Clocks;
use crate::audit::numbered;
use crate::record::aside::entered;
use crate::record::json::Json;
use crate::record::line::Line;
use crate::time::{for_people, seconds};
use crate::tongue::say;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeMap;

/// One time on air.
#[derive(Clone, Debug, Serialize)]
pub struct Spell {
    /// Person.
    pub person: String,
    /// Their name, where something tells it.
    pub name: String,
    /// Set.
    pub set: String,
    /// Permit, if on one.
    pub permit: Option<String>,
    /// Mask on; or where nobody told that, the line that told them out of the space.
    pub from: At,
    /// Nobody told that they went on air: since when they were on it is not known.
    pub never_on: bool,
    /// UTC, when that was told for another time than it was entered.
    pub told: Option<String>,
    /// Mask off; `None` while nobody told it.
    pub to: Option<At>,
    /// UTC, when that was told for another time than it was entered.
    pub told_off: Option<String>,
    /// UTC, first time in; and out the last time.
    pub inside: Vec<(String, Option<String>)>,
    /// A roll call that says otherwise than the line that told the mask off: they were missing at it.
    pub doubt: Option<At>,
    /// The lines that told each time out.
    #[serde(skip)]
    left: Vec<At>,
}

/// One who was inside at an alarm.
#[derive(Clone, Debug, Serialize)]
pub struct Out {
    /// Person.
    pub person: String,
    /// Their name, where something tells it.
    pub name: String,
    /// Seconds from the alarm until it was entered that they were out; `None` if nobody told it.
    pub seconds: Option<i64>,
    /// The same by the times that were told, where they are others.
    pub told: Option<i64>,
    /// The line that tells it.
    pub at: Option<At>,
    /// Seconds from the alarm until it was entered that the mask was off.
    pub off: Option<i64>,
    /// The same by the times that were told, where they are others.
    pub told_off: Option<i64>,
    /// The line that tells that the mask was off.
    pub at_off: Option<At>,
    /// Of one who was on air and not in: nobody told them in as long as they were on air, so that they may have been.
    pub never_in: bool,
    /// A roll call that says otherwise than the line that told them out: they were missing at it.
    pub doubt: Option<At>,
    /// Their spell.
    #[serde(skip)]
    spell: usize,
}

/// An alarm or a call, and everyone inside then.
#[derive(Clone, Debug, Serialize)]
pub struct Alarm {
    /// `co`, `drill`, ..., `call_out`, `suspended`, `stopped`.
    pub what: String,
    /// Of one that has no kind of its own, why; as it stands in the line.
    pub why: String,
    /// Line.
    pub at: At,
    /// UTC: when it was, as told.
    pub when: String,
    /// The same at the site.
    pub when_site: String,
    /// UTC: from when on it is counted, the earlier of told and entered.
    pub from: String,
    /// Seconds that the clocks were set back before it.
    #[serde(skip)]
    shift: i64,
    /// Set.
    pub set: String,
    /// Who was inside.
    pub out: Vec<Out>,
    /// How many were on air, outside.
    pub outside: usize,
    /// Who they were, and when their masks were off.
    pub beside: Vec<Out>,
    /// Seconds until the last of them was out, as it was entered; `None` if nobody was in, or one was never reported out.
    pub seconds: Option<i64>,
    /// The same by the times that were told, where they are others.
    pub told: Option<i64>,
    /// Seconds until the last of them had the mask off, as it was entered.
    pub off: Option<i64>,
    /// The same by the times that were told, where they are others.
    pub told_off: Option<i64>,
}

impl Out {
    /// Name, or id.
    pub fn called(&self) -> String {
        crate::text::safe_line(if self.name.is_empty() { &self.person } else { &self.name }).into_owned()
    }
}

/// Each alarm once, though several permits tell of it.
pub fn once<'a>(all: impl IntoIterator<Item = &'a Alarm>) -> Vec<&'a Alarm> {
    let mut out: Vec<&Alarm> = Vec::new();
    for a in all {
        if !out.iter().any(|o| o.at == a.at && o.set == a.set && o.what == a.what) {
            out.push(a);
        }
    }
    out
}

impl Alarm {
    /// Whether it is told for an earlier time than it was entered.
    pub fn told_earlier(&self) -> bool {
        self.when < self.at.utc
    }

    /// What it was, as people say it; of one that has no kind of its own, why.
    pub fn kind(&self) -> String {
        let what = super::said(&self.what);
        if self.why.is_empty() {
            what
        } else {
            format!("{what}: {}", crate::text::safe_line(&super::stored(&self.why)))
        }
    }

    /// Who was on air and never told in: whether they were inside is not known.
    pub fn perhaps_in(&self) -> impl Iterator<Item = &Out> {
        self.beside.iter().filter(|o| o.never_in)
    }

    /// Seconds until the last mask was off of those who were in, or may have been.
    pub fn last_off(&self) -> Option<i64> {
        self.perhaps_in().filter_map(|o| o.off).chain(self.off.or(self.seconds)).max()
    }

    /// The same by the times told.
    pub fn last_off_told(&self) -> Option<i64> {
        let told = self.told_off.or(self.off).or(self.told).or(self.seconds);
        self.perhaps_in().filter_map(|o| o.told_off.or(o.off)).chain(told).max()
    }
}

/// Those alarms that are told for an earlier time than they were entered: both times, since the earlier one counts.
pub fn earlier<'a>(alarms: impl IntoIterator<Item = &'a Alarm>) -> Option<String> {
    let of = |a: &Alarm| {
        let (told, entered, line) = (&a.when_site, &a.at.site, &a.at.line);
        say!(
            "line {line}, {what}: told for {told}, which counts, and entered at {entered}",
            line,
            what = a.kind(),
            told,
            entered
        )
    };
    let all: Vec<String> = alarms.into_iter().filter(|a| a.told_earlier()).map(of).collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// A line that takes somebody from where they were not, by the lines before it. The program keeps it: what happened is never
/// refused; another line may have been left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Odd {
    /// Out, and was not on air.
    OutNotOnAir,
    /// Out, and was not in.
    OutNotIn,
    /// Off air, and was not on air.
    OffNotOnAir,
    /// Off air, and was in.
    OffWhileIn,
    /// Off air at a time before they went on: they stand on the tally still.
    OffBeforeOn,
}

/// What the lines tell of people on air.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Clocks that were set back.
    pub clocks: Clocks,
    /// Spells, by their beginning.
    pub spells: Vec<Spell>,
    /// Alarms.
    pub alarms: Vec<Alarm>,
    /// Lines that do not fit where somebody was, and who.
    pub odd: Vec<(Odd, String, At)>,
    /// Lines of people at the very second of the line before, and how many seconds after it the next second of the
    /// register comes: a station whose clock stands behind its last line writes that line's time.
    pub stood: Vec<(At, i64)>,
    /// Who was told out or off by the first line, and missing at the roll call of the second.
    doubts: Vec<(String, At, At)>,
}

/// What roll calls say beside what is told of who came out.
#[derive(Default)]
struct Calls {
    /// Who is missing, at which roll call, and of which permit it was.
    missing: BTreeMap<String, (At, Option<String>)>,
    /// Who was told out or off, of which set, and no roll call found them since.
    gone: Vec<(String, String, At)>,
}

impl Calls {
    /// A roll call: whoever it misses was not seen out, and whoever it finds was.
    fn called(&mut self, t: &Told<'_>, doubts: &mut Vec<(String, At, At)>) {
        let (missing, found) = (t.data.texts("missing"), t.data.texts("found"));
        for person in &missing {
            let of = self.gone.iter().filter(|(who, ..)| who == person);
            doubts.extend(of.map(|(who, _, off)| (who.clone(), off.clone(), t.at.clone())));
            self.missing.insert((*person).to_owned(), (t.at.clone(), t.permit.map(str::to_owned)));
        }
        // It asks for everyone, and names who was found where it names anybody.
        let finds = |who: &str, set: &str| {
            !missing.contains(&who) && if found.is_empty() { set == t.set } else { found.contains(&who) }
        };
        self.gone.retain(|(who, set, _)| !missing.contains(&who.as_str()) && !finds(who, set));
        self.missing.retain(|who, (_, permit)| {
            missing.contains(&who.as_str())
                || !(found.contains(&who.as_str()) || found.is_empty() && permit.as_deref() == t.permit)
        });
    }

    /// Somebody went on air, in, out or off.
    fn moved(&mut self, t: &Told<'_>, doubts: &mut Vec<(String, At, At)>) {
        let person = t.data.text("person").unwrap_or_default();
        match t.kind {
            "out" | "off_air" => match self.missing.get(person) {
                Some((call, _)) => doubts.push((person.to_owned(), t.at.clone(), call.clone())),
                None => self.gone.push((person.to_owned(), t.set.to_owned(), t.at.clone())),
            },
            "on_air" => {
                self.gone.retain(|(who, ..)| who != person);
                // Another day's work: they were there to begin it.
                if self.missing.get(person).is_some_and(|(_, permit)| permit.as_deref() != t.permit) {
                    self.missing.remove(person);
                }
            }
            _ => self.gone.retain(|(who, ..)| who != person),
        }
    }
}

/// So many seconds without another line before it is asked whether a clock stood. Common practice, no source.
const STOOD: i64 = 60;

/// Lines of people whose time says no more than that they came after the line before.
fn stood(lines: &[Line]) -> Vec<(At, i64)> {
    let all: Vec<_> = numbered(lines).collect();
    let mut out = Vec::new();
    // From the last on: the second after each.
    let mut next: Option<i64> = None;
    for (i, (place, l)) in all.iter().enumerate().rev() {
        let before = i.checked_sub(1).and_then(|i| all.get(i));
        let same = before.is_some_and(|(_, b)| b.time == l.time);
        let of_people = matches!(l.kind.name, "on_air" | "in" | "out" | "off_air" | "roll_call");
        let gap = next.map(|next| next - seconds(&l.time));
        if let Some(gap) = gap.filter(|gap| same && of_people && *gap > STOOD) {
            out.push((At::new(*place, &l.time, &l.zone), gap));
        }
        if !same {
            next = Some(seconds(&l.time));
        }
    }
    out.reverse();
    out
}

/// Who is on air now.
type On = BTreeMap<(String, String), Here>;

struct Here {
    /// Their spell.
    spell: usize,
    inside: bool,
    /// UTC, as told: the latest time at which they went on air or in.
    went_on: String,
}

struct Told<'a> {
    kind: &'a str,
    data: &'a Json,
    permit: Option<&'a str>,
    set: &'a str,
    when: String,
    entered: &'a str,
    zone: &'a str,
    at: At,
    /// What an alarm is called that is no event.
    what: Option<&'a str>,
    /// Seconds that the clocks were set back before it.
    shift: i64,
}

impl Told<'_> {
    /// Seconds since an alarm: as entered, and by the times told where they are others.
    fn since(&self, alarm: &Alarm) -> (i64, Option<i64>) {
        let late = seconds(&self.when).max(seconds(self.entered));
        let back = self.shift - alarm.shift;
        let worse = (late - seconds(&alarm.from) + back).max(0);
        let told = (seconds(&self.when) - seconds(&alarm.when) + back).max(0);
        (worse, (told != worse).then_some(told))
    }
}

/// Follows the lines.
pub fn of(lines: &[Line]) -> Tally {
    let mut sets: BTreeMap<String, String> = BTreeMap::new();
    let mut out = Tally { clocks: Clocks::of(lines), stood: stood(lines), ..Tally::default() };
    let mut on = On::new();
    let mut calls = Calls::default();
    for (place, l) in numbered(lines) {
        if let (Some(number), Some(set)) = (&l.permit, l.data.get("set").and_then(|s| s.text("id"))) {
            sets.insert(number.to_string(), set.to_owned());
        }
        // Times by a wrong clock are later than any that will be told.
        for here in on.values_mut().filter(|h| l.kind.name == "clock" && h.went_on.as_str() > l.time.as_str())
        {
            l.time.as_str().clone_into(&mut here.went_on);
        }
        one(&mut out, (&mut on, &mut calls), &sets, place, l, (l.kind.name, &l.data, l.permit.as_deref()));
        if l.kind.name == "recovery" {
            for e in entered(&l.data) {
                // Written aside it has a time of its own, which nothing seals.
                let data = if e.data.has("at") { e.data } else { e.data.with("at", e.at.as_str()) };
                let told = (&*e.kind, &data, e.permit.as_deref());
                one(&mut out, (&mut on, &mut calls), &sets, place, l, told);
            }
        }
    }
    let doubt = |person: &str, at: Option<&At>| {
        let of = |(who, off, _): &&(String, At, At)| who == person && Some(off) == at;
        out.doubts.iter().find(of).map(|(.., call)| call.clone())
    };
    for s in &mut out.spells {
        s.doubt = doubt(&s.person, s.to.as_ref());
    }
    for alarm in &mut out.alarms {
        for o in alarm.out.iter_mut().chain(&mut alarm.beside) {
            o.doubt = doubt(&o.person, o.at.as_ref());
        }
        let never_in =
            |spell: usize| out.spells.get(spell).is_some_and(|s| s.inside.is_empty() && !s.never_on);
        for o in &mut alarm.beside {
            o.never_in = never_in(o.spell);
        }
        let last = |of: &dyn Fn(&Out) -> Option<i64>| {
            let all: Option<Vec<i64>> = alarm.out.iter().map(of).collect();
            all.and_then(|all| all.into_iter().max())
        };
        let (seconds, off) = (last(&|o| o.seconds), last(&|o| o.off));
        let told = last(&|o| o.told.or(o.seconds)).filter(|t| Some(*t) != seconds);
        let told_off = last(&|o| o.told_off.or(o.off)).filter(|t| Some(*t) != off);
        (alarm.seconds, alarm.off, alarm.told, alarm.told_off) = (seconds, off, told, told_off);
    }
    out
}

fn one(
    out: &mut Tally,
    (on, calls): (&mut On, &mut Calls),
    sets: &BTreeMap<String, String>,
    place: LineNo,
    l: &Line,
    (kind, data, permit): (&str, &Json, Option<&str>),
) {
    let set = permit.and_then(|n| sets.get(n)).map(String::as_str).or(data.text("set")).unwrap_or_default();
    let at = At::new(place, &l.time, &l.zone);
    let told = Told {
        shift: out.clocks.shift(at.place()),
        what: None,
        kind,
        data,
        permit,
        set,
        when: data.text("at").unwrap_or(&l.time).to_owned(),
        entered: &l.time,
        zone: &l.zone,
        at,
    };
    match kind {
        "on_air" | "in" | "out" | "off_air" => {
            calls.moved(&told, &mut out.doubts);
            moved(out, on, &told);
        }
        "roll_call" => calls.called(&told, &mut out.doubts),
        "event" | "call_out" => alarm(out, on, &told),
        // Work that stops over people on this air has them come out, whatever else was recorded.
        "suspend" if is_new(out, on, set) => alarm(out, on, &Told { what: Some("suspended"), ..told }),
        "stopped" if is_new(out, on, set) => alarm(out, on, &Told { what: Some("stopped"), ..told }),
        _ => {}
    }
}

/// Whether somebody is on this air whom no alarm before has come out.
fn is_new(out: &Tally, on: &On, set: &str) -> bool {
    on.iter().filter(|((of, _), _)| of == set).any(|((_, person), here)| {
        let before = out.alarms.iter().filter(|a| a.set == set);
        let counted = |a: &Alarm| a.out.iter().any(|o| o.person == *person && o.seconds.is_none());
        here.inside && !before.into_iter().any(counted)
    })
}

/// What does not fit where somebody is, by the lines before.
fn odd(here: Option<&Here>, t: &Told<'_>) -> Option<Odd> {
    match (t.kind, here) {
        ("out", None) => Some(Odd::OutNotOnAir),
        ("out", Some(h)) if !h.inside => Some(Odd::OutNotIn),
        ("off_air", None) => Some(Odd::OffNotOnAir),
        ("off_air", Some(h)) if t.data.has("at") && t.when < h.went_on => Some(Odd::OffBeforeOn),
        ("off_air", Some(h)) if h.inside => Some(Odd::OffWhileIn),
        (_, _) => None,
    }
}

fn moved(out: &mut Tally, on: &mut On, t: &Told<'_>) {
    let person = t.data.text("person").unwrap_or_default();
    let key = (t.set.to_owned(), person.to_owned());
    let odd = odd(on.get(&key), t);
    out.odd.extend(odd.map(|odd| (odd, person.to_owned(), t.at.clone())));
    // The fold leaves them on the tally, and so does this.
    if odd == Some(Odd::OffBeforeOn) {
        return;
    }
    // Told out, still on air, they are on the tally whoever put them there.
    if matches!(t.kind, "on_air" | "in" | "out") && !on.contains_key(&key) {
        let here = Here { spell: out.spells.len(), inside: false, went_on: t.when.clone() };
        on.insert(key.clone(), here);
        out.spells.push(Spell {
            person: person.to_owned(),
            name: String::new(),
            set: t.set.to_owned(),
            permit: t.permit.map(str::to_owned),
            from: t.at.clone(),
            never_on: t.kind == "out",
            told: (t.kind == "on_air" && t.when != t.entered).then(|| t.when.clone()),
            to: None,
            told_off: None,
            inside: Vec::new(),
            doubt: None,
            left: Vec::new(),
        });
    }
    let Some(here) = on.get_mut(&key) else { return };
    let Some(spell) = out.spells.get_mut(here.spell) else { return };
    match t.kind {
        "in" if !here.inside => {
            spell.inside.push((t.when.clone(), None));
            here.inside = true;
            here.went_on = t.when.clone().max(std::mem::take(&mut here.went_on));
        }
        "out" | "off_air" => {
            if here.inside {
                if let Some(last) = spell.inside.last_mut() {
                    last.1 = Some(t.when.clone());
                    spell.left.push(t.at.clone());
                }
                here.inside = false;
            }
            for a in out.alarms.iter_mut().filter(|a| a.set == t.set) {
                let (since, told) = t.since(a);
                for o in a.out.iter_mut().filter(|o| o.person == person) {
                    if o.seconds.is_none() {
                        (o.seconds, o.told, o.at) = (Some(since), told, Some(t.at.clone()));
                    }
                    if t.kind == "off_air" && o.off.is_none() {
                        (o.off, o.told_off, o.at_off) = (Some(since), told, Some(t.at.clone()));
                    }
                }
                let beside = a.beside.iter_mut().filter(|o| o.person == person && o.off.is_none());
                for o in beside.filter(|_| t.kind == "off_air") {
                    (o.off, o.told_off) = (Some(since), told);
                    (o.at, o.at_off) = (Some(t.at.clone()), Some(t.at.clone()));
                }
            }
            if t.kind == "off_air" {
                spell.to = Some(t.at.clone());
                spell.told_off = (t.when != t.entered).then(|| t.when.clone());
                on.remove(&key);
            }
        }
        _ => {}
    }
}

fn alarm(out: &mut Tally, on: &On, t: &Told<'_>) {
    let here = || on.iter().filter(|((set, _), _)| set == t.set);
    let inside = here().filter(|(_, h)| h.inside);
    let nobody_told = |person: &str, spell: usize| Out {
        person: person.to_owned(),
        name: String::new(),
        seconds: None,
        told: None,
        at: None,
        off: None,
        told_off: None,
        at_off: None,
        never_in: false,
        doubt: None,
        spell,
    };
    let told_of = |((_, person), h): (&(String, String), &Here)| nobody_told(person, h.spell);
    let mut who: Vec<Out> = inside.map(told_of).collect();
    let mut beside: Vec<Out> = here().filter(|(_, h)| !h.inside).map(told_of).collect();
    let mut late = Vec::new();
    // Entered once they were out, it was for whoever was in at the time it is told for.
    if t.when.as_str() < t.entered {
        let from = seconds(&t.when);
        for (n, s) in out
            .spells
            .iter()
            .enumerate()
            .filter(|(_, s)| s.set == t.set && !who.iter().any(|o| o.person == s.person))
        {
            // Told or entered, whichever is later: as with an alarm that stands before them.
            let then = |((a, b), at): &(&(String, Option<String>), &At)| {
                *a <= t.when && b.as_ref().max(Some(&at.utc)).is_some_and(|left| *left > t.when)
            };
            let mut off = nobody_told(&s.person, n);
            if let Some(to) = &s.to {
                let told = s.told_off.as_ref().map(|told| seconds(told) - from);
                off.off = told.max(Some(seconds(&to.utc) - from));
                off.told_off = told.map(|t| t.max(0)).filter(|t| Some(*t) != off.off);
                off.at_off = Some(to.clone());
            }
            let Some(((_, told), at)) = s.inside.iter().zip(&s.left).find(then) else {
                // On air then, and not in by the lines.
                let on = s.told.as_ref().unwrap_or(&s.from.utc).min(&s.from.utc) <= &t.when;
                if on && off.off.is_some_and(|off| off > 0) {
                    beside.push(Out { at: s.to.clone(), ..off });
                }
                continue;
            };
            let told = told.as_ref().map(|told| seconds(told) - from);
            let out = told.max(Some(seconds(&at.utc) - from));
            late.push(Out {
                seconds: out,
                told: told.map(|t| t.max(0)).filter(|t| Some(*t) != out),
                at: Some(at.clone()),
                ..off
            });
        }
    }
    who.extend(late);
    out.alarms.push(Alarm {
        what: t.what.or(t.data.text("what")).unwrap_or("call_out").to_owned(),
        why: t.what.and(t.data.text("reason").or(t.data.text("words"))).unwrap_or_default().to_owned(),
        at: t.at.clone(),
        when: t.when.clone(),
        when_site: for_people(&t.when, t.zone),
        from: t.when.as_str().min(t.entered).to_owned(),
        shift: t.shift,
        set: t.set.to_owned(),
        out: who,
        outside: beside.len(),
        beside,
        seconds: None,
        told: None,
        off: None,
        told_off: None,
    });
}
