//! Steps that wait for one another, and stages that need one another: told whole, by name.
//!
//! Always: only circles of two or more; a step that names itself, and each name used too early, is told where
//! it stands. Works on the file as written, because steps in a circle cannot be read one after the other.
//! Not here: what a name means (`scope`).

use crate::source::{Findings, Node, Tree};
use crate::text::listed;
use crate::tongue::say;
use std::collections::{BTreeSet, HashMap, VecDeque};

/// Something with a name, where it stands, and what it rests on.
struct Link<'a> {
    id: &'a str,
    at: &'a Node,
    on: Vec<String>,
}

/// Tells every circle among the stages and steps of a form, once.
pub(super) fn tell(stages: &[Node], out: &mut Findings) {
    let needing: Vec<Link<'_>> = stages
        .iter()
        .filter_map(|s| {
            let at = s.get("stage")?;
            Some(Link { id: text(at)?, at, on: items(s.get("needs")) })
        })
        .collect();
    for circle in circles(&needing) {
        let parts = parts(&circle, |a, b| say!("`{a}` needs `{b}`", a, b));
        told(&circle, say!("these stages wait for one another: {parts}", parts), out);
    }
    let mut resting: Vec<Link<'_>> = Vec::new();
    for stage in stages {
        let mut when = Vec::new();
        names(stage.get("when"), &mut when);
        for step in nodes(stage.get("steps")) {
            let Some((at, id)) = step.get("step").and_then(|at| Some((at, text(at)?))) else { continue };
            let mut on = when.clone();
            let reading = step.get("reading");
            let limits = [reading.and_then(|r| r.get("from")), reading.and_then(|r| r.get("to"))];
            for node in [step.get("when"), step.get("derived"), step.get("timed")].into_iter().chain(limits) {
                names(node, &mut on);
            }
            resting.push(Link { id, at, on });
        }
    }
    for circle in circles(&resting) {
        let parts = parts(&circle, |a, b| say!("`{a}` rests on `{b}`", a, b));
        told(&circle, say!("these steps wait for one another: {parts}", parts), out);
    }
}

fn parts(circle: &[&Link<'_>], how: impl Fn(&str, &str) -> String) -> String {
    let next = circle.iter().skip(1).chain(circle.first());
    let parts: Vec<String> = circle.iter().zip(next).map(|(a, b)| how(a.id, b.id)).collect();
    listed(&parts, say!("and"))
}

fn told(circle: &[&Link<'_>], message: String, out: &mut Findings) {
    if let Some(first) = circle.first() {
        out.hinted("cycle", first.at, message, say!("let one of them go without"));
    }
}

/// Every circle, each once, beginning with what stands first in the file.
fn circles<'l, 'a>(all: &'l [Link<'a>]) -> Vec<Vec<&'l Link<'a>>> {
    let mut places: HashMap<&str, Vec<usize>> = HashMap::new();
    for (n, link) in all.iter().enumerate() {
        places.entry(link.id).or_default().push(n);
    }
    let rests_on: Vec<BTreeSet<usize>> = all
        .iter()
        .map(|l| l.on.iter().filter_map(|o| places.get(o.as_str())).flatten().copied().collect())
        .collect();
    let mut found = Vec::new();
    for (start, link) in all.iter().enumerate() {
        // The shortest way back to the start over what stands after it: breadth first.
        let mut from: HashMap<usize, usize> = HashMap::new();
        let mut todo = VecDeque::from([start]);
        let mut back = None;
        while let (None, Some(here)) = (back, todo.pop_front()) {
            for n in rests_on.get(here).into_iter().flat_map(|on| on.range(start..)).copied() {
                if n == start {
                    back = Some(here);
                    break;
                }
                from.entry(n).or_insert_with(|| {
                    todo.push_back(n);
                    here
                });
            }
        }
        let Some(mut at) = back.filter(|last| *last != start) else { continue };
        let mut circle = Vec::new();
        while at != start {
            circle.extend(all.get(at));
            match from.get(&at).copied() {
                Some(before) => at = before,
                None => break,
            }
        }
        circle.push(link);
        circle.reverse();
        found.push(circle);
    }
    found
}

fn text(n: &Node) -> Option<&str> {
    match &n.tree {
        Tree::Scalar(t, _) => Some(t),
        Tree::Map(_) | Tree::Seq(_) => None,
    }
}

fn nodes(n: Option<&Node>) -> &[Node] {
    match n.map(|n| &n.tree) {
        Some(Tree::Seq(all)) => all,
        Some(Tree::Map(_) | Tree::Scalar(..)) | None => &[],
    }
}

fn items(n: Option<&Node>) -> Vec<String> {
    nodes(n).iter().filter_map(text).map(str::to_owned).collect()
}

/// The bare words of an expression that may name steps: not in quotation marks, not part of a dotted name.
fn names(n: Option<&Node>, out: &mut Vec<String>) {
    let Some(source) = n.and_then(text) else { return };
    for (i, part) in source.split('"').enumerate() {
        if i % 2 == 1 {
            continue;
        }
        let words = part.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_' || c == '.'));
        out.extend(words.filter(|w| !w.is_empty() && !w.contains('.')).map(str::to_owned));
    }
}
