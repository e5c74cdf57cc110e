//! `airwrit plan` from its files alone: what it says of the example, in both systems of units, and of what does not fit.

use crate::support::day::{self, Day};
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
    // What is counted or rated and met exactly limits nothing; of two wearers with like hoses the tighter is told.
    let limits: Vec<&str> = plan["limits"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!(
        limits,
        [
            "highest supply pressure, Żaneta Brzęczyk: 7.0 bar, 0.4 bar to spare",
            "reading of the reserve against the set's minimum: 207 bar, 13 bar to spare",
            "pressure at the mask end, Νίκος Θαλασσινός: 3.69 bar, 0.29 bar to spare",
            "lowest supply pressure, Żaneta Brzęczyk: 5.2 bar, 0.6 bar to spare",
            "length of the hose, Νίκος Θαλασσινός: 58 m, 10 m to spare",
        ]
    );
    // 874 - 3 x 336 + 336: every outlet of the set may be run open, not those of the job alone.
    let beside = figure(&plan, "flow_beside");
    assert_eq!((&beside["value"], &beside["margin"]), (&"202 L/min".into(), &"78 L/min to spare".into()));
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

/// Every line of the plan that the README shows is what the program says.
#[test]
fn the_readme_shows_what_it_says() {
    let (mut s, files) = (Shell::new(), example());
    let cable = ["--cable", "35 m", "--section", "4 mm2"];
    let out = run(&mut s, [&files[0], &files[1], &files[2]], &cable).code(0).out;
    let readme = std::fs::read_to_string(shipped("README.md")).unwrap();
    let shown = readme.split("```text\n").find(|b| b.starts_with("Heron at Quay 3")).unwrap();
    let shown = shown.split("```").next().unwrap();
    assert!(shown.lines().count() > 10);
    assert!(out.starts_with(shown), "{out}");
}

/// A job like the example: so many wearers, perhaps a rescuer on this air and a tool.
fn job_of(wearers: usize, rescuers: usize, consumer: u32, walk: u32) -> String {
    let job = std::fs::read_to_string(shipped("examples/job.yaml")).unwrap();
    let mut job =
        job.split("wearers:\n").next().unwrap().replace("walk: 4 min", &format!("walk: {walk} min"));
    if rescuers > 0 {
        job = job.replace("{ person: pavlos }", "{ person: pavlos, respirator: tern }");
    }
    if consumer > 0 {
        job += &format!("consumers:\n  - {{ id: pot, name: Blast pot, flow: {consumer} L/min }}\n");
    }
    job += "wearers:\n";
    for (who, hose, outlet) in
        [("zaneta", "blue1", "red"), ("nikos", "grey7", "white"), ("jiri", "blue2", "green")]
            .iter()
            .take(wearers)
    {
        job += &format!(
            "  - {{ person: {who}, respirator: tern, escape_set: wren15, hose: {hose}, outlet: {outlet} }}\n"
        );
    }
    job
}

/// Steps of the shipped form as they stand there, in one stage.
fn steps_of_the_form(steps: &[&str]) -> String {
    let form = std::fs::read_to_string(shipped("checklists/pre-start.yaml")).unwrap();
    let mut out = "checklist: figures\nrevision: 1\ntitle: Figures\nfor: work\nstages:\n  - stage: all\n    title: All\n    \
                   when: set.reserve == \"cylinders\"\n    any_order: true\n    steps:\n"
        .to_owned();
    for step in steps {
        let head = format!("      - step: {step}\n");
        let (_, rest) = form.split_once(&head).unwrap_or_else(|| panic!("no step {step}"));
        out += &head;
        out.extend(rest.lines().take_while(|l| l.starts_with("        ")).map(|l| format!("{l}\n")));
    }
    out
}

/// A plan and the steps of the day, from the same job and the same readings, say the same, figure by figure.
#[test]
fn a_plan_says_what_the_gates_say() {
    let form = steps_of_the_form(&[
        "ambient_low",
        "ambient_high",
        "flow_spare",
        "cable_length",
        "cable_section",
        "cable_drop",
        "cable_drop_start",
        "reserve_warning_at",
        "reserve_temperature",
        "flow_beside",
        "all_flowing",
        "mask_pressure",
        "reserve_again",
        "reserve_lasts",
        "leave_by",
        "warning_lasts",
    ]);
    let mut s = Shell::new();
    let example = example();
    let mut leave_by = Vec::new();
    for (wearers, rescuers, consumer) in
        [(1, 0, 0), (1, 0, 120), (2, 0, 0), (2, 0, 120), (2, 1, 120), (3, 0, 0), (3, 0, 120), (3, 1, 0)]
    {
        let job = job_of(wearers, rescuers, consumer, 4);
        let mut plan = day::Plan { job: job.clone(), work: form.clone(), ..day::Plan::shipped() };
        plan.shutdown = day::SMALL_SHUTDOWN.into();
        let mut day = Day::opened(plan);
        let n = day.number.clone();
        day.of_set("started", &[]);
        for (step, value) in [
            ("ambient_low", "-2"),
            ("ambient_high", "9"),
            ("cable_length", "35"),
            ("cable_section", "4"),
            ("reserve_warning_at", "96"),
            ("reserve_temperature", "9"),
            ("all_flowing", "5.2"),
        ] {
            day.say(&n, step, None, value).unwrap();
        }
        for cylinder in ["a", "b", "c"] {
            day.say(&n, "reserve_again", Some(cylinder), "207").unwrap();
        }
        // What each step works out, of each item; and whether its gate is open at that.
        let on_the_day = |step: &str| -> Vec<String> {
            day.on(&n, |k, p, t| {
                let bench = airwrit::permit::bench::Bench::new(k.state, p, t, k.now);
                let (_, step) = t.form.step(step).unwrap();
                let items = match step.each() {
                    Some(each) => bench.items(each).into_iter().map(Some).collect(),
                    None => vec![None],
                };
                items.iter().map(|i| bench.derive(step, i.as_ref()).unwrap().1).collect()
            })
        };
        let file = s.write("job.yaml", &job);
        let args = ["--json", "--cable", "35 m", "--section", "4 mm2"];
        let ran = run(&mut s, [&example[0], &example[1], &file], &args);
        let plan: Value = serde_json::from_str(&ran.out).unwrap();
        let planned = |id: &str| -> Vec<String> {
            let all = plan["figures"].as_array().unwrap().iter().filter(|f| f["id"] == id);
            all.map(|f| f["value"].as_str().unwrap().to_owned()).collect()
        };
        let what = format!("{wearers} wearers, {rescuers} rescuers, {consumer} L/min");
        for (id, step) in [
            ("mask_pressure", "mask_pressure"),
            ("reserve_lasts", "reserve_lasts"),
            ("leave_by", "leave_by"),
            ("warning_lasts", "warning_lasts"),
            ("cable_running", "cable_drop"),
            ("cable_starting", "cable_drop_start"),
        ] {
            assert_eq!(planned(id), on_the_day(step), "{what}: {id}");
        }
        let number = |text: &str| -> i64 { text.split(' ').next().unwrap().parse().unwrap() };
        let wanted = number(figure(&plan, "rated_flow")["wanted"][1].as_str().unwrap());
        assert_eq!(874 - wanted, number(&on_the_day("flow_spare")[0]), "{what}");
        // Consumers draw beside outlets that run open too.
        let beside = number(&planned("flow_beside")[0]);
        assert_eq!(beside, 202 - i64::from(consumer), "{what}");
        assert!(beside <= number(&on_the_day("flow_beside")[0]), "{what}");
        if consumer == 0 {
            assert_eq!(planned("flow_beside"), on_the_day("flow_beside"), "{what}");
        }
        // By hand: 874 L/min feed two and a pot, not three, not two and a rescuer and a pot.
        let enough = u32::try_from(wearers + rescuers).unwrap() * 318 + consumer <= 874;
        assert_eq!(figure(&plan, "rated_flow")["met"], enough, "{what}");
        // Of 202 L/min beside open outlets the pot leaves 82, less than the 124 that a mask needs.
        assert_eq!(ran.code, i32::from(!enough || consumer > 0), "{what}: {}", plan["changes"]);
        leave_by.push(planned("leave_by")[0].clone());
    }
    assert_eq!(leave_by[2..4], ["109 bar", "125 bar"]);
}

/// CoolProp 8.0.0 and a bisection, by tests/air/make_plan.py: wearers, rescuers on this air and a consumer on the reserve.
#[test]
fn reserve_of_coolprop() {
    let mut s = Shell::new();
    let example = example();
    let rows: Vec<Vec<&str>> =
        include_str!("../air/plan.csv").lines().skip(1).map(|l| l.split(',').collect()).collect();
    assert!(rows.len() >= 40 && rows.iter().all(|r| r[9].starts_with("CoolProp 8.0.0")));
    for r in rows {
        let n = |i: usize| -> u32 { r[i].parse().unwrap() };
        let file = s.write("job.yaml", job_of(n(0) as usize, n(1) as usize, n(2), n(6)));
        let (low, high, reserve) = (format!("{} °C", r[3]), format!("{} °C", r[4]), format!("{} bar", r[5]));
        let args = ["plan", "--set", &example[0], "--site", &example[1], "--job", &file, "--json"];
        let day = ["--low", &low, "--high", &high, "--reserve", &reserve];
        let plan: Value = serde_json::from_str(&s.bare(&[&args[..], &day].concat(), "").out).unwrap();
        let (leave_by, lasts): (f64, f64) = (r[7].parse().unwrap(), r[8].parse().unwrap());
        assert_eq!(figure(&plan, "leave_by")["value"], format!("{} bar", leave_by.ceil()), "{r:?}");
        assert_eq!(figure(&plan, "reserve_lasts")["value"], format!("{} min", lasts.floor()), "{r:?}");
        let needed = ((3.5 + f64::from(n(6))) * 1.5).max(10.0);
        assert_eq!(figure(&plan, "reserve_lasts")["met"], lasts.floor() >= needed, "{r:?}");
    }
}

/// What opening a permit or a gate surely refuses is a NO with words, and something that would change it.
#[test]
fn what_the_day_surely_refuses_does_not_fit() {
    let (mut s, files) = (Shell::new(), example());
    let texts = files.map(|f| std::fs::read_to_string(f).unwrap());
    let bare: &[(usize, &str, &str)] = &[];
    let hood: &[(usize, &str, &str)] = &[(2, "zaneta, respirator: tern", "zaneta, respirator: puffin")];
    let day = ["--low", "-2 °C", "--high", "9 °C", "--reserve", "207 bar"];
    let with = |n: usize, value: &'static str| {
        let mut day = day;
        day[n] = value;
        day
    };
    for (edits, args, no, change) in [
        (
            bare,
            with(5, "150 bar"),
            "the set's minimum: 150 bar, wanted at least 194 bar; short by 44 bar",
            "filled to 194 bar",
        ),
        (
            bare,
            with(5, "193.9 bar"),
            "193.9 bar, wanted at least 194 bar; short by 0.1 bar",
            "filled to 194 bar",
        ),
        (bare, with(5, "349 bar"), "ok reading of the reserve", ""),
        (
            &[(0, "fill_pressure: 300 bar", "fill_pressure: 232 bar")],
            with(5, "280 bar"),
            "wanted at most 278 bar",
            "278 bar at most",
        ),
        (
            bare,
            with(1, "-40 °C"),
            "-40 °C, wanted at least -12 °C; short by 28 K",
            "never colder than -12 °C",
        ),
        (bare, with(3, "59 °C"), "59 °C, wanted at most 41 °C; short by 18 K", "never hotter than 41 °C"),
        (hood, day, "wears a hood or half mask", "wears a hood or half mask"),
        (
            hood,
            day,
            "the escape set `wren15` of zaneta is not approved",
            "not approved with the respirator `puffin`",
        ),
        (
            &[(2, "outlet: white", "outlet: red")],
            day,
            "the outlet `red` is given to two wearers",
            "mend the job file",
        ),
        (&[(2, "outlet: white", "outlet: mauve")], day, "which the set does not have", "mend the job file"),
        (
            &[(2, "place: quay3", "place: quay9")],
            day,
            "the place `quay9` is not in the site file",
            "mend the job file",
        ),
        (
            &[(2, "escape_set: wren15, hose: blue1", "hose: blue1")],
            day,
            "zaneta carries no escape set",
            "mend the job file",
        ),
        (
            &[(2, "supply_point: q3b", "supply_point: gen2")],
            day,
            "the set is driven by mains, Yard generator 2 is a generator",
            "another supply point: mains",
        ),
        (
            &[(1, "voltage: 400 V", "voltage: 230 V")],
            day,
            "230 V, wanted at least 374 V; short by 144 V",
            "voltage from 374 V to 424 V",
        ),
        (&[(1, "voltage: 400 V, ", "")], day, "voltage of the supply point: not known", ""),
        (
            &[(1, "frequency: 50 Hz", "frequency: 60 Hz")],
            day,
            "60 Hz, wanted at most 51 Hz",
            "frequency from 49 Hz to 51 Hz",
        ),
        (
            &[(1, "rcd: 30 mA, voltage", "rcd: 300 mA, voltage")],
            day,
            "0.300 A, wanted at most 0.030 A",
            "trips sooner",
        ),
        (&[(1, "socket: 32 A", "socket: 16 A")], day, "16 A, wanted at least 32 A", "a larger socket"),
        (
            &[(2, "zone: none", "zone: zone_2")],
            day,
            "certified for none, and it would stand in zone 2",
            "outside the zone",
        ),
        (
            &[(
                1,
                "    face: full_face\n    positive_pressure: true\n    least",
                "    face: full_face\n    positive_pressure: false\n    least",
            )],
            day,
            "inside not always above outside",
            "positive pressure",
        ),
        (
            &[(1, "gauge_least: 185 bar\n    face: full_face", "gauge_least: 185 bar\n    face: hood")],
            day,
            "the escape set, Żaneta",
            "an escape set with full face",
        ),
        (
            &[(
                0,
                "green, name: Green outlet, kind: limited, flow_limit: 336 L/min",
                "green, name: Green outlet, kind: open",
            )],
            day,
            "flow beside outlets run open: not known",
            "taken out of service",
        ),
        (
            &[(0, "rated_flow: 874 L/min", "rated_flow: 790 L/min")],
            day,
            "118 L/min, wanted at least 124 L/min; short by 6 L/min",
            "narrower limiters",
        ),
    ] {
        let mut changed = texts.clone();
        for (file, old, new) in edits {
            assert!(changed[*file].contains(old), "{old}");
            changed[*file] = changed[*file].replace(old, new);
        }
        let paths = ["set.yaml", "site.yaml", "job.yaml"];
        let paths: Vec<String> = paths.iter().zip(&changed).map(|(name, t)| s.write(name, t)).collect();
        let base = ["plan", "--set", &paths[0], "--site", &paths[1], "--job", &paths[2]];
        let fits = no.starts_with("ok ");
        let ran = s.bare(&[&base[..], &args].concat(), "").code(i32::from(!fits));
        let flat = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(no), "{no}\n{}", ran.out);
        let (_, after) = flat.split_once("WHAT CHANGES THE ANSWER").unwrap();
        let (changes, rest) = after.split_once("WHAT LIMITS").unwrap();
        assert!(changes.contains(change), "{change}\n{changes}");
        assert!(fits || rest.contains(" NO ") || rest.contains(" ?? "), "{rest}");
    }
}

