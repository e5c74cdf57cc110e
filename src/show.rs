//! What a permit says, worked out once for every face: the terminal, JSON and paper render this and add
//! no meaning. Readings stand as they were typed, limits as their file has them; a way out that is no whole
//! figure is rounded up.
//!
//! In: chain, state, texts, as of the last line. Out: [`PermitView`]. No clock: "as of line n" is what
//! paper says, and a screen passes the moment it is drawn at.

mod before;
mod board;
pub mod card;
mod day;
mod gauge;
pub mod orders;
mod page_one;
mod pictures;
pub mod plan;
mod set;
mod texts;

pub use before::{before_reinstating, before_signing};
pub use board::{Row, apart, board};
pub use gauge::{Gauge, gauge};
pub use set::set;
pub use texts::texts;

use crate::checklist::{Each, StepKind};
use crate::gate::{Fact, Facts, Verdict};
use crate::permit::bench::{Bench, Texts};
use crate::permit::decide::Known;
use crate::permit::decide::sign;
use crate::permit::flags;
use crate::permit::said;
use crate::permit::state::{Answer, Deviation, Permit, Signed, State};
use crate::permit::walk::{self, Stand};
use crate::permit::watch;
use crate::permit::{copies, due, ends};
use crate::record::chain::Chain;
use crate::record::line::Line;
use crate::site::Values;
use crate::time::Moment;
use crate::time::{at_site, clock, for_people};
use crate::view::{
    AnswerView, LineNo, PermitView, SignOff, StageView, Standing, StateWord, StepView, WearerView,
};
use jiff::tz::TimeZone;
use num_rational::BigRational;
use std::collections::BTreeMap;

const WARNED_TOO_LATE: &str =
    "When the low-reserve warning sounds, the reserve no longer lasts for the way out. Never wait for it";

/// Before what a reading says against the air.
const OUT_OF_LIMITS: &str = "OUT OF LIMITS: ";

/// How each answer of a permit stood when it was given, by seq, and the state at the last
/// countersignature: what was relied on, whatever came after.
struct Past {
    stood: BTreeMap<String, (Standing, Vec<String>)>,
    issued: Option<(State, Moment)>,
}

fn past(chain: &Chain, lines: &[Line], number: &str, known_of_one: bool) -> Result<Past, String> {
    let mut state = State::default();
    state.of_one = known_of_one;
    let mut past = Past { stood: BTreeMap::new(), issued: None };
    let mut texts: Option<Texts> = None;
    for line in lines {
        if known_of_one && chain.is_beside(line) {
            state.take_beside(line);
        } else {
            state.take(line).map_err(|b| b.why)?;
        }
        if line.permit.as_deref() != Some(number) {
            continue;
        }
        let Some(permit) = state.permits.get(number) else { continue };
        let now = Moment { time: line.time.clone(), zone: line.zone.clone() };
        match line.kind.name {
            "open" | "job" => texts = Some(Texts::of(chain, permit)?),
            "countersign" => past.issued = Some((state.clone(), now)),
            // What is carried is open, or it is not carried.
            "carried" => {
                let cited = line.data.texts("answers").into_iter();
                past.stood.extend(cited.map(|h| (h.to_owned(), (Standing::Open, Vec::new()))));
            }
            "answer" => {
                let Some(texts) = &texts else { continue };
                let own = Bench::new(&state, permit, texts, &now);
                let form = line.data.text("form").unwrap_or_default();
                let bench = match own.shutdown() {
                    Some(b) if b.form.sha256() == form => b,
                    Some(_) | None => own,
                };
                let item = line.data.text("item");
                let Some((_, step)) = bench.form.step(line.data.text("step").unwrap_or_default()) else {
                    continue;
                };
                let item = step
                    .each()
                    .and_then(|e| bench.all_items(e).into_iter().find(|i| Some(i.id.as_str()) == item));
                let stood = match (
                    line.data.has("left_out"),
                    line.data.text("value"),
                    walk::judge(&bench, step, item.as_ref()),
                ) {
                    (true, _, _) => (Standing::OutOfService, Vec::new()),
                    (false, Some("begun"), _) if step.kind().key() == "timed" => {
                        (Standing::Waiting, Vec::new())
                    }
                    (false, _, Verdict::Open) => (Standing::Open, Vec::new()),
                    (false, _, Verdict::Shut(why) | Verdict::Unknown(why)) => (Standing::Hold, why),
                };
                past.stood.insert(line.hash.clone(), stood);
            }
            _ => {}
        }
    }
    Ok(past)
}

