//! Signing elsewhere: an excerpt goes out, an act comes back, and is taken in at the station.
//!
//! Hostile acts are made from a good one: one thing is changed, and where the change would break the signature
//! the act is signed again, so that each is refused for what it is and not for a broken signature.

mod hostile;
mod journey;
mod tongues;

use crate::support::day::{Day, Plan, trust};
use crate::support::key_of;
use airwrit::actions::Trouble;
use airwrit::audit::{self, Verdict};
use airwrit::permit::decide::sign::{self, Hand, Limits, Signing};
use airwrit::permit::decide::{Known, Refusal};
use airwrit::record::carried::Carried;
use airwrit::record::excerpt;
use airwrit::record::json::{self, Json};
use airwrit::time::Moment;
use airwrit::trust::Signer;
use airwrit::trust::sshsig::{self, HashName};

/// A permit that was declared, and now.
pub fn declared() -> (Day, String) {
    declared_with(Plan::small())
}

pub fn declared_with(plan: Plan) -> (Day, String) {
    let mut day = Day::opened(plan);
    let n = day.number.clone();
    day.ready(&n);
    day.wait(30);
    day.declare(&n, "lukasz").unwrap();
    day.wait(60);
    (day, n)
}

/// The supervisor's own laptop: everything it knows is an excerpt, and its clock.
pub fn away(day: &Day, n: &str, what: &Signing, by: &str) -> Result<Carried, Refusal> {
    let bytes = excerpt::of(day.lines(), n).unwrap();
    let v = audit::verify_excerpt(&bytes, Some(&trust()));
    assert!(matches!(v.report.verdict, Verdict::Sound | Verdict::Unproven), "{:?}", v.report.said);
    let now = Moment::new(day.second, &day.zone);
    let known = Known::new(v.chain.as_ref().unwrap(), &v.state, &now);
    sign::prepare(&known, n, what, &Hand::elsewhere(by)).map(|p| p.sign(&key_of(by)).unwrap())
}

pub fn issue() -> Signing {
    Signing::Countersign(Limits::default())
}

/// The act with something changed in it, signed anew by this key.
pub fn forged(carried: &Carried, key: &str, change: impl FnOnce(Json) -> Json) -> Vec<u8> {
    let act = change(carried.act.clone());
    let bytes = json::write(&act).unwrap();
    let sign = key_of(key).sign(&sshsig::tbs(sshsig::SIGN, HashName::Sha256, &bytes)).unwrap();
    Carried { bytes, act, sign }.write()
}

/// The same with something changed in its data.
pub fn forged_data(carried: &Carried, key: &str, change: impl FnOnce(Json) -> Json) -> Vec<u8> {
    forged(carried, key, |act| {
        let data = act.get("data").unwrap().clone();
        act.with("data", change(data))
    })
}

/// An object without one of its members.
pub fn without(object: Json, name: &str) -> Json {
    let Json::Obj(mut members) = object else { panic!("no object") };
    members.retain(|(k, _)| k != name);
    Json::Obj(members)
}

/// Everything that a refusal says.
pub fn words(t: &Trouble) -> String {
    match t {
        Trouble::Refused(r) | Trouble::WhatDay(r) => {
            format!("{} | {}", r.why.join(" | "), r.instead.as_deref().unwrap_or(""))
        }
        Trouble::Broken { at, broken } => format!("BROKEN {at} {broken:?}"),
        Trouble::CouldNot(why) => format!("COULD NOT {why}"),
    }
}

/// Taken in, it is refused with these words, and nothing is written.
#[track_caller]
pub fn refused(day: &mut Day, raw: &[u8], wanted: &str) {
    let before = (day.station.register.clone(), day.station.seal.content("key"));
    let trouble = day.take_in(raw).map(|l| l.seq).unwrap_err();
    assert!(matches!(trouble, Trouble::Refused(_)), "{trouble:?}");
    let said = words(&trouble);
    assert!(said.contains(wanted), "`{wanted}` is not said: {said}");
    let volume = "0001.jsonl";
    assert_eq!(before.0.content(volume), day.station.register.content(volume), "something was written");
    assert_eq!(before.1, day.station.seal.content("key"), "the seal moved on");
}
