//! The program `gladhand`. Everything it does is in the library.

use std::ffi::OsString;
use std::process::ExitCode;

use gladhand::failure::failed_if_it_panics;
use gladhand::{commands, usage};

fn main() -> ExitCode {
    gladhand_node::caught_panics::hush();
    let args: Vec<OsString> = std::env::args_os().collect();
    let exit = failed_if_it_panics(|| match usage::parse(&args) {
        Ok(cli) => commands::run_and_tell(cli, &args),
        Err(stopped) => stopped.tell(),
    });
    ExitCode::from(exit as u8)
}
