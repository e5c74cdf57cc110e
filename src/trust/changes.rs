//! What a version of a roster changes against the one before, in words for people; and the text of the next
//! version, ready to be edited.
//!
//! Not here: whether a version may follow (`succession`).

use super::Role;
use super::roster::{Person, PersonKey, RevokedAs, Roster};

/// What changes, one sentence each, in the order of the file; empty if nothing does.
pub fn changes(old: &Roster, new: &Roster) -> Vec<String> {
    let mut out = Vec::new();
    if old.threshold != new.threshold {
        out.push(format!("threshold: {} instead of {}", new.threshold, old.threshold));
    }
    for k in new.custodians.iter().filter(|k| !old.custodians.contains(k)) {
        out.push(format!("new custodian {}", k.fingerprint()));
    }
    for k in old.custodians.iter().filter(|k| !new.custodians.contains(k)) {
        out.push(format!("no longer a custodian: {}", k.fingerprint()));
    }
    for p in &new.persons {
        match old.person(&p.id) {
            None => {
                out.push(format!("new person `{}`, {}: {}", p.id, name(p), roles(p)));
                out.extend(p.keys.iter().map(|k| format!("`{}`: {}", p.id, new_key(k))));
            }
            Some(before) => out.extend(person(before, p)),
        }
    }
    for p in old.persons.iter().filter(|p| new.person(&p.id).is_none()) {
        out.push(format!("person gone: `{}`, {}", p.id, name(p)));
    }
    out
}

fn name(p: &Person) -> String {
    crate::text::safe_line(&p.name).into_owned()
}

fn roles(p: &Person) -> String {
    let words: Vec<&str> = p.roles.iter().map(|r| r.word()).collect();
    if words.is_empty() { "no role".into() } else { words.join(" ") }
}

fn new_key(k: &PersonKey) -> String {
    let ended = k.revoked.as_ref().map_or(String::new(), |r| format!(", {}", revoked(r)));
    format!("new key {}, from {} to {}{ended}", k.key.fingerprint(), k.from, k.to)
}

fn revoked((at, how): &(String, RevokedAs)) -> String {
    match how {
        RevokedAs::Retired => format!("retired at {at}"),
        RevokedAs::Compromised => format!("COMPROMISED at {at}"),
    }
}

fn person(old: &Person, new: &Person) -> Vec<String> {
    let id = &new.id;
    let mut out = Vec::new();
    if old.name != new.name {
        out.push(format!("`{id}`: name {} instead of {}", name(new), name(old)));
    }
    let words = |roles: Vec<&Role>| roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(" ");
    let more: Vec<&Role> = new.roles.difference(&old.roles).collect();
    let fewer: Vec<&Role> = old.roles.difference(&new.roles).collect();
    if !more.is_empty() {
        out.push(format!("`{id}`, {}: may also sign as {}", name(new), words(more)));
    }
    if !fewer.is_empty() {
        out.push(format!("`{id}`, {}: may no longer sign as {}", name(new), words(fewer)));
    }
    if old.competence != new.competence {
        let day = |d: &Option<jiff::civil::Date>| d.map_or("not stated".to_owned(), |d| d.to_string());
        out.push(format!(
            "`{id}`: competence shown until {}, before: {}",
            day(&new.competence),
            day(&old.competence)
        ));
    }
    for k in &new.keys {
        let Some(before) = old.keys.iter().find(|o| o.key == k.key) else {
            out.push(format!("`{id}`: {}", new_key(k)));
            continue;
        };
        let print = k.key.fingerprint();
        if (&before.from, &before.to) != (&k.from, &k.to) {
            out.push(format!(
                "`{id}`: key {print} may sign from {} to {}, before: from {} to {}",
                k.from, k.to, before.from, before.to
            ));
        }
        match (&before.revoked, &k.revoked) {
            (was, Some(now)) if was.as_ref() != Some(now) => {
                out.push(format!("`{id}`: key {print} {}", revoked(now)));
            }
            (Some(was), None) => {
                out.push(format!("`{id}`: key {print} is no longer revoked; it was {}", revoked(was)));
            }
            (_, Some(_)) | (None, None) => {}
        }
    }
    for k in old.keys.iter().filter(|o| !new.keys.iter().any(|k| k.key == o.key)) {
        out.push(format!("`{id}`: key gone: {}", k.key.fingerprint()));
    }
    out
}

/// The text of the version after this one, with nothing changed but its number and `before`. What stands
/// in the file beside them, comments too, stays as it is.
pub fn next_text(old: &Roster) -> Result<String, String> {
    let by_hand = format!(
        "the next version must be written by hand: `roster: {}` and `before: \"{}\"`",
        old.version + 1,
        old.hash()
    );
    let mut out = String::with_capacity(old.text().len() + 16);
    for line in old.text().split_inclusive('\n') {
        if line.starts_with("roster:") {
            out += &format!("roster: {}\n", old.version + 1);
        } else if line.starts_with("before:") {
            out += &format!("before: \"{}\"\n", old.hash());
        } else {
            out += line;
        }
    }
    match Roster::read(&out) {
        Ok(new)
            if new.version == old.version + 1
                && new.before() == old.hash()
                && changes(old, &new).is_empty() =>
        {
            Ok(out)
        }
        Ok(_) | Err(_) => Err(by_hand),
    }
}
