//! Verdicts, truth tables, folds, readings below the mark, sentences.

use super::*;

pub(super) fn shut(source: &str, all: &[(&str, Fact)]) -> Vec<String> {
    match judged(source, all) {
        Verdict::Shut(reasons) => reasons,
        other @ (Verdict::Open | Verdict::Unknown(_)) => panic!("{source}: {other:?}"),
    }
}

pub(super) fn unknown(source: &str, all: &[(&str, Fact)]) -> Vec<String> {
    match judged(source, all) {
        Verdict::Unknown(reasons) => reasons,
        other @ (Verdict::Open | Verdict::Shut(_)) => panic!("{source}: {other:?}"),
    }
}

#[test]
fn the_sentence_of_a_short_cylinder() {
    let reserve = Fact::List(vec![
        ("cylinder A".to_owned(), reads("Gauge of cylinder A", "207 bar")),
        ("cylinder B".to_owned(), reads("Gauge of cylinder B", "138 bar")),
    ]);
    let minimum = Fact::Is {
        value: Value::Quantity(q("15 MPa")),
        shown: "15 MPa".to_owned(),
        label: "least reserve".to_owned(),
    };
    assert_eq!(
        shut("least(reserve) >= 150 bar", &[("reserve", reserve.clone())]),
        ["Gauge of cylinder B reads 138 bar, wanted at least 150 bar, short by 12 bar"]
    );
    assert_eq!(
        shut(
            "set.reserve_minimum <= least(reserve)",
            &[("reserve", reserve.clone()), ("set.reserve_minimum", minimum)]
        ),
        ["Gauge of cylinder B reads 138 bar, wanted at least 150 bar (least reserve), short by 12 bar"]
    );
    assert_eq!(
        shut("all(reserve >= 150 bar)", &[("reserve", reserve)]),
        ["Gauge of cylinder B reads 138 bar, wanted at least 150 bar, short by 12 bar"]
    );
}

#[test]
fn the_sentence_of_an_air_test_out_of_date() {
    assert_eq!(
        shut(
            "last.air_test.taken + 3 months >= today",
            &[("last.air_test.taken", day("air test taken", "2026-08-01"))]
        ),
        ["air test taken 2026-08-01, good until 2026-11-01, today is 2026-11-25: 24 days over"]
    );
    assert_eq!(
        shut("today - tested_on <= 90 days", &[("tested_on", day("air test taken", "2026-08-01"))]),
        ["today - tested_on is 116 days, wanted at most 90 days, over by 26 days"]
    );
}

#[test]
fn a_limit_met_exactly_is_met_in_every_unit() {
    // With f64, 0.11 MPa >= 1.10 bar comes out false.
    assert_eq!(judged("supply >= 1.10 bar", &[("supply", reads("supply", "0.11 MPa"))]), Verdict::Open);
    assert_eq!(judged("supply >= 110 kPa", &[("supply", reads("supply", "1.1 bar"))]), Verdict::Open);
    assert_eq!(
        judged("air_temperature <= 104 °F", &[("air_temperature", reads("air", "40 °C"))]),
        Verdict::Open
    );
}

#[test]
fn unknown_names_are_told_all_at_once() {
    assert_eq!(
        unknown("supply >= 5 bar and co <= 5 ppm and earthed", &[]),
        ["not answered yet: supply", "not answered yet: co", "not answered yet: earthed"]
    );
}

