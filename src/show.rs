//! What a permit says, worked out once for every face: the terminal, JSON and paper render this and add
//! no meaning. Readings stand as they were typed, limits as their file has them; a way out that is no whole
//! figure is rounded up.
//!
//! In: chain, state, texts, as of the last line; the language asked for, or none: then the site's. Out: [`PermitView`].
//! Always: fixed words and the texts of form, site and set are taken in one language, which the view names; what people
//! typed, signed and were told at the time stays as it is. No clock: "as of line n" is what paper says, and a screen
//! passes the moment it is drawn at.

mod alarm;
mod before;
mod board;
pub mod card;
mod day;
mod gauge;
pub mod orders;
mod out_now;
mod page_one;
mod past;
mod pictures;
pub mod plan;
mod set;
mod texts;
mod warnings;

pub use alarm::{leave_by_order, of_the_reserve, stands};
pub use before::{as_it_stands, before_declaring, before_reinstating, before_signing};
pub use board::{Row, apart, board, last_read};
pub use gauge::{Gauge, gauge};
pub use out_now::{out_everywhere, out_of_no_row, out_of_suspended};
pub use page_one::atmosphere;
pub use set::set;
pub use texts::texts;
use warnings::{limited, out_of_limits, warned_too_late, warnings};
pub use warnings::{over_with_people, too_long_on_air};

use crate::checklist::StepKind;
use crate::gate::{Fact, Facts, Verdict};
use crate::permit::bench::{Asker, Bench, Texts, site_language};
use crate::permit::decide::{Known, crew, sign};
use crate::permit::due;
use crate::permit::flags;
use crate::permit::said;
use crate::permit::state::{Answer, Deviation, Permit, Signed};
use crate::permit::valid;
use crate::permit::walk::{self, Stand};
use crate::permit::watch;
use crate::record::line::Line;
use crate::site::Values;
use crate::time::{at_site, clock, for_people};
use crate::tongue::{Tongue, say, say_n};
use crate::view::{
    AnswerView, LineNo, PermitView, SignOff, StageView, Standing, StateWord, StepView, WearerView, recorded,
};
use jiff::tz::TimeZone;
use past::Past;

/// Makes something of a permit in the language asked for, else its site's: fixed words, and the texts of form, site and
/// set. Where the site's language is not spoken here, fixed words are English.
fn of_permit<T>(
    known: &Known<'_>,
    number: &str,
    asked: Option<Tongue>,
    make: impl FnOnce(&Permit, &Texts) -> Result<T, String>,
) -> Result<T, String> {
    let permit = known.state.permits.get(number);
    let permit = permit.ok_or_else(|| match number.trim() {
        "" => say!("the number of the permit is empty").to_owned(),
        _ => say!("there is no permit {permit}", permit = number),
    })?;
    let mut texts = Texts::of(known.chain, permit)?;
    match asked {
        Some(tongue) => {
            texts.language = tongue.tag().to_owned();
            tongue.within_asked(|| make(permit, &texts))
        }
        // Whatever was asked of the run: a paper is drawn again in the language it was drawn in.
        None => {
            texts.language = site_language(&texts.site).to_owned();
            Tongue::of(&texts.language).unwrap_or(Tongue::English).within(|| make(permit, &texts))
        }
    }
}

/// The view of a permit as of the chain's last line, in the language asked for, else the site's. `copy` is its number and
/// where it hangs.
pub fn permit(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    copy: Option<(u64, &str)>,
    asked: Option<Tongue>,
) -> Result<PermitView, String> {
    of_permit(known, number, asked, |permit, texts| view_of(known, lines, permit, texts, copy, Much::All))
}

/// The same without what stands behind its first page: steps, flags, day, sign-offs, pictures.
pub fn first_page(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    asked: Option<Tongue>,
) -> Result<PermitView, String> {
    of_permit(known, number, asked, |permit, texts| view_of(known, lines, permit, texts, None, Much::First))
}

/// What keeps everybody off the air of a live permit until it is in order again, in words.
fn held(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    life: StateWord,
    asked_again: impl FnOnce() -> Option<usize>,
) -> Option<String> {
    if life != StateWord::Live {
        return None;
    }
    if !watch::against(known, permit, texts).is_empty() {
        return Some(
            say!(
                "Nobody goes on this air until what speaks against it, below, is read again within its limits."
            )
            .into(),
        );
    }
    if let Some(n @ 1..) = asked_again() {
        return Some(say_n!(
            n,
            "Nobody goes on this air until {n} check is in order again: `airwrit walk {permit}`.",
            "Nobody goes on this air until {n} checks are in order again: `airwrit walk {permit}`.",
            permit = permit.number.as_str()
        ));
    }
    let against =
        !due::holds(known, permit, texts).is_empty() || !due::unsafe_reserve(known, permit, texts).is_empty();
    against
        .then(|| say!("Nobody goes on this air until what stands against it, below, is in order.").to_owned())
}

