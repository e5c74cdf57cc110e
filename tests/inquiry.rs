//! What an inquiry asks afterwards, answered from the record alone: what the faces show of the demo's register, or its
//! lines. Where a figure is shown, it is worked out here once more from the lines.

use crate::support::shell::{PASSPHRASE, Shell, shipped};
use airwrit::time::seconds;
use serde_json::Value;

const PERMIT: &str = "KM3-261125-01";

/// The demo's register: its lines, and its permit as it stands at the end.
struct Record {
    s: Shell,
    lines: Vec<Value>,
    view: Value,
}

fn lines(s: &Shell, register: &str) -> Vec<Value> {
    let text = String::from_utf8(s.read(&format!("{register}/0001.jsonl"))).unwrap();
    text.lines().map(|l| serde_json::from_str::<Value>(l).unwrap()["body"].clone()).collect()
}

fn list<'v>(v: &'v Value, member: &str) -> &'v [Value] {
    v[member].as_array().unwrap()
}

fn text<'v>(v: &'v Value, member: &str) -> &'v str {
    v[member].as_str().unwrap()
}

/// What a line says: of one that is signed, in its act.
fn data(line: &Value) -> &Value {
    if line["act"].is_object() { &line["act"]["data"] } else { &line["data"] }
}

fn kind(line: &Value) -> &str {
    if line["act"].is_object() { text(&line["act"], "kind") } else { text(line, "kind") }
}

impl Record {
    fn of_the_demo() -> Record {
        let (mut s, _) = Shell::demo();
        let (register, trust) = (s.at("demo/register"), s.at("demo/trust.yaml"));
        // Nothing of what follows is worth anything else.
        s.bare(&["verify", &register, "--trust", &trust], "").code(0).says("sound");
        s.second.set(seconds("2026-11-25T14:01:00Z"));
        let ran = s.bare(&["show", PERMIT, "--json", "--register", &register], "").code(0);
        Record { lines: lines(&s, "demo/register"), view: serde_json::from_str(&ran.out).unwrap(), s }
    }

    /// Lines of a kind.
    fn kind(&self, wanted: &str) -> Vec<&Value> {
        self.lines.iter().filter(|l| kind(l) == wanted).collect()
    }

    fn day(&self) -> impl Iterator<Item = (&str, &str)> {
        list(&self.view, "day").iter().map(|d| (text(d, "time"), text(d, "words")))
    }

    /// The last of the day before this minute that begins or goes on so, with its time.
    fn last_before(&self, minute: &str, says: &str) -> Option<(&str, &str)> {
        self.day().filter(|(t, w)| *t < minute && w.contains(says)).last()
    }

    fn page_one(&self, label: &str) -> &str {
        let row = list(&self.view, "page_one").iter().find(|r| r["label"] == label);
        text(row.unwrap_or_else(|| panic!("no {label}")), "value")
    }

    fn step(&self, id: &str) -> &Value {
        let mut steps = list(&self.view, "stages").iter().flat_map(|s| list(s, "steps"));
        steps.find(|s| s["step"] == id).unwrap()
    }
}

fn shown(s: &mut Shell, permit: &str) -> Value {
    let ran = s.run(&["show", permit, "--json"], "").code(0);
    serde_json::from_str(&ran.out).unwrap()
}

/// When did it really happen? By the signer's clock and by the station's.
#[test]
fn the_time_of_an_act_by_both_clocks() {
    let (mut s, n) = Shell::declared();
    let (out, key, to) = (s.at("out.jsonl"), s.at("eleni.pem"), s.at("the.act"));
    s.run(&["excerpt", &n, "--to", &out], "").code(0);
    let signed = s.second.get();
    let args = ["sign", &out, "--as", "eleni", "--key", &key, "--to", &to, "--unproven", "countersign"];
    s.bare(&args, PASSPHRASE).code(0);
    s.wait(11 * 60);
    let taken = s.second.get();
    s.run(&["take-in", &to], "").code(0);
    let all = lines(&s, "register");
    let line = all.iter().find(|l| kind(l) == "countersign").unwrap();
    let (by_signer, by_station) = (seconds(text(&line["act"], "time")), seconds(text(line, "time")));
    assert!((signed..signed + 120).contains(&by_signer), "{by_signer} {signed}");
    assert!((taken..taken + 120).contains(&by_station), "{by_station} {taken}");
    let view = shown(&mut s, &n);
    let off = list(&view, "sign_offs").iter().find(|o| o["what"] == "Countersigned").unwrap();
    let at = |second: i64| airwrit::time::clock(&airwrit::time::utc(second), "+01:00");
    assert_eq!(off["role"], format!("supervisor, on their own machine at {}", at(by_signer)));
    assert!(text(off, "time").contains(&at(by_station)), "{off}");
    assert_ne!(at(by_signer), at(by_station));
}

