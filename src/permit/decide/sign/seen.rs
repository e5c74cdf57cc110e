//! What the supervisor reads again at the gauge before issuing: two life-critical readings, drawn by the declaration,
//! read without looking at what the operator read, and compared.
//!
//! Always: drawn from the declaration's hash alone, so that nobody chooses them and preparing again draws the same; a
//! refusal does not tell the operator's reading.

use crate::checklist::{Step, StepKind};
use crate::gate::Verdict;
use crate::permit::bench::{Bench, Texts, quantity};
use crate::permit::decide::Known;
use crate::permit::state::{Answer, Permit, Stamp, key};
use crate::permit::walk::{self, Stand};
use crate::record::json::{Json, sorted};
use crate::tongue::say;
use crate::units::{Decimal, Dimension};
use crate::view::Standing;
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::Signed;

/// How a refusal that is kept says that the two readings do not agree, after what the gauge is called: it is looked for.
/// Whatever language the refusal was shown in, this is kept in English ([`in_english`]).
const DIFFERS: &str = " was read again, and what was read is not what was declared (";
/// What stands behind the two readings there.
const BY_SUPERVISOR: &str = " by the supervisor)";
/// So many are drawn.
const DRAWN: usize = 2;

/// A reading as the supervisor took it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// Step.
    pub step: String,
    /// Item.
    pub item: Option<String>,
    /// As read, a decimal.
    pub value: String,
    /// Unit.
    pub unit: String,
}

impl Seen {
    /// As the data of an act holds them.
    pub fn of(data: &Json) -> Vec<Seen> {
        let Some(Json::Arr(all)) = data.get("seen") else { return Vec::new() };
        let text = |j: &Json, name: &str| j.text(name).unwrap_or_default().to_owned();
        let one = |j: &Json| Seen {
            step: text(j, "step"),
            item: j.text("item").map(str::to_owned),
            value: text(j, "value"),
            unit: text(j, "unit"),
        };
        all.iter().map(one).collect()
    }

    /// `step` or `step/item`.
    pub fn key(&self) -> String {
        key(&self.step, self.item.as_deref())
    }

    /// For the data of an act.
    pub fn json(&self) -> Json {
        let mut members = vec![
            ("step".to_owned(), Json::from(self.step.as_str())),
            ("unit".to_owned(), self.unit.as_str().into()),
            ("value".to_owned(), self.value.as_str().into()),
        ];
        if let Some(item) = &self.item {
            members.push(("item".to_owned(), item.as_str().into()));
        }
        sorted(members)
    }
}

/// A reading that is to be taken again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawn {
    /// Step.
    pub step: String,
    /// Item.
    pub item: Option<String>,
    /// What it is called.
    pub label: String,
    /// What is asked.
    pub ask: String,
    /// Unit.
    pub unit: String,
}

impl Drawn {
    /// `step` or `step/item`.
    pub fn key(&self) -> String {
        key(&self.step, self.item.as_deref())
    }
}

/// The readings drawn for a permit that was declared; none where its form has none that can be read again.
pub fn drawn(known: &Known<'_>, permit: &Permit, texts: &Texts) -> Vec<Drawn> {
    let bench = known.bench(permit, texts);
    drawn_from(known, &bench, &walk::walk(&bench))
}

/// The same of a form that was walked already.
fn drawn_from(known: &Known<'_>, bench: &Bench<'_>, stands: &[Stand<'_>]) -> Vec<Drawn> {
    let Some((declared, _)) = known.chain.declared(&bench.permit.number) else { return Vec::new() };
    let of = |s: &Stand<'_>| Drawn {
        step: s.step.id().to_owned(),
        item: s.item_id().map(str::to_owned),
        label: s.label(),
        ask: bench.words(s.step.ask(), s.item.as_ref()),
        unit: unit_of(s.step),
    };
    let mut all: Vec<Drawn> = stands.iter().filter(|s| readable(s)).map(of).collect();
    let mut out = Vec::new();
    for i in 0..DRAWN {
        let part = declared.get(i * 15..i * 15 + 15).and_then(|h| u64::from_str_radix(h, 16).ok());
        if let (Some(part), false) = (part, all.is_empty()) {
            let at = usize::try_from(part % all.len() as u64).unwrap_or(0);
            out.push(all.remove(at));
        }
    }
    out
}

