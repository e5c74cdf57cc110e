//! What a supervisor is shown before signing: one screen, the same at the station and elsewhere, in the order in
//! which it is to be read.
//!
//! In: everything that is known. Out: final words under headings. Decides nothing.

use super::{Much, named, of_permit, view_of, words};
use crate::checklist::StepKind;
use crate::permit::bench::{Bench, Texts, air_test};
use crate::permit::decide::{Known, sign};
use crate::permit::since::{since_last_closed, since_opened};
use crate::permit::state::Permit;
use crate::permit::walk;
use crate::permit::{copies, flags};
use crate::record::line::Line;
use crate::time::{at_site, clock, seconds};
use crate::tongue::{Tongue, say};
use crate::view::{About, Found, PermitView, Standing};
use num_traits::Zero;

/// So many of the smallest margins are told.
const MARGINS: usize = 3;
/// So many steps that were held are told one by one.
const HELD: usize = 20;

/// Everything that must be seen before a permit is issued, in the language asked for, else the site's; in words why it
/// cannot be shown.
pub fn before_signing(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    asked: Option<Tongue>,
) -> Result<Vec<Found>, String> {
    of_permit(known, number, asked, |permit, texts| {
        let view = view_of(known, lines, permit, texts, None, Much::All)?;
        let bench = Bench::new(known.state, permit, texts, known.now);
        let limit = sign::valid_to(known, permit, texts, None);
        let part = |heading, lines| Found { heading, lines, earlier: Vec::new() };
        let (was_held, earlier) = held(&view);
        Ok(vec![
            part(
                say!("WHAT ENDS IT FIRST"),
                vec![format!("{}: {}", limit.because, at_site(&limit.utc(), &texts.zone))],
            ),
            part(say!("THE JOB"), job(texts, &view)),
            part(say!("WHO GOES ON THIS AIR"), wearers(&view)),
            part(say!("THE SMALLEST MARGINS"), margins(&bench)),
            Found { heading: say!("WHAT WAS HELD, AND HOW IT WAS CLEARED"), lines: was_held, earlier },
            part(say!("READ AGAIN BY A SUPERVISOR, AND NOT THE SAME"), disagreed(known, &bench)),
            part(say!("CARRIED FROM THE REGISTER"), carried(&bench)),
            part(
                say!("DEVIATIONS, LEFT OUT, TO LOOK AT, CHANGES"),
                to_look_at(known, lines, permit, &bench, &view),
            ),
            part(say!("THE AIR"), rows(&view, &AIR)),
            part(say!("GETTING THEM OUT"), rows(&view, &OUT)),
        ])
    })
}

/// What must be seen before a permit is declared: calls and events that nothing ended. No part where there is none.
pub fn before_declaring(
    known: &Known<'_>,
    number: &str,
    asked: Option<Tongue>,
) -> Result<Vec<Found>, String> {
    of_permit(known, number, asked, |permit, _| {
        let lines = crate::permit::called::before_issue(known, permit);
        let part = Found { heading: say!("WHAT STANDS AGAINST IT NOW"), lines, earlier: Vec::new() };
        Ok(Some(part).filter(|p| !p.lines.is_empty()).into_iter().collect())
    })
}

/// A loss of supply that stops most machines, of one that is not told to have stopped: what holds for one start was not asked again.
fn tripped(known: &Known<'_>, permit: &Permit) -> Option<String> {
    let set = known.state.sets.get(&permit.set.id)?;
    let of = |what: &str| set.events.get(what).filter(|at| at.seq >= permit.since.seq);
    let at = of("change_over").into_iter().chain(of("supply_low")).max_by_key(|at| at.seq)?;
    let told = ["stopped", "started"].iter().any(|k| set.last.get(k).is_some_and(|h| h.stamp.seq > at.seq));
    (!told).then(|| {
        say!(
            "SUPPLY LOST at {time}, and the set is told neither to have stopped nor to have started since: if it stood still, \
             tell both first, and what is good for one start is asked again, the change-over too",
            time = clock(&at.time, &at.zone)
        )
    })
}

