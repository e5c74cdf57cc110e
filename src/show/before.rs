//! What a supervisor is shown before signing: one screen, the same at the station and elsewhere, in the order in
//! which it is to be read.
//!
//! In: everything that is known. Out: final words under headings. Decides nothing.

use super::{named, permit as view_of, words};
use crate::checklist::StepKind;
use crate::permit::bench::{Bench, Texts, air_test};
use crate::permit::decide::{Known, sign};
use crate::permit::flags;
use crate::permit::since::{since_last_closed, since_opened};
use crate::permit::state::Permit;
use crate::permit::walk;
use crate::record::line::Line;
use crate::time::at_site;
use crate::view::{Found, PermitView, Standing};
use num_traits::Zero;

/// So many of the smallest margins are told.
const MARGINS: usize = 3;
/// So many steps that were held are told one by one.
const HELD: usize = 20;

/// Everything that must be seen before a permit is issued; in words why it cannot be shown.
pub fn before_signing(known: &Known<'_>, lines: &[Line], number: &str) -> Result<Vec<Found>, String> {
    let permit = known.state.permits.get(number).ok_or_else(|| format!("there is no permit {number}"))?;
    let texts = Texts::of(known.chain, permit)?;
    let view = view_of(known, lines, number, "")?;
    let bench = Bench::new(known.state, permit, &texts, known.now);
    let limit = sign::valid_to(known, permit, &texts, None);
    let part = |heading, lines| Found { heading, lines };
    Ok(vec![
        part(
            "WHAT ENDS IT FIRST",
            vec![format!("{}: {}", limit.because, at_site(&limit.utc(), &texts.zone))],
        ),
        part("THE JOB", job(&texts, &view)),
        part("WHO GOES ON THIS AIR", wearers(&view)),
        part("THE SMALLEST MARGINS", margins(&bench)),
        part("WHAT WAS HELD, AND HOW IT WAS CLEARED", held(&view)),
        part("READ AGAIN BY A SUPERVISOR, AND NOT THE SAME", disagreed(&bench)),
        part("CARRIED FROM THE REGISTER", carried(&bench)),
        part("DEVIATIONS, LEFT OUT, TO LOOK AT, CHANGES", to_look_at(known, lines, permit, &bench, &view)),
        part("THE AIR", rows(&view, AIR)),
        part("GETTING THEM OUT", rows(&view, OUT)),
    ])
}

/// Everything that must be seen before a suspended permit is reinstated: what stopped it, what was done since.
pub fn before_reinstating(known: &Known<'_>, lines: &[Line], number: &str) -> Result<Vec<Found>, String> {
    let permit = known.state.permits.get(number).ok_or_else(|| format!("there is no permit {number}"))?;
    let texts = Texts::of(known.chain, permit)?;
    let view = view_of(known, lines, number, "")?;
    let part = |heading, lines: Vec<String>, none: &str| {
        let lines = if lines.is_empty() { vec![none.to_owned()] } else { lines };
        Found { heading, lines }
    };
    let issued = ["countersign", "reinstate"].into_iter().filter_map(|kind| permit.last_signed(kind));
    let issued = issued.map(|s| s.stamp.seq).max().unwrap_or(0);
    // What stopped it may have been read or reported just before the line that says so.
    let happened = super::day::from(known, permit, &texts, issued + 1);
    let happened = happened.into_iter().filter(|d| !d.words.starts_with("Copy ")).map(|d| {
        let breach = if d.breach.is_empty() { String::new() } else { format!("  BREACH: {}", d.breach) };
        format!("{} {}{breach} (line {})", d.time, d.words, d.line)
    });
    let mut again = Vec::new();
    for step in view.stages.iter().flat_map(|s| &s.steps) {
        let item = if step.item.is_empty() { String::new() } else { format!(", {}", step.item) };
        let since = permit.since.line;
        for (i, a) in step.answers.iter().enumerate().filter(|(_, a)| a.line >= since) {
            let before = i.checked_sub(1).and_then(|i| step.answers.get(i));
            let before = before.map_or("not answered before".to_owned(), |b| format!("before: {}", b.value));
            let flags = if a.flags.is_empty() {
                String::new()
            } else {
                format!("  LOOK AT THIS: {}", a.flags.join("; "))
            };
            let same = i.checked_sub(1).and_then(|i| step.answers.get(i)).is_some_and(|b| b.value == a.value);
            let figure = a.value.contains(|c: char| c.is_ascii_digit());
            let same = if same && figure { "  THE SAME TO THE DIGIT" } else { "" };
            let name = step.step.replace('_', " ");
            again.push(format!("{} {name}{item}: {} ({before}){same}{flags}", a.time, a.value));
        }
    }
    let against = crate::permit::watch::were_against(known, permit, &texts, issued);
    Ok(vec![
        part("WHAT HAPPENED SINCE IT WAS LAST LIVE", happened.collect(), "nothing is recorded"),
        part("READ OUT OF LIMITS SINCE THEN, WHATEVER WAS READ LATER", against, "nothing"),
        part("ANSWERED AGAIN SINCE IT WAS SUSPENDED", again, "nothing"),
        part("WHAT STANDS AGAINST IT NOW", view.warnings.clone(), "nothing"),
    ])
}

