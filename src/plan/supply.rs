//! The electric supply: current, socket, cable.

use super::Basis;
use super::figure::{Figure, Sense, from_float, in_unit, worked};
use crate::air::Refused;
use crate::air::measure::{Amps, Metres, Ratio, SquareMillimetres, Volts};
use crate::air::supply::{Phases, cable, socket};
use crate::site::Values;
use crate::tongue::say;
use crate::units::{Quantity, Rounding};

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    kind(b, out, changes);
    if b.set.choice("driven_by") == Some("own_engine") {
        return;
    }
    let Some(motor) = b.set.map("motor") else {
        out.push(Figure::lacking("motor", say!("the motor"), say!("the set file says nothing of it").into()));
        return;
    };
    if let Err(why) = plug(b, motor, out, changes) {
        out.push(Figure::lacking("socket", say!("the socket"), why.to_string()));
    }
    gives(b, motor, out, changes);
    if let Err(why) = cables(b, motor, out, changes) {
        out.push(Figure::lacking("cable", say!("the supply cable"), why.to_string()));
    }
}

fn drawing() -> &'static str {
    say!("the site's drawing")
}

/// The supply point of the job.
fn point<'b>(b: &'b Basis<'_>) -> Option<&'b Values> {
    b.site.item("supply_points", b.job.text("supply_point").unwrap_or_default())
}

/// Whether the supply point is what drives the set.
fn kind(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    let Some(point) = point(b) else { return };
    let words = |kind: &str| match kind {
        "own_engine" => say!("its own engine").to_owned(),
        "generator" => say!("a generator").to_owned(),
        other => other.to_owned(),
    };
    if let (Some(drives), Some(kind)) = (b.set.choice("driven_by"), point.choice("kind"))
        && drives != kind
    {
        let (drives, kind) = (words(drives), words(kind));
        let why =
            say!("the set is driven by {drives}, {point} is {kind}", drives, point = b.name(point), kind);
        out.push(Figure::refused("driven_by", say!("what drives the set"), why));
        changes.push(say!("another supply point: {drives}", drives));
    }
}

/// What the supply point gives against what the motor takes.
fn gives(b: &Basis<'_>, motor: &Values, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    let Some(point) = point(b) else { return };
    for (field, from, to) in
        [("voltage", "voltage_from", "voltage_to"), ("frequency", "frequency_from", "frequency_to")]
    {
        let label = match field {
            "frequency" => say!("frequency of the supply point"),
            _ => say!("voltage of the supply point"),
        };
        let (Some(have), Some(least), Some(most)) =
            (point.quantity(field), motor.quantity(from), motor.quantity(to))
        else {
            out.push(Figure::lacking(field, label, say!("a file does not say it").into()));
            continue;
        };
        // The end that is nearer, or beyond which it lies.
        let low = &have.value - &least.value < &most.value - &have.value;
        let limit = if low { (Sense::AtLeast, least) } else { (Sense::AtMost, most) };
        let note = say!("the site's drawing, against the range of the motor");
        let figure = Figure::limited(b.units, field, label, have, limit, 0, note);
        if figure.met == Some(false) {
            let show = |q: &Quantity, r: Rounding| b.units.quantity(q, 0, r);
            let (least, most) = (show(least, Rounding::Up), show(most, Rounding::Down));
            changes.push(match field {
                "frequency" => say!("another supply point: frequency from {least} to {most}", least, most),
                _ => say!("another supply point: voltage from {least} to {most}", least, most),
            });
        }
        out.push(figure.counted());
    }
    if let (Some(have), Some(most)) = (point.quantity("rcd"), b.site.quantity("rcd")) {
        let label = say!("residual-current device of the supply point");
        let figure = Figure::limited(b.units, "rcd", label, have, (Sense::AtMost, most), 3, drawing());
        if figure.met == Some(false) {
            changes.push(say!("another supply point, or a residual-current device that trips sooner").into());
        }
        out.push(figure.counted());
    }
}

fn plug(
    b: &Basis<'_>,
    motor: &Values,
    out: &mut Vec<Figure>,
    changes: &mut Vec<String>,
) -> Result<(), Refused> {
    let current = Amps::new(say!("the full-load current"), in_unit(motor.quantity("current"), "A"))?;
    let amps = |a: f64| from_float(a, "A");
    let shown = b.units.quantity(&amps(current.get())?, 1, Rounding::Up);
    out.push(Figure::shown("full_load", say!("full-load current"), shown, say!("the plate")));
    let chosen = socket(current)?;
    if let Some(plug) = b.set.quantity("socket") {
        let wanted = amps(f64::from(chosen.rating()))?;
        let note = say!("smallest of IEC 60309 series I, from memory, that carries the full-load current");
        let label = say!("plug of the set");
        let figure = Figure::limited(b.units, "plug", label, plug, (Sense::AtLeast, &wanted), 0, note);
        out.push(figure.counted());
    }
    let point = point(b).and_then(|p| p.quantity("socket"));
    match (point, b.set.quantity("socket")) {
        (Some(point), Some(plug)) => {
            let label = say!("socket of the supply point");
            let figure =
                Figure::limited(b.units, "socket", label, point, (Sense::AtLeast, plug), 0, drawing());
            if figure.met == Some(false) {
                changes.push(say!("another supply point, with a larger socket").into());
            }
            out.push(figure.counted());
        }
        (None, _) => out.push(Figure::lacking(
            "socket",
            say!("socket of the supply point"),
            say!("the site file does not say").into(),
        )),
        (_, None) => out.push(Figure::lacking(
            "socket",
            say!("plug of the set"),
            say!("the set file does not say").into(),
        )),
    }
    Ok(())
}

