//! The texts that were in force: checklists, sets, sites, limits, rosters, each version with its line, and what in it is
//! other than in the version before.
//!
//! Always: the texts of the register, line by line; a line that was moved is one taken out and one put in. Of very many
//! lines the first are told, and how many more there are. Not here: whether a text is good (`lint`), who may put one in
//! force (`audit`).

use super::{At, Input};
use crate::audit::numbered;
use crate::record::line::{Line, hash};
use serde::Serialize;
use std::collections::BTreeMap;

/// One version of a text.
#[derive(Clone, Debug, Serialize)]
pub struct Version {
    /// `form` `set` `site` `limits` `roster`.
    pub what: String,
    /// Its id; of a roster, none.
    pub id: String,
    /// The line that puts it in force.
    pub at: At,
    /// Who signed it; of a roster, whoever is in its line.
    pub by: String,
    /// SHA-256.
    pub hash: String,
    /// Revision, of a checklist.
    pub revision: Option<u64>,
    /// So many lines of text.
    pub lines: usize,
    /// What is other than in the version before; `None` of a first one.
    pub differs: Option<Differs>,
}

/// Beside the version before.
#[derive(Clone, Debug, Serialize)]
pub struct Differs {
    /// The line that put that one in force.
    pub before: At,
    /// Lines of text put in.
    pub put_in: usize,
    /// Lines of text taken out.
    pub taken_out: usize,
    /// The first of them, in the order of the text.
    pub changes: Vec<Change>,
    /// So many more.
    pub more: usize,
}

/// A line of text that only one of two versions has.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// `+` put in, `-` taken out.
    pub mark: char,
    /// Its number in its own version, from 1.
    pub number: usize,
    /// The line.
    pub words: String,
}

/// So many changed lines are told.
const TOLD: usize = 300;
/// Two parts that differ in so many pairs of lines are told as one taken out and one put in.
const PAIRS: usize = 1_000_000;

/// Every text that a line puts in force, in the order of the lines.
pub fn of(input: &Input<'_>) -> Vec<Version> {
    let mut last: BTreeMap<(String, String), (At, &str)> = BTreeMap::new();
    let mut out = Vec::new();
    for (place, l) in numbered(&input.verified.lines) {
        let Some((what, id, text)) = text_of(l) else { continue };
        let at = At::new(place, &l.time, &l.zone);
        let key = (what.to_owned(), id.to_owned());
        let before = last.insert(key, (at.clone(), text));
        // A later volume carries on with the roster that was in force.
        if l.kind.name == "enrol" && before.as_ref().is_some_and(|(_, old)| *old == text) {
            continue;
        }
        out.push(Version {
            what: what.to_owned(),
            id: id.to_owned(),
            at,
            by: l.act.as_ref().map_or_else(String::new, |a| a.by.clone()),
            hash: hash(text.as_bytes()),
            revision: l.data.int("revision"),
            lines: text.lines().count(),
            differs: before.map(|(at, old)| differs(at, old, text)),
        });
    }
    out
}

/// Of a line that puts a text in force: what, its id, the text.
fn text_of(l: &Line) -> Option<(&str, &str, &str)> {
    let data = &l.data;
    match l.kind.name {
        "enrol" => Some(("roster", "", data.get("roster")?.text("text")?)),
        "roster" => Some(("roster", "", data.text("text")?)),
        "site" => Some((data.text("what")?, data.text("site")?, data.text("text")?)),
        "form" | "set" => Some((l.kind.name, data.text(l.kind.name)?, data.text("text")?)),
        _ => None,
    }
}

fn differs(before: At, old: &str, new: &str) -> Differs {
    let mut changes = changes(&old.lines().collect::<Vec<_>>(), &new.lines().collect::<Vec<_>>());
    let put_in = changes.iter().filter(|c| c.mark == '+').count();
    let taken_out = changes.len() - put_in;
    let more = changes.len().saturating_sub(TOLD);
    changes.truncate(TOLD);
    Differs { before, put_in, taken_out, changes, more }
}

