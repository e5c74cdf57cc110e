//! The walk: one step filling the screen. Every answer is kept at once; a form that was sent twice is answered with what is
//! there.

use crate::actions::Trouble;
use crate::checklist::{Step, StepKind};
use crate::cli::End;
use crate::cli::args::Command;
use crate::cli::args::shift::Carry;
use crate::cli::gauges::after_an_answer;
use crate::cli::screen::{Kind, Now, Screen, now};
use crate::cli::shift::carried_in_words;
use crate::cli::station::{after, kept_in_words};
use crate::gate::Verdict;
use crate::page::app::{App, Posted};
use crate::page::blind::Blind;
use crate::page::form::{Form, encoded};
use crate::page::hand::{Hand, Told};
use crate::page::job;
use crate::page::once::once;
use crate::permit::bench::Bench;
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::sign::disagreements;
use crate::permit::decide::{Known, Refusal, air, carry as carrying, crew};
use crate::permit::state::{Answer, Permit};
use crate::permit::walk::{self, Stand};
use crate::record::json::Json;
use crate::record::kinds::AGAIN;
use crate::tongue::{say, say_n};
use crate::view::{Standing, StateWord, recorded};
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::collections::BTreeMap;
use std::sync::Arc;
use zeroize::Zeroizing;

/// The walk; of the step that is asked for, where one is.
fn address(number: &str, asked: &Form) -> String {
    let one = |n: &str| Some(format!("{n}={}", encoded(&asked.some(n)?)));
    let all: Vec<String> = ["shutdown", "step", "item"].iter().filter_map(|n| one(n)).collect();
    let mark = if all.is_empty() { "" } else { "?" };
    format!("/p/{}/walk{mark}{}", encoded(number), all.join("&"))
}

/// The next step; or one that was answered before.
pub async fn show(State(app): State<Arc<App>>, Path(number): Path<String>, uri: Uri) -> Response {
    let query = super::query(&uri);
    let (told, typed, came) = app.typed_on(&address(&number, &query), &query);
    let came = came.or_else(|| app.notices.of(&told));
    app.screen("walk.html", String::new(), move |hand| shown(hand, &number, &query, (typed, came))).await
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::YesNo => "yes_no",
        Kind::Choice => "choice",
        Kind::Number => "number",
        Kind::Date => "date",
        Kind::Words => "words",
        Kind::WorkedOut => "worked_out",
        Kind::Begin => "begin",
        Kind::Done => "done",
        Kind::Start => "start",
        Kind::Stop => "stop",
    }
}

fn shown(
    hand: &mut Hand,
    number: &str,
    query: &Form,
    (typed, came): (Form, Option<Told>),
) -> Result<Value, End> {
    let shutdown = query.some("shutdown").is_some();
    let again = query.some("step").map(|s| (s, query.some("item")));
    let looked = hand.look()?;
    let known = looked.known();
    let permit = known.permit(number)?;
    let (mark, state) = super::site::stands(&known, permit);
    let head = values! {
        title => say!("{permit}: the next step", permit = number), number => number, mark => mark, state => state, job => other_job(&known, permit), shutdown => shutdown || permit.for_shutdown,
    };
    match now(&known, number, shutdown, None, again.clone())? {
        Now::Over(lines) => {
            let (words, to) = super::site::next(&known, permit);
            let (words, to) = over(&known, permit, shutdown).unwrap_or((words, to));
            // Declared without them, it would only be refused again.
            let disagreed = if shutdown { Vec::new() } else { disagreed(&known, permit) };
            let came = came.map(|told| held_back(&Blind::of(&known, permit), told));
            let head = if came.is_some() {
                values! { told => came, ..head }
            } else {
                head
            };
            Ok(
                values! { over => true, lines => plain(lines), next => words, to => to, disagreed => disagreed, ..head },
            )
        }
        Now::Ask(s) => {
            let texts = known.texts(permit)?;
            let bench = answer::bench(&known, permit, &texts, shutdown)?;
            let stands = walk::walk(&bench);
            let blind = Blind::of(&known, permit);
            let (last, earlier) = (last_kept(&known, number, &stands), earlier(&s, permit, &stands));
            let figures =
                if again.is_none() && blind.is_empty() { figures(&bench, &stands, &s) } else { Vec::new() };
            // Come back to after it was answered otherwise, what was refused then is over.
            let fresh = typed.some("position").is_none_or(|p| p == s.parts.last.to_string());
            let came = came.filter(|_| fresh).map(|told| held_back(&blind, told));
            let typed: BTreeMap<String, String> = typed.pairs().iter().filter(|_| fresh).cloned().collect();
            let head = if came.is_some() {
                values! { told => came, typed => typed, ..head }
            } else {
                head
            };
            let the_job = job::Offers::of(&known, &permit.set.id).told(&job::typed(&permit.job));
            let is_it = |stand: &&Stand<'_>| stand.step.id() == s.typed.step;
            let of_job = stands.iter().find(is_it).is_some_and(|stand| asks_of_job(stand.step));
            Ok(values! {
                of_job => of_job, the_job => the_job, over => false, figures => figures, step => blind.shown(&step(&known, &s, left(&bench, &stands, s.parts.own))), last => blind.words(&last), earlier => earlier, ..head
            })
        }
    }
}

