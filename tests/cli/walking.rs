//! Walking and answering: a permit from opening to closing, typed line by line.

use crate::support::shell::{Morning, Shell, shipped};

const PRE_START: &str = include_str!("../../examples/answers-pre-start.yaml");
const SHUTDOWN: &str = include_str!("../../examples/answers-shutdown.yaml");

fn lines(s: &Shell) -> usize {
    s.read("register/0001.jsonl").iter().filter(|b| **b == b'\n').count()
}

/// A station with a permit opened and the first answers given.
fn opened(answers: usize) -> (Shell, String) {
    let mut s = Shell::station();
    let number = s.open();
    if answers > 0 {
        Morning::new(PRE_START, false).first(answers).walk(&mut s, &number).code(0);
    }
    (s, number)
}

#[test]
fn the_whole_day_by_walk_and_signatures_is_sound() {
    let (mut s, n) = Shell::live();
    for person in ["zaneta", "nikos"] {
        s.run(&["on", person], "").code(0).says("on air");
        s.run(&["in", person], "").code(0);
    }
    s.signed(&["hand-back", &n], "lukasz").code(1);
    for person in ["zaneta", "nikos"] {
        s.run(&["out", person], "").code(0);
        s.run(&["off", person, "--by", "oksana"], "").code(0);
    }
    let mut evening = Morning::new(SHUTDOWN, true);
    evening.walk(&mut s, &n).code(0).says("every step is done").says("hand-back KW7-261125-01 --by lukasz");
    assert_eq!(evening.left(), 0);
    assert!(evening.screens.iter().any(|t| t.contains("Stop the set now.")));
    s.signed(&["hand-back", &n], "lukasz").code(0).says("is handed back");
    s.signed(&["close", &n], "lukasz").code(1);
    s.signed(&["close", &n], "eleni").code(0).says("is closed");
    let ran = s.run(&["show"], "").code(0);
    assert!(ran.out.contains(&format!("{n}  closed")), "{ran:?}");
    let print = |s: &mut Shell, c: &str| {
        let file = s.at(&format!("{c}.pem"));
        let ran = s.bare(&["key", "show", &file], crate::support::shell::PASSPHRASE).code(0);
        ran.out.lines().nth(1).unwrap().to_owned()
    };
    let (a, b, register) = (print(&mut s, "cust-a"), print(&mut s, "cust-b"), s.at("register"));
    s.bare(&["verify", &register, "--custodian", &a, "--custodian", &b], "").code(0).says("sound");
    s.bare(&["verify", &register, "--custodian", &a, "--custodian", &b, "--threshold", "1"], "").code(0);
    s.bare(&["verify", &register], "").code(5);
}

#[test]
fn the_morning_shows_every_hold_with_number_and_fix() {
    let mut s = Shell::station();
    let n = s.open();
    let mut morning = Morning::new(PRE_START, false);
    morning
        .walk(&mut s, &n)
        .code(0)
        .says("everything before declaring is done")
        .says(&format!("declare {n} --by lukasz"));
    let held: Vec<&String> =
        morning.screens.iter().filter(|t| t.contains("HOLD: nothing that needs this")).collect();
    assert_eq!(held.len(), 3, "{held:#?}");
    assert!(held.iter().all(|t| t.contains("  do: ") && t.contains("what was done since?")), "{held:#?}");
    let short = held.iter().find(|t| t.contains("bar")).unwrap();
    assert!(short.contains("reads") && short.contains("short by"), "{short}");
    let begun: Vec<&String> = morning.screens.iter().filter(|t| t.contains("begun at")).collect();
    assert!(begun.iter().all(|t| t.contains(", wanted ")) && !begun.is_empty(), "{begun:#?}");
    assert!(morning.screens.iter().any(|t| t.contains("Start the set now. Nobody is connected.")));
    assert!(morning.screens.iter().all(|t| !t.contains("LIFE-CRITICAL") || t.contains(&n)));
}

