//! Answering a step: the value is checked against the step, then kept whatever the gate says of it.
//! A shut gate is a finding, recorded; only what is no answer to the step is refused.

use super::{Known, Refusal, in_states, unless};
use crate::checklist::{Before, GoodForScope, Purpose, StepKind};
use crate::gate::Verdict;
use crate::permit::bench::{Bench, Given, Texts};
use crate::permit::ends;
use crate::permit::state::{Answer, Permit, Stamp};
use crate::permit::walk::{self, STOP, Stand};
use crate::record::json::{Json, SmolStr, object, sorted};
use crate::record::kinds::AGAIN;
use crate::record::line::Draft;
use crate::tongue::say;
use crate::units::{Decimal, Quantity};
use crate::view::{LineNo, Standing, StateWord};
use jiff::civil::Date;
use num_traits::ToPrimitive;

/// What is typed.
#[derive(Clone, Debug, Default)]
pub struct Typed {
    /// Step.
    pub step: String,
    /// Item of `each`, by id or name.
    pub item: Option<String>,
    /// Value; none for a derived step and for leaving out.
    pub value: Option<String>,
    /// Below the instrument's lowest mark, which is `value`.
    pub below: bool,
    /// Leave the item out, for this reason.
    pub left_out: Option<String>,
    /// What was done since the last answer.
    pub again: Option<String>,
    /// Leave the held answer as it is: why, and what is done instead.
    pub deviation: Option<(String, String)>,
    /// Words beside it.
    pub words: Option<String>,
    /// Answer the shutdown form.
    pub shutdown: bool,
    /// Who answers.
    pub by: String,
    /// When it really was, UTC, where that is not now.
    pub at: Option<String>,
    /// Who told it.
    pub told_by: Option<String>,
}

/// The form that is answered.
pub fn bench<'a>(
    known: &Known<'a>,
    permit: &'a Permit,
    texts: &'a Texts,
    shutdown: bool,
) -> Result<Bench<'a>, Refusal> {
    if !shutdown && !permit.for_shutdown {
        return Ok(known.bench(permit, texts));
    }
    let own = Bench::new(known.state, permit, texts, known.now);
    own.shutdown().map(|b| known.recalled(b)).ok_or_else(|| {
        Refusal::because(say!("no shutdown form is in force in this register"))
            .instead(say!("an approver puts one in force: `airwrit approve checklists/shutdown.yaml`"))
    })
}

/// Decides an answer.
pub fn answer(known: &Known<'_>, permit: &Permit, texts: &Texts, typed: &Typed) -> Result<Draft, Refusal> {
    known.clock()?;
    let bench = bench(known, permit, texts, typed.shutdown)?;
    answer_among(known, &bench, typed, &|| walk::walk(&bench))
}

