//! The bench: a permit with its texts parsed, and what a gate may ask of them.
//!
//! In: the state, a permit, the texts it cites, one `now`. Out: facts by name. Always: what is not known
//! is unknown and says why; an item out of service stands in no list; a late answer is unknown.
//! Not here: in what order steps are asked (`walk`), what is decided on them (`decide`).

use super::state::{Answer, Permit, Stamp, State};
use super::valid;
use crate::checklist::{Checklist, Each, GoodForScope, Purpose, Step, StepKind};
use crate::finding::any_error;
use crate::gate::{Fact, Facts, Name, Value, Verdict};
use crate::record::chain::Chain;
use crate::record::json::Json;
use crate::site::{self, Field, Holds, Raw, Values, fields};
use crate::time::{self, Moment};
use crate::trust::Roster;
use crate::units::{Decimal, Dimension, Quantity, Unit};
use crate::view::StateWord;
use crate::words::Context;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use num_rational::BigRational;

/// More than this after it happened, an entry is late: it opens no gate.
pub const LATE_AFTER: i64 = 300;

/// Members of a job that steps of one shift rest on: who stands by, and how they are called.
const PEOPLE_AND_SIGNALS: &[&str] = &[
    "holder",
    "attendant",
    "entry_watch",
    "rescuers",
    "recall_signal",
    "rescue_number",
    "assembly",
    "channel",
];

/// The texts of a permit, parsed. Made once per permit and state of the register.
#[derive(Clone, Debug)]
pub struct Texts {
    /// The form it was opened on.
    pub form: Checklist,
    /// The shutdown form answered on it, or the one in force.
    pub shutdown: Option<Checklist>,
    /// Set file.
    pub set: Values,
    /// Site file.
    pub site: Values,
    /// The job, with what the site brings in.
    pub job: Values,
    /// The site's time zone.
    pub zone: TimeZone,
    /// Language shown.
    pub language: String,
}

/// A job from the register as the site reader takes it.
pub fn raw_of(json: &Json) -> Raw {
    match json {
        Json::Str(s) => Raw::Text(s.clone()),
        Json::Int(i) => Raw::Int(i64::try_from(*i).unwrap_or(i64::MAX)),
        Json::Bool(b) => Raw::Bool(*b),
        Json::Arr(items) => Raw::List(items.iter().map(raw_of).collect()),
        Json::Obj(members) => Raw::Map(members.iter().map(|(k, v)| (k.clone(), raw_of(v))).collect()),
    }
}

