//! What stays good from one permit to the next: carried while every scope it names holds, shown, cited, asked again the
//! moment one breaks; what ends by itself ends the permit.

use crate::support::day::{Day, Plan, SMALL, typed};
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::Limits;
use airwrit::view::{Standing, StateWord};

/// One step for each scope, and for several at once.
const STEPS: &str = r#"
      - step: of_permit
        ask: Of this permit?
        confirm: true
        good_for: permit
      - step: of_shift
        ask: Of this shift?
        confirm: true
        good_for: shift
      - step: of_start
        ask: Of this start?
        confirm: true
        good_for: start
      - step: of_set
        ask: Of this set?
        confirm: true
        good_for: set
      - step: of_place
        ask: Of this place?
        confirm: true
        good_for: place
      - step: of_supply
        ask: Of this supply point?
        confirm: true
        good_for: supply_point
      - step: of_wind
        ask: Of this wind?
        confirm: true
        good_for: wind
      - step: of_filter
        ask: Of these filters?
        confirm: true
        good_for: filter
      - step: of_fill
        ask: Of this fill?
        confirm: true
        good_for: fill
      - step: of_hose
        ask: Of these hoses?
        confirm: true
        good_for: hose
      - step: of_respirator
        ask: Of these respirators?
        confirm: true
        good_for: respirator
      - step: of_hours
        ask: For hours?
        confirm: true
        good_for: { hours: 5 }
      - step: of_months
        ask: For months?
        confirm: true
        good_for: { months: 1 }
      - step: of_both
        ask: Of place and start?
        confirm: true
        good_for: [place, start]
      - step: of_wearer
        each: wearer
        ask: "{{ wearer.name }}?"
        confirm: true
        good_for: wearer
      - step: of_person
        each: wearer
        ask: "{{ wearer.name }}, on any set?"
        confirm: true
        good_for: [{ site: wearer }, { site: { months: 12 } }]
      - step: waited
        ask: Run for a while
        timed: 5 min
        good_for: start
"#;

const PLAIN: [&str; 14] = [
    "of_permit",
    "of_shift",
    "of_start",
    "of_set",
    "of_place",
    "of_supply",
    "of_wind",
    "of_filter",
    "of_fill",
    "of_hose",
    "of_respirator",
    "of_hours",
    "of_months",
    "of_both",
];

fn plan() -> Plan {
    let work = SMALL
        .replace("      - step: own\n", &format!("{}      - step: own\n", STEPS.trim_start_matches('\n')));
    Plan { work, ..Plan::small() }.set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
}

