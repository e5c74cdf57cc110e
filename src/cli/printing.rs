//! Paper: a permit and its attendant's card as PDF, numbered where they hang; copies that must come down.
//!
//! Always: what is printed is as of the last line, whatever the clock shows. A reminder is the last thing that is said,
//! and what it cannot work out stops nothing.

use super::looking::look;
use super::sheet::{self, About};
use super::{Outcome, Outside, Place, could_not, shell_word};
use crate::actions::{Desk, Loaded, Trouble};
use crate::paper::{PaperSize, render_card};
use crate::permit::copies;
use crate::permit::decide::{Known, Refusal};
use crate::permit::state::Permit;
use crate::record::excerpt as excerpts;
use crate::record::json::{Json, sorted};
use crate::record::line::Line;
use crate::time::Moment;
use crate::tongue::{Tongue, say};
use crate::view::{CardView, PermitView, StateWord};
use std::path::Path;

const fn size(letter: bool) -> PaperSize {
    if letter { PaperSize::Letter } else { PaperSize::A4 }
}

/// `airwrit print`.
pub fn print(
    place: &Place,
    number: &str,
    to: &Path,
    hangs: Option<&str>,
    letter: bool,
    outside: &mut Outside<'_>,
) -> Outcome {
    let (pdf, copy) = match hangs {
        None => {
            let looked = look(place, outside)?;
            whole(&looked)?;
            as_it_reads(&looked.known(), &looked.lines, number)?;
            let (known, asked) = (looked.known(), Tongue::asked());
            let undrawn = Undrawn::permit(&known, &looked.lines, number, 0, size(letter), asked)?;
            (undrawn.draw()?, String::new())
        }
        Some(hangs) => place.at_desk(outside, None, |desk| {
            can_write(to)?;
            let (loaded, n, hangs) = numbered(desk, number, hangs, None)?;
            let (known, lines) = (loaded.known(), &loaded.register.lines);
            let undrawn = Undrawn::permit(&known, lines, number, n, size(letter), Tongue::asked())?;
            Ok((undrawn.draw()?, say!("copy {n}, {hangs}", n, hangs)))
        })?,
    };
    written(to, &pdf, &copy, outside)
}

/// `airwrit card`.
pub fn card(
    place: &Place,
    number: Option<&str>,
    to: &Path,
    hangs: Option<&str>,
    letter: bool,
    outside: &mut Outside<'_>,
) -> Outcome {
    let (pdf, copy) = match (number, hangs) {
        (None, _) => {
            let view = crate::show::card::blank(Tongue::now());
            let pdf = render_card(&view, size(letter));
            (pdf.map_err(|e| could_not(say!("the card cannot be drawn: {why}", why = e)))?, String::new())
        }
        (Some(number), None) => {
            let looked = look(place, outside)?;
            whole(&looked)?;
            as_it_reads(&looked.known(), &looked.lines, number)?;
            let (known, asked) = (looked.known(), Tongue::asked());
            let undrawn = Undrawn::card(&known, &looked.lines, number, None, size(letter), asked)?;
            (undrawn.draw()?, String::new())
        }
        (Some(number), Some(hangs)) => place.at_desk(outside, None, |desk| {
            can_write(to)?;
            let (loaded, n, hangs) = numbered(desk, number, hangs, Some("card"))?;
            let copy = Some((n, hangs.as_str()));
            let (known, lines) = (loaded.known(), &loaded.register.lines);
            let undrawn = Undrawn::card(&known, lines, number, copy, size(letter), Tongue::asked())?;
            Ok((undrawn.draw()?, say!("copy {n}, {hangs}", n, hangs)))
        })?,
    };
    written(to, &pdf, &copy, outside)
}

/// Characters of where a copy hangs: about a line on page one.
const MOST_HANGS: usize = 80;

