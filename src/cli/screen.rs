//! What the walk shows at one step, and how what is typed there is read.
//!
//! In: the register as it is, a permit, its form. Out: words and the kind of answer wanted. Decides nothing.

use super::End;
use super::shift::carried_in_words;
use crate::checklist::{Purpose, StepKind};
use crate::gate::Value;
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::{Known, Refusal, carry, crew, sign};
use crate::permit::since::since_opened;
use crate::permit::state::Permit;
use crate::permit::walk::{self, Stand};
use crate::permit::watch;
use crate::tongue::say;
use crate::view::{Standing, StateWord};

/// What the walk shows and takes at one step.
pub struct Screen {
    /// Where you are.
    pub head: String,
    /// The same in parts, for a face that has room.
    pub parts: Parts,
    /// What is asked.
    pub lines: Vec<String>,
    /// What `?` shows.
    pub why: Vec<String>,
    /// Why it holds, and what to do.
    pub hold: Vec<String>,
    /// What is to be typed.
    pub prompt: String,
    /// What stays the same of the answer.
    pub typed: Typed,
    /// Ids of the choices, in the order shown.
    pub choices: Vec<String>,
    /// How the answer is taken.
    pub kind: Kind,
    /// It was answered and that answer still counts: what was done since is asked first.
    pub answered: bool,
    /// The item may be taken out of service here.
    pub may_leave_out: bool,
    /// It holds, and may be left as a deviation.
    pub may_deviate: bool,
    /// Steps answered, oldest answer first, for going back.
    pub earlier: Vec<(String, Option<String>)>,
    /// The same for people.
    pub earlier_words: Vec<String>,
    /// Answers of another permit that still hold and could be carried, in words.
    pub carry: Vec<String>,
}

/// What stands on a screen, each by itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Parts {
    /// Number of the stage, from 1; 0 where no step is asked.
    pub stage: usize,
    /// So many stages.
    pub stages: usize,
    /// Title of the stage.
    pub title: String,
    /// Each wearer's own steps are what is left, and not those before declaring.
    pub own: bool,
    /// Steps left.
    pub left: usize,
    /// Steps in all.
    pub all: usize,
    /// What is asked.
    pub ask: String,
    /// What is told beside it: what it rests on, what was worked out, since when it runs.
    pub beside: Vec<String>,
    /// Choices: id and words.
    pub offered: Vec<(String, String)>,
    /// Unit of a reading, or empty.
    pub unit: String,
    /// Decimals of a reading.
    pub decimals: u8,
    /// A reading may be below the instrument's lowest mark.
    pub below: bool,
    /// Life-critical.
    pub critical: bool,
    /// It holds.
    pub holds: bool,
    /// It cannot be worked out yet.
    pub stuck: bool,
    /// Why it does not go on, where it holds or waits.
    pub why: Vec<String>,
    /// Why it is asked, and what to do; empty where nothing is said.
    pub because: String,
    /// What to do where it holds.
    pub fix: String,
    /// How it is done.
    pub how: String,
    /// What is wanted, where that may be told.
    pub wanted: String,
    /// Place in the history of its last answer; 0 if it has none.
    pub last: u64,
    /// Where a wait began, UTC second, and how long it lasts, seconds, rounded up.
    pub wait: Option<(i64, i64)>,
}

/// How the answer is taken.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Yes or no.
    YesNo,
    /// One of a list.
    Choice,
    /// A number.
    Number,
    /// A date.
    Date,
    /// Words.
    Words,
    /// Nothing: worked out.
    WorkedOut,
    /// Something begins.
    Begin,
    /// It is over.
    Done,
    /// The set starts.
    Start,
    /// The set stops.
    Stop,
}

/// What to show.
pub enum Now {
    /// A step.
    Ask(Box<Screen>),
    /// Nothing more; what to do next.
    Over(Vec<String>),
}

/// The screen as things are; of a step that was answered before, if one is named.
pub fn now(
    known: &Known<'_>,
    number: &str,
    shutdown: bool,
    by: Option<&str>,
    again: Option<(String, Option<String>)>,
) -> Result<Now, End> {
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let mut now = as_things_are(known, permit, &texts, shutdown, by, again)?;
    if let Now::Ask(screen) = &mut now {
        screen.lines.splice(0..0, first_of_all(known, permit, &texts));
        if !shutdown {
            screen.carry = carried_in_words(known, &texts, &carry::candidates(known, permit, &texts));
        }
    }
    Ok(now)
}