/// Decides an answer on a bench. `walked` gives the step's own standings, for each item, and before them, in the form's
/// order, at least every standing that is not done.
pub fn answer_among<'a>(
    known: &Known<'_>,
    bench: &Bench<'a>,
    typed: &Typed,
    walked: &dyn Fn() -> Vec<Stand<'a>>,
) -> Result<Draft, Refusal> {
    known.clock()?;
    let (permit, texts) = (bench.permit, bench.texts);
    let life = known.life(permit);
    in_states(
        known,
        permit,
        say!("nothing can be answered"),
        &[StateWord::Draft, StateWord::Declared, StateWord::Live, StateWord::Suspended],
    )?;
    let Some((_, step)) = bench.form.step(&typed.step) else {
        let near = crate::text::nearest(&typed.step, bench.form.steps().map(|(_, s)| s.id()));
        return Err(Refusal::because(say!(
            "the form has no step `{step}`",
            step = crate::text::safe_line(&typed.step)
        ))
        .instead(match near {
            Some(n) => say!("did you mean `{step}`?", step = n),
            None => say!("`airwrit show {permit}` lists the steps", permit = permit.number),
        }));
    };
    let walk = walked();
    let stand = find(&walk, step.id(), typed.item.as_deref())?;
    let shutdown = bench.form.purpose() == Purpose::Shutdown;
    if shutdown {
        let on: Vec<String> = known.perhaps_on_air_from(&permit.set.id).map(|p| p.person.clone()).collect();
        unless(
            on.iter().map(|p| say!("{person} is on air from this set", person = p)).collect(),
            say!("see everyone off air first: `airwrit off PERSON` for each; then shut down"),
        )?;
        let stop = bench.form.steps().position(|(stage, _)| stage.id() == STOP);
        let here = bench.form.steps().position(|(_, s)| s.id() == step.id());
        if stop.is_some() && here >= stop && running(known, &permit.set.id) {
            return Err(Refusal::because(say!("the register says the set is running"))
                .instead(say!("stop it and record that: `airwrit set stopped {set}`", set = permit.set.id)));
        }
    } else {
        // What time ended, or ends soon, is asked again on a live permit; how it comes out shuts or opens the way in.
        let ran_out = life == StateWord::Live && ends_soon(bench, stand);
        // What is worked out nobody judges: where it comes out otherwise now, as with another permit on this air, it is
        // worked out again.
        let otherwise = matches!(step.kind(), StepKind::Derived(_)) && stand.standing != Standing::Open;
        // What an event ended is answered again before the permit is reinstated, and so is what holds since.
        let ended =
            life == StateWord::Suspended && matches!(stand.standing, Standing::Waiting | Standing::Hold);
        // An answer that was given on the live permit and holds was signed by nobody.
        let issued = permit.last_signed("countersign").map_or(0, |s| s.stamp.seq);
        let since = stand.answers.last().is_some_and(|a| a.here_since() > issued);
        let mends = life == StateWord::Live && stand.standing == Standing::Hold && since;
        let stands = matches!(life, StateWord::Live | StateWord::Suspended)
            && !ran_out
            && !otherwise
            && !ended
            && !mends;
        // What turned bad is never kept out of the record: nobody goes on by it, and what is of life stops the work.
        let signed = stands && !stand.of_wearer() && step.before() != Before::Air;
        if signed && !turns_bad(bench, stand, typed) {
            return Err(Refusal::because(say!(
                "{permit} is {state}: what was countersigned stands",
                permit = permit.number,
                state = life.word()
            ))
            .instead(say!(
                "a reading of the running set: `airwrit reading`; if something else has changed, suspend and hand back, then \
                 open a new permit"
            )));
        }
        let needs_start =
            step.before() != Before::Start && step.good_for().iter().any(|g| g.scope == GoodForScope::Start);
        if needs_start && !running(known, &permit.set.id) {
            return Err(Refusal::because(say!(
                "this is judged on the running set, and no start is recorded"
            ))
            .instead(say!(
                "start the set and record that: `airwrit set started {set}`",
                set = permit.set.id
            )));
        }
    }
    match stand.standing {
        Standing::NotApplicable => {
            return Err(Refusal::because(say!(
                "this step does not apply: {why}",
                why = stand.why.join("; ")
            )));
        }
        Standing::OutOfService if stand.answers.last().is_none_or(|a| a.left_out.is_none()) => {
            return Err(Refusal::because(say!(
                "{label} is out of service: {why}",
                label = stand.label(),
                why = stand.why.join("; ")
            ))
            .instead(say!("answer the step at which it was left out, to take it back")));
        }
        Standing::Open
        | Standing::Deviation
        | Standing::Hold
        | Standing::Waiting
        | Standing::OutOfService => {}
    }
    let held = walk::held_by(bench, &walk, stand);
    unless(
        held.iter().map(|h| say!("{step} comes first", step = h)).collect(),
        say!("take the steps in order: `airwrit walk` shows the next one"),
    )?;
    let mut members = vec![
        ("form".to_owned(), Json::from(bench.form.sha256())),
        ("shown".to_owned(), step.ask().words().shown_in(&texts.language).into()),
        ("step".to_owned(), step.id().into()),
    ];
    if let Some(item) = stand.item_id() {
        members.push(("item".into(), item.into()));
    }
    match (&typed.left_out, &typed.deviation) {
        (_, Some((why, instead))) => {
            let left = deviation(bench, stand, typed, (why, instead), life)?;
            members.push(("deviation".into(), left));
            return Ok(known.line(permit, "answer", &typed.by, sorted(members)));
        }
        (Some(reason), None) => {
            if !step.may_leave_out() {
                return Err(Refusal::because(say!("this step allows nothing to be left out")));
            }
            members.push(("left_out".into(), clean(reason)?.into()));
        }
        (None, None) => members.extend(value(bench, stand, typed)?),
    }
    let rests_on = bench.lines_asked(step);
    if !rests_on.is_empty() {
        members.push(("rests_on".into(), Json::Arr(rests_on.into_iter().map(Json::from).collect())));
    }
    members.extend(again(bench, stand, typed)?);
    for (name, text) in [("words", &typed.words), ("told_by", &typed.told_by)] {
        if let Some(t) = text {
            members.push((name.into(), clean(t)?.into()));
        }
    }
    members.extend(typed.at.iter().map(|at| ("at".to_owned(), at.as_str().into())));
    Ok(known.line(permit, "answer", &typed.by, sorted(members)))
}