/// Lines that only one of them has, by their longest common sequence.
fn changes(old: &[&str], new: &[&str]) -> Vec<Change> {
    let same = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let (a, b) = (old.get(same..).unwrap_or_default(), new.get(same..).unwrap_or_default());
    let tail = a.iter().rev().zip(b.iter().rev()).take_while(|(x, y)| x == y).count();
    let a = a.get(..a.len() - tail).unwrap_or_default();
    let b = b.get(..b.len() - tail).unwrap_or_default();
    let change = |mark, at: usize, words: &str| Change {
        mark,
        number: same + at + 1,
        words: crate::text::safe_line(words).into_owned(),
    };
    let (wide, high) = (b.len() + 1, a.len() + 1);
    let mut out = Vec::new();
    if wide.saturating_mul(high) > PAIRS {
        out.extend(a.iter().enumerate().map(|(i, w)| change('-', i, w)));
        out.extend(b.iter().enumerate().map(|(i, w)| change('+', i, w)));
        return out;
    }
    // From each pair on: how many lines can be kept.
    let mut kept = vec![0_u32; wide * high];
    let at = |i: usize, j: usize| i * wide + j;
    for (i, x) in a.iter().enumerate().rev() {
        for (j, y) in b.iter().enumerate().rev() {
            let of = |n: usize| kept.get(n).copied().unwrap_or_default();
            let best = if x == y { of(at(i + 1, j + 1)) + 1 } else { of(at(i + 1, j)).max(of(at(i, j + 1))) };
            if let Some(here) = kept.get_mut(at(i, j)) {
                *here = best;
            }
        }
    }
    let (mut i, mut j) = (0, 0);
    loop {
        let of = |i: usize, j: usize| kept.get(at(i, j)).copied().unwrap_or_default();
        match (a.get(i), b.get(j)) {
            (Some(x), Some(y)) if x == y => (i, j) = (i + 1, j + 1),
            (Some(x), Some(_)) if of(i + 1, j) >= of(i, j + 1) => {
                out.push(change('-', i, x));
                i += 1;
            }
            (Some(x), None) => {
                out.push(change('-', i, x));
                i += 1;
            }
            (_, Some(y)) => {
                out.push(change('+', j, y));
                j += 1;
            }
            (None, None) => return out,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Change, changes};

    fn told(old: &str, new: &str) -> Vec<String> {
        let all = changes(&old.lines().collect::<Vec<_>>(), &new.lines().collect::<Vec<_>>());
        all.into_iter().map(|Change { mark, number, words }| format!("{mark}{number} {words}")).collect()
    }

    #[test]
    fn only_what_differs_is_told_with_the_lines_of_each() {
        assert_eq!(told("a\nb\nc", "a\nb\nc"), Vec::<String>::new());
        assert_eq!(told("a\nb\nc", "a\nx\nc"), ["-2 b", "+2 x"]);
        assert_eq!(told("a\nb\nc\nd", "a\nc\nd\ne"), ["-2 b", "+4 e"]);
        assert_eq!(told("", "a"), ["+1 a"]);
        assert_eq!(told("a\na\nb", "a\nb"), ["-2 a"]);
    }

    /// Peer: taken out of the one and put in, it is the other.
    #[test]
    fn the_changes_make_the_one_text_of_the_other() {
        let mut seed = 3_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as usize
        };
        for _ in 0..300 {
            let mut text = |n: usize| -> Vec<&str> { (0..n).map(|_| ["a", "b", "c"][next() % 3]).collect() };
            let (old, new) = (text(9), text(8));
            let all = changes(&old, &new);
            let mut made = old.clone();
            for c in all.iter().rev().filter(|c| c.mark == '-') {
                assert_eq!(made.remove(c.number - 1), c.words);
            }
            for c in all.iter().filter(|c| c.mark == '+') {
                made.insert(c.number - 1, new[c.number - 1]);
            }
            assert_eq!(made, new, "{old:?} {all:?}");
        }
    }
}
