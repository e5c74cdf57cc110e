//! Ending a permit: handed back by the operator, closed or withdrawn by the supervisor.
//!
//! Always: never while somebody is on air on it, or on its set without anyone knowing on which permit. Not here:
//! ends that nobody signs (`lapsed` is worked out).

use super::{Hand, Prepared, act, may_sign, values};
use crate::permit::bench::Texts;
use crate::permit::decide::{Known, Refusal, answer, crew, in_states, unless};
use crate::permit::said::said;
use crate::permit::state::Permit;
use crate::permit::walk;
use crate::record::json::Json;
use crate::tongue::say;
use crate::trust::Role;
use crate::view::StateWord;

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
    in_states(known, permit, say!("it cannot be handed back"), states)?;
    let mut why = may_sign(known, hand.by, Role::Operator);
    for p in &known.state.on_air {
        let from_here = p.set == permit.set.id || !known.has_set(&p.set);
        let unplaced = p.permit.is_none() || left_running.is_none();
        if p.permit.as_deref() == Some(&permit.number) || (unplaced && from_here) {
            why.push(say!(
                "{person} is on air ({whereabouts})",
                person = p.person,
                whereabouts = p.whereabouts.words()
            ));
        }
    }
    why.extend(crew::lost_in_words(known, permit));
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
                why.push(say!("{other} is no other live permit of this set", other));
            }
            say!("The set was left running for {other}.", other)
        }
        None => {
            let bench = known.bench(permit, texts);
            match bench.shutdown().map(|b| known.recalled(b)) {
                None => why.push(say!("no shutdown form is in force here").into()),
                Some(b) => {
                    let stands = walk::walk(&b);
                    let left: Vec<&_> = stands.iter().filter(|s| !s.done()).collect();
                    why.extend(walk::in_words(&left));
                }
            }
            if answer::running(known, &permit.set.id) {
                why.push(say!("the register says the set is running").into());
            }
            say!("It was shut down as recorded.").to_owned()
        }
    };
    unless(
        why,
        say!(
            "take the shutdown steps first: `airwrit walk --shutdown`; or name the live permit the set runs \
             on for"
        ),
    )?;
    let mut v = values(permit, texts);
    v.push(("how", how));
    let mut members = Vec::new();
    let reason = reason.map(answer::clean).transpose()?;
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
    in_states(known, permit, say!("it cannot be closed"), &[StateWord::HandedBack])?;
    let mut why = may_sign(known, hand.by, Role::Supervisor);
    if known.state.tally_of_permit(&permit.number) > 0 {
        why.push(say!("somebody is on air on it").into());
    }
    why.extend(crew::lost_in_words(known, permit));
    let untold = |p: &&crate::permit::state::OnAir| {
        p.permit.is_none() && (p.set == permit.set.id || !known.has_set(&p.set))
    };
    for p in known.state.on_air.iter().filter(untold) {
        why.push(say!(
            "{person} is on air ({whereabouts})",
            person = p.person,
            whereabouts = p.whereabouts.words()
        ));
    }
    unless(why, say!("a supervisor closes it at tally zero"))?;
    let target = known.chain.handed_back(&permit.number).unwrap_or_default();
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
        say!("it cannot be cancelled"),
        &[StateWord::Draft, StateWord::Declared, StateWord::Live, StateWord::Suspended],
    )?;
    let mut why = may_sign(known, hand.by, Role::Supervisor);
    // Somebody told on this set without a permit may be on this one: the words signed say that nobody is.
    let here = |p: &&crate::permit::state::OnAir| match p.permit.as_deref() {
        Some(number) => number == permit.number,
        None => p.set == permit.set.id || !known.has_set(&p.set),
    };
    for p in known.state.on_air.iter().filter(here) {
        why.push(say!(
            "{person} is on air ({whereabouts})",
            person = p.person,
            whereabouts = p.whereabouts.words()
        ));
    }
    // On a permit that is over nobody is asked for any more.
    why.extend(crew::lost_in_words(known, permit));
    unless(why, say!("get everyone off air first: call them out, suspend"))?;
    let reason = answer::clean(reason)?;
    let mut v = values(permit, texts);
    v.push(("reason", reason.clone()));
    let words = said("cancel", &v).map_err(Refusal::because)?;
    Ok(act(known, permit, "cancel", Role::Supervisor, hand, words, vec![("reason".into(), reason.into())]))
}
