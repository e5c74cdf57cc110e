//! Issuing a declared permit, or refusing it: the supervisor's part.
//!
//! Always: another person than declared, on readings that are fresh, with every deviation accepted by name and
//! the permit narrowed for it. Not here: what is asked before (`declare`), taking a signed act in (`take_in`).

use super::later::Later;
use super::seen::{self, Seen};
use super::{Hand, Prepared, act, may_sign, not_ready, over_already, valid_to, values};
use crate::permit::bench::{Bench, Texts, found};
use crate::permit::decide::{Known, Refusal, answer, in_states, unless};
use crate::permit::said::said;
use crate::permit::state::Permit;
use crate::record::json::{Json, sorted};
use crate::time::{Moment, at_site, seconds, utc};
use crate::tongue::say;
use crate::trust::{Role, token};
use crate::view::{StateWord, recorded};
use num_traits::ToPrimitive;

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
    /// What was read again at the gauge.
    pub seen: Vec<Seen>,
    /// Why nothing was, where it was not.
    pub not_seen: Option<String>,
}

/// The number of wearers that the supervisor allowed.
pub fn limit_of_wearers(permit: &Permit) -> Option<u64> {
    permit.last_signed("countersign")?.data.get("limits")?.int("wearers")
}

/// A declaration that waited longer than the site allows: the yard is not what it was.
fn too_old(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Option<String> {
    let declared = &permit.last_signed("declare")?.stamp;
    let waited = known.now.seconds() - seconds(&declared.time);
    let fresh = texts.site.quantity("freshness").and_then(|q| q.value.to_integer().to_i64());
    fresh.is_none_or(|most| waited > most).then(|| {
        let words = texts.site.get("freshness").and_then(|h| h.shown(&texts.language)).unwrap_or_default();
        say!(
            "it was declared at {time}, and a declaration is good for {freshness} here: the operator takes \
              the fresh readings again, and declares again",
            time = crate::time::clock(&declared.time, &declared.zone),
            freshness = words
        )
    })
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
    in_states(known, permit, say!("it cannot be countersigned"), &[StateWord::Declared])?;
    let mut person = may_sign(known, hand.by, Role::Supervisor);
    let Some((declared, by)) = known.chain.declared(&permit.number) else {
        return Err(Refusal::because(say!("nobody has declared it")));
    };
    if by == hand.by {
        person.push(say!("the person who declared may not countersign").into());
    }
    for role in ["attendant", "entry_watch"] {
        if texts.job.text(role) == Some(hand.by) {
            person.push(say!("who issues is not the {role} of the same permit", role = recorded(role)));
        }
    }
    if texts.job.items("wearers").iter().any(|w| w.id() == hand.by) {
        person.push(say!("who issues is not a wearer of the same permit").into());
    }
    let mut operator: Vec<String> = too_old(known, permit, texts).into_iter().collect();
    operator.extend(known.keys_lost(permit));
    operator.extend(not_ready(known, permit, texts));
    // Told without a permit, or on this one before it was issued: nobody's own steps let them on this air.
    for p in known.perhaps_on_air_from(&permit.set.id) {
        let on = p.permit.as_deref().and_then(|n| known.state.permits.get(n));
        if on.is_none_or(|on| known.life(on) != StateWord::Live) {
            operator.push(say!(
                "{person} is on air ({whereabouts}) on no live permit: off first",
                person = p.person,
                whereabouts = p.whereabouts.words()
            ));
        }
    }
    let Some(shown) = known.chain.shown(&permit.number, hand.shown) else {
        return Err(Refusal::because(say!("the permit moved on after what was shown"))
            .instead(say!("prepare it again")));
    };
    // The longest a permit may run counts from the line that was shown: the one moment that the station and
    // the signer's own machine both know, whatever their clocks show.
    let from = Moment { time: utc(shown.time), zone: known.now.zone.clone() };
    let limit = valid_to(&known.at(&from), permit, texts, limits.until.as_deref());
    let planned = texts.job.items("wearers").len() as u64;
    let number = match limits.wearers {
        Some(0) => Some(say!("a permit for nobody on air permits nothing").to_owned()),
        Some(n) if n > planned => {
            Some(say!("at most {n} on air narrows nothing: {planned} are planned", n, planned))
        }
        Some(_) | None => None,
    };
    let mut end: Vec<String> =
        over_already(known, &limit).into_iter().filter(|o| !operator.contains(o)).collect();
    end.extend(number);
    let left = deviations(known, permit, texts);
    let mut accepting = not_accepted(&left, &limits.accept);
    if !left.is_empty() && !narrows(known, permit, texts, limits) {
        accepting.push(
            say!(
                "a permit with a deviation is narrower than one without: nothing ends earlier, no fewer go \
                  on air, no word is said"
            )
            .into(),
        );
    }
    let before = seen::history(permit);
    let looked = if limits.not_seen.is_some() && limits.seen.is_empty() && before.is_empty() {
        seen::differed(permit).into_iter().collect()
    } else {
        seen::against(known, permit, texts, &limits.seen)
    };
    // Reading it again does not help any more: what was declared is not so.
    let differs =
        || crate::tongue::Tongue::English.within(|| seen::against(known, permit, texts, &limits.seen));
    let differs = !looked.is_empty()
        && (seen::differed(permit).is_some() || differs().iter().any(|why| seen::in_english(why)));
    let kinds = [
        (person, say!("another supervisor, who is none of these, countersigns")),
        (
            operator,
            say!(
                "the operator mends this, takes the fresh readings again and declares again; or `airwrit \
                 refuse` it"
            ),
        ),
        (
            end,
            say!(
                "give an earlier end that is still to come and fewer wearers than planned, or leave --until \
                 and --wearers out"
            ),
        ),
        (
            accepting,
            say!(
                "accept each deviation by its name with --accept, and narrow the permit with --until, \
                 --wearers or --limits; or `airwrit refuse` it"
            ),
        ),
        (
            looked,
            if differs {
                say!(
                    "the operator reads that gauge again, with the supervisor, answers it again and declares \
                     again; only then is it countersigned"
                )
            } else if before.is_empty() {
                say!(
                    "read each drawn gauge again without looking at what was found, and give it with --seen \
                     STEP=VALUE; where nobody can, say why with --not-seen"
                )
            } else {
                say!(
                    "a gauge did not agree on this permit: each drawn one is read again, --seen STEP=VALUE; \
                     --not-seen does not do"
                )
            },
        ),
    ];
    let instead: Vec<&str> = kinds.iter().filter(|(why, _)| !why.is_empty()).map(|(_, hint)| *hint).collect();
    let instead = instead.join("; ");
    unless(kinds.into_iter().flat_map(|(why, _)| why).collect(), &instead)?;
    let mut narrowed = Vec::new();
    let mut in_words = String::new();
    if let Some(n) = limits.wearers {
        in_words.push_str(&format!("\n{}", say!("At most {n} on air at once.", n)));
        narrowed.push(("wearers".to_owned(), Json::Int(n)));
    }
    if let Some(u) = &limits.until {
        narrowed.push(("until".to_owned(), u.as_str().into()));
    }
    if let Some(w) = &limits.words {
        let w = answer::clean(w)?;
        in_words.push_str(&format!("\n{w}"));
        narrowed.push(("words".to_owned(), w.into()));
    }
    let drawn = seen::drawn(known, permit, texts);
    for s in &limits.seen {
        let label = drawn.iter().find(|d| d.key() == s.key()).map_or(s.step.as_str(), |d| d.label.as_str());
        let read = say!(
            "I have read again at the gauge: {label} {value} {unit}.",
            label,
            value = s.value,
            unit = s.unit
        );
        in_words.push_str(&format!("\n{read}"));
    }
    let not_seen = limits.not_seen.as_deref().map(answer::clean).transpose()?;
    if let Some(why) = &not_seen {
        in_words.push_str(&format!("\n{}", say!("I have read no gauge again: {why}", why)));
    }
    let mut v = values(permit, texts);
    v.push(("valid_to", at_site(&limit.utc(), &texts.zone)));
    v.push(("valid_by", limit.because.clone()));
    v.push(("limits", in_words));
    v.push((
        "deviations",
        left.iter()
            .map(|d| format!("\n{}", say!("I accept this deviation: {deviation}", deviation = d.words)))
            .collect(),
    ));
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
    if !limits.seen.is_empty() {
        members.push(("seen".into(), Json::Arr(limits.seen.iter().map(Seen::json).collect())));
    } else if let Some(why) = not_seen {
        members.push(("not_seen".into(), why.into()));
    }
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
    let bench = known.bench(permit, texts);
    let words = |a: &crate::permit::state::Answer| {
        let (label, found) = match bench.form.step(&a.step) {
            Some((_, step)) => {
                let items = step.each().map(|e| bench.all_items(e)).unwrap_or_default();
                let item =
                    items.iter().find(|i| Some(i.id.as_str()) == a.item.as_deref()).map(|i| i.name.as_str());
                (
                    Bench::label(step, item.or(a.item.as_deref()), &texts.language),
                    found(step, a, &texts.language),
                )
            }
            None => (a.key().replace('_', " "), a.value.as_deref().unwrap_or_default().to_owned()),
        };
        let (why, instead) =
            a.deviation.as_ref().map(|d| (d.reason.as_str(), d.instead.as_str())).unwrap_or_default();
        say!(
            "{label}. Found: {found}. Left so because: {why}. Instead: {instead}.",
            label,
            found,
            why,
            instead
        )
    };
    permit.deviations().into_iter().map(|a| Left { key: a.key(), words: words(a) }).collect()
}

fn not_accepted(left: &[Left], accept: &[String]) -> Vec<String> {
    let missing = left.iter().filter(|d| !accept.contains(&d.key));
    let missing = missing.map(|d| {
        say!("a deviation waits to be accepted (--accept {key}): {words}", key = d.key, words = d.words)
    });
    let extra = accept.iter().filter(|k| !left.iter().any(|d| d.key == **k));
    let extra =
        extra.map(|k| say!("`{key}` is no deviation left on this permit", key = crate::text::safe_line(k)));
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
    let asked = permit.pending.as_ref().filter(|_| data.has("part")).and_then(|a| Later::of(&a.data));
    let limit = match asked {
        Some(later) => valid_to(known, &later.on(permit), texts, None),
        None => valid_to(known, permit, texts, until),
    };
    let signed = data.text("valid_to").unwrap_or_default();
    if limit.second < seconds(signed) {
        return Err(Refusal::because(say!(
            "worked out again, it ends earlier: {because}",
            because = limit.because
        ))
        .instead(say!("prepare it again")));
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
    in_states(known, permit, say!("it cannot be refused"), &[StateWord::Declared])?;
    unless(may_sign(known, hand.by, Role::Supervisor), say!("a supervisor refuses"))?;
    let Some((declared, _)) = known.chain.declared(&permit.number) else {
        return Err(Refusal::because(say!("nobody has declared it")));
    };
    let reason = answer::clean(reason)?;
    let mut v = values(permit, texts);
    v.push(("reason", reason.clone()));
    let words = said("refuse", &v).map_err(Refusal::because)?;
    let members = vec![("reason".into(), reason.into()), ("target".into(), declared.as_str().into())];
    Ok(act(known, permit, "refuse", Role::Supervisor, hand, words, members))
}
