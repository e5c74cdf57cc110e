//! The subjects that a form must not leave out, whatever a site changes in it.

use super::{Checklist, Purpose, Stage, Step, StepKind};
use crate::finding::{Finding, Place};
use crate::gate::Chosen;
use crate::site::{Holds, field_at, fields};
use crate::text::listed;
use crate::tongue::{say, to_say, word};

/// A subject a life may rest on, and the ids of steps that are about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Subject {
    /// The form it belongs in.
    pub purpose: Purpose,
    /// What it is, for messages: `the siting of the set away from exhaust`.
    pub title: &'static str,
    /// A form is about it if it has all of these steps.
    pub steps: &'static [&'static str],
    /// Where it is needed, if not everywhere: all of these hold. Its steps may be left out nowhere else.
    pub needed: &'static [Needed],
}

/// A choice by which a subject is needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Needed {
    /// The field or step, as a gate names it.
    pub name: &'static str,
    /// True: it must be this; false: it must be anything else.
    pub is: bool,
    /// The id of the choice.
    pub choice: &'static str,
}

impl std::fmt::Display for Needed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {} \"{}\"", self.name, if self.is { "==" } else { "!=" }, self.choice)
    }
}

const RESERVE: &[Needed] = &[Needed { name: "set.reserve", is: true, choice: "cylinders" }];
const POWERED: &[Needed] = &[Needed { name: "set.driven_by", is: false, choice: "own_engine" }];
const THREE_PHASES: &[Needed] = &[
    Needed { name: "set.driven_by", is: false, choice: "own_engine" },
    Needed { name: "set.motor.phases", is: true, choice: "three" },
];
const ESCAPE: &[Needed] = &[Needed { name: "job.atmosphere", is: false, choice: "not" }];
const TODAY: &[Needed] = &[Needed { name: CARRIES.0, is: true, choice: "today" }];
const CARRIED_TEST: &[Needed] = &[Needed { name: CARRIES.0, is: true, choice: CARRIES.1 }];

/// The program's own list.
///
/// Common practice, no source, but for what each step names beside itself. A site may write its own
/// words, gates and further steps; these ids must be there and must be able to hold people up.
pub static SUBJECTS: &[Subject] = &[
    work(to_say!("what the air where people work is like"), &["atmosphere"]),
    work(to_say!("the siting of the set away from exhaust and vents"), &["siting_exhaust", "siting_vents"]),
    work(to_say!("the oil level"), &["oil_level"]),
    work(to_say!("the hours left in the filters"), &["filter_hours"]),
    work(to_say!("the rating of the supply"), &["supply_rating"]).only_if(POWERED),
    work(to_say!("the direction of rotation"), &["rotation"]).only_if(THREE_PHASES),
    work(to_say!("the warnings, each seen and heard"), &["warning_on"]),
    work(to_say!("the carbon monoxide monitor, tried with gas"), &["co_bump"]),
    work(
        to_say!("the pressure of the reserve, read again after the change-over was proved"),
        &["reserve_pressure", "reserve_again"],
    )
    .only_if(RESERVE),
    work(
        to_say!("how long the reserve lasts, and the pressure at which everyone leaves"),
        &["reserve_lasts", "leave_by"],
    )
    .only_if(RESERVE),
    work(to_say!("the flow left over with everyone drawing all they can"), &["flow_spare"]),
    work(to_say!("where the reserve air came from"), &["reserve_air_from"]).only_if(RESERVE),
    work(to_say!("the hoses, inspected and traced by hand"), &["hose_inspection", "hose_traced"]),
    work(to_say!("the escape sets"), &["escape_fits", "escape_gauge"]).only_if(ESCAPE),
    work(to_say!("everyone breathing at once within the pressure the respirators need"), &["all_flowing"]),
    work(to_say!("the change-over to the reserve under flow"), &["changeover_lowest"]).only_if(RESERVE),
    work(
        to_say!("the air test: its date, oxygen, carbon monoxide and carbon dioxide"),
        &["air_test_date", "air_o2", "air_co", "air_co2"],
    )
    .only_if(TODAY),
    work(to_say!("the recall signal, tried"), &["recall_tried"]),
    work(to_say!("the seal of each mask"), &["seal_check"]),
    shutdown(to_say!("each wearer, seen outside with the mask off"), &["wearer_seen"]),
    shutdown(to_say!("nobody being on air"), &["nobody_on_air"]),
    shutdown(to_say!("air for rescue while anyone is on the job"), &["rescue_air_stays"]),
    shutdown(to_say!("the outlet valves, shut before a hose is taken off"), &["outlet_shut"]),
    shutdown(to_say!("each hose, vented before it is taken off"), &["hose_vented"]),
    shutdown(to_say!("the stop, by the means the set is stopped with"), &["stop_set"]),
    shutdown(to_say!("the cylinder valves, shut before anything is vented"), &["cylinder_shut"])
        .only_if(RESERVE),
    shutdown(to_say!("the gauges at nought, read again after a wait"), &["gauges_zero", "zero_again"]),
    shutdown(
        to_say!("nothing coming from the open vents, before and after the wait"),
        &["vent_silent", "vent_silent_again"],
    ),
    shutdown(to_say!("the supply, isolated and locked"), &["isolated"]).only_if(POWERED),
];

