//! A form that is sent twice at once, sent again after its browser hung up, sent with other fields: what is asked is done
//! once, and what is asked otherwise is done.

use super::*;
use axum::response::Response;
use futures_util::future::{BoxFuture, FutureExt, join_all};

impl Site {
    fn request(&self, path: &str, fields: &[(&str, &str)]) -> Request<Body> {
        Request::post(path)
            .header("host", Site::host())
            .header("origin", format!("http://{}", Site::host()))
            .header("cookie", Site::cookie())
            .header("content-type", "application/x-www-form-urlencoded")
            .body(Body::from(self.form(fields)))
            .unwrap()
    }

    /// On its way.
    fn sending(&self, path: &str, fields: &[(&str, &str)]) -> BoxFuture<'static, Response> {
        let router = router(self.app.clone());
        let request = self.request(path, fields);
        async move { router.oneshot(request).await.unwrap() }.boxed()
    }

    /// Holds the hand until what comes back is dropped.
    fn held(&self) -> std::sync::mpsc::Sender<()> {
        let (let_go, held) = std::sync::mpsc::channel::<()>();
        let (begins, begun) = std::sync::mpsc::channel::<()>();
        let hold = self.app.hands.ask(move |_| {
            begins.send(()).unwrap();
            held.recv().is_err()
        });
        assert!(self.runtime.block_on(async { hold.now_or_never() }).is_none());
        // Before it begins, what has an earlier turn would still be done.
        begun.recv().unwrap();
        let_go
    }

    /// All at once, while the hand is held; what each answered.
    fn at_once(&self, path: &str, fields: &[(&str, &str)], times: usize) -> Vec<Vec<u8>> {
        let let_go = self.held();
        let answers = self.runtime.block_on(async {
            let mut all: Vec<_> = (0..times).map(|_| self.sending(path, fields)).collect();
            for one in &mut all {
                assert!(one.now_or_never().is_none(), "{path} did not wait");
            }
            drop(let_go);
            join_all(all).await
        });
        let whole = answers.into_iter().map(|a| async {
            assert!(a.status().is_success() || a.status().is_redirection(), "{path}: {}", a.status());
            axum::body::to_bytes(a.into_body(), 64 << 20).await.unwrap().to_vec()
        });
        self.runtime.block_on(join_all(whole))
    }
}

