//! Each alarm by itself: who was on air then, who was told off after it, and what a roll call says of them.

use super::known::{asked, called, changed, plain};
use super::{Day, Move, Plan, in_an_alarm, inside, outside, page, report, told, words};

/// Somebody whom no line tells off did not come off in time, however soon the register ends.
#[test]
fn whoever_is_never_told_off_after_an_alarm_is_named_and_no_good_answer() {
    let mut d = in_an_alarm();
    d.wait(60);
    let n = d.number.clone();
    d.on_permit(&n, "note", &[("words", "the lorry is gone")]);
    let r = report(&d);
    let p = plain(&r, "on_air_live");
    let alarm = &r.registers[0].permits[0].alarms[0].at;
    let never = format!("and is never told off after it: Żaneta Brzęczyk (line {})", alarm.line);
    assert!(p.answer == "not_known" && p.words.contains(&never), "{} {}", p.answer, p.words);
    assert!(p.lines.contains(alarm), "{:?}", p.lines);
    // It is no time off.
    assert!(!p.words.contains(" after it;") && !p.words.contains("and off "), "{}", p.words);
    assert!(r.overall.words.contains(&never), "{}", r.overall.words);
    // Longer than the way out by the last line, they stayed; and no time is told of when they came off.
    d.wait(18 * 3600);
    d.on_permit(&n, "note", &[("words", "the next morning")]);
    let r = report(&d);
    let p = plain(&r, "on_air_live");
    assert!(p.answer == "no" && p.words.contains(&never), "{} {}", p.answer, p.words);
    assert!(p.words.contains("was not live: Żaneta Brzęczyk") && !p.words.contains("18 h"), "{}", p.words);
    // Nobody has yet to come off of a permit that is over, or that an alarm stopped.
    assert!(plain(&r, "off").answer == "no" && !r.overall.words.contains("have yet to come off"));
    let mut d = outside();
    d.wait(20 * 3600);
    let n = d.number.clone();
    d.on_permit(&n, "note", &[("words", "the next morning")]);
    let r = report(&d);
    let p = plain(&r, "on_air_live");
    assert!(p.answer == "no" && p.words.contains("never told off after it: Żaneta Brzęczyk (its end, "));
    assert!(!r.overall.words.contains("have yet to come off"), "{}", r.overall.words);
    assert!(r.overall.words.contains("1 is on air by the last line: Żaneta Brzęczyk"), "{}", r.overall.words);
}

/// Whoever is on a set's air by no permit is inside at its alarms like anybody else.
#[test]
fn an_alarm_while_no_permit_is_open_is_no_alarm_that_nobody_was_inside_at() {
    let mut d = Day::enrolled(Plan::small());
    for to in [Move::OnAir, Move::In] {
        d.wait(60);
        d.report(None, "zaneta", to);
    }
    d.wait(60);
    let alarm = d.of_set("event", &[("what", "co"), ("words", "the meter at 40 ppm")]);
    let r = report(&d);
    let out = plain(&r, "out");
    assert!(
        out.answer == "no" && out.lines.iter().any(|at| at.seq == alarm.seq),
        "{} {}",
        out.answer,
        out.words
    );
    assert!(out.words.contains("Żaneta Brzęczyk"), "{}", out.words);
    assert!(
        r.overall.because.iter().any(|b| b.contains("the meter at 40 ppm") || b.contains("inside")),
        "{:?}",
        r.overall
    );
    for to in [Move::Out, Move::OffAir] {
        d.wait(60);
        d.report(None, "zaneta", to);
    }
    let r = report(&d);
    let out = plain(&r, "out");
    assert!(
        out.answer != "no" && out.words.contains("1 alarm with people inside"),
        "{} {}",
        out.answer,
        out.words
    );
    // Nobody called the roll after it.
    let called = r.registers[0].plain.iter().find(|p| p.words.contains("no roll call was called")).unwrap();
    assert!(called.answer == "not_known" && called.lines.iter().any(|at| at.seq == alarm.seq));
}

