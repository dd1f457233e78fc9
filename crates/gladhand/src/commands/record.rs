//! `record`: fact lines in, a receipt for each out. A receipt is printed only after its fact is durable.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};

use gladhand_answers::receipt::{self, Receipt};
use gladhand_answers::{Versioned, text};

use super::Context;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::input::Format;
use gladhand_node::intake::{self, Listener, Source, Stopped, Tally};
use gladhand_node::{NodeAccess, Progress};

/// Records the facts of files or stdin.
pub fn record(context: &Context, files: &[PathBuf]) -> Outcome {
    let stdin = [PathBuf::from("-")];
    let files = if files.is_empty() { &stdin } else { files };
    // A misspelt name must not leave half of the files recorded.
    for file in files.iter().filter(|f| f.as_os_str() != "-") {
        let readable = std::fs::metadata(context.at(file)).and_then(|meta| {
            if meta.is_dir() {
                return Err(std::io::ErrorKind::IsADirectory.into());
            }
            // A pipe is opened once, when it is read: whoever writes into it would lose its reader otherwise.
            if meta.is_file() {
                File::open(context.at(file))?;
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
    take_in(context, access, file, source, lines_of(context, file), tally)
}

fn take_in(
    context: &Context,
    access: &mut NodeAccess,
    file: &Path,
    source: Source,
    lines: u64,
    tally: &mut Tally,
) -> Result<(), Failure> {
    let name = file.display().to_string();
    let cannot_go_on = |why: &dyn std::fmt::Display| {
        Failure::failed(format!("cannot go on reading {name}: {why}")).hint("What has a receipt is recorded.")
    };
    let folder = context.at(file.parent().unwrap_or(Path::new("")));
    let device = access.with(|node| node.config().name.clone())?;
    let mut teller = Teller {
        json: context.json,
        name: &name,
        device,
        bar: show::Bar::new(),
        taken: 0,
        lines,
    };
    intake::take_in(access, source, &folder, &mut teller, tally).map_err(|stopped| match stopped {
        Stopped::Source(why) | Stopped::NotYet(why) => cannot_go_on(&why),
        Stopped::Node(error) => error.into(),
        Stopped::Closed => gladhand_node::handle::Closed.into(),
        Stopped::Listener(failure) => failure,
    })
}

/// Records lines that a command made of a file.
///
/// # Errors
/// As [`record`].
pub fn record_source(
    context: &Context,
    access: &mut NodeAccess,
    file: &Path,
    lines: std::io::Cursor<Vec<u8>>,
) -> Result<Tally, Failure> {
    let source = Source {
        reader: Box::new(lines),
        format: Some(Format::JsonLines),
        is_whole: None,
    };
    let mut tally = Tally::default();
    take_in(context, access, file, source, 0, &mut tally)?;
    Ok(tally)
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

/// How many lines a file has, for the progress alone; 0 for a pipe, or where nobody would see it.
fn lines_of(context: &Context, file: &Path) -> u64 {
    let path = context.at(file);
    let is_file = file.as_os_str() != "-" && std::fs::metadata(&path).is_ok_and(|meta| meta.is_file());
    if !is_file || !console::shows_progress() {
        return 0;
    }
    let Ok(opened) = File::open(path) else { return 0 };
    let (mut reader, mut lines) = (BufReader::with_capacity(256 << 10, opened), 0);
    while let Ok(read) = reader.fill_buf() {
        let bytes = read.len();
        lines += read.iter().filter(|b| **b == b'\n').count() as u64;
        reader.consume(bytes);
        if bytes == 0 {
            break;
        }
    }
    lines
}

/// Tells a person or a script, line by line.
struct Teller<'a> {
    json: bool,
    name: &'a str,
    device: String,
    bar: show::Bar,
    /// How many facts have their receipt.
    taken: u64,
    /// How many lines the file has; 0 where that is not known.
    lines: u64,
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
        self.taken += receipts.len() as u64;
        show::print(&out)?;
        self.bar
            .tick(&format!("recording {}", self.name), self.taken, self.lines);
        Ok(())
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
