//! What can be said of a gate without facts, and its words.

use super::*;

#[test]
fn direction_says_only_what_is_proved() {
    use Direction::{Down, Nothing, Unclear, Up};
    for (source, of, wanted) in [
        ("supply >= 5 bar", "supply", Up),
        ("5 bar >= supply", "supply", Down),
        ("not (supply >= 5 bar)", "supply", Down),
        ("supply > 5 bar and supply >= set.reserve_minimum", "supply", Up),
        ("supply > 5 bar and supply >= set.reserve_minimum", "set.reserve_minimum", Down),
        ("supply > 5 bar and earthed", "minutes", Nothing),
        ("supply between 5 bar and 8 bar", "supply", Unclear),
        ("supply between 1 bar and set.reserve_minimum", "set.reserve_minimum", Up),
        ("supply == 5 bar", "supply", Unclear),
        ("minutes >= job.way_out * 2", "job.way_out", Down),
        ("minutes >= job.way_out * -2", "job.way_out", Up),
        ("minutes >= job.way_out * site.way_out_factor", "minutes", Up),
        ("minutes >= job.way_out * site.way_out_factor", "job.way_out", Unclear),
        ("supply / 2 <= 5 bar", "supply", Down),
        ("5 bar - supply <= 2 bar", "supply", Up),
        ("supply - supply >= 0 bar", "supply", Unclear),
        ("least(reserve) >= 150 bar", "reserve", Up),
        ("all(reserve <= 150 bar)", "reserve", Down),
        ("count(reserve) >= 2", "reserve", Nothing),
        ("given(fuel, 0 L) >= 5 L", "fuel", Up),
        ("given(fuel)", "fuel", Nothing),
        ("tested_on + 3 months >= today", "tested_on", Up),
        ("(supply >= 5 bar) == earthed", "supply", Unclear),
    ] {
        assert_eq!(gate(source).direction(&name(of)), wanted, "{source} of {of}");
    }
    let hold = Expression::parse("sum(set.cylinders.volume) / 2 - 5 L", &TestScope).unwrap();
    assert_eq!(hold.direction(&name("set.cylinders.volume")), Up);
}

