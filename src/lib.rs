//! airwrit: pre-use and shutdown checklists with gated steps and signed permits for mobile
//! breathing-air compressor sets.
//!
//! The register is the truth; everything else is worked out from it. Data flows one way: the shell
//! (`world`, `disk`) reads bytes and one `now`; pure code reads, knows, judges and makes one line;
//! people and station seal it; the shell keeps it; faces show it. DEVELOPERS.md has the map.

pub mod actions;
pub mod air;
pub mod audit;
pub mod checklist;
pub mod cli;
pub mod disk;
pub mod finding;
pub mod gate;
pub mod lint;
pub mod page;
pub mod paper;
pub mod permit;
pub mod plan;
pub mod record;
pub mod replay;
pub mod report;
pub mod show;
pub mod site;
pub mod source;
pub mod text;
pub mod time;
pub mod tongue;
pub mod trust;
pub mod units;
pub mod view;
pub mod words;
pub mod world;
