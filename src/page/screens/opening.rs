//! Opening a permit: the job as a form, the plan worked out while it is filled in.

use crate::actions::Looked;
use crate::checklist::Purpose;
use crate::cli::Tells;
use crate::cli::args::Open;
use crate::cli::planning::{Given, of_values};
use crate::cli::station;
use crate::finding::{Finding, Level, any_error};
use crate::page::app::{App, Posted, html, see};
use crate::page::form::{Form, encoded};
use crate::page::hand::{Hand, Told};
use crate::page::job::{self, Offers};
use crate::page::once::once;
use crate::permit::bench::{file, in_force_for};
use crate::permit::decide::Known;
use crate::permit::state::Permit;
use crate::plan::{Figure, Sense, Units};
use crate::site::{Raw, Written, read_job};
use crate::tongue::say;
use crate::units::{Dimension, Quantity};
use axum::extract::{Path, State};
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use minijinja::Value;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// So many fields that are still empty are named.
const MISSING: usize = 6;

/// What came of reading a form as a job.
struct Tried {
    raw: Option<Vec<(String, Raw)>>,
    /// Not given yet, and must be.
    missing: Vec<String>,
    wrong: Vec<(String, String)>,
    general: Vec<String>,
}

/// What was found, with the fields of the file called as they are in the form.
fn words(f: &Finding) -> String {
    let hint = f.hint.as_ref().map(|h| format!("; {h}")).unwrap_or_default();
    let message = f.message.split('`').enumerate().map(|(i, part)| match part.rsplit('.').next() {
        Some(name) if i % 2 == 1 && job::is_field(name) => say!("“{field}”", field = job::called(name)),
        Some(_) | None if i % 2 == 1 => format!("`{part}`"),
        Some(_) | None => part.to_owned(),
    });
    format!("{}{hint}", message.collect::<String>())
}

/// The same with the field before it, where it does not name it.
fn words_of(name: &str, words: &str) -> String {
    let last = name.rsplit('.').next().unwrap_or(name);
    let told = say!("“{field}”", field = job::called(last));
    match words.strip_prefix(&told) {
        Some(rest) => format!("{}{rest}", say!("“{field}”", field = job::called(name))),
        None => format!("{}: {words}", job::called(name)),
    }
}

fn tried(form: &Form) -> Tried {
    let (text, places) = job::text(form);
    let read = read_job("job", text.as_bytes());
    let (mut wrong, mut general, mut missing) = (Vec::new(), Vec::new(), Vec::new());
    for f in read.findings.iter().filter(|f| f.level == Level::Error) {
        if f.code == "empty-file" {
            missing = job::musts();
            continue;
        }
        let key = f.message.split('`').nth(1).and_then(|k| k.rsplit('.').next());
        if let Some(key) = key.filter(|_| f.code == "missing-key") {
            let of = places.iter().find(|(line, name)| *line == f.place.line && name.ends_with('.'));
            let before = of.map_or("", |(_, name)| name.as_str());
            missing.push(format!("{before}{}", if key == "job" { "what" } else { key }));
            continue;
        }
        match places.iter().find(|(line, _)| *line == f.place.line) {
            Some((_, name)) if !name.ends_with('.') => wrong.push((name.clone(), words(f))),
            Some((_, group)) => general.push(format!("{}: {}", job::called(group), words(f))),
            None => general.push(words(f)),
        }
    }
    let raw = read.file.filter(|_| !any_error(&read.findings)).map(|f| f.values().to_raw());
    Tried { raw, missing, wrong, general }
}

impl Tried {
    /// What keeps it from being a job, in the words of the form.
    fn why(&self) -> Vec<String> {
        let mut why = Vec::new();
        if !self.missing.is_empty() {
            let names: Vec<String> = self.missing.iter().take(MISSING).map(|n| job::called(n)).collect();
            let names = names.join("; ");
            why.push(match self.missing.len().checked_sub(MISSING) {
                Some(more @ 1..) => say!("still to be filled in: {names}; and {more} more", names, more),
                Some(0) | None => say!("still to be filled in: {names}", names),
            });
        }
        why.extend(self.wrong.iter().map(|(n, w)| words_of(n, w)));
        why.extend(self.general.iter().cloned());
        why
    }

    /// What is wrong at each field.
    fn at_fields(&self) -> Vec<(String, String)> {
        let missing = self.missing.iter().map(|n| (n.clone(), say!("must be given").to_owned()));
        missing.chain(self.wrong.iter().cloned()).collect()
    }
}

