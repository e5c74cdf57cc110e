//! Profiles that ship and profiles that must not be read; tests of the air that pass, fail and cannot be told.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::air::calendar::{Due, Rule};
use jiff::civil::{Date, date};
use proptest::prelude::*;

fn q(text: &str) -> Quantity {
    Quantity::read(text).unwrap()
}

fn meter(text: &str) -> Option<Reading> {
    Some(Reading::instrument(text, None).unwrap())
}

fn tube(text: &str, share: &str) -> Option<Reading> {
    Some(Reading::tube(text, Some(Uncertainty::share(share).unwrap())).unwrap())
}

fn calibrated(done: Date) -> Option<Calibration> {
    Some(Calibration::Counted(Due::new(done, Rule::new(6, 0).unwrap()).unwrap()))
}

/// Invented: passes EN 12021 at 8 bar, the coldest spot being 2 °C.
fn good() -> AirTest {
    let mut test = AirTest::new(date(2026, 11, 20), "gas meter 7", SamplePoint::MaskEnd);
    test.calibration = calibrated(date(2026, 9, 30));
    test.line_pressure = Some(q("6.8 bar"));
    test.supply_pressure = Some(q("8 bar"));
    test.line_temperature = Some(q("14 °C"));
    test.lowest_temperature = Some(q("2 °C"));
    test.o2 = meter("20.9 %");
    test.co = meter("1 ppm");
    test.co2 = meter("430 ppm");
    test.oil = tube("0.1 mg/m3", "0.25");
    test.water = tube("100 mg/m3", "0.2");
    test.dew_point = Some(DewPoint {
        at: At::Line,
        reading: Reading::instrument("-12 °C", Some(Uncertainty::of("2 K").unwrap())).unwrap(),
    });
    test.odour = Some(false);
    test.liquid_water = Some(false);
    test
}

fn en() -> Profile {
    Profile::shipped("en-12021-2014").unwrap()
}

fn answer(test: &AirTest, component: Component) -> Answer {
    judge(&en(), test).of(component).unwrap().answer
}

fn words(test: &AirTest, component: Component) -> String {
    judge(&en(), test).of(component).unwrap().words.clone()
}

#[test]
fn the_profiles_that_ship_are_read_and_hold_the_figures_of_their_rules() {
    for (id, text) in SHIPPED {
        assert_eq!(Profile::read(text).unwrap().id, id);
    }
    // EN 12021:2014 from memory; 29 CFR 1910.134(i)(1)(ii) as read in WAC 296-307-61605.
    for (id, want) in [
        ("en-12021-2014", ["20 %", "22 %", "5 ppm", "500 ppm", "0.5 mg/m3"]),
        ("cfr-1910-134-grade-d", ["19.5 %", "23.5 %", "10 ppm", "1000 ppm", "5 mg/m3"]),
    ] {
        let figures = Profile::shipped(id).unwrap().figures(&q("8 bar"));
        for ((name, got), want) in figures.iter().zip(want) {
            assert_eq!(*got, q(want), "{id} {name}");
        }
    }
    let water = en().figures(&q("8 bar")).into_iter().find(|(name, _)| *name == "water_most");
    assert_eq!(water.unwrap().1, q("160 mg/m3"));
    assert!(Profile::shipped("en-12021-1998").unwrap_err().to_string().contains("en-12021-2014"));
}

#[test]
fn water_takes_the_row_of_the_next_higher_pressure() {
    let line = en().line;
    let at = |p: &str| line.row(&q(p)).map(|r| r.limit.most.as_ref().unwrap().words());
    // EN 12021:2014, table by supply pressure, from memory.
    for (bar, want) in
        [("4 bar", "290"), ("5 bar", "290"), ("5.1 bar", "160"), ("10 bar", "160"), ("15 bar", "110")]
    {
        assert_eq!(at(bar).unwrap(), format!("{want} mg/m3"), "{bar}");
    }
    for (bar, want) in [("20 bar", "80"), ("25 bar", "65"), ("2.9 MPa", "55"), ("40 bar", "50")] {
        assert_eq!(at(bar).unwrap(), format!("{want} mg/m3"), "{bar}");
    }
    assert_eq!(at("40.01 bar"), None);
    assert_eq!(at("8 bar_abs"), None);
    let cylinder = en().cylinder;
    let at = |p: &str| cylinder.row(&q(p)).map(|r| r.limit.most.as_ref().unwrap().words());
    assert_eq!(at("200 bar").unwrap(), "50 mg/m3");
    assert_eq!(at("201 bar").unwrap(), "35 mg/m3");
    assert_eq!(at("39 bar"), None);
}

