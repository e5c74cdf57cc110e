//! The tree of a paper as PDF: structure elements, what of each page hangs in which, the outline, links.
//!
//! Always holds: every marked content has its element, every element its place in reading order; a picture has words.
//! Not here: what hangs where (`flow`). Source: ISO 32000-1, 12.3.3 (outline), 12.5.6.5 (links), 14.7 and 14.8 (structure).

use super::face::Faces;
use super::finish::utf16;
use super::sheet::Sheet;
use super::tree::{Kid, Role, Section, Tree};
use lopdf::{Dictionary, Document, Object, ObjectId, dictionary};

/// Hangs everything in the document; returns the root of the structure and, if there are sections, the outline.
pub fn hang(
    doc: &mut Document,
    tree: &Tree,
    sheets: &[Sheet],
    high: f32,
    faces: &Faces,
) -> (ObjectId, Option<ObjectId>) {
    let pages: Vec<ObjectId> = doc.get_pages().into_values().collect();
    let root = doc.new_object_id();
    let ids: Vec<ObjectId> = tree.nodes.iter().map(|_| doc.new_object_id()).collect();
    let links: Vec<ObjectId> = tree.links.iter().map(|_| doc.new_object_id()).collect();
    let page = |n: usize| pages.get(n).copied();

    for (node, id) in tree.nodes.iter().zip(&ids) {
        // The page is named once where all of the content is on it; most nodes are so.
        let mut on = node.kids.iter().filter_map(|kid| match kid {
            Kid::Marked(sheet, _) => Some(*sheet),
            Kid::Node(_) | Kid::Link(_) => None,
        });
        let first = on.next().filter(|first| on.all(|other| other == *first));
        let kids = node.kids.iter().filter_map(|kid| match kid {
            Kid::Node(n) => ids.get(*n).map(|id| Object::Reference(*id)),
            Kid::Marked(_, number) if first.is_some() => Some(Object::Integer(*number as i64)),
            Kid::Marked(sheet, number) => {
                Some(dictionary! { "Type" => "MCR", "Pg" => page(*sheet)?, "MCID" => *number as i64 }.into())
            }
            Kid::Link(n) => {
                let sheet = tree.links.get(*n)?.sheet;
                Some(dictionary! { "Type" => "OBJR", "Pg" => page(sheet)?, "Obj" => *links.get(*n)? }.into())
            }
        });
        let kids: Vec<Object> = kids.collect();
        let parent =
            if node.role == Role::Document { root } else { ids.get(node.parent).copied().unwrap_or(root) };
        let mut element = dictionary! { "S" => node.role.tag(), "P" => parent };
        if let Some(here) = first.and_then(page) {
            element.set("Pg", here);
        }
        match <[Object; 1]>::try_from(kids) {
            Ok([only]) => element.set("K", only),
            Err(kids) if kids.is_empty() => {}
            Err(kids) => element.set("K", kids),
        }
        if !node.alt.is_empty() {
            element.set("Alt", utf16(&faces.safe(&node.alt)));
        }
        if node.role == Role::Head {
            element.set("A", dictionary! { "O" => "Table", "Scope" => "Column" });
        }
        if let Some((l, t, r, b)) = node.frame {
            let frame: Vec<Object> = [l, high - b, r, high - t].into_iter().map(Object::Real).collect();
            element.set("A", dictionary! { "O" => "Layout", "Placement" => "Block", "BBox" => frame });
        }
        doc.objects.insert(*id, element.into());
    }

    let mut numbers: Vec<Object> = Vec::new();
    for (n, sheet) in sheets.iter().enumerate() {
        let of_page: Vec<Object> =
            sheet.marked.iter().filter_map(|node| ids.get(*node)).map(|id| Object::Reference(*id)).collect();
        numbers.extend([Object::Integer(n as i64), of_page.into()]);
    }
    for (n, link) in tree.links.iter().enumerate() {
        if let Some(id) = ids.get(link.node) {
            numbers.extend([Object::Integer((sheets.len() + n) as i64), Object::Reference(*id)]);
        }
    }
    let parents = doc.add_object(dictionary! { "Nums" => numbers });
    let document = ids.first().copied().unwrap_or(root);
    let next = (sheets.len() + tree.links.len()) as i64;
    let tree_root = dictionary! {
        "Type" => "StructTreeRoot", "K" => vec![Object::Reference(document)], "ParentTree" => parents,
        "ParentTreeNextKey" => next,
    };
    doc.objects.insert(root, tree_root.into());

    let goes_to = |s: &Section| -> Option<Object> {
        let at = vec![
            page(s.sheet)?.into(),
            "XYZ".into(),
            Object::Null,
            Object::Real(high - s.y + 4.0),
            Object::Null,
        ];
        Some(at.into())
    };
    for (n, (link, id)) in tree.links.iter().zip(&links).enumerate() {
        let (l, t, r, b) = link.rect;
        let rect: Vec<Object> = [l, high - b, r, high - t].into_iter().map(Object::Real).collect();
        let mut annotation = dictionary! {
            "Type" => "Annot", "Subtype" => "Link", "Rect" => rect, "F" => 4,
            "Border" => vec![Object::Integer(0), Object::Integer(0), Object::Integer(0)],
            "Contents" => utf16(&faces.safe(&link.words)),
            "StructParent" => (sheets.len() + n) as i64,
        };
        if let Some(to) = tree.sections.get(link.to).and_then(goes_to) {
            annotation.set("Dest", to);
        }
        doc.objects.insert(*id, annotation.into());
    }
    for (n, id) in pages.iter().enumerate() {
        let Ok(page) = doc.get_dictionary_mut(*id) else { continue };
        page.set("StructParents", n as i64);
        page.set("Tabs", "S");
        page.remove(b"Annots");
        let here = tree.links.iter().zip(&links).filter(|(l, _)| l.sheet == n);
        let here: Vec<Object> = here.map(|(_, id)| Object::Reference(*id)).collect();
        if !here.is_empty() {
            page.set("Annots", here);
        }
    }
    (root, outline(doc, tree, faces, &goes_to))
}

