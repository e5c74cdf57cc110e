//! Gates that no answer can open, where that is easily proved.

use super::{Gate, Step};
use crate::source::{Findings, Node};

/// Finds a single comparison with a literal that no value between the instrument's limits meets.
pub(super) fn never_opens(_s: &Step, _gate: &Gate, _at: &Node, _out: &mut Findings) {}
