//! Tests of the page without sockets: who is let in, what is refused, that nothing is written twice, that nothing foreign
//! becomes markup, and that everyone is called out whatever else is broken.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods)]

mod again;
mod doubtful;
mod entering;
mod figures;
mod further;
mod guarding;
mod lost;
mod opening;
mod seeing;
mod speaking;
mod standing;
mod telling;

use super::{App, Clock, Guard, Hands, Made, router};
use crate::cli::{Outside, Place};
use crate::disk::SystemRandom;
use axum::body::Body;
use axum::http::{HeaderMap, Request, StatusCode};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use tempfile::TempDir;
use tower::ServiceExt;

const PORT: u16 = 7431;
const SESSION: &str = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";

/// Every look at the clock is a second later.
fn machine() -> i64 {
    static NOW: AtomicI64 = AtomicI64::new(0);
    NOW.fetch_add(1, Ordering::Relaxed)
}

/// The invented site behind a page, without a socket.
struct Site {
    folder: TempDir,
    app: Arc<App>,
    runtime: tokio::runtime::Runtime,
}

/// What came back.
struct Came {
    status: StatusCode,
    headers: HeaderMap,
    text: String,
}

fn between<'t>(text: &'t str, before: &str, after: &str) -> &'t str {
    let rest = text.split_once(before).unwrap_or_else(|| panic!("no {before} in {text}")).1;
    rest.split_once(after).unwrap().0
}

/// The invented site as it begins, made once.
fn begun() -> &'static TempDir {
    static AT: std::sync::OnceLock<TempDir> = std::sync::OnceLock::new();
    AT.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        stand(folder.path(), machine);
        folder
    })
}

fn stand(folder: &std::path::Path, machine: fn() -> i64) -> (super::demo::Stands, Arc<Clock>) {
    let clock = Arc::new(Clock::of(machine));
    let mut outside = Outside {
        input: &mut &b""[..],
        out: &mut std::io::sink(),
        err: &mut std::io::sink(),
        terminal: false,
        second: &|| 0,
        random: &mut SystemRandom,
        state_folder: None,
        page: super::serve,
        aside: crate::cli::Aside::default(),
        face: crate::cli::Face::default(),
    };
    (super::demo::stand(&folder.join("site"), &clock, &mut outside).unwrap(), clock)
}

fn copy(from: &std::path::Path, to: &std::path::Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let there = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &there);
        } else {
            std::fs::copy(&path, &there).unwrap();
        }
    }
}

impl Site {
    fn new() -> Site {
        let folder = tempfile::tempdir().unwrap();
        copy(begun().path(), folder.path());
        Site::of(folder, machine)
    }

    /// A permit is declared there; its number. The clock stands: what was read is fresh, however many ask.
    fn declared() -> (Site, String) {
        static AT: std::sync::OnceLock<(TempDir, String)> = std::sync::OnceLock::new();
        let (made, number) = AT.get_or_init(|| {
            let folder = tempfile::tempdir().unwrap();
            let into = folder.path().join("site");
            let number = crate::cli::demo::declared(&into).unwrap();
            std::fs::write(into.join(crate::disk::DEMO_MARK), "").unwrap();
            (folder, number)
        });
        (Site::copied(made), number.clone())
    }

    fn copied(made: &TempDir) -> Site {
        let folder = tempfile::tempdir().unwrap();
        copy(made.path(), folder.path());
        Site::of(folder, || 1)
    }

    /// The same, countersigned by whoever read what the operator read.
    fn live() -> (Site, String) {
        static AT: std::sync::OnceLock<(Site, String)> = std::sync::OnceLock::new();
        let (made, number) = AT.get_or_init(Site::countersigned);
        (Site::copied(&made.folder), number.clone())
    }

    fn countersigned() -> (Site, String) {
        let (site, number) = Site::declared();
        let path = format!("/p/{number}/sign/countersign");
        let right = telling::read_by_the_operator(&site, &path);
        let mut fields: Vec<(&str, &str)> = right.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        fields.push(("by", "eleni"));
        let came = site.post(&path, &[&fields[..], &[("stage", "look")]].concat());
        let shown = between(&came.text, "name=\"shown\" value=\"", "\"").to_owned();
        fields.extend([("stage", "sign"), ("shown", &shown), ("passphrase", "demo")]);
        let came = site.post(&path, &fields);
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
        (site, number)
    }

    fn of(folder: TempDir, machine: fn() -> i64) -> Site {
        let (stands, clock) = stand(folder.path(), machine);
        let into = folder.path().join("site");
        let place = Place { seal: Some(into.join("seal")), ..stands.place };
        let hands = Hands::start(place, None, clock);
        let guard = Guard::new(PORT, SESSION.into());
        let made = Made { hands, guard, keys: stands.keys, trust: Some(stands.trust), demo: Some(into) };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
        let app = Arc::new(App::new(made).unwrap());
        runtime.block_on(app.begin());
        Site { folder, app, runtime }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join("site").join(name)
    }

    fn register(&self) -> Vec<u8> {
        std::fs::read(self.path("register/0001.jsonl")).unwrap()
    }

    fn lines(&self) -> usize {
        self.register().iter().filter(|b| **b == b'\n').count()
    }

