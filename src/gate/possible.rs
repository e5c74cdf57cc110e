//! Whether a gate can open or shut at all, over the ranges its names may have: interval arithmetic
//! over the tree. Only what is proved is said; a name without a range may be anything.

use super::contradict::{self, Atom};
use super::functions::{self, Form};
use super::range::Range;
use super::tree::{Arithmetic, Compare, Kind, Node};
use super::{Expression, Gate, Name, Type};
use crate::units::{Dimension, Quantity};
use num_rational::BigRational;
use num_traits::{Signed, Zero};

/// Whether a gate can come out open or shut, over the ranges that its names may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Possible {
    /// No value opens it: proved.
    NeverOpen,
    /// Every known value opens it: proved. It can still be unknown.
    AlwaysOpen,
    /// Neither is proved.
    Either,
}

/// The least and the largest value (both included) that a name may have; `None`: not known. For
/// the name of a list, those of one item.
pub type Ranges<'a> = dyn Fn(&Name) -> Option<(Quantity, Quantity)> + 'a;

impl Gate {
    /// Whether any values within these ranges open it, or any shut it.
    pub fn possible(&self, ranges: &Ranges<'_>) -> Possible {
        let may = Outlook { ranges }.condition(self.node());
        match (may.open, may.shut) {
            (false, _) => Possible::NeverOpen,
            (true, false) => Possible::AlwaysOpen,
            (true, true) => Possible::Either,
        }
    }
}

impl Expression {
    /// The least and the largest value it may have over these ranges, where that is known.
    pub fn range(&self, ranges: &Ranges<'_>) -> Option<(Quantity, Quantity)> {
        let range = Outlook { ranges }.range(self.node())?;
        let end = |value| Quantity { value, dimension: range.dimension };
        Some((end(range.low.value), end(range.high.value)))
    }
}

#[derive(Clone, Copy)]
struct May {
    open: bool,
    shut: bool,
}

const EITHER: May = May { open: true, shut: true };

struct Outlook<'a> {
    ranges: &'a Ranges<'a>,
}