#[test]
fn what_is_sent_twice_at_once_is_done_once_whatever_it_is() {
    let site = Site::new();
    let number = site.open();
    let (walk, hang) = (format!("/p/{number}/walk"), format!("/p/{number}/hang"));
    let job = Site::job(&[("what", "another job")]);
    let mut open: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    open.extend([("what_now", "open"), ("once", "o")]);
    let permit = ("permit", number.as_str());
    let forms: &[(&str, &[(&str, &str)])] = &[
        ("/call-out", &[("once", "c"), ("quick", "1")]),
        ("/note", &[("once", "n"), permit, ("words", "a lorry waits")]),
        ("/suspend", &[("once", "s"), permit, ("reason", "a lorry waits")]),
        ("/alarm", &[("once", "e"), permit, ("what", "fire")]),
        ("/relieve", &[("once", "r"), permit, ("to", "pavlos"), ("role", "attendant"), ("report", "1")]),
        ("/reading", &[("once", "g"), permit, ("what", "co"), ("value", "2"), ("unit", "ppm")]),
        ("/tally", &[("once", "t"), ("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]),
        ("/set/heron", &[("once", "m"), ("what", "moved"), ("place", "quay3"), ("report", "1")]),
        (
            &walk,
            &[("once", "w"), ("kind", "yes_no"), ("step", "job_read"), ("value", "yes"), ("position", "0")],
        ),
        (&hang, &[("once", "h"), ("hangs", "at the manhole"), ("sheet", "permit")]),
        ("/open", &open),
    ];
    for (path, fields) in forms {
        let single = Site::new();
        single.open();
        let (before, there) = (site.lines(), single.lines());
        // What it writes on its own, beside what it writes when five come at once.
        single.post(path, fields);
        let answers = site.at_once(path, fields, 5);
        let (mine, alone) = (site.lines() - before, single.lines() - there);
        assert!(mine > 0 && mine == alone, "{path} wrote {mine} lines, and {alone} on its own");
        let after = site.lines();
        let again = site.post(path, fields);
        assert_eq!(site.lines(), after, "{path} again");
        if *path == hang {
            assert!(answers.iter().all(|a| *a == answers[0]), "another copy");
            assert_eq!(again.status, StatusCode::OK);
        }
    }
    let copies = String::from_utf8(site.register()).unwrap().matches("\"kind\":\"copy\"").count();
    assert_eq!(copies, 1);
}

#[test]
fn a_browser_that_hangs_up_and_sends_it_again_finds_what_it_began() {
    let site = Site::new();
    site.open();
    site.get("/board");
    let before = site.lines();
    for (path, fields) in [
        ("/call-out", &[("once", "c-1"), ("quick", "1")][..]),
        ("/note", &[("once", "n"), ("set", "heron"), ("words", "a lorry waits")]),
    ] {
        let let_go = site.held();
        site.runtime.block_on(async {
            let mut first = site.sending(path, fields);
            assert!((&mut first).now_or_never().is_none());
            drop(first);
            let again = site.sending(path, fields);
            drop(let_go);
            assert!(again.await.status().is_success() || path == "/note");
        });
    }
    assert_eq!(site.lines(), before + 2, "one call-out, one note");
}

#[test]
fn the_same_word_with_other_fields_or_elsewhere_is_another_request() {
    let site = Site::new();
    let number = site.open();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let before = site.lines();
    site.post("/note", &[("once", "x"), ("permit", &number), ("words", "a lorry waits")]);
    let out = [("once", "x"), ("person", "rasa"), ("set", "heron"), ("to", "out"), ("report", "1")];
    site.post("/tally", &out);
    assert_eq!(site.lines(), before + 2);
    let kinds = |what: &str| {
        let all = String::from_utf8(site.register()).unwrap();
        all.matches(&format!("\"what\":\"{what}\"")).count()
    };
    for what in ["hose", "fire", "hose"] {
        site.post("/alarm", &[("once", "y"), ("permit", &number), ("what", what)]);
    }
    assert_eq!((kinds("hose"), kinds("fire")), (1, 1));
}

#[test]
fn what_went_aside_is_remembered_and_what_was_refused_or_failed_is_tried_again() {
    let site = Site::new();
    let number = site.open();
    // Refused for nothing said; the very same, once it can be done.
    let refused = [("once", "z"), ("what", "released"), ("words", "to the dry dock")];
    let before = site.lines();
    site.post("/set/heron", &refused);
    let shown = site.post(&format!("/p/{number}/sign/cancel"), &[("stage", "look"), ("reason", "no ship")]);
    let shown = between(&shown.text, "name=\"shown\" value=\"", "\"").to_owned();
    for passphrase in ["wrong", "demo"] {
        let fields = [
            ("once", "p"),
            ("stage", "sign"),
            ("by", "eleni"),
            ("shown", &shown),
            ("reason", "no ship"),
            ("passphrase", passphrase),
        ];
        site.post(&format!("/p/{number}/sign/cancel"), &fields);
    }
    assert_eq!(site.post("/set/heron", &refused).status, StatusCode::SEE_OTHER);
    let after = site.lines();
    assert!(after > before);
    site.post("/set/heron", &refused);
    assert_eq!(site.lines(), after);
    site.post("/set/heron", &[("what", "taken")]);
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    // A bit of an early line turned: reports go aside, each once.
    let mut bytes = site.register();
    bytes[400] ^= 1;
    std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
    let aside = || {
        let named = |e: &std::fs::DirEntry| e.file_name().to_string_lossy().contains("aside");
        let all = std::fs::read_dir(site.path("register")).unwrap().map(Result::unwrap).filter(named);
        all.map(|e| std::fs::read(e.path()).unwrap().iter().filter(|b| **b == b'\n').count()).sum::<usize>()
    };
    let call = [("once", "c"), ("quick", "1")];
    let came = site.post("/call-out", &call);
    let first = aside();
    assert!(came.text.contains("is written to") && first > 0, "{}", came.text);
    let came = site.post("/call-out", &call);
    assert!(came.text.contains("nothing was written twice"), "{}", came.text);
    assert_eq!(aside(), first);
    site.post("/call-out", &[("once", "d"), ("quick", "1")]);
    assert!(aside() > first);
}

#[test]
fn calling_out_waits_for_its_own_twin_and_for_no_form() {
    let site = Site::new();
    site.open();
    site.get("/board");
    // Whoever holds the place of another form, and more than may wait at once.
    let sent = super::super::once::Sent::of(
        "/note",
        &super::super::form::Form::of(vec![("once".into(), "n".into())]),
        b"",
    );
    let held = site.runtime.block_on(site.app.notices.once.turn(sent));
    let before = site.lines();
    site.post("/call-out", &[("once", "n"), ("quick", "1")]);
    assert_eq!(site.lines(), before + 1);
    drop(held);
}

#[test]
fn calling_out_is_next_and_then_what_happened_whatever_else_waits() {
    let site = Site::new();
    let number = site.open();
    site.get("/board");
    let before = site.lines();
    let let_go = site.held();
    let looked = std::sync::Arc::new(std::sync::Mutex::new(Vec::new()));
    let all: Vec<_> = (0..20)
        .map(|_| {
            let (path, looked) = (site.path("register/0001.jsonl"), looked.clone());
            site.app.hands.ask(move |_| {
                let lines = std::fs::read(path).unwrap().iter().filter(|b| **b == b'\n').count();
                looked.lock().unwrap().push(lines);
            })
        })
        .collect();
    site.runtime.block_on(async {
        let mut looks = Box::pin(join_all(all));
        assert!((&mut looks).now_or_never().is_none());
        let mut note = site.sending("/note", &[("permit", &number), ("words", "a lorry waits")]);
        assert!((&mut note).now_or_never().is_none());
        let mut call = site.sending("/call-out", &[("quick", "1")]);
        assert!((&mut call).now_or_never().is_none());
        drop(let_go);
        futures_util::future::join3(looks, note, call).await;
    });
    assert!(looked.lock().unwrap().iter().all(|lines| *lines == before + 2), "{looked:?}");
    let all = String::from_utf8(site.register()).unwrap();
    let of = |kind: &str| all.find(&format!("\"kind\":\"{kind}\"")).unwrap();
    assert!(of("call_out") < of("note"));
}

#[test]
fn a_call_that_waited_has_the_time_of_its_key() {
    let site = Site::new();
    site.open();
    let told_at = || {
        let all = String::from_utf8(site.register()).unwrap();
        let line = crate::record::line::Line::read(all.lines().last().unwrap().as_bytes()).unwrap();
        assert_eq!(line.kind.name, "call_out");
        let at = line.data.text("at").map(crate::time::seconds);
        at.map(|at| crate::time::seconds(&line.time) - at)
    };
    site.post("/call-out", &[("quick", "1"), ("once", "a"), ("ago", "59")]);
    assert_eq!(told_at(), None);
    // The answer to the first try is lost; a minute's time of day is not told finer than that.
    let before = site.lines();
    site.post("/call-out", &[("quick", "1"), ("once", "b"), ("ago", "600")]);
    site.post("/call-out", &[("quick", "1"), ("once", "b"), ("ago", "616")]);
    assert_eq!(site.lines(), before + 1);
    // The line may be of a second or two later.
    assert!((600..665).contains(&told_at().unwrap()), "{:?}", told_at());
    // Foreign words neither stop it nor are they believed.
    for ago in ["-600", "9223372036854775807", "now"] {
        site.post("/call-out", &[("quick", "1"), ("once", ago), ("ago", ago)]);
        assert!(told_at().is_none_or(|at| at < 12 * 3600), "{ago}");
    }
}

#[test]
fn paper_is_drawn_beside_the_hand_and_few_wait_for_it() {
    let site = Site::new();
    let number = site.open();
    let paper = format!("/p/{number}/permit.pdf");
    assert!(site.get(&paper).text.starts_with("%PDF-"));
    let drawing = site.app.drawing.clone().try_lock_owned().unwrap();
    let ask = || {
        let request = Request::get(&paper).header("host", Site::host()).header("cookie", Site::cookie());
        let router = router(site.app.clone());
        async move { router.oneshot(request.body(Body::empty()).unwrap()).await.unwrap() }.boxed()
    };
    site.runtime.block_on(async {
        let mut papers: Vec<_> = (0..60).map(|_| ask()).collect();
        let refused: usize = papers
            .iter_mut()
            .filter_map(|p| p.now_or_never())
            .map(|a| usize::from(a.status() == StatusCode::TOO_MANY_REQUESTS))
            .sum();
        assert_eq!(refused, 60 - crate::page::guard::PAPERS);
        // None of those that wait is drawn, and the hand is free.
        let before = site.lines();
        let came = site.sending("/call-out", &[("quick", "1")]).await;
        assert!(came.status() == StatusCode::OK && site.lines() > before);
        drop(drawing);
    });
    assert!(site.get(&paper).text.starts_with("%PDF-"));
}
