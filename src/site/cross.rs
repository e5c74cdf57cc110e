//! What must fit together inside one file: ends of ranges, a reserve and its cylinders, entry permits
//! or a reason why there is none. By the names of fields; a table without them is not concerned.

use super::Kind;
use super::values::{Entry, Held, Values};
use crate::source::{Findings, Node};

/// Adds what does not fit. `root` gives the places.
pub(super) fn check(kind: Kind, values: &Values, root: &Node, out: &mut Findings) {
    ranges(values, root, out);
    match kind {
        Kind::Set => reserve(values, root, out),
        Kind::Job => entry_permits(values, root, out),
        Kind::Site => {}
    }
}

/// `X_from` must not be above `X_to`, in every group and item.
fn ranges(values: &Values, node: &Node, out: &mut Findings) {
    for Entry { field, held, .. } in values.entries() {
        let own = node.get(field.name).unwrap_or(node);
        match held {
            Held::Map(m) => ranges(m, own, out),
            Held::Items(items) => {
                for (n, item) in items.iter().enumerate() {
                    let at = match &own.tree {
                        crate::source::Tree::Seq(nodes) => nodes.get(n).unwrap_or(own),
                        crate::source::Tree::Scalar(..) | crate::source::Tree::Map(_) => own,
                    };
                    ranges(item, at, out);
                }
            }
            Held::Quantity(from) => {
                let to =
                    field.name.strip_suffix("_from").and_then(|stem| values.quantity(&format!("{stem}_to")));
                if to.and_then(|to| from.quantity.compare(to)) == Some(std::cmp::Ordering::Greater) {
                    let message = format!("`{}` is {from}, above its upper end", field.name);
                    out.error("empty-range", own, message);
                }
            }
            Held::Id(_)
            | Held::Words(_)
            | Held::Text(_)
            | Held::Bool(_)
            | Held::Choice(_)
            | Held::Number(_)
            | Held::Date(_)
            | Held::Span { .. }
            | Held::TimeOfDay(_)
            | Held::Texts(_) => {}
        }
    }
}

fn reserve(values: &Values, root: &Node, out: &mut Findings) {
    let at = root.get("reserve").unwrap_or(root);
    let some = !values.items("cylinders").is_empty();
    match values.choice("reserve") {
        Some("cylinders") if !some => out.hinted(
            "reserve-disagrees",
            at,
            "the reserve is cylinders, and none is listed",
            "list them, or write `reserve: none`",
        ),
        Some("none") if some => out.hinted(
            "reserve-disagrees",
            at,
            "there is no reserve, and cylinders are listed",
            "remove them, or write `reserve: cylinders`",
        ),
        Some(_) | None => {}
    }
}

fn entry_permits(values: &Values, root: &Node, out: &mut Findings) {
    if values.items("entry_permits").is_empty() && values.text("why_no_entry_permit").is_none() {
        out.hinted(
            "no-entry-permit",
            root,
            "no entry permit is named, and no reason why there is none",
            "add `entry_permits:` or `why_no_entry_permit:`",
        );
    }
}
