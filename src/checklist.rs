//! Checklists: what is asked, in what order, and which gate each answer must pass.
//!
//! In: the bytes of a YAML file. Out: a [`Checklist`], or every finding about it at once. Always: a
//! `Checklist` exists only if it is good; every gate in it is typed, names only what stands before it,
//! and cannot fail for want of a name while a crew stands waiting. Nothing is accepted that is not enforced.
//! Not here: the gate language (`gate`), answers and holds (`permit`), set, site and job files (`site`).
//!
//! `good_for` is read, checked and kept; within a permit, `permit` ends an answer when what it rests on
//! changes, and lets the next permit cite what still holds (`permit::decide::carry`).

mod across;
mod cycles;
mod each;
mod fits;
mod kinds;
mod languages;
mod names;
mod read;
mod rules;
mod scope;
mod step;
mod subjects;
mod told;
mod wire;

pub use each::{Each, GoodFor, Scope as GoodForScope};
pub use scope::{TABLES, Tables};
pub use subjects::{STOP, SUBJECTS, Subject, missing_subjects};

use crate::finding::{Finding, Place};
use crate::gate::{Expression, Gate};
use crate::units::{Decimal, Dimension, Rounding, Unit};
use crate::words::{Template, Words};
use foldhash::HashMap;
use std::collections::BTreeSet;

/// What came of reading a checklist.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The checklist; `None` if and only if an error is among the findings.
    pub checklist: Option<Checklist>,
    /// Everything found, by place.
    pub findings: Vec<Finding>,
}

/// What a form is for. A shutdown form is answered under other rules than a work form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Answered before people go on air.
    Work,
    /// Answered when the tally is zero, to stop the set.
    Shutdown,
}

impl Purpose {
    /// As written in files: `work`, `shutdown`.
    pub fn as_str(self) -> &'static str {
        match self {
            Purpose::Work => "work",
            Purpose::Shutdown => "shutdown",
        }
    }
}

/// A checklist that was read and found good.
#[derive(Clone, Debug)]
pub struct Checklist {
    id: String,
    revision: u32,
    title: Words,
    language: String,
    purpose: Purpose,
    must: Vec<String>,
    stages: Vec<Stage>,
    /// Stage and place in it of each step, by its id.
    places: HashMap<String, (usize, usize)>,
    text: String,
    sha256: String,
}

impl Checklist {
    /// Reads a checklist. Everything wrong with it is found, all at once.
    pub fn read(file: &str, bytes: &[u8]) -> Reading {
        read::read(file, bytes, &TABLES)
    }

    /// As [`Checklist::read`], with other tables of set, site, job and wearer fields.
    pub fn read_with(file: &str, bytes: &[u8], tables: &Tables) -> Reading {
        read::read(file, bytes, tables)
    }

    /// Id, `[a-z][a-z0-9-]{0,31}`.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Revision, from 1.
    pub fn revision(&self) -> u32 {
        self.revision
    }

    /// Title.
    pub fn title(&self) -> &Words {
        &self.title
    }

    /// The file's own language: what a text is in where it names none.
    pub fn language(&self) -> &str {
        &self.language
    }

    /// What the form is for.
    pub fn purpose(&self) -> Purpose {
        self.purpose
    }

    /// Ids of steps that the file itself says must be there; they are.
    pub fn must(&self) -> &[String] {
        &self.must
    }

    /// The stages, in order; at least one.
    pub fn stages(&self) -> &[Stage] {
        &self.stages
    }

    /// Every step with its stage, in order.
    pub fn steps(&self) -> impl Iterator<Item = (&Stage, &Step)> {
        self.stages.iter().flat_map(|s| s.steps.iter().map(move |step| (s, step)))
    }

    /// A step and its stage by the step's id.
    pub fn step(&self, id: &str) -> Option<(&Stage, &Step)> {
        let (stage, place) = self.places.get(id)?;
        let stage = self.stages.get(*stage)?;
        Some((stage, stage.steps.get(*place)?))
    }

    /// A stage by id.
    pub fn stage(&self, id: &str) -> Option<&Stage> {
        self.stages.iter().find(|s| s.id == id)
    }

    /// The ids of all stages that must be complete before this one: what it `needs`, and what those
    /// need, in order. Without `needs`, all before it.
    pub fn needed_by(&self, stage: &str) -> Vec<&str> {
        let mut wanted = vec![false; self.stages.len()];
        let Some(at) = self.stages.iter().position(|s| s.id == stage) else {
            return Vec::new();
        };
        let mut todo = vec![at];
        while let Some(i) = todo.pop() {
            let direct: Vec<usize> = match &self.stages[i].needs {
                None => (0..i).collect(),
                Some(ids) => (0..i).filter(|n| ids.contains(&self.stages[*n].id)).collect(),
            };
            for n in direct {
                if !wanted[n] {
                    wanted[n] = true;
                    todo.push(n);
                }
            }
        }
        self.stages.iter().zip(wanted).filter(|(_, w)| *w).map(|(s, _)| s.id.as_str()).collect()
    }

