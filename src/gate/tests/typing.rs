//! What is refused when a file is read, and what is taken.

use super::*;

#[track_caller]
fn refused(source: &str, code: &str) -> Vec<Problem> {
    let problems = problems(source);
    assert!(!problems.is_empty(), "{source} was taken");
    assert!(problems.iter().any(|p| p.code == code), "{source}: wanted {code}, got {problems:#?}");
    for problem in &problems {
        assert!(problem.at <= source.len() && source.is_char_boundary(problem.at), "{source}: {problem:?}");
    }
    problems
}

#[track_caller]
fn hinted(source: &str, code: &str, hint: &str) {
    let problems = refused(source, code);
    let found =
        problems.iter().any(|p| p.code == code && p.hint.as_deref().is_some_and(|h| h.contains(hint)));
    assert!(found, "{source}: wanted the hint {hint:?}, got {problems:#?}");
}

/// What a template engine answers without an error (measured; all of these came out true, or
/// silently false). Here each is refused when the file is read.
#[test]
fn silent_wrong_answers_of_template_engines_are_refused() {
    // "149" >= 150: any text against a number
    hinted("\"149\" >= 150", "bad-text", "149 without");
    hinted("\"150 bar\" >= supply", "bad-text", "150 bar without");
    refused("\"abc\" >= 150", "wrong-type");
    refused("remarks >= 150", "text-compared");
    refused("rotation >= 150", "wrong-type");
    // [..] > 5, {..} > 5: a list against a number
    hinted("reserve > 5 bar", "list-outside-fold", "least(reserve)");
    refused("[1, 2] > 5", "stray-character");
    refused("{} > 5", "stray-character");
    // none <= 150, none < 0: a blank reading; it is unknown, or may be not applicable
    refused("none <= 150", "unknown-name");
    refused("fuel <= 150 L", "may-not-apply");
    assert!(matches!(judged("supply <= 150 bar", &[]), Verdict::Unknown(_)), "a blank passes no upper limit");
    // nan >= 150
    refused("nan >= 150", "unknown-name");
    assert!(Quantity::read("nan bar").is_err());
    // true >= 1, true == 1, true + 1
    refused("true >= 1", "wrong-type");
    refused("true == 1", "wrong-type");
    refused("earthed == 1", "wrong-type");
    refused("true + 1 == 2", "wrong-type");
    // '10' < '9': text order
    refused("'10' < '9'", "bad-text");
    refused("\"a10\" < \"a9\"", "lone-choice");
    refused("rotation < \"with_arrow\"", "wrong-type");
    // '149' == 149, flag == 'true', 1 in ['1']
    refused("'149' == 149", "bad-text");
    refused("earthed == 'true'", "bad-text");
    refused("earthed == \"true\"", "wrong-type");
    refused("1 in ['1']", "stray-character");
    // 1 in '123'
    refused("1 in \"123\"", "bad-text");
    // 'false' and true, not 'false': text as a condition
    refused("\"false\" and true", "lone-choice");
    refused("not \"false\"", "lone-choice");
    refused("not remarks", "text-compared");
    // x or y gives an operand
    refused("supply or earthed", "not-a-condition");
    refused("(earthed or guards) + 1 > 0", "wrong-type");
    // filters
    refused("valve|map('upper')", "operator");
    refused("supply|int >= 5", "operator");
    refused("fuel|default(5 L) >= 5 L", "operator");
}

#[test]
fn what_the_language_has_is_taken() {
    for source in [
        "earthed",
        "not earthed or guards and supply >= 5 bar",
        "supply between 5 bar and 8.5 bar and co <= 5 ppm",
        "supply - 1 bar >= 50 kPa * 2",
        "supply / 200 bar >= 0.9",
        "2 * supply >= set.reserve_minimum",
        "rotation == \"with_arrow\"",
        "\"with_arrow\" != rotation",
        "rotation == rotation_again",
        "drive == job.drive",
        "earthed == true and guards != earthed",
        "(supply >= 5 bar) == (co <= 5 ppm)",
        "tested_on + 3 months >= today",
        "3 months + tested_on >= today",
        "tested_on + 3 months - 10 days > today",
        "tested_on + notice >= today",
        "today - tested_on <= 90 days",
        "tested_on >= 2026-01-31",
        "today - tested_on between 0 days and 90 days",
        "air_temperature - -5 °C <= 40 K",
        "air_temperature + rise <= 60 degC",
        "rise * 2 < 10 dF",
        "minutes * flow <= sum(set.cylinders.volume)",
        "sum(set.cylinders.volume) / flow >= minutes",
        "length / minutes <= wind",
        "least(reserve) >= set.reserve_minimum",
        "most(set.cylinders.due) >= today",
        "count(set.cylinders.serial) >= 2",
        "count(reserve) > 1",
        "all(marked)",
        "any(valve == \"open\")",
        "all(valve == \"open\" and reserve >= 150 bar)",
        "all(reserve >= least(reserve))",
        "given(remarks)",
        "given(fuel) and given(fuel, 0 L) >= 5 L",
        "given(fuel_kind, \"diesel\") == \"diesel\"",
        "absolute(supply, site.ambient_pressure) >= 6 bar_abs",
        "oil <= 0.5 mg/m3",
        "((((earthed))))",
        "-supply <= 0 bar",
        "not not earthed",
        "minutes >= job.way_out * site.way_out_factor and minutes >= 10 min",
        "supply\n  >= 5 bar",
    ] {
        assert_eq!(codes(source), Vec::<&str>::new(), "{source}");
    }
}

