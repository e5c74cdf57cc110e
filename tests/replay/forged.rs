//! Lines that nobody could have written by the rules, put into registers by whoever holds the keys: each has a good seal,
//! a good place and, where it is signed, a good signature. Verification has nothing to say of them; replay has.

use super::{of, said, whole};
use crate::support::day::{Day, Plan, SMALL_SHUTDOWN, data_of};
use crate::support::key_of;
use airwrit::permit::decide::Known;
use airwrit::permit::decide::air::{self, Move, Told};
use airwrit::permit::decide::answer;
use airwrit::permit::decide::sign::{self, Hand, Limits, Prepared};
use airwrit::record::json::{Json, object};
use airwrit::record::line::{Draft, Line, What};
use airwrit::replay::{Class, Replayed};
use airwrit::trust::token;
use jiff::tz::TimeZone;

/// Appends a line of a permit as it is given.
fn forge(d: &mut Day, number: &str, kind: &'static str, data: Json) -> Line {
    let draft = d.on(number, |k, p, _| k.line(p, kind, "lukasz", data));
    d.add(&draft)
}

/// Signs an act and appends it, asked by nobody.
fn forge_act(d: &mut Day, mut act: Prepared, change: impl FnOnce(Json) -> Json) -> Line {
    act.act.data = change(act.act.data);
    act.claim = None;
    let by = act.act.by.clone();
    let what = act.act.sign(&key_of(&by)).unwrap();
    let number = act.act.permit.clone().unwrap();
    let head = d.station.chain().permit_head(&number).to_owned();
    d.add(&Draft { kind: act.act.kind, permit: Some((number, head)), by: None, what })
}

/// Replayed: only this line contradicts; its reasons.
fn only(d: &Day, line: &Line, rule: &str) -> String {
    let again = of(&d.bytes());
    let all: Vec<_> = again.of(Class::Contradicts).collect();
    assert_eq!(all.len(), 1, "{:#?}", all.iter().map(|f| said(f)).collect::<Vec<_>>());
    assert_eq!((all[0].line.line, all[0].rule), (line.seq, rule), "{}", said(all[0]));
    all[0].why.join("; ")
}

fn gaps(again: &Replayed) -> Vec<(&'static str, String)> {
    again.of(Class::Gap).map(|f| (f.rule, f.why.join("; "))).collect()
}

/// An answer as the rules would have it, with one member changed.
fn answer_with(d: &mut Day, n: &str, step: &str, value: &str, member: &str, to: impl Into<Json>) -> Line {
    let typed = crate::support::day::typed(step, None, value);
    let typed = if value.is_empty() { answer::Typed { value: None, ..typed } } else { typed };
    let draft = d.on(n, |k, p, t| answer::answer(k, p, t, &typed)).unwrap();
    let data = data_of(&draft).clone().with(member, to);
    forge(d, n, "answer", data)
}

#[test]
fn answers_no_rule_would_take() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    // The instrument ends at 300 m.
    let line = answer_with(&mut d, &n, "siting", "40", "value", "400");
    // This step is judged on the running set, not before its start: it rests on the place alone.
    let why = only(&d, &line, "refused");
    assert!(why.contains("above what this instrument shows"), "{why}");

    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    let line = answer_with(&mut d, &n, "siting", "40", "unit", "ft");
    assert!(only(&d, &line, "differs").contains("its `unit` is `ft`, worked out again it is `m`"));

    // A step that the form does not ask, and one that does not ask for this item.
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    let line = answer_with(&mut d, &n, "siting", "40", "step", "sitting");
    assert!(only(&d, &line, "refused").contains("the form has no step `sitting`"));
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    let line = answer_with(&mut d, &n, "siting", "40", "item", "red");
    assert!(only(&d, &line, "refused").contains("is asked once"));
}

#[test]
fn a_number_worked_out_otherwise() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    let line = answer_with(&mut d, &n, "spare", "", "value", "9000");
    let why = only(&d, &line, "differs");
    assert!(why.contains("its `value` is `9000`, worked out again it is"), "{why}");
}

