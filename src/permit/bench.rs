//! The bench: a permit with its texts parsed, and what a gate may ask of them.
//!
//! In: the state, a permit, the texts it cites, one `now`. Out: facts by name. Always: what is not known
//! is unknown and says why; an item out of service stands in no list; a late answer is unknown.
//! Not here: in what order steps are asked (`walk`), what is decided on them (`decide`).

pub mod air_test;
mod asker;
mod memo;
mod stale;

pub use super::texts::{
    Item, Texts, checklist, file, in_force_for, json_of, raw_of, read_job, site_language,
};
pub use asker::Asker;
pub use memo::Memo;
pub use stale::job_differs;

use super::state::{Answer, Permit, State};
use super::valid;
use crate::checklist::{Checklist, Each, Step, StepKind};
use crate::gate::{Fact, Value, Verdict};
use crate::site::Values;
use crate::time::{self, Moment};
use crate::tongue::say;
use crate::units::{Decimal, Dimension, Quantity, Unit};
use crate::view::{Standing, recorded};
use crate::words::Context;
use jiff::civil::Date;
use num_rational::BigRational;
use std::rc::Rc;

/// More than this after it happened, an entry is late: it opens no gate.
pub const LATE_AFTER: i64 = 300;

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
    /// What was worked out on it already.
    memo: Rc<Memo>,
}

