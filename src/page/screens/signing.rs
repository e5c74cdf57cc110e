//! Signing at the station: what was found, the gauges read again, the words, then the passphrase.
//!
//! Always: the words that are signed are the words that were shown; if anything came between, they are shown again. A
//! passphrase is used once, on the request that brings it, and wiped.

use crate::cli::End;
use crate::cli::args::Narrowing;
use crate::cli::args::shift::{HandingArgs, LaterArgs};
use crate::cli::signing::{limits, taken_in, theirs};
use crate::page::app::{App, Posted};
use crate::page::blind::Blind;
use crate::page::form::{ENTERED, Form, encoded};
use crate::page::hand::{Hand, Told};
use crate::page::once::once;
use crate::permit::bench::Texts;
use crate::permit::decide::sign::{Drawn, Hand as Signer, Signing, drawn, prepare};
use crate::permit::decide::{Known, Refusal};
use crate::permit::state::Permit;
use crate::permit::walk;
use crate::tongue::{Tongue, say};
use crate::trust::{Role, SecretKey};
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::Response;
use minijinja::Value;
use std::sync::Arc;
use zeroize::Zeroizing;

/// What can be signed here: word of the address, who signs.
const ACTS: &[(&str, &[Role])] = &[
    ("declare", &[Role::Operator]),
    ("countersign", &[Role::Supervisor]),
    ("refuse", &[Role::Supervisor]),
    ("hand-back", &[Role::Operator]),
    ("close", &[Role::Supervisor]),
    ("reinstate", &[Role::Supervisor, Role::Operator]),
    ("cancel", &[Role::Supervisor]),
    ("extend", &[Role::Operator]),
    ("give", &[Role::Supervisor]),
    ("hand-over", &[Role::Operator]),
    ("take-over", &[Role::Operator]),
];

/// What an act is called.
fn title(act: &str) -> &'static str {
    match act {
        "declare" => say!("Declare"),
        "countersign" => say!("Countersign"),
        "refuse" => say!("Refuse"),
        "hand-back" => say!("Hand back"),
        "close" => say!("Close"),
        "reinstate" => say!("Reinstate"),
        "cancel" => say!("Cancel"),
        "extend" => say!("Ask for a later end"),
        "give" => say!("Give the later end"),
        "hand-over" => say!("Hand over"),
        _ => say!("Take over"),
    }
}

/// Acts that only the permit's holder signs.
const OF_HOLDER: [&str; 3] = ["declare", "extend", "hand-over"];

/// Acts that nothing has to be filled in for.
const BARE: [&str; 4] = ["declare", "close", "give", "take-over"];

/// Acts by which somebody answers for how things stand.
const STANDS: [&str; 6] = ["hand-back", "close", "give", "hand-over", "take-over", "cancel"];

fn act_of(word: &str) -> Result<(&'static str, &'static str, &'static [Role]), Refusal> {
    let found = ACTS.iter().find(|(w, _)| *w == word);
    let found = found.map(|(w, roles)| (*w, title(w), *roles));
    found.ok_or_else(|| Refusal::because(say!("there is nothing of this name to be signed here")))
}

