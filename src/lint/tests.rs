//! What is shipped is clean; fields and checklists fit each other; a form that leaves out what a life
//! rests on is refused.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods)]

use super::*;
use crate::checklist::SUBJECTS;
use crate::finding::{Level, in_every_tongue};
use crate::site::{Field, Holds, fields};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::path::Path;

fn shipped(name: &str) -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

const FORMS: [&str; 2] = ["checklists/pre-start.yaml", "checklists/shutdown.yaml"];
const FILES: [&str; 4] =
    ["examples/set.yaml", "examples/set-no-reserve.yaml", "examples/site.yaml", "examples/job.yaml"];

#[test]
fn shipped_files_are_clean() {
    for name in FORMS.into_iter().chain(FILES) {
        let (kind, findings) = lint(name, &shipped(name));
        assert_ne!(kind, Kind::Unknown, "{name}");
        assert!(
            findings.is_empty(),
            "{}",
            findings.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
        );
    }
}

#[test]
fn the_first_key_says_what_a_file_is() {
    assert_eq!(kind_of(b"# a set\n\nset: heron\n"), Kind::Site(site::Kind::Set));
    assert_eq!(kind_of(b"\xef\xbb\xbf---\n'checklist': x\n"), Kind::Checklist);
    assert_eq!(kind_of(b"job: x\n"), Kind::Site(site::Kind::Job));
    assert_eq!(kind_of(b"site: x\n"), Kind::Site(site::Kind::Site));
    let (kind, findings) = lint("f", b"person: x\n");
    assert_eq!((kind, findings[0].code, findings[0].place.line), (Kind::Unknown, "unknown-kind", 0));
    assert_eq!(lint("f", b"").1.len(), 2);
}

fn form(name: &str) -> Checklist {
    Checklist::read(name, &shipped(name)).checklist.unwrap()
}

#[test]
fn a_form_that_leaves_out_a_subject_is_refused() {
    let steps = "stages:\n  - stage: one\n    title: One\n    steps:\n      - step: oil_level\n        ask: Oil level\n        reading: { unit: mm, from: 0, to: 90, decimals: 0 }\n      - step: rotation\n        ask: Turns with the arrow\n        confirm: true\n";
    for purpose in ["work", "shutdown"] {
        let text = format!("checklist: short\nrevision: 1\ntitle: Short\nfor: {purpose}\n{steps}");
        // It reads: a form is a form. Taken into use it is not.
        assert!(Checklist::read("f", text.as_bytes()).checklist.is_some());
        let findings = in_every_tongue(|| lint("f", text.as_bytes()).1);
        let errors: Vec<_> = findings
            .iter()
            .filter(|f| f.level == Level::Error)
            .map(|f| (f.code, f.place.line, f.place.column))
            .collect();
        let wanted: usize =
            SUBJECTS.iter().filter(|s| s.purpose.as_str() == purpose).map(|s| s.steps.len()).sum();
        if purpose == "work" {
            assert!(
                errors.contains(&("subject-never-holds", 9, 9))
                    && errors.contains(&("subject-not-critical", 12, 9)),
                "{errors:?}"
            );
            assert_eq!(errors.iter().filter(|e| e.0 == "missing-subject").count(), wanted - 2);
        } else {
            assert_eq!(errors.iter().filter(|e| **e == ("missing-subject", 0, 0)).count(), wanted);
            assert_eq!(
                errors.iter().filter(|e| e.0 != "missing-subject").collect::<Vec<_>>(),
                [&("no-stop-stage", 0, 0)]
            );
        }
    }
}

