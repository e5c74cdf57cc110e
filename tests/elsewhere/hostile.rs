//! Acts that must not be taken in, each for its reason.

use super::{away, declared, declared_with, forged, forged_data, issue, refused, without};
use crate::support::day::{Day, Plan, typed};
use crate::support::key_of;
use airwrit::permit::decide::Refusal;
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::{self, Hand, Limits, Signing};
use airwrit::permit::decide::take_in::take_in;
use airwrit::record::carried::Carried;
use airwrit::record::json::Json;
use airwrit::record::line::{Draft, Line};
use airwrit::time::{seconds, utc};
use airwrit::trust::{Signer, token};

fn good() -> (Day, String, Carried) {
    let (day, n) = declared();
    let act = away(&day, &n, &issue(), "eleni").unwrap();
    (day, n, act)
}

fn with_time(act: &Carried, second: i64) -> Vec<u8> {
    forged(act, "eleni", |a| a.with("time", utc(second).as_str()))
}

/// The same act with a token for another claim.
fn with_token(day: &Day, act: &Carried, change: impl FnOnce(&mut token::Claim)) -> Vec<u8> {
    let n = act.text("permit").to_owned();
    let chain = day.station.chain();
    let data = act.act.get("data").unwrap();
    let mut claim = token::Claim {
        permit: n.clone(),
        valid_to: data.text("valid_to").unwrap().to_owned(),
        seq: chain.permit_seq(&n).unwrap(),
        hash: chain.permit_head(&n).to_owned(),
    };
    change(&mut claim);
    let token = token::make(&claim, &key_of("eleni")).unwrap();
    forged_data(act, "eleni", |d| d.with("token", token.as_str()))
}

#[test]
fn a_permit_that_moved_on() {
    let (mut day, n, act) = good();
    day.wait(60);
    let again = Typed { again: Some("read_wrong".into()), ..typed("siting", None, "41") };
    day.answer(&n, &again).unwrap();
    let raw = act.write();
    refused(&mut day, &raw, "moved on after what `eleni` was shown");
    refused(&mut day, &raw, ": answer, entered as Łukasz Gżegżółka, at ");
    refused(&mut day, &raw, &format!("make a new excerpt (`airwrit excerpt {n} --to FILE`)"));
    // Declared again, the older declaration is not what stands any more.
    day.declare(&n, "lukasz").unwrap();
    refused(&mut day, &raw, ": declare, signed by Łukasz Gżegżółka, at ");
}

/// Without a line of the permit: what happened to its set takes a declaration back.
#[test]
fn a_set_that_moved() {
    let (mut day, _, act) = good();
    day.of_set("moved", &[("place", "tank-4"), ("date", "2026-11-25")]);
    refused(&mut day, &act.write(), "is draft");
    refused(&mut day, &act.write(), ": moved, entered as");
}

#[test]
fn the_same_act_twice() {
    let (mut day, _, act) = good();
    let line = day.take_in(&act.write()).unwrap();
    refused(&mut day, &act.write(), &format!("in the register already: it is line {}", line.seq));
}

#[test]
fn an_act_for_another_register() {
    let (mut day, _, act) = good();
    let raw = forged(&act, "eleni", |a| a.with("log", "ffeeddccbbaa99887766554433221100"));
    refused(&mut day, &raw, "for another register, log ffeeddccbbaa99887766554433221100; this is log 0011");
}

#[test]
fn an_act_for_another_permit() {
    let (mut day, n, act) = good();
    let other = "KW2-261125-09";
    let raw = forged(&act, "eleni", |a| a.with("permit", other));
    refused(&mut day, &raw, "for the permit `KW2-261125-09`, which does not stand in this register");
    // One that stands there: what was signed for the first is no act for the second.
    let job = day.plan.job.replace("attendant: oksana", "attendant: soren");
    let job = job.replace("entry_watch: marit", "entry_watch: jiri");
    let second = day.open(&job);
    let raw = forged(&act, "eleni", |a| a.with("permit", second.as_str()));
    refused(&mut day, &raw, &format!("what `eleni` was shown is no line of {second}"));
    assert_ne!(n, second);
}

