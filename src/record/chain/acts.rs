//! What a person said and signed: their key and role at that time, what they were shown, the token.

use super::super::line::{Act, Broken, FORGOTTEN, Line, NONE, broken, digest_of};
use super::{Chain, Link, Seen, subject};
use crate::time::seconds;
use crate::tongue::say;
use crate::trust::roster::KeyStanding;
use crate::trust::{Roster, token};

impl Chain {
    /// Checks everything of a next line but its place and seal: what it says, and who says it.
    pub fn check_said(&self, line: &Line) -> Result<(), Broken> {
        self.check_act(line)?;
        if let (Some(_), Some(permit)) = (&line.act, &line.permit)
            && self.of(permit).is_none()
            && self.knows(permit)
        {
            return broken(FORGOTTEN, say!("an act on a permit that has ended"));
        }
        // Of another permit's lines in an excerpt nothing is here that they could be held against.
        if !self.is_beside(line) {
            self.check_number(line)?;
            self.check_pprev(line)?;
            self.check_target(line)?;
            self.check_shown(line)?;
            self.check_citations(line)?;
        }
        match line.kind.name {
            "roster" => self.following_roster(line).map(|_| ()),
            "recovery" => self.check_entered(line),
            _ => Ok(()),
        }
    }

    /// The line of a permit that a signer was shown: its last one, or the one with this H, if only harmless
    /// lines came after it.
    pub fn shown(&self, permit: &str, hash: Option<&str>) -> Option<Seen> {
        let p = self.of(permit)?;
        match hash {
            None => Some(p.last.seen()),
            Some(h) => {
                let digest = digest_of(h)?;
                p.tail().find(|s| s.hash == digest).map(Link::seen)
            }
        }
    }

    /// Who signed an act, with which key, when, and whether the signature is theirs.
    pub fn check_act(&self, line: &Line) -> Result<(), Broken> {
        self.check_act_by(line, &self.origin.roster)
    }

    pub(super) fn check_act_by(&self, line: &Line, roster: &Roster) -> Result<(), Broken> {
        let Some(act) = &line.act else {
            return Ok(());
        };
        let Some(person) = roster.person(&act.by) else {
            return broken(
                "person",
                say!("`{person}` is not on the roster", person = crate::text::safe_line(&act.by)),
            );
        };
        let Some(key) = person.keys.iter().find(|k| k.key.fingerprint() == act.key) else {
            return broken(
                "key",
                say!(
                    "{key} is no key of `{person}`",
                    key = crate::text::safe_line(&act.key),
                    person = act.by
                ),
            );
        };
        if !person.roles.contains(&act.role) {
            return broken(
                "person",
                say!(
                    "`{person}` may not sign as {role}",
                    person = act.by,
                    role = crate::view::recorded(act.role.word())
                ),
            );
        }
        for time in [act.time.as_str(), line.time.as_str()] {
            match roster.standing(person, &key.key, time) {
                // What a later version of the roster says of the key is judged at the end (`audit`).
                KeyStanding::Good | KeyStanding::CompromisedLater(_) => {}
                KeyStanding::No(why) => return broken("window", why),
            }
        }
        check_times(line, act)?;
        if !line.signed_with(&key.key) {
            return broken(
                "signature",
                say!("the signature of `{person}` under the act is wrong", person = act.by),
            );
        }
        Ok(())
    }

    /// What the signer was shown: the last line but for harmless ones, not signed long before it, and
    /// in the token of a countersignature. Outside a permit: the last line of that kind and subject.
    pub(super) fn check_shown(&self, line: &Line) -> Result<(), Broken> {
        let Some(act) = &line.act else {
            return Ok(());
        };
        let Some(permit) = &line.permit else {
            if self.excerpt_of.is_some() {
                return Ok(());
            }
            let before = match line.kind.name {
                "clock" => self.last_clock(),
                _ => subject(line).map_or(NONE, |s| self.last_of(&s)),
            };
            if act.shown != before {
                return broken(
                    "after",
                    say!(
                        "the act was signed after {shown}, the last such line is {before}",
                        shown = act.shown,
                        before
                    ),
                );
            }
            return Ok(());
        };
        let Some(shown) = self.shown(permit, Some(&act.shown)) else {
            return broken(
                "pprev",
                say!("the permit moved on after what `{person}` was shown", person = act.by),
            );
        };
        if seconds(&act.time) < shown.time - 300 {
            return broken(
                "time",
                say!("signed at {time}, more than 5 min before the line that was shown", time = act.time),
            );
        }
        if line.kind.name == "countersign" || line.data.text("part") == Some("given") {
            self.check_token(line, act, &shown)?;
        }
        Ok(())
    }

    pub(super) fn check_token(&self, line: &Line, act: &Act, shown: &Seen) -> Result<(), Broken> {
        let person = self.origin.roster.person(&act.by);
        let Some(key) = person.and_then(|p| p.keys.iter().find(|k| k.key.fingerprint() == act.key)) else {
            return broken(
                "key",
                say!(
                    "{key} is no key of `{person}`",
                    key = crate::text::safe_line(&act.key),
                    person = act.by
                ),
            );
        };
        let wanted = token::Claim {
            permit: line.permit.clone().unwrap_or_default().to_string(),
            valid_to: line.data.text("valid_to").unwrap_or_default().to_owned(),
            seq: shown.seq,
            hash: shown.hash.clone(),
        };
        let text = line.data.text("token").unwrap_or_default();
        token::check(text, &wanted, &key.key).or_else(|why| broken("token", why))
    }
}

/// Limits on times that hold for every act: 5 min after its line at most, 12 h (on a permit) or 7 days
/// before it at most.
fn check_times(line: &Line, act: &Act) -> Result<(), Broken> {
    let (signed, kept) = (seconds(&act.time), seconds(&line.time));
    if signed > kept + 300 {
        return broken(
            "time",
            say!(
                "signed at {time}, more than 5 min after the line, {line}",
                time = act.time,
                line = line.time
            ),
        );
    }
    let longest = if line.permit.is_some() { 12 } else { 7 * 24 };
    if kept - signed > longest * 3600 {
        return broken(
            "time",
            say!(
                "signed at {time}, more than {longest} h before the line, {line}",
                time = act.time,
                longest,
                line = line.time
            ),
        );
    }
    Ok(())
}
