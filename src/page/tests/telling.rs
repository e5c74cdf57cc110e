//! What is told through the page: once, escaped, with the signal first.

use super::guarding::screens;
use super::*;

const SCRIPT: &str = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>";

#[test]
fn script_in_every_text_field_is_text() {
    let site = Site::new();
    for (name, _) in Site::job(&[]) {
        let job = Site::job(&[(&name, SCRIPT)]);
        let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        for path in ["/open/plan", "/open"] {
            let came = site.post(path, &fields);
            assert!(
                !came.text.contains("<script>alert") && !came.text.contains("<img src=x"),
                "{path} {name}"
            );
        }
        fields.push(("what_now", "open"));
        let came = site.post("/open", &fields);
        assert!(!came.text.contains("<script>alert") && !came.text.contains("<img src=x"), "{name}");
    }
    let number = site.open();
    let everywhere: &[(&str, &[&str])] = &[
        ("/note", &["words", "permit", "set"]),
        ("/reading", &["what", "value", "item", "unit", "by", "at", "told_by"]),
        ("/tally", &["person", "set", "permit", "by", "at", "told_by"]),
        ("/alarm", &["what", "words", "by", "permit", "set"]),
        ("/suspend", &["reason", "by", "at"]),
        ("/relieve", &["to", "role"]),
        ("/roll-call", &["person", "permit"]),
        ("/set/heron", &["place", "machine", "words", "hours"]),
        ("/call-out", &["words", "by", "at", "told_by"]),
        (
            "/set/heron/air-test",
            &["place", "sampler", "instrument", "certificate", "date", "co", "off.co", "smell"],
        ),
        ("/set/heron/witness", &["other", "custodians", "threshold", "by"]),
        ("/clock", &["reason", "by"]),
        ("/today", &["today"]),
    ];
    for (path, names) in everywhere {
        for name in *names {
            let mut fields = vec![
                ("permit", number.as_str()),
                ("person", "zaneta"),
                ("to", "off"),
                ("what", "moved"),
                ("place", "quay3"),
                ("words", "x"),
            ];
            fields.retain(|(n, _)| n != name);
            fields.push((name, SCRIPT));
            let came = site.post(path, &fields);
            assert!(
                !came.text.contains("<script>alert") && !came.text.contains("<img src=x"),
                "{path} {name}"
            );
        }
    }
    for act in ["refuse", "cancel", "reinstate", "extend", "hand-over", "countersign", "hand-back"] {
        let came = site.post(
            &format!("/p/{number}/sign/{act}"),
            &[
                ("reason", SCRIPT),
                ("cause", SCRIPT),
                ("until", SCRIPT),
                ("unusual", SCRIPT),
                ("to", SCRIPT),
                ("limits", SCRIPT),
                ("not_seen", SCRIPT),
                ("stage", "look"),
                ("by", SCRIPT),
            ],
        );
        assert!(!came.text.contains("<script>alert") && !came.text.contains("<img src=x"), "{act}");
    }
    for path in
        screens(&number).into_iter().chain([format!("/audit?find={}", crate::page::form::encoded(SCRIPT))])
    {
        let came = site.get(&path);
        assert!(!came.text.contains("<script>alert") && !came.text.contains("<img src=x"), "{path}");
    }
}

#[test]
fn the_same_answer_sent_twice_is_written_once() {
    let site = Site::new();
    let number = site.open();
    let walk = format!("/p/{number}/walk");
    let answer = [("kind", "yes_no"), ("step", "job_read"), ("value", "yes"), ("position", "0")];
    let before = site.lines();
    assert_eq!(site.post(&walk, &answer).status, StatusCode::SEE_OTHER);
    assert_eq!(site.lines(), before + 1);
    // Another tab, a form of its own, the same step as it stood before.
    let came = site.post(&walk, &answer);
    assert_eq!(came.status, StatusCode::SEE_OTHER);
    let told = site.get(came.headers["location"].to_str().unwrap());
    assert!(
        told.text.contains("Answered already") && told.text.contains("nothing was written twice"),
        "{}",
        told.text
    );
    assert_eq!(site.lines(), before + 1);
    // Also where the other tab says something else.
    site.post(&walk, &[("kind", "yes_no"), ("step", "job_read"), ("value", "no"), ("position", "0")]);
    assert_eq!(site.lines(), before + 1);
}

