//! What is known against what happened stands above everything else; what is told late is neither good nor bad.

use super::{
    Day, Move, Plan, at, day, demo, in_an_alarm, input, inside, instead, of, outside, page, read, replay,
    report, told, words,
};
use airwrit::permit::decide::air;
use airwrit::record::json::{Json, object};
use airwrit::report::Report;

pub(super) fn plain<'a>(r: &'a Report, about: &str) -> &'a airwrit::report::Plain {
    r.registers[0].plain.iter().find(|p| p.about == about).unwrap()
}

pub(super) fn asked(r: &Report, about: &str) -> Vec<String> {
    let of = r.registers[0].questions.iter().filter(|q| q.about == about);
    of.map(|q| format!("{} ({})", q.ask, q.because)).collect()
}

fn found(r: &Report, rule: &str) -> Vec<String> {
    let f = &r.registers[0].found;
    let all = f.gaps.iter().chain(&f.forbidden).chain(&f.contradicts);
    all.filter(|f| f.rule == rule).map(|f| f.why.join("; ")).collect()
}

/// A roll call that tells of one person: `found` or `missing`.
pub(super) fn called(
    d: &mut Day,
    how: &'static str,
    person: &str,
    at: Option<i64>,
) -> airwrit::record::line::Line {
    let n = d.number.clone();
    let draft = d.on(&n, |k, p, _| {
        let data = object([(how, Json::Arr(vec![person.into()]))]);
        let data = match at {
            Some(second) => data.with("at", airwrit::time::utc(second).as_str()),
            None => data,
        };
        k.line(p, "roll_call", "lukasz", data)
    });
    d.add(&draft)
}

#[test]
fn whoever_is_not_accounted_for_stands_in_the_headline() {
    // In the middle of the work somebody is on air: a fact, and nothing against anybody.
    let bytes = demo();
    let ends: Vec<usize> = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i).collect();
    let mut noon = read(&bytes[..=ends[212]]);
    noon.verified.report.verdict = airwrit::audit::Verdict::Sound;
    let r = of(&[input("demo", &noon)]);
    assert_eq!((r.overall.word, r.overall.code), ("kept_by_its_rules", 0));
    assert!(r.overall.words.starts_with("2 are on air by the last line: "));
    assert!(r.overall.words.contains(", on a permit that is live then: they have yet to come off"));
    assert_eq!(plain(&r, "off").answer, "not_known");
    let mut d = in_an_alarm();
    let n = d.number.clone();
    d.wait(200);
    called(&mut d, "missing", "zaneta", None);
    let r = report(&d);
    assert_eq!((r.overall.word, r.overall.code), ("known_against", 1));
    let head = words(&r).lines().next().unwrap().to_owned();
    assert!(head.contains("after 1 alarm somebody who was in was never told out"), "{head}");
    assert!(head.contains("MISSING at the roll call of"), "{head}");
    assert!(head.contains("1 is on air by the last line"), "{head}");
    assert!(page(&r).unwrap().contains("verdict bad"));
    // The worst answers come first.
    let order: Vec<&str> = r.registers[0].plain.iter().map(|p| p.answer).collect();
    let first_good = order.iter().position(|a| *a == "yes").unwrap();
    assert!(
        order[..first_good].contains(&"no") && order[first_good..].iter().all(|a| *a == "yes"),
        "{order:?}"
    );
    // Found again and off, nobody is looked for; that she was stays told.
    d.on_permit(&n, "roll_call", &[]);
    told(&mut d, "zaneta", Move::OffAir, None);
    let r = report(&d);
    assert_eq!(plain(&r, "off").answer, "yes");
    assert!(!r.overall.words.contains("and no roll call after it found them"), "{}", r.overall.words);
}

#[test]
fn whoever_was_missing_and_found_after_all_is_told_with_how_long_and_the_lines() {
    let mut d = inside();
    d.wait(60);
    let lost = called(&mut d, "missing", "zaneta", None);
    d.wait(200);
    // Off by the tally, which finds nobody.
    let off = told(&mut d, "zaneta", Move::OffAir, None);
    d.wait(40);
    let r = report(&d);
    let p = plain(&r, "sought");
    assert_eq!((p.answer, r.overall.code), ("no", 1));
    assert!(p.words.contains("and no roll call after it found them"), "{}", p.words);
    // Told once above everything.
    assert_eq!(r.overall.words.matches("MISSING at the roll call of 0").count(), 1, "{}", r.overall.words);
    // Missed again: looked for all that time, and once.
    called(&mut d, "missing", "zaneta", None);
    d.wait(60);
    // A call that names others finds none who is not among them.
    called(&mut d, "found", "nikos", None);
    let second = d.second;
    d.wait(600);
    let back = called(&mut d, "found", "zaneta", Some(second));
    let r = report(&d);
    let of = &r.registers[0].permits[0].sought;
    assert_eq!(of.len(), 1);
    let s = &of[0];
    assert_eq!((s.how, s.from.seq, s.found.as_ref().unwrap().seq), ("missing", lost.seq, back.seq));
    let took = d.second - (second - 60 - 40 - 200);
    assert_eq!((s.seconds, s.told), (Some(took), Some(took - 600)));
    assert!(s.from_told.is_none() && s.found_told.is_some());
    assert!(s.words().contains("(as told "), "{}", s.words());
    assert!(s.last.starts_with("in since ") && s.last_at.is_some() && off.seq < back.seq, "{}", s.last);
    assert_eq!((plain(&r, "sought").answer, plain(&r, "off").answer), ("no", "yes"));
    assert!(r.overall.words.contains("was MISSING at the roll call of"), "{}", r.overall.words);
    assert_eq!(asked(&r, "looked_for").len(), 1);
    let html = page(&r).unwrap();
    let table = html.split_once("<h5>Looked for</h5>").unwrap().1.split_once("</table>").unwrap().0;
    assert!(
        table.contains("15 min 0 s<br>as it was entered, which counts; by the times told 5 min 0 s"),
        "{table}"
    );
    for seq in [lost.seq, back.seq] {
        assert!(table.contains(&format!(">{seq}</a>")), "{table}");
    }

    // A call that says nothing of somebody found not everybody.
    let mut d = inside();
    let call = called(&mut d, "found", "marit", None);
    let r = report(&d);
    let p = plain(&r, "sought");
    assert_eq!((p.answer, p.lines[0].seq), ("not_known", call.seq), "{}", p.words);

    // Not seen outside, and seen later.
    let mut d = inside();
    d.wait(60);
    told(&mut d, "zaneta", Move::OffAir, None);
    let n = d.number.clone();
    for (value, again) in [("no", ""), ("no", "waited"), ("yes", "moved")] {
        d.wait(30);
        // The form of these tests does not ask it.
        let draft = d.on(&n, |k, p, _| {
            let form = ("form", Json::from(p.form.hash.as_str()));
            let step = ("step", Json::from("wearer_seen"));
            let (item, shown) = (("item", "zaneta".into()), ("shown", "en".into()));
            let data = object([form, item, shown, step, ("value", value.into())]);
            let data = if again.is_empty() { data } else { data.with("again", again) };
            k.line(p, "answer", "lukasz", data)
        });
        d.add(&draft);
    }
    let r = report(&d);
    let of = &r.registers[0].permits[0].sought;
    assert_eq!((of.len(), of[0].how, of[0].seconds), (1, "not_seen", Some(60)));
    assert!(of[0].last.starts_with("off air by the tally at "), "{}", of[0].last);

    // Nobody missing at any: the lines of the calls.
    let r = report(&day());
    let p = plain(&r, "sought");
    assert_eq!(p.answer, if p.lines.is_empty() { "not_known" } else { "yes" }, "{}", p.words);
    let p = plain(&super::of_demo().0, "sought");
    assert!(p.answer == "yes" && p.words.contains("roll call") && !p.lines.is_empty(), "{}", p.words);
}