/// Told off and missing: one of the two lines is untrue, and nobody here knows which.
#[test]
fn what_a_roll_call_contradicts_is_no_evidence_of_who_came_out() {
    let both = |d: &Day, told: u64, call: u64| {
        let r = report(d);
        let words = format!("is told out or off by line {told} and MISSING at the roll call of line {call}");
        for about in ["out", "on_air_live"] {
            let p = plain(&r, about);
            assert_eq!(p.answer, "not_known", "{about}: {}", p.words);
            assert!(p.words.contains(&words), "{about}: {words}: {}", p.words);
            let named: Vec<u64> = p.lines.iter().map(|at| at.seq).collect();
            assert!(named.contains(&told) && named.contains(&call), "{about}: {named:?}");
            assert!(r.overall.words.contains(&words), "{}", r.overall.words);
        }
        assert!(page(&r).unwrap().contains(&words));
    };
    // Missing, and then told off.
    let mut d = in_an_alarm();
    d.wait(60);
    let call = called(&mut d, "missing", "zaneta", None);
    d.wait(30);
    let off = told(&mut d, "zaneta", Move::OffAir, None);
    both(&d, off.seq, call.seq);
    // Told off, and then missing; found later, it is not known since when they were out.
    let mut d = in_an_alarm();
    d.wait(60);
    let off = told(&mut d, "zaneta", Move::OffAir, None);
    d.wait(60);
    let call = called(&mut d, "missing", "zaneta", None);
    both(&d, off.seq, call.seq);
    d.wait(60);
    called(&mut d, "found", "zaneta", None);
    both(&d, off.seq, call.seq);
    // Found before they were told off, nothing contradicts it; nor where a call found them and a later one did not.
    let good = |order: &[&str]| {
        let mut d = in_an_alarm();
        for what in order {
            d.wait(20);
            match *what {
                "off" => drop(told(&mut d, "zaneta", Move::OffAir, None)),
                "missing" => drop(called(&mut d, "missing", "zaneta", None)),
                _ => drop(called(&mut d, "found", "zaneta", None)),
            }
        }
        let r = report(&d);
        (plain(&r, "out").answer, plain(&r, "on_air_live").answer)
    };
    assert_eq!(good(&["missing", "found", "off"]), ("yes", "yes"));
    assert_eq!(good(&["off", "found", "missing"]), ("yes", "yes"));
    assert_eq!(good(&["off", "missing"]), ("not_known", "not_known"));
}

/// A call of another day, or before it, speaks for no alarm; nor does one after the permit went on.
#[test]
fn a_roll_call_speaks_for_the_alarm_before_it_alone() {
    let about = |d: &Day| {
        let r = report(d);
        let p = plain(&r, "sought");
        (p.answer, p.words.clone(), asked(&r, "not_called"))
    };
    let mut d = inside();
    let n = d.number.clone();
    d.on_permit(&n, "roll_call", &[]);
    d.wait(60);
    let alarm = d.of_set("event", &[("what", "co")]);
    d.wait(60);
    told(&mut d, "zaneta", Move::Out, None);
    told(&mut d, "zaneta", Move::OffAir, None);
    let (answer, words, asked) = about(&d);
    assert_eq!(answer, "not_known", "{words}");
    let which = format!("co (line {}), with Żaneta Brzęczyk inside", alarm.seq);
    // Suspended still, it neither went on nor ended.
    assert!(
        words.contains("no roll call was called by the last line: ") && words.contains(&which),
        "{words}"
    );
    assert!(asked[0].contains("no roll was called by the last line"), "{asked:?}");
    let mut over = d.clone();
    over.cancel(&n, "eleni").unwrap();
    let (_, words, of_it) = about(&over);
    assert!(words.contains("no roll call was called before the permit went on or ended: "), "{words}");
    assert!(of_it[0].contains("before the permit went on"), "{of_it:?}");
    assert!(asked.len() == 1 && asked[0].contains("who saw that everybody was out?"), "{asked:?}");
    assert!(asked[0].contains(&which), "{asked:?}");
    // Called after it, nobody asks.
    d.wait(60);
    d.on_permit(&n, "roll_call", &[]);
    let (_, words, asked) = about(&d);
    assert!(asked.is_empty() && !words.contains("no roll call was called"), "{words} {asked:?}");
    // With nobody inside, nobody asks either.
    let mut d = outside();
    told(&mut d, "zaneta", Move::OffAir, None);
    d.of_set("event", &[("what", "co")]);
    assert!(about(&d).2.is_empty());
}