/// A life-critical gauge that still shows what it showed: read as a number, good only while it is fresh.
fn readable(s: &Stand<'_>) -> bool {
    let there =
        matches!(s.standing, Standing::Open | Standing::Waiting | Standing::Hold | Standing::Deviation);
    let last = s.answers.last().is_some_and(|a| a.value.is_some());
    let reading = matches!(s.step.kind(), StepKind::Reading(_));
    reading && s.step.critical() && s.step.fresh() && there && last && !s.of_wearer()
}

fn unit_of(step: &Step) -> String {
    match step.kind() {
        StepKind::Reading(i) => i.unit().map_or(String::new(), |u| u.symbol().to_owned()),
        StepKind::Confirm
        | StepKind::Choice(_)
        | StepKind::Date
        | StepKind::Text
        | StepKind::Derived(_)
        | StepKind::Timed(_) => String::new(),
    }
}

/// What is wrong with what was read again: not all of it, something else, not in its form, too far from the first
/// reading, or held by its gate. Empty if it is well.
pub fn against(known: &Known<'_>, permit: &Permit, texts: &Texts, seen: &[Seen]) -> Vec<String> {
    if let Some(differed) = differed(permit) {
        return vec![differed];
    }
    let bench = known.bench(permit, texts);
    let stands = walk::walk(&bench);
    let drawn = drawn_from(known, &bench, &stands);
    let mut why = Vec::new();
    for s in seen.iter().filter(|s| !drawn.iter().any(|d| d.key() == s.key())) {
        why.push(say!("`{key}` was not drawn to be read again", key = crate::text::safe_line(&s.key())));
    }
    for d in &drawn {
        let stand = stands.iter().find(|s| s.step.id() == d.step && s.item_id() == d.item.as_deref());
        match (seen.iter().find(|s| s.key() == d.key()), stand) {
            (None, _) | (_, None) => why.push(say!("{label} was not read again", label = d.label)),
            (Some(s), Some(stand)) => why.extend(differs(&bench, texts, stand, d, s)),
        }
    }
    why
}

/// Nobody guesses, and nobody passes over it: what did not agree once since the declaration is read by the operator
/// again, and declared again.
pub fn differed(permit: &Permit) -> Option<String> {
    let declared = permit.last_signed("declare").map_or(0, |s| s.stamp.seq);
    let differed = history(permit).iter().any(|d| d.stamp.seq > declared);
    differed.then(|| {
        say!(
            "a gauge was read again, and what was read is not what was declared before: the operator reads \
             it again (`airwrit answer {permit} STEP VALUE --again other`, which takes it back to a draft) \
             and declares again",
            permit = permit.number
        )
    })
}

/// A gauge that was read again at a countersignature and did not agree.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Disagreed {
    /// What the gauge is called.
    pub label: String,
    /// As the supervisor read it, with its unit.
    pub value: String,
    /// The refusal.
    pub stamp: Stamp,
}

impl Disagreed {
    fn read(why: &str, stamp: &Stamp) -> Option<Disagreed> {
        let (label, rest) = why.split_once(DIFFERS)?;
        let (value, _) = rest.split_once(BY_SUPERVISOR)?;
        Some(Disagreed { label: label.to_owned(), value: value.to_owned(), stamp: stamp.clone() })
    }

    /// For people, with its line.
    pub fn words(&self) -> String {
        say!(
            "{label} was read again, and what was read is not what was declared ({value} by the supervisor) \
             (line {line})",
            label = self.label,
            value = self.value,
            line = self.stamp.line
        )
    }
}

/// Whether a refusal of a countersignature says that two readings did not agree.
pub fn in_english(why: &str) -> bool {
    why.split_once(DIFFERS).is_some_and(|(_, rest)| rest.contains(BY_SUPERVISOR))
}

