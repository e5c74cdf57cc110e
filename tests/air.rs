//! The arithmetic of air against figures made outside the project: CoolProp, psychrolib and fluids, by the scripts beside
//! the data in tests/air; and what must hold of it for any figures.

use airwrit::air::calendar::{Due, Rule};
use airwrit::air::demand::{Outlet, beside_open};
use airwrit::air::gas;
use airwrit::air::hose::{Line, end_pressure};
use airwrit::air::measure::{
    Absolute, Celsius, Content, Flow, FreeLitres, Gauge, Kelvins, Litres, Metres, Millimetres, Minutes, Ratio,
};
use airwrit::air::moisture;
use airwrit::air::reserve::{Reserve, needed};
use proptest::prelude::*;

const AMBIENT: f64 = 1.01325;

fn rows(text: &'static str, least: usize) -> Vec<Vec<&'static str>> {
    let all: Vec<Vec<&str>> = text.lines().skip(1).map(|l| l.split(',').collect()).collect();
    assert!(all.len() >= least, "only {} rows", all.len());
    // Each row names its source.
    assert!(all.iter().all(|r| r.last().is_some_and(|s| s.contains('.'))));
    all
}

fn num(text: &str) -> f64 {
    text.parse().unwrap()
}

fn abs(bar: f64) -> Absolute {
    Absolute::new("p", bar).unwrap()
}

fn gauge(bar: f64) -> Gauge {
    Gauge::new("p", bar).unwrap()
}

fn celsius(t: f64) -> Celsius {
    Celsius::new("t", t).unwrap()
}

fn litres(v: f64) -> Litres {
    Litres::new("v", v).unwrap()
}

fn flow(q: f64) -> Flow {
    Flow::new("q", q).unwrap()
}

fn minutes(m: f64) -> Minutes {
    Minutes::new("m", m).unwrap()
}

fn reserve(v: f64, warm: f64, cold: f64, floor: f64) -> Reserve {
    Reserve::new(litres(v), abs(AMBIENT), celsius(warm), celsius(cold), gauge(floor)).unwrap()
}

/// CoolProp: within 0.1 %; the same equation, so in fact within a hundred-millionth.
#[test]
fn real_gas_of_coolprop() {
    let all = rows(include_str!("air/gas.csv"), 570);
    let mut worst: f64 = 0.0;
    for r in &all {
        let value = num(r[5]);
        let got = match r[0] {
            "z" => gas::compressibility(abs(num(r[1])), celsius(num(r[2]))).unwrap(),
            "content" => gas::content(litres(num(r[3])), abs(num(r[1])), celsius(num(r[2]))).unwrap().get(),
            "settled" => gas::settled(abs(num(r[1])), celsius(num(r[2])), celsius(num(r[3]))).unwrap().get(),
            "leave_by" => {
                let (warm, cold) = r[2].split_once(' ').unwrap();
                let r_ = reserve(num(r[3]), num(warm), num(cold), num(r[1]));
                // So many litres: at that many a minute, for one minute.
                r_.leave_by(flow(num(r[4])), minutes(1.0)).unwrap().get()
            }
            other => panic!("{other}"),
        };
        let off = (got / value - 1.0).abs();
        assert!(off < 1e-3, "{r:?}: {got}");
        worst = worst.max(off);
    }
    println!("real gas: {} rows, largest difference {worst:.1e}", all.len());
    assert!(worst < 1e-6, "{worst}");
}

/// psychrolib: content within 0.15 %, dew points within 0.02 K from -60 to 70 °C. Both over ice below nought.
#[test]
fn dew_points_of_psychrolib() {
    let (mut worst, mut warmest): (f64, f64) = (0.0, 0.0);
    for r in rows(include_str!("air/moisture.csv"), 250) {
        let (dew, line, content) = (num(r[0]), num(r[1]) + AMBIENT, num(r[2]));
        let got = moisture::content(celsius(dew), abs(line)).unwrap().get();
        worst = worst.max((got / content - 1.0).abs());
        let back = moisture::dew_point(Content::new("c", content).unwrap(), abs(line)).unwrap().get();
        warmest = warmest.max((back - dew).abs());
    }
    println!("moisture: content within {worst:.1e}, dew point within {warmest:.4} K");
    assert!(worst < 1.5e-3 && warmest < 0.02, "{worst} {warmest}");
}

/// fluids: the loss within 1.5 %, and never less than 1 % below it: what is left is not overstated by more.
#[test]
fn hoses_of_fluids() {
    let (mut most, mut least): (f64, f64) = (0.0, 0.0);
    for r in rows(include_str!("air/hoses.csv"), 150) {
        let n: Vec<f64> = r[..7].iter().map(|t| num(t)).collect();
        let (inlet, t, reynolds, end) = (n[3], n[4], n[5], n[6]);
        if !(4000.0..).contains(&reynolds) {
            // Between laminar and turbulent the larger friction is taken.
            continue;
        }
        let line = line(n[0], n[1], n[2], t, 0.0);
        let got = inlet - end_pressure(&line, gauge(inlet), abs(AMBIENT)).unwrap().get();
        let off = got / (inlet - end) - 1.0;
        most = most.max(off);
        least = least.min(off);
    }
    println!("hoses: loss from {:.2} % to +{:.2} % of theirs", least * 100.0, most * 100.0);
    assert!(most < 0.015 && least > -0.01, "{least} {most}");
}

fn line(bore: f64, length: f64, q: f64, t: f64, couplings: f64) -> Line {
    Line {
        bore: Millimetres::new("b", bore).unwrap(),
        length: Metres::new("l", length).unwrap(),
        couplings: gauge(couplings),
        flow: flow(q),
        temperature: celsius(t),
    }
}

/// Two cylinders of 10 L, worked with CoolProp 8.0.0 and a bisection: 5261 L usable from 300 to 10 bar at 15 °C; at 5 °C
/// from 240 bar 19.95 min for two at 115 L/min, leave by 140.3 bar for 8 min times 1.5.
#[test]
fn worked_examples_of_a_reserve() {
    let near = |got: f64, want: f64, by: f64| assert!((got - want).abs() <= by, "{got} {want}");
    near(reserve(20.0, 15.0, 15.0, 10.0).usable(gauge(300.0)).unwrap().get(), 5261.0, 0.5);
    let r = reserve(20.0, 5.0, 5.0, 10.0);
    near(r.usable(gauge(240.0)).unwrap().get(), 4587.0, 0.5);
    near(r.endurance(gauge(240.0), flow(230.0)).unwrap().get(), 19.95, 0.005);
    let time = needed(minutes(8.0), Ratio::new("f", 1.5).unwrap(), minutes(10.0)).unwrap();
    near(r.leave_by(flow(230.0), time).unwrap().get(), 140.3, 0.05);
    // Filling 2 x 10 L from 50 to 300 bar at 100 L/min and 15 °C takes 44.4 min.
    let fill =
        gas::refill(litres(20.0), abs(50.0 + AMBIENT), abs(300.0 + AMBIENT), celsius(15.0), flow(100.0));
    near(fill.unwrap().get(), 44.4, 0.05);
    // 0.5 L of pipe from 300 to 290 bar lose 3.42 L; 10 L from 8 to 7.5 bar lose 2 · 2.53 L.
    let lost = |v: f64, from: f64, to: f64| {
        let (a, b) = ((abs(from + AMBIENT), celsius(15.0)), (abs(to + AMBIENT), celsius(15.0)));
        gas::lost(litres(v), a, b).unwrap().get()
    };
    near(lost(0.5, 300.0, 290.0), 3.42, 0.005);
    near(lost(10.0, 8.0, 7.5), 2.0 * 2.53, 0.05);
    // Cold is not a leak: 240 bar at 20 °C read 215 at 0 °C, and nothing was lost.
    let settled = gas::settled(abs(240.0 + AMBIENT), celsius(20.0), celsius(0.0)).unwrap();
    near(settled.get() - AMBIENT, 215.0, 0.7);
    let none = gas::lost(litres(20.0), (abs(241.01325), celsius(20.0)), (settled, celsius(0.0))).unwrap();
    near(none.get(), 0.0, 1e-6);
}

/// Common practice, no source: a reserve under about 140 bar is not fit for use; a dryer holds the dew point at least
/// 5 °C under ambient; an aftercooler brings air to within about 5 °C of ambient; air is tested at least every three
/// months in one place; with limiters on two outlets each user keeps half the flow when the other runs open.
#[test]
fn common_practice() {
    let leave = reserve(20.0, 5.0, 5.0, 10.0).leave_by(flow(230.0), minutes(12.0)).unwrap().get();
    assert!((135.0..145.0).contains(&leave), "{leave}");
    let limit = moisture::limit(Some(celsius(20.0)), Kelvins::new("k", 5.0).unwrap()).unwrap();
    assert_eq!(limit.get(), 15.0);
    // So an aftercooler alone does not do: saturated 5 °C over ambient it holds about twice what may be in the line.
    let line = abs(8.0 + AMBIENT);
    let after = moisture::content(celsius(25.0), line).unwrap().get();
    let allowed =
        moisture::allowed(line, Some(celsius(20.0)), Kelvins::new("k", 5.0).unwrap(), None).unwrap();
    assert!((1.7..2.0).contains(&(after / allowed.most.get())), "{after}");
    // A test of the air on 30 November is good for three months, to the end of February.
    let day = |y, m, d| jiff::civil::date(y, m, d);
    let due = Due::new(day(2026, 11, 30), Rule::new(3, 0).unwrap()).unwrap();
    assert!(due.good(day(2027, 2, 28)) && !due.good(day(2027, 3, 1)));
    let outlet = Outlet { limit: Some(flow(300.0)), least: flow(170.0), most: flow(300.0) };
    let fed = beside_open(flow(600.0), &[outlet, outlet], &[]).unwrap();
    assert!(fed.iter().all(|f| f.gets == flow(300.0) && f.short.is_none()));
    // With less than both, the other keeps what is left, and one beside an open outlet is promised nothing.
    let fed = beside_open(flow(420.0), &[outlet, outlet], &[]).unwrap();
    assert!(fed.iter().all(|f| f.gets == flow(120.0) && f.short == Some(flow(50.0))));
    assert!(beside_open(flow(600.0), &[outlet, Outlet { limit: None, ..outlet }], &[]).is_err());
}

/// EN 12021:2014, from memory: rows of the table by pressure against its own rule of -11 °C over ice. Rows to 30 bar are
/// the rule, rounded down; at 40 bar the table is looser than the rule, so both are kept.
#[test]
fn the_table_at_forty_bar_is_looser_than_its_own_rule() {
    for (bar, most) in [(5.0, 290.0), (10.0, 160.0), (15.0, 110.0), (20.0, 80.0), (25.0, 65.0), (30.0, 55.0)]
    {
        let rule =
            moisture::content(celsius(moisture::UNKNOWN_TEMPERATURE), abs(bar + AMBIENT)).unwrap().get();
        assert!(most <= rule && most > rule * 0.93, "{bar} {rule}");
    }
    let rule = moisture::content(celsius(moisture::UNKNOWN_TEMPERATURE), abs(40.0 + AMBIENT)).unwrap().get();
    assert!(rule < 44.0, "{rule}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// More wearers never last longer; the leave-by pressure is never below the floor and rises with the flow, the
    /// time, the warmth of the reading and the cold of what stays behind.
    #[test]
    fn a_reserve_errs_to_the_safe_side(
        v in 10.0..200.0f64, warm in -10.0..50.0f64, colder in 0.0..20.0f64, floor in 5.0..60.0f64,
        q in 50.0..900.0f64, m in 1.0..20.0f64, p in 60.0..300.0f64, more in 1.0..2.0f64,
    ) {
        let cold = warm - colder;
        let r = reserve(v, warm, cold, floor);
        let lasts = |r: &Reserve, q: f64| r.endurance(gauge(p), flow(q)).unwrap().get();
        prop_assert!(lasts(&r, q * more) <= lasts(&r, q));
        prop_assert!(lasts(&reserve(v, warm, cold - 5.0, floor), q) <= lasts(&r, q));
        prop_assert!(lasts(&reserve(v, warm + 5.0, cold, floor), q) <= lasts(&r, q));
        let leave = |r: &Reserve, q: f64, m: f64| r.leave_by(flow(q), minutes(m)).map_or(f64::INFINITY, Gauge::get);
        let base = leave(&r, q, m);
        prop_assert!(base >= floor);
        prop_assert!(leave(&r, q * more, m) >= base && leave(&r, q, m * more) >= base);
        prop_assert!(leave(&reserve(v, warm + 5.0, cold, floor), q, m) >= base);
        prop_assert!(leave(&reserve(v, warm, cold - 5.0, floor), q, m) >= base);
        // At the leave-by pressure it lasts just so long.
        if base.is_finite() && base > floor {
            let back = r.endurance(gauge(base), flow(q)).unwrap().get();
            prop_assert!((back - m).abs() < 1e-6, "{} {}", back, m);
        }
    }

    /// A colder cylinder never reads higher; content and pressure are each other's inverse.
    #[test]
    fn a_colder_cylinder_never_reads_higher(p in 1.0..330.0f64, t in -35.0..60.0f64, less in 0.0..5.0f64) {
        if let Ok(settled) = gas::settled(abs(p), celsius(t), celsius(t - less)) {
            prop_assert!(settled.get() <= p * (1.0 + 1e-9));
        }
        let content = gas::content(litres(20.0), abs(p), celsius(t)).unwrap();
        prop_assert!((gas::pressure(litres(20.0), content, celsius(t)).unwrap().get() / p - 1.0).abs() < 1e-9);
    }

    /// More hose, more flow, a narrower bore, warmer air and more couplings never deliver more pressure.
    #[test]
    fn more_hose_never_delivers_more(
        bore in 6.0..20.0f64, length in 1.0..100.0f64, q in 10.0..600.0f64, p in 3.0..12.0f64, t in -20.0..40.0f64,
        more in 1.0..1.5f64,
    ) {
        let end = |b: f64, l: f64, q: f64, t: f64, c: f64| {
            end_pressure(&line(b, l, q, t, c), gauge(p), abs(AMBIENT)).map_or(f64::NEG_INFINITY, Gauge::get)
        };
        let base = end(bore, length, q, t, 0.0);
        let by = 1e-9;
        prop_assert!(base <= p);
        prop_assert!(end(bore, length * more, q, t, 0.0) <= base + by);
        prop_assert!(end(bore, length, q * more, t, 0.0) <= base + by);
        prop_assert!(end(bore / more, length, q, t, 0.0) <= base + by);
        prop_assert!(end(bore, length, q, t + 15.0, 0.0) <= base + by);
        prop_assert!(end(bore, length, q, t, 0.2) <= base + by);
    }

    /// Dew points rise with content and pressure; content and dew point are each other's inverse.
    #[test]
    fn dew_points_rise(t in -80.0..60.0f64, p in 1.0..50.0f64, more in 1.0..3.0f64) {
        if let Ok(content) = moisture::content(celsius(t), abs(p)) {
            let back = |c: f64, p: f64| {
                moisture::dew_point(Content::new("c", c).unwrap(), abs(p)).map_or(f64::INFINITY, Celsius::get)
            };
            let base = back(content.get(), p);
            prop_assert!((base - t).abs() < 1e-3 || (t.abs() < 0.01), "{} {}", base, t);
            prop_assert!(back(content.get() * more, p) >= base && back(content.get(), p * more) >= base);
        }
    }

    /// Whatever bits a number has, every function answers with a finite number or a refusal.
    #[test]
    fn no_bits_make_it_fail(bits in prop::array::uniform8(any::<u64>())) {
        let n = bits.map(f64::from_bits);
        let small = bits.map(|b| (b % 400) as f64 - 50.0);
        for n in [n, small] {
            let a = Absolute::new("p", n[0]);
            let (t, t2) = (Celsius::new("t", n[1]), Celsius::new("t", n[2]));
            let (v, q) = (Litres::new("v", n[3]), Flow::new("q", n[4]));
            let (g, m) = (Gauge::new("g", n[5]), Minutes::new("m", n[6]));
            if let (Ok(a), Ok(t), Ok(t2), Ok(v), Ok(q), Ok(g), Ok(m)) = (a, t, t2, v, q, g, m) {
                let finite = |r: Result<f64, airwrit::air::Refused>| r.map_or(true, f64::is_finite);
                prop_assert!(finite(gas::compressibility(a, t)));
                prop_assert!(finite(gas::content(v, a, t).map(FreeLitres::get)));
                prop_assert!(finite(gas::settled(a, t, t2).map(Absolute::get)));
                prop_assert!(finite(gas::refill(v, a, a, t, q).map(Minutes::get)));
                prop_assert!(finite(moisture::content(t, a).map(Content::get)));
                if let Ok(c) = Content::new("c", n[7]) {
                    prop_assert!(finite(moisture::dew_point(c, a).map(Celsius::get)));
                }
                if let Ok(r) = Reserve::new(v, a, t, t2, g) {
                    prop_assert!(finite(r.usable(g).map(FreeLitres::get)));
                    prop_assert!(finite(r.endurance(g, q).map(Minutes::get)));
                    prop_assert!(finite(r.leave_by(q, m).map(Gauge::get)));
                }
                if let (Ok(b), Ok(l)) = (Millimetres::new("b", n[7]), Metres::new("l", n[0])) {
                    let line = Line { bore: b, length: l, couplings: g, flow: q, temperature: t };
                    prop_assert!(finite(end_pressure(&line, g, a).map(Gauge::get)));
                }
            }
        }
    }
}
