//! Line 0 of a volume: what it says by itself, and whether it goes on where the history before it ends.

use super::super::line::{Broken, Line, NONE, broken, hash};
use super::{Chain, Doubt, read_signs};
use crate::tongue::say;
use crate::trust::roster::RosterSign;
use crate::trust::succession::{forbidden, signed};
use crate::trust::{PublicKey, Roster};

/// What line 0 of a volume says, checked as far as it can be alone.
pub(super) struct Begun {
    pub(super) seal: PublicKey,
    pub(super) roster: Roster,
    pub(super) signs: Vec<RosterSign>,
}

impl Chain {
    /// Whether line 0 of a later volume goes on where this history ends.
    pub(super) fn check_volume(&self, line: &Line) -> Result<Begun, Broken> {
        let begun = begun(line)?;
        if line.log == self.origin.log || self.logs.iter().any(|l| *l == line.log) {
            return broken(
                "log",
                say!("log {log} stands before already; each volume has its own", log = line.log),
            );
        }
        match before(line)? {
            None => {
                return broken(
                    "before",
                    say!("a volume stands before this one, and line 0 does not name its last line"),
                );
            }
            Some(Before::Lost(_)) => {
                return broken(
                    "before",
                    say!("line 0 says that the volume before is lost, but it stands here"),
                );
            }
            Some(Before::Line { log, .. }) if !self.is_known(log) => {
                begun.roster.signed_by(&by_its_own(&begun)).or_else(|why| broken("custodian", why))?;
                self.check_act_by(line, &begun.roster)?;
                return Ok(begun);
            }
            Some(Before::Line { log, seq, head }) => {
                let here = (self.origin.log.as_str(), self.seq, self.head.as_str());
                if (log, seq, head) != here {
                    return broken(
                        "before",
                        say!(
                            "line 0 goes on after log {log}, line {seq}, {head}; the volume before is log {own_log}, \
                             and its last line is {own_line}, {own_head}",
                            log,
                            seq,
                            head,
                            own_log = here.0,
                            own_line = here.1,
                            own_head = here.2
                        ),
                    );
                }
            }
        }
        if line.time < self.time {
            return broken(
                "time",
                say!(
                    "the line is of {time}, earlier than the volume before, {before}",
                    time = line.time,
                    before = self.time
                ),
            );
        }
        if begun.roster.hash() == self.origin.roster.hash() {
            begun.roster.signed_by(&begun.signs).or_else(|why| broken("custodian", why))?;
        } else {
            follows(&self.origin.roster, &begun.roster, &begun.signs)?;
        }
        self.check_act_by(line, &begun.roster)?;
        Ok(begun)
    }

    /// The number of the volume with this log, from 1, counted over the volumes that are here.
    pub fn volume_of(&self, log: &str) -> Option<u32> {
        if log == self.origin.log {
            return Some(self.origin.volume);
        }
        self.logs.iter().position(|l| l == log).and_then(|n| u32::try_from(n + 1).ok())
    }

    /// Whether a log is one of this history's volumes.
    pub fn is_known(&self, log: &str) -> bool {
        self.origin.log == log || self.logs.iter().any(|l| l == log)
    }

    /// Goes on with line 0 of a later volume. What is known of permits, texts and people stays, unless a
    /// volume between is missing: then nobody can say how they stand.
    pub(super) fn take_volume(&mut self, line: &Line, begun: Begun) {
        let before = line.data.get("before").and_then(|b| b.text("log")).unwrap_or_default();
        if !self.is_known(before) {
            self.missing = true;
            self.permits.clear();
            self.ended.clear();
            self.texts.clear();
            self.origin.vouched = begun.roster.signed_by(&by_its_own(&begun)).unwrap_or_default();
            let why = say!("the volume before, log {log}, is not here", log = before);
            self.doubts.push(Doubt { volume: self.origin.volume + 1, seq: 0, rule: "volume", why });
        }
        let log = std::mem::replace(&mut self.origin.log, line.log.to_string());
        self.logs.push(log);
        self.origin.station = line.data.text("station").unwrap_or_default().to_owned();
        self.origin.volume += 1;
        self.clock = None;
        self.origin.roster = begun.roster;
        self.next = begun.seal;
    }
}

/// What line 0 says of the volume before.
pub(super) enum Before<'a> {
    Line { log: &'a str, seq: u64, head: &'a str },
    Lost(&'a str),
}

pub(super) fn before(line: &Line) -> Result<Option<Before<'_>>, Broken> {
    let Some(b) = line.data.get("before") else { return Ok(None) };
    match (b.text("log"), b.int("seq"), b.text("head"), b.text("lost")) {
        (Some(log), Some(seq), Some(head), None) => Ok(Some(Before::Line { log, seq, head })),
        (None, None, None, Some(words)) => Ok(Some(Before::Lost(words))),
        _ => broken("before", say!("`before` names `log`, `seq` and `head`, or says `lost`, and not both")),
    }
}

/// Whether a version of the roster may follow another, and enough custodians of both signed it.
pub(super) fn follows(old: &Roster, new: &Roster, signs: &[RosterSign]) -> Result<(), Broken> {
    if let Some(why) = forbidden(old, new).into_iter().next() {
        return broken("roster", why);
    }
    signed(old, new, signs).map(|_| ()).or_else(|why| broken("custodian", why))
}

/// The signatures of the roster's own custodians: those of the version before may stand beside them.
pub(super) fn by_its_own(begun: &Begun) -> Vec<RosterSign> {
    begun.signs.iter().filter(|s| begun.roster.custodians.contains(&s.key)).cloned().collect()
}

/// Line 0 by itself: its place, the roster it carries, its seal.
pub(super) fn begun(line: &Line) -> Result<Begun, Broken> {
    if line.seq != 0 {
        return broken("seq", say!("the first line has seq {seq}, wanted 0", seq = line.seq));
    }
    if line.prev != NONE {
        return broken("prev", say!("line 0 names a line before it, wanted 64 zeros"));
    }
    let data = &line.data;
    let text = data.get("roster").and_then(|r| r.text("text")).unwrap_or_default();
    let carried = hash(text.as_bytes());
    if line.roster != carried {
        return broken(
            "roster",
            say!("`roster` is {got}, wanted {carried}, the one carried", got = line.roster, carried),
        );
    }
    let seal =
        PublicKey::from_hex(data.text("seal").unwrap_or_default()).or_else(|why| broken("seal", why))?;
    if !line.sealed_by(&seal) {
        return broken("seal", say!("the seal is not by the key that line 0 names"));
    }
    if line.act.as_ref().is_some_and(|a| a.shown != NONE) {
        return broken("after", say!("nothing stands before the first line of a volume"));
    }
    let roster = Roster::read(text).or_else(|why| broken("roster", why))?;
    let signs = read_signs(data.get("roster").unwrap_or(data))?;
    Ok(Begun { seal, roster, signs })
}
