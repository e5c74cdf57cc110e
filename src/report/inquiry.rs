//! What an inquiry asks of a permit first: which hose went to whom, the language of the briefing, where the set stood, the
//! trial of the change-over, and the reserve around each alarm.
//!
//! Always: as answered or read, with its lines; what no line tells is said not to be told, and what its form does not ask is
//! said not to be asked. A step that a site calls otherwise is found beside one that every form must have, or by what it
//! asks. Not here: what held (`replay`).

use super::permits::{self, Read};
use super::tally::Alarm;
use super::{At, said};
use crate::permit::bench::Texts;
use crate::permit::state::Permit;
use crate::record::json::Json;
use crate::tongue::{say, to_say, word};
use serde::Serialize;
use std::collections::BTreeSet;

/// One thing that is asked.
#[derive(Clone, Debug, Serialize)]
pub struct Asked {
    /// `hose` `briefing` `siting` `change_over` `reserve`.
    pub about: &'static str,
    /// What.
    pub what: String,
    /// As it stands in the lines.
    pub words: String,
    /// Lines.
    pub lines: Vec<At>,
}

/// What is looked for in a form.
struct Sought {
    about: &'static str,
    /// What it is, where no step says it.
    title: &'static str,
    /// Steps by the names that the forms that ship give them.
    named: &'static [&'static str],
    /// A step that every form has, or it is not taken into use: what is read in its stage is about the same.
    beside: Option<&'static str>,
}

const SOUGHT: [Sought; 3] = [
    Sought {
        about: "briefing",
        title: to_say!("the language of the briefing"),
        named: &["briefing_language"],
        beside: None,
    },
    Sought {
        about: "siting",
        title: to_say!("where the set stood"),
        named: &["intake_height", "wind_speed", "wind_from", "siting_exhaust", "siting_vents"],
        beside: Some("siting_exhaust"),
    },
    Sought {
        about: "change_over",
        title: to_say!("the trial of the change-over"),
        named: &["reserve_pressure", "changeover_flow", "reserve_again"],
        beside: Some("changeover_lowest"),
    },
];

impl Sought {
    /// Its steps in a form, in the form's order.
    fn steps<'f>(&self, texts: &'f Texts) -> Vec<&'f str> {
        let beside = self.beside.map(|id| texts.form.told_beside(id)).unwrap_or_default();
        let language = if self.about == "briefing" { texts.form.asking_language() } else { Vec::new() };
        let is_meant = |id: &&str| self.named.contains(id) || beside.contains(id) || language.contains(id);
        texts.form.steps().map(|(_, step)| step.id()).filter(is_meant).collect()
    }

    /// Instead of an answer that no line has.
    fn untold(&self, texts: &Texts, steps: &[&str]) -> &'static str {
        if self.about == "change_over" && texts.set.choice("reserve") == Some("none") {
            say!("not told: the set has no reserve")
        } else if steps.is_empty() {
            say!("this form does not ask it")
        } else {
            say!("not told")
        }
    }
}

/// Of one permit.
pub fn of(p: &Permit, texts: Option<&Texts>, name: &dyn Fn(&str) -> String) -> Vec<Asked> {
    let mut out = hoses(p, texts, name);
    // A shutdown asks none of it.
    for sought in SOUGHT.iter().filter(|_| !p.for_shutdown) {
        let of_form = texts.map(|t| sought.steps(t));
        let steps = of_form.clone().unwrap_or_else(|| sought.named.to_vec());
        let told = steps.iter().flat_map(|step| answered(p, texts, step, sought.about));
        let told: Vec<Asked> = told.collect();
        if told.is_empty() {
            let words = match (texts, &of_form) {
                (Some(texts), Some(steps)) => sought.untold(texts, steps),
                (_, _) => say!("not told"),
            };
            out.push(Asked {
                about: sought.about,
                what: word(sought.title).to_owned(),
                words: words.to_owned(),
                lines: Vec::new(),
            });
        }
        out.extend(told);
    }
    out
}