/// Who told the recorder, who the recorder was, and when it happened: of a move, of an alarm, of an answer.
#[test]
fn who_told_what_was_told_later() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta", "--by", "oksana"], "").code(0);
    s.run(&["in", "zaneta", "--by", "oksana"], "").code(0);
    s.wait(45 * 60);
    let now = s.second.get();
    let site = |second: i64| airwrit::time::clock(&airwrit::time::utc(second), "+01:00");
    let (called, off) = (site(now - 30 * 60), site(now - 24 * 60));
    let told = ["--told-by", "Marit, from the card", "--by", "oksana"];
    s.run(&[&["call-out", &n, "--at", &called][..], &told].concat(), "").code(0);
    s.run(&[&["off", "zaneta", "--at", &off][..], &told].concat(), "").code(0);
    let view = shown(&mut s, &n);
    let day = list(&view, "day");
    let find = |says: &str| day.iter().find(|d| text(d, "words").starts_with(says)).unwrap();
    let call = find("EVERYONE CALLED OUT");
    assert!(
        text(call, "words").contains(&format!("(at {called}, told by Marit, from the card), entered late")),
        "{call}"
    );
    assert_eq!(call["by"], "Оксана Журавель");
    // The minute that was told counts, not the minute at which it was typed.
    let out = find("Żaneta Brzęczyk off air");
    assert!(
        text(out, "words").ends_with(&format!(
            "(at {off}, told by Marit, from the card), entered late, 360 s after the signal (line {})",
            call["line"]
        )),
        "{out}"
    );
    assert_eq!(out["by"], "Оксана Журавель");
    assert!(text(out, "time") > off.as_str());

    let mut s = Shell::station();
    let n = s.open();
    let late = ["answer", &n, "job_read", "yes", "--at", "05:20", "--told-by", "ines, from the card"];
    s.run(&[&late[..], &["--words", "read at the gangway"]].concat(), "").code(1);
    let view = shown(&mut s, &n);
    let answer = &list(&view, "stages")[0]["steps"][0]["answers"][0];
    assert_eq!(answer["told"], "(at 05:20, told by ines, from the card), entered late");
    assert_eq!(answer["words"], "read at the gangway");
    s.run(&["show", &n], "")
        .code(0)
        .says("read at the gangway (at 05:20, told by ines, from the card), entered late");
}

/// What did the supervisor look at in person before issuing it?
#[test]
fn what_the_supervisor_saw() {
    let r = Record::of_the_demo();
    let issued = r.kind("countersign");
    let seen = list(data(issued[0]), "seen");
    assert_eq!((issued.len(), seen.len()), (1, 2));
    let off = list(&r.view, "sign_offs").iter().find(|o| o["what"] == "Countersigned").unwrap();
    for one in seen {
        let read = format!("{} {}.", text(one, "value"), text(one, "unit"));
        let words = text(off, "said")
            .lines()
            .any(|l| l.starts_with("I have read again at the gauge: ") && l.ends_with(&read));
        assert!(words, "{one} is not in the words: {off}");
        // The operator's own reading of it stands in the record, before.
        let own = r.kind("answer").into_iter().find(|l| {
            data(l)["step"] == one["step"]
                && data(l)["item"] == one["item"]
                && l["seq"].as_u64() < issued[0]["seq"].as_u64()
        });
        assert_eq!(data(own.unwrap())["value"], one["value"]);
    }
}

