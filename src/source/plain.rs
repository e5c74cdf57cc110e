//! What an unquoted scalar might be taken for: numbers written in ways that readers disagree on,
//! truth values, dates, nothing at all.
//!
//! Always: a decimal that is accepted has the form `-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?`. No float.

use crate::tongue::say;
use crate::units::Decimal;

/// Reads a number, or says in words what is wrong with it.
pub(super) fn decimal(text: &str) -> Result<Decimal, String> {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, part) = match digits.split_once('.') {
        Some((w, p)) => (w, Some(p)),
        None => (digits, None),
    };
    let all_digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let lower = text.to_ascii_lowercase();
    if text.is_empty() {
        return Err(say!("nothing is not a number").into());
    }
    if lower.contains("nan") || lower.contains("inf") {
        return Err(say!("not a finite number").into());
    }
    if lower.trim_start_matches(['-', '+']).starts_with("0x") {
        return Err(say!("hexadecimal; write it in decimal").into());
    }
    if lower.trim_start_matches(['-', '+']).starts_with("0o")
        || lower.trim_start_matches(['-', '+']).starts_with("0b")
    {
        return Err(say!("octal or binary; write it in decimal").into());
    }
    if text.starts_with('+') {
        return Err(say!("a plus sign is not wanted").into());
    }
    if lower.contains('e') && lower.bytes().all(|b| b.is_ascii_digit() || b"e.+-".contains(&b)) {
        return Err(say!("an exponent; write the digits out").into());
    }
    if text.contains(['_', ' ', '\'', '\u{a0}', '\u{202f}'])
        && text.bytes().next().is_some_and(|b| b.is_ascii_digit() || b == b'-')
    {
        return Err(say!("digits must not be grouped").into());
    }
    if text.contains(',') {
        return Err(say!("in files the decimal sign is a point, and digits are not grouped").into());
    }
    if !all_digits(whole) || part.is_some_and(|p| !all_digits(p)) {
        return Err(match part {
            Some(_) if whole.is_empty() && part.is_some_and(all_digits) => {
                say!("a digit is wanted before the point").into()
            }
            Some("") if all_digits(whole) => say!("a digit is wanted after the point").into(),
            Some(_) | None => say!("not a number").into(),
        });
    }
    if whole.len() > 1 && whole.starts_with('0') {
        return Err(say!("leading zeros; some readers take them for octal").into());
    }
    if whole.len() > 9 {
        return Err(say!("at most 9 digits before the point").into());
    }
    if part.is_some_and(|p| p.len() > 6) {
        return Err(say!("at most 6 decimals").into());
    }
    Decimal::kept(text).map_err(|e| e.message)
}

/// What an unquoted text might be taken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Other {
    /// A truth value.
    Truth,
    /// No value at all.
    Nothing,
    /// A number.
    Number,
    /// A number whose digits count sixties.
    Sixties,
    /// A date.
    Date,
}

impl Other {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Other::Truth => say!("true or false"),
            Other::Nothing => say!("no value"),
            Other::Number => say!("a number"),
            Other::Sixties => say!("a number in sixties"),
            Other::Date => say!("a date"),
        }
    }
}

/// What some YAML reader would take an unquoted text for, if not for text. Such text needs quotes.
pub fn reads_as_other(text: &str) -> Option<Other> {
    let lower = text.to_ascii_lowercase();
    match lower.as_str() {
        "true" | "false" | "yes" | "no" | "on" | "off" | "y" | "n" => return Some(Other::Truth),
        "" | "~" | "null" => return Some(Other::Nothing),
        ".nan" | ".inf" | "-.inf" | "+.inf" => return Some(Other::Number),
        _ => {}
    }
    let body = lower.trim_start_matches(['-', '+']);
    let mut chars = body.chars();
    let starts =
        chars.next().is_some_and(|c| c.is_ascii_digit()) || (body.starts_with('.') && body.len() > 1);
    if !starts {
        return None;
    }
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit() || b == b'_');
    if let Some(hex) = body.strip_prefix("0x") {
        return hex.bytes().all(|b| b.is_ascii_hexdigit() || b == b'_').then_some(Other::Number);
    }
    if let Some(rest) = body.strip_prefix("0o").or_else(|| body.strip_prefix("0b")) {
        return digits(rest).then_some(Other::Number);
    }
    if body.bytes().all(|b| b.is_ascii_digit() || b"_.,".contains(&b))
        && body.bytes().filter(|b| *b == b'.').count() <= 1
    {
        return Some(Other::Number);
    }
    if let Some((m, e)) = body.split_once('e')
        && digits(e.trim_start_matches(['-', '+']))
        && m.bytes().all(|b| b.is_ascii_digit() || b == b'.')
    {
        return Some(Other::Number);
    }
    let parts: Vec<&str> = body.split(':').collect();
    if parts.len() > 1 && parts.iter().all(|p| digits(p.trim_end_matches('.'))) {
        return Some(Other::Sixties);
    }
    let date: Vec<&str> = lower.split('-').collect();
    if date.len() == 3
        && date[0].len() == 4
        && digits(date[0])
        && digits(date[1])
        && date[2].bytes().next().is_some_and(|b| b.is_ascii_digit())
    {
        return Some(Other::Date);
    }
    None
}
