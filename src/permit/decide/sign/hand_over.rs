//! The permit passes to another operator: handed over by the one who holds it, taken by the one who is named.
//!
//! Always: after a roll call and readings that are not old, with wind and warnings looked at together; nobody stays on
//! air over it unless that is said and why. Not here: attendants relieved (`crew`).

use super::{Hand, Prepared, act, may_sign, values};
use crate::permit::bench::Texts;
use crate::permit::decide::{Known, Refusal, answer, crew, in_states, unless};
use crate::permit::said::said;
use crate::permit::state::{Permit, Signed};
use crate::permit::{due, ends, watch};
use crate::record::json::Json;
use crate::text::listed;
use crate::time::for_people;
use crate::trust::Role;
use crate::view::StateWord;
use num_traits::ToPrimitive;

/// What the outgoing holder says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Handing {
    /// Who takes it.
    pub to: String,
    /// The next shift takes it, and with it the end of its own shift; else the holder alone changes.
    pub shift: bool,
    /// Looked at together: `wind`, `warnings`, `fuel`.
    pub checked: Vec<String>,
    /// What was unusual.
    pub unusual: String,
    /// Why people stay on air meanwhile, if they do.
    pub staying: Option<String>,
}

impl Handing {
    /// As the data of an act holds it; `None` if that is no first half.
    pub fn of(data: &Json) -> Option<Handing> {
        Some(Handing {
            to: data.text("to")?.to_owned(),
            shift: data.text("takes") == Some("shift"),
            checked: data.texts("checked").into_iter().map(str::to_owned).collect(),
            unusual: data.text("unusual")?.to_owned(),
            staying: data.text("staying").map(str::to_owned),
        })
    }
}

const STATES: &[StateWord] = &[StateWord::Live, StateWord::Suspended];

/// Everything against it, as things are.
fn judged(known: &Known<'_>, permit: &Permit, texts: &Texts, handing: &Handing) -> Vec<String> {
    let mut why = Vec::new();
    let to = handing.to.as_str();
    let roster = &known.chain.origin.roster;
    match roster.person(to) {
        Some(_) => why.extend(may_sign(known, to, Role::Operator)),
        None => why.push(format!("`{}` is not on the roster", crate::text::safe_line(to))),
    }
    why.extend(crew::against(known, permit, "holder", to));
    if permit.issued_by(to) {
        why.push(format!("{to} issued it, and who issues does not hold it"));
    }
    if handing.shift {
        why.extend(too_early(known, permit, texts));
    }
    for p in known.perhaps_on_air_from(&permit.set.id) {
        if handing.staying.is_none() {
            why.push(format!("{} is on air ({})", p.person, p.whereabouts.words()));
        }
        if p.person == to {
            why.push(format!("{to} is on air"));
        }
    }
    if permit.called_out && known.state.tally_of_permit(&permit.number) > 0 {
        why.push("everyone was called out, and is not out".into());
    }
    if due::rolled_lately(known, permit, texts).is_none() {
        why.push(format!(
            "no roll call within the last {} found everyone: `airwrit roll-call {}`",
            due::freshness_in_words(texts),
            permit.number
        ));
    }
    why.extend(due::unread_lately(known, permit, texts));
    if known.life(permit) == StateWord::Live {
        why.extend(watch::against(known, permit, texts));
    }
    let fuel = texts.set.choice("driven_by") != Some("mains");
    for (what, asked) in [("wind", true), ("warnings", true), ("fuel", fuel)] {
        if asked && !handing.checked.iter().any(|c| c == what) {
            why.push(format!("not said that both looked at: {what} (--checked {what})"));
        }
    }
    if permit.valid_to.as_deref().is_some_and(|v| v <= known.time()) {
        why.push("its time is over".into());
    }
    why
}

/// The next shift takes over when it comes, and not hours before: else two hands-over there and back would move the end
/// of the permit past the shift that it was issued for.
fn too_early(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    let Some(end) = ends::shift_end(permit, texts, None) else {
        return Some("when its shift ends cannot be worked out".into());
    };
    let overlap = texts.site.quantity("shift_overlap").and_then(|q| q.value.to_integer().to_i64());
    let from = end - overlap.unwrap_or(0);
    (known.now.seconds() < from).then(|| {
        let at = |second: i64| for_people(&crate::time::utc(second), &known.now.zone);
        format!(
            "its shift ends {}: the next one takes it from {} on; before that the holder alone changes (without --shift)",
            at(end),
            at(from)
        )
    })
}

