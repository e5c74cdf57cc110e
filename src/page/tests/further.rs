//! The clock, air tests, sets that come and go, another station's register, acts signed elsewhere: each form does what the
//! command of the terminal does, and says what it says.

use super::*;
use crate::actions::Desk;
use crate::actions::enrol::Enrolment;
use crate::disk::Folder;
use crate::paper::qr::Matrix;
use crate::trust::roster::RosterSign;
use crate::trust::{Roster, SecretKey};

/// The last line of the register.
fn last(site: &Site) -> serde_json::Value {
    let all = site.register();
    let line = all.trim_ascii_end().rsplit(|b| *b == b'\n').next().unwrap();
    serde_json::from_slice(line).unwrap()
}

#[test]
fn a_supervisor_says_that_the_clock_is_right_and_live_work_goes_on_by_it() {
    let site = Site::new();
    let before = site.lines();
    // Nothing is behind: refused in words, and no passphrase is asked for.
    let came = site.post("/clock", &[("stage", "look"), ("reason", "the kitchen clock")]);
    assert!(
        came.text.contains("the clock is not behind") && !came.text.contains("passphrase"),
        "{}",
        came.text
    );
    site.app.hands.clock.forward(-5400);
    for path in ["/", "/board"] {
        let came = site.get(path);
        assert!(
            came.text.contains("Nobody knows the time") && came.text.contains("href=\"/clock\""),
            "{path}"
        );
    }
    let came = site.post("/clock", &[("stage", "look"), ("reason", "an hour ahead; the harbour clock")]);
    assert!(
        came.text.contains("You sign these words") && came.text.contains("the harbour clock"),
        "{}",
        came.text
    );
    let shown = between(&came.text, "name=\"shown\" value=\"", "\"").to_owned();
    let sign = |reason: &str, by: &str, passphrase: &str| {
        let fields = [
            ("stage", "sign"),
            ("reason", reason),
            ("shown", &shown),
            ("by", by),
            ("passphrase", passphrase),
        ];
        site.post("/clock", &fields)
    };
    let came = sign("another reason", "eleni", "demo");
    assert!(came.text.contains("has changed since it was shown"), "{}", came.text);
    let came = sign("an hour ahead; the harbour clock", "eleni", "a wrong secret phrase");
    assert!(
        came.text.contains("does not open") && !came.text.contains("a wrong secret phrase"),
        "{}",
        came.text
    );
    let came = sign("an hour ahead; the harbour clock", "lukasz", "demo");
    assert!(came.text.contains("came no"), "an operator is no supervisor: {}", came.text);
    assert_eq!(site.lines(), before);
    // Seconds that a passphrase takes change nothing of what is signed.
    site.app.hands.clock.forward(75);
    let told = site.follow(&sign("an hour ahead; the harbour clock", "eleni", "demo"));
    assert!(told.text.contains("the clock is right; line"), "{}", told.text);
    assert_eq!((site.lines(), last(&site)["body"]["kind"].as_str()), (before + 1, Some("clock")));
    assert!(!site.get("/").text.contains("Nobody knows the time"));
}

#[test]
fn where_nothing_was_written_for_days_somebody_says_what_day_it_is() {
    let site = Site::new();
    site.app.hands.clock.forward(3 * 86_400);
    let before = site.lines();
    let job = Site::job(&[]);
    let mut fields: Vec<(&str, &str)> = job.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    fields.push(("what_now", "open"));
    assert_eq!(site.post("/open", &fields).status, StatusCode::OK);
    assert_eq!(site.lines(), before);
    assert!(site.get("/board").text.contains("What day is it?"));
    let today = between(&site.get("/clock").text, "is today ", "?").to_owned();
    for wrong in ["", "2026-11-24", "tomorrow", "2027-02-30"] {
        let came = site.post("/today", &[("today", wrong)]);
        assert!(came.status == StatusCode::OK && came.text.contains("came no"), "{wrong}: {}", came.text);
    }
    assert_eq!(site.post("/today", &[("today", &today)]).status, StatusCode::SEE_OTHER);
    assert!(!site.get("/board").text.contains("What day is it?"));
    assert_eq!(site.post("/open", &fields).status, StatusCode::SEE_OTHER);
    assert_eq!(site.lines(), before + 1);
    // What was said of one day says nothing of the days after.
    site.app.hands.clock.forward(2 * 86_400);
    assert!(site.get("/board").text.contains("What day is it?"));
}

