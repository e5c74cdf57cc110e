//! Letting a browser in, and another one.

use crate::disk::SystemRandom;
use crate::page::app::{App, Posted, see};
use crate::page::guard::No;
use crate::page::hand::Told;
use crate::tongue::{Tongue, say};
use crate::world::Random;
use axum::extract::State;
use axum::http::{HeaderValue, Uri, header};
use axum::response::Response;
use std::sync::Arc;

/// The address that was printed: good once.
pub async fn enter(State(app): State<Arc<App>>, uri: Uri) -> Response {
    if !app.guard.enter(super::query(&uri).text("k")) {
        return app.no(No::Session);
    }
    let mut answer = see("/");
    if let Ok(cookie) = HeaderValue::from_str(&app.guard.set_cookie()) {
        answer.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    answer
}

/// An address for another browser on this machine.
pub async fn another(State(app): State<Arc<App>>, Posted(..): Posted) -> Response {
    let mut bytes = [0u8; 32];
    if let Err(why) = SystemRandom.fill(&mut bytes) {
        return app.after(Told::not(why), "/".into()).await;
    }
    let secret = data_encoding::HEXLOWER.encode(&bytes);
    app.guard.entrance(secret.clone());
    let words = format!("http://127.0.0.1:{}/enter?k={secret}", app.guard.port());
    let told = Told {
        done: true,
        out: vec![words],
        err: vec![say!("It lets one browser on this machine in, once.").into()],
        ..Told::default()
    };
    app.after(told, "/".into()).await
}

/// Another language, for this browser.
pub async fn language(State(app): State<Arc<App>>, Posted(form, _): Posted) -> Response {
    let to = form.some("to").filter(|t| t.starts_with('/') && !t.starts_with("//") && !t.contains('\\'));
    let mut answer = see(&to.unwrap_or_else(|| "/".into()));
    let chosen = Tongue::of(form.text("language")).map(|t| app.guard.set_language(t));
    if let Some(Ok(cookie)) = chosen.map(|c| HeaderValue::from_str(&c)) {
        answer.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    answer
}
