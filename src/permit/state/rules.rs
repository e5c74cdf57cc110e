//! Rules of the lifecycle that the table of states does not hold.

use super::{ENDINGS, GRAVE, Permit, State};
use crate::record::json::Json;
use crate::record::line::{Broken, Line, broken};
use crate::tongue::say;
use crate::trust::Role;
use crate::view::StateWord;

/// The operator reinstates within this of the end of a drill or false alarm, seconds. Common practice, no source.
const OPERATOR_WITHIN: i64 = 15 * 60;
/// And so many times on one permit. Common practice, no source.
const OPERATOR_TIMES: usize = 2;

/// Why the operator may not reinstate a permit without a supervisor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MayNot {
    /// After an event of this kind.
    Grave(&'static str),
    /// The set was moved, plugged or stopped.
    SetWas(&'static str),
    /// Neither a drill nor a false alarm was entered.
    NothingEnded,
    /// That was too long ago.
    TooLate,
    /// They did already, and again.
    TooOften,
}

impl MayNot {
    /// For people.
    pub fn words(self) -> String {
        match self {
            MayNot::Grave(event) => say!("after `{event}` a supervisor does", event),
            MayNot::SetWas("moved") => say!("after the set was moved a supervisor does").into(),
            MayNot::SetWas("plugged") => say!("after the set was plugged a supervisor does").into(),
            MayNot::SetWas(_) => say!("after the set was stopped a supervisor does").into(),
            MayNot::NothingEnded => say!("neither a drill nor a false alarm was entered since").into(),
            MayNot::TooLate => {
                say!("more than {min} min after it a supervisor does", min = OPERATOR_WITHIN / 60)
            }
            MayNot::TooOften => {
                say!("{times} times on one permit are enough; a supervisor does", times = OPERATOR_TIMES)
            }
        }
    }
}

impl State {
    /// Rules of the lifecycle that the table of states does not hold.
    pub(super) fn check_rules(&self, permit: &Permit, life: StateWord, line: &Line) -> Result<(), Broken> {
        let number = &permit.number;
        match line.kind.name {
            "declare" if permit.for_shutdown => broken(
                "state",
                say!("{permit} was opened for a shutdown and cannot be declared", permit = number),
            ),
            "answer" => {
                let own = line.data.text("form") == Some(permit.form.hash.as_str()) && !permit.for_shutdown;
                let on = self.known_tally_of_set(&permit.set.id);
                if !own && on > 0 {
                    return broken(
                        "state",
                        say!(
                            "a shutdown answer stands while {on} are on air from {set}",
                            on,
                            set = permit.set.id
                        ),
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
                        say!(
                            "{permit} is a draft: it is declared or cancelled, not handed back",
                            permit = number
                        ),
                    );
                }
                self.check_nobody(number, "hand_back")?;
                match line.data.text("left_running") {
                    Some(other) => match self.brief(other, &line.time) {
                        Some(o)
                            if other != number
                                && o.set == permit.set.id
                                && (o.life == StateWord::Live || !o.known_rules) =>
                        {
                            Ok(())
                        }
                        None if self.of_one || self.missing => Ok(()),
                        Some(_) | None => broken(
                            "state",
                            say!(
                                "`left_running` names {other}, which is no other live permit of {set}",
                                other,
                                set = permit.set.id
                            ),
                        ),
                    },
                    None if self.known_tally_of_set(&permit.set.id) > 0 => broken(
                        "state",
                        say!("`hand_back` stands while people are on air from {set}", set = permit.set.id),
                    ),
                    None => Ok(()),
                }
            }
            "reinstate" => self.check_reinstate(permit, line),
            "carried" => self.check_carried(permit, line),
            "extend" | "hand_over" => self.check_half(permit, line),
            "cancel" => self.check_nobody(number, "cancel"),
            "close" => self.check_nobody(number, "close"),
            _ => Ok(()),
        }
    }

    /// For rules: after a volume that is missing nobody can say who is still on air.
    pub(super) fn known_tally_of_set(&self, set: &str) -> usize {
        if self.missing { 0 } else { self.tally_of_set(set) }
    }

    /// Nobody on this air, everyone found since; by the operator only after a drill or false alarm, soon, and seldom.
    fn check_reinstate(&self, permit: &Permit, line: &Line) -> Result<(), Broken> {
        let on = self.known_tally_of_set(&permit.set.id);
        if on > 0 {
            return broken(
                "state",
                say!("`reinstate` stands while {on} are on air from {set}", on, set = permit.set.id),
            );
        }
        let set = self.sets.get(&permit.set.id);
        if set.and_then(|s| s.rolled.as_ref()).is_none_or(|r| r.seq <= permit.since.seq) {
            return broken("state", say!("`reinstate` stands without a roll call since that found everyone"));
        }
        let Some(act) = &line.act else { return broken("state", say!("`reinstate` is signed")) };
        let declared = permit.last_signed("declare").map(|s| s.stamp.by.as_str());
        if act.role == Role::Supervisor {
            return match declared {
                Some(by) if by == act.by => {
                    broken("state", say!("`reinstate` as supervisor by the person who declared"))
                }
                Some(_) | None => Ok(()),
            };
        }
        match self.operator_may_not(permit, &line.time) {
            Some(why) => broken("state", say!("`reinstate` by the operator: {why}", why = why.words())),
            None => Ok(()),
        }
    }

    /// Why the operator may not reinstate a permit without a supervisor at a time; `None` if they may.
    pub fn operator_may_not(&self, permit: &Permit, time: &str) -> Option<MayNot> {
        let set = self.sets.get(&permit.set.id);
        let since =
            |kind: &&&str| set.and_then(|s| s.events.get(**kind)).is_some_and(|e| e.seq >= permit.since.seq);
        if let Some(grave) = GRAVE.iter().find(since) {
            return Some(MayNot::Grave(grave));
        }
        let moved = ["moved", "plugged", "stopped"]
            .into_iter()
            .find(|kind| set.and_then(|s| s.last.get(kind)).is_some_and(|h| h.stamp.seq >= permit.since.seq));
        if let Some(kind) = moved {
            return Some(MayNot::SetWas(kind));
        }
        let ended = ENDINGS.iter().filter_map(|k| set?.events.get(*k)).max_by_key(|e| e.seq);
        let Some(ended) = ended.filter(|e| e.seq >= permit.since.seq) else {
            return Some(MayNot::NothingEnded);
        };
        let waited = crate::time::seconds(time) - crate::time::seconds(&ended.time);
        if waited > OPERATOR_WITHIN {
            return Some(MayNot::TooLate);
        }
        let times =
            permit.signed.iter().filter(|s| s.kind == "reinstate" && s.role == Role::Operator.word()).count();
        (times >= OPERATOR_TIMES).then_some(MayNot::TooOften)
    }

    pub(super) fn check_nobody(&self, number: &str, what: &str) -> Result<(), Broken> {
        match self.tally_of_permit(number) {
            0 => Ok(()),
            n => broken(
                "state",
                say!(
                    "`{kind}` stands while {on} are on air on {permit}",
                    kind = what,
                    on = n,
                    permit = number
                ),
            ),
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
    broken("again", say!("`{step}` is answered again, and nothing says what was done since", step))
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
            say!(
                "a deviation does not stand here: {permit} is {state}",
                permit = permit.number,
                state = life.word()
            ),
        );
    }
    let (form, step) = (data.text("form").unwrap_or_default(), data.text("step").unwrap_or_default());
    match permit.last_answer(form, step, data.text("item")) {
        Some(a) if a.value.is_some() && a.deviation.is_none() => Ok(()),
        Some(_) => broken("deviation", say!("`{step}` was left out, or left as a deviation before", step)),
        None => {
            broken("deviation", say!("`{step}` was not answered; there is nothing to leave as it is", step))
        }
    }
}

/// A countersignature names exactly the deviations left, and narrows the permit where there are any.
fn check_deviations(permit: &Permit, line: &Line) -> Result<(), Broken> {
    let left: Vec<String> = permit.deviations().iter().map(|a| a.key()).collect();
    let named: Vec<String> = line.data.texts("deviations").into_iter().map(str::to_owned).collect();
    if left != named {
        let all = |k: &[String]| if k.is_empty() { say!("none").to_owned() } else { k.join(", ") };
        return broken(
            "deviation",
            say!("names {named}, left are {left}", named = all(&named), left = all(&left)),
        );
    }
    let narrows = matches!(line.data.get("limits"), Some(Json::Obj(m)) if !m.is_empty());
    if !left.is_empty() && !narrows {
        return broken("deviation", say!("accepts deviations and narrows nothing"));
    }
    Ok(())
}