/// What is signed, from a form.
fn signing(hand: &Hand, known: &Known<'_>, number: &str, act: &str, form: &Form) -> Result<Signing, End> {
    let must = |name: &str, what: &str| {
        form.some(name).ok_or_else(|| End::from(Refusal::because(say!("nothing was typed for {what}", what))))
    };
    Ok(match act {
        "declare" => Signing::Declare,
        "close" => Signing::Close,
        "give" => Signing::GiveLater,
        "take-over" => Signing::TakeOver,
        "refuse" => Signing::Refuse { reason: must("reason", say!("the reason"))? },
        "cancel" => Signing::Cancel { reason: must("reason", say!("the reason"))? },
        "reinstate" => Signing::Reinstate { cause: must("cause", say!("the cause"))? },
        "hand-back" => {
            Signing::HandBack { left_running: form.some("left_running"), reason: form.some("reason") }
        }
        "extend" => {
            let entry_permit =
                form.pairs().iter().filter(|(n, v)| n.starts_with("entry.") && !v.trim().is_empty());
            let entry_permit = entry_permit
                .map(|(n, v)| format!("{}={}", n.trim_start_matches("entry."), v.trim()))
                .collect();
            let later = LaterArgs {
                until: Some(must("until", say!("the new end"))?),
                reason: Some(must("reason", say!("the reason"))?),
                entry_permit,
                give: false,
            };
            later.signing(known)?
        }
        "hand-over" => HandingArgs {
            to: must("to", say!("who takes it"))?,
            shift: form.some("shift").is_some(),
            checked: form.all("checked"),
            unusual: must("unusual", say!("what was unusual"))?,
            staying: form.some("staying"),
        }
        .signing()?,
        _ => {
            let seen = form.pairs().iter().filter(|(n, v)| n.starts_with("seen.") && !v.trim().is_empty());
            let n = Narrowing {
                until: form.some("until"),
                wearers: form.some("wearers").map(|w| w.parse()).transpose().map_err(|_| {
                    End::from(Refusal::because(say!("the number of wearers is no whole number")))
                })?,
                limits: form.some("limits"),
                accept: form.all("accept"),
                seen: seen.map(|(n, v)| format!("{}={}", n.trim_start_matches("seen."), v.trim())).collect(),
                not_seen: form.some("not_seen"),
            };
            let read = drawn(known, known.permit(number)?, &*known.texts(known.permit(number)?)?);
            let lacks =
                read.iter().filter(|d| !n.seen.iter().any(|s| s.starts_with(&format!("{}=", d.key()))));
            let lacks: Vec<String> = lacks.map(|d| d.label.clone()).collect();
            if !lacks.is_empty() && n.not_seen.is_none() {
                let why = say!("not read again yet: {gauges}", gauges = lacks.join(", "));
                return Err(Refusal::because(why)
                    .instead(say!("read each of these gauges yourself, or say why not"))
                    .into());
            }
            for d in &read {
                let name = format!("seen.{}", d.key());
                let typed = form.text(&name);
                let number = typed.trim_start_matches('<').trim();
                let is_one = crate::units::Decimal::read(number).is_ok()
                    || crate::units::Quantity::read(number).is_ok();
                if !typed.is_empty() && !is_one {
                    let why = say!(
                        "{gauge}: got {got}, wanted a number",
                        gauge = d.label,
                        got = crate::text::quoted(typed, 40)
                    );
                    let instead =
                        say!("type the number as the instrument shows it, in {unit}", unit = d.unit);
                    return Err(Refusal::because(why).instead(instead).into());
                }
            }
            Signing::Countersign(hand.outside("", |o| limits(None, known, number, &n, o)).0?)
        }
    })
}

/// Who may sign: id, name, whether their key file stands here.
pub fn signers(app: &App, known: &Known<'_>, roles: &[Role]) -> Vec<(String, String, bool)> {
    let of = known.chain.origin.roster.persons.iter().filter(|p| p.roles.iter().any(|r| roles.contains(r)));
    of.map(|p| {
        let there = crate::disk::exists(&app.keys.join(format!("{}.pem", p.id)));
        (p.id.clone(), p.name.clone(), there)
    })
    .collect()
}

/// Of them those to whom an act is offered: what only the holder signs to nobody else; as operator the holder alone reinstates,
/// where one may; and nobody issues or reinstates what they have a part in, who would be told so after the passphrase. All of them
/// where that leaves nobody: the refusal says why.
fn offered(
    app: &App,
    known: &Known<'_>,
    permit: &Permit,
    texts: &Texts,
    (word, roles): (&str, &[Role]),
) -> Vec<(String, String, bool)> {
    let all = signers(app, known, roles);
    let holder = texts.job.text("holder").unwrap_or_default();
    let roster = &known.chain.origin.roster;
    let supervises = |id: &str| roster.person(id).is_some_and(|p| p.roles.contains(&Role::Supervisor));
    let part = |id: &str| {
        ["attendant", "entry_watch"].iter().any(|role| texts.job.text(role) == Some(id))
            || texts.job.items("wearers").iter().any(|w| w.id() == id)
            || permit.last_signed("declare").is_some_and(|s| s.stamp.by == id)
    };
    let may = |id: &str| match word {
        "reinstate" if id == holder => known.state.operator_may_not(permit, known.time()).is_none(),
        "reinstate" => supervises(id) && !part(id),
        "countersign" => !part(id),
        _ => !OF_HOLDER.contains(&word) || id == holder,
    };
    let anybody = all.iter().any(|(id, _, _)| may(id));
    all.into_iter().filter(|(id, _, _)| may(id) || !anybody).collect()
}

