//! The attendant's card: what is needed at an alarm when the laptop is gone, and room to go on by hand.
//!
//! In: everything that is known, as of the last line. Out: [`CardView`], final words. Pressures only, never a time or a
//! margin: whoever holds the card would wait for it. Whoever is on the set's air stands on it, planned or not. Not here:
//! how it is drawn (`paper`), what the orders are (`orders`).

use super::orders::{self, Given};
use super::{Much, limited, named, of_permit, out_of_limits, page_one, view_of, warned_too_late};
use crate::permit::bench::Bench;
use crate::permit::decide::{Known, crew};
use crate::permit::gone;
use crate::permit::state::{OnAir, Permit};
use crate::record::line::Line;
use crate::time::{Moment, clock, seconds};
use crate::tongue::{Tongue, say};
use crate::view::{About, CardView, OrderView, PermitView, Statement, WearerView};

/// Alarms whose orders stand on the card, the most dangerous first; those of one row have one order. Whatever is named
/// nowhere has the last.
pub const ALARMS: [&[&str]; 8] = [
    &["co"],
    &["supply_low", "change_over"],
    &["temperature", "oil"],
    &["wearer_silent"],
    &["hose"],
    &["respirator"],
    &["fire"],
    &[
        "reserve_low",
        "over_pressure",
        "contact_lost",
        "hazard_released",
        "wind_turned",
        "ventilation_lost",
        "attendant_unable",
        "unknown_person",
        "other",
    ],
];

/// What those of a row are called together.
fn alarm(kinds: &[&str]) -> &'static str {
    match kinds {
        ["co", ..] => say!("Carbon monoxide"),
        ["supply_low", ..] => say!("Supply low or lost, change-over"),
        ["temperature", ..] => say!("High temperature, oil in the air"),
        ["wearer_silent", ..] => say!("A wearer does not answer"),
        ["hose", ..] => say!("Something is wrong with a hose"),
        ["respirator", ..] => say!("Something is wrong with a respirator"),
        ["fire", ..] => say!("Fire or smoke"),
        _ => say!("Any other alarm, any doubt"),
    }
}

const CALLS: [About; 4] = [About::Rescue, About::Assembly, About::Radio, About::EntryWatch];
const LEAVE_BY: [About; 3] = [About::LeaveBy, About::ReserveAtLeast, About::NoReserve];
const LIMITS: [About; 5] = [About::CoLimit, About::ReadEvery, About::MostOnAir, About::Spell, About::WayOut];

/// The card of a permit as of the chain's last line, in the language asked for, else the site's.
pub fn card(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    copy: Option<(u64, &str)>,
    asked: Option<Tongue>,
) -> Result<CardView, String> {
    of_permit(known, number, asked, |permit, texts| {
        let view = view_of(known, lines, permit, texts, copy, Much::First)?;
        let decided = orders::decided(&Bench::new(known.state, permit, texts, known.now));
        let spent = gone::spent(known, permit, texts);
        let given = Given {
            co: decided.and_then(|a| a.value.as_deref()),
            no_reserve: texts.set.choice("reserve") == Some("none"),
            // The card is printed before anything happens.
            on_reserve: false,
            others: None,
            spent: spent.as_deref(),
            grave: false,
            co_told: false,
        };
        let zone = Moment::new(seconds(&known.chain.time), &texts.zone).zone;
        let says = |about: &About| view.page_one.iter().find(|s| s.about == *about).cloned();
        let rescuers = texts.job.items("rescuers");
        let rescuers =
            rescuers.iter().filter_map(|r| Some(page_one::person(known, texts, r.text("person")?)));
        let mut against = out_of_limits(known, permit, texts);
        against.extend(limited(permit));
        against.push(warned_too_late().to_owned());
        Ok(CardView {
            signal: says(&About::Recall).ok_or("page one has no recall signal")?,
            // The rescuers stand on the card by themselves.
            calls: CALLS.iter().filter_map(says).map(|s| Statement { note: String::new(), ..s }).collect(),
            gauges: LEAVE_BY.iter().chain(&[About::SupplyGauge]).filter_map(says).collect(),
            limits: LIMITS.iter().filter_map(says).map(|s| Statement { note: String::new(), ..s }).collect(),
            cylinders: texts.set.items("cylinders").iter().map(|c| named(c, &texts.language)).collect(),
            orders: ALARMS.iter().map(|kinds| order(kinds, given)).collect(),
            wearers: view.wearers.iter().cloned().chain(others(known, permit)).collect(),
            rescuers: rescuers.collect(),
            warnings: view.warnings.iter().filter(|w| against.contains(w)).cloned().collect(),
            rules: rules(),
            ..as_it_stands(view, clock(&known.chain.time, &zone))
        })
    })
}

/// What the card has of the permit's view as it stands there.
fn as_it_stands(view: PermitView, as_of_at: String) -> CardView {
    CardView {
        language: view.language,
        number: view.number,
        state: Some(view.state),
        held: view.held,
        state_words: view.state_words,
        state_means: view.state_means,
        site: view.site,
        set: view.set,
        place: view.place,
        valid_to: view.valid_to,
        valid_because: view.valid_because,
        check_word: view.check_word,
        as_of: Some(view.as_of),
        as_of_hash: view.as_of_hash,
        as_of_utc: view.as_of_utc,
        // The day stands beside it, with the end.
        as_of_at,
        copy: view.copy,
        ..blank_here()
    }
}

