//! Acts in two lines: a later end asked for and given, a permit handed over and taken. And what is seen of a set
//! beside its permits: another register that holds it, drills.
//!
//! Always: the first half changes nothing. Not here: who may sign which (`rules`).

use super::{Drill, Extended, Permit, Stamp, State, Whereabouts, signed, text};
use crate::record::json::Json;
use crate::record::line::{Broken, Line, broken};
use crate::tongue::say;
use crate::trust::Role;

impl State {
    pub(super) fn check_half(&self, permit: &Permit, line: &Line) -> Result<(), Broken> {
        let Some(act) = &line.act else { return broken("state", say!("it is signed")) };
        let kind = line.kind.name;
        let part = line.data.text("part").unwrap_or_default();
        let wanted = if part == "given" { Role::Supervisor } else { Role::Operator };
        if act.role != wanted {
            return broken(
                "person",
                say!(
                    "`{kind}`, `{part}`, is signed as {role}",
                    kind,
                    part,
                    role = crate::view::recorded(wanted.word())
                ),
            );
        }
        match part {
            "asked" | "outgoing" => {
                let holder = permit.job.text("holder");
                let to = line.data.text("to");
                if holder != Some(act.by.as_str()) {
                    return broken(
                        "person",
                        say!("`{kind}`, `{part}`, is signed by another than the holder", kind, part),
                    );
                }
                if to == Some(act.by.as_str()) {
                    return broken("person", say!("`hand_over` to the one who holds it"));
                }
                Ok(())
            }
            _ => {
                let pending = permit.pending.as_ref().filter(|p| p.kind == kind);
                let Some(first) = pending.filter(|p| Some(p.stamp.hash.as_str()) == line.data.text("target"))
                else {
                    return broken(
                        "target",
                        say!("`target` is not the first half of `{kind}` that stands", kind),
                    );
                };
                if first.stamp.by == act.by {
                    return broken("person", say!("both halves of `{kind}` by one person", kind));
                }
                if kind == "hand_over" {
                    if first.data.text("to") != Some(act.by.as_str()) {
                        return broken("person", say!("`hand_over` is taken by another than was named"));
                    }
                    return match permit.issued_by(&act.by) {
                        true => broken("person", say!("who issued it does not hold it")),
                        false => Ok(()),
                    };
                }
                let declared = permit.last_signed("declare").map(|s| s.stamp.by.as_str());
                if declared == Some(act.by.as_str()) {
                    return broken("person", say!("the person who declared may not extend"));
                }
                let (old, new) = (permit.valid_to.as_deref(), line.data.text("valid_to"));
                if new <= old {
                    return broken("state", say!("`extend` gives no later end"));
                }
                Ok(())
            }
        }
    }

    pub(super) fn take_half(&mut self, number: &str, line: &Line, stamp: &Stamp) {
        let Some(act) = &line.act else { return };
        match line.data.text("part") {
            Some("asked" | "outgoing") => {
                let first = signed(line, act, stamp);
                self.with(number, |p| p.pending = Some(first));
            }
            Some("given") => {
                let valid_to = text(&line.data, "valid_to");
                self.with(number, |p| {
                    let Some(asked) = p.pending.take() else { return };
                    p.valid_to = valid_to;
                    let ends = match asked.data.get("entry_permits") {
                        Some(Json::Arr(all)) => all
                            .iter()
                            .filter_map(|e| Some((e.text("id")?.to_owned(), e.text("until")?.to_owned())))
                            .collect(),
                        Some(_) | None => std::collections::BTreeMap::new(),
                    };
                    let mut entry_permits =
                        p.extended.last().map(|e| e.entry_permits.clone()).unwrap_or_default();
                    entry_permits.extend(ends);
                    let until = text(&asked.data, "until").unwrap_or_default();
                    p.extended.push(Extended { stamp: stamp.clone(), until, entry_permits });
                });
            }
            Some(_) | None => {
                let by = act.by.clone();
                self.with(number, |p| {
                    let Some(first) = p.pending.take() else { return };
                    p.job = p.job.clone().with("holder", by.as_str());
                    if first.data.text("takes") == Some("shift") {
                        p.shifts.push(stamp.clone());
                    }
                });
            }
        }
    }

    pub(super) fn check_open(&self, permit: &Permit) -> Result<(), Broken> {
        let set = &permit.set.id;
        if self.sets.get(set).is_some_and(|s| s.released.is_some()) {
            return broken("state", say!("`open` on {set}, which was released and not taken again", set));
        }
        let Some(before) = &permit.follows else { return Ok(()) };
        match self.brief(before, &permit.opened.time) {
            Some(p) if !p.known_rules || p.life.over() => Ok(()),
            None if self.of_one || self.missing => Ok(()),
            Some(_) | None => broken(
                "state",
                say!("`follows` names {permit}, which has not been handed back or ended", permit = before),
            ),
        }
    }

    /// Another register was read: does it hold the set too?
    pub(super) fn witness(&mut self, set: &str, line: &Line, stamp: &Stamp) {
        let log = line.data.text("log").unwrap_or_default().to_owned();
        let held_by = &mut self.sets.entry(set.to_owned()).or_default().held_by;
        if line.data.has("held") {
            held_by.insert(log, (text(&line.data, "station").unwrap_or_default(), stamp.clone()));
        } else {
            held_by.remove(&log);
        }
    }

    /// A drill begins: the way out of everybody who is in is measured from here.
    pub(super) fn begin_drill(&mut self, set: &str, line: &Line, stamp: &Stamp) {
        let inside = |p: &&super::OnAir| p.set == set && p.whereabouts == Whereabouts::In;
        let out = self.on_air.iter().filter(inside).map(|p| (p.person.clone(), None)).collect();
        let job = line.permit.as_ref().and_then(|n| self.permits.get(n)).or_else(|| {
            let on = self.on_air.iter().find(inside)?;
            self.permits.get(on.permit.as_deref()?)
        });
        let place = job.and_then(|p| p.job.text("place")).unwrap_or_default().to_owned();
        let began = line.data.text("at").unwrap_or(&stamp.time).to_owned();
        let drill = Drill { stamp: stamp.clone(), began, place, out };
        if !drill.out.is_empty() {
            self.sets.entry(set.to_owned()).or_default().drills.push(drill);
        }
    }

    /// Mask off: if a drill waits for this person, that is when they were out.
    pub(super) fn off_in_drill(&mut self, set: &str, person: &str, at: &str) {
        let Some(drill) = self.sets.get_mut(set).and_then(|s| s.drills.last_mut()) else { return };
        let seconds = crate::time::seconds(at) - crate::time::seconds(&drill.began);
        if let Some(out @ None) = drill.out.get_mut(person) {
            *out = Some(seconds.max(0));
        }
    }
}
