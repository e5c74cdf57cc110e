//! Parts of a condition that cannot hold together, whatever the values: `x >= 8 bar and x < 8 bar`,
//! `x == "a" and x == "b"`, `d <= today and d > today + 3 days`.
//!
//! Always: only what is proved is said; the same tree has the same value wherever it stands in one
//! condition. Not here: ranges of instruments and fields (`possible`).

use super::Type;
use super::tree::{Arithmetic, Compare, Kind, Node};
use jiff::civil::Date;

/// A part that must hold.
#[derive(Clone, Copy, Debug)]
pub(super) enum Atom<'n> {
    /// The comparison.
    Compare(Compare, &'n Node, &'n Node),
    /// The node is true, or is not.
    Truth(&'n Node, bool),
}

/// The parts that all hold where this comes out as said.
pub(super) fn atoms<'n>(node: &'n Node, open: bool, out: &mut Vec<Atom<'n>>) {
    match (&node.kind, open) {
        (Kind::Not(inner), _) => atoms(inner, !open, out),
        (Kind::And(all), true) | (Kind::Or(all), false) => all.iter().for_each(|n| atoms(n, open, out)),
        (Kind::Compare(compare, left, right), _) => {
            out.push(Atom::Compare(if open { *compare } else { compare.opposite() }, left, right));
        }
        (Kind::Between(what, low, high), true) => {
            out.push(Atom::Compare(Compare::AtLeast, what, low));
            out.push(Atom::Compare(Compare::AtMost, what, high));
        }
        (
            Kind::Bool(_)
            | Kind::Quantity(_)
            | Kind::Date(_)
            | Kind::Span(..)
            | Kind::Id(_)
            | Kind::Name(_)
            | Kind::And(_)
            | Kind::Or(_)
            | Kind::Between(..)
            | Kind::Negate(_)
            | Kind::Arithmetic(..)
            | Kind::Call(..)
            | Kind::Wrong(_),
            _,
        ) => out.push(Atom::Truth(node, open)),
    }
}

/// True if these cannot all hold.
pub(super) fn clash(atoms: &[Atom<'_>]) -> bool {
    truths(atoms) || relations(atoms) || choices(atoms) || dates(atoms)
}

fn truths(atoms: &[Atom<'_>]) -> bool {
    atoms.iter().any(|a| {
        let Atom::Truth(node, true) = a else { return false };
        atoms.iter().any(|b| matches!(b, Atom::Truth(other, false) if other == node))
    })
}

/// Less, equal, more: which of the three a comparison allows.
const fn allows(compare: Compare) -> [bool; 3] {
    match compare {
        Compare::Less => [true, false, false],
        Compare::AtMost => [true, true, false],
        Compare::More => [false, false, true],
        Compare::AtLeast => [false, true, true],
        Compare::Same => [false, true, false],
        Compare::Differs => [true, false, true],
    }
}

/// The same two sides, compared so that nothing is left.
fn relations(atoms: &[Atom<'_>]) -> bool {
    atoms.iter().any(|a| {
        let Atom::Compare(_, left, right) = a else { return false };
        let mut left_over = [!(left == right), true, !(left == right)];
        for b in atoms {
            let Atom::Compare(compare, l, r) = b else { continue };
            let allowed = if l == left && r == right {
                allows(*compare)
            } else if l == right && r == left {
                allows(compare.turned())
            } else {
                continue;
            };
            for (have, may) in left_over.iter_mut().zip(allowed) {
                *have &= may;
            }
        }
        left_over == [false; 3]
    })
}

/// A choice that must be two things at once, or none of those offered.
fn choices(atoms: &[Atom<'_>]) -> bool {
    let named = |a: &Atom<'_>| -> Option<(Compare, String)> {
        let Atom::Compare(compare, l, r) = a else { return None };
        match (&l.kind, &r.kind) {
            (_, Kind::Id(id)) | (Kind::Id(id), _) => Some((*compare, id.clone())),
            (_, _) => None,
        }
    };
    let of = |a: &Atom<'_>, what: &Node| matches!(a, Atom::Compare(_, l, r) if *l == what || *r == what);
    atoms.iter().any(|a| {
        let Atom::Compare(_, l, r) = a else { return false };
        let what = if matches!(l.kind, Kind::Id(_)) { r } else { l };
        let Some(Type::Choice { offered, .. }) = &what.ty else { return false };
        let mine: Vec<_> = atoms.iter().filter(|b| of(b, what)).filter_map(named).collect();
        let fits = |id: &String| {
            mine.iter().all(|(compare, named)| match compare {
                Compare::Same => named == id,
                Compare::Differs => named != id,
                Compare::Less | Compare::AtMost | Compare::More | Compare::AtLeast => true,
            })
        };
        !mine.is_empty() && !offered.iter().any(fits)
    })
}

/// A date as days after something: a date that is not known, or day nought.
fn days(node: &Node) -> Option<(Option<&Node>, i64)> {
    if node.ty != Some(Type::Date) {
        return None;
    }
    let span = |n: &Node| if let Kind::Span(0, days) = n.kind { Some(i64::from(days)) } else { None };
    if let Kind::Date(d) = &node.kind {
        return Some((None, d.duration_since(Date::ZERO).as_hours() / 24));
    }
    match node.arithmetic().map(|(sign, l, r)| (sign, l, r, span(l), span(r))) {
        Some((Arithmetic::Plus, l, _, _, Some(n))) => days(l).map(|(of, at)| (of, at + n)),
        Some((Arithmetic::Plus, _, r, Some(n), None)) => days(r).map(|(of, at)| (of, at + n)),
        Some((Arithmetic::Minus, l, _, _, Some(n))) => days(l).map(|(of, at)| (of, at - n)),
        // Months have no fixed number of days: the sum stands for itself, as everything else does.
        Some(_) | None => Some((Some(node), 0)),
    }
}

/// Two dates that must be more days apart than they may be, or the other way round.
fn dates(atoms: &[Atom<'_>]) -> bool {
    // One date less another is at least, and at most.
    type Apart<'n> = (Option<&'n Node>, Option<&'n Node>, i64, i64);
    let mut all: Vec<Apart<'_>> = Vec::new();
    for a in atoms {
        let Atom::Compare(compare, l, r) = a else { continue };
        let (Some((left, a)), Some((right, b))) = (days(l), days(r)) else { continue };
        let n = b - a;
        let (least, most) = match compare {
            Compare::Less => (i64::MIN, n - 1),
            Compare::AtMost => (i64::MIN, n),
            Compare::More => (n + 1, i64::MAX),
            Compare::AtLeast => (n, i64::MAX),
            Compare::Same => (n, n),
            Compare::Differs => continue,
        };
        all.push((left, right, least, most));
        // The other way round: the ends change places and signs.
        all.push((right, left, most.saturating_neg(), least.saturating_neg()));
    }
    all.iter().any(|(left, right, ..)| {
        let same = all.iter().filter(|(l, r, ..)| l == left && r == right);
        let (least, most) = same.fold((i64::MIN, i64::MAX), |(a, b), (.., c, d)| (a.max(*c), b.min(*d)));
        least > most || left == right && !(least <= 0 && 0 <= most)
    })
}
