//! Replay of registers: days that were kept by the rules come out clean, and lines that are validly signed, sealed and
//! chained but that the rules would not have let be written are found.

mod forged;

use crate::support::Fixed;
use crate::support::day::{Day, Plan};
use airwrit::audit::{Trust, Verdict, verify};
use airwrit::cli::Outside;
use airwrit::permit::decide::air::Move;
use airwrit::replay::{Class, Finding, Replayed, in_shares, replay, replay_whole, strays};

/// The demo's register, played once.
pub fn demo() -> Vec<u8> {
    static DEMO: std::sync::OnceLock<Vec<u8>> = std::sync::OnceLock::new();
    DEMO.get_or_init(played).clone()
}

fn played() -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let into = folder.path().join("demo");
    let args = ["airwrit", "demo", "--into", into.to_str().unwrap()].map(str::to_owned);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = airwrit::cli::run(
        &args,
        &mut Outside {
            input: &mut &b""[..],
            out: &mut out,
            err: &mut err,
            terminal: false,
            second: &|| 0,
            random: &mut Fixed(1),
            state_folder: None,
            page: airwrit::page::serve,
            aside: airwrit::cli::Aside::default(),
            face: airwrit::cli::Face::default(),
        },
    );
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
    std::fs::read(into.join("register").join("0001.jsonl")).unwrap()
}

/// The bytes verified, as an auditor gets them, and replayed.
pub fn of(bytes: &[u8]) -> Replayed {
    let verified = verify(bytes, None::<&Trust>);
    assert_eq!(verified.report.verdict, Verdict::Unproven, "{:?}", verified.report.said);
    let again = replay(&verified.lines);
    assert_eq!(format!("{:?}", again.state), format!("{:?}", verified.state), "folded the same");
    // What is kept from line to line changes nothing.
    let whole = replay_whole(&verified.lines);
    assert_eq!(again.findings, whole.findings);
    assert_eq!(format!("{:?}", again.holds), format!("{:?}", whole.holds));
    let (strays, compared) = strays(&verified.lines);
    assert!(strays.is_empty(), "{strays:#?}");
    assert!(compared > 0 || again.states.is_empty());
    // Nor does by how many it is judged.
    for shares in [1, 2, 3] {
        let shared = in_shares(&verified.lines, false, shares);
        assert_eq!(shared.findings, again.findings, "{shares} shares");
        let rest = |r: &Replayed| {
            format!(
                "{:?}",
                (
                    &r.holds,
                    &r.against,
                    &r.asked,
                    &r.judged,
                    r.refusals_not_judged,
                    &r.unjudged,
                    &r.states,
                    &r.state
                )
            )
        };
        assert_eq!(rest(&shared), rest(&again), "{shares} shares");
    }
    again
}

pub fn said(f: &Finding) -> String {
    format!("{} {} {}", f.line, f.rule, f.why.join("; "))
}

/// Ready, issued, both on air and off, shut down, handed back, closed.
pub fn whole(d: &mut Day) {
    let n = d.number.clone();
    d.live(&n);
    d.read_gauges(&n);
    for who in ["zaneta", "nikos"] {
        d.own(&n, who);
        d.request(&n, who, Move::OnAir).unwrap();
        d.wait(150);
        d.request(&n, who, Move::In).unwrap();
    }
    d.wait(600);
    for who in ["zaneta", "nikos"] {
        d.report(Some(&n), who, Move::Out);
        d.report(Some(&n), who, Move::OffAir);
    }
    d.wait(60);
    let off = |d: &mut Day, step: &str| {
        let t = airwrit::permit::decide::answer::Typed {
            shutdown: true,
            ..crate::support::day::typed(step, None, "yes")
        };
        d.answer(&n, &t).unwrap();
    };
    off(d, "seen");
    d.request_of_set("stopped").unwrap();
    off(d, "stopped_now");
    d.hand_back(&n, "lukasz", None).unwrap();
    d.close(&n, "eleni").unwrap();
}

