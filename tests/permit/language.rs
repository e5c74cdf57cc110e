//! What a form may ask of its answers beside a gate: how long they take, how fresh they are, whether a
//! supervisor may accept them as they are, and what was done before they were given again.

use crate::support::day::{Day, Plan, SMALL, typed};
use airwrit::permit::bench::Bench;
use airwrit::permit::decide::Refusal;
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::answer::{self, Typed};
use airwrit::permit::decide::sign::Limits;
use airwrit::permit::flags;
use airwrit::record::json::{Json, object};
use airwrit::view::{Standing, StateWord};

/// Steps after those of the small form, in its one stage.
const MORE: &str = r#"
      - step: slope
        called: the slope
        ask: Slope of the ground
        reading: { unit: m, from: 0, to: 9, decimals: 1 }
        gate: slope <= 3 m
        deviation: supervisor
      - step: chocked
        ask: Chocked for that slope?
        confirm: true
        gate: chocked and slope <= 5 m
      - step: high
        called: the gauge
        ask: Gauge
        reading: { unit: bar, from: 0, to: 350, decimals: 0 }
        gate: high >= 150 bar
        fresh: true
        takes: 20 s
        good_for: fill
"#;

fn plan() -> Plan {
    let own = "      - step: own\n";
    let (before, after) = SMALL.split_once(own).unwrap();
    Plan { work: format!("{before}{}{own}{after}", MORE.trim_start_matches('\n')), ..Plan::small() }
}

/// Everything answered; the slope as given.
fn day(slope: &str) -> (Day, String) {
    let mut day = Day::opened(plan());
    let n = day.number.clone();
    day.say(&n, "ready", None, "yes").unwrap();
    day.say(&n, "slope", None, slope).unwrap();
    day.say(&n, "chocked", None, "yes").unwrap();
    day.ready_again(&n);
    day.wait(30);
    day.say(&n, "high", None, "200").unwrap();
    (day, n)
}

fn left_so(step: &str) -> Typed {
    Typed {
        step: step.into(),
        deviation: Some(("the whole yard slopes".into(), "looked at every hour".into())),
        by: "lukasz".into(),
        ..Typed::default()
    }
}

fn accepting(keys: &[&str]) -> Limits {
    Limits { accept: keys.iter().map(|k| (*k).to_owned()).collect(), ..Limits::default() }
}

fn refused(r: Result<impl std::fmt::Debug, Refusal>) -> String {
    r.unwrap_err().why.join("\n")
}

#[test]
fn a_deviation_is_named_accepted_and_narrows() {
    let (mut day, n) = day("4");
    assert_eq!(day.standing(&n, "slope", None), Standing::Hold);
    assert!(refused(day.declare(&n, "lukasz")).contains("the slope holds"));
    let line = day.answer(&n, &left_so("slope")).unwrap();
    assert_eq!(line.data.get("deviation").unwrap().text("instead"), Some("looked at every hour"));
    assert_eq!(day.standing(&n, "slope", None), Standing::Deviation);
    // Once is enough, and nothing else is left so.
    assert!(refused(day.answer(&n, &left_so("slope"))).contains("already"));
    assert!(refused(day.answer(&n, &left_so("chocked"))).contains("no deviation"));
    let declared = day.declare(&n, "lukasz").unwrap();
    assert!(declared.data.text("said").unwrap().contains("I leave as a deviation: the slope"));

    let nothing = refused(day.countersign(&n, "eleni", &Limits::default()));
    assert!(nothing.contains("--accept slope") && nothing.contains("looked at every hour"), "{nothing}");
    assert!(refused(day.countersign(&n, "eleni", &accepting(&["slope"]))).contains("narrower"));
    // Two wearers are planned: a limit of two is none, and neither is a later end.
    for limits in [
        Limits { wearers: Some(2), ..accepting(&["slope"]) },
        Limits { until: Some("2099-01-01T00:00:00Z".into()), ..accepting(&["slope"]) },
    ] {
        assert!(refused(day.countersign(&n, "eleni", &limits)).contains("narrower"));
    }
    let one = Limits { wearers: Some(1), ..accepting(&["slope", "chocked"]) };
    assert!(refused(day.countersign(&n, "eleni", &one)).contains("`chocked` is no deviation"));
    let good = Limits { wearers: Some(1), ..accepting(&["slope"]) };
    let line = day.countersign(&n, "eleni", &good).unwrap();
    assert_eq!(line.data.texts("deviations"), ["slope"]);
    let said = line.data.text("said").unwrap();
    assert!(said.contains("I accept this deviation: the slope") && said.contains("4 m"), "{said}");

    let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &n, None, None)).unwrap();
    assert!(view.warnings.iter().any(|w| w.starts_with("Deviation, accepted by the supervisor: the slope")));
    let slope = view.stages.iter().flat_map(|s| &s.steps).find(|s| s.step == "slope").unwrap();
    assert!(slope.answers[0].deviation.contains("the whole yard slopes"), "{slope:?}");
    assert_eq!((slope.standing, slope.answers[0].standing), (Standing::Deviation, Standing::Hold));
    day.own(&n, "zaneta");
    assert!(day.forbidden(&n, "zaneta", Move::OnAir).is_empty());
    day.assert_replays();
    assert!(refused(day.answer(&n, &left_so("slope"))).contains("is live"));
}

