//! The arithmetic of breathing air: is it fit, is there enough, does it reach the mask, can the socket
//! carry the motor.
//!
//! In: quantities of one kind each ([`measure`]), already within what that kind can be. Out: quantities,
//! or [`Refused`], which names what was out of its range. Always: pure functions, no clock, file or
//! environment; never NaN or infinity; nothing is extrapolated beyond the range a function states.
//! Floats live only in here, through `libm`, so that every machine works out the same digits; results
//! leave through the gate language as decimals rounded to the safe side.
//! Not here: what the result must be (gates), where the figures come from (set and site files).

pub mod calendar;
pub mod demand;
pub mod gas;
pub mod hose;
pub mod limits;
pub mod measure;
pub mod moisture;
pub mod reserve;
pub mod siting;
pub mod supply;

use crate::tongue::say;
use std::fmt;

/// Why something was not worked out: which quantity, what it was, what is wanted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// Which quantity, in words: `the gas temperature`.
    pub what: &'static str,
    /// What it was, with its unit.
    pub got: String,
    /// What can be worked with: `from -20 °C to 50 °C`.
    pub wanted: String,
}

impl Refused {
    /// A refusal, in the words of its three parts.
    pub fn new(what: &'static str, got: impl Into<String>, wanted: impl Into<String>) -> Self {
        Refused { what, got: got.into(), wanted: wanted.into() }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, got, wanted) = (self.what, &self.got, &self.wanted);
        f.write_str(&say!("{what} is {got}; this can be worked out only {wanted}", what, got, wanted))
    }
}

impl std::error::Error for Refused {}
