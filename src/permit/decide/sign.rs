//! What people sign: judged again from everything that is known now, and put into words.
//!
//! Signing is two steps, at the station or elsewhere. Here is the first: [`prepare`] decides and makes the act
//! with its words; its person signs it ([`Prepared::sign`]). The second is `take_in`, which prepares again on
//! the permit as it stands then and writes only what comes out the same.

mod approve;
mod ending;
mod hand_over;
mod issue;
mod later;
mod reinstate;
mod seen;

pub use approve::approve;
pub use ending::{cancel, close, hand_back};
pub use hand_over::{Handing, incoming, outgoing, waiting};
pub use issue::{Left, Limits, countersign, deviations, limit_of_wearers, refuse, still_valid};
pub use later::{Later, ask_later, give_later};
pub use reinstate::reinstate;
pub use seen::{Disagreed, Drawn, Seen, drawn, history as disagreements, in_english as says_disagreed};

use super::{Known, Refusal, in_states, open, unless};
use crate::permit::bench::Texts;
use crate::permit::due;
use crate::permit::said::said;
use crate::permit::state::Permit;
use crate::permit::valid::{self, Limit, Of};
use crate::permit::walk;
use crate::permit::watch;
use crate::record::carried::Carried;
use crate::record::json::{Json, object, sorted};
use crate::record::line::ActDraft;

use crate::time::{at_site, seconds, utc};
use crate::tongue::{say, say_n};
use crate::trust::{Role, Signer, token};
use crate::view::{StateWord, recorded};

/// Who signs, where, shown what.
#[derive(Clone, Copy, Debug)]
pub struct Hand<'a> {
    /// Person id.
    pub by: &'a str,
    /// On their own machine, not the station's.
    pub own: bool,
    /// H of the line of the permit that they were shown; its last one, unless an act is taken in.
    pub shown: Option<&'a str>,
}

impl<'a> Hand<'a> {
    /// At the station, shown all there is.
    pub const fn here(by: &'a str) -> Hand<'a> {
        Hand { by, own: false, shown: None }
    }

    /// On their own machine.
    pub const fn elsewhere(by: &'a str) -> Hand<'a> {
        Hand { by, own: true, shown: None }
    }
}

/// An act to sign: decided, with its words, without a signature.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// The act. A countersignature's lacks its token, which its person signs too.
    pub act: ActDraft,
    /// What the token must claim.
    pub claim: Option<token::Claim>,
}

impl Prepared {
    /// The words that are signed, whole.
    pub fn said(&self) -> &str {
        self.act.data.text("said").unwrap_or_default()
    }

    /// Signed with a key.
    pub fn sign(&self, key: &dyn Signer) -> Result<Carried, String> {
        let mut act = self.act.clone();
        if let Some(claim) = &self.claim {
            act.data = act.data.with("token", token::make(claim, key)?);
        }
        Carried::of(act.sign(key)?)
    }
}

/// What a person is about to sign on a permit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Signing {
    /// The operator declares.
    Declare,
    /// The supervisor issues, perhaps narrowing.
    Countersign(Limits),
    /// The supervisor refuses.
    Refuse {
        /// Why.
        reason: String,
    },
    /// The operator hands back.
    HandBack {
        /// The live permit for which the set runs on.
        left_running: Option<String>,
        /// In words.
        reason: Option<String>,
    },
    /// The supervisor ends it.
    Close,
    /// What suspended it is over.
    Reinstate {
        /// What it was, and what was done.
        cause: String,
    },
    /// The holder asks for a later end.
    AskLater(Later),
    /// A supervisor gives it.
    GiveLater,
    /// The holder hands it over.
    HandOver(Handing),
    /// Another operator takes it.
    TakeOver,
    /// The supervisor withdraws it.
    Cancel {
        /// Why.
        reason: String,
    },
}