/// Five metres are too much for the chocks, whoever accepts the slope.
#[test]
fn a_deviation_opens_no_other_gate() {
    let (mut day, n) = day("6");
    day.answer(&n, &left_so("slope")).unwrap();
    assert_eq!(day.standing(&n, "chocked", None), Standing::Hold);
    assert!(refused(day.declare(&n, "lukasz")).contains("the slope reads 6 m"));
}

#[test]
fn an_answer_given_again_ends_its_deviation() {
    let (mut day, n) = day("4");
    day.answer(&n, &left_so("slope")).unwrap();
    day.declare(&n, "lukasz").unwrap();
    let again = Typed { again: Some("moved".into()), ..typed("slope", None, "5") };
    day.answer(&n, &again).unwrap();
    assert_eq!((day.life(&n), day.standing(&n, "slope", None)), (StateWord::Draft, Standing::Hold));
    // What was declared is not what stands: the deviation of then is accepted by nobody now.
    day.answer(&n, &left_so("slope")).unwrap();
    assert_eq!(day.life(&n), StateWord::Draft);
    let open = Typed { again: Some("moved".into()), ..typed("slope", None, "2") };
    day.answer(&n, &open).unwrap();
    assert!(refused(day.answer(&n, &left_so("slope"))).contains("does not hold"));
    day.declare(&n, "lukasz").unwrap();
    let words = Limits { words: Some("no sun".into()), ..accepting(&["slope"]) };
    assert!(refused(day.countersign(&n, "eleni", &words)).contains("`slope` is no deviation"));
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
}

