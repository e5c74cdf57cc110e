//! Looking: lint, show, print, excerpt, verify.

use crate::support::day::{Day, Plan};
use crate::support::shell::{Shell, copy, shipped};

#[test]
fn lint_finds_everything_and_says_where() {
    let mut s = Shell::new();
    let (a, b) = (shipped("checklists/pre-start.yaml"), shipped("examples/site.yaml"));
    s.bare(&["lint", &a, &b], "").code(0).says("2 files, 0 errors");
    let bad = s.write("bad.yaml", "checklist: x\nrevision: 1\ntitle: X\nstages: []\nfish: 1\n");
    let ran = s.bare(&["lint", &bad], "").code(1);
    assert!(ran.out.contains("bad.yaml:") && ran.out.contains("error["), "{ran:?}");
    let ran = s.bare(&["lint", &bad, "--json"], "").code(1);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert!(
        json.as_array().is_some_and(|a| !a.is_empty() && a.iter().all(|f| f["code"].is_string())),
        "{json}"
    );
    // What only set, site and job together show.
    let set = shipped("examples/set.yaml");
    let job = std::fs::read_to_string(shipped("examples/job.yaml")).unwrap();
    let wrong = s.write("job.yaml", job.replacen("outlet: red", "outlet: rde", 1));
    s.bare(&["lint", &wrong], "").code(0);
    s.bare(&["lint", &set, &b, &wrong], "").code(1).says("which the set does not have");
    s.bare(&["lint", &set, &b, &shipped("examples/job.yaml")], "").code(0);
    s.bare(&["lint", "missing.yaml"], "").code(3).says("missing.yaml");
    let junk = s.write("junk.yaml", [0xff, 0xfe, 0x00, 0x01]);
    s.bare(&["lint", &junk], "").code(1);
    let folder = s.folder.path().to_str().unwrap().to_owned();
    s.bare(&["lint", &folder], "").code(3);
}

#[test]
fn show_lists_and_shows() {
    let mut s = Shell::station();
    s.run(&["show"], "").code(0).says("no permit yet").says("`airwrit open --job FILE --register ");
    let n = s.open();
    s.run(&["show"], "").code(0).says(&format!("{n}  draft")).says("set heron");
    let ran = s.run(&["show", "--json"], "").code(0);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(json["permits"][0]["permit"], n.as_str());
    assert_eq!(json["on_air"].as_array().map(Vec::len), Some(0));
    let ran = s.run(&["show", &n, "--json"], "").code(0);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((json["number"].as_str(), json["state"].as_str()), (Some(n.as_str()), Some("draft")));
    s.run(&["show", "KW7-261125-77"], "").code(1).says("there is no permit");
}

#[test]
fn looking_needs_no_key_and_waits_for_nobody() {
    let (s, n) = Shell::live();
    let mut other = Shell::new();
    copy(&s.path("register"), &other.path("register"));
    let lock = airwrit::disk::Lock::take(&other.path("register")).unwrap();
    other.run(&["show", &n], "").code(0).says("check word");
    let to = other.at("permit.pdf");
    other.run(&["print", &n, "--to", &to], "").code(0);
    drop(lock);
    assert!(!other.path("seal").exists());
    other.run(&["suspend", &n, "--reason", "x"], "").code(3).says("does not hold the key for the next line");
}

#[test]
fn a_printed_copy_is_numbered_and_taken_down() {
    let (mut s, n) = Shell::live();
    let to = s.at("permit.pdf");
    s.run(&["print", &n, "--to", &to, "--hangs", "at the manhole"], "")
        .code(0)
        .says("copy 1, at the manhole");
    assert!(s.read("permit.pdf").starts_with(b"%PDF-"));
    s.run(&["print", &n, "--to", &to, "--hangs", "in the office", "--letter"], "")
        .code(0)
        .says("copy 2, in the office");
    s.run(&["taken-down", &n, "--copy", "1"], "").code(0).says("copy 1 taken down");
    s.run(&["taken-down", &n, "--copy", "9"], "").code(1).says("has no copy 9");
    s.run(&["print", "KW7-261125-77", "--to", &to], "").code(1);
    let nowhere = s.at("no/such/permit.pdf");
    s.run(&["print", &n, "--to", &nowhere], "").code(3).says("no/such");
}

