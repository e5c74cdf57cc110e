//! Calling everyone out. The agreed signal stands on the screen before anything else is done; it is read
//! without lock or key, from a broken register too. Nothing typed here can be wrong enough to refuse it.
//!
//! Always: what cannot be kept in the register is written aside if at all possible, and said so.

use super::args::{CallOut, Stops, ToldArgs};
use super::{Outcome, Outside, Place, Tells, shell_word};
use crate::actions::Looked;
use crate::permit::bench::Bench;
use crate::permit::decide::Known;
use crate::permit::decide::air::{self, Told};
use crate::permit::decide::crew;
use crate::permit::gone::{self, Gone};
use crate::permit::state::Permit;
use crate::record::aside::Entry;
use crate::record::json::{Json, sorted};
use crate::record::kinds::is_permit;
use crate::record::line::Draft;
use crate::record::salvage;
use crate::show::orders;
use crate::text::safe_line;
use crate::tongue::say;
use crate::view::StateWord;
use std::collections::{BTreeMap, BTreeSet};

/// What a call or a stop concerns: the permits and sets a line is written for.
#[derive(Default)]
pub struct Concerned {
    /// Numbers of permits.
    pub permits: Vec<String>,
    /// Ids of sets.
    pub sets: Vec<String>,
}

impl Concerned {
    /// Whether what was typed is a permit or a set that is known here.
    pub fn is_meant(&self, typed: &str) -> bool {
        self.permits.iter().chain(&self.sets).any(|n| n == typed)
    }

    /// The drafts of a report, one for each permit and set.
    pub fn drafts(
        &self,
        known: &Known<'_>,
        kind: &'static str,
        by: &str,
        members: &[(String, Json)],
    ) -> Vec<Draft> {
        let on_permits = self
            .permits
            .iter()
            .filter_map(|n| known.state.permits.get(n))
            .map(|p| known.line(p, kind, by, sorted(members.to_vec())));
        let apart = self.sets.iter().map(|s| {
            let mut members = members.to_vec();
            members.push(("set".into(), s.as_str().into()));
            Known::line_apart(kind, by, sorted(members))
        });
        on_permits.chain(apart).collect()
    }
}

/// `airwrit call-out`.
pub fn call_out(place: &Place, c: &CallOut, outside: &mut Outside<'_>) -> Outcome {
    // A terminal that fails must not keep the line from being written: what is shown is shown if it can be.
    let _ = writeln!(outside.err, "{}", say!("I AM CALLING EVERYONE OUT"));
    let looked = place.look_for(c.permit.as_deref(), outside).ok();
    match &looked {
        Some(looked) => {
            let known = looked.known();
            let concerned = called_out(&known, c.permit.as_deref(), c.set.as_deref());
            let _ = signal(looked, &concerned, true, outside);
            let _ = salvaged(place, Some(looked), outside);
        }
        None => {
            let _ = writeln!(
                outside.err,
                "  {}",
                say!(
                    "ON AIR: not known, the register cannot be read; use the agreed signal, look along every hose"
                )
            );
            let _ = salvaged(place, None, outside);
        }
    }
    let kept = place.at_work(outside, |desk, loaded| {
        let concerned = called_out(&loaded.known(), c.permit.as_deref(), c.set.as_deref());
        let mut lines = Vec::new();
        for draft in drafts(&loaded.known(), &concerned, c) {
            let line = desk.keep(loaded, &draft)?;
            let set = || line.data.text("set").map(Into::into);
            lines.push((line.permit.clone().or_else(set), line.seq));
        }
        match lines.is_empty() {
            true => Err(say!("neither permit nor set is known here that the call could be kept for")
                .to_owned()
                .into()),
            false => Ok(lines),
        }
    });
    match kept {
        Ok(lines) => {
            for (on, seq) in &lines {
                writeln!(
                    outside.out,
                    "{}",
                    say!(
                        "{permit_or_set}: everyone called out; line {line}",
                        permit_or_set = on.as_deref().unwrap_or_default(),
                        line = seq
                    )
                )?;
            }
            let about = |id: &str| lines.iter().any(|(on, _)| on.as_deref() == Some(id));
            let on = Stops { permit: c.permit.clone(), set: c.set.clone() };
            let told = air_gone(place, &on, outside);
            super::printing::take_down(place, |p| about(&p.number) || about(&p.set.id), outside);
            told
        }
        Err(end) => {
            let words = c.words.as_deref().unwrap_or_default();
            let (permit, set) = (c.permit.as_deref(), c.set.as_deref());
            let all = place.look(outside).map(|l| called_out(&l.known(), permit, set)).unwrap_or_default();
            for (permit, set) in one_by_one(all, permit, set) {
                let mut report =
                    Report::new("call_out", permit.as_deref(), set.as_deref(), &c.told, place, outside);
                if !words.trim().is_empty() {
                    report
                        .members
                        .push(("words".to_owned(), air::kept_or(words, say!("no words given")).into()));
                }
                aside(place, report, outside);
            }
            Err(end)
        }
    }
}

