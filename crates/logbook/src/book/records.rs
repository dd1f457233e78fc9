//! Records that are to be made durable, and what they change in the book once they are.

use std::collections::BTreeMap;

use gladhand_facts::{LogId, Stamp, VersionVector};

use super::error::GateError;
use crate::checkpoint::Checkpoint;
use crate::entry::EntryHash;
use crate::governance::Record;

/// A record to make durable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NewRecord {
    /// An entry with its bytes.
    Entry {
        /// The log.
        log: LogId,
        /// Its place.
        seq: u64,
        /// Its bytes.
        bytes: Vec<u8>,
    },
    /// A checkpoint.
    Checkpoint(Checkpoint),
}

/// Records that belong together: make them durable in one step, then [`crate::Book::apply`] them.
#[derive(Debug, Clone, Default)]
pub struct NewRecords {
    /// In the order in which they must be written.
    pub records: Vec<NewRecord>,
    pub(super) effects: Effects,
}

/// What a frame adds, and what of it was refused.
#[derive(Debug, Default)]
pub struct Incoming {
    /// What to make durable.
    pub new: NewRecords,
    /// How many entries are new.
    pub entries: u64,
    /// How many entries were already held.
    pub known: u64,
    /// What was not let in, run by run.
    pub refused: Vec<GateError>,
}

/// What records change in the book.
#[derive(Debug, Clone, Default)]
pub(super) struct Effects {
    pub(super) logs: BTreeMap<LogId, LogGrowth>,
    pub(super) governance: Vec<(LogId, u64, Record)>,
}

/// What is new in one log.
#[derive(Debug, Clone)]
pub(super) struct LogGrowth {
    pub(super) head_seq: u64,
    pub(super) head_hash: EntryHash,
    pub(super) stamp: Stamp,
    /// The stamps of the entries.
    pub(super) stamps: Vec<(u64, Stamp)>,
    /// Per entry that had newly seen something.
    pub(super) seen: Vec<(u64, VersionVector)>,
    pub(super) checkpoints: Vec<u64>,
}

impl LogGrowth {
    pub(super) fn at(head_seq: u64, head_hash: EntryHash, stamp: Stamp) -> Self {
        Self {
            head_seq,
            head_hash,
            stamp,
            stamps: Vec::new(),
            seen: Vec::new(),
            checkpoints: Vec::new(),
        }
    }

    pub(super) fn grow(&mut self, seq: u64, hash: EntryHash, stamp: Stamp, seen: VersionVector) {
        (self.head_seq, self.head_hash, self.stamp) = (seq, hash, self.stamp.max(stamp));
        self.stamps.push((seq, stamp));
        if !seen.is_empty() {
            self.seen.push((seq, seen));
        }
    }
}
