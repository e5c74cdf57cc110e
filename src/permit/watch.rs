//! Readings of the watch over a running set: what the last of each says against people being on its air.
//!
//! Always: of every permit of the set; a reading out of its limits stands until a later one, told in time, is within
//! them; so does a test of the air entered since. Limits: carbon monoxide, carbon dioxide and oxygen by the site's rule;
//! the reserve by the leave-by pressure of everybody on this air, or the set's minimum until that is worked out; the
//! supply by the set's range. Other words are kept and compared with nothing.
//! Not here: when a reading is due.

use super::bench::{self, Texts, quantity};
use super::decide::Known;
use super::state::{FOUL, Happened, LATE, Permit, Stamp};
use super::walk;
use crate::record::json::Json;
use crate::time;
use crate::tongue::say;
use crate::units::{Dimension, Quantity, Rounding, unit};
use crate::view::{Standing, StateWord, recorded};
use num_traits::Signed;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// The step that works out the leave-by pressure.
const LEAVE_BY: &str = "leave_by";

/// What is watched, and what it is measured as.
pub const WATCHED: [(&str, Dimension); 5] = [
    ("co", Dimension::Fraction),
    ("co2", Dimension::Fraction),
    ("o2", Dimension::Fraction),
    ("reserve", Dimension::Pressure),
    ("supply", Dimension::Pressure),
];

/// What the last readings of a set say against it, in words.
pub fn against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let mut out: Vec<String> = last_against(known, permit, texts).into_iter().map(|of| of.words).collect();
    out.extend(air_test_against(known, permit, texts));
    out.extend(filled_against(known, permit, texts));
    out.extend(answered_against(known, permit, texts));
    out
}

/// What was answered since the permit was issued and holds: of life, and of everybody on this air. What holds for one wearer
/// alone is told of that one.
fn answered_against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let Some(issued) = permit.last_signed("countersign").map(|s| s.stamp.seq) else { return Vec::new() };
    if known.life(permit).ended() {
        return Vec::new();
    }
    let since = permit.answers.iter().rev().take_while(|a| a.here_since() > issued);
    let own = since.filter(|a| a.form == permit.form.hash).map(|a| a.step.as_str());
    let steps: BTreeSet<&str> = own.collect();
    let (mut out, mut bench) = (Vec::new(), None);
    for id in steps {
        if !texts.form.step(id).is_some_and(|(_, s)| s.critical()) {
            continue;
        }
        let bench = bench.get_or_insert_with(|| known.bench(permit, texts));
        let holds = walk::of_step(bench, id).into_iter().filter(|s| s.standing == Standing::Hold);
        out.extend(holds.filter(|s| !s.of_wearer()).map(|s| {
            let (step, why) = (s.label(), s.why.join("; "));
            say!("{step} holds: {why}", step, why)
        }));
    }
    out
}

/// The last reading of a gauge, out of its limits.
#[derive(Clone, Debug)]
pub struct Against {
    /// `co`, `supply`, `reserve`, or what else is watched.
    pub gauge: String,
    /// The event that it is.
    pub event: &'static str,
    /// When it was read, and where that stands.
    pub at: Stamp,
    /// What it says against the set.
    words: String,
}

/// The gauges whose last reading is out of its limits; of several of one kind (the cylinders of a reserve) the one read last.
pub fn gauges_against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Against> {
    let mut out: Vec<Against> = Vec::new();
    for of in last_against(known, permit, texts) {
        match out.iter_mut().find(|o| o.gauge == of.gauge && o.event == of.event) {
            Some(same) if same.at.seq < of.at.seq => *same = of,
            Some(_) => {}
            None => out.push(of),
        }
    }
    out
}

