//! A later end: asked for by the holder, given by a supervisor.
//!
//! Always: on a live permit, with the gauges read lately and everything that declaring asks judged again; never past the
//! shift, the site's most hours, or anything else that ends it. Not here: taking the second half in (`take_in`).

use super::{Hand, Prepared, act, may_sign, not_ready, over_already, stands_apart, valid_to, values};
use crate::permit::bench::Texts;
use crate::permit::decide::{Known, Refusal, answer, in_states, unless};
use crate::permit::due;
use crate::permit::said::said;
use crate::permit::state::{Extended, Permit};
use crate::permit::valid::{Limit, Of};
use crate::record::json::{Json, object};
use crate::time::{at_site, for_people, seconds, utc};
use crate::tongue::say;
use crate::trust::{Role, token};
use crate::view::StateWord;
use std::collections::BTreeSet;

/// A later end as it is asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Later {
    /// The end of the work, UTC.
    pub until: String,
    /// Entry and work permits that end otherwise now: id, UTC.
    pub entry_permits: Vec<(String, String)>,
    /// Why.
    pub reason: String,
}

impl Later {
    /// As the data of an act holds it; `None` if that is no first half.
    pub fn of(data: &Json) -> Option<Later> {
        let ends = match data.get("entry_permits") {
            Some(Json::Arr(all)) => all
                .iter()
                .filter_map(|e| Some((e.text("id")?.to_owned(), e.text("until")?.to_owned())))
                .collect(),
            Some(_) | None => Vec::new(),
        };
        Some(Later {
            until: data.text("until")?.to_owned(),
            entry_permits: ends,
            reason: data.text("reason")?.to_owned(),
        })
    }

    /// The permit as it would be with this end.
    pub(super) fn on(&self, permit: &Permit) -> Permit {
        let mut with = permit.clone();
        let mut ends = permit.extended.last().map(|e| e.entry_permits.clone()).unwrap_or_default();
        ends.extend(self.entry_permits.iter().cloned());
        let stamp = permit.since.clone();
        with.extended.push(Extended { stamp, until: self.until.clone(), entry_permits: ends });
        with
    }

    fn entry_permits_in_words(&self, texts: &Texts) -> String {
        let one = |(id, until): &(String, String)| {
            let name = texts.job.item("entry_permits", id).and_then(|p| p.words("name"));
            let name = name.map_or(id.as_str(), |w| w.get(&texts.language));
            format!("\n{}", say!("{name} now ends at {time}.", name, time = at_site(until, &texts.zone)))
        };
        self.entry_permits.iter().map(one).collect()
    }
}

/// What can be done against what stands in the way of a later end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Mend {
    Read,
    NextShift,
    EntryPermit,
    Reinstate,
    Holder,
}

/// Everything against a later end, what can be done about it, and until when it would be.
fn judged(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    later: &Later,
) -> (Vec<String>, BTreeSet<Mend>, Limit) {
    let with = later.on(permit);
    let limit = valid_to(known, &with, texts, None);
    let mut why = Vec::new();
    let mut mends = BTreeSet::new();
    if permit.called_out {
        mends.insert(Mend::Reinstate);
        why.push(say!("everyone was called out on it").into());
    }
    let end = permit.valid_to.as_deref().unwrap_or_default();
    if end <= known.time() {
        why.push(say!("it was valid to {time}: its time is over", time = for_people(end, &known.now.zone)));
    }
    if limit.of == Of::Shift && (limit.second <= seconds(end) || over_already(known, &limit).is_some()) {
        mends.insert(Mend::NextShift);
    }
    if limit.second <= seconds(end) {
        why.push(say!(
            "it would end no later than {end}, as it does: {because}",
            end = at_site(end, &texts.zone),
            because = limit.because
        ));
    }
    for (id, _) in &later.entry_permits {
        if texts.job.item("entry_permits", id).is_none() {
            mends.insert(Mend::EntryPermit);
            why.push(say!("the job names no entry permit `{id}`", id = crate::text::safe_line(id)));
        }
    }
    let unread = due::unread_lately(known, permit, texts);
    mends.extend((!unread.is_empty()).then_some(Mend::Read));
    why.extend(unread);
    why.extend(known.keys_lost(permit));
    why.extend(not_ready(known, &with, texts));
    why.dedup();
    (why, mends, limit)
}

