//! The reserve: leave-by pressure, how long it lasts, over pressures and numbers of wearers.

use super::Basis;
use super::figure::{Figure, Sense, from_float, in_unit, leaned, worked};
use super::flow::{beside_words, drawn};
use crate::air::Refused;
use crate::air::measure::{Absolute, Flow, Gauge, Litres, Minutes, Ratio};
use crate::air::reserve::{Reserve, needed};
use crate::site::{Held, Values, Written};
use crate::tongue::{say, say_n};
use crate::units::{Quantity, Rounding};
use serde::Serialize;

/// How long the reserve lasts at one reading, by number of wearers.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// The reading.
    pub reading: String,
    /// Per number of wearers from 1: minutes to the floor, whole, rounded down; and whether that is enough.
    pub lasts: Vec<(String, bool)>,
}

/// The pressure at which everyone leaves, for so many wearers.
#[derive(Clone, Debug, Serialize)]
pub struct Leave {
    /// Wearers.
    pub wearers: usize,
    /// Bar, gauge, whole, rounded up.
    pub bar: f64,
    /// In words.
    pub words: String,
}

struct Known {
    reserve: Reserve,
    reading: Gauge,
    needed: Minutes,
    /// Drawn by 1, 2, ... wearers with all that draws beside them; the last is everybody planned and one more.
    flows: Vec<Flow>,
    planned: usize,
}

pub(super) fn figures(
    b: &Basis<'_>,
    out: &mut Vec<Figure>,
    changes: &mut Vec<String>,
) -> (Vec<Row>, Vec<Leave>) {
    if b.set.choice("reserve") == Some("none") {
        let dangerous = b.job.choice("atmosphere") != Some("not");
        let mut figure = Figure::shown(
            "reserve",
            say!("reserve"),
            say!("NONE: when it stops, the air is gone").into(),
            "",
        );
        figure.met = Some(!dangerous);
        if dangerous {
            figure.note = say!("refused where the air is, could become or may be dangerous").into();
            changes.push(say!("a set with a reserve, or work where the air can be breathed").into());
        }
        out.push(figure);
        return (Vec::new(), Vec::new());
    }
    match known(b) {
        Ok(k) => {
            let rows = told(b, &k, out, changes).unwrap_or_else(|why| {
                out.push(Figure::lacking("reserve_lasts", say!("the reserve"), why.to_string()));
                Vec::new()
            });
            (rows, leaves(b, &k))
        }
        Err(why) => {
            out.push(Figure::lacking("reserve_lasts", say!("the reserve"), why.to_string()));
            (Vec::new(), Vec::new())
        }
    }
}

/// For every number of wearers up to one more than planned, as far as a reserve of this size is enough.
fn leaves(b: &Basis<'_>, k: &Known) -> Vec<Leave> {
    let one = |(n, flow): (usize, &Flow)| {
        let leave = leave_by(k, *flow).ok()?;
        let bar = in_unit(Some(&leave), "bar");
        Some(Leave { wearers: n + 1, bar, words: b.units.quantity(&leave, 0, Rounding::Up) })
    };
    k.flows.iter().enumerate().map_while(one).collect()
}

fn known(b: &Basis<'_>) -> Result<Known, Refused> {
    let (cold, warm) = b.temperatures()?;
    let volume: f64 = b.set.items("cylinders").iter().map(|c| in_unit(c.quantity("volume"), "L")).sum();
    let ambient =
        Absolute::new(say!("the ambient pressure"), in_unit(b.site.quantity("ambient_pressure"), "bar_abs"))?;
    let volume = Litres::new(say!("the water capacity of the reserve"), volume)?;
    let reserve = Reserve::new(volume, ambient, warm, cold, b.gauge(b.set, "reserve_floor")?)?;
    let factor = b
        .site
        .number("way_out_factor")
        .map_or(f64::NAN, |d| in_unit(Some(&Quantity::number(d.to_exact())), ""));
    let minutes = |what: &'static str, q: Option<&Quantity>| Minutes::new(what, in_unit(q, "min"));
    let needed = needed(
        minutes(say!("the way out"), b.job.quantity("way_out"))?,
        Ratio::new(say!("the factor on the way out"), factor)?,
        minutes(say!("the least time"), b.site.quantity("way_out_floor"))?,
    )?;
    let all = drawn(b)?;
    // Fewer wearers: the hungriest of them stay. More: one more of the hungriest. What draws beside them always does.
    let mut each: Vec<f64> = all.wearers.iter().map(|f| f.get()).collect();
    each.sort_by(|x, y| y.total_cmp(x));
    each.extend(all.one_more.map(|f| f.get()));
    let mut sum = all.beside();
    let flows = each
        .into_iter()
        .map(|f| {
            sum += f;
            Flow::new(say!("the flow drawn"), sum)
        })
        .collect::<Result<_, _>>()?;
    let reading =
        Gauge::new(say!("the reading of the reserve"), in_unit(reading(b).map(|w| &w.quantity), "bar"))?;
    Ok(Known { reserve, reading, needed, flows, planned: b.wearers().len() })
}

