//! Tests of the gate language: an invented scope and facts, then by subject.
#![allow(clippy::unwrap_used, clippy::panic)]

mod folds;
mod judging;
mod lint;
mod properties;
mod typing;

use super::*;
use std::collections::BTreeMap;

/// Names and types of an invented checklist.
pub(super) struct TestScope;

pub(super) fn name(text: &str) -> Name {
    text.split('.').map(str::to_owned).collect()
}

fn choice(of: &str, offered: &[&str]) -> Type {
    Type::Choice { of: of.to_owned(), offered: offered.iter().map(|&o| o.to_owned()).collect() }
}

fn list(ty: Type) -> Type {
    Type::List(Box::new(ty))
}

pub(super) fn types() -> Vec<(&'static str, Type)> {
    use Dimension as D;
    let q = Type::Quantity;
    vec![
        ("supply", q(D::Pressure)),
        ("ambient", q(D::AbsolutePressure)),
        ("co", q(D::Fraction)),
        ("oil", q(D::Concentration)),
        ("voltage", q(D::Voltage)),
        ("current", q(D::Current)),
        ("air_temperature", q(D::Temperature)),
        ("rise", q(D::TemperatureDifference)),
        ("minutes", q(D::Duration)),
        ("flow", q(D::Flow)),
        ("length", q(D::Length)),
        ("share", q(D::Number)),
        ("wind", q(D::Speed)),
        ("earthed", Type::Bool),
        ("guards", Type::Bool),
        ("rotation", choice("rotation", &["with_arrow", "against_arrow"])),
        ("rotation_again", choice("rotation", &["with_arrow", "against_arrow"])),
        ("drive", choice("drive", &["mains", "generator"])),
        ("job.drive", choice("job.drive", &["generator", "mains"])),
        ("tested_on", Type::Date),
        ("remarks", Type::Text),
        ("notice", Type::Span),
        ("reserve", list(q(D::Pressure))),
        ("valve", list(choice("valve", &["open", "closed"]))),
        ("marked", list(Type::Bool)),
        ("set.cylinders.volume", list(q(D::Volume))),
        ("set.cylinders.serial", list(Type::Text)),
        ("set.cylinders.due", list(Type::Date)),
        ("set.cylinders.warmth", list(q(D::Temperature))),
        ("wearers.most", list(q(D::Flow))),
        ("set.reserve_minimum", q(D::Pressure)),
        ("site.ambient_pressure", q(D::AbsolutePressure)),
        ("site.way_out_factor", q(D::Number)),
        ("job.way_out", q(D::Duration)),
        ("last.air_test.taken", Type::Date),
        ("fuel", q(D::Volume)),
        ("fuel_kind", choice("fuel_kind", &["diesel", "petrol"])),
    ]
}

impl Scope for TestScope {
    fn look_up(&self, wanted: &Name) -> Result<Known, Missed> {
        let text = wanted.join(".");
        if text == "later" {
            return Err(Missed::NotHere("later is asked after this step".to_owned()));
        }
        match types().into_iter().find(|(n, _)| *n == text) {
            Some((n, ty)) => {
                let over = matches!(ty, Type::List(_))
                    .then(|| if n.starts_with("wearers") { "wearers" } else { "cylinders" }.to_owned());
                Ok(Known { ty, conditional: n.starts_with("fuel"), over })
            }
            None => Err(Missed::NoSuchName {
                nearest: crate::units::nearest(&text, types().iter().map(|(n, _)| *n)).map(str::to_owned),
            }),
        }
    }
}

/// Facts by name; what is not there is unknown.
#[derive(Clone, Default)]
pub(super) struct TestFacts(pub BTreeMap<String, Fact>);

impl Facts for TestFacts {
    fn fact(&self, wanted: &Name) -> Fact {
        let text = wanted.join(".");
        self.0.get(&text).cloned().unwrap_or_else(|| Fact::Unknown(format!("not answered yet: {text}")))
    }
    fn today(&self) -> Date {
        "2026-11-25".parse().unwrap()
    }
}

pub(super) fn q(text: &str) -> Quantity {
    Quantity::read(text).unwrap()
}

/// A reading as entered.
pub(super) fn reads(label: &str, text: &str) -> Fact {
    Fact::Is { value: Value::Quantity(q(text)), shown: text.to_owned(), label: label.to_owned() }
}

pub(super) fn yes_no(label: &str, value: bool) -> Fact {
    Fact::Is {
        value: Value::Bool(value),
        shown: if value { "yes" } else { "no" }.to_owned(),
        label: label.to_owned(),
    }
}

pub(super) fn day(label: &str, text: &str) -> Fact {
    Fact::Is { value: Value::Date(text.parse().unwrap()), shown: text.to_owned(), label: label.to_owned() }
}

pub(super) fn chose(label: &str, id: &str) -> Fact {
    Fact::Is { value: Value::Choice(id.to_owned()), shown: id.replace('_', " "), label: label.to_owned() }
}

pub(super) fn facts(all: &[(&str, Fact)]) -> TestFacts {
    TestFacts(all.iter().map(|(n, f)| ((*n).to_owned(), f.clone())).collect())
}

pub(super) fn gate(source: &str) -> Gate {
    Gate::parse(source, &TestScope).unwrap_or_else(|problems| panic!("{source}: {problems:#?}"))
}

pub(super) fn judged(source: &str, all: &[(&str, Fact)]) -> Verdict {
    gate(source).judge(&facts(all))
}

/// What is wrong with a condition, in English; in every other language the same, in other words.
#[track_caller]
pub(super) fn problems(source: &str) -> Vec<Problem> {
    use crate::tongue::Tongue;
    let find = || Gate::parse(source, &TestScope).err().unwrap_or_default();
    let english = Tongue::English.within(find);
    for tongue in Tongue::ALL.into_iter().filter(|t| *t != Tongue::English) {
        let own = tongue.within(find);
        let bare =
            |all: &[Problem]| -> Vec<_> { all.iter().map(|p| (p.code, p.at, p.hint.is_some())).collect() };
        assert_eq!(bare(&own), bare(&english), "{tongue:?}: {source}");
        // What is not here says the scope of the test, which speaks English.
        for (own, english) in own.iter().zip(&english).filter(|(p, _)| p.code != "name-not-here") {
            assert_ne!(own.message, english.message, "{tongue:?}: {source}");
            assert!(own.hint.is_none() || own.hint != english.hint, "{tongue:?}: {source}: {english:?}");
        }
    }
    english
}

/// The codes of the problems; none if it parses.
pub(super) fn codes(source: &str) -> Vec<&'static str> {
    match Gate::parse(source, &TestScope) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.iter().map(|p| p.code).collect(),
    }
}

pub(super) fn derived(source: &str, all: &[(&str, Fact)]) -> Result<Value, Vec<String>> {
    Expression::parse(source, &TestScope).unwrap_or_else(|p| panic!("{source}: {p:#?}")).compute(&facts(all))
}
