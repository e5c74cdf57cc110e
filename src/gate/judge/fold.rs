//! Folds: from the items of a list to one value or one answer.
//!
//! Always: an item that is not applicable is left out; one that is not known makes the fold
//! unknown; over nothing count and sum are 0 and everything else is unknown, so that `all` never
//! opens on an empty list.

use super::super::functions::Form;
use super::super::range::Range;
use super::super::tree::Node;
use super::super::{Fact, Name, Type};
use super::{Got, Judge, Judged, Valued, every, some};
use crate::tongue::say;
use crate::units::{Dimension, Quantity};
use num_rational::BigRational;
use num_traits::Zero;

impl Judge<'_> {
    /// `least most sum count`.
    pub(super) fn fold(&self, form: Form, arguments: &[Node], node: &Node) -> Valued {
        let Some((list, name)) = arguments.first().and_then(|list| list.name().map(|name| (list, name)))
        else {
            return Err(vec![say!("{what} names no list", what = self.called(node))]);
        };
        let items = self.items(name)?;
        let (mut known, mut missing) = (Vec::new(), Vec::new());
        for (item, fact) in items {
            match fact {
                Fact::NotApplicable => {}
                Fact::Unknown(why) => missing.push(why),
                // What is counted is that it is there, whatever it says.
                Fact::Is { .. } | Fact::Below { .. } if matches!(form, Form::Count) => {
                    known.push(Got::Bool(true))
                }
                Fact::Is { .. } | Fact::Below { .. } | Fact::List(_) => {
                    match self.fact_value(name, fact, list.ty.as_ref()) {
                        Ok(got) => known.push(got),
                        Err(why) => missing.extend(why.into_iter().map(|why| format!("{item}: {why}"))),
                    }
                }
            }
        }
        if !missing.is_empty() {
            return Err(missing);
        }
        match form {
            Form::Count => {
                let value = BigRational::from_integer(known.len().into());
                Ok(Got::Range(Range::point(Quantity::number(value))))
            }
            Form::Sum => {
                let Some(Type::Quantity(dimension)) = node.ty else {
                    return Err(vec![self.another_kind(name)]);
                };
                Ok(Got::Range(sum(&known, dimension)))
            }
            Form::Least | Form::Most => {
                extreme(&known, matches!(form, Form::Most)).ok_or_else(|| vec![nothing(list, name)])
            }
            Form::All | Form::Any | Form::Given | Form::Plain { .. } => Err(vec![self.another_kind(name)]),
        }
    }

    /// The facts of a list.
    pub(super) fn items(&self, name: &Name) -> Result<Vec<(String, Fact)>, Vec<String>> {
        match self.facts.fact(name) {
            Fact::List(items) => Ok(items),
            Fact::Unknown(why) => Err(vec![why]),
            // A list that does not apply has nothing in it.
            Fact::NotApplicable => Ok(Vec::new()),
            Fact::Is { .. } | Fact::Below { .. } => Err(vec![self.another_kind(name)]),
        }
    }

    /// `all any`: the condition, item by item. `holds`: it is judged that the condition holds for
    /// an item; `together`: for all of them, else for one.
    pub(super) fn each(&self, arguments: &[Node], holds: bool, together: bool) -> Judged {
        let Some(condition) = arguments.first() else {
            return Judged::unknown(vec![say!("all and any take a condition").to_owned()]);
        };
        let (mut lists, mut missing): (Vec<List<'_>>, _) = (Vec::new(), Vec::new());
        for (node, name) in listed(condition) {
            if lists.iter().any(|list| list.name == name) {
                continue;
            }
            match self.items(name) {
                Ok(items) => lists.push(List { node, name, items }),
                Err(why) => missing.extend(why),
            }
        }
        if !missing.is_empty() {
            return Judged::unknown(missing);
        }
        let Some(first) = lists.first() else {
            return Judged::unknown(vec![say!("{what} names no list", what = self.called(condition))]);
        };
        if lists.len() > 1 && lists.iter().any(List::names_twice) {
            let why = say!("{what}: two items have the same name", what = self.called(condition));
            return Judged::unknown(vec![why]);
        }
        let mut judged = Vec::new();
        for bound in bindings(&lists) {
            // Left out only if nothing that is asked of it applies: else one part that does not
            // apply would let the rest of the condition off.
            if bound.iter().all(|(_, fact)| *fact == Fact::NotApplicable) {
                continue;
            }
            let inner = Judge {
                source: self.source,
                facts: self.facts,
                item: bound,
                spoken: self.spoken,
                labels: self.labels,
            };
            judged.push(inner.condition(condition, holds));
        }
        if judged.is_empty() {
            return Judged::unknown(vec![nothing(first.node, first.name)]);
        }
        if together { every(judged) } else { some(judged) }
    }
}