#[test]
fn dimensions_are_kept_apart() {
    for source in [
        "air_temperature + air_temperature <= 40 °C",
        "air_temperature * 2 <= 40 °C",
        "2 * air_temperature <= 40 °C",
        "air_temperature / 2 <= 40 °C",
        "air_temperature / air_temperature <= 2",
        "rise <= 40 °C",
        "air_temperature <= 40 K",
        "supply >= 6 bar_abs",
        "supply + ambient >= 6 bar_abs",
        "co <= 5 mg/m3",
        "oil <= 5 ppm",
        "co + oil <= 5 ppm",
        "supply >= 5",
        "supply >= 5 V",
        "supply * length >= 5",
        "voltage * current <= 5 kW",
        "1 / minutes >= 3",
        "supply between 5 bar and 8 V",
    ] {
        refused(source, "wrong-dimension");
    }
    hinted("supply >= 6 bar_abs", "wrong-dimension", "absolute(");
    hinted("-air_temperature <= 5 °C", "wrong-type", "-5 °C");
    refused("sum(set.cylinders.warmth) <= 40 °C", "wrong-arguments");
}

#[test]
fn dates_and_spans_are_kept_apart() {
    refused("tested_on + tested_on >= today", "wrong-type");
    refused("tested_on + 3 >= today", "wrong-type");
    refused("tested_on + 3 h >= today", "wrong-type");
    refused("minutes >= 10 days", "wrong-type");
    refused("minutes + 10 days >= 10 min", "wrong-type");
    refused("3 months - tested_on >= today", "wrong-type");
    refused("today - tested_on <= 3 months", "wrong-type");
    refused("today - tested_on <= notice", "wrong-type");
    refused("10 days * 2 >= 3 days", "wrong-type");
    refused("tested_on >= 90 days", "wrong-type");
    refused("tested_on >= 2026-02-30", "bad-date");
    refused("tested_on >= 2026-2-3", "bad-date");
    refused("today - tested_on <= 1.5 days", "bad-span");
    hinted("today - tested_on <= 2 weeks", "unknown-unit", "7 days");
    refused("least(reserve) >= today", "wrong-type");
}

#[test]
fn choices_are_of_one_step_and_offered() {
    hinted("rotation == \"with_arow\"", "unknown-choice", "with_arrow");
    refused("drive == rotation", "wrong-type");
    refused("drive == \"with_arrow\"", "unknown-choice");
    hinted("rotation == with_arrow", "bare-choice", "\"with_arrow\"");
    hinted("with_arrow == rotation", "bare-choice", "\"with_arrow\"");
    hinted("rotation == 'with_arrow'", "bad-text", "\"with_arrow\"");
    refused("\"a\" == \"b\"", "lone-choice");
    refused("\"with_arrow\"", "lone-choice");
    refused("rotation", "not-a-condition");
    refused("rotation between \"with_arrow\" and \"against_arrow\"", "wrong-type");
    refused("given(fuel_kind, \"coal\") == \"diesel\"", "unknown-choice");
}

