//! What a line says beside what the rules make of the same request.

use crate::record::json::{self, Json};
use crate::record::line::{Draft, Line, What};
use crate::text::quoted;

fn shown(value: Option<&Json>) -> String {
    match value {
        None => "nothing".to_owned(),
        Some(Json::Str(s)) => quoted(s, 120),
        Some(other) => {
            json::write(other).map_or_else(|why| why, |bytes| quoted(&String::from_utf8_lossy(&bytes), 120))
        }
    }
}

/// Each member of the line's data that is not as the rules make it.
pub fn members(got: &Json, wanted: &Json) -> Vec<String> {
    let (Json::Obj(a), Json::Obj(b)) = (got, wanted) else { return vec!["its data is no object".into()] };
    if a == b {
        return Vec::new();
    }
    let mut names: Vec<&str> = a.iter().chain(b).map(|(name, _)| name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let differs = |name: &&str| got.get(name) != wanted.get(name);
    let say = |name: &str| {
        format!(
            "its `{name}` is {}, worked out again it is {}",
            shown(got.get(name)),
            shown(wanted.get(name))
        )
    };
    names.into_iter().filter(differs).map(say).collect()
}

/// What of a line is not as the rules make it.
pub fn line(line: &Line, draft: &Draft) -> Vec<String> {
    let What::Data(data) = &draft.what else { return vec!["it would be signed".into()] };
    let mut out = members(&line.data, data);
    let number = draft.permit.as_ref().map(|(number, _)| number);
    if draft.kind != line.kind.name || number != line.permit.as_ref() {
        let of = |n: Option<&String>| n.cloned().unwrap_or_else(|| "no permit".into());
        out.push(format!(
            "it is a `{}` of {}, worked out again it is a `{}` of {}",
            line.kind.name,
            of(line.permit.as_ref()),
            draft.kind,
            of(number)
        ));
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

/// Reasons that one list has and the other does not, in words; empty if they are the same.
pub fn reasons(stands: &[&str], again: &[&str]) -> Vec<String> {
    let kept = |w: &&&str| !again.iter().any(|a| same(a, w));
    let lacks = |w: &&&str| !stands.iter().any(|s| same(w, s));
    let extra = stands.iter().filter(kept).map(|w| format!("it says, and the rules do not: {w}"));
    let missing = again.iter().filter(lacks).map(|w| format!("the rules say, and it does not: {w}"));
    extra.chain(missing).collect()
}

/// The record cuts a reason that is very long.
fn same(whole: &str, kept: &str) -> bool {
    whole == kept || (kept.len() >= 1800 && whole.starts_with(kept))
}
