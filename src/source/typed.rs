//! Typed looks at a node: a truth value, a number, an id, the keys of a map. Each says what it got and
//! what it wanted.

use super::plain::decimal;
use super::{Findings, Node, Style, Tree};
use crate::text::{listed, nearest, quoted};
use crate::tongue::say;
use crate::units::Decimal;

/// `true` or `false`, written so and without quotes.
pub fn truth(node: &Node, out: &mut Findings) -> Option<bool> {
    match &node.tree {
        Tree::Scalar(t, Style::Plain) if t == "true" => Some(true),
        Tree::Scalar(t, Style::Plain) if t == "false" => Some(false),
        Tree::Scalar(..) | Tree::Map(_) | Tree::Seq(_) => {
            let message = say!("{got}; wanted: true or false", got = node.described());
            out.hinted("not-true-or-false", node, message, say!("write true or false, without quotes"));
            None
        }
    }
}

/// A number without quotes, in the one form that is accepted.
pub fn number(node: &Node, out: &mut Findings) -> Option<Decimal> {
    let Tree::Scalar(text, style) = &node.tree else {
        out.error("wrong-type", node, say!("{got}; wanted: a number", got = node.described()));
        return None;
    };
    match decimal(text) {
        Ok(_) if *style != Style::Plain => {
            out.hinted(
                "bad-number",
                node,
                say!("{got} in quotes; wanted: a number", got = quoted(text, 40)),
                say!("write {text}", text),
            );
            None
        }
        Ok(d) => Some(d),
        Err(why) => {
            out.hinted(
                "bad-number",
                node,
                format!("{}: {why}", quoted(text, 40)),
                say!("write digits, a point if need be, at most 6 decimals: 12.5"),
            );
            None
        }
    }
}

/// A whole number from `least` to `most`.
pub fn whole(node: &Node, least: u32, most: u32, out: &mut Findings) -> Option<u32> {
    let d = number(node, out)?;
    let n = d.to_string().parse::<u32>().ok().filter(|n| (least..=most).contains(n));
    if n.is_none() {
        let message = say!("{d}; wanted: a whole number from {least} to {most}", d, least, most);
        out.hinted(
            "out-of-range",
            node,
            message,
            say!("write {least}, {most} or a whole number between", least, most),
        );
    }
    n
}

/// A scalar's text, whatever it holds.
pub fn scalar<'a>(node: &'a Node, wanted: &str, out: &mut Findings) -> Option<&'a str> {
    match &node.tree {
        Tree::Scalar(t, _) => Some(t),
        Tree::Map(_) | Tree::Seq(_) => {
            out.error("wrong-type", node, say!("{got}; wanted: {wanted}", got = node.described(), wanted));
            None
        }
    }
}

/// A list.
pub fn list<'a>(node: &'a Node, wanted: &str, out: &mut Findings) -> Option<&'a [Node]> {
    match &node.tree {
        Tree::Seq(items) => Some(items),
        Tree::Scalar(..) | Tree::Map(_) => {
            out.error("wrong-type", node, say!("{got}; wanted: {wanted}", got = node.described(), wanted));
            None
        }
    }
}

/// Whether a text is an id of steps, stages, choices, items and fields: `[a-z][a-z0-9_]{0,47}`.
pub fn is_name(text: &str) -> bool {
    shaped(text, 48, b'_')
}

/// Whether a text is an id of files, persons, places: `[a-z][a-z0-9-]{0,31}`.
pub fn is_id(text: &str) -> bool {
    shaped(text, 32, b'-')
}

fn shaped(text: &str, most: usize, joiner: u8) -> bool {
    text.len() <= most
        && text.bytes().next().is_some_and(|b| b.is_ascii_lowercase())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == joiner)
}

/// An id of steps, stages, choices, items.
pub fn name(node: &Node, what: &str, out: &mut Findings) -> Option<String> {
    let text = scalar(node, what, out)?;
    checked_name(text, what, node, out)
}

/// As [`name`], for a text that may be a key.
pub fn checked_name(text: &str, what: &str, at: impl super::At, out: &mut Findings) -> Option<String> {
    if is_name(text) {
        return Some(text.to_owned());
    }
    let message = say!("{got} is no {what}", got = quoted(text, 60), what);
    out.hinted("bad-id", at, message, say!("a small letter, then small letters, digits and _, at most 48"));
    None
}

/// An id of files, persons, places.
pub fn id(node: &Node, what: &str, out: &mut Findings) -> Option<String> {
    let text = scalar(node, what, out)?;
    if is_id(text) {
        return Some(text.to_owned());
    }
    let message = say!("{got} is no {what}", got = quoted(text, 60), what);
    out.hinted("bad-id", node, message, say!("a small letter, then small letters, digits and -, at most 32"));
    None
}

/// The entries of a map whose keys are all known; unknown ones are findings. `None` if it is no map.
pub fn known_keys<'a>(node: &'a Node, what: &str, known: &[&str], out: &mut Findings) -> Option<&'a Node> {
    let Tree::Map(entries) = &node.tree else {
        out.error("wrong-type", node, say!("{got}; wanted: {wanted}", got = node.described(), wanted = what));
        return None;
    };
    for (key, _) in entries {
        if out.full() {
            break;
        }
        if known.contains(&key.text.as_str()) {
            continue;
        }
        let hint = match nearest(&key.text, known.iter().copied()) {
            Some(n) => say!("did you mean `{near}`?", near = n),
            None => say!("known here: {keys}", keys = listed(known, say!("and"))),
        };
        out.hinted(
            "unknown-key",
            key,
            say!("{got} is no key of {what}", got = quoted(&key.text, 48), what),
            hint,
        );
    }
    Some(node)
}

/// The value of a key that must be there.
pub fn wanted<'a>(node: &'a Node, key: &str, what: &str, out: &mut Findings) -> Option<&'a Node> {
    let found = node.get(key);
    if found.is_none() {
        out.hinted(
            "missing-key",
            node,
            say!("{what} lacks `{key}`", what, key),
            say!("add `{key}: ...`", key),
        );
    }
    found
}
