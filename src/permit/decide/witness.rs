//! Another station's register: what it says of a set that is here now, and an air test brought from it. And sets that
//! come to this register and leave it.
//!
//! Always: the other register was verified whole before; what is brought cites its line and the head it was read at;
//! anything on either side since that speaks against the test refuses it. Not here: verifying (`audit`).

use super::air::{Told, of_set};
use super::{Known, Refusal, unless};
use crate::permit::bench::{air_test as test_words, file};
use crate::permit::state::{FOUL, Happened, SetState, State};
use crate::record::chain::Chain;
use crate::record::json::{Json, sorted};
use crate::record::line::Draft;
use crate::time::local;
use crate::tongue::say;
use crate::view::{StateWord, recorded};
use jiff::civil::Date;

/// The other register, verified.
#[derive(Clone, Copy)]
pub struct Other<'a> {
    /// Chain.
    pub chain: &'a Chain,
    /// State.
    pub state: &'a State,
}

impl Other<'_> {
    fn text(&self, kind: &str, id: &str) -> Option<&str> {
        self.chain.texts.get(&(kind.to_owned(), id.to_owned())).map(|t| t.text.as_str())
    }
}

/// What of the two registers does not fit together, for this set.
fn of_one_set(known: &Known<'_>, other: &Other<'_>, set: &str) -> Result<(), Refusal> {
    let mut why = Vec::new();
    if other.chain.origin.log == known.chain.origin.log || known.chain.is_known(&other.chain.origin.log) {
        return Err(Refusal::because(say!("this is a copy of this register itself"))
            .instead(say!("`airwrit verify --against` compares copies")));
    }
    let serial = |text: Option<&str>| {
        let values = text.and_then(|t| file("set", t).ok())?;
        values.text("serial").map(str::to_owned)
    };
    let here = known.chain.texts.get(&("set".to_owned(), set.to_owned())).map(|t| t.text.as_str());
    match (serial(here), serial(other.text("set", set))) {
        (None, _) => why.push(say!("no set `{set}` is in force here", set = crate::text::safe_line(set))),
        (_, None) => {
            why.push(say!("the other register has no set `{set}`", set = crate::text::safe_line(set)))
        }
        (Some(a), Some(b)) if a != b => {
            why.push(say!(
                "its set {set} has the serial number {theirs}, ours {ours}: another machine",
                set,
                theirs = b,
                ours = a
            ));
        }
        (Some(_), Some(_)) => {}
    }
    unless(why, say!("name the set as both registers do"))
}

/// The line that says what was read.
pub fn witness(known: &Known<'_>, other: &Other<'_>, set: &str, by: &str) -> Result<Draft, Refusal> {
    known.clock()?;
    of_one_set(known, other, set)?;
    let released = other.state.sets.get(set).is_some_and(|s| s.released.is_some());
    let mut members = vec![
        ("head".to_owned(), Json::from(other.chain.head.as_str())),
        ("log".to_owned(), other.chain.origin.log.as_str().into()),
        ("seq".to_owned(), Json::Int(other.chain.seq)),
        ("set".to_owned(), set.into()),
        ("station".to_owned(), other.chain.origin.station.as_str().into()),
        ("time".to_owned(), other.chain.time.as_str().into()),
    ];
    if !released {
        members.push(("held".to_owned(), Json::Bool(true)));
    }
    Ok(Known::line_apart("witness", by, sorted(members)))
}

