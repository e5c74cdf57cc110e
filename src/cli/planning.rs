//! `airwrit plan`: a job worked out from its files before anyone travels.

use super::args::Plan;
use super::{End, Outcome, Outside, could_not, print_json};
use crate::plan::{Assumed, Units, plan as work_out};
use crate::site::{Read, Values, read_job, read_set, read_site};
use crate::text::safe_line;
use crate::units::{Dimension, Quantity};
use std::path::Path;

/// `airwrit plan`.
pub fn plan(p: &Plan, outside: &mut Outside<'_>) -> Outcome {
    let set = file(&p.set, read_set, outside)?;
    let site = file(&p.site, read_site, outside)?;
    let job = file(&p.job, read_job, outside)?;
    let job = job.worked_out(&site, &|_| None).map_err(|lacks| could_not(lacks.join("; ")))?;
    let units = match p.units.as_deref().or_else(|| site.choice("units")) {
        Some("us") => Units::Us,
        Some("both") => Units::Both,
        Some(_) | None => Units::Metric,
    };
    let typed =
        |text: &Option<String>, dimension: Dimension, example: &str| -> Result<Option<Quantity>, End> {
            let Some(t) = text else { return Ok(None) };
            match Quantity::read(t) {
                Ok(q) if q.dimension == dimension => Ok(Some(q)),
                Ok(_) | Err(_) => Err(End::Usage(format!(
                    "got `{}`, wanted {}, like \"{example}\"",
                    safe_line(t),
                    dimension.words()
                ))),
            }
        };
    let temperature = |t: &Option<String>| typed(t, Dimension::Temperature, "-2 °C");
    let temperatures = match (temperature(&p.low)?, temperature(&p.high)?) {
        (Some(low), Some(high)) if low.value <= high.value => Some((low, high)),
        (Some(_), Some(_)) => return Err(End::Usage("--low is above --high".into())),
        (None, None) => None,
        (Some(_), None) | (None, Some(_)) => {
            return Err(End::Usage(
                "the lowest and the highest temperature go together: --low and --high".into(),
            ));
        }
    };
    let cable =
        match (typed(&p.cable, Dimension::Length, "35 m")?, typed(&p.section, Dimension::Area, "4 mm2")?) {
            (Some(length), Some(section)) => Some((length, section)),
            (None, None) => None,
            (Some(_), None) | (None, Some(_)) => {
                return Err(End::Usage(
                    "length and section of the cable go together: --cable and --section".into(),
                ));
            }
        };
    let zone = jiff::tz::TimeZone::get(site.text("zone").unwrap_or("UTC")).unwrap_or(jiff::tz::TimeZone::UTC);
    let now = crate::time::Moment::new((outside.second)(), &zone);
    let assumed = Assumed {
        temperatures,
        reserve: typed(&p.reserve, Dimension::Pressure, "207 bar")?,
        cable,
        today: now.date(),
    };
    let plan = work_out(&set, &site, &job, &assumed, units).map_err(could_not)?;
    if p.json {
        print_json(&plan, outside.out)?;
    } else {
        write!(outside.out, "{}", crate::text::safe(&crate::show::plan::plan(&plan)))?;
        writeln!(
            outside.err,
            "worked out from files, before anything is read: on the day the steps work it out again. It permits nothing"
        )?;
    }
    if plan.fits { Ok(()) } else { Err(End::No) }
}

fn file(path: &Path, read: fn(&str, &[u8]) -> Read, outside: &mut Outside<'_>) -> Result<Values, End> {
    let bytes = crate::disk::read_file(path)?;
    let found = read(&path.display().to_string(), &bytes);
    for f in &found.findings {
        writeln!(outside.err, "{}", crate::text::safe(&f.to_string()))?;
    }
    found
        .file
        .map(|f| f.values().clone())
        .ok_or_else(|| could_not(format!("{} has errors: `airwrit lint` tells them all", path.display())))
}
