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
use crate::tongue::say;
use crate::trust::Role;
use crate::view::StateWord;
use num_traits::ToPrimitive;
use std::collections::BTreeSet;

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

/// What can be done against what stands in the way of handing over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Mend {
    OffAir,
    Roll,
    Read,
    Look,
    Another,
    Named,
    OtherOperator,
}

/// Whether somebody is no operator of the roster.
fn no_operator(known: &Known<'_>, person: &str) -> bool {
    known.chain.origin.roster.person(person).is_none_or(|p| !p.roles.contains(&Role::Operator))
}

/// Everything against it, as things are, and what can be done about it.
fn judged(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    handing: &Handing,
) -> (Vec<String>, BTreeSet<Mend>) {
    let mut why = Vec::new();
    let mut mends = BTreeSet::new();
    let to = handing.to.as_str();
    let roster = &known.chain.origin.roster;
    match roster.person(to) {
        Some(_) => why.extend(may_sign(known, to, Role::Operator)),
        None => why.push(say!("`{person}` is not on the roster", person = crate::text::safe_line(to))),
    }
    why.extend(crew::against(known, permit, "holder", to));
    if permit.issued_by(to) || no_operator(known, to) {
        mends.insert(Mend::OtherOperator);
    }
    if permit.issued_by(to) {
        why.push(say!("{to} issued it, and who issues does not hold it", to));
    }
    if handing.shift {
        why.extend(too_early(known, permit, texts));
    }
    for p in known.perhaps_on_air_from(&permit.set.id) {
        if handing.staying.is_none() {
            mends.insert(Mend::OffAir);
            why.push(say!(
                "{person} is on air ({whereabouts})",
                person = p.person,
                whereabouts = p.whereabouts.words()
            ));
        }
        if p.person == to {
            why.push(say!("{to} is on air", to));
        }
    }
    if permit.called_out && known.state.tally_of_permit(&permit.number) > 0 {
        mends.insert(Mend::OffAir);
        why.push(say!("everyone was called out, and is not out").into());
    }
    if due::rolled_lately(known, permit, texts).is_none() {
        mends.insert(Mend::Roll);
        why.push(say!(
            "no roll call within the last {time} found everyone: `airwrit roll-call {permit}`",
            time = due::freshness_in_words(texts),
            permit = permit.number
        ));
    }
    let unread = due::unread_lately(known, permit, texts);
    mends.extend((!unread.is_empty()).then_some(Mend::Read));
    why.extend(unread);
    if known.life(permit) == StateWord::Live {
        why.extend(watch::against(known, permit, texts));
    }
    let fuel = texts.set.choice("driven_by") != Some("mains");
    for (what, asked) in [("wind", true), ("warnings", true), ("fuel", fuel)] {
        if asked && !handing.checked.iter().any(|c| c == what) {
            mends.insert(Mend::Look);
            why.push(say!("not said that both looked at: {what} (--checked {what})", what));
        }
    }
    if permit.valid_to.as_deref().is_some_and(|v| v <= known.time()) {
        mends.insert(Mend::Another);
        why.push(say!("its time is over").into());
    }
    (why, mends)
}

/// The next shift takes over when it comes, and not hours before: else two hands-over there and back would move the end
/// of the permit past the shift that it was issued for.
fn too_early(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    let Some(end) = ends::shift_end(permit, texts, None) else {
        return Some(say!("when its shift ends cannot be worked out").into());
    };
    let overlap = texts.site.quantity("shift_overlap").and_then(|q| q.value.to_integer().to_i64());
    let from = end - overlap.unwrap_or(0);
    (known.now.seconds() < from).then(|| {
        let at = |second: i64| for_people(&crate::time::utc(second), &known.now.zone);
        say!(
            "its shift ends {end}: the next one takes it from {from} on; before that the holder alone \
              changes (without --shift)",
            end = at(end),
            from = at(from)
        )
    })
}

/// What to do about it, of what can be done about it.
fn mend(mends: &BTreeSet<Mend>) -> String {
    let word = |mend: &Mend| match mend {
        Mend::OffAir => {
            say!("see everyone off air; where they must stay on meanwhile, say why: --staying")
        }
        Mend::Roll => say!("call the roll"),
        Mend::Read => say!("read what is named"),
        Mend::Look => say!("look at it together, then say so"),
        Mend::Another => say!("hand it back, and open another permit"),
        Mend::Named => say!("whoever is named signs"),
        Mend::OtherOperator => say!("another operator takes it"),
    };
    let words: Vec<&str> = mends.iter().map(word).collect();
    if words.is_empty() { say!("mend this first").into() } else { words.join("; ") }
}

/// The words that both halves share.
fn shared(known: &Known<'_>, permit: &Permit, texts: &Texts, h: &Handing) -> Vec<(&'static str, String)> {
    let roster = &known.chain.origin.roster;
    let rolled = due::rolled_lately(known, permit, texts);
    let checked: Vec<&str> = h.checked.iter().map(String::as_str).collect();
    let mut v = values(permit, texts);
    v.push(("to", roster.name_of(&h.to).to_owned()));
    v.push(("takes", if h.shift { say!("for the next shift") } else { say!("in this shift") }.into()));
    v.push(("checked", listed(&checked, say!("and"))));
    v.push(("unusual", h.unusual.clone()));
    v.push((
        "staying",
        match &h.staying {
            Some(why) => say!("People stay on air meanwhile: {why}", why),
            None => say!("Nobody is on this air.").to_owned(),
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
    in_states(known, permit, say!("it cannot be handed over"), STATES)?;
    let mut why = may_sign(known, hand.by, Role::Operator);
    let holder = texts.job.text("holder").unwrap_or_default();
    if holder != hand.by {
        why.push(say!("the holder of this permit is {holder}, who hands it over", holder));
    }
    if handing.to == hand.by {
        why.push(say!("{person} holds it already", person = hand.by));
    }
    let (against, mut mends) = judged(known, permit, texts, handing);
    why.extend(against);
    mends.extend((holder != hand.by).then_some(Mend::Named));
    mends.extend(no_operator(known, hand.by).then_some(Mend::OtherOperator));
    unless(why, &mend(&mends))?;
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
    in_states(known, permit, say!("it cannot be taken over"), STATES)?;
    let Some((first, handing)) = waiting(permit) else {
        let why = super::fell(permit, "hand_over").unwrap_or_else(|| say!("nobody hands it over").into());
        return Err(Refusal::because(why)
            .instead(say!("its holder signs first: `airwrit hand-over {permit}`", permit = permit.number)));
    };
    let mut why = may_sign(known, hand.by, Role::Operator);
    if handing.to != hand.by {
        why.push(say!("it is handed over to {person}", person = handing.to));
    }
    let (against, mut mends) = judged(known, permit, texts, &handing);
    why.extend(against);
    why.dedup();
    mends.extend((handing.to != hand.by).then_some(Mend::Named));
    mends.extend(no_operator(known, hand.by).then_some(Mend::OtherOperator));
    unless(why, &mend(&mends))?;
    let mut v = shared(known, permit, texts, &handing);
    v.push(("from", known.chain.origin.roster.name_of(&first.stamp.by).to_owned()));
    let words = said("hand_over_incoming", &v).map_err(Refusal::because)?;
    let members = vec![
        ("part".to_owned(), Json::from("incoming")),
        ("target".to_owned(), first.stamp.hash.as_str().into()),
    ];
    Ok(act(known, permit, "hand_over", Role::Operator, hand, words, members))
}
