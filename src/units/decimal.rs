//! Decimal text: the only form in which numbers are typed, written and kept.
//!
//! `-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?`. Always: what [`Decimal`] prints is in that form, reads
//! back as itself, and keeps the places that were typed (`1.50` stays `1.50`: two decimals say
//! how finely somebody read). `-0` in any spelling is refused, so that nought has one sign.
//! Not here: units, and whether a step wants this many decimals (the step asks [`Decimal::fits`]).

use super::Refused;
use crate::tongue::{say, say_n};
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};
use std::fmt;

/// Most decimals a number may have.
pub const MOST_DECIMALS: u8 = 6;
const MOST_DIGITS: usize = 9;
const MOST_WHOLE: i128 = 1_000_000_000;

/// A number in decimal text, at most nine digits before the point and six after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Decimal {
    /// The digits without the point.
    digits: i64,
    /// How many of them stand after the point, 0 to 6.
    places: u8,
}

/// Which way a number that does not fit its decimals goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// Towards minus infinity.
    Down,
    /// Towards plus infinity.
    Up,
    /// To the nearest; halves away from nought.
    Nearest,
}

impl Decimal {
    /// Reads what a person typed: as kept, or with a decimal comma.
    ///
    /// `1,250` is refused: it may mean 1250 as well as 1.250.
    ///
    /// # Errors
    /// Says what was got, what was wanted and what to type.
    pub fn read(text: &str) -> Result<Decimal, Refused> {
        let got = text.trim_matches(' ');
        match got.split_once(',') {
            None => Decimal::kept(got),
            Some((_, rest)) if rest.contains([',', '.']) => Err(grouped(got)),
            Some((whole, _)) if whole.contains('.') => Err(grouped(got)),
            Some((whole, rest)) => {
                let lead = whole.trim_start_matches('-');
                if rest.len() == 3 && lead != "0" && (1..=3).contains(&lead.len()) {
                    return Err(Refused::new(say!(
                        "got {got}, which may mean {whole}{rest} or {whole}.{rest}",
                        got = format!("{got:?}"),
                        whole,
                        rest
                    ))
                    .hint(say!("write {whole}{rest} or {whole}.{rest}", whole, rest)));
                }
                Decimal::kept(&format!("{whole}.{rest}"))
            }
        }
    }

    /// Reads a number as the record keeps it: the exact form, with a point.
    ///
    /// # Errors
    /// Says what was got, what was wanted and what to type.
    pub fn kept(text: &str) -> Result<Decimal, Refused> {
        let wrong = |wanted: &str| {
            Refused::new(say!("got {got}, wanted {wanted}", got = format!("{text:?}"), wanted))
        };
        if text.is_empty() {
            return Err(Refused::new(say!("got nothing, wanted a number"))
                .hint(say!("write a number such as 138 or 0.5")));
        }
        if text.starts_with('+') {
            return Err(wrong(say!("a number without a plus sign"))
                .hint(say!("write {unsigned}", unsigned = text.trim_start_matches('+'))));
        }
        let (negative, unsigned) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        if unsigned.chars().any(|c| c.is_numeric() && !c.is_ascii_digit()) {
            return Err(wrong(say!("the digits 0 to 9")));
        }
        if unsigned.contains(['_', '\'', ' ', ',', '\u{a0}', '\u{202f}']) {
            return Err(grouped(text));
        }
        if unsigned.starts_with(|c: char| c.is_ascii_digit()) && unsigned.contains(['e', 'E']) {
            return Err(wrong(say!("a number written out, without an exponent")));
        }
        let (whole, part) = match unsigned.split_once('.') {
            Some((whole, part)) => (whole, Some(part)),
            None => (unsigned, None),
        };
        let digits_only = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
        if !digits_only(whole) || !part.is_none_or(digits_only) {
            return Err(wrong(say!("a number, digits with at most one point between them"))
                .hint(say!("write a number such as 138 or 0.5")));
        }
        if whole.len() > 1 && whole.starts_with('0') {
            return Err(wrong(say!("a number without leading noughts")));
        }
        if whole.len() > MOST_DIGITS {
            return Err(wrong(say!("at most 9 digits before the point")));
        }
        let part = part.unwrap_or("");
        if part.len() > usize::from(MOST_DECIMALS) {
            return Err(wrong(say!("at most 6 digits after the point")));
        }
        // At most 15 digits: an i64 holds them.
        let mut digits: i64 = 0;
        for b in whole.bytes().chain(part.bytes()) {
            digits = digits * 10 + i64::from(b - b'0');
        }
        if negative && digits == 0 {
            return Err(wrong(say!("nought without a sign")).hint(say!("write {unsigned}", unsigned)));
        }
        let places = u8::try_from(part.len()).unwrap_or(MOST_DECIMALS);
        Ok(Decimal { digits: if negative { -digits } else { digits }, places })
    }

