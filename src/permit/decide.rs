//! What may be done: each request becomes one line to write, or a refusal that says why and what to do
//! instead. Each report becomes a line always; what a rule forbade goes with it as `breach`.
//!
//! Pure functions of (chain, state, texts, request, now). Rules rest on the job and the tally, never on
//! ids of steps that a site may edit.

pub mod air;
pub mod answer;
pub mod carry;
pub mod crew;
pub mod open;
pub mod sign;
pub mod take_in;
pub mod witness;

use super::bench::{Bench, Memo, Texts};
use super::state::{AHEAD, OnAir, Permit, State};
use crate::record::chain::Chain;
use crate::record::json::Json;
use crate::record::line::{Draft, What};
use crate::time::Moment;
use crate::tongue::{say, say_n};
use crate::trust::roster::KeyStanding;
use crate::view::recorded;
use std::rc::Rc;

/// A request that a rule refused: a value, not an error.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Every reason, in words.
    pub why: Vec<String>,
    /// What to do instead.
    pub instead: Option<String>,
}

impl Refusal {
    /// One reason.
    pub fn because(why: impl Into<String>) -> Refusal {
        Refusal { why: vec![why.into()], instead: None }
    }

    /// With what to do instead.
    #[must_use]
    pub fn instead(mut self, words: impl Into<String>) -> Refusal {
        self.instead = Some(words.into());
        self
    }
}

/// Refused unless there is no reason.
pub fn unless(why: Vec<String>, instead: &str) -> Result<(), Refusal> {
    if why.is_empty() { Ok(()) } else { Err(Refusal { why, instead: Some(instead.into()) }) }
}

/// What is known when something is decided.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    /// Chain.
    pub chain: &'a Chain,
    /// State.
    pub state: &'a State,
    /// Now.
    pub now: &'a Moment,
    /// What was worked out before and still holds, where somebody keeps it.
    pub recall: Option<&'a dyn Recall>,
}

/// What was worked out for a permit at earlier lines and still holds. Whoever goes through many lines keeps it (`replay`); at
/// a station, where one thing is decided, nobody does.
pub trait Recall {
    /// The permit's texts.
    fn texts(&self, known: &Known<'_>, permit: &Permit) -> Result<Rc<Texts>, String>;
    /// What was worked out for a bench's permit and form by these very texts.
    fn memo(&self, bench: &Bench<'_>) -> Option<Rc<Memo>>;
}

/// Longest that the clock may be behind the last line for a request.
const BEHIND: i64 = 120;

impl<'a> Known<'a> {
    /// Nothing is kept of what was worked out before.
    pub fn new(chain: &'a Chain, state: &'a State, now: &'a Moment) -> Known<'a> {
        Known { chain, state, now, recall: None }
    }

    /// The same at another time.
    pub fn at<'b>(&self, now: &'b Moment) -> Known<'b>
    where
        'a: 'b,
    {
        Known::new(self.chain, self.state, now)
    }

    /// A permit at work.
    pub fn bench<'b>(&self, permit: &'b Permit, texts: &'b Texts) -> Bench<'b>
    where
        'a: 'b,
    {
        self.recalled(Bench::new(self.state, permit, texts, self.now))
    }

    /// A bench with what is known of it already.
    pub fn recalled<'b>(&self, bench: Bench<'b>) -> Bench<'b> {
        match self.recall.and_then(|r| r.memo(&bench)) {
            Some(memo) => bench.going_on(memo),
            None => bench,
        }
    }

