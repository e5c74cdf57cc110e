//! Supply: ranges, defaults, properties.
#![allow(clippy::unwrap_used, clippy::panic)]
