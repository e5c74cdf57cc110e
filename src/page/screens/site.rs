//! The site: sets, permits, what is due.

use crate::actions::Looked;
use crate::cli::End;
use crate::page::app::{App, see};
use crate::page::form::encoded;
use crate::permit::bench::file;
use crate::permit::decide::answer::{bench, running};
use crate::permit::decide::{Known, crew};
use crate::permit::state::Permit;
use crate::permit::{due, walk};
use crate::show::shown_life;
use crate::time::{clock, for_people};
use crate::tongue::say;
use crate::view::StateWord;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::sync::Arc;

/// So many permits that have ended are listed.
const ENDED: usize = 20;

/// The site; after a start or a sleep with people on air the roll is called first.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let query = super::query(&uri);
    if query.some("later").is_none() {
        let there = app.clone();
        let roll = app.hands.ask(move |hand| hand.look().is_ok_and(|l| there.roll_first(l))).await;
        if roll == Some(true) {
            // With what is told, where somebody was led here by it.
            let told = query.some("told").map(|n| format!("?told={}", encoded(&n)));
            return see(&format!("/roll-call{}", told.unwrap_or_default()));
        }
    }
    let find = query.text("find").to_lowercase();
    app.screen("site.html", query.text("told").to_owned(), move |hand| {
        hand.judged(&format!("site {find}"), |looked| judged(looked, &find))
    })
    .await
}

fn judged(looked: &Looked, find: &str) -> Result<Value, End> {
    let known = looked.known();
    let mut permits: Vec<&Permit> = known.state.permits.values().collect();
    permits.sort_by_key(|p| std::cmp::Reverse(p.opened.seq));
    let (open, ended): (Vec<&Permit>, Vec<&Permit>) = permits.into_iter().partition(|p| {
        !shown_life(&known, p).ended()
            || known.state.tally_of_permit(&p.number) > 0
            || crew::is_looked_for(&known, p)
    });
    let found = |p: &&Permit| {
        find.is_empty() || p.number.to_lowercase().contains(find) || what(p).to_lowercase().contains(find)
    };
    let total = ended.len();
    let ended: Vec<Value> = ended.into_iter().filter(found).take(ENDED).map(|p| row(&known, p)).collect();
    Ok(values! {
        title => say!("The site"), sets => sets(&known), open => open.into_iter().map(|p| row(&known, p)).collect::<Vec<_>>(),
        ended => ended, total => total, find => find, apart => crate::show::apart(&known),
        log => known.chain.origin.log,
    })
}

fn what(p: &Permit) -> String {
    p.job.text("what").map(str::to_owned).unwrap_or_default()
}

/// What a permit waits for, in words, and where that is done.
pub fn next(known: &Known<'_>, p: &Permit) -> (String, String) {
    let n = &p.number;
    let at_work = matches!(known.life(p), StateWord::Draft | StateWord::Live | StateWord::Suspended);
    if at_work && shut_down(known, p) {
        return (say!("Hand back").into(), format!("/p/{n}/sign/hand-back"));
    }
    match known.life(p) {
        StateWord::Draft if p.for_shutdown => {
            (say!("Shut the set down").into(), format!("/p/{n}/walk?shutdown=1"))
        }
        StateWord::Draft => (say!("Go on with the steps").into(), format!("/p/{n}/walk")),
        StateWord::Declared => {
            (say!("The supervisor looks and signs").into(), format!("/p/{n}/sign/countersign"))
        }
        StateWord::Live => (say!("The board").into(), "/board".into()),
        StateWord::Suspended if p.shutdown_begun => {
            (say!("Go on with the shutdown").into(), format!("/p/{n}/walk?shutdown=1"))
        }
        StateWord::Suspended => (say!("What is to be done before it goes on").into(), format!("/p/{n}")),
        StateWord::HandedBack => (say!("The supervisor closes it").into(), format!("/p/{n}/sign/close")),
        StateWord::Closed | StateWord::Refused | StateWord::Cancelled | StateWord::Lapsed => {
            (say!("Look at it").into(), format!("/p/{n}"))
        }
    }
}

/// Whether its shutdown was begun and every step of it is done, with nobody left on its air.
fn shut_down(known: &Known<'_>, p: &Permit) -> bool {
    if !(p.shutdown_begun || p.for_shutdown)
        || running(known, &p.set.id)
        || known.state.tally_of_permit(&p.number) > 0
    {
        return false;
    }
    let Ok(texts) = known.texts(p) else { return false };
    let Ok(bench) = bench(known, p, &texts, true) else { return false };
    walk::walk(&bench).iter().all(walk::Stand::done)
}

/// How a permit stands: the mark of its colour, and the word. One that is live, but on whose air nobody may be put, has
/// neither the word nor the colour of one that lets people on.
pub fn stands(known: &Known<'_>, p: &Permit) -> (&'static str, &'static str) {
    let life = shown_life(known, p);
    if crate::show::held_now(known, &p.number).is_ok_and(|h| h.is_some()) {
        return ("held", crate::show::held_word());
    }
    (super::board::mark(life), life.word())
}

fn row(known: &Known<'_>, p: &Permit) -> Value {
    let life = shown_life(known, p);
    let (mark, state) = stands(known, p);
    let (words, to) = next(known, p);
    let due: Vec<String> = known
        .texts(p)
        .map(|texts| {
            let now = known.now.seconds();
            due::due(known, p, &texts).iter().filter_map(|d| d.words(now, &known.now.zone)).collect()
        })
        .unwrap_or_default();
    // What ended by its time ended then, whenever it was written last.
    let lapsed = p.valid_to.as_deref().filter(|_| life == StateWord::Lapsed);
    let since =
        lapsed.map_or_else(|| for_people(&p.since.time, &p.since.zone), |to| for_people(to, &known.now.zone));
    let valid = p.valid_to.as_deref().map(|v| clock(v, &known.now.zone));
    values! {
        number => p.number, mark => mark, state => state, life => life.word(), what => what(p), set => set_name(known, &p.set.id), next => words, to => to, due => due,
        since => since, on_air => known.state.tally_of_permit(&p.number),
        valid => if matches!(life, StateWord::Live | StateWord::Suspended) { valid } else { None },
    }
}

fn name_in(text: &str) -> Option<String> {
    file("set", text).ok().and_then(|v| v.words("name").map(|w| w.own().to_owned()))
}

/// What people call a set; its id where no text in force says it.
pub fn set_name(known: &Known<'_>, id: &str) -> String {
    let text = known.chain.texts.get(&("set".to_owned(), id.to_owned()));
    text.and_then(|t| name_in(&t.text)).unwrap_or_else(|| id.to_owned())
}

/// Every set in force: id and name.
pub fn named_sets(known: &Known<'_>) -> Vec<(String, String)> {
    let of = known.chain.texts.iter().filter(|((kind, _), _)| kind == "set");
    of.map(|((_, id), t)| (id.clone(), name_in(&t.text).unwrap_or_else(|| id.clone()))).collect()
}

fn sets(known: &Known<'_>) -> Vec<Value> {
    let of = known.chain.texts.iter().filter(|((kind, _), _)| kind == "set");
    of.map(|((_, id), t)| {
        let name = name_in(&t.text);
        let state = known.state.sets.get(id);
        let running = state.is_some_and(crate::permit::state::SetState::running);
        let on: Vec<String> = known.perhaps_on_air_from(id).map(|p| crew::named(known, &p.person)).collect();
        values! { id => id, name => name, running => running, on_air => on }
    })
    .collect()
}
