//! The laptop is lost while somebody is on air: another machine goes on with a copy of the folder.

use crate::support::shell::{PASSPHRASE, Ran, Shell, copy, shipped};

/// `enrol` with the station's own roster, by its enroller, into other folders than the station's.
fn enrol(s: &mut Shell, register: &str, seal: &str, more: &[&str]) -> Ran {
    let (roster, a, b) = (s.at("roster.yaml"), s.at("roster.cust-a.sig"), s.at("roster.cust-b.sig"));
    let (key, register, seal) = (s.at("tuula.pem"), s.at(register), s.at(seal));
    let mut args = vec!["--register", &register, "--seal", &seal, "enrol", "--station", "KW7"];
    args.extend(["--roster", &roster, "--sig", &a, "--sig", &b, "--by", "tuula", "--key", &key]);
    args.extend(more);
    s.bare(&args, PASSPHRASE)
}

#[test]
fn another_machine_goes_on_with_who_is_on_air_and_suspends() {
    let (mut s, number) = Shell::live();
    s.run(&["on", "zaneta"], "").code(0);
    copy(&s.path("register"), &s.path("r2"));
    let (r2, seal2) = (s.at("r2"), s.at("seal2"));
    let second = |s: &mut Shell, args: &[&str]| {
        let mut all = vec!["--register", &r2, "--seal", &seal2];
        all.extend(args);
        s.bare(&all, "")
    };
    // Without the key nothing is written there, and the report goes aside.
    second(&mut s, &["out", "zaneta"]).code(3).says("does not hold the key").says("--next-volume");
    enrol(&mut s, "r2", "seal2", &[]).code(1).says("begin the next volume with --next-volume");
    enrol(&mut s, "r2", "seal2", &["--lost", "fell into the dock"]).code(1).says("they are not lost");
    enrol(&mut s, "r2", "seal2", &["--next-volume"])
        .code(0)
        .says("who was on air before still counts as on air")
        .says("call the roll");
    second(&mut s, &["show"])
        .code(0)
        .says("suspended")
        .says("ON AIR  Żaneta Brzęczyk (zaneta)  out, still on air");
    second(&mut s, &["off", "zaneta"]).code(0);
    second(&mut s, &["show", &number]).code(0);
    let custodians: Vec<String> = ["cust-a", "cust-b"]
        .iter()
        .map(|c| {
            let key = s.at(&format!("{c}.pem"));
            s.bare(&["key", "show", &key], PASSPHRASE).code(0).out.lines().nth(1).unwrap().to_owned()
        })
        .collect();
    let trust = ["--custodian", &custodians[0], "--custodian", &custodians[1]];
    let mut verify = vec!["verify", &r2];
    verify.extend(trust);
    s.bare(&verify, "").code(0).says("sound").says("2 volumes");
    // Given one by one they are no two registers that use one set.
    let volumes = ["0001.jsonl", "0002.jsonl"].map(|v| format!("{r2}/{v}"));
    let mut apart = vec!["audit", &volumes[0], &volumes[1]];
    apart.extend(trust);
    let told = s.bare(&apart, "").out;
    assert!(told.contains("are volumes of one register") && !told.contains("AT ONE TIME"), "{told}");

    // A copy without the first of them ends in the same line, and is not the same.
    let second_alone = format!("{r2}/0002.jsonl");
    let mut against = verify.clone();
    against.extend(["--against", &second_alone]);
    s.bare(&against, "").says("NOT IN THE OTHER ONE, which has lines after them: a volume is missing there");

    // The old machine turns up and goes on too: each copy checks, and together they show it.
    let register = s.at("register");
    verify.extend(["--against", &register]);
    s.bare(&verify, "").code(0).says("the other copy is older: 3 lines");
    s.run(&["off", "zaneta"], "").code(0);
    s.bare(&verify, "").code(4).says("FORKED").says("2:0");
    let to = s.at("excerpt");
    s.run(&["excerpt", &number, "--to", &to], "").code(0);
    *verify.last_mut().unwrap() = &to;
    s.bare(&verify, "").code(4).says("FORKED");
}

#[test]
fn a_machine_that_can_go_on_begins_no_next_volume_and_an_empty_folder_has_none() {
    let mut s = Shell::station();
    enrol(&mut s, "register", "seal", &["--next-volume"]).code(1).says("this machine can go on");
    let (r2, seal) = (s.at("r2"), s.at("seal2"));
    enrol(&mut s, "r2", "seal2", &["--next-volume"]).code(3).says("there is no register");
    enrol(&mut s, "r2", "seal2", &["--lost", "the laptop burnt"]).code(0).says("who is on air is NOT known");
    s.bare(&["--register", &r2, "--seal", &seal, "show"], "")
        .code(0)
        .says("a volume before this one is missing");
    s.bare(&["verify", &r2], "").code(5).says("rule `volume`").says("the laptop burnt");
    // The work goes on there: what is lost is told, and neither board nor paper is kept back for it.
    let key = s.at("tuula.pem");
    let files =
        ["checklists/pre-start.yaml", "checklists/shutdown.yaml", "examples/set.yaml", "examples/site.yaml"];
    let files: Vec<String> = files.iter().map(|f| shipped(f)).collect();
    let mut args = vec!["--register", &r2, "--seal", &seal, "approve", "--by", "tuula", "--key", &key];
    args.extend(files.iter().map(String::as_str));
    s.bare(&args, PASSPHRASE).code(0);
    let job = shipped("examples/job.yaml");
    let n = s
        .bare(&["--register", &r2, "--seal", &seal, "open", "--job", &job], "")
        .code(0)
        .out
        .trim()
        .to_owned();
    let board = s.bare(&["--register", &r2, "--seal", &seal, "board"], "").code(0);
    assert!(!board.out.contains("THIS IS NOT ALL") && board.err.contains("is missing"), "{board:?}");
    let to = s.at("draft.pdf");
    s.bare(&["--register", &r2, "--seal", &seal, "print", &n, "--to", &to], "").code(0);
    s.bare(&["verify", &to], "").code(5).says("the same in every byte");
}
