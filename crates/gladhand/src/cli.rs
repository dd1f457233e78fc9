//! The command line: names, flags and their help. What a command does is in [`crate::commands`].

mod lists;
mod one_fact;
mod picture;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

pub use lists::{ReportLines, Stock, StockRead};
pub use one_fact::{
    CheckArgs, Common, HandoverArgs, JobArgs, JobOnly, NoteArgs, PairArgs, ProofArgs, RulingArgs, ScanArgs,
    SettingsArgs, StandDownArgs, WithdrawArgs,
};
pub use picture::Picture;

/// A record of camera fittings that merges without a connection and says what it contradicts.
#[derive(Debug, Parser)]
#[command(name = "gladhand", version, max_term_width = 100)]
pub struct Cli {
    /// The home folder of this device.
    #[arg(long, global = true, env = "GLADHAND_HOME", value_name = "DIR")]
    pub home: Option<PathBuf>,
    /// Machine-readable output on stdout.
    #[arg(long, global = true)]
    pub json: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make a home: key, configuration, empty store.
    Setup(Setup),
    /// On a depot: make a one-time invite for a device.
    Invite(Invite),
    /// Join a depot with an invite (the line itself, or a file that holds it).
    Join {
        /// The line that `gladhand invite` printed, or a file that holds it, or - for stdin.
        invite: String,
    },
    /// On a depot: take a device off the roster, from a place in its log on.
    Retire(Retire),
    /// Watch the inbox and carry out commands until told to stop.
    Serve(Serve),
    /// Record facts from JSON Lines or CSV; prints a receipt for each.
    Record {
        /// Files; - (or none) for stdin.
        files: Vec<PathBuf>,
    },
    /// A fleet's own list of trailers, trackers and cameras.
    #[command(subcommand)]
    Stock(Stock),
    /// Open a job, or set fields of it; `job next` lists which open jobs wait for what.
    Job(JobArgs),
    /// What is known of a trailer.
    #[command(subcommand)]
    Trailer(Trailer),
    /// Take a proof picture out of the home: the latest that was judged.
    Picture(Picture),
    /// A label was read.
    Scan(ScanArgs),
    /// Measured or observed checks.
    Check(CheckArgs),
    /// The camera was tied to the tracker.
    Link(PairArgs),
    /// The tie was taken off.
    Unlink(PairArgs),
    /// The tracker was sent, took, or refused its settings.
    Settings(SettingsArgs),
    /// The test picture that proves the fit.
    Proof(ProofArgs),
    /// Declare the job done.
    SignOff(JobOnly),
    /// Give the job up.
    StandDown(StandDownArgs),
    /// Take a fact back that was a slip; it stays in every history.
    Withdraw(WithdrawArgs),
    /// The fleet took the trailer back.
    Handover(HandoverArgs),
    /// Free text on a job or on nothing.
    Note(NoteArgs),
    /// Settle a finding.
    Ruling(RulingArgs),
    /// The go/no-go answer for a trailer from its readings so far.
    Clearance {
        /// The job; the beginning of its name is enough, and . is the one that this device touched last.
        job: String,
    },
    /// The work standard: checks, tolerances, go/no-go tables.
    #[command(subcommand)]
    Standard(Standard),
    /// Merge over the network now: with one peer, or with everyone who can be reached.
    Sync {
        /// A device (name or key), or an address such as 192.168.1.20:7401.
        peer: Option<String>,
    },
    /// Merge with another node by a file.
    #[command(subcommand)]
    Bundle(Bundle),
    /// What this node holds, what each known device is missing, disk and inbox.
    Status,
    /// What the merged facts contradict.
    Findings(Findings),
    /// The merged history: who did what when, on which device.
    History(History),
    /// The reconciled shift report.
    Report(Report),
    /// Write each job as a standard Automerge document.
    Export {
        /// The folder for the documents; made if it is not there.
        #[arg(long, value_name = "DIR")]
        automerge: PathBuf,
    },
    /// Read the whole store back against its hashes, chains and signatures.
    Verify {
        /// Throw away what is derived and make it anew.
        #[arg(long)]
        rebuild: bool,
    },
    /// Print what a shell needs to complete command lines.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Write a manual page for each command.
    Man {
        /// The folder for the pages; made if it is not there.
        dir: PathBuf,
    },
    /// Play a day in Tolland yard: a depot and three laptops, offline work, bundles, the report.
    Demo {
        /// Keep the homes here, to go on by hand. The folder must be new or empty.
        dir: Option<PathBuf>,
        /// Show each command and all that it says, instead of one screen.
        #[arg(long)]
        all: bool,
    },
}