/// The view of a permit as of the chain's last line. Steps of the form it was opened on stand as they
/// stood when it was last issued; before that, as they stand now.
pub fn permit(known: &Known<'_>, lines: &[Line], number: &str, copy: &str) -> Result<PermitView, String> {
    let permit = known.state.permits.get(number).ok_or_else(|| format!("there is no permit {number}"))?;
    let texts = Texts::of(known.chain, permit)?;
    let language = texts.language.clone();
    let life = shown_life(known, permit);
    let (state_words, state_means) = state_words(life);
    let mut state_means = state_means.to_owned();
    if life == StateWord::Lapsed && known.state.tally_of_permit(number) > 0 {
        state_means =
            "Nobody goes on this air: its time has run out. Whoever is still on it comes out.".into();
    }
    let speaks = watch::against(known, permit, &texts);
    if life == StateWord::Live && !speaks.is_empty() {
        state_means =
            "Nobody goes on this air until what speaks against it, below, is read again within its limits."
                .into();
    } else if let Some(n) = asked_again(known, permit, &texts) {
        let checks = crate::text::counted(n, "check is", "checks are");
        state_means =
            format!("Nobody goes on this air until {checks} in order again: `airwrit walk {number}`.");
    } else if life == StateWord::Live
        && (!due::holds(known, permit, &texts).is_empty()
            || !due::unsafe_reserve(known, permit, &texts).is_empty())
    {
        state_means = "Nobody goes on this air until what stands against it, below, is in order.".into();
    }
    let past = past(known.chain, lines, number, known.state.of_one)?;
    let bench = Bench::new(known.state, permit, &texts, known.now);
    let issued = past.issued.as_ref().and_then(|(state, now)| {
        let permit = state.permits.get(number)?;
        Some(Bench::new(state, permit, &texts, now))
    });
    // While it is live what counts is now: an answer that went stale since must be seen.
    let basis = match (&issued, life) {
        (None, _) | (Some(_), StateWord::Live | StateWord::Suspended) => &bench,
        (
            Some(b),
            StateWord::Draft
            | StateWord::Declared
            | StateWord::HandedBack
            | StateWord::Closed
            | StateWord::Refused
            | StateWord::Cancelled
            | StateWord::Lapsed,
        ) => b,
    };
    let mut stands = walk::walk(basis);
    for s in &mut stands {
        let now = matches!(life, StateWord::Live | StateWord::Suspended);
        answered_later(s, permit, basis.form.sha256(), (!now).then_some(&past));
    }
    let mut stages = stages(basis, &stands, known, &past);
    let mut every = stands;
    let shutdown = bench.shutdown();
    if permit.shutdown_begun
        && !permit.for_shutdown
        && let Some(b) = &shutdown
    {
        let more = walk::walk(b);
        stages.extend(self::stages(b, &more, known, &past));
        every.extend(more);
    }
    let flags = flags::of(&bench);
    for answer in stages.iter_mut().flat_map(|s| &mut s.steps).flat_map(|s| &mut s.answers) {
        answer.flags = flags.iter().filter(|f| f.line == answer.line).map(|f| f.words.clone()).collect();
    }
    let live = life == StateWord::Live;
    let token = permit.issued().and_then(|s| s.data.text("token")).unwrap_or_default();
    Ok(PermitView {
        number: permit.number.clone(),
        state: life,
        state_words: state_words.into(),
        state_means,
        site: named(&texts.site, &language),
        set: set_name(&texts, &language),
        place: sign::place(&texts),
        job: words(&texts.job, "what", &language),
        valid_to: valid_to(permit, life, &texts.zone),
        valid_because: permit
            .issued()
            .and_then(|s| s.data.text("valid_by"))
            .filter(|_| valid_to(permit, life, &texts.zone) != NOT_VALID)
            .unwrap_or_default()
            .to_owned(),
        not_an_entry_permit: said::not_an_entry_permit(),
        page_one: page_one::statements(known, permit, &texts, &bench, &language, life),
        wearers: wearers(known, permit, &texts, &language),
        warnings: warnings(known, permit, &texts, &every),
        flags: flags.into_iter().map(|f| f.whole).collect(),
        stages,
        day: day::all(known, permit, &texts),
        drawn_with: format!("airwrit {}, words {}", env!("CARGO_PKG_VERSION"), said::VERSION),
        pictures: pictures::all(known, permit, &texts, &bench),
        sign_offs: permit.signed.iter().map(|s| sign_off(s, known)).collect(),
        cautions: said::cautions(),
        check_word: if live { check_word(permit).unwrap_or_default() } else { String::new() },
        token: if live { token.to_owned() } else { String::new() },
        copy: copy.to_owned(),
        log: known.chain.origin.log.clone(),
        as_of: LineNo { volume: known.chain.origin.volume, line: known.chain.seq },
        as_of_hash: known.chain.head.clone(),
        as_of_utc: known.chain.time.clone(),
        language,
    })
}