/// The same back: as the register keeps it.
pub fn json_of(raw: &Raw) -> Json {
    match raw {
        Raw::Text(s) => Json::Str(s.clone()),
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
        .ok_or_else(|| format!("the {what} that the permit cites does not stand in the register"))
}

/// A job read against its site, everything worked out; in words, all that is wrong.
pub fn read_job(job: &Json, site: &Values, roster: &Roster) -> Result<Values, Vec<String>> {
    let Raw::Map(members) = raw_of(job) else {
        return Err(vec!["the job is no group of fields".into()]);
    };
    let read = Values::read_map(fields::JOB, "job", &members)
        .map_err(|all| all.into_iter().map(|f| f.message).collect::<Vec<_>>())?;
    read.worked_out(site, &|id| roster.person(id).map(|p| p.name.clone()))
}

impl Texts {
    /// The texts of a permit; in words why they cannot be had.
    pub fn of(chain: &Chain, permit: &Permit) -> Result<Texts, String> {
        if permit.rules != crate::record::chain::RULES {
            return Err(format!(
                "{} was opened under rules {}, which this program does not know; it can be called out and \
                 reported on, nothing else",
                permit.number, permit.rules
            ));
        }
        let form = checklist(&permit.form.id, text(chain, "checklist", &permit.form.hash)?)?;
        let set = file("set", text(chain, "set file", &permit.set.hash)?)?;
        let site = file("site", text(chain, "site file", &permit.site.hash)?)?;
        let job = read_job(&permit.job, &site, &chain.origin.roster).map_err(|all| all.join("; "))?;
        let shutdown = match (&permit.shutdown_form, form.purpose()) {
            (Some(hash), _) => Some(checklist("shutdown", text(chain, "shutdown form", hash)?)?),
            (None, Purpose::Shutdown) => Some(form.clone()),
            (None, Purpose::Work) => in_force_for(chain, Purpose::Shutdown),
        };
        let zone = site.text("zone").unwrap_or("UTC");
        let zone = TimeZone::get(zone).map_err(|_| format!("the site's time zone `{zone}` is not known"))?;
        let language = site.text("language").unwrap_or(crate::words::DEFAULT_LANGUAGE).to_owned();
        Ok(Texts { form, shutdown, set, site, job, zone, language })
    }
}

/// The first form in force for a purpose.
pub fn in_force_for(chain: &Chain, purpose: Purpose) -> Option<Checklist> {
    chain
        .texts
        .iter()
        .filter(|((kind, _), _)| kind == "form")
        .filter_map(|((_, id), t)| checklist(id, &t.text).ok())
        .find(|c| c.purpose() == purpose)
}

/// A checklist from a text of the register.
pub fn checklist(id: &str, text: &str) -> Result<Checklist, String> {
    let read = Checklist::read(id, text.as_bytes());
    read.checklist.ok_or_else(|| {
        let first = read.findings.iter().find(|f| f.level == crate::finding::Level::Error);
        format!("the checklist `{id}` cannot be read: {}", first.map_or(String::new(), |f| f.to_string()))
    })
}

/// A set or site file from a text of the register.
pub fn file(kind: &str, text: &str) -> Result<Values, String> {
    let read = match kind {
        "set" => site::read_set(kind, text.as_bytes()),
        _ => site::read_site(kind, text.as_bytes()),
    };
    match read.file {
        Some(f) if !any_error(&read.findings) => Ok(f.values().clone()),
        Some(_) | None => Err(format!(
            "the {kind} file cannot be read: {}",
            read.findings.first().map_or(String::new(), |f| f.to_string())
        )),
    }
}

/// One item of an `each`.
#[derive(Clone, Debug)]
pub struct Item {
    /// Id as recorded.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Its fields.
    pub values: Values,
}

/// What a step's answer amounts to before its gate.
#[derive(Clone, Debug)]
pub enum Given<'a> {
    /// Nothing, or nothing that still counts; in words.
    Nothing(String),
    /// The item was left out with this reason.
    LeftOut(&'a Answer),
    /// An answer that counts.
    Answer(&'a Answer),
}

/// A permit at work: state, texts and the moment.
pub struct Bench<'a> {
    /// State.
    pub state: &'a State,
    /// Permit.
    pub permit: &'a Permit,
    /// Texts.
    pub texts: &'a Texts,
    /// The form in hand: the permit's or the shutdown form.
    pub form: &'a Checklist,
    /// Now.
    pub now: &'a Moment,
}

impl<'a> Bench<'a> {
    /// The permit's own form.
    pub fn new(state: &'a State, permit: &'a Permit, texts: &'a Texts, now: &'a Moment) -> Bench<'a> {
        Bench { state, permit, texts, form: &texts.form, now }
    }

    /// The shutdown form on this permit, if there is one.
    pub fn shutdown(&self) -> Option<Bench<'a>> {
        let form = self.texts.shutdown.as_ref()?;
        Some(Bench { state: self.state, permit: self.permit, texts: self.texts, form, now: self.now })
    }

    /// All items of an `each`, in the order of the file, those out of service too.
    pub fn all_items(&self, each: &Each) -> Vec<Item> {
        let from = match each {
            Each::Set(l) => self.texts.set.items(l),
            Each::Site(l) => self.texts.site.items(l),
            Each::Job(l) => self.texts.job.items(l),
            Each::Wearer => self.texts.job.items("wearers"),
        };
        from.iter()
            .map(|v| Item {
                id: v.id().to_owned(),
                name: v.words("name").map_or(v.id(), |w| w.get(&self.texts.language)).to_owned(),
                values: v.clone(),
            })
            .collect()
    }

    /// Why an item of an `each` is out of service, if it is.
    pub fn out_of_service(&self, each: &Each, item: &str) -> Option<&'a Answer> {
        self.form.steps().filter(|(_, s)| s.each() == Some(each)).find_map(|(_, s)| {
            match self.latest(s.id(), Some(item)) {
                Some(a) if a.left_out.is_some() => Some(a),
                Some(_) | None => None,
            }
        })
    }

    /// The items in service.
    pub fn items(&self, each: &Each) -> Vec<Item> {
        self.all_items(each).into_iter().filter(|i| self.out_of_service(each, &i.id).is_none()).collect()
    }

    /// Every answer of a step for an item, oldest first.
    pub fn answers(&self, step: &str, item: Option<&str>) -> Vec<&'a Answer> {
        self.permit
            .answers
            .iter()
            .filter(|a| a.form == self.form.sha256() && a.step == step && a.item.as_deref() == item)
            .collect()
    }

    fn latest(&self, step: &str, item: Option<&str>) -> Option<&'a Answer> {
        self.answers(step, item).last().copied()
    }

    /// The answer that counts for a step and item, or why none does.
    pub fn given(&self, step: &Step, item: Option<&str>) -> Given<'a> {
        let Some(answer) = self.latest(step.id(), item) else {
            return Given::Nothing("not answered yet".into());
        };
        if answer.left_out.is_some() {
            return Given::LeftOut(answer);
        }
        if let Some(why) = self.gone_stale(step, answer) {
            return Given::Nothing(why);
        }
        Given::Answer(answer)
    }

    /// Why an answer has to be asked again, if something ended what it was good for.
    fn gone_stale(&self, step: &Step, answer: &Answer) -> Option<String> {
        let set = self.state.sets.get(&self.permit.set.id);
        let again = |ended: Option<&Stamp>, what: &str| {
            let stamp = ended.filter(|s| s.seq > answer.stamp.seq)?;
            Some(format!("asked again: {what} at {}", time::clock(&stamp.time, &stamp.zone)))
        };
        let last = |kind: &str| set.and_then(|s| s.last.get(kind)).map(|h| &h.stamp);
        if self.form.purpose() == Purpose::Shutdown {
            // What was shut and vented is not any more once it runs again or a permit is issued on it, and
            // who was seen off air is not once somebody was on air again.
            let issued = self.permit.last_signed("countersign").map(|s| &s.stamp);
            return again(last("started"), "the set was started")
                .or_else(|| again(issued, "the permit was issued"))
                .or_else(|| again(set.and_then(|s| s.breathed.as_ref()), "somebody was on air"));
        }
        if let Some((stamp, what)) = self.job_changed(step, answer) {
            return again(Some(stamp), &what);
        }
        let event = |kinds: &[&str]| {
            let of_kind = |k: &&str| set.and_then(|s| s.events.get(*k));
            kinds.iter().filter_map(of_kind).max_by_key(|s| s.seq)
        };
        let serviced = |what: &str| set.and_then(|s| s.serviced.get(what));
        step.good_for().iter().find_map(|good| match good.scope {
            GoodForScope::Place => again(last("moved"), "the set was moved"),
            GoodForScope::SupplyPoint => again(last("moved"), "the set was moved")
                .or_else(|| again(last("plugged"), "the set was plugged in elsewhere")),
            GoodForScope::Start => again(last("stopped"), "the set was stopped")
                .or_else(|| again(set.and_then(|s| s.stop_untold.as_ref()), "the set was started anew"))
                .or_else(|| again(set.and_then(|s| s.shut_down.as_ref()), "a shutdown was begun")),
            GoodForScope::Fill => again(last("filled"), "the reserve was filled")
                .or_else(|| again(set.and_then(|s| s.reserve_used.as_ref()), "the reserve was used")),
            // Filters, and the air that comes through them: an air test does not outlast work on the
            // machine, nor an alarm that says the air was foul.
            GoodForScope::Filter => again(serviced("filter"), "a filter was changed")
                .or_else(|| again(serviced("oil"), "the oil was changed"))
                .or_else(|| again(serviced("air_side"), "the air side was worked on"))
                .or_else(|| again(event(&["co", "temperature", "oil"]), "an alarm spoke against the air")),
            GoodForScope::Wind => again(event(&["wind_turned"]), "the wind turned"),
            GoodForScope::Hose => again(event(&["hose"]), "something happened to a hose"),
            GoodForScope::Respirator => again(event(&["respirator"]), "something happened to a respirator"),
            GoodForScope::Hours(n) => {
                let given = time::seconds(answer.at.as_deref().unwrap_or(&answer.stamp.time));
                (self.now.seconds() - given > i64::from(n) * 3600).then(|| {
                    format!("asked again: it is good for {n} h and was answered at {}", self.clock_of(answer))
                })
            }
            GoodForScope::Months(n) => {
                let given = time::local(&answer.stamp.time, &answer.stamp.zone).date();
                let over = given
                    .checked_add(jiff::Span::new().months(i64::from(n)))
                    .map_or(true, |d| d < self.today());
                over.then(|| format!("asked again: it is good for {n} months and was answered on {given}"))
            }
            // These cannot end inside one permit, which is where answers are kept today: a permit ends at
            // the first end of a shift after it was opened. What the job says of it is looked at above.
            GoodForScope::Permit | GoodForScope::Shift | GoodForScope::Set | GoodForScope::Wearer => None,
        })
    }

    fn clock_of(&self, answer: &Answer) -> String {
        time::clock(&answer.stamp.time, &answer.stamp.zone)
    }

    /// The line that changed the job since an answer, if the answer rested on what it changed.
    fn job_changed(&self, step: &Step, answer: &Answer) -> Option<(&'a Stamp, String)> {
        let jobs = &self.permit.jobs;
        let (stamp, new) = jobs.last().filter(|(s, _)| s.seq > answer.stamp.seq)?;
        let (_, old) = jobs.iter().rev().find(|(s, _)| s.seq <= answer.stamp.seq)?;
        let differs = |members: &[&str]| members.iter().any(|m| old.get(m) != new.get(m));
        let item_differs = |list: &str| {
            let entry = |job: &'a Json| {
                let Some(Json::Arr(items)) = job.get(list) else { return None };
                items.iter().find(|i| i.text("person").or(i.text("id")) == answer.item.as_deref())
            };
            entry(old) != entry(new)
        };
        let own = match step.each() {
            Some(Each::Wearer) => item_differs("wearers"),
            Some(Each::Job(list)) => item_differs(list),
            Some(Each::Set(_) | Each::Site(_)) | None => false,
        };
        if own {
            return Some((stamp, "the job says otherwise of it since".into()));
        }
        let only_shift = step.good_for().iter().all(|g| g.scope == GoodForScope::Shift);
        let rests = step.good_for().iter().any(|g| match g.scope {
            GoodForScope::Permit => old != new,
            GoodForScope::Place => differs(&["place"]),
            GoodForScope::SupplyPoint => differs(&["place", "supply_point"]),
            GoodForScope::Hose | GoodForScope::Respirator | GoodForScope::Wearer => {
                step.each().is_none() && differs(&["wearers"])
            }
            GoodForScope::Shift => only_shift && differs(PEOPLE_AND_SIGNALS),
            GoodForScope::Start
            | GoodForScope::Set
            | GoodForScope::Wind
            | GoodForScope::Filter
            | GoodForScope::Fill
            | GoodForScope::Hours(_)
            | GoodForScope::Months(_) => false,
        });
        rests.then(|| (stamp, "the job was changed".into()))
    }

    /// The site's date.
    pub fn today(&self) -> Date {
        let now = jiff::Timestamp::from_second(self.now.seconds()).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        self.texts.zone.to_datetime(now).date()
    }

    /// Whether stage and step apply: `Open` applies, `Shut` not applicable, `Unknown` waits.
    pub fn applies(&self, stage: &crate::checklist::Stage, step: &Step) -> Verdict {
        self.applies_to(stage, step, None)
    }

    /// The same for one item of the step's `each`, which its `when` may ask about.
    pub fn applies_to(&self, stage: &crate::checklist::Stage, step: &Step, item: Option<&Item>) -> Verdict {
        let plain = Asker { bench: self, each: item.zip(step.each()), own: None };
        let mut shut = Vec::new();
        let mut unknown = Vec::new();
        for when in [stage.when(), step.when()].into_iter().flatten() {
            match when.judge(&plain) {
                Verdict::Open => {}
                Verdict::Shut(why) => shut.extend(why),
                Verdict::Unknown(why) => unknown.extend(why),
            }
        }
        match (shut.is_empty(), unknown.is_empty()) {
            (false, _) => Verdict::Shut(shut),
            (true, false) => Verdict::Unknown(unknown),
            (true, true) => Verdict::Open,
        }
    }

    /// The facts as a step asks them for an item.
    pub fn asker<'b>(&'b self, step: &'b Step, item: Option<&'b Item>) -> Asker<'b> {
        Asker { bench: self, each: item.zip(step.each()), own: Some(step) }
    }

    /// The words of a template for an item.
    pub fn words(&self, template: &crate::words::Template, item: Option<&Item>) -> String {
        let mut context = Context::new();
        for name in template.names() {
            let path: Vec<&str> = name.split('.').collect();
            let shown = match path.as_slice() {
                ["item" | "wearer", rest @ ..] => {
                    item.and_then(|i| shown(&i.values, &rest.join("."), &self.texts.language))
                }
                ["set", rest @ ..] => shown(&self.texts.set, &rest.join("."), &self.texts.language),
                ["site", rest @ ..] => shown(&self.texts.site, &rest.join("."), &self.texts.language),
                ["job", rest @ ..] => shown(&self.texts.job, &rest.join("."), &self.texts.language),
                ["today"] => Some(self.today().to_string()),
                ["permit", "valid_from"] => Some(self.today().to_string()),
                ["permit", "valid_to"] => Some(
                    valid::working(self.permit, self.texts, self.now)
                        .local_date(&self.texts.zone)
                        .to_string(),
                ),
                _ => None,
            };
            if let Some(s) = shown {
                context.set(name, &s);
            }
        }
        template.render(&self.texts.language, &context).unwrap_or_else(|e| e.to_string())
    }

    /// What a step is called in explanations: as its form calls it, else its id in words; and the item.
    pub fn label(step: &Step, item: Option<&str>) -> String {
        let words = step.called().map_or_else(|| step.id().replace('_', " "), |w| w.own().to_owned());
        match item {
            Some(i) => format!("{words}, {i}"),
            None => words,
        }
    }

    /// The fact that an answer of a step is, for an item.
    pub fn fact_of(&self, step: &Step, item: Option<&Item>) -> Fact {
        let label = Self::label(step, item.map(|i| i.name.as_str()));
        let unknown = |why: &str| Fact::Unknown(format!("{label}: {why}"));
        let answer = match self.given(step, item.map(|i| i.id.as_str())) {
            Given::Nothing(why) => return unknown(&why),
            Given::LeftOut(_) => return Fact::NotApplicable,
            Given::Answer(a) => a,
        };
        if let Some(at) = &answer.at {
            let late = time::seconds(&answer.stamp.time) - time::seconds(at);
            if late > LATE_AFTER {
                return unknown("entered late; a late answer opens nothing");
            }
            if late < -LATE_AFTER {
                return unknown("entered before it is said to have happened; it opens nothing");
            }
        }
        let value = answer.value.as_deref().unwrap_or_default();
        let is = |value: Value, shown: String| Fact::Is { value, shown, label: label.clone() };
        match step.kind() {
            StepKind::Confirm => is(Value::Bool(value == "yes"), value.to_owned()),
            StepKind::Choice(_) => {
                let words = choice_words(step, value).unwrap_or_else(|| value.replace('_', " "));
                is(Value::Choice(value.to_owned()), words)
            }
            StepKind::Date => match value.parse::<Date>() {
                Ok(d) => is(Value::Date(d), value.to_owned()),
                Err(_) => unknown("the record holds no date"),
            },
            StepKind::Text => is(Value::Text(value.to_owned()), value.to_owned()),
            StepKind::Reading(instrument) => {
                let unit = instrument.unit();
                match quantity(value, unit) {
                    Some(mark) if answer.below => match self.limit(instrument.from(), unit, step, item) {
                        Ok(from) => {
                            Fact::Below { from, mark, shown: format!("< {}", with_unit(value, unit)), label }
                        }
                        Err(why) => unknown(&why),
                    },
                    Some(q) => is(Value::Quantity(q), with_unit(value, unit)),
                    None => unknown("the record holds no number"),
                }
            }
            StepKind::Derived(_) => match self.derive(step, item) {
                Ok((again, shown)) if again == value => match self.derived_value(step, value) {
                    Some(v) => is(v, shown),
                    None => unknown("the record holds no value"),
                },
                Ok((again, _)) => {
                    unknown(&format!("was {value}, worked out again it is {again}; take it again"))
                }
                Err(why) => unknown(&why),
            },
            StepKind::Timed(_) => match self.waited(step, item.map(|i| i.id.as_str())) {
                Some(seconds) => is(
                    Value::Quantity(Quantity {
                        value: BigRational::from_integer(seconds.into()),
                        dimension: Dimension::Duration,
                    }),
                    format!("{} min {} s", seconds / 60, seconds % 60),
                ),
                None => unknown("begun, not done yet"),
            },
        }
    }

    fn derived_value(&self, step: &Step, value: &str) -> Option<Value> {
        let StepKind::Derived(d) = step.kind() else { return None };
        match d.form() {
            Some(form) => quantity(value, form.unit()).map(Value::Quantity),
            None => value.parse::<Date>().ok().map(Value::Date),
        }
    }

    /// A derived step worked out: its decimal as text, and as shown.
    pub fn derive(&self, step: &Step, item: Option<&Item>) -> Result<(String, String), String> {
        let StepKind::Derived(d) = step.kind() else { return Err("this step is not worked out".into()) };
        let value = d.expression().compute(&self.asker(step, item)).map_err(|all| all.join("; "))?;
        match (value, d.form()) {
            (Value::Quantity(q), Some(form)) => {
                let exact = match form.unit() {
                    Some(u) => q.in_unit(u).ok_or("the unit does not fit what was worked out")?,
                    None => q.value,
                };
                let text = Decimal::round(&exact, form.decimals(), form.round())
                    .map_err(|e| e.to_string())?
                    .to_string();
                let shown = with_unit(&text, form.unit());
                Ok((text, shown))
            }
            (Value::Date(date), None) => Ok((date.to_string(), date.to_string())),
            (
                Value::Quantity(_)
                | Value::Date(_)
                | Value::Bool(_)
                | Value::Choice(_)
                | Value::Span { .. }
                | Value::Text(_),
                _,
            ) => Err("what was worked out has no form to be kept in".into()),
        }
    }

    /// A limit of an instrument as a quantity.
    pub fn limit(
        &self,
        limit: &crate::checklist::Limit,
        unit: Option<Unit>,
        step: &Step,
        item: Option<&Item>,
    ) -> Result<Quantity, String> {
        match limit {
            crate::checklist::Limit::Given(d) => {
                quantity(&d.to_string(), unit).ok_or("the limit is no number".into())
            }
            crate::checklist::Limit::Named(e) => match e.compute(&self.asker(step, item)) {
                Ok(Value::Quantity(q)) => Ok(q),
                Ok(_) => Err("the limit is no quantity".into()),
                Err(all) => Err(all.join("; ")),
            },
        }
    }

    /// Seconds between the last `begun` of a timed step and the `done` after it.
    fn waited(&self, step: &Step, item: Option<&str>) -> Option<i64> {
        let answers = self.answers(step.id(), item);
        let done = answers.last().filter(|a| a.value.as_deref() == Some("done"))?;
        let begun = answers.iter().rev().find(|a| a.value.as_deref() == Some("begun"))?;
        Some(time::seconds(&done.stamp.time) - time::seconds(&begun.stamp.time))
    }
}