/// The permit before that a form may take some of its values from: the last one on this set with the checklist that is in
/// force, or the one named. Where not all is known, nothing is taken from it.
fn before<'k>(looked: &'k Looked, known: &Known<'_>, form: &Form) -> Option<&'k Permit> {
    let shutdown = form.some("shutdown").is_some();
    let purpose = if shutdown { Purpose::Shutdown } else { Purpose::Work };
    let checklist = in_force_for(known.chain, purpose)?;
    let (named, set) = (form.some("like"), form.some("set"));
    let fits = |p: &&Permit| {
        set.as_ref().is_none_or(|set| p.set.id == *set)
            && p.form.id == checklist.id()
            && p.for_shutdown == shutdown
            && named.as_ref().is_none_or(|n| *n == p.number)
    };
    let all = looked.state.permits.values().filter(fits);
    all.max_by_key(|p| p.opened.seq).filter(|_| !looked.is_damaged())
}

fn show_form(
    hand: &mut Hand,
    form: &Form,
    draft: bool,
    told: Option<Told>,
) -> Result<Value, crate::cli::End> {
    let like = form.some("like");
    let first = form.some("what_now").is_none();
    // Taken from it on the first look; what stands there afterwards was sent by the browser.
    let (last, carried) = {
        let looked = hand.look()?;
        let last = before(looked, &looked.known(), form);
        let offer = last.map(|p| (p.number.clone(), p.job.text("what").unwrap_or_default().to_owned()));
        (offer, last.filter(|_| like.is_some()).map_or_else(Vec::new, |p| job::carried(&p.job)))
    };
    let mut filled = form.pairs().to_vec();
    if first {
        filled.extend(carried.iter().cloned());
    }
    let form = &Form::of(filled);
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
    let typed: BTreeMap<String, String> = form.pairs().iter().cloned().collect();
    // A form that nobody sent is not yet wrong.
    let wrong = if first { Vec::new() } else { t.at_fields() };
    let sheet = offers.sheet(form, &wrong, &carried);
    // What was said of fields leads to them.
    let called =
        |(name, why): &(String, String)| values! { name => name, label => job::called(name), why => why };
    let fields: Vec<Value> = wrong.iter().map(called).collect();
    Ok(values! {
        like => like.as_ref().filter(|_| last.is_some()), no_like => like.as_ref().filter(|_| last.is_none()),
        offer => last.as_ref().filter(|_| like.is_none() && first && !draft), draft => draft,
        fields => fields, general => t.general, typed => typed, title => say!("Open a permit"), number => "", ids => Vec::<(String, String)>::new(), sheet => sheet, sets => sets, set => set, came => told, plan => plan,
        follows => form.text("follows"), shutdown => form.some("shutdown").is_some(),
    })
}

/// The form; as it was typed last, or filled from a permit before where one is named.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let query = super::query(&uri);
    let draft = app.draft.of(&query);
    app.screen("open.html", query.text("told").to_owned(), move |hand| {
        if let Some((form, told)) = draft {
            return show_form(hand, &form, true, told);
        }
        let of = |name: &str| query.some(name).map(|v| (name.to_owned(), v));
        let mut pairs: Vec<_> = ["follows", "shutdown", "like"].iter().filter_map(|n| of(n)).collect();
        let set = match query.some("like") {
            Some(number) => hand.look()?.state.permits.get(&number).map(|p| p.set.id.clone()),
            None => None,
        };
        pairs.extend(query.some("set").or(set).map(|set| ("set".to_owned(), set)));
        show_form(hand, &Form::of(pairs), false, None)
    })
    .await
}

/// The plan of what stands in the form, as a part of the page.
pub async fn plan(State(app): State<Arc<App>>, uri: Uri, Posted(form, _): Posted) -> Response {
    // The job of a permit that is opened already is no form of another.
    if super::query(&uri).some("job").is_none() {
        app.draft.typing(&form);
    }
    let there = app.clone();
    let made =
        app.hands.ask(move |hand| there.render("plan.html", values! { plan => planned(hand, &form) })).await;
    match made {
        Some(Ok(text)) => html(StatusCode::OK, text),
        Some(Err(_)) | None => app.fault(),
    }
}

fn job_address(number: &str) -> String {
    format!("/p/{}/job", encoded(number))
}

