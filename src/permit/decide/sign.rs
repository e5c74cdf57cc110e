//! What people sign: judged again from everything that is known now, and put into words.
//!
//! Signing is two steps, at the station or elsewhere. Here is the first: [`prepare`] decides and makes the act
//! with its words; its person signs it ([`Prepared::sign`]). The second is `take_in`, which prepares again on
//! the permit as it stands then and writes only what comes out the same.

use super::{Known, Refusal, in_states, open, unless};
use crate::permit::bench::{self, Bench, Texts, found};
use crate::permit::said::said;
use crate::permit::state::Permit;
use crate::permit::valid::{self, Limit};
use crate::permit::walk;
use crate::record::carried::Carried;
use crate::record::json::{Json, object, sorted};
use crate::record::line::ActDraft;
use crate::time::{Moment, at_site, seconds, utc};
use crate::trust::{Role, Signer, token};
use crate::view::StateWord;
use num_traits::ToPrimitive;

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
    /// The supervisor withdraws it.
    Cancel {
        /// Why.
        reason: String,
    },
}

impl Signing {
    /// The word for it.
    pub const fn word(&self) -> &'static str {
        match self {
            Signing::Declare => "declare",
            Signing::Countersign(_) => "countersign",
            Signing::Refuse { .. } => "refuse",
            Signing::HandBack { .. } => "hand back",
            Signing::Close => "close",
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
                })
            }
            "refuse" => Signing::Refuse { reason: text("reason")? },
            "hand_back" => Signing::HandBack { left_running: text("left_running"), reason: text("reason") },
            "close" => Signing::Close,
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
        Signing::Cancel { reason } => cancel(known, permit, &texts, hand, reason),
    }
}

/// What a supervisor narrows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Limits {
    /// UTC.
    pub until: Option<String>,
    /// Most on air at once on this permit.
    pub wearers: Option<u64>,
    /// In words.
    pub words: Option<String>,
    /// Deviations accepted, each as `step` or `step/item`.
    pub accept: Vec<String>,
}

/// The number of wearers that the supervisor allowed.
pub fn limit_of_wearers(permit: &Permit) -> Option<u64> {
    permit.last_signed("countersign")?.data.get("limits")?.int("wearers")
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
    let shown = hand.shown.unwrap_or_else(|| known.chain.permit_head(&permit.number));
    let act = ActDraft {
        kind,
        log: known.chain.origin.log.clone(),
        permit: Some(permit.number.clone()),
        shown: shown.to_owned(),
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
        None => vec![format!("`{}` is not on the roster", crate::text::safe_line(by))],
        Some(p) if !p.roles.contains(&role) => {
            vec![format!("{} is no {} on the roster", p.name, role.word())]
        }
        Some(p) => match p.competence {
            Some(until) if until < known.now.date() => {
                vec![format!("the competence of {} was shown until {until}", p.name)]
            }
            Some(_) | None => Vec::new(),
        },
    }
}

/// Everything that forbids declaring or issuing, judged now.
pub fn not_ready(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let mut why = open::job_problems(known, &texts.job, &texts.set, &texts.site, Some(&permit.number));
    why.extend(open::elsewhere(known, &permit.set.id, &texts.job));
    let bench = Bench::new(known.state, permit, texts, known.now);
    why.extend(walk::in_words(&walk::before_declare(&walk::walk(&bench))));
    if !super::answer::running(known, &permit.set.id) {
        why.push("no start of the set is recorded, or it was stopped since".into());
    }
    let limit = valid_to(known, permit, texts, None);
    if limit.second <= known.now.seconds() {
        why.push(format!("it would end before it begins: {}", limit.because));
    }
    why
}

/// A declaration that waited longer than the site allows: the yard is not what it was.
fn too_old(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    let declared = &permit.last_signed("declare")?.stamp;
    let waited = known.now.seconds() - seconds(&declared.time);
    let fresh = texts.site.quantity("freshness").and_then(|q| q.value.to_integer().to_i64());
    fresh.is_none_or(|most| waited > most).then(|| {
        let words = texts.site.get("freshness").and_then(|h| h.shown(&texts.language)).unwrap_or_default();
        format!(
            "it was declared at {}, and a declaration is good for {words} here: the operator takes the fresh readings \
             again, and declares again",
            crate::time::clock(&declared.time, &declared.zone)
        )
    })
}

