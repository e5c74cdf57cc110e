//! One line of a register: `{"body":BODY,"seal":"S"}`, read from its bytes and made.
//!
//! BODY is the bytes 8 .. len-99 of the line without its LF: fixed places, never searched for.
//! H is the SHA-256 of the line without its LF, lower-case hex.
//! Here: steps 1 to 4 and 6 of verification that need no other line. Not here: the chain.

use super::json::{self, Json, SmolStr, object};
use super::kinds::{self, Belongs, Kind, Maker};
use crate::tongue::say;
use crate::trust::sshsig::{self, HashName};
use crate::trust::{PublicKey, Role, Signer};
use sha2::{Digest, Sha256};
use std::ops::Deref;
use std::sync::Arc;

/// The longest line with its LF, bytes.
pub const LONGEST: usize = 2 * 1024 * 1024;
/// 64 zeros: there is no such line.
pub const NONE: &str = "0000000000000000000000000000000000000000000000000000000000000000";
const HEAD: &[u8] = b"{\"body\":";
const SEAL: &[u8] = b",\"seal\":\"";
const END: &[u8] = b"\"}";
const TAIL: usize = 99;
/// Not a rule: the line is of a version that is not known here, so that nothing can be said of it.
pub const OTHER_VERSION: &str = "other_version";
/// Not a rule: the line rests on something that is not kept where only the verdict is wanted.
pub const FORGOTTEN: &str = "forgotten";

/// Why a line is not good: the rule's word and a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broken {
    /// One word, stable: `frame`, `seal`, `prev`...
    pub rule: &'static str,
    /// In words: got, wanted.
    pub why: String,
}

/// A `Broken` as an error.
pub fn broken<T>(rule: &'static str, why: impl Into<String>) -> Result<T, Broken> {
    Err(Broken { rule, why: why.into() })
}

/// Why a line of so many bytes with its LF is none.
pub fn too_long(length: u64) -> Broken {
    Broken {
        rule: "frame",
        why: say!("the line is {length} bytes long, at most {most} are allowed", length, most = LONGEST),
    }
}

/// What a person said and signed, as carried by a line.
#[derive(Clone, Debug)]
pub struct Act {
    /// Person id.
    pub by: String,
    /// Role they signed as.
    pub role: Role,
    /// `SHA256:...`.
    pub key: String,
    /// The signer's clock, UTC.
    pub time: String,
    /// H of the last line of the permit the signer was shown, or (no permit) of the last line of the
    /// kind for its subject.
    pub shown: String,
    /// The bytes that were signed over.
    pub bytes: Vec<u8>,
    /// The signature.
    pub sign: [u8; 64],
}

/// A line whose frame, profile, members and shapes are good. Its seal is not checked yet. A copy shares what it says.
#[derive(Clone, Debug)]
pub struct Line(Arc<Says>);

impl Deref for Line {
    type Target = Says;

    fn deref(&self) -> &Says {
        &self.0
    }
}

/// What a line says.
#[derive(Clone, Debug)]
pub struct Says {
    /// Log id.
    pub log: SmolStr,
    /// Place in the log, from 0.
    pub seq: u64,
    /// H of the line before.
    pub prev: SmolStr,
    /// The station's clock, UTC.
    pub time: SmolStr,
    /// The site's offset then.
    pub zone: SmolStr,
    /// Its kind.
    pub kind: &'static Kind,
    /// Key that seals the next line, hex.
    pub next: PublicKey,
    /// SHA-256 of the roster in force before this line.
    pub roster: SmolStr,
    /// Permit number.
    pub permit: Option<SmolStr>,
    /// H of the permit's line before; `NONE` on its first.
    pub pprev: Option<SmolStr>,
    /// Who was at the station, as it says.
    pub by: Option<SmolStr>,
    /// Its data, or the act's.
    pub data: Json,
    /// The act, on signed kinds.
    pub act: Option<Box<Act>>,
    /// H.
    pub hash: SmolStr,
    /// H, its 32 bytes.
    digest: [u8; 32],
    /// The line without LF.
    pub raw: Vec<u8>,
    seal: [u8; 64],
    proved: Proved,
}

/// Signatures of a line that were tried before its turn came: the key's bytes, and whether it was that key's. Whoever
/// asks for another key has it tried anew.
#[derive(Clone, Debug, Default)]
struct Proved {
    seal: Option<([u8; 32], bool)>,
    act: Option<([u8; 32], bool)>,
}