#[test]
fn the_same_report_sent_twice_is_written_once_and_another_is_another() {
    let site = Site::new();
    let number = site.open();
    let form = [("permit", number.as_str()), ("words", "a lorry waits"), ("once", "one")];
    let before = site.lines();
    for _ in 0..3 {
        assert_eq!(site.post("/note", &form).status, StatusCode::SEE_OTHER);
    }
    assert_eq!(site.lines(), before + 1);
    site.post("/note", &[("permit", number.as_str()), ("words", "a lorry waits"), ("once", "two")]);
    assert_eq!(site.lines(), before + 2);
    // Somebody on air who stands so already.
    let on = |once: &str| {
        site.post(
            "/tally",
            &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1"), ("once", once)],
        )
    };
    on("a");
    let after = site.lines();
    assert_eq!(after, before + 3);
    on("b");
    assert_eq!(site.lines(), after);
}

#[test]
fn the_signal_goes_first_and_everyone_is_called_out_of_a_broken_register() {
    let site = Site::new();
    site.open();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    site.get("/board");
    let came = site.post("/call-out", &[]);
    let at = |text: &str, what: &str| text.find(what).unwrap_or_else(|| panic!("no {what} in {text}"));
    let shown = between(&came.text, "<main", "</main>");
    assert!(at(shown, "EVERYONE OUT") < at(shown, "Rasa") && at(shown, "Rasa") < at(shown, "Recorded."));
    // A bit of an early line turned: nothing is written to it any more.
    let mut bytes = site.register();
    bytes[400] ^= 1;
    std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
    let came = site.post("/call-out", &[]);
    assert_eq!(came.status, StatusCode::OK);
    let shown = between(&came.text, "<main", "</main>");
    assert!(shown.contains("EVERYONE OUT") && shown.contains("Not recorded in the register"), "{shown}");
    assert!(came.text.contains("is written to"), "{}", came.text);
    assert_eq!(site.register(), bytes);
    let aside = std::fs::read_dir(site.path("register"))
        .unwrap()
        .filter(|e| e.as_ref().unwrap().file_name().to_string_lossy().contains("aside"));
    assert!(aside.count() > 0);
    for path in ["/board", "/", "/alarm"] {
        assert!(site.get(path).text.contains("I AM CALLING EVERYONE OUT"), "{path}");
    }
}

#[test]
fn the_key_stands_on_every_screen_in_every_state() {
    let site = Site::new();
    let number = site.open();
    for path in screens(&number)
        .into_iter()
        .filter(|p| p != "/board/live")
        .chain(["/nothing".to_owned(), "/p/KM3-261125-99".into()])
    {
        let came = site.get(&path);
        assert!(came.text.contains("id=\"callout-key\"") && came.text.contains("<kbd>F9</kbd>"), "{path}");
    }
}