impl Signing {
    /// The word for it, as the register keeps it.
    pub const fn word(&self) -> &'static str {
        match self {
            Signing::Declare => "declare",
            Signing::Countersign(_) => "countersign",
            Signing::Refuse { .. } => "refuse",
            Signing::HandBack { .. } => "hand back",
            Signing::Close => "close",
            Signing::Reinstate { .. } => "reinstate",
            Signing::AskLater(_) => "ask for a later end",
            Signing::GiveLater => "give a later end",
            Signing::HandOver(_) => "hand over",
            Signing::TakeOver => "take over",
            Signing::Cancel { .. } => "cancel",
        }
    }

    /// What an act of this kind with this data asks for; `None` if it is of no permit.
    pub fn of(kind: &str, data: &Json) -> Option<Signing> {
        let text = |name: &str| data.text(name).map(str::to_owned);
        Some(match kind {
            "declare" => Signing::Declare,
            "countersign" => {
                let limits = data.get("limits");
                Signing::Countersign(Limits {
                    until: limits.and_then(|l| l.text("until")).map(str::to_owned),
                    wearers: limits.and_then(|l| l.int("wearers")),
                    words: limits.and_then(|l| l.text("words")).map(str::to_owned),
                    accept: data.texts("deviations").into_iter().map(str::to_owned).collect(),
                    seen: Seen::of(data),
                    not_seen: text("not_seen"),
                })
            }
            "refuse" => Signing::Refuse { reason: text("reason")? },
            "hand_back" => Signing::HandBack { left_running: text("left_running"), reason: text("reason") },
            "close" => Signing::Close,
            "reinstate" => Signing::Reinstate { cause: text("cause")? },
            "extend" if data.text("part") == Some("asked") => Signing::AskLater(Later::of(data)?),
            "extend" => Signing::GiveLater,
            "hand_over" if data.text("part") == Some("outgoing") => Signing::HandOver(Handing::of(data)?),
            "hand_over" => Signing::TakeOver,
            "cancel" => Signing::Cancel { reason: text("reason")? },
            _ => return None,
        })
    }
}

/// Decides it on a permit: the act to sign, or a refusal.
pub fn prepare(
    known: &Known<'_>,
    number: &str,
    what: &Signing,
    hand: &Hand<'_>,
) -> Result<Prepared, Refusal> {
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    match what {
        Signing::Declare => declare(known, permit, &texts, hand),
        Signing::Countersign(limits) => countersign(known, permit, &texts, hand, limits),
        Signing::Refuse { reason } => refuse(known, permit, &texts, hand, reason),
        Signing::HandBack { left_running, reason } => {
            hand_back(known, permit, &texts, hand, left_running.as_deref(), reason.as_deref())
        }
        Signing::Close => close(known, permit, &texts, hand),
        Signing::Reinstate { cause } => reinstate(known, permit, &texts, hand, cause),
        Signing::AskLater(later) => ask_later(known, permit, &texts, hand, later),
        Signing::GiveLater => give_later(known, permit, &texts, hand),
        Signing::HandOver(handing) => outgoing(known, permit, &texts, hand, handing),
        Signing::TakeOver => incoming(known, permit, &texts, hand),
        Signing::Cancel { reason } => cancel(known, permit, &texts, hand, reason),
    }
}

fn values(permit: &Permit, texts: &Texts) -> Vec<(&'static str, String)> {
    let names: Vec<String> = texts
        .job
        .items("wearers")
        .iter()
        .map(|w| w.words("name").map_or(w.id(), |n| n.get(&texts.language)).to_owned())
        .collect();
    vec![
        ("permit", permit.number.clone()),
        ("set", name(&texts.set, &texts.language)),
        ("place", place(texts)),
        (
            "job",
            texts
                .job
                .text("what")
                .map(str::to_owned)
                .or_else(|| texts.job.words("what").map(|w| w.get(&texts.language).to_owned()))
                .unwrap_or_default(),
        ),
        ("wearers", names.join(", ")),
    ]
}

fn name(values: &crate::site::Values, language: &str) -> String {
    values.words("name").map(|w| w.get(language).to_owned()).unwrap_or_default()
}

/// The place's name.
pub fn place(texts: &Texts) -> String {
    let id = texts.job.text("place").unwrap_or_default();
    texts.site.item("places", id).map_or_else(|| id.to_owned(), |p| name(p, &texts.language))
}

fn act(
    known: &Known<'_>,
    permit: &Permit,
    kind: &'static str,
    role: Role,
    hand: &Hand<'_>,
    words: String,
    mut members: Vec<(String, Json)>,
) -> Prepared {
    members.push(("said".into(), words.into()));
    members.push(("where".into(), if hand.own { "own" } else { "station" }.into()));
    let shown = hand.shown.map_or_else(|| known.chain.permit_head(&permit.number), str::to_owned);
    let act = ActDraft {
        kind,
        log: known.chain.origin.log.clone(),
        permit: Some(permit.number.clone()),
        shown,
        by: hand.by.to_owned(),
        role,
        time: known.now.time.clone(),
        data: sorted(members),
    };
    Prepared { act, claim: None }
}