/// The words of a choice of a step, in quotation marks; `None` if the step does not offer it.
fn choice_words(step: &Step, id: &str) -> Option<String> {
    let (_, words) = step.choices().iter().find(|(c, _)| c == id)?;
    Some(format!("\"{}\"", words.own()))
}

/// A value with its unit, or alone if it has none.
pub fn with_unit(value: &str, unit: Option<Unit>) -> String {
    unit.map_or_else(|| value.to_owned(), |u| format!("{value} {}", u.symbol()))
}

/// A kept number as a quantity; a plain number without a unit.
pub fn quantity(value: &str, unit: Option<Unit>) -> Option<Quantity> {
    let number = Decimal::kept(value).ok()?;
    Some(match unit {
        None => Quantity::number(number.to_exact()),
        Some(u) => Quantity::new(&number, &u),
    })
}

fn shown(values: &Values, path: &str, language: &str) -> Option<String> {
    values.get(path).and_then(|h| h.shown(language))
}

fn field_of(table: &'static [Field], path: &[&str]) -> Option<&'static Field> {
    let (first, rest) = path.split_first()?;
    let f = table.iter().find(|f| f.name == *first)?;
    match (f.holds, rest.is_empty()) {
        (_, true) => Some(f),
        (Holds::Map(inner), false) => field_of(inner, rest),
        (_, false) => Some(f),
    }
}

/// What a gate asks, from where it stands.
pub struct Asker<'a> {
    bench: &'a Bench<'a>,
    each: Option<(&'a Item, &'a Each)>,
    own: Option<&'a Step>,
}

