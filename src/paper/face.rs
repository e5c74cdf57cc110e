//! The typeface: which characters it has, how wide they are, how text is made safe and wrapped.
//!
//! Always holds: text that left [`Faces::safe`] has a glyph for every character but the line feed,
//! and shows every character it was given, if need be as its code (`‹U+4E2D›`). No character that
//! is invisible or turns the direction of writing passes.
//! Not here: shaping, kerning, right-to-left scripts.

use super::PaperProblem;
use super::sheet::Weight;
use printpdf::ParsedFont;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;
use unicode_normalization::UnicodeNormalization;

/// Both weights of the typeface.
pub struct Faces {
    regular: Face,
    bold: Face,
}

/// One weight.
pub struct Face {
    parsed: ParsedFont,
    /// Advance in thousandths of the size, by the character's number; below 0 where there is no glyph. A table, for every
    /// character of a paper is looked up here several times.
    advance: Vec<f32>,
    tag: &'static str,
}

/// The codes that a subset's characters have in the content of a page.
#[derive(Clone, Default)]
pub struct Codes(Vec<u16>);

impl Codes {
    /// The code; 0 (the face's sign for what it lacks) for a character that is not in the subset.
    pub fn of(&self, c: char) -> u16 {
        self.0.get(c as usize).copied().unwrap_or(0)
    }

    fn set(&mut self, c: char, code: u16) {
        let at = c as usize;
        if self.0.len() <= at {
            self.0.resize(at + 1, 0);
        }
        if let Some(place) = self.0.get_mut(at) {
            *place = code;
        }
    }
}

/// A text size with its weight, as wrapping needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Size in points.
    pub size: f32,
    /// Weight.
    pub weight: Weight,
}