#[test]
fn an_act_of_another_kind() {
    let (mut day, _, act) = good();
    let raw = forged(&act, "eleni", |a| a.with("kind", "cancel"));
    refused(&mut day, &raw, "no act that a line may carry");
    let raw = forged(&act, "eleni", |a| a.with("kind", "answer"));
    refused(&mut day, &raw, "an act of the kind `answer` is not taken in");
    let raw = forged(&act, "eleni", |a| a.with("kind", "enrol"));
    refused(&mut day, &raw, "an act of the kind `enrol` is not taken in");
    // A closing act where nothing was handed back.
    let target = act.act.get("data").unwrap().text("target").unwrap().to_owned();
    let raw = forged(&act, "eleni", |a| {
        let data = airwrit::record::json::object([
            ("said", "I end it.".into()),
            ("target", target.as_str().into()),
            ("where", "own".into()),
        ]);
        a.with("kind", "close").with("data", data)
    });
    refused(&mut day, &raw, "it cannot be closed");
}

#[test]
fn a_wrong_pprev_and_one_too_old() {
    let (mut day, n, act) = good();
    let nowhere = "ab".repeat(32);
    let raw = forged(&act, "eleni", |a| a.with("pprev", nowhere.as_str()));
    refused(&mut day, &raw, "is no line of");
    let open = day.lines().iter().find(|l| l.kind.name == "open").unwrap().hash.clone();
    let raw = forged(&act, "eleni", |a| a.with("pprev", open.as_str()));
    refused(&mut day, &raw, "moved on after what `eleni` was shown");
    // 64 harmless lines may stand between, and not one more.
    for _ in 0..64 {
        day.on_permit(&n, "note", &[("words", "the kettle is on")]);
    }
    let mut at_64 = day.clone();
    at_64.take_in(&act.write()).unwrap();
    day.on_permit(&n, "note", &[("words", "the kettle is on")]);
    refused(&mut day, &act.write(), "65 lines came since, at most 64 may");
}

#[test]
fn a_time_ahead_behind_or_before_what_was_shown() {
    let (mut day, n, act) = good();
    let now = day.second;
    day.clone().take_in(&with_time(&act, now + 300)).unwrap();
    refused(&mut day, &with_time(&act, now + 301), "more than 5 min after the line");
    let shown = seconds(&day.state.permits[&n].last_signed("declare").unwrap().stamp.time);
    day.clone().take_in(&with_time(&act, shown - 300)).unwrap();
    refused(&mut day, &with_time(&act, shown - 301), "more than 5 min before the line that was shown");
}

/// A declaration does not last twelve hours, a live permit's cancelling may.
#[test]
fn later_than_twelve_hours() {
    let mut day = Day::opened(Plan::small().site("most_hours: 11 h", "most_hours: 24 h"));
    let n = day.number.clone();
    let what = Signing::Cancel { reason: "the ferry sails early".into() };
    let act = away(&day, &n, &what, "eleni").unwrap();
    day.wait(12 * 3600);
    day.clone().take_in(&act.write()).unwrap();
    day.wait(1);
    refused(&mut day, &act.write(), "more than 12 h before the line");
}

#[test]
fn said_altered_by_one_character() {
    let (mut day, n, act) = good();
    let data = act.act.get("data").unwrap();
    let said = data.text("said").unwrap().replace("no entry", "an entry");
    let raw = forged_data(&act, "eleni", |d| d.with("said", said.as_str()));
    refused(&mut day, &raw, "the words that were signed are not those of this permit");
    refused(&mut day, &raw, "permits an entry");
    let said = data.text("said").unwrap().replace(&n, "KW2-261125-1O");
    let raw = forged_data(&act, "eleni", |d| d.with("said", said.as_str()));
    refused(&mut day, &raw, "the words that were signed are not those of this permit");
    // A line more, at its end.
    let said = format!("{}\nNothing of this binds me.", data.text("said").unwrap());
    let raw = forged_data(&act, "eleni", |d| d.with("said", said.as_str()));
    refused(&mut day, &raw, "Nothing of this binds me.");
}

#[test]
fn where_it_was_not_signed() {
    let (mut day, _, act) = good();
    let raw = forged_data(&act, "eleni", |d| d.with("where", "station"));
    refused(&mut day, &raw, "it says where it was not");
    let raw = forged_data(&act, "eleni", |d| d.with("where", "pub"));
    refused(&mut day, &raw, "rule `kind`");
}

fn window(from: &str, to: &str, more: &str) -> Plan {
    let key = key_of("eleni").public().to_ssh();
    let at = |from: &str, to: &str| format!("{key}\n        from: {from}\n        to: {to}\n");
    Plan::small()
        .roster(&at("2026-01-01T00:00:00Z", "2027-12-31T23:59:59Z"), &format!("{}{more}", at(from, to)))
}

