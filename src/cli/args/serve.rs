//! The words of the command line for the page.

use clap::Args as ClapArgs;
use std::path::PathBuf;

/// Opening the page.
#[derive(Clone, Debug, ClapArgs)]
pub struct Serve {
    /// Port on this machine; 0 takes a free one. No other machine can reach it
    #[arg(long, default_value_t = 7431, value_name = "PORT")]
    pub port: u16,
    /// Folder of the private keys of those who sign here: ID.pem for each
    #[arg(long, default_value = "keys", value_name = "DIR")]
    pub keys: PathBuf,
    /// Whom the auditor's view trusts: a file of custodians' fingerprints, from outside
    #[arg(long, value_name = "FILE")]
    pub trust: Option<PathBuf>,
    /// An invented site to try everything on, kept in the folder demo-page/; its clock can be moved on and it can begin
    /// again. Nothing in it is real
    #[arg(long)]
    pub demo: bool,
    /// With --demo: the folder to keep it in
    #[arg(long, value_name = "DIR", requires = "demo", default_value = "demo-page")]
    pub into: PathBuf,
    /// Only see whether it would open here: take the port, read the register, draw the first screen, and end
    #[arg(long)]
    pub check: bool,
}
