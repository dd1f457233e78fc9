//! `bundle write`, `bundle read`, `bundle verify`: merging by a file.

use std::path::Path;

use gladhand_facts::VersionVector;
use serde_json::json;

use super::{Context, resolve};
use crate::cli::Bundle;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::{BundleRead, inspect_bundle};

/// Does what the command line asks for.
pub fn bundle(context: &Context, command: Bundle) -> Outcome {
    match command {
        Bundle::Write {
            file,
            for_device,
            since,
        } => write(context, &file, for_device.as_deref(), since.as_deref()),
        Bundle::Read { file } => read(context, &file),
        Bundle::Verify { file } => verify(context, &file),
    }
}

fn write(context: &Context, file: &Path, for_device: Option<&str>, since: Option<&str>) -> Outcome {
    let node = context.open()?;
    let since = match (for_device, since) {
        (Some(name), _) => gladhand_logbook::branches::surely_held_by(node.book(), &resolve::device(&node, name)?),
        (None, Some(text)) => text.parse().map_err(|e| Failure::bad_input(format!("--since: {e}")))?,
        (None, None) => VersionVector::new(),
    };
    let done = node.write_bundle(&context.at(file), &since, &show::Bar::new())?;
    let upto = node.counting_vector().to_string();
    node.close()?;
    if context.json {
        let object = json!({"file": file, "entries": done.entries, "pictures": done.pictures, "bytes": done.bytes, "upto": upto});
        return show::json(&object);
    }
    let entries = show::counted(done.entries, "entry", "entries");
    let pictures = show::counted(done.pictures, "picture", "pictures");
    show::line(&format!(
        "{}: {entries}, {pictures}, {} bytes",
        file.display(),
        done.bytes
    ))?;
    Ok(Exit::Done)
}

fn read(context: &Context, file: &Path) -> Outcome {
    let mut node = context.open()?;
    let done = node.read_bundle(&context.at(file), &show::Bar::new())?;
    node.close()?;
    if context.json {
        show::json(&json!({
            "file": file, "new": done.entries, "known": done.known, "pictures": done.pictures, "enrolled": done.enrolled,
            "refused": done.refused, "damaged": done.damaged, "complete": done.complete,
        }))?;
    } else {
        show::line(&format!(
            "{}: {} new, {} known, {}",
            file.display(),
            show::counted(done.entries, "entry", "entries"),
            done.known,
            show::counted(done.pictures, "new picture", "new pictures")
        ))?;
        done.enrolled
            .iter()
            .try_for_each(|name| show::line(&format!("enrolled {name}")))?;
    }
    done.refused
        .iter()
        .for_each(|why| show::aside(&format!("gladhand: refused: {why}")));
    done.damaged
        .iter()
        .for_each(|why| show::aside(&format!("gladhand: {}: {why}", file.display())));
    Ok(exit_of(&done))
}

fn exit_of(done: &BundleRead) -> Exit {
    let good = done.entries + done.known > 0;
    match (done.refused.is_empty(), done.damaged.is_empty()) {
        (true, true) => Exit::Done,
        (false, true) if !good => {
            show::aside("  Nothing was taken. A device joins with an invite of the depot: `gladhand join INVITE`.");
            Exit::Refused
        }
        (_, false) if !good => {
            show::aside("  Nothing in it could be used. Ask for the bundle again.");
            Exit::BadInput
        }
        _ => {
            show::aside("  The good part is recorded. Ask for the bundle again: what is known already costs nothing.");
            Exit::SomeRejected
        }
    }
}

fn verify(context: &Context, file: &Path) -> Outcome {
    let (header, faults) = inspect_bundle(&context.at(file))?;
    if context.json {
        show::json(&json!({
            "file": file, "writer": header.writer, "depot": header.root, "entries": header.entries,
            "since": header.since, "upto": header.upto, "faults": faults,
        }))?;
    } else {
        let depot = header
            .root
            .map_or_else(|| "no depot".to_owned(), |root| format!("depot {}", root.short()));
        let entries = show::counted(header.entries, "entry", "entries");
        show::line(&format!(
            "{}: {entries}, written by {} of {depot}",
            file.display(),
            header.writer.short()
        ))?;
        let verdict = if faults.is_empty() {
            "whole: every part, chain and signature fits"
        } else {
            "not whole"
        };
        show::line(verdict)?;
    }
    faults
        .iter()
        .for_each(|why| show::aside(&format!("gladhand: {}: {why}", file.display())));
    Ok(if faults.is_empty() { Exit::Done } else { Exit::BadInput })
}
