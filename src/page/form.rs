//! What a browser sends, read: forms, addresses, cookies.
//!
//! In: foreign bytes. Out: names and values, in order, as text. Always: nothing panics; what is too much, is no UTF-8 or holds
//! a NUL is refused whole, in words. Not here: what a value means.

use crate::tongue::say;

/// Whoever is at the page, beside what a browser sent.
pub const ENTERED: &str = "entered";
/// Most names in one form.
pub const MOST: usize = 400;

/// Names and values, in the order in which they came.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Form(Vec<(String, String)>);

impl Form {
    /// Reads `name=value&name=value`, percent-encoded.
    pub fn read(bytes: &[u8]) -> Result<Form, String> {
        let mut out = Vec::new();
        for pair in bytes.split(|b| *b == b'&').filter(|p| !p.is_empty()) {
            if out.len() == MOST {
                return Err(say!("the form has more than {most} fields", most = MOST));
            }
            let at = pair.iter().position(|b| *b == b'=').unwrap_or(pair.len());
            let (name, value) = (pair.get(..at).unwrap_or_default(), pair.get(at + 1..).unwrap_or_default());
            out.push((decoded(name)?, decoded(value)?));
        }
        Ok(Form(out))
    }

    /// The first value of a name, without blanks around it; empty where there is none.
    pub fn text(&self, name: &str) -> &str {
        self.0.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v.trim())
    }

    /// The same, if something stands there.
    pub fn some(&self, name: &str) -> Option<String> {
        Some(self.text(name)).filter(|v| !v.is_empty()).map(str::to_owned)
    }

    /// An address of this page, as a form names where it leads back to; the first screen where it names none of ours. A
    /// browser leaves control characters out of an address, so that one with them may lead elsewhere.
    pub fn address(&self, name: &str) -> String {
        let ours = |to: &String| {
            let foreign = to.starts_with("//") || to.contains('\\') || to.contains(char::is_control);
            to.starts_with('/') && !foreign
        };
        self.some(name).filter(ours).unwrap_or_else(|| "/".into())
    }

    /// Every value of a name that is not empty.
    pub fn all(&self, name: &str) -> Vec<String> {
        let of = self.0.iter().filter(|(n, v)| n == name && !v.trim().is_empty());
        of.map(|(_, v)| v.trim().to_owned()).collect()
    }

    /// The value of a name exactly as it was typed: a passphrase.
    pub fn exact(&self, name: &str) -> &str {
        self.0.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v.as_str())
    }

    /// Says who is at the page; what a browser says of it counts for nothing.
    pub fn entered_by(&mut self, id: Option<String>) {
        self.0.retain(|(n, _)| n != ENTERED);
        self.0.extend(id.map(|id| (ENTERED.to_owned(), id)));
    }

    /// Who enters it: named in it, else whoever is at the page.
    pub fn by(&self) -> Option<String> {
        self.some("by").or_else(|| self.some(ENTERED))
    }

    /// All of it.
    pub fn pairs(&self) -> &[(String, String)] {
        &self.0
    }

    /// What somebody typed, to stand again where it was: no secret of it, nothing that tells one sending from another.
    pub fn typed(&self) -> Form {
        let typed = |(n, _): &&(String, String)| !["t", "once", "passphrase", ENTERED].contains(&n.as_str());
        Form(self.0.iter().filter(typed).cloned().collect())
    }

    /// One value under a name, whatever stood there.
    pub fn put(&mut self, name: &str, value: String) {
        self.0.retain(|(n, _)| n != name);
        self.0.push((name.to_owned(), value));
    }

    /// Made from pairs.
    pub fn of(pairs: Vec<(String, String)>) -> Form {
        Form(pairs)
    }
}

impl Drop for Form {
    /// A form may hold a passphrase.
    fn drop(&mut self) {
        use zeroize::Zeroize;
        for (_, value) in &mut self.0 {
            value.zeroize();
        }
    }
}

fn decoded(text: &[u8]) -> Result<String, String> {
    let mut out = Vec::with_capacity(text.len());
    let mut rest = text.iter().copied();
    while let Some(b) = rest.next() {
        out.push(match b {
            b'+' => b' ',
            b'%' => {
                let pair = [rest.next().unwrap_or(0), rest.next().unwrap_or(0)];
                match pair.map(|b| char::from(b).to_digit(16)) {
                    [Some(high), Some(low)] => (high * 16 + low) as u8,
                    [_, _] => return Err(say!("the form holds a `%` that begins no byte").into()),
                }
            }
            0 => return Err(say!("the form holds a NUL").into()),
            other => other,
        });
    }
    value(out)
}

/// Whether what a path names is text, part by part.
pub fn is_text(path: &str) -> bool {
    decoded(path.as_bytes()).is_ok()
}

/// A value as text.
pub fn value(bytes: Vec<u8>) -> Result<String, String> {
    if bytes.contains(&0) {
        return Err(say!("the form holds a NUL").into());
    }
    // A text area sends its line ends as CR LF, whatever stood there.
    String::from_utf8(bytes)
        .map(|t| t.replace("\r\n", "\n"))
        .map_err(|_| say!("the form is not UTF-8").into())
}

/// A value as it may stand in an address.
pub fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for b in text.bytes() {
        if b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.') {
            out.push(char::from(b));
        } else {
            out += &format!("%{b:02X}");
        }
    }
    out
}

/// The value of a cookie of this name, in the header's text.
pub fn cookie<'h>(header: &'h str, name: &str) -> Option<&'h str> {
    header.split(';').filter_map(|c| c.trim().split_once('=')).find(|(n, _)| *n == name).map(|(_, v)| v)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_a_browser_sends() {
        let f = Form::read("a=1&b=%C5%BBaneta+B&a=2&c=&=x&d".as_bytes()).unwrap();
        assert_eq!((f.text("a"), f.text("b"), f.text("c"), f.text("d")), ("1", "Żaneta B", "", ""));
        assert_eq!(f.all("a"), ["1", "2"]);
        assert_eq!(Form::read(b"w=a%0D%0Ab").unwrap().text("w"), "a\nb");
        for wrong in ["a=%", "a=%4", "a=%zz", "a=%00", "a=%FF%FE", "%=1"] {
            assert!(Form::read(wrong.as_bytes()).is_err(), "{wrong}");
        }
        assert!(Form::read("a=1&".repeat(MOST + 1).as_bytes()).is_err());
        assert_eq!(cookie("x=1; airwrit=abc; y=2", "airwrit"), Some("abc"));
        assert_eq!(cookie("xairwrit=abc", "airwrit"), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// Whatever bytes come, it ends without a panic, and what it lets through is text without NUL.
        #[test]
        fn foreign_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            if let Ok(f) = Form::read(&bytes) {
                prop_assert!(f.pairs().iter().all(|(n, v)| !n.contains('\0') && !v.contains('\0')));
            }
        }

        /// What was written is read again, whatever stands in it.
        #[test]
        fn there_and_back(pairs in proptest::collection::vec(("[a-z]{1,9}", "\\PC{0,40}"), 0..20)) {
            let text: Vec<String> = pairs.iter().map(|(n, v)| format!("{n}={}", encoded(v))).collect();
            let f = Form::read(text.join("&").as_bytes()).unwrap();
            prop_assert_eq!(f.pairs(), pairs.as_slice());
        }

        /// The same with every byte that a value may hold in its bare form.
        #[test]
        fn addresses(text in "[ -~]{0,60}") {
            let there = encoded(&text);
            prop_assert!(there.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.%".contains(&b)));
        }
    }
}
