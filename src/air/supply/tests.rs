//! Supply: ranges, defaults, verdicts, properties.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::cable::*;
use super::*;
use crate::air::measure::{Celsius, Metres, SquareMillimetres};
use proptest::prelude::*;

fn amps(v: f64) -> Amps {
    Amps::new("a current", v).unwrap()
}

fn volts(v: f64) -> Volts {
    Volts::new("a voltage", v).unwrap()
}

fn ratio(v: f64) -> Ratio {
    Ratio::new("a ratio", v).unwrap()
}

fn mm2(v: f64) -> SquareMillimetres {
    SquareMillimetres::new("a section", v).unwrap()
}

fn metres(v: f64) -> Metres {
    Metres::new("a length", v).unwrap()
}

fn celsius(v: f64) -> Celsius {
    Celsius::new("a temperature", v).unwrap()
}

fn load(phases: Phases, v: f64, i: f64, pf: f64) -> Load {
    Load { phases, voltage: volts(v), current: amps(i), power_factor: ratio(pf) }
}

fn cable(section: f64, length: f64, t: f64) -> Cable {
    Cable { section: mm2(section), length: metres(length), conductor: celsius(t) }
}

#[test]
fn the_socket_is_the_smallest_that_carries_the_current() {
    for (i, want) in [
        (0.1, 16),
        (16.0, 16),
        (16.000_001, 32),
        (32.0, 32),
        (32.1, 63),
        (63.0, 63),
        (63.1, 125),
        (125.0, 125),
    ] {
        assert_eq!(socket(amps(i)).unwrap().rating(), want, "{i} A");
    }
    assert_eq!(
        socket(amps(125.000_1)).unwrap_err().to_string(),
        "the full-load current is 125.001 A; this can be worked out only above 0 A to 125 A, which is the largest socket"
    );
    assert!(socket(amps(0.0)).is_err());
}

#[test]
fn star_delta_takes_a_third_and_a_soft_starter_must_say() {
    let direct = starting_current(amps(10.0), Some(ratio(7.2)), Start::Direct).unwrap().get();
    let star = starting_current(amps(10.0), Some(ratio(7.2)), Start::StarDelta).unwrap().get();
    assert!((direct - 72.0).abs() < 1e-12 && (star - 24.0).abs() < 1e-12);
    assert_eq!(starting_current(amps(10.0), None, Start::Direct).unwrap().get(), 85.0);
    assert!(starting_current(amps(10.0), None, Start::Soft).is_err());
    assert!(starting_current(amps(10.0), None, Start::Converter).is_err());
    assert_eq!(starting_current(amps(10.0), Some(ratio(3.5)), Start::Soft).unwrap().get(), 35.0);
    // In delta it takes its full load, whatever the star took.
    assert_eq!(starting_current(amps(10.0), Some(ratio(2.0)), Start::StarDelta).unwrap().get(), 10.0);
    assert!(starting_current(amps(10.0), Some(ratio(0.9)), Start::Direct).is_err());
    assert!(starting_current(amps(10.0), Some(ratio(15.1)), Start::Direct).is_err());
}

#[test]
fn a_cable_too_thin_or_too_long_says_which_section_would_do() {
    let run = load(Phases::Three, 400.0, 14.26, 0.84);
    let start = load(Phases::Three, 400.0, 14.26 * 7.0, 0.35);
    let limits = Limits { running: ratio(RUNNING_LIMIT), starting: ratio(0.1) };
    let judged = super::cable::judge(&run, Some(&start), &cable(4.0, 50.0, 70.0), &limits).unwrap();
    assert!(judged.does);
    assert_eq!(judged.would_do.unwrap().get(), 4.0);
    // The start decides, and by the exact formula: the usual one would let 2.5 mm2 pass at 66 m.
    let judged = super::cable::judge(&run, Some(&start), &cable(2.5, 66.0, 70.0), &limits).unwrap();
    let drop = judged.starting.unwrap().unwrap();
    assert!(drop.usual.get() < 40.0 && drop.exact.get() > 40.0);
    assert!(!judged.does);
    assert_eq!(judged.would_do.unwrap().get(), 4.0);
    assert!(judged.longest.get() < 66.0 && judged.longest.get() > 40.0, "{:?}", judged.longest);
    // Too long for any.
    let judged = super::cable::judge(&run, Some(&start), &cable(2.5, 1000.0, 70.0), &limits).unwrap();
    assert!(!judged.does && judged.would_do.is_ok_and(|s| s.get() > 35.0));
    let heavy = load(Phases::Three, 400.0, 125.0 * 8.0, 0.4);
    let judged = super::cable::judge(&run, Some(&heavy), &cable(2.5, 1000.0, 70.0), &limits).unwrap();
    assert!(judged.starting.unwrap().is_err());
    assert!(judged.would_do.unwrap_err().to_string().contains("too long for any section"));
}