/// The time of a permit is over, and people are on its air: in words.
pub fn over_with_people(known: &Known<'_>, permit: &Permit) -> Option<String> {
    let end = permit.valid_to.as_deref().filter(|v| *v < known.time())?;
    let on: Vec<&str> = known
        .state
        .on_air
        .iter()
        .filter(|p| p.permit.as_deref() == Some(&permit.number))
        .map(|p| p.person.as_str())
        .collect();
    let end = clock(end, &known.now.zone);
    (!on.is_empty()).then(|| {
        format!(
            "ITS TIME WAS OVER AT {end}, STILL ON ITS AIR: {}. Everyone out: the signal, then `airwrit call-out {}`",
            on.join(", "),
            permit.number
        )
    })
}

/// On a live permit, how many checks keep everybody off its air that were done when it was issued; `None` if none.
pub fn asked_again(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<usize> {
    if shown_life(known, permit) != StateWord::Live {
        return None;
    }
    let bench = Bench::new(known.state, permit, texts, known.now);
    let n = walk::common_before_air(&walk::walk(&bench)).len();
    (n > 0).then_some(n)
}

/// The state that people are told. With somebody on air a permit lapses only once they are off, but nobody
/// may be put on air on it any more: whoever reads must not take it for live.
pub fn shown_life(known: &Known<'_>, permit: &Permit) -> StateWord {
    let over = permit.valid_to.as_deref().is_some_and(|v| v < known.now.time.as_str());
    let life = known.state.life(permit, &known.now.time);
    if over && life == StateWord::Live { StateWord::Lapsed } else { life }
}

/// State in large words and what it means for people.
pub const fn state_words(life: StateWord) -> (&'static str, &'static str) {
    match life {
        StateWord::Draft => ("DRAFT: NOT A PERMIT", "Nobody goes on this air: it is being filled in."),
        StateWord::Declared => {
            ("DECLARED: NOT YET ISSUED", "Nobody goes on this air: the supervisor has not signed.")
        }
        StateWord::Live => ("LIVE", "The wearers named here may be put on this air."),
        StateWord::Suspended => ("SUSPENDED", "Nobody goes on this air. Whoever is on it comes out."),
        StateWord::HandedBack => ("HANDED BACK", "Nobody goes on this air: the work is over."),
        StateWord::Closed => ("CLOSED", "Nobody goes on this air: the permit has ended."),
        StateWord::Refused => ("REFUSED", "Nobody goes on this air: the supervisor said no."),
        StateWord::Cancelled => ("CANCELLED", "Nobody goes on this air: the permit was withdrawn."),
        StateWord::Lapsed => ("LAPSED", "Nobody goes on this air: its time has run out."),
    }
}

/// The word that tells a stale sheet: the first four hex digits of H of the last line that let people on this air, gave
/// a later end or brought another holder; 0..f written A B C D E F H J K L M N P R T X.
pub fn check_word(permit: &Permit) -> Option<String> {
    const LETTERS: &[u8; 16] = b"ABCDEFHJKLMNPRTX";
    let makes = |s: &&Signed| match s.data.text("part") {
        Some(part) => matches!(part, "given" | "incoming"),
        None => matches!(s.kind, "countersign" | "reinstate"),
    };
    let issued = permit.signed.iter().rev().find(makes);
    let hash = &issued?.stamp.hash;
    hash.chars()
        .take(4)
        .map(|c| c.to_digit(16).and_then(|d| LETTERS.get(d as usize)).map(|b| char::from(*b)))
        .collect()
}

fn words(values: &Values, path: &str, language: &str) -> String {
    values.get(path).and_then(|h| h.shown(language)).unwrap_or_default()
}

fn named(values: &Values, language: &str) -> String {
    words(values, "name", language)
}

fn set_name(texts: &Texts, language: &str) -> String {
    format!("{}, serial {}", named(&texts.set, language), words(&texts.set, "serial", language))
}

/// Instead of a time, on a permit that has none.
pub const NOT_VALID: &str = "not valid";

fn valid_to(permit: &Permit, life: StateWord, zone: &TimeZone) -> String {
    match (life, permit.valid_to.as_deref()) {
        (StateWord::Live | StateWord::Suspended | StateWord::Lapsed, Some(v)) => at_site(v, zone),
        (
            StateWord::Draft
            | StateWord::Declared
            | StateWord::Live
            | StateWord::Suspended
            | StateWord::HandedBack
            | StateWord::Closed
            | StateWord::Refused
            | StateWord::Cancelled
            | StateWord::Lapsed,
            _,
        ) => NOT_VALID.into(),
    }
}

fn wearers(known: &Known<'_>, permit: &Permit, texts: &Texts, language: &str) -> Vec<WearerView> {
    let mut out: Vec<WearerView> = texts
        .job
        .items("wearers")
        .iter()
        .map(|w| WearerView {
            name: named(w, language),
            person: w.id().to_owned(),
            respirator: words(w, "respirator_name", language),
            escape_set: w.text("escape_set").map_or("none".into(), |id| {
                texts.site.item("escape_sets", id).map_or(id.to_owned(), |e| named(e, language))
            }),
            hose: words(w, "hose_name", language),
            hose_marks: hose_marks(texts, w, language),
            outlet: texts
                .set
                .item("outlets", w.text("outlet").unwrap_or_default())
                .map_or_else(|| w.text("outlet").unwrap_or_default().to_owned(), |o| named(o, language)),
            tally: "off air".into(),
            since: String::new(),
        })
        .collect();
    for p in known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number)) {
        let since = clock(&p.since.time, &p.since.zone);
        match out.iter_mut().find(|w| w.person == p.person) {
            Some(w) => {
                w.tally = p.whereabouts.words().into();
                w.since = since;
            }
            None => out.push(WearerView {
                name: known.chain.origin.roster.name_of(&p.person).to_owned(),
                person: p.person.clone(),
                respirator: "not on the list of wearers".into(),
                escape_set: String::new(),
                hose: String::new(),
                hose_marks: String::new(),
                outlet: p.outlet.clone().unwrap_or_default(),
                tally: p.whereabouts.words().into(),
                since,
            }),
        }
    }
    out
}

