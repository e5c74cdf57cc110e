//! Every state of a permit against every request: accepted or refused, with words; and every report,
//! which is accepted in each of them.

use crate::support::day::{Day, Plan, typed};
use airwrit::permit::decide::air::{Move, Told};
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::{Handing, Later, Limits, Signing};
use airwrit::permit::decide::{Refusal, crew, open, witness};
use airwrit::view::StateWord;

const STATES: [StateWord; 9] = [
    StateWord::Draft,
    StateWord::Declared,
    StateWord::Live,
    StateWord::Suspended,
    StateWord::HandedBack,
    StateWord::Closed,
    StateWord::Refused,
    StateWord::Cancelled,
    StateWord::Lapsed,
];

fn shutdown(step: &str) -> Typed {
    Typed { shutdown: true, ..typed(step, None, "yes") }
}

/// A day whose permit is in this state, everything else as far along as it can be.
pub fn in_state(state: StateWord) -> (Day, String) {
    brought_to(Day::opened(Plan::small()), state)
}

/// The same after another permit of the set that was issued and withdrawn, with the set left running.
fn in_state_after_another(state: StateWord) -> (Day, String) {
    let mut day = Day::opened(Plan::small());
    let before = day.number.clone();
    day.live(&before);
    day.own(&before, "nikos");
    day.cancel(&before, "eleni").unwrap();
    let job = day.plan.job.clone();
    day.open(&job);
    brought_to(day, state)
}

fn brought_to(mut day: Day, state: StateWord) -> (Day, String) {
    let n = day.number.clone();
    match state {
        StateWord::Draft => day.ready(&n),
        StateWord::Declared | StateWord::Refused => {
            day.ready(&n);
            day.declare(&n, "lukasz").unwrap();
            if state == StateWord::Refused {
                day.refuse(&n, "eleni").unwrap();
            }
        }
        StateWord::Live
        | StateWord::Suspended
        | StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Cancelled
        | StateWord::Lapsed => {
            day.live(&n);
            day.own(&n, "zaneta");
        }
    }
    match state {
        StateWord::Suspended => {
            day.on_permit(&n, "suspend", &[("reason", "fog")]);
        }
        StateWord::HandedBack | StateWord::Closed => {
            day.answer(&n, &shutdown("seen")).unwrap();
            day.request_of_set("stopped").unwrap();
            day.answer(&n, &shutdown("stopped_now")).unwrap();
            day.hand_back(&n, "lukasz", None).unwrap();
            if state == StateWord::Closed {
                day.close(&n, "eleni").unwrap();
            }
        }
        StateWord::Cancelled => {
            day.cancel(&n, "eleni").unwrap();
        }
        StateWord::Lapsed => day.clock("2026-11-25T13:30:01Z"),
        StateWord::Draft | StateWord::Declared | StateWord::Live | StateWord::Refused => {}
    }
    day.wait(20);
    assert_eq!(day.life(&n), state);
    (day, n)
}

type Ask = fn(&mut Day, &str) -> Result<(), Refusal>;

const REQUESTS: [(&str, Ask); 22] = [
    ("open", |d, _| {
        let job = d.plan.job.clone();
        // Others stand at the second one.
        let job = job
            .replace("attendant: oksana", "attendant: soren")
            .replace("entry_watch: marit", "entry_watch: jiri");
        d.try_open(&job, false).map(drop)
    }),
    ("job", |d, n| {
        let job = crate::support::day::raw_job(&d.plan.job.replace("walk: 4 min", "walk: 5 min"));
        let decided = d.on(n, |k, p, t| open::job(k, p, t, &job, "lukasz"));
        d.take(decided).map(drop)
    }),
    ("answer work", |d, n| {
        d.answer(n, &Typed { again: Some("read_wrong".into()), ..typed("siting", None, "41") }).map(drop)
    }),
    ("answer own", |d, n| d.say(n, "own", Some("nikos"), "yes").map(drop)),
    ("answer shutdown", |d, n| {
        d.answer(n, &Typed { again: Some("waited".into()), ..shutdown("seen") }).map(drop)
    }),
    ("declare", |d, n| d.declare(n, "lukasz").map(drop)),
    ("countersign", |d, n| d.countersign(n, "eleni", &Limits::default()).map(drop)),
    ("refuse", |d, n| d.refuse(n, "eleni").map(drop)),
    ("on air", |d, n| d.request(n, "zaneta", Move::OnAir).map(drop)),
    ("in", |d, n| {
        if d.state.tally_of_permit(n) == 0 {
            d.report(Some(n), "zaneta", Move::OnAir);
        }
        d.request(n, "zaneta", Move::In).map(drop)
    }),
    ("hand back", |d, n| d.hand_back(n, "lukasz", None).map(drop)),
    ("close", |d, n| d.close(n, "eleni").map(drop)),
    ("cancel", |d, n| d.cancel(n, "eleni").map(drop)),
    ("reinstate", |d, n| d.reinstate(n, "eleni").map(drop)),
    ("stopped", |d, _| d.request_of_set("stopped").map(drop)),
    ("carry", |d, n| d.carry(n).map(drop)),
    ("ask for a later end", |d, n| {
        d.read_gauges(n);
        d.sign(n, &later(), "lukasz").map(drop)
    }),
    ("give a later end", |d, n| {
        d.read_gauges(n);
        let _ = d.sign(n, &later(), "lukasz");
        d.sign(n, &Signing::GiveLater, "eleni").map(drop)
    }),
    ("hand over", |d, n| {
        d.called_and_read(n);
        d.sign(n, &handing(), "lukasz").map(drop)
    }),
    ("take over", |d, n| {
        d.called_and_read(n);
        let _ = d.sign(n, &handing(), "lukasz");
        d.sign(n, &Signing::TakeOver, "ines").map(drop)
    }),
    ("relieve", |d, n| {
        let told = Told::default();
        let decided = d.on(n, |k, p, _| crew::relieve(k, p, "attendant", "soren", false, &told, "lukasz"));
        d.take(decided).map(drop)
    }),
    ("release the set", |d, _| {
        d.of_set("stopped", &[]);
        let decided = d.ask(|k| witness::comes(k, "released", "heron", None, &Told::default(), "lukasz"));
        d.take(decided).map(drop)
    }),
];

