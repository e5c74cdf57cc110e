//! Opening a permit: the job as a form, the plan worked out while it is filled in.

use crate::cli::args::Open;
use crate::cli::planning::{Given, of_values};
use crate::cli::station;
use crate::finding::{Finding, Level, any_error};
use crate::page::app::{App, Posted, html};
use crate::page::form::Form;
use crate::page::hand::{Hand, Told};
use crate::page::job::{self, Offers};
use crate::page::once::once;
use crate::permit::bench::file;
use crate::plan::{Figure, Sense, Units};
use crate::site::{Raw, Written, read_job};
use crate::tongue::say;
use crate::units::{Dimension, Quantity};
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use minijinja::Value;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// What came of reading a form as a job.
struct Tried {
    raw: Option<Vec<(String, Raw)>>,
    wrong: Vec<(String, String)>,
    general: Vec<String>,
}

fn words(f: &Finding) -> String {
    let hint = f.hint.as_ref().map(|h| format!("; {h}")).unwrap_or_default();
    format!("{}{hint}", f.message)
}

fn tried(form: &Form) -> Tried {
    let (text, places) = job::text(form);
    let read = read_job("job", text.as_bytes());
    let (mut wrong, mut general) = (Vec::new(), Vec::new());
    for f in read.findings.iter().filter(|f| f.level == Level::Error) {
        match places.iter().find(|(line, _)| *line == f.place.line) {
            Some((_, name)) if !name.ends_with('.') => wrong.push((name.clone(), words(f))),
            Some((_, group)) => general.push(format!("{}: {}", job::called(group), words(f))),
            None => general.push(words(f)),
        }
    }
    let raw = read.file.filter(|_| !any_error(&read.findings)).map(|f| f.values().to_raw());
    Tried { raw, wrong, general }
}

fn show_form(hand: &mut Hand, form: &Form, told: Option<Told>) -> Result<Value, crate::cli::End> {
    let plan = planned(hand, form);
    let t = tried(form);
    let looked = hand.look()?;
    let known = looked.known();
    let sets: Vec<(String, String)> = known
        .chain
        .texts
        .iter()
        .filter(|((kind, _), _)| kind == "set")
        .map(|((_, id), t)| {
            let name = file("set", &t.text).ok().and_then(|v| v.words("name").map(|w| w.own().to_owned()));
            (id.clone(), name.unwrap_or_else(|| id.clone()))
        })
        .collect();
    let set = form.some("set").or_else(|| sets.first().map(|(id, _)| id.clone())).unwrap_or_default();
    let offers = Offers::of(&known, &set);
    // An empty form is not yet wrong.
    let begun = form.some("what").is_some();
    let typed: BTreeMap<String, String> = form.pairs().iter().cloned().collect();
    let sheet = offers.sheet(form, if begun { &t.wrong } else { &[] });
    Ok(values! {
        typed => typed, title => say!("Open a permit"), sheet => sheet, sets => sets, set => set, came => told, plan => plan,
        follows => form.text("follows"), shutdown => form.some("shutdown").is_some(),
    })
}

/// The form; filled from a permit before, where one is named.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let query = super::query(&uri);
    app.screen("open.html", query.text("told").to_owned(), move |hand| {
        let looked = hand.look()?;
        let last = match query.some("like") {
            Some(number) => looked.state.permits.get(&number),
            None => looked.state.permits.values().max_by_key(|p| p.opened.seq),
        };
        let mut pairs = last.map(|p| job::typed(&p.job).pairs().to_vec()).unwrap_or_default();
        for name in ["follows", "set", "shutdown"] {
            pairs.extend(query.some(name).map(|v| (name.to_owned(), v)));
        }
        show_form(hand, &Form::of(pairs), None)
    })
    .await
}

/// The plan of what stands in the form, as a part of the page.
pub async fn plan(State(app): State<Arc<App>>, Posted(form, _): Posted) -> Response {
    let there = app.clone();
    let made =
        app.hands.ask(move |hand| there.render("plan.html", values! { plan => planned(hand, &form) })).await;
    match made {
        Some(Ok(text)) => html(StatusCode::OK, text),
        Some(Err(_)) | None => app.fault(),
    }
}

