//! Events of the parser to a tree with places; whatever YAML offers beyond maps, lists and scalars is
//! refused here, all at once.
//!
//! The parser is a state machine without recursion; the stack here is ours and bounded by depth.

use super::{Findings, Key, MOST_DEPTH, Node, Style, Tree};
use crate::text::quoted;
use crate::tongue::say;
use saphyr_parser::{Event, Parser, ScalarStyle, Span};
use std::collections::HashMap;

enum Open {
    Map {
        node: (u32, u32),
        entries: Vec<(Key, Node)>,
        seen: HashMap<String, u32>,
        key: Option<Key>,
        skip_value: bool,
    },
    Seq {
        node: (u32, u32),
        items: Vec<Node>,
    },
}

/// The root map, or nothing where the file cannot be read to its end.
pub(super) fn read(text: &str, out: &mut Findings) -> Option<Node> {
    // Where characters were replaced, bad syntax may be no more than their trace.
    let altered = out.any_error();
    directives(text, out);
    let mut stack: Vec<Open> = Vec::new();
    let mut root: Option<Node> = None;
    let mut documents = 0;
    for event in Parser::new_from_str(text) {
        if out.full() {
            return None;
        }
        let (event, span) = match event {
            Ok(e) => e,
            Err(e) => {
                let at = (e.marker().line() as u32, e.marker().col() as u32 + 1);
                if !altered {
                    out.error("yaml-syntax", at, say!("not YAML here: {why}", why = quoted(e.info(), 120)));
                }
                return None;
            }
        };
        let at = start(&span);
        match event {
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
            Event::DocumentStart(_) => {
                documents += 1;
                if documents > 1 {
                    out.hinted(
                        "many-documents",
                        at,
                        say!("a second document in one file"),
                        say!("one file, one document: remove the `---`"),
                    );
                    return None;
                }
            }
            Event::Alias(_) => {
                out.hinted("alias", at, say!("an alias (`*name`)"), say!("write the value out again"));
                place(&mut stack, &mut root, scalar("", Style::Quoted, at), out);
            }
            Event::Scalar(value, style, anchor, tag) => {
                extras(anchor, tag.is_some(), at, out);
                let style = match style {
                    ScalarStyle::Plain => Style::Plain,
                    ScalarStyle::SingleQuoted | ScalarStyle::DoubleQuoted => Style::Quoted,
                    ScalarStyle::Literal | ScalarStyle::Folded => Style::Block,
                };
                place(&mut stack, &mut root, scalar(&value, style, at), out);
            }
            Event::MappingStart(anchor, tag) => {
                extras(anchor, tag.is_some(), at, out);
                stack.push(Open::Map {
                    node: at,
                    entries: Vec::new(),
                    seen: HashMap::new(),
                    key: None,
                    skip_value: false,
                });
            }
            Event::SequenceStart(anchor, tag) => {
                extras(anchor, tag.is_some(), at, out);
                stack.push(Open::Seq { node: at, items: Vec::new() });
            }
            Event::MappingEnd | Event::SequenceEnd => {
                let node = match stack.pop() {
                    Some(Open::Map { node, entries, .. }) => {
                        Node { tree: Tree::Map(entries), line: node.0, column: node.1 }
                    }
                    Some(Open::Seq { node, items }) => {
                        Node { tree: Tree::Seq(items), line: node.0, column: node.1 }
                    }
                    None => continue,
                };
                place(&mut stack, &mut root, node, out);
            }
        }
        if stack.len() > MOST_DEPTH {
            out.error("too-deep", at, say!("nested deeper than {MOST_DEPTH}", MOST_DEPTH));
            return None;
        }
    }
    let Some(root) =
        root.filter(|r| !matches!(&r.tree, Tree::Scalar(t, Style::Plain) if t == "~" || t.is_empty()))
    else {
        // A root that is nothing was already reported as a missing value where there is a document.
        out.error("empty-file", (0, 0), say!("there is nothing in the file"));
        return None;
    };
    if matches!(root.tree, Tree::Map(_)) {
        Some(root)
    } else {
        out.error(
            "not-a-map",
            &root,
            say!("the file is {got}; wanted: keys with values", got = root.described()),
        );
        None
    }
}

fn scalar(text: &str, style: Style, at: (u32, u32)) -> Node {
    Node { tree: Tree::Scalar(text.to_owned(), style), line: at.0, column: at.1 }
}

fn start(span: &Span) -> (u32, u32) {
    (span.start.line() as u32, span.start.col() as u32 + 1)
}

fn extras(anchor: usize, tagged: bool, at: (u32, u32), out: &mut Findings) {
    if anchor != 0 {
        out.hinted(
            "anchor",
            at,
            say!("an anchor (`&name`)"),
            say!("remove it, and write the value out where it is wanted again"),
        );
    }
    if tagged {
        out.hinted(
            "tag",
            at,
            say!("a tag (`!...`)"),
            say!("remove it; what a value is follows from its key"),
        );
    }
}

/// Puts a finished node where it belongs.
fn place(stack: &mut [Open], root: &mut Option<Node>, node: Node, out: &mut Findings) {
    match stack.last_mut() {
        None => *root = Some(node),
        Some(Open::Seq { items, .. }) => {
            valued(&node, out);
            items.push(node);
        }
        Some(Open::Map { entries, seen, key, skip_value, .. }) => {
            let Some(k) = key.take() else {
                let (k, skip) = as_key(node, seen, out);
                *key = Some(k);
                *skip_value = skip;
                return;
            };
            valued(&node, out);
            if !*skip_value {
                entries.push((k, node));
            }
        }
    }
}

/// A key, and whether its value is to be dropped because the key is no good.
fn as_key(node: Node, seen: &mut HashMap<String, u32>, out: &mut Findings) -> (Key, bool) {
    let (line, column) = (node.line, node.column);
    let Tree::Scalar(text, style) = node.tree else {
        out.error("complex-key", (line, column), say!("a list or map as a key; wanted a word"));
        return (Key { text: String::new(), line, column }, true);
    };
    let key = Key { text, line, column };
    if key.text == "<<" {
        out.hinted("merge-key", &key, say!("a merge key (`<<`)"), say!("write the keys out"));
        return (key, true);
    }
    if style == Style::Block || (style == Style::Plain && matches!(key.text.as_str(), "" | "~")) {
        out.error("complex-key", &key, say!("a key must be a word on one line"));
        return (key, true);
    }
    if let Some(first) = seen.get(&key.text) {
        let message =
            say!("the key {key} stands twice; first in line {first}", key = quoted(&key.text, 48), first);
        out.hinted("duplicate-key", &key, message, say!("remove one of the two"));
        return (key, true);
    }
    seen.insert(key.text.clone(), line);
    (key, false)
}

fn valued(node: &Node, out: &mut Findings) {
    if let Tree::Scalar(t, Style::Plain) = &node.tree
        && (t.is_empty() || t == "~" || t.eq_ignore_ascii_case("null"))
    {
        out.hinted(
            "no-value",
            node,
            say!("a value is wanted here, and there is none"),
            say!("write the value, or remove the key"),
        );
    }
}

/// Directives come as no event: they can only stand before the document begins.
fn directives(text: &str, out: &mut Findings) {
    for (n, line) in text.split('\n').enumerate() {
        if line.starts_with('%') {
            out.hinted(
                "directive",
                (n as u32 + 1, 1),
                say!("a YAML directive (`%...`)"),
                say!("remove the line"),
            );
        } else if !line.trim_start().is_empty() && !line.trim_start().starts_with('#') {
            return;
        }
    }
}
