//! One permit's lines with what they cite and what bears on them: what goes out to be signed, is
//! attached to paper, and can be verified without the register.
//!
//! Lines stand verbatim, ascending: line 0 of every volume and the last line of each but the last; every
//! roster, every setting of the clock and everything that was written aside; every line of the permit; from its `open` on
//! until it is closed, refused or cancelled, every line of its set that bears on it without being its own (what happened to
//! the set, its tally, its shutdown on another permit), those too that are told for then and were entered later; the last close on this set before it; and what any of these cite (an
//! answer the lines of the set that it rests on), until nothing new is cited. Not here: verifying an excerpt (`audit`).

use super::chain::subject;
use super::line::Line;
use std::collections::{BTreeSet, HashMap};

/// Kinds that bear on a permit through its set.
const BEARING: &[&str] = &[
    "moved",
    "plugged",
    "started",
    "stopped",
    "filled",
    "serviced",
    "air_test",
    "event",
    "call_out",
    "suspend",
    "on_air",
    "in",
    "out",
    "off_air",
    "roll_call",
    "witness",
];

/// Kinds after which nothing of the set bears on it any more.
const LAST: &[&str] = &["close", "refuse", "cancel"];

/// Where texts stand, by kind and hash.
type Texts<'a> = HashMap<(String, &'a str), Vec<usize>>;

/// The excerpt of a permit as bytes; `None` if the register has no such permit.
pub fn of(lines: &[Line], permit: &str) -> Option<Vec<u8>> {
    let opened = lines.iter().position(|l| l.permit.as_deref() == Some(permit) && l.kind.name == "open")?;
    let open = lines.get(opened)?;
    let set = open.data.get("set").and_then(|s| s.text("id")).unwrap_or_default().to_owned();
    let by_hash: HashMap<&str, usize> = lines.iter().enumerate().map(|(i, l)| (l.hash.as_str(), i)).collect();
    let set_of: HashMap<&str, &str> = lines
        .iter()
        .filter(|l| l.kind.name == "open")
        .filter_map(|l| Some((l.permit.as_deref()?, l.data.get("set")?.text("id")?)))
        .collect();
    let form_of: HashMap<&str, Option<&str>> = lines
        .iter()
        .filter(|l| l.kind.name == "open" && l.data.text("for") == Some("work"))
        .filter_map(|l| Some((l.permit.as_deref()?, l.data.get("form").and_then(|f| f.text("hash")))))
        .collect();
    // An answer of a shutdown suspends every permit of the set.
    let of_shutdown = |l: &Line| {
        l.kind.name == "answer"
            && l.permit.as_deref().is_some_and(|p| form_of.get(p) != Some(&l.data.text("form")))
    };
    let is_of_set = |l: &Line| match &l.permit {
        Some(p) => set_of.get(p.as_str()) == Some(&set.as_str()),
        None => l.data.text("set") == Some(set.as_str()),
    };

    // Where one volume ends and the next begins, and who may sign, bears on everything.
    let begins = |i: usize| lines.get(i).is_some_and(|l| l.kind.name == "enrol");
    let standing = |i: usize, l: &Line| {
        begins(i) || begins(i + 1) || ["roster", "clock"].contains(&l.kind.name) || l.data.has("aside")
    };
    let last = |l: &Line| l.permit.as_deref() == Some(permit) && LAST.contains(&l.kind.name);
    let end = lines.iter().enumerate().find(|(_, l)| last(l));
    // Entered later, it may be told for a time at which the permit was in force.
    let then = |i: usize, l: &Line| {
        end.is_none_or(|(ended, close)| i < ended || l.data.text("at").is_some_and(|at| at <= &*close.time))
    };
    let mut texts: Texts<'_> = HashMap::new();
    for (i, l) in lines.iter().enumerate() {
        if let (Some((kind, _)), Some(hash)) = (subject(l), l.data.text("hash")) {
            texts.entry((kind, hash)).or_default().push(i);
        }
    }
    let mut wanted: BTreeSet<usize> =
        lines.iter().enumerate().filter(|(i, l)| standing(*i, l)).map(|(i, _)| i).collect();
    let mut todo = Vec::new();
    for (i, l) in lines.iter().enumerate() {
        let own = l.permit.as_deref() == Some(permit);
        let bears =
            i > opened && then(i, l) && (BEARING.contains(&l.kind.name) || of_shutdown(l)) && is_of_set(l);
        if own || bears {
            todo.push(i);
        }
    }
    let closed = |l: &Line| l.kind.name == "close" && is_of_set(l);
    todo.extend(lines.iter().take(opened).rposition(closed));
    // What stands there anyway may be a line of the permit too, and what it cites is followed.
    let mut followed = BTreeSet::new();
    while let Some(i) = todo.pop() {
        if followed.insert(i)
            && let Some(l) = lines.get(i)
        {
            wanted.insert(i);
            todo.extend(cites(i, l, &by_hash, &texts));
        }
    }
    let mut out = Vec::new();
    for i in wanted {
        out.extend_from_slice(&lines.get(i)?.raw);
        out.push(b'\n');
    }
    Some(out)
}

/// The lines that a line cites: by hash, and the texts in force that it names.
fn cites(at: usize, line: &Line, by_hash: &HashMap<&str, usize>, texts: &Texts<'_>) -> Vec<usize> {
    let mut out: Vec<usize> =
        line.data.text("target").and_then(|t| by_hash.get(t)).copied().into_iter().collect();
    for list in ["rests_on", "answers"] {
        out.extend(line.data.texts(list).into_iter().filter_map(|h| by_hash.get(h).copied()));
    }
    let read = line.data.get("witness").and_then(|w| w.text("line"));
    out.extend(read.and_then(|h| by_hash.get(h)).copied());
    let mut text = |kind: &str, hash: Option<&str>| {
        let all =
            hash.and_then(|hash| texts.get(&(kind.to_owned(), hash))).map(Vec::as_slice).unwrap_or_default();
        // The last one before it.
        out.extend(all.get(..all.partition_point(|i| *i < at)).and_then(<[usize]>::last));
    };
    match line.kind.name {
        "open" => {
            for kind in ["form", "set", "site"] {
                text(kind, line.data.get(kind).and_then(|c| c.text("hash")));
            }
        }
        "answer" => text("form", line.data.text("form")),
        _ => {}
    }
    out
}
