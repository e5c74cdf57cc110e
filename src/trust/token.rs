//! The token in the QR code of a printed permit: signed proof of issue that a phone can carry.
//!
//! `AW1.<permit>.<valid to YYYYMMDDhhmm UTC>.<seq>.<H base32>.<first 8 bytes of SHA-256 of the key
//! blob, base32>.<signature base32>`; base32 is RFC 4648, upper case, no padding, spare bits zero;
//! every character is in QR's alphanumeric set. The signature is over `TBS(TOKEN, all before the
//! last dot)`. It proves issue, not that a sheet is the only copy.

use super::sshsig::{self, HashName};
use super::{PublicKey, Signer};
use data_encoding::{BASE32_NOPAD, HEXLOWER};
use sha2::{Digest, Sha256};

/// What a token claims.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Claim {
    /// Permit number.
    pub permit: String,
    /// UTC `YYYY-MM-DDThh:mm:ssZ`; the token keeps whole minutes.
    pub valid_to: String,
    /// seq of the line that the act names.
    pub seq: u64,
    /// H of that line, hex.
    pub hash: String,
}

/// First 8 bytes of the SHA-256 of the key blob, base32.
pub fn key_id(key: &PublicKey) -> String {
    let digest = Sha256::digest(key.blob());
    BASE32_NOPAD.encode(&digest[..8])
}

fn head(claim: &Claim, key: &PublicKey) -> String {
    let minutes: String = claim.valid_to.chars().filter(char::is_ascii_digit).take(12).collect();
    let hash = HEXLOWER.decode(claim.hash.as_bytes()).unwrap_or_default();
    format!("AW1.{}.{minutes}.{}.{}.{}", claim.permit, claim.seq, BASE32_NOPAD.encode(&hash), key_id(key))
}

/// Makes a token.
pub fn make(claim: &Claim, signer: &dyn Signer) -> Result<String, String> {
    let head = head(claim, &signer.public());
    let sign = signer.sign(&sshsig::tbs(sshsig::TOKEN, HashName::Sha256, head.as_bytes()))?;
    Ok(format!("{head}.{}", BASE32_NOPAD.encode(&sign)))
}

/// Checks a token against what it must claim and the key that must have signed it.
pub fn check(token: &str, wanted: &Claim, key: &PublicKey) -> Result<(), String> {
    let head = head(wanted, key);
    let Some((got, sign)) = token.rsplit_once('.') else {
        return Err("the token has no dots".into());
    };
    if got != head {
        return Err(format!("the token says `{}`, wanted `{head}`", crate::text::short(got)));
    }
    let sign: [u8; 64] = BASE32_NOPAD
        .decode(sign.as_bytes())
        .ok()
        .and_then(|s| s.try_into().ok())
        .ok_or("the token's signature is not canonical base32 of 64 bytes")?;
    if key.verifies(&sshsig::tbs(sshsig::TOKEN, HashName::Sha256, head.as_bytes()), &sign) {
        Ok(())
    } else {
        Err("the token's signature is wrong".into())
    }
}
