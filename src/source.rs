//! YAML files as a tree in which everything has its line and column, or findings.
//!
//! In: bytes and the name the user gave the file. Out: [`Source`] (the text, its SHA-256, its tree) or
//! all that is wrong with it. Always: a tree that comes out has no duplicate key, anchor, alias, tag,
//! merge key or missing value, is at most [`MOST_BYTES`] of UTF-8 without any character the record
//! forbids, and says what a second, independent parser (`serde_yaml`) also read; no input panics.
//! Not here: what the keys mean (`checklist`, `site`).

mod agree;
mod chars;
mod plain;
mod tree;
pub mod typed;

use crate::tongue::say;
pub use plain::reads_as_other;

use crate::finding::{Finding, Level, Place, any_error};
use crate::text::{quoted, sha256_hex};

/// The largest file that is read: 512 KiB.
pub const MOST_BYTES: usize = 512 * 1024;
/// The deepest nesting of maps and lists.
pub const MOST_DEPTH: usize = 16;
/// After so many findings a file is not looked at further.
pub const MOST_FINDINGS: usize = 200;

/// How a scalar was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// Without quotes.
    Plain,
    /// In single or double quotes.
    Quoted,
    /// `|` or `>`.
    Block,
}

/// A key of a map, or any other text with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key {
    /// The text.
    pub text: String,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
}

/// What a node is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tree {
    /// A text, number, date...: as written.
    Scalar(String, Style),
    /// Keys in order, none twice.
    Map(Vec<(Key, Node)>),
    /// A list.
    Seq(Vec<Node>),
}

/// A node with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Node {
    /// What it is.
    pub tree: Tree,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
}

impl Node {
    /// The value of a key, if this is a map that has it.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.entry(key).map(|(_, n)| n)
    }

    /// Key and value, if this is a map that has it.
    pub fn entry(&self, key: &str) -> Option<(&Key, &Node)> {
        match &self.tree {
            Tree::Map(m) => m.iter().find(|(k, _)| k.text == key).map(|(k, n)| (k, n)),
            Tree::Scalar(..) | Tree::Seq(_) => None,
        }
    }

    /// What it is, for messages: "a list", "a map", "`12`".
    pub fn described(&self) -> String {
        match &self.tree {
            Tree::Scalar(t, _) => quoted(t, 40),
            Tree::Map(_) => say!("a map (keys with values)").to_owned(),
            Tree::Seq(_) => say!("a list").to_owned(),
        }
    }
}

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    file: String,
    text: String,
    sha256: String,
    root: Node,
}

impl Source {
    /// Reads a file. `None` if and only if there is an error among the findings.
    pub fn read(file: &str, bytes: &[u8]) -> (Option<Source>, Vec<Finding>) {
        let mut out = Findings::new(file);
        let root = chars::checked(bytes, &mut out).and_then(|text| {
            let root = tree::read(&text, &mut out)?;
            if !out.any_error() {
                agree::check(&text, &root, &mut out);
            }
            Some((root, text))
        });
        if let Some((root, text)) = root
            && !out.any_error()
        {
            let source = Source { file: file.to_owned(), sha256: sha256_hex(bytes), text, root };
            return (Some(source), out.into_vec());
        }
        (None, out.into_vec())
    }

    /// The file as the user named it.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The text, byte for byte.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the bytes, 64 lower-case hex digits.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }

    /// The tree; its root is a map.
    pub fn root(&self) -> &Node {
        &self.root
    }

    /// The place of a node.
    pub fn place(&self, node: &Node) -> Place {
        Place { file: self.file.clone(), line: node.line, column: node.column }
    }

