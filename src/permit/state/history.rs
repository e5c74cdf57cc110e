//! Lines that concern the whole history: a next volume, a clock set right, reports written aside; and lines
//! whose permit was opened where nobody here can look.

use super::{Stamp, State, StateWord, stamp};
use crate::record::aside::{Entry, entered};
use crate::record::line::{Broken, Line};

impl State {
    /// Reports that were written aside: each does what a line of its kind does.
    pub(super) fn take_entered(&mut self, line: &Line) -> Result<(), Broken> {
        for entry in entered(&line.data) {
            self.take_entry(line, &entry)?;
        }
        Ok(())
    }

    /// One such report, told by a line, or still written aside after it.
    pub fn take_entry(&mut self, line: &Line, entry: &Entry) -> Result<(), Broken> {
        let Some(kind) = crate::record::kinds::kind(&entry.kind) else { return Ok(()) };
        let at = entry.data.text("at").unwrap_or(&entry.at).to_owned();
        let data = entry.data.clone();
        let data = if data.has("at") { data } else { data.with("at", at.as_str()) };
        let report = line.reporting(kind, data, entry.by.as_deref(), entry.permit.as_deref());
        match &report.permit {
            Some(number) if self.knows(number) => {
                self.take_permit_line(&number.clone(), &report)?;
            }
            Some(_) if self.of_one => self.take_beside(&report),
            Some(_) => self.take_unknown(&report),
            None => self.take_set_line(&report),
        }
        Ok(())
    }

    /// The clock is set back: what had lapsed by the wrong one stays so, what was live is suspended.
    pub(super) fn set_clock(&mut self, line: &Line) {
        let stamp = stamp(line, self.place());
        // What is at hand was chosen by the wrong clock too: too little may be left.
        let permits = self.permits.all_of_them();
        for number in permits.open_where(|p| self.life(p, &self.time) == StateWord::Lapsed) {
            self.change(&number, &stamp, StateWord::Lapsed);
        }
        // Times by the wrong clock are later than any that will be told.
        for p in self.on_air.iter_mut().filter(|p| p.went_on > line.time) {
            line.time.as_str().clone_into(&mut p.went_on);
        }
        self.hold_back_all(&stamp);
    }

    pub(super) fn hold_back_all(&mut self, stamp: &Stamp) {
        for number in self.permits.open_where(|_| true) {
            self.hold_back(&number, stamp);
        }
    }

    /// A later volume: what was live is suspended, and who is on air stays on air.
    pub(super) fn take_volume(&mut self, line: &Line) {
        let before = line.data.get("before").map(|b| b.text("log").unwrap_or_default());
        if before.is_some_and(|log| !self.logs.iter().any(|l| l == log)) {
            // Whatever happened in the volume that is missing, it may have changed everything.
            self.missing = true;
            self.permits.clear();
            self.forget_the_past();
            self.sets.clear();
            self.beside.clear();
        }
        self.logs.push(line.log.to_string());
        self.volume += 1;
        let stamp = stamp(line, self.place());
        self.hold_back_all(&stamp);
    }

    /// A line of a permit opened in a volume that is missing. Of which set is not known, so that it
    /// counts for no rule; but people it puts on air are shown.
    pub(super) fn take_unknown(&mut self, line: &Line) {
        if matches!(line.kind.name, "on_air" | "in" | "out" | "off_air") {
            let stamp = stamp(line, self.place());
            self.take_tally("", line.permit.as_deref(), line, stamp);
        }
    }

    /// In an excerpt: an answer to the form that its permit was opened on, for work.
    fn of_own_form(&self, line: &Line) -> bool {
        let own = self.permits.values().next();
        own.is_some_and(|p| !p.for_shutdown && line.data.text("form") == Some(p.form.hash.as_str()))
    }

    /// Takes in a line of another permit of the same set, in an excerpt of one: what it does to the set.
    pub fn take_beside(&mut self, line: &Line) {
        self.count += 1;
        line.time.as_str().clone_into(&mut self.time);
        let stamp = stamp(line, self.place());
        let Some(set) = self.permits.values().next().map(|p| p.set.id.clone()) else {
            if line.kind.name == "answer" {
                self.keep_beside(line, stamp);
            }
            return;
        };
        match line.kind.name {
            "event" => {
                self.note_event(&set, line, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "call_out" => {
                self.call_out(&set, &stamp);
                self.hold_back_set(&set, &stamp);
            }
            "roll_call" => self.roll_call(&set, line, &stamp),
            // Of another permit's answers an excerpt holds those that its own lines carry, and those of a shutdown.
            "answer" if self.of_own_form(line) => {
                self.keep_beside(line, stamp);
            }
            "answer" => {
                self.sets.entry(set.clone()).or_default().shut_down = Some(stamp.clone());
                self.hold_back_set(&set, &stamp);
            }
            "on_air" | "in" | "out" | "off_air" => {
                self.take_tally(&set, line.permit.as_deref(), line, stamp);
            }
            _ => {}
        }
    }
}