#[test]
fn it_stops_at_q_and_at_the_end_of_input_and_goes_on_there() {
    let (mut s, n) = opened(0);
    let ran = s.run(&["walk"], "yes\nq").code(0);
    let (register, seal) = (s.at("register"), s.at("seal"));
    assert!(ran.err.ends_with(&format!(
        "stopped; everything answered is kept\nhint: `airwrit walk {n} --register {register} --seal {seal}` goes on here\n"
    )), "{}", ran.err);
    assert!(ran.err.contains("stage 1 of"), "{}", ran.err);
    let before = lines(&s);
    // The end of the input is no answer.
    let ran = s.run(&["walk"], "").code(0).says("stopped");
    assert!(!ran.err.contains("kept; line"), "{}", ran.err);
    assert_eq!(lines(&s), before);
    s.run(&["walk", &n], "yes").code(0).says("kept; line");
    assert_eq!(lines(&s), before + 1);
}

#[test]
fn what_is_no_answer_is_told_and_asked_again() {
    let (mut s, _) = opened(0);
    let ran = s.run(&["walk"], "?\nmaybe\n\n7\n\u{1b}[2Jyes\nYES\nyes\nnine\n?").code(0);
    assert!(ran.err.contains("got `maybe`, wanted yes or no"), "{}", ran.err);
    assert!(ran.err.contains("got `U+001B[2Jyes`"), "{}", ran.err);
    assert!(ran.err.contains("wanted a number from 1 to"), "{}", ran.err);
    assert!(!ran.err.contains('\u{1b}'));
    assert_eq!(ran.err.matches("kept; line").count(), 2, "{}", ran.err);
}

#[test]
fn a_question_mark_shows_why_and_where_it_comes_from() {
    let (mut s, _) = opened(0);
    let ran = s.run(&["walk"], "?").code(0);
    assert!(ran.err.contains("source: "), "{}", ran.err);
}

#[test]
fn numbers_are_taken_as_the_instrument_shows_them() {
    let (mut s, n) = opened(4);
    let ran = s.run(&["walk"], "1,234.5\nwarm\n999\n1 °C\n").code(0);
    assert!(ran.err.contains("got \"warm\""), "{}", ran.err);
    assert!(ran.err.contains("above what this instrument shows"), "{}", ran.err);
    assert_eq!(ran.err.matches("kept").count(), 2, "{}", ran.err);
    s.run(&["answer", &n, "ambient_high", "9"], "").code(0).says("[x] open ambient_high");
}

#[test]
fn single_answers_are_kept_refused_or_held() {
    let (mut s, n) = opened(0);
    s.run(&["answer", &n, "job_read", "yes"], "").code(0).says("[x] open job_read");
    s.run(&["answer", &n, "job_read", "yes"], "").code(1).says("--again");
    s.run(&["answer", &n, "job_reed", "yes"], "").code(1).says("did you mean `job_read`?");
    s.run(&["answer", &n, "ground", "yes"], "").code(1).says("comes first");
    s.run(&["answer", "KW7-261125-99", "job_read", "yes"], "")
        .code(1)
        .says("there is no permit KW7-261125-99");
    s.run(&["answer", &n, "entry_permits", "perhaps"], "").code(1).says("wanted yes or no");
    let ran = s.run(&["answer", &n, "entry_permits", "no", "--json"], "").code(1);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((json["step"].as_str(), json["standing"].as_str()), (Some("entry_permits"), Some("hold")));
    s.run(&["answer", &n, "entry_permits", "yes", "--again", "asked_again"], "").code(0);
    s.run(&["answer", &n, "entry_permits", "yes", "--again", "prayed"], "").code(2);
}

