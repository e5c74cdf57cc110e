//! One permit: how it stands, what is to be done next, everything that may be asked of it; its paper.

use crate::actions::{Looked, Trouble};
use crate::cli::End;
use crate::cli::args::Command;
use crate::cli::printing::{Undrawn, as_it_reads, numbered, whole};
use crate::page::app::{App, Posted, see};
use crate::page::blind::Blind;
use crate::page::form::{Form, encoded};
use crate::page::guard::No;
use crate::page::hand::{Hand, Told};
use crate::page::once::{Turn, once};
use crate::page::spoken::Spoken;
use crate::paper::PaperSize;
use crate::permit::copies;
use crate::permit::decide::{Known, Refusal};
use crate::permit::due;
use crate::permit::state::Permit;
use crate::permit::valid;
use crate::site::Held;
use crate::time::{at_site, seconds, utc};
use crate::tongue::{Tongue, say};
use crate::view::StateWord;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderValue, Uri, header};
use axum::response::{IntoResponse, Response};
use minijinja::Value;
use std::sync::Arc;
use zeroize::Zeroizing;

/// The permit.
pub async fn show(State(app): State<Arc<App>>, Path(number): Path<String>, uri: Uri) -> Response {
    let told = super::query(&uri).text("told").to_owned();
    app.screen("permit.html", told, move |hand| {
        hand.judged(&format!("permit {number}"), |looked| judged(looked, &number))
    })
    .await
}

fn judged(looked: &Looked, number: &str) -> Result<Value, End> {
    let known = looked.known();
    let permit = known.permit(number)?;
    let view = crate::show::first_page(&known, &looked.lines, number, Tongue::asked())
        .map_err(crate::cli::could_not)?;
    let (next, to) = super::site::next(&known, permit);
    let copies: Vec<Value> = copies::stale(&known, permit)
        .into_iter()
        .map(|c| values! { number => c.number, words => c.words() })
        .collect();
    let lacks = match known.life(permit) {
        StateWord::Suspended => before_reinstating(&known, permit),
        StateWord::Draft
        | StateWord::Declared
        | StateWord::Live
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled
        | StateWord::Lapsed => Vec::new(),
    };
    let ends = if matches!(known.life(permit), StateWord::Draft | StateWord::Declared) && !permit.for_shutdown
    {
        ends(&known, permit)
    } else {
        None
    };
    let ready = known.life(permit) == StateWord::Suspended && lacks.is_empty() && !permit.shutdown_begun;
    let blind = Blind::of(&known, permit);
    let running = known.state.sets.get(&permit.set.id).is_some_and(crate::permit::state::SetState::running);
    Ok(values! {
        title => number, view => blind.shown(&view), held_back => blind.gauges, mark => if view.held { "held" } else { super::board::mark(view.state) }, next => next, to => to, acts => acts(&known, permit), copies => copies,
        disagreed => super::walk::disagreed(&known, permit), ready => ready, lacks => lacks, set => permit.set.id, for_shutdown => permit.for_shutdown, running => running,
        ends => ends, people => known.state.tally_of_permit(number), ended => known.life(permit).ended(),
    })
}

/// When the work of a permit that is not issued yet is to end, and whether that is on another day; when the permit itself
/// would, issued now, and why then.
fn ends(known: &Known<'_>, permit: &Permit) -> Option<Value> {
    let texts = known.texts(permit).ok()?;
    let until = match texts.job.get("until") {
        Some(Held::TimeOfDay(time)) => valid::next(*time, seconds(&permit.opened.time), &texts.zone)?,
        Some(_) | None => return None,
    };
    let limit = crate::permit::decide::sign::valid_to(known, permit, &texts, None);
    let at = |utc: &str| at_site(utc, &texts.zone);
    let today = valid::date_of(until, &texts.zone) == known.now.date();
    Some(
        values! { work => at(&utc(until)), today => today, time => at(&limit.utc()), because => limit.because },
    )
}