/// The orders at an event, on the screen before anything is kept: what was agreed, in few words.
pub fn orders(place: &Place, what: &str, on: &Stops, outside: &mut Outside<'_>) {
    let looked = place.look_for(on.permit.as_deref(), outside).ok();
    // As things stood before this: of everything that breathes this air.
    let orders = match &looked {
        Some(l) => orders_for(&l.known(), what, on),
        None => orders::of(what, orders::Given::default()),
    };
    // A terminal that fails must not keep the line from being written.
    let _ = writeln!(outside.err, "{}", orders.wearers);
    if let Some(looked) = &looked {
        let concerned = concerned(&looked.known(), on.permit.as_deref(), on.set.as_deref());
        let _ = signal(looked, &concerned, false, outside);
    }
    let _ = salvaged(place, looked.as_ref(), outside);
    for words in &orders.attendant {
        let _ = writeln!(outside.err, "  {}", say!("ATTENDANT: {words}", words));
    }
    let _ = writeln!(outside.err, "  {}", say!("THE SET: {words}", words = orders.set));
    let again = crate::text::listed(&orders.again, say!("and"));
    let _ = writeln!(outside.err, "  {}", say!("BEFORE ANYONE GOES BACK: {words}", words = again));
}

/// The sets of the permits that are concerned, and those that are named.
fn sets_of<'a>(known: &Known<'a>, concerned: &'a Concerned) -> BTreeSet<&'a str> {
    let permits = concerned.permits.iter().filter_map(|n| known.state.permits.get(n));
    permits.map(|p| p.set.id.as_str()).chain(concerned.sets.iter().map(String::as_str)).collect()
}

/// Whether somebody may be on the airs that are concerned; where nobody can say, yes.
pub fn people_on(place: &Place, on: &Stops, outside: &mut Outside<'_>) -> bool {
    let Ok(looked) = place.look_for(on.permit.as_deref(), outside) else { return true };
    let known = looked.known();
    let concerned = concerned(&known, on.permit.as_deref(), on.set.as_deref());
    let on = |set: &str| known.perhaps_on_air_from(set).next().is_some();
    looked.is_damaged() || sets_of(&known, &concerned).into_iter().any(on)
}