/// Opening a permit refuses such a job with the same words.
#[test]
fn a_plan_refuses_a_job_in_the_words_of_opening() {
    let mut s = Shell::station();
    let files = example();
    let job = std::fs::read_to_string(&files[2]).unwrap();
    let job = job
        .replace("outlet: white", "outlet: red")
        .replace("place: quay3", "place: quay9")
        .replace("entry_watch: marit", "entry_watch: oksana")
        .replace("zaneta, respirator: tern", "zaneta, respirator: puffin");
    let job = s.write("job.yaml", job);
    let opening = s.run(&["open", "--job", &job], "").code(1);
    let plan = json(&mut s, [&files[0], &files[1], &job], &[], 1);
    let figures = plan["figures"].as_array().unwrap();
    let said: Vec<&str> =
        figures.iter().filter(|f| f["id"] == "job").filter_map(|f| f["value"].as_str()).collect();
    assert_eq!(said.len(), 5, "{said:?}");
    let flat = format!("{} {}", opening.out, opening.err).split_whitespace().collect::<Vec<_>>().join(" ");
    for why in said {
        assert!(flat.contains(why), "{why}\n{flat}");
    }
}

/// What is typed is shown as typed, and what is to spare is the difference of what is shown.
#[test]
fn what_is_shown_agrees_with_itself() {
    let (mut s, files) = (Shell::new(), example());
    let base = ["plan", "--set", &files[0], "--site", &files[1], "--job", &files[2]];
    let typed = [
        "--low",
        "28.5 °F",
        "--high",
        "48.2 °F",
        "--reserve",
        "3000 psi",
        "--cable",
        "114.8 ft",
        "--section",
        "4 mm2",
    ];
    let mut values = 0;
    for units in ["metric", "us", "both"] {
        let ran = s.bare(&[&base[..], &typed, &["--units", units, "--json"]].concat(), "").code(0);
        let plan: Value = serde_json::from_str(&ran.out).unwrap();
        if units != "metric" {
            assert!(figure(&plan, "reserve")["value"].as_str().unwrap().contains("3000 psi"), "{plan}");
            let rows = plan["table"].as_array().unwrap();
            assert!(rows.iter().any(|r| r["reading"].as_str().unwrap().contains("3000 psi")), "{plan}");
            assert!(plan["assumed"].to_string().contains("28.5 °F"), "{plan}");
        }
        assert!(plan["assumed"].to_string().contains("114.8 ft"), "{plan}");
        for f in plan["figures"].as_array().unwrap().iter().filter(|f| f.get("margin").is_some()) {
            let (value, limit) = (f["value"].as_str().unwrap(), f["wanted"][1].as_str().unwrap());
            let margin = f["margin"].as_str().unwrap();
            let sign = if f["wanted"][0] == "at_least" { 1 } else { -1 };
            let short = if margin.contains("short by") { -1 } else { 1 };
            // In millionths; each unit by itself.
            let numbers = |text: &str| -> Vec<i64> {
                let words = text.split([' ', '(', ')']).filter_map(|w| w.parse::<f64>().ok());
                words.map(|n| (n * 1e6).round() as i64).collect()
            };
            let (v, l, m) = (numbers(value), numbers(limit), numbers(margin));
            assert!(v.len() == l.len() && l.len() == m.len() && !v.is_empty(), "{f}");
            for i in 0..v.len() {
                assert_eq!(sign * (v[i] - l[i]), short * m[i], "{f}");
            }
            values += v.len();
        }
    }
    assert!(values > 60, "{values}");
}

