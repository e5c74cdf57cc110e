//! The command line, driven as people drive it: what it says, where it says it, and its exit code.

mod air;
mod beside;
mod card;
mod clock;
mod custody;
mod demo;
mod doctor;
mod elsewhere;
mod help;
mod lifecycle;
mod looking;
mod planning;
mod rosters;
mod round;
mod spoken;
mod trouble;
mod volumes;
mod walking;
