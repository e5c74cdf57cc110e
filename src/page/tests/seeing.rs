//! What a screen shows and holds back: what is read blind, who is still to be looked for, what one signs for, what was typed.

use super::standing::{NUMBER, page_at, played, time};
use super::telling::read_by_the_operator;
use super::*;
use crate::tongue::Tongue;

/// The played day up to its first line of a kind, without it; and the clock a second after the last of these.
fn upto(kind: &str) -> (TempDir, i64) {
    let day = played();
    let is = |l: &&Vec<u8>| {
        let line: serde_json::Value = serde_json::from_slice(l).unwrap();
        line["body"]["kind"] == kind
    };
    let at = day.iter().position(|l| is(&l)).unwrap();
    let register = tempfile::tempdir().unwrap();
    std::fs::write(register.path().join("0001.jsonl"), day[..at].concat()).unwrap();
    (register, time(&day[at - 1]) + 1)
}

fn main_of(text: &str) -> &str {
    between(text, "<main", "</main>")
}

#[test]
fn what_a_supervisor_is_to_read_blind_stands_on_no_screen_of_the_permit_and_on_no_paper() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let right = read_by_the_operator(&site, &path);
    let at = |part: &str| format!("/p/{number}{part}");
    let screens = [
        at(""),
        at("/record"),
        at("/walk"),
        at("/sign/countersign"),
        at("/sign/refuse"),
        at("/sign/cancel"),
        at("/carry"),
        format!("/take-in?permit={number}"),
        format!("/open?like={number}"),
        "/board".into(),
        "/".into(),
        "/set/heron".into(),
        "/alarm".into(),
        "/roll-call".into(),
    ];
    let tells = |text: &str| {
        right.iter().any(|(name, value)| {
            let unit = if name.starts_with("seen.co") { "ppm" } else { "bar" };
            let reading = format!("{value} {unit}");
            let whole = |at: usize| !text[..at].ends_with(|c: char| c.is_ascii_digit() || c == '.');
            text.match_indices(&reading).any(|(at, _)| whole(at))
        })
    };
    for tongue in Tongue::ALL {
        let cookie = format!("{}; airwrit-{PORT}-language={}", Site::cookie(), tongue.tag());
        for path in &screens {
            let text = site.get_with(path, &cookie).text;
            assert!(!tells(main_of(&text)), "{path} in {} tells it: {text}", tongue.tag());
        }
    }
    for path in &screens[..2] {
        let text = site.get(path).text;
        assert!(text.contains("Held back on this screen until the supervisor has read them again"), "{path}");
    }
    assert!(site.get(&screens[1]).text.contains("(held back)"));
    for paper in ["/permit.pdf", "/card.pdf"] {
        let came = site.get(&at(paper));
        assert_eq!(came.status, StatusCode::CONFLICT, "{paper}");
        assert!(came.text.contains("it is drawn once the supervisor has read them again"), "{}", came.text);
    }
    let before = site.lines();
    let came = site.post(&at("/hang"), &[("hangs", "at the manhole"), ("sheet", "permit")]);
    assert!(came.text.contains("it is drawn once the supervisor has read them again"), "{}", came.text);
    assert_eq!(site.lines(), before);
    // Read, and not the same: known from now on, with a key that leads to where it is read again.
    let mut wrong: Vec<(&str, &str)> = right.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    let other = (right[1].1.parse::<f64>().unwrap() + 40.0).to_string();
    wrong[1].1 = &other;
    site.post(&path, &[&wrong[..], &[("stage", "look"), ("by", "eleni")]].concat());
    let text = site.get(&screens[1]).text;
    assert!(!text.contains("(held back)") && tells(&text), "{text}");
    assert_eq!(site.get(&at("/permit.pdf")).status, StatusCode::OK);
}

