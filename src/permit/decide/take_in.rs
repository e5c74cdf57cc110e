//! Taking a signed act in: the second step of signing, here or elsewhere.
//!
//! In: what the register says now, the act and its signature. Out: the one line around it, or a refusal that
//! names its reason and the way out. The act is not believed: what it asks for is prepared again (`sign`), on
//! the permit as it stands now and as its signer was shown it, and must come out byte for byte the same but for
//! the signer's time and token. Always: what goes out of here the chain and the fold accept.
//! Not here: the form of the file (`record::carried`), the lock, writing (`actions`).

use super::sign::{self, Hand, Prepared, Signing};
use super::{Known, Refusal};
use crate::checklist::missing_subjects;
use crate::finding::any_error;
use crate::permit::bench;
use crate::record::carried::Carried;
use crate::record::json::Json;
use crate::record::kinds::{self, HARMLESS, Maker};
use crate::record::line::{self, ActDraft, Broken, Draft, Line, Slot};
use crate::text::{quoted, safe_line};
use crate::time::clock;
use crate::tongue::{Tongue, say};
use crate::trust::SecretKey;
use crate::view::{LineNo, recorded};

/// At most so many lines that came in between are named.
const NAMED: usize = 8;

/// Decides whether a signed act is taken in; `own` if it comes from the signer's own machine.
pub fn take_in(known: &Known<'_>, lines: &[Line], carried: &Carried, own: bool) -> Result<Draft, Refusal> {
    let draft = place(known, lines, carried)?;
    let line = provisional(known, &draft)?;
    known.chain.check_act(&line).map_err(|b| refused(b, own))?;
    moved_on(known, lines, &line, own)?;
    signed_where(&line, own)?;
    as_signed(known, lines, &line, &carried.bytes, own)?;
    not_shorter(known, &line)?;
    known
        .chain
        .check_said(&line)
        .and_then(|()| known.state.clone().take(&line))
        .map_err(|b| refused(b, own))?;
    Ok(draft)
}

/// Whether a signed line that stands in the register would be taken in on what stood before it (`known`, at the line's
/// time): decided and worded again, it must come out byte for byte the same. Its form, its place and its signature are
/// the chain's to check.
pub fn as_prepared(known: &Known<'_>, before: &[Line], line: &Line) -> Result<(), Refusal> {
    let Some(act) = &line.act else { return Ok(()) };
    let own = line.data.text("where") == Some("own");
    as_signed(known, before, line, &act.bytes, own)?;
    not_shorter(known, line)
}

/// Worked out again where the line stands, it ends no earlier than it says.
fn not_shorter(known: &Known<'_>, line: &Line) -> Result<(), Refusal> {
    match (&line.permit, line.kind.name) {
        (Some(number), "countersign" | "extend") if line.data.has("valid_to") => {
            let permit = known.permit(number)?;
            sign::still_valid(known, permit, &*known.texts(permit)?, &line.data)
        }
        (_, _) => Ok(()),
    }
}

/// What to do when an act cannot be used any more.
fn anew(own: bool, permit: Option<&str>) -> String {
    match (own, permit) {
        (false, _) => say!("begin again: what would be signed is shown anew").into(),
        (true, Some(number)) => {
            say!("make a new excerpt (`airwrit excerpt {number} --to FILE`) and have it signed again", number)
        }
        (true, None) => say!("copy the register again and have the text signed again").into(),
    }
}

fn refused(b: Broken, own: bool) -> Refusal {
    let instead = match b.rule {
        "time" if own => {
            say!("set the clock that is wrong right, make a new excerpt and have it signed again")
        }
        "signature" if own => say!("the act was altered on its way, or is not theirs: have it brought again"),
        "key" | "window" | "person" => {
            say!("the roster says who may sign as what: `airwrit verify` names its version")
        }
        _ if own => say!("have it signed again on a new excerpt"),
        _ => say!("begin again"),
    };
    Refusal::because(say!("{why} (rule `{rule}`)", why = b.why, rule = b.rule)).instead(instead)
}

