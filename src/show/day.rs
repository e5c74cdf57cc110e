//! What happened on a permit, line by line, as the record pages tell it.
//!
//! In: lines of the day as they were folded. Out: final words, with who entered each and, of leaving, how long after the
//! signal. Decides nothing.

use super::{page_one, wearer};
use crate::permit::bench::{LATE_AFTER, Texts, air_test};
use crate::permit::decide::Known;
use crate::permit::state::{Happened, Permit};
use crate::record::json::Json;
use crate::time::{clock, seconds};
use crate::tongue::{say, say_n};
use crate::view::{DayView, recorded, typed};

/// So many reasons of a refusal are told; the register keeps all.
const REASONS: usize = 6;

/// Everything that happened, oldest first.
pub(super) fn all(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<DayView> {
    those(known, permit, texts, |_| true)
}

/// The same from a line on, but for copies hung up and taken down.
pub(super) fn but_copies(known: &Known<'_>, permit: &Permit, texts: &Texts, seq: u64) -> Vec<DayView> {
    those(known, permit, texts, |h| h.stamp.seq >= seq && h.kind != "copy")
}

fn those(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    which: impl Fn(&Happened) -> bool,
) -> Vec<DayView> {
    permit
        .day
        .iter()
        .filter(|h| which(h))
        .filter_map(|h| {
            let mut view = one(h, known, texts)?;
            view.words += &after_the_signal(h, &permit.day);
            Some(view)
        })
        .collect()
}

/// When it happened, by the station's clock or as it was told.
fn when(h: &Happened) -> i64 {
    seconds(h.data.text("at").unwrap_or(&h.stamp.time))
}

/// Of somebody who comes out or off air: the seconds since the first signal of the time they were on air; else empty.
fn after_the_signal(h: &Happened, day: &[Happened]) -> String {
    let person = h.data.text("person");
    if !matches!(h.kind, "out" | "off_air") || person.is_none() {
        return String::new();
    }
    let (mut on, mut signal) = (false, None);
    for e in day.iter().take_while(|e| e.stamp.seq < h.stamp.seq) {
        let theirs = e.data.text("person") == person;
        match e.kind {
            "on_air" | "in" if theirs && !on => (on, signal) = (true, None),
            "off_air" if theirs => (on, signal) = (false, None),
            "call_out" | "event" | "suspend" if on => signal = signal.or(Some(e)),
            _ => {}
        }
    }
    match signal.map(|s| (s, when(h) - when(s))) {
        Some((s, after)) if after >= 0 => {
            let line = s.stamp.line;
            let words = if s.kind == "suspend" {
                say!("{after} s after the stop (line {line})", after, line)
            } else {
                say!("{after} s after the signal (line {line})", after, line)
            };
            format!(", {words}")
        }
        Some(_) | None => String::new(),
    }
}

/// When something told later happened, who told it, and whether it was late; or empty. Whether it was late is worked
/// out here and never kept.
pub(super) fn told(at: Option<&str>, by: Option<&str>, time: &str, zone: &str) -> String {
    let late = at.is_some_and(|at| seconds(time) - seconds(at) > LATE_AFTER);
    let told = match (at, by) {
        (Some(at), Some(name)) => say!("at {time}, told by {name}", time = clock(at, zone), name),
        (Some(at), None) => say!("at {time}", time = clock(at, zone)),
        (None, Some(name)) => say!("told by {name}", name),
        (None, None) => return String::new(),
    };
    if late { say!("({told}), entered late", told) } else { format!("({told})") }
}

fn one(h: &Happened, known: &Known<'_>, texts: &Texts) -> Option<DayView> {
    let text = |f: &str| h.data.text(f).unwrap_or_default().to_owned();
    let who = || wearer(known, texts, &text("person"));
    let with =
        |head: &str, tail: String| if tail.is_empty() { head.to_owned() } else { format!("{head}: {tail}") };
    let words = match h.kind {
        "on_air" => match text("outlet") {
            none if none.is_empty() => say!("{name} on air, outside", name = who()),
            id => match crate::permit::decide::crew::outlet_name(texts, &id) {
                Some(outlet) => say!("{name} on air, outside, {outlet}", name = who(), outlet),
                None => say!("{name} on air, outside, outlet {outlet}", name = who(), outlet = id),
            },
        },
        "in" => say!("{name} in", name = who()),
        "out" => say!("{name} out, still on air", name = who()),
        "off_air" => say!("{name} off air", name = who()),
        "call_out" => with(say!("EVERYONE CALLED OUT"), typed(&text("words"))),
        "roll_call" => {
            let name = |id: &str| wearer(known, texts, id);
            let all = |list: &str| h.data.texts(list).into_iter().map(name).collect::<Vec<_>>().join(", ");
            match all("missing") {
                none if none.is_empty() => with(say!("Roll called, everyone found"), all("found")),
                missing => {
                    say!("Roll called. MISSING: {missing}. Found: {found}", missing, found = all("found"))
                }
            }
        }
        "relieve" => {
            let name = |member: &str| page_one::person(known, texts, &text(member));
            let role = recorded(&text("role"));
            say!("{name} stands in for {before} as {role}", name = name("to"), before = name("from"), role)
        }
        "suspend" => with(say!("Suspended"), typed(&text("reason"))),
        "event" => with(&say!("Event: {event}", event = recorded(&text("what"))), typed(&text("words"))),
        "reading" => {
            let value = format!("{} {}", text("value"), text("unit"));
            say!("Read: {gauge} {value}", gauge = recorded(&text("what")), value)
        }
        "denied" => {
            let all = h.data.texts("why");
            let mut why = all.iter().take(REASONS).copied().collect::<Vec<_>>().join("; ");
            if all.len() > REASONS {
                why += &format!("; {}", say!("and {n} more", n = all.len() - REASONS));
            }
            say!("Refused by the program: {request}: {why}", request = text("request"), why)
        }
        "copy" => copy(&h.data),
        "carried" => {
            let n = h.data.texts("answers").len();
            say_n!(n, "{n} answer of another permit carried", "{n} answers of another permit carried")
        }
        "released" => with(say!("Set released by this register"), text("words")),
        "taken" => with(say!("Set taken by this register"), text("words")),
        "witness" => {
            let (station, line) = (text("station"), h.data.int("seq").unwrap_or(0));
            if h.data.has("held") {
                say!("Register of {station} read as of its line {line}; it holds this set too", station, line)
            } else {
                say!("Register of {station} read as of its line {line}", station, line)
            }
        }
        "note" => with(say!("Note"), text("words")),
        "job" => say!("Job changed").into(),
        "started" => say!("Set started").into(),
        "stopped" => say!("Set stopped").into(),
        "moved" => say!("Set moved to {place}", place = text("place")),
        "plugged" => say!("Set plugged in at {supply_point}", supply_point = text("supply_point")),
        "filled" => with(say!("Reserve filled"), recorded(&text("from"))),
        "serviced" => with(say!("Set serviced"), recorded(&text("what"))),
        "air_test" => {
            let against = air_test::against(h, &texts.site);
            let test = air_test::in_words(h);
            if against.is_empty() {
                say!("Air test {test}.", test)
            } else {
                say!("Air test {test}. OUT OF LIMITS: {limits}", test, limits = against.join("; "))
            }
        }
        "open" | "answer" | "set" | "site" | "form" => return None,
        other => recorded(other),
    };
    let told = told(h.data.text("at"), h.data.text("told_by"), &h.stamp.time, &h.stamp.zone);
    let by = h.stamp.by.as_str();
    Some(DayView {
        time: clock(&h.stamp.time, &h.stamp.zone),
        words: if told.is_empty() { words } else { format!("{words} {told}") },
        breach: h.data.texts("breach").join("; "),
        by: if by.is_empty() { String::new() } else { page_one::person(known, texts, by) },
        refused: h.kind == "denied",
        line: h.stamp.line,
    })
}

/// Where a numbered copy hangs, as it was said, or that it came down.
fn copy(data: &Json) -> String {
    let (copy, place) = (data.int("number").unwrap_or(0), data.text("hangs").unwrap_or_default());
    match (data.text("sheet") == Some("card"), data.has("taken_down")) {
        (true, true) => say!("Copy {copy}, attendant's card, taken down: {place}", copy, place),
        (true, false) => say!("Copy {copy}, attendant's card, hangs: {place}", copy, place),
        (false, true) => say!("Copy {copy} taken down: {place}", copy, place),
        (false, false) => say!("Copy {copy} hangs: {place}", copy, place),
    }
}
