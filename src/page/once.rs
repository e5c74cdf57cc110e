//! A form that comes again is done once: what came of the first is the answer to all, and whoever comes while the first is
//! under way waits for it.
//!
//! Always: the place is taken before the work is queued and goes along with it, so that a browser that hangs up in between
//! leaves no room for a second. The same word with other fields, or under another address, is another request and is done.
//! What a fault or a refusal kept from being done, the next one tries. Not here: what a form asks.

use super::app::App;
use super::form::Form;
use super::guard::at_any_time;
use super::hand::{self, Hand, Told};
use crate::tongue::say;
use axum::http::Method;
use sha2::{Digest, Sha256};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use tokio::sync::OwnedMutexGuard;

/// What tells a request from every other one, nothing where its form names no word; and whose turn it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sent(Option<[u8; 32]>, hand::Turn);

impl Sent {
    /// Of a form, and of the file that it brings. A passphrase says nothing of what is asked, and nothing of it is kept; how
    /// long ago it was asked grows from one try to the next.
    pub fn of(address: &str, form: &Form, file: &[u8]) -> Sent {
        let turn = match address {
            "/call-out" => hand::Turn::First,
            _ if at_any_time(&Method::POST, address) => hand::Turn::Report,
            _ => hand::Turn::Other,
        };
        if form.text("once").is_empty() {
            return Sent(None, turn);
        }
        let mut digest = Sha256::new();
        let mut part = |bytes: &[u8]| {
            digest.update((bytes.len() as u64).to_be_bytes());
            digest.update(bytes);
        };
        part(address.as_bytes());
        part(file);
        for (name, value) in
            form.pairs().iter().filter(|(n, _)| !["t", "passphrase", "ago"].contains(&n.as_str()))
        {
            part(name.as_bytes());
            part(value.as_bytes());
        }
        Sent(Some(digest.finalize().into()), turn)
    }
}

/// Where what came of a request is put; whoever holds it is the only one at work on it.
type Place<T> = Arc<tokio::sync::Mutex<Option<T>>>;

/// The last requests, and what came of each.
pub struct Onces<T> {
    all: Mutex<VecDeque<([u8; 32], Place<T>)>>,
    most: usize,
}

/// Whose turn it is.
pub enum Turn<T> {
    /// Nobody else is at work on it.
    Mine(Kept<T>),
    /// It was done.
    Came(T),
}

/// The place of a request: the next one of its kind waits until it is given up.
pub struct Kept<T>(Option<OwnedMutexGuard<Option<T>>>);

impl<T> Kept<T> {
    /// Remembers what came of it.
    pub fn keep(&mut self, came: T) {
        if let Some(place) = &mut self.0 {
            **place = Some(came);
        }
    }
}

impl<T: Clone> Onces<T> {
    /// Remembers so many.
    pub fn new(most: usize) -> Onces<T> {
        Onces { all: Mutex::default(), most }
    }

    /// Waits for whoever is at work on the very same, and for nobody else.
    pub async fn turn(&self, sent: Sent) -> Turn<T> {
        let Some(place) = sent.0.and_then(|sent| self.place(sent)) else { return Turn::Mine(Kept(None)) };
        let place = place.lock_owned().await;
        match &*place {
            Some(came) => Turn::Came(came.clone()),
            None => Turn::Mine(Kept(Some(place))),
        }
    }

    /// Nothing where all that are remembered are under way: better done without a place than not at all.
    fn place(&self, sent: [u8; 32]) -> Option<Place<T>> {
        let mut all = self.all.lock().ok()?;
        if let Some((_, place)) = all.iter().find(|(s, _)| *s == sent) {
            return Some(place.clone());
        }
        if all.len() >= self.most {
            let over = all.iter().position(|(_, place)| Arc::strong_count(place) == 1)?;
            all.remove(over);
        }
        let place = Place::default();
        all.push_back((sent, place.clone()));
        Some(place)
    }
}

/// Does what a form asks, once.
pub async fn once(
    app: &App,
    form: Form,
    sent: Sent,
    work: impl FnOnce(&mut Hand, &Form) -> Told + Send + 'static,
) -> Option<Told> {
    let mut kept = match app.notices.once.turn(sent).await {
        Turn::Mine(kept) => kept,
        Turn::Came(mut before) => {
            before.err.push(say!("This was sent already; nothing was written twice.").into());
            return Some(before);
        }
    };
    let work = move |hand: &mut Hand| {
        let told = work(hand, &form);
        if told.done || told.aside {
            kept.keep(told.clone());
        }
        told
    };
    app.hands.ask_in(sent.1, work).await
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use futures_util::FutureExt;

    fn form(pairs: &[(&str, &str)]) -> Form {
        Form::of(pairs.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect())
    }

    fn sent(once: &str) -> Sent {
        Sent::of("/note", &form(&[("once", once)]), b"")
    }

    #[test]
    fn address_fields_and_file_tell_requests_apart_and_secrets_do_not() {
        let of = |address: &str, pairs: &[(&str, &str)], file: &[u8]| Sent::of(address, &form(pairs), file);
        let one = of("/note", &[("once", "1"), ("words", "ab"), ("by", "c")], b"");
        assert_eq!(
            one,
            of("/note", &[("t", "x"), ("once", "1"), ("words", "ab"), ("by", "c"), ("passphrase", "p")], b"")
        );
        for other in [
            of("/alarm", &[("once", "1"), ("words", "ab"), ("by", "c")], b""),
            of("/note", &[("once", "2"), ("words", "ab"), ("by", "c")], b""),
            of("/note", &[("once", "1"), ("words", "a"), ("by", "bc")], b""),
            of("/note", &[("once", "1"), ("words", "ab"), ("by", "c"), ("quick", "1")], b""),
            of("/note", &[("once", "1"), ("words", "ab"), ("by", "c")], b"f"),
        ] {
            assert_ne!(one, other);
        }
        assert_eq!(of("/note", &[("words", "ab")], b""), Sent(None, hand::Turn::Report));
    }

    #[test]
    fn they_are_bounded_and_none_that_is_under_way_is_forgotten() {
        let onces: Onces<u8> = Onces::new(3);
        let mut first = match onces.turn(sent("1")).now_or_never().unwrap() {
            Turn::Mine(kept) => kept,
            Turn::Came(_) => unreachable!(),
        };
        for other in ["2", "3", "4", "5"] {
            let Turn::Mine(mut kept) = onces.turn(sent(other)).now_or_never().unwrap() else {
                unreachable!()
            };
            kept.keep(9);
        }
        assert_eq!(onces.all.lock().unwrap().len(), 3);
        // Its twin waits, and nobody else does.
        assert!(onces.turn(sent("1")).now_or_never().is_none());
        assert!(matches!(onces.turn(sent("5")).now_or_never(), Some(Turn::Came(9))));
        first.keep(7);
        drop(first);
        assert!(matches!(onces.turn(sent("1")).now_or_never(), Some(Turn::Came(7))));
        // The oldest that is over is the one forgotten.
        assert!(matches!(onces.turn(sent("2")).now_or_never(), Some(Turn::Mine(_))));
    }
}
