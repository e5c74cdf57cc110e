//! Pictures of what a permit says: the reserve over the number of wearers, the air test beside its limits, the day, the
//! place of the set, the pressure along each hose.
//!
//! In: a bench. Out: figures and final words; no layout. Always: what a picture shows stands in words elsewhere on the
//! paper; one that would say otherwise than page one is left out. Not here: drawing (`paper`).

use super::wearer;
use crate::permit::bench::{Bench, Texts, air_test, quantity};
use crate::permit::decide::Known;
use crate::permit::state::{Happened, Permit};
use crate::plan::{Assumed, Units, plan};
use crate::site::Written;
use crate::time::{clock, seconds, utc};
use crate::tongue::{say, say_n};
use crate::units::{Quantity, Rounding, unit};
use crate::view::{Bar, Fall, Lane, Moment, Picture, Shows, Span, recorded};
use num_traits::ToPrimitive;
use std::collections::BTreeMap;

/// Every picture that can be drawn of a permit.
pub(super) fn all(known: &Known<'_>, permit: &Permit, texts: &Texts, bench: &Bench<'_>) -> Vec<Picture> {
    let mut out = Vec::new();
    let planned = planned(known, texts, bench);
    out.extend(planned.as_ref().and_then(|p| reserve(p, texts, bench)));
    out.extend(planned.as_ref().and_then(|p| hoses(p, texts)));
    out.extend(air(texts, bench));
    out.extend(around(bench));
    out.extend(day(known, permit, texts));
    out
}

fn float(q: &Quantity, symbol: &str) -> Option<f32> {
    q.in_unit(unit(symbol)?)?.to_f32()
}

/// The last reading of a step, as it was written.
fn read(bench: &Bench<'_>, step: &str, item: Option<&str>) -> Option<Written> {
    let answer = bench.answers(step, item).last().copied()?;
    let text = format!("{} {}", answer.value.as_deref()?, answer.unit.as_deref()?);
    match Quantity::read_with_unit(&text) {
        Ok((quantity, number, Some(unit))) => Some(Written { quantity, number, unit }),
        Ok((_, _, None)) | Err(_) => None,
    }
}

/// The lowest reading of the reserve after it was proved.
fn lowest(bench: &Bench<'_>) -> Option<Written> {
    let items = bench.items(&crate::checklist::Each::Set("cylinders".into()));
    let all: Option<Vec<Written>> = items.iter().map(|c| read(bench, "reserve_again", Some(&c.id))).collect();
    all?.into_iter().min_by(|a, b| a.quantity.value.cmp(&b.quantity.value))
}

/// The job worked out from its files with what was read on the day; the same functions as the steps.
fn planned(known: &Known<'_>, texts: &Texts, bench: &Bench<'_>) -> Option<crate::plan::Plan> {
    let temperatures = read(bench, "ambient_low", None).zip(read(bench, "ambient_high", None));
    let assumed = Assumed {
        temperatures,
        reserve: lowest(bench),
        cable: None,
        today: known.now.date(),
        refused: Vec::new(),
        language: Some(texts.language.clone()),
    };
    plan(&texts.set, &texts.site, &texts.job, &assumed, Units::Metric).ok()
}

fn reserve(plan: &crate::plan::Plan, texts: &Texts, bench: &Bench<'_>) -> Option<Picture> {
    let there = lowest(bench)?;
    let n = texts.job.items("wearers").len();
    let at = plan.leaves.iter().find(|l| l.wearers == n)?;
    let said = bench.answers("leave_by", None).last().copied()?.value.as_deref()?.to_owned();
    let said = quantity(&said, bench.unit_worked_out("leave_by"))?;
    // Others may breathe this air by another permit, of whom the files say nothing.
    if (f64::from(float(&said, "bar")?) - at.bar).abs() > 0.5 {
        return None;
    }
    let each: Vec<(f32, String)> = plan.leaves.iter().map(|l| (l.bar as f32, l.words.clone())).collect();
    let told = each
        .iter()
        .zip(1..)
        .map(|((_, words), n)| format!("{}: {words}", say_n!(n, "{n} wearer", "{n} wearers")));
    let words = there.quantity.words(Some(there.unit), Rounding::Down);
    Some(Picture {
        title: say!("Leave by, over the number of wearers").into(),
        alt: say!(
            "The reserve with which everyone leaves while the compressor feeds. {each}. In the lowest cylinder there were \
             {pressure}.",
            each = told.collect::<Vec<_>>().join("; "),
            pressure = words
        ),
        shows: Shows::Columns {
            planned: n,
            there: (
                float(&there.quantity, "bar")?,
                say!("{pressure} read in the lowest cylinder", pressure = words),
            ),
            each,
        },
    })
}

