//! What a paper is made of, for those who do not see it: a tree of headings, paragraphs, tables and figures beside the
//! marks on the sheets; and where its sections begin.
//!
//! Always holds: a piece of content hangs in one node; whatever hangs in none is decoration and written as such.
//! Not here: how the tree becomes PDF (`finish`). Source of roles: ISO 32000-1, 14.8.4.

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The whole.
    Document,
    /// A heading of this level, from 1.
    Heading(u8),
    /// A paragraph.
    Paragraph,
    /// A table.
    Table,
    /// A row of a table.
    Row,
    /// A cell at the head of a column.
    Head,
    /// A cell.
    Cell,
    /// A picture.
    Figure,
    /// A link.
    Link,
}

impl Role {
    /// Its standard structure type.
    pub fn tag(self) -> &'static str {
        match self {
            Role::Document => "Document",
            Role::Heading(1) => "H1",
            Role::Heading(2) => "H2",
            Role::Heading(_) => "H3",
            Role::Paragraph => "P",
            Role::Table => "Table",
            Role::Row => "TR",
            Role::Head => "TH",
            Role::Cell => "TD",
            Role::Figure => "Figure",
            Role::Link => "Link",
        }
    }
}

/// What hangs in a node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kid {
    /// Another node.
    Node(usize),
    /// Marked content: sheet and number on it, both from 0.
    Marked(usize, usize),
    /// A link, by its number in the tree.
    Link(usize),
}

/// One node.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// What it is.
    pub role: Role,
    /// Its parent; the first node is its own.
    pub parent: usize,
    /// In reading order.
    pub kids: Vec<Kid>,
    /// What a picture shows, or a sign alone in its cell means; or empty.
    pub alt: String,
    /// Of a picture, the rectangle it fills: left, top, right, bottom.
    pub frame: Option<(f32, f32, f32, f32)>,
}

/// A place that can be gone to.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Title.
    pub title: String,
    /// 1, or 2 for one inside the last of 1.
    pub level: u8,
    /// Sheet, from 0.
    pub sheet: usize,
    /// How far down.
    pub y: f32,
}

/// A rectangle on a sheet that leads to a section.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Sheet, from 0.
    pub sheet: usize,
    /// Left, top, right, bottom.
    pub rect: (f32, f32, f32, f32),
    /// Section, by its number in the tree.
    pub to: usize,
    /// The mark on the sheet that is to say on which page it begins.
    pub mark: usize,
    /// Its node.
    pub node: usize,
    /// What it leads to.
    pub words: String,
}

/// The tree, its sections and links.
#[derive(Clone, Debug, PartialEq)]
pub struct Tree {
    /// The first is the document.
    pub nodes: Vec<Node>,
    /// In reading order.
    pub sections: Vec<Section>,
    /// In the order of their nodes.
    pub links: Vec<Link>,
}

impl Default for Tree {
    fn default() -> Tree {
        let document =
            Node { role: Role::Document, parent: 0, kids: Vec::new(), alt: String::new(), frame: None };
        Tree { nodes: vec![document], sections: Vec::new(), links: Vec::new() }
    }
}

impl Tree {
    /// Hangs a new node under a parent; returns its number.
    pub fn add(&mut self, role: Role, parent: usize) -> usize {
        let node = self.nodes.len();
        self.nodes.push(Node { role, parent, kids: Vec::new(), alt: String::new(), frame: None });
        self.hang(parent, Kid::Node(node));
        node
    }

    /// Hangs something in a node.
    pub fn hang(&mut self, node: usize, kid: Kid) {
        if let Some(n) = self.nodes.get_mut(node) {
            n.kids.push(kid);
        }
    }
}
