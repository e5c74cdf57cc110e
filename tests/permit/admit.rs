//! Nobody goes on air unless everything holds: one thing after the other is taken away from a permit on
//! which somebody may go on air, and each must shut the way in, saying so.

use super::table::in_state;
use crate::support::day::{Day, Plan, SMALL, typed};
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::open;
use airwrit::permit::decide::sign::Limits;
use airwrit::view::{Standing, StateWord};

/// A live permit, both wearers' own steps done.
fn live(plan: Plan) -> (Day, String) {
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    day.own(&n, "zaneta");
    day.own(&n, "nikos");
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    (day, n)
}

/// Both ways in are shut, and one reason holds these words.
fn shut(day: &Day, n: &str, person: &str, words: &str) {
    for to in [Move::OnAir, Move::In] {
        let why = day.forbidden(n, person, to);
        assert!(why.iter().any(|w| w.contains(words)), "{to:?}: wanted `{words}` in {why:?}");
    }
}

#[test]
fn only_a_live_permit_admits() {
    for (state, words) in [
        (StateWord::Draft, "draft"),
        (StateWord::Declared, "declared"),
        (StateWord::Suspended, "suspended"),
        (StateWord::HandedBack, "handed back"),
        (StateWord::Closed, "closed"),
        (StateWord::Refused, "refused"),
        (StateWord::Cancelled, "cancelled"),
        (StateWord::Lapsed, "lapsed"),
    ] {
        let (day, n) = in_state(state);
        shut(&day, &n, "zaneta", &format!("is {words}, not live"));
    }
}

#[test]
fn only_in_time_to_the_second() {
    let (mut day, n) = live(Plan::small());
    let mut late = day.clone();
    late.clock("2026-11-25T13:29:00Z");
    late.read_gauges(&n);
    late.clock("2026-11-25T13:30:00Z");
    assert_eq!(late.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    late.clock("2026-11-25T13:30:01Z");
    shut(&late, &n, "zaneta", "was valid to");
    // With somebody on air it does not lapse, and still admits nobody.
    day.clock("2026-11-25T13:00:00Z");
    day.read_gauges(&n);
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.clock("2026-11-25T13:30:01Z");
    assert_eq!(day.life(&n), StateWord::Live);
    shut(&day, &n, "nikos", "was valid to");
    // Nor is it shown to anybody as one on which they may go.
    let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &n, None, None).unwrap());
    assert_eq!((view.state, view.token.as_str(), view.check_word.as_str()), (StateWord::Lapsed, "", ""));
    assert!(view.state_means.contains("Whoever is still on it comes out"), "{}", view.state_means);
    assert!(day.forbidden(&n, "zaneta", Move::In).iter().any(|w| w.contains("was valid to")));
}

#[test]
fn only_who_is_planned_and_ready() {
    let (mut day, n) = live(Plan::small());
    shut(&day, &n, "pavlos", "pavlos is not a wearer of");
    shut(&day, &n, "Żaneta Brzeczyk", "is not a wearer of");
    // By name or by id it is the same person, on the tally once.
    let mut d = day.clone();
    d.request(&n, "Żaneta Brzęczyk", Move::OnAir).unwrap();
    assert_eq!(d.state.on_air[0].person, "zaneta");
    d.report(Some(&n), "zaneta", Move::In);
    d.report(Some(&n), "Żaneta Brzęczyk", Move::OffAir);
    assert!(d.state.on_air.is_empty());
    let again = Typed { again: Some("read_wrong".into()), ..typed("own", Some("nikos"), "no") };
    day.answer(&n, &again).unwrap();
    assert_eq!(day.life(&n), StateWord::Live);
    shut(&day, &n, "nikos", "own");
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
}

#[test]
fn in_comes_after_on_air_on_the_same_permit() {
    let (mut day, n) = live(Plan::small());
    assert!(day.forbidden(&n, "zaneta", Move::In).iter().any(|w| w.contains("not on air")));
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    assert!(day.forbidden(&n, "zaneta", Move::OnAir).iter().any(|w| w.contains("already")));
    day.request(&n, "zaneta", Move::In).unwrap();
    assert!(day.forbidden(&n, "zaneta", Move::In).iter().any(|w| w.contains("in already")));
    day.report(Some(&n), "zaneta", Move::Out);
    day.request(&n, "zaneta", Move::In).unwrap();
    // Connected without a permit is not connected on this one.
    day.report(None, "nikos", Move::OnAir);
    assert!(day.forbidden(&n, "nikos", Move::In).iter().any(|w| w.contains("not on KW2")));
}