/// A condition in each of the three states.
fn three(state: Verdict3, which: &str) -> Fact {
    match state {
        Verdict3::Open => yes_no(which, true),
        Verdict3::Shut => yes_no(which, false),
        Verdict3::Unknown => Fact::Unknown(format!("{which} lacks")),
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict3 {
    Open,
    Shut,
    Unknown,
}

pub(super) fn state(verdict: &Verdict) -> Verdict3 {
    match verdict {
        Verdict::Open => Verdict3::Open,
        Verdict::Shut(_) => Verdict3::Shut,
        Verdict::Unknown(_) => Verdict3::Unknown,
    }
}

#[test]
fn truth_tables_are_complete() {
    use Verdict3::{Open as O, Shut as S, Unknown as U};
    // left, right, and, or, left == right
    let table = [
        (O, O, O, O, O),
        (O, S, S, O, S),
        (O, U, U, O, U),
        (S, O, S, O, S),
        (S, S, S, S, O),
        (S, U, S, U, U),
        (U, O, U, O, U),
        (U, S, S, U, U),
        (U, U, U, U, U),
    ];
    let not = |s| match s {
        O => S,
        S => O,
        U => U,
    };
    for (l, r, and, or, same) in table {
        let all = [("earthed", three(l, "earthed")), ("guards", three(r, "guards"))];
        let of = |source: &str| state(&judged(source, &all));
        assert_eq!(of("earthed"), l);
        assert_eq!(of("earthed and guards"), and, "{l:?} and {r:?}");
        assert_eq!(of("earthed or guards"), or, "{l:?} or {r:?}");
        assert_eq!(of("earthed == guards"), same, "{l:?} == {r:?}");
        assert_eq!(of("earthed != guards"), not(same));
        assert_eq!(of("not earthed"), not(l));
        assert_eq!(of("not (earthed and guards)"), not(and));
        assert_eq!(of("not (earthed or guards)"), not(or));
        assert_eq!(of("not not (earthed or guards)"), or);
        assert_eq!(of("earthed == true"), l);
        assert_eq!(of("earthed == false"), not(l));
        let list = Fact::List(vec![("one".to_owned(), three(l, "one")), ("two".to_owned(), three(r, "two"))]);
        let of = |source: &str| state(&judged(source, &[("marked", list.clone())]));
        assert_eq!(of("all(marked)"), and, "all is and");
        assert_eq!(of("any(marked)"), or, "any is or");
        assert_eq!(of("not all(marked)"), not(and));
        assert_eq!(of("not any(marked)"), not(or));
    }
}

#[test]
fn everything_failed_and_missing_is_told() {
    let all = [("supply", reads("supply", "4 bar")), ("earthed", yes_no("set earthed", false))];
    assert_eq!(
        shut("supply >= 5 bar and earthed and co <= 5 ppm", &all),
        [
            "supply reads 4 bar, wanted at least 5 bar, short by 1 bar",
            "set earthed: no, wanted yes",
            "not answered yet: co"
        ]
    );
    assert_eq!(
        unknown("supply >= 5 bar or co <= 5 ppm", &all),
        ["not answered yet: co", "supply reads 4 bar, wanted at least 5 bar, short by 1 bar"]
    );
    assert_eq!(
        shut("supply >= 5 bar or earthed", &all),
        ["supply reads 4 bar, wanted at least 5 bar, short by 1 bar; or else: set earthed: no, wanted yes"]
    );
    assert_eq!(judged("supply >= 4 bar or co <= 5 ppm", &all), Verdict::Open, "one open branch is enough");
    assert_eq!(
        shut("not (supply < 5 bar)", &all),
        ["supply reads 4 bar, wanted at least 5 bar, short by 1 bar"]
    );
    assert_eq!(
        unknown("co + 1 ppm <= co + minutes / minutes * 5 ppm", &all),
        ["not answered yet: co", "not answered yet: minutes"]
    );
}

#[test]
fn between_has_both_ends() {
    for (reading, open) in
        [("4.99 bar", false), ("5 bar", true), ("8.5 bar", true), ("850 kPa", true), ("8.51 bar", false)]
    {
        let verdict = judged("supply between 5 bar and 8.5 bar", &[("supply", reads("supply", reading))]);
        assert_eq!(verdict == Verdict::Open, open, "{reading}");
        let other = judged("not (supply between 5 bar and 8.5 bar)", &[("supply", reads("supply", reading))]);
        assert_eq!(other == Verdict::Open, !open, "{reading}");
    }
    assert_eq!(
        shut("supply between 5 bar and 8.5 bar", &[("supply", reads("supply", "8.75 bar"))]),
        ["supply reads 8.75 bar, wanted at most 8.5 bar, over by 0.25 bar"]
    );
}

#[test]
fn division_by_nought_is_unknown_and_says_so() {
    assert_eq!(
        unknown(
            "supply / share >= 5 bar",
            &[("supply", reads("supply", "5 bar")), ("share", reads("share", "0"))]
        ),
        ["supply / share cannot be worked out: share is nought"]
    );
    assert_eq!(unknown("5 bar / (2 - 2) >= 5 bar", &[]).len(), 1);
    assert!(matches!(
        judged("not (supply / 0 >= 5 bar)", &[("supply", reads("supply", "5 bar"))]),
        Verdict::Unknown(_)
    ));
}

#[test]
fn dates_follow_the_calendar() {
    let on = |source: &str, date: &str| derived(source, &[("tested_on", day("tested", date))]);
    let date = |text: &str| Ok(Value::Date(text.parse().unwrap()));
    assert_eq!(on("tested_on + 1 month", "2026-01-31"), date("2026-02-28"));
    assert_eq!(on("tested_on + 12 months", "2024-02-29"), date("2025-02-28"));
    assert_eq!(on("tested_on - 1 month", "2026-03-31"), date("2026-02-28"));
    assert_eq!(on("tested_on + 3 months - 1 day", "2026-11-30"), date("2027-02-27"));
    assert_eq!(on("tested_on + (1 month - 1 day)", "2026-01-31"), date("2026-02-27"));
    assert_eq!(on("2026-11-25 - tested_on", "2026-02-25"), Ok(Value::Span { months: 0, days: 273 }));
    assert_eq!(on("tested_on - 2026-11-25", "2026-11-24"), Ok(Value::Span { months: 0, days: -1 }));
    assert!(
        on("tested_on + 36525 months + 36525 months + 36525 months", "2026-01-31").is_err(),
        "out of range"
    );
    // Good until the day itself.
    let to_day =
        |date: &str| state(&judged("tested_on + 3 months >= today", &[("tested_on", day("tested", date))]));
    assert_eq!(to_day("2026-08-25"), Verdict3::Open);
    assert_eq!(to_day("2026-08-24"), Verdict3::Shut);
}

#[test]
fn what_is_to_spare_is_told_of_what_people_call_it_and_not_of_names_in_a_file() {
    let all =
        [("supply", reads("supply", "8 bar")), ("set.reserve_minimum", reads("least reserve", "6 bar"))];
    let margins = gate("supply - 1 bar >= set.reserve_minimum / 2").margins(&facts(&all));
    let words: Vec<&str> = margins.iter().map(|m| m.words.as_str()).collect();
    assert_eq!(
        words,
        ["supply less 1 bar is 7 bar, wanted at least 3 bar (least reserve divided by 2): 4 bar to spare"]
    );
}

#[test]
fn why_it_is_not_open_is_told_of_what_people_call_it_and_the_record_keeps_the_words_of_the_file() {
    let all =
        [("supply", reads("supply", "8 bar")), ("set.reserve_minimum", reads("least reserve", "6 bar"))];
    let source = "supply - 6 bar >= set.reserve_minimum / 2";
    let told = |source: &str, all: &[(&str, Fact)]| {
        gate(source)
            .reasons(&facts(all), &|name: &Name| (name.join(".") == "guards").then(|| "the guards".into()))
    };
    assert_eq!(
        shut(source, &all),
        ["supply - 6 bar is 2 bar, wanted at least 3 bar (set.reserve_minimum / 2), short by 1 bar"]
    );
    assert_eq!(
        told(source, &all),
        ["supply less 6 bar is 2 bar, wanted at least 3 bar (least reserve divided by 2), short by 1 bar"]
    );
    let both = [("guards", yes_no("guards", true)), ("earthed", yes_no("the earthing", false))];
    assert_eq!(
        shut("guards == earthed", &both),
        ["guards is yes and earthed is no, wanted the same for both"]
    );
    assert_eq!(
        told("guards == earthed", &both),
        ["the guards is yes and the earthing is no, wanted the same for both"]
    );
    assert_eq!(told("guards", &[("guards", Fact::NotApplicable)]), ["the guards is not applicable"]);
    assert!(told("guards", &both).is_empty());
}

#[test]
fn a_shortfall_is_never_hidden_by_rounding() {
    // 1/3 bar more than is there: no decimal text says it exactly, so it is rounded up.
    assert_eq!(
        shut(
            "supply >= set.reserve_minimum / 3",
            &[("supply", reads("supply", "3 bar")), ("set.reserve_minimum", reads("least", "10 bar"))]
        ),
        ["supply reads 3 bar, wanted at least 3.334 bar (set.reserve_minimum / 3), short by 0.334 bar"]
    );
    assert_eq!(
        shut("supply > 5 bar", &[("supply", reads("supply", "5 bar"))]),
        ["supply reads 5 bar, wanted more than 5 bar"]
    );
    assert_eq!(
        shut("air_temperature <= 40 °C", &[("air_temperature", reads("air", "113 °F"))]),
        ["air reads 113 °F, wanted at most 104 °F, over by 9 dF"]
    );
    assert_eq!(
        shut("rotation == \"with_arrow\"", &[("rotation", chose("rotation", "against_arrow"))]),
        ["rotation is against arrow, wanted with arrow"]
    );
}

#[test]
fn a_fact_of_another_kind_opens_nothing() {
    let text = Fact::Is {
        value: Value::Text("149".to_owned()),
        shown: "149".to_owned(),
        label: "supply".to_owned(),
    };
    for fact in [
        text,
        yes_no("x", true),
        reads("x", "150"),
        reads("x", "150 V"),
        day("x", "2026-11-25"),
        Fact::List(Vec::new()),
        Fact::NotApplicable,
    ] {
        for source in [
            "supply >= 150 bar",
            "supply <= 150 bar",
            "not (supply >= 150 bar)",
            "supply != 150 bar",
            "supply == 150 bar",
        ] {
            assert!(
                matches!(judged(source, &[("supply", fact.clone())]), Verdict::Unknown(_)),
                "{source} {fact:?}"
            );
        }
    }
    assert!(matches!(
        judged("rotation == \"with_arrow\"", &[("rotation", chose("r", "sideways"))]),
        Verdict::Unknown(_)
    ));
    assert!(matches!(
        judged("rotation != \"with_arrow\"", &[("rotation", chose("r", "sideways"))]),
        Verdict::Unknown(_)
    ));
}