/// What keeps a suspended permit from being reinstated, as the rules say it now.
fn before_reinstating(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    use crate::permit::decide::sign::{Hand as Signer, Signing, prepare};
    let supervisor = crate::trust::Role::Supervisor;
    let by = known.chain.origin.roster.persons.iter().find(|p| p.roles.contains(&supervisor));
    let by = by.map_or("", |p| p.id.as_str());
    let what = Signing::Reinstate { cause: "asked only what stands against it".into() };
    prepare(known, &permit.number, &what, &Signer::here(by)).err().map(|r| r.why).unwrap_or_default()
}

/// What may be asked of a permit in its state: words and address. Whether it is allowed, the rules say when it is asked.
fn acts(known: &Known<'_>, permit: &Permit) -> Vec<(String, String)> {
    let n = &permit.number;
    let sign = |words: &str, act: &str| (words.to_owned(), format!("/p/{n}/sign/{act}"));
    let walk = |words: &str| (words.to_owned(), format!("/p/{n}/walk"));
    let job = |words: &str| (words.to_owned(), format!("/p/{n}/job"));
    let off = |words: &str| (words.to_owned(), format!("/p/{n}/walk?shutdown=1"));
    let handed = permit.pending.as_ref().map(|p| p.kind);
    match known.life(permit) {
        StateWord::Draft if permit.for_shutdown => {
            vec![
                off(say!("The shutdown")),
                sign(say!("Hand back"), "hand-back"),
                sign(say!("Cancel"), "cancel"),
            ]
        }
        StateWord::Draft => vec![
            walk(say!("The steps")),
            sign(say!("Declare"), "declare"),
            job(say!("Change the job")),
            off(say!("Shut the set down")),
            sign(say!("Cancel"), "cancel"),
        ],
        StateWord::Declared => vec![
            sign(say!("Look, read again, countersign"), "countersign"),
            sign(say!("Refuse"), "refuse"),
            walk(say!("The steps")),
            job(say!("Change the job")),
            sign(say!("Cancel"), "cancel"),
        ],
        StateWord::Live => {
            let mut out = vec![
                (say!("The board").to_owned(), "/board".to_owned()),
                walk(say!("Steps left, each wearer's own")),
                (say!("Roll call").to_owned(), "/roll-call".to_owned()),
                off(say!("Shut the set down")),
                sign(say!("Ask for a later end"), "extend"),
                sign(say!("Hand over"), "hand-over"),
                sign(say!("Hand back, the set runs on"), "hand-back"),
                sign(say!("Cancel"), "cancel"),
            ];
            match handed {
                Some("extend") => out.insert(1, sign(say!("Give the later end"), "give")),
                Some("hand_over") => out.insert(1, sign(say!("Take over"), "take-over")),
                Some(_) | None => {}
            }
            out
        }
        StateWord::Suspended => vec![
            (say!("Roll call").to_owned(), "/roll-call".to_owned()),
            (say!("Read the gauges").to_owned(), "/board".to_owned()),
            walk(say!("What is answered again")),
            sign(say!("Reinstate"), "reinstate"),
            off(say!("Shut the set down")),
            sign(say!("Hand back"), "hand-back"),
            sign(say!("Take over"), "take-over"),
            sign(say!("Cancel"), "cancel"),
        ],
        StateWord::HandedBack => vec![sign(say!("Close"), "close"), sign(say!("Cancel"), "cancel")],
        StateWord::Closed | StateWord::Refused | StateWord::Cancelled | StateWord::Lapsed => {
            vec![(say!("Open another like it").to_owned(), format!("/open?like={n}"))]
        }
    }
}

/// Whoever countersigns here has no use for the lines of the permit, and is to read its gauges without them. Where no
/// supervisor's key stands here, it is signed elsewhere, and the lines go there.
fn no_excerpt_yet(app: &App, known: &Known<'_>, number: &str) -> Result<(), Refusal> {
    let blind = Blind::of(known, known.permit(number)?);
    let here = super::signing::signers(app, known, &[crate::trust::Role::Supervisor]);
    if blind.is_empty() || here.iter().all(|(_, _, key)| !key) {
        return Ok(());
    }
    let why = say!(
        "the supervisor is to read these without having seen them, and this file would show them: {gauges}",
        gauges = blind.gauges.join(", ")
    );
    Err(Refusal::because(why).instead(say!(
        "countersign here, where a supervisor's key stands; for one who signs elsewhere it is made at a terminal: airwrit \
         excerpt {permit}",
        permit = crate::text::safe_line(number)
    )))
}