const TEST: [(&str, &str); 15] = [
    ("place", "quay3"),
    ("sampler", "Łukasz"),
    ("sample_point", "mask_end"),
    ("instrument", "tubes, lot 7"),
    ("instrument_good", "2027-05-31"),
    ("o2", "20.9"),
    ("off.o2", "0.1"),
    ("co", "< 2"),
    ("co2", "430 ppm"),
    ("off.co2", "10 % of it"),
    ("oil", "< 0.1"),
    ("water", "37"),
    ("off.water", "5 mg/m3"),
    ("line_pressure", "5.8"),
    ("smell", "none"),
];

#[test]
fn a_test_of_the_air_is_kept_as_typed_with_the_units_beside_it() {
    let site = Site::new();
    let before = site.lines();
    // Nowhere on this site, no number, no such reading: told, and what was typed stands there again.
    for (name, wrong, why) in [
        ("place", "quay9", "quay9"),
        ("co", "little", "little"),
        ("off.co2", "far", "far"),
        ("instrument_good", "soon", "wanted a day like"),
    ] {
        let mut fields = TEST.to_vec();
        fields.retain(|(n, _)| *n != name);
        fields.push((name, wrong));
        let came = site.post("/set/heron/air-test", &fields);
        assert!(came.status == StatusCode::OK && came.text.contains(why), "{name}: {}", came.text);
        assert!(came.text.contains("value=\"tubes, lot 7\""), "{name}: what was typed is gone");
    }
    assert_eq!(site.lines(), before);
    let told = site.follow(&site.post("/set/heron/air-test", &TEST));
    let data = &last(&site)["body"]["data"];
    let of = |name: &str| data[name].as_str().unwrap_or_default();
    assert_eq!(
        (of("o2"), of("co"), of("co2"), of("water"), of("line_pressure"), of("sampler")),
        ("20.9 %", "2 ppm", "430 ppm", "37 mg/m3", "5.8 bar", "Łukasz")
    );
    assert_eq!(data["below"], serde_json::json!(["co", "oil"]));
    assert_eq!(data["within"], serde_json::json!({"co2": "43 ppm", "o2": "0.1 %", "water": "5 mg/m3"}));
    // Nobody said that it runs: what was tested is not its air.
    let void = "THIS TEST COUNTS FOR NOTHING: the set stood still when it was taken";
    assert!(told.text.contains(void) && told.text.contains("Heron air test"), "{}", told.text);
    assert!(told.text.contains("came doubt") && !told.text.contains("passes"), "{}", told.text);
    site.post("/set/heron", &[("what", "started"), ("report", "1")]);
    let told = site.follow(&site.post("/set/heron/air-test", &TEST));
    assert!(told.text.contains("passes") && !told.text.contains(void), "{}", told.text);
    assert!(site.get("/set/heron/air-test").text.contains("The test that counts now"));
    // Sent again from another tab it is another test; the same form is one.
    let mut once = TEST.to_vec();
    once.push(("once", "one"));
    let lines = site.lines();
    site.post("/set/heron/air-test", &once);
    site.post("/set/heron/air-test", &once);
    assert_eq!(site.lines(), lines + 1);
}

#[test]
fn a_test_that_does_not_pass_is_never_told_as_good() {
    let site = Site::new();
    for (gone, added, told) in [
        // The rule has a limit of it, the site has none of its own.
        ("water", vec![("dew_point", "5"), ("off.dew_point", "1")], "FAILS"),
        ("off.co2", vec![], "CANNOT BE TOLD"),
    ] {
        let mut fields = TEST.to_vec();
        fields.retain(|(n, _)| *n != gone && (gone != "water" || *n != "off.water"));
        fields.extend(added);
        let came = site.post("/set/heron/air-test", &fields);
        let came = if came.status == StatusCode::OK { came } else { site.follow(&came) };
        let shown = between(&came.text, "<main", "</main>");
        assert!(shown.contains(told) && !shown.contains("OUT OF LIMITS"), "{shown}");
        assert!(!shown.contains("came good") && !shown.contains('✓'), "{shown}");
    }
}

