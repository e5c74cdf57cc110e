//! Rules of the lifecycle that the table of states does not hold.

use super::{Permit, State};
use crate::record::chain::RULES;
use crate::record::json::Json;
use crate::record::line::{Broken, Line, broken};
use crate::view::StateWord;

impl State {
    /// Rules of the lifecycle that the table of states does not hold.
    pub(super) fn check_rules(&self, permit: &Permit, life: StateWord, line: &Line) -> Result<(), Broken> {
        let number = &permit.number;
        match line.kind.name {
            "declare" if permit.for_shutdown => {
                broken("state", format!("{number} was opened for a shutdown and cannot be declared"))
            }
            "answer" => {
                let own = line.data.text("form") == Some(permit.form.hash.as_str()) && !permit.for_shutdown;
                let on = self.known_tally_of_set(&permit.set.id);
                if !own && on > 0 {
                    return broken(
                        "state",
                        format!("a shutdown answer stands while {on} are on air from {}", permit.set.id),
                    );
                }
                check_again(permit, line)?;
                check_deviation(permit, line, own, life)
            }
            "countersign" => check_deviations(permit, line),
            "hand_back" => {
                if life == StateWord::Draft && !permit.for_shutdown {
                    return broken(
                        "state",
                        format!("{number} is a draft: it is declared or cancelled, not handed back"),
                    );
                }
                self.check_nobody(number, "hand_back")?;
                match line.data.text("left_running") {
                    Some(other) => match self.permits.get(other) {
                        Some(o)
                            if other != number
                                && o.set.id == permit.set.id
                                && (self.life(o, &line.time) == StateWord::Live || o.rules != RULES) =>
                        {
                            Ok(())
                        }
                        None if self.of_one || self.missing => Ok(()),
                        Some(_) | None => broken(
                            "state",
                            format!(
                                "`left_running` names {other}, which is no other live permit of {}",
                                permit.set.id
                            ),
                        ),
                    },
                    None if self.known_tally_of_set(&permit.set.id) > 0 => broken(
                        "state",
                        format!("`hand_back` stands while people are on air from {}", permit.set.id),
                    ),
                    None => Ok(()),
                }
            }
            "cancel" => self.check_nobody(number, "cancel"),
            "close" => self.check_nobody(number, "close"),
            _ => Ok(()),
        }
    }

    /// For rules: after a volume that is missing nobody can say who is still on air.
    pub(super) fn known_tally_of_set(&self, set: &str) -> usize {
        if self.missing { 0 } else { self.tally_of_set(set) }
    }

    pub(super) fn check_nobody(&self, number: &str, what: &str) -> Result<(), Broken> {
        match self.tally_of_permit(number) {
            0 => Ok(()),
            n => broken("state", format!("`{what}` stands while {n} are on air on {number}")),
        }
    }
}

/// Whoever answers a step again says what was done since: every answer stays, and so does its why. That a
/// wait is over (`done` after `begun`) is no new answer.
fn check_again(permit: &Permit, line: &Line) -> Result<(), Broken> {
    let data = &line.data;
    let (form, step) = (data.text("form").unwrap_or_default(), data.text("step").unwrap_or_default());
    let Some(last) = permit.last_answer(form, step, data.text("item")) else { return Ok(()) };
    let over = last.value.as_deref() == Some("begun") && data.text("value") == Some("done");
    if over || data.has("again") || data.has("deviation") {
        return Ok(());
    }
    broken("again", format!("`{step}` is answered again, and nothing says what was done since"))
}

/// A deviation leaves an answer of the permit's own form as it is, before the permit is issued.
fn check_deviation(permit: &Permit, line: &Line, own: bool, life: StateWord) -> Result<(), Broken> {
    let data = &line.data;
    if !data.has("deviation") {
        return Ok(());
    }
    if !own || !matches!(life, StateWord::Draft | StateWord::Declared) {
        return broken(
            "deviation",
            format!("a deviation does not stand here: {} is {}", permit.number, life.word()),
        );
    }
    let (form, step) = (data.text("form").unwrap_or_default(), data.text("step").unwrap_or_default());
    match permit.last_answer(form, step, data.text("item")) {
        Some(a) if a.value.is_some() && a.deviation.is_none() => Ok(()),
        Some(_) => broken("deviation", format!("`{step}` was left out, or left as a deviation before")),
        None => broken("deviation", format!("`{step}` was not answered; there is nothing to leave as it is")),
    }
}

/// A countersignature names exactly the deviations left, and narrows the permit where there are any.
fn check_deviations(permit: &Permit, line: &Line) -> Result<(), Broken> {
    let left: Vec<String> = permit.deviations().iter().map(|a| a.key()).collect();
    let named: Vec<String> = line.data.texts("deviations").into_iter().map(str::to_owned).collect();
    if left != named {
        let all = |k: &[String]| if k.is_empty() { "none".to_owned() } else { k.join(", ") };
        return broken("deviation", format!("names {}, left are {}", all(&named), all(&left)));
    }
    let narrows = matches!(line.data.get("limits"), Some(Json::Obj(m)) if !m.is_empty());
    if !left.is_empty() && !narrows {
        return broken("deviation", "accepts deviations and narrows nothing");
    }
    Ok(())
}