/// What is done before the set is stopped stands before the stage that stops it, and that stage needs it.
#[test]
fn a_shutdown_stops_the_set_in_its_own_stage_and_after_what_comes_before() {
    let good = String::from_utf8(shipped("checklists/shutdown.yaml")).unwrap();
    let codes = |text: &str| -> Vec<(&str, u32)> {
        let all = in_every_tongue(|| lint("f", text.as_bytes()).1);
        all.iter().filter(|f| f.level == Level::Error).map(|f| (f.code, f.place.line)).collect()
    };
    assert_eq!(codes(&good), []);
    let line = |of: &str| good.lines().position(|l| l.contains(of)).unwrap() as u32 + 1;
    let renamed = good.replace("- stage: stop\n", "- stage: halt\n");
    assert_eq!(codes(&renamed), [("no-stop-stage", 0)]);
    // The stage of that name begins with the count of people: stopping comes before all of it.
    let early = good
        .replace("- stage: stop\n", "- stage: halt\n")
        .replace("- stage: people_off\n", "- stage: stop\n");
    let wrong: Vec<_> =
        ["- step: wearer_seen", "- step: nobody_on_air", "- step: hose_vented", "- step: stop_set"]
            .map(|s| ("wrong-side-of-stop", line(s)))
            .into();
    assert_eq!(codes(&early), wrong);
    let skips = good.replace("- stage: stop\n", "- stage: stop\n    needs: [people_off, unload]\n");
    // `unload` needs all before it, so that nothing is left out.
    assert_eq!(codes(&skips), []);
    let skips = good.replace("- stage: stop\n", "- stage: stop\n    needs: [people_off]\n");
    let wrong = ["- stage: hoses_off", "- stage: unload"].map(|s| ("wrong-side-of-stop", line(s)));
    assert_eq!(codes(&skips), wrong);
}

/// Every field with its dotted name, groups and lists opened.
fn all_fields(table: &'static [Field], path: &str, out: &mut Vec<(String, &'static Field)>) {
    for f in table {
        let full = format!("{path}.{}", f.name);
        out.push((full.clone(), f));
        match f.holds {
            // Wearers stand under their own root.
            Holds::Items(_) if full == "job.wearers" => {}
            Holds::Items(t) | Holds::Map(t) => all_fields(t, &full, out),
            Holds::Id
            | Holds::Words
            | Holds::Text
            | Holds::Bool
            | Holds::Choice(_)
            | Holds::Number(..)
            | Holds::Quantity(..)
            | Holds::Date
            | Holds::Span
            | Holds::TimeOfDay
            | Holds::Texts => {}
        }
    }
}

fn tables() -> Vec<(String, &'static Field)> {
    let mut all = Vec::new();
    all_fields(fields::SET, "set", &mut all);
    all_fields(fields::SITE, "site", &mut all);
    all_fields(fields::JOB, "job", &mut all);
    all_fields(fields::WEARER, "wearers", &mut all);
    for (kind, table) in fields::LAST {
        all_fields(table, &format!("last.{kind}"), &mut all);
    }
    all
}

#[test]
fn every_field_named_by_a_shipped_form_exists_and_every_field_is_read() {
    let named: BTreeSet<String> = FORMS.iter().flat_map(|f| form(f).names()).collect();
    let all = tables();
    for name in named.iter().filter(|n| n.contains('.') && !n.starts_with("permit.")) {
        assert!(all.iter().any(|(f, _)| f == name), "{name} stands in no table");
    }
    // A group is read if one of its fields is.
    let is_named = |n: &str| {
        named.contains(n) || named.iter().any(|m| m.strip_prefix(n).is_some_and(|r| r.starts_with('.')))
    };
    let unread: Vec<_> =
        all.iter().filter(|(n, f)| f.read_by.is_empty() && !is_named(n)).map(|(n, _)| n).collect();
    assert!(unread.is_empty(), "nobody reads {unread:?}");
    let claimed: Vec<_> =
        all.iter().filter(|(n, f)| f.read_by == "gate" && !is_named(n)).map(|(n, _)| n).collect();
    assert!(claimed.is_empty(), "said to be read by a gate, and named by none: {claimed:?}");
}