impl Asker<'_> {
    fn field(&self, values: &Values, table: &'static [Field], root: &str, path: &[&str]) -> Fact {
        let language = &self.bench.texts.language;
        let doc = field_of(table, path).map_or_else(|| path.join(" "), |f| f.doc.to_owned());
        let label = if doc.is_empty() { path.join(" ") } else { doc };
        if let Some((first, rest)) = path.split_first()
            && let Some(Field { holds: Holds::Items(inner), .. }) = table.iter().find(|f| f.name == *first)
        {
            let each = match root {
                "set" => Each::Set((*first).to_owned()),
                "site" => Each::Site((*first).to_owned()),
                _ => Each::Job((*first).to_owned()),
            };
            let list = self.bench.items(&each).into_iter().map(|i| {
                let fact = if rest.is_empty() {
                    Fact::Is {
                        value: Value::Text(i.id.clone()),
                        shown: i.name.clone(),
                        label: i.name.clone(),
                    }
                } else {
                    self.field(&i.values, inner, root, rest)
                };
                (i.name, fact)
            });
            return Fact::List(list.collect());
        }
        if let Some(crate::site::Held::Texts(texts)) = values.get(&path.join(".")) {
            return Fact::List(
                texts
                    .iter()
                    .map(|t| {
                        (
                            t.clone(),
                            Fact::Is { value: Value::Text(t.clone()), shown: t.clone(), label: t.clone() },
                        )
                    })
                    .collect(),
            );
        }
        match values.judged(&path.join("."), language) {
            Some((value, shown)) => Fact::Is { value, shown, label },
            None => Fact::Unknown(format!("{label} is not given ({root}.{})", path.join("."))),
        }
    }

    fn step(&self, id: &str) -> Fact {
        let Some((stage, step)) = self.bench.form.step(id) else {
            return Fact::Unknown(format!("there is no step `{id}`"));
        };
        let for_item = |item: Option<&Item>| match self.bench.applies_to(stage, step, item) {
            Verdict::Open => self.bench.fact_of(step, item),
            Verdict::Shut(_) => Fact::NotApplicable,
            Verdict::Unknown(why) => Fact::Unknown(why.join("; ")),
        };
        match (step.each(), self.own.filter(|o| o.id() == id), self.each) {
            (None, _, _) => for_item(None),
            (Some(_), Some(_), Some((item, _))) => for_item(Some(item)),
            (Some(_), _, _) if matches!(self.bench.applies(stage, step), Verdict::Shut(_)) => {
                Fact::NotApplicable
            }
            (Some(each), _, _) => Fact::List(
                self.bench.items(each).into_iter().map(|i| (i.name.clone(), for_item(Some(&i)))).collect(),
            ),
        }
    }

    /// Everybody this set must be able to feed at once: planned here, planned or on air on its other
    /// permits, rescuers counted on this air, declared consumers.
    fn wearers(&self, path: &[&str]) -> Fact {
        let bench = self.bench;
        let mut all = Demand { asker: self, path, list: Vec::new(), counted: Vec::new() };
        all.job(&bench.texts.job);
        for other in bench.state.permits.values() {
            let feeds = other.set.id == bench.permit.set.id
                && other.number != bench.permit.number
                && !other.for_shutdown
                && may_breathe(bench.state.life(other, &bench.now.time));
            if !feeds {
                continue;
            }
            match Texts::other_job(other, bench.texts) {
                Ok(job) => all.job(&job),
                Err(why) => {
                    let why = format!("wearers of {}: {why}", other.number);
                    all.list.push((other.number.clone(), Fact::Unknown(why)));
                }
            }
        }
        let Demand { mut list, counted, .. } = all;
        let known = |person: &str| counted.iter().any(|(p, _)| p == person);
        for p in bench.state.on_air.iter().filter(|p| p.set == bench.permit.set.id && !known(&p.person)) {
            list.push((
                p.person.clone(),
                Fact::Unknown(format!("{} is on air from this set and on no permit's list", p.person)),
            ));
        }
        Fact::List(list)
    }

    fn last(&self, kind: &str, path: &[&str]) -> Fact {
        let Some((_, table)) = fields::LAST.iter().find(|(k, _)| *k == kind) else {
            return Fact::Unknown(format!("nothing is recorded as `{kind}`"));
        };
        let last = self.bench.state.sets.get(&self.bench.permit.set.id).and_then(|s| s.last.get(kind));
        let Some(Raw::Map(mut members)) = last.map(|h| raw_of(&h.data)) else {
            return Fact::Unknown(format!("no `{kind}` is recorded for this set"));
        };
        members.retain(|(k, _)| table.iter().any(|f| f.name == k));
        match Values::read_map(table, kind, &members) {
            Ok(values) => self.field(&values, table, &format!("last.{kind}"), path),
            Err(_) => Fact::Unknown(format!("the last `{kind}` line cannot be read")),
        }
    }
}

