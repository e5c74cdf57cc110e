//! Alarms, and what comes after: the orders, the roll, reinstating; people relieved.

use crate::support::shell::{Morning, Shell, shipped};
use airwrit::checklist::{Checklist, GoodForScope};

const PRE_START: &str = include_str!("../../examples/answers-pre-start.yaml");

/// Two wearers, two rescuers, attendant and entry watch.
const EVERYONE: &str = "yes\nyes\nyes\nyes\nyes\nyes\n";

fn read_all(s: &mut Shell, n: &str) {
    for (what, value) in [("co", "1 ppm"), ("supply", "6 bar")] {
        s.run(&["reading", n, "--what", what, "--value", value], "").code(0);
    }
    for item in ["a", "b", "c"] {
        s.run(&["reading", n, "--what", "reserve", "--item", item, "--value", "260 bar"], "").code(0);
    }
}

/// In few words, before anything is kept: to the wearers, to the attendant, what of the set; then until when there is
/// air, by the last reading, drawing the most.
#[test]
fn an_event_gives_its_orders_first() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["in", "zaneta"], "").code(0);
    let ran = s.run(&["event", &n, "--what", "change_over"], "").code(0);
    assert!(ran.err.starts_with("OUT NOW, ON THE RESERVE\n  SIGNAL: "), "{}", ran.err);
    for words in [
        "ON AIR: Żaneta Brzęczyk (zaneta) in",
        "RESCUE: 555",
        "THE SET: Do not stop",
        "BEFORE ANYONE GOES BACK",
    ] {
        assert!(ran.err.contains(words), "{words}: {}", ran.err);
    }
    let gone = |out: &str| -> u32 {
        let line = out.lines().find(|l| l.starts_with("AIR MAY BE GONE FROM")).unwrap_or_default();
        let minutes = line.split(", IN ").nth(1).and_then(|l| l.split(' ').next());
        minutes.and_then(|m| m.parse().ok()).unwrap_or_else(|| panic!("{out}"))
    };
    let first = gone(&ran.out);
    assert!((20..60).contains(&first), "{first}");
    // A lower reading shortens it; time alone does not lengthen it, and a reading higher than it can be by then is
    // taken as it was read.
    s.wait(300);
    let later = s.run(&["reading", &n, "--what", "reserve", "--item", "a", "--value", "150 bar"], "").code(0);
    assert!(gone(&later.out) < first - 5, "{}", later.out);
    // The order at a CO alarm was decided from the fill; but they breathe the reserve already.
    let co = s.run(&["event", &n, "--what", "co"], "").code(0).says("AIR MAY BE GONE FROM");
    assert!(
        co.err.starts_with("OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE FEEDS ALREADY\n"),
        "{}",
        co.err
    );
    s.run(&["call-out"], "").code(0).says("AIR MAY BE GONE FROM");
    // Nobody on it: nothing is told that counts down.
    s.run(&["off", "zaneta"], "").code(0);
    let quiet = s.run(&["event", &n, "--what", "supply_low"], "").code(0);
    assert!(!quiet.out.contains("AIR MAY BE GONE"), "{}", quiet.out);
}

/// After a loss of supply: what it ended is asked again, everyone is found, the gauges are read, a supervisor signs.
#[test]
fn a_supervisor_reinstates_when_all_of_it_is_true() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let issued = s.run(&["show", &n], "").code(0).out;
    s.run(&["event", &n, "--what", "change_over"], "").code(0);
    let word = |shown: &str| shown.lines().find(|l| l.starts_with("check word ")).map(str::to_owned);
    let before = word(&s.run(&["show", &n], "").code(0).out);
    assert!(before.is_none(), "suspended, it has none");
    let cause = ["--cause", "A breaker upstream had tripped; reset and tagged"];
    let reinstate = |s: &mut Shell, by: &str| s.signed(&[&["reinstate", &n][..], &cause].concat(), by);
    let why = reinstate(&mut s, "eleni").code(1);
    for words in ["zaneta is on air", "no roll call", "co was not read", "reserve was used", "roll-call"] {
        assert!(why.err.contains(words), "{words}: {}", why.err);
    }
    s.run(&["off", "zaneta"], "").code(0);
    s.run(&["roll-call", &n, "--missing", "nikos"], EVERYONE)
        .code(0)
        .says("MISSING: Νίκος Θαλασσινός (nikos); suspended");
    // Nobody is found by being left out.
    s.run(&["roll-call", &n], "yes\nperhaps\nno\n").code(2).says("got `perhaps`").says("Nothing is kept");
    s.run(&["roll-call", &n, "--found", "zaneta"], "").code(2).says("these answered: nikos, ");
    s.run(&["roll-call", &n], EVERYONE)
        .code(0)
        .says("everyone found: Żaneta Brzęczyk (zaneta), Νίκος Θαλασσινός (nikos)")
        .says("answered, by voice?");
    s.run(&["set", "filled", "heron", "--from", "other_tested"], "").code(0);
    // What the change-over ended is answered again; everything else stands.
    let form = std::fs::read(shipped("checklists/pre-start.yaml")).unwrap();
    let form = Checklist::read("pre-start", &form).checklist.unwrap();
    let of_fill = |line: &&str| {
        let step = line.split("step: ").nth(1).and_then(|l| l.split(',').next()).unwrap_or_default();
        let ended = [GoodForScope::Fill, GoodForScope::SupplyPoint];
        form.step(step).is_some_and(|(_, s)| s.good_for().iter().any(|g| ended.contains(&g.scope)))
    };
    let again = PRE_START.lines().filter(of_fill);
    let mended = |l: &&str| !l.contains("\"181\"") && !l.contains("against_arrow");
    let again = again.filter(mended).map(|l| match l.contains("again:") {
        true => l.to_owned(),
        false => l.replace(" }", ", again: refilled }"),
    });
    let again = again.fold("answers:\n".to_owned(), |all, l| all + &l + "\n");
    let walked = Morning::new(&again, false).walk(&mut s, &n);
    assert!(walked.out.contains("every step is done"), "{} {}", walked.out, walked.err);
    read_all(&mut s, &n);
    let refused = reinstate(&mut s, "eleni");
    assert_eq!(refused.code, 0, "{} {}", refused.out, refused.err);
    // Before signing, what stopped it and what was done since.
    for words in
        ["Event: change over (line ", "MISSING: ", "ANSWERED AGAIN SINCE IT WAS SUSPENDED", "(before: "]
    {
        assert!(refused.err.contains(words), "{words}: {}", refused.err);
    }
    let live = s.run(&["show", &n], "").code(0).says("LIVE").says("Reinstated").out;
    // Sheets printed before it are found out by their word.
    assert!(word(&live).is_some() && word(&live) != word(&issued), "{live}");
    s.run(&["on", "zaneta"], "").code(0);
    let v = s.at("register");
    s.bare(&["verify", &v], "").code(5);
}