#[test]
fn a_section_found_is_the_first_that_keeps_the_limit() {
    let run = load(Phases::One, 230.0, 16.0, 0.9);
    let found = smallest_section(&run, metres(60.0), celsius(70.0), ratio(0.05), mm2(1.5)).unwrap();
    let share = |s: f64| voltage_drop(&run, &[cable(s, 60.0, 70.0)]).unwrap().share.get();
    let at = SIZES.iter().position(|(s, _)| *s == found.get()).unwrap();
    assert!(at > 0 && share(SIZES[at].0) <= 0.05 && share(SIZES[at - 1].0) > 0.05);
    // Never thinner than what carries the current.
    assert_eq!(smallest_section(&run, metres(1.0), celsius(70.0), ratio(0.05), mm2(2.5)).unwrap().get(), 2.5);
    assert!(smallest_section(&run, metres(1.0), celsius(70.0), ratio(0.05), mm2(3.0)).is_err());
    assert!(smallest_section(&run, metres(1.0), celsius(70.0), ratio(0.0), mm2(2.5)).is_err());
}

#[test]
fn cables_one_after_the_other_add_up() {
    let run = load(Phases::Three, 400.0, 14.26, 0.84);
    let whole = voltage_drop(&run, &[cable(4.0, 50.0, 70.0)]).unwrap();
    let parts = voltage_drop(&run, &[cable(4.0, 20.0, 70.0), cable(4.0, 30.0, 70.0)]).unwrap();
    assert!((whole.exact.get() - parts.exact.get()).abs() < 1e-9);
    assert_eq!(voltage_drop(&run, &[]).unwrap().worst().get(), 0.0);
}

#[test]
fn the_limit_for_the_start_is_what_the_lowest_voltage_leaves() {
    assert!((share_to(volts(360.0), volts(400.0)).unwrap().get() - 0.1).abs() < 1e-12);
    for lowest in [400.0, 401.0, 199.0, 0.0] {
        assert!(share_to(volts(lowest), volts(400.0)).is_err(), "{lowest}");
    }
}

#[test]
fn out_of_range_is_refused_by_name() {
    let kw = |v| Kilowatts::new("a power", v).unwrap();
    let i = |p, v, e, f| {
        full_load_current(Phases::Three, kw(p), volts(v), ratio(e), ratio(f)).map_err(|r| r.what)
    };
    assert!(i(4.0, 400.0, 0.9, 0.8).is_ok());
    assert_eq!(i(0.01, 400.0, 0.9, 0.8), Err("the motor's power"));
    assert_eq!(i(4.0, 4.0, 0.9, 0.8), Err("the supply voltage"));
    // Per cent in place of a share.
    assert_eq!(i(4.0, 400.0, 88.6, 0.8), Err("the motor's efficiency"));
    assert_eq!(i(4.0, 400.0, 0.9, 0.0), Err("the power factor"));
    let run = load(Phases::Three, 400.0, 14.0, 0.84);
    assert_eq!(resistance(mm2(3.0), celsius(70.0)).unwrap_err().what, "the section of the cable");
    assert_eq!(resistance(mm2(4.0), celsius(91.0)).unwrap_err().what, "the temperature of the conductor");
    assert!(voltage_drop(&run, &[cable(4.0, 1000.1, 70.0)]).is_err());
    assert!(voltage_drop(&load(Phases::Three, 400.0, 14.0, 0.05), &[cable(4.0, 1.0, 70.0)]).is_err());
}

#[test]
fn the_default_power_factor_at_start_drops_most_of_its_range() {
    for (section, _) in SIZES.into_iter().filter(|(s, _)| *s <= 50.0) {
        for i in [20.0, 60.0, 100.0, 200.0, 400.0, 900.0] {
            let drop = |pf| voltage_drop(&load(Phases::Three, 400.0, i, pf), &[cable(section, 60.0, 70.0)]);
            let Ok(most) = drop(START_POWER_FACTOR) else { continue };
            for pf in [0.3, 0.32, 0.35, 0.38] {
                assert!(drop(pf).unwrap().exact <= most.exact, "{section} mm2 {i} A {pf}");
            }
        }
    }
}

/// Every float there is, and those that make sense more often.
fn any_float() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        any::<u64>().prop_map(f64::from_bits),
        -1e3..1e3f64,
        0.0..1.0f64,
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(-0.0),
        Just(f64::MIN_POSITIVE)
    ]
}