/// Who changed the set, the site or the checklist, when, and what?
#[test]
fn who_changed_which_text() {
    let r = Record::of_the_demo();
    let mut s = r.s;
    let register = s.at("demo/register");
    let mut says = |id: &str, what: &str| {
        s.bare(&["show", id, "--register", &register], "").code(0).says(what);
    };
    // The zone of the site is known from the line after it on.
    says("kormoran", "site file in force from 25 Nov 2026 05:02 (+00:00), approved by Jiří Křepelka");
    says("heron", "set file in force from 25 Nov 2026 06:03 (+01:00), approved by Jiří Křepelka");
    says("pre-start", "checklist file in force from 25 Nov 2026 06:04 (+01:00), approved by Jiří Křepelka");

    let mut s = Shell::station();
    for (file, id, old, new, told) in [
        (
            "examples/site.yaml",
            "kormoran",
            "most_hours: 11 h",
            "most_hours: 9 h",
            "most_hours 9 h instead of 11 h",
        ),
        (
            "examples/set.yaml",
            "heron",
            "reserve_minimum: 194 bar",
            "reserve_minimum: 201 bar",
            "reserve_minimum 201 bar instead of 194 bar",
        ),
        ("checklists/shutdown.yaml", "shutdown", "revision: 1", "revision: 2", "revision 2 instead of 1"),
    ] {
        let whole = std::fs::read_to_string(shipped(file)).unwrap();
        let changed = s.write("changed.yaml", whole.replacen(old, new, 1));
        s.wait(3600);
        s.signed(&["approve", &changed], "tuula").code(0);
        let at = airwrit::time::for_people(&airwrit::time::utc(s.second.get()), "+01:00");
        let ran = s.run(&["show", id], "").code(0);
        let texts: Vec<&str> = ran.out.lines().filter(|l| l.contains(" file in force from ")).collect();
        assert_eq!(texts.len(), 2, "{texts:?}");
        assert!(texts[0].ends_with(": the first one"), "{texts:?}");
        assert!(texts[1].ends_with(told) && texts[1].contains("approved by Tuula Särkikoski"), "{texts:?}");
        // To the hour and the day; the minute is the station's.
        assert!(texts[1].contains(&at[..14]), "{texts:?} {at}");
    }
    s.run(&["show", "nowhere"], "").code(1);
}

/// Which hose fed whom, from which outlet; and who walked along it.
#[test]
fn which_hose_fed_whom() {
    let r = Record::of_the_demo();
    let of = |person: &str| list(&r.view, "wearers").iter().find(|w| w["person"] == person).unwrap();
    for (person, hose, marks, outlet) in [
        ("zaneta", "Blue 1", "KB-40-0117, 40 m, 2 sections", "Red outlet"),
        ("nikos", "Grey 7", "KG-58-0033, 58 m, 3 sections", "White outlet"),
    ] {
        let w = of(person);
        assert_eq!((text(w, "hose"), text(w, "hose_marks"), text(w, "outlet")), (hose, marks, outlet));
        // They went on air from that outlet and no other.
        let on: Vec<&Value> = r.kind("on_air").into_iter().filter(|l| data(l)["person"] == person).collect();
        assert_eq!(on.len(), 3);
        assert!(on.iter().all(|l| outlet.to_lowercase().starts_with(text(data(l), "outlet"))), "{on:?}");
        let mut traced = r.kind("answer");
        traced.retain(|l| data(l)["step"] == "hose_traced" && data(l)["item"] == person);
        assert_eq!(traced.len(), 1);
        assert!(data(traced[0])["value"] == "yes" && traced[0]["by"] == "lukasz", "{traced:?}");
    }
    assert!(
        text(r.step("hose_traced"), "ask")
            .contains("Blue 1: walk it by hand from outlet red to the mask of Żaneta")
    );
}

/// How much stood in the reserve at the change-over, and when the last was out? How long did each take?
#[test]
fn from_the_change_over_until_the_last_was_out() {
    let r = Record::of_the_demo();
    let called = r.kind("call_out");
    assert_eq!(called.len(), 1);
    let (line, at) = (called[0]["seq"].as_u64().unwrap(), seconds(text(called[0], "time")));
    let by_day = |says: &str| r.day().position(|(_, w)| w.starts_with(says)).unwrap();
    let (signal, event) = (by_day("EVERYONE CALLED OUT: change-over"), by_day("Event: change over"));
    assert_eq!(event, signal + 1);
    let day: Vec<(&str, &str)> = r.day().collect();
    let reserve = |w: &(&str, &str)| w.1.starts_with("Read: reserve");
    let before = day[..signal].iter().rfind(|w| reserve(w)).unwrap();
    let after = day[event..].iter().find(|w| reserve(w)).unwrap();
    assert_eq!((before.1, after.1), ("Read: reserve 207 bar", "Read: reserve 203 bar"));
    assert_eq!((day[signal].0, after.0), ("08:53", "08:53"));

    // Who was on air, and how long each took, from the lines alone.
    let mut took = Vec::new();
    for l in r.lines.iter().filter(|l| l["seq"].as_u64().unwrap() > line) {
        if kind(l) == "on_air" {
            break;
        }
        if ["out", "off_air"].contains(&kind(l)) {
            took.push((
                text(data(l), "person").to_owned(),
                kind(l).to_owned(),
                seconds(text(l, "time")) - at,
            ));
        }
    }
    assert_eq!(took.len(), 4);
    for (person, kind, s) in &took {
        let name = if person == "nikos" { "Νίκος Θαλασσινός" } else { "Żaneta Brzęczyk" };
        let what = if kind == "out" { "out, still on air" } else { "off air" };
        let words = format!("{name} {what}, {s} s after the signal (line {line})");
        assert!(day.iter().any(|(_, w)| *w == words), "{words}");
    }
    let last = took.last().unwrap();
    assert_eq!((last.0.as_str(), last.1.as_str(), last.2), ("zaneta", "off_air", 395));
    // Whoever came out without a signal is told without one; so is whoever came out before it.
    assert_eq!(day.iter().filter(|(_, w)| w.contains("after the signal")).count(), 4);
    assert_eq!(day.iter().filter(|(_, w)| w.ends_with(" off air")).count(), 4);
}

