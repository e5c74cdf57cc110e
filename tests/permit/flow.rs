//! Who is counted on the air of a set: everybody it must be able to feed at once.

use crate::support::day::{Day, Plan, typed};
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::Limits;
use airwrit::view::Standing;

/// A set with room, so that what is left can be read.
fn roomy() -> Plan {
    Plan::small().set("rated_flow: 874 L/min", "rated_flow: 3000 L/min")
}

/// Other people, at another place of the same set's air.
fn second_job(day: &Day) -> String {
    day.plan
        .job
        .replace("attendant: oksana", "attendant: soren")
        .replace("entry_watch: marit", "entry_watch: jiri")
        .replace("person: zaneta", "person: maelle")
        .replace(
            "  - { person: nikos, respirator: tern, escape_set: wren15, hose: grey7, outlet: white }\n",
            "",
        )
        .replace("outlet: red", "outlet: green")
}

/// What is left of the set's flow, as the first permit works it out now.
fn left(day: &Day, n: &str) -> Result<String, String> {
    day.on(n, |k, p, t| {
        let bench = airwrit::permit::bench::Bench::new(k.state, p, t, k.now);
        let (_, step) = t.form.step("spare").unwrap();
        bench.derive(step, None).map(|(text, _)| text)
    })
}

/// What another permit of the set does to this one is in its excerpt, and is seen there.
#[test]
fn an_excerpt_sees_what_happened_on_the_other_permit_of_the_set() {
    let trust = crate::support::day::trust();
    let verified = |day: &Day, n: &str| {
        let bytes = airwrit::record::excerpt::of(day.lines(), n).unwrap();
        let v = airwrit::audit::verify_excerpt(&bytes, Some(&trust));
        let broken = v.report.verdict == airwrit::audit::Verdict::Broken;
        assert!(!broken, "{:?}", v.report.said);
        assert_eq!(v.state.permits[n].life, day.state.permits[n].life);
        assert_eq!(v.state.tally_of_set(&day.set_id()), day.state.tally_of_set(&day.set_id()));
    };
    let mut day = Day::opened(roomy());
    let n = day.number.clone();
    let other = day.open(&second_job(&day));
    day.ready(&n);
    day.say(&other, "ready", None, "yes").unwrap();
    day.ready_again(&other);
    for (kind, data) in [("event", vec![("what", "other")]), ("call_out", vec![])] {
        // Declared, taken back to draft by the other permit's line, and declared anew.
        day.declare(&n, "lukasz").unwrap();
        day.on_permit(&other, kind, &data);
        verified(&day, &n);
        day.declare(&n, "lukasz").unwrap();
        verified(&day, &n);
        day.answer(&n, &again("siting", "40")).unwrap();
    }
    day.declare(&n, "lukasz").unwrap();
    let seen = Typed { shutdown: true, ..typed("seen", None, "yes") };
    day.answer(&other, &seen).unwrap();
    verified(&day, &n);
    day.say(&n, "ready", None, "yes").unwrap();
    day.declare(&n, "lukasz").unwrap();
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
    day.say(&other, "ready", None, "yes").unwrap();
    day.declare(&other, "lukasz").unwrap();
    day.countersign(&other, "eleni", &Limits::default()).unwrap();
    day.report(Some(&other), "maelle", Move::OnAir);
    verified(&day, &n);
    day.report(Some(&other), "maelle", Move::OffAir);
    // Left running for a permit that is not in the excerpt.
    day.hand_back(&n, "lukasz", Some(&other)).unwrap();
    verified(&day, &n);
}

fn again(step: &str, value: &str) -> Typed {
    Typed { again: Some("asked_again".into()), ..typed(step, None, value) }
}