/// Whether a step that is open would hold with what is typed.
fn turns_bad(bench: &Bench<'_>, stand: &Stand<'_>, typed: &Typed) -> bool {
    if stand.standing != Standing::Open || typed.left_out.is_some() || typed.deviation.is_some() {
        return false;
    }
    let Ok(members) = value(bench, stand, typed) else { return false };
    let data = sorted(members);
    let text = |name: &str| data.text(name).map(str::to_owned);
    let mut after = bench.permit.clone();
    let stamp = Stamp {
        seq: bench.state.count(),
        line: LineNo { volume: 0, line: 0 },
        hash: SmolStr::default(),
        time: bench.now.time.as_str().into(),
        zone: bench.now.zone.as_str().into(),
        by: SmolStr::default(),
    };
    after.answers.push(Answer {
        unit: text("unit").map(Into::into),
        below: data.has("below"),
        ..Answer::tried(stamp, bench.form.sha256(), stand.step.id(), stand.item_id(), text("value"))
    });
    let then = Bench::new(bench.state, &after, bench.texts, bench.now);
    walk::of_step(&then, stand.step.id())
        .iter()
        .any(|s| s.item_id() == stand.item_id() && s.standing == Standing::Hold)
}

/// Whether time, or another shift, has ended the answer of a step, or ends it soon.
pub fn ends_soon(bench: &Bench<'_>, stand: &Stand<'_>) -> bool {
    let Some(last) = stand.answers.last() else { return false };
    let soon = bench.now.seconds() + ends::SOON;
    let by_time = ends::of(stand.step, last, bench.permit, bench.texts).is_some_and(|e| e.second <= soon);
    let handed_over = bench.permit.shifts.last().is_some_and(|s| s.seq > last.stamp.seq)
        && stand.step.good_for().iter().any(|g| g.scope == GoodForScope::Shift);
    by_time || handed_over
}

/// Whether the last start of a set was not followed by a stop.
pub fn running(known: &Known<'_>, set: &str) -> bool {
    known.state.sets.get(set).is_some_and(crate::permit::state::SetState::running)
}

