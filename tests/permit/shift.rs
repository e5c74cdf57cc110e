//! A later end, another holder, another shift: who signs, what is looked at first, what falls, what is asked again.

use crate::support::day::{Day, Plan, SMALL, typed};
use airwrit::audit::Verdict;
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::{Handing, Later, Limits, Signing};
use airwrit::view::StateWord;

/// Live at 06:30 until the early shift ends, 14:30; the work until 16:20.
fn live() -> (Day, String) {
    let work = SMALL.replace("        good_for: place\n", "        good_for: [place, shift]\n");
    let mut day =
        Day::opened(Plan { work, ..Plan::small() }.set("rated_flow: 874 L/min", "rated_flow: 2000 L/min"));
    let n = day.number.clone();
    day.live(&n);
    for who in ["zaneta", "nikos"] {
        day.own(&n, who);
    }
    (day, n)
}

/// The same with the work until 09:00, so that there is something to be extended.
fn short() -> (Day, String) {
    let plan = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        .job("until: \"16:20\"", "until: \"09:00\"");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    day.own(&n, "zaneta");
    assert_eq!(day.state.permits[&n].valid_to.as_deref(), Some("2026-11-25T08:00:00Z"));
    (day, n)
}

fn later(until: &str) -> Signing {
    Signing::AskLater(Later {
        until: until.into(),
        reason: "the coat dries slowly".into(),
        ..Later::default()
    })
}

fn handing(shift: bool) -> Handing {
    Handing {
        to: "ines".into(),
        shift,
        checked: vec!["wind".into(), "warnings".into(), "fuel".into()],
        unusual: "the horn is weak on the port side".into(),
        staying: None,
    }
}

fn why(r: Result<airwrit::record::line::Line, airwrit::permit::decide::Refusal>) -> String {
    r.unwrap_err().why.join("; ")
}

#[test]
fn a_later_end_is_asked_for_and_given() {
    let (mut day, n) = short();
    day.clock("2026-11-25T07:30:00Z");
    let until = later("2026-11-25T11:00:00Z");
    assert!(why(day.sign(&n, &until, "lukasz")).contains("co was not read within the last 60 min"));
    day.read_gauges(&n);
    assert!(why(day.sign(&n, &until, "ines")).contains("the holder of this permit is lukasz"));
    assert!(why(day.sign(&n, &Signing::GiveLater, "eleni")).contains("nobody asks"));
    day.sign(&n, &until, "lukasz").unwrap();
    // Nothing has changed yet.
    assert_eq!(day.state.permits[&n].valid_to.as_deref(), Some("2026-11-25T08:00:00Z"));
    for (by, words) in [("lukasz", "is no supervisor"), ("ines", "is no supervisor")] {
        assert!(why(day.sign(&n, &Signing::GiveLater, by)).contains(words), "{by}");
    }
    let word = airwrit::show::check_word(&day.state.permits[&n]);
    let line = day.sign(&n, &Signing::GiveLater, "bohdan").unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T11:00:00Z"));
    assert_eq!(line.data.text("valid_by"), Some("the end of the work"));
    assert_eq!(day.state.permits[&n].valid_to.as_deref(), Some("2026-11-25T11:00:00Z"));
    assert_ne!(
        airwrit::show::check_word(&day.state.permits[&n]),
        word,
        "the sheet that hangs is told by its word"
    );
    // The token of the new sheet is the one that counts.
    let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &n, None, None).unwrap());
    assert_eq!(Some(view.token.as_str()), line.data.text("token"));
    // Given once is given.
    assert!(why(day.sign(&n, &Signing::GiveLater, "bohdan")).contains("nobody asks"));
    day.clock("2026-11-25T10:59:00Z");
    day.read_gauges(&n);
    day.clock("2026-11-25T11:00:00Z");
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    day.clock("2026-11-25T11:00:01Z");
    assert_eq!(day.life(&n), StateWord::Lapsed);
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, Verdict::Sound);
}

