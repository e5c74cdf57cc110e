//! Gauges that are due, a reserve that falls, the way out of a drill, two gauges read again before issuing, copies that
//! tell the truth no more, sets that go and come.

use crate::support::day::{Day, Plan, SMALL, trust, typed};
use airwrit::actions::Trouble;
use airwrit::audit::Verdict;
use airwrit::permit::copies;
use airwrit::permit::decide::air::{Move, Told};
use airwrit::permit::decide::sign::{self, Limits, Seen, Signing};
use airwrit::permit::decide::witness::{self, Other};
use airwrit::permit::due;
use airwrit::tongue::Tongue;
use airwrit::view::StateWord;

fn live(plan: Plan) -> (Day, String) {
    let mut day = Day::opened(plan.set("rated_flow: 874 L/min", "rated_flow: 2000 L/min"));
    let n = day.number.clone();
    day.live(&n);
    for who in ["zaneta", "nikos"] {
        day.own(&n, who);
    }
    (day, n)
}

fn at(day: &mut Day, from: i64, seconds: i64) {
    day.second = from + seconds;
}

fn warnings(day: &Day, n: &str) -> Vec<String> {
    day.ask(|k| airwrit::show::permit(k, day.lines(), n, None, None).unwrap()).warnings
}

/// Every 15 minutes, as the example set says nothing else; 5 minutes later nobody goes on air.
#[test]
fn what_is_overdue_warns_and_then_holds() {
    let (mut day, n) = live(Plan::small());
    let issued =
        airwrit::time::seconds(&day.state.permits[&n].last_signed("countersign").unwrap().stamp.time);
    let told = |day: &Day, words: &str| warnings(day, &n).iter().filter(|w| w.contains(words)).count();
    at(&mut day, issued, 899);
    assert_eq!(told(&day, "was due"), 0);
    at(&mut day, issued, 900);
    assert_eq!(told(&day, "read it now"), 3);
    at(&mut day, issued, 1199);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    at(&mut day, issued, 1200);
    let why = day.forbidden(&n, "zaneta", Move::OnAir);
    assert_eq!(why.iter().filter(|w| w.contains("OVERDUE, nobody goes on air")).count(), 3, "{why:?}");
    // One of them read is one of them read.
    day.on_permit(&n, "reading", &[("what", "supply"), ("value", "6"), ("unit", "bar")]);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir).len(), 2);
    // Told late it counts for nothing; told in time it counts from when it was read.
    let entered = day.second;
    let told_for = |day: &mut Day, back: i64| {
        let at = airwrit::time::utc(day.second - back);
        for (what, value, unit) in [("co", "1", "ppm"), ("reserve", "260", "bar")] {
            let members = [("what", what), ("value", value), ("unit", unit), ("at", at.as_str())];
            day.on_permit(&n, "reading", &members);
        }
    };
    told_for(&mut day, 301);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir).len(), 2);
    told_for(&mut day, 300);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    at(&mut day, entered - 300, 1200);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir).len(), 2);
    // Nobody is kept from coming out.
    day.report(Some(&n), "zaneta", Move::OffAir);
}

/// A set that says how often, and one without a reserve.
#[test]
fn the_interval_is_the_sets() {
    let (mut day, n) =
        live(Plan::small().set("drop_per_hour: 3 bar", "drop_per_hour: 3 bar\nread_every: 30 min"));
    let issued =
        airwrit::time::seconds(&day.state.permits[&n].last_signed("countersign").unwrap().stamp.time);
    at(&mut day, issued, 2099);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    at(&mut day, issued, 2100);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir).len(), 3);
}

/// Filled from its own air after an alarm against it, or from nobody knows where, the reserve is what people would be
/// sent onto: nobody goes on air until it is filled again.
#[test]
fn a_reserve_filled_with_foul_air_holds() {
    let of_fill = |day: &Day, n: &str| {
        let why = day.forbidden(n, "zaneta", Move::OnAir);
        why.into_iter().filter(|w| w.starts_with("the reserve was filled")).collect::<Vec<_>>()
    };
    for (event, foul) in [("co", true), ("fire", true), ("hazard_released", true), ("wind_turned", false)] {
        let (mut day, n) = live(Plan::small());
        day.of_set("filled", &[("from", "this_set")]);
        assert_eq!(of_fill(&day, &n), Vec::<String>::new(), "nothing spoke against its air");
        day.of_set("event", &[("what", event)]);
        assert_eq!(of_fill(&day, &n), Vec::<String>::new(), "what was filled before it is another matter");
        day.of_set("filled", &[("from", "this_set")]);
        let why = of_fill(&day, &n);
        assert_eq!(!why.is_empty(), foul, "{event}: {why:?}");
        assert!(!foul || why[0].contains(&format!("after the event `{event}` of")), "{why:?}");
        // A test of the air that passed before the fill; filled from elsewhere.
        day.of_set("air_test", TESTED);
        assert_eq!(of_fill(&day, &n), why, "what is in the cylinders was not tested");
        let mut again = day.clone();
        again.of_set("filled", &[("from", "this_set")]);
        assert_eq!(of_fill(&again, &n), Vec::<String>::new());
        day.of_set("filled", &[("from", "certificate")]);
        assert_eq!(of_fill(&day, &n), Vec::<String>::new());
        day.of_set("filled", &[("from", "not_known")]);
        assert!(of_fill(&day, &n)[0].contains("nobody knows from where"));
    }
}