/// The orders at an event as things stand.
pub fn orders_for(known: &Known<'_>, what: &str, on: &Stops) -> orders::Orders {
    let all = given_now(known, what, on);
    let mut co: Vec<Option<String>> = all.iter().map(|g| g.co.clone()).collect();
    co.dedup();
    // Two orders decided for one alarm are none.
    let co = if let [Some(one)] = co.as_slice() { Some(one.as_str()) } else { None };
    let stands = orders::strictest(all.iter().filter_map(|g| g.stands.clone()));
    let own = orders::of(
        what,
        orders::Given {
            others: orders::to_others(stands.as_ref()),
            co,
            no_reserve: all.iter().any(|g| g.no_reserve),
            on_reserve: all.iter().any(|g| g.on_reserve),
            // Whoever breathes one of them leaves by the order that helps at the worst.
            spent: match all.as_slice() {
                [] => Some(orders::unproved()),
                all => all.iter().find_map(|g| g.spent.as_deref()),
            },
            grave: all.iter().any(|g| g.grave),
            co_told: all.iter().any(|g| g.co_told),
        },
    );
    // All leave on one air: what stands already and is stricter is the order at this too, but to whom it is first.
    match stands.filter(|o| o.by > own.by && !orders::to_one(what)) {
        Some(o) => orders::Orders { wearers: o.wearers, by: o.by, ..own },
        None => own,
    }
}

/// What is known of one permit when orders are given.
struct GivenNow {
    co: Option<String>,
    no_reserve: bool,
    on_reserve: bool,
    spent: Option<String>,
    grave: bool,
    co_told: bool,
    /// The order that stands on it, with people on its air.
    stands: Option<orders::Orders>,
}

/// The same for every permit not ended of the sets that are concerned.
fn given_now(known: &Known<'_>, what: &str, on: &Stops) -> Vec<GivenNow> {
    let concerned = concerned(known, on.permit.as_deref(), on.set.as_deref());
    let sets = sets_of(known, &concerned);
    let at_work = |p: &&Permit| {
        sets.contains(p.set.id.as_str()) && matches!(known.life(p), StateWord::Live | StateWord::Suspended)
    };
    let one = |p: &Permit| {
        let texts = known.texts(p).ok()?;
        let decided = orders::decided(&Bench::new(known.state, p, &texts, known.now));
        Some(GivenNow {
            co: decided.and_then(|a| a.value.as_deref()).map(str::to_owned),
            no_reserve: texts.set.choice("reserve") == Some("none"),
            on_reserve: if what == "co" {
                gone::on_reserve_but_for_co(known, &p.set.id)
            } else {
                gone::on_reserve_since(known, &p.set.id).is_some()
            },
            spent: gone::spent(known, p, &texts),
            grave: known.life(p) == StateWord::Suspended && orders::grave(known, p),
            co_told: orders::co_told(known, p),
            stands: crate::show::stands(known, p, &texts)
                .filter(|_| known.perhaps_on_air_from(&p.set.id).next().is_some()),
        })
    };
    // What is concerned was found at hand, and the rest has not ended.
    let of_set = known.state.not_ended(known.time()).filter(at_work);
    let of_permits = concerned.permits.iter().filter_map(|n| known.state.permits.get(n));
    let all: BTreeMap<&str, &Permit> = of_set.chain(of_permits).map(|p| (p.number.as_str(), p)).collect();
    // Where people are on air by some of them, these were decided for them; a draft beside them orders nobody.
    let on = |p: &Permit| known.state.tally_of_permit(&p.number) > 0;
    let anybody = all.values().any(|p| on(p));
    all.into_values().filter(|p| !anybody || on(p)).filter_map(one).collect()
}

/// While people may be breathing the reserve: until when there is air, by its last reading.
pub fn air_gone(place: &Place, on: &Stops, outside: &mut Outside<'_>) -> Outcome {
    let looked = place.look_for(on.permit.as_deref(), outside)?;
    let known = looked.known();
    let concerned = concerned(&known, on.permit.as_deref(), on.set.as_deref());
    for set in sets_of(&known, &concerned) {
        let Some(from) = gone::on_reserve_since(&known, set) else { continue };
        match gone::air_gone(&known, set, from) {
            Some(Gone::At(second, why)) => {
                let at = crate::time::clock(&crate::time::utc(second), &known.now.zone);
                let left = (second - known.now.seconds()).max(0) / 60;
                let why = safe_line(&why);
                // Worked out from everybody drawing all they can: no earlier than then, and from then on at any moment.
                let words = match second > known.now.seconds() {
                    true => say!(
                        "AIR MAY BE GONE FROM {time} ON, IN {minutes} MIN: {why}",
                        time = at,
                        minutes = left,
                        why
                    ),
                    false => say!("AIR MAY BE GONE SINCE {time}: {why}", time = at, why),
                };
                outside.tell(Tells::AirGone, crate::show::of_the_reserve(&known, set, words))?;
            }
            Some(Gone::NotKnown(why)) => {
                let why = safe_line(&why);
                let words = say!("AIR GONE AT ANY MOMENT: nobody can say when, {why}", why);
                outside.tell(Tells::AirGone, crate::show::of_the_reserve(&known, set, words))?;
            }
            None => {}
        }
    }
    Ok(())
}

