//! Everything that can be asked for and reported, in every order, to a depth, from a morning on which two permits on two
//! sets are ready: no request puts anybody on air without a live permit in time, an attendant and an entry watch who are
//! not on air, and their own steps; none stops, hands back, closes, cancels or releases under anybody; every report is
//! kept and the tally is what was reported; from every state everybody can be got out; folding again gives the same.
//!
//! States are told apart by what the rules can see. The engine's verdict is compared with a few lines of the test's own.

use crate::support::day::{Day, Plan, typed};
use airwrit::permit::decide::air::{self, Move, Told};
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::{Handing, Later, Limits, Signing};
use airwrit::permit::decide::witness;
use airwrit::permit::state::Whereabouts;
use airwrit::view::StateWord;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::OnceLock;

const SETS: [&str; 2] = ["heron", "egret"];
/// Of the first permit, of both, of the second.
const PERSONS: [&str; 3] = ["zaneta", "nikos", "maelle"];

/// What is asked or told.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Op {
    Declare(usize),
    Countersign(usize),
    Cancel(usize),
    HandBack(usize),
    Close(usize),
    /// Roll called, gauges read, then asked for, by the supervisor.
    Reinstate(usize),
    Later(usize),
    HandOver(usize),
    TakeOver(usize),
    Read(usize),
    Own(usize, usize),
    /// The first answer of a shutdown, then the stop, then the second.
    Shutdown(usize),
    Stop(usize),
    Release(usize),
    OnAir(usize, usize),
    In(usize, usize),
    /// Reports.
    Out(usize),
    Off(usize),
    Entered(usize, usize),
    Event(usize),
    CallOut(usize),
    Stopped(usize),
    Moved(usize),
    Minutes(i64),
}

fn ops() -> Vec<Op> {
    let mut all = Vec::new();
    for p in 0..2 {
        all.extend([
            Op::Declare(p),
            Op::Countersign(p),
            Op::Cancel(p),
            Op::HandBack(p),
            Op::Close(p),
            Op::Reinstate(p),
            Op::Later(p),
            Op::HandOver(p),
            Op::TakeOver(p),
            Op::Read(p),
            Op::Shutdown(p),
            Op::Event(p),
            Op::CallOut(p),
        ]);
        for w in [p, p + 1] {
            all.extend([Op::Own(p, w), Op::OnAir(p, w), Op::In(p, w)]);
        }
        all.extend([Op::Stop(p), Op::Release(p), Op::Stopped(p), Op::Moved(p), Op::Entered(p, 2 - 2 * p)]);
    }
    for w in 0..3 {
        all.extend([Op::Out(w), Op::Off(w)]);
    }
    all.extend([Op::Minutes(16), Op::Minutes(21), Op::Minutes(8 * 60)]);
    all
}

/// Two sets, a permit on each, everything before declaring answered; nikos is planned on both.
fn morning() -> &'static (Day, [String; 2]) {
    static DAY: OnceLock<(Day, [String; 2])> = OnceLock::new();
    DAY.get_or_init(|| {
        let plan = Plan::small()
            .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
            .job("until: \"16:20\"", "until: \"11:00\"");
        let mut day = Day::opened(plan);
        let a = day.number.clone();
        day.ready(&a);
        let first = day.plan.clone();
        day.plan =
            first.clone().set("set: heron", "set: egret").set("serial: HN-26-0482", "serial: HN-26-0499");
        let text = day.plan.set.clone();
        day.approve("set", &text);
        let job = first
            .job
            .replace("attendant: oksana", "attendant: soren")
            .replace("entry_watch: marit", "entry_watch: jiri")
            .replace("person: zaneta", "person: maelle");
        let b = day.open(&job);
        day.ready(&b);
        (day, [a, b])
    })
}