/// Keeps where the next copy hangs; what is printed comes after that line.
pub(crate) fn numbered(
    desk: &mut Desk<'_>,
    number: &str,
    hangs: &str,
    sheet: Option<&str>,
) -> Result<(Loaded, u64, String), Trouble> {
    let mut loaded = desk.load()?;
    let known = loaded.known();
    let permit = known.permit(number)?;
    not_over(&known, permit)?;
    let hangs = crate::permit::decide::answer::clean(hangs)?;
    let long = hangs.chars().count();
    if long > MOST_HANGS {
        return Err(Refusal::because(say!(
            "where it hangs has {long} characters; wanted: at most {most}, it stands on page one",
            long,
            most = MOST_HANGS
        ))
        .into());
    }
    let n = copies::next(permit);
    let mut members = vec![("hangs".to_owned(), hangs.as_str().into()), ("number".to_owned(), Json::Int(n))];
    members.extend(sheet.map(|s| ("sheet".to_owned(), s.into())));
    let draft = known.line(permit, "copy", "", sorted(members));
    desk.keep(&mut loaded, &draft)?;
    Ok((loaded, n, hangs))
}

/// A sheet of a register of which something is missing would be taken for all of it.
pub(crate) fn whole(looked: &crate::actions::Looked) -> Result<(), Refusal> {
    if !looked.in_part() {
        return Ok(());
    }
    let why = say!("something of this register is missing, or is being written at this moment");
    Err(Refusal::because(why).instead(say!(
        "print again; where it stays so, `airwrit doctor` tells what is missing, and the next entry at the station \
         mends what a stop left"
    )))
}

/// A copy that could not be written must not stand as hanging.
fn can_write(to: &Path) -> Result<(), Trouble> {
    crate::disk::can_write(to, is_pdf(to))
        .map_err(|e| Trouble::CouldNot(say!("{why}; no copy was kept as hanging", why = e.why)))
}

/// A name mistyped must not cost a key or a register: only a PDF gives way to a PDF.
fn is_pdf(path: &Path) -> bool {
    crate::disk::read_file(path).is_ok_and(|old| old.starts_with(b"%PDF-"))
}

fn written(to: &Path, pdf: &[u8], copy: &str, outside: &mut Outside<'_>) -> Outcome {
    crate::disk::write_file(to, pdf, is_pdf(to), false)?;
    let copy = if copy.is_empty() { String::new() } else { format!(", {copy}") };
    writeln!(
        outside.out,
        "{}",
        say!("{file} written, {bytes} bytes{copy}", file = shell_word(to), bytes = pdf.len(), copy)
    )?;
    Ok(())
}

/// The moment of the last line.
fn as_of(known: &Known<'_>, lines: &[Line]) -> Moment {
    let zone = lines.last().map_or_else(|| known.now.zone.clone(), |l| l.zone.to_string());
    Moment { time: known.chain.time.clone(), zone }
}

/// With people still on its air a permit does not lapse; all the same no sheet of it says live any more.
fn not_over(known: &Known<'_>, permit: &Permit) -> Result<(), Refusal> {
    let over = permit.valid_to.as_deref().is_some_and(|v| v < known.time());
    if over && known.life(permit) == StateWord::Live {
        return Err(Refusal::because(say!(
            "{permit} has ended, and people are on its air",
            permit = permit.number
        ))
        .instead(say!("call them out; a sheet of it would read live")));
    }
    Ok(())
}

/// Refuses a sheet that would read otherwise than the permit stands now: its time ran out after the last line.
pub(crate) fn as_it_reads(known: &Known<'_>, lines: &[Line], number: &str) -> Result<(), Refusal> {
    let permit = known.permit(number)?;
    not_over(known, permit)?;
    let at_last = as_of(known, lines);
    let before = known.at(&at_last);
    let (then, now) = (before.life(permit), known.life(permit));
    if then == now {
        let held = |known: &Known<'_>| crate::show::held_now(known, number).map_err(Refusal::because);
        return match (held(&before)?, held(known)?) {
            (None, Some(why)) => Err(Refusal::because(say!(
                "{number} is HELD now: {why} As of the last line it would read live",
                number,
                why
            ))
            .instead(instead())),
            (_, _) => Ok(()),
        };
    }
    Err(Refusal::because(say!(
        "{number} is {state}; as of the last line it would read {then}",
        number,
        state = now.word(),
        then = then.word()
    ))
    .instead(instead()))
}