#[test]
fn good_air_passes_and_says_by_how_much() {
    let judged = judge(&en(), &good());
    for verdict in &judged.verdicts {
        assert_eq!(verdict.answer, Answer::Pass, "{}", verdict.words);
    }
    assert!(judged.passes());
    assert!(judged.from_memory());
    assert_eq!(
        words(&good(), Component::Co),
        "carbon monoxide reads 1 ppm, wanted at most 5 ppm: 4 ppm to spare"
    );
    assert_eq!(
        words(&good(), Component::O2),
        "oxygen reads 20.9 %, wanted from 20 % to 22 %: 0.9 % to spare"
    );
    // 160 - 100 * 1.2; the coldest spot 2 °C less 5 K, and -12 °C may be -10 °C.
    assert_eq!(judged.of(Component::Water).unwrap().margin.as_ref().unwrap().words(), "40 mg/m3");
    assert_eq!(judged.of(Component::DewPoint).unwrap().margin.as_ref().unwrap().words(), "7 K");
}

#[test]
fn a_limit_met_exactly_is_met_and_the_least_over_it_is_not() {
    for (component, met, over) in [
        (Component::O2, "20 %", "19.999999 %"),
        (Component::O2, "22 %", "22.000001 %"),
        (Component::Co, "5 ppm", "5.000001 ppm"),
        (Component::Co, "0.0005 %", "0.000501 %"),
        (Component::Co2, "500 ml/m3", "500.1 ppm"),
        (Component::Oil, "0.5 mg/m3", "0.500001 mg/m3"),
        (Component::Water, "160 mg/m3", "160.1 mg/m3"),
    ] {
        let with = |text: &str| {
            let mut test = good();
            match component {
                Component::O2 => test.o2 = meter(text),
                Component::Co => test.co = meter(text),
                Component::Co2 => test.co2 = meter(text),
                Component::Oil => test.oil = meter(text),
                Component::Water => test.water = meter(text),
                Component::Instrument
                | Component::Sample
                | Component::DewPoint
                | Component::Odour
                | Component::LiquidWater => panic!("no reading of {component:?}"),
            }
            test
        };
        assert_eq!(answer(&with(met), component), Answer::Pass, "{met}");
        assert!(judge(&en(), &with(met)).passes(), "{met}");
        assert_eq!(answer(&with(over), component), Answer::Fail, "{over}");
        assert!(!judge(&en(), &with(over)).passes(), "{over}");
    }
}

#[test]
fn a_tube_nearer_to_the_limit_than_it_is_sure_does_not_pass() {
    let mut test = good();
    // 4 ppm and a quarter of it is 5 ppm: just far enough.
    test.co = tube("4 ppm", "0.25");
    assert_eq!(answer(&test, Component::Co), Answer::Pass);
    test.co = tube("4.1 ppm", "0.25");
    assert_eq!(answer(&test, Component::Co), Answer::CannotTell);
    assert_eq!(
        words(&test, Component::Co),
        "carbon monoxide reads 4.1 ppm, wanted at most 5 ppm: nearer to the limit than the reading is sure"
    );
    test.co = tube("5.1 ppm", "0.25");
    assert_eq!(answer(&test, Component::Co), Answer::Fail);
    // A tube always has an uncertainty; one that is not stated is not nought.
    test.co = Some(Reading::tube("1 ppm", None).unwrap());
    assert_eq!(answer(&test, Component::Co), Answer::CannotTell);
    test.co = Some(Reading::tube("6 ppm", None).unwrap());
    assert_eq!(answer(&test, Component::Co), Answer::Fail);
    // Both ends of oxygen.
    test.o2 = Some(Reading::instrument("20.1 %", Some(Uncertainty::of("0.2 %").unwrap())).unwrap());
    assert_eq!(answer(&test, Component::O2), Answer::CannotTell);
    test.o2 = Some(Reading::instrument("21.8 %", Some(Uncertainty::of("0.2 %").unwrap())).unwrap());
    assert_eq!(answer(&test, Component::O2), Answer::Pass);
}

