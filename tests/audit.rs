//! Verdicts of registers and excerpts.

use crate::support::day::{self, Day, Plan, answers};
use crate::support::{Station, key_of};
use airwrit::audit::{Trust, Verdict, verify, verify_excerpt};
use airwrit::permit::decide::carry;
use airwrit::permit::decide::sign::Limits;
use airwrit::record::excerpt;
use airwrit::record::json::{Json, object};
use airwrit::trust::{Role, Signer};

pub fn trust(names: &[&str], threshold: usize) -> Trust {
    Trust { custodians: names.iter().map(|n| key_of(n).public().fingerprint()).collect(), threshold }
}

fn rules(v: &airwrit::audit::Verified) -> Vec<&'static str> {
    v.report.said.iter().map(|s| s.rule).collect()
}

#[test]
fn sound_only_with_custodians_from_outside() {
    let bytes = Station::twelve_lines().bytes();
    let v = verify(&bytes, Some(&trust(&["custodian-a", "custodian-c"], 2)));
    assert_eq!((v.report.verdict, v.report.lines), (Verdict::Sound, 12), "{:?}", v.report);
    assert_eq!(v.report.permits, [("KW2-261125-01".to_owned(), "live")]);
    let v = verify(&bytes, None);
    assert_eq!((v.report.verdict, rules(&v)), (Verdict::Unproven, vec!["custodian"]));
    // Custodian b did not sign; an auditor who trusts only b and c with threshold 2 is not served.
    let v = verify(&bytes, Some(&trust(&["custodian-b", "custodian-c"], 2)));
    assert_eq!((v.report.verdict, rules(&v)), (Verdict::Unproven, vec!["custodian"]));
}

#[test]
fn a_torn_tail_is_broken_in_words() {
    let mut bytes = Station::twelve_lines().bytes();
    bytes.truncate(bytes.len() - 5);
    let v = verify(&bytes, Some(&trust(&["custodian-a"], 1)));
    assert_eq!((v.report.verdict, rules(&v)), (Verdict::Broken, vec!["tail"]));
    assert!(v.report.said[0].why.contains("open the register"));
    let empty = verify(b"", None);
    assert_eq!(empty.report.verdict, Verdict::Broken);
}

/// A copy whose lines end otherwise was copied as text, which is said.
#[test]
fn a_copy_with_other_line_ends_is_broken_and_says_how_it_came() {
    let bytes = Station::twelve_lines().bytes();
    let copied: Vec<u8> =
        bytes.iter().flat_map(|b| if *b == b'\n' { vec![b'\r', b'\n'] } else { vec![*b] }).collect();
    let v = verify(&copied, Some(&trust(&["custodian-a"], 1)));
    assert_eq!((v.report.verdict, rules(&v)[0]), (Verdict::Broken, "frame"));
    assert!(v.report.said[0].why.contains("copied as text"), "{:?}", v.report.said);
}

