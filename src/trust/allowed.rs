//! OpenSSH's file of allowed signers, made from a roster: who may sign in which namespace, from when to
//! when, so that stock `ssh-keygen -Y verify -Overify-time=...` judges keys and windows as the record does.
//!
//! Source: ssh-keygen(1), ALLOWED SIGNERS: `valid-after` and `valid-before` are inclusive, like ours.
//! What OpenSSH cannot be told: roles (but that tokens are made by supervisors), and that what a
//! compromised key signed before is unproven; both stand in the file as comments or not at all.
//! Not here: seals; their keys are named by the register itself and stand in no roster.

use super::roster::{PersonKey, RevokedAs, Roster};
use super::{PublicKey, Role, sshsig};
use crate::time::{seconds, utc};

/// The file. `custodian` names a custodian's principal.
pub fn allowed_signers(roster: &Roster, custodian: &dyn Fn(&PublicKey) -> String) -> String {
    let mut s = format!(
        "# Who may sign under roster version {}, SHA-256 {}.\n# Acts {}, tokens {}, rosters {}.\n",
        roster.version,
        roster.hash(),
        sshsig::SIGN,
        sshsig::TOKEN,
        sshsig::ROSTER
    );
    for p in &roster.persons {
        let supervisor = p.roles.contains(&Role::Supervisor);
        let spaces =
            if supervisor { format!("{},{}", sshsig::SIGN, sshsig::TOKEN) } else { sshsig::SIGN.to_owned() };
        for k in &p.keys {
            if let Some((at, RevokedAs::Compromised)) = &k.revoked {
                s += &format!(
                    "# The next key of {} was compromised at {at}: what it signed before is not proven.\n",
                    p.id
                );
            }
            match window(k) {
                None => s += &format!("# A key of {} never could sign: {}\n", p.id, k.key.fingerprint()),
                Some((from, to)) => {
                    s += &format!(
                        "{} namespaces=\"{spaces}\",{from}valid-before=\"{to}\" {}\n",
                        p.id,
                        k.key.to_ssh()
                    );
                }
            }
        }
    }
    for c in &roster.custodians {
        s += &format!("{} namespaces=\"{}\" {}\n", custodian(c), sshsig::ROSTER, c.to_ssh());
    }
    s
}

/// First and last second as OpenSSH writes them; `None` where revocation leaves nothing.
fn window(k: &PersonKey) -> Option<(String, String)> {
    // Revoked at a second: it may not sign in that second any more.
    let last = k.revoked.as_ref().map_or(seconds(&k.to), |(at, _)| seconds(&k.to).min(seconds(at) - 1));
    let first = seconds(&k.from);
    // OpenSSH reads the first second of 1970 as "no limit".
    let from = if first > 0 { format!("valid-after=\"{}\",", stamp(&k.from)) } else { String::new() };
    (first <= last && last > 0).then(|| (from, stamp(&utc(last))))
}

fn stamp(t: &str) -> String {
    t.chars().filter(char::is_ascii_digit).collect::<String>() + "Z"
}