/// What did not agree on this permit, as the refusals that were kept say.
pub fn history(permit: &Permit) -> Vec<Disagreed> {
    let denied = permit.day.iter().filter(|h| h.kind == "denied");
    denied
        .flat_map(|h| h.data.texts("why").into_iter().filter_map(|w| Disagreed::read(w, &h.stamp)))
        .collect()
}

/// Gauges that did not agree and were not read by the operator since: each is answered again before it is declared.
pub fn unread(permit: &Permit, bench: &Bench<'_>) -> Vec<String> {
    let disagreed = history(permit);
    let mut out = Vec::new();
    if disagreed.is_empty() {
        return out;
    }
    for s in walk::walk(bench) {
        let label = s.label();
        let last = disagreed.iter().filter(|d| s.is_called(&d.label)).map(|d| d.stamp.seq).max();
        let answered = s.answers.last().map_or(0, |a| a.stamp.seq);
        if let Some(line) = last.filter(|seq| *seq > answered) {
            let item = s.item_id().map(|i| format!(" --item {i}")).unwrap_or_default();
            out.push(say!(
                "{label} was read again, and what was read is not what was declared, line {line}, and was \
                 not read again by the operator since: `airwrit answer {permit} {step} VALUE{item} --again \
                 other`",
                label,
                line,
                permit = permit.number,
                step = s.step.id(),
                item
            ));
        }
    }
    out
}

fn differs(bench: &Bench<'_>, texts: &Texts, stand: &Stand<'_>, d: &Drawn, seen: &Seen) -> Option<String> {
    let StepKind::Reading(instrument) = stand.step.kind() else { return None };
    let label = &d.label;
    let first = stand.answers.last()?;
    let read = match Decimal::read(&seen.value).and_then(|v| v.fits(instrument.decimals()).map(|()| v)) {
        Ok(v) if seen.unit == d.unit => v,
        Ok(_) => {
            return Some(say!(
                "{label} was read again in `{unit}`, wanted {wanted}",
                label,
                unit = seen.unit,
                wanted = d.unit
            ));
        }
        Err(e) => return Some(say!("{label}, read again: {why}", label, why = e)),
    };
    let unit = instrument.unit();
    let (Some(a), Some(b)) = (quantity(first.value.as_deref()?, unit), quantity(&read.to_string(), unit))
    else {
        return Some(say!("{label}: the record holds no number", label));
    };
    let tolerance = texts.site.quantity("reread_tolerance").map(|q| q.value.clone());
    let zero = || BigRational::from_integer(BigInt::from(0));
    // One mark of the instrument is no difference: two people read a needle between two marks.
    let mark = quantity(&smallest(instrument.decimals()), unit).zip(quantity("0", unit));
    let mark = mark.map_or_else(zero, |(one, none)| (one.value - none.value).abs());
    // A share of a temperature is nothing.
    let tolerance = tolerance.filter(|_| a.dimension != Dimension::Temperature).unwrap_or_else(zero);
    let most = (a.value.abs() * tolerance).max(mark);
    if (&a.value - &b.value).abs() > most {
        return Some(say!(
            "{label} was read again, and what was read is not what was declared ({value} {unit} by the \
             supervisor). The operator reads it again, with you, and declares again",
            label,
            value = seen.value,
            unit = seen.unit
        ));
    }
    let again = Answer { value: Some(read.to_string().into()), below: false, ..(*first).clone() };
    match walk::judge_answer(bench, stand.step, stand.item.as_ref(), &again) {
        Verdict::Open => None,
        Verdict::Shut(why) | Verdict::Unknown(why) => {
            Some(say!("{label}, as it was read again: {why}", label, why = why.join("; ")))
        }
    }
}

/// The smallest step of so many decimals.
fn smallest(decimals: u8) -> String {
    match decimals {
        0 => "1".to_owned(),
        n => format!("0.{}1", "0".repeat(usize::from(n) - 1)),
    }
}