/// A report that the register could not take.
pub struct Report {
    kind: &'static str,
    permit: Option<String>,
    /// Members of its data.
    pub members: Vec<(String, Json)>,
    by: Option<String>,
}

impl Report {
    /// With the permit or set that was typed, if it can be one, and what was told of when and by whom.
    pub fn new(
        kind: &'static str,
        permit: Option<&str>,
        set: Option<&str>,
        t: &ToldArgs,
        place: &Place,
        outside: &Outside<'_>,
    ) -> Report {
        let utc = crate::time::Moment::new((outside.second)(), &jiff::tz::TimeZone::UTC);
        let permit = permit.filter(|p| is_permit(p)).map(str::to_owned);
        let set = set.filter(|s| crate::text::is_id(s) && permit.is_none());
        let mut members: Vec<(String, Json)> =
            set.map(|s| ("set".to_owned(), s.into())).into_iter().collect();
        // Site time can be worked out where the register can be read; what was typed is kept as words too.
        let now = t.at.as_ref().and_then(|_| place.look_for(None, outside).ok()).map(|l| l.now);
        let earlier = now.and_then(|now| super::station::last_time(t.at.as_deref()?, &now).ok());
        let by = t.told_by.as_deref().map(|b| air::kept_or(b, "somebody"));
        let at = t.at.as_deref().map(|a| say!("at {time} site time", time = safe_line(a)));
        let told: Vec<String> = by.into_iter().chain(at).collect();
        if !told.is_empty() {
            members.push(("told_by".to_owned(), told.join(", ").into()));
        }
        members.push(("at".to_owned(), earlier.unwrap_or(utc.time).into()));
        Report { kind, permit, members, by: t.by.clone().filter(|b| crate::text::is_id(b)) }
    }
}

/// Writes what the register could not take beside it, with the time, and says what to do.
pub fn aside(place: &Place, report: Report, outside: &mut Outside<'_>) {
    let mut id = [0u8; 16];
    // Without randomness the clock alone would have to tell two entries apart.
    let _ = outside.random.fill(&mut id);
    let entry = Entry {
        at: crate::time::utc((outside.second)()),
        by: report.by,
        data: sorted(report.members),
        id: data_encoding::HEXLOWER.encode(&id),
        kind: report.kind.to_owned(),
        permit: report.permit,
    };
    let written = place.write_aside(&entry, outside);
    match &written {
        Some(_) => outside.aside.written += 1,
        None => outside.aside.lost += 1,
    }
    let where_to = match written {
        Some(file) => say!(
            "NOT KEPT IN THE REGISTER: it is written to {file} instead, counts on the screen and is entered with the next \
             line that can be written; write it on paper too",
            file = shell_word(&file)
        ),
        None => say!("NOT KEPT IN THE REGISTER: write it on paper, with the time").to_owned(),
    };
    let _ = writeln!(outside.err, "{where_to}");
}

