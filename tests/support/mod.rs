//! A station in memory: fixed clock, fixed randomness, invented people.

pub mod day;
pub mod disk;
pub mod shell;

use airwrit::audit::bounded::{self, InMemory, Means};
use airwrit::audit::{Later, Report, Trust};
use airwrit::record::json::{Json, object};
use airwrit::record::line::{self, ActDraft, Draft, Line, NONE, What};
use airwrit::record::store::{self, Opened, Register};
use airwrit::time::{Moment, utc};
use airwrit::trust::sshsig::{self, HashName};
use airwrit::trust::{Role, SecretKey, Signer, token};
use airwrit::world::Random;
use disk::Disk;
use sha2::{Digest, Sha256};

/// The verdict on a register where nothing is kept that does not have to be is that of its report, in every word.
pub fn same_where_little_is_kept(report: &Report, volumes: &[&[u8]], trust: Option<&Trust>, later: &[Later]) {
    let wanted = serde_json::to_value(report).unwrap();
    for (near, threads, piece) in [(8192, 0, 1 << 17), (2, 2, 3000), (0, 1, 40_000)] {
        let (source, means) = (InMemory { volumes, piece }, Means { threads, near });
        let got = bounded::verdict(&source, trust, later, means);
        assert_eq!(serde_json::to_value(got).unwrap(), wanted, "{near} near");
    }
}

/// Not random: SHA-256 of a counter. The same bytes every run.
#[derive(Clone)]
pub struct Fixed(pub u64);

impl Random for Fixed {
    fn fill(&mut self, bytes: &mut [u8]) -> Result<(), String> {
        for chunk in bytes.chunks_mut(32) {
            self.0 += 1;
            let digest = Sha256::digest(self.0.to_be_bytes());
            chunk.copy_from_slice(&digest[..chunk.len()]);
        }
        Ok(())
    }
}

/// A person's key from their id.
pub fn key_of(id: &str) -> SecretKey {
    SecretKey::from_seed(&Sha256::digest(format!("test key of {id}")).into())
}

pub const PEOPLE: [(&str, &str, &str); 5] = [
    ("ola-brzoza", "Ola Brzoza", "operator"),
    ("per-lind", "Per Lind", "supervisor"),
    ("ida-moe", "Ida Moe", "approver"),
    ("ewa-sroka", "Ewa Sroka", "enroller"),
    ("jan-kos", "Jan Kos", "operator, supervisor"),
];

pub fn roster_text() -> String {
    let mut s = format!("roster: 1\nbefore: \"{}\"\nthreshold: 2\ncustodians:\n", "0".repeat(64));
    for c in ["custodian-a", "custodian-b", "custodian-c"] {
        s += &format!("  - {}\n", key_of(c).public().to_ssh());
    }
    s += "persons:\n";
    for (id, name, roles) in PEOPLE {
        s += &format!(
            "  - id: {id}\n    name: {name}\n    roles: [{roles}]\n    keys:\n      - key: {}\n        from: 2026-01-01T00:00:00Z\n        to: 2027-12-31T23:59:59Z\n",
            key_of(id).public().to_ssh()
        );
    }
    s
}

pub fn sign_roster(text: &str, custodians: &[&str]) -> Json {
    let mut signs: Vec<(String, Json)> = custodians
        .iter()
        .map(|c| {
            let key = key_of(c);
            let sign = key.sign(&sshsig::tbs(sshsig::ROSTER, HashName::Sha512, text.as_bytes())).unwrap();
            let ssh = key.public().to_ssh();
            (
                ssh.clone(),
                object([
                    ("hash", "sha512".into()),
                    ("key", ssh.into()),
                    ("sign", sshsig::signature_to_base64(&sign).into()),
                ]),
            )
        })
        .collect();
    signs.sort_by(|a, b| a.0.cmp(&b.0));
    object([("signs", Json::Arr(signs.into_iter().map(|s| s.1).collect())), ("text", text.into())])
}

/// How a volume begins.
pub struct Begin {
    pub log: &'static str,
    pub before: Option<Json>,
    pub roster: String,
    pub custodians: Vec<&'static str>,
}

impl Begin {
    pub fn first() -> Begin {
        Begin {
            log: "00112233445566778899aabbccddeeff",
            before: None,
            roster: roster_text(),
            custodians: vec!["custodian-a", "custodian-c"],
        }
    }

    /// The volume after this one.
    pub fn after(r: &Register, log: &'static str) -> Begin {
        let c = &r.chain;
        Begin { log, before: Some(before(&c.origin.log, c.seq, &c.head)), ..Begin::first() }
    }
}

/// What line 0 says of the volume before.
pub fn before(log: &str, seq: u64, head: &str) -> Json {
    object([("head", head.into()), ("log", log.into()), ("seq", Json::Int(seq))])
}

