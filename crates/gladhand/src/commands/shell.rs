//! `completions` and `man`: what a shell and a manual know of the command line, made from its definition.

use std::path::Path;

use clap::CommandFactory;
use clap_complete::Shell;

use super::Context;
use crate::cli::Cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Writes the completions for a shell to stdout.
pub fn completions(shell: Shell) -> Outcome {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "gladhand", &mut script);
    show::bytes(&script)?;
    Ok(Exit::Done)
}

/// Writes a manual page for each command into a folder, which is made if it is not there.
pub fn man(context: &Context, dir: &Path) -> Outcome {
    let folder = context.at(dir);
    let cannot = |e: std::io::Error| Failure::failed(format!("cannot write manual pages into {}: {e}", dir.display()));
    std::fs::create_dir_all(&folder).map_err(cannot)?;
    clap_mangen::generate_to(Cli::command(), &folder).map_err(cannot)?;
    show::aside(&format!(
        "{}: manual pages; read them with man -l {}",
        dir.display(),
        dir.join("gladhand.1").display()
    ));
    Ok(Exit::Done)
}
