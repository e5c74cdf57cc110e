//! A permit's paper and the record attached to it: drawn from that record, and drawn again to compare.
//!
//! Always: what is drawn depends on the record, the size and language of the paper, the copy and words that only the
//! register shows, all of which stand in the file: whoever has the file can draw it again. No PDF is parsed: a comment before its end says
//! where the record stands. Not here: how it looks (`paper`), what it says (`show`).

use crate::actions::Trouble;
use crate::audit::{self, Verdict, Verified};
use crate::paper::{COMMENT, DRAWN_BY, PaperSize, render_with_record};
use crate::permit::copies;
use crate::permit::decide::Known;
use crate::record::json::{self, Json, object};
use crate::time::Moment;
use crate::tongue::{Tongue, say};
use crate::view::{PermitView, StateWord};

/// What a paper was drawn from besides its record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// Permit.
    pub number: String,
    /// Number of the copy; 0 for one without.
    pub copy: u64,
    /// Size of the paper.
    pub size: PaperSize,
    /// The language asked for; none where it is the site's.
    pub language: Option<Tongue>,
    /// Warnings that rest on the register and not on the record: the station's word.
    pub beside: Vec<String>,
    /// What keeps everybody off this air by the register, where the record alone does not show it.
    pub held: Option<String>,
}

impl About {
    /// As one line.
    fn line(&self) -> Result<String, Trouble> {
        let beside = Json::Arr(self.beside.iter().map(|w| Json::from(w.as_str())).collect());
        let mut all = object([
            ("beside", beside),
            ("copy", Json::Int(self.copy)),
            ("paper", self.size.name().into()),
            ("permit", self.number.as_str().into()),
        ]);
        if let Some(tongue) = self.language {
            all = all.with("language", tongue.tag());
        }
        if let Some(held) = &self.held {
            all = all.with("held", held.as_str());
        }
        let bytes = json::write(&all).map_err(Trouble::CouldNot)?;
        String::from_utf8(bytes).map_err(|e| Trouble::CouldNot(e.to_string()))
    }

    fn read(line: &[u8]) -> Option<About> {
        let all = json::read(line).ok()?;
        let Some(Json::Arr(beside)) = all.get("beside") else { return None };
        let words = beside.iter().map(|w| match w {
            Json::Str(s) => Some(s.to_string()),
            Json::Obj(_) | Json::Arr(_) | Json::Int(_) | Json::Bool(_) => None,
        });
        let size =
            [PaperSize::A4, PaperSize::Letter].into_iter().find(|s| all.text("paper") == Some(s.name()))?;
        let about = About {
            number: all.text("permit")?.to_owned(),
            copy: all.int("copy")?,
            size,
            language: all.text("language").and_then(Tongue::of),
            beside: words.collect::<Option<Vec<String>>>()?,
            held: all.text("held").map(str::to_owned),
        };
        // Nothing else stands in it.
        (about.line().ok()?.as_bytes() == line).then_some(about)
    }
}

/// What the record says of its permit, as of its last line.
pub fn view(verified: &Verified, about: &About) -> Result<PermitView, Trouble> {
    let chain =
        verified.chain.as_ref().ok_or_else(|| Trouble::CouldNot(say!("the record has no line").into()))?;
    let zone = verified.lines.last().map(|l| l.zone.clone()).unwrap_or_default();
    let now = Moment { time: chain.time.clone(), zone: zone.to_string() };
    let known = Known::new(chain, &verified.state, &now);
    let permit = known.permit(&about.number)?;
    let hangs = copies::hung(permit, about.copy).map(|(hangs, _)| hangs);
    if about.copy != 0 && hangs.is_none() {
        return Err(Trouble::CouldNot(say!("the record has no copy {number}", number = about.copy)));
    }
    let copy = hangs.as_deref().map(|hangs| (about.copy, hangs));
    let mut view = crate::show::permit(&known, &verified.lines, &about.number, copy, about.language)?;
    view.warnings.extend(about.beside.iter().cloned());
    if let Some(why) = about.held.as_ref().filter(|_| view.state == StateWord::Live) {
        let language = about.language.or_else(|| Tongue::of(&view.language)).unwrap_or(Tongue::English);
        view.held = true;
        view.state_words = language.within(crate::show::held_word).into();
        view.state_means.clone_from(why);
    }
    Ok(view)
}

