//! Folds, `given`, readings below the mark, `absolute`.

use super::judging::{Verdict3, shut, state, unknown};
use super::*;

#[test]
fn folds_over_items() {
    let items = |all: &[&str]| {
        Fact::List(
            all.iter()
                .enumerate()
                .map(|(i, text)| {
                    let item = format!("cylinder {}", i + 1);
                    let fact = match *text {
                        "-" => Fact::NotApplicable,
                        "?" => Fact::Unknown(format!("not answered yet: gauge of {item}")),
                        text => reads(&format!("gauge of {item}"), text),
                    };
                    (item, fact)
                })
                .collect(),
        )
    };
    let of = |source: &str, all: &[&str]| derived(source, &[("reserve", items(all))]);
    let is = |text: &str| Ok(Value::Quantity(q(text)));
    assert_eq!(of("least(reserve)", &["200 bar", "-", "19.5 MPa"]), is("195 bar"));
    assert_eq!(of("most(reserve)", &["200 bar", "-", "19.5 MPa"]), is("200 bar"));
    assert_eq!(of("sum(reserve)", &["200 bar", "-", "19.5 MPa"]), is("395 bar"));
    assert_eq!(of("count(reserve)", &["200 bar", "-", "19.5 MPa"]), is("2"));
    // Over nothing, or nothing that applies.
    for none in [&[][..], &["-"], &["-", "-"]] {
        assert_eq!(of("sum(reserve)", none), is("0 bar"));
        assert_eq!(of("count(reserve)", none), is("0"));
        for source in [
            "least(reserve) >= 0 bar",
            "all(reserve >= 0 bar)",
            "any(reserve >= 0 bar)",
            "not any(reserve >= 0 bar)",
        ] {
            assert_eq!(unknown(source, &[("reserve", items(none))]), ["there are no cylinders"], "{source}");
        }
    }
    for source in ["least(reserve)", "most(reserve)", "sum(reserve)", "count(reserve)"] {
        assert_eq!(
            of(source, &["200 bar", "?"]),
            Err(vec!["not answered yet: gauge of cylinder 2".to_owned()]),
            "{source}"
        );
    }
    assert_eq!(
        state(&judged("any(reserve > 1 bar)", &[("reserve", items(&["?", "2 bar"]))])),
        Verdict3::Open
    );
    assert_eq!(
        shut("least(reserve) >= 150 bar", &[("reserve", items(&["138 bar", "151 bar", "14 MPa"]))]),
        [
            "gauge of cylinder 1 reads 138 bar, wanted at least 150 bar, short by 12 bar",
            "gauge of cylinder 3 reads 14 MPa, wanted at least 15 MPa, short by 1 MPa"
        ]
    );
}

#[test]
fn a_condition_of_each_item_sees_all_its_lists() {
    let valves = |a: &str, b: &str| {
        Fact::List(vec![("A".to_owned(), chose("valve of A", a)), ("B".to_owned(), chose("valve of B", b))])
    };
    let gauges = Fact::List(vec![
        ("B".to_owned(), reads("gauge of B", "100 bar")),
        ("A".to_owned(), reads("gauge of A", "200 bar")),
    ]);
    let source = "all(valve == \"open\" and reserve >= 150 bar or valve == \"closed\")";
    assert_eq!(
        judged(source, &[("valve", valves("open", "closed")), ("reserve", gauges.clone())]),
        Verdict::Open
    );
    let reasons = shut(source, &[("valve", valves("open", "open")), ("reserve", gauges)]);
    assert_eq!(
        reasons,
        [
            "gauge of B reads 100 bar, wanted at least 150 bar, short by 50 bar; or else: valve of B is open, wanted closed"
        ]
    );
    let lonely = Fact::List(vec![("A".to_owned(), reads("gauge of A", "200 bar"))]);
    assert_eq!(
        unknown(
            "all(valve == \"open\" and reserve >= 150 bar)",
            &[("valve", valves("open", "open")), ("reserve", lonely)]
        ),
        ["reserve is not known of B"]
    );
    // Whichever list has the item, and whichever comes first.
    let one = Fact::List(vec![("A".to_owned(), chose("valve of A", "open"))]);
    let two = Fact::List(vec![
        ("A".to_owned(), reads("gauge of A", "200 bar")),
        ("B".to_owned(), reads("gauge of B", "9 bar")),
    ]);
    let source = "all(valve == \"open\" and reserve >= 150 bar)";
    assert_eq!(
        shut(source, &[("valve", one), ("reserve", two.clone())]),
        ["gauge of B reads 9 bar, wanted at least 150 bar, short by 141 bar", "valve is not known of B"]
    );
    // A part that does not apply does not let the item off the rest.
    let part = Fact::List(vec![
        ("A".to_owned(), chose("valve of A", "open")),
        ("B".to_owned(), Fact::NotApplicable),
    ]);
    assert_eq!(state(&judged(source, &[("valve", part), ("reserve", two)])), Verdict3::Shut);
}

