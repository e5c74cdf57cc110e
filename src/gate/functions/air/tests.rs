//! What the table of functions says of itself, held against the functions.

#![allow(clippy::unwrap_used, clippy::panic)]
use super::*;
use crate::units::Decimal;
use proptest::prelude::*;

/// Figures within what each argument usually is, in the unit it is written in, by its words.
fn within(words: &str) -> (&'static str, f64, f64) {
    match words {
        "the reading of the reserve" => ("bar", 60.0, 330.0),
        "the water capacity of the reserve" => ("L", 10.0, 150.0),
        "the temperature of the cylinders at the reading" | "the highest temperature of the cylinders" => {
            ("°C", 10.0, 55.0)
        }
        "the lowest temperature of the cylinders" => ("°C", -35.0, 10.0),
        "the floor of the reserve" => ("bar", 5.0, 55.0),
        "the ambient pressure" => ("bar_abs", 0.8, 1.1),
        "the flow drawn" => ("L/min", 50.0, 900.0),
        "how long it must last" => ("min", 1.0, 12.0),
        "the supply pressure" => ("bar", 5.0, 12.0),
        "the bore of the hose" => ("mm", 8.0, 19.0),
        "the length of the hose" => ("m", 1.0, 60.0),
        "the flow through it" => ("L/min", 10.0, 400.0),
        "the temperature of the hose" => ("°C", -20.0, 50.0),
        "what its couplings lose" => ("bar", 0.0, 1.0),
        "the water content" => ("mg/m3", 1.0, 3000.0),
        "the pressure in the line" => ("bar", 1.0, 40.0),
        "the dew point in the line" => ("°C", -60.0, 30.0),
        "the current" => ("A", 1.0, 60.0),
        "the power factor" => ("", 0.2, 1.0),
        "the voltage" => ("V", 200.0, 690.0),
        "the length of the cable" => ("m", 1.0, 100.0),
        "the section of a conductor" => ("mm2", 6.0, 6.0),
        "the temperature of the conductor" => ("°C", 20.0, 90.0),
        "the bearing to the exhaust" | "where the wind comes from" => ("deg", 0.0, 360.0),
        "the wind speed" => ("m/s", 0.0, 20.0),
        "half the sector of the wind" => ("deg", 10.0, 120.0),
        "the speed below which wind is light" => ("m/s", 0.0, 5.0),
        "a temperature" | "another temperature" => ("°C", -40.0, 60.0),
        "a flow" | "another flow" => ("L/min", 0.0, 1000.0),
        "a duration" | "another duration" => ("min", 0.0, 100.0),
        other => panic!("no figures for {other}"),
    }
}

fn quantity(words: &str, share: f64) -> Quantity {
    let (symbol, low, high) = within(words);
    let number = Decimal::read(&format!("{:.3}", low + share * (high - low))).unwrap();
    match unit(symbol) {
        Some(unit) => Quantity::new(&number, &unit),
        None => Quantity::number(number.to_exact()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    /// What the table says of each argument is true: larger values of it move the result that way.
    #[test]
    fn each_argument_moves_the_result_as_the_table_says(
        shares in prop::array::uniform7(0.0..1.0f64), more in 0.0..1.0f64,
    ) {
        for function in AIR {
            let Form::Plain { takes, work, .. } = function.form else { panic!("{}", function.name) };
            let base: Vec<Quantity> =
                takes.iter().zip(shares).map(|(t, s)| quantity(t.words, s)).collect();
            let Ok(first) = work(&base) else { continue };
            if let Some(range) = super::super::result(function.name, first.dimension) {
                prop_assert!(first.value >= range.low.value && first.value <= range.high.value, "{}", function.name);
            }
            for (n, t) in takes.iter().enumerate() {
                let mut other = base.clone();
                let share = shares[n] + more * (1.0 - shares[n]);
                other[n] = quantity(t.words, share);
                let Ok(second) = work(&other) else { continue };
                // What the last digits of floats do is leaned away from (GUARD), and is no way.
                let by = BigRational::from_float(libm::fabs(first.value.to_f64().unwrap()) * 4.0 * GUARD + 1e-12).unwrap();
                match t.way {
                    Direction::Up => prop_assert!(second.value >= &first.value - &by, "{} {}", function.name, t.words),
                    Direction::Down => prop_assert!(second.value <= &first.value + &by, "{} {}", function.name, t.words),
                    Direction::Nothing | Direction::Unclear => {}
                }
            }
        }
    }
}

/// Each result that could hurt somebody leaves on the safe side of the float that `air` made of it.
#[test]
fn each_result_leans_to_the_safe_side() {
    for (name, way) in LEANS {
        assert!(AIR.iter().any(|f| f.name == *name), "{name}");
        for value in [0.0, 1e-9, 0.1, 19.999_999_999, 20.0, 140.3, 5261.0] {
            let exact = BigRational::from_float(value).unwrap();
            let leaned = lean(name, value, "bar").unwrap().value;
            match way {
                Lean::Down => {
                    assert!(leaned <= exact && (value == 0.0 || leaned < exact), "{name} {value}")
                }
                Lean::Up => {
                    assert!(leaned >= exact && (value == 0.0 || leaned > exact), "{name} {value}")
                }
            }
        }
    }
    // Everything in the table that can err says which way, but for what chooses between two exact values and for
    // `water_at`, which serves both.
    let exact = ["warmer", "colder", "longer", "smaller_flow", "water_at"];
    for f in AIR.iter().filter(|f| !exact.contains(&f.name)) {
        assert!(LEANS.iter().any(|(n, _)| n == &f.name), "{}", f.name);
    }
}

/// The shipped form rounds what these functions give the way they lean.
#[test]
fn the_shipped_form_rounds_as_they_lean() {
    let text = include_str!("../../../../checklists/pre-start.yaml");
    let mut checked = 0;
    for step in text.split("- step: ").filter(|s| s.contains("derived:")) {
        let Some((_, derived)) = step.split_once("derived: ") else { continue };
        let function = derived.split('(').next().unwrap_or_default();
        let Some((_, way)) = LEANS.iter().find(|(n, _)| *n == function) else { continue };
        let round = if *way == Lean::Down { "round: down" } else { "round: up" };
        assert!(step.contains(round), "{function} in {}", step.lines().next().unwrap());
        checked += 1;
    }
    assert!(checked >= 9, "{checked}");
}