/// A station at work.
pub struct Station {
    pub register: Disk,
    pub seal: Disk,
    pub random: Fixed,
    pub second: i64,
    pub open: Option<Register>,
}

pub const START: &str = "2026-11-25T05:10:00Z";

impl Station {
    /// An empty one.
    pub fn new() -> Station {
        Station {
            register: Disk::default(),
            seal: Disk::default(),
            random: Fixed(7),
            second: airwrit::time::seconds(START),
            open: None,
        }
    }

    /// One with line 0.
    pub fn enrolled() -> Station {
        let mut s = Station::new();
        s.enrol().unwrap();
        s
    }

    pub fn now(&mut self) -> Moment {
        self.second += 60;
        Moment { time: utc(self.second), zone: "+01:00".into() }
    }

    pub fn enrol(&mut self) -> Result<(), store::Problem> {
        self.enrol_with(&Begin::first(), None)
    }

    /// Begins a volume as said, after what stands here.
    pub fn enrol_with(&mut self, b: &Begin, history: Option<Register>) -> Result<(), store::Problem> {
        let now = self.now();
        let seal = store::prepare_enrol(&mut self.seal, &mut self.random)?;
        let mut data = vec![
            ("roster".to_owned(), sign_roster(&b.roster, &b.custodians)),
            ("said".to_owned(), "A volume begins here.".into()),
            ("seal".to_owned(), seal.to_hex().into()),
            ("station".to_owned(), "KW2".into()),
            ("where".to_owned(), "station".into()),
        ];
        data.extend(b.before.clone().map(|before| ("before".to_owned(), before)));
        let act = ActDraft {
            kind: "enrol",
            log: b.log.into(),
            permit: None,
            shown: NONE.into(),
            by: "ewa-sroka".into(),
            role: Role::Enroller,
            time: now.time.clone(),
            data: airwrit::record::json::sorted(data),
        }
        .sign(&key_of("ewa-sroka"))
        .unwrap();
        let hash = line::hash(b.roster.as_bytes());
        let (register, seal) = (&mut self.register, &mut self.seal);
        let r = store::enrol(register, seal, history, b.log, act, &hash, &now, &mut self.random)?;
        self.open = Some(r);
        Ok(())
    }

    /// The same register's folder on another machine, which has no key for it.
    pub fn moved_elsewhere(&self) -> (Station, Register) {
        let mut s = Station {
            register: self.register.clone(),
            seal: Disk::default(),
            random: Fixed(self.random.0 + 1000),
            second: self.second,
            open: None,
        };
        let now = s.now();
        match store::open(&mut s.register, &mut s.seal, &now, &mut s.random) {
            Ok(Opened::Elsewhere(r)) => (s, *r),
            other => panic!("{other:?}"),
        }
    }

    /// Every volume, in order.
    pub fn volumes(&self) -> Vec<Vec<u8>> {
        let volumes = airwrit::record::volumes::read(&self.register).unwrap();
        volumes.into_iter().map(|v| v.bytes).collect()
    }

    /// Appends; panics on trouble unless told.
    pub fn add(&mut self, draft: Draft) -> Line {
        self.try_add(draft).unwrap()
    }

    pub fn try_add(&mut self, draft: Draft) -> Result<Line, store::Problem> {
        let now = self.now();
        let r = self.open.as_mut().unwrap();
        r.append(&mut self.register, &mut self.seal, &draft, &now, &mut self.random).cloned()
    }

    pub fn reopen(&mut self) -> Result<(), store::Problem> {
        let now = self.now();
        match store::open(&mut self.register, &mut self.seal, &now, &mut self.random)? {
            Opened::Ready(r) => self.open = Some(*r),
            Opened::Empty(_) => self.open = None,
            Opened::Elsewhere(r) => return Err(store::elsewhere(&r)),
        }
        Ok(())
    }

    pub fn chain(&self) -> &airwrit::record::chain::Chain {
        &self.open.as_ref().unwrap().chain
    }

    pub fn approve(&mut self, kind: &'static str, id: &str, text: &str) -> Line {
        let mut data = vec![
            (kind.to_owned(), id.into()),
            ("hash".to_owned(), line::hash(text.as_bytes()).into()),
            ("said".to_owned(), "I put this text in force.".into()),
            ("text".to_owned(), text.into()),
            ("where".to_owned(), "station".into()),
        ];
        if kind == "form" {
            data.push(("revision".into(), Json::Int(1)));
        }
        if kind == "site" {
            data.push(("what".into(), "site".into()));
        }
        let before = self.chain().last_of(&(kind.to_owned(), id.to_owned())).to_owned();
        let act = ActDraft {
            kind,
            log: self.chain().origin.log.clone(),
            permit: None,
            shown: before,
            by: "ida-moe".into(),
            role: Role::Approver,
            time: utc(self.second + 30),
            data: airwrit::record::json::sorted(data),
        };
        self.add(Draft { kind, permit: None, by: None, what: act.sign(&key_of("ida-moe")).unwrap() })
    }

