//! One example for every finding of the reader, with its line and column, and every trap on which YAML
//! readers were measured to differ or to be silent.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use proptest::prelude::*;

/// Code, line, column.
type Found = (&'static str, u32, u32);

fn codes(bytes: &[u8]) -> Vec<(&'static str, u32, u32)> {
    let (source, findings) = Source::read("f.yaml", bytes);
    crate::finding::in_every_tongue(|| Source::read("f.yaml", bytes).1);
    assert_eq!(source.is_none(), any_error(&findings), "{findings:?}");
    findings.iter().map(|f| (f.code, f.place.line, f.place.column)).collect()
}

/// What is wrong, and where.
#[test]
fn each_finding_has_its_example() {
    let table: &[(&str, &[Found])] = &[
        ("a: 1\nb: 2\na: 3\n", &[("duplicate-key", 3, 1)]),
        ("a:\n  x: 1\n  x: 2\n", &[("duplicate-key", 3, 3)]),
        ("'a': 1\na: 2\n", &[("duplicate-key", 2, 1)]),
        ("a: &one 1\n", &[("anchor", 1, 4)]),
        ("a: &one 1\nb: *one\n", &[("anchor", 1, 4), ("alias", 2, 4)]),
        ("a: !!int 1\n", &[("tag", 1, 4)]),
        ("a: !set {b: 1}\n", &[("tag", 1, 4)]),
        ("a:\n  <<: {b: 1}\n  c: 1\n", &[("merge-key", 2, 3)]),
        ("b: &b {x: 1}\na:\n  <<: *b\n  c: 1\n", &[("anchor", 1, 4), ("merge-key", 3, 3), ("alias", 3, 7)]),
        ("a: {b:1}\n", &[("no-value", 1, 8)]),
        ("\u{feff}a: 1\n", &[("byte-order-mark", 1, 1)]),
        ("a: 1\r\nb: 2\n", &[("carriage-return", 1, 5)]),
        ("a: 1\n\tb: 2\n", &[("tab", 2, 1)]),
        ("a: \"x\ty\"\n", &[("tab", 1, 6)]),
        ("a: x\0\n", &[("forbidden-character", 1, 5)]),
        ("a: pass\u{202e}ed\n", &[("forbidden-character", 1, 8)]),
        ("a: x\u{85}b: y\n", &[("forbidden-character", 1, 5)]),
        ("a: x\u{2028}b: y\n", &[("forbidden-character", 1, 5)]),
        ("a: 1\n---\nb: 2\n", &[("many-documents", 2, 1)]),
        ("", &[("empty-file", 0, 0)]),
        ("# only a remark\n", &[("empty-file", 0, 0)]),
        ("~\n", &[("empty-file", 0, 0)]),
        ("- a\n- b\n", &[("not-a-map", 1, 1)]),
        ("just words\n", &[("not-a-map", 1, 1)]),
        ("a:\n", &[("no-value", 1, 2)]),
        ("a: ~\n", &[("no-value", 1, 4)]),
        ("a: null\n", &[("no-value", 1, 4)]),
        ("a: [1, ~]\n", &[("no-value", 1, 8)]),
        ("? [a, b]\n: 1\n", &[("complex-key", 1, 3)]),
        ("%YAML 1.2\n---\na: 1\n", &[("directive", 1, 1)]),
        ("a: [1, 2\n", &[("yaml-syntax", 2, 1)]),
        ("a: b: c\n", &[("yaml-syntax", 1, 5)]),
        // All at once.
        ("a: ~\nb: &x 1\na: 2\n", &[("no-value", 1, 4), ("anchor", 2, 4), ("duplicate-key", 3, 1)]),
    ];
    let wrong: Vec<_> = table
        .iter()
        .filter(|(text, want)| codes(text.as_bytes()) != *want)
        .map(|(t, _)| (t, codes(t.as_bytes())))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn bytes_that_are_not_utf8_are_refused_with_their_place() {
    assert_eq!(codes(b"a: 1\nb: \xff\n"), [("not-utf8", 2, 4)]);
    // UTF-16, both orders.
    assert_eq!(codes(b"\xff\xfea\0:\0"), [("not-utf8", 1, 1)]);
    assert_eq!(codes(b"\xfe\xff\0a\0:"), [("not-utf8", 1, 1)]);
}

#[test]
fn size_and_depth_are_bounded() {
    let mut big = b"a: ".to_vec();
    big.resize(MOST_BYTES, b'x');
    assert_eq!(codes(&big), []);
    big.push(b'x');
    assert_eq!(codes(&big), [("too-large", 0, 0)]);
    let deep = |n: usize| format!("a: {}1{}\n", "[".repeat(n), "]".repeat(n));
    assert_eq!(codes(deep(MOST_DEPTH - 1).as_bytes()), []);
    assert_eq!(codes(deep(MOST_DEPTH).as_bytes()), [("too-deep", 1, 3 + MOST_DEPTH as u32)]);
    for open in ["[", "{", "- ", "a: [", "? "] {
        let bomb = open.repeat(MOST_BYTES / open.len());
        assert!(!codes(bomb.as_bytes()).is_empty(), "{open:?}");
    }
}

#[test]
fn a_bomb_of_anchors_is_only_findings() {
    let mut text = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n".to_owned();
    for n in 1..10 {
        let before = format!("*a{}, ", n - 1).repeat(10);
        text.push_str(&format!("a{n}: &a{n} [{}]\n", before.trim_end_matches(", ")));
    }
    let found = codes(text.as_bytes());
    assert_eq!(found.iter().filter(|(c, ..)| *c == "anchor").count(), 10);
    assert_eq!(found.iter().filter(|(c, ..)| *c == "alias").count(), 90);
}

#[test]
fn many_findings_are_cut_off() {
    let text: String = (0..1000).map(|n| format!("k{n}: ~\n")).collect();
    let found = codes(text.as_bytes());
    assert_eq!(found.len(), MOST_FINDINGS + 1);
    assert_eq!(found.iter().filter(|(c, ..)| *c == "too-many-findings").count(), 1);
}

#[test]
fn a_second_parser_that_reads_otherwise_is_a_finding() {
    // Both parsers read this the same way; what is compared must not be trusted to be equal.
    let (source, findings) = Source::read("f", b"a: [1, x]\nb: 'q'\n");
    let source = source.unwrap();
    assert_eq!(findings, []);
    let mut out = Findings::new("f");
    agree::check("a: [1, y]\nb: 'q'\n", source.root(), &mut out);
    agree::check("a: [1]\nb: 'q'\n", source.root(), &mut out);
    agree::check("b: 'q'\na: [1, x]\n", source.root(), &mut out);
    agree::check("a: [1, x]\nb: [\n", source.root(), &mut out);
    let found: Vec<_> = out.into_vec().iter().map(|f| (f.code, f.place.line, f.place.column)).collect();
    assert_eq!(
        found,
        [
            ("parsers-disagree", 1, 1),
            ("parsers-disagree", 1, 4),
            ("parsers-disagree", 1, 8),
            ("parsers-disagree", 3, 1)
        ]
    );
}

#[test]
fn numbers_have_one_form() {
    for good in ["0", "7", "150", "0.5", "-12.25", "999999999.999999", "1.10"] {
        assert_eq!(plain::decimal(good).unwrap().to_string(), good);
    }
    let bad = [
        "",
        "-0",
        "010",
        "08",
        "0777",
        "00",
        "0x1F",
        "0o10",
        "0b11",
        "1e3",
        "1e400",
        "1E3",
        "1.5e-3",
        ".5",
        "5.",
        "+1",
        ".nan",
        ".NaN",
        ".inf",
        "-.inf",
        "nan",
        "1_000",
        "1 000",
        "1'000",
        "1,5",
        "1,000.5",
        "1.2.3",
        "12:30",
        "1.0000001",
        "1234567890",
        "--1",
        "-",
        "½",
        "١",
    ];
    for text in bad {
        assert!(plain::decimal(text).is_err(), "{text:?}");
    }
}

#[test]
fn text_that_yaml_may_read_as_something_else_is_known() {
    for other in [
        "12",
        "1.10",
        "010",
        "0x1F",
        "0o10",
        "0b11",
        "1e3",
        ".5",
        "5.",
        "+1",
        ".nan",
        ".inf",
        "-.inf",
        "1_000",
        "1,000",
        "true",
        "False",
        "yes",
        "NO",
        "on",
        "Off",
        "y",
        "n",
        "~",
        "null",
        "",
        "12:30:45",
        "18:00",
        "2026-11-25",
        "2026-11-25T10:00:00Z",
    ] {
        assert!(reads_as_other(other).is_some(), "{other:?}");
    }
    for text in [
        "1.2.3",
        "150 bar",
        "A12",
        "2-stage",
        "no entry",
        "3 months",
        "e3",
        "-",
        "10 m",
        "1a",
        "x.y",
        "site.warm_up",
    ] {
        assert_eq!(reads_as_other(text), None, "{text:?}");
    }
}

#[test]
fn a_place_inside_a_scalar_is_where_the_character_stands() {
    let text =
        "a: x >= 1\nb: 'x >= 1'\nc: |\n  x >=\n    1\nd: >-\n  x\n  >= 1\ne: x\n  >= 1\nf: \"x >= 1\"\n";
    let (source, findings) = Source::read("f", text.as_bytes());
    let source = source.unwrap();
    assert_eq!(findings, []);
    let at = |key: &str, c: char| {
        let node = source.root().get(key).unwrap();
        let Tree::Scalar(value, _) = &node.tree else { panic!("{key}") };
        let p = source.place_in(node, value.find(c).unwrap());
        (p.line, p.column)
    };
    assert_eq!((at("a", 'x'), at("a", '>'), at("a", '1')), ((1, 4), (1, 6), (1, 9)));
    assert_eq!((at("b", 'x'), at("b", '1')), ((2, 5), (2, 10)));
    assert_eq!((at("c", 'x'), at("c", '>'), at("c", '1')), ((4, 3), (4, 5), (5, 5)));
    assert_eq!((at("d", 'x'), at("d", '>'), at("d", '1')), ((7, 3), (8, 3), (8, 6)));
    assert_eq!((at("e", 'x'), at("e", '>')), ((9, 4), (10, 3)));
    assert_eq!((at("f", 'x'), at("f", '1')), ((11, 5), (11, 10)));
}

#[test]
fn typed_looks_say_what_they_wanted() {
    let look = |text: &str, what: &str| {
        let (source, _) = Source::read("f", text.as_bytes());
        let source = source.unwrap();
        let node = source.root().get("a").unwrap();
        let look = || {
            let mut out = Findings::new("f");
            let read = match what {
                "truth" => typed::truth(node, &mut out).map(|b| b.to_string()),
                "number" => typed::number(node, &mut out).map(|d| d.to_string()),
                "whole" => typed::whole(node, 1, 9, &mut out).map(|n| n.to_string()),
                "name" => typed::name(node, "step id", &mut out),
                _ => typed::id(node, "id", &mut out),
            };
            (read, out.into_vec())
        };
        crate::finding::in_every_tongue(|| look().1);
        let (read, found) = look();
        assert_eq!(read.is_none(), !found.is_empty());
        read.unwrap_or_else(|| found[0].code.to_owned())
    };
    assert_eq!(look("a: true", "truth"), "true");
    for bad in ["yes", "no", "on", "off", "y", "True", "TRUE", "'true'", "1", "[]"] {
        assert_eq!(look(&format!("a: {bad}"), "truth"), "not-true-or-false", "{bad}");
    }
    assert_eq!(look("a: 1.10", "number"), "1.10");
    for bad in ["'3'", "010", "0x1F", "1e3", ".nan", ".inf", "1_000", "+1", "three"] {
        assert_eq!(look(&format!("a: {bad}"), "number"), "bad-number", "{bad}");
    }
    assert_eq!(look("a: {b: 1}", "number"), "wrong-type");
    assert_eq!(look("a: 9", "whole"), "9");
    for bad in ["0", "10", "1.5", "-1"] {
        assert_eq!(look(&format!("a: {bad}"), "whole"), "out-of-range", "{bad}");
    }
    assert_eq!(look("a: oil_level2", "name"), "oil_level2");
    for bad in ["Oil", "oil-level", "2nd", "_x", "öl", "a b", &"x".repeat(49)] {
        assert_eq!(look(&format!("a: '{bad}'"), "name"), "bad-id", "{bad}");
    }
    assert_eq!(look("a: pre-start", "id"), "pre-start");
    assert_eq!(look("a: pre_start", "id"), "bad-id");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Any bytes: findings or a tree, never a panic.
    #[test]
    fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        codes(&bytes);
    }

    /// YAML-like text, where parsers have their corners.
    #[test]
    fn no_yaml_like_text_panics(text in "([a-z0-9~%&*!|>'\"{}\\[\\],:?#\\-. \n]|<<: |- |: |\n  ){0,120}") {
        codes(text.as_bytes());
    }
}