/// Whether somebody may yet go on air on a permit in this state.
const fn may_breathe(life: StateWord) -> bool {
    match life {
        StateWord::Draft | StateWord::Declared | StateWord::Live | StateWord::Suspended => true,
        StateWord::HandedBack
        | StateWord::Closed
        | StateWord::Refused
        | StateWord::Cancelled
        | StateWord::Lapsed => false,
    }
}

/// Everybody and everything that draws on the air of a set, as it is counted.
struct Demand<'a> {
    asker: &'a Asker<'a>,
    path: &'a [&'a str],
    list: Vec<(String, Fact)>,
    /// Person and respirator: the same person in the same respirator draws once.
    counted: Vec<(String, String)>,
}

impl Demand<'_> {
    fn job(&mut self, job: &Values) {
        let language = &self.asker.bench.texts.language;
        let name = |v: &Values| v.words("name").map_or(v.id(), |w| w.get(language)).to_owned();
        for w in job.items("wearers") {
            if self.counts(w) {
                self.list.push((name(w), self.asker.field(w, fields::WEARER, "wearers", self.path)));
            }
        }
        for r in job.items("rescuers").iter().filter(|r| r.text("respirator").is_some()) {
            if self.counts(r) {
                self.list.push((name(r), self.of_rescuer(r)));
            }
        }
        for c in job.items("consumers") {
            let fact = match self.path {
                ["least" | "planned" | "most"] => self.asker.field(c, fields::JOB, "consumers", &["flow"]),
                _ => Fact::NotApplicable,
            };
            self.list.push((name(c), fact));
        }
    }

    fn counts(&mut self, who: &Values) -> bool {
        let one = (who.id().to_owned(), who.text("respirator").unwrap_or_default().to_owned());
        let new = !self.counted.contains(&one);
        if new {
            self.counted.push(one);
        }
        new
    }

    /// What a rescuer's respirator brings with it; the job's table of rescuers does not hold that.
    fn of_rescuer(&self, rescuer: &Values) -> Fact {
        let texts = self.asker.bench.texts;
        let found = match self.path {
            [member] => fields::LOOKED_UP
                .iter()
                .find(|l| l.member == *member && l.by == "respirator")
                .and_then(|l| Some((l, texts.site.item(l.list, rescuer.text(l.by)?)?)))
                .and_then(|(l, item)| item.judged(l.field, &texts.language)),
            _ => None,
        };
        match found {
            Some((value, shown)) => Fact::Is { value, shown, label: self.path.join(" ").replace('_', " ") },
            None => self.asker.field(rescuer, fields::WEARER, "rescuers", self.path),
        }
    }
}