#[test]
fn the_example_job_is_worked_out_from_its_site() {
    let values = |r: site::Read| r.file.unwrap().values().clone();
    let job = values(read_job("job", &shipped("examples/job.yaml")));
    let site = values(read_site("site", &shipped("examples/site.yaml")));
    let full = job.worked_out(&site, &|_| None).unwrap();
    let way_out = full.quantity("way_out").unwrap();
    let parts = ["notice", "make_safe", "walk", "wash_down"].map(|p| job.quantity(p).unwrap().value.clone());
    assert_eq!(way_out.value, parts.iter().sum());
    for w in full.items("wearers") {
        for l in fields::LOOKED_UP {
            let known = w.text(l.by).and_then(|id| site.item(l.list, id)).and_then(|i| i.get(l.field));
            if l.member != "name" && fields::WEARER.iter().any(|f| f.name == l.member) {
                assert_eq!(w.get(l.member), known, "{}", l.member);
            }
        }
        assert!(w.text("name").is_some());
    }
    // What is worked out is not written down.
    assert_eq!(full.to_raw(), job.to_raw());
    // An id the site does not have.
    let text = String::from_utf8(shipped("examples/job.yaml")).unwrap();
    let respirator = job.items("wearers")[0].text("respirator").unwrap().to_owned();
    let other = values(read_job("job", text.replace(&respirator, "no-such-mask").as_bytes()));
    let lacks = other.worked_out(&site, &|_| None).unwrap_err();
    assert!(lacks.iter().any(|l| l.contains("no-such-mask")), "{lacks:?}");
}

#[test]
fn a_name_only_the_roster_knows_is_asked_for() {
    let text =
        String::from_utf8(shipped("examples/job.yaml")).unwrap().replace("person: nikos", "person: guest");
    let job = read_job("job", text.as_bytes()).file.unwrap().values().clone();
    let site = read_site("site", &shipped("examples/site.yaml")).file.unwrap().values().clone();
    let full = job.worked_out(&site, &|id| (id == "guest").then(|| "Visiting Wearer".to_owned())).unwrap();
    assert_eq!(full.item("wearers", "guest").unwrap().text("name"), Some("Visiting Wearer"));
}

#[test]
fn a_job_says_which_entry_permits_or_why_none() {
    let text = String::from_utf8(shipped("examples/job.yaml")).unwrap();
    let (from, to) = (text.find("entry_permits:").unwrap(), text.find("atmosphere:").unwrap());
    let without = format!("{}{}", &text[..from], &text[to..]);
    let found = read_job("job", without.as_bytes()).findings;
    assert_eq!(found.iter().map(|f| f.code).collect::<Vec<_>>(), ["no-entry-permit"]);
    let with_reason = format!("{without}why_no_entry_permit: Open deck\n");
    assert!(read_job("job", with_reason.as_bytes()).file.is_some());
}

#[test]
fn a_job_comes_back_from_a_register_as_it_was() {
    let job = read_job("job", &shipped("examples/job.yaml")).file.unwrap().values().clone();
    let back = site::Values::read_map(fields::JOB, "the job", &job.to_raw()).unwrap();
    assert_eq!(back, job);
}

#[test]
fn the_shipped_forms_fit_the_example_sets_and_site() {
    let site = read_site("site", &shipped("examples/site.yaml")).file.unwrap();
    for set in ["examples/set.yaml", "examples/set-no-reserve.yaml"] {
        let set = read_set(set, &shipped(set)).file.unwrap();
        for name in FORMS {
            let errors: Vec<String> = form(name)
                .fits(set.values(), site.values())
                .iter()
                .filter(|f| f.level == Level::Error)
                .map(ToString::to_string)
                .collect();
            assert!(errors.is_empty(), "{} and {name}:\n{}", set.id(), errors.join("\n"));
        }
    }
}

