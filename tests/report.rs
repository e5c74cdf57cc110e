//! The auditor's report: what stands outside a register, several registers and copies, questions, and a page that
//! stands by itself and runs nothing, whatever strangers wrote.

mod alarms;
mod beside;
mod known;

use crate::replay::{demo, whole};
use crate::support::day::{Day, Plan};
use crate::support::key_of;
use airwrit::audit::anchors::{self, Standing};
use airwrit::audit::{Verified, verify};
use airwrit::permit::decide::air::Move;
use airwrit::permit::decide::sign::{self, Hand};
use airwrit::record::excerpt;
use airwrit::record::line::{Draft, Line};
use airwrit::replay::{Replayed, replay};
use airwrit::report::{Copy, Input, Report, of, page, words};

/// Whom the auditor knows: the custodians of these days, and the demo's as the README names them.
fn trust() -> airwrit::audit::Trust {
    let mut all = crate::support::day::trust();
    all.custodians.push("SHA256:Ro9jMPV/ClbRoZa/Y2YQpmOETzgXACd5fqR0VVul2T8".into());
    all.custodians.push("SHA256:uZvQHXWS5Hu+Gl/8NrnI2bPkYgXR6TvRn66LwGoGJaU".into());
    all
}

struct Read {
    verified: Verified,
    replayed: Replayed,
}

fn read(bytes: &[u8]) -> Read {
    let verified = verify(bytes, Some(&trust()));
    let replayed = replay(&verified.lines);
    Read { verified, replayed }
}

fn input<'a>(name: &str, r: &'a Read) -> Input<'a> {
    let anchored = anchors::held(&r.verified.lines, Vec::new());
    Input {
        name: name.into(),
        verified: &r.verified,
        replayed: &r.replayed,
        anchored,
        copies: Vec::new(),
        aside: Vec::new(),
        empty: Vec::new(),
        behind: 0,
        now: ended(&r.verified),
    }
}

/// The second of the last line: audited in the middle of the work.
fn ended(verified: &Verified) -> String {
    verified.lines.last().map_or_else(String::new, |l| l.time.to_string())
}

fn report(d: &Day) -> Report {
    let r = read(&d.bytes());
    of(&[input("register", &r)])
}

fn day() -> Day {
    let mut d = Day::opened(Plan::small());
    whole(&mut d);
    d
}

#[test]
fn an_anchor_speaks_for_its_line_and_those_before() {
    let d = day();
    let lines = d.lines();
    let n = lines.len();
    let head = |i: usize, time: &str| format!("{time} {} {} {}\n", lines[i].log, lines[i].seq, lines[i].hash);
    let of = |text: &str| anchors::held(lines, anchors::heads("heads", text).unwrap());
    let a = of(&head(9, ""));
    assert!(matches!(&a.held[0].standing, Standing::Holds { at, .. } if at.line == 9));
    assert_eq!((a.upto.unwrap().line, a.after, a.brackets.len()), (9, n - 10, 2));
    assert!(a.brackets[0].by.is_some() && a.brackets[1].by.is_none() && !a.against());
    assert_eq!(a.brackets.iter().map(|b| b.lines).sum::<usize>(), n);
    // The last line held: nothing is left.
    assert_eq!(of(&head(n - 1, "")).after, 0);
    // Another hash in a line's place; a line after the last; a hash of nothing here.
    let other = "ab".repeat(32);
    let log = &lines[0].log;
    let forged = of(&format!("{log} 9 {other}"));
    assert!(
        matches!(&forged.held[0].standing, Standing::Differs { at, here } if at.line == 9 && *here == lines[9].hash)
    );
    assert!(forged.against() && anchors::words(&forged).contains("ANOTHER HISTORY"));
    let later = of(&format!("{log} 900 {other}"));
    assert!(later.held[0].standing == Standing::Beyond && later.against());
    assert!(of(&other).held[0].standing == Standing::NotHere);
    // Copied wrong, it is told, and no silence.
    assert!(anchors::heads("heads", &format!("{log} 9 {}", &other[1..])).unwrap_err().contains("got 63"));
    assert!(anchors::heads("heads", "nothing here\n").is_err());
}

/// A slip of the pen accuses nobody of another history.
#[test]
fn a_head_with_few_digits_wrong_was_copied_wrong() {
    let d = day();
    let line = &d.lines()[9];
    let slipped = |n: usize| -> String {
        let other = |c: char| if c == '0' { '1' } else { '0' };
        line.hash.chars().enumerate().map(|(i, c)| if i < n { other(c) } else { c }).collect()
    };
    let of = |n: usize, seq: &str| {
        let head = format!("{} {seq} {}\n", line.log, slipped(n));
        anchors::held(d.lines(), anchors::heads("heads", &head).unwrap())
    };
    for seq in ["9", ""] {
        let slip = of(1, seq);
        assert!(!slip.against() && slip.unfit() == 1 && slip.upto.is_none());
        assert!(slip.unfit_in_words()[0].contains("1 of its 64 digits is not that of line 9"), "{slip:?}");
    }
    assert!(of(9, "9").against());
}

#[test]
fn a_head_of_a_time_to_come_is_told_and_brackets_nothing() {
    let d = day();
    let lines = d.lines();
    let copied = airwrit::time::seconds(&lines[9].time) + 20;
    let head = format!("{} {}\n", airwrit::time::utc(copied), lines[9].hash);
    let seen_at = |second: i64| {
        let now = airwrit::time::utc(second);
        let heads = anchors::heads("heads", &head).unwrap().into_iter();
        anchors::held(lines, heads.map(|a| a.by_clock(&now, "+01:00")).collect())
    };
    // Clocks differ by minutes and nobody is told.
    let honest = seen_at(copied - 299);
    assert_eq!((honest.unfit(), honest.brackets[0].before.is_some()), (0, true));
    let early = seen_at(copied - 3600);
    assert_eq!((early.unfit(), early.brackets[0].before.is_some()), (1, false));
    assert!(early.unfit_in_words()[0].contains("is to come"), "{:?}", early.unfit_in_words());
    // It holds its line all the same.
    assert_eq!(early.upto.unwrap().line, 9);
}