/// H of a line without its LF.
pub fn hash(raw: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(&Sha256::digest(raw))
}

/// The 32 bytes of an H in words; `None` if it is none.
pub fn digest_of(hash: &str) -> Option<[u8; 32]> {
    let mut out = [0; 32];
    let wanted = hash.len() == 64 && data_encoding::HEXLOWER.decode_mut(hash.as_bytes(), &mut out).is_ok();
    wanted.then_some(out)
}

fn hex_of(digest: &[u8; 32]) -> SmolStr {
    let mut hex = [0; 64];
    data_encoding::HEXLOWER.encode_mut(digest, &mut hex);
    std::str::from_utf8(&hex).unwrap_or_default().into()
}

/// An H in words.
pub fn in_hex(digest: &[u8; 32]) -> String {
    data_encoding::HEXLOWER.encode(digest)
}

impl Line {
    /// H, its 32 bytes.
    pub fn digest(&self) -> [u8; 32] {
        self.digest
    }

    /// Reads a line (without LF).
    pub fn read(raw: &[u8]) -> Result<Line, Broken> {
        if raw.len() + 1 > LONGEST {
            return Err(too_long(raw.len() as u64 + 1));
        }
        let body_end = raw.len().checked_sub(TAIL).filter(|e| *e > HEAD.len() + 1);
        let (Some(body_end), true) = (body_end, raw.starts_with(HEAD)) else {
            return broken("frame", say!("the line does not begin with `{\"body\":` or is too short"));
        };
        let (body, tail) = (&raw[HEAD.len()..body_end], &raw[body_end..]);
        if raw.ends_with(b"\r") {
            return broken(
                "frame",
                say!(
                    "the line ends with a carriage return, byte 0D, as none does: the file was copied as text; copy it as it is"
                ),
            );
        }
        if !tail.starts_with(SEAL) || !tail.ends_with(END) {
            return broken(
                "frame",
                say!("the line does not end with `,\"seal\":\"`, 88 characters and `\"}`"),
            );
        }
        let seal = std::str::from_utf8(&tail[SEAL.len()..TAIL - END.len()])
            .ok()
            .and_then(sshsig::signature_from_base64)
            .map_or_else(|| broken("base64", say!("the seal is not canonical base64 of 64 bytes")), Ok)?;
        let value = json::read(body).or_else(|f| {
            broken("profile", say!("byte {byte} of the body: {why}", byte = f.at, why = f.why))
        })?;
        Line::from_body(raw, body, value, seal)
    }

    fn from_body(raw: &[u8], body: &[u8], value: Json, seal: [u8; 64]) -> Result<Line, Broken> {
        let Json::Obj(members) = value else {
            return broken("profile", say!("the body is not an object"));
        };
        let says = Body::of(members);
        match &says.v {
            Some(Json::Int(1)) => {}
            Some(Json::Int(v)) => {
                return broken(OTHER_VERSION, say!("this line is of version {v}; version 1 is read here", v));
            }
            Some(Json::Obj(_) | Json::Arr(_) | Json::Str(_) | Json::Bool(_)) | None => {
                return broken("version", say!("the body has no version `v` that is an integer"));
            }
        }
        says.check_names()?;
        let signed = says.act.is_some();
        let hex64 = |s: &str| kinds::is_hex(s, 64);
        let line_kind = text("kind", says.kind, |s| !s.is_empty())?;
        let Some(kind) = kinds::kind(&line_kind) else {
            return broken(
                "kind",
                say!("version 1 knows no kind `{kind}`", kind = crate::text::short(&line_kind)),
            );
        };
        let next = PublicKey::from_hex(&text("next", says.next, hex64)?)
            .or_else(|e| broken("seal", say!("the key for the next line: {why}", why = e)))?;
        let Some(Json::Int(seq)) = says.seq else {
            return broken("seq", say!("`seq` is not an integer"));
        };
        if (kind.name == "enrol") != (seq == 0) {
            return broken(
                "kind",
                say!(
                    "line {seq} is `{kind}`; `enrol` stands on line 0 and only there",
                    seq,
                    kind = kind.name
                ),
            );
        }
        let digest: [u8; 32] = Sha256::digest(raw).into();
        let mut line = Says {
            log: text("log", says.log, |s| kinds::is_hex(s, 32))?,
            seq,
            prev: text("prev", says.prev, hex64)?,
            time: text("time", says.time, crate::time::is_time)?,
            zone: text("zone", says.zone, is_zone)?,
            kind,
            next,
            roster: text("roster", says.roster, hex64)?,
            permit: may_be_text("permit", says.permit, kinds::is_permit)?,
            pprev: may_be_text("pprev", says.pprev, hex64)?,
            by: may_be_text("by", says.by, crate::text::is_id)?,
            data: Json::Bool(false),
            act: None,
            hash: hex_of(&digest),
            digest,
            raw: raw.to_vec(),
            seal,
            proved: Proved::default(),
        };
        may_be_text("role", says.role, |s| Role::read(s).is_some())?;
        line.check_belongs()?;
        if kind.maker == Maker::Station && !signed {
            line.data = says.data.unwrap_or(Json::Bool(false));
            line.check_data()?;
            return Ok(Line(Arc::new(line)));
        }
        match (kind.maker, says.act) {
            (Maker::Station, None) => {}
            (Maker::Signed(roles), Some(mut act)) => {
                let sign = says
                    .act_sign
                    .as_ref()
                    .and_then(Json::as_str)
                    .and_then(sshsig::signature_from_base64)
                    .map_or_else(
                        || broken("base64", say!("`act_sign` is not canonical base64 of 64 bytes")),
                        Ok,
                    )?;
                line.check_act_members(&act)?;
                line.data = act.take("data").unwrap_or(Json::Bool(false));
                line.check_data()?;
                line.act = Some(Box::new(line.read_act(&act, roles, act_bytes(body)?, sign)?));
            }
            (Maker::Station, Some(_)) => {
                return broken(
                    "kind",
                    say!("`{kind}` is not signed by a person, but carries an act", kind = kind.name),
                );
            }
            (Maker::Signed(_), None) => {
                return broken("kind", say!("`{kind}` must be signed by a person", kind = kind.name));
            }
        }
        Ok(Line(Arc::new(line)))
    }
}

