//! A permit's number on few bytes, in the order of its letters: of every permit that there ever was something is kept.

use super::super::kinds;

/// A permit's number, in its form.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Number([u8; LONGEST]);

/// `ABCDEFGH-261125-123`.
const LONGEST: usize = 19;

impl Number {
    /// From its letters; `None` if they are no number.
    pub fn of(text: &str) -> Option<Number> {
        let mut all = [0; LONGEST];
        all.get_mut(..text.len()).filter(|_| kinds::is_permit(text))?.copy_from_slice(text.as_bytes());
        Some(Number(all))
    }

    /// Its letters.
    pub fn as_str(&self) -> &str {
        let end = self.0.iter().position(|b| *b == 0).unwrap_or(LONGEST);
        std::str::from_utf8(self.0.get(..end).unwrap_or_default()).unwrap_or_default()
    }
}

impl std::fmt::Debug for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn numbers_stand_in_the_order_of_their_letters() {
        let texts = ["AB-261125-01", "AB-261125-010", "AB-261125-02", "AB1-261125-01", "ABCDEFGH-261125-123"];
        let numbers: Vec<Number> = texts.iter().map(|t| Number::of(t).unwrap()).collect();
        assert!(texts.is_sorted() && numbers.is_sorted());
        assert!(numbers.iter().map(Number::as_str).eq(texts));
        for none in ["", "AB-261125-1", "ABCDEFGHI-261125-123", "AB-261125-0123"] {
            assert_eq!(Number::of(none), None, "{none}");
        }
    }
}
