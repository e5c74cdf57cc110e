//! Reading, converting and writing quantities.

use super::{Decimal, Dimension, Quantity, Refused, Rounding, Unit, decimal, table};
use crate::tongue::say;
use num_rational::BigRational;
use std::cmp::Ordering;

/// What is told of a text that is no quantity, where nothing better is known.
pub fn examples() -> &'static str {
    say!("write a number, then its unit: 150 bar, -12 °C, 2 ppm")
}

/// What somebody may have meant who wrote a sign before the number that stands in no quantity.
fn meant(got: &str) -> Option<String> {
    let rest = |signs: &[char]| {
        let rest = got.trim_start_matches(signs).trim_start_matches([' ', '\u{a0}', '\u{202f}']);
        (rest.len() < got.len() && rest.starts_with(|c: char| c.is_ascii_digit())).then_some(rest)
    };
    // Minus signs and dashes of a typesetter.
    let minus = rest(&[
        '\u{2212}', '\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}', '\u{fe63}', '\u{ff0d}',
    ]);
    let number = match minus {
        Some(rest) => format!("-{rest}"),
        None => rest(&['<', '>', '=', '\u{2264}', '\u{2265}', '\u{2248}', '~', '\u{b1}'])?.to_owned(),
    };
    Quantity::read(&number).is_ok().then(|| say!("write {number}", number))
}

impl Quantity {
    /// A decimal in a unit.
    pub fn new(number: &Decimal, unit: &Unit) -> Quantity {
        Quantity { value: unit.to_base(&number.to_exact()), dimension: unit.dimension() }
    }

    /// A plain number.
    pub fn number(value: BigRational) -> Quantity {
        Quantity { value, dimension: Dimension::Number }
    }

    /// Reads `150 bar`, `20 °C`, `12%` or a plain number `1.5`; at most one space before the unit.
    ///
    /// # Errors
    /// Says what was got, what was wanted and what to type.
    pub fn read(text: &str) -> Result<Quantity, Refused> {
        Quantity::read_with_unit(text).map(|(quantity, _, _)| quantity)
    }

    /// As [`Quantity::read`], with the number as written and its unit (`None`: a plain number).
    ///
    /// # Errors
    /// As [`Quantity::read`].
    pub fn read_with_unit(text: &str) -> Result<(Quantity, Decimal, Option<Unit>), Refused> {
        let got = text.trim_matches(' ');
        let end = got.find(|c: char| !(c.is_ascii_digit() || "+-.,_'".contains(c))).unwrap_or(got.len());
        let (number, rest) = got.split_at(end);
        if !number.contains(|c: char| c.is_ascii_digit()) {
            let hint = meant(got).unwrap_or_else(|| examples().to_owned());
            return Err(Refused::new(say!(
                "got {got}, wanted a number with its unit",
                got = format!("{got:?}")
            ))
            .hint(hint));
        }
        let number = Decimal::read(number)?;
        let symbol = rest.strip_prefix(' ').unwrap_or(rest);
        if symbol.is_empty() {
            return Ok((Quantity::number(number.to_exact()), number, None));
        }
        let unit = Unit::find(symbol)?;
        Ok((Quantity::new(&number, &unit), number, Some(unit)))
    }

    /// The exact value in a unit; `None` if the unit measures something else.
    pub fn in_unit(&self, unit: Unit) -> Option<BigRational> {
        (unit.dimension() == self.dimension).then(|| unit.from_base(&self.value))
    }

    /// Decimal text in a unit, rounded the way given.
    ///
    /// # Errors
    /// The unit measures something else, more than six decimals, more than nine digits.
    pub fn to_text(&self, unit: Unit, decimals: u8, rounding: Rounding) -> Result<Decimal, Refused> {
        let value = self.in_unit(unit).ok_or_else(|| {
            Refused::new(say!(
                "got the unit {unit} for {what}, which it does not measure",
                unit,
                what = self.dimension.words()
            ))
        })?;
        Decimal::round(&value, decimals, rounding)
    }

    /// Which is larger; `None` between dimensions.
    pub fn compare(&self, other: &Quantity) -> Option<Ordering> {
        if self.dimension != other.dimension {
            return None;
        }
        Some(match (decimal::small(&self.value), decimal::small(&other.value)) {
            // Denominators are positive.
            (Some((a, b)), Some((c, d))) => (a * d).cmp(&(c * b)),
            (_, _) => self.value.cmp(&other.value),
        })
    }

    /// For people, with unit: exact where six decimals hold it, else rounded the way given. In the
    /// unit given if it measures this, else in the usual one.
    pub fn words(&self, unit: Option<Unit>, rounding: Rounding) -> String {
        match unit.filter(|u| u.dimension() == self.dimension).or_else(|| self.dimension.usual_unit()) {
            Some(unit) => {
                let number = decimal::for_people(&unit.from_base(&self.value), rounding);
                format!("{number} {unit}")
            }
            None => decimal::for_people(&self.value, rounding),
        }
    }

    /// The unit a text such as `138 bar` or `< 2 ppm` is written in.
    pub fn unit_shown(text: &str) -> Option<Unit> {
        text.rsplit_once(' ').and_then(|(_, symbol)| table::unit(symbol))
    }
}
