//! Beginning a volume: the first of a register, or the next one where its machine is lost, its key gone, or
//! its folder an older copy. And putting a later version of the roster in force.
//!
//! Always: a machine that can go on with a register begins no next volume of it. Volumes before are not
//! touched; they stay one history with the new one.

use super::{Desk, Trouble};
use crate::permit::decide::Refusal;
use crate::record::json::{Json, object, sorted};
use crate::record::line::{ActDraft, Draft, Line, NONE, What};
use crate::record::store::{self, Opened, Problem, Register};
use crate::record::volumes;
use crate::time::Moment;
use crate::tongue::{say, say_n};
use crate::trust::roster::RosterSign;
use crate::trust::{Role, Roster, Signer, sshsig, succession};
use jiff::tz::TimeZone;

impl Desk<'_> {
    /// Begins a volume: the first of a register, or the next one where this machine cannot go on.
    pub fn enrol(
        &mut self,
        e: &Enrolment<'_>,
        log: &str,
        by: &str,
        key: &dyn Signer,
    ) -> Result<Line, Trouble> {
        let utc = Moment::new(self.second, &TimeZone::UTC);
        let fresh = volumes::names(self.register).map_err(Problem::from)?.is_empty();
        let other_key =
            Refusal::because(say!("the seal's folder holds a key already, perhaps of another register"))
                .instead(say!("name an empty folder with --seal; each volume has its own"));
        if fresh && store::holds_a_key(self.seal)? {
            return Err(other_key.into());
        }
        let before = match store::open(self.register, self.seal, &utc, self.random)? {
            Opened::Empty(before) => before,
            Opened::Ready(r) => {
                let stands = say_n!(
                    r.lines.len(),
                    "a register stands here already, of station {station}, with {n} line; this machine can \
                     go on with it",
                    "a register stands here already, of station {station}, with {n} lines; this machine can \
                     go on with it",
                    station = r.chain.origin.station
                );
                return Err(Refusal::because(stands)
                    .instead(say!("for another register choose another folder with --register"))
                    .into());
            }
            Opened::Elsewhere(_) if store::holds_a_key(self.seal)? => return Err(other_key.into()),
            Opened::Elsewhere(before) => Some(before),
        };
        let named = before_member(before.as_deref(), e)?;
        let signs = roster_signs(before.as_deref(), e)?;
        let roster = e.roster;
        let enroller = roster.person(by).is_some_and(|p| p.roles.contains(&Role::Enroller));
        if !enroller {
            return Err(
                Refusal::because(say!("`{person}` is no enroller on this roster", person = by)).into()
            );
        }
        let seal = store::prepare_enrol(self.seal, self.random)?;
        let goes_on = match (&before, e.lost) {
            (Some(b), _) => say!(
                "It goes on after line {line} of log {log}, {hash}.",
                line = b.chain.seq,
                log = b.chain.origin.log,
                hash = b.chain.head
            ),
            (None, Some(words)) => say!("The volume before is lost: {words}", words = words.trim()),
            (None, None) => say!("Nothing stands before it.").to_owned(),
        };
        let said = crate::permit::said::said(
            "enrol",
            &[
                ("station", e.station.to_owned()),
                ("log", log.to_owned()),
                ("hash", roster.hash().to_owned()),
                ("goes_on", goes_on),
            ],
        )?;
        let signs = listed(&signs);
        let act = ActDraft {
            kind: "enrol",
            log: log.to_owned(),
            permit: None,
            shown: NONE.to_owned(),
            by: by.to_owned(),
            role: Role::Enroller,
            time: utc.time.clone(),
            data: sorted(
                named
                    .into_iter()
                    .chain(
                        [
                            ("roster", object([("signs", signs), ("text", roster.text().into())])),
                            ("said", said.into()),
                            ("seal", seal.to_hex().into()),
                            ("station", e.station.into()),
                            ("where", "station".into()),
                        ]
                        .map(|(name, value): (&str, Json)| (name.to_owned(), value)),
                    )
                    .collect(),
            ),
        };
        let signed: What = act.sign(key)?;
        let before = before.map(|b| *b);
        let register =
            store::enrol(self.register, self.seal, before, log, signed, roster.hash(), &utc, self.random)?;
        register
            .lines
            .into_iter()
            .next_back()
            .ok_or_else(|| Trouble::CouldNot(say!("line 0 is gone from memory").into()))
    }

    /// Puts a later version of the roster in force: it counts from the next line on.
    pub fn adopt(
        &mut self,
        roster: &Roster,
        signs: &[RosterSign],
        by: Option<&str>,
    ) -> Result<Line, Trouble> {
        let mut loaded = self.load()?;
        may_follow(&loaded.register.chain.origin.roster, roster, signs)?;
        if let Some(by) = by.filter(|b| !crate::text::is_id(b)) {
            return Err(
                Refusal::because(say!("{got} is no person id", got = crate::text::quoted(by, 40))).into()
            );
        }
        let data = object([("signs", listed(signs)), ("text", roster.text().into())]);
        let by = by.map(str::to_owned);
        let draft = Draft { kind: "roster", permit: None, by, what: What::Data(data) };
        self.keep(&mut loaded, &draft)
    }

    /// True if this machine can write the register that stands here.
    pub fn can_write(&mut self) -> Result<bool, Trouble> {
        let utc = Moment::new(self.second, &TimeZone::UTC);
        Ok(matches!(store::open(self.register, self.seal, &utc, self.random)?, Opened::Ready(_)))
    }
}