#[test]
fn a_field_that_a_gate_rests_on_and_the_set_lacks_is_found_before_the_crew_does() {
    let site = read_site("site", &shipped("examples/site.yaml")).file.unwrap();
    let text = String::from_utf8(shipped("examples/set.yaml")).unwrap();
    let without = |key: &str| {
        let text: String = text.lines().filter(|l| !l.starts_with(key)).map(|l| format!("{l}\n")).collect();
        read_set("set", text.as_bytes()).file.unwrap()
    };
    let set = without("reserve_low_warning:");
    let fits = |gate: &str, when: &str| {
        let text = format!(
            "checklist: t\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: one\n    title: One\n    steps:\n      - step: low\n        ask: A\n        confirm: true\n        when: {when}\n        gate: {gate}\n"
        );
        let c = Checklist::read("f", text.as_bytes()).checklist.unwrap();
        let found = in_every_tongue(|| c.fits(set.values(), site.values()));
        found.iter().map(|f| (f.code, f.level, f.place.line)).collect::<Vec<_>>()
    };
    let gate = "low and set.reserve_low_warning >= 20 bar";
    assert_eq!(fits(gate, "set.reserve == \"cylinders\""), [("field-not-given", Level::Error, 9)]);
    assert_eq!(fits(gate, "set.reserve == \"none\""), []);
    // Depends on the job: it may come to that.
    assert_eq!(fits(gate, "job.zone == \"none\""), [("field-not-given", Level::Warning, 9)]);
    assert_eq!(fits("low and given(set.reserve_low_warning)", "set.reserve == \"cylinders\""), []);
    // The shipped form, with a set that has cylinders and does not say how low the change-over may come.
    let found = form(FORMS[0]).fits(without("change_over_lowest:").values(), site.values());
    assert!(
        found.iter().any(|f| f.level == Level::Error && f.message.contains("set.change_over_lowest")),
        "{found:?}"
    );
}

/// Every code that is written beside a call that makes a finding, in the files that are no tests.
fn codes_in(dir: &Path, codes: &mut BTreeSet<String>, tests: &mut String) {
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            codes_in(&path, codes, tests);
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        if path.to_string_lossy().contains("tests") {
            tests.push_str(&text);
            continue;
        }
        for call in ["hinted(", "error(", "warning(", "refused(", "bad(", "code: "] {
            for (at, _) in text.match_indices(call) {
                let rest = text[at + call.len()..].trim_start();
                if let Some((code, _)) = rest.strip_prefix('"').and_then(|r| r.split_once('"')) {
                    codes.insert(code.to_owned());
                }
            }
        }
    }
}

#[test]
fn every_code_has_an_example_that_provokes_it() {
    let (mut codes, mut tests) = (BTreeSet::new(), String::new());
    for dir in ["checklist", "site", "source", "words", "lint"] {
        codes_in(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(dir), &mut codes, &mut tests);
    }
    assert!(codes.len() > 50, "{codes:?}");
    let without: Vec<_> = codes.iter().filter(|c| !tests.contains(&format!("\"{c}\""))).collect();
    assert!(without.is_empty(), "{without:?}");
}

