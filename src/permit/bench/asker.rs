//! What a gate asks, from where it stands: fields of set, site and job, answers, the tally, dates.
//!
//! Always: fields are read in one way, `Values::fact`; what is not known is unknown and says why.
//! Not here: which answer counts (`bench`).

use super::{Bench, Item, air_test, choice_words};
use crate::checklist::{Each, Stage, Step};
use crate::gate::{Fact, Facts, Name, Value, Verdict};
use crate::permit::state::Answer;
use crate::permit::texts::{Texts, raw_of};
use crate::permit::valid;
use crate::site::{Field, Raw, Telling, Values, fields};
use crate::tongue::say;
use crate::units::{Dimension, Quantity};
use crate::view::StateWord;
use jiff::civil::Date;
use num_rational::BigRational;

/// What a gate asks, from where it stands.
pub struct Asker<'a> {
    pub(super) bench: &'a Bench<'a>,
    pub(super) each: Option<(&'a Item, &'a Each)>,
    pub(super) own: Option<&'a Step>,
    /// Of the own step: this answer, whether or not it counts.
    pub(super) answer: Option<&'a Answer>,
}

impl<'a> Asker<'a> {
    fn field(&self, values: &Values, table: &'static [Field], root: &str, path: &[String]) -> Fact {
        let left_out = |list: &str, id: &str| {
            let each = match root {
                "set" => Each::Set(list.to_owned()),
                "site" => Each::Site(list.to_owned()),
                _ => Each::Job(list.to_owned()),
            };
            self.bench.out_of_service(&each, id).is_some()
        };
        values.fact(path, table, &Telling { root, language: &self.bench.texts.language, left_out: &left_out })
    }

    fn step(&self, id: &str) -> Fact {
        let Some((stage, step)) = self.bench.form.step(id) else {
            return Fact::Unknown(say!("there is no step `{id}`", id));
        };
        let own = self.own.filter(|o| o.id() == id);
        let item = self.each.filter(|_| own.is_some()).map(|(item, _)| item.id.as_str());
        if let (Some(answer), Some(_)) = (self.answer, own) {
            return self.bench.fact_of_answer(step, self.each.map(|(item, _)| item), answer);
        }
        self.bench.memo.fact(id, item, || self.work_out(stage, step, own))
    }

    fn work_out(&self, stage: &Stage, step: &Step, own: Option<&Step>) -> Fact {
        let for_item = |item: Option<&Item>| match self.bench.applies_to(stage, step, item) {
            Verdict::Open => self.bench.fact_of(step, item),
            Verdict::Shut(_) => Fact::NotApplicable,
            Verdict::Unknown(why) => Fact::Unknown(why.join("; ")),
        };
        match (step.each(), own, self.each) {
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
    fn wearers(&self, path: &[String]) -> Fact {
        let bench = self.bench;
        let mut all = Demand { asker: self, path, list: Vec::new(), counted: Vec::new() };
        all.job(&bench.texts.job);
        for other in bench.state.not_ended(&bench.now.time) {
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
                    let why = say!("wearers of {permit}: {why}", permit = other.number, why);
                    all.list.push((other.number.clone(), Fact::Unknown(why)));
                }
            }
        }
        let Demand { mut list, counted, .. } = all;
        let known = |person: &str| counted.iter().any(|(p, _)| p == person);
        for p in bench.state.on_air.iter().filter(|p| p.set == bench.permit.set.id && !known(&p.person)) {
            list.push((
                p.person.clone(),
                Fact::Unknown(say!(
                    "{person} is on air from this set and on no permit's list",
                    person = p.person
                )),
            ));
        }
        Fact::List(list)
    }