/// What the rules can see of a day, in words: two days with the same are one state.
fn key(d: &Day, permits: &[String; 2], own: &BTreeSet<(usize, usize)>) -> String {
    let now = d.moment().time.max(d.station.chain().time.clone());
    let mut out = String::new();
    for (p, n) in permits.iter().enumerate() {
        let permit = &d.state.permits[n];
        let since = permit.since.seq;
        let set = &d.state.sets[SETS[p]];
        let rolled = set.rolled.as_ref().is_some_and(|r| r.seq > since);
        let declared = permit.last_signed("declare").is_some();
        let pending = permit.pending.as_ref().map(|s| s.kind);
        let due = d.on(n, |k, p, t| airwrit::permit::due::holds(k, p, t).len());
        let events: Vec<&String> =
            set.events.iter().filter(|(_, e)| e.seq >= since).map(|(k, _)| k).collect();
        let moved = set.last.contains_key("moved");
        out += &format!(
            "{:?} {} {} {rolled} {declared} {pending:?} {due} {events:?} {moved} {} {} {:?} {}|",
            d.state.life(permit, &now),
            permit.called_out,
            permit.shutdown_begun,
            permit.job.text("holder").unwrap_or_default(),
            permit.extended.len(),
            set.running(),
            set.released.is_some(),
        );
    }
    for p in &d.state.on_air {
        out += &format!("{} {} {:?} {:?}|", p.person, p.set, p.permit, p.whereabouts);
    }
    out + &format!("{own:?}")
}

/// Does it; whether it was a request that was granted.
fn apply(d: &mut Day, permits: &[String; 2], own: &mut BTreeSet<(usize, usize)>, op: Op) -> bool {
    d.wait(1);
    let set = |d: &mut Day, s: usize, kind: &'static str, members: &[(&str, &str)]| {
        let mut m: Vec<_> = members.iter().map(|(k, v)| ((*k).to_owned(), (*v).into())).collect();
        m.push(("set".to_owned(), SETS[s].into()));
        let draft = d.ask(|k| air::of_set(k, kind, m, &Told::default(), "lukasz"));
        d.add(&draft);
    };
    let report = |d: &mut Day, p: usize, w: usize, to: Move| {
        let draft = d.ask(|k| {
            let permit = k.permit(&permits[p]).unwrap();
            let breach = air::breach(k, Some(permit), PERSONS[w], to);
            air::report(k, Some(permit), SETS[p], PERSONS[w], to, breach, &Told::default(), "oksana")
        });
        d.add(&draft);
    };
    // Where somebody is on air; else on the permit they are planned on first.
    let on = |d: &Day, w: usize| {
        let here = d.state.on_air.iter().find(|p| p.person == PERSONS[w]);
        here.and_then(|p| permits.iter().position(|n| Some(n) == p.permit.as_ref())).unwrap_or(w / 2)
    };
    match op {
        Op::Declare(p) => d.declare(&permits[p], "lukasz").is_ok(),
        Op::Countersign(p) => d.countersign(&permits[p], "eleni", &Limits::default()).is_ok(),
        Op::Cancel(p) => d.cancel(&permits[p], "eleni").is_ok(),
        Op::HandBack(p) => d.hand_back(&permits[p], "lukasz", None).is_ok(),
        Op::Close(p) => d.close(&permits[p], "eleni").is_ok(),
        Op::Reinstate(p) => d.reinstate(&permits[p], "eleni").is_ok(),
        Op::Later(p) => {
            let until =
                Later { until: "2026-11-25T12:00:00Z".into(), reason: "slow".into(), ..Later::default() };
            let holder = d.state.permits[&permits[p]].job.text("holder").unwrap_or_default().to_owned();
            d.sign(&permits[p], &Signing::AskLater(until), &holder).is_ok()
                && d.sign(&permits[p], &Signing::GiveLater, "eleni").is_ok()
        }
        Op::HandOver(p) => {
            let handing = Handing {
                to: "ines".into(),
                checked: vec!["wind".into(), "warnings".into(), "fuel".into()],
                unusual: "nothing".into(),
                staying: Some("the coat".into()),
                ..Handing::default()
            };
            d.sign(&permits[p], &Signing::HandOver(handing), "lukasz").is_ok()
        }
        Op::TakeOver(p) => d.sign(&permits[p], &Signing::TakeOver, "ines").is_ok(),
        Op::Read(p) => {
            d.called_and_read(&permits[p]);
            false
        }
        Op::Own(p, w) => {
            let t = Typed { again: Some("other".into()), ..typed("own", Some(PERSONS[w]), "yes") };
            let done = d.answer(&permits[p], &t).is_ok();
            if done {
                own.insert((p, w));
            }
            done
        }
        Op::Shutdown(p) => {
            let mut any = false;
            for step in ["seen", "stopped_now"] {
                let t = Typed { shutdown: true, again: Some("waited".into()), ..typed(step, None, "yes") };
                any |= d.answer(&permits[p], &t).is_ok();
            }
            any
        }
        Op::Stop(s) => {
            let decided = d.ask(|k| air::request_of_set(k, "stopped", SETS[s], Vec::new(), "lukasz"));
            d.take(decided).is_ok()
        }
        Op::Release(s) => {
            let decided = d.ask(|k| witness::comes(k, "released", SETS[s], None, &Told::default(), "lukasz"));
            d.take(decided).is_ok()
        }
        Op::OnAir(p, w) => d.request(&permits[p], PERSONS[w], Move::OnAir).is_ok(),
        Op::In(p, w) => d.request(&permits[p], PERSONS[w], Move::In).is_ok(),
        Op::Out(w) => {
            let p = on(d, w);
            report(d, p, w, Move::Out);
            false
        }
        Op::Off(w) => {
            let p = on(d, w);
            report(d, p, w, Move::OffAir);
            false
        }
        Op::Entered(p, w) => {
            report(d, p, w, Move::In);
            false
        }
        Op::Event(p) => {
            d.on_permit(&permits[p], "event", &[("what", "supply_low")]);
            false
        }
        Op::CallOut(p) => {
            d.on_permit(&permits[p], "call_out", &[]);
            false
        }
        Op::Stopped(s) => {
            set(d, s, "stopped", &[]);
            false
        }
        Op::Moved(s) => {
            set(d, s, "moved", &[("place", "quay3")]);
            false
        }
        Op::Minutes(n) => {
            d.wait(n * 60);
            false
        }
    }
}

