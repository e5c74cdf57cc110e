//! The texts of a permit, read once for as long as nothing changes that they are made of.
//!
//! Always: read from the register, by the hashes that the permit cites. Kept for this replay alone.

use crate::permit::bench::Texts;
use crate::permit::decide::Known;
use crate::permit::state::Permit;
use crate::record::json::Json;
use crate::tongue::Tongue;
use foldhash::HashMap;
use std::rc::Rc;

struct Kept {
    job: Json,
    roster: String,
    shutdown: Option<String>,
    epoch: u64,
    asked: Option<Tongue>,
    texts: Result<Rc<Texts>, String>,
}

/// At most so many permits at once.
const MOST: usize = 64;

/// Texts by permit.
#[derive(Default)]
pub struct Shelf {
    kept: HashMap<String, Kept>,
    /// Texts that were put in force so far.
    pub epoch: u64,
}

impl Shelf {
    /// The texts kept of a permit, if these are they.
    pub fn these(&self, permit: &Permit, texts: &Texts) -> Option<Rc<Texts>> {
        let kept = self.kept.get(&permit.number)?.texts.as_ref().ok()?;
        std::ptr::eq(&raw const **kept, texts).then(|| Rc::clone(kept))
    }

    /// The texts of a permit as it stands.
    pub fn of(&mut self, known: &Known<'_>, permit: &Permit) -> Result<Rc<Texts>, String> {
        let roster = known.chain.origin.roster.hash();
        let same = |k: &&Kept| {
            let file = k.epoch == self.epoch && k.roster == roster;
            file && k.asked == Tongue::asked() && k.job == permit.job
        };
        let texts = match self.kept.get(&permit.number).filter(same) {
            Some(k) if k.shutdown == permit.shutdown_form => return k.texts.clone(),
            Some(Kept { texts: Ok(texts), .. }) => texts.on_its_shutdown(known.chain, permit),
            Some(_) | None => Texts::of(known.chain, permit),
        };
        let texts = texts.map(Rc::new);
        if self.kept.len() >= MOST {
            self.kept.clear();
        }
        self.kept.insert(
            permit.number.clone(),
            Kept {
                job: permit.job.clone(),
                roster: roster.to_owned(),
                shutdown: permit.shutdown_form.clone(),
                epoch: self.epoch,
                asked: Tongue::asked(),
                texts: texts.clone(),
            },
        );
        texts
    }
}