/// What keeps everybody off the air of a permit that is live, by its number; none where nothing does or it is not live.
pub fn held_now(known: &Known<'_>, number: &str) -> Result<Option<String>, String> {
    of_permit(known, number, None, |permit, texts| {
        let life = shown_life(known, permit);
        Ok(held(known, permit, texts, life, || asked_again(known, permit, texts)))
    })
}

/// State in large words, and what it means for people as it stands now.
fn banner(known: &Known<'_>, permit: &Permit, life: StateWord, held: Option<&str>) -> (String, String) {
    let (words, means) = state_words(life);
    let on_it = known.state.tally_of_permit(&permit.number) > 0;
    let (words, means) = match (held, life) {
        (Some(why), _) => (held_word(), why),
        (None, StateWord::Lapsed) if on_it => {
            (words, say!("Nobody goes on this air: its time has run out. Whoever is still on it comes out."))
        }
        // Whatever else it is, somebody is on air where nobody may be.
        (None, StateWord::Live) => (words, means),
        (None, _) if on_it => (words, state_words(StateWord::Suspended).1),
        (None, _) => (words, means),
    };
    (words.to_owned(), means.to_owned())
}

/// The word for a live permit on whose air nobody may be put until something is in order.
pub fn held_word() -> &'static str {
    say!("HELD")
}

/// How much of a view is worked out.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Much {
    /// All of it.
    All,
    /// What is seen first: no steps, flags, day, sign-offs, pictures.
    First,
}

