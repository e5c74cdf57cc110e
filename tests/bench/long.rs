//! A register of as many lines as are asked for: the days of a true one again and again, each time on later days, every
//! line sealed and every act signed anew by the program's own code. What its lines cite is cited where it stands then.

use airwrit::cli::demo::secret_key;
use airwrit::record::json::Json;
use airwrit::record::line::{self, ActDraft, Draft, Line, NONE, Slot, What};
use airwrit::time::{seconds, utc};
use airwrit::trust::roster::RosterSign;
use airwrit::trust::sshsig::{self, HashName};
use airwrit::trust::token::{self, Claim};
use airwrit::trust::{SecretKey, Signer};
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::io::Write;

/// Longer than any register that is made here: else the keys of its people would end.
const UNTIL: [&str; 2] = ["2027-12-31T23:59:59Z", "2199-12-31T23:59:59Z"];
const CUSTODIANS: [&str; 2] = ["custodian-north", "custodian-quay"];

/// What stands where in the copy at hand.
struct Copy {
    days: i64,
    /// H by H in the true one; and the number of the line.
    hashes: HashMap<String, (String, u64)>,
    roster: String,
}

impl Copy {
    fn hash(&self, old: &str) -> String {
        self.hashes.get(old).map_or_else(|| old.to_owned(), |(new, _)| new.clone())
    }

    /// The same so many days later: a time, a date or a permit's number; an H where it stands now.
    fn text(&self, s: &str) -> String {
        let later = |time: &str| utc(seconds(time) + self.days * 86_400);
        let is = |form: &str| {
            s.len() == form.len()
                && s.bytes()
                    .zip(form.bytes())
                    .all(|(c, f)| if f == b'0' { c.is_ascii_digit() } else { c == f })
        };
        if is("0000-00-00T00:00:00Z") {
            later(s)
        } else if is("0000-00-00") {
            later(&format!("{s}T00:00:00Z"))[..10].to_owned()
        } else if s.len() == 64 {
            self.hash(s)
        } else {
            s.to_owned()
        }
    }

    fn number(&self, number: &str) -> String {
        let parts: Vec<&str> = number.split('-').collect();
        let date = format!("20{}-{}-{}", &parts[1][..2], &parts[1][2..4], &parts[1][4..]);
        format!("{}-{}-{}", parts[0], self.text(&date)[2..].replace('-', ""), parts[2])
    }

    fn json(&self, value: &Json) -> Json {
        match value {
            Json::Obj(m) => Json::Obj(m.iter().map(|(k, v)| (k.clone(), self.json(v))).collect()),
            Json::Arr(a) => Json::Arr(a.iter().map(|v| self.json(v)).collect()),
            Json::Str(s) => Json::Str(self.text(s).into()),
            Json::Int(n) => Json::Int(*n),
            Json::Bool(b) => Json::Bool(*b),
        }
    }
}

/// The roster, for longer, as line 0 carries it.
fn roster(text: &str) -> (String, Json) {
    let text = text.replace(UNTIL[0], UNTIL[1]);
    let mut signs: Vec<RosterSign> = CUSTODIANS
        .iter()
        .map(|c| {
            let key = secret_key(c);
            let sign = key.sign(&sshsig::tbs(sshsig::ROSTER, HashName::Sha512, text.as_bytes())).unwrap();
            RosterSign { hash: HashName::Sha512, key: key.public(), sign }
        })
        .collect();
    signs.sort_by_key(|s| s.key.to_ssh());
    let json = |s: &RosterSign| {
        airwrit::record::json::object([
            ("hash", s.hash.word().into()),
            ("key", s.key.to_ssh().into()),
            ("sign", sshsig::signature_to_base64(&s.sign).into()),
        ])
    };
    let carried = airwrit::record::json::object([
        ("signs", Json::Arr(signs.iter().map(json).collect())),
        ("text", text.as_str().into()),
    ]);
    (data_encoding::HEXLOWER.encode(&Sha256::digest(text.as_bytes())), carried)
}

