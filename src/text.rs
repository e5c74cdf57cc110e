//! Text for people, and text from strangers: making foreign text safe for a terminal or paper, the
//! characters the record forbids, plurals and lists in English, the nearest known word, NFC.
//!
//! Always: [`safe`] and [`safe_line`] never emit a character of [`forbidden_char`]; nothing here fails.
//! Not here: languages and templates (`words`), numbers and units (`units`).

use std::borrow::Cow;
use unicode_normalization::char::is_combining_mark;
use unicode_normalization::{UnicodeNormalization, is_nfc};

/// True for a character that no text in a record, and no file cited by one, may hold: controls
/// (line feed excepted), direction marks and overrides, line and paragraph separators, byte order
/// mark, interlinear marks, noncharacters. A line feed is allowed here; one-line texts refuse it
/// with [`forbidden_in_line`].
pub fn forbidden_char(c: char) -> bool {
    matches!(c,
        '\u{0}'..='\u{9}' | '\u{b}'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{61c}'
        | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
        | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{fdd0}'..='\u{fdef}')
        || (c as u32) & 0xfffe == 0xfffe
}

/// As [`forbidden_char`], and the line feed too.
pub fn forbidden_in_line(c: char) -> bool {
    c == '\n' || forbidden_char(c)
}

/// A character's code as people read it: `U+202E`.
pub fn code_point(c: char) -> String {
    format!("U+{:04X}", c as u32)
}

/// The text with every forbidden character shown as its code; line feeds stay.
pub fn safe(text: &str) -> Cow<'_, str> {
    shown(text, forbidden_char)
}

/// The text on one line: every forbidden character and every line feed shown as its code.
pub fn safe_line(text: &str) -> Cow<'_, str> {
    shown(text, forbidden_in_line)
}

fn shown(text: &str, forbidden: fn(char) -> bool) -> Cow<'_, str> {
    if !text.chars().any(forbidden) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if forbidden(c) {
            out.push_str(&code_point(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// What somebody wrote, cut to `most` characters and made safe, for quoting in a message.
pub fn quoted(text: &str, most: usize) -> String {
    let mut out = String::from("`");
    out.push_str(&safe_line(&text.chars().take(most).collect::<String>()));
    if text.chars().nth(most).is_some() {
        out.push_str("...");
    }
    out.push('`');
    out
}

/// The first 60 characters of foreign text, for messages.
pub fn short(s: &str) -> String {
    let safe = safe_line(s);
    if safe.chars().count() > 60 {
        safe.chars().take(60).chain("...".chars()).collect()
    } else {
        safe.into_owned()
    }
}

/// Breaks a line between words so that none is longer than `width` characters where that can be had;
/// what goes on stands under where the line began.
pub fn wrapped(line: &str, width: usize) -> Vec<String> {
    let indent: String = line.chars().take_while(|c| *c == ' ').collect();
    let mut out = Vec::new();
    let mut now = String::new();
    for word in line.trim_start_matches(' ').split(' ') {
        let long = indent.chars().count() + now.chars().count() + 1 + word.chars().count() > width;
        if !now.is_empty() && long {
            out.push(format!("{indent}{now}"));
            now.clear();
        } else if !now.is_empty() {
            now.push(' ');
        }
        now.push_str(word);
    }
    out.push(format!("{indent}{now}"));
    out
}

/// A person's, set's or place's id: `[a-z][a-z0-9-]{0,31}`.
pub fn is_id(s: &str) -> bool {
    let b = s.as_bytes();
    b.len() <= 32
        && b.first().is_some_and(u8::is_ascii_lowercase)
        && b.iter().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || *c == b'-')
}

/// A word of a step, a choice, a gauge: `[a-z][a-z0-9_]{0,47}`.
pub fn is_ident(s: &str) -> bool {
    let b = s.as_bytes();
    b.len() <= 48
        && b.first().is_some_and(u8::is_ascii_lowercase)
        && b.iter().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || *c == b'_')
}

/// Unicode normalisation form C.
pub fn nfc(text: &str) -> Cow<'_, str> {
    if is_nfc(text) { Cow::Borrowed(text) } else { Cow::Owned(text.nfc().collect()) }
}

/// Small letters without marks: two names that differ in no more are the same here.
pub fn bare(text: &str) -> String {
    let plain = |c: char| match c {
        'ł' => 'l',
        'ø' => 'o',
        'đ' => 'd',
        c => c,
    };
    text.trim().nfd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase).map(plain).collect()
}

/// `1 cylinder`, `0 cylinders`, `3 cylinders`.
pub fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// `a`, `a and b`, `a, b and c` with the given last word.
pub fn listed<T: AsRef<str>>(items: &[T], last_word: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} {last_word} {}", most.join(", "), last.as_ref())
        }
    }
}

