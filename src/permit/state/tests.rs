//! A look back from a mark is the same look; what was folded by a clock that was set right is not at hand.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic)]

use super::State;
use super::marks::{MOST, Marks};
use crate::record::line::Line;

fn demo() -> Vec<Line> {
    let folder = tempfile::tempdir().unwrap();
    let days = folder.path().join("days");
    assert!(crate::cli::demo::made(&days, 2, 1).is_ok());
    let bytes = std::fs::read(days.join("register/0001.jsonl")).unwrap();
    bytes.split_inclusive(|b| *b == b'\n').map(|raw| Line::read(&raw[..raw.len() - 1]).unwrap()).collect()
}

fn told(state: &State) -> String {
    serde_json::to_string(state).unwrap()
}

#[test]
fn marks_are_few_and_each_is_the_state_at_its_place() {
    let lines = demo();
    let mut marked = State { marks: Marks::every(1), ..State::default() };
    let mut plain = Vec::new();
    let mut state = State::default();
    for line in &lines {
        marked.take(line).unwrap();
        state.take(line).unwrap();
        plain.push(told(&state));
    }
    assert!(lines.len() > 2 * MOST, "{}", lines.len());
    let mut places = std::collections::BTreeSet::new();
    for seq in 0..lines.len() as u64 {
        let (mut before, taken) = marked.before(seq);
        assert!(taken as u64 <= seq && before.count() == taken as u64);
        if taken > 0 {
            assert_eq!(told(&before), plain[taken - 1]);
        }
        if places.insert(taken) {
            lines[taken..].iter().for_each(|line| before.take(line).unwrap());
            assert_eq!(told(&before), plain[lines.len() - 1], "from {taken}");
        }
        // They stand at even distances.
        assert!(seq - taken as u64 <= 2 * lines.len() as u64 / MOST as u64 + 1);
    }
    assert!(places.len() <= MOST + 1 && places.len() > MOST / 2, "{}", places.len());
}

#[test]
fn a_clock_set_right_asks_for_everything() {
    let lines = demo();
    let mut state = State::default();
    lines.iter().for_each(|line| state.take(line).unwrap());
    let hand = state.at_hand().unwrap();
    assert!(!hand.permits.lack());
    let kind = crate::record::kinds::kind("clock").unwrap();
    let clock = lines.last().unwrap().reporting(kind, crate::record::json::object([]), None, None);
    let mut after = hand.clone();
    after.take(&clock).unwrap();
    assert!(after.permits.lack() && after.at_hand().is_none());
    state.take(&clock).unwrap();
    assert!(state.at_hand().is_some());
}

/// Spells that a pause does not part are kept by the longest pause that a site may say.
#[test]
fn no_site_says_a_longer_pause() {
    let field = crate::site::fields::SITE.iter().find(|f| f.name == "spell_pause").unwrap();
    let crate::site::Holds::Quantity(_, _, most) = field.holds else { panic!("{:?}", field.holds) };
    let most = crate::units::Quantity::read(most).unwrap();
    assert_eq!(most.value, num_rational::BigRational::from_integer(super::marks::PAUSE.into()));
}
