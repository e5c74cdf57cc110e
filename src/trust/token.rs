//! The token in the QR code of a printed permit: signed proof of issue that a phone can carry.
//!
//! `AW1.<permit>.<valid to YYYYMMDDhhmm UTC>.<seq>.<H base32>.<first 8 bytes of SHA-256 of the key
//! blob, base32>.<signature base32>`; base32 is RFC 4648, upper case, no padding, spare bits zero;
//! every character is in QR's alphanumeric set. The signature is over `TBS(TOKEN, all before the
//! last dot)`. It proves issue, not that a sheet is the only copy.

use super::sshsig::{self, HashName};
use super::{PublicKey, Signer};
use crate::tongue::{say, say_n};
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
        return Err(say!("the token has no dots").into());
    };
    if got != head {
        return Err(say!(
            "the token says `{got}`, wanted `{wanted}`",
            got = crate::text::short(got),
            wanted = head
        ));
    }
    let sign: [u8; 64] = BASE32_NOPAD
        .decode(sign.as_bytes())
        .ok()
        .and_then(|s| s.try_into().ok())
        .ok_or_else(|| say!("the token's signature is not canonical base32 of 64 bytes"))?;
    if key.verifies(&sshsig::tbs(sshsig::TOKEN, HashName::Sha256, head.as_bytes()), &sign) {
        Ok(())
    } else {
        Err(say!("the token's signature is wrong").into())
    }
}

/// A token as it was scanned: its form is good, nothing in it is verified.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    /// What it claims.
    pub claim: Claim,
    /// Which key is said to have signed it: see [`key_id`].
    pub key_id: String,
    signed: String,
    sign: [u8; 64],
}

impl Token {
    /// Reads a token; in words what is wrong with its form.
    pub fn read(text: &str) -> Result<Token, String> {
        let parts: Vec<&str> = text.split('.').collect();
        let [name, permit, minutes, seq, hash, key, sign] = parts[..] else {
            return Err(say!(
                "a token has 7 parts with dots between, this has {got}",
                got = say_n!(parts.len(), "{n} part", "{n} parts")
            ));
        };
        if name != "AW1" {
            return Err(say!(
                "a token begins with AW1, this with {got}",
                got = crate::text::quoted(name, 12)
            ));
        }
        if !is_number(permit) {
            return Err(say!("{got} is no permit number", got = crate::text::quoted(permit, 20)));
        }
        let cut = |r: std::ops::Range<usize>| minutes.get(r).unwrap_or_default();
        let valid_to =
            format!("{}-{}-{}T{}:{}:00Z", cut(0..4), cut(4..6), cut(6..8), cut(8..10), cut(10..12));
        if minutes.len() != 12 || !crate::time::is_time(&valid_to) {
            return Err(say!("{got} is no time like 202611251430", got = crate::text::quoted(minutes, 20)));
        }
        let plain = !seq.is_empty() && seq.len() <= 16 && seq.bytes().all(|b| b.is_ascii_digit());
        let seq = seq.parse().ok().filter(|n| plain && *n < 1 << 53 && (*n == 0 || !seq.starts_with('0')));
        let Some(seq) = seq else {
            return Err(say!("the line that it names is no plain number").into());
        };
        let bytes =
            |text: &str, wanted: usize, long: &dyn Fn(usize) -> String, bad: &'static str| match BASE32_NOPAD
                .decode(text.as_bytes())
            {
                Ok(b) if b.len() == wanted => Ok(b),
                Ok(b) => Err(long(b.len())),
                Err(_) => Err(bad.to_owned()),
            };
        let hash = bytes(
            hash,
            32,
            &|got| say!("the hash of the line is {got} bytes long, wanted 32", got),
            say!(
                "the hash of the line is not base32 in its one form: capitals, digits 2 to 7, spare bits zero"
            ),
        )?;
        let hash = HEXLOWER.encode(&hash);
        bytes(
            key,
            8,
            &|got| say!("the name of the key is {got} bytes long, wanted 8", got),
            say!(
                "the name of the key is not base32 in its one form: capitals, digits 2 to 7, spare bits zero"
            ),
        )?;
        let sign = bytes(
            sign,
            64,
            &|got| say!("the signature is {got} bytes long, wanted 64", got),
            say!("the signature is not base32 in its one form: capitals, digits 2 to 7, spare bits zero"),
        )?;
        let sign = sign.try_into().map_err(|_| say!("the signature is not 64 bytes"))?;
        let signed = text.rsplit_once('.').map(|(signed, _)| signed.to_owned()).unwrap_or_default();
        let claim = Claim { permit: permit.to_owned(), valid_to, seq, hash };
        Ok(Token { claim, key_id: key.to_owned(), signed, sign })
    }

    /// True if this key signed it.
    pub fn signed_by(&self, key: &PublicKey) -> bool {
        key_id(key) == self.key_id
            && key.verifies(&sshsig::tbs(sshsig::TOKEN, HashName::Sha256, self.signed.as_bytes()), &self.sign)
    }
}

/// `[A-Z0-9]{2,8}-[0-9]{6}-[0-9]{2,3}`.
fn is_number(s: &str) -> bool {
    let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    let capital = |b: u8| b.is_ascii_digit() || b.is_ascii_uppercase();
    let parts: Vec<&str> = s.split('-').collect();
    matches!(parts[..], [station, day, count]
        if (2..=8).contains(&station.len()) && station.bytes().all(capital)
            && day.len() == 6 && digits(day) && (2..=3).contains(&count.len()) && digits(count))
}