    /// Rounds an exact value to this many decimals.
    ///
    /// # Errors
    /// More than six decimals, or more than nine digits before the point.
    pub fn round(value: &BigRational, decimals: u8, rounding: Rounding) -> Result<Decimal, Refused> {
        if decimals > MOST_DECIMALS {
            return Err(Refused::new(say!(
                "got {decimals} decimals, wanted at most {MOST_DECIMALS}",
                decimals,
                MOST_DECIMALS
            )));
        }
        let scaled = value * BigRational::from_integer(BigInt::from(10).pow(u32::from(decimals)));
        let whole = match rounding {
            Rounding::Down => scaled.floor(),
            Rounding::Up => scaled.ceil(),
            Rounding::Nearest => scaled.round(),
        };
        whole
            .to_integer()
            .to_i64()
            .filter(|d| i128::from(*d).abs() < MOST_WHOLE * 10_i128.pow(u32::from(decimals)))
            .map(|digits| Decimal { digits, places: decimals })
            .ok_or_else(|| {
                Refused::new(say!("got a number too large to keep, wanted at most 9 digits before the point"))
            })
    }

    /// The shortest decimal text that is exactly this value, if there is one.
    pub fn exactly(value: &BigRational) -> Option<Decimal> {
        (0..=MOST_DECIMALS).find_map(|decimals| {
            let text = Decimal::round(value, decimals, Rounding::Nearest).ok()?;
            (text.to_exact() == *value).then_some(text)
        })
    }

    /// How many digits stand after the point.
    pub fn places(&self) -> u8 {
        self.places
    }

    /// The exact value.
    pub fn to_exact(&self) -> BigRational {
        let below = 10_i128.pow(u32::from(self.places));
        lowest(i128::from(self.digits), below)
            .unwrap_or_else(|| BigRational::new(BigInt::from(self.digits), BigInt::from(below)))
    }

    /// Refuses more decimals than a step allows; nothing is rounded away.
    ///
    /// # Errors
    /// More decimals than allowed.
    pub fn fits(&self, decimals: u8) -> Result<(), Refused> {
        if self.places <= decimals {
            return Ok(());
        }
        Err(Refused::new(match decimals {
            0 => say!("got {got}, wanted a whole number", got = self),
            n => say_n!(
                n,
                "got {got}, wanted at most {n} decimal",
                "got {got}, wanted at most {n} decimals",
                got = self
            ),
        })
        .hint(say!("type what the instrument shows, no finer")))
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.digits < 0 { "-" } else { "" };
        let scale = 10_u64.pow(u32::from(self.places));
        let (whole, part) = (self.digits.unsigned_abs() / scale, self.digits.unsigned_abs() % scale);
        match self.places {
            0 => write!(f, "{sign}{whole}"),
            places => write!(f, "{sign}{whole}.{part:0width$}", width = usize::from(places)),
        }
    }
}

/// A text for people of a value that need not end: exact if six decimals hold it, else rounded
/// the way given, with as many decimals (from 3 on) as it takes not to show nought for something.
pub(super) fn for_people(value: &BigRational, rounding: Rounding) -> String {
    if let Some(text) = Decimal::exactly(value) {
        return text.to_string();
    }
    for decimals in 3..=MOST_DECIMALS {
        match Decimal::round(value, decimals, rounding) {
            Ok(text) if text.digits != 0 => return text.to_string(),
            Ok(_) => {}
            Err(_) => {
                return if value.is_negative() {
                    say!("less than -999999999")
                } else {
                    say!("more than 999999999")
                }
                .to_owned();
            }
        }
    }
    if value.is_zero() { "0" } else { say!("less than 0.000001") }.to_owned()
}

/// The parts of a fraction that is as small as what people read off an instrument.
pub(super) fn small(value: &BigRational) -> Option<(i128, i128)> {
    Some((i128::from(value.numer().to_i64()?), i128::from(value.denom().to_i64()?)))
}

/// A fraction in lowest terms, as `BigRational::new` makes it, many times quicker; `None` where the parts are too large for
/// that, or there is no such fraction.
pub(super) fn lowest(above: i128, below: i128) -> Option<BigRational> {
    let (mut a, mut b) =
        (u64::try_from(above.unsigned_abs()).ok()?, u64::try_from(below.unsigned_abs()).ok()?);
    if b == 0 {
        return None;
    }
    while b != 0 {
        (a, b) = (b, a % b);
    }
    let (above, below) = (above / i128::from(a), below / i128::from(a));
    let sign = if below < 0 { -1 } else { 1 };
    Some(BigRational::new_raw(BigInt::from(sign * above), BigInt::from(sign * below)))
}

fn grouped(got: &str) -> Refused {
    if got.chars().any(char::is_alphabetic) {
        return Refused::new(say!(
            "got {got}, wanted a number, alone or with the very unit that is asked for",
            got = format!("{got:?}")
        ))
        .hint(say!("work it out in that unit, or type the number alone if it was read in it"));
    }
    Refused::new(say!("got {got}, wanted a number without groups of digits", got = format!("{got:?}")))
        .hint(say!("write the digits together, with a point before the decimals"))
}
