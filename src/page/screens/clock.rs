//! The laptop's clock: a supervisor says that it is right where the last lines were written by one that was ahead; anybody
//! says what day it is where nothing was written for long.

use super::signing::{key, signers, without_passphrase};
use crate::cli::End;
use crate::cli::printing::take_down;
use crate::cli::signing::theirs;
use crate::page::app::{App, Posted};
use crate::page::form::Form;
use crate::page::hand::{Hand, Told};
use crate::page::once::once;
use crate::permit::decide::Refusal;
use crate::permit::decide::sign::{Hand as Signer, clock};
use crate::record::line::ActDraft;
use crate::time::for_people;
use crate::tongue::say;
use crate::trust::Role;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::path::Path;
use std::sync::Arc;

/// What is signed, but for the second that runs on while a passphrase is typed.
fn mark(act: &ActDraft) -> String {
    let of = |name| act.data.text(name).unwrap_or_default();
    crate::record::line::hash(format!("{}\n{}\n{}", of("last"), of("reason"), act.shown).as_bytes())
}

fn said(act: &ActDraft) -> String {
    act.data.text("said").unwrap_or_default().to_owned()
}

fn screen(app: &App, hand: &mut Hand, form: &Form, came: Option<Told>) -> Result<Value, End> {
    let unsure = hand.unsure_of_the_day();
    let looked = hand.look()?;
    let known = looked.known();
    let signers = signers(app, &known, &[Role::Supervisor]);
    let first = || signers.iter().find(|(_, _, there)| *there).map(|(id, _, _)| id.clone());
    let by = form.some("by").or_else(first).unwrap_or_default();
    let (mut came, mut act) = (came, None);
    if form.some("stage").is_some() && came.is_none() {
        match clock(&known, &Signer::here(&by), form.text("reason")) {
            Ok(a) => act = Some(a),
            Err(refusal) => came = Some(Told::end(refusal.into())),
        }
    }
    Ok(values! {
        title => say!("The clock of this laptop"), signers => signers, by => by, came => came, reason => form.text("reason"),
        said => act.as_ref().map(said), shown => act.as_ref().map(mark), unsure => unsure,
        today => known.now.date().to_string(), late => known.behind(),
        last => for_people(&known.chain.time, &known.now.zone), says => for_people(&known.now.time, &known.now.zone),
    })
}

/// How the clock stands.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let there = app.clone();
    let (told, form, came) = app.typed_on("/clock", &super::query(&uri));
    app.screen("clock.html", told, move |hand| screen(&there, hand, &form, came)).await
}

/// The words for what was typed, or the signature.
pub async fn sign(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    if form.text("stage") != "sign" {
        return app.back("/clock", None, &form);
    }
    let again = without_passphrase(&form);
    let came = if app.guard.may_try(app.hands.clock.machine()) {
        let keys = app.keys.clone();
        once(&app, form, sent, move |hand, form| put_under(hand, &keys, form).unwrap_or_else(Told::end)).await
    } else {
        Some(Told::not(say!("too many passphrases were tried in this minute; wait, then try again")))
    };
    match came {
        Some(told) if told.done => app.after(told, "/clock"),
        Some(told) => app.back("/clock", Some(told), &again),
        None => app.fault(),
    }
}

/// Signs and keeps it, if it is still what was shown.
fn put_under(hand: &mut Hand, keys: &Path, form: &Form) -> Result<Told, End> {
    let by = form.text("by").to_owned();
    if !crate::text::is_id(&by) {
        return Err(Refusal::because(say!("nobody was chosen who signs")).into());
    }
    let key = key(&keys.join(format!("{by}.pem")), &by, form)?;
    theirs(&hand.look()?.chain.origin.roster, &by, &key)?;
    let line = hand.at_desk(|desk| {
        let (act, _) = desk.prepare_clock(&by, form.text("reason"))?;
        if mark(&act) != form.text("shown") {
            return Err(Refusal::because(say!("what is to be signed has changed since it was shown"))
                .instead(say!("look at it again below, then sign"))
                .into());
        }
        desk.set_clock(&by, &key, form.text("reason"))
    })?;
    let words = say!("the clock is right; line {line}; live permits are suspended", line = line.seq);
    let place = hand.place.clone();
    let ((), _, err) = hand.outside("", |o| take_down(&place, |_| true, o));
    Ok(Told::of(Ok(()), words.as_bytes(), &err))
}

/// Somebody says what day it is.
pub async fn today(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let came = once(&app, form, sent, |hand, form| {
        let said = form.text("today").to_owned();
        let Ok(looked) = hand.look() else { return Told::not(say!("the register cannot be read")) };
        if let Err(refusal) = looked.known().jumped(Some(&said)) {
            return Told::end(refusal.into());
        }
        let words = say!("It is {date}: permits are opened and signed again.", date = said);
        hand.today(said);
        Told { done: true, out: vec![words], ..Told::default() }
    });
    match came.await {
        Some(told) => app.after(told, "/clock"),
        None => app.fault(),
    }
}