#[test]
fn a_key_retired_expired_or_not_yet_good() {
    let revoked = |how: &str| format!("        revoked: {{ at: 2026-11-25T05:00:00Z, as: {how} }}\n");
    let rows = [
        (window("2026-01-01T00:00:00Z", "2027-12-31T23:59:59Z", &revoked("retired")), "was revoked at"),
        (window("2026-01-01T00:00:00Z", "2027-12-31T23:59:59Z", &revoked("compromised")), "was revoked at"),
        (window("2026-01-01T00:00:00Z", "2026-11-24T23:59:59Z", ""), "may sign from"),
        (window("2026-11-26T00:00:00Z", "2027-12-31T23:59:59Z", ""), "may sign from"),
    ];
    for (plan, says) in rows {
        let (mut day, n) = declared_with(plan);
        let act = away(&day, &n, &issue(), "eleni").unwrap();
        refused(&mut day, &act.write(), says);
    }
}

/// The window ends between signing and taking in: both times count.
#[test]
fn a_key_that_ends_on_the_way() {
    let (day, _) = declared();
    let to = utc(day.second + 60);
    let (mut day, n) = declared_with(window("2026-01-01T00:00:00Z", &to, ""));
    let act = away(&day, &n, &issue(), "eleni").unwrap();
    day.wait(61);
    refused(&mut day, &act.write(), "may sign from");
}

#[test]
fn somebody_not_in_that_role() {
    let (mut day, _, act) = good();
    let key = key_of("oksana").public().fingerprint();
    let as_oksana = |a: Json| a.with("by", "oksana").with("key", key.as_str());
    refused(&mut day, &forged(&act, "oksana", as_oksana), "`oksana` may not sign as supervisor");
    let raw = forged(&act, "oksana", |a| as_oksana(a).with("role", "attendant"));
    refused(&mut day, &raw, "is not signed as `attendant`");
    let raw = forged(&act, "eleni", |a| a.with("role", "operator"));
    refused(&mut day, &raw, "is not signed as `operator`");
}

#[test]
fn the_one_who_declared() {
    let plan = Plan::small().roster("roles: [operator]\n", "roles: [operator, supervisor]\n");
    let (mut day, n) = declared_with(plan);
    away(&day, &n, &issue(), "lukasz").unwrap_err();
    let act = away(&day, &n, &issue(), "eleni").unwrap();
    let key = key_of("lukasz").public().fingerprint();
    let raw = forged(&act, "lukasz", |a| a.with("by", "lukasz").with("key", key.as_str()));
    refused(&mut day, &raw, "the person who declared may not countersign");
}

#[test]
fn one_person_with_two_keys() {
    let second = key_of("lukasz, the other key").public();
    let own = key_of("lukasz").public().to_ssh();
    let window = "        from: 2026-01-01T00:00:00Z\n        to: 2027-12-31T23:59:59Z\n";
    let plan = Plan::small().roster("roles: [operator]\n", "roles: [operator, supervisor]\n").roster(
        &format!("      - key: {own}\n{window}"),
        &format!("      - key: {own}\n{window}      - key: {}\n{window}", second.to_ssh()),
    );
    let (mut day, n) = declared_with(plan);
    let act = away(&day, &n, &issue(), "eleni").unwrap();
    let raw = forged(&act, "lukasz, the other key", |a| {
        a.with("by", "lukasz").with("key", second.fingerprint().as_str())
    });
    refused(&mut day, &raw, "the person who declared may not countersign");
}

#[test]
fn an_id_that_looks_like_another() {
    let (mut day, _, act) = good();
    let raw = forged(&act, "eleni", |a| a.with("by", "elenl"));
    refused(&mut day, &raw, "`elenl` is not on the roster");
    // A Cyrillic e is no character of an id.
    let raw = forged(&act, "eleni", |a| a.with("by", "\u{435}leni"));
    refused(&mut day, &raw, "rule `person`");
    // Somebody else's key under her name, and her key's name with another's signature.
    let key = key_of("bohdan").public().fingerprint();
    let raw = forged(&act, "bohdan", |a| a.with("key", key.as_str()));
    refused(&mut day, &raw, "is no key of `eleni`");
    refused(&mut day, &forged(&act, "bohdan", |a| a), "the signature of `eleni` under the act is wrong");
}

