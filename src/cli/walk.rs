//! Leading the operator through a form in the terminal: one step at a time, where you are, what is
//! left, why a gate is shut and how to open it. Stops and resumes anywhere: every answer is kept at once.
//!
//! Always: `!` calls everyone out, at every prompt. Not here: what a screen says (`screen`), the rules.

use super::args::CallOut;
use super::screen::{Kind, Now, Screen, now};
use super::station::{give, kept_in_words};
use super::{End, Outcome, Outside, Place, could_not};
use crate::actions::{Loaded, Trouble};
use crate::permit::decide::{Refusal, air};
use crate::record::json::Json;
use crate::record::kinds::AGAIN;
use crate::record::line::Line;
use crate::text::safe_line;
use crate::time::Moment;
use crate::tongue::{say, say_n};
use crate::view::StateWord;

/// Which step is shown again, if not the next one: by step and item.
type Again = Option<(String, Option<String>)>;

/// The line of an answer, and when it was kept; none where it was not answered here.
type Kept = Option<Box<(Line, Moment)>>;

/// What came of a step.
enum Went {
    /// On to the next.
    On(Kept),
    /// To a step that was answered before.
    Back(Again),
    /// The operator stops here.
    Stop,
}

/// What was typed at a prompt.
enum Typing {
    /// A line, trimmed.
    Line(String),
    /// `q`, or the end of the input.
    Stop,
}

struct Walker<'a> {
    place: &'a Place,
    number: String,
}

/// `airwrit walk`.
pub fn walk(
    place: &Place,
    permit: Option<&str>,
    shutdown: bool,
    by: Option<&str>,
    outside: &mut Outside<'_>,
) -> Outcome {
    let mut loaded = place.at_desk(outside, None, |desk| desk.load())?;
    let number = which(&loaded, permit, shutdown)?;
    let walker = Walker { place, number };
    let mut again: Again = None;
    loop {
        let screen = match now(&loaded.known(), &walker.number, shutdown, by, again.take())? {
            Now::Over(lines) => {
                for l in lines {
                    writeln!(outside.out, "{}", safe_line(&place.typed(&l)))?;
                }
                return Ok(());
            }
            Now::Ask(s) => s,
        };
        match walker.one_step(*screen, outside)? {
            Went::On(kept) => {
                let goes_on = kept.is_some_and(|kept| loaded.goes_on(&kept.0, kept.1));
                if !goes_on {
                    loaded = place.at_desk(outside, None, |desk| desk.load())?;
                }
            }
            Went::Back(to) => again = to,
            Went::Stop => {
                let flag = if shutdown { " --shutdown" } else { "" };
                let hint = place.typed(&format!("`airwrit walk {}{flag}`", walker.number));
                writeln!(outside.err, "{}", say!("stopped; everything answered is kept"))?;
                writeln!(outside.err, "{}", say!("hint: {hint} goes on here", hint))?;
                return Ok(());
            }
        }
    }
}

fn which(loaded: &Loaded, permit: Option<&str>, shutdown: bool) -> Result<String, End> {
    let known = loaded.known();
    if let Some(p) = permit {
        return Ok(known.permit(p)?.number.clone());
    }
    let open: Vec<&str> = known
        .state
        .permits
        .values()
        .filter(|p| {
            let life = known.state.life(p, &known.now.time);
            if shutdown { !life.ended() && life != StateWord::HandedBack } else { life == StateWord::Draft }
        })
        .map(|p| p.number.as_str())
        .collect();
    match open.as_slice() {
        [one] => Ok((*one).to_owned()),
        [] => Err(Refusal::because(say!("no permit waits for answers"))
            .instead(say!("`airwrit open --job FILE` opens one"))
            .into()),
        many => {
            let flag = if shutdown { " --shutdown" } else { "" };
            let hint = many
                .iter()
                .map(|n| format!("`airwrit walk {n}{flag}`"))
                .collect::<Vec<_>>()
                .join(&format!(" {} ", say!("or")));
            Err(Refusal::because(say!(
                "{count} permits are open: {numbers}",
                count = many.len(),
                numbers = many.join(", ")
            ))
            .instead(say!("say which: {hint}", hint))
            .into())
        }
    }
}

