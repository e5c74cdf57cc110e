//! What a lenient reader would let pass: keys and signatures that fit in more than one way, and bytes
//! from strangers. Refused, in words, and never with a panic.
//!
//! The signatures in the tables were made from RFC 8032 section 5.1 with tests/python/signer.py.

use crate::support::key_of;
use airwrit::audit::{Trust, Verdict, verify, verify_excerpt};
use airwrit::record::line::Line;
use airwrit::record::store::scan;
use airwrit::trust::sshsig::{self, Detached, HashName};
use airwrit::trust::{PublicKey, Roster, Signer, token};
use data_encoding::{BASE64, HEXLOWER};
use ed25519_dalek::{Signature, VerifyingKey};
use proptest::prelude::*;

const SOUND: &[u8] = include_bytes!("corpus/sound/0001.jsonl");

/// The eight points of small order, as RFC 8032 section 5.1.2 encodes them.
const SMALL: [&str; 8] = [
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0000000000000000000000000000000000000000000000000000000000000080",
    "0100000000000000000000000000000000000000000000000000000000000000",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
];
/// A good key.
const KEY: &str = "6f43fed0b5dd6a42f8d8bfcfce203418e1c28c0cd936945ff50d0347e5ce413f";
/// For each of [`SMALL`]: R is that point, S = k a: the equation holds at least with cofactor, and for
/// the neutral point as it stands.
const SMALL_R: [&str; 8] = [
    "00000000000000000000000000000000000000000000000000000000000000008a4c3087ca1bc1659e98b5bb9104980f\
     537e52051ff9b6e45a567e414444930b",
    "0000000000000000000000000000000000000000000000000000000000000080a36973baacc79a08245b8be6a34ae016\
     02dc5d72e13490b1c4e7205c69b55805",
    "010000000000000000000000000000000000000000000000000000000000000026abe00969a5a31160d439e680680b36\
     5569dc2bae8e00fe82766b6834ca3c09",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05278a17e2621371c96e2e708348f54123\
     3ce1b63a804f2f94861fe2581e72980c",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85d8c33d8d48b074ae840dbc154b6f292b\
     d91597740b3c2c88f4eed221a5d96604",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a7822eb9518aabf26be7905671afcadae\
     03e0ffb7e42c272e0a6992793eb78709",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fac95427e90dffc329fe9d6406aa9cf373\
     ba49a4209c729f3df8b535e1a5e77106",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7fc4398cb4f94296f6dfa9c02337df2010\
     8aafd95bc44f0fffd5cd399368bfa004",
];
/// For each of [`SMALL`]: R = 12345 B plus that point. The equation with cofactor holds for all.
const MOVED_R: [&str; 8] = [
    "3e91719c07a826f40e504f2d3278ac5ea1012d69b5237dc3db07af7ddf81f8c158477838f52270710b6b2d19db52332f\
     78765afeccada690db07e61ad62f8f05",
    "af6e8e63f857d90bf1afb0d2cd8753a15efed2964adc823c24f85082207e073eb918938642ca9e7ba729ecdd0d016586\
     525ba0deac4d14c4613c6647de401f0a",
    "ef4f62f8479733ad879cfaced3c89a9c39dd4fc795ef2efa1c3eafe4d729a0812482cae836eb9d5a5e31a742d5d7158a\
     ab40d9a5147b024acd3e48851c17b902",
    "cdbc161be64c4302f56443ff29ccf36a2075be1a1fa67ff126b56315f5681c38f551fb5c41bc5e52d5f5457f142ae200\
     034f37e25469f8729f83fd40e9d25e08",
    "ad5b30a39ee28c85d0e3903357b263540127f6780e795a593a819d6400e50d803785812289dfc1e637e37edc2e66ce75\
     3cdcbec45479f89934b0fcd2861dd404",
    "40a4cf5c611d737a2f1c6fcca84d9cabfed80987f186a5a6c57e629bff1af27fd07a186beecd3298114c012f3b0870b6\
     f2d5635038f81e25f334af8d871a7909",
    "2043e9e419b3bcfd0a9bbc00d6330c95df8a41e5e059800ed94a9cea0a97e3c7908aa52aaae551a9797d4cc0dec0a108\
     01cd662af588096a45e8aff5b9138c09",
    "feaf9d07b868cc52786305312c376563c622b0386a10d105e3c1501b28d65f7eeee53703f5a581df2933bc5834982d10\
     cccc5304dff649f5e9f343f6f0d1230e",
];

fn bytes<const N: usize>(hex: &str) -> [u8; N] {
    HEXLOWER.decode(hex.as_bytes()).unwrap().try_into().unwrap()
}

