//! A figure and its unit stay on one line, on every screen.
//!
//! In: a whole screen. Out: the same with a space that does not break between the two, in what people read. What stands in a
//! tag or in a field comes back from the browser, and is left as it is.

use crate::units::unit;

/// Units as the languages of the program say them, beside those of the table.
const SAID: [&str; 6] = ["бар", "год", "с", "хв", "godz", "sek"];
/// Their text is sent back as it stands.
const FIELDS: [&str; 4] = ["textarea", "option", "script", "style"];
/// No unit is longer, as a screen writes it.
const LONGEST: usize = 24;

/// The screen with its figures and units held together.
pub fn glued(screen: &str) -> String {
    let mut out = String::with_capacity(screen.len() + 256);
    let mut rest = screen;
    while let Some(at) = rest.find('<') {
        let (text, tag) = rest.split_at(at);
        in_text(text, &mut out);
        let field = FIELDS.into_iter().find(|f| tag.get(1..).is_some_and(|t| t.starts_with(f)));
        // To the end of the tag, or of the field.
        let end = match field {
            Some(f) => tag.find(&format!("</{f}")),
            None => tag.find('>').map(|e| e + 1),
        };
        let (tag, after) = tag.split_at(end.unwrap_or(tag.len()));
        out.push_str(tag);
        rest = after;
        if field.is_some() {
            let (close, after) = rest.split_at(rest.find('>').map_or(rest.len(), |e| e + 1));
            out.push_str(close);
            rest = after;
        }
    }
    in_text(rest, &mut out);
    out
}

/// The same of words alone.
pub fn words(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    in_text(text, &mut out);
    out
}

fn in_text(text: &str, out: &mut String) {
    let mut rest = text;
    while let Some(at) = rest.find(' ') {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let after = from.get(1..).unwrap_or_default();
        let figure = before.chars().next_back().is_some_and(|c| c.is_ascii_digit());
        out.push(if figure && begins_with_unit(after) { '\u{a0}' } else { ' ' });
        rest = after;
    }
    out.push_str(rest);
}

fn begins_with_unit(text: &str) -> bool {
    // In a screen it is written so.
    let near: String = text.chars().take(LONGEST).collect::<String>().replace("&#x2f;", "/");
    let end = near.find(|c: char| !(c.is_alphanumeric() || "/°%²³·µ".contains(c)));
    let word = near.get(..end.unwrap_or(near.len())).unwrap_or_default();
    unit(word).is_some() || SAID.contains(&word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_and_its_unit_are_held_together_where_people_read_them() {
        for (screen, held) in [
            ("<p>since 07:34, 0 min</p>", "<p>since 07:34, 0\u{a0}min</p>"),
            ("<b>207 bar</b> at 7 people", "<b>207\u{a0}bar</b> at 7 people"),
            ("0.1 mg&#x2f;m3; 12 % of 5 ppm", "0.1\u{a0}mg&#x2f;m3; 12\u{a0}% of 5\u{a0}ppm"),
            ("4 хв 3 с", "4\u{a0}хв 3\u{a0}с"),
            ("<input value=\"207 bar\"> 6 bar", "<input value=\"207 bar\"> 6\u{a0}bar"),
            ("<textarea rows=\"3\">7 bar</textarea>7 bar", "<textarea rows=\"3\">7 bar</textarea>7\u{a0}bar"),
            ("<option value=\"a\">7 bar</option>", "<option value=\"a\">7 bar</option>"),
            ("in 1 case, bar 2", "in 1 case, bar 2"),
            ("7 <b>bar</b> <", "7 <b>bar</b> <"),
        ] {
            assert_eq!(glued(screen), held);
        }
    }
}