#[test]
fn times_are_bracketed_between_clocks_outside() {
    let d = day();
    let lines = d.lines();
    let at = |i: usize| airwrit::time::seconds(&lines[i].time);
    let head = |i: usize, second: i64| format!("{} {}\n", airwrit::time::utc(second), lines[i].hash);
    let of = |text: &str| anchors::held(lines, anchors::heads("heads", text).unwrap());
    // Copied as the lines were written: everything fits, and each bracket says between which clocks.
    let fits = of(&format!("{}{}", head(6, at(6) + 20), head(12, at(12) + 20)));
    assert_eq!(fits.said, Vec::<String>::new());
    let second = &fits.brackets[1];
    assert_eq!(second.after.as_deref(), Some(airwrit::time::utc(at(6) + 20).as_str()));
    assert_eq!(second.before.as_deref(), Some(airwrit::time::utc(at(12) + 20).as_str()));
    // Line 6 was the last one outside long after the lines that follow it say they were written.
    let late = of(&head(6, at(20) + 3600));
    assert_eq!(late.said.len(), 1, "{:?}", late.said);
    assert!(late.said[0].starts_with("lines 7 to ") && late.said[0].contains("written later than they say"));
    // A line stood outside before it says it was written.
    let early = of(&head(12, at(12) - 3600));
    assert!(early.said[0].contains("one of the clocks was wrong"), "{:?}", early.said);
}

#[test]
fn tokens_papers_and_witnesses_are_anchors() {
    let d = day();
    let lines = d.lines();
    let roster = &d.station.chain().origin.roster;
    let issued = lines.iter().find(|l| l.kind.name == "countersign").unwrap();
    let token = issued.data.text("token").unwrap();
    let of = |a| anchors::held(lines, vec![a]);
    let held = of(anchors::token(token, roster, "KW2").unwrap());
    // It names the line that the supervisor was shown: the declaration.
    assert_eq!(held.upto.unwrap().line, issued.seq - 1);
    assert!(!held.against());
    // Of another station, or by nobody's key, it proves nothing here.
    let nothing = of(anchors::token(token, roster, "XX9").unwrap());
    assert!(nothing.held[0].standing == Standing::Nothing && nothing.upto.is_none());
    let (head, sign) = token.rsplit_once('.').unwrap();
    let other = if sign.starts_with('A') { "B" } else { "A" };
    let forged = format!("{head}.{other}{}", &sign[1..]);
    let forged = of(anchors::token(&forged, roster, "KW2").unwrap());
    assert!(forged.held[0].standing == Standing::Nothing && forged.broken(), "{:?}", forged.held);
    let code = |anchored| {
        let r = read(&d.bytes());
        let of = self::of(&[Input { anchored, ..input("register", &r) }]).overall;
        (of.word, of.code, of.words)
    };
    assert_eq!((code(forged).0), "broken_beside");
    // By a key that the roster does not have.
    let mut strangers = roster.clone();
    strangers.persons.clear();
    let unknown = of(anchors::token(token, &strangers, "KW2").unwrap());
    assert!(!unknown.broken() && unknown.unfit() == 1);
    let (word, exit, words) = code(unknown);
    assert!(word == "known_against" && exit == 1 && words.contains("made by nobody's key"), "{words}");
    // A head with another line's number, and one of a time that cannot be.
    let at = airwrit::time::utc(airwrit::time::seconds(&lines[9].time) - 3600);
    for text in [format!("8 {}", lines[9].hash), format!("{at} {}", lines[9].hash)] {
        let head = anchors::held(lines, anchors::heads("heads", &text).unwrap());
        assert_eq!(head.unfit(), 1, "{text}");
        let (word, exit, words) = code(head);
        assert!(
            word == "known_against" && exit == 1 && words.contains("cannot be as it is there"),
            "{words}"
        );
    }
    let fits = anchors::held(lines, anchors::heads("heads", &lines[9].hash).unwrap());
    assert!(fits.unfit() == 0 && code(fits).0 == "with_reports");
    // The excerpt of its permit speaks for everything up to its last line.
    let record = airwrit::audit::verify_excerpt(&excerpt::of(lines, &d.number).unwrap(), None).lines;
    let paper = anchors::held(lines, anchors::paper("permit.pdf", &record, lines));
    assert_eq!(paper.after, 0);
    // The same permit on a register that went another way: the first line that differs is named.
    let mut other = Day::opened(Plan::small());
    other.wait(5);
    whole(&mut other);
    let fork = anchors::held(other.lines(), anchors::paper("permit.pdf", &record, other.lines()));
    assert!(matches!(fork.held[0].standing, Standing::Differs { .. }) && fork.against());
}

#[test]
fn copies_and_two_registers_for_one_set() {
    let mut a = Day::opened(Plan::small());
    let older = a.clone();
    whole(&mut a);
    let mut fork = older.clone();
    fork.wait(40);
    whole(&mut fork);
    let copy = Copy::of("usb", a.lines(), older.lines());
    assert!(!copy.forked() && !copy.goes_on() && copy.words.contains("older"), "{}", copy.words);
    let forked = Copy::of("other laptop", a.lines(), fork.lines());
    assert!(forked.forked() && forked.parted.len() >= 2, "{}", forked.words);
    assert_ne!(forked.parted[0].hash, forked.parted[1].hash);
    let r = read(&a.bytes());
    let report = of(&[Input { copies: vec![forked], ..input("register", &r) }]);
    assert_eq!((report.overall.word, report.overall.code), ("another_history", 4));
    let html = page(&report).unwrap();
    assert!(
        report.registers[0].copies[0].parted.iter().all(|l| html.contains(&l.hash)),
        "both lines are shown"
    );

    // Another station issues on the same set, at the same hours, with the same person on air.
    let mut b = Day::enrolled_as(Plan::small(), "XY7", "ffeeddccbbaa99887766554433221100");
    let job = b.plan.job.clone();
    b.open(&job);
    whole(&mut b);
    let (ra, rb) = (read(&a.bytes()), read(&b.bytes()));
    let report = of(&[input("a", &ra), input("b", &rb)]);
    let what: Vec<&str> = report.shared.iter().map(|s| s.what).collect();
    assert!(["set", "permits", "person"].iter().all(|w| what.contains(w)), "{what:?}");
    assert!(words(&report).contains("BOTH KW2 AND XY7 USE THE SET heron AT ONE TIME"), "{}", words(&report));
}

