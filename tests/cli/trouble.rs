//! What goes wrong around the register: none, empty, damaged, locked, a key that is gone.

use crate::support::shell::{Shell, shipped};

#[test]
fn without_a_register_every_command_says_where_it_looked() {
    let mut s = Shell::new();
    let job = shipped("examples/job.yaml");
    let to = s.at("x");
    for args in [
        vec!["show"],
        vec!["walk"],
        vec!["open", "--job", &job],
        vec!["answer", "P", "step", "yes"],
        vec!["suspend", "P", "--reason", "x"],
        vec!["on", "zaneta"],
        vec!["print", "P", "--to", &to],
        vec!["excerpt", "P", "--to", &to],
        vec!["set", "started", "heron"],
        vec!["note", "P", "--words", "x"],
    ] {
        let ran = s.run(&args, "").code(3);
        assert!(
            ran.err.contains("there is no register in ") && ran.err.contains("--register"),
            "{args:?}: {ran:?}"
        );
    }
    assert!(!s.path("register").exists() && !s.path("seal").exists());
    std::fs::create_dir(s.path("register")).unwrap();
    s.run(&["show"], "").code(3).says("there is no register in ");
    std::fs::write(s.path("register/0001.jsonl"), "").unwrap();
    s.run(&["show"], "").code(3).says("no whole line");
    s.run(&["walk"], "").code(3).says("airwrit enrol");
}

#[test]
fn a_broken_register_is_4_and_nothing_is_written_to_it() {
    let mut s = Shell::station();
    let n = s.open();
    let path = s.path("register/0001.jsonl");
    let whole = s.read("register/0001.jsonl");
    let mut bytes = whole.clone();
    let at = bytes.iter().position(|b| *b == b'\n').unwrap() + 60;
    bytes[at] ^= 1;
    std::fs::write(&path, &bytes).unwrap();
    for args in [vec!["show"], vec!["walk"], vec!["answer", &n, "job_read", "yes"], vec!["on", "zaneta"]] {
        let ran = s.run(&args, "yes").code(4);
        assert!(
            ran.err.contains("broken at line 1, rule `") && ran.err.contains("airwrit verify"),
            "{ran:?}"
        );
    }
    assert_eq!(s.read("register/0001.jsonl"), bytes);
    // Nothing is proved from the bad line on; how they are called out is told all the same.
    for args in [vec!["call-out"], vec!["event", "--what", "co"], vec!["board"], vec!["show"]] {
        let ran = s.run(&args, "").code(4);
        assert!(ran.err.contains("  SIGNAL, NOT PROVED: Three long blasts"), "{ran:?}");
    }
    std::fs::write(&path, [&whole[..], b"half a line"].concat()).unwrap();
    s.run(&["show"], "").code(0).says("bytes that are no whole line");
    // Nobody takes what is left for all of it.
    s.run(&["board"], "").code(0).says("THIS IS NOT ALL: something of the register is missing");
    let to = s.at("sheet.pdf");
    s.run(&["print", &n, "--to", &to], "").code(1).says("something of this register is missing");
    // Never acknowledged: cut off, kept aside, and said in a line of its own.
    s.run(&["answer", &n, "job_read", "yes"], "").code(0);
    assert!(String::from_utf8(s.read("register/0001.jsonl")).unwrap().contains("\"recovery\""));
}

/// Whoever went on air after a line that is damaged is named; nobody counts them off.
#[test]
fn a_damaged_register_still_names_people() {
    let (mut s, _) = Shell::live();
    let mut bytes = s.read("register/0001.jsonl");
    let at = bytes.len() - 200;
    for args in [["on", "zaneta"], ["in", "zaneta"], ["on", "nikos"], ["off", "nikos"]] {
        s.run(&args, "").code(0);
    }
    bytes = s.read("register/0001.jsonl");
    bytes[at] ^= 1;
    s.write("register/0001.jsonl", &bytes);
    let ran = s.run(&["call-out"], "").code(4);
    // By name, whoever last went in first.
    assert!(ran.err.find("(zaneta), who") < ran.err.find("(nikos), who"), "{ran:?}");
    ran.says("ON AIR, PERHAPS, NOT PROVED: Żaneta Brzęczyk (zaneta), who last went in, outlet red")
        .says("ON AIR, PERHAPS, NOT PROVED: Νίκος Θαλασσινός (nikos), who last came off air, outlet white")
        .says("  SIGNAL: ");
    // What could only be written beside it is told where it is looked for.
    s.run(&["event", "--what", "co"], "").code(4).says("NOT KEPT IN THE REGISTER");
    s.run(&["board"], "").code(4).says("written aside beside it").says(" event ").says("call out");
}