/// A later volume by itself: that nothing of a permit is judged, whose texts stand before it, is said once; and no reading is
/// asked why nothing followed, where nobody has its limits.
#[test]
fn a_volume_without_its_texts_asks_for_nothing_that_rests_on_them() {
    let mut d = Day::enrolled(Plan::small());
    d.next_volume("KW2", "ffeeddccbbaa99887766554433221100");
    let job = d.plan.job.clone();
    let n = d.open(&job);
    d.live(&n);
    d.report(Some(&n), "zaneta", Move::OnAir);
    d.read_gauges(&n);
    d.report(Some(&n), "zaneta", Move::OffAir);
    let volumes = d.station.volumes();
    let judged = |volumes: &[&[u8]]| {
        let v = airwrit::audit::verify_volumes(volumes, Some(&crate::support::day::trust()), &[]);
        replay(&v.lines).findings
    };
    let found = judged(&[&volumes[1]]);
    let of = |class: Class| found.iter().filter(|f| f.class == class).map(|f| &f.why).collect::<Vec<_>>();
    assert_eq!((of(Class::Contradicts), of(Class::Gap)), (vec![], vec![]));
    let said = found.iter().flat_map(|f| &f.why).filter(|w| w.contains("none of the lines of")).count();
    assert_eq!(said, 1, "{found:#?}");
    assert!(!found.iter().flat_map(|f| &f.why).any(|w| w.starts_with("no form")), "{found:#?}");
    // With the volume before, all of it is judged.
    assert!(judged(&[&volumes[0], &volumes[1]]).iter().all(|f| f.class != Class::NotJudged));
}

#[test]
fn the_demo_replays_clean() {
    let again = of(&demo());
    let found: Vec<String> = again.findings.iter().map(said).collect();
    assert_eq!(found, Vec::<String>::new());
    // The day holds five times, and each is cleared: `examples/` answers so.
    let held: Vec<(&str, bool)> =
        again.holds.iter().map(|h| (h.step.as_str(), h.cleared.is_some())).collect();
    let steps = ["oil_level", "rotation", "reserve_pressure", "nobody_on_air", "gauges_zero"];
    assert_eq!(held, steps.map(|s| (s, true)));
    let how: Vec<&str> =
        again.holds.iter().filter_map(|h| h.cleared.as_ref()).map(|c| c.how.as_str()).collect();
    assert_eq!(how, ["refilled", "changed", "refilled", "waited", "waited"]);
    assert_eq!(again.asked[&("pre-start".to_owned(), "oil_level".to_owned())].held, 1);
    // Of four refusals three can be judged; the other one is not counted as if it had been.
    assert!(again.judged["answer"] > 250 && again.judged["denied"] == 3);
    assert_eq!((again.refusals_not_judged, again.unjudged.len()), (1, 1));
}

#[test]
fn two_days_on_a_set_replay_clean_and_a_breach_is_a_report() {
    let mut d = Day::opened(Plan::small());
    whole(&mut d);
    d.wait(3600);
    let job = d.plan.job.clone();
    let n = d.open(&job);
    d.carry(&n).unwrap();
    d.say(&n, "ready", None, "yes").unwrap();
    d.request_of_set("started").unwrap();
    // On air on a draft: it has happened, it is kept, and it says what it breaks.
    d.report(Some(&n), "zaneta", Move::OnAir);
    let again = of(&d.bytes());
    let classes: Vec<Class> = again.findings.iter().map(|f| f.class).collect();
    let found: Vec<String> = again.findings.iter().map(said).collect();
    assert_eq!(classes, [Class::Forbidden, Class::Forbidden, Class::Forbidden], "{found:#?}");
    // The two forms are small: they leave out what every form must ask.
    assert_eq!(again.findings.iter().map(|f| f.rule).collect::<Vec<_>>(), ["form", "form", "forbidden"]);
    assert!(found[2].contains("is draft, not live"), "{found:#?}");
    assert_eq!(again.judged["carried"], 1);
}
