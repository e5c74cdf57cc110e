//! The page: the same engine in a browser on this machine, for gloves and touch. Loopback only; there is no other mode.
//!
//! In: requests of one browser. Out: screens. Always: it holds no rules: what is done is a command as at the terminal, what
//! is shown are the views that terminal and paper show. Calling everyone out shows the signal first, in every state, and
//! records afterwards. Not here: rules, words of the record, bytes on disk.
//!
//! `app` what every screen rests on · `guard` who may ask · `form` what a browser sends · `brought` with a file · `blind` what is not shown yet · `draft` the form of a permit that is not opened yet · `entering` who is at it · `hand` the one thread that reads
//! and writes · `once` that nothing is done twice · `signal` what stands on the screen at once · `spoken` in which language · `called` what the terminal's words are called here · `wire` one connection · `screens` the screens · `templates` their layout.

/// Values for a template, by name; whatever can be written as text, a list or named members.
macro_rules! values {
    ($($name:ident => $value:expr),* $(, ..$rest:expr)* $(,)?) => {
        minijinja::context! { $($name => minijinja::Value::from(minijinja::value::Serde(&$value)),)* $(..$rest),* }
    };
}

mod app;
mod audit;
mod blind;
mod brought;
mod called;
mod clock;
mod demo;
mod draft;
mod entering;
mod form;
mod glue;
mod guard;
mod hand;
mod job;
mod judged;
mod memory;
mod notices;
mod once;
mod screens;
mod serving;
mod signal;
mod spoken;
mod wire;

#[cfg(test)]
mod tests;

pub use app::{App, Made};
pub use clock::Clock;
pub use guard::{Guard, HEADERS};
pub use hand::{Hand, Hands, Told};
pub use job::words as job_words;
pub use serving::serve;

use crate::tongue::say;
use axum::Router;
use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use screens::{
    air_test, alarm, board, elsewhere, entrance, opening, permit, record, set, signing, site, walk, witness,
};
use std::sync::Arc;

/// Every address of the page, guarded.
pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .route("/", get(site::show))
        .route("/enter", get(entrance::enter))
        .route("/another", post(entrance::another))
        .route("/language", post(entrance::language))
        .route("/who", post(entering::say_who))
        .route("/style.css", get(style))
        .route("/page.js", get(script))
        .route("/icon.svg", get(icon))
        .route("/open", get(opening::show).post(opening::open))
        .route("/open/plan", post(opening::plan))
        .route("/p/{number}", get(permit::show))
        .route("/p/{number}/job", get(opening::job_show).post(opening::job_change))
        .route("/p/{number}/record", get(record::show))
        .route("/p/{number}/permit.pdf", get(permit::pdf))
        .route("/p/{number}/card.pdf", get(permit::card))
        .route("/p/{number}/hang", post(permit::hang))
        .route("/p/{number}/down", post(permit::down))
        .route("/p/{number}/walk", get(walk::show).post(walk::answer))
        .route("/p/{number}/carry", get(walk::carry_show).post(walk::carry))
        .route("/p/{number}/sign/{act}", get(signing::show).post(signing::sign))
        .route("/board", get(board::show))
        .route("/board/live", get(board::live))
        .route("/events", get(board::events))
        .route("/tally", post(board::tally))
        .route("/reading", post(board::reading))
        .route("/relieve", post(board::relieve))
        .route("/alarm", get(alarm::show).post(alarm::event))
        .route("/suspend", post(alarm::suspend))
        .route("/call-out", get(alarm::signal).post(alarm::call_out))
        .route("/roll-call", get(alarm::roll).post(alarm::roll_called))
        .route("/note", post(alarm::note))
        .route("/set/{id}", get(set::show).post(set::happened))
        .route("/set/{id}/air-test", get(air_test::show).post(air_test::tested))
        .route("/set/{id}/witness", get(witness::show).post(witness::read))
        .route("/p/{number}/excerpt", get(permit::excerpt))
        .route("/take-in", get(elsewhere::show).post(elsewhere::take_in))
        .route("/clock", get(screens::clock::show).post(screens::clock::sign))
        .route("/today", post(screens::clock::today))
        .route("/audit", get(audit::show).post(audit::begin))
        .route("/audit/live", get(audit::live))
        .route("/demo/clock", post(demo::clock))
        .route("/demo/again", post(demo::again))
        .fallback(nothing)
        .method_not_allowed_fallback(nothing)
        .layer(from_fn_with_state(app.clone(), guarded))
        .with_state(app)
}

/// Looks at a request before anything else does, and says to the browser what it must not do with the answer.
async fn guarded(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let (method, path) = (request.method().clone(), request.uri().path().to_owned());
    let second = app.hands.clock.machine();
    let stranger = !app.guard.let_in(request.headers());
    // A stream carries no header of a script.
    let asked = request.uri().query().and_then(|q| q.strip_prefix("language="));
    let spoken = app.hands.spoken(app.guard.language(request.headers(), asked));
    let answer = async {
        match app.guard.may(&method, &path, request.headers(), second) {
            Err(no) => app.no(no),
            // What is no text names no screen: said here, with signal and key, and not by a library.
            Ok(()) if !form::is_text(&path) => nothing(State(app.clone())).await,
            // Calling out waits behind nothing, nor does a report.
            Ok(()) if guard::at_any_time(&method, &path) || guard::open(&method, &path) => {
                next.run(request).await
            }
            Ok(()) => match app.room.clone().try_acquire_owned() {
                Ok(_room) => next.run(request).await,
                Err(_) => app.no(guard::No::Rate),
            },
        }
    };
    let mut answer = spoken.answer(answer).await;
    if stranger {
        // One answer for each connection: else a thousand requests sent down one keep everybody else waiting.
        answer.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
    }
    for (name, value) in HEADERS {
        answer.headers_mut().entry(HeaderName::from_static(name)).or_insert(HeaderValue::from_static(value));
    }
    answer
}

async fn nothing(State(app): State<Arc<App>>) -> Response {
    app.plain(StatusCode::NOT_FOUND, say!("There is no such screen here."))
}

const STYLE: &str = include_str!("page/templates/style.css");
const SCRIPT: &str = include_str!("page/templates/page.js");

/// A text that a browser may keep under the address that names its version, and under no other.
fn kept(uri: &Uri, kind: &'static str, text: &'static str) -> Response {
    let mut answer = ([(header::CONTENT_TYPE, HeaderValue::from_static(kind))], text).into_response();
    if uri.query().is_some_and(|asked| asked == app::version(text)) {
        let keep = HeaderValue::from_static("private, max-age=31536000, immutable");
        answer.headers_mut().insert(header::CACHE_CONTROL, keep);
    }
    answer
}

async fn style(uri: Uri) -> Response {
    kept(&uri, "text/css; charset=utf-8", STYLE)
}

async fn script(uri: Uri) -> Response {
    kept(&uri, "text/javascript; charset=utf-8", SCRIPT)
}

async fn icon() -> Response {
    let kind = HeaderValue::from_static("image/svg+xml");
    ([(header::CONTENT_TYPE, kind)], include_str!("page/templates/icon.svg")).into_response()
}