/// Whether a step asks for something that the job says, or holds on it.
fn asks_of_job(step: &Step) -> bool {
    let derived = match step.kind() {
        StepKind::Derived(d) => d.expression().source(),
        StepKind::Confirm
        | StepKind::Choice(_)
        | StepKind::Reading(_)
        | StepKind::Date
        | StepKind::Text
        | StepKind::Timed(_) => "",
    };
    let of_job =
        |name: &str| name.starts_with("job.") || name.starts_with("wearer.") && name != "wearer.name";
    let is_name = |c: char| c.is_ascii_alphanumeric() || "._".contains(c);
    let conditions = [step.gate().map_or("", |g| g.source()), derived];
    let named = conditions.iter().flat_map(|source| source.split(|c| !is_name(c)));
    let asked = step.ask().names().iter().map(String::as_str);
    named.chain(asked).any(of_job)
}

/// Where the job is changed that a step holds on; once it is issued, where another is asked for.
fn other_job(known: &Known<'_>, permit: &Permit) -> (&'static str, String) {
    match known.life(permit) {
        StateWord::Draft | StateWord::Declared => {
            (say!("Change the job"), format!("/p/{}/job", encoded(&permit.number)))
        }
        StateWord::Live
        | StateWord::Suspended
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled
        | StateWord::Lapsed => {
            (say!("Open another like it"), format!("/open?like={}", encoded(&permit.number)))
        }
    }
}

/// What the terminal says of its own commands is left out: the page has keys for them.
fn plain(lines: Vec<String>) -> Vec<String> {
    let bare = |l: &String| {
        l.split('`').next().unwrap_or_default().trim_end_matches([':', ',', ';', ' ']).to_owned()
    };
    lines.iter().map(bare).collect()
}

fn over(
    known: &Known<'_>,
    permit: &crate::permit::state::Permit,
    shutdown: bool,
) -> Option<(String, String)> {
    use crate::view::StateWord as W;
    let n = &permit.number;
    if shutdown || permit.for_shutdown {
        return Some((say!("Hand it back").into(), format!("/p/{n}/sign/hand-back")));
    }
    match known.life(permit) {
        W::Draft => Some((say!("Declare").into(), format!("/p/{n}/sign/declare"))),
        W::Live => Some((say!("The board").into(), "/board".into())),
        W::Suspended => Some((say!("What is left before it goes on").into(), format!("/p/{n}"))),
        W::Declared | W::HandedBack | W::Closed | W::Refused | W::Cancelled | W::Lapsed => None,
    }
}

/// What came of an answer, come back to once its gauge is to be read blind.
fn held_back(blind: &Blind, told: Told) -> Told {
    let all = |lines: Vec<String>| lines.iter().map(|l| blind.words(l)).collect();
    Told { out: all(told.out), err: all(told.err), why: all(told.why), ..told }
}

/// What was kept last on this permit, so that whoever comes back sees that it was.
fn last_kept(known: &Known<'_>, number: &str, stands: &[Stand<'_>]) -> String {
    let Some(permit) = known.state.permits.get(number) else { return String::new() };
    permit.answers.iter().max_by_key(|a| a.stamp.seq).map_or_else(String::new, |a| kept(a, stands))
}

