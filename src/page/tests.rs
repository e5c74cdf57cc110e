//! Tests of the page without sockets.
#![allow(clippy::unwrap_used, clippy::panic)]
