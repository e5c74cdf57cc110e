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
    std::fs::write(&path, [&whole[..], b"half a line"].concat()).unwrap();
    s.run(&["show"], "").code(0).says("bytes that are no whole line");
    // Never acknowledged: cut off, kept aside, and said in a line of its own.
    s.run(&["answer", &n, "job_read", "yes"], "").code(0);
    assert!(String::from_utf8(s.read("register/0001.jsonl")).unwrap().contains("\"recovery\""));
}

/// What stands aside in the register's folder.
pub fn aside(s: &Shell) -> String {
    let mut names: Vec<_> =
        std::fs::read_dir(s.path("register")).unwrap().map(|e| e.unwrap().path()).collect();
    names.retain(|p| p.file_name().unwrap().to_str().unwrap().starts_with("aside-"));
    names.sort();
    names.iter().map(|p| std::fs::read_to_string(p).unwrap()).collect()
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