#[test]
fn lines_cut_off_whole_still_check_and_the_report_says_how_far_it_goes() {
    let bytes = Station::twelve_lines().bytes();
    let end = bytes[..bytes.len() - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
    let v = verify(&bytes[..end], Some(&trust(&["custodian-a"], 1)));
    assert_eq!((v.report.verdict, v.report.lines), (Verdict::Sound, 11));
}

/// The lifecycle: each of these lines has a good seal and a good place, and is refused for the state.
#[test]
fn what_the_lifecycle_forbids_is_broken() {
    let n = "KW2-261125-01";
    let mut s = Station::twelve_lines();
    s.station(Some(n), "on_air", object([("person", "ada-nowak".into())]));
    s.answer(n, "shutdown", "nobody_on_air", "yes");
    let v = verify(&s.bytes(), None);
    assert_eq!((v.report.verdict, rules(&v)[0], v.report.lines), (Verdict::Broken, "state", 13));

    let mut s = Station::twelve_lines();
    let d = s.act(n, "declare", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    assert_eq!(rules(&verify(&s.bytes(), None))[0], "state");

    let mut s = Station::twelve_lines();
    s.station(Some(n), "on_air", object([("person", "ada-nowak".into())]));
    let d = s.act(n, "hand_back", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    assert_eq!(rules(&verify(&s.bytes(), None))[0], "state");

    // Reports stand in every state.
    let mut s = Station::twelve_lines();
    let d = s.act(n, "hand_back", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    s.station(
        Some(n),
        "on_air",
        object([
            ("breach", Json::Arr(vec!["the permit is handed back".into()])),
            ("person", "ada-nowak".into()),
        ]),
    );
    s.station(None, "out", object([("person", "nobody-knows".into()), ("set", "mobile-1".into())]));
    assert_eq!(verify(&s.bytes(), Some(&trust(&["custodian-a"], 1))).report.verdict, Verdict::Sound);
}

#[test]
fn an_excerpt_verifies_alone_and_says_what_no_signature_reaches() {
    let mut s = Station::enrolled();
    s.texts();
    let other = "KW2-261125-01";
    s.open_permit(other);
    let n = "KW2-261125-02";
    s.open_permit(n);
    s.answer(other, "pre-start", "oil_level", "yes");
    s.answer(n, "pre-start", "oil_level", "yes");
    s.station(
        None,
        "moved",
        object([("date", "2026-11-25".into()), ("place", "gate".into()), ("set", "mobile-1".into())]),
    );
    s.answer(n, "pre-start", "siting_exhaust", "yes");
    let d = s.act(n, "declare", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    let d = s.countersign(n, "per-lind");
    s.add(d);
    let t = trust(&["custodian-a", "custodian-c"], 2);
    let lines = &s.open.as_ref().unwrap().lines;
    let bytes = excerpt::of(lines, n).unwrap();
    let v = verify_excerpt(&bytes, Some(&t));
    assert_eq!(v.report.verdict, Verdict::Sound, "{:?}", v.report);
    assert_eq!(v.report.scope, "excerpt");
    assert!((v.report.lines as usize) < lines.len());
    assert!(v.lines.iter().all(|l| l.permit.as_deref() != Some(other)));
    // Lines of the set that were taken out cannot be told from those that never belonged here: it says so.
    assert_eq!(v.report.between + v.report.lines, lines.len() as u64);
    assert!(airwrit::audit::words(&v.report).contains("of the register between them are not here"));
    let whole: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
    let moved = v.lines.iter().position(|l| l.kind.name == "moved").unwrap();
    let without: Vec<u8> = [&whole[..moved], &whole[moved + 1..]].concat().concat();
    let less = verify_excerpt(&without, Some(&t));
    assert_eq!(less.report.between, v.report.between + 1);

    s.station(Some(n), "on_air", object([("person", "ada-nowak".into())]));
    let bytes = excerpt::of(&s.open.as_ref().unwrap().lines, n).unwrap();
    let v = verify_excerpt(&bytes, Some(&t));
    assert_eq!((v.report.verdict, rules(&v)), (Verdict::Unproven, vec!["excerpt"]));

    // A line taken out of the permit is found by `pprev`; a changed one by what cites it.
    let raw: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
    for i in 0..raw.len() {
        let without: Vec<u8> =
            raw.iter().enumerate().filter(|(j, _)| *j != i).flat_map(|(_, l)| l.to_vec()).collect();
        let verdict = verify_excerpt(&without, Some(&t)).report.verdict;
        let kind = &v.lines[i].kind.name;
        assert!(
            verdict == Verdict::Broken
                || (verdict == Verdict::Unproven && *kind == "moved")
                || *kind == "on_air"
                || (*kind == "form"),
            "{i} {kind}"
        );
        let mut changed = bytes.clone();
        let at = raw[..i].iter().map(|l| l.len()).sum::<usize>() + raw[i].len() / 2;
        changed[at] ^= 1;
        assert_ne!(verify_excerpt(&changed, Some(&t)).report.verdict, Verdict::Sound, "{i}");
    }
}

/// What happens to the set in the years after a permit was closed goes out with none of its papers.
#[test]
fn nothing_of_what_came_after_the_close_goes_out_with_it() {
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    let of = |d: &Day| excerpt::of(d.lines(), &n).unwrap();
    let live = of(&d);
    d.of_set("event", &[("what", "other"), ("words", "a lorry waits")]);
    assert_ne!(of(&d), live, "what bears on it while it is in force goes along");
    let mut d = Day::opened(Plan::small());
    crate::replay::whole(&mut d);
    let closed = of(&d);
    assert!(String::from_utf8(closed.clone()).unwrap().contains("\"kind\":\"close\""));
    d.wait(86_400);
    d.of_set("event", &[("what", "other"), ("words", "a lorry waits")]);
    assert_eq!(of(&d), closed);
    // Told for a time at which it was in force, it goes along.
    let at = d.lines()[d.lines().len() / 2].time.to_string();
    d.of_set("event", &[("at", at.as_str()), ("what", "co")]);
    assert_ne!(of(&d), closed);
    let v = verify_excerpt(&closed, Some(&day::trust()));
    assert_eq!(v.report.verdict, Verdict::Sound, "{:?}", v.report.said);
}

/// What the engine carries, waits and all, both the register and the excerpt of the permit bear out: no answer of the other
/// permit is taken for its shutdown.
#[test]
fn what_the_engine_carries_verifies_and_so_does_its_excerpt() {
    let mut day = Day::opened(Plan::shipped());
    let first = day.number.clone();
    day.play(&first, &answers(include_str!("../examples/answers-pre-start.yaml")), false);
    day.wait(60);
    day.declare(&first, "lukasz").unwrap();
    day.wait(60);
    day.countersign(&first, "eleni", &Limits::default()).unwrap();
    day.wait(60);
    let job = day.plan.job.clone();
    day.cancel(&first, "eleni").unwrap();
    let second = day.open(&job);
    let decided = day.on(&second, |k, p, t| carry::carry(k, p, t, None, "lukasz"));
    let line = day.take(decided).unwrap();
    let cited = line.data.texts("answers");
    let values: Vec<_> =
        cited.iter().map(|h| day.state.answer_by_hash(h).unwrap().1.value.clone().unwrap()).collect();
    assert!(values.len() > 10 && values.iter().any(|v| v == "begun"), "{values:?}");
    let report = day.verify().report;
    assert_eq!(report.verdict, Verdict::Sound, "{:?}", report.said);
    let bytes = excerpt::of(day.lines(), &second).unwrap();
    let v = verify_excerpt(&bytes, Some(&day::trust()));
    // Nobody has signed the new permit yet.
    assert_eq!((v.report.verdict, rules(&v)), (Verdict::Unproven, vec!["excerpt"]));
    assert_eq!(v.state.permits[&second].answers.len(), cited.len());
    // One of them left out of it is missed.
    let lines: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
    for hash in cited {
        let at = v.lines.iter().position(|l| l.hash == hash).unwrap();
        let without: Vec<u8> =
            lines.iter().enumerate().filter(|(i, _)| *i != at).flat_map(|(_, l)| l.to_vec()).collect();
        let less = verify_excerpt(&without, Some(&day::trust()));
        assert_eq!((less.report.verdict, rules(&less)[0]), (Verdict::Broken, "citation"), "{at}");
    }
}

/// Peer: the same reader on its own, one line after the other.
#[test]
fn who_reads_the_lines_changes_nothing_of_what_is_said() {
    let mut d = Day::enrolled(Plan::small());
    let job = d.plan.job.clone();
    for _ in 0..2 {
        let n = d.open(&job);
        d.live(&n);
        d.cancel(&n, "eleni").unwrap();
        d.wait(60);
    }
    let good = d.bytes();
    let said = |bytes: &[u8], threads: usize| {
        let v = airwrit::audit::verify_in_pieces(&[bytes], None, 3000, threads);
        (serde_json::to_value(&v.report).unwrap(), format!("{:?}", v.state), v.lines.len())
    };
    assert_eq!(said(&good, 0), said(&good, 3));
    let mut seed = 7_u64;
    let mut next = |most: usize| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as usize % most
    };
    for n in 0..120 {
        let mut bad = good.clone();
        let at = next(bad.len());
        match n % 4 {
            0 => bad[at] ^= 1 << next(8),
            1 => bad.truncate(at),
            2 => {
                let ends: Vec<usize> = (0..bad.len()).filter(|i| bad[*i] == b'\n').collect();
                let line = next(ends.len() - 1);
                bad.drain(ends[line] + 1..=ends[line + 1]);
            }
            _ => bad.insert(at, b'\n'),
        }
        assert_eq!(said(&bad, 0), said(&bad, 3), "mutation {n} at {at}");
    }
}