/// Valid to, worked out now.
pub fn valid_to(known: &Known<'_>, permit: &Permit, texts: &Texts, until: Option<&str>) -> Limit {
    let holder = texts.job.text("holder").unwrap_or_default();
    let competence = known.chain.origin.roster.person(holder).and_then(|p| p.competence);
    valid::narrowed(valid::working(permit, texts, known.now), competence, until, &texts.zone)
}

/// The operator declares.
pub fn declare(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, "it cannot be declared", &[StateWord::Draft])?;
    if permit.for_shutdown {
        return Err(Refusal::because("this permit was opened for a shutdown and is never declared"));
    }
    let mut why = may_sign(known, hand.by, Role::Operator);
    let holder = texts.job.text("holder").unwrap_or_default();
    if holder != hand.by {
        why.push(format!("the holder of this permit is {holder}, who declares"));
    }
    why.extend(not_ready(known, permit, texts));
    unless(why, "answer what is left (`airwrit walk`), then declare")?;
    let mut v = values(permit, texts);
    let left = deviations(known, permit, texts);
    v.push(("deviations", left.iter().map(|d| format!("\nI leave as a deviation: {}", d.words)).collect()));
    let words = said("declare", &v).map_err(Refusal::because)?;
    Ok(act(known, permit, "declare", Role::Operator, hand, words, Vec::new()))
}

/// The supervisor issues.
pub fn countersign(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    limits: &Limits,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, "it cannot be countersigned", &[StateWord::Declared])?;
    let mut why = may_sign(known, hand.by, Role::Supervisor);
    let Some((declared, by)) = known.chain.declared(&permit.number) else {
        return Err(Refusal::because("nobody has declared it"));
    };
    if by == hand.by {
        why.push("the person who declared may not countersign".into());
    }
    for role in ["attendant", "entry_watch"] {
        if texts.job.text(role) == Some(hand.by) {
            why.push(format!("who issues is not the {} of the same permit", role.replace('_', " ")));
        }
    }
    if texts.job.items("wearers").iter().any(|w| w.id() == hand.by) {
        why.push("who issues is not a wearer of the same permit".into());
    }
    why.extend(too_old(known, permit, texts));
    why.extend(not_ready(known, permit, texts));
    let Some(shown) = known.chain.shown(&permit.number, hand.shown) else {
        return Err(Refusal::because("the permit moved on after what was shown").instead("prepare it again"));
    };
    // The longest a permit may run counts from the line that was shown: the one moment that the station and
    // the signer's own machine both know, whatever their clocks show.
    let from = Moment { time: utc(shown.time), zone: known.now.zone.clone() };
    let limit = valid_to(&Known { now: &from, ..*known }, permit, texts, limits.until.as_deref());
    if limit.second <= known.now.seconds() {
        why.push(format!("it would end before it begins: {}", limit.because));
    }
    let left = deviations(known, permit, texts);
    why.extend(not_accepted(&left, &limits.accept));
    if !left.is_empty() && !narrows(known, permit, texts, limits) {
        why.push(
            "a permit with a deviation is narrower than one without: nothing ends earlier, no fewer go on air, no word \
             is said"
                .into(),
        );
    }
    unless(why, INSTEAD)?;
    let mut narrowed = Vec::new();
    let mut in_words = String::new();
    if let Some(n) = limits.wearers {
        in_words.push_str(&format!("\nAt most {n} on air at once."));
        narrowed.push(("wearers".to_owned(), Json::Int(n)));
    }
    if let Some(u) = &limits.until {
        narrowed.push(("until".to_owned(), u.as_str().into()));
    }
    if let Some(w) = &limits.words {
        let w = super::answer::clean(w)?;
        in_words.push_str(&format!("\n{w}"));
        narrowed.push(("words".to_owned(), w.into()));
    }
    let mut v = values(permit, texts);
    v.push(("valid_to", at_site(&limit.utc(), &texts.zone)));
    v.push(("valid_by", limit.because.clone()));
    v.push(("limits", in_words));
    v.push(("deviations", left.iter().map(|d| format!("\nI accept this deviation: {}", d.words)).collect()));
    let words = said("countersign", &v).map_err(Refusal::because)?;
    let claim = token::Claim {
        permit: permit.number.clone(),
        valid_to: limit.utc(),
        seq: shown.seq,
        hash: shown.hash.clone(),
    };
    let mut members = vec![
        ("target".to_owned(), Json::from(declared.as_str())),
        ("valid_by".to_owned(), limit.because.into()),
        ("valid_to".to_owned(), utc(limit.second).into()),
    ];
    if !left.is_empty() {
        let keys = left.into_iter().map(|d| d.key.into()).collect();
        members.push(("deviations".into(), Json::Arr(keys)));
    }
    if !narrowed.is_empty() {
        members.push(("limits".into(), sorted(narrowed)));
    }
    let prepared = act(known, permit, "countersign", Role::Supervisor, hand, words, members);
    Ok(Prepared { claim: Some(claim), ..prepared })
}