#[test]
fn keys_of_small_order_are_no_keys() {
    for small in SMALL {
        assert!(PublicKey::from_bytes(&bytes(small)).is_err(), "{small}");
        assert!(PublicKey::from_hex(small).is_err(), "{small}");
        let blob = [b"\0\0\0\x0bssh-ed25519\0\0\0\x20".as_slice(), &bytes::<32>(small)].concat();
        assert!(PublicKey::read(&format!("ssh-ed25519 {}", BASE64.encode(&blob))).is_err(), "{small}");
    }
}

#[test]
fn keys_that_are_written_in_another_way_are_no_keys() {
    // y from p = 2^255 - 19 to 2^255 - 1 (RFC 8032 section 5.1.3, step 1), with either sign of x.
    for y in 0..19u8 {
        for sign in [0x7f, 0xff] {
            let mut key = [0xff; 32];
            (key[0], key[31]) = (0xed + y, sign);
            assert!(PublicKey::from_bytes(&key).is_err(), "p + {y}");
        }
    }
    // x = 0 with a minus sign (the same, step 4): y = 1 and y = p - 1.
    let (mut one, mut most) = ([0; 32], [0xff; 32]);
    (one[0], one[31], most[0]) = (1, 0x80, 0xec);
    assert!(PublicKey::from_bytes(&one).is_err() && PublicKey::from_bytes(&most).is_err());
    // No x for this y: 2 is not on the curve.
    let mut none = [0; 32];
    none[0] = 2;
    assert!(PublicKey::from_bytes(&none).is_err());
}

#[test]
fn an_r_of_small_order_and_an_r_moved_by_one_are_refused() {
    let key = PublicKey::from_hex(KEY).unwrap();
    for (i, (small, moved)) in SMALL_R.iter().zip(MOVED_R).enumerate() {
        assert!(!key.verifies(b"m", &bytes(small)), "{i}");
        let library = VerifyingKey::from_bytes(key.as_bytes()).unwrap();
        for sign in [small, moved] {
            let sign: [u8; 64] = bytes(sign);
            let strict = library.verify_strict(b"m", &Signature::from_bytes(&sign)).is_ok();
            assert_eq!(key.verifies(b"m", &sign), strict, "{i}");
        }
        // Moved by the neutral point is not moved at all.
        let neutral = SMALL[i].starts_with("01") && SMALL[i].ends_with("00");
        assert_eq!(key.verifies(b"m", &bytes(moved)), neutral, "{i}");
    }
}

proptest! {
    /// Peer: `verify_strict` of ed25519-dalek, over good signatures, changed ones, and ones whose R is of small order.
    #[test]
    fn what_verifies_is_what_the_library_calls_strictly_good(
        seed in any::<[u8; 32]>(),
        message in prop::collection::vec(any::<u8>(), 0..80),
        changed in prop::option::of((0usize..64, 0u32..8)),
        small in prop::option::of(0usize..8),
    ) {
        use ed25519_dalek::{Signer as _, SigningKey};
        let key = SigningKey::from_bytes(&seed);
        let mut sign = key.sign(&message).to_bytes();
        if let Some((at, bit)) = changed {
            sign[at] ^= 1 << bit;
        }
        if let Some(i) = small {
            sign[..32].copy_from_slice(&bytes::<32>(SMALL[i]));
        }
        let peer = key.verifying_key().verify_strict(&message, &Signature::from_bytes(&sign)).is_ok();
        prop_assert_eq!(peer, changed.is_none() && small.is_none());
        let ours = PublicKey::from_bytes(key.verifying_key().as_bytes()).unwrap();
        prop_assert_eq!(ours.verifies(&message, &sign), peer);
    }
}

/// RFC 8032 section 5.1.7 wants S < L; S + n L fits the equation as well.
#[test]
fn s_plus_the_order_is_refused() {
    // L, little-endian (RFC 8032 section 5.1).
    let order: [u8; 32] = bytes("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010");
    let key = key_of("strict");
    let good = key.sign(b"words").unwrap();
    assert!(key.public().verifies(b"words", &good));
    let mut sign = good;
    for n in 1..=15 {
        let mut carry = 0u16;
        for (s, l) in sign[32..].iter_mut().zip(order) {
            carry += u16::from(*s) + u16::from(l);
            *s = carry.to_le_bytes()[0];
            carry >>= 8;
        }
        if carry > 0 {
            break;
        }
        assert!(!key.public().verifies(b"words", &sign), "S + {n} L");
    }
    assert_ne!(sign, good);
}