fn later() -> Signing {
    Signing::AskLater(Later {
        until: "2026-11-25T13:00:00Z".into(),
        reason: "the coat dries slowly".into(),
        ..Later::default()
    })
}

fn handing() -> Signing {
    Signing::HandOver(Handing {
        to: "ines".into(),
        checked: vec!["wind".into(), "warnings".into(), "fuel".into()],
        unusual: "nothing".into(),
        ..Handing::default()
    })
}

/// Rows as [`REQUESTS`], columns as [`STATES`]: `+` accepted, `.` refused.
///
/// `in` on a lapsed permit: the report of going on air before it makes it no longer lapsed, but over.
/// A hand-back is refused on a live or suspended permit as long as the shutdown is not taken.
const TABLE: [&str; 22] = [
    "+++++++++", // open another
    "++.......", // job
    "++.......", // answer work
    "++++.....", // answer own
    "++++.....", // answer shutdown
    "+........", // declare
    ".+.......", // countersign
    ".+.......", // refuse
    "..+......", // on air
    "..+......", // in
    ".........", // hand back
    "....+....", // close
    "++++.....", // cancel
    "...+.....", // reinstate
    ".........", // stopped
    "++++.....", // carry
    "..+......", // ask for a later end
    "..+......", // give a later end
    "..++.....", // hand over
    "..++.....", // take over
    "++++.....", // relieve
    "....+++++", // release the set
];