/// The orders that stand on these airs already, while people may be on them: whoever is called out leaves by them.
fn by_what(looked: &Looked, concerned: &Concerned, outside: &mut Outside<'_>) -> Outcome {
    let known = looked.known();
    let sets = sets_of(&known, concerned).into_iter();
    let on = sets.filter(|set| known.perhaps_on_air_from(set).next().is_some());
    let told: BTreeSet<String> = on.filter_map(|set| crate::show::leave_by_order(&known, set)).collect();
    for order in told {
        writeln!(outside.err, "  {}: {}", say!("ORDER"), safe_line(&order))?;
    }
    Ok(())
}

/// The agreed signal, whom to watch, whom to call, of the permit or set that is named; the orders that stand already, where
/// no other is given beside.
pub fn signal(looked: &Looked, concerned: &Concerned, by_order: bool, outside: &mut Outside<'_>) -> Outcome {
    let known = looked.known();
    let permits = || concerned.permits.iter().filter_map(|n| known.state.permits.get(n));
    let sets: Vec<&str> =
        permits().map(|p| p.set.id.as_str()).chain(concerned.sets.iter().map(String::as_str)).collect();
    let goes_on = |p: &&Permit| !known.life(p).ended() || crew::is_looked_for(&known, p);
    let of_sets = known.state.permits.open().filter(goes_on).filter(|p| sets.contains(&p.set.id.as_str()));
    let shown: Vec<&Permit> =
        if concerned.permits.is_empty() { of_sets.collect() } else { permits().collect() };
    // First the signal, then whose outlets to watch, then whom to call.
    tell(&shown, &[(say!("SIGNAL"), "recall_signal")], outside)?;
    if shown.is_empty() {
        let words = say!("none is agreed on any permit here: by voice, by hand, along every hose");
        writeln!(outside.err, "  {}: {words}", say!("SIGNAL"))?;
    }
    if by_order {
        by_what(looked, concerned, outside)?;
    }
    let on: Vec<_> = known.state.on_air.iter().filter(|p| sets.contains(&p.set.as_str())).collect();
    for p in &on {
        let words = say!(
            "ON AIR: {person} {whereabouts}, {outlet}",
            person = safe_line(&outside.face.person(&known, &p.person)),
            whereabouts = p.whereabouts.words(),
            outlet = safe_line(&crew::outlet_of(&known, p))
        );
        writeln!(outside.err, "  {words}")?;
    }
    let mut lost: Vec<String> = sets.iter().flat_map(|set| air::not_found(&known, set)).collect();
    let open = known.state.permits.open().filter(|p| sets.contains(&p.set.id.as_str()));
    lost.extend(open.flat_map(|p| crew::unseen_in_words(&known, p)));
    lost.sort();
    lost.dedup();
    for words in &lost {
        writeln!(outside.err, "  {}: {}", say!("LOOK FOR"), safe_line(words))?;
    }
    // What stands after a bad line is not read, so a tally that ends there counts nobody out.
    if looked.broken.is_some() || looked.torn || looked.state.missing || looked.older || looked.unread > 0 {
        writeln!(
            outside.err,
            "  {}",
            say!(
                "ON AIR: perhaps others; the register is damaged, older than its key, or a volume or a report written aside \
                 is missing: this is only what can be read"
            )
        )?;
    } else if on.is_empty() && lost.is_empty() {
        writeln!(outside.err, "  {}", say!("ON AIR: nobody on the tally; look all the same"))?;
    }
    if shown.is_empty() {
        let words = say!("no number stands on any permit here: the site's own");
        writeln!(outside.err, "  {}: {words}", say!("RESCUE"))?;
    }
    tell(&shown, &[(say!("RESCUE"), "rescue_number"), (say!("ASSEMBLY"), "assembly")], outside)
}

fn outlet_of(outlet: Option<&str>) -> String {
    outlet.map_or_else(|| say!("outlet not known").to_owned(), |o| say!("outlet {outlet}", outlet = o))
}

