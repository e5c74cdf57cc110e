//! An air test as typed: readings with their units, how far each may be off, to the members of its line.
//!
//! Always: an uncertainty belongs to a reading that is given, in a unit that fits it; a share of the reading is
//! worked out here and rounded up. Not here: whether the air is fit (`air::limits`, gates).

use super::args::AirTest;
use super::{End, Outcome, Outside, Place, Tells};
use crate::actions::Looked;
use crate::air::limits::{
    self, Answer, At, Calibration, DewPoint, Profile, Reading, SamplePoint, Uncertainty,
};
use crate::permit::bench;
use crate::permit::decide::answer::clean;
use crate::record::json::{Json, sorted};
use crate::text::safe_line;
use crate::tongue::say;
use crate::units::{Decimal, Dimension, Quantity, Rounding, Unit};
use jiff::civil::Date;
use num_rational::BigRational;
use num_traits::Signed;

/// Readings, what each measures, and whether an instrument has a lowest mark for it.
const READINGS: [(&str, Dimension, bool); 6] = [
    ("co", Dimension::Fraction, true),
    ("co2", Dimension::Fraction, true),
    ("dew_point", Dimension::Temperature, false),
    ("o2", Dimension::Fraction, false),
    ("oil", Dimension::Concentration, true),
    ("water", Dimension::Concentration, true),
];

/// The members of the line but set and time.
pub fn members(t: &AirTest) -> Result<Vec<(String, Json)>, End> {
    let mut out = vec![
        ("place".to_owned(), clean(&t.place)?.into()),
        ("sampler".to_owned(), clean(&t.sampler)?.into()),
    ];
    let plain = [
        ("certificate", &t.certificate),
        ("date", &t.date),
        ("instrument", &t.instrument),
        ("instrument_good", &t.instrument_good),
        ("sample_point", &t.sample_point),
        ("smell", &t.smell),
    ];
    for (name, value) in plain {
        if let Some(v) = value {
            if matches!(name, "date" | "instrument_good") && v.parse::<jiff::civil::Date>().is_err() {
                return Err(End::Usage(say!(
                    "got `{got}`, wanted a day like 2026-11-25",
                    got = safe_line(v)
                )));
            }
            out.push((name.to_owned(), clean(v)?.into()));
        }
    }
    for (name, typed, dimension) in [
        ("line_pressure", &t.line_pressure, Dimension::Pressure),
        ("line_temperature", &t.line_temperature, Dimension::Temperature),
    ] {
        out.extend(quantity_member(name, typed.as_ref())?);
        typed.iter().try_for_each(|typed| measures(name, typed, dimension))?;
    }
    let mut below = Vec::new();
    for (name, dimension, has_mark) in READINGS {
        let Some(typed) = reading(t, name) else { continue };
        let (typed, is_below) = match typed.trim().strip_prefix('<') {
            Some(mark) if has_mark => (mark.trim().to_owned(), true),
            Some(_) => return Err(End::Usage(say!("{name} has no lowest mark to be below", name))),
            None => (typed.clone(), false),
        };
        let member = quantity_member(name, Some(&typed))?;
        measures(name, &typed, dimension)?;
        if is_below {
            below.push(Json::from(name));
        }
        out.extend(member);
    }
    if !below.is_empty() {
        out.push(("below".into(), Json::Arr(below)));
    }
    let within = t.within.iter().map(|w| within(t, w)).collect::<Result<Vec<_>, End>>()?;
    let twice = |(i, (name, _)): (usize, &(String, Json))| within.iter().skip(i + 1).any(|(n, _)| n == name);
    if let Some((_, (name, _))) = within.iter().enumerate().find(|(i, w)| twice((*i, w))) {
        return Err(End::Usage(say!("--within says twice how far {name} may be off", name)));
    }
    if !within.is_empty() {
        out.push(("within".into(), sorted(within)));
    }
    Ok(out)
}

fn reading<'a>(t: &'a AirTest, name: &str) -> Option<&'a String> {
    match name {
        "co" => t.co.as_ref(),
        "co2" => t.co2.as_ref(),
        "dew_point" => t.dew_point.as_ref(),
        "o2" => t.o2.as_ref(),
        "oil" => t.oil.as_ref(),
        "water" => t.water.as_ref(),
        _ => None,
    }
}

