//! Permits: what the register's lines make of them, what may be done next, and what is refused.
//!
//! In: checked lines (`record`), texts in force, one `now`. Out: state, standings of steps, one line to
//! write or a refusal. Always: state is folded from lines and nothing else; a request is decided by
//! pure functions; a report is never refused. Not here: bytes, seals, files, words on paper.

pub mod bench;
pub mod called;
pub mod copies;
pub mod decide;
pub mod due;
pub mod ends;
pub mod flags;
pub mod gone;
pub mod said;
pub mod since;
pub mod state;
pub mod texts;
pub mod valid;
pub mod walk;
pub mod watch;
