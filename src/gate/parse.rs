//! From tokens to a tree.
//!
//! Binds, loosest first: or, and, not, one comparison, + -, * /, unary minus. Where something is
//! wrong the parser goes on at the next `and`, `or` or closing bracket, so that all that is wrong
//! is told at once.

mod value;

use super::Problem;
use super::token::{Piece, Token, tokens};
use super::tree::{Arithmetic, Compare, DEEPEST, Kind, Node};
use crate::tongue::say;

/// Longest source, in bytes.
const LONGEST: usize = 2048;

/// Something was wrong and has been told.
struct Told;

type Parsed = Result<Node, Told>;

/// The tree of a source, with [`Kind::Wrong`] where problems were added to the list.
pub(super) fn parse(source: &str, problems: &mut Vec<Problem>) -> Node {
    if source.len() > LONGEST {
        problems.push(Problem {
            code: "gate-too-long",
            at: 0,
            message: say!("this is {n} bytes long, wanted at most {LONGEST}", n = source.len(), LONGEST),
            hint: Some(say!("derive parts of it in steps of their own").to_owned()),
        });
        return Node::new(Kind::Wrong(Vec::new()), 0, source.len());
    }
    let tokens = tokens(source, problems);
    let mut parser = Parser { source, tokens, next: 0, open: 0, too_deep: false, problems };
    if parser.tokens.is_empty() {
        if parser.problems.is_empty() {
            parser.problem("syntax", 0, say!("there is nothing here, wanted an expression"), None);
        }
        return Node::new(Kind::Wrong(Vec::new()), 0, source.len());
    }
    let node = parser.whole();
    node.unwrap_or_else(|Told| Node::new(Kind::Wrong(Vec::new()), 0, source.len()))
}

struct Parser<'a> {
    source: &'a str,
    tokens: Vec<Token>,
    next: usize,
    /// Brackets, calls, `not` and minus signs around the place being read.
    open: usize,
    too_deep: bool,
    problems: &'a mut Vec<Problem>,
}