/// An answer that is kept, as its form calls its step and its choice.
fn kept(a: &Answer, stands: &[Stand<'_>]) -> String {
    let stand = stands.iter().find(|s| s.step.id() == a.step && s.item_id() == a.item.as_deref());
    let label = stand.map_or_else(|| a.key().replace('_', " "), Stand::label);
    let choice = |v: &str| {
        let s = stand?;
        let (_, words) = s.step.choices().iter().find(|(id, _)| *id == v)?;
        Some(words.get(s.language).to_owned())
    };
    let value = match (&a.left_out, &a.value) {
        (Some(_), _) => say!("out of service").to_owned(),
        (None, Some(v)) => choice(v).unwrap_or_else(|| recorded(v)),
        (None, None) => String::new(),
    };
    let unit = a.unit.as_ref().map(|u| format!(" {u}")).unwrap_or_default();
    let below = if a.below { "< " } else { "" };
    format!("{label}: {below}{value}{unit}, {}", say!("line {line}", line = a.stamp.line))
}

/// The steps that may be gone back to, in groups, and in each the one answered last first: gauges that did not agree, what
/// keeps others waiting, what was answered more than once, the rest.
fn earlier(s: &Screen, permit: &Permit, stands: &[Stand<'_>]) -> Vec<Value> {
    let disagreed = disagreements(permit);
    let mut groups: [Vec<Value>; 4] = Default::default();
    for (step, item) in s.earlier.iter().rev() {
        let Some(stand) = stands.iter().find(|s| s.step.id() == step && s.item_id() == item.as_deref())
        else {
            continue;
        };
        let [differs, rests, again, others] = &mut groups;
        let group = match stand.standing {
            _ if disagreed.iter().any(|d| stand.is_called(&d.label)) => differs,
            Standing::Hold | Standing::Waiting => rests,
            Standing::Open | Standing::Deviation | Standing::NotApplicable | Standing::OutOfService => {
                if stand.answers.len() > 1 {
                    again
                } else {
                    others
                }
            }
        };
        group.push(values! { step => step, item => item, words => stand.label() });
    }
    let titles = [
        say!("Read again by a supervisor, and not the same"),
        say!("These hold or wait"),
        say!("Answered more than once"),
        say!("Answered once"),
    ];
    let named = titles.into_iter().zip(groups).filter(|(_, steps)| !steps.is_empty());
    named.map(|(title, steps)| values! { title => title, steps => steps }).collect()
}

/// Gauges of a permit that is not issued which did not agree when a supervisor read them: what happened, and where each is
/// read again.
pub fn disagreed(known: &Known<'_>, permit: &Permit) -> Vec<Value> {
    let waits = matches!(known.life(permit), StateWord::Draft | StateWord::Declared);
    let (Ok(texts), true) = (known.texts(permit), waits) else { return Vec::new() };
    let Ok(bench) = answer::bench(known, permit, &texts, false) else { return Vec::new() };
    let stands = walk::walk(&bench);
    let all = disagreements(permit);
    let found = stands.iter().filter_map(|s| {
        let last = all.iter().filter(|d| s.is_called(&d.label)).max_by_key(|d| d.stamp.seq)?;
        let answered = s.answers.last().map_or(0, |a| a.stamp.seq);
        let item = s.item_id().map(|i| format!("&item={}", encoded(i))).unwrap_or_default();
        let to = format!("/p/{}/walk?step={}{item}", encoded(&permit.number), encoded(s.step.id()));
        (last.stamp.seq > answered)
            .then(|| values! { label => s.label(), value => last.value, line => last.stamp.line.to_string(), to => to })
    });
    found.collect()
}

/// Steps that are left, of how many that apply, and how many more may come: whether they apply hangs on answers that are not
/// given yet. Each wearer's own, or all others.
fn left(bench: &Bench<'_>, stands: &[Stand<'_>], own: bool) -> (usize, usize, usize) {
    let (mut left, mut all, mut perhaps) = (0, 0, 0);
    for s in stands.iter().filter(|s| s.of_wearer() == own) {
        match (s.standing, bench.applies_to(s.stage, s.step, s.item.as_ref())) {
            (Standing::NotApplicable | Standing::OutOfService, _) => {}
            (_, Verdict::Unknown(_)) => perhaps += 1,
            (_, Verdict::Open | Verdict::Shut(_)) => {
                all += 1;
                left += usize::from(!s.done());
            }
        }
    }
    (left, all, perhaps)
}

/// What may have been done since somebody was not seen.
const OF_PEOPLE: [&str; 3] = ["waited", "asked_again", "other"];

fn step(known: &Known<'_>, s: &Screen, (left, all, perhaps): (usize, usize, usize)) -> Value {
    let p = &s.parts;
    // Whoever is not seen is looked for: nothing of the set was refilled or tightened meanwhile.
    let of_people = s.typed.step == crew::SEEN;
    // What stands above the step, for everybody: who is on air, what is out of limits.
    let first: Vec<&String> = s.lines.iter().take_while(|l| **l != p.ask).filter(|_| p.stage > 0).collect();
    let first = if p.critical { first.split_last().map_or(&[][..], |(_, f)| f) } else { &first[..] };
    values! {
        kind => kind_word(s.kind), id => s.typed.step, item => s.typed.item, ask => p.ask, beside => p.beside,
        offered => p.offered, unit => p.unit, decimals => p.decimals, below => p.below, critical => p.critical,
        stage => p.stage, stages => p.stages, stage_title => p.title, left => left, perhaps => perhaps, own => p.own, all => all.max(1), holds => p.holds,
        stuck => p.stuck, position => p.last, wait => p.wait, first => first, why => p.why, because => p.because, fix => p.fix,
        how => p.how, wanted => p.wanted,
        answered => s.answered, may_leave_out => s.may_leave_out, may_deviate => s.may_deviate, carry => s.carry.len(),
        again => AGAIN.iter().filter(|a| !of_people || OF_PEOPLE.contains(*a)).map(|a| (*a, recorded(a))).collect::<Vec<_>>(), of_people => of_people,
        holder => crew::named(known, &s.typed.by),
    }
}

/// What is worked out next and would be in order, one after the other: one press takes all of them, each with its working.
/// Nothing where the next one is not of these: it fills the screen by itself.
fn figures(bench: &Bench<'_>, stands: &[Stand<'_>], s: &Screen) -> Vec<Value> {
    let is_it =
        |stand: &&Stand<'_>| stand.step.id() == s.typed.step && stand.item_id() == s.typed.item.as_deref();
    let next = stands.iter().find(is_it).filter(|_| s.kind == Kind::WorkedOut);
    let all = next.map_or_else(Vec::new, |next| walk::worked_out(bench, stands, next));
    let row = |(stand, shown): (&Stand<'_>, String)| {
        let item = stand.item_id().unwrap_or_default();
        let position = position(stand);
        values! {
            ask => bench.words(stand.step.ask(), stand.item.as_ref()), from => bench.rests_on(stand.step, stand.item.as_ref()),
            wanted => crate::show::wanted(bench, stand), critical => stand.step.critical(),
            taken => format!("{}|{item}|{position}|{shown}", stand.step.id()), shown => shown,
        }
    };
    all.into_iter().map(row).collect()
}