    pub fn texts(&mut self) {
        self.approve("set", "mobile-1", "set: mobile-1\n");
        self.approve("site", "north-yard", "site: north-yard\n");
        self.approve("form", "pre-start", "checklist: pre-start\n");
        self.approve("form", "shutdown", "checklist: shutdown\n");
    }

    pub fn cited(&self, kind: &str, id: &str) -> Json {
        let t = &self.chain().texts[&(kind.to_owned(), id.to_owned())];
        object([("hash", t.text_hash.as_str().into()), ("id", id.into())])
    }

    pub fn station(&mut self, permit: Option<&str>, kind: &'static str, data: Json) -> Line {
        let d = self.station_draft(permit, kind, data);
        self.add(d)
    }

    pub fn station_draft(&self, permit: Option<&str>, kind: &'static str, data: Json) -> Draft {
        let permit = permit.map(|p| (p.to_owned(), self.chain().permit_head(p).to_owned()));
        Draft { kind, permit, by: Some("ola-brzoza".into()), what: What::Data(data) }
    }

    pub fn open_permit(&mut self, number: &str) -> Line {
        let data = object([
            ("for", "work".into()),
            ("form", self.cited("form", "pre-start")),
            ("job", object([("what", "inspect the tank".into())])),
            ("rules", Json::Int(1)),
            ("set", self.cited("set", "mobile-1")),
            ("site", self.cited("site", "north-yard")),
        ]);
        self.station(Some(number), "open", data)
    }

    pub fn answer(&mut self, number: &str, form: &str, step: &str, value: &str) -> Line {
        let form = self.chain().texts[&("form".to_owned(), form.to_owned())].text_hash.clone();
        let data = object([
            ("form", form.into()),
            ("shown", "en".into()),
            ("step", step.into()),
            ("value", value.into()),
        ]);
        self.station(Some(number), "answer", data)
    }

    pub fn act(
        &mut self,
        number: &str,
        kind: &'static str,
        by: &str,
        role: Role,
        data: Vec<(&str, Json)>,
    ) -> Draft {
        self.act_with(number, kind, by, by, role, data)
    }

    /// The same with another key than the person's first.
    pub fn act_with(
        &mut self,
        number: &str,
        kind: &'static str,
        by: &str,
        key: &str,
        role: Role,
        data: Vec<(&str, Json)>,
    ) -> Draft {
        let shown = self.chain().permit_head(number).to_owned();
        let mut members: Vec<(String, Json)> = data.into_iter().map(|(k, v)| (k.to_owned(), v)).collect();
        members.push(("said".into(), "I say so.".into()));
        members.push(("where".into(), "station".into()));
        let act = ActDraft {
            kind,
            log: self.chain().origin.log.clone(),
            permit: Some(number.into()),
            shown: shown.clone(),
            by: by.into(),
            role,
            time: utc(self.second + 30),
            data: airwrit::record::json::sorted(members),
        };
        Draft { kind, permit: Some((number.into(), shown)), by: None, what: act.sign(&key_of(key)).unwrap() }
    }

    pub fn countersign(&mut self, number: &str, by: &str) -> Draft {
        let valid_to = "2026-11-25T17:00:00Z";
        let chain = self.chain();
        let target = chain.declared(number).unwrap().0.clone();
        let claim = token::Claim {
            permit: number.into(),
            valid_to: valid_to.into(),
            seq: chain.permit_seq(number).unwrap(),
            hash: chain.permit_head(number).to_owned(),
        };
        let token = token::make(&claim, &key_of(by)).unwrap();
        self.act(
            number,
            "countersign",
            by,
            Role::Supervisor,
            vec![
                ("target", target.into()),
                ("token", token.into()),
                ("valid_by", "the end of the shift".into()),
                ("valid_to", valid_to.into()),
            ],
        )
    }

    /// Twelve lines: enrol, four texts, open, two answers, declare, countersign, on air, off air.
    pub fn twelve_lines() -> Station {
        let mut s = Station::enrolled();
        s.texts();
        let n = "KW2-261125-01";
        s.open_permit(n);
        s.answer(n, "pre-start", "oil_level", "yes");
        s.answer(n, "pre-start", "siting_exhaust", "yes");
        let d = s.act(n, "declare", "ola-brzoza", Role::Operator, vec![]);
        s.add(d);
        let d = s.countersign(n, "per-lind");
        s.add(d);
        s.station(Some(n), "on_air", object([("person", "ada-nowak".into())]));
        s.station(Some(n), "off_air", object([("person", "ada-nowak".into())]));
        s
    }

    pub fn bytes(&self) -> Vec<u8> {
        self.register.content(store::VOLUME).unwrap_or_default()
    }
}
