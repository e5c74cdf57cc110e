//! The whole invented day of the examples, on the shipped checklists.

use crate::support::day::{Day, Held, Plan, SMALL, answers};
use airwrit::audit::Verdict;
use airwrit::permit::decide::Known;
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::sign::Limits;
use airwrit::record::excerpt;
use airwrit::view::{Standing, StateWord};
use std::sync::OnceLock;

const PRE_START: &str = include_str!("../../examples/answers-pre-start.yaml");
const SHUTDOWN: &str = include_str!("../../examples/answers-shutdown.yaml");

fn names(held: &[Held]) -> Vec<(&str, Option<&str>)> {
    held.iter().map(|(s, i, _)| (s.as_str(), i.as_deref())).collect()
}

/// Played once for all tests.
pub fn whole() -> &'static Day {
    static DAY: OnceLock<Day> = OnceLock::new();
    DAY.get_or_init(play)
}

/// Declared, countersigned, both wearers on air and off, shut down, handed back, closed.
fn play() -> Day {
    let mut day = Day::opened(Plan::shipped());
    let n = day.number.clone();
    let held = day.play(&n, &answers(PRE_START), false);
    assert_eq!(names(&held), [("oil_level", None), ("rotation", None), ("reserve_pressure", Some("b"))]);
    assert!(held[2].2.iter().any(|w| w.contains("181")), "{:?}", held[2].2);
    for (step, item, standing, why) in day.stands(&n, false) {
        assert!(
            matches!(standing, Standing::Open | Standing::NotApplicable),
            "{step} {item:?} {standing:?} {why:?}"
        );
    }
    day.wait(60);
    day.declare(&n, "lukasz").unwrap();
    assert_eq!(day.life(&n), StateWord::Declared);
    day.wait(60);
    let refused = day.countersign(&n, "lukasz", &Limits::default()).unwrap_err();
    assert!(refused.why.iter().any(|w| w.contains("who declared")), "{refused:?}");
    let line = day.countersign(&n, "eleni", &Limits::default()).unwrap();
    // 14:30 at the site, the end of the early shift: before the work's end at 16:20.
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T13:30:00Z"));
    assert_eq!(day.life(&n), StateWord::Live);
    for p in ["zaneta", "nikos"] {
        day.wait(60);
        assert!(day.request(&n, p, Move::In).is_err());
        day.request(&n, p, Move::OnAir).unwrap_or_else(|r| panic!("{r:?}"));
        day.wait(60);
        day.request(&n, p, Move::In).unwrap_or_else(|r| panic!("{r:?}"));
    }
    assert_eq!(day.state.tally_of_permit(&n), 2);
    let first = &answers(SHUTDOWN)[0];
    let mut typed = crate::support::day::typed(&first.step, first.item.as_deref(), "yes");
    typed.shutdown = true;
    for p in ["zaneta", "nikos"] {
        let refused = day.answer(&n, &typed).unwrap_err();
        assert!(refused.why.iter().any(|w| w.contains("on air")), "{refused:?}");
        assert!(day.request_of_set("stopped").is_err());
        day.wait(600);
        day.report(Some(&n), p, Move::Out);
        day.wait(60);
        day.report(Some(&n), p, Move::OffAir);
    }
    assert_eq!(day.state.tally_of_set("heron"), 0);
    assert!(day.hand_back(&n, "lukasz", None).is_err());
    let held = day.play(&n, &answers(SHUTDOWN), true);
    assert_eq!(names(&held), [("nobody_on_air", None), ("gauges_zero", None)]);
    assert_eq!(day.life(&n), StateWord::Suspended);
    // Whoever signs for it sees what was read last.
    let found = day.ask(|k| airwrit::show::as_it_stands(k, day.lines(), &n, None)).unwrap();
    let at = |heading: &str| found.iter().position(|f| f.heading == heading).unwrap();
    let (shutdown, before) = (at("READ AT THE SHUTDOWN"), at("READ BEFORE IT"));
    assert!(
        shutdown < before && found[shutdown].lines.iter().any(|l| l.contains(": 0.0 bar at ")),
        "{found:?}"
    );
    day.wait(60);
    day.hand_back(&n, "lukasz", None).unwrap_or_else(|r| panic!("{r:?}"));
    day.wait(60);
    day.close(&n, "eleni").unwrap_or_else(|r| panic!("{r:?}"));
    assert_eq!(day.life(&n), StateWord::Closed);
    day
}

#[test]
fn the_whole_day_plays_verifies_and_replays() {
    let day = whole();
    day.assert_replays();
    let verified = day.verify();
    assert_eq!(verified.report.verdict, Verdict::Sound, "{:?}", verified.report.said);
    assert_eq!(verified.report.lines, day.lines().len() as u64);
    assert_eq!(format!("{:?}", verified.state), format!("{:?}", day.state));
    // Every answer stays, the held ones too.
    let count = |step: &str| day.state.permits[&day.number].answers.iter().filter(|a| a.step == step).count();
    assert_eq!((count("oil_level"), count("rotation"), count("reserve_pressure")), (2, 2, 4));
}