#[test]
fn every_state_against_every_request() {
    let mut wrong = Vec::new();
    for (column, state) in STATES.into_iter().enumerate() {
        // Each where it has the best chance: a later end where there is one to be had, carrying where there is something.
        let (plain, n) = in_state(state);
        let (after, m) = in_state_after_another(state);
        let short = Day::opened(Plan::small().job("until: \"16:20\"", "until: \"11:00\""));
        let (short, _) = brought_to(short, state);
        for ((name, ask), row) in REQUESTS.iter().zip(TABLE) {
            let (mut d, n) = match *name {
                "carry" => (after.clone(), m.clone()),
                "ask for a later end" | "give a later end" => (short.clone(), n.clone()),
                _ => (plain.clone(), n.clone()),
            };
            let before = d.lines().len();
            let got = ask(&mut d, &n);
            let wanted = row.as_bytes()[column] == b'+';
            match &got {
                Ok(()) => assert!(d.lines().len() > before, "{name} in {state:?} wrote nothing"),
                Err(r) => {
                    assert!(!r.why.is_empty() && r.why.iter().all(|w| !w.is_empty()), "{name} {state:?}");
                    assert!(r.why.iter().all(|w| !w.contains('\n')), "{name} {state:?} {r:?}");
                    assert!(r.instead.as_ref().is_some_and(|i| !i.is_empty()), "{name} {state:?} {r:?}");
                }
            }
            if got.is_ok() != wanted {
                wrong.push(format!("{name} in {state:?}: {got:?}"));
            }
            d.assert_replays();
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn started_is_asked_once_and_after_what_comes_before_it() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    assert!(day.request_of_set("started").unwrap_err().why.iter().any(|w| w.starts_with("ready")));
    day.say(&n, "ready", None, "no").unwrap();
    assert!(day.request_of_set("started").unwrap_err().why.iter().any(|w| w.contains("answer is no")));
    let again = Typed { again: Some("changed".into()), ..typed("ready", None, "yes") };
    day.answer(&n, &again).unwrap();
    day.request_of_set("started").unwrap();
    assert!(day.request_of_set("started").unwrap_err().why.iter().any(|w| w.contains("runs already")));
    // In states where nobody answers for the set, it is not started by request.
    for state in [StateWord::HandedBack, StateWord::Closed, StateWord::Refused, StateWord::Cancelled] {
        let (mut day, _) = in_state(state);
        if state != StateWord::HandedBack && state != StateWord::Closed {
            day.of_set("stopped", &[]);
        }
        let refused = day.request_of_set("started").unwrap_err();
        assert!(
            refused.why.iter().any(|w| w.contains("no permit for heron is open")),
            "{state:?} {refused:?}"
        );
    }
}

/// Every report, in every state: chain and fold take it, and the tally is what was reported.
#[test]
fn every_report_is_kept_in_every_state() {
    for state in STATES {
        let (mut d, n) = in_state(state);
        let on = |d: &Day| {
            d.state.on_air.iter().map(|p| (p.person.clone(), p.whereabouts.words())).collect::<Vec<_>>()
        };
        assert!(on(&d).is_empty());
        for (i, to) in [Move::OnAir, Move::In, Move::Out, Move::OffAir].into_iter().enumerate() {
            let line = d.report(Some(&n), "zaneta", to);
            // Only a live permit lets somebody on air without breach, and out is never a breach.
            let breach = line.data.has("breach");
            assert_eq!(breach, i < 2 && state != StateWord::Live, "{state:?} {to:?}");
            assert_eq!(d.state.tally_of_permit(&n), usize::from(to != Move::OffAir));
        }
        // In and out without ever having been put on air; a stranger; somebody without a permit.
        d.report(Some(&n), "nikos", Move::In);
        d.report(Some(&n), "Somebody in a red jacket", Move::Out);
        d.report(None, "A fitter", Move::OnAir);
        for (kind, members) in [
            ("call_out", &[][..]),
            ("suspend", &[("reason", "smoke")][..]),
            ("event", &[("what", "co")][..]),
            ("note", &[("words", "written down")][..]),
        ] {
            d.on_permit(&n, kind, members);
            d.of_set(kind, members);
        }
        d.on_permit(&n, "reading", &[("what", "reserve"), ("value", "201"), ("unit", "bar")]);
        for (kind, members) in [
            ("stopped", &[][..]),
            ("moved", &[("place", "dockhead")][..]),
            ("plugged", &[("supply_point", "gen2")][..]),
            ("started", &[][..]),
            ("filled", &[("from", "other_tested")][..]),
            ("serviced", &[("what", "filter")][..]),
            ("air_test", &[("place", "quay3"), ("sampler", "maelle")][..]),
        ] {
            d.of_set(kind, members);
        }
        assert_eq!(
            on(&d),
            [
                ("nikos".to_owned(), "in"),
                ("Somebody in a red jacket".to_owned(), "out, still on air"),
                ("A fitter".to_owned(), "on air outside"),
            ],
            "{state:?}"
        );
        d.report(Some(&n), "nikos", Move::OffAir);
        d.report(Some(&n), "Somebody in a red jacket", Move::OffAir);
        d.report(None, "A fitter", Move::OffAir);
        // Twice is once.
        d.report(Some(&n), "nikos", Move::OffAir);
        assert!(on(&d).is_empty());
        d.assert_replays();
        assert_eq!(d.verify().report.verdict, airwrit::audit::Verdict::Sound, "{state:?}");
    }
}

/// Whatever is typed: a true report is not refused for how it is written.
#[test]
fn reports_are_kept_whatever_the_name() {
    let long = "ż".repeat(3000);
    let (mut d, n) = in_state(StateWord::Live);
    for who in ["", "  ", "a\u{202e}b", "two\nlines", "tab\there", "\u{feff}", "Z\u{307}aneta", long.as_str()]
    {
        for number in [None, Some(n.as_str())] {
            d.report(number, who, Move::In);
            assert_eq!(d.state.on_air.len(), 1, "{who:?}");
            d.report(number, who, Move::OffAir);
            assert!(d.state.on_air.is_empty(), "{who:?}");
        }
    }
}

/// A minute behind at midnight: the number is of the day that the line gets.
#[test]
fn a_permit_is_numbered_by_the_day_of_its_line() {
    let mut day = Day::enrolled(Plan::small().start("2026-11-25T22:59:00Z"));
    day.clock("2026-11-25T23:00:20Z");
    day.of_set("note", &[("words", "past midnight")]);
    day.clock("2026-11-25T22:59:40Z");
    let job = day.plan.job.clone();
    assert_eq!(day.open(&job), "KW2-261126-01");
}