#[test]
fn nor_in_the_auditors_view_nor_in_a_file_that_is_brought_out_beside_a_supervisors_key() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let right = read_by_the_operator(&site, &path);
    let quoted = |value: &str| format!("&quot;value&quot;:&quot;{value}&quot;");
    let lines = |site: &Site| -> String {
        (0..site.lines()).step_by(40).map(|from| site.get(&format!("/audit?from={from}")).text).collect()
    };
    let shown = lines(&site);
    assert!(shown.contains("Held back on this screen until the supervisor has read the gauge again."));
    assert!(shown.contains("&quot;value&quot;:&quot;yes&quot;"), "everything is held back");
    for (_, value) in &right {
        assert!(!shown.contains(&quoted(value)), "{value}");
        let find = crate::page::form::encoded(&format!("\"value\":\"{value}\""));
        assert!(site.get(&format!("/audit?find={find}&from=0")).text.contains(": 0 found."), "{value}");
    }
    let excerpt = format!("/p/{number}/excerpt");
    let came = site.get(&excerpt);
    assert_eq!(came.status, StatusCode::CONFLICT);
    assert!(came.text.contains("and this file would show them: "), "{}", came.text);
    // A screen of it that is open already is drawn anew once it hears of the declaration.
    let text = site.get(&format!("/p/{number}")).text;
    assert!(text.contains(&format!("data-declared=\"{number}\"")), "{text}");
    // Where no supervisor's key stands, it is signed elsewhere, and the lines go there.
    let keys = site.app.keys.clone();
    for key in std::fs::read_dir(&keys).unwrap().map(|k| k.unwrap().path()) {
        let name = key.file_name().unwrap().to_str().unwrap().to_owned();
        if !name.starts_with("lukasz") && !name.starts_with("oksana") {
            std::fs::remove_file(key).unwrap();
        }
    }
    assert_eq!(site.get(&excerpt).status, StatusCode::OK);
    let (site, number) = Site::live();
    assert_eq!(site.get(&format!("/p/{number}/excerpt")).status, StatusCode::OK);
    let shown = lines(&site);
    assert!(!shown.contains("Held back") && right.iter().all(|(_, value)| shown.contains(&quoted(value))));
}

#[test]
fn a_gauge_that_did_not_agree_is_said_to_be_read_again_by_the_operator() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let right = read_by_the_operator(&site, &path);
    let mut wrong: Vec<(&str, &str)> = right.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    let other = (right[1].1.parse::<f64>().unwrap() + 40.0).to_string();
    wrong[1].1 = &other;
    for tongue in ["en", "uk"] {
        let fields = [&wrong[..], &[("stage", "look"), ("by", "eleni"), ("language", tongue)]].concat();
        let text = site.post(&path, &fields).text;
        let instead = between(&text, "<p class=\"instead\">", "</p>");
        assert!(
            instead.contains("the operator reads that gauge again, with the supervisor, answers it again")
                && !instead.contains("not-seen")
                && !instead.contains("why no gauge"),
            "{instead}"
        );
    }
}

#[test]
fn the_steps_are_not_over_while_another_gauge_did_not_agree() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let right = read_by_the_operator(&site, &path);
    let wrong: Vec<(&str, &str)> = right.iter().map(|(n, _)| (n.as_str(), "77")).collect();
    site.post(&path, &[&wrong[..], &[("stage", "look"), ("by", "eleni")]].concat());
    let position = u64::MAX.to_string();
    for (n, (name, value)) in right.iter().enumerate() {
        let (step, item) =
            name.trim_start_matches("seen.").split_once('/').unwrap_or((&name["seen.".len()..], ""));
        let mut fields =
            vec![("kind", "number"), ("step", step), ("value", value.as_str()), ("again", "read_wrong")];
        fields.extend([("position", position.as_str()), ("was_answered", "1")]);
        if !item.is_empty() {
            fields.push(("item", item));
        }
        let came = site.post(&format!("/p/{number}/walk"), &fields);
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{name}: {}", came.text);
        let text = site.get(&format!("/p/{number}/walk")).text;
        let left = right.len() - n - 1;
        assert_eq!(main_of(&text).matches("the supervisor read 77").count(), left, "{text}");
        assert_eq!(text.contains("everything before declaring is done"), left == 0, "{text}");
    }
}

