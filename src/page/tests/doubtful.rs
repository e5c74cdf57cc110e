//! Where nobody knows who is on air: no screen says "nobody", names that stood here stay, everyone is called by name first.

use super::*;
use crate::page::screens::board::beat;

/// A permit is open, and somebody is in under none.
fn with_rasa_in() -> Site {
    let site = Site::new();
    site.open();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    site
}

/// Everybody who may be on the set's air is called, and answers.
fn roll(site: &Site) {
    let shown = site.get("/roll-call").text;
    let of_set = between(&shown, "name=\"set\" value=\"heron\"", "</form>");
    let people: Vec<&str> =
        of_set.split("name=\"person\" value=\"").skip(1).map(|p| p.split('"').next().unwrap()).collect();
    let answers: Vec<String> = people.iter().map(|p| format!("answer.{p}")).collect();
    let mut fields = vec![("set", "heron")];
    fields.extend(people.iter().map(|p| ("person", *p)));
    fields.extend(answers.iter().map(|a| (a.as_str(), "yes")));
    assert_eq!(site.post("/roll-call", &fields).status, StatusCode::SEE_OTHER);
}

fn beats(site: &Site) -> serde_json::Value {
    let there = site.app.clone();
    let said = site.runtime.block_on(site.app.hands.ask(move |hand| beat(&there, hand))).unwrap();
    said.split_once("data: ").map(|(_, data)| serde_json::from_str(data).unwrap()).unwrap()
}

fn called(site: &Site, once: &str) -> serde_json::Value {
    serde_json::from_str(&site.post("/call-out", &[("quick", "1"), ("once", once)]).text).unwrap()
}

#[test]
fn a_damaged_register_never_says_that_nobody_is_on_air() {
    let site = with_rasa_in();
    let before = beats(&site);
    assert_eq!(
        (&before["on_air"], &before["damaged"], &before["roll"]),
        (&1.into(), &false.into(), &false.into())
    );
    assert!(site.get("/").status == StatusCode::OK);
    let mut bytes = site.register();
    let third = bytes.split_inclusive(|b| *b == b'\n').take(2).map(<[u8]>::len).sum::<usize>();
    bytes[third + 400] ^= 1;
    std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
    // Refused as broken, with nothing written aside: what was read before is believed no more.
    assert!(site.post("/note", &[("words", "a lorry waits")]).text.contains("is broken"));
    assert!(std::fs::read_dir(site.path("register")).unwrap().all(|f| !f.unwrap().path().ends_with("aside")));
    let after = beats(&site);
    assert_eq!((&after["damaged"], &after["roll"]), (&true.into(), &true.into()));
    for path in ["/board", "/board/live", "/roll-call", "/?later=1"] {
        let shown = site.get(path).text;
        let shown = shown.split_once("<main").map_or(shown.as_str(), |(_, main)| main);
        let shown = shown.split("<form class=\"callout\"").next().unwrap();
        for wrong in ["Nobody is on air", "nobody is on air", "No permit is open"] {
            assert!(!shown.contains(wrong), "{path} says {wrong}: {shown}");
        }
        assert!(shown.contains("not known"), "{path}: {shown}");
        assert!(path == "/?later=1" || shown.contains("Rasa"), "{path}: {shown}");
    }
    let board = site.get("/board").text;
    assert!(board.contains("id=\"damaged\"><b>▲ This is not all.") && board.contains("? on air"), "{board}");
    assert_eq!(site.get("/").headers["location"], "/roll-call");
    // Not even a first line.
    bytes[100] ^= 1;
    std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
    for path in ["/", "/board", "/roll-call"] {
        let shown = site.get(path);
        assert_eq!(shown.status, StatusCode::SERVICE_UNAVAILABLE);
        let shown = between(&shown.text, "<main", "</main>");
        assert!(shown.contains("Who is on air is not known.") && shown.contains("rasa"), "{path}: {shown}");
    }
}

#[test]
fn names_that_stood_here_stay_where_the_register_cannot_be_read() {
    let site = with_rasa_in();
    site.get("/board");
    std::fs::rename(site.path("register"), site.path("gone")).unwrap();
    assert_eq!(site.get("/board").status, StatusCode::SERVICE_UNAVAILABLE);
    let came = called(&site, "a");
    let rows = came["signal"]["rows"].as_array().unwrap();
    assert_eq!(rows[0][0], "AS OF");
    assert!(rows[0][1].as_str().unwrap().contains("look along every hose"), "{rows:?}");
    assert!(rows.iter().any(|r| r[1].as_str().unwrap().contains("Rasa")), "{rows:?}");
    assert_eq!(came["signal"]["read"], true);
    // Emptied, not gone: what is read says less than what was.
    std::fs::rename(site.path("gone"), site.path("register")).unwrap();
    let whole = site.register();
    site.get("/board");
    let begun: Vec<u8> =
        whole.split_inclusive(|b| *b == b'\n').take(site.lines() - 2).flatten().copied().collect();
    std::fs::write(site.path("register/0001.jsonl"), begun).unwrap();
    assert!(
        site.get("/board/live").text.contains("<b>ON AIR</b> <div><span>Rasa Vėtrungė"),
        "{}",
        site.get("/board/live").text
    );
    // Whole again: as it is, and nothing of before.
    std::fs::write(site.path("register/0001.jsonl"), whole).unwrap();
    assert!(!site.get("/board").text.contains("AS OF"));
}

