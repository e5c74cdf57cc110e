//! Languages of a form: where one text has a language, all have it.
//!
//! Always: a text that lacks one is a warning that names where and which; shown in that language it would stand in the
//! form's own, never blank. Works on the file as written.
//! Not here: what a text may hold (`words`).

use crate::source::{Findings, Node, Tree};
use crate::text::listed;
use crate::tongue::say;
use std::collections::BTreeSet;

/// Texts for people of a step.
const TEXTS: [&str; 6] = ["ask", "called", "because", "fix", "how", "source"];

/// Tells every text that lacks a language which another text of the form has. `own` is the form's language.
pub(super) fn tell(root: &Node, own: &str, out: &mut Findings) {
    let mut texts: Vec<&Node> = root.get("title").into_iter().collect();
    for stage in nodes(root.get("stages")) {
        texts.extend(stage.get("title"));
        for step in nodes(stage.get("steps")) {
            texts.extend(TEXTS.iter().filter_map(|key| step.get(key)));
            if let Some(Tree::Map(choices)) = step.get("choice").map(|n| &n.tree) {
                texts.extend(choices.iter().map(|(_, words)| words));
            }
        }
    }
    let all: BTreeSet<&str> = texts.iter().flat_map(|n| languages(n, own)).collect();
    for text in texts {
        let here: BTreeSet<&str> = languages(text, own).collect();
        let lacking: Vec<&str> = all.difference(&here).copied().collect();
        if !lacking.is_empty() {
            let message = say!(
                "not in {languages}, which other texts of this form are in; the words in `{own}` would be shown",
                languages = listed(&lacking, say!("and")),
                own
            );
            out.warning("missing-language", text, message);
        }
    }
}

fn nodes(list: Option<&Node>) -> &[Node] {
    match list.map(|n| &n.tree) {
        Some(Tree::Seq(all)) => all,
        Some(Tree::Map(_) | Tree::Scalar(..)) | None => &[],
    }
}

/// The languages of one text.
fn languages<'a>(text: &'a Node, own: &'a str) -> Box<dyn Iterator<Item = &'a str> + 'a> {
    match &text.tree {
        Tree::Map(entries) => Box::new(entries.iter().map(|(key, _)| key.text.as_str())),
        Tree::Scalar(..) | Tree::Seq(_) => Box::new(std::iter::once(own)),
    }
}