prop_compose! {
    fn any_load()(three in any::<bool>(), v in 12.0..1000.0f64, i in 0.0..300.0f64, pf in 0.1..=1.0f64) -> Load {
        load(if three { Phases::Three } else { Phases::One }, v, i, pf)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    #[test]
    fn longer_thinner_and_warmer_never_drop_less(
        load in any_load(), size in 0..SIZES.len(), thicker in 0..SIZES.len(),
        a in 0.0..=1000.0f64, b in 0.0..=1000.0f64, t in -20.0..=90.0f64, u in -20.0..=90.0f64,
    ) {
        let section = |n: usize| SIZES[n].0;
        let (near, far) = (a.min(b), a.max(b));
        let (cold, warm) = (t.min(u), t.max(u));
        let (thin, thick) = (size.min(thicker), size.max(thicker));
        if let Ok(worst) = voltage_drop(&load, &[cable(section(thin), far, warm)]) {
            // What is better in any way is worked out too, and does not drop more; floats may differ by a hair.
            for (n, length, t) in [(thick, far, warm), (thin, near, warm), (thin, far, cold), (thick, near, cold)] {
                let better = voltage_drop(&load, &[cable(section(n), length, t)]).unwrap();
                prop_assert!(better.worst().get() <= worst.worst().get() * (1.0 + 1e-12) + 1e-12);
                prop_assert!(better.usual.get() <= worst.usual.get() * (1.0 + 1e-12) + 1e-12);
            }
        }
    }

    #[test]
    fn the_exact_drop_is_never_under_the_usual_one(load in any_load(), n in 0..SIZES.len(), l in 0.0..=1000.0f64) {
        if let Ok(drop) = voltage_drop(&load, &[cable(SIZES[n].0, l, 70.0)]) {
            prop_assert!(drop.exact >= drop.usual);
            prop_assert!(drop.share.get() <= 0.5 + 1e-12);
        }
    }

    #[test]
    fn the_longest_cable_keeps_its_limit_and_a_longer_one_does_not(
        load in any_load(), n in 0..SIZES.len(), t in -20.0..=90.0f64, limit in 0.001..=0.5f64,
    ) {
        let length = longest(&load, mm2(SIZES[n].0), celsius(t), ratio(limit)).unwrap().get();
        let share = |l: f64| voltage_drop(&load, &[cable(SIZES[n].0, l, t)]).map(|d| d.share.get());
        prop_assert!(share(length).unwrap() <= limit);
        if length < LONGEST {
            let more = share((length * (1.0 + 1e-7)).min(LONGEST));
            prop_assert!(more.is_err() || more.unwrap() > limit);
        }
    }

    #[test]
    fn what_is_judged_good_keeps_both_limits(
        run in any_load(), times in 1.0..8.0f64, n in 0..SIZES.len(), l in 0.0..=300.0f64,
        a in 0.01..0.1f64, b in 0.01..0.3f64,
    ) {
        let start = Load { current: amps(run.current.get() * times), power_factor: ratio(0.4), ..run };
        let limits = Limits { running: ratio(a), starting: ratio(b) };
        let judged = super::cable::judge(&run, Some(&start), &cable(SIZES[n].0, l, 70.0), &limits).unwrap();
        prop_assert_eq!(judged.does, judged.would_do.as_ref().is_ok_and(|s| s.get() == SIZES[n].0));
        if judged.does {
            prop_assert!(judged.running.unwrap().share.get() <= a);
            prop_assert!(judged.starting.unwrap().unwrap().share.get() <= b);
            prop_assert!(l <= judged.longest.get() * (1.0 + 1e-7));
        } else {
            prop_assert!(l >= judged.longest.get() * (1.0 - 1e-7));
        }
    }

    #[test]
    fn the_socket_chosen_carries_the_current_and_the_next_smaller_does_not(i in 0.0..200.0f64) {
        match socket(amps(i)) {
            Ok(chosen) => {
                prop_assert!(f64::from(chosen.rating()) >= i);
                prop_assert!(Socket::SERIES.iter().filter(|s| **s < chosen).all(|s| f64::from(s.rating()) < i));
            }
            Err(_) => prop_assert!(i > 125.0 || i == 0.0),
        }
    }

    #[test]
    fn no_float_makes_it_panic_or_comes_out_infinite(
        v in any_float(), i in any_float(), pf in any_float(), l in any_float(), t in any_float(), s in any_float(), n in 0..SIZES.len(),
    ) {
        let made = (
            Volts::new("v", v), Amps::new("i", i), Ratio::new("pf", pf), Metres::new("l", l), Celsius::new("t", t),
            Kilowatts::new("p", s), Ratio::new("s", s), SquareMillimetres::new("a", s),
        );
        if let (Ok(v), Ok(i), Ok(pf), Ok(l), Ok(t), Ok(p), Ok(r), Ok(a)) = made {
            for phases in [Phases::One, Phases::Three] {
                let load = Load { phases, voltage: v, current: i, power_factor: pf };
                if let Ok(x) = full_load_current(phases, p, v, r, pf) { prop_assert!(x.get().is_finite()); }
                if let Ok(x) = apparent_power(phases, v, i) { prop_assert!(x.get().is_finite()); }
                for section in [a, mm2(SIZES[n].0)] {
                    let c = Cable { section, length: l, conductor: t };
                    if let Ok(d) = voltage_drop(&load, &[c, c]) {
                        prop_assert!(d.usual.get().is_finite() && d.exact.get().is_finite() && d.share.get().is_finite());
                    }
                    if let Ok(x) = longest(&load, section, t, r) { prop_assert!(x.get().is_finite()); }
                    let _ = smallest_section(&load, l, t, r, section);
                    let _ = super::cable::judge(&load, Some(&load), &c, &Limits { running: r, starting: pf });
                }
            }
            for start in [Start::Direct, Start::StarDelta, Start::Soft, Start::Converter] {
                if let Ok(x) = starting_current(i, Some(r), start) { prop_assert!(x.get().is_finite()); }
            }
            let _ = socket(i);
        }
    }
}
