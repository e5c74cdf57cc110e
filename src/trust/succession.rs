//! One version of a roster after another: what a new version may change, and who must sign it.
//!
//! Always: versions rise by one and name the bytes before them; nobody and no key disappears, so that what
//! was signed stays attributable; a window is never stretched and a revocation never taken back; the
//! threshold of the old custodians and that of the new ones have signed.
//! Not here: adopting a version in a register (`record::chain`), custodians trusted from outside (`audit`),
//! what a version changes in words (`changes`).

use super::roster::{PersonKey, Roster, RosterSign};
use super::{PublicKey, sshsig};
use std::cmp::Ordering;

/// Everything in a new version that forbids that it follows the old one, whoever signed it; in words.
pub fn forbidden(old: &Roster, new: &Roster) -> Vec<String> {
    let mut why = Vec::new();
    if new.version != old.version + 1 {
        let hint = match new.version.cmp(&old.version) {
            Ordering::Less => "; this is an older version",
            Ordering::Equal => "; two versions of one number cannot both stand",
            Ordering::Greater => "; the versions between are missing",
        };
        why.push(format!(
            "roster version {} follows version {}, wanted {}{hint}",
            new.version,
            old.version,
            old.version + 1
        ));
    }
    if new.before() != old.hash() {
        why.push(format!(
            "`before` is {}, wanted {}, the SHA-256 of version {}",
            new.before(),
            old.hash(),
            old.version
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
        return Err("the custodians' signatures are not ascending by key, or a key stands twice".into());
    }
    for s in signs {
        if !old.custodians.contains(&s.key) && !new.custodians.contains(&s.key) {
            return Err(format!(
                "{} signed the roster but is a custodian of neither version",
                s.key.fingerprint()
            ));
        }
        if !s.key.verifies(&sshsig::tbs(sshsig::ROSTER, s.hash, new.text().as_bytes()), &s.sign) {
            return Err(format!("the roster signature of {} is wrong", s.key.fingerprint()));
        }
    }
    for (roster, which) in [(old, "before"), (new, "of the new version")] {
        let have = signs.iter().filter(|s| roster.custodians.contains(&s.key)).count();
        if have < roster.threshold {
            return Err(format!(
                "{have} of the custodians {which} signed it, their threshold is {}",
                roster.threshold
            ));
        }
    }
    Ok(signs.iter().map(|s| s.key.clone()).collect())
}

fn lost(old: &Roster, new: &Roster) -> Vec<String> {
    let mut why = Vec::new();
    for person in &old.persons {
        let Some(now) = new.person(&person.id) else {
            why.push(format!("the person `{}` is gone; take the roles away instead", person.id));
            continue;
        };
        for key in &person.keys {
            match now.keys.iter().find(|k| k.key == key.key) {
                None => why.push(format!(
                    "a key of `{}` is gone: {}; revoke it instead",
                    person.id,
                    key.key.fingerprint()
                )),
                Some(k) => {
                    if let Err(e) = unstretched(key, k) {
                        why.push(format!("a key of `{}`, {}: {e}", person.id, k.key.fingerprint()));
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
        why.push(format!(
            "{} was a custodian's key and is a person's, or the other way about",
            k.fingerprint()
        ));
    }
    why
}

fn unstretched(old: &PersonKey, new: &PersonKey) -> Result<(), String> {
    if new.from != old.from {
        return Err(format!("it begins at {}, wanted {} as before", new.from, old.from));
    }
    if new.to > old.to {
        return Err(format!(
            "it ends at {}, later than before, {}; a new key is made instead",
            new.to, old.to
        ));
    }
    match (&old.revoked, &new.revoked) {
        (None, _) => Ok(()),
        (Some(_), None) => Err("its revocation is taken back".into()),
        (Some((at, how)), Some((now, now_how))) => {
            // A retired key may turn out to have been in other hands, and earlier than thought.
            let softer = *how == super::roster::RevokedAs::Compromised
                && *now_how == super::roster::RevokedAs::Retired;
            if now > at || softer { Err("its revocation is made later or softer".into()) } else { Ok(()) }
        }
    }
}