#[test]
fn below_the_lowest_mark_passes_only_if_the_mark_does() {
    let mut test = good();
    test.co = meter("< 2 ppm");
    assert_eq!(answer(&test, Component::Co), Answer::Pass);
    test.co = meter("< 10 ppm");
    assert_eq!(answer(&test, Component::Co), Answer::CannotTell);
    test.co = tube("< 5 ppm", "0.1");
    assert_eq!(answer(&test, Component::Co), Answer::CannotTell);
    test.o2 = meter("< 19 %");
    assert_eq!(answer(&test, Component::O2), Answer::Fail);
    test.o2 = meter("< 21 %");
    assert_eq!(answer(&test, Component::O2), Answer::CannotTell);
}

#[test]
fn whatever_is_missing_does_not_pass() {
    type Take = fn(&mut AirTest);
    let without: [(Component, Take); 14] = [
        (Component::Instrument, |t| t.instrument = " ".to_owned()),
        (Component::Instrument, |t| t.calibration = None),
        (Component::Sample, |t| t.line_temperature = None),
        (Component::Sample, |t| t.line_pressure = None),
        (Component::Sample, |t| t.sample_point = SamplePoint::Cold),
        (Component::O2, |t| t.o2 = None),
        (Component::Co, |t| t.co = None),
        (Component::Co2, |t| t.co2 = None),
        (Component::Oil, |t| t.oil = None),
        (Component::Water, |t| t.water = None),
        (Component::DewPoint, |t| t.dew_point = None),
        (Component::Odour, |t| t.odour = None),
        (Component::LiquidWater, |t| t.liquid_water = None),
        (Component::Water, |t| (t.line_pressure, t.supply_pressure) = (None, None)),
    ];
    for (component, take) in without {
        let mut test = good();
        take(&mut test);
        assert_eq!(answer(&test, component), Answer::CannotTell, "{component:?}");
        assert!(!judge(&en(), &test).passes(), "{component:?}");
    }
    assert!(!Judged { verdicts: Vec::new() }.passes());
}

#[test]
fn another_unit_is_not_compared() {
    let mut test = good();
    test.co = meter("1 mg/m3");
    assert_eq!(answer(&test, Component::Co), Answer::CannotTell);
    test.water = meter("100 ppm");
    assert_eq!(answer(&test, Component::Water), Answer::CannotTell);
    // An absolute pressure is no gauge pressure.
    test.line_pressure = Some(q("8 bar_abs"));
    assert_eq!(answer(&test, Component::Sample), Answer::CannotTell);
}

#[test]
fn calibration_counts_on_the_day_of_the_test() {
    let mut test = good();
    test.calibration = calibrated(date(2026, 5, 20));
    assert_eq!(answer(&test, Component::Instrument), Answer::Pass);
    test.calibration = calibrated(date(2026, 5, 19));
    assert_eq!(
        words(&test, Component::Instrument),
        "gas meter 7: calibrated 2026-05-19, good until 2026-11-19, 1 day over on 2026-11-20"
    );
    assert!(!judge(&en(), &test).passes());
    test.calibration = calibrated(date(2026, 11, 21));
    assert_eq!(answer(&test, Component::Instrument), Answer::CannotTell);
    // Only the last good day is known.
    test.calibration = Some(Calibration::GoodUntil(date(2026, 11, 20)));
    assert_eq!(answer(&test, Component::Instrument), Answer::Pass);
    assert_eq!(words(&test, Component::Instrument), "gas meter 7: its calibration is good until 2026-11-20");
    test.calibration = Some(Calibration::GoodUntil(date(2026, 11, 17)));
    assert_eq!(answer(&test, Component::Instrument), Answer::CannotTell);
    assert_eq!(
        words(&test, Component::Instrument),
        "gas meter 7: its calibration was good until 2026-11-17, 3 days over on 2026-11-20"
    );
}

/// psychrolib 2.5.0: 350 mg/m3 at 8 bar has its dew point at -4.445 °C; with 10 % more, at -3.321 °C.
#[test]
fn a_dew_point_is_worked_out_of_the_most_the_water_may_be() {
    let dew = |water: &str, share: &str| {
        let off = (!share.is_empty()).then(|| Uncertainty::share(share).unwrap());
        let water = Reading::instrument(water, off).unwrap();
        DewPoint::of_water(&water, &q("8 bar"), &q("1.01325 bar_abs")).map(|d| d.reading.words())
    };
    assert_eq!(dew("350 mg/m3", "").unwrap(), "-4.44 °C");
    assert_eq!(dew("350 mg/m3", "0.1").unwrap(), "-3.32 °C");
    assert_eq!(dew("350 ppm", ""), None);
}