    /// The place of the character that stands at byte `at` of a scalar's value: inside quotes, after a
    /// block's header, over folded lines. (After an escape in double quotes it may be off by the escape.)
    pub fn place_in(&self, node: &Node, at: usize) -> Place {
        let Tree::Scalar(value, style) = &node.tree else {
            return self.place(node);
        };
        // White space is folded, other characters are not: count those.
        let target =
            value.char_indices().take_while(|(i, _)| *i < at).filter(|(_, c)| !c.is_whitespace()).count();
        let mut seen = 0;
        let mut skip_header = *style == Style::Block;
        let mut skip_quote = *style == Style::Quoted;
        let mut last = (node.line, node.column);
        for (n, line) in self.text.split('\n').enumerate().skip(node.line.saturating_sub(1) as usize) {
            let first = if n as u32 + 1 == node.line { node.column.saturating_sub(1) as usize } else { 0 };
            let header = skip_header
                && line
                    .chars()
                    .skip(first)
                    .find(|c| !c.is_whitespace())
                    .is_some_and(|c| c == '|' || c == '>');
            skip_header = false;
            if header {
                continue;
            }
            for (column, c) in line.chars().enumerate().skip(first) {
                if c.is_whitespace() {
                    continue;
                }
                if skip_quote {
                    skip_quote = false;
                    continue;
                }
                last = (n as u32 + 1, column as u32 + 1);
                if seen == target {
                    return self.at(last.0, last.1);
                }
                seen += 1;
            }
            if seen > target {
                break;
            }
        }
        self.at(last.0, last.1)
    }

    fn at(&self, line: u32, column: u32) -> Place {
        Place { file: self.file.clone(), line, column }
    }
}

/// Findings about one file, collected.
#[derive(Debug)]
pub struct Findings {
    file: String,
    list: Vec<Finding>,
}

impl Findings {
    /// None yet.
    pub fn new(file: &str) -> Self {
        Findings { file: file.to_owned(), list: Vec::new() }
    }

    /// The file.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// Adds an error at a line and column.
    pub fn error(&mut self, code: &'static str, at: impl At, message: impl Into<String>) -> &mut Finding {
        let place = at.place(&self.file);
        self.push(Finding::error(code, place, message))
    }

    /// Adds a warning at a line and column.
    pub fn warning(&mut self, code: &'static str, at: impl At, message: impl Into<String>) -> &mut Finding {
        let place = at.place(&self.file);
        self.push(Finding::warning(code, place, message))
    }

    /// Adds an error with a hint.
    pub fn hinted(
        &mut self,
        code: &'static str,
        at: impl At,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.error(code, at, message).hint = Some(hint.into());
    }

    /// Adds a finding.
    pub fn push(&mut self, finding: Finding) -> &mut Finding {
        if self.list.len() >= MOST_FINDINGS {
            // The last one is overwritten: that there are more is all that has to be said.
            self.list.truncate(MOST_FINDINGS);
            let place = finding.place;
            self.list.push(Finding::error(
                "too-many-findings",
                place,
                say!("there is more; it is not listed"),
            ));
        } else {
            self.list.push(finding);
        }
        let last = self.list.len() - 1;
        &mut self.list[last]
    }

    /// Adds all of another collection.
    pub fn take(&mut self, other: Findings) {
        for f in other.list {
            self.push(f);
        }
    }

    /// True if no more can be taken.
    pub fn full(&self) -> bool {
        self.list.len() > MOST_FINDINGS
    }

    /// True if any refuses the file.
    pub fn any_error(&self) -> bool {
        any_error(&self.list)
    }

    /// How many of them refuse the file.
    pub fn error_count(&self) -> usize {
        self.list.iter().filter(|f| f.level == Level::Error).count()
    }

    /// All of them, by place.
    pub fn into_vec(mut self) -> Vec<Finding> {
        self.list.sort_by(|a, b| (&a.place, a.level, a.code).cmp(&(&b.place, b.level, b.code)));
        self.list
    }
}

/// Something with a line and column.
pub trait At {
    /// Its place in a file.
    fn place(&self, file: &str) -> Place;
}

impl At for (u32, u32) {
    fn place(&self, file: &str) -> Place {
        Place { file: file.to_owned(), line: self.0, column: self.1 }
    }
}

impl At for &Node {
    fn place(&self, file: &str) -> Place {
        (self.line, self.column).place(file)
    }
}

impl At for &Key {
    fn place(&self, file: &str) -> Place {
        (self.line, self.column).place(file)
    }
}

impl At for Place {
    fn place(&self, _: &str) -> Place {
        self.clone()
    }
}

impl At for &Place {
    fn place(&self, _: &str) -> Place {
        (*self).clone()
    }
}

#[cfg(test)]
mod tests;