/// The view in the language of these texts, which is bound. Steps of the form it was opened on stand as they stood when it
/// was last issued; before that, as they stand now.
fn view_of(
    known: &Known<'_>,
    lines: &[Line],
    permit: &Permit,
    texts: &Texts,
    copy: Option<(u64, &str)>,
    much: Much,
) -> Result<PermitView, String> {
    let number = permit.number.as_str();
    let language = texts.language.clone();
    let life = shown_life(known, permit);
    let past = past::past(known, lines, number, &language)?;
    let all = much == Much::All;
    let bench = Bench::new(known.state, permit, texts, known.now);
    let issued = past.issued.as_ref().and_then(|(state, now)| {
        let permit = state.permits.get(number)?;
        Some(Bench::new(state, permit, texts, now))
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
    let mut stages = if all { stages(basis, &stands, known, &past) } else { Vec::new() };
    // A live one is judged as it stands now: what keeps everybody off its air was just looked at.
    let asked_again = || (life == StateWord::Live).then(|| walk::common_before_air(&stands).len());
    let held = held(known, permit, texts, life, asked_again);
    let mut every = stands;
    let shutdown = bench.shutdown();
    if permit.shutdown_begun
        && !permit.for_shutdown
        && let Some(b) = &shutdown
    {
        let more = walk::walk(b);
        if all {
            stages.extend(self::stages(b, &more, known, &past));
        }
        every.extend(more);
    }
    let flags = if all { flags::of(&bench) } else { Vec::new() };
    for answer in stages.iter_mut().flat_map(|s| &mut s.steps).flat_map(|s| &mut s.answers) {
        answer.flags = flags.iter().filter(|f| f.line == answer.line).map(|f| f.words.clone()).collect();
    }
    let live = life == StateWord::Live;
    let (state_words, state_means) = banner(known, permit, life, held.as_deref());
    let token = permit.issued().and_then(|s| s.data.text("token")).unwrap_or_default();
    Ok(PermitView {
        number: permit.number.clone(),
        state: life,
        held: held.is_some(),
        state_words,
        state_means,
        site: named(&texts.site, &language),
        set: set_name(texts, &language),
        place: sign::place(texts),
        job: words(&texts.job, "what", &language),
        valid_to: valid_to(permit, life, &texts.zone),
        valid_because: valid_because(permit, texts, issued.as_ref())
            .filter(|_| has_end(permit, life))
            .unwrap_or_default(),
        not_an_entry_permit: said::not_an_entry_permit(),
        page_one: page_one::statements(known, permit, texts, &bench, &every, life),
        wearers: wearers(known, permit, texts, &every),
        warnings: warnings(known, permit, texts, &every, held.is_some()),
        flags: flags.into_iter().map(|f| f.whole).collect(),
        stages,
        day: if all { day::all(known, permit, texts) } else { Vec::new() },
        drawn_with: say!(
            "airwrit {version}, words {words}",
            version = env!("CARGO_PKG_VERSION"),
            words = said::VERSION
        ),
        pictures: if all { pictures::all(known, permit, texts, &bench) } else { Vec::new() },
        sign_offs: permit.signed.iter().filter(|_| all).map(|s| sign_off(s, known)).collect(),
        cautions: said::cautions(),
        check_word: if live && held.is_none() {
            check_word(permit).unwrap_or_default()
        } else {
            String::new()
        },
        token: if live { token.to_owned() } else { String::new() },
        // What anybody typed stands in quotation marks: it is no word of the permit.
        copy: copy.map(|(n, hangs)| say!("copy {n}, to hang: “{hangs}”", n, hangs)).unwrap_or_default(),
        log: known.chain.origin.log.clone(),
        as_of: LineNo { volume: known.chain.origin.volume, line: known.chain.seq },
        as_of_hash: known.chain.head.clone(),
        as_of_utc: known.chain.time.clone(),
        as_of_at: at_site(&known.chain.time, &texts.zone),
        language,
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

/// What limits a permit. What was signed says it in one language: it is worked out again where that gives the same end.
fn valid_because(permit: &Permit, texts: &Texts, issued: Option<&Bench<'_>>) -> Option<String> {
    let signed = permit.issued()?.data.text("valid_by")?.to_owned();
    let again = issued.map(|b| valid::working(b.state, b.permit, texts, b.now));
    let same = again.filter(|limit| Some(limit.utc()) == permit.valid_to);
    Some(same.map_or(signed, |limit| limit.because))
}

/// The state that people are told. With somebody on air a permit lapses only once they are off, but nobody
/// may be put on air on it any more: whoever reads must not take it for live.
pub fn shown_life(known: &Known<'_>, permit: &Permit) -> StateWord {
    let over = permit.valid_to.as_deref().is_some_and(|v| v < known.now.time.as_str());
    let life = known.state.life(permit, &known.now.time);
    if over && life == StateWord::Live { StateWord::Lapsed } else { life }
}

/// State in large words and what it means for people.
pub fn state_words(life: StateWord) -> (&'static str, &'static str) {
    match life {
        StateWord::Draft => {
            (say!("DRAFT: NOT A PERMIT"), say!("Nobody goes on this air: it is being filled in."))
        }
        StateWord::Declared => (
            say!("DECLARED: NOT YET ISSUED"),
            say!("Nobody goes on this air: the supervisor has not signed."),
        ),
        StateWord::Live => (
            say!("LIVE"),
            say!("The wearers named here may be put on this air, each after their own checks."),
        ),
        StateWord::Suspended => {
            (say!("SUSPENDED"), say!("Nobody goes on this air. Whoever is on it comes out."))
        }
        StateWord::HandedBack => (say!("HANDED BACK"), say!("Nobody goes on this air: the work is over.")),
        StateWord::Closed => (say!("CLOSED"), say!("Nobody goes on this air: the permit has ended.")),
        StateWord::Refused => (say!("REFUSED"), say!("Nobody goes on this air: the supervisor said no.")),
        StateWord::Cancelled => {
            (say!("CANCELLED"), say!("Nobody goes on this air: the permit was withdrawn."))
        }
        StateWord::Lapsed => (say!("LAPSED"), say!("Nobody goes on this air: its time has run out.")),
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
    say!(
        "{set}, serial {serial}",
        set = named(&texts.set, language),
        serial = words(&texts.set, "serial", language)
    )
}

/// Whether a permit in this state has an end that is told.
fn has_end(permit: &Permit, life: StateWord) -> bool {
    let told = match life {
        StateWord::Live | StateWord::Suspended | StateWord::Lapsed => true,
        StateWord::Draft
        | StateWord::Declared
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled => false,
    };
    told && permit.valid_to.is_some()
}

fn valid_to(permit: &Permit, life: StateWord, zone: &TimeZone) -> String {
    match permit.valid_to.as_deref().filter(|_| has_end(permit, life)) {
        Some(v) => at_site(v, zone),
        None => say!("not valid").into(),
    }
}

fn wearers(known: &Known<'_>, permit: &Permit, texts: &Texts, every: &[Stand<'_>]) -> Vec<WearerView> {
    let language = texts.language.as_str();
    // On a live permit nobody goes on air before their own checks.
    let waits = |person: &str| {
        known.life(permit) == StateWord::Live
            && every.iter().any(|s| s.of_wearer() && s.item_id() == Some(person) && !s.done())
    };
    let mut out: Vec<WearerView> = texts
        .job
        .items("wearers")
        .iter()
        .map(|w| WearerView {
            name: named(w, language),
            person: w.id().to_owned(),
            respirator: words(w, "respirator_name", language),
            escape_set: w.text("escape_set").map_or_else(
                || say!("none").into(),
                |id| texts.site.item("escape_sets", id).map_or(id.to_owned(), |e| named(e, language)),
            ),
            hose: words(w, "hose_name", language),
            hose_marks: hose_marks(texts, w, language),
            outlet: texts
                .set
                .item("outlets", w.text("outlet").unwrap_or_default())
                .map_or_else(|| w.text("outlet").unwrap_or_default().to_owned(), |o| named(o, language)),
            tally: if waits(w.id()) { say!("off air, own checks not done") } else { say!("off air") }.into(),
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
                name: crew::name_of(known, &p.person),
                person: p.person.clone(),
                respirator: say!("not on the list of wearers").into(),
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
        one if one == "1" => say!("in one piece").to_owned(),
        more => say!("{n} sections", n = more),
    };
    let all = [words(hose, "serial", language), words(hose, "length", language), sections];
    all.into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(", ")
}

/// A wearer's name, or what the tally has.
fn wearer(known: &Known<'_>, texts: &Texts, id: &str) -> String {
    let planned = texts.job.items("wearers").iter().find(|w| w.id() == id);
    planned.map_or_else(|| page_one::person(known, texts, id), |w| named(w, &texts.language))
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
    if let Some((standing, why)) = answers.last().and_then(|a| past?.stood.get(a.stamp.hash.as_str())) {
        s.standing = *standing;
        s.why.clone_from(why);
    }
    s.answers = answers;
}

fn stages(bench: &Bench<'_>, stands: &[Stand<'_>], known: &Known<'_>, past: &Past) -> Vec<StageView> {
    let language = &bench.texts.language;
    let form = say!(
        "{form}, revision {revision}",
        form = bench.form.title().get(language),
        revision = bench.form.revision()
    );
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
    let words = gate.words(&|name: &Vec<String>| label(bench, &asker, name));
    if words.chars().count() > LONGEST_WANTED { String::new() } else { words }
}

/// What a name of a gate is called: steps by their titles, fields with their values.
fn label(bench: &Bench<'_>, asker: &Asker<'_>, name: &[String]) -> Option<String> {
    if let [step, choice] = name
        && let Some(words) = asker.choice(&vec![step.clone()], choice)
    {
        return Some(words);
    }
    let called = match name {
        [step] => bench.form.step(step).map(|(_, step)| Bench::label(step, None, &bench.texts.language)),
        [] | [_, _, ..] => None,
    };
    match (called, asker.fact(&name.to_vec())) {
        (Some(called), _) => Some(called),
        (None, Fact::Is { shown, label, .. }) => Some(format!("{shown} ({label})")),
        // Of each of several: what it is stands in the table, or with the first of them.
        (None, Fact::List(items)) => items
            .iter()
            .find_map(|(_, f)| match f {
                Fact::Is { label, .. } | Fact::Below { label, .. } => Some(label.clone()),
                Fact::Unknown(_) | Fact::NotApplicable | Fact::List(_) => None,
            })
            .or_else(|| name.last().map(|n| n.replace('_', " "))),
        (None, Fact::Below { .. } | Fact::Unknown(_) | Fact::NotApplicable) => {
            name.last().map(|n| n.replace('_', " "))
        }
    }
}

/// Why a step stands as it does, in words that people know: where its gate holds it, expressions are not told as they stand in
/// the file. What is recorded of it keeps the words of the rules.
pub fn why(bench: &Bench<'_>, s: &Stand<'_>) -> Vec<String> {
    let asker = bench.asker(s.step, s.item.as_ref());
    let held = matches!(s.standing, Standing::Hold | Standing::Deviation);
    let Some(gate) = s.step.gate().filter(|_| held) else { return s.why.clone() };
    let by_gate = match gate.judge(&asker) {
        Verdict::Open => Vec::new(),
        Verdict::Shut(why) | Verdict::Unknown(why) => why,
    };
    if by_gate != s.why {
        return s.why.clone();
    }
    // What was answered stands beside what it was answered to: nobody goes back to look for it.
    let with_value = |name: &Vec<String>| match (name.as_slice(), asker.fact(name)) {
        ([_], Fact::Is { shown, label, .. } | Fact::Below { shown, label, .. }) => {
            Some(format!("{label} ({shown})"))
        }
        (_, _) => label(bench, &asker, name),
    };
    gate.reasons(&asker, &with_value)
}

fn step_view(bench: &Bench<'_>, s: &Stand<'_>, known: &Known<'_>, past: &Past) -> StepView {
    StepView {
        step: s.step.id().into(),
        called: Bench::label(s.step, None, s.language),
        item: s.item.as_ref().map(|i| i.name.clone()).unwrap_or_default(),
        ask: match bench.rests_on(s.step, s.item.as_ref()) {
            from if from.is_empty() => bench.words(s.step.ask(), s.item.as_ref()),
            from => {
                let (ask, from) = (bench.words(s.step.ask(), s.item.as_ref()), from.join("; "));
                if matches!(s.step.kind(), StepKind::Derived(_)) {
                    say!("{ask} (worked out from: {from})", ask, from)
                } else {
                    say!("{ask} (what stands there: {from})", ask, from)
                }
            }
        },
        standing: s.standing,
        answers: s
            .answers
            .iter()
            .map(|a| {
                let (standing, because) =
                    past.stood.get(a.stamp.hash.as_str()).cloned().unwrap_or((Standing::Waiting, Vec::new()));
                AnswerView {
                    value: shown(s, a, &bench.texts.language),
                    time: clock(&a.stamp.time, &a.stamp.zone),
                    by: known.chain.origin.roster.name_of(&a.stamp.by).to_owned(),
                    standing,
                    because,
                    carried: carried(a),
                    again: a.again.as_deref().map(recorded).unwrap_or_default(),
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
            (Standing::Deviation, true) => {
                say!("{why}; accepted by the supervisor", why = s.why.join("; "))
            }
            (Standing::Deviation, false) => {
                say!("{why}; no supervisor has accepted it", why = s.why.join("; "))
            }
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
    say!(
        "carried at {time} from {permit}, given {given}",
        time = clock(&carry.stamp.time, &carry.stamp.zone),
        permit = carry.from,
        given = for_people(&a.stamp.time, &a.stamp.zone)
    )
}

/// Who left an answer as a deviation, why, and what is done instead.
fn left_so(d: &Deviation, known: &Known<'_>) -> String {
    say!(
        "left so at {time} by {name}: {reason}; instead: {instead}",
        time = clock(&d.stamp.time, &d.stamp.zone),
        name = known.chain.origin.roster.name_of(&d.stamp.by),
        reason = d.reason,
        instead = d.instead
    )
}

fn shown(s: &Stand<'_>, a: &Answer, language: &str) -> String {
    if let Some(reason) = &a.left_out {
        return say!("left out: {reason}", reason);
    }
    match s.step.kind() {
        StepKind::Choice(_) => {
            let choices = s.step.choices();
            let choice = choices.iter().find(|(id, _)| Some(id.as_str()) == a.value.as_deref());
            choice.map_or_else(|| answer_text(a), |(_, words)| words.get(language).to_owned())
        }
        StepKind::Confirm | StepKind::Timed(_) => recorded(a.value.as_deref().unwrap_or_default()),
        StepKind::Derived(d) => match d.form().and_then(|f| f.unit()) {
            Some(u) => format!("{} {}", answer_text(a), u.symbol()),
            None => answer_text(a),
        },
        StepKind::Reading(_) | StepKind::Date | StepKind::Text => answer_text(a),
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
        "declare" => say!("Declared"),
        "countersign" => say!("Countersigned"),
        "refuse" => say!("Refused"),
        "hand_back" => say!("Handed back"),
        "close" => say!("Closed"),
        "cancel" => say!("Cancelled"),
        "reinstate" => say!("Reinstated"),
        "extend" if s.data.text("part") == Some("given") => say!("Later end given"),
        "extend" => say!("Later end asked for"),
        "hand_over" if s.data.text("part") == Some("incoming") => say!("Taken over"),
        "hand_over" => say!("Handed over"),
        other => other,
    };
    let role = recorded(s.role);
    SignOff {
        what: what.into(),
        name: known.chain.origin.roster.name_of(&s.stamp.by).into(),
        person: s.stamp.by.to_string(),
        role: match s.data.text("where") {
            Some("own") => {
                say!("{role}, on their own machine at {time}", role, time = clock(&s.time, &s.stamp.zone))
            }
            Some(_) | None => role,
        },
        key: s.key.clone(),
        time: for_people(&s.stamp.time, &s.stamp.zone),
        said: s.said.clone(),
        line: s.stamp.line,
        hash: s.stamp.hash.to_string(),
    }
}