#[test]
fn longer_on_air_than_the_way_out_once_it_was_not_live_is_no_good_answer() {
    let suspended = |off: i64, at: Option<i64>| {
        let mut d = inside();
        let n = d.number.clone();
        d.on_permit(&n, "suspend", &[("reason", "a smell")]);
        let from = d.second;
        d.wait(off);
        told(&mut d, "zaneta", Move::OffAir, at.map(|at| from + at));
        let r = report(&d);
        let p = plain(&r, "on_air_live");
        (p.answer, p.words.clone(), r.overall.code)
    };
    // 7.5 min by the job.
    assert_eq!(suspended(440, None).0, "yes");
    let (answer, why, code) = suspended(460, None);
    assert_eq!((answer, code), ("no", 1), "{why}");
    // Told in time, it is neither.
    let (answer, why, code) = suspended(1500, Some(300));
    assert_eq!((answer, code), ("not_known", 1), "{why}");
    assert!(
        why.contains("off 25 min 0 s after it as it was entered, which counts; by the times told 5 min 0 s")
    );
    assert!(why.contains("only the entered time is proved"), "{why}");
    // What stopped it told for an earlier time, it was longer.
    let mut d = inside();
    let at = airwrit::time::utc(d.second - 30);
    d.of_set("call_out", &[("at", &at)]);
    d.wait(440);
    told(&mut d, "zaneta", Move::OffAir, None);
    let r = report(&d);
    assert_eq!(plain(&r, "on_air_live").answer, "no");
    assert!(plain(&r, "on_air_live").words.contains("7 min 50 s"), "{}", plain(&r, "on_air_live").words);
    assert_eq!(r.registers[0].permits[0].alarms[0].off, Some(470));
}

#[test]
fn what_is_told_in_time_and_entered_late_is_told_with_both_times() {
    let mut d = inside();
    let n = d.number.clone();
    let from = d.second;
    d.wait(7200);
    let at = airwrit::time::utc(from + 600);
    d.on_permit(&n, "reading", &[("what", "co"), ("value", "1"), ("unit", "ppm"), ("at", &at)]);
    told(&mut d, "zaneta", Move::OffAir, Some(from + 2400));
    let r = report(&d);
    let late = found(&r, "read_late");
    assert!(late.len() == 1 && late[0].starts_with("co was due at "), "{late:?}");
    assert!(late[0].contains("entered 110 min late: only the entered time is proved"), "{late:?}");
    assert!(found(&r, "unread").iter().all(|w| !w.starts_with("co ")), "{:?}", found(&r, "unread"));
    let long = found(&r, "long_spell");
    assert!(long[0].contains("was on air for 124 min as it was entered"), "{long:?}");
    assert!(long[0].contains("by the time told it was 44 min"), "{long:?}");
    // So it stands with the person, and on the page.
    let zaneta = r.registers[0].people.iter().find(|p| p.id == "zaneta").unwrap();
    assert_eq!((zaneta.minutes, zaneta.told_seconds), (124, 190 + 2400));
    assert!(
        page(&r)
            .unwrap()
            .contains("1 times, 124 min<br>as it was entered, which counts; by the times told 43 min 10 s")
    );
    // Not read, and everybody told to have been off before it was due.
    let mut d = inside();
    let from = d.second;
    d.wait(7200);
    told(&mut d, "zaneta", Move::OffAir, Some(from + 60));
    let late = found(&report(&d), "read_late");
    assert!(late.iter().all(|w| w.contains("it is told that they were off air by")), "{late:?}");
    assert!(!late.is_empty() && found(&report(&d), "unread").is_empty());
}

#[test]
fn a_watch_is_counted_while_somebody_is_on_air() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    for hours in [2, 1] {
        d.report(Some(&n), "zaneta", Move::OnAir);
        d.wait(hours * 3600);
        d.report(Some(&n), "zaneta", Move::OffAir);
        d.wait(3 * 3600);
    }
    assert_eq!(asked(&report(&d), "relief"), Vec::<String>::new());
    // Two at a time are one watch; whoever is on air still is on it.
    d.report(Some(&n), "zaneta", Move::OnAir);
    d.wait(3000);
    d.report(Some(&n), "nikos", Move::OnAir);
    d.wait(1800);
    d.on_permit(&n, "note", &[("words", "still at it")]);
    let all = asked(&report(&d), "relief");
    assert_eq!(all.len(), 2, "{all:?}");
    assert!(all.iter().all(|q| q.contains("stood 4 h 20 min with people on air")), "{all:?}");
}

/// Nobody forbids a machine to fail; that somebody stopped it under people is another thing.
#[test]
fn a_set_that_failed_is_an_alarm_and_no_forbidden_act() {
    let stopped = |event: Option<i64>| {
        let mut d = inside();
        let set = d.set_id();
        let draft = d.ask(|k| {
            let mut m = vec![("set".to_owned(), Json::from(set.as_str()))];
            m.extend(air::breach_of_set(k, "stopped", &set, false));
            air::of_set(k, "stopped", m, &air::Told::default(), "lukasz")
        });
        d.add(&draft);
        if let Some(after) = event {
            d.wait(after);
            d.of_set("event", &[("what", "supply_low")]);
        }
        d.wait(60);
        told(&mut d, "zaneta", Move::OffAir, None);
        let r = report(&d);
        assert!(asked(&r, "stopped_under")[0].contains("stopped with 1 on its air: what stopped it"));
        assert_eq!(r.registers[0].permits[0].alarms[0].seconds, Some(60 + event.unwrap_or(0)));
        found(&r, "forbidden").len()
    };
    assert_eq!((stopped(Some(20)), stopped(None), stopped(Some(600))), (0, 1, 1));
    assert_eq!(asked(&report(&day()), "stopped_under"), Vec::<String>::new());
}