/// Over the longest spell nobody goes in again; out and off they come.
#[test]
fn over_the_longest_spell_nobody_goes_in_again() {
    let (mut day, n) = live(Plan::small());
    let on = day.second;
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.request(&n, "zaneta", Move::In).unwrap();
    day.report(Some(&n), "zaneta", Move::Out);
    // Fifty minutes by the job.
    for (minute, held) in [(49, false), (52, true)] {
        at(&mut day, on, minute * 60);
        day.read_gauges(&n);
        let why = day.forbidden(&n, "zaneta", Move::In);
        assert_eq!(why.iter().any(|w| w.contains("longer than the longest spell")), held, "{why:?}");
    }
    day.report(Some(&n), "zaneta", Move::OffAir);
    // A mask off for a moment does not begin a new spell; ten minutes do, by the site.
    for (seconds, held) in [(1, true), (590, true), (601, false)] {
        at(&mut day, on, 52 * 60 + seconds);
        day.read_gauges(&n);
        let why = day.forbidden(&n, "zaneta", Move::OnAir);
        assert_eq!(why.iter().any(|w| w.contains("off it for less than 10 min")), held, "{seconds} {why:?}");
    }
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.request(&n, "zaneta", Move::In).unwrap();
}

/// Two short spells with a short pause are one.
#[test]
fn spells_with_a_short_pause_are_one() {
    let (mut day, n) = live(Plan::small());
    let on = day.second;
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    at(&mut day, on, 30 * 60);
    day.report(Some(&n), "zaneta", Move::OffAir);
    at(&mut day, on, 35 * 60);
    day.read_gauges(&n);
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    at(&mut day, on, 51 * 60);
    day.read_gauges(&n);
    let why = day.forbidden(&n, "zaneta", Move::In);
    assert!(why.iter().any(|w| w.contains("on air since 51 min, longer than the longest spell")), "{why:?}");
}

/// Below what the set wants in its reserve, or falling, nobody goes on; those who are on stay until leave-by.
#[test]
fn a_low_or_falling_reserve_holds_whoever_would_go_on() {
    let (mut day, n) = live(Plan::small());
    let read = |day: &mut Day, bar: &str| {
        for item in ["a", "b", "c"] {
            day.on_permit(
                &n,
                "reading",
                &[("what", "reserve"), ("value", bar), ("unit", "bar"), ("item", item)],
            );
        }
    };
    let held = |day: &Day, words: &str| {
        day.forbidden(&n, "zaneta", Move::OnAir).iter().filter(|w| w.contains(words)).count()
    };
    day.wait(10);
    read(&mut day, "260");
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    let mut low = day.clone();
    low.wait(10);
    read(&mut low, "190");
    assert_eq!(held(&low, "before anybody goes on"), 3);
    assert!(!day.forbidden(&n, "zaneta", Move::OnAir).iter().any(|w| w.contains("FALLING")));
    day.wait(600);
    day.read_gauges(&n);
    read(&mut day, "250");
    assert_eq!(held(&day, "RESERVE FALLING"), 3);
}

/// A test of the air on the day on which the set stood still tests nothing.
#[test]
fn a_test_of_a_set_that_stands_still_does_not_count() {
    use airwrit::permit::bench::air_test::broken;
    let mut day = Day::enrolled(Plan::small());
    let last = |day: &Day| {
        let set = &day.state.sets["heron"];
        broken(set.air_test(None).unwrap(), set)
    };
    let stood = Some("the set stood still when it was taken");
    day.of_set("air_test", TESTED);
    assert_eq!(last(&day), stood);
    day.of_set("started", &[]);
    let ran = day.moment().time;
    day.of_set("air_test", TESTED);
    assert_eq!(last(&day), None);
    day.wait(600);
    day.of_set("stopped", &[]);
    day.of_set("air_test", TESTED);
    assert_eq!(last(&day), stood);
    // Told for while it ran; and from a laboratory, days later.
    let at = [("at", ran.as_str()), ("told_by", "Maëlle Grandclère")];
    day.of_set("air_test", &[TESTED, &at[..]].concat());
    assert_eq!(last(&day), None);
    day.wait(2 * 86_400);
    day.of_set("air_test", TESTED);
    assert_eq!(last(&day), None);
}

/// Each cylinder of the reserve is read: one of them read leaves the other unread. A reading without a cylinder is one of all.
#[test]
fn every_cylinder_is_read() {
    let (day, n) = live(Plan::small());
    let issued =
        airwrit::time::seconds(&day.state.permits[&n].last_signed("countersign").unwrap().stamp.time);
    for (items, held) in [(&["a", "c"][..], true), (&["a", "b", "c"], false), (&[""], false)] {
        let mut day = day.clone();
        at(&mut day, issued, 60);
        for (what, value, unit) in [("co", "1", "ppm"), ("supply", "6", "bar")] {
            day.on_permit(&n, "reading", &[("what", what), ("value", value), ("unit", unit)]);
        }
        for item in items {
            let mut members = vec![("what", "reserve"), ("value", "260"), ("unit", "bar"), ("item", *item)];
            members.retain(|(name, value)| *name != "item" || !value.is_empty());
            day.on_permit(&n, "reading", &members);
        }
        at(&mut day, issued, 1210);
        let why = day.forbidden(&n, "zaneta", Move::OnAir);
        assert_eq!(why.iter().any(|w| w.starts_with("reserve (")), held, "{items:?}: {why:?}");
        assert!(why.iter().all(|w| w.starts_with("reserve (Cylinder B) was due")), "{why:?}");
    }
}