/// Two masks that can draw 318 L/min each: 3000 - 636.
#[test]
fn wearers_rescuers_on_this_air_and_tools_are_counted() {
    let of = |plan: Plan| {
        let day = Day::opened(plan);
        left(&day, &day.number).unwrap()
    };
    assert_eq!(of(roomy()), "2364");
    assert_eq!(of(roomy().job("{ person: pavlos }", "{ person: pavlos, respirator: tern }")), "2046");
    // A blasting hood draws up to 296.
    assert_eq!(of(roomy().job("{ person: pavlos }", "{ person: pavlos, respirator: puffin }")), "2068");
    let tool = "wearers:\n";
    let with = "consumers:\n  - { id: pot, name: Blast pot, flow: 1000 L/min }\nwearers:\n";
    assert_eq!(of(roomy().job(tool, with)), "1364");
    // A rescuer in a respirator that the site does not have: not known, hence not open.
    let day = Day::opened(roomy().job("{ person: pavlos }", "{ person: pavlos, respirator: gull }"));
    left(&day, &day.number).unwrap_err();
}

#[test]
fn those_of_the_set_s_other_permits_are_counted_as_long_as_they_may_breathe() {
    let mut day = Day::opened(roomy());
    let n = day.number.clone();
    let job = second_job(&day)
        .replace("{ person: ines }", "{ person: ines, respirator: tern }")
        .replace("wearers:\n", "consumers:\n  - { id: pot, name: Blast pot, flow: 100 L/min }\nwearers:\n");
    let other = day.open(&job);
    // One wearer, one rescuer on this air, one tool: 2364 - 318 - 318 - 100.
    assert_eq!(left(&day, &n).unwrap(), "1628");
    assert_eq!(left(&day, &other).unwrap(), "1628");
    // The same people planned once more, in the same masks, breathe once.
    let again = day
        .plan
        .job
        .replace("attendant: oksana", "attendant: soren")
        .replace("entry_watch: marit", "entry_watch: jiri");
    let third = day.open(&again);
    assert_eq!(left(&day, &n).unwrap(), "1628");
    day.cancel(&third, "eleni").unwrap();
    day.cancel(&other, "eleni").unwrap();
    assert_eq!(left(&day, &n).unwrap(), "2364");
}

#[test]
fn what_was_worked_out_goes_stale_when_others_come() {
    let mut day = Day::opened(roomy());
    let n = day.number.clone();
    day.ready(&n);
    assert_eq!(day.standing(&n, "spare", None), Standing::Open);
    let job = second_job(&day);
    day.open(&job);
    assert_eq!(day.standing(&n, "spare", None), Standing::Hold);
    assert!(
        day.declare(&n, "lukasz").unwrap_err().why.iter().any(|w| w.contains("worked out again it is 2046"))
    );
    day.answer(&n, &Typed { value: None, ..typed("spare", None, "") }).unwrap();
    day.declare(&n, "lukasz").unwrap();
}

#[test]
fn a_stranger_on_air_makes_the_flow_unknown_and_shuts() {
    let mut day = Day::opened(roomy());
    let n = day.number.clone();
    day.live(&n);
    day.own(&n, "zaneta");
    for number in [None, Some(n.as_str())] {
        let mut d = day.clone();
        d.report(number, "Somebody in a red jacket", Move::In);
        assert!(left(&d, &n).unwrap_err().contains("on no permit's list"));
        assert_eq!(d.standing(&n, "spare", None), Standing::Hold);
        assert!(!d.forbidden(&n, "zaneta", Move::OnAir).is_empty());
        d.report(number, "Somebody in a red jacket", Move::OffAir);
        assert_eq!(d.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    }
}

/// Too many for the set: it holds, and nobody declares.
#[test]
fn a_rescuer_too_many_holds() {
    let mut day =
        Day::opened(Plan::small().job("{ person: pavlos }", "{ person: pavlos, respirator: tern }"));
    let n = day.number.clone();
    day.ready(&n);
    assert_eq!(day.standing(&n, "spare", None), Standing::Hold);
    assert!(day.declare(&n, "lukasz").unwrap_err().why.iter().any(|w| w.contains("-80 L/min")));
}