/// At the lowest supply pressure; what is read at a mask may be more, and is not taken for it.
fn hoses(plan: &crate::plan::Plan, texts: &Texts) -> Option<Picture> {
    let from = texts.set.quantity("supply_pressure_from")?;
    let set = (float(from, "bar")?, from.words(unit("bar"), Rounding::Down));
    let mut falls = Vec::new();
    for w in texts.job.items("wearers") {
        let name = super::named(w, &texts.language);
        let figure =
            plan.figures.iter().find(|f| f.id == "mask_pressure" && f.of.as_deref() == Some(&name))?;
        let (_, least) = figure.wanted.as_ref()?;
        let bar = |words: &str| Quantity::read(words).ok().and_then(|q| float(&q, "bar"));
        falls.push(Fall {
            label: name,
            set: set.clone(),
            mask: (bar(&figure.value)?, figure.value.clone()),
            least: (bar(least)?, least.clone()),
        });
    }
    let told = falls.iter().map(|f| {
        say!("{name}: {pressure} of at least {least}", name = f.label, pressure = f.mask.1, least = f.least.1)
    });
    let told = told.collect::<Vec<_>>().join("; ");
    (!falls.is_empty()).then(|| Picture {
        title: say!("Pressure from the set to each mask").into(),
        alt: say!(
            "From {pressure} at the set, at its lowest, drawing all they can. {each}.",
            pressure = set.1,
            each = told
        ),
        shows: Shows::Falls(falls),
    })
}

fn air(texts: &Texts, bench: &Bench<'_>) -> Option<Picture> {
    let test = bench.air_test()?;
    let mut bars = Vec::new();
    for (name, label, limit) in [
        ("co", say!("carbon monoxide"), "limits.co_most"),
        ("co2", say!("carbon dioxide"), "limits.co2_most"),
        ("oil", say!("oil"), "limits.oil_most"),
        ("water", say!("water"), "limits.water_most"),
    ] {
        let Some((worst, as_read)) = worst_of(test, name, Rounding::Up) else { continue };
        let Some(limit) = texts.site.quantity(limit).filter(|l| l.dimension == worst.0.dimension) else {
            continue;
        };
        let share = (&worst.0.value / &limit.value).to_f32().unwrap_or(f32::INFINITY);
        let wanted = say!("at most {limit}", limit = limit.words(Some(worst.1), Rounding::Down));
        bars.push(Bar {
            label: label.into(),
            value: say!(
                "{reading}, may be {worst}",
                reading = as_read,
                worst = worst.0.words(Some(worst.1), Rounding::Up)
            ),
            wanted,
            share,
            within: false,
            met: worst.0.value <= limit.value,
        });
    }
    if let (Some((low, as_read)), Some((high, _))) =
        (worst_of(test, "o2", Rounding::Down), worst_of(test, "o2", Rounding::Up))
        && let (Some(from), Some(to)) =
            (texts.site.quantity("limits.o2_from"), texts.site.quantity("limits.o2_to"))
    {
        let middle = (&low.0.value + &high.0.value) / num_rational::BigRational::from_integer(2.into());
        let share = ((middle - &from.value) / (&to.value - &from.value)).to_f32().unwrap_or(f32::INFINITY);
        bars.push(Bar {
            label: say!("oxygen").into(),
            value: as_read,
            wanted: say!(
                "{from} to {to}",
                from = from.words(Some(low.1), Rounding::Up),
                to = to.words(Some(low.1), Rounding::Down)
            ),
            share,
            within: true,
            met: low.0.value >= from.value && high.0.value <= to.value,
        });
    }
    let told = bars
        .iter()
        .map(|b| say!("{what} {value}, wanted {wanted}", what = b.label, value = b.value, wanted = b.wanted));
    let told = told.collect::<Vec<_>>().join("; ");
    (!bars.is_empty()).then(|| Picture {
        title: say!("The air test beside the site's limits").into(),
        alt: say!(
            "Test of {day}, the one that counts for this permit. {each}.",
            day = test.day(),
            each = told
        ),
        shows: Shows::Bars(bars),
    })
}

/// The worst that a reading may stand for, with the unit it was read in; and as it was read.
fn worst_of(test: &Happened, name: &str, way: Rounding) -> Option<((Quantity, crate::units::Unit), String)> {
    let worst = air_test::worst_in_words(test, name, way)?;
    let (value, _, unit) = Quantity::read_with_unit(&worst).ok()?;
    let below = if test.data.texts("below").contains(&name) { "< " } else { "" };
    Some(((value, unit?), format!("{below}{}", test.data.text(name)?)))
}

