//! `airwrit plan` from its files alone: what it says of the example, in both systems of units, and of what does not fit.

use crate::support::shell::{Shell, shipped};
use serde_json::Value;

fn run(s: &mut Shell, files: [&str; 3], more: &[&str]) -> crate::support::shell::Ran {
    let day = ["--low", "-2 °C", "--high", "9 °C", "--reserve", "207 bar"];
    let args = [&["plan", "--set", files[0], "--site", files[1], "--job", files[2]], &day[..], more].concat();
    s.bare(&args, "")
}

fn json(s: &mut Shell, files: [&str; 3], more: &[&str], code: i32) -> Value {
    let ran = run(s, files, &[&["--json"], more].concat()).code(code);
    serde_json::from_str(&ran.out).unwrap()
}

fn figure<'v>(plan: &'v Value, id: &str) -> &'v Value {
    let all = plan["figures"].as_array().unwrap();
    all.iter().find(|f| f["id"] == id).unwrap_or_else(|| panic!("no figure {id}"))
}

fn example() -> [String; 3] {
    ["examples/set.yaml", "examples/site.yaml", "examples/job.yaml"].map(shipped)
}

/// 81 L at 207 bar, two at 318 L/min, 7.5 min out and a half more. Worked with CoolProp 8.0.0 and a bisection: 14,827 L
/// usable, read at 9 °C, left behind at -2 °C, 23.3 min; leave by 108.25 bar, 1570.04 psi.
#[test]
fn the_example_fits_and_says_what_limits() {
    let (mut s, files) = (Shell::new(), example());
    let files = [&*files[0], &*files[1], &*files[2]];
    let plan = json(&mut s, files, &["--cable", "35 m", "--section", "4 mm2"], 0);
    assert_eq!(plan["fits"], true);
    assert_eq!(figure(&plan, "reserve_lasts")["value"], "23 min");
    assert_eq!(figure(&plan, "reserve_lasts")["wanted"][1], "12 min");
    assert!(figure(&plan, "reserve_lasts").get("margin").is_none(), "minutes to spare are never shown");
    assert_eq!(figure(&plan, "leave_by")["value"], "109 bar");
    assert_eq!(figure(&plan, "rated_flow")["margin"], "238 L/min to spare");
    assert_eq!(figure(&plan, "full_load")["value"], "17.6 A");
    assert_eq!(figure(&plan, "dew_point_most")["value"], "-7.0 °C");
    let changes: Vec<&str> = plan["changes"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert!(changes.contains(&"2 wearers: leave by 109 bar"), "{changes:?}");
    assert!(changes.contains(&"a third wearer does not fit: supply short by 80 L/min"), "{changes:?}");
    assert!(plan["limits"][0].as_str().unwrap().contains("0 to spare"), "{}", plan["limits"]);
    // Over pressure never shorter, over wearers never longer.
    let minutes =
        |cell: &Value| -> u32 { cell[0].as_str().unwrap().split(' ').next().unwrap().parse().unwrap() };
    let table: Vec<Vec<u32>> = plan["table"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| r["lasts"].as_array().unwrap().iter().map(minutes).collect())
        .collect();
    assert!(table.len() >= 6 && table.iter().all(|r| r.len() == 3));
    assert!(table.iter().all(|r| r.is_sorted_by(|a, b| a >= b)));
    assert!((0..3).all(|n| table.iter().map(|r| r[n]).is_sorted()));
}

/// Each figure in the units asked for; what is at least so much is rounded down in both, what is wanted up.
#[test]
fn in_metric_or_us_units_or_both() {
    let (mut s, files) = (Shell::new(), example());
    let files = [&*files[0], &*files[1], &*files[2]];
    let both = json(&mut s, files, &["--units", "both"], 0);
    // 108.25 bar and 1570.04 psi, each rounded up by itself.
    assert_eq!(figure(&both, "leave_by")["value"], "109 bar (1571 psi)");
    assert_eq!(figure(&both, "dew_point_most")["value"], "-7.0 °C (19.4 °F)");
    let us = json(&mut s, files, &["--units", "us"], 0);
    assert_eq!(figure(&us, "leave_by")["value"], "1571 psi");
    assert!(figure(&us, "rated_flow")["value"].as_str().unwrap().ends_with(" ft3/min"));
    let text = run(&mut s, files, &["--units", "us"]).code(0).out;
    assert!(!text.contains(" bar"), "{text}");
    // Where the site asks for both.
    let site = std::fs::read_to_string(shipped("examples/site.yaml")).unwrap();
    let site = s.write("site.yaml", site.replace("language: en", "language: en\nunits: both"));
    let asked = json(&mut s, [files[0], &site, files[2]], &[], 0);
    assert_eq!(figure(&asked, "leave_by")["value"], "109 bar (1571 psi)");
    // Typed in other units it is the same plan.
    let args = ["plan", "--set", files[0], "--site", files[1], "--job", files[2], "--json"];
    let odd = [&args[..], &["--low", "28.4 °F", "--high", "48.2 °F", "--reserve", "20.7 MPa"]].concat();
    let odd: Value = serde_json::from_str(&s.bare(&odd, "").code(0).out).unwrap();
    assert_eq!(odd["figures"], json(&mut s, files, &[], 0)["figures"]);
}

/// What does not fit is told with how much it lacks, and ends in no.
#[test]
fn what_does_not_fit_says_by_how_much() {
    let (mut s, files) = (Shell::new(), example());
    let read = |f: &str| std::fs::read_to_string(f).unwrap();
    let (set, site, job) = (read(&files[0]), read(&files[1]), read(&files[2]));
    for (file, old, new, id, words) in [
        (0, "rated_flow: 874 L/min", "rated_flow: 600 L/min", "rated_flow", "short by 36 L/min"),
        (
            0,
            "supply_pressure_from: 5.2 bar",
            "supply_pressure_from: 4.5 bar",
            "supply_from",
            "short by 0.1 bar",
        ),
        (1, "length_most: 68 m", "length_most: 39 m", "hose_length", "short by 1 m"),
        (1, "bore: 10 mm", "bore: 7 mm", "mask_pressure", "not known"),
        (2, "walk: 4 min", "walk: 14 min", "reserve", "short by"),
        (0, "examination_due: 2027-05-14", "examination_due: 2026-11-24", "last_good_day", "overdue"),
    ] {
        let mut texts = [set.clone(), site.clone(), job.clone()];
        let changed = texts[file].replace(old, new);
        assert_ne!(changed, texts[file], "{old}");
        texts[file] = changed;
        let paths: Vec<String> =
            texts.iter().enumerate().map(|(n, t)| s.write(&format!("{n}.yaml"), t)).collect();
        let plan = json(&mut s, [&paths[0], &paths[1], &paths[2]], &[], 1);
        assert_eq!(plan["fits"], false, "{new}");
        let f = plan["figures"].as_array().unwrap().iter().find(|f| {
            f["id"] == id
                && (f["margin"].as_str().is_some_and(|m| m.contains(words))
                    || f["value"].as_str().unwrap().contains(words))
        });
        assert!(f.is_some(), "{new}: {}", plan["figures"]);
    }
    let thin =
        run(&mut s, [&files[0], &files[1], &files[2]], &["--cable", "300 m", "--section", "1.5 mm2"]).code(1);
    assert!(thin.out.contains("the supply cable: at most") && thin.out.contains("mm2"), "{}", thin.out);
    let none = shipped("examples/set-no-reserve.yaml");
    run(&mut s, [&none, &files[1], &files[2]], &[]).code(1).says("NONE: when it stops, the air is gone");
}

#[test]
fn what_is_typed_wrongly_is_told() {
    let (mut s, files) = (Shell::new(), example());
    let base = ["plan", "--set", &files[0], "--site", &files[1], "--job", &files[2]];
    for (more, code, words) in [
        (&["--low", "9 °C", "--high", "-2 °C"][..], 2, "--low is above --high"),
        (&["--low", "9 °C"], 2, "--high"),
        (&["--reserve", "207"], 2, "wanted a gauge pressure"),
        (&["--cable", "35 m", "--section", "4 m"], 2, "wanted an area"),
        (&["--low", "-55 °C", "--high", "9 °C"], 1, "the gas temperature"),
    ] {
        s.bare(&[&base[..], more].concat(), "").code(code).says(words);
    }
    s.bare(&["plan", "--set", &files[1], "--site", &files[1], "--job", &files[2]], "")
        .code(3)
        .says("has errors");
}