#[test]
fn the_verdict_comes_first_and_says_what_it_rests_on() {
    let d = day();
    let sound = report(&d);
    // A breach that the day reports is told from the first line on.
    assert_eq!((sound.overall.word, sound.overall.code), ("with_reports", 1));
    let first = words(&sound).lines().next().unwrap().to_owned();
    assert!(first.contains(" what the rules forbid; "), "{first}");
    assert!(first.ends_with("; the record is sound, and no line contradicts its rules"), "{first}");
    // The bytes check, and one line is not by the rules.
    let mut forged = d.clone();
    let draft = forged.on(&d.number, |k, p, _| {
        let number = ("number", airwrit::record::json::Json::Int(7));
        k.line(p, "copy", "lukasz", airwrit::record::json::object([("hangs", "entry".into()), number]))
    });
    let line = forged.add(&draft);
    let r = report(&forged);
    assert_eq!((r.overall.word, r.overall.code), ("not_kept_by_its_rules", 1));
    assert!(words(&r).contains(&format!("line {}, contradicts the rules", line.seq)), "{}", words(&r));
    // Broken beats everything.
    let mut bytes = forged.bytes();
    bytes.truncate(bytes.len() - 3);
    let cut = read(&bytes);
    assert_eq!(of(&[input("register", &cut)]).overall.code, 4);
}

#[test]
fn alarms_are_timed_until_the_last_one_is_out() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    for who in ["zaneta", "nikos"] {
        d.own(&n, who);
        d.request(&n, who, Move::OnAir).unwrap();
    }
    d.wait(130);
    d.request(&n, "zaneta", Move::In).unwrap();
    d.of_set("event", &[("what", "co")]);
    d.wait(75);
    d.report(Some(&n), "zaneta", Move::Out);
    d.wait(40);
    d.report(Some(&n), "zaneta", Move::OffAir);
    let r = report(&d);
    let alarm = &r.registers[0].permits[0].alarms[0];
    assert_eq!((alarm.what.as_str(), alarm.seconds, alarm.outside), ("co", Some(75), 1));
    assert_eq!(alarm.out[0].person, "zaneta");
    // He stays on air outside, and nobody ever tells that he came off: told of the person, asked of nobody inside.
    let nikos = r.registers[0].people.iter().find(|p| p.id == "nikos").unwrap();
    assert!(nikos.still_on);
    assert!(r.registers[0].questions.iter().any(|q| q.about == "never_drilled"));
}

/// What strangers wrote stands in the page as text: no element, no attribute, no script of theirs.
#[test]
fn the_page_runs_nothing_and_escapes_everything() {
    let hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&{{ 7*7 }}";
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    d.report(Some(&n), hostile, Move::OnAir);
    d.of_set("event", &[("what", "other"), ("words", hostile)]);
    d.on_permit(&n, "suspend", &[("reason", hostile)]);
    let html = page(&report(&d)).unwrap();
    assert!(html.contains("&lt;script&gt;") || html.contains("&lt;script&#x3e;"), "it is shown");
    for never in ["<script", "<img", "onerror=alert(2)>", "javascript:", "<link", "<iframe", "&amp;49"] {
        assert!(!html.contains(never), "{never}");
    }
    // Nothing is fetched: the only address in it is the name of SVG.
    let addresses: Vec<&str> =
        html.match_indices("http").map(|(i, _)| &html[i..(i + 26).min(html.len())]).collect();
    assert!(
        addresses.iter().all(|a| a.starts_with("http://www.w3.org/2000/svg") || a.starts_with("http-equiv")),
        "{addresses:?}"
    );
    assert!(html.contains("default-src 'none'; style-src 'sha256-") && !html.contains(" style=\""));
}

/// Every number that leads to a line leads somewhere, in the page and in the facts.
#[test]
fn every_figure_leads_to_lines_that_are_there() {
    let verified = verify(&demo(), None);
    let replayed = replay(&verified.lines);
    let anchored = anchors::held(&verified.lines, Vec::new());
    let report = of(&[Input {
        name: "demo".into(),
        verified: &verified,
        replayed: &replayed,
        anchored,
        copies: Vec::new(),
        aside: Vec::new(),
        empty: Vec::new(),
        behind: 0,
        now: ended(&verified),
    }]);
    let html = page(&report).unwrap();
    let mut links = 0;
    for (i, _) in html.match_indices("href=\"#") {
        let id = html[i + 7..].split('"').next().unwrap();
        assert!(html.contains(&format!("id=\"{id}\"")), "{id} leads nowhere");
        links += 1;
    }
    assert!(links > 100, "{links}");
    let json = serde_json::to_value(&report).unwrap();
    let register = &json["registers"][0];
    assert_eq!(register["overall"]["word"], "unproven");
    assert_eq!(register["permits"][0]["holds"], 5);
    // The demo's day by its own story: a call-out with both inside, the last of them out after 215 s.
    assert_eq!(register["permits"][0]["alarms"][0]["what"], "call_out");
    assert_eq!(register["permits"][0]["alarms"][0]["seconds"], 215);
    assert_eq!(register["permits"][0]["tested"]["day"], "2026-11-20");
    // Three months: 20 February.
    assert_eq!(register["permits"][0]["tested"]["due"], "2027-02-20");
    assert!(html.find("class=\"verdict").unwrap() < html.find("Questions to ask").unwrap());
    assert!(html.matches("<svg").count() >= 4);
}

/// The report of the demo's register, and its page; made once.
fn of_demo() -> &'static (Report, String) {
    static MADE: std::sync::OnceLock<(Report, String)> = std::sync::OnceLock::new();
    MADE.get_or_init(|| {
        let read = read(&demo());
        let report = of(&[input("demo", &read)]);
        let html = page(&report).unwrap();
        (report, html)
    })
}

/// The same line, had it been written at another second; what cites it, cites another.
fn at(line: &Line, second: i64) -> Line {
    let raw = String::from_utf8(line.raw.clone()).unwrap();
    let (before, after) = raw.rsplit_once(&format!("\"time\":\"{}\"", line.time)).unwrap();
    Line::read(format!("{before}\"time\":\"{}\"{after}", airwrit::time::utc(second)).as_bytes()).unwrap()
}