/// The line around an act, if it is of this register and of a permit that stands in it, and not in it yet.
fn place(known: &Known<'_>, lines: &[Line], carried: &Carried) -> Result<Draft, Refusal> {
    let ours = &known.chain.origin.log;
    if carried.text("log") != ours && known.chain.is_known(carried.text("log")) {
        return Err(Refusal::because(say!("the act was signed on an earlier volume of this register"))
            .instead(anew(
                true,
                carried.act.text("permit").filter(|p| known.state.permits.contains_key(p)),
            )));
    }
    if carried.text("log") != ours {
        return Err(Refusal::because(say!(
            "the act is for another register, log {log}; this is log {ours} of station {station}",
            log = safe_line(carried.text("log")),
            ours,
            station = known.chain.origin.station
        ))
        .instead(say!("take it in at the station whose excerpt was signed")));
    }
    if let Some(l) = lines.iter().find(|l| l.act.as_ref().is_some_and(|a| a.bytes == carried.bytes)) {
        let at = line_no(known, l);
        return Err(Refusal::because(say!("this act is in the register already: it is line {at}", at))
            .instead(say!("nothing is left to do with it")));
    }
    let kind = kinds::kind(carried.text("kind"));
    let signed = kind.filter(|k| matches!(k.maker, Maker::Signed(_)) && !matches!(k.name, "enrol" | "clock"));
    let Some(kind) = signed else {
        let kind = quoted(carried.text("kind"), 40);
        return Err(Refusal::because(say!("an act of the kind {kind} is not taken in", kind)));
    };
    let permit = match carried.act.text("permit") {
        None => None,
        Some(number) => {
            if !known.state.permits.contains_key(number) {
                return Err(Refusal::because(say!(
                    "the act is for the permit {permit}, which does not stand in this register",
                    permit = quoted(number, 40)
                ))
                .instead(say!("`airwrit show` lists the permits")));
            }
            Some((number.to_owned(), known.chain.permit_head(number)))
        }
    };
    Ok(Draft { kind: kind.name, permit, by: None, what: carried.what() })
}

/// The line as it would stand, with a seal that is good for nothing: so that its form is read by the one
/// reader that every line must pass.
fn provisional(known: &Known<'_>, draft: &Draft) -> Result<Line, Refusal> {
    let seal = SecretKey::from_seed(&[1; 32]);
    let slot = Slot {
        log: known.chain.origin.log.clone(),
        seq: known.chain.seq + 1,
        prev: known.chain.head.clone(),
        time: known.time().to_owned(),
        zone: known.now.zone.clone(),
        next: known.chain.next.to_hex(),
        roster: known.chain.origin.roster.hash().to_owned(),
    };
    let raw = line::make(draft, &slot, &seal).map_err(Refusal::because)?;
    Line::read(&raw).map_err(|b| {
        Refusal::because(say!(
            "this is no act that a line may carry: {why} (rule `{rule}`)",
            why = b.why,
            rule = b.rule
        ))
        .instead(say!("have it signed again with `airwrit sign`"))
    })
}

/// Refuses an act whose permit, or text, moved on since its signer was shown it; names what came.
fn moved_on(known: &Known<'_>, lines: &[Line], line: &Line, own: bool) -> Result<(), Refusal> {
    let Some(act) = &line.act else { return Ok(()) };
    let Some(number) = &line.permit else {
        let last = crate::record::chain::subject(line).map_or(line::NONE, |s| known.chain.last_of(&s));
        if act.shown == last {
            return Ok(());
        }
        let came = lines.iter().find(|l| l.hash == last);
        let why = match came {
            Some(l) => {
                say!("another such text was put in force since it was signed: {told}", told = told(known, l))
            }
            None => say!("it was signed after a text that does not stand in this register").into(),
        };
        return Err(Refusal::because(why).instead(anew(own, None)));
    };
    if known.chain.shown(number, Some(&act.shown)).is_some() {
        return Ok(());
    }
    let of_permit = |l: &&Line| l.permit.as_ref() == Some(number);
    let Some(at) = lines.iter().position(|l| l.hash == act.shown && of_permit(&l)) else {
        return Err(Refusal::because(say!(
            "what `{person}` was shown is no line of {number} in this register: H {hash}",
            person = act.by,
            number,
            hash = act.shown
        ))
        .instead(anew(own, Some(number))));
    };
    let came: Vec<&Line> = lines.iter().skip(at + 1).filter(of_permit).collect();
    let weighty: Vec<&&Line> = came.iter().filter(|l| !HARMLESS.contains(&l.kind.name)).collect();
    let shown = lines.get(at).map_or_else(String::new, |l| say!(", line {line}", line = line_no(known, l)));
    let mut why = vec![say!(
        "{number} moved on after what `{person}` was shown{shown}",
        number,
        person = act.by,
        shown
    )];
    if weighty.is_empty() {
        why.push(say!("{n} lines came since, at most 64 may", n = came.len()));
    }
    why.extend(weighty.iter().take(NAMED).map(|l| told(known, l)));
    if weighty.len() > NAMED {
        why.push(say!("and {n} more", n = weighty.len() - NAMED));
    }
    Err(Refusal { why, instead: Some(anew(own, Some(number))) })
}

/// Where a line of the history stands.
fn line_no(known: &Known<'_>, l: &Line) -> LineNo {
    let volume = known.chain.volume_of(&l.log).unwrap_or(known.chain.origin.volume);
    LineNo { volume, line: l.seq }
}