/// The reading of the reserve: as typed, or the set's minimum.
fn reading<'b>(b: &'b Basis<'_>) -> Option<&'b Written> {
    b.assumed.reserve.as_ref().or_else(|| written(b.set, "reserve_minimum"))
}

fn told(
    b: &Basis<'_>,
    k: &Known,
    out: &mut Vec<Figure>,
    changes: &mut Vec<String>,
) -> Result<Vec<Row>, Refused> {
    let Some(flow) = k.flows.get(k.planned.saturating_sub(1)).copied().filter(|_| k.planned > 0) else {
        return Err(Refused::new(say!("the number of wearers"), say!("none"), say!("for one or more")));
    };
    let bar = |p: f64| from_float(p, "bar");
    let min = |m: f64| from_float(m, "min");
    let r = &k.reserve;
    let rests = say!(
        "{flow} drawn, {volume} of cylinders, from {warmest} read to {coldest} at the floor of {floor}",
        flow = b.units.quantity(&from_float(flow.get(), "L/min")?, 0, Rounding::Up),
        volume = b.units.quantity(&from_float(r.volume.get(), "L")?, 0, Rounding::Down),
        warmest = b.units.temperature(r.warmest.get()),
        coldest = b.units.temperature(r.coldest.get()),
        floor = b.units.quantity(&bar(r.floor.get())?, 0, Rounding::Up)
    );
    let wanted = min(k.needed.get())?;
    let lasts = worked(r.endurance(k.reading, flow)?.get(), "min", 0, Rounding::Down)?;
    let label = say!("how long the reserve lasts");
    out.push(Figure {
        // Minutes to spare are never shown: nobody works on reserve.
        margin: None,
        ..Figure::limited(b.units, "reserve_lasts", label, &lasts, (Sense::AtLeast, &wanted), 0, &rests)
    });
    let Some(reading) = reading(b) else {
        return Err(Refused::new(
            say!("the reading of the reserve"),
            say!("nothing"),
            say!("as it will be read"),
        ));
    };
    let beside = beside_words(b).map(|who| say!(", with {who} beside them", who)).unwrap_or_default();
    match leave_by(k, flow) {
        Ok(leave) => {
            let note = say!("the lowest reserve with which they may be in while the compressor feeds");
            let shown = b.units.quantity(&leave, 0, Rounding::Up);
            out.push(Figure::shown("leave_by", say!("leave by"), shown.clone(), note));
            let label = say!("reading of the reserve");
            out.push(Figure::limited(
                b.units,
                "reserve",
                label,
                reading,
                (Sense::AtLeast, &leave),
                0,
                &rests,
            ));
            changes.push(say_n!(
                k.planned,
                "{n} wearer{beside}: leave by {shown}",
                "{n} wearers{beside}: leave by {shown}",
                beside,
                shown
            ));
        }
        Err(why) => out.push(Figure::lacking("leave_by", say!("leave by"), why.to_string())),
    }
    if let Some(more) = k.flows.get(k.planned).copied() {
        let n = k.planned + 1;
        match leave_by(k, more) {
            Ok(leave) => {
                let at = b.units.quantity(&leave, 0, Rounding::Up);
                let goes = if leave.value > reading.quantity.value {
                    say!("above the reserve that is there")
                } else {
                    say!("as far as the reserve goes")
                };
                changes.push(say_n!(
                    n,
                    "{n} wearer{beside}: leave by {at}, {goes}",
                    "{n} wearers{beside}: leave by {at}, {goes}",
                    beside,
                    at,
                    goes
                ));
            }
            Err(_) => changes.push(say_n!(
                n,
                "{n} wearer{beside}: no reserve of this size is enough",
                "{n} wearers{beside}: no reserve of this size is enough",
                beside
            )),
        }
    }
    warning(b, k, flow, out)?;
    rows(b, k)
}