/// Who is on air, kept by the test alone: by person and set.
type Tally = BTreeMap<(usize, usize), Whereabouts>;

fn told(tally: &mut Tally, d: &Day, permits: &[String; 2], op: Op, granted: bool) {
    let on = |w: usize| {
        let here = d.state.on_air.iter().find(|p| p.person == PERSONS[w]);
        here.and_then(|p| permits.iter().position(|n| Some(n) == p.permit.as_ref())).unwrap_or(w / 2)
    };
    match op {
        Op::OnAir(p, w) if granted => drop(tally.insert((w, p), Whereabouts::Outside)),
        Op::In(p, w) if granted => drop(tally.insert((w, p), Whereabouts::In)),
        Op::Entered(p, w) => drop(tally.insert((w, p), Whereabouts::In)),
        Op::Out(w) => drop(tally.insert((w, on(w)), Whereabouts::OutOnAir)),
        Op::Off(w) => drop(tally.remove(&(w, on(w)))),
        Op::Declare(_)
        | Op::Countersign(_)
        | Op::Cancel(_)
        | Op::HandBack(_)
        | Op::Close(_)
        | Op::Reinstate(_) => {}
        Op::Later(_) | Op::HandOver(_) | Op::TakeOver(_) | Op::Read(_) | Op::Own(..) | Op::Shutdown(_) => {}
        Op::Stop(_) | Op::Release(_) | Op::OnAir(..) | Op::In(..) => {}
        Op::Event(_) | Op::CallOut(_) | Op::Stopped(_) | Op::Moved(_) | Op::Minutes(_) => {}
    }
}

struct Reached {
    states: usize,
    steps: usize,
    granted: BTreeMap<String, usize>,
}