/// Custodians' signatures as a line carries them.
fn listed(signs: &[RosterSign]) -> Json {
    let one = |s: &RosterSign| {
        object([
            ("hash", s.hash.word().into()),
            ("key", s.key.to_ssh().into()),
            ("sign", sshsig::signature_to_base64(&s.sign).into()),
        ])
    };
    Json::Arr(signs.iter().map(one).collect())
}

/// Everything that forbids that a version follows the one in force, in words.
pub fn may_follow(old: &Roster, new: &Roster, signs: &[RosterSign]) -> Result<(), Refusal> {
    if new.hash() == old.hash() {
        return Err(Refusal::because(say!(
            "version {version} is in force here already",
            version = new.version
        )));
    }
    let mut why = succession::forbidden(old, new);
    why.extend(succession::signed(old, new, signs).err());
    if why.is_empty() {
        return Ok(());
    }
    Err(Refusal {
        why,
        instead: Some(say!("`airwrit roster compare OLD NEW` tells the same before anybody signs").into()),
    })
}

/// What beginning a volume needs beside who signs it.
pub struct Enrolment<'a> {
    /// Station code.
    pub station: &'a str,
    /// Roster that the volume carries.
    pub roster: &'a Roster,
    /// Signatures of custodians under it.
    pub signs: &'a [RosterSign],
    /// Said by the enroller: go on after the volumes that stand here.
    pub next_volume: bool,
    /// Said by the enroller: the volumes before are lost, and how.
    pub lost: Option<&'a str>,
}

/// The member `before` of line 0, or why the volume may not begin.
fn before_member(before: Option<&Register>, e: &Enrolment<'_>) -> Result<Option<(String, Json)>, Refusal> {
    let member = match (before, e.lost) {
        (None, None) if e.next_volume => {
            return Err(Refusal::because(say!("no volume stands here that a next one could go on from"))
                .instead(say!(
                    "copy the register's folder here first, or say with --lost what became of it"
                )));
        }
        (None, None) => return Ok(None),
        (None, Some(words)) => object([("lost", crate::permit::decide::answer::clean(words)?.into())]),
        (Some(_), Some(_)) => {
            return Err(Refusal::because(say!("volumes stand here, so they are not lost"))
                .instead(say!("begin the next one with --next-volume, or use an empty folder")));
        }
        (Some(b), None) if !e.next_volume => {
            let stands = say_n!(
                b.lines.len(),
                "a register of station {station} stands here already, with {n} line, the last of {time}",
                "a register of station {station} stands here already, with {n} lines, the last of {time}",
                station = b.chain.origin.station,
                time = b.chain.time
            );
            return Err(Refusal::because(stands).instead(say!(
                "where this machine holds its key, which `airwrit doctor` says, go on with it as it \
                      stands; where it does not and lines were written after that, bring the newest copy; \
                      where this is the newest, begin the next volume with --next-volume; for another \
                      register choose another folder with --register"
            )));
        }
        (Some(b), None) => object([
            ("head", b.chain.head.as_str().into()),
            ("log", b.chain.origin.log.as_str().into()),
            ("seq", Json::Int(b.chain.seq)),
        ]),
    };
    Ok(Some(("before".to_owned(), member)))
}

/// The custodians' signatures that line 0 carries: under the roster in force those of its own custodians,
/// under the version after it all that are needed.
fn roster_signs(before: Option<&Register>, e: &Enrolment<'_>) -> Result<Vec<RosterSign>, Refusal> {
    match before.map(|b| &b.chain.origin.roster) {
        Some(old) if old.hash() != e.roster.hash() => {
            crate::trust::succession::succeeds(old, e.roster, e.signs).map_err(|why| {
                Refusal::because(why).instead(say!("carry the roster in force, or the version after it"))
            })?;
            Ok(e.signs.to_vec())
        }
        Some(_) | None => {
            let later = before.is_some() || e.lost.is_some();
            let own = |s: &&RosterSign| !later || e.roster.custodians.contains(&s.key);
            let signs: Vec<RosterSign> = e.signs.iter().filter(own).cloned().collect();
            e.roster.signed_by(&signs).map_err(Refusal::because)?;
            Ok(signs)
        }
    }
}