/// The event that a reading of a gauge out of its limits is. Above its range, the supply is no loss of it.
pub fn event_of(texts: &Texts, reading: &Json) -> &'static str {
    let read = reading.text("value").and_then(|v| quantity(v, reading.text("unit").and_then(unit)));
    match reading.text("what") {
        Some("co") => "co",
        Some("supply") => match (read, texts.set.quantity("supply_pressure_to")) {
            (Some(q), Some(most)) if q.dimension == most.dimension && q.value > most.value => "over_pressure",
            (_, _) => "supply_low",
        },
        Some("reserve") if read.is_some_and(|q| too_much(&q, texts)) => "other",
        Some("reserve") => "reserve_low",
        Some(_) | None => "other",
    }
}

/// The event that the last readings of a gauge of the set are, where they say something against it.
pub fn gauge_against(known: &Known<'_>, permit: &Permit, texts: &Texts, what: &str) -> Option<&'static str> {
    let all = last_against(known, permit, texts);
    all.iter().filter(|of| of.gauge == what).max_by_key(|of| of.at.seq).map(|of| of.event)
}

/// What the last reading of each gauge says against the set.
fn last_against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Against> {
    // What was read before this permit was opened belongs to another day's air.
    let since = known.state.permits.days_of_set(&permit.set.id, permit.opened.seq, i64::MIN);
    let mut read: Vec<&Happened> = since.filter(|h| h.kind == "reading").collect();
    read.sort_by_key(|h| h.stamp.seq);
    // From the latest on: of each gauge the first that counts is its last.
    let mut last: BTreeMap<(&str, &str), Option<Against>> = BTreeMap::new();
    for h in read.into_iter().rev() {
        let word = |name: &str| h.data.text(name).unwrap_or_default();
        let Entry::Vacant(first) = last.entry((word("what"), word("item"))) else { continue };
        let against = judged(known, permit, texts, h);
        let late =
            h.data.text("at").is_some_and(|at| time::seconds(&h.stamp.time) - time::seconds(at) > LATE);
        if against.is_some() || !late {
            first.insert(against.map(|words| {
                let told = h.data.text("at").map_or_else(|| h.stamp.time.clone(), Into::into);
                let at = Stamp { time: told, ..h.stamp.clone() };
                Against { gauge: word("what").to_owned(), event: event_of(texts, &h.data), at, words }
            }));
        }
    }
    last.into_values().flatten().collect()
}

/// What the last fill says against the reserve: filled from nobody knows where; or from this set, after an event that
/// spoke against its air and before a test that passed. Until it is vented and filled again.
fn filled_against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    if texts.set.choice("reserve") != Some("cylinders") {
        return None;
    }
    let set = known.state.sets.get(&permit.set.id)?;
    let fill = set.last.get("filled")?;
    let head =
        say!("the reserve was filled at {time}", time = time::clock(&fill.stamp.time, &fill.stamp.zone));
    match fill.data.text("from") {
        Some("this_set") => {
            let (what, foul) = set
                .events
                .iter()
                .filter(|(what, at)| FOUL.contains(&what.as_str()) && at.seq < fill.stamp.seq)
                .max_by_key(|(_, at)| at.seq)?;
            let tested = |t: &Happened| {
                t.stamp.seq > foul.seq
                    && t.stamp.seq < fill.stamp.seq
                    && bench::air_test::against(t, &texts.site).is_empty()
                    && !set.stood_still.contains(&t.stamp.hash)
                    && t.day() >= time::local(&foul.time, &foul.zone).date()
            };
            (!set.air_tests.iter().any(tested)).then(|| {
                say!(
                    "{head} from this set, after the event `{what}` of {time} and before a test that its \
                      air passed: vent it, fill it from tested air",
                    head,
                    what,
                    time = time::clock(&foul.time, &foul.zone)
                )
            })
        }
        Some("not_known") => {
            Some(say!("{head}, and nobody knows from where: vent it, fill it from tested air", head))
        }
        _ => None,
    }
}

