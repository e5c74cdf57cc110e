//! What replay keeps from line to line for whoever decides: the texts of permits, and what was worked out on their forms.
//!
//! Always: what is handed out is what would be worked out once more (`walked`, `texts`). Tests replay without it and compare.

use super::texts::Shelf;
use super::walked::Walked;
use crate::permit::bench::{Bench, Memo, Texts};
use crate::permit::decide::{Known, Recall};
use crate::permit::state::Permit;
use std::cell::RefCell;
use std::rc::Rc;

/// Texts and what was worked out by them.
#[derive(Default)]
pub struct Recalled {
    pub(super) shelf: RefCell<Shelf>,
    /// Steps that are done, and facts.
    pub walked: RefCell<Walked>,
}

impl Recall for Recalled {
    fn texts(&self, known: &Known<'_>, permit: &Permit) -> Result<Rc<Texts>, String> {
        self.shelf.borrow_mut().of(known, permit)
    }

    fn memo(&self, bench: &Bench<'_>) -> Option<Rc<Memo>> {
        let texts = self.shelf.borrow().these(bench.permit, bench.texts)?;
        self.walked.borrow_mut().memo(bench, &texts)
    }
}