    fn send(&self, request: Request<Body>) -> Came {
        let router = router(self.app.clone());
        self.runtime.block_on(async {
            let answer = router.oneshot(request).await.unwrap();
            let (status, headers) = (answer.status(), answer.headers().clone());
            let bytes = axum::body::to_bytes(answer.into_body(), 64 << 20).await.unwrap();
            // Figures are held to their units by a space that does not break; nobody types it.
            let text = String::from_utf8_lossy(&bytes).replace('\u{a0}', " ");
            Came { status, headers, text }
        })
    }

    fn cookie() -> String {
        format!("airwrit-{PORT}={SESSION}")
    }

    fn host() -> String {
        format!("127.0.0.1:{PORT}")
    }

    fn get(&self, path: &str) -> Came {
        self.get_with(path, &Site::cookie())
    }

    fn get_with(&self, path: &str, cookie: &str) -> Came {
        let request = Request::get(path).header("host", Site::host()).header("cookie", cookie);
        self.send(request.body(Body::empty()).unwrap())
    }

    fn form(&self, fields: &[(&str, &str)]) -> String {
        let token = self.app.guard.token();
        let once = self.app.word();
        let mut all = vec![("t", token.as_str())];
        if !fields.iter().any(|(n, _)| *n == "once") {
            all.push(("once", &once));
        }
        all.extend(fields);
        let one = |(n, v): &(&str, &str)| format!("{}={}", super::form::encoded(n), super::form::encoded(v));
        all.iter().map(one).collect::<Vec<_>>().join("&")
    }

    /// What was refused, or is only looked at, leads back to its screen: that is what came.
    fn post(&self, path: &str, fields: &[(&str, &str)]) -> Came {
        let came = self.sent(path, fields);
        self.shown(came)
    }

    fn shown(&self, came: Came) -> Came {
        let to = came.headers.get("location").map(|to| to.to_str().unwrap()).unwrap_or_default();
        let (to, number) = to.split_once("told=").unwrap_or((to, ""));
        let done = self.app.notices.of(number).is_some_and(|told| told.done || told.aside);
        let back = number.parse::<u64>().is_ok() && !done || to == "/open";
        if back { self.shown(self.follow(&came)) } else { came }
    }

    /// The very answer.
    fn sent(&self, path: &str, fields: &[(&str, &str)]) -> Came {
        self.post_body(path, Body::from(self.form(fields)))
    }

    fn post_body(&self, path: &str, body: Body) -> Came {
        let request = Request::post(path)
            .header("host", Site::host())
            .header("origin", format!("http://{}", Site::host()))
            .header("cookie", Site::cookie())
            .header("content-type", "application/x-www-form-urlencoded");
        self.send(request.body(body).unwrap())
    }

    /// A form that brings a file.
    fn bring(&self, path: &str, fields: &[(&str, &str)], file: &[u8]) -> Came {
        let (token, once) = (self.app.guard.token(), self.app.word());
        let mut body = Vec::new();
        for (name, value) in [("t", token.as_str()), ("once", &once)].iter().chain(fields) {
            let head = format!("--x7\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
            body.extend(head.bytes());
        }
        body.extend(b"--x7\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a\"\r\n\r\n");
        body.extend(file);
        body.extend(b"\r\n--x7--\r\n");
        let request = Request::post(path)
            .header("host", Site::host())
            .header("origin", format!("http://{}", Site::host()))
            .header("cookie", Site::cookie())
            .header("content-type", "multipart/form-data; boundary=x7");
        self.shown(self.send(request.body(Body::from(body)).unwrap()))
    }

    /// The screen that an answer leads to.
    fn follow(&self, came: &Came) -> Came {
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
        self.get(came.headers["location"].to_str().unwrap())
    }

    /// The example's job as a form, with some fields otherwise.
    fn job(otherwise: &[(&str, &str)]) -> Vec<(String, String)> {
        let read = crate::site::read_job("job", include_bytes!("../../examples/job.yaml"));
        let raw = read.file.unwrap().values().to_raw();
        let mut pairs = Vec::new();
        for (name, value) in raw {
            match value {
                crate::site::Raw::Text(t) => pairs.push((name, t)),
                crate::site::Raw::List(items) => {
                    for (i, item) in items.iter().enumerate() {
                        let crate::site::Raw::Map(fields) = item else { continue };
                        for (k, v) in fields {
                            if let crate::site::Raw::Text(t) = v {
                                pairs.push((format!("{name}.{i}.{k}"), t.clone()));
                            }
                        }
                    }
                }
                crate::site::Raw::Bool(_) | crate::site::Raw::Int(_) | crate::site::Raw::Map(_) => {}
            }
        }
        for (name, value) in otherwise {
            pairs.retain(|(n, _)| n != name);
            pairs.push(((*name).to_owned(), (*value).to_owned()));
        }
        pairs
    }

    /// Opens a permit; returns its number.
    fn open(&self) -> String {
        let job = Site::job(&[]);
        let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        fields.push(("what_now", "open"));
        let came = self.post("/open", &fields);
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
        let to = came.headers["location"].to_str().unwrap();
        to.trim_start_matches("/p/").split('?').next().unwrap().to_owned()
    }
}