/// The members of a body, as far as they stand there.
#[derive(Default)]
struct Body {
    act: Option<Json>,
    act_sign: Option<Json>,
    by: Option<Json>,
    data: Option<Json>,
    kind: Option<Json>,
    log: Option<Json>,
    next: Option<Json>,
    permit: Option<Json>,
    pprev: Option<Json>,
    prev: Option<Json>,
    role: Option<Json>,
    roster: Option<Json>,
    seq: Option<Json>,
    time: Option<Json>,
    v: Option<Json>,
    zone: Option<Json>,
    /// The first name that is none of these.
    unknown: Option<SmolStr>,
}

impl Body {
    fn of(members: Vec<(SmolStr, Json)>) -> Body {
        let mut out = Body::default();
        for (name, value) in members {
            let place = match name.as_str() {
                "act" => &mut out.act,
                "act_sign" => &mut out.act_sign,
                "by" => &mut out.by,
                "data" => &mut out.data,
                "kind" => &mut out.kind,
                "log" => &mut out.log,
                "next" => &mut out.next,
                "permit" => &mut out.permit,
                "pprev" => &mut out.pprev,
                "prev" => &mut out.prev,
                "role" => &mut out.role,
                "roster" => &mut out.roster,
                "seq" => &mut out.seq,
                "time" => &mut out.time,
                "v" => &mut out.v,
                "zone" => &mut out.zone,
                _ => {
                    out.unknown = out.unknown.or(Some(name));
                    continue;
                }
            };
            *place = Some(value);
        }
        out
    }

    fn check_names(&self) -> Result<(), Broken> {
        let (signed, permit) = (self.act.is_some(), self.permit.is_some());
        // Whether each must stand there, and whether it may; in ascending order.
        let all = [
            ("act", &self.act, signed, signed),
            ("act_sign", &self.act_sign, signed, signed),
            ("by", &self.by, false, !signed),
            ("data", &self.data, !signed, !signed),
            ("kind", &self.kind, true, true),
            ("log", &self.log, true, true),
            ("next", &self.next, true, true),
            ("permit", &self.permit, permit, permit),
            ("pprev", &self.pprev, permit, permit),
            ("prev", &self.prev, true, true),
            ("role", &self.role, false, !signed),
            ("roster", &self.roster, true, true),
            ("seq", &self.seq, true, true),
            ("time", &self.time, true, true),
            ("v", &self.v, true, true),
            ("zone", &self.zone, true, true),
        ];
        if let Some((name, ..)) = all.iter().find(|(_, value, must, _)| *must && value.is_none()) {
            return broken(rule_of(name), say!("the body lacks the member `{name}`", name));
        }
        let displaced = all.iter().find(|(_, value, _, may)| !may && value.is_some()).map(|(name, ..)| *name);
        match displaced.into_iter().chain(self.unknown.as_deref()).min() {
            Some(name) => {
                broken("kind", say!("the body has a member `{name}` that does not belong there", name))
            }
            None => Ok(()),
        }
    }
}

