//! `record`: fact lines in, a receipt for each out. A receipt is printed only after its fact is durable.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use gladhand_facts::{Fact, Kind};

use super::Context;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::input::Format;
use gladhand_node::intake::{self, Listener, Source, Stopped, Tally};
use gladhand_node::{NodeAccess, Receipt, Taken};

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

    fn recorded(&mut self, receipts: &[(u64, Receipt)]) -> Result<(), Failure> {
        let mut out = String::new();
        for (number, receipt) in receipts {
            out.push_str(&receipt_line(
                self.json,
                &self.device,
                receipt,
                Some((self.name, *number)),
            ));
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

/// A receipt as a line.
pub fn receipt_line(json: bool, device: &str, receipt: &Receipt, source: Option<(&str, u64)>) -> String {
    let Receipt { fact, place, taken } = receipt;
    let word = if *taken == Taken::Recorded {
        "recorded"
    } else {
        "already"
    };
    if json {
        let mut object = serde_json::json!({
            "receipt": word, "fact": fact.id(), "kind": fact.kind().name(), "job": fact.text("job"),
            "device": device, "log": place.log, "seq": place.seq, "index": place.index,
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

/// The keys that [`summary`] tells of a fact of this kind, beside its job and whether it is ok.
pub fn summary_keys(kind: &Kind) -> &'static [&'static str] {
    match kind {
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
    }
}

/// What a fact says, in a few words.
pub fn summary(fact: &Fact) -> String {
    let text = |key: &str| fact.text(key).map(std::borrow::Cow::into_owned);
    let mut words = vec![fact.kind().name().to_owned()];
    words.extend(text("job"));
    for key in summary_keys(fact.kind()) {
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
