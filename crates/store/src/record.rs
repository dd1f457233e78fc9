//! What the journal holds: records, and positions between batches.

use gladhand_facts::LogId;
use serde::{Deserialize, Serialize};

/// What a record is. The journal knows only as much as it needs to keep logs without gaps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RecordKind {
    /// One entry of a log. Each log's entries are 1, 2, 3, … without a gap.
    Entry,
    /// A signed head of a log; `seq` is the entry that it signs.
    Checkpoint,
    /// Something that this version does not know. It is stored and shown, never indexed.
    Other(u8),
}

impl RecordKind {
    pub(crate) fn tag(self) -> u8 {
        match self {
            Self::Entry => 1,
            Self::Checkpoint => 2,
            Self::Other(tag) => tag,
        }
    }

    pub(crate) fn of_tag(tag: u8) -> Self {
        match tag {
            1 => Self::Entry,
            2 => Self::Checkpoint,
            other => Self::Other(other),
        }
    }
}

/// One record. It borrows its bytes, so neither writing nor scanning copies them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Record<'a> {
    /// What it is.
    pub kind: RecordKind,
    /// The log that it belongs to.
    pub log: LogId,
    /// Which entry of that log, counted from 1.
    pub seq: u64,
    /// Opaque to this crate.
    pub bytes: &'a [u8],
}

impl<'a> Record<'a> {
    /// An entry of a log.
    pub fn entry(log: LogId, seq: u64, bytes: &'a [u8]) -> Self {
        Self {
            kind: RecordKind::Entry,
            log,
            seq,
            bytes,
        }
    }

    /// A checkpoint that signs entry `seq`.
    pub fn checkpoint(log: LogId, seq: u64, bytes: &'a [u8]) -> Self {
        Self {
            kind: RecordKind::Checkpoint,
            log,
            seq,
            bytes,
        }
    }
}

/// A place between two batches of the journal: everything before it is included.
///
/// With a record it is the end of that record's batch, so "applied up to here" never means half a batch. Positions grow with
/// arrival. They are local to one home: never send one to a peer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub struct Position {
    /// Number of the segment file; 0 before anything was written.
    pub segment: u32,
    /// Byte offset in that file.
    pub offset: u32,
}

impl Position {
    /// Before the first batch.
    pub const START: Self = Self { segment: 0, offset: 0 };
}

/// Where a record begins. Eight bytes, because one of these is in memory for each entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Loc(u64);

impl Loc {
    pub(crate) fn new(segment: u32, offset: u32) -> Self {
        Self(u64::from(segment) << 32 | u64::from(offset))
    }

    pub(crate) fn segment(self) -> u32 {
        (self.0 >> 32) as u32
    }

    pub(crate) fn offset(self) -> u32 {
        (self.0 & 0xffff_ffff) as u32
    }
}