/// Of a register that is damaged: what its lines from there on say, which proves nothing and may save somebody.
pub fn salvaged(place: &Place, looked: Option<&Looked>, outside: &mut Outside<'_>) -> Outcome {
    if looked.is_some_and(|l| l.broken.is_none()) {
        return Ok(());
    }
    let Ok(volumes) = place.volumes() else { return Ok(()) };
    let found = salvage::after(&volumes, looked.map_or(0, |l| l.lines.len()));
    for (label, name) in [say!("SIGNAL"), say!("RESCUE"), say!("ASSEMBLY")].into_iter().zip(salvage::OF_JOBS)
    {
        for words in found.jobs.get(name).into_iter().flatten() {
            let words = safe_line(words);
            writeln!(outside.err, "  {}", say!("{label}, NOT PROVED: {words}", label, words))?;
        }
    }
    // Who last went in before all others, by the name that the lines before the damage give them.
    let mut people: Vec<_> = found.people.iter().collect();
    people.sort_by_key(|(_, (kind, _))| ["in", "on_air", "out"].iter().position(|k| k == kind).unwrap_or(3));
    for (person, (kind, outlet)) in people {
        let person = looked.map_or_else(|| person.clone(), |l| outside.face.person(&l.known(), person));
        let (person, outlet) = (safe_line(&person), outlet_of(outlet.as_deref()));
        let outlet = safe_line(&outlet);
        let words = match kind.as_str() {
            "on_air" => {
                say!("ON AIR, PERHAPS, NOT PROVED: {person}, who last went on air, {outlet}", person, outlet)
            }
            "in" => say!("ON AIR, PERHAPS, NOT PROVED: {person}, who last went in, {outlet}", person, outlet),
            "out" => say!(
                "ON AIR, PERHAPS, NOT PROVED: {person}, who last came out, still on air, {outlet}",
                person,
                outlet
            ),
            _ => {
                say!("ON AIR, PERHAPS, NOT PROVED: {person}, who last came off air, {outlet}", person, outlet)
            }
        };
        writeln!(outside.err, "  {words}")?;
    }
    Ok(())
}

fn tell(shown: &[&Permit], what: &[(&str, &str)], outside: &mut Outside<'_>) -> Outcome {
    for (label, field) in what {
        let told =
            |p: &&Permit| Some(p.job.text(field).unwrap_or_default().to_owned()).filter(|t| !t.is_empty());
        let mut said: Vec<(String, Vec<&str>)> = Vec::new();
        for p in shown {
            let Some(text) = told(p) else { continue };
            match said.iter_mut().find(|(other, _)| *other == text) {
                Some((_, of)) => of.push(&p.number),
                None => said.push((text, vec![&p.number])),
            }
        }
        // Agreed differently on two permits, each is told with whose it is.
        let several = said.len() > 1;
        for (text, of) in said {
            let of = if several { format!(" ({})", of.join(", ")) } else { String::new() };
            writeln!(outside.err, "  {label}: {}{of}", safe_line(&text))?;
        }
    }
    Ok(())
}

/// The same one by one, permit or set, where the register can be looked at though not written; else what
/// was typed.
pub fn each_concerned(
    place: &Place,
    permit: Option<&str>,
    set: Option<&str>,
    outside: &Outside<'_>,
) -> Vec<(Option<String>, Option<String>)> {
    let all = place.look(outside).map(|l| concerned(&l.known(), permit, set)).unwrap_or_default();
    one_by_one(all, permit, set)
}

fn one_by_one(
    concerned: Concerned,
    permit: Option<&str>,
    set: Option<&str>,
) -> Vec<(Option<String>, Option<String>)> {
    let mut out: Vec<_> = concerned.permits.into_iter().map(|p| (Some(p), None)).collect();
    out.extend(concerned.sets.into_iter().map(|s| (None, Some(s))));
    if out.is_empty() {
        out.push((permit.map(str::to_owned), set.map(str::to_owned)));
    }
    out
}