#[test]
fn gauges_read_again_within_seconds_are_asked_about() {
    let after = |seconds: i64| {
        let mut r = read(&demo());
        let declared = r.verified.lines.iter().find(|l| l.kind.name == "declare").unwrap();
        let second = airwrit::time::seconds(&declared.time) + seconds;
        let issued = r.verified.lines.iter_mut().find(|l| l.kind.name == "countersign").unwrap();
        *issued = at(issued, second);
        r.replayed = replay(&r.verified.lines);
        asked(&of(&[input("demo", &r)]), "signed_soon")
    };
    assert_eq!(after(90), Vec::<String>::new());
    let asked = after(4);
    assert!(
        asked.len() == 1
            && asked[0].contains(" 4 s after it was declared, with gauges said to be read again")
    );
    assert!(asked[0].contains("a limit of this program: common practice, no source"));
}

/// The demo's day with other lines, whatever the chain says of them.
pub(super) fn changed(change: impl Fn(&mut Vec<airwrit::record::line::Line>)) -> Report {
    let mut r = read(&demo());
    change(&mut r.verified.lines);
    r.replayed = replay(&r.verified.lines);
    of(&[input("demo", &r)])
}

/// What the program lets pass and an auditor asks about: who entered it, and what may have been left out beside it.
#[test]
fn who_entered_what_is_asked_about_with_its_lines() {
    let by = |kind: &str, who: &str| {
        changed(|lines| {
            let inside = lines.iter().position(|l| l.kind.name == "in").unwrap();
            let l = lines.iter_mut().skip(inside + 2).find(|l| l.kind.name == kind).unwrap();
            *l = instead(l, "\"by\":\"oksana\"", &format!("\"by\":\"{who}\""));
        })
    };
    let demo = changed(|_| {});
    // Every answer that is known leads to lines.
    assert!(
        demo.registers[0]
            .plain
            .iter()
            .all(|p| p.answer == "not_known" || p.about == "out" || !p.lines.is_empty())
    );
    for about in
        ["by_inside", "by_nobody", "called_by_wearer", "test_soon", "sampled_by_wearer", "rose", "never_in"]
    {
        assert_eq!(asked(&demo, about), Vec::<String>::new(), "{about}");
    }
    assert!(
        asked(&by("reading", "nikos"), "by_inside")[0]
            .starts_with("1 line was entered as somebody who was inside")
    );
    let unknown = by("reading", "stranger");
    assert!(
        asked(&unknown, "by_nobody")[0]
            .contains("whom neither the roster nor a site names: who was it? (stranger)")
    );
    let call = by("roll_call", "zaneta");
    assert!(
        asked(&call, "called_by_wearer")[0].starts_with("1 roll call was entered as a wearer of its permit")
    );
    // Each names its line.
    let q = unknown.registers[0].questions.iter().find(|q| q.about == "by_nobody").unwrap();
    assert!(q.lines.len() == 1 && words(&unknown).contains(&format!("(lines {})", q.lines[0].line)));
}

#[test]
fn tests_of_the_air_and_a_reserve_that_rises_are_asked_about() {
    let test = |change: &dyn Fn(&airwrit::record::line::Line, i64) -> airwrit::record::line::Line| {
        changed(|lines| {
            let moved = lines.iter().find(|l| l.kind.name == "moved").unwrap();
            let moved = airwrit::time::seconds(&moved.time);
            let l = lines.iter_mut().rfind(|l| l.kind.name == "air_test").unwrap();
            *l = change(l, moved);
        })
    };
    let same = "two air tests of heron have the same figures";
    assert_eq!(asked(&changed(|_| {}), "same_test"), Vec::<String>::new());
    let figures = [("1.4 ppm", "1.5 ppm"), ("417 ppm", "420 ppm"), ("73 mg/m3", "74 mg/m3")];
    let as_before = |l: &_, but: usize| {
        figures[but..].iter().fold(instead(l, "heron", "heron"), |l, (a, b)| instead(&l, a, b))
    };
    assert!(asked(&test(&|l, _| as_before(l, 0)), "same_test")[0].starts_with(same));
    assert_eq!(asked(&test(&|l, _| as_before(l, 1)), "same_test"), Vec::<String>::new());
    let soon = test(&|l, moved| at(l, moved + 300));
    assert!(
        asked(&soon, "test_soon")[0].starts_with("an air test of heron stands 5 min after its line `moved`")
    );
    let before = test(&|l, moved| {
        let told = format!("\"data\":{{\"at\":\"{}\",", airwrit::time::utc(moved - 600));
        instead(l, "\"data\":{", &told)
    });
    assert!(
        asked(&before, "test_soon")[0]
            .contains("told for a time before its line `moved`, and entered after it")
    );
    let sampled = test(&|l, _| instead(l, "Maëlle Grandclère", "Żaneta Brzęczyk"));
    assert!(asked(&sampled, "sampled_by_wearer")[0].contains("was sampled or entered by a wearer"));
    let no_fill = changed(|lines| lines.retain(|l| l.kind.name != "filled"));
    let rose = asked(&no_fill, "rose");
    assert!(
        rose[0].contains("reads 223 bar, and read 203 bar 52 min before, with no fill told between"),
        "{rose:?}"
    );
}

/// What stood among the raw lines alone: notes, words of calls and events, who told it, and what was read again.
#[test]
fn what_people_wrote_stands_at_the_permit() {
    let mut d = inside();
    let n = d.number.clone();
    d.on_permit(&n, "note", &[("words", "the lorry stands <in> the way")]);
    let at = airwrit::time::utc(d.second);
    d.wait(60);
    let members =
        [("what", "co"), ("words", "the alarm at the mask end"), ("told_by", "a driver"), ("at", &at)];
    let event = d.of_set("event", &members);
    d.of_set("call_out", &[("words", "all of you out")]);
    d.on_permit(&n, "suspend", &[("reason", "a smell")]);
    let r = report(&d);
    let wrote = &r.registers[0].permits[0].wrote;
    let of =
        |words: &str| wrote.iter().find(|w| w.words.contains(words)).unwrap_or_else(|| panic!("{wrote:?}"));
    let told = of("the alarm at the mask end");
    assert_eq!((told.at.seq, told.told_by.as_str(), told.what.as_str()), (event.seq, "a driver", "co"));
    assert!(told.told.is_some() && of("all of you out").told.is_none());
    assert!(of("a smell").by.len() > 2 && of("the lorry").what == "note");
    let html = page(&r).unwrap();
    let table = html.split_once("What people wrote and told").unwrap().1.split_once("</table>").unwrap().0;
    assert!(
        table.contains("the lorry stands &lt;in&gt; the way") && table.contains(">a driver</td>"),
        "{table}"
    );
    // What the supervisor read without looking, beside what was answered.
    let demo = changed(|_| {});
    let seen: Vec<_> = demo.registers[0]
        .permits
        .iter()
        .flat_map(|p| &p.wrote)
        .filter(|w| w.words.contains("read again"))
        .collect();
    assert!(!seen.is_empty() && seen[0].words.contains(", answered "), "{seen:?}");
    // Lines of another set, or of another time, are not its own.
    assert!(
        day().lines().len() > 5
            && report(&day()).registers[0].permits[0]
                .wrote
                .iter()
                .all(|w| !w.words.is_empty() || !w.told_by.is_empty())
    );
}