#[test]
fn an_outlet_feeds_one_and_must_be_in_service() {
    // Nobody is planned on green; a stranger on air, nobody knows where, shuts every outlet.
    let (mut day, n) = live(Plan::small());
    day.report(None, "A fitter", Move::OnAir);
    shut(&day, &n, "zaneta", "nobody knows on which outlet A fitter is");
    day.report(None, "A fitter", Move::OffAir);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());

    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    day.say(&n, "ready", None, "yes").unwrap();
    day.request_of_set("started").unwrap();
    day.say(&n, "siting", None, "40").unwrap();
    for o in ["green", "white"] {
        day.say(&n, "outlet_ok", Some(o), "yes").unwrap();
    }
    let out =
        Typed { value: None, left_out: Some("latch worn".into()), ..typed("outlet_ok", Some("red"), "") };
    day.answer(&n, &out).unwrap();
    assert_eq!(day.standing(&n, "outlet_ok", Some("red")), Standing::OutOfService);
    let derived = Typed { value: None, ..typed("spare", None, "") };
    day.answer(&n, &derived).unwrap();
    day.declare(&n, "lukasz").unwrap();
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
    day.own(&n, "zaneta");
    day.own(&n, "nikos");
    shut(&day, &n, "zaneta", "`red` is not in service");
    assert_eq!(day.forbidden(&n, "nikos", Move::OnAir), Vec::<String>::new());
}

#[test]
fn an_item_out_of_service_leaves_every_list_and_can_be_taken_back() {
    let work = SMALL.replace(
        "      - step: own\n",
        "      - step: outlet_gauge\n        each: set.outlets\n        ask: Gauge\n        reading: { unit: bar, from: 0, to: 20, decimals: 1 }\n        gate: outlet_gauge >= 5 bar\n      - step: outlets_left\n        ask: Outlets\n        derived: count(set.outlets.id)\n        decimals: 0\n        round: down\n        gate: outlets_left >= 2\n      - step: own\n",
    );
    let mut day = Day::opened(Plan { work, ..Plan::small() });
    let n = day.number.clone();
    day.ready(&n);
    for o in ["red", "white", "green"] {
        day.say(&n, "outlet_gauge", Some(o), "6.0").unwrap();
    }
    let count = |day: &mut Day| {
        let again = Typed { value: None, ..typed("outlets_left", None, "") };
        let line = day.answer(&day.number.clone(), &again).unwrap();
        line.data.text("value").unwrap().to_owned()
    };
    assert_eq!(count(&mut day), "3");
    assert_eq!(day.standing(&n, "outlets_left", None), Standing::Open);
    let out = Typed {
        value: None,
        left_out: Some("latch worn".into()),
        again: Some("other".into()),
        ..typed("outlet_ok", Some("green"), "")
    };
    day.answer(&n, &out).unwrap();
    // Its other steps fall away, and what was worked out from the list is stale.
    assert_eq!(day.standing(&n, "outlet_gauge", Some("green")), Standing::OutOfService);
    assert_eq!(day.standing(&n, "outlets_left", None), Standing::Hold);
    assert_eq!(count(&mut day), "2");
    let other_step = Typed { again: Some("changed".into()), ..typed("outlet_gauge", Some("green"), "6.1") };
    assert!(day.answer(&n, &other_step).unwrap_err().instead.unwrap().contains("take it back"));
    let back = Typed { again: Some("changed".into()), ..typed("outlet_ok", Some("green"), "yes") };
    day.answer(&n, &back).unwrap();
    assert_eq!(day.standing(&n, "outlet_gauge", Some("green")), Standing::Open);
    assert_eq!(count(&mut day), "3");
    // Where nothing may be left out, nothing is.
    let out =
        Typed { value: None, left_out: Some("no time".into()), ..typed("outlet_gauge", Some("red"), "") };
    assert!(day.answer(&n, &out).is_err());
}