const INSTEAD: &str = "the operator mends this and declares again, or you refuse: `airwrit refuse`; a deviation is \
                       accepted with --accept, and narrowed with --until, --wearers or --limits";

/// A deviation left on a permit, for those who sign.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Left {
    /// `step` or `step/item`.
    pub key: String,
    /// What it is, what was found, why it is left, what is done instead.
    pub words: String,
}

/// The deviations left on a permit. In words that do not change with the hour: they are signed, and worded
/// again when the act is taken in.
pub fn deviations(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Left> {
    let bench = Bench::new(known.state, permit, texts, known.now);
    let words = |a: &crate::permit::state::Answer| {
        let (label, found) = match bench.form.step(&a.step) {
            Some((_, step)) => {
                let items = step.each().map(|e| bench.all_items(e)).unwrap_or_default();
                let item = items.iter().find(|i| Some(&i.id) == a.item.as_ref()).map(|i| i.name.as_str());
                (Bench::label(step, item.or(a.item.as_deref())), found(step, a))
            }
            None => (a.key().replace('_', " "), a.value.clone().unwrap_or_default()),
        };
        let (why, instead) =
            a.deviation.as_ref().map(|d| (d.reason.as_str(), d.instead.as_str())).unwrap_or_default();
        format!("{label}. Found: {found}. Left so because: {why}. Instead: {instead}.")
    };
    permit.deviations().into_iter().map(|a| Left { key: a.key(), words: words(a) }).collect()
}

fn not_accepted(left: &[Left], accept: &[String]) -> Vec<String> {
    let missing = left.iter().filter(|d| !accept.contains(&d.key));
    let missing =
        missing.map(|d| format!("a deviation waits to be accepted (--accept {}): {}", d.key, d.words));
    let extra = accept.iter().filter(|k| !left.iter().any(|d| d.key == **k));
    let extra = extra.map(|k| format!("`{}` is no deviation left on this permit", crate::text::safe_line(k)));
    missing.chain(extra).collect()
}

/// Whether what the supervisor narrows makes the permit less than it would be.
fn narrows(known: &Known<'_>, permit: &Permit, texts: &Texts, limits: &Limits) -> bool {
    let earlier = limits
        .until
        .as_deref()
        .is_some_and(|until| seconds(until) < valid_to(known, permit, texts, None).second);
    let fewer = limits.wearers.is_some_and(|n| n < texts.job.items("wearers").len() as u64);
    earlier || fewer || limits.words.as_deref().is_some_and(|w| !w.trim().is_empty())
}

/// At taking in, a countersignature is refused when, worked out again, it would end earlier.
pub fn still_valid(known: &Known<'_>, permit: &Permit, texts: &Texts, data: &Json) -> Result<(), Refusal> {
    let until = data.get("limits").and_then(|l| l.text("until"));
    let limit = valid_to(known, permit, texts, until);
    let signed = data.text("valid_to").unwrap_or_default();
    if limit.second < seconds(signed) {
        return Err(Refusal::because(format!("worked out again, it ends earlier: {}", limit.because))
            .instead("prepare it again"));
    }
    Ok(())
}

/// The supervisor refuses.
pub fn refuse(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    reason: &str,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, "it cannot be refused", &[StateWord::Declared])?;
    unless(may_sign(known, hand.by, Role::Supervisor), "a supervisor refuses")?;
    let Some((declared, _)) = known.chain.declared(&permit.number) else {
        return Err(Refusal::because("nobody has declared it"));
    };
    let reason = super::answer::clean(reason)?;
    let mut v = values(permit, texts);
    v.push(("reason", reason.clone()));
    let words = said("refuse", &v).map_err(Refusal::because)?;
    let members = vec![("reason".into(), reason.into()), ("target".into(), declared.as_str().into())];
    Ok(act(known, permit, "refuse", Role::Supervisor, hand, words, members))
}

