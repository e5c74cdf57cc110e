//! The kinds of line under `v` 1: one closed table. Who writes each, whether a person signs it,
//! whether it belongs to a permit, its members, and the states of a permit in which it may stand.
//!
//! Always: a kind or member that is not here is refused under `v` 1. Checks, the fold and the table
//! in DEVELOPERS.md are made from this one. Not here: what a line does to the state (`permit`).

mod list;
mod table;

pub use list::{AGAIN, ANY, ASIDE, EVENTS, KINDS, SIGNS};
pub use table::table;

use super::json::{Json, SmolStr};
use crate::text::{is_id, is_ident};
use crate::time::{is_date, is_time};
use crate::tongue::say;
use crate::trust::Role;
use crate::view::StateWord;

/// The shape of a member's value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// `[a-z][a-z0-9_]{0,47}`: a step, stage, choice, item or event.
    Ident,
    /// `[a-z][a-z0-9-]{0,31}`: a checklist, person, set, site, place.
    Id,
    /// A line of text, 1 to 2000 bytes.
    Text,
    /// Text that may hold line breaks, 1 byte to the line's limit (`text`, `said` only).
    Long,
    /// 64 lower-case hex digits.
    Hash,
    /// 32 lower-case hex digits.
    Log,
    /// `2026-11-25`.
    Date,
    /// `2026-11-25T06:10:00Z`.
    Time,
    /// Decimal text, design rule: `-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?`.
    Decimal,
    /// Decimal text, a space and a unit: `5 ppm`.
    Quantity,
    /// An integer 0..2^53-1.
    Int,
    /// `true` only; a member that would be false is left out.
    True,
    /// A permit number `AB-261125-01`.
    Permit,
    /// A station code `[A-Z0-9]{2,8}`.
    Station,
    /// 88 characters of standard base64 of 64 bytes, canonical.
    Signature,
    /// An OpenSSH public key, `ssh-ed25519 AAAA...`, canonical, no comment.
    SshKey,
    /// One of these words.
    OneOf(&'static [&'static str]),
    /// A list of 1 to 64 of the shape.
    List(&'static Shape),
    /// An object with these members.
    Object(&'static [Member]),
    /// An object of texts, integers, `true`/`false`, lists and objects; what its members mean belongs
    /// to `rules`, not to `v`.
    Free,
}

/// A member of `data`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Member {
    /// Its name.
    pub name: &'static str,
    /// Must stand there.
    pub must: bool,
    /// Its shape.
    pub shape: Shape,
}

/// Who makes a line of a kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Maker {
    /// The station; `by` and `role` may say who was at it.
    Station,
    /// A person who signs, in one of these roles.
    Signed(&'static [Role]),
}

/// Whether a line of a kind belongs to a permit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Belongs {
    /// Always has `permit` and `pprev`.
    Permit,
    /// Never.
    Register,
    /// With a permit, or without one and then with `set` in its data.
    PermitOrSet,
}

/// One kind of line.
#[derive(Debug)]
pub struct Kind {
    /// Its name.
    pub name: &'static str,
    /// Who makes it.
    pub maker: Maker,
    /// Where it belongs.
    pub belongs: Belongs,
    /// The members of its data.
    pub members: &'static [Member],
    /// States of the permit in which it may stand; `ANY` for reports.
    pub states: &'static [StateWord],
    /// What it records, one phrase.
    pub says: &'static str,
}

/// The kind of this name under `v` 1.
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.binary_search_by(|k| k.name.cmp(name)).ok().and_then(|i| KINDS.get(i))
}

/// Kinds that may stand between what a signer was shown and their act: they change no state.
pub const HARMLESS: &[&str] = &["copy", "denied", "note", "reading", "witness"];

/// An answer holds exactly one of these.
const ANSWERS: [&str; 3] = ["value", "left_out", "deviation"];

/// Checks `data` against the members of a kind; in words what is wrong.
pub fn check_data(kind: &Kind, data: &Json) -> Result<(), String> {
    let what = || say!("data of `{kind}`", kind = kind.name);
    if !fits_object(kind.members, data) {
        check_object(&what(), kind.members, data)?;
    }
    match kind.name {
        "answer" if ANSWERS.iter().filter(|m| data.has(m)).count() != 1 => Err(say!(
            "{what}: exactly one of `value`, `left_out` and `deviation` must stand there",
            what = what()
        )),
        "recovery" => check_recovery(&what(), data),
        "extend" | "hand_over" => check_part(kind, &what(), data),
        "countersign" if data.has("seen") && data.has("not_seen") => {
            Err(say!("{what}: `seen` and `not_seen` do not stand together", what = what()))
        }
        _ => Ok(()),
    }
}

/// What each part of an act in two lines must hold, beside `part`, `said` and `where`; and what it may.
pub const PARTS: &[(&str, &str, &[&str], &[&str])] = &[
    ("extend", "asked", &["reason", "until"], &["entry_permits"]),
    ("extend", "given", &["target", "token", "valid_by", "valid_to"], &[]),
    ("hand_over", "outgoing", &["checked", "takes", "to", "unusual"], &["staying"]),
    ("hand_over", "incoming", &["target"], &[]),
];

