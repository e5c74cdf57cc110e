//! Named after the attack.

use super::*;
use crate::page::guard::{BODY, No};

fn bare(path: &str) -> axum::http::request::Builder {
    Request::get(path).header("host", Site::host())
}

#[test]
fn nobody_is_let_in_without_the_printed_address_and_it_is_good_once() {
    let site = Site::new();
    for path in ["/", "/board", "/open", "/audit", "/events", "/p/KM3-261125-01/permit.pdf", "/nothing"] {
        let came = site.send(bare(path).body(Body::empty()).unwrap());
        assert_eq!(came.status, StatusCode::FORBIDDEN, "{path}");
        assert!(!came.text.contains("KM3"), "{path} tells something");
    }
    for wrong in ["/enter", "/enter?k=", "/enter?k=00", "/enter?k=%00"] {
        assert_eq!(site.send(bare(wrong).body(Body::empty()).unwrap()).status, StatusCode::FORBIDDEN);
    }
    site.app.guard.entrance("the-word".into());
    let came = site.send(bare("/enter?k=the-word").body(Body::empty()).unwrap());
    assert_eq!(came.status, StatusCode::SEE_OTHER);
    let cookie = came.headers["set-cookie"].to_str().unwrap();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert_eq!(
        site.send(bare("/enter?k=the-word").body(Body::empty()).unwrap()).status,
        StatusCode::FORBIDDEN
    );
    let other = bare("/").header("cookie", format!("airwrit-{PORT}={}", "f".repeat(64)));
    assert_eq!(site.send(other.body(Body::empty()).unwrap()).status, StatusCode::FORBIDDEN);
}