/// Whom a call-out reaches: of what was named, the whole job, over all sets that feed it.
pub fn called_out(known: &Known<'_>, permit: Option<&str>, set: Option<&str>) -> Concerned {
    let mut out = concerned(known, permit, set);
    // Of a set that is named the work that goes on, and that of the last days: they may be in on another set's air by now.
    let of_set = |p: &&Permit| out.sets.contains(&p.set.id) && known.state.is_of_late(p, known.time());
    let of_sets = known.state.permits.at_hand().filter(of_set);
    let named: Vec<&Permit> =
        out.permits.iter().filter_map(|n| known.state.permits.get(n)).chain(of_sets).collect();
    let others = known.state.in_use(known.time()).filter(|p| {
        let at_work = known.state.tally_of_permit(&p.number) > 0
            || matches!(known.life(p), StateWord::Live | StateWord::Suspended);
        at_work && named.iter().all(|n| n.set.id != p.set.id) && named.iter().any(|n| crew::same_job(n, p))
    });
    let others: Vec<String> = others.map(|p| p.number.clone()).collect();
    out.permits.extend(others);
    out
}

/// The permit or set that was named; everybody at work, where nothing was or where it is not known.
pub fn concerned(known: &Known<'_>, permit: Option<&str>, set: Option<&str>) -> Concerned {
    let mut out = Concerned::default();
    if let Some(p) = permit.and_then(|n| known.state.permits.get(n)) {
        out.permits.push(p.number.clone());
        return out;
    }
    if let Some(s) = set.filter(|s| known.has_set(s)) {
        out.sets.push(s.to_owned());
        return out;
    }
    // Nothing named, or nothing known by that name: everybody whom this register knows to be at work.
    let at_work = known.state.in_use(known.time()).filter(|p| {
        let life = known.state.life(p, &known.now.time);
        let on = known.state.on_air.iter().any(|a| a.permit.as_deref() == Some(&p.number));
        on || matches!(life, StateWord::Live | StateWord::Suspended)
    });
    out.permits.extend(at_work.map(|p| p.number.clone()));
    for p in &known.state.on_air {
        if p.permit.is_none() && !out.sets.contains(&p.set) {
            out.sets.push(p.set.clone());
        }
    }
    if out.permits.is_empty() && out.sets.is_empty() {
        let sets = known.chain.texts.keys().filter(|(kind, _)| kind == "set").map(|(_, id)| id.clone());
        out.sets.extend(sets);
    }
    out
}

/// The words, and what was typed for a name or a time that means nothing here: nothing is refused.
fn typed_words(c: &CallOut, concerned: &Concerned, told: &Told) -> String {
    let mut words: Vec<String> = c.words.iter().cloned().collect();
    let typed = c.permit.as_ref().or(c.set.as_ref());
    words.extend(typed.filter(|n| !concerned.is_meant(n)).map(|n| format!("[{n}]")));
    words.extend(c.told.at.as_ref().filter(|_| told.at.is_none()).map(|at| format!("[{at}]")));
    let joined = words.join(" ");
    let text = crate::text::nfc(safe_line(&joined).trim()).into_owned();
    text.chars().take(400).collect()
}

/// When and by whom, as far as it can be read: a report is never refused for it.
pub fn told(t: &ToldArgs, known: &Known<'_>) -> Told {
    let at = t.at.as_deref().and_then(|a| super::station::last_time(a, known.now).ok());
    Told { at, by: t.told_by.clone() }
}

fn drafts(known: &Known<'_>, concerned: &Concerned, c: &CallOut) -> Vec<Draft> {
    let told = told(&c.told, known);
    let words = typed_words(c, concerned, &told);
    let by =
        c.told.by.as_deref().and_then(|b| crate::permit::decide::answer::clean(b).ok()).unwrap_or_default();
    let by = by.as_str();
    let mut members: Vec<(String, Json)> = told.members();
    if !words.is_empty() {
        members.push(("words".to_owned(), words.as_str().into()));
    }
    concerned.drafts(known, "call_out", by, &members)
}
