//! What every screen rests on: the hand, the guard, the templates, what was told last.

use super::draft::Draft;
use super::entering::{self, Entering};
use super::form::Form;
use super::guard::{self, Guard, No};
use super::hand::{Hand, Hands, Told};
use super::notices::Notices;
use super::once::Sent;
use crate::audit::Trust;
use crate::cli::End;
use crate::disk::SystemRandom;
use crate::permit::decide::crew;
use crate::time::for_people;
use crate::tongue::{self, Tongue, say};
use crate::world::Random;
use axum::body::Body;
use axum::extract::{FromRequest, Request};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use minijinja::value::Kwargs;
use minijinja::{Environment, State, UndefinedBehavior, Value};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::Duration;
use tokio::sync::Semaphore;

/// Longest that a body may take to come.
const BODY_WITHIN: Duration = Duration::from_secs(5);
/// The clock of the page stood still for so long: the laptop slept. Seconds.
const SLEPT: i64 = 60;
/// No look since the page is awake.
const NO_LOOK: u64 = u64::MAX;

/// The page.
pub struct App {
    /// Reads and writes.
    pub hands: Hands,
    /// Keeps others out.
    pub guard: Guard,
    /// What came of the last requests.
    pub notices: Notices,
    /// The form of a permit that is not opened yet.
    pub draft: Draft,
    /// Who is at the page.
    pub entering: Entering,
    /// Folder of the keys of those who sign here.
    pub keys: PathBuf,
    /// Whom the auditor's view trusts.
    pub trust: Option<Trust>,
    /// The invented site: its clock can be moved, it can begin again.
    pub demo: Option<PathBuf>,
    /// The auditor's view.
    pub audit: super::audit::Audit,
    /// So many at once.
    pub room: Arc<Semaphore>,
    /// So many screens that renew themselves.
    pub streams: Arc<Semaphore>,
    /// So many papers wait to be drawn.
    pub papers: Semaphore,
    /// One is drawn at a time.
    pub drawing: Arc<tokio::sync::Mutex<()>>,
    /// One file at a time is taken from a browser.
    file: Semaphore,
    env: Environment<'static>,
    /// Since when the page is awake, UTC second.
    awake: AtomicI64,
    /// The same as a place in the history, which no clock moves: so many lines there were; unknown until the next look.
    awake_at: AtomicU64,
    tick: AtomicI64,
}

/// What the page is made with.
pub struct Made {
    /// Reads and writes.
    pub hands: Hands,
    /// Keeps others out.
    pub guard: Guard,
    /// Folder of keys.
    pub keys: PathBuf,
    /// Whom the auditor's view trusts.
    pub trust: Option<Trust>,
    /// The demo's folder.
    pub demo: Option<PathBuf>,
}

const TEMPLATES: &[(&str, &str)] = &[
    ("base.html", include_str!("templates/base.html")),
    ("bits.html", include_str!("templates/bits.html")),
    ("trouble.html", include_str!("templates/trouble.html")),
    ("told.html", include_str!("templates/told.html")),
    ("air_test.html", include_str!("templates/air_test.html")),
    ("clock.html", include_str!("templates/clock.html")),
    ("elsewhere.html", include_str!("templates/elsewhere.html")),
    ("witness.html", include_str!("templates/witness.html")),
    ("site.html", include_str!("templates/site.html")),
    ("open.html", include_str!("templates/open.html")),
    ("plan.html", include_str!("templates/plan.html")),
    ("permit.html", include_str!("templates/permit.html")),
    ("walk.html", include_str!("templates/walk.html")),
    ("carry.html", include_str!("templates/carry.html")),
    ("sign.html", include_str!("templates/sign.html")),
    ("board.html", include_str!("templates/board.html")),
    ("board_live.html", include_str!("templates/board_live.html")),
    ("alarm.html", include_str!("templates/alarm.html")),
    ("called.html", include_str!("templates/called.html")),
    ("roll.html", include_str!("templates/roll.html")),
    ("set.html", include_str!("templates/set.html")),
    ("audit.html", include_str!("templates/audit.html")),
    ("record.html", include_str!("templates/record.html")),
];