#[test]
fn a_reserve_that_falls_while_the_compressor_feeds_is_told() {
    let (mut day, n) = live(Plan::small());
    let from = day.second;
    let read = |day: &mut Day, minute: i64, value: &str| {
        at(day, from, minute * 60);
        day.on_permit(
            &n,
            "reading",
            &[("what", "reserve"), ("item", "a"), ("value", value), ("unit", "bar")],
        );
        day.on(&n, due::falling)
    };
    let per_hour = 3;
    assert!(day.plan.set.contains(&format!("drop_per_hour: {per_hour} bar")));
    assert_eq!(read(&mut day, 0, "260"), Vec::<String>::new());
    assert_eq!(read(&mut day, 14, "257"), Vec::<String>::new(), "as much as an hour allows is no leak");
    let told = read(&mut day, 28, "255");
    assert_eq!(told.len(), 1);
    assert!(
        told[0].contains("a, by 5 bar from") && told[0].contains("may fall by 3 bar in an hour"),
        "{told:?}"
    );
    // As much in two hours is no leak; another cylinder is another.
    let mut slow = day.clone();
    slow.on_permit(&n, "reading", &[("what", "reserve"), ("item", "b"), ("value", "250"), ("unit", "bar")]);
    assert_eq!(slow.on(&n, due::falling).len(), 1);
    // Filled, and it is counted anew.
    day.of_set("filled", &[("from", "other_tested")]);
    assert_eq!(read(&mut day, 40, "290"), Vec::<String>::new());
    assert!(warnings(&slow, &n).iter().any(|w| w.starts_with("RESERVE FALLING")));
}

/// From the signal of the drill until the last mask is off; a job that says less is refused.
#[test]
fn a_drill_measures_the_way_out_and_later_permits_start_from_it() {
    let (mut day, n) = live(Plan::small());
    for who in ["zaneta", "nikos"] {
        day.request(&n, who, Move::OnAir).unwrap();
    }
    day.request(&n, "zaneta", Move::In).unwrap();
    day.request(&n, "nikos", Move::In).unwrap();
    day.on_permit(&n, "event", &[("what", "drill")]);
    let began = day.second;
    at(&mut day, began, 200);
    day.report(Some(&n), "zaneta", Move::Out);
    at(&mut day, began, 260);
    day.report(Some(&n), "zaneta", Move::OffAir);
    let drill = |day: &Day| day.state.sets["heron"].drills[0].seconds();
    assert_eq!(drill(&day), None, "one of them is not out");
    at(&mut day, began, 451);
    day.report(Some(&n), "nikos", Move::OffAir);
    assert_eq!(drill(&day), Some(451));
    // The way out of the job is 40 s + 50 s + 4 min + 2 min = 450 s.
    let refused = day.reinstate(&n, "lukasz").unwrap_err();
    assert!(
        refused.why.iter().any(|w| w.contains("a drill here at") && w.contains("the job says 7")),
        "{refused:?}"
    );
    let job = day
        .plan
        .job
        .replace("attendant: oksana", "attendant: soren")
        .replace("entry_watch: marit", "entry_watch: jiri");
    let refused = day.try_open(&job, false).unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("until the last mask was off")), "{refused:?}");
    // Elsewhere it says nothing; a longer way out is taken.
    day.clone().try_open(&job.replace("place: quay3", "place: dockhead"), false).unwrap();
    day.try_open(&job.replace("notice: 40 s", "notice: 41 s"), false).unwrap();
    day.assert_replays();
}

/// Somebody who is told off for a time before is not out sooner; nobody in is no drill.
#[test]
fn a_drill_with_nobody_in_measures_nothing() {
    let (mut day, n) = live(Plan::small());
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.on_permit(&n, "event", &[("what", "drill")]);
    day.wait(30);
    day.report(Some(&n), "zaneta", Move::OffAir);
    assert!(day.state.sets["heron"].drills.is_empty());
}

/// Who reinstates may look for as long as they like: what was read before that is no younger for it.
#[test]
fn after_a_suspension_gauges_are_due_from_their_reading_and_not_from_the_signature() {
    let (mut day, n) = live(Plan::small());
    day.wait(120);
    day.on_permit(&n, "suspend", &[("reason", "fog")]);
    day.wait(60);
    day.read_gauges(&n);
    day.on_permit(&n, "roll_call", &[]);
    let read = day.on(&n, |k, _, _| k.now.seconds());
    day.wait(300);
    let act =
        day.on(&n, |k, p, t| sign::reinstate(k, p, t, &sign::Hand::here("eleni"), "the fog lifted")).unwrap();
    day.signed(&act);
    let due = day.on(&n, airwrit::permit::due::due);
    assert!(!due.is_empty());
    for d in due {
        assert!(d.read && (read - d.since).abs() < 60 && d.due <= read + 15 * 60, "{d:?}, read at {read}");
    }
}