#[test]
fn a_reading_below_the_mark_is_every_value_it_may_be() {
    let below = |from: &str, mark: &str| Fact::Below {
        from: q(from),
        mark: q(mark),
        shown: format!("< {mark}"),
        label: "CO".to_owned(),
    };
    let co = |source: &str| state(&judged(source, &[("co", below("0 ppm", "2 ppm"))]));
    use Verdict3::{Open as O, Shut as S, Unknown as U};
    for (source, wanted) in [
        ("co <= 5 ppm", O),
        ("co < 2 ppm", O),
        ("co <= 2 ppm", O),
        ("co >= 2 ppm", S),
        ("co > 2 ppm", S),
        ("co == 2 ppm", S),
        ("co != 2 ppm", O),
        ("co >= 0 ppm", O),
        ("co > 0 ppm", U),
        ("co < 0 ppm", S),
        ("co <= 0 ppm", U),
        ("co == 0 ppm", U),
        ("co < 1 ppm", U),
        ("not (co < 1 ppm)", U),
        ("co * 2 < 4 ppm", O),
        ("co * 0 <= 0 ppm", O),
        ("-co > -2 ppm", O),
        ("10 ppm - co > 8 ppm", O),
        ("10 ppm - co > 9 ppm", U),
        ("co between 0 ppm and 2 ppm", O),
        ("co between 0 ppm and 1 ppm", U),
        ("co + 3 ppm >= 5 ppm", S),
    ] {
        assert_eq!(co(source), wanted, "{source}");
    }
    assert_eq!(
        unknown("co <= 1 ppm", &[("co", below("0 ppm", "2 ppm"))]),
        ["CO reads < 2 ppm: that does not tell whether it is at most 1 ppm"]
    );
    assert_eq!(
        shut("co >= 0.5 %", &[("co", below("0 ppm", "2 ppm"))]),
        ["CO reads < 2 ppm, wanted at least 5000 ppm, short by 4998 ppm"]
    );
    assert!(derived("co + 1 ppm", &[("co", below("0 ppm", "2 ppm"))]).is_err(), "no single value");
    // Nought times anything is nought, even where neither end is reached.
    let share =
        Fact::Below { from: q("0"), mark: q("2"), shown: "< 2".to_owned(), label: "share".to_owned() };
    assert_eq!(judged("(share - share) * 0 >= 0", &[("share", share)]), Verdict::Open);
    let upside_down = below("3 ppm", "2 ppm");
    assert!(matches!(judged("co <= 5 ppm", &[("co", upside_down)]), Verdict::Unknown(_)));
    let list =
        Fact::List(vec![("A".to_owned(), below("0 bar", "5 bar")), ("B".to_owned(), reads("B", "3 bar"))]);
    let of = |source: &str| state(&judged(source, &[("reserve", list.clone())]));
    assert_eq!(of("least(reserve) <= 3 bar"), O);
    assert_eq!(of("least(reserve) >= 1 bar"), U);
    assert_eq!(of("most(reserve) < 5 bar"), O);
    assert_eq!(of("sum(reserve) < 8 bar"), O);
}

#[test]
fn given_asks_and_stands_in() {
    use Verdict3::{Open as O, Shut as S, Unknown as U};
    let with = |source: &str, fact: Option<Fact>| {
        let all: Vec<(&str, Fact)> = fact.into_iter().map(|f| ("fuel", f)).collect();
        state(&judged(source, &all))
    };
    let some = || Some(reads("fuel", "8 L"));
    assert_eq!(with("given(fuel)", some()), O);
    assert_eq!(with("given(fuel)", Some(Fact::NotApplicable)), S);
    assert_eq!(with("given(fuel)", None), U, "a step not answered yet is waited for");
    assert_eq!(with("not given(fuel)", Some(Fact::NotApplicable)), O);
    assert_eq!(with("not given(fuel)", None), U);
    assert_eq!(with("given(fuel, 10 L) >= 10 L", some()), S);
    assert_eq!(with("given(fuel, 10 L) >= 10 L", Some(Fact::NotApplicable)), O);
    assert_eq!(
        with("given(fuel, 10 L) >= 10 L", None),
        U,
        "a default does not stand in for a reading to come"
    );
    // A field that the file in force leaves out.
    assert_eq!(state(&judged("given(site.way_out_factor, 1.5) >= 1.5", &[])), O);
    assert_eq!(state(&judged("given(site.way_out_factor)", &[])), S);
    assert_eq!(
        shut("given(fuel, 5 L) >= 10 L", &[("fuel", Fact::NotApplicable)]),
        ["fuel is not given and counts as 5 L, wanted at least 10 L, short by 5 L"]
    );
    let remarks = Fact::Is {
        value: Value::Text("none".to_owned()),
        shown: "none".to_owned(),
        label: "remarks".to_owned(),
    };
    assert_eq!(judged("given(remarks)", &[("remarks", remarks)]), Verdict::Open);
}

#[test]
fn absolute_is_gauge_and_ambient() {
    let all =
        [("supply", reads("supply", "5 bar")), ("site.ambient_pressure", reads("ambient", "0.9 bar_abs"))];
    assert_eq!(
        derived("absolute(supply, site.ambient_pressure)", &all),
        Ok(Value::Quantity(q("5.9 bar_abs")))
    );
    let vacuum =
        [("supply", reads("supply", "-1 bar")), ("site.ambient_pressure", reads("ambient", "0.9 bar_abs"))];
    assert!(derived("absolute(supply, site.ambient_pressure)", &vacuum).is_err());
}
