//! Exact values that may be known only to lie between two ends: what a reading below an
//! instrument's lowest mark is.
//!
//! Always: every value that the parts may have is inside the result; so a comparison that holds
//! for the whole range holds for the value. A range is never narrower than the truth; where one
//! name stands twice in an expression it may be wider, and then the answer is unknown, never open.

use crate::units::{Dimension, Quantity};
use num_rational::BigRational;
use num_traits::{Signed, Zero};
use std::cmp::Ordering;

/// One end of a range.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct End {
    pub value: BigRational,
    /// The value itself is not in the range.
    pub open: bool,
}

/// All values between two ends, of one dimension. A known value has equal, closed ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub low: End,
    pub high: End,
    pub dimension: Dimension,
}

impl Range {
    pub(super) fn point(quantity: Quantity) -> Range {
        let end = End { value: quantity.value, open: false };
        Range { low: end.clone(), high: end, dimension: quantity.dimension }
    }

    /// From `from` up to and without `mark`; `None` if nothing lies there.
    pub(super) fn below(from: Quantity, mark: Quantity) -> Option<Range> {
        (from.dimension == mark.dimension && from.value < mark.value).then_some(Range {
            low: End { value: from.value, open: false },
            high: End { value: mark.value, open: true },
            dimension: from.dimension,
        })
    }

    /// From one end to the other, both included.
    pub(super) fn closed(low: BigRational, high: BigRational, dimension: Dimension) -> Range {
        Range { low: End { value: low, open: false }, high: End { value: high, open: false }, dimension }
    }

    /// Its lower end, whether or not it is reached.
    pub(super) fn low_end(&self) -> Quantity {
        Quantity { value: self.low.value.clone(), dimension: self.dimension }
    }

    /// Its upper end, whether or not it is reached.
    pub(super) fn high_end(&self) -> Quantity {
        Quantity { value: self.high.value.clone(), dimension: self.dimension }
    }

    /// The one value, if it is one.
    pub(super) fn single(&self) -> Option<Quantity> {
        (self.low == self.high && !self.low.open)
            .then(|| Quantity { value: self.low.value.clone(), dimension: self.dimension })
    }

    pub(super) fn plus(&self, other: &Range, dimension: Dimension) -> Range {
        let end = |a: &End, b: &End| End { value: &a.value + &b.value, open: a.open || b.open };
        Range { low: end(&self.low, &other.low), high: end(&self.high, &other.high), dimension }
    }

    pub(super) fn minus(&self, other: &Range, dimension: Dimension) -> Range {
        self.plus(&other.negative(), dimension)
    }

    pub(super) fn negative(&self) -> Range {
        let end = |e: &End| End { value: -&e.value, open: e.open };
        Range { low: end(&self.high), high: end(&self.low), dimension: self.dimension }
    }

    pub(super) fn times(&self, other: &Range, dimension: Dimension) -> Range {
        let corner = |a: &End, b: &End| End {
            value: &a.value * &b.value,
            // Nought times anything is nought, whether or not the other end is reached.
            open: (a.open && !closed_nought(b)) || (b.open && !closed_nought(a)),
        };
        let first = corner(&self.low, &other.low);
        let mut range = Range { low: first.clone(), high: first, dimension };
        for end in
            [corner(&self.low, &other.high), corner(&self.high, &other.low), corner(&self.high, &other.high)]
        {
            range = range.reaching(&end);
        }
        range
    }

    /// `None` if the divisor may be nought.
    pub(super) fn over(&self, other: &Range, dimension: Dimension) -> Option<Range> {
        if !other.low.value.is_positive() && !other.high.value.is_negative() {
            return None;
        }
        let end = |e: &End| End { value: e.value.recip(), open: e.open };
        let inverse = Range { low: end(&other.high), high: end(&other.low), dimension: other.dimension };
        Some(self.times(&inverse, dimension))
    }

    /// The least (or most) of two: by its ends.
    pub(super) fn extreme(&self, other: &Range, most: bool) -> Range {
        let pick = |a: &End, b: &End| {
            let wanted = if most { Ordering::Greater } else { Ordering::Less };
            match a.value.cmp(&b.value) {
                Ordering::Equal => End { value: a.value.clone(), open: a.open && b.open },
                order if order == wanted => a.clone(),
                Ordering::Less | Ordering::Greater => b.clone(),
            }
        };
        Range {
            low: pick(&self.low, &other.low),
            high: pick(&self.high, &other.high),
            dimension: self.dimension,
        }
    }

    /// Stretched to this end.
    fn reaching(mut self, end: &End) -> Range {
        match end.value.cmp(&self.low.value) {
            Ordering::Less => self.low = end.clone(),
            Ordering::Equal => self.low.open &= end.open,
            Ordering::Greater => {}
        }
        match end.value.cmp(&self.high.value) {
            Ordering::Greater => self.high = end.clone(),
            Ordering::Equal => self.high.open &= end.open,
            Ordering::Less => {}
        }
        self
    }

    /// Whether every value here is below every value there: `Some(false)` if none is, `None` if it depends.
    pub(super) fn less(&self, other: &Range) -> Option<bool> {
        let touching = self.high.open || other.low.open;
        if self.high.value < other.low.value || (self.high.value == other.low.value && touching) {
            Some(true)
        } else if self.low.value >= other.high.value {
            Some(false)
        } else {
            None
        }
    }

    /// Whether the values are equal, whichever they are.
    pub(super) fn same(&self, other: &Range) -> Option<bool> {
        match (self.single(), other.single()) {
            (Some(a), Some(b)) => Some(a == b),
            (Some(_) | None, Some(_) | None) => {
                (self.less(other) == Some(true) || other.less(self) == Some(true)).then_some(false)
            }
        }
    }
}

fn closed_nought(end: &End) -> bool {
    end.value.is_zero() && !end.open
}