/// A member of the body that must be text in its form.
fn text(name: &str, value: Option<Json>, good: impl Fn(&str) -> bool) -> Result<SmolStr, Broken> {
    match value {
        Some(Json::Str(s)) if good(&s) => Ok(s),
        Some(_) | None => {
            broken(rule_of(name), say!("the member `{name}` of the body is not in its form", name))
        }
    }
}

/// One that need not stand there.
fn may_be_text(
    name: &str,
    value: Option<Json>,
    good: impl Fn(&str) -> bool,
) -> Result<Option<SmolStr>, Broken> {
    value.map(|v| text(name, Some(v), good)).transpose()
}

impl Says {
    fn check_data(&self) -> Result<(), Broken> {
        let kind = self.kind;
        kinds::check_data(kind, &self.data).or_else(|why| broken("kind", why))?;
        if kind.belongs == Belongs::PermitOrSet && self.permit.is_some() == self.data.has("set") {
            return broken(
                "kind",
                say!("`{kind}` stands with a permit, or without one and then with `set`", kind = kind.name),
            );
        }
        Ok(())
    }

    fn check_belongs(&self) -> Result<(), Broken> {
        match (self.kind.belongs, self.permit.is_some()) {
            (Belongs::Permit, true) | (Belongs::Register, false) | (Belongs::PermitOrSet, _) => Ok(()),
            (Belongs::Permit, false) => {
                broken("kind", say!("`{kind}` belongs to a permit and names none", kind = self.kind.name))
            }
            (Belongs::Register, true) => {
                broken("kind", say!("`{kind}` belongs to no permit but names one", kind = self.kind.name))
            }
        }
    }

    fn check_act_members(&self, act: &Json) -> Result<(), Broken> {
        let Json::Obj(members) = act else {
            return broken("act", say!("the act is not an object"));
        };
        let names: Vec<&str> = members.iter().map(|(k, _)| k.as_str()).collect();
        let wanted: &[&str] = if self.permit.is_some() {
            &["by", "data", "key", "kind", "log", "permit", "pprev", "role", "time", "v"]
        } else {
            &["after", "by", "data", "key", "kind", "log", "role", "time", "v"]
        };
        if names != wanted {
            return broken(
                "act",
                say!(
                    "the act has the members {got}, wanted {wanted}",
                    got = names.join(" "),
                    wanted = wanted.join(" ")
                ),
            );
        }
        Ok(())
    }

    fn read_act(&self, act: &Json, roles: &[Role], bytes: Vec<u8>, sign: [u8; 64]) -> Result<Act, Broken> {
        if act.int("v") != Some(1) {
            return broken("act", say!("the act is not of version 1"));
        }
        for (name, ours) in [
            ("kind", Some(self.kind.name)),
            ("log", Some(self.log.as_str())),
            ("permit", self.permit.as_deref()),
        ] {
            if act.text(name) != ours {
                return broken(
                    "act",
                    say!("the act's `{name}` is not the line's: it was signed for something else", name),
                );
            }
        }
        let text = |name: &str, rule: &'static str, good: &dyn Fn(&str) -> bool| match act.text(name) {
            Some(s) if good(s) => Ok(s.to_owned()),
            _ => broken(rule, say!("the member `{name}` of the act is not in its form", name)),
        };
        let role_word = act.text("role").unwrap_or_default();
        let Some(role) = Role::read(role_word).filter(|r| roles.contains(r)) else {
            return broken(
                "person",
                say!(
                    "`{kind}` is not signed as `{role}`",
                    kind = self.kind.name,
                    role = crate::text::short(role_word)
                ),
            );
        };
        let shown = if self.permit.is_some() { "pprev" } else { "after" };
        Ok(Act {
            by: text("by", "person", &crate::text::is_id)?,
            role,
            key: text("key", "key", &|s| s.starts_with("SHA256:"))?,
            time: text("time", "time", &crate::time::is_time)?,
            shown: text(shown, shown, &|s| kinds::is_hex(s, 64))?,
            bytes,
            sign,
        })
    }
}