impl Faces {
    /// The typeface inside the program. Parsed once: it is a constant.
    pub fn built_in() -> Result<&'static Faces, PaperProblem> {
        static FACES: OnceLock<Result<Faces, PaperProblem>> = OnceLock::new();
        let faces = FACES.get_or_init(|| {
            Ok(Faces {
                regular: Face::parse(notosans::REGULAR_TTF, "AIRWRT+NotoSans-Regular")?,
                bold: Face::parse(notosans::BOLD_TTF, "AIRWRT+NotoSans-Bold")?,
            })
        });
        faces.as_ref().map_err(Clone::clone)
    }

    /// One of the weights.
    pub fn of(&self, weight: Weight) -> &Face {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    fn shows(&self, c: char) -> bool {
        !unseen(c) && self.regular.known(c).is_some() && self.bold.known(c).is_some()
    }

    /// The text with every character that could not be seen replaced by its code. Composed first,
    /// because the typeface has letters with their accents but nothing places loose accents. Line
    /// feeds stay: they break the line.
    pub fn safe(&self, text: &str) -> String {
        if text.bytes().all(|b| (b' '..0x7F).contains(&b)) {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        for c in text.nfc() {
            if c == '\n' || self.shows(c) {
                out.push(c);
            } else {
                out.push_str(&format!("‹U+{:04X}›", u32::from(c)));
            }
        }
        out
    }

    /// Width of a safe text on one line, in points.
    pub fn width(&self, text: &str, cut: Cut) -> f32 {
        let face = self.of(cut.weight);
        text.chars().map(|c| face.advance_of(c)).sum::<f32>() * cut.size / 1000.0
    }

    /// Makes the text safe and breaks it into lines no wider than `width`: at spaces, and inside a
    /// word only if the word alone is too wide, then after a hyphen or slash if it has one. Nothing but the space at a break is left out.
    pub fn wrap(&self, text: &str, cut: Cut, width: f32) -> Vec<String> {
        if text.is_empty() {
            return Vec::new();
        }
        let face = self.of(cut.weight);
        let limit = width * 1000.0 / cut.size;
        let space = face.advance_of(' ');
        let mut lines = Vec::new();
        for paragraph in self.safe(text).split('\n') {
            let mut line = String::new();
            let mut used = 0.0;
            for (n, word) in units(paragraph).into_iter().enumerate() {
                let wide: f32 = word.chars().map(|c| face.advance_of(c)).sum();
                if n > 0 && used + space + wide <= limit {
                    line.push(' ');
                    used += space;
                } else if n > 0 {
                    lines.push(std::mem::take(&mut line));
                    used = 0.0;
                }
                // Where this word may be broken: after a hyphen or a slash in what is set so far.
                // A break early in the line would leave more hole than it saves.
                let mut hinge = None;
                for c in word.chars() {
                    let step = face.advance_of(c);
                    while used + step > limit && !line.is_empty() {
                        let rest = line.split_off(hinge.take().unwrap_or(line.len()));
                        lines.push(std::mem::replace(&mut line, rest));
                        used = line.chars().map(|c| face.advance_of(c)).sum();
                    }
                    line.push(c);
                    used += step;
                    if matches!(c, '-' | '/' | '–' | ' ') && used > limit * 0.4 {
                        hinge = Some(line.len());
                    }
                }
            }
            lines.push(line);
        }
        lines
    }

    /// The text on one line: safe, line feeds shown as a slash, cut with an ellipsis if too wide.
    /// Only for running heads and feet, whose full text stands elsewhere on the sheet.
    pub fn clip(&self, text: &str, cut: Cut, width: f32) -> String {
        let text = self.safe(text).replace('\n', " / ");
        if self.width(&text, cut) <= width {
            return text;
        }
        let limit = width - self.width("…", cut);
        let mut out = String::new();
        let mut used = 0.0;
        for c in text.chars() {
            let step = self.of(cut.weight).advance_of(c) * cut.size / 1000.0;
            if used + step > limit {
                break;
            }
            used += step;
            out.push(c);
        }
        out.push('…');
        out
    }
}

impl Face {
    fn parse(bytes: &[u8], tag: &'static str) -> Result<Face, PaperProblem> {
        let mut warnings = Vec::new();
        let parsed = ParsedFont::from_bytes(bytes, 0, &mut warnings)
            .ok_or_else(|| PaperProblem::Typeface(format!("{tag} does not parse")))?;
        if let Some(w) = warnings.first() {
            return Err(PaperProblem::Typeface(format!("{tag}: {}", w.message)));
        }
        let unit = 1000.0 / f32::from(parsed.units_per_em.max(1));
        let mut advance = Vec::new();
        for (code, glyph) in parsed.codepoint_to_glyph.iter().filter(|(_, glyph)| **glyph != 0) {
            let Some(width) = char::from_u32(*code).and_then(|_| parsed.get_glyph_width(*glyph)) else {
                continue;
            };
            advance.resize((*code as usize).max(advance.len()), -1.0);
            advance.push(f32::from(width) * unit);
        }
        Ok(Face { parsed, advance, tag })
    }

    fn advance_of(&self, c: char) -> f32 {
        self.known(c).unwrap_or(0.0)
    }

    fn known(&self, c: char) -> Option<f32> {
        self.advance.get(c as usize).copied().filter(|wide| *wide >= 0.0)
    }

    /// The face with the glyphs of these characters alone, and their codes: the numbers of its glyphs.
    pub fn subset(&self, used: &BTreeSet<char>) -> Result<(ParsedFont, Codes), PaperProblem> {
        let mut map = subsetter::GlyphRemapper::new();
        let mut glyphs = BTreeMap::new();
        let mut codes = Codes::default();
        let mut widths = BTreeMap::new();
        widths.insert(0, self.parsed.get_glyph_width(0).unwrap_or(0));
        for c in used {
            let code = u32::from(*c);
            if let Some(old) = self.parsed.lookup_glyph_index(code).filter(|g| *g != 0) {
                let new = map.remap(old);
                glyphs.insert(code, new);
                codes.set(*c, new);
                widths.insert(new, self.parsed.get_glyph_width(old).unwrap_or(0));
            }
        }
        let font = ParsedFont {
            original_bytes: subsetter::subset(&self.parsed.original_bytes, 0, &map)
                .map_err(|e| PaperProblem::Typeface(format!("{}: {e:?}", self.tag)))?,
            font_index: self.parsed.font_index,
            font_name: Some(self.tag.to_string()),
            codepoint_to_glyph: glyphs,
            glyph_widths: widths,
            units_per_em: self.parsed.units_per_em,
            font_metrics: self.parsed.font_metrics.clone(),
            font_type: self.parsed.font_type,
            pdf_font_metrics: self.parsed.pdf_font_metrics.clone(),
        };
        Ok((font, codes))
    }
}

/// The words of a paragraph, a number together with the word after it, so that `205` and `bar` do
/// not part at the end of a line.
fn units(paragraph: &str) -> Vec<&str> {
    let number = |w: &str| {
        w.contains(|c: char| c.is_ascii_digit())
            && w.chars().all(|c| c.is_ascii_digit() || ".,+-–±<>≤≥".contains(c))
    };
    let mut units = Vec::new();
    let mut rest = paragraph;
    loop {
        let end = rest.find(' ').unwrap_or(rest.len());
        let mut unit_end = end;
        if number(&rest[..end]) && end < rest.len() && !rest[..end].ends_with(',') {
            let next = &rest[end + 1..];
            let word = &next[..next.find(' ').unwrap_or(next.len())];
            if !word.is_empty() && !number(word) {
                unit_end = end + 1 + word.len();
            }
        }
        units.push(&rest[..unit_end]);
        match rest.get(unit_end + 1..) {
            Some(more) => rest = more,
            None => return units,
        }
    }
}

/// Characters that have no picture of their own or change how their neighbours are read.
fn unseen(c: char) -> bool {
    c.is_control()
        || (c.is_whitespace() && c != ' ' && c != '\u{A0}' && c != '\u{202F}')
        || matches!(c,
            '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}'..='\u{1160}' | '\u{17B4}'..='\u{17B5}'
            | '\u{180B}'..='\u{180F}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}'
            | '\u{FFF0}'..='\u{FFFB}' | '\u{E0000}'..='\u{E0FFF}')
}