impl Command {
    /// Whether it is about the node in the home, so that a running daemon carries it out.
    pub fn needs_the_node(&self) -> bool {
        !matches!(
            self,
            Self::Setup(_)
                | Self::Serve(_)
                | Self::Demo { .. }
                | Self::Completions { .. }
                | Self::Man { .. }
                | Self::Bundle(Bundle::Verify { .. })
                | Self::Standard(Standard::Check { .. })
        )
    }
}

/// `setup`
#[derive(Debug, Args)]
pub struct Setup {
    /// The home is a depot: it collects, enrols devices, publishes the work standard and the stock list.
    #[arg(long)]
    pub depot: bool,
    /// The device's name, as others see it.
    #[arg(long)]
    pub name: String,
    /// Who usually works with it: stands as `by` where a fact names nobody.
    #[arg(long, default_value = "")]
    pub person: String,
    /// Where `serve` listens, such as 127.0.0.1:7401; none: nowhere.
    #[arg(long, default_value = "", value_name = "ADDR")]
    pub listen: String,
}

/// `serve`
#[derive(Debug, Args)]
pub struct Serve {
    /// How log lines are written, on stderr and in daemon.log.
    #[arg(long, value_enum, default_value_t = LogFormat::Text, value_name = "FORMAT")]
    pub log: LogFormat,
}

/// How log lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogFormat {
    /// For reading.
    Text,
    /// One JSON object a line.
    Json,
}

/// `invite`
#[derive(Debug, Args)]
pub struct Invite {
    /// Whom it is for.
    #[arg(long, default_value = "")]
    pub person: String,
    /// Where the device finds this depot, if that is not where it listens.
    #[arg(long, default_value = "", value_name = "ADDR")]
    pub address: String,
    /// For how many hours it may be used.
    #[arg(long, default_value_t = 72, value_name = "HOURS")]
    pub valid_h: u32,
}

/// `retire`
#[derive(Debug, Args)]
pub struct Retire {
    /// The device: its name, or the beginning of its key.
    pub device: String,
    /// The last entry of its newest log that still counts. Default: everything that this depot holds of it.
    #[arg(long, value_name = "SEQ")]
    pub after: Option<u64>,
    /// Why.
    #[arg(long, default_value = "no reason given")]
    pub why: String,
}

/// `trailer show`
#[derive(Debug, Subcommand)]
pub enum Trailer {
    /// Its life: the jobs in order, the pair now, proven when and by whom, what speaks against it.
    Show {
        /// The unit number, as it was recorded.
        trailer: String,
    },
}

/// `standard`
#[derive(Debug, Subcommand)]
pub enum Standard {
    /// Print the one in force, as the file that it is: copy it, change it, publish it.
    Show,
    /// Look through a file: is it a work standard? Says the line of what is wrong.
    Check {
        /// The file; - for stdin.
        file: PathBuf,
    },
    /// On a depot: put a file in force for every node that merges.
    Publish {
        /// The file; - for stdin.
        file: PathBuf,
    },
}

/// `bundle`
#[derive(Debug, Subcommand)]
pub enum Bundle {
    /// Write what a reader lacks into a file. Default: everything.
    Write {
        /// The file.
        file: PathBuf,
        /// Only what this device (name or key) is not known to hold.
        #[arg(long = "for", value_name = "DEVICE", conflicts_with = "since")]
        for_device: Option<String>,
        /// Only what lies beyond this version vector (KEY.INCARNATION:SEQ,…), as `status --json` prints it.
        #[arg(long, value_name = "VECTOR")]
        since: Option<String>,
    },
    /// Take in what a file brings.
    Read {
        /// The file.
        file: PathBuf,
    },
    /// Look through a bundle: is it whole, whose is it?
    Verify {
        /// The file.
        file: PathBuf,
    },
}

