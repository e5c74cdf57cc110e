//! Weeks with two sets, permits that lapse, are cancelled, handed back or left as they are, people reported on air late, sets
//! that run for days and quiet days between: what is at hand of such a register says of the work what everything says.

use crate::support::day::{Day, Plan};
use airwrit::permit::decide::air::{self, Move, Told};
use airwrit::permit::decide::{Known, crew};
use airwrit::permit::state::State;
use airwrit::permit::{copies, due, gone, watch};
use airwrit::record::json::{Json, object};
use std::fmt::Write;

const SETS: [&str; 2] = ["heron", "egret"];
const PERSONS: [&str; 3] = ["zaneta", "nikos", "maelle"];

fn plans() -> [Plan; 2] {
    let heron = Plan::small()
        .set("rated_flow: 874 L/min", "rated_flow: 2000 L/min")
        // So little that a reserve falls too fast within days.
        .set("drop_per_hour: 3 bar", "drop_per_hour: 1 bar");
    let mut egret =
        heron.clone().set("set: heron", "set: egret").set("serial: HN-26-0482", "serial: HN-26-0499");
    egret.job = egret
        .job
        .replace("attendant: oksana", "attendant: soren")
        .replace("entry_watch: marit", "entry_watch: jiri")
        .replace("person: zaneta", "person: maelle");
    [heron, egret]
}

fn of_set(d: &mut Day, set: usize, kind: &'static str, members: &[(&str, &str)]) {
    let mut m: Vec<_> = members.iter().map(|(k, v)| ((*k).to_owned(), (*v).into())).collect();
    m.push(("set".to_owned(), SETS[set].into()));
    let draft = d.ask(|k| air::of_set(k, kind, m, &Told::default(), "lukasz"));
    d.add(&draft);
}

