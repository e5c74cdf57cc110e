//! The auditor's view: the verdict, the chain line by line, search. It runs beside the page and shows how far it is.
//!
//! Always: the verdict is worked out from the bytes on disk as they stood when it began, read piece by piece, in a thread of
//! its own, never from the page's memory. It leaves a core to the screens: who is on air comes first. Not here: what makes
//! a verdict (`audit`).

use super::app::{App, Posted, html, see};
use super::blind::Blind;
use super::hand::Told;
use super::spoken::Spoken;
use crate::audit::bounded::{self, Means, Source};
use crate::audit::{Report, Verdict};
use crate::cli::End;
use crate::cli::files::{Files, lines_in};
use crate::record::line::Line;
use crate::record::pour::Piece;
use crate::time::{Moment, for_people};
use crate::tongue::say;
use crate::view::recorded;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use jiff::tz::TimeZone;
use minijinja::Value;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// Lines on one screen.
const LINES: usize = 40;
/// Lines searched before the screen answers.
const SEARCHED: usize = 20_000;

/// A verification under way, or what came of the last.
#[derive(Default)]
pub struct Audit {
    busy: AtomicBool,
    lines: AtomicU64,
    all: AtomicU64,
    came: Mutex<Option<Arc<Came>>>,
}

/// What came of it; put into words for whoever looks, in their language.
struct Came {
    report: Result<Report, Vec<String>>,
    at: Moment,
    /// What stood on disk when it began.
    version: String,
}

impl Came {
    /// What it says of a register that stands on disk in this version, with so many lines: a verdict on other bytes is none of
    /// these.
    fn shown(&self, version: &str, all: usize) -> Value {
        let at = for_people(&self.at.time, &self.at.zone);
        let (mark, verdict) = match self.report.as_ref().map(|r| &r.verdict) {
            Ok(Verdict::Sound) => ("sound", say!("SOUND")),
            Ok(Verdict::Unproven) => ("unproven", say!("UNPROVEN")),
            Ok(Verdict::Broken) => ("broken", say!("BROKEN")),
            Ok(Verdict::CouldNot) | Err(_) => ("could-not-be-read", say!("COULD NOT BE READ")),
        };
        let words: Vec<String> = match &self.report {
            Ok(report) => {
                let until = report.until.as_deref().unwrap_or_default();
                let words = crate::audit::words(report);
                let words = match until {
                    "" => words,
                    until => words.replace(until, &for_people(until, &self.at.zone)),
                };
                words.lines().map(str::to_owned).collect()
            }
            Err(why) => why.clone(),
        };
        let lines = self.report.as_ref().map_or(0, |r| r.lines);
        let old = self.version != version;
        let mark = if old && mark == "sound" { "old" } else { mark };
        let since = usize::try_from(lines).map_or(0, |n| all.saturating_sub(n));
        values! {
            mark => mark, verdict => verdict, words => words, at => at, lines => lines, old => old, since => since,
        }
    }
}

/// A register that is read while somebody looks how far it is.
struct Watched<'a> {
    files: &'a Files,
    lines: &'a AtomicU64,
}

impl Source for Watched<'_> {
    fn pieces(&self) -> Box<dyn Iterator<Item = Piece<'_>> + '_> {
        self.lines.store(0, Ordering::Relaxed);
        Box::new(self.files.pieces().inspect(|piece| {
            self.lines.fetch_add(lines_in(piece), Ordering::Relaxed);
        }))
    }
}

fn verified(app: &App, files: Result<Files, End>, version: String, at: Moment) -> Came {
    let files = match files {
        Ok(files) => files,
        Err(end) => return Came { report: Err(Told::end(end).why), at, version },
    };
    app.audit.all.store(files.lines(), Ordering::Relaxed);
    let watched = Watched { files: &files, lines: &app.audit.lines };
    Came { report: Ok(bounded::verdict(&watched, app.trust.as_ref(), &[], Means::beside())), at, version }
}

/// Begins a verification, if none is under way.
pub async fn begin(State(app): State<Arc<App>>, Posted(..): Posted) -> Response {
    if !app.audit.busy.swap(true, Ordering::Relaxed) {
        app.audit.lines.store(0, Ordering::Relaxed);
        app.audit.all.store(0, Ordering::Relaxed);
        let there = app.clone();
        // As long as they are between two entries of this page.
        let files = app
            .hands
            .ask(|hand| {
                let second = hand.second();
                let at = hand.look().map_or_else(|_| Moment::new(second, &TimeZone::UTC), |l| l.now.clone());
                (Files::at(&hand.place.register).map(Files::as_they_stand), hand.version(), at)
            })
            .await;
        if files.is_none() {
            app.audit.busy.store(false, Ordering::Relaxed);
        }
        if let Some((files, version, at)) = files {
            let spoken = Spoken::now();
            tokio::task::spawn_blocking(move || {
                let came = spoken.within(|| verified(&there, files, version, at));
                if let Ok(mut kept) = there.audit.came.lock() {
                    *kept = Some(Arc::new(came));
                }
                there.audit.busy.store(false, Ordering::Relaxed);
            });
        }
    }
    see("/audit")
}

