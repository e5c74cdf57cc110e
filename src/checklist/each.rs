//! What a step is asked for each of, and how long an answer stays good.

use crate::source::{Findings, Node, Tree, typed};
use crate::text::{listed, nearest, quoted};
use crate::tongue::say;
use std::fmt;

/// A step is asked once for each of these.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Each {
    /// The items of a list of the set file that are in service.
    Set(String),
    /// The items of a list of the site file.
    Site(String),
    /// The items of a list of the job.
    Job(String),
    /// The wearers of the job; asked before that wearer's first time on air.
    Wearer,
}

impl Each {
    /// The list's name alone: `cylinders`; `wearers` for [`Each::Wearer`].
    pub fn list(&self) -> &str {
        match self {
            Each::Set(l) | Each::Site(l) | Each::Job(l) => l,
            Each::Wearer => "wearers",
        }
    }

    /// The word that names one of them in gates and texts: `item` or `wearer`.
    pub fn one(&self) -> &'static str {
        match self {
            Each::Set(_) | Each::Site(_) | Each::Job(_) => "item",
            Each::Wearer => "wearer",
        }
    }
}

impl fmt::Display for Each {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Each::Set(l) => write!(f, "set.{l}"),
            Each::Site(l) => write!(f, "site.{l}"),
            Each::Job(l) => write!(f, "job.{l}"),
            Each::Wearer => f.write_str("wearer"),
        }
    }
}

/// One condition under which an accepted answer stays good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct GoodFor {
    /// While this is the same.
    pub scope: Scope,
    /// True: for the whole site (`site:` was written); false: for this set.
    pub site_wide: bool,
}

/// What must be the same for an answer to stay good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scope {
    /// This permit.
    Permit,
    /// This shift.
    Shift,
    /// This start of the set.
    Start,
    /// This set.
    Set,
    /// This place.
    Place,
    /// This supply point.
    SupplyPoint,
    /// This wind.
    Wind,
    /// This filter.
    Filter,
    /// This fill of the reserve.
    Fill,
    /// This hose.
    Hose,
    /// This respirator.
    Respirator,
    /// This wearer.
    Wearer,
    /// So many hours.
    Hours(u32),
    /// So many months.
    Months(u32),
}

impl Scope {
    /// The scopes that are words of their own.
    pub const WORDS: [(&'static str, Scope); 12] = [
        ("permit", Scope::Permit),
        ("shift", Scope::Shift),
        ("start", Scope::Start),
        ("set", Scope::Set),
        ("place", Scope::Place),
        ("supply_point", Scope::SupplyPoint),
        ("wind", Scope::Wind),
        ("filter", Scope::Filter),
        ("fill", Scope::Fill),
        ("hose", Scope::Hose),
        ("respirator", Scope::Respirator),
        ("wearer", Scope::Wearer),
    ];
}

/// Reads `good_for`: one scope, or a list of which all must hold.
pub(super) fn good_for(n: &Node, out: &mut Findings) -> Vec<GoodFor> {
    match &n.tree {
        Tree::Seq(items) if !items.is_empty() => {
            items.iter().filter_map(|i| one_good_for(i, false, out)).collect()
        }
        Tree::Seq(_) => {
            out.error("bad-good-for", n, say!("an empty list; wanted: at least one scope"));
            Vec::new()
        }
        Tree::Scalar(..) | Tree::Map(_) => one_good_for(n, false, out).into_iter().collect(),
    }
}

fn one_good_for(n: &Node, site_wide: bool, out: &mut Findings) -> Option<GoodFor> {
    let words: Vec<&str> = Scope::WORDS.iter().map(|(w, _)| *w).collect();
    match &n.tree {
        Tree::Scalar(t, _) => {
            if let Some((_, scope)) = Scope::WORDS.iter().find(|(w, _)| w == t) {
                return Some(GoodFor { scope: *scope, site_wide });
            }
            let hint = nearest(t, words.iter().copied()).map_or_else(
                || say!("known: {words}", words = listed(&words, say!("and"))),
                |m| say!("did you mean `{near}`?", near = m),
            );
            out.hinted(
                "bad-good-for",
                n,
                say!("{got} is nothing an answer can stay good for", got = quoted(t, 40)),
                hint,
            );
            None
        }
        Tree::Map(entries) => match entries.as_slice() {
            [(k, v)] if k.text == "hours" => {
                typed::whole(v, 1, 8784, out).map(|n| GoodFor { scope: Scope::Hours(n), site_wide })
            }
            [(k, v)] if k.text == "months" => {
                typed::whole(v, 1, 120, out).map(|n| GoodFor { scope: Scope::Months(n), site_wide })
            }
            [(k, v)] if k.text == "site" && !site_wide => one_good_for(v, true, out),
            _ => {
                out.hinted(
                    "bad-good-for",
                    n,
                    say!("wanted: one of `hours`, `months`, `site` with its value"),
                    say!("write good_for: [place, {hours: 12}]"),
                );
                None
            }
        },
        Tree::Seq(_) => {
            out.error("bad-good-for", n, say!("a list inside a list"));
            None
        }
    }
}
