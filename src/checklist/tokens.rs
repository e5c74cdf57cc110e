//! The words of a gate's source, for what is compared or looked for as text: the parts of a `when`,
//! a step compared with a limit. The meaning is the gate language's alone; nothing here judges.
//!
//! Always conservative: where the shape is not plainly seen, nothing is claimed.

/// Tokens with their byte offset: quoted texts, words (with dots), numbers, signs.
pub(super) fn tokens(source: &str) -> Vec<(usize, &str)> {
    let mut out = Vec::new();
    let mut chars = source.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        if c.is_whitespace() {
            continue;
        }
        let mut end = at + c.len_utf8();
        if c == '"' {
            for (i, d) in chars.by_ref() {
                end = i + d.len_utf8();
                if d == '"' {
                    break;
                }
            }
        } else if c.is_alphanumeric() || c == '_' || c == '°' {
            while let Some((i, d)) =
                chars.next_if(|(_, d)| d.is_alphanumeric() || matches!(d, '_' | '.' | '°'))
            {
                end = i + d.len_utf8();
            }
        } else if matches!(c, '<' | '>' | '=' | '!')
            && let Some((i, d)) = chars.next_if(|(_, d)| *d == '=')
        {
            end = i + d.len_utf8();
        }
        out.push((at, source.get(at..end).unwrap_or_default()));
    }
    out
}

/// A condition taken apart at its outermost `and`s; each part as its words with single spaces between.
/// One with an outermost `or` is a single part.
pub(super) fn conjuncts(source: &str) -> Vec<String> {
    let words: Vec<&str> = tokens(source).into_iter().map(|(_, t)| t).collect();
    let mut out = Vec::new();
    split(&words, &mut out);
    out
}

fn split(words: &[&str], out: &mut Vec<String>) {
    let words = unwrapped(words);
    let mut depth = 0usize;
    let mut between = false;
    let mut cuts = Vec::new();
    for (i, w) in words.iter().enumerate() {
        match *w {
            "(" => depth += 1,
            ")" => depth = depth.saturating_sub(1),
            "or" if depth == 0 => {
                out.push(words.join(" "));
                return;
            }
            "between" if depth == 0 => between = true,
            "and" if depth == 0 && between => between = false,
            "and" if depth == 0 => cuts.push(i),
            _ => {}
        }
    }
    if cuts.is_empty() {
        out.push(words.join(" "));
        return;
    }
    let mut from = 0;
    for cut in cuts.into_iter().chain([words.len()]) {
        split(words.get(from..cut).unwrap_or_default(), out);
        from = cut + 1;
    }
}

/// Without brackets around the whole.
fn unwrapped<'a, 'b>(mut words: &'a [&'b str]) -> &'a [&'b str] {
    while let ["(", inner @ .., ")"] = words {
        let mut depth = 0i32;
        let whole = inner.iter().all(|w| {
            depth += i32::from(*w == "(") - i32::from(*w == ")");
            depth >= 0
        });
        if !whole {
            break;
        }
        words = inner;
    }
    words
}

/// Which way a limit lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted {
    /// The value must be at least, or more than, something.
    AtLeast,
    /// At most, or less than.
    AtMost,
}

/// The ways in which a step's own value is compared, where it stands alone on one side of a
/// comparison. With a `not` anywhere nothing is claimed.
pub(super) fn directions(source: &str, own: &str) -> Vec<Wanted> {
    let words: Vec<&str> = tokens(source).into_iter().map(|(_, t)| t).collect();
    if words.contains(&"not") {
        return Vec::new();
    }
    let mut out = Vec::new();
    for (i, _) in words.iter().enumerate().filter(|(_, w)| **w == own) {
        let before = i.checked_sub(1).and_then(|n| words.get(n)).copied().unwrap_or("and");
        let after = words.get(i + 1).copied().unwrap_or("and");
        let bounded = |w: &str| matches!(w, "and" | "or" | "(" | ")");
        let wanted = match (before, after) {
            (b, "<" | "<=") if bounded(b) => Wanted::AtMost,
            (b, ">" | ">=") if bounded(b) => Wanted::AtLeast,
            ("<" | "<=", a) if bounded(a) => Wanted::AtLeast,
            (">" | ">=", a) if bounded(a) => Wanted::AtMost,
            _ => continue,
        };
        out.push(wanted);
    }
    out
}