/// The fold refuses what no decision makes: the same words as the verifiers.
#[test]
fn the_fold_knows_deviations_and_answers_given_again() {
    let (mut day, n) = day("4");
    let form = day.state.permits[&n].form.hash.clone();
    let line = |day: &Day, step: &str, more: &[(&'static str, Json)]| {
        let members = [("form", form.as_str().into()), ("shown", "en".into()), ("step", step.into())];
        let all = members.into_iter().chain(more.iter().cloned()).map(|(k, v)| (k.to_owned(), v));
        let data = airwrit::record::json::sorted(all.collect());
        let last = day.lines().last().unwrap();
        let kind = airwrit::record::kinds::kind("answer").unwrap();
        let line = last.reporting(kind, data, last.by.as_deref(), Some(&n));
        day.state.clone().take(&line).map_err(|b| b.rule)
    };
    let so = object([("instead", "x".into()), ("reason", "y".into())]);
    assert_eq!(line(&day, "slope", &[("value", "2".into())]), Err("again"));
    assert_eq!(line(&day, "slope", &[("value", "2".into()), ("again", "moved".into())]), Ok(()));
    assert_eq!(line(&day, "own", &[("item", "zaneta".into()), ("value", "yes".into())]), Ok(()));
    assert_eq!(line(&day, "own", &[("deviation", so.clone())]), Err("deviation"));
    assert_eq!(line(&day, "slope", &[("deviation", so.clone())]), Ok(()));
    day.answer(&n, &left_so("slope")).unwrap();
    assert_eq!(line(&day, "slope", &[("deviation", so)]), Err("deviation"));
}

/// 60 min in the example's site file.
#[test]
fn a_fresh_reading_is_taken_again_when_the_supervisor_comes_late() {
    let (mut day, n) = day("2");
    day.wait(61 * 60);
    assert!(refused(day.declare(&n, "lukasz")).contains("the gauge: asked again: it is fresh for 60 min"));
    // The program asked, and knows why.
    let line = day.say(&n, "high", None, "199").unwrap();
    assert_eq!(line.data.text("again"), Some("asked_again"));
    day.declare(&n, "lukasz").unwrap();
    day.wait(60 * 60 + 1);
    let late = day.countersign(&n, "eleni", &Limits::default()).unwrap_err();
    let why = late.why.join("\n");
    assert!(why.contains("the gauge: asked again") && why.contains("declares again"), "{why}");
    assert!(!why.contains("slope"), "{why}");
    day.say(&n, "high", None, "199").unwrap();
    assert_eq!(day.life(&n), StateWord::Draft);
    day.declare(&n, "lukasz").unwrap();
    day.wait(60 * 60 - 1);
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
    // Once issued it stands, however long the work takes.
    day.wait(2 * 60 * 60);
    assert_eq!(day.standing(&n, "high", None), Standing::Open);
}

fn flagged(day: &Day, n: &str) -> Vec<String> {
    day.on(n, |k, p, t| flags::of(&Bench::new(k.state, p, t, k.now)).into_iter().map(|f| f.whole).collect())
}

#[test]
fn quick_answers_read_wrong_and_the_same_again_are_flagged_and_refused_by_nobody() {
    let (mut day, n) = day("2");
    assert!(flagged(&day, &n).is_empty());
    let high = |value: &str, again: &str| Typed { again: Some(again.into()), ..typed("high", None, value) };
    day.wait(19);
    day.answer(&n, &high("140", "asked_again")).unwrap();
    assert_eq!(flagged(&day, &n), ["the gauge: answered 19 s after it could first be, which takes 20 s"]);
    day.wait(20);
    day.answer(&n, &high("160", "read_wrong")).unwrap();
    day.wait(20);
    day.answer(&n, &high("160", "waited")).unwrap();
    day.wait(20);
    day.answer(&n, &high("160", "refilled")).unwrap();
    let all = flagged(&day, &n);
    assert_eq!(
        all[1..],
        [
            "the gauge: said to be read wrong: 140 bar, then 160 bar",
            "the gauge: reads 160 bar again after \"refilled\""
        ]
    );
    day.of_set("filled", &[("from", "this_set"), ("date", "2026-11-25")]);
    day.wait(20);
    day.say(&n, "high", None, "160").unwrap();
    assert!(flagged(&day, &n)[3].contains("again after the reserve was filled"), "{:?}", flagged(&day, &n));
    let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &n, None, None)).unwrap();
    assert_eq!(view.flags, flagged(&day, &n));
    let high = view.stages.iter().flat_map(|s| &s.steps).find(|s| s.step == "high").unwrap();
    assert_eq!(high.answers.iter().map(|a| a.flags.len()).collect::<Vec<_>>(), [0, 1, 1, 0, 1, 1]);
    day.declare(&n, "lukasz").unwrap();
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
}

/// What ended the answer says why it is asked again; what had held must be told by whoever mended it.
#[test]
fn after_a_hold_somebody_says_what_was_done_even_if_it_went_stale() {
    let (mut day, n) = day("2");
    let low = Typed { again: Some("asked_again".into()), ..typed("high", None, "120") };
    day.answer(&n, &low).unwrap();
    day.of_set("filled", &[("from", "this_set"), ("date", "2026-11-25")]);
    assert_eq!(day.standing(&n, "high", None), Standing::Waiting);
    let silent = day.say(&n, "high", None, "230").unwrap_err();
    assert!(silent.instead.unwrap().contains("--again"));
    day.answer(&n, &Typed { again: Some("refilled".into()), ..typed("high", None, "230") }).unwrap();
    day.of_set("filled", &[("from", "this_set"), ("date", "2026-11-25")]);
    day.say(&n, "high", None, "231").unwrap();
    let since = |day: &Day, step: &str| {
        day.on(&n, |k, p, t| {
            let bench = Bench::new(k.state, p, t, k.now);
            let stands = airwrit::permit::walk::walk(&bench);
            answer::since(&bench, stands.iter().find(|s| s.step.id() == step).unwrap())
        })
    };
    assert_eq!(since(&day, "spare"), answer::Since::AskedAgain);
    assert_eq!(since(&day, "own"), answer::Since::Nothing);
    assert_eq!(since(&day, "high"), answer::Since::Asked);
}
