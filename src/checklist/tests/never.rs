//! Nothing that stands in a file may bring the reader down.

use super::super::Checklist;
use super::{SMALL, with_steps};
use proptest::prelude::*;

const SEED: &str = "      - step: reserve\n        each: set.cylinders\n        ask: Gauge of {{ item.name }}\n        when: set.reserve == \"cylinders\"\n        reading: { unit: bar, from: 0, to: 350, decimals: 0 }\n        gate: reserve >= set.reserve_minimum and (reserve < 3 bar or not given(reserve))\n        good_for: [place, { hours: 3 }]\n      - step: turn\n        ask: { en: Turn, pl: Obrót }\n        choice: { a: A, b: B }\n        gate: turn == \"a\"\n";

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_good_file_with_some_of_it_changed(edits in proptest::collection::vec((any::<prop::sample::Index>(), "[ -~\n°{}\\[\\]:\"|>]{0,6}", 0usize..9), 1..4)) {
        let mut text: Vec<char> = with_steps(SEED).chars().collect();
        for (at, put, cut) in edits {
            let at = at.index(text.len());
            let end = (at + cut).min(text.len());
            text.splice(at..end, put.chars());
        }
        let text: String = text.into_iter().collect();
        let r = Checklist::read_with("f", text.as_bytes(), &SMALL);
        prop_assert_eq!(r.checklist.is_none(), crate::finding::any_error(&r.findings));
    }

    #[test]
    fn any_bytes_in_a_gate(gate in "[ -~°\u{e9}\n]{0,60}") {
        let steps = format!("      - step: a\n        ask: A\n        confirm: true\n        gate: |\n          {}\n", gate.replace('\n', "\n          "));
        let _ = Checklist::read_with("f", with_steps(&steps).as_bytes(), &SMALL);
    }
}
