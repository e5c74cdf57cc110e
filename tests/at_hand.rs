//! The cache for opening (`actions::at_hand`), at a station on a disk: it is made, it is used, and nothing rests on it that
//! reading everything would not say.

use crate::support::shell::Shell;
use airwrit::actions::at_hand::{self, FILE, MARK};
use airwrit::disk::Folder;
use std::path::PathBuf;

struct Kept {
    s: Shell,
    n: String,
    register: PathBuf,
    seal: PathBuf,
}

impl Kept {
    fn live() -> Kept {
        let (s, n) = Shell::live();
        let seal = std::fs::read_dir(s.path("")).unwrap().map(|e| e.unwrap().path());
        let holds = |p: &PathBuf| p.join("key").is_file();
        let all: Vec<PathBuf> =
            seal.flat_map(|p| [vec![p.clone()], below(&p), below(&p.join("seal"))].concat()).collect();
        let seal = all.into_iter().find(holds).unwrap();
        let mut kept = Kept { register: s.path("register"), seal, s, n };
        // The station was copied to where it stands: its files have other times.
        assert!(!kept.used());
        kept.s.run(&["note", &kept.n.clone(), "--words", "here now"], "").code(0);
        kept
    }

    /// Whether it would be used now.
    fn used(&self) -> bool {
        let (register, seal) = (Folder::at(&self.register), Folder::at(&self.seal));
        at_hand::look(&register, &seal, self.s.second.get()).is_some()
    }

    fn volume(&self) -> PathBuf {
        self.register.join("0001.jsonl")
    }

    fn lines(&self) -> usize {
        std::fs::read(self.volume()).unwrap().iter().filter(|b| **b == b'\n').count()
    }

    fn cache(&self) -> Vec<u8> {
        std::fs::read(self.seal.join(FILE)).unwrap()
    }
}

fn below(path: &std::path::Path) -> Vec<PathBuf> {
    std::fs::read_dir(path).into_iter().flatten().map(|e| e.unwrap().path()).collect()
}

#[test]
fn an_entry_leaves_it_and_the_next_one_uses_it() {
    let mut k = Kept::live();
    assert!(k.used());
    // Entries since it was kept are read after it; it is kept anew now and then.
    let before = k.cache();
    for i in 0..40 {
        k.s.run(&["note", &k.n.clone(), "--words", &format!("note {i}")], "").code(0);
        assert!(k.used(), "{i}");
    }
    assert_ne!(k.cache(), before);
    let register = k.s.at("register");
    k.s.bare(&["verify", &register], "").says("lines check");
}

/// Torn at any place, of another fold, another register's, altered: it is not read, and what is entered is the same.
#[test]
fn what_is_no_cache_of_this_register_is_not_read() {
    let mut k = Kept::live();
    let whole = k.cache();
    let text = String::from_utf8(whole.clone()).unwrap();
    let swapped = text.replacen("heron", "herun", 1);
    assert_ne!(text, swapped);
    let mut other = Kept::live();
    let n = other.n.clone();
    (0..40).for_each(|i| drop(other.s.run(&["note", &n, "--words", &format!("elsewhere {i}")], "").code(0)));
    let torn = (0..whole.len()).step_by(whole.len() / 40).map(|cut| whole[..cut].to_vec());
    let strange = [
        swapped.into_bytes(),
        text.replacen("folded by ", "folded by x", 1).into_bytes(),
        text.replacen("airwrit 0", "airwrit 9", 1).into_bytes(),
        [&whole[..], b" "].concat(),
        other.cache(),
    ];
    for bytes in torn.chain(strange) {
        std::fs::write(k.seal.join(FILE), &bytes).unwrap();
        assert!(!k.used());
    }
    k.s.run(&["note", &k.n.clone(), "--words", "as ever"], "").code(0);
    assert!(k.used());
    std::fs::remove_file(k.seal.join(MARK)).unwrap();
    assert!(!k.used());
    k.s.run(&["note", &k.n.clone(), "--words", "as ever"], "").code(0);
    assert!(k.used());
}