fn number(values: &Values, field: &'static str) -> Result<Ratio, Refused> {
    Ratio::new(
        field,
        values.number(field).map_or(f64::NAN, |d| in_unit(Some(&Quantity::number(d.to_exact())), "")),
    )
}

fn cables(
    b: &Basis<'_>,
    motor: &Values,
    out: &mut Vec<Figure>,
    changes: &mut Vec<String>,
) -> Result<(), Refused> {
    let phases = if motor.choice("phases") == Some("one") { Phases::One } else { Phases::Three };
    let voltage = Volts::new(say!("the voltage"), in_unit(motor.quantity("voltage"), "V"))?;
    let current = in_unit(motor.quantity("current"), "A");
    let running = cable::Load {
        phases,
        voltage,
        current: Amps::new(say!("the full-load current"), current)?,
        power_factor: number(motor, "power_factor")?,
    };
    let starting = cable::Load {
        current: Amps::new(say!("the starting current"), current * number(motor, "start_ratio")?.get())?,
        power_factor: number(motor, "start_power_factor")?,
        ..running
    };
    let limits = cable::Limits {
        running: Ratio::new(say!("the limit of voltage lost"), in_unit(b.site.quantity("cable_drop"), ""))?,
        starting: Ratio::new(
            say!("the limit of voltage lost at the start"),
            in_unit(b.site.quantity("cable_drop_start"), ""),
        )?,
    };
    let conductor = crate::air::measure::Celsius::new(
        say!("the temperature of the conductors"),
        in_unit(b.site.quantity("conductor_temperature"), "°C"),
    )?;
    let starting_shown = b.units.quantity(&from_float(starting.current.get(), "A")?, 0, Rounding::Up);
    out.push(Figure::shown(
        "starting",
        say!("starting current"),
        starting_shown,
        say!("full-load current times the set's ratio"),
    ));
    let metres = |m: f64| from_float(m, "m").map(|q| b.units.quantity(&q, 0, Rounding::Down));
    let Some((length, section)) = &b.assumed.cable else {
        for (mm2, _) in cable::SIZES.iter().filter(|(mm2, _)| (2.5..=10.0).contains(mm2)) {
            let section = SquareMillimetres::new(say!("the section"), *mm2)?;
            let long = cable::longest(&running, section, conductor, limits.running)?;
            let short = cable::longest(&starting, section, conductor, limits.starting)?;
            let longest = if short < long { short } else { long };
            let note = say!(
                "by voltage lost, running and starting; that it carries the current is for whoever owns the supply"
            );
            let label = say!("longest supply cable of {mm2} mm2", mm2);
            out.push(Figure::shown("cable_longest", &label, metres(longest.get())?, note));
        }
        return Ok(());
    };
    let cable = cable::Cable {
        section: SquareMillimetres::new(
            say!("the section of the cable"),
            in_unit(Some(&section.quantity), "mm2"),
        )?,
        length: Metres::new(say!("the length of the cable"), in_unit(Some(&length.quantity), "m"))?,
        conductor,
    };
    let judged = cable::judge(&running, Some(&starting), &cable, &limits)?;
    let mut put =
        |id: &'static str, label: &str, drop: &Result<cable::VoltageDrop, Refused>, limit: Ratio| {
            let figure = match drop {
                Ok(drop) => {
                    let have = worked(drop.share.get() * 100.0, "%", 1, Rounding::Up);
                    match (have, from_float(limit.get() * 100.0, "%")) {
                        (Ok(have), Ok(most)) => {
                            let note = say!("exact, conductors at working temperature");
                            Figure::limited(b.units, id, label, &have, (Sense::AtMost, &most), 1, note)
                        }
                        (Err(why), _) | (_, Err(why)) => Figure::lacking(id, label, why.to_string()),
                    }
                }
                Err(why) => Figure::lacking(id, label, why.to_string()),
            };
            out.push(figure);
        };
    put("cable_running", say!("voltage lost in the cable, running"), &judged.running, limits.running);
    if let Some(starts) = &judged.starting {
        put("cable_starting", say!("voltage lost in the cable at the start"), starts, limits.starting);
    }
    if !judged.does {
        let longest = metres(judged.longest.get())?;
        changes.push(match &judged.would_do {
            Ok(section) => {
                say!(
                    "the supply cable: at most {longest} of this section, or {section} \
                     mm2",
                    longest,
                    section = section.get()
                )
            }
            Err(_) => say!(
                "the supply cable: at most {longest} of this section; no standard \
                 section does at that length",
                longest
            ),
        });
    }
    Ok(())
}