#[test]
fn declared_without_its_answers_and_by_another_than_the_holder() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    d.wait(30);
    let act = d.on(&n, |k, p, t| sign::declare(k, p, t, &Hand::here("lukasz"))).unwrap();
    // Answered no afterwards, in the same draft: the act is signed all the same.
    let typed =
        answer::Typed { again: Some("read_wrong".into()), ..crate::support::day::typed("siting", None, "4") };
    d.answer(&n, &typed).unwrap();
    let mut late = act.clone();
    late.act.shown = d.station.chain().permit_head(&n).to_owned();
    let line = forge_act(&mut d, late, |data| data);
    let why = only(&d, &line, "refused");
    assert!(why.contains("siting holds: siting reads 4 m, wanted at least 10 m"), "{why}");

    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    d.wait(30);
    let mut act = d.on(&n, |k, p, t| sign::declare(k, p, t, &Hand::here("lukasz"))).unwrap();
    act.act.by = "ines".into();
    let line = forge_act(&mut d, act, |data| data);
    assert!(only(&d, &line, "refused").contains("the holder of this permit is lukasz, who declares"));

    // Other words than those of the permit.
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    d.wait(30);
    let act = d.on(&n, |k, p, t| sign::declare(k, p, t, &Hand::here("lukasz"))).unwrap();
    let line = forge_act(&mut d, act, |data| data.with("said", "I have seen it run."));
    assert!(only(&d, &line, "refused").contains("the words that were signed are not those of this permit"));
}

#[test]
fn issued_for_longer_than_the_rules_allow_and_by_one_whose_competence_had_run_out() {
    let long = "2026-11-26T05:00:00Z";
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    d.declare(&n, "lukasz").unwrap();
    let limits = Limits { seen: d.seen_again(&n), ..Limits::default() };
    let act = d.on(&n, |k, p, t| sign::countersign(k, p, t, &Hand::here("eleni"), &limits)).unwrap();
    let claim = token::Claim { valid_to: long.into(), ..act.claim.clone().unwrap() };
    let made = token::make(&claim, &key_of("eleni")).unwrap();
    let line = forge_act(&mut d, act, |data| data.with("valid_to", long).with("token", made.as_str()));
    let why = only(&d, &line, "refused");
    assert!(why.contains("it would end at 2026-11-26T05:00:00Z, worked out here it ends at"), "{why}");

    // The same act by a supervisor whose competence was shown until the day before.
    let mut plan = Plan::small();
    plan.competence = vec![("bohdan".into(), "2026-11-24".into())];
    let mut d = Day::opened(plan);
    let n = d.number.clone();
    d.ready(&n);
    d.declare(&n, "lukasz").unwrap();
    let limits = Limits { seen: d.seen_again(&n), ..Limits::default() };
    let mut act = d.on(&n, |k, p, t| sign::countersign(k, p, t, &Hand::here("eleni"), &limits)).unwrap();
    act.act.by = "bohdan".into();
    let made = token::make(&act.claim.clone().unwrap(), &key_of("bohdan")).unwrap();
    let line = forge_act(&mut d, act, |data| data.with("token", made.as_str()));
    assert!(
        only(&d, &line, "refused").contains("the competence of Богдан Смерека was shown until 2026-11-24")
    );
}

#[test]
fn people_put_on_air_who_may_not_be() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    let set = d.set_id();
    // Her own step is not answered; the line says nothing of it.
    let put = |d: &mut Day, breach: Vec<String>| {
        let draft = d.ask(|k| {
            let p = k.permit(&n).unwrap();
            air::report(k, Some(p), &set, "zaneta", Move::OnAir, breach, &Told::default(), "lukasz")
        });
        d.add(&draft)
    };
    let mut silent = d.clone();
    let line = put(&mut silent, Vec::new());
    assert!(only(&silent, &line, "breach").contains("own, Żaneta"), "{}", only(&silent, &line, "breach"));
    // It says less than is broken.
    let mut less = d.clone();
    let line = put(&mut less, vec!["the lamp was off".into()]);
    let why = only(&less, &line, "breach");
    assert!(why.contains("it says, and the rules do not: the lamp was off"), "{why}");
    // It says what is broken: a report, and no forgery.
    let mut honest = d.clone();
    honest.report(Some(&n), "zaneta", Move::OnAir);
    let again = of(&honest.bytes());
    assert_eq!(again.of(Class::Contradicts).count(), 0);
    assert_eq!(again.of(Class::Forbidden).filter(|f| f.rule == "forbidden").count(), 1);
    // She may, and another outlet is written.
    let mut moved = d.clone();
    moved.own(&n, "zaneta");
    let draft = moved.on(&n, |k, p, _| air::request(k, p, "zaneta", Move::OnAir, "lukasz")).unwrap();
    let data = data_of(&draft).clone().with("outlet", "green");
    let line = forge(&mut moved, &n, "on_air", data);
    assert!(only(&moved, &line, "differs").contains("its `outlet` is `green`"));
}

