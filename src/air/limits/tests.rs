//! Profiles that ship and profiles that must not be read; tests of the air that pass, fail and cannot be told.
#![allow(clippy::unwrap_used, clippy::panic)]
