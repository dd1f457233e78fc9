//! The commands, one file per group. Each opens the home, does its work, and writes what came of it.

mod bundle;
mod clearance;
mod context;
mod demo;
mod export;
mod findings;
mod history;
mod join;
mod next;
mod one_fact;
mod record;
mod report;
mod resolve;
mod retire;
mod serve;
mod setup;
mod standard;
mod status;
mod sync;
mod trade;
mod verify;

use std::ffi::OsString;
use std::path::PathBuf;

use clap::Parser;

use crate::cli::{Cli, Command};
use crate::control::client;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

pub(crate) use context::open_patiently;
pub use context::{Context, OpenNode};

/// Carries out the command line, and says why if it cannot. Where a daemon runs, the daemon does it: `args` are the command
/// line as it was typed.
pub fn run_and_tell(cli: Cli, args: &[OsString]) -> Exit {
    let context = match cli.home.map_or_else(default_home, Ok) {
        Ok(home) => Context::new(home, cli.json),
        Err(failure) => return tell(Err(failure)),
    };
    if cli.command.needs_the_node() {
        return by_daemon_or_here(&context, cli.command, args);
    }
    carry_out_and_tell(&context, cli.command)
}

/// How often a command tries again because a daemon has just stopped or just started, before it gives up.
const TURNS: usize = 8;

/// The daemon carries it out, or this process where there is none. A daemon may start or stop between asking for it and
/// opening the home.
fn by_daemon_or_here(context: &Context, command: Command, args: &[OsString]) -> Exit {
    let mut command = Some(command);
    for turn in 1..=TURNS {
        match client::relay(&context.home, args) {
            Ok(None) => {}
            Ok(Some(exit)) => return exit,
            Err(failure) => return tell(Err(failure)),
        }
        let again = || Cli::try_parse_from(args).ok().map(|cli| cli.command);
        let Some(command) = command.take().or_else(again) else {
            break;
        };
        match carry_out(context, command) {
            Err(failure) if failure.is_served && turn < TURNS => {}
            outcome => return tell(outcome),
        }
    }
    tell(Err(Failure::failed(
        "a daemon starts and stops in this home all the time",
    )
    .hint("Run the command again.")))
}

/// As [`carry_out`], and says why if it cannot.
pub fn carry_out_and_tell(context: &Context, command: Command) -> Exit {
    tell(carry_out(context, command))
}

fn tell(outcome: Outcome) -> Exit {
    outcome.unwrap_or_else(|failure| {
        show::aside(&failure.to_string());
        failure.exit
    })
}

/// Carries out the command line in this process.
///
/// # Errors
/// [`Failure`], to be shown on stderr.
pub fn run(cli: Cli) -> Outcome {
    let home = cli.home.map_or_else(default_home, Ok)?;
    carry_out(&Context::new(home, cli.json), cli.command)
}

/// Carries out `command`.
///
/// # Errors
/// [`Failure`], to be shown on stderr.
pub fn carry_out(context: &Context, command: Command) -> Outcome {
    match command {
        Command::Setup(args) => setup::setup(context, &args),
        Command::Invite(args) => setup::invite(context, &args),
        Command::Join { invite } => join::join(context, &invite),
        Command::Retire(args) => retire::retire(context, &args),
        Command::Sync { peer } => sync::sync(context, peer.as_deref()),
        Command::Serve(args) => serve::serve(context, &args),
        Command::Record { files } => record::record(context, &files),
        Command::Job(args) => one_fact::job(context, args),
        Command::Scan(args) => one_fact::scan(context, args),
        Command::Check(args) => one_fact::check(context, args),
        Command::Link(args) => one_fact::pair(context, "link", args),
        Command::Unlink(args) => one_fact::pair(context, "unlink", args),
        Command::Settings(args) => one_fact::settings(context, args),
        Command::Proof(args) => one_fact::proof(context, args),
        Command::SignOff(args) => one_fact::job_only(context, "sign-off", args),
        Command::StandDown(args) => one_fact::job_only(context, "stand-down", args),
        Command::Note(args) => one_fact::note(context, args),
        Command::Ruling(args) => one_fact::ruling(context, args),
        Command::Clearance { job } => clearance::clearance(context, &job),
        Command::Standard(command) => standard::standard(context, command),
        Command::Bundle(args) => bundle::bundle(context, args),
        Command::Status => status::status(context),
        Command::Findings(args) => findings::findings(context, &args),
        Command::History(args) => history::history(context, &args),
        Command::Report(args) => report::report(context, &args),
        Command::Export { automerge } => export::automerge(context, &automerge),
        Command::Verify { rebuild } => verify::verify(context, rebuild),
        Command::Demo { dir } => demo::demo(dir.as_deref()),
    }
}

fn default_home() -> Result<PathBuf, Failure> {
    let dirs = directories::ProjectDirs::from("", "", "gladhand");
    let found = dirs.map(|d| d.data_dir().to_path_buf());
    found.ok_or_else(|| {
        Failure::bad_input("no home folder is known for this user").hint("Name one with --home DIR or GLADHAND_HOME.")
    })
}