fn may_sign(known: &Known<'_>, by: &str, role: Role) -> Vec<String> {
    let roster = &known.chain.origin.roster;
    match roster.person(by) {
        None => vec![say!("`{person}` is not on the roster", person = crate::text::safe_line(by))],
        Some(p) if !p.roles.contains(&role) => {
            vec![say!("{person} is no {role} on the roster", person = p.name, role = recorded(role.word()))]
        }
        Some(p) => match p.competence {
            Some(until) if until < known.now.date() => {
                vec![say!("the competence of {person} was shown until {until}", person = p.name, until)]
            }
            Some(_) | None => Vec::new(),
        },
    }
}

/// In words, that a first half was signed and fell since; `None` if none was signed after the last whole one.
fn fell(permit: &Permit, kind: &str) -> Option<String> {
    let last =
        permit.last_signed(kind).filter(|s| matches!(s.data.text("part"), Some("asked" | "outgoing")))?;
    let at = |stamp: &crate::permit::state::Stamp| crate::time::clock(&stamp.time, &stamp.zone);
    let time = at(&last.stamp);
    let fallen = match kind {
        "extend" => say!("what was asked for at {time} stands no more", time),
        _ => say!("what was handed over at {time} stands no more", time),
    };
    let since = &permit.since;
    if since.seq <= last.stamp.seq {
        return Some(fallen);
    }
    let state = permit.life.word();
    Some(say!("{fallen}: the permit changed at {time}, it is {state}", fallen, time = at(since), state))
}

/// Who gives a later end is nobody of those who rely on it.
fn stands_apart(permit: &Permit, texts: &Texts, by: &str) -> Vec<String> {
    let mut why = Vec::new();
    if permit.last_signed("declare").is_some_and(|s| s.stamp.by == by) {
        why.push(say!("the person who declared is not the one who gives a later end").into());
    }
    if texts.job.text("holder") == Some(by) {
        why.push(say!("who holds it is not the one who gives a later end").into());
    }
    for role in ["attendant", "entry_watch"] {
        if texts.job.text(role) == Some(by) {
            let role = recorded(role);
            why.push(say!("the {role} of the same permit is not the one who gives a later end", role));
        }
    }
    if texts.job.items("wearers").iter().any(|w| w.id() == by) {
        why.push(say!("a wearer of the same permit is not the one who gives a later end").into());
    }
    why
}

/// Everything that forbids declaring or issuing, judged now.
pub fn not_ready(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    // First what no answer can mend.
    let limit = valid_to(known, permit, texts, None);
    let mut why: Vec<String> = over_already(known, &limit).into_iter().collect();
    why.extend(open::job_problems(known, &texts.job, &texts.set, &texts.site, Some(&permit.number)));
    why.extend(open::elsewhere(known, &permit.set.id, &texts.job));
    why.extend(watch::against(known, permit, texts));
    why.extend(due::unsafe_reserve(known, permit, texts));
    let bench = known.bench(permit, texts);
    why.extend(walk::in_words(&walk::before_declare(&walk::walk(&bench))));
    if !super::answer::running(known, &permit.set.id) {
        why.push(say!("no start of the set is recorded, or it was stopped since").into());
    }
    why
}

/// It would end before it begins.
fn over_already(known: &Known<'_>, limit: &Limit) -> Option<String> {
    (limit.second <= known.now.seconds())
        .then(|| say!("it would end before it begins: {because}", because = limit.because))
}

/// An end that narrows nothing: typed for a time that is past, it stands for tomorrow's. The engine lets it be; faces
/// ask again.
pub fn narrows_nothing(known: &Known<'_>, number: &str, until: &str) -> Result<(), Refusal> {
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let widest = valid_to(known, permit, &texts, None);
    if seconds(until) <= widest.second {
        return Ok(());
    }
    let at = |utc: &str| at_site(utc, &texts.zone);
    Err(Refusal::because(say!(
        "until {time} narrows nothing: it ends at {end} anyway ({because})",
        time = at(until),
        end = at(&utc(widest.second)),
        because = widest.because
    ))
    .instead(say!("give an earlier end that is still to come, or leave --until out")))
}

