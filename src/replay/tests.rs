//! What is at hand of a register decides as everything does, or says that it lacks something.
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]

use super::judge::Judge;
use super::{Found, Why};
use crate::permit::decide::Known;
use crate::permit::state::State;
use crate::record::chain::Chain;
use crate::record::line::Line;
use crate::time::Moment;
use std::collections::{BTreeMap, HashSet};
use std::path::Path;

fn lines(folder: &Path) -> Vec<Line> {
    let bytes = std::fs::read(folder.join("register/0001.jsonl")).unwrap();
    bytes.split_inclusive(|b| *b == b'\n').map(|raw| Line::read(&raw[..raw.len() - 1]).unwrap()).collect()
}

fn kept(chain: &Chain, state: &State) -> (String, String) {
    let state = state.at_hand().unwrap();
    let numbers: HashSet<String> = state.permits.keys().map(str::to_owned).collect();
    let texts: HashSet<&str> = state.permits.at_hand().flat_map(|p| p.texts()).collect();
    let chain = chain.at_hand(&|n| numbers.contains(n), &|h| texts.contains(h)).unwrap();
    (serde_json::to_string(&chain).unwrap(), serde_json::to_string(&state).unwrap())
}

fn again((chain, state): &(String, String)) -> (Chain, State) {
    let state: State = serde_json::from_str(state).unwrap();
    let chain = Chain::of_hand(serde_json::from_str(chain).unwrap(), state.lines()).unwrap();
    (chain, state)
}

fn words(found: Vec<Found>) -> Vec<(&'static str, Vec<String>)> {
    found.into_iter().map(|f| (f.rule, f.why.into_iter().map(Why::words).collect())).collect()
}

/// Goes through the lines with everything and with what is at hand beside it, taken anew after so many lines. Returns how
/// many of each kind were judged on what is at hand, and for how many it was too little.
fn through(lines: &[Line], every: usize) -> BTreeMap<&'static str, (u32, u32)> {
    let mut whole = (Chain::first(&lines[0]).unwrap(), State::default());
    let mut judge = Judge::new();
    let mut hand: Option<(Chain, State, Judge)> = None;
    let mut of_kind: BTreeMap<&'static str, (u32, u32)> = BTreeMap::new();
    whole.1.take(&lines[0]).unwrap();
    for (i, line) in lines.iter().enumerate().skip(1) {
        if hand.is_none() || i % every == 0 {
            let (chain, state) = again(&kept(&whole.0, &whole.1));
            assert!(!state.permits.lack());
            hand = Some((chain, state, Judge::new()));
        }
        let now = Moment { time: line.time.to_string(), zone: line.zone.to_string() };
        let known = Known::new(&whole.0, &whole.1, &now);
        let found = words(judge.line(&known, (&lines[..i], &lines[i + 1..]), line));
        judge.came(&known, line);
        let (mut chain, mut state, mut other) = hand.take().unwrap();
        let same = words({
            let known = Known::new(&chain, &state, &now);
            let same = other.line(&known, (&lines[..i], &lines[i + 1..]), line);
            if !state.permits.lack() {
                other.came(&known, line);
            }
            same
        });
        whole.0.again(line);
        whole.1.take(line).unwrap();
        let count = of_kind.entry(line.kind.name).or_default();
        // A fault is said of everything only: here it would be decided anew.
        if state.permits.lack()
            || chain.next(line).is_err()
            || state.take(line).is_err()
            || state.permits.lack()
        {
            count.1 += 1;
        } else {
            assert_eq!(found, same, "line {}, {}", line.seq, line.kind.name);
            count.0 += 1;
            if i % 13 == 0 {
                assert_eq!(kept(&whole.0, &whole.1), kept(&chain, &state), "after line {}", line.seq);
            }
            let now = Moment { time: line.time.to_string(), zone: line.zone.to_string() };
            other.took(&Known::new(&chain, &state, &now), line);
            hand = Some((chain, state, other));
        }
        judge.took(&Known::new(&whole.0, &whole.1, &now), line);
    }
    of_kind
}

#[test]
fn what_is_at_hand_decides_as_everything_does() {
    let folder = tempfile::tempdir().unwrap();
    let days = folder.path().join("days");
    assert!(crate::cli::demo::made(&days, 4, 2).is_ok());
    let demo = folder.path().join("demo");
    assert!(crate::cli::demo::play(&demo, &mut std::io::sink()).is_ok());
    // A line that puts a permit on the register, or answers of other permits on one, or is signed, needs everything.
    let whole = ["open", "carried"];
    for (lines, every) in [(lines(&days), 150), (lines(&demo), 40)] {
        let of_kind = through(&lines, every);
        let judged: u32 = of_kind.values().map(|c| c.0).sum();
        println!("{} lines, {judged} judged on what is at hand: {of_kind:?}", lines.len());
        let lacking = of_kind.iter().filter(|(kind, c)| c.1 > 0 && !whole.contains(kind));
        assert_eq!(lacking.collect::<Vec<_>>(), Vec::new());
        assert!(judged as usize > lines.len() * 9 / 10);
    }
}