/// Rescuers and consumers who are counted are named wherever wearers are counted; the day of the due dates is said.
#[test]
fn who_draws_beside_the_wearers_is_said() {
    let (mut s, files) = (Shell::new(), example());
    let job = s.write("job.yaml", job_of(2, 1, 100, 4));
    let set = std::fs::read_to_string(&files[0]).unwrap().replace("rated_flow: 874", "rated_flow: 1374");
    let set = s.write("set.yaml", set);
    let out = run(&mut s, [&set, &files[1], &job], &[]).code(0).out;
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "assumed: 1 rescuer on this air and Blast pot: on this air all the time beside the wearers",
        "2 wearers, with 1 rescuer on this air and Blast pot beside them: leave by 167 bar",
        "3 wearers, with 1 rescuer on this air and Blast pot beside them: ",
        "each drawing all they can, with 1 rescuer on this air and Blast pot beside them; !",
        "last good days judged by 2026-11-25, today at the site",
        "roster and register are not looked at",
        "a third wearer would fit the supply, with 2 L/min left over",
    ] {
        assert!(flat.contains(words), "{words}\n{out}");
    }
    // One who is a wearer and a rescuer in the same mask breathes once.
    let twice = job_of(2, 0, 0, 4).replace("{ person: pavlos }", "{ person: nikos, respirator: tern }");
    let job = s.write("job.yaml", twice);
    let plan: Value =
        serde_json::from_str(&run(&mut s, [&files[0], &files[1], &job], &["--json"]).out).unwrap();
    assert_eq!(figure(&plan, "rated_flow")["wanted"][1], "636 L/min");
}

#[test]
fn what_is_typed_wrongly_is_told() {
    let (mut s, files) = (Shell::new(), example());
    let base = ["plan", "--set", &files[0], "--site", &files[1], "--job", &files[2]];
    for (more, code, words) in [
        (&["--low", "9 °C", "--high", "-2 °C"][..], 2, "--low is above --high"),
        (&["--low", "9 °C"], 2, "--high"),
        (&["--reserve", "207"], 2, "wanted a gauge pressure"),
        (&["--reserve", "-5 bar"], 2, "got `-5 bar`, wanted a gauge pressure above nought, like \"207 bar\""),
        (&["--reserve", "0 bar"], 2, "got `0 bar`, wanted a gauge pressure above nought"),
        (&["--cable", "-3 m", "--section", "4 mm2"], 2, "got `-3 m`, wanted a length above nought"),
        (&["--cable", "35 m", "--section", "4 m"], 2, "wanted an area"),
        (&["--low", "-55 °C", "--high", "9 °C"], 1, "the gas temperature"),
    ] {
        s.bare(&[&base[..], more].concat(), "").code(code).says(words);
    }
    s.bare(&["plan", "--set", &files[1], "--site", &files[1], "--job", &files[2]], "")
        .code(3)
        .says("has errors");
}