/// What helps against a limit that is over: a job that ends later, where the job is what ends; else another day.
pub fn end_later(limit: &Limit) -> &'static str {
    if limit.of == Of::Job {
        say!("give the job a later end (`airwrit job`), then answer again what rests on it")
    } else {
        say!("cancel it (`airwrit cancel`) and open another for the time that follows")
    }
}

/// Valid to, worked out now.
pub fn valid_to(known: &Known<'_>, permit: &Permit, texts: &Texts, until: Option<&str>) -> Limit {
    let holder = texts.job.text("holder").unwrap_or_default();
    let competence = known.chain.origin.roster.person(holder).and_then(|p| p.competence);
    valid::narrowed(valid::working(known.state, permit, texts, known.now), competence, until, &texts.zone)
}

/// The operator declares.
pub fn declare(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, say!("it cannot be declared"), &[StateWord::Draft])?;
    if permit.for_shutdown {
        return Err(Refusal::because(say!("this permit was opened for a shutdown and is never declared")));
    }
    let mut why = may_sign(known, hand.by, Role::Operator);
    let holder = texts.job.text("holder").unwrap_or_default();
    if holder != hand.by {
        why.push(say!("the holder of this permit is {holder}, who declares", holder));
    }
    let of_person = why.len();
    why.extend(not_ready(known, permit, texts));
    why.extend(seen::unread(permit, &known.bench(permit, texts)));
    let limit = valid_to(known, permit, texts, None);
    let over = over_already(known, &limit).map(|_| end_later(&limit));
    if why.len() == of_person {
        unless(std::mem::take(&mut why), &say!("{holder} declares it", holder))?;
    }
    unless(why, over.unwrap_or(say!("answer what is left (`airwrit walk`), then declare")))?;
    let mut v = values(permit, texts);
    let left = deviations(known, permit, texts);
    v.push((
        "deviations",
        left.iter()
            .map(|d| format!("\n{}", say!("I leave as a deviation: {deviation}", deviation = d.words)))
            .collect(),
    ));
    v.push(("carried", carried(permit)));
    let words = said("declare", &v).map_err(Refusal::because)?;
    Ok(act(known, permit, "declare", Role::Operator, hand, words, Vec::new()))
}

/// What of the answers was given on other permits: how many, and when the oldest. Empty if none.
fn carried(permit: &Permit) -> String {
    let all: Vec<_> = permit.answers.iter().filter(|a| a.carry.is_some()).collect();
    let Some(oldest) = all.iter().min_by_key(|a| a.stamp.seq) else { return String::new() };
    let words = say_n!(
        all.len(),
        "Of these {n} answer was given on earlier permits and carried here, because what they rest on \
         holds; the oldest at {time}.",
        "Of these {n} answers were given on earlier permits and carried here, because what they rest on \
         holds; the oldest at {time}.",
        time = crate::time::for_people(&oldest.stamp.time, &oldest.stamp.zone)
    );
    format!("\n{words}")
}

/// The supervisor says that the station's clock is right and the last line was written by a wrong one.
pub fn clock(known: &Known<'_>, hand: &Hand<'_>, reason: &str) -> Result<ActDraft, Refusal> {
    if !known.behind() {
        return Err(Refusal::because(say!(
            "the clock is not behind the last line: there is nothing to set right"
        )));
    }
    unless(may_sign(known, hand.by, Role::Supervisor), say!("a supervisor of the roster says so"))?;
    let reason = super::answer::clean(reason)?;
    let show = |utc: &str| crate::time::for_people(utc, &known.now.zone);
    let (last, now) = (known.chain.time.clone(), known.now.time.clone());
    let values = [("last", show(&last)), ("now", show(&now)), ("reason", reason.clone())];
    let words = said("clock", &values).map_err(Refusal::because)?;
    Ok(ActDraft {
        kind: "clock",
        log: known.chain.origin.log.clone(),
        permit: None,
        shown: known.chain.last_clock().to_owned(),
        by: hand.by.to_owned(),
        role: Role::Supervisor,
        time: now,
        data: object([
            ("last", last.into()),
            ("reason", reason.into()),
            ("said", words.into()),
            ("where", if hand.own { "own" } else { "station" }.into()),
        ]),
    })
}