impl App {
    /// Made.
    pub fn new(m: Made) -> Result<App, String> {
        let mut env = Environment::new();
        env.set_undefined_behavior(UndefinedBehavior::Strict);
        env.add_filter("here", called_here);
        env.add_filter("alike", alike);
        env.add_function("say", filled);
        env.add_function("say_n", counted);
        env.add_function("tongue", || Tongue::now().tag());
        env.add_function("tongues", || {
            Value::from_iter(Tongue::ALL.map(|t| Value::from(vec![t.tag(), t.name()])))
        });
        env.add_global("style_version", version(super::STYLE));
        env.add_global("script_version", version(super::SCRIPT));
        for (name, text) in TEMPLATES {
            env.add_template(name, text).map_err(|e| format!("{name}: {e:#}"))?;
        }
        let now = m.hands.clock.second();
        Ok(App {
            hands: m.hands,
            guard: m.guard,
            notices: Notices::default(),
            draft: Draft::default(),
            entering: Entering::default(),
            keys: m.keys,
            trust: m.trust,
            demo: m.demo,
            audit: super::audit::Audit::default(),
            room: Arc::new(Semaphore::new(guard::AT_ONCE)),
            streams: Arc::new(Semaphore::new(guard::STREAMS)),
            papers: Semaphore::new(guard::PAPERS),
            drawing: Arc::default(),
            file: Semaphore::new(1),
            env,
            awake: AtomicI64::new(now),
            awake_at: AtomicU64::new(NO_LOOK),
            tick: AtomicI64::new(now),
        })
    }

    /// Renders a template; whatever stands in the values is escaped.
    pub fn render(&self, name: &str, values: Value) -> Result<String, String> {
        let template = self.env.get_template(name).map_err(|e| format!("{e:#}"))?;
        let screen = template.render(values).map_err(|e| format!("{e:#}"))?;
        Ok(super::glue::glued(&screen))
    }

    /// A fresh random word.
    pub fn word(&self) -> String {
        let mut bytes = [0u8; 16];
        // Without randomness the clock tells two forms apart; nothing secret is made here.
        if SystemRandom.fill(&mut bytes).is_err() {
            bytes[..8].copy_from_slice(&self.hands.clock.second().to_be_bytes());
        }
        data_encoding::HEXLOWER.encode(&bytes)
    }

    /// Reads once before anybody asks: the signal is there from the first screen on, and who was on air before.
    pub async fn begin(self: &Arc<Self>) {
        let there = self.clone();
        let _ = self.hands.ask(move |hand| hand.look().is_ok_and(|l| there.roll_first(l))).await;
    }

    /// A tick of the page's own clock: a long pause between two was a sleep of the laptop.
    pub fn ticked(&self) {
        let now = self.hands.clock.machine();
        let before = self.tick.swap(now, Ordering::Relaxed);
        if (now - before).abs() > SLEPT && before != 0 {
            self.woke();
        }
    }

    /// The laptop woke up, or the program began.
    pub fn woke(&self) {
        self.awake.store(self.hands.clock.second(), Ordering::Relaxed);
        self.awake_at.store(NO_LOOK, Ordering::Relaxed);
        self.entering.forget();
    }

