//! Ed25519 keys: OpenSSH public keys, PKCS#8 v1 private keys that `openssl pkey` reads.
//!
//! Always: a `PublicKey` is canonical and not weak (small order); secrets are wiped when dropped.

use super::sshsig;
use crate::tongue::say;
use data_encoding::BASE64;
use ed25519_dalek::pkcs8::spki::der::pem::LineEnding;
use ed25519_dalek::pkcs8::{DecodePrivateKey, EncodePrivateKey, KeypairBytes};
use ed25519_dalek::{Signature, SigningKey, Verifier, VerifyingKey};
use pkcs8::pkcs5::pbes2::Kdf;
use pkcs8::{EncryptedPrivateKeyInfoRef, SecretDocument};
use zeroize::Zeroizing;

/// The eight points of small order in their canonical writing, RFC 8032 section 5.1.2.
#[rustfmt::skip]
const SMALL_ORDER: [[u8; 32]; 8] = [
    [0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00,
     0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00],
    [0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00,
     0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x80],
    [0x01, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00,
     0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00],
    [0x26, 0xe8, 0x95, 0x8f, 0xc2, 0xb2, 0x27, 0xb0, 0x45, 0xc3, 0xf4, 0x89, 0xf2, 0xef, 0x98, 0xf0,
     0xd5, 0xdf, 0xac, 0x05, 0xd3, 0xc6, 0x33, 0x39, 0xb1, 0x38, 0x02, 0x88, 0x6d, 0x53, 0xfc, 0x05],
    [0x26, 0xe8, 0x95, 0x8f, 0xc2, 0xb2, 0x27, 0xb0, 0x45, 0xc3, 0xf4, 0x89, 0xf2, 0xef, 0x98, 0xf0,
     0xd5, 0xdf, 0xac, 0x05, 0xd3, 0xc6, 0x33, 0x39, 0xb1, 0x38, 0x02, 0x88, 0x6d, 0x53, 0xfc, 0x85],
    [0xc7, 0x17, 0x6a, 0x70, 0x3d, 0x4d, 0xd8, 0x4f, 0xba, 0x3c, 0x0b, 0x76, 0x0d, 0x10, 0x67, 0x0f,
     0x2a, 0x20, 0x53, 0xfa, 0x2c, 0x39, 0xcc, 0xc6, 0x4e, 0xc7, 0xfd, 0x77, 0x92, 0xac, 0x03, 0x7a],
    [0xc7, 0x17, 0x6a, 0x70, 0x3d, 0x4d, 0xd8, 0x4f, 0xba, 0x3c, 0x0b, 0x76, 0x0d, 0x10, 0x67, 0x0f,
     0x2a, 0x20, 0x53, 0xfa, 0x2c, 0x39, 0xcc, 0xc6, 0x4e, 0xc7, 0xfd, 0x77, 0x92, 0xac, 0x03, 0xfa],
    [0xec, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff,
     0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f],
];

/// An Ed25519 public key, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PublicKey {
    key: VerifyingKey,
}

impl PublicKey {
    /// From 32 bytes; refuses what is no point of the curve, not canonical, or weak.
    pub fn from_bytes(bytes: &[u8; 32]) -> Result<PublicKey, String> {
        let key = VerifyingKey::from_bytes(bytes).map_err(|_| say!("the key is no point of the curve"))?;
        // A point can be written in more than one way; one writing only, or one key could stand twice.
        let canonical = is_least(bytes);
        // Of the eight of small order those with x = 0 have a writing with a sign too.
        let mut unsigned = *bytes;
        if let Some(high) = unsigned.last_mut() {
            *high &= 0x7f;
        }
        if SMALL_ORDER.contains(bytes) || SMALL_ORDER.contains(&unsigned) || (!canonical && key.is_weak()) {
            return Err(say!("the key is weak (of small order): anyone could sign with it").into());
        }
        if !canonical {
            return Err(say!("the key is not written in its canonical form").into());
        }
        Ok(PublicKey { key })
    }