/// A form with five gauges that can be read again.
fn gauges() -> Plan {
    let step = |id: &str, more: &str| {
        format!(
            "      - step: {id}\n        ask: Read {id}\n        reading: {{ unit: bar, from: 0, to: 350, decimals: 0 }}\n        gate: \
             {id} >= 150 bar\n        because: It must hold.\n        fix: Change it.\n{more}"
        )
    };
    let marks = "        critical: true\n        fresh: true\n        blind: true\n";
    let mut more = String::new();
    for id in ["gauge_a", "gauge_b", "gauge_c", "gauge_d", "gauge_e"] {
        more += &step(id, marks);
    }
    more += &step("not_critical", "        fresh: true\n");
    more += &step("not_fresh", "        critical: true\n");
    let work = SMALL.replace("      - step: own\n", &format!("{more}      - step: own\n"));
    Plan { work, ..Plan::small() }.set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
}

fn declared(values: &[&str; 5]) -> (Day, String) {
    let mut day = Day::opened(gauges());
    let n = day.number.clone();
    day.ready(&n);
    for (id, value) in ["gauge_a", "gauge_b", "gauge_c", "gauge_d", "gauge_e"].into_iter().zip(values) {
        day.say(&n, id, None, value).unwrap();
    }
    for id in ["not_critical", "not_fresh"] {
        day.say(&n, id, None, "200").unwrap();
    }
    day.declare(&n, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    (day, n)
}

fn drawn(day: &Day, n: &str) -> Vec<String> {
    day.on(n, sign::drawn).iter().map(sign::Drawn::key).collect()
}

#[test]
fn two_gauges_are_drawn_by_the_declaration_and_read_again() {
    let (mut day, n) = declared(&["207", "208", "209", "210", "211"]);
    let two = drawn(&day, &n);
    assert_eq!(two.len(), 2);
    assert_ne!(two[0], two[1]);
    assert!(two.iter().all(|d| d.starts_with("gauge_")));
    // The same whenever it is asked, by whoever asks.
    day.wait(600);
    assert_eq!(drawn(&day, &n), two);
    // By the hash of the declaration, 15 hex digits for each, as DEVELOPERS.md says.
    let hash = &day.state.permits[&n].last_signed("declare").unwrap().stamp.hash;
    let part = |i: usize| u64::from_str_radix(&hash[i * 15..i * 15 + 15], 16).unwrap();
    let mut all = vec!["gauge_a", "gauge_b", "gauge_c", "gauge_d", "gauge_e"];
    let first = all.remove((part(0) % 5) as usize);
    assert_eq!(two, [first, all[(part(1) % 4) as usize]]);

    let read = |values: [&str; 2]| -> Vec<Seen> {
        two.iter()
            .zip(values)
            .map(|(d, v)| Seen { step: d.clone(), item: None, value: v.into(), unit: "bar".into() })
            .collect()
    };
    let ask = |day: &mut Day, seen: Vec<Seen>| {
        day.sign(&n, &Signing::Countersign(Limits { seen, ..Limits::default() }), "eleni")
    };
    let why = |day: &Day, seen: Vec<Seen>| ask(&mut day.clone(), seen).unwrap_err().why.join("; ");
    assert!(why(&day, Vec::new()).contains("was not read again"));
    assert!(why(&day, read(["207", "211"])[..1].to_vec()).contains("was not read again"));
    let mut other = read(["207", "211"]);
    let not_drawn = ["gauge_a", "gauge_b", "gauge_c"].into_iter().find(|g| !two.contains(&(*g).to_owned()));
    other[0].step = not_drawn.unwrap().to_owned();
    assert!(why(&day, other).contains("was not drawn"));
    // 5 % of some 210 bar is 10 bar.
    let differs = why(&day, read(["207", "180"]));
    assert!(
        differs.contains("what was read is not what was declared")
            && !differs.contains("21")
            && !differs.contains("20"),
        "{differs}"
    );
    assert!(
        why(&day, read(["207.5", "207"])).contains("207.5")
            || why(&day, read(["207.5", "207"])).contains("decimal")
    );
    let line = ask(&mut day, read(["203", "213"])).unwrap();
    assert!(line.data.text("said").unwrap().contains("I have read again at the gauge: "));
    assert_eq!(day.life(&n), StateWord::Live);
    assert_eq!(day.verify().report.verdict, Verdict::Sound);
    // The draw changes with the declaration: over many, every gauge comes.
    let mut seen = std::collections::BTreeSet::new();
    for i in 0..40 {
        let (mut day, n) = declared(&["207", "208", "209", "210", "211"]);
        day.wait(i);
        day.say(&n, "siting", None, "41").unwrap_err();
        let again = airwrit::permit::decide::answer::Typed {
            again: Some("moved".into()),
            ..typed("siting", None, "41")
        };
        day.answer(&n, &again).unwrap();
        day.declare(&n, "lukasz").unwrap();
        seen.extend(drawn(&day, &n));
    }
    assert_eq!(seen.len(), 5, "{seen:?}");
}

/// What is read again must open its gate by itself, however near it is to the first reading.
#[test]
fn what_is_read_again_is_judged() {
    let (mut day, n) = declared(&["150", "150", "150", "150", "150"]);
    let two = drawn(&day, &n);
    let read = |v: &str| -> Vec<Seen> {
        two.iter()
            .map(|d| Seen { step: d.clone(), item: None, value: v.into(), unit: "bar".into() })
            .collect()
    };
    let ask = |seen| Signing::Countersign(Limits { seen, ..Limits::default() });
    let refused = day.sign(&n, &ask(read("149")), "eleni").unwrap_err();
    assert!(refused.why[0].contains("as it was read again"), "{refused:?}");
    day.sign(&n, &ask(read("151")), "eleni").unwrap();
}

#[test]
fn nobody_at_the_gauge_says_why() {
    let (mut day, n) = declared(&["207", "208", "209", "210", "211"]);
    let limits = Limits { not_seen: Some("signed from the office".into()), ..Limits::default() };
    let line = day.sign(&n, &Signing::Countersign(limits), "eleni").unwrap();
    assert_eq!(line.data.text("not_seen"), Some("signed from the office"));
    assert!(line.data.text("said").unwrap().contains("I have read no gauge again: signed from the office"));
}

/// A gauge that did not agree is read again by the operator: nobody passes over it, neither without a reading nor by
/// another answer and another declaration.
#[test]
fn a_gauge_that_did_not_agree_is_read_again_by_the_operator() {
    let (mut day, n) = declared(&["207", "208", "209", "210", "211"]);
    let two = drawn(&day, &n);
    let seen: Vec<Seen> = two
        .iter()
        .map(|d| Seen { step: d.clone(), item: None, value: "190".into(), unit: "bar".into() })
        .collect();
    let refused =
        day.sign(&n, &Signing::Countersign(Limits { seen, ..Limits::default() }), "eleni").unwrap_err();
    let why: Vec<airwrit::record::json::Json> =
        refused.why.iter().map(|w| airwrit::record::json::Json::from(w.as_str())).collect();
    let denied = day.on(&n, |k, p, _| {
        let data = airwrit::record::json::object([
            ("request", "countersign".into()),
            ("why", airwrit::record::json::Json::Arr(why.clone())),
        ]);
        k.line(p, "denied", "", data)
    });
    day.add(&denied);
    let unseen = Limits { not_seen: Some("rain".into()), ..Limits::default() };
    let refused = day.sign(&n, &Signing::Countersign(unseen), "eleni").unwrap_err();
    assert!(
        refused.why.iter().any(|w| w.contains("was read again, and what was read is not")),
        "{refused:?}"
    );
    // Something else answered again does not do.
    let again = |step: &str, value: &str, why: &str| airwrit::permit::decide::answer::Typed {
        again: Some(why.into()),
        ..typed(step, None, value)
    };
    day.answer(&n, &again("siting", "41", "moved")).unwrap();
    for gauge in &two {
        let refused = day.declare(&n, "lukasz").unwrap_err();
        assert!(
            refused.why.iter().any(|w| w.contains(&format!("airwrit answer {n} {gauge} VALUE"))),
            "{refused:?}"
        );
        day.answer(&n, &again(gauge, "191", "other")).unwrap();
    }
    day.declare(&n, "lukasz").unwrap();
    // The next who signs is told, and reads the gauges.
    let unseen = Limits { not_seen: Some("rain".into()), ..Limits::default() };
    assert!(day.sign(&n, &Signing::Countersign(unseen), "eleni").is_err());
    let found = day.ask(|k| airwrit::show::before_signing(k, day.lines(), &n, None).unwrap());
    let part = found.iter().find(|f| f.heading.starts_with("READ AGAIN BY A SUPERVISOR")).unwrap();
    assert!(part.lines.iter().any(|l| l.contains("(190 bar by the supervisor)")), "{part:?}");
    assert!(part.lines.iter().any(|l| l.contains("the operator's last answer is 191 bar")), "{part:?}");
}

/// Whatever language the supervisor was refused in, a gauge that did not agree is found again.
#[test]
fn a_gauge_that_did_not_agree_is_kept_in_english() {
    for tongue in Tongue::ALL {
        let (mut day, n) = declared(&["207", "208", "209", "210", "211"]);
        let two = drawn(&day, &n);
        let seen: Vec<Seen> = two
            .iter()
            .map(|d| Seen { step: d.clone(), item: None, value: "190".into(), unit: "bar".into() })
            .collect();
        let ask =
            Signing::Countersign(Limits { seen, words: Some("no spraying".into()), ..Limits::default() });
        let Trouble::Refused(refused) = tongue.within(|| day.prepare(&n, &ask, "lukasz")).unwrap_err() else {
            panic!("it is refused");
        };
        let line = day.lines().last().unwrap().clone();
        let kept = line.data.texts("why");
        // Everything is kept; the two gauges in English, the rest as it was told.
        assert_eq!((line.kind.name, kept.len()), ("denied", refused.why.len()));
        let differ =
            |w: &&str| w.contains(" was read again, and what was read is not what was declared (190 bar by");
        assert_eq!(kept.iter().filter(|w| differ(w)).count(), 2, "{kept:?}");
        for (kept, told) in kept.iter().zip(&refused.why).filter(|(k, _)| !differ(k)) {
            assert_eq!(kept, told);
        }
        // Who reads on in another language is held by it all the same.
        for other in Tongue::ALL {
            let found = other.within(|| sign::disagreements(&day.state.permits[&n]));
            assert_eq!(found.iter().map(|d| d.value.as_str()).collect::<Vec<_>>(), ["190 bar", "190 bar"]);
            let unseen = Limits { not_seen: Some("rain".into()), ..Limits::default() };
            let mut day = day.clone();
            assert!(other.within(|| day.sign(&n, &Signing::Countersign(unseen), "eleni")).is_err());
            let again = |step: &str, value: &str, why: &str| airwrit::permit::decide::answer::Typed {
                again: Some(why.into()),
                ..typed(step, None, value)
            };
            day.answer(&n, &again("siting", "41", "moved")).unwrap();
            for gauge in &two {
                let refused = other.within(|| day.declare(&n, "lukasz")).unwrap_err();
                let names = |w: &String| w.contains(&format!("airwrit answer {n} {gauge} VALUE"));
                assert!(refused.why.iter().any(names), "{refused:?}");
                day.answer(&n, &again(gauge, "191", "other")).unwrap();
            }
            other.within(|| day.declare(&n, "lukasz")).unwrap();
        }
    }
}

/// Whoever is on air under a permit that is not live any more is still watched; that its time is over is said.
#[test]
fn gauges_are_due_while_anybody_is_on_air() {
    let (mut day, n) = live(Plan::small());
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.on_permit(&n, "suspend", &[("reason", "smoke")]);
    let issued =
        airwrit::time::seconds(&day.state.permits[&n].last_signed("countersign").unwrap().stamp.time);
    at(&mut day, issued, 1300);
    let told = |day: &Day, words: &str| warnings(day, &n).iter().filter(|w| w.contains(words)).count();
    assert_eq!(told(&day, "OVERDUE"), 3);
    assert_eq!(told(&day, "ITS TIME WAS OVER"), 0);
    day.clock("2026-11-25T13:40:00Z");
    assert_eq!(told(&day, "STILL ON ITS AIR: Żaneta Brzęczyk (zaneta)"), 1);
    day.report(Some(&n), "zaneta", Move::OffAir);
    assert_eq!(told(&day, "OVERDUE") + told(&day, "STILL ON ITS AIR"), 0);
}

/// What is in a reserve that rose by itself nobody has said.
#[test]
fn a_reserve_that_rose_holds_until_its_fill_is_told() {
    let (mut day, n) = live(Plan::small());
    let held = |day: &Day| {
        day.forbidden(&n, "zaneta", Move::OnAir)
            .iter()
            .filter(|w| w.contains("no fill of it is told"))
            .count()
    };
    for (bar, rose) in [("230", 0), ("262", 0), ("200", 0), ("239", 0), ("241", 1), ("200", 1)] {
        day.wait(200);
        for item in ["a", "b", "c"] {
            let members = [("what", "reserve"), ("value", bar), ("unit", "bar"), ("item", item)];
            day.on_permit(&n, "reading", &members);
        }
        assert_eq!(held(&day), 3 * rose, "{bar}");
    }
    day.of_set("filled", &[("from", "other_tested")]);
    assert_eq!(held(&day), 0);
    // A slip of the finger, read again at once.
    for (bar, after, rose) in [("210", 200, 0), ("310", 200, 1), ("211", 100, 0)] {
        day.wait(after);
        day.on_permit(&n, "reading", &[("what", "reserve"), ("value", bar), ("unit", "bar")]);
        assert_eq!(held(&day), rose, "{bar}");
    }
}

/// Somebody is reported on the air of a permit that nobody issued: what is due there is due since it was opened.
#[test]
fn what_was_never_issued_is_not_read_since_its_issue() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    day.wait(60);
    day.report(Some(&n), "zaneta", Move::OnAir);
    day.wait(4 * 3600);
    let held = day.on(&n, due::holds);
    assert!(!held.is_empty());
    for words in &held {
        assert!(
            words.contains("not read since the permit was opened at") && words.contains("never issued"),
            "{words}"
        );
    }
}