/// Opens it.
pub async fn open(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    if form.text("what_now") == "plan" {
        return app.screen("open.html", String::new(), move |hand| show_form(hand, &form, None)).await;
    }
    let came = once(&app, form.clone(), sent, |hand, there| {
        let t = tried(there);
        let Some(raw) = t.raw else {
            let mut why: Vec<String> =
                t.wrong.iter().map(|(n, w)| format!("{}: {w}", job::called(n))).collect();
            why.extend(t.general);
            return Told { refused: true, why, ..Told::default() };
        };
        let open = Open {
            job: PathBuf::new(),
            set: there.some("set"),
            site: None,
            form: None,
            shutdown: there.some("shutdown").is_some(),
            follows: there.some("follows"),
            by: there.by(),
        };
        let place = hand.place.clone();
        let (done, out, err) = hand.outside("", |o| station::open_job(&place, &open, &raw, o));
        let mut told = Told::of(done, &out, &err);
        if told.done {
            // The screen that follows tells these two.
            let number = told.out.first().cloned().unwrap_or_default();
            let opened = say!("permit {number} opened, line {line}", number, line = "");
            let hint = say!("hint: {hint}", hint = "");
            told.err.retain(|l| !l.starts_with(hint.trim()) && !l.starts_with(opened.trim()));
        }
        told
    });
    let Some(told) = came.await else { return app.fault() };
    if told.done {
        let number = told.out.first().cloned().unwrap_or_default();
        return app.after(told, format!("/p/{number}")).await;
    }
    app.screen("open.html", String::new(), move |hand| show_form(hand, &form, Some(told))).await
}

fn written(text: &str, dimension: Dimension) -> Result<Option<Written>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    match Quantity::read_with_unit(text) {
        Ok((quantity, number, Some(unit))) if quantity.dimension == dimension => {
            Ok(Some(Written { quantity, number, unit }))
        }
        Ok(_) | Err(_) => Err(say!("got `{got}`, wanted {wanted}", got = text, wanted = dimension.words())),
    }
}

/// The plan in parts, or what keeps it from being worked out.
fn planned(hand: &mut Hand, form: &Form) -> Value {
    let second = hand.second();
    let nothing = |why: Vec<String>| values! { known => false, why => why };
    let Ok(looked) = hand.look() else { return nothing(vec![say!("the register cannot be read").into()]) };
    let known = looked.known();
    let values = |kind: &str, id: &str| file(kind, &job::in_force(&known, kind, id)?.1).ok();
    let (Some(set), Some(site)) = (values("set", form.text("set")), values("site", "")) else {
        return nothing(vec![say!("no set or no site is in force here").into()]);
    };
    let (text, _) = job::text(form);
    let read = read_job("job", text.as_bytes());
    let Some(job) = read.file else {
        let found = read.findings.iter().filter(|f| f.level == Level::Error);
        return nothing(found.take(6).map(words).collect());
    };
    let pair = |a: &str, b: &str, d: (Dimension, Dimension)| -> Result<Option<(Written, Written)>, String> {
        Ok(written(form.text(a), d.0)?.zip(written(form.text(b), d.1)?))
    };
    let given = || -> Result<Given, String> {
        Ok(Given {
            temperatures: pair("plan_low", "plan_high", (Dimension::Temperature, Dimension::Temperature))?,
            reserve: written(form.text("plan_reserve"), Dimension::Pressure)?,
            cable: pair("plan_cable", "plan_section", (Dimension::Length, Dimension::Area))?,
            units: match site.choice("units") {
                Some("us") => Units::Us,
                Some("both") => Units::Both,
                Some(_) | None => Units::Metric,
            },
        })
    };
    let made =
        given().map_err(crate::cli::could_not).and_then(|g| of_values(&set, &site, job.values(), g, second));
    match made {
        Ok(plan) => {
            let (lacking, met): (Vec<&Figure>, Vec<&Figure>) =
                plan.figures.iter().partition(|f| f.unknown() || f.met == Some(false));
            let row = |f: &&Figure| {
                let wanted = match &f.wanted {
                    Some((Sense::AtLeast, limit)) => say!("at least {limit}", limit),
                    Some((Sense::AtMost, limit)) => say!("at most {limit}", limit),
                    None => String::new(),
                };
                let standing = match (f.met, f.unknown()) {
                    (_, true) => "unknown",
                    (Some(false), _) => "no",
                    (Some(true), _) => "yes",
                    (None, false) => "shown",
                };
                values! { label => f.label, of => f.of, value => f.value, wanted => wanted, margin => f.margin, note => f.note, standing => standing }
            };
            values! {
                known => true, fits => plan.fits, head => format!("{}, {}: {}", plan.set, plan.place, plan.wearers.join(", ")),
                assumed => plan.assumed, changes => plan.changes, limits => plan.limits,
                lacking => lacking.iter().map(row).collect::<Vec<_>>(), met => met.iter().map(row).collect::<Vec<_>>(),
            }
        }
        Err(end) => nothing(Told::end(end).why),
    }
}