#[test]
fn answering_again_says_what_was_done() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    day.ready(&n);
    let plain = day.say(&n, "siting", None, "50").unwrap_err();
    assert!(plain.instead.unwrap().contains("refilled"));
    let odd = Typed { again: Some("wished".into()), ..typed("siting", None, "50") };
    assert!(day.answer(&n, &odd).is_err());
    let good = Typed { again: Some("moved".into()), ..typed("siting", None, "50") };
    day.answer(&n, &good).unwrap();
    // What went stale is asked again without.
    day.of_set("moved", &[("place", "quay3")]);
    assert_eq!(day.standing(&n, "siting", None), Standing::Waiting);
    day.say(&n, "siting", None, "50").unwrap();
    assert_eq!(day.state.permits[&n].answers.iter().filter(|a| a.step == "siting").count(), 3);
}

#[test]
fn number_of_wearers_is_the_least_of_all() {
    let (mut day, n) = {
        let mut day = Day::opened(Plan::small());
        let n = day.number.clone();
        day.ready(&n);
        day.declare(&n, "lukasz").unwrap();
        day.countersign(&n, "eleni", &Limits { wearers: Some(1), ..Limits::default() }).unwrap();
        day.own(&n, "zaneta");
        day.own(&n, "nikos");
        (day, n)
    };
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    shut(&day, &n, "nikos", "the supervisor allowed 1");
    day.request(&n, "zaneta", Move::In).unwrap();
    day.report(Some(&n), "zaneta", Move::Out);
    day.report(Some(&n), "zaneta", Move::OffAir);
    day.request(&n, "nikos", Move::OnAir).unwrap();
}

#[test]
fn the_set_runs() {
    let (mut day, n) = live(Plan::small());
    day.of_set("stopped", &[]);
    assert_eq!(day.life(&n), StateWord::Suspended);
    shut(&day, &n, "zaneta", "no start of the set is recorded, or it was stopped since");
}

#[test]
fn a_start_while_it_runs_means_a_stop_that_nobody_told() {
    let (mut day, n) = live(Plan::small());
    day.of_set("started", &[]);
    shut(&day, &n, "zaneta", "the set was started anew");
}

#[test]
fn attendants_and_rescuers_stand_where_the_job_says() {
    let (mut day, n) = live(Plan::small());
    for who in ["oksana", "marit"] {
        let mut d = day.clone();
        d.report(None, who, Move::OnAir);
        shut(&d, &n, "zaneta", &format!("{who}, is on air"));
    }
    let mut d = day.clone();
    d.report(None, "ines", Move::OnAir);
    shut(
        &d,
        &n,
        "zaneta",
        "1 rescuers of this job are free to go in and not on air themselves, wanted at least 2",
    );
    // The attendant of this permit stands at another one, live: both are wrong.
    let job = day.plan.job.replace("attendant: oksana", "attendant: soren");
    let refused = day.try_open(&job, false).unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("marit, stands at")), "{refused:?}");
    // Suspended with somebody on air it still needs them.
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.on_permit(&n, "suspend", &[("reason", "fog")]);
    assert!(day.try_open(&job, false).is_err());
    day.report(Some(&n), "zaneta", Move::OffAir);
    day.try_open(&job, false).unwrap();
}