/// Every sequence up to a depth from a day and who is on air then, through states met once.
fn reach(
    start: &Day,
    permits: &[String; 2],
    own: &BTreeSet<(usize, usize)>,
    tally: Tally,
    depth: usize,
) -> Reached {
    let mut seen = BTreeSet::from([key(start, permits, own)]);
    let mut todo = VecDeque::from([(start.clone(), own.clone(), tally, 0)]);
    let mut reached = Reached { states: 1, steps: 0, granted: BTreeMap::new() };
    let all = ops();
    while let Some((day, own, tally, at)) = todo.pop_front() {
        for op in &all {
            let (mut d, mut own, mut tally) = (day.clone(), own.clone(), tally.clone());
            let was = day.moment().time.max(day.station.chain().time.clone());
            let granted = apply(&mut d, permits, &mut own, *op);
            reached.steps += 1;
            if granted {
                *reached
                    .granted
                    .entry(format!("{op:?}").split('(').next().unwrap().to_owned())
                    .or_default() += 1;
            }
            told(&mut tally, &day, permits, *op, granted);
            check(&day.state, &d, permits, &own, &tally, *op, granted, &was);
            if seen.insert(key(&d, permits, &own)) {
                reached.states += 1;
                everybody_out(&d, permits, &tally);
                d.assert_replays();
                if at + 1 < depth {
                    todo.push_back((d, own, tally, at + 1));
                }
            }
        }
    }
    reached
}

#[expect(clippy::too_many_arguments, reason = "what was, what is, and what was done between")]
fn check(
    before: &airwrit::permit::state::State,
    d: &Day,
    permits: &[String; 2],
    own: &BTreeSet<(usize, usize)>,
    tally: &Tally,
    op: Op,
    granted: bool,
    was: &str,
) {
    let now = d.moment().time.max(was.to_owned());
    let on_set = |s: usize| before.on_air.iter().filter(|p| p.set == SETS[s]).count();
    let life = |p: usize| before.life(&before.permits[&permits[p]], &now);
    match op {
        Op::OnAir(p, w) | Op::In(p, w) if granted => {
            let permit = &before.permits[&permits[p]];
            assert_eq!(life(p), StateWord::Live, "{op:?}");
            assert!(permit.valid_to.as_deref().unwrap() >= now.as_str(), "{op:?} after its end");
            assert!(!permit.called_out && before.sets[SETS[p]].running(), "{op:?}");
            assert!(own.contains(&(p, w)), "{op:?} without their own steps");
            for role in ["attendant", "entry_watch"] {
                let who = permit.job.text(role).unwrap();
                assert!(!who.is_empty() && before.on_air.iter().all(|o| o.person != who), "{op:?}: {role}");
            }
        }
        Op::Stop(s) | Op::Release(s) | Op::Shutdown(s) if granted => assert_eq!(on_set(s), 0, "{op:?}"),
        Op::HandBack(p) | Op::Close(p) | Op::Cancel(p) | Op::Reinstate(p) if granted => {
            assert_eq!(
                before.on_air.iter().filter(|o| o.permit.as_ref() == Some(&permits[p])).count(),
                0,
                "{op:?}"
            );
            if matches!(op, Op::HandBack(_)) {
                assert_eq!(on_set(p), 0, "{op:?}");
            }
        }
        Op::Declare(_)
        | Op::Countersign(_)
        | Op::Cancel(_)
        | Op::HandBack(_)
        | Op::Close(_)
        | Op::Reinstate(_) => {}
        Op::Later(_) | Op::HandOver(_) | Op::TakeOver(_) | Op::Read(_) | Op::Own(..) | Op::Shutdown(_) => {}
        Op::Stop(_)
        | Op::Release(_)
        | Op::OnAir(..)
        | Op::In(..)
        | Op::Out(_)
        | Op::Off(_)
        | Op::Entered(..) => {}
        Op::Event(_) | Op::CallOut(_) | Op::Stopped(_) | Op::Moved(_) | Op::Minutes(_) => {}
    }
    let have: Tally = d
        .state
        .on_air
        .iter()
        .map(|o| {
            let w = PERSONS.iter().position(|p| *p == o.person).unwrap();
            ((w, SETS.iter().position(|s| *s == o.set).unwrap()), o.whereabouts)
        })
        .collect();
    assert_eq!(&have, tally, "after {op:?}");
}