/// In which language were they briefed, who interpreted, and in which were the steps shown?
#[test]
fn in_which_language() {
    let r = Record::of_the_demo();
    let briefed = list(r.step("briefing_language"), "answers");
    assert_eq!(
        text(&briefed[0], "value"),
        "Polish; Oksana interpreted into Greek for Νίκος, who said it back"
    );
    assert_eq!(r.view["language"], "en");
    let answers = r.kind("answer");
    assert!(answers.len() > 200 && answers.iter().all(|l| data(l)["shown"] == "en"));
}

/// Where did the set stand, on what, and since when?
#[test]
fn where_the_set_stood() {
    let mut r = Record::of_the_demo();
    assert_eq!(text(&r.view, "place"), "Quay 3, land side");
    assert_eq!(r.last_before("11:00", "Set moved"), Some(("10:33", "Set moved to quay3")));
    // Sited before it was used, and anew after it was nudged.
    let sited = list(r.step("siting_exhaust"), "answers");
    let at: Vec<&str> = sited.iter().map(|a| text(a, "time")).collect();
    assert!(at.len() == 2 && at[0] < "06:32" && at[1] > "10:33" && at[1] < "11:03", "{at:?}");
    let register = r.s.at("demo/register");
    r.s.bare(&["show", "heron", "--register", &register], "")
        .code(0)
        .says("last moved: 25 Nov 2026 10:33 (+01:00) Quay 3, land side");
}

/// What was asked and refused, when, and with which reasons?
#[test]
fn what_was_refused() {
    let r = Record::of_the_demo();
    let denied = r.kind("denied");
    let told: Vec<&Value> = list(&r.view, "day")
        .iter()
        .filter(|d| text(d, "words").starts_with("Refused by the program"))
        .collect();
    assert_eq!((denied.len(), told.len()), (4, 4));
    for (line, told) in denied.iter().zip(&told) {
        assert_eq!(line["seq"], told["line"]);
        let why: Vec<&str> = list(data(line), "why").iter().map(|w| w.as_str().unwrap()).collect();
        assert!(!why.is_empty());
        // The day tells the first six reasons and how many more the line holds.
        let mut told_why = why[..why.len().min(6)].join("; ");
        if why.len() > 6 {
            told_why += &format!("; and {} more", why.len() - 6);
        }
        assert_eq!(
            text(told, "words"),
            format!("Refused by the program: {}: {told_why}", text(data(line), "request"))
        );
    }
    let requests: Vec<&str> = denied.iter().map(|l| text(data(l), "request")).collect();
    assert_eq!(requests, ["on air: zaneta", "reinstate", "stop the set", "begin the shutdown"]);
    assert!(text(told[2], "words").contains("nikos is on air from it (in)"));
}

/// Who held the permit at a minute? Whoever declared it, until another took it over; being handed it is not enough.
#[test]
fn who_held_it() {
    let r = Record::of_the_demo();
    let held = |minute: &str| {
        let takes = |o: &&Value| ["Declared", "Taken over"].contains(&text(o, "what"));
        let before = |o: &&Value| &text(o, "time")["25 Nov 2026 ".len()..][..5] <= minute;
        let all = list(&r.view, "sign_offs").iter();
        all.filter(takes).rfind(before).map(|o| text(o, "name"))
    };
    assert_eq!(held("07:46"), None);
    assert_eq!(held("08:53"), Some("Łukasz Gżegżółka"));
    // Handed over at 14:09, not yet taken.
    assert_eq!(held("14:10"), Some("Łukasz Gżegżółka"));
    assert_eq!(held("14:11"), Some("Inês Valongueiro"));
    assert_eq!(held("14:58"), Some("Inês Valongueiro"));
    assert_eq!(r.page_one("Holder, answers for this air"), "Inês Valongueiro");
    // Before, page one named the other.
    let then = Shell::demo_after(339);
    let row = list(&then, "page_one").iter().find(|s| s["label"] == "Holder, answers for this air").unwrap();
    assert_eq!(row["value"], "Łukasz Gżegżółka");
    assert!(r.lines[339]["act"]["data"]["part"] == "outgoing", "{}", r.lines[339]);
}