/// What tells the hose of a wearer from every other: serial, length, sections.
fn hose_marks(texts: &Texts, wearer: &Values, language: &str) -> String {
    let hose = wearer.text("hose").and_then(|id| texts.site.item("hoses", id));
    let Some(hose) = hose else { return String::new() };
    let sections = match words(hose, "sections", language) {
        none if none.is_empty() => none,
        one if one == "1" => "in one piece".to_owned(),
        more => format!("{more} sections"),
    };
    let all = [words(hose, "serial", language), words(hose, "length", language), sections];
    all.into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(", ")
}

/// A wearer's name, or what the tally has.
fn wearer(known: &Known<'_>, texts: &Texts, id: &str) -> String {
    let planned = texts.job.items("wearers").iter().find(|w| w.id() == id);
    planned.map_or_else(|| page_one::person(known, texts, id), |w| named(w, &texts.language))
}

/// What time ends soon: answers, and the permit itself.
fn ends_soon(known: &Known<'_>, permit: &Permit, texts: &Texts, every: &[Stand<'_>]) -> Vec<String> {
    let now = known.now.seconds();
    let soon = |second: i64| second >= now && second <= now + ends::SOON;
    let at = |second: i64| at_site(&crate::time::utc(second), &texts.zone);
    let mut out = Vec::new();
    if let Some(v) = permit.valid_to.as_deref().filter(|v| soon(crate::time::seconds(v))) {
        out.push(format!("ENDS AT {}: everyone is off this air by then", at_site(v, &texts.zone)));
    }
    let mut ending: BTreeMap<i64, Vec<(String, String)>> = BTreeMap::new();
    for s in every.iter().filter(|s| s.standing == Standing::Open) {
        let end = s.answers.last().and_then(|a| ends::of(s.step, a, permit, texts));
        if let Some(end) = end.filter(|e| soon(e.second)) {
            ending.entry(end.second).or_default().push((s.label(), end.because));
        }
    }
    // The end of a shift ends most of a form at once: its lines must not bury what else is told here.
    out.extend(ending.into_iter().map(|(second, all)| match all.as_slice() {
        [(label, because)] => format!("Asked again after {}: {label}; {because}", at(second)),
        [] => String::new(),
        [(first, _), rest @ ..] => {
            format!("Asked again after {}: {} answers, from {first} on", at(second), rest.len() + 1)
        }
    }));
    out
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn warnings(known: &Known<'_>, permit: &Permit, texts: &Texts, every: &[Stand<'_>]) -> Vec<String> {
    let mut out = known.keys_lost(permit);
    if !known.life(permit).ended()
        && let Err(refused) = known.clock()
    {
        let why = refused.why.join("; ");
        out.push(format!(
            "NOBODY KNOWS THE TIME: {why}. Every age and time shown here may be wrong; nothing is timed"
        ));
    }
    out.extend(over_with_people(known, permit));
    if !known.life(permit).ended() {
        out.extend(watch::against(known, permit, texts).into_iter().map(|w| format!("{OUT_OF_LIMITS}{w}")));
    }
    let outlets = Bench::new(known.state, permit, texts, known.now).items(&Each::Set("outlets".into()));
    for w in texts.job.items("wearers") {
        let outlet = w.text("outlet").unwrap_or_default();
        if !known.life(permit).ended() && !outlets.iter().any(|o| o.id == outlet) {
            let name = named(w, &texts.language);
            out.push(format!(
                "{name} cannot go on air: the outlet {outlet}, planned for them, is out of service"
            ));
        }
    }
    out.extend(copies::stale(known, permit).iter().map(|c| capital(&c.words())));
    if let Some(state) = known.state.sets.get(&permit.set.id) {
        out.extend(state.held_by.values().map(|(station, read)| {
            let when = for_people(&read.time, &read.zone);
            format!("THIS SET STANDS IN THE REGISTER OF {station} TOO (read {when}): nobody may stop it for the other")
        }));
    }
    let now = known.now.seconds();
    out.extend(due::due(known, permit, texts).iter().filter_map(|d| d.words(now, &known.now.zone)));
    if !known.life(permit).ended() {
        out.extend(due::unsafe_reserve(known, permit, texts));
    }
    if known.life(permit) == StateWord::Live {
        out.extend(ends_soon(known, permit, texts, every));
    }
    if let Some(first) = &permit.pending {
        let what = if first.kind == "extend" {
            "A later end is asked for; no supervisor has given it"
        } else {
            "It is handed over; the new holder has not taken it"
        };
        out.push(format!("{what}: since {}", clock(&first.stamp.time, &first.stamp.zone)));
    }
    let longest = texts.job.quantity("longest_spell");
    for p in known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(&permit.number)) {
        let on = crate::permit::decide::air::spell(known, texts, &p.person);
        let over = longest.is_some_and(|most| BigRational::from_integer(on.into()) > most.value);
        if over {
            let name = wearer(known, texts, &p.person);
            let most = words(&texts.job, "longest_spell", &texts.language);
            out.push(format!(
                "{name} is on air since {} min, the longest spell is {most}: bring them out",
                on / 60
            ));
        }
    }
    if texts.set.choice("reserve") == Some("none") {
        out.push("NO RESERVE: WHEN IT STOPS, THE AIR IS GONE".into());
    }
    if page_one::warned_too_late(texts, every) {
        out.push(WARNED_TOO_LATE.into());
    }
    let mut left: Vec<String> = every
        .iter()
        .filter(|s| s.standing == Standing::OutOfService)
        .filter_map(|s| s.item.as_ref().map(|i| format!("Out of service: {}: {}", i.name, s.why.join("; "))))
        .collect();
    left.dedup();
    left.sort();
    left.dedup();
    out.extend(left);
    for (s, d) in every.iter().filter_map(|s| s.deviation().map(|d| (s, d))) {
        let head = if s.accepted {
            "Deviation, accepted by the supervisor"
        } else {
            "Deviation, accepted by nobody"
        };
        out.push(format!("{head}: {}: {}. Instead: {}", s.label(), s.why.join("; "), d.instead));
    }
    if let Some(limits) = permit.last_signed("countersign").and_then(|s| s.data.get("limits")) {
        if let Some(n) = limits.int("wearers") {
            out.push(format!("Limited by the supervisor: at most {n} on air at once"));
        }
        if let Some(w) = limits.text("words") {
            out.push(format!("Limited by the supervisor: {w}"));
        }
    }
    for s in every.iter().filter(|s| s.step.critical() && s.standing == Standing::Hold) {
        out.push(format!("Holds: {}", s.label()));
    }
    out
}

