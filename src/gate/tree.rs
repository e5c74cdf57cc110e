//! The tree of an expression: what the parser builds, the checker fills with types, the judge walks.
//!
//! Always: no tree is deeper than [`DEEPEST`]; two trees are equal if they say the same, whatever
//! the spaces, brackets and units (`1 bar` and `100 kPa` are equal).

use super::functions::Function;
use super::{Name, Type};
use crate::units::{Quantity, Unit};
use jiff::civil::Date;

/// Deepest tree, and most open brackets.
pub(super) const DEEPEST: usize = 32;

/// One node.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub kind: Kind,
    /// Byte range in the source.
    pub at: usize,
    pub end: usize,
    /// How many levels hang below it.
    pub depth: usize,
    /// Filled in by the checker; `None` where something was wrong.
    pub ty: Option<Type>,
    /// A span that is known to be of days only.
    pub days_only: bool,
    /// The unit a literal is written in.
    pub unit: Option<Unit>,
    /// For the name of a list: what it runs over, empty if that has no name.
    pub over: Option<String>,
}

/// What a node is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Kind {
    Bool(bool),
    Quantity(Quantity),
    Date(Date),
    Span(i32, i32),
    Id(String),
    Name(Name),
    Not(Box<Node>),
    /// Two or more; none of them is itself an `And`.
    And(Vec<Node>),
    /// Two or more; none of them is itself an `Or`.
    Or(Vec<Node>),
    Compare(Compare, Box<Node>, Box<Node>),
    /// What, lowest, highest; both ends included.
    Between(Box<Node>, Box<Node>, Box<Node>),
    Negate(Box<Node>),
    Arithmetic(Arithmetic, Box<Node>, Box<Node>),
    Call(&'static Function, Vec<Node>),
    /// Something already told, with what could be read of it.
    Wrong(Vec<Node>),
}

/// Comparisons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Compare {
    Less,
    AtMost,
    More,
    AtLeast,
    Same,
    Differs,
}

/// Arithmetic.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Arithmetic {
    Plus,
    Minus,
    Times,
    Over,
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.kind == other.kind
    }
}

impl Node {
    pub(super) fn new(kind: Kind, at: usize, end: usize) -> Node {
        let mut node = Node { kind, at, end, depth: 0, ty: None, days_only: false, unit: None, over: None };
        node.depth = node.children().iter().map(|child| child.depth + 1).max().unwrap_or(0);
        node
    }

    /// The nodes directly below, in the order of the source.
    pub(super) fn children(&self) -> Vec<&Node> {
        match &self.kind {
            Kind::Bool(_)
            | Kind::Quantity(_)
            | Kind::Date(_)
            | Kind::Span(..)
            | Kind::Id(_)
            | Kind::Name(_) => Vec::new(),
            Kind::Not(inner) | Kind::Negate(inner) => vec![inner],
            Kind::And(all) | Kind::Or(all) | Kind::Call(_, all) | Kind::Wrong(all) => all.iter().collect(),
            Kind::Compare(_, left, right) | Kind::Arithmetic(_, left, right) => vec![left, right],
            Kind::Between(what, low, high) => vec![what, low, high],
        }
    }

    /// The name, if the node is nothing else.
    pub(super) fn name(&self) -> Option<&Name> {
        if let Kind::Name(name) = &self.kind { Some(name) } else { None }
    }

    /// The function and its arguments, if the node is a call.
    pub(super) fn call(&self) -> Option<(&'static Function, &[Node])> {
        if let Kind::Call(function, arguments) = &self.kind { Some((function, arguments)) } else { None }
    }

    /// What is added, taken away, multiplied or divided, and by what, if the node does so.
    pub(super) fn arithmetic(&self) -> Option<(Arithmetic, &Node, &Node)> {
        if let Kind::Arithmetic(sign, left, right) = &self.kind { Some((*sign, left, right)) } else { None }
    }

    /// The parts that must all be open for this to be open.
    pub(super) fn conjuncts(&self) -> &[Node] {
        if let Kind::And(all) = &self.kind { all } else { std::slice::from_ref(self) }
    }
}

impl Compare {
    pub(super) fn sign(self) -> &'static str {
        match self {
            Compare::Less => "<",
            Compare::AtMost => "<=",
            Compare::More => ">",
            Compare::AtLeast => ">=",
            Compare::Same => "==",
            Compare::Differs => "!=",
        }
    }

    /// What holds exactly when this does not.
    pub(super) fn opposite(self) -> Compare {
        match self {
            Compare::Less => Compare::AtLeast,
            Compare::AtMost => Compare::More,
            Compare::More => Compare::AtMost,
            Compare::AtLeast => Compare::Less,
            Compare::Same => Compare::Differs,
            Compare::Differs => Compare::Same,
        }
    }

    /// The same with the sides changed over.
    pub(super) fn turned(self) -> Compare {
        match self {
            Compare::Less => Compare::More,
            Compare::AtMost => Compare::AtLeast,
            Compare::More => Compare::Less,
            Compare::AtLeast => Compare::AtMost,
            Compare::Same => Compare::Same,
            Compare::Differs => Compare::Differs,
        }
    }

    /// Has an order, so not for choices and yes/no.
    pub(super) fn ordered(self) -> bool {
        match self {
            Compare::Less | Compare::AtMost | Compare::More | Compare::AtLeast => true,
            Compare::Same | Compare::Differs => false,
        }
    }
}

impl Arithmetic {
    pub(super) fn sign(self) -> &'static str {
        match self {
            Arithmetic::Plus => "+",
            Arithmetic::Minus => "-",
            Arithmetic::Times => "*",
            Arithmetic::Over => "/",
        }
    }
}