/// Every step but the wearers' own of a fresh permit, then issued.
fn issued(day: &mut Day, n: &str) {
    answered(day, n);
    day.declare(n, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    day.countersign(n, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
}

fn answered(day: &mut Day, n: &str) {
    day.ready(n);
    for step in PLAIN {
        day.say(n, step, None, "yes").unwrap();
    }
    for step in ["of_wearer", "of_person"] {
        for who in ["zaneta", "nikos"] {
            day.say(n, step, Some(who), "yes").unwrap();
        }
    }
    day.say(n, "waited", None, "begun").unwrap();
    day.wait(301);
    day.say(n, "waited", None, "done").unwrap();
}

/// A permit issued and ended with the set left running, another opened on the same set, for the same job.
fn two() -> (Day, String, String) {
    let mut day = Day::opened(plan());
    let a = day.number.clone();
    issued(&mut day, &a);
    for who in ["zaneta", "nikos"] {
        day.own(&a, who);
    }
    day.cancel(&a, "eleni").unwrap();
    let job = day.plan.job.clone();
    day.wait(60);
    let b = day.open(&job);
    (day, a, b)
}

fn all() -> Vec<String> {
    let mut all: Vec<String> = PLAIN[1..].iter().map(|s| (*s).to_owned()).collect();
    for step in ["of_wearer", "of_person"] {
        all.extend(["zaneta", "nikos"].map(|w| format!("{step}/{w}")));
    }
    all.push("waited".into());
    all
}

fn without(gone: &[&str]) -> Vec<String> {
    all().into_iter().filter(|s| !gone.iter().any(|g| s == g || s.starts_with(&format!("{g}/")))).collect()
}

/// What the scopes of the extra steps leave; `ready`, `siting` and others of the small form stand beside them.
fn left(day: &Day, n: &str) -> Vec<String> {
    let of = |s: &String| s.starts_with("of_") || s == "waited";
    day.candidates(n).into_iter().filter(of).collect()
}

#[test]
fn everything_but_what_is_of_the_permit_is_carried() {
    let (mut day, a, b) = two();
    assert_eq!(left(&day, &b), all());
    // The wearers' own steps of the small form are answered on the live permit, and carried too.
    assert!(day.candidates(&b).contains(&"own/zaneta".to_owned()));
    // What is worked out never is.
    assert!(!day.candidates(&b).contains(&"spare".to_owned()));
    let before = day.state.permits[&b].answers.len();
    let line = day.carry(&b).unwrap();
    assert_eq!(before, 0);
    let cited = line.data.texts("answers");
    let of_a: Vec<&str> = day.state.permits[&a].answers.iter().map(|x| x.stamp.hash.as_str()).collect();
    assert!(cited.iter().all(|h| of_a.contains(h)));
    // A wait comes with its beginning.
    let carried = &day.state.permits[&b].answers;
    let waited: Vec<_> = carried.iter().filter(|x| x.step == "waited").map(|x| x.value.as_deref()).collect();
    assert_eq!(waited, [Some("begun"), Some("done")]);
    assert!(carried.iter().all(|x| x.carry.as_ref().is_some_and(|c| c.from == a)));
    for step in ["of_shift", "of_start", "of_fill", "waited", "siting", "ready"] {
        assert_eq!(day.standing(&b, step, None), Standing::Open, "{step}");
    }
    assert_eq!(day.standing(&b, "of_permit", None), Standing::Waiting);
    // Nothing is carried twice.
    assert!(day.carry(&b).unwrap_err().why[0].contains("no answer"));
    // The rest is answered; then it is issued like any other.
    day.say(&b, "of_permit", None, "yes").unwrap();
    day.answer(&b, &Typed { value: None, ..typed("spare", None, "") }).unwrap();
    day.declare(&b, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    day.countersign(&b, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    assert_eq!(day.life(&b), StateWord::Live);
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, airwrit::audit::Verdict::Sound);
}

/// Each thing that happens breaks what names it, and nothing else, before it is carried and after.
#[test]
fn what_breaks_a_scope_is_asked_again() {
    type Happens = fn(&mut Day, &str);
    let cases: &[(&str, Happens, &[&str])] = &[
        (
            "moved",
            |d, _| drop(d.of_set("moved", &[("place", "quay3")])),
            &["of_place", "of_supply", "of_both"],
        ),
        ("plugged", |d, _| drop(d.of_set("plugged", &[("supply_point", "q3b")])), &["of_supply"]),
        ("stopped", |d, _| drop(d.of_set("stopped", &[])), &["of_start", "of_both", "waited"]),
        ("started anew", |d, _| drop(d.of_set("started", &[])), &["of_start", "of_both", "waited"]),
        ("filled", |d, _| drop(d.of_set("filled", &[("from", "other_tested")])), &["of_fill"]),
        ("filter", |d, _| drop(d.of_set("serviced", &[("what", "filter")])), &["of_filter"]),
        ("oil", |d, _| drop(d.of_set("serviced", &[("what", "oil")])), &["of_filter"]),
        ("other service", |d, _| drop(d.of_set("serviced", &[("what", "other")])), &[]),
        ("wind", |d, n| drop(d.on_permit(n, "event", &[("what", "wind_turned")])), &["of_wind"]),
        ("hose", |d, n| drop(d.on_permit(n, "event", &[("what", "hose")])), &["of_hose"]),
        ("respirator", |d, n| drop(d.on_permit(n, "event", &[("what", "respirator")])), &["of_respirator"]),
        (
            "change-over",
            |d, n| drop(d.on_permit(n, "event", &[("what", "change_over")])),
            &["of_supply", "of_fill"],
        ),
        // The reserve is changed to by hand, or may be.
        ("co", |d, n| drop(d.on_permit(n, "event", &[("what", "co")])), &["of_filter", "of_fill"]),
        ("fire", |d, n| drop(d.on_permit(n, "event", &[("what", "fire")])), &["of_filter"]),
        ("light", |d, n| drop(d.on_permit(n, "event", &[("what", "ventilation_lost")])), &[]),
    ];
    let (day, a, b) = two();
    for (what, happens, gone) in cases {
        let mut before = day.clone();
        happens(&mut before, &a);
        assert_eq!(left(&before, &b), without(gone), "{what}, before");
        let mut after = day.clone();
        after.carry(&b).unwrap();
        happens(&mut after, &a);
        for step in all() {
            let (step, item) = step.split_once('/').map_or((step.as_str(), None), |(s, i)| (s, Some(i)));
            let wanted = if gone.contains(&step) { Standing::Waiting } else { Standing::Open };
            assert_eq!(after.standing(&b, step, item), wanted, "{what}, after: {step}");
        }
        after.assert_replays();
    }
}

/// A set stopped and started again between two permits: nothing of the start before is carried.
#[test]
fn a_start_of_another_day_is_not_this_one() {
    let (mut day, _, b) = two();
    day.of_set("stopped", &[]);
    day.of_set("started", &[]);
    assert_eq!(left(&day, &b), without(&["of_start", "of_both", "waited"]));
}

/// While the set was in another register nobody here knows what was done to it: of answers about it nothing is carried.
#[test]
fn nothing_of_a_set_is_carried_over_another_register() {
    let (mut day, _, b) = two();
    day.cancel(&b, "eleni").unwrap();
    day.of_set("stopped", &[]);
    for kind in ["released", "taken"] {
        let decided = day.ask(|k| {
            airwrit::permit::decide::witness::comes(k, kind, "heron", None, &Default::default(), "lukasz")
        });
        day.take(decided).unwrap();
    }
    let job = day.plan.job.clone();
    let n = day.open(&job);
    let left = left(&day, &n);
    assert!(left.iter().any(|l| l.starts_with("of_person")), "{left:?}");
    assert!(left.iter().all(|l| l.starts_with("of_person") || l.starts_with("of_wearer")), "{left:?}");
}

#[test]
fn time_ends_it_and_siting_never_passes_a_shift() {
    let (day, _, b) = two();
    // The early shift ends at 14:30 at the site.
    for (at, gone) in [
        ("2026-11-25T13:30:00Z", &["of_hours"][..]),
        ("2026-11-25T13:30:01Z", &["of_hours", "of_shift"]),
        ("2026-12-25T22:59:59Z", &["of_hours", "of_shift"]),
        ("2026-12-25T23:00:00Z", &["of_hours", "of_shift", "of_months"]),
        ("2027-11-25T22:59:00Z", &["of_hours", "of_shift", "of_months"]),
        ("2027-11-25T23:00:00Z", &["of_hours", "of_shift", "of_months", "of_person"]),
    ] {
        let mut later = day.clone();
        later.clock(at);
        let job = later.plan.job.clone();
        let n = if at < "2026-11-26" { b.clone() } else { later.open(&job) };
        assert_eq!(left(&later, &n), without(gone), "{at}");
    }
}

/// The latest answer on the set counts, or none: a later one that holds is not passed over.
#[test]
fn a_later_answer_that_holds_is_not_passed_over() {
    let (mut day, _, b) = two();
    assert!(day.candidates(&b).contains(&"siting".to_owned()));
    // On a third permit it is measured again, and does not hold; that one was never issued.
    let job = day.plan.job.clone();
    let c = day.open(&job);
    day.say(&c, "siting", None, "4").unwrap();
    assert!(!day.candidates(&b).contains(&"siting".to_owned()));
}

/// Gates are judged on the permit that carries, by its own job and files.
#[test]
fn what_would_not_open_here_is_not_carried() {
    let (day, _, _) = two();
    let job = day.plan.job.clone();
    let wearers: &[&str] = &["of_wearer/zaneta", "of_hose", "of_respirator", "of_person/zaneta"];
    for (from, to, gone) in [
        ("outlet: red", "outlet: green", wearers),
        ("person: zaneta", "person: maelle", wearers),
        ("place: quay3", "place: dockhead", &["of_place", "of_supply", "of_both"]),
        ("channel: Radio channel 7, call word Mewa", "channel: Radio channel 9", &["of_shift"]),
        ("attendant: oksana", "attendant: soren", &["of_shift"]),
        ("until: \"16:20\"", "until: \"16:10\"", &[]),
    ] {
        assert!(job.contains(from), "{from}");
        let mut d = day.clone();
        let other = job.replace(from, to);
        let n = d.open(&other);
        assert_eq!(left(&d, &n), without(gone), "{from} -> {to}");
    }
}

/// Only from a permit that was issued: what nobody answered for is nobody's answer.
#[test]
fn nothing_is_carried_from_a_draft() {
    let mut day = Day::opened(plan());
    let a = day.number.clone();
    day.ready(&a);
    day.say(&a, "of_place", None, "yes").unwrap();
    let job = day.plan.job.clone();
    let b = day.open(&job);
    assert_eq!(day.candidates(&b), Vec::<String>::new());
}

/// A text put in force anew, and everything is asked.
#[test]
fn another_set_or_site_file_carries_nothing() {
    for kind in ["set", "site"] {
        let (mut day, _, _) = two();
        let text = if kind == "set" { day.plan.set.clone() } else { day.plan.site.clone() };
        day.approve(kind, &(text + "\n# written anew\n"));
        let job = day.plan.job.clone();
        let b = day.open(&job);
        let have = left(&day, &b);
        // What is good on any set of the site does not rest on the set's file.
        let any = if kind == "set" {
            vec!["of_person/zaneta".to_owned(), "of_person/nikos".to_owned()]
        } else {
            vec![]
        };
        assert_eq!(have, any, "{kind}");
    }
}

/// What was carried and ends before anything else ends the permit, and says so.
#[test]
fn the_earliest_carried_end_ends_the_permit() {
    let (mut day, _, b) = two();
    day.carry(&b).unwrap();
    day.say(&b, "of_permit", None, "yes").unwrap();
    day.answer(&b, &Typed { value: None, ..typed("spare", None, "") }).unwrap();
    day.declare(&b, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    let line = day.countersign(&b, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    let given = airwrit::time::seconds(
        &day.state.permits[&b].answers.iter().find(|x| x.step == "of_hours").unwrap().stamp.time,
    );
    assert_eq!(line.data.text("valid_to"), Some(airwrit::time::utc(given + 5 * 3600).as_str()));
    assert!(line.data.text("valid_by").unwrap().starts_with("of hours, carried: it is good for 5 h"));
    // Before its end it is told, and may be asked again; after it nobody goes on air.
    let warned = |day: &Day| {
        let known = day.ask(|k| airwrit::show::permit(k, day.lines(), &b, None, None).unwrap());
        known.warnings.iter().any(|w| w.contains("Asked again after") && w.contains("of hours"))
    };
    day.second = given + 5 * 3600 - 1801;
    assert!(!warned(&day));
    let early = Typed { again: Some("other".into()), ..typed("of_hours", None, "yes") };
    assert!(day.clone().answer(&b, &early).is_err());
    day.second += 1;
    assert!(warned(&day));
    day.clone().answer(&b, &early).unwrap();
    day.read_gauges(&b);
    let why = |day: &Day| day.forbidden(&b, "zaneta", airwrit::permit::decide::air::Move::OnAir);
    day.second = given + 5 * 3600;
    assert!(!why(&day).iter().any(|w| w.contains("of hours")), "{:?}", why(&day));
    day.second += 1;
    assert!(why(&day).iter().any(|w| w.contains("of hours")), "{:?}", why(&day));
}

/// Carried again to a third permit it is as old as it was, and cites where it was given.
#[test]
fn carried_twice_it_is_as_old_as_it_was() {
    let (mut day, a, b) = two();
    day.carry(&b).unwrap();
    day.say(&b, "of_permit", None, "yes").unwrap();
    day.answer(&b, &Typed { value: None, ..typed("spare", None, "") }).unwrap();
    day.declare(&b, "lukasz").unwrap();
    day.countersign(&b, "eleni", &Limits::default()).unwrap();
    let job = day.plan.job.clone();
    day.wait(600);
    day.cancel(&b, "eleni").unwrap();
    let c = day.open(&job);
    day.carry(&c).unwrap();
    let of = |n: &str| {
        let x = day.state.permits[n].answers.iter().find(|x| x.step == "of_fill").unwrap();
        (x.stamp.hash.clone(), x.carry.as_ref().map(|c| c.from.clone()))
    };
    assert_eq!(of(&c), (of(&a).0, Some(a.clone())));
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, airwrit::audit::Verdict::Sound);
    // Its excerpt holds what was carried, and verifies alone.
    let excerpt = airwrit::record::excerpt::of(day.lines(), &c).unwrap();
    let alone = airwrit::audit::verify_excerpt(&excerpt, Some(&crate::support::day::trust()));
    assert!(alone.report.said.iter().all(|s| s.rule == "excerpt"), "{:?}", alone.report.said);
    assert_eq!(alone.state.permits[&c].answers.len(), day.state.permits[&c].answers.len());
}

/// A declared permit goes back to draft; a live one takes the wearers' own steps only; one that has ended nothing.
#[test]
fn states_of_carrying() {
    let (mut day, a, b) = two();
    assert!(day.carry(&a).unwrap_err().why[0].contains("cancelled"));
    // All but the wearers' own is answered anew; what they did this morning is carried on the live permit.
    issued(&mut day, &b);
    assert_eq!(day.life(&b), StateWord::Live);
    assert_eq!(day.candidates(&b), ["own/zaneta", "own/nikos"]);
    let mut live = day.clone();
    live.carry(&b).unwrap();
    assert_eq!(live.life(&b), StateWord::Live);
    assert_eq!(live.standing(&b, "own", Some("zaneta")), Standing::Open);
    day.cancel(&b, "eleni").unwrap();
    let job = day.plan.job.clone();
    let c = day.open(&job);
    answered(&mut day, &c);
    day.declare(&c, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    day.carry(&c).unwrap();
    assert_eq!(day.life(&c), StateWord::Draft);
    assert_eq!(day.standing(&c, "own", Some("nikos")), Standing::Open);
}

/// The set is swapped: all out, handed back or cancelled, and another permit goes on with the work on the new set. Of
/// what was found only that is carried which names no set.
#[test]
fn a_swapped_set_carries_only_what_holds_for_it() {
    let mut day = Day::opened(plan());
    let a = day.number.clone();
    issued(&mut day, &a);
    day.own(&a, "zaneta");
    day.plan =
        day.plan.clone().set("set: heron", "set: egret").set("serial: HN-26-0482", "serial: HN-26-0499");
    let egret = day.plan.set.clone();
    day.approve("set", &egret);
    let job = day.plan.job.clone();
    let on = |day: &mut Day, follows: &str| day.open_after(&job, false, Some(follows));
    assert!(
        on(&mut day, &a).unwrap_err().why.iter().any(|w| w.contains("stands at") || w.contains("is live"))
    );
    day.request(&a, "zaneta", airwrit::permit::decide::air::Move::OnAir).unwrap();
    day.report(Some(&a), "zaneta", airwrit::permit::decide::air::Move::OffAir);
    day.cancel(&a, "eleni").unwrap();
    let line = on(&mut day, &a).unwrap();
    let b = line.permit.as_ref().unwrap().to_string();
    assert_eq!(line.data.text("follows"), Some(a.as_str()));
    assert_eq!(day.state.permits[&b].follows, Some(a.clone()));
    assert_eq!(day.candidates(&b), ["of_person/zaneta", "of_person/nikos"]);
    day.carry(&b).unwrap();
    assert_eq!(day.standing(&b, "of_person", Some("zaneta")), Standing::Open);
    assert!(on(&mut day, "KW2-261125-09").unwrap_err().why[0].contains("there is no permit"));
    assert!(on(&mut day, &b).unwrap_err().why[0].contains("is draft"));
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, airwrit::audit::Verdict::Sound);
}
