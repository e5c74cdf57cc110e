//! The register: bytes of lines, the chain they make, the store that keeps them.
//!
//! In: bytes, a `Storage`, keys. Out: checked lines, and lines on disk. Alone knows `seq`, `prev`,
//! `next`. Always: a line that was acknowledged is never lost and never altered by this program.
//! Not here: what a line means for a permit (`permit`), whether a request is allowed (`permit`).

pub mod aside;
pub mod carried;
pub mod chain;
pub mod excerpt;
pub mod json;
pub mod kinds;
pub mod known;
pub mod line;
pub mod pour;
pub mod salvage;
pub mod store;
pub mod volumes;