/// A report written aside that nobody can read any more may have been an alarm: it holds everything, once, and leaves a
/// trace. So does one that is missing between others.
#[test]
fn a_report_aside_that_cannot_be_read_or_is_gone_holds_everything() {
    for damage in ["cut", "empty", "gone", "last gone", "all gone", "changed"] {
        let (mut s, n) = Shell::live();
        s.run(&["on", "zaneta"], "").code(0);
        std::fs::rename(s.path("seal"), s.path("away")).unwrap();
        let alarms: [&[&str]; 2] = [&["event", &n, "--what", "co"], &["off", "somebody"]];
        for args in alarms {
            s.run(args, "").code(3).says("NOT KEPT IN THE REGISTER");
        }
        let mut files: Vec<_> =
            std::fs::read_dir(s.path("register")).unwrap().map(|e| e.unwrap().path()).collect();
        files.retain(|p| p.file_name().unwrap().to_str().unwrap().starts_with("aside-"));
        files.sort();
        let bytes = std::fs::read(&files[0]).unwrap();
        match damage {
            "cut" => std::fs::write(&files[0], &bytes[..40]).unwrap(),
            "empty" => std::fs::write(&files[0], b"").unwrap(),
            // Still a report of its kind, of another alarm.
            "changed" => {
                let other = String::from_utf8(bytes).unwrap().replace("\"co\"", "\"drill\"");
                std::fs::write(&files[0], other).unwrap();
            }
            // Only the list tells of it.
            "last gone" => std::fs::remove_file(&files[1]).unwrap(),
            "all gone" => {
                for file in &files {
                    std::fs::remove_file(file).unwrap();
                }
            }
            _ => std::fs::remove_file(&files[0]).unwrap(),
        }
        s.run(&["show"], "").code(0).says("CANNOT BE READ OR ARE MISSING").says("suspended");
        std::fs::rename(s.path("away"), s.path("seal")).unwrap();
        let doctor = s.run(&["doctor"], "");
        assert!(doctor.out.contains("cannot be read, or is missing"), "{doctor:?}");
        s.run(&["in", "zaneta"], "").code(1).says("suspended");
        let shown = s.run(&["show"], "").code(0);
        assert!(
            shown.out.contains("suspended") && !shown.err.contains("CANNOT BE READ"),
            "{damage} {shown:?}"
        );
        assert_eq!(aside(&s), "");
        let names: Vec<String> = std::fs::read_dir(s.path("register"))
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .filter(|f| f.starts_with("unread-"))
            .collect();
        assert_eq!(names.len(), usize::from(!damage.ends_with("gone")), "{names:?}");
        assert!(!s.path("register/told").exists() && !s.path("seal/told").exists());
        let v = s.at("register");
        s.bare(&["verify", &v], "").code(5);
    }
}

/// An older copy of the register beside the newer seal key, or one whose end was cut off, is not taken for the whole.
#[test]
fn an_older_copy_says_that_newer_lines_exist() {
    let (mut s, n) = Shell::live();
    crate::support::shell::copy(&s.path("register"), &s.path("backup"));
    let whole = s.run(&["show"], "").code(0);
    assert!(!whole.err.contains("OLDER"), "{whole:?}");
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["in", "zaneta"], "").code(0);
    let (backup, seal) = (s.at("backup"), s.at("seal"));
    let at = ["--register", &backup, "--seal", &seal];
    s.bare(&[&at[..], &["show"]].concat(), "").code(0).says("OLDER THAN ITS SEAL KEY");
    let json = s.bare(&[&at[..], &["show", "--json"]].concat(), "").code(0).out;
    assert!(json.contains("\"perhaps_others\": true"), "{json}");
    let ran = s.bare(&[&at[..], &["call-out", &n]].concat(), "");
    assert!(
        ran.err.contains("ON AIR: perhaps others") && !ran.err.contains("nobody on the tally"),
        "{ran:?}"
    );
    // A copy without any key, as an auditor has it, is looked at as it is.
    let none = s.at("none");
    let ran = s.bare(&["--register", &backup, "--seal", &none, "show"], "").code(0);
    assert!(!ran.err.contains("OLDER"), "{ran:?}");
}

