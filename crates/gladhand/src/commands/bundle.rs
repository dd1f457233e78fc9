//! `bundle write`, `bundle read`, `bundle verify`: merging by a file.

use std::path::Path;

use gladhand_answers::bundles::{self, BundleFile, Extent};
use gladhand_answers::resolve;
use gladhand_facts::VersionVector;
use gladhand_node::Node;

use super::{Context, context};
use crate::cli::Bundle;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

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
    let mut node = context.open()?;
    let since = what_the_reader_holds(&node, for_device, since)?;
    node.record_bundles_read()?;
    // A long history takes a while to write, and nobody is to wait for it.
    let node = node.into_view()?;
    let at = context.at(file);
    let written = bundles::write(&node, BundleFile { given: file, at: &at }, &since, &show::Bar::new())?;
    node.close()?;
    show::answer(written, context.json)?;
    Ok(Exit::Done)
}

fn what_the_reader_holds(node: &Node, for_device: Option<&str>, since: Option<&str>) -> Result<VersionVector, Failure> {
    match (for_device, since) {
        (Some(name), _) => Ok(gladhand_logbook::branches::surely_held_by(
            node.book(),
            &resolve::device(node, name)?,
        )),
        (None, Some(text)) => text.parse().map_err(|e| Failure::bad_input(format!("--since: {e}"))),
        (None, None) => Ok(VersionVector::new()),
    }
}

fn read(context: &Context, file: &Path) -> Outcome {
    let mut node = context.open()?;
    let at = context.at(file);
    let knew = node.is_retired();
    let taken = bundles::read(&mut node, BundleFile { given: file, at: &at }, &show::Bar::new())?;
    if !knew {
        context::tell_if_retired(&node);
    }
    node.close()?;
    let exit = match taken.extent() {
        Extent::All => Exit::Done,
        Extent::Part => Exit::SomeRejected,
        Extent::Refused => Exit::Refused,
        Extent::Unusable => Exit::BadInput,
    };
    show::answer(taken, context.json)?;
    Ok(exit)
}

fn verify(context: &Context, file: &Path) -> Outcome {
    let at = context.at(file);
    let inspected = bundles::inspect(BundleFile { given: file, at: &at })?;
    let exit = if inspected.faults.is_empty() {
        Exit::Done
    } else {
        Exit::BadInput
    };
    show::answer(inspected, context.json)?;
    Ok(exit)
}