/// What a form that lets an earlier air test be carried must ask of it.
static CARRIED: Subject = work(
    to_say!("the air test carried from the register: that it still holds, oxygen, carbon monoxide and carbon dioxide"),
    &["carried_test", "carried_o2", "carried_co", "carried_co2"],
)
.only_if(CARRIED_TEST);
/// The step and its choice by which an earlier test is carried.
const CARRIES: (&str, &str) = ("air_test_basis", "carried");

const fn work(title: &'static str, steps: &'static [&'static str]) -> Subject {
    Subject { purpose: Purpose::Work, title, steps, needed: &[] }
}

const fn shutdown(title: &'static str, steps: &'static [&'static str]) -> Subject {
    Subject { purpose: Purpose::Shutdown, title, steps, needed: &[] }
}

impl Subject {
    const fn only_if(self, needed: &'static [Needed]) -> Subject {
        Subject { needed, ..self }
    }
}

/// Whether a step of this id is one of the program's own subjects.
pub(super) fn is_subject(id: &str) -> bool {
    SUBJECTS.iter().chain([&CARRIED]).any(|s| s.steps.contains(&id))
}

/// The subjects that a form leaves out: an error each. A form with any is not to be taken into use;
/// `lint` reports them, and taking a form into a register refuses them.
pub fn missing_subjects(file: &str, c: &Checklist) -> Vec<Finding> {
    let place = Place { file: file.to_owned(), line: 0, column: 0 };
    let mut out = stop_stage(file, c);
    let carries = c.step(CARRIES.0).is_some_and(|(_, s)| s.choices().iter().any(|(id, _)| id == CARRIES.1));
    let all = SUBJECTS.iter().chain(carries.then_some(&CARRIED));
    for s in all.filter(|s| s.purpose == c.purpose()) {
        for id in s.steps {
            match c.step(id) {
                None => {
                    let message = say!(
                        "a form for {purpose} must be about {what}; the step `{id}` is missing",
                        purpose = c.purpose().as_str(),
                        what = word(s.title),
                        id
                    );
                    out.push(
                        Finding::error("missing-subject", place.clone(), message)
                            .hint(say!("add a step `{id}`", id)),
                    );
                }
                Some((_, step)) if !holds(c, step) => {
                    let message = say!(
                        "the step `{id}` is about {what} and no answer to it would hold anyone up",
                        id,
                        what = word(s.title)
                    );
                    out.push(
                        Finding::error("subject-never-holds", step.place().clone(), message)
                            .hint(say!("give it a gate")),
                    );
                }
                Some((_, step)) if !step.critical() => {
                    let message = say!(
                        "the step `{id}` is about {what}, and is not critical",
                        id,
                        what = word(s.title)
                    );
                    out.push(
                        Finding::error("subject-not-critical", step.place().clone(), message)
                            .hint(say!("write `critical: true`")),
                    );
                }
                Some(_) => {}
            }
            if let Some((stage, step)) = c.step(id)
                && !asked(c, stage, step, s.needed)
            {
                let needed: Vec<String> = s.needed.iter().map(|n| format!("`{n}`")).collect();
                let what = word(s.title);
                let (message, hint) = if needed.is_empty() {
                    (
                        say!(
                            "the step `{id}` is about {what}, and its `when` or its stage's may leave it out; wanted: asked always",
                            id,
                            what
                        ),
                        say!("remove the `when`").to_owned(),
                    )
                } else {
                    let needed = listed(&needed, say!("and"));
                    (
                        say!(
                            "the step `{id}` is about {what}, and its `when` or its stage's may leave it out; wanted: asked wherever {needed}",
                            id,
                            what,
                            needed
                        ),
                        say!("leave nothing in the `when` but {needed}", needed),
                    )
                };
                out.push(Finding::error("subject-left-out", step.place().clone(), message).hint(hint));
            }
        }
    }
    out
}

/// Whether a step applies wherever all that is needed holds: each part of its conditions must follow from one of them.
fn asked(c: &Checklist, stage: &Stage, step: &Step, needed: &[Needed]) -> bool {
    let whens = [stage.when(), step.when()].into_iter().flatten();
    whens.into_iter().all(|when| {
        let Some(parts) = when.chosen() else { return false };
        parts.iter().all(|arms| needed.iter().any(|n| follows(c, n, arms)))
    })
}

/// Whether one of these holds for every choice for which the other does. What else stands among them only adds to it.
fn follows(c: &Checklist, needed: &Needed, arms: &[Chosen<'_>]) -> bool {
    let about = |name: &[String]| name.join(".") == needed.name;
    let holds = |choice: &str| arms.iter().any(|(name, is, id)| about(name) && (choice == *id) == *is);
    if needed.is {
        return holds(needed.choice);
    }
    let offered = offered(c, needed.name);
    !offered.is_empty() && offered.iter().all(|o| o == needed.choice || holds(o))
}

/// The choices of a field or a step.
fn offered(c: &Checklist, name: &str) -> Vec<String> {
    let path: Vec<String> = name.split('.').map(str::to_owned).collect();
    let Some((root, rest)) = path.split_first() else { return Vec::new() };
    let table = match root.as_str() {
        "set" => fields::SET,
        "site" => fields::SITE,
        "job" => fields::JOB,
        id => {
            return c
                .step(id)
                .map_or(Vec::new(), |(_, s)| s.choices().iter().map(|(id, _)| id.clone()).collect());
        }
    };
    match field_at(table, rest).map(|f| f.holds) {
        Some(Holds::Choice(offered)) => offered.iter().map(|o| (*o).to_owned()).collect(),
        Some(_) | None => Vec::new(),
    }
}

/// The stage of a shutdown form in which the set is stopped: what the engine asks before it is done before it.
pub const STOP: &str = "stop";
/// What must be seen before the set is stopped.
const BEFORE_STOP: [&str; 3] = ["wearer_seen", "nobody_on_air", "hose_vented"];
/// The step that says what stopped it.
const STOPS: &str = "stop_set";

/// A shutdown form without the stage that stops the set would let it be stopped before anything is done.
fn stop_stage(file: &str, c: &Checklist) -> Vec<Finding> {
    if c.purpose() != Purpose::Shutdown {
        return Vec::new();
    }
    let Some(at) = c.stages().iter().position(|s| s.id() == STOP) else {
        let place = Place { file: file.to_owned(), line: 0, column: 0 };
        let message = say!("a form for shutdown needs a stage `{STOP}`, in which the set is stopped", STOP);
        let hint = say!("call the stage that holds `{STOPS}` `{STOP}`", STOPS, STOP);
        return vec![Finding::error("no-stop-stage", place, message).hint(hint)];
    };
    let mut out = Vec::new();
    for (n, stage) in c.stages().iter().enumerate() {
        for step in stage.steps() {
            let late = BEFORE_STOP.contains(&step.id()) && n >= at;
            if late || step.id() == STOPS && n != at {
                let (step_id, stage) = (step.id(), stage.id());
                let message = if late {
                    say!(
                        "the step `{step}` stands in the stage `{stage}`, wanted before the stage `{STOP}`",
                        step = step_id,
                        stage,
                        STOP
                    )
                } else {
                    say!(
                        "the step `{step}` stands in the stage `{stage}`, wanted in the stage `{STOP}`",
                        step = step_id,
                        stage,
                        STOP
                    )
                };
                out.push(
                    Finding::error("wrong-side-of-stop", step.place().clone(), message).hint(say!("move it")),
                );
            }
        }
    }
    // Whatever `needs` leaves out need not be done before the set is stopped.
    let needed = c.needed_by(STOP);
    for stage in c.stages().iter().take(at).filter(|s| !needed.contains(&s.id())) {
        let message = say!(
            "the stage `{stage}` stands before `{STOP}`, which does not need it",
            stage = stage.id(),
            STOP
        );
        out.push(
            Finding::error("wrong-side-of-stop", stage.place().clone(), message)
                .hint(say!("add it to `needs`, or move it")),
        );
    }
    out
}

/// Whether an answer can be refused: by its own gate, or by one that rests on it.
fn holds(c: &Checklist, step: &Step) -> bool {
    let named_by_a_gate = |(_, other): (_, &Step)| {
        other.gate().is_some_and(|g| g.names().any(|u| u.name.first().is_some_and(|n| n == step.id())))
    };
    step.gate().is_some()
        || matches!(step.kind(), StepKind::Confirm | StepKind::Timed(_))
        || c.steps().any(named_by_a_gate)
}