/// What stands aside in the register's folder.
pub fn aside(s: &Shell) -> String {
    let mut names: Vec<_> =
        std::fs::read_dir(s.path("register")).unwrap().map(|e| e.unwrap().path()).collect();
    names.retain(|p| p.file_name().unwrap().to_str().unwrap().starts_with("aside-"));
    names.sort();
    names.iter().map(|p| std::fs::read_to_string(p).unwrap()).collect()
}

/// The folder of the seal's key is put back as it was: no empty one is made in its place meanwhile.
#[test]
fn a_seal_folder_that_is_away_leaves_its_place_free() {
    let mut s = Shell::station();
    let n = s.open();
    std::fs::rename(s.path("seal"), s.path("away")).unwrap();
    s.run(&["answer", &n, "job_read", "yes"], "").code(3);
    s.run(&["off", "zaneta"], "").code(3).says("NOT KEPT IN THE REGISTER");
    assert!(!s.path("seal").exists());
    std::fs::rename(s.path("away"), s.path("seal")).unwrap();
    s.run(&["answer", &n, "job_read", "yes"], "").code(0);
}

#[test]
fn a_locked_register_is_3_and_says_why() {
    let mut s = Shell::station();
    let n = s.open();
    let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
    let ran = s.run(&["answer", &n, "job_read", "yes"], "").code(3);
    assert!(ran.err.contains("another airwrit is writing to"), "{ran:?}");
    let ran = s.run(&["off", "zaneta"], "").code(3);
    assert!(ran.err.contains("NOT KEPT IN THE REGISTER") && aside(&s).contains("off_air"), "{ran:?}");
    s.run(&["show"], "").code(0).says("1 report written aside");
    drop(lock);
    s.run(&["answer", &n, "job_read", "yes"], "").code(0);
}

/// Somebody who went on air while nothing could be written counts on the permit they are planned on, on the
/// screen and after: it cannot be ended over their head.
#[test]
fn a_report_written_aside_counts_on_the_permit_the_person_is_planned_on() {
    let (mut s, n) = Shell::live();
    let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
    s.run(&["on", "zaneta", "--report"], "").code(3).says("NOT KEPT IN THE REGISTER");
    let ran = s.run(&["show"], "").code(0);
    let line = ran.out.lines().find(|l| l.starts_with("ON AIR")).unwrap();
    assert!(line.contains("zaneta") && line.contains(&n), "{line}");
    s.run(&["call-out"], "").code(3).says("ON AIR: Żaneta Brzęczyk (zaneta) on air outside, Red outlet");
    drop(lock);
    s.signed(&["cancel", &n, "--reason", "The ferry sails"], "eleni").code(1).says("zaneta is on air");
    s.run(&["off", "zaneta"], "").code(0);
    s.signed(&["cancel", &n, "--reason", "The ferry sails"], "eleni").code(0);
}

/// Where a report belongs hangs on those before it, also when all are entered at once.
#[test]
fn reports_written_aside_are_placed_one_after_the_other() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
    s.run(&["off", "zaneta"], "").code(3);
    s.run(&["on", "zaneta", "--report", "--set", "lent-set"], "").code(3);
    s.run(&["off", "zaneta"], "").code(3);
    let seen = s.run(&["show"], "").code(0);
    assert!(!seen.out.contains("ON AIR"), "{}", seen.out);
    drop(lock);
    s.run(&["note", &n, "--words", "The lock is gone"], "").code(0);
    let kept = s.run(&["show"], "").code(0);
    assert!(!kept.out.contains("ON AIR"), "{}", kept.out);
}

/// A pipe that nobody writes to would be waited for, with people on air.
#[cfg(unix)]
#[test]
fn what_is_no_plain_file_in_its_place_is_waited_for_by_nobody() {
    for name in ["register/0001.jsonl", "register/lock", "register/aside.txt", "seal/key"] {
        let mut s = Shell::station();
        s.open();
        let file = s.path(name);
        let _ = std::fs::remove_file(&file);
        assert!(std::process::Command::new("mkfifo").arg(&file).status().unwrap().success());
        // With `aside.txt` alone the register itself can be written.
        let code = if name.ends_with("aside.txt") { 0 } else { 3 };
        let ran = s.run(&["call-out"], "").code(code);
        assert!(ran.err.starts_with("I AM CALLING EVERYONE OUT"), "{ran:?}");
        if code == 3 {
            assert!(
                ran.err.contains("no plain file") && ran.err.contains("NOT KEPT IN THE REGISTER"),
                "{ran:?}"
            );
            s.run(&["off", "zaneta"], "").code(3).says("NOT KEPT IN THE REGISTER");
        }
        s.run(&["verify", &s.at("register")], "");
    }
}