impl Outlook<'_> {
    fn condition(&self, node: &Node) -> May {
        match &node.kind {
            Kind::Bool(value) => May { open: *value, shut: !value },
            Kind::Not(inner) => {
                let may = self.condition(inner);
                May { open: may.shut, shut: may.open }
            }
            Kind::And(all) => {
                let each: Vec<May> = all.iter().map(|one| self.condition(one)).collect();
                let open = each.iter().all(|may| may.open) && !self.impossible(all, true);
                May { open, shut: each.iter().any(|may| may.shut) }
            }
            Kind::Or(all) => {
                let each: Vec<May> = all.iter().map(|one| self.condition(one)).collect();
                let shut = each.iter().all(|may| may.shut) && !self.impossible(all, false);
                May { open: each.iter().any(|may| may.open), shut }
            }
            Kind::Compare(compare, left, right) => {
                let may = self.compare(*compare, left, right);
                let one = std::slice::from_ref(node);
                May {
                    open: may.open && !self.impossible(one, true),
                    shut: may.shut && !self.impossible(one, false),
                }
            }
            Kind::Between(what, low, high) => {
                let (a, b) =
                    (self.compare(Compare::AtLeast, what, low), self.compare(Compare::AtMost, what, high));
                let open = a.open && b.open && !self.impossible(std::slice::from_ref(node), true);
                May { open, shut: a.shut || b.shut }
            }
            // Over no items both are unknown, so neither is promised beyond what one item may do.
            Kind::Call(function, arguments) if matches!(function.form, Form::All | Form::Any) => {
                arguments.first().map_or(EITHER, |condition| self.condition(condition))
            }
            Kind::Name(_)
            | Kind::Call(..)
            | Kind::Quantity(_)
            | Kind::Date(_)
            | Kind::Span(..)
            | Kind::Id(_)
            | Kind::Negate(_)
            | Kind::Arithmetic(..)
            | Kind::Wrong(_) => EITHER,
        }
    }

    fn compare(&self, compare: Compare, left: &Node, right: &Node) -> May {
        let (Some(a), Some(b)) = (self.range(left), self.range(right)) else {
            return EITHER;
        };
        let holds = match compare {
            Compare::Less => a.less(&b),
            Compare::AtLeast => a.less(&b).map(|less| !less),
            Compare::More => b.less(&a),
            Compare::AtMost => b.less(&a).map(|less| !less),
            Compare::Same => a.same(&b),
            Compare::Differs => a.same(&b).map(|same| !same),
        };
        May { open: holds != Some(false), shut: holds != Some(true) }
    }

    fn range(&self, node: &Node) -> Option<Range> {
        let Some(Type::Quantity(dimension)) = node.ty else {
            return None;
        };
        match &node.kind {
            Kind::Quantity(quantity) => Some(Range::point(quantity.clone())),
            Kind::Name(name) => self.named(name, dimension),
            Kind::Negate(inner) => self.range(inner).map(|range| range.negative()),
            Kind::Arithmetic(sign, left, right) => {
                let (a, b) = (self.range(left)?, self.range(right)?);
                match sign {
                    Arithmetic::Plus => Some(a.plus(&b, dimension)),
                    Arithmetic::Minus => Some(a.minus(&b, dimension)),
                    Arithmetic::Times => Some(a.times(&b, dimension)),
                    Arithmetic::Over => a.over(&b, dimension),
                }
            }
            Kind::Call(function, arguments) => {
                let first = arguments.first()?;
                match function.form {
                    Form::Least | Form::Most => self.named(first.name()?, dimension),
                    Form::Given => {
                        let (value, instead) =
                            (self.named(first.name()?, dimension)?, self.range(arguments.get(1)?)?);
                        let low = value.low.value.min(instead.low.value);
                        let high = value.high.value.max(instead.high.value);
                        Some(Range::closed(low, high, dimension))
                    }
                    Form::Plain { takes, work, .. } => {
                        let ranges: Option<Vec<Range>> = arguments.iter().map(|a| self.range(a)).collect();
                        let over = ranges.and_then(|ranges| functions::over(takes, work, &ranges).ok());
                        over.or_else(|| {
                            // People never stay in below the floor, however little air they need.
                            let floor = match function.name {
                                "leave_by_pressure" => self.range(arguments.get(3)?)?.low.value,
                                _ => return functions::result(function.name, dimension),
                            };
                            Some(Range::closed(floor, functions::far(), dimension))
                        })
                    }
                    Form::Count => Some(Range::closed(BigRational::zero(), functions::far(), dimension)),
                    // Of any number of items, also of none.
                    Form::Sum => {
                        let item = self.named(first.name()?, dimension)?;
                        let low = if item.low.value.is_negative() { -functions::far() } else { Zero::zero() };
                        let high =
                            if item.high.value.is_positive() { functions::far() } else { Zero::zero() };
                        Some(Range::closed(low, high, dimension))
                    }
                    Form::All | Form::Any => None,
                }
            }
            Kind::Bool(_)
            | Kind::Date(_)
            | Kind::Span(..)
            | Kind::Id(_)
            | Kind::Not(_)
            | Kind::And(_)
            | Kind::Or(_)
            | Kind::Compare(..)
            | Kind::Between(..)
            | Kind::Wrong(_) => None,
        }
    }

    fn named(&self, name: &Name, dimension: Dimension) -> Option<Range> {
        let (low, high) = (self.ranges)(name)?;
        let fits = low.dimension == dimension && high.dimension == dimension && low.value <= high.value;
        fits.then(|| Range::closed(low.value, high.value, dimension))
    }

    /// Whether nothing lets all of these come out as said at once.
    fn impossible(&self, parts: &[Node], open: bool) -> bool {
        let mut atoms = Vec::new();
        parts.iter().for_each(|p| contradict::atoms(p, open, &mut atoms));
        contradict::clash(&atoms) || self.bounds_clash(&atoms)
    }

    /// Parts that ask one name to be above a limit and below a smaller one.
    fn bounds_clash(&self, atoms: &[Atom<'_>]) -> bool {
        let mut bounds: Vec<Bound<'_>> = Vec::new();
        for atom in atoms {
            match atom {
                Atom::Compare(compare, left, right) => {
                    self.bound(&mut bounds, *compare, left, right);
                    self.bound(&mut bounds, compare.turned(), right, left);
                }
                Atom::Truth(..) => {}
            }
        }
        let clash = |lower: &Bound<'_>, upper: &Bound<'_>| {
            let gap = &upper.value - &lower.value;
            lower.name == upper.name
                && lower.below
                && !upper.below
                && (gap.is_negative() || gap.is_zero() && (lower.strict || upper.strict))
        };
        bounds.iter().any(|a| bounds.iter().any(|b| clash(a, b)))
    }

    fn bound<'n>(&self, bounds: &mut Vec<Bound<'n>>, compare: Compare, what: &'n Node, limit: &Node) {
        let (Some(name), Some(range)) = (what.name(), self.range(limit)) else {
            return;
        };
        let mut add = |value: &BigRational, below: bool, strict: bool| {
            bounds.push(Bound { name, value: value.clone(), below, strict });
        };
        match compare {
            Compare::AtLeast | Compare::More => add(&range.low.value, true, compare == Compare::More),
            Compare::AtMost | Compare::Less => add(&range.high.value, false, compare == Compare::Less),
            Compare::Same => {
                add(&range.low.value, true, false);
                add(&range.high.value, false, false);
            }
            Compare::Differs => {}
        }
    }
}

/// What must hold of a name: it is above (the bound is below it) or below this value.
struct Bound<'n> {
    name: &'n Name,
    value: BigRational,
    below: bool,
    strict: bool,
}
