//! A set: what happens to it, told as it happens.

use super::board::told;
use crate::cli::args::shift::Comes;
use crate::cli::args::{Command, SetCommand, SetThing, ToldArgs};
use crate::page::app::{App, Posted};
use crate::page::form::{Form, encoded};
use crate::page::hand::Told;
use crate::page::once::once;
use crate::permit::bench::file;
use crate::permit::decide::{Known, Refusal};
use crate::tongue::say;
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::Response;
use std::sync::Arc;
use zeroize::Zeroizing;

/// A set that no text in force here names has no screen.
pub fn in_force(known: &Known<'_>, id: &str) -> Result<(), Refusal> {
    if known.has_set(id) {
        return Ok(());
    }
    let why = say!("no set `{set}` is in force here", set = crate::text::safe_line(id));
    Err(Refusal::because(why))
}

/// What the site in force lists: id and name of each.
pub fn listed(known: &Known<'_>, list: &str) -> Vec<(String, String)> {
    let site = crate::page::job::in_force(known, "site", "").and_then(|(_, t)| file("site", &t).ok());
    let items = site.as_ref().map(|s| s.items(list)).unwrap_or_default();
    let name = |v: &crate::site::Values| v.words("name").map_or_else(String::new, |w| w.own().to_owned());
    items.iter().map(|v| (v.id().to_owned(), name(v))).collect()
}

/// The set.
pub async fn show(State(app): State<Arc<App>>, Path(id): Path<String>, uri: Uri) -> Response {
    let told = super::query(&uri).text("told").to_owned();
    app.screen("set.html", told, move |hand| {
        let looked = hand.look()?;
        let known = looked.known();
        in_force(&known, &id)?;
        let name = super::site::set_name(&known, &id);
        let state = known.state.sets.get(&id);
        let running = state.is_some_and(crate::permit::state::SetState::running);
        // Its name and whether it runs stand in the head.
        let (on, lines) = crate::show::set(&known, &id).map_or_else(Default::default, |s| (s.on_air, s.rest));
        Ok(values! {
            title => say!("Set {set}", set = name), name => name, id => id, lines => lines, running => running, on_air_here => on,
            places => listed(&known, "places"), supply_points => listed(&known, "supply_points"),
            released => state.is_some_and(|s| s.released.is_some()),
        })
    })
    .await
}

fn thing(id: &str, form: &Form, told: ToldArgs) -> SetThing {
    SetThing { set: id.to_owned(), hours: form.some("hours"), report: form.some("report").is_some(), told }
}

fn comes(id: &str, form: &Form) -> Comes {
    Comes { set: id.to_owned(), words: form.some("words"), told: told(form) }
}

/// Something happened to it.
pub async fn happened(
    State(app): State<Arc<App>>,
    Path(id): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let to = format!("/set/{}", encoded(&id));
    let again = form.clone();
    let came = once(&app, form, sent, move |hand, form| {
        let thing = thing(&id, form, told(form));
        let text = |name: &str| form.text(name).to_owned();
        let set = match form.text("what") {
            "started" => SetCommand::Started(thing),
            "stopped" => SetCommand::Stopped { thing, ordered_by: None },
            "moved" => SetCommand::Moved { thing, place: text("place") },
            "plugged" => SetCommand::Plugged { thing, supply_point: text("supply_point") },
            "filled" => SetCommand::Filled { thing, from: text("from"), machine: form.some("machine") },
            "serviced" => SetCommand::Serviced { thing, what: text("part"), words: form.some("words") },
            "released" => SetCommand::Released(comes(&id, form)),
            "taken" => SetCommand::Taken(comes(&id, form)),
            other => {
                return Told::not(say!(
                    "{what} is nothing that is told of a set here",
                    what = crate::text::quoted(other, 30)
                ));
            }
        };
        hand.command(Command::Set(set), &Zeroizing::default())
    });
    let Some(told) = came.await else { return app.fault() };
    if !told.err.is_empty() {
        let to = app.onward(&told, &again, &to);
        return app
            .screen("told.html", String::new(), move |_| {
                let gone = told.that_tell(crate::cli::Tells::AirGone);
                Ok(values! { came => told, gone => gone, next => to, title => say!("What came of it"), alarm => true })
            })
            .await;
    }
    app.after_typed(told, &again, &to)
}