/// A step that was answered after the permit was issued (a wearer's own, before their first time on air)
/// stands as its last answer left it, and not as the issue found it. While it is live it stands as it is now: every
/// answer is shown, and one that ended does not count.
fn answered_later<'a>(s: &mut Stand<'a>, permit: &'a Permit, form: &str, past: Option<&Past>) {
    let of_it = |a: &&Answer| a.form == form && a.step == s.step.id() && a.item.as_deref() == s.item_id();
    let answers: Vec<&Answer> = permit.answers.iter().filter(of_it).collect();
    if answers.len() <= s.answers.len() {
        return;
    }
    if let Some((standing, why)) = answers.last().and_then(|a| past?.stood.get(&a.stamp.hash)) {
        s.standing = *standing;
        s.why.clone_from(why);
    }
    s.answers = answers;
}

fn stages(bench: &Bench<'_>, stands: &[Stand<'_>], known: &Known<'_>, past: &Past) -> Vec<StageView> {
    let language = &bench.texts.language;
    let form = format!("{}, revision {}", bench.form.title().get(language), bench.form.revision());
    let mut out: Vec<StageView> = Vec::new();
    let mut last = "";
    for s in stands {
        if last != s.stage.id() || out.is_empty() {
            last = s.stage.id();
            out.push(StageView {
                form: form.clone(),
                title: s.stage.title().get(language).into(),
                steps: Vec::new(),
            });
        }
        if let Some(stage) = out.last_mut() {
            stage.steps.push(step_view(bench, s, known, past));
        }
    }
    out
}

