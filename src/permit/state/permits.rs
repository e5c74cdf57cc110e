//! Every permit by its number; a copy of all of them shares those that do not change.
//!
//! Always: like a map in the order of the numbers. Copied is only a permit that is changed while somebody else holds it.

use super::Permit;
use std::borrow::Borrow;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Permits.
#[derive(Clone, Debug, Default)]
pub struct Permits(BTreeMap<String, Arc<Permit>>);

impl Permits {
    /// One of them.
    pub fn get<Q: ?Sized + Ord>(&self, number: &Q) -> Option<&Permit>
    where
        String: Borrow<Q>,
    {
        self.0.get(number).map(AsRef::as_ref)
    }

    /// One of them, to be changed.
    pub fn get_mut(&mut self, number: &str) -> Option<&mut Permit> {
        self.0.get_mut(number).map(Arc::make_mut)
    }

    /// Changes those of which something is true.
    pub fn change(&mut self, which: impl Fn(&Permit) -> bool, mut change: impl FnMut(&mut Permit)) {
        for p in self.0.values_mut().filter(|p| which(p)) {
            change(Arc::make_mut(p));
        }
    }

    /// Takes one in.
    pub fn insert(&mut self, number: String, permit: Permit) {
        self.0.insert(number, Arc::new(permit));
    }

    /// Takes one out.
    pub fn remove(&mut self, number: &str) -> Option<Arc<Permit>> {
        self.0.remove(number)
    }

    /// Whether there is one.
    pub fn contains_key<Q: ?Sized + Ord>(&self, number: &Q) -> bool
    where
        String: Borrow<Q>,
    {
        self.0.contains_key(number)
    }

    /// All of them, by number.
    pub fn values(&self) -> impl DoubleEndedIterator<Item = &Permit> + ExactSizeIterator + Clone {
        self.0.values().map(AsRef::as_ref)
    }

    /// Their numbers.
    pub fn keys(&self) -> impl DoubleEndedIterator<Item = &String> + ExactSizeIterator + Clone {
        self.0.keys()
    }

    /// Forgets all of them.
    pub fn clear(&mut self) {
        self.0.clear();
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// True if there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<Q: ?Sized + Ord> std::ops::Index<&Q> for Permits
where
    String: Borrow<Q>,
{
    type Output = Permit;

    fn index(&self, number: &Q) -> &Permit {
        &self.0[number]
    }
}