/// A call before the issue was not held against going on air by earlier versions: their records stand as they are.
#[test]
fn a_call_before_the_issue_is_held_against_no_older_record() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.on_permit(&n, "call_out", &[]);
    d.wait(30);
    d.live(&n);
    d.read_gauges(&n);
    d.own(&n, "zaneta");
    let set = d.set_id();
    let why = d.forbidden(&n, "zaneta", Move::OnAir);
    assert_eq!(why.len(), 1, "{why:?}");
    let mut older = d.clone();
    let draft = older.on(&n, |k, p, _| {
        air::report(k, Some(p), &set, "zaneta", Move::OnAir, Vec::new(), &Told::default(), "lukasz")
    });
    older.add(&draft);
    let counted = |d: &Day| {
        let again = of(&d.bytes());
        let broken = again.of(Class::Forbidden).filter(|f| f.rule == "forbidden").count();
        (again.of(Class::Contradicts).count(), broken)
    };
    assert_eq!(counted(&older), (0, 0));
    // Today's says it, asked for or told.
    let told: Vec<Json> = why.iter().map(|w| Json::from(w.as_str())).collect();
    forge(&mut d, &n, "denied", object([("request", "on air: zaneta".into()), ("why", Json::Arr(told))]));
    d.report(Some(&n), "zaneta", Move::OnAir);
    assert_eq!(counted(&d), (0, 1));
}

#[test]
fn refusals_that_the_rules_do_not_give() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    d.own(&n, "zaneta");
    let denied = |why: &[&str]| {
        let why = Json::Arr(why.iter().map(|w| Json::from(*w)).collect());
        object([("request", "on air: zaneta".into()), ("why", why)])
    };
    let mut may = d.clone();
    let line = forge(&mut may, &n, "denied", denied(&["not today"]));
    assert!(only(&may, &line, "denial").contains("the rules allow it"));
    // A true refusal stands; the same with a reason left out does not.
    let why = d.forbidden(&n, "nikos", Move::OnAir);
    let all: Vec<&str> = why.iter().map(String::as_str).collect();
    let nikos = |why: &[&str]| denied(why).with("request", "on air: nikos");
    let mut right = d.clone();
    forge(&mut right, &n, "denied", nikos(&all));
    assert_eq!(of(&right.bytes()).of(Class::Contradicts).count(), 0);
    let mut wrong = d.clone();
    let line = forge(&mut wrong, &n, "denied", nikos(&["the wind turned"]));
    assert!(only(&wrong, &line, "denial").contains("the rules say, and it does not"));
    // What was typed for a signature is in no line: it is counted, and not judged.
    let mut typed = d;
    forge(&mut typed, &n, "denied", denied(&["not today"]).with("request", "countersign"));
    let again = of(&typed.bytes());
    assert_eq!((again.of(Class::Contradicts).count(), again.refusals_not_judged), (0, 1));
}

#[test]
fn a_start_a_copy_and_an_offset_that_no_program_writes() {
    let mut d = Day::opened(Plan::small());
    let set = d.set_id();
    let m = vec![("set".to_owned(), Json::from(set.as_str()))];
    let draft = d.ask(|k| air::of_set(k, "started", m, &Told::default(), "lukasz"));
    let line = d.add(&draft);
    assert!(only(&d, &line, "breach").contains("ready: not answered yet"));

    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    let line = forge(&mut d, &n, "copy", object([("hangs", "entry".into()), ("number", Json::Int(3))]));
    assert!(only(&d, &line, "differs").contains("the next one was 1"));

    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.zone = TimeZone::get("Europe/Lisbon").unwrap();
    let line = d.on_permit(&n, "note", &[("words", "all well")]);
    assert!(only(&d, &line, "zone").contains("its offset is +00:00, the site's was +01:00 then"));
}