#[test]
fn where_nobody_is_on_air_an_overdue_gauge_stands_before_what_is_said_of_it() {
    let (site, number) = Site::live();
    let at = |text: &str, what: &str| text.find(what).unwrap_or_else(|| panic!("{what}: {text}"));
    site.app.hands.clock.forward(1300);
    let board = site.get("/board/live").text;
    assert!(at(&board, "data-part=\"due\"") < at(&board, "data-part=\"tally\""), "{board}");
    // It is told at its field, and on every screen above; not a third time.
    assert!(board.contains("OVERDUE since") && !board.contains("was due at"), "{board}");
    assert_eq!(board.matches("data-part=\"due\"").count(), 1);
    // Nobody is led to the steps by words that the permit is live.
    assert!(board.contains(">HELD<") && !site.get(&format!("/p/{number}/walk")).text.contains("is live"));
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "in"), ("report", "1")]);
    let board = site.get("/board/live").text;
    assert!(at(&board, "data-part=\"tally\"") < at(&board, "data-part=\"due\""), "{board}");
}

#[test]
fn a_reading_says_what_was_kept_and_a_slip_what_to_type() {
    let (site, number) = Site::live();
    let read = |what: &str, value: &str, unit: &str| {
        let fields = [("permit", number.as_str()), ("what", what), ("value", value), ("unit", unit)];
        let came = site.post("/reading", &fields);
        let text = if came.status == StatusCode::SEE_OTHER { site.follow(&came).text } else { came.text };
        main_of(&text).to_owned()
    };
    let kept = read("supply", "6.1", "bar");
    assert!(kept.contains("read: supply 6.1 bar; line "), "{kept}");
    let slip = read("reserve", "2o7", "bar");
    assert!(slip.contains("type the number as the instrument shows it, in bar"), "{slip}");
    // With nobody on its air no order stands there: what is out of limits is told largest.
    let out = read("supply", "60", "bar");
    let large = out.split("class=\"large\">").nth(1).unwrap();
    assert!(large.trim_start().starts_with("OUT OF LIMITS: "), "{out}");
    assert!(out.contains("class=\"large\">EVERYONE OUT: the signal first"), "{out}");
}

#[test]
fn sets_and_people_are_called_by_their_names_on_the_screen_of_the_site() {
    let (site, number) = Site::live();
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "in"), ("report", "1")]);
    let text = site.get("/board").text + &site.get("/?later=1").text;
    let site_screen = main_of(&text[text.rfind("<main").unwrap()..]).to_owned();
    assert!(
        site_screen.contains("set Heron, ") && site_screen.contains("on air: Żaneta Brzęczyk"),
        "{site_screen}"
    );
    assert!(site.get("/set/heron").text.contains("<h1>Set Heron "));
}

#[test]
fn an_issued_permit_holds_nothing_back() {
    let (site, number) = Site::live();
    for at in ["", "/record"] {
        let text = site.get(&format!("/p/{number}{at}")).text;
        assert!(!text.contains("held back") && !text.contains("Held back"), "{text}");
    }
    assert_eq!(site.get(&format!("/p/{number}/permit.pdf")).status, StatusCode::OK);
}

#[test]
fn a_finished_shutdown_leads_to_hand_back_and_what_lapsed_ended_at_its_end() {
    static SECOND: AtomicI64 = AtomicI64::new(0);
    let (register, second) = upto("hand_back");
    SECOND.store(second, Ordering::Relaxed);
    let site = page_at(register.path(), || SECOND.load(Ordering::Relaxed));
    let key = format!("<a class=\"key go\" href=\"/p/{NUMBER}/sign/hand-back\">Hand back</a>");
    for path in ["/?later=1".to_owned(), format!("/p/{NUMBER}")] {
        let text = site.get(&path).text.replace("&#x2f;", "/");
        assert!(text.contains(&key), "{path}: {text}");
    }
    // One step of it left: the shutdown goes on.
    let (register, second) = upto("stopped");
    SECOND.store(second, Ordering::Relaxed);
    let site = page_at(register.path(), || SECOND.load(Ordering::Relaxed));
    let text = site.get("/?later=1").text.replace("&#x2f;", "/");
    assert!(!text.contains(&key) && text.contains("Go on with the shutdown"), "{text}");
    // Hours after its end, nobody having written a line of it: since then.
    let (register, second) = upto("on_air");
    SECOND.store(second, Ordering::Relaxed);
    let site = page_at(register.path(), || SECOND.load(Ordering::Relaxed));
    let known = crate::record::volumes::read(&crate::disk::Folder::at(register.path())).unwrap();
    let looked = crate::actions::look(&known, second).unwrap();
    let end = looked.state.permits.get(NUMBER).unwrap().valid_to.clone().unwrap();
    SECOND.store(crate::time::seconds(&end) + 3 * 3600, Ordering::Relaxed);
    let text = site.get("/?later=1").text;
    let since = crate::time::for_people(&end, "+01:00");
    let row = between(text.split_once("id=\"h-ended\"").unwrap().1, NUMBER, "</li>");
    assert!(row.to_lowercase().contains("lapsed") && row.contains(&format!("since {since}")), "{row}");
}