/// The same line with other words in it.
fn instead(line: &Line, from: &str, to: &str) -> Line {
    let raw = String::from_utf8(line.raw.clone()).unwrap();
    assert!(raw.contains(from), "{from}");
    Line::read(raw.replace(from, to).as_bytes()).unwrap()
}

/// Three spells of 32:05, 33:30 and 19:30: each rounded up by itself they would be 87.
#[test]
fn minutes_on_air_are_added_exactly_and_rounded_once() {
    let (report, _) = of_demo();
    let zaneta = report.registers[0].people.iter().find(|p| p.id == "zaneta").unwrap();
    let (seconds, longest) = (32 * 60 + 5 + 33 * 60 + 30 + 19 * 60 + 30, 33 * 60 + 30);
    assert_eq!((zaneta.spells, zaneta.seconds, zaneta.minutes), (3, seconds, 86));
    assert_eq!((zaneta.longest_seconds, zaneta.longest), (longest, 34));
}

/// People of a site who stand in no roster have their names from the texts that were in force, also in each permit.
#[test]
fn people_of_the_site_have_their_names() {
    let (report, html) = of_demo();
    let r = &report.registers[0];
    let name = |id: &str| r.people.iter().find(|p| p.id == id).unwrap().name.clone();
    for id in ["zaneta", "nikos", "rasa"] {
        assert!(!name(id).is_empty() && name(id) != id, "{id}: `{}`", name(id));
    }
    let p = &r.permits[0];
    assert!(p.spells.iter().all(|s| s.name == name(&s.person)), "{:?}", p.spells);
    assert!(p.alarms.iter().flat_map(|a| &a.out).all(|o| o.name == name(&o.person)));
    assert!(html.contains(&format!("<td data-h=\"person\">{}</td><td class=\"t\"", name("nikos"))));
}

/// Whoever was relieved is not hidden by whoever came after.
#[test]
fn everyone_who_stood_at_the_set_is_named_with_their_lines() {
    let (report, html) = of_demo();
    let p = &report.registers[0].permits[0];
    let stood: Vec<_> = p.stood.iter().filter(|s| s.role == "attendant").collect();
    let who: Vec<&str> = stood.iter().map(|s| s.person.as_str()).collect();
    assert_eq!(who, ["oksana", "rasa"]);
    assert_eq!(stood[0].to.as_ref().map(|a| a.seq), Some(stood[1].from.seq));
    assert!(stood[1].to.is_none() && stood[0].from.seq == p.opened.seq);
    assert!(stood.iter().all(|s| html.contains(&s.name)), "both are on the page");
}

/// An act signed at the station stands in the register with its line in one go; hours between are asked about.
#[test]
fn a_signature_held_back_at_the_station_is_asked_about() {
    let (honest, html) = of_demo();
    let about = |r: &Report| r.registers[0].questions.iter().filter(|q| q.about == "kept_late").count();
    assert_eq!(about(honest), 0, "signed and kept in one go");
    assert!(!html.contains("times do not fit"));
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.ready(&n);
    let act = d.on(&n, |k, p, t| sign::declare(k, p, t, &Hand::here("lukasz"))).unwrap();
    d.wait(12 * 3600);
    let number = n.clone();
    let head = d.station.chain().permit_head(&number).to_owned();
    let what = act.act.sign(&key_of("lukasz")).unwrap();
    let line = d.add(&Draft { kind: act.act.kind, permit: Some((number, head)), by: None, what });
    let hour = airwrit::time::for_people(&act.act.time, &line.zone);
    let line = line.seq;
    let report = report(&d);
    let asked = report.registers[0].questions.iter().find(|q| q.about == "kept_late").unwrap();
    assert_eq!(asked.lines[0].seq, line);
    assert!(
        asked.because.contains(&hour) && asked.ask.contains("720 min"),
        "{} {}",
        asked.ask,
        asked.because
    );
    let html = page(&report).unwrap();
    assert!(html.contains(&format!("signed {hour}")) && html.contains("times do not fit"));
}

/// What came too quickly to be true stands in the report, with its lines.
#[test]
fn quick_answers_are_in_the_report() {
    let mut r = read(&demo());
    let first = r.verified.lines.iter().position(|l| l.kind.name == "answer").unwrap();
    let start = airwrit::time::seconds(&r.verified.lines[first].time);
    for (n, l) in r.verified.lines[first..first + 60].iter_mut().enumerate() {
        *l = at(l, start + n as i64 / 8);
    }
    r.replayed = replay(&r.verified.lines);
    let report = of(&[input("demo", &r)]);
    let of_register = &report.registers[0];
    let p = &of_register.permits[0];
    let quick: Vec<_> = p.flags.iter().filter(|f| f.0.contains("after it could first be")).collect();
    assert!(!quick.is_empty(), "{:?}", p.flags);
    let asked = |about: &str| of_register.questions.iter().find(|q| q.about == about);
    assert!(asked("flags").is_some_and(|q| !q.lines.is_empty()));
    let at_once = asked("at_once").unwrap();
    assert!(at_once.ask.contains("answers of KM3-261125-01 were entered within"), "{}", at_once.ask);
    let html = page(&report).unwrap();
    assert!(html.contains("To be looked at (") && html.contains("after it could first be"));
    assert!(words(&report).contains(&at_once.ask));
    let (honest, _) = of_demo();
    assert!(honest.registers[0].questions.iter().all(|q| q.about != "at_once"));
}

/// An answer of another permit was not given on this one; nothing of it is too quick here, and it counts once.
#[test]
fn a_carried_answer_is_no_quick_one() {
    let mut day = Day::opened(Plan::shipped());
    let first = day.number.clone();
    let answers = include_str!("../examples/answers-pre-start.yaml");
    day.play(&first, &crate::support::day::answers(answers), false);
    day.wait(60);
    day.declare(&first, "lukasz").unwrap();
    day.wait(60);
    day.countersign(&first, "eleni", &sign::Limits::default()).unwrap();
    day.wait(60);
    let job = day.plan.job.clone();
    day.cancel(&first, "eleni").unwrap();
    let second = day.open(&job);
    let decided = day.on(&second, |k, p, t| airwrit::permit::decide::carry::carry(k, p, t, None, "lukasz"));
    day.take(decided).unwrap();
    let report = report(&day);
    let permits = &report.registers[0].permits;
    let flags = || permits.iter().flat_map(|p| &p.flags);
    let all: Vec<_> = flags().collect();
    assert!(all.iter().all(|f| !f.0.contains("answered -")), "{all:?}");
    let p = permits.iter().find(|p| p.number == second).unwrap();
    assert!(
        !p.carried.is_empty() && p.flags.iter().all(|f| !f.0.contains("could first be")),
        "{:?}",
        p.flags
    );
    let asked = report.registers[0].questions.iter().find(|q| q.about == "flags");
    let lines: std::collections::BTreeSet<u64> = flags().map(|f| f.1.seq).collect();
    assert!(asked.is_none_or(|q| q.ask.starts_with(&format!("{} answer", lines.len()))), "{asked:?}");
}

