//! The content of a page: its marks as operators of PDF, written straight into bytes.
//!
//! Always holds: lengths are written in hundredths of a point, colours in thousandths; text is written as codes
//! of the embedded face; what is in force already (colours, widths, dashes, the face) is not set again, for nothing here
//! saves or restores the state in between, and the face outlives its text section; whatever is no content of the tree
//! stands in an artifact.
//! Not here: objects, faces, the file (`finish`). Source: ISO 32000-1, 8.4.1, 8.5, 9.4, 14.6, 14.8.2.2.

use super::face::Codes;
use super::sheet::{Ink, Mark, Sheet, Spot, Weight};

/// The name of a weight among the resources.
pub fn font_name(weight: Weight) -> &'static str {
    match weight {
        Weight::Regular => "FR",
        Weight::Bold => "FB",
    }
}

/// The operators of a sheet that is `high` points high, with the codes of both weights' characters.
pub fn content(sheet: &Sheet, high: f32, (regular, bold): (&Codes, &Codes)) -> Vec<u8> {
    let mut page = Page {
        out: Vec::with_capacity(sheet.marks.len() * 48),
        high,
        regular,
        bold,
        text: false,
        fill: None,
        line: None,
        width: None,
        dashed: Some(false),
        face: None,
    };
    // Whatever is no content of the tree is decoration.
    let (mut content, mut decoration) = (false, false);
    for mark in &sheet.marks {
        let begins = matches!(mark, Mark::Begin { .. });
        if decoration && begins {
            page.alone("EMC");
            decoration = false;
        }
        if !content && !decoration && !begins {
            page.alone("/Artifact BMC");
            decoration = true;
        }
        content = begins || content && !matches!(mark, Mark::End);
        page.draw(mark);
    }
    page.no_text();
    if decoration {
        page.alone("EMC");
    }
    page.out
}

/// A page while it is written: what is in force on it.
struct Page<'a> {
    out: Vec<u8>,
    high: f32,
    regular: &'a Codes,
    bold: &'a Codes,
    /// Whether a text section is open.
    text: bool,
    fill: Option<Ink>,
    line: Option<Ink>,
    width: Option<i64>,
    /// Solid at the beginning (ISO 32000-1, table 52).
    dashed: Option<bool>,
    face: Option<(Weight, i64)>,
}

impl Page<'_> {
    fn draw(&mut self, mark: &Mark) {
        match mark {
            Mark::Begin { role, number } => {
                self.alone(&format!("/{} <</MCID {number}>> BDC", role.tag()));
            }
            Mark::End => self.alone("EMC"),
            Mark::Text { at, size, weight, ink, text, turn, .. } => {
                if !self.text {
                    self.word("BT");
                    self.text = true;
                }
                self.fill(*ink);
                let face = (*weight, cents(*size));
                if self.face.replace(face) != Some(face) {
                    self.out.push(b'/');
                    self.out.extend_from_slice(font_name(*weight).as_bytes());
                    self.out.push(b' ');
                    self.number(face.1);
                    self.word("Tf");
                }
                let (c, s) = *turn;
                for part in [c, s, -s, c] {
                    decimal(&mut self.out, (f64::from(part) * 100_000.0).round() as i64, 5);
                }
                self.spot(*at);
                self.word("Tm");
                self.show(text, *weight);
            }
            Mark::Fill { rings, ink } => {
                self.no_text();
                self.fill(*ink);
                for ring in rings {
                    self.path(ring);
                    self.word("h");
                }
                self.word("f");
            }
            Mark::Stroke { points, closed, width, ink, dashed } => {
                self.no_text();
                if self.line.replace(*ink) != Some(*ink) {
                    self.colour(*ink);
                    self.word("RG");
                }
                let wide = cents(*width);
                let same = self.width.replace(wide) == Some(wide);
                if !same {
                    self.number(wide);
                    self.word("w");
                }
                // Dashes are as long as their line is wide.
                if self.dashed.replace(*dashed) != Some(*dashed) || *dashed && !same {
                    self.out.push(b'[');
                    if *dashed {
                        self.number(cents(width * 2.0));
                        self.number(cents(width * 1.2));
                    }
                    self.word("] 0 d");
                }
                self.path(points);
                self.word(if *closed { "s" } else { "S" });
            }
        }
    }

    /// An operator that stands outside of text.
    fn alone(&mut self, word: &str) {
        self.no_text();
        self.word(word);
    }

    fn no_text(&mut self) {
        if self.text {
            self.word("ET");
            self.text = false;
        }
    }

    fn word(&mut self, word: &str) {
        self.out.extend_from_slice(word.as_bytes());
        self.out.push(b'\n');
    }

    fn fill(&mut self, ink: Ink) {
        if self.fill.replace(ink) != Some(ink) {
            self.colour(ink);
            self.word("rg");
        }
    }

    fn colour(&mut self, ink: Ink) {
        let (r, g, b) = ink.rgb();
        for part in [r, g, b] {
            decimal(&mut self.out, (f64::from(part) * 1000.0).round() as i64, 3);
        }
    }

    fn path(&mut self, points: &[Spot]) {
        for (n, spot) in points.iter().enumerate() {
            self.spot(*spot);
            self.word(if n == 0 { "m" } else { "l" });
        }
    }

    fn spot(&mut self, spot: Spot) {
        self.number(cents(spot.0));
        self.number(cents(self.high - spot.1));
    }

    /// Hundredths, and a space.
    fn number(&mut self, cents: i64) {
        decimal(&mut self.out, cents, 2);
    }

    /// The codes of the text, two bytes each, as a literal string (ISO 32000-1, 7.3.4.2).
    fn show(&mut self, text: &str, weight: Weight) {
        let codes = match weight {
            Weight::Regular => self.regular,
            Weight::Bold => self.bold,
        };
        self.out.push(b'(');
        for c in text.chars() {
            for byte in codes.of(c).to_be_bytes() {
                match byte {
                    b'(' | b')' | b'\\' => self.out.extend_from_slice(&[b'\\', byte]),
                    b'\r' => self.out.extend_from_slice(b"\\r"),
                    byte => self.out.push(byte),
                }
            }
        }
        self.out.extend_from_slice(b")Tj\n");
    }
}

