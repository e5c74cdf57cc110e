//! Replay: what the rules make of every line of a register, judged again from the texts that stand in it.
//!
//! In: lines that were verified (`audit`). Out: findings, each with its line and its class; holds and when they were
//! cleared; what could not be judged. Always: a line is judged on what stood before it and on its own time; a report is
//! never held against whoever wrote it, only told; what cannot be judged is counted and said. Shares readers, fold and
//! rules with the program, and no conclusion: what a line says of itself (`breach`, a value worked out, the words
//! signed) is worked out anew and compared.
//! Not here: signatures and the chain (`audit`), words for people at a permit (`show`).

mod against;
mod between;
mod compare;
mod denied;
mod entry;
mod hold;
mod judge;
mod late;
pub mod recalled;
mod strays;
#[cfg(test)]
mod tests;
mod texts;
pub mod walked;

pub use against::Against;
pub use hold::{Asked, Hold};
pub use strays::strays;

use crate::permit::decide::Known;
use crate::permit::state::State;
use crate::record::chain::{Chain, RULES};
use crate::record::line::Line;
use crate::time::Moment;
use crate::tongue::{Tongue, say};
use crate::view::{LineNo, StateWord};
use foldhash::HashMap;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// What kind of thing a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Class {
    /// The rules would not have let this line be written as it stands: no honest program of these rules writes it.
    Contradicts,
    /// A true report of something that the rules forbid; the line says so itself.
    Forbidden,
    /// Between two permits of one set something happened that nothing tells of; or something should follow and does not.
    /// A line that was never written accuses nobody: it is asked about.
    Gap,
    /// It could not be judged here, and why.
    NotJudged,
}

impl Class {
    /// In words, for people.
    pub fn words(self) -> &'static str {
        match self {
            Class::Contradicts => say!("contradicts the rules it was written under"),
            Class::Forbidden => say!("reports what the rules forbid"),
            Class::Gap => say!("something is not told of, or late"),
            Class::NotJudged => say!("not judged"),
        }
    }
}

/// Something that replay found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// The line.
    #[serde(flatten)]
    pub line: LineNo,
    /// Class.
    pub class: Class,
    /// One stable word: `refused` `differs` `breach` `denial` `zone` `date` `told` `forbidden` `untold` `not_stopped` `not_called_out`
    /// `by_wearer` `rules` `unknown`, and others.
    pub rule: &'static str,
    /// Its permit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub permit: Option<String>,
    /// Its set, where it is of none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set: Option<String>,
    /// Every reason, in words.
    pub why: Vec<String>,
}

/// What replay made of a register.
#[derive(Debug, Default)]
pub struct Replayed {
    /// Findings, in the order of the lines.
    pub findings: Vec<Finding>,
    /// Answers that held, and when they were cleared.
    pub holds: Vec<Hold>,
    /// Readings and tests of the air that were out of their limits, in the order of the lines.
    pub against: Vec<Against>,
    /// By form id and step: how often it was answered, held, read wrong.
    pub asked: BTreeMap<(String, String), Asked>,
    /// Lines judged, by kind.
    pub judged: BTreeMap<&'static str, u64>,
    /// Refusals that cannot be judged: what was typed is not in the record.
    pub refusals_not_judged: u64,
    /// Their lines.
    pub unjudged: Vec<LineNo>,
    /// Every change of a permit's state: its number, UTC, the state from then on.
    pub states: Vec<(String, (LineNo, String), StateWord)>,
    /// What the lines say in the end, folded here.
    pub state: State,
    /// The chain at the end.
    pub chain: Option<Chain>,
}

impl Replayed {
    /// Findings of a class.
    pub fn of(&self, class: Class) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(move |f| f.class == class)
    }

    /// The class of what was found that weighs most; `None` if nothing was found.
    pub fn worst(&self) -> Option<Class> {
        self.findings.iter().map(|f| f.class).min()
    }
}

/// Judges every line again. The lines were verified: of the chain nothing is checked here.
pub fn replay(lines: &[Line]) -> Replayed {
    run(lines, false)
}

/// The same, walking the whole form at every answer: slower, and to compare with.
pub fn replay_whole(lines: &[Line]) -> Replayed {
    run(lines, true)
}