#[test]
fn a_wrong_passphrase_keeps_nothing() {
    let mut s = Shell::station();
    let n = s.open();
    let key = s.at("eleni.pem");
    let before = s.read("register/0001.jsonl");
    let args = ["cancel", &n, "--reason", "x", "--by", "eleni", "--key", &key];
    s.run(&args, "a wrong one").code(3).says("does not open this key");
    s.run(&args, "").code(3).says("no passphrase was given");
    let key = s.at("lukasz.pem");
    let args = ["cancel", &n, "--reason", "x", "--by", "eleni", "--key", &key];
    s.run(&args, crate::support::shell::PASSPHRASE).code(1).says("eleni");
    let ran = s.run(&["show"], "").code(0);
    assert!(ran.out.contains("draft"), "{ran:?}");
    assert!(s.read("register/0001.jsonl").starts_with(&before));
}

#[test]
fn a_clock_far_behind_refuses_requests_and_keeps_reports() {
    let mut s = Shell::station();
    let n = s.open();
    s.second.set(s.second.get() - 3600);
    s.run(&["answer", &n, "job_read", "yes"], "").code(1).says("clock is");
    s.run(&["call-out", &n], "").code(0);
    s.run(&["off", "zaneta"], "").code(0);
}

/// The files that stand aside, in order.
fn files_aside(s: &Shell) -> Vec<std::path::PathBuf> {
    let mut all: Vec<_> = std::fs::read_dir(s.path("register")).unwrap().map(|e| e.unwrap().path()).collect();
    all.retain(|p| p.file_name().unwrap().to_str().unwrap().starts_with("aside-"));
    all.sort();
    all
}

/// The tally is not told as whole where a report of it is lost; people are called out all the same.
#[test]
fn a_call_out_says_that_a_lost_report_may_have_told_of_others() {
    let (mut s, n) = Shell::live();
    let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
    s.run(&["on", "zaneta", "--report"], "").code(3);
    drop(lock);
    for file in files_aside(&s) {
        std::fs::write(file, "").unwrap();
    }
    let json = s.run(&["show", &n, "--json"], "").code(0).out;
    assert!(json.contains("\"perhaps_others\": true"), "{json}");
    let ran = s.run(&["call-out"], "").code(0);
    assert!(ran.err.contains("perhaps others") && !ran.err.contains("nobody on the tally"), "{ran:?}");
}

/// A report whose words were damaged so that it still reads, though as no report of its kind, is not dropped.
#[test]
fn a_report_written_aside_that_reads_as_no_report_suspends_and_is_kept() {
    let (mut s, n) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
    s.run(&["event", &n, "--what", "co"], "").code(3).says("NOT KEPT IN THE REGISTER");
    drop(lock);
    let files = files_aside(&s);
    let [file] = files.as_slice() else { panic!("{files:?}") };
    let text = std::fs::read_to_string(file).unwrap();
    std::fs::write(file, text.replace("\"what\"", "\"whut\"")).unwrap();
    let ran = s.run(&["show"], "").code(0).says("CANNOT BE READ");
    assert!(ran.out.contains("suspended"), "{ran:?}");
    s.run(&["doctor"], "").code(1).says("cannot be read");
    s.run(&["in", "zaneta"], "").code(1).says("suspended");
    let register = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
    assert!(register.contains("cannot be read"), "{register}");
    let kept = file.file_name().unwrap().to_str().unwrap().replace("aside-", "unread-");
    assert!(s.path(&format!("register/{kept}")).exists() && files_aside(&s).is_empty());
    s.run(&["off", "zaneta"], "").code(0);
}

/// Numbers begin again once all is entered: what is missing a second time is not taken for the first.
#[test]
fn a_report_written_aside_that_is_missing_again_suspends_again() {
    let (mut s, n) = Shell::live();
    for times in 1..=2 {
        let lock = airwrit::disk::Lock::take(&s.path("register")).unwrap();
        s.run(&["event", &n, "--what", "co"], "").code(3);
        s.run(&["call-out", &n], "").code(3);
        drop(lock);
        std::fs::remove_file(&files_aside(&s)[0]).unwrap();
        s.run(&["show"], "").code(0).says("ARE MISSING");
        s.run(&["note", &n, "--words", "The lock is gone"], "").code(0);
        let register = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
        assert_eq!(register.matches("number 1 is missing").count(), times);
        let ran = s.run(&["show"], "").code(0);
        assert!(!ran.err.contains("ARE MISSING"), "{ran:?}");
    }
}
