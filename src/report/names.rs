//! Names of people: as the roster has them, else as the texts of a site had them.
//!
//! Always: a text that was in force when it counted, not only the last one; an id of which nothing tells a name has none.

use super::Input;
use crate::permit::bench::file;
use crate::text::safe_line;
use crate::tongue::say;
use std::collections::BTreeMap;

/// Names by id.
#[derive(Clone, Debug, Default)]
pub struct Names {
    roster: BTreeMap<String, String>,
    /// By the text's SHA-256.
    sites: BTreeMap<String, BTreeMap<String, String>>,
    /// Of all texts; a later one over one before it.
    any: BTreeMap<String, String>,
}

impl Names {
    /// By the roster, else by whichever text of a site named them last.
    pub fn name(&self, id: &str) -> Option<&str> {
        self.roster.get(id).or_else(|| self.any.get(id)).map(String::as_str)
    }

    /// As people read it: the name, the id where nothing tells one.
    pub fn called(&self, id: &str) -> String {
        safe_line(self.name(id).unwrap_or(id)).into_owned()
    }

    /// Everybody: id and name.
    pub fn all(&self) -> impl Iterator<Item = (&str, &str)> {
        self.any.iter().chain(&self.roster).map(|(id, name)| (id.as_str(), name.as_str()))
    }

    /// By the roster, else by the text of a site with this hash, else by any; the id where nothing tells.
    pub fn at<'a>(&'a self, site: &str, id: &'a str) -> &'a str {
        let by_site = || self.sites.get(site).and_then(|s| s.get(id));
        self.roster.get(id).or_else(by_site).or_else(|| self.any.get(id)).map_or(id, String::as_str)
    }
}

/// So many are named in one breath.
const FEW: usize = 4;

/// The first few of them, each once, and how many more there are.
pub fn few(all: impl IntoIterator<Item = String>) -> String {
    let mut out: Vec<String> = Vec::new();
    for name in all {
        if !out.contains(&name) {
            out.push(name);
        }
    }
    match out.len().checked_sub(FEW) {
        Some(more @ 1..) => {
            out.truncate(FEW);
            say!("{names} and {n} more", names = out.join(", "), n = more)
        }
        Some(_) | None => out.join(", "),
    }
}

/// Of a register.
pub fn of(input: &Input<'_>) -> Names {
    let mut out = Names::default();
    let Some(chain) = &input.replayed.chain else { return out };
    for p in &chain.origin.roster.persons {
        out.roster.insert(p.id.clone(), p.name.clone());
    }
    for l in input.verified.lines.iter().filter(|l| l.kind.name == "site") {
        let (Some(hash), Some(text)) = (l.data.text("hash"), l.data.text("text")) else { continue };
        let Ok(values) = file("site", text) else { continue };
        let people: BTreeMap<String, String> = values
            .items("people")
            .iter()
            .filter_map(|p| Some((p.id().to_owned(), p.words("name")?.own().to_owned())))
            .collect();
        out.any.extend(people.clone());
        out.sites.insert(hash.to_owned(), people);
    }
    out
}
