//! Letting a browser in, and another one.

use crate::disk::SystemRandom;
use crate::page::app::{App, Posted, see};
use crate::page::guard::No;
use crate::page::hand::Told;
use crate::tongue::{Tongue, say};
use crate::world::Random;
use axum::extract::State;
use axum::http::{HeaderValue, Method, Uri, header};
use axum::response::Response;
use std::sync::Arc;

/// The address that was printed: good once. Whoever only asks for its head, as some programs do before a person opens it,
/// does not use it up.
pub async fn enter(State(app): State<Arc<App>>, method: Method, uri: Uri) -> Response {
    if method == Method::HEAD {
        return app.no(No::Session);
    }
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
        return app.after(Told::not(why), "/");
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
    app.after(told, "/")
}

/// Another language, for this browser.
pub async fn language(State(app): State<Arc<App>>, Posted(form, _): Posted) -> Response {
    let mut answer = see(&form.address("to"));
    let chosen = Tongue::of(form.text("language")).map(|t| app.guard.set_language(t));
    if let Some(Ok(cookie)) = chosen.map(|c| HeaderValue::from_str(&c)) {
        answer.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    answer
}
