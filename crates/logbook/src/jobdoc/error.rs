//! Why a change could not be written, read or applied; and a guard around Automerge.

use std::panic::{AssertUnwindSafe, catch_unwind};

use gladhand_facts::LogId;

use crate::wire::WireError;

/// Why a change could not be written, read or applied.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DocError {
    /// The stripped form does not read.
    #[error("change: {0}")]
    Wire(#[from] WireError),
    /// It depends on a change that is not in the document.
    #[error("change depends on entry {seq} of log {log}, which the document does not hold")]
    MissingDependency {
        /// Its log.
        log: LogId,
        /// Its place.
        seq: u64,
    },
    /// Automerge refused it, or panicked.
    #[error("change refused: {0}")]
    Refused(String),
    /// It has more facts, or other operation counters, than an honest device writes.
    #[error("change is out of bounds: {0}")]
    OutOfBounds(String),
    /// The stripped form does not give back the same change.
    #[error("a change did not survive stripping; nothing was written")]
    NotReversible,
    /// A fact inside does not read.
    #[error("fact inside a change: {0}")]
    Fact(String),
}

pub(super) fn refused(e: automerge::AutomergeError) -> DocError {
    DocError::Refused(e.to_string())
}

/// Runs code that may panic on hostile bytes. Automerge 0.12 does, even on bytes with a correct checksum.
pub(super) fn guarded<T>(work: impl FnOnce() -> Result<T, DocError>) -> Result<T, DocError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(DocError::Refused("Automerge panicked over it".into())))
}