    fn last(&self, kind: &str, path: &[String]) -> Fact {
        let Some((_, table)) = fields::LAST.iter().find(|(k, _)| *k == kind) else {
            return Fact::Unknown(say!("nothing is recorded as `{kind}`", kind));
        };
        let set = self.bench.state.sets.get(&self.bench.permit.set.id);
        let last = |s: &'a crate::permit::state::SetState| match kind {
            "air_test" => self.bench.air_test(),
            _ => s.last.get(kind),
        };
        let Some((set, last)) = set.and_then(|s| Some((s, last(s)?))) else {
            return Fact::Unknown(say!("no `{kind}` is recorded for this set", kind));
        };
        if kind == "air_test"
            && let [name] = path
            && let Some(why) = air_test::unsure(last, name)
        {
            return Fact::Unknown(why);
        }
        let read = || {
            let place = self.bench.texts.job.text("place").unwrap_or_default();
            let mut members = match (kind, raw_of(&last.data)) {
                ("air_test", _) => air_test::members(last, set, place),
                (_, Raw::Map(members)) => members,
                (_, Raw::Text(_) | Raw::Bool(_) | Raw::Int(_) | Raw::List(_)) => Vec::new(),
            };
            members.retain(|(k, _)| table.iter().any(|f| f.name == k));
            Values::read_map(table, kind, &members).ok()
        };
        match self.bench.memo.last(kind, read) {
            Some(values) => self.field(&values, table, &format!("last.{kind}"), path),
            None => Fact::Unknown(say!("the last `{kind}` line cannot be read", kind)),
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
    path: &'a [String],
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
            let table = crate::checklist::TABLES.items(&Each::Job("consumers".into())).unwrap_or_default();
            let fact = match self.path {
                [member] if matches!(member.as_str(), "least" | "planned" | "most") => {
                    self.asker.field(c, table, "consumers", &["flow".to_owned()])
                }
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
                .find(|l| l.member == member && l.by == "respirator")
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

impl Facts for Asker<'_> {
    fn fact(&self, name: &Name) -> Fact {
        let texts = self.bench.texts;
        let nothing = || Fact::Unknown(say!("nothing is called {name}", name = name.join(".")));
        let Some((root, rest)) = name.split_first() else { return nothing() };
        // Step ids hold no full stop, so that no name is another's.
        let once = |work_out: &dyn Fn() -> Fact| self.bench.memo.fact(&name.join("."), None, work_out);
        match (root.as_str(), rest) {
            (step, []) => self.step(step),
            ("set", rest) => once(&|| self.field(&texts.set, fields::SET, "set", rest)),
            ("site", rest) => once(&|| self.field(&texts.site, fields::SITE, "site", rest)),
            ("job", rest) => once(&|| self.field(&texts.job, fields::JOB, "job", rest)),
            ("wearers", rest) => once(&|| self.wearers(rest)),
            ("item" | "wearer", rest) => match self.each {
                Some((item, each)) => {
                    let table = crate::checklist::TABLES.items(each).unwrap_or_default();
                    self.field(&item.values, table, "item", rest)
                }
                None => Fact::Unknown(say!("there is no item here").into()),
            },
            ("last", [kind, rest @ ..]) => once(&|| self.last(kind, rest)),
            ("permit", [what]) => once(&|| self.permit(what)),
            (_, _) => nothing(),
        }
    }

    fn today(&self) -> Date {
        self.bench.today()
    }

    fn choice(&self, name: &Name, id: &str) -> Option<String> {
        let [step] = name.as_slice() else { return None };
        choice_words(self.bench.form.step(step)?.1, id, &self.bench.texts.language)
    }
}

impl Asker<'_> {
    fn permit(&self, what: &str) -> Fact {
        let b = self.bench;
        let (value, label) = match what {
            "valid_from" => (Value::Date(b.today()), say!("first day of the permit")),
            "valid_to" => (
                Value::Date(valid::date_of(b.end_of_permit(), &b.texts.zone)),
                say!("last day of the permit"),
            ),
            "hours" => {
                let seconds = (b.end_of_permit() - b.now.seconds()).max(0);
                let q = Quantity {
                    value: BigRational::from_integer(seconds.into()),
                    dimension: Dimension::Duration,
                };
                let shown =
                    say!("{h} h {min} min", h = seconds / 3600, min = format!("{:02}", seconds % 3600 / 60));
                return Fact::Is {
                    value: Value::Quantity(q),
                    shown,
                    label: say!("time until the permit ends").into(),
                };
            }
            _ => return Fact::Unknown(say!("a permit has no `{what}`", what)),
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
