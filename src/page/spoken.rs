//! In which language a request is answered: the one that somebody chose on the page, else the site's.
//!
//! Always: it is bound only while a piece of the answer is being made, so that requests that take turns on one thread do not
//! speak each other's. Not here: words (`tongue`).

use crate::tongue::Tongue;
use std::future::{Future, poll_fn};
use std::pin::pin;

/// A language, and whether somebody asked for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spoken {
    /// Chosen on the page.
    pub asked: Option<Tongue>,
    /// The site's.
    pub site: Tongue,
}

impl Spoken {
    /// What is bound here.
    pub fn now() -> Spoken {
        Spoken { asked: Tongue::asked(), site: Tongue::now() }
    }

    /// Binds it for the length of `work`.
    pub fn within<T>(self, work: impl FnOnce() -> T) -> T {
        match self.asked {
            Some(tongue) => tongue.within_asked(work),
            None => self.site.within(work),
        }
    }

    /// Binds it whenever the answer is gone on with.
    pub async fn answer<F: Future>(self, answer: F) -> F::Output {
        let mut answer = pin!(answer);
        poll_fn(|context| self.within(|| answer.as_mut().poll(context))).await
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::future::ready;

    #[test]
    fn answers_that_take_turns_keep_their_language() {
        let of = |asked| Spoken { asked, site: Tongue::Ukrainian };
        let answer = |spoken: Spoken| {
            spoken.answer(async {
                let before = (Tongue::now(), Tongue::asked());
                tokio::task::yield_now().await;
                ready(()).await;
                (before, (Tongue::now(), Tongue::asked()))
            })
        };
        let both = async {
            futures_util::future::join3(answer(of(Some(Tongue::Polish))), answer(of(None)), async {
                Tongue::now()
            })
            .await
        };
        let runtime = tokio::runtime::Builder::new_current_thread().build();
        let (polish, ukrainian, none) = runtime.unwrap().block_on(both);
        let polish_asked = (Tongue::Polish, Some(Tongue::Polish));
        assert_eq!(polish, (polish_asked, polish_asked));
        assert_eq!(ukrainian, ((Tongue::Ukrainian, None), (Tongue::Ukrainian, None)));
        assert_eq!(none, Tongue::English);
    }
}
