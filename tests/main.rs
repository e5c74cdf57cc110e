//! The integration tests: one binary, one module per subject. They use the library as a program would,
//! with a fixed clock, fixed randomness and storage in memory.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods, missing_docs)]

mod air;
mod aside;
mod at_hand;
mod audit;
mod bounded;
mod cli;
mod corpus;
mod developers;
mod elsewhere;
mod house;
mod inquiry;
mod keys;
mod opening;
mod permit;
mod readme;
mod references;
mod register;
mod replay;
mod report;
mod rosters;
mod sectors;
mod since;
mod strict;
mod supply;
mod support;
mod tongues;
mod volumes;