/// Why the work on a set's air stops at what was read or tested: in words, if somebody may be put on it now.
pub fn stops(known: &Known<'_>, set: &str) -> Option<String> {
    let live =
        known.state.not_ended(known.time()).filter(|p| p.set.id == set && known.life(p) == StateWord::Live);
    let mut why: Vec<String> = Vec::new();
    for p in live {
        match known.texts_of(p) {
            Ok(texts) => why.extend(against(known, p, &texts)),
            Err(e) => why.push(e),
        }
    }
    why.sort();
    why.dedup();
    (!why.is_empty()).then(|| say!("out of limits: {why}", why = why.join("; ")))
}

/// Every reading since a line that was out of its limits, whatever was read after it.
pub fn were_against(known: &Known<'_>, permit: &Permit, texts: &Texts, since: u64) -> Vec<String> {
    let days = known.state.permits.days_of_set(&permit.set.id, since, i64::MIN);
    let read = days.filter(|h| h.kind == "reading");
    read.filter_map(|h| judged(known, permit, texts, h)).collect()
}

/// What a test of the air says against the set, entered since this permit was opened; until a later one of the set
/// passes.
fn air_test_against(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    let tests = &known.state.sets.get(&permit.set.id)?.air_tests;
    let latest =
        tests.iter().filter(|t| t.stamp.seq > permit.opened.seq).max_by_key(|t| (t.day(), t.stamp.seq))?;
    let why = bench::air_test::against(latest, &texts.site);
    let entered = time::clock(&latest.stamp.time, &latest.stamp.zone);
    let head = say!("the air test of {day}, entered at {entered}", day = latest.day(), entered);
    (!why.is_empty()).then(|| format!("{head}: {}", why.join("; ")))
}