/// The operator hands back: after the shutdown, or leaving the set running for another live permit.
pub fn hand_back(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    left_running: Option<&str>,
    reason: Option<&str>,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    let states: &[StateWord] =
        if permit.for_shutdown { &[StateWord::Draft] } else { &[StateWord::Live, StateWord::Suspended] };
    in_states(known, permit, "it cannot be handed back", states)?;
    let mut why = may_sign(known, hand.by, Role::Operator);
    for p in &known.state.on_air {
        let from_here = p.set == permit.set.id || !known.has_set(&p.set);
        let unplaced = p.permit.is_none() || left_running.is_none();
        if p.permit.as_deref() == Some(&permit.number) || (unplaced && from_here) {
            why.push(format!("{} is on air ({})", p.person, p.whereabouts.words()));
        }
    }
    let how = match left_running {
        Some(other) => {
            let good = match known.state.permits.get(other) {
                Some(o) => {
                    other != permit.number && o.set.id == permit.set.id && known.life(o) == StateWord::Live
                }
                // An excerpt holds no other permit; the station will know.
                None => known.state.of_one,
            };
            if !good {
                why.push(format!("{other} is no other live permit of this set"));
            }
            format!("The set was left running for {other}.")
        }
        None => {
            let bench = Bench::new(known.state, permit, texts, known.now);
            match bench.shutdown() {
                None => why.push("no shutdown form is in force here".into()),
                Some(b) => {
                    let stands = walk::walk(&b);
                    let left: Vec<&_> = stands.iter().filter(|s| !s.done()).collect();
                    why.extend(walk::in_words(&left));
                }
            }
            if super::answer::running(known, &permit.set.id) {
                why.push("the register says the set is running".into());
            }
            "It was shut down as recorded.".to_owned()
        }
    };
    unless(
        why,
        "take the shutdown steps first: `airwrit walk --shutdown`; or name the live permit the set runs on for",
    )?;
    let mut v = values(permit, texts);
    v.push(("how", how));
    let mut members = Vec::new();
    let reason = reason.map(super::answer::clean).transpose()?;
    v.push(("reason", reason.as_ref().map(|r| format!(" {r}")).unwrap_or_default()));
    if let Some(r) = reason {
        members.push(("reason".to_owned(), Json::from(r)));
    }
    if let Some(o) = left_running {
        members.push(("left_running".to_owned(), o.into()));
    }
    let words = said("hand_back", &v).map_err(Refusal::because)?;
    Ok(act(known, permit, "hand_back", Role::Operator, hand, words, members))
}

/// The supervisor ends it after the hand-back.
pub fn close(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, "it cannot be closed", &[StateWord::HandedBack])?;
    let mut why = may_sign(known, hand.by, Role::Supervisor);
    if known.state.tally_of_permit(&permit.number) > 0 {
        why.push("somebody is on air on it".into());
    }
    unless(why, "a supervisor closes it at tally zero")?;
    let target = known.chain.handed_back(&permit.number).unwrap_or_default().to_owned();
    let words = said("close", &values(permit, texts)).map_err(Refusal::because)?;
    Ok(act(known, permit, "close", Role::Supervisor, hand, words, vec![("target".into(), target.into())]))
}