/// A gate that is one comparison of the step's own value with a literal: the sign, turned so that the
/// step stands left, and the literal's text.
pub(super) fn single_comparison(source: &str, own: &str) -> Option<(&'static str, String)> {
    let words: Vec<&str> = tokens(source).into_iter().map(|(_, t)| t).collect();
    let words = unwrapped(&words);
    let literal = |w: &[&str]| {
        let number = w.iter().position(|t| *t != "-")?;
        let is_number = w.get(number)?.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        let plain = w
            .iter()
            .skip(number + 1)
            .all(|t| !matches!(*t, "+" | "-" | "*" | "(" | ")" | "and" | "or" | "not"));
        (is_number && number <= 1 && plain && w.len() <= number + 4).then(|| {
            let unit = w.get(number + 1..).unwrap_or_default().concat();
            format!("{}{} {unit}", if number == 1 { "-" } else { "" }, w[number]).trim_end().to_owned()
        })
    };
    let turned = |op: &str, left: bool| -> Option<&'static str> {
        Some(match (op, left) {
            ("<", true) | (">", false) => "<",
            ("<=", true) | (">=", false) => "<=",
            (">", true) | ("<", false) => ">",
            (">=", true) | ("<=", false) => ">=",
            ("==", _) => "==",
            _ => return None,
        })
    };
    match words {
        [o, op, rest @ ..] if *o == own => Some((turned(op, true)?, literal(rest)?)),
        [rest @ .., op, o] if *o == own => Some((turned(op, false)?, literal(rest)?)),
        _ => None,
    }
}

/// Words of the language itself.
pub(super) fn is_word(token: &str) -> bool {
    matches!(
        token,
        "and"
            | "or"
            | "not"
            | "between"
            | "true"
            | "false"
            | "least"
            | "most"
            | "sum"
            | "all"
            | "any"
            | "count"
            | "given"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_condition_comes_apart_at_its_outermost_ands() {
        assert_eq!(
            conjuncts("a == \"x and y\" and  b between 1 bar and 2 bar and (c and d)"),
            ["a == \"x and y\"", "b between 1 bar and 2 bar", "c", "d"]
        );
        assert_eq!(conjuncts("a and b or c"), ["a and b or c"]);
        assert_eq!(conjuncts("((a or b)) and c"), ["a or b", "c"]);
        assert_eq!(conjuncts("(a) and (b)"), ["a", "b"]);
    }

    #[test]
    fn a_side_of_a_comparison_shows_its_direction() {
        assert_eq!(directions("x >= 3 min and x <= site.most", "x"), [Wanted::AtLeast, Wanted::AtMost]);
        assert_eq!(directions("job.way_out * 1.5 <= x", "x"), [Wanted::AtLeast]);
        assert_eq!(directions("x * 2 >= 3 min", "x"), []);
        assert_eq!(directions("10 min - x >= 3 min", "x"), []);
        assert_eq!(directions("not (x >= 3 min)", "x"), []);
    }

    #[test]
    fn only_a_lone_comparison_with_a_literal_is_taken() {
        assert_eq!(single_comparison("x >= 150 bar", "x"), Some((">=", "150 bar".into())));
        assert_eq!(single_comparison("(-5 °C < x)", "x"), Some((">", "-5 °C".into())));
        assert_eq!(single_comparison("x <= 3 L/min", "x"), Some(("<=", "3 L/min".into())));
        assert_eq!(single_comparison("x <= 3 bar + 2 bar", "x"), None);
        assert_eq!(single_comparison("x >= site.least", "x"), None);
        assert_eq!(single_comparison("x >= 1 bar or true", "x"), None);
    }
}