#[test]
fn a_key_of_the_tally_on_a_screen_older_than_what_it_shows_asks_again() {
    let site = Site::new();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let pressed = |shown: &str, to: &str| {
        site.follow(&site.post("/tally", &[("person", "rasa"), ("shown", shown), ("to", to)])).text
    };
    let before = site.lines();
    // Somebody else has told meanwhile that she went in: nobody takes her off air from a screen that shows her outside.
    for shown in ["outside", "out"] {
        let told = pressed(shown, "off");
        assert!(
            told.contains("the screen that was pressed showed Rasa Vėtrungė elsewhere; now it is: IN"),
            "{told}"
        );
        assert!(told.contains("class=\"came doubt"), "told in green: {told}");
    }
    assert_eq!(site.lines(), before);
    // That she is out is taken from any screen; so is what the screen shows.
    pressed("outside", "out");
    assert_eq!(site.lines(), before + 1);
    pressed("out", "off");
    assert_eq!(site.lines(), before + 2);
    let board = site.get("/board").text;
    assert!(!board.contains("name=\"shown\"") || board.contains("name=\"shown\" value=\"off\""), "{board}");
}

/// Whom the shutdown asks for, seen outside or not.
fn seen(site: &Site, number: &str, person: &str, value: &str) -> String {
    let path = format!("/p/{number}/walk");
    let again = if value == "yes" { "asked_again" } else { "" };
    let fields = [
        ("kind", "yes_no"),
        ("step", "wearer_seen"),
        ("item", person),
        ("value", value),
        ("again", again),
        ("shutdown", "1"),
    ];
    site.follow(&site.post(&path, &fields)).text
}

#[test]
fn whoever_was_not_seen_outside_is_looked_for_until_somebody_has_seen_them() {
    let (site, number) = Site::live();
    let off = |board: &str| between(board, "data-part=\"zaneta\"", "</section>").to_owned();
    assert!(off(&site.get("/board/live").text).contains("off air"));
    seen(&site, &number, "zaneta", "no");
    let board = site.get("/board").text;
    let words = "NOT SEEN OUTSIDE at ";
    // On every screen, above everything else; and nothing of her row says that it is over.
    let overdue = between(&board, "<span id=\"overdue-words\">", "</span>");
    assert!(overdue.starts_with(words) && overdue.contains("Brzęczyk"), "{overdue}");
    let card = board.split_once("<article").unwrap().1;
    assert!(between(card, "class=\"line warn\">", "</p>").contains(words), "{card}");
    let row = off(&board);
    assert!(row.contains("<b>NOT SEEN OUTSIDE</b>") && !row.contains("off air"), "{row}");
    assert!(board.contains("<section class=\"who lost\" data-part=\"zaneta\"") && row.contains("▲"), "{row}");
    let key = between(&row, "<a class=\"key go\" href=\"", "\"").replace("&amp;", "&").replace("&#x2f;", "/");
    assert!(site.get(&key).text.contains("name=\"step\" value=\"wearer_seen\""), "{key}");
    for path in ["/", "/alarm", &format!("/p/{number}"), "/roll-call"] {
        assert!(site.get(path).text.contains(words), "{path}");
    }
    // Where it holds, a key leads to the roll, and nothing of the set was done since.
    let asked = site.get(&key).text;
    let holds = between(&asked, "<section class=\"hold\"", "</section>");
    assert!(holds.contains("href=\"/roll-call\"") && holds.contains("href=\"/alarm\""), "{holds}");
    assert!(asked.contains("value=\"asked_again\"") && !asked.contains("value=\"refilled\""), "{asked}");
    assert!(site.get("/roll-call").text.contains("NOT SEEN OUTSIDE</small>"));
    let signal = site.app.hands.signal();
    assert!(signal.rows.iter().any(|(label, w)| label == "LOOK FOR" && w.contains("zaneta")), "{signal:?}");
    assert!(!off(&board).contains("class=\"who lost\" data-part=\"nikos\""));
    seen(&site, &number, "zaneta", "yes");
    let board = site.get("/board").text;
    assert!(!board.contains("NOT SEEN OUTSIDE") && off(&board).contains("off air"), "{board}");
}

