//! The words of the command line for an auditor: registers, what stands outside, where the report goes.

use super::{RosterArgs, TrustArgs};
use clap::Args as ClapArgs;
use std::path::PathBuf;

/// An audit.
#[derive(Debug, ClapArgs)]
pub struct Audit {
    /// Folders of registers, or volumes; copies of one register are held against each other
    #[arg(required = true, value_name = "DIR")]
    pub registers: Vec<PathBuf>,
    #[command(flatten)]
    /// Whom to trust
    pub trust: TrustArgs,
    #[command(flatten)]
    /// Later rosters
    pub rosters: RosterArgs,
    #[command(flatten)]
    /// What stands outside
    pub anchors: AnchorArgs,
    /// Write the report as one page that stands by itself
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}

/// What stands outside a register and speaks for it.
#[derive(Clone, Debug, Default, ClapArgs)]
pub struct AnchorArgs {
    /// Token of a printed permit as it is typed or scanned, or a file or picture of it; may stand several times
    #[arg(long = "token", value_name = "TOKEN")]
    pub tokens: Vec<String>,
    /// A permit's PDF, or an excerpt, that was kept elsewhere; may stand several times
    #[arg(long = "paper", value_name = "FILE")]
    pub papers: Vec<PathBuf>,
    /// Heads that were copied by hand, one a line: time (UTC), log, line and head in any order; may stand several times
    #[arg(long = "heads", value_name = "FILE")]
    pub heads: Vec<PathBuf>,
    /// Another station's register that read this one (`airwrit witness`); may stand several times
    #[arg(long = "witness", value_name = "DIR")]
    pub witnesses: Vec<PathBuf>,
}

impl AnchorArgs {
    /// Whether anything was given.
    pub fn any(&self) -> bool {
        !(self.tokens.is_empty()
            && self.papers.is_empty()
            && self.heads.is_empty()
            && self.witnesses.is_empty())
    }
}
