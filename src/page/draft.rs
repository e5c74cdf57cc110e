//! The form of a permit that is not opened yet, as it was typed last: whoever comes back to it, from another screen or by the
//! browser's own keys, finds it filled in.
//!
//! Always: one of them, no larger than a body may be, in memory only, without a secret; gone once its permit is opened or
//! somebody begins afresh. Not here: what is wrong in it.

use super::form::Form;
use super::hand::Told;
use std::sync::{Mutex, PoisonError};

/// It.
#[derive(Default)]
pub struct Draft(Mutex<Kept>);

#[derive(Default)]
struct Kept {
    typed: Option<Form>,
    told: Option<Told>,
    /// Word of the form that is over: what its screen still sends while it is left is not kept.
    over: String,
}

/// Names by which an address asks for a form of another kind.
const OF_ADDRESS: [&str; 4] = ["follows", "shutdown", "like", "set"];

impl Draft {
    fn kept(&self) -> std::sync::MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// As it was sent, with what was said of it.
    pub fn keep(&self, form: &Form, told: Option<Told>) {
        let mut kept = self.kept();
        kept.typed = Some(form.typed());
        kept.told = told;
    }

    /// As it stands while it is filled in: what was said of the one that was sent is still to be mended.
    pub fn typing(&self, form: &Form) {
        let mut kept = self.kept();
        if kept.over == form.text("once") {
            return;
        }
        let mut typed = form.typed();
        if let Some(sent) = kept.typed.as_ref().and_then(|f| f.some("what_now")) {
            typed.put("what_now", sent);
        }
        kept.typed = Some(typed);
    }

    /// Its permit is opened, or it is begun afresh.
    pub fn over(&self, form: &Form) {
        *self.kept() = Kept { over: form.text("once").to_owned(), ..Kept::default() };
    }

    /// The one that an address asks for.
    pub fn of(&self, asked: &Form) -> Option<(Form, Option<Told>)> {
        let kept = self.kept();
        let typed = kept.typed.as_ref()?;
        let same = |name: &str| asked.some(name).is_none_or(|a| a == typed.text(name));
        OF_ADDRESS.iter().all(|name| same(name)).then(|| (typed.clone(), kept.told.clone()))
    }
}