/// Every reading the same for hours: a gauge that stands still, or nobody who looks.
#[test]
fn readings_that_never_move_are_asked_about() {
    let read = |values: &[&str], wait: i64| {
        let mut d = inside();
        let n = d.number.clone();
        for value in values {
            d.wait(wait);
            d.on_permit(&n, "reading", &[("what", "reserve"), ("value", value), ("unit", "bar")]);
        }
        asked(&report(&d), "never_moved")
    };
    let same = read(&["203"; 8], 1200);
    assert!(
        same.len() == 1 && same[0].contains("reserve: 203 bar in all of 8 readings over 2 h 20 min"),
        "{same:?}"
    );
    assert!(read(&["203"; 7], 1200).is_empty() && read(&["203"; 8], 600).is_empty());
    assert!(read(&["203", "203", "203", "203", "203", "203", "203", "202"], 1200).is_empty());
}

/// Somebody whom no list names, and who is called almost like one that it does.
#[test]
fn a_name_that_differs_in_its_marks_alone_is_asked_about() {
    let named = |who: &str| {
        let mut d = inside();
        d.report(None, who, Move::OnAir);
        asked(&report(&d), "almost_named")
    };
    let q = named("Nikós");
    assert!(q.len() == 1 && q[0].contains("Nikós (nikos)"), "{q:?}");
    assert!(named("rasa").is_empty() && named("somebody else").is_empty());
    // So it is hinted where it is typed.
    let d = inside();
    let almost = |typed: &str| d.ask(|k| airwrit::permit::decide::air::almost_called(k, typed));
    assert_eq!(almost("Zaneta Brzeczyk").as_deref(), Some("zaneta"));
    assert_eq!(almost("nobody at all"), None);
}

/// Missing and seen outside, not seen and answering: neither settles the other, and both are told.
#[test]
fn what_the_other_way_of_looking_found_is_told_beside_it() {
    let seen = |d: &mut Day, value: &'static str| {
        let n = d.number.clone();
        let draft = d.on(&n, |k, p, _| {
            let form = ("form", Json::from(p.form.hash.as_str()));
            let step = ("step", Json::from("wearer_seen"));
            k.line(
                p,
                "answer",
                "lukasz",
                object([
                    form,
                    ("item", "zaneta".into()),
                    ("shown", "en".into()),
                    step,
                    ("value", value.into()),
                ]),
            )
        });
        d.add(&draft)
    };
    let mut d = inside();
    called(&mut d, "missing", "zaneta", None);
    told(&mut d, "zaneta", Move::OffAir, None);
    d.wait(60);
    let line = seen(&mut d, "yes");
    let r = report(&d);
    let p = plain(&r, "sought");
    assert_eq!((p.answer, plain(&r, "off").answer), ("no", "no"));
    let words = format!("(line {}), which is no answer at a roll call", line.seq);
    assert!(
        p.words.contains("no roll call after it found them; told seen outside at")
            && p.words.contains(&words),
        "{}",
        p.words
    );
    let mut d = inside();
    told(&mut d, "zaneta", Move::OffAir, None);
    seen(&mut d, "no");
    d.wait(60);
    let line = called(&mut d, "found", "zaneta", None);
    let p = plain(&report(&d), "sought").clone();
    let words = format!("(line {}), which nobody outside saw", line.seq);
    assert!(p.words.contains("; answered the roll call of ") && p.words.contains(&words), "{}", p.words);
}

/// However late it is entered: whoever was on air when it came is counted from then, in every answer.
#[test]
fn an_alarm_that_is_told_later_counts_from_when_it_came() {
    // Entered when she was off already, and the permit live till then.
    let late = |before: i64| {
        let mut d = inside();
        let at = airwrit::time::utc(d.second);
        d.wait(before);
        told(&mut d, "zaneta", Move::OffAir, None);
        d.wait(60);
        let line = d.of_set("event", &[("what", "co"), ("at", &at)]);
        (report(&d), line)
    };
    let (r, line) = late(400);
    assert_eq!(plain(&r, "on_air_live").answer, "yes");
    let (r, _) = late(460);
    let p = plain(&r, "on_air_live");
    assert_eq!((p.answer, r.overall.code), ("no", 1));
    assert!(p.words.contains("off 7 min 40 s after it"), "{}", p.words);
    for words in [&p.words, &plain(&r, "out").words] {
        let both = format!("line {}, co: told for 25 Nov 2026", line.seq);
        assert!(
            words.contains(&both) && words.contains(", which counts, and entered at 25 Nov 2026"),
            "{words}"
        );
    }
    assert!(p.lines.iter().any(|l| l.seq == line.seq));
    // The question has what the answer has.
    let way_out = asked(&r, "way_out");
    assert!(way_out.len() == 1 && way_out[0].contains("which counts, and entered at"), "{way_out:?}");
    // Called out before, it is still the earlier of the two that counts.
    let mut d = inside();
    let at = airwrit::time::utc(d.second - 50);
    d.of_set("call_out", &[]);
    d.wait(420);
    d.of_set("event", &[("what", "co"), ("at", &at)]);
    told(&mut d, "zaneta", Move::OffAir, None);
    let r = report(&d);
    assert_eq!(plain(&r, "on_air_live").answer, "no", "{}", plain(&r, "on_air_live").words);
    assert!(plain(&r, "on_air_live").words.contains("off 7 min 50 s after it"));
    // Before anybody was on air it found nobody.
    let mut d = outside();
    let at = airwrit::time::utc(d.second - 3600);
    told(&mut d, "zaneta", Move::OffAir, None);
    d.of_set("event", &[("what", "co"), ("at", &at)]);
    assert!(report(&d).registers[0].permits[0].alarms[0].beside.is_empty());
}