/// What to do about it, of what can be done about it.
fn mend(mends: &BTreeSet<Mend>) -> String {
    let word = |mend: &Mend| match mend {
        Mend::Read => say!("read what is named"),
        Mend::NextShift => {
            say!("past the end of the shift the next shift takes it over first: `airwrit hand-over`")
        }
        Mend::EntryPermit => say!("name the later end of its entry permits: --entry-permit ID=HH:MM"),
        Mend::Reinstate => say!("it is reinstated first"),
        Mend::Holder => say!("whoever holds it asks"),
    };
    let words: Vec<&str> = mends.iter().map(word).collect();
    let words =
        if words.is_empty() { say!("answer again what is asked again").into() } else { words.join("; ") };
    say!("{words}; else hand it back and open another", words)
}

/// The holder asks.
pub fn ask_later(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    later: &Later,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, say!("it cannot be extended"), &[StateWord::Live])?;
    let mut why = may_sign(known, hand.by, Role::Operator);
    let holder = texts.job.text("holder").unwrap_or_default();
    if holder != hand.by {
        why.push(say!("the holder of this permit is {holder}, who asks for a later end", holder));
    }
    let (against, mut mends, _) = judged(known, permit, texts, later);
    mends.extend((holder != hand.by).then_some(Mend::Holder));
    why.extend(against);
    unless(why, &mend(&mends))?;
    let reason = answer::clean(&later.reason)?;
    let mut v = values(permit, texts);
    v.push(("until", at_site(&later.until, &texts.zone)));
    v.push(("reason", reason.clone()));
    v.push(("entry_permits", later.entry_permits_in_words(texts)));
    v.push(("freshness", due::freshness_in_words(texts)));
    let words = said("extend_asked", &v).map_err(Refusal::because)?;
    let mut members = vec![
        ("part".to_owned(), Json::from("asked")),
        ("reason".to_owned(), reason.into()),
        ("until".to_owned(), later.until.as_str().into()),
    ];
    if !later.entry_permits.is_empty() {
        let one = |(id, until): &(String, String)| {
            object([("id", id.as_str().into()), ("until", until.as_str().into())])
        };
        members.push(("entry_permits".into(), Json::Arr(later.entry_permits.iter().map(one).collect())));
    }
    Ok(act(known, permit, "extend", Role::Operator, hand, words, members))
}

/// A supervisor gives what was asked for.
pub fn give_later(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, say!("it cannot be extended"), &[StateWord::Live])?;
    let asked = permit.pending.as_ref().filter(|p| p.kind == "extend");
    let Some((asked, later)) = asked.and_then(|a| Some((a, Later::of(&a.data)?))) else {
        let why = super::fell(permit, "extend").unwrap_or_else(|| say!("nobody asks for a later end").into());
        return Err(Refusal::because(why).instead(say!("its holder asks: `airwrit extend`")));
    };
    let mut why = may_sign(known, hand.by, Role::Supervisor);
    if asked.stamp.by == hand.by {
        why.push(say!("the person who asked may not give it").into());
    }
    why.extend(stands_apart(permit, texts, hand.by));
    let (against, _, limit) = judged(known, permit, texts, &later);
    why.extend(against);
    why.extend(over_already(known, &limit));
    unless(why, say!("the holder mends this and asks again; or hands it back"))?;
    let Some(shown) = known.chain.shown(&permit.number, hand.shown) else {
        return Err(Refusal::because(say!("the permit moved on after what was shown"))
            .instead(say!("prepare it again")));
    };
    let mut v = values(permit, texts);
    v.push(("valid_to", at_site(&limit.utc(), &texts.zone)));
    v.push(("valid_by", limit.because.clone()));
    v.push(("holder", known.chain.origin.roster.name_of(&asked.stamp.by).to_owned()));
    v.push(("reason", later.reason.clone()));
    v.push(("entry_permits", later.entry_permits_in_words(texts)));
    let words = said("extend_given", &v).map_err(Refusal::because)?;
    let claim = token::Claim {
        permit: permit.number.clone(),
        valid_to: limit.utc(),
        seq: shown.seq,
        hash: shown.hash.clone(),
    };
    let members = vec![
        ("part".to_owned(), Json::from("given")),
        ("target".to_owned(), asked.stamp.hash.as_str().into()),
        ("valid_by".to_owned(), limit.because.into()),
        ("valid_to".to_owned(), utc(limit.second).into()),
    ];
    let prepared = act(known, permit, "extend", Role::Supervisor, hand, words, members);
    Ok(Prepared { claim: Some(claim), ..prepared })
}
