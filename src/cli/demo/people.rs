//! The invented people, their keys, the roster and the trust file.

use super::{Cast, PASSPHRASE};
use crate::audit::Trust;
use crate::cli::{End, could_not};
use crate::disk::write_file;
use crate::trust::allowed::allowed_signers;
use crate::trust::roster::RosterSign;
use crate::trust::sshsig::{self, HashName};
use crate::trust::{PublicKey, Roster, SecretKey, Signer};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use std::path::Path;

const PEOPLE: &str = include_str!("../../../examples/people.yaml");
/// Custodians of the demo's roster; two of the three sign.
pub const CUSTODIANS: [&str; 3] = ["custodian-north", "custodian-west", "custodian-quay"];

#[derive(Deserialize)]
struct File {
    people: Vec<One>,
}

#[derive(Deserialize)]
struct One {
    id: String,
    name: String,
    roles: Vec<String>,
}

fn people() -> Result<Vec<One>, String> {
    let file: File = serde_yaml::from_str(PEOPLE).map_err(|e| format!("the demo's people: {e}"))?;
    Ok(file.people)
}

/// The key of somebody of the demo: from a seed that everybody knows.
pub fn secret_key(id: &str) -> SecretKey {
    SecretKey::from_seed(&Sha256::digest(format!("airwrit demo key, signs nothing real: {id}")).into())
}

/// True if any key of a roster is one of the demo's.
pub fn is_demo_roster(roster: &Roster) -> bool {
    let mut demo: Vec<PublicKey> = CUSTODIANS.iter().map(|c| secret_key(c).public()).collect();
    demo.extend(people().unwrap_or_default().iter().map(|p| secret_key(&p.id).public()));
    let persons = roster.persons.iter().flat_map(|p| p.keys.iter().map(|k| &k.key));
    roster.custodians.iter().chain(persons).any(|k| demo.contains(k))
}

fn roster_text() -> Result<String, String> {
    let mut s = format!(
        "# The roster of the demo. Its keys sign nothing real.\nroster: 1\nbefore: \"{}\"\nthreshold: 2\ncustodians:\n",
        "0".repeat(64)
    );
    for c in CUSTODIANS {
        s += &format!("  - {}\n", secret_key(c).public().to_ssh());
    }
    s += "persons:\n";
    for p in people()? {
        s += &format!(
            "  - id: {}\n    name: {}\n    roles: [{}]\n    competence: 2027-08-31\n    keys:\n      - key: {}\n        \
             from: 2026-01-01T00:00:00Z\n        to: 2027-12-31T23:59:59Z\n",
            p.id,
            p.name,
            p.roles.join(", "),
            secret_key(&p.id).public().to_ssh()
        );
    }
    Ok(s)
}

/// Makes the cast.
pub fn cast() -> Result<Cast, String> {
    let text = roster_text()?;
    let roster = Roster::read(&text)?;
    let custodians = vec![CUSTODIANS[0], CUSTODIANS[2]];
    let mut signs = Vec::new();
    for c in &custodians {
        let key = secret_key(c);
        let sign = key.sign(&sshsig::tbs(sshsig::ROSTER, HashName::Sha512, text.as_bytes()))?;
        signs.push(RosterSign { hash: HashName::Sha512, key: key.public(), sign });
    }
    signs.sort_by_key(|s| s.key.to_ssh());
    let trust = Trust {
        custodians: CUSTODIANS.iter().map(|c| secret_key(c).public().fingerprint()).collect(),
        threshold: 2,
    };
    Ok(Cast { roster, signs, custodians, trust })
}

/// Writes roster, signatures, trust file, allowed signers and the encrypted keys.
pub fn write(cast: &Cast, folder: &Path) -> Result<(), End> {
    crate::disk::Folder::make(&folder.join("keys"))?;
    let put = |name: &str, bytes: &[u8], secret: bool| write_file(&folder.join(name), bytes, true, secret);
    put("roster.yaml", cast.roster.text().as_bytes(), false)?;
    for c in &cast.custodians {
        let armoured = crate::actions::sign_roster(cast.roster.text(), &secret_key(c)).map_err(could_not)?;
        put(&format!("roster.yaml.{c}.sig"), armoured.as_bytes(), false)?;
    }
    let mut trust = String::from("# Given from outside: whom the auditor trusts.\ncustodians:\n");
    for f in &cast.trust.custodians {
        trust += &format!("  - {f}\n");
    }
    trust += &format!("threshold: {}\n", cast.trust.threshold);
    put("trust.yaml", trust.as_bytes(), false)?;
    let named = |k: &PublicKey| {
        let name = CUSTODIANS.iter().find(|c| secret_key(c).public() == *k);
        name.map_or_else(|| "custodian".to_owned(), |c| (*c).to_owned())
    };
    put("allowed_signers", allowed_signers(&cast.roster, &named).as_bytes(), false)?;
    for id in
        CUSTODIANS.iter().map(|c| (*c).to_owned()).chain(cast.roster.persons.iter().map(|p| p.id.clone()))
    {
        let pem = secret_key(&id).to_encrypted_pem(PASSPHRASE.as_bytes()).map_err(could_not)?;
        put(&format!("keys/{id}.pem"), pem.as_bytes(), true)?;
    }
    Ok(())
}