/// Everything that must be seen before a suspended permit is reinstated: what stopped it, what was done since.
pub fn before_reinstating(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    asked: Option<Tongue>,
) -> Result<Vec<Found>, String> {
    of_permit(known, number, asked, |permit, texts| {
        let view = view_of(known, lines, permit, texts, None, Much::All)?;
        let part = |heading, lines: Vec<String>, none: &str| {
            let lines = if lines.is_empty() { vec![none.to_owned()] } else { lines };
            Found { heading, lines, earlier: Vec::new() }
        };
        let issued = ["countersign", "reinstate"].into_iter().filter_map(|kind| permit.last_signed(kind));
        let issued = issued.map(|s| s.stamp.seq).max().unwrap_or(0);
        // What stopped it may have been read or reported just before the line that says so.
        let happened = super::day::but_copies(known, permit, texts, issued + 1);
        let happened = happened.into_iter().map(|d| {
            let breach = match d.breach.as_str() {
                "" => String::new(),
                breach => format!("  {}", say!("BREACH: {breach}", breach)),
            };
            format!("{} {}{breach} ({})", d.time, d.words, say!("line {line}", line = d.line))
        });
        let (answered, earlier) = answered_again(permit, &view);
        let against = crate::permit::watch::were_against(known, permit, texts, issued);
        let stands = tripped(known, permit).into_iter().chain(view.warnings.iter().cloned()).collect();
        Ok(vec![
            part(
                say!("WHAT HAPPENED SINCE IT WAS LAST LIVE"),
                happened.collect(),
                say!("nothing is recorded"),
            ),
            part(say!("READ OUT OF LIMITS SINCE THEN, WHATEVER WAS READ LATER"), against, say!("nothing")),
            Found {
                earlier,
                ..part(say!("ANSWERED AGAIN SINCE IT WAS SUSPENDED"), answered, say!("nothing"))
            },
            part(say!("WHAT STANDS AGAINST IT NOW"), stands, say!("nothing")),
        ])
    })
}

/// How a permit, its set and the people on its air stand: what is signed for by whoever gives it on, takes it or closes it.
pub fn as_it_stands(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    asked: Option<Tongue>,
) -> Result<Vec<Found>, String> {
    of_permit(known, number, asked, |permit, texts| {
        let row = super::board::row(known, lines, permit, texts)?;
        let others = super::warnings::others(known, permit, texts);
        let lost = crate::permit::decide::crew::lost_in_words(known, permit);
        let on_air = lost.into_iter().chain(row.on_air).chain(others).collect();
        let part = |heading, lines: Vec<String>, none: &str| {
            let lines = if lines.is_empty() { vec![none.to_owned()] } else { lines };
            Found { heading, lines, earlier: Vec::new() }
        };
        let bench = Bench::new(known.state, permit, texts, known.now);
        let at_shutdown = read_at_shutdown(&bench);
        let none = say!("nothing was read since it was opened");
        let read = match at_shutdown.is_empty() {
            true => vec![part(say!("READ LAST"), row.readings, none)],
            false => vec![
                part(say!("READ AT THE SHUTDOWN"), at_shutdown, none),
                part(say!("READ BEFORE IT"), row.readings, none),
            ],
        };
        let set = part(say!("THE SET"), vec![runs(known, permit)], "");
        let mut all = vec![part(say!("WHO IS ON ITS AIR"), on_air, say!("nobody, by the tally")), set];
        all.extend(read);
        all.push(part(say!("WHAT STANDS AGAINST IT NOW"), row.warnings, say!("nothing")));
        all.push(part(say!("WHAT IS OPEN"), open(permit, &bench), say!("nothing")));
        Ok(all)
    })
}

/// Gauges that were read for the shutdown, each with its time.
fn read_at_shutdown(bench: &Bench<'_>) -> Vec<String> {
    let Some(shutdown) = bench.shutdown().filter(|_| bench.permit.shutdown_begun) else { return Vec::new() };
    let read = |s: &walk::Stand<'_>| {
        let a = s.answers.last().filter(|a| a.unit.is_some())?;
        Some(say!(
            "{step}: {answer} at {time}",
            step = s.label(),
            answer = crate::permit::bench::found(s.step, a, s.language),
            time = clock(&a.stamp.time, &a.stamp.zone)
        ))
    };
    walk::walk(&shutdown).iter().filter_map(read).collect()
}

/// Whether its set runs, by the register, and since when.
fn runs(known: &Known<'_>, permit: &Permit) -> String {
    let set = &permit.set.id;
    let last = |kind: &str| {
        let h = known.state.sets.get(set)?.last.get(kind)?;
        Some(clock(h.data.text("at").unwrap_or(&h.stamp.time), &h.stamp.zone))
    };
    let runs = known.state.sets.get(set).is_some_and(crate::permit::state::SetState::running);
    match (runs, last("started"), last("stopped")) {
        (true, Some(time), _) => say!("{set} RUNS since {time}", set, time),
        (false, _, Some(time)) => say!("{set} stands still since {time}", set, time),
        (_, _, _) => say!("{set} stands still: no start of it is recorded", set),
    }
}