/// After a false alarm the operator does, soon, and not after what may have fouled the air.
#[test]
fn the_operator_reinstates_after_a_false_alarm() {
    let (mut s, n) = Shell::live();
    let cause = ["--cause", "The horn was leant on"];
    let reinstate = |s: &mut Shell, by: &str| s.signed(&[&["reinstate", &n][..], &cause].concat(), by);
    for time in 0..3 {
        s.run(&["call-out", &n], "").code(0);
        reinstate(&mut s, "lukasz").code(1).says("neither a drill nor a false alarm");
        s.run(&["event", &n, "--what", "false_alarm", "--words", "nobody pressed it"], "").code(0);
        s.run(&["roll-call", &n], EVERYONE).code(0);
        read_all(&mut s, &n);
        if time < 2 {
            reinstate(&mut s, "lukasz").code(0).says("is live");
        } else {
            reinstate(&mut s, "lukasz").code(1).says("2 times on one permit are enough");
        }
    }
    reinstate(&mut s, "eleni").code(0).says("is live");
    s.run(&["call-out", &n], "").code(0);
    s.run(&["event", &n, "--what", "false_alarm"], "").code(0);
    s.run(&["roll-call", &n], EVERYONE).code(0);
    read_all(&mut s, &n);
    s.wait(16 * 60);
    reinstate(&mut s, "lukasz").code(1).says("more than 15 min");
    s.run(&["event", &n, "--what", "oil"], "").code(0);
    s.run(&["event", &n, "--what", "false_alarm"], "").code(0);
    s.run(&["roll-call", &n], EVERYONE).code(0);
    read_all(&mut s, &n);
    reinstate(&mut s, "lukasz").code(1).says("after `oil` a supervisor does");
}

/// People on air first, then what sends them out, then whom to call; the last readings with their age.
#[test]
fn the_board_tells_who_is_on_air() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["in", "zaneta"], "").code(0);
    s.run(&["reading", &n, "--what", "reserve", "--item", "a", "--value", "207 bar"], "").code(0);
    s.run(&["reading", &n, "--what", "Reserve!", "--value", "207 bar"], "").code(2).says("wanted a word");
    let live = s.run(&["board"], "").code(0).out;
    assert!(live.contains("  LIVE  ") && live.contains("check word "), "{live}");
    s.run(&["on", "A fitter", "--report", "--set", "heron"], "").code(0);
    s.wait(7 * 60);
    let board = s.run(&["board"], "").code(0).out;
    let at = |words: &str| board.find(words).unwrap_or_else(|| panic!("{words}: {board}"));
    let order = [
        "HELD",
        "ON AIR  Żaneta Brzęczyk: in, Red outlet",
        "EVERYONE OUT",
        "Leave by",
        "Recall signal",
        "Rescue: 555",
    ];
    assert!(order.windows(2).all(|w| at(w[0]) < at(w[1])), "{board}");
    at("read  reserve a: 207 bar at ");
    // The clock of a test moves on whenever it is looked at.
    assert!(board.contains("7 min ago") || board.contains("8 min ago"), "{board}");
    at("ON AIR ON NO PERMIT  A fitter");
    for never in ["to spare", "voltage", "SHA256"] {
        assert!(!board.contains(never), "{never}: {board}");
    }
    let json: serde_json::Value = serde_json::from_str(&s.run(&["board", "--json"], "").code(0).out).unwrap();
    assert_eq!(json["permits"][0]["number"].as_str(), Some(n.as_str()));
}

/// After an event: the register byte for byte, the verifiers, sums that stock tools check; the head to copy.
#[test]
fn a_frozen_bundle_holds_everything_but_the_key() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["event", &n, "--what", "hose"], "").code(0);
    let into = s.at("frozen");
    let ran = s.run(&["freeze", "--into", &into], "").code(0).says("on air: zaneta");
    assert_eq!(s.read("frozen/register/0001.jsonl"), s.read("register/0001.jsonl"));
    let register = s.at("frozen/register");
    let verified = s.bare(&["verify", &register], "").code(5).out;
    let head =
        verified.lines().find_map(|l| l.strip_prefix("head ")).and_then(|l| l.split(',').next()).unwrap();
    assert!(ran.out.contains(head), "{} {head}", ran.out);
    let sums = String::from_utf8(s.read("frozen/SHA256SUMS")).unwrap();
    for line in sums.lines() {
        let (sum, name) = line.split_once("  ").unwrap();
        assert_eq!(sum, airwrit::record::line::hash(&s.read(&format!("frozen/{name}"))), "{name}");
    }
    let mut files: Vec<&str> = sums.lines().map(|l| l.split_once("  ").unwrap().1).collect();
    files.sort_unstable();
    assert_eq!(files, ["READ-ME.txt", "register/0001.jsonl", "verify.py", "verify.sh"]);
    assert!(std::fs::metadata(s.path("frozen/verify.py")).unwrap().permissions().readonly());
    // Nothing that stands is touched.
    s.run(&["freeze", "--into", &into], "").code(3).says("is not empty");
    // A broken register is kept as it is.
    let mut bytes = s.read("register/0001.jsonl");
    let at = bytes.len() / 2;
    bytes[at] ^= 1;
    s.write("register/0001.jsonl", &bytes);
    let again = s.at("again");
    s.run(&["freeze", "--into", &again], "").code(0).says("BROKEN from line");
    assert_eq!(s.read("again/register/0001.jsonl"), bytes);
    // Where no line can be read, its files' sums are what can be copied.
    bytes[0] ^= 1;
    s.write("register/0001.jsonl", &bytes);
    let none = s.at("none");
    let sum = airwrit::record::line::hash(&bytes);
    s.run(&["freeze", "--into", &none], "").code(0).says(&format!("register/0001.jsonl, SHA-256 {sum}"));
    assert!(String::from_utf8(s.read("none/READ-ME.txt")).unwrap().contains(&sum));
}

/// Nobody stays on air longer than the job says without its being told.
#[test]
fn the_longest_spell_is_told() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.wait(49 * 60);
    assert!(!s.run(&["show", &n], "").code(0).out.contains("longest spell"));
    s.wait(3 * 60);
    s.run(&["show", &n], "")
        .code(0)
        .says("!! Żaneta Brzęczyk is on air since 52 min, the longest spell is 50 min");
}

