//! What an open condition had to spare: how far each quantity was from its limit.
//!
//! Only ordered comparisons of single quantities are told; a choice, a date or a temperature has no share of a
//! limit that could be compared with others. What is left is rounded down: it is never shown larger than it is.

use super::super::Margin;
use super::super::tree::{Compare, Kind, Node};
use super::explain::turned;
use super::{Facts, Got, Judge};
use crate::tongue::say;
use crate::units::{Dimension, Quantity, Rounding};
use num_traits::{Signed, Zero};

/// The margins of a condition that is open.
pub(in super::super) fn margins(node: &Node, source: &str, facts: &dyn Facts) -> Vec<Margin> {
    let judge = Judge { source, facts, item: Vec::new(), spoken: true, labels: None };
    let mut out = Vec::new();
    judge.gather(node, &mut out);
    out
}

impl Judge<'_> {
    fn gather(&self, node: &Node, out: &mut Vec<Margin>) {
        // Of an `or` nobody can say which way held it open; all else is no limit.
        if let Kind::And(all) = &node.kind {
            all.iter().for_each(|one| self.gather(one, out));
        } else if let Kind::Compare(compare, left, right) = &node.kind {
            out.extend(self.margin(*compare, left, right));
        } else if let Kind::Between(what, low, high) = &node.kind {
            out.extend(self.margin(Compare::AtLeast, what, low));
            out.extend(self.margin(Compare::AtMost, what, high));
        }
    }

    fn margin(&self, compare: Compare, left: &Node, right: &Node) -> Option<Margin> {
        let (l, r) = (self.value(left).ok()?, self.value(right).ok()?);
        let (compare, node, got, limit, bound) = turned(compare, left, &l, right, &r);
        let (Got::Range(g), Got::Range(b)) = (got, bound) else { return None };
        let (have, limits) = (g.single()?, b.single()?);
        if have.dimension != limits.dimension || have.dimension == Dimension::Temperature {
            return None;
        }
        let spare = match compare {
            Compare::AtLeast | Compare::More => &have.value - &limits.value,
            Compare::AtMost | Compare::Less => &limits.value - &have.value,
            Compare::Same | Compare::Differs => return None,
        };
        if limits.value.is_zero() || spare.is_negative() {
            return None;
        }
        let share = &spare / limits.value.abs();
        let unit = self.unit_of(node).or_else(|| self.unit_of(limit));
        let subject = self.subject(node, got, unit);
        let wanted = self.wanted(compare, node, limit, bound, subject.unit);
        let left_over = if spare.is_zero() {
            say!("nothing").to_owned()
        } else {
            Quantity { value: spare, dimension: have.dimension }.words(subject.unit, Rounding::Down)
        };
        let bare = say!("{said}, wanted {wanted}", said = subject.said, wanted);
        let words =
            say!("{said}, wanted {wanted}: {left_over} to spare", said = subject.said, wanted, left_over);
        Some(Margin { share, words, bare })
    }
}
