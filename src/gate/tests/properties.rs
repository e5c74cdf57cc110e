//! What holds of any source and any facts.

use super::*;
use proptest::prelude::*;

/// Pieces of source from which right and wrong expressions are made.
const PIECES: &[&str] = &[
    "and",
    "or",
    "not",
    "between",
    "true",
    "false",
    "(",
    ")",
    ",",
    "==",
    "!=",
    "<",
    "<=",
    ">",
    ">=",
    "+",
    "-",
    "*",
    "/",
    "150 bar",
    "0",
    "3",
    "-5 °C",
    "3 months",
    "10 days",
    "2026-11-25",
    "\"with_arrow\"",
    "earthed",
    "supply",
    "reserve",
    "valve",
    "marked",
    "rotation",
    "today",
    "tested_on",
    "fuel",
    "remarks",
    "least(",
    "sum(",
    "all(",
    "any(",
    "given(",
    "count(",
    "absolute(",
    "co",
    "5 ppm",
    "share",
    "&&",
    "=",
    "'",
    "\"",
    "°",
    "1e3",
    "5.",
    "site.ambient_pressure",
    "minutes",
    "flow",
    "air_temperature",
    "xyz",
    ".",
    "_",
];

fn pieces() -> impl Strategy<Value = String> {
    proptest::collection::vec(proptest::sample::select(PIECES), 0..60).prop_map(|all| all.join(" "))
}

/// A condition that parses, of at most a few levels.
fn condition() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        Just("earthed".to_owned()),
        Just("guards".to_owned()),
        Just("rotation == \"with_arrow\"".to_owned()),
        Just("tested_on + 3 months >= today".to_owned()),
        Just("all(marked)".to_owned()),
        Just("any(valve == \"open\")".to_owned()),
        Just("given(fuel, 3 L) >= 2 L".to_owned()),
        (0_u32..20, prop_oneof![Just("<"), Just("<="), Just(">"), Just(">="), Just("=="), Just("!=")])
            .prop_map(|(n, sign)| format!("supply {sign} {n} bar")),
        (0_u32..20).prop_map(|n| format!("least(reserve) * 2 >= {n} bar + supply")),
        (0_u32..20).prop_map(|n| format!("supply / share - {n} bar between -5 bar and 5 bar")),
    ];
    leaf.prop_recursive(4, 24, 3, |inner| {
        prop_oneof![
            inner.clone().prop_map(|a| format!("not ({a})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) and ({b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) or ({b})")),
            (inner.clone(), inner).prop_map(|(a, b)| format!("({a}) == ({b})")),
        ]
    })
}

/// The same pressure, written in another unit.
fn pressure(tenths: i32, unit: u8) -> Fact {
    let text = match unit {
        0 => format!("{} bar", decimal(tenths, 1)),
        1 => format!("{} kPa", tenths * 10),
        _ => format!("{} MPa", decimal(tenths, 2)),
    };
    reads("pressure", &text)
}

fn decimal(value: i32, places: u8) -> String {
    let exact =
        num_rational::BigRational::new(value.into(), num_bigint::BigInt::from(10).pow(u32::from(places)));
    crate::units::Decimal::round(&exact, places, crate::units::Rounding::Nearest).unwrap().to_string()
}

/// What one run judges on: `None` is not known.
#[derive(Clone, Debug)]
struct Run {
    supply: Option<i32>,
    reserve: Vec<Option<i32>>,
    earthed: Option<bool>,
    guards: Option<bool>,
    share: Option<i8>,
    tested: Option<u8>,
    turns_right: Option<bool>,
}

fn run() -> impl Strategy<Value = Run> {
    (
        any::<Option<u8>>().prop_map(|n| n.map(|n| i32::from(n) - 20)),
        proptest::collection::vec(any::<Option<u8>>().prop_map(|n| n.map(i32::from)), 0..4),
        any::<Option<bool>>(),
        any::<Option<bool>>(),
        proptest::option::of(-2_i8..3),
        proptest::option::of(1_u8..12),
        any::<Option<bool>>(),
    )
        .prop_map(|(supply, reserve, earthed, guards, share, tested, turns_right)| Run {
            supply,
            reserve,
            earthed,
            guards,
            share,
            tested,
            turns_right,
        })
}

