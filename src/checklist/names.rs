//! Every name that stands in a checklist: what its gates and texts rest on.

use super::{Checklist, Each, Limit, Step, StepKind};
use crate::gate::Used;
use std::collections::BTreeSet;

/// See [`Checklist::names`].
pub(super) fn of(c: &Checklist) -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    for stage in &c.stages {
        if let Some(w) = &stage.when {
            add(w.names(), None, &mut all);
        }
        for step in &stage.steps {
            step_names(step, &mut all);
        }
    }
    all
}

fn step_names(s: &Step, all: &mut BTreeSet<String>) {
    let each = s.each.as_ref();
    if let Some(e) = each {
        all.insert(rooted(e));
    }
    for gate in [&s.when, &s.gate].into_iter().flatten() {
        add(gate.names(), each, all);
    }
    match &s.kind {
        StepKind::Derived(d) => add(d.expression.names(), each, all),
        StepKind::Timed(e) => add(e.names(), each, all),
        StepKind::Reading(i) => {
            for limit in [&i.from, &i.to] {
                match limit {
                    Limit::Named(e) => add(e.names(), each, all),
                    Limit::Given(_) => {}
                }
            }
        }
        StepKind::Confirm | StepKind::Choice(_) | StepKind::Date | StepKind::Text => {}
    }
    if let Some(e) = &s.takes {
        add(e.names(), each, all);
    }
    for words in [Some(&s.ask), s.because.as_ref(), s.fix.as_ref(), s.how.as_ref()].into_iter().flatten() {
        for name in words.names() {
            all.insert(whole(name.split('.'), each));
        }
    }
}

fn add<'a>(used: impl Iterator<Item = Used<'a>>, each: Option<&Each>, all: &mut BTreeSet<String>) {
    for u in used {
        all.insert(whole(u.name.iter().map(String::as_str), each));
    }
}

/// `wearers` for the wearers, the dotted list for all others.
fn rooted(each: &Each) -> String {
    match each {
        Each::Wearer => each.list().to_owned(),
        Each::Set(_) | Each::Site(_) | Each::Job(_) => each.to_string(),
    }
}

fn whole<'a>(parts: impl Iterator<Item = &'a str>, each: Option<&Each>) -> String {
    let parts: Vec<&str> = parts.collect();
    match (parts.as_slice(), each) {
        ([one, rest @ ..], Some(e)) if *one == e.one() => {
            format!("{}.{}", rooted(e), rest.join("."))
        }
        (all, _) => all.join("."),
    }
}