/// What stands above every step: who is on air, and that all this work is for nothing.
fn first_of_all(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let on: Vec<String> = known
        .perhaps_on_air_from(&permit.set.id)
        .map(|p| format!("{}, {}", crew::who(known, &p.person), p.whereabouts.words()))
        .collect();
    let mut lines = Vec::new();
    if !on.is_empty() {
        lines.push(say!("ON AIR FROM THIS SET: {names}", names = on.join("; ")));
    }
    let draft = known.life(permit) == StateWord::Draft && !permit.for_shutdown;
    if draft {
        lines.extend(since_opened(known, &[], permit).into_iter().next());
        lines.extend(
            watch::against(known, permit, texts).into_iter().map(|w| say!("OUT OF LIMITS: {what}", what = w)),
        );
    }
    let limit = sign::valid_to(known, permit, texts, None);
    if draft && limit.second <= known.now.seconds() {
        lines.push(say!("THIS PERMIT CAN NO LONGER BE ISSUED, its time is over: {why}", why = limit.because));
        lines.push(format!("  {}", say!("hint: {hint}", hint = sign::end_later(&limit))));
    }
    lines
}

fn as_things_are(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    shutdown: bool,
    by: Option<&str>,
    again: Option<(String, Option<String>)>,
) -> Result<Now, End> {
    let number = permit.number.as_str();
    let bench = answer::bench(known, permit, texts, shutdown)?;
    let shutdown = bench.form.purpose() == Purpose::Shutdown;
    let life = known.state.life(permit, &known.now.time);
    if life.ended() || life == StateWord::HandedBack {
        let why = say!("{number} is {state}: nothing is asked of it any more", number, state = life.word());
        let runs = known.state.sets.get(&permit.set.id).is_some_and(crate::permit::state::SetState::running);
        let instead = if runs {
            say!(
                "`airwrit show {number}` shows it; its set still runs: to shut it down, `airwrit open --shutdown` \
                 opens a permit for that alone",
                number
            )
        } else {
            say!("`airwrit show {number}` shows it", number)
        };
        return Err(Refusal::because(why).instead(instead).into());
    }
    if shutdown {
        let on = known.perhaps_on_air_from(&permit.set.id);
        let why: Vec<String> = on
            .map(|p| {
                say!(
                    "{name} is on air from this set ({whereabouts})",
                    name = p.person,
                    whereabouts = p.whereabouts.words()
                )
            })
            .collect();
        crate::permit::decide::unless(
            why,
            say!("see everyone off air first: `airwrit off PERSON` for each; then shut down"),
        )?;
    }
    let stands = walk::walk(&bench);
    let by = by.map_or_else(|| texts.job.text("holder").unwrap_or_default().to_owned(), str::to_owned);
    let asked = again.as_ref().and_then(|(step, item)| {
        stands.iter().find(|s| s.step.id() == step && s.item_id() == item.as_deref())
    });
    let next = if shutdown { stands.iter().position(|s| !s.done()) } else { walk::next(&stands) };
    let own = asked.or(next.and_then(|i| stands.get(i))).is_some_and(Stand::of_wearer);
    let (left, all) = left_of(&stands, own);
    let running = answer::running(known, &permit.set.id);
    let stages = bench.form.stages();
    let head = |s: Option<&Stand<'_>>| match s {
        Some(s) => {
            let n = stages.iter().position(|st| st.id() == s.stage.id()).unwrap_or(0) + 1;
            say!(
                "{number}  {state}   stage {n} of {stages}: {title}   {left} left",
                number,
                state = life.word().to_uppercase(),
                n,
                stages = stages.len(),
                title = s.stage.title().get(&texts.language),
                left
            )
        }
        None => say!("{number}  {state}   {left} left", number, state = life.word().to_uppercase(), left),
    };
    let (earlier, earlier_words) = earlier(&stands);
    if let Some(stand) = asked {
        let mut screen = screen(&bench, stand, head(Some(stand)), by, shutdown);
        screen.parts.place(&bench, stand, &stands);
        screen.lines.extend(stand.answers.last().map(|a| {
            let value = a.left_out.as_deref().or(a.value.as_deref()).unwrap_or_default().to_owned();
            let choice = stand.step.choices().iter().find(|(id, _)| *id == value);
            let value = choice.map_or(value.clone(), |(_, w)| w.get(&texts.language).to_owned());
            let unit = a.unit.as_ref().map(|u| format!(" {u}")).unwrap_or_default();
            let at = crate::time::clock(&a.stamp.time, &a.stamp.zone);
            format!(
                "  {}",
                say!(
                    "answered at {at}: {below}{value}{unit}",
                    at,
                    below = if a.below { "< " } else { "" },
                    value,
                    unit
                )
            )
        }));
        (screen.earlier, screen.earlier_words) = (earlier, earlier_words);
        return Ok(Now::Ask(Box::new(screen)));
    }
    let bare = |kind: Kind, lines: Vec<String>, prompt: &str| {
        let parts = Parts { left, all, own, beside: lines.clone(), ..Parts::default() };
        Now::Ask(Box::new(Screen {
            head: head(None),
            parts,
            lines,
            why: Vec::new(),
            hold: Vec::new(),
            prompt: prompt.to_owned(),
            typed: Typed { step: permit.set.id.clone(), by: by.clone(), ..Typed::default() },
            choices: Vec::new(),
            kind,
            answered: false,
            may_leave_out: false,
            may_deviate: false,
            earlier: earlier.clone(),
            earlier_words: earlier_words.clone(),
            carry: Vec::new(),
        }))
    };
    if !shutdown && !running && walk::before_start(&stands).is_empty() && walk::next(&stands).is_some() {
        let lines = vec![
            say!("Everything that comes before the start is done.").into(),
            say!("Start the set now. Nobody is connected.").into(),
        ];
        return Ok(bare(Kind::Start, lines, &say!("type {started} when it runs", started = "started")));
    }
    let Some(stand) = next.and_then(|i| stands.get(i)) else {
        return Ok(Now::Over(over(number, shutdown, life, &by)));
    };
    if !shutdown && stand.of_wearer() && life == StateWord::Draft && walk::before_declare(&stands).is_empty()
    {
        return Ok(Now::Over(vec![
            say!(
                "everything before declaring is done: `airwrit declare {number} --by {by} --key FILE`",
                number,
                by
            ),
            say!(
                "the wearers' own steps are left; take them before each one's first time on air: `airwrit walk {number}`",
                number
            ),
        ]));
    }
    if shutdown && running && stand.stage.id() == walk::STOP {
        let lines = vec![
            say!("Everything that comes before the stop is done.").into(),
            say!("Stop the set now.").into(),
        ];
        return Ok(bare(Kind::Stop, lines, &say!("type {stopped} when it has stopped", stopped = "stopped")));
    }
    let mut screen = screen(&bench, stand, head(Some(stand)), by, shutdown);
    screen.parts.place(&bench, stand, &stands);
    (screen.earlier, screen.earlier_words) = (earlier, earlier_words);
    Ok(Now::Ask(Box::new(screen)))
}

