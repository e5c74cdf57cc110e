//! What the characters at a place may be: an id, a date, an exponent, a unit.

use crate::units::{Unit, span_unit};

/// `[a-z][a-z0-9_]{0,47}`
pub(in crate::gate) fn is_id(text: &str) -> bool {
    text.len() <= 48
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}

/// Length in bytes of the longest start whose characters all fit.
pub(super) fn run(text: &str, fits: impl Fn(char) -> bool) -> usize {
    text.find(|c| !fits(c)).unwrap_or(text.len())
}

/// What follows four digits looks like the rest of a date: `-1-2`, `-01-02`.
pub(super) fn date_like(after: &str) -> bool {
    let part = |text: &str| -> Option<usize> {
        let length = run(text.get(1..)?, |c| c.is_ascii_digit());
        (text.starts_with('-') && (1..=2).contains(&length)).then_some(length + 1)
    };
    part(after).and_then(|first| part(after.get(first..)?)).is_some()
}

/// `e3`, `E-3` directly after a number: its length, else 0.
pub(super) fn exponent(rest: &str) -> usize {
    let Some(after) = rest.strip_prefix(['e', 'E']) else {
        return 0;
    };
    let sign = run(after, |c| matches!(c, '+' | '-')).min(1);
    match run(after.get(sign..).unwrap_or(""), |c| c.is_ascii_digit()) {
        0 => 0,
        digits => 1 + sign + digits,
    }
}

/// The unit at the start of a text: as far as it goes with a `/`, if that is a unit or refused as
/// one; else only up to the `/`. Empty if what stands there is an operator or a keyword.
pub(super) fn symbol_at(text: &str) -> &str {
    let fits = |c: char| c.is_alphanumeric() || matches!(c, '_' | '%' | '°' | '³' | '²' | 'º');
    let short = text.get(..run(text, fits)).unwrap_or("");
    if short.is_empty() || matches!(short, "or" | "and" | "not" | "between" | "true" | "false") {
        return "";
    }
    let after = text.get(short.len()..).unwrap_or("");
    if let Some(below) = after.strip_prefix('/') {
        let length = short.len() + 1 + run(below, fits);
        let long = text.get(..length).unwrap_or("");
        let wrong_case_or_trap =
            || Unit::find(long).is_err_and(|refused| refused.hint.is_some()) && Unit::find(short).is_err();
        if crate::units::unit(long).is_some() || wrong_case_or_trap() {
            return long;
        }
        // `Nm3/h`: neither is a unit, and the longer one is what was meant.
        if Unit::find(short).is_err()
            && !below.starts_with(' ')
            && run(below, fits) > 0
            && span_unit(short).is_none()
        {
            return long;
        }
    }
    if let Some(below) = after.strip_prefix('(') {
        // `bar(g)`, `psi(a)`
        let length = short.len() + 2 + run(below, fits);
        let long = text.get(..length).unwrap_or("");
        if long.ends_with(')') && long.len() <= 8 {
            return long;
        }
    }
    short
}