impl Line {
    /// A report that this line carries among others, as if it stood alone. Only the fold may use it: its
    /// bytes and hash are those of this line.
    #[must_use]
    pub fn reporting(&self, kind: &'static Kind, data: Json, by: Option<&str>, permit: Option<&str>) -> Line {
        let (by, permit) = (by.map(SmolStr::new), permit.map(SmolStr::new));
        Line(Arc::new(Says { kind, data, by, permit, act: None, ..Says::clone(self) }))
    }

    /// BODY.
    pub fn body(&self) -> &[u8] {
        &self.raw[HEAD.len()..self.raw.len() - TAIL]
    }

    /// True if the line is sealed by this key.
    pub fn sealed_by(&self, key: &PublicKey) -> bool {
        match self.proved.seal {
            Some((tried, good)) if tried == *key.as_bytes() => good,
            Some(_) | None => {
                key.verifies(&sshsig::tbs(sshsig::SEAL, HashName::Sha256, self.body()), &self.seal)
            }
        }
    }

    /// True if the line carries an act that is signed with this key.
    pub fn signed_with(&self, key: &PublicKey) -> bool {
        let Some(act) = &self.act else { return false };
        match self.proved.act {
            Some((tried, good)) if tried == *key.as_bytes() => good,
            Some(_) | None => {
                key.verifies(&sshsig::tbs(sshsig::SIGN, HashName::Sha256, &act.bytes), &act.sign)
            }
        }
    }

    /// Tries the signatures ahead of the line's turn: the seal by the key that the line before names, as far as that is
    /// known, and the act by the person's. Says nothing of the line by itself.
    pub fn prove(&mut self, seal: Option<&PublicKey>, person: Option<&PublicKey>) {
        let seal = seal.map(|k| (*k.as_bytes(), self.sealed_by(k)));
        let act = person.map(|k| (*k.as_bytes(), self.signed_with(k)));
        Arc::make_mut(&mut self.0).proved = Proved { seal, act };
    }

    /// The seal was tried before on these very bytes, and was this key's ([`super::known`]).
    pub(super) fn was_sealed_by(&mut self, key: &PublicKey) {
        Arc::make_mut(&mut self.0).proved.seal = Some((*key.as_bytes(), true));
    }

    /// The seal's 64 bytes.
    pub fn seal(&self) -> &[u8; 64] {
        &self.seal
    }
}

/// The rule that a member of the body stands under when it is missing or not in its form.
fn rule_of(member: &str) -> &'static str {
    const OWN: &[&str] = &["log", "pprev", "prev", "roster", "seq", "time"];
    match member {
        "zone" => "time",
        "permit" => "number",
        _ => OWN.iter().find(|m| **m == member).copied().unwrap_or("kind"),
    }
}