/// The outline, two levels deep.
fn outline(
    doc: &mut Document,
    tree: &Tree,
    faces: &Faces,
    goes_to: &dyn Fn(&Section) -> Option<Object>,
) -> Option<ObjectId> {
    if tree.sections.is_empty() {
        return None;
    }
    let root = doc.new_object_id();
    let ids: Vec<ObjectId> = tree.sections.iter().map(|_| doc.new_object_id()).collect();
    // A section of level 2 before any of level 1 hangs in the outline itself.
    let mut parents: Vec<Option<usize>> = Vec::new();
    let mut above = None;
    for (n, s) in tree.sections.iter().enumerate() {
        if s.level <= 1 {
            above = Some(n);
            parents.push(None);
        } else {
            parents.push(above);
        }
    }
    let of = |parent: Option<usize>| -> Vec<ObjectId> {
        ids.iter().zip(&parents).filter(|(_, p)| **p == parent).map(|(id, _)| *id).collect()
    };
    let ends = |into: &mut Dictionary, kids: &[ObjectId], open: bool| {
        if let (Some(first), Some(last)) = (kids.first(), kids.last()) {
            into.set("First", *first);
            into.set("Last", *last);
            let n = kids.len() as i64;
            into.set("Count", if open { n } else { -n });
        }
    };
    for (n, s) in tree.sections.iter().enumerate() {
        let (Some(id), Some(parent)) = (ids.get(n), parents.get(n)) else { continue };
        let up = parent.and_then(|p| ids.get(p)).copied().unwrap_or(root);
        let mut item = dictionary! { "Title" => utf16(&faces.safe(&s.title)), "Parent" => up };
        if let Some(to) = goes_to(s) {
            item.set("Dest", to);
        }
        let beside = of(*parent);
        let at = beside.iter().position(|b| b == id).unwrap_or(0);
        if let Some(before) = at.checked_sub(1).and_then(|b| beside.get(b)) {
            item.set("Prev", *before);
        }
        if let Some(after) = beside.get(at + 1) {
            item.set("Next", *after);
        }
        ends(&mut item, &of(Some(n)), false);
        doc.objects.insert(*id, item.into());
    }
    let mut top = dictionary! { "Type" => "Outlines" };
    ends(&mut top, &of(None), true);
    doc.objects.insert(root, top.into());
    Some(root)
}
