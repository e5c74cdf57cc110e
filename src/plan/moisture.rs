//! Water: how dry the air must be for the coldest spot of the hose, and which of rule and table decides.

use super::Basis;
use super::figure::{Figure, from_float, in_unit};
use crate::air::Refused;
use crate::air::measure::{Absolute, Content, Kelvins};
use crate::air::moisture::{Decides, allowed};
use crate::air::reserve::absolute;
use crate::tongue::say;
use crate::units::Rounding;

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>) {
    if let Err(why) = dry(b, out) {
        out.push(Figure::lacking("water", say!("water the air may hold"), why.to_string()));
    }
}

fn dry(b: &Basis<'_>, out: &mut Vec<Figure>) -> Result<(), Refused> {
    let (low, _) = b.temperatures()?;
    let margin = Kelvins::new(
        say!("the margin of the dew point"),
        in_unit(b.site.quantity("limits.dew_margin"), "K"),
    )?;
    let ambient =
        Absolute::new(say!("the ambient pressure"), in_unit(b.site.quantity("ambient_pressure"), "bar_abs"))?;
    let line = absolute(b.gauge(b.set, "supply_pressure_to")?, ambient)?;
    let table = Content::new(
        say!("the site's limit of water"),
        in_unit(b.site.quantity("limits.water_most"), "mg/m3"),
    )?;
    let may = allowed(line, Some(low), margin, Some(table))?;
    let dew_shown = b.units.quantity(&from_float(may.dew_point.get(), "°C")?, 1, Rounding::Down);
    let note =
        say!("so far below the coldest spot, {temperature}", temperature = b.units.temperature(low.get()));
    out.push(Figure::shown("dew_point_most", say!("pressure dew point, at most"), dew_shown, &note));
    let which = match may.decides {
        Decides::Rule => say!("the dew point decides, stricter than the table"),
        Decides::Table => say!("the table decides, stricter than the dew point"),
    };
    let shown = b.units.quantity(&from_float(may.most.get(), "mg/m3")?, 0, Rounding::Down);
    let note = say!("at the highest supply pressure; {which}", which);
    out.push(Figure::shown("water_most", say!("water content, at most"), shown, &note));
    Ok(())
}
