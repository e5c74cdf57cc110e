//! Types of + - * / and of the minus sign.

use super::super::Type;
use super::super::tree::Arithmetic;
use super::{Checker, words};
use crate::tongue::say;
use crate::units::{Dimension, product, quotient};

impl Checker<'_> {
    pub(super) fn negate(&mut self, ty: Option<Type>, at: usize) -> Option<Type> {
        match ty? {
            Type::Quantity(Dimension::Temperature) => {
                let hint = Some(say!("a minus before a number belongs to it: -5 °C").to_owned());
                self.problem("wrong-type", at, say!("a temperature is a point and has no opposite"), hint);
                None
            }
            ty @ (Type::Quantity(_) | Type::Span) => Some(ty),
            ty @ (Type::Bool | Type::Choice { .. } | Type::Date | Type::Text | Type::List(_)) => {
                self.problem(
                    "wrong-type",
                    at,
                    say!("a minus sign stands before {what}", what = words(&ty)),
                    None,
                );
                None
            }
        }
    }

    pub(super) fn arithmetic(
        &mut self,
        sign: Arithmetic,
        left: Type,
        right: Type,
        at: usize,
    ) -> Option<Type> {
        match sign {
            Arithmetic::Plus | Arithmetic::Minus => self.added(sign, &left, &right, at),
            Arithmetic::Times | Arithmetic::Over => self.multiplied(sign, &left, &right, at),
        }
    }

    fn added(&mut self, sign: Arithmetic, left: &Type, right: &Type, at: usize) -> Option<Type> {
        use Dimension::{Temperature, TemperatureDifference};
        let plus = sign == Arithmetic::Plus;
        match (left, right) {
            (Type::Date, Type::Span) => Some(Type::Date),
            (Type::Span, Type::Date) if plus => Some(Type::Date),
            (Type::Date, Type::Date) if !plus => Some(Type::Span),
            (Type::Date, Type::Date) => {
                self.problem(
                    "wrong-type",
                    at,
                    say!("two dates are added"),
                    Some(say!("a date less a date is a number of days").to_owned()),
                );
                None
            }
            (Type::Span, Type::Span) => Some(Type::Span),
            (Type::Quantity(Temperature), Type::Quantity(Temperature)) => {
                if plus {
                    let hint = say!("°C and °F are points; what is added to one is a difference, in K or dF");
                    self.problem(
                        "wrong-dimension",
                        at,
                        say!("two temperatures are added"),
                        Some(hint.to_owned()),
                    );
                    return None;
                }
                Some(Type::Quantity(TemperatureDifference))
            }
            (Type::Quantity(Temperature), Type::Quantity(TemperatureDifference)) => {
                Some(Type::Quantity(Temperature))
            }
            (Type::Quantity(TemperatureDifference), Type::Quantity(Temperature)) if plus => {
                Some(Type::Quantity(Temperature))
            }
            (Type::Quantity(a), Type::Quantity(b)) if a == b => Some(Type::Quantity(*a)),
            (Type::Quantity(a), Type::Quantity(b)) => {
                let message = if plus {
                    say!("{a} is added up with {b}", a = a.words(), b = b.words())
                } else {
                    say!("{a} is in one difference with {b}", a = a.words(), b = b.words())
                };
                self.differing(*a, *b, message, at);
                None
            }
            (Type::Span | Type::Date, Type::Quantity(Dimension::Duration))
            | (Type::Quantity(Dimension::Duration), Type::Span | Type::Date) => {
                self.span_with_duration(at);
                None
            }
            (
                Type::Bool
                | Type::Choice { .. }
                | Type::Date
                | Type::Span
                | Type::Quantity(_)
                | Type::Text
                | Type::List(_),
                Type::Bool
                | Type::Choice { .. }
                | Type::Date
                | Type::Span
                | Type::Quantity(_)
                | Type::Text
                | Type::List(_),
            ) => {
                let hint = match (left, right) {
                    (Type::Date, Type::Quantity(Dimension::Number)) => {
                        Some(say!("say what is counted: 10 days, 3 months").to_owned())
                    }
                    _ => None,
                };
                self.problem(
                    "wrong-type",
                    at,
                    say!(
                        "{left} {sign} {right} has no meaning",
                        left = words(left),
                        sign = sign.sign(),
                        right = words(right)
                    ),
                    hint,
                );
                None
            }
        }
    }

    fn multiplied(&mut self, sign: Arithmetic, left: &Type, right: &Type, at: usize) -> Option<Type> {
        let (Type::Quantity(a), Type::Quantity(b)) = (left, right) else {
            self.problem(
                "wrong-type",
                at,
                say!(
                    "{left} {sign} {right} has no meaning",
                    left = words(left),
                    sign = sign.sign(),
                    right = words(right)
                ),
                None,
            );
            return None;
        };
        let named = match sign {
            Arithmetic::Times => product(*a, *b),
            Arithmetic::Over => quotient(*a, *b),
            Arithmetic::Plus | Arithmetic::Minus => None,
        };
        if named.is_none() {
            let hint = if *a == Dimension::Temperature || *b == Dimension::Temperature {
                Some(say!("a temperature is a point on a scale: only differences (K, dF) are multiplied"))
            } else if matches!(
                (a, b),
                (Dimension::Voltage, Dimension::Current) | (Dimension::Current, Dimension::Voltage)
            ) {
                Some(say!(
                    "volts times amperes are not watts where the load is a motor; compare each with the plate"
                ))
            } else {
                None
            };
            let message = say!(
                "{left} {sign} {right} has no name here",
                left = a.words(),
                sign = sign.sign(),
                right = b.words()
            );
            self.problem("wrong-dimension", at, message, hint.map(str::to_owned));
        }
        named.map(Type::Quantity)
    }
}
