//! The board while people are on air, and what is told from it: the tally, readings, who stands where.

use super::permit::due_rows;
use crate::actions::Looked;
use crate::cli::args::{Command, Reading, Tally, ToldArgs};
use crate::cli::{End, Tells};
use crate::page::app::{App, Posted, html};
use crate::page::blind::Blind;
use crate::page::entering;
use crate::page::form::{Form, encoded};
use crate::page::guard::No;
use crate::page::hand::{Hand, Told};
use crate::page::once::once;
use crate::page::spoken::Spoken;
use crate::permit::decide::air::Move;
use crate::permit::decide::{Known, air, crew};
use crate::permit::state::{Permit, SetState, Whereabouts};
use crate::permit::walk;
use crate::time::{clock, seconds};
use crate::tongue::{Tongue, say};
use crate::view::StateWord;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderValue, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use minijinja::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Duration;
use zeroize::Zeroizing;

/// Between two signs of life to a screen that updates itself.
const BEAT: Duration = Duration::from_secs(2);
/// The same report sent again within so many seconds is one.
const SAME_WITHIN: i64 = 60;

/// The board.
pub async fn show(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let told = super::query(&uri).text("told").to_owned();
    let there = app.clone();
    app.screen("board.html", told.clone(), move |hand| {
        let live = live_values(hand)?;
        let slip = slip(&there, hand, &told);
        // Told beside its field it is not told above as well.
        let live = if slip.is_some() {
            values! { told => (), ..live }
        } else {
            live
        };
        Ok(values! { title => say!("The board"), slip => slip, back => told, ..live })
    })
    .await
}

/// The part of it that changes.
pub async fn live(State(app): State<Arc<App>>, uri: Uri) -> Response {
    let told = super::query(&uri).text("told").to_owned();
    let there = app.clone();
    let made = app.hands.ask(move |hand| {
        let values = live_values(hand).map_err(|end| Told::end(end).why.join("; "))?;
        let signal = there.hands.signal();
        let slip = slip(&there, hand, &told);
        let typed = if slip.is_some() { there.notices.typed(&told) } else { BTreeMap::new() };
        there.render(
            "board_live.html",
            values! {
                t => there.guard.token(), once => there.word(), signal => signal, typed => typed, slip => slip, ..values
            },
        )
    });
    match made.await {
        Some(Ok(text)) => html(StatusCode::OK, text),
        Some(Err(_)) | None => app.fault(),
    }
}

/// What is wrong with a reading that was typed on this board, where its gauge has a field there.
fn slip(app: &App, hand: &mut Hand, number: &str) -> Option<Told> {
    let told = app.notices.of(number).filter(|t| !t.done && !t.aside)?;
    let typed = app.notices.typed(number);
    let of = |name: &str| typed.get(name).map(String::as_str);
    of("unit")?;
    let known = hand.look().ok()?.known();
    let permit = known.state.permits.get(of("permit")?)?;
    let rows = due_rows(&known, permit);
    let there = rows.iter().any(|r| r.get_attr("what").is_ok_and(|w| w.as_str() == of("what")));
    there.then_some(told)
}

fn live_values(hand: &mut Hand) -> Result<Value, End> {
    hand.judged("board", judged)
}