/// A link in its place is replaced; the file that it leads to stays as it is.
#[cfg(unix)]
#[test]
fn no_file_elsewhere_is_written_through_a_link() {
    let mut k = Kept::live();
    let other = k.s.write("other", "not yours\n");
    for name in [FILE, MARK, airwrit::record::known::NOTE] {
        std::fs::remove_file(k.seal.join(name)).unwrap();
        std::os::unix::fs::symlink(&other, k.seal.join(name)).unwrap();
    }
    k.s.run(&["note", &k.n.clone(), "--words", "as ever"], "").code(0);
    assert_eq!(k.s.read("other"), b"not yours\n");
    assert!(k.used());
}

/// Whoever writes to the register but this station makes it read everything: a damaged line is found at the next entry, an
/// end cut off too, and nothing is written.
#[test]
fn a_register_that_was_touched_is_read_whole() {
    let mut k = Kept::live();
    let whole = std::fs::read(k.volume()).unwrap();
    let n = k.n.clone();
    let mut damaged = whole.clone();
    let at = damaged.iter().position(|b| *b == b'\n').unwrap() + 60;
    damaged[at] ^= 1;
    let end = whole[..whole.len() - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
    for (bytes, code) in [(damaged, 4), (whole[..end].to_vec(), 3)] {
        std::fs::write(k.volume(), &bytes).unwrap();
        assert!(!k.used());
        k.s.run(&["note", &n, "--words", "never"], "").code(code);
        assert_eq!(std::fs::read(k.volume()).unwrap(), bytes);
    }
    // A copy put back in its place, byte for byte, is read once and used again.
    std::fs::write(k.volume(), &whole).unwrap();
    let lines = k.lines();
    k.s.run(&["note", &n, "--words", "as before"], "").code(0);
    assert!(k.used());
    assert_eq!(k.lines(), lines + 1);
    // The line at its place is not the one it was made after, though length and time are said to be: read whole.
    let now = std::fs::read(k.volume()).unwrap();
    let mut last = now.clone();
    let near_the_end = last.len() - 400;
    last[near_the_end] ^= 1;
    std::fs::write(k.volume(), &last).unwrap();
    let stamp = airwrit::world::Storage::stamp(&Folder::at(&k.register), "0001.jsonl").unwrap();
    std::fs::write(k.seal.join(MARK), format!("0001.jsonl {stamp}\n")).unwrap();
    assert!(!k.used());
    k.s.run(&["note", &n, "--words", "never"], "").code(4);
}

/// Reports that stand aside are entered with the next line as ever.
#[test]
fn what_stands_aside_is_entered() {
    let mut k = Kept::live();
    let n = k.n.clone();
    k.s.run(&["on", "zaneta"], "").code(0);
    let volume = std::fs::read(k.volume()).unwrap();
    let mut damaged = volume.clone();
    damaged[200] ^= 1;
    std::fs::write(k.volume(), &damaged).unwrap();
    k.s.run(&["call-out"], "").code(4).says("NOT KEPT IN THE REGISTER");
    std::fs::write(k.volume(), &volume).unwrap();
    let stamp = airwrit::world::Storage::stamp(&Folder::at(&k.register), "0001.jsonl").unwrap();
    std::fs::write(k.seal.join(MARK), format!("0001.jsonl {stamp}\n")).unwrap();
    assert!(!k.used(), "a report stands aside");
    k.s.run(&["note", &n, "--words", "later"], "").code(0);
    let text = String::from_utf8(std::fs::read(k.volume()).unwrap()).unwrap();
    assert!(text.contains("\"kind\":\"recovery\""));
    assert!(k.used());
}

/// A refusal is said with everything read, and kept once; a report on what is not at hand is kept where it belongs.
#[test]
fn what_is_refused_is_refused_once() {
    let mut k = Kept::live();
    let lines = k.lines();
    k.s.run(&["in", "zaneta"], "").code(1);
    assert_eq!(k.lines(), lines + 1);
    k.s.run(&["set", "stopped", "heron"], "").code(1);
    let text = String::from_utf8(std::fs::read(k.volume()).unwrap()).unwrap();
    assert_eq!(text.matches("\"kind\":\"denied\"").count(), 2);
    k.s.run(&["on", "zaneta", "--permit", "KM3-200101-01"], "").code(1);
    k.s.run(&["answer", "KM3-200101-01", "job_read", "yes"], "").code(1).says("there is no permit");
}