#[test]
fn whoever_gives_it_on_takes_it_or_closes_it_sees_how_it_stands() {
    let (site, number) = Site::live();
    site.post(
        "/tally",
        &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1"), ("permit", &number)],
    );
    site.post("/reading", &[("permit", &number), ("what", "co"), ("value", "1"), ("unit", "ppm")]);
    for act in ["hand-over", "take-over", "close", "give", "hand-back"] {
        let text = site.get(&format!("/p/{number}/sign/{act}")).text;
        let shown = main_of(&text);
        assert!(!shown.contains("<details><summary>What was found"), "{act}: {shown}");
        for (heading, words) in [
            ("Who is on its air", "Rasa Vėtrungė, in"),
            ("The set", "Heron RUNS since "),
            ("Read last", "CO: 1 ppm at "),
            ("What stands against it now", "<li>"),
            ("What is open", "<li>"),
        ] {
            let found = between(shown, &format!("<h2>{heading}</h2>"), "</section>");
            assert!(found.contains(words), "{act}: {heading}: {found}");
        }
    }
}

#[test]
fn what_no_gauge_shows_is_kept_as_a_bad_reading_and_said_with_what_was_got_and_wanted() {
    for (what, unit, value, words) in [
        ("co", "ppm", "-5", "CO was read at {time} as -5 ppm: the monitor is at fault, and nobody knows"),
        ("co", "ppm", "99999", "CO was read at {time} as 99999 ppm, wanted at most 5 ppm (the site's limit)"),
        (
            "supply",
            "bar",
            "-5",
            "supply was read at {time} as -5 bar, wanted at least 5.2 bar (the set's range)",
        ),
        (
            "supply",
            "bar",
            "99999",
            "supply was read at {time} as 99999 bar, wanted at most 7 bar (the set's range)",
        ),
        (
            "reserve",
            "bar",
            "-5",
            "reserve was read at {time} as -5 bar, wanted at least 108 bar (the leave-by pressure)",
        ),
        (
            "reserve",
            "bar",
            "99999",
            "reserve was read at {time} as 99999 bar, more than its cylinders can hold",
        ),
    ] {
        let (site, number) = Site::live();
        let (time, _) =
            site.get("/board/live").text.split_once("as of ").map_or_else(Default::default, |(_, t)| {
                let (time, _) = t.split_once('<').unwrap();
                (time.to_owned(), ())
            });
        let words = words.replace("{time}", &time);
        let came =
            site.post("/reading", &[("permit", &number), ("what", what), ("value", value), ("unit", unit)]);
        let shown = main_of(&came.text).replace("&#x27;", "'");
        assert!(shown.contains(&format!("OUT OF LIMITS: {words}")), "{what} {value}: {shown}");
        assert!(
            shown.contains("EVERYONE OUT") && shown.contains("Heron: suspended"),
            "{what} {value}: {shown}"
        );
        assert!(site.get(&format!("/p/{number}")).text.contains("SUSPENDED"), "{what} {value}");
    }
}