/// Steps that are not done, of the work and of a shutdown that was begun; copies that hang.
fn open(permit: &Permit, bench: &Bench<'_>) -> Vec<String> {
    let label = |s: &walk::Stand<'_>| match s.why.join("; ") {
        why if why.is_empty() => s.label(),
        why => format!("{}: {why}", s.label()),
    };
    let left =
        |b: &Bench<'_>| -> Vec<String> { walk::walk(b).iter().filter(|s| !s.done()).map(label).collect() };
    // What the work asked for is not asked any more once its set is shut down.
    let mut out = match bench.shutdown().filter(|_| permit.shutdown_begun || permit.for_shutdown) {
        Some(shutdown) => left(&shutdown),
        None => left(bench),
    };
    let more = out.len().saturating_sub(HELD);
    out.truncate(HELD);
    if more > 0 {
        out.push(say!("and {n} more", n = more));
    }
    out.extend(copies::up(permit).into_iter().map(|c| {
        say!(
            "copy {number} ({sheet}) hangs: “{place}”",
            number = c.number,
            sheet = copies::sheet_word(&c.sheet),
            place = c.hangs
        )
    }));
    out
}

/// The answers since it was suspended, each with the one before it; and which of them another one of the same step followed.
fn answered_again(permit: &Permit, view: &PermitView) -> (Vec<String>, Vec<usize>) {
    let (mut out, mut earlier) = (Vec::new(), Vec::new());
    for step in view.stages.iter().flat_map(|s| &s.steps) {
        let item = if step.item.is_empty() { String::new() } else { format!(", {}", step.item) };
        let since = permit.since.line;
        let first = out.len();
        for (i, a) in step.answers.iter().enumerate().filter(|(_, a)| a.line >= since) {
            let before = i.checked_sub(1).and_then(|i| step.answers.get(i));
            let same = before.is_some_and(|b| b.value == a.value);
            let before = match before {
                Some(b) => say!("before: {value}", value = b.value),
                None => say!("not answered before").to_owned(),
            };
            let flags = match a.flags.join("; ") {
                none if none.is_empty() => none,
                flags => format!("  {}", say!("LOOK AT THIS: {flags}", flags)),
            };
            let figure = a.value.contains(|c: char| c.is_ascii_digit());
            let same = match same && figure {
                true => format!("  {}", say!("THE SAME TO THE DIGIT")),
                false => String::new(),
            };
            let name = &step.called;
            out.push(format!("{} {name}{item}: {} ({before}){same}{flags}", a.time, a.value));
        }
        earlier.extend(first..out.len().saturating_sub(1));
    }
    (out, earlier)
}

/// Other permits of the set that a supervisor refused within the last day: whoever is asked next is told.
fn refused_before(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let others =
        known.state.permits.at_hand().filter(|p| p.set.id == permit.set.id && p.number != permit.number);
    let refused = others.filter_map(|p| Some((p, p.last_signed("refuse")?)));
    let late = refused.filter(|(_, s)| known.now.seconds() - seconds(&s.stamp.time) <= 86_400);
    late.map(|(p, s)| {
        say!(
            "{permit} of this set was refused by {name} at {time}: {reason}",
            permit = p.number,
            name = known.chain.origin.roster.name_of(&s.stamp.by),
            time = clock(&s.stamp.time, &s.stamp.zone),
            reason = s.data.text("reason").unwrap_or_default()
        )
    })
    .collect()
}