#[test]
fn the_dew_point_is_judged_by_the_coldest_spot_or_by_the_default_for_an_unknown_one() {
    let mut test = good();
    let dew = |text: &str, at| Some(DewPoint { at, reading: Reading::instrument(text, None).unwrap() });
    // WE1: -4.445 °C against 2 °C less 5 K passes by 1.445 K; with the coldest spot unknown, -11 °C, it fails.
    test.dew_point = dew("-4.445 °C", At::Line);
    let judged = judge(&en(), &test);
    assert_eq!(judged.of(Component::DewPoint).unwrap().margin.as_ref().unwrap().words(), "1.445 K");
    assert!(judged.passes());
    test.lowest_temperature = None;
    assert_eq!(answer(&test, Component::DewPoint), Answer::Fail);
    test.dew_point = dew("-11 °C", At::Line);
    assert_eq!(answer(&test, Component::DewPoint), Answer::Pass);
    // The other dew point says nothing here.
    test.dew_point = dew("-40 °C", At::OneAtmosphere);
    assert_eq!(answer(&test, Component::DewPoint), Answer::CannotTell);
}

#[test]
fn grade_d_asks_for_the_dew_point_at_one_atmosphere_ten_fahrenheit_under_the_lowest() {
    let profile = Profile::shipped("cfr-1910-134-grade-d").unwrap();
    let mut test = good();
    let dew = |text: &str| {
        Some(DewPoint { at: At::OneAtmosphere, reading: Reading::instrument(text, None).unwrap() })
    };
    test.lowest_temperature = Some(q("50 °F"));
    test.dew_point = dew("40 °F");
    let judged = judge(&profile, &test);
    assert!(judged.passes(), "{judged:#?}");
    assert!(!judged.from_memory());
    assert_eq!(judged.of(Component::Water), None);
    test.dew_point = dew("40.1 °F");
    assert_eq!(judge(&profile, &test).of(Component::DewPoint).unwrap().answer, Answer::Fail);
    test.lowest_temperature = None;
    assert_eq!(judge(&profile, &test).of(Component::DewPoint).unwrap().answer, Answer::CannotTell);
    // Of a cylinder, whatever the temperature.
    test.sample_point = SamplePoint::Cylinder;
    test.dew_point = dew("-50 °F");
    assert!(judge(&profile, &test).passes());
    // Where it fills cylinders it says nothing of water, so nothing passes there.
    test.sample_point = SamplePoint::Charging;
    assert_eq!(judge(&profile, &test).of(Component::Water).unwrap().answer, Answer::CannotTell);
}

#[test]
fn a_smell_and_liquid_water_fail() {
    let mut test = good();
    test.odour = Some(true);
    test.liquid_water = Some(true);
    assert_eq!(answer(&test, Component::Odour), Answer::Fail);
    assert_eq!(answer(&test, Component::LiquidWater), Answer::Fail);
}

#[test]
fn readings_that_mean_nothing_are_refused() {
    let share = || Some(Uncertainty::share("0.1").unwrap());
    for text in ["", "3", "ppm", "-1 ppm", "3 furlongs", "<", "< 2", "1,250 ppm"] {
        assert!(Reading::instrument(text, None).is_err(), "{text}");
    }
    assert!(Reading::instrument("-12 °C", share()).is_err());
    assert!(Reading::instrument("< -12 °C", None).is_err());
    for text in ["1.01", "-0.1", "15 %", ""] {
        assert!(Uncertainty::share(text).is_err(), "{text}");
    }
    for text in ["1", "-1 ppm", "2 °C", ""] {
        assert!(Uncertainty::of(text).is_err(), "{text}");
    }
}

