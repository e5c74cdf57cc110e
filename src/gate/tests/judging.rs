//! Verdicts, truth tables, folds, readings below the mark, sentences.

use super::*;

fn shut(source: &str, all: &[(&str, Fact)]) -> Vec<String> {
    match judged(source, all) {
        Verdict::Shut(reasons) => reasons,
        other => panic!("{source}: {other:?}"),
    }
}

fn unknown(source: &str, all: &[(&str, Fact)]) -> Vec<String> {
    match judged(source, all) {
        Verdict::Unknown(reasons) => reasons,
        other => panic!("{source}: {other:?}"),
    }
}

#[test]
fn the_sentence_of_a_short_cylinder() {
    let reserve = Fact::List(vec![
        (
            "cylinder A".to_owned(),
            reads("Gauge of cylinder A", "207 bar"),
        ),
        (
            "cylinder B".to_owned(),
            reads("Gauge of cylinder B", "138 bar"),
        ),
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
            &[
                ("reserve", reserve.clone()),
                ("set.reserve_minimum", minimum)
            ]
        ),
        [
            "Gauge of cylinder B reads 138 bar, wanted at least 150 bar (least reserve), short by 12 bar"
        ]
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
        shut(
            "today - tested_on <= 90 days",
            &[("tested_on", day("air test taken", "2026-08-01"))]
        ),
        ["today - tested_on is 116 days, wanted at most 90 days, over by 26 days"]
    );
}

#[test]
fn a_limit_met_exactly_is_met_in_every_unit() {
    // With f64, 0.11 MPa >= 1.10 bar comes out false.
    assert_eq!(
        judged(
            "supply >= 1.10 bar",
            &[("supply", reads("supply", "0.11 MPa"))]
        ),
        Verdict::Open
    );
    assert_eq!(
        judged(
            "supply >= 110 kPa",
            &[("supply", reads("supply", "1.1 bar"))]
        ),
        Verdict::Open
    );
    assert_eq!(
        judged(
            "air_temperature <= 104 °F",
            &[("air_temperature", reads("air", "40 °C"))]
        ),
        Verdict::Open
    );
}

#[test]
fn unknown_names_are_told_all_at_once() {
    assert_eq!(
        unknown("supply >= 5 bar and co <= 5 ppm and earthed", &[]),
        [
            "not answered yet: supply",
            "not answered yet: co",
            "not answered yet: earthed"
        ]
    );
}