#[test]
fn opened_on_a_job_that_the_rules_refuse() {
    let mut d = Day::enrolled(Plan::small());
    let job = d.plan.job.replace("entry_watch: marit", "entry_watch: oksana");
    let good = d.plan.job.clone();
    // Opened as the rules have it, to see how its line is written; then with one person for two watches.
    let mut other = d.clone();
    other.open(&good);
    let opened = other.lines().last().unwrap().clone();
    let raw = airwrit::permit::bench::json_of(&airwrit::site::Raw::Map(crate::support::day::raw_job(&job)));
    let data = opened.data.clone().with("job", raw);
    let permit = Some((opened.permit.clone().unwrap().to_string(), airwrit::record::line::NONE.to_owned()));
    let line = d.add(&Draft { kind: "open", permit, by: Some("lukasz".into()), what: What::Data(data) });
    assert!(only(&d, &line, "refused").contains("attendant and entry watch are one person"));
}

#[test]
fn rules_that_are_not_known_are_said_and_not_guessed() {
    let mut d = Day::enrolled(Plan::small());
    let good = d.plan.job.clone();
    let mut other = d.clone();
    other.open(&good);
    let opened = other.lines().last().unwrap().clone();
    let n = opened.permit.clone().unwrap().to_string();
    let data = opened.data.clone().with("rules", Json::Int(2));
    let permit = Some((n.clone(), airwrit::record::line::NONE.to_owned()));
    d.add(&Draft { kind: "open", permit, by: Some("lukasz".into()), what: What::Data(data) });
    // Nothing of it is judged, whatever it says.
    let line = |k: &Known<'_>| {
        let p = k.permit(&n).unwrap();
        let data = object([
            ("form", p.form.hash.as_str().into()),
            ("shown", "en".into()),
            ("step", "no_such_step".into()),
            ("value", "400".into()),
        ]);
        k.line(p, "answer", "lukasz", data)
    };
    let draft = d.ask(line);
    d.add(&draft);
    let again = of(&d.bytes());
    assert_eq!(again.of(Class::Contradicts).count(), 0, "{:?}", again.findings);
    let not: Vec<&str> = again.of(Class::NotJudged).map(|f| f.rule).collect();
    assert!(!not.is_empty() && not.iter().all(|r| *r == "rules"), "{not:?}");
}

#[test]
fn carried_although_the_set_was_moved() {
    let mut d = Day::opened(Plan::small());
    whole(&mut d);
    d.wait(600);
    let job = d.plan.job.clone();
    let n = d.open(&job);
    let draft = d.on(&n, |k, p, t| airwrit::permit::decide::carry::carry(k, p, t, None, "lukasz")).unwrap();
    d.of_set("moved", &[("place", "quay3")]);
    let line = forge(&mut d, &n, "carried", data_of(&draft).clone());
    assert!(only(&d, &line, "refused").contains("could not be carried"));
}

/// What an honest program asks for while people breathe, and the lines do not have.
#[test]
fn people_on_air_unread_for_too_long_or_not_called_are_a_question() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.say(&n, "own", Some("zaneta"), "yes").unwrap();
    d.request(&n, "zaneta", air::Move::OnAir).unwrap();
    d.wait(2 * 3600);
    d.report(Some(&n), "zaneta", air::Move::OffAir);
    d.on_permit(&n, "roll_call", &[]);
    let again = of(&d.bytes());
    let found = gaps(&again);
    let why = |rule: &str| found.iter().find(|(r, _)| *r == rule).map(|(_, why)| why.clone());
    assert!(why("unread").is_some_and(|w| w.contains("was due at")), "{found:#?}");
    assert!(why("long_spell").is_some_and(|w| w.contains("was on air for 120 min")), "{found:#?}");
    assert!(why("not_called").is_some_and(|w| w.contains("Żaneta Brzęczyk (zaneta)")), "{found:#?}");
    // Each once, however many lines come after.
    assert_eq!(found.iter().filter(|(r, w)| *r == "unread" && w.contains("co ")).count(), 1, "{found:#?}");
}