/// Gauges that did not agree on this permit, and what the operator gave then.
fn disagreed(bench: &Bench<'_>) -> Vec<String> {
    let found = sign::disagreements(bench.permit);
    let mut out: Vec<String> = found.iter().map(sign::Disagreed::words).collect();
    if out.is_empty() {
        return vec!["nothing".into()];
    }
    for s in walk::walk(bench) {
        if found.iter().any(|d| d.label == s.label())
            && let Some(a) = s.answers.last()
        {
            out.push(format!(
                "{}: the operator's last answer is {}, line {}",
                s.label(),
                crate::permit::bench::found(s.step, a),
                a.stamp.line
            ));
        }
    }
    out
}

/// The test of the air that was not taken today, as it stands in the register.
fn carried(bench: &Bench<'_>) -> Vec<String> {
    let stands = walk::walk(bench);
    let rests = stands.iter().any(|s| {
        s.standing != Standing::NotApplicable
            && matches!(s.step.kind(), StepKind::Confirm)
            && !bench.rests_on(s.step, s.item.as_ref()).is_empty()
    });
    let mut out = Vec::new();
    if let Some(test) = bench.air_test().filter(|_| rests) {
        out.push(format!("the air test {}", air_test::in_words(test)));
    }
    for s in &stands {
        let Some((a, carry)) = s.answers.last().and_then(|a| Some((a, a.carry.as_ref()?))) else { continue };
        let end = crate::permit::ends::of(s.step, a, bench.permit, bench.texts);
        let end = end.map_or_else(String::new, |e| {
            format!(", ends {}", at_site(&crate::time::utc(e.second), &bench.texts.zone))
        });
        let age = (bench.now.seconds() - crate::time::seconds(&a.stamp.time)).max(0) / 60;
        out.push(format!(
            "{}: {}, {} on {}, {} h {:02} min ago{end}",
            s.label(),
            crate::permit::bench::found(s.step, a),
            crate::time::for_people(&a.stamp.time, &a.stamp.zone),
            carry.from,
            age / 60,
            age % 60
        ));
    }
    if out.is_empty() {
        out.push("nothing: every step was answered anew".into());
    }
    out
}

const AIR: &[&str] =
    &["CO in the air test", "Air tested on", "Next air test by", "On a carbon monoxide alarm"];
const OUT: &[&str] =
    &["Recall signal", "Rescue", "Assembly point", "Radio", "Attendant at the set", "Entry watch"];

/// Rows of page one by their labels, in this order; one that is not there is told as missing.
fn rows(view: &PermitView, labels: &[&str]) -> Vec<String> {
    let note = |label: &str| view.page_one.iter().find(|s| s.label == label).map_or("", |s| s.note.as_str());
    let row = |label: &&str| match note(label) {
        "" => format!("{label}: {}", value(view, label)),
        note => format!("{label}: {} ({note})", value(view, label)),
    };
    labels.iter().map(row).collect()
}

fn value<'v>(view: &'v PermitView, label: &str) -> &'v str {
    view.page_one.iter().find(|s| s.label == label).map_or("NOT RECORDED", |s| s.value.as_str())
}

fn job(texts: &Texts, view: &PermitView) -> Vec<String> {
    let language = &texts.language;
    vec![
        format!("{} at {}", view.job, view.place),
        format!("{}, {}", named(&texts.site, language), view.set),
        format!("entry and work permits: {}", value(view, "Entry and work permits")),
        format!("atmosphere where they work: {}", value(view, "Atmosphere where they work")),
        format!(
            "way out: {}, measured: {}",
            value(view, "Way out"),
            words(&texts.job, "measured_how", language)
        ),
        format!("supply gauge of the set: {}", value(view, "Supply gauge of the set")),
    ]
}