#[test]
fn what_is_printed_or_cut_out_never_replaces_a_key_or_the_register() {
    let (mut s, n) = Shell::live();
    let register = s.at("register/0001.jsonl");
    let before = s.read("register/0001.jsonl");
    s.run(&["excerpt", &n, "--to", &register], "").code(3);
    s.run(&["print", &n, "--to", &register], "").code(3);
    assert!(s.read("register/0001.jsonl").starts_with(&before));
    s.run(&["show", &n], "").code(0);
}

#[test]
fn an_excerpt_verifies_alone() {
    let (mut s, n) = Shell::live();
    let to = s.at("excerpt.jsonl");
    s.run(&["excerpt", &n, "--to", &to], "").code(0).says("lines");
    s.bare(&["verify", &to, "--excerpt"], "").code(5).says("unproven");
    s.run(&["excerpt", "KW7-261125-77", "--to", &to], "").code(1);
    s.bare(&["verify", "missing"], "").code(3).says("missing");
    let empty = s.write("empty.jsonl", "");
    let ran = s.bare(&["verify", &empty], "");
    assert!(ran.code == 3 || ran.code == 4, "{ran:?}");
    let junk = s.write("junk.jsonl", "{\"body\":{},\"seal\":\"\"}\n");
    s.bare(&["verify", &junk], "").code(4);
}

/// A permit's paper carries its record; drawn from it again it is the same in every byte, and a changed one is found out.
#[test]
fn a_paper_is_verified_from_the_file_alone() {
    let (mut s, n) = Shell::live();
    let to = s.at("permit.pdf");
    s.run(&["print", &n, "--to", &to, "--hangs", "at the manhole", "--letter"], "").code(0);
    let good = s.bare(&["verify", &to], "").code(5);
    assert!(good.out.contains("pages: drawn again from the record, the same in every byte"), "{good:?}");
    assert!(good.out.contains(&format!("permit {n}: live")), "{good:?}");
    let json: serde_json::Value = serde_json::from_str(&s.bare(&["verify", &to, "--json"], "").out).unwrap();
    assert_eq!(
        (json["pages"].as_str(), json["drawn_by"].as_str()),
        (Some("same"), Some(airwrit::paper::DRAWN_BY))
    );
    let bytes = s.read("permit.pdf");
    let record = bytes.windows(9).position(|w| w == b"{\"body\":{").unwrap();
    let comment = bytes.windows(9).rposition(|w| w == b"%airwrit ").unwrap();
    // Through the whole file; in the record; and every byte of the comment and what follows it.
    let mut places: Vec<usize> = (0..bytes.len()).step_by(bytes.len() / 16).collect();
    places.extend([record, record + 300, record - 2, comment - 1]);
    places.extend((comment..bytes.len()).step_by(7));
    for at in places {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        let file = s.write("changed.pdf", &changed);
        let ran = s.bare(&["verify", &file], "");
        assert!(!ran.out.contains("the same in every byte") && ran.code >= 3, "{at}: {ran:?}");
    }
    // A number of a copy that the record does not have, though nothing on the pages would show it.
    let plain = s.at("plain.pdf");
    s.run(&["print", &n, "--to", &plain], "").code(0);
    for (file, copy) in [("plain.pdf", "\"copy\":0"), ("permit.pdf", "\"copy\":1")] {
        let bytes = s.read(file);
        let at = bytes.windows(copy.len()).rposition(|w| w == copy.as_bytes()).unwrap();
        let mut changed = bytes.clone();
        changed[at + copy.len() - 1] = b'7';
        let file = s.write("changed.pdf", &changed);
        let said = s.bare(&["verify", &file], "").code(4).out;
        // What is said first is how it ended.
        assert!(
            said.starts_with("broken: PAGES DIFFER") && !said.contains("the same in every byte"),
            "{said}"
        );
        let json: serde_json::Value =
            serde_json::from_str(&s.bare(&["verify", &file, "--json"], "").out).unwrap();
        assert_eq!((json["verdict"].as_str(), json["pages"].as_str()), (Some("broken"), Some("differ")));
    }
    // Drawn by another version: the record is verified, the pages are not compared.
    let text = bytes.clone();
    let version = format!("%airwrit {} ", airwrit::paper::DRAWN_BY);
    let mut other = text[..comment].to_vec();
    other.extend(b"%airwrit 9.9.9 ");
    other.extend(&text[comment + version.len()..]);
    let file = s.write("other.pdf", &other);
    s.bare(&["verify", &file], "").code(5).says("pages not compared: airwrit 9.9.9 drew them");
    // Given beside a register, it speaks for its lines, and nobody looked at its pages.
    let register = s.at("register");
    let ran = s.bare(&["audit", &register, "--paper", &file], "");
    assert!(
        ran.out.contains("pages not compared: another version drew them, and they may say"),
        "{}",
        ran.out
    );
    let file = s.write("bare.pdf", b"%PDF-1.7\nnothing\n%%EOF\n");
    s.bare(&["verify", &file], "").code(3).says("says nowhere which record");
}