fn around(bench: &Bench<'_>) -> Option<Picture> {
    let answer = |step: &str| {
        let a = bench.answers(step, None).last().copied()?;
        Some((
            a.value.as_deref()?.parse::<f32>().ok()?,
            format!("{} {}", a.value.as_deref()?, a.unit.as_deref()?),
        ))
    };
    let (wind, from) = answer("wind_from")?;
    let (_, speed) = answer("wind_speed")?;
    let (exhaust, bearing) = answer("exhaust_bearing")?;
    let (_, distance) = answer("siting_exhaust")?;
    let (_, vents) = answer("siting_vents")?;
    let (_, height) = answer("intake_height")?;
    let wind_words = say!("wind {speed} from {from}", speed, from);
    let exhaust_words = say!("nearest exhaust, {distance}", distance);
    let words = vec![
        say!("nearest vent or store {distance}", distance = vents),
        say!("intake {height} above ground", height),
    ];
    Some(Picture {
        title: say!("Where the set stands").into(),
        alt: say!(
            "Around the intake, by compass: {wind}; {exhaust} at {bearing}; {rest}.",
            wind = wind_words,
            exhaust = exhaust_words,
            bearing,
            rest = words.join("; ")
        ),
        shows: Shows::Around { wind, wind_words, exhaust, exhaust_words, words },
    })
}

/// So many ticks at most.
const TICKS: i64 = 8;

fn day(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<Picture> {
    let when = |h: &Happened| seconds(h.data.text("at").unwrap_or(&h.stamp.time));
    let last = permit.day.iter().map(|h| seconds(&h.stamp.time)).max()?;
    let mut lanes: BTreeMap<String, Lane> = BTreeMap::new();
    let mut order: Vec<String> = Vec::new();
    let mut open: BTreeMap<String, (i64, bool)> = BTreeMap::new();
    let mut moments = Vec::new();
    let mut first: Option<i64> = None;
    for h in &permit.day {
        let at = when(h);
        let moment = match h.kind {
            "event" => Some(recorded(h.data.text("what").unwrap_or_default())),
            "call_out" => Some(say!("everyone out").to_owned()),
            "suspend" => Some(say!("suspended").to_owned()),
            "reading" => Some(String::new()),
            _ => None,
        };
        if let Some(words) = moment {
            moments.push(Moment { at, words });
        }
        if !matches!(h.kind, "on_air" | "in" | "out" | "off_air") {
            continue;
        }
        let person = h.data.text("person").unwrap_or_default().to_owned();
        first = Some(first.map_or(at, |f| f.min(at)));
        let lane = lanes.entry(person.clone()).or_insert_with(|| {
            order.push(person.clone());
            Lane { label: wearer(known, texts, &person), spans: Vec::new() }
        });
        if let Some((from, inside)) = open.remove(&person) {
            lane.spans.push(Span { from, to: at.max(from), inside });
        }
        if h.kind != "off_air" {
            open.insert(person, (at, h.kind == "in"));
        }
    }
    for (person, (from, inside)) in open {
        if let Some(lane) = lanes.get_mut(&person) {
            lane.spans.push(Span { from, to: last.max(from), inside });
        }
    }
    let signed = permit.signed.iter().filter(|s| matches!(s.kind, "countersign" | "reinstate"));
    moments.extend(signed.map(|s| Moment {
        at: seconds(&s.stamp.time),
        words: if s.kind == "countersign" { say!("issued") } else { say!("reinstated") }.into(),
    }));
    let issued = permit.signed.iter().filter(|s| s.kind == "countersign").map(|s| seconds(&s.stamp.time));
    let from = first?.min(issued.min().unwrap_or(i64::MAX));
    moments.retain(|m| m.at >= from);
    moments.sort_by_key(|m| m.at);
    let to = last.max(from + 60);
    let step = [300, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400]
        .into_iter()
        .find(|s| (to - from) / s <= TICKS)
        .unwrap_or(604_800);
    let offset = crate::time::offset_seconds(&known.now.zone);
    let begin = (from + offset).div_euclid(step) * step - offset;
    let ticks = (0..=2 * TICKS).map(|n| begin + n * step).filter(|t| (from..=to).contains(t));
    let ticks = ticks.map(|t| (t, clock(&utc(t), &known.now.zone))).collect();
    let lanes: Vec<Lane> = order.iter().filter_map(|p| lanes.remove(p)).collect();
    let at = |t: i64| clock(&utc(t), &known.now.zone);
    let told = lanes.iter().map(|l| {
        let spans = l.spans.iter().map(|s| {
            let (from, to) = (at(s.from), at(s.to));
            if s.inside {
                say!("in {from} to {to}", from, to)
            } else {
                say!("on air {from} to {to}", from, to)
            }
        });
        format!("{}: {}", l.label, spans.collect::<Vec<_>>().join(", "))
    });
    let events = moments.iter().filter(|m| !m.words.is_empty()).map(|m| format!("{} {}", at(m.at), m.words));
    let alt = format!("{}. {}.", told.collect::<Vec<_>>().join("; "), events.collect::<Vec<_>>().join("; "));
    Some(Picture {
        title: say!("The day in one line").into(),
        alt,
        shows: Shows::Times { from, to, ticks, lanes, moments },
    })
}
