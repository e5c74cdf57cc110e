//! The first and the last few lines of many: what a count leads to.

use super::At;
use serde::Serialize;

/// So many at either end.
const FEW: usize = 3;

/// The ends of a list of lines.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Ends {
    /// The first few.
    pub first: Vec<At>,
    /// The last few of those after them.
    pub last: Vec<At>,
    /// So many stand between.
    pub between: u64,
}

impl Ends {
    /// One more, after all before it.
    pub fn push(&mut self, at: At) {
        if self.first.len() < FEW {
            self.first.push(at);
            return;
        }
        if self.last.len() == FEW {
            self.last.remove(0);
            self.between += 1;
        }
        self.last.push(at);
    }
}

impl FromIterator<At> for Ends {
    fn from_iter<I: IntoIterator<Item = At>>(all: I) -> Ends {
        let mut out = Ends::default();
        all.into_iter().for_each(|at| out.push(at));
        out
    }
}
