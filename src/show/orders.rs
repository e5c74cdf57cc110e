//! What is called at an alarm or event: to the wearers, to the attendant, about the set; and what must be true before
//! anyone goes on this air again.
//!
//! Common practice, no source, but where another is named. The order at a carbon monoxide alarm was decided beforehand, from where the
//! reserve's air came from. Decides nothing.

use crate::gate::Verdict;
use crate::permit::bench::Bench;
use crate::permit::decide::Known;
use crate::permit::state::{Answer, ENDINGS, Permit, Stamp};
use crate::permit::walk;

/// The orders of one kind of event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Orders {
    /// To every wearer, in a few large words.
    pub wearers: String,
    /// To the attendant, in order.
    pub attendant: Vec<&'static str>,
    /// Whether the set may be stopped.
    pub set: &'static str,
    /// Before anyone goes on this air again.
    pub again: Vec<&'static str>,
}

/// What is known when the orders are given.
#[derive(Clone, Copy, Debug, Default)]
pub struct Given<'a> {
    /// The order at a carbon monoxide alarm, as it was decided: the choice of the form.
    pub co: Option<&'a str>,
    /// The set has no reserve.
    pub no_reserve: bool,
    /// The reserve feeds already, or did and was not filled since.
    pub on_reserve: bool,
    /// Something else happened that only a supervisor ends; or the set was moved, plugged elsewhere or stopped.
    pub grave: bool,
}

/// Steps whose answer is the order at a carbon monoxide alarm, with and without a reserve.
pub const CO_ORDERS: [&str; 2] = ["co_order", "co_order_without"];

/// The order at a carbon monoxide alarm that was decided on this permit, while it counts. Filled again since, or held by
/// its gate now, it does not: it may send people onto air that nobody knows.
pub fn decided<'a>(bench: &Bench<'a>) -> Option<&'a Answer> {
    let (id, answer) = CO_ORDERS.iter().find_map(|id| bench.answers(id, None).last().map(|a| (*id, *a)))?;
    let (_, step) = bench.form.step(id)?;
    let filled = bench.state.sets.get(&bench.permit.set.id).and_then(|s| s.last.get("filled"));
    let later = filled.is_some_and(|f| f.stamp.seq > answer.stamp.seq);
    // What the register says of the fill and what the form says need not agree.
    let own = filled.is_some_and(|f| matches!(f.data.text("from"), Some("this_set" | "not_known")));
    let foul = own && answer.value.as_deref() == Some("change_to_reserve");
    let shut = matches!(walk::judge(bench, step, None), Verdict::Shut(_));
    (!later && !shut && !foul).then_some(answer)
}

/// Whether something happened since a permit was suspended that only a supervisor ends.
pub fn grave(known: &Known<'_>, permit: &Permit) -> bool {
    let Some(set) = known.state.sets.get(&permit.set.id) else { return false };
    let since = |at: &Stamp| at.seq >= permit.since.seq;
    let event = set.events.iter().any(|(what, at)| !ENDINGS.contains(&what.as_str()) && since(at));
    event || ["moved", "plugged", "stopped"].iter().any(|k| set.last.get(k).is_some_and(|h| since(&h.stamp)))
}

/// The order where nothing else was decided.
pub const OUT: &str = "OUT NOW";
const ON_RESERVE: &str = "OUT NOW, ON THE RESERVE";
/// To the attendant, before everything else.
pub const SIGNAL: &str = "Signal first. Then watch every hose and every outlet; count them out by name";
const OWN_AIR: &str = "Is your own air good? If not, put on what you have and stand upwind";
const MASKS: &str = "Masks stay on until they stand in clean air";
/// To the attendant.
pub const NOBODY_IN: &str = "Nobody goes in but the rescuers named";
const LEAVE: &str = "Leave alarms, valves and filters as they are; keep mask, hose and a sample of the air";
/// What holds of the set where an order says nothing else.
pub const NOT_UNDER: &str = "Do not stop the set while anyone is on its air";
const NOT_TO_HELP: &str = "Do not stop the set to help. At once only on smoke or fire, or when the reserve feeds; else when the last is off air";
const AT_ZERO: &str = "Stop the set when the last is off air; at once only on smoke or fire";
const AT_FIRE: &str =
    "Smoke or fire at the set or its intake: stop it at once. Elsewhere: when the last is off air";
const CAUSE: &str = "the cause is found and mended";
const ROLL: &str = "a roll call by voice found everyone";
const REFILLED: &str = "the reserve is refilled, and read again";
const TESTED: &str = "the air is tested again, carbon monoxide first";
const CO_READ: &str = "carbon monoxide is read again";
const ROTATION: &str = "rotation and pressure are proved again";
const SUPERVISOR: &str = "a supervisor reinstates it";

