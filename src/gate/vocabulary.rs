//! Lists that other modules and tests rest on: the codes of problems, the words that are taken.

use super::functions;

/// Every code a [`super::Problem`] may have.
pub const CODES: &[&str] = &[
    "bad-date",
    "bad-name",
    "bad-number",
    "bad-span",
    "bad-text",
    "bare-choice",
    "chained-comparison",
    "empty-range",
    "gate-too-deep",
    "gate-too-long",
    "list-outside-fold",
    "lone-choice",
    "may-not-apply",
    "name-not-here",
    "not-a-condition",
    "operator",
    "stray-character",
    "syntax",
    "text-compared",
    "unknown-choice",
    "unknown-function",
    "unknown-name",
    "unknown-unit",
    "wrong-arguments",
    "wrong-dimension",
    "wrong-type",
];

const KEYWORDS: &[&str] = &["and", "between", "false", "not", "or", "today", "true"];

/// First parts of the dotted names.
const ROOTS: &[&str] = &["item", "job", "last", "permit", "set", "site", "wearer", "wearers"];

/// True if a step of this name could not be named in a gate, or would be mistaken for something
/// else: a keyword, a function, the first part of the dotted names.
pub fn reserved(word: &str) -> bool {
    KEYWORDS.contains(&word) || ROOTS.contains(&word) || functions::find(word).is_some()
}
