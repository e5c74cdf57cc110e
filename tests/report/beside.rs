//! What lies beside a register and after its last line, and what two of them say of one set.

use super::{Copy, Day, Input, Move, Plan, anchors, day, input, of, outside, read, whole, words};
use airwrit::audit::anchors::Standing as Stands;
use airwrit::permit::decide::air::{Told, report};
use airwrit::permit::decide::witness;
use airwrit::record::aside::{Entry, Standing};
use airwrit::record::json::{Json, object};
use airwrit::report::{Report, page};

fn plain<'a>(r: &'a Report, about: &str) -> Option<&'a airwrit::report::Plain> {
    r.registers[0].plain.iter().find(|p| p.about == about)
}

fn off_air(person: &str, unread: bool) -> Standing {
    let data = object([("at", "2026-11-25T09:15:00Z".into()), ("person", person.into())]);
    let data = if unread { data.with("reason", "it cannot be read") } else { data };
    let entry = Entry {
        at: "2026-11-25T09:16:00Z".into(),
        by: None,
        data,
        id: format!("{:032x}", person.len() + usize::from(unread)),
        kind: if unread { "suspend" } else { "off_air" }.into(),
        permit: None,
    };
    Standing { folder: 0, file: Some("aside-000001-x.json".into()), entry, unread }
}

/// What lies beside it stands first, and nothing good is said of what it may change.
#[test]
fn reports_that_no_line_has_entered_are_told() {
    let r = read(&day().bytes());
    let none = of(&[input("register", &r)]);
    assert!(plain(&none, "entered").is_none());
    assert_eq!(plain(&none, "off").unwrap().answer, "yes");
    let aside = vec![off_air("zaneta", false), off_air("nikos", true)];
    let report = of(&[Input { aside, ..input("register", &r) }]);
    assert_eq!((report.overall.word, report.overall.code), ("known_against", 1));
    let first = words(&report).lines().next().unwrap().to_owned();
    assert!(first.contains("2 reports lie beside it that no line of it has entered"), "{first}");
    assert!(first.contains(", told for ") && first.contains("it cannot be read"), "{first}");
    for about in ["off", "out", "on_air_live", "ended"] {
        let p = plain(&report, about).unwrap();
        assert_ne!(p.answer, "yes", "{about}: {}", p.words);
    }
    assert_eq!(plain(&report, "gates").unwrap().answer, plain(&none, "gates").unwrap().answer);
    assert!(page(&report).unwrap().contains("2 reports lie beside it"));
}

/// In the middle of the work nothing is wrong; once its end is past, what came after it is asked.
#[test]
fn what_came_after_the_last_line_is_asked_once_it_is_over() {
    let d = outside();
    let n = d.number.clone();
    let r = read(&d.bytes());
    let of = |now: &str| of(&[Input { now: now.into(), ..input("register", &r) }]);
    let last = airwrit::time::seconds(&d.lines().last().unwrap().time);
    let to = r.replayed.state.permits[&n].valid_to.clone().unwrap();
    let at = of(&airwrit::time::utc(last + 3600));
    let ended = plain(&at, "ended").unwrap();
    assert_eq!((ended.answer, &ended.headline), ("not_known", &None), "{}", ended.words);
    let hour = of(&airwrit::time::utc(last + 3601));
    assert!(plain(&hour, "ended").unwrap().headline.is_some(), "an hour with somebody on air");
    let after = airwrit::time::utc(airwrit::time::seconds(&to) + 1);
    let past = of(&after);
    let ended = plain(&past, "ended").unwrap();
    let told = ended.headline.clone().unwrap();
    assert!(told.contains(&format!("{n} is live, to ")) && told.contains("what came after it?"), "{told}");
    assert!(told.contains("the set heron runs") && told.contains(" is on air"), "{told}");
    assert_eq!(past.overall.code, 1);
    // A last line that is of after the day of the audit.
    let before = of("2026-11-20T00:00:00Z");
    assert!(plain(&before, "ended").unwrap().words.contains("one of the two clocks is wrong"));
    assert_eq!(before.overall.code, 1);
    // All over: on any day.
    let r = read(&day().bytes());
    let empty = super::of(&[Input { empty: vec!["0002.jsonl".into()], ..input("register", &r) }]);
    let ended = plain(&empty, "ended").unwrap();
    assert!(ended.answer == "not_known" && ended.words.contains("0002.jsonl is empty"), "{}", ended.words);
    let years = super::of(&[Input { now: "2031-01-01T00:00:00Z".into(), ..input("register", &r) }]);
    assert_eq!(plain(&years, "ended").unwrap().answer, "yes");
}

/// A register that nobody vouches for says nothing good.
#[test]
fn what_is_not_proven_is_no_yes() {
    let verified = airwrit::audit::verify(&day().bytes(), None);
    let replayed = airwrit::replay::replay(&verified.lines);
    let r = super::Read { verified, replayed };
    let report = of(&[input("register", &r)]);
    let good: Vec<&str> =
        report.registers[0].plain.iter().filter(|p| p.answer == "yes").map(|p| p.about).collect();
    assert!(good.is_empty(), "{good:?}");
    assert!(
        plain(&report, "off").unwrap().words.starts_with("not everything is proven; if its lines are true")
    );
}

