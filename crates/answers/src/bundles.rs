//! Bundles: what was written into one, what one brought, what one holds.

use std::collections::BTreeMap;
use std::path::Path;

use gladhand_facts::{DeviceKey, VersionVector};
use gladhand_node::{BundleFileError, BundleRead, Node, NodeError, Progress, ReadBundleError, inspect_bundle};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A bundle's file: the name that it was given, and where it is.
#[derive(Debug, Clone, Copy)]
pub struct BundleFile<'a> {
    /// As it was given: answers show this name.
    pub given: &'a Path,
    /// Seen from this process.
    pub at: &'a Path,
}

impl BundleFile<'_> {
    fn shown(&self) -> String {
        self.given.display().to_string()
    }
}

/// What was written into a bundle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BundleWritten {
    /// The file, as it was named.
    pub file: String,
    /// How many entries it holds.
    pub entries: u64,
    /// How many pictures it holds.
    pub pictures: u64,
    /// The length of the file in bytes.
    pub bytes: u64,
    /// The version vector of this node, as text that `bundle write --since` takes: the next bundle for the same reader can
    /// begin there.
    pub upto: String,
}

/// Writes a bundle for a reader who holds `since`.
///
/// # Errors
/// When the store cannot be read or the file not be written.
pub fn write(
    node: &Node,
    file: BundleFile<'_>,
    since: &VersionVector,
    progress: &dyn Progress,
) -> Result<BundleWritten, NodeError> {
    let done = node.write_bundle(file.at, since, progress)?;
    Ok(BundleWritten {
        file: file.shown(),
        entries: done.entries,
        pictures: done.pictures,
        bytes: done.bytes,
        upto: node.counting_vector().to_string(),
    })
}

/// What a bundle brought.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BundleTaken {
    /// The file, as it was named.
    pub file: String,
    /// How many entries are new here; they are durable now.
    pub new: u64,
    /// How many entries were here already.
    pub known: u64,
    /// How many pictures are new here.
    pub pictures: u64,
    /// The names of the devices that this depot has enrolled because of it.
    pub enrolled: Vec<String>,
    /// What was refused because of who wrote it, each in words.
    pub refused: Vec<String>,
    /// What was damaged or did not fit what is held, each in words.
    pub damaged: Vec<String>,
    /// Whether the bundle was whole to its signed end.
    pub complete: bool,
}

/// How much of a bundle could be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// All of it.
    All,
    /// The good part.
    Part,
    /// Nothing: its writer is not trusted here.
    Refused,
    /// Nothing: it is damaged.
    Unusable,
}

impl BundleTaken {
    /// How much of it could be taken.
    pub fn extent(&self) -> Extent {
        let good = self.new + self.known > 0;
        match (self.refused.is_empty(), self.damaged.is_empty()) {
            (true, true) => Extent::All,
            (false, true) if !good => Extent::Refused,
            (_, false) if !good => Extent::Unusable,
            _ => Extent::Part,
        }
    }
}

/// Reads a bundle. What is good in it is durable on return, also when the rest is damaged or refused.
///
/// # Errors
/// When it is no bundle at all, or not one for this home, or the disk refuses.
pub fn read(node: &mut Node, file: BundleFile<'_>, progress: &dyn Progress) -> Result<BundleTaken, ReadBundleError> {
    let done: BundleRead = node.read_bundle(file.at, progress)?;
    Ok(BundleTaken {
        file: file.shown(),
        new: done.entries,
        known: done.known,
        pictures: done.pictures,
        enrolled: done.enrolled,
        refused: done.refused,
        damaged: done.damaged,
        complete: done.complete,
    })
}

/// What a bundle holds, and whether it is whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BundleInspected {
    /// The file, as it was named.
    pub file: String,
    /// The key of the device that wrote it.
    #[schemars(with = "String")]
    pub writer: DeviceKey,
    /// The key of the depot that the writer belongs to; null when it has joined none.
    #[schemars(with = "Option<String>")]
    pub depot: Option<DeviceKey>,
    /// How many entries its header promises.
    pub entries: u64,
    /// What its reader was assumed to hold: for each log the number of the last entry.
    #[schemars(with = "BTreeMap<String, u64>")]
    pub since: VersionVector,
    /// What its reader holds afterwards, if it held that: for each log the number of the last entry.
    #[schemars(with = "BTreeMap<String, u64>")]
    pub upto: VersionVector,
    /// What is wrong with it, each in words; empty when it is whole.
    pub faults: Vec<String>,
}

/// Looks through a bundle. Needs no home.
///
/// # Errors
/// When it is no bundle at all.
pub fn inspect(file: BundleFile<'_>) -> Result<BundleInspected, BundleFileError> {
    let (header, faults) = inspect_bundle(file.at)?;
    Ok(BundleInspected {
        file: file.shown(),
        writer: header.writer,
        depot: header.root,
        entries: header.entries,
        since: header.since,
        upto: header.upto,
        faults,
    })
}

#[cfg(test)]
#[path = "bundles_tests.rs"]
mod tests;