/// A rescuer whom the job names may be on air on no permit: told as what it is.
#[test]
fn a_rescuer_on_air_is_told_as_a_rescuer_of_the_permit() {
    let rescued = |who: &str| {
        let mut d = in_an_alarm();
        d.report(None, who, Move::OnAir);
        d.report(None, who, Move::In);
        d.wait(60);
        told(&mut d, "zaneta", Move::OffAir, None);
        d.report(None, who, Move::OffAir);
        (d.number.clone(), report(&d))
    };
    let (n, r) = rescued("ines");
    let p = plain(&r, "on_air_live");
    assert!(
        p.words.contains(&format!("named as a rescuer by the job of {n}, was on its air (lines ")),
        "{}",
        p.words
    );
    assert!(p.answer == "yes" && !p.words.contains("on no permit"), "{}", p.words);
    // Nobody named them.
    let p = plain(&rescued("rasa").1, "on_air_live").clone();
    assert!(
        p.answer == "no" && p.words.contains("2 lines tell of somebody on air on no permit"),
        "{}",
        p.words
    );
}

/// On air and never told in, they breathe it all the same: their masks are timed, and it is asked why.
#[test]
fn whoever_was_on_air_and_never_in_is_timed_at_an_alarm_and_asked_about() {
    let mut d = outside();
    d.of_set("event", &[("what", "co")]);
    d.wait(50);
    let at = d.second - 40;
    told(&mut d, "zaneta", Move::OffAir, Some(at));
    let r = report(&d);
    let alarm = &r.registers[0].permits[0].alarms[0];
    assert_eq!((alarm.out.len(), alarm.beside.len(), alarm.outside), (0, 1, 1));
    assert_eq!((alarm.beside[0].off, alarm.beside[0].told_off), (Some(50), Some(10)));
    let html = page(&r).unwrap();
    assert!(html.contains("on air and never told in, mask off after 50 s (<a href="), "{html}");
    // Whether she was inside no line tells.
    let p = plain(&r, "out");
    assert_eq!(p.answer, "not_known");
    let who = "never told in was inside is not known: Żaneta Brzęczyk (alarm of line ";
    assert!(
        p.words.contains(who) && p.words.contains("mask off after 50 s as it was entered"),
        "{}",
        p.words
    );
    // Her mask is off: that stands in no headline.
    assert!(!r.overall.words.contains(who), "{}", r.overall.words);
    let mut on = outside();
    let line = on.of_set("event", &[("what", "co")]);
    on.wait(50);
    let on = report(&on);
    let never = format!("{who}{}), mask never told off", line.seq);
    assert!(on.overall.words.contains(&never), "{}", on.overall.words);
    assert!(page(&on).unwrap().contains("<td data-h=\"inside then\"><span class=\"mark\">not known</span>"));
    // The alarm told later, when she was off: the same.
    let mut late = outside();
    let at = airwrit::time::utc(late.second);
    late.wait(100);
    told(&mut late, "zaneta", Move::OffAir, None);
    late.wait(100);
    late.of_set("event", &[("what", "co"), ("at", &at)]);
    let p = plain(&report(&late), "out").clone();
    assert!(p.answer == "not_known" && p.words.contains("mask off after 100 s"), "{}", p.words);
    // Told in after the alarm, she was not in before it.
    let mut after = outside();
    after.of_set("event", &[("what", "drill")]);
    told(&mut after, "zaneta", Move::In, None);
    told(&mut after, "zaneta", Move::OffAir, None);
    assert_eq!(plain(&report(&after), "out").answer, "yes");
    assert!(
        asked(&r, "never_in")[0]
            .starts_with("1 time somebody was on air and never told in, for up to 3 min 0 s")
    );
    let mut d = inside();
    told(&mut d, "zaneta", Move::OffAir, None);
    assert_eq!(asked(&report(&d), "never_in"), Vec::<String>::new());
}

/// Which hose, which language, where it stood, the change-over, the reserve around an alarm: each with its lines.
#[test]
fn what_an_inquiry_asks_first_stands_there_with_its_lines() {
    let r = changed(|_| {});
    let all = &r.registers[0].permits[0].inquiry;
    let of = |about: &str| -> Vec<String> {
        all.iter().filter(|a| a.about == about).map(|a| format!("{}: {}", a.what, a.words)).collect()
    };
    assert!(of("hose")[0].contains("hose blue1, serial number KB-40-0117, 40 m, sections: 2, at outlet red"));
    assert!(of("briefing")[0].starts_with("the language of the briefing: Polish"), "{:?}", of("briefing"));
    assert!(of("siting").iter().any(|w| w.contains("47 m")), "{:?}", of("siting"));
    assert!(of("change_over").iter().any(|w| w.ends_with("5.3 bar")), "{:?}", of("change_over"));
    // By the demo's own story: called out at 207 bar, 203 bar in the alarm, filled and read again at 216 bar.
    let reserve = &of("reserve")[0];
    let parts = [
        "last read before it: 207 bar (",
        "until every mask was off: 203 bar (",
        "first read after: 216 bar (",
    ];
    assert!(parts.iter().all(|p| reserve.contains(p)), "{reserve}");
    assert!(all.iter().all(|a| !a.lines.is_empty()));
    assert!(page(&r).unwrap().contains("What an inquiry asks first"));
    // Nobody answered it: that is said, and nothing is made up.
    let untold = changed(|lines| lines.retain(|l| l.data.text("step") != Some("briefing_language")));
    let briefing = untold.registers[0].permits[0].inquiry.iter().find(|a| a.about == "briefing").unwrap();
    assert!(briefing.words == "not told" && briefing.lines.is_empty(), "{briefing:?}");
}

/// On a telephone the alarms stand one thing under another, each by its name, and no word widens the page.
#[test]
fn a_narrow_page_loses_nothing_of_an_alarm() {
    let html = page(&changed(|_| {})).unwrap();
    let rows = html.split("<table class=\"rows\">").skip(1).map(|t| t.split("</table>").next().unwrap());
    let cells: Vec<&str> =
        rows.flat_map(|t| t.split("<tbody>").nth(1).unwrap().split("<td").skip(1)).collect();
    assert!(
        cells.len() > 20 && cells.iter().all(|c| c.split('>').next().unwrap().contains("data-h=\"")),
        "{cells:?}"
    );
    assert!(
        html.contains("p, li, strong { overflow-wrap: anywhere; }") && html.contains("content: attr(data-h)")
    );
}