/// `line 14: answer, entered as lukasz, at 07:41`.
fn told(known: &Known<'_>, l: &Line) -> String {
    let name = |id: &str| safe_line(known.chain.origin.roster.name_of(id)).into_owned();
    let who = match (&l.act, &l.by) {
        (Some(a), _) => say!(", signed by {name}", name = name(&a.by)),
        (None, Some(by)) => say!(", entered as {name}", name = name(by)),
        (None, None) => String::new(),
    };
    say!(
        "line {line}: {kind}{who}, at {time}",
        line = line_no(known, l),
        kind = recorded(l.kind.name),
        who,
        time = clock(&l.time, &l.zone)
    )
}

fn signed_where(line: &Line, own: bool) -> Result<(), Refusal> {
    let wanted = if own { "own" } else { "station" };
    match line.data.text("where") {
        Some(w) if w == wanted => Ok(()),
        got => Err(Refusal::because(say!(
            "the act says it was signed at `{got}`, wanted `{wanted}`: it says where it was not",
            got = got.unwrap_or_default(),
            wanted
        ))
        .instead(say!("have it signed again with `airwrit sign`"))),
    }
}

/// What is decided when the same is asked for now, by the same person, shown the same line.
fn again(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    line: &Line,
    own: bool,
) -> Result<Prepared, Refusal> {
    let (Some(act), Some(what)) = (&line.act, Signing::of(line.kind.name, &line.data)) else {
        return Err(Refusal::because(say!("`{kind}` is no act of a permit", kind = line.kind.name)));
    };
    let hand = Hand { by: &act.by, own, shown: Some(&act.shown) };
    sign::prepare(known, number, &what, &hand).map_err(|mut refusal| {
        refusal.why.extend(of_set_since(known, lines, number, &act.shown));
        refusal
    })
}

/// What happened to the set since, without being a line of the permit: it may be why.
fn of_set_since(known: &Known<'_>, lines: &[Line], number: &str, shown: &str) -> Vec<String> {
    let set = known.state.permits.get(number).map(|p| p.set.id.as_str());
    let after = lines.iter().position(|l| l.hash == shown).unwrap_or(lines.len());
    lines
        .iter()
        .skip(after + 1)
        .filter(|l| l.permit.is_none() && l.data.text("set") == set && l.act.is_none())
        .take(NAMED)
        .map(|l| say!("since it was shown, {told}", told = told(known, l)))
        .collect()
}

/// The same for a text that is put in force; read as strictly as at the station.
fn text_again(known: &Known<'_>, line: &Line, own: bool) -> Result<Prepared, Refusal> {
    let (Some(act), data) = (&line.act, &line.data) else {
        return Err(Refusal::because(say!("nobody signed this")));
    };
    let kind = line.kind.name;
    let (id, text) = (data.text(kind).unwrap_or_default(), data.text("text").unwrap_or_default());
    let revision = data.int("revision").and_then(|r| u32::try_from(r).ok());
    let prepared = sign::approve(known, &Hand { by: &act.by, own, shown: None }, kind, id, revision, text)?;
    if own && kind == "form" {
        let form = bench::checklist(id, text).map_err(Refusal::because)?;
        let missing = missing_subjects(id, &form);
        if any_error(&missing) {
            let why = missing.iter().map(|f| f.message.clone()).collect();
            return Err(Refusal {
                why,
                instead: Some(say!("mend the checklist: `airwrit lint FILE`").into()),
            });
        }
    }
    Ok(prepared)
}

/// The act must be the one that is prepared now, but for the time it was signed at and its token. Its words may be those
/// of any language that the program speaks: whoever signed it was shown them in theirs.
fn as_signed(
    known: &Known<'_>,
    lines: &[Line],
    line: &Line,
    signed: &[u8],
    own: bool,
) -> Result<(), Refusal> {
    let Some(act) = &line.act else { return Ok(()) };
    let prepared = || match &line.permit {
        Some(number) => again(known, lines, number, line, own),
        None => text_again(known, line, own),
    };
    let key = known.chain.origin.roster.person(&act.by).and_then(|p| {
        let own = p.keys.iter().find(|k| k.key.fingerprint() == act.key)?;
        Some(own.key.clone())
    });
    let is_it = |ours: &ActDraft| -> Result<bool, Refusal> {
        let bytes = key.as_ref().map(|k| ours.bytes(k)).transpose().map_err(Refusal::because)?;
        Ok(bytes.as_deref() == Some(signed))
    };
    let mut ours = with_its_own(prepared()?, line);
    if is_it(&ours)? {
        return Ok(());
    }
    // Asked for it stands before the site's, for the texts of form, set and site too.
    for (tongue, asked) in Tongue::ALL.into_iter().flat_map(|t| [(t, false), (t, true)]) {
        let other = if asked { tongue.within_asked(prepared) } else { tongue.within(prepared) };
        let Ok(other) = other else { continue };
        let other = with_its_own(other, line);
        if is_it(&other)? {
            return Ok(());
        }
        if alike(&other, line) > alike(&ours, line) {
            ours = other;
        }
    }
    // What differs is told against the words that are nearest to those that were signed.
    let mut why = Vec::new();
    if ours.role != act.role {
        why.push(say!(
            "it is signed as {role}, wanted {wanted}",
            role = recorded(act.role.word()),
            wanted = recorded(ours.role.word())
        ));
    }
    why.extend(differences(known, lines, &line.data, &ours.data));
    if why.is_empty() {
        why.push(say!("the act is not written as it is prepared here").into());
    }
    Err(Refusal { why, instead: Some(anew(own, line.permit.as_deref())) })
}