#[test]
fn an_attendant_is_relieved_by_name() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["relieve", &n, "--role", "attendant", "--to", "zaneta"], "").code(1).says("zaneta is on air");
    s.run(&["relieve", &n, "--role", "attendant", "--to", "marit"], "").code(1).says("one person");
    s.run(&["relieve", &n, "--role", "attendant", "--to", "oksana"], "").code(1).says("already");
    s.run(&["relieve", &n, "--role", "attendant", "--to", "bohdan"], "").code(0).says("attendant is bohdan");
    let shown = s.run(&["show", &n], "").code(0).says("LIVE").out;
    let row = shown.lines().find(|l| l.contains("Attendant at the set")).unwrap_or_default();
    assert!(row.contains("Богдан"), "{row}");
    s.run(&["on", "nikos"], "").code(0);
    // It has happened, whatever the rules say.
    s.run(&["relieve", &n, "--role", "entry_watch", "--to", "nikos", "--report"], "")
        .code(0)
        .says("BREACH: nikos");
}

/// Neither a second alarm nor somebody's leaving tells a later time: only a new reading does.
#[test]
fn the_air_is_gone_when_it_was_said() {
    let (mut s, n) = Shell::live();
    for who in ["zaneta", "nikos"] {
        s.run(&["on", who], "").code(0);
    }
    let gone = |out: &str| -> String {
        let line = out
            .lines()
            .find_map(|l| l.split("AIR MAY BE GONE FROM ").nth(1))
            .unwrap_or_else(|| panic!("{out}"));
        line[..5].to_owned()
    };
    let first = gone(&s.run(&["set", "stopped", "heron", "--report"], "").code(0).out);
    s.wait(240);
    assert_eq!(gone(&s.run(&["event", &n, "--what", "temperature"], "").code(0).out), first);
    s.run(&["off", "nikos"], "").code(0);
    s.run(&["event", &n, "--what", "co"], "").code(0).says("THE RESERVE FEEDS ALREADY").says(&first);
    // The order is not to breathe it: the time is told for whoever does.
    s.run(&["board"], "").code(0).says(&format!("THE RESERVE ALL THE SAME: AIR MAY BE GONE FROM {first}"));
    // What its warning leaves nobody has read.
    s.run(&["event", &n, "--what", "reserve_low"], "").code(0).says("AIR GONE AT ANY MOMENT");
    let read = |s: &mut Shell, more: &[&str]| {
        s.run(&[&["reading", &n, "--what", "reserve", "--value"][..], more].concat(), "").code(0)
    };
    let lower = gone(&read(&mut s, &["60 bar"]).out);
    let before = airwrit::time::clock(&airwrit::time::utc(s.second.get() - 200), "+01:00");
    // Told later for an earlier minute, it does not stand for the reserve as it is.
    assert_eq!(gone(&read(&mut s, &["207 bar", "--at", &before]).out), lower);
    // Missing, and told to be off: the tally knows nobody on it, and somebody may be breathing it all the same.
    s.run(&["roll-call", &n, "--missing", "zaneta"], EVERYONE).code(0);
    s.run(&["off", "zaneta", "--report"], "").code(0);
    let board = s.run(&["board"], "").code(0);
    board.says(&format!("AIR MAY BE GONE FROM {lower}")).says("looked for: Żaneta Brzęczyk (zaneta)");
    s.run(&["event", &n, "--what", "reserve_low"], "").code(0).says("AIR GONE AT ANY MOMENT");
    // Found, nobody is on it.
    s.run(&["roll-call", &n], EVERYONE).code(0);
    let board = s.run(&["board"], "").code(0).out;
    assert!(!board.contains("AIR MAY BE GONE FROM") && !board.contains("AT ANY MOMENT"), "{board}");
}

/// A roll call before the last event, or one with somebody missing after it, found nobody.
#[test]
fn a_roll_call_counts_from_the_last_event_on() {
    let (mut s, n) = Shell::live();
    let cause = ["--cause", "The wind had turned, and came back"];
    s.run(&["suspend", &n], "").code(0);
    s.run(&["roll-call", &n], EVERYONE).code(0);
    read_all(&mut s, &n);
    for what in [
        &["roll-call", &n, "--missing", "nikos"][..],
        &["event", &n, "--what", "wearer_silent"],
        &["call-out"],
    ] {
        s.run(&["roll-call", &n], EVERYONE).code(0);
        s.run(what, EVERYONE).code(0);
        s.signed(&[&["reinstate", &n][..], &cause].concat(), "eleni").code(1).says("no roll call since");
    }
    s.run(&["roll-call", &n], EVERYONE).code(0);
    s.signed(&[&["reinstate", &n][..], &cause].concat(), "lukasz").code(1).says("a supervisor");
}

/// No sheet of a permit whose time is over reads live, and no word of anybody stops a set under people.
#[test]
fn what_is_over_is_not_printed_as_live() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let lines = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
    let any = airwrit::record::line::hash(lines.lines().next().unwrap().as_bytes());
    s.run(&["set", "stopped", "heron", "--ordered-by", &any], "").code(1).says("zaneta is on air");
    s.wait(120);
    let minute = airwrit::time::clock(&airwrit::time::utc(s.second.get() - 60), "+01:00");
    let told = s.run(&["off", "zaneta", "--at", &minute], "").code(0);
    assert!(!told.err.contains("kept as of now"), "{}", told.err);
    let to = s.at("sheet.pdf");
    s.run(&["on", "nikos"], "").code(0);
    s.wait(20 * 3600);
    for more in [&[][..], &["--hangs", "nowhere"]] {
        s.run(&[&["print", &n, "--to", &to][..], more].concat(), "")
            .code(1)
            .says("has ended, and people are on");
    }
    let (mut s, n) = Shell::live();
    s.wait(20 * 3600);
    let to = s.at("sheet.pdf");
    for sheet in ["print", "card"] {
        s.run(&[sheet, &n, "--to", &to], "")
            .code(1)
            .says("is lapsed; as of the last line it would read live");
    }
    s.run(&["print", &n, "--to", &to, "--hangs", "nowhere"], "").code(0);
}

