//! Ends of permits over midnight, the new year, a month's end and changes of the clocks; a clock that is set while a later
//! end is asked for. Europe/Warsaw, IANA: in 2026 forward on 29 March 02:00, back on 25 October 03:00.

use crate::support::day::{Day, Plan};
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::sign::{Handing, Later, Signing};
use airwrit::view::StateWord;

/// Opened at a time, the work until another; live.
fn live(start: &str, until: &str) -> (Day, String) {
    let plan = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        .start(start)
        .job("until: \"16:20\"", &format!("until: \"{until}\""))
        .job("until: \"16:45\"", "until: \"05:30\"")
        .job("until: \"17:00\"", "until: \"05:30\"")
        .site("most_hours: 11 h", "most_hours: 16 h");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    day.own(&n, "zaneta");
    (day, n)
}

fn valid(day: &Day, n: &str) -> String {
    day.state.permits[n].valid_to.clone().unwrap()
}

#[test]
fn over_midnight_and_the_new_year() {
    // 22:30 at the site on the last day of the year; the night shift ends at 05:45.
    let (mut day, n) = live("2026-12-31T21:30:00Z", "04:15");
    assert_eq!(n, "KW2-261231-01", "a permit keeps the number of the day it was opened");
    assert_eq!(valid(&day, &n), "2027-01-01T03:15:00Z");
    for at in ["2026-12-31T22:59:59Z", "2026-12-31T23:00:00Z", "2027-01-01T03:15:00Z"] {
        let mut then = day.clone();
        then.second = airwrit::time::seconds(at) - 60;
        then.read_gauges(&n);
        then.clock(at);
        assert_eq!(then.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new(), "{at}");
    }
    day.clock("2027-01-01T03:15:01Z");
    assert_eq!(day.life(&n), StateWord::Lapsed);
    // The first of the new year counts from 01.
    let job = day.plan.job.replace("attendant: oksana", "attendant: soren");
    assert_eq!(day.open(&job), "KW2-270101-01");
}

#[test]
fn clocks_go_forward_in_the_night() {
    // 22:30 on 28 March; 02:30 does not exist that night, and is meant as early as it may be.
    let (day, n) = live("2026-03-28T21:30:00Z", "02:30");
    assert_eq!(valid(&day, &n), "2026-03-29T00:30:00Z");
    let (mut day, n) = live("2026-03-28T21:30:00Z", "05:00");
    assert_eq!(valid(&day, &n), "2026-03-29T03:00:00Z", "an hour sooner than on other nights");
    day.clock("2026-03-29T03:00:01Z");
    assert_eq!(day.life(&n), StateWord::Lapsed);
}

#[test]
fn clocks_go_back_in_the_night() {
    // 02:30 is shown twice on 25 October: the first of them, which is the earlier.
    let (day, n) = live("2026-10-24T20:30:00Z", "02:30");
    assert_eq!(valid(&day, &n), "2026-10-25T00:30:00Z");
    let (day, n) = live("2026-10-24T20:30:00Z", "05:00");
    assert_eq!(valid(&day, &n), "2026-10-25T04:00:00Z");
}

/// Twelve hours are twelve hours, whatever the clocks on the wall do.
#[test]
fn the_longest_permit_counts_hours_and_not_the_clock() {
    let plan = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        .site("at: \"05:45\"", "at: \"23:30\"")
        .site("at: \"14:30\"", "at: \"23:31\"")
        .site("at: \"17:15\"", "at: \"23:32\"")
        .start("2026-10-24T22:00:00Z")
        .job("until: \"16:20\"", "until: \"20:00\"")
        .job("until: \"16:45\"", "until: \"20:00\"")
        .job("until: \"17:00\"", "until: \"20:00\"");
    let most = plan.site.lines().find(|l| l.starts_with("most_hours")).map(str::to_owned);
    let hours: i64 =
        most.map_or(12, |l| l.chars().filter(char::is_ascii_digit).collect::<String>().parse().unwrap());
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    let issued =
        airwrit::time::seconds(&day.state.permits[&n].last_signed("countersign").unwrap().stamp.time);
    let end = airwrit::time::seconds(&valid(&day, &n));
    // From the line that the supervisor was shown, half a minute before.
    assert!((issued - 60..=issued).contains(&(end - hours * 3600)), "{} h", (end - issued) as f64 / 3600.0);
}