/// The job of a permit that is not issued yet, to be changed: as it stands, or as it was typed last.
pub async fn job_show(State(app): State<Arc<App>>, Path(number): Path<String>, uri: Uri) -> Response {
    let (told, typed, came) = app.typed_on(&job_address(&number), &super::query(&uri));
    app.screen("open.html", told, move |hand| {
        let (of, set, shutdown) = {
            let looked = hand.look()?;
            let known = looked.known();
            let permit = known.permit(&number)?;
            (job::typed(&permit.job), permit.set.id.clone(), permit.for_shutdown)
        };
        let sent = !typed.pairs().is_empty();
        let mut form = if sent { typed } else { of.clone() };
        form.put("set", set);
        if shutdown {
            form.put("shutdown", "1".into());
        }
        // What a list's items are called in the register, which nobody types.
        let ids: Vec<_> = of.pairs().iter().filter(|(n, _)| n.ends_with(".id")).collect();
        Ok(values! {
            title => say!("Change the job of {permit}", permit = number), number => number, ids => ids,
            ..show_form(hand, &form, false, came)?
        })
    })
    .await
}

/// Changes it.
pub async fn job_change(
    State(app): State<Arc<App>>,
    Path(number): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let to = job_address(&number);
    if form.text("what_now") == "plan" {
        return app.back(&to, None, &form);
    }
    let there = number.clone();
    let came = once(&app, form.clone(), sent, move |hand, form| {
        let t = tried(form);
        let Some(raw) = t.raw else {
            return Told { refused: true, why: t.why(), ..Told::default() };
        };
        let place = hand.place.clone();
        let by = form.by();
        let (done, out, err) = hand.outside("", |o| station::job_of(&place, &there, &raw, by.as_deref(), o));
        here_is_no_file(Told::of(done, &out, &err))
    });
    let Some(told) = came.await else { return app.fault() };
    if told.done {
        return app.after(told, &format!("/p/{}/walk", encoded(&number)));
    }
    app.back(&to, Some(told), &form)
}

/// There is no file here to be mended.
fn here_is_no_file(mut told: Told) -> Told {
    let of_files = [
        say!("mend the job file: `airwrit lint FILE`"),
        say!("mend the job file, or the set or site file it does not agree with"),
    ];
    if told.refused && of_files.contains(&told.instead.as_str()) {
        told.instead = say!("change it in the form, then press again").into();
    }
    told
}

/// Opens it.
pub async fn open(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    match form.text("what_now") {
        "plan" => {
            app.draft.keep(&form, None);
            return see("/open");
        }
        "afresh" => {
            app.draft.over(&form);
            return see("/open");
        }
        _ => {}
    }
    let came = once(&app, form.clone(), sent, |hand, there| {
        let t = tried(there);
        let Some(raw) = t.raw else {
            return Told { refused: true, why: t.why(), ..Told::default() };
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
        let ((done, lines), out, err) = hand.outside("", |o| {
            let done = station::open_job(&place, &open, &raw, o);
            (done, std::mem::take(&mut o.face.told).into())
        });
        let mut told = here_is_no_file(Told { lines, ..Told::of(done, &out, &err) });
        if told.done {
            let number = told.out.first().cloned().unwrap_or_default();
            // What comes next is a key of the screen that follows.
            let said = [told.that_tell(Tells::Opened), told.that_tell(Tells::Hint)].concat();
            told.err.retain(|l| !said.contains(l));
            let opened = if open.shutdown {
                say!("{permit} is opened. Next: the steps of the shutdown", permit = number)
            } else {
                say!(
                    "{permit} is opened. Next: the steps, one after the other; then it is declared",
                    permit = number
                )
            };
            told.out = vec![opened];
            told.lines = [(Tells::Opened, number)].into();
        }
        told
    });
    let Some(told) = came.await else { return app.fault() };
    if let (true, Some(number)) = (told.done, told.that_tell(Tells::Opened).first()) {
        app.draft.over(&form);
        let to = format!("/p/{}", encoded(number));
        return app.after(told, &to);
    }
    app.draft.keep(&form, Some(told));
    see("/open")
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

/// What would change the answer of a plan; what is said of the job file, of the form.
fn changes(plan: &crate::plan::Plan) -> Vec<String> {
    let here = |c: &String| match plan.of_job.iter().find(|(said, _)| said == c) {
        Some((_, why)) => say!("change in the form: {why}", why),
        None => c.clone(),
    };
    plan.changes.iter().map(here).collect()
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
        return nothing(tried(form).why().into_iter().take(6).collect());
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
                assumed => plan.assumed, changes => changes(&plan), limits => plan.limits,
                lacking => lacking.iter().map(row).collect::<Vec<_>>(), met => met.iter().map(row).collect::<Vec<_>>(),
            }
        }
        Err(end) => nothing(Told::end(end).why),
    }
}
