//! What a line says beside what the rules make of the same request.

use super::Why;
use crate::permit::called;
use crate::permit::decide::Known;
use crate::permit::state::Permit;
use crate::record::json::{self, Json};
use crate::record::line::{Draft, Line, What};
use crate::text::quoted;
use crate::tongue::say;

/// A value as people read it; none where nothing stands.
fn shown(value: Option<&Json>) -> Option<String> {
    Some(match value? {
        Json::Str(s) => quoted(s, 120),
        other @ (Json::Obj(_) | Json::Arr(_) | Json::Int(_) | Json::Bool(_)) => {
            json::write(other).map_or_else(|why| why, |bytes| quoted(&String::from_utf8_lossy(&bytes), 120))
        }
    })
}

/// Each member of the line's data that is not as the rules make it.
pub(super) fn members(got: &Json, wanted: &Json) -> Vec<Why> {
    let (Json::Obj(a), Json::Obj(b)) = (got, wanted) else {
        return vec![Why::said(|| say!("its data is no object").into())];
    };
    if a == b {
        return Vec::new();
    }
    let mut names: Vec<&str> = a.iter().chain(b).map(|(name, _)| name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let differs = |name: &&str| got.get(name) != wanted.get(name);
    let why = |name: &str| {
        let (name, got, wanted) = (name.to_owned(), shown(got.get(name)), shown(wanted.get(name)));
        let or_nothing = |value: &Option<String>| value.clone().unwrap_or_else(|| say!("nothing").into());
        Why::said(move || {
            say!(
                "its `{name}` is {got}, worked out again it is {wanted}",
                name,
                got = or_nothing(&got),
                wanted = or_nothing(&wanted)
            )
        })
    };
    names.into_iter().filter(differs).map(why).collect()
}

/// What of a line is not as the rules make it.
pub(super) fn line(line: &Line, draft: &Draft) -> Vec<Why> {
    let What::Data(data) = &draft.what else {
        return vec![Why::said(|| say!("it would be signed").into())];
    };
    let mut out = members(&line.data, data);
    let number = draft.permit.as_ref().map(|(number, _)| number);
    if draft.kind != line.kind.name || number.map(String::as_str) != line.permit.as_deref() {
        let (kind, permit) = (line.kind.name, line.permit.clone());
        let (again, number) = (draft.kind, number.cloned());
        let of = |n: Option<&str>| n.unwrap_or(say!("no permit")).to_owned();
        out.push(Why::said(move || {
            say!(
                "it is a `{kind}` of {permit}, worked out again it is a `{again}` of {wanted}",
                kind,
                permit = of(permit.as_deref()),
                again,
                wanted = of(number.as_deref())
            )
        }));
    }
    out
}

/// The refusal that rests on the laptop's clock: no record keeps what the clock showed.
const CLOCK: &str = "this laptop's clock is {min} min behind the last line of the register";

/// Reasons of a breach or a refusal that can be worked out again.
pub fn judgeable<'a>(why: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let head = crate::tongue::word(CLOCK).split("{min}").next().unwrap_or(CLOCK);
    why.into_iter().filter(|w| !w.starts_with(head)).collect()
}

/// What forbids going on air, without what earlier versions did not hold against it, where the record does not say it either.
pub(super) fn since_held(
    known: &Known<'_>,
    permit: &Permit,
    stands: &[&str],
    mut again: Vec<String>,
) -> Vec<String> {
    let later = called::before_issue(known, permit);
    again.retain(|w| !later.contains(w) || stands.iter().any(|s| same(w, s)));
    again
}

/// Reasons that one list has and the other does not, in words; empty if they are the same.
pub(super) fn reasons(stands: &[&str], again: &[&str]) -> Vec<Why> {
    let kept = |w: &&&str| !again.iter().any(|a| same(a, w));
    let lacks = |w: &&&str| !stands.iter().any(|s| same(w, s));
    let extra = stands.iter().filter(kept).map(|w| {
        let why = (*w).to_owned();
        Why::said(move || say!("it says, and the rules do not: {why}", why))
    });
    let missing = again.iter().filter(lacks).map(|w| {
        let why = (*w).to_owned();
        Why::said(move || say!("the rules say, and it does not: {why}", why))
    });
    extra.chain(missing).collect()
}

/// The record cuts a reason that is very long.
fn same(whole: &str, kept: &str) -> bool {
    whole == kept || (kept.len() >= 1800 && whole.starts_with(kept))
}