/// Where the answer of a step stands now, in the history.
fn position(stand: &Stand<'_>) -> u64 {
    let last = stand.answers.last();
    last.map_or(0, |a| a.deviation.as_ref().map_or(a.stamp.seq, |d| d.stamp.seq.max(a.stamp.seq)))
}

/// Takes what was worked out and shown, one line after the other, as if each had been pressed: up to the first that is not
/// kept, or is not in order.
fn take_figures(hand: &mut Hand, number: &str, form: &Form) -> Told {
    let mut kept = 0;
    let so_far = |kept: u64| {
        say_n!(
            kept,
            "{n} figure that was worked out is kept, and in order",
            "{n} figures that were worked out are kept, and in order"
        )
    };
    let all = form.all("figure");
    let alone = all.len() == 1;
    for taken in all {
        let mut parts = taken.splitn(4, '|').map(str::to_owned);
        let mut pairs: Vec<(String, String)> = ["step", "item", "position", "shown"]
            .iter()
            .filter_map(|name| Some(((*name).to_owned(), parts.next()?)))
            .filter(|(_, value)| !value.is_empty())
            .collect();
        pairs.push(("kind".into(), "worked_out".into()));
        pairs.extend(form.some("shutdown").map(|s| ("shutdown".into(), s)));
        let mut one = Form::of(pairs);
        one.entered_by(form.by());
        let mut told = give(hand, number, &one);
        if alone || !told.done || told.doubt || told.danger || !told.err.is_empty() {
            if kept > 0 {
                told.err.push(so_far(kept));
            }
            return told;
        }
        kept += 1;
    }
    Told { done: true, out: vec![so_far(kept)], ..Told::default() }
}

