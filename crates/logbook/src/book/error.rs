//! Why something is not let in, and why nothing can be written.

use gladhand_facts::LogId;

use crate::entry::{EntryError, EntryHash, MAX_ENTRY_BYTES};
use crate::governance::JsonError;
use crate::roster::Refusal;

/// Why entries from a peer were not let in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GateError {
    /// Its device may not write here.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// It does not follow what we hold.
    #[error("log {} goes on at entry {found}, but we hold it up to {held}", log.device.short())]
    Gap {
        /// The log.
        log: LogId,
        /// The last entry that we hold.
        held: u64,
        /// The entry that came instead of the next one.
        found: u64,
    },
    /// It contradicts what we hold: two signed entries claim one place.
    #[error("log {} is forked: another entry claims place {seq}", log.device.short())]
    Forked {
        /// The log.
        log: LogId,
        /// The first place that differs, as far as is known.
        seq: u64,
        /// The hash that we hold.
        ours: EntryHash,
        /// The hash that the peer sent.
        theirs: EntryHash,
    },
    /// No checkpoint covers it, or one that does not verify.
    #[error("log {}: no valid signature vouches for entries {from} to {to}", log.device.short())]
    Unsigned {
        /// The log.
        log: LogId,
        /// First entry.
        from: u64,
        /// Last entry.
        to: u64,
    },
    /// It had seen entries that we do not hold.
    #[error("log {} entry {seq} had seen entries of {} that are not here", log.device.short(), other.device.short())]
    NotClosed {
        /// The log.
        log: LogId,
        /// The entry.
        seq: u64,
        /// The log of which entries are missing.
        other: LogId,
    },
    /// An entry does not read.
    #[error("log {} entry {seq}: {source}", log.device.short())]
    Entry {
        /// The log.
        log: LogId,
        /// The entry.
        seq: u64,
        /// What is wrong.
        source: EntryError,
    },
}

/// Why nothing can be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WriteError {
    /// The entry would be longer than [`MAX_ENTRY_BYTES`].
    #[error("an entry of {0} bytes is too long to write (at most {MAX_ENTRY_BYTES})")]
    TooLong(usize),
    /// This book has no log of its own.
    #[error("this node has no log of its own to write")]
    NoOwnLog,
    /// A governance record cannot be encoded.
    #[error(transparent)]
    Record(#[from] JsonError),
}