#[test]
fn what_nothing_tells_of_between_two_permits_is_a_question() {
    // The hour meter is read at the end; a reading out of limits is not followed by a suspension.
    let mut plan = Plan::small();
    plan.shutdown = SMALL_SHUTDOWN.replace(
        "      - step: stopped_now\n",
        "      - step: hour_meter\n        ask: Hours?\n        reading: { unit: h, from: 0, to: 200000, decimals: 1 }\n      - \
         step: stopped_now\n",
    );
    let mut d = Day::opened(plan);
    let n = d.number.clone();
    d.live(&n);
    let off = |d: &mut Day, n: &str, step: &str, value: &str| {
        let t = answer::Typed { shutdown: true, ..crate::support::day::typed(step, None, value) };
        d.answer(n, &t).unwrap_or_else(|r| panic!("{r:?}"));
    };
    off(&mut d, &n, "seen", "yes");
    d.request_of_set("stopped").unwrap();
    off(&mut d, &n, "hour_meter", "410.2");
    off(&mut d, &n, "stopped_now", "yes");
    d.hand_back(&n, "lukasz", None).unwrap();
    d.close(&n, "eleni").unwrap();
    d.wait(7200);
    // The next day it stands at another place, and its meter ran on.
    let job = d.plan.job.replace("place: quay3", "place: quay5");
    let m = d.open(&job);
    d.say(&m, "ready", None, "yes").unwrap();
    let set = d.set_id();
    let with_hours =
        vec![("hours".to_owned(), Json::from("412.7 h")), ("set".to_owned(), Json::from(set.as_str()))];
    let draft = d.ask(|k| air::request_of_set(k, "started", &set, with_hours, "lukasz")).unwrap();
    d.add(&draft);
    d.ready_again(&m);
    d.declare(&m, "lukasz").unwrap();
    d.countersign(&m, "eleni", &Limits::default()).unwrap();
    d.on_permit(&m, "reading", &[("what", "co"), ("value", "9"), ("unit", "ppm")]);
    d.on_permit(&m, "note", &[("words", "went on")]);
    let again = of(&d.bytes());
    assert_eq!(again.of(Class::Contradicts).count(), 0, "{:?}", again.findings);
    let found = gaps(&again);
    let rules: Vec<&str> = found.iter().map(|(rule, _)| *rule).collect();
    assert_eq!(rules, ["untold_hours", "untold_move", "not_stopped"], "{found:#?}");
    assert!(found[0].1.contains("reads 412.7 h, and read 410.2 h"), "{found:#?}");
    assert!(found[1].1.contains("stood at quay3") && found[1].1.contains("is quay5"), "{found:#?}");
    assert!(found[2].1.contains("co was read"), "{found:#?}");
    // Followed by the suspension that the program writes, nothing is left to ask.
    let mut stopped = Day::opened(Plan::small());
    let n = stopped.number.clone();
    stopped.live(&n);
    stopped.on_permit(&n, "reading", &[("what", "co"), ("value", "9"), ("unit", "ppm")]);
    stopped.of_set("suspend", &[("reason", "out of limits")]);
    assert_eq!(gaps(&of(&stopped.bytes())), []);
}

#[test]
fn a_start_while_it_ran_and_a_fill_that_nobody_told() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    let set = d.set_id();
    let draft = d.ask(|k| {
        let mut m = vec![("set".to_owned(), Json::from(set.as_str()))];
        m.extend(air::breach_of_set(k, "started", &set, false));
        air::of_set(k, "started", m, &Told::default(), "lukasz")
    });
    d.add(&draft);
    let again = of(&d.bytes());
    assert_eq!(again.of(Class::Contradicts).count(), 0, "{:?}", again.findings);
    assert_eq!(gaps(&again).iter().map(|g| g.0).collect::<Vec<_>>(), ["untold_stop"]);
    assert_eq!(again.of(Class::Forbidden).filter(|f| f.rule == "forbidden").count(), 1);
}