/// A register of fewer lines is not worth a second thread.
const FEW: usize = 1000;

fn run(lines: &[Line], whole: bool) -> Replayed {
    let many = std::thread::available_parallelism().map_or(1, usize::from).min(8);
    in_shares(lines, whole, if lines.len() < FEW { 1 } else { many })
}

/// So many threads go through all lines, and each judges those of its own permits; what comes out is the same for any number.
pub fn in_shares(lines: &[Line], whole: bool, shares: usize) -> Replayed {
    let tongue = (Tongue::now(), Tongue::asked());
    let whose = unclaimed(lines);
    let share = |n: usize| {
        let work = || run_share(lines, whole, Share { own: n, whose: &whose });
        if tongue.1.is_some() { tongue.0.within_asked(work) } else { tongue.0.within(work) }
    };
    let mut parts = std::thread::scope(|scope| {
        let others: Vec<_> = (1..shares).map(|n| scope.spawn(move || share(n))).collect();
        let first = share(0);
        let others =
            others.into_iter().map(|t| t.join().unwrap_or_else(|why| std::panic::resume_unwind(why)));
        [first].into_iter().chain(others).collect::<Vec<_>>().into_iter()
    });
    let mut out = parts.next().unwrap_or_default();
    for part in parts {
        out.findings.extend(part.findings);
        out.holds.extend(part.holds);
        out.against.extend(part.against);
        out.refusals_not_judged += part.refusals_not_judged;
        out.unjudged.extend(part.unjudged);
        for (kind, n) in part.judged {
            *out.judged.entry(kind).or_default() += n;
        }
        for (step, asked) in part.asked {
            out.asked.entry(step).or_default().add(&asked);
        }
    }
    let place = |f: &'_ Finding| (f.line, f.class, f.rule);
    out.findings.sort_by(|a, b| place(a).cmp(&place(b)).then_with(|| a.why.cmp(&b.why)));
    out.holds.sort_by_key(|h| h.line);
    out.against.sort_by_key(|a| a.line);
    out.unjudged.sort_unstable();
    out
}

/// By permit, which of several judges has its lines, from 1; 0 while none of them has come to one.
type Whose<'a> = HashMap<&'a str, AtomicUsize>;

fn unclaimed(lines: &[Line]) -> Whose<'_> {
    let numbers = lines.iter().filter_map(|l| l.permit.as_ref());
    numbers.map(|n| (n.as_str(), AtomicUsize::new(0))).collect()
}

/// Which lines one of several judges: those of the permits that it comes to before the others do, so that none waits long for
/// another; the first one also those of none, and what no permit holds alone.
struct Share<'a> {
    own: usize,
    whose: &'a Whose<'a>,
}

impl Share<'_> {
    fn first(&self) -> bool {
        self.own == 0
    }

    fn has(&self, line: &Line) -> bool {
        let own = self.own + 1;
        match line.permit.as_ref().and_then(|n| self.whose.get(n.as_str())) {
            Some(whose) => match whose.load(Relaxed) {
                0 => whose.compare_exchange(0, own, Relaxed, Relaxed).is_ok(),
                other => other == own,
            },
            None => self.first(),
        }
    }
}

fn run_share(lines: &[Line], whole: bool, share: Share<'_>) -> Replayed {
    let mut out = Replayed::default();
    let Some(first) = lines.first() else { return out };
    let Ok(mut chain) = Chain::first(first) else { return out };
    let mut state = State::default();
    let mut judge = judge::Judge::new();
    judge.recalled.walked.borrow_mut().whole = whole;
    let mut lives = BTreeMap::new();
    for (i, line) in lines.iter().enumerate() {
        let own = share.has(line);
        let now = Moment { time: line.time.to_string(), zone: line.zone.to_string() };
        if i > 0 {
            let at = place(&chain, &state, line);
            let known = Known::new(&chain, &state, &now);
            let before = lines.get(..i).unwrap_or_default();
            let rest = lines.get(i + 1..).unwrap_or_default();
            if own {
                let unjudged = judge.refusals_not_judged;
                let found = judge.line(&known, (before, rest), line);
                note(&mut out, at, line, &state, found);
                if judge.refusals_not_judged == unjudged {
                    *out.judged.entry(line.kind.name).or_default() += 1;
                } else {
                    out.unjudged.push(at);
                }
            }
            judge.came(&known, line);
            chain.again(line);
        }
        if state.take(line).is_err() {
            break;
        }
        let known = Known::new(&chain, &state, &now);
        let at = state.at(line);
        judge.took(&known, line);
        if share.first() {
            changes(&mut out, &state, &mut lives, line);
            let found = judge.between(&known, line);
            note(&mut out, at, line, &state, found);
        }
        if own {
            let found = judge.after(&known, line, lines.get(i + 1..).unwrap_or_default(), &mut out);
            note(&mut out, at, line, &state, found);
        }
    }
    out.refusals_not_judged = judge.refusals_not_judged;
    if share.first() {
        (out.state, out.chain) = (state, Some(chain));
    }
    out
}

