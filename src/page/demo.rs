//! The invented site for the browser: an enrolled station with its texts in force and nothing opened, a clock that can be
//! moved on, and the way back to its beginning. Nothing in it is real.

use super::app::{App, Posted, see};
use super::clock::Clock;
use super::hand::Told;
use super::once::once;
use crate::audit::Trust;
use crate::cli::{End, Outside, Place, could_not, demo};
use crate::disk::{DEMO_MARK, Folder};
use crate::tongue::say;
use crate::world::Storage;
use axum::extract::State;
use axum::response::Response;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where the invented site stands.
pub struct Stands {
    /// Register and seal.
    pub place: Place,
    /// Keys.
    pub keys: PathBuf,
    /// Whom to trust.
    pub trust: Trust,
}

/// The invented site in a folder: made if it is not there, else gone on with where it was left.
pub fn stand(into: &Path, clock: &Clock, outside: &mut Outside<'_>) -> Result<Stands, End> {
    if !crate::disk::holds_something(into) {
        let mut said = Vec::new();
        demo::enrolled(into, &mut said)?;
        crate::disk::write_file(&into.join(DEMO_MARK), b"invented; may be removed whole\n", true, false)?;
    } else if !crate::disk::exists(&into.join(DEMO_MARK)) {
        return Err(could_not(say!(
            "{folder} holds something else; name another folder with --into",
            folder = into.display()
        )));
    }
    let place = Place { register: into.join("register"), seal: Some(into.join("seal")), today: None };
    let looked = place.look(outside)?;
    // The day goes on a minute after its last line.
    clock.set(crate::time::seconds(&looked.chain.time) + 60);
    let trust = crate::disk::read_file(&into.join("trust.yaml"))?;
    let trust =
        String::from_utf8(trust).map_err(|_| could_not(say!("the demo's trust file is not UTF-8")))?;
    Ok(Stands { place, keys: into.join("keys"), trust: Trust::read(&trust).map_err(could_not)? })
}

/// Moves the demo's clock on.
pub async fn clock(State(app): State<Arc<App>>, Posted(form, _): Posted) -> Response {
    let to = form.address("to");
    if app.demo.is_some() {
        let seconds = form.text("seconds").parse().unwrap_or(60);
        app.hands.clock.forward(i64::clamp(seconds, 1, 12 * 3600));
    }
    see(&to)
}

/// Begins the invented day again.
pub async fn again(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let Some(into) = app.demo.clone() else { return see("/") };
    let clock = app.hands.clock.clone();
    let came = once(&app, form, sent, move |hand, _| {
        let done = (|| -> Result<(), End> {
            let seal = into.join("seal");
            let session = Folder::at_private(&seal).read("page")?;
            crate::disk::remove_demo(&into)?;
            hand.outside("", |outside| stand(&into, &clock, outside)).0?;
            if let Some(bytes) = session {
                Folder::make_private(&seal)?.write("page", &bytes)?;
            }
            Ok(())
        })();
        match done {
            Ok(()) => Told {
                done: true,
                out: vec![say!("The invented day begins again.").into()],
                ..Told::default()
            },
            Err(end) => Told::end(end),
        }
    });
    let came = came.await;
    app.woke();
    match came {
        Some(told) => app.after(told, "/"),
        None => app.fault(),
    }
}