#[test]
fn a_call_that_could_be_kept_nowhere_is_told_from_one_that_went_aside() {
    let site = with_rasa_in();
    site.get("/board");
    std::fs::rename(site.path(""), site.folder.path().join("away")).unwrap();
    let came = called(&site, "a");
    assert_eq!((&came["told"]["done"], &came["told"]["aside"]), (&false.into(), &false.into()), "{came}");
    assert!(came["told"]["err"].to_string().contains("write it on paper"), "{came}");
    std::fs::rename(site.folder.path().join("away"), site.path("")).unwrap();
    // The same call, sent again by the screen.
    let before = site.lines();
    let came = called(&site, "a");
    assert_eq!((&came["told"]["done"], &came["told"]["aside"]), (&true.into(), &false.into()), "{came}");
    assert!(site.lines() > before);
    let mut bytes = site.register();
    bytes[400] ^= 1;
    std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
    let came = called(&site, "b");
    assert_eq!((&came["told"]["done"], &came["told"]["aside"]), (&false.into(), &true.into()), "{came}");
}

#[test]
fn whoever_was_on_air_before_the_page_awoke_is_called_whatever_the_clock_shows() {
    let site = with_rasa_in();
    assert_eq!(beats(&site)["roll"], false);
    site.app.hands.clock.forward(-5 * 3600);
    site.app.woke();
    assert_eq!(beats(&site)["roll"], true, "the clock was set back, and nobody called the roll");
    assert!(site.get("/board").text.contains("Roll call first."));
    roll(&site);
    assert_eq!(beats(&site)["roll"], false);
    // Set forward and right again.
    site.app.hands.clock.forward(9 * 3600);
    site.app.woke();
    assert_eq!(beats(&site)["roll"], true);
    site.app.hands.clock.forward(-4 * 3600);
    site.app.woke();
    assert_eq!(beats(&site)["roll"], true);
}

#[test]
fn a_screen_says_how_many_are_on_air_and_what_it_cannot_do_without_script() {
    let site = Site::new();
    let board = site.get("/board").text;
    assert!(board.contains("id=\"count\" hidden") && board.contains("<noscript>"), "{board}");
    let board = with_rasa_in().get("/board").text;
    assert!(board.contains("id=\"count\">1 on air"), "{board}");
}

#[test]
fn whoever_was_called_and_not_found_is_looked_for_and_the_roll_is_not_asked_for_again() {
    let (site, number) = Site::live();
    let n = number.as_str();
    for p in ["zaneta", "nikos"] {
        site.post("/tally", &[("person", p), ("permit", n), ("to", "on"), ("report", "1")]);
    }
    site.app.hands.clock.forward(60);
    site.app.woke();
    assert!(site.get("/board").text.contains("Roll call first."));
    let all = site.get("/roll-call").text;
    let asked: Vec<&str> =
        all.split("name=\"person\" value=\"").skip(1).map(|p| p.split('"').next().unwrap()).collect();
    let answers: Vec<(String, &str)> =
        asked.iter().map(|p| (format!("answer.{p}"), if *p == "nikos" { "no" } else { "yes" })).collect();
    let mut fields = vec![("permit", n)];
    fields.extend(asked.iter().map(|p| ("person", *p)));
    fields.extend(answers.iter().map(|(n, v)| (n.as_str(), *v)));
    let came = site.post("/roll-call", &fields).text;
    assert!(came.contains("MISSING") && !came.contains("Roll call first."), "{came}");
    let board = site.get("/board").text;
    assert!(board.contains("MISSING at the roll call") && !board.contains("Roll call first."), "{board}");
}

#[test]
fn the_board_of_a_damaged_register_says_nothing_that_the_lines_that_are_gone_may_tell_otherwise() {
    let (site, number) = Site::live();
    for (to, p) in [("on", "zaneta"), ("in", "zaneta")] {
        site.post("/tally", &[("person", p), ("permit", &number), ("to", to), ("report", "1")]);
    }
    let board = site.get("/board/live").text;
    let word = between(&board, "check word <b>", "</b>").to_owned();
    assert!(!word.is_empty() && board.contains("off air"), "{board}");
    site.post("/note", &[("permit", &number), ("words", "a lorry waits")]);
    let mut bytes = site.register();
    let at = bytes.len() - 200;
    bytes[at] ^= 1;
    std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
    site.post("/note", &[("words", "a lorry waits")]);
    let board = site.get("/board/live").text;
    assert!(board.contains("Who is on air is not known."), "{board}");
    let permit = between(&board, "<article", "</article>");
    for wrong in
        [&word, "class=\"state\"", "off air", "Go on with the steps", "name=\"to\" value=\"in\"", "Valid to"]
    {
        assert!(!permit.contains(wrong), "{wrong}: {permit}");
    }
    // Whoever stood on air there has a key still: that they are out is always taken.
    assert!(
        permit.contains("data-part=\"zaneta\"") && permit.contains("name=\"to\" value=\"out\""),
        "{permit}"
    );
    // One list, everybody under their label once.
    let rows = between(&board, "data-part=\"not-known\"", "</section>");
    assert_eq!(rows.matches("<b>ON AIR</b>").count(), 1, "{rows}");
}
