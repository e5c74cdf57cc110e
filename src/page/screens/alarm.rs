//! Alarms: calling everyone out, events with their orders, stopping the work, the roll call.
//!
//! Always: the signal stands on the screen before anything is recorded, and in every state. What cannot be kept is written
//! aside by the command, and said.

use super::board::{just_kept, told};
use crate::actions::Looked;
use crate::cli::args::{CallOut, Command, Stops, ToldArgs};
use crate::cli::calling::orders_for;
use crate::cli::{End, Tells};
use crate::page::app::{App, Posted, html};
use crate::page::form::Form;
use crate::page::hand::{Hand, Told};
use crate::page::once::once;
use crate::page::spoken::Spoken;
use crate::permit::decide::{Known, crew};
use crate::record::kinds::EVENTS;
use crate::time::{clock, utc};
use crate::tongue::say;
use crate::view::recorded;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderValue, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use minijinja::Value;
use std::sync::Arc;
use zeroize::Zeroizing;

/// Where the answer to a call-out is torn in two: the signal goes first.
const HERE: &str = "<!-- recorded -->";

/// Seconds after which a call is told with its own time; times are told by the minute.
const LATE: i64 = 60;

/// The signal alone, to look at: records nothing.
pub async fn signal(State(app): State<Arc<App>>) -> Response {
    app.screen("called.html", String::new(), |_| Ok(values! { title => say!("The signal"), called => false }))
        .await
}

/// Everyone is called out. The first part of the answer is sent before the register is touched.
pub async fn call_out(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let signal = app.hands.signal();
    let quick = form.some("quick").is_some();
    let head = values! {
        title => say!("EVERYONE OUT"), called => true, signal => signal, t => app.guard.token(), once => app.word(), version => "",
        now => "", station => "", on_air => signal.on_air, damaged => false, behind => false, day => (), roll => false, told => (),
        demo => false, cautions => Vec::<String>::new(), second => 0, ..super::board::nothing_overdue(),
    };
    let whole = app
        .render("called.html", head)
        .unwrap_or_else(|_| format!("<h1>{}</h1>{HERE}", say!("EVERYONE OUT")));
    let (first, rest) =
        whole.split_once(HERE).map_or((whole.clone(), String::new()), |(a, b)| (a.to_owned(), b.to_owned()));
    let there = app.clone();
    let spoken = Spoken::now();
    let kept = spoken.answer(async move {
        let came = once(&there, form, sent, |hand, form| {
            let mut told = told(form);
            // A call that waited to be kept has the time of the key, not of the line.
            if let (None, Some(ago)) = (&told.at, form.some("ago")) {
                told.at = called_at(hand, &ago);
            }
            let c = CallOut { permit: None, set: None, words: form.some("words"), told };
            hand.command(Command::CallOut(c), &Zeroizing::default())
        });
        let told = came
            .await
            .unwrap_or_else(|| Told::not(say!("a fault of the program: write it on paper, with the time")));
        let rows = there.hands.signal();
        if quick {
            return serde_json::json!({ "told": told, "signal": rows }).to_string();
        }
        there.render("bits.html", values! { came => told, part => "kept" }).unwrap_or_default() + &rest
    });
    if quick {
        let kind = HeaderValue::from_static("application/json");
        return ([(header::CONTENT_TYPE, kind)], Body::from(kept.await)).into_response();
    }
    let parts = stream::unfold((0, Some(first), Some(kept)), |(n, first, kept)| async move {
        match n {
            0 => Some((first.unwrap_or_default(), (1, None, kept))),
            1 => Some((kept?.await, (2, None, None))),
            _ => None,
        }
    });
    let body = Body::from_stream(futures_util::StreamExt::map(parts, Ok::<String, std::convert::Infallible>));
    let mut answer = html(StatusCode::OK, String::new());
    *answer.body_mut() = body;
    answer
}

/// Site time so many seconds ago; nothing for what was asked just now, and where no clock of a site is known.
fn called_at(hand: &mut Hand, ago: &str) -> Option<String> {
    let ago: i64 = ago.parse().ok().filter(|ago| *ago >= LATE)?;
    let now = &hand.look().ok()?.now;
    Some(clock(&utc(now.seconds().checked_sub(ago)?), &now.zone))
}

fn here(form: &Form) -> Stops {
    Stops { permit: form.some("permit"), set: form.some("set") }
}