fn judged(looked: &Looked) -> Result<Value, End> {
    let known = looked.known();
    let rows = crate::show::board(&known, &looked.lines, Tongue::asked()).map_err(crate::cli::could_not)?;
    let rows: Vec<Value> = rows
        .iter()
        .filter_map(|r| {
            let permit = known.state.permits.get(&r.number)?;
            let texts = known.texts(permit).ok();
            let blind = Blind::of(&known, permit);
            // Drawn, it would tell what its words do not.
            let told = texts.as_ref().filter(|_| blind.is_empty());
            // While they come out, no pressure says that there is time left.
            let on = known.state.tally_of_permit(&permit.number) > 0;
            let told = told.filter(|t| !on || crate::show::stands(&known, permit, t).is_none());
            let gauge = told.and_then(|t| crate::show::gauge(&known, permit, t));
            // Said at the gauge's own field.
            let now = known.now.seconds();
            let late = texts.as_ref().map_or_else(Vec::new, |t| crate::permit::due::due(&known, permit, t));
            let late: Vec<String> = late.iter().filter_map(|d| d.words(now, &known.now.zone)).collect();
            Some(values! {
                late => late, row => blind.shown(r), ends => r.ends, people => people(&known, permit), gauge => gauge, due => due_rows(&known, permit),
                mark => super::site::stands(&known, permit).0, relieve => relievable(&known, permit),
            })
        })
        .collect();
    let stray: Vec<Value> = known
        .state
        .on_air
        .iter()
        .filter(|p| p.permit.is_none())
        .map(|p| {
            values! { person => p.person, name => crew::named(&known, &p.person), place => p.whereabouts.words(), set => p.set, set_name => super::site::set_name(&known, &p.set) }
        })
        .collect();
    Ok(values! {
        names => crate::page::called::names(&known), sets => super::site::named_sets(&known), rows => rows, ordered => crate::show::out_of_no_row(&known), of_board => true, stray => stray, apart => crate::show::apart(&known), in_part => looked.is_damaged(),
        as_of => clock(&known.now.time, &known.now.zone),
    })
}

/// A state as templates mark it with a colour, in every language.
pub const fn mark(life: StateWord) -> &'static str {
    match life {
        StateWord::HandedBack => "handed-back",
        StateWord::Draft
        | StateWord::Declared
        | StateWord::Live
        | StateWord::Suspended
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled
        | StateWord::Lapsed => life.english(),
    }
}

/// Everyone planned on a permit or on air on it, with what may be told of them next.
fn people(known: &Known<'_>, permit: &Permit) -> Vec<Value> {
    let texts = known.texts(permit).ok();
    let planned = texts.iter().flat_map(|t| t.job.items("wearers")).map(|w| {
        let name = w.words("name").map_or_else(|| w.id().to_owned(), |n| n.own().to_owned());
        (w.id().to_owned(), name, w.text("outlet").unwrap_or_default().to_owned())
    });
    let mut all: Vec<(String, String, String)> = planned.collect();
    for p in known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number)) {
        if !all.iter().any(|(id, _, _)| *id == p.person) {
            let name = crew::named(known, &p.person);
            all.push((p.person.clone(), name, p.outlet.clone().unwrap_or_default()));
        }
    }
    let longest = texts
        .as_ref()
        .and_then(|t| t.job.quantity("longest_spell"))
        .map(|q| q.value.to_integer().to_string());
    let longest: Option<i64> = longest.and_then(|l| l.parse().ok());
    let unseen: Vec<&str> = crew::unseen(known, permit).into_iter().map(|(id, _)| id).collect();
    let missing = crew::missing(permit).map_or_else(Vec::new, |(_, names)| names);
    // Whoever is to be looked for has a card of their own, planned or not.
    for id in crew::lost(known, permit) {
        if !all.iter().any(|(other, _, _)| other == id) {
            all.push((id.to_owned(), crew::named(known, id), String::new()));
        }
    }
    let goes_on = goes_on(known, permit);
    let off = |id: &str| !known.state.on_air.iter().any(|p| p.person == id);
    let asked = texts.as_ref().filter(|_| goes_on && all.iter().any(|(id, _, _)| off(id)));
    // The form is walked once for all of them.
    let bench = asked.map(|t| known.bench(permit, t));
    let walked = bench.as_ref().map(walk::walk);
    all.into_iter()
        .map(|(id, name, outlet)| {
            let on = known.state.on_air.iter().find(|p| p.person == id);
            let (place, stands) = standing(on.map(|p| p.whereabouts));
            let (place, shape) = match on {
                None if unseen.contains(&id.as_str()) => (say!("NOT SEEN OUTSIDE").to_owned(), "lost"),
                None if missing.contains(&id.as_str()) => (say!("MISSING").to_owned(), "lost"),
                Some(_) if missing.contains(&id.as_str()) => {
                    (say!("MISSING; by the tally {place}", place), "lost")
                }
                None | Some(_) => (place.to_owned(), stands),
            };
            let outlet = on.and_then(|p| p.outlet.clone()).unwrap_or(outlet);
            let named = texts.as_ref().and_then(|t| crew::outlet_name(t, &outlet));
            let outlet = match named {
                Some(name) => name,
                None if outlet.is_empty() => outlet,
                None => say!("outlet {outlet}", outlet),
            };
            let to_see = (shape == "lost" && unseen.contains(&id.as_str())).then(|| {
                format!("/p/{}/walk?shutdown=1&step=wearer_seen&item={}", encoded(&permit.number), encoded(&id))
            });
            let since = on.map(|p| (clock(&p.since.time, &p.since.zone), (known.now.seconds() - seconds(&p.since.time)).max(0) / 60));
            let spell = texts.as_ref().filter(|_| on.is_some()).map(|t| air::spell(known, t, &id) / 60);
            let over = spell.zip(longest).is_some_and(|(s, l)| s * 60 > l);
            let (own, lacks) = match &walked {
                Some(walked) if on.is_none() => not_yet(known, permit, walked, &id),
                Some(_) | None => (0, Vec::new()),
            };
            values! {
                own => own, lacks => lacks, to_steps => format!("/p/{}/walk", encoded(&permit.number)),
                id => id, name => name, outlet => outlet, place => place, shape => shape,
                stands => stands, to_see => to_see, goes_on => goes_on,
                since => since.as_ref().map(|(at, _)| at.clone()), minutes => since.map(|(_, m)| m), spell => spell,
                most => longest.map(|l| l / 60), over => over,
            }
        })
        .collect()
}