    /// From 64 lower-case hex digits.
    pub fn from_hex(hex: &str) -> Result<PublicKey, String> {
        let bytes: [u8; 32] = data_encoding::HEXLOWER
            .decode(hex.as_bytes())
            .ok()
            .and_then(|b| b.try_into().ok())
            .ok_or_else(|| say!("the key is not 64 lower-case hex digits"))?;
        PublicKey::from_bytes(&bytes)
    }

    /// From OpenSSH's `ssh-ed25519 AAAA...`, exactly: one space, no comment, canonical base64.
    pub fn read(text: &str) -> Result<PublicKey, String> {
        let b64 = text.strip_prefix("ssh-ed25519 ").ok_or_else(|| {
            say!("the key does not begin with `ssh-ed25519 `; only Ed25519 keys are used here")
        })?;
        let blob = BASE64
            .decode(b64.as_bytes())
            .map_err(|_| say!("the key is not canonical base64 (a comment after it must be left out)"))?;
        PublicKey::from_blob(&blob)
    }

    /// From OpenSSH's key blob.
    pub fn from_blob(blob: &[u8]) -> Result<PublicKey, String> {
        let mut rest = blob;
        let name = sshsig::take(&mut rest).ok_or_else(|| say!("the key is cut short"))?;
        let raw = sshsig::take(&mut rest).ok_or_else(|| say!("the key is cut short"))?;
        if name != b"ssh-ed25519" || !rest.is_empty() {
            return Err(say!("the key is not an ssh-ed25519 key").into());
        }
        PublicKey::from_bytes(raw.try_into().map_err(|_| say!("the key is not 32 bytes"))?)
    }

    /// OpenSSH's key blob.
    pub fn blob(&self) -> Vec<u8> {
        let mut out = Vec::with_capacity(51);
        out.extend_from_slice(&11u32.to_be_bytes());
        out.extend_from_slice(b"ssh-ed25519");
        out.extend_from_slice(&32u32.to_be_bytes());
        out.extend_from_slice(self.key.as_bytes());
        out
    }

    /// `ssh-ed25519 AAAA...`, no comment.
    pub fn to_ssh(&self) -> String {
        format!("ssh-ed25519 {}", BASE64.encode(&self.blob()))
    }

    /// Its 32 bytes.
    pub fn as_bytes(&self) -> &[u8; 32] {
        self.key.as_bytes()
    }

    /// 64 lower-case hex digits.
    pub fn to_hex(&self) -> String {
        data_encoding::HEXLOWER.encode(self.key.as_bytes())
    }

    /// `SHA256:...`, as OpenSSH prints it.
    pub fn fingerprint(&self) -> String {
        sshsig::fingerprint(&self.blob())
    }

    /// True if the signature over these signed bytes is good, strictly: what `verify_strict` of ed25519-dalek says. It says so
    /// without making a point of R: `verify` works R out and compares its one canonical writing, so that an R that passes
    /// is canonical, and is of small order only if it is one of eight.
    pub fn verifies(&self, signed: &[u8], signature: &[u8; 64]) -> bool {
        let weak = signature.first_chunk().is_none_or(|r| SMALL_ORDER.contains(r));
        !weak && self.key.verify(signed, &Signature::from_bytes(signature)).is_ok()
    }
}

/// Whether the y of a point is written as the least number that it is: below p = 2^255 - 19. The one other way to write a point
/// twice is the sign of x = 0, and such points are of small order.
fn is_least(bytes: &[u8; 32]) -> bool {
    let [low, middle @ .., high] = bytes;
    high & 0x7f != 0x7f || *low < 0xed || middle.iter().any(|b| *b != 0xff)
}

