//! `record`: fact lines in, a receipt for each out. A receipt is printed only after its fact is durable.
//!
//! A second thread reads and parses while the first commits, so a slow disk and a slow pipe do not wait for each other, and a
//! person at a pipe gets each receipt as soon as there is nothing more to read.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

use gladhand_facts::{Fact, Kind};
use serde_json::json;

use super::Context;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::input::{self, Format, Line};
use crate::node::{Node, Receipt, Taken};
use crate::show;

/// How many facts share an fsync at most.
const BATCH_FACTS: usize = 2_048;
/// How many bytes of facts share an fsync at most; also what bounds the unit that a peer must take at once.
const BATCH_BYTES: usize = 4 << 20;
/// How many lines are read ahead.
const AHEAD: usize = 4_096;

enum Item {
    Line(Line),
    Failed(String),
    End,
}

#[derive(Default)]
struct Tally {
    recorded: u64,
    already: u64,
    rejected: u64,
}

struct Pending {
    facts: Vec<Fact>,
    numbers: Vec<u64>,
    bytes: usize,
}

/// Records the facts of files or stdin.
pub fn record(context: &Context, files: &[PathBuf]) -> Outcome {
    let stdin = [PathBuf::from("-")];
    let files = if files.is_empty() { &stdin } else { files };
    // A misspelt name must not leave half of the files recorded.
    for file in files.iter().filter(|f| f.as_os_str() != "-") {
        File::open(context.at(file)).map_err(|e| {
            Failure::bad_input(format!("cannot read {}: {e}", file.display())).hint("Nothing was recorded.")
        })?;
    }
    let mut node = context.open()?;
    let mut tally = Tally::default();
    for file in files {
        record_file(context, &mut node, file, &mut tally)?;
    }
    node.close()?;
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

fn record_file(context: &Context, node: &mut Node, file: &Path, tally: &mut Tally) -> Result<(), Failure> {
    let (sender, receiver) = sync_channel(AHEAD);
    let reader = if file.as_os_str() == "-" {
        let input = console::input();
        std::thread::spawn(move || read_source(&mut BufReader::new(input), None, &sender))
    } else {
        let format = file.to_str().and_then(Format::of_name);
        let path = context.at(file);
        std::thread::spawn(move || read_file(&path, format, &sender))
    };
    let outcome = take_lines(context, node, file, &receiver, tally);
    drop(receiver);
    if outcome.is_ok() && reader.join().is_err() {
        return Err(Failure::failed(format!(
            "reading {} ended abruptly; what has a receipt is recorded",
            file.display()
        )));
    }
    outcome
}

fn read_file(path: &Path, format: Option<Format>, sender: &SyncSender<Item>) {
    match File::open(path) {
        Ok(file) => read_source(&mut BufReader::with_capacity(256 << 10, file), format, sender),
        Err(e) => {
            sender.send(Item::Failed(e.to_string())).ok();
        }
    }
}

fn read_source(source: &mut dyn BufRead, format: Option<Format>, sender: &SyncSender<Item>) {
    let mut sink = |line| {
        sender
            .send(Item::Line(line))
            .map_err(|_| std::io::Error::from(std::io::ErrorKind::BrokenPipe))
    };
    let outcome = input::read_lines(source, format, &mut sink);
    // Nobody listens any more only when the other side has failed and says so itself.
    sender
        .send(outcome.map_or_else(|e| Item::Failed(e.to_string()), |()| Item::End))
        .ok();
}

fn take_lines(
    context: &Context,
    node: &mut Node,
    file: &Path,
    receiver: &Receiver<Item>,
    tally: &mut Tally,
) -> Result<(), Failure> {
    let name = file.display().to_string();
    let folder = context.at(file.parent().unwrap_or(Path::new("")));
    let mut pending = Pending {
        facts: Vec::new(),
        numbers: Vec::new(),
        bytes: 0,
    };
    loop {
        let waiting = receiver.try_recv();
        let item = match waiting {
            Ok(item) => item,
            Err(_) => {
                commit(context, node, &mut pending, &name, tally)?;
                receiver.recv().unwrap_or(Item::End)
            }
        };
        match item {
            Item::Line(line) => take_line(node, &folder, &name, line, &mut pending, tally)?,
            Item::Failed(why) => {
                commit(context, node, &mut pending, &name, tally)?;
                return Err(Failure::failed(format!("cannot go on reading {name}: {why}"))
                    .hint("What has a receipt is recorded."));
            }
            Item::End => return commit(context, node, &mut pending, &name, tally),
        }
        if pending.facts.len() >= BATCH_FACTS || pending.bytes >= BATCH_BYTES {
            commit(context, node, &mut pending, &name, tally)?;
        }
    }
}

fn take_line(
    node: &Node,
    folder: &Path,
    name: &str,
    line: Line,
    pending: &mut Pending,
    tally: &mut Tally,
) -> Result<(), Failure> {
    let fact = line
        .object
        .and_then(|map| Fact::from_map(&node.device(), map).map_err(|e| e.to_string()));
    match fact {
        Ok(mut fact) => {
            if let Some(warning) = node.keep_picture(&mut fact, folder)? {
                show::aside(&format!("{name}:{}: {warning}", line.number));
            }
            pending.bytes += line.text.len().max(fact.stored().len());
            pending.numbers.push(line.number);
            pending.facts.push(fact);
        }
        Err(reason) => {
            tally.rejected += 1;
            show::aside(&format!("{name}:{}: rejected: {reason}", line.number));
            let shown: String = line.text.chars().take(200).collect();
            show::aside(&format!("  {shown}"));
        }
    }
    Ok(())
}

fn commit(
    context: &Context,
    node: &mut Node,
    pending: &mut Pending,
    name: &str,
    tally: &mut Tally,
) -> Result<(), Failure> {
    if pending.facts.is_empty() {
        return Ok(());
    }
    let receipts = node.record(std::mem::take(&mut pending.facts))?;
    let numbers = std::mem::take(&mut pending.numbers);
    pending.bytes = 0;
    let mut out = String::new();
    for (receipt, number) in receipts.iter().zip(numbers) {
        match receipt.taken {
            Taken::Recorded => tally.recorded += 1,
            Taken::Already => tally.already += 1,
        }
        out.push_str(&receipt_line(context, node, receipt, Some((name, number))));
        out.push('\n');
    }
    show::print(&out)
}

/// A receipt as a line.
pub fn receipt_line(context: &Context, node: &Node, receipt: &Receipt, source: Option<(&str, u64)>) -> String {
    let Receipt { fact, place, taken } = receipt;
    let word = if *taken == Taken::Recorded {
        "recorded"
    } else {
        "already"
    };
    if context.json {
        let mut object = json!({
            "receipt": word, "fact": fact.id(), "kind": fact.kind().name(), "job": fact.text("job"),
            "device": node.config().name, "log": place.log, "seq": place.seq, "index": place.index,
        });
        if let (Some((file, line)), Some(map)) = (source, object.as_object_mut()) {
            map.insert("file".into(), file.into());
            map.insert("line".into(), line.into());
        }
        return object.to_string();
    }
    let id: String = fact.id().to_string().chars().take(12).collect();
    format!("{word:<8}  {id}  {:>5}.{:<3} {}", place.seq, place.index, summary(fact))
}

/// What a fact says, in a few words.
pub fn summary(fact: &Fact) -> String {
    let text = |key: &str| fact.text(key).map(std::borrow::Cow::into_owned);
    let mut words = vec![fact.kind().name().to_owned()];
    words.extend(text("job"));
    let keys: &[&str] = match fact.kind() {
        Kind::Job => &["trailer", "fleet", "tracker", "camera", "wall", "load", "thickness"],
        Kind::Scan => &["what", "code"],
        Kind::Check => &["check", "value", "unit"],
        Kind::Link | Kind::Unlink => &["camera", "tracker", "why"],
        Kind::Settings => &["tracker", "state"],
        Kind::Proof => &["state"],
        Kind::Stock => &["camera", "tracker", "fleet"],
        Kind::Note => &["text"],
        Kind::Ruling => &["finding", "ruling", "why"],
        Kind::SignOff => &[],
        Kind::StandDown => &["why"],
        Kind::Other(_) => &["camera", "tracker", "trailer", "text"],
    };
    for key in keys {
        match fact.get(key) {
            Some(serde_json::Value::String(_)) | None => words.extend(text(key)),
            Some(value) => words.push(value.to_string()),
        }
    }
    match fact.flag("ok") {
        Some(true) => words.push("ok".into()),
        Some(false) => words.push("not ok".into()),
        None => {}
    }
    words.join(" ")
}