#[test]
fn another_name_for_this_machine_does_not_lead_here() {
    let site = Site::new();
    let with = |host: Option<&str>| {
        let mut r = Request::get("/").header("cookie", Site::cookie());
        if let Some(h) = host {
            r = r.header("host", h);
        }
        site.send(r.body(Body::empty()).unwrap()).status
    };
    assert_eq!(with(Some("localhost:7431")), StatusCode::OK);
    for wrong in
        ["evil.example:7431", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:7431.evil.example", "[::1]:7431", ""]
    {
        assert_eq!(with(Some(wrong)), StatusCode::MISDIRECTED_REQUEST, "{wrong}");
    }
    assert_eq!(with(None), StatusCode::MISDIRECTED_REQUEST);
    let two = Request::get("/")
        .header("cookie", Site::cookie())
        .header("host", Site::host())
        .header("host", "evil.example");
    assert_eq!(site.send(two.body(Body::empty()).unwrap()).status, StatusCode::MISDIRECTED_REQUEST);
}

#[test]
fn another_page_changes_nothing() {
    let site = Site::new();
    let before = site.register();
    let form = site.form(&[("words", "from elsewhere")]);
    let origins = [
        None,
        Some("null"),
        Some("https://evil.example"),
        Some("http://127.0.0.1:80"),
        Some("http://localhost:7431"),
    ];
    for origin in origins {
        let mut r = Request::post("/call-out").header("host", Site::host()).header("cookie", Site::cookie());
        if let Some(o) = origin {
            r = r.header("origin", o);
        }
        assert_eq!(
            site.send(r.body(Body::from(form.clone())).unwrap()).status,
            StatusCode::FORBIDDEN,
            "{origin:?}"
        );
    }
    for from in ["cross-site", "same-site"] {
        let r = bare("/").header("cookie", Site::cookie()).header("sec-fetch-site", from);
        assert_eq!(site.send(r.body(Body::empty()).unwrap()).status, StatusCode::FORBIDDEN, "{from}");
    }
    assert_eq!(site.register(), before);
}

#[test]
fn a_form_without_our_token_does_nothing() {
    let site = Site::new();
    let before = site.register();
    for body in ["", "words=x", "t=&words=x", "t=00&words=x", "words=x&T=1"] {
        for path in [
            "/open",
            "/tally",
            "/reading",
            "/alarm",
            "/suspend",
            "/call-out",
            "/roll-call",
            "/note",
            "/another",
            "/audit",
            "/demo/again",
            "/demo/clock",
            "/set/heron",
            "/set/heron/air-test",
            "/set/heron/witness",
            "/clock",
            "/today",
            "/p/KM3-261125-01/walk",
            "/p/KM3-261125-01/sign/declare",
        ] {
            let came = site.post_body(path, Body::from(body));
            assert_eq!(came.status, StatusCode::FORBIDDEN, "{path} {body}");
        }
    }
    assert_eq!(site.register(), before);
}

#[test]
fn a_body_too_large_broken_or_no_form_is_refused() {
    let site = Site::new();
    let large = site.form(&[("words", &"x".repeat(BODY))]);
    assert_eq!(site.post_body("/note", Body::from(large)).status, StatusCode::PAYLOAD_TOO_LARGE);
    for bad in [&b"a=%"[..], b"a=%00", b"a=\xff\xfe", b"\0"] {
        assert_eq!(site.post_body("/note", Body::from(bad.to_vec())).status, StatusCode::BAD_REQUEST);
    }
    let fields = "a=1&".repeat(500);
    assert_eq!(site.post_body("/note", Body::from(fields)).status, StatusCode::BAD_REQUEST);
}

#[test]
fn a_body_that_never_ends_keeps_nobody_waiting() {
    let site = Site::new();
    let slow = Body::from_stream(futures_util::stream::pending::<Result<Vec<u8>, std::io::Error>>());
    assert_eq!(site.post_body("/note", slow).status, StatusCode::REQUEST_TIMEOUT);
    assert_eq!(site.get("/board").status, StatusCode::OK);
}

#[test]
fn path_tricks_lead_to_no_file() {
    let site = Site::new();
    for path in [
        "/p/../../../etc/passwd",
        "/p/%2e%2e%2f%2e%2e%2fetc%2fpasswd/permit.pdf",
        "/set/..%2f..%2fseal%2fkey",
        "/seal/key",
        "/register/0001.jsonl",
        "/page.js/../seal/key",
        "//etc/passwd",
        "/style.css%00.html",
        "/p/KM3-261125-01%00/walk",
        "/p/KM3-261125-99/walk",
        "/p/KM3-261125-99/sign/declare",
        "/p/KM3-261125-99/sign/..%2f",
        "/set/nosuch",
        "/set/nosuch/air-test",
        "/set/nosuch/witness",
        "/take-in?permit=..%2f..%2fseal",
        "/p/..%2f..%2fseal%2fkey/excerpt",
        "/p/KM3-261125-99/excerpt",
    ] {
        let came = site.get(path);
        assert!(
            came.status.is_client_error() || came.status == StatusCode::SEE_OTHER,
            "{path}: {}",
            came.status
        );
        assert!(!came.text.contains("root:") && !came.text.contains("\"body\":"), "{path}");
    }
}

#[test]
fn every_answer_forbids_what_a_page_must_not_do() {
    let site = Site::new();
    let number = site.open();
    for path in ["/", "/board", "/style.css", "/page.js", "/nothing", &format!("/p/{number}/permit.pdf")] {
        let came = site.get(path);
        let policy = came.headers["content-security-policy"].to_str().unwrap();
        for part in
            ["default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "form-action 'self'"]
        {
            assert!(policy.contains(part), "{path}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{path}");
        assert_eq!(came.headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(came.headers["cache-control"], "no-store", "{path}");
    }
}

#[test]
fn no_screen_holds_script_or_style_of_its_own() {
    let site = Site::new();
    let number = site.open();
    for path in screens(&number) {
        let came = site.get(&path);
        assert_eq!(came.status, StatusCode::OK, "{path}: {}", came.text);
        let version = crate::page::app::version(crate::page::SCRIPT);
        let own = format!("<script src=\"/page.js?{version}\" defer></script>");
        assert!(!came.text.contains("<html") || came.text.contains(&own), "{path}");
        let markup = came.text.replace(&own, "");
        for bad in ["<script", "<style", " style=", " onclick=", "javascript:", "http://", "https://"] {
            assert!(!markup.contains(bad), "{path} holds {bad}");
        }
    }
}

#[test]
fn what_a_browser_keeps_has_its_version_in_its_address() {
    let site = Site::new();
    let front = site.get("/").text;
    for (before, plain) in
        [("<link rel=\"stylesheet\" href=\"", "/style.css"), ("<script src=\"", "/page.js")]
    {
        let address = between(&front, before, "\"");
        assert!(address.starts_with(&format!("{plain}?")), "{address}");
        let kept = |path: &str| site.get(path).headers["cache-control"].to_str().unwrap().to_owned();
        assert!(kept(address).contains("immutable"), "{address}");
        assert_eq!((kept(plain).as_str(), kept(&format!("{plain}?0")).as_str()), ("no-store", "no-store"));
    }
}

/// Every screen that can be looked at.
pub fn screens(number: &str) -> Vec<String> {
    let mut all: Vec<String> = [
        "/",
        "/?find=x",
        "/open",
        "/board",
        "/board/live",
        "/alarm",
        "/call-out",
        "/roll-call",
        "/set/heron",
        "/set/heron/air-test",
        "/set/heron/witness",
        "/take-in",
        "/clock",
        "/audit",
        "/audit?find=open",
    ]
    .into_iter()
    .map(str::to_owned)
    .collect();
    all.extend(["", "/record", "/walk", "/carry"].map(|s| format!("/p/{number}{s}")));
    all.push(format!("/take-in?permit={number}"));
    let acts = [
        "declare",
        "countersign",
        "refuse",
        "hand-back",
        "close",
        "reinstate",
        "cancel",
        "extend",
        "give",
        "hand-over",
        "take-over",
    ];
    all.extend(acts.map(|a| format!("/p/{number}/sign/{a}")));
    all
}

#[test]
fn those_who_were_not_let_in_shut_nobody_out() {
    let guard = Guard::new(PORT, SESSION.into());
    let headers = |cookie: Option<String>| {
        let mut headers = HeaderMap::new();
        headers.insert("host", Site::host().parse().unwrap());
        headers.insert("origin", format!("http://{}", Site::host()).parse().unwrap());
        headers.extend(cookie.map(|c| (axum::http::header::COOKIE, c.parse().unwrap())));
        headers
    };
    let (ours, stranger) = (headers(Some(Site::cookie())), headers(None));
    let get = axum::http::Method::GET;
    for path in ["/enter", "/style.css", "/board", "/events"] {
        let let_through = (0..1000).filter(|_| guard.may(&get, path, &stranger, 5) != Err(No::Rate)).count();
        assert!(let_through <= 50, "{path}");
    }
    // Another page may send our own browser to the entrance, and the cookie goes along.
    for _ in 0..1000 {
        let _ = guard.may(&get, "/enter", &ours, 5);
    }
    for path in ["/board/live", "/events", "/"] {
        assert_eq!(guard.may(&get, path, &ours, 5), Ok(()), "{path}");
    }
}

#[test]
fn what_happened_is_told_however_much_else_is_asked() {
    let site = Site::new();
    let number = site.open();
    let all = site.app.room.clone().try_acquire_many_owned(crate::page::guard::AT_ONCE as u32).unwrap();
    assert_eq!(site.get("/board").status, StatusCode::TOO_MANY_REQUESTS);
    let permit = ("permit", number.as_str());
    let reports: [(&str, &[(&str, &str)]); 7] = [
        ("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]),
        ("/reading", &[permit, ("what", "co"), ("value", "2"), ("unit", "ppm")]),
        ("/alarm", &[permit, ("what", "hose")]),
        ("/suspend", &[permit, ("reason", "a lorry waits")]),
        ("/note", &[permit, ("words", "a lorry waits")]),
        ("/set/heron", &[("what", "moved"), ("place", "quay3"), ("report", "1")]),
        ("/call-out", &[("quick", "1")]),
    ];
    for (path, fields) in reports {
        let before = site.lines();
        site.post(path, fields);
        assert!(site.lines() > before, "{path}");
    }
    drop(all);
    let mut headers = HeaderMap::new();
    headers.insert("host", Site::host().parse().unwrap());
    headers.insert("origin", format!("http://{}", Site::host()).parse().unwrap());
    headers.insert("cookie", Site::cookie().parse().unwrap());
    for (path, _) in reports {
        let asked =
            (0..1000).filter(|_| site.app.guard.may(&axum::http::Method::POST, path, &headers, 5) == Ok(()));
        assert_eq!(asked.count(), 1000, "{path}");
    }
}

#[test]
fn asking_for_the_head_of_the_entrance_does_not_use_it_up() {
    let site = Site::new();
    site.app.guard.entrance("the-word".into());
    let head = Request::head("/enter?k=the-word").header("host", Site::host());
    let came = site.send(head.body(Body::empty()).unwrap());
    assert!(came.status == StatusCode::FORBIDDEN && !came.headers.contains_key("set-cookie"));
    let came = site.send(bare("/enter?k=the-word").body(Body::empty()).unwrap());
    assert_eq!(came.status, StatusCode::SEE_OTHER);
}

#[test]
fn a_form_leads_back_to_this_page_only() {
    let site = Site::new();
    for path in ["/language", "/demo/clock"] {
        for to in ["//evil", "/\\evil", "/\t/evil", "/\n/evil", "/\u{85}x", "https://evil", "evil", ""] {
            let came = site.post(path, &[("to", to), ("language", "pl")]);
            assert_eq!(came.headers["location"], "/", "{path} {to:?}");
        }
        assert_eq!(site.post(path, &[("to", "/board")]).headers["location"], "/board");
    }
}

#[test]
fn a_path_that_is_no_text_is_answered_with_signal_and_key() {
    let site = Site::new();
    for path in ["/p/%ff", "/p/%ff/walk", "/set/%C3%28", "/p/%ff/sign/declare", "/p/x/sign/%ff", "/%ff"] {
        let came = site.get(path);
        assert_eq!(came.status, StatusCode::NOT_FOUND, "{path}");
        assert!(came.text.contains("id=\"callout-key\"") && came.text.contains("no such screen"), "{path}");
    }
}

#[test]
fn a_stranger_gets_one_answer_on_a_connection() {
    let site = Site::new();
    for path in ["/enter?k=1", "/style.css", "/board", "/nothing"] {
        let came = site.send(bare(path).body(Body::empty()).unwrap());
        assert_eq!(came.headers["connection"], "close", "{path}");
        assert!(!site.get(path).headers.contains_key("connection"), "{path}");
    }
}

#[test]
fn so_many_screens_renew_themselves_and_one_that_is_closed_makes_room() {
    let site = Site::new();
    let ask = || {
        let request = bare("/events").header("cookie", Site::cookie()).body(Body::empty()).unwrap();
        site.runtime.block_on(async { router(site.app.clone()).oneshot(request).await.unwrap() })
    };
    let mut all: Vec<_> = (0..crate::page::guard::STREAMS).map(|_| ask()).collect();
    assert!(all.iter().all(|a| a.status() == StatusCode::OK));
    assert_eq!(ask().status(), StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(site.get("/board").status, StatusCode::OK);
    all.pop();
    assert_eq!(ask().status(), StatusCode::OK);
}

#[test]
fn an_open_address_tells_a_stranger_nothing_whatever_it_is_asked_with() {
    let site = Site::new();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    site.get("/board");
    for path in ["/enter", "/style.css", "/page.js", "/icon.svg"] {
        let asked = Request::post(path)
            .header("host", Site::host())
            .header("origin", format!("http://{}", Site::host()));
        let came = site.send(asked.body(Body::empty()).unwrap());
        assert!(came.status == StatusCode::FORBIDDEN && !came.text.contains("rasa"), "{path}: {}", came.text);
    }
}

#[test]
fn too_many_requests_wait_but_calling_out_does_not() {
    let guard = Guard::new(PORT, SESSION.into());
    let mut headers = HeaderMap::new();
    headers.insert("host", Site::host().parse().unwrap());
    headers.insert("origin", format!("http://{}", Site::host()).parse().unwrap());
    headers.insert("cookie", Site::cookie().parse().unwrap());
    let ask = |path: &str| guard.may(&axum::http::Method::POST, path, &headers, 5);
    let refused = (0..1000).filter(|_| ask("/board").is_err()).count();
    assert_eq!(refused, 800);
    assert_eq!(ask("/call-out"), Ok(()));
    assert_eq!((0..20).filter(|_| guard.may_try(60)).count(), 10);
}