impl Run {
    fn facts(&self, unit: u8) -> TestFacts {
        let lacks = |name: &str| Fact::Unknown(format!("{name} lacks"));
        let item = |i: usize| format!("cylinder {i}");
        let mut all = vec![
            ("supply", self.supply.map_or_else(|| lacks("supply"), |n| pressure(n, unit))),
            ("earthed", self.earthed.map_or_else(|| lacks("earthed"), |b| yes_no("earthed", b))),
            ("guards", self.guards.map_or_else(|| lacks("guards"), |b| yes_no("guards", b))),
            ("share", self.share.map_or_else(|| lacks("share"), |n| reads("share", &n.to_string()))),
            (
                "tested_on",
                self.tested.map_or_else(|| lacks("tested"), |m| day("tested", &format!("2026-{m:02}-15"))),
            ),
            (
                "rotation",
                self.turns_right.map_or_else(
                    || lacks("rotation"),
                    |r| chose("rotation", if r { "with_arrow" } else { "against_arrow" }),
                ),
            ),
        ];
        let list = |fact: &dyn Fn(usize, Option<i32>) -> Fact| {
            Fact::List(self.reserve.iter().enumerate().map(|(i, n)| (item(i), fact(i, *n))).collect())
        };
        all.push(("reserve", list(&|i, n| n.map_or_else(|| lacks(&item(i)), |n| pressure(n, unit)))));
        all.push((
            "marked",
            list(&|i, n| n.map_or_else(|| lacks(&item(i)), |n| yes_no("marked", n % 2 == 0))),
        ));
        all.push((
            "valve",
            list(&|i, n| {
                n.map_or(Fact::NotApplicable, |n| chose(&item(i), if n % 3 == 0 { "open" } else { "closed" }))
            }),
        ));
        all.push(("fuel", self.supply.map_or(Fact::NotApplicable, |n| reads("fuel", &format!("{n} L")))));
        facts(&all)
    }

    /// The same with everything that is not known known, one way.
    fn completed(&self, seed: u8) -> Run {
        let s = i32::from(seed);
        Run {
            supply: self.supply.or(Some(s - 20)),
            reserve: self.reserve.iter().map(|n| n.or(Some((s * 7) % 256))).collect(),
            earthed: self.earthed.or(Some(seed.is_multiple_of(2))),
            guards: self.guards.or(Some(seed.is_multiple_of(3))),
            share: self.share.or(Some(i8::try_from(seed % 5).unwrap() - 2)),
            tested: self.tested.or(Some(seed % 11 + 1)),
            turns_right: self.turns_right.or(Some(seed.is_multiple_of(5))),
        }
    }
}

fn in_a_small_thread(source: String) {
    std::thread::Builder::new()
        .stack_size(2 * 1024 * 1024)
        .spawn(move || {
            let _ = Gate::parse(&source, &TestScope).map(|gate| gate.judge(&TestFacts::default()));
            let _ = Expression::parse(&source, &TestScope).map(|e| e.compute(&TestFacts::default()));
        })
        .unwrap()
        .join()
        .unwrap();
}