#[test]
fn jobs_that_are_refused() {
    for (from, to, words) in [
        ("attendant: oksana", "attendant: zaneta", "the attendant, zaneta, is a wearer too"),
        ("entry_watch: marit", "entry_watch: nikos", "the entry watch, nikos, is a wearer too"),
        ("entry_watch: marit", "entry_watch: oksana", "are one person"),
        (
            "  - { person: pavlos }\n  - { person: ines }",
            "  - { person: oksana }\n  - { person: marit }",
            "attendant and entry watch stay where they are",
        ),
        (
            "  - { person: ines }",
            "  - { person: zaneta }",
            "rescuers named who are free to go in and no wearers themselves: 1, wanted at least",
        ),
        ("holder: lukasz", "holder: eleni", "is no operator"),
        ("holder: lukasz", "holder: zaneta", "is a wearer too"),
        ("outlet: white", "outlet: red", "the outlet `red` is given to two wearers"),
        ("hose: grey7", "hose: blue1", "the hose `blue1` is given to two wearers"),
        (
            "notice: 40 s\nmake_safe: 50 s\nwalk: 4 min\nwash_down: 2 min\n",
            "notice: 0 s\nmake_safe: 0 s\nwalk: 0 s\nwash_down: 0 s\n",
            "takes no time",
        ),
        ("outlet: white", "outlet: black", "which the set does not have"),
        ("escape_set: wren15, hose: blue1", "hose: blue1", "carries no escape set"),
        (
            "respirator: tern, escape_set: wren15, hose: blue1",
            "respirator: puffin, escape_set: wren15, hose: blue1",
            "hood",
        ),
        ("place: quay3", "place: quay4", "the place `quay4` is not in the site file"),
        ("supply_point: q3b", "supply_point: q9", "is not in the site file"),
        ("hose: blue1", "hose: blue9", "blue9"),
    ] {
        let plan = Plan::small().job(from, to);
        let mut day = Day::enrolled(plan.clone());
        let refused = day.try_open(&plan.job, false).unwrap_err();
        assert!(refused.why.iter().any(|w| w.contains(words)), "{to}: {refused:?}");
    }
    // Good by itself, and not with this set; for a shutdown nobody breathes it.
    let plan = Plan::small().site("water_most: 160 mg/m3", "water_most: 200 mg/m3");
    let refused = Day::enrolled(plan.clone()).try_open(&plan.job, false).unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("200 mg/m3") && w.contains("7 bar")), "{refused:?}");
    Day::enrolled(plan.clone()).try_open(&plan.job, true).unwrap();
    let plan = Plan::small().site("approved_with: [tern]", "approved_with: [puffin]");
    let refused = Day::enrolled(plan.clone()).try_open(&plan.job, false).unwrap_err();
    let words = "the escape set `wren15` of zaneta is not approved with the respirator `tern`";
    assert!(refused.why.iter().any(|w| w == words), "{refused:?}");
}

#[test]
fn a_move_makes_answers_of_the_place_stale_and_suspends() {
    let (mut day, n) = live(Plan::small());
    day.of_set("moved", &[("place", "quay3")]);
    assert_eq!(day.life(&n), StateWord::Suspended);
    assert_eq!(day.standing(&n, "siting", None), Standing::Waiting);
    shut(&day, &n, "zaneta", "the set was moved");
}

#[test]
fn a_call_out_shuts_every_permit_of_the_set() {
    let (mut day, n) = live(Plan::small());
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    day.of_set("call_out", &[]);
    assert_eq!(day.life(&n), StateWord::Suspended);
    assert_eq!(day.state.tally_of_permit(&n), 1);
    shut(&day, &n, "nikos", "everyone was called out");
}

/// It suspended nothing, for nothing was issued: the order stands all the same.
#[test]
fn a_call_or_an_event_before_the_issue_shuts_it_until_a_roll_call() {
    for (kind, data, words) in [
        ("call_out", &[][..], "EVERYONE WAS CALLED OUT at "),
        ("event", &[("what", "other")][..], "OTHER at "),
    ] {
        let mut day = Day::opened(Plan::small());
        let n = day.number.clone();
        day.on_permit(&n, kind, data);
        day.wait(30);
        day.live(&n);
        day.own(&n, "zaneta");
        let why = day.forbidden(&n, "zaneta", Move::OnAir);
        assert!(
            matches!(&why[..], [w] if w.starts_with(words) && w.contains("call the roll first")),
            "{why:?}"
        );
        assert!(day.request(&n, "zaneta", Move::OnAir).is_err());
        day.on_permit(&n, "roll_call", &[]);
        assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
        day.request(&n, "zaneta", Move::OnAir).unwrap();
    }
}

#[test]
fn every_gate_is_judged_again_with_the_date_of_then() {
    // The example's permit ends at half past two; here the work goes on over midnight.
    let work = SMALL.replace(
        "      - step: own\n",
        "      - step: tested\n        ask: Day of the sample\n        date: true\n        gate: tested == today\n      - step: own\n",
    );
    let plan = Plan { work, ..Plan::small() }
        .start("2026-11-25T21:00:00Z")
        .job("until: \"16:20\"", "until: \"04:00\"")
        .job("until: \"16:45\"", "until: \"04:00\"")
        .job("until: \"17:00\"", "until: \"04:00\"");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    assert_eq!(n, "KW2-261125-01");
    day.ready(&n);
    day.say(&n, "tested", None, "2026-11-25").unwrap();
    day.declare(&n, "lukasz").unwrap();
    let line = day.countersign(&n, "eleni", &Limits::default()).unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-26T03:00:00Z"));
    day.own(&n, "zaneta");
    day.clock("2026-11-25T22:59:00Z");
    day.read_gauges(&n);
    day.clock("2026-11-25T22:59:59Z");
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    day.clock("2026-11-25T23:00:00Z");
    assert_eq!(day.life(&n), StateWord::Live);
    shut(&day, &n, "zaneta", "tested");
}