/// A set that one station released before the other took it is nothing against anybody; else it stands first of all.
#[test]
fn a_set_in_two_registers_is_told_unless_it_was_released() {
    let mut a = day();
    let mut later = Day::enrolled_as(
        Plan::small().start("2026-11-26T05:30:00Z"),
        "XY7",
        "ffeeddccbbaa99887766554433221100",
    );
    let job = later.plan.job.clone();
    later.open(&job);
    whole(&mut later);
    let of_two = |a: &Day, b: &Day| {
        let (ra, rb) = (read(&a.bytes()), read(&b.bytes()));
        of(&[input("a", &ra), input("b", &rb)])
    };
    let kept = of_two(&a, &later);
    assert_eq!(kept.shared.iter().map(|s| (s.what, s.against)).collect::<Vec<_>>(), [("set", true)]);
    assert_eq!((kept.overall.word, kept.overall.code), ("known_against", 1));
    assert!(kept.overall.words.starts_with("BOTH KW2 AND XY7 USE THE SET heron"), "{}", kept.overall.words);
    // Each item leads to its lines, of either register.
    let html = page(&kept).unwrap();
    for (n, (_, at)) in kept.shared[0].lines.iter().enumerate() {
        let link = format!("<a href=\"#r{n}L1-{}\">", at.seq);
        assert!(html.contains(&link) && html.contains(&format!("id=\"r{n}L1-{}\"", at.seq)), "{link}");
    }
    let released = a.ask(|k| witness::comes(k, "released", "heron", None, &Told::default(), "lukasz"));
    a.take(released).unwrap();
    let handed = of_two(&a, &later);
    assert_eq!(handed.shared.iter().map(|s| (s.what, s.against)).collect::<Vec<_>>(), [("handed_on", false)]);
    // Of two the worst is named, the first where they are alike.
    assert!(handed.overall.words.starts_with("KW2 (a): "), "{}", handed.overall.words);
}

/// What a register itself tells of another one that keeps its set is no sound end.
#[test]
fn a_witness_line_that_says_the_set_is_kept_twice_is_told_first() {
    let told = |held: bool| {
        let mut d = day();
        let m = object([
            ("head", "ab".repeat(32).as_str().into()),
            ("log", "ffeeddccbbaa99887766554433221100".into()),
            ("seq", Json::Int(12)),
            ("set", "heron".into()),
            ("station", "XY7".into()),
            ("time", airwrit::time::utc(d.second).as_str().into()),
        ]);
        let m = if held { m.with("held", Json::Bool(true)) } else { m };
        d.add(&airwrit::permit::decide::Known::line_apart("witness", "lukasz", m));
        (super::report(&d).overall, d.lines().len() - 1)
    };
    let (kept, line) = told(true);
    let words = format!("line {line}: the register of XY7 keeps the set heron too");
    assert!(kept.word == "known_against" && kept.code == 1 && kept.words.contains(&words), "{}", kept.words);
    assert_ne!(told(false).0.word, "known_against");
}

/// Also where neither has a permit: whoever breathes it by the one is on nobody's tally by the other.
#[test]
fn a_set_that_two_stations_use_without_a_permit_is_told() {
    let alone = |station: &str, log: &str| {
        let mut d = Day::enrolled_as(Plan::small(), station, log);
        let draft = d
            .ask(|k| report(k, None, "heron", "zaneta", Move::OnAir, Vec::new(), &Told::default(), "lukasz"));
        d.add(&draft);
        read(&d.bytes())
    };
    let (a, b) =
        (alone("XY7", "ffeeddccbbaa99887766554433221100"), alone("XY8", "00eeddccbbaa99887766554433221100"));
    let two = of(&[input("a", &a), input("b", &b)]);
    assert!(two.shared.iter().any(|s| s.what == "set" && s.against), "{:?}", two.shared);
}

/// Which of two copies is true no rule tells; for which of them something outside speaks is told.
#[test]
fn what_stands_outside_speaks_for_one_of_two_copies() {
    let older = Day::opened(Plan::small());
    let (mut a, mut fork) = (older.clone(), older.clone());
    whole(&mut a);
    fork.wait(40);
    whole(&mut fork);
    let head = |d: &Day| {
        let l = d.lines().last().unwrap();
        anchors::heads("heads", &format!("{} {} {}\n", l.log, l.seq, l.hash)).unwrap()
    };
    let of = |anchors: Vec<anchors::Anchor>| {
        let held = anchors::held(a.lines(), anchors);
        Copy::of("usb", a.lines(), fork.lines()).spoken_for(&held, fork.lines()).words
    };
    let both = head(&a).into_iter().chain(head(&fork)).collect();
    assert!(of(head(&a)).contains("speaks for this copy past the line where they part"));
    assert!(of(head(&fork)).contains("SPEAKS FOR THE OTHER COPY"));
    assert!(of(both).contains("speaks for both of them"));
    assert!(!of(Vec::new()).contains("outside speaks"));
    // Where they part the lines may differ in their time alone: what they say differently stands there too.
    let note = |d: &mut Day, words: &str| {
        let n = d.number.clone();
        d.on_permit(&n, "note", &[("words", words)]).seq
    };
    let (mut one, mut two) = (older.clone(), older.clone());
    two.wait(40);
    note(&mut one, "the hose is dry");
    note(&mut two, "the hose is dry");
    let (here, there) = (note(&mut one, "the mask fits"), note(&mut two, "the mask leaks"));
    let parted = Copy::of("usb", one.lines(), two.lines());
    let told = format!("say different things are line {here} here and line {there} in the other copy");
    assert!(parted.words.contains(&told) && parted.parted.len() == 4, "{}", parted.words);
    // A copy that is merely older is no other history.
    let r = read(&older.bytes());
    let anchored = anchors::held(older.lines(), head(&a));
    assert!(matches!(anchored.held[0].standing, Stands::Beyond));
    let report = super::of(&[Input { anchored, ..input("register", &r) }]);
    assert_eq!((report.overall.word, report.overall.code), ("longer_elsewhere", 4));
}