fn measures(name: &str, typed: &str, dimension: Dimension) -> Result<(), End> {
    let whole = crate::units::unit("%").map(|u| u.to_base(&BigRational::from_integer(100.into())));
    match Quantity::read(typed) {
        Ok(q) if q.dimension == Dimension::Fraction && whole.is_some_and(|w| q.value > w) => {
            let got = safe_line(typed);
            Err(End::Usage(say!("{name} is {got}, which is more than all of the air", name, got)))
        }
        Ok(q) if q.dimension != Dimension::Temperature && q.value.is_negative() => Err(End::Usage(say!(
            "{name} is {got}, below nought: zero the instrument, test again",
            name,
            got = safe_line(typed)
        ))),
        Ok(q) if q.dimension == dimension => Ok(()),
        Ok(_) | Err(_) => {
            let usual = dimension.usual_unit().map(Unit::symbol).unwrap_or_default();
            Err(End::Usage(say!(
                "{name} is {got}, wanted {quantity}, like \"5 {unit}\"",
                name,
                got = safe_line(typed),
                quantity = dimension.words(),
                unit = usual
            )))
        }
    }
}

/// `co=0.4 ppm` or `co=25 % of it`.
fn within(t: &AirTest, typed: &str) -> Result<(String, Json), End> {
    let usage = |why: &str| {
        End::Usage(say!(
            "--within {got}: {why}; write co=\"0.4 ppm\" or co=\"25 % of it\"",
            got = safe_line(typed),
            why
        ))
    };
    let (name, far) = typed.split_once('=').ok_or_else(|| usage(say!("wanted NAME=HOW_FAR")))?;
    let (name, far) = (name.trim(), far.trim());
    let (_, dimension, _) = READINGS
        .into_iter()
        .find(|(n, ..)| *n == name)
        .ok_or_else(|| usage(say!("there is no such reading")))?;
    let value = reading(t, name).ok_or_else(|| usage(say!("that reading is not given")))?;
    if far.ends_with('%') && !value.trim().ends_with('%') {
        return Err(usage(&say!(
            "a share of the reading is written {name}=\"{share} of it\"",
            name,
            share = far
        )));
    }
    let value = value.trim().trim_start_matches('<').trim();
    let text = match far.strip_suffix("of it").map(str::trim) {
        Some(_) if dimension == Dimension::Temperature => {
            return Err(usage(say!("a share of a temperature means nothing, wanted like 2 K")));
        }
        Some(share) => {
            let share = Quantity::read(share).ok().filter(|s| s.dimension == Dimension::Fraction);
            let share = share.ok_or_else(|| usage(say!("wanted a share like 25 % of it")))?;
            let (quantity, _, unit) = Quantity::read_with_unit(value).map_err(|e| usage(&e.to_string()))?;
            let unit = unit.ok_or_else(|| usage(say!("the reading has no unit")))?;
            let far = Quantity { value: quantity.value * share.value, dimension };
            let far = far.in_unit(unit).ok_or_else(|| usage(say!("the reading has no unit")))?;
            let number = Decimal::exactly(&far).or_else(|| Decimal::round(&far, 6, Rounding::Up).ok());
            format!("{} {}", number.ok_or_else(|| usage(say!("it cannot be written")))?, unit.symbol())
        }
        None => {
            let (quantity, number, unit) =
                Quantity::read_with_unit(far).map_err(|e| usage(&e.to_string()))?;
            let fits = if dimension == Dimension::Temperature {
                Dimension::TemperatureDifference
            } else {
                dimension
            };
            if quantity.dimension != fits {
                return Err(usage(&say!("wanted {quantity}", quantity = fits.words())));
            }
            format!("{number} {}", unit.map(Unit::symbol).unwrap_or_default())
        }
    };
    if text.starts_with('-') {
        return Err(usage(say!("an uncertainty is not negative")));
    }
    Ok((name.to_owned(), text.into()))
}

