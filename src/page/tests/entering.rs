//! Who is at the page stands in the lines that are entered there, and nothing waits for it to be known.

use super::*;
use crate::record::json::Json;

fn lines(site: &Site) -> Vec<Json> {
    let all = site.register();
    let lines = all.split(|b| *b == b'\n').filter(|l| !l.is_empty());
    lines.map(|l| crate::record::json::read(l).unwrap().get("body").unwrap().clone()).collect()
}

/// Who entered the last line of a kind.
fn by(site: &Site, kind: &str) -> Option<String> {
    let all = lines(site);
    let last = all.iter().rev().find(|l| l.text("kind") == Some(kind)).unwrap();
    last.text("by").map(str::to_owned)
}

type Told = (&'static str, String, Vec<(&'static str, String)>);

/// One line of each way in which something is told here: its kind, the address, what is sent.
fn told(number: &str) -> Vec<Told> {
    let of = |pairs: &[(&'static str, &str)]| pairs.iter().map(|(n, v)| (*n, (*v).to_owned())).collect();
    vec![
        (
            "reading",
            "/reading".into(),
            of(&[("permit", number), ("what", "co"), ("value", "1"), ("unit", "ppm")]),
        ),
        (
            "on_air",
            "/tally".into(),
            of(&[("person", "jiri"), ("to", "on"), ("set", "heron"), ("report", "1")]),
        ),
        ("off_air", "/tally".into(), of(&[("person", "jiri"), ("to", "off")])),
        ("relieve", "/relieve".into(), of(&[("permit", number), ("role", "attendant"), ("to", "jiri")])),
        (
            "roll_call",
            "/roll-call".into(),
            of(&[
                ("permit", number),
                ("person", "zaneta"),
                ("answer.zaneta", "yes"),
                ("person", "nikos"),
                ("answer.nikos", "yes"),
                ("person", "pavlos"),
                ("answer.pavlos", "yes"),
                ("person", "ines"),
                ("answer.ines", "yes"),
                ("person", "jiri"),
                ("answer.jiri", "yes"),
                ("person", "marit"),
                ("answer.marit", "yes"),
            ]),
        ),
        ("serviced", "/set/heron".into(), of(&[("what", "serviced"), ("part", "filter")])),
        ("suspend", "/suspend".into(), of(&[("permit", number), ("reason", "wind")])),
        ("event", "/alarm".into(), of(&[("what", "wind_turned")])),
        ("event", "/call-out".into(), of(&[("quick", "1")])),
    ]
}

fn tell(site: &Site, address: &str, fields: &[(&'static str, String)]) -> Came {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(n, v)| (*n, v.as_str())).collect();
    site.post(address, &fields)
}

#[test]
fn whoever_is_at_the_page_stands_in_every_line_entered_there() {
    let (site, number) = Site::live();
    assert!(site.get("/board").text.contains("id=\"enters-name\">not known"));
    let came = site.post("/who", &[("who", "oksana"), ("to", "/board")]);
    assert_eq!((came.status, came.headers["location"].to_str().unwrap()), (StatusCode::SEE_OTHER, "/board"));
    for screen in ["/", "/board", "/alarm", "/roll-call", "/set/heron", "/audit"] {
        let text = site.get(screen).text;
        assert!(text.contains("id=\"enters-name\">Оксана Журавель"), "{screen}: {text}");
    }
    for (kind, address, fields) in told(&number) {
        let before = site.lines();
        let came = tell(&site, &address, &fields);
        assert!(site.lines() > before, "{address}: {}", came.text);
        assert_eq!(by(&site, kind).as_deref(), Some("oksana"), "{kind} {fields:?}");
    }
}

#[test]
fn where_nobody_says_who_enters_nothing_waits_and_nobody_is_named() {
    let (site, number) = Site::live();
    for (kind, address, mut fields) in told(&number) {
        let before = site.lines();
        // What a browser says of it is nothing that was said at the page.
        fields.push(("entered", "eleni".into()));
        let came = tell(&site, &address, &fields);
        assert!(site.lines() > before, "{address}: {}", came.text);
        assert_eq!(by(&site, kind), None, "{kind} {fields:?}");
    }
}

#[test]
fn an_answer_is_whoevers_is_at_the_page_else_as_at_the_terminal_the_holders() {
    let site = Site::new();
    site.post("/who", &[("who", "marit")]);
    let number = site.open();
    assert_eq!(by(&site, "open").as_deref(), Some("marit"));
    let walk = format!("/p/{number}/walk");
    let answer = |step: &str| {
        site.post(&walk, &[("kind", "yes_no"), ("step", step), ("position", "0"), ("value", "yes")]);
        by(&site, "answer")
    };
    assert!(!site.get(&walk).text.contains("Who enters is not known"));
    assert_eq!(answer("job_read").as_deref(), Some("marit"));
    // Somebody who is not known here is nobody.
    let came = site.post("/who", &[("who", "nemo"), ("quick", "1")]);
    assert_eq!(came.text, "{\"name\":\"not known\"}");
    let text = site.get(&walk).text;
    assert!(
        text.contains("stands as the holder&#x27;s, Łukasz Gżegżółka")
            || text.contains("stands as the holder's, Łukasz Gżegżółka"),
        "{text}"
    );
    assert_eq!(answer("entry_permits").as_deref(), Some("lukasz"));
}

#[test]
fn who_is_at_the_page_is_not_known_after_a_sleep_nor_a_shift_later() {
    let site = Site::new();
    let shown = || between(&site.get("/").text, "id=\"enters-name\">", "<").to_owned();
    let marit = || site.post("/who", &[("who", "marit")]);
    marit();
    assert_eq!(shown(), "Marit Sjøgård");
    site.app.woke();
    assert_eq!(shown(), "not known");
    marit();
    site.app.hands.clock.forward(13 * 3600);
    assert_eq!(shown(), "not known");
    let beat = |site: &Site| {
        let there = site.app.clone();
        site.runtime
            .block_on(site.app.hands.ask(move |hand| crate::page::screens::board::beat(&there, hand)))
            .unwrap()
    };
    assert!(beat(&site).contains("\"enters\":\"not known\""));
    marit();
    assert!(beat(&site).contains("\"enters\":\"Marit Sjøgård\""));
}

#[test]
fn who_is_at_the_page_signs_nothing_by_it() {
    let (site, number) = Site::declared();
    site.post("/who", &[("who", "lukasz")]);
    let path = format!("/p/{number}/sign/countersign");
    let right = telling::read_by_the_operator(&site, &path);
    let mut fields: Vec<(&str, &str)> = right.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    fields.push(("stage", "look"));
    let text = site.post(&path, &fields).text;
    assert!(text.contains("You sign these words") && !text.contains("name=\"entered\""), "{text}");
}

#[test]
fn whoever_goes_on_air_is_not_at_the_page_any_more() {
    let (site, number) = Site::live();
    let shown = || between(&site.get("/").text, "id=\"enters-name\">", "<").to_owned();
    for to in ["on", "in"] {
        site.post("/who", &[("who", "zaneta")]);
        site.post("/tally", &[("person", "nikos"), ("permit", &number), ("to", to), ("report", "1")]);
        assert_eq!(shown(), "Żaneta Brzęczyk");
        site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", to), ("report", "1")]);
        assert_eq!(shown(), "not known", "{to}");
    }
    site.post("/reading", &[("permit", &number), ("what", "co"), ("value", "1"), ("unit", "ppm")]);
    assert_eq!(by(&site, "reading"), None);
}
