//! Copies of one register held beside it: how they compare, where they part, and for which of them something outside speaks.
//!
//! Always: no rule chooses between two copies that both check; both lines are shown. Not here: how lines compare
//! (`audit::compare`), two registers (`across`).

use super::{At, lines};
use crate::audit::anchors::{Anchored, Held};
use crate::audit::compare::{Against, Compared, Side, against, in_words};
use crate::audit::numbered;
use crate::record::json::Json;
use crate::record::kinds::is_hex;
use crate::record::line::Line;
use crate::replay::{Class, Replayed};
use crate::time::is_time;
use crate::tongue::say;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::HashSet;

/// A copy of a register, and how it stands to it.
#[derive(Clone, Debug, Serialize)]
pub struct Copy {
    /// What the auditor called it.
    pub name: String,
    /// How they compare.
    pub compared: Against,
    /// In words.
    pub words: String,
    /// The two lines at which they part.
    pub parted: Vec<lines::Row>,
    /// Of one that goes on otherwise, judged by itself: lines that contradict the rules, and what is not told of.
    pub judged: Option<(usize, usize)>,
}

impl Copy {
    /// Compares lines of a copy with those of the register: all of both check.
    pub fn of(name: &str, first: &[Line], second: &[Line]) -> Copy {
        let compared = crate::audit::compare::compare(first, second);
        Copy::held(
            name,
            first,
            second,
            Against { compared, here: None, there: None, missing_there: 0, missing_here: 0 },
        )
    }

    /// With what stands outside for one of the two from where they part: no rule chooses between them, but a paper may.
    #[must_use]
    pub fn spoken_for(mut self, anchored: &Anchored, there: &[Line]) -> Copy {
        let Compared::Forked { first, second, .. } = &self.compared.compared else { return self };
        let (first, second) = (*first, *second);
        let of_other: HashSet<&str> =
            numbered(there).filter(|(at, _)| *at >= second).map(|(_, l)| l.hash.as_str()).collect();
        let speaks = |h: &&Held| h.anchor.speaks();
        let here = anchored.upto.filter(|upto| *upto >= first);
        let other = anchored.held.iter().filter(speaks).find(|h| of_other.contains(h.anchor.hash.as_str()));
        let words = match (here, other) {
            (None, None) => return self,
            (Some(line), None) => say!(
                "what stands outside speaks for this copy past the line where they part, up to line {line}, and for no line of \
                 the other one from there",
                line
            ),
            (None, Some(h)) => say!(
                "WHAT STANDS OUTSIDE SPEAKS FOR THE OTHER COPY past the line where they part ({from}), and for no line of this \
                 one from there",
                from = h.anchor.from
            ),
            (Some(_), Some(_)) => say!(
                "what stands outside speaks for both of them past the line where they part: both were seen elsewhere"
            )
            .to_owned(),
        };
        self.words = format!("{}\n{words}", self.words);
        self
    }

    /// Compares a copy with the register, both read to their ends.
    pub fn read(name: &str, first: &Side<'_>, second: &Side<'_>) -> Copy {
        Copy::held(name, first.lines(), second.lines(), against(first, second))
    }

    fn held(name: &str, first: &[Line], second: &[Line], compared: Against) -> Copy {
        let row = |all: &[Line], at: LineNo| {
            let line = numbered(all).find(|(place, _)| *place == at)?.1;
            Some(lines::row(At::new(at, &line.time, &line.zone), line))
        };
        let mut words = format!("{name}: {}", in_words(&compared).trim_end());
        let parted = match &compared.compared {
            Compared::Forked { first: a, second: b, .. } => {
                let mut at = vec![(*a, *b)];
                if let Some((c, d)) = otherwise(first, second, (*a, *b)).filter(|pair| *pair != (*a, *b)) {
                    words += "\n";
                    words += &say!(
                        "the first that say different things are line {here} here and line {there} in the other copy",
                        here = c,
                        there = d
                    );
                    at.push((c, d));
                }
                at.into_iter().flat_map(|(a, b)| [row(first, a), row(second, b)]).flatten().collect()
            }
            Compared::Same
            | Compared::FirstLonger { .. }
            | Compared::SecondLonger { .. }
            | Compared::Broken { .. }
            | Compared::Apart { .. } => Vec::new(),
        };
        Copy { name: name.to_owned(), words, compared, parted, judged: None }
    }

    /// With what replay made of it by itself: which of two histories is true no rule says, but each may be judged.
    #[must_use]
    pub fn judged(mut self, replayed: &Replayed) -> Copy {
        let (against, gaps) = (replayed.of(Class::Contradicts).count(), replayed.of(Class::Gap).count());
        let first = replayed.findings.iter().find(|f| matches!(f.class, Class::Contradicts | Class::Gap));
        let at = first.map_or_else(String::new, |f| say!(", the first at line {line}", line = f.line));
        self.words += "\n";
        self.words += &say!(
            "judged by itself: lines that contradict the rules: {against}; not told of: {gaps}{at}",
            against,
            gaps,
            at
        );
        self.judged = Some((against, gaps));
        self
    }

    /// They go on in two ways.
    pub fn forked(&self) -> bool {
        self.compared.is_another_history()
    }

    /// The copy does not check.
    pub fn broken(&self) -> bool {
        self.compared.there.is_some()
    }

    /// The copy goes on where the register ends.
    pub fn goes_on(&self) -> bool {
        matches!(self.compared.compared, Compared::SecondLonger { .. })
    }
}

/// From where two copies part: the first two lines in the same place that say different things, and not only at another time.
fn otherwise(first: &[Line], second: &[Line], parted: (LineNo, LineNo)) -> Option<(LineNo, LineNo)> {
    let ours = numbered(first).skip_while(|(at, _)| *at != parted.0);
    let theirs = numbered(second).skip_while(|(at, _)| *at != parted.1);
    let says = |l: &Line| (l.kind.name, l.permit.clone(), l.by.clone());
    let alike = |a: &Line, b: &Line| says(a) == says(b) && same(&a.data, &b.data);
    ours.zip(theirs).find(|((_, a), (_, b))| !alike(a, b)).map(|((at, _), (there, _))| (at, there))
}

/// The same, but for times, and for what hangs on the hash of a line before: hashes and tokens.
fn same(a: &Json, b: &Json) -> bool {
    match (a, b) {
        (Json::Str(a), Json::Str(b)) => {
            let both = |is: fn(&str) -> bool| is(a) && is(b);
            a == b || both(|s| is_hex(s, 64)) || both(is_time) || both(|s| s.starts_with("AW1."))
        }
        (Json::Arr(a), Json::Arr(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b)),
        (Json::Obj(a), Json::Obj(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|((n, a), (m, b))| n == m && same(a, b))
        }
        (a, b) => a == b,
    }
}