/// Every event with its order as things stand, to be pressed.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let query = super::query(&uri);
    app.screen("alarm.html", query.text("told").to_owned(), move |hand| {
        let on = here(&query);
        hand.judged(&format!("alarm {:?} {:?}", on.permit, on.set), |looked| judged(looked, &on))
    })
    .await
}

fn judged(looked: &Looked, on: &Stops) -> Result<Value, End> {
    let known = looked.known();
    let events: Vec<Value> = EVENTS
            .iter()
            .filter(|e| **e != "called")
            .map(|e| {
                let orders = orders_for(&known, e, on);
                values! {
                    id => *e, words => recorded(e), order => orders.wearers, attendant => orders.attendant, set => orders.set,
                    again => orders.again,
                }
            })
            .collect();
    Ok(values! {
        title => say!("An alarm or event"), events => events, permit => on.permit.as_deref().unwrap_or_default(),
        at_work => at_work(&known),
    })
}

/// Permits that people may be on air by.
fn at_work(known: &Known<'_>) -> Vec<String> {
    use crate::view::StateWord as W;
    let all = known.state.permits.values().filter(|p| {
        matches!(known.life(p), W::Live | W::Suspended)
            || known.state.tally_of_permit(&p.number) > 0
            || crew::is_looked_for(known, p)
    });
    all.map(|p| p.number.clone()).collect()
}

/// An event happened.
pub async fn event(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let again = form.clone();
    let came = once(&app, form, sent, |hand, form| {
        let what = form.text("what").to_owned();
        if let Some(line) = just_kept(hand, "event", form.text("permit"), &[], &[("what", &what)]) {
            let words = say!(
                "{what} was kept just now, line {line}; nothing was written twice.",
                what = recorded(&what),
                line
            );
            return Told { done: true, err: vec![words], ..Told::default() };
        }
        let told = told_at_all(hand, form);
        let command = Command::Event { on: here(form), what, words: form.some("words"), told };
        hand.command(command, &Zeroizing::default())
    });
    after_alarm(&app, came.await, &again).await
}

/// When and by whom; a time that means nothing here is kept as words: no alarm waits for it.
fn told_at_all(hand: &mut Hand, form: &Form) -> ToldArgs {
    let mut t = told(form);
    let mut meant =
        |at: &String| hand.look().is_ok_and(|l| crate::cli::station::last_time(at, &l.now).is_ok());
    if let Some(at) = t.at.take_if(|at| !meant(at)) {
        let at = say!("at {time} site time", time = crate::text::safe_line(&at));
        t.told_by = Some(t.told_by.map_or(at.clone(), |by| format!("{by}, {at}")));
    }
    t
}

/// The work is stopped.
pub async fn suspend(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let again = form.clone();
    let came = once(&app, form, sent, |hand, form| {
        let command = Command::Suspend { on: here(form), reason: form.some("reason"), told: told(form) };
        hand.command(command, &Zeroizing::default())
    });
    after_alarm(&app, came.await, &again).await
}

/// An alarm leads to the board; what was not done, back to where it was typed.
async fn after_alarm(app: &Arc<App>, came: Option<Told>, form: &Form) -> Response {
    let Some(told) = came else { return app.fault() };
    let from = form.some("from").map_or("/alarm".to_owned(), |_| form.address("from"));
    if !told.done && !told.aside && told.err.is_empty() {
        return app.after_typed(told, form, &from);
    }
    let next = if told.done || told.aside { "/board".to_owned() } else { app.onward(&told, form, &from) };
    app.screen("told.html", String::new(), move |_| {
        let gone = told.that_tell(Tells::AirGone);
        Ok(values! { came => told, gone => gone, next => next, title => say!("What came of it"), alarm => true })
    })
    .await
}

/// Everyone on air, to be called by name.
pub async fn roll(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let told = super::query(&uri).text("told").to_owned();
    app.screen("roll.html", told, |hand| {
        let looked = hand.look()?;
        let known = looked.known();
        Ok(values! { title => say!("Roll call"), groups => groups(&known) })
    })
    .await
}

