//! The form of a permit: what may be taken from a permit before, and is marked; what is said of a form that lacks something.

use super::*;

/// What stands in a field of a screen: a typed value, or what is chosen.
fn stands(text: &str, name: &str) -> String {
    let select = format!("<select id=\"f-{name}\"");
    if let Some((_, rest)) = text.split_once(&select) {
        let select = rest.split_once("</select>").unwrap().0;
        let chosen = select.split("<option value=\"").find(|o| o.contains(" selected>"));
        return chosen.map_or_else(String::new, |o| o.split('"').next().unwrap().to_owned());
    }
    let input = between(text, &format!("<input id=\"f-{name}\""), ">");
    between(input, "value=\"", "\"").to_owned()
}

/// The field with all that is said at it.
fn field<'t>(text: &'t str, name: &str) -> &'t str {
    let at = text.find(&format!("for=\"f-{name}\"")).unwrap_or_else(|| panic!("no {name}"));
    text[at..].split_once("</div>").unwrap().0
}

fn main_of(came: &Came) -> &str {
    between(&came.text, "<main", "</main>")
}

const MAY: [&str; 6] = ["what", "place", "supply_point", "recall_signal", "rescue_number", "channel"];

#[test]
fn like_last_time_takes_what_stays_and_marks_it_and_nothing_of_a_day() {
    let site = Site::new();
    let fresh = site.get("/open");
    assert!(!main_of(&fresh).contains("Like last time"), "{}", fresh.text);
    let number = site.open();
    // What was typed the day before stands in no form by itself.
    let offered = site.get("/open");
    assert!(main_of(&offered).contains(&format!("/open?like={number}")), "{}", offered.text);
    let like = site.get(&format!("/open?like={number}"));
    let names: Vec<(String, String)> = Site::job(&[]);
    let mut taken = 0;
    for (name, value) in names.iter().filter(|(n, _)| !n.ends_with(".id")) {
        assert_eq!(stands(&offered.text, name), "", "{name} without being asked");
        let (there, said) = (stands(&like.text, name), field(&like.text, name));
        if MAY.contains(&name.as_str()) {
            taken += 1;
            assert_eq!(&there, value, "{name}");
            assert!(said.contains("carried: look at it"), "{name}: {said}");
        } else {
            assert_eq!(there, "", "{name} is of a day, measured, or somebody's");
            assert!(!said.contains("carried"), "{name}: {said}");
        }
    }
    assert_eq!(taken, MAY.len());
    assert!(!main_of(&like).contains("must be given</b>"), "nobody sent it yet: {}", like.text);
    // Sent, it is marked still where it is as it was, and opens nothing while the rest lacks.
    let fields =
        [("like", number.as_str()), ("place", "quay3"), ("what", "other work"), ("what_now", "open")];
    let before = site.lines();
    let came = site.post("/open", &fields);
    assert!(field(&came.text, "place").contains("carried: look at it"), "{}", came.text);
    assert!(!field(&came.text, "what").contains("carried"), "{}", came.text);
    assert_eq!(stands(&came.text, "recall_signal"), "", "what was emptied stays so");
    assert_eq!(site.lines(), before);
}

#[test]
fn nothing_is_taken_from_a_permit_of_another_checklist_or_set_nor_from_a_register_that_is_damaged() {
    let site = Site::new();
    let number = site.open();
    for address in [
        format!("/open?like={number}&shutdown=1"),
        format!("/open?like={number}&set=other"),
        "/open?like=KM3-010101-01".to_owned(),
    ] {
        let came = site.get(&address);
        let text = main_of(&came);
        assert!(text.contains("Nothing is carried from"), "{address}: {text}");
        assert_eq!(stands(&came.text, "recall_signal"), "", "{address}");
    }
    let log = site.path("register/0001.jsonl");
    let mut bytes = std::fs::read(&log).unwrap();
    bytes.extend(b"{\"torn");
    std::fs::write(&log, bytes).unwrap();
    let came = site.get(&format!("/open?like={number}"));
    assert!(!came.text.contains("carried: look at it"), "{}", came.text);
}