/// What comes after the last step.
fn over(number: &str, shutdown: bool, life: StateWord, by: &str) -> Vec<String> {
    let done = match (shutdown, life) {
        (true, _) => {
            say!("every step is done: `airwrit hand-back {number} --by {by} --key FILE`", number, by)
        }
        (false, StateWord::Draft) => {
            say!("every step is done: `airwrit declare {number} --by {by} --key FILE`", number, by)
        }
        // Live alone puts nobody on air: what is overdue holds them all the same.
        (false, StateWord::Live) => {
            say!("every step is done: who may go on air now stands on the board").into()
        }
        (
            false,
            StateWord::Declared
            | StateWord::Suspended
            | StateWord::HandedBack
            | StateWord::Closed
            | StateWord::Refused
            | StateWord::Cancelled
            | StateWord::Lapsed,
        ) => say!("every step is done; {number} is {state}", number, state = life.word()),
    };
    vec![done]
}

/// Steps that were answered, the one answered last at the end.
fn earlier(stands: &[Stand<'_>]) -> (Vec<(String, Option<String>)>, Vec<String>) {
    let mut answered: Vec<(u64, &Stand<'_>)> = stands
        .iter()
        .filter(|s| !matches!(s.step.kind(), StepKind::Derived(_)) && s.standing != Standing::NotApplicable)
        .filter_map(|s| s.answers.last().map(|a| (a.stamp.seq, s)))
        .collect();
    answered.sort_by_key(|(seq, _)| *seq);
    let ids =
        answered.iter().map(|(_, s)| (s.step.id().to_owned(), s.item_id().map(str::to_owned))).collect();
    let mut words = vec![say!("b goes to the step answered last; or type b and one of:").to_owned()];
    words.extend(answered.iter().map(|(_, s)| match s.item_id() {
        Some(i) => format!("  {} {i}", s.step.id()),
        None => format!("  {}", s.step.id()),
    }));
    if answered.is_empty() {
        words = vec![say!("no step was answered yet").into()];
    }
    (ids, words)
}

fn screen(bench: &Bench<'_>, stand: &Stand<'_>, head: String, by: String, shutdown: bool) -> Screen {
    let step = stand.step;
    let item = stand.item.as_ref();
    let words = |t: Option<&crate::words::Template>| t.map(|t| bench.words(t, item));
    let mut lines = Vec::new();
    if step.critical() {
        lines.push(say!("LIFE-CRITICAL").to_owned());
    }
    lines.push(bench.words(step.ask(), item));
    let mut parts =
        Parts { ask: bench.words(step.ask(), item), critical: step.critical(), ..Parts::default() };
    let mut choices = Vec::new();
    let begun = stand.answers.last().filter(|a| a.value.as_deref() == Some("begun"));
    let (kind, prompt) = match step.kind() {
        StepKind::Confirm => {
            parts.beside = bench.rests_on(step, item);
            lines.extend(parts.beside.iter().map(|t| format!("  {}", say!("it says: {t}", t))));
            (Kind::YesNo, say!("{yes} or {no}", yes = "yes", no = "no"))
        }
        StepKind::Choice(offered) => {
            for (i, (id, w)) in offered.iter().enumerate() {
                lines.push(format!("  {}  {}", i + 1, w.get(&bench.texts.language)));
                choices.push(id.clone());
                parts.offered.push((id.clone(), w.get(&bench.texts.language).to_owned()));
            }
            (Kind::Choice, say!("number of the choice").to_owned())
        }
        StepKind::Reading(i) => {
            let unit = i.unit().map_or(say!("a number").to_owned(), |u| say!("in {unit}", unit = u.symbol()));
            parts.unit = i.unit().map_or_else(String::new, |u| u.symbol().to_owned());
            parts.decimals = i.decimals();
            parts.below = step.below();
            let below = if step.below() { say!(", or < and the lowest mark") } else { "" };
            (Kind::Number, format!("{unit}{below}"))
        }
        StepKind::Date => (Kind::Date, say!("a date like 2026-11-25").to_owned()),
        StepKind::Text => (Kind::Words, say!("in words").to_owned()),
        StepKind::Derived(_) => match bench.derive(step, item) {
            Ok((_, shown)) => {
                parts.beside.push(shown.clone());
                lines.push(format!("  {}", say!("worked out: {shown}", shown)));
                let from = bench.rests_on(step, item);
                if !from.is_empty() {
                    lines.push(format!("  {}", say!("from: {values}", values = from.join("; "))));
                    parts.beside.extend(from);
                }
                (Kind::WorkedOut, say!("Enter to keep it").to_owned())
            }
            Err(why) => {
                lines.push(say!("IT CANNOT BE WORKED OUT: {why}", why));
                parts.beside.extend(lines.last().cloned());
                parts.stuck = true;
                lines.extend(words(step.because()).map(|t| format!("  {}", say!("why: {why}", why = t))));
                lines.extend(words(step.fix()).map(|t| format!("  {}", say!("do: {what}", what = t))));
                lines.push(format!("  {}", say!("to answer again what it rests on: b and the step's name")));
                (Kind::WorkedOut, say!("Enter to look again").to_owned())
            }
        },
        StepKind::Timed(limit) => match begun {
            Some(b) => {
                let since = crate::time::clock(&b.stamp.time, &b.stamp.zone);
                let begun = match limit.compute(&bench.asker(step, item)) {
                    Ok(Value::Quantity(q)) => {
                        let lasts = q.value.ceil().to_integer().to_string().parse().ok();
                        parts.wait = lasts.map(|l: i64| (crate::time::seconds(&b.stamp.time), l));
                        let wanted = q.words(None, crate::units::Rounding::Up);
                        say!("begun at {since}, wanted {wanted}", since, wanted)
                    }
                    Ok(_) | Err(_) => say!("begun at {since}", since),
                };
                lines.push(format!("  {begun}"));
                parts.beside.push(begun);
                (Kind::Done, say!("type {done} when it is over", done = "done"))
            }
            None => (Kind::Begin, say!("type {begun} when it begins", begun = "begun")),
        },
    };
    let mut why = Vec::new();
    let because = crate::show::because(bench, stand);
    if !because.is_empty() {
        why.push(say!("why: {why}", why = because));
    }
    why.extend(words(step.how()).filter(|t| !t.is_empty()).map(|t| say!("how: {how}", how = t)));
    let wanted = crate::show::wanted(bench, stand);
    if !wanted.is_empty() {
        why.push(say!("wanted: {wanted}", wanted));
    }
    why.extend(step.source().map(|s| say!("source: {source}", source = s.get(&bench.texts.language))));
    let mut hold = Vec::new();
    if stand.standing == Standing::Hold {
        hold.push(say!("HOLD: nothing that needs this goes on.").to_owned());
        hold.extend(crate::show::why(bench, stand).iter().map(|w| format!("  {w}")));
        hold.extend(words(step.because()).map(|t| format!("  {}", say!("why: {why}", why = t))));
        hold.extend(words(step.fix()).map(|t| format!("  {}", say!("do: {what}", what = t))));
        if kind == Kind::WorkedOut {
            hold.push(format!(
                "  {}",
                say!("to answer again what it rests on: b and the step's name, like b reserve_again")
            ));
        }
    } else if !stand.answers.is_empty() && stand.standing == Standing::Waiting && kind != Kind::Done {
        hold.extend(stand.why.iter().map(|w| format!("  {w}")));
    }
    parts.holds = stand.standing == Standing::Hold;
    let waits = !stand.answers.is_empty() && stand.standing == Standing::Waiting && kind != Kind::Done;
    if parts.holds || waits {
        parts.why = crate::show::why(bench, stand);
    }
    if parts.holds || parts.stuck {
        parts.fix = words(step.fix()).unwrap_or_default();
        parts.because = words(step.because()).unwrap_or_default();
    } else {
        parts.because = crate::show::because(bench, stand);
    }
    parts.how = words(step.how()).unwrap_or_default();
    parts.wanted = crate::show::wanted(bench, stand);
    Screen {
        head,
        parts,
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
        answered: answer::since(bench, stand) == answer::Since::Asked,
        may_leave_out: step.may_leave_out(),
        may_deviate: step.deviation() && stand.standing == Standing::Hold,
        earlier: Vec::new(),
        earlier_words: Vec::new(),
        carry: Vec::new(),
    }
}

/// How many are left, of how many: each wearer's own steps, which come before their first time on air, or all others.
fn left_of(stands: &[Stand<'_>], own: bool) -> (usize, usize) {
    let of_these = || stands.iter().filter(|s| s.of_wearer() == own);
    (of_these().filter(|s| !s.done()).count(), of_these().count())
}

impl Parts {
    /// Where in the form this step stands.
    fn place(&mut self, bench: &Bench<'_>, stand: &Stand<'_>, stands: &[Stand<'_>]) {
        let stages = bench.form.stages();
        self.stage = stages.iter().position(|s| s.id() == stand.stage.id()).unwrap_or(0) + 1;
        self.stages = stages.len();
        self.title = stand.stage.title().get(&bench.texts.language).to_owned();
        self.own = stand.of_wearer();
        (self.left, self.all) = left_of(stands, self.own);
        self.last = stand.answers.last().map_or(0, |a| a.stamp.seq);
    }
}

impl Screen {
    /// What is typed as an answer, or what is wanted instead.
    pub fn value(&self, text: &str) -> Result<Option<String>, String> {
        let lower = text.to_lowercase();
        let got = || crate::text::quoted(text, 40);
        let word = |wanted: &str| {
            if lower == wanted {
                Ok(Some(lower.clone()))
            } else {
                Err(say!("got {got}, wanted {wanted}, or q to stop", got = got(), wanted))
            }
        };
        match self.kind {
            Kind::WorkedOut if text.is_empty() => Ok(None),
            Kind::WorkedOut => Err(say!("got {got}: this value is worked out; Enter keeps it", got = got())),
            Kind::Begin => word("begun"),
            Kind::Done => word("done"),
            Kind::Start => word("started"),
            Kind::Stop => word("stopped"),
            Kind::YesNo => match lower.as_str() {
                "yes" | "y" => Ok(Some("yes".into())),
                "no" | "n" => Ok(Some("no".into())),
                _ => Err(say!("got {got}, wanted {yes} or {no}", got = got(), yes = "yes", no = "no")),
            },
            Kind::Choice => {
                let chosen = text.parse::<usize>().ok().and_then(|n| self.choices.get(n.checked_sub(1)?));
                match chosen.or_else(|| self.choices.iter().find(|c| **c == lower)) {
                    Some(id) => Ok(Some(id.clone())),
                    None => Err(say!(
                        "got {got}, wanted a number from 1 to {most}",
                        got = got(),
                        most = self.choices.len()
                    )),
                }
            }
            Kind::Number | Kind::Date | Kind::Words if text.is_empty() => {
                Err(say!("nothing was typed; wanted {wanted}", wanted = self.prompt))
            }
            Kind::Number | Kind::Date | Kind::Words => Ok(Some(text.to_owned())),
        }
    }
}