#[test]
fn what_was_not_shown_is_not_signed_and_no_passphrase_comes_back() {
    let site = Site::new();
    let number = site.open();
    let before = site.lines();
    let sign = |shown: &str, passphrase: &str| {
        let fields = [
            ("stage", "sign"),
            ("by", "eleni"),
            ("shown", shown),
            ("reason", "the ferry sails early"),
            ("passphrase", passphrase),
        ];
        site.post(&format!("/p/{number}/sign/cancel"), &fields)
    };
    let came = sign("0", "demo");
    assert!(came.text.contains("has changed since it was shown"), "{}", came.text);
    let looked = site
        .post(&format!("/p/{number}/sign/cancel"), &[("stage", "look"), ("reason", "the ferry sails early")]);
    let shown =
        looked.text.split("name=\"shown\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let came = sign(&shown, "a wrong secret phrase");
    assert!(
        !came.text.contains("a wrong secret phrase") && came.text.contains("does not open"),
        "{}",
        came.text
    );
    assert_eq!(site.lines(), before);
    assert_eq!(sign(&shown, "demo").status, StatusCode::SEE_OTHER);
    assert_eq!(site.lines(), before + 1);
    let folder = site.folder.path();
    let held = |name: &str| {
        String::from_utf8_lossy(&std::fs::read(folder.join(name)).unwrap()).contains("a wrong secret phrase")
    };
    assert!(!held("site/register/0001.jsonl"));
}

#[test]
fn what_was_appended_by_somebody_else_is_seen_and_a_shorter_register_is_read_again() {
    let site = Site::new();
    let number = site.open();
    assert!(site.get("/").text.contains(&number));
    let whole = site.register();
    site.post(
        &format!("/p/{number}/walk"),
        &[("kind", "yes_no"), ("step", "job_read"), ("value", "yes"), ("position", "0")],
    );
    let longer = site.register();
    std::fs::write(site.path("register/0001.jsonl"), &whole).unwrap();
    assert!(site.get(&format!("/p/{number}/walk")).text.contains("name=\"step\" value=\"job_read\""));
    std::fs::write(site.path("register/0001.jsonl"), &longer).unwrap();
    assert!(!site.get(&format!("/p/{number}/walk")).text.contains("name=\"step\" value=\"job_read\""));
}

/// The gauges drawn on the screen where a declared permit is countersigned, as the operator read them.
pub(super) fn read_by_the_operator(site: &Site, path: &str) -> Vec<(String, String)> {
    let came = site.get(path);
    let names: Vec<String> = came
        .text
        .split("name=\"seen.")
        .skip(1)
        .map(|t| format!("seen.{}", t.split('"').next().unwrap().replace("&#x2f;", "/")))
        .collect();
    assert_eq!(names.len(), 2, "{}", came.text);
    // As the operator read them.
    let read = |name: &str| {
        let (step, item) = name["seen.".len()..].split_once('/').unwrap_or((&name["seen.".len()..], ""));
        let all = String::from_utf8(site.register()).unwrap();
        let mut bodies =
            all.lines().map(|l| serde_json::from_str::<serde_json::Value>(l).unwrap()["body"].take());
        let of = |b: &serde_json::Value| {
            let data = &b["data"];
            b["kind"] == "answer" && data["step"] == step && data["item"].as_str().unwrap_or("") == item
        };
        bodies.rfind(of).unwrap()["data"]["value"].as_str().unwrap().to_owned()
    };
    names.iter().map(|n| (n.clone(), read(n))).collect()
}

#[test]
fn a_gauge_that_was_read_again_and_did_not_agree_is_kept_and_nobody_signs_over_it() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let right = read_by_the_operator(&site, &path);
    let look = |fields: &[(String, String)]| {
        let mut all: Vec<(&str, &str)> = fields.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        all.extend([("stage", "look"), ("by", "eleni")]);
        site.post(&path, &all)
    };
    // An address asks for nothing, and tells nothing.
    let lines = site.lines();
    let asked: Vec<String> =
        right.iter().map(|(n, v)| format!("{}={v}", super::super::form::encoded(n))).collect();
    let came = site.get(&format!("{path}?stage=look&by=eleni&{}", asked.join("&")));
    assert!(!came.text.contains("You sign these words") && site.lines() == lines, "{}", came.text);
    let mut wrong = right.clone();
    wrong[1].1 = (wrong[1].1.parse::<f64>().unwrap() + 40.0).to_string();
    let came = look(&wrong);
    assert!(came.text.contains("is not what was declared"), "{}", came.text);
    assert_eq!(site.lines(), lines + 1);
    assert!(String::from_utf8(site.register()).unwrap().lines().last().unwrap().contains("\"denied\""));
    let came = look(&right);
    assert!(
        came.text.contains("is not what was declared before") && !came.text.contains("You sign these words"),
        "{}",
        came.text
    );
}