#[test]
fn a_test_outside_its_limits_is_told_in_large_and_never_as_good() {
    let site = Site::new();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let mut fields = TEST.to_vec();
    fields.retain(|(n, _)| *n != "co");
    fields.extend([("co", "40"), ("off.co", "1")]);
    let came = site.post("/set/heron/air-test", &fields);
    assert_eq!(came.status, StatusCode::OK);
    let shown = between(&came.text, "<main", "</main>");
    assert!(
        shown.contains("OUT OF LIMITS") && shown.contains("EVERYONE OUT") && shown.contains("Rasa"),
        "{shown}"
    );
    assert!(!shown.contains("came good") && !shown.contains('✓'), "{shown}");
    assert!(shown.find("EVERYONE OUT") < shown.find("Heron air test"), "the order is not first: {shown}");
    let kinds = String::from_utf8(site.register()).unwrap();
    assert!(kinds.contains("\"kind\":\"air_test\""));
}

#[test]
fn a_set_is_released_and_comes_back() {
    let site = Site::new();
    let number = site.open();
    let before = site.lines();
    let release = || site.post("/set/heron", &[("what", "released"), ("words", "to the dry dock")]);
    let came = release();
    assert!(came.text.contains(&number) && came.text.contains("came no"), "{}", came.text);
    let shown = site.post(&format!("/p/{number}/sign/cancel"), &[("stage", "look"), ("reason", "no ship")]);
    let shown = between(&shown.text, "name=\"shown\" value=\"", "\"").to_owned();
    let fields = [
        ("stage", "sign"),
        ("by", "eleni"),
        ("shown", &shown),
        ("reason", "no ship"),
        ("passphrase", "demo"),
    ];
    site.post(&format!("/p/{number}/sign/cancel"), &fields);
    assert_eq!(release().status, StatusCode::SEE_OTHER);
    assert_eq!(last(&site)["body"]["data"]["words"], "to the dry dock");
    let screen = site.get("/set/heron").text;
    assert!(screen.contains("value=\"taken\"") && !screen.contains("value=\"released\""), "{screen}");
    assert_eq!(site.post("/set/heron", &[("what", "taken")]).status, StatusCode::SEE_OTHER);
    assert!(site.get("/set/heron").text.contains("value=\"released\""));
    // Asked, refused, cancelled, released, taken.
    assert_eq!(site.lines(), before + 4);
}

#[test]
fn another_register_is_verified_before_anything_of_it_is_kept() {
    let site = Site::new();
    let before = site.lines();
    let read = |other: &str| site.post("/set/heron/witness", &[("other", other), ("air_test", "1")]);
    let own = site.path("register");
    let own = own.to_str().unwrap();
    let copied = site.path("copied");
    copy(std::path::Path::new(own), &copied);
    let mut bytes = std::fs::read(copied.join("0001.jsonl")).unwrap();
    bytes[500] ^= 1;
    std::fs::write(copied.join("0001.jsonl"), bytes).unwrap();
    for (other, why) in [
        ("", "nothing was typed"),
        ("/no/such/folder", "cannot read"),
        (own, "a copy of this register itself"),
        (copied.to_str().unwrap(), "not sound"),
    ] {
        let came = read(other);
        assert!(came.status == StatusCode::OK && came.text.contains(why), "{other}: {}", came.text);
    }
    let wrong = [("other", own), ("custodians", "SHA256:x"), ("threshold", "two")];
    assert!(site.post("/set/heron/witness", &wrong).text.contains("no whole number"));
    let kinds = String::from_utf8(site.register()).unwrap();
    assert!(!kinds.contains("\"kind\":\"witness\""));
    assert!(site.lines() >= before);
    // Another station of the same custodians, with the same set in force.
    let there = tempfile::tempdir().unwrap();
    let text = |path: &std::path::Path| std::fs::read_to_string(path).unwrap();
    let roster = Roster::read(&text(&site.path("roster.yaml"))).unwrap();
    let files = std::fs::read_dir(site.path(".")).unwrap().map(|e| e.unwrap().path());
    let mut signs: Vec<RosterSign> = files
        .filter(|p| p.extension().is_some_and(|e| e == "sig"))
        .map(|p| crate::actions::roster_sign(&roster, &text(&p)).unwrap())
        .collect();
    signs.sort_by_key(|s| s.key.to_ssh());
    let key = |id: &str| {
        SecretKey::from_encrypted_pem(&text(&site.path(&format!("keys/{id}.pem"))), b"demo").unwrap()
    };
    let mut folder = Folder::make(&there.path().join("register")).unwrap();
    let mut seal = Folder::make_private(&there.path().join("seal")).unwrap();
    let mut desk = Desk {
        register: &mut folder,
        seal: &mut seal,
        random: &mut SystemRandom,
        second: site.app.hands.clock.second(),
        today: None,
    };
    let e = Enrolment { station: "QX2", roster: &roster, signs: &signs, next_volume: false, lost: None };
    desk.enrol(&e, "5eaf00d05eaf00d05eaf00d05eaf00d0", "tuula", &key("tuula")).unwrap();
    let set = include_str!("../../../examples/set.yaml");
    desk.approve("jiri", &key("jiri"), "set", "heron", None, set).unwrap();
    let register = there.path().join("register").to_str().unwrap().to_owned();
    let told = site.follow(&site.post("/set/heron/witness", &[("other", &register)]));
    assert!(told.text.contains("IT HOLDS Heron TOO"), "{}", told.text);
    assert_eq!(last(&site)["body"]["kind"], "witness");
    // Nobody tested its air there.
    let came = read(&register);
    assert!(came.text.contains("no test of the air of Heron"), "{}", came.text);
}

