//! Judging: an expression and the facts of now.
//!
//! Three-valued. Always: every part is judged, whatever the others say, so that everything that
//! fails and everything that lacks is told; a fact that is not known never opens a condition by
//! itself; nothing here panics, and the work grows with the source times the items.
//! Not here: the sentences (`explain`).

mod explain;
mod fold;
mod margin;
mod values;

pub(super) use margin::margins;

use super::check::is_today;
use super::functions::Form;
use super::range::Range;
use super::tree::{Compare, Kind, Node};
use super::words::Labels;
use super::{Fact, Facts, Name, Type, Value, Verdict};
use crate::tongue::say;
use jiff::civil::Date;

/// Open, shut or unknown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tri {
    Open,
    Shut,
    Unknown,
}

/// What came of a condition: what failed and what lacks, both told where it is not open.
#[derive(Clone, Debug)]
struct Judged {
    tri: Tri,
    failed: Vec<String>,
    missing: Vec<String>,
}

/// A value worked out.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Got {
    Bool(bool),
    Choice(String),
    Date(Date),
    Span(i32, i32),
    Range(Range),
}

/// A value, or everything that lacks for it.
type Valued = Result<Got, Vec<String>>;

/// What an expression is judged on.
struct Judge<'a> {
    source: &'a str,
    /// Expressions are told in words, and not as they stand in the file.
    spoken: bool,
    /// What names are called there whose facts do not tell it.
    labels: Option<&'a Labels<'a>>,
    facts: &'a dyn Facts,
    /// Inside `all` and `any`: the item's facts, by the names of their lists.
    item: Vec<(Name, Fact)>,
}

/// Judges a condition.
pub(super) fn verdict(node: &Node, source: &str, facts: &dyn Facts) -> Verdict {
    let judge = Judge { source, facts, item: Vec::new(), spoken: false, labels: None };
    judge.verdict(node)
}

/// The same, in words that people know: steps and fields by what they are called.
pub(super) fn told_verdict(node: &Node, source: &str, facts: &dyn Facts, labels: &Labels<'_>) -> Verdict {
    Judge { source, facts, item: Vec::new(), spoken: true, labels: Some(labels) }.verdict(node)
}

/// What came of it, as a verdict.
fn summed(mut judged: Judged) -> Verdict {
    match judged.tri {
        Tri::Open => Verdict::Open,
        Tri::Shut => {
            judged.failed.append(&mut judged.missing);
            Verdict::Shut(once(judged.failed))
        }
        Tri::Unknown => {
            judged.missing.append(&mut judged.failed);
            Verdict::Unknown(once(judged.missing))
        }
    }
}

/// Works out a value.
pub(super) fn compute(node: &Node, source: &str, facts: &dyn Facts) -> Result<Value, Vec<String>> {
    let judge = Judge { source, facts, item: Vec::new(), spoken: false, labels: None };
    match judge.value(node).map_err(once)? {
        Got::Bool(value) => Ok(Value::Bool(value)),
        Got::Choice(id) => Ok(Value::Choice(id)),
        Got::Date(date) => Ok(Value::Date(date)),
        Got::Span(months, days) => Ok(Value::Span { months, days }),
        Got::Range(range) => range.single().map(Value::Quantity).ok_or_else(|| {
            vec![say!("{source} has no single value: a reading in it is below the lowest mark", source)]
        }),
    }
}

/// Each reason once, in order.
fn once(reasons: Vec<String>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for reason in reasons {
        if !all.contains(&reason) {
            all.push(reason);
        }
    }
    all
}

impl Judged {
    fn open() -> Judged {
        Judged { tri: Tri::Open, failed: Vec::new(), missing: Vec::new() }
    }

    fn shut(failed: Vec<String>) -> Judged {
        Judged { tri: Tri::Shut, failed, missing: Vec::new() }
    }

    fn unknown(missing: Vec<String>) -> Judged {
        Judged { tri: Tri::Unknown, failed: Vec::new(), missing }
    }

    /// Open if it holds, else shut because.
    fn of(holds: bool, because: impl FnOnce() -> Vec<String>) -> Judged {
        if holds { Judged::open() } else { Judged::shut(because()) }
    }
}

/// `and`: open if all are open, shut if any is shut.
fn every(all: Vec<Judged>) -> Judged {
    let mut sum = Judged::open();
    for mut one in all {
        sum.tri = match (sum.tri, one.tri) {
            (Tri::Shut, _) | (_, Tri::Shut) => Tri::Shut,
            (Tri::Unknown, _) | (_, Tri::Unknown) => Tri::Unknown,
            (Tri::Open, Tri::Open) => Tri::Open,
        };
        sum.failed.append(&mut one.failed);
        sum.missing.append(&mut one.missing);
    }
    sum
}

