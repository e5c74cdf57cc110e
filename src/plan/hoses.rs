//! Hoses: the maker's table, which rules, and the pressure worked out at the mask end.

use super::Basis;
use super::figure::{Figure, Sense, from_float, in_unit, worked};
use super::flow::flow;
use crate::air::Refused;
use crate::air::hose::{Line, end_pressure};
use crate::air::measure::{Absolute, Gauge, Metres, Millimetres};
use crate::site::Values;
use crate::tongue::say;
use crate::units::{Quantity, Rounding};

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    for w in b.wearers() {
        let who = b.name(w);
        table(b, w, &who, out);
        match at_mask(b, w) {
            Ok((left, wanted)) => {
                let note = say!(
                    "at the lowest supply pressure, highest temperature, drawing all they can; the table rules"
                );
                let figure = Figure::limited(
                    b.units,
                    "mask_pressure",
                    say!("pressure at the mask end"),
                    &left,
                    (Sense::AtLeast, &wanted),
                    2,
                    note,
                );
                if figure.met == Some(false) {
                    changes.push(say!(
                        "{who}: a wider or shorter hose, fewer sections, or more supply pressure",
                        who
                    ));
                }
                out.push(figure.of(&who));
            }
            Err(why) => {
                out.push(
                    Figure::lacking("mask_pressure", say!("pressure at the mask end"), why.to_string())
                        .of(&who),
                );
            }
        }
    }
}

/// The maker's table: length, sections, supply pressure.
fn table(b: &Basis<'_>, w: &Values, who: &str, out: &mut Vec<Figure>) {
    let mut put = |id: &'static str,
                   label: &str,
                   have: Option<&Quantity>,
                   sense: Sense,
                   limit: Option<&Quantity>,
                   d: u8| {
        out.push(match (have, limit) {
            (Some(have), Some(limit)) => {
                let figure = Figure::limited(
                    b.units,
                    id,
                    label,
                    have,
                    (sense, limit),
                    d,
                    say!("the maker's hose table"),
                );
                let figure = if id == "hose_sections" { figure.counted() } else { figure };
                figure.of(who)
            }
            (_, _) => Figure::lacking(id, label, say!("a file does not say it").into()).of(who),
        });
    };
    put(
        "hose_length",
        say!("length of the hose"),
        w.quantity("hose_length"),
        Sense::AtMost,
        w.quantity("length_most"),
        0,
    );
    let number = |field: &str| w.number(field).map(|d| Quantity::number(d.to_exact()));
    let (have, most) = (number("hose_sections"), number("sections_most"));
    put("hose_sections", say!("sections of the hose"), have.as_ref(), Sense::AtMost, most.as_ref(), 0);
    let set = |field: &str| b.set.quantity(field);
    let from = set("supply_pressure_from");
    put("supply_from", say!("lowest supply pressure"), from, Sense::AtLeast, w.quantity("pressure_from"), 1);
    put(
        "supply_to",
        say!("highest supply pressure"),
        set("supply_pressure_to"),
        Sense::AtMost,
        w.quantity("pressure_to"),
        1,
    );
}

fn at_mask(b: &Basis<'_>, w: &Values) -> Result<(Quantity, Quantity), Refused> {
    let (_, high) = b.temperatures()?;
    let sections =
        w.number("hose_sections").map_or(f64::NAN, |d| in_unit(Some(&Quantity::number(d.to_exact())), ""));
    let each = in_unit(b.site.quantity("coupling_loss"), "bar");
    let line = Line {
        bore: Millimetres::new(say!("the bore of the hose"), in_unit(w.quantity("hose_bore"), "mm"))?,
        length: Metres::new(say!("the length of the hose"), in_unit(w.quantity("hose_length"), "m"))?,
        couplings: Gauge::new(say!("what the couplings lose"), each * sections)?,
        flow: flow(w, "most")?,
        temperature: high,
    };
    let ambient =
        Absolute::new(say!("the ambient pressure"), in_unit(b.site.quantity("ambient_pressure"), "bar_abs"))?;
    let left = end_pressure(&line, b.gauge(b.set, "supply_pressure_from")?, ambient)?;
    let wanted = b.gauge(w, "inlet_from")?;
    Ok((worked(left.get(), "bar", 2, Rounding::Down)?, from_float(wanted.get(), "bar")?))
}
