//! Opening a permit, and what a job must say before anyone relies on it.

use super::{Known, Refusal, in_states, unless};
use crate::checklist::Purpose;
use crate::permit::bench::{self, Texts};
use crate::permit::state::Permit;
use crate::record::chain::RULES;
use crate::record::json::{Json, object};
use crate::record::line::{Draft, NONE, What};
use crate::site::{Raw, Values, together};
use crate::tongue::say;
use crate::units::{Dimension, Quantity, Rounding};
use crate::view::{StateWord, recorded};
use std::collections::BTreeSet;

/// What to do about a job that disagrees with itself, the set or the site.
fn mend() -> &'static str {
    say!("mend the job file, or the set or site file it does not agree with")
}

/// What opening asks.
#[derive(Clone, Debug)]
pub struct Opening {
    /// Form id.
    pub form: String,
    /// Set id.
    pub set: String,
    /// Site id.
    pub site: String,
    /// Only to shut the set down.
    pub for_shutdown: bool,
    /// The permit whose work goes on, on this set instead of another, or on the same.
    pub follows: Option<String>,
    /// The job, as the register keeps it.
    pub job: Vec<(String, Raw)>,
    /// Who opens.
    pub by: String,
}

/// The next permit number at this station and date.
pub fn number(known: &Known<'_>) -> String {
    let date = crate::time::short_date(known.time(), &known.now.zone);
    let head = format!("{}-{date}-", known.chain.origin.station);
    let used = known
        .state
        .permits
        .numbers(&head)
        .filter_map(|n| n.strip_prefix(&head).and_then(|c| c.parse::<u32>().ok()))
        .max();
    format!("{head}{:02}", used.unwrap_or(0) + 1)
}

/// Decides an opening.
pub fn open(known: &Known<'_>, ask: &Opening) -> Result<Draft, Refusal> {
    known.clock()?;
    let cited = |kind: &str, id: &str| -> Result<(Json, String), Refusal> {
        let Some(t) = known.chain.texts.get(&(kind.to_owned(), id.to_owned())) else {
            let have: Vec<&str> =
                known.chain.texts.keys().filter(|(k, _)| k == kind).map(|(_, id)| id.as_str()).collect();
            let text = crate::text::safe_line(id);
            let none = Refusal::because(say!("no {kind} `{id}` is in force here", kind, id = text));
            return Err(none.instead(if have.is_empty() {
                say!("an approver puts one in force: `airwrit approve FILE` with a {kind} file", kind)
            } else {
                say!("in force: {ids}", ids = have.join(", "))
            }));
        };
        Ok((object([("hash", t.text_hash.as_str().into()), ("id", id.into())]), t.text.clone()))
    };
    let (form, form_text) = cited("form", &ask.form)?;
    let (set, set_text) = cited("set", &ask.set)?;
    let (site, site_text) = cited("site", &ask.site)?;
    let checklist = bench::checklist(&ask.form, &form_text).map_err(Refusal::because)?;
    let wanted = if ask.for_shutdown { Purpose::Shutdown } else { Purpose::Work };
    if checklist.purpose() != wanted {
        return Err(Refusal::because(say!(
            "the form `{form}` is for {purpose}",
            form = ask.form,
            purpose = checklist.purpose().as_str()
        )));
    }
    let set_values = bench::file("set", &set_text).map_err(Refusal::because)?;
    let site_values = bench::file("site", &site_text).map_err(Refusal::because)?;
    let job = bench::json_of(&Raw::Map(ask.job.clone()));
    let read = bench::read_job(&job, &site_values, &known.chain.origin.roster).map_err(|why| Refusal {
        why,
        instead: Some(say!("mend the job file: `airwrit lint FILE`").into()),
    })?;
    let mut why = job_problems(known, &read, &set_values, &site_values, None);
    if !ask.for_shutdown {
        why.extend(together::disagree(&set_values, &site_values, &read));
    }
    unless(why, mend())?;
    released(known, &ask.set)?;
    if let Some(before) = &ask.follows {
        goes_on(known, before, &ask.site)?;
    }
    let number = number(known);
    let data = object([
        ("for", if ask.for_shutdown { "shutdown" } else { "work" }.into()),
        ("form", form),
        ("job", job),
        ("rules", Json::Int(RULES)),
        ("set", set),
        ("site", site),
    ]);
    let data = match &ask.follows {
        Some(before) => data.with("follows", before.as_str()),
        None => data,
    };
    Ok(Draft {
        kind: "open",
        permit: Some((number, NONE.to_owned())),
        by: (!ask.by.is_empty()).then(|| ask.by.clone()),
        what: What::Data(data),
    })
}

/// A set that left this register is not opened on here.
fn released(known: &Known<'_>, set: &str) -> Result<(), Refusal> {
    match known.state.sets.get(set).and_then(|s| s.released.as_ref()) {
        None => Ok(()),
        Some(gone) => Err(Refusal::because(say!(
            "{set} was released by this register at {time}",
            set,
            time = crate::time::for_people(&gone.time, &gone.zone)
        ))
        .instead(say!("when it is here again: `airwrit set taken {set}`", set))),
    }
}

