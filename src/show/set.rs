//! A set apart from its permits: what was entered of it last, the test of its air that counts, what speaks against it.
//!
//! Decides nothing. For the operator who carries an air test, and whoever asks how a set stands.

use crate::permit::bench::{air_test, file};
use crate::permit::decide::Known;
use crate::time::for_people;

/// How a set stands, line by line; `None` if none of that id is in force here.
pub fn set(known: &Known<'_>, id: &str) -> Option<Vec<String>> {
    let text = known.chain.texts.get(&("set".to_owned(), id.to_owned()))?;
    let values = file("set", &text.text).ok();
    let name = values.as_ref().and_then(|v| v.words("name")).map_or(id, |w| w.own()).to_owned();
    let mut out = vec![format!("{name} ({id})")];
    let state = known.state.sets.get(id);
    out.push(
        if state.is_some_and(crate::permit::state::SetState::running) { "runs" } else { "stands still" }
            .into(),
    );
    for p in known.perhaps_on_air_from(id) {
        out.push(format!("ON AIR: {} ({})", p.person, p.whereabouts.words()));
    }
    let open = known.state.permits.values().filter(|p| p.set.id == id && !known.life(p).ended());
    out.extend(open.map(|p| format!("{}: {}", p.number, known.life(p).word())));
    let Some(state) = state else {
        out.push("nothing was entered of it apart from permits".into());
        return Some(out);
    };
    for (kind, h) in &state.last {
        let words = ["place", "supply_point", "from", "what", "machine", "hours"];
        let words: Vec<&str> = words.iter().filter_map(|w| h.data.text(w)).collect();
        let words = words.join(", ").replace('_', " ");
        out.push(
            format!("last {kind}: {} {words}", for_people(&h.stamp.time, &h.stamp.zone))
                .trim_end()
                .to_owned(),
        );
    }
    for (what, stamp) in &state.events {
        out.push(format!("last event: {}, {}", what.replace('_', " "), for_people(&stamp.time, &stamp.zone)));
    }
    match state.air_test(None) {
        Some(test) => {
            out.push(format!("air test: {}", air_test::in_words(test)));
            if let Some(ended) = air_test::broken(test, state) {
                out.push(format!("that test speaks of the air no more: {ended}"));
            }
            let site = known.chain.texts.iter().find(|((k, _), _)| k == "site");
            let site = site.and_then(|(_, t)| file("site", &t.text).ok());
            let against = site.map(|s| air_test::against(test, &s)).unwrap_or_default();
            out.extend(against.into_iter().map(|w| format!("OUT OF LIMITS: {w}")));
        }
        None => out.push("air test: none is recorded".into()),
    }
    Some(out)
}
