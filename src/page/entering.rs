//! Who enters at this page, as somebody there said: in the lines they stand where `--by` puts them at a terminal.
//!
//! Always: nothing waits for it; who is not known is told on every screen. It is forgotten where another may stand there by
//! now: after a shift, where the laptop slept, the program ended, or a permit was taken over. It signs nothing and opens
//! nothing. Not here: what a line says of nobody.

use super::app::{App, Posted, see};
use super::job;
use crate::permit::decide::Known;
use crate::tongue::say;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use std::sync::{Arc, Mutex, PoisonError};

/// So long somebody is believed to be at the page still: as long as a permit may run. Seconds.
const SHIFT: i64 = 12 * 3600;

/// Who it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Who {
    /// As the lines name them.
    pub id: String,
    /// As people do.
    pub name: String,
    /// When they said so, UTC second.
    since: i64,
}

/// Whoever said it last.
#[derive(Default)]
pub struct Entering(Mutex<Option<Who>>);

impl Entering {
    /// Whoever is at the page; nobody where that was said too long ago, or later than now.
    pub fn now(&self, second: i64) -> Option<Who> {
        let who = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        who.filter(|w| (0..SHIFT).contains(&(second - w.since)))
    }

    fn say(&self, who: Option<Who>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = who;
    }

    /// Another may stand there now.
    pub fn forget(&self) {
        self.say(None);
    }
}

/// Who could be at the page: people of the roster and of the site.
pub fn people(known: &Known<'_>) -> Vec<(String, String)> {
    job::Offers::of(known, "").people(None)
}

/// Somebody says who is at the page, or that nobody says.
pub async fn say_who(State(app): State<Arc<App>>, Posted(form, _): Posted) -> Response {
    let (to, quick) = (form.address("to"), form.some("quick").is_some());
    let second = app.hands.clock.second();
    let found = app.hands.ask(move |hand| {
        let asked = form.text("who").to_owned();
        let known = hand.look().ok()?.known();
        people(&known).into_iter().find(|(id, _)| *id == asked).map(|(id, name)| Who {
            id,
            name,
            since: second,
        })
    });
    let who = found.await.flatten();
    let name = who.as_ref().map_or_else(|| nobody().to_owned(), |w| w.name.clone());
    app.entering.say(who);
    if quick {
        let kind = HeaderValue::from_static("application/json");
        return ([(header::CONTENT_TYPE, kind)], serde_json::json!({ "name": name }).to_string())
            .into_response();
    }
    see(&to)
}

/// What stands there for nobody.
pub fn nobody() -> &'static str {
    say!("not known")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_said_so_is_believed_for_a_shift_and_no_clock_makes_it_longer() {
        let entering = Entering::default();
        assert_eq!(entering.now(0), None);
        let who = Who { id: "oksana".into(), name: "Oksana".into(), since: 1000 };
        entering.say(Some(who.clone()));
        assert_eq!(entering.now(1000), Some(who.clone()));
        assert_eq!(entering.now(1000 + SHIFT - 1), Some(who));
        for elsewhen in [999, 1000 + SHIFT] {
            assert_eq!(entering.now(elsewhen), None, "{elsewhen}");
        }
    }
}