fn check_part(kind: &Kind, what: &str, data: &Json) -> Result<(), String> {
    let part = data.text("part").unwrap_or_default();
    let Some((.., must, may)) = PARTS.iter().find(|(k, p, ..)| *k == kind.name && *p == part) else {
        return Err(say!("{what}: there is no part `{part}`", what, part));
    };
    if let Some(lacks) = must.iter().find(|m| !data.has(m)) {
        return Err(say!("{what}, `{part}`, lacks the member `{lacks}`", what, part, lacks));
    }
    let Json::Obj(have) = data else { return Ok(()) };
    let known = |m: &str| must.contains(&m) || may.contains(&m) || ["part", "said", "where"].contains(&m);
    match have.iter().find(|(m, _)| !known(m)) {
        Some((m, _)) => Err(say!(
            "{what}, `{part}`, has the member `{name}`, which belongs to the other part",
            what,
            part,
            name = m
        )),
        None => Ok(()),
    }
}

fn check_recovery(what: &str, data: &Json) -> Result<(), String> {
    let cut = data.has("hash") && data.has("length");
    if data.has("aside") == (data.has("hash") || data.has("length")) || !(cut || data.has("aside")) {
        return Err(say!("{what}: either `hash` and `length` stand there, or `aside`", what));
    }
    let Some(Json::Arr(list)) = data.get("aside") else { return Ok(()) };
    for item in list {
        let name = item.text("kind").unwrap_or_default();
        let (Some(k), Some(inner)) = (kind(name), item.get("data")) else {
            return Err(say!("{what}: an entry is of no kind", what));
        };
        check_data(k, inner)?;
        if item.has("permit") == inner.has("set") {
            return Err(say!(
                "{what}: an entry stands with a permit, or without one and then with `set`",
                what
            ));
        }
    }
    Ok(())
}

/// As [`check_object`], without the words.
fn fits_object(members: &[Member], value: &Json) -> bool {
    let Json::Obj(have) = value else { return false };
    let known = |(name, v): &(SmolStr, Json)| {
        members.iter().find(|m| m.name == name).is_some_and(|m| fits_shape(m.shape, v))
    };
    have.iter().all(known) && members.iter().filter(|m| m.must).all(|m| value.has(m.name))
}

fn fits_shape(shape: Shape, value: &Json) -> bool {
    match (shape, value) {
        (Shape::List(inner), Json::Arr(items)) => {
            (1..=64).contains(&items.len()) && items.iter().all(|i| fits_shape(*inner, i))
        }
        (Shape::Object(members), v) => fits_object(members, v),
        (Shape::Free, Json::Obj(_)) | (Shape::Int, Json::Int(_)) | (Shape::True, Json::Bool(true)) => true,
        (Shape::Free | Shape::List(_) | Shape::Int | Shape::True, _) => false,
        (of_text, Json::Str(s)) => fits_text(of_text, s),
        (_, _) => false,
    }
}

fn check_object(what: &str, members: &[Member], value: &Json) -> Result<(), String> {
    let Json::Obj(have) = value else {
        return Err(say!("{what} is not an object", what));
    };
    for (name, v) in have {
        match members.iter().find(|m| m.name == name) {
            None => {
                return Err(say!(
                    "{what} has the member `{name}`, which version 1 does not know",
                    what,
                    name
                ));
            }
            Some(m) => check_shape(&say!("`{name}` in {what}", name, what), m.shape, v)?,
        }
    }
    match members.iter().find(|m| m.must && !value.has(m.name)) {
        Some(m) => Err(say!("{what} lacks the member `{name}`", what, name = m.name)),
        None => Ok(()),
    }
}

fn check_shape(what: &str, shape: Shape, value: &Json) -> Result<(), String> {
    let bad = |wanted: &str| Err(say!("{what} is not {wanted}", what, wanted));
    match (shape, value) {
        (Shape::List(inner), Json::Arr(items)) => {
            if items.is_empty() || items.len() > 64 {
                return bad(say!("a list of 1 to 64"));
            }
            items.iter().try_for_each(|i| check_shape(what, *inner, i))
        }
        (Shape::Object(members), v) => check_object(what, members, v),
        (Shape::Free, Json::Obj(_)) => Ok(()),
        (Shape::Free, _) => bad(say!("an object")),
        (Shape::List(_), _) => bad(say!("a list")),
        (Shape::Int, Json::Int(_)) | (Shape::True, Json::Bool(true)) => Ok(()),
        (Shape::Int, _) => bad(say!("an integer")),
        (Shape::True, _) => bad("`true`"),
        (text_shape, Json::Str(s)) => match text_problem(text_shape, s) {
            None => Ok(()),
            Some(wanted) => {
                Err(say!("{what} is `{got}`, wanted {wanted}", what, got = crate::text::short(s), wanted))
            }
        },
        (_, _) => bad(say!("text")),
    }
}

