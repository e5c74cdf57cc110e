//! Who may sign, what ends a permit and when, the station's clock, and what is told late.

use super::table::in_state;
use crate::support::day::{Day, Plan, data_of, typed};
use airwrit::permit::decide::air::{self, Move, Told};
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::{self, Limits};
use airwrit::permit::decide::{Known, Refusal};
use airwrit::permit::valid;
use airwrit::record::line::{Draft, What};
use airwrit::view::{Standing, StateWord};

fn says(r: Result<airwrit::record::line::Line, Refusal>, words: &str) {
    let r = r.unwrap_err();
    assert!(r.why.iter().any(|w| w.contains(words)), "wanted `{words}` in {r:?}");
}

/// Whoever is on air where nobody may be is told first on page one, and so is whoever breathes from the set without
/// standing on the permit.
#[test]
fn page_one_tells_of_people_on_air_in_every_state() {
    for state in [
        StateWord::Draft,
        StateWord::Declared,
        StateWord::Suspended,
        StateWord::HandedBack,
        StateWord::Closed,
        StateWord::Refused,
        StateWord::Cancelled,
        StateWord::Lapsed,
    ] {
        let (mut day, n) = in_state(state);
        let view = |day: &Day| day.ask(|k| airwrit::show::permit(k, day.lines(), &n, None, None).unwrap());
        day.report(None, "nikos", Move::OnAir);
        let told = view(&day).warnings;
        let why = match state {
            StateWord::Refused => "REFUSED at ",
            StateWord::Cancelled => "WITHDRAWN at ",
            StateWord::Draft
            | StateWord::Declared
            | StateWord::Live
            | StateWord::Suspended
            | StateWord::HandedBack
            | StateWord::Closed
            | StateWord::Lapsed => "",
        };
        assert!(told.iter().any(|w| w.starts_with(why)), "{state:?} {told:?}");
        let nikos = |w: &String| w.starts_with("ON THIS AIR TOO, BY NO PERMIT");
        assert_eq!(told.iter().filter(|w| nikos(w)).count(), 1, "{state:?} {told:?}");
        day.report(Some(&n), "zaneta", Move::OnAir);
        let means = view(&day).state_means;
        assert!(
            means.starts_with("Nobody goes on this air") && means.contains("Whoever"),
            "{state:?} {means}"
        );
    }
}

#[test]
fn who_signs_has_the_role_and_is_somebody_else() {
    let (mut day, n) = in_state(StateWord::Draft);
    says(day.declare(&n, "eleni"), "no operator");
    says(day.declare(&n, "eleni"), "the holder of this permit is lukasz");
    // An operator, but not the holder.
    says(day.declare(&n, "ines"), "the holder of this permit is lukasz");
    says(day.declare(&n, "nobody"), "not on the roster");
    day.declare(&n, "lukasz").unwrap();
    says(day.countersign(&n, "lukasz", &Limits::default()), "who declared");
    says(day.countersign(&n, "lukasz", &Limits::default()), "no supervisor");
    says(day.countersign(&n, "oksana", &Limits::default()), "who issues is not the attendant");
    says(day.countersign(&n, "oksana", &Limits::default()), "no supervisor");
    says(day.countersign(&n, "zaneta", &Limits::default()), "who issues is not a wearer");
    says(day.refuse(&n, "lukasz"), "no supervisor");
    day.countersign(&n, "bohdan", &Limits::default()).unwrap();
    says(day.hand_back(&n, "eleni", None), "no operator");
    says(day.cancel(&n, "lukasz"), "no supervisor");
    let (mut day, n) = in_state(StateWord::HandedBack);
    says(day.close(&n, "lukasz"), "no supervisor");
    day.close(&n, "bohdan").unwrap();
}