/// Another permit goes on with the work of one: everyone off its air, handed back or ended, at the same site.
fn goes_on(known: &Known<'_>, before: &str, site: &str) -> Result<(), Refusal> {
    let permit = known.permit(before)?;
    let mut why = Vec::new();
    if !known.life(permit).over() {
        why.push(say!("{before} is {state}", before, state = known.life(permit).word()));
    }
    if permit.site.id != site {
        why.push(say!("{before} is of another site", before));
    }
    for p in known.state.on_air.iter().filter(|p| p.permit.as_deref() == Some(before)) {
        why.push(say!(
            "{person} is on air on {before} ({whereabouts})",
            person = p.person,
            before,
            whereabouts = p.whereabouts.words()
        ));
    }
    unless(
        why,
        say!("see everyone off air, then hand it back with the reason (`airwrit hand-back`), or cancel it"),
    )
}

/// Decides a new job for a permit.
pub fn job(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    job: &[(String, Raw)],
    by: &str,
) -> Result<Draft, Refusal> {
    known.clock()?;
    in_states(known, permit, say!("the job stands"), &[StateWord::Draft, StateWord::Declared])?;
    let job = bench::json_of(&Raw::Map(job.to_vec()));
    let read = bench::read_job(&job, &texts.site, &known.chain.origin.roster).map_err(|why| Refusal {
        why,
        instead: Some(say!("mend the job file: `airwrit lint FILE`").into()),
    })?;
    let mut why = job_problems(known, &read, &texts.set, &texts.site, Some(&permit.number));
    if !permit.for_shutdown {
        why.extend(together::disagree(&texts.set, &texts.site, &read));
    }
    unless(why, mend())?;
    Ok(known.line(permit, "job", by, object([("job", job)])))
}

/// The least number of rescuers that a site asks for; never none.
pub fn rescuers_least(site: &Values) -> usize {
    site.number("rescuers_least").map_or(1, |n| n.to_string().parse::<usize>().unwrap_or(usize::MAX)).max(1)
}

/// The rescuers of a job who are no wearers of it, each once.
pub fn rescuers(job: &Values) -> BTreeSet<String> {
    let wears = |id: &str| job.items("wearers").iter().any(|w| w.id() == id);
    job.items("rescuers").iter().map(|r| r.id().to_owned()).filter(|r| !wears(r)).collect()
}

/// Those of them who do not stand at the set or the entry, which neither leaves to go in.
pub fn rescuers_free(job: &Values) -> BTreeSet<String> {
    let stands = |id: &str| ["attendant", "entry_watch"].iter().any(|r| job.text(r) == Some(id));
    rescuers(job).into_iter().filter(|r| !stands(r)).collect()
}

/// Where the register says that the set stands or is plugged in, if the job says otherwise.
pub fn elsewhere(known: &Known<'_>, set: &str, job: &Values) -> Vec<String> {
    let set_state = known.state.sets.get(set);
    let mut why = Vec::new();
    for (kind, field) in [("moved", "place"), ("plugged", "supply_point")] {
        let there = set_state.and_then(|s| s.last.get(kind)).and_then(|h| h.data.text(field));
        let planned = job.text(field).unwrap_or_default();
        if let Some(there) = there.filter(|t| *t != planned) {
            why.push(match kind {
                "moved" => {
                    say!(
                        "the register says that {set} was moved to {there}, the job says {planned}",
                        set,
                        there,
                        planned
                    )
                }
                _ => say!(
                    "the register says that {set} was plugged in at {there}, the job says {planned}",
                    set,
                    there,
                    planned
                ),
            });
        }
    }
    why
}

