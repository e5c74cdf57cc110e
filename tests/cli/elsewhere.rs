//! Signing elsewhere as people do it: two folders that share nothing but the files that are carried.

use crate::support::shell::{PASSPHRASE, Ran, Shell, shipped};
use airwrit::cli::picture;
use airwrit::paper::qr::{MOST_BYTES, Matrix};
use std::process::Command;

/// The supervisor's own machine: an excerpt, a key, whom to trust.
struct Away {
    shell: Shell,
    trust: Vec<String>,
}

fn away(station: &mut Shell, number: &str, by: &str) -> Away {
    let (mut shell, out) = (Shell::new(), station.at("out.jsonl"));
    let _ = std::fs::remove_file(&out);
    station.run(&["excerpt", number, "--to", &out], "").code(0);
    std::fs::copy(&out, shell.path("out.jsonl")).unwrap();
    std::fs::copy(station.path(&format!("{by}.pem")), shell.path("key.pem")).unwrap();
    shell.second = station.second.clone();
    let register = station.at("register");
    let report = station.bare(&["verify", &register], "").code(5);
    let signers = report.out.lines().filter_map(|l| l.strip_prefix("roster signed by "));
    let trust = signers.flat_map(|f| ["--custodian".to_owned(), f.to_owned()]).collect();
    Away { shell, trust }
}

impl Away {
    /// Signs; extra options, then what.
    fn sign(&mut self, by: &str, options: &[&str], act: &[&str]) -> Ran {
        let (what, key, to) =
            (self.shell.at("out.jsonl"), self.shell.at("key.pem"), self.shell.at("the.act"));
        let mut args = vec!["sign", &what, "--as", by, "--key", &key, "--to", &to];
        args.extend(self.trust.iter().map(String::as_str));
        args.extend(options);
        args.extend(act);
        self.shell.bare(&args, PASSPHRASE)
    }
}

