//! The one hand that reads and writes the register for the page: a thread of its own, one piece of work after the other.
//!
//! Always: what is written goes through the same commands as at the terminal, and what they would say there comes back in
//! words. What was read stays in memory until a file of the register changes. Calling out is next, whatever else waits; then
//! what happened. Not here: what a screen shows.

use super::clock::Clock;
use super::judged::{From, Judged};
use super::memory::Memory;
use super::signal::{Signal, Signals};
use super::spoken::Spoken;
use crate::actions::{Desk, Looked, Trouble};
use crate::cli::args::{Args, Command};
use crate::cli::{Aside, End, Face, Outcome, Outside, Place, REASONS, Tells};
use crate::disk::{Stamps, SystemRandom};
use crate::text::safe_line;
use crate::time::Moment;
use crate::tongue::{Tongue, say};
use minijinja::Value;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError, RwLock};
use tokio::sync::oneshot;
use zeroize::Zeroizing;

/// A piece of work, and the language that somebody asked for it in.
type Work = (Option<Tongue>, Box<dyn FnOnce(&mut Hand) + Send>);

/// Before what a piece of work comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Turn {
    /// Calling everyone out: before all that waits.
    First,
    /// Telling what happened: before all that is only looked at.
    Report,
    /// In the order in which it came.
    Other,
}

/// What waits for the hand: by turn, then as it came.
#[derive(Default)]
struct Waiting {
    all: Mutex<BTreeMap<(Turn, u64), Work>>,
    came: Condvar,
    number: AtomicU64,
    /// Nobody asks any more.
    over: AtomicBool,
}

impl Waiting {
    fn put(&self, turn: Turn, work: Work) {
        // A fault with the lock held leaves the map whole: what waits in it is still to be done.
        let mut all = self.all.lock().unwrap_or_else(PoisonError::into_inner);
        all.insert((turn, self.number.fetch_add(1, Ordering::Relaxed)), work);
        self.came.notify_one();
    }

    fn next(&self) -> Option<Work> {
        let mut all = self.all.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            if let Some((_, work)) = all.pop_first() {
                return Some(work);
            }
            if self.over.load(Ordering::Relaxed) {
                return None;
            }
            all = self.came.wait(all).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

/// The last one who could ask ends the thread when it is dropped.
struct Asks(Arc<Waiting>);

impl Drop for Asks {
    fn drop(&mut self) {
        let _all = self.0.all.lock().unwrap_or_else(PoisonError::into_inner);
        self.0.over.store(true, Ordering::Relaxed);
        self.0.came.notify_one();
    }
}

/// What asks the hand.
#[derive(Clone)]
pub struct Hands {
    work: Arc<Asks>,
    /// What is shown without waiting for anything, as it was when the register was last read.
    signals: Arc<RwLock<Signals>>,
    /// The clock.
    pub clock: Arc<Clock>,
    /// The site's language, as it was when the register was last looked at.
    tongue: Arc<RwLock<Tongue>>,
    /// The language that the page was begun in, if one was asked for.
    run: Option<Tongue>,
}

/// The hand.
pub struct Hand {
    /// Where the register stands.
    pub place: Place,
    /// The user's folder for state.
    pub state_folder: Option<PathBuf>,
    clock: Arc<Clock>,
    signals: Arc<RwLock<Signals>>,
    /// The site's language: what the engine says here is said in it, unless somebody asks for another.
    tongue: Arc<RwLock<Tongue>>,
    looked: Option<(Stamps, Memory)>,
    /// What was shown by the last reading that was whole, and when that was.
    whole: Option<(Signals, Moment)>,
    /// How often it was read.
    readings: u64,
    judged: Judged,
}

/// What came of a command: what it would have said at a terminal.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Told {
    /// It was done.
    pub done: bool,
    /// A rule said no.
    pub refused: bool,
    /// The answer, line by line.
    pub out: Vec<String>,
    /// What was said beside it.
    pub err: Vec<String>,
    /// Why not.
    pub why: Vec<String>,
    /// What to do instead.
    pub instead: String,
    /// Somebody is missing, or something is outside its limits: told in large, whatever else came of it.
    pub danger: bool,
    /// The register did not take it, and all of it was written beside it: it counts, and need not be told again.
    pub aside: bool,
    /// It was kept, and nobody can tell from it that it is good: never told in green.
    pub doubt: bool,
    /// It was kept, and the rules forbid it: never told in green either.
    pub against: bool,
    /// Lines of it of which was said what they tell.
    #[serde(skip)]
    pub lines: Box<[(Tells, String)]>,
}

impl Told {
    /// The lines that tell this.
    pub fn that_tell(&self, tells: Tells) -> Vec<String> {
        self.lines.iter().filter(|(t, _)| *t == tells).map(|(_, l)| l.clone()).collect()
    }

