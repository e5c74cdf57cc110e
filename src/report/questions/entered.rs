//! Questions about who entered or did what the lines tell, and about what may have been left out beside it.
//!
//! Always: the program lets each of these pass, since each can have a good answer; a limit that is not the site's is named
//! as this program's own.

use super::{At, Input, PermitFacts, Question, ask};
use crate::audit::numbered;
use crate::record::json::Json;
use crate::record::line::Line;
use crate::report::names::Names;
use crate::report::tally::Tally;
use crate::text::bare;
use crate::tongue::{say, say_n};
use crate::units::Decimal;
use num_rational::BigRational;
use std::collections::{BTreeMap, BTreeSet};

/// So soon after a move or a start a test of the air is asked about, seconds. Common practice, no source: the default
/// warm-up of a set.
const WARM: i64 = 15 * 60;
/// Readings of one reserve within so many seconds are of about one temperature. Common practice, no source.
const ONE_TIME: i64 = 2 * 3600;
/// A slip of the finger is read again within so many seconds.
const SLIP: i64 = 3 * 60;

/// All of them.
pub fn of(input: &Input<'_>, permits: &[PermitFacts], tally: &Tally) -> Vec<Question> {
    let names = crate::report::names::of(input);
    let mut out = Vec::new();
    out.extend(by_somebody_inside(input));
    out.extend(by_nobody(input, &names));
    out.extend(almost_named(input, &names));
    out.extend(called_by_a_wearer(input));
    out.extend(tests(input, &names, tally));
    out.extend(rose(input, tally));
    out.extend(never_in(permits, tally));
    out
}

fn here(place: crate::view::LineNo, l: &Line) -> At {
    At::new(place, &l.time, &l.zone)
}

/// The wearers of a permit that is over or not, as its jobs name them.
fn wearers(input: &Input<'_>) -> BTreeMap<String, BTreeSet<String>> {
    let mut out: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for l in input.verified.lines.iter().filter(|l| matches!(l.kind.name, "open" | "job")) {
        let (Some(number), Some(job)) = (&l.permit, l.data.get("job")) else { continue };
        let Some(Json::Arr(all)) = job.get("wearers") else { continue };
        let ids = all.iter().filter_map(|w| w.text("person")).map(str::to_owned);
        out.entry(number.to_string()).or_default().extend(ids);
    }
    out
}

/// Readings, and where others are, entered as somebody who was inside by the lines before.
fn by_somebody_inside(input: &Input<'_>) -> Option<Question> {
    let (mut inside, mut lines, mut who) = (BTreeSet::new(), Vec::new(), BTreeSet::new());
    for (place, l) in numbered(&input.verified.lines) {
        let person = l.data.text("person");
        let moved = matches!(l.kind.name, "on_air" | "in" | "out" | "off_air");
        // Whoever comes out may enter that themselves.
        let own = moved && person == l.by.as_deref();
        if let Some(by) = l.by.as_deref().filter(|by| inside.contains(*by) && !own)
            && (moved || matches!(l.kind.name, "reading" | "roll_call"))
        {
            who.insert(by);
            lines.push(here(place, l));
        }
        match (l.kind.name, person) {
            ("in", Some(p)) => {
                inside.insert(p);
            }
            ("out" | "off_air", Some(p)) => {
                inside.remove(p);
            }
            (_, _) => {}
        }
    }
    (!lines.is_empty()).then(|| {
        ask(
            "by_inside",
            say_n!(
                lines.len(),
                "{n} line was entered as somebody who was inside then, by the lines: who read the gauge, and who entered it?",
                "{n} lines were entered as somebody who was inside then, by the lines: who read the gauges, and who entered \
                 them?"
            ),
            who.into_iter().collect::<Vec<_>>().join(", "),
            lines,
        )
    })
}

/// What stands for people's safety, entered as nobody, or as somebody whom neither the roster nor a site names.
fn by_nobody(input: &Input<'_>, names: &Names) -> Option<Question> {
    let (mut lines, mut who) = (Vec::new(), BTreeSet::new());
    for (place, l) in numbered(&input.verified.lines) {
        let kinds = matches!(l.kind.name, "reading" | "roll_call" | "on_air" | "in" | "out" | "off_air");
        if !kinds || l.by.as_deref().is_some_and(|by| names.name(by).is_some()) {
            continue;
        }
        who.insert(
            l.by.as_deref()
                .map_or_else(|| say!("nobody").to_owned(), |by| crate::text::safe_line(by).into_owned()),
        );
        lines.push(here(place, l));
    }
    (!lines.is_empty()).then(|| {
        ask(
            "by_nobody",
            say_n!(
                lines.len(),
                "{n} reading, roll call or line of people on air was entered as nobody, or as somebody whom neither the roster \
                 nor a site names: who was it?",
                "{n} readings, roll calls or lines of people on air were entered as nobody, or as somebody whom neither the \
                 roster nor a site names: who was it?"
            ),
            crate::report::names::few(who),
            lines,
        )
    })
}