/// The candidate that is nearest to what was written, if one is near enough to be meant: at most a
/// third of its letters differ. Of equals the first.
pub fn nearest<'a>(written: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Longer words are no names of ours; distance is quadratic.
    if written.chars().nth(96).is_some() {
        return None;
    }
    let lower = written.to_lowercase();
    let mut best: Option<(usize, &str)> = None;
    for c in candidates {
        let d = distance(&lower, c);
        let allowed = c.chars().count().max(lower.chars().count()).div_ceil(3);
        if d <= allowed && best.is_none_or(|(b, _)| d < b) {
            best = Some((d, c));
        }
    }
    best.map(|(_, c)| c)
}

/// Edits between two words: insert, delete, replace, swap of neighbours (optimal string alignment).
fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut now = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let replace = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut d = replace.min(last[j] + 1).min(now[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                d = d.min(before[j - 2] + 1);
            }
            now[j] = d;
        }
        before = std::mem::replace(&mut last, now);
    }
    last[b.len()]
}

/// SHA-256 of some bytes as 64 lower-case hex digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    use sha2::Digest as _;
    data_encoding::HEXLOWER.encode(&sha2::Sha256::digest(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_lose_nothing() {
        let line = "  the needle of cylinder B stands at 181 bar";
        let got = wrapped(line, 20);
        assert_eq!(got, ["  the needle of", "  cylinder B stands", "  at 181 bar"]);
        assert_eq!(wrapped("", 20), [""]);
        assert_eq!(wrapped("short", 20), ["short"]);
        assert_eq!(wrapped("averyveryverylongword and", 8), ["averyveryverylongword", "and"]);
    }

    #[test]
    fn terminal_escapes_and_direction_overrides_are_shown_as_codes() {
        assert_eq!(safe("gauge \u{1b}[2J B"), "gauge U+001B[2J B");
        assert_eq!(safe("pass\u{202e}drow"), "passU+202Edrow");
        assert_eq!(safe_line("a\nb"), "aU+000Ab");
        assert_eq!(safe("a\nb"), "a\nb");
        assert_eq!(safe("Łukasz ≥ 3 °C"), "Łukasz ≥ 3 °C");
    }

    #[test]
    fn exactly_the_profile_is_forbidden() {
        // The list of the record's profile, written out again as ranges.
        let ranges: &[(u32, u32)] = &[
            (0x00, 0x09),
            (0x0b, 0x1f),
            (0x7f, 0x9f),
            (0x61c, 0x61c),
            (0x200e, 0x200f),
            (0x2028, 0x202e),
            (0x2066, 0x2069),
            (0xfeff, 0xfeff),
            (0xfff9, 0xfffb),
            (0xfdd0, 0xfdef),
        ];
        for n in 0..=0x10_ffffu32 {
            let Some(c) = char::from_u32(n) else { continue };
            let want = ranges.iter().any(|(a, b)| (*a..=*b).contains(&n)) || n % 0x1_0000 >= 0xfffe;
            assert_eq!(forbidden_char(c), want, "U+{n:04X}");
        }
    }

    #[test]
    fn words_for_numbers_and_lists() {
        assert_eq!(counted(1, "hose", "hoses"), "1 hose");
        assert_eq!(counted(0, "hose", "hoses"), "0 hoses");
        assert_eq!(listed(&["a", "b", "c"], "or"), "a, b or c");
        assert_eq!(listed(&["a", "b"], "and"), "a and b");
        assert_eq!(listed::<&str>(&[], "and"), "");
    }

    #[test]
    fn nearest_means_a_slip_of_the_hand_not_any_word() {
        assert_eq!(nearest("decimls", ["decimals", "derived"]), Some("decimals"));
        assert_eq!(nearest("fxi", ["fix", "how"]), Some("fix"));
        assert_eq!(nearest("Gate", ["gate"]), Some("gate"));
        assert_eq!(nearest("elephant", ["gate", "step"]), None);
    }

    #[test]
    fn hash_of_abc() {
        // FIPS 180-4 example, SHA-256("abc").
        assert_eq!(sha256_hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn composed_form() {
        assert_eq!(nfc("Z\u{307}o"), "Żo");
        assert!(matches!(nfc("Żo"), Cow::Borrowed(_)));
    }

    #[test]
    fn a_quotation_is_cut_and_safe() {
        assert_eq!(quoted("abcdef", 3), "`abc...`");
        assert_eq!(quoted("a\u{7}", 3), "`aU+0007`");
    }
}