#[test]
fn no_later_than_anything_else_that_ends_it() {
    let (mut day, n) = short();
    day.clock("2026-11-25T07:30:00Z");
    day.read_gauges(&n);
    // The early shift ends at 14:30 at the site.
    day.sign(&n, &later("2026-11-25T15:00:00Z"), "lukasz").unwrap();
    let line = day.sign(&n, &Signing::GiveLater, "eleni").unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T13:30:00Z"));
    assert_eq!(line.data.text("valid_by"), Some("the end of the shift (Early shift)"));
    // No later end than it has is no later end.
    assert!(why(day.sign(&n, &later("2026-11-25T15:30:00Z"), "lukasz")).contains("it would end no later"));
    assert!(why(day.sign(&n, &later("2026-11-25T09:00:00Z"), "lukasz")).contains("it would end no later"));
}

/// An entry permit that ends earlier is what ends it, until it is told to end later.
#[test]
fn an_entry_permit_that_now_ends_later() {
    let plan = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        .job("until: \"16:45\"", "until: \"10:00\"");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    day.clock("2026-11-25T08:00:00Z");
    day.read_gauges(&n);
    let until = "2026-11-25T12:00:00Z";
    assert!(why(day.sign(&n, &later(until), "lukasz")).contains("Entry permit KR-E-3391"));
    let with = |id: &str| {
        Signing::AskLater(Later {
            until: until.into(),
            entry_permits: vec![(id.into(), "2026-11-25T11:30:00Z".into())],
            reason: "re-tested".into(),
        })
    };
    assert!(why(day.sign(&n, &with("nix"), "lukasz")).contains("names no entry permit `nix`"));
    day.sign(&n, &with("entry"), "lukasz").unwrap();
    let line = day.sign(&n, &Signing::GiveLater, "eleni").unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T11:30:00Z"));
    assert!(line.data.text("said").unwrap().contains("Entry permit KR-E-3391 now ends at"));
    day.assert_replays();
}

/// What was asked falls with any change of state; who asks does not give; wearers and those who stand by do not either.
#[test]
fn what_was_asked_falls() {
    let (mut day, n) = short();
    day.clock("2026-11-25T07:30:00Z");
    day.read_gauges(&n);
    day.sign(&n, &later("2026-11-25T11:00:00Z"), "lukasz").unwrap();
    let mut fallen = day.clone();
    fallen.on_permit(&n, "suspend", &[("reason", "smoke")]);
    fallen.reinstate(&n, "bohdan").unwrap();
    let fell = why(fallen.sign(&n, &Signing::GiveLater, "eleni"));
    assert!(
        fell.contains("what was asked for at 08:3") && fell.contains("stands no more: the permit changed at"),
        "{fell}"
    );
    // Called out, out of its limits, past its end: refused, with the reason.
    let mut out = day.clone();
    out.on_permit(&n, "reading", &[("what", "co"), ("value", "9"), ("unit", "ppm")]);
    assert!(why(out.sign(&n, &Signing::GiveLater, "eleni")).contains("co was read"));
    let mut late = day.clone();
    late.report(Some(&n), "zaneta", Move::OnAir);
    late.clock("2026-11-25T08:00:01Z");
    assert!(why(late.sign(&n, &Signing::GiveLater, "eleni")).contains("its time is over"));
    assert!(why(late.sign(&n, &later("2026-11-25T11:00:00Z"), "lukasz")).contains("its time is over"));
    day.sign(&n, &Signing::GiveLater, "eleni").unwrap();
}

