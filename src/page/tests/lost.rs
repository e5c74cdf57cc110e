//! Somebody is missing: who, where they were last, what is done now, on every screen; what is not offered while it is refused.

use super::*;
use crate::cli::Tells;
use crate::cli::args::{Command, Stops, ToldArgs};
use crate::time::{clock, utc};

const ALL: [&str; 6] = ["zaneta", "nikos", "pavlos", "ines", "oksana", "marit"];

fn told(site: &Site, number: &str, person: &str, to: &str) -> String {
    let fields = [("person", person), ("permit", number), ("to", to), ("report", "1")];
    site.follow(&site.post("/tally", &fields)).text
}

/// The roll is called, and some do not answer.
fn called(site: &Site, number: &str, missing: &[&str]) -> String {
    let answers: Vec<String> = ALL.iter().map(|p| format!("answer.{p}")).collect();
    let mut fields = vec![("permit", number)];
    for (person, answer) in ALL.iter().zip(&answers) {
        fields.push(("person", person));
        fields.push((answer, if missing.contains(person) { "no" } else { "yes" }));
    }
    site.post("/roll-call", &fields).text
}

/// Each of a wearer's own steps, answered as on the example's day.
fn own_checks(site: &Site, number: &str, person: &str) {
    let answers = include_str!("../../../examples/answers-pre-start.yaml");
    let own = answers.lines().skip_while(|l| !l.contains("step: own_check,"));
    for line in own.filter(|l| l.contains(&format!("item: {person},"))) {
        let step = between(line, "step: ", ",");
        let value = between(line, "value: \"", "\"");
        if value == "done" {
            site.app.hands.clock.forward(200);
        }
        let position = u64::MAX.to_string();
        let fields = [("kind", "choice"), ("step", step), ("item", person), ("value", value)];
        let came =
            site.post(&format!("/p/{number}/walk"), &[&fields[..], &[("position", &position)]].concat());
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{step}: {}", came.text);
    }
    for (what, value, unit) in [("co", "1", "ppm"), ("supply", "6.2", "bar"), ("reserve", "207", "bar")] {
        site.post("/reading", &[("permit", number), ("what", what), ("value", value), ("unit", unit)]);
    }
}

fn row(site: &Site, person: &str) -> String {
    let board = site.get("/board").text;
    let (before, _) = board.split_once(&format!("data-part=\"{person}\"")).unwrap();
    let at = before.rfind("<section").unwrap();
    board[at..].split_once("</section>").unwrap().0.to_owned()
}

#[test]
fn the_missing_are_told_by_name_with_where_they_were_last_and_what_is_done_now() {
    let (site, number) = Site::live();
    told(&site, &number, "zaneta", "in");
    told(&site, &number, "nikos", "in");
    told(&site, &number, "nikos", "off");
    let text = called(&site, &number, &["zaneta", "nikos", "pavlos"]);
    let shown = between(&text, "<main", "</main>");
    let mut rest = between(shown, "<section class=\"orders\">", "</section>");
    for (name, last) in [
        ("MISSING: Żaneta Brzęczyk", "last known: in, Red outlet, since "),
        ("MISSING: Νίκος Θαλασσινός", "last known: off air by the tally at "),
        ("MISSING: Παύλος Ανεμώνης", "last known: never on air by the tally"),
    ] {
        let (_, after) = rest.split_once(&format!("<p class=\"order\">{name}</p>")).unwrap();
        let line = between(after, "<p class=\"last\">", "</p>");
        assert!(line.trim().starts_with(last), "{name}: {line}");
        rest = after;
    }
    assert!(rest.contains("<p class=\"order\">ALL OTHERS OUT</p>"), "{rest}");
    for words in [
        "SIGNAL: ",
        "RESCUE: 555 0142",
        "Rescue first: call now",
        "Nobody goes in but the rescuers named",
        "Do not stop the set while anyone is on its air",
    ] {
        assert!(rest.contains(words), "{words}: {rest}");
    }
    assert!(shown.contains("roll called; MISSING: Żaneta Brzęczyk, Νίκος"), "{shown}");
    assert!(shown.contains("href=\"&#x2f;board\"") && shown.contains("href=\"/roll-call\""), "{shown}");
    // Nobody is called by an id where nobody says whether they answered.
    let came = site.post("/roll-call", &[("permit", &number), ("person", "nikos")]);
    assert!(came.text.contains("answered: Νίκος Θαλασσινός. Nothing is kept yet"), "{}", came.text);
}

