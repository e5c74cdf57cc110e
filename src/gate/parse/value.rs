//! The innermost level: literals, names, calls, brackets, the minus sign; and the words for what
//! stands where it should not.

use super::super::Name;
use super::super::functions;
use super::super::token::Piece;
use super::super::tree::Kind;
use super::{Parsed, Parser, Told};
use crate::tongue::say;
use crate::units::{Quantity, nearest};
use num_traits::Zero;

impl Parser<'_> {
    pub(super) fn signed(&mut self) -> Parsed {
        let at = self.here();
        if !self.take(&Piece::Minus) {
            return self.primary();
        }
        // A minus before a number belongs to it: -5 °C is a point five below nought.
        if let Some(Piece::Number(quantity, unit)) = self.peek().cloned() {
            self.next += 1;
            let negative = match unit {
                Some(unit) => -unit.from_base(&quantity.value),
                None => -quantity.value.clone(),
            };
            if negative.is_zero() {
                self.problem(
                    "bad-number",
                    at,
                    say!("got -0, wanted nought without a sign"),
                    Some(say!("write 0").to_owned()),
                );
            }
            let value = unit.map_or_else(|| negative.clone(), |unit| unit.to_base(&negative));
            let mut node = self.build(Kind::Quantity(Quantity { value, ..quantity }), at)?;
            node.unit = unit;
            return Ok(node);
        }
        let inner = self.deeper(at, Parser::signed)?;
        self.build(Kind::Negate(Box::new(inner)), at)
    }

    fn primary(&mut self) -> Parsed {
        let at = self.here();
        let Some(piece) = self.peek().cloned() else {
            self.problem("syntax", at, say!("the expression ends where a value is wanted"), None);
            return Err(Told);
        };
        self.next += 1;
        let kind = match piece {
            Piece::True => Kind::Bool(true),
            Piece::False => Kind::Bool(false),
            Piece::Date(date) => Kind::Date(date),
            Piece::Span(months, days) => Kind::Span(months, days),
            Piece::Id(id) => Kind::Id(id),
            Piece::Wrong => Kind::Wrong(Vec::new()),
            Piece::Number(quantity, unit) => {
                let mut node = self.build(Kind::Quantity(quantity), at)?;
                node.unit = unit;
                return Ok(node);
            }
            Piece::Open => return self.deeper(at, |parser| parser.bracket(at)),
            Piece::Word(name) => {
                if self.peek() == Some(&Piece::Open) {
                    return self.deeper(at, |parser| parser.call(&name, at));
                }
                return self.named(name, at);
            }
            Piece::Or
            | Piece::And
            | Piece::Not
            | Piece::Between
            | Piece::Less
            | Piece::AtMost
            | Piece::More
            | Piece::AtLeast
            | Piece::Same
            | Piece::Differs
            | Piece::Plus
            | Piece::Minus
            | Piece::Times
            | Piece::Over
            | Piece::Close
            | Piece::Comma => {
                self.next -= 1;
                let hint = if piece == Piece::Not {
                    Some(say!("put brackets around it: (not x)").to_owned())
                } else if piece == Piece::Plus {
                    Some(say!("numbers are written without a plus sign").to_owned())
                } else {
                    None
                };
                self.problem("syntax", at, say!("got {found}, wanted a value", found = self.found()), hint);
                return Err(Told);
            }
        };
        self.build(kind, at)
    }

    fn named(&mut self, name: Name, at: usize) -> Parsed {
        let written = name.join(".");
        let function = functions::find(&written).filter(|_| {
            // A function without its brackets: least reserve
            matches!(self.peek(), Some(Piece::Word(_)))
        });
        if let Some(function) = function {
            let hint = Some(say!("write {example}", example = function.written));
            self.problem("syntax", at, say!("{written} is a function and wants brackets", written), hint);
            return Err(Told);
        }
        self.build(Kind::Name(name), at)
    }

    fn bracket(&mut self, at: usize) -> Parsed {
        let inner = self.or()?;
        self.close(at)?;
        Ok(inner)
    }

    fn close(&mut self, at: usize) -> Result<(), Told> {
        if self.take(&Piece::Close) {
            return Ok(());
        }
        if self.peek().is_none() {
            self.problem("syntax", at, say!("a bracket is opened here and never closed"), None);
            return Err(Told);
        }
        self.left_over();
        Err(Told)
    }

    /// Something stands where an operator or the end was wanted.
    pub(super) fn left_over(&mut self) {
        let found = self.found();
        let hint = match self.peek() {
            Some(Piece::Close) => Some(say!("there is a closing bracket too many").to_owned()),
            Some(Piece::Word(word))
                if matches!(
                    word.first().map(String::as_str),
                    Some("is" | "equals" | "in" | "if" | "else" | "xor")
                ) =>
            {
                Some(say!("conditions are made of == != < <= > >=, between, and, or, not").to_owned())
            }
            Some(Piece::Word(_)) if crate::units::unit(&found).is_some() => {
                Some(say!("a unit stands after a number only").to_owned())
            }
            Some(Piece::Comma) => Some(
                say!("a decimal point is a point, and a comma stands between the arguments of a function")
                    .to_owned(),
            ),
            Some(_) | None => Some(
                say!("join conditions with and or or; a number and its unit stand together: 150 bar")
                    .to_owned(),
            ),
        };
        self.problem("syntax", self.here(), say!("got {found}, wanted an operator or the end", found), hint);
    }

    fn call(&mut self, name: &Name, at: usize) -> Parsed {
        let written = name.join(".");
        let function = functions::find(&written);
        if function.is_none() {
            let hint = match written.as_str() {
                "min" | "minimum" => Some(say!("write least(...)").to_owned()),
                "max" | "maximum" => Some(say!("write most(...)").to_owned()),
                "len" | "length" => Some(say!("write count(...)").to_owned()),
                _ => match nearest(&written, functions::all().map(|f| f.name)) {
                    Some(near) => Some(say!("did you mean {near}?", near)),
                    None => {
                        let names: Vec<&str> = functions::all().map(|f| f.name).collect();
                        Some(say!("the functions are {names}", names = names.join(", ")))
                    }
                },
            };
            self.problem("unknown-function", at, say!("there is no function {written}", written), hint);
        }
        let open = self.here();
        self.next += 1;
        let mut arguments = Vec::new();
        if !self.take(&Piece::Close) {
            arguments.push(self.or()?);
            while self.take(&Piece::Comma) {
                arguments.push(self.or()?);
            }
            self.close(open)?;
        }
        match function {
            Some(function) => self.build(Kind::Call(function, arguments), at),
            None => self.build(Kind::Wrong(arguments), at),
        }
    }
}
