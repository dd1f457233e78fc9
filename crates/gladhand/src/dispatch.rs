//! From a command line to the process that carries it out. That is the daemon of the home when one runs, and otherwise this
//! process; with `serve` this process becomes a daemon.
//!
//! This is the only place that knows all commands. So `serve` and the control socket below it need not know any: they are handed
//! [`carry_out_and_tell`].

use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

use clap::Parser;

use crate::cli::{Cli, Command, Stock, Trailer};
use crate::commands::{
    Context, bundle, clearance, demo, export, findings, history, join, one_fact, picture, record, report, retire,
    setup, shell, show_job, standard, status, stock, sync, verify,
};
use crate::control::client;
use crate::failure::{Exit, Failure, Outcome};
use crate::serve::daemon;
use crate::show;

/// Runs `command`; one that panics is a failed one, with the exit code that a script knows.
pub fn failed_if_it_panics(command: impl FnOnce() -> Exit) -> Exit {
    // Nothing of the command is used afterwards: the process ends.
    catch_unwind(AssertUnwindSafe(command)).unwrap_or_else(|_| {
        let failure = Failure::failed("something went wrong inside")
            .hint("What has a receipt is recorded. The lines above say where it went wrong; report them.");
        show::aside(&failure.to_string());
        failure.exit
    })
}

/// Does what the command line asks for, and tells why if it cannot. A running daemon does it for us: `args` are the command
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

/// How often a command may meet a daemon that has just gone or just come, before it says so.
const TURNS: usize = 8;

/// The daemon carries it out, or this process where there is none. One may come or go between asking and opening.
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
    tell(Err(
        Failure::failed("a daemon comes and goes in this home").hint("Run the command again.")
    ))
}

/// As [`carry_out`], and tells why if it cannot.
pub fn carry_out_and_tell(context: &Context, command: Command) -> Exit {
    tell(carry_out(context, command))
}

fn tell(outcome: Outcome) -> Exit {
    outcome.unwrap_or_else(|failure| {
        show::aside(&failure.to_string());
        failure.exit
    })
}

/// Does what `command` asks for.
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
        Command::Serve(args) => daemon::serve(context, args.log, carry_out_and_tell),
        Command::Record { files } => record::record(context, &files),
        Command::Stock(Stock::Read(args)) => stock::read(context, &args),
        Command::Job(args) => one_fact::job(context, args),
        Command::Trailer(Trailer::Show { trailer }) => show_job::trailer(context, &trailer),
        Command::Picture(args) => picture::picture(context, &args),
        Command::Scan(args) => one_fact::scan(context, args),
        Command::Check(args) => one_fact::check(context, args),
        Command::Link(args) => one_fact::link(context, args),
        Command::Unlink(args) => one_fact::unlink(context, args),
        Command::Settings(args) => one_fact::settings(context, args),
        Command::Proof(args) => one_fact::proof(context, args),
        Command::SignOff(args) => one_fact::sign_off(context, args),
        Command::StandDown(args) => one_fact::stand_down(context, args),
        Command::Withdraw(args) => one_fact::withdraw(context, args),
        Command::Handover(args) => one_fact::handover(context, args),
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
        Command::Completions { shell } => shell::completions(shell),
        Command::Man { dir } => shell::man(context, &dir),
        Command::Demo { dir, all } => demo::demo(dir.as_deref(), all),
    }
}

fn default_home() -> Result<PathBuf, Failure> {
    let dirs = directories::ProjectDirs::from("", "", "gladhand");
    let found = dirs.map(|d| d.data_dir().to_path_buf());
    found.ok_or_else(|| {
        Failure::bad_input("no home folder is known for this user").hint("Name one with --home DIR or GLADHAND_HOME.")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_a_failure() {
        assert_eq!(failed_if_it_panics(|| Exit::OpenStops), Exit::OpenStops);
        assert_eq!(failed_if_it_panics(|| panic!("on purpose")), Exit::Failed);
    }
}