/// Draws the paper of a record.
pub fn draw(record: &[u8], verified: &Verified, about: &About) -> Result<Vec<u8>, Trouble> {
    let view = view(verified, about)?;
    render_with_record(&view, about.size, Some((record, &about.line()?)))
        .map_err(|e| Trouble::CouldNot(say!("the permit cannot be drawn: {why}", why = e)))
}

/// Reads a record that is to be drawn: nothing is printed that does not check.
pub fn checked(record: &[u8]) -> Result<Verified, Trouble> {
    let verified = audit::verify_excerpt(record, None);
    match verified.report.verdict {
        Verdict::Sound | Verdict::Unproven => Ok(verified),
        Verdict::Broken | Verdict::CouldNot => {
            let why: Vec<&str> = verified.report.said.iter().map(|s| s.why.as_str()).collect();
            Err(Trouble::CouldNot(say!(
                "the record of this permit does not check: {why}",
                why = why.join("; ")
            )))
        }
    }
}

/// A paper taken apart.
pub struct Apart<'a> {
    /// The airwrit that drew it.
    pub version: String,
    /// The record attached.
    pub record: &'a [u8],
    /// What else it was drawn from.
    pub about: About,
}

/// So many bytes from the end the comment begins at the latest; what only the register shows may be long.
const TAIL: usize = 256 * 1024;

/// Finds the record in a paper, by the comment before its end; `None` if it says nothing that can be.
pub fn apart(pdf: &[u8]) -> Option<Apart<'_>> {
    let tail = pdf.get(pdf.len().saturating_sub(TAIL)..)?;
    let start = format!("\n{COMMENT}");
    let at = tail.windows(start.len()).rposition(|w| w == start.as_bytes())? + start.len();
    let line = tail.get(at..)?.split(|b| *b == b'\n').next()?;
    let mut words = line.splitn(4, |b| *b == b' ').map(std::str::from_utf8);
    let version = words.next()?.ok()?.to_owned();
    let number = |w: &str| w.parse::<usize>().ok();
    let (offset, length) = (number(words.next()?.ok()?)?, number(words.next()?.ok()?)?);
    let about = About::read(words.next()?.ok()?.as_bytes())?;
    let record = pdf.get(offset..offset.checked_add(length)?)?;
    Some(Apart { version, record, about })
}

/// How the pages of a paper compare with those drawn from its record now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pages {
    /// Every byte of the file is the same.
    Same,
    /// It is another file.
    Differ,
    /// Another version drew it.
    NotCompared,
}

impl Pages {
    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            Pages::Same => "same",
            Pages::Differ => "differ",
            Pages::NotCompared => "not compared",
        }
    }
}

/// The verdict of a paper is that of its record, unless its pages are worse.
pub fn verdict(of_record: Verdict, pages: Option<Pages>) -> Verdict {
    match pages {
        Some(Pages::Differ) => Verdict::Broken,
        Some(Pages::NotCompared) if of_record == Verdict::Sound => Verdict::Unproven,
        Some(Pages::NotCompared | Pages::Same) | None => of_record,
    }
}

/// Draws a paper again.
pub fn compared(pdf: &[u8], apart: &Apart<'_>, verified: &Verified) -> Pages {
    if apart.version != DRAWN_BY {
        return Pages::NotCompared;
    }
    match draw(apart.record, verified, &apart.about) {
        Ok(again) if again == pdf => Pages::Same,
        Ok(_) | Err(_) => Pages::Differ,
    }
}
