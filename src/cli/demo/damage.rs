//! Copies of a register, each damaged in one way that somebody might try.

use crate::record::line::Line;

/// Name, what was done, bytes.
pub fn copies(bytes: &[u8]) -> Vec<(&'static str, &'static str, Vec<u8>)> {
    let lines: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
    let join = |ls: Vec<&[u8]>| ls.concat();
    let mut out = Vec::new();
    let find = |kind: &str| {
        lines
            .iter()
            .position(|l| Line::read(l.strip_suffix(b"\n").unwrap_or(l)).is_ok_and(|l| l.kind.name == kind))
    };
    if let Some(changed) = replaced(bytes, b"\"value\":\"138\"", b"\"value\":\"238\"").or_else(|| {
        let at = bytes.windows(9).position(|w| w == b"\"value\":\"")? + 9;
        let mut b = bytes.to_vec();
        *b.get_mut(at)? ^= 1;
        Some(b)
    }) {
        out.push(("reading-changed", "a reading made better after the event", changed));
    }
    if let Some(i) = find("event").or_else(|| find("call_out")).or_else(|| find("denied")) {
        let mut ls = lines.clone();
        ls.remove(i);
        out.push(("line-removed", "an unwelcome line taken out", join(ls)));
    }
    if let Some(i) = find("on_air")
        && i + 1 < lines.len()
    {
        let mut ls = lines.clone();
        ls.swap(i, i + 1);
        out.push(("lines-swapped", "two lines in the other order", join(ls)));
    }
    if let (Some(a), Some(b)) = (find("declare"), find("hand_back")) {
        let mut ls = lines.clone();
        if let (Some(x), Some(slot)) = (lines.get(a).copied(), ls.get_mut(b)) {
            *slot = x;
        }
        out.push(("signature-used-again", "an operator's signature used a second time", join(ls)));
    }
    out.push((
        "cut-short",
        "the end cut off inside a line",
        bytes[..bytes.len().saturating_sub(40)].to_vec(),
    ));
    out
}

fn replaced(bytes: &[u8], from: &[u8], to: &[u8]) -> Option<Vec<u8>> {
    let at = bytes.windows(from.len()).position(|w| w == from)?;
    let mut b = bytes.to_vec();
    b.get_mut(at..at + from.len())?.copy_from_slice(to);
    Some(b)
}