/// The permit's lines and what they cite, as a file that verifies alone: whoever signs elsewhere signs on it.
pub async fn excerpt(State(app): State<Arc<App>>, Path(number): Path<String>) -> Response {
    let (there, here) = (number.clone(), app.clone());
    let made = app.hands.ask(move |hand| -> Result<Vec<u8>, End> {
        let looked = hand.look()?;
        if let Some((at, broken)) = &looked.broken {
            return Err(Trouble::Broken { at: *at, broken: broken.clone() }.into());
        }
        no_excerpt_yet(&here, &looked.known(), &there)?;
        let bytes = crate::record::excerpt::of(&looked.lines, &there);
        bytes.ok_or_else(|| {
            crate::cli::could_not(say!("{permit} has no first line in this register", permit = there))
        })
    });
    match made.await {
        Some(Ok(bytes)) => {
            let name = HeaderValue::from_str(&format!("attachment; filename=\"{number}.excerpt.jsonl\""));
            let name = name.unwrap_or(HeaderValue::from_static("attachment"));
            let kind = HeaderValue::from_static("application/octet-stream");
            ([(header::CONTENT_TYPE, kind), (header::CONTENT_DISPOSITION, name)], Body::from(bytes))
                .into_response()
        }
        Some(Err(end)) => app.said(Told::end(end), format!("/p/{}", encoded(&number))).await,
        None => app.fault(),
    }
}

/// A PDF to look at, or to print, or why there is none. It is drawn beside the hand, which must be free for calling out; one
/// at a time, so that it leaves a core to the screens.
async fn shown(
    app: &Arc<App>,
    number: &str,
    name: &str,
    typed: &Form,
    work: impl Future<Output = Option<Result<Undrawn, End>>>,
) -> Response {
    let Ok(_waits) = app.papers.try_acquire() else { return app.no(No::Rate) };
    let made = match work.await {
        Some(Ok(undrawn)) => {
            let alone = app.drawing.clone().lock_owned().await;
            let spoken = Spoken::now();
            let draw = move || {
                let drawn = spoken.within(|| undrawn.draw());
                drop(alone);
                drawn
            };
            tokio::task::spawn_blocking(draw).await.ok().map(|drawn| drawn.map_err(End::from))
        }
        Some(Err(end)) => Some(Err(end)),
        None => None,
    };
    match made {
        Some(Ok(bytes)) => {
            let name = HeaderValue::from_str(&format!("inline; filename=\"{name}\""));
            let name = name.unwrap_or(HeaderValue::from_static("inline"));
            let kind = HeaderValue::from_static("application/pdf");
            ([(header::CONTENT_TYPE, kind), (header::CONTENT_DISPOSITION, name)], Body::from(bytes))
                .into_response()
        }
        Some(Err(end)) => {
            let (told, to) = (Told::end(end), format!("/p/{}", encoded(number)));
            if typed.pairs().is_empty() {
                app.said(told, to).await
            } else {
                app.after_typed(told, typed, &to)
            }
        }
        None => app.fault(),
    }
}

/// Paper that would show what is held back is drawn once the supervisor has read it.
fn not_blind(known: &Known<'_>, number: &str) -> Result<(), Refusal> {
    let blind = Blind::of(known, known.permit(number)?);
    if blind.is_empty() {
        return Ok(());
    }
    let why = say!(
        "the supervisor is to read these without having seen them, and this paper would show them: {gauges}",
        gauges = blind.gauges.join(", ")
    );
    Err(Refusal::because(why).instead(say!("it is drawn once the supervisor has read them again")))
}

/// The permit as PDF.
pub async fn pdf(State(app): State<Arc<App>>, Path(number): Path<String>) -> Response {
    let there = number.clone();
    let work = app.hands.ask(move |hand| {
        let looked = hand.look()?;
        whole(looked)?;
        as_it_reads(&looked.known(), &looked.lines, &there)?;
        not_blind(&looked.known(), &there)?;
        Ok(Undrawn::permit(&looked.known(), &looked.lines, &there, 0, PaperSize::A4, None)?)
    });
    shown(&app, &number, &format!("{number}.pdf"), &Form::default(), work).await
}