/// A list in the condition of `all` or `any`, with its facts.
struct List<'a> {
    node: &'a Node,
    name: &'a Name,
    items: Vec<(String, Fact)>,
}

impl List<'_> {
    fn names_twice(&self) -> bool {
        let mut names: Vec<&str> = self.items.iter().map(|(item, _)| item.as_str()).collect();
        names.sort_unstable();
        names.windows(2).any(|pair| pair.first() == pair.last())
    }
}

/// Item by item the facts of every list. With one list its entries as they come; with more, every
/// item of any of them, unknown where a list has nothing of it.
fn bindings(lists: &[List<'_>]) -> Vec<Vec<(Name, Fact)>> {
    if let [list] = lists {
        return list.items.iter().map(|(item, fact)| vec![(list.name.clone(), named(item, fact))]).collect();
    }
    let mut items: Vec<&String> = Vec::new();
    for (item, _) in lists.iter().flat_map(|list| &list.items) {
        if !items.contains(&item) {
            items.push(item);
        }
    }
    let of = |list: &List<'_>, item: &str| match list.items.iter().find(|(other, _)| other == item) {
        Some((_, fact)) => named(item, fact),
        None => Fact::Unknown(say!("{name} is not known of {item}", name = list.name.join("."), item)),
    };
    items.iter().map(|item| lists.iter().map(|list| (list.name.clone(), of(list, item))).collect()).collect()
}

/// The same fact, its label naming the item.
pub(super) fn named(item: &str, fact: &Fact) -> Fact {
    let with = |label: &str| {
        if label.contains(item) { label.to_owned() } else { format!("{item}: {label}") }
    };
    match fact {
        Fact::Is { value, shown, label } => {
            Fact::Is { value: value.clone(), shown: shown.clone(), label: with(label) }
        }
        Fact::Below { from, mark, shown, label } => {
            Fact::Below { from: from.clone(), mark: mark.clone(), shown: shown.clone(), label: with(label) }
        }
        Fact::Unknown(_) | Fact::NotApplicable | Fact::List(_) => fact.clone(),
    }
}

/// The lists that stand for their items in the condition of `all` or `any`: not those inside a
/// fold of their own.
fn listed(node: &Node) -> Vec<(&Node, &Name)> {
    if let Some(name) = node.name() {
        return node.over.is_some().then_some((node, name)).into_iter().collect();
    }
    if let Some((function, _)) = node.call() {
        match function.form {
            Form::Least | Form::Most | Form::Sum | Form::Count | Form::All | Form::Any | Form::Given => {
                return Vec::new();
            }
            Form::Plain { .. } => {}
        }
    }
    node.children().into_iter().flat_map(listed).collect()
}

fn sum(known: &[Got], dimension: Dimension) -> Range {
    let mut total = Range::point(Quantity { value: BigRational::zero(), dimension });
    for got in known {
        if let Got::Range(range) = got {
            total = total.plus(range, dimension);
        }
    }
    total
}

fn extreme(known: &[Got], most: bool) -> Option<Got> {
    let mut best: Option<Got> = None;
    for got in known {
        best = Some(match (best, got) {
            (Some(Got::Range(a)), Got::Range(b)) => Got::Range(a.extreme(b, most)),
            (Some(Got::Date(a)), Got::Date(b)) => Got::Date(if most { a.max(*b) } else { a.min(*b) }),
            (None, got) => got.clone(),
            (Some(_), _) => return None,
        });
    }
    best
}

fn nothing(list: &Node, name: &Name) -> String {
    match list.over.as_deref() {
        Some(over) if !over.is_empty() => say!("there are no {over}", over),
        Some(_) | None => say!("there is nothing in {name}", name = name.join(".")),
    }
}