/// By the last that is known nothing is left in the reserve: nobody is sent onto it, at whatever alarm.
#[test]
fn nobody_is_sent_onto_a_reserve_that_holds_nothing() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let co = s.run(&["event", &n, "--what", "co"], "").code(0);
    assert!(co.err.starts_with("CHANGE TO RESERVE, OUT\n"), "{}", co.err);
    s.run(&["reading", &n, "--what", "reserve", "--value", "23 bar"], "").code(0);
    const NOTHING: &str =
        "OUT NOW, ON ESCAPE SETS WHERE WORN: NOTHING IS LEFT IN THE RESERVE, read as 23 bar at ";
    let board = s.run(&["board"], "").code(0).out;
    assert!(board.contains(&format!(": {NOTHING}")) && !board.contains("CHANGE TO RESERVE"), "{board}");
    assert!(board.contains("SUSPENDED: valid for nobody now") && !board.contains("valid to "), "{board}");
    for what in ["co", "supply_low", "temperature"] {
        let told = s.run(&["event", &n, "--what", what], "").code(0);
        assert!(told.err.starts_with(NOTHING) && !told.err.contains("reserve is for"), "{}", told.err);
    }
    // Worked out to be gone: the order changes while they are still in.
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["event", &n, "--what", "supply_low"], "").code(0);
    s.run(&["board"], "").code(0).says(": OUT NOW, ON THE RESERVE");
    s.wait(7200);
    let board = s.run(&["board"], "").code(0).out;
    let gone = "OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE MAY BE GONE SINCE ";
    assert!(board.contains(gone) && !board.contains("ON THE RESERVE\n"), "{board}");
    let co = s.run(&["event", &n, "--what", "co"], "").code(0);
    assert!(co.err.starts_with(gone), "{}", co.err);
}

/// Whom no live permit lets be on air, and everybody on a set that stands still: the order by name, first of all, until they
/// are off.
#[test]
fn whom_nothing_lets_be_on_air_comes_out_by_name() {
    let first = |s: &mut Shell| {
        let board = s.run(&["board"], "").code(0).out;
        board.lines().find_map(|l| l.trim().strip_prefix("!! ")).unwrap_or_default().to_owned()
    };
    let (mut s, _) = Shell::declared();
    s.run(&["on", "nikos", "--report"], "").code(0).says("BREACH");
    let told = first(&mut s);
    assert!(told.starts_with("OUT NOW: ") && told.contains("No permit lets them be on the air of"), "{told}");
    s.run(&["off", "nikos"], "").code(0);
    assert!(!first(&mut s).starts_with("OUT NOW"));
    // It stops under them.
    let (mut s, _) = Shell::live();
    for who in ["zaneta", "nikos"] {
        s.run(&["on", who], "").code(0);
    }
    assert!(!first(&mut s).starts_with("OUT NOW"));
    s.run(&["set", "stopped", "heron", "--report"], "").code(0);
    let told = first(&mut s);
    assert!(
        told.starts_with("OUT NOW, ON THE RESERVE: Żaneta Brzęczyk (zaneta), ")
            && told.contains("THE SET STANDS STILL (heron)"),
        "{told}"
    );
    // No permit at all: nobody proved its reserve.
    let mut s = Shell::station();
    s.run(&["in", "nikos", "--set", "heron", "--report"], "").code(0);
    let told = first(&mut s);
    assert!(
        told.starts_with("OUT NOW, ON ESCAPE SETS WHERE WORN: NOBODY KNOWS WHAT THE RESERVE HOLDS: ")
            && told.contains("THE SET STANDS STILL (heron)"),
        "{told}"
    );
    // The alarm itself gives the same order; where no job tells the way out, none is made up.
    let alarm = ["event", "--what", "supply_low", "--set", "heron"];
    s.run(&alarm, "").code(0).says("WHERE WORN: NOBODY KNOWS WHAT THE RESERVE HOLDS");
    s.wait(120);
    let board = s.run(&["board"], "").code(0).out;
    assert!(board.contains("CALLED OUT 2 min ago: STILL IN"), "{board}");
}

/// Of several alarms one order stands, the strictest; the others are told without: all leave on one air.
#[test]
fn all_leave_on_one_air_whatever_came_first() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let event = |s: &mut Shell, what: &str| s.run(&["event", &n, "--what", what], "").code(0).err;
    assert!(event(&mut s, "hose").starts_with("WHOSE HOSE IT IS: ESCAPE SET, OUT. ALL OTHERS OUT\n"));
    assert!(event(&mut s, "supply_low").starts_with("OUT NOW, ON THE RESERVE\n"));
    const ESCAPE: &str = "OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE FEEDS ALREADY";
    assert!(event(&mut s, "co").starts_with(ESCAPE));
    let board = s.run(&["board"], "").code(0).out;
    let orders: Vec<&str> = board.lines().filter(|l| l.starts_with("  !! ")).collect();
    assert!(orders[0].starts_with("  !! CO at ") && orders[0].ends_with(ESCAPE), "{board}");
    let told = |what: &str| orders.iter().find(|l| l.contains(&format!("!! {what} at "))).copied().unwrap();
    assert!(!told("SUPPLY LOW").contains("OUT NOW"), "{board}");
    // To one of them first, and the others leave as all do.
    let hose = format!("WHOSE HOSE IT IS: ESCAPE SET, OUT. ALL OTHERS: {ESCAPE}");
    assert!(told("HOSE").ends_with(&hose), "{board}");
    assert!(event(&mut s, "hose").starts_with(&hose));
    // So it stands on the screen of the call, after the signal.
    let call = s.run(&["call-out"], "").code(0).err;
    let (signal, order) = (call.find("SIGNAL: ").unwrap(), call.find(&format!("ORDER: {ESCAPE}")).unwrap());
    assert!(signal < order && order < call.find("ON AIR: ").unwrap(), "{call}");
    assert!(board.contains(&format!("On a carbon monoxide alarm: {ESCAPE}")), "{board}");
    // What comes after it sends nobody back onto it.
    for what in ["change_over", "oil", "wind_turned"] {
        assert!(event(&mut s, what).starts_with(ESCAPE), "{what}");
    }
    let board = s.run(&["board"], "").code(0).out;
    assert!(!board.contains("ON THE RESERVE") && !board.contains("CHANGE TO RESERVE"), "{board}");
}