#[test]
fn competence_that_is_over_signs_nothing_and_that_of_the_holder_ends_a_permit() {
    let of = |who: &str, until: &str| Plan {
        competence: vec![(who.to_owned(), until.to_owned())],
        ..Plan::small()
    };
    let mut day = Day::opened(of("lukasz", "2026-11-24"));
    let n = day.number.clone();
    day.ready(&n);
    says(day.declare(&n, "lukasz"), "shown until 2026-11-24");
    let mut day = Day::opened(of("eleni", "2026-11-24"));
    let n = day.number.clone();
    day.ready(&n);
    day.declare(&n, "lukasz").unwrap();
    says(day.countersign(&n, "eleni", &Limits::default()), "shown until 2026-11-24");
    day.countersign(&n, "bohdan", &Limits::default()).unwrap();
    // The last day counts whole, to the site's midnight.
    let plan =
        of("lukasz", "2026-11-25").start("2026-11-25T21:00:00Z").job("until: \"16:20\"", "until: \"04:00\"");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.ready(&n);
    day.declare(&n, "lukasz").unwrap();
    let line = day.countersign(&n, "eleni", &Limits::default()).unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T22:59:59Z"));
    assert!(line.data.text("valid_by").unwrap().contains("competence"));
}

/// Each limit alone is the earliest once.
#[test]
fn the_earliest_of_everything_ends_it_and_says_so() {
    let no_shift = |p: Plan| {
        p.site(
            "{ id: early, name: Early shift, at: \"14:30\" }",
            "{ id: early, name: Early shift, at: \"23:30\" }",
        )
        .site("at: \"17:15\"", "at: \"23:45\"")
    };
    let rows = [
        (Plan::small(), Limits::default(), "2026-11-25T13:30:00Z", "the end of the shift (Early shift)"),
        (no_shift(Plan::small()), Limits::default(), "2026-11-25T15:20:00Z", "the end of the work"),
        (
            no_shift(Plan::small()).job("until: \"16:45\"", "until: \"12:00\""),
            Limits::default(),
            "2026-11-25T11:00:00Z",
            "Entry permit KR-E-3391",
        ),
        (
            no_shift(Plan::small()).site("most_hours: 11 h", "most_hours: 2 h"),
            Limits::default(),
            "2026-11-25T07:10:10Z",
            "the longest a permit may run at this site",
        ),
        (
            Plan::small(),
            Limits { until: Some("2026-11-25T09:00:00Z".into()), ..Limits::default() },
            "2026-11-25T09:00:00Z",
            "the supervisor's limit",
        ),
        // A limit later than the others widens nothing.
        (
            Plan::small(),
            Limits { until: Some("2026-11-26T09:00:00Z".into()), ..Limits::default() },
            "2026-11-25T13:30:00Z",
            "the end of the shift (Early shift)",
        ),
    ];
    for (plan, limits, at, because) in rows {
        let mut day = Day::opened(plan);
        let n = day.number.clone();
        day.ready(&n);
        day.declare(&n, "lukasz").unwrap();
        day.wait(30);
        let line = day.countersign(&n, "eleni", &limits).unwrap_or_else(|r| panic!("{because}: {r:?}"));
        assert_eq!(line.data.text("valid_to"), Some(at), "{because}");
        assert_eq!(line.data.text("valid_by"), Some(because));
        // Valid to is the last second; then it is over.
        day.clock(at);
        assert_eq!(day.life(&n), StateWord::Live, "{because}");
        day.wait(1);
        assert_eq!(day.life(&n), StateWord::Lapsed, "{because}");
    }
    let (mut day, n) = in_state(StateWord::Declared);
    let past = Limits { until: Some("2026-11-25T04:00:00Z".into()), ..Limits::default() };
    says(day.countersign(&n, "eleni", &past), "it would end before it begins: the supervisor's limit");
    let nonsense = Limits { until: Some("tomorrow".into()), ..Limits::default() };
    says(day.countersign(&n, "eleni", &nonsense), "it would end before it begins");
}

/// Prepared elsewhere, taken in later: what was signed may not end later than it would now.
#[test]
fn a_countersignature_taken_in_is_worked_out_again() {
    let (day, n) = in_state(StateWord::Declared);
    let data = |valid_to: &str| airwrit::record::json::object([("valid_to", valid_to.into())]);
    day.on(&n, |k, p, t| {
        sign::still_valid(k, p, t, &data("2026-11-25T13:30:00Z")).unwrap();
        sign::still_valid(k, p, t, &data("2026-11-25T13:30:01Z")).unwrap_err();
    });
}