impl Walker<'_> {
    /// Asks until the step is answered.
    fn one_step(&self, screen: Screen, outside: &mut Outside<'_>) -> Result<Went, End> {
        writeln!(outside.err, "\n{}\n{}", "-".repeat(72), safe_line(&screen.head))?;
        for l in screen.lines.iter().chain(&screen.hold) {
            put(l, outside)?;
        }
        if !screen.carry.is_empty() {
            let words = say_n!(
                screen.carry.len(),
                "c: {n} answer of another permit still hold; look at them and carry them instead of answering again",
                "c: {n} answers of another permit still hold; look at them and carry them instead of answering again"
            );
            writeln!(outside.err, "{words}")?;
        }
        let leave = if screen.may_leave_out { say!(", x out of service") } else { "" };
        let deviate = if screen.may_deviate { say!(", d leave it so") } else { "" };
        let carry = if screen.carry.is_empty() { "" } else { say!(", c carry") };
        let keys =
            say!("(? why, b back{carry}{leave}{deviate}, q stop, ! everyone out)", carry, leave, deviate);
        let mut again = None;
        loop {
            let answered = screen.answered && again.is_none();
            if answered {
                writeln!(outside.err, "{}", say!("what was done since?"))?;
                let all: Vec<String> = AGAIN
                    .iter()
                    .enumerate()
                    .map(|(i, a)| {
                        format!("{}\u{a0}{}", i + 1, crate::view::recorded(a).replace(' ', "\u{a0}"))
                    })
                    .collect();
                put(&format!("  {}", all.join("   ")), outside)?;
            }
            let prompt = if answered { say!("number") } else { &screen.prompt };
            let Typing::Line(text) = self.ask(&format!("{prompt}  {keys}"), outside)? else {
                return Ok(Went::Stop);
            };
            let mut typed = screen.typed.clone();
            typed.again.clone_from(&again);
            let mut words = text.split_whitespace();
            match words.next().unwrap_or_default().to_lowercase().as_str() {
                "?" => {
                    if screen.why.is_empty() {
                        writeln!(outside.err, "  {}", say!("the checklist says no more of this step"))?;
                    }
                    for w in &screen.why {
                        put(&format!("  {w}"), outside)?;
                    }
                    continue;
                }
                // In a step answered in words the letter may begin the words.
                "b" if screen.kind != Kind::Words || text.len() == 1 => {
                    match back(&screen, words.next(), words.next()) {
                        Some(to) => return Ok(Went::Back(Some(to))),
                        None => {
                            for l in &screen.earlier_words {
                                put(&format!("  {l}"), outside)?;
                            }
                            continue;
                        }
                    }
                }
                "c" if !screen.carry.is_empty() && text.len() == 1 => {
                    for l in &screen.carry {
                        put(&format!("  {l}"), outside)?;
                    }
                    let Typing::Line(yes) = self.ask(
                        &say!(
                            "do all of these still hold?  type {yes} to carry them  (q stop, ! everyone out)",
                            yes = "yes"
                        ),
                        outside,
                    )?
                    else {
                        return Ok(Went::Stop);
                    };
                    if yes != "yes" {
                        writeln!(outside.err, "  {}", say!("nothing was carried"))?;
                        continue;
                    }
                    let c = super::args::shift::Carry {
                        permit: self.number.clone(),
                        step: None,
                        item: None,
                        show: false,
                        by: Some(screen.typed.by.clone()),
                    };
                    super::shift::carry(self.place, &c, outside)?;
                    return Ok(Went::On(None));
                }
                "x" if screen.may_leave_out && text.len() == 1 => {
                    let Typing::Line(reason) =
                        self.ask(say!("why is it out of service?  (q stop, ! everyone out)"), outside)?
                    else {
                        return Ok(Went::Stop);
                    };
                    typed.left_out = Some(reason);
                    if screen.answered && typed.again.is_none() {
                        typed.again = Some("other".into());
                    }
                }
                "d" if screen.may_deviate && text.len() == 1 => {
                    let Typing::Line(reason) =
                        self.ask(say!("why can it not be mended?  (q stop, ! everyone out)"), outside)?
                    else {
                        return Ok(Went::Stop);
                    };
                    let Typing::Line(instead) =
                        self.ask(say!("what is done instead?  (q stop, ! everyone out)"), outside)?
                    else {
                        return Ok(Went::Stop);
                    };
                    typed.deviation = Some((reason, instead));
                    typed.again = None;
                }
                _ if answered => {
                    let chosen = text.parse::<usize>().ok().and_then(|n| AGAIN.get(n.checked_sub(1)?));
                    match chosen
                        .or_else(|| AGAIN.iter().find(|a| a.replace('_', " ") == text.replace('_', " ")))
                    {
                        Some(word) => again = Some((*word).to_owned()),
                        None => writeln!(
                            outside.err,
                            "  {}",
                            say!(
                                "got {got}, wanted a number from 1 to {most}",
                                got = crate::text::quoted(&text, 40),
                                most = AGAIN.len()
                            )
                        )?,
                    }
                    continue;
                }
                _ => match screen.value(&text) {
                    Err(hint) => {
                        writeln!(outside.err, "  {}", safe_line(&hint))?;
                        continue;
                    }
                    Ok(v) if screen.kind == Kind::Number => {
                        (typed.value, typed.below) = crate::actions::below(v.as_deref())
                    }
                    Ok(v) => typed.value = v,
                },
            }
            let done = match screen.kind {
                Kind::Start | Kind::Stop => self.set_line(&screen, outside),
                Kind::YesNo
                | Kind::Choice
                | Kind::Number
                | Kind::Date
                | Kind::Words
                | Kind::WorkedOut
                | Kind::Begin
                | Kind::Done => {
                    give(self.place, &self.number, &typed, outside).map(|(line, after, loaded)| {
                        let words = kept_in_words(after.standing, line.seq);
                        (format!("  {words}"), Some(Box::new((line, loaded.now))))
                    })
                }
            };
            match done {
                Ok((words, loaded)) => {
                    writeln!(outside.err, "{words}")?;
                    return Ok(Went::On(loaded));
                }
                Err(End::Trouble(Trouble::Refused(r))) => {
                    for why in r.why {
                        put(&format!("  {why}"), outside)?;
                    }
                    if let Some(h) = r.instead {
                        let hint = safe_line(&self.place.typed(&h)).into_owned();
                        writeln!(outside.err, "  {}", say!("hint: {hint}", hint))?;
                    }
                }
                Err(other) => return Err(other),
            }
        }
    }

    fn set_line(&self, screen: &Screen, outside: &mut Outside<'_>) -> Result<(String, Kept), End> {
        let kind = if screen.kind == Kind::Start { "started" } else { "stopped" };
        let set = screen.typed.step.clone();
        let by = screen.typed.by.clone();
        let members = vec![("set".to_owned(), Json::from(set.as_str()))];
        let (line, loaded) = self.place.at_desk(outside, None, |desk| {
            desk.request(
                |known| air::request_of_set(known, kind, &set, members.clone(), &by),
                Some((kind, None, set.as_str())),
            )
        })?;
        let words = if screen.kind == Kind::Start {
            say!("started; line {line}", line = line.seq)
        } else {
            say!("stopped; line {line}", line = line.seq)
        };
        Ok((format!("  {words}"), Some(Box::new((line, loaded.now)))))
    }

    /// One line typed. `!` calls everyone out and asks again.
    fn ask(&self, prompt: &str, outside: &mut Outside<'_>) -> Result<Typing, End> {
        loop {
            write!(outside.err, "{prompt} > ")?;
            outside.err.flush()?;
            // Bytes, not text: a stray byte on the line must not end the walk.
            let mut bytes = Vec::new();
            match std::io::BufRead::read_until(outside.input, b'\n', &mut bytes) {
                Ok(0) => {
                    writeln!(outside.err)?;
                    return Ok(Typing::Stop);
                }
                Ok(_) => {}
                Err(e) => return Err(could_not(say!("what was typed cannot be read: {why}", why = e))),
            }
            let text = String::from_utf8_lossy(&bytes);
            match text.trim() {
                "q" | "Q" => return Ok(Typing::Stop),
                "!" => self.call_out(outside)?,
                other => return Ok(Typing::Line(other.to_owned())),
            }
        }
    }

    /// Everyone out; whatever cannot be kept, the walk is still there afterwards.
    fn call_out(&self, outside: &mut Outside<'_>) -> Outcome {
        let c = CallOut { permit: Some(self.number.clone()), ..CallOut::default() };
        if let Err(end) = super::calling::call_out(self.place, &c, outside) {
            super::tell(end, self.place, outside.err);
        }
        Ok(())
    }
}

/// Longest line of a screen, in characters: a terminal of 80 shows it whole.
const WIDTH: usize = 78;

/// A line of the screen, broken between words.
fn put(line: &str, outside: &mut Outside<'_>) -> Outcome {
    for l in crate::text::wrapped(&safe_line(line), WIDTH) {
        writeln!(outside.err, "{}", l.replace('\u{a0}', " "))?;
    }
    Ok(())
}

/// The step to go back to: the last one answered, or the one named.
fn back(screen: &Screen, step: Option<&str>, item: Option<&str>) -> Again {
    match step {
        None => screen.earlier.last().cloned(),
        Some(step) => screen
            .earlier
            .iter()
            .rev()
            .find(|(s, i)| s == step && (item.is_none() || i.as_deref() == item))
            .cloned(),
    }
}