/// Takes an answer.
pub async fn answer(
    State(app): State<Arc<App>>,
    Path(number): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let there = number.clone();
    let came = once(&app, form.clone(), sent, move |hand, form| match form.text("kind") {
        "start" => of_set(hand, &there, "started", form.by()),
        "stop" => of_set(hand, &there, "stopped", form.by()),
        "worked_out" if form.some("figure").is_some() => take_figures(hand, &there, form),
        _ => give(hand, &there, form),
    });
    let Some(told) = came.await else { return app.fault() };
    if told.done {
        let shutdown = form.some("shutdown").map(|s| ("shutdown".to_owned(), s));
        return app.after(told, &address(&number, &Form::of(shutdown.into_iter().collect())));
    }
    app.back(&address(&number, &form), Some(told), &form)
}

/// What is typed, as an answer.
fn typed(form: &Form, known: &Known<'_>, number: &str) -> Result<(Typed, u64), Refusal> {
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let (value, below) = match form.text("kind") {
        "number" => crate::actions::below(form.some("value").as_deref()),
        "worked_out" => (None, false),
        _ => (form.some("value"), false),
    };
    let leave_out = form.some("leave_out");
    let deviation = form.some("deviation").zip(form.some("instead"));
    let other = leave_out.is_some() || deviation.is_some();
    let typed = Typed {
        step: form.text("step").to_owned(),
        item: form.some("item"),
        value: if other { None } else { value },
        below: !other && (below || form.some("below").is_some()),
        again: form
            .some("again")
            .or_else(|| leave_out.as_ref().and(form.some("was_answered")).map(|_| "other".into())),
        left_out: leave_out,
        deviation,
        words: form.some("words"),
        shutdown: form.some("shutdown").is_some(),
        by: form.by().unwrap_or_else(|| texts.job.text("holder").unwrap_or_default().to_owned()),
        at: None,
        told_by: None,
    };
    // Where its answer stands now, in the history.
    let bench = answer::bench(known, permit, &texts, typed.shutdown)?;
    let stands = walk::of_step(&bench, &typed.step);
    let stand = stands.iter().find(|s| s.item_id() == typed.item.as_deref());
    // What was worked out is kept as somebody saw it.
    if let (Some(shown), Some(s)) = (form.some("shown"), stand)
        && bench.derive(s.step, s.item.as_ref()).is_ok_and(|(_, now)| now != shown)
    {
        let why =
            say!("{step} came out as {shown} when it was shown, and does not now", step = s.label(), shown);
        return Err(Refusal::because(why).instead(say!("look at it again, then keep it")));
    }
    Ok((typed, stand.map_or(0, position)))
}

fn give(hand: &mut Hand, number: &str, form: &Form) -> Told {
    let mut there = None;
    let mut answered = None;
    let shown: u64 = form.text("position").parse().unwrap_or(u64::MAX);
    let kept = hand.at_desk(|desk| {
        desk.request(
            |known| {
                let (typed, position) = typed(form, known, number)?;
                if position > shown {
                    there = Some(last_kept_of(known, number, &typed));
                    return Err(Refusal::because(say!("answered meanwhile")));
                }
                let permit = known.permit(number)?;
                let draft = answer::answer(known, permit, &*known.texts(permit)?, &typed)?;
                answered = Some(typed);
                Ok(draft)
            },
            None,
        )
    });
    match (kept, there, answered) {
        (Ok((line, loaded)), _, Some(typed)) => match after(&loaded, number, &typed) {
            Ok(a) => {
                let what = last_kept_of(&loaded.known(), number, &typed);
                let words = match a.standing {
                    Standing::Hold => say!("kept, and it HOLDS: {what}", what),
                    Standing::Open | Standing::Waiting | Standing::NotApplicable => {
                        say!("kept: {what}", what)
                    }
                    // What is left so is told of by its own words.
                    Standing::OutOfService | Standing::Deviation => kept_in_words(a.standing, line.seq),
                };
                // Not in green what holds everybody back.
                let doubt = a.standing == Standing::Hold;
                let told = Told { done: true, out: vec![words], doubt, ..Told::default() };
                if doubt { with_what_follows(hand, number, &typed, told) } else { told }
            }
            Err(end) => Told { done: true, ..Told::end(end) },
        },
        (Err(_), Some(words), _) => Told {
            done: true,
            err: vec![say!(
                "Answered already: {words}. That stands; nothing was written twice, and what was typed now is not kept.",
                words
            )],
            ..Told::default()
        },
        (Err(end), None, _) => Told::end(end),
        (Ok(_), _, None) => Told::not(say!("the answer is gone from memory")),
    }
}