fn groups(known: &Known<'_>) -> Vec<Value> {
    let mut out = Vec::new();
    for number in at_work(known) {
        let Some(permit) = known.state.permits.get(&number) else { continue };
        let unseen = crew::unseen(known, permit).into_iter().map(|(id, _)| id).collect();
        out.push(group(known, &number, "", crew::to_call(known, Some(permit), None), unseen));
    }
    // Called out before any of it was issued: the roll ends that too.
    for permit in known.state.not_ended(known.time()) {
        let there =
            out.iter().any(|g| g.get_attr("permit").is_ok_and(|n| n.as_str() == Some(&permit.number)));
        if !there && !crate::permit::called::before_issue(known, permit).is_empty() {
            out.push(group(known, &permit.number, "", crew::to_call(known, Some(permit), None), Vec::new()));
        }
    }
    let mut sets: Vec<&str> =
        known.state.on_air.iter().filter(|p| p.permit.is_none()).map(|p| p.set.as_str()).collect();
    // Called out or told of an alarm, and every permit has ended since.
    sets.extend(crate::permit::called::unrolled(known).into_iter().map(|(set, _)| set));
    sets.sort_unstable();
    sets.dedup();
    for set in sets {
        out.push(group(known, "", set, crew::to_call(known, None, Some(set)), Vec::new()));
    }
    out
}

fn group(known: &Known<'_>, permit: &str, set: &str, people: Vec<String>, unseen: Vec<&str>) -> Value {
    let people: Vec<Value> = people
        .into_iter()
        .map(|id| {
            let name = crew::named(known, &id);
            let on = known.state.on_air.iter().find(|p| p.person == id);
            let off = if unseen.contains(&id.as_str()) { say!("NOT SEEN OUTSIDE") } else { say!("off air") };
            values! { id => id, name => name, place => on.map_or(off, |p| p.whereabouts.words()) }
        })
        .collect();
    values! { permit => permit, set => set, set_name => super::site::set_name(known, set), people => people }
}

/// The roll was called.
pub async fn roll_called(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let again = form.clone();
    let came = once(&app, form, sent, |hand: &mut Hand, form| {
        let (mut found, mut missing) = (Vec::new(), Vec::new());
        let mut untold = Vec::new();
        for person in form.all("person") {
            match form.text(&format!("answer.{person}")) {
                "yes" => found.push(person),
                "no" => missing.push(person),
                _ => untold.push(person),
            }
        }
        let named = |id: &String| hand.look().map_or_else(|_| id.clone(), |l| crew::named(&l.known(), id));
        let untold: Vec<String> = untold.iter().map(named).collect();
        if !untold.is_empty() {
            let why = say!(
                "Nobody says whether these answered: {names}. Nothing is kept yet.",
                names = untold.join(", ")
            );
            return Told {
                refused: true,
                why: vec![why],
                instead: say!("call each by name, by voice").into(),
                ..Told::default()
            };
        }
        let on = crate::cli::args::OnWhat {
            permit: form.some("permit"),
            set: form.some("set").filter(|_| form.some("permit").is_none()),
        };
        let danger = !missing.is_empty();
        let came =
            hand.command(Command::RollCall { on, found, missing, told: told(form) }, &Zeroizing::default());
        Told { danger, ..came }
    });
    match came.await {
        Some(told) => {
            let alarm = told.danger;
            if !alarm {
                let to = if told.done || told.aside { "/board" } else { "/roll-call" };
                return app.after_typed(told, &again, to);
            }
            let missing = again.all("person");
            let missing =
                missing.iter().filter(|p| alarm && again.text(&format!("answer.{p}")) == "no").count();
            let next = if told.done || told.aside {
                "/board".to_owned()
            } else {
                app.onward(&told, &again, "/roll-call")
            };
            app.screen("told.html", String::new(), move |_| {
                let title = if missing > 0 { say!("MISSING") } else { say!("What came of it") };
                let gone = told.that_tell(Tells::AirGone);
                Ok(values! { came => told, gone => gone, next => next, title => title, alarm => alarm, missing_here => missing })
            })
            .await
        }
        None => app.fault(),
    }
}

/// Words for the record; they change nothing.
pub async fn note(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let to = form.some("permit").map_or("/".to_owned(), |p| format!("/p/{}", crate::page::form::encoded(&p)));
    let again = form.clone();
    let came = once(&app, form, sent, |hand, form| {
        let on = crate::cli::args::OnWhat { permit: form.some("permit"), set: form.some("set") };
        hand.command(Command::Note { on, words: form.text("words").to_owned() }, &Zeroizing::default())
    });
    match came.await {
        Some(told) => app.after_typed(told, &again, &to),
        None => app.fault(),
    }
}