/// People whom nothing names, called like somebody who is named but for large letters or marks on letters: the tally knows
/// them as two.
fn almost_named(input: &Input<'_>, names: &Names) -> Option<Question> {
    let known: BTreeMap<String, &str> =
        names.all().flat_map(|(id, name)| [(bare(name), id), (bare(id), id)]).collect();
    let (mut lines, mut who) = (Vec::new(), BTreeSet::new());
    for (place, l) in numbered(&input.verified.lines) {
        let lists = ["found", "missing"].into_iter().flat_map(|list| l.data.texts(list));
        for person in l.data.text("person").into_iter().chain(lists) {
            let meant = known.get(&bare(person)).filter(|id| **id != person && names.name(person).is_none());
            let Some(id) = meant else { continue };
            who.insert(format!("{} ({id})", crate::text::safe_line(person)));
            let at = here(place, l);
            if lines.last() != Some(&at) {
                lines.push(at);
            }
        }
    }
    (!lines.is_empty()).then(|| {
        ask(
            "almost_named",
            say_n!(
                lines.len(),
                "{n} line names somebody who differs from a known name only in large letters or marks on letters, {who}: is \
                 it the same person?",
                "{n} lines name somebody who differs from a known name only in large letters or marks on letters, {who}: is \
                 it the same person?",
                who = who.into_iter().take(8).collect::<Vec<_>>().join(", ")
            ),
            say!("the tally knows them as two people").into(),
            lines,
        )
    })
}

/// A roll call entered as a wearer of the permit.
fn called_by_a_wearer(input: &Input<'_>) -> Option<Question> {
    let wearers = wearers(input);
    let (mut lines, mut who) = (Vec::new(), BTreeSet::new());
    for (place, l) in numbered(&input.verified.lines).filter(|(_, l)| l.kind.name == "roll_call") {
        let of = l.permit.as_ref().and_then(|n| wearers.get(n.as_str()));
        if let Some(by) = l.by.as_deref().filter(|by| of.is_some_and(|w| w.contains(*by))) {
            who.insert(by);
            lines.push(here(place, l));
        }
    }
    (!lines.is_empty()).then(|| {
        ask(
            "called_by_wearer",
            say_n!(
                lines.len(),
                "{n} roll call was entered as a wearer of its permit: who called, and who answered?",
                "{n} roll calls were entered as wearers of their permits: who called, and who answered?"
            ),
            who.into_iter().collect::<Vec<_>>().join(", "),
            lines,
        )
    })
}

/// Tests of the air: taken before a move and entered after it, soon after a move or a start, by a wearer, or with every
/// figure of another.
fn tests(input: &Input<'_>, names: &Names, tally: &Tally) -> Vec<Question> {
    let mut out = Vec::new();
    let all_wearers: BTreeSet<String> = wearers(input).into_values().flatten().collect();
    let is_wearer = |who: &str| all_wearers.iter().any(|w| w == who || names.name(w) == Some(who));
    let mut moved: BTreeMap<&str, (&str, At)> = BTreeMap::new();
    let mut before: BTreeMap<&str, Vec<(Json, At)>> = BTreeMap::new();
    for (place, l) in numbered(&input.verified.lines) {
        let set = l.data.text("set").unwrap_or_default();
        let at = here(place, l);
        match l.kind.name {
            "moved" | "plugged" | "started" => {
                moved.insert(set, (l.kind.name, at));
            }
            "air_test" if !l.data.has("witness") => {
                let told = l.data.text("at").map_or(i64::MAX, crate::time::seconds);
                let shift = tally.clocks.shift(at.place());
                let taken = tally.clocks.second(&at).min(told.saturating_add(shift));
                // A test of another day stands where it was entered.
                let today = crate::time::local(&l.time, &l.zone).date().to_string();
                let now = l.data.has("at") || l.data.text("date") == Some(today.as_str());
                let since = moved
                    .get(set)
                    .filter(|_| now)
                    .map(|(kind, m)| (*kind, m, taken - tally.clocks.second(m)));
                if let Some((kind, m, after)) = since.filter(|(_, _, after)| *after < WARM) {
                    let ask_of = if after < 0 {
                        say!(
                            "an air test of {set} is told for a time before its line `{what}`, and entered after it: where was it \
                             taken?",
                            set,
                            what = kind
                        )
                    } else {
                        say!(
                            "an air test of {set} stands {minutes} min after its line `{what}`: was the set warm, under load, and \
                             where it is now?",
                            set,
                            minutes = after / 60,
                            what = kind
                        )
                    };
                    let because = say!(
                        "sooner than {minutes} min, a limit of this program: common practice, no source",
                        minutes = WARM / 60
                    );
                    out.push(ask("test_soon", ask_of, because, vec![m.clone(), at.clone()]));
                }
                let sampler = l.data.text("sampler").unwrap_or_default();
                if is_wearer(sampler) || l.by.as_deref().is_some_and(is_wearer) {
                    out.push(ask(
                        "sampled_by_wearer",
                        say!("an air test of {set} was sampled or entered by a wearer: who stood at the set meanwhile?", set),
                        crate::text::safe_line(sampler).into_owned(),
                        vec![at.clone()],
                    ));
                }
                let figures = ["date", "at", "told_by", "place", "sampler", "words"]
                    .iter()
                    .fold(l.data.clone(), |data, name| data.without(name));
                let all = before.entry(set).or_default();
                if let Some((_, same)) = all.iter().find(|(other, _)| *other == figures) {
                    out.push(ask(
                        "same_test",
                        say!("two air tests of {set} have the same figures, every one of them: was the second one taken?", set),
                        String::new(),
                        vec![same.clone(), at.clone()],
                    ));
                }
                all.push((figures, at));
            }
            _ => {}
        }
    }
    out
}