/// Out and mask off are two times, and both stand beside the way out that the job says.
#[test]
fn an_evacuation_longer_than_the_way_out_is_asked_about() {
    let (report, html) = of_demo();
    let r = &report.registers[0];
    let alarm = &r.permits[0].alarms[0];
    assert_eq!((alarm.seconds, alarm.off), (Some(215), Some(395)));
    // 7.5 min: notice, make safe, walk, wash-down.
    assert_eq!(r.permits[0].way_out, Some(450));
    assert!(html.contains("6 min 35 s") && html.contains("3 min 35 s") && html.contains("7 min 30 s"));
    let about = |r: &airwrit::report::Register| r.questions.iter().filter(|q| q.about == "way_out").count();
    assert_eq!(about(r), 0);
    let mut late = read(&demo());
    let call = late.verified.lines.iter().position(|l| l.kind.name == "call_out").unwrap();
    let out = |l: &airwrit::record::line::Line| matches!(l.kind.name, "out" | "off_air");
    for l in late.verified.lines[call..].iter_mut().filter(|l| out(l)).take(4) {
        *l = at(l, airwrit::time::seconds(&l.time) + 1500);
    }
    late.replayed = replay(&late.verified.lines);
    let report = of(&[input("demo", &late)]);
    assert_eq!(about(&report.registers[0]), 1);
    assert!(page(&report).unwrap().contains("longer than the way out"));
}

/// A printed page shows everything: nothing is folded away, and every time is the site's.
#[test]
fn nothing_is_folded_away_and_times_are_of_the_site() {
    let (report, html) = of_demo();
    assert!(!html.contains("<details"), "what is folded does not print");
    for title in ["Readings of the watch (", "On air (", "Asked and refused ("] {
        assert!(html.contains(title), "{title}");
    }
    let before = html.split("-lines\">").next().unwrap();
    assert!(!before.contains(":00Z") && !before.contains(":30Z"), "a time in UTC alone");
    let r = &report.registers[0];
    assert!(html.contains(&airwrit::time::for_people(&r.holds[0].time, &r.holds[0].zone)));
    // Two limits of CO: where everyone comes out, and what the site's rule lets be breathed.
    assert!(html.contains("everyone out at 4 ppm") && html.contains("limit 5 ppm"));
}

/// What an auditor wants to know first is answered first, plainly, with its lines.
#[test]
fn plain_answers_come_first() {
    let (report, html) = of_demo();
    let plain = |r: &Report, about: &str| {
        let p = r.registers[0].plain.iter().find(|p| p.about == about).unwrap();
        (p.answer, p.words.clone(), p.lines.len())
    };
    // Both were in when the alarm suspended it, and went on live.
    let (answer, why, lines) = plain(report, "on_air_live");
    assert_eq!((answer, lines), ("yes", 2), "{why}");
    assert!(
        why.contains("nobody went on air on a permit that was not live") && why.contains("6 min 35 s"),
        "{why}"
    );
    assert_eq!(plain(report, "gates").0, "yes");
    assert_eq!((plain(report, "out").0, plain(report, "off").0), ("yes", "yes"));
    let ask =
        "Did everyone go on air while the permit was live, and come off within the way out once it was not?";
    assert!(html.find(ask).unwrap() < html.find("What was found</h3>").unwrap());
    assert!(words(report).contains(&format!("{ask} YES")));

    // Reported on air on what was never issued; and nobody says that they came off.
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.report(Some(&n), "zaneta", Move::OnAir);
    let r = self::report(&d);
    assert!(plain(&r, "on_air_live").1.contains("1 time somebody went on air while it was not live"));
    assert_eq!((plain(&r, "off").0, plain(&r, "gates").0), ("no", "not_known"));

    // A line before the issue that the rules would not have let be written; and of a register cut short nothing is good.
    let bytes = day().bytes();
    let half = read(&bytes[..bytes.len() - 3]);
    let cut = of(&[input("register", &half)]);
    assert_eq!((plain(&cut, "gates").0, plain(&cut, "off").0), ("not_known", "not_known"));
    let mut forged = Day::opened(Plan::small());
    let n = forged.number.clone();
    let draft = forged.on(&n, |k, p, _| {
        let number = ("number", airwrit::record::json::Json::Int(7));
        k.line(p, "copy", "lukasz", airwrit::record::json::object([("hangs", "entry".into()), number]))
    });
    forged.add(&draft);
    whole(&mut forged);
    assert_eq!(plain(&self::report(&forged), "gates").0, "no");
}

/// Refusals that could not be judged are not counted as judged, and are marked where they are listed.
#[test]
fn refusals_that_cannot_be_judged_are_told_apart() {
    let (report, html) = of_demo();
    let r = &report.registers[0];
    let denied = &r.permits[0].denied;
    let not: Vec<u64> = denied.iter().filter(|d| !d.judged).map(|d| d.at.seq).collect();
    assert_eq!(not.len() as u64, r.found.refusals_not_judged);
    let lines: Vec<u64> = r.found.refusals_not_judged_lines.iter().map(|l| l.line).collect();
    assert_eq!(lines, not);
    assert_eq!(r.found.judged.get("denied").copied().unwrap_or(0), (denied.len() - not.len()) as u64);
    assert!(!not.is_empty() && html.matches("not judged</span>").count() == not.len());
    assert!(html.contains("A refusal that was left out of the record cannot be seen by anyone."));
}