fn wearers(view: &PermitView) -> Vec<String> {
    let row = |w: &crate::view::WearerView| {
        format!(
            "{}: outlet {}, {}, escape set {}, hose {}",
            w.name, w.outlet, w.respirator, w.escape_set, w.hose
        )
    };
    view.wearers.iter().map(row).collect()
}

/// The limits that were met with nothing to spare, and those with least, by their share of the limit.
fn margins(bench: &Bench<'_>) -> Vec<String> {
    let stands = walk::walk(bench);
    let mut all: Vec<_> = stands
        .iter()
        .filter(|s| s.standing == Standing::Open)
        .filter_map(|s| {
            let mut margins = s.step.gate()?.margins(&bench.asker(s.step, s.item.as_ref()));
            if lasts(s.step) {
                // Minutes to spare are never shown: nobody works on reserve.
                margins.iter_mut().for_each(|m| {
                    if let Some((said, _)) = m.words.rsplit_once(": ") {
                        m.words = said.to_owned();
                    }
                });
            }
            Some(margins)
        })
        .flatten()
        .collect();
    all.sort_by(|a, b| a.share.cmp(&b.share));
    // The same figure may be held against its limit by several steps.
    all.dedup_by(|a, b| a.words == b.words);
    // A limit that was met exactly must not hide the next ones: often it is the rating of a plug.
    let exact = all.iter().take_while(|m| m.share.is_zero()).count();
    let mut out: Vec<String> = all.into_iter().take(exact + MARGINS).map(|m| m.words).collect();
    if out.is_empty() {
        out.push("no step of this form holds a figure against a limit".into());
    }
    out
}

/// Whether a step works out how long the reserve lasts.
fn lasts(step: &crate::checklist::Step) -> bool {
    match step.kind() {
        StepKind::Derived(d) => d.expression().calls("endurance"),
        StepKind::Confirm
        | StepKind::Choice(_)
        | StepKind::Reading(_)
        | StepKind::Date
        | StepKind::Text
        | StepKind::Timed(_) => false,
    }
}

fn held(view: &PermitView) -> Vec<String> {
    let mut out = Vec::new();
    for step in view.stages.iter().flat_map(|s| &s.steps) {
        let item = if step.item.is_empty() { String::new() } else { format!(", {}", step.item) };
        let name = format!("{}{item}", step.step.replace('_', " "));
        for (i, a) in step.answers.iter().enumerate().filter(|(_, a)| a.standing == Standing::Hold) {
            let cleared = match step.answers.get(i + 1) {
                Some(next) if next.again.is_empty() => format!("then {} at {}", next.value, next.time),
                Some(next) => format!("{}: {} at {}", next.again, next.value, next.time),
                None if step.standing == Standing::Open => "cleared by what it rests on".to_owned(),
                None => "NOT CLEARED".to_owned(),
            };
            out.push(format!("{} {name}: {}; {cleared}", a.time, a.because.join("; ")));
        }
    }
    let more = out.len().saturating_sub(HELD);
    out.truncate(HELD);
    if more > 0 {
        out.push(format!("and {more} more"));
    }
    if out.is_empty() {
        out.push("nothing was held".into());
    }
    out
}

fn to_look_at(
    known: &Known<'_>,
    lines: &[Line],
    permit: &Permit,
    bench: &Bench<'_>,
    view: &PermitView,
) -> Vec<String> {
    let mut out: Vec<String> = view.warnings.clone();
    out.extend(flags::of(bench).into_iter().map(|f| format!("look at this: {} (line {})", f.whole, f.line)));
    out.extend(changes(known, lines, permit));
    out
}

/// What of set, site, checklist and roster is not as it was on the last permit closed on this set.
fn changes(known: &Known<'_>, lines: &[Line], permit: &Permit) -> Vec<String> {
    if known.state.of_one {
        return vec![
            "whether set, site, checklist or roster changed since the last permit on this set, an excerpt does not \
             tell"
                .into(),
        ];
    }
    let mut out = since_opened(known, lines, permit);
    out.extend(since_last_closed(known, lines, permit));
    out
}
