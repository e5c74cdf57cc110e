//! What is given to speak for a register is judged itself, and everything that was given is named.

use crate::support::day::{self, Day, Plan};
use crate::support::shell::Shell;
use airwrit::record::aside::Entry;
use airwrit::record::excerpt;
use airwrit::record::json::{Json, object};
use airwrit::record::line::hash;

const OTHER: &str = "ffeeddccbbaa99887766554433221100";
/// What `audit` exits with of these days, kept as they are: their small forms lack subjects that the program wants.
const SMALL: i32 = 1;

/// A folder with one volume.
fn folder(s: &Shell, name: &str, bytes: impl AsRef<[u8]>) -> String {
    std::fs::create_dir(s.path(name)).unwrap();
    s.write(&format!("{name}/0001.jsonl"), bytes);
    s.at(name)
}

/// Whom an auditor trusts who knows the custodians of these days alone, or of the demo too.
fn trust(s: &Shell, name: &str, demo: bool) -> String {
    let mut text = String::from("threshold: 2\ncustodians:\n");
    for c in day::trust().custodians {
        text += &format!("  - {c}\n");
    }
    if demo {
        let of_demo = String::from_utf8(s.read("demo/trust.yaml")).unwrap();
        text += &of_demo
            .lines()
            .filter(|l| l.contains("SHA256:"))
            .map(|l| l.to_owned() + "\n")
            .collect::<String>();
    }
    s.write(name, text)
}

fn issued(log: &str) -> Day {
    let mut d = Day::enrolled_as(Plan::small(), "KW2", log);
    let job = d.plan.job.clone();
    d.open(&job);
    let n = d.number.clone();
    d.live(&n);
    d
}

/// The same station, the same permit number, the same keys, and another log: whatever outside is of the one speaks against
/// the other, and nothing of it is passed over.
#[test]
fn a_register_written_anew_under_another_log_is_another_history() {
    let mut s = Shell::new();
    s.wait(86_400);
    let (true_one, forged) = (issued("00112233445566778899aabbccddeeff"), issued(OTHER));
    assert_eq!(true_one.number, forged.number);
    let (a, b) = (folder(&s, "a", true_one.bytes()), folder(&s, "b", forged.bytes()));
    let t = trust(&s, "trust.yaml", false);
    let paper = s.write("paper.jsonl", excerpt::of(true_one.lines(), &true_one.number).unwrap());
    let last = true_one.lines().last().unwrap();
    let heads = s.write("heads", format!("{} {} {} {}\n", last.time, last.log, last.seq, last.hash));
    for of_it in [&["--paper", &paper][..], &["--witness", &a], &["--paper", &paper, "--heads", &heads]] {
        for command in ["audit", "verify"] {
            let mut args = vec![command, &b, "--trust", &t];
            args.extend(of_it);
            let ran = s.bare(&args, "").code(4);
            assert!(ran.out.contains("ANOTHER HISTORY") && ran.out.contains(&true_one.number), "{}", ran.out);
            assert!(!ran.out.contains("was given\n") && !ran.out.contains("no token, paper"), "{}", ran.out);
        }
    }
    s.bare(&["audit", &b, "--trust", &t, "--heads", &heads, "--paper", &paper], "")
        .code(4)
        .says("heads, its line 1: ANOTHER HISTORY");
    // Heads alone do not say of which station they are: it is an error that none is of what was given, and no silence.
    s.bare(&["audit", &b, "--trust", &t, "--heads", &heads], "")
        .code(3)
        .says("heads, its line 1: got log")
        .says(OTHER);
    let both = s.bare(&["audit", &b, &a, "--trust", &t], "").code(4);
    assert!(!both.out.contains("BOTH KW2 AND KW2 ISSUED"), "{}", both.out);
    assert!(both.out.contains("ANOTHER HISTORY: it has the permit"), "{}", both.out);
    s.bare(&["verify", &b, "--against", &a, "--trust", &t], "").code(4).says("ANOTHER HISTORY");
    // The true one is held by all of them.
    s.bare(&["audit", &a, "--trust", &t, "--paper", &paper, "--heads", &heads], "")
        .code(SMALL)
        .says("speaks for every line");
    // What is of another station is named, and speaks neither for it nor against it.
    let mut far = Day::enrolled_as(Plan::small(), "XY7", OTHER);
    let job = far.plan.job.clone();
    let n = far.open(&job);
    far.live(&n);
    let foreign = s.write("foreign.jsonl", excerpt::of(far.lines(), &n).unwrap());
    let ran = s.bare(&["audit", &a, "--trust", &t, "--paper", &foreign], "").code(SMALL);
    assert!(ran.out.contains("it speaks for nothing here: it is of station XY7"), "{}", ran.out);
    assert!(
        ran.out.contains("of what was given nothing speaks") && !ran.out.contains("no token, paper"),
        "{}",
        ran.out
    );
    // It keeps the same set: `verify` and `audit` say so, and end with the same code.
    let far = folder(&s, "far", far.bytes());
    s.bare(&["verify", &a, "--against", &far, "--trust", &t], "")
        .code(1)
        .says("TWO REGISTERS KEEP ONE SET")
        .says("BOTH REGISTERS KEEP THE SET heron");
    s.bare(&["audit", &a, &far, "--trust", &t], "").code(1).says("USE THE SET heron AT ONE TIME");
    // A copy as it stood before the later volume began, and the volumes by themselves, are no other histories.
    s.bare(&["audit", &a, &a, "--trust", &t], "").code(SMALL);
}

