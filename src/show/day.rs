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
use crate::view::DayView;

/// Everything that happened, oldest first.
pub(super) fn all(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<DayView> {
    from(known, permit, texts, 0)
}

/// The same from a line on.
pub(super) fn from(known: &Known<'_>, permit: &Permit, texts: &Texts, seq: u64) -> Vec<DayView> {
    permit
        .day
        .iter()
        .filter(|h| h.stamp.seq >= seq)
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
            let what = if s.kind == "suspend" { "stop" } else { "signal" };
            format!(", {after} s after the {what} (line {})", s.stamp.line)
        }
        Some(_) | None => String::new(),
    }
}

/// When something told later happened, who told it, and whether it was late; or empty. Whether it was late is worked
/// out here and never kept.
pub(super) fn told(at: Option<&str>, by: Option<&str>, time: &str, zone: &str) -> String {
    let late = at.is_some_and(|at| seconds(time) - seconds(at) > LATE_AFTER);
    let told = match (at, by) {
        (Some(at), Some(by)) => format!("at {}, told by {by}", clock(at, zone)),
        (Some(at), None) => format!("at {}", clock(at, zone)),
        (None, Some(by)) => format!("told by {by}"),
        (None, None) => return String::new(),
    };
    format!("({told}){}", if late { ", entered late" } else { "" })
}

fn one(h: &Happened, known: &Known<'_>, texts: &Texts) -> Option<DayView> {
    let text = |f: &str| h.data.text(f).unwrap_or_default().to_owned();
    let who = || wearer(known, texts, &text("person"));
    let with =
        |head: &str, tail: String| if tail.is_empty() { head.to_owned() } else { format!("{head}: {tail}") };
    let words = match h.kind {
        "on_air" => {
            let outlet = text("outlet");
            if outlet.is_empty() {
                format!("{} on air, outside", who())
            } else {
                format!("{} on air, outside, outlet {outlet}", who())
            }
        }
        "in" => format!("{} in", who()),
        "out" => format!("{} out, still on air", who()),
        "off_air" => format!("{} off air", who()),
        "call_out" => with("EVERYONE CALLED OUT", text("words")),
        "roll_call" => {
            let name = |id: &str| wearer(known, texts, id);
            let all = |list: &str| h.data.texts(list).into_iter().map(name).collect::<Vec<_>>().join(", ");
            match all("missing") {
                none if none.is_empty() => with("Roll called, everyone found", all("found")),
                missing => format!("Roll called. MISSING: {missing}. Found: {}", all("found")),
            }
        }
        "relieve" => {
            let name = |member: &str| page_one::person(known, texts, &text(member));
            format!("{} stands in for {} as {}", name("to"), name("from"), text("role").replace('_', " "))
        }
        "suspend" => with("Suspended", text("reason")),
        "event" => with(&format!("Event: {}", text("what").replace('_', " ")), text("words")),
        "reading" => format!("Read: {} {} {}", text("what").replace('_', " "), text("value"), text("unit")),
        "denied" => {
            format!("Refused by the program: {}: {}", text("request"), h.data.texts("why").join("; "))
        }
        "copy" => copy(&h.data),
        "carried" => {
            let n = h.data.texts("answers").len();
            format!("{} of another permit carried", crate::text::counted(n, "answer", "answers"))
        }
        "released" => with("Set released by this register", text("words")),
        "taken" => with("Set taken by this register", text("words")),
        "witness" => {
            let held = if h.data.has("held") { "; it holds this set too" } else { "" };
            format!(
                "Register of {} read as of its line {}{held}",
                text("station"),
                h.data.int("seq").unwrap_or(0)
            )
        }
        "note" => with("Note", text("words")),
        "job" => "Job changed".into(),
        "started" => "Set started".into(),
        "stopped" => "Set stopped".into(),
        "moved" => format!("Set moved to {}", text("place")),
        "plugged" => format!("Set plugged in at {}", text("supply_point")),
        "filled" => with("Reserve filled", text("from").replace('_', " ")),
        "serviced" => with("Set serviced", text("what").replace('_', " ")),
        "air_test" => {
            let against = air_test::against(h, &texts.site);
            let out = if against.is_empty() {
                String::new()
            } else {
                format!(" OUT OF LIMITS: {}", against.join("; "))
            };
            format!("Air test {}.{out}", air_test::in_words(h))
        }
        "open" | "answer" | "set" | "site" | "form" => return None,
        other => other.replace('_', " "),
    };
    let told = told(h.data.text("at"), h.data.text("told_by"), &h.stamp.time, &h.stamp.zone);
    let by = h.stamp.by.as_str();
    Some(DayView {
        time: clock(&h.stamp.time, &h.stamp.zone),
        words: if told.is_empty() { words } else { format!("{words} {told}") },
        breach: h.data.texts("breach").join("; "),
        by: if by.is_empty() { String::new() } else { page_one::person(known, texts, by) },
        line: h.stamp.line,
    })
}

/// Where a numbered copy hangs, as it was said, or that it came down.
fn copy(data: &Json) -> String {
    let card = if data.text("sheet") == Some("card") { ", attendant's card," } else { "" };
    let what = if data.has("taken_down") { "taken down" } else { "hangs" };
    let number = data.int("number").unwrap_or(0);
    format!("Copy {number}{card} {what}: {}", data.text("hangs").unwrap_or_default())
}