impl Parser<'_> {
    fn whole(&mut self) -> Parsed {
        let node = self.or()?;
        if self.peek().is_none() {
            return Ok(node);
        }
        // Only one thing is told here; reading on would guess.
        self.left_over();
        Ok(Node::new(Kind::Wrong(vec![node]), 0, self.source.len()))
    }

    fn peek(&self) -> Option<&Piece> {
        self.tokens.get(self.next).map(|token| &token.piece)
    }

    fn here(&self) -> usize {
        self.tokens.get(self.next).map_or(self.source.len(), |token| token.at)
    }

    fn end_before(&self) -> usize {
        self.next.checked_sub(1).and_then(|i| self.tokens.get(i)).map_or(0, |token| token.end)
    }

    fn take(&mut self, piece: &Piece) -> bool {
        let there = self.peek() == Some(piece);
        if there {
            self.next += 1;
        }
        there
    }

    fn problem(&mut self, code: &'static str, at: usize, message: impl Into<String>, hint: Option<String>) {
        self.problems.push(Problem { code, at, message: message.into(), hint });
    }

    /// What stands next, for messages.
    fn found(&self) -> String {
        match self.tokens.get(self.next) {
            Some(token) => self.source.get(token.at..token.end).unwrap_or("").to_owned(),
            None => say!("the end").to_owned(),
        }
    }

    fn deeper<T>(&mut self, at: usize, read: impl FnOnce(&mut Self) -> Result<T, Told>) -> Result<T, Told> {
        if self.open >= DEEPEST {
            return Err(self.deep(at));
        }
        self.open += 1;
        let result = read(self);
        self.open -= 1;
        result
    }

    fn deep(&mut self, at: usize) -> Told {
        if !self.too_deep {
            self.too_deep = true;
            let hint = Some(say!("derive parts of it in steps of their own").to_owned());
            self.problem("gate-too-deep", at, say!("this is nested more than {DEEPEST} deep", DEEPEST), hint);
        }
        Told
    }

    fn build(&mut self, kind: Kind, at: usize) -> Parsed {
        let node = Node::new(kind, at, self.end_before());
        if node.depth >= DEEPEST { Err(self.deep(at)) } else { Ok(node) }
    }

    fn or(&mut self) -> Parsed {
        let at = self.here();
        let mut all = vec![self.and()?];
        while self.take(&Piece::Or) {
            all.push(self.and()?);
        }
        self.joined(all, at, Kind::Or)
    }

    fn and(&mut self) -> Parsed {
        let at = self.here();
        let mut all = vec![self.part()?];
        while self.take(&Piece::And) {
            all.push(self.part()?);
        }
        self.joined(all, at, Kind::And)
    }

    /// One node for a chain; brackets around a chain of the same kind say nothing.
    fn joined(&mut self, mut all: Vec<Node>, at: usize, make: impl Fn(Vec<Node>) -> Kind) -> Parsed {
        if all.len() == 1 {
            return all.pop().ok_or(Told);
        }
        let chain = std::mem::discriminant(&make(Vec::new()));
        let mut flat = Vec::new();
        for mut node in all {
            let same = std::mem::discriminant(&node.kind) == chain;
            if let (true, Kind::And(inner) | Kind::Or(inner)) = (same, &mut node.kind) {
                flat.append(inner);
            } else {
                flat.push(node);
            }
        }
        self.build(make(flat), at)
    }

    /// One part of a chain of `and`; what is wrong in it stays in it.
    fn part(&mut self) -> Parsed {
        let at = self.here();
        match self.not() {
            Ok(node) => Ok(node),
            Err(Told) if self.too_deep => Err(Told),
            Err(Told) => {
                let mut brackets = 0_usize;
                while let Some(piece) = self.peek() {
                    if brackets == 0 && matches!(piece, Piece::Close | Piece::And | Piece::Or) {
                        break;
                    }
                    brackets += usize::from(*piece == Piece::Open);
                    brackets -= usize::from(*piece == Piece::Close);
                    self.next += 1;
                }
                Ok(Node::new(Kind::Wrong(Vec::new()), at, self.end_before().max(at)))
            }
        }
    }

    fn not(&mut self) -> Parsed {
        let at = self.here();
        if !self.take(&Piece::Not) {
            return self.comparison();
        }
        let inner = self.deeper(at, Parser::not)?;
        self.build(Kind::Not(Box::new(inner)), at)
    }

    fn compare(&self) -> Option<Compare> {
        let sign = self.peek()?;
        let all = [
            (Piece::Less, Compare::Less),
            (Piece::AtMost, Compare::AtMost),
            (Piece::More, Compare::More),
            (Piece::AtLeast, Compare::AtLeast),
            (Piece::Same, Compare::Same),
            (Piece::Differs, Compare::Differs),
        ];
        all.into_iter().find(|(piece, _)| piece == sign).map(|(_, compare)| compare)
    }

    fn comparison(&mut self) -> Parsed {
        let at = self.here();
        let left = self.sum()?;
        let node = if let Some(compare) = self.compare() {
            self.next += 1;
            let right = self.sum()?;
            self.build(Kind::Compare(compare, Box::new(left), Box::new(right)), at)?
        } else if self.take(&Piece::Between) {
            let low = self.sum()?;
            if !self.take(&Piece::And) {
                let message =
                    say!("got {found}, wanted `and` with the upper end of between", found = self.found());
                self.problem(
                    "syntax",
                    self.here(),
                    message,
                    Some(say!("write x between 1 bar and 2 bar").to_owned()),
                );
                return Err(Told);
            }
            let high = self.sum()?;
            self.build(Kind::Between(Box::new(left), Box::new(low), Box::new(high)), at)?
        } else {
            return Ok(left);
        };
        if self.compare().is_some() || self.peek() == Some(&Piece::Between) {
            let hint = say!("write a < b and b < c, or b between a and c");
            self.problem(
                "chained-comparison",
                self.here(),
                say!("comparisons are not chained"),
                Some(hint.to_owned()),
            );
            while self.compare().is_some() || self.peek() == Some(&Piece::Between) {
                self.next += 1;
                self.sum()?;
            }
            return Ok(Node::new(Kind::Wrong(vec![node]), at, self.end_before()));
        }
        Ok(node)
    }

    fn sum(&mut self) -> Parsed {
        let at = self.here();
        let mut left = self.product()?;
        loop {
            let sign = match self.peek() {
                Some(Piece::Plus) => Arithmetic::Plus,
                Some(Piece::Minus) => Arithmetic::Minus,
                _ => return Ok(left),
            };
            self.next += 1;
            let right = self.product()?;
            left = self.build(Kind::Arithmetic(sign, Box::new(left), Box::new(right)), at)?;
        }
    }

    fn product(&mut self) -> Parsed {
        let at = self.here();
        let mut left = self.signed()?;
        loop {
            let sign = match self.peek() {
                Some(Piece::Times) => Arithmetic::Times,
                Some(Piece::Over) => Arithmetic::Over,
                _ => return Ok(left),
            };
            self.next += 1;
            let right = self.signed()?;
            left = self.build(Kind::Arithmetic(sign, Box::new(left), Box::new(right)), at)?;
        }
    }
}