#[test]
fn what_lacks_is_said_in_the_words_of_the_form() {
    let site = Site::new();
    let came = site.get("/open");
    let text = main_of(&came);
    assert!(text.contains("still to be filled in: The work; Place; Supply point;"), "{text}");
    for words in ["in the file", "job file", "1 rescuers", "`rescue_minutes", "Rescue minutes"] {
        assert!(!text.contains(words), "{words}: {text}");
    }
    // What may stay empty is folded away and asks for nothing.
    let second = between(text, "<summary>Wearers 2", "</details>");
    assert!(second.contains("may stay empty") && !second.contains("class=\"must\""), "{second}");
    assert!(field(text, "wearers.0.person").contains("class=\"must\""));
    assert!(!field(text, "entry_permits.0.name").contains("class=\"must\""));
    let atmosphere = field(text, "atmosphere");
    assert!(
        atmosphere.contains(">could become dangerous<") && atmosphere.contains(">not dangerous<"),
        "{atmosphere}"
    );
    assert!(field(text, "rescue_minutes").contains("Rescue reaches a wearer in"), "{text}");
    // One is begun: it must be whole.
    let job = Site::job(&[("wearers.2.person", "rasa"), ("rescue_minutes", "")]);
    let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    fields.push(("what_now", "open"));
    let came = site.post("/open", &fields);
    let text = main_of(&came);
    assert!(field(text, "wearers.2.hose").contains("must be given</b>"), "{text}");
    assert!(field(text, "rescue_minutes").contains("must be given</b>"), "{text}");
    assert!(!text.contains("rescue_minutes`"), "{text}");
}

#[test]
fn what_opening_refuses_is_to_be_changed_in_the_form_and_not_in_a_file() {
    let site = Site::new();
    let job = Site::job(&[("rescuers.1.person", ""), ("rescuers.0.person", "oksana")]);
    let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    for now in ["plan", "open"] {
        fields.push(("what_now", now));
        let came = site.post("/open", &fields);
        let text = main_of(&came);
        assert!(!text.contains("job file") && !text.contains(" 1 rescuers"), "{now}: {text}");
        fields.pop();
    }
}

#[test]
fn how_long_something_takes_is_in_minutes_unless_its_unit_is_typed() {
    let site = Site::new();
    let job = Site::job(&[("walk", "5"), ("notice", "40 s")]);
    let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    assert!(field(&site.get("/open").text, "walk").contains("in minutes, or like 40 s"));
    fields.push(("what_now", "open"));
    let came = site.post("/open", &fields);
    assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
    let register = String::from_utf8(site.register()).unwrap();
    assert!(register.contains("\"walk\":\"5 min\"") && register.contains("\"notice\":\"40 s\""));
}

#[test]
fn what_was_opened_is_said_with_what_comes_next_and_a_slip_names_its_field_once() {
    let site = Site::new();
    let open = |otherwise: &[(&str, &str)]| {
        let job = Site::job(otherwise);
        let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        fields.push(("what_now", "open"));
        site.post("/open", &fields)
    };
    let slips = open(&[("until", "25:99"), ("wash_down", "2 mins")]);
    let said = between(&slips.text, "<section class=\"came", "</section>");
    assert!(said.contains("</a> “Until” is "), "{said}");
    assert!(said.contains("</a> “Wash down”: ") && !said.contains("wash_down`"), "{said}");
    assert!(!said.contains("Until: ") && !said.contains("until is"), "{said}");
    let opened = site.follow(&open(&[]));
    let said = between(&opened.text, "<section class=\"came", "</section>");
    assert!(said.contains("is opened. Next: the steps") && !said.contains("hint"), "{said}");
}

fn fields(job: &[(String, String)]) -> Vec<(&str, &str)> {
    job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect()
}

#[test]
fn a_form_that_was_refused_stands_there_again_from_wherever_it_is_come_back_to_until_it_is_opened() {
    let site = Site::new();
    let job = Site::job(&[("until", "99:99"), ("way_out_words", "x")]);
    let mut typed = fields(&job);
    typed.extend([("what_now", "open"), ("passphrase", "a secret phrase")]);
    let came = site.sent("/open", &typed);
    assert_eq!((came.status, came.headers["location"].to_str().unwrap()), (StatusCode::SEE_OTHER, "/open"));
    let place = Site::job(&[]).into_iter().find(|(n, _)| n == "place").unwrap().1;
    for from in ["/board", "/open"] {
        site.get(from);
        let shown = site.get("/open").text;
        assert_eq!((stands(&shown, "until").as_str(), stands(&shown, "place")), ("99:99", place.clone()));
        // What is wrong leads to its field.
        let said = between(&shown, "<section class=\"came no", "</section>");
        assert!(said.contains("href=\"#f-until\" autofocus"), "{said}");
        assert!(!shown.contains("a secret phrase"));
    }
    // Another form was asked for.
    assert_eq!(stands(&site.get("/open?follows=KM3-010101-01").text, "until"), "");
    // What is typed meanwhile stands there too, still as one that was sent.
    let mut on = fields(&job);
    on.retain(|(n, _)| *n != "until");
    on.extend([("until", "98:98"), ("once", "typing")]);
    site.post("/open/plan", &on);
    let shown = site.get("/open").text;
    assert!(
        stands(&shown, "until") == "98:98" && field(&shown, "until").contains("class=\"why\""),
        "{shown}"
    );
    // Begun afresh it is empty, and what was typed for another that its screen still sends is not kept.
    site.post("/open", &[("what_now", "afresh"), ("once", "typing")]);
    assert_eq!(stands(&site.get("/open").text, "until"), "");
    site.post("/open/plan", &on);
    assert_eq!(stands(&site.get("/open").text, "until"), "");
    // Opened, it is gone.
    site.post("/open", &typed);
    assert_eq!(stands(&site.get("/open").text, "until"), "99:99");
    site.open();
    assert_eq!(stands(&site.get("/open").text, "until"), "");
}

