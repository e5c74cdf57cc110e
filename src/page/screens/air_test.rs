//! A test of a set's air, entered as it stands on the instrument or on the laboratory's paper.

use super::board::told;
use crate::cli::args::{AirTest, Command, SetCommand, SetThing};
use crate::cli::{End, Tells};
use crate::page::app::{App, Posted};
use crate::page::form::{Form, encoded};
use crate::page::hand::{Hand, Told};
use crate::page::once::once;
use crate::tongue::say;
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::collections::BTreeMap;
use std::sync::Arc;
use zeroize::Zeroizing;

/// Readings: name, unit, the unit of how far it may be off, what is typed.
const READINGS: [(&str, &str, &str, &str); 6] = [
    ("o2", "%", "%", "20.9"),
    ("co", "ppm", "ppm", "< 2"),
    ("co2", "ppm", "ppm", "430"),
    ("oil", "mg/m3", "mg/m3", "< 0.1"),
    ("water", "mg/m3", "mg/m3", "37"),
    ("dew_point", "°C", "K", "-28"),
];

fn label(reading: &str) -> &'static str {
    match reading {
        "o2" => say!("Oxygen"),
        "co" => say!("Carbon monoxide"),
        "co2" => say!("Carbon dioxide"),
        "oil" => say!("Oil"),
        "water" => say!("Water, of the air expanded to the open"),
        _ => say!("Or the pressure dew point in the line"),
    }
}

/// What was typed, with the unit that stands beside it, unless one was typed.
fn with_unit(typed: Option<String>, unit: &str) -> Option<String> {
    typed.map(|t| if t.contains(|c: char| c.is_alphabetic() || c == '%') { t } else { format!("{t} {unit}") })
}

fn screen(hand: &mut Hand, id: &str, form: &Form, came: Option<Told>) -> Result<Value, End> {
    let looked = hand.look()?;
    let known = looked.known();
    super::set::in_force(&known, id)?;
    let tests = known.state.sets.get(id).and_then(|s| s.air_test(None));
    let last = tests.map(crate::permit::bench::air_test::in_words);
    let readings: Vec<Value> = READINGS
        .iter()
        .map(|(name, unit, off, like)| {
            values! { name => name, label => label(name), unit => unit, off => off, like => like }
        })
        .collect();
    let filled: BTreeMap<&str, &str> = form.pairs().iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    Ok(values! {
        title => say!("Set {set}: a test of its air", set = id), id => id, came => came, readings => readings, filled => filled,
        last => last, places => super::set::listed(&known, "places"), today => known.now.date().to_string(),
    })
}

/// The form.
pub async fn show(State(app): State<Arc<App>>, Path(id): Path<String>, uri: Uri) -> Response {
    let (told, form, came) = app.typed_on(&address(&id), &super::query(&uri));
    app.screen("air_test.html", told, move |hand| screen(hand, &id, &form, came)).await
}

fn address(id: &str) -> String {
    format!("/set/{}/air-test", encoded(id))
}

fn test(id: &str, form: &Form) -> AirTest {
    let quantity = |name: &str, unit: &str| with_unit(form.some(name), unit);
    let reading = |name: &str| {
        let unit = READINGS.iter().find(|(n, ..)| *n == name).map_or("", |(_, unit, ..)| unit);
        quantity(name, unit)
    };
    let within = READINGS.iter().filter_map(|(name, _, off, _)| {
        let far = with_unit(form.some(&format!("off.{name}")), off)?;
        Some(format!("{name}={far}"))
    });
    AirTest {
        thing: SetThing { set: id.to_owned(), hours: None, report: false, told: told(form) },
        place: form.text("place").to_owned(),
        sampler: form.text("sampler").to_owned(),
        date: form.some("date"),
        instrument: form.some("instrument"),
        instrument_good: form.some("instrument_good"),
        certificate: form.some("certificate"),
        sample_point: form.some("sample_point"),
        line_pressure: quantity("line_pressure", "bar"),
        line_temperature: quantity("line_temperature", "°C"),
        o2: reading("o2"),
        co: reading("co"),
        co2: reading("co2"),
        oil: reading("oil"),
        water: reading("water"),
        dew_point: reading("dew_point"),
        smell: form.some("smell"),
        within: within.collect(),
    }
}

/// It is kept; what rule and site say of it, and what follows for whoever is on this air, is shown.
pub async fn tested(
    State(app): State<Arc<App>>,
    Path(id): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let (set, again) = (id.clone(), form.clone());
    let came = once(&app, form, sent, move |hand, form| {
        let command = Command::Set(SetCommand::AirTest(Box::new(test(&set, form))));
        let mut came = hand.command(command, &Zeroizing::default());
        let outside = came.tells(Tells::OutOfLimits);
        // What follows for whoever is on this air is told last, and stands first here.
        let order = came.that_tell(Tells::AfterTest);
        came.out.retain(|l| !order.contains(l));
        came.err.splice(0..0, order);
        // Outside no limit of the site, and yet no good air by the rule.
        let fails = came.tells(Tells::TestFails);
        let doubt = came.tells(Tells::TestTellsNothing);
        Told { danger: fails || outside, doubt, ..came }
    });
    let Some(told) = came.await else { return app.fault() };
    if told.danger {
        let next = format!("/set/{}", encoded(&id));
        return app
            .screen("told.html", String::new(), move |_| {
                Ok(values! { came => told, next => next, title => say!("What came of it"), alarm => true })
            })
            .await;
    }
    if told.done {
        return app.after(told, &format!("/set/{}", encoded(&id)));
    }
    app.back(&address(&id), Some(told), &again)
}
