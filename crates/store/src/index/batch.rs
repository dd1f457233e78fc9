//! What is written into the index in one step.

use gladhand_facts::{FactId, Place};

use crate::record::Position;

/// What one call to [`crate::Index::apply`] changes, all of it or nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct IndexBatch {
    /// A subject, and a place with a fact about it. The same posting twice counts once.
    pub postings: Vec<(Vec<u8>, Place)>,
    /// Where each fact is.
    pub facts: Vec<(FactId, Place)>,
    /// Values to set, or with `None` to remove; of two for one key the later one counts.
    pub values: Vec<(Vec<u8>, Option<Vec<u8>>)>,
    /// The position in the journal up to which the index is complete afterwards.
    pub upto: Position,
    /// [`crate::Journal::fingerprint`] of `upto`.
    pub fingerprint: u64,
}

impl IndexBatch {
    /// An empty batch that ends at `upto`.
    pub fn new(upto: Position, fingerprint: u64) -> Self {
        Self {
            upto,
            fingerprint,
            ..Self::default()
        }
    }
}
