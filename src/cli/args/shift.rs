//! The words of the command line for what goes on over shifts, stations and permits.

use super::{ToldArgs, TrustArgs, Who};
use clap::Args as ClapArgs;
use std::path::PathBuf;

/// Carrying answers.
#[derive(Debug, ClapArgs)]
pub struct Carry {
    /// Permit number
    pub permit: String,
    /// This step only
    #[arg(long)]
    pub step: Option<String>,
    /// Of that step, this item only
    #[arg(long, requires = "step")]
    pub item: Option<String>,
    /// Show what could be carried, and carry nothing
    #[arg(long)]
    pub show: bool,
    /// Who carries; default: the holder
    #[arg(long, value_name = "ID")]
    pub by: Option<String>,
}

/// A later end.
#[derive(Debug, ClapArgs)]
pub struct Extend {
    /// Permit number
    pub permit: String,
    /// What is asked for, or that it is given
    #[command(flatten)]
    pub later: LaterArgs,
    /// Who signs
    #[command(flatten)]
    pub who: Who,
}

/// What is asked for, or that it is given.
#[derive(Clone, Debug, ClapArgs)]
pub struct LaterArgs {
    /// The end of the work, site time: the holder asks
    #[arg(long, value_name = "HH:MM", required_unless_present = "give", requires = "reason")]
    pub until: Option<String>,
    /// Why it takes longer
    #[arg(long, requires = "until")]
    pub reason: Option<String>,
    /// An entry or work permit that now ends later, by its id in the job, and when; for each of several
    #[arg(long, value_name = "ID=HH:MM", requires = "until")]
    pub entry_permit: Vec<String>,
    /// A supervisor gives what the holder asked for
    #[arg(long, conflicts_with = "until")]
    pub give: bool,
}

/// Handing over.
#[derive(Debug, ClapArgs)]
pub struct HandOver {
    /// Permit number
    pub permit: String,
    /// What is handed over, and how
    #[command(flatten)]
    pub handing: HandingArgs,
    /// Who signs
    #[command(flatten)]
    pub who: Who,
}

/// What the outgoing holder says.
#[derive(Clone, Debug, ClapArgs)]
pub struct HandingArgs {
    /// Who takes it: an operator of the roster
    #[arg(long, value_name = "ID")]
    pub to: String,
    /// The next shift takes it: it may then run until that shift ends, and what was good for the shift is asked again
    #[arg(long)]
    pub shift: bool,
    /// Looked at together; for each
    #[arg(long, value_name = "WHAT", value_parser = ["wind", "warnings", "fuel"])]
    pub checked: Vec<String>,
    /// What was unusual, or that nothing was
    #[arg(long, value_name = "WORDS")]
    pub unusual: String,
    /// Why people stay on air meanwhile; else everyone is off
    #[arg(long, value_name = "WHY")]
    pub staying: Option<String>,
}

/// Reading another station's register.
#[derive(Debug, ClapArgs)]
pub struct Witness {
    /// The other register's folder
    pub other: PathBuf,
    /// The set to look for in it
    #[arg(long)]
    pub set: String,
    /// Bring its last test of this set's air here
    #[arg(long)]
    pub air_test: bool,
    /// Whom to trust; default: the custodians of this register's roster
    #[command(flatten)]
    pub trust: TrustArgs,
    /// Who reads it
    #[arg(long, value_name = "ID")]
    pub by: Option<String>,
}

/// A set comes or goes.
#[derive(Clone, Debug, ClapArgs)]
pub struct Comes {
    /// Set id
    pub set: String,
    /// Where from or to
    #[arg(long)]
    pub words: Option<String>,
    /// Told later
    #[command(flatten)]
    pub told: ToldArgs,
}