/// `findings`
#[derive(Debug, Args, Default)]
pub struct Findings {
    /// Only this rule.
    #[arg(long)]
    pub rule: Option<String>,
    /// Only open ones.
    #[arg(long)]
    pub open: bool,
    /// Only those that touch this job.
    #[arg(long)]
    pub job: Option<String>,
    /// Only those that touch this trailer or a job on it.
    #[arg(long)]
    pub trailer: Option<String>,
    /// Only those that touch this camera.
    #[arg(long)]
    pub camera: Option<String>,
    /// Only those that touch this tracker.
    #[arg(long)]
    pub tracker: Option<String>,
    /// Only those that rest on what this device (name or key) recorded.
    #[arg(long)]
    pub device: Option<String>,
    /// Exit with 3 when an open stop is among them, and with 2 when there is nothing to look at.
    #[arg(long)]
    pub gate: bool,
    /// With --gate: it is all right when there is nothing to look at.
    #[arg(long, requires = "gate")]
    pub may_be_empty: bool,
    /// Those that this device would have shown right after its entry SEQ (default: its newest that is here).
    #[arg(long, value_name = "DEVICE[@SEQ]")]
    pub as_known_by: Option<String>,
}

/// `history`
#[derive(Debug, Args, Default)]
pub struct History {
    /// Of a job; the beginning of its name is enough.
    #[arg(long)]
    pub job: Option<String>,
    /// Of a camera.
    #[arg(long)]
    pub camera: Option<String>,
    /// Of a tracker.
    #[arg(long)]
    pub tracker: Option<String>,
    /// Of a trailer and all its jobs.
    #[arg(long)]
    pub trailer: Option<String>,
    /// What a device (name or key) recorded.
    #[arg(long)]
    pub device: Option<String>,
    /// Only what happened from then on, by the depot's clock: RFC 3339, a date (from its beginning), today or yesterday.
    #[arg(long, value_name = "TIME")]
    pub since: Option<String>,
    /// Only what had happened by then, by the depot's clock: RFC 3339, a date (up to its end), today or yesterday.
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
    /// What that device could show right after its entry SEQ (default: its newest that is here), with the findings that it would
    /// have shown. With --json each fact names the findings that it makes; `findings --as-known-by` gives them whole.
    #[arg(long, value_name = "DEVICE[@SEQ]")]
    pub as_known_by: Option<String>,
    /// Draw it: a lane per device, what was seen as lines between them, the facts of open findings ringed.
    #[arg(long, value_name = "FILE.svg")]
    pub picture: Option<PathBuf>,
}

/// `report`
#[derive(Debug, Args)]
pub struct Report {
    /// What a line is of. Default: a job.
    #[arg(long, value_name = "WHAT")]
    pub by: Option<ReportLines>,
    /// Only this day, from its beginning to its end: a date, today or yesterday.
    #[arg(long, value_name = "DAY", conflicts_with_all = ["from", "to"])]
    pub day: Option<String>,
    /// Only today, as --day today.
    #[arg(long, conflicts_with_all = ["from", "to", "day"])]
    pub shift: bool,
    /// Jobs with something at or after this time: RFC 3339, a date (from its beginning), today or yesterday.
    #[arg(long, value_name = "TIME")]
    pub from: Option<String>,
    /// Jobs with something before this time: RFC 3339, a date (up to its end), today or yesterday.
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// Only this yard.
    #[arg(long)]
    pub yard: Option<String>,
    /// Only this fleet.
    #[arg(long)]
    pub fleet: Option<String>,
    /// How to write it. Default: for reading.
    #[arg(long)]
    pub format: Option<ReportFormat>,
    /// Exit with 3 when an open stop is in it, and with 2 when no job is.
    #[arg(long)]
    pub gate: bool,
    /// With --gate: it is all right when no job is in it.
    #[arg(long, requires = "gate")]
    pub may_be_empty: bool,
}

/// How a report is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ReportFormat {
    /// For reading.
    Text,
    /// One JSON object.
    Json,
    /// A line a job.
    Csv,
    /// One page that needs nothing else, for printing and mailing.
    Html,
}