/// What to do about it, of what can be done about it.
fn mend(why: &[String]) -> String {
    let any = |part: &str| why.iter().any(|w| w.contains(part));
    let all = [
        (
            any("is on air (") || any("is not out"),
            "see everyone off air; where they must stay on meanwhile, say why: --staying",
        ),
        (any("roll call"), "call the roll"),
        (any("`airwrit reading`"), "read what is named"),
        (any("--checked"), "look at it together, then say so"),
        (any("its time is over"), "hand it back, and open another permit"),
        (any("the holder of this permit is") || any("it is handed over to"), "whoever is named signs"),
        (any("who issues does not hold it") || any("roster"), "another operator takes it"),
    ];
    let words: Vec<&str> = all.iter().filter(|(is, _)| *is).map(|(_, words)| *words).collect();
    if words.is_empty() { "mend this first".into() } else { words.join("; ") }
}

/// The words that both halves share.
fn shared(known: &Known<'_>, permit: &Permit, texts: &Texts, h: &Handing) -> Vec<(&'static str, String)> {
    let roster = &known.chain.origin.roster;
    let rolled = due::rolled_lately(known, permit, texts);
    let checked: Vec<&str> = h.checked.iter().map(String::as_str).collect();
    let mut v = values(permit, texts);
    v.push(("to", roster.name_of(&h.to).to_owned()));
    v.push(("takes", if h.shift { "for the next shift" } else { "in this shift" }.into()));
    v.push(("checked", listed(&checked, "and")));
    v.push(("unusual", h.unusual.clone()));
    v.push((
        "staying",
        match &h.staying {
            Some(why) => format!("People stay on air meanwhile: {why}"),
            None => "Nobody is on this air.".to_owned(),
        },
    ));
    v.push(("rolled", rolled.map(|r| for_people(&r.time, &r.zone)).unwrap_or_default()));
    v.push(("freshness", due::freshness_in_words(texts)));
    v
}

/// The outgoing holder.
pub fn outgoing(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    handing: &Handing,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, "it cannot be handed over", STATES)?;
    let mut why = may_sign(known, hand.by, Role::Operator);
    let holder = texts.job.text("holder").unwrap_or_default();
    if holder != hand.by {
        why.push(format!("the holder of this permit is {holder}, who hands it over"));
    }
    if handing.to == hand.by {
        why.push(format!("{} holds it already", hand.by));
    }
    why.extend(judged(known, permit, texts, handing));
    let mend = mend(&why);
    unless(why, &mend)?;
    let unusual = answer::clean(&handing.unusual)?;
    let staying = handing.staying.as_deref().map(answer::clean).transpose()?;
    let mut checked = handing.checked.clone();
    checked.sort_unstable();
    checked.dedup();
    let handing = Handing { unusual, staying, checked: checked.clone(), ..handing.clone() };
    let words =
        said("hand_over_outgoing", &shared(known, permit, texts, &handing)).map_err(Refusal::because)?;
    let mut members = vec![
        ("checked".to_owned(), Json::Arr(checked.iter().map(|c| Json::from(c.as_str())).collect())),
        ("part".to_owned(), "outgoing".into()),
        ("takes".to_owned(), if handing.shift { "shift" } else { "holder" }.into()),
        ("to".to_owned(), handing.to.as_str().into()),
        ("unusual".to_owned(), handing.unusual.as_str().into()),
    ];
    if let Some(why) = &handing.staying {
        members.push(("staying".to_owned(), why.as_str().into()));
    }
    Ok(act(known, permit, "hand_over", Role::Operator, hand, words, members))
}

/// The first half that waits to be taken.
pub fn waiting(permit: &Permit) -> Option<(&Signed, Handing)> {
    let first = permit.pending.as_ref().filter(|p| p.kind == "hand_over")?;
    Some((first, Handing::of(&first.data)?))
}

/// The incoming holder.
pub fn incoming(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, "it cannot be taken over", STATES)?;
    let Some((first, handing)) = waiting(permit) else {
        let why = super::fell(permit, "hand_over").unwrap_or_else(|| "nobody hands it over".into());
        return Err(Refusal::because(why)
            .instead(format!("its holder signs first: `airwrit hand-over {}`", permit.number)));
    };
    let mut why = may_sign(known, hand.by, Role::Operator);
    if handing.to != hand.by {
        why.push(format!("it is handed over to {}", handing.to));
    }
    why.extend(judged(known, permit, texts, &handing));
    why.dedup();
    let mend = mend(&why);
    unless(why, &mend)?;
    let mut v = shared(known, permit, texts, &handing);
    v.push(("from", known.chain.origin.roster.name_of(&first.stamp.by).to_owned()));
    let words = said("hand_over_incoming", &v).map_err(Refusal::because)?;
    let members = vec![
        ("part".to_owned(), Json::from("incoming")),
        ("target".to_owned(), first.stamp.hash.as_str().into()),
    ];
    Ok(act(known, permit, "hand_over", Role::Operator, hand, words, members))
}