/// Something that can sign: a key in memory now, a token or another machine later.
pub trait Signer {
    /// Its public key.
    fn public(&self) -> PublicKey;
    /// Signs the bytes; in words why it could not.
    fn sign(&self, signed: &[u8]) -> Result<[u8; 64], String>;
}

/// A private key in memory.
pub struct SecretKey {
    key: SigningKey,
}

impl std::fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "SecretKey({})", self.public().fingerprint())
    }
}

impl SecretKey {
    /// From a 32-byte seed.
    pub fn from_seed(seed: &[u8; 32]) -> SecretKey {
        SecretKey { key: SigningKey::from_bytes(seed) }
    }

    /// The seed, wiped when dropped.
    pub fn seed(&self) -> Zeroizing<[u8; 32]> {
        Zeroizing::new(self.key.to_bytes())
    }

    /// PKCS#8 v1, PEM, encrypted (PBES2: scrypt, AES-256-CBC). `openssl pkey` reads it; the version 2
    /// form, which also holds the public key, it does not.
    pub fn to_encrypted_pem(&self, passphrase: &[u8]) -> Result<Zeroizing<String>, String> {
        KeypairBytes { secret_key: self.key.to_bytes(), public_key: None }
            .to_pkcs8_encrypted_pem(passphrase, LineEnding::LF)
            .map_err(|e| say!("the key could not be encrypted: {e}", e))
    }

    /// From an encrypted PKCS#8 PEM.
    pub fn from_encrypted_pem(pem: &str, passphrase: &[u8]) -> Result<SecretKey, String> {
        if pem.contains("BEGIN PRIVATE KEY") {
            return Err(
                say!("the key file is not encrypted; keys without passphrase are not used here").into()
            );
        }
        if !pem.contains("BEGIN ENCRYPTED PRIVATE KEY") {
            return Err(say!("this is no encrypted PKCS#8 key file (`airwrit key new` makes one)").into());
        }
        affordable(pem)?;
        SigningKey::from_pkcs8_encrypted_pem(pem, passphrase)
            .map(|key| SecretKey { key })
            .map_err(|_| say!("the passphrase does not open this key, or the file is damaged").into())
    }
}

/// Refuses a key file that asks for more work or memory than any that is made to be used: the numbers stand in the file, and
/// whoever hands it over chooses them. Our own asks for 16 MiB.
fn affordable(pem: &str) -> Result<(), String> {
    const BYTES: u64 = 512 * 1024 * 1024;
    const ROUNDS: u32 = 10_000_000;
    let damaged = say!("the key file is damaged: it cannot be read");
    let (_, document) = SecretDocument::from_pem(pem).map_err(|_| damaged)?;
    let info = EncryptedPrivateKeyInfoRef::try_from(document.as_bytes()).map_err(|_| damaged)?;
    let good = match info.encryption_algorithm.pbes2().map(|p| &p.kdf) {
        Some(Kdf::Scrypt(s)) => {
            let (n, r, p) = (s.cost_parameter, u64::from(s.block_size), u64::from(s.parallelization));
            let block = 128 * r;
            let memory = n.checked_mul(block).is_some_and(|bytes| bytes <= BYTES);
            n.is_power_of_two() && r > 0 && (1..=16).contains(&p) && memory
        }
        Some(Kdf::Pbkdf2(p)) => p.iteration_count <= ROUNDS,
        // A way not known here is told by the reader.
        Some(_) | None => true,
    };
    match good {
        true => Ok(()),
        false => Err(say!(
            "the key file asks for more work or memory to be opened than any key needs, or for none: it is not \
             opened. Make a new key with `airwrit key new`")
            .into()),
    }
}

impl Signer for SecretKey {
    fn public(&self) -> PublicKey {
        PublicKey { key: self.key.verifying_key() }
    }

    fn sign(&self, signed: &[u8]) -> Result<[u8; 64], String> {
        use ed25519_dalek::Signer as _;
        Ok(self.key.sign(signed).to_bytes())
    }
}
