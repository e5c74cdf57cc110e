//! The reserve: leave-by pressure, how long it lasts, over pressures and numbers of wearers.

use super::Basis;
use super::figure::{Figure, Sense, from_float, in_unit};
use super::flow::drawn;
use crate::air::Refused;
use crate::air::measure::{Absolute, Flow, Gauge, Litres, Minutes, Ratio};
use crate::air::reserve::{Reserve, needed};
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

struct Known {
    reserve: Reserve,
    reading: Gauge,
    needed: Minutes,
    /// Drawn by 1, 2, ... wearers; the last is everybody planned and one more.
    flows: Vec<Flow>,
    planned: usize,
}

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) -> Vec<Row> {
    if b.set.choice("reserve") == Some("none") {
        let dangerous = b.job.choice("atmosphere") != Some("not");
        let mut figure =
            Figure::shown("reserve", "reserve", "NONE: when it stops, the air is gone".into(), "");
        figure.met = Some(!dangerous);
        if dangerous {
            figure.note = "refused where the air is, could become or may be dangerous".into();
            changes.push("a set with a reserve, or work where the air can be breathed".into());
        }
        out.push(figure);
        return Vec::new();
    }
    match known(b) {
        Ok(k) => told(b, &k, out, changes).unwrap_or_else(|why| {
            out.push(Figure::lacking("reserve_lasts", "the reserve", why.to_string()));
            Vec::new()
        }),
        Err(why) => {
            out.push(Figure::lacking("reserve_lasts", "the reserve", why.to_string()));
            Vec::new()
        }
    }
}

fn known(b: &Basis<'_>) -> Result<Known, Refused> {
    let (cold, warm) = b.temperatures()?;
    let volume: f64 = b.set.items("cylinders").iter().map(|c| in_unit(c.quantity("volume"), "L")).sum();
    let ambient =
        Absolute::new("the ambient pressure", in_unit(b.site.quantity("ambient_pressure"), "bar_abs"))?;
    let volume = Litres::new("the water capacity of the reserve", volume)?;
    let reserve = Reserve::new(volume, ambient, warm, cold, b.gauge(b.set, "reserve_floor")?)?;
    let reading = b.assumed.reserve.as_ref().or_else(|| b.set.quantity("reserve_minimum"));
    let factor = b
        .site
        .number("way_out_factor")
        .map_or(f64::NAN, |d| in_unit(Some(&Quantity::number(d.to_exact())), ""));
    let minutes = |what: &'static str, q: Option<&Quantity>| Minutes::new(what, in_unit(q, "min"));
    let needed = needed(
        minutes("the way out", b.job.quantity("way_out"))?,
        Ratio::new("the factor on the way out", factor)?,
        minutes("the least time", b.site.quantity("way_out_floor"))?,
    )?;
    let all = drawn(b)?;
    let planned = b.wearers().len();
    let rescue: f64 = all.iter().skip(planned).map(|f| f.get()).sum();
    let hungriest = all.iter().map(|f| f.get()).fold(0.0, f64::max);
    // Fewer wearers: the hungriest of them stay. More: one more of the hungriest.
    let mut each: Vec<f64> = all.iter().take(planned).map(|f| f.get()).collect();
    each.sort_by(|x, y| y.total_cmp(x));
    each.push(hungriest);
    let mut sum = rescue;
    let flows = each
        .into_iter()
        .map(|f| {
            sum += f;
            Flow::new("the flow drawn", sum)
        })
        .collect::<Result<_, _>>()?;
    let reading = Gauge::new("the reading of the reserve", in_unit(reading, "bar"))?;
    Ok(Known { reserve, reading, needed, flows, planned })
}