impl<'a> Bench<'a> {
    /// The permit's own form.
    pub fn new(state: &'a State, permit: &'a Permit, texts: &'a Texts, now: &'a Moment) -> Bench<'a> {
        Bench { state, permit, texts, form: &texts.form, now, memo: Rc::default() }
    }

    /// The same, going on with what was worked out on an earlier bench of this permit and form, as far as it still holds.
    #[must_use]
    pub fn going_on(self, memo: Rc<Memo>) -> Bench<'a> {
        Bench { memo, ..self }
    }

    /// What was worked out on it already.
    pub fn memo(&self) -> Rc<Memo> {
        Rc::clone(&self.memo)
    }

    /// How a step stands but for its freshness, worked out once on it.
    pub(super) fn stand(
        &self,
        step: &Step,
        item: Option<&str>,
        work_out: impl FnOnce() -> (Standing, Vec<String>),
    ) -> (Standing, Vec<String>) {
        self.memo.stand(step.id(), item, work_out)
    }

    /// The shutdown form on this permit, if there is one.
    pub fn shutdown(&self) -> Option<Bench<'a>> {
        let form = self.texts.shutdown.as_ref()?;
        Some(Bench { form, ..Bench::new(self.state, self.permit, self.texts, self.now) })
    }

    /// All items of an `each`, in the order of the file, those out of service too.
    pub fn all_items(&self, each: &Each) -> Vec<Item> {
        self.texts.items(each).to_vec()
    }

    /// Why an item of an `each` is out of service, if it is.
    pub fn out_of_service(&self, each: &Each, item: &str) -> Option<&'a Answer> {
        if !self.memo.left_out(self.permit, self.form.sha256()) {
            return None;
        }
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

    /// The answers that what a step works out rests on, each with its value: which temperature, which reading; and the
    /// test of the air that a step speaks of.
    pub fn rests_on(&self, step: &Step, item: Option<&Item>) -> Vec<String> {
        let StepKind::Derived(d) = step.kind() else {
            let asks = |n: &[String]| matches!(n, [l, t, ..] if l == "last" && t == "air_test");
            let confirms = matches!(step.kind(), StepKind::Confirm);
            let of_test =
                confirms && step.gate().is_some_and(|g| g.names().filter(|u| asks(u.name)).count() > 1);
            return self.air_test().filter(|_| of_test).map(air_test::in_words).into_iter().collect();
        };
        let asker = self.asker(step, item);
        let mut out: Vec<String> = Vec::new();
        for used in d.expression().names() {
            // Fields of files stand in the files.
            let [id] = used.name.as_slice() else { continue };
            if self.form.step(id).is_none() {
                continue;
            }
            let said = match crate::gate::Facts::fact(&asker, used.name) {
                Fact::Is { shown, label, .. } | Fact::Below { shown, label, .. } => {
                    Some(format!("{label} {shown}"))
                }
                Fact::List(items) => {
                    let each = items.into_iter().filter_map(|(name, fact)| match fact {
                        Fact::Is { shown, .. } | Fact::Below { shown, .. } => Some(format!("{name} {shown}")),
                        Fact::Unknown(_) | Fact::NotApplicable | Fact::List(_) => None,
                    });
                    let each: Vec<String> = each.take(12).collect();
                    (!each.is_empty()).then(|| format!("{} {}", id.replace('_', " "), each.join(", ")))
                }
                Fact::Unknown(_) | Fact::NotApplicable => None,
            };
            out.extend(said.filter(|s| !out.contains(s)));
        }
        out
    }

    /// H of the lines of the set that a step asks for, by its gate or by what it works out; with a test of the air the
    /// start after which the set ran then.
    pub fn lines_asked(&self, step: &Step) -> Vec<&'a str> {
        let derived = step.expression();
        let gate = step.gate().into_iter().flat_map(|g| g.names());
        let names = gate.chain(derived.into_iter().flat_map(|e| e.names()));
        let kinds = names.filter_map(|u| match u.name.as_slice() {
            [last, kind, ..] if last == "last" => Some(kind.as_str()),
            _ => None,
        });
        let set = self.state.sets.get(&self.permit.set.id);
        let mut out: Vec<&str> = kinds
            .filter_map(|kind| match kind {
                "air_test" => self.air_test(),
                kind => set?.last.get(kind),
            })
            .flat_map(|h| [Some(&h.stamp.hash), set.and_then(|s| s.ran.get(&h.stamp.hash))])
            .flatten()
            .map(|hash| hash.as_str())
            .collect();
        out.sort_unstable();
        out.dedup();
        out
    }

    /// The unit of what a step works out; its answers are kept without.
    pub fn unit_worked_out(&self, step: &str) -> Option<Unit> {
        match self.form.step(step)?.1.kind() {
            StepKind::Derived(d) => d.form()?.unit(),
            StepKind::Confirm
            | StepKind::Choice(_)
            | StepKind::Reading(_)
            | StepKind::Date
            | StepKind::Text
            | StepKind::Timed(_) => None,
        }
    }

    /// Every answer of a step for an item, oldest first.
    pub fn answers(&self, step: &str, item: Option<&str>) -> Vec<&'a Answer> {
        self.memo.answers(self.permit, (self.form.sha256(), step, item), |places| {
            places.iter().filter_map(|i| self.permit.answers.get(*i)).collect()
        })
    }

    fn latest(&self, step: &str, item: Option<&str>) -> Option<&'a Answer> {
        let last = |places: &[usize]| places.last().copied();
        let last = self.memo.answers(self.permit, (self.form.sha256(), step, item), last)?;
        self.permit.answers.get(last)
    }

    /// The answer that counts for a step and item, or why none does.
    pub fn given(&self, step: &Step, item: Option<&str>) -> Given<'a> {
        let Some(answer) = self.latest(step.id(), item) else {
            return Given::Nothing(say!("not answered yet").into());
        };
        if answer.left_out.is_some() {
            return Given::LeftOut(answer);
        }
        if let Some(why) = self.gone_stale(step, answer) {
            return Given::Nothing(why);
        }
        Given::Answer(answer)
    }

    /// The site's date.
    pub fn today(&self) -> Date {
        let now = jiff::Timestamp::from_second(self.now.seconds()).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        self.texts.zone.to_datetime(now).date()
    }

    /// The last second at which the permit would be valid as it stands now.
    pub fn end_of_permit(&self) -> i64 {
        let fixed = self.memo.end(|| valid::fixed(self.state, self.permit, self.texts));
        valid::second(fixed, self.permit, self.texts, self.now)
    }

    /// Whether stage and step apply: `Open` applies, `Shut` not applicable, `Unknown` waits.
    pub fn applies(&self, stage: &crate::checklist::Stage, step: &Step) -> Verdict {
        self.applies_to(stage, step, None)
    }

    /// The same for one item of the step's `each`, which its `when` may ask about.
    pub fn applies_to(&self, stage: &crate::checklist::Stage, step: &Step, item: Option<&Item>) -> Verdict {
        self.memo.applies(step.id(), item.map(|i| i.id.as_str()), || self.judge_applies(stage, step, item))
    }

    fn judge_applies(&self, stage: &crate::checklist::Stage, step: &Step, item: Option<&Item>) -> Verdict {
        let plain = Asker { bench: self, each: item.zip(step.each()), own: None, answer: None };
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
        Asker { bench: self, each: item.zip(step.each()), own: Some(step), answer: None }
    }

    /// The same, as if this answer of the step counted, whatever became of it.
    pub fn asker_of<'b>(&'b self, step: &'b Step, item: Option<&'b Item>, answer: &'b Answer) -> Asker<'b> {
        Asker { answer: Some(answer), ..self.asker(step, item) }
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
                ["permit", "valid_to"] => {
                    Some(valid::date_of(self.end_of_permit(), &self.texts.zone).to_string())
                }
                _ => None,
            };
            if let Some(s) = shown {
                context.set(name, &s);
            }
        }
        template.render(&self.texts.language, &context).unwrap_or_else(|e| e.to_string())
    }

    /// What a step is called in explanations: as its form calls it, else its id in words; and the item.
    pub fn label(step: &Step, item: Option<&str>, language: &str) -> String {
        let words = step.called().map_or_else(|| step.id().replace('_', " "), |w| w.get(language).to_owned());
        match item {
            Some(i) => format!("{words}, {i}"),
            None => words,
        }
    }

    /// The fact that an answer of a step is, for an item.
    pub fn fact_of(&self, step: &Step, item: Option<&Item>) -> Fact {
        let answer = match self.given(step, item.map(|i| i.id.as_str())) {
            Given::Nothing(why) => {
                let label = Self::label(step, item.map(|i| i.name.as_str()), &self.texts.language);
                return Fact::Unknown(format!("{label}: {why}"));
            }
            Given::LeftOut(_) => return Fact::NotApplicable,
            Given::Answer(a) => a,
        };
        self.fact_of_answer(step, item, answer)
    }

    /// The fact that this answer is.
    pub fn fact_of_answer(&self, step: &Step, item: Option<&Item>, answer: &Answer) -> Fact {
        let label = Self::label(step, item.map(|i| i.name.as_str()), &self.texts.language);
        let unknown = |why: &str| Fact::Unknown(format!("{label}: {why}"));
        if let Some(at) = &answer.at {
            let late = time::seconds(&answer.stamp.time) - time::seconds(at);
            if late > LATE_AFTER {
                return unknown(say!("entered late; a late answer opens nothing"));
            }
            if late < -LATE_AFTER {
                return unknown(say!("entered before it is said to have happened; it opens nothing"));
            }
        }
        let value = answer.value.as_deref().unwrap_or_default();
        let is = |value: Value, shown: String| Fact::Is { value, shown, label: label.clone() };
        match step.kind() {
            StepKind::Confirm => is(Value::Bool(value == "yes"), recorded(value)),
            StepKind::Choice(_) => {
                let words = choice_words(step, value, &self.texts.language)
                    .unwrap_or_else(|| value.replace('_', " "));
                is(Value::Choice(value.to_owned()), words)
            }
            StepKind::Date => match value.parse::<Date>() {
                Ok(d) => is(Value::Date(d), value.to_owned()),
                Err(_) => unknown(say!("the record holds no date")),
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
                    None => unknown(say!("the record holds no number")),
                }
            }
            StepKind::Derived(_) => match self.derive(step, item) {
                Ok((again, shown)) if again == value => match self.derived_value(step, value) {
                    Some(v) => is(v, shown),
                    None => unknown(say!("the record holds no value")),
                },
                Ok((again, _)) => {
                    unknown(&say!("was {value}, worked out again it is {again}; take it again", value, again))
                }
                Err(why) => unknown(&why),
            },
            StepKind::Timed(_) => match self.waited(step, item.map(|i| i.id.as_str())) {
                Some(seconds) => is(
                    Value::Quantity(Quantity {
                        value: BigRational::from_integer(seconds.into()),
                        dimension: Dimension::Duration,
                    }),
                    say!("{min} min {s} s", min = seconds / 60, s = seconds % 60),
                ),
                None => unknown(say!("begun, not done yet")),
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
        let StepKind::Derived(d) = step.kind() else {
            return Err(say!("this step is not worked out").into());
        };
        let value = d.expression().compute(&self.asker(step, item)).map_err(|all| all.join("; "))?;
        match (value, d.form()) {
            (Value::Quantity(q), Some(form)) => {
                let exact = match form.unit() {
                    Some(u) => q.in_unit(u).ok_or(say!("the unit does not fit what was worked out"))?,
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
            ) => Err(say!("what was worked out has no form to be kept in").into()),
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
                quantity(&d.to_string(), unit).ok_or(say!("the limit is no number").into())
            }
            crate::checklist::Limit::Named(e) => match e.compute(&self.asker(step, item)) {
                Ok(Value::Quantity(q)) => Ok(q),
                Ok(_) => Err(say!("the limit is no quantity").into()),
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
fn choice_words(step: &Step, id: &str, language: &str) -> Option<String> {
    let (_, words) = step.choices().iter().find(|(c, _)| c == id)?;
    Some(format!("\"{}\"", words.get(language)))
}

/// An answer as it was given, for people; the same whenever it is asked.
pub fn found(step: &Step, a: &Answer, language: &str) -> String {
    let value = a.value.as_deref().unwrap_or_default();
    if let Some((_, words)) = step.choices().iter().find(|(c, _)| c == value) {
        return words.get(language).to_owned();
    }
    if matches!(step.kind(), StepKind::Confirm | StepKind::Timed(_)) {
        return recorded(value);
    }
    let below = if a.below { "< " } else { "" };
    let unit = match step.kind() {
        StepKind::Derived(d) => d.form().and_then(|f| f.unit()).map(Unit::symbol),
        StepKind::Confirm
        | StepKind::Choice(_)
        | StepKind::Reading(_)
        | StepKind::Date
        | StepKind::Text
        | StepKind::Timed(_) => a.unit.as_deref(),
    };
    format!("{below}{value}{}", unit.map(|u| format!(" {u}")).unwrap_or_default())
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
