//! Leading the operator through a form in the terminal: one step at a time, where you are, what is
//! left, why a gate is shut and how to open it. Stops and resumes anywhere: every answer is kept at once.

use super::station::give;
use super::{End, Outcome, Outside, Place, could_not};
use crate::actions::Loaded;
use crate::checklist::StepKind;
use crate::permit::bench::Bench;
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::{Refusal, air};
use crate::permit::walk::{self, Stand};
use crate::record::json::Json;
use crate::record::kinds::AGAIN;
use crate::text::safe_line;
use crate::view::{Standing, StateWord};

/// What the walk shows and takes at one step.
struct Screen {
    head: String,
    lines: Vec<String>,
    why: Vec<String>,
    hold: Vec<String>,
    prompt: String,
    typed: Typed,
    choices: Vec<String>,
    kind: Kind,
    answered: bool,
    may_leave_out: bool,
}

/// How the answer is taken.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    YesNo,
    Choice,
    Free,
    WorkedOut,
    Begin,
    Done,
    Start,
    Stop,
}

enum Now {
    Ask(Box<Screen>),
    Over(Vec<String>),
}

/// `airwrit walk`.
pub fn walk(
    place: &Place,
    permit: Option<&str>,
    shutdown: bool,
    by: Option<&str>,
    outside: &mut Outside<'_>,
) -> Outcome {
    let loaded = place.at_desk(outside, None, |desk| desk.load())?;
    let number = which(&loaded, permit, shutdown)?;
    drop(loaded);
    loop {
        let loaded = place.at_desk(outside, None, |desk| desk.load())?;
        let screen = match now(&loaded, &number, shutdown, by)? {
            Now::Over(lines) => {
                for l in lines {
                    writeln!(outside.out, "{}", safe_line(&l))?;
                }
                return Ok(());
            }
            Now::Ask(s) => s,
        };
        drop(loaded);
        if !one_step(place, &number, *screen, outside)? {
            writeln!(outside.err, "stopped; everything answered is kept. `airwrit walk {number}` goes on here")?;
            return Ok(());
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
        [] => Err(Refusal::because("no permit waits for answers").instead("`airwrit open --job FILE` opens one").into()),
        many => Err(Refusal::because(format!("{} permits are open: {}", many.len(), many.join(", ")))
            .instead("say which: `airwrit walk PERMIT`")
            .into()),
    }
}

fn now(loaded: &Loaded, number: &str, shutdown: bool, by: Option<&str>) -> Result<Now, End> {
    let known = loaded.known();
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let bench = answer::bench(&known, permit, &texts, shutdown)?;
    let shutdown = bench.form.purpose() == crate::checklist::Purpose::Shutdown;
    let life = known.state.life(permit, &known.now.time);
    let stands = walk::walk(&bench);
    let by = by.map_or_else(|| texts.job.text("holder").unwrap_or_default().to_owned(), str::to_owned);
    let left = stands.iter().filter(|s| !s.done()).count();
    let running = answer::running(&known, &permit.set.id);
    let stages = bench.form.stages();
    let head = |s: Option<&Stand<'_>>| match s {
        Some(s) => {
            let n = stages.iter().position(|st| st.id() == s.stage.id()).unwrap_or(0) + 1;
            format!(
                "{number}  {}   stage {n} of {}: {}   {left} left",
                life.word().to_uppercase(),
                stages.len(),
                s.stage.title().get(&texts.language)
            )
        }
        None => format!("{number}  {}   {left} left", life.word().to_uppercase()),
    };
    let bare = |kind: Kind, lines: Vec<String>, prompt: &str| {
        Now::Ask(Box::new(Screen {
            head: head(None),
            lines,
            why: Vec::new(),
            hold: Vec::new(),
            prompt: prompt.to_owned(),
            typed: Typed { step: permit.set.id.clone(), by: by.clone(), ..Typed::default() },
            choices: Vec::new(),
            kind,
            answered: false,
            may_leave_out: false,
        }))
    };
    if !shutdown && !running && walk::before_start(&stands).is_empty() && walk::next(&stands).is_some() {
        let lines = vec![
            "Everything that comes before the start is done.".into(),
            "Start the set now. Nobody is connected.".into(),
        ];
        return Ok(bare(Kind::Start, lines, "type started when it runs"));
    }
    let next = if shutdown { stands.iter().position(|s| !s.done()) } else { walk::next(&stands) };
    let Some(stand) = next.and_then(|i| stands.get(i)) else {
        let hint = match (shutdown, life) {
            (true, _) => format!("every step is done: `airwrit hand-back {number} --by ID --key FILE`"),
            (false, StateWord::Draft) => format!("every step is done: `airwrit declare {number} --by ID --key FILE`"),
            (false, _) => "every step is done".into(),
        };
        return Ok(Now::Over(vec![hint]));
    };
    if !shutdown && stand.of_wearer() && life == StateWord::Draft && walk::before_declare(&stands).is_empty() {
        return Ok(Now::Over(vec![
            format!("everything before declaring is done: `airwrit declare {number} --by ID --key FILE`"),
            "the wearers' own steps are left; take them before each one's first time on air".into(),
        ]));
    }
    if shutdown && running && stand.stage.id() == walk::STOP {
        let lines = vec!["Everything that comes before the stop is done.".into(), "Stop the set now.".into()];
        return Ok(bare(Kind::Stop, lines, "type stopped when it has stopped"));
    }
    Ok(Now::Ask(Box::new(screen(&bench, stand, head(Some(stand)), by, shutdown))))
}