#[test]
fn it_is_handed_over_and_taken() {
    let (mut day, n) = live();
    day.clock("2026-11-25T09:00:00Z");
    let hand = Signing::HandOver(handing(false));
    let refused = why(day.sign(&n, &hand, "lukasz"));
    assert!(
        refused.contains("no roll call within the last 60 min") && refused.contains("reserve was not read")
    );
    day.called_and_read(&n);
    assert!(why(day.sign(&n, &hand, "ines")).contains("the holder of this permit is lukasz"));
    let half = |f: &dyn Fn(&mut Handing)| {
        let mut h = handing(false);
        f(&mut h);
        Signing::HandOver(h)
    };
    for (what, words) in [
        (half(&|h| h.to = "lukasz".into()), "holds it already"),
        (half(&|h| h.to = "eleni".into()), "is no operator"),
        (half(&|h| h.to = "zaneta".into()), "is not on the roster"),
        (half(&|h| h.checked = vec!["wind".into()]), "both looked at: warnings"),
        (half(&|h| h.checked = vec!["warnings".into()]), "both looked at: wind"),
    ] {
        assert!(why(day.sign(&n, &what, "lukasz")).contains(words), "{words}");
    }
    // Somebody on air: out first, or it is said why they stay.
    let mut staying = day.clone();
    staying.request(&n, "zaneta", Move::OnAir).unwrap();
    assert!(why(staying.sign(&n, &hand, "lukasz")).contains("zaneta is on air"));
    let stays = half(&|h| h.staying = Some("the coat cannot be left half done".into()));
    let line = staying.sign(&n, &stays, "lukasz").unwrap();
    assert!(line.data.text("said").unwrap().contains("People stay on air meanwhile: the coat"));
    staying.sign(&n, &Signing::TakeOver, "ines").unwrap();
    // Nothing has passed until the other has signed.
    day.sign(&n, &hand, "lukasz").unwrap();
    assert_eq!(day.state.permits[&n].job.text("holder"), Some("lukasz"));
    assert!(why(day.sign(&n, &Signing::TakeOver, "lukasz")).contains("handed over to ines"));
    let line = day.sign(&n, &Signing::TakeOver, "ines").unwrap();
    assert!(line.data.text("said").unwrap().contains("the horn is weak on the port side"));
    assert_eq!(day.state.permits[&n].job.text("holder"), Some("ines"));
    // The same shift: nothing is asked again, and the end is as it was.
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    assert_eq!(day.state.permits[&n].valid_to.as_deref(), Some("2026-11-25T13:30:00Z"));
    assert!(why(day.sign(&n, &Signing::TakeOver, "ines")).contains("nobody hands it over"));
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, Verdict::Sound);
}

/// The next shift takes it: what was good for the shift is asked again, and then it may run until that shift ends.
#[test]
fn the_next_shift_takes_it() {
    let (mut day, n) = live();
    // The early shift ends at 14:30 at the site, 13:30 UTC; the overlap of the site is an hour.
    for (at, words) in [("2026-11-25T12:29:59Z", "takes it from"), ("2026-11-25T12:30:00Z", "")] {
        let mut early = day.clone();
        early.clock(at);
        early.called_and_read(&n);
        let signed = early.sign(&n, &Signing::HandOver(handing(true)), "lukasz");
        assert_eq!(signed.is_err(), !words.is_empty(), "{at}");
        assert!(words.is_empty() || why(signed).contains(words), "{at}");
    }
    day.clock("2026-11-25T13:20:00Z");
    day.called_and_read(&n);
    // Past the end of the shift nobody gives a later end before the next shift has taken it.
    assert!(
        why(day.sign(&n, &later("2026-11-25T15:00:00Z"), "lukasz"))
            .contains("the end of the shift (Early shift)")
    );
    // Hours before its end the next shift has not come: handed there and back, the end would move on and on.
    let mut back = day.clone();
    day.sign(&n, &Signing::HandOver(handing(true)), "lukasz").unwrap();
    day.sign(&n, &Signing::TakeOver, "ines").unwrap();
    back.sign(&n, &Signing::HandOver(handing(true)), "lukasz").unwrap();
    back.sign(&n, &Signing::TakeOver, "ines").unwrap();
    back.called_and_read(&n);
    let there = Signing::HandOver(Handing { to: "lukasz".into(), ..handing(true) });
    assert!(why(back.sign(&n, &there, "ines")).contains("the next one takes it from"));
    let held = day.forbidden(&n, "zaneta", Move::OnAir);
    assert!(
        held.iter().any(|w| w.starts_with("siting") && w.contains("the next shift took over")),
        "{held:?}"
    );
    assert!(held.iter().any(|w| w.starts_with("outlet ok")), "{held:?}");
    // Live, and the sheet does not say that anybody may be put on this air.
    let view = day.ask(|k| airwrit::show::permit(k, day.lines(), &n, None, None).unwrap());
    assert_eq!((view.state, view.held, view.state_words.as_str()), (StateWord::Live, true, "HELD"));
    assert!(view.state_means.starts_with("Nobody goes on this air until "), "{}", view.state_means);
    // Not given while anything is asked again.
    assert!(why(day.sign(&n, &later("2026-11-25T15:00:00Z"), "ines")).contains("siting"));
    let again =
        |step: &str, item: Option<&str>, value: &str| Typed { by: "ines".into(), ..typed(step, item, value) };
    day.answer(&n, &again("siting", None, "41")).unwrap();
    for o in ["red", "white", "green"] {
        day.answer(&n, &again("outlet_ok", Some(o), "yes")).unwrap();
    }
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    day.sign(&n, &later("2026-11-25T15:00:00Z"), "ines").unwrap();
    let line = day.sign(&n, &Signing::GiveLater, "eleni").unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T15:00:00Z"));
    // What the new shift answered does not run out with the old shift.
    day.clock("2026-11-25T14:00:00Z");
    day.read_gauges(&n);
    assert_eq!(day.forbidden(&n, "zaneta", Move::OnAir), Vec::<String>::new());
    // The new holder hands back, the one before does not matter any more.
    assert_eq!(day.state.permits[&n].job.text("holder"), Some("ines"));
    day.assert_replays();
    assert_eq!(day.verify().report.verdict, Verdict::Sound);
}

