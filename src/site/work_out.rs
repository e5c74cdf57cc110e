//! Values that no file gives: what a wearer's respirator, hose and escape set bring with them, sums.
//!
//! Always: an id that the site does not have is a finding; an escape set that a wearer does not carry
//! leaves its fields absent, hence unknown in a gate, never zero.

use super::fields::{LOOKED_UP, SUMMED};
use super::values::{Entry, Held, Values, Written};
use super::{Field, Holds};
use crate::tongue::say;
use crate::units::{Decimal, Quantity, Rounding};
use std::sync::Arc;

/// The lists of a job that hold persons.
const PERSONS: [&str; 2] = ["wearers", "rescuers"];
/// Looked up in the roster where the site's people do not have it.
const FROM_ROSTER: &str = "people";

impl Values {
    /// A job with everything worked out that its site file brings in. The names of persons whom only
    /// the roster knows are given by `name_of`.
    ///
    /// # Errors
    /// In words, every id that is found in no list.
    pub fn worked_out(
        &self,
        site: &Values,
        name_of: &dyn Fn(&str) -> Option<String>,
    ) -> Result<Values, Vec<String>> {
        let mut job = self.clone();
        let mut lacks = Vec::new();
        for entry in Arc::make_mut(&mut job.entries).iter_mut().filter(|e| PERSONS.contains(&e.field.name)) {
            if let (Held::Items(items), Holds::Items(table)) = (&mut entry.held, entry.field.holds) {
                for item in items {
                    look_up(item, table, site, name_of, &mut lacks);
                }
            }
        }
        for sum in SUMMED {
            if let Some(field) = self.table_field(sum.member)
                && let Some(total) = total(self, sum.of)
            {
                put(&mut job, field, Held::Quantity(total));
            }
        }
        if lacks.is_empty() { Ok(job) } else { Err(lacks) }
    }

    fn table_field(&self, name: &str) -> Option<&'static Field> {
        super::fields::JOB.iter().find(|f| f.name == name)
    }
}

fn put(values: &mut Values, field: &'static Field, held: Held) {
    let entries = Arc::make_mut(&mut values.entries);
    entries.retain(|e| e.field.name != field.name);
    entries.push(Entry { field, held, default: false });
}

fn look_up(
    item: &mut Values,
    table: &'static [Field],
    site: &Values,
    name_of: &dyn Fn(&str) -> Option<String>,
    lacks: &mut Vec<String>,
) {
    let who = item.id().to_owned();
    for l in LOOKED_UP {
        let (Some(field), Some(id)) =
            (table.iter().find(|f| f.name == l.member), item.text(l.by).map(str::to_owned))
        else {
            continue;
        };
        match site.item(l.list, &id) {
            Some(found) => {
                if let Some(held) = found.get(l.field) {
                    let held = held.clone();
                    put(item, field, held);
                }
            }
            None if l.list == FROM_ROSTER => match name_of(&id) {
                Some(name) => put(
                    item,
                    field,
                    Held::Words(crate::words::Words::one(crate::words::DEFAULT_LANGUAGE, &name)),
                ),
                // A name that is typed stands as its id.
                None => put(
                    item,
                    field,
                    Held::Words(crate::words::Words::one(crate::words::DEFAULT_LANGUAGE, &id)),
                ),
            },
            None => {
                let message = say!(
                    "`{who}` has the {what} `{id}`, which is not in site.{list}",
                    who,
                    what = l.by.replace('_', " "),
                    id,
                    list = l.list
                );
                if !lacks.contains(&message) {
                    lacks.push(message);
                }
            }
        }
    }
}

/// A sum of quantities, in the largest of their units: 7.5 min, not 450 s; `None` if one lacks.
fn total(values: &Values, of: &[&str]) -> Option<Written> {
    let mut sum: Option<Written> = None;
    for name in of {
        let Held::Quantity(w) = values.get(name)? else {
            return None;
        };
        sum = Some(match sum {
            None => w.clone(),
            Some(s) => {
                let quantity =
                    Quantity { value: s.quantity.value + &w.quantity.value, dimension: s.quantity.dimension };
                let one = num_rational::BigRational::from_integer(1.into());
                let unit = if w.unit.to_base(&one) > s.unit.to_base(&one) { w.unit } else { s.unit };
                Written { quantity, unit, ..s }
            }
        });
    }
    let sum = sum?;
    // Shown with the fewest decimals that are exact, else rounded up: a way out is never shown shorter.
    let value = sum.quantity.in_unit(sum.unit)?;
    let number = Decimal::exactly(&value).or_else(|| Decimal::round(&value, 1, Rounding::Up).ok())?;
    Some(Written { number, ..sum })
}