/// Who signs, as chosen; else the holder, or the first whose key stands here.
fn signer(
    form: &Form,
    (word, roles): (&str, &[Role]),
    holder: &str,
    all: &[(String, String, bool)],
) -> String {
    form.some("by").unwrap_or_else(|| match roles.first() {
        Some(Role::Operator) if word != "take-over" => holder.to_owned(),
        Some(_) | None => all
            .iter()
            .find(|(id, _, there)| *there && id != holder)
            .map(|(id, _, _)| id.clone())
            .unwrap_or_default(),
    })
}

/// What was filled in, asked for at the desk as at a terminal: a refusal is kept there, so that nobody tries one reading
/// after another. `None` where the words may be shown.
fn asked_for(app: &App, hand: &mut Hand, number: &str, act: &str, form: &Form) -> Option<Told> {
    let asked = filled_in(app, hand, number, act, form)
        .and_then(|(what, by)| hand.at_desk(|desk| desk.prepare(number, &what, &by)));
    asked.err().map(Told::end)
}

/// What a form asks to be signed, and by whom.
fn filled_in(
    app: &App,
    hand: &mut Hand,
    number: &str,
    act: &str,
    form: &Form,
) -> Result<(Signing, String), End> {
    let (word, _, roles) = act_of(act)?;
    hand.look()?;
    let here = &*hand;
    let known = here.looked()?.known();
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let holder = texts.job.text("holder").unwrap_or_default();
    let by = signer(form, (word, roles), holder, &offered(app, &known, permit, &texts, (word, roles)));
    Ok((signing(here, &known, number, word, form)?, by))
}

/// A form with the words that it leads to as things stand now, by their mark: come back to, it shows those and no others.
fn as_shown(app: &App, hand: &mut Hand, number: &str, act: &str, mut form: Form) -> Form {
    let mark = filled_in(app, hand, number, act, &form).and_then(|(what, by)| {
        let known = hand.looked()?.known();
        Ok(crate::record::line::hash(prepare(&known, number, &what, &Signer::here(&by))?.said().as_bytes()))
    });
    form.put("shown", mark.unwrap_or_default());
    form
}

