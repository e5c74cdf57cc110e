//! The second reading: the same text through `serde_yaml`, compared node by node. Two parsers that
//! share no code rarely err alike; where they differ the file is refused rather than guessed at.

use super::{Findings, Node, Style, Tree};
use crate::tongue::say;
use serde_yaml::Value;

/// Adds `parsers-disagree` where the two differ, at the first such place of each branch.
pub(super) fn check(text: &str, root: &Node, out: &mut Findings) {
    match serde_yaml::from_str::<Value>(text) {
        Ok(v) => compare(root, &v, out),
        Err(e) => disagree(
            out,
            e.location().map_or((0, 0), |l| (l.line() as u32, l.column() as u32)),
            &say!("the second parser refuses the file: {e}", e),
        ),
    }
}

/// The finding for any such difference.
pub(super) fn disagree(out: &mut Findings, at: (u32, u32), message: &str) {
    out.hinted(
        "parsers-disagree",
        at,
        crate::text::safe_line(message).into_owned(),
        say!("write it in a plainer way: quote texts, indent alike"),
    );
}

fn compare(node: &Node, value: &Value, out: &mut Findings) {
    let same = match (&node.tree, value) {
        (Tree::Seq(items), Value::Sequence(other)) => {
            if items.len() == other.len() {
                items.iter().zip(other).for_each(|(n, v)| compare(n, v, out));
                true
            } else {
                false
            }
        }
        (Tree::Map(entries), Value::Mapping(other)) => {
            let keys_equal = entries.len() == other.len()
                && entries.iter().zip(other.keys()).all(|((k, _), o)| is_text(&k.text, o));
            if keys_equal {
                entries.iter().zip(other.values()).for_each(|((_, n), v)| compare(n, v, out));
            }
            keys_equal
        }
        (Tree::Scalar(text, Style::Plain), v) => is_text(text, v),
        (Tree::Scalar(text, Style::Quoted | Style::Block), v) => v.as_str() == Some(text),
        (Tree::Seq(_) | Tree::Map(_), _) => false,
    };
    if !same {
        disagree(out, (node.line, node.column), say!("two YAML parsers read this differently"));
    }
}

/// Whether an unquoted text is what the other parser made of it. Numbers are compared as text where
/// they are in the only form we accept; every other form is refused wherever a number is wanted.
fn is_text(text: &str, v: &Value) -> bool {
    match v {
        Value::String(s) => s == text,
        Value::Bool(b) => text.eq_ignore_ascii_case(if *b { "true" } else { "false" }),
        // Only a comparison of two readings: the value itself is taken from the text, never from here.
        Value::Number(n) if super::plain::decimal(text).is_ok() => n.as_f64() == text.parse().ok(),
        Value::Number(_) => super::reads_as_other(text) == Some(super::plain::Other::Number),
        Value::Null | Value::Sequence(_) | Value::Mapping(_) | Value::Tagged(_) => false,
    }
}