/// A roll call before somebody went on air did not call them.
#[test]
fn a_roll_call_counts_for_those_who_were_there() {
    let (mut day, n) = live(Plan::small());
    day.on_permit(&n, "roll_call", &[]);
    let rolled = |day: &Day| day.on(&n, |k, p, t| due::rolled_lately(k, p, t).is_some());
    assert!(rolled(&day));
    day.wait(60);
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    assert!(!rolled(&day));
    day.on_permit(&n, "roll_call", &[]);
    assert!(rolled(&day));
    day.wait(60);
    day.request(&n, "zaneta", Move::In).unwrap();
    assert!(!rolled(&day));
}

#[test]
fn copies_are_stale_after_every_change_until_they_are_down() {
    let (mut day, n) = live(Plan::small());
    let hang = |day: &mut Day, number: u64, down: bool| {
        let draft = day.on(&n, |k, p, _| {
            let mut m = vec![
                ("hangs".to_owned(), "at the manhole".into()),
                ("number".to_owned(), airwrit::record::json::Json::Int(number)),
            ];
            if down {
                m.push(("taken_down".to_owned(), airwrit::record::json::Json::Bool(true)));
            }
            k.line(p, "copy", "", airwrit::record::json::sorted(m))
        });
        day.add(&draft);
    };
    let stale = |day: &Day| -> Vec<u64> {
        day.on(&n, |k, p, _| copies::stale(k, p)).iter().map(|c| c.number).collect()
    };
    hang(&mut day, 1, false);
    assert_eq!(stale(&day), Vec::<u64>::new());
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    assert_eq!(stale(&day), Vec::<u64>::new(), "people come and go");
    day.report(Some(&n), "zaneta", Move::OffAir);
    day.on_permit(&n, "suspend", &[("reason", "smoke")]);
    assert_eq!(stale(&day), [1]);
    assert!(warnings(&day, &n).iter().any(
        |w| w == "Take down copy 1 (permit), which hangs at the manhole" || w.contains("copy 1 (permit)")
    ));
    hang(&mut day, 1, true);
    assert_eq!(stale(&day), Vec::<u64>::new());
    assert_eq!(day.on(&n, |_, p, _| copies::next(p)), 2, "a number is used once");
    hang(&mut day, 2, false);
    day.reinstate(&n, "eleni").unwrap();
    assert_eq!(stale(&day), [2]);
    hang(&mut day, 2, true);
    hang(&mut day, 3, false);
    day.clock("2026-11-25T13:30:01Z");
    assert_eq!(day.life(&n), StateWord::Lapsed);
    assert_eq!(stale(&day), [3]);
}