/// The screen that a refusal leads back to.
fn back(site: &Site, path: &str, fields: &[(&str, &str)]) -> String {
    let came = site.post(path, fields);
    assert_eq!(came.status, StatusCode::OK, "{path} {fields:?}");
    let said = ["Refused", "Not done", "class=\"why\""].iter().any(|words| came.text.contains(words));
    assert!(said, "{path}: {}", came.text);
    main_of(&came.text).replace("&#x2f;", "/")
}

#[test]
fn what_was_typed_stands_again_after_a_refusal_and_no_passphrase_does() {
    let (site, number) = Site::live();
    let n = number.as_str();
    let before = site.lines();
    let set = "/set/heron";
    let hangs = "a place too long to be told in one line ".repeat(4);
    let quick = [("permit", n), ("what", "reserve"), ("unit", "bar"), ("value", "2o7")];
    let named = [("permit", n), ("what", "reserve"), ("item", "zz"), ("value", "207 bar")];
    let fill = [("what", "filled"), ("from", "certificate"), ("machine", "Łabędź 4"), ("at", "99:99")];
    let roll = [("permit", n), ("person", "zaneta"), ("person", "nikos"), ("answer.zaneta", "no")];
    let relief = [("permit", n), ("role", "attendant"), ("to", "zaneta")];
    let secret = [("words", "x"), ("hangs", hangs.as_str()), ("passphrase", "a secret phrase")];
    for (path, fields, wanted) in [
        ("/reading", &quick[..], &["id=\"r1reserve\"", "value=\"2o7\" data-typed"][..]),
        (
            "/reading",
            &named,
            &["value=\"zz\" data-typed", "value=\"207 bar\" data-typed", "data-part=\"more\" open"],
        ),
        (set, &fill, &["<option value=\"certificate\" selected>", "value=\"Łabędź 4\""]),
        ("/roll-call", &roll, &["name=\"answer.zaneta\" value=\"no\" checked"]),
        ("/relieve", &relief, &["<option value=\"zaneta\" selected>"]),
        (&format!("/p/{n}/hang"), &secret, &[&format!("value=\"{hangs}\"")]),
    ] {
        let shown = back(&site, path, fields);
        for words in wanted {
            assert!(shown.contains(words), "{path} {fields:?}: no {words} in {shown}");
        }
        assert!(!shown.contains("a secret phrase"), "{path}");
    }
    assert_eq!(site.lines(), before, "something was kept");
    // What went well is not typed again.
    let came = site.post("/reading", &[("permit", n), ("what", "co"), ("unit", "ppm"), ("value", "1")]);
    assert!(!site.follow(&came).text.contains("data-typed"));
    // A step, and the job with what is for the plan alone.
    let other = Site::new();
    let next = other.open();
    let step = [
        ("kind", "number"),
        ("step", "way_out_walked"),
        ("value", "9999999"),
        ("words", "twice"),
        ("position", "0"),
    ];
    let text = other.post(&format!("/p/{next}/walk"), &step).text;
    assert!(text.contains("class=\"came") && text.contains("value=\"twice\""), "{text}");
    let job = Site::job(&[("until", "99:99"), ("plan_low", "-9 °C"), ("plan_reserve", "201 bar")]);
    let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    fields.push(("what_now", "open"));
    let text = other.post("/open", &fields).text;
    assert!(
        text.contains("value=\"-9 °C\"")
            && text.contains("value=\"201 bar\"")
            && text.contains("value=\"99:99\"")
    );
    let over = [
        ("stage", "look"),
        ("to", "ines"),
        ("shift", "1"),
        ("checked", "wind"),
        ("unusual", ""),
        ("staying", "two in"),
    ];
    let text = site.post(&format!("/p/{n}/sign/hand-over"), &over).text;
    for words in [
        "value=\"ines\" selected",
        "name=\"shift\" value=\"1\" checked",
        "value=\"wind\" checked",
        "value=\"two in\"",
    ] {
        assert!(text.contains(words), "no {words} in {text}");
    }
}