#[test]
fn after_a_wrong_passphrase_the_same_words_wait_for_another_try_and_only_the_holder_declares() {
    let (site, number) = Site::declared();
    let cancel = format!("/p/{number}/sign/cancel");
    let words = [("reason", "the wind turned"), ("by", "eleni")];
    let came = site.post(&cancel, &[&words[..], &[("stage", "look")]].concat());
    let shown = between(&came.text, "name=\"shown\" value=\"", "\"").to_owned();
    let sign = |passphrase: &str| {
        site.post(
            &cancel,
            &[&words[..], &[("stage", "sign"), ("shown", &shown), ("passphrase", passphrase)]].concat(),
        )
    };
    let came = sign("a wrong secret phrase");
    assert!(
        came.text.contains("does not open") && came.text.contains("You sign these words"),
        "{}",
        came.text
    );
    assert!(came.text.contains(&shown) && !came.text.contains("a wrong secret phrase"), "{}", came.text);
    assert_eq!(sign("demo").status, StatusCode::SEE_OTHER);
    let next = site.open();
    let came = site.get(&format!("/p/{next}/sign/hand-over"));
    assert!(came.text.contains("name=\"to\""), "{}", came.text);
    let came = site.get(&format!("/p/{next}/sign/declare"));
    // Also she may be at the page, whose head names everybody.
    let screen = came.text.split_once("<main").unwrap().1;
    assert!(!screen.contains("value=\"ines\""), "{}", came.text);
}

#[test]
fn the_gauges_of_a_suspended_permit_are_read_on_the_board_with_nobody_on_its_air() {
    let (site, number) = Site::live();
    let wanted = |board: &str| board.matches("read it before it is reinstated").count();
    assert_eq!(wanted(&site.get("/board/live").text), 0);
    site.post("/suspend", &[("permit", &number), ("reason", "fog")]);
    let board = site.get("/board/live").text;
    assert_eq!(wanted(&board), 3, "{board}");
    for gauge in ["co", "supply", "reserve"] {
        assert!(board.contains(&format!("name=\"what\" value=\"{gauge}\"")), "{gauge}: {board}");
    }
}

#[test]
fn the_auditors_search_finds_the_words_that_stand_on_its_rows() {
    let site = Site::new();
    site.open();
    site.post("/call-out", &[("quick", "1")]);
    for find in ["call%20out", "Call+out", "call_out"] {
        let text = site.get(&format!("/audit?find={find}")).text;
        assert!(text.contains("1 found") && text.contains("Looked in each line"), "{find}");
    }
}

#[test]
fn a_gauge_read_again_as_no_number_is_refused_in_words_of_its_field() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let text = site.get(&path).text;
    // What will be asked stands above all that is to be read, and leads there.
    let first = text.find("href=\"#read-again\"").unwrap();
    assert!(first < text.find("class=\"found\"").unwrap() && text.contains("id=\"read-again\""), "{text}");
    let mut right = read_by_the_operator(&site, &path);
    right[0].1 = "abc".into();
    let mut fields: Vec<(&str, &str)> = right.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    fields.extend([("by", "eleni"), ("stage", "look")]);
    let before = site.lines();
    let came = site.post(&path, &fields);
    let said = between(&came.text, "<section class=\"came no", "</section>");
    assert!(said.contains("got abc, wanted a number") && !said.contains("give it with"), "{said}");
    assert_eq!(site.lines(), before);
}

#[test]
fn a_step_that_held_more_than_once_stands_in_the_review_once_with_what_came_before_folded_in_it() {
    let site = Site::new();
    let number = site.open();
    for value in ["no", "no", "no", "yes"] {
        let walk = format!("/p/{number}/walk");
        let screen = site.get(&format!("{walk}?step=job_read")).text;
        let position = between(&screen, "name=\"position\" value=\"", "\"").to_owned();
        let mut fields =
            vec![("kind", "yes_no"), ("step", "job_read"), ("position", &position), ("value", value)];
        if screen.contains("name=\"again\"") {
            fields.push(("again", "asked_again"));
        }
        let came = site.sent(&walk, &fields);
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
        // What was kept is named, with its answer.
        let text = site.follow(&came).text;
        assert!(text.contains(&format!("the job, read aloud: {value}, line ")), "{text}");
    }
    let review = site.get(&format!("/p/{number}/sign/countersign")).text;
    let held = between(&review, "<h2>What was held, and how it was cleared</h2>", "</section>");
    assert_eq!(held.matches("<li>").count(), 1, "{held}");
    let (last, before) = held.split_once("<details class=\"earlier\">").unwrap();
    assert!(last.contains("the answer is no; asked again: yes"), "{held}");
    assert!(before.contains("2 times before") && before.matches("asked again: no").count() == 2, "{held}");
}
