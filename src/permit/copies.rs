//! Numbered prints that hang somewhere and no longer tell the truth.
//!
//! Always: what changes the state, the end or the holder of a permit makes every copy hung before it stale, until it is
//! said to be down. Not here: printing.

use super::decide::Known;
use super::state::{Happened, Permit};
use crate::tongue::say;
use crate::view::StateWord;

/// A copy that hangs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hanging {
    /// Number.
    pub number: u64,
    /// Where.
    pub hangs: String,
    /// `card` or `permit`.
    pub sheet: String,
}

impl Hanging {
    /// `take down copy 1 (permit), which hangs at the entry`.
    pub fn words(&self) -> String {
        let placed =
            ["at ", "on ", "in ", "by ", "beside ", "under ", "over ", "near ", "inside ", "behind "];
        let (number, place, sheet) = (self.number, &self.hangs, sheet_word(&self.sheet));
        if placed.iter().any(|p| place.starts_with(p)) {
            say!("take down copy {number} ({sheet}), which hangs {place}", number, sheet, place)
        } else {
            say!("take down copy {number} ({sheet}), which hangs at {place}", number, sheet, place)
        }
    }
}

/// What sort of sheet it is, for people.
pub fn sheet_word(sheet: &str) -> &str {
    match sheet {
        "card" => say!("card"),
        "permit" => say!("permit"),
        other => other,
    }
}

fn hanging(permit: &Permit) -> impl Iterator<Item = (&Happened, Hanging)> {
    let down = |n: u64| {
        permit
            .day
            .iter()
            .any(|h| h.kind == "copy" && h.data.has("taken_down") && h.data.int("number") == Some(n))
    };
    permit.day.iter().filter(|h| h.kind == "copy" && !h.data.has("taken_down")).filter_map(move |h| {
        let number = h.data.int("number")?;
        let text = |name: &str| h.data.text(name).map(str::to_owned);
        let sheet = text("sheet").unwrap_or_else(|| "permit".into());
        (!down(number)).then(|| (h, Hanging { number, hangs: text("hangs").unwrap_or_default(), sheet }))
    })
}

/// Copies that hang, stale or not.
pub fn up(permit: &Permit) -> Vec<Hanging> {
    hanging(permit).map(|(_, copy)| copy).collect()
}

/// The number of the next copy.
pub fn next(permit: &Permit) -> u64 {
    permit.day.iter().filter(|h| h.kind == "copy").filter_map(|h| h.data.int("number")).max().unwrap_or(0) + 1
}

/// Where a copy hung, or hangs.
pub fn hung(permit: &Permit, number: u64) -> Option<(String, String)> {
    let of =
        |h: &&Happened| h.kind == "copy" && h.data.int("number") == Some(number) && !h.data.has("taken_down");
    let copy = permit.day.iter().find(of)?;
    let sheet = copy.data.text("sheet").unwrap_or("permit").to_owned();
    Some((copy.data.text("hangs")?.to_owned(), sheet))
}

/// Copies that hang and were printed before the last change.
pub fn stale(known: &Known<'_>, permit: &Permit) -> Vec<Hanging> {
    let lapsed = known.life(permit) == StateWord::Lapsed;
    let called =
        permit.day.iter().filter(|h| matches!(h.kind, "call_out" | "relieve")).map(|h| h.stamp.seq).max();
    let later = permit.extended.last().map(|e| e.stamp.seq);
    let handed = permit.signed.iter().filter(|s| s.kind == "hand_over").map(|s| s.stamp.seq).max();
    let changed = [Some(permit.since.seq), called, later, handed].into_iter().flatten().max().unwrap_or(0);
    hanging(permit).filter(|(h, _)| lapsed || h.stamp.seq < changed).map(|(_, copy)| copy).collect()
}