/// What holds on a permit at work may be an alarm: its order, and what was stopped.
fn with_what_follows(hand: &mut Hand, number: &str, typed: &Typed, kept: Told) -> Told {
    let place = &hand.place;
    let (came, out, err) =
        hand.outside("", |outside| after_an_answer(place, number, Some(&typed.by), outside));
    let danger = !matches!(came, Ok(false));
    let follows = Told::of(came.map(|_| ()), &out, &err);
    if !danger {
        return kept;
    }
    // The order first; an answer that was kept is told as kept whatever came of the rest.
    Told {
        out: follows.out.into_iter().chain(kept.out).collect(),
        err: follows.err,
        why: follows.why,
        instead: follows.instead,
        danger,
        ..kept
    }
}

fn last_kept_of(known: &Known<'_>, number: &str, typed: &Typed) -> String {
    let last = known.state.permits.get(number).and_then(|p| {
        p.answers.iter().rev().find(|a| a.step == typed.step && a.item.as_deref() == typed.item.as_deref())
    });
    let Some((permit, last)) = known.state.permits.get(number).zip(last) else { return String::new() };
    let Ok(texts) = known.texts(permit) else { return kept(last, &[]) };
    match answer::bench(known, permit, &texts, typed.shutdown) {
        Ok(bench) => kept(last, &walk::of_step(&bench, &typed.step)),
        Err(_) => kept(last, &[]),
    }
}

/// The set is started or stopped, where the walk asks for it; once.
fn of_set(hand: &mut Hand, number: &str, kind: &'static str, by: Option<String>) -> Told {
    let found = hand.look().map_err(Told::end).and_then(|l| {
        let known = l.known();
        let permit = known.permit(number).map_err(|r| Told::end(r.into()))?;
        let holder = || known.texts(permit).ok().and_then(|t| t.job.text("holder").map(str::to_owned));
        let by = by.or_else(holder);
        Ok((permit.set.id.clone(), by.unwrap_or_default(), answer::running(&known, &permit.set.id)))
    });
    let (set, by, running) = match found {
        Ok(found) => found,
        Err(told) => return told,
    };
    if running == (kind == "started") {
        let words = if running {
            say!("{set} is started already; nothing was written twice.", set)
        } else {
            say!("{set} is stopped already; nothing was written twice.", set)
        };
        return Told { done: true, err: vec![words], ..Told::default() };
    }
    let members = vec![("set".to_owned(), Json::from(set.as_str()))];
    let kept = hand.at_desk(|desk| {
        desk.request(
            |known| air::request_of_set(known, kind, &set, members.clone(), &by),
            Some((kind, None, set.as_str())),
        )
    });
    match kept {
        Ok((line, _)) => {
            let words =
                if kind == "started" { say!("{set} started", set) } else { say!("{set} stopped", set) };
            let words = format!("{words}; {}", say!("line {line}", line = line.seq));
            Told { done: true, out: vec![words], ..Told::default() }
        }
        Err(end @ End::Trouble(Trouble::Refused(_))) => Told::end(end),
        Err(end) => Told::end(end),
    }
}

/// What of another permit still holds.
pub async fn carry_show(State(app): State<Arc<App>>, Path(number): Path<String>) -> Response {
    app.screen("carry.html", String::new(), move |hand| {
        let looked = hand.look()?;
        let known = looked.known();
        let permit = known.permit(&number)?;
        let texts = known.texts(permit)?;
        let all = carried_in_words(&known, &texts, &carrying::candidates(&known, permit, &texts));
        Ok(values! { title => say!("{permit}: answers of another permit", permit = number), number => number, all => all })
    })
    .await
}

/// Carries them.
pub async fn carry(
    State(app): State<Arc<App>>,
    Path(number): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let to = address(&number, &Form::default());
    let came = once(&app, form, sent, |hand, form| {
        let command =
            Command::Carry(Carry { permit: number, step: None, item: None, show: false, by: form.by() });
        let mut told = hand.command(command, &Zeroizing::default());
        told.err.clear();
        told
    });
    let Some(told) = came.await else { return app.fault() };
    app.after(told, &to)
}
