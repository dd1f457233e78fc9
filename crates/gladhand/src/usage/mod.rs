//! Reading the command line, and telling in this program's own words what is wrong with one.
//!
//! clap finds what is wrong; its error carries what and where, and `wrong` makes two lines of that: what is wrong, and what
//! to do, with an example that works (`examples`). Help and version are clap's and stay as they are.

mod examples;
mod place;
mod wrong;

use std::ffi::OsString;

use clap::Parser;
use clap::error::ErrorKind;

use crate::cli::Cli;
use crate::failure::{Exit, Failure};
use crate::show;
use place::Place;

/// Why a command line leads to no command.
#[derive(Debug)]
pub enum Stopped {
    /// Help or version, which were asked for.
    Shown(clap::Error),
    /// It is wrong.
    Wrong(Failure),
}

/// Reads a command line, with the program's name.
///
/// # Errors
/// When there is nothing to carry out.
pub fn parse(args: &[OsString]) -> Result<Cli, Stopped> {
    Cli::try_parse_from(args).map_err(|error| match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => Stopped::Shown(error),
        _ => Stopped::Wrong(wrong::told(&error, &Place::of(args))),
    })
}

impl Stopped {
    /// Tells, and returns the exit code.
    pub fn tell(&self) -> Exit {
        match self {
            Self::Shown(help) => {
                // A reader that went away has read enough.
                help.print().ok();
                Exit::Done
            }
            Self::Wrong(failure) => {
                show::aside(&failure.to_string());
                failure.exit
            }
        }
    }
}

/// `command` was not given what it cannot do without, such as a tracker.
pub fn needs(command: &str, what: &str) -> Failure {
    let what = match what {
        "check" => "the name of a check".to_owned(),
        what => with_article(what),
    };
    let place = Place::named(&[command]);
    Failure::bad_input(format!("{} needs {what}", place.title())).hint(place.help())
}

/// `command` was given a word after all that it takes.
pub fn too_many(command: &str, word: &str) -> Failure {
    Place::named(&[command]).too_many(word)
}

fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {noun}")
}

#[cfg(test)]
mod tests;
