//! A signed act on its way to the station, as a file or in a QR code: `{"act":ACT,"act_sign":"P"}` LF.
//!
//! Always: the bytes that were signed are kept as they came; what is read here is in the record's narrow JSON,
//! with one spelling, and nothing stands before or after it. Not here: who signed, and whether it may be taken
//! in (`permit::decide::take_in`).

use super::json::{self, Json};
use super::line::{LONGEST, What};
use crate::tongue::say;
use crate::trust::sshsig;

const HEAD: &[u8] = b"{\"act\":";
const MARK: &[u8] = b",\"act_sign\":\"";
const END: &[u8] = b"\"}\n";
/// `,"act_sign":"`, 88 characters, `"}` and LF.
const TAIL: usize = MARK.len() + 88 + END.len();

/// A signed act.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Carried {
    /// The bytes that were signed.
    pub bytes: Vec<u8>,
    /// The same, read.
    pub act: Json,
    /// The signature.
    pub sign: [u8; 64],
}

impl Carried {
    /// Reads what came back; in words what is wrong.
    pub fn read(raw: &[u8]) -> Result<Carried, String> {
        if raw.len() > LONGEST {
            return Err(say!(
                "it is {length} bytes long, an act has at most {most}",
                length = raw.len(),
                most = LONGEST
            ));
        }
        let line_feeds = raw.iter().filter(|b| **b == b'\n').count();
        match (line_feeds, raw.ends_with(b"\n")) {
            (1, true) => {}
            (0, _) => return Err(say!("it does not end with a line feed: was it cut short?").into()),
            (_, true) => {
                return Err(say!(
                    "{lines} lines stand in it, one act is one line: take them in one by one",
                    lines = line_feeds
                ));
            }
            (_, false) => return Err(say!("bytes stand after its line").into()),
        }
        let act_end = raw.len().checked_sub(TAIL).filter(|e| *e > HEAD.len() + 1);
        let (Some(act_end), true) = (act_end, raw.starts_with(HEAD)) else {
            return Err(
                say!("it is no signed act: it does not begin with `{\"act\":`, or is too short").into()
            );
        };
        let (bytes, tail) = (&raw[HEAD.len()..act_end], &raw[act_end..]);
        if !tail.starts_with(MARK) || !tail.ends_with(END) {
            return Err(say!(
                "it is no signed act: it does not end with `,\"act_sign\":\"`, 88 characters and `\"}`"
            )
            .into());
        }
        let sign = std::str::from_utf8(&tail[MARK.len()..TAIL - END.len()])
            .ok()
            .and_then(sshsig::signature_from_base64)
            .ok_or_else(|| say!("its signature is not canonical base64 of 64 bytes"))?;
        let act = json::read(bytes).map_err(|f| {
            say!(
                "the act is not written as the record writes it, byte {byte}: {why}",
                byte = f.at,
                why = f.why
            )
        })?;
        match &act {
            Json::Obj(_) => Ok(Carried { bytes: bytes.to_vec(), act, sign }),
            Json::Arr(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_) => {
                Err(say!("the act is not an object").into())
            }
        }
    }

    /// A signed act of this machine.
    pub fn of(what: What) -> Result<Carried, String> {
        match what {
            What::Act { bytes, sign } => {
                let act = json::read(&bytes)
                    .map_err(|f| say!("the act is not in the profile: {why}", why = f.why))?;
                Ok(Carried { bytes, act, sign })
            }
            What::Data(_) => Err(say!("nobody signed this").into()),
        }
    }

    /// The bytes that travel.
    pub fn write(&self) -> Vec<u8> {
        let sign = sshsig::signature_to_base64(&self.sign);
        [HEAD, &self.bytes, MARK, sign.as_bytes(), END].concat()
    }

    /// What a line carries.
    pub fn what(&self) -> What {
        What::Act { bytes: self.bytes.clone(), sign: self.sign }
    }

    /// A text member of the act; empty if it has none.
    pub fn text(&self, name: &str) -> &str {
        self.act.text(name).unwrap_or_default()
    }
}