/// One missing answer makes every later one come too early: the cause is told once, the rest are counted, and all stay in
/// the facts.
#[test]
fn a_cause_is_told_once_and_what_follows_is_counted() {
    let mut r = read(&demo());
    let missing = |l: &Line| l.kind.name == "answer" && l.data.text("step") == Some("co_bump");
    r.verified.lines.retain(|l| !missing(l));
    r.replayed = replay(&r.verified.lines);
    let report = of(&[input("demo", &r)]);
    let all = &report.registers[0].found.contradicts;
    let follow = |f: &airwrit::replay::Finding| f.why == ["the CO monitor on test gas comes first"];
    let n = all.iter().filter(|f| follow(f)).count();
    assert!(n > 50, "{n}");
    let said = words(&report);
    assert_eq!(said.matches("the CO monitor on test gas comes first").count(), 1, "{said}");
    assert!(said.contains("more lines say no more than that"), "{said}");
    let told = airwrit::report::told(all);
    assert_eq!(told.iter().map(|t| 1 + t.again.len()).sum::<usize>(), all.len(), "none is left out");
    // A line with two findings is one line.
    let (first, mut later) = (all[0].clone(), all[0].clone());
    later.line.line += 1;
    let twice = airwrit::report::told(&[first.clone(), first, later.clone(), later]);
    assert_eq!((twice.len(), twice[0].again.len()), (1, 1));
    assert_eq!(report.overall.code, 1);
    assert!(page(&report).unwrap().matches("comes first").count() < 5);
}

/// A station's report of somebody, told for another time; whatever the rules say of it.
fn told(d: &mut Day, person: &str, to: Move, at: Option<i64>) -> Line {
    let n = d.number.clone();
    let set = d.set_id();
    let told = airwrit::permit::decide::air::Told { at: at.map(airwrit::time::utc), by: None };
    let draft = d.ask(|k| {
        let p = k.permit(&n).unwrap();
        airwrit::permit::decide::air::report(k, Some(p), &set, person, to, Vec::new(), &told, "lukasz")
    });
    d.add(&draft)
}

/// One on air outside, on a live permit.
fn outside() -> Day {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    d.own(&n, "zaneta");
    d.request(&n, "zaneta", Move::OnAir).unwrap();
    d.wait(130);
    d
}

/// The same one inside.
fn inside() -> Day {
    let mut d = outside();
    let n = d.number.clone();
    d.request(&n, "zaneta", Move::In).unwrap();
    d.wait(60);
    d
}

/// Both on air, she inside, an alarm entered as it came.
fn in_an_alarm() -> Day {
    let mut d = inside();
    d.of_set("event", &[("what", "co")]);
    d
}

/// Whoever tells afterwards that they were out sooner makes no way out shorter.
#[test]
fn a_told_time_makes_no_evacuation_shorter() {
    let mut d = in_an_alarm();
    let alarm = d.second;
    d.wait(1200);
    told(&mut d, "zaneta", Move::Out, Some(alarm + 170));
    told(&mut d, "zaneta", Move::OffAir, Some(alarm + 180));
    let r = report(&d);
    let of = &r.registers[0].permits[0].alarms[0];
    assert_eq!((of.seconds, of.told, of.off, of.told_off), (Some(1200), Some(170), Some(1200), Some(180)));
    assert_eq!((of.out[0].seconds, of.out[0].told), (Some(1200), Some(170)));
    let html = page(&r).unwrap();
    assert!(html.contains("20 min 0 s<br>as it was entered, which counts; by the times told 2 min 50 s"));
    assert!(html.contains("as it was entered, which counts; by the times told 3 min 0 s"));
    let out = r.registers[0].plain.iter().find(|p| p.about == "out").unwrap();
    assert!(out.words.contains("after 20 min 0 s as it was entered") && out.words.contains("2 min 50 s"));
    // 7.5 min by the job: told, it was within; entered, it was not.
    let asked = r.registers[0].questions.iter().find(|q| q.about == "way_out").unwrap();
    assert!(asked.because.contains("by the times told it took 3 min 0 s"), "{}", asked.because);
    // So is a drill, which a later way out may rest on.
    let mut d = in_an_alarm();
    let began = d.second;
    d.of_set("event", &[("what", "drill")]);
    d.wait(900);
    told(&mut d, "zaneta", Move::OffAir, Some(began + 100));
    let drill = report(&d).registers[0].sets[0].drills[0].clone();
    assert_eq!((drill.seconds, drill.told), (Some(900), Some(100)));
    // An alarm told for an earlier time counts from there.
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    d.own(&n, "zaneta");
    d.request(&n, "zaneta", Move::OnAir).unwrap();
    d.wait(130);
    d.request(&n, "zaneta", Move::In).unwrap();
    d.wait(600);
    let at = airwrit::time::utc(d.second - 300);
    d.of_set("event", &[("what", "co"), ("at", &at)]);
    d.wait(60);
    d.report(Some(&n), "zaneta", Move::Out);
    let of = report(&d).registers[0].permits[0].alarms[0].clone();
    assert_eq!((of.seconds, of.told), (Some(360), None));
}

/// Whatever stops the work with people inside has them come out, though nobody called an alarm by its name.
#[test]
fn work_that_stops_over_people_is_an_alarm() {
    let mut d = inside();
    let n = d.number.clone();
    d.on_permit(&n, "suspend", &[("reason", "a smell")]);
    d.wait(300);
    d.report(Some(&n), "zaneta", Move::Out);
    let r = report(&d);
    let all = &r.registers[0].permits[0].alarms;
    assert_eq!((all.len(), all[0].what.as_str(), all[0].seconds), (1, "suspended", Some(300)));
    // Where the alarm was called before, it is no second one.
    let mut d = in_an_alarm();
    d.on_permit(&n, "suspend", &[("reason", "a smell")]);
    assert_eq!(report(&d).registers[0].permits[0].alarms.len(), 1);
}

#[test]
fn an_alarm_that_is_entered_late_counts_for_who_was_in_then() {
    let mut d = inside();
    let n = d.number.clone();
    let at = airwrit::time::utc(d.second);
    d.wait(200);
    d.report(Some(&n), "zaneta", Move::Out);
    d.wait(60);
    d.report(Some(&n), "zaneta", Move::OffAir);
    d.wait(600);
    d.of_set("event", &[("what", "co"), ("at", &at)]);
    let of = report(&d).registers[0].permits[0].alarms[0].clone();
    assert_eq!((of.out.len(), of.seconds, of.off), (1, Some(200), Some(260)));
    // That somebody was out sooner is told: it counts when it was entered.
    let mut d = inside();
    let alarm = d.second;
    d.wait(500);
    told(&mut d, "zaneta", Move::Out, Some(alarm + 90));
    d.wait(60);
    d.of_set("event", &[("what", "co"), ("at", &airwrit::time::utc(alarm))]);
    let of = report(&d).registers[0].permits[0].alarms[0].clone();
    assert_eq!((of.seconds, of.told), (Some(500), Some(90)));
}

