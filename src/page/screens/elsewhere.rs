//! What is signed elsewhere: the permit's excerpt goes out, a signed act comes back as a file, as a picture of its QR code,
//! or as text.

use crate::cli::args::Command;
use crate::cli::picture;
use crate::page::app::{App, Brought};
use crate::page::form::{Form, encoded};
use crate::page::hand::Told;
use crate::page::once::once;
use crate::page::spoken::Spoken;
use crate::tongue::say;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::path::PathBuf;
use std::sync::Arc;
use zeroize::Zeroizing;

fn values(form: &Form, came: Option<Told>) -> Value {
    values! {
        title => say!("Signed elsewhere"), number => form.text("permit"), act => form.text("act"), came => came,
    }
}

/// What goes out, and where it comes back.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let query = super::query(&uri);
    let (told, form, came) = app.typed_on(&address(&query), &query);
    app.screen("elsewhere.html", told, move |hand| {
        if let Some(number) = query.some("permit") {
            hand.look()?.known().permit(&number)?;
        }
        let of = vec![
            ("permit".into(), query.text("permit").to_owned()),
            ("act".into(), form.text("act").to_owned()),
        ];
        Ok(values(&Form::of(of), came))
    })
    .await
}

fn address(form: &Form) -> String {
    let permit = form.some("permit").map(|p| format!("?permit={}", encoded(&p)));
    format!("/take-in{}", permit.unwrap_or_default())
}

/// The act as its text: from a file, from a picture, or as it was pasted.
fn act(form: &Form, file: Vec<u8>) -> Result<String, String> {
    let bytes = match (file.is_empty(), form.some("act")) {
        (true, Some(pasted)) => return Ok(pasted),
        (true, None) => return Err(say!("no file was chosen and nothing was pasted").into()),
        (false, _) if picture::is_picture(&file) => picture::read(&file)?,
        (false, _) => file,
    };
    String::from_utf8(bytes)
        .map_err(|_| say!("the file is neither a signed act nor a picture (PNG, JPEG) of its code").into())
}

/// A signed act comes back: read beside the hand, which must be free for calling out, then taken in by the command.
pub async fn take_in(State(app): State<Arc<App>>, Brought(form, file, sent): Brought) -> Response {
    let there = form.clone();
    let spoken = Spoken::now();
    let read = tokio::task::spawn_blocking(move || spoken.within(|| act(&there, file))).await;
    let came = match read {
        Err(_) => return app.fault(),
        Ok(Err(why)) => Some(Told::not(why)),
        Ok(Ok(text)) => {
            let text = Zeroizing::new(text);
            once(&app, form.clone(), sent, move |hand, _| {
                hand.command(Command::TakeIn { file: PathBuf::from("-") }, &text)
            })
            .await
        }
    };
    match came {
        Some(told) if told.done => {
            let to = form.some("permit").map_or("/".to_owned(), |p| format!("/p/{}", encoded(&p)));
            app.after(told, &to)
        }
        Some(told) => app.back(&address(&form), Some(told), &form),
        None => app.fault(),
    }
}