/// A gauge tells as much as the alarm of its kind, before and after any other; above its range the supply is not lost.
#[test]
fn a_gauge_keeps_its_order_beside_every_alarm() {
    let read = |s: &mut Shell, n: &str, what: &str, value: &str| {
        s.run(&["reading", n, "--what", what, "--value", value], "").code(0)
    };
    let first = |s: &mut Shell| {
        let board = s.run(&["board"], "").code(0).out;
        board.lines().find_map(|l| l.strip_prefix("  !! ")).unwrap().to_owned()
    };
    for after in [true, false] {
        let (mut s, n) = Shell::live();
        s.run(&["on", "zaneta"], "").code(0);
        if after {
            s.run(&["event", &n, "--what", "wind_turned"], "").code(0);
        }
        assert!(read(&mut s, &n, "co", "12 ppm").err.starts_with("CHANGE TO RESERVE, OUT\n"));
        if !after {
            s.run(&["event", &n, "--what", "wind_turned"], "").code(0);
        }
        assert_eq!(first(&mut s), "CO: CHANGE TO RESERVE, OUT");
        s.run(&["board"], "").code(0).says("AIR MAY BE GONE FROM ");
        // Mended, it orders nothing more.
        read(&mut s, &n, "co", "1 ppm");
        assert!(first(&mut s).starts_with("WIND TURNED at "), "{}", first(&mut s));
    }
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let low = read(&mut s, &n, "supply", "3 bar");
    assert!(low.err.starts_with("OUT NOW, ON THE RESERVE\n"), "{low:?}");
    s.run(&["board"], "").code(0).says("SUPPLY: OUT NOW, ON THE RESERVE").says("AIR MAY BE GONE FROM ");
    let co = s.run(&["event", &n, "--what", "co"], "").code(0).err;
    assert!(co.starts_with("OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE FEEDS ALREADY"), "{co}");
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let high = read(&mut s, &n, "supply", "60 bar");
    assert!(high.err.starts_with("OUT NOW\n") && high.err.contains("Stand clear of the outlet"), "{high:?}");
    assert!(!s.run(&["board"], "").code(0).out.contains("AIR MAY BE GONE"));
}

/// A cylinder is named as it is on the screen, or by its id.
#[test]
fn a_cylinder_is_called_by_its_name() {
    let (mut s, n) = Shell::live();
    for item in ["a", "B", "Cylinder C", "cylinder c"] {
        s.run(&["reading", &n, "--what", "Reserve", "--item", item, "--value", "207 bar"], "").code(0);
    }
    let kept = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
    for id in ["a", "b", "c"] {
        assert!(kept.contains(&format!("\"item\":\"{id}\"")), "{id}");
    }
    s.run(&["reading", &n, "--what", "reserve", "--item", "Cylinder D", "--value", "207 bar"], "")
        .code(2)
        .says("no cylinder `Cylinder D`");
}

/// A cut hose gives what its outlet lets through, which is more than a mask draws.
#[test]
fn a_cut_hose_makes_the_reserve_last_for_less() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["event", &n, "--what", "change_over"], "").code(0).says("drawing 318 L/min");
    s.run(&["event", &n, "--what", "hose"], "").code(0).says("drawing 336 L/min");
}

/// An overheated machine says nothing against a reserve that was filled before.
#[test]
fn heat_turns_no_order_in_the_middle_of_the_way_out() {
    for (first, order) in [("change_over", "OUT NOW, ON THE RESERVE\n"), ("co", "CHANGE TO RESERVE, OUT\n")] {
        let (mut s, n) = Shell::live();
        s.run(&["on", "zaneta"], "").code(0);
        assert!(s.run(&["event", &n, "--what", first], "").code(0).err.starts_with(order), "{first}");
        s.wait(20);
        let hot = s.run(&["event", &n, "--what", "temperature"], "").code(0).err;
        assert!(hot.starts_with(order), "{first}: {hot}");
    }
}

/// Stopped without an alarm, whoever is on it comes out as well; and where every permit has ended since a call, the roll is
/// called for the set.
#[test]
fn stopping_the_work_orders_out_and_the_roll_outlives_the_permit() {
    let (mut s, n) = Shell::live();
    s.run(&["in", "zaneta", "--report"], "").code(0);
    let stopped = s.run(&["suspend", &n, "--reason", "rain"], "").code(0);
    assert!(stopped.err.starts_with("OUT NOW\n") && stopped.err.contains("SIGNAL: "), "{stopped:?}");
    let board = s.run(&["board"], "").code(0).out;
    let told = board.lines().find_map(|l| l.strip_prefix("  !! ")).unwrap();
    assert!(
        told.starts_with("SUSPENDED at ") && told.ends_with("WITH PEOPLE ON AIR: everyone out"),
        "{board}"
    );
    s.wait(9 * 3600);
    s.run(&["call-out"], "").code(0);
    s.run(&["off", "zaneta", "--report"], "").code(0);
    let wanted = "heron: A CALL OR AN ALARM at ";
    s.run(&["board"], "").code(0).says(wanted);
    s.run(&["roll-call", "--set", "heron", "--found", "zaneta"], EVERYONE).code(0).says("everyone found");
    assert!(!s.run(&["board"], "").code(0).out.contains(wanted));
}

/// Whoever goes on air while the set stands still is not sent onto a reserve that nobody opened; and nobody who comes to
/// those who are on it makes it last.
#[test]
fn a_reserve_is_no_better_for_whoever_comes_to_it() {
    let (mut s, n) = Shell::live();
    s.run(&["set", "stopped", "heron", "--report"], "").code(0);
    s.run(&["in", "zaneta", "--report"], "").code(0);
    let closed = "OUT NOW, ON ESCAPE SETS WHERE WORN: NOBODY KNOWS WHETHER THE RESERVE IS OPEN";
    s.run(&["board"], "").code(0).says(&format!("{closed}: Żaneta Brzęczyk (zaneta). THE SET STANDS STILL"));
    assert!(s.run(&["event", &n, "--what", "co"], "").code(0).err.starts_with(closed));

    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["event", &n, "--what", "supply_low"], "").code(0);
    s.wait(7200);
    let gone = "OUT NOW, ON ESCAPE SETS WHERE WORN: THE RESERVE MAY BE GONE SINCE ";
    s.run(&["board"], "").code(0).says(gone);
    s.run(&["in", "Jan Kowalski", "--set", "heron", "--report"], "").code(0);
    s.run(&["board"], "").code(0).says(gone);
    s.run(&["off", "Jan Kowalski"], "").code(0);
    s.run(&["board"], "").code(0).says(gone);
    // Told off since by a press alone: the roll asks for him all the same.
    let roll = s.run(&["roll-call", &n], &format!("{EVERYONE}y\n")).code(0);
    assert!(roll.out.contains("Jan Kowalski") || roll.err.contains("Jan Kowalski"), "{roll:?}");
    // Of nearly the same name as somebody here.
    s.run(&["in", "Zaneta Brzeczyk", "--set", "heron", "--report"], "")
        .code(0)
        .says("IF Żaneta Brzęczyk WAS MEANT");
}

