//! The table of kinds as Markdown: what stands in DEVELOPERS.md, made from the table that checks lines.
//!
//! Always: nothing is said here that [`KINDS`] does not say; a test compares the document with it.

use super::{ANY, Belongs, KINDS, Kind, Maker, Member, Shape};

/// The whole table, a line for each kind, with a line feed at the end of every line.
pub fn table() -> String {
    let mut s = String::from(
        "| kind | who | belongs to | members of `data` | states | says |\n|---|---|---|---|---|---|\n",
    );
    for k in KINDS {
        let members: Vec<String> = k.members.iter().map(member).collect();
        s += &format!(
            "| `{}` | {} | {} | {} | {} | {} |\n",
            k.name,
            maker(k),
            belongs(k),
            members.join("; "),
            states(k),
            k.says
        );
    }
    s
}

fn maker(k: &Kind) -> String {
    match k.maker {
        Maker::Station => "station, unsigned".into(),
        Maker::Signed(roles) => {
            let words: Vec<&str> = roles.iter().map(|r| r.word()).collect();
            format!("{}, signed", words.join(" or "))
        }
    }
}

const fn belongs(k: &Kind) -> &'static str {
    match k.belongs {
        Belongs::Permit => "permit",
        Belongs::Register => "register",
        Belongs::PermitOrSet => "permit, or `set`",
    }
}

fn states(k: &Kind) -> String {
    if k.states == ANY {
        return "any".into();
    }
    if k.states.is_empty() {
        return "none yet".into();
    }
    let words: Vec<&str> = k.states.iter().map(|s| s.english()).collect();
    words.join(", ")
}

fn member(m: &Member) -> String {
    let mark = if m.must { "" } else { "?" };
    format!("`{}{mark}` {}", m.name, shape(m.shape))
}

fn shape(s: Shape) -> String {
    match s {
        Shape::Ident => "ident".into(),
        Shape::Id => "id".into(),
        Shape::Text => "text".into(),
        Shape::Long => "long text".into(),
        Shape::Hash => "hash".into(),
        Shape::Log => "log id".into(),
        Shape::Date => "date".into(),
        Shape::Time => "time".into(),
        Shape::Decimal => "decimal".into(),
        Shape::Quantity => "quantity".into(),
        Shape::Int => "integer".into(),
        Shape::True => "`true`".into(),
        Shape::Permit => "permit number".into(),
        Shape::Station => "station code".into(),
        Shape::Signature => "signature".into(),
        Shape::SshKey => "public key".into(),
        Shape::OneOf(words) => format!("one of {}", words.join(" ")),
        Shape::List(inner) => format!("list of {}", shape(*inner)),
        Shape::Object(members) => {
            let members: Vec<String> = members.iter().map(member).collect();
            format!("{{{}}}", members.join(", "))
        }
        Shape::Free => "free".into(),
    }
}