/// Files of the largest size that are hard on a reader. Anything worse than linear in them would be
/// noticed by whoever runs the tests; what is found stays bounded.
#[test]
fn large_and_odd_files_are_read_and_bounded() {
    let fill = |one: &dyn Fn(usize) -> String, head: &str| {
        let mut text = head.to_owned();
        let mut n = 0;
        while text.len() < crate::source::MOST_BYTES - 200 {
            text.push_str(&one(n));
            n += 1;
        }
        text
    };
    let steps = "checklist: t\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: one\n    title: One\n    steps:\n";
    let files = [
        fill(&|n| format!("k{n}: 1\n"), "checklist: t\n"),
        fill(&|n| format!("k{n}: 1\n"), "set: t\n"),
        fill(&|n| format!("      - {{ step: s{n}, ask: A, confirm: true }}\n"), steps),
        fill(&|n| format!("      - {{ step: s{n}, ask: A, confirm: true, gate: s{n} and s0 }}\n"), steps),
        fill(&|_| "      - { step: s, ask: A, confirm: true }\n".to_owned(), steps),
        fill(&|n| format!("  - {{ id: c{n}, name: C, volume: 1 L }}\n"), "set: t\ncylinders:\n"),
        fill(
            &|_| "{{ item.name }}".to_owned(),
            &format!("{steps}      - step: a\n        confirm: true\n        ask: "),
        ),
        fill(
            &|_| "x and ".to_owned(),
            &format!("{steps}      - step: a\n        ask: A\n        confirm: true\n        gate: "),
        ),
    ];
    for text in files {
        let (_, findings) = lint("f", text.as_bytes());
        let subjects: usize = SUBJECTS.iter().map(|s| s.steps.len()).sum();
        assert!(
            findings.len() <= crate::source::MOST_FINDINGS + 1 + subjects + FORMS.len(),
            "{}",
            findings.len()
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// The shipped files with some bytes changed: findings, never a panic; and every finding has a
    /// place inside the file.
    #[test]
    fn damaged_shipped_files_are_told_apart(
        which in 0usize..6,
        edits in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..5),
    ) {
        let name = FORMS.into_iter().chain(FILES).nth(which).unwrap();
        let mut bytes = shipped(name);
        for (at, byte) in edits {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let lines = bytes.iter().filter(|b| **b == b'\n').count() as u32 + 2;
        for f in lint(name, &bytes).1 {
            prop_assert!(f.place.line <= lines && f.place.file == name, "{f}");
        }
    }
}

/// A last good day that is over is told with its place; the day itself is still good.
#[test]
fn what_is_overdue_is_told() {
    let set = shipped("examples/set.yaml");
    let on = |day: &str| super::overdue("set", &set, day.parse().unwrap());
    assert!(on("2027-05-14").is_empty());
    let found = in_every_tongue(|| on("2027-05-15"));
    assert_eq!(found.iter().map(|f| (f.code, f.level)).collect::<Vec<_>>(), [("overdue", Level::Warning)]);
    assert!(found[0].message.contains("2027-05-14") && found[0].place.line > 0);
    assert_eq!(on("2030-01-01").len(), 6);
}

/// The shipped form with something replaced: every finding, with the text of its line.
fn changed(name: &str, edits: &[(&str, &str)]) -> Vec<(&'static str, Level, String)> {
    let mut text = String::from_utf8(shipped(name)).unwrap();
    for (old, new) in edits {
        assert_eq!(text.matches(old).count(), 1, "{old}");
        text = text.replace(old, new);
    }
    let lines: Vec<&str> = text.lines().collect();
    let line = |n: u32| lines.get(n as usize - 1).map_or(String::new(), |l| l.trim().to_owned());
    let all = in_every_tongue(|| lint(name, text.as_bytes()).1);
    assert!(all.iter().all(|f| f.level == Level::Warning || f.hint.is_some()), "{all:?}");
    all.into_iter().map(|f| (f.code, f.level, line(f.place.line))).collect()
}

fn errors(edits: &[(&str, &str)]) -> Vec<(&'static str, String)> {
    let all = changed(FORMS[0], edits).into_iter();
    all.filter(|f| f.1 == Level::Error).map(|(code, _, line)| (code, line)).collect()
}

/// A value is rounded to the safe side of every gate that looks at it, its own or one further down, by itself or
/// through another value.
#[test]
fn rounding_is_judged_by_every_gate_of_the_form() {
    let own = "        round: up\n        gate: least(reserve_again) >= leave_by\n";
    let down = "        round: down\n";
    // No gate looks at it at all: what works it out says which way is safe.
    let found = errors(&[(own, down)]);
    assert!(found.contains(&("round-unsafe", "round: down".into())), "{found:?}");
    let next = "      - step: warning_lasts\n";
    let then = |steps: &str| changed(FORMS[0], &[(own, down), (next, &format!("{steps}{next}"))]);
    let words = "        because: B\n        fix: F\n        source: S\n        critical: true\n";
    let told = |found: &[(&str, Level, String)], code: &str, level: Level| {
        let all: Vec<_> = found.iter().filter(|f| f.0 == code).collect();
        assert!(all.len() == 1 && all[0].1 == level && all[0].2 == "round: down", "{found:?}");
    };
    let reading = "        ask: A\n        reading: { unit: bar, from: 0, to: 350, decimals: 0 }\n";
    let later = format!("      - step: read_on\n{reading}        gate: read_on >= leave_by\n{words}");
    told(&then(&later), "round-unsafe", Level::Error);
    // Through another value, which is itself rounded as its gate wants.
    let further = format!(
        "      - step: above\n        ask: A\n        derived: least(reserve_again) - leave_by\n        unit: bar\n        decimals: 0\n        round: down\n        gate: above >= 0 bar\n{words}"
    );
    let found = then(&further);
    assert_eq!(found.iter().filter(|f| f.0 == "round-unsafe").count(), 1, "{found:?}");
    // That gate is helped by a larger value, what works it out is not: the comparison looks turned round.
    let turned = format!("      - step: read_on\n{reading}        gate: read_on <= leave_by\n{words}");
    told(&then(&turned), "gate-against-lean", Level::Warning);
}

/// Times, pressures that are left and clearances are never below nought, so that a gate at nought holds nobody.
#[test]
fn a_critical_gate_at_nought_always_opens() {
    for (old, new) in [
        (
            "gate: reserve_lasts >= longer(job.way_out * site.way_out_factor, site.way_out_floor)",
            "gate: reserve_lasts >= 0 min",
        ),
        (
            "gate: exhaust_side > 0 deg or siting_exhaust >= site.clearance_downwind",
            "gate: exhaust_side >= 0 deg",
        ),
        (
            "gate: exhaust_side > 0 deg or siting_exhaust >= site.clearance_downwind",
            "gate: exhaust_side <= 180 deg",
        ),
        ("gate: least(reserve_again) >= leave_by", "gate: leave_by >= 0 bar"),
    ] {
        let found = errors(&[(old, new)]);
        assert!(found.contains(&("always-opens", new.to_owned())), "{new}: {found:?}");
    }
    let found = changed(FORMS[0], &[("gate: warning_lasts > 0 min", "gate: warning_lasts >= 0 min")]);
    assert_eq!(found, [("always-opens", Level::Warning, "gate: warning_lasts >= 0 min".into())]);
}

/// An `or` with what must be open anyway is no gate. Only what is proved is said.
#[test]
fn a_gate_beside_what_already_holds_is_none() {
    let limit = "gate: carried_co <= site.limits.co_most";
    let with = |arm: &str| {
        let gate = format!("{limit} or {arm}");
        errors(&[(limit, &gate)]).into_iter().map(|f| f.0).collect::<Vec<_>>()
    };
    assert_eq!(with("carried_test"), ["always-opens"]);
    // Parts of the gate of that step, and the step's own condition.
    assert_eq!(with("last.air_test.here"), ["always-opens"]);
    assert_eq!(with("(carried_test and last.air_test.here)"), ["always-opens"]);
    assert_eq!(with("air_test_basis == \"carried\""), ["always-opens"]);
    assert_eq!(with("carried_o2 >= site.limits.o2_from"), ["always-opens"]);
    // Nothing holds anyone up for these.
    assert_eq!(with("not carried_test"), [""; 0]);
    assert_eq!(with("carried_o2 >= 20.9 %"), [""; 0]);
    assert_eq!(with("site.limits.co_most <= 3 ppm"), [""; 0]);
    // A step that is answered only later than the start is no reason at the start.
    let start = "gate: siting_vents >= site.clearance_vent";
    assert_eq!(errors(&[(start, &format!("{start} or ground"))]).len(), 1);
    assert_eq!(errors(&[(start, &format!("{start} or job_read"))]), []);
}

/// What makes time, or pressure to leave at, look better than it is.
#[test]
fn arguments_on_the_unsafe_side() {
    let lasts = "derived: endurance(least(reserve_again), sum(set.cylinders.volume), reserve_temperature, colder(ambient_low, reserve_temperature), set.reserve_floor, site.ambient_pressure, sum(wearers.most))";
    let leave = "derived: leave_by_pressure(sum(set.cylinders.volume), warmer(ambient_high, reserve_temperature), colder(ambient_low, reserve_temperature), set.reserve_floor, site.ambient_pressure, sum(wearers.most), longer(job.way_out * site.way_out_factor, site.way_out_floor))";
    for (line, old, new, code) in [
        (lasts, "least(reserve_again)", "most(reserve_again)", "unsafe-side"),
        (lasts, "least(reserve_again)", "most(reserve_again) - 5 bar", "unsafe-side"),
        (lasts, "colder(", "warmer(", "unsafe-side"),
        (lasts, "sum(wearers.most)", "sum(wearers.planned)", "flow-not-most"),
        (lasts, "sum(wearers.most)", "sum(wearers.least)", "flow-not-most"),
        (lasts, "sum(wearers.most)", "least(wearers.most)", "unsafe-side"),
        (lasts, "sum(wearers.most)", "most(wearers.most)", "flow-of-one"),
        (leave, "sum(wearers.most)", "sum(wearers.planned)", "flow-not-most"),
        (leave, "sum(wearers.most)", "most(wearers.most)", "flow-of-one"),
        (leave, "warmer(", "colder(", "unsafe-side"),
        (
            leave,
            "longer(job.way_out * site.way_out_factor, site.way_out_floor)",
            "job.way_out - longer(job.way_out, 3 min)",
            "unsafe-side",
        ),
        (leave, "sum(set.cylinders.volume)", "most(set.cylinders.volume)", "unsafe-side"),
    ] {
        let wrong = line.replacen(old, new, 1);
        assert_ne!(wrong, line, "{old}");
        let found = errors(&[(line, &wrong)]);
        if new.contains("job.way_out -") {
            // Taken away, the longer of two is the safe one no more.
            assert!(found.iter().any(|f| f.0 == code), "{new}: {found:?}");
        } else {
            assert!(found.contains(&(code, wrong.clone())), "{new}: {found:?}");
        }
    }
    // The column is that of the argument.
    let text = String::from_utf8(shipped(FORMS[0])).unwrap();
    let all = lint(
        "f",
        text.replace(lasts, &lasts.replace("sum(wearers.most)", "sum(wearers.planned)")).as_bytes(),
    )
    .1;
    let found = all.iter().find(|f| f.code == "flow-not-most").unwrap();
    let line = text.lines().nth(found.place.line as usize - 1).unwrap();
    assert_eq!(found.place.column as usize, line.find("wearers.most").unwrap() + 1);
    assert!(found.hint.as_deref().unwrap().contains("wearers.most"), "{found}");
}

/// A subject that a condition leaves out where it is needed is not asked.
#[test]
fn a_subject_is_asked_wherever_it_is_needed() {
    let air = "      - step: air_co\n        when: air_test_basis == \"today\"\n";
    let with = |when: &str| {
        let step = format!("      - step: air_co\n        when: {when}\n");
        let found = errors(&[(air, &step)]);
        assert!(found.iter().all(|f| f.0 == "subject-left-out"), "{when}: {found:?}");
        found.into_iter().map(|f| f.1).collect::<Vec<_>>()
    };
    let told = ["- step: air_co"];
    assert_eq!(with("air_test_basis == \"today\" and set.reserve == \"none\""), told);
    assert_eq!(with("air_test_basis == \"today\" and all(set.outlets.kind == \"limited\")"), told);
    // The same, said otherwise or more widely; and less.
    let turns = "        when: set.driven_by != \"own_engine\" and set.motor.phases == \"three\"\n        called:\n          en: the direction of rotation\n";
    let turned = |when: &str| {
        errors(&[(
            turns,
            &format!("        when: {when}\n        called:\n          en: the direction of rotation\n"),
        )])
    };
    assert_eq!(turned("set.motor.phases != \"one\""), []);
    assert_eq!(
        turned(
            "(set.driven_by == \"mains\" or set.driven_by == \"generator\") and set.motor.phases == \"three\""
        ),
        []
    );
    assert_eq!(turned("set.motor.phases == \"three\" or set.reserve == \"none\""), []);
    let told = [("subject-left-out", "- step: rotation".to_owned())];
    assert_eq!(turned("set.driven_by == \"mains\" and set.motor.phases == \"three\""), told);
    assert_eq!(turned("set.motor.phases == \"one\""), told);
    assert_eq!(turned("job.zone == \"none\""), told);
    // The condition of a stage counts as well.
    let title = "      uk: \"Саморятівники\"\n";
    let stage = format!("{title}    when: job.atmosphere != \"not\"\n");
    let with = |when: &str| errors(&[(&stage, &format!("{title}    when: {when}\n"))]);
    assert_eq!(with("job.atmosphere == \"dangerous\"").len(), 2);
    let found = with("job.zone == \"none\"");
    let told = ["- step: escape_fits", "- step: escape_gauge"].map(|s| ("subject-left-out", s.to_owned()));
    assert_eq!(found, told);
    // One that is needed always takes no condition.
    let oil = "      - step: oil_level\n";
    let found = errors(&[(oil, &format!("{oil}        when: set.driven_by != \"own_engine\"\n"))]);
    assert_eq!(found, [("subject-left-out", "- step: oil_level".to_owned())]);
}