#[test]
fn one_goes_back_to_what_was_typed_wrongly() {
    let (mut s, n) = opened(5);
    // The fifth answer was the lowest temperature, 1.
    let ran = s.run(&["walk"], "b\nread wrong\n-3\n").code(0);
    assert!(ran.err.contains("answered at") && ran.err.contains(": 1 °C"), "{}", ran.err);
    assert_eq!(ran.err.matches("kept").count(), 2, "{}", ran.err);
    let ran = s.run(&["walk"], "b nonsense\nb job_read\n6\nyes\n").code(0);
    assert!(
        ran.err.contains("b goes to the step answered last") && ran.err.contains("  job_read"),
        "{}",
        ran.err
    );
    let ran = s.run(&["show", &n, "--json"], "").code(0);
    let view: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let step = |id: &str| {
        let mut steps =
            view["stages"].as_array().unwrap().iter().flat_map(|st| st["steps"].as_array().unwrap());
        steps.find(|s| s["step"] == id).unwrap().clone()
    };
    assert_eq!(step("ambient_low")["answers"].as_array().unwrap().len(), 2);
    assert_eq!(step("job_read")["answers"][1]["again"], "waited");
}

#[test]
fn a_wait_ended_too_early_is_refused_with_the_time_that_lacks() {
    let mut s = Shell::station();
    let n = s.open();
    let all: Vec<&str> = PRE_START.lines().filter(|l| l.contains("- { step:")).collect();
    let begun =
        all.iter().position(|l| l.contains("value: begun") || l.contains("value: \"begun\"")).unwrap();
    Morning::new(PRE_START, false).first(begun + 1).walk(&mut s, &n).code(0);
    let before = lines(&s);
    let ran = s.run(&["walk"], "finished\ndone").code(0);
    assert!(ran.err.contains("got `finished`, wanted done"), "{}", ran.err);
    assert!(ran.err.contains("have passed, wanted") && ran.err.contains("wait, then"), "{}", ran.err);
    assert_eq!(lines(&s), before);
    s.wait(15 * 60);
    s.run(&["walk"], "done").code(0).says("kept; line");
    assert_eq!(lines(&s), before + 1);
}