fn fits_text(shape: Shape, s: &str) -> bool {
    match shape {
        Shape::Ident => is_ident(s),
        Shape::Id => is_id(s),
        Shape::Text => !s.is_empty() && s.len() <= 2000,
        Shape::Long => !s.is_empty(),
        Shape::Hash => is_hex(s, 64),
        Shape::Log => is_hex(s, 32),
        Shape::Date => is_date(s),
        Shape::Time => is_time(s),
        Shape::Decimal => is_decimal(s),
        Shape::Quantity => s
            .split_once(' ')
            .is_some_and(|(n, unit)| is_decimal(n) && (1..=16).contains(&unit.len()) && !unit.contains(' ')),
        Shape::Permit => is_permit(s),
        Shape::Station => is_station(s),
        Shape::Signature => crate::trust::sshsig::signature_from_base64(s).is_some(),
        Shape::SshKey => crate::trust::PublicKey::read(s).is_ok(),
        Shape::OneOf(words) => words.contains(&s),
        Shape::Int | Shape::True | Shape::List(_) | Shape::Object(_) | Shape::Free => false,
    }
}

/// What is wanted of a text, if it is not that.
fn text_problem(shape: Shape, s: &str) -> Option<String> {
    if fits_text(shape, s) {
        return None;
    }
    Some(match shape {
        Shape::Ident => say!("a name [a-z][a-z0-9_]{0,47}").into(),
        Shape::Id => say!("a name [a-z][a-z0-9-]{0,31}").into(),
        Shape::Text => say!("1 to 2000 bytes of text").into(),
        Shape::Long => say!("text").into(),
        Shape::Hash => say!("64 lower-case hex digits").into(),
        Shape::Log => say!("32 lower-case hex digits").into(),
        Shape::Date => say!("a date like 2026-11-25").into(),
        Shape::Time => say!("a UTC time like 2026-11-25T06:10:00Z").into(),
        Shape::Decimal => say!("a decimal number in plain form").into(),
        Shape::Permit => say!("a permit number like AB-261125-01").into(),
        Shape::Station => say!("2 to 8 of A-Z and 0-9").into(),
        Shape::Signature => say!("88 characters of canonical base64").into(),
        Shape::SshKey => say!("a canonical `ssh-ed25519` public key").into(),
        Shape::OneOf(words) => say!("one of {words}", words = words.join(", ")),
        Shape::Quantity => say!("a number and a unit like 5 ppm").into(),
        Shape::Int | Shape::True | Shape::List(_) | Shape::Object(_) | Shape::Free => say!("not text").into(),
    })
}

/// `n` lower-case hex digits.
pub fn is_hex(s: &str, n: usize) -> bool {
    s.len() == n && s.bytes().all(|c| c.is_ascii_digit() || (b'a'..=b'f').contains(&c))
}

fn is_decimal(s: &str) -> bool {
    let t = s.strip_prefix('-').unwrap_or(s);
    let (whole, part) = match t.split_once('.') {
        Some((w, p)) => (w, Some(p)),
        None => (t, None),
    };
    let digits =
        |s: &str, most: usize| !s.is_empty() && s.len() <= most && s.bytes().all(|c| c.is_ascii_digit());
    digits(whole, 9) && (whole == "0" || !whole.starts_with('0')) && part.is_none_or(|p| digits(p, 6))
}

/// `[A-Z0-9]{2,8}`.
pub fn is_station(s: &str) -> bool {
    (2..=8).contains(&s.len()) && s.bytes().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit())
}

/// `[A-Z0-9]{2,8}-[0-9]{6}-[0-9]{2,3}`.
pub fn is_permit(s: &str) -> bool {
    let mut parts = s.split('-');
    let (Some(a), Some(b), Some(c), None) = (parts.next(), parts.next(), parts.next(), parts.next()) else {
        return false;
    };
    let digits = |s: &str| s.bytes().all(|c| c.is_ascii_digit());
    is_station(a) && b.len() == 6 && digits(b) && (2..=3).contains(&c.len()) && digits(c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_sorted_and_its_members_too() {
        assert!(KINDS.windows(2).all(|w| w[0].name < w[1].name));
        for k in KINDS {
            let mut names: Vec<_> = k.members.iter().map(|m| m.name).collect();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), k.members.len(), "{}", k.name);
        }
    }

    #[test]
    fn decimals() {
        for good in ["0", "-0", "7", "207", "0.5", "-12.25", "999999999.999999"] {
            assert!(is_decimal(good), "{good}");
        }
        for bad in ["", "-", "00", "07", ".5", "5.", "+5", "1e3", "1,5", "1234567890", "1.1234567", "٣"] {
            assert!(!is_decimal(bad), "{bad}");
        }
    }

    #[test]
    fn times_and_numbers() {
        assert!(is_time("2026-11-25T06:10:00Z"));
        for bad in
            ["2026-02-30T06:10:00Z", "2026-11-25T24:00:00Z", "2026-11-25 06:10:00Z", "2026-11-25T06:10:60Z"]
        {
            assert!(!is_time(bad), "{bad}");
        }
        assert!(is_permit("KW2-261125-01") && is_permit("AB-261125-123"));
        for bad in ["kw-261125-01", "A-261125-01", "AB-26112-01", "AB-261125-1", "AB-261125-01-1"] {
            assert!(!is_permit(bad), "{bad}");
        }
    }
}
