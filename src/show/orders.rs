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
use crate::tongue::say;
use crate::view::StateWord;

/// On which air an order lets them leave, from the one that says nothing of it to the strictest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum By {
    /// On what they have.
    Any,
    /// On the reserve, if there is one.
    Reserve,
    /// On the reserve, changed to by hand.
    Change,
    /// On escape sets, where worn.
    Escape,
}

/// The orders of one kind of event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Orders {
    /// On which air they leave.
    pub by: By,
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
    /// Why nothing is left in the reserve, in words.
    pub spent: Option<&'a str>,
    /// Something else happened that only a supervisor ends; or the set was moved, plugged elsewhere or stopped.
    pub grave: bool,
    /// Carbon monoxide is what stands, or is among it: what may be done to the set is said by that.
    pub co_told: bool,
    /// The order by which those leave whom this one is not about.
    pub others: Option<&'a str>,
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

/// Whether carbon monoxide is among what suspended a permit and stands.
pub fn co_told(known: &Known<'_>, permit: &Permit) -> bool {
    let at = known.state.sets.get(&permit.set.id).and_then(|s| s.events.get("co"));
    known.life(permit) == StateWord::Suspended && at.is_some_and(|at| at.seq >= permit.since.seq)
}

/// Whether something happened since a permit was suspended that only a supervisor ends.
pub fn grave(known: &Known<'_>, permit: &Permit) -> bool {
    let Some(set) = known.state.sets.get(&permit.set.id) else { return false };
    let since = |at: &Stamp| at.seq >= permit.since.seq;
    let event = set.events.iter().any(|(what, at)| !ENDINGS.contains(&what.as_str()) && since(at));
    event || ["moved", "plugged", "stopped"].iter().any(|k| set.last.get(k).is_some_and(|h| since(&h.stamp)))
}

/// The order where nothing else was decided.
pub fn out() -> &'static str {
    say!("OUT NOW")
}

/// To the attendant, before everything else.
fn signal() -> &'static str {
    say!("Signal first. Then watch every hose and every outlet; count them out by name")
}

/// To the attendant.
fn nobody_in() -> &'static str {
    say!("Nobody goes in but the rescuers named")
}

/// What holds of the set where an order says nothing else. While somebody is looked for, the tally tells of nobody that they
/// are off its air.
pub fn not_under() -> &'static str {
    say!("Do not stop the set while anyone is on its air or looked for; at once only on smoke or fire at it")
}

/// The same where carbon monoxide was told: one order, whatever screen gives it. While nothing is left in the reserve, or there
/// is none, nobody is left to it.
fn of_the_set(given: Given<'_>) -> &'static str {
    if given.co_told && !given.no_reserve && given.spent.is_none() {
        say!(
            "Do not stop the set while anyone is on its air or looked for; at once only on smoke or fire at it, or, for the \
             carbon monoxide, when the reserve feeds"
        )
    } else {
        not_under()
    }
}

fn on_reserve_already() -> &'static str {
    say!("OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE FEEDS ALREADY")
}

/// Why nobody is sent onto the reserve of a set on which no permit is at work: nobody proved it for this start.
pub fn unproved() -> &'static str {
    say!("NOBODY KNOWS WHAT THE RESERVE HOLDS")
}

/// Where the reserve holds no air any more, and why.
fn on_no_reserve(why: &str) -> String {
    say!("OUT NOW, ON ESCAPE SETS WHERE WORN: {why}", why)
}

fn own_air() -> &'static str {
    say!("Is your own air good? If not, put on what you have and stand upwind")
}

fn masks() -> &'static str {
    say!("Masks stay on until they stand in clean air")
}

fn leave() -> &'static str {
    say!("Leave alarms, valves and filters as they are; keep mask, hose and a sample of the air")
}

fn at_zero() -> &'static str {
    say!(
        "Stop the set when the last is off air and nobody is looked for; at once only on smoke or fire at it"
    )
}

fn cause() -> &'static str {
    say!("the cause is found and mended")
}

fn refilled() -> &'static str {
    say!("the reserve is refilled, and read again")
}

fn tested() -> &'static str {
    say!("the air is tested again, carbon monoxide first")
}

fn co_read() -> &'static str {
    say!("carbon monoxide is read again")
}