/// Why no key puts somebody on this air yet: so many of their own steps are open, and what they are; else what else the rules
/// hold against it.
fn not_yet(known: &Known<'_>, permit: &Permit, walked: &[walk::Stand<'_>], id: &str) -> (usize, Vec<String>) {
    let of_them = walk::before_air(walked, id).into_iter().filter(|s| s.of_wearer());
    // Whose they are is said by the card.
    let bare = |s: &walk::Stand<'_>| {
        let (label, name) = (s.label(), s.item.as_ref().map_or("", |i| i.name.as_str()));
        label.strip_suffix(&format!(", {name}")).unwrap_or(&label).to_owned()
    };
    let own: Vec<String> = of_them.map(bare).collect();
    if own.is_empty() {
        return (0, air::forbidden(known, permit, id, Move::OnAir));
    }
    (own.len(), own)
}

/// Whether anybody at all may be asked to go on this air, or in: where nobody may, no key asks for what is always refused.
/// What has happened all the same is reported below.
fn goes_on(known: &Known<'_>, permit: &Permit) -> bool {
    let over = permit.valid_to.as_deref().is_none_or(|v| v < known.time());
    let runs = known.state.sets.get(&permit.set.id).is_some_and(SetState::running);
    let called = permit.called_out || !crate::permit::called::before_issue(known, permit).is_empty();
    known.life(permit) == StateWord::Live && !over && !called && runs
}

/// Where somebody stands: in words, and as templates mark it.
fn standing(at: Option<Whereabouts>) -> (&'static str, &'static str) {
    match at {
        None => (say!("off air"), "off"),
        Some(Whereabouts::Outside) => (say!("on air, outside"), "outside"),
        Some(Whereabouts::In) => (say!("IN"), "in"),
        Some(Whereabouts::OutOnAir) => (say!("out, still on air"), "out"),
    }
}

/// Why a key of the tally is asked for again instead of done: it was pressed on a screen that showed its person elsewhere.
/// That somebody is out is taken from any screen.
fn asked_again(person: &str, form: &Form, at: Option<Whereabouts>, to: &str) -> Option<Told> {
    let shown = form.some("shown")?;
    let (words, mark) = standing(at);
    (shown != mark && to != "out").then(|| {
        let why = say!(
            "Not taken: the screen that was pressed showed {person} elsewhere; now it is: {place}. Look, then press again.",
            person,
            place = words
        );
        Told { done: true, doubt: true, err: vec![why], ..Told::default() }
    })
}