#[test]
fn a_gate_that_no_answer_opens_is_found() {
    use Possible::{AlwaysOpen, Either, NeverOpen};
    let ranges = |name: &Name| match name.join(".").as_str() {
        "supply" | "reserve" => Some((q("0 bar"), q("16 bar"))),
        "share" => Some((q("-1"), q("1"))),
        _ => None,
    };
    for (source, wanted) in [
        ("supply >= 20 bar", NeverOpen),
        ("supply >= 2 MPa", NeverOpen),
        ("supply >= 16 bar", Either),
        ("supply > 16 bar", NeverOpen),
        ("supply >= 0 bar", AlwaysOpen),
        ("supply >= 20 bar or earthed", Either),
        ("supply >= 20 bar and earthed", NeverOpen),
        ("not (supply >= 0 bar)", NeverOpen),
        ("supply * 2 + 1 bar >= 34 bar", NeverOpen),
        ("supply >= 8 bar and supply <= 5 bar", NeverOpen),
        ("supply > 5 bar and supply <= 5 bar", NeverOpen),
        ("supply >= 5 bar and supply <= 5 bar", Either),
        ("supply == 8 bar and supply == 5 bar", NeverOpen),
        ("supply == 8 bar or supply == 5 bar", Either),
        ("supply >= 8 bar or supply <= 5 bar", Either),
        ("supply between 17 bar and 20 bar", NeverOpen),
        ("supply / share >= 500 bar", Either),
        ("least(reserve) >= 20 bar", NeverOpen),
        ("sum(reserve) >= 20 bar", Either),
        ("sum(reserve) >= 0 bar", AlwaysOpen),
        ("sum(reserve) > 0 bar", Either),
        ("count(reserve) >= 0", AlwaysOpen),
        ("count(reserve) >= 3", Either),
        ("all(reserve >= 20 bar)", NeverOpen),
        ("voltage >= 400 V", Either),
        // The same two things, compared so that nothing is left.
        ("supply >= set.reserve_minimum and supply < set.reserve_minimum", NeverOpen),
        ("supply >= set.reserve_minimum and set.reserve_minimum > supply", NeverOpen),
        ("supply >= set.reserve_minimum or supply < set.reserve_minimum", AlwaysOpen),
        ("supply >= set.reserve_minimum or supply <= set.reserve_minimum", AlwaysOpen),
        ("supply <= set.reserve_minimum and supply >= set.reserve_minimum", Either),
        ("supply > supply", NeverOpen),
        ("supply >= supply", AlwaysOpen),
        ("supply between set.reserve_minimum and 5 bar and supply < set.reserve_minimum", NeverOpen),
        ("supply >= 5 bar or supply < 8 bar", AlwaysOpen),
        ("supply >= 8 bar or supply < 5 bar", Either),
        ("not (supply >= 8 bar) and not (supply < 8 bar)", NeverOpen),
        ("earthed and not earthed", NeverOpen),
        ("earthed or not earthed", AlwaysOpen),
        ("earthed and not guards", Either),
        ("(earthed and guards) and not earthed", NeverOpen),
        ("any(reserve >= 5 bar and reserve < 5 bar)", NeverOpen),
        ("any(reserve >= 5 bar) and any(reserve < 5 bar)", Either),
        ("rotation == \"with_arrow\" and rotation == \"against_arrow\"", NeverOpen),
        ("rotation != \"with_arrow\" and rotation != \"against_arrow\"", NeverOpen),
        ("rotation == \"with_arrow\" or rotation == \"against_arrow\"", AlwaysOpen),
        ("rotation == \"with_arrow\" and rotation != \"against_arrow\"", Either),
        ("rotation == rotation_again and rotation != rotation_again", NeverOpen),
        ("tested_on >= 2026-11-25 and tested_on < 2026-11-25", NeverOpen),
        ("tested_on > 2026-11-24 and tested_on < 2026-11-25", NeverOpen),
        ("tested_on > 2026-11-24 and tested_on < 2026-11-26", Either),
        ("tested_on <= today and tested_on >= today + 1 day", NeverOpen),
        ("tested_on <= today and tested_on - 1 day > today - 2 days", Either),
        ("tested_on < today and tested_on - 1 day > today - 2 days", NeverOpen),
        ("tested_on + 3 months >= today and tested_on + 3 months < today", NeverOpen),
        ("tested_on + 3 months >= today and tested_on < today", Either),
        ("today > 2026-01-01 or 2026-02-01 > today", AlwaysOpen),
        ("2026-11-25 > 2027-01-01", NeverOpen),
        ("true", AlwaysOpen),
        ("earthed", Either),
    ] {
        assert_eq!(gate(source).possible(&ranges), wanted, "{source}");
    }
}

#[test]
fn a_value_worked_out_has_a_range() {
    let ranges = |name: &Name| match name.join(".").as_str() {
        "supply" => Some((q("0 bar"), q("16 bar"))),
        "share" => Some((q("1"), q("4"))),
        _ => None,
    };
    let range = |source: &str| Expression::parse(source, &TestScope).unwrap().range(&ranges);
    assert_eq!(range("supply / share - 2 bar"), Some((q("-2 bar"), q("14 bar"))));
    assert_eq!(range("least(reserve)"), None);
    assert_eq!(range("supply / (share - 1)"), None);
    assert_eq!(range("tested_on"), None);
}

#[test]
fn conditions_are_said_in_words() {
    let labels = |name: &Name| match name.join(".").as_str() {
        "supply" => Some("supply pressure".to_owned()),
        "reserve" => Some("gauge".to_owned()),
        _ => None,
    };
    for (source, wanted) in [
        ("supply >= 5 bar and earthed", "supply pressure at least 5 bar, and earthed: yes"),
        ("5 bar <= supply", "supply pressure at least 5 bar"),
        ("not (supply >= 5 bar or earthed)", "supply pressure less than 5 bar, and earthed: no"),
        ("least(reserve) >= set.reserve_minimum * 2", "least of gauge at least set.reserve_minimum times 2"),
        ("rotation == \"with_arrow\"", "rotation is with arrow"),
        ("tested_on + 3 months >= today", "tested_on plus 3 months: today or later"),
        ("all(reserve >= 150 bar)", "for each: gauge at least 150 bar"),
        ("supply between 5 bar and 850 kPa", "supply pressure from 5 bar to 850 kPa"),
        ("given(fuel, 0 L) >= 5 L", "fuel (0 L if not given) at least 5 L"),
        (
            "earthed and (guards or supply > 5 bar)",
            "earthed: yes, and (guards: yes, or supply pressure more than 5 bar)",
        ),
    ] {
        assert_eq!(gate(source).words(&labels), wanted);
    }
}