fn rotation() -> &'static str {
    say!("rotation and pressure are proved again")
}

/// Whether an order is to one of them first, and to the others beside whatever else stands.
pub fn to_one(what: &str) -> bool {
    matches!(what, "hose" | "respirator" | "wearer_silent")
}

/// The order to whoever an event is not about, for one that is to somebody first; `None` where they leave on what they have.
pub fn to_others(stands: Option<&Orders>) -> Option<&str> {
    stands.filter(|o| o.by > By::Any).map(|o| o.wearers.as_str())
}

/// Of orders that stand at once the strictest: all leave on one air. Of two alike the first.
pub fn strictest(all: impl IntoIterator<Item = Orders>) -> Option<Orders> {
    all.into_iter().reduce(|first, next| if next.by > first.by { next } else { first })
}

/// The orders of a kind of event, by its word in the record.
pub fn of(what: &str, given: Given<'_>) -> Orders {
    let spent = given.spent.filter(|_| !given.no_reserve).map(on_no_reserve);
    let reserve = match &spent {
        _ if given.no_reserve => say!("OUT NOW, THERE IS NO RESERVE"),
        Some(spent) => spent,
        None => say!("OUT NOW, ON THE RESERVE"),
    };
    let co_told = given.co_told || what == "co";
    let not_under = of_the_set(Given { co_told, ..given });
    // Of foul air the stop at tally zero is told too, where nothing else is to be said.
    let at_zero = if co_told { not_under } else { at_zero() };
    let roll = say!("a roll call by voice found everyone");
    let by_reserve = if spent.is_some() { By::Escape } else { By::Reserve };
    // To somebody first, and to all others as it stands for them.
    let first =
        |own: &'static str, with: &dyn Fn(&str) -> String| given.others.map_or_else(|| own.to_owned(), with);
    let orders = |wearers: &str, attendant: &[&'static str], set, again: &[&'static str]| Orders {
        by: By::Any,
        set,
        wearers: wearers.to_owned(),
        attendant: [signal()].iter().chain(attendant).copied().collect(),
        again: again.iter().chain(&[roll, say!("a supervisor reinstates it")]).copied().collect(),
    };
    match what {
        "supply_low" | "change_over" => Orders {
            by: by_reserve,
            ..orders(
                reserve,
                &[
                    match spent {
                        Some(_) => say!("Nobody finishes anything"),
                        None => say!("Nobody finishes anything; the reserve is for leaving"),
                    },
                    leave(),
                ],
                not_under,
                &[cause(), rotation(), co_read(), refilled()],
            )
        },
        "reserve_low" => orders(
            out(),
            &[say!("Whatever the supply gauge says"), leave()],
            not_under,
            &[cause(), refilled()],
        ),
        "co" => {
            let (by, order) = match given.co {
                _ if given.no_reserve => (By::Any, out()),
                // Nobody changes to what holds no air.
                Some("change_to_reserve") if spent.is_some() => (By::Escape, reserve),
                // What they breathe now may be what the alarm is about, and it is being used up.
                Some("change_to_reserve") if given.on_reserve => (By::Escape, on_reserve_already()),
                Some("change_to_reserve") => (By::Change, say!("CHANGE TO RESERVE, OUT")),
                Some("escape_sets_out") => (By::Escape, say!("ESCAPE SETS, OUT, NOT THE RESERVE")),
                Some(_) => (By::Any, out()),
                // Where nobody decided, the reserve may hold the same air.
                None => (By::Escape, say!("OUT NOW, ON ESCAPE SETS WHERE WORN, NOT THE RESERVE")),
            };
            let attendant = [masks(), own_air(), nobody_in(), leave()];
            Orders { by, ..orders(order, &attendant, not_under, &[cause(), tested()]) }
        }
        // It speaks against what the machine gives, not against what was filled before: who is on the reserve leaves on it.
        "temperature" | "oil" if given.on_reserve || spent.is_some() => Orders {
            by: by_reserve,
            ..orders(
                reserve,
                &[say!("Take the air as foul"), masks(), own_air(), leave()],
                at_zero,
                &[cause(), refilled(), tested()],
            )
        },
        "temperature" | "oil" => Orders {
            by: By::Reserve,
            ..orders(
                reserve,
                &[
                    say!("Take the air as foul. Change to the reserve by hand if it does not change itself"),
                    masks(),
                    own_air(),
                    leave(),
                ],
                at_zero,
                &[cause(), tested()],
            )
        },
        "over_pressure" => orders(
            out(),
            &[
                say!("Stand clear of the outlet and its hose; shut no outlet that somebody breathes from"),
                leave(),
            ],
            not_under,
            &[cause(), say!("the outlet, its hose and respirator are looked over")],
        ),
        "hose" => orders(
            &first(say!("WHOSE HOSE IT IS: ESCAPE SET, OUT. ALL OTHERS OUT"), &|order| {
                say!("WHOSE HOSE IT IS: ESCAPE SET, OUT. ALL OTHERS: {order}", order)
            }),
            &[
                say!("Watch what the others still get"),
                say!(
                    "Shut that outlet only when its wearer breathes from the escape set. Never grab a whipping hose"
                ),
                leave(),
            ],
            not_under,
            &[cause(), say!("the hose is out of service")],
        ),
        "respirator" => orders(
            &first(say!("WHOSE RESPIRATOR IT IS: ESCAPE SET, OUT. ALL OTHERS OUT"), &|order| {
                say!("WHOSE RESPIRATOR IT IS: ESCAPE SET, OUT. ALL OTHERS: {order}", order)
            }),
            &[say!("Watch that hose until its wearer stands outside"), leave()],
            not_under,
            &[cause(), say!("the respirator is out of service")],
        ),
        "wearer_silent" => orders(
            &first(say!("ALL OTHERS OUT"), &|order| say!("ALL OTHERS: {order}", order)),
            &[say!("Rescue first: call now"), nobody_in(), say!("Keep the air on that hose"), leave()],
            not_under,
            &[cause()],
        ),
        "contact_lost" => orders(
            out(),
            &[
                say!("By the second means that was tried; look and listen along every hose"),
                say!("No answer: call the rescue"),
            ],
            not_under,
            &[cause(), say!("both means are tried again")],
        ),
        "fire" => orders(
            out(),
            &[
                say!("Call now"),
                say!("Smoke at the intake is foul air: as for carbon monoxide"),
                own_air(),
                nobody_in(),
            ],
            say!(
                "Smoke or fire at the set or its intake: stop it at once. Elsewhere: when the last is off air and nobody is \
                 looked for"
            ),
            &[cause(), tested()],
        ),
        "hazard_released" => {
            orders(out(), &[masks(), own_air(), nobody_in()], not_under, &[cause(), tested()])
        }
        "wind_turned" => orders(
            out(),
            &[say!("The intake may draw what the exhausts give: read carbon monoxide now"), own_air()],
            not_under,
            &[say!("the siting is judged again for this wind"), co_read()],
        ),
        "ventilation_lost" => orders(out(), &[say!("Lamps on, along the hoses")], not_under, &[cause()]),
        "attendant_unable" => orders(
            out(),
            &[say!("Whoever stands nearest takes the tally and calls for another attendant")],
            not_under,
            &[say!("another attendant or entry watch stands there, tally read back")],
        ),
        "moved" => orders(
            out(),
            &[own_air()],
            not_under,
            &[say!("where it stands is judged again, and its supply proved"), tested()],
        ),
        "plugged" => orders(
            out(),
            &[own_air()],
            not_under,
            &[say!("its supply is proved again"), rotation(), co_read()],
        ),
        "drill" | "false_alarm" if given.grave => orders(
            out(),
            &[say!(
                "Something else was entered, which a drill or a false alarm does not end: go by its order"
            )],
            not_under,
            &[cause()],
        ),
        "drill" | "false_alarm" => Orders {
            again: vec![
                roll,
                say!("supply, reserve and carbon monoxide are read"),
                say!("its operator reinstates it, within 15 min"),
            ],
            ..orders(out(), &[], not_under, &[])
        },
        "unknown_person" => orders(
            out(),
            &[
                say!("Stop them, name and number; on air already: they are on the tally, report it"),
                nobody_in(),
            ],
            not_under,
            &[say!("it is known who it was")],
        ),
        _ => orders(out(), &[leave()], not_under, &[cause()]),
    }
}