/// The site's hour, to the second; then the operator looks and answers again, and declares again.
#[test]
fn a_declaration_that_waited_too_long_is_not_countersigned() {
    let (mut day, n) = in_state(StateWord::Declared);
    let signed = day.state.permits[&n].last_signed("declare").unwrap().stamp.time.clone();
    let declared = airwrit::time::seconds(&signed);
    day.second = declared + 3600;
    day.clone().countersign(&n, "eleni", &Limits::default()).unwrap();
    day.second = declared + 3601;
    says(day.countersign(&n, "eleni", &Limits::default()), "a declaration is good for 60 min here");
    day.clone().refuse(&n, "eleni").unwrap();
    let again = Typed { again: Some("asked_again".into()), ..typed("siting", None, "41") };
    day.answer(&n, &again).unwrap();
    day.declare(&n, "lukasz").unwrap();
    day.countersign(&n, "eleni", &Limits::default()).unwrap();
}

/// `opened` at the site, time of day of the work's end, UTC that comes of it.
#[test]
fn times_of_day_over_midnight_month_end_and_clock_changes() {
    let rows = [
        // Over midnight, and over the end of a month and of a year.
        ("2026-11-25T20:00:00Z", "04:00", "2026-11-26T03:00:00Z"),
        ("2026-11-30T20:00:00Z", "04:00", "2026-12-01T03:00:00Z"),
        ("2026-12-31T20:00:00Z", "04:00", "2027-01-01T03:00:00Z"),
        // Opened on the minute: the next time it shows it is tomorrow.
        ("2026-11-25T03:00:00Z", "04:00", "2026-11-26T03:00:00Z"),
        // 2026-10-25 at 03:00 summer time the clock goes back to 02:00: 02:30 is shown twice, at 00:30Z
        // and 01:30Z. The first one counts, and the second where the first is past.
        ("2026-10-24T20:00:00Z", "02:30", "2026-10-25T00:30:00Z"),
        ("2026-10-25T00:40:00Z", "02:30", "2026-10-25T01:30:00Z"),
        ("2026-10-24T20:00:00Z", "03:30", "2026-10-25T02:30:00Z"),
        // 2026-03-29 at 02:00 it goes on to 03:00: 02:30 is never shown. Before the gap it ends early.
        ("2026-03-28T20:00:00Z", "02:30", "2026-03-29T00:30:00Z"),
        ("2026-03-28T20:00:00Z", "03:30", "2026-03-29T01:30:00Z"),
    ];
    for (opened, until, wanted) in rows {
        let plan = Plan::small()
            .start(opened)
            .job("until: \"16:20\"", &format!("until: \"{until}\""))
            .job("until: \"16:45\"", &format!("until: \"{until}\""))
            .job("until: \"17:00\"", &format!("until: \"{until}\""))
            .site("at: \"14:30\"", &format!("at: \"{until}\""))
            .site("at: \"17:15\"", &format!("at: \"{until}\""))
            .site("at: \"05:45\"", &format!("at: \"{until}\""))
            .site("most_hours: 11 h", "most_hours: 24 h");
        let day = Day::opened(plan);
        let limit = day.on(&day.number, |k, p, t| valid::working(k.state, p, t, k.now));
        // A permit opened on the minute ends by the site's longest time, at the same second.
        assert_eq!(limit.utc(), wanted, "opened {opened} until {until}: {}", limit.because);
    }
}

