//! A set apart from its permits: what was entered of it last, the test of its air that counts, what speaks against it.
//!
//! Decides nothing. For the operator who carries an air test, and whoever asks how a set stands.

use crate::permit::bench::{air_test, file};
use crate::permit::decide::{Known, crew};
use crate::time::for_people;
use crate::tongue::{Tongue, say};
use crate::view::recorded;

/// How a set stands.
pub struct SetStands {
    /// Its name and id.
    pub head: String,
    /// Whether it runs.
    pub runs: String,
    /// Who is on air from it, line by line.
    pub on_air: Vec<String>,
    /// What else is known of it, line by line.
    pub rest: Vec<String>,
}

impl SetStands {
    /// All of it, in the order in which it is read.
    pub fn lines(self) -> Vec<String> {
        [self.head, self.runs].into_iter().chain(self.on_air).chain(self.rest).collect()
    }
}

/// How a set stands; `None` if none of that id is in force here.
pub fn set(known: &Known<'_>, id: &str) -> Option<SetStands> {
    let text = known.chain.texts.get(&("set".to_owned(), id.to_owned()))?;
    let values = file("set", &text.text).ok();
    let name =
        values.as_ref().and_then(|v| v.words("name")).map_or(id, |w| w.get(Tongue::now().tag())).to_owned();
    let head = format!("{name} ({id})");
    let state = known.state.sets.get(id);
    let running = state.is_some_and(crate::permit::state::SetState::running);
    let runs = if running { say!("runs") } else { say!("stands still") }.to_owned();
    let on_air = known.perhaps_on_air_from(id).map(|p| {
        say!("ON AIR: {name}, {tally}", name = crew::who(known, &p.person), tally = p.whereabouts.words())
    });
    let on_air = on_air.collect();
    let mut out = Vec::new();
    let stands = |rest| Some(SetStands { head, runs, on_air, rest });
    let open = known.state.not_ended(known.time()).filter(|p| p.set.id == id);
    out.extend(open.map(|p| format!("{}: {}", p.number, known.life(p).word())));
    let Some(state) = state else {
        out.push(say!("nothing was entered of it apart from permits").into());
        return stands(out);
    };
    let site = known.chain.texts.iter().find(|((k, _), _)| k == "site");
    let site = site.and_then(|(_, t)| file("site", &t.text).ok());
    // As the site calls it, where it lists it.
    let listed = |list: &str, id: &str| {
        let name = site.as_ref().and_then(|s| s.item(list, id)?.words("name"));
        name.map_or_else(|| id.replace('_', " "), |w| w.own().to_owned())
    };
    for (kind, h) in &state.last {
        let words = ["place", "supply_point", "from", "what", "machine", "hours"].into_iter();
        let words = words.filter_map(|w| Some((w, h.data.text(w)?))).map(|(w, text)| match w {
            "from" | "what" => recorded(text),
            "place" => listed("places", text),
            "supply_point" => listed("supply_points", text),
            _ => text.replace('_', " "),
        });
        let words: Vec<String> = words.collect();
        let time = for_people(&h.stamp.time, &h.stamp.zone);
        let last = say!("last {kind}: {time}", kind = recorded(kind), time);
        out.push(format!("{last} {}", words.join(", ")).trim_end().to_owned());
    }
    for (what, stamp) in &state.events {
        let time = for_people(&stamp.time, &stamp.zone);
        out.push(say!("last event: {event}, {time}", event = recorded(what), time));
    }
    match state.air_test(None) {
        Some(test) => {
            out.push(say!("air test: {test}", test = air_test::in_words(test)));
            let against = site.as_ref().map(|s| air_test::against(test, s)).unwrap_or_default();
            // What never spoke well of this air does not speak of it no more.
            match air_test::broken(test, state) {
                Some(why) if state.stood_still.contains(&test.stamp.hash) => {
                    out.push(say!("that test never spoke of this air: {why}", why));
                }
                Some(why) if !against.is_empty() => {
                    out.push(say!("that test was never within the limits, and since then: {why}", why));
                }
                Some(ended) => out.push(say!("that test speaks of the air no more: {why}", why = ended)),
                None => {}
            }
            out.extend(against.into_iter().map(|why| say!("OUT OF LIMITS: {why}", why)));
        }
        None => out.push(say!("air test: none is recorded").into()),
    }
    stands(out)
}