/// The lines of a volume of the demo.
fn demo_lines(s: &Shell) -> Vec<String> {
    String::from_utf8(s.read("demo/register/0001.jsonl")).unwrap().lines().map(str::to_owned).collect()
}

/// A folder with one volume.
fn folder(s: &Shell, name: &str, text: impl AsRef<[u8]>) -> String {
    std::fs::create_dir(s.path(name)).unwrap();
    s.write(&format!("{name}/0001.jsonl"), text);
    s.at(name)
}

/// A copy is older only where it checks to its end; a damaged one is told with the place, in whichever order the two are given.
#[test]
fn a_damaged_copy_is_never_an_older_one() {
    let (mut s, _) = Shell::demo();
    let (register, trust) = (s.at("demo/register"), s.at("demo/trust.yaml"));
    let mut lines = demo_lines(&s);
    let older = folder(&s, "older", lines[..300].join("\n") + "\n");
    s.bare(&["verify", &register, "--against", &older, "--trust", &trust], "").code(0).says("is older");
    s.bare(&["audit", &register, &older, "--trust", &trust], "").code(0).says("is older");
    s.bare(&["audit", &older, &register, "--trust", &trust], "").code(0).says("is older");
    let no_end = folder(&s, "no-end", lines.join("\n"));
    let mut damaged: Vec<String> =
        ["cut-short", "line-removed", "lines-swapped", "reading-changed", "signature-used-again"]
            .iter()
            .map(|name| s.at(&format!("demo/damaged/{name}")))
            .collect();
    damaged.push(no_end);
    // Sent as text, every line has another end.
    damaged.push(folder(&s, "as-text", lines.join("\r\n") + "\r\n"));
    for copy in &damaged {
        let verified = s.bare(&["verify", copy, "--trust", &trust, "--json"], "").code(4);
        let json: serde_json::Value = serde_json::from_str(&verified.out).unwrap();
        let (line, rule) = (&json["said"][0]["line"], json["said"][0]["rule"].as_str().unwrap());
        let told = format!("BROKEN at line {line}, rule `{rule}`");
        for args in [[&register, copy], [copy, &register]] {
            let ran = s.bare(&["audit", args[0], args[1], "--trust", &trust], "").code(4);
            assert!(ran.out.starts_with("SOMETHING GIVEN BESIDE IT IS BROKEN"), "{copy}: {}", ran.out);
            assert!(ran.out.contains(&told) && !ran.out.contains("older"), "{copy}: {}", ran.out);
        }
        let ran = s.bare(&["verify", &register, "--against", copy, "--trust", &trust], "").code(4);
        assert!(ran.out.contains(&format!("THE OTHER COPY IS {told}")), "{copy}: {}", ran.out);
        assert!(!ran.out.contains("another register"), "{copy}: {}", ran.out);
        let ran = s.bare(&["verify", copy, "--against", &register, "--trust", &trust], "").code(4);
        assert!(ran.out.contains(&format!("THIS COPY IS {told}")), "{copy}: {}", ran.out);
        assert!(!ran.out.contains("older") && !ran.out.contains("GOES ON"), "{copy}: {}", ran.out);
    }
    // Both lines, and the place in which they differ.
    let ran =
        s.bare(&["verify", &register, "--against", &damaged[3], "--trust", &trust, "--json"], "").code(4);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let there = &json["against"]["there"];
    let at = there["line"].as_u64().unwrap() as usize;
    assert_eq!(there["other"], airwrit::record::line::hash(lines[at].as_bytes()).as_str());
    assert!(there["hash"].is_string() && there["hash"] != there["other"] && there["others"] == 0, "{there}");
    assert!(lines[at].contains(there["differ"][1].as_str().unwrap()), "{there}");
    // The first line of all: still a copy of this register.
    lines[0] = lines[0].replacen("\"time\":\"2026", "\"time\":\"2025", 1);
    let first = folder(&s, "first", lines.join("\n") + "\n");
    let ran = s.bare(&["verify", &register, "--against", &first, "--trust", &trust], "").code(4);
    assert!(
        ran.out.contains("THE OTHER COPY IS BROKEN at line 0") && !ran.out.contains("another register"),
        "{}",
        ran.out
    );
}

