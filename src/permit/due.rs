//! When the gauges of a running set are due, what was read lately, and a reserve that falls while the compressor feeds.
//!
//! Always: readings of every permit of the set count, at the time they are told for, if they are told in time; what is
//! overdue warns first and then holds whoever would go on air. Not here: what a reading says against the set (`watch`).

use super::bench::{Item, Texts};
use super::decide::Known;
use super::state::{Happened, Permit, SetState, Stamp};
use crate::checklist::Each;
use crate::time::{self, clock, seconds};
use crate::tongue::say;
use crate::units::{Quantity, Rounding, unit};
use crate::view::{StateWord, recorded};
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};
use std::collections::BTreeMap;

/// A gauge of a set at work, and when it is to be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// `co`, `supply`, `reserve`.
    pub what: &'static str,
    /// Since when it counts as read: its last reading, or the issue; of a permit that was never issued, its opening.
    pub since: i64,
    /// It was read since then.
    pub read: bool,
    /// The permit was issued.
    pub issued: bool,
    /// Of the reserve, the cylinders whose gauges are behind the others', in brackets.
    pub behind: String,
    /// When it is due, UTC second.
    pub due: i64,
    /// From then on nobody goes on air until it is read.
    pub holds: i64,
}

impl Due {
    /// What is said of it at a time; `None` while it is not due.
    pub fn words(&self, now: i64, zone: &str) -> Option<String> {
        let at = |second: i64| clock(&time::utc(second), zone);
        let (what, behind) = (recorded(self.what), &self.behind);
        let (due, since) = (at(self.due), at(self.since));
        let head = if self.read {
            say!("{what}{behind} was due at {due}, last read at {since}", what, behind, due, since)
        } else if !self.issued {
            say!(
                "{what}{behind} was due at {due}, not read since the permit was opened at {since} (it was never issued)",
                what,
                behind,
                due,
                since
            )
        } else {
            say!(
                "{what}{behind} was due at {due}, not read since the issue at {since}",
                what,
                behind,
                due,
                since
            )
        };
        match (now >= self.due, now >= self.holds) {
            (_, true) => {
                Some(say!("{head}: OVERDUE, nobody goes on air until it is read (`airwrit reading`)", head))
            }
            (true, false) => Some(say!("{head}: read it now", head)),
            (false, false) => None,
        }
    }
}

/// The gauges that are watched on a set.
pub fn gauges(texts: &Texts) -> Vec<&'static str> {
    let reserve = texts.set.choice("reserve") == Some("cylinders");
    ["co", "supply", "reserve"].into_iter().filter(|w| *w != "reserve" || reserve).collect()
}

fn whole(q: Option<&Quantity>) -> Option<i64> {
    q.and_then(|q| q.value.to_integer().to_i64())
}

