//! Putting a text in force: a checklist, a set or a site file, by an approver.
//!
//! Always: only a text that can be read, as what it says of itself.

use super::{Hand, Prepared, may_sign};
use crate::permit::bench;
use crate::permit::decide::{Known, Refusal, unless};
use crate::permit::said::said;
use crate::record::json::{Json, object};
use crate::record::line::ActDraft;
use crate::tongue::say;
use crate::trust::Role;

/// An approver puts a text in force: `form`, `set` or `site`.
pub fn approve(
    known: &Known<'_>,
    hand: &Hand<'_>,
    kind: &'static str,
    id: &str,
    revision: Option<u32>,
    text: &str,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    unless(may_sign(known, hand.by, Role::Approver), say!("an approver of the roster puts texts in force"))?;
    is_what_it_says(kind, id, revision, text)?;
    let hash = crate::record::line::hash(text.as_bytes());
    let v = |what: &str| -> Vec<(&'static str, String)> {
        vec![
            ("id", id.to_owned()),
            ("what", what.to_owned()),
            ("hash", hash.clone()),
            ("revision", revision.unwrap_or_default().to_string()),
        ]
    };
    let words = said(if kind == "form" { "form" } else { "file" }, &v(kind)).map_err(Refusal::because)?;
    let mut data = object([
        (kind, id.into()),
        ("hash", hash.as_str().into()),
        ("said", words.into()),
        ("text", text.into()),
        ("where", if hand.own { "own" } else { "station" }.into()),
    ]);
    if let Some(r) = revision {
        data = data.with("revision", Json::Int(u64::from(r)));
    }
    if kind == "site" {
        data = data.with("what", "site");
    }
    let subject = crate::record::chain::subject_of(kind, &data);
    let before = subject.map_or(crate::record::line::NONE, |s| known.chain.last_of(&s)).to_owned();
    let act = ActDraft {
        kind,
        log: known.chain.origin.log.clone(),
        permit: None,
        shown: before,
        by: hand.by.to_owned(),
        role: Role::Approver,
        time: known.now.time.clone(),
        data,
    };
    Ok(Prepared { act, claim: None })
}

/// A text is put in force as what it says of itself, and only if it can be read.
fn is_what_it_says(kind: &str, id: &str, revision: Option<u32>, text: &str) -> Result<(), Refusal> {
    let (got_id, got_revision) = match kind {
        "form" => {
            let c = bench::checklist(id, text).map_err(Refusal::because)?;
            (c.id().to_owned(), Some(c.revision()))
        }
        _ => {
            let values = bench::file(kind, text).map_err(Refusal::because)?;
            (values.text(kind).unwrap_or_default().to_owned(), None)
        }
    };
    if got_id == id && got_revision == revision {
        return Ok(());
    }
    let of = |r: Option<u32>| r.map(|r| say!(", revision {revision}", revision = r)).unwrap_or_default();
    Err(Refusal::because(say!(
        "the text says it is {kind} `{id}`{revision}, the act says `{signed}`{other}",
        kind,
        id = got_id,
        revision = of(got_revision),
        signed = crate::text::safe_line(id),
        other = of(revision)
    )))
}
