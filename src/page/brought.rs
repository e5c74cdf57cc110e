//! A form that brings a file along, read: `multipart/form-data` as browsers send it (RFC 7578).
//!
//! In: foreign bytes. Out: names and values as text, and the bytes of one file. Always: nothing panics; what is too much,
//! breaks off, or is no text where text is wanted is refused whole, in words. Not here: what the file is.

use super::form::{self, Form, MOST};
use crate::tongue::say;

/// Longest mark between two parts.
const LONGEST_MARK: usize = 70;

/// The mark between the parts, as the head of the request names it.
fn mark(kind: &str) -> Option<&str> {
    let (kind, rest) = kind.split_once(';')?;
    let named = rest.split(';').find_map(|p| p.trim().strip_prefix("boundary="))?;
    let named = named.trim_matches('"');
    let fits =
        !named.is_empty() && named.len() <= LONGEST_MARK && named.bytes().all(|b| b.is_ascii_graphic());
    (kind.trim().eq_ignore_ascii_case("multipart/form-data") && fits).then_some(named)
}

/// Where `what` begins, which begins with a carriage return.
fn find(bytes: &[u8], what: &[u8]) -> Option<usize> {
    let mut from = 0;
    loop {
        let rest = bytes.get(from..)?;
        let at = from + rest.iter().position(|b| *b == b'\r')?;
        if bytes.get(at..)?.starts_with(what) {
            return Some(at);
        }
        from = at + 1;
    }
}

/// The name of a part, and whether it is a file.
fn named(head: &str) -> Option<(String, bool)> {
    let of = |l: &&str| l.get(..20).is_some_and(|b| b.eq_ignore_ascii_case("content-disposition:"));
    let line = head.split("\r\n").find(of)?;
    let (_, name) = line.split_once("; name=\"")?;
    let (name, _) = name.split_once('"')?;
    Some((name.to_owned(), line.contains("; filename=\"")))
}

/// Names, values, and the file; nothing of it where none was chosen. `kind` is the head's content type.
pub fn read(kind: &str, body: &[u8]) -> Result<(Form, Vec<u8>), String> {
    let mark = mark(kind).ok_or(say!("this form cannot bring a file"))?;
    let broke = || say!("the form broke off").to_owned();
    let (first, between) = (format!("--{mark}"), format!("\r\n--{mark}"));
    let mut rest = body.strip_prefix(first.as_bytes()).ok_or_else(broke)?;
    let (mut pairs, mut file) = (Vec::new(), Vec::new());
    while !rest.starts_with(b"--") {
        let part = rest.strip_prefix(b"\r\n").ok_or_else(broke)?;
        let end = find(part, between.as_bytes()).ok_or_else(broke)?;
        let (part, after) = part.split_at_checked(end).ok_or_else(broke)?;
        rest = after.get(between.len()..).ok_or_else(broke)?;
        let head = find(part, b"\r\n\r\n").ok_or_else(broke)?;
        let (head, value) = part.split_at_checked(head).ok_or_else(broke)?;
        let head = std::str::from_utf8(head).map_err(|_| broke())?;
        let value = value.get(4..).ok_or_else(broke)?;
        let (name, is_file) = named(head).ok_or_else(broke)?;
        if is_file {
            if !value.is_empty() && !file.is_empty() {
                return Err(say!("the form brings more than one file").into());
            }
            file.extend_from_slice(value);
        } else if pairs.len() == MOST {
            return Err(say!("the form has more than {most} fields", most = MOST));
        } else {
            pairs.push((form::value(name.into_bytes())?, form::value(value.to_vec())?));
        }
    }
    Ok((Form::of(pairs), file))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    const KIND: &str = "multipart/form-data; boundary=xyz";

    fn body(parts: &[(&str, Option<&str>, &[u8])]) -> Vec<u8> {
        let mut out = Vec::new();
        for (name, file, value) in parts {
            let file = file.map(|f| format!("; filename=\"{f}\"")).unwrap_or_default();
            out.extend(
                format!("--xyz\r\nContent-Disposition: form-data; name=\"{name}\"{file}\r\n\r\n").bytes(),
            );
            out.extend(*value);
            out.extend(b"\r\n");
        }
        out.extend(b"--xyz--\r\n");
        out
    }

    #[test]
    fn what_a_browser_sends_with_a_file() {
        let sent = body(&[
            ("t", None, b"abc"),
            ("words", None, "Żaneta\r\nB".as_bytes()),
            ("file", Some("a; name=\"t\".png"), b"\x89PNG\r\n--xy\r\n\0"),
        ]);
        let (form, file) = read(KIND, &sent).unwrap();
        assert_eq!((form.text("t"), form.text("words"), form.pairs().len()), ("abc", "Żaneta\nB", 2));
        assert_eq!(file, b"\x89PNG\r\n--xy\r\n\0");
        // None chosen: an empty part with an empty name.
        assert_eq!(read(KIND, &body(&[("t", None, b"1"), ("file", Some(""), b"")])).unwrap().1, b"");
    }

    #[test]
    fn what_is_too_much_or_breaks_off_is_refused() {
        let one = body(&[("t", None, b"1"), ("file", Some("a"), b"1")]);
        for cut in 0..one.len() - 4 {
            assert!(read(KIND, &one[..cut]).is_err(), "{cut}");
        }
        for kind in [
            "",
            "text/plain",
            "multipart/form-data",
            "multipart/form-data; boundary=",
            "multipart/mixed; boundary=xyz",
        ] {
            assert!(read(kind, &one).is_err(), "{kind}");
        }
        assert!(read(KIND, &body(&[("f", Some("a"), b"1"), ("g", Some("b"), b"2")])).is_err());
        assert!(read(KIND, &body(&[("t", None, b"\xff")])).is_err());
        assert!(read(KIND, &body(&[("t", None, b"\0")])).is_err());
        let many = vec![("t", None, &b"1"[..]); MOST + 1];
        assert!(read(KIND, &body(&many)).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// Whatever bytes come, also between good marks, it ends without a panic.
        #[test]
        fn foreign_bytes(
            parts in proptest::collection::vec(
                prop_oneof![
                    Just(b"--xyz".to_vec()), Just(b"\r\n".to_vec()), Just(b"--".to_vec()), Just(b"\r\n--xyz".to_vec()),
                    Just(b"Content-Disposition: form-data; name=\"a\"".to_vec()),
                    proptest::collection::vec(any::<u8>(), 0..9),
                ],
                0..14,
            )
        ) {
            if let Ok((form, _)) = read(KIND, &parts.concat()) {
                prop_assert!(form.pairs().iter().all(|(n, v)| !n.contains('\0') && !v.contains('\0')));
            }
        }

        /// A file comes through byte for byte.
        #[test]
        fn there_and_back(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
            prop_assume!(find(&bytes, b"\r\n--xyz").is_none());
            let (_, file) = read(KIND, &body(&[("t", None, b"1"), ("file", Some("f"), &bytes)])).unwrap();
            prop_assert_eq!(file, bytes);
        }
    }
}