fn find<'s, 'a>(walk: &'s [Stand<'a>], step: &str, item: Option<&str>) -> Result<&'s Stand<'a>, Refusal> {
    let of_step: Vec<&Stand<'a>> = walk.iter().filter(|s| s.step.id() == step).collect();
    let items = || of_step.iter().filter_map(|s| s.item_id()).collect::<Vec<_>>().join(", ");
    match (item, of_step.first()) {
        (None, Some(s)) if s.item.is_none() => Ok(s),
        (Some(_), Some(s)) if s.item.is_none() => {
            Err(Refusal::because(say!("`{step}` is asked once, not for each of something", step))
                .instead(say!("leave the item out")))
        }
        (None, Some(_)) => {
            Err(Refusal::because(say!("`{step}` is asked for each of: {items}", step, items = items()))
                .instead(say!("say which with --item")))
        }
        (Some(name), _) => of_step
            .iter()
            .find(|s| s.item.as_ref().is_some_and(|i| i.id == name || i.name == name))
            .copied()
            .ok_or_else(|| {
                Refusal::because(say!(
                    "`{step}` is not asked for `{item}`",
                    step,
                    item = crate::text::safe_line(name)
                ))
                .instead(say!("it is asked for: {items}", items = items()))
            }),
        (None, None) => Err(Refusal::because(say!("`{step}` is asked for nothing here", step))),
    }
}

/// Text a person typed, as it may stand in the record: one line, NFC.
pub fn clean(text: &str) -> Result<String, Refusal> {
    let t = crate::text::nfc(text.trim()).into_owned();
    if t.is_empty() {
        return Err(Refusal::because(say!("nothing was written")).instead(say!("write a few words")));
    }
    if t.len() > 2000 {
        return Err(Refusal::because(say!(
            "the text is {bytes} bytes long, at most 2000 are kept",
            bytes = t.len()
        )));
    }
    match t.chars().find(|c| crate::text::forbidden_in_line(*c)) {
        Some(c) => Err(Refusal::because(say!(
            "the text holds the character {character}, which no record may hold",
            character = crate::text::code_point(c)
        ))),
        None => Ok(t),
    }
}

fn value(bench: &Bench<'_>, stand: &Stand<'_>, typed: &Typed) -> Result<Vec<(String, Json)>, Refusal> {
    let step = stand.step;
    let keep = |text: &str| Ok(vec![("value".to_owned(), Json::from(text))]);
    let given = typed.value.as_deref().map(str::trim);
    if typed.below && !(step.below() && matches!(step.kind(), StepKind::Reading(_))) {
        return Err(Refusal::because(say!("this step takes no reading below the instrument's lowest mark")));
    }
    if let StepKind::Derived(_) = step.kind() {
        if given.is_some() {
            return Err(Refusal::because(say!("this step is worked out; nobody types its value"))
                .instead(say!("give no value")));
        }
        let (text, _) = bench
            .derive(step, stand.item.as_ref())
            .map_err(|why| Refusal::because(say!("it cannot be worked out yet: {why}", why)))?;
        return keep(&text);
    }
    let Some(given) = given.filter(|g| !g.is_empty()) else {
        return Err(Refusal::because(say!("no answer was given")));
    };
    match step.kind() {
        StepKind::Confirm => match given {
            "yes" | "no" => keep(given),
            _ => Err(Refusal::because(say!(
                "got `{got}`, wanted yes or no",
                got = crate::text::safe_line(given)
            ))),
        },
        StepKind::Choice(choices) => match choices.iter().find(|(id, _)| id == given) {
            Some((id, _)) => keep(id),
            None => {
                let all: Vec<&str> = choices.iter().map(|(id, _)| id.as_str()).collect();
                Err(Refusal::because(say!(
                    "got `{got}`, wanted one of: {choices}",
                    got = crate::text::safe_line(given),
                    choices = all.join(", ")
                )))
            }
        },
        StepKind::Date => match given.parse::<Date>() {
            Ok(d) if d.to_string() == given && (1990..=2100).contains(&d.year()) => keep(given),
            _ => Err(Refusal::because(say!(
                "got `{got}`, wanted a date like 2026-11-25",
                got = crate::text::safe_line(given)
            ))),
        },
        StepKind::Text => keep(&clean(given)?),
        StepKind::Timed(_) => timed(bench, stand, given),
        StepKind::Reading(instrument) => {
            let unit = instrument.unit();
            let symbol = unit.map_or("", |u| u.symbol());
            // A unit typed behind the number is taken if it is the step's own; another one is refused,
            // since the gauge in hand shows the step's.
            let number = given.strip_suffix(symbol).unwrap_or(given).trim();
            let decimal = Decimal::read(number).map_err(|e| {
                Refusal::because(e.of_typed(&crate::text::safe_line(given))).instead(if symbol.is_empty() {
                    say!("type the number as the instrument shows it, in figures").to_owned()
                } else {
                    say!("type the number as the instrument shows it, in {unit}", unit = symbol)
                })
            })?;
            decimal.fits(instrument.decimals()).map_err(|e| Refusal::because(e.to_string()))?;
            let quantity = match unit {
                Some(u) => Quantity::new(&decimal, &u),
                None => Quantity::number(decimal.to_exact()),
            };
            for (limit, low) in [(instrument.from(), true), (instrument.to(), false)] {
                let limit = bench.limit(limit, unit, step, stand.item.as_ref()).map_err(|why| {
                    Refusal::because(say!("the instrument's range is not known: {why}", why))
                })?;
                let outside = match quantity.compare(&limit) {
                    Some(order) => {
                        if low {
                            order.is_lt()
                        } else {
                            order.is_gt()
                        }
                    }
                    None => true,
                };
                if outside {
                    let limit = limit.words(unit, crate::units::Rounding::Nearest);
                    return Err(Refusal::because(if low {
                        say!("got {given}, which is below what this instrument shows, {limit}", given, limit)
                    } else {
                        say!("got {given}, which is above what this instrument shows, {limit}", given, limit)
                    })
                    .instead(say!("read it again; if it is right, another instrument is needed")));
                }
            }
            let mut members = keep(&decimal.to_string())?;
            if !symbol.is_empty() {
                members.push(("unit".into(), symbol.into()));
            }
            if typed.below {
                members.push(("below".into(), Json::Bool(true)));
            }
            Ok(members)
        }
        StepKind::Derived(_) => keep(given),
    }
}