/// Custodians on the command line of `examples/verify.py`.
fn python(s: &Shell, trust: &[String]) -> Option<String> {
    let run = Command::new("python3")
        .arg(shipped("examples/verify.py"))
        .args(trust)
        .arg(s.at("register"))
        .output()
        .ok()?;
    let (out, err) = (String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    // Where PyYAML is missing it says that it could not; tests/ci brings it.
    (run.status.code() != Some(3)).then(|| format!("{out}{err}"))
}

/// The test of the air that a permit carries was entered before it was opened: it goes with it.
#[test]
fn a_carried_air_test_goes_out_with_its_permit() {
    let (mut s, number) = super::round::declared();
    let mut a = away(&mut s, &number, "eleni");
    let ran = a.sign("eleni", &[], &["countersign"]).code(0);
    assert!(
        ran.out.contains("the air test taken 2026-11-20")
            || ran.err.contains("the air test taken 2026-11-20")
    );
    std::fs::copy(a.shell.path("the.act"), s.path("the.act")).unwrap();
    let act = s.at("the.act");
    s.run(&["take-in", &act], "").code(0);
    s.run(&["show", &number], "").code(0).says("LIVE");
}

#[test]
fn out_goes_an_excerpt_and_back_comes_an_act() {
    let (mut s, number) = Shell::declared();
    let mut a = away(&mut s, &number, "eleni");
    s.wait(240);
    let ran = a.sign("eleni", &[], &["countersign", "--wearers", "1", "--limits", "no spraying"]).code(0);
    // What must be seen, in its order, before the words that are signed.
    let mut at = 0;
    for part in [
        "the excerpt is sound",
        "4 min ago",
        "the station may have gone on since",
        "WHAT ENDS IT FIRST",
        "THE JOB",
        "way out: 8 min, measured:",
        "WHO GOES ON THIS AIR",
        "THE SMALLEST MARGINS",
        "to spare",
        "WHAT WAS HELD, AND HOW IT WAS CLEARED",
        "THE AIR",
        "CO in the air test",
        "GETTING THEM OUT",
        "you sign as supervisor:",
        "At most 1 on air at once.",
        "no spraying",
        "passphrase of",
        "█",
        "nothing is done yet",
    ] {
        let found = ran.err[at..].find(part);
        at += found.unwrap_or_else(|| panic!("`{part}` is not said, or not there\n{}", ran.err));
    }
    assert!(ran.out.contains("the.act written"), "{}", ran.out);
    // Back, as a file.
    let act = s.write("back.act", a.shell.read("the.act"));
    s.wait(60);
    s.run(&["take-in", &act], "").code(0).says("is live").says("check word").says("by their own clock");
    s.run(&["take-in", &act], "").code(1).says("in the register already");
    let (register, mut all) = (s.at("register"), vec!["verify"]);
    all.push(&register);
    all.extend(a.trust.iter().map(String::as_str));
    s.bare(&all, "").code(0).says("sound: all").says("live");
    s.run(&["show", &number], "").code(0).says("(eleni, supervisor, on their own machine at 07:");
    if let Some(said) = python(&s, &a.trust) {
        assert!(said.starts_with("sound"), "{said}");
    }
}

/// Encoded, drawn as a picture, found in it again; and what a scanner types.
#[test]
fn between_two_screens() {
    let (mut s, number) = Shell::declared();
    let mut a = away(&mut s, &number, "eleni");
    let png = a.shell.at("code.png");
    a.sign("eleni", &["--picture", &png], &["refuse", "--reason", "the wind turns"]).code(0);
    let picture_file = s.write("seen.png", a.shell.read("code.png"));
    let mut other = Shell::new();
    crate::support::shell::copy(s.folder.path(), other.folder.path());
    other.second = s.second.clone();
    s.run(&["take-in", &picture_file], "").code(0).says("is refused");
    let typed = String::from_utf8(a.shell.read("the.act")).unwrap();
    other.run(&["take-in", "-"], typed.trim_end()).code(0).says("is refused");
    assert_eq!(s.read("register/0001.jsonl").len(), other.read("register/0001.jsonl").len());
}

/// What the station wrote after the last signature is its word, here as at its own screen: it needs no
/// flag. Another word in it is found before anything is signed.
#[test]
fn lines_after_the_last_signature_are_the_stations_word() {
    let (mut s, number) = Shell::declared();
    s.run(&["note", &number, "--words", "the crew waits at the gangway"], "").code(0);
    let mut a = away(&mut s, &number, "eleni");
    let whole = a.shell.read("out.jsonl");
    a.sign("eleni", &[], &["countersign"]).code(0).says("the station's word");
    let act = a.shell.at("the.act");
    s.run(&["take-in", &act], "").code(0).says("is live");
    // Another word in it, as whoever carries it may write: the seal of that line is none any more.
    let text = String::from_utf8(whole).unwrap().replace("gangway", "gateway");
    a.shell.write("out.jsonl", text);
    a.sign("eleni", &[], &["countersign"]).code(4).says("broken at line");
}

#[test]
fn what_is_not_proven_is_signed_only_knowingly() {
    let (mut s, number) = Shell::declared();
    let mut a = away(&mut s, &number, "eleni");
    let trust = std::mem::take(&mut a.trust);
    a.sign("eleni", &[], &["countersign"])
        .code(1)
        .says("UNPROVEN")
        .says("rule `custodian`")
        .says("--unproven");
    assert!(!a.shell.path("the.act").exists());
    a.sign("eleni", &["--unproven"], &["countersign"]).code(0).says("UNPROVEN");
    a.trust = trust;
    // One byte changed, somewhere in the middle: nothing is signed.
    let mut bytes = a.shell.read("out.jsonl");
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    a.shell.write("out.jsonl", bytes);
    a.sign("eleni", &["--unproven"], &["countersign"]).code(4).says("broken at line");
}

#[test]
fn decided_as_at_the_station() {
    let (mut s, number) = Shell::declared();
    let mut a = away(&mut s, &number, "lukasz");
    a.sign("lukasz", &[], &["countersign"]).code(1).says("is no supervisor on the roster");
    a.sign("eleni", &[], &["close"]).code(1).says("it cannot be closed");
    a.sign("eleni", &[], &["countersign"]).code(1).says("is no key of `eleni`; it is a key of `lukasz`");
    a.sign("eleni", &["--permit", "KW7-261125-09"], &["countersign"]).code(1).says("there is no permit");
    s.wait(3700);
    a.sign("eleni", &[], &["countersign"]).code(1).says("a declaration is good for 60 min here");
    assert!(!a.shell.path("the.act").exists());
}

/// The station went on: the lines that came are named, and a new excerpt is the way out.
#[test]
fn a_station_that_went_on() {
    let (mut s, number) = Shell::declared();
    let mut a = away(&mut s, &number, "eleni");
    a.sign("eleni", &[], &["countersign"]).code(0);
    s.run(&["job", &number, "--file", &shipped("examples/job.yaml"), "--by", "lukasz"], "").code(0);
    let act = s.write("back.act", a.shell.read("the.act"));
    let before = s.read("register/0001.jsonl");
    s.run(&["take-in", &act], "")
        .code(1)
        .says("moved on after what `eleni` was shown")
        .says("job, entered as");
    assert_eq!(s.read("register/0001.jsonl"), before);
    s.run(&["take-in", "-"], "").code(1).says("no signed act");
    s.run(&["take-in", &s.at("nowhere")], "").code(3);
    assert_eq!(s.read("register/0001.jsonl"), before);
}

/// An approver signs a text at home: on a copy of the register, not on an excerpt.
#[test]
fn a_text_put_in_force_from_elsewhere() {
    let (mut s, number) = Shell::declared();
    let mut a = away(&mut s, &number, "tuula");
    let site = std::fs::read_to_string(shipped("examples/site.yaml")).unwrap();
    let file = a.shell.write("site.yaml", site.replace("most_hours: 11 h", "most_hours: 10 h"));
    a.sign("tuula", &[], &["approve", &file]).code(1).says("an excerpt does not show");
    std::fs::remove_file(a.shell.path("out.jsonl")).unwrap();
    crate::support::shell::copy(&s.path("register"), &a.shell.path("out.jsonl"));
    a.sign("tuula", &[], &["approve", &file]).code(0).says("| most_hours: 10 h").says("carry the file");
    let act = s.write("back.act", a.shell.read("the.act"));
    // Two days on, on a station that went on with other things.
    s.run(&["note", "--set", "heron", "--words", "the tide was high"], "").code(0);
    s.wait(2 * 86_400);
    s.run(&["--today", "2026-11-27", "take-in", &act], "").code(0).says("site");
    s.run(&["--today", "2026-11-27", "take-in", &act], "").code(1).says("in the register already");
    let v = s.at("register");
    s.bare(&["verify", &v], "").code(5);
}

#[test]
fn pictures_that_hold_no_act() {
    let read = |bytes: &[u8]| picture::read(bytes).unwrap_err();
    let png = drawn(64, &[255; 64 * 64]);
    assert!(read(&png).contains("no QR code is found"));
    let other = picture::png(&Matrix::of_bytes(b"https://example.org/").unwrap()).unwrap();
    assert!(read(&other).contains("holds no signed act"));
    assert!(read(b"\x89PNG\r\n\x1a\n").contains("cannot be read"));
    assert!(read(b"\xff\xd8\xff\xe0 and then nothing").contains("cannot be read"));
    let mut large = vec![0u8; 32 * 1024 * 1024 + 1];
    large[..4].copy_from_slice(b"\x89PNG");
    assert!(read(&large).contains("at most"));
    // A header that promises 60000 x 60000 pixels is not believed.
    let mut wide = png.clone();
    wide[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
    let crc = crc32(&wide[12..29]);
    wide[29..33].copy_from_slice(&crc.to_be_bytes());
    assert!(read(&wide).contains("cannot be read"), "{}", read(&wide));
    // Cut anywhere, a bit turned anywhere: an answer in words, never the end of the program.
    let good = picture::png(&Matrix::of_bytes(b"{\"act\":{}}\n").unwrap()).unwrap();
    assert_eq!(picture::read(&good).unwrap(), b"{\"act\":{}}\n");
    for i in (0..good.len()).step_by(11) {
        let _ = picture::read(&good[..i]);
        let mut bad = good.clone();
        bad[i] ^= 0x41;
        let _ = picture::read(&bad);
    }
}

/// A square in grey as PNG.
fn drawn(side: u32, grey: &[u8]) -> Vec<u8> {
    coloured(side, grey, png::ColorType::Grayscale)
}

fn coloured(side: u32, pixels: &[u8], kind: png::ColorType) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, side, side);
    encoder.set_color(kind);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(pixels).unwrap();
    writer.finish().unwrap();
    out
}

