//! The good path: what is signed on another machine stands in the register as if signed at the station.

use super::{away, declared, issue};
use crate::support::day::{Day, Plan};
use airwrit::audit::Verdict;
use airwrit::permit::decide::sign::{Limits, Signing};
use airwrit::view::StateWord;

#[test]
fn everything_that_is_signed_on_a_permit_may_be_signed_elsewhere() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    day.ready(&n);
    let sign = |day: &mut Day, what: Signing, by: &str, life: StateWord| {
        day.wait(40);
        let act = away(day, &n, &what, by).unwrap_or_else(|r| panic!("{what:?} {r:?}"));
        day.wait(90);
        let line = day.take_in(&act.write()).unwrap_or_else(|t| panic!("{what:?} {t:?}"));
        assert_eq!(line.data.text("where"), Some("own"));
        assert!(line.act.as_ref().unwrap().time < line.time);
        assert_eq!(day.life(&n), life);
        day.assert_replays();
    };
    sign(&mut day, Signing::Declare, "lukasz", StateWord::Declared);
    let narrowed = Limits { wearers: Some(1), words: Some("no spraying".into()), ..Limits::default() };
    sign(&mut day, Signing::Countersign(narrowed), "eleni", StateWord::Live);
    for (step, value) in [("seen", "yes"), ("stopped_now", "yes")] {
        let t = crate::support::day::typed(step, None, value);
        day.answer(&n, &airwrit::permit::decide::answer::Typed { shutdown: true, ..t }).unwrap();
        if step == "seen" {
            day.request_of_set("stopped").unwrap();
        }
    }
    let back = Signing::HandBack { left_running: None, reason: Some("the tide".into()) };
    sign(&mut day, back, "lukasz", StateWord::HandedBack);
    sign(&mut day, Signing::Close, "bohdan", StateWord::Closed);
    assert_eq!(day.verify().report.verdict, Verdict::Sound);

    let (mut day, n) = declared();
    let refuse = Signing::Refuse { reason: "the wind turns".into() };
    let act = away(&day, &n, &refuse, "eleni").unwrap();
    day.take_in(&act.write()).unwrap();
    assert_eq!((day.life(&n), day.verify().report.verdict), (StateWord::Refused, Verdict::Sound));

    let (mut day, n) = declared();
    let cancel = Signing::Cancel { reason: "not needed".into() };
    let act = away(&day, &n, &cancel, "bohdan").unwrap();
    // The permit may move on in a harmless way.
    day.on_permit(&n, "note", &[("words", "the kettle is on")]);
    day.take_in(&act.write()).unwrap();
    assert_eq!((day.life(&n), day.verify().report.verdict), (StateWord::Cancelled, Verdict::Sound));
}

/// A clock that is some minutes ahead or behind costs nothing: the end of the permit does not hang on it, not
/// even where the longest that a permit may run is what ends it.
#[test]
fn clocks_that_differ_by_minutes() {
    for away_by in [-110, 0, 200] {
        let plan = Plan::small().site("most_hours: 11 h", "most_hours: 2 h");
        let (mut day, n) = super::declared_with(plan);
        day.second += away_by;
        let act = away(&day, &n, &issue(), "eleni").unwrap();
        day.second -= away_by;
        day.wait(20);
        let line = day.take_in(&act.write()).unwrap_or_else(|t| panic!("{away_by}: {t:?}"));
        let declared =
            airwrit::time::seconds(&day.state.permits[&n].last_signed("declare").unwrap().stamp.time);
        let to = airwrit::time::utc(declared + 2 * 3600);
        assert_eq!(line.data.text("valid_to"), Some(to.as_str()));
    }
}
