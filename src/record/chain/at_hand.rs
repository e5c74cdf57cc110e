//! A chain as it is kept for the next line: without permits that are over, and with the texts that those at work cite.
//!
//! Always: with the lines that follow it says what the whole chain says, or refuses a line that rests on what is not here
//! (`FORGOTTEN`, `number`, `citation`); whoever is refused reads everything. Not here: the file (`actions::at_hand`).

use super::{Chain, Link, Number, Origin, PermitChain, Stood, TextInForce};
use crate::record::line::{digest_of, hash, in_hex};
use crate::trust::{PublicKey, Roster};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashSet};

/// What is kept of a chain.
#[derive(Serialize, Deserialize)]
pub struct AtHand {
    station: String,
    log: String,
    volume: u32,
    roster: String,
    vouched: Vec<String>,
    seq: u64,
    head: String,
    time: String,
    next: String,
    last_key: String,
    texts: Vec<Text>,
    /// Texts that are cited and not in force any more.
    cited: Vec<String>,
    permits: Vec<OfPermit>,
    forms: Vec<String>,
    clock: Option<String>,
    logs: Vec<String>,
}

#[derive(Serialize, Deserialize)]
struct Text {
    kind: String,
    subject: String,
    text: String,
    line: String,
    seq: u64,
    log: String,
}

#[derive(Serialize, Deserialize)]
struct OfPermit {
    number: String,
    last: Kept,
    before: Vec<Kept>,
    declared: Option<(String, String)>,
    handed_back: Option<String>,
}

/// H, UTC second, seq.
type Kept = (String, i64, u64);

fn kept(link: &Link) -> Kept {
    (in_hex(&link.hash), link.time, link.seq)
}

fn digest(hash: &str) -> Result<[u8; 32], String> {
    digest_of(hash).ok_or_else(|| format!("no hash: {}", crate::text::safe_line(hash)))
}

fn link((hash, time, seq): &Kept) -> Result<Link, String> {
    Ok(Link { hash: digest(hash)?, time: *time, seq: *seq })
}

impl Chain {
    /// Reduced to permits and texts of which something is true; `None` where lines may be missing, or something is in doubt.
    pub fn at_hand(&self, permits: &dyn Fn(&str) -> bool, cited: &dyn Fn(&str) -> bool) -> Option<AtHand> {
        let plain = self.doubts.is_empty() && self.ended.is_empty() && self.excerpt_of.is_none();
        if !plain || self.missing || !self.stood.is_all() {
            return None;
        }
        let in_force: HashSet<&str> = self.texts.values().map(|t| t.text_hash.as_str()).collect();
        let of_permit = |(number, p): (&Number, &PermitChain)| OfPermit {
            number: number.as_str().to_owned(),
            last: kept(&p.last),
            before: p.before.iter().map(kept).collect(),
            declared: p.declared.as_ref().map(|(hash, by)| (in_hex(hash), by.to_string())),
            handed_back: p.handed_back.as_ref().map(in_hex),
        };
        let text = |((kind, subject), t): (&(String, String), &TextInForce)| Text {
            kind: kind.clone(),
            subject: subject.clone(),
            text: t.text.clone(),
            line: t.line.clone(),
            seq: t.seq,
            log: t.log.clone(),
        };
        let mut forms: Vec<String> = self.forms.iter().cloned().collect();
        forms.sort_unstable();
        let others = self.by_hash.iter().filter(|(h, _)| cited(h) && !in_force.contains(h.as_str()));
        Some(AtHand {
            station: self.origin.station.clone(),
            log: self.origin.log.clone(),
            volume: self.origin.volume,
            roster: self.origin.roster.text().to_owned(),
            vouched: self.origin.vouched.iter().map(PublicKey::to_hex).collect(),
            seq: self.seq,
            head: self.head.clone(),
            time: self.time.clone(),
            next: self.next.to_hex(),
            last_key: self.last_key.to_hex(),
            texts: self.texts.iter().map(text).collect(),
            cited: others.map(|(_, text)| text.clone()).collect(),
            permits: self
                .permits
                .iter()
                .filter(|(n, _)| permits(n.as_str()))
                .map(|(n, p)| of_permit((n, p)))
                .collect(),
            forms,
            clock: self.clock.clone(),
            logs: self.logs.clone(),
        })
    }

    /// From what was kept. `lines`: H of earlier lines that may be cited.
    pub fn of_hand<'a>(kept: AtHand, lines: impl Iterator<Item = &'a str>) -> Result<Chain, String> {
        let key = |hex: &String| PublicKey::from_hex(hex);
        let mut stood: HashSet<[u8; 32]> = lines.filter_map(digest_of).collect();
        stood.insert(digest(&kept.head)?);
        let mut texts = BTreeMap::new();
        let mut by_hash = BTreeMap::new();
        for t in kept.texts {
            let text_hash = hash(t.text.as_bytes());
            stood.insert(digest(&t.line)?);
            by_hash.insert(text_hash.clone(), t.text.clone());
            let text = TextInForce { text_hash, text: t.text, line: t.line, seq: t.seq, log: t.log };
            texts.insert((t.kind, t.subject), text);
        }
        by_hash.extend(kept.cited.into_iter().map(|text| (hash(text.as_bytes()), text)));
        let mut permits = BTreeMap::new();
        for p in &kept.permits {
            let number = Number::of(&p.number).ok_or("no permit's number")?;
            let declared =
                p.declared.as_ref().map(|(h, by)| Ok::<_, String>((digest(h)?, by.as_str().into())));
            let of_it = PermitChain {
                last: link(&p.last)?,
                before: p.before.iter().map(link).collect::<Result<_, _>>()?,
                declared: declared.transpose()?,
                handed_back: p.handed_back.as_deref().map(digest).transpose()?,
            };
            stood.extend(of_it.tail().map(|l| l.hash));
            permits.insert(number, Box::new(of_it));
        }
        Ok(Chain {
            origin: Origin {
                station: kept.station,
                log: kept.log,
                volume: kept.volume,
                roster: Roster::read(&kept.roster)?,
                vouched: kept.vouched.iter().map(key).collect::<Result<_, _>>()?,
            },
            seq: kept.seq,
            head: kept.head,
            time: kept.time,
            next: key(&kept.next)?,
            last_key: key(&kept.last_key)?,
            texts,
            by_hash,
            doubts: Vec::new(),
            permits,
            ended: Vec::new(),
            forms: kept.forms.into_iter().collect(),
            stood: Stood::All(stood),
            excerpt_of: None,
            clock: kept.clock,
            logs: kept.logs,
            missing: false,
            in_part: true,
        })
    }
}