#[test]
fn who_issued_it_takes_it_not_and_a_half_falls() {
    // A supervisor who is an operator too.
    let plan = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        .roster("roles: [supervisor]", "roles: [operator, supervisor]");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    day.called_and_read(&n);
    let to = |who: &str| Signing::HandOver(Handing { to: who.into(), ..handing(false) });
    assert!(why(day.sign(&n, &to("eleni"), "lukasz")).contains("who issues does not hold it"));
    day.sign(&n, &to("bohdan"), "lukasz").unwrap();
    let mut fallen = day.clone();
    fallen.on_permit(&n, "event", &[("what", "false_alarm")]);
    let fell = why(fallen.sign(&n, &Signing::TakeOver, "bohdan"));
    assert!(fell.contains("what was handed over at") && fell.contains("it is suspended"), "{fell}");
    // A suspended permit changes hands as well.
    fallen.called_and_read(&n);
    fallen.sign(&n, &to("bohdan"), "lukasz").unwrap();
    fallen.sign(&n, &Signing::TakeOver, "bohdan").unwrap();
    assert_eq!(fallen.life(&n), StateWord::Suspended);
    fallen.assert_replays();
    // Whoever holds it now does not let people on this air again as supervisor, nor gives themselves a later end.
    day.sign(&n, &Signing::TakeOver, "bohdan").unwrap();
    day.sign(&n, &later("2026-11-25T13:29:00Z"), "bohdan").map(drop).unwrap_err();
    day.on_permit(&n, "suspend", &[("reason", "smoke")]);
    assert!(day.reinstate(&n, "bohdan").is_err());
    assert!(day.reinstate(&n, "eleni").is_ok());
}

/// Who issued it does not hold it, also after another gave it a later end.
#[test]
fn who_issued_it_first_takes_it_not_either() {
    let plan = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        .job("until: \"16:20\"", "until: \"09:00\"")
        .roster("roles: [supervisor]", "roles: [operator, supervisor]");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.live(&n);
    day.called_and_read(&n);
    day.sign(&n, &later("2026-11-25T11:00:00Z"), "lukasz").unwrap();
    day.sign(&n, &Signing::GiveLater, "bohdan").unwrap();
    let to = |who: &str| Signing::HandOver(Handing { to: who.into(), ..handing(false) });
    for who in ["eleni", "bohdan"] {
        assert!(why(day.sign(&n, &to(who), "lukasz")).contains("who issues does not hold it"), "{who}");
    }
}

/// Limits that narrow end with the later end that widens them, in words that a supervisor signed.
#[test]
fn an_earlier_end_that_was_narrowed_may_be_given_later() {
    let plan = Plan::small().set("rated_flow: 874 L/min", "rated_flow: 2000 L/min");
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.ready(&n);
    day.declare(&n, "lukasz").unwrap();
    let limits = Limits { until: Some("2026-11-25T08:00:00Z".into()), ..Limits::default() };
    day.countersign(&n, "eleni", &limits).unwrap();
    day.clock("2026-11-25T07:00:00Z");
    day.read_gauges(&n);
    day.sign(&n, &later("2026-11-25T10:00:00Z"), "lukasz").unwrap();
    let line = day.sign(&n, &Signing::GiveLater, "eleni").unwrap();
    assert_eq!(line.data.text("valid_to"), Some("2026-11-25T10:00:00Z"));
}
