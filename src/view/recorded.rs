//! Words of the record for people: `wearer_silent`, `read_wrong`, `air_side` stand there for programs.
//!
//! Always: in English a word is shown as it stands, without its underscores; one that is not here is shown so in every
//! language. Not here: what people typed, ids of steps, names.

use crate::tongue::{Tongue, say};

/// A machine word of the record as people read it.
pub fn recorded(word: &str) -> String {
    known(word).map_or_else(|| word.replace('_', " "), str::to_owned)
}

/// What somebody typed, as it stands; where nothing was typed, what stands in its place was written in the language of that
/// moment, and is told in the one bound here.
pub fn typed(text: &str) -> String {
    let nothing: [fn() -> &'static str; 2] = [|| say!("no reason given"), || say!("no words given")];
    let kept =
        |words: &&fn() -> &'static str| Tongue::ALL.iter().any(|tongue| tongue.within(**words) == text);
    nothing.iter().find(kept).map_or_else(|| text.to_owned(), |words| words().to_owned())
}

fn known(word: &str) -> Option<&'static str> {
    event(word).or_else(|| done(word)).or_else(|| role(word)).or_else(|| other(word)).or_else(|| line(word))
}

/// What an event was.
fn event(word: &str) -> Option<&'static str> {
    Some(match word {
        "supply_low" => say!("supply low"),
        "change_over" => say!("change over"),
        "reserve_low" => say!("reserve low"),
        "co" => say!("co"),
        "temperature" => say!("temperature"),
        "oil" => say!("oil"),
        "over_pressure" => say!("over pressure"),
        "hose" => say!("hose"),
        "respirator" => say!("respirator"),
        "wearer_silent" => say!("wearer silent"),
        "contact_lost" => say!("contact lost"),
        "fire" => say!("fire"),
        "hazard_released" => say!("hazard released"),
        "wind_turned" => say!("wind turned"),
        "ventilation_lost" => say!("ventilation lost"),
        "attendant_unable" => say!("attendant unable"),
        "unknown_person" => say!("unknown person"),
        "called" => say!("called"),
        "drill" => say!("drill"),
        "false_alarm" => say!("false alarm"),
        "other" => say!("other"),
        _ => return None,
    })
}

/// What was done before a step was answered again.
fn done(word: &str) -> Option<&'static str> {
    Some(match word {
        "refilled" => say!("refilled"),
        "changed" => say!("changed"),
        "tightened" => say!("tightened"),
        "cleaned" => say!("cleaned"),
        "moved" => say!("moved"),
        "waited" => say!("waited"),
        "read_wrong" => say!("read wrong"),
        "asked_again" => say!("asked again"),
        _ => return None,
    })
}

/// As what somebody signs or stands there.
fn role(word: &str) -> Option<&'static str> {
    Some(match word {
        "operator" => say!("operator"),
        "supervisor" => say!("supervisor"),
        "approver" => say!("approver"),
        "enroller" => say!("enroller"),
        "attendant" => say!("attendant"),
        "auditor" => say!("auditor"),
        "tester" => say!("tester"),
        "entry_watch" => say!("entry watch"),
        _ => return None,
    })
}

/// Answers, gauges, what was filled from where, what was serviced, what a line is.
fn other(word: &str) -> Option<&'static str> {
    Some(match word {
        "yes" => say!("yes"),
        "no" => say!("no"),
        "begun" => say!("begun"),
        "done" => say!("done"),
        "supply" => say!("supply"),
        "reserve" => say!("reserve"),
        "this_set" => say!("this set"),
        "other_tested" => say!("other tested"),
        "certificate" => say!("certificate"),
        "not_known" => say!("not known"),
        "filter" => say!("filter"),
        "air_side" => say!("air side"),
        "filled" => say!("filled"),
        "serviced" => say!("serviced"),
        "started" => say!("started"),
        "stopped" => say!("stopped"),
        "plugged" => say!("plugged"),
        "set" => say!("set"),
        "site" => say!("site"),
        "checklist" => say!("checklist"),
        _ => return None,
    })
}

/// What a line of a permit is, and where what a job names stands in a site file.
fn line(word: &str) -> Option<&'static str> {
    Some(match word {
        "answer" => say!("answer"),
        "reading" => say!("reading"),
        "roll_call" => say!("roll call"),
        "job" => say!("job"),
        "declare" => say!("declare"),
        "countersign" => say!("countersign"),
        "refuse" => say!("refuse"),
        "reinstate" => say!("reinstate"),
        "suspend" => say!("suspend"),
        "extend" => say!("extend"),
        "hand_over" => say!("hand over"),
        "relieve" => say!("relieve"),
        "hand_back" => say!("hand back"),
        "close" => say!("close"),
        "cancel" => say!("cancel"),
        "event" => say!("event"),
        "call_out" => say!("call out"),
        "place" => say!("place"),
        "supply_point" => say!("supply point"),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::{AGAIN, EVENTS};
    use crate::trust::Role;

    #[test]
    fn every_word_that_people_are_shown_is_known() {
        let roles = Role::ALL.map(Role::word);
        for word in EVENTS.iter().chain(AGAIN).chain(&roles) {
            assert_eq!(known(word), Some(word.replace('_', " ").as_str()), "{word}");
        }
        // Kept by a station that spoke Polish.
        let kept = Tongue::Polish.within(|| say!("no reason given"));
        assert_ne!(kept, "no reason given");
        assert_eq!(
            (typed(kept), typed("the horn was leant on")),
            ("no reason given".into(), "the horn was leant on".into())
        );
        assert_eq!(
            (recorded("entry_watch"), recorded("hand_on_it")),
            ("entry watch".into(), "hand on it".into())
        );
    }
}
