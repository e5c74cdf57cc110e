//! Canonical JSON (RFC 8785) in the register's profile, read strictly and written.
//!
//! Member names `[a-z0-9_]+`, strictly ascending; no white space; depth at most 8; integers
//! 0..2^53-1; `true`, `false`; strings with the escapes `\"` `\\` `\n` only; line breaks only in
//! members `text` and `said`; no control, bidi or invisible character (see [`forbidden_char`]).
//! What is read in this profile is the same bytes as what RFC 8785 would write.
//! Always: `read(write(x)) == x` and `write(read(b)) == b`.

mod values;

use crate::text::forbidden_char;
use crate::tongue::say;
pub use smol_str::SmolStr;

/// A value of the profile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Json {
    /// Members in ascending order of names.
    Obj(Vec<(SmolStr, Json)>),
    /// A list.
    Arr(Vec<Json>),
    /// Text.
    Str(SmolStr),
    /// 0..2^53-1.
    Int(u64),
    /// true or false.
    Bool(bool),
}

/// Deepest nesting; the outermost object is 1.
pub const DEPTH: usize = 8;
/// So many bytes a text holds by itself.
const INLINE: usize = 23;
/// The largest integer, 2^53-1.
pub const LARGEST: u64 = (1 << 53) - 1;

/// Where and why bytes are not in the profile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    /// Byte offset.
    pub at: usize,
    /// In words.
    pub why: String,
}

/// An object from its members, put in order. A name given twice is a bug of the caller.
pub fn object<const N: usize>(members: [(&str, Json); N]) -> Json {
    sorted(members.into_iter().map(|(k, v)| (SmolStr::new(k), v)).collect())
}

/// An object from members in any order.
pub fn sorted<K: Into<SmolStr>>(members: Vec<(K, Json)>) -> Json {
    let mut members: Vec<(SmolStr, Json)> = members.into_iter().map(|(k, v)| (k.into(), v)).collect();
    members.sort_by(|a, b| a.0.cmp(&b.0));
    debug_assert!(members.windows(2).all(|w| w[0].0 < w[1].0), "a member stands twice");
    Json::Obj(members)
}

impl From<&str> for Json {
    fn from(s: &str) -> Json {
        Json::Str(SmolStr::new(s))
    }
}

impl From<String> for Json {
    fn from(s: String) -> Json {
        Json::Str(s.into())
    }
}

impl Json {
    /// The member of an object.
    pub fn get(&self, name: &str) -> Option<&Json> {
        match self {
            Json::Obj(m) => m.iter().find(|(k, _)| k == name).map(|(_, v)| v),
            Json::Arr(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_) => None,
        }
    }

    /// Takes a member of an object out of it: what is left is good for nothing else.
    pub fn take(&mut self, name: &str) -> Option<Json> {
        match self {
            Json::Obj(m) => {
                m.iter_mut().find(|(k, _)| k == name).map(|(_, v)| std::mem::replace(v, Json::Bool(false)))
            }
            Json::Arr(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_) => None,
        }
    }

    /// Whether an object has a member.
    pub fn has(&self, name: &str) -> bool {
        self.get(name).is_some()
    }

    /// The text of a member.
    pub fn text(&self, name: &str) -> Option<&str> {
        self.get(name).and_then(Json::as_str)
    }

    /// The integer of a member.
    pub fn int(&self, name: &str) -> Option<u64> {
        match self.get(name) {
            Some(Json::Int(i)) => Some(*i),
            Some(Json::Obj(_) | Json::Arr(_) | Json::Str(_) | Json::Bool(_)) | None => None,
        }
    }

    /// The texts of a list member; empty if there is none.
    pub fn texts(&self, name: &str) -> Vec<&str> {
        match self.get(name) {
            Some(Json::Arr(a)) => a.iter().filter_map(Json::as_str).collect(),
            Some(Json::Obj(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_)) | None => Vec::new(),
        }
    }

    /// Its text, if it is one.
    pub fn as_str(&self) -> Option<&str> {
        match self {
            Json::Str(s) => Some(s),
            Json::Obj(_) | Json::Arr(_) | Json::Int(_) | Json::Bool(_) => None,
        }
    }

    /// The same object without a member.
    #[must_use]
    pub fn without(self, name: &str) -> Json {
        match self {
            Json::Obj(mut m) => {
                m.retain(|(k, _)| k != name);
                Json::Obj(m)
            }
            other @ (Json::Arr(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_)) => other,
        }
    }