fn screen(bench: &Bench<'_>, stand: &Stand<'_>, head: String, by: String, shutdown: bool) -> Screen {
    let step = stand.step;
    let item = stand.item.as_ref();
    let words = |t: Option<&crate::words::Template>| t.map(|t| bench.words(t, item));
    let mut lines = Vec::new();
    if step.critical() {
        lines.push("LIFE-CRITICAL".to_owned());
    }
    lines.push(bench.words(step.ask(), item));
    let mut choices = Vec::new();
    let begun = stand.answers.last().and_then(|a| a.value.as_deref()) == Some("begun");
    let (kind, prompt) = match step.kind() {
        StepKind::Confirm => (Kind::YesNo, "yes or no".to_owned()),
        StepKind::Choice(offered) => {
            for (i, (id, w)) in offered.iter().enumerate() {
                lines.push(format!("  {}  {}", i + 1, w.get(&bench.texts.language)));
                choices.push(id.clone());
            }
            (Kind::Choice, "number of the choice".to_owned())
        }
        StepKind::Reading(i) => {
            let unit = i.unit().map_or("a number", |u| u.symbol());
            (Kind::Free, format!("in {unit}"))
        }
        StepKind::Date => (Kind::Free, "a date like 2026-11-25".to_owned()),
        StepKind::Text => (Kind::Free, "in words".to_owned()),
        StepKind::Derived(_) => {
            let shown = bench.derive(step, item).map_or_else(|why| format!("cannot be worked out: {why}"), |d| d.1);
            lines.push(format!("  worked out: {shown}"));
            (Kind::WorkedOut, "Enter to keep it".to_owned())
        }
        StepKind::Timed(_) if begun => (Kind::Done, "type done when it is over".to_owned()),
        StepKind::Timed(_) => (Kind::Begin, "type begun when it begins".to_owned()),
    };
    let mut why = Vec::new();
    for (label, text) in [("why", words(step.because())), ("how", words(step.how()))] {
        why.extend(text.map(|t| format!("{label}: {t}")));
    }
    let wanted = crate::show::wanted(bench, stand);
    if !wanted.is_empty() {
        why.push(format!("wanted: {wanted}"));
    }
    why.extend(step.source().map(|s| format!("source: {}", s.get(&bench.texts.language))));
    let mut hold = Vec::new();
    if stand.standing == Standing::Hold {
        hold.push("HOLD: nothing that needs this goes on.".to_owned());
        hold.extend(stand.why.iter().map(|w| format!("  {w}")));
        hold.extend(words(step.because()).map(|t| format!("  why: {t}")));
        hold.extend(words(step.fix()).map(|t| format!("  do: {t}")));
    } else if !stand.answers.is_empty() && stand.standing == Standing::Waiting {
        hold.extend(stand.why.iter().map(|w| format!("  {w}")));
    }
    Screen {
        head,
        lines,
        why,
        hold,
        prompt,
        typed: Typed {
            step: step.id().to_owned(),
            item: stand.item_id().map(str::to_owned),
            shutdown,
            by,
            ..Typed::default()
        },
        choices,
        kind,
        answered: stand.standing == Standing::Hold && !matches!(kind, Kind::WorkedOut | Kind::Begin | Kind::Done),
        may_leave_out: step.may_leave_out(),
    }
}

