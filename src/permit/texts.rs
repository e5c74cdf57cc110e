//! The texts that a permit cites, parsed: form, set file, site file, and its job worked out with them.
//!
//! Always: a text is taken by the hash that the permit cites. Reading is a pure function of the text, and a
//! form is read by two parsers, so that what was read once is remembered: of the same bytes comes the same.
//! Not here: what the answers make of them (`bench`).

use super::state::Permit;
use crate::checklist::{Checklist, Each, Purpose};
use crate::finding::any_error;
use crate::record::chain::Chain;
use crate::record::json::Json;
use crate::site::{self, Raw, Values, fields};
use crate::tongue::{Tongue, say};
use crate::trust::Roster;
use jiff::tz::TimeZone;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Deref;
use std::rc::Rc;

/// Most texts remembered; a register has some five in force.
const MOST: usize = 32;

/// Texts read before, by what they are called in messages and their bytes.
struct Memo<T>(RefCell<Vec<(String, String, Rc<T>)>>);

impl<T> Memo<T> {
    const fn new() -> Memo<T> {
        Memo(RefCell::new(Vec::new()))
    }

    fn get(
        &self,
        called: &str,
        text: &str,
        read: impl FnOnce() -> Result<T, String>,
    ) -> Result<Rc<T>, String> {
        // A text is long: it is neither copied nor put in order to be found.
        let known =
            self.0.borrow().iter().find(|(c, t, _)| t == text && c == called).map(|(_, _, k)| k.clone());
        if let Some(known) = known {
            return Ok(known);
        }
        let new = Rc::new(read()?);
        let mut all = self.0.borrow_mut();
        if all.len() >= MOST {
            all.clear();
        }
        all.push((called.to_owned(), text.to_owned(), Rc::clone(&new)));
        Ok(new)
    }
}

struct ReadBefore {
    forms: Memo<Checklist>,
    files: Memo<Values>,
}

thread_local! {
    static READ: ReadBefore = const { ReadBefore { forms: Memo::new(), files: Memo::new() } };
}

/// One item of an `each`; a copy shares what it is.
#[derive(Clone, Debug)]
pub struct Item(Rc<Named>);

/// What an item is.
#[derive(Debug)]
pub struct Named {
    /// Id as recorded.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Its fields.
    pub values: Values,
}

impl Deref for Item {
    type Target = Named;

    fn deref(&self) -> &Named {
        &self.0
    }
}

#[derive(Clone, Debug)]
struct Listed {
    each: Each,
    language: String,
    items: Rc<[Item]>,
}

/// The texts of a permit, parsed. Made once per permit and state of the register.
#[derive(Clone, Debug)]
pub struct Texts {
    /// The form it was opened on.
    pub form: Rc<Checklist>,
    /// The shutdown form answered on it, or the one in force.
    pub shutdown: Option<Rc<Checklist>>,
    /// Set file.
    pub set: Rc<Values>,
    /// Site file.
    pub site: Rc<Values>,
    /// The job, with what the site brings in.
    pub job: Values,
    /// The site's time zone.
    pub zone: TimeZone,
    /// Language shown: the one asked for, else the site's.
    pub language: String,
    /// Ends of shifts that were worked out already, by the time they come after.
    pub(super) shift_ends: RefCell<BTreeMap<i64, Option<i64>>>,
    /// Items that were asked for already, by what they are of and the language of their names.
    items: RefCell<Vec<Listed>>,
}

/// A job from the register as the site reader takes it.
pub fn raw_of(json: &Json) -> Raw {
    match json {
        Json::Str(s) => Raw::Text(s.to_string()),
        Json::Int(i) => Raw::Int(i64::try_from(*i).unwrap_or(i64::MAX)),
        Json::Bool(b) => Raw::Bool(*b),
        Json::Arr(items) => Raw::List(items.iter().map(raw_of).collect()),
        Json::Obj(members) => Raw::Map(members.iter().map(|(k, v)| (k.to_string(), raw_of(v))).collect()),
    }
}

/// The same back: as the register keeps it.
pub fn json_of(raw: &Raw) -> Json {
    match raw {
        Raw::Text(s) => s.as_str().into(),
        Raw::Bool(b) => Json::Bool(*b),
        Raw::Int(i) => Json::Int(u64::try_from(*i).unwrap_or(0)),
        Raw::List(items) => Json::Arr(items.iter().map(json_of).collect()),
        Raw::Map(members) => {
            crate::record::json::sorted(members.iter().map(|(k, v)| (k.clone(), json_of(v))).collect())
        }
    }
}

fn text<'a>(chain: &'a Chain, what: &str, hash: &str) -> Result<&'a str, String> {
    chain
        .by_hash
        .get(hash)
        .map(String::as_str)
        .ok_or_else(|| say!("the {what} that the permit cites does not stand in the register", what))
}

/// A job read against its site, everything worked out; in words, all that is wrong.
pub fn read_job(job: &Json, site: &Values, roster: &Roster) -> Result<Values, Vec<String>> {
    let Raw::Map(members) = raw_of(job) else {
        return Err(vec![say!("the job is no group of fields").into()]);
    };
    let read = Values::read_map(fields::JOB, "job", &members)
        .map_err(|all| all.into_iter().map(|f| f.message).collect::<Vec<_>>())?;
    read.worked_out(site, &|id| roster.person(id).map(|p| p.name.clone()))
}