    /// The same object with a member put in its place (replacing one of that name).
    #[must_use]
    pub fn with(self, name: &str, value: impl Into<Json>) -> Json {
        match self {
            Json::Obj(mut m) => {
                m.retain(|(k, _)| k != name);
                m.push((SmolStr::new(name), value.into()));
                sorted(m)
            }
            other @ (Json::Arr(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_)) => other,
        }
    }
}

/// Writes a value. In words why it is not in the profile.
pub fn write(value: &Json) -> Result<Vec<u8>, String> {
    let mut out = Vec::new();
    put(&mut out, value, "", 1)?;
    Ok(out)
}

fn put(out: &mut Vec<u8>, value: &Json, member: &str, depth: usize) -> Result<(), String> {
    match value {
        Json::Bool(b) => out.extend_from_slice(if *b { b"true" } else { b"false" }),
        Json::Int(i) if *i > LARGEST => return Err(say!("{number} is larger than 2^53-1", number = i)),
        Json::Int(i) => out.extend_from_slice(i.to_string().as_bytes()),
        Json::Str(s) => put_text(out, s, member == "text" || member == "said")?,
        Json::Arr(_) | Json::Obj(_) if depth > DEPTH => return Err(say!("deeper than {most}", most = DEPTH)),
        Json::Arr(items) => {
            out.push(b'[');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(b',');
                }
                put(out, item, "", depth + 1)?;
            }
            out.push(b']');
        }
        Json::Obj(members) => {
            out.push(b'{');
            for (i, (name, v)) in members.iter().enumerate() {
                if i > 0 {
                    out.push(b',');
                }
                if !is_member_name(name.as_bytes()) {
                    return Err(say!("`{name}` is no member name", name = crate::text::short(name)));
                }
                put_text(out, name, false)?;
                out.push(b':');
                put(out, v, name, depth + 1)?;
            }
            out.push(b'}');
        }
    }
    Ok(())
}

fn put_text(out: &mut Vec<u8>, s: &str, breaks: bool) -> Result<(), String> {
    out.push(b'"');
    for c in s.chars() {
        match c {
            '"' => out.extend_from_slice(b"\\\""),
            '\\' => out.extend_from_slice(b"\\\\"),
            '\n' if breaks => out.extend_from_slice(b"\\n"),
            c if c == '\n' || forbidden_char(c) => {
                return Err(say!(
                    "the character U+{code} may not stand in a register",
                    code = format!("{:04X}", u32::from(c))
                ));
            }
            c => out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
        }
    }
    out.push(b'"');
    Ok(())
}

fn is_member_name(name: &[u8]) -> bool {
    !name.is_empty() && name.iter().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || *c == b'_')
}

/// Reads bytes in the profile; everything else is refused, with its offset.
pub fn read(bytes: &[u8]) -> Result<Json, Flaw> {
    let mut s = Scan { bytes, at: 0 };
    let value = s.value("", 1)?;
    if s.at != bytes.len() {
        return s.flaw(say!("something stands after the end"));
    }
    Ok(value)
}

