//! Set, site and job files: what is read, and what is refused with its place.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::read::read;
use super::*;
use crate::gate::Fact;
use proptest::prelude::*;

/// Code, line, column.
type Found = (&'static str, u32, u32);

const fn field(name: &'static str, holds: Holds, need: Need) -> Field {
    Field { name, holds, need, doc: "for tests", source: "invented", read_by: "gate" }
}

const ID: Field = field("id", Holds::Id, Need::Required);
const NAME: Field = field("name", Holds::Words, Need::Required);

/// A small table with one field of each kind.
static SMALL: &[Field] = &[
    field("set", Holds::Id, Need::Required),
    NAME,
    field("serial", Holds::Text, Need::Optional),
    field("reserve", Holds::Choice(&["none", "cylinders"]), Need::Required),
    field("spare", Holds::Bool, Need::Default("false")),
    field("outlets", Holds::Number("1", "8"), Need::Optional),
    field("minimum", Holds::Quantity(Dimension::Pressure, "1 bar", "400 bar"), Need::Default("150 bar")),
    field("examined", Holds::Date, Need::Optional),
    field("every", Holds::Span, Need::Default("12 months")),
    field("until", Holds::TimeOfDay, Need::Optional),
    field(
        "motor",
        Holds::Map(&[
            field("voltage", Holds::Quantity(Dimension::Voltage, "1 V", "1000 V"), Need::Required),
            field("speed_from", Holds::Quantity(Dimension::Frequency, "1 Hz", "99 Hz"), Need::Optional),
            field("speed_to", Holds::Quantity(Dimension::Frequency, "1 Hz", "99 Hz"), Need::Optional),
        ]),
        Need::Optional,
    ),
    field(
        "cylinders",
        Holds::Items(&[
            ID,
            NAME,
            field("volume", Holds::Quantity(Dimension::Volume, "1 L", "100 L"), Need::Required),
        ]),
        Need::Optional,
    ),
    field("marks", Holds::Texts, Need::Optional),
    Field { source: fields::ALWAYS_WORKED_OUT, ..field("total", Holds::Number("0", "9"), Need::Optional) },
];

const GOOD: &str = "\
set: heron-2
name: { en: Heron 2, pl: Czapla 2 }
serial: \"00417\"
reserve: cylinders
outlets: 3
examined: 2026-02-28
until: 18:00
motor: { voltage: 0.4 kV }
cylinders:
  - { id: a, name: A, volume: 9.5 L }
  - { id: b, name: B, volume: 10 L }
marks: [CE, \"12\"]
";

fn small(text: &str) -> Read {
    read(Kind::Set, SMALL, "f.yaml", text.as_bytes())
}

fn codes(text: &str) -> Vec<(&'static str, u32, u32)> {
    let r = small(text);
    crate::finding::in_every_tongue(|| small(text).findings);
    assert_eq!(r.file.is_none(), crate::finding::any_error(&r.findings));
    r.findings.iter().map(|f| (f.code, f.place.line, f.place.column)).collect()
}

fn good() -> String {
    GOOD.replace("0.4 kV", "400 V")
}

#[test]
fn a_good_file_is_typed_and_its_defaults_are_marked() {
    let r = small(&good());
    assert_eq!(r.findings, []);
    let f = r.file.unwrap();
    let v = f.values();
    assert_eq!((f.id(), f.name().unwrap().get("pl")), ("heron-2", "Czapla 2"));
    assert_eq!(v.text("serial"), Some("00417"));
    assert_eq!(v.choice("reserve"), Some("cylinders"));
    assert_eq!((v.truth("spare"), v.is_default("spare")), (Some(false), true));
    assert_eq!((v.number("outlets").unwrap().to_string(), v.is_default("outlets")), ("3".into(), false));
    assert_eq!(v.judged("minimum", "en").unwrap().1, "150 bar");
    assert!(v.is_default("minimum") && v.is_default("every"));
    assert_eq!(v.date("examined").unwrap().to_string(), "2026-02-28");
    assert_eq!(v.span("every"), Some((12, 0)));
    assert_eq!(v.time("until").unwrap().hour(), 18);
    assert_eq!(v.judged("motor.voltage", "en").unwrap().1, "400 V");
    assert_eq!(
        v.items("cylinders").iter().map(|i| i.judged("volume", "en").unwrap().1).collect::<Vec<_>>(),
        ["9.5 L", "10 L"]
    );
    assert_eq!(v.item("cylinders", "b").unwrap().text("name"), Some("B"));
    assert_eq!(v.texts("marks"), ["CE", "12"]);
    assert_eq!(v.get("nothing"), None);
    assert_eq!(v.quantity("serial"), None);
    assert_eq!(f.sha256(), crate::text::sha256_hex(good().as_bytes()));
}

#[test]
fn each_finding_has_its_example() {
    let head = "set: heron-2\nname: Heron\nreserve: none\n";
    let rows: &[(&str, &[Found])] = &[
        ("examnied: 2026-01-01\n", &[("unknown-key", 4, 1)]),
        ("total: 3\n", &[("worked-out", 4, 1)]),
        ("outlets: 9\n", &[("out-of-range", 4, 10)]),
        ("outlets: '3'\n", &[("bad-number", 4, 10)]),
        ("outlets: 03\n", &[("bad-number", 4, 10)]),
        ("outlets: 1e0\n", &[("bad-number", 4, 10)]),
        ("minimum: 150\n", &[("wrong-dimension", 4, 10)]),
        ("minimum: 15 min\n", &[("wrong-dimension", 4, 10)]),
        ("minimum: 150 Bar\n", &[("bad-quantity", 4, 10)]),
        ("minimum: lots\n", &[("bad-quantity", 4, 10)]),
        ("minimum: 401 bar\n", &[("out-of-range", 4, 10)]),
        // 400 bar is 40 MPa: a limit met exactly is met in every unit.
        ("minimum: 40.000001 MPa\n", &[("out-of-range", 4, 10)]),
        ("minimum: 40 MPa\n", &[]),
        ("examined: 2026-02-30\n", &[("bad-date", 4, 11)]),
        ("examined: 2026-2-3\n", &[("bad-date", 4, 11)]),
        ("examined: 20260203\n", &[("bad-date", 4, 11)]),
        ("examined: 2026-02-03T10:00:00\n", &[("bad-date", 4, 11)]),
        ("every: 1 year\n", &[("bad-span", 4, 8)]),
        ("until: 24:00\n", &[("bad-time", 4, 8)]),
        ("until: 6:30\n", &[("bad-time", 4, 8)]),
        ("until: 18:00:00\n", &[("bad-time", 4, 8)]),
        ("spare: yes\n", &[("not-true-or-false", 4, 8)]),
        ("serial: 00417\n", &[("quote-it", 4, 9)]),
        ("serial: 1.10\n", &[("quote-it", 4, 9)]),
        ("serial: \"a\\nb\"\n", &[("too-long", 4, 9)]),
        ("motor: 400 V\n", &[("wrong-type", 4, 8)]),
        ("motor: { volts: 400 V }\n", &[("missing-key", 4, 8), ("unknown-key", 4, 10)]),
        ("cylinders: { a: 1 }\n", &[("wrong-type", 4, 12)]),
        (
            "cylinders:\n  - { id: a, name: A, volume: 1 L }\n  - { id: a, name: B, volume: 1 L }\n",
            &[("duplicate-id", 6, 11)],
        ),
        ("cylinders:\n  - { id: A, name: A, volume: 1 L }\n", &[("bad-id", 5, 11)]),
        ("cylinders:\n  - { name: A, volume: 1 L }\n", &[("missing-key", 5, 5)]),
        ("cylinders:\n  - { id: a, name: A, volume: 1 L }\n", &[("reserve-disagrees", 3, 10)]),
        ("motor: { voltage: 400 V, speed_from: 50 Hz, speed_to: 49 Hz }\n", &[("empty-range", 4, 38)]),
        ("marks: CE\n", &[("wrong-type", 4, 8)]),
        ("marks: [12]\n", &[("quote-it", 4, 9)]),
    ];
    let wrong: Vec<_> = rows
        .iter()
        .map(|(t, want)| (t, codes(&format!("{head}{t}")), want))
        .filter(|(_, got, want)| got != *want)
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert_eq!(codes("set: heron-2\nname: Heron\nreserve: noen\n"), [("unknown-choice", 3, 10)]);
    assert_eq!(codes("name: Heron\nset: heron-2\nreserve: none\n"), [("wrong-kind", 1, 1)]);
    assert_eq!(codes("set: heron-2\n"), [("missing-key", 1, 1), ("missing-key", 1, 1)]);
}

#[test]
fn what_the_register_keeps_reads_back_as_the_same() {
    let file = small(&good()).file.unwrap();
    let raw = file.values().to_raw();
    assert!(raw.iter().all(|(n, _)| n != "minimum" && n != "spare"), "defaults are not written down");
    assert!(raw.contains(&("examined".into(), Raw::Text("2026-02-28".into()))));
    let back = Values::read_map(SMALL, "the set", &raw).unwrap();
    assert_eq!(&back, file.values());
}

#[test]
fn what_comes_from_a_register_is_checked_as_a_file_is() {
    let text = |t: &str| Raw::Text(t.to_owned());
    let good = vec![
        ("set".to_owned(), text("heron-2")),
        ("name".to_owned(), text("Heron")),
        ("reserve".to_owned(), text("none")),
    ];
    assert!(Values::read_map(SMALL, "the set", &good).is_ok());
    let with = |name: &str, raw: Raw| {
        let mut all = good.clone();
        all.push((name.to_owned(), raw));
        Values::read_map(SMALL, "the set", &all).unwrap_err().iter().map(|f| f.code).collect::<Vec<_>>()
    };
    assert_eq!(with("minimum", text("401 bar")), ["out-of-range"]);
    assert_eq!(with("spare", text("true")), ["not-true-or-false"]);
    assert_eq!(with("outlets", text("1,5")), ["bad-number"]);
    assert_eq!(with("outlets", Raw::Int(99)), ["out-of-range"]);
    assert_eq!(with("colour", text("red")), ["unknown-key"]);
    assert_eq!(with("set", text("other")), ["duplicate-key"]);
    assert_eq!(with("name2", Raw::Map(vec![])), ["unknown-key"]);
    assert_eq!(with("cylinders", Raw::List(vec![Raw::Int(1)])), ["wrong-type"]);
    assert_eq!(with("serial", text("a\u{202e}b")), ["forbidden-character"]);
    let mut deep = Raw::Int(1);
    for _ in 0..200 {
        deep = Raw::List(vec![deep]);
    }
    assert_eq!(with("marks", deep), ["too-deep", "wrong-type"]);
}

#[test]
fn every_default_and_range_of_the_tables_can_be_read() {
    fn walk(table: &'static [Field], path: &str) {
        for f in table {
            let full = format!("{path}{}", f.name);
            assert!(crate::source::typed::is_name(f.name), "{full}");
            match f.holds {
                Holds::Quantity(d, from, to) => {
                    let (a, b) = (
                        crate::units::Quantity::read(from).unwrap(),
                        crate::units::Quantity::read(to).unwrap(),
                    );
                    assert_eq!((a.dimension, b.dimension), (d, d), "{full}");
                    assert!(a.value < b.value, "{full}");
                }
                Holds::Number(from, to) => {
                    let n = |t| crate::units::Decimal::kept(t).unwrap().to_exact();
                    assert!(n(from) < n(to), "{full}");
                }
                Holds::Items(t) | Holds::Map(t) => walk(t, &format!("{full}.")),
                Holds::Choice(c) => {
                    assert!(c.len() > 1 && c.iter().all(|c| crate::source::typed::is_name(c)), "{full}")
                }
                Holds::Id
                | Holds::Words
                | Holds::Text
                | Holds::Bool
                | Holds::Date
                | Holds::Span
                | Holds::TimeOfDay
                | Holds::Texts => {}
            }
            if let Need::Default(text) = f.need {
                let one: &'static [Field] = Box::leak(Box::new([*f]));
                let read = Values::read_map(one, "default", &[]);
                assert!(read.as_ref().is_ok_and(|v| v.is_default(f.name)), "{full}: {text}: {read:?}");
            }
            assert!(!f.doc.is_empty() && !f.source.is_empty(), "{full}");
        }
    }
    walk(fields::SET, "set.");
    walk(fields::SITE, "site.");
    walk(fields::JOB, "job.");
    walk(fields::WEARER, "wearers.");
    for (kind, table) in fields::LAST {
        walk(table, &format!("last.{kind}."));
    }
}

#[test]
fn values_are_facts_and_what_is_out_of_service_or_left_out_does_not_count() {
    let file = small(&good()).file.unwrap();
    let out = |list: &str, id: &str| list == "cylinders" && id == "a";
    let telling = Telling { root: "set", language: "en", left_out: &out };
    let fact = |path: &str| {
        let path: Vec<String> = path.split('.').map(str::to_owned).collect();
        file.values().fact(&path, SMALL, &telling)
    };
    let shown = |f: &Fact| match f {
        Fact::Is { shown, .. } => shown.clone(),
        Fact::Below { .. } | Fact::Unknown(_) | Fact::NotApplicable | Fact::List(_) => {
            panic!("{f:?}")
        }
    };
    assert_eq!(shown(&fact("minimum")), "150 bar");
    assert_eq!(shown(&fact("motor.voltage")), "400 V");
    let Fact::List(volumes) = fact("cylinders.volume") else { panic!() };
    assert_eq!(
        volumes.iter().map(|(n, f)| (n.as_str(), shown(f))).collect::<Vec<_>>(),
        [("B", "10 L".to_owned())]
    );
    let Fact::List(all) = fact("cylinders") else { panic!() };
    assert_eq!(all.len(), 1);
    for unknown in ["total", "motor.speed_from", "nothing", "motor"] {
        assert!(matches!(fact(unknown), Fact::Unknown(_)), "{unknown}");
    }
    let Fact::Unknown(why) = fact("motor.speed_from") else { panic!() };
    assert!(why.contains("set.motor.speed_from"), "{why}");
    // No list is an empty list: over nothing `all` never opens.
    let none = small("set: heron-2\nname: Heron\nreserve: none\n").file.unwrap();
    assert_eq!(
        none.values().fact(&["cylinders".into(), "volume".into()], SMALL, &telling),
        Fact::List(Vec::new())
    );
    assert_eq!(label(field_at(SMALL, &["cylinders".into(), "volume".into()]).unwrap()), "for tests");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn nothing_panics(at in 0usize..220, cut in 0usize..12, put in "[ -~\n°{}\\[\\]]{0,8}") {
        let mut text: Vec<char> = good().chars().collect();
        let at = at.min(text.len());
        let end = (at + cut).min(text.len());
        text.splice(at..end, put.chars());
        codes(&text.into_iter().collect::<String>());
    }
}

/// What contradicts itself is found when the file is read, each under its code.
#[test]
fn sets_and_sites_that_contradict_themselves() {
    let (set, site) = (include_str!("../../examples/set.yaml"), include_str!("../../examples/site.yaml"));
    let codes = |read: Read| -> Vec<&'static str> { read.findings.iter().map(|f| f.code).collect() };
    for (old, new, code) in [
        ("reserve_minimum: 194 bar", "reserve_minimum: 194 psi", "pressures-disagree"),
        ("reserve_minimum: 194 bar", "reserve_minimum: 96 bar", "pressures-disagree"),
        ("reserve_minimum: 194 bar", "reserve_minimum: 301 bar", "pressures-disagree"),
        ("reserve_minimum: 194 bar", "", "reserve-not-judged"),
        ("reserve_floor: 23 bar", "", "reserve-not-judged"),
        ("reserve_floor: 23 bar", "reserve_floor: 97 bar", "pressures-disagree"),
        ("supply_pressure_to: 7 bar", "supply_pressure_to: 8.7 bar", "pressures-disagree"),
        ("rated_flow: 874 L/min", "rated_flow: 300 L/min", "outlet-limit"),
        ("kind: limited, flow_limit: 336 L/min", "kind: limited", "outlet-limit"),
        ("socket: 32 A", "socket: 16 A", "plug-too-small"),
        ("socket: 32 A", "", "no-motor"),
    ] {
        let text = set.replacen(old, new, 1);
        assert_ne!(text, set, "{old}");
        assert!(codes(read_set("f", text.as_bytes())).contains(&code), "{new}: {code}");
    }
    for (old, new, code) in [
        ("zone: Europe/Warsaw", "zone: Europe/Warsow", "unknown-zone"),
        ("least: 124 L/min", "least: 900 L/min", "flows-disagree"),
        ("co_most: 5 ppm", "co_most: 5.1 ppm", "looser-than-its-rule"),
        ("o2_from: 20 %", "o2_from: 19.5 %", "looser-than-its-rule"),
    ] {
        let text = site.replacen(old, new, 1);
        let read = read_site("f", text.as_bytes());
        assert!(read.file.is_none());
        assert!(codes(read).contains(&code), "{new}: {code}");
    }
    let read = read_site("f", site.replace("Europe/Warsaw", "Europe/Warsow").as_bytes());
    assert_eq!(read.findings[0].hint.as_deref(), Some("did you mean Europe/Warsaw?"));
    // A number without a unit is no flow.
    assert!(read_set("f", set.replace("874 L/min", "8.74").as_bytes()).file.is_none());
}

/// One thing of a shipped example changed: each finding with its place and what stands there.
fn found(read: fn(&str, &[u8]) -> Read, text: &str, old: &str, new: &str) -> Vec<(&'static str, String)> {
    assert!(text.contains(old), "{old}");
    let text = text.replacen(old, new, 1);
    let lines: Vec<&str> = text.lines().collect();
    crate::finding::in_every_tongue(|| read("f", text.as_bytes()).findings);
    let read = read("f", text.as_bytes());
    assert!(read.findings.iter().all(|f| f.hint.is_some()), "{:?}", read.findings);
    let at = |f: &crate::finding::Finding| -> String {
        let line = lines.get(f.place.line as usize - 1).copied().unwrap_or_default();
        line.chars().skip(f.place.column as usize - 1).collect()
    };
    read.findings.iter().map(|f| (f.code, at(f))).collect()
}

#[test]
fn a_set_must_be_able_to_be() {
    let set = include_str!("../../examples/set.yaml");
    let bare = include_str!("../../examples/set-no-reserve.yaml");
    let list = |text: &str, key: &str| -> String {
        let from = text.find(&format!("{key}:\n")).unwrap();
        let rest: String = text[from..]
            .lines()
            .skip(1)
            .take_while(|l| l.starts_with("  "))
            .map(|l| format!("{l}\n"))
            .collect();
        format!("{key}:\n{rest}")
    };
    let of = |old: &str, new: &str| found(read_set, set, old, new);
    assert_eq!(of(&list(set, "filters"), "filters: []\n"), [("no-filter", "[]".to_owned())]);
    assert_eq!(
        of(&list(set, "warnings"), "warnings: []\n").iter().filter(|f| f.0 == "no-warning").count(),
        3
    );
    // Without a reserve nothing warns of its end.
    let none = found(read_set, bare, &list(bare, "warnings"), "warnings: []\n");
    assert_eq!(none.iter().filter(|f| f.0 == "no-warning").count(), 2);
    for kind in ["low_supply", "low_reserve", "co"] {
        let codes: Vec<_> = of(&format!("kind: {kind},"), "kind: other,").into_iter().map(|f| f.0).collect();
        assert_eq!(codes, ["no-warning"], "{kind}");
    }
    for (old, new, want) in [
        ("voltage_from: 374 V", "voltage_from: 425 V", vec![("empty-range", "425 V")]),
        ("voltage: 400 V", "voltage: 425 V", vec![("rating-outside", "425 V")]),
        ("voltage: 400 V", "voltage: 373 V", vec![("rating-outside", "373 V")]),
        ("voltage: 400 V", "voltage: 424 V", vec![]),
        ("frequency: 50 Hz", "frequency: 60 Hz", vec![("rating-outside", "60 Hz")]),
        // 9200 W / (1.7320508 x 400 V) = 13.2791 A.
        ("current: 17.6 A", "current: 13.28 A", vec![]),
        ("current: 17.6 A", "current: 13.27 A", vec![("current-impossible", "13.27 A")]),
        ("current: 17.6 A", "current: 13.28 A\n  power_factor: 0.8", vec![("current-impossible", "13.28 A")]),
        // 9200 W / 400 V = 23 A on one phase.
        ("phases: three", "phases: one", vec![("current-impossible", "17.6 A")]),
        (
            "flow_limit: 336 L/min, relief: 8.1 bar",
            "flow_limit: 336 L/min, relief: 7 bar",
            vec![("pressures-disagree", "7 bar }")],
        ),
        ("flow_limit: 336 L/min, relief: 8.1 bar", "flow_limit: 336 L/min, relief: 7.1 bar", vec![]),
    ] {
        let got = of(old, new);
        assert_eq!(got.len(), want.len(), "{new}: {got:?}");
        assert!(got.iter().zip(want).all(|(g, w)| g.0 == w.0 && g.1.starts_with(w.1)), "{new}: {got:?}");
    }
}

#[test]
fn a_site_must_be_able_to_be() {
    let site = include_str!("../../examples/site.yaml");
    let of = |old: &str, new: &str| found(read_site, site, old, new);
    for (old, new, want) in [
        ("water_most: 160 mg/m3", "water_most: 291 mg/m3", vec![("looser-than-its-rule", "291 mg/m3")]),
        ("water_most: 160 mg/m3", "water_most: 290 mg/m3", vec![]),
        ("air_test_months: 3 months", "air_test_months: 0 months", vec![("empty-span", "0 months")]),
        ("air_test_months: 3 months", "air_test_months: 4 months", vec![("test-too-rare", "4 months")]),
        ("air_test_months: 3 months", "air_test_months: 93 days", vec![("test-too-rare", "93 days")]),
        ("air_test_months: 3 months", "air_test_months: 92 days", vec![]),
        ("clearance_downwind: 34 m", "clearance_downwind: 11 m", vec![("clearances-disagree", "11 m")]),
        ("clearance_downwind: 34 m", "clearance_downwind: 12 m", vec![]),
        ("approved_with: [tern]", "approved_with: []", vec![("escape-approval", "[]")]),
        ("approved_with: [tern]", "approved_with: [tren]", vec![("escape-approval", "[tren]")]),
        ("sections: 2, bore", "sections: 2.5, bore", vec![("not-whole", "2.5, bore: 1")]),
        ("sections_most: 3", "sections_most: 2.5", vec![("not-whole", "2.5")]),
        ("recall_time: 15 s", "recall_time: 15 s\nrescuers_least: 1.5", vec![("not-whole", "1.5")]),
        ("inlet_from: 3.4 bar", "inlet_from: 4.7 bar", vec![("pressures-disagree", "4.7 bar")]),
        ("name: Dock head", "name: \"Dock\u{200b} head\"", vec![("unseen-character", "\"Dock\u{200b} head")]),
        (
            "name: Dock head",
            "name: { en: \"Dock\u{2060}head\" }",
            vec![("unseen-character", "\"Dock\u{2060}head\"")],
        ),
        ("name: Dock head", "name: Dock\u{200d}head", vec![("unseen-character", "Dock\u{200d}head ")]),
        // A joiner between the letters of a script that is written with it.
        ("name: Dock head", "name: \u{645}\u{6cc}\u{200c}\u{631}\u{648}\u{645}", vec![]),
        (
            "serial: KB-40-0117",
            "serial: \"KB-40\u{ad}-0117\"",
            vec![("unseen-character", "\"KB-40\u{ad}-011")],
        ),
    ] {
        let got = of(old, new);
        assert_eq!(got.len(), want.len(), "{new}: {got:?}");
        assert!(got.iter().zip(want).all(|(g, w)| g.0 == w.0 && g.1.starts_with(w.1)), "{new}: {got:?}");
    }
    let read =
        read_site("f", site.replace("air_test_months: 3 months", "air_test_months: 4 months").as_bytes());
    assert!(read.file.is_some(), "longer is told, and is the site's to answer for");
}

#[test]
fn a_job_must_be_able_to_be() {
    let job = include_str!("../../examples/job.yaml");
    let of =
        |old: &str, new: &str| found(read_job, job, old, new).into_iter().map(|f| f.0).collect::<Vec<_>>();
    let wearers = &job[job.find("wearers:\n").unwrap()..];
    assert_eq!(of(wearers, "wearers: []\n"), ["no-wearer"]);
    assert_eq!(of("hose: grey7", "hose: blue1"), ["job-disagrees"]);
    // Refused here, with its place, and not when a permit is opened.
    assert_eq!(of("measured_how: ", "measured_how: \"a\\nb\" # "), ["not-one-line"]);
    assert_eq!(of("measured_how: ", &format!("measured_how: {} # ", "a".repeat(120))), [""; 0]);
    assert_eq!(of("measured_how: ", &format!("measured_how: {} # ", "a".repeat(121))), ["long-text"]);
    assert_eq!(of("measured_how: ", &format!("measured_how: {} # ", "a".repeat(201))), ["text-too-long"]);
    assert_eq!(of("rescue_number: ", "rescue_number: \"-\" # "), ["no-words"]);
    assert_eq!(of("outlet: white", "outlet: red"), ["job-disagrees"]);
    let way = "notice: 40 s\nmake_safe: 50 s\nwalk: 4 min\nwash_down: 2 min\n";
    assert_eq!(of(way, "notice: 0 s\nmake_safe: 0 min\nwalk: 0 s\nwash_down: 0 s\n"), ["job-disagrees"]);
    assert_eq!(of(way, "notice: 1 s\nmake_safe: 0 s\nwalk: 0 s\nwash_down: 0 s\n"), [""; 0]);
}

#[test]
fn set_and_site_that_are_good_alone_and_not_together() {
    let read =
        |text: &str, read: fn(&str, &[u8]) -> Read| read("f", text.as_bytes()).file.unwrap().values().clone();
    let set = include_str!("../../examples/set.yaml");
    let site = include_str!("../../examples/site.yaml");
    let job = read(include_str!("../../examples/job.yaml"), read_job);
    let told = |set: &str, site: &str| {
        let (set, site) = (read(set, read_set), read(site, read_site));
        let job = job.worked_out(&site, &|_| None).unwrap();
        super::together::disagree(&set, &site, &job)
    };
    assert_eq!(told(set, site), [""; 0]);
    // 290 is good up to 5 bar, and the set gives up to 7 bar.
    let wet = told(set, &site.replace("water_most: 160 mg/m3", "water_most: 161 mg/m3"));
    assert_eq!(wet.len(), 1);
    assert!(
        wet[0].contains("161 mg/m3") && wet[0].contains("160 mg/m3") && wet[0].contains("7 bar"),
        "{wet:?}"
    );
    let low = told(&set.replace("supply_pressure_from: 5.2 bar", "supply_pressure_from: 3.3 bar"), site);
    assert_eq!(low.len(), 2);
    assert!(low[0].contains("zaneta") && low[0].contains("3.4 bar") && low[0].contains("3.3 bar"), "{low:?}");
}

/// A hint shows what is wanted here, not what is wanted somewhere.
#[test]
fn hints_fit_what_is_wanted() {
    let set = include_str!("../../examples/set.yaml");
    let hint = |old: &str, new: &str| {
        let text = set.replacen(old, new, 1);
        assert_ne!(text, set);
        let read = read_set("f", text.as_bytes());
        let f = read.findings.first().unwrap();
        (f.message.clone(), f.hint.clone().unwrap())
    };
    assert_eq!(hint("ambient_from: -12 °C", "ambient_from: \u{2212}12 °C").1, "write -12 °C");
    assert_eq!(
        hint("ambient_from: -12 °C", "ambient_from: cold").1,
        "write the number with its unit, from -60 °C to 60 °C"
    );
    assert!(
        hint("rated_flow: 874 L/min", "rated_flow: lots")
            .1
            .starts_with("write the number with its unit, from 1 L/min to ")
    );
    let (message, hint_of) = hint("rated_flow: 874 L/min", "rated_flow: .nan");
    assert!(
        message.contains("\".nan\"")
            && hint_of.starts_with("write the number with its unit, from 1 L/min to "),
        "{message}"
    );
    assert!(hint("rated_flow: 874 L/min", "rated_flow: .inf L/min").0.contains("\".inf L/min\""));
    assert!(hint("rated_pressure: 8.6 bar", "rated_pressure: 86 bar").1.starts_with("at most 40 bar"));
    assert!(hint("rated_pressure: 8.6 bar", "rated_pressure: 0.1 bar").1.starts_with("at least 0.5 bar"));
    assert_eq!(hint("start_ratio: 2.3", "start_ratio: 13").1, "at most 12");
}