#[test]
fn a_profile_that_is_wrong_is_not_read() {
    let (_, text) = SHIPPED[0];
    for (old, new) in [
        ("co: { most: 5 ppm", "co: { most: 50 ppm"),
        ("co: { most: 5 ppm", "co: { most: 5"),
        ("co: { most: 5 ppm", "co: { most: 5 mg/m3"),
        ("co: { most: 5 ppm", "co: { most: -5 ppm"),
        ("co: { most: 5 ppm", "co: { mots: 5 ppm"),
        ("co: { most: 5 ppm", "co: { most: 5 ppm, most: 5 ppm"),
        ("o2: { from: 20 %", "o2: { from: 2 %"),
        ("to: 22 %", "to: 42 %"),
        (", known: read", ", known: heard"),
        ("{ to: 10 bar", "{ to: 5 bar"),
        ("{ to: 10 bar", "{ to: 10 bar_abs"),
        ("{ to: 10 bar, most: 160", "{ to: 10 bar, most: 300"),
        ("{ from: 40 bar, to: 200 bar", "{ from: 240 bar, to: 200 bar"),
        ("below_lowest: 5 K", "below_lowest: 5 °C"),
        ("below_lowest: 5 K", "below_lowest: 0 K"),
        ("below_lowest: 5 K, ", ""),
        ("at: line", "at: home"),
        ("profile: en-12021-2014", "profile: EN 12021"),
        ("title: EN 12021:2014, compressed natural air", "title: \"\""),
    ] {
        assert!(text.contains(old), "{old}");
        let wrong = Profile::read(&text.replacen(old, new, 1)).unwrap_err();
        assert_eq!(wrong.what, "the limit profile", "{new}");
    }
    assert!(
        Profile::read(&text.lines().filter(|l| !l.starts_with("oil:")).collect::<Vec<_>>().join("\n"))
            .is_err()
    );
    assert!(Profile::read(&" ".repeat(70_000)).is_err());
}

proptest! {
    #[test]
    fn a_worse_reading_never_passes_where_a_better_one_did_not(a in 0u32..20_000, b in 0u32..20_000, share in 0u32..=100) {
        let (low, high) = (a.min(b), a.max(b));
        let passes = |n: u32| {
            let mut test = good();
            test.co = tube(&format!("{}.{:03} ppm", n / 1000, n % 1000), &format!("{}.{:02}", share / 100, share % 100));
            answer(&test, Component::Co) == Answer::Pass
        };
        prop_assert!(passes(low) || !passes(high));
    }

    #[test]
    fn more_uncertainty_never_makes_it_pass(reading in 0u32..8_000, a in 0u32..=100, b in 0u32..=100) {
        let passes = |share: u32| {
            let mut test = good();
            test.co = tube(&format!("{}.{:03} ppm", reading / 1000, reading % 1000), &format!("{}.{:02}", share / 100, share % 100));
            answer(&test, Component::Co) == Answer::Pass
        };
        prop_assert!(passes(a.min(b)) || !passes(a.max(b)));
    }

    #[test]
    fn a_higher_pressure_never_allows_more_water(a in 1u32..400, b in 1u32..400) {
        let most = |tenths: u32| {
            let row = en().line.row(&q(&format!("{}.{} bar", tenths / 10, tenths % 10))).unwrap().clone();
            row.limit.most.unwrap().quantity.value
        };
        prop_assert!(most(a.max(b)) <= most(a.min(b)));
    }

    #[test]
    fn the_margin_shown_is_never_more_than_it_is(reading in 0u64..9_000_000, share in 0u32..=1_000_000) {
        let mut test = good();
        test.co = tube(
            &format!("{}.{:06} ppm", reading / 1_000_000, reading % 1_000_000),
            &format!("{}.{:06}", share / 1_000_000, share % 1_000_000),
        );
        let margin = judge(&en(), &test).of(Component::Co).unwrap().margin.clone().unwrap();
        let shown = margin.words();
        // What is smaller than the last digit is said in words.
        if let Some(number) = shown.strip_suffix(" ppm").filter(|n| !n.contains("than")) {
            prop_assert!(crate::units::Decimal::kept(number).unwrap().to_exact() <= margin.left, "{shown}");
        }
    }

    #[test]
    fn no_text_makes_a_profile_or_a_reading_panic(text in ".{0,200}", number in any::<f64>()) {
        let _ = Profile::read(&text);
        let _ = Profile::read(&SHIPPED[0].1.replace("5 ppm", &text));
        let _ = Reading::instrument(&text, None);
        let _ = Reading::tube(&format!("{number} ppm"), Uncertainty::share(&text).ok());
        let _ = Uncertainty::of(&text);
    }
}
