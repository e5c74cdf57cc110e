//! From source text to tokens. What people bring from other languages (`&&`, `=`, `1e3`, single
//! quotes) is told with what to write instead, and read on as what was meant, so that one slip
//! does not hide the next.

mod shapes;
mod signs;

use crate::tongue::{say, word};
use shapes::{date_like, exponent, is_id, run, symbol_at};
use signs::{FOREIGN, FOREIGN_SHORT, SIGNS};

use super::Problem;
use crate::units::{Decimal, Quantity, Refused, Unit, read_span, span_unit};
use jiff::civil::Date;

/// A lexical piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// A name or function: dotted, lower case.
    Word(Vec<String>),
    /// A number, with its unit if it has one.
    Number(Quantity, Option<Unit>),
    /// A span: months, days.
    Span(i32, i32),
    /// A date.
    Date(Date),
    /// A choice in quotation marks.
    Id(String),
    True,
    False,
    Or,
    And,
    Not,
    Between,
    Less,
    AtMost,
    More,
    AtLeast,
    Same,
    Differs,
    Plus,
    Minus,
    Times,
    Over,
    Open,
    Close,
    Comma,
    /// Something already told; stands for any value.
    Wrong,
}

/// A piece and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Token {
    pub piece: Piece,
    pub at: usize,
    pub end: usize,
}

/// All tokens; problems are added to the list.
pub(super) fn tokens(source: &str, problems: &mut Vec<Problem>) -> Vec<Token> {
    let mut lexer = Lexer { source, at: 0, problems };
    let mut all = Vec::new();
    while let Some(token) = lexer.next() {
        all.push(token);
    }
    all
}

struct Lexer<'a> {
    source: &'a str,
    at: usize,
    problems: &'a mut Vec<Problem>,
}