/// A register that says what it read of this one is no clock where nobody vouches for its custodians, and nothing at all
/// where it is broken.
#[test]
fn a_witness_is_judged_itself() {
    let (mut s, _) = Shell::demo();
    s.wait(86_400);
    let register = s.at("demo/register");
    let text = String::from_utf8(s.read("demo/register/0001.jsonl")).unwrap();
    let raw = text.lines().nth(200).unwrap();
    let line: serde_json::Value = serde_json::from_str(raw).unwrap();
    let of = |member: &str| line["body"][member].as_str().unwrap().to_owned();
    let mut d = Day::enrolled_as(Plan::small(), "XY7", OTHER);
    d.clock("2026-11-25T12:00:00Z");
    let data = object([
        ("head", hash(raw.as_bytes()).into()),
        ("log", of("log").into()),
        ("seq", Json::Int(200)),
        ("set", d.set_id().into()),
        ("station", "KM3".into()),
        ("time", of("time").into()),
    ]);
    d.add(&airwrit::permit::decide::Known::line_apart("witness", "lukasz", data));
    let witness = folder(&s, "witness", d.bytes());
    let (demo_alone, both) = (s.at("demo/trust.yaml"), trust(&s, "both.yaml", true));
    let args = |t: &str, w: &str| ["audit", &register, "--trust", t, "--witness", w].map(str::to_owned);
    let run = |s: &mut Shell, t: &str, w: &str| {
        let args = args(t, w);
        s.bare(&args.iter().map(String::as_str).collect::<Vec<_>>(), "")
    };
    let vouched = run(&mut s, &both, &witness).code(0);
    assert!(
        vouched.out.contains("speaks for it up to line 200") && vouched.out.contains("by a clock outside")
    );
    let unknown = run(&mut s, &demo_alone, &witness).code(0);
    assert!(
        unknown.out.contains("unproven (its custodians are not among those you trust"),
        "{}",
        unknown.out
    );
    assert!(unknown.out.contains("holds line 200"), "{}", unknown.out);
    for never in ["clock outside", "speaks for it up to", "speaks for every line"] {
        assert!(!unknown.out.contains(never), "{never}: {}", unknown.out);
    }
    // One that says it is of the same station: by those whom nobody knows, no history of it.
    let same = folder(&s, "same", Day::enrolled_as(Plan::small(), "KM3", OTHER).bytes());
    run(&mut s, &both, &same).code(4).says("same: ANOTHER HISTORY: it is of station KM3 too");
    let strangers = run(&mut s, &demo_alone, &same).code(0);
    assert!(strangers.out.contains("nobody you trust vouches for that"), "{}", strangers.out);
    assert!(!strangers.out.contains("ANOTHER HISTORY"), "{}", strangers.out);
    // A byte changed before and behind what it says: either way it is named and counts for nothing.
    let lines: Vec<String> = String::from_utf8(d.bytes()).unwrap().lines().map(str::to_owned).collect();
    for at in [2, lines.len() - 1] {
        let mut changed = lines.clone();
        changed[at] = changed[at].replacen("+01:00", "+02:00", 1);
        let broken = folder(&s, &format!("broken-{at}"), changed.join("\n") + "\n");
        for command in ["audit", "verify"] {
            let ran = s.bare(&[command, &register, "--trust", &both, "--witness", &broken], "").code(4);
            assert!(ran.out.contains(&format!("BROKEN (line {at}")), "{}", ran.out);
            assert!(
                !ran.out.contains("clock outside") && !ran.out.contains("speaks for it up to"),
                "{}",
                ran.out
            );
        }
    }
}