/// S + L is the same signature to a lenient verifier (RFC 8032, 5.1.7: S must be below L).
#[test]
fn a_malleable_signature() {
    const L: [u8; 32] = [
        0xed, 0xd3, 0xf5, 0x5c, 0x1a, 0x63, 0x12, 0x58, 0xd6, 0x9c, 0xf7, 0xa2, 0xde, 0xf9, 0xde, 0x14, 0, 0,
        0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x10,
    ];
    let (mut day, _, mut act) = good();
    let mut carry = 0u16;
    for (s, l) in act.sign[32..].iter_mut().zip(L) {
        carry += u16::from(*s) + u16::from(l);
        *s = u8::try_from(carry & 0xff).unwrap();
        carry >>= 8;
    }
    refused(&mut day, &act.write(), "the signature of `eleni` under the act is wrong");
}

fn text_of(act: &Carried) -> String {
    String::from_utf8(act.write()).unwrap()
}

#[test]
fn json_that_is_written_otherwise() {
    let (mut day, _, act) = good();
    let text = text_of(&act);
    for (from, to) in [
        ("\"by\":\"eleni\"", "\"by\": \"eleni\""),
        ("\"by\":\"eleni\"", "\"by\":\"\\u0065leni\""),
        ("\"v\":1", "\"v\":1.0"),
        ("\"v\":1", "\"v\":01"),
        ("\"by\":\"eleni\"", "\"by\":\"eleni\",\"by\":\"eleni\""),
        ("{\"act\":{\"by\":\"eleni\",", "{\"act\":{\"zz\":\"eleni\","),
    ] {
        assert!(text.contains(from), "{from}");
        let raw = text.replacen(from, to, 1);
        refused(&mut day, raw.as_bytes(), "the act is not written as the record writes it");
    }
    let raw = text.replacen("{\"act\":", "{ \"act\":", 1);
    refused(&mut day, raw.as_bytes(), "it is no signed act");
    let raw = text.replacen(",\"act_sign\":", " ,\"act_sign\":", 1);
    refused(&mut day, raw.as_bytes(), "the act is not written as the record writes it");
    // The last digit of base64 has spare bits.
    let sign = text.rfind("==\"}").unwrap();
    let mut raw = text.clone().into_bytes();
    raw[sign - 1] = if raw[sign - 1] == b'A' { b'B' } else { raw[sign - 1] + 1 };
    let said = super::words(&day.take_in(&raw).map(|l| l.seq).unwrap_err());
    assert!(said.contains("not canonical base64") || said.contains("signature"), "{said}");
}

#[test]
fn a_member_too_many_or_too_few() {
    let (mut day, _, act) = good();
    refused(&mut day, &forged(&act, "eleni", |a| a.with("also", "this")), "rule `act`");
    refused(&mut day, &forged_data(&act, "eleni", |d| d.with("also", "this")), "rule `kind`");
    refused(&mut day, &forged_data(&act, "eleni", |d| without(d, "said")), "rule `kind`");
    refused(&mut day, &forged_data(&act, "eleni", |d| without(d, "token")), "rule `kind`");
    refused(&mut day, &forged(&act, "eleni", |a| without(a, "time")), "rule `act`");
    // What the table of kinds allows is still compared: an empty narrowing is not what was prepared.
    let raw = forged_data(&act, "eleni", |d| d.with("limits", Json::Obj(Vec::new())));
    refused(&mut day, &raw, "its `limits` is");
    let text = text_of(&act).replacen("\"}\n", "\",\"more\":1}\n", 1);
    refused(&mut day, text.as_bytes(), "it is no signed act");
}

#[test]
fn a_token_of_something_else() {
    let (mut day, n, act) = good();
    let raw = with_token(&day, &act, |c| c.permit = "KW2-261125-09".into());
    refused(&mut day, &raw, "rule `token`");
    let raw = with_token(&day, &act, |c| c.valid_to = "2026-11-26T13:30:00Z".into());
    refused(&mut day, &raw, "rule `token`");
    let raw = with_token(&day, &act, |c| c.seq += 1);
    refused(&mut day, &raw, "rule `token`");
    let raw = with_token(&day, &act, |_| {});
    assert_eq!(day.take_in(&raw).unwrap().permit.as_deref(), Some(n.as_str()));
}

