//! Values: of names, of arithmetic, of functions.

use super::super::functions::{self, Form};
use super::super::range::Range;
use super::super::tree::{Arithmetic, Kind, Node};
use super::super::{Fact, Name, Type, Value};
use super::{Got, Judge, Tri, Valued};
use crate::tongue::say;
use crate::units;
use jiff::civil::Date;

impl Judge<'_> {
    /// A node's value, or everything that lacks for it.
    pub(super) fn value(&self, node: &Node) -> Valued {
        match &node.kind {
            Kind::Quantity(quantity) => Ok(Got::Range(Range::point(quantity.clone()))),
            Kind::Date(date) => Ok(Got::Date(*date)),
            Kind::Span(months, days) => Ok(Got::Span(*months, *days)),
            Kind::Id(id) => Ok(Got::Choice(id.clone())),
            Kind::Name(name) => self.fact_value(name, self.fact(name), node.ty.as_ref()),
            Kind::Negate(inner) => self.negated(inner),
            Kind::Arithmetic(sign, left, right) => self.arithmetic(*sign, node, left, right),
            Kind::Call(function, arguments) => match function.form {
                Form::Least | Form::Most | Form::Sum | Form::Count => {
                    self.fold(function.form, arguments, node)
                }
                Form::Given if arguments.len() == 2 => self.given_value(arguments, node),
                Form::All | Form::Any | Form::Given => self.truth(node),
                Form::Plain { takes, work, .. } => {
                    let ranges = self.ranges(arguments)?;
                    functions::over(takes, work, &ranges)
                        .map(Got::Range)
                        .map_err(|why| vec![format!("{}: {why}", self.called(node))])
                }
            },
            Kind::Bool(_)
            | Kind::Not(_)
            | Kind::And(_)
            | Kind::Or(_)
            | Kind::Compare(..)
            | Kind::Between(..) => self.truth(node),
            Kind::Wrong(_) => Err(vec![say!("{what} could not be read", what = self.called(node))]),
        }
    }

    fn truth(&self, node: &Node) -> Valued {
        let mut judged = self.condition(node, true);
        match judged.tri {
            Tri::Open => Ok(Got::Bool(true)),
            Tri::Shut => Ok(Got::Bool(false)),
            Tri::Unknown => {
                judged.missing.append(&mut judged.failed);
                Err(judged.missing)
            }
        }
    }

    /// The value of a fact, if it is of the kind the expression was read with.
    pub(super) fn fact_value(&self, name: &Name, fact: Fact, ty: Option<&Type>) -> Valued {
        let got = match fact {
            Fact::Is { value, .. } => match value {
                Value::Bool(value) => Got::Bool(value),
                Value::Choice(id) => Got::Choice(id),
                Value::Date(date) => Got::Date(date),
                Value::Span { months, days } => Got::Span(months, days),
                Value::Quantity(quantity) => Got::Range(Range::point(quantity)),
                Value::Text(_) => return Err(vec![self.another_kind(name)]),
            },
            Fact::Below { from, mark, .. } => match Range::below(from, mark) {
                Some(range) => Got::Range(range),
                None => return Err(vec![self.another_kind(name)]),
            },
            Fact::Unknown(why) => return Err(vec![why]),
            Fact::NotApplicable => return Err(vec![self.not_applicable(name)]),
            Fact::List(_) => return Err(vec![self.another_kind(name)]),
        };
        let item = match ty {
            Some(Type::List(item)) => Some(&**item),
            other => other,
        };
        let fits = match (&got, item) {
            (Got::Range(range), Some(Type::Quantity(dimension))) => range.dimension == *dimension,
            (Got::Bool(_), Some(Type::Bool))
            | (Got::Date(_), Some(Type::Date))
            | (Got::Span(..), Some(Type::Span)) => true,
            (Got::Choice(id), Some(Type::Choice { offered, .. })) => offered.contains(id),
            (Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) | Got::Range(_), _) => false,
        };
        if fits { Ok(got) } else { Err(vec![self.another_kind(name)]) }
    }

    fn negated(&self, inner: &Node) -> Valued {
        match self.value(inner)? {
            Got::Range(range) => Ok(Got::Range(range.negative())),
            Got::Span(months, days) => match (months.checked_neg(), days.checked_neg()) {
                (Some(months), Some(days)) => Ok(Got::Span(months, days)),
                (Some(_) | None, Some(_) | None) => Err(vec![self.out_of_range(inner)]),
            },
            Got::Bool(_) | Got::Choice(_) | Got::Date(_) => {
                Err(vec![say!("{what} has no opposite", what = self.called(inner))])
            }
        }
    }

    fn arithmetic(&self, sign: Arithmetic, node: &Node, left: &Node, right: &Node) -> Valued {
        let (l, r) = match (self.value(left), self.value(right)) {
            (Ok(l), Ok(r)) => (l, r),
            (Err(mut a), Err(b)) => {
                a.extend(b);
                return Err(a);
            }
            (Err(missing), Ok(_)) | (Ok(_), Err(missing)) => return Err(missing),
        };
        let minus = sign == Arithmetic::Minus;
        match (l, r) {
            (Got::Range(a), Got::Range(b)) => {
                let Some(Type::Quantity(dimension)) = node.ty else {
                    return Err(vec![say!("{what} has no value", what = self.called(node))]);
                };
                match sign {
                    Arithmetic::Plus => Ok(Got::Range(a.plus(&b, dimension))),
                    Arithmetic::Minus => Ok(Got::Range(a.minus(&b, dimension))),
                    Arithmetic::Times => Ok(Got::Range(a.times(&b, dimension))),
                    Arithmetic::Over => a.over(&b, dimension).map(Got::Range).ok_or_else(|| {
                        let (what, by) = (self.called(node), self.called(right));
                        vec![if b.single().is_some() {
                            say!("{what} cannot be worked out: {by} is nought", what, by)
                        } else {
                            say!("{what} cannot be worked out: {by} may be nought", what, by)
                        }]
                    }),
                }
            }
            (Got::Date(date), Got::Span(months, days)) => units::moved(date, months, days, minus)
                .map(Got::Date)
                .ok_or_else(|| vec![self.out_of_range(node)]),
            (Got::Span(months, days), Got::Date(date)) => units::moved(date, months, days, false)
                .map(Got::Date)
                .ok_or_else(|| vec![self.out_of_range(node)]),
            (Got::Date(a), Got::Date(b)) => Ok(Got::Span(0, days_from(b, a))),
            (Got::Span(am, ad), Got::Span(bm, bd)) => {
                let work = |a: i32, b: i32| {
                    if minus { a.checked_sub(b) } else { a.checked_add(b) }
                };
                match (work(am, bm), work(ad, bd)) {
                    (Some(months), Some(days)) => Ok(Got::Span(months, days)),
                    (Some(_) | None, Some(_) | None) => Err(vec![self.out_of_range(node)]),
                }
            }
            (
                Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) | Got::Range(_),
                Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) | Got::Range(_),
            ) => Err(vec![say!("{what} has no value", what = self.called(node))]),
        }
    }

    fn out_of_range(&self, node: &Node) -> String {
        say!("{what} is out of range", what = self.called(node))
    }

    fn given_value(&self, arguments: &[Node], node: &Node) -> Valued {
        let (Some(name), Some(instead)) = (arguments.first().and_then(Node::name), arguments.get(1)) else {
            return Err(vec![say!("given names nothing").to_owned()]);
        };
        let fact = self.fact(name);
        if self.or_instead(name, &fact) {
            return self.value(instead);
        }
        self.fact_value(name, fact, node.ty.as_ref())
    }

    /// The arguments of a plain function, each known at least to lie between two ends.
    fn ranges(&self, arguments: &[Node]) -> Result<Vec<Range>, Vec<String>> {
        let (mut all, mut missing) = (Vec::new(), Vec::new());
        for argument in arguments {
            match self.value(argument) {
                Ok(Got::Range(range)) => all.push(range),
                Ok(Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..)) => {
                    missing.push(say!("{what} is no quantity", what = self.called(argument)));
                }
                Err(more) => missing.extend(more),
            }
        }
        if missing.is_empty() { Ok(all) } else { Err(missing) }
    }
}

/// Days from one date to another; negative if the other is earlier.
pub(super) fn days_from(from: Date, to: Date) -> i32 {
    (to - from).get_days()
}