/// The attendant's card as PDF.
pub async fn card(State(app): State<Arc<App>>, Path(number): Path<String>) -> Response {
    let there = number.clone();
    let work = app.hands.ask(move |hand| {
        let looked = hand.look()?;
        whole(looked)?;
        as_it_reads(&looked.known(), &looked.lines, &there)?;
        not_blind(&looked.known(), &there)?;
        Ok(Undrawn::card(&looked.known(), &looked.lines, &there, None, PaperSize::A4, None)?)
    });
    shown(&app, &number, &format!("{number}-card.pdf"), &Form::default(), work).await
}

/// A numbered copy: where it will hang is kept, then it is drawn. Sent again it is the same copy, and not another to be taken
/// down.
pub async fn hang(
    State(app): State<Arc<App>>,
    Path(number): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let hangs = form.text("hangs").to_owned();
    let is_card = form.text("sheet") == "card";
    let name = format!("{number}{}-copy.pdf", if is_card { "-card" } else { "" });
    let there = (app.clone(), number.clone());
    let work = async move {
        let (app, number) = there;
        let mut kept = match app.notices.copies.turn(sent).await {
            Turn::Came(undrawn) => return Some(Ok(undrawn)),
            Turn::Mine(kept) => kept,
        };
        let work = move |hand: &mut Hand| {
            not_blind(&hand.look()?.known(), &number)?;
            let undrawn = hand.at_desk(|desk| {
                let (loaded, n, copy) = numbered(desk, &number, &hangs, is_card.then_some("card"))?;
                let (known, lines) = (loaded.known(), &loaded.register.lines);
                if is_card {
                    Undrawn::card(&known, lines, &number, Some((n, &copy)), PaperSize::A4, None)
                } else {
                    Undrawn::permit(&known, lines, &number, n, PaperSize::A4, None)
                }
            })?;
            kept.keep(undrawn.clone());
            Ok(undrawn)
        };
        app.hands.ask(work).await
    };
    shown(&app, &number, &name, &form, work).await
}

/// A copy was taken down.
pub async fn down(
    State(app): State<Arc<App>>,
    Path(number): Path<String>,
    Posted(form, sent): Posted,
) -> Response {
    let to = format!("/p/{}", encoded(&number));
    let Ok(copy) = form.text("copy").parse() else { return see(&to) };
    let command = Command::TakenDown { permit: number, copy };
    match once(&app, form, sent, |hand, _| hand.command(command, &Zeroizing::default())).await {
        Some(told) => app.after(told, &to),
        None => app.fault(),
    }
}

fn gauge(what: &str) -> String {
    match what {
        "co" => say!("Carbon monoxide").into(),
        "supply" => say!("Supply").into(),
        "reserve" => say!("Reserve").into(),
        other => other.to_owned(),
    }
}

/// What is due on a permit: gauge, when, how it stands now.
pub fn due_rows(known: &Known<'_>, permit: &Permit) -> Vec<Value> {
    let Ok(texts) = known.texts(permit) else { return Vec::new() };
    let now = known.now.seconds();
    let due = due::due(known, permit, &texts);
    // To be reinstated it wants every gauge read, whether or not anybody is on its air.
    let wanted = due.is_empty() && known.life(permit) == StateWord::Suspended;
    let wanted = due::gauges(&texts).into_iter().filter(|_| wanted).map(|what| {
        values! {
            what => what, label => gauge(what), unit => unit(what), at => (), standing => "wanted", behind => "",
            last => crate::show::last_read(known, permit, what),
        }
    });
    let of_due = due
        .into_iter()
        .map(|d| {
            let standing = match (now >= d.due, now >= d.holds) {
                (_, true) => "overdue",
                (true, false) => "now",
                (false, false) => "later",
            };
            values! {
                what => d.what, label => gauge(d.what), unit => unit(d.what), at => crate::time::clock(&crate::time::utc(d.due), &known.now.zone),
                standing => standing, behind => d.behind, last => crate::show::last_read(known, permit, d.what),
            }
        });
    of_due.chain(wanted).collect()
}

/// As gauges show it.
fn unit(what: &str) -> &'static str {
    match what {
        "co" => "ppm",
        _ => "bar",
    }
}
