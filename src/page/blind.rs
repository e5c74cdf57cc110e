//! Gauges that a supervisor is still to read without having seen what the operator read: their values stand on no screen of
//! the permit until then.
//!
//! Always: the register and the paper of an issued permit say what they say; this is of the page, while a permit is declared and
//! nobody has decided. What was read again and did not agree is known, and is not held back. Not here: which gauges are drawn.

use crate::permit::decide::Known;
use crate::permit::decide::sign::{disagreements, drawn};
use crate::permit::state::Permit;
use crate::record::line::Line;
use crate::tongue::say;
use crate::view::StateWord;
use minijinja::Value;
use minijinja::value::Serde;
use serde::Serialize;
use serde_json::Value as Tree;

/// What is held back of a permit.
pub struct Blind {
    /// What the gauges are called.
    pub gauges: Vec<String>,
    /// Their readings, as they stand in words.
    readings: Vec<String>,
    /// The same as lines of the register hold them: of which permit, the value alone.
    values: Vec<(String, String)>,
}

impl Blind {
    /// Of a permit as it stands: nothing but between its declaration and the decision on it.
    pub fn of(known: &Known<'_>, permit: &Permit) -> Blind {
        let mut blind = Blind { gauges: Vec::new(), readings: Vec::new(), values: Vec::new() };
        let declared = permit.last_signed("declare").map_or(0, |s| s.stamp.seq);
        let decided = disagreements(permit).iter().any(|d| d.stamp.seq > declared);
        if known.life(permit) != StateWord::Declared || decided {
            return blind;
        }
        let Ok(texts) = known.texts(permit) else { return blind };
        for gauge in drawn(known, permit, &texts) {
            let of = permit
                .answers
                .iter()
                .filter(|a| a.step == gauge.step && a.item.as_deref() == gauge.item.as_deref());
            for value in of.filter_map(|a| a.value.as_ref()) {
                blind.readings.push(format!("{value} {}", gauge.unit).trim().to_owned());
                blind.values.push((permit.number.clone(), value.to_string()));
            }
            blind.gauges.push(gauge.label);
        }
        blind
    }

    /// Of every permit that a register holds.
    pub fn of_all(known: &Known<'_>) -> Blind {
        let mut all = Blind { gauges: Vec::new(), readings: Vec::new(), values: Vec::new() };
        for of in known.state.permits.open().map(|p| Blind::of(known, p)) {
            all.gauges.extend(of.gauges);
            all.readings.extend(of.readings);
            all.values.extend(of.values);
        }
        all
    }

    /// Whether a line of the register tells one of them.
    pub fn tells(&self, line: &Line) -> bool {
        let raw = String::from_utf8_lossy(&line.raw);
        let of_it = |(number, _): &&(String, String)| line.permit.as_deref() == Some(number);
        let mut values = self.values.iter().filter(of_it);
        values.any(|(_, value)| raw.contains(&format!("\"{value}\""))) || self.words(&raw) != raw
    }

    /// Whether nothing is.
    pub fn is_empty(&self) -> bool {
        self.gauges.is_empty()
    }

    /// Values for a template without the readings.
    pub fn shown(&self, view: &impl Serialize) -> Value {
        if self.is_empty() {
            return Value::from(Serde(view));
        }
        match serde_json::to_value(view) {
            Ok(mut tree) => {
                self.hide(&mut tree);
                Value::from(Serde(&tree))
            }
            // Better no screen than one that tells them.
            Err(_) => Value::UNDEFINED,
        }
    }

    fn hide(&self, tree: &mut Tree) {
        match tree {
            Tree::String(text) => *text = self.words(text),
            Tree::Array(all) => all.iter_mut().for_each(|t| self.hide(t)),
            Tree::Object(all) => all.values_mut().for_each(|t| self.hide(t)),
            Tree::Null | Tree::Bool(_) | Tree::Number(_) => {}
        }
    }

    /// Words without the readings.
    pub fn words(&self, text: &str) -> String {
        self.readings.iter().fold(text.to_owned(), |text, reading| without(&text, reading))
    }
}

/// Where a reading stands as a number of its own.
fn without(text: &str, reading: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(reading) {
        let (before, from) = rest.split_at(at);
        let after = from.get(reading.len()..).unwrap_or_default();
        out.push_str(before);
        let part = out.ends_with(|c: char| c.is_ascii_digit() || c == '.')
            || after.starts_with(|c: char| c.is_alphanumeric());
        out.push_str(if part { reading } else { say!("(held back)") });
        rest = after;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::without;

    #[test]
    fn a_reading_is_held_back_and_no_longer_number_is_cut() {
        assert_eq!(without("218 bar at 07:00; 218 bar", "218 bar"), "(held back) at 07:00; (held back)");
        assert_eq!(without("1218 bar, 2.218 bar, 218 barg", "218 bar"), "1218 bar, 2.218 bar, 218 barg");
    }
}