/// Whoever damages a line of the one copy cannot hide that the other goes on in another way behind it.
#[test]
fn a_damaged_line_hides_no_fork_behind_it() {
    let (mut s, n) = Shell::live();
    copy(&s.path("register"), &s.path("r2"));
    copy(&s.path("seal"), &s.path("seal2"));
    s.run(&["suspend", &n, "--reason", "x"], "").code(0);
    let (r2, seal2, register) = (s.at("r2"), s.at("seal2"), s.at("register"));
    s.bare(&["--register", &r2, "--seal", &seal2, "suspend", &n, "--reason", "y"], "").code(0);
    s.bare(&["verify", &register, "--against", &r2], "").code(4).says("FORKED");
    let text = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    lines[8] = lines[8].replacen("\"seq\":8", "\"seq\":9", 1);
    s.write("register/0001.jsonl", lines.join("\n") + "\n");
    let last = airwrit::record::line::hash(lines.last().unwrap().as_bytes());
    let both = [["verify", &register, "--against", &r2], ["verify", &r2, "--against", &register]];
    for args in both {
        s.bare(&args, "").code(4).says("other one").says(&last);
    }
    s.bare(&["audit", &register, &r2], "").code(4).says("other one").says(&last);
}

#[test]
fn an_excerpt_taken_for_a_register_is_recognised_and_so_is_a_first_volume_under_a_later_name() {
    let (mut s, _) = Shell::demo();
    let trust = s.at("demo/trust.yaml");
    let mut d = Day::opened(Plan::small());
    d.live(&d.number.clone());
    d.cancel(&d.number.clone(), "eleni").unwrap();
    let job = d.plan.job.clone();
    let second = d.open(&job);
    d.live(&second);
    let excerpt = s.write("excerpt.jsonl", airwrit::record::excerpt::of(d.lines(), &second).unwrap());
    let ran = s.bare(&["verify", &excerpt], "").code(4);
    let hint = format!("hint: read as an excerpt of {second} it checks");
    assert!(ran.err.contains(&hint) && ran.err.contains("--excerpt"), "{ran:?}");
    assert!(!s.bare(&["verify", &excerpt, "--excerpt"], "").code(5).err.contains("hint"));
    let ran = s.bare(&["audit", &excerpt], "").code(4);
    assert!(ran.err.contains(&hint) && ran.err.contains("`airwrit verify --excerpt "), "{ran:?}");
    // First of all, and on the page too.
    assert!(ran.out.starts_with(&format!("AN EXCERPT of {second}, and no whole register")), "{}", ran.out);
    let to = s.at("excerpt.html");
    s.bare(&["audit", &excerpt, "--html", &to], "").code(4);
    let html = String::from_utf8(s.read("excerpt.html")).unwrap();
    assert!(html.contains(&format!("AN EXCERPT of {second}")) && html.contains("`airwrit verify --excerpt`"));
    assert!(!s.bare(&["audit", &s.at("demo/damaged/reading-changed")], "").code(4).err.contains("hint"));
    let changed = s.at("demo/damaged/reading-changed");
    assert!(!s.bare(&["verify", &changed, "--trust", &trust], "").code(4).err.contains("hint"));

    std::fs::create_dir(s.path("second")).unwrap();
    s.write("second/0002.jsonl", s.read("demo/register/0001.jsonl"));
    let (second, register) = (s.at("second"), s.at("demo/register"));
    for args in [
        &["verify", &second, "--trust", &trust][..],
        &["verify", &second, "--trust", &trust, "--against", &register],
        &["audit", &second, "--trust", &trust],
    ] {
        let ran = s.bare(args, "").code(5);
        assert!(ran.out.contains("`volume`: the first file here is 0002.jsonl"), "{}", ran.out);
    }
}