/// The answers to a step.
fn answered(p: &Permit, texts: Option<&Texts>, step: &str, about: &'static str) -> Vec<Asked> {
    let of_form = texts.and_then(|t| t.form.step(step)).and_then(|(_, s)| s.called());
    let called =
        of_form.map_or_else(|| said(step), |words| words.get(crate::tongue::Tongue::now().tag()).to_owned());
    let all = p.answers.iter().filter(|a| a.step == step && a.form == p.form.hash);
    all.map(|a| {
        let value = a.left_out.as_deref().or(a.value.as_deref()).unwrap_or_default();
        let words = [Some(value), a.unit.as_deref(), a.words.as_deref()];
        let words: Vec<&str> = words.into_iter().flatten().filter(|w| !w.is_empty()).collect();
        let below = if a.below { "< " } else { "" };
        let item = a.item.as_deref().map(|i| format!(", {i}")).unwrap_or_default();
        Asked {
            about,
            what: format!("{called}{item}"),
            words: format!("{below}{}", words.join(" ")),
            lines: vec![permits::at(&a.stamp)],
        }
    })
    .collect()
}

/// Which hose went to whom, by every job that named it.
fn hoses(p: &Permit, texts: Option<&Texts>, name: &dyn Fn(&str) -> String) -> Vec<Asked> {
    let mut known = BTreeSet::new();
    let mut out = Vec::new();
    for (stamp, job) in &p.jobs {
        let Some(Json::Arr(wearers)) = job.get("wearers") else { continue };
        for w in wearers {
            let (Some(person), Some(hose)) = (w.text("person"), w.text("hose")) else { continue };
            if !known.insert((person, hose)) {
                continue;
            }
            let values = texts.and_then(|t| t.site.item("hoses", hose));
            let shown = |field: &str| values.and_then(|v| v.get(field)).and_then(|h| h.shown("en"));
            let serial = shown("serial").unwrap_or_else(|| say!("not known").to_owned());
            let mut words = say!("hose {hose}, serial number {serial}", hose, serial);
            for more in
                [shown("length"), shown("sections").map(|n| say!("sections: {n}", n))].into_iter().flatten()
            {
                words += &format!(", {more}");
            }
            if let Some(outlet) = w.text("outlet") {
                words += &format!(", {}", say!("at outlet {outlet}", outlet));
            }
            let lines = vec![permits::at(stamp)];
            out.push(Asked { about: "hose", what: name(person), words, lines });
        }
    }
    out
}

/// The reserve around each alarm: before it, when the last mask was off, and after.
pub fn reserve(alarms: &[Alarm], readings: &[Read]) -> Vec<Asked> {
    let all: Vec<&Read> = readings.iter().filter(|r| r.what == "reserve").collect();
    let told = |r: Option<&&Read>| match r {
        Some(r) if r.item.is_empty() => format!("{} {} ({})", r.value, r.unit, r.at.site),
        Some(r) => format!("{}: {} {} ({})", r.item, r.value, r.unit, r.at.site),
        None => say!("not read").to_owned(),
    };
    let mut out = Vec::new();
    for a in alarms.iter().filter(|a| !a.out.is_empty() || !a.beside.is_empty()) {
        let off = a.out.iter().chain(&a.beside).map(|o| o.at_off.as_ref());
        let off: Option<Vec<&At>> = off.collect();
        let last = off.and_then(|all| all.into_iter().max_by_key(|at| at.place()));
        let place = |r: &&&Read| r.at.place();
        let before = all.iter().rfind(|r| place(r) < a.at.place());
        let inside =
            last.map(|last| all.iter().rfind(|r| place(r) > a.at.place() && place(r) < last.place()));
        let after = last.map(|last| all.iter().find(|r| place(r) > last.place()));
        let words = say!(
            "last read before it: {before}; last read until every mask was off: {inside}; first read after: {after}",
            before = told(before),
            inside = told(inside.flatten()),
            after = told(after.flatten())
        );
        let reads = [before, inside.flatten(), after.flatten()].into_iter().flatten();
        let mut lines: Vec<At> = reads.map(|r| r.at.clone()).collect();
        lines.extend(last.cloned());
        out.push(Asked {
            about: "reserve",
            what: say!("the reserve at {alarm}, {time}", alarm = a.kind(), time = a.when_site),
            words,
            lines,
        });
    }
    out
}