impl Lexer<'_> {
    fn rest(&self) -> &str {
        self.source.get(self.at..).unwrap_or("")
    }

    fn problem(&mut self, code: &'static str, at: usize, message: impl Into<String>, hint: Option<String>) {
        self.problems.push(Problem { code, at, message: message.into(), hint });
    }

    fn next(&mut self) -> Option<Token> {
        loop {
            let c = self.rest().chars().next()?;
            let at = self.at;
            if matches!(c, ' ' | '\n') {
                self.at += 1;
                continue;
            }
            if c.is_ascii_digit() {
                let piece = self.number();
                return Some(self.token(piece, at));
            }
            if c.is_ascii_alphabetic() || c == '_' {
                let piece = self.word();
                return Some(self.token(piece, at));
            }
            if c == '"' || c == '\'' {
                let piece = self.quoted(c);
                return Some(self.token(piece, at));
            }
            if let Some(piece) = self.sign() {
                return Some(self.token(piece, at));
            }
            if c == '.' && self.rest().chars().nth(1).is_some_and(|d| d.is_ascii_digit()) {
                self.at += 1;
                self.at += run(self.rest(), |d| d.is_ascii_digit());
                let written = self.source.get(at..self.at).unwrap_or("").to_owned();
                let hint = Some(say!("write 0{written}", written));
                self.problem(
                    "bad-number",
                    at,
                    say!("got {written}, wanted a digit before the point", written = format!("{written:?}")),
                    hint,
                );
                return Some(self.token(Piece::Wrong, at));
            }
            self.at += c.len_utf8();
            self.stray(c, at);
            if !c.is_whitespace() && !c.is_control() {
                return Some(self.token(Piece::Wrong, at));
            }
        }
    }

    fn token(&self, piece: Piece, at: usize) -> Token {
        Token { piece, at, end: self.at }
    }

    fn stray(&mut self, c: char, at: usize) {
        let shown = if c.is_control() || c.is_whitespace() {
            format!("U+{:04X}", u32::from(c))
        } else {
            format!("{c:?}")
        };
        let hint = match c {
            '[' | ']' | '{' | '}' => {
                Some(say!("there are no lists to write; name a step or field, and use ( ) for brackets"))
            }
            '%' => Some(say!("% is a unit and stands after a number: 19.5 %")),
            '°' => Some(say!("°C stands after a number: 20 °C")),
            '^' => Some(say!("there are no powers here")),
            ';' => Some(say!("a gate is one condition; join conditions with and")),
            '\t' | '\r' | '\u{a0}' => Some(say!("use plain spaces")),
            '“' | '”' | '„' | '‘' | '’' => Some(say!("use the plain quotation mark \"")),
            _ => None,
        };
        self.problem(
            "stray-character",
            at,
            say!("the character {shown} has no meaning in a gate", shown),
            hint.map(str::to_owned),
        );
    }

    fn sign(&mut self) -> Option<Piece> {
        let at = self.at;
        let foreign = |list: &'static [(&'static str, Piece, &'static str)], rest: &str| {
            list.iter().find(|(form, _, _)| rest.starts_with(form))
        };
        if let Some((form, piece, hint)) = foreign(FOREIGN, self.rest()) {
            self.at += form.len();
            self.problem(
                "operator",
                at,
                say!("{form} is not written in a gate", form),
                Some(word(hint).to_owned()),
            );
            return Some(piece.clone());
        }
        if let Some((form, piece)) = SIGNS.iter().find(|(form, _)| self.rest().starts_with(form)) {
            self.at += form.len();
            return Some(piece.clone());
        }
        let (form, piece, hint) = foreign(FOREIGN_SHORT, self.rest())?;
        self.at += form.len();
        self.problem(
            "operator",
            at,
            say!("{form} is not written in a gate", form),
            Some(word(hint).to_owned()),
        );
        Some(piece.clone())
    }

    fn quoted(&mut self, mark: char) -> Piece {
        let at = self.at;
        self.at += 1;
        let Some(length) = self.rest().find(mark) else {
            self.at = self.source.len();
            self.problem("bad-text", at, say!("a quotation mark is opened and not closed"), None);
            return Piece::Wrong;
        };
        let inside = self.rest().get(..length).unwrap_or("").to_owned();
        self.at += length + 1;
        if mark == '\'' {
            self.problem(
                "bad-text",
                at,
                say!("a choice stands in double quotation marks"),
                Some(say!("write \"{inside}\"", inside)),
            );
        }
        if is_id(&inside) {
            return Piece::Id(inside);
        }
        let hint = if Quantity::read(&inside).is_ok() || read_span(&inside).is_ok() {
            say!("write {inside} without quotation marks", inside)
        } else {
            say!("only the id of a choice stands in quotation marks; text is never compared").to_owned()
        };
        self.problem(
            "bad-text",
            at,
            say!("{inside} is not the id of a choice", inside = format!("{inside:?}")),
            Some(hint),
        );
        Piece::Wrong
    }

    fn word(&mut self) -> Piece {
        let at = self.at;
        let length = run(self.rest(), |c| c.is_alphanumeric() || c == '_' || c == '.');
        let text = self.rest().get(..length).unwrap_or("").to_owned();
        self.at += length;
        match text.as_str() {
            "or" => return Piece::Or,
            "and" => return Piece::And,
            "not" => return Piece::Not,
            "between" => return Piece::Between,
            "true" => return Piece::True,
            "false" => return Piece::False,
            _ => {}
        }
        let small = text.to_lowercase();
        let keyword = match small.as_str() {
            "or" => Some(Piece::Or),
            "and" => Some(Piece::And),
            "not" => Some(Piece::Not),
            "between" => Some(Piece::Between),
            "true" => Some(Piece::True),
            "false" => Some(Piece::False),
            _ => None,
        };
        if let Some(piece) = keyword {
            self.problem(
                "operator",
                at,
                say!("{text} is written in small letters", text),
                Some(say!("write {small}", small)),
            );
            return piece;
        }
        let parts: Vec<String> = text.split('.').map(str::to_owned).collect();
        if parts.iter().all(|part| is_id(part)) {
            return Piece::Word(parts);
        }
        let hint = if parts.iter().any(String::is_empty) {
            Some(say!("a point stands between two parts of a name: set.reserve").to_owned())
        } else if small != text && small.split('.').all(is_id) {
            Some(say!("names are in small letters: {small}", small))
        } else {
            Some(
                say!("names are small letters, digits and _, from a letter on, at most 48 characters a part")
                    .to_owned(),
            )
        };
        self.problem("bad-name", at, say!("{text} cannot be a name", text = format!("{text:?}")), hint);
        Piece::Wrong
    }

    /// A number with what belongs to it: a unit, a span word, or the rest of a date.
    fn number(&mut self) -> Piece {
        let at = self.at;
        let digits = run(self.rest(), |c| c.is_ascii_digit());
        let after = self.rest().get(digits..).unwrap_or("");
        if digits == 4 && date_like(after) {
            return self.date();
        }
        let length = run(self.rest(), |c| c.is_ascii_digit() || matches!(c, '.' | '_' | '\''));
        let text = self.rest().get(..length).unwrap_or("").to_owned();
        self.at += length;
        let exponent = exponent(self.rest());
        if exponent > 0 {
            let written = format!("{text}{}", self.rest().get(..exponent).unwrap_or(""));
            self.at += exponent;
            self.problem(
                "bad-number",
                at,
                say!(
                    "got {written}, wanted a number written out, without an exponent",
                    written = format!("{written:?}")
                ),
                None,
            );
            return Piece::Wrong;
        }
        let number = Decimal::kept(&text);
        let spaces = run(self.rest(), |c| c == ' ');
        let tail = self.rest().get(spaces..).unwrap_or("").to_owned();
        let symbol = symbol_at(&tail);
        let here = self.at + spaces;
        if symbol.is_empty() {
            return match number {
                Ok(number) => Piece::Number(Quantity::number(number.to_exact()), None),
                Err(refused) => self.refused("bad-number", at, refused),
            };
        }
        self.at = here + symbol.len();
        if let Err(refused) = number {
            return self.refused("bad-number", at, refused);
        }
        if span_unit(symbol).is_some() {
            return match read_span(&format!("{text} {symbol}")) {
                Ok((months, days)) => Piece::Span(months, days),
                Err(refused) => self.refused("bad-span", at, refused),
            };
        }
        match (Unit::find(symbol), number) {
            (Ok(unit), Ok(number)) => Piece::Number(Quantity::new(&number, &unit), Some(unit)),
            (Err(refused), _) | (Ok(_), Err(refused)) => self.refused("unknown-unit", here, refused),
        }
    }

    fn date(&mut self) -> Piece {
        let at = self.at;
        let length = run(self.rest(), |c| c.is_ascii_digit() || c == '-' || c == '/' || c == '.');
        let text = self.rest().get(..length).unwrap_or("").trim_end_matches(['-', '/', '.']).to_owned();
        self.at += text.len();
        let shape = text.len() == 10
            && text.bytes().enumerate().all(
                |(i, b)| {
                    if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() }
                },
            );
        match text.parse::<Date>() {
            Ok(date) if shape => Piece::Date(date),
            Ok(_) | Err(_) => {
                let hint = say!(
                    "write the date as 2026-01-31; to take numbers from each other, put spaces around the minus"
                );
                self.problem(
                    "bad-date",
                    at,
                    say!("got {text}, wanted a day of the calendar", text = format!("{text:?}")),
                    Some(hint.to_owned()),
                );
                Piece::Wrong
            }
        }
    }

    fn refused(&mut self, code: &'static str, at: usize, refused: Refused) -> Piece {
        self.problem(code, at, refused.message, refused.hint);
        Piece::Wrong
    }
}