fn told(
    b: &Basis<'_>,
    k: &Known,
    out: &mut Vec<Figure>,
    changes: &mut Vec<String>,
) -> Result<Vec<Row>, Refused> {
    let Some(flow) = k.flows.get(k.planned.saturating_sub(1)).copied().filter(|_| k.planned > 0) else {
        return Err(Refused::new("the number of wearers", "none", "for one or more"));
    };
    let bar = |p: f64| from_float(p, "bar");
    let min = |m: f64| from_float(m, "min");
    let r = &k.reserve;
    let rests = format!(
        "{} drawn, {} of cylinders, from {} read to {} at the floor of {}",
        b.units.quantity(&from_float(flow.get(), "L/min")?, 0, Rounding::Up),
        b.units.quantity(&from_float(r.volume.get(), "L")?, 0, Rounding::Down),
        b.units.temperature(r.warmest.get()),
        b.units.temperature(r.coldest.get()),
        b.units.quantity(&bar(r.floor.get())?, 0, Rounding::Up),
    );
    let wanted = min(k.needed.get())?;
    let lasts = min(r.endurance(k.reading, flow)?.get())?;
    let label = "how long the reserve lasts";
    out.push(Figure {
        // Minutes to spare are never shown: nobody works on reserve.
        margin: None,
        ..Figure::limited(b.units, "reserve_lasts", label, &lasts, (Sense::AtLeast, &wanted), 0, &rests)
    });
    let reading = bar(k.reading.get())?;
    match r.leave_by(flow, k.needed) {
        Ok(leave) => {
            let leave = bar(leave.get())?;
            let note = "the lowest reserve with which they may be in while the compressor feeds";
            let shown = b.units.quantity(&leave, 0, Rounding::Up);
            out.push(Figure::shown("leave_by", "leave by", shown.clone(), note));
            let label = "reading of the reserve";
            out.push(Figure::limited(
                b.units,
                "reserve",
                label,
                &reading,
                (Sense::AtLeast, &leave),
                0,
                &rests,
            ));
            changes
                .push(format!("{}: leave by {shown}", crate::text::counted(k.planned, "wearer", "wearers")));
        }
        Err(why) => out.push(Figure::lacking("leave_by", "leave by", why.to_string())),
    }
    if let Some(more) = k.flows.get(k.planned).copied() {
        let n = k.planned + 1;
        match r.leave_by(more, k.needed) {
            Ok(leave) if leave > k.reading => {
                let at = b.units.quantity(&bar(leave.get())?, 0, Rounding::Up);
                changes.push(format!("{n} wearers: leave by {at}, above the reserve that is there"));
            }
            Ok(leave) => {
                let at = b.units.quantity(&bar(leave.get())?, 0, Rounding::Up);
                changes.push(format!("{n} wearers: leave by {at}, as far as the reserve goes"));
            }
            Err(_) => changes.push(format!("{n} wearers: no reserve of this size is enough")),
        }
    }
    warning(b, k, flow, out)?;
    rows(b, k)
}

/// Minutes left when the low-reserve warning sounds, against the way out.
fn warning(b: &Basis<'_>, k: &Known, flow: Flow, out: &mut Vec<Figure>) -> Result<(), Refused> {
    let Some(at) = b.set.quantity("reserve_low_warning") else { return Ok(()) };
    let at = Gauge::new("the low-reserve warning", in_unit(Some(at), "bar"))?;
    let lasts = from_float(k.reserve.endurance(at, flow)?.get(), "min")?;
    let way_out = in_unit(b.job.quantity("way_out"), "min");
    let note = if in_unit(Some(&lasts), "min") < way_out {
        "LESS THAN THE WAY OUT: nobody waits for that warning"
    } else {
        "nobody waits for that warning"
    };
    let value = b.units.quantity(&lasts, 0, Rounding::Down);
    out.push(Figure::shown("warning_lasts", "it lasts from the low-reserve warning on", value, note));
    let rescue = in_unit(b.job.quantity("rescue_minutes"), "min");
    let value = b.units.quantity(&from_float(rescue, "min")?, 0, Rounding::Up);
    out.push(Figure::shown("rescue", "rescuers reach a wearer after", value, "from the call"));
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
    let mut readings: Vec<f64> =
        (1..7).map(|n| f64::from(n) * 50.0).filter(|p| *p > k.reserve.floor.get() && *p <= fill).collect();
    readings.push(k.reading.get());
    readings.sort_by(f64::total_cmp);
    readings.dedup();
    readings
        .into_iter()
        .map(|p| {
            let reading = Gauge::new("the reading of the reserve", p)?;
            let lasts = k
                .flows
                .iter()
                .map(|flow| {
                    let minutes = k.reserve.endurance(reading, *flow)?;
                    let words = b.units.quantity(&from_float(minutes.get(), "min")?, 0, Rounding::Down);
                    Ok((words, minutes >= k.needed))
                })
                .collect::<Result<_, Refused>>()?;
            Ok(Row { reading: b.units.quantity(&from_float(p, "bar")?, 0, Rounding::Down), lasts })
        })
        .collect()
}
