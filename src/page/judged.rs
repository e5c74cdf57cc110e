//! What screens were judged from, remembered while it is what would be judged again: of one reading of the register, in one
//! second.
//!
//! Always: gauges are due, answers age and permits end at a second, so that nothing is believed in the next one; nor after
//! anything was read anew. Not here: whether something was appended (`hand`), judging.

use super::spoken::Spoken;
use minijinja::Value;
use std::collections::BTreeMap;

/// What it was judged from: which reading of the register, the second, the language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct From {
    /// Counted up with every reading.
    pub reading: u64,
    /// UTC second.
    pub second: i64,
    /// In which language.
    pub spoken: Spoken,
}

/// What was judged from one and the same.
#[derive(Default)]
pub struct Judged {
    from: Option<From>,
    all: BTreeMap<String, Value>,
}

impl Judged {
    /// What a name stands for, if it was judged from this.
    pub fn of(&self, from: From, name: &str) -> Option<Value> {
        self.all.get(name).filter(|_| self.from == Some(from)).cloned()
    }

    /// Keeps it; what was judged from anything else is forgotten.
    pub fn keep(&mut self, from: From, name: String, value: Value) {
        if self.from != Some(from) {
            self.all.clear();
            self.from = Some(from);
        }
        self.all.insert(name, value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tongue::Tongue;

    #[test]
    fn nothing_is_believed_of_another_reading_second_or_language() {
        let spoken = |asked, site| Spoken { asked, site };
        let from = From { reading: 1, second: 100, spoken: spoken(None, Tongue::English) };
        let others = [
            From { reading: 2, ..from },
            From { second: 101, ..from },
            From { second: 99, ..from },
            From { spoken: spoken(None, Tongue::Polish), ..from },
            From { spoken: spoken(Some(Tongue::English), Tongue::English), ..from },
        ];
        for other in others {
            let mut judged = Judged::default();
            judged.keep(from, "board".into(), Value::from(1));
            assert_eq!(judged.of(from, "board"), Some(Value::from(1)));
            assert_eq!((judged.of(from, "site"), judged.of(other, "board")), (None, None), "{other:?}");
            judged.keep(other, "site".into(), Value::from(2));
            assert_eq!(judged.of(from, "board"), None, "kept beside what was judged from {other:?}");
            assert_eq!(judged.of(other, "board"), None);
        }
    }
}