fn is_zone(s: &str) -> bool {
    let b = s.as_bytes();
    let two = |i: usize| match (b.get(i), b.get(i + 1)) {
        (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => (x - b'0') * 10 + (y - b'0'),
        _ => 99,
    };
    b.len() == 6
        && matches!(b[0], b'+' | b'-')
        && b[3] == b':'
        && two(1) <= 14
        && two(4) <= 59
        && s != "-00:00"
}

/// The act's bytes inside a body: between `{"act":` and the one `,"act_sign":"`. Inside texts a quote
/// is always escaped, so that the words stand once.
fn act_bytes(body: &[u8]) -> Result<Vec<u8>, Broken> {
    const MARK: &[u8] = b",\"act_sign\":\"";
    let inner = body.strip_prefix(b"{\"act\":".as_slice());
    let end = inner.and_then(|b| b.windows(MARK.len()).position(|w| w == MARK));
    match (inner, end) {
        (Some(b), Some(e)) => Ok(b[..e].to_vec()),
        _ => broken("profile", say!("the act is not where it belongs")),
    }
}

/// What a line says, before the chain gives it its place.
#[derive(Clone, Debug)]
pub struct Draft {
    /// Kind.
    pub kind: &'static str,
    /// Permit number and H of the permit's last line (`NONE` for its first).
    pub permit: Option<(String, String)>,
    /// Who is at the station (unsigned lines).
    pub by: Option<String>,
    /// Data of an unsigned line, or the signed act.
    pub what: What,
}

/// Data of the station, or an act and its signature.
#[derive(Clone, Debug)]
pub enum What {
    /// Data.
    Data(Json),
    /// A signed act: its bytes (canonical) and signature.
    Act {
        /// The bytes that were signed.
        bytes: Vec<u8>,
        /// The signature.
        sign: [u8; 64],
    },
}

/// The place the chain gives a line.
#[derive(Clone, Debug)]
pub struct Slot {
    /// Log id.
    pub log: String,
    /// seq.
    pub seq: u64,
    /// H of the line before.
    pub prev: String,
    /// The station's clock.
    pub time: String,
    /// Offset of the site.
    pub zone: String,
    /// Public key for the next line, hex.
    pub next: String,
    /// Roster in force.
    pub roster: String,
}

/// Makes the line (without LF) of a draft in a slot, sealed.
pub fn make(draft: &Draft, slot: &Slot, seal: &dyn Signer) -> Result<Vec<u8>, String> {
    let mut members: Vec<(String, Json)> = vec![
        ("kind".into(), draft.kind.into()),
        ("log".into(), slot.log.as_str().into()),
        ("next".into(), slot.next.as_str().into()),
        ("prev".into(), slot.prev.as_str().into()),
        ("roster".into(), slot.roster.as_str().into()),
        ("seq".into(), Json::Int(slot.seq)),
        ("time".into(), slot.time.as_str().into()),
        ("v".into(), Json::Int(1)),
        ("zone".into(), slot.zone.as_str().into()),
    ];
    if let Some((permit, pprev)) = &draft.permit {
        members.push(("permit".into(), permit.as_str().into()));
        members.push(("pprev".into(), pprev.as_str().into()));
    }
    match &draft.what {
        What::Data(data) => {
            members.push(("data".into(), data.clone()));
            // Who is at the station is a claim that counts for no rule: where it is no person's id, the
            // line is kept without it rather than a report refused.
            if let Some(by) = draft.by.as_deref().filter(|by| crate::text::is_id(by)) {
                members.push(("by".into(), by.into()));
            }
        }
        What::Act { bytes, sign } => {
            let act =
                json::read(bytes).map_err(|f| say!("the act is not in the profile: {why}", why = f.why))?;
            members.push(("act".into(), act));
            members.push(("act_sign".into(), sshsig::signature_to_base64(sign).into()));
        }
    }
    let body = json::write(&json::sorted(members))?;
    let sign = seal.sign(&sshsig::tbs(sshsig::SEAL, HashName::Sha256, &body))?;
    let mut raw = HEAD.to_vec();
    raw.extend_from_slice(&body);
    raw.extend_from_slice(SEAL);
    raw.extend_from_slice(sshsig::signature_to_base64(&sign).as_bytes());
    raw.extend_from_slice(END);
    if raw.len() + 1 > LONGEST {
        return Err(say!(
            "the line would be {length} bytes long, at most {most} are kept",
            length = raw.len() + 1,
            most = LONGEST
        ));
    }
    Ok(raw)
}

/// Prepares an act: the bytes a person signs.
#[derive(Clone, Debug)]
pub struct ActDraft {
    /// Kind.
    pub kind: &'static str,
    /// Log.
    pub log: String,
    /// Permit number, for permit kinds.
    pub permit: Option<String>,
    /// `pprev` or `after`.
    pub shown: String,
    /// Person.
    pub by: String,
    /// Role.
    pub role: Role,
    /// Signer's clock.
    pub time: String,
    /// Data.
    pub data: Json,
}

impl ActDraft {
    /// The canonical bytes for this key.
    pub fn bytes(&self, key: &PublicKey) -> Result<Vec<u8>, String> {
        let act = object([
            ("by", self.by.as_str().into()),
            ("data", self.data.clone()),
            ("key", key.fingerprint().into()),
            ("kind", self.kind.into()),
            ("log", self.log.as_str().into()),
            ("role", self.role.word().into()),
            ("time", self.time.as_str().into()),
            ("v", Json::Int(1)),
        ]);
        json::write(&match &self.permit {
            Some(p) => act.with("permit", p.as_str()).with("pprev", self.shown.as_str()),
            None => act.with("after", self.shown.as_str()),
        })
    }

    /// Signed.
    pub fn sign(&self, signer: &dyn Signer) -> Result<What, String> {
        let bytes = self.bytes(&signer.public())?;
        let sign = signer.sign(&sshsig::tbs(sshsig::SIGN, HashName::Sha256, &bytes))?;
        Ok(What::Act { bytes, sign })
    }
}