/// A condition longer than this is not put into words: nobody reads it.
const LONGEST_WANTED: usize = 140;

/// True while a limit must not be told: the step is blind and waits for an answer, the first or a new one.
pub fn hides(s: &Stand<'_>) -> bool {
    s.step.blind() && (s.answers.is_empty() || s.standing == Standing::Waiting)
}

/// What the gate of a step names.
fn named_by_gate(s: &Stand<'_>) -> Vec<String> {
    s.step.gate().map(|g| g.names().map(|u| u.name.join(".")).collect()).unwrap_or_default()
}

/// Why a step is there, in words; empty where it has none, or where it might tell a limit too early: a
/// figure, or the value of something that the gate names.
pub fn because(bench: &Bench<'_>, s: &Stand<'_>) -> String {
    let Some(t) = s.step.because() else { return String::new() };
    let words = bench.words(t, s.item.as_ref());
    let named = named_by_gate(s);
    let tells = words.chars().any(char::is_numeric) || t.names().iter().any(|n| named.contains(n));
    if hides(s) && tells { String::new() } else { words }
}

/// The condition of a step in words, limits with their values; empty where it has none, or where it is
/// blind and waits for an answer.
pub fn wanted(bench: &Bench<'_>, s: &Stand<'_>) -> String {
    let Some(gate) = s.step.gate().filter(|_| !hides(s)) else { return String::new() };
    let asker = bench.asker(s.step, s.item.as_ref());
    let words = gate.words(&|name: &Vec<String>| {
        if let [step, choice] = name.as_slice()
            && let Some(words) = asker.choice(&vec![step.clone()], choice)
        {
            return Some(words);
        }
        let called = match name.as_slice() {
            [step] => bench.form.step(step).map(|(_, step)| Bench::label(step, None)),
            [] | [_, _, ..] => None,
        };
        let own = called.or_else(|| name.last().map(|n| n.replace('_', " ")));
        match (name.len(), asker.fact(name)) {
            (2.., Fact::Is { shown, .. }) => Some(format!("{shown} ({})", own.unwrap_or_default())),
            (_, _) => own,
        }
    });
    if words.chars().count() > LONGEST_WANTED { String::new() } else { words }
}