fn progress(app: &App, version: &str, total: usize) -> Value {
    let (lines, all) = (app.audit.lines.load(Ordering::Relaxed), app.audit.all.load(Ordering::Relaxed));
    let busy = app.audit.busy.load(Ordering::Relaxed);
    // Of a long register they are many, and nobody is shown them meanwhile.
    let came = if busy { None } else { app.audit.came.lock().ok().and_then(|c| c.clone()) };
    let came = came.map(|c| c.shown(version, total));
    values! {
        busy => busy, lines => lines, all => all.max(1), came => came,
        trusted => app.trust.is_some(),
    }
}

/// How far it is, as a part of the page.
pub async fn live(State(app): State<Arc<App>>) -> Response {
    let stands = app.hands.ask(|hand| (hand.version(), hand.look().map_or(0, |l| l.lines.len()))).await;
    let Some((version, total)) = stands else { return app.fault() };
    let audit = progress(&app, &version, total);
    match app.render("bits.html", values! { part => "verdict", audit => audit, came => () }) {
        Ok(text) => html(StatusCode::OK, text),
        Err(_) => app.fault(),
    }
}

/// The view: verdict, lines from one on, or those that hold a text.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let query = super::screens::query(&uri);
    let find = query.text("find").to_owned();
    let from: Option<usize> = query.text("from").parse().ok();
    let there = app.clone();
    app.screen("audit.html", query.text("told").to_owned(), move |hand| {
        let version = hand.version();
        let looked = hand.look()?;
        let total = looked.lines.len();
        let from = from.unwrap_or(if find.is_empty() { total.saturating_sub(LINES) } else { 0 }).min(total);
        let blind = Blind::of_all(&looked.known());
        let mut rows = Vec::new();
        // Nobody knew the site's clock before a site was in force.
        let site = crate::actions::zone(&looked.chain);
        let mut utc = false;
        let mut at = from;
        for line in looked.lines.iter().skip(from) {
            if rows.len() == LINES || (!find.is_empty() && at - from == SEARCHED) {
                break;
            }
            at += 1;
            let held_back = !blind.is_empty() && blind.tells(line);
            if find.is_empty() || holds(line, &find, held_back) {
                utc |= line.zone == "+00:00" && site != TimeZone::UTC;
                rows.push(row(line, &find, held_back));
            }
        }
        Ok(values! {
            title => say!("The auditor's view"), rows => rows, utc => utc, total => total, from => from, upto => at, find => find,
            more => at < total, before => from.saturating_sub(LINES), first => from == 0, audit => progress(&there, &version, total),
            find_on => if find.is_empty() { String::new() } else { format!("&find={}", super::form::encoded(&find)) },
            broken => looked.broken.as_ref().map(|(at, b)| say!("the register is broken at line {at}, rule `{rule}`: {why}", at, rule = b.rule, why = b.why)),
            log => looked.chain.origin.log, head => looked.chain.head,
        })
    })
    .await
}

/// As it is written, or in the words that its row shows. What is held back is not found by what it says either.
fn holds(line: &Line, find: &str, held_back: bool) -> bool {
    let words = recorded(line.kind.name).to_lowercase();
    line.hash.starts_with(find)
        || words.contains(&find.to_lowercase())
        || !held_back && std::str::from_utf8(&line.raw).is_ok_and(|t| t.contains(find))
}

fn row(line: &Line, find: &str, held_back: bool) -> Value {
    let raw = if held_back {
        say!("Held back on this screen until the supervisor has read the gauge again.").into()
    } else {
        String::from_utf8_lossy(&line.raw)
    };
    let raw = crate::text::safe_line(&raw).into_owned();
    let shown: String = raw.chars().take(4000).collect();
    let cut = shown.len() < raw.len();
    values! {
        seq => line.seq, time => for_people(&line.time, &line.zone), kind => recorded(line.kind.name), permit => line.permit,
        by => line.act.as_ref().map(|a| a.by.clone()).or_else(|| line.by.as_ref().map(ToString::to_string)),
        signed => line.act.as_ref().map(|a| (a.role.word(), a.key.clone())), hash => line.hash, prev => line.prev, raw => shown,
        cut => cut, found => find,
    }
}