/// The leave-by pressure. On the day it is a whole bar, rounded up, against a reading in whole bar, which comes to the
/// same; in psi it is rounded by itself.
fn leave_by(k: &Known, flow: Flow) -> Result<Quantity, Refused> {
    leaned(k.reserve.leave_by(flow, k.needed)?.get(), "bar", Rounding::Up)
}

/// The field of a file as it was written.
fn written<'v>(values: &'v Values, field: &str) -> Option<&'v Written> {
    match values.get(field)? {
        Held::Quantity(w) => Some(w),
        Held::Id(_)
        | Held::Words(_)
        | Held::Text(_)
        | Held::Bool(_)
        | Held::Choice(_)
        | Held::Number(_)
        | Held::Date(_)
        | Held::Span { .. }
        | Held::TimeOfDay(_)
        | Held::Items(_)
        | Held::Map(_)
        | Held::Texts(_) => None,
    }
}

/// Minutes left when the low-reserve warning sounds, against the way out.
fn warning(b: &Basis<'_>, k: &Known, flow: Flow, out: &mut Vec<Figure>) -> Result<(), Refused> {
    let Some(at) = b.set.quantity("reserve_low_warning") else { return Ok(()) };
    let at = Gauge::new(say!("the low-reserve warning"), in_unit(Some(at), "bar"))?;
    let lasts = worked(k.reserve.endurance(at, flow)?.get(), "min", 0, Rounding::Down)?;
    let way_out = in_unit(b.job.quantity("way_out"), "min");
    let note = if in_unit(Some(&lasts), "min") < way_out {
        say!("LESS THAN THE WAY OUT: nobody waits for that warning")
    } else {
        say!("nobody waits for that warning")
    };
    let value = b.units.quantity(&lasts, 0, Rounding::Down);
    out.push(Figure::shown("warning_lasts", say!("it lasts from the low-reserve warning on"), value, note));
    let rescue = in_unit(b.job.quantity("rescue_minutes"), "min");
    let value = b.units.quantity(&from_float(rescue, "min")?, 0, Rounding::Up);
    out.push(Figure::shown("rescue", say!("rescuers reach a wearer after"), value, say!("from the call")));
    Ok(())
}

/// Readings from the floor's next fifty to the fill pressure.
fn rows(b: &Basis<'_>, k: &Known) -> Result<Vec<Row>, Refused> {
    let fill = b
        .set
        .items("cylinders")
        .iter()
        .map(|c| in_unit(c.quantity("fill_pressure"), "bar"))
        .fold(f64::NAN, f64::min);
    let shown = |p: f64| from_float(p, "bar").map(|q| b.units.quantity(&q, 0, Rounding::Down));
    let mut readings = (1..7)
        .map(|n| f64::from(n) * 50.0)
        .filter(|p| *p > k.reserve.floor.get() && *p <= fill && (p - k.reading.get()).abs() > 1e-9)
        .map(|p| shown(p).map(|words| (p, words)))
        .collect::<Result<Vec<_>, _>>()?;
    let own =
        reading(b).map_or_else(|| shown(k.reading.get()), |w| Ok(b.units.quantity(w, 0, Rounding::Down)));
    readings.push((k.reading.get(), own?));
    readings.sort_by(|x, y| x.0.total_cmp(&y.0));
    readings
        .into_iter()
        .map(|(p, words)| {
            let reading = Gauge::new(say!("the reading of the reserve"), p)?;
            let lasts = k
                .flows
                .iter()
                .map(|flow| {
                    let minutes =
                        worked(k.reserve.endurance(reading, *flow)?.get(), "min", 0, Rounding::Down)?;
                    let enough = in_unit(Some(&minutes), "min") >= k.needed.get();
                    Ok((b.units.quantity(&minutes, 0, Rounding::Down), enough))
                })
                .collect::<Result<_, Refused>>()?;
            Ok(Row { reading: words, lasts })
        })
        .collect()
}