/// What no line tells is asked for; it is not told as something that happened.
#[test]
fn whoever_is_told_off_and_was_never_told_on_did_not_go_on_air_while_it_was_not_live() {
    for moves in [&[Move::Out, Move::OffAir][..], &[Move::OffAir]] {
        // A draft, on which nobody may go on air.
        let mut d = Day::opened(Plan::small());
        let lines: Vec<u64> = moves.iter().map(|to| told(&mut d, "rasa", *to, None).seq).collect();
        let r = report(&d);
        let p = plain(&r, "on_air_live");
        assert_eq!((p.answer, r.overall.code), ("not_known", 1), "{}", p.words);
        let how = if moves.len() == 1 { "off air" } else { "out" };
        let asked = format!(
            "no line before it told on, Rasa Vėtrungė {how} (line {}): when did they go on air",
            lines[0]
        );
        assert!(r.overall.words.contains(&asked), "{}", r.overall.words);
        assert_eq!(p.lines.iter().map(|at| at.seq).collect::<Vec<_>>(), lines[..1]);
        for untrue in ["went on air while it was not live", "nobody went on air"] {
            assert!(!r.overall.words.contains(untrue) && !p.words.contains(untrue), "{}", p.words);
        }
        assert!(self::asked(&r, "never_in").is_empty());
        let html = page(&r).unwrap();
        assert_eq!(html.contains("told out; that they went on air, never"), moves.len() == 2);
    }
    // Told out and not off, they stand on the tally: the line that put them there is named.
    let mut d = Day::opened(Plan::small());
    let seq = told(&mut d, "rasa", Move::Out, None).seq;
    let p = plain(&report(&d), "off").clone();
    assert_eq!((p.answer, p.lines.iter().map(|at| at.seq).collect::<Vec<_>>()), ("no", vec![seq]));
    // Told on where it is not live, they went on air while it was not live.
    let mut d = Day::opened(Plan::small());
    told(&mut d, "rasa", Move::OnAir, None);
    let r = report(&d);
    assert!(plain(&r, "on_air_live").words.contains("went on air while it was not live"));
}

/// A site that calls its steps otherwise finds them, and a form that does not ask is said not to ask.
#[test]
fn an_inquiry_finds_the_steps_of_other_forms() {
    let names = [
        ("briefing_language", "odprawa"),
        ("wind_speed", "how_windy"),
        ("changeover_seconds", "how_long"),
        ("changeover_warning", "what_was_heard"),
    ];
    let renamed = |text: &str| names.iter().fold(text.to_owned(), |t, (from, to)| t.replace(from, to));
    let shipped = Plan::shipped();
    let mut d = Day::opened(Plan { work: renamed(&shipped.work), ..shipped });
    let n = d.number.clone();
    let answers = renamed(include_str!("../../examples/answers-pre-start.yaml"));
    let all = crate::support::day::answers(&answers);
    let trial = all.iter().position(|e| e.step == "reserve_again").unwrap();
    d.play(&n, &all[..trial], false);
    let r = report(&d);
    let all = &r.registers[0].permits[0].inquiry;
    let says = |about: &str, words: &str| {
        let of = all.iter().filter(|a| a.about == about && !a.lines.is_empty());
        let told: Vec<String> = of.map(|a| format!("{}: {}", a.what, a.words)).collect();
        assert!(told.iter().any(|t| t.contains(words)), "{about} {words}: {told:#?}");
    };
    says("briefing", "the language of the briefing: Polish; Oksana interpreted");
    says("siting", "the weakest wind: 4.3 m/s");
    says("change_over", "the time of the change-over: ");
    says("change_over", "the low-supply warning at the change-over: ");

    // No step of it asks: no empty cell, and no reproach either.
    let r = report(&day());
    for about in ["briefing", "siting", "change_over"] {
        let of: Vec<_> = r.registers[0].permits[0].inquiry.iter().filter(|a| a.about == about).collect();
        assert_eq!(of.len(), 1, "{of:?}");
        assert_eq!(of[0].words, "this form does not ask it", "{of:?}");
        assert!(page(&r).unwrap().contains(&of[0].what), "{of:?}");
    }
}

#[test]
fn every_language_gives_the_same_answers() {
    use airwrit::tongue::Tongue;
    let bytes = demo();
    let said = |tongue: Tongue| {
        tongue.within(|| {
            let read = read(&bytes);
            let r = of(&[input("demo", &read)]);
            let plain: Vec<_> = r.registers[0]
                .plain
                .iter()
                .map(|p| {
                    (p.about, p.answer, p.lines.iter().map(airwrit::report::At::place).collect::<Vec<_>>())
                })
                .collect();
            let permits: Vec<_> =
                r.registers[0].permits.iter().map(|p| p.tested.as_ref().map(|t| t.due.clone())).collect();
            let dues: Vec<_> =
                r.registers[0].sets.iter().flat_map(|s| s.tests.iter().map(|t| t.due.clone())).collect();
            (r.overall.word, r.overall.code, plain, permits, dues)
        })
    };
    let english = said(Tongue::English);
    assert!(english.3.iter().any(Option::is_some));
    for tongue in Tongue::ALL {
        assert_eq!(said(tongue), english, "{tongue:?}");
    }
}

#[test]
fn a_clock_that_stood_makes_nobody_sooner_out() {
    // Everybody told out and off at the second of a line before, the next line half an hour later.
    let stood = |wait: i64| {
        let mut d = in_an_alarm();
        let n = d.number.clone();
        d.wait(30);
        d.on_permit(&n, "note", &[("words", "a lorry waits")]);
        for to in [Move::Out, Move::OffAir] {
            told(&mut d, "zaneta", to, None);
            d.wait(wait);
        }
        d.wait(1800);
        d.on_permit(&n, "roll_call", &[]);
        report(&d)
    };
    let r = stood(5);
    let p = plain(&r, "out");
    assert!(p.answer == "yes" && !p.words.contains("may have been written"), "{}", p.words);
    let r = stood(0);
    let p = plain(&r, "out");
    assert_eq!(p.answer, "not_known", "{}", p.words);
    assert!(p.words.contains("may have been written up to 30 min 0 s later"), "{}", p.words);
    assert!(r.overall.words.contains("may have been written up to"), "{}", r.overall.words);
    assert_eq!(asked(&r, "clock_stood").len(), 1);
}

/// A proof that is missing is less than a person who is: the worst is what is seen.
#[test]
fn somebody_missing_looks_as_bad_in_a_register_that_is_not_proven() {
    let not_proven = |d: &Day| {
        let verified = airwrit::audit::verify(&d.bytes(), None);
        let replayed = replay(&verified.lines);
        of(&[input("register", &super::Read { verified, replayed })])
    };
    let mut d = in_an_alarm();
    called(&mut d, "missing", "zaneta", None);
    let r = not_proven(&d);
    assert_eq!((r.overall.word, r.overall.code), ("known_against", 1));
    let at = |words: &str| r.overall.words.find(words).unwrap_or_else(|| panic!("{}", r.overall.words));
    assert!(at("MISSING at the roll call of") < at("not everything is proven"));
    assert!(page(&r).unwrap().contains("<section class=\"verdict bad\">"));
    let r = not_proven(&day());
    assert!(page(&r).unwrap().contains("<section class=\"verdict doubt\">"), "{}", r.overall.words);
}

