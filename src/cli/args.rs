//! The words of the command line. `--help` is made from here and nowhere else.

pub mod audit;
pub mod serve;
pub mod shift;

use audit::{AnchorArgs, Audit};
use clap::{Args as ClapArgs, Parser, Subcommand};
use std::path::PathBuf;

const AFTER: &str =
    "A record-keeping aid. It calls nobody and measures nothing by itself. Signal first, key second. \
An air permit permits no entry, hot work or opening of plant.

Exit codes: 0 yes or done, 1 the answer is no, 2 wrong command line, 3 could not, 4 broken, 5 unproven.";

/// Pre-use and shutdown checklists with signed permits for mobile breathing-air compressor sets.
#[derive(Debug, Parser)]
#[command(name = "airwrit", version, about, after_help = AFTER, max_term_width = 110)]
pub struct Args {
    /// Folder of the register
    #[arg(long, global = true, default_value = super::REGISTER, value_name = "DIR")]
    pub register: PathBuf,
    /// Folder of the seal key; default: the user's state folder, by log
    #[arg(long, global = true, value_name = "DIR")]
    pub seal: Option<PathBuf>,
    /// What day it is: asked for when the clock is a day or more after the last line
    #[arg(long, global = true, value_name = "YYYY-MM-DD")]
    pub today: Option<String>,
    /// Language of what is said: en, pl or uk; default: that of the site file last entered in the register
    #[arg(long, global = true, value_name = "TAG")]
    pub language: Option<String>,
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// Who signs.
#[derive(Clone, Debug, ClapArgs)]
pub struct Who {
    /// Person id on the roster
    #[arg(long, value_name = "ID")]
    pub by: String,
    /// Their encrypted private key; the passphrase is asked for
    #[arg(long, value_name = "FILE")]
    pub key: PathBuf,
}

/// When and by whom something is told late.
#[derive(Clone, Debug, Default, ClapArgs)]
pub struct ToldArgs {
    /// When it happened, site time, if not now
    #[arg(long, value_name = "HH:MM")]
    pub at: Option<String>,
    /// Who told it
    #[arg(long, value_name = "WHO")]
    pub told_by: Option<String>,
    /// Who enters it
    #[arg(long, value_name = "ID")]
    pub by: Option<String>,
}

/// A permit, or a set where there is none.
#[derive(Clone, Debug, ClapArgs)]
#[group(required = true, multiple = false)]
pub struct OnWhat {
    /// Permit number
    #[arg(value_name = "PERMIT")]
    pub permit: Option<String>,
    /// A set, where there is no permit
    #[arg(long, value_name = "SET")]
    pub set: Option<String>,
}

/// What is stopped: a permit, a set, or everything at work.
#[derive(Clone, Debug, ClapArgs)]
#[group(multiple = false)]
pub struct Stops {
    /// Permit number; default: everybody at work
    #[arg(value_name = "PERMIT")]
    pub permit: Option<String>,
    /// A set, where there is no permit
    #[arg(long, value_name = "SET")]
    pub set: Option<String>,
}

/// Commands, in the order of a day.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Play a day of an invented site through the real engine, verify it, damage copies
    Demo {
        /// Folder to leave it in
        #[arg(long, value_name = "DIR")]
        into: Option<PathBuf>,
        /// Instead of one day: a register of so many days, in volumes, to measure with
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=366))]
        days: Option<u32>,
        /// Permits on each of these days
        #[arg(long, value_name = "N", requires = "days", default_value_t = 2,
            value_parser = clap::value_parser!(u32).range(1..=2))]
        permits_per_day: u32,
    },
    /// Work out a job before anyone travels: is this set enough, what limits, what would change the answer
    Plan(Box<Plan>),
    /// Find everything wrong with checklists, set, site and job files
    Lint {
        /// Files
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Make and look at keys
    #[command(subcommand)]
    Key(KeyCommand),
    /// Check, compare and sign rosters, make the next version, put it in force
    #[command(subcommand)]
    Roster(RosterCommand),
    /// Begin a register at this station
    Enrol(Enrol),
    /// Put checklists, set and site files in force
    Approve {
        /// Files
        #[arg(required = true)]
        files: Vec<PathBuf>,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// Open a permit
    Open(Open),
    /// Replace the job of a permit; a declared one goes back to draft
    Job {
        /// Permit number
        permit: String,
        /// Job file
        #[arg(long, value_name = "FILE")]
        file: PathBuf,
        /// Who enters it
        #[arg(long, value_name = "ID")]
        by: Option<String>,
    },
    /// Lead through the steps: one at a time, what is left, why a gate is shut and how to open it
    Walk {
        /// Permit number; default: the one open permit
        permit: Option<String>,
        /// The shutdown form
        #[arg(long)]
        shutdown: bool,
        /// Who answers; default: the holder
        #[arg(long, value_name = "ID")]
        by: Option<String>,
    },
    /// Carry answers of another permit of this set that still hold: cited, not asked again
    Carry(shift::Carry),
    /// Answer one step
    Answer(Answer),
    /// The operator declares: everything was done and found as recorded
    Declare {
        /// Permit number
        permit: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// The supervisor issues what was declared
    Countersign(Countersign),
    /// The supervisor does not issue it
    Refuse {
        /// Permit number
        permit: String,
        /// Why
        #[arg(long)]
        reason: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// Put somebody on air, outside
    On(Tally),
    /// Let somebody in, on air
    In(Tally),
    /// Somebody came out, still on air
    Out(Tally),
    /// Somebody is off air: mask off in clean air
    Off(Tally),
    /// Record that everyone was called out. Signal first: the program calls nobody. Asks nothing
    #[command(aliases = ["callout", "call_out"])]
    CallOut(CallOut),
    /// Stop the work: anyone may
    Suspend {
        #[command(flatten)]
        /// Permit or set
        on: Stops,
        /// Why, in words; nobody has to give one
        #[arg(long)]
        reason: Option<String>,
        #[command(flatten)]
        /// Told later
        told: ToldArgs,
    },
    /// Record an alarm or event; it suspends
    Event {
        #[command(flatten)]
        /// Permit or set
        on: Stops,
        /// What happened: supply_low, change_over, reserve_low, co, temperature, oil, over_pressure, hose,
        /// respirator, wearer_silent, contact_lost, fire, hazard_released, wind_turned, ventilation_lost,
        /// attendant_unable, unknown_person, called, drill, false_alarm, other. Any other word is kept as `other`, with the word
        #[arg(long)]
        what: String,
        /// In words
        #[arg(long)]
        words: Option<String>,
        #[command(flatten)]
        /// Told later
        told: ToldArgs,
    },
    /// Everyone was called by name, by voice: who was found, and who is missing
    RollCall {
        #[command(flatten)]
        /// Permit or set
        on: OnWhat,
        /// Who was found; whoever is neither found nor missing is asked for by name
        #[arg(long, value_name = "PERSON")]
        found: Vec<String>,
        /// Who is missing; suspends
        #[arg(long, value_name = "PERSON")]
        missing: Vec<String>,
        #[command(flatten)]
        /// Told later
        told: ToldArgs,
    },
    /// Another person stands in as attendant or entry watch, the tally read back
    Relieve {
        /// Permit number
        permit: String,
        /// As what
        #[arg(long, value_name = "ROLE", value_parser = ["attendant", "entry_watch"])]
        role: String,
        /// Who stands in
        #[arg(long, value_name = "PERSON")]
        to: String,
        /// It has happened: write it whatever the rules say
        #[arg(long)]
        report: bool,
        #[command(flatten)]
        /// Told later
        told: ToldArgs,
    },
    /// Record what happened to a set: started, stopped, moved, plugged, filled, serviced, air-test; released, taken
    #[command(subcommand)]
    Set(SetCommand),
    /// Record a gauge read while watching
    Reading(Reading),
    /// Say what was meant; changes nothing
    Note {
        #[command(flatten)]
        /// Permit or set
        on: OnWhat,
        /// In words
        #[arg(long)]
        words: String,
    },
    /// Print a permit as PDF, numbered, and record where it hangs
    Print {
        /// Permit number
        permit: String,
        /// PDF file
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
        /// Where the copy will hang: recorded, and the copy is numbered
        #[arg(long, value_name = "WHERE")]
        hangs: Option<String>,
        /// US Letter instead of A4
        #[arg(long)]
        letter: bool,
    },
    /// Print the attendant's card, one page to go on by hand when this laptop is gone: whom to call, the order at each
    /// alarm, a tally, readings
    Card {
        /// Permit number
        #[arg(required_unless_present = "blank", conflicts_with = "blank")]
        permit: Option<String>,
        /// Without a permit, everything to be filled in by hand; needs no register
        #[arg(long, conflicts_with = "hangs")]
        blank: bool,
        /// PDF file
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
        /// Where the copy will hang: recorded, and the copy is numbered together with the permit's
        #[arg(long, value_name = "WHERE")]
        hangs: Option<String>,
        /// US Letter instead of A4
        #[arg(long)]
        letter: bool,
    },
    /// Record that a numbered copy was taken down
    TakenDown {
        /// Permit number
        permit: String,
        /// Copy number
        #[arg(long)]
        copy: u64,
    },
    /// The operator gives the permit back: after the shutdown, or leaving the set running
    HandBack {
        /// Permit number
        permit: String,
        #[command(flatten)]
        /// How
        how: HandingBack,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// The supervisor ends a permit that was handed back
    Close {
        /// Permit number
        permit: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// What suspended a permit is over: a supervisor lets people on this air again, after a roll call; the operator only
    /// after a drill or false alarm
    Reinstate {
        /// Permit number
        permit: String,
        /// What it was, and what was done
        #[arg(long)]
        cause: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// A later end: the holder asks for it, a supervisor gives it
    Extend(shift::Extend),
    /// The holder hands a permit over to another operator, who must take it over
    HandOver(shift::HandOver),
    /// Take over a permit that was handed over to you
    TakeOver {
        /// Permit number
        permit: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// Read another station's register: whether it holds this set too, and its last air test
    Witness(shift::Witness),
    /// The supervisor withdraws a permit; refused until nobody is on air on it
    Cancel {
        /// Permit number
        permit: String,
        /// Why
        #[arg(long)]
        reason: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// Sign on your own machine, on an excerpt; the act goes back to the station as a file or a QR code
    Sign(Box<SignElsewhere>),
    /// Take in at the station an act that was signed elsewhere
    TakeIn {
        /// The act's file, a picture of its QR code (PNG, JPEG), or - for a scanner that types
        file: PathBuf,
    },
    /// A supervisor says that this laptop's clock is right, where the last lines were written by a wrong
    /// one that was ahead; live permits are suspended
    Clock {
        /// What was wrong with it, and which other clock was looked at
        #[arg(long)]
        reason: String,
        #[command(flatten)]
        /// Who signs
        who: Who,
    },
    /// Open the page on this machine: the same engine in the browser, for gloves and touch
    Serve(serve::Serve),
    /// Everything at work now: who is on air, what sends them out, the last readings, whom to call
    Board {
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Show all permits, or one
    Show {
        /// Permit number, or the id of a set, a site or a checklist: who put which text in force, and what it changed
        permit: Option<String>,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Keep everything as it is after an event: the register, both verifiers and sums of all files in a new read-only
    /// folder; the head to copy by hand at once
    Freeze {
        /// Folder, new or empty
        #[arg(long, value_name = "FOLDER")]
        into: PathBuf,
    },
    /// Write one permit's lines and what they cite to a file that verifies alone
    Excerpt {
        /// Permit number
        permit: String,
        /// File
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
    },
    /// Verify a register or an excerpt from its bytes
    Verify(Verify),
    /// Audit registers: verify, judge every line again by the rules, hold them against what stands outside, and report
    #[command(
        after_help = "Exit codes: 0 sound and nothing known against what happened; 1 lines not kept by their rules, somebody never told out, \
                      anything else known against it or not told of, something given beside it that cannot be as it is; 3 could not be read; \
                      4 broken, or another history elsewhere; 5 unproven."
    )]
    Audit(Audit),
    /// Check the token of a printed permit: who issued it, and whether it counts now
    CheckToken(CheckToken),
    /// Say what this machine lacks to keep a register: folders, room, clock, permissions of keys
    Doctor {
        /// Key file to look at; may stand several times
        #[arg(long = "key", value_name = "FILE")]
        keys: Vec<PathBuf>,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Write the manual pages into a folder
    Man {
        /// Folder
        #[arg(long, value_name = "DIR")]
        into: PathBuf,
    },
    /// Write the completions of a shell to stdout
    Completions {
        /// Shell
        shell: clap_complete::Shell,
    },
}

/// Keys.
#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Make a key: an encrypted PKCS#8 file that `openssl pkey` reads; the passphrase is asked for twice
    New {
        /// File to write
        file: PathBuf,
    },
    /// Show the public key and fingerprint of a private key file
    Show {
        /// Key file
        file: PathBuf,
    },
    /// Write OpenSSH's file of allowed signers: keys, namespaces and windows of the roster in force, for
    /// `ssh-keygen -Y verify`
    AllowedSigners {
        /// This roster instead of the register's
        #[arg(long, value_name = "FILE")]
        roster: Option<PathBuf>,
        /// File to write; default: standard output
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
}

/// Rosters.
#[derive(Debug, Subcommand)]
pub enum RosterCommand {
    /// Check a roster and the signatures beside it
    Check {
        /// Roster file
        file: PathBuf,
        /// Detached signatures (`ssh-keygen -Y sign -n airwrit-roster-v1` makes them too)
        #[arg(long = "sig", value_name = "FILE")]
        signatures: Vec<PathBuf>,
    },
    /// Say what a version changes against the one before, and what forbids it
    Compare {
        /// The version before: a roster file, or a register's folder for the roster in force there
        old: PathBuf,
        /// The new version
        new: PathBuf,
        /// Signatures of the new version; default: those beside it (FILE.sig, FILE.*.sig)
        #[arg(long = "sig", value_name = "FILE")]
        signatures: Vec<PathBuf>,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Write the next version of a roster, ready to be edited: number and `before` filled in
    Next {
        /// The version before: a roster file, or a register's folder for the roster in force there
        old: PathBuf,
        /// File to write
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
    },
    /// Put a later version in force in this register, after showing what it changes
    Adopt {
        /// The new version
        file: PathBuf,
        /// Custodians' signatures; default: those beside it (FILE.sig, FILE.*.sig)
        #[arg(long = "sig", value_name = "FILE")]
        signatures: Vec<PathBuf>,
        /// Who enters it
        #[arg(long, value_name = "ID")]
        by: Option<String>,
    },
    /// Sign a roster as a custodian
    Sign {
        /// Roster file
        file: PathBuf,
        /// The custodian's key
        #[arg(long, value_name = "FILE")]
        key: PathBuf,
        /// Signature file to write
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
    },
}

/// Beginning a register.
#[derive(Debug, ClapArgs)]
pub struct Enrol {
    /// Station code: 2 to 8 capitals and digits; permit numbers begin with it
    #[arg(long, value_name = "CODE")]
    pub station: String,
    /// Roster file
    #[arg(long, value_name = "FILE")]
    pub roster: PathBuf,
    /// Custodians' signatures of the roster
    #[arg(long = "sig", value_name = "FILE", required = true)]
    pub signatures: Vec<PathBuf>,
    /// Go on after the volumes that stand in the register's folder: this machine does not hold the key of
    /// their next line. Copy the newest folder here first
    #[arg(long)]
    pub next_volume: bool,
    /// Begin in an empty folder although there was a register before: what became of it
    #[arg(long, value_name = "WORDS", conflicts_with = "next_volume")]
    pub lost: Option<String>,
    /// Who signs
    #[command(flatten)]
    pub who: Who,
}

/// Opening.
#[derive(Debug, ClapArgs)]
pub struct Open {
    /// Job file
    #[arg(long, value_name = "FILE")]
    pub job: PathBuf,
    /// Set id; may be left out where one is in force
    #[arg(long)]
    pub set: Option<String>,
    /// Site id; may be left out where one is in force
    #[arg(long)]
    pub site: Option<String>,
    /// Checklist id; may be left out where one for this purpose is in force
    #[arg(long)]
    pub form: Option<String>,
    /// Only to shut the set down
    #[arg(long)]
    pub shutdown: bool,
    /// The permit whose work it goes on with, as when a set was swapped; handed back or ended, with nobody on its air
    #[arg(long, value_name = "PERMIT")]
    pub follows: Option<String>,
    /// Who opens it; default: the holder
    #[arg(long, value_name = "ID")]
    pub by: Option<String>,
}

/// Answering.
#[derive(Debug, ClapArgs)]
pub struct Answer {
    /// Permit number
    pub permit: String,
    /// Step
    pub step: String,
    /// yes, no, a choice, a number in the step's unit (`< 0.1`: below its lowest mark), a date, text, begun, done; none
    /// where it is worked out
    #[arg(allow_hyphen_values = true)]
    pub value: Option<String>,
    /// Which item, where the step is asked for each of something
    #[arg(long)]
    pub item: Option<String>,
    /// Answer the shutdown form
    #[arg(long)]
    pub shutdown: bool,
    /// The value is the instrument's lowest mark and the reading is below it
    #[arg(long)]
    pub below: bool,
    /// Take the item out of service instead, for this reason
    #[arg(long, value_name = "REASON", conflicts_with = "value")]
    pub leave_out: Option<String>,
    /// Leave the held answer as it is, for this reason; a supervisor must accept that
    #[arg(long, value_name = "WHY", requires = "instead", conflicts_with = "value")]
    pub deviation: Option<String>,
    /// What is done instead, with --deviation
    #[arg(long, value_name = "WHAT", requires = "deviation")]
    pub instead: Option<String>,
    /// What was done since the last answer
    #[arg(long, value_parser = clap::builder::PossibleValuesParser::new(crate::record::kinds::AGAIN))]
    pub again: Option<String>,
    /// Words beside it
    #[arg(long)]
    pub words: Option<String>,
    /// Who answers; default: the holder
    #[arg(long, value_name = "ID")]
    pub by: Option<String>,
    /// When it was, site time, if not now: what is told more than 5 min late is kept and opens nothing
    #[arg(long, value_name = "HH:MM")]
    pub at: Option<String>,
    /// Who told it
    #[arg(long, value_name = "WHO")]
    pub told_by: Option<String>,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}

/// Issuing.
#[derive(Debug, ClapArgs)]
pub struct Countersign {
    /// Permit number
    pub permit: String,
    /// What is narrowed and accepted
    #[command(flatten)]
    pub narrowing: Narrowing,
    /// Who signs
    #[command(flatten)]
    pub who: Who,
}

/// What the supervisor narrows and accepts.
#[derive(Clone, Debug, ClapArgs)]
pub struct Narrowing {
    /// Let it end earlier, site time
    #[arg(long, value_name = "HH:MM")]
    pub until: Option<String>,
    /// Let fewer be on air at once
    #[arg(long, value_name = "N")]
    pub wearers: Option<u64>,
    /// Narrow it in words
    #[arg(long)]
    pub limits: Option<String>,
    /// Accept the deviation left at this step; for each of several
    #[arg(long, value_name = "STEP[/ITEM]")]
    pub accept: Vec<String>,
    /// What you read again at a gauge that was drawn; for each. Asked for at a terminal
    #[arg(long, value_name = "STEP[/ITEM]=VALUE")]
    pub seen: Vec<String>,
    /// Why you read no gauge again
    #[arg(long, value_name = "WHY", conflicts_with = "seen")]
    pub not_seen: Option<String>,
}

/// Signing elsewhere.
#[derive(Debug, ClapArgs)]
pub struct SignElsewhere {
    /// An excerpt of the permit (`airwrit excerpt`), or a copy of the register's folder
    pub what: PathBuf,
    /// Who signs: person id on the roster
    #[arg(long = "as", value_name = "ID")]
    pub by: String,
    /// Their encrypted private key; the passphrase is asked for
    #[arg(long, value_name = "FILE")]
    pub key: PathBuf,
    /// Permit number; may be left out where there is one only
    #[arg(long, value_name = "PERMIT")]
    pub permit: Option<String>,
    #[command(flatten)]
    /// Whom to trust
    pub trust: TrustArgs,
    /// Sign although not everything that is shown is proven
    #[arg(long)]
    pub unproven: bool,
    /// File of the signed act; default: in this folder, named by permit and kind
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
    /// Write the QR code as a picture (PNG) too
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// What is signed
    #[command(subcommand)]
    pub act: ActCommand,
}

/// A job worked out before anyone travels.
#[derive(Clone, Debug, ClapArgs)]
pub struct Plan {
    /// Set file
    #[arg(long, value_name = "FILE")]
    pub set: PathBuf,
    /// Site file
    #[arg(long, value_name = "FILE")]
    pub site: PathBuf,
    /// Job file: place, wearers, way out
    #[arg(long, value_name = "FILE")]
    pub job: PathBuf,
    /// Lowest temperature around the set and along the whole hose until the end, like "-2 °C"; default: the set's lowest
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true, requires = "high")]
    pub low: Option<String>,
    /// Highest temperature, like "9 °C"; default: the set's highest
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true, requires = "low")]
    pub high: Option<String>,
    /// Reserve as it will be read on the lowest cylinder, like "207 bar"; default: the set's minimum
    #[arg(long, value_name = "PRESSURE", allow_hyphen_values = true)]
    pub reserve: Option<String>,
    /// Length of the supply cable, like "35 m"
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, requires = "section")]
    pub cable: Option<String>,
    /// Its thinnest section, like "4 mm2"
    #[arg(long, value_name = "AREA", allow_hyphen_values = true, requires = "cable")]
    pub section: Option<String>,
    /// Units people see; default: as the site says
    #[arg(long, value_parser = ["metric", "us", "both"])]
    pub units: Option<String>,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}

/// How a permit is given back.
#[derive(Clone, Debug, ClapArgs)]
pub struct HandingBack {
    /// The live permit of the same set for which it runs on
    #[arg(long, value_name = "PERMIT")]
    pub left_running: Option<String>,
    /// In words
    #[arg(long)]
    pub reason: Option<String>,
}

/// What can be signed elsewhere; the same as at the station.
#[derive(Debug, Subcommand)]
pub enum ActCommand {
    /// The supervisor issues what was declared
    Countersign(Narrowing),
    /// The supervisor does not issue it
    Refuse {
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// The operator declares: everything was done and found as recorded
    Declare,
    /// The operator gives the permit back
    HandBack(HandingBack),
    /// The supervisor ends a permit that was handed back
    Close,
    /// What suspended a permit is over
    Reinstate {
        /// What it was, and what was done
        #[arg(long)]
        cause: String,
    },
    /// A later end: the holder asks, a supervisor gives
    Extend(shift::LaterArgs),
    /// The holder hands it over
    HandOver(shift::HandingArgs),
    /// Another operator takes it over
    TakeOver,
    /// The supervisor withdraws a permit
    Cancel {
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// An approver puts a checklist, set or site file in force; needs a copy of the whole register
    Approve {
        /// The file
        file: PathBuf,
    },
}

/// A move on the tally.
#[derive(Debug, ClapArgs)]
pub struct Tally {
    /// Person id, or a name
    pub person: String,
    /// Permit number; default: the permit the person is planned or on air on
    #[arg(long)]
    pub permit: Option<String>,
    /// A set, where there is no permit (a report only)
    #[arg(long, conflicts_with = "permit")]
    pub set: Option<String>,
    /// It has happened: write it whatever the rules say
    #[arg(long)]
    pub report: bool,
    /// Told later
    #[command(flatten)]
    pub told: ToldArgs,
}

/// Calling out.
#[derive(Clone, Debug, Default, ClapArgs)]
pub struct CallOut {
    /// Permit number; default: everybody at work
    #[arg(value_name = "PERMIT")]
    pub permit: Option<String>,
    /// A set, where there is no permit
    #[arg(long, value_name = "SET", conflicts_with = "permit")]
    pub set: Option<String>,
    /// Why
    #[arg(long)]
    pub words: Option<String>,
    /// Told later
    #[command(flatten)]
    pub told: ToldArgs,
}

/// What happened to a set.
#[derive(Debug, Subcommand)]
pub enum SetCommand {
    /// It was started; refused unless the steps before the start are done
    Started(SetThing),
    /// It was stopped; refused while anyone is on air from it
    Stopped {
        #[command(flatten)]
        /// The set
        thing: SetThing,
        /// The event (hash of its line) that ordered it at once
        #[arg(long, value_name = "HASH")]
        ordered_by: Option<String>,
    },
    /// It was moved, even by metres
    Moved {
        #[command(flatten)]
        /// The set
        thing: SetThing,
        /// Where to, a place of the site
        #[arg(long)]
        place: String,
    },
    /// It was plugged in
    Plugged {
        #[command(flatten)]
        /// The set
        thing: SetThing,
        /// Where, a supply point of the site
        #[arg(long)]
        supply_point: String,
    },
    /// The reserve was filled
    Filled {
        #[command(flatten)]
        /// The set
        thing: SetThing,
        /// Where the air came from
        #[arg(long, value_parser = ["this_set", "other_tested", "certificate", "not_known"])]
        from: String,
        /// Which machine or supplier
        #[arg(long)]
        machine: Option<String>,
    },
    /// It was serviced
    Serviced {
        #[command(flatten)]
        /// The set
        thing: SetThing,
        /// What
        #[arg(long, value_parser = ["filter", "oil", "air_side", "other"])]
        what: String,
        /// In words
        #[arg(long)]
        words: Option<String>,
    },
    /// The air was tested
    AirTest(Box<AirTest>),
    /// It leaves this register: nothing is opened on it here until it is taken again
    Released(shift::Comes),
    /// It comes to this register again
    Taken(shift::Comes),
}

/// A test of the air of a set, on a permit or on a round of its own.
#[derive(Clone, Debug, ClapArgs)]
pub struct AirTest {
    /// The set
    #[command(flatten)]
    pub thing: SetThing,
    /// Where the set stands, a place of the site
    #[arg(long)]
    pub place: String,
    /// Who took the sample
    #[arg(long)]
    pub sampler: String,
    /// Day of the sample, if not today
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub date: Option<String>,
    /// Which instrument or tubes
    #[arg(long)]
    pub instrument: Option<String>,
    /// Last good day of its calibration, or of the tubes
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub instrument_good: Option<String>,
    /// Number of the laboratory's certificate
    #[arg(long)]
    pub certificate: Option<String>,
    /// Where the sample was taken
    #[arg(long, value_name = "WHERE", value_parser = ["mask_end", "outlet", "cylinder"])]
    pub sample_point: Option<String>,
    /// Pressure there, like "5.8 bar"
    #[arg(long)]
    pub line_pressure: Option<String>,
    /// Temperature there, like "14 °C"
    #[arg(long)]
    pub line_temperature: Option<String>,
    /// Oxygen, like "20.9 %"
    #[arg(long)]
    pub o2: Option<String>,
    /// Carbon monoxide, like "1 ppm"; "< 2 ppm" is below the instrument's lowest mark
    #[arg(long)]
    pub co: Option<String>,
    /// Carbon dioxide, like "430 ppm"
    #[arg(long)]
    pub co2: Option<String>,
    /// Oil, like "0.1 mg/m3"
    #[arg(long)]
    pub oil: Option<String>,
    /// Water of the air expanded to the open, like "37 mg/m3"
    #[arg(long)]
    pub water: Option<String>,
    /// Pressure dew point in the line, like "-28 °C"
    #[arg(long, allow_hyphen_values = true)]
    pub dew_point: Option<String>,
    /// Smell, taste, mist or drops
    #[arg(long, value_name = "WHAT", value_parser = ["none", "something"])]
    pub smell: Option<String>,
    /// How far a reading may be off: "co=0.4 ppm", or "co=25 % of it"; for each that the instrument's paper says
    #[arg(long, value_name = "NAME=HOW_FAR")]
    pub within: Vec<String>,
}

/// A set and how it is told.
#[derive(Clone, Debug, ClapArgs)]
pub struct SetThing {
    /// Set id
    pub set: String,
    /// Hour meter, in hours
    #[arg(long)]
    pub hours: Option<String>,
    /// It has happened: write it whatever the rules say
    #[arg(long)]
    pub report: bool,
    /// Told later
    #[command(flatten)]
    pub told: ToldArgs,
}

/// A gauge read.
#[derive(Clone, Debug, ClapArgs)]
pub struct Reading {
    /// Permit number
    pub permit: String,
    /// What: supply, reserve, co, ...
    #[arg(long)]
    pub what: String,
    /// Number and unit, like "207 bar"
    #[arg(long, allow_hyphen_values = true)]
    pub value: String,
    /// Which one
    #[arg(long)]
    pub item: Option<String>,
    /// Told later
    #[command(flatten)]
    pub told: ToldArgs,
}

/// Verifying.
#[derive(Debug, ClapArgs)]
pub struct Verify {
    /// A register's folder, one of its volumes, an excerpt, or a permit's PDF
    pub what: PathBuf,
    /// Another copy of it, or an excerpt of it: tells whether they are the same, one is older, or forked
    #[arg(long, value_name = "COPY")]
    pub against: Option<PathBuf>,
    #[command(flatten)]
    /// Whom to trust
    pub trust: TrustArgs,
    #[command(flatten)]
    /// Later rosters
    pub rosters: RosterArgs,
    #[command(flatten)]
    /// What stands outside
    pub anchors: AnchorArgs,
    /// It is an excerpt of one permit
    #[arg(long)]
    pub excerpt: bool,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}

/// Whom an auditor trusts, from outside.
#[derive(Clone, Debug, Default, ClapArgs)]
pub struct TrustArgs {
    /// Fingerprint of a custodian you trust, SHA256:...; may stand several times
    #[arg(long, value_name = "SHA256:...")]
    pub custodian: Vec<String>,
    /// How many of them must have signed the roster; default: all you name
    #[arg(long, value_name = "N")]
    pub threshold: Option<usize>,
    /// A trust file with custodians and threshold instead
    #[arg(long, value_name = "FILE", conflicts_with_all = ["custodian", "threshold"])]
    pub trust: Option<PathBuf>,
}

/// Versions of a roster, from outside.
#[derive(Clone, Debug, Default, ClapArgs)]
pub struct RosterArgs {
    /// A roster from outside, like a later version with late revocations; may stand several times
    #[arg(long = "roster", value_name = "FILE")]
    pub rosters: Vec<PathBuf>,
    /// Its custodians' signatures; default: those beside it (FILE.sig, FILE.*.sig)
    #[arg(long = "sig", value_name = "FILE", requires = "rosters")]
    pub signatures: Vec<PathBuf>,
}

/// Checking a token.
#[derive(Debug, ClapArgs)]
pub struct CheckToken {
    /// Token as it is typed or scanned, or a file or picture of it; `-` reads it from the input
    pub token: String,
    #[command(flatten)]
    /// Whom to trust
    pub trust: TrustArgs,
    #[command(flatten)]
    /// A roster instead of a register, where no register is named; the permit is then not looked up
    pub rosters: RosterArgs,
    /// Whether a register was named
    #[arg(skip)]
    pub register_named: bool,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}