    /// Every name that stands in it, written out from its root: `item.volume` as
    /// `set.cylinders.volume`, `wearer.most` as `wearers.most`; with the lists of `each`.
    pub fn names(&self) -> BTreeSet<String> {
        names::of(self)
    }

    /// The text of the file, byte for byte.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the file, 64 lower-case hex digits.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }
}

/// A stage: steps that belong together.
#[derive(Clone, Debug)]
pub struct Stage {
    id: String,
    title: Words,
    when: Option<Gate>,
    needs: Option<Vec<String>>,
    any_order: bool,
    steps: Vec<Step>,
    place: Place,
}

impl Stage {
    /// Id, `[a-z][a-z0-9_]{0,47}`.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Title.
    pub fn title(&self) -> &Words {
        &self.title
    }

    /// Applies only when this is open.
    pub fn when(&self) -> Option<&Gate> {
        self.when.as_ref()
    }

    /// The stages it says it needs; `None`: all before it. See [`Checklist::needed_by`].
    pub fn needs(&self) -> Option<&[String]> {
        self.needs.as_deref()
    }

    /// True if its steps may be answered in any order.
    pub fn any_order(&self) -> bool {
        self.any_order
    }

    /// Its steps, in order; at least one.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Where it stands in the file.
    pub fn place(&self) -> &Place {
        &self.place
    }
}

/// How a step is answered.
#[derive(Clone, Debug)]
#[expect(clippy::large_enum_variant, reason = "a checklist has some hundred steps, read once")]
pub enum StepKind {
    /// Yes or no. Without a gate: open at yes, shut at no.
    Confirm,
    /// One of these: id and words, in the order of the file; at least two.
    Choice(Vec<(String, Words)>),
    /// A number read off an instrument.
    Reading(Instrument),
    /// A calendar date.
    Date,
    /// Words; no gate can judge them.
    Text,
    /// Worked out from other answers; nobody answers it.
    Derived(Derived),
    /// A wait, by the program's own clock: type Duration.
    Timed(Expression),
}

impl StepKind {
    /// The key it is written with: `confirm`, `choice`...
    pub fn key(&self) -> &'static str {
        match self {
            StepKind::Confirm => "confirm",
            StepKind::Choice(_) => "choice",
            StepKind::Reading(_) => "reading",
            StepKind::Date => "date",
            StepKind::Text => "text",
            StepKind::Derived(_) => "derived",
            StepKind::Timed(_) => "timed",
        }
    }
}

/// What an instrument can show.
#[derive(Clone, Debug)]
pub struct Instrument {
    unit: Option<Unit>,
    from: Limit,
    to: Limit,
    decimals: u8,
}

impl Instrument {
    /// The unit it is read in; `None` for a plain number.
    pub fn unit(&self) -> Option<Unit> {
        self.unit
    }

    /// What it measures.
    pub fn dimension(&self) -> Dimension {
        self.unit.map_or(Dimension::Number, Unit::dimension)
    }

    /// Lowest value, inclusive.
    pub fn from(&self) -> &Limit {
        &self.from
    }

    /// Highest value, inclusive.
    pub fn to(&self) -> &Limit {
        &self.to
    }

    /// Most digits after the point; 0 to 6.
    pub fn decimals(&self) -> u8 {
        self.decimals
    }
}

/// A limit of an instrument.
#[derive(Clone, Debug)]
#[expect(clippy::large_enum_variant, reason = "a checklist has some hundred steps, read once")]
pub enum Limit {
    /// In the instrument's unit.
    Given(Decimal),
    /// A name such as `set.gauge_to`, of the instrument's dimension.
    Named(Expression),
}

/// A value that is worked out.
#[derive(Clone, Debug)]
pub struct Derived {
    expression: Expression,
    /// The form it leaves in; `None` for a date, which needs none.
    form: Option<Form>,
}

impl Derived {
    /// What is worked out.
    pub fn expression(&self) -> &Expression {
        &self.expression
    }

    /// Unit, decimals and rounding; `None` for a date.
    pub fn form(&self) -> Option<&Form> {
        self.form.as_ref()
    }
}

/// The form a derived quantity leaves in: the gate judges that decimal, the record keeps it.
#[derive(Clone, Debug, PartialEq)]
pub struct Form {
    unit: Option<Unit>,
    decimals: u8,
    round: Rounding,
}

impl Form {
    /// Unit; `None` for a plain number.
    pub fn unit(&self) -> Option<Unit> {
        self.unit
    }

