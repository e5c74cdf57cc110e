//! Two copies of one history held against each other: the same, one longer, or forked.
//!
//! In: lines that check, of both. Always: no rule chooses between two lines that stand in the same place;
//! both are named. A register's own bytes cannot show that a tail was cut off and the machine set back;
//! only another copy can.

use crate::record::line::Line;
use crate::tongue::{say, say_n};
use crate::view::LineNo;
use serde::Serialize;
use std::collections::{BTreeSet, HashMap};

/// How the second copy stands to the first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "copies")]
pub enum Compared {
    /// They end in the same line.
    Same,
    /// The first goes on after the last line of the second.
    FirstLonger {
        /// By so many lines.
        by: usize,
    },
    /// The second goes on after the last line of the first: the first is an older copy, or was cut off.
    SecondLonger {
        /// By so many lines.
        by: usize,
    },
    /// After lines they share, each goes on in its own way.
    Forked {
        /// The first line of the first copy that is not in the second.
        first: LineNo,
        /// Its H.
        first_hash: String,
        /// The first line of the second copy that is not in the first.
        second: LineNo,
        /// Its H.
        second_hash: String,
    },
    /// They share no line: two registers.
    Apart {
        /// Sets on which both opened permits: who is on air by the one is not on the other's tally.
        sets: Vec<String>,
    },
}

/// Compares two copies, or a copy and an excerpt; both as far as they check.
pub fn compare(first: &[Line], second: &[Line]) -> Compared {
    let ours: HashMap<&str, usize> = first.iter().enumerate().map(|(i, l)| (l.hash.as_str(), i)).collect();
    let theirs: HashMap<(&str, u64), usize> =
        second.iter().enumerate().map(|(i, l)| ((l.log.as_str(), l.seq), i)).collect();
    let numbers = |lines: &[Line]| super::numbered(lines).map(|(at, _)| at).collect::<Vec<_>>();
    let forked = |i: usize, j: usize| -> Option<Compared> {
        let (a, b) = (first.get(i)?, second.get(j)?);
        Some(Compared::Forked {
            first: *numbers(first).get(i)?,
            first_hash: a.hash.to_string(),
            second: *numbers(second).get(j)?,
            second_hash: b.hash.to_string(),
        })
    };
    // Same place, two texts.
    for (i, line) in first.iter().enumerate() {
        if let Some(j) = theirs.get(&(line.log.as_str(), line.seq))
            && second.get(*j).is_some_and(|l| l.hash != line.hash)
            && let Some(forked) = forked(i, *j)
        {
            return forked;
        }
    }
    let Some((j, i)) =
        second.iter().enumerate().rev().find_map(|(j, l)| ours.get(l.hash.as_str()).map(|i| (j, *i)))
    else {
        return apart(first, second);
    };
    // What stands after the last line they share; two next volumes may both go on from it.
    match (first.len() - 1 - i, second.len() - 1 - j) {
        (0, 0) => Compared::Same,
        (by, 0) => Compared::FirstLonger { by },
        (0, by) => Compared::SecondLonger { by },
        _ => forked(i + 1, j + 1).unwrap_or_else(|| apart(first, second)),
    }
}

fn apart(first: &[Line], second: &[Line]) -> Compared {
    let sets = |lines: &[Line]| -> BTreeSet<String> {
        let open = lines.iter().filter(|l| l.kind.name == "open");
        open.filter_map(|l| l.data.get("set")?.text("id").map(str::to_owned)).collect()
    };
    Compared::Apart { sets: sets(first).intersection(&sets(second)).cloned().collect() }
}

/// In words.
pub fn words(compared: &Compared) -> String {
    match compared {
        Compared::Same => format!("{}\n", say!("both copies end in the same line")),
        Compared::FirstLonger { by } => {
            say_n!(
                *by,
                "the other copy is older: {n} line come after its last",
                "the other copy is older: {n} lines come after its last"
            ) + "\n"
        }
        Compared::SecondLonger { by } => {
            say_n!(
                *by,
                "THE OTHER COPY GOES ON: {n} line come after the last one here. This copy is older, or its end was \
                 cut off",
                "THE OTHER COPY GOES ON: {n} lines come after the last one here. This copy is older, or its end was \
                 cut off"
            ) + "\n"
        }
        Compared::Forked { first, first_hash, second, second_hash } => {
            say!(
                "FORKED: after lines that both copies share, here stands line {first}, {first_hash}, and in the other \
                 copy line {second}, {second_hash}. Both check; somebody went on from an earlier point. Nothing tells \
                 which one is true",
                first,
                first_hash,
                second,
                second_hash
            ) + "\n"
        }
        Compared::Apart { sets } => {
            let mut s =
                format!("{}\n", say!("the other one shares no line with this one: it is another register"));
            for set in sets {
                s += &(say!(
                    "BOTH REGISTERS KEEP THE SET {set}: who is on air by the one is not on the tally of the other",
                    set
                ) + "\n");
            }
            s
        }
    }
}
