//! Reinstating a suspended permit: by a supervisor; by its holder after a drill or a false alarm.
//!
//! Always: nobody on air from the set, a roll call since that found everyone, the gauges read since, everything that
//! declaring asks judged again. What an event ended (fill, filter, start, wind) is answered again before. Not here: who
//! may answer what on a suspended permit (`answer`).

use super::{Hand, Prepared, act, may_sign, not_ready, values};
use crate::permit::bench::Texts;
use crate::permit::decide::{Known, Refusal, answer, in_states, unless};
use crate::permit::said::said;
use crate::permit::state::{ENDINGS, Happened, MayNot, Permit};
use crate::permit::{due, watch};
use crate::time::for_people;
use crate::tongue::say;
use crate::trust::Role;
use crate::view::{StateWord, recorded};

/// Events that a false alarm does not end without a supervisor: what they were nobody may know by the alarm alone.
const NOT_FALSE: &[&str] = &["contact_lost", "fire", "hazard_released", "other"];

/// What else happened since a permit was suspended that neither a drill nor a false alarm ends.
fn not_of_it(known: &Known<'_>, permit: &Permit) -> Vec<String> {
    let since = |h: &&Happened| h.stamp.seq >= permit.since.seq;
    let mut why = Vec::new();
    for h in permit.day.iter().filter(since) {
        match h.kind {
            "suspend" => why.push(say!("somebody suspended it: a supervisor reinstates").to_owned()),
            "roll_call" if !h.data.texts("missing").is_empty() => {
                why.push(say!("somebody was missing at a roll call: a supervisor reinstates").to_owned());
            }
            _ => {}
        }
    }
    let Some(set) = known.state.sets.get(&permit.set.id) else { return why };
    let drill = set.events.get("drill").is_some_and(|at| at.seq >= permit.since.seq);
    let others = set.events.iter().filter(|(what, at)| {
        let ending = ENDINGS.contains(&what.as_str());
        !ending && at.seq >= permit.since.seq && (drill || NOT_FALSE.contains(&what.as_str()))
    });
    why.extend(others.map(|(what, _)| say!("after `{what}` a supervisor reinstates", what)));
    why
}

/// What suspended it is over.
pub fn reinstate(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    hand: &Hand<'_>,
    cause: &str,
) -> Result<Prepared, Refusal> {
    known.clock()?;
    in_states(known, permit, say!("it cannot be reinstated"), &[StateWord::Suspended])?;
    let holder = texts.job.text("holder") == Some(hand.by);
    let role = if holder { Role::Operator } else { Role::Supervisor };
    let mut why = may_sign(known, hand.by, role);
    if role == Role::Operator {
        why.extend(known.state.operator_may_not(permit, known.time()).map(MayNot::words));
        // What came after the drill or the false alarm is not ended by it.
        let events = known.state.sets.get(&permit.set.id).map(|s| &s.events);
        let last = events.and_then(|e| e.iter().max_by_key(|(_, at)| at.seq));
        if let Some((what, _)) = last.filter(|(what, _)| !ENDINGS.contains(&what.as_str())) {
            why.push(say!("`{what}` came after it: a supervisor reinstates", what));
        }
        why.extend(not_of_it(known, permit));
        let issued = permit.signed.iter().filter(|s| matches!(s.kind, "countersign" | "reinstate"));
        let since = issued.map(|s| s.stamp.seq).max().unwrap_or(0);
        why.extend(
            watch::were_against(known, permit, texts, since)
                .into_iter()
                .map(|w| say!("{why}: after that a supervisor reinstates", why = w)),
        );
    } else {
        let declared = permit.last_signed("declare").map(|s| s.stamp.by.as_str());
        if declared == Some(hand.by) {
            why.push(say!("the person who declared may not reinstate as supervisor").into());
        }
        for role in ["attendant", "entry_watch"] {
            if texts.job.text(role) == Some(hand.by) {
                why.push(say!("who reinstates is not the {role} of the same permit", role = recorded(role)));
            }
        }
        if texts.job.items("wearers").iter().any(|w| w.id() == hand.by) {
            why.push(say!("who reinstates is not a wearer of the same permit").into());
        }
    }
    for p in known.perhaps_on_air_from(&permit.set.id) {
        why.push(say!(
            "{person} is on air ({whereabouts})",
            person = p.person,
            whereabouts = p.whereabouts.words()
        ));
    }
    let rolled = known.state.sets.get(&permit.set.id).and_then(|s| s.rolled.as_ref());
    let void = known.state.sets.get(&permit.set.id).and_then(|s| s.roll_void.as_ref()).map_or(0, |v| v.seq);
    let rolled = rolled.filter(|r| r.seq > permit.since.seq && r.seq > void);
    if rolled.is_none() {
        why.push(say!(
            "no roll call since it was suspended found everyone: `airwrit roll-call {permit}`",
            permit = permit.number
        ));
    }
    why.extend(due::unread_since(known, permit, texts, &permit.since));
    why.extend(known.keys_lost(permit));
    if permit.valid_to.as_deref().is_some_and(|v| v <= known.time()) {
        why.push(say!("its time is over").into());
    }
    why.extend(not_ready(known, permit, texts));
    why.dedup();
    unless(
        why,
        say!(
            "see everyone off air, call the roll, read supply, reserve and carbon monoxide, answer again \
             what the event ended (`airwrit walk`), then reinstate; or hand it back"
        ),
    )?;
    let cause = answer::clean(cause)?;
    let mut v = values(permit, texts);
    v.push(("cause", cause.clone()));
    v.push(("since", for_people(&permit.since.time, &permit.since.zone)));
    v.push(("rolled", rolled.map(|r| for_people(&r.time, &r.zone)).unwrap_or_default()));
    let words = said("reinstate", &v).map_err(Refusal::because)?;
    Ok(act(known, permit, "reinstate", role, hand, words, vec![("cause".into(), cause.into())]))
}
