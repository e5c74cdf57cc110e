//! The finished permit, or one in hand, as its record pages tell it: every step, the day, the sign-offs.

use crate::actions::Looked;
use crate::cli::{End, could_not};
use crate::page::app::App;
use crate::page::blind::Blind;
use crate::tongue::{Tongue, say};
use axum::extract::{Path, State};
use axum::response::Response;
use minijinja::Value;
use std::sync::Arc;

/// The record of a permit.
pub async fn show(State(app): State<Arc<App>>, Path(number): Path<String>) -> Response {
    app.screen("record.html", String::new(), move |hand| {
        hand.judged(&format!("record {number}"), |looked| judged(looked, &number))
    })
    .await
}

fn judged(looked: &Looked, number: &str) -> Result<Value, End> {
    let known = looked.known();
    let permit = known.permit(number)?;
    let view =
        crate::show::permit(&known, &looked.lines, number, None, Tongue::asked()).map_err(could_not)?;
    let since = crate::permit::since::since_last_closed(&known, &looked.lines, permit);
    let blind = Blind::of(&known, permit);
    let since = since.iter().map(|s| blind.words(s)).collect::<Vec<_>>();
    // Why something was refused is a part of its line, and stands in the language it was refused in.
    let kept: Vec<bool> = view.day.iter().map(|d| d.refused).collect();
    Ok(values! {
        kept => kept,
        title => say!("{permit}: the record", permit = number), number => number, view => blind.shown(&view), since => since,
        held_back => blind.gauges,
    })
}