/// A command of the terminal, at the time of the page.
fn at_terminal<'a>(site: &Site, args: impl Iterator<Item = &'a str>) {
    let second = site.app.hands.clock.second();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut outside = Outside {
        input: &mut &b"demo\n"[..],
        out: &mut out,
        err: &mut err,
        terminal: false,
        second: &|| second,
        random: &mut SystemRandom,
        state_folder: None,
        page: crate::page::serve,
        aside: crate::cli::Aside::default(),
        face: crate::cli::Face::default(),
    };
    let code = crate::cli::run(args, &mut outside);
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
}

/// Signs at a machine of their own, on the excerpt that the page gave out.
fn signed_elsewhere(site: &Site, number: &str, reason: &str) -> Vec<u8> {
    let came = site.get(&format!("/p/{number}/excerpt"));
    assert_eq!(came.status, StatusCode::OK);
    assert!(came.headers["content-disposition"].to_str().unwrap().starts_with("attachment; filename=\"KM3-"));
    let away = tempfile::tempdir().unwrap();
    let at = |name: &str| away.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(at("excerpt"), came.text).unwrap();
    let key = site.path("keys/eleni.pem");
    let trust = site.path("trust.yaml");
    let args = [
        "airwrit",
        "sign",
        &at("excerpt"),
        "--as",
        "eleni",
        "--key",
        key.to_str().unwrap(),
        "--to",
        &at("act"),
    ];
    let args = args.into_iter().chain(["--trust", trust.to_str().unwrap(), "cancel", "--reason", reason]);
    at_terminal(site, args);
    std::fs::read(at("act")).unwrap()
}

#[test]
fn out_goes_the_excerpt_and_back_comes_the_act_as_file_as_text_and_as_picture() {
    let site = Site::new();
    for way in ["file", "text", "picture"] {
        let number = site.open();
        let act = signed_elsewhere(&site, &number, "the ferry sails early");
        let before = site.lines();
        let text = String::from_utf8(act.clone()).unwrap();
        let fields = [("permit", number.as_str())];
        // Another word in it is found.
        let forged = text.replace("sails early", "sails late");
        let came = site.bring("/take-in", &fields, forged.as_bytes());
        assert!(came.status == StatusCode::OK && came.text.contains("came no"), "{way}: {}", came.text);
        assert_eq!(site.lines(), before);
        let came = match way {
            "file" => site.bring("/take-in", &fields, &act),
            "text" => site.bring("/take-in", &[fields[0], ("act", text.trim_end())], b""),
            _ => {
                let picture = crate::cli::picture::png(&Matrix::of_bytes(&act).unwrap()).unwrap();
                site.bring("/take-in", &fields, &picture)
            }
        };
        let told = site.follow(&came);
        assert!(told.text.contains("is cancelled; line"), "{way}: {}", told.text);
        assert_eq!(
            (site.lines(), last(&site)["body"]["kind"].as_str()),
            (before + 1, Some("cancel")),
            "{way}"
        );
        // The same again changes nothing.
        assert_eq!(site.bring("/take-in", &fields, &act).status, StatusCode::OK);
        assert_eq!(site.lines(), before + 1);
    }
}

