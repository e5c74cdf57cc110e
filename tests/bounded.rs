//! Where only a verdict is wanted, little is kept of permits that are over: no line may be judged otherwise for it. Lines
//! with a good seal and a good signature, written past every rule, after permits that ended in each way.

use crate::support::day::{Day, Plan, trust, typed};
use crate::support::{key_of, same_where_little_is_kept};
use airwrit::audit::{Verdict, verify_volumes};
use airwrit::permit::decide::answer::{self, Typed};
use airwrit::permit::decide::sign::Limits;
use airwrit::record::json::{Json, object};
use airwrit::record::line::{self, ActDraft, Draft, Line, NONE, Slot, What};
use airwrit::trust::{Role, SecretKey};
use airwrit::view::StateWord;
use airwrit::world::Storage;
use std::collections::BTreeMap;

const WAITED: &str = "      - step: waited
        ask: Run for a while
        timed: 5 min
        good_for: place
";

/// Everything but what is each wearer's own, what can be carried if asked; then declared.
fn declared(day: &mut Day, n: &str, carry: bool) {
    let carried = if carry { day.candidates(n) } else { Vec::new() };
    if carry {
        day.carry(n).unwrap();
        assert!(carried.contains(&"waited".to_owned()), "{carried:?}");
    }
    let open = |key: &str| !carried.iter().any(|c| c == key);
    if open("ready") {
        day.say(n, "ready", None, "yes").unwrap();
    }
    if !day.ask(|k| answer::running(k, &k.state.permits[n].set.id)) {
        day.request_of_set("started").unwrap();
    }
    if open("siting") {
        day.say(n, "siting", None, "40").unwrap();
    }
    for o in ["red", "white", "green"] {
        if open(&format!("outlet_ok/{o}")) {
            day.say(n, "outlet_ok", Some(o), "yes").unwrap();
        }
    }
    if open("waited") {
        day.say(n, "waited", None, "begun").unwrap();
        day.wait(301);
        day.say(n, "waited", None, "done").unwrap();
    }
    day.derived(n, false);
    day.wait(30);
    day.declare(n, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
}

/// Permits closed, cancelled, refused, handed back, lapsed; and one that carries answers and is live.
fn station() -> (Day, Vec<String>) {
    let plan = Plan::small();
    let work = plan.work.replace("      - step: own\n", &format!("{WAITED}      - step: own\n"));
    let mut day = Day::enrolled(Plan { work, ..plan });
    let job = day.plan.job.clone();
    let mut all = Vec::new();
    for how in ["closed", "cancelled", "refused", "handed back", "lapsed", "live"] {
        day.wait(60);
        let n = day.open(&job);
        all.push(n.clone());
        declared(&mut day, &n, how == "cancelled" || how == "live");
        if how == "refused" {
            day.refuse(&n, "eleni").unwrap();
            continue;
        }
        day.wait(30);
        day.countersign(&n, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
        // Where it was carried it is not answered.
        let _ = day.say(&n, "own", Some("zaneta"), "yes");
        day.on_permit(&n, "note", &[("words", "all well")]);
        if how == "cancelled" {
            day.cancel(&n, "eleni").unwrap();
        }
        if how == "closed" || how == "handed back" {
            let shutdown = |step| Typed { shutdown: true, ..typed(step, None, "yes") };
            day.answer(&n, &shutdown("seen")).unwrap();
            day.request_of_set("stopped").unwrap();
            day.answer(&n, &shutdown("stopped_now")).unwrap();
            day.hand_back(&n, "lukasz", None).unwrap();
        }
        if how == "closed" {
            day.close(&n, "eleni").unwrap();
        }
        if how == "lapsed" {
            day.wait(14 * 3600);
        }
    }
    (day, all)
}

struct Forger {
    day: Day,
    bytes: Vec<u8>,
    seal: SecretKey,
    came: BTreeMap<(&'static str, &'static str), usize>,
}

impl Forger {
    fn new(day: Day) -> Forger {
        let seed = day.station.seal.read("key").unwrap().unwrap();
        let seed = data_encoding::HEXLOWER.decode(seed.strip_suffix(b"\n").unwrap()).unwrap();
        let seal = SecretKey::from_seed(seed.as_slice().try_into().unwrap());
        Forger { bytes: day.bytes(), day, seal, came: BTreeMap::new() }
    }

    /// The register with one line more, whatever the rules say of it.
    fn with(&mut self, draft: &Draft) {
        let chain = self.day.station.chain();
        let slot = Slot {
            log: chain.origin.log.clone(),
            seq: chain.seq + 1,
            prev: chain.head.clone(),
            time: chain.time.clone(),
            zone: "+01:00".into(),
            next: airwrit::trust::Signer::public(&key_of("whatever comes next")).to_hex(),
            roster: chain.origin.roster.hash().to_owned(),
        };
        let raw = line::make(draft, &slot, &self.seal).unwrap();
        Line::read(&raw).unwrap_or_else(|b| panic!("{}: {}", draft.kind, b.why));
        let bytes = [self.bytes.as_slice(), &raw, b"\n"].concat();
        let trust = trust();
        let report = verify_volumes(&[&bytes], Some(&trust), &[]).report;
        let rule = report.said.first().map_or("sound", |s| s.rule);
        *self.came.entry((draft.kind, rule)).or_default() += 1;
        same_where_little_is_kept(&report, &[&bytes], Some(&trust), &[]);
    }

    fn station(&mut self, number: Option<&str>, kind: &'static str, data: Json) {
        let permit = number.map(|n| (n.to_owned(), self.day.station.chain().permit_head(n)));
        self.with(&Draft { kind, permit, by: None, what: What::Data(data) });
    }

    fn act(&mut self, number: &str, kind: &'static str, by: &str, role: Role, members: &[(&str, &str)]) {
        let chain = self.day.station.chain();
        let said = [("said", "I say so."), ("where", "station")];
        let data = members.iter().chain(&said).map(|(k, v)| ((*k).to_owned(), Json::from(*v))).collect();
        let act = ActDraft {
            kind,
            log: chain.origin.log.clone(),
            permit: Some(number.to_owned()),
            shown: chain.permit_head(number),
            by: by.into(),
            role,
            time: chain.time.clone(),
            data: airwrit::record::json::sorted(data),
        };
        let what = act.sign(&key_of(by)).unwrap();
        let permit = Some((number.to_owned(), act.shown));
        self.with(&Draft { kind, permit, by: None, what });
    }
}

#[test]
fn lines_after_permits_that_are_over_are_judged_alike() {
    let (mut day, all) = station();
    let lives: Vec<StateWord> = all.iter().map(|n| day.life(n)).collect();
    use StateWord::{Cancelled, Closed, HandedBack, Lapsed, Live, Refused};
    assert_eq!(lives, [Closed, Cancelled, Refused, HandedBack, Lapsed, Live]);
    // Others stand at this one; nothing is answered on it yet.
    let job = day.plan.job.replace("attendant: oksana", "attendant: soren");
    let draft = day.open(&job.replace("entry_watch: marit", "entry_watch: jiri"));
    assert_eq!(day.verify().report.verdict, Verdict::Sound);
    let lines: Vec<Line> = day.lines().to_vec();
    let opened = lines.iter().rfind(|l| l.kind.name == "open").unwrap().data.clone();
    let answers: Vec<&Line> = lines.iter().filter(|l| l.kind.name == "answer").collect();
    let old = lines[2].hash.clone();
    let live = all.last().unwrap().clone();
    let declared = |n: &str| {
        let line = lines.iter().rfind(|l| l.kind.name == "declare" && l.permit.as_deref() == Some(n));
        line.map_or_else(|| NONE.to_owned(), |l| l.hash.to_string())
    };
    let handed = |n: &str| {
        let line = lines.iter().rfind(|l| l.kind.name == "hand_back" && l.permit.as_deref() == Some(n));
        line.map_or_else(|| NONE.to_owned(), |l| l.hash.to_string())
    };
    let set = day.set_id();
    let mut f = Forger::new(day);
    for n in all.iter().map(String::as_str).chain(["KW2-261125-77"]) {
        for target in [old.as_str(), lines[lines.len() - 1].hash.as_str(), &"ab".repeat(32)] {
            f.station(Some(n), "note", object([("target", target.into()), ("words", "as meant".into())]));
        }
        f.station(Some(n), "on_air", object([("person", "zaneta".into())]));
        f.station(Some(n), "call_out", object([]));
        f.station(
            Some(n),
            "reading",
            object([("unit", "bar".into()), ("value", "6".into()), ("what", "supply".into())]),
        );
        f.station(Some(n), "job", object([("job", object([("what", "other".into())]))]));
        f.station(Some(n), "answer", answers[0].data.clone().with("again", "other"));
        f.act(n, "declare", "lukasz", Role::Operator, &[]);
        f.act(n, "close", "eleni", Role::Supervisor, &[("target", &handed(n))]);
        f.act(n, "close", "eleni", Role::Supervisor, &[("target", NONE)]);
        f.act(n, "cancel", "eleni", Role::Supervisor, &[("reason", "weather")]);
        f.act(n, "refuse", "eleni", Role::Supervisor, &[("reason", "no"), ("target", &declared(n))]);
        f.act(n, "hand_back", "lukasz", Role::Operator, &[("left_running", n)]);
        f.act(&live, "hand_back", "lukasz", Role::Operator, &[("left_running", n)]);
        let next = format!("{}98", &live[..live.len() - 2]);
        let (number, data) = (next.clone(), opened.clone().with("follows", n));
        f.with(&Draft {
            kind: "open",
            permit: Some((number, NONE.into())),
            by: None,
            what: What::Data(data),
        });
        f.with(&Draft {
            kind: "open",
            permit: Some((n.to_owned(), NONE.into())),
            by: None,
            what: What::Data(opened.clone()),
        });
    }
    // Every answer that was ever given, carried by the fresh permit; and two of one wait.
    let carried = |of: &[&Line]| {
        let answers = of.iter().map(|l| Json::from(l.hash.as_str())).collect();
        object([("answers", Json::Arr(answers)), ("form", of[0].data.text("form").unwrap().into())])
    };
    for a in &answers {
        f.station(Some(&draft), "carried", carried(&[a]));
    }
    let waits: Vec<&Line> =
        answers.iter().filter(|a| a.data.text("step") == Some("waited")).copied().collect();
    for both in waits.windows(2) {
        f.station(Some(&draft), "carried", carried(both));
    }
    for hash in [old.as_str(), &"ab".repeat(32)] {
        let data =
            answers[0].data.clone().with("rests_on", Json::Arr(vec![hash.into()])).with("again", "other");
        f.station(Some(&live), "answer", data);
        f.station(
            None,
            "stopped",
            object([("date", "2026-11-25".into()), ("set", set.as_str().into()), ("target", hash.into())]),
        );
    }
    let came = |kind, rule| f.came.get(&(kind, rule)).is_some_and(|n| *n > 0);
    for (kind, rule) in [
        ("carried", "sound"),
        ("carried", "citation"),
        ("answer", "state"),
        ("answer", "citation"),
        ("close", "sound"),
        ("close", "target"),
        ("open", "sound"),
        ("open", "number"),
        ("open", "state"),
        ("hand_back", "state"),
        ("note", "sound"),
        ("note", "target"),
        ("stopped", "sound"),
    ] {
        assert!(came(kind, rule), "no `{kind}` was {rule}: {:?}", f.came);
    }
}