/// What is due on a permit that is live or has people on its air; an interval that is not known is over already.
pub fn due(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Due> {
    if known.life(permit) != StateWord::Live && known.state.tally_of_permit(&permit.number) == 0 {
        return Vec::new();
    }
    let every = whole(texts.set.quantity("read_every")).unwrap_or(0);
    let grace = whole(texts.site.quantity("read_grace")).unwrap_or(0);
    let issued = permit.last_signed("countersign").map(|s| (seconds(&s.stamp.time), s.stamp.seq));
    // To be reinstated, every gauge was read since the suspension: it is due from that reading, not from the signature.
    // A reading that stands before the issue was not read since, whatever the clock said then.
    // One that was never issued has people on its air by report: what was read before it was opened is no reading of theirs.
    let opened = (seconds(&permit.opened.time), permit.opened.seq);
    let was_issued = issued.is_some();
    let (from, after) = issued.unwrap_or(opened);
    let one = |what| {
        let last = last_read(known, permit, texts, what, after).filter(|at| *at > from);
        let since = last.unwrap_or(from);
        let behind = unread(known, permit, texts, what, after, since + 1).unwrap_or_default();
        Due {
            what,
            since,
            read: last.is_some(),
            issued: was_issued,
            behind,
            due: since + every,
            holds: since + every + grace,
        }
    };
    gauges(texts).into_iter().map(one).collect()
}

/// What overdue readings forbid.
pub fn holds(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let now = seconds(known.time());
    due(known, permit, texts)
        .into_iter()
        .filter(|d| now >= d.holds)
        .filter_map(|d| d.words(now, &known.now.zone))
        .collect()
}

/// The readings of a gauge of the set after a line; of what was read before a UTC second none need be among them.
fn readings<'a>(
    known: &Known<'a>,
    permit: &'a Permit,
    what: &'a str,
    after: u64,
    from: i64,
) -> impl Iterator<Item = (i64, &'a Happened)> + use<'a> {
    let of_gauge = known.state.permits.readings_of_set((&permit.set.id, what), after, from);
    of_gauge.filter_map(|h| Some((h.told_in_time()?, h)))
}

/// Read at whatever time.
const EVER: i64 = i64::MIN;

/// The readings of the reserve that count together, oldest first: since the set was filled; one that was read again within
/// three minutes was a slip of the finger.
fn of_reserve<'a>(known: &Known<'a>, permit: &'a Permit, since: u64) -> Vec<OfReserve<'a>> {
    const SLIP: i64 = 180;
    let read = readings(known, permit, "reserve", since, EVER);
    let mut all: Vec<OfReserve<'_>> =
        read.map(|(at, told)| OfReserve { at, item: told.data.text("item"), told }).collect();
    all.sort_unstable_by_key(|r| (r.at, r.told.stamp.seq));
    let again = |(i, r): &(usize, &OfReserve<'_>)| {
        let soon = all.iter().skip(i + 1).take_while(|later| later.at - r.at <= SLIP);
        soon.into_iter().any(|l| l.item == r.item && l.told.stamp.seq > r.told.stamp.seq)
    };
    all.iter().enumerate().filter(|r| !again(r)).map(|(_, r)| *r).collect()
}

/// A reading of the reserve: when, UTC seconds; of which cylinder, if it says so.
#[derive(Clone, Copy)]
struct OfReserve<'a> {
    at: i64,
    item: Option<&'a str>,
    told: &'a Happened,
}

/// The cylinders that a gauge is of: those of the reserve in service.
fn cylinders(known: &Known<'_>, permit: &Permit, texts: &Texts, what: &str) -> Vec<Item> {
    if what == "reserve" {
        known.bench(permit, texts).items(&Each::Set("cylinders".into()))
    } else {
        Vec::new()
    }
}

/// A reading that names no cylinder is one of them all.
fn is_of(h: &Happened, cylinder: &Item) -> bool {
    h.data.text("item").is_none_or(|i| i == cylinder.id)
}

/// When a gauge was last read after a line; of the reserve, when the cylinder was that was not read for longest.
fn last_read(known: &Known<'_>, permit: &Permit, texts: &Texts, what: &str, after: u64) -> Option<i64> {
    let cylinders = cylinders(known, permit, texts, what);
    if cylinders.is_empty() {
        return readings(known, permit, what, after, EVER).map(|(at, _)| at).max();
    }
    let of = |c: &Item| {
        readings(known, permit, what, after, EVER).filter(|(_, h)| is_of(h, c)).map(|(at, _)| at).max()
    };
    cylinders.iter().map(of).collect::<Option<Vec<i64>>>()?.into_iter().min()
}

/// What of a gauge no reading after a line tells that counts: `None` if it is read; else the cylinders that are not, in brackets; no
/// words where that is all of it.
fn unread(
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    what: &str,
    after: u64,
    from: i64,
) -> Option<String> {
    let read = |of: &dyn Fn(&Happened) -> bool| {
        readings(known, permit, what, after, from).any(|(at, h)| at >= from && of(h))
    };
    let cylinders = cylinders(known, permit, texts, what);
    let late: Vec<&str> =
        cylinders.iter().filter(|c| !read(&|h| is_of(h, c))).map(|c| c.name.as_str()).collect();
    match late.len() {
        0 if cylinders.is_empty() => (!read(&|_| true)).then(String::new),
        0 => None,
        n if n == cylinders.len() => Some(String::new()),
        _ => Some(format!(" ({})", late.join(", "))),
    }
}