/// Called out, and on the tally for longer than the way out: told by name, until they are off or found.
#[test]
fn who_is_still_in_when_the_way_out_is_over_is_told() {
    let (mut s, _) = Shell::live();
    for who in ["zaneta", "nikos"] {
        s.run(&["on", who], "").code(0);
    }
    s.run(&["in", "zaneta"], "").code(0);
    let told = |s: &mut Shell| {
        let board = s.run(&["board"], "").code(0).out;
        let told = board.lines().filter(|l| l.contains(": CALLED OUT "));
        let first = board.lines().find(|l| l.starts_with("  !! ")).map(str::to_owned);
        (told.map(str::to_owned).collect::<Vec<_>>(), first)
    };
    s.run(&["call-out"], "").code(0);
    s.wait(60);
    assert!(told(&mut s).0.is_empty());
    s.wait(33 * 60);
    let (both, first) = told(&mut s);
    assert_eq!(both.len(), 2, "{both:?}");
    let hers = "  !! Żaneta Brzęczyk (zaneta): CALLED OUT 34 min ago, the way out is ";
    assert!(both[0].starts_with(hers) && both[0].ends_with(": STILL IN"), "{both:?}");
    assert!(both[1].ends_with(": STILL ON AIR") && first.as_ref() == both.first(), "{both:?} {first:?}");
    s.run(&["off", "nikos"], "").code(0);
    assert_eq!(told(&mut s).0.len(), 1);
    s.run(&["off", "zaneta", "--report"], "").code(0);
    assert!(told(&mut s).0.is_empty());
}

/// A call while nothing was issued suspends nothing: whoever declares and issues is told of it, until a roll call ends it.
#[test]
fn a_call_before_the_issue_is_told_until_a_roll_call_ends_it() {
    let (mut s, n) = Shell::declared();
    let called = "EVERYONE WAS CALLED OUT at ";
    s.run(&["call-out", &n], "").code(0);
    let board = s.run(&["board"], "").code(0);
    let told = board.out.lines().find(|l| l.contains(called)).unwrap_or_default();
    assert!(told.starts_with("  !! ") && told.ends_with("call the roll first"), "{}", board.out);
    let declared = s.signed(&["declare", &n], "lukasz");
    assert!(declared.err.contains(called), "{declared:?}");
    let issued = s.signed(&["countersign", &n], "eleni");
    assert!(issued.err.contains(called), "{issued:?}");
    s.run(&["board"], "").code(0).says(called);
    s.run(&["event", &n, "--what", "hose"], "").code(0);
    s.run(&["roll-call", &n], EVERYONE).code(0);
    assert!(!s.run(&["show", &n], "").code(0).out.contains("call the roll first"));
}

/// A reserve that rose with no fill told: what is to be done stands beside it.
#[test]
fn a_reserve_that_rose_says_what_to_do() {
    let (mut s, n) = Shell::live();
    for value in ["150 bar", "200 bar"] {
        s.wait(240);
        s.run(&["reading", &n, "--what", "reserve", "--value", value], "").code(0);
    }
    s.run(&["board"], "")
        .code(0)
        .says("no fill of it is told")
        .says("If it was filled: say so, and from where. If not, nobody knows what is in it: vent it");
}

/// A drill or a false alarm typed beside a real alarm hides nothing, and ends nothing.
#[test]
fn nothing_that_happened_is_hidden_by_a_drill() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["board"], "").code(0).says("Carbon monoxide, everyone out at: ");
    s.run(&["event", &n, "--what", "loss of supply"], "").code(0).says("event supply_low");
    s.wait(60);
    let drill = s.run(&["event", &n, "--what", "drill"], "").code(0);
    assert!(
        drill.err.contains("go by its order") && drill.err.contains("a supervisor reinstates"),
        "{}",
        drill.err
    );
    s.run(&["set", "moved", "heron", "--place", "nowhere", "--report"], "")
        .code(0)
        .says("where it stands is judged again")
        .says("knows a place `nowhere`");
    s.run(&["roll-call", &n, "--missing", "nikos"], EVERYONE).code(0);
    let board = s.run(&["board"], "").code(0).out;
    let at = |words: &str| board.find(words).unwrap_or_else(|| panic!("{words}: {board}"));
    let order = [
        "MISSING at the roll call of",
        "SUPPLY LOW at",
        "AIR MAY BE GONE FROM",
        "DRILL at",
        "THE SET WAS MOVED at",
    ];
    assert!(order.windows(2).all(|w| at(w[0]) < at(w[1])), "{board}");
    at(": OUT NOW, ON THE RESERVE");
}

/// What is read out of its limits is an alarm that nobody has called yet: its order, the signal, who is on air.
#[test]
fn a_reading_out_of_limits_gives_its_order() {
    let (mut s, n) = Shell::live();
    let read = ["reading", &n, "--what", "co", "--value", "40 ppm"];
    let (mut quiet, other) = Shell::live();
    let told = quiet
        .run(&["reading", &other, "--what", "co", "--value", "40 ppm"], "")
        .code(0)
        .says("OUT OF LIMITS");
    assert!(!told.err.contains("ATTENDANT:"), "nobody is on air: {}", told.err);
    s.run(&["on", "zaneta"], "").code(0);
    let told = s.run(&read, "").code(0).says("OUT OF LIMITS").says("suspended");
    let at = |words: &str| told.err.find(words).unwrap_or_else(|| panic!("{words}: {}", told.err));
    let order =
        ["CHANGE TO RESERVE, OUT", "SIGNAL:", "ON AIR: Żaneta Brzęczyk (zaneta)", "ATTENDANT:", "THE SET:"];
    assert!(order.windows(2).all(|w| at(w[0]) < at(w[1])), "{}", told.err);
}

/// On a live permit what was countersigned stands, unless it turned bad: that is kept, and what is of life stops the work.
#[test]
fn what_turned_bad_is_kept_on_a_live_permit_and_stops_the_work() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["answer", &n, "co_now", "1", "--again", "other"], "")
        .code(1)
        .says("what was countersigned stands")
        .says("airwrit reading");
    let told = s
        .run(&["answer", &n, "co_now", "40", "--again", "other"], "")
        .code(1)
        .says("OUT OF LIMITS: CO in the air of this set now holds")
        .says("EVERYONE OUT")
        .says("suspended");
    let at = |words: &str| told.err.find(words).unwrap_or_else(|| panic!("{words}: {}", told.err));
    assert!(at("SIGNAL:") < at("ON AIR: Żaneta Brzęczyk (zaneta)"), "{}", told.err);
    s.run(&["show", &n], "").says("SUSPENDED").says("OUT OF LIMITS: CO in the air of this set now holds");
    s.run(&["audit", &s.at("register")], "")
        .says("no line contradicts its rules")
        .says("1 was on this air, and no call-out is told");
    // Once everybody was called out nothing is asked.
    s.run(&["call-out"], "").code(0);
    let told = s.run(&["audit", &s.at("register")], "");
    assert!(!told.out.contains("no call-out is told"), "{}", told.out);
}

