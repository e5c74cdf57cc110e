//! A look back from a mark is the same look; what was folded by a clock that was set right is not at hand; what weeks of
//! readings come to is what they say.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, clippy::panic)]

use super::marks::{MOST, Marks};
use super::watched::Watched;
use super::{Happened, Stamp, State};
use crate::record::json::{Json, sorted};
use crate::record::line::Line;
use crate::time::utc;
use crate::units::Quantity;
use crate::view::LineNo;
use proptest::prelude::*;

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

/// Readings as they may come: what each is of, bar, minutes since the one before it was entered, minutes ago as told.
fn readings() -> impl Strategy<Value = Vec<(u8, i64, i64, i64)>> {
    proptest::collection::vec((0..3u8, 0..30i64, 0..40i64, 0..8i64), 1..40)
}

fn happened(seq: u64, second: i64, (item, bar, ago): (u8, i64, i64)) -> Happened {
    let item = ["", "A", "B"][usize::from(item)];
    let mut data = vec![
        ("what", Json::from("reserve")),
        ("value", Json::from(bar.to_string())),
        ("unit", Json::from("bar")),
        ("at", Json::from(utc(second - ago * 60))),
    ];
    data.extend((!item.is_empty()).then(|| ("item", Json::from(item))));
    let stamp = Stamp {
        seq,
        line: LineNo { volume: 1, line: seq },
        hash: "".into(),
        time: utc(second).into(),
        zone: "+00:00".into(),
        by: "".into(),
    };
    Happened { stamp, kind: "reading", data: sorted(data) }
}

/// By all pairs: whether the last of a cylinder is lower than one before it by more than so much in an hour. `slips`: what was
/// read again within three minutes is left out. `over`: 1, or 0 where exactly as much counts too.
fn falls(all: &[Happened], most: i64, slips: bool, over: i64) -> bool {
    let told =
        |h: &Happened| Some((h.told_in_time()?, h.stamp.seq, h.data.text("item").map(str::to_owned), bar(h)));
    let mut read: Vec<_> = all.iter().filter_map(told).collect();
    read.sort();
    if slips {
        let again = |r: &(i64, u64, Option<String>, i64)| {
            read.iter().any(|l| l.2 == r.2 && (l.0, l.1) > (r.0, r.1) && l.1 > r.1 && l.0 - r.0 <= 180)
        };
        read = read.iter().filter(|r| !again(r)).cloned().collect();
    }
    read.iter().any(|last| {
        let of: Vec<_> = read.iter().filter(|r| r.2 == last.2).collect();
        of.last() == Some(&last)
            && of.iter().any(|r| (r.3 - last.3) * 3600 >= most * (last.0 - r.0).max(3600) + over)
    })
}

fn bar(h: &Happened) -> i64 {
    h.data.text("value").unwrap().parse().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    /// What weeks of readings come to says the same as going through them; of slips it is the more careful.
    #[test]
    fn nothing_that_falls_is_overlooked(told in readings(), most in 1..25i64, refilled in 0..60usize) {
        let (mut watched, mut since, mut second, mut all) = (Watched::default(), 1, 1_000_000, Vec::new());
        let rate = Quantity::read(&format!("{most} bar")).unwrap();
        for (i, (item, bar, apart, ago)) in told.into_iter().enumerate() {
            let seq = i as u64 + 2;
            if i == refilled {
                since = seq - 1;
                all.clear();
            }
            second += apart * 60;
            let h = happened(seq, second, (item, bar, ago));
            watched.note(&h, since);
            all.push(h);
            let (may, does) = (watched.may_fall(&rate, since), falls(&all, most, false, 1));
            prop_assert!(may || !(does || falls(&all, most, true, 1)));
            // Exactly as much as allowed is not told apart from a little more.
            prop_assert!(!may || falls(&all, most, false, 0));
            // Filled since, and not read yet.
            prop_assert!(!watched.may_fall(&rate, seq + 1));
        }
        // Who is not told in a pressure is asked for by going through all.
        let mut odd = happened(1000, second, (0, 1, 0));
        odd.data = sorted(vec![("what", Json::from("reserve")), ("value", Json::from("1")), ("unit", Json::from("ppm"))]);
        watched.note(&odd, since);
        prop_assert!(watched.may_fall(&rate, since));
    }
}