/// A clock that says another time, or nothing but what a person typed: days and times that the entry takes for none.
#[test]
fn days_and_times_that_no_entry_takes() {
    let told = |kind: &'static str, member: &'static str, value: &str, wait: i64| {
        let mut d = Day::opened(Plan::small());
        d.live(&d.number.clone());
        d.wait(wait);
        let line =
            d.of_set(kind, &[("from", "certificate"), (member, value)][usize::from(kind != "filled")..]);
        (d, line)
    };
    for (value, why) in [("2024-01-01", "nobody types this day"), ("2026-11-26", "nobody types this day")] {
        let (d, line) = told("filled", "date", value, 60);
        assert!(only(&d, &line, "date").contains(why), "{value}");
    }
    // Behind the last line's time, nobody can say what day the clock showed.
    let (d, _) = told("filled", "date", "2024-01-01", 0);
    let again = of(&d.bytes());
    assert_eq!(again.of(Class::Contradicts).count(), 0);
    assert_eq!(gaps(&again).iter().map(|g| g.0).collect::<Vec<_>>(), ["date"]);
    // The right day, told for earlier that day: late, and no forgery.
    let (d, _) = told("filled", "date", "2026-11-25", 60);
    assert_eq!(of(&d.bytes()).of(Class::Contradicts).count(), 0);
    let at = |seconds: i64| {
        let mut d = Day::opened(Plan::small());
        let n = d.number.clone();
        d.live(&n);
        d.wait(60);
        let at = airwrit::time::utc(d.second + seconds);
        let line =
            d.on_permit(&n, "reading", &[("what", "co"), ("value", "1"), ("unit", "ppm"), ("at", &at)]);
        (d, line)
    };
    let (d, line) = at(61);
    assert!(only(&d, &line, "told").contains("after it was entered"));
    let (d, line) = at(-12 * 3600 - 60);
    assert!(only(&d, &line, "told").contains("no time more than 12 h before"));
    let (d, _) = at(-3600);
    assert_eq!(of(&d.bytes()).of(Class::Contradicts).count(), 0);
}

#[test]
fn gauges_and_units_that_no_entry_takes() {
    let read = |members: &[(&str, &str)]| {
        let mut d = Day::opened(Plan::small());
        let n = d.number.clone();
        let line = d.on_permit(&n, "reading", members);
        (d, line)
    };
    let (d, line) = read(&[("what", "co"), ("value", "300"), ("unit", "foo")]);
    assert!(only(&d, &line, "refused").contains("`foo` is no unit"));
    let (d, line) = read(&[("what", "co"), ("value", "3"), ("unit", "bar")]);
    assert!(only(&d, &line, "refused").contains("is not measured in bar"));
    let (d, line) = read(&[("what", "reserve"), ("value", "200"), ("unit", "bar"), ("item", "z")]);
    assert!(only(&d, &line, "refused").contains("the set has no cylinder `z`"));
    let (d, line) = read(&[("what", "suply"), ("value", "6"), ("unit", "bar")]);
    assert!(only(&d, &line, "refused").contains("asks whether supply was meant"));
    // A word of the site's own, in any unit; and a reserve without a cylinder's name.
    for good in [["noise", "80", "%"], ["reserve", "260", "bar"]] {
        let (d, _) = read(&[("what", good[0]), ("value", good[1]), ("unit", good[2])]);
        assert_eq!(of(&d.bytes()).of(Class::Contradicts).count(), 0, "{good:?}");
    }
}

#[test]
fn a_wearer_who_answers_for_the_air_of_others() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    let answer = |d: &mut Day, by: &str, step: &str, item: Option<&str>| {
        let t = answer::Typed { by: by.into(), ..crate::support::day::typed(step, item, "yes") };
        d.answer(&n, &t).unwrap();
    };
    // Her own step is hers.
    let mut own = d.clone();
    answer(&mut own, "zaneta", "own", Some("zaneta"));
    assert_eq!(gaps(&of(&own.bytes())), []);
    answer(&mut d, "zaneta", "own", Some("nikos"));
    let found = gaps(&of(&d.bytes()));
    assert_eq!(found.iter().map(|g| g.0).collect::<Vec<_>>(), ["by_wearer"], "{found:#?}");
    assert!(found[0].1.contains("with no role on the roster"), "{found:#?}");
}