/// What is prepared now, with the time and the token of what was signed.
fn with_its_own(prepared: Prepared, line: &Line) -> ActDraft {
    let mut ours = prepared.act;
    if let Some(act) = &line.act {
        ours.time.clone_from(&act.time);
    }
    if let (Some(_), Some(token)) = (&prepared.claim, line.data.text("token")) {
        ours.data = ours.data.with("token", token);
    }
    ours
}

/// How many characters of the words that were signed stand at their place here too.
fn alike(ours: &ActDraft, line: &Line) -> usize {
    let said = |data: &Json| data.text("said").unwrap_or_default().to_owned();
    said(&line.data).chars().zip(said(&ours.data).chars()).filter(|(a, b)| a == b).count()
}

/// Each member of the data that is not as it is prepared now, the words first.
fn differences(known: &Known<'_>, lines: &[Line], signed: &Json, ours: &Json) -> Vec<String> {
    let (Json::Obj(a), Json::Obj(b)) = (signed, ours) else {
        return vec![say!("its data is no object").into()];
    };
    let mut names: Vec<&str> = a.iter().chain(b).map(|(n, _)| n.as_str()).collect();
    names.sort_by_key(|n| (*n != "said", *n));
    names.dedup();
    let of = |v: Option<&Json>| match v {
        None => "nothing".to_owned(),
        Some(Json::Str(s)) => quoted(s, 100),
        Some(other @ (Json::Obj(_) | Json::Arr(_) | Json::Int(_) | Json::Bool(_))) => {
            crate::record::json::write(other)
                .map_or_else(|why| why, |b| quoted(&String::from_utf8_lossy(&b), 100))
        }
    };
    let at = |h: &str| match lines.iter().find(|l| l.hash == h) {
        Some(l) => say!("line {line}", line = line_no(known, l)),
        None => say!("a line that is not here").to_owned(),
    };
    let mut out = Vec::new();
    for name in names {
        let (got, wanted) = (signed.get(name), ours.get(name));
        if got == wanted {
            continue;
        }
        out.push(match (name, got, wanted) {
            ("said", Some(Json::Str(g)), Some(Json::Str(w))) => words_differ(g, w),
            ("target", Some(Json::Str(g)), Some(Json::Str(w))) => {
                say!(
                    "it answers {target}, what stands to be answered is {wanted}",
                    target = at(g),
                    wanted = at(w)
                )
            }
            ("valid_to", Some(Json::Str(g)), Some(Json::Str(w))) => {
                say!(
                    "it would end at {time}, worked out here it ends at {wanted}",
                    time = safe_line(g),
                    wanted = w
                )
            }
            (_, got, wanted) => {
                say!(
                    "its `{name}` is {got}, here it is {wanted}",
                    name = safe_line(name),
                    got = of(got),
                    wanted = of(wanted)
                )
            }
        });
    }
    out
}

/// The first line in which words that were signed are not the words of the permit.
fn words_differ(signed: &str, ours: &str) -> String {
    let (mut a, mut b) = (signed.lines(), ours.lines());
    loop {
        match (a.next(), b.next()) {
            (Some(x), Some(y)) if x == y => {}
            (None, None) => break say!("the words that were signed are not those of this permit").into(),
            (x, y) => {
                let (x, y) = (x.unwrap_or_default(), y.unwrap_or_default());
                // Long lines are shown around the place where they part.
                let same = x.chars().zip(y.chars()).take_while(|(p, q)| p == q).count().saturating_sub(20);
                let part = |s: &str| quoted(&s.chars().skip(same).collect::<String>(), 90);
                break say!(
                    "the words that were signed are not those of this permit: {signed}, here {here}",
                    signed = part(x),
                    here = part(y)
                );
            }
        }
    }
}