fn screen(
    app: &App,
    hand: &mut Hand,
    number: &str,
    act: &str,
    form: &Form,
    came: Option<Told>,
) -> Result<Value, End> {
    let (word, title, roles) = act_of(act)?;
    hand.look()?;
    let hand = &*hand;
    let looked = hand.looked()?;
    let known = looked.known();
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let holder = texts.job.text("holder").unwrap_or_default();
    let signers = offered(app, &known, permit, &texts, (word, roles));
    let by = signer(form, (word, roles), holder, &signers);
    let asked = BARE.contains(&word) || form.some("stage").is_some();
    let mut came = came;
    let mut said = String::new();
    let mut shown = String::new();
    if asked {
        let made = signing(hand, &known, number, word, form)
            .and_then(|what| Ok(prepare(&known, number, &what, &Signer::here(&by))?));
        let mark = |said: &str| crate::record::line::hash(said.as_bytes());
        let sent = form.some("stage").is_some();
        match made {
            Ok(p) if !sent || form.text("shown") == mark(p.said()) => {
                p.said().clone_into(&mut said);
                shown = mark(&said);
            }
            // What came of it now was asked for by nobody: one reading after another could be tried by looking again.
            Ok(_) | Err(_) if sent => {
                came = came.or_else(|| {
                    let changed =
                        Refusal::because(say!("what is to be signed has changed since it was shown"));
                    Some(Told::end(changed.instead(say!("fill it in again")).into()))
                });
            }
            Ok(_) => {}
            Err(end) => came = came.or_else(|| Some(Told::end(end))),
        }
    }
    let found = match word {
        "countersign" => crate::show::before_signing(&known, &looked.lines, number, Tongue::asked())
            .map_err(crate::cli::could_not)?,
        "declare" => {
            crate::show::before_declaring(&known, number, Tongue::asked()).map_err(crate::cli::could_not)?
        }
        "reinstate" => crate::show::before_reinstating(&known, &looked.lines, number, Tongue::asked())
            .map_err(crate::cli::could_not)?,
        act if STANDS.contains(&act) => {
            crate::show::as_it_stands(&known, &looked.lines, number, Tongue::asked())
                .map_err(crate::cli::could_not)?
        }
        _ => Vec::new(),
    };
    // Read blind: what the operator found there stands on no screen until the supervisor has read it.
    let drawn_now = if word == "countersign" { drawn(&known, permit, &texts) } else { Vec::new() };
    let blind = said.is_empty() || word != "countersign";
    let readings = Blind::of(&known, permit);
    let held_back = |l: &String| match drawn_now.iter().find(|d| blind && l.contains(&d.label)) {
        Some(d) => say!("{gauge}: held back until you have read it", gauge = d.label),
        None if blind => readings.words(l),
        None => l.clone(),
    };
    let found: Vec<Value> = found
        .into_iter()
        .map(|f| {
            let (mut lines, mut before) = (Vec::new(), Vec::new());
            for (i, words) in f.lines.iter().map(held_back).enumerate() {
                if f.earlier.contains(&i) {
                    before.push(words);
                } else {
                    lines.push(values! { words => words, earlier => std::mem::take(&mut before) });
                }
            }
            values! { heading => f.heading, lines => lines }
        })
        .collect();
    let read_again: Vec<Value> = if word == "countersign" {
        drawn_now.iter().map(|d: &Drawn| {
            let name = format!("seen.{}", d.key());
            values! { label => d.label, ask => d.ask, unit => d.unit, value => form.text(&name), name => name }
        }).collect()
    } else {
        Vec::new()
    };
    let others: Vec<String> = known
        .state
        .permits
        .values()
        .filter(|p| {
            p.set.id == permit.set.id && p.number != number && known.life(p) == crate::view::StateWord::Live
        })
        .map(|p| p.number.clone())
        .collect();
    let entries: Vec<(String, String)> = texts
        .job
        .items("entry_permits")
        .iter()
        .map(|e| (e.id().to_owned(), e.words("name").map_or_else(String::new, |w| w.own().to_owned())))
        .collect();
    let operators: Vec<(String, String)> = known
        .chain
        .origin
        .roster
        .persons
        .iter()
        .filter(|p| p.roles.contains(&Role::Operator) && p.id != holder)
        .map(|p| (p.id.clone(), p.name.clone()))
        .collect();
    let bench = known.bench(permit, &texts);
    let deviations: Vec<(String, String, String)> = permit
        .answers
        .iter()
        .filter_map(|a| {
            let d = a.deviation.as_ref()?;
            let stands = walk::of_step(&bench, &a.step);
            let stand = stands.iter().find(|s| s.item_id() == a.item.as_deref());
            let label = stand.map_or_else(|| a.key(), walk::Stand::label);
            Some((
                a.key(),
                say!("{reason}; instead: {instead}", reason = d.reason, instead = d.instead),
                label,
            ))
        })
        .collect();
    // What was filled in goes along to the passphrase, but for what is asked there.
    let kept: Vec<(String, String)> = form
        .pairs()
        .iter()
        .filter(|(n, _)| {
            !["t", "once", "passphrase", "stage", "by", "shown", "head", ENTERED].contains(&n.as_str())
        })
        .cloned()
        .collect();
    let filled: std::collections::BTreeMap<String, String> = kept.iter().cloned().collect();
    let ready = !said.is_empty();
    let stands = super::site::stands(&known, permit);
    Ok(values! {
        title => format!("{number}: {title}"), number => number, act => word, heading => title, signers => signers, by => by, said => said,
        shown => shown, head => known.chain.permit_head(number), found => found, read_again => read_again, ready => ready, came => came,
        others => others, entries => entries, operators => operators, deviations => deviations, kept => kept, filled => filled, ticked => [form.all("accept"), form.all("checked")].concat(),
        disagreed => super::walk::disagreed(&known, permit), mark => stands.0, state => stands.1, bare => BARE.contains(&word),
    })
}

/// What is to be signed. An address fills nothing in: what is asked for is kept, and comes by a form.
pub async fn show(
    State(app): State<Arc<App>>,
    Path((number, act)): Path<(String, String)>,
    uri: Uri,
) -> Response {
    let there = app.clone();
    let (told, form, came) = app.typed_on(&address(&number, &act), &super::query(&uri));
    app.screen("sign.html", told, move |hand| screen(&there, hand, &number, &act, &form, came)).await
}

fn address(number: &str, act: &str) -> String {
    format!("/p/{}/sign/{}", encoded(number), encoded(act))
}