#[test]
fn the_roll_of_a_damaged_register_names_people_first_and_says_nothing_twice() {
    let (site, number) = Site::live();
    for (to, p) in [("on", "zaneta"), ("in", "zaneta"), ("on", "nikos")] {
        site.post("/tally", &[("person", p), ("permit", &number), ("to", to), ("report", "1")]);
    }
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "out")]);
    let whole = site.register();
    let lines: Vec<usize> = whole
        .split_inclusive(|b| *b == b'\n')
        .scan(0, |at, l| {
            *at += l.len();
            Some(*at - l.len())
        })
        .collect();
    // From the first line on, before and after they went on air; read by whoever read it whole before, and by nobody.
    for line in [1, lines.len() - 3, lines.len() - 1] {
        let mut bytes = whole.clone();
        bytes[lines[line] + 300] ^= 1;
        let cold = Site::copied(&site.folder);
        for site in [&site, &cold] {
            std::fs::write(site.path("register/0001.jsonl"), &bytes).unwrap();
            // Whoever writes reads everything.
            site.post("/note", &[("words", "a lorry waits")]);
            site.get("/board");
        }
        let fresh = {
            let again = Site::copied(&cold.folder);
            again.app.hands.signal()
        };
        for signal in [site.app.hands.signal(), cold.app.hands.signal(), fresh] {
            let at = |of: &str| signal.rows.iter().position(|(label, _)| label.starts_with(of));
            let last = |of: &str| signal.rows.iter().rposition(|(label, _)| label.starts_with(of));
            let rows = &signal.rows;
            assert!(at("SIGNAL") < at("ON AIR") && last("ON AIR") < at("RESCUE"), "{line}: {rows:#?}");
            assert!(last("RESCUE") < at("ASSEMBLY"), "{line}: {rows:#?}");
            // By name where the roster can be read, by id where its line is the damaged one.
            let told = |w: &str| w.contains("zaneta") || w.contains("Żaneta");
            assert!(rows.iter().any(|(_, w)| told(w)), "{line}: {rows:#?}");
            for (i, (_, words)) in rows.iter().enumerate() {
                assert!(!rows[..i].iter().any(|(_, w)| w == words), "{line}: twice {words}: {rows:#?}");
            }
        }
        std::fs::write(site.path("register/0001.jsonl"), &whole).unwrap();
        site.get("/board");
    }
}

#[test]
fn minutes_hours_and_seconds_that_are_counted_are_told_in_the_letters_of_the_language() {
    for line in include_str!("../../tongue/uk.yaml").lines() {
        let Some((_, told)) = line.split_once("\": \"") else { continue };
        for latin in
            ["{minutes} min", "{min} min", "{most} min", "{hours} h", "{h} h", "{s} s", "{seconds} s"]
        {
            assert!(!told.contains(latin), "{line}");
        }
    }
}

#[test]
fn a_picture_says_of_which_permit_its_test_of_the_air_is() {
    let (site, number) = Site::live();
    let text = site.get(&format!("/p/{number}/record")).text;
    assert!(text.contains("Test of 2026-11-20, the one that counts for this permit."), "{text}");
}

#[test]
fn people_are_called_by_name_and_told_once_and_a_slip_is_told_without_units() {
    let (site, number) = Site::live();
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "in"), ("report", "1")]);
    let set = site.get("/set/heron").text;
    assert_eq!(main_of(&set).matches("Żaneta").count(), 1, "{set}");
    // Of what is signed the name is told, and the key stands with the signature.
    let path = format!("/p/{number}/sign/cancel");
    let words = [("by", "eleni"), ("reason", "over")];
    let refused = site.post(&path, &[&words[..], &[("stage", "look")]].concat()).text;
    assert!(main_of(&refused).contains("Żaneta Brzęczyk is on air"), "{refused}");
    assert!(!main_of(&refused).contains(">zaneta is"), "{refused}");
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "off"), ("report", "1")]);
    let look = site.post(&path, &[&words[..], &[("stage", "look")]].concat());
    let shown = between(&look.text, "name=\"shown\" value=\"", "\"").to_owned();
    let sign = [("stage", "sign"), ("shown", shown.as_str()), ("passphrase", "demo")];
    let came = site.follow(&site.post(&path, &[&words[..], &sign].concat())).text;
    let said = between(&came, "<section class=\"came", "</section>");
    assert!(said.contains("signed by Ελένη") && !said.contains("SHA256"), "{said}");
    // The unit stands beside the field.
    let (site, number) = Site::live();
    let slip = [("permit", number.as_str()), ("what", "reserve"), ("unit", "bar"), ("value", "2o7")];
    let before = site.lines();
    let came = site.post("/reading", &slip).text;
    assert!(
        came.contains("wanted a number.") && came.contains("as the instrument shows it, in bar"),
        "{came}"
    );
    assert!(!came.contains("there is no unit") && site.lines() == before, "{came}");
}