    /// A permit by number.
    pub fn permit(&self, number: &str) -> Result<&'a Permit, Refusal> {
        self.state.permits.get(number).ok_or_else(|| {
            let why = if number.trim().is_empty() {
                say!("the number of the permit is empty").to_owned()
            } else {
                say!("there is no permit {number} in this register", number)
            };
            Refusal::because(why).instead(say!("`airwrit show` lists the permits"))
        })
    }

    /// The time that a line written now gets: never earlier than the line before.
    pub fn time(&self) -> &'a str {
        let (now, last) = (self.now.time.as_str(), self.chain.time.as_str());
        if now < last { last } else { now }
    }

    /// The state of a permit as a line written now finds it.
    pub fn life(&self, permit: &Permit) -> crate::view::StateWord {
        self.state.life(permit, self.time())
    }

    /// Whether a set of this id was ever put in force here.
    pub fn has_set(&self, id: &str) -> bool {
        self.chain.texts.contains_key(&("set".to_owned(), id.to_owned()))
    }

    /// Who is on air from a set, or may be: somebody reported on air from a set that is not known here
    /// counts for every set until they are off.
    pub fn perhaps_on_air_from<'b>(&'b self, set: &'b str) -> impl Iterator<Item = &'a OnAir> + 'b {
        self.state.on_air.iter().filter(move |p| p.set == set || !self.has_set(&p.set))
    }

    /// What the roster in force now says against those who declared, issued or reinstated a permit: a key that was
    /// in other hands, or put away before it signed.
    pub fn keys_lost(&self, permit: &Permit) -> Vec<String> {
        let roster = &self.chain.origin.roster;
        let against = |kind: &str| -> Option<String> {
            let signed = permit.last_signed(kind)?;
            let by = &signed.stamp.by;
            let person = roster.person(by)?;
            let key = person.keys.iter().find(|k| k.key.fingerprint() == signed.key)?;
            let line = signed.stamp.line;
            match roster.standing(person, &key.key, &signed.time) {
                KeyStanding::Good => None,
                KeyStanding::CompromisedLater(at) => Some(say!(
                    "{kind} of {permit} (line {line}) cannot be relied on: the key of {name} was in other \
                     hands, at {at} at the latest",
                    kind = recorded(kind),
                    permit = permit.number,
                    line,
                    name = person.name,
                    at
                )),
                KeyStanding::No(why) => Some(say!(
                    "{kind} of {permit} (line {line}) does not hold: {why}",
                    kind = recorded(kind),
                    permit = permit.number,
                    line,
                    why
                )),
            }
        };
        ["declare", "countersign", "reinstate"].into_iter().filter_map(against).collect()
    }

    /// The texts of a permit.
    pub fn texts(&self, permit: &Permit) -> Result<Rc<Texts>, Refusal> {
        self.texts_of(permit).map_err(Refusal::because)
    }

    /// The same; in words why they cannot be read.
    pub fn texts_of(&self, permit: &Permit) -> Result<Rc<Texts>, String> {
        match self.recall {
            Some(recall) => recall.texts(self, permit),
            None => Texts::of(self.chain, permit).map(Rc::new),
        }
    }

    /// Requests are refused while the clock is behind the last line.
    pub fn clock(&self) -> Result<(), Refusal> {
        let behind = crate::time::seconds(&self.chain.time) - self.now.seconds();
        if behind > BEHIND {
            return Err(Refusal::because(say!(
                "this laptop's clock is {min} min behind the last line of the \
                                              register",
                min = behind / 60
            ))
            .instead(say!(
                "set the clock right; calling out and reports work meanwhile. If it is right and the \
                      last lines were written by a wrong one, a supervisor says so: `airwrit clock`"
            )));
        }
        Ok(())
    }

    /// Whether the clock is behind the last line by more than is let pass.
    pub fn behind(&self) -> bool {
        self.clock().is_err()
    }

    /// A clock that jumped forward by more than a day may be wrong: a request waits until somebody says
    /// what day it is. `today` is what they said.
    pub fn jumped(&self, today: Option<&str>) -> Result<(), Refusal> {
        let date = self.now.date().to_string();
        if let Some(said) = today {
            return if said == date {
                Ok(())
            } else {
                Err(Refusal::because(say!(
                    "you say that today is {said}; this laptop's clock says {date}",
                    said,
                    date
                ))
                .instead(say!("set the clock right")))
            };
        }
        // Reports are kept without asking; they do not make the day sure.
        let last = self.state.day_unsure.as_deref().unwrap_or(&self.chain.time);
        let ahead = self.now.seconds() - crate::time::seconds(last);
        if ahead <= AHEAD {
            return Ok(());
        }
        let time = crate::time::for_people(last, &self.now.zone);
        let days = say_n!(ahead / AHEAD, "{n} day", "{n} days");
        Err(Refusal::because(if self.state.day_unsure.is_some() {
            say!(
                "the last line of the register before the reports that were just made is of {time}, {days} \
                 before now: is today {date}?",
                time,
                days,
                date
            )
        } else {
            say!(
                "the last line of the register is of {time}, {days} before now: is today {date}?",
                time,
                days,
                date
            )
        })
        .instead(say!(
            "if it is, say so: add --today {date} to the command; if not, set the clock right",
            date
        )))
    }

    /// A line of the station on a permit.
    pub fn line(&self, permit: &Permit, kind: &'static str, by: &str, data: Json) -> Draft {
        let head = self.chain.permit_head(&permit.number);
        Draft {
            kind,
            permit: Some((permit.number.clone(), head)),
            by: (!by.is_empty()).then(|| by.to_owned()),
            what: What::Data(data),
        }
    }

    /// A line of the station about a set, or nothing.
    pub fn line_apart(kind: &'static str, by: &str, data: Json) -> Draft {
        Draft { kind, permit: None, by: (!by.is_empty()).then(|| by.to_owned()), what: What::Data(data) }
    }
}

/// Refuses a request that the state of a permit does not allow.
pub fn in_states(
    known: &Known<'_>,
    permit: &Permit,
    what: &str,
    states: &[crate::view::StateWord],
) -> Result<(), Refusal> {
    use crate::view::StateWord as W;
    let life = known.life(permit);
    if states.contains(&life) {
        return Ok(());
    }
    let instead = match life {
        W::Draft => {
            &say!("answer what is left, then declare: `airwrit walk {permit}`", permit = permit.number)
        }
        W::Declared => {
            say!(
                "the supervisor countersigns or refuses it; an answer given again (`airwrit answer ... \
                 --again`) takes it back to a draft, to be declared again"
            )
        }
        W::Live => say!("suspend it first, or shut the set down"),
        W::Suspended => {
            say!(
                "when what suspended it is over, `airwrit reinstate`; or hand it back after the shutdown, \
                 and open a new permit"
            )
        }
        W::HandedBack => say!("the supervisor closes it"),
        W::Closed | W::Refused | W::Cancelled | W::Lapsed if answer::running(known, &permit.set.id) => {
            say!(
                "open a new permit; to shut the set down, which still runs, one for that alone: `airwrit \
                 open --shutdown`"
            )
        }
        W::Closed | W::Refused | W::Cancelled | W::Lapsed => say!("open a new permit"),
    };
    Err(Refusal::because(say!(
        "{what}: {permit} is {state}",
        what,
        permit = permit.number,
        state = life.word()
    ))
    .instead(instead))
}