    /// What stands on every screen.
    fn base(&self, hand: &mut Hand, told: &str) -> Value {
        let version = hand.version();
        let overdue = super::screens::board::overdue(hand);
        let day = hand.unsure_of_the_day();
        let (now, station, on_air, damaged, behind, roll, crew, names) = match hand.look() {
            Ok(l) => {
                let known = l.known();
                let on_air = l.state.on_air.len();
                (
                    for_people(&l.now.time, &l.now.zone),
                    l.chain.origin.station.clone(),
                    on_air,
                    l.is_damaged(),
                    known.behind(),
                    self.roll_first(l),
                    entering::people(&known),
                    super::called::names(&known),
                )
            }
            Err(_) => (
                crate::time::utc(hand.second()),
                String::new(),
                0,
                true,
                false,
                false,
                Vec::new(),
                BTreeMap::new(),
            ),
        };
        let signal = self.hands.signal();
        values! {
            t => self.guard.token(), once => self.word(), version => version, now => now, station => station,
            on_air => on_air, damaged => damaged, behind => behind, day => day, roll => roll, signal => signal,
            told => self.notices.of(told), typed => self.notices.typed(told), demo => self.demo.is_some(), cautions => crate::permit::said::cautions(),
            second => hand.second(), names => names, crew => crew, enters => self.entering.now(hand.second()).map(|w| (w.id, w.name)), ..overdue,
        }
    }

    /// After a start or a sleep with people on air nobody was timed: they are called by name first. So they are where a
    /// register does not say who is on air.
    pub fn roll_first(&self, looked: &crate::actions::Looked) -> bool {
        let awake = crate::time::utc(self.awake.load(Ordering::Relaxed));
        let lines = looked.state.count();
        let kept = self.awake_at.compare_exchange(NO_LOOK, lines, Ordering::Relaxed, Ordering::Relaxed);
        let awake_at = kept.map_or_else(|before| before, |_| lines);
        let unrolled = |p: &crate::permit::state::OnAir| {
            // By the clock too: what is told late was before.
            let on_since = p.since.seq >= awake_at && p.went_on.as_str() >= awake.as_str();
            let rolled = looked.state.sets.get(&p.set).and_then(|s| s.rolled.as_ref());
            // Called by name and not found is called too: whom to look for stands on every screen.
            let permit = || looked.state.permits.get(p.permit.as_ref()?).and_then(crew::missing);
            let called = |seq| seq >= awake_at;
            !on_since
                && !rolled.is_some_and(|r| called(r.seq))
                && !permit().is_some_and(|(roll, _)| called(roll.stamp.seq))
        };
        looked.broken.is_some() || looked.older || looked.state.on_air.iter().any(unrolled)
    }