/// Who could stand in as attendant or entry watch.
fn relievable(known: &Known<'_>, permit: &Permit) -> Vec<(String, String)> {
    let roster = known.chain.origin.roster.persons.iter().map(|p| (p.id.clone(), p.name.clone()));
    let mut out: Vec<(String, String)> = roster.collect();
    if let Ok(texts) = known.texts(permit) {
        let site = texts.site.items("people").iter();
        let more = site
            .map(|v| (v.id().to_owned(), v.words("name").map_or_else(String::new, |w| w.own().to_owned())));
        let more: Vec<_> = more.filter(|(id, _)| !out.iter().any(|(o, _)| o == id)).collect();
        out.extend(more);
    }
    out
}

/// Signs of life, for every screen: the time, whether anything changed, what is overdue.
pub async fn events(State(app): State<Arc<App>>) -> Response {
    let Ok(place) = app.streams.clone().try_acquire_owned() else { return app.no(No::Rate) };
    let spoken = Spoken::now();
    let beats = stream::unfold((app, place, false), move |(app, place, begun)| {
        spoken.answer(async move {
            if begun {
                tokio::time::sleep(BEAT).await;
            }
            let there = app.clone();
            let beat = app
                .hands
                .ask(move |hand| beat(&there, hand))
                .await
                .unwrap_or_else(|| "event: fault\ndata: {}\n\n".into());
            Some((Ok::<String, std::convert::Infallible>(beat), (app, place, true)))
        })
    });
    let kind = HeaderValue::from_static("text/event-stream");
    ([(header::CONTENT_TYPE, kind)], Body::from_stream(beats)).into_response()
}

/// What is overdue, in words: it stands on a screen from the first, so that nothing moves away under a finger when it is heard of.
/// Whom to look for stands first, then who comes out now: so many of the words are that.
pub fn overdue(hand: &mut Hand) -> Value {
    let late = hand.judged("overdue", |looked| {
        let known = looked.known();
        let now = known.now.seconds();
        let at_work = known.state.permits.values().filter(|p| {
            !known.life(p).over()
                || known.state.tally_of_permit(&p.number) > 0
                || crew::is_looked_for(&known, p)
        });
        let (mut first, mut late): (Vec<String>, Vec<String>) = Default::default();
        let (mut lost, mut missing): (Vec<String>, BTreeSet<&str>) = Default::default();
        for p in at_work {
            lost.extend(crew::unseen_in_words(&known, p));
            lost.extend(crew::missing_in_words(&known, p));
            missing.extend(crew::lost(&known, p));
            if let Ok(texts) = known.texts(p) {
                // People first: who is to come off this air, then what is to be read.
                first.extend(crate::show::over_with_people(&known, p));
                first.extend(crate::show::too_long_on_air(&known, p, &texts));
                let due = crate::permit::due::due(&known, p, &texts);
                late.extend(due.iter().filter_map(|d| d.words(now, &known.now.zone)));
            }
        }
        lost.dedup();
        let out = crate::show::out_everywhere(&known);
        let names = crate::page::called::names(&known);
        let of_id = |id: &str| names.get(id).cloned();
        let suspended = crate::show::out_of_suspended(&known);
        let words = |w: &String| crate::page::glue::words(&crate::page::called::here(w, &of_id));
        let on_board = lost.iter().chain(&out).chain(&first).chain(&late).map(words);
        let on_all = lost.iter().chain(&out).chain(&suspended).chain(&first).chain(&late).map(words);
        // Screens of these that were drawn before show what is read blind now.
        let declared = known.state.permits.open().filter(|p| known.life(p) == StateWord::Declared);
        let declared: Vec<&str> = declared.map(|p| p.number.as_str()).collect();
        Ok(values! {
            overdue => Value::from_iter(on_board), lost => lost.len(), out => out.len(), on_all => Value::from_iter(on_all),
            suspended => suspended.len(), missing => missing.len(), declared => declared.join(" "),
        })
    });
    late.unwrap_or_else(|_| nothing_overdue())
}

/// Where nothing is known to be.
pub fn nothing_overdue() -> Value {
    let none = Vec::<String>::new;
    values! { overdue => none(), lost => 0, out => 0, on_all => none(), suspended => 0, missing => 0, declared => "" }
}

