//! `standard show`, `standard check`, `standard publish`: the work standard that a fleet edits and its depot publishes.
//!
//! `check` needs no home.

use std::io::Read;
use std::path::Path;

use gladhand_answers::standard;
use gladhand_trade::Standard;
use gladhand_trade::section::MAX_TEXT_BYTES;

use super::Context;
use crate::cli;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Does what the command line asks for.
pub fn standard(context: &Context, command: cli::Standard) -> Outcome {
    match command {
        cli::Standard::Show => show_it(context),
        cli::Standard::Check { file } => check(context, &file),
        cli::Standard::Publish { file } => publish(context, &file),
    }
}

fn show_it(context: &Context) -> Outcome {
    let node = context.open()?;
    let shown = standard::shown(&node);
    node.close()?;
    show::answer(shown, context.json)?;
    Ok(Exit::Done)
}

fn check(context: &Context, file: &Path) -> Outcome {
    let (_, standard) = read(context, file)?;
    let checked = standard::checked(&file.display().to_string(), &standard);
    show::answer(checked, context.json)?;
    Ok(Exit::Done)
}

fn publish(context: &Context, file: &Path) -> Outcome {
    let (text, _) = read(context, file)?;
    let mut node = context.open()?;
    let published = standard::publish(&mut node, &text)?;
    node.close()?;
    show::answer(published, context.json)?;
    Ok(Exit::Done)
}

/// The text of a file, or of stdin for `-`, read as a standard. An error names file and line.
fn read(context: &Context, file: &Path) -> Result<(String, Standard), Failure> {
    let name = file.display();
    let wrong = |e: std::io::Error| Failure::bad_input(format!("cannot read {name}: {e}"));
    let mut source: Box<dyn Read> = if file.as_os_str() == "-" {
        Box::new(console::input())
    } else {
        Box::new(std::fs::File::open(context.at(file)).map_err(wrong)?)
    };
    let mut text = String::new();
    // One byte more than is taken, so that too long is told from just fitting.
    let most = MAX_TEXT_BYTES as u64 + 1;
    source.by_ref().take(most).read_to_string(&mut text).map_err(wrong)?;
    let standard = Standard::parse(&text).map_err(|e| {
        Failure::bad_input(format!("{name}: {e}"))
            .hint("The comments in the standard that `gladhand standard show` prints explain every key.")
    })?;
    Ok((text, standard))
}