/// Who stood at the set at a minute?
#[test]
fn who_was_attendant() {
    let r = Record::of_the_demo();
    let relieved = r.last_before("24:00", "stands in for").unwrap();
    assert_eq!(relieved, ("10:10", "Rasa Vėtrungė stands in for Оксана Журавель as attendant"));
    assert_eq!(r.day().filter(|(_, w)| w.contains("stands in for")).count(), 1);
    // Whoever is named there last stands there from then on, whoever is named as relieved stood there until then.
    assert_eq!(r.page_one("Attendant at the set"), "Rasa Vėtrungė");
    assert_eq!(r.page_one("Entry watch"), "Marit Sjøgård");
    let opened = r.kind("open");
    assert_eq!(data(opened[0])["job"]["attendant"], "oksana");
}

/// What was not found today but carried, from where, and how old was it?
#[test]
fn what_was_carried() {
    let r = Record::of_the_demo();
    // The air test: by its line, five days old when the permit was issued.
    let hung = Shell::demo_after(181);
    let row = list(&hung, "page_one").iter().find(|s| s["label"] == "Air tested on").unwrap();
    assert_eq!(row["value"], "2026-11-20");
    assert_eq!(row["note"], "by Maëlle Grandclère; carried from the register");
    let answer = r.kind("answer").into_iter().find(|l| data(l)["step"] == "carried_test").unwrap();
    let test = r.kind("air_test")[0];
    let head = |l: &Value| text(&r.lines[l["seq"].as_u64().unwrap() as usize + 1], "prev").to_owned();
    assert_eq!(data(answer)["rests_on"][0], head(test));
    assert_eq!(
        (text(data(test), "date"), text(answer, "time").split_once('T').unwrap().0),
        ("2026-11-20", "2026-11-25")
    );

    // Answers of this permit on the next one of the set.
    let mut s = r.s;
    let (register, seal) = (s.at("demo/register"), s.at("demo/seal"));
    let at = ["--register", register.as_str(), "--seal", seal.as_str()];
    let job = shipped("examples/job.yaml");
    let n = s.bare(&[&at[..], &["open", "--job", &job]].concat(), "").code(0).out.trim().to_owned();
    s.bare(&[&at[..], &["carry", &n, "--by", "lukasz"]].concat(), "").code(0);
    let ran = s.bare(&[&at[..], &["show", &n, "--json"]].concat(), "").code(0);
    let view: Value = serde_json::from_str(&ran.out).unwrap();
    let steps = list(&view, "stages").iter().flat_map(|s| list(s, "steps"));
    let carried: Vec<&Value> =
        steps.flat_map(|s| list(s, "answers")).filter(|a| a["carried"] != "").collect();
    assert!(carried.len() >= 4, "{}", carried.len());
    for a in &carried {
        let words = text(a, "carried");
        let (when, rest) = words.strip_prefix("carried at ").unwrap().split_once(" from ").unwrap();
        let given = rest.strip_prefix("KM3-261125-01, given 25 Nov 2026 ").unwrap();
        // How old: both its ends are told, and the one comes before the other.
        assert!(given[..5] < *when && given.starts_with(text(a, "time")), "{words}");
    }
    let last = lines(&s, "demo/register");
    let cited: usize =
        last.iter().filter(|l| kind(l) == "carried").map(|l| list(data(l), "answers").len()).sum();
    assert!(cited >= carried.len(), "{cited}");
}

/// Which copies hung where, from when until when?
#[test]
fn which_copies_hung_where() {
    let r = Record::of_the_demo();
    let copies: Vec<(&str, &str)> = r.day().filter(|(_, w)| w.starts_with("Copy ")).collect();
    let place = "at the manhole of tank 4 port";
    for (number, hung, down) in [("1", "07:50", "09:00"), ("2", "09:54", "11:04"), ("3", "11:05", "14:12")] {
        for (time, what) in [(hung, "hangs"), (down, "taken down")] {
            let words = format!("Copy {number} {what}: {place}");
            assert!(copies.contains(&(time, words.as_str())), "{time} {words}: {copies:?}");
        }
    }
    assert_eq!(copies.len(), r.kind("copy").len());
    // No two at once: the one before came down before the next was hung.
    let downs = copies.iter().map(|(_, w)| w.contains("taken down"));
    assert!(downs.eq([false, true, false, true, false, true]), "{copies:?}");
}