#[test]
fn the_job_of_a_permit_is_changed_where_a_step_holds_on_it() {
    let site = Site::new();
    let number = site.open();
    let (walk, to) = (format!("/p/{number}/walk"), format!("/p/{number}/job"));
    let no = [("kind", "yes_no"), ("step", "job_read"), ("position", "0"), ("value", "no")];
    let held = site.follow(&site.sent(&walk, &no));
    let hold = between(&held.text, "<section class=\"hold\"", "</section>").replace("&#x2f;", "/");
    assert!(hold.contains(&format!("href=\"{to}\"")), "{hold}");
    let shown = site.get(&to).text;
    let was: Vec<(String, String)> =
        Site::job(&[]).into_iter().filter(|(n, _)| !n.ends_with(".id")).collect();
    for (name, value) in &was {
        assert_eq!(stands(&shown, name), *value, "{name}");
    }
    let lines = site.lines();
    let job = Site::job(&[("until", "99:99")]);
    let again = site.post(&to, &fields(&job));
    assert!(stands(&again.text, "until") == "99:99" && site.lines() == lines, "{}", again.text);
    let job = Site::job(&[("what", "another work")]);
    let came = site.follow(&site.sent(&to, &fields(&job)));
    assert!(came.text.contains("is replaced") && site.lines() == lines + 1, "{}", came.text);
    assert_eq!(stands(&site.get(&to).text, "what"), "another work");
}

#[test]
fn as_many_wearers_are_asked_for_as_the_set_has_outlets() {
    let site = Site::new();
    let text = site.get("/open").text;
    let set = crate::site::read_set("set", include_bytes!("../../../examples/set.yaml")).file.unwrap();
    let outlets = set.values().items("outlets").len();
    let row = |n: usize| format!("name=\"wearers.{n}.person\"");
    assert!(text.contains(&row(outlets - 1)) && !text.contains(&row(outlets)), "{outlets}");
    // More than it has stand there as they were typed, to be mended.
    let last = format!("wearers.{outlets}.person");
    let typed = site.post("/open", &[("what_now", "plan"), ("set", "heron"), (&last, "rasa")]).text;
    assert!(typed.contains(&row(outlets)), "{typed}");
}

#[test]
fn a_job_that_is_changed_to_end_tomorrow_says_so_and_so_does_its_permit() {
    let site = Site::new();
    let number = site.open();
    let (to, page) = (format!("/p/{number}/job"), format!("/p/{number}"));
    let text = site.get(&page).text;
    assert!(
        text.contains("the work is to end ") && text.contains("issued now, it would be valid to "),
        "{text}"
    );
    assert!(!text.contains("NOT TODAY:"), "{text}");
    let ends = [("until", "00:05"), ("entry_permits.0.until", "00:10"), ("entry_permits.1.until", "00:10")];
    let job = Site::job(&ends);
    let came = site.post(&to, &[&fields(&job)[..], &[("what_now", "open")]].concat());
    let text = site.follow(&came).text;
    assert!(text.contains("NOTE: THAT IS TOMORROW.") && text.contains("the work is to end "), "{text}");
    assert!(site.get(&page).text.contains("NOT TODAY: the work is to end "), "{}", site.get(&page).text);
}

#[test]
fn the_job_stands_folded_on_every_step_with_each_wearer_by_outlet_hose_and_respirator() {
    let site = Site::new();
    let number = site.open();
    let text = site.get(&format!("/p/{number}/walk")).text;
    let job = between(&text, "<details class=\"the-job\">", "</details>");
    for words in ["<b>Żaneta Brzęczyk</b>", "Outlet: Red outlet", "Hose: Blue 1", "Respirator: ", "16:20"] {
        assert!(job.contains(words), "no {words} in {job}");
    }
}