impl Texts {
    /// The texts of a permit; in words why they cannot be had.
    pub fn of(chain: &Chain, permit: &Permit) -> Result<Texts, String> {
        if permit.rules != crate::record::chain::RULES {
            return Err(say!(
                "{permit} was opened under rules {rules}, which this program does not know; it can be \
                 called out and reported on, nothing else",
                permit = permit.number,
                rules = permit.rules
            ));
        }
        let form = checklist(&permit.form.id, text(chain, say!("checklist"), &permit.form.hash)?)?;
        let set = file("set", text(chain, say!("set file"), &permit.set.hash)?)?;
        let site = file("site", text(chain, say!("site file"), &permit.site.hash)?)?;
        let job = read_job(&permit.job, &site, &chain.origin.roster).map_err(|all| all.join("; "))?;
        let shutdown = shutdown_of(chain, permit, &form)?;
        let zone = site.text("zone").unwrap_or("UTC");
        let zone =
            TimeZone::get(zone).map_err(|_| say!("the site's time zone `{zone}` is not known", zone))?;
        let language =
            Tongue::asked().map_or_else(|| site_language(&site).to_owned(), |t| t.tag().to_owned());
        Ok(Texts {
            form,
            shutdown,
            set,
            site,
            job,
            zone,
            language,
            shift_ends: RefCell::default(),
            items: RefCell::default(),
        })
    }

    /// The same texts once the permit's shutdown is on another form; all else that they are made of is as it was.
    pub fn on_its_shutdown(&self, chain: &Chain, permit: &Permit) -> Result<Texts, String> {
        let shutdown = shutdown_of(chain, permit, &self.form)?;
        Ok(Texts { shutdown, ..self.clone() })
    }

    /// All items of an `each`, in the order of the file.
    pub fn items(&self, each: &Each) -> Rc<[Item]> {
        // There are few lists.
        let known = |l: &&Listed| l.each == *each && l.language == self.language;
        if let Some(known) = self.items.borrow().iter().find(known) {
            return Rc::clone(&known.items);
        }
        let from = match each {
            Each::Set(l) => self.set.items(l),
            Each::Site(l) => self.site.items(l),
            Each::Job(l) => self.job.items(l),
            Each::Wearer => self.job.items("wearers"),
        };
        let name = |v: &Values| v.words("name").map_or(v.id(), |w| w.get(&self.language)).to_owned();
        let one =
            |v: &Values| Item(Rc::new(Named { id: v.id().to_owned(), name: name(v), values: v.clone() }));
        let items: Rc<[Item]> = from.iter().map(one).collect();
        let listed = Listed { each: each.clone(), language: self.language.clone(), items: Rc::clone(&items) };
        self.items.borrow_mut().push(listed);
        items
    }

    /// The job of another permit on the same site, for counting its wearers.
    pub(super) fn other_job(other: &Permit, texts: &Texts) -> Result<Values, String> {
        let Raw::Map(members) = raw_of(&other.job) else { return Err(say!("no job").into()) };
        Values::read_map(fields::JOB, "job", &members)
            .map_err(|all| all.into_iter().map(|f| f.message).collect::<Vec<_>>())
            .and_then(|job| job.worked_out(&texts.site, &|_| None))
            .map_err(|all| all.join("; "))
    }
}

/// The form of its shutdown, or the one in force.
fn shutdown_of(
    chain: &Chain,
    permit: &Permit,
    form: &Rc<Checklist>,
) -> Result<Option<Rc<Checklist>>, String> {
    Ok(match (&permit.shutdown_form, form.purpose()) {
        (Some(hash), _) => Some(checklist("shutdown", text(chain, say!("shutdown form"), hash)?)?),
        (None, Purpose::Shutdown) => Some(Rc::clone(form)),
        (None, Purpose::Work) => in_force_for(chain, Purpose::Shutdown),
    })
}

/// The language of a site.
pub fn site_language(site: &Values) -> &str {
    site.text("language").unwrap_or(crate::words::DEFAULT_LANGUAGE)
}

/// The first form in force for a purpose.
pub fn in_force_for(chain: &Chain, purpose: Purpose) -> Option<Rc<Checklist>> {
    chain
        .texts
        .iter()
        .filter(|((kind, _), _)| kind == "form")
        .filter_map(|((_, id), t)| checklist(id, &t.text).ok())
        .find(|c| c.purpose() == purpose)
}

/// A checklist from a text of the register.
pub fn checklist(id: &str, text: &str) -> Result<Rc<Checklist>, String> {
    READ.with(|m| m.forms.get(id, text, || read_checklist(id, text)))
}

fn read_checklist(id: &str, text: &str) -> Result<Checklist, String> {
    let read = Checklist::read(id, text.as_bytes());
    read.checklist.ok_or_else(|| {
        let first = read.findings.iter().find(|f| f.level == crate::finding::Level::Error);
        say!(
            "the checklist `{id}` cannot be read: {why}",
            id,
            why = first.map_or(String::new(), |f| f.to_string())
        )
    })
}

/// A set or site file from a text of the register.
pub fn file(kind: &str, text: &str) -> Result<Rc<Values>, String> {
    READ.with(|m| m.files.get(kind, text, || read_file(kind, text)))
}

fn read_file(kind: &str, text: &str) -> Result<Values, String> {
    let read = match kind {
        "set" => site::read_set(kind, text.as_bytes()),
        _ => site::read_site(kind, text.as_bytes()),
    };
    match read.file {
        Some(f) if !any_error(&read.findings) => Ok(f.values().clone()),
        Some(_) | None => {
            let why = read.findings.first().map_or(String::new(), |f| f.to_string());
            Err(match kind {
                "set" => say!("the set file cannot be read: {why}", why),
                _ => say!("the site file cannot be read: {why}", why),
            })
        }
    }
}