#[test]
fn an_answer_to_an_older_declaration() {
    let (mut day, n) = declared();
    let old = day.station.chain().declared(&n).unwrap().0.clone();
    day.say(&n, "siting", None, "41").unwrap_err();
    let again = Typed { again: Some("read_wrong".into()), ..typed("siting", None, "41") };
    day.answer(&n, &again).unwrap();
    day.declare(&n, "lukasz").unwrap();
    let act = away(&day, &n, &issue(), "eleni").unwrap();
    let raw = forged_data(&act, "eleni", |d| d.with("target", old.as_str()));
    refused(&mut day, &raw, "it answers line ");
    let raw = forged_data(&act, "eleni", |d| d.with("target", "ab".repeat(32).as_str()));
    refused(&mut day, &raw, "it answers a line that is not here");
}

#[test]
fn an_end_later_than_worked_out() {
    let (mut day, _, act) = good();
    let later = "2026-11-25T13:30:01Z";
    let raw = forged_data(&act, "eleni", |d| d.with("valid_to", later));
    refused(
        &mut day,
        &raw,
        "it would end at 2026-11-25T13:30:01Z, worked out here it ends at 2026-11-25T13:30:00Z",
    );
    let raw = forged_data(&act, "eleni", |d| d.with("valid_by", "whenever I like"));
    refused(&mut day, &raw, "its `valid_by` is `whenever I like`");
}

/// Numbers in words and in data: a limit that was signed in the words alone, or in the data alone.
#[test]
fn a_limit_in_words_only_or_in_data_only() {
    let (mut day, n) = declared();
    let one = Signing::Countersign(Limits { wearers: Some(1), ..Limits::default() });
    let narrowed = away(&day, &n, &one, "eleni").unwrap();
    let raw = forged_data(&narrowed, "eleni", |d| without(d, "limits"));
    refused(&mut day, &raw, "At most 1 on air at once.");
    let act = away(&day, &n, &issue(), "eleni").unwrap();
    let limits = airwrit::record::json::object([("wearers", Json::Int(1))]);
    let raw = forged_data(&act, "eleni", |d| d.with("limits", limits));
    refused(&mut day, &raw, "At most 1 on air at once.");
}

#[test]
fn bytes_after_the_line_two_acts_and_none() {
    let (mut day, _, act) = good();
    let raw = act.write();
    refused(&mut day, &[raw.as_slice(), b"x"].concat(), "bytes stand after its line");
    refused(&mut day, &[raw.as_slice(), b"\n"].concat(), "2 lines stand in it");
    refused(&mut day, &[raw.as_slice(), raw.as_slice()].concat(), "2 lines stand in it");
    refused(&mut day, &raw[..raw.len() - 1], "was it cut short?");
    refused(&mut day, &[b"\xef\xbb\xbf".as_slice(), raw.as_slice()].concat(), "it is no signed act");
    refused(&mut day, b"", "was it cut short?");
    refused(&mut day, b"\n", "it is no signed act");
}

#[test]
fn a_huge_file_and_one_that_is_no_text() {
    let (mut day, _, act) = good();
    let mut huge = vec![b' '; 3 * 1024 * 1024];
    huge.push(b'\n');
    refused(&mut day, &huge, "an act has at most");
    let mut raw = act.write();
    let at = raw.windows(5).position(|w| w == b"eleni").unwrap();
    raw[at] = 0xff;
    refused(&mut day, &raw, "the act is not written as the record writes it");
}

/// No byte of an act can be changed without its being refused.
#[test]
fn every_byte_changed() {
    let (day, _, act) = good();
    let raw = act.write();
    for i in (0..raw.len()).step_by(7) {
        let mut bad = raw.clone();
        bad[i] ^= 1;
        let read = Carried::read(&bad);
        let taken = read.map_err(drop).and_then(|c| decided(&day, &c).map_err(drop));
        assert!(taken.is_err(), "byte {i} may be {:?}", char::from(bad[i]));
    }
}

/// Put into a register by hand, past taking in: a verifier finds an act that stands twice.
#[test]
fn a_replayed_act_in_a_forged_register_is_broken() {
    let (mut day, n, act) = good();
    day.take_in(&act.write()).unwrap();
    let now = day.moment();
    let draft = |permit: Option<(String, String)>, l: &Line| Draft {
        kind: l.kind.name,
        permit,
        by: None,
        what: Carried {
            bytes: l.act.as_ref().unwrap().bytes.clone(),
            act: Json::Bool(true),
            sign: l.act.as_ref().unwrap().sign,
        }
        .what(),
    };
    let signed: Vec<Line> = day.lines().iter().filter(|l| l.act.is_some() && l.seq > 0).cloned().collect();
    assert!(signed.iter().any(|l| l.kind.name == "set") && signed.iter().any(|l| l.kind.name == "declare"));
    for l in signed {
        let s = &mut day.clone().station;
        let r = s.open.as_mut().unwrap();
        let permit = l.permit.as_ref().map(|p| (p.to_string(), r.chain.permit_head(&n).to_owned()));
        let why =
            r.append(&mut s.register, &mut s.seal, &draft(permit, &l), &now, &mut s.random).unwrap_err();
        let wanted = if l.permit.is_some() { "`pprev`" } else { "`after`" };
        assert!(format!("{why:?}").contains(wanted), "{} {why:?}", l.kind.name);
    }
}

