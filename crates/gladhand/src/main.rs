//! `gladhand`: see the library for everything.

use std::process::ExitCode;

use clap::Parser;
use gladhand::cli::Cli;
use gladhand::failure::Exit;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let exit = match gladhand::commands::run(cli) {
        Ok(exit) => exit,
        Err(failure) => {
            eprintln!("{failure}");
            failure.exit
        }
    };
    ExitCode::from(if exit == Exit::Done { 0 } else { exit as u8 })
}