impl Texts {
    /// The job of another permit on the same site, for counting its wearers.
    fn other_job(other: &Permit, texts: &Texts) -> Result<Values, String> {
        let Raw::Map(members) = raw_of(&other.job) else { return Err("no job".into()) };
        Values::read_map(fields::JOB, "job", &members)
            .map_err(|all| all.into_iter().map(|f| f.message).collect::<Vec<_>>())
            .and_then(|job| job.worked_out(&texts.site, &|_| None))
            .map_err(|all| all.join("; "))
    }
}

impl Facts for Asker<'_> {
    fn fact(&self, name: &Name) -> Fact {
        let path: Vec<&str> = name.iter().map(String::as_str).collect();
        let texts = self.bench.texts;
        match path.as_slice() {
            ["set", rest @ ..] => self.field(&texts.set, fields::SET, "set", rest),
            ["site", rest @ ..] => self.field(&texts.site, fields::SITE, "site", rest),
            ["job", rest @ ..] => self.field(&texts.job, fields::JOB, "job", rest),
            ["wearers", rest @ ..] => self.wearers(rest),
            ["item" | "wearer", rest @ ..] => match self.each {
                Some((item, each)) => {
                    let table = crate::checklist::TABLES.items(each).unwrap_or_default();
                    self.field(&item.values, table, "item", rest)
                }
                None => Fact::Unknown("there is no item here".into()),
            },
            ["last", kind, rest @ ..] => self.last(kind, rest),
            ["permit", what] => self.permit(what),
            [step] => self.step(step),
            _ => Fact::Unknown(format!("nothing is called {}", path.join("."))),
        }
    }

    fn today(&self) -> Date {
        self.bench.today()
    }

    fn choice(&self, name: &Name, id: &str) -> Option<String> {
        let [step] = name.as_slice() else { return None };
        choice_words(self.bench.form.step(step)?.1, id)
    }
}

impl Asker<'_> {
    fn permit(&self, what: &str) -> Fact {
        let b = self.bench;
        let limit = valid::working(b.permit, b.texts, b.now);
        let (value, label) = match what {
            "valid_from" => (Value::Date(b.today()), "first day of the permit"),
            "valid_to" => (Value::Date(limit.local_date(&b.texts.zone)), "last day of the permit"),
            "hours" => {
                let seconds = (limit.second - b.now.seconds()).max(0);
                let q = Quantity {
                    value: BigRational::from_integer(seconds.into()),
                    dimension: Dimension::Duration,
                };
                let shown = format!("{} h {:02} min", seconds / 3600, seconds % 3600 / 60);
                return Fact::Is {
                    value: Value::Quantity(q),
                    shown,
                    label: "time until the permit ends".into(),
                };
            }
            _ => return Fact::Unknown(format!("a permit has no `{what}`")),
        };
        let shown = match &value {
            Value::Date(d) => d.to_string(),
            Value::Bool(_) | Value::Choice(_) | Value::Span { .. } | Value::Quantity(_) | Value::Text(_) => {
                String::new()
            }
        };
        Fact::Is { value, shown, label: label.into() }
    }
}