/// What of a job a rule of the engine forbids, as far as files alone show it; the register may forbid more.
pub fn problems_of_files(job: &Values, set: &Values, site: &Values) -> Vec<String> {
    let mut why = Vec::new();
    let get = |f: &str| job.text(f).unwrap_or_default().to_owned();
    let dangerous = job.choice("atmosphere") != Some("not");
    let reserve = set.choice("reserve") != Some("none");
    if dangerous && !reserve {
        why.push(
            say!("the air where they work is or could be dangerous, and this set has no reserve").into(),
        );
    }
    for (field, list) in [("place", "places"), ("supply_point", "supply_points")] {
        if site.item(list, &get(field)).is_none() {
            why.push(say!(
                "the {field} `{id}` is not in the site file",
                field = recorded(field),
                id = get(field)
            ));
        }
    }
    if job.items("entry_permits").is_empty() && job.text("why_no_entry_permit").is_none_or(str::is_empty) {
        why.push(say!("no entry or work permit is named, and not why there is none").into());
    }
    let wearers: Vec<&str> = job.items("wearers").iter().map(Values::id).collect();
    let ready = rescuers(job);
    if wearers.is_empty() {
        why.push(say!("the job names no wearer").into());
    }
    why.extend(together::job(job).into_iter().map(|(_, words)| words));
    let mut seen = BTreeSet::new();
    for w in job.items("wearers") {
        let outlet = w.text("outlet").unwrap_or_default();
        if !seen.insert(w.id().to_owned()) {
            why.push(say!("{person} is a wearer twice", person = w.id()));
        }
        if set.item("outlets", outlet).is_none() {
            why.push(say!(
                "{person} is on outlet `{outlet}`, which the set does not have",
                person = w.id(),
                outlet
            ));
        }
        if let Some(escape) = w.text("escape_set").and_then(|id| site.item("escape_sets", id)) {
            let with = w.text("respirator").unwrap_or_default();
            if !escape.texts("approved_with").iter().any(|a| a == with) {
                why.push(say!(
                    "the escape set `{set}` of {person} is not approved with the respirator `{with}`",
                    set = escape.id(),
                    person = w.id(),
                    with
                ));
            }
        }
        if dangerous && w.text("escape_set").is_none() {
            why.push(say!(
                "{person} carries no escape set, and the air is or could be dangerous",
                person = w.id()
            ));
        }
        if dangerous && (w.choice("face") == Some("hood") || w.choice("face") == Some("half_mask")) {
            why.push(say!(
                "{person} wears a hood or half mask, and the air is or could be dangerous",
                person = w.id()
            ));
        }
    }
    let least = rescuers_least(site);
    let free = rescuers_free(job).len();
    if free < least {
        why.push(if ready.len() > free {
            say!(
                "rescuers named who are free to go in (attendant and entry watch stay where they are) and no wearers \
                 themselves: {free}, wanted at least {least}",
                free,
                least
            )
        } else {
            say!(
                "rescuers named who are free to go in and no wearers themselves: {free}, wanted at least {least}",
                free,
                least
            )
        });
    }
    for role in ["attendant", "entry_watch"] {
        let who = get(role);
        let words = recorded(role);
        if wearers.contains(&who.as_str()) {
            why.push(say!("the {words}, {who}, is a wearer too", words, who));
        }
    }
    if get("attendant") == get("entry_watch") {
        // One person for both only where the entry is in sight and in earshot, which the job cannot say yet.
        why.push(say!("attendant and entry watch are one person; this version wants two").into());
    }
    let holder = get("holder");
    if wearers.contains(&holder.as_str()) {
        why.push(say!("the holder, {holder}, is a wearer too", holder));
    }
    why
}

/// A drill at this place showed that the way out takes longer than the job says.
fn drilled(known: &Known<'_>, job: &Values) -> Option<String> {
    let place = job.text("place")?;
    let drills = known.state.sets.values().flat_map(|s| &s.drills).filter(|d| d.place == place);
    let (seconds, drill) = drills.filter_map(|d| Some((d.seconds()?, d))).max_by_key(|(s, _)| *s)?;
    let measured = Quantity {
        value: num_rational::BigRational::from_integer(seconds.into()),
        dimension: Dimension::Duration,
    };
    let planned = job.quantity("way_out");
    if planned.is_some_and(|p| p.value >= measured.value) {
        return None;
    }
    let min = crate::units::unit("min");
    Some(say!(
        "a drill here at {time} took {measured} from the signal until the last mask was off; the job says \
         {planned}",
        time = crate::time::for_people(&drill.stamp.time, &drill.stamp.zone),
        measured = measured.words(min, Rounding::Up),
        planned = planned.map_or_else(|| say!("nothing").to_owned(), |p| p.words(min, Rounding::Down))
    ))
}

/// Everything in a job that a rule of the engine forbids.
pub fn job_problems(
    known: &Known<'_>,
    job: &Values,
    set: &Values,
    site: &Values,
    own: Option<&str>,
) -> Vec<String> {
    let mut why = problems_of_files(job, set, site);
    let get = |f: &str| job.text(f).unwrap_or_default().to_owned();
    for role in ["attendant", "entry_watch"] {
        let who = get(role);
        let words = recorded(role);
        for other in known.state.in_use(known.time()).filter(|p| Some(p.number.as_str()) != own) {
            let at_work =
                known.life(other) == StateWord::Live || known.state.tally_of_permit(&other.number) > 0;
            let stands = ["attendant", "entry_watch"].iter().any(|r| other.job.text(r) == Some(who.as_str()));
            if at_work && stands {
                why.push(say!(
                    "the {words}, {who}, stands at {permit} already",
                    words,
                    who,
                    permit = other.number
                ));
            }
        }
    }
    why.extend(drilled(known, job));
    let holder = get("holder");
    match known.chain.origin.roster.person(&holder) {
        Some(p) if p.roles.contains(&crate::trust::Role::Operator) => {}
        Some(_) => why.push(say!("the holder, {holder}, is no operator on the roster", holder)),
        None => why.push(say!("the holder, `{holder}`, is not on the roster", holder)),
    }
    why
}