fn min_and_s(seconds: i64) -> String {
    say!("{min} min {s} s", min = seconds / 60, s = seconds % 60)
}

fn timed(bench: &Bench<'_>, stand: &Stand<'_>, given: &str) -> Result<Vec<(String, Json)>, Refusal> {
    let begun = stand.answers.last().filter(|a| a.value.as_deref() == Some("begun"));
    match (given, begun) {
        ("begun", _) => {}
        ("done", Some(b)) => {
            let waited = bench.now.seconds() - crate::time::seconds(&b.stamp.time);
            if let StepKind::Timed(limit) = stand.step.kind()
                && let Ok(crate::gate::Value::Quantity(wanted)) =
                    limit.compute(&bench.asker(stand.step, stand.item.as_ref()))
            {
                let have = Quantity {
                    value: num_rational::BigRational::from_integer(waited.into()),
                    dimension: wanted.dimension,
                };
                if have.compare(&wanted).is_none_or(std::cmp::Ordering::is_lt) {
                    let whole = wanted.value.ceil().to_integer().to_i64().unwrap_or(i64::MAX);
                    return Err(Refusal::because(say!(
                        "{waited} have passed, wanted {wanted}",
                        waited = min_and_s(waited),
                        wanted = min_and_s(whole)
                    ))
                    .instead(say!("wait, then answer `done`")));
                }
            }
        }
        ("done", None) => {
            return Err(
                Refusal::because(say!("it was not begun")).instead(say!("answer `begun` when it begins"))
            );
        }
        _ => {
            return Err(Refusal::because(say!(
                "got `{got}`, wanted begun or done",
                got = crate::text::safe_line(given)
            )));
        }
    }
    Ok(vec![("value".into(), given.into())])
}

/// What must be said when a step is answered again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Since {
    /// It is the first answer, or the end of a wait.
    Nothing,
    /// The program asked again and knows why; it writes so itself.
    AskedAgain,
    /// Whoever answers says what was done.
    Asked,
}

