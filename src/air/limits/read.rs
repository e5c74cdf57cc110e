//! Reading a limit profile: the file as `serde_yaml` reads it into types, then every figure looked at.
//!
//! Always: no key that is not known here, none twice; no figure looser than [`LOOSEST`]. Not here: what the
//! figures are for (`limits`), places in the file (profiles ship, and a test reads them all).

use super::{At, DewRule, Figure, Known, Limit, Profile, Row, Source, Water};
use crate::air::Refused;
use crate::units::{Dimension, Quantity};
use num_traits::Signed;
use serde::Deserialize;
use std::cmp::Ordering;

const LONGEST_FILE: usize = 64 * 1024;

/// Between which figures a limit may stand: the ranges of a site file's `limits`. Their loose ends are the loosest
/// of the rules known here (29 CFR 1910.134(i) for all but water).
const LOOSEST: [(&str, &str, &str); 6] = [
    ("o2.from", "19.5 %", "21 %"),
    ("o2.to", "21 %", "23.5 %"),
    ("co.most", "0.1 ppm", "10 ppm"),
    ("co2.most", "300 ppm", "1000 ppm"),
    ("oil.most", "0.01 mg/m3", "5 mg/m3"),
    ("water.most", "10 mg/m3", "1000 mg/m3"),
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    profile: String,
    title: String,
    state: String,
    o2: BetweenFile,
    co: MostFile,
    co2: MostFile,
    oil: MostFile,
    odour: Option<SourceFile>,
    liquid_water: Option<SourceFile>,
    #[serde(default)]
    water: WaterFile,
    #[serde(default)]
    dew_point: DewFile,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BetweenFile {
    from: String,
    to: String,
    source: String,
    known: KnownFile,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MostFile {
    most: String,
    source: String,
    known: KnownFile,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SourceFile {
    source: String,
    known: KnownFile,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WaterFile {
    #[serde(default)]
    line: Vec<RowFile>,
    #[serde(default)]
    cylinder: Vec<RowFile>,
    #[serde(default)]
    charging: Vec<RowFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RowFile {
    from: Option<String>,
    to: String,
    most: String,
    source: String,
    known: KnownFile,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct DewFile {
    line: Option<DewRuleFile>,
    cylinder: Option<DewRuleFile>,
    charging: Option<DewRuleFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DewRuleFile {
    at: AtFile,
    below_lowest: Option<String>,
    lowest_unknown: Option<String>,
    most: Option<String>,
    source: String,
    known: KnownFile,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum KnownFile {
    Read,
    Memory,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum AtFile {
    Line,
    OneAtmosphere,
}

pub(super) fn profile(text: &str) -> Result<Profile, Refused> {
    if text.len() > LONGEST_FILE {
        return Err(wrong(format!("{} bytes long", text.len()), "to 65536 bytes"));
    }
    let file: File =
        serde_yaml::from_str(text).map_err(|e| wrong(format!("not read: {e}"), "as a limit profile"))?;
    let id = file.profile;
    let letters = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if !id.starts_with(|c: char| c.is_ascii_lowercase()) || id.len() > 32 || !id.chars().all(letters) {
        return Err(wrong(format!("called {id:?}"), "by a name of small letters, digits and -, to 32"));
    }
    Ok(Profile {
        id,
        title: said("title", file.title)?,
        state: said("state", file.state)?,
        o2: Limit {
            from: Some(bounded("o2.from", &file.o2.from)?),
            most: Some(bounded("o2.to", &file.o2.to)?),
            source: source(file.o2.source, &file.o2.known)?,
        },
        co: most("co.most", file.co)?,
        co2: most("co2.most", file.co2)?,
        oil: most("oil.most", file.oil)?,
        odour: file.odour.map(|s| source(s.source, &s.known)).transpose()?,
        liquid_water: file.liquid_water.map(|s| source(s.source, &s.known)).transpose()?,
        line: water(file.water.line, file.dew_point.line)?,
        cylinder: water(file.water.cylinder, file.dew_point.cylinder)?,
        charging: water(file.water.charging, file.dew_point.charging)?,
    })
}

fn wrong(got: impl Into<String>, wanted: &str) -> Refused {
    Refused::new("the limit profile", got, wanted)
}

fn said(name: &str, text: String) -> Result<String, Refused> {
    if text.trim().is_empty() || text.len() > 300 {
        return Err(wrong(
            format!("without words in `{name}`, or with too many"),
            "with 1 to 300 bytes there",
        ));
    }
    Ok(text)
}

fn source(text: String, known: &KnownFile) -> Result<Source, Refused> {
    let known = match known {
        KnownFile::Read => Known::Read,
        KnownFile::Memory => Known::Memory,
    };
    Ok(Source { text: said("source", text)?, known })
}

/// A figure of one dimension, with its unit.
fn figure(name: &str, text: &str, dimension: Dimension) -> Result<Figure, Refused> {
    let (quantity, _, unit) = Quantity::read_with_unit(text)
        .map_err(|e| wrong(format!("wrong in `{name}`: {e}"), "with a quantity"))?;
    match unit {
        Some(unit) if quantity.dimension == dimension => Ok(Figure { quantity, unit }),
        Some(_) | None => {
            Err(wrong(format!("wrong in `{name}`: {text:?}"), &format!("with {}", dimension.words())))
        }
    }
}

/// A figure between the two that its row of [`LOOSEST`] names.
fn bounded(name: &str, text: &str) -> Result<Figure, Refused> {
    let row = LOOSEST.iter().find(|(n, _, _)| *n == name);
    let ends =
        row.and_then(|(_, from, to)| Some((Quantity::read(from).ok()?, Quantity::read(to).ok()?, from, to)));
    let (from, to, from_text, to_text) =
        ends.ok_or_else(|| wrong(format!("asked for `{name}`"), "by a name it has"))?;
    let read = figure(name, text, from.dimension)?;
    let inside = read.quantity.compare(&from).is_some_and(Ordering::is_ge)
        && read.quantity.compare(&to).is_some_and(Ordering::is_le);
    if inside {
        Ok(read)
    } else {
        Err(wrong(
            format!("out of its range in `{name}`: {text:?}"),
            &format!("from {from_text} to {to_text}"),
        ))
    }
}

fn most(name: &str, file: MostFile) -> Result<Limit, Refused> {
    Ok(Limit {
        from: None,
        most: Some(bounded(name, &file.most)?),
        source: source(file.source, &file.known)?,
    })
}

fn water(rows: Vec<RowFile>, dew: Option<DewRuleFile>) -> Result<Water, Refused> {
    let rows = rows.into_iter().map(row).collect::<Result<Vec<Row>, Refused>>()?;
    for pair in rows.windows(2) {
        let limit = |row: &Row| row.limit.most.as_ref().map(|f| f.quantity.value.clone());
        if pair[1].to.quantity.value <= pair[0].to.quantity.value || limit(&pair[1]) > limit(&pair[0]) {
            return Err(wrong("out of order in its rows of water", "by rising pressure and falling limit"));
        }
    }
    Ok(Water { rows, dew_point: dew.map(dew_rule).transpose()? })
}

fn row(file: RowFile) -> Result<Row, Refused> {
    let pressure = |name: &str, text: &str| {
        let read = figure(name, text, Dimension::Pressure)?;
        if read.quantity.value.is_positive() {
            Ok(read)
        } else {
            Err(wrong(format!("wrong in `{name}`: {text:?}"), "above 0 bar"))
        }
    };
    let from = file.from.as_deref().map(|text| pressure("water.from", text)).transpose()?;
    let to = pressure("water.to", &file.to)?;
    if from.as_ref().is_some_and(|from| from.quantity.value >= to.quantity.value) {
        return Err(wrong("with a row of water that ends before it begins", "with `from` under `to`"));
    }
    let limit = Limit {
        from: None,
        most: Some(bounded("water.most", &file.most)?),
        source: source(file.source, &file.known)?,
    };
    Ok(Row { from, to, limit })
}

fn dew_rule(file: DewRuleFile) -> Result<DewRule, Refused> {
    let point = |name: &str, text: &Option<String>, dimension: Dimension| {
        text.as_deref().map(|text| figure(name, text, dimension)).transpose()
    };
    let rule = DewRule {
        at: match file.at {
            AtFile::Line => At::Line,
            AtFile::OneAtmosphere => At::OneAtmosphere,
        },
        below_lowest: point("dew_point.below_lowest", &file.below_lowest, Dimension::TemperatureDifference)?,
        lowest_unknown: point("dew_point.lowest_unknown", &file.lowest_unknown, Dimension::Temperature)?,
        most: point("dew_point.most", &file.most, Dimension::Temperature)?,
        source: source(file.source, &file.known)?,
    };
    if rule.below_lowest.as_ref().is_some_and(|f| !f.quantity.value.is_positive()) {
        return Err(wrong("wrong in `dew_point.below_lowest`", "with a margin above 0 K"));
    }
    // Without its margin, the default for an unknown temperature would be the rule for every temperature.
    if rule.below_lowest.is_some() == rule.most.is_some()
        || (rule.most.is_some() && rule.lowest_unknown.is_some())
    {
        return Err(wrong(
            "unclear in `dew_point`",
            "with either `most`, or `below_lowest` and perhaps `lowest_unknown`",
        ));
    }
    Ok(rule)
}