/// The rules of deciding are those of the station: who stands at the permit does not issue it.
#[test]
fn refused_where_it_is_signed() {
    let (day, n) = declared();
    let says = |what: &Signing, by: &str, wanted: &str| {
        let r = away(&day, &n, what, by).unwrap_err();
        assert!(r.why.iter().any(|w| w.contains(wanted)), "{r:?}");
    };
    says(&issue(), "oksana", "is no supervisor on the roster");
    says(&Signing::Declare, "lukasz", "it cannot be declared");
    says(&Signing::Close, "eleni", "it cannot be closed");
    let mut late = day.clone();
    late.wait(3700);
    let r = away(&late, &n, &issue(), "eleni").unwrap_err();
    assert!(r.why.iter().any(|w| w.contains("a declaration is good for 60 min here")), "{r:?}");
    let hand = Hand::elsewhere("eleni");
    assert!(hand.own && hand.shown.is_none());
}

/// A text that an approver signed on a copy of the register.
fn text_from_elsewhere(day: &Day, kind: &'static str, id: &str, text: &str) -> Carried {
    let revision = (kind == "form").then_some(1);
    let hand = Hand::elsewhere("tuula");
    day.ask(|k| sign::approve(k, &hand, kind, id, revision, text)).unwrap().sign(&key_of("tuula")).unwrap()
}

#[test]
fn texts_that_are_not_put_in_force() {
    let (mut day, _) = declared();
    let set = day.plan.set.clone();
    let newer = set.replace("rated_flow: 874 L/min", "rated_flow: 875 L/min");
    let act = text_from_elsewhere(&day, "set", "heron", &newer);
    let raw = forged_data(&act, "tuula", |d| d.with("text", set.as_str()));
    refused(&mut day, &raw, "its `hash` is");
    refused(&mut day, &raw, "the words that were signed are not those of this");
    let raw = forged_data(&act, "tuula", |d| d.with("set", "gull"));
    refused(&mut day, &raw, "after a text that does not stand in this register");
    let zeros = airwrit::record::line::NONE;
    let raw = forged(&act, "tuula", |a| {
        let data = a.get("data").unwrap().clone().with("set", "gull");
        a.with("data", data).with("after", zeros)
    });
    refused(&mut day, &raw, "the text says it is set `heron`, the act says `gull`");
    let raw = forged_data(&act, "tuula", |d| d.with("text", "set: heron\n"));
    refused(&mut day, &raw, "the set file cannot be read");
    let raw = forged(&act, "eleni", |a| {
        a.with("by", "eleni").with("key", key_of("eleni").public().fingerprint().as_str())
    });
    refused(&mut day, &raw, "`eleni` may not sign as approver");
    // Another one was put in force meanwhile.
    let mut moved = day.clone();
    moved.approve("set", &set.replace("rated_flow: 874 L/min", "rated_flow: 873 L/min"));
    refused(&mut moved, &act.write(), "another such text was put in force since it was signed: line ");
    // Seven days, to the second.
    day.wait(7 * 86_400);
    decided(&day, &act).unwrap();
    day.wait(1);
    let r = decided(&day, &act).unwrap_err();
    assert!(r.why.iter().any(|w| w.contains("more than 168 h before the line")), "{r:?}");
    // A form that leaves out what no form may: its approver was not told by this program.
    let (mut day, _) = declared();
    let form = day.plan.work.replace("title: Small", "title: Smaller");
    let act = text_from_elsewhere(&day, "form", "small", &form);
    refused(&mut day, &act.write(), "airwrit lint FILE");
}

/// What is decided of an act, whatever day somebody says it is.
fn decided(day: &Day, act: &Carried) -> Result<Draft, Refusal> {
    day.ask(|k| take_in(k, day.lines(), act, true))
}
