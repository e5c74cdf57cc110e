//! Supply, calendar, siting and limits of air against figures made outside the project: the data in `tests/supply/`, each row with
//! its source, each file with the script that made it beside it.

use airwrit::air::calendar::{Due, Rule, Standing};
use airwrit::air::limits::{self, AirTest, Answer, Component, Profile, Reading, SamplePoint, Uncertainty};
use airwrit::air::measure::{
    Amps, Celsius, Degrees, Kilowatts, Metres, MetresPerSecond, Ratio, SquareMillimetres, Volts,
};
use airwrit::air::siting;
use airwrit::air::supply::cable::{Cable, Limits, Load, RUNNING_LIMIT, judge, resistance, voltage_drop};
use airwrit::air::supply::{Phases, Start, apparent_power, full_load_current, socket, starting_current};
use airwrit::gate::{Expression, Fact, Facts, Known, Missed, Name, Scope, Type, Value};
use airwrit::units;
use jiff::civil::{Date, date};
use proptest::prelude::*;

const DATES: &str = include_str!("supply/dates.csv");
const DROPS: &str = include_str!("supply/drops.csv");
const VERDICTS: &str = include_str!("supply/verdicts.csv");
const MOTORS: &str = include_str!("supply/motors.csv");

/// The rows below the head, each with as many fields as the head, the last being a source that says something.
fn rows(text: &'static str) -> Vec<Vec<&'static str>> {
    let mut lines = text.lines();
    let columns = lines.next().unwrap().split(',').count();
    let rows: Vec<Vec<&str>> = lines.map(|l| l.split(',').collect()).collect();
    for row in &rows {
        assert_eq!(row.len(), columns, "{row:?}");
        assert!(row[columns - 1].len() > 8, "without a source: {row:?}");
    }
    rows
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn share_off(got: f64, want: f64) -> f64 {
    (got - want).abs() / want
}

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

fn cable(section: f64, metres: f64, celsius: f64) -> Cable {
    Cable {
        section: mm2(section),
        length: Metres::new("a length", metres).unwrap(),
        conductor: Celsius::new("a temperature", celsius).unwrap(),
    }
}

fn three(kw: f64, v: f64, efficiency: f64, power_factor: f64) -> Amps {
    let power = Kilowatts::new("a power", kw).unwrap();
    full_load_current(Phases::Three, power, volts(v), ratio(efficiency), ratio(power_factor)).unwrap()
}

/// Both formulas agree with a search by complex numbers to 1e-8 V.
#[test]
fn drops_are_those_of_complex_numbers() {
    let rows = rows(DROPS);
    assert!(rows.len() >= 900, "{}", rows.len());
    let mut worst: f64 = 0.0;
    for row in &rows {
        let n: Vec<f64> = row[..9].iter().map(|t| number(t)).collect();
        let phases = if row[0] == "3" { Phases::Three } else { Phases::One };
        let load = Load { phases, voltage: volts(n[1]), current: amps(n[2]), power_factor: ratio(n[3]) };
        let drop = voltage_drop(&load, &[cable(n[4], n[5], n[6])]).unwrap_or_else(|e| panic!("{row:?}: {e}"));
        let off = (drop.usual.get() - n[7]).abs().max((drop.exact.get() - n[8]).abs());
        assert!(off < 1e-8, "{row:?}: {drop:?}");
        worst = worst.max(off);
    }
    println!("largest difference of a voltage drop: {worst:e} V over {} rows", rows.len());
}

/// The first rows of that file, worked by hand with the formulas of IEC 60364-5-52 annex G (remembered), rounded, to half
/// of their last digit.
#[test]
fn drops_are_those_worked_by_hand() {
    let printed = [(5.52, 1.38), (10.34, 2.58), (6.43, 1.61), (8.59, 2.15), (7.42, 1.85)];
    for (row, (drop, per_cent)) in rows(DROPS).iter().zip(printed) {
        assert!((number(row[7]) - drop).abs() <= 0.005, "{row:?}");
        let load = Load {
            phases: Phases::Three,
            voltage: volts(400.0),
            current: amps(number(row[2])),
            power_factor: ratio(number(row[3])),
        };
        let got = voltage_drop(&load, &[cable(number(row[4]), number(row[5]), 70.0)]).unwrap();
        assert!((got.usual.get() / 4.0 - per_cent).abs() <= 0.0051, "{row:?}");
    }
    // At the start: 19.3 V by the usual formula, 22.4 V exactly, so the usual one says about 14 % too little.
    let start = rows(DROPS)[5].clone();
    assert!((number(start[7]) - 19.3).abs() <= 0.05 && (number(start[8]) - 22.4).abs() <= 0.06, "{start:?}");
    let short = 1.0 - number(start[7]) / number(start[8]);
    assert!((0.13..0.145).contains(&short), "{short}");
}

/// Tables of typical motors stand above the formula: up to 10 % (IEC) and 20 % (NEC), and under it by at most 2 %.
/// The socket chosen is the one that the table's current asks for.
#[test]
fn currents_of_the_tables_of_motors() {
    let rows = rows(MOTORS);
    assert!(rows.len() >= 27, "{}", rows.len());
    let (mut least, mut most): (f64, f64) = (0.0, 0.0);
    for row in &rows {
        let got = three(number(row[0]), number(row[1]), number(row[2]), number(row[3]));
        let off = got.get() / number(row[4]) - 1.0;
        let under = if row[6].starts_with("NEC") { -0.20 } else { -0.10 };
        assert!((under..=0.02).contains(&off), "{row:?}: {off}");
        (least, most) = (least.min(off), most.max(off));
        let wanted: u16 = row[5].parse().unwrap();
        assert_eq!(socket(got).unwrap().rating(), wanted, "{row:?}");
        assert_eq!(socket(amps(number(row[4]))).unwrap().rating(), wanted, "{row:?}");
    }
    println!("formula against tables of motors: {:.1} % to {:+.1} %", least * 100.0, most * 100.0);
}

/// P / (√3 · U · η · cos φ), worked by hand for the first rows, to half of the last digit.
#[test]
fn currents_worked_by_hand() {
    let printed = [3.21, 4.52, 6.02, 7.95, 10.67, 14.26, 20.44];
    for (row, want) in rows(MOTORS).iter().zip(printed) {
        let got = three(number(row[0]), number(row[1]), number(row[2]), number(row[3])).get();
        assert!((got - want).abs() <= 0.005_001, "{row:?}: {got}");
    }
}

/// A 7.5 kW motor on 50 m of 4 mm2 (Python's math, IEC formulas), relative tolerance 1e-3.
#[test]
fn worked_example_of_a_supply_cable() {
    let run = three(7.5, 400.0, 0.904, 0.84);
    assert!(share_off(run.get(), 14.26) < 1e-3);
    let apparent = apparent_power(Phases::Three, volts(400.0), run).unwrap().get();
    assert!(share_off(apparent, 9.877) < 1e-3, "{apparent}");
    let four = cable(4.0, 50.0, 70.0);
    let ohms = resistance(four.section, four.conductor).unwrap().get();
    assert!(share_off(ohms, 5.923) < 1e-3, "{ohms}");
    let load =
        |current, pf| Load { phases: Phases::Three, voltage: volts(400.0), current, power_factor: ratio(pf) };
    let drop = voltage_drop(&load(run, 0.84), &[four]).unwrap();
    assert!(share_off(drop.usual.get(), 6.196) < 1e-3, "{drop:?}");
    assert!(share_off(drop.usual.get() / 400.0, 0.01549) < 1e-3);
    // By the annex's own resistivity, which is under that of a flexible conductor at 70 degrees C, the example has
    // 1.478 %: less than what is judged by here.
    assert!(drop.share.get() > 0.01478);
    let starts = starting_current(run, Some(ratio(7.0)), Start::Direct).unwrap();
    let start = voltage_drop(&load(starts, 0.35), &[four]).unwrap();
    assert!(share_off(start.usual.get(), 18.56) < 1e-3, "{start:?}");
    assert!(share_off(start.usual.get() / 400.0, 0.0464) < 1e-3);
    assert!(start.worst().get() > 21.0, "the larger one counts");
    let limits = Limits { running: ratio(RUNNING_LIMIT), starting: ratio(0.15) };
    let judged = judge(&load(run, 0.84), Some(&load(starts, 0.35)), &four, &limits).unwrap();
    assert!(judged.does);
    // What the usual formula passes at the start and the exact one does not: 4.64 % against 5 %.
    let tight = Limits { starting: ratio(0.05), ..limits };
    let judged = judge(&load(run, 0.84), Some(&load(starts, 0.35)), &four, &tight).unwrap();
    assert!(!judged.does);
    assert_eq!(judged.would_do.unwrap(), mm2(6.0));
}

/// A gate's only name: `tested`, a date.
struct Tested(Date);

impl Scope for Tested {
    fn look_up(&self, _: &Name) -> Result<Known, Missed> {
        Ok(Known { ty: Type::Date, conditional: false, over: None })
    }
}

impl Facts for Tested {
    fn fact(&self, _: &Name) -> Fact {
        Fact::Is { value: Value::Date(self.0), shown: self.0.to_string(), label: "tested".to_owned() }
    }
    fn today(&self) -> Date {
        self.0
    }
}

/// Every row by the one function that adds spans to dates, by due dates, and by the language of gates.
#[test]
fn months_are_those_of_dateutil() {
    let rows = rows(DATES);
    assert!(rows.len() >= 350, "{}", rows.len());
    let mut clipped = 0;
    for row in &rows {
        let (from, to): (Date, Date) = (row[0].parse().unwrap(), row[2].parse().unwrap());
        let (months, days): (i32, i32) = (row[1].parse().unwrap(), row[3].parse().unwrap());
        assert_eq!(units::moved(from, months, 0, false), Some(to), "{row:?}");
        let due = Due::new(from, Rule::new(months, 0).unwrap()).unwrap();
        assert_eq!(due.last_good(), to, "{row:?}");
        assert_eq!(due.standing(from), Standing::Good(days), "{row:?}");
        assert_eq!(due.standing(to.tomorrow().unwrap()), Standing::Overdue(1), "{row:?}");
        let gate = Expression::parse(&format!("tested + {months} months"), &Tested(from)).unwrap();
        assert_eq!(gate.compute(&Tested(from)), Ok(Value::Date(to)), "{row:?}");
        clipped += i32::from(from.day() != to.day());
    }
    assert!(clipped > 20, "too few month ends to mean anything: {clipped}");
}

/// Three months from the ends of months (python-dateutil 4.0.0).
#[test]
fn worked_example_of_the_calendar() {
    for (tested, due, days) in [
        (date(2025, 11, 30), date(2026, 2, 28), 90),
        (date(2024, 11, 30), date(2025, 2, 28), 90),
        (date(2025, 2, 28), date(2025, 5, 28), 89),
        (date(2025, 9, 30), date(2025, 12, 30), 91),
    ] {
        let got = Due::new(tested, Rule::new(3, 0).unwrap()).unwrap();
        assert_eq!((got.last_good(), got.standing(tested)), (due, Standing::Good(days)));
    }
    // Anchored, six months give the 30th; chained, three and three creep to the 28th.
    let months = |from: Date, n: i32| Due::new(from, Rule::new(n, 0).unwrap()).unwrap().last_good();
    let start = date(2025, 11, 30);
    assert_eq!(months(start, 6), date(2026, 5, 30));
    assert_eq!(months(months(start, 3), 3), date(2026, 5, 28));
}

/// Verdicts and margins are those of Python's fractions, exactly.
#[test]
fn verdicts_are_those_of_exact_fractions() {
    let rows = rows(VERDICTS);
    assert!(rows.len() >= 800, "{}", rows.len());
    for row in &rows {
        let profile = Profile::shipped(row[0]).unwrap();
        let unsure = match row[4].split_once(' ') {
            None => None,
            Some(("share", share)) => Some(Uncertainty::share(share).unwrap()),
            Some((_, much)) => Some(Uncertainty::of(much).unwrap()),
        };
        let made = if row[2] == "tube" { Reading::tube } else { Reading::instrument };
        let reading = Some(made(row[3], unsure).unwrap());
        let mut test = AirTest::new(date(2026, 11, 20), "gas meter 7", SamplePoint::MaskEnd);
        let component = match row[1] {
            "o2" => {
                test.o2 = reading;
                Component::O2
            }
            "co" => {
                test.co = reading;
                Component::Co
            }
            "co2" => {
                test.co2 = reading;
                Component::Co2
            }
            "oil" => {
                test.oil = reading;
                Component::Oil
            }
            other => panic!("{other}"),
        };
        let judged = limits::judge(&profile, &test);
        let verdict = judged.of(component).unwrap();
        let answer = match verdict.answer {
            Answer::Pass => "pass",
            Answer::Fail => "fail",
            Answer::CannotTell => "cannot_tell",
        };
        assert_eq!(answer, row[5], "{row:?}: {}", verdict.words);
        assert_eq!(verdict.margin.as_ref().unwrap().left.to_string(), row[6], "{row:?}");
        assert!(!judged.passes(), "the rest of the test is missing");
    }
}

fn any_date() -> impl Strategy<Value = Date> {
    (1i16..9000, 1i8..=12, 1i8..=31).prop_filter_map("no such day", |(y, m, d)| Date::new(y, m, d).ok())
}

fn bearing(v: f64) -> Degrees {
    Degrees::new("a bearing", v).unwrap()
}

fn speed(v: f64) -> MetresPerSecond {
    MetresPerSecond::new("a speed", v).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, ..ProptestConfig::default() })]

    #[test]
    fn months_never_pass_the_end_of_the_month(from in any_date(), months in 1i32..=1200) {
        let to = Due::new(from, Rule::new(months, 0).unwrap()).unwrap().last_good();
        let counted = |d: Date| i32::from(d.year()) * 12 + i32::from(d.month());
        prop_assert_eq!(counted(to) - counted(from), months);
        prop_assert_eq!(to.day(), from.day().min(to.days_in_month()));
    }

    #[test]
    fn a_day_is_good_exactly_from_the_test_to_the_last_good_day(from in any_date(), months in 0i32..60, more in 0i32..400, day in -500i32..3000) {
        prop_assume!(months + more > 0);
        let due = Due::new(from, Rule::new(months, more).unwrap()).unwrap();
        if let Some(today) = units::moved(from, 0, day.abs(), day < 0) {
            prop_assert_eq!(due.good(today), from <= today && today <= due.last_good());
        }
    }

    #[test]
    fn any_span_on_any_date_gives_a_date_or_none(from in any_date(), months in any::<i32>(), days in any::<i32>(), back in any::<bool>()) {
        let _ = units::moved(from, months, days, back);
        if let Ok(rule) = Rule::new(months, days) {
            let _ = Due::new(from, rule);
        }
    }

    #[test]
    fn clearance_wraps_and_has_no_side(to in 0.0..=360.0f64, from in 0.0..=360.0f64, turn in 0.0..360.0f64, half in 10.0..=180.0f64) {
        let at = |to: f64, from: f64| siting::intake(bearing(to), bearing(from), speed(5.0), bearing(half), speed(2.0)).unwrap();
        let clear = |s: siting::Standing| s.clearance().unwrap().get();
        let here = at(to, from);
        prop_assert!((0.0..=180.0 - half + 1e-9).contains(&clear(here)));
        // Both turned by the same angle, mirrored, or exchanged: the same.
        let turned = at((to + turn) % 360.0, (from + turn) % 360.0);
        prop_assert!((clear(here) - clear(turned)).abs() < 1e-9);
        prop_assert!((clear(here) - clear(at(360.0 - to, 360.0 - from))).abs() < 1e-9);
        prop_assert!((clear(here) - clear(at(from, to))).abs() < 1e-9);
        // North is north, from either end of the scale.
        prop_assert!((clear(at(0.0, from)) - clear(at(360.0, from))).abs() < 1e-9);
        // A wider sector never clears more.
        let wide = (half + turn / 2.0).min(180.0);
        let wider = siting::intake(bearing(to), bearing(from), speed(5.0), bearing(wide), speed(2.0)).unwrap();
        prop_assert!(clear(wider) <= clear(here));
    }

    #[test]
    fn no_bearing_and_no_wind_makes_it_panic(a in any::<f64>(), b in any::<f64>(), c in any::<f64>(), d in any::<f64>(), e in any::<f64>()) {
        let made = (Degrees::new("a", a), Degrees::new("b", b), MetresPerSecond::new("c", c), Degrees::new("d", d), MetresPerSecond::new("e", e));
        if let (Ok(a), Ok(b), Ok(c), Ok(d), Ok(e)) = made
            && let Ok(standing) = siting::intake(a, b, c, d, e)
        {
            prop_assert!(standing.clearance().unwrap().get().is_finite());
        }
    }
}