/// What holds for one wearer stops nobody else: who is on air with it comes out, and that stands first.
#[test]
fn a_wearer_for_whom_something_of_life_holds_comes_out() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let bad = ["answer", &n, "escape_worn", "no", "--item", "zaneta", "--again", "other"];
    s.run(&bad, "").code(1);
    let board = s.run(&["board"], "").code(0).out;
    let first = board.lines().find(|l| l.trim_start().starts_with("!!")).unwrap_or_default();
    assert!(first.contains("Żaneta Brzęczyk (on air outside) COMES OUT NOW"), "{board}");
    assert!(board.contains("LIVE"), "{board}");
}

/// Whoever a roll call did not find may be breathing the air of the set, whatever the tally says.
#[test]
fn nothing_is_stopped_or_ended_while_somebody_is_missing() {
    let (mut s, n) = Shell::live();
    s.run(&["roll-call", &n, "--missing", "nikos"], EVERYONE).code(0);
    let missing = "MISSING at the roll call of";
    s.run(&["call-out"], "")
        .code(0)
        .says("LOOK FOR: MISSING at the roll call of")
        .says("Νίκος Θαλασσινός (nikos)");
    s.run(&["set", "stopped", "heron"], "").code(1).says(missing);
    s.signed(&["hand-back", &n], "lukasz").code(1).says(missing);
    s.signed(&["cancel", &n, "--reason", "rain"], "eleni").code(1).says(missing);
    let board = s.run(&["board"], "").code(0).out;
    let first = board.lines().find(|l| l.trim_start().starts_with("!!")).unwrap_or_default();
    assert!(first.contains(missing), "{board}");
    s.run(&["roll-call", &n], EVERYONE).code(0);
    assert!(!s.run(&["board"], "").code(0).out.contains(missing));
    assert!(!s.run(&["set", "stopped", "heron"], "").code(1).err.contains(missing));
}

/// Nobody is found by a clock: the time of the permit is over, and who is missing is looked for still.
#[test]
fn somebody_missing_is_looked_for_when_the_permit_has_lapsed() {
    let (mut s, n) = Shell::live();
    s.run(&["roll-call", &n, "--missing", "nikos"], EVERYONE).code(0);
    s.wait(15 * 3600);
    for _ in 0..2 {
        s.run(&["board"], "").code(0).says("MISSING at the roll call of");
        s.run(&["call-out"], "")
            .code(0)
            .says("SIGNAL")
            .says("RESCUE")
            .says("LOOK FOR: MISSING at the roll call of");
    }
    s.run(&["roll-call", &n], EVERYONE).code(0);
    assert!(!s.run(&["board"], "").code(0).out.contains("MISSING at"));
}

/// A set that runs with no permit open, and sheets of a permit that has ended, stand on the board too.
#[test]
fn the_board_tells_what_no_permit_does() {
    let (mut s, n) = Shell::live();
    let to = s.at("p.pdf");
    s.run(&["print", &n, "--to", &to, "--hangs", "at the manhole"], "").code(0);
    s.wait(15 * 3600);
    s.run(&["board"], "")
        .code(0)
        .says("heron RUNS since")
        .says(&format!("{n} is lapsed: take down copy 1 (permit), which hangs at the manhole"));
}

/// The operator ends a drill or a false alarm, and nothing that came beside it.
#[test]
fn a_drill_lifts_no_suspension_of_another_cause() {
    let cause = ["--cause", "It was a drill"];
    for (before, ending, words) in [
        (&["suspend", "--reason", "hose burst"][..], "drill", "somebody suspended it"),
        (&["roll-call", "--missing", "zaneta"], "drill", "missing at a roll call"),
        (&["event", "--what", "wind_turned"], "drill", "after `wind_turned`"),
        (&["event", "--what", "a man is down"], "false_alarm", "after `other`"),
        (&["event", "--what", "contact_lost"], "false_alarm", "after `contact_lost`"),
        (&["event", "--what", "wind_turned"], "false_alarm", ""),
    ] {
        let (mut s, n) = Shell::live();
        s.run(&[&before[..1], &[n.as_str()], &before[1..]].concat(), EVERYONE).code(0);
        s.run(&["event", &n, "--what", ending], "").code(0);
        s.run(&["roll-call", &n], EVERYONE).code(0);
        read_all(&mut s, &n);
        let refused = s.signed(&[&["reinstate", &n][..], &cause].concat(), "lukasz");
        let told = refused.err.contains(words);
        assert!(told && (words.is_empty() || refused.code == 1), "{words}: {}", refused.err);
        assert!(!words.is_empty() || !refused.err.contains("a supervisor reinstates"), "{}", refused.err);
    }
}

/// One alarm entered by two people is one alarm, with one order; what is wrong with another gauge has another.
#[test]
fn an_alarm_told_twice_has_one_order() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    for _ in 0..2 {
        let told = s.run(&["event", &n, "--what", "co"], "").code(0);
        assert!(told.err.starts_with("CHANGE TO RESERVE, OUT\n"), "{}", told.err);
        s.wait(5);
    }
    s.run(&["board"], "").code(0).says("CO at").says(": CHANGE TO RESERVE, OUT");
    s.run(&["event", &n, "--what", "supply_low"], "").code(0);
    let told = s.run(&["event", &n, "--what", "co"], "").code(0);
    assert!(told.err.starts_with("OUT NOW, ON ESCAPE SETS"), "{}", told.err);
    // Filled since, nobody knows when the air is gone until it is read again.
    s.run(&["set", "filled", "heron", "--from", "not_known"], "").code(0).says("ATTENDANT:");
    s.run(&["event", &n, "--what", "supply_low"], "").code(0).says("AIR GONE AT ANY MOMENT");
}

/// Whoever is on air before the permit is issued comes off first, whatever else is ready.
#[test]
fn nothing_is_issued_over_somebody_on_air_already() {
    let (mut s, n) = Shell::declared();
    s.run(&["on", "nikos", "--report"], "").code(0).says("BREACH");
    s.signed(&["countersign", &n], "eleni")
        .code(1)
        .says("nikos is on air (on air outside) on no live permit");
    s.run(&["off", "NIKOS"], "").code(0);
    s.signed(&["countersign", &n], "eleni").code(0).says("is live");
}