/// The orders of a kind of event, by its word in the record.
pub fn of(what: &str, given: Given<'_>) -> Orders {
    let reserve = if given.no_reserve { "OUT NOW, THERE IS NO RESERVE" } else { ON_RESERVE };
    let orders = |wearers: &str, attendant: &[&'static str], set, again: &[&'static str]| Orders {
        wearers: wearers.to_owned(),
        attendant: [SIGNAL].iter().chain(attendant).copied().collect(),
        set,
        again: again.iter().chain(&[ROLL, SUPERVISOR]).copied().collect(),
    };
    match what {
        "supply_low" | "change_over" => orders(
            reserve,
            &["Nobody finishes anything; the reserve is for leaving", LEAVE],
            NOT_UNDER,
            &[CAUSE, ROTATION, CO_READ, REFILLED],
        ),
        "reserve_low" => {
            orders(OUT, &["Whatever the supply gauge says", LEAVE], NOT_UNDER, &[CAUSE, REFILLED])
        }
        "co" => {
            let order = match given.co {
                _ if given.no_reserve => "OUT NOW",
                // What they breathe now may be what the alarm is about, and it is being used up.
                Some("change_to_reserve") if given.on_reserve => {
                    "OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE FEEDS ALREADY"
                }
                Some("change_to_reserve") => "CHANGE TO RESERVE, OUT",
                Some("escape_sets_out") => "ESCAPE SETS, OUT, NOT THE RESERVE",
                Some(_) => "OUT NOW",
                // Where nobody decided, the reserve may hold the same air.
                None => "OUT NOW, ON ESCAPE SETS WHERE WORN, NOT THE RESERVE",
            };
            orders(order, &[MASKS, OWN_AIR, NOBODY_IN, LEAVE], NOT_TO_HELP, &[CAUSE, TESTED])
        }
        "temperature" | "oil" if given.on_reserve => orders(
            "OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE FEEDS ALREADY",
            &["Take the air as foul", MASKS, OWN_AIR, LEAVE],
            AT_ZERO,
            &[CAUSE, REFILLED, TESTED],
        ),
        "temperature" | "oil" => orders(
            reserve,
            &[
                "Take the air as foul. Change to the reserve by hand if it does not change itself",
                MASKS,
                OWN_AIR,
                LEAVE,
            ],
            AT_ZERO,
            &[CAUSE, TESTED],
        ),
        "over_pressure" => orders(
            OUT,
            &["Stand clear of the outlet and its hose; shut no outlet that somebody breathes from", LEAVE],
            NOT_UNDER,
            &[CAUSE, "the outlet, its hose and respirator are looked over"],
        ),
        "hose" => orders(
            "WHOSE HOSE IT IS: ESCAPE SET, OUT. ALL OTHERS OUT",
            &[
                "Watch what the others still get",
                "Shut that outlet only when its wearer breathes from the escape set. Never grab a whipping hose",
                LEAVE,
            ],
            NOT_UNDER,
            &[CAUSE, "the hose is out of service"],
        ),
        "respirator" => orders(
            "WHOSE RESPIRATOR IT IS: ESCAPE SET, OUT. ALL OTHERS OUT",
            &["Watch that hose until its wearer stands outside", LEAVE],
            NOT_UNDER,
            &[CAUSE, "the respirator is out of service"],
        ),
        "wearer_silent" => orders(
            "ALL OTHERS OUT",
            &["Rescue first: call now", NOBODY_IN, "Keep the air on that hose", LEAVE],
            NOT_UNDER,
            &[CAUSE],
        ),
        "contact_lost" => orders(
            OUT,
            &[
                "By the second means that was tried; look and listen along every hose",
                "No answer: call the rescue",
            ],
            NOT_UNDER,
            &[CAUSE, "both means are tried again"],
        ),
        "fire" => orders(
            OUT,
            &["Call now", "Smoke at the intake is foul air: as for carbon monoxide", OWN_AIR, NOBODY_IN],
            AT_FIRE,
            &[CAUSE, TESTED],
        ),
        "hazard_released" => orders(OUT, &[MASKS, OWN_AIR, NOBODY_IN], NOT_UNDER, &[CAUSE, TESTED]),
        "wind_turned" => orders(
            OUT,
            &["The intake may draw what the exhausts give: read carbon monoxide now", OWN_AIR],
            NOT_UNDER,
            &["the siting is judged again for this wind", CO_READ],
        ),
        "ventilation_lost" => orders(OUT, &["Lamps on, along the hoses"], NOT_UNDER, &[CAUSE]),
        "attendant_unable" => orders(
            OUT,
            &["Whoever stands nearest takes the tally and calls for another attendant"],
            NOT_UNDER,
            &["another attendant or entry watch stands there, tally read back"],
        ),
        "moved" | "plugged" => orders(
            OUT,
            &[OWN_AIR],
            NOT_UNDER,
            if what == "moved" {
                &["where it stands is judged again, and its supply proved", TESTED]
            } else {
                &["its supply is proved again", ROTATION, CO_READ]
            },
        ),
        "drill" | "false_alarm" if given.grave => orders(
            OUT,
            &["Something else was entered, which a drill or a false alarm does not end: go by its order"],
            NOT_UNDER,
            &[CAUSE],
        ),
        "drill" | "false_alarm" => Orders {
            again: vec![
                ROLL,
                "supply, reserve and carbon monoxide are read",
                "its operator reinstates it, within 15 min",
            ],
            ..orders(OUT, &[], NOT_UNDER, &[])
        },
        "unknown_person" => orders(
            OUT,
            &["Stop them, name and number; on air already: they are on the tally, report it", NOBODY_IN],
            NOT_UNDER,
            &["it is known who it was"],
        ),
        _ => orders(OUT, &[LEAVE], NOT_UNDER, &[CAUSE]),
    }
}
