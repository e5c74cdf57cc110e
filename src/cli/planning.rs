//! `airwrit plan`: a job worked out from its files before anyone travels.

use super::args::Plan;
use super::{End, Outcome, Outside, could_not, print_json};
use crate::permit::decide::open::problems_of_files;
use crate::plan::{Assumed, Units, plan as work_out};
use crate::site::{Read, Values, Written, read_job, read_set, read_site};
use crate::text::safe_line;
use crate::tongue::say;
use crate::units::{Dimension, Quantity};
use num_traits::Signed;
use std::path::Path;

/// `airwrit plan`.
pub fn plan(p: &Plan, outside: &mut Outside<'_>) -> Outcome {
    let set = file(&p.set, read_set, outside)?;
    let site = file(&p.site, read_site, outside)?;
    let job = file(&p.job, read_job, outside)?;
    let units = match p.units.as_deref().or_else(|| site.choice("units")) {
        Some("us") => Units::Us,
        Some("both") => Units::Both,
        Some(_) | None => Units::Metric,
    };
    let typed = |text: &Option<String>,
                 dimension: Dimension,
                 example: &str|
     -> Result<Option<Written>, End> {
        let Some(t) = text else { return Ok(None) };
        let wrong =
            |wanted: &str| End::Usage(say!("got `{got}`, wanted {wanted}", got = safe_line(t), wanted));
        match Quantity::read_with_unit(t) {
            Ok((q, _, _)) if q.dimension != dimension => {
                Err(wrong(&say!("{quantity}, like \"{example}\"", quantity = dimension.words(), example)))
            }
            // Any temperature may be below nought; nothing else that is asked for can be.
            Ok((q, _, _)) if dimension != Dimension::Temperature && !q.value.is_positive() => Err(wrong(
                &say!("{quantity} above nought, like \"{example}\"", quantity = dimension.words(), example),
            )),
            Ok((quantity, number, Some(unit))) => Ok(Some(Written { quantity, number, unit })),
            Ok((_, _, None)) | Err(_) => {
                Err(wrong(&say!("{quantity}, like \"{example}\"", quantity = dimension.words(), example)))
            }
        }
    };
    let temperature = |t: &Option<String>| typed(t, Dimension::Temperature, "-2 °C");
    let temperatures = match (temperature(&p.low)?, temperature(&p.high)?) {
        (Some(low), Some(high)) if low.quantity.value <= high.quantity.value => Some((low, high)),
        (Some(_), Some(_)) => return Err(End::Usage(say!("--low is above --high").into())),
        (None, None) => None,
        (Some(_), None) | (None, Some(_)) => {
            return Err(End::Usage(
                say!("the lowest and the highest temperature go together: --low and --high").into(),
            ));
        }
    };
    let cable =
        match (typed(&p.cable, Dimension::Length, "35 m")?, typed(&p.section, Dimension::Area, "4 mm2")?) {
            (Some(length), Some(section)) => Some((length, section)),
            (None, None) => None,
            (Some(_), None) | (None, Some(_)) => {
                return Err(End::Usage(
                    say!("length and section of the cable go together: --cable and --section").into(),
                ));
            }
        };
    let given =
        Given { temperatures, reserve: typed(&p.reserve, Dimension::Pressure, "207 bar")?, cable, units };
    let plan = of_values(&set, &site, &job, given, (outside.second)())?;
    if p.json {
        print_json(&plan, outside.out)?;
    } else {
        write!(outside.out, "{}", crate::text::safe(&crate::show::plan::plan(&plan)))?;
        writeln!(
            outside.err,
            "{}",
            say!(
                "worked out from files, before anything is read: on the day the steps work it out again. It permits nothing"
            )
        )?;
    }
    if plan.fits { Ok(()) } else { Err(End::No) }
}

/// What is known beside the files.
pub struct Given {
    /// Lowest and highest temperature.
    pub temperatures: Option<(Written, Written)>,
    /// The reserve as it will be read.
    pub reserve: Option<Written>,
    /// Length and section of the supply cable.
    pub cable: Option<(Written, Written)>,
    /// Units that people see.
    pub units: Units,
}

/// The same of files that were read already; the job is worked out with its site here.
pub fn of_values(
    set: &Values,
    site: &Values,
    job: &Values,
    given: Given,
    second: i64,
) -> Result<crate::plan::Plan, End> {
    let job = job.worked_out(site, &|_| None).map_err(|lacks| could_not(lacks.join("; ")))?;
    let zone = jiff::tz::TimeZone::get(site.text("zone").unwrap_or("UTC")).unwrap_or(jiff::tz::TimeZone::UTC);
    let assumed = Assumed {
        temperatures: given.temperatures,
        reserve: given.reserve,
        cable: given.cable,
        today: crate::time::Moment::new(second, &zone).date(),
        refused: problems_of_files(&job, set, site),
        language: None,
    };
    work_out(set, site, &job, &assumed, given.units).map_err(could_not)
}

fn file(path: &Path, read: fn(&str, &[u8]) -> Read, outside: &mut Outside<'_>) -> Result<Values, End> {
    let bytes = crate::disk::read_file(path)?;
    let found = read(&path.display().to_string(), &bytes);
    for f in &found.findings {
        writeln!(outside.err, "{}", crate::text::safe(&f.to_string()))?;
    }
    found.file.map(|f| f.values().clone()).ok_or_else(|| {
        could_not(say!("{file} has errors: `airwrit lint` tells them all", file = path.display()))
    })
}