fn instead() -> &'static str {
    say!("print it with --hangs, which keeps a line and reads as it is now; or `airwrit note` first")
}

/// A paper for which everything was read, and that is yet to be drawn: whoever draws it needs the register no more.
#[derive(Clone)]
pub enum Undrawn {
    /// A permit: its record, and what the register says of it.
    Permit(Box<(Vec<u8>, About, PermitView)>),
    /// An attendant's card.
    Card(Box<CardView>, PaperSize),
}

impl Undrawn {
    /// Of a permit, from its record alone, so that whoever holds it can draw it again; what only the register warns of as of
    /// its last line is printed too. In the language asked for, else the site's. What the clock shows plays no part in it.
    pub fn permit(
        known: &Known<'_>,
        lines: &[Line],
        number: &str,
        copy: u64,
        size: PaperSize,
        language: Option<Tongue>,
    ) -> Result<Undrawn, Trouble> {
        let last = as_of(known, lines);
        let known = known.at(&last);
        let whole = crate::show::permit(&known, lines, number, None, language)?;
        // It stands in the file which language it is in, also where that is the site's: one paper, one file.
        let language = language.or_else(|| Tongue::of(&whole.language));
        let record = excerpts::of(lines, number)
            .ok_or_else(|| Trouble::CouldNot(say!("the permit has no first line").into()))?;
        let about = About { number: number.to_owned(), copy, size, language, beside: Vec::new(), held: None };
        Ok(Undrawn::Permit(Box::new((record, about, whole))))
    }

    /// The attendant's card of a permit; of a numbered copy where one is given.
    pub fn card(
        known: &Known<'_>,
        lines: &[Line],
        number: &str,
        copy: Option<(u64, &str)>,
        size: PaperSize,
        language: Option<Tongue>,
    ) -> Result<Undrawn, Trouble> {
        let last = as_of(known, lines);
        let known = known.at(&last);
        let view = crate::show::card::card(&known, lines, number, copy, language)?;
        Ok(Undrawn::Card(Box::new(view), size))
    }

    /// The PDF.
    pub fn draw(self) -> Result<Vec<u8>, Trouble> {
        let (record, mut about, whole) = match self {
            Undrawn::Card(view, size) => {
                return render_card(&view, size)
                    .map_err(|e| Trouble::CouldNot(say!("the card cannot be drawn: {why}", why = e)));
            }
            Undrawn::Permit(of) => *of,
        };
        let verified = sheet::checked(&record)?;
        let own = sheet::view(&verified, &about)?;
        if own.state != whole.state {
            return Err(Trouble::CouldNot(say!(
                "the register says that {number} is {state}, its record alone says {other}: nothing is printed",
                number = about.number,
                state = whole.state.word(),
                other = own.state.word()
            )));
        }
        about.held = (whole.held && !own.held).then_some(whole.state_means);
        about.beside = whole.warnings.into_iter().filter(|w| !own.warnings.contains(w)).collect();
        sheet::draw(&record, &verified, &about)
    }
}

/// Says which copies of these permits hang and tell what is not true any more.
pub fn take_down(place: &Place, which: impl Fn(&Permit) -> bool, outside: &mut Outside<'_>) {
    // Whatever had to be kept is kept by now: what fails here is told by the warnings of the permit instead.
    if let Ok(looked) = place.look_for(None, outside) {
        take_down_of(place, &looked.known(), which, outside);
    }
}

/// The same, where the register was read already.
pub fn take_down_of(
    place: &Place,
    known: &Known<'_>,
    which: impl Fn(&Permit) -> bool,
    outside: &mut Outside<'_>,
) {
    // All that are recent are at hand, and no other is asked for.
    for permit in known.state.permits.at_hand().filter(|p| known.state.is_recent(p) && which(p)) {
        for copy in copies::stale(known, permit) {
            let hint = place.typed(&format!("`airwrit taken-down {} --copy {}`", permit.number, copy.number));
            let line = say!("{copy}: then {hint}", copy = copy.words(), hint);
            let _ = writeln!(outside.err, "{}", crate::text::safe_line(&line));
        }
    }
}
