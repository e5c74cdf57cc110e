//! An act is prepared in the language that its signer reads, and taken in whatever language is bound there: prepared again
//! in each that is spoken here, it must come out byte for byte the same in one of them.

use super::{away, declared, forged_data, issue, refused, words};
use crate::support::day::{Day, Plan, typed};
use crate::support::key_of;
use airwrit::audit::Verdict;
use airwrit::permit::decide::answer::Typed;
use airwrit::permit::decide::sign::{self, Hand, Limits, Signing};
use airwrit::permit::decide::take_in::take_in;
use airwrit::record::carried::Carried;
use airwrit::tongue::Tongue;
use airwrit::trust::sshsig::HashName;
use airwrit::trust::{Signer, sshsig};
use airwrit::view::StateWord;

fn said(act: &Carried) -> String {
    act.act.get("data").unwrap().text("said").unwrap().to_owned()
}

/// Prepared away in one language and taken in under another: as it was signed.
#[track_caller]
fn brought(day: &mut Day, what: &Signing, by: &str, (signed, bound): (Tongue, Tongue), life: StateWord) {
    let n = day.number.clone();
    day.wait(40);
    let act = signed.within(|| away(day, &n, what, by)).unwrap_or_else(|r| panic!("{what:?} {r:?}"));
    let english = Tongue::English.within(|| away(day, &n, what, by)).unwrap();
    assert_eq!(said(&act) == said(&english), signed == Tongue::English, "{}", said(&act));
    day.wait(20);
    let line =
        bound.within(|| day.take_in(&act.write())).unwrap_or_else(|t| panic!("{what:?} {}", words(&t)));
    assert_eq!(line.act.as_ref().unwrap().bytes, act.bytes);
    assert_eq!(day.life(&n), life);
}

#[test]
fn every_act_of_a_permit_may_be_signed_in_another_language_than_the_station_speaks() {
    let pairs = [
        (Tongue::Polish, Tongue::English),
        (Tongue::Ukrainian, Tongue::Polish),
        (Tongue::English, Tongue::Ukrainian),
    ];
    for how in pairs {
        let mut day = Day::opened(Plan::small());
        let n = day.number.clone();
        day.ready(&n);
        brought(&mut day, &Signing::Declare, "lukasz", how, StateWord::Declared);
        let narrowed = Limits { wearers: Some(1), words: Some("no spraying".into()), ..Limits::default() };
        brought(&mut day, &Signing::Countersign(narrowed), "eleni", how, StateWord::Live);
        for (step, value) in [("seen", "yes"), ("stopped_now", "yes")] {
            let t = typed(step, None, value);
            day.answer(&n, &Typed { shutdown: true, ..t }).unwrap();
            if step == "seen" {
                day.request_of_set("stopped").unwrap();
            }
        }
        let back = Signing::HandBack { left_running: None, reason: Some("the tide".into()) };
        brought(&mut day, &back, "lukasz", how, StateWord::HandedBack);
        brought(&mut day, &Signing::Close, "bohdan", how, StateWord::Closed);
        // What is signed in another language folds and verifies like everything else.
        how.1.within(|| day.assert_replays());
        assert_eq!(day.verify().report.verdict, Verdict::Sound);
    }
}

/// The words that are recorded beside those that are signed stand in the same language.
#[test]
fn what_ends_it_is_recorded_in_the_language_of_who_signs() {
    let (mut day, n) = declared();
    let act = Tongue::Polish.within(|| away(&day, &n, &issue(), "eleni")).unwrap();
    let line = day.take_in(&act.write()).unwrap();
    let by = line.data.text("valid_by").unwrap();
    let own = Tongue::Polish.within(|| day.on(&n, |k, p, t| sign::valid_to(k, p, t, None).because));
    assert_eq!(by, own);
    assert!(line.data.text("said").unwrap().contains(by));
}

#[test]
fn a_changed_word_is_refused_in_any_language() {
    let (mut day, n) = declared();
    for tongue in Tongue::ALL {
        let act = tongue.within(|| away(&day, &n, &issue(), "eleni")).unwrap();
        // Not the words alone: what is signed of them.
        let longer = format!("{}\nNothing of this binds me.", said(&act));
        let raw = forged_data(&act, "eleni", |d| d.with("said", longer.as_str()));
        refused(&mut day, &raw, "the words that were signed are not those of this permit");
        refused(&mut day, &raw, "Nothing of this binds me.");
        let other = said(&act).replacen(&n, "KW2-261125-1O", 1);
        let raw = forged_data(&act, "eleni", |d| d.with("said", other.as_str()));
        refused(&mut day, &raw, "KW2-261125-1O");
        let raw = forged_data(&act, "eleni", |d| d.with("said", said(&act).to_uppercase().as_str()));
        refused(&mut day, &raw, "the words that were signed are not those of this permit");
    }
}

/// Half in one language and half in another is nothing that anybody was shown.
#[test]
fn words_of_two_languages_together_are_refused() {
    let (mut day, n) = declared();
    let [english, polish, ukrainian] =
        Tongue::ALL.map(|t| t.within(|| away(&day, &n, &issue(), "eleni")).unwrap());
    let head = |a: &Carried| said(a).lines().next().unwrap().to_owned();
    let tail = |a: &Carried| said(a).lines().skip(1).map(|l| format!("\n{l}")).collect::<String>();
    for (a, b) in [(&english, &polish), (&polish, &ukrainian), (&ukrainian, &english)] {
        let mixed = format!("{}{}", head(a), tail(b));
        if mixed == said(a) {
            continue;
        }
        let raw = forged_data(a, "eleni", |d| d.with("said", mixed.as_str()));
        refused(&mut day, &raw, "the words that were signed are not those of this permit");
    }
    // And what would be good in one language is good in it alone: a wider limit is no translation.
    let raw = forged_data(&polish, "eleni", |d| d.with("valid_to", "2027-01-01T00:00:00Z"));
    refused(&mut day, &raw, "it would end at 2027-01-01T00:00:00Z");
}

/// A text that is put in force is prepared again like everything else.
#[test]
fn a_text_approved_in_another_language() {
    let (day, _) = declared();
    let text = day.plan.site.replace("most_hours: 11 h", "most_hours: 10 h");
    assert_ne!(text, day.plan.site);
    let id = text.lines().find_map(|l| l.strip_prefix("site: ")).unwrap().to_owned();
    let act = Tongue::Polish.within(|| {
        let prepared = day.ask(|k| sign::approve(k, &Hand::here("tuula"), "site", &id, None, &text));
        prepared.map(|p| p.sign(&key_of("tuula")).unwrap())
    });
    let act = act.unwrap_or_else(|r| panic!("{r:?}"));
    day.ask(|k| take_in(k, day.lines(), &act, false)).unwrap();
    let data = act.act.get("data").unwrap().clone();
    let other =
        Carried::read(&forged_data(&act, "tuula", |_| data.with("said", said(&act).to_lowercase().as_str())))
            .unwrap();
    let signed = sshsig::tbs(sshsig::SIGN, HashName::Sha256, &other.bytes);
    assert!(key_of("tuula").public().verifies(&signed, &other.sign));
    let why = day.ask(|k| take_in(k, day.lines(), &other, false)).unwrap_err();
    assert!(why.why[0].contains("the words that were signed are not those"), "{why:?}");
}