/// Gauges that did not agree on this permit, and what the operator gave then.
fn disagreed(known: &Known<'_>, bench: &Bench<'_>) -> Vec<String> {
    let found = sign::disagreements(bench.permit);
    let mut out: Vec<String> = refused_before(known, bench.permit);
    out.extend(found.iter().map(sign::Disagreed::words));
    if out.is_empty() {
        return vec![say!("nothing").into()];
    }
    for s in &walk::walk(bench) {
        // The record calls a gauge in the language in which it was refused.
        if found.iter().any(|d| s.is_called(&d.label))
            && let Some(a) = s.answers.last()
        {
            out.push(say!(
                "{step}: the operator's last answer is {answer}, line {line}",
                step = s.label(),
                answer = crate::permit::bench::found(s.step, a, s.language),
                line = a.stamp.line
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
        out.push(say!("the air test {test}", test = air_test::in_words(test)));
    }
    for s in &stands {
        let Some((a, carry)) = s.answers.last().and_then(|a| Some((a, a.carry.as_ref()?))) else { continue };
        let end = crate::permit::ends::of(s.step, a, bench.permit, bench.texts);
        let end = end.map_or_else(String::new, |e| {
            let end = at_site(&crate::time::utc(e.second), &bench.texts.zone);
            format!(", {}", say!("ends {time}", time = end))
        });
        let age = (bench.now.seconds() - crate::time::seconds(&a.stamp.time)).max(0) / 60;
        let carried = say!(
            "{step}: {answer}, {time} on {permit}, {hours} h {minutes} min ago",
            step = s.label(),
            answer = crate::permit::bench::found(s.step, a, s.language),
            time = crate::time::for_people(&a.stamp.time, &a.stamp.zone),
            permit = carry.from,
            hours = age / 60,
            minutes = format!("{:02}", age % 60)
        );
        out.push(carried + &end);
    }
    if out.is_empty() {
        out.push(say!("nothing: every step was answered anew").into());
    }
    out
}

const AIR: [About; 4] = [About::CoTested, About::AirTested, About::NextAirTest, About::OnCo];
const OUT: [About; 6] =
    [About::Recall, About::Rescue, About::Assembly, About::Radio, About::Attendant, About::EntryWatch];

/// Rows of page one, in this order; one that is not there is told as missing.
fn rows(view: &PermitView, all: &[About]) -> Vec<String> {
    let note = |about: About| view.page_one.iter().find(|s| s.about == about).map_or("", |s| s.note.as_str());
    let row = |about: &About| match note(*about) {
        "" => format!("{}: {}", about.label(), value(view, *about)),
        note => format!("{}: {} ({note})", about.label(), value(view, *about)),
    };
    all.iter().map(row).collect()
}

fn value(view: &PermitView, about: About) -> &str {
    view.page_one.iter().find(|s| s.about == about).map_or(say!("NOT RECORDED"), |s| s.value.as_str())
}

fn job(texts: &Texts, view: &PermitView) -> Vec<String> {
    let language = &texts.language;
    vec![
        say!("{job} at {place}", job = view.job, place = view.place),
        format!("{}, {}", named(&texts.site, language), view.set),
        say!("entry and work permits: {permits}", permits = value(view, About::OtherPermits)),
        say!("atmosphere where they work: {atmosphere}", atmosphere = value(view, About::Atmosphere)),
        say!(
            "way out: {way_out}, measured: {how}",
            way_out = value(view, About::WayOut),
            how = words(&texts.job, "measured_how", language)
        ),
        say!("supply gauge of the set: {pressures}", pressures = value(view, About::SupplyGauge)),
    ]
}

fn wearers(view: &PermitView) -> Vec<String> {
    let row = |w: &crate::view::WearerView| {
        say!(
            "{name}: at {outlet}, {respirator}, escape set {escape_set}, hose {hose}",
            name = w.name,
            outlet = w.outlet,
            respirator = w.respirator,
            escape_set = w.escape_set,
            hose = w.hose
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
                margins.iter_mut().for_each(|m| m.words.clone_from(&m.bare));
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
        out.push(say!("no step of this form holds a figure against a limit").into());
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

/// Each hold, and which of them another one of the same step followed.
fn held(view: &PermitView) -> (Vec<String>, Vec<usize>) {
    let (mut out, mut earlier) = (Vec::new(), Vec::new());
    for step in view.stages.iter().flat_map(|s| &s.steps) {
        let item = if step.item.is_empty() { String::new() } else { format!(", {}", step.item) };
        let name = format!("{}{item}", step.called);
        let first = out.len();
        for (i, a) in step.answers.iter().enumerate().filter(|(_, a)| a.standing == Standing::Hold) {
            let cleared = match step.answers.get(i + 1) {
                Some(next) if next.again.is_empty() => {
                    say!("then {answer} at {time}", answer = next.value, time = next.time)
                }
                Some(next) => {
                    let (done, answer, time) = (&next.again, &next.value, &next.time);
                    say!("{done}: {answer} at {time}", done, answer, time)
                }
                None if step.standing == Standing::Open => say!("cleared by what it rests on").to_owned(),
                None => say!("NOT CLEARED").to_owned(),
            };
            out.push(format!("{} {name}: {}; {cleared}", a.time, a.because.join("; ")));
        }
        earlier.extend(first..out.len().saturating_sub(1));
    }
    let more = out.len().saturating_sub(HELD);
    out.truncate(HELD);
    // Where the list was cut, no line of the same step follows its last one.
    earlier.retain(|at| at + 1 < out.len());
    if more > 0 {
        out.push(say!("and {n} more", n = more));
    }
    if out.is_empty() {
        out.push(say!("nothing was held").into());
    }
    (out, earlier)
}

fn to_look_at(
    known: &Known<'_>,
    lines: &[Line],
    permit: &Permit,
    bench: &Bench<'_>,
    view: &PermitView,
) -> Vec<String> {
    let mut out: Vec<String> = view.warnings.clone();
    let flag = |f: flags::Flag| say!("look at this: {flag} (line {line})", flag = f.whole, line = f.line);
    out.extend(flags::of(bench).into_iter().map(flag));
    out.extend(changes(known, lines, permit));
    out
}

/// What of set, site, checklist and roster is not as it was on the last permit closed on this set.
fn changes(known: &Known<'_>, lines: &[Line], permit: &Permit) -> Vec<String> {
    if known.state.of_one {
        return vec![
            say!(
                "whether set, site, checklist or roster changed since the last permit on this set, an excerpt does not \
                 tell"
            )
            .into(),
        ];
    }
    let mut out = since_opened(known, lines, permit);
    out.extend(since_last_closed(known, lines, permit));
    out
}
