//! The innermost level: literals, names, calls, brackets, the minus sign; and the words for what
//! stands where it should not.

use super::super::Name;
use super::super::functions;
use super::super::token::Piece;
use super::super::tree::Kind;
use super::{Parsed, Parser, Told};
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
                    "got -0, wanted nought without a sign",
                    Some("write 0".to_owned()),
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
            self.problem("syntax", at, "the expression ends where a value is wanted", None);
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
                    Some("put brackets around it: (not x)".to_owned())
                } else if piece == Piece::Plus {
                    Some("numbers are written without a plus sign".to_owned())
                } else {
                    None
                };
                self.problem("syntax", at, format!("got {}, wanted a value", self.found()), hint);
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
            let hint = Some(format!("write {}", function.written));
            self.problem("syntax", at, format!("{written} is a function and wants brackets"), hint);
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
            self.problem("syntax", at, "a bracket is opened here and never closed", None);
            return Err(Told);
        }
        self.left_over();
        Err(Told)
    }

    /// Something stands where an operator or the end was wanted.
    pub(super) fn left_over(&mut self) {
        let found = self.found();
        let hint = match self.peek() {
            Some(Piece::Close) => Some("there is a closing bracket too many".to_owned()),
            Some(Piece::Word(word))
                if matches!(
                    word.first().map(String::as_str),
                    Some("is" | "equals" | "in" | "if" | "else" | "xor")
                ) =>
            {
                Some("conditions are made of == != < <= > >=, between, and, or, not".to_owned())
            }
            Some(Piece::Word(_)) if crate::units::unit(&found).is_some() => {
                Some("a unit stands after a number only".to_owned())
            }
            Some(Piece::Comma) => Some(
                "a decimal point is a point, and a comma stands between the arguments of a function"
                    .to_owned(),
            ),
            Some(_) | None => Some(
                "join conditions with and or or; a number and its unit stand together: 150 bar".to_owned(),
            ),
        };
        self.problem("syntax", self.here(), format!("got {found}, wanted an operator or the end"), hint);
    }

    fn call(&mut self, name: &Name, at: usize) -> Parsed {
        let written = name.join(".");
        let function = functions::find(&written);
        if function.is_none() {
            let hint = match written.as_str() {
                "min" | "minimum" => Some("write least(...)".to_owned()),
                "max" | "maximum" => Some("write most(...)".to_owned()),
                "len" | "length" => Some("write count(...)".to_owned()),
                _ => match nearest(&written, functions::all().map(|f| f.name)) {
                    Some(near) => Some(format!("did you mean {near}?")),
                    None => {
                        let names: Vec<&str> = functions::all().map(|f| f.name).collect();
                        Some(format!("the functions are {}", names.join(", ")))
                    }
                },
            };
            self.problem("unknown-function", at, format!("there is no function {written}"), hint);
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