#[test]
fn a_set_released_is_opened_on_again_once_it_is_taken() {
    let (mut day, n) = live(Plan::small());
    let comes = |day: &mut Day, kind: &'static str| {
        let decided = day.ask(|k| witness::comes(k, kind, "heron", None, &Told::default(), "lukasz"));
        day.take(decided)
    };
    let why = comes(&mut day, "released").unwrap_err().why;
    assert!(why[0].contains("heron runs") && why[1].contains("is live"), "{why:?}");
    assert!(comes(&mut day, "taken").unwrap_err().why[0].contains("was not released"));
    day.cancel(&n, "eleni").unwrap();
    // Whoever takes it would believe that it stands still.
    assert!(comes(&mut day, "released").unwrap_err().why[0].contains("heron runs"));
    day.of_set("stopped", &[]);
    comes(&mut day, "released").unwrap();
    let job = day.plan.job.clone();
    assert!(day.try_open(&job, false).unwrap_err().why.iter().any(|w| w.contains("released")));
    assert!(comes(&mut day, "released").unwrap_err().why[0].contains("already"));
    comes(&mut day, "taken").unwrap();
    day.try_open(&job, false).unwrap();
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, Verdict::Sound);
}

const TESTED: &[(&str, &str)] =
    &[("place", "quay3"), ("sampler", "Maëlle Grandclère"), ("co", "1 ppm"), ("date", "2026-11-25")];