/// A count leads to lines: the first and the last of them, and how many.
#[test]
fn counts_lead_to_lines_and_wide_pictures_say_that_they_scroll() {
    let r = changed(|_| {});
    let of = &r.registers[0];
    assert!(!of.found.judged.is_empty());
    for (kind, n) in &of.found.judged {
        let ends = &of.found.judged_lines[kind];
        assert_eq!((ends.first.len() + ends.last.len()) as u64 + ends.between, *n, "{kind}");
    }
    let reading = &of.found.judged_lines["reading"];
    assert!(reading.between > 0 && reading.first.len() == 3 && reading.last.len() == 3);
    let html = page(&r).unwrap();
    let link = |seq: u64| format!("<a href=\"#r0L1-{seq}\">{seq}</a>");
    let judged = html.split_once("Judged again, by kind").unwrap().1.split_once("</p>").unwrap().0;
    let three = |all: &[airwrit::report::At]| all.iter().map(|a| link(a.seq)).collect::<Vec<_>>().join(", ");
    let both = format!("({} … {})", three(&reading.first), three(&reading.last));
    assert!(judged.contains(&both), "{judged}");
    let p = &of.permits[0];
    assert!(html.contains(&format!("{} answers (lines {}", p.answers, three(&p.answer_lines.first))));
    for who in of.people.iter().filter(|p| p.entered > 0) {
        let lines = three(&who.entered_lines.first);
        assert!(html.contains(&format!("entered as them: {} (lines {lines}", who.entered)), "{}", who.id);
    }
    assert!(words(&r).contains(&format!("never cleared (lines {}", of.holds[0].line)));
    let note = "it scrolls sideways. All of it stands in tables too.</p><div class=\"wide\"><svg";
    assert!(html.matches(note).count() >= 3, "{}", html.matches(note).count());
    // The first line is of no site yet, and stands beside the last one in one zone.
    assert_eq!(of.first.as_ref().unwrap().zone(), of.last.as_ref().unwrap().zone());
    // The second test of the air was taken, and reads otherwise.
    assert!(asked(&r, "same_test").is_empty());
}

#[test]
fn bad_air_is_told_whatever_else_was_going_on() {
    let breathed = |d: &Day| {
        let r = report(d);
        let p = plain(&r, "breathed");
        assert_eq!(p.answer == "no", p.headline.is_some());
        (p.answer, p.words.clone(), r.overall.code, p.lines.iter().map(|at| at.seq).collect::<Vec<_>>())
    };
    let mut good = inside();
    let n = good.number.clone();
    good.on_permit(&n, "reading", &[("what", "co"), ("value", "1"), ("unit", "ppm")]);
    assert_eq!(breathed(&good).0, "yes");
    // The work stands still already, for something else: nothing new stops at this reading.
    let mut d = inside();
    d.of_set("suspend", &[("reason", "the crane passes")]);
    d.wait(30);
    let bad = d.on_permit(&n, "reading", &[("what", "co"), ("value", "60"), ("unit", "ppm")]);
    d.wait(60);
    told(&mut d, "zaneta", Move::Out, None);
    told(&mut d, "zaneta", Move::OffAir, None);
    told(&mut d, "nikos", Move::OffAir, None);
    let (answer, words, code, lines) = breathed(&d);
    assert_eq!((answer, code, &lines[..]), ("no", 1, &[bad.seq][..]), "{words}");
    assert!(words.contains("60 ppm") && words.contains("on this air then: "), "{words}");
    let head = self::words(&report(&d)).lines().next().unwrap().to_owned();
    assert!(head.contains("60 ppm"), "{head}");
    // With nobody on it, it harms nobody.
    d.wait(60);
    d.on_permit(&n, "reading", &[("what", "co"), ("value", "70"), ("unit", "ppm")]);
    assert_eq!(breathed(&d).3, lines);
    // A reading that is told late was breathed by whoever was on air when it was read.
    let mut late = inside();
    let read = airwrit::time::utc(late.second);
    late.wait(30);
    told(&mut late, "zaneta", Move::Out, None);
    told(&mut late, "zaneta", Move::OffAir, None);
    told(&mut late, "nikos", Move::OffAir, None);
    late.wait(900);
    let at = [("what", "co"), ("value", "60"), ("unit", "ppm"), ("at", &read)];
    late.on_permit(&n, "reading", &at);
    assert_eq!(breathed(&late).0, "no");
    // So is a test of the air.
    let mut tested = inside();
    tested.of_set("call_out", &[("words", "lunch")]);
    let today = airwrit::time::utc(tested.second)[..10].to_owned();
    let test = tested.of_set(
        "air_test",
        &[
            ("place", "quay3"),
            ("sampler", "Maëlle Grandclère"),
            ("co", "22 ppm"),
            ("o2", "17 %"),
            ("date", &today),
        ],
    );
    let (answer, words, _, lines) = breathed(&tested);
    assert_eq!((answer, &lines[..]), ("no", &[test.seq][..]), "{words}");
    // What cannot be judged is not known, and no good answer.
    let unknown = changed(|lines| {
        let l = lines.iter_mut().find(|l| l.kind.name == "open").unwrap();
        *l = instead(l, "\"rules\":1", "\"rules\":9");
    });
    let p = plain(&unknown, "breathed");
    assert!(
        p.answer == "not_known" && !p.lines.is_empty() && p.words.contains("cannot be judged"),
        "{}",
        p.words
    );
    // What is wrong with a text has several lines, and is told in one.
    let torn = changed(|lines| {
        let l = lines.iter_mut().rfind(|l| l.kind.name == "set").unwrap();
        *l = instead(l, "reserve", "reserrve");
    });
    for about in ["breathed", "gates"] {
        let words = &plain(&torn, about).words;
        assert!(!words.contains("U+000A") && !words.contains('\n'), "{about}: {words}");
    }
    // Nothing read is nothing known.
    let mut nothing = outside();
    told(&mut nothing, "zaneta", Move::OffAir, None);
    let r = report(&nothing);
    assert_ne!(plain(&r, "breathed").answer, "no");
}