/// A paper whose pages or record were changed counts for nothing, and is named with what is wrong with it.
#[test]
fn an_altered_paper_counts_for_nothing() {
    let (mut s, _) = Shell::demo();
    let (register, t) = (s.at("demo/register"), s.at("demo/trust.yaml"));
    let good = s.read("demo/permits/KM3-261125-01-closed.pdf");
    let mut page = good.clone();
    let at = page.windows(6).position(|w| w == b"stream").unwrap() + 40;
    page[at] ^= 1;
    let mut longer = good.clone();
    longer.extend(b"\n% more\n");
    let record = good.windows(9).position(|w| w == b"{\"body\":{").unwrap();
    let mut number = good.clone();
    let place = record + number[record..].windows(15).position(|w| w == b"KM3-261125-01\",").unwrap();
    number[place + 12] = b'2';
    let excerpt = String::from_utf8(s.read("demo/KM3-261125-01.excerpt.jsonl")).unwrap();
    let mut lines: Vec<String> = excerpt.lines().map(str::to_owned).collect();
    lines[150] = lines[150].replacen("+01:00", "+02:00", 1);
    for (name, bytes) in [
        ("page.pdf", page),
        ("longer.pdf", longer),
        ("number.pdf", number),
        ("excerpt.jsonl", (lines.join("\n") + "\n").into_bytes()),
    ] {
        let paper = s.write(name, bytes);
        for command in ["audit", "verify"] {
            let ran = s.bare(&[command, &register, "--trust", &t, "--paper", &paper], "").code(4);
            assert!(ran.out.contains(", BROKEN ("), "{name}: {}", ran.out);
            assert!(
                !ran.out.contains("speaks for every line") && !ran.out.contains("held by: "),
                "{name}: {}",
                ran.out
            );
        }
    }
    // A live permit's paper is unproven by itself, as such papers are: it counts, and that is said.
    let live = s.at("demo/permits/KM3-261125-01-live.pdf");
    let ran = s.bare(&["audit", &register, "--trust", &t, "--paper", &live], "").code(0);
    assert!(
        ran.out.contains("-live.pdf, unproven (") && ran.out.contains("speaks for it up to line"),
        "{}",
        ran.out
    );
}

/// What is said first is how it ended, and nothing below it says otherwise.
#[test]
fn what_stands_against_a_register_is_said_first() {
    let mut s = Shell::new();
    let d = issued(OTHER);
    let (register, t) = (folder(&s, "register", d.bytes()), trust(&s, "trust.yaml", false));
    let last = d.lines().last().unwrap();
    let heads = s.write("heads", format!("{} {} {}\n", last.log, last.seq, "ab".repeat(32)));
    let ran = s.bare(&["verify", &register, "--trust", &t, "--heads", &heads], "").code(4);
    assert!(
        ran.out.starts_with("ANOTHER HISTORY of this register stands elsewhere, see below. By itself: sound"),
        "{}",
        ran.out
    );
    let ran = s.bare(&["verify", &register, "--trust", &t, "--heads", &heads, "--json"], "").code(4);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(
        (json["verdict"].as_str(), json["by_itself"].as_str()),
        (Some("another_history"), Some("sound"))
    );
    let ran = s.bare(&["audit", &register, "--trust", &t, "--heads", &heads], "").code(4);
    assert!(
        !ran.out.contains("was given\n") && !ran.out.contains("nothing outside speaks for any"),
        "{}",
        ran.out
    );
    // One log begun twice, with no line in common.
    let mut second = Day::enrolled_as(Plan::small().start("2026-11-25T05:30:00Z"), "KW2", OTHER);
    let job = second.plan.job.clone();
    second.open(&job);
    let other = folder(&s, "other", second.bytes());
    let ran = s.bare(&["audit", &register, &other, "--trust", &t], "").code(4);
    assert!(ran.out.contains("FORKED: of one log, and no line is shared"), "{}", ran.out);
    assert!(ran.out.contains("is of this one alone: audit the other one by itself too"), "{}", ran.out);
    s.bare(&["verify", &register, "--against", &other, "--trust", &t], "").code(4).says("FORKED: of one log");
    // Nothing given, nothing said of what was.
    s.bare(&["audit", &register, "--trust", &t], "")
        .code(SMALL)
        .says("no token, paper, head or other register was given");
}