#[test]
fn a_clock_behind_refuses_requests_and_keeps_reports_with_the_last_time() {
    let (mut day, n) = in_state(StateWord::Live);
    day.on_permit(&n, "reading", &[("what", "reserve"), ("value", "201"), ("unit", "bar")]);
    let last = day.second;
    // Up to two minutes: as if no time had passed.
    day.second = last - 120;
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    let line = day.request(&n, "zaneta", Move::OnAir).unwrap();
    assert_eq!(line.time, airwrit::time::utc(last));
    day.second = last - 121;
    for r in [
        day.request(&n, "zaneta", Move::In),
        day.say(&n, "own", Some("nikos"), "yes"),
        day.hand_back(&n, "lukasz", None),
        day.cancel(&n, "eleni"),
        day.request_of_set("stopped"),
    ] {
        says(r, "clock is 2 min behind");
    }
    let (mut declared, m) = in_state(StateWord::Declared);
    declared.second -= 200;
    says(declared.countersign(&m, "eleni", &Limits::default()), "clock");
    says(declared.refuse(&m, "eleni"), "clock");
    let (mut draft, m) = in_state(StateWord::Draft);
    draft.second -= 200;
    says(draft.declare(&m, "lukasz"), "clock");
    // A day behind: everything that has happened is kept.
    day.second = last - 86_400;
    for to in [Move::In, Move::Out, Move::OffAir] {
        let line = day.report(Some(&n), "zaneta", to);
        assert_eq!(line.time, airwrit::time::utc(last), "{to:?}");
    }
    assert_eq!(day.of_set("call_out", &[]).time, airwrit::time::utc(last));
    assert_eq!(day.state.tally_of_set("heron"), 0);
    day.assert_replays();
}

/// The clock a minute behind, across the end of the permit: what is decided is what the line is judged as.
#[test]
fn the_state_is_that_of_the_time_the_line_gets() {
    let (mut day, n) = in_state(StateWord::Live);
    day.clock("2026-11-25T13:30:01Z");
    day.of_set("note", &[("words", "still here")]);
    day.clock("2026-11-25T13:29:30Z");
    says(day.say(&n, "own", Some("nikos"), "yes"), "lapsed");
    says(day.cancel(&n, "eleni"), "lapsed");
    let why = day.forbidden(&n, "zaneta", Move::OnAir);
    assert!(
        why.iter().any(|w| w.contains("lapsed")) && why.iter().any(|w| w.contains("was valid to")),
        "{why:?}"
    );
}

/// An answer told later than five minutes after it happened stays in the record and opens nothing.
#[test]
fn a_late_answer_opens_nothing() {
    for (late, standing) in
        [(0, Standing::Open), (300, Standing::Open), (301, Standing::Hold), (-301, Standing::Hold)]
    {
        let mut day = Day::opened(Plan::small());
        let n = day.number.clone();
        day.say(&n, "ready", None, "yes").unwrap();
        day.request_of_set("started").unwrap();
        let draft = day
            .on(&n, |k, p, t| airwrit::permit::decide::answer::answer(k, p, t, &typed("siting", None, "40")))
            .unwrap();
        let at = airwrit::time::utc(day.second - late);
        let data = data_of(&draft).clone().with("at", at.as_str()).with("told_by", "lukasz");
        day.add(&Draft { what: What::Data(data), ..draft });
        assert_eq!(day.standing(&n, "siting", None), standing, "{late}");
    }
}

/// A report told late counts for the tally all the same.
#[test]
fn a_late_report_counts() {
    let (mut day, n) = in_state(StateWord::Live);
    let told = Told { at: Some("2026-11-25T04:00:00Z".into()), by: Some("oksana".into()) };
    let draft = day
        .on(&n, |k, p, _| air::report(k, Some(p), "heron", "zaneta", Move::In, Vec::new(), &told, "lukasz"));
    assert_eq!(data_of(&draft).text("at"), Some("2026-11-25T04:00:00Z"));
    day.add(&draft);
    assert_eq!(day.state.tally_of_permit(&n), 1);
    // Where they are planned is where they are, until told otherwise.
    assert_eq!(day.state.on_air[0].outlet.as_deref(), Some("red"));
}

/// The site's date is that of the site's zone, whatever offset the laptop shows.
#[test]
fn today_is_the_site_s() {
    let day = Day::opened(Plan::small());
    let n = day.number.clone();
    let now = airwrit::time::Moment { time: "2026-11-25T23:30:00Z".into(), zone: "-05:00".into() };
    let k = Known::new(day.station.chain(), &day.state, &now);
    let permit = k.permit(&n).unwrap();
    let texts = k.texts(permit).unwrap();
    let bench = airwrit::permit::bench::Bench::new(k.state, permit, &texts, k.now);
    assert_eq!(bench.today().to_string(), "2026-11-26");
}