#[test]
fn what_was_refused_is_answered_by_an_address_and_stands_there_whenever_it_is_come_back_to() {
    let (site, number) = Site::live();
    let other = Site::new();
    let next = other.open();
    let step =
        [("kind", "yes_no"), ("step", "job_read"), ("value", "maybe"), ("position", "0"), ("words", "twice")];
    let walk = format!("/p/{next}/walk");
    let came = other.sent(&walk, &step);
    assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
    let to = came.headers["location"].to_str().unwrap();
    for _ in 0..2 {
        let text = other.get(to).text;
        assert!(text.contains("class=\"came no") && text.contains("value=\"twice\""), "{text}");
    }
    // Answered since, what was refused then is over.
    other.post(&walk, &[("kind", "yes_no"), ("step", "job_read"), ("value", "yes"), ("position", "0")]);
    let text = other.get(to).text;
    assert!(!text.contains("class=\"came no") && !text.contains("value=\"twice\""), "{text}");
    // On no other screen than its own.
    let told = to.split("told=").last().unwrap();
    assert!(!other.get(&format!("/p/{next}/sign/cancel?told={told}")).text.contains("twice"));
    // A passphrase that does not open: the words stand there again, and nothing of it.
    let sign = format!("/p/{number}/sign/cancel");
    let look = [("stage", "look"), ("reason", "the ferry sails early"), ("by", "eleni")];
    let words = site.sent(&sign, &look);
    let shown = site.follow(&words).text;
    let mark = between(&shown, "name=\"shown\" value=\"", "\"").to_owned();
    let signs = [("stage", "sign"), look[1], look[2], ("shown", &mark), ("passphrase", "a secret phrase")];
    let refused = site.sent(&sign, &signs);
    let to = refused.headers["location"].to_str().unwrap();
    let text = site.get(to).text;
    assert!(text.contains("does not open") && text.contains(&format!("value=\"{mark}\"")), "{text}");
    assert!(!text.contains("a secret phrase") && !to.contains("secret"), "{text}");
    // Something came between: the words are others, and are asked for anew by whoever comes back.
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "in"), ("report", "1")]);
    let text = site.get(words.headers["location"].to_str().unwrap()).text;
    assert!(
        text.contains("has changed since it was shown") && !text.contains("name=\"passphrase\""),
        "{text}"
    );
    assert!(text.contains("the ferry sails early"), "{text}");
}

#[test]
fn a_slip_in_a_reading_is_told_beside_its_field_and_stays_there_while_the_board_is_renewed() {
    let (site, number) = Site::live();
    let slip = [("permit", number.as_str()), ("what", "reserve"), ("unit", "bar"), ("value", "2o7")];
    let came = site.sent("/reading", &slip);
    let to = came.headers["location"].to_str().unwrap();
    let number = to.strip_prefix("/board?told=").unwrap();
    let board = site.get(to).text;
    assert!(board.contains(&format!("data-board=\"/board/live?told={number}\"")), "{board}");
    assert!(!main_of(&board).contains("class=\"came"), "told twice: {board}");
    for text in [board, site.get(&format!("/board/live?told={number}")).text] {
        let field = between(&text, "data-part=\"reserve\"", "</form>");
        assert!(field.contains("class=\"why\"") && field.contains("wanted a number"), "{field}");
        assert!(field.contains("value=\"2o7\"") && field.contains("aria-invalid"), "{field}");
    }
}