    /// Whether any does.
    pub fn tells(&self, tells: Tells) -> bool {
        self.lines.iter().any(|(t, _)| *t == tells)
    }

    /// Something that could not be done.
    pub fn not(why: impl Into<String>) -> Told {
        Told { why: vec![why.into()], ..Told::default() }
    }

    /// How a command ended.
    pub fn of(outcome: Outcome, out: &[u8], err: &[u8]) -> Told {
        let lines = |bytes: &[u8]| -> Vec<String> {
            String::from_utf8_lossy(bytes)
                .lines()
                .filter(|l| !l.trim().is_empty())
                .map(str::to_owned)
                .collect()
        };
        let mut told = Told { done: outcome.is_ok(), out: lines(out), err: lines(err), ..Told::default() };
        let line = |l: &String| safe_line(l).into_owned();
        match outcome {
            Ok(()) | Err(End::No | End::Code(_)) => {}
            Err(End::Usage(why) | End::Trouble(Trouble::CouldNot(why))) => told.why = vec![line(&why)],
            Err(End::Trouble(Trouble::Refused(r) | Trouble::WhatDay(r))) => {
                told.refused = true;
                told.why = r.why.iter().take(REASONS).map(line).collect();
                if let Some(more @ 1..) = r.why.len().checked_sub(REASONS) {
                    told.why.push(say!("and {more} more", more));
                }
                told.instead = r.instead.as_ref().map(line).unwrap_or_default();
            }
            Err(End::Trouble(Trouble::Broken { at, broken })) => {
                told.why = vec![say!(
                    "the register is broken at line {at}, rule `{rule}`: {why}",
                    at,
                    rule = broken.rule,
                    why = broken.why
                )];
                told.instead =
                    say!("nothing is written to it any more; people are called out by the agreed signal")
                        .into();
            }
        }
        told
    }

    /// A refusal or trouble by itself.
    pub fn end(end: End) -> Told {
        Told::of(Err(end), b"", b"")
    }
}

fn tongue_of(kept: &RwLock<Tongue>) -> Tongue {
    kept.read().map_or(Tongue::English, |t| *t)
}

impl Hands {
    /// Starts the thread.
    pub fn start(place: Place, state_folder: Option<PathBuf>, clock: Arc<Clock>) -> Hands {
        let signals = Arc::new(RwLock::new(Signals::default()));
        let todo = Arc::new(Waiting::default());
        let work = Arc::new(Asks(todo.clone()));
        let tongue = Arc::new(RwLock::new(Tongue::English));
        let (clock_there, signals_there, tongue_there) = (clock.clone(), signals.clone(), tongue.clone());
        std::thread::spawn(move || {
            let mut hand = Hand {
                place,
                state_folder,
                clock: clock_there,
                signals: signals_there,
                tongue: tongue_there,
                looked: None,
                whole: None,
                readings: 0,
                judged: Judged::default(),
            };
            while let Some((asked, work)) = todo.next() {
                // A fault in one screen must not take the next ones with it.
                let _ = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                    let spoken = Spoken { asked, site: tongue_of(&hand.tongue) };
                    spoken.within(|| work(&mut hand));
                }));
            }
        });
        Hands { work, signals, clock, tongue, run: Tongue::asked() }
    }

    /// The signal, in the language bound here.
    pub fn signal(&self) -> Signal {
        self.signals.read().map(|all| all.spoken()).unwrap_or_default()
    }

    /// The language of an answer: the one chosen on the page, else the one that the page was begun in, else the site's.
    pub fn spoken(&self, chosen: Option<Tongue>) -> Spoken {
        Spoken { asked: chosen.or(self.run), site: tongue_of(&self.tongue) }
    }

    /// Does something; `None` if it failed by a fault of the program.
    pub async fn ask<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Hand) -> T + Send + 'static,
    ) -> Option<T> {
        self.ask_in(Turn::Other, work).await
    }

    /// The same, in its turn.
    pub async fn ask_in<T: Send + 'static>(
        &self,
        turn: Turn,
        work: impl FnOnce(&mut Hand) -> T + Send + 'static,
    ) -> Option<T> {
        let (tell, told) = oneshot::channel();
        let job: Box<dyn FnOnce(&mut Hand) + Send> = Box::new(move |hand| {
            let _ = tell.send(work(hand));
        });
        self.work.0.put(turn, (Tongue::asked(), job));
        told.await.ok()
    }
}

