//! The program: parses the command line and hands it to [`gladhand::dispatch`].

use std::ffi::OsString;
use std::process::ExitCode;

use clap::Parser;
use gladhand::cli::Cli;

fn main() -> ExitCode {
    gladhand_node::caught_panics::hush();
    let args: Vec<OsString> = std::env::args_os().collect();
    let cli = Cli::parse_from(&args);
    ExitCode::from(gladhand::dispatch::run_and_tell(cli, &args) as u8)
}