    /// A screen: values worked out by the hand, put into a template.
    pub async fn screen<F>(self: &Arc<Self>, template: &'static str, told: String, work: F) -> Response
    where
        F: FnOnce(&mut Hand) -> Result<Value, End> + Send + 'static,
    {
        let app = self.clone();
        let made = self.hands.ask(move |hand| {
            let values = work(hand);
            (values, app.base(hand, &told))
        });
        let Some((values, base)) = made.await else { return self.fault() };
        let (status, name, values) = match values {
            Ok(values) => (StatusCode::OK, template, values),
            Err(end) => {
                let told = Told::end(end);
                let status =
                    if told.refused { StatusCode::NOT_FOUND } else { StatusCode::SERVICE_UNAVAILABLE };
                (status, "trouble.html", values! { trouble => told, title => say!("This cannot be shown") })
            }
        };
        match self.render(name, minijinja::context! { ..values, ..base }) {
            Ok(text) => html(status, text),
            Err(why) => {
                self.plain(StatusCode::INTERNAL_SERVER_ERROR, &say!("a fault of the program: {why}", why))
            }
        }
    }

    /// What came of a form leads on, with its words: an answer that is a screen itself would be sent again by whoever comes
    /// back to it.
    pub fn after(&self, told: Told, next: &str) -> Response {
        let id = self.notices.keep(told);
        see(&with_told(next, id))
    }

    /// Why an address that was only looked at has nothing to show.
    pub async fn said(self: &Arc<Self>, told: Told, next: String) -> Response {
        let values =
            move |_: &mut Hand| Ok(values! { came => told, next => next, title => say!("What came of it") });
        let mut answer = self.screen("told.html", String::new(), values).await;
        *answer.status_mut() = StatusCode::CONFLICT;
        answer
    }

    /// The same where it was not done: back to what was typed.
    pub fn after_typed(&self, told: Told, form: &Form, next: &str) -> Response {
        if told.done || told.aside {
            return self.after(told, next);
        }
        see(&self.onward(&told, form, next))
    }

    /// Back to the screen that something was typed on, where it stands again, with what is said of it.
    pub fn back(&self, screen: &str, told: Option<Told>, form: &Form) -> Response {
        see(&with_told(screen, self.notices.keep_for(screen, told, form)))
    }

    /// What was typed on a screen that is come back to, and what was said of it; else the number of what is told there.
    pub fn typed_on(&self, screen: &str, query: &Form) -> (String, Form, Option<Told>) {
        let number = query.text("told");
        match self.notices.typed_for(screen, number) {
            Some((form, told)) => (String::new(), form, told),
            None => (number.to_owned(), Form::default(), None),
        }
    }

    /// Where it goes on: after what was not done, back to what was typed.
    pub fn onward(&self, told: &Told, form: &Form, next: &str) -> String {
        if told.done || told.aside {
            return next.to_owned();
        }
        with_told(next, self.notices.keep_typed(told.clone(), form))
    }

    /// Something of the program went wrong; whoever is on air is called out all the same.
    pub fn fault(&self) -> Response {
        self.plain(
            StatusCode::INTERNAL_SERVER_ERROR,
            say!(
                "A fault of the program: this screen cannot be shown. Nothing that was kept is lost. Load it again. In an alarm \
                 use the agreed signal."
            ),
        )
    }

    /// Words alone, still with the signal and the key.
    pub fn plain(&self, status: StatusCode, words: &str) -> Response {
        let signal = self.hands.signal();
        let told = Told::not(words);
        let values = values! {
            trouble => told, title => say!("This cannot be shown"), t => self.guard.token(), once => self.word(),
            version => "", now => "", station => "", on_air => 0, damaged => false, behind => false, day => (), roll => false,
            signal => signal, told => (), demo => false, cautions => Vec::<String>::new(), second => 0,
            ..super::screens::board::nothing_overdue(),
        };
        html(status, self.render("trouble.html", values).unwrap_or_else(|_| "trouble".to_owned()))
    }

    /// Why a request is not answered: without anything that only those who were let in may see.
    pub fn no(&self, no: No) -> Response {
        let words = no.words();
        let text = format!(
            "<!doctype html><html lang=\"{tag}\"><head><meta charset=\"utf-8\"><title>airwrit: {not}</title>\
             <link rel=\"stylesheet\" href=\"/style.css\"></head><body><main><h1>{not}</h1><p>{words}</p>\
             <p>{signal}</p></main></body></html>",
            tag = Tongue::now().tag(),
            not = say!("Not here"),
            signal = say!("In an alarm: first the agreed signal, whatever this screen shows."),
        );
        html(no.status(), text)
    }
}

/// An address that tells what has this number.
fn with_told(next: &str, id: u64) -> String {
    let mark = if next.contains('?') { '&' } else { '?' };
    format!("{next}{mark}told={id}")
}

/// An HTML answer.
pub fn html(status: StatusCode, text: String) -> Response {
    (status, [(header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"))], Body::from(text))
        .into_response()
}

/// Leads to another address of this page.
pub fn see(to: &str) -> Response {
    let to = HeaderValue::from_str(to).unwrap_or(HeaderValue::from_static("/"));
    (StatusCode::SEE_OTHER, [(header::LOCATION, to)]).into_response()
}

/// Words of a template, in the language bound here: what `say!` is in code. `tests/tongues.rs` reads them there.
fn words(english: &str, named: &Kwargs) -> Result<String, minijinja::Error> {
    let names: Vec<&str> = named.args().collect();
    let values = names.iter().map(|n| named.get::<Value>(n)).collect::<Result<Vec<_>, _>>()?;
    let pairs: Vec<(&str, &dyn std::fmt::Display)> =
        names.iter().zip(&values).map(|(n, v)| (*n, v as &dyn std::fmt::Display)).collect();
    Ok(tongue::fill(english, &pairs))
}

/// Words of the engine as the page calls what is in them.
fn called_here(state: &State<'_, '_>, text: String) -> String {
    let names = state.lookup("names").unwrap_or_default();
    let name_of = |id: &str| {
        let name = names.get_item(&Value::from(id)).ok()?;
        name.as_str().map(str::to_owned)
    };
    super::called::here(&text, &name_of)
}

/// Rows of a label and words: what is called alike together, under its label once.
fn alike(rows: &Value) -> Result<Value, minijinja::Error> {
    let mut out: Vec<(Value, Vec<Value>)> = Vec::new();
    for row in rows.try_iter()? {
        let (label, words) = (row.get_item_by_index(0)?, row.get_item_by_index(1)?);
        match out.last_mut() {
            Some((last, all)) if *last == label => all.push(words),
            Some(_) | None => out.push((label, vec![words])),
        }
    }
    Ok(out.into_iter().map(|(label, all)| Value::from(vec![label, Value::from(all)])).collect())
}

fn filled(english: &str, named: Kwargs) -> Result<String, minijinja::Error> {
    words(tongue::translated(english).unwrap_or(english), &named)
}

/// The same with a number in its plural forms.
fn counted(n: u64, one: &str, many: &str, named: Kwargs) -> Result<String, minijinja::Error> {
    let form = tongue::form_of(&format!("{one}|{many}"), n);
    words(&tongue::fill(&form, &[("n", &n)]), &named)
}

/// Changes with the text: a browser may keep what stands under this address.
pub fn version(text: &str) -> String {
    crate::record::line::hash(text.as_bytes()).chars().take(12).collect()
}

/// A form whose size, time, shape and token were looked at. There is no other way to one.
pub struct Posted(pub Form, pub Sent);

/// The bytes that come with a request: whole, in time, and not too many.
async fn body(request: Request, app: &App, most: usize) -> Result<Vec<u8>, Response> {
    match tokio::time::timeout(BODY_WITHIN, axum::body::to_bytes(request.into_body(), most)).await {
        Err(_) => Err(app.plain(StatusCode::REQUEST_TIMEOUT, say!("The form did not come whole in time."))),
        Ok(Err(_)) => {
            let words = say!("The form is larger than {most} kB, or broke off.", most = most / 1024);
            Err(app.plain(StatusCode::PAYLOAD_TOO_LARGE, &words))
        }
        Ok(Ok(bytes)) => Ok(bytes.into()),
    }
}

impl FromRequest<Arc<App>> for Posted {
    type Rejection = Response;

    async fn from_request(request: Request, app: &Arc<App>) -> Result<Posted, Response> {
        let address = request.uri().path().to_owned();
        let bytes = body(request, app, guard::BODY).await?;
        let mut form = Form::read(&bytes).map_err(|why| app.plain(StatusCode::BAD_REQUEST, &why))?;
        app.guard.form(&form).map_err(|no| app.no(no))?;
        let sent = Sent::of(&address, &form, b"");
        form.entered_by(app.entering.now(app.hands.clock.second()).map(|w| w.id));
        Ok(Posted(form, sent))
    }
}

/// The same with a file that it brings; one at a time, so that they do not fill the memory.
pub struct Brought(pub Form, pub Vec<u8>, pub Sent);

impl FromRequest<Arc<App>> for Brought {
    type Rejection = Response;

    async fn from_request(request: Request, app: &Arc<App>) -> Result<Brought, Response> {
        let address = request.uri().path().to_owned();
        let Ok(_alone) = app.file.try_acquire() else { return Err(app.no(No::Rate)) };
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|k| k.to_str().ok());
        let kind = kind.unwrap_or_default().to_owned();
        let bytes = body(request, app, guard::BODY + crate::cli::picture::MOST_FILE).await?;
        let read = super::brought::read(&kind, &bytes);
        let (form, file) = read.map_err(|why| app.plain(StatusCode::BAD_REQUEST, &why))?;
        app.guard.form(&form).map_err(|no| app.no(no))?;
        let sent = Sent::of(&address, &form, &file);
        Ok(Brought(form, file, sent))
    }
}