#[test]
fn until_when_there_is_air_stands_beside_the_order() {
    let (site, number) = Site::live();
    site.post("/reading", &[("permit", &number), ("what", "reserve"), ("value", "207"), ("unit", "bar")]);
    told(&site, &number, "zaneta", "in");
    let alarm = site.post("/alarm", &[("what", "change_over"), ("permit", &number)]).text;
    // Whoever looks for somebody who breathes from it is told too.
    for text in [alarm, called(&site, &number, &["zaneta"])] {
        let orders = between(&text, "<section class=\"orders\">", "</section>");
        let (before, list) = orders.split_once("<ol>").unwrap();
        assert!(before.contains("<p class=\"gone\">AIR MAY BE GONE FROM "), "{orders}");
        assert!(!list.contains("AIR MAY BE GONE"), "{orders}");
        assert_eq!(between(&text, "<main", "</main>").matches("AIR MAY BE GONE FROM").count(), 1, "{text}");
        assert!(text.contains("id=\"go-on\""), "{text}");
    }
    // In whatever language: it is told what a line tells, and nobody reads it out of the words.
    for tongue in [crate::tongue::Tongue::Polish, crate::tongue::Tongue::Ukrainian] {
        let event = Command::Event {
            on: Stops { permit: Some(number.clone()), set: None },
            what: "change_over".into(),
            words: None,
            told: ToldArgs::default(),
        };
        let came = tongue
            .within_asked(|| {
                site.runtime
                    .block_on(site.app.hands.ask(|hand| hand.command(event, &zeroize::Zeroizing::default())))
            })
            .unwrap();
        let gone = came.that_tell(Tells::AirGone);
        assert!(
            gone.len() == 1 && came.out.contains(&gone[0]) && !gone[0].contains("AIR MAY BE GONE"),
            "{came:?}"
        );
    }
}

#[test]
fn whoever_is_missing_is_so_on_their_card_and_in_the_head_of_every_screen() {
    let (site, number) = Site::live();
    told(&site, &number, "zaneta", "in");
    called(&site, &number, &["zaneta", "pavlos"]);
    // Still on the tally: missing all the same, with the keys of where the tally has her.
    let hers = row(&site, "zaneta");
    assert!(
        hers.contains("class=\"who lost\"") && hers.contains("<b>MISSING; by the tally IN</b>"),
        "{hers}"
    );
    assert!(hers.contains("value=\"out\"") && hers.contains("href=\"/roll-call\""), "{hers}");
    // Planned as no wearer: a card of their own.
    let his = row(&site, "pavlos");
    assert!(his.contains("class=\"who lost\"") && his.contains("<b>MISSING</b>"), "{his}");
    for path in ["/", "/board", "/alarm", "/audit", "/roll-call"] {
        let text = site.get(path).text;
        let head = between(&text, "<header", "<main");
        assert!(head.contains("id=\"missing\">2 missing</span>"), "{path}: {head}");
        assert!(head.contains("<span id=\"overdue-what\">Look for them.</span>"), "{path}: {head}");
        let words = between(head, "<span id=\"overdue-words\">", "</span>");
        assert!(
            words.contains("Żaneta") && words.contains("Παύλος") && !words.contains("more on"),
            "{words}"
        );
    }
    // One is not seen outside beside it: named too, not counted away.
    told(&site, &number, "zaneta", "out");
    told(&site, &number, "zaneta", "off");
    let path = format!("/p/{number}/walk");
    let seen = [("kind", "yes_no"), ("step", "wearer_seen"), ("item", "nikos"), ("value", "no")];
    site.post(&path, &[&seen[..], &[("shutdown", "1")]].concat());
    let text = site.get("/").text;
    let words = between(&text, "<span id=\"overdue-words\">", "</span>");
    for name in ["Νίκος", "Żaneta", "Παύλος"] {
        assert!(words.contains(name), "{name}: {words}");
    }
    // Nobody is on air by the tally: the head says that somebody is missing all the same.
    assert!(text.contains("id=\"count\" hidden>") && text.contains("id=\"missing\">3 missing"), "{text}");
    let mut hand = site.runtime.block_on(site.app.hands.ask({
        let app = site.app.clone();
        move |hand| crate::page::screens::board::beat(&app, hand)
    }));
    let beat = hand.take().unwrap();
    assert!(beat.contains("\"missing\":3") && beat.contains("\"lost\":2"), "{beat}");
}