#[test]
fn lists_text_and_conditional_names_stand_only_where_they_may() {
    hinted("marked", "list-outside-fold", "all(marked)");
    hinted("valve == \"open\"", "list-outside-fold", "all(valve == \"open\")");
    refused("reserve + 1 bar >= 5 bar", "list-outside-fold");
    refused("least(supply) >= 5 bar", "wrong-arguments");
    refused("least(reserve, reserve) >= 5 bar", "wrong-arguments");
    refused("least(reserve + 1 bar) >= 5 bar", "wrong-arguments");
    refused("least(valve) == \"open\"", "wrong-arguments");
    refused("count(marked) >= 2", "wrong-arguments");
    refused("sum(set.cylinders.due) >= today", "wrong-arguments");
    refused("all(earthed)", "wrong-arguments");
    refused("all(reserve)", "not-a-condition");
    refused("all(any(marked))", "wrong-arguments");
    refused("all(reserve >= 5 bar and wearers.most <= 400 L/min)", "wrong-arguments");
    refused("any(set.cylinders.serial)", "text-compared");
    refused("remarks", "text-compared");
    refused("given(remarks, \"none\") == remarks", "text-compared");
    hinted("fuel >= 5 L", "may-not-apply", "given(fuel, 0 L)");
    refused("all(reserve >= 5 bar and fuel >= 5 L)", "may-not-apply");
    refused("given(fuel, supply) >= 5 L", "wrong-arguments");
    refused("given(fuel, 5 bar) >= 5 L", "wrong-type");
    refused("given(5 bar)", "wrong-arguments");
    refused("given()", "wrong-arguments");
    refused("given(reserve)", "wrong-arguments");
    refused("absolute(supply) >= 5 bar_abs", "wrong-arguments");
    refused("absolute(ambient, site.ambient_pressure) >= 5 bar_abs", "wrong-arguments");
    refused("later >= 5 bar", "name-not-here");
    hinted("suply >= 5 bar", "unknown-name", "supply");
    hinted("leest(reserve) >= 5 bar", "unknown-function", "least");
    hinted("min(reserve) >= 5 bar", "unknown-function", "least");
    hinted("least reserve >= 5 bar", "syntax", "least(reserve)");
}

#[test]
fn what_other_languages_write_is_told() {
    hinted("earthed && guards", "operator", "and");
    hinted("earthed || guards", "operator", "or");
    hinted("!earthed", "operator", "not");
    hinted("supply = 5 bar", "operator", "==");
    hinted("supply => 5 bar", "operator", ">=");
    hinted("supply ≥ 5 bar", "operator", ">=");
    hinted("earthed AND guards", "operator", "and");
    hinted("5 bar <= supply <= 8 bar", "chained-comparison", "between");
    refused("rotation == \"with_arrow\" == earthed", "chained-comparison");
    hinted("Supply >= 5 bar", "bad-name", "supply");
    hinted("supply >= .5 bar", "bad-number", "0.5");
    refused("supply >= 5. bar", "bad-number");
    refused("supply >= 1e2 bar", "bad-number");
    refused("supply >= 1_000 bar", "bad-number");
    refused("supply >= 005 bar", "bad-number");
    refused("supply >= -0 bar", "bad-number");
    refused("supply >= +5 bar", "syntax");
    refused("supply >= 5,5 bar", "syntax");
    hinted("flow >= 12 scfm", "unknown-unit", "ft3/min");
    hinted("flow >= 12 Nm3/h", "unknown-unit", "m3/h");
    hinted("flow >= 12 l/min", "unknown-unit", "L/min");
    hinted("supply >= 12 bar(g)", "unknown-unit", "bar");
    hinted("supply >= 12 barr", "unknown-unit", "bar");
    refused("supply >= 5 bar;", "stray-character");
    refused("supply\t>= 5 bar", "stray-character");
    refused("supply >= 5 bar # low", "stray-character");
    refused("(supply >= 5 bar", "syntax");
    refused("supply >= 5 bar)", "syntax");
    refused("supply >=", "syntax");
    refused("", "syntax");
    refused("supply >= 5 bar guards", "syntax");
    refused("supply is 5 bar", "syntax");
    refused("supply between 5 bar or 8 bar", "syntax");
    refused("supply between 8 bar and 5 bar", "empty-range");
    refused("earthed == not guards", "syntax");
    refused("rotation == \"with_arrow", "bad-text");
}

#[test]
fn everything_wrong_is_told_at_once() {
    let found =
        codes("suply >= 5 bar and co <= 5 mg/m3 and (voltage >= ) and reserve > 1 bar and flow <= 5 scfm");
    assert_eq!(found, ["unknown-name", "wrong-dimension", "syntax", "list-outside-fold", "unknown-unit"]);
    let problems = Gate::parse("earthed and suply >= 5 bar", &TestScope).unwrap_err();
    assert_eq!(problems[0].at, 12);
}

#[test]
fn a_slash_after_a_unit_belongs_to_it_only_if_that_makes_a_unit() {
    assert!(codes("flow >= 10 m3/h").is_empty());
    assert!(codes("10 m/minutes >= wind").is_empty());
    assert!(codes("10 m / minutes >= wind").is_empty());
    assert!(codes("flow>=10 L/min").is_empty());
    assert_eq!(codes("supply>=5bar and co<=5ppm"), Vec::<&str>::new());
}