#[test]
fn a_public_key_has_one_writing() {
    let good = key_of("strict").public().to_ssh();
    assert_eq!(PublicKey::read(&good).unwrap().to_ssh(), good);
    for bad in [
        format!("{good} "),
        format!(" {good}"),
        format!("{good} olia@yard"),
        format!("{good}\n"),
        good.replace("ed25519 ", "ed25519  "),
        good.replace("ssh-ed25519", "ssh-rsa"),
        good[..good.len() - 1].to_owned(),
        format!("{good}="),
        good.to_lowercase(),
        good.replacen("AAAA", "AAAB", 1),
        String::new(),
    ] {
        assert!(PublicKey::read(&bad).is_err(), "{bad}");
    }
}

#[test]
fn a_detached_signature_reads_back() {
    let key = key_of("strict");
    for hash in [HashName::Sha256, HashName::Sha512] {
        let signature = key.sign(&sshsig::tbs(sshsig::ROSTER, hash, b"roster: 1")).unwrap();
        let text = sshsig::armour(&key.public(), sshsig::ROSTER, hash, &signature);
        let read = Detached::read(&text).unwrap();
        let wanted = Detached { key: key.public(), namespace: sshsig::ROSTER.into(), hash, signature };
        assert_eq!(read, wanted);
        // White space around and other line ends are what mail makes of such a file.
        assert_eq!(Detached::read(&format!("\n{}\n", text.replace('\n', "\r\n"))).unwrap(), wanted);
    }
}

#[test]
fn every_cut_of_a_detached_signature_is_refused() {
    let key = key_of("strict");
    let signature = key.sign(b"x").unwrap();
    let text = sshsig::armour(&key.public(), sshsig::ROSTER, HashName::Sha256, &signature);
    let inner: String = text.lines().filter(|l| !l.starts_with('-')).collect();
    let blob = BASE64.decode(inner.as_bytes()).unwrap();
    let armoured = |blob: &[u8]| {
        format!("-----BEGIN SSH SIGNATURE-----\n{}\n-----END SSH SIGNATURE-----\n", BASE64.encode(blob))
    };
    assert!(Detached::read(&armoured(&blob)).is_ok());
    for n in 0..blob.len() {
        assert!(Detached::read(&armoured(&blob[..n])).is_err(), "{n} bytes");
    }
    assert!(Detached::read(&armoured(&[blob.clone(), vec![0]].concat())).is_err());
    for n in 0..text.trim_end().len() {
        assert!(Detached::read(&text[..n]).is_err(), "{n} characters");
    }
}

fn claim() -> token::Claim {
    token::Claim {
        permit: "KW2-261125-01".into(),
        valid_to: "2026-11-25T17:00:59Z".into(),
        seq: 9,
        hash: "0123456789abcdef".repeat(4),
    }
}

#[test]
fn a_token_is_refused_for_each_of_its_fields() {
    let key = key_of("per-lind");
    let good = token::make(&claim(), &key).unwrap();
    token::check(&good, &claim(), &key.public()).unwrap();
    assert!(
        good.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b".-".contains(&b)),
        "{good}"
    );
    // The same minute is the same token; the next is another.
    let same = token::Claim { valid_to: "2026-11-25T17:00:00Z".into(), ..claim() };
    token::check(&good, &same, &key.public()).unwrap();
    for wanted in [
        token::Claim { permit: "KW2-261125-02".into(), ..claim() },
        token::Claim { valid_to: "2026-11-25T17:01:00Z".into(), ..claim() },
        token::Claim { valid_to: "2027-11-25T17:00:59Z".into(), ..claim() },
        token::Claim { seq: 10, ..claim() },
        token::Claim { hash: "0123456789abcdee".repeat(4), ..claim() },
    ] {
        assert!(token::check(&good, &wanted, &key.public()).is_err(), "{wanted:?}");
    }
    assert!(token::check(&good, &claim(), &key_of("jan-kos").public()).is_err(), "another key");
    // Signed, but in another namespace.
    let head = good.rsplit_once('.').unwrap().0;
    let foreign = key.sign(&sshsig::tbs(sshsig::SIGN, HashName::Sha256, head.as_bytes())).unwrap();
    let foreign = format!("{head}.{}", data_encoding::BASE32_NOPAD.encode(&foreign));
    assert!(token::check(&foreign, &claim(), &key.public()).is_err());
    // Every character stands where it must, and nothing may be added.
    for i in 0..good.len() {
        for c in ["A", "B", "0", "7", ".", "", "a", "=", "é", " "] {
            let mut bad = good.clone();
            bad.replace_range(i..=i, c);
            if bad != good {
                assert!(token::check(&bad, &claim(), &key.public()).is_err(), "{bad}");
            }
        }
    }
    for bad in
        [format!("{good}="), format!("{good}A"), format!("{good}.A"), format!(" {good}"), String::new()]
    {
        assert!(token::check(&bad, &claim(), &key.public()).is_err(), "{bad}");
    }
}