/// Answering again after an answer that still counts, or that held, says what was done.
pub fn since(bench: &Bench<'_>, stand: &Stand<'_>) -> Since {
    let Some(last) = stand.answers.last() else { return Since::Nothing };
    match stand.step.kind() {
        StepKind::Timed(_) if last.value.as_deref() == Some("begun") => Since::AskedAgain,
        StepKind::Derived(_) | StepKind::Timed(_) => Since::AskedAgain,
        StepKind::Confirm | StepKind::Choice(_) | StepKind::Reading(_) | StepKind::Date | StepKind::Text => {
            let counts =
                !stand.aged && !matches!(bench.given(stand.step, stand.item_id()), Given::Nothing(_));
            let held = || {
                let verdict = walk::judge_answer(bench, stand.step, stand.item.as_ref(), last);
                last.left_out.is_none() && matches!(verdict, Verdict::Shut(_))
            };
            if counts || held() { Since::Asked } else { Since::AskedAgain }
        }
    }
}

fn again(bench: &Bench<'_>, stand: &Stand<'_>, typed: &Typed) -> Result<Option<(String, Json)>, Refusal> {
    let over = typed.value.as_deref().map(str::trim) == Some("done")
        && stand.answers.last().is_some_and(|a| a.value.as_deref() == Some("begun"));
    match (&typed.again, since(bench, stand)) {
        (Some(word), _) if AGAIN.contains(&word.as_str()) => Ok(Some(("again".into(), word.as_str().into()))),
        (Some(word), _) => Err(Refusal::because(say!(
            "got `{got}`, wanted one of: {words}",
            got = crate::text::safe_line(word),
            words = AGAIN.join(", ")
        ))),
        (None, Since::Asked) => Err(Refusal::because(say!("this step was answered before"))
            .instead(say!("say what was done since with --again: {words}", words = AGAIN.join(", ")))),
        (None, Since::AskedAgain) if !over => Ok(Some(("again".into(), "asked_again".into()))),
        (None, Since::AskedAgain | Since::Nothing) => Ok(None),
    }
}

/// What is written of a deviation: the answer stays as it is, something else is done instead.
fn deviation(
    bench: &Bench<'_>,
    stand: &Stand<'_>,
    typed: &Typed,
    (reason, instead): (&str, &str),
    life: StateWord,
) -> Result<Json, Refusal> {
    let label = stand.label();
    if typed.value.is_some() || typed.left_out.is_some() || typed.again.is_some() || typed.below {
        return Err(Refusal::because(say!("a deviation leaves the last answer as it is"))
            .instead(say!("answer first, and leave it as a deviation afterwards, without a value")));
    }
    if !stand.step.deviation() {
        return Err(Refusal::because(say!("the form allows no deviation from {label}", label))
            .instead(say!("mend what holds it, then answer again")));
    }
    if !matches!(life, StateWord::Draft | StateWord::Declared) {
        return Err(Refusal::because(say!(
            "{permit} is {state}: nobody would countersign a deviation left now",
            permit = bench.permit.number,
            state = life.word()
        ))
        .instead(say!("suspend and hand back, then open a new permit, if this has changed")));
    }
    match (stand.standing, walk::judge(bench, stand.step, stand.item.as_ref())) {
        (Standing::Hold, Verdict::Shut(_)) => {}
        (Standing::Hold, Verdict::Unknown(why)) => {
            return Err(Refusal::because(say!("{label} is not known: {why}", label, why = why.join("; ")))
                .instead(say!("answer it; what nobody knows is no deviation from anything")));
        }
        (Standing::Deviation, _) => {
            return Err(Refusal::because(say!("{label} is left as a deviation already", label))
                .instead(say!("answer the step again to change that")));
        }
        (_, _) => {
            return Err(Refusal::because(say!(
                "{label} does not hold: there is nothing to deviate from",
                label
            )));
        }
    }
    Ok(object([("instead", clean(instead)?.into()), ("reason", clean(reason)?.into())]))
}
