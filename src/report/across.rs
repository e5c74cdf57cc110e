//! Several registers and copies: what two of them say of one set or of one person, and how copies part.

use super::{At, Input, lines, tally};
use crate::audit::compare::{Against, Compared, Side, against, in_words};
use crate::audit::numbered;
use crate::record::line::Line;
use crate::replay::{Class, Replayed};
use crate::tongue::say;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeSet;

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
        Copy::held(name, first, second, Against { compared, here: None, there: None })
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
        let parted = match &compared.compared {
            Compared::Forked { first: a, second: b, .. } => {
                row(first, *a).into_iter().chain(row(second, *b)).collect()
            }
            Compared::Same
            | Compared::FirstLonger { .. }
            | Compared::SecondLonger { .. }
            | Compared::Broken { .. }
            | Compared::Apart { .. } => Vec::new(),
        };
        Copy {
            name: name.to_owned(),
            words: format!("{name}: {}", in_words(&compared).trim_end()),
            compared,
            parted,
            judged: None,
        }
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

/// Something that two registers say of one set or person.
#[derive(Clone, Debug, Serialize)]
pub struct Shared {
    /// `set`, `permits`, `person`.
    pub what: &'static str,
    /// In words.
    pub words: String,
    /// The lines, each with the station whose it is.
    pub lines: Vec<(String, At)>,
}

struct Work {
    number: String,
    set: String,
    from: At,
    to: Option<String>,
}

/// Permits that were issued, from the issue to their end.
fn work(all: &[Line]) -> Vec<Work> {
    let mut sets: std::collections::BTreeMap<&str, String> = std::collections::BTreeMap::new();
    let mut out: Vec<Work> = Vec::new();
    for (at, l) in numbered(all) {
        let Some(number) = l.permit.as_deref() else { continue };
        match l.kind.name {
            "open" => {
                let set = l.data.get("set").and_then(|s| s.text("id")).unwrap_or_default().to_owned();
                sets.insert(number, set);
            }
            "countersign" if !out.iter().any(|w| w.number == number && w.to.is_none()) => out.push(Work {
                number: number.to_owned(),
                set: sets.get(number).cloned().unwrap_or_default(),
                from: At::new(at, &l.time, &l.zone),
                to: None,
            }),
            "hand_back" | "cancel" => {
                if let Some(w) = out.iter_mut().rfind(|w| w.number == number) {
                    w.to = Some(l.time.to_string());
                }
            }
            _ => {}
        }
    }
    out
}

/// Whether two times that each run from one UTC time to another overlap; without an end they run on.
fn overlap((a, a_to): (&str, Option<&str>), (b, b_to): (&str, Option<&str>)) -> bool {
    a_to.is_none_or(|end| b < end) && b_to.is_none_or(|end| a < end)
}

/// What of several registers does not go together.
pub fn shared(inputs: &[Input<'_>]) -> Vec<Shared> {
    let mut out = Vec::new();
    let all: Vec<(String, Vec<Work>, tally::Tally)> = inputs
        .iter()
        .map(|i| {
            let lines = &i.verified.lines;
            let station = |i: &Input<'_>| i.verified.report.station.clone().unwrap_or_default();
            let alike = inputs.iter().filter(|o| station(o) == station(i)).count() > 1;
            let name = if alike { format!("{} ({})", station(i), i.name) } else { station(i) };
            (name, work(lines), tally::of(lines))
        })
        .collect();
    for (n, (a, work_a, tally_a)) in all.iter().enumerate() {
        for (b, work_b, tally_b) in all.iter().skip(n + 1) {
            sets(&mut out, (a, work_a), (b, work_b));
            people(&mut out, (a, tally_a), (b, tally_b));
        }
    }
    out
}

fn sets(out: &mut Vec<Shared>, (a, of_a): (&str, &[Work]), (b, of_b): (&str, &[Work])) {
    let ids = |w: &[Work]| -> BTreeSet<String> { w.iter().map(|w| w.set.clone()).collect() };
    for set in ids(of_a).intersection(&ids(of_b)) {
        let of = |w: &[Work], s: &str| -> Vec<(String, At)> {
            w.iter().filter(|w| w.set == *set).take(3).map(|w| (s.to_owned(), w.from.clone())).collect()
        };
        out.push(Shared {
            what: "set",
            words: say!(
                "BOTH {a} AND {b} ISSUED PERMITS ON THE SET {set}: who is on air by the one is not on the tally of \
                 the other", a, b, set),
            lines: of(of_a, a).into_iter().chain(of(of_b, b)).collect(),
        });
        for x in of_a.iter().filter(|w| w.set == *set) {
            for y in of_b.iter().filter(|w| w.set == *set) {
                if overlap((&x.from.utc, x.to.as_deref()), (&y.from.utc, y.to.as_deref())) {
                    out.push(Shared {
                        what: "permits",
                        words: say!(
                            "{one} of {a} and {other} of {b} overlap on the set {set}: neither counted the people of \
                             the other", one = x.number, a, other = y.number, b, set),
                        lines: vec![(a.to_owned(), x.from.clone()), (b.to_owned(), y.from.clone())],
                    });
                }
            }
        }
    }
}

fn people(out: &mut Vec<Shared>, (a, of_a): (&str, &tally::Tally), (b, of_b): (&str, &tally::Tally)) {
    for x in &of_a.spells {
        for y in of_b.spells.iter().filter(|y| y.person == x.person) {
            let to = |s: &tally::Spell| s.to.as_ref().map(|t| t.utc.clone());
            if overlap((&x.from.utc, to(x).as_deref()), (&y.from.utc, to(y).as_deref())) {
                out.push(Shared {
                    what: "person",
                    words: say!(
                        "{person} is on air in both {a} (from {from_a}) and {b} (from {from_b}) at one time",
                        person = crate::text::safe_line(&x.person),
                        a,
                        from_a = x.from.site,
                        b,
                        from_b = y.from.site
                    ),
                    lines: vec![(a.to_owned(), x.from.clone()), (b.to_owned(), y.from.clone())],
                });
            }
        }
    }
}