/// The stop stands next by the lines, and an hour later by the clock.
#[test]
fn a_stop_that_follows_late_is_told_with_its_time() {
    let follows = |seconds: i64, between: bool| {
        let mut d = Day::opened(Plan::small());
        let n = d.number.clone();
        d.live(&n);
        d.on_permit(&n, "reading", &[("what", "co"), ("value", "9"), ("unit", "ppm")]);
        d.wait(seconds);
        if between {
            d.on_permit(&n, "note", &[("words", "went on")]);
        }
        d.of_set("suspend", &[("reason", "out of limits")]);
        gaps(&of(&d.bytes()))
    };
    assert_eq!(follows(40, false), [], "in one go");
    let late = follows(3600, false);
    assert!(late.len() == 1 && late[0].1.contains("follows only at") && late[0].1.contains("3600 s later"));
    let between = follows(5, true);
    assert!(between.len() == 1 && between[0].1.contains("5 s later"), "{between:?}");
}

/// The reasons that stand are those that the rules give, for whoever of the roster it was.
#[test]
fn refused_acts_whose_reasons_are_not_those_of_the_rules() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    d.wait(30);
    let denied = |request: &str, why: &[String]| {
        let why = Json::Arr(why.iter().map(|w| Json::from(w.as_str())).collect());
        object([("request", request.into()), ("why", why)])
    };
    let refused =
        |d: &Day, by: &str| d.on(&n, |k, p, t| sign::declare(k, p, t, &Hand::here(by))).unwrap_err().why;
    // She holds it not; and nobody knows him.
    for by in ["ines", "eleni", "nobody"] {
        let mut right = d.clone();
        let why = refused(&d, by);
        forge(&mut right, &n, "denied", denied("declare", &why));
        let again = of(&right.bytes());
        assert_eq!(
            (again.of(Class::Contradicts).count(), again.refusals_not_judged),
            (0, 0),
            "{by}: {why:?}"
        );
    }
    let moon = ["the moon is full".to_owned()];
    let mut wrong = d.clone();
    let line = forge(&mut wrong, &n, "denied", denied("declare", &moon));
    assert!(only(&wrong, &line, "denial").contains("the rules allow it: the moon is full"));
    // A reason too few, and one too many.
    let mut bad = Day::opened(Plan::small());
    bad.wait(30);
    let why = refused(&bad, "lukasz");
    assert!(why.len() > 2, "{why:?}");
    let mut less = bad.clone();
    let line = forge(&mut less, &n, "denied", denied("declare", &why[1..]));
    assert!(only(&less, &line, "denial").contains("the rules say, and it does not"));
    let mut more = bad.clone();
    let line = forge(&mut more, &n, "denied", denied("declare", &[&why[..], &moon].concat()));
    assert!(only(&more, &line, "denial").contains("it says, and the rules do not: the moon is full"));
    // What nothing is called by is not judged, and asked about.
    let mut tea = bad.clone();
    forge(&mut tea, &n, "denied", denied("have tea", &moon));
    let again = of(&tea.bytes());
    assert_eq!((again.of(Class::Contradicts).count(), again.refusals_not_judged), (0, 1));
    assert_eq!(gaps(&again).iter().map(|g| g.0).collect::<Vec<_>>(), ["no_request"]);
    // The stop as the page and the walk ask for it.
    let set = bad.set_id();
    let stop = denied("stopped", &moon).with("set", set.as_str());
    let draft = Known::line_apart("denied", "", stop);
    let line = bad.add(&draft);
    assert!(only(&bad, &line, "denial").contains("no shutdown has been begun"));
}

