//! The functions of the gate language: one table. A new one (an endurance, a leave-by pressure) is
//! a row here and nothing else, unless its arguments are more than plain values.

mod air;

pub use air::endurance;

use super::direction::Direction;
use super::range::Range;
use crate::tongue::{say, to_say};
use crate::units::{Dimension, Quantity, unit};
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, Zero};
use std::cell::RefCell;
use std::collections::HashMap;

/// What a function is like.
#[derive(Clone, Copy, Debug)]
pub(super) enum Form {
    /// A list to one value: the least, the most, the sum of them.
    Least,
    Most,
    Sum,
    /// A list to how many items there are.
    Count,
    /// A condition over each item, all or any of which hold. A list of yes/no answers is such a
    /// condition by itself: `all(guards_on)`.
    All,
    Any,
    /// `given(x)`, `given(x, LITERAL)`.
    Given,
    /// Quantities to a quantity.
    Plain {
        takes: &'static [Takes],
        gives: Dimension,
        work: Work,
    },
}

/// An argument of a plain function.
#[derive(Clone, Copy, Debug)]
pub(super) struct Takes {
    pub dimension: Dimension,
    /// What it is, for whoever writes the call.
    pub words: &'static str,
    /// What larger values of it do to the result, all others unchanged, over the whole range.
    pub way: Direction,
}

/// Works out a plain function, or says why it is out of its range. The arguments have the
/// dimensions of `takes`, in that order.
pub(super) type Work = fn(&[Quantity]) -> Result<Quantity, String>;

/// A function: its name, what it is like, how it is written.
#[derive(Clone, Copy, Debug)]
pub(super) struct Function {
    pub name: &'static str,
    pub form: Form,
    /// An example for hints.
    pub written: &'static str,
}

impl PartialEq for Function {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

/// All of them.
pub(super) static FUNCTIONS: &[Function] = &[
    Function { name: "least", form: Form::Least, written: "least(reserve)" },
    Function { name: "most", form: Form::Most, written: "most(reserve)" },
    Function { name: "sum", form: Form::Sum, written: "sum(set.cylinders.volume)" },
    Function { name: "count", form: Form::Count, written: "count(set.cylinders.volume)" },
    Function { name: "all", form: Form::All, written: "all(guards_on)" },
    Function { name: "any", form: Form::Any, written: "any(leak_seen)" },
    Function { name: "given", form: Form::Given, written: "given(remarks) or given(fuel, 0 L)" },
    Function {
        name: "absolute",
        form: Form::Plain {
            takes: &[
                Takes {
                    dimension: Dimension::Pressure,
                    words: to_say!("a gauge pressure"),
                    way: Direction::Up,
                },
                Takes {
                    dimension: Dimension::AbsolutePressure,
                    words: "the ambient pressure",
                    way: Direction::Up,
                },
            ],
            gives: Dimension::AbsolutePressure,
            work: absolute,
        },
        written: "absolute(supply_pressure, site.ambient_pressure)",
    },
];

/// All of them, those of air too.
pub(super) fn all() -> impl Iterator<Item = &'static Function> {
    FUNCTIONS.iter().chain(air::AIR)
}

/// The function of this name.
pub(super) fn find(name: &str) -> Option<&'static Function> {
    all().find(|function| function.name == name)
}

pub(super) use air::Lean;

/// Which way the result of a function errs to be safe, where it is known.
pub(super) fn lean(name: &str) -> Option<Lean> {
    air::LEANS.iter().find(|(n, _)| *n == name).map(|(_, lean)| *lean)
}

/// The least and the largest that the result of a function can be, whatever it is given.
pub(super) fn result(name: &str, dimension: Dimension) -> Option<Range> {
    let nought = BigRational::zero();
    let most = match name {
        "wind_clearance" => unit("deg")?.to_base(&BigRational::from_integer(180.into())),
        _ if air::NEVER_BELOW_NOUGHT.contains(&name) => far(),
        _ => return None,
    };
    Some(Range::closed(nought, most, dimension))
}

/// Farther than any figure here reaches: the largest float stands below 2 to the 1024th, and no unit is a billion
/// times its base.
pub(super) fn far() -> BigRational {
    BigRational::from_integer(BigInt::from(2).pow(1100))
}

/// Gauge plus ambient. Both bases are the bar.
fn absolute(arguments: &[Quantity]) -> Result<Quantity, String> {
    let [gauge, ambient] = arguments else {
        return Err(say!("absolute takes a gauge pressure and the ambient pressure").to_owned());
    };
    let value = &gauge.value + &ambient.value;
    if value.is_negative() {
        return Err(say!("the absolute pressure comes out below nought").to_owned());
    }
    Ok(Quantity { value, dimension: Dimension::AbsolutePressure })
}

/// Most results remembered.
const MOST: usize = 4096;

/// Results by function and arguments.
type Results = HashMap<(usize, Vec<BigRational>), Quantity>;

thread_local! {
    static RESULTS: RefCell<Results> = RefCell::new(HashMap::new());
}

/// Works a function out, or remembers what it came to: of the same arguments comes the same, and a form asks for an
/// endurance at every step that rests on it.
fn remembered(work: Work, arguments: Vec<Quantity>) -> Result<Quantity, String> {
    // A function takes each argument in one dimension; the values tell the arguments apart.
    let key = (work as usize, arguments.iter().map(|q| q.value.clone()).collect::<Vec<_>>());
    if let Some(known) = RESULTS.with(|r| r.borrow().get(&key).cloned()) {
        return Ok(known);
    }
    // Why something cannot be worked out is told in the language in force, and not kept.
    let result = work(&arguments)?;
    RESULTS.with(|r| {
        let mut all = r.borrow_mut();
        if all.len() >= MOST {
            all.clear();
        }
        all.insert(key, result.clone());
    });
    Ok(result)
}

/// What a plain function comes to over ranges of its arguments: between the two corners where every argument
/// is at the end that makes it smaller, and larger. Over single values, a single value.
pub(super) fn over(takes: &[Takes], work: Work, arguments: &[Range]) -> Result<Range, String> {
    let corner = |larger: bool| -> Result<Quantity, String> {
        let ends: Result<Vec<Quantity>, String> = takes
            .iter()
            .zip(arguments)
            .map(|(t, range)| match (range.single(), t.way, larger) {
                (Some(one), _, _) => Ok(one),
                (None, Direction::Up, true) | (None, Direction::Down, false) => Ok(range.high_end()),
                (None, Direction::Up, false) | (None, Direction::Down, true) => Ok(range.low_end()),
                (None, Direction::Nothing | Direction::Unclear, _) => {
                    // Its words stand where its measure is named, too: `next!` in `air`.
                    Err(say!("{what} has no single value", what = crate::tongue::word(t.words)))
                }
            })
            .collect();
        remembered(work, ends?)
    };
    if arguments.iter().all(|range| range.single().is_some()) {
        return corner(true).map(Range::point);
    }
    let (low, high) = (corner(false)?, corner(true)?);
    Ok(Range::closed(low.value, high.value, high.dimension))
}
