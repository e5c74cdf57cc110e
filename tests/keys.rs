//! The keys in `keys/` are the demo's, and the demo's alone.

use airwrit::actions::roster_sign;
use airwrit::cli::demo::{PASSPHRASE, is_demo_roster, secret_key};
use airwrit::trust::{Roster, SecretKey, Signer};
use std::path::Path;

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("keys")
}

#[test]
fn every_key_file_opens_and_is_the_demos() {
    let mut seen = 0;
    for entry in folder().read_dir().unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "pem") {
            let id = path.file_stem().unwrap().to_str().unwrap();
            let pem = std::fs::read_to_string(&path).unwrap();
            let key = SecretKey::from_encrypted_pem(&pem, PASSPHRASE.as_bytes()).unwrap();
            assert_eq!(key.public(), secret_key(id).public(), "{id}");
            assert!(SecretKey::from_encrypted_pem(&pem, b"Demo").is_err());
            seen += 1;
        }
    }
    assert_eq!(seen, 14);
}

#[test]
fn the_roster_is_signed_and_known_as_the_demos() {
    let roster = Roster::read(&std::fs::read_to_string(folder().join("roster.yaml")).unwrap()).unwrap();
    let mut signs = Vec::new();
    for c in ["custodian-north", "custodian-quay"] {
        let armoured = std::fs::read_to_string(folder().join(format!("roster.yaml.{c}.sig"))).unwrap();
        signs.push(roster_sign(&roster, &armoured).unwrap());
    }
    signs.sort_by_key(|s| s.key.to_ssh());
    assert_eq!(roster.signed_by(&signs).unwrap().len(), 2);
    assert!(roster.signed_by(&signs[..1]).is_err(), "one of three is not enough");
    assert!(is_demo_roster(&roster));
    let other = Roster::read(&crate::support::roster_text()).unwrap();
    assert!(!is_demo_roster(&other));
}
