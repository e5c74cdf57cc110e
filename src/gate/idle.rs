//! Gates that hold nobody beyond what already holds, and conditions that are choices only. Only what is proved is said.

use super::tree::{Compare, Kind, Node};
use super::{Gate, Name};

/// One comparison of a choice: the name, whether it must be that id (or must not), the id.
pub type Chosen<'a> = (&'a Name, bool, &'a str);

impl Gate {
    /// True if one of its parts is an `or`.
    pub fn has_or(&self) -> bool {
        self.node().conjuncts().iter().any(|part| matches!(part.kind, Kind::Or(_)))
    }

    /// True if no value of `name` can shut it where all of `open` are open and every one of `yes` is answered yes:
    /// each part that looks at `name` is an `or` with an arm that holds there.
    pub fn idle(&self, name: &Name, open: &[&Gate], yes: &[&str]) -> bool {
        let holds = |part: &Node| {
            open.iter().any(|gate| gate.node().conjuncts().contains(part))
                || part.name().is_some_and(|n| matches!(n.as_slice(), [one] if yes.contains(&one.as_str())))
        };
        let idle = |part: &&Node| {
            let Kind::Or(arms) = &part.kind else { return false };
            arms.iter().any(|arm| arm.conjuncts().iter().all(holds))
        };
        let own: Vec<&Node> = self.node().conjuncts().iter().filter(|part| looks_at(part, name)).collect();
        !own.is_empty() && own.iter().all(idle)
    }

    /// Its parts (joined by `and`), each the comparisons of a choice of which one must hold (joined by `or`); `None`
    /// where anything else stands in it.
    pub fn chosen(&self) -> Option<Vec<Vec<Chosen<'_>>>> {
        self.node()
            .conjuncts()
            .iter()
            .map(|part| {
                let Kind::Or(arms) = &part.kind else { return chosen(part).map(|one| vec![one]) };
                arms.iter().map(chosen).collect()
            })
            .collect()
    }
}

fn chosen(node: &Node) -> Option<Chosen<'_>> {
    let Kind::Compare(compare, left, right) = &node.kind else {
        return None;
    };
    let is = match compare {
        Compare::Same => true,
        Compare::Differs => false,
        Compare::Less | Compare::AtMost | Compare::More | Compare::AtLeast => return None,
    };
    match (&left.kind, &right.kind) {
        (Kind::Name(name), Kind::Id(id)) | (Kind::Id(id), Kind::Name(name)) => Some((name, is, id)),
        (_, _) => None,
    }
}

fn looks_at(node: &Node, name: &Name) -> bool {
    node.name() == Some(name) || node.children().iter().any(|child| looks_at(child, name))
}
