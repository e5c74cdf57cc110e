//! Two registers: what both say of one set or of one person.
//!
//! Always: times are those of each register's own clock. Not here: copies of one register (`copies`).

use super::{At, Input, tally};
use crate::audit::compare::{self, Kin, kin, overlap};
use crate::audit::numbered;
use crate::record::line::Line;
use crate::tongue::say;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::BTreeMap;

/// Something that two registers say of one set or person.
#[derive(Clone, Debug, Serialize)]
pub struct Shared {
    /// `set`, `handed_on`, `permits`, `person`, `volumes`.
    pub what: &'static str,
    /// Whether it may not be so.
    pub against: bool,
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
    let mut sets: BTreeMap<&str, String> = std::collections::BTreeMap::new();
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

/// Since when a register keeps a set, from the first line that tells of it to the one that releases it.
struct Keeps {
    from: At,
    released: Option<At>,
}

/// By set. A text alone keeps none.
fn kept(all: &[Line]) -> BTreeMap<String, Vec<Keeps>> {
    let at = |(place, l): (LineNo, &Line)| At::new(place, &l.time, &l.zone);
    let one = |k: compare::Keeps<'_>| Keeps { from: at(k.from), released: k.released.map(at) };
    let all = compare::kept(all).into_iter();
    all.map(|(set, times)| (set, times.into_iter().map(one).collect())).collect()
}

/// What of several registers does not go together.
pub fn shared(inputs: &[Input<'_>]) -> Vec<Shared> {
    let mut out = Vec::new();
    let all: Vec<Kept> = inputs
        .iter()
        .map(|i| {
            let lines = &i.verified.lines;
            let station = |i: &Input<'_>| i.verified.report.station.clone().unwrap_or_default();
            let alike = inputs.iter().filter(|o| station(o) == station(i)).count() > 1;
            let name = if alike { format!("{} ({})", station(i), i.name) } else { station(i) };
            Kept { name, work: work(lines), kept: kept(lines), tally: tally::of(lines) }
        })
        .collect();
    for ((n, a), of_a) in all.iter().enumerate().zip(inputs) {
        for (b, of_b) in all.iter().zip(inputs).skip(n + 1) {
            // One history: what a set and people do in the one goes on in the other.
            if matches!(kin(&of_a.verified.lines, &of_b.verified.lines), Kin::Before | Kin::After) {
                out.push(Shared {
                    what: "volumes",
                    against: false,
                    words: say!(
                        "{a} and {b} are volumes of one register, judged apart here: give the folder that holds both",
                        a = a.name,
                        b = b.name
                    ),
                    lines: Vec::new(),
                });
                continue;
            }
            sets(&mut out, a, b);
            permits(&mut out, (&a.name, &a.work), (&b.name, &b.work));
            people(&mut out, (&a.name, &a.tally), (&b.name, &b.tally));
        }
    }
    // What may not be so first.
    out.sort_by_key(|s| !s.against);
    out
}

/// What one register tells that another one may tell too.
struct Kept {
    name: String,
    work: Vec<Work>,
    kept: BTreeMap<String, Vec<Keeps>>,
    tally: tally::Tally,
}

fn sets(out: &mut Vec<Shared>, a: &Kept, b: &Kept) {
    for (set, of_a) in &a.kept {
        let of_b = b.kept.get(set).map(Vec::as_slice).unwrap_or_default();
        let pairs = || of_a.iter().flat_map(|x| of_b.iter().map(move |y| (x, y)));
        let to = |k: &Keeps| k.released.as_ref().map(|r| r.utc.clone());
        let both = |(x, y): &(&Keeps, &Keeps)| {
            overlap((&x.from.utc, to(x).as_deref()), (&y.from.utc, to(y).as_deref()))
        };
        if let Some((x, y)) = pairs().find(both) {
            out.push(Shared {
                what: "set",
                against: true,
                words: say!(
                    "BOTH {a} AND {b} USE THE SET {set} AT ONE TIME, and neither had released it: who is on air by the one is \
                     not on the tally of the other",
                    a = a.name,
                    b = b.name,
                    set
                ),
                lines: vec![(a.name.clone(), x.from.clone()), (b.name.clone(), y.from.clone())],
            });
            continue;
        }
        for (x, y) in pairs() {
            let (one, next, x, y) = if x.from.utc <= y.from.utc { (a, b, x, y) } else { (b, a, y, x) };
            let Some(released) = &x.released else { continue };
            out.push(Shared {
                what: "handed_on",
                against: false,
                words: say!(
                    "the set {set} was released by {one} and used by {next} after that",
                    set,
                    one = one.name,
                    next = next.name
                ),
                lines: vec![(one.name.clone(), released.clone()), (next.name.clone(), y.from.clone())],
            });
        }
    }
}

fn permits(out: &mut Vec<Shared>, (a, of_a): (&str, &[Work]), (b, of_b): (&str, &[Work])) {
    for x in of_a {
        for y in of_b.iter().filter(|w| w.set == x.set) {
            if overlap((&x.from.utc, x.to.as_deref()), (&y.from.utc, y.to.as_deref())) {
                out.push(Shared {
                    what: "permits",
                    against: true,
                    words: say!(
                        "{one} of {a} and {other} of {b} overlap on the set {set}: neither counted the people of \
                         the other", one = x.number, a, other = y.number, b, set = x.set),
                    lines: vec![(a.to_owned(), x.from.clone()), (b.to_owned(), y.from.clone())],
                });
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
                    against: true,
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
