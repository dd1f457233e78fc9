//! `record`: fact lines in, a receipt for each out. A receipt is printed only after its fact is durable.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use gladhand_answers::receipt::{self, Receipt};
use gladhand_answers::{Versioned, text};

use super::Context;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::NodeAccess;
use gladhand_node::input::Format;
use gladhand_node::intake::{self, Listener, Source, Stopped, Tally};

/// Records the facts of files or stdin.
pub fn record(context: &Context, files: &[PathBuf]) -> Outcome {
    let stdin = [PathBuf::from("-")];
    let files = if files.is_empty() { &stdin } else { files };
    // A misspelt name must not leave half of the files recorded.
    for file in files.iter().filter(|f| f.as_os_str() != "-") {
        let readable = File::open(context.at(file)).and_then(|f| {
            if f.metadata()?.is_dir() {
                return Err(std::io::ErrorKind::IsADirectory.into());
            }
            Ok(())
        });
        readable.map_err(|e| {
            Failure::bad_input(format!("cannot read {}: {e}", file.display())).hint("Nothing was recorded.")
        })?;
    }
    let mut access = context.access()?;
    let mut tally = Tally::default();
    for file in files {
        record_file(context, &mut access, file, &mut tally)?;
    }
    access.close()?;
    let mut said = vec![show::counted(tally.recorded, "fact recorded", "facts recorded")];
    if tally.already > 0 {
        said.push(format!("{} recorded before", tally.already));
    }
    if tally.rejected > 0 {
        said.push(show::counted(tally.rejected, "line rejected", "lines rejected"));
    }
    show::aside(&said.join(", "));
    Ok(if tally.rejected > 0 {
        Exit::SomeRejected
    } else {
        Exit::Done
    })
}

fn record_file(context: &Context, access: &mut NodeAccess, file: &Path, tally: &mut Tally) -> Result<(), Failure> {
    let name = file.display().to_string();
    let cannot_go_on = |why: &dyn std::fmt::Display| {
        Failure::failed(format!("cannot go on reading {name}: {why}")).hint("What has a receipt is recorded.")
    };
    let source = source(context, file).map_err(|e| cannot_go_on(&e))?;
    let folder = context.at(file.parent().unwrap_or(Path::new("")));
    let device = access.with(|node| node.config().name.clone())?;
    let mut teller = Teller {
        json: context.json,
        name: &name,
        device,
    };
    intake::take_in(access, source, &folder, &mut teller, tally).map_err(|stopped| match stopped {
        Stopped::Source(why) | Stopped::NotYet(why) => cannot_go_on(&why),
        Stopped::Node(error) => error.into(),
        Stopped::Closed => gladhand_node::handle::Closed.into(),
        Stopped::Listener(failure) => failure,
    })
}

fn source(context: &Context, file: &Path) -> std::io::Result<Source> {
    if file.as_os_str() == "-" {
        return Ok(Source {
            reader: Box::new(BufReader::new(console::input())),
            format: None,
            is_whole: None,
        });
    }
    let opened = File::open(context.at(file))?;
    Ok(Source {
        reader: Box::new(BufReader::with_capacity(256 << 10, opened)),
        format: file.to_str().and_then(Format::of_name),
        is_whole: None,
    })
}

/// Tells a person or a script, line by line.
struct Teller<'a> {
    json: bool,
    name: &'a str,
    device: String,
}

impl Listener for Teller<'_> {
    type Stop = Failure;

    fn recorded(&mut self, receipts: &[(u64, gladhand_node::Receipt)]) -> Result<(), Failure> {
        let mut out = String::new();
        for (number, receipt) in receipts {
            let receipt = receipt::receipt(&self.device, receipt).from_line(self.name, *number);
            out.push_str(&receipt_line(receipt, self.json)?);
            out.push('\n');
        }
        show::print(&out)
    }

    fn rejected(&mut self, line: u64, reason: &str, text: &str) -> Result<(), Failure> {
        show::aside(&format!("{}:{line}: rejected: {reason}", self.name));
        let shown: String = text.chars().take(200).collect();
        show::aside(&format!("  {shown}"));
        Ok(())
    }

    fn warned(&mut self, line: u64, warning: &str) {
        show::aside(&format!("{}:{line}: {warning}", self.name));
    }
}

/// A receipt as a line, of JSON or for reading.
///
/// # Errors
/// When it cannot be written as JSON.
pub fn receipt_line(receipt: Receipt, as_json: bool) -> Result<String, Failure> {
    if as_json {
        return serde_json::to_string(&Versioned::new(receipt)).map_err(Failure::failed);
    }
    Ok(text::receipt::line(&receipt))
}
