//! What changed in the texts of a permit since the last one closed on its set; and that no text stands in a
//! register but as a line that an approver signed.

use crate::audit::trust;
use crate::support::{Station, key_of, roster_text, sign_roster};
use airwrit::audit::{Verdict, verify};
use airwrit::permit::decide::Known;
use airwrit::permit::since::since_last_closed;
use airwrit::permit::state::fold;
use airwrit::record::json::{Json, object, sorted};
use airwrit::record::line::{ActDraft, Draft, NONE, What, hash};
use airwrit::time::{Moment, utc};
use airwrit::trust::{Role, Roster};

/// One permit opened and closed, its holder and supervisor as in the other tests.
fn closed(s: &mut Station, n: &str) {
    s.open_permit(n);
    let d = s.act(n, "declare", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    let d = s.countersign(n, "per-lind");
    s.add(d);
    let d = s.act(n, "hand_back", "ola-brzoza", Role::Operator, vec![]);
    s.add(d);
    let target = s.chain().handed_back(n).unwrap().to_owned();
    let d = s.act(n, "close", "per-lind", Role::Supervisor, vec![("target", target.into())]);
    s.add(d);
}

fn told(s: &Station, n: &str) -> Vec<String> {
    let lines = &s.open.as_ref().unwrap().lines;
    let state = fold(lines).unwrap();
    let now = Moment { time: s.chain().time.clone(), zone: "+01:00".into() };
    let known = Known::new(s.chain(), &state, &now);
    since_last_closed(&known, lines, &state.permits[n])
}

#[test]
fn what_changed_since_the_last_closed_permit_is_told_with_who_and_when() {
    let (one, two, three) = ("KW2-261125-01", "KW2-261125-02", "KW2-261125-03");
    let mut s = Station::enrolled();
    s.texts();
    closed(&mut s, one);
    assert!(told(&s, one)[0].starts_with("no permit was closed on this set before"), "{:?}", told(&s, one));
    s.open_permit(two);
    let same = told(&s, two);
    assert_eq!(same.len(), 1);
    assert!(
        same[0].starts_with("set, site, checklist and roster are as they were on KW2-261125-01"),
        "{same:?}"
    );

    // A set file with another limit, and a roster with a word less.
    s.approve("set", "mobile-1", "set: mobile-1\nreserve_minimum: 140 bar\n");
    let old = Roster::read(&roster_text()).unwrap();
    let text = airwrit::trust::changes::next_text(&old).unwrap();
    let text = text.replacen("name: Per Lind", "name: Per Lind-Kos", 1);
    let data = object([
        ("signs", sign_roster(&text, &["custodian-a", "custodian-b"]).get("signs").unwrap().clone()),
        ("text", text.as_str().into()),
    ]);
    s.add(Draft { kind: "roster", permit: None, by: None, what: What::Data(data) });
    s.open_permit(three);
    let changed = told(&s, three);
    assert_eq!(changed.len(), 3, "{changed:?}");
    assert!(
        changed[0].starts_with("CHANGED since KW2-261125-01, the last permit closed on this set"),
        "{changed:?}"
    );
    assert!(
        changed[1].starts_with("set file mobile-1, approved by ")
            && changed[1].ends_with("reserve_minimum 140 bar (new)"),
        "{changed:?}"
    );
    assert!(
        changed[2].starts_with("roster version 2, signed by its custodians and taken in at")
            && changed[2].ends_with("`per-lind`: name Per Lind-Kos instead of Per Lind"),
        "{changed:?}"
    );
}

fn text_line(s: &Station, kind: &'static str, by: &str, role: Role) -> Draft {
    let text = "set: mobile-9\n";
    let mut members: Vec<(String, Json)> = vec![
        ("said".into(), "I say so.".into()),
        ("where".into(), "station".into()),
        ("text".into(), text.into()),
        ("hash".into(), hash(text.as_bytes()).into()),
    ];
    match kind {
        "form" => {
            members.push(("form".into(), "pre-nine".into()));
            members.push(("revision".into(), Json::Int(1)));
        }
        "site" => {
            members.push(("site".into(), "yard-nine".into()));
            members.push(("what".into(), "site".into()));
        }
        _ => members.push(("set".into(), "mobile-9".into())),
    }
    let act = ActDraft {
        kind,
        log: s.chain().origin.log.clone(),
        permit: None,
        shown: NONE.into(),
        by: by.into(),
        role,
        time: utc(s.second),
        data: sorted(members),
    };
    Draft { kind, permit: None, by: None, what: act.sign(&key_of(by)).unwrap() }
}

/// Nobody but an approver puts a text in force, and no permit rests on a text that nobody put in force: so
/// the verifier has no such text to name.
#[test]
fn every_text_that_a_permit_rests_on_was_signed_by_an_approver() {
    for kind in ["set", "site", "form"] {
        for (by, role) in [("per-lind", Role::Supervisor), ("ola-brzoza", Role::Operator)] {
            let mut s = Station::enrolled();
            let draft = text_line(&s, kind, by, role);
            assert!(s.try_add(draft).is_err(), "{kind} by a {}", role.word());
            // Claiming the role does not give it.
            let draft = text_line(&s, kind, by, Role::Approver);
            let roster = &s.chain().origin.roster;
            let has = roster.person(by).unwrap().roles.contains(&Role::Approver);
            assert_eq!(s.try_add(draft).is_ok(), has, "{kind} by {by} as approver");
        }
        // A line of the station's own, without an act.
        let mut s = Station::enrolled();
        let data = object([("hash", hash(b"x").into()), (kind, "mobile-9".into()), ("text", "x".into())]);
        let data = sorted(match data {
            Json::Obj(m) => m,
            Json::Arr(_) | Json::Str(_) | Json::Int(_) | Json::Bool(_) => Vec::new(),
        });
        assert!(s.try_add(Draft { kind, permit: None, by: None, what: What::Data(data) }).is_err(), "{kind}");
    }
    // A permit that cites a text nobody put in force, or one that no more is; an answer to a form like that.
    let n = "KW2-261125-01";
    for cited in ["form", "set", "site"] {
        let mut s = Station::enrolled();
        s.texts();
        let open = |s: &Station, hash: &str| {
            let with = |kind: &str, id: &str| {
                let own = s.cited(kind, id);
                if kind == cited { object([("hash", hash.into()), ("id", id.into())]) } else { own }
            };
            let data = object([
                ("for", "work".into()),
                ("form", with("form", "pre-start")),
                ("job", object([("what", "x".into())])),
                ("rules", Json::Int(1)),
                ("set", with("set", "mobile-1")),
                ("site", with("site", "north-yard")),
            ]);
            s.station_draft(Some(n), "open", data)
        };
        let draft = open(&s, &hash(b"nobody saw this"));
        assert!(s.try_add(draft).is_err(), "{cited}");
    }
    let mut s = Station::enrolled();
    s.texts();
    s.open_permit(n);
    let answer = object([
        ("form", hash(b"nobody saw this").into()),
        ("shown", "x".into()),
        ("step", "x".into()),
        ("value", "yes".into()),
    ]);
    let draft = s.station_draft(Some(n), "answer", answer);
    assert!(s.try_add(draft).is_err(), "an answer to a form that nobody put in force");
    assert_eq!(verify(&s.bytes(), Some(&trust(&["custodian-a"], 1))).report.verdict, Verdict::Sound);
}