/// Asks until the step is answered; false: the operator stops here.
fn one_step(place: &Place, number: &str, screen: Screen, outside: &mut Outside<'_>) -> Result<bool, End> {
    writeln!(outside.err, "\n{}\n{}", "-".repeat(72), safe_line(&screen.head))?;
    for l in screen.lines.iter().chain(&screen.hold) {
        writeln!(outside.err, "{}", safe_line(l))?;
    }
    let mut typed = screen.typed.clone();
    if screen.answered {
        match what_was_done(&screen, outside)? {
            None => return Ok(false),
            Some(word) => typed.again = Some(word),
        }
    }
    loop {
        let leave = if screen.may_leave_out { ", x out of service" } else { "" };
        let Some(text) = ask(&format!("{}  (? why, q stop{leave}, ! everyone out)", screen.prompt), outside)? else {
            return Ok(false);
        };
        match text.as_str() {
            "?" => {
                for w in &screen.why {
                    writeln!(outside.err, "  {}", safe_line(w))?;
                }
                continue;
            }
            "q" => return Ok(false),
            "!" => {
                let on = super::args::OnWhat { permit: Some(number.to_owned()), set: None };
                super::station::call_out(place, &on, None, &super::args::ToldArgs::default(), outside)?;
                continue;
            }
            "x" if screen.may_leave_out => {
                let Some(reason) = ask("why is it out of service?", outside)? else { return Ok(false) };
                typed.left_out = Some(reason);
                typed.value = None;
            }
            _ => match value(&screen, &text) {
                Err(hint) => {
                    writeln!(outside.err, "  {hint}")?;
                    continue;
                }
                Ok(v) => (typed.value, typed.below) = crate::actions::below(v.as_deref()),
            },
        }
        let done = match screen.kind {
            Kind::Start | Kind::Stop => set_line(place, &screen, outside),
            Kind::YesNo | Kind::Choice | Kind::Free | Kind::WorkedOut | Kind::Begin | Kind::Done => {
                give(place, number, &typed, outside).map(|(_, after)| match after.standing {
                    Standing::Hold => "  kept; it holds".to_owned(),
                    Standing::Open | Standing::Waiting | Standing::NotApplicable | Standing::OutOfService => {
                        "  kept".to_owned()
                    }
                })
            }
        };
        match done {
            Ok(words) => {
                writeln!(outside.err, "{words}")?;
                return Ok(true);
            }
            Err(End::Trouble(crate::actions::Trouble::Refused(r))) => {
                for why in r.why {
                    writeln!(outside.err, "  {}", safe_line(&why))?;
                }
                if let Some(h) = r.instead {
                    writeln!(outside.err, "  hint: {}", safe_line(&h))?;
                }
                typed.left_out = None;
            }
            Err(other) => return Err(other),
        }
    }
}

fn set_line(place: &Place, screen: &Screen, outside: &mut Outside<'_>) -> Result<String, End> {
    let kind = if screen.kind == Kind::Start { "started" } else { "stopped" };
    let set = screen.typed.step.clone();
    let by = screen.typed.by.clone();
    let members = vec![("set".to_owned(), Json::from(set.as_str()))];
    let (line, _) = place.at_desk(outside, None, |desk| {
        desk.request(
            |known| air::request_of_set(known, kind, &set, members, &by),
            Some((kind, None, set.as_str())),
        )
    })?;
    Ok(format!("  {kind}; line {}", line.seq))
}

fn value(screen: &Screen, text: &str) -> Result<Option<String>, String> {
    let word = |wanted: &str| {
        if text == wanted { Ok(Some(text.to_owned())) } else { Err(format!("type {wanted}, or q to stop")) }
    };
    match screen.kind {
        Kind::WorkedOut if text.is_empty() => Ok(None),
        Kind::WorkedOut => Err("this value is worked out; Enter keeps it".into()),
        Kind::Begin => word("begun"),
        Kind::Done => word("done"),
        Kind::Start => word("started"),
        Kind::Stop => word("stopped"),
        Kind::YesNo => match text {
            "yes" | "no" => Ok(Some(text.into())),
            "y" => Ok(Some("yes".into())),
            "n" => Ok(Some("no".into())),
            _ => Err("type yes or no".into()),
        },
        Kind::Choice => {
            let chosen = text.parse::<usize>().ok().and_then(|n| screen.choices.get(n.checked_sub(1)?));
            match chosen.or_else(|| screen.choices.iter().find(|c| *c == text)) {
                Some(id) => Ok(Some(id.clone())),
                None => Err(format!("type a number from 1 to {}", screen.choices.len())),
            }
        }
        Kind::Free if text.is_empty() => Err(format!("type an answer, {}", screen.prompt)),
        Kind::Free => Ok(Some(text.to_owned())),
    }
}

fn what_was_done(screen: &Screen, outside: &mut Outside<'_>) -> Result<Option<String>, End> {
    writeln!(outside.err, "What was done since?")?;
    for (i, a) in AGAIN.iter().enumerate() {
        writeln!(outside.err, "  {}  {}", i + 1, a.replace('_', " "))?;
    }
    loop {
        let Some(text) = ask("number  (? why, q stop)", outside)? else { return Ok(None) };
        match text.as_str() {
            "q" => return Ok(None),
            "?" => {
                for w in &screen.why {
                    writeln!(outside.err, "  {}", safe_line(w))?;
                }
            }
            _ => {
                let chosen = text.parse::<usize>().ok().and_then(|n| AGAIN.get(n.checked_sub(1)?));
                match chosen.or_else(|| AGAIN.iter().find(|a| **a == text)) {
                    Some(word) => return Ok(Some((*word).to_owned())),
                    None => writeln!(outside.err, "  type a number from 1 to {}", AGAIN.len())?,
                }
            }
        }
    }
}

/// One line typed; `None` at the end of the input.
fn ask(prompt: &str, outside: &mut Outside<'_>) -> Result<Option<String>, End> {
    write!(outside.err, "{prompt} > ")?;
    outside.err.flush()?;
    let mut line = String::new();
    match outside.input.read_line(&mut line) {
        Ok(0) => {
            writeln!(outside.err)?;
            Ok(None)
        }
        Ok(_) => Ok(Some(line.trim().to_owned())),
        Err(e) => Err(could_not(format!("what was typed cannot be read: {e}"))),
    }
}