/// A test that fails after they came off, an alarm against the air, and hours with nothing read are no yes.
#[test]
fn what_was_breathed_is_not_known_by_what_came_after() {
    let breathed = |d: &Day| {
        let r = report(d);
        let p = plain(&r, "breathed");
        (p.answer, p.words.clone(), p.headline.is_some(), p.lines.iter().map(|at| at.seq).collect::<Vec<_>>())
    };
    let co = |d: &mut Day, value: &str| {
        let n = d.number.clone();
        d.on_permit(&n, "reading", &[("what", "co"), ("value", value), ("unit", "ppm")]).seq
    };
    let off = || {
        let mut d = inside();
        co(&mut d, "1");
        d.wait(60);
        told(&mut d, "zaneta", Move::Out, None);
        told(&mut d, "zaneta", Move::OffAir, None);
        d.wait(600);
        d
    };
    let mut d = off();
    let bad = co(&mut d, "60");
    let (answer, words, headline, lines) = breathed(&d);
    assert_eq!((answer, headline, &lines[..]), ("not_known", true, &[bad][..]), "{words}");
    assert!(words.contains("came off this air before") && words.contains("Żaneta Brzęczyk"), "{words}");
    assert_eq!(report(&d).overall.code, 1);
    // Read well in between, what they breathed was good.
    let mut d = off();
    co(&mut d, "1");
    d.wait(60);
    co(&mut d, "60");
    assert_eq!(breathed(&d).0, "yes");
    let (answer, words, headline, _) = breathed(&super::in_an_alarm());
    assert!(answer == "not_known" && headline && words.contains("the alarm co"), "{words}");
    // How much air came where the supply ran short no line tells; after a change-over the reserve fed.
    let speaks = ["supply_low", "reserve_low", "fire", "hazard_released", "hose", "other", "over_pressure"];
    let speaks = speaks.iter().chain(&["respirator", "wind_turned"]).map(|what| (*what, "not_known"));
    // What tells of people, or that it was none, says nothing of the air by itself.
    let silent = ["change_over", "drill", "false_alarm", "called", "contact_lost", "attendant_unable"];
    let silent = silent.iter().chain(&["unknown_person", "wearer_silent", "ventilation_lost"]);
    for (what, answer) in speaks.chain(silent.map(|what| (*what, "yes"))) {
        let mut d = inside();
        let n = d.number.clone();
        d.on_permit(&n, "reading", &[("what", "co"), ("value", "1"), ("unit", "ppm")]);
        d.of_set("event", &[("what", what)]);
        assert_eq!(breathed(&d).0, answer, "{what}");
        // With nobody on it, it says nothing of what was breathed.
        let mut d = off();
        d.of_set("event", &[("what", what)]);
        assert_eq!(breathed(&d).0, "yes", "{what}");
    }
    // The compressor stood still under them; what they breathed then no line tells.
    let stopped = |d: &mut Day| {
        let set = d.set_id();
        let draft = d.ask(|k| {
            let mut m = vec![("set".to_owned(), Json::from(set.as_str()))];
            m.extend(air::breach_of_set(k, "stopped", &set, false));
            air::of_set(k, "stopped", m, &air::Told::default(), "lukasz")
        });
        d.add(&draft).seq
    };
    let mut d = inside();
    co(&mut d, "1");
    let line = stopped(&mut d);
    let (answer, words, headline, lines) = breathed(&d);
    assert_eq!((answer, headline, &lines[..]), ("not_known", true, &[line][..]), "{words}");
    assert!(
        words.contains(&format!("line {line}, ")) && words.contains("the set was stopped; on this air"),
        "{words}"
    );
    assert!(report(&d).overall.words.contains("the set was stopped"));
    let mut d = off();
    d.of_set("stopped", &[]);
    assert_eq!(breathed(&d).0, "yes");
    // Told late, of whoever went on since nobody says that they were on then.
    let mut d = inside();
    let at = airwrit::time::utc(d.second - 3600);
    d.of_set("event", &[("at", at.as_str()), ("what", "supply_low")]);
    let (_, words, ..) = breathed(&d);
    assert!(words.contains("on this air then or until it was entered: Żaneta Brzęczyk"), "{words}");
    for (read, answer) in [(false, "not_known"), (true, "yes")] {
        let mut d = inside();
        d.wait(1000);
        if read {
            co(&mut d, "1");
        }
        d.wait(1000);
        told(&mut d, "zaneta", Move::OffAir, None);
        let (found, words, ..) = breathed(&d);
        assert_eq!((found, words.contains("with nothing read meanwhile")), (answer, !read), "{words}");
    }
}

/// Behind the line that does not check somebody may be told out and off: until then it is no fact that nobody was.
#[test]
fn what_is_not_told_in_a_register_that_breaks_off_is_not_known() {
    let d = super::in_an_alarm();
    let whole = report(&d);
    let mut bytes = d.bytes();
    let last = bytes.iter().filter(|b| **b == b'\n').count();
    bytes.extend_from_slice(b"{\"torn\"\n");
    let r = super::read(&bytes);
    let cut = airwrit::report::of(&[super::input("register", &r)]);
    assert_eq!((cut.overall.word, r.verified.lines.len()), ("broken", last));
    for about in ["off", "out"] {
        assert_eq!(plain(&whole, about).answer, "no", "{about}");
        let p = plain(&cut, about);
        let head = p.headline.as_deref().unwrap_or_default();
        assert_eq!(p.answer, "not_known", "{about}");
        assert!(head.starts_with("not all of its lines are here or check; by those that do: "), "{head}");
    }
}

/// An alarm more is no other wearer; and whom nothing says how long the way out is, nobody calls late.
#[test]
fn people_are_counted_once_and_a_way_out_that_is_not_known_accuses_nobody() {
    let mut d = inside();
    let n = d.number.clone();
    d.on_permit(&n, "suspend", &[("reason", "a smell")]);
    d.wait(900);
    told(&mut d, "zaneta", Move::Out, None);
    told(&mut d, "zaneta", Move::OffAir, None);
    let r = report(&d);
    let words = &plain(&r, "on_air_live").words;
    assert_eq!(plain(&r, "on_air_live").answer, "no", "{words}");
    let mut facts = super::read(&d.bytes());
    let chain = facts.replayed.chain.as_mut().unwrap();
    chain.by_hash.clear();
    let r = airwrit::report::of(&[super::input("register", &facts)]);
    let p = plain(&r, "on_air_live");
    assert_eq!(p.answer, "not_known", "{}", p.words);
    let mut twice = super::outside();
    twice.of_set("event", &[("what", "co")]);
    twice.of_set("event", &[("what", "oil")]);
    let out = plain(&report(&twice), "out").words.clone();
    assert!(out.contains("whether 1 who was on air then"), "{out}");
    assert!(
        p.words.contains("the way out of the job is not known") && p.words.contains("whether 1 came off"),
        "{}",
        p.words
    );
}