/// Lines that were cut off leave no trace in what is left: whoever gave nothing beside it is told.
#[test]
fn a_register_by_itself_says_that_nothing_outside_speaks_for_it() {
    let (mut s, _) = Shell::demo();
    let (register, trust) = (s.at("demo/register"), s.at("demo/trust.yaml"));
    let none = "nothing outside speaks for any of its lines";
    s.bare(&["verify", &register, "--trust", &trust], "").code(0).says(none);
    let heads = s.write("heads.txt", airwrit::record::line::hash(demo_lines(&s)[9].as_bytes()));
    let ran = s.bare(&["verify", &register, "--trust", &trust, "--heads", &heads], "").code(0);
    assert!(!ran.out.contains(none), "{}", ran.out);
}

#[test]
fn a_report_is_written_over_no_file_and_says_what_to_do() {
    let mut s = Shell::station();
    s.open();
    let (register, to) = (s.at("register"), s.write("audit.html", "a record"));
    let ran = s.bare(&["audit", &register, "--html", &to], "").code(3);
    assert!(ran.err.contains("give another name, or take that one away"), "{}", ran.err);
    assert_eq!(s.read("audit.html"), b"a record");
}

/// Which of two histories is true nothing tells; each is judged.
#[test]
fn a_second_copy_of_a_fork_is_judged_too() {
    let mut s = Shell::station();
    let mut d = Day::opened(Plan::small());
    let n = d.number.clone();
    d.live(&n);
    let mut other = d.clone();
    d.cancel(&n, "eleni").unwrap();
    d.wait(60);
    other.on_permit(&n, "reading", &[("what", "co"), ("value", "300"), ("unit", "foo")]);
    let bad = other.lines().last().unwrap().seq;
    for (name, day) in [("a", &d), ("b", &other)] {
        std::fs::create_dir(s.path(name)).unwrap();
        s.write(&format!("{name}/0001.jsonl"), day.bytes());
    }
    let (a, b) = (s.at("a"), s.at("b"));
    let mut judged = |first: &str, second: &str| {
        let out = s.bare(&["audit", first, second], "").code(4).out.clone();
        let words = "judged by itself: lines that contradict the rules: ";
        out.split(words).nth(1).unwrap_or_else(|| panic!("{out}")).lines().next().unwrap().to_owned()
    };
    assert_eq!(judged(&a, &b), format!("1; not told of: 1, the first at line {bad}"));
    assert_eq!(judged(&b, &a), "0; not told of: 0");
}

/// A folder of registers is none itself, and a file without a line is told as what it is.
#[test]
fn a_folder_of_registers_and_an_empty_register_are_told_as_what_they_are() {
    let mut s = Shell::new();
    for name in ["two", "two/a", "two/b", "none", "empty"] {
        std::fs::create_dir(s.path(name)).unwrap();
    }
    s.write("two/a/0001.jsonl", "");
    s.write("two/b/0001.jsonl", "");
    s.write("empty/0001.jsonl", "");
    let (two, none, empty) = (s.at("two"), s.at("none"), s.at("empty"));
    for command in ["audit", "verify"] {
        let ran = s.bare(&[command, &two], "").code(3);
        assert!(
            ran.err.contains("2 stand in folders of it: give ") && ran.err.contains("two/a "),
            "{}",
            ran.err
        );
        let ran = s.bare(&[command, &none], "").code(3);
        assert!(ran.err.contains("no file 0001.jsonl") && !ran.err.contains("--register"), "{}", ran.err);
    }
    let ran = s.bare(&["audit", &empty], "").code(4);
    assert!(ran.out.starts_with("BROKEN: no line of a register can be read in it"), "{}", ran.out);
    assert!(ran.out.contains("station not known, "), "{}", ran.out);
}
