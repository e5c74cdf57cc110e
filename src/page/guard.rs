//! Who may ask for what: this machine only, this browser only, this page only.
//!
//! Always: the name in `Host` is the address that was bound (no other name of it leads here), `Origin` of whatever changes
//! something is this page, a cookie that no other site sends along says which browser, and a form carries a token that only
//! a page of ours holds. Sizes and rates are bounded. Not here: what is done.

use super::form::{Form, cookie};
use crate::tongue::{Tongue, say};
use axum::http::{HeaderMap, Method, StatusCode, header};
use sha2::{Digest, Sha256};
use std::sync::Mutex;

/// Largest body, bytes.
pub const BODY: usize = 64 * 1024;
/// Requests that may wait at once.
pub const AT_ONCE: usize = 64;
/// Requests in one second, all browsers together that were let in; calling out and reports are not counted.
const A_SECOND: u32 = 200;
/// Requests in one second of all that were not let in: counted apart, so that they keep nobody else out.
const OF_STRANGERS: u32 = 50;
/// Screens that renew themselves, each of which holds a connection.
pub const STREAMS: usize = 32;
/// Papers that wait to be drawn.
pub const PAPERS: usize = 8;
/// Passphrases tried in one minute.
const TRIES: u32 = 10;
/// Entrances that wait to be used.
const ENTRANCES: usize = 8;

/// In which language a screen asks for a part of itself.
pub const PART_IN: &str = "airwrit-language";

/// What keeps others out.
pub struct Guard {
    port: u16,
    session: String,
    entrances: Mutex<Vec<String>>,
    rate: Mutex<Rate>,
}

#[derive(Default)]
struct Rate {
    second: i64,
    requests: u32,
    strangers: u32,
    minute: i64,
    tries: u32,
}

/// Why a request is not answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum No {
    /// Sent to another name than this machine's own.
    Host,
    /// Sent by another page.
    Origin,
    /// No cookie of ours.
    Session,
    /// No token of ours in the form.
    Token,
    /// Too many requests.
    Rate,
}

impl No {
    /// Its status.
    pub const fn status(self) -> StatusCode {
        match self {
            No::Host => StatusCode::MISDIRECTED_REQUEST,
            No::Origin | No::Session | No::Token => StatusCode::FORBIDDEN,
            No::Rate => StatusCode::TOO_MANY_REQUESTS,
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            No::Host => say!("This page answers on this machine only, under its own address."),
            No::Origin => say!("This was sent by another page, and is not done."),
            No::Session => {
                say!(
                    "This browser has not been let in, or not lately. Open the address that `airwrit serve` printed at its start, whole."
                )
            }
            No::Token => {
                say!(
                    "This form is not of a page that stands open here. Load the page again, then send it again."
                )
            }
            No::Rate => say!("Too many requests at once. Wait a second, then load the page again."),
        }
    }
}

/// What waits behind nothing and is never too much: calling out, and telling what happened.
pub fn at_any_time(method: &Method, path: &str) -> bool {
    let report =
        matches!(path, "/tally" | "/reading" | "/alarm" | "/suspend" | "/roll-call" | "/relieve" | "/note");
    let of_set = path.starts_with("/set/") && !path.ends_with("/witness");
    path == "/call-out" || (*method == Method::POST && (report || of_set))
}

/// What anybody may ask for: the way in, and what a screen looks like. None of it waits for anything.
pub fn open(method: &Method, path: &str) -> bool {
    let asks = matches!(*method, Method::GET | Method::HEAD);
    asks && matches!(path, "/enter" | "/style.css" | "/page.js" | "/icon.svg")
}

/// Two texts compared without telling by the time it takes where they differ.
fn same(a: &str, b: &str) -> bool {
    let digest = |t: &str| Sha256::digest(t.as_bytes());
    digest(a) == digest(b)
}

impl Guard {
    /// For a port, with the secret that browsers show.
    pub fn new(port: u16, session: String) -> Guard {
        Guard { port, session, entrances: Mutex::default(), rate: Mutex::default() }
    }

    /// The port.
    pub const fn port(&self) -> u16 {
        self.port
    }

    fn cookie_name(&self) -> String {
        format!("airwrit-{}", self.port)
    }

    /// The cookie as it is set.
    pub fn set_cookie(&self) -> String {
        format!(
            "{}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age=31536000",
            self.cookie_name(),
            self.session
        )
    }