/// What a rule says of the test, component by component; for people, and for nobody's permit.
fn verdicts(
    t: &AirTest,
    profile: &Profile,
    supply: Option<&Quantity>,
    ambient: &Quantity,
    today: Date,
    counts: bool,
) -> Vec<(Option<Tells>, String)> {
    let date = t.date.as_deref().and_then(|d| d.parse().ok()).unwrap_or(today);
    let point = match t.sample_point.as_deref() {
        Some("mask_end") => SamplePoint::MaskEnd,
        Some("cylinder") => SamplePoint::Cylinder,
        // Not said: judged as at an outlet, the line's limits.
        Some(_) | None => SamplePoint::Outlet,
    };
    let with = t.certificate.clone().or_else(|| t.instrument.clone()).unwrap_or_default();
    let mut test = limits::AirTest::new(date, with, point);
    let good_until = t.instrument_good.as_deref().and_then(|d| d.parse::<Date>().ok());
    test.calibration = match (&t.certificate, &t.instrument) {
        // A laboratory answers for its own instruments.
        (Some(_), None) => Some(Calibration::Certificate),
        (_, _) => good_until.map(Calibration::GoodUntil),
    };
    let quantity = |text: &Option<String>| Quantity::read(text.as_deref()?).ok();
    test.line_pressure = quantity(&t.line_pressure);
    test.line_temperature = quantity(&t.line_temperature);
    test.supply_pressure = supply.cloned();
    let read = |name: &str| {
        let off = t.within.iter().find_map(|w| within(t, w).ok().filter(|(n, _)| n == name));
        let off = off.and_then(|(_, far)| match far {
            Json::Str(far) => Uncertainty::of(&far).ok(),
            Json::Int(_) | Json::Bool(_) | Json::Arr(_) | Json::Obj(_) => None,
        });
        // Whatever it was read with: what nobody says the uncertainty of cannot pass, but for a lowest mark.
        let typed = reading(t, name)?;
        if typed.trim().starts_with('<') {
            Reading::instrument(typed, off)
        } else {
            Reading::tube(typed, off)
        }
        .ok()
    };
    (test.o2, test.co, test.co2, test.oil, test.water) =
        (read("o2"), read("co"), read("co2"), read("oil"), read("water"));
    test.dew_point = read("dew_point").map(|reading| DewPoint { at: At::Line, reading });
    // Without one that was read, the dew point of the most that the water may be.
    let worked_out = test
        .water
        .as_ref()
        .filter(|_| test.dew_point.is_none())
        .and_then(|water| DewPoint::of_water(water, test.table_pressure()?, ambient));
    let note = worked_out.as_ref().zip(test.table_pressure()).map(|(dew, line)| {
        let line = line.words(None, Rounding::Up);
        let words = say!(
            "the dew point, {dew_point}, is worked out of the most the water may be, in the line at {pressure}",
            dew_point = dew.reading.words(),
            pressure = line
        );
        format!("  {words}")
    });
    test.dew_point = test.dew_point.take().or(worked_out);
    // One question: smell, taste, mist or drops.
    let something = t.smell.as_deref().map(|s| s == "something");
    (test.odour, test.liquid_water) = (something, something);
    let judged = limits::judge(profile, &test);
    let head = if judged.from_memory() {
        say!("by {rule}, figures from memory:", rule = profile.title)
    } else {
        say!("by {rule}:", rule = profile.title)
    };
    let mut out = vec![(None, head)];
    out.extend(judged.verdicts.iter().map(|v| {
        let (tells, word) = match v.answer {
            Answer::Pass if counts => (None, say!("passes")),
            Answer::Pass => (None, say!("not counted")),
            Answer::Fail => (Some(Tells::TestFails), say!("FAILS")),
            Answer::CannotTell => (Some(Tells::TestTellsNothing), say!("CANNOT BE TOLD, so does not pass")),
        };
        (tells, format!("  {word}: {}", v.words))
    }));
    out.extend(note.map(|n| (None, n)));
    out
}

/// A place of the site, and a day that has come: a slip would stand before every later test.
pub fn fits(place: &Place, t: &AirTest, outside: &mut Outside<'_>) -> Outcome {
    let looked = place.look(outside)?;
    let today = looked.now.date();
    if let Some(date) = t.date.as_deref().and_then(|d| d.parse::<Date>().ok())
        && date > today
    {
        return Err(End::Usage(say!("the sample is dated {date}, after today, {today}", date, today)));
    }
    let Some(site) = text_in_force(&looked, "site", None) else { return Ok(()) };
    let ids: Vec<&str> = site.items("places").iter().map(crate::site::Values::id).collect();
    if ids.contains(&t.place.as_str()) {
        return Ok(());
    }
    let near = crate::text::nearest(&t.place, ids.iter().copied());
    let (got, known) = (safe_line(&t.place), ids.join(", "));
    Err(End::Usage(match near {
        Some(near) => {
            say!(
                "the site has no place `{got}`, wanted one of: {known}; did you mean `{near}`?",
                got,
                known,
                near
            )
        }
        None => say!("the site has no place `{got}`, wanted one of: {known}", got, known),
    }))
}