/// Told for a time before anybody went on air, the alarm stood when they did; so did one before the issue.
#[test]
fn whoever_went_on_air_with_an_alarm_standing_is_asked_about() {
    let mut d = outside();
    let at = airwrit::time::utc(d.second - 400);
    d.wait(60);
    let alarm = d.of_set("event", &[("what", "fire"), ("at", &at)]);
    let q = asked(&report(&d), "alarm_stood");
    assert!(
        q.len() == 1 && q[0].contains("when these went on air: Żaneta Brzęczyk; who knew of it"),
        "{q:?}"
    );
    assert!(q[0].contains(&format!("fire (line {})", alarm.seq)), "{q:?}");
    // While they were on it, it is an alarm as any other.
    assert_eq!(asked(&report(&in_an_alarm()), "alarm_stood"), Vec::<String>::new());
    // What the rules refuse says so by itself.
    let mut d = inside();
    told(&mut d, "zaneta", Move::OffAir, None);
    d.of_set("event", &[("what", "co")]);
    d.wait(60);
    d.report(Some(&d.number.clone()), "zaneta", Move::OnAir);
    assert_eq!(asked(&report(&d), "alarm_stood"), Vec::<String>::new());
}

/// The verdict names people, alarms with people inside and what kind they were, and leads to the lines.
#[test]
fn the_verdict_tells_alarms_with_people_inside_and_leads_to_lines() {
    let mut d = inside();
    d.on_permit(&d.number.clone(), "suspend", &[("reason", "out of limits: the gauge of the tank")]);
    d.wait(60);
    told(&mut d, "zaneta", Move::Out, None);
    told(&mut d, "zaneta", Move::OffAir, None);
    let r = report(&d);
    let of = &r.registers[0];
    let alarm = &of.permits[0].alarms[0];
    let which = format!("suspended: out of limits: the gauge of the tank (line {})", alarm.at.line);
    let n = of.overall.because.iter().position(|b| b.contains(&which) && b.contains("told out")).unwrap();
    let because = &of.overall.because[n];
    assert!(because.contains("with Żaneta Brzęczyk inside, the last one told out after 60 s"), "{because}");
    assert_eq!(of.overall.because_lines[n][0].line, alarm.at.seq);
    assert_eq!(of.overall.because_lines.len(), of.overall.because.len());
    let html = page(&r).unwrap();
    let verdict = html.split_once("<section class=\"verdict").unwrap().1.split_once("</section>").unwrap().0;
    assert!(verdict.contains(&format!("<a href=\"#r0L1-{}\">", alarm.at.seq)), "{verdict}");
    let table = html.split_once("data-h=\"alarm\">").unwrap().1.split_once("</td>").unwrap().0;
    assert_eq!(table, "suspended: out of limits: the gauge of the tank");
    // What somebody wrote stands in the words too.
    let mut d = inside();
    let n = d.number.clone();
    d.on_permit(&n, "note", &[("words", "Nikos lay at the manhole")]);
    let told = words(&report(&d));
    assert!(
        told.lines().any(|l| l.contains(", note (") && l.ends_with("): Nikos lay at the manhole")),
        "{told}"
    );
}