/// Gauges that nobody has read since a line.
pub fn unread_since(known: &Known<'_>, permit: &Permit, texts: &Texts, since: &Stamp) -> Vec<String> {
    let one = |what: &str| {
        let which = unread(known, permit, texts, what, since.seq, EVER)?;
        let what = recorded(what);
        Some(say!("{what}{which} was not read since it was suspended: `airwrit reading`", what, which))
    };
    gauges(texts).into_iter().filter_map(one).collect()
}

/// How long what is read or called counts as fresh at this site, seconds.
fn freshness(texts: &Texts) -> i64 {
    whole(texts.site.quantity("freshness")).unwrap_or(0)
}

/// The same for people.
pub fn freshness_in_words(texts: &Texts) -> String {
    texts.site.get("freshness").and_then(|h| h.shown(&texts.language)).unwrap_or_default()
}

/// Gauges that nobody has read lately.
pub fn unread_lately(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let from = seconds(known.time()) - freshness(texts);
    let words = freshness_in_words(texts);
    let one = |what: &str| {
        let which = unread(known, permit, texts, what, 0, from)?;
        let what = recorded(what);
        Some(say!(
            "{what}{which} was not read within the last {time}: `airwrit reading`",
            what,
            which,
            time = words
        ))
    };
    gauges(texts).into_iter().filter_map(one).collect()
}

/// The last roll call of the set that found everyone, if it is not old.
pub fn rolled_lately<'a>(known: &Known<'a>, permit: &Permit, texts: &Texts) -> Option<&'a Stamp> {
    let set = known.state.sets.get(&permit.set.id)?;
    // Whoever went on or in after it was not called.
    let went = known.perhaps_on_air_from(&permit.set.id).map(|p| p.went_on.as_str()).max();
    let rolled = set.rolled.as_ref().filter(|r| went.is_none_or(|w| r.time.as_str() >= w));
    let rolled = rolled.filter(|r| set.roll_void.as_ref().is_none_or(|v| r.seq > v.seq))?;
    (seconds(known.time()) - seconds(&rolled.time) <= freshness(texts)).then_some(rolled)
}

/// What the readings of the reserve say against anybody going on: too little in it, more than was filled, less and less.
pub fn unsafe_reserve(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let mut out = low(known, permit, texts);
    out.extend(rose(known, permit, texts));
    out.extend(falling(known, permit, texts));
    out
}

/// The last reading of a cylinder that is below what the set wants in it before work: nobody goes on, and whoever is
/// on may stay until the leave-by pressure calls them out.
pub fn low(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    if !gauges(texts).contains(&"reserve") {
        return Vec::new();
    }
    let Some(least) = texts.set.quantity("reserve_minimum") else { return Vec::new() };
    let filled = known.state.sets.get(&permit.set.id).and_then(|s| s.last.get("filled"));
    let since = filled.map_or(0, |h| h.stamp.seq).max(permit.opened.seq);
    let mut last: BTreeMap<Option<&str>, (i64, &Happened)> = BTreeMap::new();
    for (at, h) in readings(known, permit, "reserve", since, EVER) {
        let latest = last.entry(h.data.text("item")).or_insert((at, h));
        if (at, h.stamp.seq) >= (latest.0, latest.1.stamp.seq) {
            *latest = (at, h);
        }
    }
    let mut out = Vec::new();
    for (item, (at, h)) in last {
        let u = h.data.text("unit").and_then(unit);
        let Some(read) = h.data.text("value").and_then(|v| super::bench::quantity(v, u)) else { continue };
        if read.dimension == least.dimension && read.value < least.value {
            out.push(say!(
                "reserve{item} was read at {time} as {read}, wanted at least {least} (the set's \
                           minimum) before anybody goes on",
                item = item.map(|i| format!(" {i}")).unwrap_or_default(),
                time = clock(&time::utc(at), &h.stamp.zone),
                read = read.words(u, Rounding::Down),
                least = least.words(u, Rounding::Up)
            ));
        }
    }
    out
}