#[test]
fn long_chains_fit_a_small_stack() {
    let cut = |text: String| text.chars().take(2048).collect::<String>();
    for part in [
        "1+",
        "1*",
        "1-",
        "1/",
        "earthed and ",
        "earthed or ",
        "not ",
        "-",
        "(",
        "earthed == ",
        "a.",
        "given(",
        "all(",
        "absolute(1 bar,",
        "1 <",
        "1 between ",
    ] {
        in_a_small_thread(cut(format!("{}1", part.repeat(2048))));
        in_a_small_thread(cut(format!("supply >= {}", part.repeat(2048))));
        let n = 2047 / part.len();
        in_a_small_thread(format!("{}1", part.repeat(n)));
    }
    in_a_small_thread(format!("{}{}", "(".repeat(1024), ")".repeat(1024)));
    in_a_small_thread("9".repeat(2048));
    in_a_small_thread(format!("supply >= {} bar", "999999999.999999*".repeat(31) + "1"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 512, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_read_or_refused(source in "\\PC{0,200}") {
        if let Err(problems) = Gate::parse(&source, &TestScope) {
            prop_assert!(!problems.is_empty());
            for problem in problems {
                prop_assert!(source.is_char_boundary(problem.at), "{problem:?}");
            }
        }
    }

    #[test]
    fn any_pieces_are_read_or_refused_and_judged(source in pieces(), run in run(), unit in 0_u8..3) {
        if let Ok(gate) = Gate::parse(&source, &TestScope) {
            let _ = gate.judge(&run.facts(unit));
            let _ = gate.judge(&TestFacts::default());
        }
        if let Ok(expression) = Expression::parse(&source, &TestScope) {
            let _ = expression.compute(&run.facts(unit));
        }
    }

    #[test]
    fn another_unit_changes_no_verdict(source in condition(), run in run()) {
        let plain = gate(&source);
        let bar = state(&plain.judge(&run.facts(0)));
        prop_assert_eq!(state(&plain.judge(&run.facts(1))), bar);
        prop_assert_eq!(state(&plain.judge(&run.facts(2))), bar);
        // and limits written in another unit
        let kilo = source.split(' ').fold((String::new(), None::<String>), |(mut text, last), word| {
            match last {
                Some(number) if word.starts_with("bar") => {
                    text.push_str(&format!("{number}00 kPa{} ", &word[3..]));
                    return (text, None);
                }
                Some(other) => text.push_str(&format!("{other} ")),
                None => {}
            }
            (text, Some(word.to_owned()))
        });
        let kilo = format!("{}{}", kilo.0, kilo.1.unwrap_or_default()).replace("-000 kPa", "0 kPa").replace(" 000 kPa", " 0 kPa");
        prop_assert!(source.contains("bar") == kilo.contains("kPa"), "{}", kilo);
        prop_assert!(!kilo.contains("bar"), "{}", kilo);
        let other = gate(&kilo);
        prop_assert_eq!(state(&other.judge(&run.facts(0))), bar, "{}", kilo);
        prop_assert!(other == plain);
    }

    /// What is judged open (or shut) while something is unknown stays so, whatever it turns out to be.
    #[test]
    fn what_is_not_known_decides_nothing(source in condition(), run in run(), seed in any::<u8>()) {
        let gate = gate(&source);
        let before = state(&gate.judge(&run.facts(0)));
        let after = state(&gate.judge(&run.completed(seed).facts(0)));
        let not_applicable_steps = run.supply.is_none() && source.contains("fuel") || run.reserve.contains(&None) && source.contains("valve");
        if before != Tri::Unknown && !not_applicable_steps {
            // A share of nought makes a quotient unknown; it never turns a verdict round.
            prop_assert!(after == before || after == Tri::Unknown && source.contains("share"), "{:?} then {:?}", before, after);
        }
    }

    /// With nothing known at all nothing opens.
    #[test]
    fn nothing_known_opens_nothing(source in condition()) {
        prop_assert_ne!(state(&gate(&source).judge(&TestFacts::default())), Tri::Open);
    }

    #[test]
    fn reasons_go_with_every_no(source in condition(), run in run()) {
        match gate(&source).judge(&run.facts(0)) {
            Verdict::Open => {}
            Verdict::Shut(reasons) | Verdict::Unknown(reasons) => {
                prop_assert!(!reasons.is_empty());
                prop_assert!(reasons.iter().all(|r| !r.is_empty()));
            }
        }
    }

    #[test]
    fn not_turns_open_to_shut_and_keeps_unknown(source in condition(), run in run()) {
        let plain = state(&gate(&source).judge(&run.facts(0)));
        let turned = state(&gate(&format!("not ({source})")).judge(&run.facts(0)));
        let wanted = match plain { Tri::Open => Tri::Shut, Tri::Shut => Tri::Open, Tri::Unknown => Tri::Unknown };
        prop_assert_eq!(turned, wanted);
    }
}

/// Conditions in which contradictions are likely: few names, few limits.
fn tight() -> impl Strategy<Value = String> {
    let sign = || prop_oneof![Just("<"), Just("<="), Just(">"), Just(">="), Just("=="), Just("!=")];
    let leaf = prop_oneof![
        Just("earthed".to_owned()),
        Just("guards".to_owned()),
        (sign(), 0_u32..5).prop_map(|(s, n)| format!("supply {s} {n} bar")),
        (sign(), 0_u32..5).prop_map(|(s, n)| format!("{n} bar {s} supply * 2 - 1 bar")),
        sign().prop_map(|s| format!("supply {s} set.reserve_minimum")),
        sign().prop_map(|s| format!("set.reserve_minimum {s} supply")),
        (0_u32..5, 0_u32..3).prop_map(|(a, n)| format!("supply between {a} bar and {} bar", a + n)),
        (prop_oneof![Just("=="), Just("!=")], prop_oneof![Just("with_arrow"), Just("against_arrow")])
            .prop_map(|(s, c)| format!("rotation {s} \"{c}\"")),
        (sign(), 0_u32..4).prop_map(|(s, n)| format!("tested_on + {n} days {s} today")),
        (sign(), 24_u32..28).prop_map(|(s, n)| format!("2026-11-{n} {s} tested_on")),
        (sign(), 0_u32..5).prop_map(|(s, n)| format!("all(reserve {s} {n} bar)")),
        (sign(), 0_u32..5).prop_map(|(s, n)| format!("any(reserve {s} {n} bar and reserve != 2 bar)")),
        (sign(), 0_u32..5).prop_map(|(s, n)| format!("most(reserve) {s} {n} bar")),
    ];
    leaf.prop_recursive(3, 12, 3, |inner| {
        prop_oneof![
            inner.clone().prop_map(|a| format!("not ({a})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) and ({b})")),
            (inner.clone(), inner).prop_map(|(a, b)| format!("({a}) or ({b})")),
        ]
    })
}

/// Every mixture of a few values of each name within the ranges said, and one reading below the lowest mark.
fn mixtures() -> Vec<TestFacts> {
    let bar = |n: u32| reads("p", &format!("{n} bar"));
    let mut supplies: Vec<Fact> =
        (0..=3).map(bar).chain([reads("p", "0.5 bar"), reads("p", "1.5 bar")]).collect();
    supplies.push(Fact::Below {
        from: q("0 bar"),
        mark: q("2 bar"),
        shown: "< 2 bar".into(),
        label: "p".into(),
    });
    let lists = [vec![], vec![0], vec![3], vec![1, 2], vec![2, 2]];
    let mut all = Vec::new();
    for supply in &supplies {
        for minimum in [0, 1, 2] {
            for (n, list) in lists.iter().enumerate() {
                for at in ["2026-11-23", "2026-11-24", "2026-11-25", "2026-11-27"] {
                    let reserve = list.iter().map(|r| ("cylinder".to_owned(), bar(*r))).collect();
                    let way = if n % 2 == 0 { "with_arrow" } else { "against_arrow" };
                    all.push(facts(&[
                        ("supply", supply.clone()),
                        ("set.reserve_minimum", bar(minimum)),
                        ("reserve", Fact::List(reserve)),
                        ("tested_on", day("tested", at)),
                        ("rotation", chose("rotation", way)),
                        ("earthed", yes_no("earthed", (minimum + n as u32).is_multiple_of(2))),
                        ("guards", yes_no("guards", at.ends_with('5') || n == 3)),
                    ]));
                }
            }
        }
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    /// What is called impossible no sample opens, and what is called always open none shuts.
    #[test]
    fn nothing_possible_is_called_impossible(source in tight()) {
        let ranges = |name: &Name| match name.join(".").as_str() {
            "supply" | "reserve" => Some((q("0 bar"), q("3 bar"))),
            "set.reserve_minimum" => Some((q("0 bar"), q("2 bar"))),
            _ => None,
        };
        let gate = gate(&source);
        let said = gate.possible(&ranges);
        if said != Possible::Either {
            for facts in mixtures() {
                let came = state(&gate.judge(&facts));
                let against = if said == Possible::NeverOpen { Tri::Open } else { Tri::Shut };
                prop_assert_ne!(came, against, "{:?} of {}", said, source);
            }
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tri {
    Open,
    Shut,
    Unknown,
}

fn state(verdict: &Verdict) -> Tri {
    match verdict {
        Verdict::Open => Tri::Open,
        Verdict::Shut(_) => Tri::Shut,
        Verdict::Unknown(_) => Tri::Unknown,
    }
}