#[test]
fn an_excerpt_of_the_day_verifies() {
    let day = whole();
    let excerpt = excerpt::of(day.lines(), &day.number).unwrap();
    let v = airwrit::audit::verify_excerpt(&excerpt, Some(&crate::support::day::trust()));
    assert_eq!(v.report.verdict, Verdict::Sound, "{:?}", v.report.said);
}

/// The next permit rests on the test of the air that was taken under the one before, with the set running on: its record
/// alone judges that test as the register does, and a signature reaches what it is judged by.
#[test]
fn an_excerpt_judges_a_test_of_an_earlier_permit_as_the_register_does() {
    let tested = "      - step: tested
        ask: Tested here, and nothing since?
        confirm: true
        gate: tested and last.air_test.here and last.air_test.unbroken
      - step: own\n";
    let work = SMALL.replace("      - step: own\n", tested);
    let mut day =
        Day::opened(Plan { work, ..Plan::small() }.set("rated_flow: 874 L/min", "rated_flow: 2000 L/min"));
    let first = day.number.clone();
    day.ready(&first);
    day.wait(3600);
    let test = [
        ("date", "2026-11-25"),
        ("instrument", "meter 4"),
        ("instrument_good", "2027-03-01"),
        ("place", "quay3"),
        ("sample_point", "mask_end"),
        ("sampler", "Tuula Rask"),
        ("smell", "none"),
    ];
    day.of_set("air_test", &test);
    day.wait(60);
    day.cancel(&first, "eleni").unwrap();
    let job = day.plan.job.clone();
    day.wait(60);
    let next = day.open(&job);
    day.ready(&next);
    day.say(&next, "tested", None, "yes").unwrap();
    day.declare(&next, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    day.countersign(&next, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    let excerpt = excerpt::of(day.lines(), &next).unwrap();
    let alone = airwrit::audit::verify_excerpt(&excerpt, Some(&crate::support::day::trust()));
    assert_eq!(alone.report.verdict, Verdict::Sound, "{:?}", alone.report.said);
    let now = day.moment();
    let known = Known::new(alone.chain.as_ref().unwrap(), &alone.state, &now);
    let view = airwrit::show::permit(&known, &alone.lines, &next, None, None).unwrap();
    let step = view.stages.iter().flat_map(|s| &s.steps).find(|s| s.step == "tested").unwrap();
    assert_eq!((step.standing, step.why.as_str(), view.held), (Standing::Open, "", false));
    // What it is judged by stands in front of the permit, and is cited by the answer.
    let cited = |kind: &str| {
        let line = alone.lines.iter().find(|l| l.kind.name == kind).unwrap();
        let answer = alone.lines.iter().find(|l| l.data.text("step") == Some("tested")).unwrap();
        answer.data.texts("rests_on").contains(&line.hash.as_str())
    };
    assert!(cited("air_test") && cited("started"));
}

/// The record of a permit shows every answer that was given on it, those of the wearers after the issue too.
#[test]
fn no_answer_is_missing_from_the_record_of_an_ended_permit() {
    let day = whole();
    let permit = &day.state.permits[&day.number];
    let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &day.number, None, None).unwrap());
    let shown: usize = view.stages.iter().flat_map(|s| &s.steps).map(|s| s.answers.len()).sum();
    assert_eq!(shown, permit.answers.len());
    let steps: Vec<_> = view.stages.iter().flat_map(|s| &s.steps).collect();
    let own: Vec<_> = steps.iter().filter(|s| s.step == "breathe_outside").collect();
    assert!(own.len() == 2 && own.iter().all(|s| s.standing == Standing::Open), "{own:?}");
    for s in steps.iter().filter(|s| s.standing == Standing::Waiting) {
        assert!(s.answers.is_empty(), "{} {}", s.step, s.item);
    }
}

/// Neither in a draft's page one nor beside a step that waits; told once it was answered.
#[test]
fn a_limit_of_a_blind_step_is_not_told_before_the_answer() {
    let json = |day: &Day| {
        let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &day.number, None, None).unwrap());
        serde_json::to_string(&view).unwrap()
    };
    let draft = json(&Day::opened(Plan::shipped()));
    let live = json(whole());
    for limit in ["194 bar", "5.2 bar to 7 bar"] {
        assert!(!draft.contains(limit) && live.contains(limit), "{limit}");
    }
    let gate = "gate: siting >= 10 m\n";
    let words = "        blind: true\n        because: Within 10 m it is drawn in.\n        fix: Move it.\n";
    let mut plan = Plan::small();
    plan.work = plan.work.replace(gate, &format!("{gate}{words}"));
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    let told = |day: &Day| {
        day.on(&n, |k, p, t| {
            let bench = airwrit::permit::bench::Bench::new(k.state, p, t, k.now);
            let stands = airwrit::permit::walk::walk(&bench);
            let siting = stands.iter().find(|s| s.step.id() == "siting").unwrap();
            airwrit::show::because(&bench, siting) + &airwrit::show::wanted(&bench, siting)
        })
    };
    assert_eq!(told(&day), "");
    day.say(&n, "siting", None, "5").unwrap();
    assert_eq!(told(&day), "Within 10 m it is drawn in.siting at least 10 m");
    // The set was moved: what was read there says nothing, and what is wanted is not told again.
    day.of_set("moved", &[("place", "quay3")]);
    assert_eq!(told(&day), "");
}