/// A reserve that rose with no fill told: what is in it nobody has said. Sun on a cylinder does less than a fifth.
pub fn rose(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    if !gauges(texts).contains(&"reserve") {
        return Vec::new();
    }
    let filled = known.state.sets.get(&permit.set.id).and_then(|s| s.last.get("filled"));
    let since = filled.map_or(0, |h| h.stamp.seq).max(permit.opened.seq);
    let all = of_reserve(known, permit, since);
    let mut least: BTreeMap<Option<&str>, Quantity> = BTreeMap::new();
    let mut out: BTreeMap<Option<&str>, String> = BTreeMap::new();
    let fifth = BigRational::new(6.into(), 5.into());
    for OfReserve { at, item, told: h } in all {
        let u = h.data.text("unit").and_then(unit);
        let Some(read) = h.data.text("value").and_then(|v| super::bench::quantity(v, u)) else { continue };
        // What no gauge shows is told elsewhere.
        if read.value.is_negative() {
            continue;
        }
        let before = least.entry(item).or_insert_with(|| read.clone());
        if read.value > &before.value * &fifth {
            out.insert(
                item,
                say!(
                    "reserve{item} rose from {before} to {read} by {time} and no fill of it \
                                   is told: `airwrit set filled {set} --from WHERE`",
                    item = item.map(|i| format!(" {i}")).unwrap_or_default(),
                    before = before.words(u, Rounding::Nearest),
                    read = read.words(u, Rounding::Nearest),
                    time = clock(&time::utc(at), &h.stamp.zone),
                    set = permit.set.id
                ),
            );
        } else if read.value < before.value {
            *before = read;
        }
    }
    out.into_values().collect()
}

/// A reserve that falls faster than the set allows while the compressor feeds, in words, for each cylinder.
pub fn falling(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<String> {
    let Some(most) = texts.set.quantity("drop_per_hour") else { return Vec::new() };
    let set = known.state.sets.get(&permit.set.id);
    let since = set.map_or(0, SetState::watched_since);
    if set.is_some_and(|s| !s.watched.may_fall(most, since)) {
        return Vec::new();
    }
    went_through(known, permit, most, since)
}

/// The same of all readings since a place in the history.
fn went_through(known: &Known<'_>, permit: &Permit, most: &Quantity, since: u64) -> Vec<String> {
    let value = |h: &Happened| {
        super::bench::quantity(h.data.text("value")?, h.data.text("unit").and_then(unit))
            .filter(|q| q.dimension == most.dimension)
    };
    let mut items: BTreeMap<Option<&str>, Vec<(i64, &Happened, Quantity)>> = BTreeMap::new();
    for OfReserve { at, item, told } in of_reserve(known, permit, since) {
        let of = items.entry(item).or_default();
        of.extend(value(told).map(|v| (at, told, v)));
    }
    let mut out = Vec::new();
    for (item, of) in items {
        let Some((last_at, last, now)) = of.last() else { continue };
        let fell = of.iter().find_map(|(at, h, then)| {
            let hours = BigRational::new((last_at - at).max(3600).into(), 3600.into());
            let drop = &then.value - &now.value;
            (drop > &most.value * hours).then_some((*at, *h, drop))
        });
        if let Some((at, first, drop)) = fell {
            let u = last.data.text("unit").and_then(unit);
            let drop = Quantity { value: drop, dimension: most.dimension };
            out.push(say!(
                "RESERVE FALLING while the compressor feeds: {item}by {drop} from {from} to {to}; \
                           it may fall by {most} in an hour. It leaks, or people breathe it already: look \
                           at the supply gauge",
                item = item.map(|i| format!("{i}, ")).unwrap_or_default(),
                drop = drop.words(u, Rounding::Up),
                from = clock(&time::utc(at), &first.stamp.zone),
                to = clock(&time::utc(*last_at), &last.stamp.zone),
                most = most.words(u, Rounding::Down)
            ));
        }
    }
    out
}