#[test]
fn what_is_no_act_is_refused_in_words_and_nothing_is_kept() {
    let site = Site::new();
    let before = site.register();
    let script = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>";
    let bad: [&[u8]; 7] = [
        b"",
        b"x",
        b"\xff\xfe\0",
        script.as_bytes(),
        b"\x89PNG\r\n\x1a\n",
        b"\xff\xd8\xff\xe0",
        &[b'{'; 100_000],
    ];
    for file in bad {
        let came = site.bring("/take-in", &[("act", "")], file);
        assert!(came.status == StatusCode::OK && came.text.contains("<section class=\"came "), "{file:?}");
        assert!(!came.text.contains("<script>alert") && !came.text.contains("<img src=x"));
    }
    let came = site.bring("/take-in", &[("act", script), ("permit", script)], b"");
    assert!(
        came.text.contains("came ")
            && !came.text.contains("<script>alert")
            && !came.text.contains("<img src=x")
    );
    // Without our token, or not in the shape that brings files.
    let form = format!("act=x&t={}", site.app.guard.token());
    assert_eq!(site.post_body("/take-in", Body::from(form)).status, StatusCode::BAD_REQUEST);
    let request = Request::post("/take-in")
        .header("host", Site::host())
        .header("origin", format!("http://{}", Site::host()))
        .header("cookie", Site::cookie())
        .header("content-type", "multipart/form-data; boundary=x7");
    let body = "--x7\r\nContent-Disposition: form-data; name=\"act\"\r\n\r\nx\r\n--x7--\r\n";
    assert_eq!(site.send(request.body(Body::from(body)).unwrap()).status, StatusCode::FORBIDDEN);
    assert_eq!(site.register(), before);
}

fn verdict(site: &Site) -> String {
    assert_eq!(site.post("/audit", &[]).status, StatusCode::SEE_OTHER);
    loop {
        let came = site.get("/audit/live").text;
        if came.contains("class=\"verdict ") {
            return came;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
}

#[test]
fn the_verdict_is_of_the_bytes_on_disk() {
    let site = Site::new();
    site.open();
    let lines = site.lines();
    let came = verdict(&site);
    assert!(came.contains("SOUND") && came.contains(&format!("{lines} lines")), "{came}");
    // When it was, and when its last line was written, by the clock of the site.
    assert_eq!(came.matches("25 Nov 2026").count(), 2, "{came}");
    assert!(!came.contains("2026-11-25T"), "{came}");
    let mut bytes = site.register();
    let at = bytes.len() - 40;
    bytes[at] = if bytes[at] == b'A' { b'B' } else { b'A' };
    std::fs::write(site.path("register/0001.jsonl"), bytes).unwrap();
    let came = verdict(&site);
    assert!(came.contains("BROKEN"), "{came}");
    std::fs::remove_dir_all(site.path("register")).unwrap();
    let came = verdict(&site);
    assert!(came.contains("COULD NOT BE READ"), "{came}");
}

#[test]
fn where_nothing_can_be_kept_is_known_beforehand() {
    use crate::page::serving::can_be_kept;
    let site = Site::new();
    let place = |register: &str, seal: &str| crate::cli::Place {
        register: site.path(register),
        seal: Some(site.path(seal)),
        ..site.runtime.block_on(site.app.hands.ask(|hand| hand.place.clone())).unwrap()
    };
    let names = || std::fs::read_dir(site.path("seal")).unwrap().count();
    let before = names();
    can_be_kept(&place("register", "seal")).unwrap();
    assert_eq!(names(), before);
    assert!(can_be_kept(&place("register", "nowhere")).is_err());
    // A volume that nobody may write to.
    std::fs::create_dir_all(site.path("closed/0001.jsonl")).unwrap();
    assert!(can_be_kept(&place("closed", "seal")).is_err());
}
