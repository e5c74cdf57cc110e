//! What other modules hold: a condition, and a value worked out.

use super::functions::Form;
use super::tree::Node;
use super::words::Labels;
use super::{Facts, Name, Problem, Scope, Type, Value, Verdict, check, judge, parse};
use crate::tongue::say;
use num_rational::BigRational;

/// A condition that was read and typed without a problem.
///
/// Two gates are equal if they say the same: spaces, brackets that change nothing and units
/// (`1 bar`, `100 kPa`) make no difference.
#[derive(Clone, Debug)]
pub struct Gate {
    source: String,
    node: Node,
}

/// An expression with a value: `derived`, `timed`.
#[derive(Clone, Debug)]
pub struct Expression {
    source: String,
    node: Node,
    ty: Type,
}

/// One use of a name in an expression.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Used<'a> {
    /// The name.
    pub name: &'a Name,
    /// Byte offset in the source.
    pub at: usize,
    /// It stands in a fold or in `given`.
    pub sheltered: bool,
}

/// What is left before a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Margin {
    /// As a share of the limit.
    pub share: BigRational,
    /// `reserve pressure, Cylinder A reads 207 bar, wanted at least 150 bar: 57 bar to spare`
    pub words: String,
    /// The same without what is left.
    pub bare: String,
}

impl Gate {
    /// Reads a condition.
    ///
    /// # Errors
    /// Everything that is wrong with it, by place.
    pub fn parse(source: &str, scope: &dyn Scope) -> Result<Gate, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut node = parse::parse(source, &mut problems);
        check::condition(&mut node, scope, &mut problems);
        ended(problems)?;
        Ok(Gate { source: source.to_owned(), node })
    }

    /// Judges it. Every part is judged; every reason is told.
    pub fn judge(&self, facts: &dyn Facts) -> Verdict {
        judge::verdict(&self.node, &self.source, facts)
    }

    /// Why it is not open, for people: expressions in words, steps and fields by what they are called. Empty where it is.
    pub fn reasons(&self, facts: &dyn Facts, labels: &Labels<'_>) -> Vec<String> {
        match judge::told_verdict(&self.node, &self.source, facts, labels) {
            Verdict::Open => Vec::new(),
            Verdict::Shut(why) | Verdict::Unknown(why) => why,
        }
    }

    /// How far each of its limits on a quantity was from being met, where it is open.
    pub fn margins(&self, facts: &dyn Facts) -> Vec<Margin> {
        match self.judge(facts) {
            Verdict::Open => judge::margins(&self.node, &self.source, facts),
            Verdict::Shut(_) | Verdict::Unknown(_) => Vec::new(),
        }
    }

    /// The text it was read from.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// Every use of a name, in the order of the source; `today` among them.
    pub fn names(&self) -> impl Iterator<Item = Used<'_>> {
        used(&self.node).into_iter()
    }

    /// True if this must hold wherever all of the others do: each of its parts (joined by `and`)
    /// stands among theirs, as the same tree. `false` says only that it cannot be seen this way.
    pub fn follows_from(&self, others: &[&Gate]) -> bool {
        let there = |part: &Node| others.iter().any(|other| other.node.conjuncts().contains(part));
        self.node.conjuncts().iter().all(there)
    }

    pub(super) fn node(&self) -> &Node {
        &self.node
    }
}

impl Expression {
    /// Reads an expression of any kind of value but text and lists.
    ///
    /// # Errors
    /// Everything that is wrong with it, by place.
    pub fn parse(source: &str, scope: &dyn Scope) -> Result<Expression, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut node = parse::parse(source, &mut problems);
        check::value(&mut node, scope, &mut problems);
        ended(problems)?;
        match node.ty.clone() {
            Some(ty) => Ok(Expression { source: source.to_owned(), node, ty }),
            None => Err(vec![untyped()]),
        }
    }

    /// What kind of value it has.
    pub fn ty(&self) -> &Type {
        &self.ty
    }

    /// Whether a function of this name has a part in it.
    pub fn calls(&self, name: &str) -> bool {
        fn calls(node: &Node, name: &str) -> bool {
            node.call().is_some_and(|(f, _)| f.name == name) || node.children().iter().any(|n| calls(n, name))
        }
        calls(&self.node, name)
    }

    /// Works out the value.
    ///
    /// # Errors
    /// Everything that lacks for it, or why it cannot be worked out.
    pub fn compute(&self, facts: &dyn Facts) -> Result<Value, Vec<String>> {
        judge::compute(&self.node, &self.source, facts)
    }

    /// The text it was read from.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// Every use of a name, in the order of the source; `today` among them.
    pub fn names(&self) -> impl Iterator<Item = Used<'_>> {
        used(&self.node).into_iter()
    }

    pub(super) fn node(&self) -> &Node {
        &self.node
    }
}

impl PartialEq for Gate {
    fn eq(&self, other: &Self) -> bool {
        self.node == other.node
    }
}

impl PartialEq for Expression {
    fn eq(&self, other: &Self) -> bool {
        self.node == other.node
    }
}

/// Problems by place; none: go on.
fn ended(mut problems: Vec<Problem>) -> Result<(), Vec<Problem>> {
    if problems.is_empty() {
        return Ok(());
    }
    problems.sort_by_key(|problem| problem.at);
    problems.dedup();
    Err(problems)
}

fn untyped() -> Problem {
    Problem { code: "wrong-type", at: 0, message: say!("this has no value").to_owned(), hint: None }
}

fn used(node: &Node) -> Vec<Used<'_>> {
    let mut all = Vec::new();
    gather(node, false, &mut all);
    all
}

fn gather<'a>(node: &'a Node, sheltered: bool, all: &mut Vec<Used<'a>>) {
    if let Some(name) = node.name() {
        all.push(Used { name, at: node.at, sheltered: sheltered || node.over.is_some() });
    }
    let inside = node.call().map_or(sheltered, |(function, _)| match function.form {
        Form::Least | Form::Most | Form::Sum | Form::Count | Form::Given => true,
        // Only the lists themselves; a single value in the condition stands in the open.
        Form::All | Form::Any | Form::Plain { .. } => sheltered,
    });
    for child in node.children() {
        gather(child, inside, all);
    }
}
