//! Foreign text made safe: which characters a record may hold, and how others are shown.

/// Characters that may stand nowhere in a register (line breaks are judged apart): controls, bidi
/// and invisible format characters, noncharacters. They make a text look like another one.
pub fn forbidden(c: char) -> bool {
    let u = u32::from(c);
    matches!(u, 0x00..=0x09 | 0x0B..=0x1F | 0x7F..=0x9F | 0x061C | 0x200E | 0x200F | 0x2028..=0x202E
        | 0x2066..=0x2069 | 0xFEFF | 0xFDD0..=0xFDEF | 0xFFF9..=0xFFFB)
        || u & 0xFFFE == 0xFFFE
}

/// The text with every forbidden character and line break shown as `U+XXXX`.
pub fn safe(s: &str) -> String {
    let mut out = String::with_capacity(s.len());
    for c in s.chars() {
        if forbidden(c) || c == '\n' {
            out.push_str(&format!("U+{:04X}", u32::from(c)));
        } else {
            out.push(c);
        }
    }
    out
}