#[test]
fn while_somebody_is_missing_the_orders_stand_and_no_set_is_stopped() {
    let (site, number) = Site::live();
    site.post("/alarm", &[("what", "co"), ("permit", &number)]);
    let order = "CO at ";
    let urgent = |site: &Site| {
        let board = site.get("/board").text;
        board
            .contains("class=\"urgent\"")
            .then(|| between(&board, "class=\"urgent\"", "</section>").to_owned())
    };
    // Nobody is on its air: no order is given to anybody.
    assert!(urgent(&site).is_none());
    // One order about the set, whatever screen gives it; it names the exception that holds now.
    let set = "Do not stop the set while anyone is on its air or looked for; at once only on smoke or fire at it, or, for the \
               carbon monoxide, when the reserve feeds";
    let missing = called(&site, &number, &["nikos"]);
    assert!(missing.contains(&format!("THE SET: {set}")), "{missing}");
    let text = urgent(&site).unwrap();
    assert!(text.contains(order) && text.contains(": CHANGE TO RESERVE, OUT"), "{text}");
    // One order to all of them.
    assert!(text.contains(&format!("ALL OTHERS: CHANGE TO RESERVE, OUT. {set}")), "{text}");
    let board = site.get("/board").text;
    let (urgent_at, tally) =
        (board.find("class=\"urgent\"").unwrap(), board.find("data-part=\"tally\"").unwrap());
    assert!(urgent_at < tally, "{board}");
    assert_eq!(board.matches("</span> CO at ").count(), 1, "told once: {board}");
    for what in ["temperature", "co", "supply_low"] {
        let text = site.post("/alarm", &[("what", what), ("permit", &number)]).text;
        assert!(text.contains(&format!("THE SET: {set}")), "{what}: {text}");
    }
    let text = site.post("/alarm", &[("what", "fire"), ("permit", &number)]).text;
    assert!(text.contains("Elsewhere: when the last is off air and nobody is looked for"), "{text}");
}

#[test]
fn a_call_over_a_draft_is_ended_by_a_roll_call_at_the_page() {
    let (site, number) = Site::declared();
    assert!(!site.get("/roll-call").text.contains("name=\"answer.nikos\""));
    site.post("/call-out", &[("quick", "1")]);
    assert!(site.get("/board").text.contains("call the roll first"));
    assert!(site.get("/roll-call").text.contains("name=\"answer.nikos\""));
    called(&site, &number, &[]);
    assert!(!site.get("/board").text.contains("call the roll first"));
}

/// Every screen but the board, whose rows tell it, orders them out by name; what was kept against the rules is told in no green
/// and in few lines; the same figure after an event is another reading.
#[test]
fn on_a_suspended_permit_every_screen_orders_them_out_by_name() {
    let (site, number) = Site::live();
    let reading = [("permit", number.as_str()), ("what", "supply"), ("value", "6"), ("unit", "bar")];
    let before = site.lines();
    site.post("/reading", &reading);
    site.post("/reading", &reading);
    assert_eq!(site.lines(), before + 1);
    site.post("/alarm", &[("what", "supply_low"), ("permit", &number)]);
    let before = site.lines();
    site.post("/reading", &reading);
    assert!(site.lines() > before, "read anew");
    let in_ = [("permit", number.as_str()), ("person", "nikos"), ("to", "in"), ("report", "1")];
    let came = site.follow(&site.post("/tally", &in_)).text;
    let came = between(&came, "<section class=\"came ", "</section>");
    assert!(came.starts_with("doubt") && came.matches("BREACH").count() == 2, "{came}");
    site.post("/alarm", &[("what", "co"), ("permit", &number)]);
    for path in ["/", "/alarm", "/roll-call", &format!("/p/{number}")] {
        let text = site.get(path).text;
        let bar = between(&text, "id=\"overdue\"", "</div>");
        assert!(!bar.starts_with(" hidden") && bar.contains("Out now."), "{path}: {bar}");
        assert!(bar.contains(": Νίκος Θαλασσινός") && bar.contains("is suspended"), "{path}: {bar}");
    }
    let board = site.get("/board").text;
    let bar = between(&board, "id=\"overdue\"", "</div>");
    assert!(!bar.contains("is suspended") && !board.contains("class=\"gauge"), "{board}");
}

