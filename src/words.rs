//! Words for people: a text in one or several languages, and texts with values filled in.
//!
//! Always: a text has at least one language and no language twice; a template holds only
//! `{{ dotted.name }}`, each name known when the file was read. Rendering decides nothing: every value
//! that is filled in is text already. No truth value, number or comparison passes through the
//! template engine, which would take `"149" >= 150` for true.
//! Not here: gates (`gate`), plurals and lists (`text`).

mod template;

use crate::tongue::say;
pub use template::{Context, Names, NotShown, Template};

use crate::source::{Findings, Node, Style, Tree, reads_as_other};
use crate::text::{forbidden_char, nfc, quoted};

/// The language of a text that is not a map, where the file names none.
pub const DEFAULT_LANGUAGE: &str = "en";

/// The longest text in one language, in characters.
pub const MOST_CHARS: usize = 4000;

/// A text in one or several languages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Words {
    /// Language and text, in the order of the file; never empty.
    texts: Vec<(String, String)>,
    /// The language that stands in for one that is missing: one of `texts`.
    default: usize,
}

impl Words {
    /// A text in one language.
    pub fn one(language: &str, text: &str) -> Self {
        Words { texts: vec![(language.to_owned(), nfc(text).into_owned())], default: 0 }
    }

    /// The text in a language: that language, else its main language (`pl` for `pl-PL`), else the
    /// file's own.
    pub fn get(&self, language: &str) -> &str {
        self.found(language).map_or("", |(_, text)| text)
    }

    /// The language that [`get`](Words::get) finds for it.
    pub fn shown_in(&self, language: &str) -> &str {
        self.found(language).map_or("", |(tag, _)| tag)
    }

    fn found(&self, language: &str) -> Option<&(String, String)> {
        let main = language.split('-').next().unwrap_or(language);
        let find = |l: &str| self.texts.iter().find(|(k, _)| k.eq_ignore_ascii_case(l));
        find(language).or_else(|| find(main)).or_else(|| self.texts.get(self.default))
    }

    /// The text in the file's own language.
    pub fn own(&self) -> &str {
        self.texts.get(self.default).map_or("", |(_, t)| t)
    }

    /// Each language with its text, in the order of the file.
    pub fn texts(&self) -> &[(String, String)] {
        &self.texts
    }

    /// Reads a text or a map of languages. `language` is the file's own.
    pub fn read(node: &Node, language: &str, out: &mut Findings) -> Option<Words> {
        match &node.tree {
            Tree::Scalar(..) => Some(Words::one(language, &one_text(node, out)?)),
            Tree::Map(entries) => {
                if entries.is_empty() {
                    out.error("no-words", node, say!("no language is given"));
                    return None;
                }
                let mut texts = Vec::new();
                let mut good = true;
                for (key, value) in entries {
                    if !is_language(&key.text) {
                        let message = say!("{got} is not a language tag", got = quoted(&key.text, 20));
                        out.hinted("bad-language", key, message, say!("write `en`, `pl`, `pt-BR`"));
                        good = false;
                        continue;
                    }
                    match one_text(value, out) {
                        Some(t) => texts.push((key.text.clone(), nfc(&t).into_owned())),
                        None => good = false,
                    }
                }
                let Some(default) = texts.iter().position(|(l, _)| l == language) else {
                    if good {
                        let message = say!("the file's own language `{language}` is missing here", language);
                        out.hinted("no-own-language", node, message, say!("add `{language}: ...`", language));
                    }
                    return None;
                };
                good.then_some(Words { texts, default })
            }
            Tree::Seq(_) => {
                out.error("wrong-type", node, say!("a list; wanted: a text, or a text for each language"));
                None
            }
        }
    }
}

/// `en`, `pl`, `pt-BR`, `sr-Latn`: the shapes of BCP 47 that are in use for languages with a script
/// or a region.
pub fn is_language(tag: &str) -> bool {
    let mut parts = tag.split('-');
    let main = parts.next().unwrap_or_default();
    (2..=3).contains(&main.len())
        && main.bytes().all(|b| b.is_ascii_lowercase())
        && parts.clone().count() <= 2
        && parts.all(|p| (2..=4).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_alphanumeric()))
}

/// A text of the file for people, with a finding where YAML might read it as something else.
pub fn one_text(node: &Node, out: &mut Findings) -> Option<String> {
    let Tree::Scalar(text, style) = &node.tree else {
        out.error("wrong-type", node, say!("{got}; wanted: a text", got = node.described()));
        return None;
    };
    if *style == Style::Plain
        && let Some(other) = reads_as_other(text)
    {
        let message = say!(
            "{got} without quotes may be read as {other}; wanted: a text",
            got = quoted(text, 40),
            other = other.words()
        );
        out.hinted("quote-it", node, message, say!("write \"{text}\"", text));
        return None;
    }
    if text.trim().is_empty() {
        out.error("no-words", node, say!("the text is empty"));
        return None;
    }
    if text.chars().nth(MOST_CHARS).is_some() {
        out.error("too-long", node, say!("more than {MOST_CHARS} characters", MOST_CHARS));
        return None;
    }
    // Escapes in double quotes can name characters that do not stand in the file.
    if let Some(c) = text.chars().find(|c| forbidden_char(*c)) {
        let message =
            say!("an escape for {what}, which no record may hold", what = crate::text::code_point(c));
        out.error("forbidden-character", node, message);
        return None;
    }
    Some(text.trim_end_matches('\n').to_owned())
}

#[cfg(test)]
mod tests;
