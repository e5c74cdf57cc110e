//! What a view remembers of a permit's past is what looking back anew finds. Peer: a thread that remembers nothing.

use crate::support::day::{Day, Plan, SMALL_SHUTDOWN, typed};
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::sign::Signing;
use airwrit::show;
use airwrit::tongue::Tongue;

/// Everything that is shown of a permit, in a language.
fn shown(day: &Day, n: &str, asked: Option<Tongue>) -> String {
    day.ask(|k| {
        let view = show::permit(k, day.lines(), n, None, asked).unwrap();
        let board = show::board(k, day.lines(), asked).unwrap();
        let card = show::card::card(k, day.lines(), n, None, asked).unwrap();
        serde_json::to_string(&(view, board, card)).unwrap()
    })
}

/// Here, where earlier views were made, and in a thread that made none; the second also here again.
#[track_caller]
fn the_same(day: &Day, n: &str) {
    for asked in [None, Some(Tongue::Polish), Some(Tongue::Ukrainian), None] {
        let here = shown(day, n, asked);
        let anew = std::thread::scope(|s| s.spawn(|| shown(day, n, asked)).join().unwrap());
        assert!(here == anew, "{asked:?}: remembered\n{here}\nanew\n{anew}");
    }
}

#[test]
fn a_remembered_past_is_the_past() {
    let mut day = Day::opened(Plan::small());
    let n = day.number.clone();
    the_same(&day, &n);
    day.ready(&n);
    the_same(&day, &n);
    // Too near, it holds; answered again it is open, and each stands there as it stood.
    for (value, moved) in [("4", "read_wrong"), ("40", "moved")] {
        let mut again = typed("siting", None, value);
        again.again = Some(moved.into());
        day.answer(&n, &again).unwrap();
        the_same(&day, &n);
    }
    // Another shutdown form comes into force, and a second permit is opened and goes its own way.
    day.approve("form", &SMALL_SHUTDOWN.replace("checklist: small-off", "checklist: another-off"));
    the_same(&day, &n);
    let job = day.plan.job.clone();
    let other = day.open(&job);
    day.say(&other, "ready", None, "no").unwrap();
    the_same(&day, &n);
    the_same(&day, &other);
    day.declare(&n, "lukasz").unwrap();
    the_same(&day, &n);
    day.countersign(&n, "eleni", &Default::default()).unwrap();
    the_same(&day, &n);
    day.own(&n, "zaneta");
    day.read_gauges(&n);
    day.request(&n, "zaneta", Move::OnAir).unwrap();
    the_same(&day, &n);
    // What ends answers: an event, by which the permit is suspended.
    day.wait(60);
    day.on_permit(&n, "event", &[("what", "co")]);
    the_same(&day, &n);
    day.report(Some(&n), "zaneta", Move::OffAir);
    day.wait(3600);
    the_same(&day, &n);
    day.sign(&n, &Signing::Cancel { reason: "an alarm".into() }, "eleni").unwrap();
    the_same(&day, &n);
    the_same(&day, &other);
}