/// The words for what was filled in, or the signature.
pub async fn sign(
    State(app): State<Arc<App>>,
    Path((number, act)): Path<(String, String)>,
    Posted(form, sent): Posted,
) -> Response {
    let (there, to) = (app.clone(), address(&number, &act));
    let (n, a) = (number.clone(), act.clone());
    if form.text("stage") != "sign" {
        let asked = app.hands.ask(move |hand| {
            let came = asked_for(&there, hand, &n, &a, &form);
            let form = if came.is_some() { Form::of(unstaged(&form)) } else { form };
            (as_shown(&there, hand, &n, &a, form), came)
        });
        let Some((form, came)) = asked.await else { return app.fault() };
        return app.back(&to, came, &form);
    }
    // The same words again, for another try of the passphrase.
    let again = without_passphrase(&form);
    let came = if app.guard.may_try(app.hands.clock.machine()) {
        let keys = app.keys.clone();
        once(&app, form, sent, move |hand, form| put_under(hand, &keys, &n, &a, form)).await
    } else {
        Some(Told::not(say!("too many passphrases were tried in this minute; wait, then try again")))
    };
    let Some(came) = came else { return app.fault() };
    if came.done {
        if act == "take-over" {
            app.entering.forget();
        }
        return app.after(came, &format!("/p/{}", encoded(&number)));
    }
    let again = app.hands.ask(move |hand| as_shown(&there, hand, &number, &act, again)).await;
    let Some(again) = again else { return app.fault() };
    app.back(&to, Some(came), &again)
}

/// A form but for the passphrase.
pub fn without_passphrase(form: &Form) -> Form {
    Form::of(form.pairs().iter().filter(|(n, _)| n != "passphrase").cloned().collect())
}

/// What a form brings but for how far it is.
fn unstaged(form: &Form) -> Vec<(String, String)> {
    form.pairs().iter().filter(|(n, _)| n != "stage").cloned().collect()
}

/// Signs and takes in, if the words are still those that were shown.
fn put_under(hand: &mut Hand, keys: &std::path::Path, number: &str, act: &str, form: &Form) -> Told {
    let by = form.text("by").to_owned();
    let done = (|| -> Result<Told, End> {
        let (word, _, _) = act_of(act)?;
        if !crate::text::is_id(&by) {
            return Err(Refusal::because(say!("nobody was chosen who signs")).into());
        }
        hand.look()?;
        let here = &*hand;
        let what = signing(here, &here.looked()?.known(), number, word, form)?;
        let (mut prepared, loaded) = hand.at_desk(|desk| desk.prepare(number, &what, &by))?;
        if crate::record::line::hash(prepared.said().as_bytes()) != form.text("shown") {
            return Err(Refusal::because(say!("what is to be signed has changed since it was shown"))
                .instead(say!("look at it again below, then sign"))
                .into());
        }
        let key = key(&keys.join(format!("{by}.pem")), &by, form)?;
        theirs(&loaded.register.chain.origin.roster, &by, &key)?;
        drop(loaded);
        prepared.act.time = crate::time::utc(hand.second());
        let carried = prepared.sign(&key).map_err(crate::cli::could_not)?;
        let (line, loaded) = hand.at_desk(|desk| desk.take_in(&carried, false))?;
        let place = hand.place.clone();
        let (done, out, err) = hand.outside("", |o| taken_in(&place, &line, &loaded, o));
        Ok(Told::of(done, &out, &err))
    })();
    done.unwrap_or_else(Told::end)
}

/// The key of whoever signs; the passphrase is wiped with the form it came in.
pub fn key(path: &std::path::Path, by: &str, form: &Form) -> Result<SecretKey, End> {
    let missing = |_| {
        let why = say!("the key file of {person} does not stand here", person = by);
        End::from(
            Refusal::because(why)
                .instead(say!("put their ID.pem into the folder that `airwrit serve --keys` names")),
        )
    };
    let pem = Zeroizing::new(crate::disk::read_file(path).map_err(missing)?);
    let pem =
        std::str::from_utf8(&pem).map_err(|_| crate::cli::could_not(say!("the key file is no text")))?;
    SecretKey::from_encrypted_pem(pem, form.exact("passphrase").as_bytes()).map_err(|why| {
        Refusal::because(say!("the key of {person} does not open: {why}", person = by, why)).into()
    })
}