/// A time told afterwards takes nobody off the air before a stop or an alarm that found them on it.
#[test]
fn told_times_that_move_a_stop_or_somebody_back_are_asked_about() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    d.own(&n, "zaneta");
    d.request(&n, "zaneta", Move::OnAir).unwrap();
    d.wait(130);
    d.request(&n, "zaneta", Move::In).unwrap();
    d.wait(600);
    let went = |d: &mut Day, to: Move, at: Option<i64>| {
        let told = Told { at: at.map(airwrit::time::utc), by: None };
        let set = d.set_id();
        let draft = d.ask(|k| {
            let p = k.permit(&n).unwrap();
            air::report(k, Some(p), &set, "zaneta", to, Vec::new(), &told, "lukasz")
        });
        d.add(&draft)
    };
    let rules = |d: &Day| gaps(&of(&d.bytes()));
    // Out at an alarm as it was entered, told for before it.
    let mut back = d.clone();
    back.of_set("event", &[("what", "co")]);
    let alarm = back.second;
    back.wait(300);
    went(&mut back, Move::OffAir, Some(alarm - 120));
    let found = rules(&back);
    assert!(
        found.iter().any(|(r, w)| *r == "told_back" && w.contains("Żaneta Brzęczyk (zaneta)")),
        "{found:#?}"
    );
    // Told for after it, it moves nobody.
    let mut after = d.clone();
    after.of_set("event", &[("what", "co")]);
    let alarm = after.second;
    after.wait(300);
    went(&mut after, Move::OffAir, Some(alarm + 120));
    assert_eq!(rules(&after), []);
    // Out, still on air, and then off for a time before that.
    let mut twice = d.clone();
    went(&mut twice, Move::Out, None);
    twice.wait(600);
    let at = twice.second - 900;
    went(&mut twice, Move::OffAir, Some(at));
    assert_eq!(rules(&twice).iter().filter(|g| g.0 == "told_back").count(), 1);
    // The set stopped while she was in, by the time that is told.
    let mut under = d.clone();
    went(&mut under, Move::Out, None);
    went(&mut under, Move::OffAir, None);
    under.wait(60);
    let mut right = under.clone();
    let stop = |d: &mut Day, at: i64| {
        let set = d.set_id();
        let at = airwrit::time::utc(at);
        let draft = d.ask(|k| {
            let mut m = vec![("set".to_owned(), Json::from(set.as_str()))];
            m.extend(air::breach_of_set(k, "stopped", &set, false));
            air::of_set(k, "stopped", m, &Told { at: Some(at.clone()), by: None }, "lukasz")
        });
        d.add(&draft);
    };
    let at = under.second - 120;
    stop(&mut under, at);
    let found = rules(&under);
    assert!(found.iter().any(|(r, w)| *r == "told_stop" && w.contains("zaneta")), "{found:#?}");
    let at = right.second - 30;
    stop(&mut right, at);
    assert_eq!(rules(&right), []);
}

/// A fill goes with what the gauges read before and after it.
#[test]
fn a_fill_after_which_there_is_less_or_too_much() {
    let after = |value: &str, wait: i64| {
        let mut d = Day::opened(Plan::small());
        let n = d.number.clone();
        let read = |d: &mut Day, value: &str| {
            let members = [("what", "reserve"), ("value", value), ("unit", "bar"), ("item", "a")];
            d.on_permit(&n, "reading", &members);
        };
        read(&mut d, "210");
        d.wait(wait);
        d.of_set("filled", &[("from", "certificate")]);
        d.wait(60);
        read(&mut d, value);
        read(&mut d, value);
        gaps(&of(&d.bytes()))
    };
    assert_eq!(after("260", 600), []);
    assert_eq!(after("205", 600), [], "a needle, or the cold");
    let less = after("150", 600);
    assert_eq!(less.iter().map(|g| g.0).collect::<Vec<_>>(), ["filled_less"], "{less:#?}");
    assert!(less[0].1.contains("reads 150 bar") && less[0].1.contains("read 210 bar before it"));
    assert_eq!(after("150", 30_000), [], "the next day's use");
    let more = after("380", 600);
    assert_eq!(more.iter().map(|g| g.0).collect::<Vec<_>>(), ["overfilled"], "{more:#?}");
}

/// Every kind of line is judged, or stands whatever it says; whoever adds one decides which.
#[test]
fn every_kind_has_its_place_in_the_judge() {
    let judge = include_str!("../../src/replay/judge.rs");
    let by_nature = [
        // Reports of what happened or was said.
        "call_out",
        "event",
        "suspend",
        "roll_call",
        "reading",
        "note",
        "witness",
        // Checked whole by the chain.
        "enrol",
        "roster",
        // Signed on a permit: one arm for all, prepared again.
        "declare",
        "countersign",
        "refuse",
        "reinstate",
        "extend",
        "hand_over",
        "hand_back",
        "close",
        "cancel",
    ];
    for name in airwrit::record::kinds::KINDS.iter().map(|k| k.name) {
        let named = judge.contains(&format!("\"{name}\""));
        assert!(named || by_nature.contains(&name), "{name} is not judged");
    }
}
