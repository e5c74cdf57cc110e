//! The integration tests: one binary, one module per subject. They use the library as a program would,
//! with a fixed clock, fixed randomness and storage in memory.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

mod audit;
mod developers;
mod opening;
mod permit;
mod readme;
mod register;
mod support;