/// A card without a permit: everything is filled in by hand. Orders that are decided on a permit, or that rest on the
/// reserve, are the ones that err towards getting out.
pub fn blank(tongue: Tongue) -> CardView {
    tongue.within(blank_here)
}

/// The same in the language bound.
fn blank_here() -> CardView {
    let say_of = |about: About, note: &str| Statement::new(about, "", note);
    let order_of = |kinds: &&[&str]| {
        let o = order(kinds, Given::default());
        let rests_on_reserve = o.order != order(kinds, Given { no_reserve: true, ..Given::default() }).order;
        let undecided = rests_on_reserve && !kinds.contains(&"co");
        OrderView { order: if undecided { orders::out().into() } else { o.order }, ..o }
    };
    CardView {
        language: Tongue::now().tag().into(),
        number: String::new(),
        state: None,
        held: false,
        state_words: say!("BLANK: NOT A PERMIT").into(),
        state_means: say!("Fill it in from a live permit before anyone goes on air.").into(),
        site: String::new(),
        set: String::new(),
        place: String::new(),
        valid_to: String::new(),
        valid_because: String::new(),
        check_word: String::new(),
        as_of: None,
        as_of_hash: String::new(),
        as_of_utc: String::new(),
        as_of_at: String::new(),
        copy: String::new(),
        rules: rules(),
        not_an_entry_permit: crate::permit::said::not_an_entry_permit(),
        warnings: Vec::new(),
        signal: say_of(About::Recall, ""),
        calls: CALLS.iter().map(|about| say_of(*about, "")).collect(),
        gauges: vec![
            say_of(About::LeaveBy, say!("below this: everyone out. No reserve: write NONE")),
            say_of(About::SupplyGauge, say!("from and to; outside this: everyone out")),
        ],
        limits: LIMITS.iter().map(|about| say_of(*about, "")).collect(),
        cylinders: Vec::new(),
        orders: ALARMS.iter().map(order_of).collect(),
        wearers: Vec::new(),
        rescuers: Vec::new(),
    }
}

/// What holds at every alarm, whatever a gauge says; the first largest.
fn rules() -> Vec<String> {
    vec![
        say!("ANY ALARM OR CHANGE-OVER: EVERYONE OUT").into(),
        say!("Signal first. Nobody works on reserve. Masks stay on until clean air.").into(),
        say!(
            "Then watch every hose and every outlet; count them out by name. Nobody goes in but the rescuers named. \
             Do not stop the set while anyone is on its air, but where an order below says so."
        )
        .into(),
    ]
}

fn order(kinds: &[&str], given: Given<'_>) -> OrderView {
    let o = orders::of(kinds.first().copied().unwrap_or_default(), given);
    let set = if o.set == orders::not_under() { String::new() } else { o.set.to_owned() };
    OrderView { alarm: alarm(kinds).into(), order: o.wearers, set }
}

/// Whoever is on the same air without this permit, or on air from a set that nobody knows: they are counted out too.
fn others(known: &Known<'_>, permit: &Permit) -> Vec<WearerView> {
    let one = |p: &OnAir| WearerView {
        name: crew::name_of(known, &p.person),
        person: p.person.clone(),
        respirator: p
            .permit
            .as_ref()
            .map_or_else(|| say!("on no permit").into(), |permit| say!("on {permit}", permit)),
        escape_set: String::new(),
        hose: String::new(),
        hose_marks: String::new(),
        outlet: p.outlet.clone().unwrap_or_default(),
        tally: p.whereabouts.words().into(),
        since: clock(&p.since.time, &p.since.zone),
    };
    let here = known.perhaps_on_air_from(&permit.set.id);
    here.filter(|p| p.permit.as_deref() != Some(&permit.number)).map(one).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::record::kinds::EVENTS;

    /// What stands in one row of the card has one order, whatever was decided; what stands nowhere has the last.
    #[test]
    fn every_alarm_has_its_order_on_the_card() {
        let decided = [None, Some("change_to_reserve"), Some("out"), Some("escape_sets_out"), Some("else")];
        let others = ALARMS.last().unwrap();
        for co in decided {
            for no_reserve in [false, true] {
                let given = Given { co, no_reserve, ..Given::default() };
                for what in EVENTS {
                    let row = ALARMS.iter().find(|kinds| kinds.contains(what)).unwrap_or(others);
                    let (of, on) = (orders::of(what, given), order(row, given));
                    assert_eq!(of.wearers, on.order, "{what} {given:?}");
                    let set = if on.set.is_empty() { orders::not_under() } else { &on.set };
                    assert_eq!(of.set, set, "{what}");
                }
            }
        }
        let named: Vec<&&str> = ALARMS.iter().copied().flatten().collect();
        assert!(named.iter().all(|k| EVENTS.contains(k)), "{named:?}");
        for what in EVENTS.iter().filter(|e| !["called", "drill", "false_alarm"].contains(e)) {
            assert!(named.contains(&what), "{what}");
        }
    }

    /// Nothing on a blank card sends anybody onto a reserve that may not be there, or that may be foul.
    #[test]
    fn a_blank_card_errs_towards_getting_out() {
        let card = blank(Tongue::English);
        assert_eq!(card.orders.len(), ALARMS.len());
        for o in &card.orders {
            assert!(!o.order.contains("ON THE RESERVE") && !o.order.contains("CHANGE TO"), "{o:?}");
            assert!(o.order.contains("OUT"), "{o:?}");
        }
        assert!(card.orders[0].order.contains("NOT THE RESERVE"), "{:?}", card.orders[0]);
        assert!(card.signal.value.is_empty() && card.number.is_empty() && card.state.is_none());
    }
}