/// Whatever has happened: everyone can be called out, comes out, is off air, and nothing of it is refused.
fn everybody_out(d: &Day, permits: &[String; 2], tally: &Tally) {
    if tally.is_empty() {
        return;
    }
    let mut d = d.clone();
    for p in permits {
        d.on_permit(p, "call_out", &[]);
    }
    for (w, s) in tally.keys() {
        for to in [Move::Out, Move::OffAir] {
            let draft = d.ask(|k| {
                let permit = k.permit(&permits[*s]).unwrap();
                air::report(
                    k,
                    Some(permit),
                    SETS[*s],
                    PERSONS[*w],
                    to,
                    Vec::new(),
                    &Told::default(),
                    "oksana",
                )
            });
            d.add(&draft);
        }
    }
    assert!(d.state.on_air.is_empty(), "{:?}", d.state.on_air);
}

#[test]
fn two_sets_two_permits_three_persons_to_a_depth() {
    let depth = std::env::var("AIRWRIT_DEPTH").ok().and_then(|d| d.parse().ok()).unwrap_or(2);
    let (day, permits) = morning();
    let mut total = (0, 0);
    let mut granted: BTreeMap<String, usize> = BTreeMap::new();
    let mut live = day.clone();
    let mut own = BTreeSet::new();
    for op in [
        Op::Declare(0),
        Op::Countersign(0),
        Op::Declare(1),
        Op::Countersign(1),
        Op::Own(0, 0),
        Op::Own(0, 1),
        Op::Own(1, 2),
        Op::Own(1, 1),
    ] {
        assert!(apply(&mut live, permits, &mut own, op), "{op:?}");
    }
    let mut inside = live.clone();
    for op in [Op::OnAir(0, 0), Op::In(0, 0), Op::OnAir(1, 2)] {
        assert!(apply(&mut inside, permits, &mut own, op), "{op:?}");
    }
    let people = Tally::from([((0, 0), Whereabouts::In), ((2, 1), Whereabouts::Outside)]);
    for (name, start, own, tally) in [
        ("morning", day, BTreeSet::new(), Tally::new()),
        ("both live", &live, own.clone(), Tally::new()),
        ("people on air from both", &inside, own.clone(), people),
    ] {
        let r = reach(start, permits, &own, tally, depth);
        println!("{name}: depth {depth}, {} states, {} steps", r.states, r.steps);
        total = (total.0 + r.states, total.1 + r.steps);
        for (k, n) in r.granted {
            *granted.entry(k).or_default() += n;
        }
    }
    println!("in all {} states, {} steps; granted {granted:?}", total.0, total.1);
    // It would be no test if nothing were ever granted.
    for what in ["OnAir", "In", "Declare", "Cancel", "Shutdown", "Own", "Reinstate", "HandOver", "Later"] {
        assert!(granted.get(what).is_some_and(|n| *n > 0), "{what} was never granted: {granted:?}");
    }
}

/// Long ways, at random: whatever came before, the same holds, the register verifies, and folding it again gives the same.
#[test]
fn any_interleaving_of_two_permits_and_two_sets() {
    let config = Config { cases: 24, failure_persistence: None, max_shrink_iters: 100, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let (day, permits) = morning();
    let all = ops();
    let strategy = proptest::collection::vec(0..all.len(), 20..60);
    let granted = std::cell::Cell::new(0);
    if let Err(e) = runner.run(&strategy, |picks| {
        let (mut d, mut own, mut tally) = (day.clone(), BTreeSet::new(), Tally::new());
        // Mostly from two live permits: most of what can go wrong begins there.
        let begin = [Op::Declare(0), Op::Countersign(0), Op::Declare(1), Op::Countersign(1)];
        let begin = begin.into_iter().chain([Op::Own(0, 0), Op::Own(0, 1), Op::Own(1, 1), Op::Own(1, 2)]);
        for op in begin.chain(picks.iter().map(|i| all[*i])) {
            let before = d.state.clone();
            let was = d.moment().time.max(d.station.chain().time.clone());
            let earlier = d.clone();
            let yes = apply(&mut d, permits, &mut own, op);
            told(&mut tally, &earlier, permits, op, yes);
            check(&before, &d, permits, &own, &tally, op, yes, &was);
            granted.set(granted.get() + usize::from(yes));
        }
        everybody_out(&d, permits, &tally);
        d.assert_replays();
        assert_eq!(d.verify().report.verdict, airwrit::audit::Verdict::Sound);
        Ok(())
    }) {
        panic!("{e}");
    }
    assert!(granted.get() > 24 * 8 + 60, "{}", granted.get());
}
