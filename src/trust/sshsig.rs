//! OpenSSH's signature format (PROTOCOL.sshsig): the blob that is signed, and the armour of a
//! detached signature file. Stock `ssh-keygen -Y verify` checks what is made here.
//!
//! `TBS(ns, m) = "SSHSIG" || str(ns) || str("") || str(hash) || str(HASH(m))`, where `str(x)` is a
//! big-endian u32 length and the bytes. The namespaces keep one kind of signature from passing for
//! another.

use super::key::PublicKey;
use crate::tongue::say;
use data_encoding::{BASE64, BASE64_NOPAD};
use sha2::{Digest, Sha256, Sha512};

/// Namespace of the seal on every line.
pub const SEAL: &str = "airwrit-seal-v1";
/// Namespace of an act signed by a person.
pub const SIGN: &str = "airwrit-sign-v1";
/// Namespace of the token on paper.
pub const TOKEN: &str = "airwrit-token-v1";
/// Namespace of a roster.
pub const ROSTER: &str = "airwrit-roster-v1";

/// The hash inside the signed blob.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HashName {
    /// Used for everything but rosters.
    Sha256,
    /// What stock ssh-keygen signs with.
    Sha512,
}

impl HashName {
    /// The word in the blob.
    pub const fn word(self) -> &'static str {
        match self {
            HashName::Sha256 => "sha256",
            HashName::Sha512 => "sha512",
        }
    }

    /// The hash of a word.
    pub fn read(word: &str) -> Option<HashName> {
        [HashName::Sha256, HashName::Sha512].into_iter().find(|h| h.word() == word)
    }
}

fn put(out: &mut Vec<u8>, bytes: &[u8]) {
    let len = u32::try_from(bytes.len()).expect("the parts of a signed blob are short");
    out.extend_from_slice(&len.to_be_bytes());
    out.extend_from_slice(bytes);
}

/// The bytes that are signed for a message in a namespace.
pub fn tbs(namespace: &str, hash: HashName, message: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(128);
    out.extend_from_slice(b"SSHSIG");
    put(&mut out, namespace.as_bytes());
    put(&mut out, b"");
    put(&mut out, hash.word().as_bytes());
    match hash {
        HashName::Sha256 => put(&mut out, &Sha256::digest(message)),
        HashName::Sha512 => put(&mut out, &Sha512::digest(message)),
    }
    out
}

/// A signature from its 88 characters of canonical base64.
pub fn signature_from_base64(text: &str) -> Option<[u8; 64]> {
    if text.len() != 88 {
        return None;
    }
    BASE64.decode(text.as_bytes()).ok()?.try_into().ok()
}

/// A signature as 88 characters.
pub fn signature_to_base64(signature: &[u8; 64]) -> String {
    BASE64.encode(signature)
}

/// `SHA256:` and the base64 of the SHA-256 of the key blob, as OpenSSH prints it.
pub fn fingerprint(blob: &[u8]) -> String {
    format!("SHA256:{}", BASE64_NOPAD.encode(&Sha256::digest(blob)))
}

/// A detached signature as an armoured file (`NAME.sig`).
pub fn armour(key: &PublicKey, namespace: &str, hash: HashName, signature: &[u8; 64]) -> String {
    let mut sig = Vec::new();
    put(&mut sig, b"ssh-ed25519");
    put(&mut sig, signature);
    let mut out = b"SSHSIG".to_vec();
    out.extend_from_slice(&1u32.to_be_bytes());
    put(&mut out, &key.blob());
    put(&mut out, namespace.as_bytes());
    put(&mut out, b"");
    put(&mut out, hash.word().as_bytes());
    put(&mut out, &sig);
    let text = BASE64.encode(&out);
    let mut armoured = String::from("-----BEGIN SSH SIGNATURE-----\n");
    let mut rest = text.as_str();
    while !rest.is_empty() {
        let (line, tail) = rest.split_at(rest.len().min(70));
        armoured.push_str(line);
        armoured.push('\n');
        rest = tail;
    }
    armoured.push_str("-----END SSH SIGNATURE-----\n");
    armoured
}

/// What an armoured signature file holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Detached {
    /// The key that is said to have signed.
    pub key: PublicKey,
    /// Namespace.
    pub namespace: String,
    /// Hash of the message.
    pub hash: HashName,
    /// The signature.
    pub signature: [u8; 64],
}

impl Detached {
    /// Reads an armoured signature; in words what is wrong with it. Nothing is verified yet.
    pub fn read(armoured: &str) -> Result<Detached, String> {
        let body = armoured
            .trim()
            .strip_prefix("-----BEGIN SSH SIGNATURE-----")
            .and_then(|s| s.strip_suffix("-----END SSH SIGNATURE-----"))
            .ok_or_else(|| say!("this is no SSH signature: its first or last line is another"))?;
        let text: String = body.split_whitespace().collect();
        let bytes = BASE64.decode(text.as_bytes()).map_err(|_| say!("the signature is not base64"))?;
        let mut rest = bytes
            .strip_prefix(b"SSHSIG\0\0\0\x01".as_slice())
            .ok_or_else(|| say!("the signature is not of SSHSIG version 1"))?;
        let mut next = || take(&mut rest).ok_or_else(|| say!("the signature is cut short"));
        let (blob, namespace, reserved, hash, sig) = (next()?, next()?, next()?, next()?, next()?);
        if !rest.is_empty() || !reserved.is_empty() {
            return Err(say!("the signature has bytes that do not belong there").into());
        }
        let mut inner = sig;
        let algorithm = take(&mut inner).ok_or_else(|| say!("the signature is cut short"))?;
        let raw = take(&mut inner).ok_or_else(|| say!("the signature is cut short"))?;
        if algorithm != b"ssh-ed25519" || !inner.is_empty() {
            return Err(say!("the signature is not an ed25519 one").into());
        }
        Ok(Detached {
            key: PublicKey::from_blob(blob)?,
            namespace: String::from_utf8(namespace.to_vec())
                .map_err(|_| say!("the namespace is not text"))?,
            hash: std::str::from_utf8(hash)
                .ok()
                .and_then(HashName::read)
                .ok_or_else(|| say!("the signature's hash is neither sha256 nor sha512"))?,
            signature: raw.try_into().map_err(|_| say!("the signature is not 64 bytes"))?,
        })
    }
}

/// Takes one length-prefixed string off the front.
pub fn take<'a>(rest: &mut &'a [u8]) -> Option<&'a [u8]> {
    let (len, tail) = rest.split_first_chunk::<4>()?;
    let len = usize::try_from(u32::from_be_bytes(*len)).ok()?;
    let (head, tail) = tail.split_at_checked(len)?;
    *rest = tail;
    Some(head)
}
