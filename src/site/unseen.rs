//! Characters that nobody sees: two names that look the same must be the same.

use crate::source::{Findings, Node, Tree};
use crate::text::code_point;
use crate::tongue::say;

/// A finding for each text of a node that holds one; false if there was any.
pub(super) fn check(node: &Node, path: &str, out: &mut Findings) -> bool {
    match &node.tree {
        Tree::Scalar(text, _) => {
            let Some(c) = unseen(text) else { return true };
            out.hinted(
                "unseen-character",
                node,
                say!("`{path}` holds {what}, which nobody sees", path, what = code_point(c)),
                say!("type it again by hand"),
            );
            false
        }
        // Every one is looked at, also after a bad one.
        Tree::Map(all) => all.iter().filter(|(_, n)| !check(n, path, out)).count() == 0,
        Tree::Seq(all) => all.iter().filter(|n| !check(n, path, out)).count() == 0,
    }
}

/// The first character that takes no room. Joiners shape the words of some scripts and stand between their letters;
/// elsewhere they do nothing.
fn unseen(text: &str) -> Option<char> {
    let all: Vec<char> = text.chars().collect();
    let shaped = |c: Option<&char>| c.is_some_and(|c| *c >= '\u{590}' && c.is_alphabetic());
    all.iter().enumerate().find_map(|(n, c)| {
        let unseen = match c {
            '\u{ad}'
            | '\u{34f}'
            | '\u{115f}'
            | '\u{1160}'
            | '\u{17b4}'
            | '\u{17b5}'
            | '\u{180b}'..='\u{180e}'
            | '\u{200b}'
            | '\u{2060}'..='\u{2064}'
            | '\u{3164}'
            | '\u{ffa0}'
            | '\u{e0000}'..='\u{e007f}' => true,
            // After a letter: a joiner may follow the sign that takes a vowel away.
            '\u{200c}' | '\u{200d}' => {
                !(n.checked_sub(1).is_some_and(|b| all.get(b).is_some_and(|c| *c >= '\u{590}'))
                    && shaped(all.get(n + 1)))
            }
            _ => false,
        };
        unseen.then_some(*c)
    })
}