/// The seed of the key that seals a line.
pub fn seed_of(seq: u64) -> [u8; 32] {
    Sha256::digest(format!("a seal of a long register, {seq}")).into()
}

fn seal_of(seq: u64) -> SecretKey {
    SecretKey::from_seed(&seed_of(seq))
}

/// Writes so many lines of such a register, made from the first volume of a true one; how many days it covers.
pub fn write(volume: &[u8], lines: u64, out: &mut dyn Write) -> i64 {
    let all: Vec<Line> = volume
        .split(|b| *b == b'\n')
        .filter(|raw| !raw.is_empty())
        .map(|raw| Line::read(raw).unwrap())
        .collect();
    // What comes again begins with the first permit and ends where none is open.
    let begin = all.iter().position(|l| l.kind.name == "open").unwrap();
    let mut open = 0_i32;
    let mut end = begin;
    for (i, l) in all.iter().enumerate() {
        open += i32::from(l.kind.name == "open") - i32::from(l.kind.name == "close");
        if open == 0 && l.kind.name == "close" {
            end = i + 1;
        }
    }
    let day = |l: &Line| seconds(&l.time) / 86_400;
    let cycle = day(&all[end - 1]) - day(&all[begin]) + 1;
    let (hash, carried) = roster(all[0].data.get("roster").unwrap().text("text").unwrap());
    let mut copy = Copy { days: 0, hashes: HashMap::new(), roster: hash };
    let (mut seq, mut prev, mut key) = (0, NONE.to_owned(), seal_of(0));
    for times in 0_i64.. {
        copy.days = times * cycle;
        for l in &all[if times == 0 { 0 } else { begin }..end] {
            if seq == lines {
                return copy.days + day(l) - day(&all[begin]);
            }
            let next = seal_of(seq + 1);
            let slot = Slot {
                log: l.log.to_string(),
                seq,
                prev: prev.clone(),
                time: copy.text(&l.time),
                zone: l.zone.to_string(),
                next: next.public().to_hex(),
                roster: copy.roster.clone(),
            };
            let raw = line::make(&draft(&copy, l, &carried), &slot, &key).unwrap();
            out.write_all(&raw).unwrap();
            out.write_all(b"\n").unwrap();
            prev = line::hash(&raw);
            copy.hashes.insert(l.hash.to_string(), (prev.clone(), seq));
            seq += 1;
            key = next;
        }
    }
    0
}

fn draft(copy: &Copy, l: &Line, carried: &Json) -> Draft {
    let permit = l.permit.as_ref().map(|number| {
        let before = l.pprev.as_deref().unwrap();
        (copy.number(number), copy.hash(before))
    });
    let mut data = copy.json(&l.data);
    let Some(act) = &l.act else {
        return Draft {
            kind: l.kind.name,
            permit,
            by: l.by.as_ref().map(ToString::to_string),
            what: What::Data(data),
        };
    };
    if l.kind.name == "enrol" {
        data = data.with("roster", carried.clone()).with("seal", seal_of(0).public().to_hex());
    }
    let person = secret_key(&act.by);
    if let Some((number, _)) = permit.as_ref().filter(|_| data.has("token")) {
        let (hash, seq) = copy.hashes[&act.shown].clone();
        let valid_to = data.text("valid_to").unwrap().to_owned();
        let claim = Claim { permit: number.clone(), valid_to, seq, hash };
        data = data.with("token", token::make(&claim, &person).unwrap());
    }
    let act = ActDraft {
        kind: l.kind.name,
        log: l.log.to_string(),
        permit: permit.as_ref().map(|p| p.0.clone()),
        shown: copy.hash(&act.shown),
        by: act.by.clone(),
        role: act.role,
        time: copy.text(&act.time),
        data,
    };
    let what = act.sign(&person).unwrap();
    Draft { kind: l.kind.name, permit, by: None, what }
}
