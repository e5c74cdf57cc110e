//! One version of a roster after another: what a new version may change, and who must sign it.
//!
//! Always: versions rise by one and name the bytes before them; nobody and no key disappears, so that what
//! was signed stays attributable; a window is never stretched and a revocation never taken back; the
//! threshold of the old custodians and that of the new ones have signed.
//! Not here: adopting a version in a register (`record::chain`), custodians trusted from outside (`audit`),
//! what a version changes in words (`changes`).

use super::roster::{PersonKey, Roster, RosterSign};
use super::{PublicKey, sshsig};
use crate::tongue::say;
use std::cmp::Ordering;

/// Everything in a new version that forbids that it follows the old one, whoever signed it; in words.
pub fn forbidden(old: &Roster, new: &Roster) -> Vec<String> {
    let mut why = Vec::new();
    if new.version != old.version + 1 {
        let hint = match new.version.cmp(&old.version) {
            Ordering::Less => say!("this is an older version"),
            Ordering::Equal => say!("two versions of one number cannot both stand"),
            Ordering::Greater => say!("the versions between are missing"),
        };
        why.push(say!(
            "roster version {new} follows version {old}, wanted {wanted}; {hint}",
            new = new.version,
            old = old.version,
            wanted = old.version + 1,
            hint
        ));
    }
    if new.before() != old.hash() {
        why.push(say!(
            "`before` is {got}, wanted {wanted}, the SHA-256 of version {version}",
            got = new.before(),
            wanted = old.hash(),
            version = old.version
        ));
    }
    why.extend(lost(old, new));
    why
}

/// The custodians' keys of both versions that signed the new one, each signature checked; in words what
/// forbids that the new version follows the old one.
pub fn succeeds(old: &Roster, new: &Roster, signs: &[RosterSign]) -> Result<Vec<PublicKey>, String> {
    if let Some(why) = forbidden(old, new).into_iter().next() {
        return Err(why);
    }
    signed(old, new, signs)
}

/// The keys that signed a new version, each signature checked and enough of both versions' custodians.
pub fn signed(old: &Roster, new: &Roster, signs: &[RosterSign]) -> Result<Vec<PublicKey>, String> {
    if !signs.windows(2).all(|w| w[0].key.to_ssh() < w[1].key.to_ssh()) {
        return Err(say!("the custodians' signatures are not ascending by key, or a key stands twice").into());
    }
    for s in signs {
        if !old.custodians.contains(&s.key) && !new.custodians.contains(&s.key) {
            return Err(say!(
                "{key} signed the roster but is a custodian of neither version",
                key = s.key.fingerprint()
            ));
        }
        if !s.key.verifies(&sshsig::tbs(sshsig::ROSTER, s.hash, new.text().as_bytes()), &s.sign) {
            return Err(say!("the roster signature of {key} is wrong", key = s.key.fingerprint()));
        }
    }
    let have = |roster: &Roster| signs.iter().filter(|s| roster.custodians.contains(&s.key)).count();
    if have(old) < old.threshold {
        return Err(say!(
            "{have} of the custodians before signed it, their threshold is {wanted}",
            have = have(old),
            wanted = old.threshold
        ));
    }
    if have(new) < new.threshold {
        return Err(say!(
            "{have} of the custodians of the new version signed it, their threshold is {wanted}",
            have = have(new),
            wanted = new.threshold
        ));
    }
    Ok(signs.iter().map(|s| s.key.clone()).collect())
}

fn lost(old: &Roster, new: &Roster) -> Vec<String> {
    let mut why = Vec::new();
    for person in &old.persons {
        let Some(now) = new.person(&person.id) else {
            why.push(say!("the person `{person}` is gone; take the roles away instead", person = person.id));
            continue;
        };
        for key in &person.keys {
            match now.keys.iter().find(|k| k.key == key.key) {
                None => why.push(say!(
                    "a key of `{person}` is gone: {key}; revoke it instead",
                    person = person.id,
                    key = key.key.fingerprint()
                )),
                Some(k) => {
                    if let Err(e) = unstretched(key, k) {
                        why.push(say!(
                            "a key of `{person}`, {key}: {why}",
                            person = person.id,
                            key = k.key.fingerprint(),
                            why = e
                        ));
                    }
                }
            }
        }
    }
    // A person's key that was a custodian's before could have signed as either.
    let was_custodian = |k: &PublicKey| old.custodians.contains(k);
    let was_person = |k: &PublicKey| old.persons.iter().flat_map(|p| &p.keys).any(|p| p.key == *k);
    let persons = new.persons.iter().flat_map(|p| &p.keys).map(|k| &k.key).filter(|k| was_custodian(k));
    for k in persons.chain(new.custodians.iter().filter(|k| was_person(k))) {
        why.push(say!(
            "{key} was a custodian's key and is a person's, or the other way about",
            key = k.fingerprint()
        ));
    }
    why
}

fn unstretched(old: &PersonKey, new: &PersonKey) -> Result<(), String> {
    if new.from != old.from {
        return Err(say!("it begins at {got}, wanted {wanted} as before", got = new.from, wanted = old.from));
    }
    if new.to > old.to {
        return Err(say!(
            "it ends at {got}, later than before, {before}; a new key is made instead",
            got = new.to,
            before = old.to
        ));
    }
    match (&old.revoked, &new.revoked) {
        (None, _) => Ok(()),
        (Some(_), None) => Err(say!("its revocation is taken back").into()),
        (Some((at, how)), Some((now, now_how))) => {
            // A retired key may turn out to have been in other hands, and earlier than thought.
            let softer = *how == super::roster::RevokedAs::Compromised
                && *now_how == super::roster::RevokedAs::Retired;
            if now > at || softer {
                Err(say!("its revocation is made later or softer").into())
            } else {
                Ok(())
            }
        }
    }
}