fn step_view(bench: &Bench<'_>, s: &Stand<'_>, known: &Known<'_>, past: &Past) -> StepView {
    StepView {
        step: s.step.id().into(),
        item: s.item.as_ref().map(|i| i.name.clone()).unwrap_or_default(),
        ask: match bench.rests_on(s.step, s.item.as_ref()) {
            from if from.is_empty() => bench.words(s.step.ask(), s.item.as_ref()),
            from => {
                let derived = matches!(s.step.kind(), StepKind::Derived(_));
                let head = if derived { "worked out from" } else { "what stands there" };
                format!("{} ({head}: {})", bench.words(s.step.ask(), s.item.as_ref()), from.join("; "))
            }
        },
        standing: s.standing,
        answers: s
            .answers
            .iter()
            .map(|a| {
                let (standing, because) =
                    past.stood.get(&a.stamp.hash).cloned().unwrap_or((Standing::Waiting, Vec::new()));
                AnswerView {
                    value: shown(s, a),
                    time: clock(&a.stamp.time, &a.stamp.zone),
                    by: known.chain.origin.roster.name_of(&a.stamp.by).to_owned(),
                    standing,
                    because,
                    carried: carried(a),
                    again: a.again.as_deref().unwrap_or_default().replace('_', " "),
                    flags: Vec::new(),
                    deviation: a.deviation.as_ref().map(|d| left_so(d, known)).unwrap_or_default(),
                    told: day::told(a.at.as_deref(), a.told_by.as_deref(), &a.stamp.time, &a.stamp.zone),
                    words: a.words.clone().unwrap_or_default(),
                    line: a.stamp.line,
                }
            })
            .collect(),
        wanted: wanted(bench, s),
        why: match (s.standing, s.accepted) {
            (Standing::Open, _) => String::new(),
            (Standing::Deviation, true) => format!("{}; accepted by the supervisor", s.why.join("; ")),
            (Standing::Deviation, false) => format!("{}; no supervisor has accepted it", s.why.join("; ")),
            (Standing::Hold | Standing::Waiting | Standing::NotApplicable | Standing::OutOfService, _) => {
                s.why.join("; ")
            }
        },
        critical: s.step.critical(),
    }
}