/// An answer that is good for two hours.
#[test]
fn hours_run_out_inside_a_permit() {
    let work = SMALL.replace("        good_for: place\n", "        good_for: { hours: 2 }\n");
    let (mut day, n) = live(Plan { work, ..Plan::small() });
    let given = airwrit::time::seconds(
        &day.state.permits[&n].answers.iter().find(|a| a.step == "siting").unwrap().stamp.time,
    );
    day.second = given + 7200 - 60;
    day.read_gauges(&n);
    day.second = given + 7200;
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    day.second += 1;
    shut(&day, &n, "zaneta", "it is good for 2 h");
    // Asked again on the live permit, it opens or shuts the way in; not before it has run out.
    let mut bad = day.clone();
    bad.say(&n, "siting", None, "4").unwrap();
    assert_eq!(bad.life(&n), StateWord::Live);
    shut(&bad, &n, "zaneta", "siting");
    day.say(&n, "siting", None, "40").unwrap();
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    let again = Typed { again: Some("read_wrong".into()), ..typed("siting", None, "41") };
    assert!(day.answer(&n, &again).is_err());
}

#[test]
fn what_a_changed_job_rests_on_is_asked_again() {
    let work = SMALL
        .replace("        good_for: wearer\n", "        good_for: wearer\n      - step: hose\n        each: wearer\n        ask: \"{{ wearer.hose_name }} whole?\"\n        confirm: true\n        good_for: hose\n      - step: read_out\n        ask: Job read?\n        confirm: true\n        good_for: permit\n");
    let mut day = Day::opened(Plan { work, ..Plan::small() });
    let n = day.number.clone();
    day.ready(&n);
    for p in ["zaneta", "nikos"] {
        day.say(&n, "hose", Some(p), "yes").unwrap();
    }
    day.say(&n, "read_out", None, "yes").unwrap();
    let change = |day: &Day, from: &str, to: &str| {
        let mut d = day.clone();
        let job = crate::support::day::raw_job(&d.plan.clone().job(from, to).job);
        let decided = d.on(&n, |k, p, t| open::job(k, p, t, &job, "lukasz"));
        d.take(decided).unwrap();
        let stale: Vec<String> = d
            .stands(&n, false)
            .into_iter()
            .filter(|s| s.2 == Standing::Waiting && s.0 != "own")
            .map(|s| format!("{} {}", s.0, s.1.unwrap_or_default()))
            .collect();
        stale
    };
    assert_eq!(change(&day, "hose: grey7", "hose: blue2"), ["hose nikos", "read_out "]);
    assert_eq!(change(&day, "place: quay3", "place: quay5"), ["siting ", "read_out "]);
    assert_eq!(
        change(&day, "attendant: oksana", "attendant: soren"),
        ["outlet_ok red", "outlet_ok white", "outlet_ok green", "read_out "]
    );
    assert_eq!(change(&day, "walk: 4 min", "walk: 4 min"), Vec::<String>::new());
}

#[test]
fn the_wind_and_alarms_end_what_rested_on_them_in_a_draft_too() {
    for (event, scope) in [
        ("wind_turned", "wind"),
        ("co", "filter"),
        ("temperature", "filter"),
        ("oil", "filter"),
        ("fire", "filter"),
        ("hazard_released", "filter"),
        ("hose", "hose"),
        ("respirator", "respirator"),
        ("change_over", "fill"),
        ("supply_low", "fill"),
        ("reserve_low", "fill"),
    ] {
        let work = SMALL.replace("        good_for: place\n", &format!("        good_for: {scope}\n"));
        let mut day = Day::opened(Plan { work, ..Plan::small() });
        let n = day.number.clone();
        day.ready(&n);
        assert_eq!(day.standing(&n, "siting", None), Standing::Open);
        day.of_set("event", &[("what", event)]);
        assert_eq!(day.standing(&n, "siting", None), Standing::Waiting, "{event}");
        assert!(day.declare(&n, "lukasz").is_err());
        day.say(&n, "siting", None, "40").unwrap();
        day.declare(&n, "lukasz").unwrap();
    }
    for (kind, members, scope) in [
        ("serviced", [("what", "air_side")], "filter"),
        ("serviced", [("what", "oil")], "filter"),
        ("serviced", [("what", "filter")], "filter"),
        ("filled", [("from", "certificate")], "fill"),
        ("plugged", [("supply_point", "gen2")], "supply_point"),
        ("moved", [("place", "quay3")], "supply_point"),
    ] {
        let work = SMALL.replace("        good_for: place\n", &format!("        good_for: {scope}\n"));
        let mut day = Day::opened(Plan { work, ..Plan::small() });
        let n = day.number.clone();
        day.ready(&n);
        day.of_set(kind, &members);
        assert_eq!(day.standing(&n, "siting", None), Standing::Waiting, "{kind} {members:?}");
    }
}