/// What was copied by hand is copied wrong now and then: each slip is told with its line, and none is passed over.
#[test]
fn slips_in_heads_copied_by_hand_are_told() {
    let mut s = Shell::new();
    s.wait(86_400);
    let d = issued(OTHER);
    let (register, t) = (folder(&s, "register", d.bytes()), trust(&s, "trust.yaml", false));
    let (last, log) = (d.lines().last().unwrap(), OTHER);
    let (h, n, strange) = (last.hash.to_string(), last.seq, "0a".repeat(16));
    let first = format!("# heads\n2026-11-25T18:00:00Z {log} {n} {h}\n");
    let mut run = |text: &str| {
        let heads = s.write("heads", text);
        s.bare(&["audit", &register, "--trust", &t, "--heads", &heads], "")
    };
    assert!(run(&first).code(SMALL).out.contains("before 25 Nov 2026 19:00 (+01:00) by a clock outside"));
    for (line, got) in [
        (format!("2026-11-25 16:40 {log} {n} {h}"), "heads:3: got `2026-11-25`, wanted a UTC time"),
        (format!("2026-11-25T16:40 {log} {n} {h}"), "heads:3: got `2026-11-25T16:40`, wanted a UTC time"),
        (format!("2026-11-25T18:00:00Z {log} {n} 9 {h}"), "heads:3: got `9`, wanted one number"),
        (format!("2026-11-25T18:00:00Z {log} {n} {h} {h}"), "wanted one head on a line"),
        (format!("2026-11-25T18:00:00Z {log} {n}"), "wanted a head of 64 hexadecimal digits"),
        (format!("{log} {n} {}", &h[1..]), "got 63 hexadecimal digits"),
    ] {
        run(&format!("{first}{line}\n")).code(3).says(got);
    }
    // The hash says where it stands.
    let ran = run(&format!("2026-11-25T18:00:00Z {log} 9999 {h}\n")).code(SMALL).out;
    assert!(
        ran.contains(&format!(
            "its line 1, got line 9999, wanted line {n}, where this hash stands: copied wrong?"
        )),
        "{ran}"
    );
    let heads = s.at("heads");
    s.bare(&["verify", &register, "--trust", &t, "--heads", &heads], "")
        .code(1)
        .says("SOMETHING GIVEN BESIDE IT CANNOT BE AS IT IS THERE, see below. By itself: sound");
    let mut run = |text: &str| {
        let heads = s.write("heads", text);
        s.bare(&["audit", &register, "--trust", &t, "--heads", &heads], "")
    };
    let ran = run(&format!("{strange} {n} {h}\n")).code(SMALL).out;
    assert!(ran.contains(&format!("got log {strange}, wanted log {log}: copied wrong?")), "{ran}");
    // Of nothing that is here: beside a good one it is named, alone it is an error.
    let of_nothing = format!("{strange} 3 {}\n", "ab".repeat(32));
    let ran = run(&format!("{first}{of_nothing}")).code(SMALL).out;
    assert!(
        ran.contains(&format!("its line 3: it speaks for nothing here: got log {strange}, wanted {log}")),
        "{ran}"
    );
    run(&of_nothing).code(3).says(&format!("its line 1: got log {strange}, wanted {log}"));
    // What `airwrit freeze` prints is read as it is.
    let frozen = format!(
        "station KW2, log {log}\nline {n}, head {h}\nfrozen 2026-11-25 18:00 +01:00, last line of 2026-11-25\n"
    );
    assert!(run(&frozen).code(SMALL).out.contains("speaks for every line"));
}

/// A report that was written aside lies in the folder, and no line has entered it: told first of all.
#[test]
fn a_report_that_lies_in_the_folder_is_told() {
    let mut s = Shell::new();
    let d = issued(OTHER);
    let (register, t) = (folder(&s, "register", d.bytes()), trust(&s, "trust.yaml", false));
    let without = s.bare(&["audit", &register, "--trust", &t], "");
    assert!(!without.out.contains("lies beside it"), "{}", without.out);
    let entry = |id: u8, person: &str| Entry {
        at: "2026-11-25T09:00:00Z".into(),
        by: None,
        data: object([("person", person.into())]),
        id: format!("{id:032x}"),
        kind: "off_air".into(),
        permit: Some(d.number.clone()),
    };
    // The first is missing: the numbers say so.
    let bytes = airwrit::record::json::write(&entry(2, "zaneta").to_json()).unwrap();
    let name = format!("register/aside-000002-{:032x}.json", 2);
    s.write(&name, [bytes.as_slice(), b"\n"].concat());
    for json in [false, true] {
        let mut args = vec!["audit", &register, "--trust", &t];
        args.extend(json.then_some("--json"));
        let ran = s.bare(&args, "").code(1);
        assert!(ran.out.contains("2 reports lie beside it that no line of it has entered"), "{}", ran.out);
        assert!(ran.out.contains("number 1 is missing: it may have been an alarm"), "{}", ran.out);
    }
    let ran = s.bare(&["verify", &register, "--trust", &t], "").code(0);
    assert!(
        ran.err.contains("1 report written aside lies in this folder; only lines were verified"),
        "{ran:?}"
    );
    assert!(s.read(&name).starts_with(b"{"), "it is looked at and stays");
}
