//! What a version of a roster changes against the one before, in words for people; and the text of the next
//! version, ready to be edited.
//!
//! Not here: whether a version may follow (`succession`).

use super::Role;
use super::roster::{Person, PersonKey, RevokedAs, Roster};
use crate::tongue::say;

/// What changes, one sentence each, in the order of the file; empty if nothing does.
pub fn changes(old: &Roster, new: &Roster) -> Vec<String> {
    let mut out = Vec::new();
    if old.threshold != new.threshold {
        out.push(say!("threshold: {new} instead of {old}", new = new.threshold, old = old.threshold));
    }
    for k in new.custodians.iter().filter(|k| !old.custodians.contains(k)) {
        out.push(say!("new custodian {key}", key = k.fingerprint()));
    }
    for k in old.custodians.iter().filter(|k| !new.custodians.contains(k)) {
        out.push(say!("no longer a custodian: {key}", key = k.fingerprint()));
    }
    for p in &new.persons {
        match old.person(&p.id) {
            None => {
                out.push(say!(
                    "new person `{id}`, {name}: {roles}",
                    id = p.id,
                    name = name(p),
                    roles = roles(p)
                ));
                out.extend(p.keys.iter().map(|k| format!("`{}`: {}", p.id, new_key(k))));
            }
            Some(before) => out.extend(person(before, p)),
        }
    }
    for p in old.persons.iter().filter(|p| new.person(&p.id).is_none()) {
        out.push(say!("person gone: `{id}`, {name}", id = p.id, name = name(p)));
    }
    out
}

fn name(p: &Person) -> String {
    crate::text::safe_line(&p.name).into_owned()
}

fn roles(p: &Person) -> String {
    let words: Vec<&str> = p.roles.iter().map(|r| r.word()).collect();
    if words.is_empty() { say!("no role").into() } else { words.join(" ") }
}

fn new_key(k: &PersonKey) -> String {
    let ended = k.revoked.as_ref().map_or(String::new(), |r| format!(", {}", revoked(r)));
    say!(
        "new key {key}, from {from} to {to}{ended}",
        key = k.key.fingerprint(),
        from = k.from,
        to = k.to,
        ended
    )
}

fn revoked((at, how): &(String, RevokedAs)) -> String {
    match how {
        RevokedAs::Retired => say!("retired at {at}", at),
        RevokedAs::Compromised => say!("COMPROMISED at {at}", at),
    }
}

fn person(old: &Person, new: &Person) -> Vec<String> {
    let id = &new.id;
    let mut out = Vec::new();
    if old.name != new.name {
        out.push(say!("`{id}`: name {new} instead of {old}", id, new = name(new), old = name(old)));
    }
    let words = |roles: Vec<&Role>| roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(" ");
    let more: Vec<&Role> = new.roles.difference(&old.roles).collect();
    let fewer: Vec<&Role> = old.roles.difference(&new.roles).collect();
    if !more.is_empty() {
        out.push(say!("`{id}`, {name}: may also sign as {roles}", id, name = name(new), roles = words(more)));
    }
    if !fewer.is_empty() {
        out.push(say!(
            "`{id}`, {name}: may no longer sign as {roles}",
            id,
            name = name(new),
            roles = words(fewer)
        ));
    }
    if old.competence != new.competence {
        let day = |d: &Option<jiff::civil::Date>| d.map_or(say!("not stated").to_owned(), |d| d.to_string());
        out.push(say!(
            "`{id}`: competence shown until {new}, before: {old}",
            id,
            new = day(&new.competence),
            old = day(&old.competence)
        ));
    }
    for k in &new.keys {
        let Some(before) = old.keys.iter().find(|o| o.key == k.key) else {
            out.push(format!("`{id}`: {}", new_key(k)));
            continue;
        };
        let print = k.key.fingerprint();
        if (&before.from, &before.to) != (&k.from, &k.to) {
            out.push(say!(
                "`{id}`: key {print} may sign from {from} to {to}, before: from {old_from} to {old_to}",
                id,
                print,
                from = k.from,
                to = k.to,
                old_from = before.from,
                old_to = before.to
            ));
        }
        match (&before.revoked, &k.revoked) {
            (was, Some(now)) if was.as_ref() != Some(now) => {
                out.push(say!("`{id}`: key {print} {revoked}", id, print, revoked = revoked(now)));
            }
            (Some(was), None) => {
                out.push(say!(
                    "`{id}`: key {print} is no longer revoked; it was {revoked}",
                    id,
                    print,
                    revoked = revoked(was)
                ));
            }
            (_, Some(_)) | (None, None) => {}
        }
    }
    for k in old.keys.iter().filter(|o| !new.keys.iter().any(|k| k.key == o.key)) {
        out.push(say!("`{id}`: key gone: {key}", id, key = k.key.fingerprint()));
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