/// A shutdown begun on one permit: another of the same set cannot go live on answers of before.
#[test]
fn a_shutdown_half_way_breaks_the_start() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    let job = day
        .plan
        .job
        .replace("attendant: oksana", "attendant: soren")
        .replace("entry_watch: marit", "entry_watch: jiri");
    let other = day.open(&job);
    day.say(&other, "ready", None, "yes").unwrap();
    day.live(&n);
    day.ready_again(&other);
    day.declare(&other, "lukasz").unwrap();
    let seen = Typed { shutdown: true, ..typed("seen", None, "yes") };
    day.answer(&n, &seen).unwrap();
    assert_eq!((day.life(&n), day.life(&other)), (StateWord::Suspended, StateWord::Draft));
    assert_eq!(day.standing(&other, "ready", None), Standing::Waiting);
    let refused = day.declare(&other, "lukasz").unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("a shutdown was begun")), "{refused:?}");
    // Somebody on air by report after that: they have to be seen off again before anything is stopped.
    day.report(Some(&n), "zaneta", Move::OnAir);
    day.report(Some(&n), "zaneta", Move::OffAir);
    let refused = day.request_of_set("stopped").unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("somebody was on air")), "{refused:?}");
    day.answer(&n, &seen).unwrap();
    day.request_of_set("stopped").unwrap();
    // A start after that: everything of the shutdown is asked again.
    day.of_set("started", &[]);
    let stands = day.stands(&n, true);
    assert!(stands.iter().all(|s| s.2 == Standing::Waiting), "{stands:?}");
}

/// A shutdown that was begun on a draft and given up: the permit that is issued afterwards lapses like any
/// other, and its own shutdown asks everything again.
#[test]
fn a_shutdown_given_up_before_the_issue_leaves_nothing_behind() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    day.ready(&n);
    let seen = Typed { shutdown: true, ..typed("seen", None, "yes") };
    day.answer(&n, &seen).unwrap();
    day.say(&n, "ready", None, "yes").unwrap();
    day.declare(&n, "lukasz").unwrap();
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
    let stands = day.stands(&n, true);
    assert!(stands.iter().all(|s| s.2 == Standing::Waiting), "{stands:?}");
    let refused = day.request_of_set("stopped").unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("no shutdown has been begun")), "{refused:?}");
    let mut begun = day.clone();
    day.clock("2026-11-25T13:30:01Z");
    assert_eq!(day.life(&n), StateWord::Lapsed);
    begun.answer(&n, &seen).unwrap();
    begun.clock("2026-11-25T13:30:01Z");
    assert_eq!(begun.life(&n), StateWord::Suspended);
}

/// The set stands elsewhere than the job says: the job is changed, or the set moved back.
#[test]
fn the_set_stands_where_the_job_says() {
    for (kind, members, words) in [
        ("moved", ("place", "dockhead"), "was moved to dockhead, the job says quay3"),
        ("plugged", ("supply_point", "gen2"), "was plugged in at gen2, the job says q3b"),
    ] {
        let mut day = Day::opened(Plan::small());
        let n = day.number.clone();
        day.of_set(kind, &[members]);
        day.ready(&n);
        let refused = day.declare(&n, "lukasz").unwrap_err();
        assert!(refused.why.iter().any(|w| w.contains(words)), "{refused:?}");
        let back = if kind == "moved" { ("place", "quay3") } else { ("supply_point", "q3b") };
        day.of_set(kind, &[back]);
        if kind == "moved" {
            day.say(&n, "siting", None, "40").unwrap();
        }
        day.declare(&n, "lukasz").unwrap();
    }
}