/// A list that is cut says so, and up to where; what stands out on many permits is one question, the last.
#[test]
fn a_list_that_is_cut_says_how_many_more_there_are() {
    let mut d = inside();
    let n = d.number.clone();
    let lines: Vec<u64> = (0..20)
        .map(|_| {
            d.wait(30);
            d.on_permit(&n, "reading", &[("what", "co"), ("value", "60"), ("unit", "ppm")]).seq
        })
        .collect();
    let r = report(&d);
    let p = plain(&r, "breathed");
    assert_eq!((p.lines.len(), p.more, p.lines[11].seq), (12, 8, lines[19]));
    let told = words(&r);
    assert!(told.contains(&format!("{}, and 14 more, the last {})", lines[5], lines[19])), "{told}");
    assert!(page(&r).unwrap().contains(&format!(">{}</a> and 8 more", lines[19])));
    // The demo has two permits with such answers.
    let (demo, _) = super::of_demo();
    let all = &demo.registers[0].questions;
    let flags: Vec<usize> =
        all.iter().enumerate().filter(|(_, q)| q.about == "flags").map(|(i, _)| i).collect();
    assert_eq!(flags, [all.len() - 1]);
    assert!(all[flags[0]].ask.contains("? By permit: KM3-261125-01 ("), "{}", all[flags[0]].ask);
}

/// What a line keeps in English is told in the language of the reader, where the sentence is ours.
#[test]
fn what_is_kept_in_english_is_told_in_the_language_of_the_reader() {
    use airwrit::tongue::{Tongue, said_again};
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.report(Some(&n), "zaneta", Move::OnAir);
    let kept = "KW2-1 is draft, not live";
    assert_eq!(said_again(kept), None);
    for tongue in [Tongue::Polish, Tongue::Ukrainian] {
        tongue.within(|| {
            let again = said_again(kept).unwrap();
            assert!(
                again.contains("KW2-1") && !again.contains("draft") && !again.contains("live"),
                "{again}"
            );
            assert_eq!(said_again("the gauge of the tank"), None);
            let r = report(&d);
            let why = r.registers[0].found.forbidden.iter().find(|f| f.rule == "forbidden").unwrap();
            assert!(why.why.iter().any(|w| w.ends_with("is draft, not live")), "{why:?}");
            assert!(
                !words(&r).contains("is draft, not live")
                    && !page(&r).unwrap().contains("<p>KW2-261125-01 is draft")
            );
        });
    }
}

/// A set that was moved since its test was taken has none, whatever the last line of a test says.
#[test]
fn a_test_that_a_move_ended_is_no_test_of_the_permit() {
    let issued = |moves: bool| {
        let mut d = Day::opened(Plan::small());
        let n = d.number.clone();
        let today = airwrit::time::utc(d.second)[..10].to_owned();
        let figures = [("co", "1 ppm"), ("o2", "20.9 %"), ("sampler", "Maëlle Grandclère")];
        let of = [("place", "quay3"), ("date", &*today)];
        d.of_set("air_test", &[&figures[..], &of].concat());
        d.wait(60);
        let moved = moves.then(|| d.of_set("moved", &of).seq);
        d.live(&n);
        (report(&d), moved)
    };
    let (r, moved) = issued(true);
    let of = r.registers[0].permits[0].tested.as_ref().unwrap();
    let (why, at) = of.ended.as_ref().unwrap();
    assert_eq!((why.as_str(), Some(at.seq)), ("the set was moved", moved));
    let p = plain(&r, "air");
    assert!(p.answer == "no" && p.words.contains("that was over, ended or outside the limits: KW2-"));
    assert!(p.lines.contains(at), "{:?}", p.lines);
    let (r, _) = issued(false);
    let of = r.registers[0].permits[0].tested.as_ref().unwrap();
    assert!(of.ended.as_ref().is_none_or(|(why, _)| why != "the set was moved"), "{of:?}");
    // Taken for the permit, it is the day among its own answers, whatever the set's last line says.
    let today = changed(|lines| {
        for l in lines.iter_mut().filter(|l| l.permit.as_deref() == Some("KM3-261125-01")) {
            match l.data.text("step") {
                Some("air_test_basis") => *l = super::instead(l, "\"carried\"", "\"today\""),
                Some("carried_test") => {
                    let date = super::instead(l, "\"carried_test\"", "\"air_test_date\"");
                    *l = super::instead(&date, "\"yes\"", "\"2026-11-25\"");
                }
                _ => {}
            }
        }
    });
    let of = today.registers[0].permits[0].tested.as_ref().unwrap();
    assert_eq!(of.day, "2026-11-25");
    assert_eq!(of.at.seq, 157);
}