    /// The language of an answer: the one that the screen speaks which asks for a part of itself, else the one that somebody
    /// chose on the page. What was chosen elsewhere meanwhile is the next screen's.
    pub fn language(&self, headers: &HeaderMap, asked: Option<&str>) -> Option<Tongue> {
        let said = headers.get(PART_IN).and_then(|l| l.to_str().ok()).or(asked);
        if let Some(tongue) = said.and_then(Tongue::of) {
            return Some(tongue);
        }
        let cookies = headers.get(header::COOKIE).and_then(|c| c.to_str().ok())?;
        Tongue::of(cookie(cookies, &format!("{}-language", self.cookie_name()))?)
    }

    /// The cookie that keeps it.
    pub fn set_language(&self, tongue: Tongue) -> String {
        let (name, tag) = (self.cookie_name(), tongue.tag());
        format!("{name}-language={tag}; HttpOnly; SameSite=Strict; Path=/; Max-Age=31536000")
    }

    /// The token that a form carries.
    pub fn token(&self) -> String {
        data_encoding::HEXLOWER.encode(&Sha256::digest(format!("airwrit form {}", self.session)))
    }

    /// A secret that lets one browser in, once.
    pub fn entrance(&self, secret: String) {
        if let Ok(mut all) = self.entrances.lock() {
            if all.len() == ENTRANCES {
                all.remove(0);
            }
            all.push(secret);
        }
    }

    /// Uses an entrance up.
    pub fn enter(&self, secret: &str) -> bool {
        let Ok(mut all) = self.entrances.lock() else { return false };
        let found = all.iter().position(|s| same(s, secret));
        found.map(|i| all.remove(i)).is_some()
    }

    /// Whether a request may be looked at: where it was sent to, by whom; its form comes later.
    pub fn may(&self, method: &Method, path: &str, headers: &HeaderMap, second: i64) -> Result<(), No> {
        let text = |name| headers.get(name).and_then(|v| v.to_str().ok());
        let names = ["127.0.0.1", "localhost"].map(|n| format!("{n}:{}", self.port));
        let mut hosts = headers.get_all(header::HOST).iter();
        let (host, none) = (hosts.next().and_then(|h| h.to_str().ok()), hosts.next().is_none());
        let Some(host) = host.filter(|h| none && names.iter().any(|n| n == h)) else { return Err(No::Host) };
        let changes = !matches!(*method, Method::GET | Method::HEAD);
        let origin = headers.get(header::ORIGIN);
        let own = origin.map(|o| o.to_str().is_ok_and(|o| o == format!("http://{host}")));
        match own {
            Some(false) => return Err(No::Origin),
            None if changes => return Err(No::Origin),
            Some(true) | None => {}
        }
        // A browser says so itself where another site sent it here.
        if text("sec-fetch-site").is_some_and(|s| s == "cross-site" || s == "same-site") && path != "/enter" {
            return Err(No::Origin);
        }
        // Any page may send a browser to the entrance, and its cookie along: that counts as a stranger's.
        let ours = self.let_in(headers);
        let stranger = !ours || path == "/enter";
        if !at_any_time(method, path) && !self.rate_allows(second, stranger) {
            return Err(No::Rate);
        }
        if open(method, path) || ours { Ok(()) } else { Err(No::Session) }
    }

    /// Whether a request comes from a browser that was let in.
    pub fn let_in(&self, headers: &HeaderMap) -> bool {
        let cookies = headers.get(header::COOKIE).and_then(|c| c.to_str().ok());
        cookies.and_then(|c| cookie(c, &self.cookie_name())).is_some_and(|c| same(c, &self.session))
    }

    /// Whether a form is of a page of ours.
    pub fn form(&self, form: &Form) -> Result<(), No> {
        if same(form.exact("t"), &self.token()) { Ok(()) } else { Err(No::Token) }
    }

    fn rate_allows(&self, second: i64, stranger: bool) -> bool {
        let Ok(mut rate) = self.rate.lock() else { return true };
        if rate.second != second {
            (rate.second, rate.requests, rate.strangers) = (second, 0, 0);
        }
        let (count, most) =
            if stranger { (&mut rate.strangers, OF_STRANGERS) } else { (&mut rate.requests, A_SECOND) };
        *count = count.saturating_add(1);
        *count <= most
    }

    /// Whether another passphrase may be tried.
    pub fn may_try(&self, second: i64) -> bool {
        let Ok(mut rate) = self.rate.lock() else { return true };
        if rate.minute != second / 60 {
            (rate.minute, rate.tries) = (second / 60, 0);
        }
        rate.tries += 1;
        rate.tries <= TRIES
    }
}

/// What every answer says to the browser: nothing from elsewhere, nothing in a frame, nothing kept.
pub const HEADERS: &[(&str, &str)] = &[
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; \
         base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    // Not `no-referrer`: a form would then name no origin.
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=(), usb=(), payment=()"),
    ("cache-control", "no-store"),
];