/// The shift that takes over at night ends the next morning, over the change of the clocks.
#[test]
fn a_shift_over_the_change_of_the_clocks() {
    let (mut day, n) = live("2026-03-28T15:30:00Z", "05:00");
    // 16:30; the day shift ends at 17:15.
    assert_eq!(valid(&day, &n), "2026-03-28T16:15:00Z");
    day.clock("2026-03-28T16:00:00Z");
    day.called_and_read(&n);
    let handing = Handing {
        to: "ines".into(),
        shift: true,
        checked: vec!["wind".into(), "warnings".into(), "fuel".into()],
        unusual: "nothing".into(),
        staying: None,
    };
    day.sign(&n, &Signing::HandOver(handing), "lukasz").unwrap();
    day.sign(&n, &Signing::TakeOver, "ines").unwrap();
    for o in ["red", "white", "green"] {
        day.say(&n, "outlet_ok", Some(o), "yes").unwrap();
    }
    let later = |until: &str| {
        Signing::AskLater(Later { until: until.into(), reason: "the coat".into(), ..Later::default() })
    };
    day.sign(&n, &later("2026-03-29T06:00:00Z"), "ines").unwrap();
    let line = day.sign(&n, &Signing::GiveLater, "eleni").unwrap();
    // 05:30 of the entry permits comes before 05:45 of the shift; both an hour sooner that night.
    assert_eq!(line.data.text("valid_to"), Some("2026-03-29T03:30:00Z"));
}

/// The end of a month: what is good for months is clipped to the last day.
#[test]
fn an_air_test_of_the_last_of_november_is_due_on_the_last_of_february() {
    let plan =
        Plan::small().set("rated_flow: 874 L/min", "rated_flow: 2000 L/min").start("2027-02-28T05:00:00Z");
    let mut day = Day::enrolled(plan);
    day.of_set("air_test", &[("place", "quay3"), ("sampler", "Maëlle"), ("date", "2026-11-30")]);
    let job = day.plan.job.clone();
    let n = day.open(&job);
    day.ready(&n);
    let limit = day.on(&n, |k, p, t| airwrit::permit::decide::sign::valid_to(k, p, t, None));
    assert_eq!(limit.because, "the end of the shift (Early shift)");
    day.clock("2027-02-28T22:58:00Z");
    let m = {
        let night = day.plan.job.replace("until: \"16:20\"", "until: \"04:00\"");
        day.open(&night)
    };
    // Three months after 30 November 2026: 28 February 2027, to its last second at the site.
    let limit = day.on(&m, |k, p, t| airwrit::permit::decide::sign::valid_to(k, p, t, None));
    assert_eq!(
        (limit.utc().as_str(), limit.because.as_str()),
        ("2027-02-28T22:59:59Z", "the air test of 2026-11-30")
    );
}

/// A clock that is set back while a later end is asked for: nothing is given until it is right; a supervisor who says that
/// it is right suspends, and what was asked falls.
#[test]
fn a_clock_set_back_between_the_halves() {
    let (mut day, n) = live("2026-11-25T15:40:00Z", "16:50");
    day.read_gauges(&n);
    let later = Later { until: "2026-11-25T16:10:00Z".into(), reason: "the coat".into(), ..Later::default() };
    day.sign(&n, &Signing::AskLater(later), "lukasz").unwrap();
    day.wait(-300);
    let refused = day.sign(&n, &Signing::GiveLater, "eleni").unwrap_err();
    assert!(
        refused.why[0].contains("clock is 5 min behind") || refused.why[0].contains("behind the last line"),
        "{refused:?}"
    );
    // Forward past its end it has lapsed, and stays so when the clock comes back.
    day.wait(300 + 3600);
    assert_eq!(day.life(&n), StateWord::Lapsed);
    let refused = day.sign(&n, &Signing::GiveLater, "eleni").unwrap_err();
    assert!(refused.why[0].contains("lapsed"), "{refused:?}");
}