struct Scan<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Scan<'a> {
    fn flaw<T>(&self, why: impl Into<String>) -> Result<T, Flaw> {
        Err(Flaw { at: self.at, why: why.into() })
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn eat(&mut self, byte: u8) -> bool {
        let hit = self.peek() == Some(byte);
        self.at += usize::from(hit);
        hit
    }

    fn word(&mut self, word: &[u8], value: Json) -> Result<Json, Flaw> {
        if self.bytes.get(self.at..).is_some_and(|b| b.starts_with(word)) {
            self.at += word.len();
            Ok(value)
        } else {
            self.flaw(say!("neither text, integer, `true`, `false`, list nor object"))
        }
    }

    fn value(&mut self, member: &str, depth: usize) -> Result<Json, Flaw> {
        match self.peek() {
            Some(b'"') => self.text(member == "text" || member == "said").map(Json::Str),
            Some(b'0'..=b'9') => self.integer(),
            Some(b't') => self.word(b"true", Json::Bool(true)),
            Some(b'f') => self.word(b"false", Json::Bool(false)),
            Some(b'{' | b'[') if depth > DEPTH => self.flaw(say!("nested deeper than {most}", most = DEPTH)),
            Some(b'{') => self.object(depth),
            Some(b'[') => self.list(depth),
            Some(_) => self.flaw(say!("neither text, integer, `true`, `false`, list nor object")),
            None => self.flaw(say!("cut short")),
        }
    }

    fn object(&mut self, depth: usize) -> Result<Json, Flaw> {
        self.at += 1;
        if self.eat(b'}') {
            return Ok(Json::Obj(Vec::new()));
        }
        // The body of a line has more than any object in it.
        let mut members: Vec<(SmolStr, Json)> = Vec::with_capacity(if depth == 1 { 14 } else { 4 });
        loop {
            let start = self.at;
            if self.peek() != Some(b'"') {
                return self.flaw(say!("a member name was wanted"));
            }
            let name = self.text(false)?;
            if !is_member_name(name.as_bytes()) {
                self.at = start;
                return self.flaw(say!("a member name has characters other than a-z, 0-9 and _"));
            }
            if members.last().is_some_and(|(last, _)| *last >= name) {
                self.at = start;
                return self.flaw(say!("the member `{name}` is out of order or stands twice", name));
            }
            if !self.eat(b':') {
                return self.flaw(say!("`:` was wanted"));
            }
            let value = self.value(&name, depth + 1)?;
            members.push((name, value));
            if self.eat(b'}') {
                return Ok(Json::Obj(members));
            }
            if !self.eat(b',') {
                return self.flaw(say!("`,` or `}` was wanted"));
            }
        }
    }

    fn list(&mut self, depth: usize) -> Result<Json, Flaw> {
        self.at += 1;
        let mut items = Vec::new();
        if self.eat(b']') {
            return Ok(Json::Arr(items));
        }
        loop {
            items.push(self.value("", depth + 1)?);
            if self.eat(b']') {
                return Ok(Json::Arr(items));
            }
            if !self.eat(b',') {
                return self.flaw(say!("`,` or `]` was wanted"));
            }
        }
    }

    fn integer(&mut self) -> Result<Json, Flaw> {
        let start = self.at;
        let mut n: u64 = 0;
        while let Some(d @ b'0'..=b'9') = self.peek() {
            n = n * 10 + u64::from(d - b'0');
            self.at += 1;
            if n > LARGEST {
                self.at = start;
                return self.flaw(say!("an integer is larger than 2^53-1"));
            }
        }
        if self.at - start > 1 && self.bytes.get(start) == Some(&b'0') {
            self.at = start;
            return self.flaw(say!("an integer has a leading zero"));
        }
        if matches!(self.peek(), Some(b'.' | b'e' | b'E')) {
            return self.flaw(say!("numbers are integers here"));
        }
        Ok(Json::Int(n))
    }

    fn text(&mut self, breaks: bool) -> Result<SmolStr, Flaw> {
        self.at += 1;
        let start = self.at;
        let mut out = String::new();
        let mut plain = start;
        loop {
            let rest = self.bytes.get(self.at..).unwrap_or_default();
            self.at += rest.iter().position(|b| matches!(b, b'"' | b'\\')).unwrap_or(rest.len());
            match self.peek() {
                Some(b'"') if plain == start => {
                    let s = self.clean(plain)?;
                    let s = if s.len() <= INLINE { SmolStr::new_inline(s) } else { SmolStr::new(s) };
                    self.at += 1;
                    return Ok(s);
                }
                Some(b'"') => {
                    out.push_str(self.clean(plain)?);
                    self.at += 1;
                    return Ok(out.into());
                }
                Some(_) => {
                    out.push_str(self.clean(plain)?);
                    let c = match self.bytes.get(self.at + 1) {
                        Some(b'"') => '"',
                        Some(b'\\') => '\\',
                        Some(b'n') if breaks => '\n',
                        Some(b'n') => {
                            return self.flaw(say!("a line break may stand in `text` and `said` only"));
                        }
                        _ => return self.flaw(say!("an escape other than \\\" \\\\ \\n")),
                    };
                    out.push(c);
                    self.at += 2;
                    plain = self.at;
                }
                None => return self.flaw(say!("a text is cut short")),
            }
        }
    }

    /// The bytes since `from`: UTF-8 without forbidden characters.
    fn clean(&mut self, from: usize) -> Result<&'a str, Flaw> {
        let bytes = self.bytes.get(from..self.at).unwrap_or_default();
        let s = match std::str::from_utf8(bytes) {
            Ok(s) => s,
            Err(e) => {
                self.at = from + e.valid_up_to();
                return self.flaw(say!("a text is not UTF-8"));
            }
        };
        // Of plain ASCII none is forbidden but the control characters.
        if bytes.iter().all(|b| matches!(b, b' '..=b'~')) {
            return Ok(s);
        }
        if let Some((i, c)) = s.char_indices().find(|(_, c)| *c == '\n' || forbidden_char(*c)) {
            self.at = from + i;
            return self.flaw(say!(
                "the character U+{code} may not stand here",
                code = format!("{:04X}", u32::from(c))
            ));
        }
        Ok(s)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn json() -> impl Strategy<Value = Json> {
        let leaf = prop_oneof![
            any::<bool>().prop_map(Json::Bool),
            (0..=LARGEST).prop_map(Json::Int),
            "[ -~äπЖ€]{0,12}".prop_map(|s| Json::Str(s.into())),
        ];
        leaf.prop_recursive(4, 24, 4, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..4).prop_map(Json::Arr),
                prop::collection::btree_map("[a-z0-9_]{1,6}", inner, 0..4)
                    .prop_map(|m| Json::Obj(m.into_iter().map(|(k, v)| (k.into(), v)).collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn what_is_written_is_rfc_8785_and_reads_back(value in json()) {
            let bytes = write(&value).unwrap();
            // Peer: crate serde_json_canonicalizer, RFC 8785.
            let peer: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
            prop_assert_eq!(serde_json_canonicalizer::to_vec(&peer).unwrap(), bytes.clone());
            prop_assert_eq!(read(&bytes).unwrap(), value);
        }

        #[test]
        fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            if let Ok(v) = read(&bytes) {
                prop_assert_eq!(write(&v).unwrap(), bytes);
            }
        }

        #[test]
        fn damaged_json_never_reads_as_other_bytes(value in json(), at in any::<prop::sample::Index>(), bit in 0u8..8) {
            let mut bytes = write(&value).unwrap();
            let i = at.index(bytes.len());
            bytes[i] ^= 1 << bit;
            if let Ok(v) = read(&bytes) {
                prop_assert_eq!(write(&v).unwrap(), bytes);
            }
        }
    }

    #[test]
    fn everything_outside_the_profile_is_refused() {
        for bad in [
            "",
            " {}",
            "{} ",
            "{ }",
            "{\"a\": 1}",
            "{\"b\":1,\"a\":1}",
            "{\"a\":1,\"a\":1}",
            "{\"A\":1}",
            "{\"\":1}",
            "{\"a\":null}",
            "{\"a\":1.0}",
            "{\"a\":1e3}",
            "{\"a\":-1}",
            "{\"a\":01}",
            "{\"a\":9007199254740992}",
            "{\"a\":\"\\u0041\"}",
            "{\"a\":\"\\/\"}",
            "{\"a\":\"\\t\"}",
            "{\"a\":\"\\n\"}",
            "{\"a\":\"\n\"}",
            "{\"a\":\"\u{202e}\"}",
            "{\"a\":\"\u{feff}\"}",
            "{\"a\":\"\u{7f}\"}",
            "{\"a\":\"\u{85}\"}",
            "{\"a\":\"\u{ffff}\"}",
            "{\"a\":\"\u{1fffe}\"}",
            "{\"a\":tru}",
            "[1,]",
            "[,1]",
            "{\"a\":1,}",
            "{\"a\"}",
            "[1 ,2]",
            "\"",
            "\"\\",
            "[[[[[[[[[1]]]]]]]]]",
            "{\"text\":[\"\\n\"]}",
            "99999999999999999999999",
        ] {
            assert!(read(bad.as_bytes()).is_err(), "{bad}");
        }
        assert!(read(b"{\"a\":\"\xff\"}").is_err());
        assert!(read(b"{\"a\":\"\xed\xa0\x80\"}").is_err(), "a surrogate");
        for good in [
            "{}",
            "[[[[[[[[1]]]]]]]]",
            "{\"text\":\"a\\nb\"}",
            "{\"a\":9007199254740991}",
            "0",
            "\"\u{1f600}\"",
        ] {
            assert!(read(good.as_bytes()).is_ok(), "{good}");
        }
    }
}