/// Its last test of the air of a set, brought here; `line` is H of our line that says what was read.
pub fn air_test(
    known: &Known<'_>,
    other: &Other<'_>,
    set: &str,
    line: &str,
    told: &Told,
    by: &str,
) -> Result<Draft, Refusal> {
    known.clock()?;
    of_one_set(known, other, set)?;
    let theirs = other.state.sets.get(set);
    let Some((there, test)) = theirs.and_then(|s| Some((s, s.air_test(None)?))) else {
        return Err(Refusal::because(say!("the other register has no test of the air of {set}", set))
            .instead(say!("test the air here")));
    };
    let mut why = Vec::new();
    let site_of = |chain: &Chain| {
        let mut all = chain.texts.keys().filter(|(kind, _)| kind == "site").map(|(_, id)| id.clone());
        all.next()
    };
    if site_of(known.chain) != site_of(other.chain) {
        why.push(say!("it was taken at another site: places are not the same").to_owned());
    }
    if let Some(broken) = test_words::broken(test, there) {
        why.push(say!("in the other register, since: {broken}", broken));
    }
    if let Some(here) = known.state.sets.get(set) {
        why.extend(since_here(here, test.day()));
        let same = here
            .air_tests
            .iter()
            .any(|t| t.data.get("witness").and_then(|w| w.text("hash")) == Some(test.stamp.hash.as_str()));
        if same {
            why.push(say!("it was brought here before").into());
        }
    }
    unless(why, say!("test the air here, after warm-up, at the mask end of the longest hose"))?;
    let cites = sorted(vec![
        ("hash".to_owned(), Json::from(test.stamp.hash.as_str())),
        ("line".to_owned(), line.into()),
    ]);
    let mut members: Vec<(String, Json)> = match &test.data {
        Json::Obj(m) => {
            let kept = m.iter().filter(|(k, _)| k != "at" && k != "told_by");
            kept.map(|(k, v)| (k.to_string(), v.clone())).collect()
        }
        Json::Str(_) | Json::Int(_) | Json::Bool(_) | Json::Arr(_) => Vec::new(),
    };
    members.retain(|(k, _)| k != "date" && k != "witness");
    members.push(("date".into(), test.day().to_string().into()));
    members.push(("witness".into(), cites));
    Ok(of_set(known, "air_test", members, told, by))
}

/// What happened to the set here on or after the day of a test; which came first that day nobody can say.
fn since_here(here: &SetState, day: Date) -> Vec<String> {
    let on = |time: &str, zone: &str| local(time, zone).date();
    let mut why = Vec::new();
    if let Some(moved) = here.last.get("moved").filter(|h: &&Happened| h.day() >= day) {
        why.push(say!("it was moved here on {day}", day = moved.day()));
    }
    for what in ["filter", "oil", "air_side"] {
        if let Some(s) = here.serviced.get(what).filter(|s| on(&s.time, &s.zone) >= day) {
            let what = recorded(what);
            why.push(say!("{what} was worked on here on {day}", what, day = on(&s.time, &s.zone)));
        }
    }
    for what in FOUL {
        if let Some(s) = here.events.get(*what).filter(|s| on(&s.time, &s.zone) >= day) {
            why.push(say!("the event {what} was entered here on {day}", what, day = on(&s.time, &s.zone)));
        }
    }
    why
}

/// A set comes to this register again, or leaves it.
pub fn comes(
    known: &Known<'_>,
    kind: &'static str,
    set: &str,
    words: Option<&str>,
    told: &Told,
    by: &str,
) -> Result<Draft, Refusal> {
    known.clock()?;
    let mut why = Vec::new();
    if !known.has_set(set) {
        why.push(say!("no set `{set}` is in force here", set = crate::text::safe_line(set)));
    }
    let released = known.state.sets.get(set).is_some_and(|s| s.released.is_some());
    if kind == "taken" {
        if !released {
            why.push(say!("{set} is here: it was not released", set));
        }
    } else {
        if released {
            why.push(say!("{set} was released already", set));
        }
        if super::answer::running(known, set) {
            why.push(say!("{set} runs, by this register: stop it first, or report that it stopped", set));
        }
        let open = known
            .state
            .not_ended(known.time())
            .filter(|p| p.set.id == set && known.life(p) != StateWord::HandedBack);
        why.extend(
            open.map(|p| say!("{permit} is {state}", permit = p.number, state = known.life(p).word())),
        );
        why.extend(known.perhaps_on_air_from(set).map(|p| {
            say!(
                "{person} is on air from it ({whereabouts})",
                person = p.person,
                whereabouts = p.whereabouts.words()
            )
        }));
    }
    unless(why, say!("stop it, and hand its permits back or cancel them first"))?;
    let mut members = vec![("set".to_owned(), Json::from(set))];
    members.extend(words.map(|w| ("words".to_owned(), Json::from(w))));
    Ok(of_set(known, kind, members, told, by))
}