/// Hundredths of a point are finer than any printer, and keep the file small.
fn cents(v: f32) -> i64 {
    (f64::from(v) * 100.0).round() as i64
}

/// A whole number of parts of ten to the `places`, shortest, and a space.
fn decimal(out: &mut Vec<u8>, parts: i64, places: u32) {
    if parts < 0 {
        out.push(b'-');
    }
    let (unit, parts) = (10_u64.pow(places), parts.unsigned_abs());
    let (whole, mut rest) = (parts / unit, parts % unit);
    let mut digits = [0_u8; 20];
    let (mut at, mut left) = (digits.len(), whole);
    loop {
        at -= 1;
        digits[at] = b'0' + (left % 10) as u8;
        left /= 10;
        if left == 0 {
            break;
        }
    }
    if whole > 0 || rest == 0 {
        out.extend_from_slice(&digits[at..]);
    }
    if rest > 0 {
        out.push(b'.');
        let mut unit = unit / 10;
        while rest > 0 {
            out.push(b'0' + (rest / unit) as u8);
            rest %= unit;
            unit /= 10;
        }
    }
    out.push(b' ');
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn numbers_are_shortest() {
        let say = |parts, places| {
            let mut out = Vec::new();
            decimal(&mut out, parts, places);
            String::from_utf8(out).unwrap()
        };
        assert_eq!(say(0, 2), "0 ");
        assert_eq!(say(-5, 2), "-.05 ");
        assert_eq!(say(84_189, 2), "841.89 ");
        assert_eq!(say(100, 2), "1 ");
        assert_eq!(say(-120, 2), "-1.2 ");
        assert_eq!(say(1000, 3), "1 ");
        assert_eq!(say(62, 3), ".062 ");
        assert_eq!(cents(f32::NAN), 0);
    }

    /// Every code comes back from lopdf's own reader of contents, those of brackets and line ends too.
    #[test]
    fn codes_are_read_back_as_they_were() {
        let used: std::collections::BTreeSet<char> = ('!'..'\u{3ff}').collect();
        let faces = super::super::face::Faces::built_in().unwrap();
        let (_, codes) = faces.of(Weight::Regular).subset(&used).unwrap();
        let text: String = used.iter().filter(|c| codes.of(**c) != 0).collect();
        let wanted: Vec<u8> = text.chars().flat_map(|c| codes.of(c).to_be_bytes()).collect();
        for special in [b'(', b')', b'\\', b'\r', b'\n'] {
            assert!(wanted.contains(&special), "{special}");
        }
        let mark = Mark::Text {
            at: (36.0, 50.255),
            size: 8.5,
            weight: Weight::Regular,
            ink: Ink::Black,
            text,
            width: 0.0,
            turn: (1.0, 0.0),
        };
        let sheet = Sheet { marks: vec![mark], marked: Vec::new() };
        let bytes = content(&sheet, 800.0, (&codes, &Codes::default()));
        let read = lopdf::content::Content::decode(&bytes).unwrap();
        let words: Vec<&str> = read.operations.iter().map(|o| o.operator.as_str()).collect();
        assert_eq!(words, ["BMC", "BT", "rg", "Tf", "Tm", "Tj", "ET", "EMC"]);
        let shown = read.operations.iter().find(|o| o.operator == "Tj").unwrap();
        assert_eq!(shown.operands[0].as_str().unwrap(), wanted);
    }
}