/// The program keeps what is told of anybody; that a line is missing before it is asked.
#[test]
fn somebody_taken_from_where_they_were_not_is_asked_about() {
    let about = |d: &Day| {
        let r = report(d);
        let found: Vec<_> = r.registers[0].questions.iter().filter(|q| q.about == "odd").cloned().collect();
        assert!(found.len() < 2);
        found.first().map(|q| (q.because.clone(), q.lines.len()))
    };
    assert_eq!(about(&day()), None, "a day that was kept whole");
    let mut d = in_an_alarm();
    told(&mut d, "nikos", Move::Out, None);
    told(&mut d, "nikos", Move::OffAir, None);
    told(&mut d, "nikos", Move::OffAir, None);
    told(&mut d, "rasa", Move::OffAir, None);
    let (why, lines) = about(&d).unwrap();
    // The first `out` puts him on the tally, so that only the second `off_air` is of nobody.
    assert_eq!(lines, 3, "{why}");
    assert!(
        why.contains("out, and not on air: nikos") && why.contains("off air, and not on air: nikos, rasa")
    );
    let mut d = in_an_alarm();
    told(&mut d, "zaneta", Move::OffAir, None);
    assert_eq!(about(&d).unwrap().0, "off air, and never out: zaneta");
    let mut d = in_an_alarm();
    let before = d.second - 3600;
    told(&mut d, "zaneta", Move::OffAir, Some(before));
    assert_eq!(about(&d).unwrap().0, "off air at a time before they went on, and on the tally still: zaneta");
    let off = report(&d).registers[0].plain.iter().find(|p| p.about == "off").unwrap().answer;
    assert_eq!(off, "no", "the fold has her on the tally, and so has the report");
}

/// Any operator may hand back; that it was not the holder is asked about.
#[test]
fn handed_back_by_another_than_the_holder_is_asked_about() {
    let about = |d: &Day| {
        let r = report(d);
        r.registers[0].questions.iter().find(|q| q.about == "handed_back").cloned()
    };
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    let before = d.clone();
    let shut_down = |d: &mut Day, by: &str| {
        let t = |step| airwrit::permit::decide::answer::Typed {
            shutdown: true,
            ..crate::support::day::typed(step, None, "yes")
        };
        d.answer(&n, &t("seen")).unwrap();
        d.request_of_set("stopped").unwrap();
        d.answer(&n, &t("stopped_now")).unwrap();
        d.hand_back(&n, by, None).unwrap();
    };
    shut_down(&mut d, "lukasz");
    assert!(about(&d).is_none(), "the holder hands back");
    let mut other = before.clone();
    shut_down(&mut other, "ines");
    let asked = about(&other).unwrap();
    assert!(asked.ask.contains("its holder was lukasz") && asked.because.contains("no line hands it over"));
    // Handed over to her, and handed back by the one who held it before.
    let mut former = before;
    former.called_and_read(&n);
    let handing = sign::Handing {
        to: "ines".into(),
        checked: vec!["wind".into(), "warnings".into(), "fuel".into()],
        unusual: "nothing".into(),
        ..sign::Handing::default()
    };
    former.sign(&n, &sign::Signing::HandOver(handing), "lukasz").unwrap();
    former.sign(&n, &sign::Signing::TakeOver, "ines").unwrap();
    shut_down(&mut former, "lukasz");
    let asked = about(&former).unwrap();
    assert!(asked.ask.contains("its holder was ines") && asked.because.contains("had handed it over before"));
}

/// A text that was put in force again stands beside the one before, line by line; a long list is folded.
#[test]
fn what_changed_in_a_text_is_told_line_by_line() {
    let of_texts = |d: &Day| {
        let r = report(d);
        (page(&r).unwrap(), words(&r), r.registers[0].texts.clone())
    };
    let mut d = Day::enrolled(Plan::small());
    let (html, said, texts) = of_texts(&d);
    let kinds: Vec<&str> = texts.iter().map(|t| t.what.as_str()).collect();
    assert_eq!(kinds, ["roster", "set", "site", "form", "form"]);
    assert!(
        texts.iter().all(|t| t.differs.is_none()) && html.contains("No text was put in force a second time.")
    );
    assert!(!said.contains("is another text than by line"));
    let looser = d.plan.work.replace("siting >= 10 m", "siting >= 5 m");
    let line = d.approve("form", &looser);
    let (html, said, texts) = of_texts(&d);
    let differs = texts.last().unwrap().differs.as_ref().unwrap();
    let told: Vec<_> = differs.changes.iter().map(|c| (c.mark, c.words.trim())).collect();
    assert_eq!(told, [('-', "gate: siting >= 10 m"), ('+', "gate: siting >= 5 m")]);
    assert_eq!((differs.put_in, differs.taken_out, texts.last().unwrap().at.seq), (1, 1, line.seq));
    assert_eq!(differs.before.seq, texts[3].at.seq);
    assert!(said.contains(&format!(
        "line {}: form small is another text than by line {}",
        line.seq, differs.before.line
    )));
    assert!(
        html.contains("gate: siting &gt;= 5 m") && !html.contains("<details"),
        "a short one is not folded"
    );
    let longer: String = d.plan.work.lines().map(|l| format!("{l} # x\n")).collect();
    let longer = longer.replacen("checklist: small # x", "checklist: small", 1);
    d.approve("form", &longer);
    let (html, _, texts) = of_texts(&d);
    assert!(texts.last().unwrap().differs.as_ref().unwrap().changes.len() > 40);
    assert!(html.contains("<details><summary>") && html.contains("</details>"));
}