/// One sign of life.
pub fn beat(app: &App, hand: &mut Hand) -> String {
    let version = hand.version();
    let late = overdue(hand);
    let of_late = |name: &str| late.get_attr(name).unwrap_or_default();
    let Ok(looked) = hand.look() else { return "event: fault\ndata: {}\n\n".into() };
    let known = looked.known();
    let now = known.now.seconds();
    let data = serde_json::json!({
        "version": version, "now": crate::time::for_people(&known.now.time, &known.now.zone), "second": now,
        "on_air": known.state.on_air.len(), "overdue": of_late("overdue"), "lost": of_late("lost"), "out": of_late("out"), "on_all": of_late("on_all"), "suspended": of_late("suspended"), "missing": of_late("missing"), "declared": of_late("declared"), "enters": app.entering.now(now).map_or_else(|| entering::nobody().to_owned(), |w| w.name), "roll": app.roll_first(looked), "damaged": looked.is_damaged(),
    });
    format!("event: beat\ndata: {data}\n\n")
}

/// When and by whom, as a form says it.
pub fn told(form: &Form) -> ToldArgs {
    ToldArgs { at: form.some("at"), told_by: form.some("told_by"), by: form.by() }
}

/// The line of a report that was kept just now with the same data: a form sent again after a restart. Only the last one of
/// the same thing counts, so that what was mended meanwhile can be told again.
pub fn just_kept(
    hand: &mut Hand,
    kind: &str,
    permit: &str,
    of: &[(&str, &str)],
    data: &[(&str, &str)],
) -> Option<u64> {
    let now = hand.second();
    let looked = hand.look().ok()?;
    // What happened in between makes the same figure another one.
    let same = |l: &&crate::record::line::Line| {
        l.kind.name == kind || matches!(l.kind.name, "reading" | "note" | "copy" | "answer" | "denied")
    };
    let lines = looked.lines.iter().rev().take(30).take_while(same);
    let mut lines = lines.take_while(|l| now - seconds(&l.time) <= SAME_WITHIN);
    let says = |l: &crate::record::line::Line, all: &[(&str, &str)]| {
        all.iter().all(|(name, value)| l.data.text(name).unwrap_or_default() == *value)
    };
    let last = lines.find(|l| {
        l.kind.name == kind && (permit.is_empty() || l.permit.as_deref() == Some(permit)) && says(l, of)
    });
    last.filter(|l| says(l, data)).map(|l| l.seq)
}

/// Whoever goes on air is not at the page any more: who is, is asked again, and nothing waits for it.
fn gone_on_air(app: &App, form: &Form) {
    let at_page = app.entering.now(app.hands.clock.second());
    if ["on", "in"].contains(&form.text("to")) && at_page.is_some_and(|w| w.id == form.text("person")) {
        app.entering.forget();
    }
}

/// Somebody goes on air, in, out, off.
pub async fn tally(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let again = form.clone();
    let came = once(&app, form, sent, |hand, form| {
        let person = form.text("person").to_owned();
        let to = form.text("to").to_owned();
        let wanted = match to.as_str() {
            "on" => Some(Whereabouts::Outside),
            "in" => Some(Whereabouts::In),
            "out" => Some(Whereabouts::OutOnAir),
            _ => None,
        };
        let stands = hand.look().ok().and_then(|l| {
            let on = l.state.on_air.iter().find(|p| p.person == person)?;
            Some((on.whereabouts, clock(&on.since.time, &on.since.zone)))
        });
        let name = hand.look().map_or_else(|_| person.clone(), |l| crew::named(&l.known(), &person));
        let already = match (&stands, wanted) {
            (Some((at, since)), Some(wanted)) if *at == wanted => Some(since.clone()),
            (None, None) => just_kept(hand, "off_air", "", &[("person", &person)], &[])
                .map(|n| say!("line {line}", line = n)),
            (Some(_) | None, _) => None,
        };
        if let Some(since) = already {
            let words = say!(
                "{person} stands so already, since {since}; nothing was written twice.",
                person = name,
                since
            );
            return Told { done: true, err: vec![words], ..Told::default() };
        }
        if let Some(told) = asked_again(&name, form, stands.map(|(at, _)| at), &to) {
            return told;
        }
        let report = form.some("report").is_some();
        let tally =
            Tally { person, permit: form.some("permit"), set: form.some("set"), report, told: told(form) };
        let command = match to.as_str() {
            "on" => Command::On(tally),
            "in" => Command::In(tally),
            "out" => Command::Out(tally),
            _ => Command::Off(tally),
        };
        against_the_rules(hand.command(command, &Zeroizing::default()))
    });
    match came.await {
        Some(told) => {
            if !told.doubt && (told.done || told.aside) {
                gone_on_air(&app, &again);
            }
            app.after_typed(told, &again, "/board")
        }
        None => app.fault(),
    }
}

