//! Another station's register, read: whether it holds this set too, and its last test of the air, brought here.

use crate::cli::args::shift::Witness;
use crate::cli::args::{Command, TrustArgs};
use crate::page::app::{App, Posted};
use crate::page::form::{Form, encoded};
use crate::page::hand::Told;
use crate::page::once::once;
use crate::tongue::say;
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::path::PathBuf;
use std::sync::Arc;
use zeroize::Zeroizing;

fn values(id: &str, form: &Form, came: Option<Told>) -> Value {
    values! {
        title => say!("Set {set}: another station's register", set = id), id => id, came => came, other => form.text("other"),
        custodians => form.text("custodians"), threshold => form.text("threshold"), air_test => form.some("air_test").is_some(),
    }
}

/// Where it stands.
pub async fn show(State(app): State<Arc<App>>, Path(id): Path<String>, uri: Uri) -> Response {
    let (told, form, came) = app.typed_on(&address(&id), &super::query(&uri));
    app.screen("witness.html", told, move |hand| {
        super::set::in_force(&hand.look()?.known(), &id)?;
        Ok(values(&id, &form, came))
    })
    .await
}

fn address(id: &str) -> String {
    format!("/set/{}/witness", encoded(id))
}

/// Reads it.
pub async fn read(
    State(app): State<Arc<App>>,
    Path(id): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let (set, again) = (id.clone(), form.clone());
    let came = once(&app, form, sent, move |hand, form| {
        let Ok(threshold) = form.some("threshold").map(|n| n.parse()).transpose() else {
            return Told::not(say!("how many of the custodians must have signed is no whole number"));
        };
        let custodian = form.text("custodians").split_whitespace().map(str::to_owned).collect();
        let Some(other) = form.some("other") else {
            return Told::not(say!("nothing was typed for the folder of the other register"));
        };
        let witness = Witness {
            other: PathBuf::from(other),
            set,
            air_test: form.some("air_test").is_some(),
            trust: TrustArgs { custodian, threshold, trust: None },
            by: form.by(),
        };
        hand.command(Command::Witness(witness), &Zeroizing::default())
    });
    match came.await {
        Some(told) if told.done => app.after(told, &format!("/set/{}", encoded(&id))),
        Some(told) => app.back(&address(&id), Some(told), &again),
        None => app.fault(),
    }
}