/// What is said of every line is not said above something that nothing tells of.
#[test]
fn the_headline_says_what_is_not_told_of() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    d.on_permit(&n, "reading", &[("what", "co"), ("value", "9"), ("unit", "ppm")]);
    d.on_permit(&n, "note", &[("words", "went on")]);
    let r = report(&d);
    assert_eq!((r.overall.word, r.overall.code), ("with_gaps", 1));
    // The worst first; the small forms lack subjects.
    let last = "the record is sound, and no line contradicts its rules";
    assert_eq!(
        r.overall.words,
        format!("1 thing is not told of; 2 lines report what the rules forbid; {last}")
    );
    assert!(r.overall.because.iter().any(|b| b.contains("1 thing is not told of by its lines")));
    assert!(!words(&r).contains("in every line") && !page(&r).unwrap().contains("in every line"));
    let unproven = verify(&d.bytes(), None);
    let replayed = replay(&unproven.lines);
    let anchored = anchors::held(&unproven.lines, Vec::new());
    let read = Read { verified: unproven, replayed };
    let r = of(&[Input { anchored, ..input("register", &read) }]);
    assert_eq!((r.overall.word, r.overall.code), ("unproven", 5));
    assert!(!r.overall.words.contains("kept by its rules"), "{}", r.overall.words);
}

/// Gates of a text that this program does not read, or under rules that it does not know, are not said to be true or not.
#[test]
fn gates_by_what_is_not_known_here_are_not_known() {
    let gates = |r: &Read| {
        let report = of(&[input("register", r)]);
        let p = report.registers[0].plain.iter().find(|p| p.about == "gates").unwrap();
        (p.answer, p.words.clone())
    };
    let d = day();
    let good = read(&d.bytes());
    assert_eq!(gates(&good).0, "yes");
    let mut other = read(&d.bytes());
    let form = other.verified.lines.iter_mut().find(|l| l.data.text("form") == Some("small")).unwrap();
    *form = instead(form, "gate: siting >= 10 m", "gate: wiser_than(siting, 10 m)");
    other.replayed = replay(&other.verified.lines);
    let (answer, why) = gates(&other);
    assert_eq!(answer, "not_known", "{why}");
    assert!(why.contains("cannot be judged here: KW2-"), "{why}");
    let mut other = read(&d.bytes());
    let opened = other.verified.lines.iter_mut().find(|l| l.kind.name == "open").unwrap();
    *opened = instead(opened, "\"rules\":1", "\"rules\":7");
    other.replayed = replay(&other.verified.lines);
    let (answer, why) = gates(&other);
    assert!(
        answer == "not_known" && why.contains("under rules 7, which are not known here"),
        "{answer} {why}"
    );
}

/// Also of what stands outside, and between which clocks: people read the site's time.
#[test]
fn times_between_clocks_outside_are_of_the_site() {
    let d = day();
    let lines = d.lines();
    let at = |i: usize| airwrit::time::seconds(&lines[i].time);
    let head = |i: usize, second: i64| format!("{} {}\n", airwrit::time::utc(second), lines[i].hash);
    let text = format!("{}{}{}", head(6, at(6) + 20), head(12, at(12) + 20), head(14, at(20) + 3600));
    let anchored = anchors::held(lines, anchors::heads("heads", &text).unwrap());
    let said = anchors::words(&anchored);
    let site = airwrit::time::for_people(&lines[12].time, &lines[12].zone);
    assert!(said.contains(&site) && said.contains("TIMES DO NOT FIT"), "{said}");
    let r = read(&d.bytes());
    let html = page(&of(&[Input { anchored, ..input("register", &r) }])).unwrap();
    let before = html.split("-lines\">").next().unwrap();
    for words in [said.as_str(), before] {
        let utc: Vec<&str> = words.match_indices("Z").map(|(i, _)| &words[i.saturating_sub(9)..i]).collect();
        assert!(utc.iter().all(|t| !t.contains(':')), "{utc:?}");
    }
}

/// A token that a register does not carry speaks for another history, or for a longer one; never for this one.
#[test]
fn a_token_that_no_line_carries_is_no_support() {
    use airwrit::trust::token::{Claim, make};
    let d = day();
    let roster = &d.station.chain().origin.roster;
    let lines = d.lines();
    let i = lines.iter().position(|l| l.kind.name == "countersign").unwrap();
    let token = lines[i].data.text("token").unwrap();
    let of =
        |text: &str, lines: &[Line]| anchors::held(lines, vec![anchors::token(text, roster, "KW2").unwrap()]);
    assert!(!of(token, lines).against());
    // Cut before the issue: the line that it names is here, the issue is not.
    let cut = of(token, &lines[..i]);
    assert!(cut.held[0].standing == Standing::Beyond && cut.only_longer() && cut.upto.is_none());
    assert!(
        anchors::words(&cut).contains("carries this token; the end was cut off"),
        "{}",
        anchors::words(&cut)
    );
    // Issued otherwise here.
    let mut other = lines.to_vec();
    other[i] = instead(&lines[i], token, "AW1.NONE");
    let other = of(token, &other);
    assert!(other.held[0].standing == Standing::Elsewhere && other.against() && !other.only_longer());
    let words = anchors::words(&other);
    assert!(words.contains(&format!("ANOTHER HISTORY: no line of {}", d.number)), "{words}");
    let r = read(&d.bytes());
    let report = self::of(&[Input { anchored: other, ..input("register", &r) }]);
    assert_eq!((report.overall.word, report.overall.code), ("another_history", 4));
    assert!(page(&report).unwrap().contains("carries this token, and line"));
    // Of a permit that was never opened here.
    let made = |permit: &str, key: &str| {
        let (valid_to, line) = ("2026-11-25T16:00:00Z".to_owned(), &lines[i - 1]);
        let claim = Claim { permit: permit.into(), valid_to, seq: line.seq, hash: line.hash.to_string() };
        make(&claim, &key_of(key)).unwrap()
    };
    let unknown = of(&made("KW2-261125-77", "eleni"), lines);
    assert!(
        unknown.against() && anchors::words(&unknown).contains("does not know KW2-261125-77"),
        "{unknown:?}"
    );
    // By whoever may issue nothing: that shows no history, and is told.
    let nobody = of(&made(&d.number, "lukasz"), lines);
    assert_eq!((nobody.against(), nobody.unfit(), nobody.upto), (false, 1, None));
    assert!(nobody.unfit_in_words()[0].contains("is no supervisor"), "{:?}", nobody.unfit_in_words());
}