/// What the register cannot keep is judged and told all the same, and suspends by what is written aside.
#[test]
fn a_reading_or_a_missing_person_that_cannot_be_kept_suspends() {
    for lost in [
        &["reading", "--what", " CO ", "--value", "50 ppm"][..],
        &["roll-call", "--missing", "zaneta"],
        &["set", "moved", "heron", "--place", "quay3", "--report"],
    ] {
        let (mut s, n) = Shell::live();
        s.run(&["on", "zaneta"], "").code(0);
        let (seal, away) = (s.path("seal"), s.path("seal-away"));
        std::fs::rename(&seal, &away).unwrap();
        let args =
            if lost[0] == "set" { lost.to_vec() } else { [&lost[..1], &[n.as_str()], &lost[1..]].concat() };
        let told = s.run(&args, EVERYONE).code(3).says("SIGNAL:").says("NOT KEPT IN THE REGISTER");
        assert!(told.err.contains("ON AIR: Żaneta Brzęczyk (zaneta)"), "{}", told.err);
        let _ = std::fs::remove_dir_all(&seal);
        std::fs::rename(&away, &seal).unwrap();
        s.run(&["show", &n], "").code(0).says("SUSPENDED");
        s.run(&["in", "zaneta"], "").code(1);
    }
}

/// A reading that no cylinder can give is one that was read wrong; bytes that are no text stop no alarm.
#[test]
fn what_cannot_be_is_not_taken_for_good() {
    let (mut s, n) = Shell::live();
    s.run(&["reading", &n, "--what", "reserve", "--value", "900 bar"], "")
        .code(0)
        .says("more than its cylinders can hold");
    s.run(&["on", "zaneta"], "").code(1);
}

/// What is read is not lost to how it is said, or to a slip in the number of the permit.
#[test]
fn readings_as_people_say_them() {
    let (mut s, n) = Shell::live();
    s.run(&["reading", &n, "--what", "supply", "--value", "6.0 barg"], "").code(0).says("read");
    s.run(&["reading", &n, "--what", "co", "--value", "< 1 ppm"], "")
        .code(0)
        .says("NOTE: below the lowest mark is kept as the mark itself, 1");
    s.run(&["reading", &n, "--what", "reserve", "--value", "<200 bar"], "")
        .code(2)
        .says("what the needle shows");
    s.run(&["reading", "KW2-261125-77", "--what", "co", "--value", "1 ppm"], "")
        .code(0)
        .says(&format!("it is kept for {n}, the only one at work"));
    // Opened under people, nobody knows what its air is.
    s.run(&["on", "zaneta"], "").code(0);
    let ran = s.run(&["set", "serviced", "heron", "--what", "filter"], "").code(0);
    assert!(ran.err.contains("SIGNAL: "), "{ran:?}");
    s.run(&["board"], "").code(0).says("SUSPENDED").says("STOPPED at ").says("serviced under people");
}

/// Names and words that are nearly right are told, and nothing hidden is made of them.
#[test]
fn slips_of_the_finger_are_told() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zanta"], "").code(1).says("planned are: ").says("was zaneta meant?");
    s.run(&["on", "pavlos"], "").code(1).says("one of the rescuers").says("air of their own");
    s.run(&["reading", &n, "--what", "reserv", "--value", "207 bar"], "").code(2).says("was reserve meant?");
    s.run(&["on", "zaneta", "--by", "lukaz"], "")
        .code(0)
        .says("nobody here is called `lukaz`")
        .says("was lukasz meant?");
    let good = s.run(&["out", "zaneta", "--by", "oksana"], "").code(0);
    assert!(!good.err.contains("nobody here"), "{good:?}");
    s.second.set(airwrit::time::seconds("2026-11-25T13:45:00Z"));
    s.run(&["out", "zaneta"], "").code(0).says(&format!("{n}: ITS TIME WAS OVER AT "));
}

/// Whoever is on air gets the order that was decided for them, not that of a draft of another permit on the same set; and
/// their own sheets are named.
#[test]
fn a_draft_orders_nobody_who_breathes() {
    let (mut s, n) = Shell::live();
    let to = s.at("permit.pdf");
    s.run(&["print", &n, "--to", &to, "--hangs", "at the manhole"], "").code(0);
    s.run(&["on", "zaneta"], "").code(0);
    let job = include_str!("../../examples/job.yaml")
        .replace("attendant: oksana", "attendant: bohdan")
        .replace("entry_watch: marit", "entry_watch: jiri");
    let file = s.write(
        "other.yaml",
        job.lines().filter(|l| !l.contains("person: zaneta")).fold(String::new(), |all, l| all + l + "\n"),
    );
    let draft = s.run(&["open", "--job", &file], "").code(0).out.trim().to_owned();
    let own = s.run(&["event", &n, "--what", "co"], "").code(0);
    let by_draft = s.run(&["event", &draft, "--what", "co"], "").code(0);
    let order = |ran: &crate::support::shell::Ran| ran.err.lines().next().unwrap_or_default().to_owned();
    assert!(order(&own).starts_with("CHANGE TO RESERVE"), "{own:?}");
    assert_eq!(order(&by_draft), order(&own));
    assert!(by_draft.err.contains("take down copy 1"), "{by_draft:?}");
}

/// A low-reserve alarm after the last reading: what was read before says nothing any more.
#[test]
fn the_low_reserve_alarm_outdates_the_reading() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    s.wait(600);
    s.run(&["event", &n, "--what", "reserve_low"], "")
        .code(0)
        .says("AIR GONE AT ANY MOMENT: nobody can say when, the low-reserve alarm of ");
    s.run(&["reading", &n, "--what", "reserve", "--value", "95 bar"], "")
        .code(0)
        .says("AIR MAY BE GONE FROM ");
}

/// Most of the longest spell gone: what is left is told at the door.
#[test]
fn what_is_left_of_a_spell_is_told() {
    let (mut s, n) = Shell::live();
    let first = s.run(&["on", "zaneta"], "").code(0);
    assert!(!first.err.contains("left of the longest spell"), "{first:?}");
    s.wait(40 * 60);
    for (what, value) in [("co", "1 ppm"), ("supply", "6 bar"), ("reserve", "207 bar")] {
        s.run(&["reading", &n, "--what", what, "--value", value], "").code(0);
    }
    s.run(&["in", "zaneta"], "").code(0).says("min left of the longest spell, the way out among it");
}
