//! Several volumes, one history: another machine, a lost key, an older folder; volumes that lie, that are
//! missing, that two machines both went on from.

use crate::audit::trust;
use crate::support::disk::LOSSES;
use crate::support::{Begin, Station, before};
use airwrit::audit::compare::{Compared, compare};
use airwrit::audit::{Verdict, Verified, verify, verify_excerpt, verify_volumes};
use airwrit::permit::state::{Whereabouts, fold};
use airwrit::record::excerpt;
use airwrit::record::json::object;
use airwrit::record::store::{Opened, Problem, open};
use airwrit::trust::Role;
use airwrit::view::{LineNo, StateWord};

const N: &str = "KW2-261125-01";
const SECOND: &str = "22222222222222222222222222222222";
const THIRD: &str = "33333333333333333333333333333333";

fn verified(volumes: &[Vec<u8>]) -> Verified {
    let volumes: Vec<&[u8]> = volumes.iter().map(Vec::as_slice).collect();
    let trust = trust(&["custodian-a", "custodian-c"], 2);
    let verified = verify_volumes(&volumes, Some(&trust), &[]);
    crate::support::same_where_little_is_kept(&verified.report, &volumes, Some(&trust), &[]);
    verified
}

fn verdict(volumes: &[Vec<u8>]) -> (Verdict, Vec<(&'static str, u32, u64)>) {
    let report = verified(volumes).report;
    let said = report.said.iter().map(|s| {
        let at = s.line.unwrap();
        (s.rule, at.volume, at.line)
    });
    (report.verdict, said.collect())
}

/// A live permit with somebody on air; then the laptop is gone, and another one goes on.
fn gone_on() -> Station {
    let mut s = Station::twelve_lines();
    s.station(Some(N), "on_air", object([("person", "ada-nowak".into()), ("outlet", "2".into())]));
    let (mut s, history) = s.moved_elsewhere();
    let begin = Begin::after(&history, SECOND);
    s.enrol_with(&begin, Some(history)).unwrap();
    s
}

#[test]
fn a_next_volume_goes_on_suspends_and_keeps_the_tally() {
    let mut s = gone_on();
    let state = fold(&s.open.as_ref().unwrap().lines).unwrap();
    assert_eq!(state.permits[N].life, StateWord::Suspended);
    let on: Vec<_> = state.on_air.iter().map(|p| (p.person.as_str(), p.whereabouts)).collect();
    assert_eq!(on, [("ada-nowak", Whereabouts::Outside)]);

    // Texts in force and the permit go on; the act names the new log, and the line before in the old one.
    s.station(Some(N), "off_air", object([("person", "ada-nowak".into())]));
    let d = s.act(N, "hand_back", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    s.open_permit("KW2-261125-02");
    s.approve("set", "mobile-1", "set: mobile-1\n# again\n");
    s.reopen().unwrap();
    let r = s.open.as_ref().unwrap();
    assert_eq!((r.chain.origin.volume, r.chain.seq, r.lines.len()), (2, 4, 18));

    let v = verified(&s.volumes());
    assert_eq!((v.report.verdict, v.report.volumes, v.report.lines), (Verdict::Sound, 2, 18));
    let permits = [("KW2-261125-01".to_owned(), "handed back"), ("KW2-261125-02".to_owned(), "draft")];
    assert_eq!(v.report.permits, permits);
    // The volumes one after another are the same history.
    let t = trust(&["custodian-a", "custodian-c"], 2);
    assert_eq!(verify(&s.volumes().concat(), Some(&t)).report.head, v.report.head);

    // An excerpt of a permit that lives in both.
    let bytes = excerpt::of(&s.open.as_ref().unwrap().lines, N).unwrap();
    let v = verify_excerpt(&bytes, Some(&t));
    assert_eq!(v.report.verdict, Verdict::Sound, "{:?}", v.report);
    assert_eq!(v.report.permits, [("KW2-261125-01".to_owned(), "handed back")]);
}

#[test]
fn a_volume_that_is_missing_leaves_the_rest_unproven() {
    let mut s = gone_on();
    s.station(Some(N), "off_air", object([("person", "ada-nowak".into())]));
    let volumes = s.volumes();
    assert_eq!(verdict(&volumes[1..]), (Verdict::Unproven, vec![("volume", 1, 0)]));

    let (mut s, history) = s.moved_elsewhere();
    let begin = Begin::after(&history, THIRD);
    s.enrol_with(&begin, Some(history)).unwrap();
    s.approve("set", "mobile-1", "set: mobile-1\n# third\n");
    let [one, two, three] = <[Vec<u8>; 3]>::try_from(s.volumes()).unwrap();
    assert_eq!(verdict(&[one.clone(), two.clone(), three.clone()]).0, Verdict::Sound);
    assert_eq!(verdict(&[one.clone(), three]), (Verdict::Unproven, vec![("volume", 2, 0)]));
    // Who was on air when the volume that is missing began is still shown.
    let v = verified(&[two]);
    assert_eq!(v.report.verdict, Verdict::Unproven);
    assert!(v.state.missing);
}

#[test]
fn a_volume_before_that_is_said_to_be_lost() {
    let mut s = Station::new();
    let lost = object([("lost", "the laptop fell into the dock".into())]);
    s.enrol_with(&Begin { before: Some(lost), log: SECOND, ..Begin::first() }, None).unwrap();
    s.texts();
    assert_eq!(verdict(&s.volumes()), (Verdict::Unproven, vec![("volume", 1, 0)]));
    let said = verified(&s.volumes()).report.said;
    assert!(said[0].why.contains("fell into the dock"), "{said:?}");
    // It is not lost where it stands.
    let both = [Station::twelve_lines().volumes().remove(0), s.volumes().remove(0)];
    assert_eq!(verdict(&both), (Verdict::Broken, vec![("before", 2, 0)]));
}

#[test]
fn a_before_that_lies_is_broken() {
    let one = Station::twelve_lines();
    let first = one.volumes().remove(0);
    let (log, head) = {
        let chain = one.chain();
        (chain.origin.log.clone(), chain.head.clone())
    };
    let earlier = one.open.as_ref().unwrap().lines[10].hash.clone();
    let named = |seq: u64, head: &str| Some(before(&log, seq, head));
    for (before, wanted) in [
        (named(11, &head), None),
        // An older copy of the folder was gone on from, and the newer one turns up.
        (named(10, &earlier), Some("before")),
        (named(10, &head), Some("before")),
        (named(11, &earlier), Some("before")),
        (None, Some("before")),
        (Some(object([("head", head.as_str().into()), ("log", log.as_str().into())])), Some("before")),
        (
            Some(object([
                ("head", head.as_str().into()),
                ("log", log.as_str().into()),
                ("lost", "and lost".into()),
                ("seq", airwrit::record::json::Json::Int(11)),
            ])),
            Some("before"),
        ),
    ] {
        // The store refuses to write it ...
        let (mut s, history) = one.moved_elsewhere();
        let begin = Begin { before: before.clone(), log: SECOND, ..Begin::first() };
        let done = s.enrol_with(&begin, Some(history));
        assert_eq!(done.is_err(), wanted.is_some(), "{before:?} {done:?}");
        // ... and the verifier finds it where somebody else wrote it.
        let mut s = Station { second: one.second, ..Station::new() };
        if s.enrol_with(&begin, None).is_err() {
            continue;
        }
        let got = verdict(&[first.clone(), s.volumes().remove(0)]);
        match wanted {
            None => assert_eq!(got.0, Verdict::Sound, "{got:?}"),
            Some(rule) => assert_eq!(got, (Verdict::Broken, vec![(rule, 2, 0)]), "{before:?}"),
        }
    }
}

#[test]
fn what_is_wrong_with_an_earlier_volume_is_not_hidden_by_a_later_one() {
    let s = gone_on();
    let [one, two] = <[Vec<u8>; 2]>::try_from(s.volumes()).unwrap();
    // A bad tail.
    let torn = [one.as_slice(), b"{\"body\":{"].concat();
    assert_eq!(verdict(&[torn.clone(), two.clone()]), (Verdict::Broken, vec![("tail", 1, 13)]));
    // A line cut off.
    let lines: Vec<&[u8]> = one.split_inclusive(|b| *b == b'\n').collect();
    let cut = lines[..12].concat();
    assert_eq!(verdict(&[cut, two.clone()]), (Verdict::Broken, vec![("before", 2, 0)]));
    // A line changed.
    let mut changed = one.clone();
    let at = changed.windows(9).position(|w| w == b"ada-nowak").unwrap();
    changed[at] = b'e';
    assert_eq!(verdict(&[changed, two.clone()]).1[0], ("seal", 1, 10));
    // The volumes in the wrong order, or one of them twice.
    assert_eq!(verdict(&[two.clone(), one.clone()]).0, Verdict::Broken);
    assert_eq!(verdict(&[one.clone(), two.clone(), two.clone()]), (Verdict::Broken, vec![("log", 3, 0)]));
    assert_eq!(verdict(&[one.clone(), one.clone()]), (Verdict::Broken, vec![("log", 2, 0)]));

    // Neither is such a register opened.
    let mut s = gone_on();
    s.register.set("0001.jsonl", torn);
    match s.reopen() {
        Err(Problem::Broken { at, broken }) => assert_eq!((at.volume, at.line, broken.rule), (1, 13, "tail")),
        other => panic!("{other:?}"),
    }
}

/// What the folder holds of the volume before is not touched, wherever the machine stops.
#[test]
fn beginning_a_next_volume_interrupted_anywhere_can_be_done_again_or_is_whole() {
    let mut cases = 0;
    for loss in LOSSES {
        for in_register in [true, false] {
            for left in 0.. {
                let one = Station::twelve_lines();
                let (mut s, history) = one.moved_elsewhere();
                let target = if in_register { &mut s.register } else { &mut s.seal };
                target.left = Some(left);
                let begin = Begin::after(&history, SECOND);
                let done = s.enrol_with(&begin, Some(history)).is_ok();
                s.register = s.register.after_crash(loss);
                s.seal = s.seal.after_crash(loss);
                s.open = None;
                let now = s.now();
                match open(&mut s.register, &mut s.seal, &now, &mut s.random).unwrap() {
                    Opened::Ready(r) => s.open = Some(*r),
                    Opened::Empty(Some(r)) | Opened::Elsewhere(r) => {
                        assert!(!done, "{loss:?} {in_register} {left}");
                        let begin = Begin::after(&r, SECOND);
                        s.enrol_with(&begin, Some(*r)).unwrap();
                    }
                    Opened::Empty(None) => panic!("{loss:?} {in_register} {left}"),
                }
                assert_eq!(s.volumes()[0], one.volumes()[0]);
                s.approve("set", "mobile-1", "set: mobile-1\n# again\n");
                assert_eq!(verdict(&s.volumes()).0, Verdict::Sound, "{loss:?} {in_register} {left}");
                cases += 1;
                if done {
                    break;
                }
            }
        }
    }
    println!("{cases} crash cases of beginning a next volume");
    assert!(cases > 40, "{cases}");
}

/// The machine that holds the key goes on by itself; the same folder elsewhere, or an older one here, does
/// not.
#[test]
fn only_the_machine_with_the_key_of_the_newest_line_goes_on() {
    let mut s = Station::twelve_lines();
    s.reopen().unwrap();
    let older = s.register.clone();
    s.station(Some(N), "on_air", object([("person", "ada-nowak".into())]));
    s.register = older;
    assert!(matches!(s.reopen(), Err(Problem::CouldNot(why)) if why.contains("does not hold the key")));
}

#[test]
fn two_copies_are_the_same_or_one_is_older_or_they_are_forked() {
    let mut s = Station::twelve_lines();
    s.reopen().unwrap();
    let older = s.open.as_ref().unwrap().lines.clone();
    let snapshot = (s.register.clone(), s.seal.clone());
    let moved = |place: &str| {
        object([("date", "2026-11-25".into()), ("place", place.into()), ("set", "mobile-1".into())])
    };
    s.station(None, "moved", moved("gate"));
    s.station(None, "moved", moved("quay"));
    let newer = s.open.as_ref().unwrap().lines.clone();
    assert_eq!(compare(&newer, &newer), Compared::Same);
    assert_eq!(compare(&newer, &older), Compared::FirstLonger { by: 2 });
    assert_eq!(compare(&older, &newer), Compared::SecondLonger { by: 2 });

    // The machine set back, key and all, and gone on from there: both check, and the copy shows it.
    (s.register, s.seal) = snapshot;
    s.reopen().unwrap();
    s.station(None, "moved", moved("shed"));
    let back = s.open.as_ref().unwrap().lines.clone();
    assert_eq!(verdict(&s.volumes()).0, Verdict::Sound);
    let at = LineNo { volume: 1, line: 12 };
    let Compared::Forked { first, second, first_hash, second_hash } = compare(&newer, &back) else {
        panic!("{:?}", compare(&newer, &back));
    };
    assert_eq!((first, second), (at, at));
    assert_ne!(first_hash, second_hash);
    // Two machines that both went on with a next volume.
    let next = |log| {
        let (mut m, history) = s.moved_elsewhere();
        let begin = Begin::after(&history, log);
        m.enrol_with(&begin, Some(history)).unwrap();
        m.open.unwrap().lines
    };
    let at = LineNo { volume: 2, line: 0 };
    let both = compare(&next(SECOND), &next(THIRD));
    assert!(
        matches!(both, Compared::Forked { first, second, .. } if (first, second) == (at, at)),
        "{both:?}"
    );

    let mut other = Station::new();
    other.enrol_with(&Begin { log: SECOND, ..Begin::first() }, None).unwrap();
    assert_eq!(
        compare(&newer, &other.open.unwrap().lines),
        Compared::Apart { sets: vec![], station: Some("KW2".into()) }
    );
}

#[test]
fn two_registers_that_keep_one_set_are_named() {
    let mut other = Station::new();
    other.enrol_with(&Begin { log: SECOND, ..Begin::first() }, None).unwrap();
    other.texts();
    other.open_permit(N);
    let (first, second) = (Station::twelve_lines().open.unwrap().lines, other.open.unwrap().lines);
    assert_eq!(
        compare(&first, &second),
        Compared::Apart { sets: vec!["mobile-1".into()], station: Some("KW2".into()) }
    );
    assert!(
        airwrit::audit::compare::words(&compare(&first, &second), None).contains("KEEP THE SET mobile-1")
    );
}
