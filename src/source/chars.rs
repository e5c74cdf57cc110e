//! The bytes of a file before anything reads them as YAML: size, UTF-8, forbidden characters.
//!
//! Always: what comes out has no character of `text::forbidden_char`; where one stood there is a
//! finding and a harmless character in its place, so that the rest can still be looked at.

use super::{Findings, MOST_BYTES};
use crate::text::{code_point, forbidden_char};
use crate::tongue::say;

/// No more of these are listed one by one.
const MOST_LISTED: usize = 20;

/// The text, or nothing where there is no use in reading on.
pub(super) fn checked(bytes: &[u8], out: &mut Findings) -> Option<String> {
    if bytes.len() > MOST_BYTES {
        out.error(
            "too-large",
            (0, 0),
            say!("the file has {n} bytes; at most {MOST_BYTES} are read", n = bytes.len(), MOST_BYTES),
        );
        return None;
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(t) => t,
        Err(e) => {
            let (line, column) = position(bytes.get(..e.valid_up_to()).unwrap_or_default());
            out.hinted(
                "not-utf8",
                (line, column),
                say!("byte {n} of the file is not UTF-8", n = e.valid_up_to() + 1),
                say!("save the file as UTF-8 without byte order mark"),
            );
            return None;
        }
    };
    let mut clean = String::with_capacity(text.len());
    let (mut line, mut column, mut listed, mut more) = (1u32, 0u32, 0usize, 0usize);
    for c in text.chars() {
        column += 1;
        if c == '\n' {
            (line, column) = (line + 1, 0);
            clean.push(c);
            continue;
        }
        if !forbidden_char(c) {
            clean.push(c);
            continue;
        }
        clean.push(if c == '\t' || c == '\r' || c == '\u{feff}' { ' ' } else { '?' });
        if listed >= MOST_LISTED {
            more += 1;
            continue;
        }
        listed += 1;
        let point = code_point(c);
        let (code, message, hint) = match c {
            '\u{feff}' => (
                "byte-order-mark",
                say!("a byte order mark, {point}", point),
                say!("save the file as UTF-8 without byte order mark"),
            ),
            '\r' => (
                "carriage-return",
                say!("a carriage return, {point}", point),
                say!("save the file with line feeds alone"),
            ),
            '\t' => ("tab", say!("a tab, {point}", point), say!("indent with spaces")),
            '\0' => ("forbidden-character", say!("a NUL character, {point}", point), say!("remove it")),
            _ => (
                "forbidden-character",
                say!("a character that no record may hold, {point}", point),
                say!("remove it or write it in words"),
            ),
        };
        out.hinted(code, (line, column), message, hint);
    }
    if more > 0 {
        out.error("forbidden-character", (0, 0), say!("and {more} more such characters", more));
    }
    Some(clean)
}

fn position(before: &[u8]) -> (u32, u32) {
    let text = String::from_utf8_lossy(before);
    let line = text.matches('\n').count() as u32 + 1;
    let column = text.rsplit('\n').next().map_or(0, |l| l.chars().count()) as u32 + 1;
    (line, column)
}