    /// What it measures.
    pub fn dimension(&self) -> Dimension {
        self.unit.map_or(Dimension::Number, Unit::dimension)
    }

    /// Digits after the point, 0 to 6.
    pub fn decimals(&self) -> u8 {
        self.decimals
    }

    /// Which way it is rounded: [`Rounding::Down`] for what must be at least something,
    /// [`Rounding::Up`] for what must be at most something; never to the nearest.
    pub fn round(&self) -> Rounding {
        self.round
    }
}

/// What a step holds up while it is not open. What needs more is held by more: declaring needs all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Before {
    /// Must be open before the set is started.
    Start,
    /// Must be open before anyone goes on air.
    Air,
    /// Must be open before the permit is declared.
    Declare,
}

/// One step.
#[derive(Clone, Debug)]
pub struct Step {
    id: String,
    ask: Template,
    called: Option<Words>,
    kind: StepKind,
    each: Option<Each>,
    when: Option<Gate>,
    gate: Option<Gate>,
    because: Option<Template>,
    fix: Option<Template>,
    how: Option<Template>,
    source: Option<Words>,
    good_for: Vec<GoodFor>,
    blind: bool,
    takes: Option<Expression>,
    fresh: bool,
    below: bool,
    deviation: bool,
    may_leave_out: bool,
    critical: bool,
    before: Before,
    place: Place,
}

impl Step {
    /// Id, `[a-z][a-z0-9_]{0,47}`.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What its answer is called in explanations (`the lowest gauge`); without it, the id in words.
    pub fn called(&self) -> Option<&Words> {
        self.called.as_ref()
    }

    /// What is asked; inside `each` it may name `item.FIELD` or `wearer.FIELD`.
    pub fn ask(&self) -> &Template {
        &self.ask
    }

    /// How it is answered.
    pub fn kind(&self) -> &StepKind {
        &self.kind
    }

    /// What it works out, where nobody types its value.
    pub fn expression(&self) -> Option<&crate::gate::Expression> {
        match &self.kind {
            StepKind::Derived(d) => Some(d.expression()),
            StepKind::Confirm
            | StepKind::Choice(_)
            | StepKind::Reading(_)
            | StepKind::Date
            | StepKind::Text
            | StepKind::Timed(_) => None,
        }
    }

    /// Asked once for each of these.
    pub fn each(&self) -> Option<&Each> {
        self.each.as_ref()
    }

    /// Applies only when this and the stage's [`Stage::when`] are open.
    pub fn when(&self) -> Option<&Gate> {
        self.when.as_ref()
    }

    /// The condition the answer must meet.
    pub fn gate(&self) -> Option<&Gate> {
        self.gate.as_ref()
    }

    /// Why the gate is there.
    pub fn because(&self) -> Option<&Template> {
        self.because.as_ref()
    }

    /// What to do when it is shut.
    pub fn fix(&self) -> Option<&Template> {
        self.fix.as_ref()
    }

    /// How it is done.
    pub fn how(&self) -> Option<&Template> {
        self.how.as_ref()
    }

    /// Where the rule comes from.
    pub fn source(&self) -> Option<&Words> {
        self.source.as_ref()
    }

    /// How long an accepted answer stays good: all of these must hold. Empty: as long as the permit.
    pub fn good_for(&self) -> &[GoodFor] {
        &self.good_for
    }

    /// True if the limit must not be shown before the answer.
    pub fn blind(&self) -> bool {
        self.blind
    }

    /// How long it takes to answer honestly, type Duration: a quicker answer is flagged, never refused.
    pub fn takes(&self) -> Option<&Expression> {
        self.takes.as_ref()
    }

    /// True if its answer must be younger than the site's freshness when the permit is issued.
    pub fn fresh(&self) -> bool {
        self.fresh
    }

    /// True if a held answer may be left as it is, where a supervisor accepts that.
    pub fn deviation(&self) -> bool {
        self.deviation
    }

    /// True if a reading may be below the instrument's lowest mark (`< 2 ppm`).
    pub fn below(&self) -> bool {
        self.below
    }

    /// True if one item may be taken out of service instead of answered for.
    pub fn may_leave_out(&self) -> bool {
        self.may_leave_out
    }

    /// True if a life rests on it.
    pub fn critical(&self) -> bool {
        self.critical
    }

    /// What it holds up.
    pub fn before(&self) -> Before {
        self.before
    }

    /// Where it stands in the file.
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Ids and words offered by a `choice`, else none.
    pub fn choices(&self) -> &[(String, Words)] {
        match &self.kind {
            StepKind::Choice(c) => c,
            StepKind::Confirm
            | StepKind::Reading(_)
            | StepKind::Date
            | StepKind::Text
            | StepKind::Derived(_)
            | StepKind::Timed(_) => &[],
        }
    }
}

#[cfg(test)]
mod tests;