/// A reserve that reads more than before, with no fill told: a compressor that feeds does not fill it.
fn rose(input: &Input<'_>, tally: &Tally) -> Vec<Question> {
    let mut out = Vec::new();
    let sets: BTreeMap<&str, &str> =
        input.replayed.state.permits.values().map(|p| (p.number.as_str(), p.set.id.as_str())).collect();
    let mut last: BTreeMap<&str, (BigRational, String, At)> = BTreeMap::new();
    let twentieth = BigRational::new(21.into(), 20.into());
    for (place, l) in numbered(&input.verified.lines) {
        let data = &l.data;
        let set = l.permit.as_ref().and_then(|n| sets.get(n.as_str()).copied()).or(data.text("set"));
        let Some(set) = set else { continue };
        let watched = l.kind.name == "reading" && data.text("what") == Some("reserve");
        let answered = l.kind.name == "answer"
            && data
                .text("step")
                .is_some_and(|s| matches!(s, "reserve_pressure" | "reserve_again" | "reserve_left"));
        if matches!(l.kind.name, "filled" | "taken") {
            last.remove(set);
        }
        if !watched && !answered {
            continue;
        }
        let (Some(value), Some(unit)) = (data.text("value"), data.text("unit")) else { continue };
        let Ok(number) = Decimal::kept(value) else { continue };
        let at = here(place, l);
        let now = (number.to_exact(), format!("{value} {unit}"), at.clone());
        if let Some((before, shown, then)) = last.remove(set) {
            let after = tally.clocks.second(&at) - tally.clocks.second(&then);
            let same = shown.ends_with(&format!(" {unit}"));
            if same && (SLIP..=ONE_TIME).contains(&after) && now.0 > &before * &twentieth {
                out.push(ask(
                    "rose",
                    say!(
                        "the reserve of {set} reads {now}, and read {before} {minutes} min before, with no fill told between: was \
                         it filled, or read wrong?",
                        set,
                        now = now.1,
                        before = shown,
                        minutes = after / 60
                    ),
                    say!("more than a twentieth more within {hours} h, a limit of this program: common practice, no source",
                        hours = ONE_TIME / 3600),
                    vec![then, at],
                ));
            }
        }
        // An answer may be of a cylinder that was shut off since: only what was watched stands for the reserve.
        if watched {
            last.insert(set, now);
        }
    }
    out
}

/// On air, and never told in. Whoever was told out was in: what is missing of them is asked elsewhere.
fn never_in(permits: &[PermitFacts], tally: &Tally) -> Option<Question> {
    let spells = permits.iter().flat_map(|p| &p.spells);
    let never: Vec<_> = spells.filter(|s| s.to.is_some() && s.inside.is_empty() && !s.never_on).collect();
    let longest = never
        .iter()
        .filter_map(|s| Some(tally.clocks.second(s.to.as_ref()?) - tally.clocks.second(&s.from)))
        .max()?;
    let who: BTreeSet<&str> =
        never.iter().map(|s| if s.name.is_empty() { s.person.as_str() } else { s.name.as_str() }).collect();
    Some(ask(
        "never_in",
        say_n!(
            never.len(),
            "{n} time somebody was on air and never told in, for up to {time}: were they outside all the while, or was a line \
             left out?",
            "{n} times somebody was on air and never told in, for up to {time}: were they outside all the while, or was a line \
             left out?",
            time = crate::report::lasted(longest.max(0))
        ),
        who.into_iter().take(8).collect::<Vec<_>>().join(", "),
        never.iter().map(|s| s.from.clone()).collect(),
    ))
}