/// Another station's register, in which the same set was tested, and ours.
fn stations() -> (Day, Day) {
    let mut other = Day::enrolled_as(Plan::small(), "KW5", "ffeeddccbbaa99887766554433221100");
    other.of_set("started", &[]);
    other.of_set("air_test", TESTED);
    other.of_set("stopped", &[]);
    (Day::enrolled(Plan::small()), other)
}

fn read(
    ours: &mut Day,
    other: &Day,
) -> Result<airwrit::record::line::Line, airwrit::permit::decide::Refusal> {
    let theirs = Other { chain: other.station.chain(), state: &other.state };
    let decided = ours.ask(|k| witness::witness(k, &theirs, "heron", "lukasz"));
    ours.take(decided)
}

fn bring(
    ours: &mut Day,
    other: &Day,
    line: &str,
) -> Result<airwrit::record::line::Line, airwrit::permit::decide::Refusal> {
    let theirs = Other { chain: other.station.chain(), state: &other.state };
    let decided = ours.ask(|k| witness::air_test(k, &theirs, "heron", line, &Told::default(), "lukasz"));
    ours.take(decided)
}

#[test]
fn an_air_test_is_brought_from_another_station_with_its_head() {
    let (mut ours, other) = stations();
    let seen = read(&mut ours, &other).unwrap();
    assert_eq!(seen.data.text("head"), Some(other.station.chain().head.as_str()));
    assert!(seen.data.has("held"), "the other station has not released it");
    let test = bring(&mut ours, &other, &seen.hash).unwrap();
    assert_eq!(test.data.text("co"), Some("1 ppm"));
    let cites = test.data.get("witness").unwrap();
    assert_eq!(cites.text("line"), Some(seen.hash.as_str()));
    assert!(other.lines().iter().any(|l| Some(l.hash.as_str()) == cites.text("hash")));
    assert_eq!(ours.state.sets["heron"].air_test(None).unwrap().data.text("co"), Some("1 ppm"));
    assert!(bring(&mut ours, &other, &seen.hash).unwrap_err().why[0].contains("brought here before"));
    // A set that stands in two registers says so on every page.
    let job = ours.plan.job.clone();
    let n = ours.open(&job);
    assert!(warnings(&ours, &n).iter().any(|w| w.contains("REGISTER OF KW5 TOO")));
    let mut gone = other;
    gone.ask(|k| witness::comes(k, "released", "heron", None, &Told::default(), ""))
        .map(|d| gone.add(&d))
        .unwrap();
    let seen = read(&mut ours, &gone).unwrap();
    assert!(!seen.data.has("held"));
    assert!(!warnings(&ours, &n).iter().any(|w| w.contains("REGISTER OF")));
    ours.assert_replays();
    assert_eq!(airwrit::audit::verify(&ours.bytes(), Some(&trust())).report.verdict, Verdict::Sound);
}

