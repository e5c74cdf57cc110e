//! The functions of the gate language: one table. A new one (an endurance, a leave-by pressure) is
//! a row here and nothing else, unless its arguments are more than plain values.

use crate::units::{Dimension, Quantity};
use num_traits::Signed;

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
        takes: &'static [(Dimension, &'static str)],
        gives: Dimension,
        work: Work,
    },
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
                (Dimension::Pressure, "a gauge pressure"),
                (Dimension::AbsolutePressure, "the ambient pressure"),
            ],
            gives: Dimension::AbsolutePressure,
            work: absolute,
        },
        written: "absolute(supply_pressure, site.ambient_pressure)",
    },
];

/// The function of this name.
pub(super) fn find(name: &str) -> Option<&'static Function> {
    FUNCTIONS.iter().find(|function| function.name == name)
}

/// Gauge plus ambient. Both bases are the bar.
fn absolute(arguments: &[Quantity]) -> Result<Quantity, String> {
    let [gauge, ambient] = arguments else {
        return Err("absolute takes a gauge pressure and the ambient pressure".to_owned());
    };
    let value = &gauge.value + &ambient.value;
    if value.is_negative() {
        return Err("the absolute pressure comes out below nought".to_owned());
    }
    Ok(Quantity { value, dimension: Dimension::AbsolutePressure })
}