/// Notes which permits a line brought into another state; what has ended stays so.
fn changes(out: &mut Replayed, state: &State, lives: &mut BTreeMap<String, StateWord>, line: &Line) {
    if let (Some(number), "open") = (&line.permit, line.kind.name) {
        lives.entry(number.to_string()).or_insert(StateWord::Draft);
    }
    let mut over = Vec::new();
    for (number, life) in lives.iter_mut() {
        let Some(p) = state.permits.get(number).filter(|p| p.life != *life) else { continue };
        *life = p.life;
        out.states.push((number.clone(), (state.at(line), line.time.to_string()), p.life));
        if p.life.ended() {
            over.push(number.clone());
        }
    }
    // So that a register of years costs no more for each line than one of a day.
    lives.retain(|number, _| !over.contains(number));
}

/// Where a line that is to come stands.
fn place(chain: &Chain, state: &State, line: &Line) -> LineNo {
    let at = state.at(line);
    let begins = line.kind.name == "enrol";
    LineNo { volume: if begins { chain.origin.volume + 1 } else { at.volume }, line: line.seq }
}

/// A reason. A line is judged in the language that it was written in; what is said of that, in the reader's.
enum Why {
    /// Words of the rules or of the record, as they are.
    As(String),
    /// Said once the reader's language is bound again.
    Said(Box<dyn Fn() -> String>),
}

impl Why {
    fn said(words: impl Fn() -> String + 'static) -> Why {
        Why::Said(Box::new(words))
    }

    fn words(self) -> String {
        match self {
            Why::As(words) => words,
            Why::Said(say) => say(),
        }
    }

    fn all(words: Vec<String>) -> Vec<Why> {
        words.into_iter().map(Why::As).collect()
    }
}

/// One judgement of a line, before it is known where it stands.
pub(crate) struct Found {
    class: Class,
    rule: &'static str,
    why: Vec<Why>,
}

impl Found {
    fn new(class: Class, rule: &'static str, why: Vec<Why>) -> Found {
        Found { class, rule, why }
    }
}

fn note(out: &mut Replayed, at: LineNo, line: &Line, state: &State, found: Vec<Found>) {
    for f in found {
        let own = line.permit.as_ref().and_then(|n| state.permits.get(n)).is_some_and(|p| p.rules != RULES);
        // What a line says of a set rests on the permits on its air.
        let set = line.data.text("set").filter(|_| line.permit.is_none());
        let unknown =
            own || set.is_some_and(|s| state.permits.open().any(|p| p.set.id == s && p.rules != RULES));
        // Where a volume is missing, what would explain it may have stood there.
        let unsure = state.missing && f.class == Class::Contradicts;
        let (class, rule) = match f.class {
            Class::Contradicts if unknown => (Class::NotJudged, "rules"),
            Class::Contradicts if unsure => (Class::NotJudged, "unknown"),
            Class::Contradicts | Class::Forbidden | Class::Gap | Class::NotJudged => (f.class, f.rule),
        };
        out.findings.push(Finding {
            line: at,
            class,
            rule,
            permit: line.permit.as_ref().map(ToString::to_string),
            set: line.data.text("set").filter(|_| line.permit.is_none()).map(str::to_owned),
            why: f.why.into_iter().map(Why::words).collect(),
        });
    }
}