/// `or`: open if any is open, shut if all are shut.
fn some(all: Vec<Judged>) -> Judged {
    if all.iter().any(|one| one.tri == Tri::Open) {
        return Judged::open();
    }
    let unknown = all.iter().any(|one| one.tri == Tri::Unknown);
    let missing: Vec<String> = all.iter().flat_map(|one| one.missing.iter().cloned()).collect();
    let ways: Vec<String> = all
        .iter()
        .filter(|one| !one.failed.is_empty())
        .map(|one| once(one.failed.clone()).join(&format!(", {} ", say!("and"))))
        .collect();
    if ways.is_empty() {
        return Judged { tri: if unknown { Tri::Unknown } else { Tri::Shut }, failed: Vec::new(), missing };
    }
    // One of them would do: they are told as one reason.
    let failed = vec![once(ways).join(&format!("; {}: ", say!("or else")))];
    Judged { tri: if unknown { Tri::Unknown } else { Tri::Shut }, failed, missing }
}

impl Judge<'_> {
    fn verdict(&self, node: &Node) -> Verdict {
        summed(self.condition(node, true))
    }

    /// Judges that a condition holds, or (`holds` false) that it does not. `not` turns this over
    /// and leaves unknown unknown; by De Morgan the sentences stay those of the comparisons.
    fn condition(&self, node: &Node, holds: bool) -> Judged {
        match &node.kind {
            Kind::Bool(value) => {
                Judged::of(*value == holds, || vec![say!("this condition is written as {value}", value)])
            }
            Kind::Not(inner) => self.condition(inner, !holds),
            Kind::And(all) => self.joined(all, holds, holds),
            Kind::Or(all) => self.joined(all, holds, !holds),
            Kind::Compare(compare, left, right) => {
                if left.ty == Some(Type::Bool) || right.ty == Some(Type::Bool) {
                    return self.alike(left, right, (*compare == Compare::Same) == holds);
                }
                let compare = if holds { *compare } else { compare.opposite() };
                self.compare(compare, left, right)
            }
            Kind::Between(what, low, high) => {
                if holds {
                    every(vec![
                        self.compare(Compare::AtLeast, what, low),
                        self.compare(Compare::AtMost, what, high),
                    ])
                } else {
                    some(vec![
                        self.compare(Compare::Less, what, low),
                        self.compare(Compare::More, what, high),
                    ])
                }
            }
            Kind::Name(name) => self.answer(name, self.fact(name), holds),
            Kind::Call(function, arguments) => match function.form {
                Form::All => self.each(arguments, holds, holds),
                Form::Any => self.each(arguments, holds, !holds),
                Form::Given => self.given_condition(arguments, holds),
                Form::Least | Form::Most | Form::Sum | Form::Count | Form::Plain { .. } => self.fault(node),
            },
            Kind::Quantity(_)
            | Kind::Date(_)
            | Kind::Span(..)
            | Kind::Id(_)
            | Kind::Negate(_)
            | Kind::Arithmetic(..)
            | Kind::Wrong(_) => self.fault(node),
        }
    }

    fn joined(&self, all: &[Node], holds: bool, together: bool) -> Judged {
        let all = all.iter().map(|one| self.condition(one, holds)).collect();
        if together { every(all) } else { some(all) }
    }

    /// A tree that was checked has none of these.
    fn fault(&self, node: &Node) -> Judged {
        Judged::unknown(vec![say!("{what} is no condition", what = self.text(node))])
    }

    /// A yes or no answer.
    fn answer(&self, name: &Name, fact: Fact, holds: bool) -> Judged {
        match fact {
            Fact::Is { value: Value::Bool(value), shown, label } => Judged::of(value == holds, || {
                vec![say!("{label}: {shown}, wanted {wanted}", label, shown, wanted = yes_or_no(holds))]
            }),
            Fact::Unknown(why) => Judged::unknown(vec![why]),
            Fact::NotApplicable => Judged::unknown(vec![self.not_applicable(name)]),
            Fact::Is { .. } | Fact::Below { .. } | Fact::List(_) => {
                Judged::unknown(vec![self.another_kind(name)])
            }
        }
    }

    /// Two conditions that are to be alike, or to differ.
    fn alike(&self, left: &Node, right: &Node, alike: bool) -> Judged {
        match (&left.kind, &right.kind) {
            (_, Kind::Bool(value)) => return self.condition(left, *value == alike),
            (Kind::Bool(value), _) => return self.condition(right, *value == alike),
            (_, _) => {}
        }
        let (l, r) = (self.condition(left, true), self.condition(right, true));
        if l.tri == Tri::Unknown || r.tri == Tri::Unknown {
            let mut missing = l.missing;
            missing.extend(r.missing);
            return Judged::unknown(missing);
        }
        let (first, second) = (yes_or_no(l.tri == Tri::Open), yes_or_no(r.tri == Tri::Open));
        Judged::of((l.tri == r.tri) == alike, || {
            let (a, b) = (self.called(left), self.called(right));
            vec![if alike {
                say!("{a} is {first} and {b} is {second}, wanted the same for both", a, first, b, second)
            } else {
                say!("{a} is {first} and {b} is {second}, wanted one yes and one no", a, first, b, second)
            }]
        })
    }

    fn compare(&self, compare: Compare, left: &Node, right: &Node) -> Judged {
        let (l, r) = match (self.value(left), self.value(right)) {
            (Ok(l), Ok(r)) => (l, r),
            (Err(mut a), Err(b)) => {
                a.extend(b);
                return Judged::unknown(a);
            }
            (Err(missing), Ok(_)) | (Ok(_), Err(missing)) => return Judged::unknown(missing),
        };
        match holds(compare, &l, &r) {
            Some(true) => Judged::open(),
            Some(false) => Judged::shut(self.why_shut(compare, left, &l, right, &r)),
            None => Judged::unknown(vec![self.why_unknown(compare, left, &l, right, &r)]),
        }
    }

    fn given_condition(&self, arguments: &[Node], holds: bool) -> Judged {
        let Some(name) = arguments.first().and_then(Node::name) else {
            return Judged::unknown(vec![say!("given names nothing").to_owned()]);
        };
        let fact = self.fact(name);
        if let Some(instead) = arguments.get(1) {
            return match self.or_instead(name, &fact) {
                true => self.condition(instead, holds),
                false => self.answer(name, fact, holds),
            };
        }
        let written = self.name_of(name);
        match fact {
            Fact::Is { label, shown, .. } | Fact::Below { label, shown, .. } => {
                Judged::of(holds, || vec![say!("{label} is given ({shown}), wanted none", label, shown)])
            }
            Fact::Unknown(why) if is_step(name) => Judged::unknown(vec![why]),
            Fact::Unknown(_) | Fact::NotApplicable => {
                Judged::of(!holds, || vec![say!("{written} is not given", written)])
            }
            Fact::List(_) => Judged::unknown(vec![self.another_kind(name)]),
        }
    }

    /// Whether `given(x, LITERAL)` has the literal: x is not applicable, or a field that the file
    /// in force leaves out. A step not answered yet is waited for.
    fn or_instead(&self, name: &Name, fact: &Fact) -> bool {
        match fact {
            Fact::NotApplicable => true,
            Fact::Unknown(_) => !is_step(name),
            Fact::Is { .. } | Fact::Below { .. } | Fact::List(_) => false,
        }
    }

    fn fact(&self, name: &Name) -> Fact {
        if is_today(name) {
            let today = self.facts.today();
            return Fact::Is {
                value: Value::Date(today),
                shown: today.to_string(),
                label: say!("today").to_owned(),
            };
        }
        match self.item.iter().find(|(list, _)| list == name) {
            Some((_, fact)) => fact.clone(),
            None => self.facts.fact(name),
        }
    }

    /// What a name is called: in words where people read it, as it is written where a file is read.
    fn name_of(&self, name: &Name) -> String {
        let label = self.labels.and_then(|labels| labels(name));
        label.unwrap_or_else(|| name.join("."))
    }

    fn not_applicable(&self, name: &Name) -> String {
        say!("{name} is not applicable", name = self.name_of(name))
    }

    fn another_kind(&self, name: &Name) -> String {
        say!(
            "{name} holds another kind of value than it had when the checklist was read",
            name = self.name_of(name)
        )
    }

    /// A node's source text on one line.
    fn text(&self, node: &Node) -> String {
        let text = self.source.get(node.at..node.end).unwrap_or("");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// Whether a comparison holds; `None` where a range leaves it open, or kinds differ.
fn holds(compare: Compare, left: &Got, right: &Got) -> Option<bool> {
    use std::cmp::Ordering;
    let by = |order: Ordering| match compare {
        Compare::Less => order.is_lt(),
        Compare::AtMost => order.is_le(),
        Compare::More => order.is_gt(),
        Compare::AtLeast => order.is_ge(),
        Compare::Same => order.is_eq(),
        Compare::Differs => order.is_ne(),
    };
    match (left, right) {
        (Got::Range(a), Got::Range(b)) if a.dimension == b.dimension => match compare {
            Compare::Less => a.less(b),
            Compare::AtLeast => a.less(b).map(|less| !less),
            Compare::More => b.less(a),
            Compare::AtMost => b.less(a).map(|less| !less),
            Compare::Same => a.same(b),
            Compare::Differs => a.same(b).map(|same| !same),
        },
        (Got::Date(a), Got::Date(b)) => Some(by(a.cmp(b))),
        (Got::Span(0, a), Got::Span(0, b)) => Some(by(a.cmp(b))),
        (Got::Choice(a), Got::Choice(b)) if !compare.ordered() => Some(by(a.cmp(b))),
        (Got::Bool(a), Got::Bool(b)) if !compare.ordered() => Some(by(a.cmp(b))),
        (
            Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) | Got::Range(_),
            Got::Bool(_) | Got::Choice(_) | Got::Date(_) | Got::Span(..) | Got::Range(_),
        ) => None,
    }
}

/// A truth as an answer.
pub(super) fn yes_or_no(value: bool) -> &'static str {
    if value { say!("yes") } else { say!("no") }
}

/// Steps have plain names; fields of files and lines have dotted ones.
fn is_step(name: &Name) -> bool {
    name.len() == 1
}