#[test]
fn an_item_is_left_out_with_a_reason() {
    let mut s = Shell::station();
    let n = s.open();
    let all: Vec<&str> = PRE_START.lines().filter(|l| l.contains("- { step:")).collect();
    let at = all.iter().position(|l| l.contains("step: cylinder_in_use, item: c")).unwrap();
    Morning::new(PRE_START, false).first(at).walk(&mut s, &n).code(0);
    let ran = s.run(&["walk"], "x\n\nx\nneck thread worn").code(0);
    assert!(
        ran.err.contains("x out of service") && ran.err.contains("why is it out of service?"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("nothing was written"), "{}", ran.err);
    assert!(ran.err.contains("kept: out of service"), "{}", ran.err);
    s.run(&["show", &n], "").code(0).says("out of service").says("neck thread worn");
}

#[test]
fn signing_is_shown_first_and_refused_out_of_turn() {
    let (mut s, n) = opened(3);
    s.signed(&["declare", &n], "lukasz").code(1).says("refused:");
    s.signed(&["countersign", &n], "eleni").code(1).says("draft");
    s.signed(&["close", &n], "eleni").code(1);
    s.signed(&["refuse", &n, "--reason", "no"], "eleni").code(1);
    s.signed(&["cancel", &n, "--reason", "the ferry has gone"], "eleni").code(0).says("is cancelled");
    s.run(&["walk", &n], "").code(1).says("is cancelled");
    s.run(&["walk"], "")
        .code(1)
        .says("no permit waits for answers")
        .says("`airwrit open --job FILE --register");
}

#[test]
fn a_declared_permit_is_refused_or_goes_back_to_draft_by_a_new_job() {
    let (mut s, n) = declared();
    let ran = s.signed(&["countersign", &n], "lukasz").code(1);
    assert!(!ran.err.contains("passphrase"), "{ran:?}");
    let job = shipped("examples/job.yaml");
    s.run(&["job", &n, "--file", &job, "--by", "lukasz"], "").code(0).says("is replaced");
    s.run(&["show"], "").code(0).says("draft");
    let set = shipped("examples/set.yaml");
    s.run(&["job", &n, "--file", &set], "").code(2).says("no job file");
    s.run(&["job", &n, "--file", "missing.yaml"], "").code(3).says("missing.yaml");
    let (mut s, n) = declared();
    s.signed(&["refuse", &n, "--reason", "the wind turns at noon"], "eleni").code(0).says("is refused");
}

fn declared() -> (Shell, String) {
    let mut s = Shell::station();
    let n = s.open();
    Morning::new(PRE_START, false).walk(&mut s, &n).code(0);
    let ran = s.signed(&["declare", &n], "lukasz").code(0).says("you sign as operator:");
    assert!(ran.err.find("you sign as").unwrap() < ran.err.find("passphrase of").unwrap(), "{}", ran.err);
    (s, n)
}

/// The way out of a refusal fits its reason.
#[test]
fn a_refused_issue_says_what_helps() {
    let (mut s, n) = declared();
    let ran = s
        .signed(&["countersign", &n], "lukasz")
        .code(1)
        .says("hint: another supervisor, who is none of these");
    assert!(!ran.err.contains("declares again"), "{}", ran.err);
    // A time that is past is tomorrow's, and a number above those planned is none.
    s.signed(&["countersign", &n, "--until", "06:00"], "eleni").code(1).says("narrows nothing: it ends at");
    s.signed(&["countersign", &n, "--wearers", "3"], "eleni").code(1).says("2 are planned");
    s.signed(&["countersign", &n, "--wearers", "0"], "eleni").code(1).says("permits nothing");
    s.wait(2 * 3600);
    let ran = s
        .signed(&["countersign", &n], "eleni")
        .code(1)
        .says("takes the fresh readings again and declares again");
    assert!(!ran.err.contains("another supervisor") && !ran.err.contains("--accept"), "{}", ran.err);
}

/// Nobody answers forty questions for a permit whose time is over.
#[test]
fn a_permit_whose_time_is_over_says_so_at_every_step() {
    let (mut s, n) = opened(3);
    let ran = s.run(&["walk", &n], "q\n").code(0);
    assert!(!ran.err.contains("CAN NO LONGER BE ISSUED"), "{}", ran.err);
    s.wait(11 * 3600);
    s.run(&["walk", &n], "q\n").code(0).says("CAN NO LONGER BE ISSUED").says("hint:");
    s.signed(&["declare", &n], "lukasz").code(1).says("it would end before it begins");
}

/// How long the reserve lasts is shown with what is wanted of it; never the minutes to spare.
#[test]
fn minutes_of_the_reserve_to_spare_are_never_shown() {
    let mut s = Shell::station();
    let site = std::fs::read_to_string(shipped("examples/site.yaml")).unwrap();
    let site = s.write("site.yaml", site.replace("way_out_floor: 10 min", "way_out_floor: 23.9 min"));
    s.signed(&["approve", &site], "tuula").code(0);
    let n = s.open();
    Morning::new(PRE_START, false).walk(&mut s, &n).code(0).says("everything before declaring is done");
    s.signed(&["declare", &n], "lukasz").code(0);
    let ran = s.signed(&["countersign", &n], "eleni").code(0);
    // Which readings and temperatures a figure rests on stands beside it, in the walk's record and on paper.
    let shown = s.run(&["show", &n, "--json"], "").code(0).out;
    let json: serde_json::Value = serde_json::from_str(&shown).unwrap();
    let steps = json["stages"].as_array().unwrap().iter().flat_map(|s| s["steps"].as_array().unwrap());
    let lasts = steps.into_iter().find(|s| s["step"] == "reserve_lasts").unwrap();
    let ask = lasts["ask"].as_str().unwrap();
    for words in
        ["worked out from:", "reserve again Cylinder A", "the temperature at the cylinders", "°C", "bar"]
    {
        assert!(ask.contains(words), "{words}: {ask}");
    }
    let line = ran.err.lines().find(|l| l.contains("how long the reserve lasts"));
    let line = line.unwrap_or_else(|| panic!("{}", ran.err));
    assert!(line.contains("wanted at least") && !line.contains("to spare"), "{line}");
}

#[test]
fn a_supervisor_narrows() {
    let (mut s, n) = declared();
    s.signed(&["countersign", &n, "--until", "11:75"], "eleni").code(2).says("wanted a time like 14:05");
    s.signed(
        &["countersign", &n, "--until", "11:30", "--wearers", "1", "--limits", "port side only"],
        "eleni",
    )
    .code(0)
    .says("valid to 25 Nov 2026 11:30")
    .says("check word");
    s.run(&["show", &n], "").code(0).says("port side only").says("at most 1");
}

#[test]
fn opening_needs_a_job_and_texts_in_force() {
    let mut s = Shell::station();
    s.run(&["open", "--job", "missing.yaml"], "").code(3).says("missing.yaml");
    let set = shipped("examples/set.yaml");
    s.run(&["open", "--job", &set], "").code(2).says("no job file");
    let job = std::fs::read_to_string(shipped("examples/job.yaml")).unwrap();
    let bad = s.write("bad.yaml", job.replace("holder: lukasz", "holder: eleni"));
    s.run(&["open", "--job", &bad], "").code(1).says("eleni");
    let bad = s.write("bad.yaml", job.replace("notice: 40 s", "notice: soon"));
    s.run(&["open", "--job", &bad], "").code(1).says("bad.yaml:").says("has errors");
    let job = shipped("examples/job.yaml");
    s.run(&["open", "--job", &job, "--set", "crane"], "").code(1).says("crane");
    s.run(&["open", "--job", &job, "--form", "tea-break"], "").code(1).says("tea-break");
    let n = s.run(&["open", "--job", &job, "--shutdown"], "").code(0).out.trim().to_owned();
    let m = s.open();
    assert_ne!(n, m);
}

/// Left as it is in the walk; named, narrowed and accepted by the supervisor, who sees what to look at.
#[test]
fn a_deviation_is_left_in_the_walk_and_accepted_by_name() {
    let (mut s, n) = Shell::declared();
    s.run(&["answer", &n, "laptop_power", "1", "--again", "read_wrong"], "").code(1).says("[!] HOLD");
    s.run(&["answer", &n, "laptop_power", "--deviation", "no spare"], "").code(2);
    s.run(&["answer", &n, "oil_level", "--deviation", "no oil", "--instead", "hope"], "")
        .code(1)
        .says("no deviation");
    let ran = s.run(&["walk", &n], "d\nno spare battery\nthe card is kept by pencil\n").code(0);
    assert!(
        ran.err.contains("d leave it so") && ran.err.contains("for the supervisor to accept"),
        "{}",
        ran.err
    );
    s.run(&["show", &n], "").code(0).says("!! Deviation, accepted by nobody").says("[~] deviation");
    s.signed(&["declare", &n], "lukasz").code(0).says("I leave as a deviation: ");
    s.signed(&["countersign", &n], "eleni").code(1).says("--accept laptop_power");
    s.signed(&["countersign", &n, "--accept", "laptop_power"], "eleni").code(1).says("narrower");
    let issue = ["countersign", &n, "--accept", "laptop_power", "--limits", "out by noon"];
    let ran = s.signed(&issue, "eleni").code(0).says("I accept this deviation: ");
    assert!(ran.err.contains("said to be read wrong"), "{}", ran.err);
    s.run(&["show", &n], "").code(0).says("!! Deviation, accepted by the supervisor");
    let json = s.run(&["show", &n, "--json"], "").code(0);
    let view: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    assert!(view["flags"].to_string().contains("read wrong"), "{}", view["flags"]);
    // What is live is not left so any more.
    let late = ["answer", &n, "laptop_power", "--deviation", "x", "--instead", "y"];
    s.run(&late, "").code(1);
}
