//! Words in several languages and templates: what is chosen, filled in and refused.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::source::Source;

const KNOWN: &[&str] = &["item.name", "site.recall", "wearer.name"];

/// Code, line, column.
type Found = (&'static str, u32, u32);

fn template(yaml: &str) -> Result<Template, Vec<(&'static str, u32, u32)>> {
    let (source, findings) = Source::read("f", yaml.as_bytes());
    assert_eq!(findings, []);
    let source = source.unwrap();
    let look =
        |out: &mut Findings| Template::read(source.root().get("a").unwrap(), "en", &source, &KNOWN, out);
    crate::finding::in_every_tongue(|| {
        let mut out = Findings::new("f");
        look(&mut out);
        out.into_vec()
    });
    let mut out = Findings::new("f");
    let read = look(&mut out);
    read.ok_or_else(|| out.into_vec().iter().map(|f| (f.code, f.place.line, f.place.column)).collect())
}

#[test]
fn a_text_has_languages_and_falls_back_to_the_files_own() {
    let t = template("a: {en: Oil level, pl: Poziom oleju}").unwrap();
    assert_eq!(t.words().get("pl"), "Poziom oleju");
    assert_eq!(t.words().get("pl-PL"), "Poziom oleju");
    assert_eq!(t.words().get("el"), "Oil level");
    assert_eq!(t.words().own(), "Oil level");
}

#[test]
fn each_finding_about_words_has_its_example() {
    let table: &[(&str, &[Found])] = &[
        ("a: {english: x}", &[("bad-language", 1, 5)]),
        ("a: {pl: x}", &[("no-own-language", 1, 4)]),
        ("a: {}", &[("no-words", 1, 4)]),
        ("a: ''", &[("no-words", 1, 4)]),
        ("a: Yes", &[("quote-it", 1, 4)]),
        ("a: 1.10", &[("quote-it", 1, 4)]),
        ("a: {en: 12}", &[("quote-it", 1, 9)]),
        ("a: [x]", &[("wrong-type", 1, 4)]),
        ("a: {en: {en: x}}", &[("wrong-type", 1, 9)]),
        ("a: \"x\\u202E\"", &[("forbidden-character", 1, 4)]),
        ("a: Gauge of {{ item.nam }}", &[("template-name", 1, 16)]),
        ("a: Gauge of {{ item.name }", &[("template-syntax", 1, 13)]),
        ("a: 'a }} b'", &[("template-syntax", 1, 7)]),
        ("a: 'x {{ item.name|upper }}'", &[("template-not-plain", 1, 10)]),
        ("a: 'x {{ item[0] }}'", &[("template-not-plain", 1, 10)]),
        ("a: 'x {{ range(3) }}'", &[("template-not-plain", 1, 10)]),
        ("a: 'x {{ 1 + 1 }}'", &[("template-not-plain", 1, 10)]),
        ("a: 'x {{ \"149\" >= 150 }}'", &[("template-not-plain", 1, 10)]),
        ("a: 'x {{ }}'", &[("template-not-plain", 1, 10)]),
        ("a: 'x {{ true }}'", &[("template-not-plain", 1, 10)]),
        ("a: '{% if true %}x{% endif %}'", &[("template-not-plain", 1, 5)]),
        ("a: '{# hidden #}x'", &[("template-not-plain", 1, 5)]),
        ("a: {en: 'x', pl: '{{ site.recal }}'}", &[("template-name", 1, 22)]),
    ];
    for (yaml, want) in table {
        assert_eq!(template(yaml).unwrap_err(), *want, "{yaml}");
    }
    let long = format!("a: {}", "x".repeat(MOST_CHARS + 1));
    assert_eq!(template(&long).unwrap_err(), [("too-long", 1, 4)]);
}

#[test]
fn names_are_filled_in_and_a_missing_one_is_an_error() {
    let t = template("a: 'Gauge of {{ item.name }} ({{site.recall}}) {x}'").unwrap();
    assert_eq!(t.names(), ["item.name", "site.recall"]);
    let mut c = Context::new();
    c.set("item.name", "<B> {{ site.recall }}").set("site.recall", "three long blasts");
    // What is filled in is text: neither escaped nor read as a template again.
    assert_eq!(t.render("en", &c).unwrap(), "Gauge of <B> {{ site.recall }} (three long blasts) {x}");
    let e = t.render("en", Context::new().set("item.name", "B")).unwrap_err();
    assert!(e.0.contains("site.recall"), "{e}");
}

#[test]
fn language_tags() {
    for good in ["en", "pl", "pt-BR", "sr-Latn", "fil"] {
        assert!(is_language(good), "{good}");
    }
    for bad in ["", "e", "EN", "english", "en_GB", "en-", "en-x", "1n", "en-GB-oed-x"] {
        assert!(!is_language(bad), "{bad}");
    }
}