/// On either side, since the test: moved, worked on, an alarm; another place, another machine, the same register.
#[test]
fn an_air_test_that_something_speaks_against_is_not_brought() {
    type Then = fn(&mut Day);
    let cases: &[(&str, bool, Then)] = &[
        ("in the other register, since", false, |d| drop(d.of_set("moved", &[("place", "quay3")]))),
        ("in the other register, since", false, |d| drop(d.of_set("serviced", &[("what", "oil")]))),
        ("in the other register, since", false, |d| drop(d.of_set("event", &[("what", "co")]))),
        ("was moved here on 2026-11-25", true, |d| drop(d.of_set("moved", &[("place", "quay3")]))),
        ("filter was worked on here", true, |d| drop(d.of_set("serviced", &[("what", "filter")]))),
        ("the event temperature was entered here", true, |d| {
            drop(d.of_set("event", &[("what", "temperature")]))
        }),
        ("the event fire was entered here", true, |d| drop(d.of_set("event", &[("what", "fire")]))),
        ("in the other register, since", false, |d| drop(d.of_set("event", &[("what", "hazard_released")]))),
    ];
    for (words, here, then) in cases {
        let (mut ours, mut other) = stations();
        then(if *here { &mut ours } else { &mut other });
        let seen = read(&mut ours, &other).unwrap();
        let refused = bring(&mut ours, &other, &seen.hash).unwrap_err();
        assert!(refused.why.iter().any(|w| w.contains(words)), "{words}: {refused:?}");
    }
    let (mut ours, _) = stations();
    let own = ours.clone();
    assert!(read(&mut ours, &own).unwrap_err().why[0].contains("a copy of this register"));
    let another = Plan::small().set("serial: ", "serial: X");
    let other = Day::enrolled_as(another, "KW5", "ffeeddccbbaa99887766554433221100");
    assert!(read(&mut ours, &other).unwrap_err().why[0].contains("another machine"));
    let nothing = Day::enrolled_as(Plan::small(), "KW5", "ffeeddccbbaa99887766554433221100");
    let seen = read(&mut ours, &nothing).unwrap();
    assert!(bring(&mut ours, &nothing, &seen.hash).unwrap_err().why[0].contains("has no test"));
}

/// Two permits on one set: what one was suspended by is over for whoever went on by the other since it was reinstated.
#[test]
fn an_alarm_that_is_over_orders_nobody_out_by_another_permit() {
    let mut day = Day::opened(Plan::small().set("rated_flow: 874 L/min", "rated_flow: 2000 L/min"));
    let a = day.number.clone();
    day.live(&a);
    let job = day.plan.job.replace("attendant: oksana", "attendant: soren");
    let job =
        job.replace("entry_watch: marit", "entry_watch: jiri").replace("person: zaneta", "person: maelle");
    let b = day.open(&job.replace("outlet: red", "outlet: green").replace("outlet: white", "outlet: red"));
    day.live(&b);
    let rows = |day: &Day| -> Vec<(String, Vec<String>)> {
        let rows = day.ask(|k| airwrit::show::board(k, day.lines(), None)).unwrap();
        rows.into_iter().map(|r| (r.number, r.urgent)).collect()
    };
    let of = |day: &Day, n: &str| rows(day).into_iter().find(|(number, _)| number == n).unwrap().1;
    day.of_set("event", &[("what", "change_over")]);
    day.wait(60);
    day.of_set("filled", &[("from", "other_tested")]);
    day.derived(&a, false);
    day.reinstate(&a, "eleni").unwrap();
    day.own(&a, "zaneta");
    day.wait(60);
    day.report(Some(&a), "zaneta", Move::In);
    assert_eq!((day.life(&a), day.life(&b)), (StateWord::Live, StateWord::Suspended));
    assert_eq!(of(&day, &b), Vec::<String>::new());
    // Somebody on its own air is under it all the same; and a new alarm orders all of them alike.
    day.report(Some(&b), "maelle", Move::In);
    assert!(of(&day, &b)[0].ends_with("WITH PEOPLE ON AIR: everyone out"), "{:?}", of(&day, &b));
    day.wait(60);
    day.of_set("event", &[("what", "co")]);
    let order = |n: &str| of(&day, n).into_iter().find(|l| l.starts_with("CO at ")).unwrap();
    assert_eq!(order(&a), order(&b));
}