#[test]
fn bounds_are_kept() {
    refused(&format!("earthed{}", " ".repeat(2048)), "gate-too-long");
    let deep = |n: usize| format!("{}earthed{}", "(".repeat(n), ")".repeat(n));
    assert!(codes(&deep(32)).is_empty());
    refused(&deep(33), "gate-too-deep");
    refused(&format!("{}earthed", "not ".repeat(40)), "gate-too-deep");
    refused(&format!("supply{} >= 1 bar", " + 1 bar".repeat(40)), "gate-too-deep");
    assert!(
        codes(&format!("earthed{}", " and earthed".repeat(160))).is_empty(),
        "a chain of and is not deep"
    );
}

#[test]
fn trees_are_equal_whatever_the_spelling() {
    let same = |a: &str, b: &str| gate(a) == gate(b);
    assert!(same("supply>=1 bar", "  supply >= 100 kPa"));
    assert!(same("(earthed and guards) and supply > 1 bar", "earthed and (guards and (supply > 1 bar))"));
    assert!(!same("earthed and guards", "guards and earthed"));
    assert!(!same("earthed and guards", "earthed or guards"));
    assert!(!same("supply >= 1 bar", "supply > 1 bar"));
    assert!(!same("least(reserve) > 1 bar", "most(reserve) > 1 bar"));
    let (stage, step) = (gate("drive == \"generator\" and earthed"), gate("guards"));
    assert!(gate("earthed and guards").follows_from(&[&stage, &step]));
    assert!(!gate("earthed and supply > 1 bar").follows_from(&[&stage, &step]));
}

#[test]
fn names_are_listed_with_place_and_shelter() {
    let gate = gate(
        "earthed and least(reserve) >= 1 bar and given(fuel, 0 L) >= supply * (1 L / 1 L) / supply * 1 L and all(valve == \"open\" or guards)",
    );
    let names: Vec<(String, usize, bool)> =
        gate.names().map(|u| (u.name.join("."), u.at, u.sheltered)).collect();
    assert_eq!(names[0], ("earthed".to_owned(), 0, false));
    assert_eq!(names[1], ("reserve".to_owned(), 18, true));
    assert!(names.iter().any(|(n, _, s)| n == "fuel" && *s));
    assert!(names.iter().any(|(n, _, s)| n == "valve" && *s));
    assert!(names.iter().any(|(n, _, s)| n == "guards" && !*s));
}

#[test]
fn derived_values_have_a_type() {
    let ty = |source: &str| Expression::parse(source, &TestScope).map(|e| e.ty().clone());
    assert_eq!(ty("sum(set.cylinders.volume) / flow").unwrap(), Type::Quantity(Dimension::Duration));
    assert_eq!(ty("tested_on + 3 months").unwrap(), Type::Date);
    assert_eq!(ty("supply >= 5 bar").unwrap(), Type::Bool);
    assert!(ty("reserve").is_err());
    assert!(ty("remarks").is_err());
    assert!(ty("\"with_arrow\"").is_err());
}

#[test]
fn every_code_is_provoked() {
    let long = " ".repeat(2049);
    let deep = "(".repeat(40);
    let examples = [
        ("tested_on >= 2026-02-30", "bad-date"),
        ("Supply >= 5 bar", "bad-name"),
        ("supply >= 5. bar", "bad-number"),
        ("tested_on + 1.5 months >= today", "bad-span"),
        ("rotation == \"With arrow\"", "bad-text"),
        ("rotation == with_arrow", "bare-choice"),
        ("1 < 2 < 3", "chained-comparison"),
        ("share between 3 and 2", "empty-range"),
        (&deep, "gate-too-deep"),
        (&long, "gate-too-long"),
        ("reserve > 1 bar", "list-outside-fold"),
        ("\"with_arrow\"", "lone-choice"),
        ("fuel > 1 L", "may-not-apply"),
        ("later > 1 L", "name-not-here"),
        ("supply", "not-a-condition"),
        ("earthed && guards", "operator"),
        ("earthed ?", "stray-character"),
        ("earthed guards", "syntax"),
        ("remarks", "text-compared"),
        ("rotation == \"sideways\"", "unknown-choice"),
        ("frobnicate(supply)", "unknown-function"),
        ("nobody", "unknown-name"),
        ("supply > 1 furlong", "unknown-unit"),
        ("least(supply) > 1 bar", "wrong-arguments"),
        ("supply > 1 V", "wrong-dimension"),
        ("supply > today", "wrong-type"),
    ];
    assert_eq!(examples.map(|(_, code)| code), CODES, "one example each, in order");
    for (source, code) in examples {
        refused(source, code);
    }
}

#[test]
fn words_that_mean_something_are_no_step_names() {
    assert!(["and", "today", "least", "given", "set", "wearers"].iter().all(|word| reserved(word)));
    assert!(["reserve", "bar", "supply"].iter().all(|word| !reserved(word)));
}