/// Where an answer that was carried was given; empty where it was given here.
fn carried(a: &Answer) -> String {
    let Some(carry) = &a.carry else { return String::new() };
    format!(
        "carried at {} from {}, given {}",
        clock(&carry.stamp.time, &carry.stamp.zone),
        carry.from,
        for_people(&a.stamp.time, &a.stamp.zone)
    )
}

/// Who left an answer as a deviation, why, and what is done instead.
fn left_so(d: &Deviation, known: &Known<'_>) -> String {
    let by = known.chain.origin.roster.name_of(&d.stamp.by);
    let at = clock(&d.stamp.time, &d.stamp.zone);
    format!("left so at {at} by {by}: {}; instead: {}", d.reason, d.instead)
}

fn shown(s: &Stand<'_>, a: &Answer) -> String {
    if let Some(reason) = &a.left_out {
        return format!("left out: {reason}");
    }
    match s.step.choices().iter().find(|(id, _)| Some(id) == a.value.as_ref()) {
        Some((_, words)) => words.own().to_owned(),
        None => {
            let unit = match s.step.kind() {
                crate::checklist::StepKind::Derived(d) => d.form().and_then(|f| f.unit()).map(|u| u.symbol()),
                crate::checklist::StepKind::Confirm
                | crate::checklist::StepKind::Choice(_)
                | crate::checklist::StepKind::Reading(_)
                | crate::checklist::StepKind::Date
                | crate::checklist::StepKind::Text
                | crate::checklist::StepKind::Timed(_) => None,
            };
            match unit {
                Some(u) => format!("{} {u}", answer_text(a)),
                None => answer_text(a),
            }
        }
    }
}

fn answer_text(a: &Answer) -> String {
    let value = a.value.as_deref().unwrap_or_default();
    let below = if a.below { "< " } else { "" };
    match &a.unit {
        Some(u) => format!("{below}{value} {u}"),
        None => format!("{below}{value}"),
    }
}

fn sign_off(s: &Signed, known: &Known<'_>) -> SignOff {
    let what = match s.kind {
        "declare" => "Declared",
        "countersign" => "Countersigned",
        "refuse" => "Refused",
        "hand_back" => "Handed back",
        "close" => "Closed",
        "cancel" => "Cancelled",
        "reinstate" => "Reinstated",
        "extend" if s.data.text("part") == Some("given") => "Later end given",
        "extend" => "Later end asked for",
        "hand_over" if s.data.text("part") == Some("incoming") => "Taken over",
        "hand_over" => "Handed over",
        other => other,
    };
    SignOff {
        what: what.into(),
        name: known.chain.origin.roster.name_of(&s.stamp.by).into(),
        person: s.stamp.by.clone(),
        role: match s.data.text("where") {
            Some("own") => {
                format!("{}, on their own machine at {}", s.role, clock(&s.time, &s.stamp.zone))
            }
            Some(_) | None => s.role.into(),
        },
        key: s.key.clone(),
        time: for_people(&s.stamp.time, &s.stamp.zone),
        said: s.said.clone(),
        line: s.stamp.line,
        hash: s.stamp.hash.clone(),
    }
}