/// The leave-by pressure of everybody on the air of a permit's set: the highest that a permit works out of those on
/// which people may be, and its number.
pub fn leave_by(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<(Quantity, String)> {
    let may_be_on = |p: &&Permit| {
        matches!(known.life(p), StateWord::Live | StateWord::Suspended)
            || known.state.tally_of_permit(&p.number) > 0
    };
    let others =
        known.state.in_use(known.time()).filter(|p| p.set.id == permit.set.id && p.number != permit.number);
    let others = others.filter(may_be_on).filter_map(|p| Some((p, known.texts_of(p).ok()?)));
    let of_others = others.filter_map(|(p, texts)| own_leave_by(known, p, &texts)).collect::<Vec<_>>();
    let own = own_leave_by(known, permit, texts);
    of_others.into_iter().chain(own).max_by(|(a, _), (b, _)| a.value.cmp(&b.value))
}

/// The leave-by pressure that one permit works out.
pub fn own_leave_by(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<(Quantity, String)> {
    let bench = known.bench(permit, texts);
    let answers = bench.answers(LEAVE_BY, None);
    let of = bench.unit_worked_out(LEAVE_BY);
    let value = quantity(answers.last()?.value.as_deref()?, of)?;
    Some((value, permit.number.clone()))
}

/// Permits with people on them whose page says a lower leave-by pressure than that of everybody on this air.
pub fn too_low_elsewhere(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let Some((most, _)) = leave_by(known, permit, texts) else { return Vec::new() };
    let others = known.state.in_use(known.time()).filter(|p| {
        p.set.id == permit.set.id
            && p.number != permit.number
            && known.state.tally_of_permit(&p.number) > 0
            && known.life(p) == StateWord::Live
    });
    others
        .filter_map(|p| {
            let theirs = known.texts_of(p).ok().and_then(|t| own_leave_by(known, p, &t));
            let low = theirs.is_none_or(|(value, _)| value.value < most.value);
            low.then(|| {
                say!(
                    "people are on air on {permit}, whose page says another leave-by pressure than all of \
                      these together need: work it out again there (`airwrit walk {permit}`), print it, \
                      take the old copies down",
                    permit = p.number
                )
            })
        })
        .collect()
}

/// More than a fifth above the fill of every cylinder: what 300 bar at 15 °C reads at 50 °C, worked out with CoolProp 8.0.0.
fn too_much(read: &Quantity, texts: &Texts) -> bool {
    let fills = texts.set.items("cylinders").iter().filter_map(|c| c.quantity("fill_pressure"));
    let most = fills.filter(|f| f.dimension == read.dimension).map(|f| f.value.clone()).max();
    let fifth = num_rational::BigRational::new(6.into(), 5.into());
    most.is_some_and(|most| read.value > most * fifth)
}

/// What one reading says against the set; `None` if it is within its limits, or has none.
pub fn judged(known: &Known<'_>, permit: &Permit, texts: &Texts, reading: &Happened) -> Option<String> {
    let what = reading.data.text("what")?;
    let (_, dimension) = WATCHED.iter().find(|(w, _)| *w == what)?;
    let read = quantity(reading.data.text("value")?, reading.data.text("unit").and_then(unit));
    let item = reading.data.text("item").map(|i| format!(" {i}")).unwrap_or_default();
    let at = time::clock(reading.data.text("at").unwrap_or(&reading.stamp.time), &reading.stamp.zone);
    let name = recorded(what);
    let head = |shown: String| {
        say!("{what}{item} was read at {time} as {shown}", what = name, item, time = at, shown)
    };
    let Some(read) = read.filter(|q| q.dimension == *dimension) else {
        return Some(say!(
            "{what}{item} was read at {time} as something else, which is not what it is measured in",
            what = name,
            item,
            time = at
        ));
    };
    let shown = |q: &Quantity| q.words(reading.data.text("unit").and_then(unit), Rounding::Nearest);
    let least = |limit: Option<Quantity>, why: &str| match limit {
        Some(l) if l.dimension == read.dimension && read.value >= l.value => None,
        Some(l) => Some(say!(
            "{head}, wanted at least {limit} ({why})",
            head = head(shown(&read)),
            limit = shown(&l),
            why
        )),
        None => Some(say!("{head}, and {why} is not known", head = head(shown(&read)), why)),
    };
    let most = |limit: Option<Quantity>, why: &str| match limit {
        Some(l) if l.dimension == read.dimension && read.value <= l.value => None,
        Some(l) => Some(say!(
            "{head}, wanted at most {limit} ({why})",
            head = head(shown(&read)),
            limit = shown(&l),
            why
        )),
        None => Some(say!("{head}, and {why} is not known", head = head(shown(&read)), why)),
    };
    match what {
        "co" | "co2" | "o2" if read.value.is_negative() => {
            Some(say!("{head}: the monitor is at fault, and nobody knows", head = head(shown(&read))))
        }
        // At its alarm point the monitor sounds, below the limit too.
        "co" => {
            most(texts.site.quantity("limits.co_most").cloned(), say!("the site's limit")).or_else(|| {
                let alarm = texts.site.quantity("co_alarm").filter(|a| read.value >= a.value)?;
                Some(say!(
                    "{head}, at which the monitor sounds ({alarm})",
                    head = head(shown(&read)),
                    alarm = shown(alarm)
                ))
            })
        }
        "co2" => most(texts.site.quantity("limits.co2_most").cloned(), say!("the site's limit")),
        "o2" => least(texts.site.quantity("limits.o2_from").cloned(), say!("the site's limit"))
            .or_else(|| most(texts.site.quantity("limits.o2_to").cloned(), say!("the site's limit"))),
        "reserve" if too_much(&read, texts) => Some(say!(
            "{head}, more than its cylinders can hold: read wrong, or overfilled",
            head = head(shown(&read))
        )),
        "reserve" => match leave_by(known, permit, texts) {
            Some((l, of)) if of == permit.number => least(Some(l), say!("the leave-by pressure")),
            Some((l, of)) => {
                least(Some(l), &say!("the leave-by pressure of everybody on this air, by {of}", of))
            }
            None => least(texts.set.quantity("reserve_minimum").cloned(), say!("the set's minimum")),
        },
        _ => least(texts.set.quantity("supply_pressure_from").cloned(), say!("the set's range"))
            .or_else(|| most(texts.set.quantity("supply_pressure_to").cloned(), say!("the set's range"))),
    }
}