fn text_in_force(looked: &Looked, kind: &str, id: Option<&str>) -> Option<std::rc::Rc<crate::site::Values>> {
    let mut texts = looked.chain.texts.iter().filter(|((k, i), _)| k == kind && id.is_none_or(|id| i == id));
    texts.next().and_then(|(_, t)| crate::permit::bench::file(kind, &t.text).ok())
}

/// What rule and site say of a test that was just kept, and what follows for those on this air.
pub fn told(place: &Place, t: &AirTest, outside: &mut Outside<'_>) -> Outcome {
    let looked = place.look(outside)?;
    let known = looked.known();
    let id = &t.thing.set;
    let Some(site) = text_in_force(&looked, "site", None) else { return Ok(()) };
    let profile = site.choice("limits.profile").and_then(|p| Profile::shipped(&p.replace('_', "-")).ok());
    let set = text_in_force(&looked, "set", Some(id));
    let supply = set.as_ref().and_then(|s| s.quantity("supply_pressure_to"));
    let state = known.state.sets.get(id);
    let today = looked.now.date();
    let of_today = t.date.as_deref().is_none_or(|d| d.parse::<Date>().is_ok_and(|d| d == today));
    if of_today && !state.is_some_and(crate::permit::state::SetState::running) {
        writeln!(
            outside.err,
            "{}",
            say!(
                "NOTE: no start of {set} is recorded that was not followed by a stop: it is tested running, warm and drawn \
                 from. If it does not run, what was tested was not its air",
                set = id
            )
        )?;
    }
    let kept = state.and_then(|s| s.air_tests.last());
    let void = kept.zip(state).and_then(|(test, s)| bench::air_test::broken(test, s));
    if let Some(why) = void {
        outside.tell(Tells::TestTellsNothing, say!("THIS TEST COUNTS FOR NOTHING: {why}", why))?;
    }
    let mut lines = match profile.zip(site.quantity("ambient_pressure")) {
        Some((profile, ambient)) => verdicts(t, &profile, supply, ambient, today, void.is_none()),
        None => vec![(None, say!("the site names no rule to judge it by; by its own limits:").to_owned())],
    };
    let against = kept.map(|t| bench::air_test::against(t, &site)).unwrap_or_default();
    let out_of_limits = |why| (Some(Tells::OutOfLimits), format!("  {}", say!("OUT OF LIMITS: {why}", why)));
    lines.extend(against.iter().map(out_of_limits));
    if against.is_empty() && void.is_none() {
        lines.push((None, format!("  {}", say!("nothing in it is outside the site's own limits"))));
    }
    let counts = state.and_then(|s| s.air_test(None));
    if let (Some(kept), Some(counts)) = (kept, counts)
        && kept.stamp.seq != counts.stamp.seq
    {
        let test = bench::air_test::in_words(counts);
        lines.push((None, format!("  {}", say!("the test that counts is the later one: {test}", test))));
    } else if !against.is_empty() {
        let on: Vec<String> =
            known.perhaps_on_air_from(id).map(|p| outside.face.person(&known, &p.person)).collect();
        let hint = place.typed(&format!("`airwrit call-out --set {id}`"));
        let follows = if on.is_empty() {
            say!("Nobody goes on this air until a later test of it passes").to_owned()
        } else {
            say!(
                "EVERYONE OUT: the signal first, then {command}. On this air: {names}",
                command = hint,
                names = on.join(", ")
            )
        };
        lines.push((Some(Tells::AfterTest), follows));
    }
    for (tells, words) in &lines {
        let words = safe_line(words).into_owned();
        match tells {
            Some(tells) => outside.tell(*tells, words)?,
            None => writeln!(outside.out, "{words}")?,
        }
    }
    Ok(())
}

/// A quantity with its unit, as the record keeps it.
pub fn quantity_member(name: &str, value: Option<&String>) -> Result<Option<(String, Json)>, End> {
    let Some(v) = value else { return Ok(None) };
    let (_, number, unit) = Quantity::read_with_unit(v).map_err(|e| End::Usage(e.of_typed(&safe_line(v))))?;
    let like = match name {
        n if n.contains("pressure") => "7 bar",
        n if n.contains("water") || n.contains("oil") => "0.1 mg/m3",
        n if n.contains("dew") || n.contains("temperature") => "-40 °C",
        "hours" => "1200 h",
        "o2" => "20.9 %",
        _ => "5 ppm",
    };
    let unit =
        unit.ok_or_else(|| End::Usage(say!("{name} has a unit, like \"{example}\"", name, example = like)))?;
    Ok(Some((name.to_owned(), format!("{number} {}", unit.symbol()).into())))
}