/// The supervisor withdraws it; only at tally zero.
pub fn cancel(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    reason: &str,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(
        known,
        permit,
        "it cannot be cancelled",
        &[StateWord::Draft, StateWord::Declared, StateWord::Live, StateWord::Suspended],
    )?;
    let mut why = may_sign(known, hand.by, Role::Supervisor);
    // Somebody told on this set without a permit may be on this one: the words signed say that nobody is.
    let here = |p: &&crate::permit::state::OnAir| match p.permit.as_deref() {
        Some(number) => number == permit.number,
        None => p.set == permit.set.id || !known.has_set(&p.set),
    };
    for p in known.state.on_air.iter().filter(here) {
        why.push(format!("{} is on air ({})", p.person, p.whereabouts.words()));
    }
    unless(why, "get everyone off air first: call them out, suspend")?;
    let reason = super::answer::clean(reason)?;
    let mut v = values(permit, texts);
    v.push(("reason", reason.clone()));
    let words = said("cancel", &v).map_err(Refusal::because)?;
    Ok(act(known, permit, "cancel", Role::Supervisor, hand, words, vec![("reason".into(), reason.into())]))
}

/// An approver puts a text in force: `form`, `set` or `site`.
pub fn approve(
    known: &Known<'_>,
    hand: &Hand<'_>,
    kind: &'static str,
    id: &str,
    revision: Option<u32>,
    text: &str,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    unless(may_sign(known, hand.by, Role::Approver), "an approver of the roster puts texts in force")?;
    is_what_it_says(kind, id, revision, text)?;
    let hash = crate::record::line::hash(text.as_bytes());
    let v = |what: &str| -> Vec<(&'static str, String)> {
        vec![
            ("id", id.to_owned()),
            ("what", what.to_owned()),
            ("hash", hash.clone()),
            ("revision", revision.unwrap_or_default().to_string()),
        ]
    };
    let words = said(if kind == "form" { "form" } else { "file" }, &v(kind)).map_err(Refusal::because)?;
    let mut data = object([
        (kind, id.into()),
        ("hash", hash.as_str().into()),
        ("said", words.into()),
        ("text", text.into()),
        ("where", if hand.own { "own" } else { "station" }.into()),
    ]);
    if let Some(r) = revision {
        data = data.with("revision", Json::Int(u64::from(r)));
    }
    if kind == "site" {
        data = data.with("what", "site");
    }
    let subject = crate::record::chain::subject_of(kind, &data);
    let before = subject.map_or(crate::record::line::NONE, |s| known.chain.last_of(&s)).to_owned();
    let act = ActDraft {
        kind,
        log: known.chain.origin.log.clone(),
        permit: None,
        shown: before,
        by: hand.by.to_owned(),
        role: Role::Approver,
        time: known.now.time.clone(),
        data,
    };
    Ok(Prepared { act, claim: None })
}

/// A text is put in force as what it says of itself, and only if it can be read.
fn is_what_it_says(kind: &str, id: &str, revision: Option<u32>, text: &str) -> Result<(), Refusal> {
    let (got_id, got_revision) = match kind {
        "form" => {
            let c = bench::checklist(id, text).map_err(Refusal::because)?;
            (c.id().to_owned(), Some(c.revision()))
        }
        _ => {
            let values = bench::file(kind, text).map_err(Refusal::because)?;
            (values.text(kind).unwrap_or_default().to_owned(), None)
        }
    };
    if got_id == id && got_revision == revision {
        return Ok(());
    }
    let of = |r: Option<u32>| r.map(|r| format!(", revision {r}")).unwrap_or_default();
    Err(Refusal::because(format!(
        "the text says it is {kind} `{got_id}`{}, the act says `{}`{}",
        of(got_revision),
        crate::text::safe_line(id),
        of(revision)
    )))
}

/// The supervisor says that the station's clock is right and the last line was written by a wrong one.
pub fn clock(known: &Known<'_>, hand: &Hand<'_>, reason: &str) -> Result<ActDraft, Refusal> {
    if !known.behind() {
        return Err(Refusal::because("the clock is not behind the last line: there is nothing to set right"));
    }
    unless(may_sign(known, hand.by, Role::Supervisor), "a supervisor of the roster says so")?;
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