#[test]
fn whom_nothing_lets_be_on_air_comes_out_first_on_the_board_and_in_the_head_of_every_screen() {
    let (site, number) = Site::declared();
    told(&site, &number, "nikos", "in");
    let board = site.get("/board").text;
    let urgent = between(&board, "class=\"urgent\"", "</section>");
    assert!(urgent.contains("</span> OUT NOW: Νίκος") && urgent.contains("No permit lets them"), "{urgent}");
    for path in ["/board", "/alarm", "/"] {
        let text = site.get(path).text;
        let head = between(&text, "id=\"overdue\"", "</div>");
        assert!(
            head.starts_with(" class=\"bar warn lost\"") && head.contains(">Out now.<"),
            "{path}: {head}"
        );
        assert!(between(head, "id=\"overdue-words\">", "</span>").starts_with("OUT NOW: Νίκος"), "{head}");
    }
    // On no permit, of a set that has none: above all rows.
    let site = Site::new();
    site.post("/tally", &[("person", "nikos"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let board = site.get("/board").text;
    let out = between(&board, "data-part=\"out\"", "</section>");
    assert!(
        out.contains("NOBODY KNOWS WHAT THE RESERVE HOLDS") && out.contains("THE SET STANDS STILL"),
        "{board}"
    );
}

#[test]
fn what_is_always_refused_is_not_offered() {
    let (site, number) = Site::live();
    let on = |site: &Site| row(site, "nikos").contains("value=\"on\"");
    // Their own checks come first: what is missing is said where the key would be.
    let his = row(&site, "nikos");
    assert!(!on(&site) && his.contains("own checks are open:"), "{his}");
    assert!(
        his.contains(&format!("href=\"/p/{number}/walk\""))
            || his.contains(&format!("href=\"&#x2f;p&#x2f;{number}&#x2f;walk\"")),
        "{his}"
    );
    own_checks(&site, &number, "nikos");
    assert!(on(&site), "{}", row(&site, "nikos"));
    // So it is with what else is always refused.
    site.post("/reading", &[("permit", &number), ("what", "co"), ("value", "40"), ("unit", "ppm")]);
    let his = row(&site, "nikos");
    assert!(!on(&site) && !his.contains("own checks"), "{his}");
    let (site, number) = Site::live();
    told(&site, &number, "zaneta", "on");
    assert!(row(&site, "zaneta").contains("value=\"in\""));
    site.post("/suspend", &[("permit", &number), ("reason", "a doubt")]);
    assert!(!on(&site));
    let hers = row(&site, "zaneta");
    assert!(!hers.contains("value=\"in\"") && hers.contains("value=\"off\""), "{hers}");
    // What has happened all the same is told below.
    let board = site.get("/board").text;
    assert!(board.contains("Somebody went on air all the same, or is not planned: report it"), "{board}");
    called(&site, &number, &["nikos"]);
    assert!(!on(&site));
    let (site, _) = Site::declared();
    assert!(!on(&site));
    assert!(!site.get("/board").text.contains("Valid to not valid"));
}

#[test]
fn who_cancels_sees_how_it_stands() {
    let (site, number) = Site::live();
    told(&site, &number, "zaneta", "in");
    called(&site, &number, &["nikos"]);
    let text = site.get(&format!("/p/{number}/sign/cancel")).text;
    let shown = between(&text, "<main", "</main>");
    let on = between(shown, "<h2>Who is on its air</h2>", "</section>");
    assert!(
        on.contains("MISSING at the roll call of ") && on.contains("Żaneta Brzęczyk: in, Red outlet, since "),
        "{on}"
    );
    assert!(between(shown, "<h2>The set</h2>", "</section>").contains("RUNS since"), "{shown}");
    assert!(shown.contains("<h2>What is open</h2>"), "{shown}");
}

#[test]
fn people_and_outlets_are_told_by_their_names() {
    let (site, number) = Site::live();
    let text = told(&site, &number, "zaneta", "on");
    assert!(text.contains("Żaneta Brzęczyk on air; line "), "{text}");
    let hers = row(&site, "zaneta");
    assert!(hers.contains("Red outlet") && !hers.contains("outlet red"), "{hers}");
    assert!(told(&site, &number, "zaneta", "off").contains("Żaneta Brzęczyk off air; line "));
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let board = site.get("/board").text;
    assert!(board.contains("ON AIR ON NO PERMIT: Rasa Vėtrungė, in"), "{board}");
    assert!(
        board.contains("Heron feeds somebody who is on no permit: nothing here asks for its readings"),
        "{board}"
    );
}

/// What a wearer's life hangs on, answered no while they are in: they are ordered out on every screen, the next one first.
#[test]
fn a_seal_that_does_not_hold_orders_its_wearer_out_on_every_screen() {
    let (site, number) = Site::live();
    own_checks(&site, &number, "zaneta");
    told(&site, &number, "zaneta", "in");
    let path = format!("/p/{number}/walk");
    let no = [
        ("kind", "confirm"),
        ("step", "seal_check"),
        ("item", "zaneta"),
        ("value", "no"),
        ("again", "other"),
    ];
    let came = site.post(&path, &[&no[..], &[("position", "18446744073709551615")]].concat());
    assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
    for at in [path.as_str(), "/", "/board", "/alarm"] {
        let head = site.get(at).text;
        let words = between(&head, "id=\"overdue-words\">", "</span>");
        assert!(words.contains("Żaneta Brzęczyk (in) COMES OUT NOW: the seal check"), "{at}: {words}");
    }
}

/// Everybody's time is told where it was another one, and by whom; an alarm waits for no time that means nothing.
#[test]
fn what_was_earlier_is_told_with_its_time_and_by_whom() {
    let (site, number) = Site::live();
    own_checks(&site, &number, "zaneta");
    let late = [
        ("person", "zaneta"),
        ("to", "in"),
        ("report", "1"),
        ("permit", &number),
        ("told_by", "Marit at the gate"),
    ];
    let now = site.app.hands.clock.second();
    let at = clock(&utc(now - 120), "+01:00");
    site.post("/tally", &[&late[..], &[("at", at.as_str())]].concat());
    let last = |kind: &str| -> String {
        let lines = std::fs::read_to_string(site.path("register/0001.jsonl")).unwrap();
        lines.lines().rev().find(|l| l.contains(&format!("\"kind\":\"{kind}\""))).unwrap().to_owned()
    };
    let line = last("in");
    assert!(
        line.contains("Marit at the gate") && line.contains(&format!("\"at\":\"{}", &utc(now - 120)[..16])),
        "{line}"
    );
    let alarm = [("what", "co"), ("permit", number.as_str()), ("at", "just now"), ("told_by", "Marit")];
    let text = site.post("/alarm", &alarm).text;
    assert!(text.contains("CHANGE TO RESERVE, OUT"), "{text}");
    let line = last("event");
    assert!(line.contains("Marit, at just now site time") && !line.contains("\"at\":"), "{line}");
}

#[test]
fn a_gauge_tells_what_it_read_last_beside_where_it_is_read() {
    let (site, number) = Site::live();
    for (what, value, unit) in [("co", "1", "ppm"), ("supply", "6", "bar")] {
        site.post("/reading", &[("permit", &number), ("what", what), ("value", value), ("unit", unit)]);
        let board = site.get("/board").text;
        let due = between(&board, "data-part=\"due\"", "</div>");
        let form = between(due, &format!("data-part=\"{what}\""), "</form>");
        assert!(form.contains(&format!("<small>last {value} {unit} at ")), "{what}: {form}");
    }
}

#[test]
fn what_is_left_on_a_declared_permit_is_each_wearers_own() {
    let (site, number) = Site::declared();
    let text = site.get(&format!("/p/{number}/walk")).text;
    let left = between(&text, "<span class=\"left\">", "</span>").replace("&#x27;", "'");
    assert!(left.starts_with("wearers' own steps: ") && !left.contains("219"), "{left}");
    // Of those before declaring none is.
    let text = site.get(&format!("/p/{number}/walk?step=tally_card")).text;
    let left = between(&text, "<span class=\"left\">", "</span>");
    assert!(left.starts_with("0 of ") || left.starts_with("wearers"), "{left}");
}

#[test]
fn before_the_first_step_all_that_is_sure_is_left_and_what_may_come_is_told_apart() {
    let site = Site::new();
    let number = site.open();
    let text = site.get(&format!("/p/{number}/walk")).text;
    let left = between(&text, "<span class=\"left\">", "</span>");
    let (n, rest) = left.split_once(" of ").unwrap();
    assert!(rest.starts_with(&format!("{n} left <small>")) && rest.contains(" more may come"), "{left}");
    assert!(text.contains(&format!("max=\"{n}\" value=\"0\"")), "{text}");
}

#[test]
fn outlets_are_told_by_their_names_where_everyone_is_called_out_and_where_it_is_countersigned() {
    let (site, number) = Site::live();
    told(&site, &number, "zaneta", "in");
    let text = site.get("/call-out").text;
    assert!(text.contains("in, Red outlet") && !text.contains("outlet red"), "{text}");
    let (site, number) = Site::declared();
    let text = site.get(&format!("/p/{number}/sign/countersign")).text;
    assert!(
        text.contains("Żaneta Brzęczyk: at Red outlet, ") && !text.contains("outlet Red outlet"),
        "{text}"
    );
    assert!(!between(&text, "<main", "</main>").contains("air_o2"), "{text}");
}

#[test]
fn a_deviation_that_is_to_be_accepted_is_called_by_its_step() {
    let (site, number) = Site::declared();
    let walk = format!("/p/{number}/walk");
    let position = u64::MAX.to_string();
    let of = |more: &[(&str, &str)]| {
        let step = [("step", "laptop_power"), ("position", position.as_str())];
        let came = site.post(&walk, &[&step[..], more].concat());
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
    };
    of(&[("kind", "number"), ("value", "1"), ("again", "read_wrong")]);
    of(&[("kind", "deviate"), ("deviation", "the spare one is empty"), ("instead", "a watch and paper")]);
    let text = site.get(&format!("/p/{number}/sign/countersign")).text;
    let accepted = between(&text, "name=\"accept\"", "</label>");
    let called =
        "the deviation at hours of power for the laptop: the spare one is empty; instead: a watch and paper";
    assert!(accepted.contains("value=\"laptop_power\"") && accepted.contains(called), "{accepted}");
    let cookie = format!("{}; airwrit-{PORT}-language=pl", Site::cookie());
    let text = site.get_with(&format!("/p/{number}/sign/countersign"), &cookie).text;
    assert!(text.contains("the spare one is empty; zamiast tego: a watch and paper"), "{text}");
}

#[test]
fn the_auditors_view_counts_as_people_do_and_says_by_which_clock() {
    let site = Site::new();
    let n = site.lines();
    let text = site.get("/audit").text;
    assert!(text.contains(&format!("{n} lines are shown, numbers 0 to {}.", n - 1)), "{text}");
    assert!(text.contains("The register counts its lines from 0."), "{text}");
    assert!(text.contains("(+00:00), all others by the site&#x27;s clock."), "{text}");
    let text = site.get(&format!("/audit?from={}", n - 1)).text;
    assert!(text.contains(&format!("1 line is shown, number {}.", n - 1)), "{text}");
    assert!(!text.contains("(+00:00), all others"), "{text}");
}

#[test]
fn a_reason_that_was_kept_in_other_words_is_marked_as_kept() {
    let (site, number) = Site::live();
    site.post("/tally", &[("person", "zaneta"), ("permit", &number), ("to", "on")]);
    told(&site, &number, "zaneta", "on");
    let cookie = format!("{}; airwrit-{PORT}-language=pl", Site::cookie());
    let text = site.get_with(&format!("/p/{number}/record"), &cookie).text;
    let day = between(&text, "id=\"h-day\"", "</section>");
    let of =
        |what: &str| day.split("<li>").find(|l| l.contains(what)).unwrap_or_else(|| panic!("{what}: {day}"));
    assert!(of("(dlaczego: ").contains("słowami zapisanymi wtedy)"), "{day}");
    assert!(of("NARUSZENIE").contains("<small>(słowami zapisanymi wtedy)</small>"), "{day}");
    assert_eq!(day.matches("(dlaczego: ").count(), 1, "{day}");
}

#[test]
fn the_page_calls_no_command_of_the_terminal_where_it_has_a_key() {
    let (site, number) = Site::live();
    let text = site.post("/set/heron", &[("what", "stopped"), ("report", "1")]).text;
    assert!(
        text.contains("no shutdown has been begun: Shut the set down, on the permit&#x27;s screen"),
        "{text}"
    );
    assert!(!text.contains("airwrit walk"), "{text}");
    let fields = [("permit", number.as_str()), ("role", "attendant"), ("to", "zaneta")];
    let came = site.post("/relieve", &fields);
    assert!(came.text.contains("report it: the tick beside who stands in, on the board"), "{}", came.text);
    assert!(came.text.contains("name=\"report\" value=\"1\"> It has happened all the same: report it"));
    let before = site.lines();
    site.post("/relieve", &[&fields[..], &[("report", "1")]].concat());
    assert_eq!(site.lines(), before + 1);
}
