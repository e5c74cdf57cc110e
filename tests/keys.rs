//! The keys in `keys/` are the demo's, and the demo's alone.

use airwrit::actions::roster_sign;
use airwrit::cli::demo::{PASSPHRASE, is_demo_roster, secret_key};
use airwrit::trust::{Roster, SecretKey, Signer};
use std::path::Path;

const KEY: &str = include_str!("../keys/ines.pem");

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

/// Numbers of a key file as DER writes them: the tag, the length, the bytes.
fn with_cost(n: &[u8]) -> String {
    let (label, der) = pkcs8::SecretDocument::from_pem(KEY).unwrap();
    let was = [2u8, 2, 0x40, 0];
    let bytes = der.as_bytes();
    let at = bytes.windows(4).position(|w| w == was).expect("the demo's keys are made with N = 16384");
    let mut out = bytes[..at].to_vec();
    out.extend([2, n.len() as u8]);
    out.extend(n);
    out.extend(&bytes[at + 4..]);
    // Lengths of the four sequences around it.
    let longer = n.len() as i32 - 2;
    let mut i = 0;
    while i < at {
        if out[i] == 0x30 {
            match out[i + 1] {
                0x81 => {
                    out[i + 2] = (i32::from(out[i + 2]) + longer) as u8;
                    i += 3;
                }
                short if usize::from(short) + i + 2 > at => {
                    out[i + 1] = (i32::from(short) + longer) as u8;
                    i += 2;
                }
                short => i += 2 + usize::from(short),
            }
        } else {
            i += 2 + usize::from(out[i + 1]);
        }
    }
    let doc = pkcs8::Document::try_from(out).unwrap();
    doc.to_pem(label, pkcs8::LineEnding::LF).unwrap()
}

/// The numbers in a key file say how much memory and time it takes to open; no file makes the program fall over or wait.
#[test]
fn a_key_file_that_asks_for_too_much_or_for_nothing_is_refused() {
    assert!(SecretKey::from_encrypted_pem(&with_cost(&[0x40, 0]), b"demo").is_ok());
    for n in [
        &[0u8][..],
        &[1],
        &[3],
        &[0x40, 1],
        &[0x40, 0, 0, 0],
        &[0x10, 0, 0, 0, 0, 0, 0],
        &[0x40, 0, 0, 0, 0, 0, 0, 0],
    ] {
        let refused = SecretKey::from_encrypted_pem(&with_cost(n), b"demo");
        assert!(refused.is_err(), "{n:?}");
    }
}
