//! A form and the set and site it is used with: fields that a gate rests on and that these files leave
//! out. A gate would be unknown for ever, and the crew would find out on site.

use super::{Checklist, Each, Limit, Stage, Step, StepKind};
use crate::finding::Finding;
use crate::gate::{Fact, Facts, Gate, Name, Used, Verdict};
use crate::site::{Field, Telling, Values, fields};
use crate::tongue::say;
use jiff::civil::Date;

/// What the files alone can say.
struct Files<'a> {
    set: &'a Values,
    site: &'a Values,
}

/// Whether a step applies, as far as the files say.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Applies {
    Yes,
    No,
    Perhaps,
}

impl Checklist {
    /// Fields of set and site that a step rests on and these files do not give. An error where the
    /// step applies for certain; a warning where that depends on the job or on answers.
    pub fn fits(&self, set: &Values, site: &Values) -> Vec<Finding> {
        let files = Files { set, site };
        let mut out = Vec::new();
        for (stage, step) in self.steps() {
            let applies = files.applies(stage, step);
            if applies == Applies::No {
                continue;
            }
            let mut told: Vec<String> = Vec::new();
            for used in rests_on(step) {
                let written = used.name.join(".");
                if used.sheltered || told.contains(&written) || files.gives(used.name, step.each()) {
                    continue;
                }
                let message = say!(
                    "the step `{step}` rests on `{written}`, which is not given",
                    step = step.id(),
                    written
                );
                let place = step.place().clone();
                let finding = match applies {
                    Applies::Yes => Finding::error("field-not-given", place, message),
                    Applies::Perhaps | Applies::No => Finding::warning("field-not-given", place, message),
                };
                out.push(finding.hint(say!("add it to the set or site file")));
                told.push(written);
            }
        }
        out
    }
}

/// The names that a step cannot be answered or judged without.
fn rests_on(step: &Step) -> Vec<Used<'_>> {
    let mut all: Vec<Used<'_>> = step.gate().into_iter().flat_map(Gate::names).collect();
    match step.kind() {
        StepKind::Derived(d) => all.extend(d.expression().names()),
        StepKind::Timed(e) => all.extend(e.names()),
        StepKind::Reading(i) => {
            for limit in [i.from(), i.to()] {
                match limit {
                    Limit::Named(e) => all.extend(e.names()),
                    Limit::Given(_) => {}
                }
            }
        }
        StepKind::Confirm | StepKind::Choice(_) | StepKind::Date | StepKind::Text => {}
    }
    all
}

impl Files<'_> {
    fn applies(&self, stage: &Stage, step: &Step) -> Applies {
        let mut applies = Applies::Yes;
        for when in [stage.when(), step.when()].into_iter().flatten() {
            let known = |u: Used<'_>| matches!(u.name.first().map(String::as_str), Some("set" | "site"));
            if !when.names().all(known) {
                applies = Applies::Perhaps;
                continue;
            }
            match when.judge(self) {
                Verdict::Open => {}
                Verdict::Shut(_) => return Applies::No,
                Verdict::Unknown(_) => applies = Applies::Perhaps,
            }
        }
        match step.each() {
            Some(each @ (Each::Set(_) | Each::Site(_))) if self.items(each).is_empty() => Applies::No,
            Some(_) | None => applies,
        }
    }

    /// Whether the files give what a name stands for; names of other roots are not their matter.
    fn gives(&self, name: &Name, each: Option<&Each>) -> bool {
        match (name.first().map(String::as_str), name.split_first(), each) {
            (Some("set" | "site"), _, _) => !matches!(self.fact(name), Fact::Unknown(_)),
            (Some("item"), Some((_, path)), Some(each)) => {
                let path = path.join(".");
                self.items(each).iter().all(|i| i.get(&path).is_some())
            }
            (_, _, _) => true,
        }
    }

    fn items(&self, each: &Each) -> &[Values] {
        match each {
            Each::Set(list) => self.set.items(list),
            Each::Site(list) => self.site.items(list),
            Each::Job(_) | Each::Wearer => &[],
        }
    }
}

impl Facts for Files<'_> {
    fn fact(&self, name: &Name) -> Fact {
        let look = |values: &Values, table: &'static [Field], path: &[String], root| {
            let language = crate::words::DEFAULT_LANGUAGE;
            values.fact(path, table, &Telling { root, language, left_out: &|_, _| false })
        };
        match name.split_first() {
            Some((root, path)) if root == "set" => look(self.set, fields::SET, path, "set"),
            Some((root, path)) if root == "site" => look(self.site, fields::SITE, path, "site"),
            Some(_) | None => Fact::Unknown("not known from the files alone".to_owned()),
        }
    }

    /// Never asked: a condition that names `today` is not judged here.
    fn today(&self) -> Date {
        Date::ZERO
    }
}