/// CRC of PNG chunks (ISO 3309; PNG specification, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, b| {
        (0..8).fold(crc ^ u32::from(*b), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xedb8_8320 } else { c >> 1 })
    })
}

/// Every length up to the most that is drawn; photographed as JPEG, turned over, on a see-through ground.
#[test]
fn codes_of_every_size_are_found_again() {
    assert!(Matrix::of_bytes(b"").is_none());
    assert!(Matrix::of_bytes(&[b'x'; MOST_BYTES + 1]).is_none());
    for len in [7, 200, 900, 1500, MOST_BYTES] {
        let mut text = b"{\"act\":".to_vec();
        text.extend((text.len()..len).map(|i| b"0123456789abcdef"[i * 7 % 16]));
        let code = Matrix::of_bytes(&text).unwrap();
        let png = picture::png(&code).unwrap();
        assert_eq!(picture::read(&png).unwrap(), text, "{len}");
        let mut reader = png::Decoder::new(std::io::Cursor::new(&png)).read_info().unwrap();
        let side = u16::try_from(reader.info().width).unwrap();
        let mut grey = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut grey).unwrap();
        for (colours, words) in [(1, "grey"), (3, "in colours")] {
            let pixels: Vec<u8> = grey.iter().flat_map(|v| vec![*v; colours]).collect();
            let mut jpeg = Vec::new();
            let kind =
                if colours == 1 { jpeg_encoder::ColorType::Luma } else { jpeg_encoder::ColorType::Rgb };
            jpeg_encoder::Encoder::new(&mut jpeg, 80).encode(&pixels, side, side, kind).unwrap();
            assert_eq!(picture::read(&jpeg).unwrap(), text, "{len} as JPEG, {words}");
        }
        let turned: Vec<u8> = grey.iter().map(|v| 255 - v).collect();
        assert_eq!(picture::read(&drawn(u32::from(side), &turned)).unwrap(), text, "{len} light on dark");
        // Black on nothing: what shines through is white.
        let clear: Vec<u8> = grey.iter().flat_map(|v| [0, 0, 0, 255 - v]).collect();
        let clear = coloured(u32::from(side), &clear, png::ColorType::Rgba);
        assert_eq!(picture::read(&clear).unwrap(), text, "{len} on a see-through ground");
        // What a terminal shows, read back block by block, is the code.
        let shown: Vec<Vec<bool>> = blocks(&picture::in_terminal(&code));
        assert_eq!(shown.len(), picture::columns(&code).div_ceil(2) * 2);
        for (y, row) in shown.iter().enumerate() {
            assert_eq!(row.len(), picture::columns(&code));
            for (x, dark) in row.iter().enumerate() {
                assert_eq!(*dark, x >= 4 && y >= 4 && code.dark(x - 4, y - 4), "{x} {y}");
            }
        }
    }
}

/// Half blocks as rows of dark and light.
fn blocks(text: &str) -> Vec<Vec<bool>> {
    let mut out = Vec::new();
    for line in text.lines() {
        let line = line.strip_prefix("\x1b[38;5;16;48;5;231m").unwrap().strip_suffix("\x1b[0m").unwrap();
        out.push(line.chars().map(|c| "█▀".contains(c)).collect());
        out.push(line.chars().map(|c| "█▄".contains(c)).collect());
    }
    out
}
