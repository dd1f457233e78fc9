//! The program: parses the command line and hands it to [`gladhand::dispatch`].

use std::ffi::OsString;
use std::process::ExitCode;

use gladhand::dispatch::failed_if_it_panics;
use gladhand::{dispatch, usage};

fn main() -> ExitCode {
    gladhand_node::caught_panics::hush();
    let args: Vec<OsString> = std::env::args_os().collect();
    let exit = failed_if_it_panics(|| match usage::parse(&args) {
        Ok(cli) => dispatch::run_and_tell(cli, &args),
        Err(stopped) => stopped.tell(),
    });
    ExitCode::from(exit as u8)
}