impl Hand {
    /// Now, UTC.
    pub fn second(&self) -> i64 {
        self.clock.second()
    }

    /// Calls something with the world of a command line whose words are kept.
    pub fn outside<T>(&self, input: &str, work: impl FnOnce(&mut Outside<'_>) -> T) -> (T, Vec<u8>, Vec<u8>) {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let clock = self.clock.clone();
        let second = move || clock.second();
        let mut random = SystemRandom;
        let mut outside = Outside {
            input: &mut input.as_bytes(),
            out: &mut out,
            err: &mut err,
            terminal: false,
            second: &second,
            random: &mut random,
            state_folder: self.state_folder.clone(),
            page: super::serve,
            aside: Aside::default(),
            face: Face { keys: true, ..Face::default() },
        };
        let done = work(&mut outside);
        (done, out, err)
    }

    /// What somebody says of today, where the clock jumped: kept while it is so.
    pub fn today(&mut self, today: String) {
        self.place.today = Some(today);
    }

    /// What stands against the day that this laptop's clock says, in words: nobody has said yet what day it is.
    pub fn unsure_of_the_day(&mut self) -> Vec<String> {
        let said = self.place.today.clone();
        let unsure = |l: &Looked| l.known().jumped(said.as_deref()).err().map(|r| r.why);
        self.look().ok().and_then(unsure).unwrap_or_default()
    }

    /// Runs a command as if it had been typed; passphrases stand in the input.
    pub fn command(&mut self, command: Command, input: &Zeroizing<String>) -> Told {
        let place = &self.place;
        let args = Args {
            register: place.register.clone(),
            seal: place.seal.clone(),
            today: place.today.clone(),
            language: None,
            command,
        };
        let ((done, aside, lines), out, err) = self.outside(input, |outside| {
            let done = crate::cli::command(&args, place, outside);
            (done, outside.aside, std::mem::take(&mut outside.face.told).into())
        });
        self.believe_no_more_if_broken(done.as_ref().err());
        Told { aside: done.is_err() && aside.is_whole(), lines, ..Told::of(done, &out, &err) }
    }

    /// Does something at the station, under the register's lock.
    pub fn at_desk<T>(&mut self, work: impl FnOnce(&mut Desk<'_>) -> Result<T, Trouble>) -> Result<T, End> {
        let done = self.outside("", |outside| self.place.at_desk(outside, None, work)).0;
        self.believe_no_more_if_broken(done.as_ref().err());
        done
    }

    /// Whoever writes reads everything: what they found broken may stand before what is read here again.
    fn believe_no_more_if_broken(&mut self, end: Option<&End>) {
        if matches!(end, Some(End::Trouble(Trouble::Broken { .. }))) {
            self.looked = None;
        }
    }

    fn stamps(&self) -> Stamps {
        let mut all = crate::disk::stamps(&self.place.register);
        all.retain(|(name, _, _)| name != "lock");
        let seal = self.outside("", |o| self.place.seal_folder(o, None)).0;
        all.extend(seal.map(|s| crate::disk::stamps(&s)).unwrap_or_default());
        all
    }

    /// The register as it is: read again only if a file of it changed.
    pub fn look(&mut self) -> Result<&Looked, End> {
        let stamps = self.stamps();
        let second = self.second();
        let fresh = self.looked.as_ref().is_some_and(|(s, _)| *s == stamps);
        if !fresh {
            let seal = self.outside("", |o| self.place.seal_folder(o, None)).0.ok();
            let before = self.looked.take();
            let on = before.and_then(|(_, m)| m.go_on(&self.place.register, seal.as_deref()));
            let looked = match on {
                Some(memory) => Ok(memory),
                None => {
                    self.outside("", |o| self.place.look(o)).0.map(|l| Memory::of(l, &self.place.register))
                }
            };
            let mut signals = match &looked {
                Ok(m) => Signals::of(|| self.outside("", |o| Signal::of(&self.place, m.looked(), o)).0),
                Err(_) => Signals::of(|| self.outside("", |o| Signal::unreadable(&self.place, o)).0),
            };
            match (&looked, &self.whole) {
                (Ok(m), _) if !m.looked().is_damaged() => {
                    let zone = crate::actions::zone(&m.looked().chain);
                    self.whole = Some((signals.clone(), Moment::new(second, &zone)));
                }
                (Ok(_) | Err(_), Some((last, when))) => signals = signals.with_last(last, when),
                (Ok(_) | Err(_), None) => {}
            }
            if let Ok(mut shared) = self.signals.write() {
                *shared = signals;
            }
            self.readings += 1;
            self.looked = Some((stamps, looked?));
        }
        let today = &mut self.place.today;
        match &mut self.looked {
            Some((_, memory)) => {
                let looked = memory.looked_mut();
                let site = super::job::in_force(&looked.known(), "site", "");
                let site = site.and_then(|(_, text)| crate::permit::bench::file("site", &text).ok());
                let tongue = site.and_then(|s| Tongue::of(s.text("language")?)).unwrap_or(Tongue::English);
                if let Ok(mut kept) = self.tongue.write() {
                    *kept = tongue;
                }
                looked.now = crate::time::Moment::new(second, &crate::actions::zone(&looked.chain));
                // Said of another day: asked again if it must be known.
                if today.as_ref().is_some_and(|said| *said != looked.now.date().to_string()) {
                    *today = None;
                }
                Ok(looked)
            }
            None => Err(crate::cli::could_not(say!("what was read is gone from memory"))),
        }
    }

    /// What a screen is judged from, by a name that says which: judged again unless it was in this very second, of this
    /// very register. Nothing else than these may go into it.
    pub fn judged(
        &mut self,
        name: &str,
        judge: impl FnOnce(&Looked) -> Result<Value, End>,
    ) -> Result<Value, End> {
        let second = self.look()?.now.seconds();
        let from = From { reading: self.readings, second, spoken: Spoken::now() };
        if let Some(value) = self.judged.of(from, name) {
            return Ok(value);
        }
        let value = judge(self.looked()?)?;
        self.judged.keep(from, name.to_owned(), value.clone());
        Ok(value)
    }

    /// What was looked at last, without looking again.
    pub fn looked(&self) -> Result<&Looked, End> {
        self.looked
            .as_ref()
            .map(|(_, m)| m.looked())
            .ok_or_else(|| crate::cli::could_not(say!("the register cannot be read")))
    }

    /// Changes with every change of what stands on disk.
    pub fn version(&mut self) -> String {
        let text = format!("{:?}", self.stamps());
        data_encoding::HEXLOWER.encode(&sha2::Sha256::digest(text.as_bytes())[..8])
    }
}

use sha2::Digest;