/// What was kept although the rules forbid it is told in no green, and its reasons in few lines: people and orders stand below it.
fn against_the_rules(mut told: Told) -> Told {
    let head = say!("BREACH: {breach}", breach = "");
    let mut all = told.err.iter().filter(|l| l.starts_with(head.trim_end())).count();
    if told.done && all > 0 {
        told.against = true;
        told.err.retain(|l| {
            let breach = l.starts_with(head.trim_end());
            all -= usize::from(breach);
            !breach || all < 2
        });
    }
    told
}

/// A gauge was read.
pub async fn reading(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let again = form.clone();
    let came = once(&app, form, sent, |hand, form| {
        let (permit, what) = (form.text("permit").to_owned(), form.text("what").to_owned());
        let (number, unit) = (form.text("value").to_owned(), form.text("unit").to_owned());
        let in_unit = unit.clone();
        let item = form.some("item");
        let plain = crate::units::Decimal::read(number.trim_start_matches('<').trim()).map(|d| d.to_string());
        let of = [("what", what.as_str()), ("item", item.as_deref().unwrap_or(""))];
        let same = [("value", plain.as_deref().unwrap_or("?"))];
        if let Some(line) = just_kept(hand, "reading", &permit, &of, &same) {
            let words = say!(
                "{what} was kept just now, line {line}; nothing was written twice.",
                what = format!("{what} {number} {unit}"),
                line
            );
            return Told { done: true, err: vec![words], ..Told::default() };
        }
        // The unit stands beside the field: whoever slips on a digit is not told of units.
        let alone = plain.is_err() && crate::units::Quantity::read(number.trim_start_matches('<')).is_err();
        if alone && !unit.is_empty() {
            let got = crate::text::quoted(&number, 40);
            let instead = say!("type the number as the instrument shows it, in {unit}", unit);
            return Told { instead, ..Told::not(say!("got {got}, wanted a number", got)) };
        }
        let value = if number.contains(char::is_alphabetic) { number } else { format!("{number} {unit}") };
        let reading = Reading { permit, what, value, item, told: told(form) };
        let mut came = hand.command(Command::Reading(reading), &Zeroizing::default());
        if !came.done && plain.is_err() && came.instead.is_empty() && !in_unit.is_empty() {
            came.instead = say!("type the number as the instrument shows it, in {unit}", unit = in_unit);
        }
        let danger = came.tells(Tells::OutOfLimits);
        if danger && came.err.is_empty() && !came.out.is_empty() {
            // With nobody to be called out no order stands above it: what is out of limits, and not which line it is.
            came.out.rotate_left(1);
        }
        Told { danger, ..came }
    });
    match came.await {
        Some(told) if told.danger => {
            app.screen("told.html", String::new(), move |_| {
                let gone = told.that_tell(Tells::AirGone);
                Ok(values! { came => told, gone => gone, next => "/board", title => say!("What came of it"), alarm => true })
            })
            .await
        }
        Some(told) => {
            app.after_typed(told, &again, "/board")
        }
        None => app.fault(),
    }
}

/// Another person stands in.
pub async fn relieve(State(app): State<Arc<App>>, Posted(form, sent): Posted) -> Response {
    let again = form.clone();
    let came = once(&app, form, sent, |hand, form| {
        let command = Command::Relieve {
            permit: form.text("permit").to_owned(),
            role: if form.text("role") == "entry_watch" { "entry_watch".into() } else { "attendant".into() },
            to: form.text("to").to_owned(),
            report: form.some("report").is_some(),
            told: told(form),
        };
        hand.command(command, &Zeroizing::default())
    });
    match came.await {
        Some(told) => app.after_typed(told, &again, "/board"),
        None => app.fault(),
    }
}