/// SplitMix64, from memory: any sequence does.
fn next(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (*state ^ (*state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// What is said of the work: to whoever decides, and to whoever gets people out.
fn said(k: &Known<'_>) -> String {
    let mut out = String::new();
    for person in PERSONS {
        let planned: Vec<&str> = air::planned_on(k, person).iter().map(|p| p.number.as_str()).collect();
        writeln!(out, "{person} {planned:?}").unwrap();
    }
    writeln!(out, "{} {}", air::known_as(k, None, "Rasa Vėtrungė"), air::known_as(k, None, "Maëlle"))
        .unwrap();
    for set in SETS {
        let from = gone::on_reserve_since(k, set).unwrap_or(k.now.seconds());
        let air = gone::air_gone(k, set, from);
        writeln!(out, "{set} {:?} {:?} {air:?}", crew::everyone(k, None, Some(set)), watch::stops(k, set))
            .unwrap();
        writeln!(out, "{:?} {:?}", air::start_forbidden(k, set), air::stop_forbidden(k, set)).unwrap();
    }
    for p in k.state.in_use(k.time()) {
        let texts = k.texts_of(p).unwrap();
        let read =
            [due::unsafe_reserve(k, p, &texts), due::holds(k, p, &texts), due::unread_lately(k, p, &texts)];
        let late = due::unread_since(k, p, &texts, &p.since);
        let against = (watch::against(k, p, &texts), watch::were_against(k, p, &texts, p.since.seq));
        writeln!(out, "{} {:?} {read:?} {late:?} {against:?}", p.number, k.life(p)).unwrap();
        for person in PERSONS {
            let why = air::breach(k, Some(p), person, Move::OnAir);
            let spell = air::spell(k, &texts, person);
            writeln!(out, "{person} {why:?} {spell} {:?}", air::forbidden(k, p, person, Move::In)).unwrap();
        }
    }
    for p in k.state.permits.at_hand().filter(|p| k.state.is_recent(p)) {
        let down = copies::stale(k, p);
        if !down.is_empty() {
            writeln!(out, "{} {down:?}", p.number).unwrap();
        }
    }
    out
}

fn at_hand(d: &Day) -> State {
    let kept = serde_json::to_string(&d.state.at_hand().unwrap()).unwrap();
    serde_json::from_str(&kept).unwrap()
}

#[test]
fn what_is_at_hand_says_of_the_work_what_everything_says() {
    let plans = plans();
    let mut begun = Day::enrolled(plans[0].clone());
    begun.approve("set", &plans[1].set);
    let mut random = 7;
    let (mut compared, mut dropped, mut lacking, mut stood) = (0, 0, 0, 0);
    for _ in 0..8 {
        let mut d = begun.clone();
        let mut permits: Vec<String> = Vec::new();
        let mut hand = at_hand(&d);
        for _ in 0..110 {
            let mut pick = |n: u64| -> usize { (next(&mut random) % n) as usize };
            let (set, who, which) = (pick(2), PERSONS[pick(3)], pick(4));
            let before = d.lines().len();
            let some = permits
                .len()
                .checked_sub(1 + which.min(permits.len().saturating_sub(1)))
                .map(|i| permits[i].clone());
            d.wait(60);
            match (pick(17), some) {
                (0..=2, _) => {
                    d.plan = plans[set].clone();
                    if let Ok(line) = d.try_open(&plans[set].job, false) {
                        let n = line.permit.as_deref().unwrap().to_owned();
                        permits.push(n.clone());
                        if pick(4) > 0 && d.say(&n, "ready", None, "yes").is_ok() {
                            let runs = d.ask(|k| air::start_forbidden(k, SETS[set]).is_empty());
                            if runs {
                                of_set(&mut d, set, "started", &[]);
                            }
                            let _ = d.say(&n, "siting", None, "40");
                            for o in ["red", "white", "green"] {
                                let _ = d.say(&n, "outlet_ok", Some(o), "yes");
                            }
                            d.derived(&n, false);
                            d.wait(30);
                            if d.declare(&n, "lukasz").is_ok() {
                                d.wait(30);
                                let _ = d.countersign(&n, "eleni", &Default::default());
                            }
                            if pick(4) == 0 {
                                let copy = object([
                                    ("hangs", "the gate".into()),
                                    ("number", Json::Int(1)),
                                    ("sheet", "permit".into()),
                                ]);
                                let draft = d.on(&n, |k, p, _| k.line(p, "copy", "lukasz", copy));
                                d.add(&draft);
                            }
                        }
                    }
                }
                (3, _) => d.wait(4 * 86_400),
                (4, _) => d.wait(20 * 3600),
                (5 | 6, Some(n)) => {
                    let value = ["300", "260", "210", "150"][which];
                    d.on_permit(&n, "reading", &[("what", "reserve"), ("value", value), ("unit", "bar")]);
                }
                (7, Some(n)) => {
                    let value = ["1", "9"][which % 2];
                    d.on_permit(&n, "reading", &[("what", "co"), ("value", value), ("unit", "ppm")]);
                }
                (8, Some(n)) => drop(d.report(Some(&n), who, Move::OnAir)),
                (9, n) => drop(d.report(n.as_deref(), who, Move::OffAir)),
                (10 | 16, Some(n)) => drop(d.cancel(&n, "eleni")),
                (11, Some(n)) => {
                    let _ = d.request(&n, who, Move::OnAir);
                }
                (12, Some(n)) => {
                    let what = ["change_over", "co", "drill", "false_alarm"][which];
                    d.on_permit(&n, "event", &[("what", what)]);
                }
                (13, _) => {
                    let members: &[(&str, &str)] = match which {
                        1 => &[("place", "quay3")],
                        2 => &[("from", "certificate")],
                        _ => &[],
                    };
                    of_set(&mut d, set, ["stopped", "moved", "filled", "stopped"][which], members);
                }
                (14, Some(n)) => {
                    let _ = d.hand_back(&n, "lukasz", None);
                }
                (15, _) => hand = at_hand(&d),
                (_, _) => {}
            }
            let new: Vec<_> = d.lines()[before..].to_vec();
            if new.iter().any(|line| hand.take(line).is_err()) || !hand.is_enough() {
                lacking += 1;
                hand = at_hand(&d);
                continue;
            }
            // Of everything a copy: what it is asked for must not count as asked here.
            let (whole, now) = (d.state.clone(), d.moment());
            let chain = d.station.chain();
            let wanted = said(&Known::new(chain, &whole, &now));
            let got = said(&Known::new(chain, &hand, &now));
            dropped += d.state.permits.len() - hand.permits.len();
            assert!(!hand.permits.lack(), "asked for what is not at hand; with everything:\n{wanted}");
            assert_eq!(got, wanted);
            compared += 1;
        }
        let (strays, standings) = airwrit::replay::strays(d.lines());
        assert!(strays.is_empty(), "{strays:#?}");
        stood += standings;
    }
    println!(
        "{compared} times compared, {dropped} permits not at hand then, {lacking} times taken anew; {stood} standings"
    );
    assert!(compared > 500 && dropped > 100 && stood > 10_000, "{compared} {dropped} {stood}");
}