/// One edit of some bytes: flip, cut, put in, copy from elsewhere.
fn edited(bytes: &[u8], edits: &[(usize, u8, u8)]) -> Vec<u8> {
    const PIECES: [&[u8]; 12] = [
        b"\"",
        b"\\",
        b"{",
        b"}",
        b"[",
        b",",
        b"\n",
        b":",
        b"\xff",
        "\u{202e}".as_bytes(),
        b"99999999999999999999",
        b",\"act_sign\":\"",
    ];
    let mut out = bytes.to_vec();
    for (at, what, with) in edits {
        if out.is_empty() {
            break;
        }
        let (i, w) = (at % out.len(), usize::from(*with));
        match what % 4 {
            0 => out[i] ^= 1 << (w % 8),
            1 => {
                let end = out.len().min(i + w);
                out.drain(i..end);
            }
            2 => {
                out.splice(i..i, PIECES[w % PIECES.len()].iter().copied());
            }
            _ => {
                let piece = out[i..out.len().min(i + w)].to_vec();
                let to = (at / 7) % out.len();
                out.splice(to..to, piece);
            }
        }
    }
    out
}

fn edits() -> impl Strategy<Value = Vec<(usize, u8, u8)>> {
    prop::collection::vec(any::<(usize, u8, u8)>(), 1..6)
}

proptest! {
    #[test]
    fn no_bytes_make_a_line_panic(raw in prop::collection::vec(any::<u8>(), 0..400)) {
        prop_assert!(Line::read(&raw).is_err());
        let framed = [b"{\"body\":".as_slice(), &raw, b",\"seal\":\"", &[b'A'; 86], b"==\"}"].concat();
        prop_assert!(Line::read(&framed).is_err());
        prop_assert!(scan(&raw).lines.is_empty());
        prop_assert_ne!(verify(&raw, None).report.verdict, Verdict::Sound);
    }

    #[test]
    fn edited_lines_read_as_themselves_or_not_at_all(pick in any::<prop::sample::Index>(), edits in edits()) {
        let lines: Vec<&[u8]> = SOUND.split(|b| *b == b'\n').filter(|l| !l.is_empty()).collect();
        let raw = edited(lines[pick.index(lines.len())], &edits);
        if let Ok(line) = Line::read(&raw) {
            prop_assert_eq!(&line.raw, &raw);
            prop_assert_eq!(line.hash.clone(), airwrit::text::sha256_hex(&raw));
        }
    }

    #[test]
    fn no_text_makes_a_signature_file_a_key_or_a_roster_panic(text in any::<String>(), edits in edits()) {
        let key = key_of("strict");
        let armour = sshsig::armour(&key.public(), sshsig::ROSTER, HashName::Sha512, &key.sign(b"x").unwrap());
        let damaged = String::from_utf8_lossy(&edited(armour.as_bytes(), &edits)).into_owned();
        let framed = format!("-----BEGIN SSH SIGNATURE-----\n{text}\n-----END SSH SIGNATURE-----\n");
        for t in [&text, &damaged, &framed] {
            if let Ok(d) = Detached::read(t) {
                let again = sshsig::armour(&d.key, &d.namespace, d.hash, &d.signature);
                prop_assert_eq!(Detached::read(&again).unwrap(), d);
            }
        }
        prop_assert!(PublicKey::read(&text).is_err());
        prop_assert!(Roster::read(&text).is_err());
        prop_assert!(token::check(&text, &claim(), &key.public()).is_err());
        prop_assert!(Trust::read(&text).is_err());
        let roster = String::from_utf8_lossy(&edited(crate::support::roster_text().as_bytes(), &edits)).into_owned();
        if let Ok(r) = Roster::read(&roster) {
            prop_assert_eq!(r.text(), roster.as_str());
        }
    }
}

proptest! {
    // Every case checks up to some two hundred signatures.
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn an_edited_register_is_never_sound(edits in edits()) {
        let trust = Trust {
            custodians: serde_json::from_slice::<serde_json::Value>(include_bytes!("corpus/sound/expected.json"))
                .unwrap()["custodians"].as_array().unwrap().iter().map(|c| c.as_str().unwrap().to_owned()).collect(),
            threshold: 2,
        };
        let raw = edited(SOUND, &edits);
        // Whole lines cut off at the end leave a sound register.
        let cut = SOUND.starts_with(&raw) && raw.ends_with(b"\n");
        let report = verify(&raw, Some(&trust)).report;
        prop_assert_eq!(report.verdict == Verdict::Sound, cut);
        crate::support::same_where_little_is_kept(&report, &[&raw], Some(&trust), &[]);
        let _ = verify_excerpt(&raw, Some(&trust));
    }
}
