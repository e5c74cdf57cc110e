//! Every finding about a checklist, with the smallest file that provokes it and the place it names.

use super::{errors, read, with_steps};
use crate::finding::Level;

/// Code, line, column.
type Found = (&'static str, u32, u32);
/// Steps (from line 9, column 7) and what must be found in them.
type Row = (&'static str, &'static [Found]);

const READING: &str = "      - step: gauge\n        ask: Gauge\n        reading: { unit: bar, from: 0, to: 350, decimals: 0 }\n";

fn check(rows: &[Row]) {
    let wrong: Vec<_> = rows
        .iter()
        .map(|(steps, want)| (steps, errors(&with_steps(steps)), want))
        .filter(|(_, got, want)| got != *want)
        .map(|(steps, got, want)| format!("{steps}\n  got  {got:?}\n  want {want:?}"))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// A row whose steps follow the reading `gauge` (lines 9 to 11), hence begin in line 12.
fn check_after_reading(rows: &[Row]) {
    let wrong: Vec<_> = rows
        .iter()
        .map(|(steps, want)| (steps, errors(&with_steps(&format!("{READING}{steps}"))), want))
        .filter(|(_, got, want)| got != *want)
        .map(|(steps, got, want)| format!("{steps}\n  got  {got:?}\n  want {want:?}"))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn keys_and_kinds() {
    check(&[
        (
            "      - step: a\n        ask: A\n        confrim: true\n",
            &[("no-answer-kind", 9, 9), ("unknown-key", 11, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        date: true\n",
            &[("two-answer-kinds", 12, 9)],
        ),
        ("      - step: a\n        ask: A\n        confirm: yes\n", &[("not-true-or-false", 11, 18)]),
        ("      - step: a\n        ask: A\n        confirm: false\n", &[("no-answer-kind", 11, 18)]),
        ("      - step: Oil\n        ask: A\n        confirm: true\n", &[("bad-id", 9, 15)]),
        ("      - step: min\n        ask: A\n        confirm: true\n", &[("reserved-id", 9, 15)]),
        ("      - step: today\n        ask: A\n        confirm: true\n", &[("reserved-id", 9, 15)]),
        (
            "      - step: a\n        ask: A\n        confirm: true\n      - step: a\n        ask: A\n        confirm: true\n",
            &[("duplicate-id", 12, 15)],
        ),
        ("      - ask: A\n        confirm: true\n", &[("missing-key", 9, 9)]),
        ("      - step: a\n        confirm: true\n", &[("missing-key", 9, 9)]),
        ("      - step: a\n        ask: 12\n        confirm: true\n", &[("quote-it", 10, 14)]),
        ("      - just words\n", &[("wrong-type", 9, 9)]),
        ("      - step: a\n        ask: A\n        choice: { one: One }\n", &[("too-few-choices", 11, 17)]),
        ("      - step: a\n        ask: A\n        choice: { one: One, Two: Two }\n", &[("bad-id", 11, 29)]),
        ("      - step: a\n        ask: A\n        choice: [one, two]\n", &[("wrong-type", 11, 17)]),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        before: noon\n",
            &[("unknown-choice", 12, 17)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        takes: 10 bar\n",
            &[("wrong-dimension", 12, 16)],
        ),
        (
            "      - step: a\n        ask: A\n        timed: 10 min\n        takes: 10 s\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        fresh: 10 min\n",
            &[("not-true-or-false", 12, 16)],
        ),
        (
            "      - step: a\n        ask: A\n        text: true\n        fresh: true\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        each: wearer\n        before: air\n        confirm: true\n        fresh: true\n",
            &[("key-not-here", 14, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        critical: true\n        because: B\n        fix: F\n        deviation: supervisor\n",
            &[("critical-deviation", 15, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        before: start\n        deviation: supervisor\n",
            &[("deviation-unsafe", 13, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        before: air\n        deviation: supervisor\n",
            &[("deviation-unsafe", 13, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        text: true\n        deviation: supervisor\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        deviation: operator\n",
            &[("unknown-choice", 12, 20)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        unit: bar\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        below: true\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        may_leave_out: true\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        blind: true\n",
            &[("key-not-here", 12, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        good_for: moon\n",
            &[("bad-good-for", 12, 19)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        good_for: [place, {days: 3}]\n",
            &[("bad-good-for", 12, 27)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        good_for: {hours: 0}\n",
            &[("out-of-range", 12, 27)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        each: set.hoses\n",
            &[("bad-each", 12, 15)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        each: job.wearers\n",
            &[("bad-each", 12, 15)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        each: set.serial\n",
            &[("bad-each", 12, 15)],
        ),
        (
            "      - step: a\n        ask: Gauge of {{ item.name }}\n        confirm: true\n",
            &[("template-name", 10, 26)],
        ),
        (
            "      - step: a\n        ask: Tell {{ site.note }}\n        confirm: true\n",
            &[("template-name", 10, 22)],
        ),
        (
            "      - step: a\n        each: set.cylinders\n        ask: Gauge of {{ item.name }}, {{ item.tested }}\n        confirm: true\n",
            &[("template-name", 11, 43)],
        ),
        (
            "      - step: a\n        each: set.cylinders\n        ask: A\n        confirm: true\n        critical: true\n        because: B\n        fix: F\n        may_leave_out: true\n",
            &[("critical-left-out", 16, 9)],
        ),
        (
            "      - step: a\n        ask: A\n        confirm: true\n        critical: true\n        fix: F\n",
            &[("unexplained", 9, 9)],
        ),
    ]);
}

#[test]
fn readings_and_waits() {
    check(&[
        (
            "      - step: a\n        ask: A\n        reading: { unit: bars, from: 0, to: 9, decimals: 0 }\n",
            &[("unknown-unit", 11, 26)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 9, to: 0, decimals: 0 }\n",
            &[("empty-range", 11, 18)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: 9.55, decimals: 1 }\n",
            &[("too-many-decimals", 11, 44)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 00, to: 9, decimals: 0 }\n",
            &[("bad-number", 11, 37)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: 0x1F, decimals: 0 }\n",
            &[("bad-number", 11, 44)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: .inf, decimals: 0 }\n",
            &[("bad-number", 11, 44)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: '9', decimals: 0 }\n",
            &[("bad-number", 11, 44)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: site.warm_up, decimals: 0 }\n",
            &[("wrong-dimension", 11, 44)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: set.gauge_too, decimals: 0 }\n",
            &[("unknown-name", 11, 44)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, decimals: 0 }\n",
            &[("missing-key", 11, 18)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, from: 0, to: 9, decimals: 7 }\n",
            &[("out-of-range", 11, 57)],
        ),
        (
            "      - step: a\n        ask: A\n        reading: { unit: bar, form: 0, from: 0, to: 9, decimals: 0 }\n",
            &[("unknown-key", 11, 31)],
        ),
        ("      - step: a\n        ask: A\n        timed: 10 bar\n", &[("wrong-dimension", 11, 16)]),
        ("      - step: a\n        ask: A\n        timed: 3 days\n", &[("wrong-dimension", 11, 16)]),
        ("      - step: a\n        ask: A\n        timed: site.warm_down\n", &[("unknown-name", 11, 16)]),
    ]);
}

#[test]
fn gates_and_names() {
    check_after_reading(&[
        ("        gate: gauge >= set.reserve_minimun\n", &[("unknown-name", 12, 24)]),
        ("        gate: gauge >= 15 min\n", &[("wrong-dimension", 12, 15)]),
        ("        gate: gauge >= 150\n", &[("wrong-dimension", 12, 15)]),
        ("        gate: gauge == \"full\"\n", &[("wrong-type", 12, 24)]),
        ("        gate: |\n          gauge >=\n          set.reserve_minimun\n", &[("unknown-name", 14, 11)]),
        ("        gate: set.reserve == \"cylinders\"\n", &[("gate-ignores-answer", 12, 15)]),
        (
            "        gate: gauge >= later\n      - step: later\n        ask: L\n        reading: { unit: bar, from: 0, to: 9, decimals: 0 }\n",
            &[("name-not-here", 12, 24)],
        ),
        ("        when: gauge >= 1 bar\n", &[("name-not-here", 12, 15)]),
        ("        gate: gauge >= item.volume\n", &[("name-not-here", 12, 24)]),
        ("        gate: true\n", &[("quote-it", 12, 15)]),
        ("        gate: [gauge]\n", &[("wrong-type", 12, 15)]),
        (
            "      - step: c\n        ask: C\n        choice: { with_arrow: W, against: A }\n        gate: c == \"wiht_arrow\"\n",
            &[("unknown-choice", 15, 20)],
        ),
        (
            "      - step: c\n        ask: C\n        choice: { with_arrow: W, against: A }\n        gate: c == with_arrow\n",
            &[("bare-choice", 15, 20)],
        ),
        (
            "      - step: t\n        ask: T\n        text: true\n        gate: t == gauge\n",
            &[("text-compared", 15, 15)],
        ),
        (
            "      - step: t\n        ask: T\n        text: true\n        gate: given(t)\n",
            &[("gate-on-text", 15, 15)],
        ),
        (
            "      - step: w\n        ask: W\n        timed: 3 min\n        gate: w >= 3 min\n",
            &[("gate-on-timed", 15, 15)],
        ),
    ]);
}

#[test]
fn gates_that_cannot_do_their_work() {
    check_after_reading(&[
        ("        gate: gauge >= 351 bar\n", &[("never-opens", 12, 15)]),
        ("        gate: gauge > 35 MPa\n", &[("never-opens", 12, 15)]),
        ("        gate: gauge >= 35 MPa\n", &[]),
        ("        gate: gauge >= set.reserve_minimum + 350 bar\n", &[("never-opens", 12, 15)]),
        (
            "        gate: gauge >= set.reserve_minimum\n        how: At least {{ set.reserve_minimum }}\n        blind: true\n",
            &[("blind-shown", 13, 14)],
        ),
        (
            "        gate: gauge >= set.reserve_minimum\n        fix: Fill to {{ set.reserve_minimum }}\n        blind: true\n",
            &[],
        ),
    ]);
    let r = read(&with_steps(&format!("{READING}        gate: gauge >= 0 bar\n")));
    assert_eq!(r.findings.iter().filter(|f| f.code == "always-opens").count(), 1);
}

#[test]
fn what_may_not_apply_is_named_only_where_it_does() {
    let small = "      - step: mains\n        when: set.driven_by == \"mains\"\n        ask: M\n        reading: { unit: V, from: 0, to: 500, decimals: 0 }\n";
    let with = |steps: &str| errors(&with_steps(&format!("{small}{steps}")));
    let other =
        "      - step: b\n        ask: B\n        confirm: true\n        gate: b and mains >= 200 V\n";
    assert_eq!(with(other), [("may-not-apply", 16, 21)]);
    // The same condition, written otherwise, and more.
    let same = "      - step: b\n        when: set.reserve == \"none\" and (set.driven_by == \"mains\")\n        ask: B\n        confirm: true\n        gate: b and mains >= 200 V\n";
    assert_eq!(with(same), []);
    let given = "      - step: b\n        ask: B\n        confirm: true\n        gate: b and given(mains, 230 V) >= 200 V\n";
    assert_eq!(with(given), []);
}

#[test]
fn derived_values() {
    let with = |rest: &str| {
        errors(&with_steps(&format!("{READING}      - step: margin\n        ask: Margin\n{rest}")))
    };
    let good = "        derived: gauge - set.reserve_minimum\n        unit: bar\n        decimals: 0\n        round: down\n        gate: margin >= 10 bar\n";
    assert_eq!(with(good), []);
    assert_eq!(with(&good.replace("round: down", "round: up")), [("round-unsafe", 17, 16)]);
    assert_eq!(with(&good.replace(">=", "<=")), [("round-unsafe", 17, 16)]);
    assert_eq!(with(&good.replace("unit: bar", "unit: min")), [("wrong-dimension", 15, 15)]);
    assert_eq!(with(&good.replace("        unit: bar\n", "")), [("wrong-dimension", 14, 18)]);
    assert_eq!(with(&good.replace("        round: down\n", "")), [("missing-key", 12, 9)]);
    assert_eq!(with(&good.replace("        decimals: 0\n", "")), [("missing-key", 12, 9)]);
    assert_eq!(with(&good.replace("round: down", "round: nearest")), [("unknown-choice", 17, 16)]);
    assert_eq!(with(&good.replace("gauge - set", "margin - set")), [("name-not-here", 14, 18)]);
    assert_eq!(
        with(&good.replace("gauge - set.reserve_minimum", "gauge >= set.reserve_minimum")),
        [("wrong-type", 14, 18)]
    );
    // A date needs no form, and takes none.
    assert_eq!(
        with(
            "        derived: last.filled.date + 3 months\n        round: up\n        gate: margin >= permit.valid_to\n"
        ),
        [("key-not-here", 15, 9)]
    );
    assert_eq!(
        with("        derived: last.filled.date + 3 months\n        gate: margin >= permit.valid_to\n"),
        []
    );
}

#[test]
fn heads_and_stages() {
    let one = "    steps:\n      - step: a\n        ask: A\n        confirm: true\n";
    let rows: &[(String, &[Found])] = &[
        ("checklist: trial\n".into(), &[("missing-key", 1, 1); 4]),
        (format!("checklist: Trial\nrevision: 0\ntitle: T\nfor: fun\nstages:\n  - stage: x\n    title: X\n{one}"), &[("bad-id", 1, 12), ("out-of-range", 2, 11), ("unknown-choice", 4, 6)]),
        (format!("checklist: trial\nrevision: 1.10\ntitle: T\nfor: work\nauthor: me\nstages:\n  - stage: x\n    title: X\n{one}"), &[("out-of-range", 2, 11), ("unknown-key", 5, 1)]),
        (format!("checklist: trial\nrevision: 1\nlanguage: English\ntitle: T\nfor: work\nstages:\n  - stage: x\n    title: X\n{one}"), &[("bad-language", 3, 11)]),
        ("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages: []\n".into(), &[("nothing-asked", 5, 9)]),
        ("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: x\n    title: X\n    steps: []\n".into(), &[("nothing-asked", 8, 12)]),
        (format!("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nmust: [a, b]\nstages:\n  - stage: x\n    title: X\n{one}"), &[("must-missing", 5, 11)]),
        (format!("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: x\n    title: X\n    needs: [x]\n{one}"), &[("unknown-stage", 8, 13)]),
        (format!("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: x\n    title: X\n    needs: [later]\n{one}  - stage: later\n    title: L\n{}", one.replace(" a\n", " b\n")), &[("unknown-stage", 8, 13)]),
        (format!("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: x\n    title: X\n{one}  - stage: x\n    title: L\n{}", one.replace(" a\n", " b\n")), &[("duplicate-id", 12, 12)]),
        (format!("checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages:\n  - stage: x\n    title: X\n    when: a\n{one}"), &[("name-not-here", 8, 11)]),
    ];
    let wrong: Vec<_> =
        rows.iter().map(|(t, want)| (t, errors(t), want)).filter(|(_, got, want)| got != *want).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn warnings_do_not_refuse() {
    let r = read(&with_steps(READING));
    let found: Vec<_> = r.findings.iter().map(|f| (f.code, f.level, f.place.line)).collect();
    assert_eq!(found, [("never-judged", Level::Warning, 9)]);
    assert!(r.checklist.is_some());
    let r = read(&with_steps(&format!("{READING}        gate: gauge >= 3 bar\n")));
    assert_eq!(r.findings.iter().map(|f| f.code).collect::<Vec<_>>(), ["unexplained"; 3]);
}

/// One text in another language asks for all of them; the choices too.
#[test]
fn a_language_is_whole_or_told() {
    let steps = "      - step: a\n        ask: { en: A, pl: B }\n        choice:\n          one: { en: A, pl: B, uk: C }\n          two: { en: D, pl: E, uk: F }\n";
    let r = read(&with_steps(steps));
    let found: Vec<_> = r.findings.iter().filter(|f| f.code == "missing-language").collect();
    let told: Vec<_> = found.iter().map(|f| (f.level, f.place.line, f.message.as_str())).collect();
    let lacks = |l: &str| {
        format!("not in {l}, which other texts of this form are in; the words in `en` would be shown")
    };
    let (both, one) = (lacks("pl and uk"), lacks("uk"));
    assert_eq!(
        told,
        [
            (Level::Warning, 3, both.as_str()),
            (Level::Warning, 7, both.as_str()),
            (Level::Warning, 10, one.as_str())
        ]
    );
    assert!(r.checklist.is_some());
}

#[test]
fn everything_is_found_at_once() {
    let steps = "      - step: One\n        ask: A\n        reading: { unit: bars, from: 9, to: 010, decimals: 0 }\n      - step: two\n        ask: 12\n        confirm: yes\n        gate: tow\n";
    assert_eq!(
        errors(&with_steps(steps)),
        [("bad-id", 9, 15), ("unknown-unit", 11, 26), ("quote-it", 13, 14), ("not-true-or-false", 14, 18)]
    );
}

/// A circle is told once, whole, where its first member stands; each name used too early besides.
#[test]
fn circles_are_told_whole() {
    let told = |text: &str| -> Vec<String> {
        read(text)
            .findings
            .iter()
            .filter(|f| f.code == "cycle")
            .map(|f| format!("{} {}", f.place.line, f.message))
            .collect()
    };
    let derived = |id: &str, of: &str| {
        format!(
            "      - step: {id}\n        ask: A\n        derived: {of}\n        unit: bar\n        decimals: 0\n        round: down\n"
        )
    };
    let three = with_steps(&format!(
        "{}{}{}",
        derived("a", "b + 1 bar"),
        derived("b", "c * 2"),
        derived("c", "least(a)")
    ));
    assert_eq!(
        told(&three),
        ["9 these steps wait for one another: `a` rests on `b`, `b` rests on `c` and `c` rests on `a`"]
    );
    assert!(errors(&three).iter().any(|e| e.0 == "name-not-here"));
    // Two that stand one after the other; a word in quotation marks and a dotted name are no steps.
    let none = format!(
        "{}      - step: c\n        ask: C\n        when: \"\\\"b\\\" == set.b\"\n        confirm: true\n",
        derived("b", "set.c")
    );
    assert_eq!(told(&with_steps(&none)), Vec::<String>::new());
    let when = "      - step: a\n        ask: A\n        when: b\n        confirm: true\n      - step: b\n        ask: B\n        when: not a\n        confirm: true\n";
    assert_eq!(
        told(&with_steps(when)),
        ["9 these steps wait for one another: `a` rests on `b` and `b` rests on `a`"]
    );
    // A gate looks at answers that are there; it waits for none of them.
    let gate = "      - step: a\n        ask: A\n        confirm: true\n      - step: b\n        ask: B\n        confirm: true\n        gate: b and a\n";
    assert_eq!(errors(&with_steps(gate)), []);
    let stage = |id: &str, needs: &str| {
        format!(
            "  - stage: {id}\n    title: T\n    needs: [{needs}]\n    steps:\n      - step: of_{id}\n        ask: A\n        confirm: true\n"
        )
    };
    let head = "checklist: trial\nrevision: 1\ntitle: T\nfor: work\nstages:\n";
    let circle = format!("{head}{}{}{}", stage("x", "z"), stage("y", "x"), stage("z", "y"));
    assert_eq!(
        told(&circle),
        ["6 these stages wait for one another: `x` needs `z`, `z` needs `y` and `y` needs `x`"]
    );
    let early = read(&circle).findings.iter().find(|f| f.code == "unknown-stage").unwrap().message.clone();
    assert_eq!(early, "the stage `z` (line 20) stands after this one; only stages before it can be needed");
}
